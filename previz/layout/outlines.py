"""What stands on the set as upright boxes: enough to see what hides the vehicle, without building a mesh.

Sizes left out in the scene are the full-size defaults that `scene/pieces.py` states, brought to scale.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout.motion import road_curve
from previz.scene import CONTAINER_SIZE, OVER_ALL, VEHICLE_SIZES, MeshPiece, Scatter, Scene

Array = NDArray[np.float64]

#: Full-size height [m] of a piece whose height is not given, as `scene/pieces.py` states it.
_HEIGHTS = {
    "lamp_post": 8.0,
    "conifer": 12.0,
    "broadleaf": 10.0,
    "bush": 1.5,
    "stone": 1.0,
    "fence": 1.2,
    "guard_rail": 0.8,
    "sign": 2.8,
    "cone": 0.71,
    "wall": 1.0,
}

#: Width over height of what grows or stands round; of a lamp post its foot. Typical, from memory.
_GIRTH = {"conifer": 0.4, "broadleaf": 0.7, "bush": 1.2, "cone": 0.53, "lamp_post": 0.042}

#: Thickness and width of a sign, the width of a board, and the three sides of a stone, over what is given as its size.
#: Typical, from memory.
_SIGN, _BOARD, _STONE = (0.05, 0.22), 0.54, (1.0, 0.82, 0.66)

#: What grows: leaves give way, so only the inner third counts as solid; of a broadleaf tree its trunk, this wide over
#: its height. Common practice, no source.
PLANTS = ("conifer", "broadleaf", "bush")
_INNER, _TRUNK = 1 / 3, 0.1

#: Floor to floor, width and depth of a building not given, full size [m], as `scene/pieces.py` states them.
_FLOOR, _FRONT, _DEEP = 3.2, 9.0, 5.0

#: Pieces one sees through or past: they hide nothing worth a finding.
SEE_THROUGH = ("fence", "lamp_post", "sign", "cone")


@dataclass(frozen=True)
class Box:
    """An upright box on the table.

    Parameters
    ----------
    id, kind : str
        Of the piece; "vehicle" for the vehicle.
    at : (3,) float
        Middle of its footprint. [m]
    size : (3,) float
        Along its own x, its own y, and up. [m]
    turn : float
        Counter-clockwise seen from above. [rad]
    """

    id: str
    kind: str
    at: tuple[float, float, float]
    size: tuple[float, float, float]
    turn: float = 0.0

    @property
    def footprint(self) -> Array:
        """Corners (4, 2), counter-clockwise. [m]"""
        half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(self.size[:2]) / 2
        c, s = math.cos(self.turn), math.sin(self.turn)
        return half @ np.array([[c, s], [-s, c]]) + np.array(self.at[:2])


#: Radius of a vehicle's corners seen from above, over its width: 0.3 to 0.4 m on most. Typical, from memory.
CORNER = 1 / 6


def vehicle_silhouette(scene: Scene) -> Array:
    """Points (m, 3) in the vehicle's frame whose picture has the vehicle's extent. [m]

    Its length, width and height with the upright corners rounded: one shape for every kind, for nothing else is known
    of a model. A bonnet narrower than the cab, or a tractor's, makes the real one up to a twentieth shorter in the
    picture of a camera two lengths off.
    """
    length, width, height = vehicle_size(scene)
    radius = CORNER * width
    turns = np.linspace(0.0, math.pi / 2, 7)
    x = length / 2 - radius * (1 - np.cos(turns))
    y = width / 2 - radius * (1 - np.sin(turns))
    plan = np.concatenate([np.column_stack([along * x, side * y]) for along in (-1, 1) for side in (-1, 1)])
    return np.concatenate([np.column_stack([plan, np.full(len(plan), z)]) for z in (0.0, height)])


def vehicle_size(scene: Scene) -> tuple[float, float, float]:
    """Length, width and height of the model on the table [m]; a mesh file's last two are taken as a third of it."""
    length = scene.vehicle_length
    if scene.vehicle.body is None:
        return length, length / 3, length / 3
    long, wide, high = VEHICLE_SIZES[scene.vehicle.body]
    return length, length * wide / long, length * high / long


def width_at(scene: Scene, height: float) -> float:
    """How wide the vehicle's way is for something that high on the table: over its mirrors, or under them. [m]"""
    body, (length, width, _) = scene.vehicle.body, vehicle_size(scene)
    if body is None:
        return width
    model = length / VEHICLE_SIZES[body][0]
    over_all, from_height = OVER_ALL[body]
    return over_all * model if height > from_height * model else width


