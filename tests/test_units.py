"""Quantities against pint (0.25.3), an independent units library, and the refusals a person meets."""

import math
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from previz import units
from previz.units import (
    ANGLE,
    FLUX,
    ILLUMINANCE,
    LENGTH,
    LUMINANCE,
    SHARE,
    SPEED,
    STOPS,
    TEMPERATURE,
    TIME,
    QuantityError,
    UnitMissing,
)

PINT = pint.UnitRegistry()

#: Our unit, and what pint calls it, with the SI unit to compare in.
_AS_PINT = {
    LENGTH: ("m", {"mm": "mm", "cm": "cm", "m": "m", "um": "um", "in": "inch", "ft": "foot", '"': "inch", "'": "foot",
                 "inch": "inch", "inches": "inch", "foot": "foot", "feet": "foot",
                 "″": "inch", "”": "inch", "′": "foot", "’": "foot"}),
    TIME: ("s", {"s": "s", "ms": "ms", "min": "minute", "sec": "s", "second": "s", "seconds": "s", "minute": "minute",
                "minutes": "minute"}),
    ANGLE: ("rad", {"deg": "degree", "°": "degree", "rad": "rad", "degree": "degree", "degrees": "degree"}),
    SPEED: ("m/s", {"m/s": "m/s", "mm/s": "mm/s", "cm/s": "cm/s", "km/h": "km/hour", "mph": "mile/hour",
                    "ft/s": "foot/s", "in/s": "inch/s"}),
    FLUX: ("lm", {"lm": "lm", "klm": "klm", "lumen": "lm", "lumens": "lm", "Lumen": "lm", "Lumens": "lm"}),
    ILLUMINANCE: ("lx", {"lx": "lx", "klx": "klx", "lux": "lux", "fc": "lm/foot**2"}),
    LUMINANCE: ("cd/m**2", {"cd/m2": "cd/m**2", "nit": "nit", "nits": "nit"}),
    TEMPERATURE: ("K", {"K": "K", "kelvin": "kelvin"}),
}  # fmt: skip

#: Longer than Python turns into text, so it cannot be a parameter's id.
_HUGE = 10**5000

_UNITS = [(dimension, unit) for dimension, (_, names) in _AS_PINT.items() for unit in names]


@pytest.mark.parametrize(("dimension", "unit"), _UNITS, ids=lambda each: each if isinstance(each, str) else each.name)
@pytest.mark.parametrize("number", ["1", "0.4", "35", "1234.5", "1e-3"])
def test_every_unit_agrees_with_pint(dimension: units.Dimension, unit: str, number: str) -> None:
    si, names = _AS_PINT[dimension]
    expected = (float(number) * PINT(names[unit])).to(si).magnitude
    # Both convert with one or two roundings of a double.
    assert units.parse(dimension, f"{number} {unit}") == pytest.approx(expected, rel=1e-14)


def test_units_that_pint_is_asked_about_are_all_there_are() -> None:
    same = {"µm", "μm"}  # two ways to type the um that is compared
    for dimension, (_, names) in _AS_PINT.items():
        assert set(dimension.factors) - same == set(names)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("4 ft 7 in", 55),
        ("4' 7\"", 55),
        ("4'7\"", 55),
        ("4ft 7in", 55),
        ("1 1/2 in", Fraction(3, 2)),
        ("3/8 in", Fraction(3, 8)),
        ("-1 1/2 in", -Fraction(3, 2)),
        ("-4 ft 7 in", -55),
        ("1 ft 1 1/2 in", Fraction(27, 2)),
        (".5 in", Fraction(1, 2)),
        ("+2 in", 2),
    ],
)
def test_feet_inches_and_fractions_are_read_as_carpenters_write_them(text: str, inches: float) -> None:
    expected = (float(inches) * PINT.inch).to("m").magnitude
    assert units.parse(LENGTH, text) == pytest.approx(expected, rel=1e-14)


def test_full_size_divides_by_the_scale() -> None:
    assert units.parse(LENGTH, "3.5 m full size", scale=50) == pytest.approx(0.07)
    assert units.parse(LENGTH, "12 ft full-size", scale=48) == pytest.approx((3 * PINT.inch).to("m").magnitude)


