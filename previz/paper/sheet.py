"""A sheet of paper as a list of marks in millimetres: what is drawn, before anything writes it.

The origin is the sheet's lower left corner, x runs right, y up. `written.py` makes a PDF, PNG or SVG of it. What is
clipped is cut here, so that a file holds what is seen and no more.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeAlias

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from previz.paper.letters import CAPITAL, HANGS, LEADING, POINT, cut, lines_of, printable, width_of
from previz.units import unbroken

Array = NDArray[np.float64]

#: Line weights that are told apart in black and white: outlines, edges, helping lines. [mm] The steps of ISO 128 (from
#: memory).
THICK, MEDIUM, THIN = 0.7, 0.35, 0.18

#: Dashes, as lengths of ink and gap in turn. [mm]
DASHED, CHAINED, DOTTED = (2.4, 1.2), (6.0, 1.2, 0.6, 1.2), (0.4, 1.0)

#: Inks; any colour as `#rrggbb` is one too.
BLACK, GREY, PALE, WHITE = "#000000", "#5f5f5f", "#dcdcdc", "#ffffff"

#: Points: what is read at arm's length, headings, and the sheet's title.
SMALL, HEADING, TITLE = 8.0, 10.0, 15.0

#: Of a sheet that no printer prints on, and more: at least this much stays white all round. [mm]
MARGIN = 12.0


@dataclass(frozen=True)
class Box:
    """An upright rectangle on a sheet. [mm]"""

    left: float
    low: float
    right: float
    high: float

    @property
    def width(self) -> float:
        """[mm]"""
        return self.right - self.left

    @property
    def height(self) -> float:
        """[mm]"""
        return self.high - self.low

    @property
    def middle(self) -> tuple[float, float]:
        """[mm]"""
        return (self.left + self.right) / 2, (self.low + self.high) / 2

    @property
    def outline(self) -> Array:
        """Corners (4, 2), counter-clockwise from the lower left."""
        return np.array(
            [[self.left, self.low], [self.right, self.low], [self.right, self.high], [self.left, self.high]]
        )

    @property
    def sides(self) -> tuple[float, float, float, float]:
        """Left, low, right, high. [mm]"""
        return self.left, self.low, self.right, self.high

    @property
    def shape(self) -> Any:
        """As shapely has it."""
        return shapely.box(*self.sides)

    def within(self, other: "Box", spare: float = 1e-6) -> bool:
        """Whether no part of it lies outside another."""
        return (
            self.left >= other.left - spare
            and self.low >= other.low - spare
            and self.right <= other.right + spare
            and self.high <= other.high + spare
        )

    def meets(self, other: "Box") -> bool:
        """Whether they share any area."""
        return (
            min(self.right, other.right) > max(self.left, other.left)
            and min(self.high, other.high) > max(self.low, other.low)
        )  # fmt: skip

    def grown(self, by: float) -> "Box":
        """With so much more on every side."""
        return Box(self.left - by, self.low - by, self.right + by, self.high + by)


def box_around(points: ArrayLike) -> Box:
    """The smallest box around points (n, 2)."""
    flat = np.asarray(points, dtype=float)
    (left, low), (right, high) = flat.min(axis=0).tolist(), flat.max(axis=0).tolist()
    return Box(left, low, right, high)


# --- marks ---


@dataclass(frozen=True, eq=False)
class Stroke:
    """A line through points (n, 2) [mm], so wide [mm]."""

    points: Array
    weight: float
    ink: str = BLACK
    dashes: tuple[float, ...] = ()
    closed: bool = False


@dataclass(frozen=True, eq=False)
class Area:
    """A filled outline; more outlines (k, 2) after the first are holes in it. [mm]"""

    outlines: tuple[Array, ...]
    ink: str


@dataclass(frozen=True)
class Words:
    """One line of text, its middle, left or right end at a place on its base line. [mm]

    turn is counter-clockwise [deg], size in points.
    """

    text: str
    at: tuple[float, float]
    size: float
    align: str = "left"
    bold: bool = False
    turn: float = 0.0
    ink: str = BLACK

    @property
    def left_end(self) -> tuple[float, float]:
        """Where its first letter begins, on its base line. [mm]"""
        back = {"left": 0.0, "middle": 0.5, "right": 1.0}[self.align] * width_of(self.text, self.size, self.bold)
        turn = math.radians(self.turn)
        return self.at[0] - back * math.cos(turn), self.at[1] - back * math.sin(turn)

    @property
    def corners(self) -> Array:
        """Of what it takes up, (4, 2), counter-clockwise from its lower left. [mm]"""
        wide, em = width_of(self.text, self.size, self.bold), self.size * POINT
        flat = Box(0.0, -HANGS * em, wide, CAPITAL * em).outline
        c, s = math.cos(math.radians(self.turn)), math.sin(math.radians(self.turn))
        return flat @ np.array([[c, s], [-s, c]]) + np.array(self.left_end)

    @property
    def box(self) -> Box:
        """The upright box around it."""
        return box_around(self.corners)


@dataclass(frozen=True, eq=False)
class Picture:
    """Pixels (rows, columns, 3) uint8, row 0 at the top, filling a box."""

    pixels: NDArray[np.uint8]
    box: Box


Mark: TypeAlias = Stroke | Area | Words | Picture


# --- drawing ---


class Drawing:
    """What can be drawn, on a whole sheet or in a view of the set on it: points are given in its own units."""

    marks: list[Mark]

    def placed(self, points: ArrayLike) -> Array:
        """Points (n, 2) on the sheet. [mm]"""
        raise NotImplementedError

    @property
    def seen(self) -> Any:
        """What of the sheet is drawn on, as a shape; None for all of it."""
        raise NotImplementedError

    def line(
        self,
        points: ArrayLike,
        weight: float = MEDIUM,
        *,
        ink: str = BLACK,
        dashes: tuple[float, ...] = (),
        closed: bool = False,
    ) -> None:
        """A line through points (n, 2); closed goes back to the first."""
        flat = self.placed(points)
        if self.seen is None or shapely.contains(self.seen, shapely.linestrings(flat)):
            self.marks.append(Stroke(flat, weight, ink, dashes, closed))
            return
        flat = np.concatenate([flat, flat[:1]]) if closed else flat
        for part in _lines_in(shapely.intersection(shapely.linestrings(flat), self.seen)):
            self.marks.append(Stroke(part, weight, ink, dashes))

    def area(self, outline: ArrayLike | Any, ink: str = PALE) -> None:
        """An outline (n, 2), or a shapely shape, filled."""
        for part in _polygons_in(self._cut(outline)):
            rings = (part.exterior, *part.interiors)
            self.marks.append(Area(tuple(shapely.get_coordinates(ring)[:-1] for ring in rings), ink))

    def hatch(
        self,
        outline: ArrayLike | Any,
        *,
        turn: float = 45.0,
        step: float = 1.6,
        weight: float = THIN,
        ink: str = BLACK,
        dashes: tuple[float, ...] = (),
    ) -> None:
        """An outline or shape filled with parallel lines: so far apart on paper [mm], counter-clockwise from x [deg].

        Lines of one direction and step go on from shape to shape.
        """
        shape = self._cut(outline)
        if shape.is_empty:
            return
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        across = shapely.get_coordinates(shape.envelope) @ np.array([[c, -s], [s, c]])
        (left, low), (right, high) = across.min(axis=0), across.max(axis=0)
        rows = np.arange(math.ceil(low / step), math.floor(high / step) + 1) * step
        ends = np.stack([np.stack([np.full_like(rows, x), rows], axis=1) for x in (left - 1, right + 1)], axis=1)
        lines = shapely.linestrings(ends @ np.array([[c, s], [-s, c]]))
        for line in shapely.intersection(lines, shape):
            for part in _lines_in(line):
                self.marks.append(Stroke(part, weight, ink, dashes))

    def _cut(self, outline: ArrayLike | Any) -> Any:
        shape = outline if isinstance(outline, shapely.Geometry) else shapely.polygons(np.asarray(outline, dtype=float))
        shape = shapely.make_valid(shapely.transform(shape, self.placed))
        return shape if self.seen is None else shapely.intersection(shape, self.seen)


def _lines_in(shape: Any) -> list[Array]:
    return [
        shapely.get_coordinates(part)
        for part in shapely.get_parts(shapely.line_merge(shape) if shape.geom_type == "MultiLineString" else shape)
        if part.geom_type == "LineString" and not part.is_empty
    ]


def _polygons_in(shape: Any) -> list[Any]:
    flat: list[Any] = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon":
            flat += [part] if part.area > 1e-6 else []
        elif part.geom_type in ("MultiPolygon", "GeometryCollection"):
            flat += _polygons_in(part)
    return flat


@dataclass
class Sheet(Drawing):
    """One sheet of paper, so wide and high [mm], its name (a file's, and a heading of the document) and its marks."""

    width: float
    height: float
    name: str
    marks: list[Mark] = field(default_factory=list)

    def placed(self, points: ArrayLike) -> Array:
        """Points (n, 2) as they are. [mm]"""
        return np.asarray(points, dtype=float).reshape(-1, 2)

    @property
    def seen(self) -> Any:
        """All of it."""
        return None

    @property
    def page(self) -> Box:
        """All of the paper."""
        return Box(0.0, 0.0, self.width, self.height)

    @property
    def inside(self) -> Box:
        """Where there may be marks: the paper less its margin."""
        return self.page.grown(-MARGIN)

    def words(
        self,
        text: str,
        at: tuple[float, float],
        size: float = SMALL,
        *,
        align: str = "left",
        anchor: str = "base",
        bold: bool = False,
        turn: float = 0.0,
        ink: str = BLACK,
        within: float | None = None,
        back: bool = False,
    ) -> Words:
        """A line of text.

        Parameters
        ----------
        at : (x, y) float
            Of its left end, middle or right end (align), on its base line, at its top, middle or bottom (anchor). [mm]
        within : float, optional
            What does not fit into this width is left out, with … in its place. [mm]
        back : bool
            On a white ground, over what was drawn before.
        """
        line = printable(text) if within is None else cut(text, within, size, bold)
        em = size * POINT
        down = {"base": 0.0, "top": CAPITAL * em, "middle": CAPITAL * em / 2, "bottom": -HANGS * em}[anchor]
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        found = Words(line, (at[0] + s * down, at[1] - c * down), size, align, bold, turn, ink)
        if back:
            self.marks.append(Area((_grown(found.corners, 0.2),), WHITE))
        self.marks.append(found)
        return found

    def paragraph(
        self,
        text: str,
        at: tuple[float, float],
        width: float,
        size: float = SMALL,
        *,
        bold: bool = False,
        ink: str = BLACK,
    ) -> float:
        """Text broken into lines of a width, its upper left corner at a place; where the next may begin. [mm]"""
        x, top = at
        step = LEADING * size * POINT
        lines = lines_of(text, width, size, bold)
        for number, line in enumerate(lines):
            self.words(line, (x, top - number * step), size, anchor="top", bold=bold, ink=ink)
        return top - len(lines) * step

    def picture(self, pixels: NDArray[np.uint8], box: Box) -> None:
        """Pixels (rows, columns, 3) in a box, as large as fits without being stretched, in its middle."""
        rows, columns = pixels.shape[:2]
        half = min(box.width / columns, box.height / rows) / 2
        x, y = box.middle
        self.marks.append(
            Picture(pixels, Box(x - columns * half, y - rows * half, x + columns * half, y + rows * half))
        )

    def arrow_head(self, tip: ArrayLike, towards: ArrayLike, size: float = 2.4, ink: str = BLACK) -> None:
        """A filled head whose tip is at a place and points along a direction. [mm]"""
        way = np.asarray(towards, dtype=float) / np.linalg.norm(towards)
        side, tip = np.array([-way[1], way[0]]), np.asarray(tip, dtype=float)
        self.area([tip, tip - way * size + side * size / 6, tip - way * size - side * size / 6], ink)

    def dimension(
        self,
        first: ArrayLike,
        second: ArrayLike,
        text: str,
        away: float = 0.0,
        size: float = SMALL,
    ) -> Words:
        """A dimension line from one place to another, moved aside by `away` (to the left of first to second). [mm]

        Thin lines lead to it from the places. Its text stands above it, in the middle or else where it covers nothing
        that is drawn, or past the second place where there is not
        room for it between the arrows.
        """
        a, b = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
        span = float(np.linalg.norm(b - a))
        way = (b - a) / span if span else np.array([1.0, 0.0])
        side = np.array([-way[1], way[0]])
        start, end = a + side * away, b + side * away
        if away:
            out = side * math.copysign(1.0, away)
            for foot, at in ((a, start), (b, end)):
                self.line([foot + out * min(1.0, abs(away) / 2), at + out * 1.5], THIN)
        head = 2.4
        wide = width_of(printable(text), size) + 1.0
        turn = math.degrees(math.atan2(way[1], way[0]))
        flip = not -89.9 < turn <= 90.1  # read from below or from the right
        up = side if not flip else -side
        if span >= wide + 2 * head or (span >= 2 * head + 1 and span >= wide):
            self.line([start, end], THIN)
            self.arrow_head(start, -way, head)
            self.arrow_head(end, way, head)
            middle = self._clearest(start, end, up, text, size, turn + 180 if flip else turn)
        else:  # arrows from outside, text past the second place
            self.line([start - way * 2 * head, end + way * (2 * head + wide)], THIN)
            self.arrow_head(start, way, head)
            self.arrow_head(end, -way, head)
            middle = end + way * (2 * head + wide / 2)
        x, y = (middle + up * 0.8).tolist()
        return self.words(text, (x, y), size, align="middle", turn=turn + 180 if flip else turn, back=True)

    def _clearest(self, start: Array, end: Array, up: Array, text: str, size: float, turn: float) -> Array:
        """Where along a dimension line its text covers nothing drawn so far; the middle where it always does."""
        span = float(np.linalg.norm(end - start))
        spare = (width_of(printable(text), size) / 2 + 3.4) / span if span else 0.5
        for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
            place = start + share * (end - start)
            x, y = (place + up * 0.8).tolist()
            words = Words(printable(text), (x, y), size, "middle", turn=turn)
            if spare <= share <= 1 - spare and not self._covers(words):
                return place
        return (start + end) / 2

    def _covers(self, words: Words) -> bool:
        """Whether words would lie on a line or on words."""
        box, shape = words.box, shapely.polygons(words.corners)
        for mark in self.marks:
            if isinstance(mark, Stroke):
                low, high = mark.points.min(axis=0), mark.points.max(axis=0)
                if low[0] > box.right or high[0] < box.left or low[1] > box.high or high[1] < box.low:
                    continue
                if shapely.intersects(shapely.linestrings([*mark.points, *mark.points[: mark.closed]]), shape):
                    return True
            elif isinstance(mark, Words) and shapely.intersects(shapely.polygons(mark.corners), shape):
                return True
        return False

    @property
    def lettering(self) -> tuple[Words, ...]:
        """All its words."""
        return tuple(mark for mark in self.marks if isinstance(mark, Words))


def _grown(corners: Array, by: float) -> Array:
    """Corners of a box, turned or not, moved outwards."""
    ahead = corners[1] - corners[0]
    ahead = ahead / (np.linalg.norm(ahead) or 1.0) * by
    left = np.array([-ahead[1], ahead[0]])
    return corners + np.array([-ahead - left, ahead - left, ahead + left, -ahead + left])


class View(Drawing):
    """A piece of the set in a box of a sheet, at a drawing scale: points are given in metres, and cut at its edges.

    Parameters
    ----------
    sheet : Sheet
        What it is drawn on.
    box : Box
        Where on the sheet. [mm]
    scale : float
        S of 1:S; 1 is life size.
    corner : (x, y) float
        What of the set lies in the box's lower left corner. [m]
    """

    def __init__(self, sheet: Sheet, box: Box, scale: float, corner: tuple[float, float]) -> None:
        self.sheet, self.box, self.scale, self.corner = sheet, box, scale, np.array(corner, dtype=float)
        self.marks = sheet.marks
        self._seen = box.shape

    @classmethod
    def around(cls, sheet: Sheet, box: Box, scale: float, middle: tuple[float, float]) -> "View":
        """With a place of the set [m] in the middle of the box."""
        reach = np.array([box.width, box.height]) * scale / 2000
        x, y = (np.array(middle) - reach).tolist()
        return cls(sheet, box, scale, (x, y))

    def placed(self, points: ArrayLike) -> Array:
        """Points (n, 2) of the set [m] on the sheet. [mm]"""
        flat = np.asarray(points, dtype=float).reshape(-1, 2)
        return np.asarray((flat - self.corner) * (1000 / self.scale) + np.array([self.box.left, self.box.low]))

    def at(self, point: Sequence[float]) -> tuple[float, float]:
        """One place of the set [m] on the sheet. [mm]"""
        x, y = self.placed([point[:2]])[0].tolist()
        return x, y

    @property
    def seen(self) -> Any:
        """The box."""
        return self._seen


# --- tables ---


@dataclass(frozen=True)
class Table:
    """Rows of cells under headings. Columns are as wide as what stands in them needs; long cells are wrapped."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    size: float = SMALL
    row_height: float = 0.0  # at least [mm], for rows that are written in by hand
    ruled: bool = False  # lines between columns too
    tight: bool = False  # rows without lines between them
    fixed: tuple[float, ...] = ()  # widths of the columns [mm], all but the last, which takes what is left

    def widths(self, width: float) -> list[float]:
        """Of the columns, as even a share of a width [mm] as what stands in them lets."""
        if self.fixed:
            return [*self.fixed[:-1], width - sum(self.fixed[:-1])]
        wanted, least = [], []
        for column, heading in enumerate(self.headings):
            cells = [row[column] for row in self.rows]
            natural = [width_of(heading, self.size, True), *(width_of(printable(c), self.size) for c in cells)]
            words = [width_of(word, self.size, True) for word in unbroken(heading)]
            words += [width_of(printable(word), self.size) for cell in cells for word in unbroken(cell)]
            wanted.append(max(natural) + 2 * _CELL)
            least.append(min(max(words, default=0.0), width / 3) + 2 * _CELL)
        spare = width - sum(wanted)
        if spare >= 0:
            return [each + spare / len(wanted) for each in wanted]
        whole = _whole_columns(wanted, least, width)
        low = [each if here else short for each, short, here in zip(wanted, least, whole, strict=True)]
        over = sum(wanted) - sum(low)
        share = max(width - sum(low), 0.0) / over if over > 0 else 0.0
        found = [short + (each - short) * share for short, each in zip(low, wanted, strict=True)]
        return [each * width / sum(found) for each in found]

    def draw(self, sheet: Sheet, box: Box) -> tuple[int, float]:
        """Draw what fits into a box from its top down; how many rows did, and where the next thing may begin. [mm]"""
        widths, y = self.widths(box.width), box.high
        lefts = [box.left + sum(widths[:column]) for column in range(len(widths))]
        y = self._row(sheet, self.headings, lefts, widths, y, bold=True)
        sheet.line([(box.left, y), (box.right, y)], MEDIUM)
        done, top = 0, y
        y -= 0.8 if self.tight else 0.0
        for row in self.rows:
            if y - self._height(row, widths) < box.low:
                break
            y = self._row(sheet, row, lefts, widths, y)
            if not self.tight:
                sheet.line([(box.left, y), (box.right, y)], THIN, ink=GREY)
            done += 1
        if self.ruled:
            for left in lefts[1:]:
                sheet.line([(left - _CELL / 2, top), (left - _CELL / 2, y)], THIN, ink=GREY)
        return done, y

    def drawn_height(self, width: float) -> float:
        """How high all of it is in a box of a width. [mm]"""
        widths, blank = self.widths(width), Sheet(width, 1.0, "")
        lefts = [0.0] * len(widths)
        rows = sum(self._height(row, widths) for row in self.rows)
        return rows - self._row(blank, self.headings, lefts, widths, 0.0, bold=True) + (0.8 if self.tight else 0.0)

    def part(self, count: int) -> "Table":
        """The table with its first rows only."""
        return replace(self, rows=self.rows[:count])

    def rest(self, done: int) -> "Table":
        """The table without its first rows."""
        return replace(self, rows=self.rows[done:])

    def _lines(self, row: Iterable[str], widths: list[float], bold: bool = False) -> list[list[str]]:
        return [
            lines_of(cell, width - 2 * _CELL + 1e-6, self.size, bold) for cell, width in zip(row, widths, strict=True)
        ]

    def _height(self, row: Iterable[str], widths: list[float]) -> float:
        tallest = max(len(lines) for lines in self._lines(row, widths))
        return max(tallest * LEADING * self.size * POINT + self._spare, self.row_height)

    @property
    def _spare(self) -> float:
        """Left free over and under a row's lines together. [mm]"""
        return 0.4 if self.tight else 1.6

    def _row(
        self, sheet: Sheet, row: Sequence[str], lefts: list[float], widths: list[float], top: float, bold: bool = False
    ) -> float:
        step = LEADING * self.size * POINT
        laid = self._lines(row, widths, bold)
        for lines, left in zip(laid, lefts, strict=True):
            for number, line in enumerate(lines):
                sheet.words(
                    line, (left, top - 0.4 - self._spare / 2 - number * step), self.size, anchor="top", bold=bold
                )
        spare = 1.6 if bold else self._spare
        return top - max(max(map(len, laid)) * step + spare, 0.0 if bold else self.row_height)


_CELL = 1.2  # between a cell and its neighbour, on either side [mm]


def _whole_columns(wanted: Sequence[float], least: Sequence[float], width: float) -> list[bool]:
    """Which columns get all they want: the narrow ones, as long as the others keep their least and an even share. [mm]

    >>> _whole_columns([10, 12, 90, 120], [8, 9, 20, 30], 120)
    [True, True, False, False]
    """
    whole = [False] * len(wanted)
    for column in sorted(range(len(wanted)), key=lambda each: wanted[each]):
        rest = [each for each, here in enumerate(whole) if not here and each != column]
        left = width - sum(wanted[each] for each, here in enumerate(whole) if here)
        if wanted[column] > left / (len(rest) + 1) or left - wanted[column] < sum(least[each] for each in rest):
            break
        whole[column] = True
    return whole
