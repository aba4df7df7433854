"""Shapes are closed, face outwards, measure what they should and are smooth where they are round."""

import numpy as np
import pytest
import trimesh

from previz.mesh import Material, Mesh
from previz.stage.shapes import bending, outlines, solids

L_SHAPE = [(0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0), (1.0, 2.0), (0.0, 2.0)]  # area 3
SHAPES = {
    "box": lambda: solids.box((4, 2, 1), 0.2),
    "sharp box": lambda: solids.box((4, 2, 1)),
    "very round box": lambda: solids.box((4, 2, 1), 0.5, segments=6),
    "extrusion x": lambda: solids.extrude(outlines.rounded(L_SHAPE, 0.2), 1, 0.1, "x"),
    "extrusion y": lambda: solids.extrude(outlines.rounded(L_SHAPE, 0.2), 1, 0.1, "y"),
    "extrusion z": lambda: solids.extrude(outlines.rounded(L_SHAPE, 0.2), 1, 0.1, "z"),
    "clockwise extrusion": lambda: solids.extrude(L_SHAPE[::-1], 1),
    "gridded extrusion": lambda: solids.extrude(outlines.rounded(L_SHAPE, 0.2), 1, 0.1, "y", grid=0.15),
    "cylinder": lambda: solids.cylinder(1.0, 1.0, 0.1, "y"),
    "cone": lambda: solids.revolve([(1.0, 0.0), (0.0, 1.0)]),
    "ball": lambda: solids.ball(1.0),
    "hoop": lambda: solids.revolve(outlines.rectangle(0.2, 0.5, 0.05, (1, 0)), 32, "x", closed=True),
    "tube": lambda: solids.tube([(0, 0, 0), (1, 0, 0), (1, 1, 0), (1, 1, 1)], 0.1),
    "loft": lambda: solids.loft([[(-1, -1, 0), (1, -1, 0), (1, 1, 0), (-1, 1, 0)], [(0, 0, 2)] * 4]),
    "mirrored": lambda: solids.mirrored(solids.extrude(L_SHAPE, 1)),
    "turned": lambda: solids.placed(solids.box((4, 2, 1), 0.2), (1, 2, 3), 30, 40, 50),
    "bent": lambda: bending.bent(solids.box((4, 2, 1), 0.2), lambda p: p * (1 + 0.1 * p[:, :1] ** 2)),
}


def closed(mesh: Mesh) -> trimesh.Trimesh:
    """The bare surface, its doubled corners joined."""
    surface = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    surface.merge_vertices(merge_norm=True)
    return surface


def cosines(mesh: Mesh) -> np.ndarray:
    """Between each face and the normals at its corners, (m, 3)."""
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    return np.sum(across[:, None] * mesh.normals[mesh.faces], axis=2)


@pytest.mark.parametrize("name", SHAPES)
def test_a_shape_is_closed_and_faces_outwards(name: str) -> None:
    surface = closed(SHAPES[name]())
    assert surface.is_watertight
    assert surface.is_winding_consistent
    assert surface.volume > 0


@pytest.mark.parametrize("name", SHAPES)
def test_normals_are_unit_and_agree_with_the_faces(name: str) -> None:
    mesh = SHAPES[name]()
    np.testing.assert_allclose(np.linalg.norm(mesh.normals, axis=1), 1, atol=1e-12)
    assert cosines(mesh).min() > np.cos(np.radians(75))


def test_volumes_are_those_of_the_textbook() -> None:
    assert closed(solids.box((4, 2, 1))).volume == pytest.approx(8)
    assert closed(solids.extrude(L_SHAPE, 2, axis="x")).volume == pytest.approx(6)
    assert closed(solids.extrude(L_SHAPE, 2, axis="y", grid=0.3)).volume == pytest.approx(6)
    # A 64-sided prism or double cone holds (n/2π)·sin(2π/n) of the round one.
    share = 64 / (2 * np.pi) * np.sin(2 * np.pi / 64)
    assert closed(solids.cylinder(1, 3, segments=64)).volume == pytest.approx(3 * np.pi * share)
    assert closed(solids.revolve([(1, 0), (0, 3)], 64)).volume == pytest.approx(np.pi * share)


def test_a_bevel_takes_from_the_edges_only() -> None:
    mesh = solids.box((4, 2, 1), 0.2, segments=8)
    np.testing.assert_allclose([mesh.vertices.min(0), mesh.vertices.max(0)], [[-2, -1, -0.5], [2, 1, 0.5]])
    # Steiner: inner box, its faces pushed out by r, quarter cylinders on 12 edges, eight eighths of a ball.
    x, y, z, r = 3.6, 1.6, 0.6, 0.2
    rounded = x * y * z + 2 * r * (x * y + y * z + z * x) + np.pi * r**2 * (x + y + z) + 4 / 3 * np.pi * r**3
    assert closed(mesh).volume == pytest.approx(rounded, rel=1e-3)  # eight facets an edge


