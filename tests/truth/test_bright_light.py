"""Light is only ever seen through the exposure: a hundred times the light at a hundredth of the ISO is one picture."""

from pathlib import Path

import numpy as np

from previz.frames import Look, render_frames
from previz.scene import read_scene
from previz.stage import build_stage

TEXT = """
title: Bright
scale: 1:50
units: mm
set:
  table: {{width: 600, depth: 400}}
  ground: {{surface: plain}}
vehicle: {{body: van, path: [[100, 200], [500, 200]], speed: 1 m/s, headlamps: {headlamps} lm}}
lights:
  - {{id: sun, spot: 60 deg, at: [900, -300, 700], aim: [300, 200, 0], output: {sun} lx at 1 m}}
  - {{id: sky, ambient: {sky} lx}}
cameras: {{pocket: {{sensor: 1-inch, lens: 20 mm, widest: f/2, nearest: 50 mm, modes: [1080p60]}}}}
shots:
  - id: only
    camera: pocket
    focal_length: 20 mm
    f_number: 8
    at: [300, -250, 90]
    aim: [300, 200, 20]
    focus: 450 mm
    capture: {{rate: 60 fps, iso: {iso}}}
    duration: 0.2 s
"""


def drawn(folder: Path, times: int) -> np.ndarray:
    path = folder / f"bright{times}.yaml"
    path.write_text(TEXT.format(sun=1200 * times, sky=200 * times, headlamps=2 * times, iso=1600 // times))
    scene = read_scene(path)
    look = Look(size=(160, 90), views=4, frames=range(5, 6), noise=False)
    stage = build_stage(scene, quality="draft", cache=False)
    (frame,) = render_frames(scene, stage, scene.shots[0], look)
    return frame.linear


def test_a_hundred_times_the_light_at_a_hundredth_of_the_iso_is_the_same_picture(tmp_path):
    # 120 klx at a metre: beyond what a half float holds (65504).
    dim, bright = (np.minimum(drawn(tmp_path, times), 1) for times in (1, 100))
    assert 0.05 < dim.mean() < 0.8
    assert np.abs(dim - bright).max() < 0.004  # half floats keep eleven bits