def test_a_bare_number_needs_a_meaning() -> None:
    assert units.parse(LENGTH, 35, bare=1e-3) == pytest.approx(0.035)
    assert units.parse(LENGTH, "35", bare=0.0254) == pytest.approx(0.889)
    assert units.parse(SHARE, 0.08, bare=1.0) == 0.08
    assert units.parse(SHARE, "8 %") == pytest.approx(0.08)
    with pytest.raises(UnitMissing, match=r"35 has no unit; write one, such as 35 mm, or say at the top"):
        units.parse(LENGTH, 35)
    with pytest.raises(UnitMissing, match=r"^12 has no unit; write one, such as 12 deg$"):
        units.parse(ANGLE, 12)


@pytest.mark.parametrize(
    ("dimension", "found", "fragment"),
    [
        (LENGTH, "12,5 mm", "use a point for decimals"),
        (LENGTH, "1,400 mm", "nothing between thousands"),
        (LENGTH, "5 furlong", "furlong is not a unit of length; use mm, cm, m, um, in, ft"),
        (LENGTH, "5 lm", "lm is not a unit of length"),
        (LENGTH, "5 MM", "MM is not a unit of length"),
        (LENGTH, "10 20 mm", "is not a length"),
        (LENGTH, "5 -3 mm", "is not a length"),
        (LENGTH, "4 ft -7 in", "is not a length"),
        (LENGTH, "7 in 4 ft", "is not a length"),
        (LENGTH, "4 ft 7", "is not a length"),
        (LENGTH, "1.5 1/2 in", "mixes a decimal with a fraction"),
        (LENGTH, "1 1/0 in", "divides by zero"),
        (TIME, "1/0 s", "divides by zero"),
        (TIME, "1 min 3 s", "is not a time"),
        (LENGTH, "", "nothing is given"),
        (LENGTH, "   ", "nothing is given"),
        (LENGTH, "mm", "is not a length"),
        (LENGTH, "--4 mm", "is not a length"),
        (LENGTH, "1e999 mm", "1e999 mm is not a length; write it like 35 mm"),
        (LENGTH, math.nan, "nan is not a length; write it like 35 mm"),
        (LENGTH, math.inf, "^inf is not a length; write it like 35 mm"),
        (LENGTH, -math.inf, "^-inf is not a length; write it like 35 mm"),
        (LENGTH, "1 400 mm", "nothing between thousands"),
        (LENGTH, "\N{MINUS SIGN}4 mm", "a minus is the - of the keyboard"),
        (LENGTH, "3\N{VULGAR FRACTION ONE HALF} in", "a fraction is written in figures"),
        (LENGTH, "9" * 5000 + " mm", "too long for a length"),
        (LENGTH, True, "true is not a length"),
        (LENGTH, None, "nothing is not a length"),
        (LENGTH, [1, 2], "a list of 2 is not a length"),
        (LENGTH, {"mm": 3}, r"a group of keys \(mm\) is not a length"),
        (LENGTH, "3.5 m full size", "only a length on the set"),
        (SPEED, "90 km/h full size", "only a length on the set"),
        (LENGTH, "nan mm", "is not a length"),
        (LENGTH, "0x10 mm", "is not a length|is not a unit"),
        (LENGTH, "٣ mm", "is not a length"),
    ],
)
def test_what_is_not_a_quantity_is_refused_with_advice(
    dimension: units.Dimension, found: object, fragment: str
) -> None:
    with pytest.raises(QuantityError, match=fragment) as caught:
        units.parse(dimension, found, bare=1e-3 if dimension is LENGTH else None)
    assert len(str(caught.value)) < 250


def test_a_number_too_long_to_show_is_refused_everywhere() -> None:
    for read in (units.f_number, units.scale_of, units.frame_rate, lambda found: units.parse(LENGTH, found, bare=1e-3)):
        with pytest.raises(QuantityError, match="a number too long to show is not"):
            read(_HUGE)


@pytest.mark.parametrize("number", ["9", "-3", "1 1/2", "1/2", "1e3", ".5"])
def test_a_full_size_length_needs_its_own_unit(number: str) -> None:
    with pytest.raises(QuantityError, match="a full-size length always needs one"):
        units.parse(LENGTH, f"{number} full size", bare=1e-3, scale=50)


def test_what_is_shown_is_safe_for_a_terminal() -> None:
    assert units.shown("\x1b[31mred\u202e") == "\\x1b[31mred\\u202e"
    assert units.shown("a\nb") == "a\\nb"


# --- round trips ---

_LENGTH_UNITS = st.sampled_from(LENGTH.unit_names)


