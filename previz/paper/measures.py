"""Lengths as they stand on paper: in the unit of the maker's tape, and in one unit throughout."""

from previz.scene import Scene
from previz.units import Tape


def tape_of(scene: Scene) -> Tape:
    """The tape that most of a scene's lengths are written for; in inches where they are in feet, as in columns."""
    return Tape(scene.tape.column)


def other_scale(scene: Scene, scale: float) -> str:
    """S of 1:S of a thing as a maker reads it, where it is not the set's; else nothing."""
    return f"1:{scale:g}" if scale != float(scene.scale) else ""
