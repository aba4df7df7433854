"""Paths, travel, camera poses and frame times: where things are at a moment on set."""

import math
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from previz.errors import PrevizError
from previz.layout.camera import camera_at
from previz.layout.motion import frame_times, travel_of, vehicle_at, vehicle_path
from previz.physics.paths import Curve, FrameTimes, Travel
from previz.scene import Scene, read_scene

TEXT = """
title: Motion
scale: 1:50
units: mm
set:
  table: {width: 1400, depth: 700}
  road: {lane: 70, centre: [[0, 300], [1400, 300]]}
dressing: [{id: shed, piece: building, at: [400, 600]}]
vehicle: {body: van, speed: 0.5 m/s}
lights: [{id: room, ambient: 100 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}
shots:
  - id: only
    camera: pocket
    focal_length: 20 mm
    f_number: 4
    at: [700, -200, 50]
    aim: [700, 300, 50]
    focus: 500 mm
    capture: {rate: 25 fps}
"""


def scene_with(folder: Path, *changes: tuple[str, str]) -> Scene:
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / "motion.yaml"
    path.write_text(text)
    return read_scene(path)


# --- curves ---


def test_a_curve_goes_through_its_points_in_order():
    points = np.array([[0, 0], [0.4, 0.1], [0.5, 0.6], [1.2, 0.5]])
    curve = Curve.through(points)
    gaps = np.linalg.norm(curve.points[:, None] - points[None], axis=2)
    nearest = gaps.argmin(axis=0)
    assert gaps.min(axis=0).max() < 1e-9
    assert (np.diff(nearest) > 0).all()


def test_a_curve_through_a_circles_points_has_its_length():
    turns = np.linspace(0, 2 * np.pi, 49)
    curve = Curve.through(np.stack([np.cos(turns), np.sin(turns)], axis=1))
    assert curve.length == pytest.approx(2 * np.pi, rel=1e-3)


def test_distance_along_a_curve_is_distance():
    curve = Curve.through([[0, 0], [0.4, 0.1], [0.5, 0.6], [1.2, 0.5]])
    places = curve.at(np.linspace(0, curve.length, 20001))
    assert np.linalg.norm(np.diff(places, axis=0), axis=1).sum() == pytest.approx(curve.length, rel=1e-4)


def test_a_curve_runs_straight_on_beyond_its_ends():
    curve = Curve.through([[0, 0], [3, 4]])
    assert curve.at(-5.0) == pytest.approx([-3, -4])
    assert curve.at(10.0) == pytest.approx([6, 8])


def test_left_of_travel_is_left():
    curve = Curve.through([[0, 0], [1, 0]])
    assert curve.shifted(0.2).at(0.5) == pytest.approx([0.5, 0.2])
    assert curve.reversed().shifted(0.2).at(0.5) == pytest.approx([0.5, -0.2])


# --- the vehicle ---


def test_it_keeps_to_the_right_unless_told(tmp_path):
    assert vehicle_path(scene_with(tmp_path)).at(0.7)[1] == pytest.approx(0.265)
    left = scene_with(tmp_path, ("speed: 0.5 m/s", "speed: 0.5 m/s, keep: left"))
    assert vehicle_path(left).at(0.7)[1] == pytest.approx(0.335)
    one_lane = scene_with(tmp_path, ("lane: 70", "lane: 70, lanes: 1"))
    assert vehicle_path(one_lane).at(0.7)[1] == pytest.approx(0.3)


@pytest.mark.parametrize("path", ["road", "[[0, 300], [1400, 300]]"])
def test_reverse_drives_either_kind_of_path_backwards(tmp_path, path):
    scene = scene_with(tmp_path, ("speed: 0.5 m/s", f"speed: 0.5 m/s, reverse: true, path: {path}"))
    pose = vehicle_at(scene, 1.0)
    assert pose.position[0] == pytest.approx(0.9)
    assert abs(pose.heading) == pytest.approx(math.pi)


def test_a_launch_trades_height_for_speed(tmp_path):
    # v^2 = 2 g (h - c sqrt(L^2 - h^2)) / (1 + k), worked by hand for h 120, L 500 mm, k 0.08, c 0.02, g 9.80665:
    # sqrt(0.25 - 0.0144) = 0.485386; 0.12 - 0.00970773 = 0.11029227; 2 * 9.80665 * 0.11029227 / 1.08 = 2.0029587
    ramps = ("{height: 120, length: 500, foot_radius: 200}", "{height: 120, length: 500}")
    bent, sharp = (
        travel_of(scene_with(tmp_path, ("speed: 0.5 m/s", f"launch: {{ramp: {ramp}}}"))).speed_at_start
        for ramp in ramps
    )
    # A bend costs c a / (1 + k) of it, a sharp corner between a half of 1 - cos a and all, and c sin a / (1 + k).
    angle = math.asin(120 / 500)
    assert bent == pytest.approx(math.sqrt(2.0029587) * (1 - 0.02 * angle / 1.08), rel=3e-3)
    rolled = 0.02 * math.sin(angle) / 1.08
    assert (1 - math.cos(angle)) / 2 < 1 - sharp / math.sqrt(2.0029587) - rolled <= 1 - math.cos(angle)
    scene = scene_with(tmp_path, ("speed: 0.5 m/s", f"launch: {{ramp: {ramps[1]}}}"))
    travel = travel_of(scene)
    assert travel.deceleration == pytest.approx(0.02 * 9.80665 / 1.08)


