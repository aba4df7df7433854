"""Codes of light, against colour-science and the standards."""

import colour
import numpy as np
import pytest

from previz.physics.colour import bt709_encoded, srgb_encoded, srgb_linear

RAMP = np.linspace(0, 1, 4096)


def test_bt709_agrees_with_colour_science():
    assert np.abs(bt709_encoded(RAMP) - colour.models.oetf_BT709(RAMP)).max() < 1e-12


def test_srgb_agrees_with_colour_science():
    assert np.abs(srgb_encoded(RAMP) - colour.models.eotf_inverse_sRGB(RAMP)).max() < 1e-12
    assert np.abs(srgb_linear(RAMP) - colour.models.eotf_sRGB(RAMP)).max() < 1e-12


def test_mid_grey_tells_the_two_curves_apart():
    # 18 % by ITU-R BT.709-6 item 1.2, 1.099 * 0.18 ** 0.45 - 0.099, and by IEC 61966-2-1, 1.055 * 0.18 ** (1 / 2.4)
    # - 0.055, worked by hand: 0.4090077 and 0.4613561.
    assert np.isclose(bt709_encoded(0.18), 0.4090077, atol=1e-7)
    assert np.isclose(srgb_encoded(0.18), 0.4613561, atol=1e-7)


@pytest.mark.parametrize("encoded", [bt709_encoded, srgb_encoded])
def test_light_that_cannot_be_held_clips(encoded):
    assert encoded([1.0, 7.0, -0.2]).tolist() == pytest.approx([1.0, 1.0, 0.0], abs=1e-15)


@pytest.mark.parametrize("encoded", [bt709_encoded, srgb_encoded])
def test_pictures_stay_in_single_precision(encoded):
    linear = RAMP.astype(np.float32)
    assert encoded(linear).dtype == np.float32
    assert np.abs(encoded(linear) - encoded(RAMP)).max() < 1e-6
