"""Views are spread evenly over pupil, shutter and pixel."""

import numpy as np
import pytest
from scipy import stats
from scipy.spatial import ConvexHull, Delaunay

from previz.frames.views.evened import evened
from previz.frames.views.pattern import views

COUNTS = [1, 2, 7, 8, 64, 257]

#: Lines across the pupil along which it is looked at. [rad]
LINES = np.linspace(0.1, 3.1, 8)


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


def unevenness(points, turn, even=None):
    """How far the places (n, 2), seen along a line, are from an even pupil's: the largest gap of both distributions.

    Along any line an even disc of radius 1 is scipy's semicircular distribution; of another pupil, `even` holds a great
    many places.
    """
    along = np.array([np.cos(turn), np.sin(turn)])
    if even is None:
        return stats.kstest(points @ along, stats.semicircular.cdf).statistic
    return stats.ks_2samp(points @ along, even @ along).statistic


def polygon(blades):
    """Corners (blades, 2) of the regular polygon that has a unit disc's area, by the surveyor's formula."""
    turn = 2 * np.pi * np.arange(blades) / blades
    x, y = np.cos(turn), np.sin(turn)
    area = (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2
    return np.sqrt(np.pi / area) * np.stack([x, y], axis=1)


def within(corners, count=40_000):
    """Places at random within the polygon of these corners; which are inside, scipy's triangulation says."""
    tried = np.random.default_rng(11).uniform(-1.3, 1.3, (3 * count, 2))
    return tried[Delaunay(corners).find_simplex(tried) >= 0][:count]


def test_a_round_pupil_is_filled_evenly():
    # As many places at random would be 0.014 off (0.87 / sqrt(n), mean of the Kolmogorov distribution).
    pupil = views(4096).pupil
    assert max(unevenness(pupil, turn) for turn in LINES) < 0.004
    assert np.hypot(*pupil.T).max() <= 1.01


@pytest.mark.parametrize("blades", [5, 6, 8])
def test_a_bladed_pupil_fills_the_regular_polygon_of_a_round_ones_area(blades):
    pupil, corners = views(20_000, blades).pupil, polygon(blades)
    assert (Delaunay(1.01 * corners).find_simplex(pupil) >= 0).all()
    assert ConvexHull(pupil).volume == pytest.approx(np.pi, rel=0.01)  # of flat points, scipy's volume is their area
    # The 40 000 random places are themselves 0.004 off, and seldom twice that.
    assert max(unevenness(pupil, turn, within(corners)) for turn in LINES) < 0.01


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
def test_evened_views_still_fill_pupil_shutter_and_pixel(count, blades, disc, streak):
    pattern = evened(views(count, blades), blades, disc, np.array([0.0, streak]))
    even = None if blades is None else within(polygon(blades))
    # What as many places at random are off, on average (mean of the Kolmogorov distribution).
    at_random = 0.8687 / np.sqrt(count)
    assert max(unevenness(pattern.pupil, turn, even) for turn in LINES) < 0.8 * at_random
    assert stats.kstest(pattern.moment, stats.uniform.cdf).statistic < at_random
    # Their spread is the pupil's, as an even pupil's is: a disc comes out neither wider nor narrower.
    spread = stats.semicircular.var() if even is None else even.var(axis=0).mean()
    assert pattern.pupil.var(axis=0) == pytest.approx(spread, rel=1e-6 if even is None else 0.01)
    # No two views share a column or a row of the pixel: a sharp edge is as light as what shows of it.
    for jitter in pattern.jitter.T:
        assert sorted(np.floor((jitter + 0.5) * count).astype(int)) == list(range(count))
