"""The table top as the camera sees it: one grid raised into banks, one picture with the road painted in."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.predictions.motion import road_curve, vehicle_path
from previz.scene import Scene
from previz.stage.mesh import Array, Mesh
from previz.stage.painting import Canvas, Colour, PaintRows, Pixels, Texels, noise, painted
from previz.stage.roadway import SHOULDER, Roadway, along_curve
from previz.stage.smooth import smoothstep
from previz.stage.surfaces import COLOURS, SURFACES, Look, laid_image

_TEXEL = 0.00035  # [m]; a vehicle 150 mm long filling a 1920-wide frame shows 0.08 mm a pixel, mostly out of focus
_WIDEST = 4096  # texels
_FLAT_STEP, _RELIEF_STEP = 0.010, 0.004  # [m]
_MOST_CORNERS = 120_000
_VERGE = 0.8  # level ground beside the road's shoulder, full size [m]
_TUCK = 0.003  # how far the ground dives under a cove, so that the two never share a surface [m]


class Floor(Protocol):
    """What pieces stand on."""

    def height(self, points: ArrayLike) -> Array:
        """Height (n,) under points (n, 2). [m]"""


@dataclass(frozen=True)
class Heights:
    """Ground heights on the grid of the mesh.

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
        """Height (n,) of the triangles under points (n, 2); beyond the table, that of its nearest edge. [m]"""
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
        A grid over the whole table; its `image` is `image` and its uv run over the table.
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
    x, y = np.meshgrid(heights.x, heights.y)
    vertices = np.stack([x.ravel(), y.ravel(), heights.z.ravel()], axis=1)
    slope_y, slope_x = np.gradient(heights.z, heights.y, heights.x)
    normals = np.stack([-slope_x.ravel(), -slope_y.ravel(), np.ones(len(vertices))], axis=1)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    table = scene.set.table
    uv = np.stack([vertices[:, 0] / table.width, 1 - vertices[:, 1] / table.depth], axis=1)
    across = len(heights.x)
    a = (np.arange(len(heights.y) - 1)[:, None] * across + np.arange(across - 1)).ravel()
    b, c, d = a + 1, a + across + 1, a + across
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return Mesh(vertices, faces, normals, np.ones_like(vertices), uv=uv, image=image)


# --- relief ---


def ground_heights(scene: Scene) -> Heights:
    """The grid of the ground and its heights: cheap, for those who need no picture."""
    table, ground, backdrop = scene.set.table, scene.set.ground, scene.set.backdrop
    step = _RELIEF_STEP if ground.relief else _FLAT_STEP
    step = max(step, float(np.sqrt(table.width * table.depth / _MOST_CORNERS)))
    x = np.linspace(0.0, table.width, max(int(np.ceil(table.width / step)), 1) + 1)
    tucked = table.depth
    if backdrop is not None and backdrop.join.cove > 0:
        tucked = float(np.clip(backdrop.distance - backdrop.join.cove, 0.0, table.depth))
    # A grid line lies where the cove begins, so that the ground is level up to there and dives only behind it.
    y = np.unique(
        np.concatenate(
            [
                np.linspace(low, high, max(int(np.ceil((high - low) / step)), 1) + 1)
                for low, high in ((0.0, tucked), (tucked, table.depth))
                if high - low > 1e-6
            ]
        )
    )
    grid_x, grid_y = np.meshgrid(x, y)
    points = np.stack([grid_x.ravel(), grid_y.ravel()], axis=1)
    z = _banks(scene, points, tucked).reshape(grid_x.shape) if ground.relief else np.zeros_like(grid_x)
    return Heights(x, y, np.where(grid_y > tucked + 1e-9, -_TUCK, z))


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
