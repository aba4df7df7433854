"""`previz evening`, what `previz check` says between the shots, and the sheets of moves, as a person meets them."""

import json
import threading
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from previz.cli import app
from previz.evening import evening_of
from previz.paper import pdf_of, plan_sheets
from previz.predictions import predict
from previz.scene import read_scene
from tests.continuity.cuts import HOLDS, cut_with
from tests.evening.test_moves import PLAIN, SET
from tests.paper.reading import pages_of

#: A cut that holds together, and none of whose shots stops.
NONE_STOPS: dict[str, Any] = {
    "at": [1750, -100, 60], "focal_length": 5, "start": "2.3 s", "wide": {"at": [1500, -150, 70]},
}  # fmt: skip

pytestmark = pytest.mark.usefixtures("predicted_once")

MOVED = {"moved": {"hut": [900, 560]}, "without": ["cones"]}


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    shots = [PLAIN, PLAIN | {"id": "moved"} | MOVED]
    return written(SET | {"shots": shots, "vehicle": {"body": "van", "speed": "0.5 m/s"}}, tmp_path)


def written(data: dict[str, Any], folder: Path) -> Path:
    file = folder / "scene.yaml"
    file.write_text(json.dumps(data))
    return file


def said(*words: object, code: int = 0) -> str:
    result = CliRunner().invoke(app, [*map(str, words)])
    assert result.exit_code == code, result.output
    return result.stdout


