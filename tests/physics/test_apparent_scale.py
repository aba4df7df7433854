"""Apparent scale from blur: the geometry is exact, the norms are models (their sources are in the module)."""

import numpy as np
import pytest

from previz.physics import apparent_scale, optics


def test_the_pupil_scales_with_the_set() -> None:
    # By hand: 13 mm f/4 at 1:50 stands for 162.5 mm, f/16 for 40.6; a phone's 2.36 mm for 118 mm
    assert apparent_scale.full_size_pupil(optics.entrance_pupil(0.013, 4), 50) * 1000 == pytest.approx(162.5)
    assert apparent_scale.full_size_pupil(optics.entrance_pupil(0.013, 16), 50) * 1000 == pytest.approx(40.6, abs=0.05)
    assert apparent_scale.full_size_pupil(optics.entrance_pupil(0.00425, 1.8), 50) * 1000 == pytest.approx(118, abs=0.1)


def test_a_model_through_a_small_pupil_and_full_size_through_a_large_one_are_one_picture() -> None:
    # Geometry: multiply every length, the pupil included, and no angle changes.
    for scale in (12, 50, 87):
        model = optics.blur_angle(0.003, 0.4, 0.9)
        assert optics.blur_angle(scale * 0.003, scale * 0.4, scale * 0.9) == pytest.approx(model, rel=1e-12)


def test_the_blur_angle_is_the_disc_over_the_image_distance() -> None:
    # Two roads to one number: the disc on the sensor seen from the pupil, v away.
    disc = optics.circle_of_confusion(0.013, 4.0, 0.4, 0.9)
    assert disc / optics.image_distance(0.013, 0.4) == pytest.approx(optics.blur_angle(0.013 / 4, 0.4, 0.9), rel=1e-12)


def test_the_eyes_norm_is_strict() -> None:
    # By hand: a 1:50 set would need a pupil of 4.6 mm / 50 = 0.09 mm. Mean pupil of Held et al. from memory.
    strict = apparent_scale.pupil_for_full_size(50, apparent_scale.EYE_PUPIL)
    assert strict * 1000 == pytest.approx(0.09, abs=0.005)


def test_the_stop_that_reads_as_full_size_does() -> None:
    n = apparent_scale.f_number_for_full_size(0.020, 43)
    pupil = optics.entrance_pupil(0.020, n)
    assert apparent_scale.full_size_pupil(pupil, 43) == pytest.approx(apparent_scale.FILMED_PUPIL[1], rel=1e-12)


def test_an_equivalent_lens_has_the_equivalent_pupil() -> None:
    focal, n = apparent_scale.full_size_lens(0.0088, 0.0022, 64, 0.0132)
    assert focal == pytest.approx(0.024, rel=1e-12)  # 8.8 mm on one-inch is 24 mm on 135
    assert focal / n == pytest.approx(64 * 0.0022, rel=1e-12)


def test_an_equivalent_lens_sees_the_angle_that_a_lens_focused_close_sees() -> None:
    """50 mm on full frame at m = 1/9, by the thin-lens equation (OpenStax University Physics 3, sec. 2.4).

    s = f (1 + 1/m) = 500 mm, v = f (1 + m) = 55.56 mm: it sees 36 mm / 55.56 mm wide, and so does a 55.6 mm lens at
    full size, 25 m off. At f/4 and 1:50 its pupil is 50 * 12.5 = 625 mm: f/0.0889.
    """
    v = optics.image_distance(0.050, 0.500)
    focal, n = apparent_scale.full_size_lens(v, 0.0125, 50, 0.036)
    assert focal * 1000 == pytest.approx(55.56, abs=0.005)
    assert n == pytest.approx(0.0889, abs=5e-5)
    # Its own image distance, focused at 25 m, is longer than that by 0.2 %: what the docstring calls well under 1 %.
    assert optics.image_distance(focal, 25.0) == pytest.approx(v, rel=0.003)


def test_a_smaller_sensor_at_one_stop_keeps_framing_and_gets_the_pupil() -> None:
    """36 mm wide, 50 mm lens at 500 mm, pupil to become 0.1125 of what it is. By hand, with the thin-lens equation.

    f' = 5.625 mm at the same stop; v' = 5.625 * 500 / 494.375 = 5.689 mm; w' = 36 * 5.689 / 55.556 = 3.69 mm.
    """
    width = apparent_scale.sensor_of_share(0.036, 0.050, 0.500, 0.1125)
    assert width * 1000 == pytest.approx(3.69, abs=0.005)
    # On random cameras from a seed: what is seen at the focus is as wide as it was.
    rng = np.random.default_rng(8)
    for w, f, m, share in rng.uniform([0.005, 0.004, 0.01, 0.01], [0.036, 0.1, 1.0, 1.0], (50, 4)):
        s = float(optics.distance_for_magnification(f, m))
        seen = optics.field_width(w, optics.image_distance(f, s), s)
        small = apparent_scale.sensor_of_share(w, f, s, share)
        assert optics.field_width(small, optics.image_distance(share * f, s), s) == pytest.approx(seen, rel=1e-9)
