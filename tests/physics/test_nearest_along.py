"""Which place of a line is nearest to a point: as scipy's k-d tree has it."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from previz.physics.paths import Curve, nearest_along


@pytest.mark.parametrize("seed", range(6))
def test_it_is_the_place_that_a_tree_finds(seed: int) -> None:
    """On random bends, some that come near to themselves, and of points far from them too."""
    rng = np.random.default_rng(seed)
    curve = Curve.through(rng.uniform(0, 1, (int(rng.integers(2, 7)), 2)))
    places = curve.at(np.linspace(0.0, curve.length, int(rng.integers(2, 900))))
    points = rng.uniform(-1, 2, (500, 2))
    away, _ = cKDTree(places).query(points)
    found = np.linalg.norm(points - places[nearest_along(places, points)], axis=1)
    assert found == pytest.approx(away, abs=1e-12)
