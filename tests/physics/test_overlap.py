"""Convex outlines against plain separating axes and shapely, prisms against trimesh."""

import numpy as np
import pytest
import shapely
import trimesh

from previz.physics import overlap


def test_convex_outlines() -> None:
    rng = np.random.default_rng(3)
    points = rng.normal(size=(500, 2))
    outline = overlap.hull(points)
    edges = np.roll(outline, -1, axis=0) - outline
    turns = edges[:, 0] * np.roll(edges, -1, axis=0)[:, 1] - edges[:, 1] * np.roll(edges, -1, axis=0)[:, 0]
    assert (turns > 0).all()  # convex, counter-clockwise
    line = np.array([[0, 0], [1, 0.0]])
    square = np.array([[0.2, -0.5], [0.8, -0.5], [0.8, 0.5], [0.2, 0.5]])
    assert overlap.depth(line, square) == pytest.approx(0.5)
    assert overlap.depth(line, square + np.array([0, 0.6])) == pytest.approx(-0.1)
    assert overlap.depth(line, square + np.array([2, 0])) == pytest.approx(-1.2)
    assert overlap.thickness(square) == pytest.approx(0.6)


@pytest.mark.parametrize("seed", range(5))
def test_boxes_and_outlines_agree_with_plain_separating_axes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    outline = overlap.hull(rng.normal(size=(30, 2)) * 0.4)
    middles, headings = rng.uniform(-1.5, 1.5, (40, 2)), rng.uniform(0, 2 * np.pi, 40)
    depths = overlap.box_depths(middles, headings, (0.5, 0.2), outline)
    for middle, heading, found in zip(middles, headings, depths, strict=True):
        c, s = np.cos(heading), np.sin(heading)
        box = np.array([[-0.5, -0.2], [0.5, -0.2], [0.5, 0.2], [-0.5, 0.2]]) @ [[c, s], [-s, c]] + middle
        assert found == pytest.approx(overlap.depth(box, outline), abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_rays_and_distances_agree_with_triangles_of_the_same_prism(seed: int) -> None:
    rng = np.random.default_rng(seed)
    outline = overlap.hull(rng.normal(size=(9, 2)) * 0.3)
    low, high = 0.1, 0.7
    corners = np.concatenate([np.column_stack([outline, np.full(len(outline), z)]) for z in (low, high)])
    solid = trimesh.convex.convex_hull(corners)
    origins, ends = rng.uniform(-1, 1, (60, 3)), rng.uniform(-1, 1, (60, 3))
    ways = ends - origins
    far = overlap.planes_of(outline + 10.0, low, high)  # none of them comes there; asked about together
    faces, at = (np.stack(each) for each in zip(far, overlap.planes_of(outline, low, high), strict=True))
    none, entered = overlap.entries_into(origins, ways, faces, at)
    assert np.isinf(none[np.abs(ways).max(axis=1) < 1]).all()
    found = entered <= 1
    inside = overlap.distance_to_prism(origins, outline, low, high) < 0
    _, ray, places = solid.ray.intersects_id(origins, ways, return_locations=True, multiple_hits=True)
    share = np.einsum("ni,ni->n", places - origins[ray], ways[ray]) / np.einsum("ni,ni->n", ways[ray], ways[ray])
    expected = inside.copy()
    expected[ray[share <= 1]] = True
    assert (found == expected).all() and 3 < expected.sum() < 57
    nearest = trimesh.proximity.closest_point_naive(solid, origins)[1]
    assert np.abs(overlap.distance_to_prism(origins, outline, low, high)) == pytest.approx(nearest, abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_the_way_clear_is_just_enough(seed: int) -> None:
    rng = np.random.default_rng(seed)
    one, other = (overlap.hull(rng.normal(size=(7, 2)) * 0.3) for _ in range(2))
    clear = overlap.way_clear(one, other)
    moved = shapely.Polygon(other + clear * (1 + 1e-9))
    assert np.hypot(*clear) == pytest.approx(overlap.depth(one, other))
    assert shapely.Polygon(one).intersection(moved).area < 1e-9
    assert shapely.Polygon(one).intersection(shapely.Polygon(other + 0.9 * clear)).area > 1e-6
