"""The baked light of a Lambertian disc against the closed form (integrated numerically too)."""

import numpy as np
import pytest

from previz.layout.emitters import AreaEmitter
from previz.light.direct import direct_light
from previz.light.occluders import Occluders
from previz.light.receivers import Receivers
from previz.light.samples import Samples

NOTHING = Occluders(np.zeros((0, 3)), np.zeros((0, 3)))
RADIUS = 0.1


def disc(height, strips=80):
    """Thin panels side by side that fill a disc of radius 0.1 m facing down, radiance 1."""
    edges = np.linspace(-RADIUS, RADIUS, strips + 1)
    middles = (edges[1:] + edges[:-1]) / 2
    # The half chord whose strip has the circle's own area: the mean of sqrt(R^2 - y^2) over the strip.
    primitive = (edges * np.sqrt(RADIUS**2 - edges**2) + RADIUS**2 * np.arcsin(np.clip(edges / RADIUS, -1, 1))) / 2
    chords = np.diff(primitive) / np.diff(edges)
    half = (edges[1] - edges[0]) / 2
    return [
        AreaEmitter((0, y, height), (chord, 0, 0), (0, -half, 0), (0, 0, -1), (1.0, 1.0, 1.0))
        for y, chord in zip(middles, chords, strict=True)
    ]


def light_below(height):
    below = Receivers.of([[0.0, 0.0, 0.0]], [[0.0, 0.0, 1.0]])
    return float(direct_light(below, disc(height), [NOTHING], Samples())[0, 0])


@pytest.mark.parametrize(("ratio", "expected"), [(1, 1.570796), (2, 0.628319), (5, 0.120830), (10, 0.031105)])
def test_light_on_the_axis_of_a_disc(ratio, expected):
    # E / L = pi R^2 / (R^2 + h^2). 80 straight strips miss the circle's edge by less than 2 parts in 1000.
    assert light_below(ratio * RADIUS) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(("ratio", "too_much"), [(5, 0.0400), (10, 0.0100)])
def test_a_disc_is_a_point_only_from_afar(ratio, too_much):
    # The point-source law E = I / h^2, I = L pi R^2, reads 4.00 % too much at h/R = 5 and 1.00 % at 10.
    height = ratio * RADIUS
    point = np.pi * RADIUS**2 / height**2
    assert point / light_below(height) - 1 == pytest.approx(too_much, abs=0.002)