def test_a_ramp_too_flat_never_starts_it(tmp_path):
    ramp = "launch: {ramp: {height: 5, length: 900}, rolling: 0.05}"
    scene = scene_with(tmp_path, ("speed: 0.5 m/s", ramp), ("focus: 500 mm", "focus: 500 mm\n    duration: 1 s"))
    assert travel_of(scene).speed_at_start == 0
    for time in (-3.0, 0.0, 2.0):
        pose = vehicle_at(scene, time)  # it stands at its release, 5 mm up
        assert (pose.distance, pose.position[2]) == pytest.approx((-0.9, 0.005))


def test_distance_and_time_undo_each_other():
    travel = Travel(1.2, 0.3)
    for time in (-0.5, 0.0, 0.4, 3.9):
        assert travel.time_at(travel.distance(time)) == pytest.approx(time)
    assert travel.time_at(2.5) == math.inf  # it stands after 2.4 m


# --- the camera ---


def test_a_following_camera_keeps_the_vehicle_in_the_middle(tmp_path):
    scene = scene_with(tmp_path, ("aim: [700, 300, 50]", "aim: vehicle"), ("focus: 500 mm", "focus: vehicle"))
    for time in (0.2, 1.4, 2.5):
        pose = camera_at(scene, scene.shots[0], time)
        target = vehicle_at(scene, time).position + np.array([0, 0, 0.0243])  # the van is 2.43 m high, 48.6 mm at 1:50
        right, up, backward = pose.world_from_camera.T
        assert np.allclose(pose.world_from_camera.T @ pose.world_from_camera, np.eye(3))
        assert np.linalg.det(pose.world_from_camera) == pytest.approx(1)
        assert (target - pose.position) @ right == pytest.approx(0, abs=1e-9)
        assert (target - pose.position) @ up == pytest.approx(0, abs=1e-9)
        assert pose.focus_distance == pytest.approx((target - pose.position) @ -backward)
        assert up[2] > 0.9


def test_a_keyed_move_starts_and_ends_at_rest_and_passes_its_keys(tmp_path):
    keys = "at: [{time: 0 s, at: [500, -200, 50]}, {time: 1 s, at: [700, -200, 50]}, {time: 2 s, at: [1000, -200, 50]}]"
    scene = scene_with(tmp_path, ("at: [700, -200, 50]", keys))
    x = [camera_at(scene, scene.shots[0], time).position[0] for time in (-1, 0, 0.001, 1, 1.999, 2, 3)]
    assert x[0] == x[1] == pytest.approx(0.5)
    assert x[3] == pytest.approx(0.7)
    assert x[5] == x[6] == pytest.approx(1.0)
    assert x[2] - x[1] < 1e-6 and x[5] - x[4] < 1e-6


def test_an_even_move_has_one_pace_from_key_to_key(tmp_path):
    keys = "at: [{time: 0 s, at: [500, -200, 50]}, {time: 1 s, at: [700, -200, 50]}, {time: 2 s, at: [1000, -200, 50]}]"
    scene = scene_with(tmp_path, ("at: [700, -200, 50]", f"moves: evenly\n    {keys}"))
    x = [camera_at(scene, scene.shots[0], time).position[0] for time in (-1, 0, 0.25, 0.5, 1, 1.9, 2, 3)]
    assert x == pytest.approx([0.5, 0.5, 0.55, 0.6, 0.7, 0.97, 1.0, 1.0])


def test_a_focus_pull_goes_from_mark_to_mark(tmp_path):
    pull = "focus: [{time: 0 s, at: 300 mm}, {time: 1 s, at: 600 mm}]"
    scene = scene_with(tmp_path, ("focus: 500 mm", pull))
    assert [camera_at(scene, scene.shots[0], time).focus_distance for time in (0, 0.5, 1)] == pytest.approx(
        [0.3, 0.45, 0.6]
    )


def test_focus_on_the_vehicle_at_a_moment_is_set_once_and_a_pan_leaves_it_there(tmp_path):
    pan = [("aim: [700, 300, 50]", "aim: vehicle"), ("focus: 500 mm", "focus: vehicle at 1.4 s")]
    scene = scene_with(tmp_path, *pan)
    depths = {round(camera_at(scene, scene.shots[0], time).focus_distance, 9) for time in (0.3, 1.4, 2.6)}
    following = scene_with(tmp_path, pan[0], ("focus: 500 mm", "focus: vehicle"))
    assert depths == {round(camera_at(following, following.shots[0], 1.4).focus_distance, 9)}


def test_focus_on_what_is_behind_the_camera_is_refused(tmp_path):
    scene = scene_with(tmp_path, ("aim: [700, 300, 50]", "aim: [700, -900, 50]"), ("focus: 500 mm", "focus: shed"))
    with pytest.raises(PrevizError, match="Focus on something in front"):
        camera_at(scene, scene.shots[0], 0.0)


# --- frames ---


def test_29_frames_at_25_fps_stay_29(tmp_path):
    scene = scene_with(tmp_path, ("focus: 500 mm", "focus: 500 mm\n    duration: 1.16 s"))
    assert frame_times(scene, scene.shots[0]).count == 29


def test_ntsc_rates_stay_exact():
    times = FrameTimes(10_000, Fraction(0), Fraction(30000, 1001))
    assert times.time(30000) == 1001


def test_without_a_duration_a_shot_lasts_as_long_as_the_run(tmp_path):
    scene = scene_with(tmp_path)
    assert frame_times(scene, scene.shots[0]).count == math.floor(1.4 / 0.5 * 25)


def test_a_shot_that_begins_when_the_run_is_over_is_refused(tmp_path):
    scene = scene_with(tmp_path, ("focus: 500 mm", "focus: 500 mm\n    start: 9 s"))
    with pytest.raises(PrevizError, match="when the vehicle's run is over"):
        frame_times(scene, scene.shots[0])