@given(st.floats(-1e6, 1e6, allow_subnormal=False), _LENGTH_UNITS)
def test_a_number_written_in_full_comes_back(number: float, unit: str) -> None:
    si = units.parse(LENGTH, f"{number!r} {unit}")
    assert si / LENGTH.factors[unit] == pytest.approx(number, rel=1e-15, abs=1e-300)


@given(st.floats(1e-6, 1e4), _LENGTH_UNITS)
def test_text_of_is_read_back_to_four_digits(metres: float, unit: str) -> None:
    # Half a unit in the fourth digit: 5e-4 of the value at most.
    assert units.parse(LENGTH, units.text_of(LENGTH, metres, unit)) == pytest.approx(metres, rel=5.1e-4)
    assert units.parse(LENGTH, units.text_of(LENGTH, metres)) == pytest.approx(metres, rel=5.1e-4)


@given(st.sampled_from([TIME, ANGLE, SPEED, FLUX, ILLUMINANCE, SHARE, STOPS]), st.floats(1e-3, 1e3))
def test_text_of_other_quantities_is_read_back(dimension: units.Dimension, value: float) -> None:
    # A time near 1/n s is shown as that, 1 % of a unit of n at most; for n of 4 and more that is 0.25 %.
    tolerance = 2.6e-3 if dimension is TIME else 5.1e-4
    assert units.parse(dimension, units.text_of(dimension, value)) == pytest.approx(value, rel=tolerance)


@given(st.integers(0, 200), st.integers(0, 11), st.integers(1, 63))
def test_feet_and_inches_add_up(feet: int, inches: int, sixty_fourths: int) -> None:
    text = f"{feet} ft {inches} {sixty_fourths}/64 in"
    exact = (Fraction(feet * 12 + inches) + Fraction(sixty_fourths, 64)) * Fraction("0.0254")
    assert units.parse(LENGTH, text) == pytest.approx(float(exact), rel=1e-14)


@given(st.text(max_size=40))
def test_any_text_is_a_length_or_a_clear_refusal(text: str) -> None:
    try:
        assert math.isfinite(units.parse(LENGTH, text, bare=1e-3, scale=50))
    except QuantityError as error:
        assert str(error).isprintable()


# --- f-numbers, scales, rates ---


@pytest.mark.parametrize("text", ["f/5.6", "F/5.6", "f / 5.6", "5.6", 5.6])
def test_f_numbers_as_photographers_write_them(text: object) -> None:
    assert units.f_number(text) == 5.6


@pytest.mark.parametrize(
    "found", ["f5.6", "5.6 mm", 0, "f/0", -4, True, None, "f/5,6", math.nan, math.inf, "1:1.8", [], 300]
)
def test_what_is_not_an_f_number_is_refused(found: object) -> None:
    with pytest.raises(QuantityError, match=r"f/5\.6|from f/0\.5 to f/256"):
        units.f_number(found)


@pytest.mark.parametrize("found", [50, "50", "2/50", "1:0", "1:0.5", "1:2001", "2:1", True, None, "1:" + "9" * 5000])
def test_what_is_not_a_scale_is_refused(found: object) -> None:
    with pytest.raises(QuantityError, match="write it like 1:50"):
        units.scale_of(found)


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        # SMPTE names (from memory): the rounded decimal stands for the whole number over 1.001.
        ("23.976 fps", Fraction(24000, 1001)),
        ("23.98", Fraction(24000, 1001)),
        (29.97, Fraction(30000, 1001)),
        ("29.970 fps", Fraction(30000, 1001)),
        ("47.952", Fraction(48000, 1001)),
        ("59.94fps", Fraction(60000, 1001)),
        ("119.88 fps", Fraction(120000, 1001)),
        ("239.76 fps", Fraction(240000, 1001)),
        ("30000/1001 fps", Fraction(30000, 1001)),
        ("24 fps", Fraction(24)),
        (25, Fraction(25)),
        ("12.5 fps", Fraction(25, 2)),
        ("24.00", Fraction(24)),
        ("30.0 fps", Fraction(30)),
    ],
)
def test_nominal_rates_are_exact(text: object, rate: Fraction) -> None:
    assert units.frame_rate(text) == rate


@pytest.mark.parametrize("found", [0, 0.5, "1/0", 2001, "-24", "24 Hz", True, None, "29,97 fps", math.nan, math.inf])
def test_what_is_not_a_rate_is_refused(found: object) -> None:
    with pytest.raises(QuantityError, match="frame rate"):
        units.frame_rate(found)
