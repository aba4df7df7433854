"""How high the ground is: level where anything drives, raised into banks elsewhere, diving under a cove."""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.layout.backdrop import back_plane
from previz.layout.launch import launch_of
from previz.layout.markings import SHOULDER
from previz.layout.motion import road_curve, vehicle_path
from previz.layout.others import each_driven
from previz.layout.ramp import ramp_width
from previz.layout.remembered import remembered_of
from previz.layout.roadside import Roadside, roadside_of, strips_of
from previz.physics.noise import Canvas, noise
from previz.physics.paths import Along, Curve, along_curve
from previz.physics.smooth import smoothstep
from previz.scene import Scene

Array = NDArray[np.float64]

_FLAT, _RELIEF = 0.030, 0.006  # between heights [m]; level ground needs few, but what is culled lies in small pieces
BLOCK = 8  # heights along a side of the largest triangles of a relief
_MOST_HEIGHTS = 120_000
_VERGE = 0.8  # level ground beside the road's shoulder, full size [m]
_TUCK = 0.003  # how far the ground dives under a cove, so that the two never share a surface [m]
_EDGE = 1e-6  # so near to the table's edge is on it [m]
_DIVE = 0.010  # over what length it does [m]


@dataclass(frozen=True)
class Heights:
    """Ground heights on a grid, which the mesh follows within 0.1 mm.

    Parameters
    ----------
    x, y : (m,), (n,) float
        Grid lines. [m]
    z : (n, m) float
        [m]
    roadside : Roadside
        Kerbs and pavements, which stand on it.
    """

    x: Array
    y: Array
    z: Array
    roadside: Roadside

    @cached_property
    def highest(self) -> float:
        """No `height` is above this. [m]"""
        return max(0.0, float(self.z.max()), *(strip.height for strip in self.roadside.strips))

    def height(self, points: ArrayLike) -> Array:
        """Height (n,) under points (n, 2) of what a piece stands on: pavement, ground, or where that dives, the table.

        Beyond the table nothing rises above its top: what stands there is measured from that. [m]
        """
        places = np.asarray(points, dtype=float).reshape(-1, 2)
        off = np.maximum((self.x[0], self.y[0]) - places, places - (self.x[-1], self.y[-1])).max(axis=1)
        return np.where(off > _EDGE, 0.0, np.maximum(self.surface(places), 0.0))

    def surface(self, points: ArrayLike) -> Array:
        """Height (n,) of what is seen from above at points (n, 2): pavement, kerb or ground. [m]"""
        ground = self.at(points)
        return ground if self.roadside.curve is None else np.maximum(ground, self.roadside.height(points))

    def at(self, points: ArrayLike) -> Array:
        """Height (n,) of the ground under points (n, 2); beyond the table, that of its nearest edge. [m]"""
        places = np.asarray(points, dtype=float).reshape(-1, 2)
        i, u = _cell(self.x, places[:, 0])
        j, v = _cell(self.y, places[:, 1])
        low, right, up, far = self.z[j, i], self.z[j, i + 1], self.z[j + 1, i], self.z[j + 1, i + 1]
        below = low + u * (right - low) + v * (far - right)  # the triangle towards the front right of the diagonal
        above = low + v * (up - low) + u * (far - up)
        return np.asarray(np.where(u >= v, below, above), dtype=float)


def _cell(lines: Array, places: Array) -> tuple[NDArray[np.intp], Array]:
    """The grid cell each place lies in, and how far across it, 0..1."""
    cell = np.clip(np.searchsorted(lines, places, side="right") - 1, 0, len(lines) - 2)
    return cell, np.clip((places - lines[cell]) / (lines[cell + 1] - lines[cell]), 0, 1)


@remembered_of("scale", "set", "vehicle", "vehicles", "folder")
def ground_heights(scene: Scene) -> Heights:
    """The grid of the ground and its heights: cheap, for those who need no picture."""
    x, y, tucked, points = _grid(scene)
    shape = len(y), len(x)
    z = _banks(scene, points, tucked).reshape(shape) if scene.set.ground.relief else np.zeros(shape)
    under = back_plane(scene).off(points).reshape(shape) - tucked  # the cove
    return Heights(x, y, np.where(under > 1e-9, -_TUCK * np.minimum(under / _DIVE, 1), z), roadside_of(scene))


