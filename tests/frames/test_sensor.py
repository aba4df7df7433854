"""From light to what the sensor holds, against the standard's example and the noise's own statistics."""

import numpy as np
from scipy import stats

from previz.frames.sensor import Noise, exposure_gain


def test_exposure_of_the_standards_example():
    # colour-hdri 0.2.6, dsc.py doctests, seen: L 4000 cd/m2, f/8, 1/250 s -> 0.1628937 lx s; H_sat at ISO 400 is 0.195.
    assert np.isclose(4000 * exposure_gain(1 / 250, 8.0, 400), 0.1628937 / 0.195, rtol=1e-6)


def test_shot_noise_has_the_poisson_variance():
    noise = Noise(full=10000.0)
    flat = np.full((400, 400, 3), 0.25, np.float32)
    noisy = noise.added_to(flat, np.random.default_rng(1))
    # Poisson: variance = mean in electrons, here 2500, plus 3^2 of read noise. 480 000 samples: 0.2 % standard error.
    assert np.isclose(noisy.var() * 10000**2, 2500 + 9, rtol=0.01)
    assert np.isclose(noisy.mean(), 0.25, atol=1e-4)


def test_a_small_sensor_collects_less_light_by_its_area():
    # Wikipedia "Image sensor format", table, seen: a sensor of 1.28 x 0.96 mm is 9.46 stops smaller in area than the
    # 36 x 24 mm frame. A pixel of the same picture holds so much less, and ISO takes the rest of it.
    pixels = 1920 * 1080
    small, large = (Noise.of(width * height * 1e-6 / pixels, 400) for width, height in ((1.28, 0.96), (36, 24)))
    assert np.isclose(np.log2(small.full / large.full), -9.46, atol=0.005)
    assert np.isclose(Noise.of(864e-6 / pixels, 800).full, large.full / 2)


def test_shadows_of_a_small_sensor_are_grainier():
    # Poisson: at the same exposure a ninth of the electrons are three times the grain, read noise aside.
    flat = np.full((400, 400, 3), 0.25, np.float32)
    grain = [Noise(full).added_to(flat, np.random.default_rng(4)).std() for full in (90_000.0, 10_000.0)]
    assert np.isclose(grain[1] / grain[0], 3, rtol=0.01)


def test_grain_is_spread_as_the_normal_distribution_is():
    # scipy's Kolmogorov-Smirnov test and its moments, of 480 000 numbers: standard errors 0.0014, 0.002, 0.0035, 0.007.
    flat = np.full((400, 400, 3), 0.25, np.float32)
    grain = (Noise(10000.0).added_to(flat, np.random.default_rng(7)) - flat).ravel().astype(float)
    grain *= 10000 / np.sqrt(2500 + 9)
    assert stats.kstest(grain, "norm").pvalue > 0.01
    found = [grain.mean(), grain.var(), stats.skew(grain), stats.kurtosis(grain)]
    assert np.allclose(found, [0, 1, 0, 0], atol=0.015)
    neighbours = np.corrcoef(grain[:-1], grain[1:])[0, 1]
    assert abs(neighbours) < 0.006


def test_grain_is_the_same_for_the_same_seed_and_its_own_in_every_frame():
    flat = np.full((96, 400, 3), 0.25, np.float32)
    first, again, other = (Noise(10000.0).added_to(flat, np.random.default_rng([3, frame])) for frame in (5, 5, 6))
    assert np.array_equal(first, again)
    # 115 200 pairs of numbers that have nothing in common: a standard error of 0.003.
    assert abs(np.corrcoef(first.ravel(), other.ravel())[0, 1]) < 0.012
    parts = first[:32].ravel(), first[32:64].ravel()
    assert abs(np.corrcoef(*parts)[0, 1]) < 0.02
