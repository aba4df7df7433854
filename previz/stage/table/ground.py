"""The table top as the camera sees it: a sheet raised into banks, one picture with the road painted in."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.layout import road_curve, vehicle_path
from previz.physics.smooth import smoothstep
from previz.scene import Scene
from previz.stage.mesh import Array, Mesh
from previz.stage.paint.painting import Canvas, Colour, PaintRows, Pixels, Texels, noise, painted
from previz.stage.paint.roadway import SHOULDER, Roadway, along_curve
from previz.stage.paint.surfaces import COLOURS, SURFACES, Look, laid_image
from previz.stage.table.terrain import triangulated

_TEXEL = 0.00035  # [m]; a vehicle 150 mm long filling a 1920-wide frame shows 0.08 mm a pixel, mostly out of focus
_WIDEST = 4096  # texels
_FLAT, _RELIEF = 0.030, 0.006  # between heights [m]; level ground needs few, but what is culled lies in small pieces
_BLOCK = 8  # heights along a side of the largest triangles of a relief
_WITHIN = 0.00008  # of its heights, where a triangle was halved last; the rest comes to 0.1 mm [m]
_MOST_HEIGHTS = 120_000
_VERGE = 0.8  # level ground beside the road's shoulder, full size [m]
_TUCK = 0.003  # how far the ground dives under a cove, so that the two never share a surface [m]
_DIVE = 0.010  # over what length it does [m]


class Floor(Protocol):
    """What pieces stand on."""

    def height(self, points: ArrayLike) -> Array:
        """Height (n,) under points (n, 2). [m]"""


@dataclass(frozen=True)
class Heights:
    """Ground heights on a grid, which the mesh follows within 0.1 mm.

    Parameters
    ----------
    x, y : (m,), (n,) float
        Grid lines. [m]
    z : (n, m) float
        [m]
    """

    x: Array
    y: Array
    z: Array

    def height(self, points: ArrayLike) -> Array:
        """Height (n,) under points (n, 2) of what a piece stands on: the ground, or where that dives, the table. [m]"""
        return np.maximum(self.at(points), 0.0)

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


@dataclass(frozen=True)
class Ground:
    """The covered table top.

    Parameters
    ----------
    mesh : Mesh
        Over the whole table; its `image` is `image` and its uv run over the table. Light and picture are textures, so
        its triangles are only as small as the relief needs.
    image : (h, w, 3) uint8
        sRGB albedo; row 0 lies along the far edge of the table, column 0 along the left edge.
    heights : Heights
        What `height` reads.
    """

    mesh: Mesh
    image: Pixels
    heights: Heights

    def height(self, points: ArrayLike) -> Array:
        """Height (n,) of the ground under points (n, 2): what a piece stands on. [m]"""
        return self.heights.height(points)


def build_ground(scene: Scene, heights: Heights | None = None) -> Ground:
    """The scene's table top with its surface, road and relief. Raises PrevizError for an image that cannot be read.

    `heights` are the scene's own, from whoever has them already.
    """
    heights = heights or ground_heights(scene)
    image = _painted_ground(scene)
    return Ground(_mesh(scene, heights, image), image, heights)


def _mesh(scene: Scene, heights: Heights, image: Pixels) -> Mesh:
    places, faces = triangulated(heights.z, _block(scene), _WITHIN)
    row, column = places.T
    vertices = np.stack([heights.x[column], heights.y[row], heights.z[row, column]], axis=1)
    slope_y, slope_x = (np.gradient(heights.z, lines, axis=k) for k, lines in enumerate((heights.y, heights.x)))
    normals = np.stack([-slope_x[row, column], -slope_y[row, column], np.ones(len(vertices))], axis=1)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    table = scene.set.table
    uv = np.stack([vertices[:, 0] / table.width, 1 - vertices[:, 1] / table.depth], axis=1)
    return Mesh(vertices, faces, normals, np.ones_like(vertices), uv=uv, image=image)


def _block(scene: Scene) -> int:
    """Heights along a side of the largest triangles."""
    return _BLOCK if scene.set.ground.relief else 1


# --- relief ---


def ground_heights(scene: Scene) -> Heights:
    """The grid of the ground and its heights: cheap, for those who need no picture."""
    table, ground, backdrop = scene.set.table, scene.set.ground, scene.set.backdrop
    step = _RELIEF if ground.relief else _FLAT
    step = max(step, float(np.sqrt(table.width * table.depth / _MOST_HEIGHTS)))
    tucked = table.depth
    if backdrop is not None and backdrop.join.cove > 0:
        tucked = float(np.clip(backdrop.distance - backdrop.join.cove, 0.0, table.depth))
    # A grid line lies where the cove begins, so that the ground is level up to there and dives only behind it.
    x = _lines([0.0, table.width], step, _block(scene))
    y = _lines([0.0, tucked, min(tucked + _DIVE, table.depth), table.depth], step, _block(scene))
    grid_x, grid_y = np.meshgrid(x, y)
    points = np.stack([grid_x.ravel(), grid_y.ravel()], axis=1)
    z = _banks(scene, points, tucked).reshape(grid_x.shape) if ground.relief else np.zeros_like(grid_x)
    return Heights(x, y, np.where(grid_y > tucked + 1e-9, -_TUCK * np.minimum((grid_y - tucked) / _DIVE, 1), z))


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
    clear = level_distance(scene, points)
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
    foot = 1 - smoothstep(points[:, 1], tucked - 0.10, tucked - 0.01) if tucked < table.depth else 1.0
    return np.asarray(relief * shape * front * foot * smoothstep(clear, 0.0, rise), dtype=float)


def level_distance(scene: Scene, points: Array) -> Array:
    """How far points (n, 2) lie outside the road with its verge and the vehicle's way; negative within. [m]"""
    clear = np.full(len(points), np.inf)
    road = scene.set.road
    if road is not None:
        half = road.lane * road.lanes / 2 + (SHOULDER + _VERGE) / scene.scale
        clear = along_curve(road_curve(scene), points).away - half
    # A vehicle is about a third as wide as long; it comes from beyond the start of its path and leaves past its end.
    on_path = along_curve(vehicle_path(scene), points)
    return np.minimum(clear, np.minimum(on_path.away, np.abs(on_path.left)) - 0.25 * scene.vehicle_length)


