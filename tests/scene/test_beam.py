"""The beam of a spot as both roads of light read it: predictions and the bake."""

import math

import numpy as np
import pytest

from previz.physics.photometry import spot_profile


def test_a_beam_is_full_inside_nothing_outside_and_smooth_between() -> None:
    # By hand: the edge takes 15 % of the half angle, and half-way through it a smooth step is one half.
    assert spot_profile(0.85 * 0.5, 1.0) == pytest.approx(1.0)
    assert spot_profile((1 - 0.075) * 0.5, 1.0) == pytest.approx(0.5)
    assert spot_profile(0.5, 1.0) == 0.0
    assert spot_profile(math.pi, 1.0) == 0.0


def test_numbers_and_arrays_get_the_same_beam() -> None:
    angles = np.linspace(0.0, 0.7, 141)
    along = spot_profile(angles, 1.0)
    assert along.tolist() == [spot_profile(float(angle), 1.0) for angle in angles]
    assert np.all(np.diff(along) <= 1e-15)
    cut = np.clip((0.5 - angles) / 0.075, 0.0, 1.0)
    assert along == pytest.approx(cut**2 * (3 - 2 * cut), abs=1e-14)
    assert spot_profile(angles.astype(np.float32), 1.0).dtype == np.float32
