"""Light that a lens puts beside its place."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j1

from previz.physics.scatter import VEIL_FROM, VEIL_TO, diffracted_beyond, veiled_beyond


@pytest.mark.parametrize(("ring", "within"), [(1.220, 0.838), (2.233, 0.910), (3.238, 0.938)])
def test_the_dark_rings_of_a_round_stop_hold_the_light_that_the_books_say(ring, within):
    # Born and Wolf, Principles of Optics, table 8.2: encircled energy at the minima (from memory).
    assert 1 - diffracted_beyond(np.array(ring * 550e-9 * 8), 8.0) == pytest.approx(within, abs=0.001)


def test_it_is_the_airy_pattern_summed_up():
    # Intensity (2 J1(x) / x)^2, its whole 4 pi over x dx: integrated by scipy.
    x = 7.3
    within = quad(lambda at: 2 * j1(at) ** 2 / at, 1e-9, x)[0]
    radius = np.array(x * 550e-9 * 4 / np.pi)
    assert 1 - diffracted_beyond(radius, 4.0) == pytest.approx(within, abs=1e-6)


def test_scattered_light_falls_off_with_the_square():
    radii = np.array([VEIL_FROM, 0.01, 0.02, 0.04, VEIL_TO])
    beyond = veiled_beyond(radii, 1.0)
    assert beyond[1] - beyond[2] == pytest.approx(beyond[2] - beyond[3])  # as much in each doubling
    assert beyond[[0, -1]].tolist() == [1.0, 0.0]