@pytest.mark.parametrize("command", ["check", "evening"])
def test_what_takes_long_says_that_it_is_at_work(
    command: str, scene_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard = threading.Event()

    def once_it_said_so(scene: Any) -> Any:
        assert heard.wait(120)
        return (predict if command == "check" else evening_of)(scene)

    monkeypatch.setattr("previz.telling._SILENCE", 0.01)
    monkeypatch.setattr("previz.cli.checking.say", lambda _: heard.set())
    monkeypatch.setattr("previz.predict" if command == "check" else "previz.evening.evening_of", once_it_said_so)
    result = CliRunner().invoke(app, [command, str(scene_file)])
    assert result.exit_code in (0, 1) and not isinstance(result.exception, AssertionError), result.output
    assert heard.is_set()


def test_an_evening_is_told_in_the_order_of_work_with_its_marks(scene_file: Path) -> None:
    lines = said("evening", scene_file).splitlines()
    # By the assumptions: the camera, 5 min, a look, 2 min; then a piece and three cones, 4 min, and a look.
    assert "of that 13 min for 5 moves between 2 shots" in lines[1]
    assert lines[2] == "that is filming alone: building the set and rigging its lamps come before it"
    assert any(line.startswith(" 1 plain  7 min, then 2 takes") for line in lines)
    assert any(line.startswith(" 2 moved  6 min") for line in lines)
    told = [line.strip() for line in lines]
    assert "take away cones, cones/2, cones/3" in told and "move hut from 500, 520 to 900, 560" in told
    assert any(line.startswith("assumed:") for line in lines) and "evening:" in " ".join(lines)
    # What the 7 min of the first are made of.
    assert "5 min to put it up" in " ".join(lines) and "2 min to look at the picture after each change" in " ".join(
        lines
    )


def test_a_ramp_that_one_shot_alone_has_brings_its_precaution(tmp_path: Path) -> None:
    ramp = PLAIN | {"id": "ramp", "vehicle": {"launch": {"ramp": {"height": 120, "length": 500, "foot": 60}}}}
    path = written(SET | {"shots": [PLAIN, ramp], "vehicle": {"body": "van", "speed": "0.5 m/s"}}, tmp_path)
    assert "a ramp raised by 120 mm" in said("evening", path)


def test_an_evening_in_numbers(scene_file: Path) -> None:
    answer = json.loads(said("evening", scene_file, "--json"))
    assert [each["shot"] for each in answer["changeovers"]] == ["plain", "moved"]
    (move,) = (each for each in answer["changeovers"][1]["moves"] if each["does"] == "move")
    assert move["after"]["at"] == pytest.approx([0.9, 0.56])
    assert answer["work"] == 13 * 60 and answer["assumed"]["take"] == 90.0


def test_a_wrong_assumption_is_told_with_its_line(tmp_path: Path) -> None:
    file = written(SET | {"shots": [PLAIN], "evening": {"sure": "100 %"}}, tmp_path)
    result = CliRunner().invoke(app, ["evening", str(file)])
    assert result.exit_code == 2 and "evening.sure" in result.output and "50 % to 99 %" in result.output


def test_check_says_what_tears_shots_apart_once_a_kind(tmp_path: Path) -> None:
    shutter = {"rate": "120 fps", "shutter": "90 deg"}
    data = cut_with(**NONE_STOPS, capture=shutter, scene={"sequence": ["wide", "near", "wide"]})
    file = written(data, tmp_path)
    text = " ".join(said("check", file).partition("between the shots")[2].split())
    assert "watch The shutter is at 90 deg in 2 near and at 180 deg in 1 wide" in text
    assert text.count("The shutter") == 1 and "Also between 2 and 3." in text
    answer = json.loads(said("check", file, "--json"))
    torn = [each["events"] for each in answer["between"] if each["id"] == "between.shutter"]
    assert torn == [[1, 2], [2, 3]]
    assert {each["verdict"] for each in answer["between"]} == {"fine", "watch"}


def test_shots_that_no_clip_can_join_make_check_end_with_1(tmp_path: Path) -> None:
    """Where their maker put them in order; else they may be there to choose from."""
    apart = cut_with(**NONE_STOPS, playback="25 fps")
    said("check", written(apart, tmp_path), code=0)
    said("check", written(apart | {"sequence": ["wide", "near"]}, tmp_path), code=1)


def test_of_one_shot_nothing_is_said_between(tmp_path: Path) -> None:
    file = written(HOLDS | {"shots": cut_with(**NONE_STOPS)["shots"][:1]}, tmp_path)
    assert "between the shots" not in said("check", file, "--all")
    assert json.loads(said("check", file, "--json"))["between"] == []


def test_a_cut_with_a_shot_that_cannot_be_has_that_as_a_finding(tmp_path: Path) -> None:
    data = cut_with(start="30 s")  # long after its run
    del data["shots"][1]["duration"]
    answer = json.loads(said("check", written(data, tmp_path), "--json", code=1))
    assert answer["between"] == []
    assert any(each["shot"] == "near" and each["verdict"] == "stop" for each in answer["findings"])


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_plan_has_a_sheet_of_moves_in_the_maker_s_tape(units: str, scene_file: Path, tmp_path: Path) -> None:
    text = scene_file.read_text()
    if units == "in":  # the same places, as most of the file's lengths, in inches
        data = json.loads(text)
        data["shots"][1]["moved"] = {"hut": ["30 in", "20 1/2 in"]}
        data["units"] = "in"
        text = json.dumps(in_inches(data))
    scene = read_scene(written(json.loads(text), tmp_path))
    sheets = plan_sheets(scene, predict(scene, remedies=False), scene.shots)
    assert [sheet.name for sheet in sheets if sheet.name.startswith("changeovers")] == ["changeovers-1"]
    page = pages_of(pdf_of([sheet for sheet in sheets if sheet.name == "changeovers-1"], ""))[0].text
    for words in ("move hut", "take away cones/3", "on the set as built", "after plain"):
        assert words in page
    assert ("900, 560" if units == "mm" else "30, 20 1/2") in page
    one = plan_sheets(scene, predict(scene, remedies=False), scene.shots[:1])
    assert not any(sheet.name.startswith("changeovers") for sheet in one)


def in_inches(data: Any) -> Any:
    """Bare numbers of millimetres as inches, but for those that are no lengths."""
    if isinstance(data, dict):
        same = {"copies", "floors", "count", "nearest", "capture", "cameras"}
        return {key: each if key in same else in_inches(each) for key, each in data.items()}
    if isinstance(data, list):
        return [in_inches(each) for each in data]
    return data / 25.4 if isinstance(data, int | float) else data
