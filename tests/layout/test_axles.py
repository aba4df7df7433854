"""Axles worked out from the shape of a wheel, on random wheels that were put where it is known."""

import numpy as np
import pytest
import trimesh
from trimesh.transformations import random_rotation_matrix, rotation_matrix

from previz.errors import PrevizError
from previz.layout.axles import axle_of
from previz.mesh import Mesh


def as_mesh(made: trimesh.Trimesh) -> Mesh:
    return Mesh(
        np.array(made.vertices), np.array(made.faces), np.array(made.vertex_normals), np.ones((len(made.vertices), 3))
    )


def wheel(rng: np.random.Generator, sides: int) -> tuple[trimesh.Trimesh, float, float]:
    """About z: a tyre from very thin to a roller, spokes, and a valve that is in no balance."""
    radius, wide = rng.uniform(0.2, 2.0), rng.uniform(0.1, 3.0)
    tyre = trimesh.creation.annulus(0.7 * radius, radius, wide * radius, sections=sides)
    spokes = []
    for k in range(rng.integers(3, 9)):
        blade = trimesh.creation.box((0.7 * radius, 0.08 * radius, 0.1 * wide * radius))
        blade.apply_translation((0.35 * radius, 0, 0.2 * wide * radius))
        blade.apply_transform(rotation_matrix(2 * np.pi * k / rng.integers(3, 9), (0, 0, 1)))
        spokes.append(blade)
    valve = trimesh.creation.box((0.05 * radius, 0.05 * radius, 0.05 * radius))
    valve.apply_translation((0.6 * radius, 0, 0))
    return trimesh.util.concatenate([tyre, *spokes, valve]), radius, wide * radius


@pytest.mark.parametrize("seed", range(12))
def test_the_axle_of_a_wheel_however_it_stands(seed: int) -> None:
    rng = np.random.default_rng(seed)
    sides = int(rng.integers(16, 64))
    made, radius, _ = wheel(rng, sides)
    way, centre = np.array([0, 0, 1.0]), rng.uniform(-5, 5, 3)
    if seed % 3:  # else it lies along an axis of the file
        turn = random_rotation_matrix(rng.random(3))
        made.apply_transform(turn)
        way = turn[:3, :3] @ way
    made.apply_translation(centre)
    axle = axle_of((as_mesh(made),), "wheel")
    # A file's wheel is a body of so many sides, whose axle is known no better than its flats are deep.
    flat = 1 - np.cos(np.pi / sides)
    assert np.degrees(np.arccos(min(abs(axle.way @ way), 1))) < 1.0
    assert np.linalg.norm(axle.centre - centre) < 0.5 * flat * radius + 0.01 * radius
    assert axle.radius == pytest.approx(radius, rel=flat + 0.005)


@pytest.mark.parametrize("seed", range(4))
def test_a_wheel_of_which_a_part_is_not_there_is_none(seed: int) -> None:
    made, _, _ = wheel(np.random.default_rng(seed), 32)
    half = made.slice_plane((0.2, 0, 0), (1, 0, 0))
    with pytest.raises(PrevizError, match="the node 'wheel' is not round about any axle"):
        axle_of((as_mesh(half),), "wheel")


def test_boxes_and_whole_axles_of_two_are_told_apart() -> None:
    with pytest.raises(PrevizError, match="not round"):
        axle_of((as_mesh(trimesh.creation.box((1, 0.4, 1))),), "box")
    flat = trimesh.Trimesh([[0, 0, 0], [1, 0, 0], [0.4, 0, 0]], [[0, 1, 2]])
    with pytest.raises(PrevizError, match="not round"):
        axle_of((as_mesh(flat),), "line")
    left, _, wide = wheel(np.random.default_rng(7), 40)
    right = left.copy()
    right.apply_translation((0, 0, 4 * wide))
    axle = axle_of((as_mesh(left), as_mesh(right)), "pair")
    assert abs(axle.way[2]) == pytest.approx(1) and axle.centre[2] == pytest.approx(2 * wide, rel=0.1)
