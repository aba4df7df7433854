"""Remedies that programs apply: a scene with the changes of any finding written into it can be read again."""

import copy
import math
import re
from pathlib import Path
from typing import Any

import pytest
from broken_scenes import broken, changed, found, looked, predicted, read
from random_scenes import random_scene
from remedies_tried import spoiled
from test_findings import BROKEN, launched
from test_place import BROKEN as MISPLACED

from previz.predictions import Change, Verdict, predict
from previz.scene import read_scene

CASES = [changes for changes, *_ in (*BROKEN, *MISPLACED)]
CASES += [
    [("shots[0].capture.iso", 51200)],
    [("lights[0].output", "50 lm"), ("lights[1].ambient", "1 lx")],
    [("lights[1].ambient", "90 klx"), ("shots[0].f_number", "f/11")],
    [("shots[0].f_number", "f/11"), ("cameras.small.nearest", 600), ("vehicle.speed", "9 m/s")],
    list(launched(height=20, rolling="3 %")),
]

#: A zoom that opens to f/2.8 where the shot has it, and less further out: f/1.4 to f/4 over 4.2 to 25 mm.
ZOOM = [
    ("cameras.small.widest_at_longest", "f/4"),
    ("shots[0].focal_length", 15.4),
    ("shots[0].at", [1500, -1700, 90]),
]


def zoomed(changes: list[tuple[str, Any]]) -> list[tuple[str, Any]]:
    """The same faults on a zoom that loses light; a stop it has not there is opened as far as it goes."""
    stops = {"f/1.4": "f/2.8", "f/2.8": "f/2.8"}
    return [*ZOOM, *((key, stops.get(value, value) if key.endswith("f_number") else value) for key, value in changes)]


@pytest.mark.parametrize("number", range(1, len(CASES), 4))
def test_the_changes_of_every_remedy_can_be_read(number: int, tmp_path: Path) -> None:
    """On the zoom; on the prime they are read where each finding is looked at."""
    data = broken(*zoomed(CASES[number]))
    written = [finding for finding in predicted(data, tmp_path).findings if finding.changes]
    for finding in written:
        read(changed(data, finding.changes), tmp_path)


def test_a_zoom_that_loses_light_is_not_opened_past_what_it_has_left(tmp_path: Path) -> None:
    # f/1.4 at the short end, but (15.4 - 4.2) / 20.8 of the way to f/4 at the long one: f/2.8. From f/4 that is a
    # stop, enough for half the light and not for 0.32, which wants f/2.2.
    for light, remedy in ((0.5, "f/2.8"), (0.32, None)):
        dim = [("lights[0].output", f"{60 * light:g} klm"), ("lights[1].ambient", f"{900 * light:g} lx")]
        finding = found(predicted(broken(*ZOOM, *dim, ("shots[0].f_number", "f/4")), tmp_path), "light.iso")
        stops = [change.value for change in finding.changes if change.key == "shots[0].f_number"]
        assert stops == ([remedy] if remedy else []), finding


def test_zooming_in_stops_a_lens_down_that_opens_less_there(tmp_path: Path) -> None:
    # 8 mm opens to f/1.9; a lorry of 333 mm from 12.3 m is 3.9 % of 5.6 mm wide, and 11 mm opens to f/2.2 only.
    far = [*ZOOM, ("shots[0].focal_length", 8), ("shots[0].at", [1500, -12000, 90]), ("shots[0].f_number", "f/2")]
    finding = found(predicted(broken(*far), tmp_path), "framing.small")
    assert finding.verdict is Verdict.WATCH
    assert [change.key for change in finding.changes] == ["shots[0].focal_length", "shots[0].f_number"]
    mended = looked(changed(broken(*far), finding.changes), tmp_path)
    assert found(mended, "framing.small").verdict is Verdict.FINE


@pytest.mark.parametrize("moves", [False, True])
def test_a_lens_of_one_focal_length_is_not_told_to_zoom(moves: bool, tmp_path: Path) -> None:
    at = [1500, -6150, 70]
    keys = [("cameras.small.lens", "4.2 mm")]
    keys += [("shots[0].at", [{"time": "2 s", "at": at}, {"time": "2.6 s", "at": [1510, *at[1:]]}] if moves else at)]
    finding = found(predicted(broken(*keys), tmp_path), "framing.small")
    assert finding.verdict is Verdict.WATCH and "oom" not in finding.remedy
    assert finding.remedy == "Come nearer." if moves else "nearer" in finding.remedy


