"""One more shot on the street of the first: seen along it, with the backdrop hung across it where it runs past one."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from previz.starters.fitting import Wish
from previz.starters.staging import SLOWEST, Staged, Street, lengthwise_on

Point = tuple[float, ...]

_AS_WIDE = 1.95  # times the narrowest lens opening, the widest: under two stops, past which a cut shows it


@dataclass(frozen=True)
class Placed:
    """A shot by its name and its camera's, laid out as if the street ran along the table's depth, and where that is.

    side is the edge of the table at which the backdrop then hangs, "" where it stays at the back; sees is 1 where it
    sees the vehicle's nose, -1 its tail, and 0 its side.
    """

    name: str
    camera: str
    staged: Staged
    sees: int = 0
    side: str = ""
    on_set: Callable[[Point], Point] = field(default=lambda place: place)

    @property
    def middle(self) -> Point:
        """Where on the table the vehicle is halfway, (x, y). [m]"""
        return self.on_set(self.staged.aim)[:2]

    @property
    def heading(self) -> Point:
        """The way that it drives there, a unit vector (x, y)."""
        begins, ends = map(self.on_set, self.staged.path)
        return (ends[0] - begins[0]) / (length := math.dist(begins, ends)), (ends[1] - begins[1]) / length


def further(wish: Wish, first: Staged, name: str, fastest: int, stop: float, *, away: bool, hung: bool) -> Placed:
    """The shot that fits the street of the first one.

    hung: whether the backdrop may hang across the street before the table's end.

    The vehicle drives a street that runs across the table from left to right, so that it comes to a camera at the right
    and goes from one at the left.

    Raises
    ------
    NoRoom
        Where the table has none for it.
    """
    (width, depth), (start, end), camera = wish.table, first.path, next(iter(wish.cameras))
    sees = -1 if away else 1
    if start[0] == end[0]:  # the first one looks along it as well
        street = Street(start[0], first.lanes, first.kmh, first.at[2], hung=False, aside=False)
        return Placed(name, camera, lengthwise_on(wish, fastest, stop, street, away=away), sees)
    across = start[1]
    turned = replace(wish, table=(depth, width))
    street = Street(depth - across if away else across, first.lanes, first.kmh, first.at[2], hung, aside=True)
    staged = lengthwise_on(turned, fastest, stop, street, away=away)
    if away:
        return Placed(name, camera, staged, sees, "right", lambda place: (place[1], depth - place[0], *place[2:]))
    return Placed(name, camera, staged, sees, "left", lambda place: (width - place[1], place[0], *place[2:]))


def alike(shots: Sequence[Placed]) -> tuple[Placed, ...]:
    """The shots at one speed on screen, at which each lasts long enough, and with lens openings of about one size.

    It is the wider one that is stopped down, for which the lamps make up; as far as diffraction lets it, then the
    narrower one is opened.
    """
    staged = [shot.staged for shot in shots]
    kmh = max(SLOWEST, min(staged[0].kmh, *(math.floor(each.fastest) for each in staged[1:])))
    widest = _AS_WIDE * min(each.framed.opening for each in staged)
    framed = [each.framed.closed_to(widest) for each in staged]
    narrowest = max(each.opening for each in framed) / _AS_WIDE
    return tuple(
        replace(shot, staged=replace(each.as_fast_as(kmh), framed=by.opened_to(narrowest)))
        for shot, each, by in zip(shots, staged, framed, strict=True)
    )
