"""Codes of light, against colour-science and the standards."""

import colour
import numpy as np
import pytest

from previz.physics.colour import bt709_encoded, colour_temperature, srgb_encoded, srgb_linear, white_rgb

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


@pytest.mark.parametrize("kelvin", [2000, 2700, 3200, 4300, 5600, 6500, 9000])
def test_the_temperature_of_a_light_is_found_again(kelvin):
    assert colour_temperature(white_rgb(kelvin)) == pytest.approx(kelvin, rel=kelvin * 0.6e-6)  # to a mired
    # A mixture of two lamps, by colour-science's search for the nearest black body (Ohno 2013). Our observer is a
    # fit (2 % in a channel, test_emitters), which comes to some 4 mired.
    mixed = 0.3 * white_rgb(kelvin) + 0.7 * white_rgb(5600)
    matrix = colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_RGB_to_XYZ
    uv = colour.xy_to_UCS_uv(colour.XYZ_to_xy(matrix @ mixed))
    truth, _ = colour.temperature.uv_to_CCT_Ohno2013(uv)
    assert 1e6 / colour_temperature(mixed) == pytest.approx(1e6 / truth, abs=4)
