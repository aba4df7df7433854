"""From what a scene says stands on the set to its triangles: `build_piece`, `piece_size`, `piece_footprint`.

Every model stands on z = 0 about its own origin, x to its right or front. `BUILDERS` is the list of kinds.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import light_rgb
from previz.physics.colour import LUMINANCE
from previz.scene import (
    CONTAINER_SIZE,
    Broadleaf,
    Building,
    Bush,
    Card,
    Cone,
    Conifer,
    Container,
    Fence,
    LampPost,
    LightColour,
    Sign,
    Standing,
    Stone,
    Wall,
)
from previz.stage.mesh import Array, Mesh, Model
from previz.stage.pieces import foliage, street, yard
from previz.stage.pieces.buildings import ROOF_PITCH, STOREY, House, building
from previz.stage.shapes.finish import LEAF, LONGEST_EDGE, Colour, weathered

Size = tuple[float, float, float]

GALVANISED: Colour = (0.36, 0.37, 0.38)
STONE_SHAPE = (1.0, 0.82, 0.66)  # length, depth, height over `size`
CARD_THICKNESS = 0.001  # [m] on the table: what a cut-out takes up on a plan; its model has none


def build_piece(
    spec: Standing, scale: float, rng: np.random.Generator, image: NDArray[np.uint8] | None = None
) -> Model:
    """The model of one piece, in its own frame.

    Parameters
    ----------
    scale : float
        S of 1:S; sizes the scene leaves out are full-size ones over it.
    rng : Generator
        Made by the caller from `spec.seed` and the number of the copy: the same state, the same arrays.
    image : (h, w, 3 or 4) uint8 or None
        For a `Card` with an image: sRGB, its fourth channel (255 solid) cutting the outline.

    Returns
    -------
    Model
        Standing on z = 0, centred in x and y; a lamp post has its pole on the origin instead.
    """
    if isinstance(spec, Card):
        return Model(card(spec, scale, rng, image))
    return BUILDERS[type(spec)](spec, scale, rng)


def piece_size(spec: Standing, scale: float) -> Size:
    """Extent (length x, depth y, height z) of a piece on the table, without building it. [m]

    >>> from previz.scene import Cone
    >>> piece_size(Cone(id="c", at=["1 m", "1 m"], piece="cone", height="10 mm"), 50)[2]
    0.01
    """
    return SIZES[type(spec)](spec, scale)


def piece_footprint(spec: Standing, scale: float) -> Array:
    """Outline (k, 2) of what stands in the way near the ground, counter-clockwise, in the piece's frame. [m]

    The foot of a lamp post, the round of a tree or a cone, else the rectangle of `piece_size`.
    """
    length, depth, height = piece_size(spec, scale)
    if isinstance(spec, LampPost):
        length = depth = 2 * street.LAMP_FOOT * height / street.LAMP_HEIGHT
    if isinstance(spec, Conifer | Broadleaf | Bush | Stone):
        turn = np.arange(16) * np.pi / 8
        return np.column_stack([length / 2 * np.cos(turn), depth / 2 * np.sin(turn)])
    return np.array([(-length, -depth), (length, -depth), (length, depth), (-length, depth)]) / 2


def _given(value: float | None, full_size: float, scale: float) -> float:
    return full_size / scale if value is None else float(value)


def _plain_light(light: LightColour) -> Colour:
    """Colour with luminance 1, gel and all: how much light there is, is said elsewhere."""
    rgb = light_rgb(light)
    red, green, blue = (rgb / max(float(rgb @ LUMINANCE), 1e-9)).tolist()
    return (red, green, blue)


# --- one builder and one size for each kind ---


def _container(spec: Container, scale: float, rng: np.random.Generator) -> Model:
    above = spec.colours or (spec.colour,)
    colours = (spec.colour, *(above[k % len(above)] for k in range(spec.stack - 1)))
    return Model(yard.container_stack(_container_size(spec, scale)[0], colours, rng))


def _container_size(spec: Container, scale: float) -> Size:
    length = _given(spec.length, CONTAINER_SIZE[0], scale)
    wide, high = (length * part / CONTAINER_SIZE[0] for part in CONTAINER_SIZE[1:])
    return (length, wide, high * spec.stack)


def _lamp_post(spec: LampPost, scale: float, rng: np.random.Generator) -> Model:
    height = _given(spec.height, street.LAMP_HEIGHT, scale)
    arm = _given(spec.arm, street.LAMP_ARM, scale)
    return street.lamp_post(height, arm, spec.lit, spec.colour, _plain_light(spec.light), rng)


def _lamp_post_size(spec: LampPost, scale: float) -> Size:
    height = _given(spec.height, street.LAMP_HEIGHT, scale)
    size = height / street.LAMP_HEIGHT
    arm = _given(spec.arm, street.LAMP_ARM, scale)
    back = max(street.LAMP_FOOT, street.LAMP_BACK - arm / size)
    return (arm + (back + street.LAMP_HEAD) * size, 2 * street.LAMP_FOOT * size, height)


def _conifer(spec: Conifer, scale: float, rng: np.random.Generator) -> Model:
    return Model(foliage.conifer(_given(spec.height, 12.0, scale), spec.colour, spec.snow, rng))


def _broadleaf(spec: Broadleaf, scale: float, rng: np.random.Generator) -> Model:
    return Model(foliage.broadleaf(_given(spec.height, 10.0, scale), spec.colour, spec.bare, rng))


def _bush(spec: Bush, scale: float, rng: np.random.Generator) -> Model:
    return Model(foliage.bush(_given(spec.height, 1.5, scale), spec.colour, rng))


def _growing(full_size: float, spread: float) -> Callable[[Any, float], Size]:
    def size(spec: Any, scale: float) -> Size:
        height = _given(spec.height, full_size, scale)
        return (spread * height, spread * height, height)

    return size


def _stone(spec: Stone, scale: float, rng: np.random.Generator) -> Model:
    return Model(yard.stone(_stone_size(spec, scale), spec.colour, spec.snow, rng))


def _stone_size(spec: Stone, scale: float) -> Size:
    size = _given(spec.size, 1.0, scale)
    return (size * STONE_SHAPE[0], size * STONE_SHAPE[1], size * STONE_SHAPE[2])


def _building(spec: Building, scale: float, rng: np.random.Generator) -> Model:
    width, depth, height = (part * scale for part in _building_size(spec, scale))
    house = House(
        width, depth, height, spec.floors, spec.colour, spec.roof == "gable", spec.shop, spec.lit, spec.glow,
        _plain_light(spec.light), spec.snow,
    )  # fmt: skip
    return Model(building(house, scale, rng))


def _building_size(spec: Building, scale: float) -> Size:
    """A height given is over all; left out, a gabled roof comes on top of the storeys."""
    width, depth = _given(spec.width, 9.0, scale), _given(spec.depth, 5.0, scale)
    roof = ROOF_PITCH * min(width, depth) / 2 if spec.roof == "gable" else 0.0
    height = STOREY * spec.floors / scale + roof if spec.height is None else float(spec.height)
    return (width, depth, height)


def _fence(spec: Fence, scale: float, rng: np.random.Generator) -> Model:
    steel = spec.style == "guard_rail" and "colour" not in spec.model_fields_set
    colour = GALVANISED if steel else spec.colour
    return Model(street.fence(spec.length, _given(spec.height, 1.2, scale), spec.style, colour, rng))


def _fence_size(spec: Fence, scale: float) -> Size:
    height = _given(spec.height, 1.2, scale)
    return (spec.length, street.fence_depth(height, spec.style), height)


def _sign(spec: Sign, scale: float, rng: np.random.Generator) -> Model:
    return Model(street.sign(_given(spec.height, 2.8, scale), spec.shape, spec.colour, spec.glow, rng))


def _sign_size(spec: Sign, scale: float) -> Size:
    height = _given(spec.height, 2.8, scale)
    size = height / street.SIGN_HEIGHT
    return (street.SIGN_DEPTH * size, street.SIGN_WIDE[spec.shape] * size, height)


def _cone(spec: Cone, scale: float, rng: np.random.Generator) -> Model:
    return Model(street.cone(_given(spec.height, 0.71, scale), spec.colour, rng))


def _wall(spec: Wall, scale: float, rng: np.random.Generator) -> Model:
    return Model(street.wall(_wall_size(spec, scale), spec.style, spec.colour, spec.snow, scale, rng))


def _wall_size(spec: Wall, scale: float) -> Size:
    return (spec.length, _given(spec.thickness, 0.3, scale), _given(spec.height, 1.0, scale))


def _card(spec: Card, scale: float, rng: np.random.Generator) -> Model:
    return Model(card(spec, scale, rng))


def _card_size(spec: Card, scale: float) -> Size:
    return (spec.width, CARD_THICKNESS, spec.height)


def card(
    spec: Card, scale: float, rng: np.random.Generator, image: NDArray[np.uint8] | None = None
) -> tuple[Mesh, ...]:
    """An upright sheet facing −y; of an image only the cells are kept whose middle is more than half solid.

    Raises
    ------
    ValueError
        If `image` is not (h, w, 3) or (h, w, 4) uint8, or nothing in it is solid.
    """
    longest = max(spec.width, spec.height)
    cells = 1 if image is None else 128
    across, up = (
        int(np.clip(round(max(cells * side / longest, side / (0.7 * LONGEST_EDGE))), 1, 256))
        for side in (spec.width, spec.height)
    )
    u, v = np.meshgrid(np.linspace(0, 1, across + 1), np.linspace(1, 0, up + 1), indexing="ij")
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(across), np.arange(up), indexing="ij"))
    if image is not None:
        solid = _solid_cells(image, (i + 0.5) / across, 1 - (j + 0.5) / up)
        i, j = i[solid], j[solid]
    a, b = i * (up + 1) + j, (i + 1) * (up + 1) + j
    faces = np.concatenate([np.stack([a, b, b + 1], 1), np.stack([a, b + 1, a + 1], 1)])
    used, back = np.unique(faces, return_inverse=True)
    uv = np.column_stack([u.ravel(), v.ravel()])[used]
    points = np.column_stack([(uv[:, 0] - 0.5) * spec.width, np.zeros(len(uv)), (1 - uv[:, 1]) * spec.height])
    normals = np.tile([0.0, -1.0, 0.0], (len(uv), 1))
    colour = np.tile((1.0, 1.0, 1.0) if image is not None else spec.colour, (len(uv), 1))
    faces = back.reshape(-1, 3)
    if image is None:
        return (weathered(Mesh(points, faces, normals, colour, LEAF), rng, 1 / scale, tone=0.04, foot=0.1),)
    return (Mesh(points, faces, normals, colour, LEAF, uv, np.ascontiguousarray(image[..., :3])),)


def _solid_cells(image: NDArray[np.uint8], u: Array, v: Array) -> NDArray[np.bool_]:
    if image.ndim != 3 or image.shape[2] not in (3, 4) or image.dtype != np.uint8:
        raise ValueError(f"a card's image is (h, w, 3) or (h, w, 4) uint8, not {image.shape} {image.dtype}")
    height, width = image.shape[:2]
    row = np.minimum((v * height).astype(int), height - 1)
    column = np.minimum((u * width).astype(int), width - 1)
    solid = np.ones(len(u), dtype=bool) if image.shape[2] == 3 else image[row, column, 3] > 127
    if not solid.any():
        raise ValueError("nothing in the card's image is solid: its alpha is below half everywhere")
    return np.asarray(solid)


#: The builder of every kind of piece.
BUILDERS: dict[type[Standing], Callable[[Any, float, np.random.Generator], Model]] = {
    Container: _container,
    LampPost: _lamp_post,
    Conifer: _conifer,
    Broadleaf: _broadleaf,
    Bush: _bush,
    Stone: _stone,
    Building: _building,
    Fence: _fence,
    Sign: _sign,
    Cone: _cone,
    Wall: _wall,
    Card: _card,
}

#: The size of every kind of piece.
SIZES: dict[type[Standing], Callable[[Any, float], Size]] = {
    Container: _container_size,
    LampPost: _lamp_post_size,
    Conifer: _growing(12.0, foliage.CONIFER_SPREAD),
    Broadleaf: _growing(10.0, foliage.BROADLEAF_SPREAD),
    Bush: _growing(1.5, foliage.BUSH_SPREAD),
    Stone: _stone_size,
    Building: _building_size,
    Fence: _fence_size,
    Sign: _sign_size,
    Cone: _growing(0.71, street.CONE_SPREAD),
    Wall: _wall_size,
    Card: _card_size,
}
