"""Frames of the cut as timecode, SMPTE ST 12-1; the arithmetic is OpenTimelineIO's.

Drop-frame timecode (`;` before the frames) leaves out labels 00 and 01 of every minute but each tenth, at 30000/1001
frames a second, and twice as many at twice that rate, so that it keeps step with the clock. No frame is dropped.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from previz.errors import PrevizError
from previz.units import shown

#: Where programmes begin. Common practice, no source.
USUAL_START = "01:00:00:00"

_DAY = 24 * 3600

#: Rates that timecode is defined for, and those for which it may drop labels. [1/s]
_WHOLE = {Fraction(rate) for rate in (24, 25, 30, 48, 50, 60)}
_BELOW = {Fraction(rate * 1000, 1001) for rate in (24, 30, 48, 60)}
_MAY_DROP = {Fraction(30000, 1001), Fraction(60000, 1001)}


@dataclass(frozen=True)
class Clock:
    """What the frames of a cut are called.

    Parameters
    ----------
    rate : Fraction
        Frames a second.
    start : int
        Frames from 00:00:00:00 to the cut's first.
    drop : bool
        Whether labels are dropped.
    known : bool
        Whether there is timecode at that rate.
    """

    rate: Fraction
    start: int
    drop: bool
    known: bool = True

    def label(self, number: int) -> str:
        """Of a frame of the cut, counted from 0; empty where there is no timecode at that rate."""
        return self._label(self.start + number)

    def of_shot(self, number: int) -> str:
        """Of a frame of a shot, whose first is 00:00:00:00."""
        return self._label(number)

    def _label(self, number: int) -> str:
        if not self.known:
            return ""
        time, rate = _time(), _counting(self.rate, self.drop)
        return str(time.to_timecode(time.RationalTime(number, rate), rate, self.drop))


def clock_of(rate: Fraction, start: str | None, length: int) -> Clock:
    """The clock of a cut of so many frames that begins at that timecode, `USUAL_START` unless given.

    Raises
    ------
    PrevizError
        There is no such timecode at that rate, or the cut would run past midnight.

    >>> clock_of(Fraction(30000, 1001), "00:00:59;28", 10).label(2)
    '00:01:00;02'
    """
    fps = f"{float(rate):.5g} fps"
    if rate not in _WHOLE | _BELOW:
        if start is not None:
            raise PrevizError(f"--start-timecode: there is no timecode at {fps}; leave it out, and frames are counted")
        return Clock(rate, 0, drop=False, known=False)
    text = USUAL_START if start is None else start.strip()
    match = re.fullmatch(r"(\d\d):(\d\d):(\d\d)([:;])(\d\d)", text, flags=re.ASCII)
    if not match:
        raise PrevizError(
            f"--start-timecode {shown(text)} is not a timecode; write hours, minutes, seconds and frames, like "
            f"{USUAL_START}, with ; before the frames for drop-frame"
        )
    drop = match[4] == ";"
    if drop and rate not in _MAY_DROP:
        raise PrevizError(
            f"--start-timecode {text}: ; means drop-frame, which there is at 30000/1001 and 60000/1001 fps only; at "
            f"{fps} write {text.replace(';', ':')}"
        )
    first = _frames(text, rate, drop)
    if first is None:
        left_out = drop and _frames(text.replace(";", ":"), rate, False) is not None
        why = " (drop-frame leaves that label out)" if left_out else ""
        raise PrevizError(f"--start-timecode {text}: there is no such frame at {fps}{why}; choose another")
    labels = _DAY * math.ceil(rate)
    dropped = 9 * 6 * 24 * (math.ceil(rate) // 15) if drop else 0  # in nine of ten minutes
    if first + length > labels - dropped:
        raise PrevizError(f"--start-timecode {text}: the cut would run past midnight; begin earlier")
    return Clock(rate, first, drop)


def _frames(text: str, rate: Fraction, drop: bool) -> int | None:
    """Which frame of the day has that label; None where none has."""
    time, counting = _time(), _counting(rate, drop)
    try:
        found = time.from_timecode(text, counting)
        again = time.to_timecode(found, counting, drop)
    except ValueError:
        return None
    return round(found.value) if again == text else None


def _counting(rate: Fraction, drop: bool) -> float:
    """The rate at which labels count: at 30000/1001 fps, without drops, as at 30, so that their day is longer than one.

    The library begins anew when the clock's day is over.
    """
    return float(rate) if drop else float(math.ceil(rate))


def _time() -> Any:
    from opentimelineio import opentime

    return opentime
