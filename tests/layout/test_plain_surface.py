"""What of a mesh file light meets: all of a small one, and much the same shape of a large one."""

import numpy as np
import pytest
import trimesh

from previz.layout.modelled import MOST_PLAIN, plain_surface
from previz.mesh import Mesh


def test_a_large_mesh_keeps_its_surface_with_fewer_triangles() -> None:
    """A sphere, 4 pi r^2, which corners that are the middle of a cell's, of 2 % of its size, keep to."""
    ball = trimesh.creation.icosphere(subdivisions=6, radius=0.5)
    points = np.asarray(ball.vertices)
    found = plain_surface((Mesh(points, np.asarray(ball.faces), points, points),))
    assert len(ball.faces) > MOST_PLAIN > len(found) > 1000
    across = np.cross(found[:, 1] - found[:, 0], found[:, 2] - found[:, 0])
    assert np.linalg.norm(across, axis=1).sum() / 2 == pytest.approx(np.pi, rel=0.02)
    assert np.abs(np.linalg.norm(found, axis=2) - 0.5).max() < 0.002
    outwards = np.einsum("ni,ni->n", across, found.mean(axis=1))
    assert (outwards > 0).mean() > 0.99
