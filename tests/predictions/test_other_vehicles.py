"""What is found of vehicles beside the subject: where two meet, what is in their way, what they hide."""

import json
from pathlib import Path

import pytest
from random_traffic import of_others, traffic, wrong_with

from previz.layout import passings
from previz.predictions import Verdict, brief_of_scene, predict
from previz.scene import Scene, read_scene, rewritten

SCENE = """
title: A road with traffic
scale: 1:50
units: mm
set:
  table: {width: 1400, depth: 700}
  road: {lane: 70, lanes: 2, centre: [[-60, 300], [1460, 300]]}
dressing: [{id: crate, piece: container, at: CRATE}]
vehicle: {body: van, speed: 0.7 m/s}
vehicles:
OTHERS
lights:
  - {id: key, panel: [300, 300], at: [100, -300, 600], aim: [500, 200, 0], output: 9000 lm, mains: false}
cameras: {pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p60]}}
shots:
  - id: pass
    camera: pocket
    focal_length: 20 mm
    f_number: 5.6
    at: AT
    aim: [700, 300, 20]
    focus: vehicle at 0.9 s
    capture: {rate: 60 fps}
    start: 0.7 s
    duration: 0.6 s
"""


def scene_of(folder: Path, *others: str, crate: str = "[700, 600]", at: str = "[700, -300, 200]") -> Scene:
    text = SCENE.replace("OTHERS", "\n".join(f"  {each}" for each in others)).replace("CRATE", crate).replace("AT", at)
    path = folder / "scene.yaml"
    path.write_text(text, encoding="utf-8")
    return read_scene(path)


def bad(scene: Scene) -> list[str]:
    return [each.id for each in of_others(scene) if each.verdict is not Verdict.FINE]


ONCOMING = "oncoming: {body: saloon, reverse: true, speed: 0.9 m/s}"


def test_traffic_that_keeps_its_lanes_and_distance_is_left_alone(tmp_path: Path) -> None:
    scene = scene_of(
        tmp_path,
        ONCOMING,
        "queue: {body: van, speed: 0.7 m/s, start: 0.4 s}",
        "next: {body: saloon, speed: 0.7 m/s, start: 0.8 s}",
        "standing: {body: lorry, speed: 0, path: [[200, 550], [800, 550]]}",
    )
    assert bad(scene) == []
    assert len(passings(scene)) == 10  # of five


@pytest.mark.parametrize(
    ("other", "key"),
    [
        ("near: {body: saloon, speed: 0.7 m/s, start: 0.1 s}", "vehicles.near.start"),
        ("near: {body: saloon, speed: 0.5 m/s, start: -0.1 s}", "vehicles.near.start"),
        ("near: {body: saloon, speed: 0.6 m/s, reverse: true, keep: left}", "vehicles.near.keep"),
        ("near: {body: saloon, speed: 0, path: [[700, 265], [800, 265]]}", "vehicles.near.offset"),
    ],
)
def test_two_that_meet_are_told_and_the_remedy_keeps_them_apart(tmp_path: Path, other: str, key: str) -> None:
    scene = scene_of(tmp_path, other)
    found = predict(scene)
    (finding,) = [each for each in found.findings if each.id == "others.meet.vehicle.near"]
    assert finding.verdict is Verdict.STOP and finding.value < 0
    assert [change.key for change in finding.changes] == [key]
    after = rewritten(scene, {change.key: change.value for change in finding.changes})
    assert bad(after) == []


def test_after_the_last_shot_a_meeting_is_to_be_watched(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, "near: {body: saloon, speed: 0.85 m/s, start: 0.42 s}")
    (found,) = [each for each in of_others(scene) if each.id == "others.meet.vehicle.near"]
    assert found.verdict is Verdict.WATCH and "after the last shot has ended" in found.message


