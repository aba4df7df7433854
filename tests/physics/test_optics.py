"""The thin lens against printed textbook answers and scipy."""

import math

import numpy as np
import pytest

from previz.physics import optics
from previz.physics.exposure import working_f_number
from previz.scene import SENSOR_FORMATS

# --- the thin lens ---


def test_image_distance_and_size_of_an_object_at_five_focal_lengths() -> None:
    # OpenStax University Physics 3 sec. 2.4, example, 12.5 cm, m = -0.250, 0.75 cm: seen. Textbook m is our -m.
    assert optics.image_distance(0.100, 0.500) == pytest.approx(0.125, rel=1e-12)
    assert -optics.magnification(0.100, 0.500) == pytest.approx(-0.250, rel=1e-12)
    assert optics.magnification(0.100, 0.500) * 3.0 == pytest.approx(0.75, rel=1e-12)


def test_an_object_inside_the_focal_length_and_one_at_twice_it() -> None:
    # OpenStax University Physics 3 sec. 2.4, same example, parts b and c: seen
    assert optics.image_distance(0.100, 0.050) == pytest.approx(-0.100, rel=1e-12)
    assert -optics.magnification(0.100, 0.050) == pytest.approx(2.00, rel=1e-12)
    assert optics.image_distance(0.100, 0.200) == pytest.approx(0.200, rel=1e-12)
    assert -optics.magnification(0.100, 0.200) == pytest.approx(-1.00, rel=1e-12)


def test_close_up_with_the_lens_33_mm_from_the_film() -> None:
    # OpenStax College Physics 2e sec. 25.6, printed 6.60 cm and -0.500: seen
    distance = optics.object_distance(0.0220, 0.0330)
    assert distance == pytest.approx(0.0660, rel=1e-12)
    assert -optics.magnification(0.0220, distance) == pytest.approx(-0.500, rel=1e-12)


def test_a_projector_is_framing_run_backwards() -> None:
    # OpenStax College Physics 2e sec. 25.6, printed 3.43 m and 0.800 x 1.20 m for a 24 x 36 mm frame: seen
    screen = optics.object_distance(0.100, 0.103)
    assert screen == pytest.approx(3.43, abs=0.005)
    assert optics.field_width(0.024, 0.103, screen) == pytest.approx(0.800, rel=1e-9)
    assert optics.field_width(0.036, 0.103, screen) == pytest.approx(1.200, rel=1e-9)


def test_a_phone_lens_hardly_moves_to_focus() -> None:
    # OpenStax University Physics 3 sec. 2.6, 5.05 and 5.005 mm: seen
    assert optics.image_distance(0.005, 0.5) * 1000 == pytest.approx(5.05, abs=0.005)
    assert optics.image_distance(0.005, 5.0) * 1000 == pytest.approx(5.005, abs=0.0005)


def test_a_50_mm_lens_on_film_at_51_mm() -> None:
    # OpenStax College Physics 2e sec. 25.6, problem seen, answer by hand: 2.550 m, an object of 1.000 m from 2.00 cm
    distance = optics.object_distance(0.050, 0.051)
    assert distance == pytest.approx(2.550, rel=1e-9)
    assert 0.0200 / optics.magnification(0.050, distance) == pytest.approx(1.000, rel=1e-9)


def test_hyperfocal_distance() -> None:
    # Wikipedia "Hyperfocal distance", timeline data 10467 mm and near limit 5233 mm: seen
    hyperfocal = optics.hyperfocal_distance(0.050, 8, 0.03e-3)
    assert hyperfocal * 1000 == pytest.approx(10467, abs=1)
    near, far = optics.depth_of_field(0.050, 8, hyperfocal, 0.03e-3)
    assert near * 1000 == pytest.approx(5233, abs=1)
    # Exactly at H the far limit is infinity; floating point may leave it merely astronomical.
    assert far > 1e9
    assert optics.depth_of_field(0.050, 8, hyperfocal * 1.0001, 0.03e-3)[1] == math.inf


