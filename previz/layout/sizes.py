"""How big each piece is, and what of it takes up which height.

The one table of sizes: `check` judges by it, the stage builds to it. What a scene leaves out comes
from `scene/real_sizes.py`, brought to scale. A thing's shape is told as *bands*: a convex outline between two heights.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.scene import (
    BUILDING_DEPTH,
    BUILDING_WIDTH,
    CONTAINER_SIZE,
    FENCE_HEIGHTS,
    FLOOR_HEIGHT,
    HEDGE_THICKNESS,
    LAMP_ARM,
    MOST_FLOORS,
    PIECE_HEIGHTS,
    USUAL_FLOORS,
    VEHICLE_SIZES,
    WALL_THICKNESS,
    BounceCard,
    Broadleaf,
    Building,
    Card,
    Container,
    Fence,
    FlagCard,
    Hedge,
    LampPost,
    Parked,
    Sign,
    Standing,
    Stone,
    Wall,
)

Array = NDArray[np.float64]
Size = tuple[float, float, float]

# Proportions of the models. All typical or common practice, no source.
CONIFER_SPREAD, BUSH_SPREAD, CONE_SPREAD = 0.46, 1.25, 0.53  # width over height
BROADLEAF_SPREADS = {"foam": 0.82, "fibre": 0.72, "brush": 0.34}  # the same, by how the tree is made
STONE_SHAPE = (1.0, 0.82, 0.66)  # length, depth, height over its size
ROOF_PITCH = 0.62  # of a gable: rise over half the span
CARD_THICKNESS = 0.001  # [m] on the table: what a cut-out takes up on a plan; its model has none
SOLID = 127  # alpha of a card's image, of 255, above which it is there
BOARD = 0.005  # [m] on the table: foam board, of bounce cards and flags
FENCE_DEPTHS = {"rails": 0.19 / 1.2, "pickets": 0.15 / 1.2, "guard_rail": 0.33 / 0.8}  # over the height

#: Of a lamp post PIECE_HEIGHTS high [m]: half its base plate, its lamp back to where the head joins the arm, its lamp
#: to the head's far end, its lamp below the top, and the radius of its bowl.
LAMP_FOOT, LAMP_BACK, LAMP_HEAD, LAMP_DROP, LAMP_RADIUS = 0.17, 0.52, 0.24, 0.260, 0.105

#: Of a sign PIECE_HEIGHTS high [m]: the plate's width and height by its shape, and how deep post and plate are.
SIGN_WIDE = {"disc": 0.62, "triangle": 0.80, "square": 0.62, "board": 1.50}
SIGN_HIGH = {"disc": 0.62, "triangle": 0.70, "square": 0.62, "board": 0.95}
SIGN_DEPTH = 0.13

#: What grows. Leaves give way, so only the inner third is solid; of a broadleaf tree its trunk, this wide over its
#: height. Common practice, no source.
PLANTS = ("conifer", "broadleaf", "bush")
_INNER, _TRUNK = 1 / 3, 0.1


#: A card that leans is told in slices so deep [m], so many at most.
_SLICE, _MOST_SLICES = 0.02, 24


@dataclass(frozen=True)
class Band:
    """What a thing takes up between two heights.

    Parameters
    ----------
    low, high : float
        Over its foot. [m]
    outline : (k, 2) float
        Convex, counter-clockwise, in its own frame. [m]
    """

    low: float
    high: float
    outline: Array


def rectangle(x0: float, x1: float, y0: float, y1: float) -> Array:
    """Corners (4, 2), counter-clockwise. [m]"""
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def ellipse(length: float, depth: float) -> Array:
    """A 16-sided outline as long and as deep as that, its corners on the curve. [m]"""
    turn = np.arange(16) * np.pi / 8
    return np.column_stack([length / 2 * np.cos(turn), depth / 2 * np.sin(turn)])


def _block(length: float, depth: float, low: float, high: float) -> Band:
    return Band(low, high, rectangle(-length / 2, length / 2, -depth / 2, depth / 2))


def _given(value: float | None, full_size: float, scale: float) -> float:
    return full_size / scale if value is None else float(value)


def _height(spec: Any, scale: float) -> float:
    return _given(spec.height, PIECE_HEIGHTS[spec.piece], scale)


# --- pieces ---


def piece_bands(spec: Standing, scale: float) -> tuple[Band, ...]:
    """What one copy of a piece takes up, in its own frame; a mesh file's is read from the file instead. [m]"""
    return BANDS[spec.piece](spec, scale)  # type: ignore[attr-defined]


