"""Parts drawn on pages: tiles of a paper, or one large sheet each."""

from dataclasses import dataclass

import numpy as np

from previz.paper.plan.labels import Placing
from previz.paper.prints.parts import Part
from previz.paper.prints.tiles import FOOT, Grid, Tile
from previz.paper.sheet import HEADING, MARGIN, MEDIUM, SMALL, THIN, Box, Sheet, View
from previz.units import LENGTH, Tape


@dataclass(frozen=True)
class Ruler:
    """The line that proves the printer: its length [mm], how that is told, and in how many parts it is divided, every
    so many of which have a longer mark."""

    length: float
    says: str
    parts: int
    long: int


def ruler_for(tape: Tape) -> Ruler:
    """One that the maker's own tape can measure.

    >>> ruler_for(Tape("cm")).says, ruler_for(Tape("ft")).says
    ('100 mm', '4 in')
    """
    return Ruler(100.0, "100 mm", 10, 5) if tape.metric else Ruler(4 * LENGTH.factors["in"] * 1000, "4 in", 16, 4)


_SAID = 13.5  # for what is written at its end [mm]


def tile_sheet(part: Part, grid: Grid, tile: Tile, tape: Tape) -> Sheet:
    """One tile of a part."""
    sheet = Sheet(grid.width, grid.height, f"{part.name} {tile.name}")
    view = View(sheet, grid.shown, 1.0, tile.corner)
    _drawn(part, sheet, view)
    for begin, end in grid.marks:
        sheet.line([begin, end], THIN)
    x, y = tile.corner
    foot(sheet, sheet.name, f"left marks x {tape(x)}, near marks y {tape(y)}", ruler_for(tape))
    return sheet


def large_sheet(part: Part, size: tuple[float, float], tape: Tape) -> Sheet:
    """All of a part on one sheet so wide and high. [mm]"""
    sheet = Sheet(*size, part.name)
    left, low, right, high = part.whole.bounds
    box = Box(MARGIN, MARGIN + FOOT, MARGIN + (right - left) * 1000, MARGIN + FOOT + (high - low) * 1000)
    _drawn(part, sheet, View(sheet, box.grown(0.5), 1.0, (left - 0.0005, low - 0.0005)))
    foot(sheet, part.heading, part.about, ruler_for(tape))
    return sheet


def large_size(part: Part) -> tuple[float, float]:
    """Width and height that `large_sheet` needs at least. [mm]"""
    left, low, right, high = part.whole.bounds
    return (right - left) * 1000 + 2 * MARGIN, (high - low) * 1000 + 2 * MARGIN + FOOT


def _drawn(part: Part, sheet: Sheet, view: View) -> None:
    part.draw(view)
    Placing.on(sheet, view.box.grown(-0.5)).place(part.labels(view))


def foot(sheet: Sheet, name: str, where: str, ruler: Ruler) -> None:
    """Name, place and ruler under a drawing."""
    room = sheet.inside
    draw_ruler(sheet, ruler, (room.right - ruler.length - _SAID, room.low + 1.0))
    wide = room.width - ruler.length - _SAID - 4.0
    sheet.words(name, (room.left, room.low + 4.0), HEADING, bold=True, within=wide)
    sheet.words(where, (room.left, room.low + 0.7), SMALL, within=wide)


def draw_ruler(sheet: Sheet, ruler: Ruler, at: tuple[float, float], upright: bool = False) -> None:
    """A line with its marks, its left or lower end at a place. [mm]"""
    way = np.array([0.0, 1.0] if upright else [1.0, 0.0])
    start, aside = np.array(at), np.array([-way[1], way[0]])
    sheet.line([start, start + way * ruler.length], MEDIUM)
    for number in range(ruler.parts + 1):
        foot = start + way * number * ruler.length / ruler.parts
        mark = 2.4 if number % ruler.long == 0 else 1.4
        sheet.line([foot, foot + aside * mark], MEDIUM if number % ruler.parts == 0 else THIN)
    x, y = (start + way * (ruler.length + 1.0)).tolist()
    sheet.words(ruler.says, (x, y), SMALL, turn=90.0 if upright else 0.0)
