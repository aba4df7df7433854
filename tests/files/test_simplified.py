"""Meshes with more triangles than show are cut down: their shape, their picture and their colours stay."""

from pathlib import Path

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from PIL import Image

from previz.files import load_model, meshes, slow_work_told
from previz.files.simplified import simplified

Array = NDArray[np.float64]


def ball(rows: int, bumps: float = 0.0) -> tuple[Array, NDArray[np.int64], Array]:
    """Corners, triangles and texture coordinates of a ball that is cut open along a meridian, as exporters write it."""
    v, u = np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, 2 * rows), indexing="ij")
    slope, turn = np.pi * v, 2 * np.pi * u
    far = 1 + bumps * np.sin(5 * turn) * np.sin(4 * slope) ** 2
    corners = far[..., None] * np.stack([np.sin(slope) * np.cos(turn), np.sin(slope) * np.sin(turn), np.cos(slope)], -1)
    number = np.arange(u.size).reshape(u.shape)
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    faces = np.concatenate([np.stack(each, -1).reshape(-1, 3) for each in ((a, b, c), (a, c, d))])
    return corners.reshape(-1, 3), faces, np.stack([u, 1 - v], -1).reshape(-1, 2)


def test_the_surface_stays_where_it_was() -> None:
    """Everywhere on it, as far from the middle as the ball's own formula has it; and nothing of it is lost."""
    corners, faces, _ = ball(100, 0.1)
    left = simplified(corners, faces, None, 3000)
    assert 2500 <= len(left.faces) <= 3000
    old, new = trimesh.Trimesh(corners, faces), trimesh.Trimesh(left.vertices, left.faces)
    x, y, z = trimesh.sample.sample_surface(new, 3000, seed=1)[0].T
    away = np.sqrt(x**2 + y**2 + z**2)
    off = np.abs(away - 1 - 0.1 * np.sin(5 * np.arctan2(y, x)) * np.sin(4 * np.arccos(z / away)) ** 2)
    assert off.max() < 0.01 and off.mean() < 0.002
    assert new.is_watertight and new.volume == pytest.approx(old.volume, rel=2e-3)


def test_the_picture_stays_on_the_surface() -> None:
    """Texture coordinates are those of the place by the ball's own formula, on either side of its seam."""
    corners, faces, uv = ball(100)
    left = simplified(corners, faces, uv, 3000)
    assert left.uv is not None
    places = left.vertices[left.faces]
    turn = np.arctan2(places[..., 1], places[..., 0]) / (2 * np.pi)
    height = np.arccos(np.clip(places[..., 2] / np.linalg.norm(places, axis=-1), -1, 1)) / np.pi
    off = np.abs((left.uv[..., 0] - turn + 0.5) % 1 - 0.5)
    away_from_the_poles = np.abs(places[..., 2]) < 0.95
    assert off[away_from_the_poles].max() < 0.01
    assert np.abs(1 - left.uv[..., 1] - height)[away_from_the_poles].max() < 0.01
    # No triangle holds the width of the picture, as one that runs over the seam would.
    assert np.ptp(left.uv[..., 0], axis=1)[away_from_the_poles.all(axis=1)].max() < 0.2


@pytest.mark.parametrize("seed", range(3))
def test_what_is_no_surface_is_cut_down_as_far_as_it_goes(seed: int) -> None:
    """Triangles on one edge, faces both ways round, loose ones: nothing is lost but what is small, nothing breaks."""
    rng = np.random.default_rng(seed)
    corners, faces, uv = ball(40)
    wrong = faces[rng.integers(0, len(faces), 60)][:, ::-1]
    loose = len(corners) + np.arange(90).reshape(30, 3)
    points = np.concatenate([corners, rng.normal(size=(90, 3)) * 0.3])
    everything = np.concatenate([faces, wrong, loose, [[0, 0, 1]]])
    left = simplified(points, everything, np.concatenate([uv, rng.random((90, 2))]), 1500)
    assert 0 < len(left.faces) <= 1600
    assert np.isfinite(left.vertices).all() and left.uv is not None and np.isfinite(left.uv).all()
    assert np.ptp(left.vertices, axis=0).min() > 1.8