def piece_size(spec: Standing, scale: float) -> Size:
    """Extent along its x, its y, and up, of one copy of a piece on the table. [m]

    >>> from previz.scene import Cone
    >>> piece_size(Cone(id="c", at=["1 m", "1 m"], piece="cone", height="10 mm"), 50)[2]
    0.01
    """
    return extent_of(piece_bands(spec, scale))


def extent_of(bands: Sequence[Band]) -> Size:
    """Of bands, along x, y and up. [m]"""
    points = np.concatenate([band.outline for band in bands])
    wide, deep = np.ptp(points, axis=0).tolist()
    return wide, deep, max(band.high for band in bands) - min(band.low for band in bands)


def solid_bands(kind: str, bands: Sequence[Band]) -> tuple[Band, ...]:
    """What of a thing nothing else can stand in: all of it, but of a plant its inner third or its trunk."""
    if kind not in PLANTS:
        return tuple(bands)
    width, _, height = extent_of(bands)
    side = _TRUNK * height if kind == "broadleaf" else _INNER * width
    return (_block(side, side, 0.0, height),)


def _container(spec: Container, scale: float) -> tuple[Band, ...]:
    length = _given(spec.length, CONTAINER_SIZE[0], scale)
    wide, high = (length * part / CONTAINER_SIZE[0] for part in CONTAINER_SIZE[1:])
    return (_block(length, wide, 0.0, high * spec.stack),)


def _lamp_post(spec: LampPost, scale: float) -> tuple[Band, ...]:
    size, (arm, _, lamp) = post_scale(spec, scale), lamp_in_post(spec, scale)
    height = _height(spec, scale)
    foot = LAMP_FOOT * size
    head = rectangle(min(arm - LAMP_BACK * size, 0.0), arm + LAMP_HEAD * size, -0.16 * size, 0.16 * size)
    below = lamp - LAMP_RADIUS * size
    return (
        _block(2 * foot, 2 * foot, 0.0, 0.9 * size),
        _block(0.18 * size, 0.18 * size, 0.9 * size, below),
        Band(below, height, head),
    )


def post_scale(spec: LampPost, scale: float) -> float:
    """A post's height over that of one PIECE_HEIGHTS high: what its foot and head are multiplied by. [-]"""
    return _height(spec, scale) / PIECE_HEIGHTS["lamp_post"]


def lamp_in_post(spec: LampPost, scale: float) -> Size:
    """Where the lamp of a post hangs, in the post's frame: its foot is the origin, its arm runs along x. [m]"""
    drop = LAMP_DROP * post_scale(spec, scale)
    return _given(spec.arm, LAMP_ARM, scale), 0.0, _height(spec, scale) - drop


def _conifer(spec: Any, scale: float) -> tuple[Band, ...]:
    height = _height(spec, scale)
    crown = [
        Band(low * height, high * height, ellipse(*(2 * [share * CONIFER_SPREAD * height])))
        for low, high, share in ((0.08, 0.30, 1.0), (0.30, 0.52, 0.72), (0.52, 0.76, 0.44), (0.76, 1.0, 0.18))
    ]
    return (_block(0.05 * height, 0.05 * height, 0.0, 0.08 * height), *crown)


