"""Where puddles lie and what outline each has: on level ground or the road, at places that a seed throws."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.layout.ground import ground_heights
from previz.layout.remembered import remembered_of
from previz.physics.overlap import area_over, inside
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
    table, heights = scene.set.table, ground_heights(scene)
    over = scene.set.ground.puddles and scene.set.ground.puddles.over
    area = area_over(over or ((0.0, 0.0), (table.width, table.depth)))
    low, high = area.min(axis=0), area.max(axis=0)
    places = low + throws[:, :2] * (high - low)
    good = (np.abs(heights.at(places)) < _LEVEL) & (heights.roadside.height(places) == 0) & inside(area, places)
    for other in others:
        good &= np.hypot(*(places - other.at).T) > _LONG * (radius + other.radius)
    for k in np.flatnonzero(good).tolist():
        x, y = places[k].tolist()
        puddle = Puddle((x, y), radius, float(throws[k, 2]) * np.pi, waves)
        outline = puddle.outline
        on_table = ((outline > 0) & (outline < (table.width, table.depth))).all()
        if on_table and (np.abs(heights.at(outline)) < _LEVEL).all():
            return puddle
    return None
