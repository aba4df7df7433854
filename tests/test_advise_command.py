"""`previz advise` as a person meets it. The search is played by a stand-in here but for the last tests."""

import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

import previz
import previz.advice as room
from previz.advice import Advice, Bind, Lost, Met, Plan, Relaxation, Relaxed, Row, Wanted
from previz.cli import app
from previz.errors import PrevizError
from previz.frames import Facts, Frame
from previz.predictions import Change, predict
from previz.scene import read_scene, rewritten
from previz.telling import advice_lines

sys.path.insert(0, str(Path(__file__).parent / "delivery"))
from comparisons import SCENE

FACTS = Facts(iso=640, exposure_time=1 / 240, working_f_number=5.9, views=8, vehicle_illuminance=812.0)
KEPT = "# A comment that stays\n" + SCENE.replace("f_number: 4", "f_number: 4   # as bright as it goes")


def plan_of(scene: previz.Scene, shot: previz.Shot, changes: dict[str, Any]) -> Plan:
    number = scene.shots.index(shot)
    new = rewritten(scene, {f"shots[{number}].{key}": value for key, value in changes.items()})
    found = predict(new, remedies=False)  # an advice tells none
    met = Met("wants[0]", "fills: 45 %", "vehicle_width", 0.43, 0.5, "", "43 %", hard=True)
    return Plan(
        new,
        new.shots[number],
        tuple(Change(f"shots[{number}].{key}", value) for key, value in changes.items()),
        (Row("camera", new.shots[number].camera), Row("stop", f"f/{new.shots[number].f_number:g}")),
        (Row("lens, in front of the table", "160 mm"),),
        (met,),
        (
            Met("wants[1]", "looks: full size", "full_size_pupil", 0.15, 0.045, "m", "15 cm", False, "at most 4.5 cm"),
            Met("wants[2]", "lasts: at least 2 s", "time_in_frame", 1.6, 2.0, "s", "1.6 s", hard=False),
        ),
        tuple(each for each in found.findings if each.verdict != "fine"),
        (Bind("The light", "lamps twice as bright: the vehicle fills 45 %, not 43 %"), Bind("The table", "12 cm more")),
    )


PLANS = (
    {"f_number": "f/8", "at": ["700 mm", "-180.5 mm", "60 mm"]},
    {"camera": "large", "focal_length": "60 mm", "capture.rate": "100 fps"},
)
LOST = Lost((Row("camera", "stuck"), Row("picture", "wide"), Row("stop", "f/1")), "It sees past the set.")


