"""What is written on a lens and on its box: focal lengths with the widest stop behind or before them."""

import re

from previz import units
from previz.units import LENGTH, QuantityError, shown

#: What is allowed, for who wrote something else.
EXAMPLES = "35 mm, 12-40 mm f/2.8, 14-42 mm f/3.5-5.6, or 24 mm equivalent f/1.8"

_NUMBER = r"[0-9]{1,9}(?:\.[0-9]{1,9})?"
_MARK = r"(?:[fFƒ]\s*/?\s*|1\s*:\s*)"
_ENDS = rf"(?P<wide>{_NUMBER})(?:\s*[-–]\s*{_MARK}?(?P<long>{_NUMBER}))?"
_STOPS = _MARK + _ENDS
#: Without a mark, as shops have it, they stand behind the unit and are no whole number: 18-55mm 3.5-5.6.
_UNMARKED = r"(?<=mm)[\s,/]+(?=[0-9]+(?:\.|\s*[-–]\s*[0-9]))"
_BEHIND = re.compile(rf"(?P<length>\S.*?)(?:[\s,/]*(?<![a-zA-Z]){_MARK}|{_UNMARKED}){_ENDS}")
_MORE = re.compile(rf"{_BEHIND.pattern}\s+(?P<rest>[^\s\d].*)")
_BEFORE = re.compile(rf"{_STOPS}[\s,/]+(?P<length>\S.*)")


def length_and_stops(text: str) -> tuple[str, tuple[str, ...]]:
    """The focal lengths of what is written on a lens, and the widest stops at the short and the long end.

    No stop where none is written, one where it holds throughout.

    >>> length_and_stops("12-40 mm f/2.8"), length_and_stops("14-42mm 1:3.5-5.6"), length_and_stops("35mm f2")
    (('12-40 mm', ('f/2.8',)), ('14-42mm', ('f/3.5', 'f/5.6')), ('35mm', ('f/2',)))
    >>> length_and_stops("24 mm equivalent, f/1.8"), length_and_stops("50 mm")
    (('24 mm equivalent', ('f/1.8',)), ('50 mm', ()))
    """
    text = re.sub(r"^f\s*=\s*", "", text.strip()[:80])  # f = 50 mm, as lenses are engraved
    found = _BEHIND.fullmatch(text) or _BEFORE.fullmatch(text)
    if found is None:
        return text, ()
    return found["length"].strip(), tuple(f"f/{stop}" for stop in (found["wide"], found["long"]) if stop)


def ends_of(text: str) -> dict[str, str]:
    """The shortest and the longest focal length of a lens; of a prime they are the same.

    Raises QuantityError where it says no length, with what may be written.

    >>> ends_of("8.8-36.8 mm"), ends_of("25 mm")
    ({'shortest': '8.8 mm', 'longest': '36.8 mm'}, {'shortest': '25 mm', 'longest': '25 mm'})
    """
    ends = re.fullmatch(rf"({_NUMBER})\s*([^\s0-9-–]*)\s*(?:[-–]|\bto\b)\s*({_NUMBER})\s*(\S*)", text.strip())
    short, long = (f"{ends[1]} {ends[2] or ends[4]}", f"{ends[3]} {ends[4]}") if ends else (text, text)
    for end in (short, long):
        try:
            units.parse(LENGTH, end.strip(), bare=1.0)
        except QuantityError:
            more = _MORE.fullmatch(text.strip()[:80])
            without = f"; take {shown(more['rest'])} out, and" if more else ";"
            raise QuantityError(
                f"{shown(text)} is not a lens{without} write its focal length or lengths, with its widest stop if you "
                f"like, as they stand on it: {EXAMPLES}"
            ) from None
    return {"shortest": short.strip(), "longest": long.strip()}
