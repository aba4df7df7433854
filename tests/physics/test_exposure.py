"""Exposure against colour-hdri and printed values."""

import math
from itertools import pairwise

import numpy as np
import pytest

from previz.physics import exposure, optics


def test_q_factor_of_iso_12232() -> None:
    # colour-hdri 0.2.6 doctest citing ISO 12232:2006: 0.6515748; standard itself not seen
    hdri = pytest.importorskip("colour_hdri")
    assert pytest.approx(0.6515748, abs=5e-8) == exposure.Q_FACTOR
    assert float(hdri.exposure.dsc.q_factor()) == pytest.approx(exposure.Q_FACTOR, rel=1e-6)


def test_focal_plane_exposure() -> None:
    # colour-hdri 0.2.6, dsc.py doctest line 208: 0.1628937 lx s
    assert exposure.focal_plane_exposure(4000, 1 / 250, 8) == pytest.approx(0.1628937, abs=5e-8)


def test_focusing_close_costs_light_once() -> None:
    # colour-hdri 0.2.6 run with i = 55.556 mm: 0.1319439 lx s
    n = exposure.working_f_number(8, optics.magnification(0.050, 0.500))
    assert exposure.focal_plane_exposure(4000, 1 / 250, n) == pytest.approx(0.1319439, abs=5e-8)


@pytest.mark.parametrize("luminance,n,time,focal,s", [(4000, 8, 1 / 250, 50, 500), (35, 2.8, 1 / 240, 20, 180)])
def test_focal_plane_exposure_agrees_with_colour_hdri(
    luminance: float, n: float, time: float, focal: float, s: float
) -> None:
    # The same call on an independent library, colour-hdri 0.2.6, run here; lengths in mm there
    hdri = pytest.importorskip("colour_hdri")
    theirs = hdri.focal_plane_exposure(
        L=luminance, A=n, t=time, F=focal * 1e-3, i=optics.image_distance(focal, s) * 1e-3, H_f=0
    )
    ours = exposure.focal_plane_exposure(luminance, time, exposure.working_f_number(n, optics.magnification(focal, s)))
    assert ours == pytest.approx(float(theirs), rel=1e-6)


def test_level_at_iso_400() -> None:
    # colour-hdri 0.2.6, dsc.py doctest line 297: H = 0.1643937 lx s at ISO 400 is 0.8430447 of saturation. H is printed
    # to 5e-8 lx s, which is 2.6e-7 of saturation.
    assert exposure.level_of(0.1643937, 400) == pytest.approx(0.8430447, abs=3e-7)


def test_grey_records_where_the_exposure_index_puts_it() -> None:
    # colour-hdri 0.2.6, `exposure_index_values`, run (ISO 12232:2006, 10 / H): a card metered at ISO 400 puts 10 / 400
    # lx s on the sensor. At that ISO 78 / 400 fill it, which leaves white half a stop of headroom: 0.18 / sqrt(2) of it
    # is grey, as quoted there. 10 and 78 are rounded, so both agree to 1 % only.
    hdri = pytest.importorskip("colour_hdri")
    metered = 10 / 400
    assert float(hdri.exposure_index_values(metered)) == pytest.approx(400)
    assert exposure.level_of(metered, 400) == pytest.approx(exposure.GREY_LEVEL, rel=0.01)


def test_the_iso_found_for_grey_records_grey() -> None:
    iso = exposure.iso_for_grey(800, 1 / 240, 6.2)
    card = exposure.focal_plane_exposure(exposure.luminance_of(800), 1 / 240, 6.2)
    assert exposure.level_of(card, iso) == pytest.approx(0.18 / math.sqrt(2), rel=1e-12)


def test_the_iso_for_grey_agrees_with_an_incident_meter() -> None:
    # 2.5 lx at EV 0 with C = 250, ISO 100 (Wikipedia "Exposure value", table 3, seen). 40960 lx is EV 14: f/16 at
    # 1/64 s. A meter aims at the card's 10/S of focal-plane exposure with its own constants, so the two agree to the
    # choice of C and K, which ISO 2720 leaves open by 0.74 stop (C = 240..400): a third of a stop here.
    iso = exposure.iso_for_grey(40960, 1 / 64, 16)
    assert abs(math.log2(iso / 100)) < 1 / 3


