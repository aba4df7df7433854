"""The sheet behind the set with what is painted on it, and the edge of the table under it all."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.files import load_image
from previz.layout import SHEET_STEP, BackPlane, Sheet, backdrop_plane, cross_section, ground_colour, layer_colour
from previz.mesh import Array, Mesh
from previz.physics.colour import srgb_linear
from previz.physics.noise import Canvas, Texels, noise
from previz.physics.smooth import smoothstep
from previz.scene import Backdrop, Layer, Scene
from previz.stage.paint.painting import Colour, PaintRows, Pixels, grain, lay, painted
from previz.stage.paint.scenery import covers_of_layers, paint_scenery

_TEXELS = 2400  # across the sheet
_MOST_CORNERS = 60_000

_APRON = 0.030  # thickness of the table top [m]
_APRON_COLOUR = (0.26, 0.155, 0.08)  # linear; a plain wooden edge
_PAPER = 0.80  # reflectance of an unpainted sheet, seen where an image is transparent


def build_backdrop(scene: Scene) -> tuple[Mesh, ...]:
    """The scene's backdrop as one mesh, or nothing where it has none.

    Its picture runs over the whole sheet, cove included: uv (0, 0) is the top left corner seen from the front.
    Raises PrevizError where an image cannot be read.
    """
    backdrop, plane = scene.set.backdrop, backdrop_plane(scene)
    if backdrop is None or plane is None:
        return ()
    sheet = cross_section(backdrop)
    step = max(SHEET_STEP, float(np.sqrt(plane.width * sheet.along[-1] / _MOST_CORNERS)))
    across = np.linspace(-plane.half, plane.half, max(int(np.ceil(plane.width / step)), 1) + 1)
    return (_sheet_mesh(scene, backdrop, plane, sheet, across),)


def _sheet_mesh(scene: Scene, backdrop: Backdrop, plane: BackPlane, sheet: Sheet, across: Array) -> Mesh:
    rows, columns = len(sheet.off), len(across)
    vertices = plane.placed(np.tile(across, rows), np.repeat(sheet.off, columns), np.repeat(sheet.z, columns))
    normals = plane.way(0.0, *np.repeat(sheet.normals, columns, axis=0).T)
    u = (across - across[0]) / plane.width
    uv = np.stack([np.tile(u, rows), np.repeat(1 - sheet.along / sheet.along[-1], columns)], axis=1)
    a = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    b, c, d = a + 1, a + columns + 1, a + columns
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    if backdrop.colour is not None:
        share = ground_share(backdrop, sheet.along)[:, None]
        shades = share * np.array(ground_colour(scene)) + (1 - share) * np.array(backdrop.colour)
        return Mesh(vertices, faces, normals, np.repeat(shades, columns, axis=0))
    image = _picture(scene, backdrop, sheet, plane.width)
    return Mesh(vertices, faces, normals, np.ones_like(vertices), uv=uv, image=image)


def ground_share(backdrop: Backdrop, along: Array) -> Array:
    """How much of the ground's colour is on the sheet at that length from its foot: all at the start of a cove,
    none at its top, and none anywhere on a sheet that stands straight on the table."""
    cove = backdrop.join.cove
    if cove == 0:
        return np.zeros_like(along)
    return np.asarray(1 - smoothstep(along / (cove * np.pi / 2), 0.12, 1.0))


@dataclass(frozen=True)
class PaintedLayer:
    """What of a backdrop one of its painted layers covers.

    Parameters
    ----------
    layer : Layer
        As written.
    colour : (3,) float
        That it is painted with, its haze mixed in; towards its foot there is more. Linear reflectance.
    base : float
        Height over the table down to which it is painted. [m]
    cover : (h, w) float32
        0..1 over the whole sheet laid flat, cove included; row 0 at the top, a row as high as `rise`, a column as wide
        as `texel`.
    texel, rise : float
        [m]
    """

    layer: Layer
    colour: Colour
    base: float
    cover: Texels
    texel: float
    rise: float


def painted_layers(scene: Scene) -> tuple[PaintedLayer, ...]:
    """The layers of the scene's backdrop, far ones first; none where it is not painted."""
    backdrop, plane = scene.set.backdrop, backdrop_plane(scene)
    if backdrop is None or plane is None or backdrop.painting is None:
        return ()
    sheet, width = cross_section(backdrop), plane.width
    canvas, _, heights = _laid_flat(sheet, width)
    texel, rise = width / canvas.width, float(sheet.along[-1]) / canvas.height
    painting = backdrop.painting
    return tuple(
        PaintedLayer(layer, layer_colour(painting, layer), base, cover, texel, rise)
        for layer, base, cover in covers_of_layers(painting, canvas, heights)
    )


