"""A remedy that lets less light on the sensor says what must make good for it, where something must."""

import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, changed, found, looked, predicted, read

from previz.frames.moving import moving_of
from previz.layout import shown_across
from previz.predictions import Finding
from previz.predictions.metering import cost_in_light
from previz.predictions.more_light import nearer
from previz.predictions.shot_view import view_of
from previz.units import LENGTH, parse

#: So that the camera has whatever ISO comes out.
ANY_ISO = ("cameras.small.iso", [12, 409600])

FAST = [("shots[0].start", "0.2 s"), ("shots[0].capture.rate", "60 fps"), ("shots[0].capture.shutter", "360 deg")]


def told(tmp_path: Path, name: str, *changes: tuple[str, Any]) -> tuple[Finding, Any]:
    data = broken(ANY_ISO, *changes)
    predictions = predicted(data, tmp_path)
    finding = found(predictions, name)
    return finding, (predictions, predicted(changed(data, finding.changes), tmp_path))


def stops_of(finding: Finding) -> float:
    """As said in brackets."""
    return float(finding.remedy.partition("(takes ")[2].partition(" stops more light")[0])


@pytest.mark.parametrize(
    "name,changes",
    [
        ("focus.vehicle", [("shots[0].focus", "450 mm"), ("shots[0].f_number", "f/1.4")]),
        ("scale.blur", [("shots[0].f_number", "f/1.4")]),
        ("motion.blur", [("vehicle.speed", "3.5 m/s"), *FAST]),
        ("time.gravity", [("shots[0].capture.rate", "24 fps")]),
        ("motion.strobe", [("vehicle.speed", "4 m/s"), *FAST[:2], ("shots[0].capture.shutter", "1/240 s")]),
    ],
)
def test_the_stops_said_are_those_that_the_changes_cost(name: str, changes: list[Any], tmp_path: Path) -> None:
    finding, (before, after) = told(tmp_path, name, *changes)
    assert finding.changes, finding
    lost = math.log2(after.shots[0].value("iso_needed") / before.shots[0].value("iso_needed"))
    assert lost > 0.3
    assert stops_of(finding) == pytest.approx(lost, abs=0.06)


#: It passes while the first third of the shot lasts, and a spot lights the road where it has got to by mid-shot.
GONE = [
    ("shots[0].duration", "2.7 s"),
    ("lights[1].ambient", "200 lx"),
    ("lights[2]", {"id": "far", "spot": "20 deg", "at": [2350, 0, 600], "aim": [2350, 400, 0], "output": "20 klm"}),
]


#: As long as half of it is seen: its middle goes over the edge 330 mm past the camera, at x = 1830, at 2.71 s.
PASS = [("shots[0].duration", "0.66 s")]


def test_a_shot_that_the_vehicle_has_left_is_metered_where_the_vehicle_is_in_the_picture(tmp_path: Path) -> None:
    whole, passing = (looked(broken(*GONE, *also), tmp_path).shots[0] for also in ((), PASS))
    assert whole.value("illuminance_vehicle", "far") < 0.05 * whole.value("illuminance_vehicle", "all lamps")
    assert whole.value("iso_needed") == pytest.approx(passing.value("iso_needed"), rel=0.03)


def test_a_shot_that_shows_the_nose_alone_mid_shot_is_not_metered_by_that(tmp_path: Path) -> None:
    """The lorry, 333 mm long at 0.75 m/s, comes in at 1.586 s (worked by hand in test_entering_and_angle): mid-shot a
    tenth of it is in the picture, and by the end nearly half a second of it."""
    comes, lasts = 1.586, 0.8
    data = broken(("shots[0].start", f"{comes + 0.05 - lasts / 2:.3f} s"), ("shots[0].duration", f"{lasts} s"))
    scene = read(data, tmp_path)
    view = view_of(scene, scene.shots[0])
    assert 0 < shown_across(view.vehicle_frame / (*view.size, *view.size))[view.middle] < 0.3
    assert view.times[view.metered] > view.times[view.middle] + 0.1
    assert looked(data, tmp_path).shots[0].value("metered_at") == pytest.approx(view.times[view.metered], abs=0.01)