@pytest.fixture
def advised(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """A stand-in for the search: two plans, or as many as are asked for, and what else the test puts in."""
    other: dict[str, Any] = {"changes": PLANS, "relaxed": None}

    def advise(scene: previz.Scene, shot: previz.Shot, plans: int = 3) -> Advice:
        if shot.id == other.get("refused"):
            raise PrevizError("it cannot be made")
        found = tuple(plan_of(scene, shot, changes) for changes in other["changes"][:plans])
        lost = (LOST, replace(LOST, why="It is dark."))
        written = other.get("written")
        return (
            Advice((), other["relaxed"], lost, found[0])
            if other.get("stopped")
            else Advice(found, other["relaxed"], lost, as_written=written)
        )

    monkeypatch.setattr(room, "advise", advise)
    return other


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    path = tmp_path / "yard.yaml"
    path.write_text(KEPT, encoding="utf-8")
    return path


def run(*arguments: object) -> Any:
    return CliRunner().invoke(app, ["advise", *map(str, arguments)])


def test_it_says_what_a_plan_gains_over_the_shot_as_it_is_written(scene_file: Path, advised: dict[str, Any]) -> None:
    looks = Met("wants[1]", "looks: full size", "full_size_pupil", 0.3, 0.045, "m", "30 cm", False, "at most 4.5 cm")
    lasts = Met("wants[2]", "lasts: at least 2 s", "time_in_frame", 1.6, 2.0, "s", "1.6 s", hard=False)
    advised["written"] = Wanted("pass", (), (looks, lasts))
    told = " ".join(run(scene_file).stdout.split())
    assert "plan 1: 1 of 3 wants met, as written 0; changes stop, place" in told
    assert "15 cm (wanted at most 4.5 cm), as written 30; lasts: at least 2 s, 1.6 s" in told
    assert "plan 2: 1 of 3 wants met; changes" in told
    advised["written"] = Wanted("pass", (), (looks,), stops=1)
    assert "wants met, as written check stops it; changes" in " ".join(run(scene_file).stdout.split())


def test_it_says_what_to_set_to_measure_and_what_comes_of_it(scene_file: Path, advised: dict[str, Any]) -> None:
    result = run(scene_file)
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert lines[0] == "pass: 2 plans, the best first"
    assert lines[2] == "plan 1: 1 of 3 wants met; changes stop, place"
    assert "  dial in    camera inch; stop f/8" in lines
    assert "  measure    lens, in front of the table 160 mm" in lines
    assert "  meets      fills: 45 % (must), 43 %" in lines
    # What the want itself does not say is said beside it, in the unit of the figure.
    told = " ".join(result.stdout.split())
    assert "misses looks: full size, 15 cm (wanted at most 4.5 cm); lasts: at least 2 s, 1.6 s" in told
    assert told.count("held by The light. With lamps twice as bright: the vehicle fills 45 %, not 43 %") == 1
    second = lines.index("plan 2: 1 of 3 wants met; changes camera, focal length, rate")
    assert "  meets      fills: 45 %" in lines[second:]  # which of the three, of every plan
    assert "  lost       stuck, f/1: It sees past the set." in lines
    assert "12 cm more" not in told and "It is dark" not in told  # for these ask for one plan
    assert len(lines) <= 40 and max(map(len, lines)) <= 80
    assert result.stderr.splitlines()[0] == f"previz advise {scene_file} --apply 1"


def test_where_one_plan_is_asked_for_all_is_told(scene_file: Path, advised: dict[str, Any]) -> None:
    told = " ".join(run(scene_file, "--plans", 1).stdout.split())
    assert told.startswith("pass: 1 plan ") and "12 cm more" in told and "It is dark" in told
    watches = predict(read_scene(scene_file, changes={"shots[0].f_number": 8}), remedies=False).findings
    assert told.count(" watch ") == sum(each.verdict == "watch" for each in watches) > 1


def test_a_plan_is_applied_in_a_new_file_with_all_else_as_it_was(scene_file: Path, advised: dict[str, Any]) -> None:
    result = run(scene_file, "--apply", 1)
    assert result.exit_code == 0, result.output
    target = scene_file.with_name("yard_plan1.yaml")
    assert result.stdout.splitlines()[-1] == f"{target}: the scene with plan 1"
    assert scene_file.read_text(encoding="utf-8") == KEPT
    wanted = KEPT.replace("f_number: 4 ", "f_number: f/8 ").replace("at: [700, -160, 60]", "at: [700, -180.5, 60]")
    assert target.read_text(encoding="utf-8") == wanted
    changes = {f"shots[0].{key}": value for key, value in PLANS[0].items()}
    assert read_scene(target) == rewritten(read_scene(scene_file), changes)


def test_line_breaks_and_marks_of_another_system_stay(scene_file: Path, advised: dict[str, Any]) -> None:
    scene_file.write_bytes(b"\xef\xbb\xbf" + KEPT.replace("\n", "\r\n").encode())
    assert run(scene_file, "--apply", 2, "--out", scene_file.with_name("b.yaml")).exit_code == 0
    found = scene_file.with_name("b.yaml").read_bytes()
    assert found.startswith(b"\xef\xbb\xbf# A comment") and found.count(b"\r\n") == found.count(b"\n") > 20


def test_nothing_is_written_over_unless_told_to(scene_file: Path, advised: dict[str, Any]) -> None:
    target = scene_file.with_name("yard_plan1.yaml")
    target.write_text("mine")
    result = run(scene_file, "--apply", 1)
    assert result.exit_code == 2 and "is there already; choose another name with --out" in result.stderr
    assert result.stdout == "" and target.read_text() == "mine"
    assert run(scene_file, "--apply", 1, "--out", scene_file).exit_code == 2
    assert run(scene_file, "--apply", 1, "--force").exit_code == 0
    assert "f/8" in target.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--apply", "3"], "--apply 3: there are 2 plans for this shot"),
        (["--apply", "2", "--plans", "1"], "--apply 2: there is one plan for this shot"),
        (["--out", "b.yaml"], "--out names the file that --apply writes; say which plan, like --apply 1"),
        (["--shot", "pas"], "--shot pas: the scene's only shot is pass"),
    ],
)
def test_what_cannot_be_asked_is_told(
    arguments: list[str], said: str, scene_file: Path, advised: dict[str, Any]
) -> None:
    result = run(scene_file, *arguments)
    assert result.exit_code == 2 and result.stderr.strip() == said
    assert [each.name for each in scene_file.parent.iterdir()] == ["yard.yaml"]


