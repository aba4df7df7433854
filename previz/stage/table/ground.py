"""The table top as the camera sees it: a sheet raised into banks, one picture with the road painted in."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from previz.layout import SURFACE_COLOURS, Heights, block_of, ground_heights, road_curve
from previz.mesh import Array, Mesh
from previz.physics.noise import Canvas, Texels
from previz.scene import Scene
from previz.stage.paint.painting import PaintRows, Pixels, painted
from previz.stage.paint.roadway import Roadway
from previz.stage.paint.surfaces import SURFACES, PaintJob, laid_image
from previz.stage.table.terrain import triangulated

_TEXEL = 0.00035  # [m]; a vehicle 150 mm long filling a 1920-wide frame shows 0.08 mm a pixel, mostly out of focus
_WIDEST = 4096  # texels
_WITHIN = 0.00008  # of its heights, where a triangle was halved last; the rest comes to 0.1 mm [m]


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


def build_ground(scene: Scene) -> Ground:
    """The scene's table top with its surface, road and relief. Raises PrevizError for an image that cannot be read."""
    heights = ground_heights(scene)
    image = _painted_ground(scene)
    return Ground(_mesh(scene, heights, image), image, heights)


def _mesh(scene: Scene, heights: Heights, image: Pixels) -> Mesh:
    places, faces = triangulated(heights.z, block_of(scene), _WITHIN)
    row, column = places.T
    vertices = np.stack([heights.x[column], heights.y[row], heights.z[row, column]], axis=1)
    slope_y, slope_x = (np.gradient(heights.z, lines, axis=k) for k, lines in enumerate((heights.y, heights.x)))
    normals = np.stack([-slope_x[row, column], -slope_y[row, column], np.ones(len(vertices))], axis=1)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    table = scene.set.table
    uv = np.stack([vertices[:, 0] / table.width, 1 - vertices[:, 1] / table.depth], axis=1)
    return Mesh(vertices, faces, normals, np.ones_like(vertices), uv=uv, image=image)


# --- picture ---


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
        job = PaintJob(canvas, scene.scale, ground.colour or SURFACE_COLOURS[ground.surface], rng)
        base = SURFACES[ground.surface](job)
    if road is None:
        return painted(canvas, base)
    beyond = "plain" if ground.image is not None else ground.surface
    roadway = Roadway(road, road_curve(scene), canvas, scene.scale, beyond, np.random.default_rng([ground.seed, 2]))

    def paint(rows: slice) -> Texels:
        picture = base(rows)
        roadway.lay_on(picture, rows)
        return picture

    return painted(canvas, paint)
