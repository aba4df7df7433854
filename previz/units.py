"""Quantities as people write them, turned into SI once, at the door.

A quantity is text such as ``35 mm``, ``4 ft 7 in``, ``1/120 s``, ``1 1/2 in`` or ``3.5 m full size``.
The factors are exact by definition (the international inch is 25.4 mm, 1959); `tests/test_units.py`
compares them with pint.
"""

import math
import re
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any


class QuantityError(ValueError):
    """The text is not such a quantity; the message says what was found, what is allowed, what to do."""


class UnitMissing(QuantityError):
    """A bare number where nothing says what a bare number of that dimension means."""

    def __init__(self, dimension: "Dimension", message: str) -> None:
        self.dimension = dimension
        super().__init__(message)


@dataclass(frozen=True, eq=False)  # each is the only one of its kind
class Dimension:
    """A kind of quantity: its name, the factor of each unit to SI, and an example to show people.

    mistaken says what to do about units that people write for it though they measure something else.
    """

    name: str
    factors: Mapping[str, float]
    example: str
    mistaken: Mapping[str, str] = field(default_factory=dict)

    @property
    def one(self) -> str:
        """One of its kind, in words.

        >>> TIME.one, ANGLE.one, STOPS.one
        ('a time', 'an angle', 'a number of stops')
        """
        if self.name.endswith("s"):
            return f"a number of {self.name}"
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"

    @property
    def unit_names(self) -> tuple[str, ...]:
        """One name for each unit: the first of those that mean the same."""
        first: dict[float, str] = {}
        for name, factor in self.factors.items():
            first.setdefault(factor, name)
        return tuple(first.values())


LENGTH = Dimension(
    "length",
    {
        "mm": 1e-3,
        "cm": 1e-2,
        "m": 1.0,
        "um": 1e-6,
        "µm": 1e-6,
        "μm": 1e-6,
        "in": 0.0254,
        '"': 0.0254,
        "″": 0.0254,
        "”": 0.0254,
        "ft": 0.3048,
        "'": 0.3048,
        "′": 0.3048,
        "’": 0.3048,
        "inch": 0.0254,
        "inches": 0.0254,
        "foot": 0.3048,
        "feet": 0.3048,
    },
    "35 mm",
)
TIME = Dimension(
    "time",
    {
        "s": 1.0,
        "ms": 1e-3,
        "min": 60.0,
        "sec": 1.0,
        "second": 1.0,
        "seconds": 1.0,
        "minute": 60.0,
        "minutes": 60.0,
    },
    "1/120 s",
)
ANGLE = Dimension(
    "angle",
    {"deg": math.pi / 180, "°": math.pi / 180, "rad": 1.0, "degree": math.pi / 180, "degrees": math.pi / 180},
    "12 deg",
)
SPEED = Dimension(
    "speed",
    {"m/s": 1.0, "mm/s": 1e-3, "cm/s": 1e-2, "km/h": 1 / 3.6, "mph": 0.44704, "ft/s": 0.3048, "in/s": 0.0254},
    "0.9 m/s",
)
_WATTS = dict.fromkeys(
    ("W", "w", "watt", "watts", "Watt", "Watts"), "watts say what a lamp draws, not how much light it gives; "
)
#: What lamps give of what they draw, for a first guess. Common practice, no source.
LUMENS_A_WATT = (
    "an LED lamp or panel gives some 80 to 100 lm for each watt that it draws, a fluorescent one 60, a halogen one 16 "
    "to 24 (common practice, no source)"
)
FLUX = Dimension(
    "light output",
    {"lm": 1.0, "klm": 1000.0, "lumen": 1.0, "lumens": 1.0, "Lumen": 1.0, "Lumens": 1.0},
    "800 lm",
    {
        unit: f"{why}its lumens (lm) mostly stand on its box, beside the watts, or in its data sheet. Where they do "
        f"not, guess and measure later: {LUMENS_A_WATT}"
        for unit, why in _WATTS.items()
    },
)
ILLUMINANCE = Dimension(
    "illuminance",
    {"lx": 1.0, "klx": 1000.0, "lux": 1.0, "fc": 1 / 0.3048**2},
    "20 lx",
    {
        unit: f"{why}a light meter, or an app for one on a phone, reads lux (lx) where it falls"
        for unit, why in _WATTS.items()
    },
)
LUMINANCE = Dimension("luminance", {"cd/m2": 1.0, "nit": 1.0, "nits": 1.0}, "150 cd/m2")
TEMPERATURE = Dimension("colour temperature", {"K": 1.0, "kelvin": 1.0}, "5600 K")
STOPS = Dimension("stops", {"stop": 1.0, "stops": 1.0, "EV": 1.0}, "1 stop")
SHARE = Dimension("share", {"%": 0.01, "percent": 0.01}, "8 %")


def percent(share: float, digits: int = 0, *, signed: bool = False) -> str:
    """A share as it is printed, whoever prints it: in percent, with a space before the sign, as before other units.

    The space is that of The International System of Units, 9th edition (BIPM), section 5.4.7; from memory.

    >>> percent(0.41), percent(0.0123, 1), percent(0.05, signed=True)
    ('41 %', '1.2 %', '+5 %')
    """
    return f"{share:{'+' if signed else ''}.{digits}%}".replace("%", " %")