def test_a_scene_that_names_files_stays_beside_them(scene_file: Path, advised: dict[str, Any]) -> None:
    kit = "cameras: {more: {sensor: 1-inch, lens: 9 mm, widest: f/2, nearest: 50 mm, modes: [1080p60]}}"
    scene_file.with_name("kit.yaml").write_text(kit)
    scene_file.write_text(f"{KEPT}kit: kit.yaml\n", encoding="utf-8")
    result = run(scene_file, "--apply", 1, "--out", scene_file.parent / "below" / "b.yaml")
    assert result.exit_code == 2 and "the scene names kit.yaml, which is looked for beside it" in result.stderr
    assert run(scene_file, "--apply", 1, "--out", scene_file.with_name("b.yaml")).exit_code == 0
    assert "more" in read_scene(scene_file.with_name("b.yaml")).cameras


def test_a_file_that_cannot_be_changed_alone_is_told_by_its_line(scene_file: Path, advised: dict[str, Any]) -> None:
    text = KEPT.replace("f_number: 4 ", "f_number: &stop 4 ")
    again = "  - id: again" + text.split("  - id: pass")[1].replace("&stop 4", "*stop")
    scene_file.write_text(text + again, encoding="utf-8")
    result = run(scene_file, "--apply", 1, "--shot", "pass")
    line = next(n for n, each in enumerate(text.splitlines(), start=1) if "&stop" in each)
    assert result.exit_code == 2 and f"{scene_file}: line {line}: &stop names this value" in result.stderr
    assert not scene_file.with_name("yard_plan1.yaml").exists()


def test_it_ends_with_1_where_no_plan_does_all_it_must(scene_file: Path, advised: dict[str, Any]) -> None:
    relaxed = Relaxed("wants[0]", "iso: at most 200", 200, 640, "", "200", "640")
    advised["relaxed"] = Relaxation((relaxed,))
    result = run(scene_file)
    assert result.exit_code == 1
    assert result.stdout.splitlines()[1] == "  gives way  iso: at most 200: 640 at best"
    advised.update(changes=(), relaxed=None)
    result = run(scene_file)
    assert result.exit_code == 1
    assert result.stdout.splitlines()[0] == "pass: no plan"
    assert "It sees past the set." in result.stdout and "It is dark." in result.stdout


def test_a_plan_with_its_lens_at_another_height_says_so(scene_file: Path, advised: dict[str, Any]) -> None:
    scene = previz.read_scene(scene_file)
    plan = replace(plan_of(scene, scene.shots[0], PLANS[0]), other_height=True)
    (line, *_) = [each for each in advice_lines("pass", Advice((plan,), None, ()), whole=False) if "plan 1:" in each]
    assert line.endswith("changes stop, place and height")


