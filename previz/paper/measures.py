"""Lengths as they stand on paper: in the unit of the maker's tape, decimal inches as the sixteenths that a tape has."""

import math
from dataclasses import dataclass
from fractions import Fraction

from previz.scene import Scene
from previz.units import LENGTH, on_tape


@dataclass(frozen=True)
class Tape:
    """A maker's tape, in mm, cm or in.

    >>> tape = Tape("in")
    >>> tape(0.4866), tape(-0.0127), tape.bare(0.3048), Tape("mm")(0.4866), Tape("cm").bare(0.4866)
    ('19 3/16 in', '-1/2 in', '12', '487 mm', '48.7')
    """

    unit: str

    def __call__(self, length: float, places: int = 0) -> str:
        """A length [m] with its unit; places are those that millimetres have. Infinity is told in words."""
        return f"{self.bare(length, places)} {self.unit}" if math.isfinite(length) else "infinity"

    def bare(self, length: float, places: int = 0) -> str:
        """A length [m] without its unit, for a column that says it."""
        if not math.isfinite(length):
            return "infinity"
        if self.unit == "in":
            return in_sixteenths(length / LENGTH.factors["in"])
        return on_tape(length, self.unit, places).removesuffix(f" {self.unit}")


def tape_of(scene: Scene) -> Tape:
    """The tape that most of a scene's lengths are written for."""
    return Tape(scene.tape_unit)


def other_scale(scene: Scene, scale: float) -> str:
    """S of 1:S of a thing as a maker reads it, where it is not the set's; else nothing."""
    return f"1:{scale:g}" if scale != float(scene.scale) else ""


def in_sixteenths(inches: float) -> str:
    """Inches to the nearest sixteenth, as a tape shows them.

    >>> in_sixteenths(7.5), in_sixteenths(0.26), in_sixteenths(-2.94), in_sixteenths(0.01)
    ('7 1/2', '1/4', '-2 15/16', '0')
    """
    sixteenths = round(abs(inches) * 16)
    whole, part = divmod(sixteenths, 16)
    text = " ".join([str(whole)] * bool(whole) + [str(Fraction(part, 16))] * bool(part)) or "0"
    return f"-{text}" if inches < 0 and sixteenths else text
