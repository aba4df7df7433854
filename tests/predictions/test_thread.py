"""What pulls a vehicle is told, and how much of a thread the picture shows."""

from pathlib import Path
from typing import Any

import pytest

from previz.layout import vehicle_size
from previz.physics.optics import image_distance
from previz.predictions import brief_of_shot, predict
from previz.scene import Scene, read_scene
from previz.scene.recording import recorded_area

SCENE = """
title: pulled
scale: 1:50
units: mm
set: {{table: {{width: 1200, depth: 700}}}}
vehicle: {{body: lorry, path: {path}, speed: 0.5 m/s, {drive}}}
lights: [{{id: room, ambient: 300 lx}}]
cameras: {{own: {{sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}}}
shots:
  - {{id: pass, camera: own, focal_length: 10 mm, f_number: 8, at: {at}, aim: {aim}, focus: 800 mm,
     capture: {{rate: 100 fps}}, start: 1.0 s, duration: 0.01 s}}
"""
ACROSS: dict[str, Any] = {
    "path": "[[0, 350], [1200, 350]]", "drive": "drive: thread", "at": "[600, -450, 60]", "aim": "[600, 350, 60]",
}  # fmt: skip


def made(tmp_path: Path, **keys: Any) -> Scene:
    (tmp_path / "scene.yaml").write_text(SCENE.format(**ACROSS | keys))
    return read_scene(tmp_path / "scene.yaml")


def told(scene: Scene) -> dict[str, str]:
    return dict(brief_of_shot(scene, scene.shots[0], predict(scene).shots[0].figures))


def test_the_thread_is_seen_from_the_nose_to_the_edge_of_the_picture(tmp_path: Path) -> None:
    """By hand: square to the camera, 800 mm off, it is cut off half a picture's width from the middle."""
    scene = made(tmp_path)
    shot, figures = scene.shots[0], predict(scene).shots[0]
    width = recorded_area(scene.cameras["own"], scene.mode(shot))[0]
    edge = 0.6 + width / 2 * 0.8 / image_distance(shot.focal_length, 0.8)
    nose = 0.5 + vehicle_size(scene)[0] / 2  # 1 s at 0.5 m/s
    assert figures.value("thread_frames") == 1
    assert figures.value("thread_shown") == pytest.approx(edge - nose, abs=0.006)
    assert told(scene)["thread"].startswith("before the vehicle, in the picture in all frames, up to ")
    assert told(scene)["speed"].endswith("on set, pulled on a thread")


def test_a_thread_towards_the_camera_is_told_as_that_and_one_out_of_the_picture_too(tmp_path: Path) -> None:
    comes = made(tmp_path, at="[1400, 350, 60]", aim="[0, 350, 20]")
    assert told(comes)["thread"].endswith(" of it, towards the camera")
    gone = made(tmp_path, at="[300, -450, 60]", aim="[-100, 350, 60]")
    assert told(gone)["thread"] == "out of the picture"


@pytest.mark.parametrize(
    ("drive", "words"), [("drive: motor", ", by a motor"), ("drive: hand", ", pushed by hand"), ("", "")]
)
def test_who_drives_by_motor_or_hand_has_no_thread(tmp_path: Path, drive: str, words: str) -> None:
    lines = told(made(tmp_path, drive=drive))
    assert "thread" not in lines and lines["speed"].endswith(f"on set{words}")
