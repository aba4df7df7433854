"""A file that cannot be drawn is told by `check`, before any waiting and by the line that names it."""

from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image

from previz.errors import FileFault
from previz.predictions import predict
from previz.scene import read_scene

SCENE = """
title: Files
scale: 1:50
units: mm
set:
  table: {width: 1000, depth: 700}
  GROUND
  backdrop: {distance: 690, height: 400, BACKDROP}
dressing:
  - {id: card, piece: card, at: [200, 500], width: 60, height: 40, image: card.png}
  - {id: shed, mesh: shed.stl, at: [400, 500], length: 80}
vehicle: {mesh: van.glb, length: 100, path: [[0, 300], [1000, 300]], speed: 1 m/s}
lights: [{id: room, ambient: 100 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 16 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}
shots:
  - {id: pass, camera: pocket, focal_length: 16 mm, f_number: 4, at: [500, -150, 50], aim: [500, 310, 45], focus: 400,
     capture: {rate: 120 fps, shutter: 180 deg, iso: auto}, playback: 24 fps, start: 0.3 s, duration: 0.3 s}
"""

STEPS: dict[str, tuple[str | int, ...]] = {
    "ground.png": ("set", "ground", "image"),
    "backdrop.jpg": ("set", "backdrop", "image"),
    "card.png": ("dressing", 0, "image"),
    "shed.stl": ("dressing", 1, "mesh"),
    "van.glb": ("vehicle", "mesh"),
}


@pytest.fixture
def written(tmp_path: Path) -> Path:
    for name in ("ground.png", "backdrop.jpg", "card.png"):
        Image.fromarray(np.random.default_rng(1).integers(0, 256, (40, 60, 3), dtype=np.uint8)).save(tmp_path / name)
    for name in ("shed.stl", "van.glb"):
        trimesh.creation.box((2, 1, 1)).export(tmp_path / name)
    path = tmp_path / "files.yaml"
    text = SCENE.replace("GROUND", "ground: {image: ground.png}").replace("BACKDROP", "image: backdrop.jpg")
    path.write_text(text, encoding="utf-8")
    return path


def test_whole_files_are_no_fault(written: Path) -> None:
    assert predict(read_scene(written), remedies=False).shots


@pytest.mark.parametrize("damage", ["empty", "cut short", "other content"])
@pytest.mark.parametrize("name", STEPS)
def test_a_damaged_file_is_told_before_anything_is_drawn(written: Path, name: str, damage: str) -> None:
    path = written.parent / name
    whole = path.read_bytes()
    path.write_bytes({"empty": b"", "cut short": whole[: len(whole) * 6 // 10], "other content": b"<html>"}[damage])
    with pytest.raises(FileFault, match=name) as found:
        predict(read_scene(written), remedies=False)
    assert found.value.steps == STEPS[name]


def test_a_card_of_which_all_is_clear_is_told_before_anything_is_drawn(written: Path) -> None:
    Image.new("RGBA", (8, 8), (200, 10, 10, 0)).save(written.parent / "card.png")
    with pytest.raises(FileFault, match=r"card.png: all of it is clear") as found:
        predict(read_scene(written), remedies=False)
    assert found.value.steps == STEPS["card.png"]


def test_a_mesh_that_comes_out_as_high_as_a_house_is_refused(written: Path) -> None:
    trimesh.creation.box((0.1, 0.1, 10)).export(written.parent / "shed.stl")  # 8 m high where it is 80 mm long
    with pytest.raises(FileFault, match=r"shed.stl: .* it is 8 m high; at most 5 m is built"):
        predict(read_scene(written), remedies=False)
    trimesh.creation.box((0.1, 0.1, 5)).export(written.parent / "shed.stl")
    assert predict(read_scene(written), remedies=False).shots
