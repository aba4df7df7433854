"""Ranges as people write them: `60 to 80 km/h`, `at least 3 s`, `at most 800`; and what may change within one."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, TypeAdapter, ValidationError, ValidationInfo, WithJsonSchema

from previz.scene.fields import NAMED, Form, by_kind, forms_in, listed, series
from previz.units import QuantityError, shown


@dataclass(frozen=True)
class Range:
    """From least to most, both included. [SI] An end that is not given is infinite.

    written is the range as its maker wrote it; two ranges of the same ends are the same.
    """

    least: float = -math.inf
    most: float = math.inf
    written: str = field(default="", compare=False, repr=False)

    def holds(self, value: float) -> bool:
        """Whether a value lies in it; what is not known does not.

        >>> Range(1.0, 2.0).holds(2.0), Range(least=3.0).holds(2.0), Range().holds(math.nan)
        (True, False, False)
        """
        return self.least <= value <= self.most

    def nearest(self, value: float) -> float:
        """The value in it that is nearest.

        >>> Range(1.0, 2.0).nearest(5.0)
        2.0
        """
        return min(max(value, self.least), self.most)


_ONE_END = re.compile(r"at\s+(least|most)\s+(.+)")
_BOTH_ENDS = re.compile(r"(.+?)\s+to\s+(.+)")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:/[0-9]+(?:\.[0-9]+)?)?")
_LONGEST_TEXT = 160

#: All that is read as a range matches it.
RangeText = Annotated[
    str, WithJsonSchema({NAMED: "range", "type": "string", "pattern": r"^\s*at\s+(?:least|most)\s+\S|\S\s+to\s+\S"})
]


def between(kind: Any, example: str, *, words: str, alone: Literal["itself", "at least"] | None = None) -> Any:
    """A range of values of a kind: `60 to 80 km/h`, `at least 60 km/h` or `at most 80 km/h`.

    A unit behind the second of two values holds for both. alone: a single value will do, as a range of itself or as the
    least.
    """
    adapter: TypeAdapter[Any] = TypeAdapter(kind)
    of_kind = next(iter(forms_in(kind)), Form("", ""))

    def read(found: object, info: ValidationInfo) -> Range:
        if isinstance(found, Range):
            return found
        text = found.strip() if isinstance(found, str) and len(found) <= _LONGEST_TEXT else ""
        one, two = _ONE_END.fullmatch(text), _BOTH_ENDS.fullmatch(text)
        if one:
            value = _value(adapter, one[2], info)
            return Range(least=value, written=text) if one[1] == "least" else Range(most=value, written=text)
        if two:
            first, last = (_value(adapter, end, info) for end in _ends(two[1], two[2], found))
            if first > last:
                raise QuantityError(f"{shown(found)} runs backwards; write the smaller value first")
            return Range(first, last, text)
        if not alone:
            ways = _around(adapter, text, info) or _ways(example)
            raise QuantityError(f"{shown(found)} is not a range; write it like {', or like '.join(ways)}")
        value = _value(adapter, found, info)
        return Range(value, value if alone == "itself" else math.inf, text)

    written: Any = kind | RangeText if alone else RangeText
    write = of_kind.write if of_kind.write is not str else "{:g}".format  # of whole numbers
    form = Form(words, example, units=of_kind.units, write=lambda value: _text(value, write))
    return Annotated[Range, BeforeValidator(read, json_schema_input_type=written), form]


def _ways(example: str) -> tuple[str, ...]:
    """A range in the way of an example, then in the others.

    >>> _ways("at least 3 s"), _ways("60 to 80 km/h")
    (('at least 3 s', 'at most 3 s'), ('60 to 80 km/h', 'at least 80 km/h', 'at most 80 km/h'))
    """
    one, two = _ONE_END.fullmatch(example), _BOTH_ENDS.fullmatch(example)
    if two:
        return example, f"at least {two[2]}", f"at most {two[2]}"
    assert one is not None  # an example is a range
    return example, f"at {'most' if one[1] == 'least' else 'least'} {one[2]}"


#: How far on either side of one value the range reaches that is offered in its place: what a maker may widen. Chosen.
_REACH = 0.1


def _around(adapter: TypeAdapter[Any], text: str, info: ValidationInfo) -> tuple[str, ...]:
    """Ranges about a single value as it is written, in its unit; none of what is no value of the kind."""
    number = re.fullmatch(rf"({_NUMBER.pattern})(\s*\D*)", text)
    if number is None or "/" in number[1]:
        return ()
    try:
        _value(adapter, text, info)
    except QuantityError:
        return ()
    low, high = (f"{float(f'{float(number[1]) * (1 + side):.2g}'):g}" for side in (-_REACH, _REACH))
    return (f"{low} to {high}{number[2]}", f"at least {text}", f"at most {text}")


def _ends(first: str, last: str, found: object) -> tuple[str, str]:
    """Both ends as text with their units.

    >>> _ends("60", "80 km/h", ""), _ends("3", "4 m full size", ""), _ends("f/4", "8", "")
    (('60 km/h', '80 km/h'), ('3 m full size', '4 m full size'), ('f/4', '8'))
    """
    number = _NUMBER.match(last)
    unit = last[number.end() :] if number else ""
    if not _NUMBER.fullmatch(first) or not unit:
        return first, last
    if re.search("[0-9]", unit):
        raise QuantityError(f"{shown(found)}: write the unit behind both values")
    return f"{first}{unit}", last


def _value(adapter: TypeAdapter[Any], found: object, info: ValidationInfo) -> float:
    """One end; a number that stands in a text is that number."""
    if isinstance(found, str) and re.fullmatch(r"[0-9]{1,15}", found.strip()):
        found = int(found)
    try:
        return float(adapter.validate_python(found, context=info.context))
    except ValidationError as error:
        raise reason_of(error, found) from None


def reason_of(error: ValidationError, found: object) -> QuantityError:
    """Why a value was refused, in our words."""
    reason = error.errors(include_url=False)[0].get("ctx", {}).get("error")
    return reason if isinstance(reason, QuantityError) else QuantityError(f"{shown(found)} is no such value")


def _text(found: Range, write: Callable[[Any], str]) -> str:
    """A range as it stands in a file."""
    if found.written:
        return " ".join(found.written.split())
    if found.least == found.most:
        return write(found.least)
    if math.isinf(found.least):
        return f"at most {write(found.most)}"
    return (
        f"at least {write(found.least)}" if math.isinf(found.most) else f"{write(found.least)} to {write(found.most)}"
    )


# --- what may change ---


def _yes_or_no(found: object) -> bool:
    return found in ("yes", True)


def _yes_or_no_text(value: bool) -> str:
    return "yes" if value else "no"


_YesOrNo: Any = Annotated[bool, BeforeValidator(_yes_or_no), WithJsonSchema({"enum": ["yes", "no", True, False]})]


def may(*, within: Any = None, among: Any = None, example: str) -> Any:
    """Whether something may change: `yes`, `no`, a range that it may change within, or a list to choose from.

    Parameters
    ----------
    within : kind made by `between`, or None
        Of its range, where it has one.
    among : kind or None
        Of the members of its list, where it has one.
    example : str
        Of what may be written besides yes and no.
    """
    kinds = {"flag": _YesOrNo}
    if within is not None:
        kinds["range"] = within
    if among is not None:
        kinds["list"] = series(among, at_least=1, what="values", example=example)
    ways = ["yes", "no", *(["a range"] if within is not None else []), *(["a list"] if among is not None else [])]

    def kind_of(found: object) -> str:
        if isinstance(found, bool) or found in ("yes", "no"):
            return "flag"
        kind = "list" if isinstance(found, list | tuple) else "range"
        if kind not in kinds or isinstance(found, dict) or found is None:
            like = f", like {example}" if len(ways) > 2 else ""
            raise QuantityError(f"{shown(found)} does not say whether this may change; write {listed(ways)}{like}")
        return kind

    units = tuple(dict.fromkeys(unit for kind in (within, among) for form in forms_in(kind) for unit in form.units))
    form = Form(", ".join(ways), example, units=units, write=_yes_or_no_text)
    return Annotated[by_kind(kind_of, kinds), form]