def test_what_check_stops_is_no_plan_and_cannot_be_applied(scene_file: Path, advised: dict[str, Any]) -> None:
    # From so far it sees past the set.
    advised.update(changes=({"at": ["700 mm", "-6000 mm", "60 mm"]},), stopped=True)
    result = run(scene_file)
    assert result.exit_code == 1
    lines = result.stdout.splitlines()
    assert lines[0] == "pass: no plan: check stops all that can be made of it"
    assert lines[2] == "nearest to one: 1 of 3 wants met; changes place"
    assert any(line.startswith("  stop ") for line in lines)
    assert "--apply" not in result.stderr
    assert "there is no plan for this shot" in run(scene_file, "--apply", 1).stderr
    data = json.loads(run(scene_file, "--json").stdout)["shots"]["pass"]
    assert data["plans"] == [] and data["nearest"]["changes"]


def test_where_nothing_is_better_than_as_written_that_is_said(scene_file: Path, advised: dict[str, Any]) -> None:
    advised.update(changes=({},))
    result = run(scene_file)
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0] == "pass: nothing was found that is better than as it is written"
    assert lines[2] == "plan 1: 1 of 3 wants met; as it is"
    assert "--apply" not in result.stderr
    assert "no plan for pass to compare with the shot as it is written" in run(scene_file, "--compare").stderr


def test_plans_are_for_one_shot_at_a_time(scene_file: Path, advised: dict[str, Any]) -> None:
    shot = "  - id: pass" + KEPT.split("  - id: pass")[1]
    scene_file.write_text(KEPT + shot.replace("id: pass", "id: again"), encoding="utf-8")
    told = run(scene_file)
    assert [line for line in told.stdout.splitlines() if "best first" in line] == [
        *("pass: 2 plans, the best first", "again: 2 plans, the best first")
    ]
    assert f"previz advise {scene_file} --shot pass --apply 1" in told.stderr  # what it proposes can be done
    result = run(scene_file, "--apply", 1)
    assert result.exit_code == 2 and "name it with --shot: the scene has pass, again" in result.stderr
    assert run(scene_file, "--apply", 1, "--shot", "again").exit_code == 0
    assert [shot.f_number for shot in read_scene(scene_file.with_name("yard_again_plan1.yaml")).shots] == [4, 8]


def test_what_is_wrong_with_one_shot_does_not_lose_what_is_advised_for_the_others(
    scene_file: Path, advised: dict[str, Any]
) -> None:
    shot = "  - id: pass" + KEPT.split("  - id: pass")[1]
    scene_file.write_text(KEPT + shot.replace("id: pass", "id: again"), encoding="utf-8")
    advised["refused"] = "pass"
    result = run(scene_file)
    assert result.exit_code == 2 and "it cannot be made" in result.stderr
    assert result.stdout.startswith("again: 2 plans, the best first")
    assert f"previz advise {scene_file} --shot again --apply 1" in result.stderr
    assert [*json.loads(run(scene_file, "--json").stdout)["shots"]] == ["again"]


def test_json_is_in_si_and_has_all_of_it(scene_file: Path, advised: dict[str, Any]) -> None:
    result = run(scene_file, "--json")
    first, second = json.loads(result.stdout)["shots"]["pass"]["plans"]
    assert first["changes"] == [
        {"key": "shots[0].f_number", "value": "f/8"},
        {"key": "shots[0].at", "value": ["700 mm", "-180.5 mm", "60 mm"]},
    ]
    assert first["shot"]["at"] == pytest.approx([0.7, -0.1805, 0.06]) and second["shot"]["focal_length"] == 0.06
    assert first["misses"][0]["value"] == 0.15 and first["misses"][0]["unit"] == "m"
    assert len(first["binds"]) == 2 and first["findings"][0]["verdict"] == "watch"