def test_focus_at_half_the_hyperfocal_distance() -> None:
    # Exact thin-lens limits 3494.5 and 10416.7 mm, by hand (Wikipedia prints the approximate 3489..10467)
    near, far = optics.depth_of_field(0.050, 8, optics.hyperfocal_distance(0.050, 8, 0.03e-3) / 2, 0.03e-3)
    assert near * 1000 == pytest.approx(3494.5, abs=0.05)
    assert far * 1000 == pytest.approx(10416.7, abs=0.05)


def test_blur_disc_of_a_50_mm_lens() -> None:
    # Formula of Wikipedia "Circle of confusion", seen; numbers run. Mitsuba 3.9.1's thin lens came within 0.5 % of the
    # first on a knife edge.
    assert optics.circle_of_confusion(0.050, 2.8, 0.5, 1.0) * 1000 == pytest.approx(0.99206, abs=5e-6)
    assert optics.circle_of_confusion(0.050, 2.8, 0.5, math.inf) * 1000 == pytest.approx(1.98413, abs=5e-6)


def test_blur_is_the_blur_limit_at_the_limits_of_depth_of_field() -> None:
    # Exact thin-lens geometry, by hand: 479.294, 522.575, in all 43.281 mm
    near, far = optics.depth_of_field(0.050, 8, 0.5, 0.03e-3)
    assert near * 1000 == pytest.approx(479.294, abs=5e-4)
    assert far * 1000 == pytest.approx(522.575, abs=5e-4)
    assert (far - near) * 1000 == pytest.approx(43.281, abs=5e-4)
    for limit in (near, far):
        assert optics.circle_of_confusion(0.050, 8, 0.5, limit) == pytest.approx(0.03e-3, rel=1e-9)
    # The close-up approximation 2 N c (1 + m) / m^2 = 43.200 mm (from memory) is that near to it.
    m = optics.magnification(0.050, 0.5)
    assert 2 * 8 * 0.03e-3 * (1 + m) / m**2 == pytest.approx(far - near, rel=0.003)


def test_working_f_number_of_life_size_costs_two_stops() -> None:
    # Wikipedia "F-number" citing SPIE FG01 p. 29 (book not seen); question-and-answer text as quoted
    assert 2 * math.log2(working_f_number(8, 1.0) / 8) == pytest.approx(2.0, rel=1e-12)
    assert working_f_number(8, 1.0, pupil_magnification=0.5) == 24
    assert working_f_number(8, -0.25) == 10  # a textbook's sign changes nothing


def test_close_up_exposure_factor_of_half_life_size() -> None:
    # Photography textbook, doi 10.4324/9780080494012-22: factor 2.25, half a second becomes 1.125 s: seen
    magnification = 0.5
    factor = (working_f_number(16, magnification) / 16) ** 2
    assert factor * 0.5 == pytest.approx(1.125, rel=1e-12)
    assert math.log2(factor) == pytest.approx(1.170, abs=5e-4)
    assert optics.distance_for_magnification(0.080, magnification) == pytest.approx(0.240, rel=1e-12)


def test_airy_coefficient_is_the_first_zero_of_j1() -> None:
    # scipy.special.jn_zeros 1.17.1 run here: 2.439340
    special = pytest.importorskip("scipy.special")
    assert pytest.approx(2 * special.jn_zeros(1, 1)[0] / math.pi, rel=1e-12) == optics.AIRY_COEFFICIENT
    assert pytest.approx(2.439340, abs=5e-7) == optics.AIRY_COEFFICIENT


def test_diffraction_blurs_as_the_disc_that_leaves_as_much_contrast() -> None:
    """MTF50 of a disc (scipy's J1) and of the numerical pupil below; in focus, at random stops from a seed."""
    special, optimize = pytest.importorskip("scipy.special"), pytest.importorskip("scipy.optimize")
    half = optimize.brentq(lambda x: 2 * special.j1(x) / x - 0.5, 1, 3, xtol=1e-14)
    # Goodman, Introduction to Fourier Optics, ch. 6, OTF of a round pupil without aberration: from memory.
    nu = optimize.brentq(lambda v: 2 / math.pi * (math.acos(v) - v * math.sqrt(1 - v * v)) - 0.5, 0.1, 0.9, xtol=1e-14)
    assert pytest.approx(half / math.pi / nu, rel=1e-12) == optics.DIFFRACTION_COEFFICIENT
    for n in np.random.default_rng(5).uniform(1.4, 32, 20):
        assert optics.diffraction_disc(n) == pytest.approx(_disc_of_equal_contrast(0.0, n, 550e-9), rel=0.003)
    # By hand: 1.745 * 0.55 um * 17.6 = 16.9 um, at f/16 and a tenth of life size
    assert optics.diffraction_disc(working_f_number(16, 0.1)) * 1e6 == pytest.approx(16.9, abs=0.05)


