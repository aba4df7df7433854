"""A vehicle that stands still is a shot too: read, predicted without an endless run, and drawn."""

import math
from pathlib import Path
from typing import Any

import pytest
from broken_scenes import broken, found, predicted, read

from previz.errors import SceneErrors
from previz.layout import frame_times
from previz.layout.motion import vehicle_at
from previz.predictions import Verdict
from previz.scene import read_scene

#: The lorry of the good scene parked where the shot had it pass.
PARKED: list[tuple[str, Any]] = [("vehicle.speed", 0), ("vehicle.path", [[1500, 327], [2500, 327]])]


@pytest.mark.parametrize("speed", [0, "0 m/s", "0 km/h", 0.0])
def test_a_speed_of_nothing_is_read_in_any_unit(speed: Any, tmp_path: Path) -> None:
    scene = read(broken(*PARKED, ("vehicle.speed", speed)), tmp_path)
    assert scene.vehicle.stands
    for time in (-1.0, 0.0, 7.0):
        assert vehicle_at(scene, time).position.tolist() == [1.5, 0.327, 0.0]
    assert not read(broken(), tmp_path).vehicle.stands


@pytest.mark.parametrize("speed", ["-1 m/s", 0.5, False])
def test_other_speeds_are_as_they_were(speed: Any, tmp_path: Path) -> None:
    with pytest.raises(SceneErrors, match=r"vehicle\.speed"):
        read(broken(*PARKED, ("vehicle.speed", speed)), tmp_path)


def test_a_shot_of_it_needs_a_duration_and_says_so_with_its_line(tmp_path: Path) -> None:
    text = """\
title: Parked
scale: 1:24
units: mm
set: {table: {width: 1000, depth: 600}}
vehicle: {body: van, path: [[500, 300], [900, 300]], speed: 0}
lights: [{id: room, ambient: 200 lx}]
cameras: {small: {sensor: 1-inch, lens: 10 mm, widest: f/2, nearest: 100, modes: [1080p24]}}
shots:
  - id: long
    camera: small
    focal_length: 10
    f_number: 4
    at: [500, -200, 60]
    aim: vehicle
    focus: vehicle
    capture: {rate: 24 fps}
"""
    file = tmp_path / "parked.yaml"
    file.write_text(text)
    with pytest.raises(SceneErrors) as caught:
        read_scene(file)
    (fault,) = caught.value.faults
    assert (fault.line, fault.key) == (9, "shots[long].duration")
    assert "stands still" in fault.message and "duration: 2 s" in fault.message
    file.write_text(text + "    duration: 2 s\n")
    scene = read_scene(file)
    assert frame_times(scene, scene.shots[0]).count == 48


def test_what_is_predicted_of_it_is_finite_and_asks_for_no_speed(tmp_path: Path) -> None:
    predictions = predicted(broken(*PARKED), tmp_path)
    with pytest.raises(KeyError):
        predictions.value("run_time")
    shot = predictions.shots[0]
    for quantity in ("set_speed", "apparent_speed", "vehicle_blur_pixels", "wheel_turn"):
        assert shot.value(quantity) == 0.0
    assert shot.value("vehicle_frames") == 1.0
    for name in ("time.speed", "time.gravity", "time.blur", "time.strobe", "time.wheels", "framing.vehicle"):
        assert found(predictions, name).verdict is Verdict.FINE, name
    assert all(math.isfinite(finding.value) for finding in predictions.findings)
    assert "as it is written" in found(predictions, "time.speed").message
    assert predictions.verdict is Verdict.FINE


def test_what_stands_further_along_its_path_is_not_in_its_way(tmp_path: Path) -> None:
    """The crate is 500 mm ahead of one that stands, and in the way of one that drives."""
    crate = {"id": "crate", "piece": "container", "at": [2000, 327], "length": 60}
    parked = predicted(broken(*PARKED, ("dressing", [crate])), tmp_path)
    assert found(parked, "set.path").verdict is Verdict.FINE
    # Half of 8 m / 24 and half of 60 mm less than the 500 mm from middle to middle.
    assert parked.value("path_clearance", "crate") == pytest.approx(0.5 - 8 / 24 / 2 - 0.03, abs=1e-6)
    driven = predicted(broken(*PARKED, ("dressing", [crate]), ("vehicle.speed", "0.75 m/s")), tmp_path)
    assert found(driven, "set.path").verdict is Verdict.STOP