def test_a_zoom_is_set_to_what_its_ring_shows_and_within_its_range(tmp_path: Path) -> None:
    """A lorry of 333 mm is 3.6 % of the width from 6.48 m at 4.2 mm (worked in test_findings); 5 % takes some more."""
    finding = found(predicted(broken(("shots[0].at", [1500, -6150, 70])), tmp_path), "framing.small")
    (focal,) = [change.value for change in finding.changes if change.key == "shots[0].focal_length"]
    number = float(focal.removesuffix(" mm"))
    assert focal in finding.remedy and number == round(number, 1) and 4.2 < number < 25


def test_a_focus_pull_that_was_chosen_stays(tmp_path: Path) -> None:
    pull = [{"time": "2.05 s", "at": "300 mm"}, {"time": "2.5 s", "at": "vehicle"}]
    for f_number in ("f/1.4", "f/2.8", "f/4"):
        keys = [("shots[0].focus", pull), ("shots[0].f_number", f_number)]
        finding = found(predicted(broken(*keys), tmp_path), "focus.vehicle")
        assert finding.verdict is not Verdict.FINE
        assert not [change for change in finding.changes if change.key.startswith("shots[0].focus")]


def test_a_piece_is_moved_off_another_and_not_onto_the_road(tmp_path: Path) -> None:
    # Away from the hut, straight on, is the lane that is not driven on: 400 to 546 mm.
    crate = {"id": "crate", "piece": "container", "at": [1900, 600], "length": 240}
    data = broken(("dressing[2]", crate))
    finding = found(predicted(data, tmp_path), "set.overlap.hut.crate")
    assert finding.changes
    mended = looked(changed(data, finding.changes), tmp_path)
    assert not [each for each in mended.findings if each.id.startswith("set.") and each.verdict is not Verdict.FINE]


def test_no_lamp_is_asked_for_more_than_it_gives(tmp_path: Path) -> None:
    dim = broken(("lights[0].output", "500 lm"), ("lights[1].ambient", "7 lx"))
    for data in (dim, changed(dim, [Change("lights[0].diffusion", "2 stops")])):
        for finding in predicted(data, tmp_path).findings:
            assert not [change for change in finding.changes if change.key.endswith((".output", ".lit"))]
            assert "times as bright" not in finding.remedy


def test_a_lamp_is_moved_nearer_to_give_what_is_lacking(tmp_path: Path) -> None:
    # Four fifths of a stop from a small panel; wide open as it is, so that no stop is left to open.
    panel = {"id": "key", "panel": [200, 150], "at": [700, -1500, 1900], "aim": [1500, 400, 0], "mains": False}
    spare = [("shots[0].f_number", "f/2.8"), ("cameras.small.widest", "f/2.8"), ("lights[1].ambient", "300 lx")]
    data = broken(("lights[0]", {**panel, "output": "17000 lm"}), *spare)
    finding = found(predicted(data, tmp_path), "light.iso")
    assert finding.verdict is not Verdict.FINE
    assert [change.key for change in finding.changes] == ["lights[0].at"], finding
    after = found(looked(changed(data, finding.changes), tmp_path), "light.iso")
    assert after.verdict is Verdict.FINE and after.value > 0.9 * after.limit  # as far as it takes, and no further


@pytest.mark.parametrize("backdrop", [{"height": 200}, {"height": 100, "width": 1000}], ids=["low", "small"])
def test_a_stop_is_not_mended_by_making_another_worse(backdrop: dict[str, int], tmp_path: Path) -> None:
    """To stand back as far as the lens needs shows more of what is past a small backdrop."""
    sizes = [(f"set.backdrop.{name}", size) for name, size in backdrop.items()]
    scene = read(broken(("cameras.small.nearest", 550), *sizes), tmp_path)
    predictions = predict(scene)
    assert found(predictions, "backdrop.off_set").verdict is found(predictions, "focus.nearest").verdict is Verdict.STOP
    assert spoiled(scene, predictions) == []


def test_a_scene_that_was_made_is_shown_no_remedy(tmp_path: Path) -> None:
    scene = read(broken(("shots[0].f_number", "f/1.4")), tmp_path)
    assert found(predict(scene), "scale.blur").changes
    made = scene.model_copy(update={"title": "Made"})
    assert not [each for each in predict(made).findings if each.changes]
    assert not [each for each in predict(scene, remedies=False).findings if each.changes]


def test_the_same_scene_is_shown_the_same_remedies(tmp_path: Path) -> None:
    data = random_scene(5)
    assert predicted(data, tmp_path) == predicted(data, tmp_path)


