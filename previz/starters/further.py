"""One more shot on the street of the first: seen along it, with the backdrop hung across it where it runs past one."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from previz.starters.fitting import Wish
from previz.starters.staging import Staged, Street, lengthwise

Point = tuple[float, ...]


@dataclass(frozen=True)
class Further:
    """A shot by its name and its camera's, laid out as if the street ran along the table's depth, and where that is.

    side is the edge of the table at which the backdrop then hangs, "" where it stays at the back.
    """

    name: str
    camera: str
    staged: Staged
    side: str
    on_set: Callable[[Point], Point]


def further(wish: Wish, first: Staged, name: str, fastest: int, stop: float, *, away: bool, hung: bool) -> Further:
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
    if start[0] == end[0]:  # the first one looks along it as well
        street = Street(start[0], first.lanes, first.kmh, False)
        return Further(name, camera, lengthwise(wish, fastest, stop, away=away, street=street), "", lambda place: place)
    across = start[1]
    turned = replace(wish, table=(depth, width))
    street = Street(depth - across if away else across, first.lanes, first.kmh, hung)
    staged = lengthwise(turned, fastest, stop, away=away, street=street)
    if away:
        return Further(name, camera, staged, "right", lambda place: (place[1], depth - place[0], *place[2:]))
    return Further(name, camera, staged, "left", lambda place: (width - place[1], place[0], *place[2:]))