def _disc_of_equal_contrast(defocus: float, n: float, wavelength: float) -> float:
    """Diameter of the uniform disc with the MTF50 of a defocused round pupil, by FFT of its pupil function. [m]

    The OTF is the autocorrelation of the pupil function, whose phase at the rim is W20 = c / (8 N) for a blur disc of
    diameter c. Source: Goodman, Introduction to Fourier Optics, ch. 6, OTF of a focusing error: from memory.
    """
    optimize, special = pytest.importorskip("scipy.optimize"), pytest.importorskip("scipy.special")
    across, size = 256, 512
    x = (np.arange(across) + 0.5) / across * 2 - 1
    r2 = x[:, None] ** 2 + x**2
    pupil = np.where(r2 <= 1, np.exp(2j * math.pi * defocus / (8 * n * wavelength) * r2), 0)
    spread = np.abs(np.fft.fft2(pupil, (size, size))) ** 2
    otf = np.abs(np.fft.ifft(spread.sum(axis=0)))[:across]  # a slice of the OTF: the sum over the other axis
    mtf = otf / otf[0]
    below = int(np.argmax(mtf < 0.5))
    at = below - (0.5 - mtf[below]) / (mtf[below - 1] - mtf[below])  # in samples; `across` of them is 1 / (lambda N)
    half = optimize.brentq(lambda x: 2 * special.j1(x) / x - 0.5, 1, 3)
    return float(half / math.pi / (at / across) * wavelength * n)


def test_defocus_and_diffraction_add_by_cubes_at_any_defocus() -> None:
    """Against the numerical OTF of a defocused pupil, at random stops, colours and defocus from a seed.

    From an eighth of the diffraction disc to sixteen times it: cubes within 3 %, as the docstring says.
    """
    rng = np.random.default_rng(9)
    cubes, squares = [], []
    for _ in range(150):
        n, wavelength = float(np.exp(rng.uniform(math.log(1.4), math.log(32)))), rng.uniform(420e-9, 680e-9)
        diffraction = optics.diffraction_disc(n, wavelength)
        defocus = diffraction * 2 ** rng.uniform(-3, 4)
        true = _disc_of_equal_contrast(defocus, n, wavelength)
        cubes.append(optics.blur_together(defocus, diffraction) / true - 1)
        squares.append(math.hypot(defocus, diffraction) / true - 1)
    assert -0.02 < min(cubes) < max(cubes) < 0.03
    # Why not by squares: where the two are about alike these are an eighth too large.
    assert 0.12 < max(squares) < 0.14


def test_what_diffraction_leaves_for_defocus_is_the_inverse_of_both_together() -> None:
    defocus, diffraction = 7e-6, 4e-6
    both = optics.blur_together(defocus, diffraction)
    assert optics.defocus_allowed(both, diffraction) == pytest.approx(defocus, rel=1e-9)
    # One-inch at f/256: 1.7454 * 0.55 um * 256 = 246 um, and some 10 um count as sharp.
    assert optics.defocus_allowed(10.6e-6, float(optics.diffraction_disc(256))) == 0.0
    # One-inch at f/8: 1.7454 * 0.55 um * 8 = 7.68 um, which leaves (10.6^3 - 7.68^3)^(1/3) = 9.04 um, by hand.
    assert optics.defocus_allowed(10.6e-6, float(optics.diffraction_disc(8))) == pytest.approx(9.04e-6, rel=1e-3)