@pytest.mark.parametrize("lux,time,stop", [(800, 1 / 240, 6.2), (40960, 1 / 64, 16), (90, 1 / 48, 1.8)])
def test_the_iso_for_grey_is_that_of_a_flat_receptor(lux: float, time: float, stop: float) -> None:
    # C = E t S / N^2 is 240 to 400 for a flat receptor and 320 to 540 for a hemispherical one: ISO 2720:1974, as quoted
    # in colour-hdri 0.2.6. A set is measured flat, so the constant must be in the first range and not in the second.
    constant = lux * time * exposure.iso_for_grey(lux, time, stop) / stop**2
    assert 240 <= constant < 320


def test_more_of_anything_needs_less_iso() -> None:
    base = exposure.iso_for_grey(1000, 1 / 48, 5.6)
    assert exposure.iso_for_grey(2000, 1 / 48, 5.6) == pytest.approx(base / 2)
    assert exposure.iso_for_grey(1000, 1 / 24, 5.6) == pytest.approx(base / 2)
    assert exposure.iso_for_grey(1000, 1 / 48, 11.2) == pytest.approx(base * 4)


def test_no_iso_makes_a_picture_of_darkness() -> None:
    with pytest.raises(ValueError, match=r"0 lx in 0\.02 s; both must be above zero"):
        exposure.iso_for_grey(0.0, 0.02, 8)


def test_exposure_values() -> None:
    # Wikipedia "Exposure value": EV 0 is f/1 at 1 s, f/16 at 1/125 s is EV 15 by name, 14.966 exactly: seen.
    # Wikipedia "Sunny 16 rule": f/11 at 1/250 matches it: seen.
    assert exposure.exposure_value(1, 1) == 0
    assert exposure.exposure_value(16, 1 / 125) == pytest.approx(14.966, abs=5e-4)
    assert exposure.exposure_value(11, 1 / 250) == pytest.approx(14.966, abs=0.1)


def test_isos_are_third_stops() -> None:
    # Common practice, no source: names are rounded; the worst, 12 for 12.5, is 0.18 of a third stop out.
    for number, iso in enumerate(exposure.THIRD_STOP_ISOS):
        thirds = 3 * math.log2(iso / 100)
        assert thirds == pytest.approx(number - exposure.THIRD_STOP_ISOS.index(100), abs=0.18)
        assert exposure.nearest_third_stop(iso) == iso


def test_arrays_go_through() -> None:
    levels = exposure.level_of(exposure.focal_plane_exposure(np.array([10.0, 20.0]), 0.02, 4.0), 100)
    assert levels[1] == 2 * levels[0]


def test_grey_lies_a_third_of_a_stop_from_what_reflected_light_meters_aim_at() -> None:
    # K = L S t / N^2 is 12.5 in common use (as quoted in Wikipedia "Exposure value"), 10.6 to 13.4 by ISO 2720
    # (from memory). ISO 12232 puts a metered card at 10 / S, so K = 10 / q = 15.3, 0.3 stop over 12.5; ours must be
    # that.
    iso = exposure.iso_for_grey(math.pi * 1000 / exposure.GREY_CARD, 1 / 50, 8)
    ours = 1000 * iso * (1 / 50) / 8**2
    assert ours == pytest.approx(10 / exposure.Q_FACTOR, rel=0.01)
    assert math.log2(ours / 12.5) == pytest.approx(0.3, abs=0.02)
    assert max(abs(math.log2(ours / k)) for k in (10.6, 13.4)) < 0.55


def test_shutters_in_remedies_are_thirds_of_a_stop_apart() -> None:
    """From 1/15 s on each is within a twelfth of a stop of 2^(n/3), as the names of a dial round them."""
    steps = [parts for parts in exposure.THIRD_STOP_SHUTTERS if parts >= 15]
    ratios = [math.log2(later / one) for one, later in pairwise(steps)]
    assert all(abs(ratio - 1 / 3) < 1 / 12 + 1e-9 for ratio in ratios)
    for parts in range(2, 8000, 37):
        assert exposure.shutter_within(1 / parts) >= parts
        assert (exposure.shutter_beyond(1 / parts, 1.0) or 0) <= parts
