"""Quantities as people write them, turned into SI once, at the door.

A quantity is text such as ``35 mm``, ``4 ft 7 in``, ``1/120 s``, ``1 1/2 in`` or ``3.5 m full size``.
The factors are exact by definition (the international inch is 25.4 mm, 1959); `tests/test_units.py`
compares them with pint.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction


class QuantityError(ValueError):
    """The text is not such a quantity; the message says what was found, what is allowed, what to do."""


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity: its name, the factor of each unit to SI, and an example to show people."""

    name: str
    factors: Mapping[str, float]
    example: str


LENGTH = Dimension(
    "length",
    {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "um": 1e-6, "µm": 1e-6, "in": 0.0254, '"': 0.0254, "ft": 0.3048, "'": 0.3048},
    "35 mm",
)
TIME = Dimension("time", {"s": 1.0, "ms": 1e-3, "min": 60.0}, "1/120 s")
ANGLE = Dimension("angle", {"deg": math.pi / 180, "°": math.pi / 180, "rad": 1.0}, "12 deg")
SPEED = Dimension(
    "speed",
    {"m/s": 1.0, "mm/s": 1e-3, "cm/s": 1e-2, "km/h": 1 / 3.6, "mph": 0.44704, "ft/s": 0.3048, "in/s": 0.0254},
    "0.9 m/s",
)
FLUX = Dimension("light output", {"lm": 1.0, "klm": 1000.0}, "800 lm")
ILLUMINANCE = Dimension("illuminance", {"lx": 1.0, "klx": 1000.0, "lux": 1.0, "fc": 1 / 0.3048**2}, "20 lx")
LUMINANCE = Dimension("luminance", {"cd/m2": 1.0, "nit": 1.0, "nits": 1.0}, "150 cd/m2")
TEMPERATURE = Dimension("colour temperature", {"K": 1.0, "kelvin": 1.0}, "5600 K")
STOPS = Dimension("stops", {"stop": 1.0, "stops": 1.0, "EV": 1.0}, "1 stop")
SHARE = Dimension("share", {"%": 0.01, "percent": 0.01}, "8 %")
MASS = Dimension("mass", {"g": 1e-3, "kg": 1.0, "oz": 0.028349523125}, "45 g")

_NUMBER = r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?"
_PART = re.compile(
    rf"\s*(?P<whole>{_NUMBER})(?:\s+(?P<over>\d+/\d+)|/(?P<under>\d+(?:\.\d+)?))?\s*(?P<unit>[^\d\s+-][^\s\d]*2?)?"
)


def parse(dimension: Dimension, found: object, *, bare: float | None = None, scale: float | None = None) -> float:
    """Read one quantity and return it in SI.

    Parameters
    ----------
    dimension : Dimension
        What kind of quantity is wanted.
    found : object
        Text, or a bare number.
    bare : float or None
        The factor a bare number is multiplied with; None makes a bare number an error.
    scale : float or None
        S of a 1:S model; makes ``full size`` after the unit allowed, which divides by S.

    Raises
    ------
    QuantityError

    Examples
    --------
    >>> round(parse(LENGTH, "4 ft 7 in"), 6)
    1.397
    >>> round(parse(TIME, "1/120 s"), 6)
    0.008333
    >>> round(parse(LENGTH, "3.5 m full size", scale=50), 6)
    0.07
    >>> parse(LENGTH, 35)
    Traceback (most recent call last):
    previz.units.QuantityError: 35 has no unit; write one, such as 35 mm, or say at the top what a bare length means (units: mm)
    """
    if isinstance(found, bool) or not isinstance(found, int | float | str):
        raise QuantityError(f"{shown(found)} is not a {dimension.name}; write it like {dimension.example}")
    if isinstance(found, int | float):
        if abs(found) > 1e300:
            raise QuantityError(f"{shown(found)} is not a number a set can have")
        return _finite(_bare(dimension, float(found), found, bare), found)
    text = found.strip()
    full_size = re.fullmatch(r"(.*\S)\s+full[ -]size", text)
    if full_size:
        if scale is None:
            raise QuantityError(f"{shown(found)}: only a length on the set can be given at full size")
        text = full_size.group(1)
    value = _sum_of_parts(dimension, text, bare)
    return _finite(value / scale if full_size and scale else value, found)


def _sum_of_parts(dimension: Dimension, text: str, bare: float | None) -> float:
    total, position, parts = 0.0, 0, 0
    while position < len(text):
        match = _PART.match(text, position)
        if not match or match.end() == position:
            raise QuantityError(_cannot_read(dimension, text))
        number = _number_of(match, text)
        unit = match["unit"]
        if unit is None:
            if parts:
                raise QuantityError(_cannot_read(dimension, text))
            number = _bare(dimension, number, text, bare)
        elif unit in dimension.factors:
            number *= dimension.factors[unit]
        else:
            units = ", ".join(dimension.factors)
            raise QuantityError(f"{shown(text)}: {unit!r} is not a unit of {dimension.name}; use {units}")
        # In "-4 ft 7 in" the sign belongs to the whole.
        total = total - number if parts and text.startswith("-") else total + number
        position, parts = match.end(), parts + 1
        if parts > 1 and dimension is not LENGTH:
            raise QuantityError(_cannot_read(dimension, text))
    if not parts:
        raise QuantityError(f"nothing is given; write a {dimension.name} like {dimension.example}")
    return total


