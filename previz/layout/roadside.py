"""What is raised along a road: kerbs, and pavements behind them; one answer for pieces, picture, paper and checks."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.layout.backdrop import back_plane
from previz.layout.markings import half_road
from previz.layout.motion import road_curve
from previz.layout.remembered import remembered_of
from previz.physics.paths import Curve, along_curve
from previz.scene import KERB_HEIGHT, KERB_WIDTH, PAVEMENT_WIDTH, Scene

Array = NDArray[np.float64]

_STEP = 0.005  # between places along a strip [m]
_BULGE = 0.0002  # a piece of a strip leaves its chords by no more [m]


@dataclass(frozen=True)
class Strip:
    """What is raised along one side of a road.

    Parameters
    ----------
    side : int
        1 left of the road's way, -1 right of it.
    face, back, outer : float
        From the road's middle to the kerb's face, to the back of its stones, and to where the pavement ends: the
        same as `back` without one. [m]
    height : float
        Of all of it above the road. [m]
    """

    side: int
    face: float
    back: float
    outer: float
    height: float

    @property
    def paved(self) -> bool:
        """Whether there is a pavement behind the kerb."""
        return self.outer > self.back + 1e-9


@dataclass(frozen=True)
class Roadside:
    """All that is raised along a road, as far as there is level table under it.

    Parameters
    ----------
    curve : Curve or None
        The road's middle; None where nothing is raised.
    strips : tuple of Strip
    low, high : (2,) float
        Corners of the level table. [m]
    """

    curve: Curve | None
    strips: tuple[Strip, ...]
    low: tuple[float, float]
    high: tuple[float, float]

    def height(self, points: ArrayLike) -> Array:
        """How high it is (n,) at places (n, 2); 0 beside it. [m]"""
        places = np.asarray(points, dtype=float).reshape(-1, 2)
        found = np.zeros(len(places))
        if self.curve is None or not len(places):
            return found
        low, high = self._reach
        near = ((places >= low) & (places <= high)).all(axis=1)
        lie = along_curve(self.curve, places[near])
        beside = lie.away <= np.abs(lie.left) + 1e-9  # beyond an end of the road there is none
        for strip in self.strips:
            left = strip.side * lie.left
            on_it = beside & (left >= strip.face) & (left <= strip.outer)
            found[near] = np.where(on_it, strip.height, found[near])
        return found

    @cached_property
    def _reach(self) -> tuple[Array, Array]:
        """Corners of a box outside which nothing is raised. [m]"""
        assert self.curve is not None  # asked of what is raised
        far = max((strip.outer for strip in self.strips), default=0.0) + _STEP
        low, high = np.array(self.low) - 1e-9, np.array(self.high) + 1e-9
        return np.maximum(low, self.curve.points.min(axis=0) - far), np.minimum(
            high, self.curve.points.max(axis=0) + far
        )

    def line(self, left: float, step: float = _STEP) -> Array:
        """The line (n, 2) that far left of the road's middle; what is past the level table lies on its edge. [m]"""
        assert self.curve is not None  # asked of what is raised
        along = np.linspace(0.0, self.curve.length, max(int(np.ceil(self.curve.length / step)), 1) + 1)
        turns = self.curve.heading(along)
        line = self.curve.at(along) + left * np.stack([-np.sin(turns), np.cos(turns)], axis=-1)
        return np.asarray(np.clip(line, self.low, self.high))

    def pieces(self, strip: Strip) -> list[Array]:
        """A strip as convex outlines (4, 2) one after another along the road, counter-clockwise. [m]"""
        inner, outer = self.line(strip.side * strip.face), self.line(strip.side * strip.outer)
        found, first = [], 0
        while first < len(inner) - 1:
            last = first + 1
            while last + 1 < len(inner) and all(_straight(line[first : last + 2]) for line in (inner, outer)):
                last += 1
            corners = np.array([inner[first], inner[last], outer[last], outer[first]])
            if strip.side < 0:
                corners = corners[::-1]
            if _area(corners) > 1e-9:
                found.append(corners)
            first = last
        return found


def _straight(line: Array) -> bool:
    """Whether points (n, 2) lie near the chord from the first to the last."""
    way = line[-1] - line[0]
    long = float(np.hypot(*way))
    if long < 1e-9:
        return True
    off = line - line[0]
    return bool(np.abs(way[0] * off[:, 1] - way[1] * off[:, 0]).max() <= _BULGE * long)


def _area(corners: Array) -> float:
    x, y = corners.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


@remembered_of("scale", "set", "folder")
def roadside_of(scene: Scene) -> Roadside:
    """The scene's kerbs and pavements."""
    table, strips = scene.set.table, strips_of(scene)
    low, high = np.zeros(2), np.array([table.width, table.depth])
    if not strips:
        return Roadside(None, (), (0.0, 0.0), (table.width, table.depth))
    plane, backdrop = back_plane(scene), scene.set.backdrop
    if backdrop is not None:
        level = min(max(backdrop.distance - backdrop.join.cove, 0.0), plane.long)
        if plane.sign > 0:
            high[plane.axis] = level
        else:
            low[plane.axis] = plane.long - level
    (x0, y0), (x1, y1) = low.tolist(), high.tolist()
    return Roadside(road_curve(scene), strips, (x0, y0), (x1, y1))


def strips_of(scene: Scene) -> tuple[Strip, ...]:
    """What is raised along each side of the road, the left one first; none without a kerb and a pavement."""
    road = scene.set.road
    if road is None or (road.kerb is None and road.pavement is None):
        return ()
    kerb, pavement, scale = road.kerb, road.pavement, scene.scale
    height = (kerb and kerb.height) or KERB_HEIGHT / scale
    stone = (kerb and kerb.width) or KERB_WIDTH / scale
    wide = max((pavement and pavement.width) or PAVEMENT_WIDTH / scale, stone)
    face = half_road(road, scale)
    found = []
    for side, name in ((1, "left"), (-1, "right")):
        paved = pavement is not None and pavement.sides in ("both", name)
        if paved or (kerb is not None and kerb.sides in ("both", name)):
            found.append(Strip(side, face, face + stone, face + (wide if paved else stone), height))
    return tuple(found)
