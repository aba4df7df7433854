"""How much a set asks of a machine: about how many triangles its pieces come to, before any is built.

A few lines can ask for a hundred million. Counted is what the stage builds: so many for the kind, and more for a broad
face, which is cut small for its light. The numbers were fitted to pieces of random sizes
(`tests/stage/test_amount.py` holds them to what is built); shapes that nobody builds may come to several times as many,
which the stage then refuses as it builds.
"""

from collections.abc import Mapping
from typing import Any

from previz.errors import FileFault
from previz.layout.modelled import ModelFile, mesh_triangles
from previz.layout.remembered import remembered
from previz.layout.sizes import Size, extent_of, floors_of
from previz.layout.standing import Solid, pieces_of
from previz.scene import MeshPiece, Scatter, Scene

#: Of all that stands on a set, as told here. A machine with 8 GB builds and lights them in a few minutes.
MOST_TRIANGLES = 2_000_000

_CUT = 0.012  # about as long as the stage's triangles are on broad faces [m]
#: Triangles that a maker's own model gets at most on top of its own, where it is cut for its light.
MOST_CUT_OF_A_FILE = 30_000
_BAY, _MOST_BAYS = 3.0, 320  # a window's share of a front at full size [m], and windows on one front

#: Of each kind: triangles of a small one, and how many more for each square of `_CUT` on the faces of its box.
_KINDS: Mapping[str, tuple[float, float]] = {
    "container": (1700, 4.2),
    "lamp_post": (660, 1.3),
    "conifer": (2500, 1.4),
    "broadleaf": (6400, 0.9),
    "bush": (1700, 1.1),
    "hedge": (2500, 2.0),
    "stone": (260, 0.3),
    "building": (3000, 4.7),
    "fence": (270, 1.6),
    "sign": (300, 7.7),
    "cone": (330, 4.4),
    "garland": (1200, 0.0),
    "wall": (700, 1.6),
    "card": (2, 1.5),
    "parked": (18000, 0.0),
    "bounce": (24, 4.1),
    "flag": (24, 4.1),
}
_SMALL_STONE = 0.009  # has a quarter as many [m]
_A_WINDOW, _A_FLOOR = 235, 60  # of a building, more
_A_METRE_OF_FENCE = 31  # at full size, more: its posts
_STONES, _MOST_STONES = 40, 25_000  # of a wall, more: for each square, and of any wall

#: Of one scattered thing: where few lie about, and where so many do that each has its least detail (`_MANY` and more).
_SCATTERED: Mapping[str, tuple[float, float]] = {
    "stones": (260, 260),
    "cones": (332, 332),
    "conifers": (1834, 490),
    "broadleaves": (6200, 2150),
    "bushes": (1180, 580),
    "tufts": (190, 36),
    "logs": (612, 612),
}
_FEW, _MANY = 150 / 0.8, 150 / 0.15


@remembered
def refuse_too_much(scene: Scene) -> None:
    """Refuse a set with far more on it than a machine can hold, before anything is built.

    Raises
    ------
    FileFault
        At the piece with which it becomes too much.
    """
    total = 0.0
    each: dict[int, float] = {}
    for solid in pieces_of(scene):
        if solid.entry not in each:
            each[solid.entry] = _of_a_piece(scene, solid)
        total += each[solid.entry]
        if total > MOST_TRIANGLES:
            raise _too_much(solid.entry, solid.name, total)
    for number, piece in enumerate(scene.dressing):
        if isinstance(piece, Scatter):
            total += piece.count * _of_a_scattered(piece.scatter, piece.count)
            if total > MOST_TRIANGLES:
                raise _too_much(number, piece.id, total)


def _too_much(entry: int, name: str, total: float) -> FileFault:
    return FileFault(
        ("dressing", entry, "id"),
        f"with {name} what stands on the set comes to some {total / 1e6:.2g} million triangles; at most "
        f"{MOST_TRIANGLES / 1e6:.2g} million are built: fewer, smaller or simpler pieces",
    )


def _of_a_piece(scene: Scene, solid: Solid) -> float:
    piece: Any = scene.dressing[solid.entry]
    size = extent_of(solid.bands)
    if isinstance(piece, MeshPiece):
        return mesh_triangles(ModelFile.of(scene, piece)) + min(2 * _faces(size) / _CUT**2, MOST_CUT_OF_A_FILE)
    return triangles_about(piece, scene.scale_of(piece), size)


def triangles_about(piece: Any, scale: float, size: Size) -> float:
    """About how many triangles one copy of a piece is built of; size is that of the box around it. [m]"""
    least, more = _KINDS[piece.piece]
    length, squares = size[0] * scale, _faces(size) / _CUT**2
    count = least + more * squares
    if piece.piece == "stone" and max(size) < _SMALL_STONE:
        count /= 4
    if piece.piece == "container":
        count += least * (piece.stack - 1)
    if piece.piece == "building":
        floors = floors_of(piece, scale)
        count += _A_WINDOW * min(floors * max(length / _BAY, 1.0), _MOST_BAYS) + _A_FLOOR * floors
    if piece.piece == "fence":
        count += _A_METRE_OF_FENCE * length
    if piece.piece == "wall":
        count += min(_STONES * squares, _MOST_STONES)
    return count


def _faces(size: Size) -> float:
    """Of a box. [m2]"""
    length, depth, height = size
    return 2 * (length * depth + length * height + depth * height)


def _of_a_scattered(kind: str, count: int) -> float:
    few, many = _SCATTERED[kind]
    share = min(max((_MANY - count) / (_MANY - _FEW), 0.0), 1.0)
    return many + (few - many) * share
