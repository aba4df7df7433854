"""A frame that can be filmed is, also of a shot that cannot be filmed at other moments."""

import numpy as np

from previz.frames import Look, render_frames
from previz.frames.lens import lens_of
from previz.frames.moving import moving_of
from previz.frames.studio import _streak
from previz.scene import read_scene
from previz.stage import build_stage

SCENE = """
title: Passes the camera
scale: 1:50
units: mm
set: {table: {width: 1000, depth: 700}}
vehicle: {body: van, path: [[0, 400], [1000, 400]], speed: 1 m/s}
lights: [{id: room, ambient: 100 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 16 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}
shots:
  - id: past
    camera: pocket
    focal_length: 16 mm
    f_number: 4
    at: [500, 250, 50]
    aim: [900, 400, 20]
    focus: vehicle
    capture: {rate: 120 fps, shutter: 180 deg, iso: auto}
    playback: 24 fps
    start: 0.1 s
    duration: 0.8 s
"""


def test_a_frame_is_not_refused_for_the_sake_of_moments_that_nobody_asked_for(tmp_path):
    (tmp_path / "past.yaml").write_text(SCENE)
    scene = read_scene(tmp_path / "past.yaml")
    (shot,) = scene.shots
    moving = moving_of(scene, shot)
    first, middle, last = moving.typical
    # By hand, of a van 50 mm high: along the axis its middle is (0.4 (x - 500) + 0.15 * 150 + 0.03 * 25) / 0.4283 mm
    # away, which is the lens's 16 mm at x = 459 mm: 359 mm, or 43.1 frames, on.
    assert first == 44
    # By hand too: the picture's left edge is 20.6 + 20.8 degrees from x (6.6 mm at 17.4 mm), so that its near front
    # corner, 130 mm off, comes into it at x = 592 mm: frame 60. Half of it is in the picture some frames before its
    # middle is, 150 mm off, which comes in at x = 670 mm: frame 74.7. Of the frames from then on the middle one is
    # metered; of those from 60 on it would be 78.
    assert 82 <= middle <= 85 and last == 95
    stage = build_stage(scene, "draft", cache=False)
    for wanted in (range(90, 91), range(94, 96)):
        look = Look(size=(160, 90), views=4, frames=wanted, noise=False)
        frames = list(render_frames(scene, stage, shot, look))
        assert [frame.number for frame in frames] == list(wanted)
        assert all(np.isfinite(frame.linear).all() and frame.linear.max() > 0.1 for frame in frames)


def test_views_are_evened_along_what_crosses_the_picture_not_what_drives_behind_the_camera(tmp_path):
    behind = "vehicles: {second: {body: van, path: [[0, 100], [1000, 100]], speed: 0.8 m/s, start: 0.3 s}}\nlights:"
    ways = []
    for text in (SCENE, SCENE.replace("lights:", behind)):
        (tmp_path / "past.yaml").write_text(text)
        scene = read_scene(tmp_path / "past.yaml")
        shot = scene.shots[0]
        ways.append(_streak(lens_of(scene, shot, (160, 90)), moving_of(scene, shot), 10.0))
    assert np.array_equal(*ways) and np.hypot(*ways[0]) == 10.0
