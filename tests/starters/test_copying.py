"""A copied scene has all that it needs beside it: its kit, images and meshes, and what the meshes refer to."""

from pathlib import Path

import pytest
from PIL import Image

from previz.errors import PrevizError
from previz.starters import files_of

SCENE = """\
title: Copied
scale: 1:50
units: mm
set:
  table: {width: 1400, depth: 700}
  ground: {image: pictures/ground.png}
  backdrop: {distance: 690, height: 500, image: pictures/sky.png}
dressing:
  - {id: crane, mesh: models/crane.obj, length: 120, at: [300, 500]}
  - {id: tree, piece: card, at: [500, 500], width: 60, height: 90, image: tree.png}
vehicle: {mesh: models/car.stl, length: 90, path: [[100, 300], [1300, 300]], speed: 1 m/s}
lights: [{id: room, ambient: 200 lx}]
kit: kits/mine.yaml
shots:
  - {id: a, camera: pocket, focal_length: 20 mm, f_number: 4, at: [700, -150, 45], aim: vehicle, focus: 400,
     capture: {rate: 120 fps}}
  - {id: b, camera: pocket, focal_length: 20 mm, f_number: 4, at: [700, -150, 45], aim: bush, focus: 400,
     capture: {rate: 120 fps}, backdrop: {image: pictures/night.png}, moved: {tree: {image: bare.png}},
     added: [{id: bush, piece: card, at: [600, 500], width: 60, height: 90, image: bush.png}]}
"""
KIT = "cameras: {pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}\n"
OBJ = "mtllib crane.mtl\nusemtl red\nv 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\nf 1/1 2/2 3/3\n"
STL = (
    "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\nendsolid a\n"
)


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    for name in ("kits", "pictures", "models"):
        (tmp_path / name).mkdir()
    (tmp_path / "scene.yaml").write_text(SCENE, encoding="utf-8")
    (tmp_path / "kits" / "mine.yaml").write_text(KIT, encoding="utf-8")
    (tmp_path / "models" / "crane.obj").write_text(OBJ, encoding="utf-8")
    (tmp_path / "models" / "crane.mtl").write_text("newmtl red\nmap_Kd paint.png\n", encoding="utf-8")
    (tmp_path / "models" / "car.stl").write_text(STL, encoding="utf-8")
    for name in (
        "pictures/ground.png",
        "pictures/sky.png",
        "pictures/night.png",
        "tree.png",
        "bare.png",
        "bush.png",
        "models/paint.png",
    ):
        Image.new("RGB", (4, 4), "grey").save(tmp_path / name)
    (tmp_path / "other.png").write_bytes(b"not named")
    return tmp_path / "scene.yaml"


def test_all_that_a_scene_needs_is_listed_and_no_more(scene_file: Path) -> None:
    found = [path.as_posix() for path in files_of(scene_file)]
    assert found[0] == "scene.yaml"
    assert sorted(found) == sorted(
        path.relative_to(scene_file.parent).as_posix()
        for path in scene_file.parent.rglob("*")
        if path.is_file() and path.name != "other.png"
    )


def test_a_scene_that_cannot_be_read_is_told(scene_file: Path) -> None:
    (scene_file.parent / "tree.png").unlink()
    with pytest.raises(PrevizError, match=r"there is no file tree\.png beside the scene"):
        files_of(scene_file)
