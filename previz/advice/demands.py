"""What is wanted, as figures and the ranges they should lie in."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.physics import apparent_scale, flicker
from previz.predictions import GLOSSARY, SHARP_SHARE, Figure, rows
from previz.scene import (
    Behind,
    Edges,
    Fills,
    Flicker,
    Framed,
    IsoWanted,
    Lasts,
    Looks,
    MotionBlur,
    Range,
    Scene,
    ScreenSpeed,
    Sharp,
    Shot,
    Want,
)
from previz.units import percent

Array = NDArray[np.float64]

#: A background is soft and still to be read between so many times the blur that counts as sharp: a 600th to a 60th of
#: the picture's width. Common practice, no source.
SOFT = (3.0, 25.0)

#: How far off a figure that is not known is, and the most that any is. [stops]
_LOST = 20.0

#: A want is answered better or worse to speak of where it is missed by so much less or more. [stops]
MUCH = 0.5

#: Nearer to a limit than this a figure meets it. Share of it.
_HAIR = 1e-6


@dataclass(frozen=True)
class Demand:
    """One want as a figure and its range.

    Parameters
    ----------
    want : Want
        As written.
    key : str
        Its place in the file, `wants[0]`.
    figure : str
        Which of `Figures` it goes by.
    quantity : str
        What that is, by its name in the glossary of predictions.
    range : Range
        In which it should lie, in the unit of the figure.
    was : float
        By how much the shot as it is written misses it; infinite where check stops that, for then all is
        better. [stops]
    tape : str
        The unit of the maker's tape, by which people read the figure; `Scene.tape_unit`.
    """

    want: Want
    key: str
    figure: str
    quantity: str
    range: Range
    was: float = math.inf
    tape: str = "mm"

    @property
    def hard(self) -> bool:
        """Whether a plan that misses it is no plan."""
        return bool(self.want.must)

    def miss(self, value: Any) -> Any:
        """By how many times a figure, or each of an array, is past its range, in stops (doublings); 0 within it."""
        return miss(value, self.range)

    def rank(self, miss: Any) -> Any:
        """0 where it is met, 1 where it is missed, 2 where it was missed before and is now by far more.

        Of a want that the shot misses as it is written a way gives up no more for one that matters less; of a must all
        that counts here is whether it is met.
        """
        worse = miss > self.was + MUCH if self.was > 0 and not self.hard else False
        return np.where(miss > 0, 1.0 + np.asarray(worse, dtype=float), 0.0)

    def limit(self, value: float) -> float:
        """The end of the range that a value is held against: the one it is past, else the nearer one."""
        ends = [end for end in (self.range.least, self.range.most) if math.isfinite(end)]
        past = [end for end in ends if (value < end) == (end == self.range.least)] if len(ends) == 2 else ends
        return min(past or ends, key=lambda end: abs(end - value))


def miss(value: Any, range_: Range) -> Any:
    """By how many stops (doublings) values are past a range.

    >>> miss(np.array([50.0, 100.0, 400.0]), Range(most=100.0)).tolist(), float(miss(math.nan, Range(1.0, 2.0)))
    ([0.0, 0.0, 2.0], 20.0)
    """
    found = np.asarray(value, dtype=float)
    over = np.zeros_like(found)
    with np.errstate(divide="ignore", invalid="ignore"):
        if math.isfinite(range_.most):
            # Where the most is nothing, so much as there is counts.
            past = np.log2(found / range_.most) if range_.most > 0 else np.where(found > 0, 1.0 + found, 0.0)
            over = np.maximum(over, np.where(found > range_.most * (1 + _HAIR), past, 0.0))
        if math.isfinite(range_.least) and range_.least > 0:
            short = np.log2(range_.least / np.maximum(found, 1e-30))
            over = np.maximum(over, np.where(found < range_.least * (1 - _HAIR), short, 0.0))
    return np.where(np.isnan(found), _LOST, np.minimum(over, _LOST))


def demands_of(scene: Scene, shot: Shot, as_written: Mapping[str, float]) -> tuple[Demand, ...]:
    """What is wanted of a shot, the most important first.

    as_written: the figures of the shot as the file has it; a framing as written is one of them.
    """
    numbers = {id(want): number for number, want in enumerate(scene.wants)}
    found = []
    for want in scene.wants_of(shot):
        if isinstance(want, Framed) and math.isnan(as_written["width"]):
            continue  # the vehicle is behind the camera as written: there is no framing to keep
        figure, quantity, range_ = _figure(want, as_written)
        found.append(Demand(want, f"wants[{numbers[id(want)]}]", figure, quantity, range_, tape=scene.tape_unit))
    return tuple(found)


def _figure(want: Want, as_written: Mapping[str, float]) -> tuple[str, str, Range]:
    match want:
        case Fills():
            return "width", "vehicle_width", want.range
        case Framed():
            now, reach = as_written["width"], Fills.model_fields["within"].default
            return "width", "vehicle_width", Range(max(now - reach, 0.0), now + reach)
        case Sharp():
            return ("sharp_run" if want.sharp == "run" else "sharp_middle"), "total_blur", Range(most=1.0)
        case Behind():
            return "behind", "blur_pixels", Range(*SOFT) if want.background == "soft" else Range(most=1.0)
        case Looks():
            return "pupil", "full_size_pupil", Range(most=apparent_scale.FILMED_PUPIL[1])
        case ScreenSpeed():
            return "speed", "apparent_speed", want.speed
        case Lasts():
            return "lasts", "time_in_frame", want.lasts
        case IsoWanted():
            return "iso", "iso_needed", want.iso
        case Edges():
            return "edges", "off_set_pixels", Range(most=1.0)
        case Flicker():
            return "ripple", "ripple", Range(most=flicker.EVEN_LIGHT)
        case MotionBlur():
            return "smear", "vehicle_blur_share", want.motion_blur
    raise TypeError(f"no figure answers {want!r}")


#: Figures that are kept as times what counts as enough, in what unit people read them: what 1 of it is called.
_TIMES = {
    "sharp_run": f"times the blur that still counts as sharp in {percent(SHARP_SHARE)} of the frames that show it",
    "sharp_middle": "times the blur that still counts as sharp",
    "behind": "times the blur that still counts as sharp",
}


def told(demand: Demand, value: float) -> str:
    """A value of a demand's figure as people read it."""
    if demand.figure == "edges":
        return "nothing past the set" if value <= 1 else f"a picture {percent(1 - 1 / value)} of its width too wide"
    if demand.figure in _TIMES:
        return f"{value:.3g} {_TIMES[demand.figure]}" if math.isfinite(value) else "not in the picture"
    if math.isnan(value):
        return "not known"
    (row,) = rows((Figure(demand.quantity, value),), demand.tape)
    of = {
        "pupil": "of lens opening",
        "width": "of the width",
        "lasts": "on screen",
        "smear": "of its length",
        "ripple": "from frame to frame",
    }
    return f"{row.value} {row.unit} {of.get(demand.figure, '')}".strip()