def test_the_picture_is_metered_in_the_frame_that_check_meters(tmp_path: Path) -> None:
    """From a seed: shots that begin and end before, in and after the pass. Of 90 frames at most, all are looked at."""
    rng, moved = np.random.default_rng(4), 0
    for _ in range(40):
        start, lasts = rng.uniform(0.0, 3.0), rng.uniform(0.05, 0.7)
        data = broken(("shots[0].start", f"{start:.3f} s"), ("shots[0].duration", f"{lasts:.3f} s"))
        scene = read(data, tmp_path)
        view, moving = view_of(scene, scene.shots[0]), moving_of(scene, scene.shots[0])
        assert moving.typical[1] == view.numbers[view.metered]
        shown = shown_across(view.vehicle_frame / (*view.size, *view.size))
        assert shown[view.metered] >= min(0.5, shown.max())
        moved += view.metered != view.middle
    assert moved > 5


def test_nothing_is_said_where_the_picture_is_too_bright_by_more(tmp_path: Path) -> None:
    # Two stops from f/2.8 to f/5.6: an ISO set four stops too high has them to spare, one a stop too high lacks one.
    needed = looked(broken(), tmp_path).shots[0].value("iso_needed")
    for over, lacking in ((4, None), (1, 1.0), (0, 2.0), (-1, 2.0)):
        view = view_of(
            scene := read(broken(("shots[0].capture.iso", round(needed * 2**over))), tmp_path), scene.shots[0]
        )
        said = cost_in_light(view, 2.0)
        assert said == "" if lacking is None else f"(takes {lacking:.1f} stops more light" in said
    assert cost_in_light(view, -1.0) == ""


def test_past_the_camera_s_iso_only_light_helps(tmp_path: Path) -> None:
    view = view_of(scene := read(broken(("cameras.small.iso", [100, 200])), tmp_path), scene.shots[0])
    past = cost_in_light(view, 5.0)
    assert "no ISO of small does that alone, for it ends at 200" in past and "ISO 2" not in past.partition("no ISO")[0]
    bright = read(broken(("cameras.small.iso", [12800, 25600])), tmp_path)
    assert cost_in_light(view_of(bright, bright.shots[0]), 1.0) == ""


def test_a_lamp_is_moved_as_near_as_gives_as_much(tmp_path: Path) -> None:
    scene = read(broken(("lights[1].ambient", "1 lx")), tmp_path)  # nearly all of the light is the key's
    view = view_of(scene, scene.shots[0])
    (moved,) = nearer(view, view.light.vehicle.by_lamp, 2**0.5)
    at = r"at: \[(-?\d+) mm, (-?\d+) mm, (\d+) mm\]"
    said = re.fullmatch(rf"Move key (\d+) mm nearer the vehicle, {at}, (\d+) mm from its aim\.", moved.words)
    assert said is not None
    # Half a stop by the law of inverse squares; the panel is 1.2 m wide, for which the fall is slower.
    by, *told, to_aim = (float(each) for each in said.groups())
    place = np.array([parse(LENGTH, each) for each in moved.changes[0].value]) * 1000
    assert told == pytest.approx(place, abs=0.5)  # as its maker would write it
    assert np.linalg.norm(place - (1500, 400, 0)) == pytest.approx(to_aim, abs=1)  # as the plan measures it
    left = np.linalg.norm(place - view.light.on_vehicle.points.mean(axis=0) * 1000)
    assert 0.5 <= 2 * math.log2((by + left) / left) < 0.8
    assert not nearer(view, view.light.vehicle.by_lamp, 2**6.0)  # nearer than a panel is wide


def test_the_cost_names_no_lamp_that_nobody_tried(tmp_path: Path) -> None:
    """Moved, it may cut the backdrop with its beam or burn the road: that is for a way that is tried."""
    scene = read(broken(("lights[1].ambient", "1 lx")), tmp_path)
    view = view_of(scene, scene.shots[0])
    assert nearer(view, view.light.vehicle.by_lamp, 2**0.5)
    assert re.fullmatch(r" \(takes 0\.5 stops more light, or ISO \d+ in place of \d+\)", cost_in_light(view, 0.5))


def test_in_the_dark_it_says_the_stops_alone(tmp_path: Path) -> None:
    dark = read(broken(("lights", [{"id": "room", "ambient": "0 lx"}])), tmp_path)
    assert cost_in_light(view_of(dark, dark.shots[0]), 2.0) == " (takes 2.0 stops more light)"
