"""From what a scene says stands on the set to its triangles: `build_piece`. Sizes are those of `layout`.

Every model stands on z = 0 about its own origin, x to its right or front. `BUILDERS` is the list of kinds.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.layout import SOLID, box_colours, floors_of, garland_shape, lamp_in_post, lamp_rgb, piece_size
from previz.mesh import Array, Mesh
from previz.scene import (
    BounceCard,
    Broadleaf,
    Building,
    Bush,
    Card,
    Cone,
    Conifer,
    Container,
    Fence,
    FlagCard,
    Garland,
    Hedge,
    LampPost,
    Parked,
    Sign,
    Standing,
    Stone,
    Wall,
)
from previz.stage.pieces import foliage, street, yard
from previz.stage.pieces.buildings import House, building
from previz.stage.pieces.gear import light_card
from previz.stage.shapes.finish import LEAF, LONGEST_EDGE, Colour, weathered
from previz.stage.vehicles.bodies import build_vehicle

GALVANISED: Colour = (0.36, 0.37, 0.38)


def build_piece(
    spec: Standing, scale: float, rng: np.random.Generator, image: NDArray[np.uint8] | None = None
) -> tuple[Mesh, ...]:
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
    tuple of Mesh
        Standing on z = 0, centred in x and y; a lamp post has its pole on the origin instead.
    """
    if isinstance(spec, Card):
        return card(spec, scale, rng, image)
    return BUILDERS[type(spec)](spec, scale, rng)


# --- one builder for each kind ---


def _container(spec: Container, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return yard.container_stack(piece_size(spec, scale)[0], box_colours(spec), rng)


def _lamp_post(spec: LampPost, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    height, lamp = piece_size(spec, scale)[2], lamp_in_post(spec, scale)
    return street.lamp_post(height, lamp, spec.lit > 0, spec.colour, rng)


def _garland(spec: Garland, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return street.garland(garland_shape(spec, scale), spec.lit > 0, spec.colour, rng)


def _conifer(spec: Conifer, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return foliage.conifer(piece_size(spec, scale)[2], spec.colour, spec.snow, rng)


def _broadleaf(spec: Broadleaf, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return foliage.broadleaf(piece_size(spec, scale)[2], spec.colour, spec.bare, rng, style=spec.style)


def _bush(spec: Bush, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return foliage.bush(piece_size(spec, scale)[2], spec.colour, rng)


def _hedge(spec: Hedge, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return foliage.hedge(piece_size(spec, scale), spec.colour, spec.style, rng)


def _stone(spec: Stone, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return yard.stone(piece_size(spec, scale), spec.colour, spec.snow, rng)


def _building(spec: Building, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    width, depth, height = (part * scale for part in piece_size(spec, scale))
    house = House(
        width, depth, height, floors_of(spec, scale), spec.colour, spec.roof == "gable", spec.shop, spec.lit, spec.glow,
        lamp_rgb(spec.light), spec.snow, spec.walls or "", spec.windows,
    )  # fmt: skip
    return building(house, scale, rng)


def _fence(spec: Fence, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    steel = spec.style == "guard_rail" and "colour" not in spec.model_fields_set
    colour = GALVANISED if steel else spec.colour
    return street.fence(spec.length, piece_size(spec, scale)[2], spec.style, colour, rng)


def _sign(spec: Sign, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return street.sign(piece_size(spec, scale)[2], spec.shape, spec.colour, spec.glow, rng)


def _cone(spec: Cone, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return street.cone(piece_size(spec, scale)[2], spec.colour, rng)


def _wall(spec: Wall, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return street.wall(piece_size(spec, scale), spec.style, spec.colour, spec.snow, scale, rng)


def _card(spec: Card, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return card(spec, scale, rng)


def _parked(spec: Parked, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """As the vehicle that drives, to a hair: that is up to a hundredth lower or higher than the kind's size."""
    length, _, height = piece_size(spec, scale)
    model = build_vehicle(spec.body, length, spec.colour)
    wheels = (
        mesh.moved(np.eye(3), np.array(wheel.centre))
        for wheel in model.wheels
        for mesh in (*wheel.round, *wheel.turning)
    )
    higher = np.array([1.0, 1.0, height / model.height])
    return tuple(replace(mesh, vertices=mesh.vertices * higher) for mesh in (*model.body, *wheels))


def _light_card(spec: BounceCard | FlagCard, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    return light_card(spec)


def card(
    spec: Card, scale: float, rng: np.random.Generator, image: NDArray[np.uint8] | None = None
) -> tuple[Mesh, ...]:
    """An upright sheet facing −y; of an image only the cells are kept whose middle is more than half solid.

    Raises
    ------
    PrevizError
        If no such cell of `image` is solid.
    ValueError
        If `image` is not (h, w, 3) or (h, w, 4) uint8.
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
    solid = np.ones(len(u), dtype=bool) if image.shape[2] == 3 else image[row, column, 3] > SOLID
    if not solid.any():
        raise PrevizError("too little of the image is solid to cut a card out; let what is to be seen fill more of it")
    return np.asarray(solid)


#: The builder of every kind of piece.
BUILDERS: dict[type[Standing], Callable[[Any, float, np.random.Generator], tuple[Mesh, ...]]] = {
    Container: _container,
    LampPost: _lamp_post,
    Garland: _garland,
    Conifer: _conifer,
    Broadleaf: _broadleaf,
    Bush: _bush,
    Hedge: _hedge,
    Stone: _stone,
    Building: _building,
    Fence: _fence,
    Sign: _sign,
    Cone: _cone,
    Wall: _wall,
    Card: _card,
    Parked: _parked,
    BounceCard: _light_card,
    FlagCard: _light_card,
}