def test_the_stops_between_which_a_point_is_sharp() -> None:
    """On random lenses from a seed, against scipy's root finder on the sum by cubes."""
    brentq = pytest.importorskip("scipy.optimize").brentq
    rng = np.random.default_rng(90)
    for c1, a1, limit in np.exp(rng.uniform(np.log([1e-6, 1e-6, 3e-6]), np.log([1e-3, 2e-6, 5e-5]), (300, 3))):
        ends = optics.sharp_f_numbers(c1, a1, limit)
        turn = math.sqrt(c1 / a1)  # where the sum is least: both are alike

        def over(n: float, c1: float = c1, a1: float = a1, limit: float = limit) -> float:
            return float(((c1 / n) ** 3 + (a1 * n) ** 3) ** (1 / 3)) - limit

        assert (ends is None) == (over(turn) > 0)
        if ends is not None:
            expected = brentq(over, 1e-3 * turn, turn), brentq(over, turn, 1e3 * turn)
            assert ends == pytest.approx(expected, rel=1e-6)


def test_a_tape_from_the_sensor_reads_more_than_the_lens_distance() -> None:
    # Textbooks measure from the lens, tapes from the sensor. f = 50 mm: 500 mm from the lens are 555.56 mm, by hand.
    assert optics.sensor_to_subject(0.050, 0.500) * 1000 == pytest.approx(555.56, abs=0.005)


# --- sensor formats ---


def test_angles_of_view_of_the_135_frame() -> None:
    # 24 x 36 mm, AS ISO 20954.1:2019, 3.5, excerpt seen; 39.60 / 26.99 / 46.79 deg at 50 mm by hand, 2 atan(d / 2f)
    for side, degrees in ((36, 39.60), (24, 26.99), (math.hypot(36, 24), 46.79)):
        assert math.degrees(optics.field_of_view(side / 1000, 0.050)) == pytest.approx(degrees, abs=0.005)


@pytest.mark.parametrize("focal,horizontal,vertical", [(25, 52.0, 37.0), (100, 13.8, 9.6)])
def test_angles_of_view_of_a_film_gate(focal: float, horizontal: float, vertical: float) -> None:
    # VES Handbook, table A.1, seen. Its row of 50 mm, 27.0 by 18.8 degrees, says how large the gate is; the other rows
    # must follow from that. The table is rounded and its rows imply gates 23.7 to 24.4 mm wide, hence 3 %.
    width, height = (2 * 50 * math.tan(math.radians(angle / 2)) for angle in (27.0, 18.8))
    assert math.degrees(optics.field_of_view(width, focal)) == pytest.approx(horizontal, rel=0.03)
    assert math.degrees(optics.field_of_view(height, focal)) == pytest.approx(vertical, rel=0.03)


def test_a_crop_factor_keeps_the_angle_of_view() -> None:
    # Wikipedia "Image sensor format", a row of 1.28 x 0.96 mm: diagonal 1.60 mm, crop 27.04: seen
    small, crop = math.hypot(1.28, 0.96) / 1000, 27.04
    assert small * 1000 == pytest.approx(1.60, abs=1e-9)
    full = optics.field_of_view(math.hypot(36, 24) / 1000, 0.050)
    assert optics.field_of_view(small, 0.050 / crop) == pytest.approx(full, rel=2e-4)


def test_sensor_formats_have_the_diagonals_of_their_names() -> None:
    # 24 x 36 mm: AS ISO 20954.1:2019, 3.5, excerpt seen. One-inch about 16 mm: Wikipedia "Image sensor format", seen.
    # The other sizes and diagonals are from memory. By the same article, seen, "1 inch" of a type stands for about
    # 16 mm of diagonal, and phone types are not standardised: only that name and diagonal go together is looked at.
    for name, diagonal, within in (("full frame", 43.27, 0.005), ("1-inch", 15.86, 0.005), ("4/3-type", 21.64, 0.005),
                                   ("APS-C", 28.29, 0.005), ("APS-C small", 26.82, 0.02), ("1/2.3-type", 7.67, 0.005),
                                   ("1-inch", 16, 0.01)):  # fmt: skip
        assert math.hypot(*SENSOR_FORMATS[name]) * 1000 == pytest.approx(diagonal, rel=within)
    for name, size in SENSOR_FORMATS.items():
        if name.endswith("-type") and name != "4/3-type":
            top, bottom = name.removesuffix("-type").split("/")
            assert math.hypot(*size) * 1000 == pytest.approx(16 * float(top) / float(bottom), rel=0.12), name