def test_the_plans_are_drawn_beside_the_shot_as_written(
    scene_file: Path, advised: dict[str, Any], nobody_draws: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn = []

    def render_frames(_scene: Any, _stage: Any, shot: Any, look: Any, *_: object) -> Iterator[Frame]:
        drawn.append((shot.camera, shot.f_number))
        for number in look.frames:
            linear = np.full((look.size[1], look.size[0], 3), 0.1 + 0.01 * number, np.float32)
            yield Frame(number, Fraction(2, 5) + Fraction(number, 120), linear, FACTS)

    monkeypatch.setattr(previz, "build_stage", lambda *_, **__: SimpleNamespace(collisions=()), raising=False)
    monkeypatch.setattr(previz, "render_frames", render_frames, raising=False)
    monkeypatch.chdir(scene_file.parent)
    result = run(scene_file.name, "--compare", "--draft")
    assert result.exit_code == 0, result.output
    assert sorted(drawn) == [("inch", 4), ("inch", 8), ("large", 4)]
    folder = Path("outputs/yard/plans")
    assert f"{folder}/page.html: " in result.stdout
    panels = json.loads((folder / "numbers.json").read_text())["panels"]
    assert [panel["name"] for panel in panels] == ["as written", "plan 1, inch", "plan 2, large"]
    assert [each["words"] for each in panels[1]["differences"]] == [
        *("misses looks: full size: 15 cm", "misses lasts: at least 2 s: 1.6 s")
    ]
    page = (folder / "page.html").read_text(encoding="utf-8")
    assert "shot pass, by plan" in page and "isses looks: full size" in page


# --- with the search itself ---

OWN = """\
title: A kitchen table
scale: 1:64
units: cm
set:
  table: {width: 120, depth: 60}
  ground: {surface: grass}
  road: {lane: 3.5 m full size, centre: [[-6, 25], [126, 25]]}
  backdrop: {distance: 58.5, height: 22.5, painting: {sky: overcast, horizon: 3.6}}
vehicle: {body: van, path: road, speed: 0.52 m/s}
lights:
  - {id: key, panel: [72, 48], at: [24, -6, 72], aim: [60, 30, 0], output: 900 lm, mains: false}
  - {id: room, ambient: 60 lx, mains: false}
cameras:
  pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120, 4k30]}
  phone: {sensor: 1/1.3-type, lens: 6.9 mm, widest: f/1.8, smallest: f/1.8, nearest: 120 mm, modes: [1080p120]}
shots:
  - id: pass
    camera: pocket
    focal_length: 9 mm     # all of the table
    f_number: 2
    at: [60, -40, 3.4]
    aim: [60, 22.5, 3.4]
    focus: 90
    capture: {rate: 120 fps}
    start: 1.06 s
    duration: 0.41 s
wants:
  - {edges: hidden, must: true}   # the kitchen must not show
  - {sharp: mid-frame}
  - {fills: 40 %}
"""


def test_a_scene_of_ones_own_goes_to_no_stops_by_following_it(tmp_path: Path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(OWN, encoding="utf-8")
    assert CliRunner().invoke(app, ["check", str(path)]).exit_code == 1
    result = run(path, "--apply", 1)
    assert result.exit_code == 0, result.output
    better = tmp_path / "own_plan1.yaml"
    assert CliRunner().invoke(app, ["check", str(better)]).exit_code == 0
    # Followed once more it stays where it is, or goes where nothing stops it either.
    assert run(better, "--apply", 1, "--out", tmp_path / "again.yaml").exit_code == 0
    assert CliRunner().invoke(app, ["check", str(tmp_path / "again.yaml")]).exit_code == 0
    kept = [line for line in OWN.splitlines() if "#" in line]
    assert all(line.partition("#")[2] in better.read_text(encoding="utf-8") for line in kept)


@pytest.mark.parametrize("start", ["pass", "night"])
def test_a_first_scene_is_advised_to_what_works(start: str, tmp_path: Path) -> None:
    path = tmp_path / "first.yaml"
    wish = ["new", str(path), "--start", start, "--camera", "pocket", "--camera", "phone"]
    assert CliRunner().invoke(app, wish).exit_code == 0
    result = run(path, "--apply", 1)
    assert result.exit_code == 0, result.output
    assert len(result.stdout.splitlines()) <= 52 and max(map(len, result.stdout.splitlines()[:-1])) <= 80
    assert CliRunner().invoke(app, ["check", str(tmp_path / "first_plan1.yaml")]).exit_code == 0
