"""Tiles: how a drawing at life size is spread over pages that overlap, and how a page tells where it belongs.

A tile shows its *cell* and a strip beyond it, on the right and on the far side. Marks in the margins stand at the
corners of the cell. Each page is cut along its left and near marks and laid over its neighbours' strips, up to their
marks: then the cells lie side by side.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.paper.papers import Paper
from previz.paper.sheet import MARGIN, Box

Array = NDArray[np.float64]

#: What two pages share where they are laid over each other. [mm]
STRIP = 6.0

#: For a page's name and its ruler, under what it shows. [mm]
FOOT = 11.0


@dataclass(frozen=True)
class Tile:
    """One page of a grid.

    Parameters
    ----------
    row, column : int
        From the near left, from 0.
    corner : (2,) float
        What lies in the lower left corner of its cell. [m]
    """

    row: int
    column: int
    corner: tuple[float, float]

    @property
    def name(self) -> str:
        """A letter for its row, A the nearest, and a number for its column, 1 the leftmost.

        >>> Tile(1, 2, (0, 0)).name, Tile(27, 0, (0, 0)).name
        ('B3', 'AB1')
        """
        letters, row = "", self.row
        while row >= 0:
            letters, row = chr(ord("A") + row % 26) + letters, row // 26 - 1
        return f"{letters}{self.column + 1}"


@dataclass(frozen=True)
class Grid:
    """A drawing spread over pages of one size, all the same way round.

    Parameters
    ----------
    width, height : float
        Of a page. [mm]
    corner : (2,) float
        Lower left corner of all that is shown. [m]
    reach : (2,) float
        How far it goes to the right and up. [m]
    whole : float
        Steps from cell to cell are whole numbers of this, so that a tape finds them. [mm]
    """

    width: float
    height: float
    corner: tuple[float, float]
    reach: tuple[float, float]
    whole: float = 1.0

    @property
    def shown(self) -> Box:
        """Where on a page the drawing is: its cell and its strip. [mm]"""
        page = Box(0.0, 0.0, self.width, self.height).grown(-MARGIN)
        wide, high = self.step[0] + STRIP, self.step[1] + STRIP
        return Box(page.left, page.low + FOOT, page.left + wide, page.low + FOOT + high)

    @property
    def step(self) -> tuple[float, float]:
        """From one cell to the next. [mm]"""
        room = self.width - 2 * MARGIN - STRIP, self.height - 2 * MARGIN - FOOT - STRIP
        return math.floor(room[0] / self.whole) * self.whole, math.floor(room[1] / self.whole) * self.whole

    @property
    def columns(self) -> int:
        """[-]"""
        return self._times(0)

    @property
    def rows(self) -> int:
        """[-]"""
        return self._times(1)

    def _times(self, axis: int) -> int:
        """Cells along an axis; what the last one's strip shows needs no other."""
        return max(math.ceil((self.reach[axis] * 1000 - STRIP) / self.step[axis] - 1e-6), 1)

    def tile(self, row: int, column: int) -> Tile:
        """The tile there."""
        x, y = (self.corner[axis] + at * self.step[axis] / 1000 for axis, at in ((0, column), (1, row)))
        return Tile(row, column, (x, y))

    def cell(self, tile: Tile) -> Any:
        """What of a drawing is a tile's own: its cell; of the last in a row or column its strip too. A shape. [m]"""
        wide = self.step[0] + (STRIP if tile.column == self.columns - 1 else 0.0)
        high = self.step[1] + (STRIP if tile.row == self.rows - 1 else 0.0)
        x, y = tile.corner
        return shapely.box(x, y, x + wide / 1000, y + high / 1000)

    def carrying(self, something: Any) -> list[Tile]:
        """The tiles in whose own part there is any of a shape, row by row from the near left."""
        every = [self.tile(row, column) for row in range(self.rows) for column in range(self.columns)]
        # A hair smaller, so that what only touches a cell's side is not in it.
        cells = shapely.buffer([self.cell(tile) for tile in every], -_HAIR, join_style="mitre")
        return [tile for tile, has in zip(every, shapely.intersects(something, cells), strict=True) if has]

    @cached_property
    def marks(self) -> tuple[tuple[Array, Array], ...]:
        """The marks at the four corners of a cell: lines from and to, in the page's margins. [mm]"""
        box, found = self.shown, []
        for x in (box.left, box.left + self.step[0]):
            for inner, outer in ((box.low - GAP, box.low - GAP - MARK), (box.high + GAP, box.high + GAP + MARK)):
                found.append((np.array([x, inner]), np.array([x, outer])))
        for y in (box.low, box.low + self.step[1]):
            for inner, outer in ((box.left - GAP, box.left - GAP - MARK), (box.right + GAP, box.right + GAP + MARK)):
                found.append((np.array([inner, y]), np.array([outer, y])))
        return tuple(found)


#: Between the drawing and a mark, and a mark's length. [mm]
GAP, MARK = 0.8, 3.6

_HAIR = 1e-5  # [m]


#: Places of a grid that are tried along each axis, for the fewest pages.
_SHIFTS = 6


def best_grid(paper: Paper, something: Any, whole: float = 1.0) -> tuple[Grid, list[Tile]]:
    """Pages upright or lying, laid so that the fewest carry any of a shape [m], and those that do."""
    left, low, right, high = shapely.bounds(something).tolist()
    shapely.prepare(something)
    best: tuple[Grid, list[Tile]] | None = None
    for width, height in ((paper.short, paper.long), (paper.long, paper.short)):
        step = Grid(width, height, (0.0, 0.0), (0.0, 0.0), whole).step
        for back, down in product(np.linspace(0.0, 1.0, _SHIFTS, endpoint=False), repeat=2):
            x, y = (
                math.floor((begin * 1000 - share * side) / whole + 1e-6) * whole / 1000
                for begin, share, side in ((left, back, step[0]), (low, down, step[1]))
            )
            grid = Grid(width, height, (x, y), (right - x, high - y), whole)
            tiles = grid.carrying(something)
            if best is None or len(tiles) < len(best[1]):
                best = grid, tiles
    assert best is not None  # both ways round are tried
    return best