def piece_size(piece: Any, scale: float) -> tuple[float, float, float] | None:
    """Size of one copy of a piece on the table, along its x, its y, up [m]; None where nobody knows (a mesh file)."""
    if isinstance(piece, MeshPiece | Scatter):
        return None
    kind = piece.piece
    if kind == "container":
        length = piece.length or CONTAINER_SIZE[0] / scale
        _, wide, high = (side * length / CONTAINER_SIZE[0] for side in CONTAINER_SIZE)
        return length, wide, high * piece.stack
    if kind == "building":
        height = piece.height or _FLOOR * piece.floors / scale
        return piece.width or _FRONT / scale, piece.depth or _DEEP / scale, height
    if kind == "card":
        return piece.width, 0.002, piece.height
    if kind == "stone":
        size = piece.size or _HEIGHTS["stone"] / scale
        return _STONE[0] * size, _STONE[1] * size, _STONE[2] * size
    height = piece.height or _HEIGHTS["guard_rail" if getattr(piece, "style", "") == "guard_rail" else kind] / scale
    if kind in ("fence", "wall"):
        thickness = getattr(piece, "thickness", None) or 0.3 / scale
        return piece.length, thickness, height
    if kind == "sign":
        return _SIGN[0] * height, (_BOARD if piece.shape == "board" else _SIGN[1]) * height, height
    return _GIRTH[kind] * height, _GIRTH[kind] * height, height


def standing_places(piece: Any, scene: Scene) -> Iterator[tuple[tuple[float, float, float], float]]:
    """Where a piece and its copies stand: footprint middle [m] and turn [rad].

    A row along the road stands as far as there is table under it.
    """
    if piece.along is None:
        step = np.array(piece.step or (0.0, 0.0, 0.0))
        for copy in range(piece.copies):
            x, y, z = np.array(piece.at) + copy * step
            yield (float(x), float(y), float(z)), float(piece.turn)
        return
    curve, table = road_curve(scene), scene.set.table
    distance = piece.first
    while distance <= curve.length + 1e-9:
        turn = float(curve.heading(distance))
        x, y = curve.at(distance) + piece.offset * np.array([-math.sin(turn), math.cos(turn)])
        if 0 <= x <= table.width and 0 <= y <= table.depth:
            yield (float(x), float(y), 0.0), turn + float(piece.turn)
        distance += piece.every


def boxes(scene: Scene) -> tuple[Box, ...]:
    """Every piece of known size, copies and all. Scattered things and mesh files are left out."""
    found = []
    for piece in scene.dressing:
        size = piece_size(piece, scene.scale)
        if size is not None:
            found += [Box(piece.id, piece.piece, at, size, turn) for at, turn in standing_places(piece, scene)]
    return tuple(found)


def solid_part(box: Box) -> Box:
    """What of a piece nothing else can stand in: all of it, but of a plant its inner third or its trunk."""
    if box.kind not in PLANTS:
        return box
    side = _TRUNK * box.size[2] if box.kind == "broadleaf" else _INNER * box.size[0]
    return replace(box, size=(side, side, box.size[2]))


def first_hits(origins: Array, directions: Array, solids: tuple[Box, ...]) -> Array:
    """Which boxes each ray meets before its end: (n, k) bool for n rays and k boxes.

    Parameters
    ----------
    origins, directions : (n, 3) float
        A ray runs from origin to origin + direction. [m]
    solids : k boxes

    Slab test in the frame of each box (Kay and Kajiya, SIGGRAPH 1986). A ray that begins inside a box meets it.

    Examples
    --------
    >>> box = Box("a", "wall", (0.5, 0.0, 0.0), (0.1, 0.4, 0.2))
    >>> start = np.array([[0.0, 0.0, 0.1]] * 2)
    >>> first_hits(start, np.array([[1.0, 0, 0], [0, 1.0, 0]]), (box,)).ravel().tolist()
    [True, False]
    """
    hits = np.zeros((len(origins), len(solids)), dtype=bool)
    for k, box in enumerate(solids):
        c, s = math.cos(box.turn), math.sin(box.turn)
        box_from_world = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
        start = (origins - np.array(box.at)) @ box_from_world.T
        along = directions @ box_from_world.T
        low = np.array([-box.size[0] / 2, -box.size[1] / 2, 0.0])
        high = np.array([box.size[0] / 2, box.size[1] / 2, box.size[2]])
        along = np.where(np.abs(along) < 1e-15, 1e-15, along)
        one, other = (low - start) / along, (high - start) / along
        enters = np.minimum(one, other).max(axis=1)
        leaves = np.maximum(one, other).min(axis=1)
        hits[:, k] = (enters <= leaves) & (leaves >= 0) & (enters <= 1)
    return hits
