"""Two setups through every command: each shot is drawn, planned, printed, compared and advised as it is set up."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from previz.advice import advise
from previz.cli import app
from previz.errors import PrevizError
from previz.paper import plan_sheets
from previz.predictions import predict
from previz.scene import as_set_up, paced_by, read_scene, rewritten

pytestmark = pytest.mark.usefixtures("drawn_here")

SCENE = """\
title: Two setups
scale: 1:50
units: mm
set:
  table: {width: 500, depth: 400}
  ground: {surface: plain}
dressing:
  - {id: crate, piece: container, at: [250, 300]}
vehicle: {body: saloon, path: [[0, 200], [500, 200]], speed: 0.5 m/s}
lights:
  - {id: key, panel: [400, 300], at: [100, -100, 700], aim: [250, 200, 0], output: 4000 lm, mains: false}
cameras:
  pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50, modes: [1080p60]}
shots:
"""
SHOT = """\
  - id: NAME
    camera: pocket
    focal_length: 12
    f_number: 5.6
    at: [250, -100, 90]
    aim: [250, 250, 20]
    focus: 320
    capture: {rate: 24 fps}
    start: 0.4 s
    duration: 0.15 s
"""
CHANGE = """\
    moved: {crate: {at: [150, 310], turn: 60 deg}}
    added: [{id: cone, piece: cone, at: [330, 280], height: 40}]
    run: from the other end
"""
#: The second setup written out as a common set.
SO = SCENE.replace(
    "at: [250, 300]}", "at: [150, 310], turn: 60 deg}\n  - {id: cone, piece: cone, at: [330, 280], height: 40}"
)
SO = SO.replace("speed: 0.5 m/s", "speed: 0.5 m/s, reverse: true")


def run(*arguments: object, code: int = 0) -> Any:
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    assert result.exit_code == code, result.output
    return result


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    path = tmp_path / "two.yaml"
    path.write_text(SCENE + SHOT.replace("NAME", "there") + SHOT.replace("NAME", "back") + CHANGE, encoding="utf-8")
    return path


def stills(scene: Path, out: Path, *shots: str) -> dict[str, Any]:
    for shot in shots:
        run("still", scene, "--shot", shot, "--draft", "--size", 96, "--views", 2, "--out", out)
    return {path.name.partition("-")[0]: np.asarray(Image.open(path), dtype=int) for path in out.glob("*.png")}


def test_what_cannot_be_built_for_a_shot_is_told_by_the_line_that_asks_for_it(tmp_path: Path) -> None:
    wood = "    added: [{id: wood, scatter: conifers, over: [[0, 195], [500, 205]], count: 3}]\n"
    path = tmp_path / "wood.yaml"
    text = SCENE + SHOT.replace("NAME", "there") + SHOT.replace("NAME", "back") + wood
    path.write_text(text, encoding="utf-8")
    line = text.splitlines().index(wood.rstrip()) + 1
    drawn = ("--draft", "--size", 96, "--views", 2, "--out", tmp_path / "out")
    told = run("still", path, "--shot", "back", *drawn, code=2).stderr
    assert f"{path}:{line}: dressing[wood].scatter: scatter wood: 3 of 3 conifers find no room" in told
    run("still", path, "--shot", "there", *drawn)


def test_the_picture_is_that_of_the_set_as_it_then_stands(scene: Path, tmp_path: Path) -> None:
    so = tmp_path / "so.yaml"
    so.write_text(SO + SHOT.replace("NAME", "back"), encoding="utf-8")
    drawn, plain = stills(scene, tmp_path / "two", "there", "back"), stills(so, tmp_path / "so", "back")
    assert np.array_equal(drawn["back"], plain["back"])
    assert np.abs(drawn["there"] - plain["back"]).max() > 40  # or there is nothing to be seen of it
    run("render", scene, "--draft", "--size", 64, "--views", 2, "--frames", ":2", "--format", "gif", "--out", tmp_path)
    with Image.open(tmp_path / "there.gif") as there, Image.open(tmp_path / "back.gif") as back:
        there.seek(1), back.seek(1)
        apart = np.asarray(there.convert("L"), dtype=int) - np.asarray(back.convert("L"), dtype=int)
    assert np.abs(apart).max() > 40


def test_the_plan_shows_each_shots_own_setup(scene: Path) -> None:
    whole = read_scene(scene)
    sheets = plan_sheets(whole, predict(whole, remedies=False), whole.shots)
    words = {sheet.name: " ".join(mark.text for mark in sheet.marks if hasattr(mark, "text")) for sheet in sheets}
    assert "cone" in words["plan-back"] and "cone" not in words["plan-there"]
    assert "60°" in words["plan-back"] and "60°" not in words["plan-there"]
    lists = " ".join(text for name, text in words.items() if name.startswith("lists"))
    assert "Set up otherwise for these shots" in lists and "added at 330, 280" in lists
    assert "at 150, 310; turned 60°" in lists and "from the other end" in lists


def test_a_print_is_of_the_setup_that_is_asked_for(scene: Path, tmp_path: Path) -> None:
    first = run("print", scene, "--only", "ground", "--out", tmp_path / "first")
    assert "as it is set up for there" in first.output
    back = run("print", scene, "--only", "ground", "--shot", "back", "--out", tmp_path / "back")
    assert "as it is set up for back" in back.output
    assert (tmp_path / "first" / "print.pdf").read_bytes() != (tmp_path / "back" / "print.pdf").read_bytes()


def test_check_tells_the_shots_of_one_setup(scene: Path) -> None:
    told = json.loads(run("check", scene, "--shot", "back", "--json").stdout)
    assert [each["shot"] for each in told["shots"]] == ["back"]
    assert all(each["shot"] in ("", "back") or "back" in each["also"] for each in told["findings"])


def test_a_plan_of_advice_is_written_into_its_shot_alone(scene: Path, tmp_path: Path) -> None:
    before = read_scene(scene)
    target = tmp_path / "better.yaml"
    result = CliRunner().invoke(app, ["advise", str(scene), "--shot", "back", "--plans", "1", "--apply", "1",
                                      "--out", str(target)])  # fmt: skip
    assert target.exists(), result.output
    after = read_scene(target)
    assert after.shot("there") == before.shot("there") and after.shot("back") != before.shot("back")
    then = as_set_up(after, after.shot("back"))
    assert then.dressing == as_set_up(before, before.shot("back")).dressing
    assert (after.set, after.dressing, after.vehicle, after.lights) == (
        before.set, before.dressing, before.vehicle, before.lights,
    )  # fmt: skip


def test_a_speed_as_it_looks_in_one_shot_keeps_that_shot_at_its_rate(tmp_path: Path) -> None:
    """At 60 fps played at 24 it would last 2.5 times as long, and the other shot's car drive 2.5 times as fast."""
    text = (SCENE + SHOT.replace("NAME", "there") + SHOT.replace("NAME", "back") + CHANGE).replace(
        "0.5 m/s", "40 km/h on screen in back"
    )
    more = "wants: [{lasts: at least 0.3 s}]\nmay_change: {distance: no, focal_length: no, camera: no, RATE}\n"
    path = tmp_path / "paced.yaml"
    path.write_text(text + more.replace("RATE", "rate: yes"), encoding="utf-8")
    scene = read_scene(path)
    assert (paced_by(scene, scene.shot("back")), paced_by(scene, scene.shot("there"))) == (("vehicle.speed",), ())
    found = advise(scene, scene.shot("back"), plans=1)
    assert found.plans and found.lost[0].settings[0].value == "another than 24 fps"
    assert "Give the speed on set, like 0.222 m/s, or in" in found.lost[0].why  # 40 / 3.6 m/s at 1:50, not slowed
    for plan in found.plans:
        after = rewritten(scene, {change.key: change.value for change in plan.changes})
        assert after.vehicle == scene.vehicle and after.shot("there") == scene.shot("there")
    path.write_text(text + more.replace("RATE", "rate: [60 fps]"), encoding="utf-8")
    only = read_scene(path)
    with pytest.raises(PrevizError, match=r"another rate than its 24 fps, and vehicle\.speed is as it looks in back"):
        advise(only, only.shot("back"))


