"""A piece of its own scale is built at that scale: its outer sizes, and what it is made of. trimesh measures."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from previz.layout import pieces_of, post_lamps, vehicle_size
from previz.mesh import Mesh
from previz.scene import Scene, read_scene
from previz.stage.pieces.dressing import model_of
from tests.scene.test_own_scale import BASE


def stood(folder: Path, *dressing: dict[str, Any], **otherwise: Any) -> Scene:
    file = folder / "scene.yaml"
    file.write_text(json.dumps({**BASE, "dressing": dressing, **otherwise}))
    return read_scene(file)


def bodies(meshes: tuple[Mesh, ...]) -> list[trimesh.Trimesh]:
    return [trimesh.Trimesh(mesh.vertices, mesh.faces, process=False) for mesh in meshes]


def extents(meshes: tuple[Mesh, ...]) -> Any:
    return trimesh.util.concatenate(bodies(meshes)).extents


@pytest.mark.parametrize("kind", ["building", "lamp_post", "cone", "parked"])
def test_a_model_of_half_the_scale_is_half_as_large(kind: str, tmp_path: Path) -> None:
    keys = {"floors": 2} if kind == "building" else {}
    plain = {"id": "plain", "piece": kind, "at": [600, 900], **keys}
    scene = stood(tmp_path, plain, {**plain, "id": "half", "at": [1400, 900], "scale": "1:86"})
    whole, half = (extents(model_of(scene, solid)) for solid in pieces_of(scene))
    assert np.allclose(half, whole / 2, rtol=0.02)


def test_it_is_what_a_set_of_that_scale_would_have(tmp_path: Path) -> None:
    """Down to its bricks: a wall of given sizes has about twice as many courses at half the scale."""
    wall = {"id": "wall", "piece": "wall", "style": "brick", "length": 60, "height": 20, "thickness": 4}
    scene = stood(tmp_path, {**wall, "at": [600, 900]}, {**wall, "id": "half", "at": [1400, 900], "scale": "1:86"})
    plain, half = (model_of(scene, solid) for solid in pieces_of(scene))
    assert np.allclose(extents(plain), extents(half), rtol=0.02)  # as written, on the table
    assert _levels(half) > 1.5 * _levels(plain)
    small = stood(tmp_path, {**wall, "at": [600, 900]}, scale="1:86")
    (same,) = (model_of(small, solid) for solid in pieces_of(small))
    assert all(np.array_equal(a.vertices, b.vertices) for a, b in zip(half, same, strict=True))


def _levels(meshes: tuple[Mesh, ...]) -> int:
    return len(np.unique(np.concatenate([mesh.vertices[:, 2] for mesh in meshes]).round(5)))


def test_a_lit_post_hangs_its_lamp_at_its_own_scale(tmp_path: Path) -> None:
    post = {"id": "plain", "piece": "lamp_post", "at": [600, 900], "lit": "2 lm"}
    scene = stood(tmp_path, post, {**post, "id": "half", "at": [600, 1000], "scale": "1:86"})
    (_, whole), (_, half) = post_lamps(scene)
    assert half.centre[2] == pytest.approx(whole.centre[2] / 2) and half.radius == pytest.approx(whole.radius / 2)
    assert half.centre[0] - 0.6 == pytest.approx((whole.centre[0] - 0.6) / 2)


def test_a_vehicle_of_its_own_scale_is_as_large_as_that(tmp_path: Path) -> None:
    scene = stood(tmp_path, vehicle={**BASE["vehicle"], "scale": "1:86"})
    plain = stood(tmp_path)
    assert np.allclose(vehicle_size(scene), np.array(vehicle_size(plain)) / 2)
