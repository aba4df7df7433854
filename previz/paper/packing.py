"""Flat pieces laid on sheets: as few sheets of one size as we find, nothing over another, nothing over the edge.

The packing itself is rectpack's. Its rules of thumb find no proven best, so several are tried and the fewest sheets
win; `least_sheets` says how far from the best they may be.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

#: Lengths are handed on as whole numbers of this, so that sums are exact. [m]
_UNIT = 1e-5


@dataclass(frozen=True)
class Blank:
    """A rectangle to be cut out: its name, and what it is part of. [m]"""

    name: str
    part_of: str
    width: float
    height: float

    @property
    def area(self) -> float:
        """[m2]"""
        return self.width * self.height


@dataclass(frozen=True)
class Laid:
    """A blank where it lies on a sheet.

    Parameters
    ----------
    sheet : int
        Which, from 0.
    x, y : float
        Of its lower left corner, from the sheet's. [m]
    turned : bool
        By a quarter: its width runs up the sheet.
    """

    blank: Blank
    sheet: int
    x: float
    y: float
    turned: bool

    @property
    def size(self) -> tuple[float, float]:
        """Across and up the sheet. [m]"""
        blank = self.blank
        return (blank.height, blank.width) if self.turned else (blank.width, blank.height)


def least_sheets(blanks: Sequence[Blank], sheet: tuple[float, float], edge: float, cut: float) -> int:
    """The sheets that all blanks' area needs at least, each with half a cut round it, however well they lie."""
    area = sum((blank.width + cut) * (blank.height + cut) for blank in blanks)
    return max(math.ceil(area / _usable(sheet, edge, cut) - 1e-9), 1) if blanks else 0


def sheets_needed(
    blanks: Sequence[Blank], sheet: tuple[float, float], edge: float, cut: float, *, turning: bool = True
) -> int:
    """No layout has fewer: for the area of all, and for those of which no two fit one sheet.

    >>> half = [Blank(name, name, 0.3, 0.25) for name in "abc"]
    >>> least_sheets(half, (0.42, 0.594), 0.0, 0.0), sheets_needed([*half[:2], half[2]], (0.42, 0.45), 0.0, 0.0)
    (1, 3)
    """
    sizes, into = _whole_sizes(blanks, sheet, edge, cut)
    return max(least_sheets(blanks, sheet, edge, cut), _apart(sizes, into, turning))


def _usable(sheet: tuple[float, float], edge: float, cut: float) -> float:
    return (sheet[0] - 2 * edge + cut) * (sheet[1] - 2 * edge + cut)


def laid_on_sheets(
    blanks: Sequence[Blank], sheet: tuple[float, float], edge: float = 0.0, cut: float = 0.0, *, turning: bool = True
) -> tuple[Laid, ...] | None:
    """Blanks on as few sheets as found, turned by a quarter where that helps; None where one is larger than a sheet.

    Parameters
    ----------
    sheet : (width, height) float
        [m]
    edge : float
        Left free along the sheet's edges. [m]
    cut : float
        What a cut takes between two blanks. [m]
    turning : bool
        Whether blanks may be turned.

    Examples
    --------
    >>> two = [Blank("a", "a", 0.2, 0.29), Blank("b", "b", 0.2, 0.29)]
    >>> [(each.sheet, each.turned) for each in laid_on_sheets(two, (0.297, 0.42))]
    [(0, True), (0, True)]
    """
    sizes, bin_size = _whole_sizes(blanks, sheet, edge, cut)
    if not all(_fits(size, bin_size, turning) for size in sizes):
        return None
    least, best = sheets_needed(blanks, sheet, edge, cut, turning=turning), None
    for rules in _rules():
        found = _packed(sizes, bin_size, turning, *rules)
        if best is None or _sheets(found) < _sheets(best):
            best = found
        if _sheets(best) <= least:
            break
    return tuple(
        Laid(blanks[number], each, x * _UNIT + edge, y * _UNIT + edge, w != sizes[number][0])
        for each, x, y, w, number in best or ()
    )


def _whole_sizes(
    blanks: Sequence[Blank], sheet: tuple[float, float], edge: float, cut: float
) -> tuple[list[tuple[int, int]], tuple[int, int]]:
    """Of each blank with its cut, and what they are laid into, in `_UNIT`."""
    wide, high = (side - 2 * edge + cut for side in sheet)
    sizes = [(_whole(blank.width + cut), _whole(blank.height + cut)) for blank in blanks]
    return sizes, (math.floor(wide / _UNIT + 1e-6), math.floor(high / _UNIT + 1e-6))


def _fits(size: tuple[int, int], into: tuple[int, int], turning: bool) -> bool:
    straight, turned = size, size[::-1]
    return any(each[0] <= into[0] and each[1] <= into[1] for each in ((straight, turned) if turning else (straight,)))


def _apart(sizes: Sequence[tuple[int, int]], into: tuple[int, int], turning: bool) -> int:
    """How many of the sizes are found of which no two share a sheet: so many sheets are needed."""
    found: list[tuple[int, int]] = []
    for size in sorted(sizes, key=lambda each: -each[0] * each[1]):
        if not any(_share(size, other, into, turning) for other in found):
            found.append(size)
    return len(found)


def _share(one: tuple[int, int], other: tuple[int, int], into: tuple[int, int], turning: bool) -> bool:
    """Whether two sizes fit one sheet side by side, or one above the other."""
    ways = ((one, one[::-1]), (other, other[::-1])) if turning else ((one,), (other,))
    return any(
        _fits((a[0] + b[0], max(a[1], b[1])), into, False) or _fits((max(a[0], b[0]), a[1] + b[1]), into, False)
        for a, b in product(*ways)
    )


def _whole(length: float) -> int:
    return math.ceil(length / _UNIT - 1e-6)


def _sheets(found: Sequence[tuple[int, ...]]) -> int:
    return 1 + max((each[0] for each in found), default=-1)


def _rules() -> list[tuple[object, object, object]]:
    """Rules of thumb: how a place is chosen on a sheet, which sheet, which blank first."""
    import rectpack

    places = (rectpack.MaxRectsBssf, rectpack.MaxRectsBaf, rectpack.MaxRectsBl)
    first = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE)
    return [(place, rectpack.PackingBin.BFF, order) for order, place in product(first, places)]


def _packed(
    sizes: Sequence[tuple[int, int]],
    bin_size: tuple[int, int],
    turning: bool,
    place: object,
    sheet: object,
    order: object,
) -> list[tuple[int, int, int, int, int]]:
    """Sheet, x, y, width across and number of each blank."""
    import rectpack

    packer = rectpack.newPacker(bin_algo=sheet, pack_algo=place, sort_algo=order, rotation=turning)
    for number, (wide, high) in enumerate(sizes):
        packer.add_rect(wide, high, number)
    packer.add_bin(*bin_size, count=len(sizes))
    packer.pack()
    found = sorted((number, each, x, y, wide) for each, x, y, wide, _, number in packer.rect_list())
    assert len(found) == len(sizes), "every blank fits a sheet, and there is a sheet for each"
    return [(each, x, y, wide, number) for number, each, x, y, wide in found]
