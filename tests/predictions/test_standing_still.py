"""A vehicle that stands still is a shot too: read, predicted without an endless run, and drawn."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, found, looked, predicted, read

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
    predictions = looked(broken(*PARKED), tmp_path)
    with pytest.raises(KeyError):
        predictions.value("run_time")
    shot = predictions.shots[0]
    for quantity in ("set_speed", "apparent_speed", "vehicle_blur_pixels", "wheel_turn"):
        assert shot.value(quantity) == 0.0
    assert shot.value("vehicle_frames") == 1.0
    for name in ("time.speed", "time.gravity", "motion.blur", "motion.strobe", "time.wheels", "framing.vehicle"):
        assert found(predictions, name).verdict is Verdict.FINE, name
    assert all(math.isfinite(finding.value) for finding in predictions.findings)
    assert "as it is written" in found(predictions, "time.speed").message
    assert predictions.verdict is Verdict.FINE


def test_what_stands_further_along_its_path_is_not_in_its_way(tmp_path: Path) -> None:
    """The crate is 500 mm ahead of one that stands, and in the way of one that drives."""
    crate = {"id": "crate", "piece": "container", "at": [2000, 327], "length": 60}
    parked = looked(broken(*PARKED, ("dressing", [crate])), tmp_path)
    assert found(parked, "set.path").verdict is Verdict.FINE
    # Half of 8 m / 24 and half of 60 mm less than the 500 mm from middle to middle.
    assert parked.value("path_clearance", "crate") == pytest.approx(0.5 - 8 / 24 / 2 - 0.03, abs=1e-6)
    driven = looked(broken(*PARKED, ("dressing", [crate]), ("vehicle.speed", "0.75 m/s")), tmp_path)
    assert found(driven, "set.path").verdict is Verdict.STOP


# --- a set without a vehicle ---

BARE: list[tuple[str, Any]] = [
    ("vehicle", None), ("shots[0].focus", "477 mm"), ("shots[0].aim", [1500, 400, 80]),
]  # fmt: skip


def test_of_a_set_without_a_vehicle_all_else_is_predicted(tmp_path: Path) -> None:
    bare = looked(broken(*BARE), tmp_path)
    parked_away = looked(broken(*PARKED, *BARE[1:], ("vehicle.path", [[9000, 327], [9900, 327]])), tmp_path)
    shot, other = bare.shots[0], parked_away.shots[0]
    for quantity, of in (
        ("near_limit", ""), ("far_limit", ""), ("blur_pixels", "tree"), ("blur_pixels", "backdrop"),
        ("angle_of_view", "horizontal"), ("off_set_pixels", ""), ("join_length", ""), ("exposure_value", ""),
    ):  # fmt: skip
        assert shot.value(quantity, of) == pytest.approx(other.value(quantity, of)), quantity
    for gone in ("set_speed", "wheel_turn", "vehicle_frames", "enters_at", "vehicle_sharp_share", "view_width"):
        with pytest.raises(KeyError):
            shot.value(gone)
    assert not {"vehicle", "the vehicle"} & {each.of for each in shot.figures}
    names = {finding.id for finding in bare.findings}
    assert not names & {"framing.vehicle", "focus.vehicle", "time.speed", "motion.blur", "room.table", "set.path"}
    assert bare.verdict is Verdict.FINE
    assert shot.value("iso_needed") > 0
    assert not any("vehicle" in finding.message.lower() for finding in bare.findings if finding.verdict != "fine")


@pytest.mark.parametrize(
    "change",
    [
        ("shots[0].aim", "vehicle"),
        ("shots[0].focus", "vehicle"),
        ("shots[0].focus", "vehicle at 0.9 s"),
        ("shots[0].aim", {"vehicle": True}),
        ("shots[0].focus", {"target": {"vehicle": True}}),
        ("shots[0].aim", [{"time": "0 s", "at": [1500, 400, 80]}, {"time": "1 s", "at": "vehicle"}]),
    ],
)
def test_to_look_at_a_vehicle_that_is_not_there_is_a_fault_of_the_file(change: tuple[str, Any], tmp_path: Path) -> None:
    with pytest.raises(SceneErrors) as caught:
        read(broken(*BARE, change), tmp_path)
    (fault,) = caught.value.faults
    assert fault.line is not None and fault.key.startswith(change[0].replace("[0]", "[pass]"))
    assert fault.message.startswith("the set has no vehicle; give it one, or name a piece or a place")


def test_without_a_vehicle_a_shot_needs_a_duration_and_no_piece_is_called_one(tmp_path: Path) -> None:
    with pytest.raises(SceneErrors) as caught:
        read(broken(*BARE, ("shots[0].duration", None), ("shots[0].aim", "vehcle")), tmp_path)
    said = {fault.key: fault.message for fault in caught.value.faults}
    assert said["shots[pass].duration"].startswith("there is no vehicle, so no run ends the shot")
    assert "did you mean" not in said["shots[pass].aim"]


def test_random_sets_without_a_vehicle_are_predicted_whatever_is_wrong_with_them(tmp_path: Path) -> None:
    """From a seed: cameras anywhere, pieces anywhere, hung ones too; nothing but findings comes of it."""
    rng = np.random.default_rng(130)
    for _ in range(8):
        x, y, z = (float(each) for each in rng.uniform([0, -500, -20], [3000, 1000, 900]))
        pieces = [
            {"id": f"p{n}", "piece": str(rng.choice(["container", "lamp_post", "cone", "broadleaf"])),
             "at": [float(each) for each in rng.uniform([-50, -50, 0], [3050, 950, 400])]}
            for n in range(6)
        ]  # fmt: skip
        changes = [
            *BARE, ("dressing", pieces), ("shots[0].at", [x, y, z]),
            ("shots[0].focus", f"{rng.uniform(5, 900):.1f} mm"),
            ("set.backdrop", None if rng.random() < 0.3 else {"distance": 890, "height": 300, "colour": "grey"}),
        ]  # fmt: skip
        predictions = predicted(broken(*changes), tmp_path)
        assert predictions.findings