def test_a_lamp_too_bright_for_a_lens_of_one_stop_is_dimmed_by_gel(tmp_path: Path) -> None:
    """A shorter shutter would show the pulse of the mains; the lens has no other stop."""
    bright = [("lights[0].output", "200 klm"), ("lights[1].ambient", "100 lx"), ("lights[0].mains", True),
              ("cameras.small.smallest", "f/1.4"), ("shots[0].f_number", "f/1.4"),
              ("shots[0].capture.rate", "100 fps"), ("shots[0].capture.shutter", "1/100 s"),
              ("mains", "50 Hz")]  # fmt: skip
    data = broken(*bright)
    finding = found(predicted(data, tmp_path), "light.iso_range")
    assert finding.verdict is Verdict.STOP
    assert [change.key for change in finding.changes] == ["lights[0].diffusion"], finding.remedy
    mended = looked(changed(data, finding.changes), tmp_path)
    assert found(mended, "light.iso_range").verdict is Verdict.FINE


def test_two_stretches_of_one_shot_are_made_one_that_mends_both(tmp_path: Path) -> None:
    """A vehicle that comes over the table's edge and is soon gone: later, and shorter, were two remedies."""
    drives = [("shots[0].at", [300, -150, 70]), ("shots[0].aim", [300, 400, 80]), ("shots[0].focal_length", 6)]
    scene = read(broken(*drives, ("shots[0].start", "0 s"), ("shots[0].duration", "4.5 s")), tmp_path)
    predictions = predict(scene)
    over, gone = (found(predictions, name) for name in ("room.table", "framing.hardly"))
    assert {each.key for each in over.changes} == {"shots[0].start", "shots[0].duration"}
    assert over.changes == gone.changes and over.remedy == gone.remedy
    assert spoiled(scene, predictions) == []


#: A lorry comes in over the table's edge and through the backdrop that hangs there for this shot, a lamp on the mains.
HAUL = """\
title: Haul
scale: 1:50
units: cm
mains: 50 Hz
set:
  table: {width: 140, depth: 80}
  road: {lane: 5 m full size, lanes: 2, centre: [[146, 58], [95, 46], [45, 34], [-8, 20]]}
  backdrop: {distance: 78, height: 45, colour: "#9aa4ad"}
vehicle: {body: lorry, length: 17, path: road, keep: middle, speed: 0.58 m/s, drive: thread}
lights:
  - {id: sun, spot: 110 deg, size: 4, at: [-40, -60, 90], aim: [70, 40, 0], output: 2500 lm, mains: true}
  - {id: sky, panel: [30, 30], at: [60, -70, 130], aim: [70, 40, 0], output: 2400 lm, mains: false}
cameras: {bridge: {sensor: 1-inch, lens: 8.8-73 mm f/2.8-4.5, nearest: 5, modes: [1080p100]}}
shots:
  - id: far
    camera: bridge
    focal_length: 73 mm
    f_number: 8
    at: [-70, 8, 7]
    aim: [95, 46, 4]
    focus: vehicle mid-frame
    capture: {rate: 100 fps}
    start: 0.2 s
    duration: 1.2 s
    backdrop: {side: right, distance: 142}
"""


def test_of_two_stretches_the_one_that_mends_both_is_told_for_both_with_what_goes_along(tmp_path: Path) -> None:
    """0.27 s and 0.23 s: what they have in common brings bands that the first has a shutter against."""
    path = tmp_path / "scene.yaml"
    path.write_text(HAUL, encoding="utf-8")
    scene = read_scene(path)
    predictions = predict(scene)
    over, through = (found(predictions, name) for name in ("room.table", "room.backdrop"))
    keys = {"shots[0].start", "shots[0].duration", "shots[0].capture.shutter"}
    assert {each.key for each in over.changes} == keys
    assert over.changes == through.changes and over.remedy == through.remedy
    assert spoiled(scene, predictions) == []


def test_a_compromise_films_the_stretch_that_mends_what_is_beside_it(tmp_path: Path) -> None:
    """It was for 2 s, and what the table's edge asks for beside it for 1 s: each wrote over the other."""
    drives = [("shots[0].at", [300, -150, 70]), ("shots[0].aim", [300, 400, 80]), ("shots[0].focal_length", 8)]
    scene = read(
        broken(*drives, ("shots[0].f_number", "f/4"), ("shots[0].start", "0 s"), ("shots[0].duration", "2 s")), tmp_path
    )
    predictions = predict(scene)
    (compromise,) = predictions.compromises
    stretch = set(found(predictions, "room.table").changes)
    assert {each.key for each in stretch} == {"shots[0].start", "shots[0].duration"}
    assert stretch < set(compromise.changes) and compromise.words.count("(duration)") == 1
    assert found(predictions, "focus.vehicle").remedy == compromise.words
    assert spoiled(scene, predictions) == []


