"""The ground about the vehicle, cut into cells that hold its shadow and its headlamps' beam."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.layout import Ambient, BulbEmitter, Emitter
from previz.light import Floats, floats
from previz.mesh import Array
from previz.physics.paths import Curve
from previz.physics.smooth import eased
from previz.stage.model import VehicleModel

Extent = tuple[float, float, float, float]

_FADE = 0.10  # share of the grid over which shadow and beam fade out at each border
_LONGEST_SHADOW = 4.0  # over the vehicle's height; what is longer fades out
_MOST_CELLS = 40_000


@dataclass(frozen=True)
class GroundGrid:
    """Cells of the ground about the vehicle, in its frame: (x0, x1, y0, y1) [m], `rows` by `columns`."""

    extent: Extent
    rows: int
    columns: int

    def points(self) -> Array:
        """Cell middles on z = 0, row 0 at the largest y. (rows * columns, 3) [m]"""
        x0, x1, y0, y1 = self.extent
        x = x0 + (np.arange(self.columns) + 0.5) / self.columns * (x1 - x0)
        y = y1 - (np.arange(self.rows) + 0.5) / self.rows * (y1 - y0)
        return np.stack([np.tile(x, self.rows), np.repeat(y, self.columns), np.zeros(self.rows * self.columns)], axis=1)

    def cells(self, x: Floats, y: Floats) -> tuple[NDArray[np.int32], NDArray[np.bool_]]:
        """Number of the cell under each place, and whether there is one."""
        x0, x1, y0, y1 = self.extent
        column = np.floor((x - x0) / (x1 - x0) * self.columns)
        row = np.floor((y1 - y) / (y1 - y0) * self.rows)
        inside = (column >= 0) & (column < self.columns) & (row >= 0) & (row < self.rows)
        return np.where(inside, row * self.columns + column, 0).astype(np.int32), inside

    def fade(self) -> Floats:
        """1 in the middle, smoothly 0 at the border. (rows, columns)"""
        down, across = (
            np.clip(np.minimum(np.arange(n) + 0.5, n - 0.5 - np.arange(n)) / (_FADE * n), 0, 1)
            for n in (self.rows, self.columns)
        )
        edge = np.outer(down, across)
        return floats(eased(edge))


def ground_grid(vehicle: VehicleModel, emitters: Sequence[Emitter], path: Curve, cell: float) -> GroundGrid:
    """Large enough for the vehicle's shadows wherever it is on its path, and for its lamps' beam."""
    about = 0.6 * vehicle.height  # it darkens the ground beside it under any light
    tips = np.concatenate([np.zeros((1, 2)), *(_shadow_tips(lamp, path, vehicle.height) for lamp in emitters)])
    (rear, right), (front, left) = tips.min(axis=0).tolist(), tips.max(axis=0).tolist()
    half_length, half_width = vehicle.length / 2, vehicle.width / 2
    x = [min(rear, -about) - half_length, max(front, about) + half_length]
    y = [min(right, -about) - half_width, max(left, about) + half_width]
    for lamp in vehicle.lamps:
        if lamp.flux > 0 and lamp.beam is not None:
            ahead = lamp.beam[0] > 0
            x = [min(x[0], 0 if ahead else -1.2 * vehicle.length), max(x[1], 2.0 * vehicle.length if ahead else 0)]
            y = [min(y[0], -0.7 * vehicle.length), max(y[1], 0.7 * vehicle.length)]
    grow = _FADE / (1 - 2 * _FADE)  # the fade lies outside
    wide, deep = x[1] - x[0], y[1] - y[0]
    extent = (x[0] - grow * wide, x[1] + grow * wide, y[0] - grow * deep, y[1] + grow * deep)
    wide, deep = extent[1] - extent[0], extent[3] - extent[2]
    cell *= max(1.0, math.sqrt(wide * deep / cell**2 / _MOST_CELLS))
    return GroundGrid(extent, math.ceil(deep / cell), math.ceil(wide / cell))


def _shadow_tips(lamp: Emitter, path: Curve, height: float) -> Array:
    """Where the shadow of something `height` tall ends, along the path, in the vehicle's frame. (n, 2) [m]"""
    if isinstance(lamp, Ambient) or (isinstance(lamp, BulbEmitter) and not lamp.lights_all):
        return np.zeros((0, 2))  # bulbs on the set are near: their shadows are short, or faint
    along = np.linspace(0.1, 0.9, 9) * path.length
    away = (path.at(along) - np.array(lamp.centre[:2])) * (height / max(lamp.centre[2], 1e-3))
    away *= np.minimum(1, _LONGEST_SHADOW * height / np.maximum(np.linalg.norm(away, axis=1), 1e-9))[:, None]
    cosine, sine = np.cos(path.heading(along)), np.sin(path.heading(along))
    return np.stack([cosine * away[:, 0] + sine * away[:, 1], cosine * away[:, 1] - sine * away[:, 0]], axis=1)