def test_extrusion_axes_take_the_outline_as_the_docstring_says() -> None:
    outline = [(0.0, 0.0), (3.0, 0.0), (3.0, 1.0)]
    for axis, low, high in (
        ("x", (-1, 0, 0), (1, 3, 1)),
        ("y", (0, -1, 0), (3, 1, 1)),
        ("z", (0, 0, -1), (3, 1, 1)),
    ):
        vertices = solids.extrude(outline, 2, axis=axis).vertices
        np.testing.assert_allclose(vertices.min(0), low, atol=1e-12)
        np.testing.assert_allclose(vertices.max(0), high, atol=1e-12)


def test_a_ball_is_smooth_and_a_cube_is_not() -> None:
    ball = solids.ball(1.0, 32)
    # Flat facets of 11 degrees: normals within half a facet, 0.1 rad, of the true ones.
    np.testing.assert_allclose(ball.normals, ball.vertices, atol=0.05)
    cube = solids.box((1, 1, 1))
    assert len(cube.vertices) == 24
    np.testing.assert_allclose(np.abs(cube.normals).max(1), 1)


def test_bending_turns_normals_with_the_surface() -> None:
    """A flat plate rolled into a cylinder about y has radial normals on its outer face."""
    plate = solids.extrude(outlines.rectangle(2.0, 1.0), 0.02, axis="z", grid=0.05)
    angle, radius = plate.vertices[:, 0], 1 + plate.vertices[:, 2]
    rolled = bending.bent(
        plate,
        lambda p: np.stack([(1 + p[:, 2]) * np.sin(p[:, 0]), p[:, 1], (1 + p[:, 2]) * np.cos(p[:, 0])], axis=1),
    )
    top = plate.normals[:, 2] > 0.99
    expected = np.stack([np.sin(angle), 0 * angle, np.cos(angle)], 1)
    np.testing.assert_allclose(rolled.normals[top], expected[top], atol=1e-6)
    np.testing.assert_allclose(np.hypot(rolled.vertices[:, 0], rolled.vertices[:, 2]), radius)


def test_turning_is_right_handed() -> None:
    point = solids.box((2, 0.1, 0.1))
    assert solids.placed(point, turn=90).vertices[:, 1].max() == pytest.approx(1)
    tip = solids.placed(solids.placed(point, (1, 0, 0)), turn=90).vertices[:, 1]
    assert tip.max() == pytest.approx(2)
    up = solids.placed(solids.box((0.1, 0.1, 2)), (0, 0, 1))
    assert solids.placed(up, pitch=90).vertices[:, 0].max() == pytest.approx(2)
    aside = solids.placed(solids.box((0.1, 2, 0.1)), (0, 1, 0))
    assert solids.placed(aside, roll=90).vertices[:, 2].max() == pytest.approx(2)


def test_a_colour_covers_every_corner_and_sets_the_material() -> None:
    mesh = solids.coloured(solids.box((1, 1, 1)), (0.1, 0.2, 0.3), Material(gloss=0.5))
    assert mesh.colours.shape == mesh.vertices.shape
    assert np.all(mesh.colours == (0.1, 0.2, 0.3))
    assert mesh.material.gloss == 0.5
    assert solids.coloured(mesh, (1, 1, 1)).material.gloss == 0.5


@pytest.mark.parametrize("grid", [None, 0.1, 0.37])
def test_filling_covers_an_outline_once(grid: float | None) -> None:
    outline = outlines.rounded(L_SHAPE, 0.2)
    outline = outline if grid is None else outlines.resampled(outline, grid)
    points, faces = outlines.filled(outline, grid)
    a, b, c = (points[faces[:, k]] for k in range(3))
    doubled = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    assert doubled.min() > 0
    assert doubled.sum() / 2 == pytest.approx(outlines.area(outline))
    if grid is not None:
        assert len(points) > len(outline)


def test_rounding_a_square_takes_four_corners_less_their_quarter_discs() -> None:
    square = [(0, 0), (2, 0), (2, 2), (0, 2)]
    assert outlines.area(outlines.rounded(square, 0.5, 32)) == pytest.approx(4 - (4 - np.pi) * 0.25, rel=1e-4)


def test_what_cannot_be_made_is_refused() -> None:
    with pytest.raises(ValueError, match="half the smallest side"):
        solids.box((1, 1, 1), 0.6)
    with pytest.raises(ValueError, match="swallows an edge"):
        solids.extrude(outlines.rounded(L_SHAPE, 0.1), 2, 0.4)
    with pytest.raises(ValueError, match="not negative"):
        solids.revolve([(1, 0), (-1, 1)])
    with pytest.raises(ValueError, match="crosses itself"):
        outlines.filled(np.array([(0, 0), (1, 1), (1, 0), (0, 1.2)], dtype=float))
    with pytest.raises(ValueError, match="an outline is"):
        outlines.counter_clockwise([(0, 0), (1, 1)])
