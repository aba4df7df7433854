"""Names on a drawing, placed where they cover nothing: in the thing itself, beside it, or off it with a thin line."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.paper.letters import CAPITAL, HANGS, LEADING, POINT, printable, width_of
from previz.paper.plan.symbols import circle
from previz.paper.sheet import MEDIUM, SMALL, THICK, THIN, WHITE, Box, Sheet, Stroke, box_around

Array = NDArray[np.float64]

_GAP = 0.9  # between a name and what it names [mm]
_RINGS = (2.0, 4.5, 7.5, 11.0, 15.0, 20.0, 27.0, 36.0, 48.0, 62.0, 80.0)
_DIRECTIONS = 16

#: What it costs that a leading line crosses another, against what a name would cover, beside its thing.
_CROSSING = 12.0

#: What it costs to stand where another thing is nearer than one's own, with no line to tell, and for each mm2 that is
#: over another thing. By eye.
_MISTAKEN, _OVER = 14.0, 1.0
_TELLS = 4.0  # a shorter line than that tells nothing [mm]
_THROUGH = 9.0  # that a leading line goes over another thing
_ASIDE = 0.4  # that a letter stands beside its mark and not beyond it, and as much again before it
_CLEARER = 0.5  # it is told from the other where that is so much further off [mm]

#: A leading line may end at one of so many places of its thing, and be so much longer than the shortest. [mm]
_ENDS, _LONGER = 8, 6.0

#: So many places along each side of a long thing are tried, and so many rings off it.
_PLACES, _NEAR = 9, 2


@dataclass(frozen=True, eq=False)
class Label:
    """One name and what it belongs to: lines of text, and an outline (k, 2) on the sheet. [mm]

    bold: as in a heading. ringed: one number in a ring, so that it is taken for no other. letters: their size. [pt]
    sign: whether the outline is the circle round a sign, like a lamp's, that no name may cover. signs: the circles of
    several that have one name.
    """

    lines: tuple[str, ...]
    outline: Array
    bold: bool = False
    ringed: bool = False
    letters: float = SMALL
    sign: bool = False
    signs: tuple[Array, ...] = ()

    @property
    def size(self) -> tuple[float, float]:
        """Width and height. [mm]"""
        wide = max(width_of(printable(line), self.letters, self.bold) for line in self.lines)
        if self.ringed:
            across = max(wide, CAPITAL * self.letters * POINT) + 1.6
            return across, across
        return wide, ((len(self.lines) - 1) * LEADING + CAPITAL + HANGS) * self.letters * POINT


@dataclass
class Placing:
    """What of a drawing is taken: by words, which nothing may cover, and by lines, which are better left free.

    taken : boxes (n, 4) that names stay clear of: left, low, right, high; all words drawn so far are among them.
    lines : the same (n, 4), of lines, which a leading line may cross where it must.
    points, weights : places (n, 2) on lines drawn so far, and what it costs to cover each.
    things : what is drawn, to none of which but its own a name may seem to belong.
    """

    sheet: Sheet
    box: Box
    taken: Array = field(default_factory=lambda: np.zeros((0, 4)))
    lines: Array = field(default_factory=lambda: np.zeros((0, 4)))
    points: Array = field(default_factory=lambda: np.zeros((0, 2)))
    weights: Array = field(default_factory=lambda: np.zeros(0))
    things: shapely.STRtree = field(default_factory=lambda: shapely.STRtree([]))

    @classmethod
    def on(cls, sheet: Sheet, box: Box) -> "Placing":
        """With all that is drawn so far."""
        strokes = [mark for mark in sheet.marks if isinstance(mark, Stroke)]
        along = [_covering(each) for each in strokes]
        weights = [
            np.full(len(at), 0.3 if each.weight < MEDIUM else 1.5) for at, each in zip(along, strokes, strict=True)
        ]
        found = cls(sheet, box)
        found.take(*(words.box.grown(0.4) for words in sheet.lettering))
        found.points = np.concatenate([*along, found.points])
        found.weights = np.concatenate([*weights, found.weights])
        return found

    def keep_off(self, strokes: list[Stroke]) -> None:
        """Lines that no name may cover."""
        for stroke in strokes:
            self._take_line(stroke.points, 0.3)

    def take(self, *boxes: Box) -> None:
        """Boxes that no name may cover."""
        self.taken = np.concatenate([self.taken, np.array([each.sides for each in boxes]).reshape(-1, 4)])

    def _take_line(self, points: Array, half: float) -> None:
        along = _along(points, 2 * half)
        self.lines = np.concatenate([self.lines, np.column_stack([along - half, along + half])])

    def keep_out(self, outlines: list[Array]) -> None:
        """Things that only their own names had better stand in: outlines (k, 2). [mm]"""
        self.things = shapely.STRtree([*self.things.geometries, *map(_polygon, outlines)])
        for outline in outlines:
            box = box_around(outline)
            x, y = np.meshgrid(np.arange(box.left, box.right, 1.5), np.arange(box.low, box.high, 1.5))
            inside = shapely.contains_xy(shapely.Polygon(outline), x.ravel(), y.ravel())
            points = np.column_stack([x.ravel(), y.ravel()])[inside]
            self.points = np.concatenate([self.points, points])
            self.weights = np.concatenate([self.weights, np.ones(len(points))])

    def number(self, text: str, place: Array, left: Array) -> None:
        """A frame's number beside its tick, to the left or right of the way; left out where there is no room.

        A letter belongs to a mark of its own, that no other name may seem to be of; it stands on that side of it where
        it covers least.
        """
        wide, high = Label((text,), place[None]).size
        along = np.array([-left[1], left[0]])
        best, least = None, math.inf
        for turn, way in enumerate((-left, along, -along, left) if text.isalpha() else (-left, left)):
            x, y = (place + (1.9 + abs(way[0]) * wide / 2 + abs(way[1]) * high / 2) * way).tolist()
            spot = _centred(x, y, wide, high)
            cost = self._covered(spot.grown(0.3)) + _ASIDE * turn if text.isalpha() else 0.0
            if cost < least and spot.within(self.box) and self._free(spot):
                best, least = spot, cost
        if best is None:
            return
        self.sheet.area(best.grown(0.2).outline, WHITE)
        self.sheet.words(text, (best.left, best.high), SMALL, anchor="top")
        self.take(best.grown(0.3))
        if text.isalpha():
            self.keep_out([best.outline, circle(place, 1.0)])

    def take_signs(self, labels: list[Label]) -> None:
        """Signs that have names: nothing may be written over them."""
        for label in labels:
            for circled in (label.outline,) * label.sign + label.signs:
                self.take(*_within_circle(circled))

    def place(self, labels: list[Label], *, all_or_none: bool = False) -> list[Label]:
        """Draw the names, the hardest to place first; returns those for which there was no room.

        What lies off the drawing is not named on it. all_or_none: whether to end with the first that has no room.
        """
        self.take_signs(labels)
        shown = [each for label in labels if (each := self._on_drawing(label)) is not None]
        left = sorted(shown, key=lambda label: (not self._inside(label), -len(label.lines), _area(label)))
        for crossing in (False, True):
            waiting, left = left, []
            for label in waiting:
                found = self._spot(label, crossing)
                if found is None:
                    left.append(label)
                    if all_or_none and crossing:
                        return left
                else:
                    self._draw(label, *found)
        return left

    def fits(self, labels: list[Label]) -> bool:
        """Whether there is room for all of them; nothing is drawn."""
        trial = replace(self, sheet=Sheet(self.sheet.width, self.sheet.height, ""))
        return not trial.place(labels, all_or_none=True)

    def _spot(self, label: Label, crossing: bool) -> tuple[Box, Array | None] | None:
        """Where a name goes, and the line that leads from it to its thing, if it needs one; crossing others or not."""
        wide, high = label.size
        around = box_around(label.outline)
        inside = self._inside(label)
        if inside is not None:
            return inside, None
        directions = 2 * _DIRECTIONS if crossing else _DIRECTIONS
        best, least = None, math.inf
        own = _polygon(label.outline)
        others = self._others(own)
        turns = (np.arange(directions) * (2 * math.pi / directions)).tolist()
        for ring, reach in enumerate((0.0, *_RINGS)):
            room = _around(label.outline, wide + 2 * (_GAP + reach), high + 2 * (_GAP + reach))
            beside = list(zip(_beside(room, wide, high, turns), turns, strict=True))
            if ring <= _NEAR:
                beside += [(spot, 0.0) for spot in _along_side(around, wide, high, _GAP + reach)]
            for spot, turn in beside:
                if not spot.within(self.box) or not self._free(spot.grown(0.3)):
                    continue
                covered = self._covered(spot)
                further = 0.5 * reach + (2.0 if ring else 0.0) + 0.4 * abs(math.sin(2 * turn))
                if covered + further >= least:
                    continue  # whatever its line costs; to find one takes longest
                line, crosses = self._line_to(spot, label, crossing) if ring else (None, 0.0)
                if ring and line is None:
                    continue
                cost = covered + crosses + further
                if cost < least:
                    cost += self._mistaken(spot, line, own, others)
                if cost < least:
                    best, least = (spot, line), cost
            if best is not None and least < 0.5 * _RINGS[min(ring, len(_RINGS) - 1)] + 2.0:
                break  # nothing further off is better
        return best

    def _line_to(self, spot: Box, label: Label, crossing: bool) -> tuple[Array | None, float]:
        """The line that leads from a name to its thing, and what it costs that it crosses others; None where none may.

        crossing: whether others may be crossed for want of room, at no cost.
        """
        lines = _leaders(spot, label.outline)
        clear = next((line for line in lines if self._clear(line, crossing)), None)
        if clear is None and not crossing and self._clear(lines[0], True):
            return lines[0], _CROSSING
        return clear, 0.0

    def _mistaken(self, spot: Box, line: Array | None, own: shapely.Geometry, others: NDArray[np.bool_]) -> float:
        """What it costs that a name may be taken for that of another thing, or hides one."""
        name = spot.shape
        cost = _OVER * self._over(name, others)
        if line is not None:
            cost += _THROUGH * self._crossed(line, others)
        if (line is None or np.linalg.norm(line[1] - line[0]) < _TELLS) and self._nearer(name, others, own):
            cost += _MISTAKEN
        return cost

    def _others(self, own: shapely.Geometry) -> NDArray[np.bool_]:
        """Which things are others than that which is named; what lies within another may be named by its name too."""
        left, low, right, high = shapely.bounds(self.things.geometries).reshape(-1, 4).T
        around = shapely.bounds(own)
        here = (left <= around[0] + 0.1) & (low <= around[1] + 0.1)
        return ~(here & (right >= around[2] - 0.1) & (high >= around[3] - 0.1))

    def _over(self, spot: shapely.Geometry, others: NDArray[np.bool_]) -> float:
        """How much of a name is over things that are not its own. [mm2]"""
        there = [each for each in self.things.query(spot) if others[each]]
        return float(shapely.area(shapely.intersection(spot, self.things.geometries[there])).sum())

    def _crossed(self, line: Array, others: NDArray[np.bool_]) -> int:
        """How many things that are not its own a leading line crosses."""
        return int(others[self.things.query(shapely.linestrings(line), predicate="intersects")].sum())

    def _nearer(self, spot: shapely.Geometry, others: NDArray[np.bool_], own: shapely.Geometry) -> bool:
        """Whether a name is nearer to another thing than to its own, or hardly further from it."""
        away = float(shapely.distance(spot, own))
        reach = away + _CLEARER
        return away > 0 and bool(others[self.things.query(spot, predicate="dwithin", distance=reach)].any())

    def _on_drawing(self, label: Label) -> Label | None:
        """The name of as much of its thing as the drawing shows; None where that is nothing."""
        box = self.box.shape
        shape = shapely.convex_hull(shapely.multipoints(_shape(label)))
        if box.contains(shape):
            return label
        part = shapely.intersection(shape, box)
        return replace(label, outline=shapely.get_coordinates(part.envelope)) if part.area > 0 else None

    def _inside(self, label: Label) -> Box | None:
        """In the middle of its thing, where that is large enough and free."""
        x, y = box_around(label.outline).middle
        wide, high = label.size
        spot = _centred(x, y, wide, high)
        fits = shapely.Polygon(_shape(label)).contains(spot.grown(0.3).shape)
        return spot if fits and self._free(spot) else None

    def _free(self, spot: Box) -> bool:
        return not any(_meeting(boxes, spot).any() for boxes in (self.taken, self.lines))

    def _covered(self, spot: Box) -> float:
        x, y = self.points.T
        under = (x > spot.left) & (x < spot.right) & (y > spot.low) & (y < spot.high)
        return float(self.weights[under].sum())

    def _clear(self, line: Array, crossing: bool) -> bool:
        # Few boxes are near it, and often none.
        ends = box_around(line)
        near = [boxes[_meeting(boxes, ends)] for boxes in ((self.taken,) if crossing else (self.taken, self.lines))]
        if not any(map(len, near)):
            return True
        left, low, right, high = np.concatenate(near).T
        x, y = (each[:, None] for each in _along(line, 0.5).T)
        return not ((left < x) & (x < right) & (low < y) & (y < high)).any()

    def _draw(self, label: Label, spot: Box, line: Array | None) -> None:
        if line is not None:
            self.sheet.line(line, THIN)
            self._take_line(line, 0.2)
        self.take(spot.grown(0.4))
        if label.ringed:
            ring = circle(spot.middle, spot.width / 2)
            self.sheet.area(ring, WHITE)
            self.sheet.line(ring, THIN, closed=True)
            self.sheet.words(label.lines[0], spot.middle, label.letters, align="middle", anchor="middle")
            return
        self.sheet.area(spot.grown(0.25).outline, WHITE)
        step = LEADING * label.letters * POINT
        for number, text in enumerate(label.lines):
            top = spot.high - number * step
            self.sheet.words(text, (spot.left, top), label.letters, anchor="top", bold=label.bold)


def _polygon(outline: Array) -> shapely.Geometry:
    return shapely.Polygon(outline) if len(outline) >= 3 else shapely.multipoints(outline)


def _within_circle(outline: Array) -> list[Box]:
    """Boxes that fill most of a circle and lie within it, so that a line which ends on it meets none."""
    around = box_around(outline)
    x, y = around.middle
    radius = around.width / 2
    square, arm, thin = (share * radius for share in (0.69, 0.95, 0.2))
    return [_centred(x, y, 2 * wide, 2 * high) for wide, high in ((square, square), (arm, thin), (thin, arm))]


def _area(label: Label) -> float:
    return float(shapely.Polygon(_shape(label)).area)


def _shape(label: Label) -> Array:
    outline = label.outline
    return outline if len(outline) >= 3 else box_around(outline).grown(0.01).outline


def _meeting(boxes: Array, box: Box) -> NDArray[np.bool_]:
    """Which of boxes (n, 4) share some place with one."""
    left, low, right, high = boxes.T
    return (left < box.right) & (right > box.left) & (low < box.high) & (high > box.low)


def _centred(x: float, y: float, wide: float, high: float) -> Box:
    return Box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)


def _beside(around: Array, wide: float, high: float, turns: list[float]) -> list[Box]:
    """Boxes in directions from the middle of a thing, as near as what is `_around` it lets."""
    middle = np.array(box_around(around).middle)
    ways = np.column_stack([np.cos(turns), np.sin(turns)])
    sides = np.concatenate([around[1:], around[:1]]) - around
    out = np.column_stack([sides[:, 1], -sides[:, 0]])
    ahead = ways @ out.T
    reach = np.full(ahead.shape, np.inf)
    np.divide(np.einsum("ij,ij->i", out, around - middle), ahead, out=reach, where=ahead > 1e-9)
    return [_centred(x, y, wide, high) for x, y in (middle + reach.min(axis=1)[:, None] * ways).tolist()]


def _around(outline: Array, wide: float, high: float) -> Array:
    """Where the middle of a box may go round a thing and touch it, (k, 2), counter-clockwise."""
    half = np.array([[wide, high], [wide, -high], [-wide, high], [-wide, -high]]) / 2
    hull = shapely.convex_hull(shapely.multipoints((outline[:, None] + half).reshape(-1, 2)))
    return np.asarray(shapely.get_coordinates(shapely.orient_polygons(hull))[:-1])


def _along_side(around: Box, wide: float, high: float, gap: float) -> Iterator[Box]:
    """Boxes along both sides of another that is much longer than they are, and off it by a gap."""
    x, y = around.middle
    if around.width > 2 * wide:
        for at in np.linspace(around.left + wide / 2, around.right - wide / 2, _PLACES):
            for side in (1, -1):
                yield _centred(float(at), y + side * (around.height / 2 + gap + high / 2), wide, high)
    if around.height > 3 * high:
        for at in np.linspace(around.low + high / 2, around.high - high / 2, _PLACES):
            for side in (1, -1):
                yield _centred(x + side * (around.width / 2 + gap + wide / 2), float(at), wide, high)


def _leaders(spot: Box, outline: Array) -> list[Array]:
    """Lines from a name to its thing: the shortest, and some that are not much longer."""
    name = spot.grown(0.3).shape
    shortest = shapely.shortest_line(name, _polygon(outline))
    ends = np.concatenate([outline, (outline + np.roll(outline, 1, axis=0)) / 2])[:_ENDS]
    others = [
        line for line in shapely.shortest_line(name, shapely.points(ends)) if line.length < shortest.length + _LONGER
    ]
    return [shapely.get_coordinates(line) for line in (shortest, *sorted(others, key=lambda line: line.length))]


def _covering(stroke: Stroke) -> Array:
    """Places on a line no further apart than 1 mm; of a broad one along its edges too."""
    middle = _along(stroke.points, 1.0)
    if stroke.weight < THICK:
        return middle
    off = stroke.weight / 2 * np.array([[0, 0], [1, 0], [-1, 0], [0, 1], [0, -1]])
    return np.asarray((middle[:, None] + off).reshape(-1, 2))


def _along(points: Array, step: float) -> Array:
    """Places along a line, no further apart than a step."""
    parts = [
        a + (b - a) * np.linspace(0, 1, max(math.ceil(float(np.linalg.norm(b - a)) / step), 1) + 1)[:, None]
        for a, b in pairwise(points)
    ]
    return np.concatenate(parts) if parts else points
