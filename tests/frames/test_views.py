"""Views are spread evenly over pupil, shutter and pixel."""

import numpy as np
import pytest

from previz.frames.views.evened import evened
from previz.frames.views.pattern import views

COUNTS = [1, 2, 7, 8, 64, 257]


@pytest.mark.parametrize("count", COUNTS)
@pytest.mark.parametrize("blades", [None, 5, 7, 9])
def test_the_mean_view_is_the_pupils_middle_at_mid_shutter_in_the_pixels_middle(count, blades):
    pattern = views(count, blades)
    assert len(pattern) == count
    assert np.allclose(pattern.pupil.mean(axis=0), 0, atol=1e-12)
    assert np.isclose(pattern.moment.mean(), 0.5, atol=1e-12)
    assert np.allclose(pattern.jitter.mean(axis=0), 0, atol=1e-12)


@pytest.mark.parametrize("count", COUNTS)
def test_moments_and_jitter_are_stratified(count):
    pattern = views(count)
    for axis in (pattern.moment, pattern.jitter[:, 0] + 0.5, pattern.jitter[:, 1] + 0.5):
        assert sorted(np.floor(axis * count).astype(int)) == list(range(count))


def test_a_round_pupil_has_the_second_moment_of_an_even_disc():
    # Of a disc of radius 1 the mean square along an axis is 1/4 (elementary calculus).
    pupil = views(4096).pupil
    assert np.allclose((pupil**2).mean(axis=0), 0.25, rtol=2e-3)
    assert np.hypot(*pupil.T).max() <= 1.01


@pytest.mark.parametrize("blades", [5, 6, 8])
def test_a_bladed_pupil_fills_the_regular_polygon_of_a_round_ones_area(blades):
    pupil = views(20000, blades).pupil
    half = np.pi / blades
    apothem = np.sqrt(np.pi / (blades * np.tan(half)))
    from_middle = (np.arctan2(pupil[:, 1], pupil[:, 0]) % (2 * half)) - half
    assert (np.hypot(*pupil.T) * np.cos(from_middle)).max() <= apothem * 1.01
    # Polar second moment of area over area of a regular polygon with circumradius R: R^2 (2 + cos(2 pi / n)) / 6
    # (standard section property; R^2/2 for a circle as n grows).
    circumradius = apothem / np.cos(half)
    expected = circumradius**2 * (2 + np.cos(2 * half)) / 6
    assert np.isclose((pupil**2).sum(axis=1).mean(), expected, rtol=5e-3)


def test_moments_do_not_follow_the_turn_around_the_pupil():
    # A moment tied to the place on the pupil would bend the streak of a fast, blurred point.
    pattern = views(256)
    for axis in pattern.pupil.T:
        assert abs(np.corrcoef(axis, pattern.moment)[0, 1]) < 0.05
    assert abs(np.corrcoef(np.hypot(*pattern.pupil.T), pattern.moment)[0, 1]) < 0.08


def ramp_error(pattern, disc, streak, turn):
    """How far the steps of an edge are from an even ramp, as a mean over the ramp's height. [px]

    The ramp of an even disc's edge and a streak's, together, is a great many places at random in both.
    """
    across = np.array([np.cos(turn), np.sin(turn)])
    rng = np.random.default_rng(7)
    radius, angle, moment = np.sqrt(rng.random(200_000)), 2 * np.pi * rng.random(200_000), rng.random(200_000)
    jitter = rng.random((200_000, 2)) - 0.5
    pupil = radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)

    def shifts(pupil, moment, jitter):
        return np.sort((disc / 2 * pupil - jitter) @ across + streak * (moment - 0.5) * across[0])

    even = shifts(pupil, moment, jitter).reshape(len(pattern), -1).mean(axis=1)
    return np.abs(shifts(pattern.pupil, pattern.moment, pattern.jitter) - even).mean()


@pytest.mark.parametrize(("count", "disc", "streak"), [(16, 3.0, 12.0), (25, 15.0, 12.0), (40, 80.0, 12.0)])
def test_evened_views_make_smoother_ramps_at_any_angle(count, disc, streak):
    # Angles and discs other than those that the views were moved for.
    cases = [(side * disc * 0.8, turn) for side in (-1, 1) for turn in np.linspace(0.2, 3.2, 7)]
    plain = views(count)
    even = evened(plain, None, disc, np.array([streak, 0.0]))
    before, after = (np.mean([ramp_error(p, d, streak, t) for d, t in cases]) for p in (plain, even))
    assert after < 0.85 * before


@pytest.mark.parametrize("count", [3, 8, 25, 64])
@pytest.mark.parametrize("blades", [None, 7])
@pytest.mark.parametrize(("disc", "streak"), [(0.0, 0.0), (15.0, 0.0), (0.0, 30.0), (100.0, 12.0)])
def test_evened_views_are_still_even_in_every_axis(count, blades, disc, streak):
    pattern = evened(views(count, blades), blades, disc, np.array([0.0, streak]))
    wide = views(count, blades).pupil.var(axis=0)
    assert np.allclose(pattern.pupil.mean(axis=0), 0, atol=1e-9)
    assert np.allclose(pattern.pupil.var(axis=0), wide, rtol=1e-6)
    assert np.isclose(pattern.moment.mean(), 0.5) and np.allclose(pattern.jitter.mean(axis=0), 0, atol=1e-9)
    assert pattern.moment.min() > -0.01 and pattern.moment.max() < 1.01
    assert np.abs(pattern.jitter).max() < 0.55
