"""Where puddles lie and what outline each has: on level ground or the road, at places that a seed throws."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.layout.ground import ground_heights
from previz.layout.remembered import remembered_of
from previz.scene import PUDDLE_SIZES, Scene

Array = NDArray[np.float64]

_TRIES = 400  # throws for each puddle
_LEVEL = 0.0003  # ground that is no higher or lower is level enough for water to stand on [m]
_CORNERS = 48
_WOBBLE = 0.55  # how far an outline is off an ellipse
_LONG = 1.35  # how much longer than wide, as a square root


@dataclass(frozen=True)
class Puddle:
    """One of them.

    Parameters
    ----------
    at : (2,) float
        [m]
    radius : float
        That of a disc as large, about. [m]
    turn : float
        Of its long axis, counter-clockwise. [rad]
    waves : (k, 2) float
        How far the outline wobbles 2, 3, ... times round: strength, as a share of the radius, and phase [rad].
    """

    at: tuple[float, float]
    radius: float
    turn: float
    waves: tuple[tuple[float, float], ...]

    def inside(self, x: ArrayLike, y: ArrayLike) -> Array:
        """How far within the outline places are, as a share of its radius there; negative outside."""
        c, s = np.cos(self.turn), np.sin(self.turn)
        dx, dy = np.asarray(x, dtype=float) - self.at[0], np.asarray(y, dtype=float) - self.at[1]
        u, v = (c * dx + s * dy) / _LONG, (c * dy - s * dx) * _LONG
        return np.asarray(1 - np.hypot(u, v) / (self.radius * self._reach(np.arctan2(v, u))))

    @property
    def outline(self) -> Array:
        """Corners (n, 2), counter-clockwise. [m]"""
        turns = np.arange(_CORNERS) * 2 * np.pi / _CORNERS
        reach = self.radius * self._reach(turns)
        u, v = reach * np.cos(turns) * _LONG, reach * np.sin(turns) / _LONG
        c, s = np.cos(self.turn), np.sin(self.turn)
        return np.stack([self.at[0] + c * u - s * v, self.at[1] + s * u + c * v], axis=1)

    def _reach(self, turns: Array) -> Array:
        waves = [strength * np.cos(k * turns + phase) for k, (strength, phase) in enumerate(self.waves, start=2)]
        return np.asarray(np.maximum(1 + np.sum(waves, axis=0), 0.25))


@remembered_of("scale", "set", "vehicle", "vehicles", "folder")
def puddles_of(scene: Scene) -> tuple[Puddle, ...]:
    """The scene's puddles; fewer than it asks for where they find no level room apart from each other."""
    written = scene.set.ground.puddles
    if written is None:
        return ()
    rng = np.random.default_rng([written.seed, 41])
    smallest, largest = written.size or tuple(size / scene.scale for size in PUDDLE_SIZES)
    found: list[Puddle] = []
    for _ in range(written.count):
        across = smallest + (largest - smallest) * rng.random() ** 1.8  # more small ones than large
        strengths = _WOBBLE / np.arange(2, 8) * rng.uniform(0.2, 1.0, 6)
        waves = tuple(zip(strengths.tolist(), rng.uniform(0, 2 * np.pi, 6).tolist(), strict=True))
        throws = rng.random((_TRIES, 3))
        placed = _placed(scene, across / 2, waves, throws, found)
        if placed is not None:
            found.append(placed)
    return tuple(found)


def _placed(
    scene: Scene, radius: float, waves: tuple[tuple[float, float], ...], throws: Array, others: list[Puddle]
) -> Puddle | None:
    """At the first throw that lies level and apart from the others."""
    area, heights = _area(scene), ground_heights(scene)
    low, high = area.min(axis=0), area.max(axis=0)
    places = low + throws[:, :2] * (high - low)
    good = (np.abs(heights.at(places)) < _LEVEL) & (heights.roadside.height(places) == 0) & _inside(area, places)
    for other in others:
        good &= np.hypot(*(places - other.at).T) > _LONG * (radius + other.radius)
    for k in np.flatnonzero(good).tolist():
        x, y = places[k].tolist()
        puddle = Puddle((x, y), radius, float(throws[k, 2]) * np.pi, waves)
        outline = puddle.outline
        table = scene.set.table
        on_table = ((outline > 0) & (outline < (table.width, table.depth))).all()
        if on_table and (np.abs(heights.at(outline)) < _LEVEL).all():
            return puddle
    return None


def _area(scene: Scene) -> Array:
    table, over = scene.set.table, scene.set.ground.puddles and scene.set.ground.puddles.over
    corners = np.array(over or ((0.0, 0.0), (table.width, table.depth)), dtype=float)
    if len(corners) > 2:
        return corners
    (x0, y0), (x1, y1) = corners.tolist()
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def _inside(area: Array, places: Array) -> NDArray[np.bool_]:
    """Which places (n, 2) lie inside a polygon (k, 2): by how often a ray to the right crosses it."""
    a, b = area, np.roll(area, -1, axis=0)
    x, y = places[:, 0, None], places[:, 1, None]
    crosses = (a[:, 1] > y) != (b[:, 1] > y)
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    return np.asarray((crosses & (x < a[:, 0] + (y - a[:, 1]) / rise * (b[:, 0] - a[:, 0]))).sum(axis=1) % 2 == 1)