def limit_told(demand: Demand, value: float) -> str:
    """The end of the range that a value is held against as people read it; "" of a figure without a unit.

    >>> from previz.scene import Looks
    >>> looks = Demand(Looks(looks="full size"), "", "pupil", "full_size_pupil", Range(most=0.045), tape="cm")
    >>> told(looks, 0.154), limit_told(looks, 0.154)
    ('15.4 cm of lens opening', 'at most 4.5 cm')
    """
    if not unit_of(demand):
        return ""
    limit = demand.limit(value)
    (row,) = rows((Figure(demand.quantity, limit),), demand.tape)
    return f"at {'least' if limit == demand.range.least else 'most'} {row.value} {row.unit}"


def as_printed(demand: Demand, value: float) -> bool:
    """Whether a value is that of its limit as people read the two: then it meets it, for nobody could tell.

    >>> from previz.scene import Fills
    >>> fills = Demand(Fills.model_construct(), "wants[0]", "width", "vehicle_width", Range(0.348, 0.4))
    >>> as_printed(fills, 0.34784), as_printed(fills, 0.3471), as_printed(fills, math.nan)
    (True, False, False)
    """
    if not math.isfinite(value):
        return False
    limit = demand.limit(value)
    return math.isfinite(limit) and told(demand, value) == told(demand, limit)


def miss_as_told(demand: Demand, value: float) -> float:
    """By how much a value misses its range; 0 also where nobody could tell from what is printed. [stops]"""
    return 0.0 if as_printed(demand, value) else float(demand.miss(value))


def unit_of(demand: Demand) -> str:
    """SI unit of a demand's figure; "" of one that is a share or so many times something."""
    return "" if demand.figure in _TIMES or demand.figure == "edges" else GLOSSARY[demand.quantity].unit