def test_a_file_with_more_than_shows_is_cut_down_once_and_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(meshes, "MOST_DRAWN", 1000)
    monkeypatch.setenv("PREVIZ_CACHE", str(tmp_path / "kept"))
    corners, faces, uv = ball(40)
    stripes = Image.fromarray(np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2).repeat(4, axis=0))
    look = trimesh.visual.TextureVisuals(
        uv=uv, material=trimesh.visual.material.PBRMaterial(baseColorTexture=stripes, roughnessFactor=1.0)
    )
    file = tmp_path / "ball.glb"
    trimesh.Trimesh(corners, faces, visual=look, process=False).export(file)
    told: list[str] = []
    with slow_work_told(told.append):
        (first,), (again,) = load_model(file, 0.2), load_model(file, 0.2)
    assert told == ["cutting a mesh of 6162 triangles down to 1000; it is kept for later runs"]
    assert len(first.faces) <= 1000 and first.image is not None and first.uv is not None
    for name in ("vertices", "faces", "normals", "colours", "uv"):
        assert np.array_equal(getattr(first, name), getattr(again, name))
    assert np.ptp(first.vertices[:, :2], axis=0).max() == pytest.approx(0.2)
    outward = np.einsum("ij,ij->i", first.normals, first.vertices - first.vertices.mean(axis=0))
    assert (outward > 0).all()
    monkeypatch.setattr(meshes, "MOST_DRAWN", 10_000)
    assert len(load_model(file, 0.2)[0].faces) == 6162


def test_small_parts_beside_a_large_one_are_left_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(meshes, "MOST_DRAWN", 1000)
    monkeypatch.setenv("PREVIZ_CACHE", str(tmp_path / "kept"))
    scene = trimesh.Scene()
    corners, faces, _ = ball(40)
    scene.add_geometry(trimesh.Trimesh(corners, faces, process=False), node_name="ball", geom_name="ball")
    place = trimesh.transformations.translation_matrix((2, 0, 0))
    scene.add_geometry(trimesh.creation.box((1, 0.2, 0.2)), node_name="bar", geom_name="bar", transform=place)
    scene.export(tmp_path / "two.glb")
    parts = meshes.load_parts(tmp_path / "two.glb", 1.0, apart=["bar"])
    assert sum(len(mesh.faces) for mesh in parts.named["bar"]) == 12
    assert 900 < sum(len(mesh.faces) for mesh in parts.body) <= 1000


@pytest.mark.parametrize("seed", range(5))
def test_parts_give_up_triangles_by_how_many_they_have(seed: int) -> None:
    counts = np.random.default_rng(seed).integers(1, 10 ** np.random.default_rng(seed).integers(1, 7, 40))
    left = np.array(meshes._left_of(counts))
    assert (left <= counts).all() and (left >= 1).all()
    assert left.sum() <= max(meshes.MOST_DRAWN, len(counts))
    if counts.sum() > meshes.MOST_DRAWN:
        assert left.sum() > meshes.MOST_DRAWN - len(counts)
        cut = left < counts
        # All that are cut keep the same number by the square root of theirs; what is whole has less.
        assert np.ptp(left[cut] / np.sqrt(counts[cut])) < 2 and (left[~cut] <= left[cut].max()).all()


def test_normals_of_the_file_are_kept_where_triangles_are_taken() -> None:
    """Of a ball they lie along the radius; those of a cut-down ball made anew are off by as much as its facets turn."""
    corners, faces, uv = ball(60)
    left = simplified(corners, faces, uv, 400, corners)
    assert left.normals is not None
    at = left.vertices[left.faces]
    along = np.einsum("mki,mki->mk", left.normals, at / np.linalg.norm(at, axis=2, keepdims=True))
    # A tenth of a triangle's height inwards, of triangles some 0.2 wide: 0.02, and as much from the corner's own move.
    assert np.degrees(np.arccos(np.clip(along, -1, 1))).max() < 3.0
    assert np.linalg.norm(left.normals, axis=2) == pytest.approx(1)