#: Parts in words, as figures: `half a second`, `a third`.
_PARTS_IN_WORDS = {
    "half": "1/2", "a half": "1/2", "a third": "1/3", "two thirds": "2/3", "a quarter": "1/4",
    "three quarters": "3/4",
}  # fmt: skip
_IN_WORDS = rf"({'|'.join(_PARTS_IN_WORDS)})"
_OF_ONE = re.compile(rf"{_IN_WORDS}(?:\s+of)?\s+an?\s+(?=\S)")

_NUMBER = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_PART = re.compile(
    rf"\s*(?P<sign>[+-]?)(?P<whole>{_NUMBER})(?:\s+(?P<over>[0-9]+/[0-9]+)|/(?P<under>[0-9]+(?:\.[0-9]+)?))?"
    rf"\s*(?P<unit>[^\s\d+.-][^\s\d+]*2?)?"
)
_PLAIN = rf"[+-]?{_NUMBER}(?:\s+[0-9]+/[0-9]+|/[0-9]+(?:\.[0-9]+)?)?"
_FULL_SIZE = re.compile(r"\s+full[ -]size$")
_LONGEST_TEXT = 80  # nobody writes a longer quantity, and a stranger's file may try


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
    >>> parse(ANGLE, 12)
    Traceback (most recent call last):
    previz.units.UnitMissing: 12 has no unit; write one, such as 12 deg
    """
    if isinstance(found, bool) or not isinstance(found, int | float | str):
        raise QuantityError(f"{shown(found)} is not {dimension.one}; write it like {dimension.example}")
    if isinstance(found, int | float):
        if abs(found) > 1e300:
            raise QuantityError(_cannot_read(dimension, shown(found)))
        return _finite(dimension, _bare(dimension, float(found), found, bare), found)
    text = _in_figures(dimension, found.strip())
    if len(text) > _LONGEST_TEXT:
        raise QuantityError(f"{shown(text)} is too long for a {dimension.name}; write it like {dimension.example}")
    model_text = _FULL_SIZE.sub("", text)
    full_size = model_text != text
    if full_size and scale is None:
        raise QuantityError(f"{shown(found)}: only a length on the set can be given at full size")
    if full_size and re.fullmatch(rf"\s*{_PLAIN}\s*", model_text):
        raise QuantityError(f"{shown(found)} has no unit; a full-size length always needs one, like 3.5 m full size")
    value = _sum_of_parts(dimension, model_text, bare)
    return _finite(dimension, value / scale if full_size and scale else value, found)


def _in_figures(dimension: Dimension, text: str) -> str:
    """A time or share with its part in figures; all else as it is.

    >>> _in_figures(TIME, "half a second"), _in_figures(SHARE, "two thirds"), _in_figures(LENGTH, "half")
    ('1/2 second', '200/3 %', 'half')
    """
    if dimension is TIME:
        return _OF_ONE.sub(lambda match: f"{_PARTS_IN_WORDS[match[1]]} ", text, count=1)
    part = _PARTS_IN_WORDS.get(text) if dimension is SHARE else None
    return f"{part[0]}00/{part[2:]} %" if part else text


def _sum_of_parts(dimension: Dimension, text: str, bare: float | None) -> float:
    """`4 ft 7 in`: parts of falling unit, added; the sign of the first belongs to the whole."""
    if not text:
        raise QuantityError(f"nothing is given; write a {dimension.name} like {dimension.example}")
    parts = _parts(dimension, text)
    if len(parts) == 1 and parts[0]["unit"] is None:
        return _bare(dimension, _number_of(parts[0], text), text, bare)
    total, last = 0.0, math.inf
    for part in parts:
        unit = part["unit"]
        if unit is None:
            raise QuantityError(_cannot_read(dimension, text))
        if unit not in dimension.factors:
            if unit in dimension.mistaken:
                raise QuantityError(f"{shown(text)}: {dimension.mistaken[unit]}; write them like {dimension.example}")
            units = ", ".join(dimension.unit_names)
            raise QuantityError(f"{shown(text)}: {shown(unit)} is not a unit of {dimension.name}; use {units}")
        if dimension.factors[unit] >= last:
            raise QuantityError(_cannot_read(dimension, text))
        last = dimension.factors[unit]
        total += abs(_number_of(part, text)) * last
    return -total if parts[0]["sign"] == "-" else total


def _parts(dimension: Dimension, text: str) -> list[re.Match[str]]:
    parts: list[re.Match[str]] = []
    position = 0
    while position < len(text):
        match = _PART.match(text, position)
        unreadable = not match or (parts and (match["sign"] or dimension is not LENGTH))
        if not match or unreadable or re.search(r"\d,\d", text):
            raise QuantityError(_cannot_read(dimension, text))
        parts.append(match)
        position = match.end()
    return parts


def _number_of(match: re.Match[str], text: str) -> float:
    value = float(match["sign"] + match["whole"])
    if match["over"]:
        top, bottom = match["over"].split("/")
        if not match["whole"].isdigit():
            raise QuantityError(f"{shown(text)} mixes a decimal with a fraction; write one of the two")
        if int(bottom) == 0:
            raise QuantityError(f"{shown(text)} divides by zero")
        return value + math.copysign(int(top) / int(bottom), value)
    if match["under"]:
        if float(match["under"]) == 0:
            raise QuantityError(f"{shown(text)} divides by zero")
        return value / float(match["under"])
    return value


def _cannot_read(dimension: Dimension, text: str) -> str:
    for unit in re.findall(r"\d\s*([A-Za-z]+)", text):
        if unit in dimension.mistaken:
            return f"{shown(text)}: {dimension.mistaken[unit]}; write them like {dimension.example}"
    hint = next((f"; {advice}" for sign, advice in _SIGNS if re.search(sign, text)), "")
    return f"{shown(text)} is not {dimension.one}; write it like {dimension.example}{hint}"


#: What is typed for a sign that a number has, or copied from print, and what to write.
_SIGNS = (
    (r"\d[,\s]\d", "use a point for decimals and nothing between thousands"),
    (r"[\u2010-\u2015\u2212]", "a minus is the - of the keyboard"),
    (r"[\u00bc-\u00be\u2150-\u215e]", "a fraction is written in figures, like 1/2 in or 3 1/2 in"),
)


def _bare(dimension: Dimension, number: float, found: object, bare: float | None) -> float:
    if bare is not None:
        return number * bare
    advice = ", or say at the top what a bare length means (units: mm)" if dimension is LENGTH else ""
    unit = next(iter(dimension.factors))
    raise UnitMissing(dimension, f"{shown(found)} has no unit; write one, such as {shown(found)} {unit}{advice}")


def _finite(dimension: Dimension, value: float, found: object) -> float:
    if not math.isfinite(value):
        raise QuantityError(_cannot_read(dimension, shown(found)))
    return value


def pattern_of(dimension: Dimension, *, bare: bool) -> str:
    """A regular expression (ECMA 262) that all text `parse` reads as that dimension matches, for editors.

    bare: whether a number without a unit is read too.

    >>> pattern = pattern_of(LENGTH, bare=True)
    >>> [bool(re.search(pattern, text)) for text in ("4 ft 7 in", "35", "3.5 m full size", "35 lm")]
    [True, True, True, False]
    """
    united = rf"{_PLAIN}\s*(?:{'|'.join(re.escape(unit) for unit in dimension.factors)})"
    if dimension is TIME:
        united = rf"(?:{united}|{_IN_WORDS}(?:\s+of)?\s+an?\s+(?:second|minute))"
    if dimension is SHARE:
        united = rf"(?:{united}|{_IN_WORDS})"
    if dimension is LENGTH:
        united = rf"{united}(?:\s*{united})*(?:\s+full[ -]size)?"
    return rf"^\s*(?:{united}{f'|{_PLAIN}' if bare else ''})\s*$"


def two_sides(text: str) -> tuple[str, str] | None:
    """Both lengths of what is so large by so large, a unit behind the second for both where the first has none.

    >>> two_sides("1.6 m x 0.8 m"), two_sides("140 × 70 cm"), two_sides("4 ft 6 in by 28 in"), two_sides("1400 mm")
    (('1.6 m', '0.8 m'), ('140 cm', '70 cm'), ('4 ft 6 in', '28 in'), None)
    """
    sides = [side.strip() for side in re.split(r"\s*(?:[x×]|\bby\b)\s*", text[:_LONGEST_TEXT].strip())]
    if len(sides) != 2 or not all(sides):
        return None
    first, second = sides
    unit = unit_of(LENGTH, second)
    return (f"{first} {unit}" if unit and not unit_of(LENGTH, first) else first), second


def is_full_size(text: str) -> bool:
    """Whether a length is given as that of the real thing: `3.5 m full size`."""
    return _FULL_SIZE.search(text.strip()) is not None


def unit_of(dimension: Dimension, found: object) -> str | None:
    """The unit a person wrote, so that an answer can be given in it; None where there is none.

    >>> unit_of(LENGTH, "4 ft 7 in"), unit_of(LENGTH, "120 cm full size"), unit_of(LENGTH, 35)
    ('in', 'cm', None)
    """
    text = _FULL_SIZE.sub("", _in_figures(dimension, found.strip())) if isinstance(found, str) else ""
    written = [match["unit"] for match in _PART.finditer(text[:_LONGEST_TEXT])]
    return written[-1] if written and written[-1] in dimension.factors else None


#: Of every kind, for a text whose kind is not known; frame rates have no dimension of their own.
_ANY_UNIT = {name: name for each in (LENGTH, TIME, ANGLE, SPEED, FLUX, ILLUMINANCE, LUMINANCE, TEMPERATURE, SHARE)
             for name in each.factors} | {"fps": "fps", "stop": "stops", "stops": "stops", "EV": "stops"}  # fmt: skip


#: Stands for a space at which no line ends.
_HELD = "\u00a0"

_TOLD_AFTER = "|".join(
    re.escape(unit) for unit in (*_ANY_UNIT, "deg/s", "px", "mired", "h", "kB", "MB", "GB") if unit[0].isalpha()
)
_BEFORE_UNIT = re.compile(rf"(?<=\d) (?=%|(?:{_TOLD_AFTER})(?![\w/])|\d+/\d)|(?<=\bISO) (?=\d)")


def held_together(text: str) -> str:
    """A text in which no line ends between a number and its unit, whoever breaks it into lines.

    >>> held_together("27 % of 3 3/8 in at ISO 640, 2 steps").replace("\\xa0", "_")
    '27_% of 3_3/8_in at ISO_640, 2 steps'
    """
    return _BEFORE_UNIT.sub(_HELD, text)


def unbroken(text: str) -> list[str]:
    """The words of a text, a number with its unit as one: lines may end between these.

    >>> unbroken("of 27 % or less")
    ['of', '27 %', 'or', 'less']
    """
    return [word.replace(_HELD, " ") for word in held_together(" ".join(text.split())).split(" ") if word]


def wrapped(text: str, width: int, **how: Any) -> list[str]:
    """A text in lines of so many letters, none of which ends between a number and its unit.

    how: as of `textwrap.wrap`.

    >>> wrapped("some of it in 27 % of frames", 17)
    ['some of it in', '27 % of frames']
    """
    return [line.replace(_HELD, " ") for line in textwrap.wrap(held_together(text), width, **how)]


def unit_written(found: object) -> str | None:
    """The unit of a quantity whatever it measures, as a person wrote it; None where there is none.

    >>> unit_written("60 fps"), unit_written("1 stop"), unit_written("4 ft 7 in"), unit_written("vehicle")
    ('fps', 'stops', 'in', None)
    """
    if not isinstance(found, str) or found.strip()[:1] not in tuple("+-.0123456789"):
        return None
    written = [match["unit"] for match in _PART.finditer(_FULL_SIZE.sub("", found.strip())[:_LONGEST_TEXT])]
    return _ANY_UNIT.get(written[-1] or "") if written else None


#: Units that are taken for each other, the likelier slip first.
_MISTAKEN = {"m": ("mm", "cm"), "cm": ("mm", "m"), "mm": ("cm", "m"), "ft": ("in",), "in": ("ft",)}


def in_a_likely_unit(found: object, unit: str | None, length: float, least: float, most: float) -> str:
    """A length that is out of its bounds in the unit that was likely meant, where that one would do; else "".

    found, unit: as it is written, and the unit that it is in. length, least, most: what it is, and may be. [m]

    >>> in_a_likely_unit("890 m full size", "m", 890, 0, 20), in_a_likely_unit(10000, "cm", 100, 0.05, 20)
    ('890 mm full size', '10000 mm')
    """
    for other in _MISTAKEN.get(unit or "", ()):
        if least < length * LENGTH.factors[other] / LENGTH.factors[unit or ""] <= most:
            same, count = re.subn(rf"(?<![a-z]){unit}(?![a-z])", other, str(found))
            return f"{found} {other}" if count == 0 else same if count == 1 else ""
    return ""


#: What tapes are marked in, and what each counts for when the unit of a file's answers is chosen.
_TAPES = {"mm": "mm", "cm": "cm", "m": "m", "um": "m", "in": "in", '"': "in", "ft": "ft", "'": "ft",
          "inch": "in", "inches": "in", "foot": "ft", "feet": "ft"}  # fmt: skip


def tape_unit(written: Mapping[str, int]) -> str:
    """The unit in which answers about a set are given: that of the maker's own tape.

    Inches where more of a file's lengths are in inches and feet than in metric units, and feet where more of those are
    in feet; else centimetres where more are in them than in millimetres; else millimetres.

    Parameters
    ----------
    written : mapping of str to int
        How many lengths are written in each unit.

    >>> tape_unit({"in": 3, "ft": 2, "mm": 4}), tape_unit({"in": 1, "ft": 4}), tape_unit({"cm": 2, "m": 1})
    ('in', 'ft', 'cm')
    >>> tape_unit({"m": 3}), tape_unit({})
    ('mm', 'mm')
    """
    marked = dict.fromkeys(_TAPES.values(), 0)
    for unit, count in written.items():
        marked[_TAPES.get(unit, "m")] += count
    if marked["in"] + marked["ft"] > marked["mm"] + marked["cm"] + marked["m"]:
        return "ft" if marked["ft"] > marked["in"] else "in"
    return "cm" if marked["cm"] > marked["mm"] else "mm"


def tape_in_words(unit: str) -> str:
    """The unit of a tape as it stands in a sentence, where `in` would read as the word.

    >>> tape_in_words("in"), tape_in_words("mm")
    ('inches', 'mm')
    """
    return "inches" if unit == "in" else unit


#: What a tape in inches is divided into, and what is smaller than so many of those where each counts. [in]
_SIXTEENTH, _SMALL = 1 / 16, 1 / 2

#: From here on a tape in feet is read in feet and inches. [in]
_TWO_FEET = 24


@dataclass(frozen=True)
class Tape:
    """A maker's tape: what is read off it, and what is written into a scene file so that it can be.

    Inches are told in the sixteenths that a tape has, and what is smaller than one in decimals. The texts are lengths
    as a file has them: `parse` reads each.

    Parameters
    ----------
    unit : str
        mm, cm, in, or ft: as in, but two feet and more are told in feet and inches.

    >>> tape = Tape("in")
    >>> tape(0.4866), tape(-0.0127), tape(0.0006), tape(0.0034, 1), tape(0.0), tape(0.762), tape.bare(0.3048)
    ('19 3/16 in', '-1/2 in', '0.02 in', '0.134 in', '0 in', '30 in', '12')
    >>> Tape("ft")(0.52), Tape("ft")(0.7557), Tape("ft")(-1.2192), Tape("ft").bare(0.762)
    ('20 1/2 in', '2 ft 5 3/4 in', '-4 ft', '30')
    >>> Tape("mm")(0.4866), Tape("mm")(-0.0001), Tape("mm")(0.00342, 1), Tape("cm")(0.4866), Tape("cm").bare(0.4866)
    ('487 mm', '0 mm', '3.4 mm', '48.7 cm', '48.7')
    """

    unit: str

    @property
    def column(self) -> str:
        """The unit of what `bare` tells, for the head of a column."""
        return "in" if self.unit == "ft" else self.unit

    @property
    def metric(self) -> bool:
        """Whether who has it buys paper by metric sizes, else by those of the US trade; a guess from the unit."""
        return self.column != "in"

    @property
    def road_unit(self) -> str:
        """In which speeds on the road are told to who has such a tape."""
        return "mph" if self.column == "in" else "km/h"

    def road(self, speed: float) -> str:
        """A speed of the real thing [m/s].

        >>> Tape("in").road(20.1), Tape("cm").road(20.1)
        ('45 mph', '72 km/h')
        """
        return f"{speed / SPEED.factors[self.road_unit]:.0f} {self.road_unit}"

    @property
    def real_unit(self) -> str:
        """In which lengths of the real thing are told to who has such a tape."""
        return "ft" if self.column == "in" else "m"

    def real(self, length: float, digits: int = 0) -> str:
        """A length of the real thing [m]: to a hundredth of its unit, or to so many digits; in inches below a foot.

        >>> Tape("in").real(4.5), Tape("cm").real(4.5), Tape("ft").real(12.192, 3), Tape("in").real(0.125)
        ('14.76 ft', '4.50 m', '40 ft', '4 15/16 in')
        """
        if self.column == "in" and length < LENGTH.factors["ft"]:
            return self(length)
        found = length / LENGTH.factors[self.real_unit]
        return f"{f'{found:.{digits}g}' if digits else self.real_bare(length)} {self.real_unit}"

    def real_bare(self, length: float) -> str:
        """The same without its unit, for a column that says it; of what is small two digits, never nothing.

        >>> Tape("mm").real_bare(3.456), Tape("mm").real_bare(0.5), Tape("mm").real_bare(0.0034)
        ('3.46', '0.50', '0.0034')
        """
        found = length / LENGTH.factors[self.real_unit]
        return f"{found:.2f}" if found >= 0.1 else f"{found:.2g}"

    def real_written(self, length: float) -> str:
        """A length of the real thing [m] for a remedy to write.

        >>> Tape("in").real_written(0.787), Tape("mm").real_written(0.787)
        ('2.58202 ft full size', '0.787 m full size')
        """
        return f"{length / LENGTH.factors[self.real_unit]:.6g} {self.real_unit} full size"

    def far(self, length: float) -> str:
        """A length [m] of some metres, which who has a metric tape says in metres.

        >>> Tape("in").far(0.9144), Tape("mm").far(1.0)
        ('36 in', '1 m')
        """
        return self(length) if self.column == "in" else f"{length:.3g} m"

    @property
    def mark(self) -> float:
        """From one mark to the next. [m]"""
        return _SIXTEENTH * LENGTH.factors["in"] if self.column == "in" else 0.001

    def __call__(self, length: float, places: int = 0) -> str:
        """A length [m] with its unit; places are those that millimetres have. Infinity is told in words."""
        if not math.isfinite(length):
            return "infinity"
        if self.column != "in":
            return f"{self.bare(length, places)} {self.unit}"
        inches = length / LENGTH.factors["in"]
        if round(abs(inches), 6) < (_SMALL if places else _SIXTEENTH):
            return f"{_fewest(inches, 2 + places)} in"
        if self.unit == "ft" and round(abs(inches) * 16) >= 16 * _TWO_FEET:
            feet, sixteenths = divmod(round(abs(inches) * 16), 16 * 12)
            return f"{'-' * (inches < 0)}{feet} ft" + f" {in_sixteenths(sixteenths / 16)} in" * (sixteenths > 0)
        return f"{in_sixteenths(inches)} in"

    def bare(self, length: float, places: int = 0) -> str:
        """A length [m] without its unit, for a column that says it; inches to the nearest sixteenth."""
        if not math.isfinite(length):
            return "infinity"
        if self.column == "in":
            return in_sixteenths(length / LENGTH.factors["in"])
        text = f"{length / LENGTH.factors[self.unit]:.{places + {'mm': 0, 'cm': 1}[self.unit]}f}"
        return text.removeprefix("-") if float(text) == 0 else text

    def span(self, least: float, most: float) -> str:
        """From one length to another [m]; one alone where a tape tells no difference.

        >>> Tape("cm").span(0.4, 0.52), Tape("cm").span(0.4, 0.4), Tape("ft").span(0.508, 0.762)
        ('40.0 to 52.0 cm', '40.0 cm', '20 in to 2 ft 6 in')
        """
        return together(list(dict.fromkeys((self(least), self(most)))), " to ")

    def up(self, length: float) -> float:
        """The mark at a length or next above it: for what must not be less. [m]

        >>> round(Tape("mm").up(0.0502), 6), round(Tape("in").up(0.0502) / 0.0254, 6)
        (0.051, 2.0)
        """
        return math.ceil(length / self.mark - 1e-6) * self.mark

    def marked(self, length: float) -> float:
        """The mark nearest to a length. [m]"""
        return round(length / self.mark) * self.mark

    def written(self, length: float, places: int = 2) -> str:
        """A length [m] for a remedy to write: in inches what its words tell, else millimetres to so many places.

        So what is tried is what the maker measures: a sixteenth of an inch rounds further than a millimetre does.

        >>> Tape("in").written(0.4866), Tape("mm").written(0.4866), Tape("cm").written(0.4866, 0), Tape("mm").written(7)
        ('19 3/16 in', '486.6 mm', '487 mm', '7000 mm')
        """
        return self(length) if self.column == "in" else _millimetres(length, places)

    def exact(self, length: float, places: int = 2) -> str:
        """A length [m] for a remedy that moves what is there by so much: what comes of it is on no mark of the tape.

        Inches to four places, millimetres to as many as are asked for.

        >>> Tape("in").exact(0.1137), Tape("mm").exact(0.1137), Tape("cm").exact(0.01234)
        ('4.4764 in', '113.7 mm', '12.34 mm')
        """
        return (
            f"{_fewest(length / LENGTH.factors['in'], 4)} in" if self.column == "in" else _millimetres(length, places)
        )

    def place(self, there: Iterable[float], before: Iterable[float], places: int = 2) -> list[str]:
        """A place [m] for a remedy to write, as `written`; what of it is as before stays just that.

        >>> Tape("in").place((0.1137, 0.2), (0.1137, 0.3)), Tape("mm").place((0.1004, 0.2006), (0.1004, 0.3), 0)
        (['4.4764 in', '7 7/8 in'], ['100.4 mm', '201 mm'])
        """
        return [
            self.exact(value, 4) if abs(value - was) < 1e-9 else self.written(value, places)
            for value, was in zip(map(float, there), map(float, before), strict=True)
        ]


def _millimetres(length: float, places: int) -> str:
    return f"{_fewest(length * 1000, places)} mm"


def _fewest(number: float, places: int) -> str:
    """To so many places at most, and no minus zero."""
    return f"{round(number, places) + 0.0:.{places}f}".rstrip("0").rstrip(".") if places else f"{number + 0.0:.0f}"


def in_sixteenths(inches: float) -> str:
    """Inches to the nearest sixteenth, as a tape shows them.

    >>> in_sixteenths(7.5), in_sixteenths(0.26), in_sixteenths(-2.94), in_sixteenths(0.01)
    ('7 1/2', '1/4', '-2 15/16', '0')
    """
    sixteenths = round(abs(inches) * 16)
    whole, part = divmod(sixteenths, 16)
    text = " ".join([str(whole)] * bool(whole) + [str(Fraction(part, 16))] * bool(part)) or "0"
    return f"-{text}" if inches < 0 and sixteenths else text


def together(lengths: Sequence[str], between: str) -> str:
    """Lengths as a tape tells them, one after the other: their unit once, where all have the same.

    >>> together(("442 mm", "479 mm"), " to "), together(("20 1/2 in", "2 ft 3 in"), " to ")
    ('442 to 479 mm', '20 1/2 in to 2 ft 3 in')
    """
    unit = f" {lengths[-1].rpartition(' ')[2]}"
    bare = [each.removesuffix(unit) for each in lengths]
    same = all(each.endswith(unit) for each in lengths) and not any(map(str.isalpha, "".join(bare)))
    return between.join(bare) + unit if same else between.join(lengths)


#: A number as it is told, in sixteenths too, and what it counts.
_TOLD = re.compile(r"(-?[0-9.]+(?: [0-9]+/[0-9]+|/[0-9]+)?) (\D*)")


def told_beside(told: str, other: str) -> str:
    """A value without its unit, and what comes behind that, where another that is told beside it has the same.

    >>> told_beside("14 % of the width", "35 % of the width"), told_beside("6 1/16 in across", "7 1/16 in across")
    ('14', '6 1/16')
    >>> told_beside("1/2 in across", "12 mm across"), told_beside("not known", "not known")
    ('1/2 in across', 'not known')
    """
    one, its = _TOLD.fullmatch(told), _TOLD.fullmatch(other)
    return one[1] if one and its and one[2] == its[2] else told


def speed_on_tape(speed: float, unit: str) -> str:
    """A speed on the table [m/s] for who has a tape in mm, cm, in or ft.

    >>> speed_on_tape(0.75, "mm"), speed_on_tape(0.6096, "in")
    ('0.75 m/s', '24 in/s')
    """
    told = "in/s" if unit in ("in", "ft") else "m/s"
    return f"{speed / SPEED.factors[told]:.3g} {told}"


def shown(found: object, limit: int = 60) -> str:
    """What was found, as a person would recognise it, cut to a readable length and safe to print.

    >>> shown("x" * 100, limit=8)
    'xxxxxxxx…'
    >>> shown("bell" + chr(7)) == "bell" + chr(92) + "x07"
    True
    """
    if isinstance(found, Mapping):
        text = "a group of keys (" + ", ".join(str(key)[:limit] for key in list(found)[:4]) + ")"
    elif isinstance(found, list | tuple):
        text = f"a list of {len(found)}"
    elif isinstance(found, str):
        text = found[: limit + 1] or "an empty text"
    elif found is None:
        text = "nothing"
    elif isinstance(found, bool):
        text = "true" if found else "false"
    else:
        text = repr(found) if not (isinstance(found, int) and abs(found) > 10**limit) else "a number too long to show"
    # Control characters in a stranger's file must not reach the terminal.
    text = "".join(character if character.isprintable() else ascii(character)[1:-1] for character in text)
    return text if len(text) <= limit else text[:limit] + "…"


# How what is no quantity of a dimension is written: read by the functions below, told to editors by the scene's schema.
F_NUMBER = r"(?:[fF]\s*/\s*)?([0-9]{1,9}(?:\.[0-9]{1,9})?)"
_RATIO = r"1\s*[:/]\s*([0-9]{1,9}(?:\.[0-9]{1,9})?)"

#: S of 1:S by the letters that railway models go by. With a numeral nought they are those of NEM 010 (2011), seen in
#: copies; with a letter O those of NMRA S-1.2 as quoted elsewhere, HO 3.5 mm to the foot; N, TT and Z are the same in
#: both. OO and 00 are 4 mm to the foot, as quoted (1:76.2).
SCALE_NAMES: dict[str, float] = {
    "Z": 220, "N": 160, "TT": 120, "H0": 87, "HO": 304.8 / 3.5, "OO": 304.8 / 4, "00": 304.8 / 4, "S": 64, "0": 45,
    "O": 48, "I": 32, "II": 22.5, "III": 16,
}  # fmt: skip
_MEASURED = r"\S.*\s(?:for|to)\s.*\S"
SCALE = rf"(?:{_RATIO}|{'|'.join(sorted(SCALE_NAMES, key=len, reverse=True))}|{_MEASURED})"
FRAME_RATE = r"([0-9]{1,6})(?:\.([0-9]{1,6}))?(?:/([0-9]{1,6}))?"

# No lens on a table-top set is faster than f/0.5 (the limit of an aplanatic lens in air) or closes beyond f/256.
_F_NUMBERS = (0.5, 256.0)


def f_number(found: object) -> float:
    """The number as it stands on the lens: `f/5.6` or `5.6`.

    >>> f_number("f/5.6")
    5.6
    """
    text = _number_text(found)
    match = re.fullmatch(F_NUMBER, text)
    if not match:
        hint = "; use a point for decimals" if re.search(r"\d,\d", text) else ""
        raise QuantityError(f"{shown(found)} is not an f-number; write it like f/5.6 or 5.6{hint}")
    if not _F_NUMBERS[0] <= float(match[1]) <= _F_NUMBERS[1]:
        raise QuantityError(f"{shown(found)} is out of range; an f-number is from f/0.5 to f/256")
    return float(match[1])


def scale_of(found: object) -> float:
    """S of `1:S`, of a scale by its letters, or of a model that measures so much `72 mm for 4.5 m` of the real thing.

    >>> scale_of("1:43.5"), scale_of("H0"), scale_of("72 mm for 4.5 m")
    (43.5, 87, 62.5)
    """
    text = found.strip() if isinstance(found, str) else ""
    if text in SCALE_NAMES:
        return SCALE_NAMES[text]
    ratio, measured = re.fullmatch(_RATIO, text), re.fullmatch(r"(\S.*)\s(?:for|to)\s(.*\S)", text)
    scale = float(ratio[1]) if ratio else _measured_scale(measured[1], measured[2]) if measured else math.nan
    if not 1 <= scale <= 2000:
        meant = re.fullmatch(r"(?:1\s*/\s*)?([0-9]{1,4}(?:\.[0-9]{1,2})?)", _number_text(found)[:20])
        like = meant[1] if meant and 1 <= float(meant[1]) <= 2000 else "50"
        nought = '; nought is written in quotes, "0"' if found == 0 and not isinstance(found, bool) else ""
        raise QuantityError(
            f"{shown(found)} is not a scale from 1:1 to 1:2000; write it like 1:{like}, by its letters "
            f"({', '.join(SCALE_NAMES)}), or as what the model and the real thing measure, 72 mm for 4.5 m{nought}"
        )
    return scale


def _measured_scale(model: str, real: str) -> float:
    """Of a model's length and the real one's, both with their units."""
    lengths = parse(LENGTH, model), parse(LENGTH, real)
    if min(lengths) <= 0:
        raise QuantityError(f"a scale of {shown(model)} for {shown(real)}: both must be above nothing")
    return round(lengths[1] / lengths[0], 9)


# Rates the trade names by rounded decimals are exact ratios (SMPTE ST 12-1 calls them "/1.001").
_RATES_BELOW_WHOLE = tuple(Fraction(whole * 1000, 1001) for whole in (24, 30, 48, 60, 120, 240))


def frame_rate(found: object) -> Fraction:
    """Frames a second as an exact ratio: `24 fps`, `29.97 fps`, `30000/1001`, 25.

    A decimal that is one of the trade's rounded names (two decimals or more) means the exact ratio.

    >>> frame_rate("29.97 fps")
    Fraction(30000, 1001)
    >>> frame_rate("120 fps")
    Fraction(120, 1)
    """
    text = re.sub(r"\s*fps$", "", _number_text(found))
    match = re.fullmatch(FRAME_RATE, text)
    if not match or (match[3] and int(match[3]) == 0):
        hint = "; use a point for decimals" if re.search(r"\d,\d", text) else ""
        raise QuantityError(f"{shown(found)} is not a frame rate; write it like 24 fps or 30000/1001 fps{hint}")
    decimals = match[2] or ""
    rate = Fraction(f"{match[1]}.{decimals or 0}") / int(match[3] or 1)
    if len(decimals) >= 2 and not match[3]:
        rate = next((exact for exact in _RATES_BELOW_WHOLE if round(exact, len(decimals)) == rate), rate)
    if not 1 <= rate <= 2000:
        raise QuantityError(f"{shown(found)} is out of range; a frame rate is from 1 fps to 2000 fps")
    return rate


def fps_written(rate: Fraction) -> str:
    """A frame rate as it may be written, so that it reads back as it is.

    >>> fps_written(Fraction(30000, 1001)), fps_written(Fraction(120)), fps_written(Fraction(1000, 3))
    ('29.97 fps', '120 fps', '1000/3 fps')
    """
    short = f"{float(rate):.5g} fps"
    return short if frame_rate(short) == rate else f"{rate.numerator}/{rate.denominator} fps"


def _number_text(found: object) -> str:
    """The text of a number or of what was written; empty for anything else, and for what Python will not write out."""
    if isinstance(found, bool) or not isinstance(found, int | float | str):
        return ""
    return "" if isinstance(found, int) and abs(found) > 10**20 else str(found).strip()


def beyond_numbers(value: float) -> str | None:
    """The word for a value that is no finite number; None for one that is.

    >>> beyond_numbers(math.inf), beyond_numbers(-math.inf), beyond_numbers(math.nan), beyond_numbers(1.0)
    ('infinity', '-infinity', 'unknown', None)
    """
    if math.isfinite(value):
        return None
    return "unknown" if math.isnan(value) else "infinity" if value > 0 else "-infinity"


def as_json(value: float) -> float | str | None:
    """A number as JSON can hold it: null where it is unknown, `infinity` or `-infinity` as words.

    >>> as_json(0.5), as_json(math.nan), as_json(math.inf)
    (0.5, None, 'infinity')
    """
    return None if math.isnan(value) else beyond_numbers(value) or value


def text_of(dimension: Dimension, value: float, unit: str | None = None) -> str:
    """SI back into `unit`, or into the one a person would use.

    >>> text_of(LENGTH, 0.0352), text_of(TIME, 1 / 120), text_of(LENGTH, 100.0, "in"), text_of(STOPS, 0)
    ('35.2 mm', '1/120 s', '3937 in', '0 stops')
    """
    if dimension is STOPS:
        return f"{_digits(value)} stop{'' if abs(value) == 1 else 's'}"
    if unit is not None:
        return f"{_digits(value / dimension.factors[unit])} {unit}"
    if dimension is LENGTH:
        return f"{_digits(value * 1000)} mm" if abs(value) < 10 else f"{_digits(value)} m"
    if dimension is TIME:
        reciprocal = 0 < value < 0.25 and abs(1 / value - round(1 / value)) < 0.01
        return f"1/{round(1 / value)} s" if reciprocal else f"{_digits(value)} s"
    if dimension is ANGLE:
        return f"{_digits(math.degrees(value))} deg"
    if dimension is SHARE:
        return f"{_digits(value * 100)} %"
    si = next(unit for unit, factor in dimension.factors.items() if factor == 1.0)
    return f"{_digits(value)} {si}"


def _digits(number: float) -> str:
    """Four significant digits, without an exponent for the numbers people meet, and no minus zero."""
    text = f"{number + 0.0:.4g}"
    return f"{number:.0f}" if "e" in text and 1 <= abs(number) < 1e15 else text