def test_what_is_in_the_way_of_another_is_told_as_in_the_subjects_way(tmp_path: Path) -> None:
    path = "path: [[200, 420], [1200, 420]]"
    scene = scene_of(tmp_path, f"second: {{body: saloon, speed: 0.7 m/s, {path}}}", crate="[700, 430]")
    predictions = predict(scene)
    (found,) = [each for each in predictions.findings if each.id == "set.path.second"]
    assert found.verdict is Verdict.STOP and found.changes
    # The vehicle is the one that the shot is about; this is another.
    assert found.gist.startswith("crate stands ") and found.gist.endswith(" in the way of second")
    assert "vehicle" not in found.message and "second: " not in found.message + found.remedy
    assert found.remedy.startswith("Move crate behind the path of second, ")
    assert "; crate stands in the way of second" in dict(brief_of_scene(scene, predictions.figures))["run"]
    assert bad(rewritten(scene, {change.key: change.value for change in found.changes})) == []


def test_one_that_drives_into_another_s_ramp_is_told(tmp_path: Path) -> None:
    """The ramp stands on the right lane with its foot at 500 - 60 mm; the road's lanes are 70 mm wide."""
    launch = "launch: {ramp: {height: 80 mm, length: 400 mm, foot_radius: 250 mm, foot: 500 mm}, rolling: 2 %}"
    first, right = f"first: {{body: saloon, {launch}}}", "second: {body: saloon, speed: 0.7 m/s, start: -9 s}"
    (told,) = [each for each in of_others(scene_of(tmp_path, first, right)) if "ramp.second" in each.id]
    assert told.verdict is Verdict.STOP and told.message.startswith("Second runs")
    left = right.replace("start: -9 s", "keep: left, start: -9 s")
    assert not [each for each in bad(scene_of(tmp_path, first, left)) if "ramp.second" in each]
    # Down the same ramp, and where the subject is driven through it.
    both = scene_of(tmp_path, first, f"second: {{body: van, {launch}, start: 5 s}}")
    ids = [each for each in bad(both) if each.startswith("others.ramp.")]
    assert ids == ["others.ramp.vehicle.first", "others.ramp.vehicle.second"]


def test_one_that_stands_between_hides_the_vehicle(tmp_path: Path) -> None:
    bus = "bus: {body: bus, speed: 0.7 m/s, path: [[-60, 140], [1460, 140]]}"
    low = scene_of(tmp_path, bus, at="[700, -300, 30]")
    (found,) = [each for each in of_others(low) if each.id == "others.hide.bus"]
    assert found.verdict is Verdict.WATCH and found.value > 0.9
    assert "others.hide.bus" not in bad(scene_of(tmp_path, bus, at="[700, -300, 700]"))


def test_each_launch_has_its_figures_and_its_ramp(tmp_path: Path) -> None:
    launch = "launch: {ramp: {height: 80 mm, length: 400 mm, foot_radius: 250 mm, foot: 500 mm}, rolling: 2 %}"
    scene = scene_of(tmp_path, f"second: {{body: saloon, reverse: true, {launch}}}")
    found = predict(scene, remedies=False)
    assert found.value("ramp_height", "second") == pytest.approx(0.080)
    assert found.value("exit_speed", "second") > 1.0
    heights = [each.value for each in found.figures if each.quantity == "height_for_speed" and "second: " in each.of]
    assert len(heights) >= 2 and heights == sorted(heights)
    assert "ramp.raised" not in [caution.id for caution in found.cautions]  # 80 mm
    higher = rewritten(scene, {"vehicles.second.launch.ramp.height": "120 mm"})
    assert "ramp.raised" in [caution.id for caution in predict(higher, remedies=False).cautions]


@pytest.mark.parametrize("seed", [5])  # more of them: tests/benchmarks/traffic.py
def test_random_traffic_is_looked_at_and_its_remedies_hold(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "scene.yaml"
    path.write_text(json.dumps(traffic(seed)), encoding="utf-8")
    scene = read_scene(path)
    found = predict(scene)
    assert wrong_with(scene, found.findings) == []