def test_a_speed_that_other_shots_have_of_their_own_binds_no_rate(tmp_path: Path) -> None:
    own = SHOT.replace("NAME", "there") + "    vehicle: {speed: 0.4 m/s}\n"
    path = tmp_path / "own.yaml"
    text = (SCENE + SHOT.replace("NAME", "back") + own).replace("speed: 0.5 m/s", "speed: 40 km/h on screen in back")
    path.write_text(text, encoding="utf-8")
    scene = read_scene(path)
    assert paced_by(scene, scene.shot("back")) == ()


def test_what_is_varied_is_varied_as_the_shot_is_set_up(scene: Path, tmp_path: Path) -> None:
    from previz.delivery import compared

    found = compared(scene, "back", vary=["vehicle.speed=0.4 m/s,0.6 m/s"])
    assert [panel.scene.vehicle.speed for panel in found.panels if panel.scene.vehicle] == [0.4, 0.6]
    assert all([piece.id for piece in panel.scene.dressing] == ["crate", "cone"] for panel in found.panels)
    assert all(panel.scene.vehicle.reverse for panel in found.panels if panel.scene.vehicle)


@pytest.mark.parametrize(
    "command",
    ["check", "still --shot back", "render --shot back", "cut", "evening", "print --shot back", "plan",
     "compare --shot back --vary f_number=4,8", "advise --shot back"],
)  # fmt: skip
def test_a_file_that_one_shot_adds_is_told_by_its_line(scene: Path, tmp_path: Path, command: str) -> None:
    text = scene.read_text(encoding="utf-8").replace("cone, piece: cone", "box, mesh: box.obj")
    text = text.replace("height: 40}", "length: 40}")
    head, tail = text.rsplit("    aim: [250, 250, 20]\n", 1)
    scene.write_text(f"{head}    aim: box\n{tail}", encoding="utf-8")
    (tmp_path / "box.obj").write_text("no mesh", encoding="utf-8")
    name, *more = command.split()
    line = 1 + scene.read_text(encoding="utf-8").splitlines().index(
        "    added: [{id: box, mesh: box.obj, at: [330, 280], length: 40}]"
    )
    said = run(name, scene, *more, code=2).stderr
    assert f"{scene}:{line}: shots[back].added[box].mesh: {tmp_path / 'box.obj'}: no triangles found" in said, said