def _grid(scene: Scene) -> tuple[Array, Array, float, Array]:
    """Lines of the grid along x and y, how far from the edge opposite a cove begins, and the points (n, 2)."""
    table, ground, backdrop, plane = scene.set.table, scene.set.ground, scene.set.backdrop, back_plane(scene)
    step = _RELIEF if ground.relief else _FLAT
    step = max(step, float(np.sqrt(table.width * table.depth / _MOST_HEIGHTS)))
    tucked = plane.long
    if backdrop is not None and backdrop.join.cove > 0:
        tucked = float(np.clip(backdrop.distance - backdrop.join.cove, 0.0, plane.long))
    # A grid line lies where the cove begins, so that the ground is level up to there and dives only behind it.
    off = _lines([0.0, tucked, min(tucked + _DIVE, plane.long), plane.long], step, block_of(scene))
    lines = [_lines([0.0, size], step, block_of(scene)) for size in (table.width, table.depth)]
    lines[plane.axis] = off if plane.sign > 0 else plane.long - off[::-1]
    x, y = lines
    grid_x, grid_y = np.meshgrid(x, y)
    return x, y, tucked, np.stack([grid_x.ravel(), grid_y.ravel()], axis=1)


def block_of(scene: Scene) -> int:
    """Heights along a side of the largest triangles."""
    return BLOCK if scene.set.ground.relief else 1


def _lines(stops: list[float], step: float, block: int) -> Array:
    """Grid lines about `step` apart with one at each stop, a multiple of `block` cells from one to the next. [m]"""
    lines = [np.array(stops[:1])]
    for low, high in pairwise(stops):
        if high - low > 1e-6:
            lines.append(np.linspace(low, high, block * max(int(np.ceil((high - low) / (block * step))), 1) + 1)[1:])
    return np.concatenate(lines)


def _banks(scene: Scene, points: Array, tucked: float) -> Array:
    """Smooth banks, 0 where anything drives and before a cove, lower towards the viewer so as not to hide the road."""
    table, relief = scene.set.table, scene.set.ground.relief
    clear = _level_distance(scene, points)
    rise = max(2.2 * relief, 0.03)
    rng = np.random.default_rng([scene.set.ground.seed, 1])
    cell = 0.005
    canvas = Canvas(int(table.width / cell) + 2, int(table.depth / cell) + 2, cell)
    lumps = noise(canvas, rng, float(np.clip(6 * relief, 0.10, 0.40)), 3, roughness=0.4).rows(slice(0, canvas.height))
    column = np.minimum((points[:, 0] / cell).astype(int), canvas.width - 2)
    line = np.minimum((points[:, 1] / cell).astype(int), canvas.height - 2)
    u, v = points[:, 0] / cell - column, points[:, 1] / cell - line
    lump = (
        lumps[line, column] * (1 - u) * (1 - v)
        + lumps[line, column + 1] * u * (1 - v)
        + lumps[line + 1, column] * (1 - u) * v
        + lumps[line + 1, column + 1] * u * v
    )
    shape = 0.62 + 0.38 * np.tanh(0.9 * lump)  # 0.24..1, so that the highest bank stays within `relief`
    front = 0.30 + 0.70 * smoothstep(points[:, 1] / table.depth, 0.15, 0.75)
    plane = back_plane(scene)
    foot = 1 - smoothstep(plane.off(points), tucked - 0.10, tucked - 0.01) if tucked < plane.long else 1.0
    return np.asarray(relief * shape * front * foot * smoothstep(clear, 0.0, rise), dtype=float)


@remembered_of("scale", "set")
def _off_the_road(scene: Scene) -> Array:
    """How far the grid's points (n,) lie outside the road with its verge; negative within, inf without a road. [m]"""
    points, road = _grid(scene)[-1], scene.set.road
    if road is None:
        return np.full(len(points), np.inf)
    half = road.lane * road.lanes / 2 + (SHOULDER + _VERGE) / scene.scale
    half = max(half, *(strip.outer for strip in strips_of(scene)), 0.0)
    return np.asarray(_along(road_curve(scene), points).away - half)


def _along(curve: Curve, points: Array) -> Along:
    """As `along_curve`; setups in which something else stands have the same road and grid."""
    return _known_along(curve.points.tobytes(), curve.distances.tobytes(), points.tobytes())


@lru_cache(maxsize=16)
def _known_along(curve: bytes, distances: bytes, points: bytes) -> Along:
    way, places = (np.frombuffer(each).reshape(-1, 2) for each in (curve, points))
    return along_curve(Curve(way, np.frombuffer(distances)), places)


def _level_distance(scene: Scene, points: Array) -> Array:
    """How far the grid's points (n, 2) lie outside road and verge and the vehicles' ways; negative within. [m]"""
    clear = _off_the_road(scene)
    for each in each_driven(scene):
        # A vehicle is about a third as wide as long; it comes from beyond its path's start, leaves past its end.
        half = 0.25 * each.vehicle_length
        if launch_of(each) is not None:
            half = max(half, ramp_width(each) / 2)
        on_path = _along(vehicle_path(each), points)
        clear = np.minimum(clear, np.minimum(on_path.away, np.abs(on_path.left)) - half)
    return clear