#: Of a broadleaf tree by its style: from where to where its crown reaches over its height, how wide over its spread.
_CROWNS = {
    "foam": ((0.33, 0.45, 0.75), (0.45, 0.82, 1.0), (0.82, 1.0, 0.65)),
    "fibre": ((0.33, 0.45, 0.75), (0.45, 0.82, 1.0), (0.82, 1.0, 0.65)),
    "brush": ((0.1, 0.2, 0.65), (0.2, 0.5, 1.0), (0.5, 0.75, 0.8), (0.75, 1.0, 0.45)),
}


def _broadleaf(spec: Broadleaf, scale: float) -> tuple[Band, ...]:
    height = _height(spec, scale)
    wide = BROADLEAF_SPREADS[spec.style] * height
    crown = [
        Band(low * height, high * height, ellipse(share * wide, share * wide))
        for low, high, share in _CROWNS[spec.style]
    ]
    return (_block(_TRUNK * height, _TRUNK * height, 0.0, crown[0].low), *crown)


def _bush(spec: Any, scale: float) -> tuple[Band, ...]:
    height = _height(spec, scale)
    return (Band(0.0, height, ellipse(BUSH_SPREAD * height, BUSH_SPREAD * height)),)


def hedge_size(spec: Hedge, scale: float) -> Size:
    """Length, thickness and height. [m]"""
    return float(spec.length), _given(spec.thickness, HEDGE_THICKNESS, scale), _height(spec, scale)


def _hedge(spec: Hedge, scale: float) -> tuple[Band, ...]:
    length, thick, height = hedge_size(spec, scale)
    return (_block(length, thick, 0.0, height),)


def _stone(spec: Stone, scale: float) -> tuple[Band, ...]:
    long, deep, high = (_given(spec.size, PIECE_HEIGHTS["stone"], scale) * part for part in STONE_SHAPE)
    return (Band(0.0, high, ellipse(long, deep)),)


def floors_of(spec: Building, scale: float) -> int:
    """As written; else as many as are usual in the height that is given, under a gable where it has one."""
    if spec.floors is not None:
        return int(spec.floors)
    if spec.height is None:
        return USUAL_FLOORS
    *_, rise = _building_plan(spec, scale)
    return min(max(round((float(spec.height) - rise) * scale / FLOOR_HEIGHT), 1), MOST_FLOORS)


def _building_plan(spec: Building, scale: float) -> tuple[float, float, float]:
    """Width, depth, and how far a gable rises. [m]"""
    width, depth = _given(spec.width, BUILDING_WIDTH, scale), _given(spec.depth, BUILDING_DEPTH, scale)
    return width, depth, ROOF_PITCH * min(width, depth) / 2 if spec.roof == "gable" else 0.0


def _building(spec: Building, scale: float) -> tuple[Band, ...]:
    """A height given is over all; left out, a gable comes on top of the floors."""
    width, depth, rise = _building_plan(spec, scale)
    floors = FLOOR_HEIGHT * floors_of(spec, scale) / scale
    height = floors + rise if spec.height is None else float(spec.height)
    if not rise:
        return (_block(width, depth, 0.0, height),)
    eaves = height - min(rise, 0.45 * height)
    along_x = width >= depth
    roof = [
        _block(*((width, share * depth) if along_x else (share * width, depth)), low, high)
        for low, high, share in (
            (eaves, eaves + (height - eaves) / 2, 0.75),
            (eaves + (height - eaves) / 2, height, 0.25),
        )
    ]
    return (_block(width, depth, 0.0, eaves), *roof)


def fence_height(spec: Fence, scale: float) -> float:
    """[m]"""
    return _given(spec.height, FENCE_HEIGHTS[spec.style], scale)


def _fence(spec: Fence, scale: float) -> tuple[Band, ...]:
    height = fence_height(spec, scale)
    return (_block(spec.length, FENCE_DEPTHS[spec.style] * height, 0.0, height),)


def _sign(spec: Sign, scale: float) -> tuple[Band, ...]:
    height = _height(spec, scale)
    size = height / PIECE_HEIGHTS["sign"]
    deep, wide, plate = (part * size for part in (SIGN_DEPTH, SIGN_WIDE[spec.shape], SIGN_HIGH[spec.shape]))
    legs = wide if spec.shape == "board" else deep  # a board stands on two
    return (_block(deep, legs, 0.0, height - plate), _block(deep, wide, height - plate, height))


