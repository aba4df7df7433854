"""A soft rim and a halo around what is far over white, and no light lost."""

import numpy as np
import pytest
from scipy.ndimage import convolve

from previz.frames.glare import Glare
from previz.physics.scatter import glare_radius


def lamp(size=(180, 320), radius=3.0, level=500.0):
    rows, columns = np.mgrid[: size[0], : size[1]] - np.array([size[0] / 2, size[1] / 2])[:, None, None]
    return np.repeat(np.where(np.hypot(rows, columns) < radius, level, 0.0)[..., None], 3, 2).astype(np.float32)


def usual(columns=320):
    return Glare.of(0.02, 2.0, 0.0132, columns)


@pytest.mark.parametrize("shape", [(180, 320), (181, 319), (17, 33)])
def test_no_light_is_lost_within_one_per_cent(shape):
    picture = np.random.default_rng(5).random((*shape, 3), dtype=np.float32)
    assert np.isclose(usual().on(picture).sum(), picture.sum(), rtol=0.01)
    even = np.full((*shape, 3), 0.4, np.float32)
    assert np.allclose(usual().on(even), 0.4, rtol=1e-4)
    if min(shape) > 100:
        assert np.isclose(usual().on(lamp(shape)).sum(), lamp(shape).sum(), rtol=0.01)


def test_the_halo_falls_off_smoothly_and_alike_to_all_sides():
    seen = usual().on(lamp())[..., 1]
    across, up = seen[90, 160:], seen[90:, 160]
    assert (np.diff(across[:60]) <= 1e-4).all() and across[4] > 0.5 > across[40] > 0
    assert np.allclose(across[4:60], up[4:60], rtol=0.12)


@pytest.mark.parametrize("moved", [1, 2, 5, 11])
def test_a_lamp_that_moves_takes_its_halo_along(moved):
    first, later = (usual().on(np.roll(lamp(), shift, axis=1))[90, :, 1] for shift in (0, moved))
    assert np.allclose(later[166 + moved : 220 + moved], first[166:220], rtol=0.12)


def test_one_doubling_is_a_square_and_a_tent():
    # By scipy: means over squares of two, each blown up by (1, 3, 3, 1) / 4 both ways.
    picture = np.zeros((64, 64, 3), np.float32)
    picture[30, 30] = 1.0
    squares = np.zeros((64, 64))
    squares[30, 30] = 0.25
    tent = np.array([0, 1.0, 3, 3, 1]) / 4
    expected = convolve(squares, np.outer(tent, tent))
    assert np.allclose(Glare((1.0,)).on(picture)[..., 0], expected, atol=1e-6)


def test_how_far_light_falls_does_not_depend_on_the_pictures_size():
    """The share of a lamp's light further away than a twentieth of the width, on a picture and one twice as large."""

    def far(columns):
        picture = lamp((columns // 2, columns), radius=columns / 100)
        seen = usual(columns).on(picture)[..., 0]
        rows, across = np.mgrid[: columns // 2, :columns] - np.array([columns / 4, columns / 2])[:, None, None]
        return seen[np.hypot(rows, across) > columns / 20].sum() / seen.sum()

    assert far(256) == pytest.approx(far(512), rel=0.15)
    assert 0.002 < far(512) < 0.008


def test_a_smaller_stop_spreads_more():
    assert sum(Glare.of(0.0, 16.0, 0.0132, 640).shares) > 5 * sum(Glare.of(0.0, 2.0, 0.0132, 640).shares)


@pytest.mark.parametrize("intensity", [1.0, 4.0, 16.0])
def test_as_much_round_a_lamp_is_white_as_check_says(intensity):
    """At a magnification of 0.05, 1280 pixels on 23.6 mm. ISO 12800, 1/100 s, f/8: what the lamp's image holds is
    q L t S / (78 N^2) of saturation, over so many pixels."""
    metre = 1280 * 0.05 / 0.0236
    point = np.zeros((401, 401, 3), np.float32)
    point[200, 200] = 0.65 * 0.01 * 12800 / 78 / 8**2 * intensity * metre**2
    white = (Glare.of(0.02, 8.0, 0.0236, 1280).on(point)[..., 1] >= 1.0).sum()
    # The picture's spread is of squares, each twice as wide as the one before.
    assert glare_radius(intensity, 0.01, 8.0, 12800, 0.02, 0.05) * metre == pytest.approx(
        (white / np.pi) ** 0.5, rel=0.15
    )
