"""Sheets of paper and board for a backdrop: which cover it, how many, and which way round.

Sheets are laid edge to edge, all the same way round. A join between two shows unless it is painted over or out of
focus; whoever needs an overlap reckons with a smaller sheet.
"""

import math
from dataclasses import dataclass

from previz.sheet_sizes import IN_SHOPS, SHEETS, TO_PRINTERS, boards, counted, sheet_called


@dataclass(frozen=True)
class Cover:
    """A backdrop covered with sheets of one kind.

    Parameters
    ----------
    sheet : str
        Its name in `sheet_sizes.SHEETS`.
    upright : bool
        Long side up; else lying, long side across.
    across, high : int
        How many side by side, and above one another.
    """

    sheet: str
    upright: bool
    across: int
    high: int

    @property
    def count(self) -> int:
        """Sheets in all."""
        return self.across * self.high

    @property
    def paper(self) -> float:
        """Area of all of them. [m2]"""
        short, long, _ = SHEETS[self.sheet]
        return self.count * short * long

    @property
    def laid(self) -> str:
        """Which sheet, and how: `A0 (84.1 x 118.9 cm) upright, side by side`."""
        one = f"{sheet_called(self.sheet)} {'upright' if self.upright else 'lying'}"
        if self.count == 1:
            return one
        rows = "side by side" if self.high == 1 else "one above the other" if self.across == 1 else ""
        return f"{one}, {rows or f'{self.across} across and {self.high} high'}"

    def __str__(self) -> str:
        """In words: `2 A0 (84.1 x 118.9 cm) upright, side by side`; a sheet without a name is one `of 70 x 100 cm`."""
        return counted(self.count, self.laid)


def cover_with(sheet: str, width: float, height: float) -> Cover:
    """The fewest sheets of one kind that cover a width and height [m]; lying where both ways take as many.

    Examples
    --------
    >>> str(cover_with("A1", 0.5832, 0.3888)), str(cover_with("A4", 0.4, 0.3))
    ('1 A1 (59.4 x 84.1 cm) lying', '4 A4 (21 x 29.7 cm) lying, 2 across and 2 high')
    """
    short, long, _ = SHEETS[sheet]
    ways = [
        Cover(sheet, upright, _times(width, across), _times(height, up))
        for upright, across, up in ((False, long, short), (True, short, long))
    ]
    return min(ways, key=lambda way: way.count)


def covers(width: float, height: float, *, metric: bool = True) -> tuple[Cover, ...]:
    """One way for each kind of sheet of a family, metric or of the US trade, that cover a width and height. [m]

    What one sheet covers comes first, what is sold to printers alone last; then the fewest sheets, of those what shops
    keep, and then the least paper.

    Examples
    --------
    >>> [str(cover) for cover in covers(1.4, 0.56)][:2]
    ['2 A1 (59.4 x 84.1 cm) lying, side by side', '2 of 70 x 100 cm lying, side by side']
    >>> covers(1.25, 0.88)[0].sheet, covers(1.17, 0.83)[0].sheet
    ('SRA0', 'A0')
    >>> str(covers(1.4, 0.55, metric=False)[0])
    '2 US poster board (22 x 28 in) lying, side by side'
    """
    ways = (cover_with(sheet, width, height) for sheet in boards(metric))
    return tuple(sorted(ways, key=_order))


def _order(way: Cover) -> tuple[bool, bool, int, bool, float]:
    return way.count > 1, way.sheet in TO_PRINTERS, way.count, way.sheet not in IN_SHOPS, way.paper


def _times(length: float, side: float) -> int:
    """How often a side goes into a length, rounded up; a hundredth of a millimetre short is covered."""
    return max(math.ceil((length - 1e-5) / side), 1)