def _cone(spec: Any, scale: float) -> tuple[Band, ...]:
    height = _height(spec, scale)
    foot = CONE_SPREAD * height
    return (
        _block(foot, foot, 0.0, 0.06 * height),
        Band(0.06 * height, 0.5 * height, ellipse(0.7 * foot, 0.7 * foot)),
        Band(0.5 * height, height, ellipse(0.4 * foot, 0.4 * foot)),
    )


def wall_size(spec: Wall, scale: float) -> Size:
    """Length, thickness and height. [m]"""
    return float(spec.length), _given(spec.thickness, WALL_THICKNESS, scale), _height(spec, scale)


def _wall(spec: Wall, scale: float) -> tuple[Band, ...]:
    length, thick, height = wall_size(spec, scale)
    return (_block(length, thick, 0.0, height),)


def body_size(body: str, length: float | None, scale: float) -> Size:
    """Length, width without mirrors, and height of a vehicle of ours on the table. [m]"""
    long, wide, high = VEHICLE_SIZES[body]
    model = _given(length, long, scale)
    return model, model * wide / long, model * high / long


def _parked(spec: Parked, scale: float) -> tuple[Band, ...]:
    length, width, height = body_size(spec.body, spec.length, scale)
    return (_block(length, width, 0.0, height),)


def _card(spec: Card, scale: float) -> tuple[Band, ...]:
    return (_block(spec.width, CARD_THICKNESS, 0.0, spec.height),)


def card_frame(spec: BounceCard | FlagCard) -> Array:
    """Of a bounce card or flag in its own frame: right along its face, up along its face, out of it; rows, unit. (3, 3)

    >>> from previz.scene import FlagCard
    >>> flat = FlagCard(id="f", piece="flag", at=["1 m", "1 m"], width="300 mm", height="200 mm", tilt="90 deg")
    >>> (card_frame(flat)[2].round(6) + 0.0).tolist()
    [0.0, 0.0, 1.0]
    """
    c, s = float(np.cos(spec.tilt)), float(np.sin(spec.tilt))
    return np.array([[1.0, 0.0, 0.0], [0.0, s, c], [0.0, -c, s]])


def card_foot(spec: BounceCard | FlagCard) -> Array:
    """The middle of the lower edge of its face: so high that no edge of the board lies lower. (3,) [m]"""
    return np.array([0.0, 0.0, BOARD * max(float(np.sin(spec.tilt)), 0.0)])


def _light_card(spec: BounceCard | FlagCard, scale: float) -> tuple[Band, ...]:
    """In slices from edge to edge, for it may lean."""
    _, up, out = card_frame(spec)
    slices = min(max(int(np.ceil(abs(spec.height * up[1]) / _SLICE)), 1), _MOST_SLICES)
    ends = card_foot(spec) + np.linspace(0, spec.height, slices + 1)[:, None] * up
    around = np.stack([ends[:-1], ends[1:], ends[:-1] - BOARD * out, ends[1:] - BOARD * out])
    low, high = around.min(axis=0), around.max(axis=0)
    return tuple(
        Band(float(a[2]), float(b[2]), rectangle(-spec.width / 2, spec.width / 2, float(a[1]), float(b[1])))
        for a, b in zip(low, high, strict=True)
    )


#: The bands of every kind of piece, by the word after `piece:`.
BANDS: dict[str, Callable[[Any, float], tuple[Band, ...]]] = {
    "container": _container,
    "lamp_post": _lamp_post,
    "conifer": _conifer,
    "broadleaf": _broadleaf,
    "bush": _bush,
    "hedge": _hedge,
    "stone": _stone,
    "building": _building,
    "fence": _fence,
    "sign": _sign,
    "cone": _cone,
    "wall": _wall,
    "card": _card,
    "parked": _parked,
    "bounce": _light_card,
    "flag": _light_card,
}
