"""The table top as the camera sees it: a sheet raised into banks, one picture with the road painted in."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.files import Arrays, kept_apiece, key_of
from previz.layout import (
    SURFACE_COLOURS,
    Heights,
    Roadside,
    block_of,
    ground_heights,
    puddles_of,
    road_curve,
    roadside_of,
    softness,
    tyre_tracks,
)
from previz.mesh import Array, Mesh, joined
from previz.physics.noise import Canvas, Texels
from previz.scene import Scene
from previz.stage.paint.jobs import PaintJob
from previz.stage.paint.loose import Mud, Tracks, tracks_of
from previz.stage.paint.painting import PaintRows, Pixels, painted
from previz.stage.paint.roadway import RAISED, Roadway
from previz.stage.paint.standing_water import Water
from previz.stage.paint.surfaces import SURFACES, laid_image
from previz.stage.table.terrain import triangulated

#: Of the picture of the ground; a vehicle 150 mm long filling a 1920-wide frame shows 0.08 mm a pixel, mostly out of
#: focus. [m]
TEXEL = 0.00035
_WIDEST = 4096  # texels
_PAVED = 0.010  # between corners along a pavement [m]
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
    film : (h, w) uint8 or None
        How much of each texel gleams like water, 0..255; None where nothing does.
    own : int
        How many corners of the mesh, the first, are the ground's own: pavements follow.
    """

    mesh: Mesh
    image: Pixels
    heights: Heights
    film: NDArray[np.uint8] | None = None
    own: int = 0

    def height(self, points: ArrayLike) -> Array:
        """Height (n,) of the ground under points (n, 2): what a piece stands on. [m]"""
        return self.heights.height(points)


def build_ground(scene: Scene, texel: float = TEXEL, source: str | None = None) -> Ground:
    """The scene's table top with its surface, road and relief. Raises PrevizError for an image that cannot be read.

    Parameters
    ----------
    texel : float
        Of its picture, where the table is not so large that it has to be coarser. [m]
    source : str or None
        Names the source text that paints it. With it the picture is kept on disk: most setups have the same.
    """
    heights = ground_heights(scene)
    image, film = _picture_of(scene, texel, source)
    mesh = _mesh(scene, heights, image)
    pavements = _pavements(scene, heights.roadside, image)
    whole = joined([mesh, *pavements]) if pavements else mesh
    return Ground(whole, image, heights, film, len(mesh.vertices))


def _pavements(scene: Scene, side: Roadside, image: Pixels) -> list[Mesh]:
    """Their upper sides, over the ground and with its picture; those of kerb stones alone are the stones' own."""
    table, found = scene.set.table, []
    for strip in (each for each in side.strips if each.paved):
        inner, outer = (side.line(strip.side * off, _PAVED) for off in (strip.back, strip.outer))
        flat = np.concatenate([inner, outer])
        vertices = np.column_stack([flat, np.full(len(flat), strip.height)])
        a, count = np.arange(len(inner) - 1), len(inner)
        quads = [[a, a + 1, a + 1 + count], [a, a + 1 + count, a + count]]
        faces = np.concatenate([np.stack(quad if strip.side < 0 else quad[::-1], axis=1) for quad in quads])
        faces = faces[_area(vertices[faces]) > 1e-9]
        uv = np.stack([flat[:, 0] / table.width, 1 - flat[:, 1] / table.depth], axis=1)
        up = np.tile([0.0, 0.0, 1.0], (len(flat), 1))
        found.append(Mesh(vertices, faces, up, np.ones_like(vertices), uv=uv, image=image))
    return found


def _area(corners: Array) -> Array:
    """Of triangles (m, 3, 3), seen from above. [m2]"""
    a, b = corners[:, 1, :2] - corners[:, 0, :2], corners[:, 2, :2] - corners[:, 0, :2]
    return np.asarray(np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2)


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


def _picture_of(scene: Scene, texel: float, source: str | None) -> tuple[Pixels, NDArray[np.uint8] | None]:
    """As `_painted_ground`, from disk if it was painted before; one that is laid with an image is painted anew."""
    ground, road = scene.set.ground, scene.set.road
    if source is None or ground.image is not None:
        return _painted_ground(scene, texel)
    tracks = tyre_tracks(scene) if ground.tracks else ()
    curves = [each.curve for each in tracks] + ([road_curve(scene)] if road is not None else [])
    key = key_of(
        "ground", source, scene.set.table, ground, road, scene.scale, texel, puddles_of(scene),
        roadside_of(scene).strips,
        *((each.apart, each.width) for each in tracks), *(curve.points for curve in curves),
    )  # fmt: skip

    def paint() -> Arrays:
        image, film = _painted_ground(scene, texel)
        return {"image": image} if film is None else {"image": image, "film": film}

    known = kept_apiece({key: paint})[key]
    return known["image"], known.get("film")


def _painted_ground(scene: Scene, texel: float) -> tuple[Pixels, NDArray[np.uint8] | None]:
    """Its picture, and what of it gleams."""
    ground, road = scene.set.ground, scene.set.road
    canvas = _canvas(scene, texel)
    rng = np.random.default_rng([ground.seed, 0])
    base: PaintRows
    if ground.image is not None:
        base = laid_image(canvas, scene.folder / ground.image, ground.tile)
    else:
        job = PaintJob(canvas, scene.scale, ground.colour or SURFACE_COLOURS[ground.surface], rng)
        base = SURFACES[ground.surface](job)
    beyond = "plain" if ground.image is not None else ground.surface
    roadway = None
    if road is not None:
        side = roadside_of(scene)
        roadway = Roadway(
            road, road_curve(scene), canvas, scene.scale, beyond, np.random.default_rng([ground.seed, 2]), side.strips
        )
    tracks: tuple[Tracks, ...] = ()
    if ground.tracks:
        tracks = tracks_of(tyre_tracks(scene), canvas, scene.scale, np.random.default_rng([ground.seed, 3]))
    water = Water(puddles_of(scene), canvas, scene.scale, np.random.default_rng([ground.seed, 4]))
    gleams = ground.wet > 0 or water.puddles or isinstance(base, Mud) or (road is not None and road.surface == "mud")
    film = np.zeros((canvas.height, canvas.width), np.uint8) if gleams else None
    hardness = softness(beyond)

    def paint(rows: slice) -> Texels:
        picture = base(rows)
        shape = picture.shape[1:]
        gleam = np.zeros(shape, np.float32) if gleams else None
        if gleam is not None and isinstance(base, Mud):
            gleam += base.film(rows)
        soft = np.full(shape, hardness, np.float32) if tracks or gleams else None
        if roadway is not None:
            roadway.lay_on(picture, rows, gleam, soft)
        if soft is not None:
            for each in tracks:
                each.press(picture, gleam, rows, soft)
        if film is not None and gleam is not None and soft is not None:
            if ground.wet > 0:
                water.wet(ground.wet, picture, gleam, rows, soft > RAISED)
            water.stand_on(picture, gleam, rows, soft > RAISED)
            film[rows] = np.rint(255 * np.clip(gleam, 0, 1))
        return picture

    return painted(canvas, paint), film