def _laid_flat(sheet: Sheet, width: float) -> tuple[Canvas, Array, Array]:
    """The sheet's picture; how far along the sheet from its foot, and how high over the table, each row is. [m]"""
    texel = max(width, float(sheet.along[-1])) / _TEXELS
    canvas = Canvas(max(round(width / texel), 2), max(round(sheet.along[-1] / texel), 2), texel)
    # Row 0 is the top; `along` is measured from the foot.
    along = sheet.along[-1] * (1 - (np.arange(canvas.height) + 0.5) / canvas.height)
    return canvas, along, np.interp(along, sheet.along, sheet.z)


def _picture(scene: Scene, backdrop: Backdrop, sheet: Sheet, width: float) -> Pixels:
    canvas, along, heights = _laid_flat(sheet, width)
    if backdrop.image is not None:
        paint = _photograph(scene.folder / backdrop.image, canvas, heights / backdrop.height)
        seed = 0
    else:
        assert backdrop.painting is not None  # a Backdrop has one of colour, image and painting
        paint = paint_scenery(
            backdrop.painting,
            canvas,
            heights,
            backdrop.height,
            ground_colour(scene),
            scene.set.ground.surface == "snow",
        )
        seed = backdrop.painting.seed
    return painted(
        canvas, _blended(scene, backdrop, canvas, along, paint, seed), grain(canvas, np.random.default_rng(seed), 0.3)
    )


def _blended(scene: Scene, backdrop: Backdrop, canvas: Canvas, along: Array, paint: PaintRows, seed: int) -> PaintRows:
    """The painting, going over into the ground's colour round the cove along a ragged line."""
    if backdrop.join.cove == 0:
        return paint
    rng = np.random.default_rng([seed, 7])
    ragged = noise(canvas, rng, 0.08, 4, stretch=(2.0, 1.0))
    mottle = noise(canvas, rng, 0.05, 4, stretch=(2.0, 1.0))
    share = ground_share(backdrop, along)
    colour = np.array(ground_colour(scene))

    def both(rows: slice) -> Texels:
        picture = paint(rows)
        part = share[rows, None].astype(np.float32)
        part = np.clip(part + 0.28 * part * (1 - part) * 4 * ragged.rows(rows), 0, 1)
        ground = (1 + 0.05 * mottle.rows(rows))[None] * colour[:, None, None].astype(np.float32)
        lay(picture, ground, part)
        return picture

    return both


def _photograph(path: Path, canvas: Canvas, up: Array) -> PaintRows:
    """An image stretched over the sheet; `up` (h,) is each row's height as a share of the sheet's."""
    from PIL import Image

    pixels = load_image(path)
    sized = np.asarray(Image.fromarray(pixels).resize((canvas.width, canvas.height), Image.Resampling.LANCZOS))
    lines = np.clip(((1 - up) * canvas.height).astype(int), 0, canvas.height - 1)
    decode = np.asarray(srgb_linear(np.arange(256) / 255), dtype=np.float32)

    def paint(rows: slice) -> Texels:
        picture = np.stack([decode[sized[lines[rows], :, channel]] for channel in range(3)])
        if sized.shape[2] == 4:
            clear = 1 - sized[lines[rows], :, 3].astype(np.float32) / 255
            lay(picture, (_PAPER, _PAPER, _PAPER), clear)
        return picture

    return paint


# --- the table ---


def build_table(scene: Scene, ground: Array) -> tuple[Mesh, ...]:
    """The four edges of the table, a plain board 30 mm thick whose upper edge is the ground's (n, 3)."""
    table = scene.set.table
    x, y, _ = ground.T
    front, right, back, left = (
        ground[on]
        for on in (np.isclose(y, 0.0), np.isclose(x, table.width), np.isclose(y, table.depth), np.isclose(x, 0.0))
    )
    return (
        _edge(front[np.argsort(front[:, 0])], (0.0, -1.0)),
        _edge(right[np.argsort(right[:, 1])], (1.0, 0.0)),
        _edge(back[np.argsort(-back[:, 0])], (0.0, 1.0)),
        _edge(left[np.argsort(-left[:, 1])], (-1.0, 0.0)),
    )


def _edge(upper: Array, outward: tuple[float, float]) -> Mesh:
    """One edge under (n, 3) corners of the ground, counter-clockwise round the table."""
    lower = np.column_stack([upper[:, :2], np.full(len(upper), -_APRON)])
    count = len(upper)
    a = np.arange(count - 1)
    faces = np.concatenate(
        [np.stack([a, a + 1, a + 1 + count], axis=1), np.stack([a, a + 1 + count, a + count], axis=1)]
    )
    vertices = np.concatenate([lower, upper])
    normals = np.tile((*outward, 0.0), (2 * count, 1))
    return Mesh(vertices, faces, normals, np.tile(_APRON_COLOUR, (2 * count, 1)))