def test_a_trade_size_gives_the_sides_of_a_sensor_about() -> None:
    # 1/3-type sensors of 4.8 by 3.6 mm, 1/2-type ones of 6.4 by 4.8 mm, 1/1.28-type ones of about 9.8 by 7.3 mm: as
    # commonly tabulated, from memory.
    for size, sides in ((1 / 3, (4.8, 3.6)), (1 / 2, (6.4, 4.8)), (1 / 1.28, (9.8, 7.3))):
        assert optics.sensor_sides(size) == pytest.approx([side / 1000 for side in sides], rel=0.04)
    for name, size in SENSOR_FORMATS.items():
        if name.endswith("-type"):
            over, under = name.removesuffix("-type").split("/")
            assert math.hypot(*optics.sensor_sides(float(over) / float(under))) == pytest.approx(
                math.hypot(*size), rel=0.04
            ), name


# --- what a backdrop must cover ---


def test_the_view_at_the_focus_and_at_the_backdrop_behind_it() -> None:
    # Thin-lens geometry by hand, 36 x 24 mm at 50 mm: 324.0 x 216.0 mm at 500 mm, 583.2 x 388.8 mm at 900 mm
    v = optics.image_distance(0.050, 0.5)
    assert optics.field_width(0.036, v, 0.5) * 1000 == pytest.approx(324.0, abs=0.05)
    assert optics.field_width(0.024, v, 0.5) * 1000 == pytest.approx(216.0, abs=0.05)
    assert optics.field_width(0.036, v, 0.9) * 1000 == pytest.approx(583.2, abs=0.05)
    assert optics.field_width(0.024, v, 0.9) * 1000 == pytest.approx(388.8, abs=0.05)


# --- closures, limits, mistakes ---


def test_arrays_go_through() -> None:
    distances = np.array([0.4, 0.5, 0.6, np.inf])
    blur = optics.circle_of_confusion(0.050, 2.8, 0.5, distances)
    assert blur[1] == 0
    assert blur[2] * 1000 == pytest.approx(0.3307, abs=5e-5)  # by hand: 50/2.8 * 100/600 * 1/9 mm
    assert optics.field_of_view(np.array([0.036, 0.024]), 0.05).shape == (2,)


def test_image_and_object_distance_undo_each_other() -> None:
    for s in (0.06, 0.5, 40.0):
        assert optics.object_distance(0.050, optics.image_distance(0.050, s)) == pytest.approx(s, rel=1e-9)


def test_focus_inside_the_focal_length_is_refused() -> None:
    with pytest.raises(ValueError, match="40 mm is not beyond the focal length of 50 mm"):
        optics.circle_of_confusion(0.050, 2.8, 0.040, 1.0)
    with pytest.raises(ValueError, match="no lens makes an image"):
        optics.depth_of_field(0.050, 2.8, 0.050, 1e-5)


def test_at_one_framing_and_stop_a_smaller_sensor_has_more_depth_of_field() -> None:
    # Common practice, no source. Full frame, APS-C, one-inch, phone; same width of view at the same distance and stop,
    # blur limit the same share of each format (diagonal over 1500).
    depths = []
    for width in (0.0360, 0.0236, 0.0132, 0.0056):
        m = width / 0.324
        focal = 0.5 * m / (1 + m)
        near, far = optics.depth_of_field(focal, 5.6, 0.5, width / 1250)
        depths.append(far - near)
    assert depths == sorted(depths)
    assert depths[-1] > 4 * depths[0]


def test_stopping_down_trades_defocus_for_diffraction() -> None:
    # Common practice, no source.
    stops = np.array([2.8, 4, 5.6, 8, 11, 16, 22])
    defocus = optics.circle_of_confusion(0.020, stops, 0.4, 0.42)
    diffraction = optics.diffraction_disc(working_f_number(stops, optics.magnification(0.020, 0.4)))
    assert np.all(np.diff(defocus) < 0)
    assert np.all(np.diff(diffraction) > 0)
