"""Part of a picture: what has to be drawn again."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Window:
    """Whole pixels from (left, bottom) up to, not including, (right, top); row 0 at the bottom, as OpenGL counts."""

    left: int
    bottom: int
    right: int
    top: int

    @classmethod
    def whole(cls, size: tuple[int, int]) -> "Window":
        """All of a picture."""
        return cls(0, 0, *size)

    @classmethod
    def around(cls, points: Iterable[Array], size: tuple[int, int], margin: int) -> "Window":
        """What holds clip-space points (n, 4), all of a picture where one lies behind the camera; nothing of none."""
        clip = np.concatenate([np.zeros((0, 4)), *points])
        if not len(clip):
            return cls(0, 0, 0, 0)
        if (clip[:, 3] < 1e-3).any():
            return cls.whole(size)
        pixels = (clip[:, :2] / clip[:, 3:] + 1) / 2 * size
        low, high = np.floor(pixels.min(axis=0)).astype(int), np.ceil(pixels.max(axis=0)).astype(int)
        return cls(int(low[0]), int(low[1]), int(high[0]), int(high[1])).grown(margin, size)

    def joined(self, other: "Window") -> "Window":
        """The smallest that holds both; where one holds nothing, the other."""
        for one, another in ((self, other), (other, self)):
            if one.empty:
                return another
        return Window(
            min(self.left, other.left),
            min(self.bottom, other.bottom),
            max(self.right, other.right),
            max(self.top, other.top),
        )

    @property
    def empty(self) -> bool:
        """Whether it holds no pixel."""
        return self.left >= self.right or self.bottom >= self.top

    def within(self, other: "Window") -> "Window":
        """What both hold."""
        return Window(
            max(self.left, other.left),
            max(self.bottom, other.bottom),
            min(self.right, other.right),
            min(self.top, other.top),
        )

    def grown(self, margin: int, size: tuple[int, int]) -> "Window":
        """Larger to every side, within the picture."""
        left, right = (min(max(side, 0), size[0]) for side in (self.left - margin, self.right + margin))
        bottom, top = (min(max(side, 0), size[1]) for side in (self.bottom - margin, self.top + margin))
        return Window(left, bottom, max(right, left), max(top, bottom))

    def shrunk(self, side: int) -> "Window":
        """The same on a picture that many times smaller.

        >>> Window(3, 4, 9, 8).shrunk(4)
        Window(left=0, bottom=1, right=3, top=2)
        """
        return Window(self.left // side, self.bottom // side, -(-self.right // side), -(-self.top // side))

    @property
    def box(self) -> tuple[int, int, int, int]:
        """Left, bottom, width, height."""
        return self.left, self.bottom, self.right - self.left, self.top - self.bottom

    def in_clip(self, size: tuple[int, int]) -> tuple[float, float, float, float]:
        """Left, right, bottom, top in clip coordinates over w, a pixel wider for what is drawn at its edge."""
        left, right = ((side + wider) / size[0] * 2 - 1 for side, wider in ((self.left, -1), (self.right, 1)))
        bottom, top = ((side + wider) / size[1] * 2 - 1 for side, wider in ((self.bottom, -1), (self.top, 1)))
        return left, right, bottom, top


def around(windows: Iterable[Window]) -> Window:
    """The smallest window that holds all of some."""
    return reduce(Window.joined, windows, Window(0, 0, 0, 0))


def disjoint(windows: Iterable[Window]) -> tuple[Window, ...]:
    """The same pixels in few windows that do not overlap.

    >>> disjoint([Window(0, 0, 9, 2), Window(3, 1, 5, 6), Window(2, 2, 2, 8)])
    (Window(left=0, bottom=0, right=9, top=2), Window(left=3, bottom=2, right=5, top=6))
    """
    some = [window for window in windows if not window.empty]
    columns = sorted({side for window in some for side in (window.left, window.right)})
    rows = sorted({side for window in some for side in (window.bottom, window.top)})
    held = np.zeros((max(len(rows) - 1, 0), max(len(columns) - 1, 0)), bool)
    for each in some:
        up, across = (slice(*map(sides.index, ends)) for sides, ends in (
            (rows, (each.bottom, each.top)), (columns, (each.left, each.right)),
        ))  # fmt: skip
        held[up, across] = True
    return tuple(rectangles(held, columns, rows))


def rectangles(chosen: NDArray[np.bool_], columns: Sequence[int], rows: Sequence[int]) -> Iterator[Window]:
    """The chosen cells of a grid between these lines, as few windows that do not overlap.

    >>> chosen = np.array([[1, 1, 0], [1, 1, 1]], bool)
    >>> [found.box for found in rectangles(chosen, (0, 10, 20, 30), (0, 10, 20))]
    [(0, 0, 20, 10), (0, 10, 30, 10)]
    """
    bordered = np.pad(chosen, ((0, 1), (1, 1)))
    places = np.nonzero(bordered[:, 1:] != bordered[:, :-1])
    lines, sides = (along.tolist() for along in places)
    runs_of: list[list[tuple[int, int]]] = [[] for _ in bordered]
    for row, first, last in zip(lines[::2], sides[::2], sides[1::2], strict=True):
        runs_of[row].append((first, last))
    growing: dict[tuple[int, int], int] = {}  # the row in which each run of columns began
    for row, runs in enumerate(runs_of):
        for run in sorted(growing.keys() - runs):
            yield Window(columns[run[0]], rows[growing.pop(run)], columns[run[1]], rows[row])
        for run in runs:
            growing.setdefault(run, row)