@pytest.mark.parametrize("focus", ["vehicle", "vehicle at 2.27 s"])
def test_a_faster_rate_leaves_the_shot_as_it_looks_and_only_slows_what_falls(focus: str, tmp_path: Path) -> None:
    """Twice the frames, of a vehicle that drives twice as fast and is filmed for half as long from half as late."""
    data = broken(("shots[0].capture.rate", "60 fps"), ("shots[0].focus", focus), ("vehicle.start", "0.1 s"))
    finding = found(predicted(data, tmp_path), "time.gravity")
    assert finding.verdict is Verdict.WATCH and "so that on screen it looks as fast as now" in finding.remedy
    before, after = (looked(each, tmp_path).shots[0] for each in (data, changed(data, finding.changes)))
    assert after.value("slowdown") == pytest.approx(2 * before.value("slowdown"))
    assert after.value("set_speed") == pytest.approx(2 * before.value("set_speed"))
    for quantity in ("apparent_speed", "time_on_screen", "time_in_frame", "vehicle_width", "focus_distance"):
        assert after.value(quantity) == pytest.approx(before.value(quantity), rel=2e-3), quantity


def test_a_rate_for_one_shot_leaves_the_others_the_speed_they_share_with_it(tmp_path: Path) -> None:
    """All must agree on a speed that is given as it looks: filmed at another rate, the shot takes one of its own."""
    data = broken(("shots[0].capture.rate", "60 fps"), ("vehicle.speed", "20 km/h on screen"))
    data["shots"].append({**copy.deepcopy(data["shots"][0]), "id": "again"})
    finding = next(each for each in predicted(data, tmp_path).findings if each.id == "time.gravity")
    number = next(place for place, shot in enumerate(data["shots"]) if shot["id"] == finding.shot)
    assert f"shots[{number}].vehicle.speed" in {each.key for each in finding.changes}
    assert "in this shot alone, so that on screen it looks as fast as now" in finding.remedy
    before, after = (looked(each, tmp_path).shots for each in (data, changed(data, finding.changes)))
    assert after[number].value("slowdown") == pytest.approx(2 * before[number].value("slowdown"))
    for shot in (0, 1):
        assert after[shot].value("apparent_speed") == pytest.approx(before[shot].value("apparent_speed"), rel=2e-3)
    assert after[1 - number].value("set_speed") == before[1 - number].value("set_speed")


def test_where_keys_go_by_the_clock_the_speed_stays_and_what_it_looks_like_then_is_told(tmp_path: Path) -> None:
    travels = [{"time": "2 s", "at": [1500, -150, 70]}, {"time": "2.6 s", "at": [1510, -150, 70]}]
    data = broken(("shots[0].capture.rate", "60 fps"), ("shots[0].at", travels))
    finding = found(predicted(data, tmp_path), "time.gravity")
    said = re.search(r"on screen it then drives at ([\d.]+) km/h", finding.remedy)
    assert said and {change.key for change in finding.changes} >= {"shots[0].capture.rate"}
    assert not any("speed" in change.key for change in finding.changes)
    then = looked(changed(data, finding.changes), tmp_path).shots[0]
    assert float(said[1]) == pytest.approx(then.value("apparent_speed") * 3.6, abs=0.6)


def test_a_camera_that_moves_too_near_has_its_whole_move_shifted_by_what_it_lacks(tmp_path: Path) -> None:
    """By about what is lacking of the nearest focus, all of it alike and as high as it is."""
    travels = [{"time": "2 s", "at": [1540, -40, 70]}, {"time": "2.6 s", "at": [1990, -40, 70]}]
    data = broken(("shots[0].at", travels), ("shots[0].aim", "vehicle"), ("cameras.small.nearest", 460))
    finding = found(predicted(data, tmp_path), "focus.nearest")
    (change,) = finding.changes
    assert change.key == "shots[0].at" and " at each of its keys (at)." in finding.remedy
    keys = [[float(each.removesuffix(" mm")) for each in key["at"]] for key in change.value]
    by = [[now - was for now, was in zip(key, old["at"], strict=True)] for key, old in zip(keys, travels, strict=True)]
    assert by[0] == pytest.approx(by[1]) and by[0][2] == 0
    lacking = 1000 * (finding.limit - finding.value)
    assert lacking > 10 and math.hypot(*by[0]) == pytest.approx(lacking, rel=0.3)
    assert [key["time"] for key in change.value] == ["2 s", "2.6 s"]
    assert found(predicted(changed(data, finding.changes), tmp_path), "focus.nearest").verdict is Verdict.FINE
