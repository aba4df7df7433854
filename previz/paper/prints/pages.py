"""Parts drawn on pages: tiles of a paper, or one large sheet each."""

import numpy as np

from previz.paper.plan.labels import Placing
from previz.paper.prints.parts import Part
from previz.paper.prints.tiles import FOOT, Grid, Tile
from previz.paper.sheet import HEADING, MARGIN, MEDIUM, SMALL, THIN, Box, Sheet, View
from previz.units import Tape

#: Of the ruler that proves the printer. [mm]
RULER = 100.0

_SAID = 13.5  # for what is written at its end [mm]


def tile_sheet(part: Part, grid: Grid, tile: Tile, tape: Tape) -> Sheet:
    """One tile of a part."""
    sheet = Sheet(grid.width, grid.height, f"{part.name} {tile.name}")
    view = View(sheet, grid.shown, 1.0, tile.corner)
    _drawn(part, sheet, view)
    for begin, end in grid.marks:
        sheet.line([begin, end], THIN)
    x, y = tile.corner
    foot(sheet, sheet.name, f"left marks x {tape(x)}, near marks y {tape(y)}")
    return sheet


def large_sheet(part: Part, size: tuple[float, float], tape: Tape) -> Sheet:
    """All of a part on one sheet so wide and high. [mm]"""
    sheet = Sheet(*size, part.name)
    left, low, right, high = part.whole.bounds
    box = Box(MARGIN, MARGIN + FOOT, MARGIN + (right - left) * 1000, MARGIN + FOOT + (high - low) * 1000)
    _drawn(part, sheet, View(sheet, box.grown(0.5), 1.0, (left - 0.0005, low - 0.0005)))
    foot(sheet, part.heading, part.about)
    return sheet


def large_size(part: Part) -> tuple[float, float]:
    """Width and height that `large_sheet` needs at least. [mm]"""
    left, low, right, high = part.whole.bounds
    return (right - left) * 1000 + 2 * MARGIN, (high - low) * 1000 + 2 * MARGIN + FOOT


def _drawn(part: Part, sheet: Sheet, view: View) -> None:
    part.draw(view)
    Placing.on(sheet, view.box.grown(-0.5)).place(part.labels(view))


def foot(sheet: Sheet, name: str, where: str) -> None:
    """Name, place and ruler under a drawing."""
    room = sheet.inside
    ruler(sheet, (room.right - RULER - _SAID, room.low + 1.0))
    wide = room.width - RULER - _SAID - 4.0
    sheet.words(name, (room.left, room.low + 4.0), HEADING, bold=True, within=wide)
    sheet.words(where, (room.left, room.low + 0.7), SMALL, within=wide)


def ruler(sheet: Sheet, at: tuple[float, float], upright: bool = False) -> None:
    """A line of 100 mm with a tick every 10, its left or lower end at a place. [mm]"""
    x, y = at
    way, aside = (
        (np.array([0.0, 1.0]), np.array([-1.0, 0.0])) if upright else (np.array([1.0, 0.0]), np.array([0.0, 1.0]))
    )
    start = np.array([x, y])
    sheet.line([start, start + way * RULER], MEDIUM)
    for number in range(11):
        foot = start + way * number * RULER / 10
        sheet.line([foot, foot + aside * (2.4 if number % 5 == 0 else 1.4)], MEDIUM if number % 10 == 0 else THIN)
    end = start + way * (RULER + 1.0)
    if upright:
        sheet.words("100 mm", (float(end[0]), float(end[1])), SMALL, turn=90.0)
    else:
        sheet.words("100 mm", (float(end[0]), float(end[1])), SMALL)