# --- picture ---


def ground_colour(scene: Scene) -> Colour:
    """The mean reflectance of the ground's surface, which a cove or a painted foot blends from."""
    ground = scene.set.ground
    if ground.image is not None:
        paint = laid_image(_canvas(scene, 0.004), scene.folder / ground.image, ground.tile)
        return tuple(float(value) for value in paint(slice(None)).mean(axis=(1, 2)))  # type: ignore[return-value]
    return ground.colour or COLOURS[ground.surface]


def _canvas(scene: Scene, texel: float) -> Canvas:
    table = scene.set.table
    texel = max(texel, table.width / _WIDEST, table.depth / _WIDEST)
    width = max(round(table.width / texel), 1)
    return Canvas(width, max(round(table.depth * width / table.width), 1), table.width / width)


def _painted_ground(scene: Scene) -> Pixels:
    ground, road = scene.set.ground, scene.set.road
    canvas = _canvas(scene, _TEXEL)
    rng = np.random.default_rng([ground.seed, 0])
    base: PaintRows
    if ground.image is not None:
        base = laid_image(canvas, scene.folder / ground.image, ground.tile)
    else:
        look = Look(canvas, scene.scale, ground.colour or COLOURS[ground.surface], rng)
        base = SURFACES[ground.surface](look)
    if road is None:
        return painted(canvas, base)
    beyond = "plain" if ground.image is not None else ground.surface
    roadway = Roadway(road, road_curve(scene), canvas, scene.scale, beyond, np.random.default_rng([ground.seed, 2]))

    def paint(rows: slice) -> Texels:
        picture = base(rows)
        roadway.lay_on(picture, rows)
        return picture

    return painted(canvas, paint)
