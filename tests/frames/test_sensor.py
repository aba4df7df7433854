"""From light to what the sensor holds, against the standard's example and the noise's own statistics."""

import numpy as np

from previz.frames.sensor import Noise, exposure_gain


def test_exposure_of_the_standards_example():
    # checks E11, E13 (colour-hdri doctests): L 4000 cd/m2, f/8, 1/250 s -> 0.1628937 lx s; H_sat at ISO 400 is 0.195.
    assert np.isclose(4000 * exposure_gain(1 / 250, 8.0, 400), 0.1628937 / 0.195, rtol=1e-6)


def test_shot_noise_has_the_poisson_variance():
    noise = Noise(full=10000.0)
    flat = np.full((400, 400, 3), 0.25, np.float32)
    noisy = noise.added_to(flat, np.random.default_rng(1))
    # Poisson: variance = mean in electrons, here 2500, plus 3^2 of read noise. 480 000 samples: 0.2 % standard error.
    assert np.isclose(noisy.var() * 10000**2, 2500 + 9, rtol=0.01)
    assert np.isclose(noisy.mean(), 0.25, atol=1e-4)


def test_a_smaller_pixel_is_noisier():
    small, large = Noise.of(1e-12, 400), Noise.of(16e-12, 400)
    assert np.isclose(large.full / small.full, 16)


def test_noise_repeats_with_its_seed():
    flat = np.full((8, 8, 3), 0.5, np.float32)
    first, again = (Noise(900.0).added_to(flat, np.random.default_rng([3, 5])) for _ in range(2))
    assert np.array_equal(first, again)
