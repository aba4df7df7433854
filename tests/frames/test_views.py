"""Views are spread evenly over pupil, shutter and pixel."""

import numpy as np
import pytest

from previz.frames.views import views

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