def _number_of(match: re.Match[str], text: str) -> float:
    value = float(match["whole"])
    if match["over"]:
        top, bottom = match["over"].split("/")
        if int(bottom) == 0:
            raise QuantityError(f"{shown(text)} divides by zero")
        return value + math.copysign(int(top) / int(bottom), value)
    if match["under"]:
        if float(match["under"]) == 0:
            raise QuantityError(f"{shown(text)} divides by zero")
        return value / float(match["under"])
    return value


def _cannot_read(dimension: Dimension, text: str) -> str:
    hint = "; write decimals with a point" if re.search(r"\d,\d", text) else ""
    return f"{shown(text)} is not a {dimension.name}; write it like {dimension.example}{hint}"


def _bare(dimension: Dimension, number: float, found: object, bare: float | None) -> float:
    if bare is not None:
        return number * bare
    advice = ", or say at the top what a bare length means (units: mm)" if dimension is LENGTH else ""
    unit = next(iter(dimension.factors))
    raise QuantityError(f"{shown(found)} has no unit; write one, such as {shown(found)} {unit}{advice}")


def _finite(value: float, found: object) -> float:
    if not math.isfinite(value):
        raise QuantityError(f"{shown(found)} is not a finite number")
    return value


def shown(found: object, limit: int = 60) -> str:
    """What was found, as a person would recognise it, cut to a readable length.

    >>> shown("x" * 100, limit=8)
    'xxxxxxxx…'
    """
    if isinstance(found, Mapping):
        text = "a group of keys (" + ", ".join(str(key) for key in list(found)[:4]) + ")"
    elif isinstance(found, list | tuple):
        text = f"a list of {len(found)}"
    elif isinstance(found, str):
        text = found or "an empty text"
    elif found is None:
        text = "nothing"
    elif isinstance(found, bool):
        text = "true" if found else "false"
    else:
        text = repr(found) if not (isinstance(found, int) and abs(found) > 10**limit) else "a number too long to show"
    return text if len(text) <= limit else text[:limit] + "…"


def f_number(found: object) -> float:
    """`f/5.6` or `5.6`.

    >>> f_number("f/5.6")
    5.6
    """
    text = str(found).strip()
    match = re.fullmatch(r"(?:[fF]\s*/\s*)?(\d+(?:\.\d+)?)", text) if not isinstance(found, bool) else None
    if not match or float(match[1]) == 0 or not math.isfinite(float(match[1])):
        raise QuantityError(f"{shown(found)} is not an f-number; write it like f/5.6 or 5.6")
    return float(match[1])


def scale_of(found: object) -> float:
    """S of `1:S`.

    >>> scale_of("1:43.5")
    43.5
    """
    match = re.fullmatch(r"1\s*:\s*(\d+(?:\.\d+)?)", str(found).strip()) if isinstance(found, str) else None
    if not match or not 1 <= float(match[1]) <= 2000:
        raise QuantityError(f"{shown(found)} is not a scale from 1:1 to 1:2000; write it like 1:50")
    return float(match[1])


# Rates the trade names by rounded decimals are exact ratios (SMPTE ST 12-1 calls them "/1.001").
_NAMED_RATES = {
    f"{n * 1000 / 1001:.{digits}f}": Fraction(n * 1000, 1001) for n in (24, 30, 60, 120, 240) for digits in (2, 3)
}


def frame_rate(found: object) -> Fraction:
    """Frames a second as an exact ratio: `24 fps`, `29.97 fps`, `30000/1001`, 25.

    >>> frame_rate("29.97 fps")
    Fraction(30000, 1001)
    >>> frame_rate("120 fps")
    Fraction(120, 1)
    """
    text = re.sub(r"\s*fps$", "", str(found).strip())
    match = re.fullmatch(r"(\d{1,6}(?:\.\d{1,6})?)(?:/(\d{1,6}))?", text) if not isinstance(found, bool) else None
    if not match or (match[2] and int(match[2]) == 0):
        raise QuantityError(f"{shown(found)} is not a frame rate; write it like 24 fps or 30000/1001 fps")
    rate = Fraction(match[1]) / int(match[2] or 1)
    rate = _NAMED_RATES.get(text, rate)
    if not 1 <= rate <= 2000:
        raise QuantityError(f"{shown(found)} is not in 1 fps to 2000 fps")
    return rate


def text_of(dimension: Dimension, value: float) -> str:
    """SI back into the unit a person would use.

    >>> text_of(LENGTH, 0.0352), text_of(TIME, 1 / 120)
    ('35.2 mm', '1/120 s')
    """
    if dimension is LENGTH:
        return f"{value * 1000:.4g} mm" if abs(value) < 10 else f"{value:.4g} m"
    if dimension is TIME:
        return (
            f"1/{round(1 / value)} s"
            if 0 < value < 0.25 and abs(1 / value - round(1 / value)) < 0.01
            else f"{value:.4g} s"
        )
    if dimension is ANGLE:
        return f"{math.degrees(value):.4g} deg"
    if dimension is SHARE:
        return f"{value * 100:.4g} %"
    return f"{value:.4g} {next(iter(dimension.factors))}"
