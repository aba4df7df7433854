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


def test_a_viewer_who_assumes_the_true_pupil_finds_the_true_distance() -> None:
    # Held et al. 2010, doi 10.1145/1731047.1731057, its formula as quoted; run backwards
    z1 = np.array([0.3, 0.6, 2.0])
    blur = optics.blur_angle(0.004, 0.5, z1)
    assert apparent_scale.implied_distance(blur, z1 / 0.5, assumed_pupil=0.004) == pytest.approx(np.full(3, 0.5))


def test_the_implied_share_is_the_implied_distance_over_full_size() -> None:
    # The same model by the other road: implied z0 over the full-size z0 = S * 0.5 m.
    pupil, scale = 0.00325, 50
    implied = apparent_scale.implied_distance(optics.blur_angle(pupil, 0.5, 0.8), 0.8 / 0.5)
    assert apparent_scale.implied_share(pupil, scale) == pytest.approx(implied / (scale * 0.5), rel=1e-12)


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
