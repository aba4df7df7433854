"""Freight containers and boulders.

A container is drawn at full size in metres and brought to size last, so that its measures read as real ones.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from previz.mesh import Array, Mesh, merged
from previz.physics.smooth import smoothstep
from previz.scene import CONTAINER_SIZE
from previz.stage.shapes import solids
from previz.stage.shapes.finish import (
    DARK,
    LONGEST_BAR,
    LONGEST_EDGE,
    MATT,
    PAINT,
    RUST,
    SNOW,
    STEEL,
    Colour,
    blended,
    fitted,
    mottle,
    sheet,
    subdivided,
    toned,
    weathered,
)

Faces = NDArray[np.int64]
_Part = tuple[Mesh, int, float]  # with its tone and how much rust there is

LONG, WIDE, HIGH = CONTAINER_SIZE
SILL = 0.15  # [m] height of the bottom side rail


def container_stack(length: float, colours: tuple[Colour, ...], rng: np.random.Generator) -> tuple[Mesh, ...]:
    """Freight containers one on another, doors towards +x, the lowest first in `colours`.

    Parameters
    ----------
    length : float
        Of one box; width and height follow as for a 20 ft container. [m]
    """
    size = length / LONG
    parts: list[Mesh] = []
    for level, colour in enumerate(colours):
        tones = np.array([toned(colour, rng, spread) for spread in _TONES])
        box = [_painted(blank, tones, rng) for blank in _blanks(size, level == len(colours) - 1)]
        # A crane sets a box down within a couple of centimetres; the lowest stands true.
        slip, turn = (rng.normal(0, 0.012, 2), rng.normal(0, 0.12)) if level else (np.zeros(2), 0.0)
        parts += [solids.placed(part, (slip[0], slip[1], level * HIGH), turn=float(turn)) for part in box]
    return fitted(
        merged(solids.scaled(part, size) for part in parts), (length, WIDE * size, len(colours) * HIGH * size)
    )


@dataclass(frozen=True)
class _Blank:
    """All of a container of one material, before it is painted.

    Parameters
    ----------
    tone : (n,) int
        Which of the box's `_TONES` each corner is painted in; -1 keeps its own colour.
    rust : (n,) float
        How much of it there is; 0 leaves the corner clean.
    """

    mesh: Mesh
    tone: NDArray[np.int64]
    rust: Array


#: How far each painted part's tone strays: two sides, back, roof, frame, doors, eight castings, lock gear.
_TONES = (0.035, 0.035, 0.035, 0.05, 0.0, 0.035, *8 * (0.05,), 0.08)
_FRAME, _DOORS, _CASTINGS, _GEAR = 4, 5, 6, 14


def _painted(blank: _Blank, tones: Array, rng: np.random.Generator) -> Mesh:
    colours = np.where(blank.tone[:, None] >= 0, tones[blank.tone], blank.mesh.colours)
    aged = _rusty(replace(blank.mesh, colours=colours), rng, blank.rust)
    return replace(aged, colours=np.where(blank.rust[:, None] > 0, aged.colours, colours))


@lru_cache(maxsize=8)
def _blanks(size: float, top: bool) -> tuple[_Blank, ...]:
    """A container by materials; `size` is what one metre full size is on the table. [m]

    Only the `top` one of a stack shows its roof.
    """
    side = _side(size)
    parts = [(side, 0, 1.0), (solids.placed(side, turn=180), 1, 1.0), (_back(size), 2, 1.0)]
    parts += [(_roof(size), 3, 1.0)] if top else []
    # Panels are pressed in fine enough folds already; bars are narrow and may have longer edges.
    parts += [(part, _FRAME, 1.0) for part in _frame(LONGEST_BAR / size)]
    parts += [(subdivided(part, 1.4 * LONGEST_EDGE / size), tone, 1.0) for part, tone in _doors(LONGEST_EDGE / size)]
    parts += [*_castings(), *_lock_gear(), (_underside(), -1, 0.0)]
    found = []
    for material in dict.fromkeys(mesh.material for mesh, _, _ in parts):
        mine = [part for part in parts if part[0].material == material]
        counts = [len(mesh.vertices) for mesh, _, _ in mine]
        tone, rust = (np.repeat([part[k] for part in mine], counts) for k in (1, 2))
        found.append(_Blank(merged(mesh for mesh, _, _ in mine)[0], tone, rust))
    return tuple(found)


def _corrugated(width: float, height: float, waves: int, depth: float, rows: int) -> Mesh:
    """A pressed steel panel in the xz plane facing −y, outer faces at y = 0, standing on z = 0. [m]"""
    pitch = width / waves
    along, into = [], []
    for wave in range(waves):
        start = -width / 2 + wave * pitch
        along += [start + pitch * part for part in (0.13, 0.37, 0.63, 0.87)]
        into += [0.0, 0.0, depth, depth]
    along = [-width / 2, *along, width / 2]
    into = [depth / 2, *into, depth / 2]
    # Closer together at the foot, where the rail below darkens it.
    heights = height * np.linspace(0.0, 1.0, rows + 1) ** 1.25
    profile = np.column_stack([along, into, np.zeros(len(along))])
    points = profile[None] + heights[:, None, None] * [0, 0, 1]
    count = len(along)
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(rows), np.arange(count - 1), indexing="ij"))
    a, b = i * count + j, i * count + j + 1
    faces = np.concatenate([np.stack([a, b, b + count], 1), np.stack([a, b + count, a + count], 1)])
    return replace(solids.shaped(points.reshape(-1, 3), faces, crease=12.0), material=PAINT)


def _rows(height: float, size: float) -> int:
    return int(np.clip(np.ceil(0.7 * height * size / LONGEST_EDGE), 2, 12))


def _side(size: float) -> Mesh:
    height = HIGH - SILL - 0.07
    panel = _corrugated(LONG - 0.30, height, 14, 0.045, _rows(height, size))
    return solids.placed(panel, (0, -WIDE / 2 + 0.022, SILL))


def _back(size: float) -> Mesh:
    height = HIGH - SILL - 0.10
    panel = _corrugated(WIDE - 0.30, height, 6, 0.045, _rows(height, size))
    return solids.placed(panel, (-LONG / 2 + 0.022, 0, SILL), turn=-90)


def _roof(size: float) -> Mesh:
    panel = _corrugated(LONG - 0.2, WIDE - 0.12, 12, 0.02, _rows(WIDE, size))
    return solids.placed(panel, (0, -WIDE / 2 + 0.06, HIGH - 0.035), roll=-90)


def _frame(longest: float) -> list[Mesh]:
    """Corner posts, rails, door header and sill."""
    bars = []
    for x in (-1, 1):
        for y in (-1, 1):
            bars.append(((0.14, 0.13, HIGH - 0.236), (x * (LONG / 2 - 0.078), y * (WIDE / 2 - 0.07), HIGH / 2)))
        bars.append(((0.12, WIDE - 0.32, 0.12), (x * (LONG / 2 - 0.07), 0, HIGH - 0.075)))
        bars.append(((0.12, WIDE - 0.32, 0.16), (x * (LONG / 2 - 0.07), 0, 0.09)))
    for y in (-1, 1):
        bars.append(((LONG - 0.35, 0.065, 0.075), (0, y * (WIDE / 2 - 0.040), HIGH - 0.05)))
        bars.append(((LONG - 0.35, 0.055, 0.155), (0, y * (WIDE / 2 - 0.038), 0.09)))
    return [solids.placed(_steel(solids.slab(size, longest)), at) for size, at in bars]


def _steel(mesh: Mesh) -> Mesh:
    """To be painted with the box."""
    return replace(mesh, material=PAINT)


def _castings() -> list[_Part]:
    """The eight corner blocks, with the dark slots that a twist lock goes into."""
    size = (0.178, 0.162, 0.118)
    blocks, slots = [], []
    for x in (-1, 1):
        for y in (-1, 1):
            for top in (False, True):
                z = HIGH - size[2] / 2 if top else size[2] / 2
                at = (x * (LONG - size[0]) / 2, y * (WIDE - size[1]) / 2, z)
                blocks.append(solids.placed(_steel(solids.box(size)), at))
                slots.append(_slot((at[0], y * (WIDE / 2 + 0.001), z), 0.0 if y < 0 else 180.0, 0.079))
                slots.append(_slot((x * (LONG / 2 + 0.001), at[1], z), 90.0 if x > 0 else -90.0, 0.068))
                if top:
                    hole = _slot((0, 0, 0), 0.0, 0.10)
                    slots.append(solids.placed(hole, (at[0], at[1], HIGH - 0.0005), roll=-90))
    return [*((block, _CASTINGS + k, 2.0) for k, block in enumerate(blocks)), *((slot, -1, 0.0) for slot in slots)]


def _slot(at: tuple[float, float, float], turn: float, wide: float) -> Mesh:
    """A dark oval facing −y, turned about z: six corners, for it is about a millimetre wide."""
    angles = np.radians(np.arange(0, 360, 60))
    ring = np.column_stack([0.60 * wide * np.cos(angles), np.zeros(6), 0.038 * np.sin(angles)])
    faces = np.array([(0, k, k + 1) for k in range(1, 5)])
    return solids.placed(solids.coloured(solids.shaped(ring, faces), DARK, MATT), at, turn=turn)


def _doors(longest: float) -> list[tuple[Mesh, int]]:
    """Two leaves with pressed panels, each in its frame, with dark rubber between them; and each part's tone."""
    x, low, high = LONG / 2 - 0.055, 0.175, HIGH - 0.14
    rubber = solids.coloured(solids.slab((0.02, WIDE - 0.27, high - low + 0.02), longest), (0.02, 0.02, 0.021), MATT)
    parts = [(solids.placed(rubber, (x - 0.010, 0, (low + high) / 2)), -1)]
    leaf = (WIDE - 0.32) / 2
    for side in (-1, 1):
        middle = side * (leaf / 2 + 0.012)
        plate = solids.slab((0.03, leaf - 0.01, high - low - 0.02), longest)
        parts.append((solids.placed(_steel(plate), (x + 0.008, middle, (low + high) / 2)), _DOORS))
        pitch = (high - low) / 4
        for k in range(4):
            panel = _pressed(leaf - 0.16, pitch - 0.11, 0.022)
            parts.append((solids.placed(panel, (x + 0.0231, middle, low + pitch * (k + 0.5))), _DOORS))
    return parts


def _pressed(wide: float, high: float, depth: float) -> Mesh:
    """A panel that stands out towards +x with sloping edges."""
    outer = np.array([(-wide, -high), (wide, -high), (wide, high), (-wide, high)]) / 2
    inner = outer - np.sign(outer) * 1.4 * depth
    back = np.column_stack([np.zeros(4), outer])
    front = np.column_stack([np.full(4, depth), inner])
    edges = [[back[k], back[(k + 1) % 4], front[(k + 1) % 4], front[k]] for k in range(4)]
    return sheet(np.array([front, *edges]), STEEL, PAINT)


def _lock_gear() -> list[_Part]:
    """Four locking bars with keepers, brackets and handles, hinges, and a blank plate."""
    x, low, high = LONG / 2 - 0.004, 0.07, HIGH - 0.06
    zinc, worn = [], []
    for y in (-0.82, -0.34, 0.34, 0.82):
        bar = solids.revolve([(0.021, low), (0.021, 1.3), (0.021, high)], 5)
        zinc.append(solids.placed(bar, (x - 0.012, y, 0)))
        for z in (low + 0.03, 0.75, high - 0.03):
            worn.append(solids.placed(_steel(solids.box((0.05, 0.085, 0.05))), (x - 0.022, y, z)))
        way = 1 if y in (-0.82, 0.34) else -1
        handle = solids.box((0.016, 0.36, 0.030))
        zinc.append(solids.placed(handle, (x + 0.002 - 0.008, y + way * 0.17, 1.02 + 0.05 * abs(y))))
    for y in (-1, 1):
        for z in (0.40, 0.95, 1.65, 2.20):
            worn.append(solids.placed(_steel(solids.box((0.035, 0.10, 0.09))), (x - 0.018, y * (WIDE / 2 - 0.13), z)))
    plate = sheet(
        np.array([[[0, -0.11, -0.08], [0, 0.11, -0.08], [0, 0.11, 0.08], [0, -0.11, 0.08]]]), (0.42, 0.42, 0.40)
    )
    bright = [*(solids.coloured(part, STEEL, PAINT) for part in zinc), solids.placed(plate, (x - 0.018, -0.58, 0.60))]
    return [*((part, _GEAR, 0.8) for part in worn), *((part, -1, 0.8) for part in bright)]


def _underside() -> Mesh:
    x, y = LONG / 2 - 0.1, WIDE / 2 - 0.05
    return sheet(np.array([[(-x, -y, 0.05), (-x, y, 0.05), (x, y, 0.05), (x, -y, 0.05)]]), (0.05, 0.04, 0.03))


def _rusty(mesh: Mesh, rng: np.random.Generator, amount: Array) -> Mesh:
    """Faded above, dirty below, rust in patches and running down from the top rail and the sill."""
    mesh = weathered(mesh, rng, 1.0, tone=0.06, foot=0.22, rise=0.45, grain=1.2)
    points, normals = mesh.vertices, mesh.normals
    across = points[:, :2] @ np.array([1.0, 0.9])
    columns = mottle(np.column_stack([across * 5.0, 0.35 * points[:, 2]]), 1.0, rng)
    below_top = np.exp(-(HIGH - points[:, 2]) / 0.55)
    near_sill = np.exp(-np.abs(points[:, 2] - 0.16) / 0.20)
    patches = smoothstep(mottle(points, 0.5, rng), 0.9, 1.7)
    share = amount * (0.55 * smoothstep(columns, 0.35, 1.5) * np.maximum(below_top, 0.8 * near_sill) + 0.5 * patches)
    faded = 0.12 * np.clip(normals[:, 2], 0, 1) + 0.05
    colours = blended(blended(mesh.colours, (0.45, 0.43, 0.40), faded), RUST, 0.75 * share)
    return replace(mesh, colours=colours)


# --- stones ---

_SMALL_STONE = 0.009  # longest side of one that is cut from fewer faces: each is then about 2 mm long [m]


def stone(size: tuple[float, float, float], colour: Colour, snow: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """A boulder: a ball cut by random planes, so that it has faces and edges, roughened and set into the ground.

    Parameters
    ----------
    size : (x, y, z) float
        [m]
    snow : float
        Share of the upper side under snow.
    """
    ways, faces = _ball(1 if max(size) < _SMALL_STONE else 2)
    planes = rng.normal(size=(15, 3))
    planes /= np.linalg.norm(planes, axis=1, keepdims=True)
    depths = rng.uniform(0.66, 0.95, 15)
    facing = ways @ planes.T
    cut = np.where(facing > 0.05, depths / np.maximum(facing, 0.05), 9.0)
    # A soft minimum rounds the edges a little, as weather does.
    radius = -np.log(np.exp(-22 * cut).sum(1) + np.exp(-22 * 1.0)) / 22
    radius *= 1 + 0.045 * mottle(ways, 0.45, rng) + 0.016 * rng.normal(size=len(ways))
    points = ways * radius[:, None]
    points[:, 2] = np.maximum(points[:, 2], -0.42) + 0.42
    points, lying = _under_snow(points, faces, snow, rng)
    buried = (points[faces][:, :, 2] < 1e-6).all(axis=1)
    mesh = solids.coloured(solids.shaped(points, faces[~buried], crease=24.0 + 40.0 * snow), colour, MATT)
    mesh = weathered(mesh, rng, 1.0, tone=0.16, foot=0.45, rise=0.22, moss=0.25 * (1 - snow), grain=0.7)
    pale = smoothstep(mottle(mesh.vertices, 0.35, rng), 0.8, 1.5)  # lichen
    mesh = replace(mesh, colours=blended(mesh.colours, (0.34, 0.34, 0.28), 0.45 * pale))
    nearest = np.argmin(((mesh.vertices[:, None] - points) ** 2).sum(2), axis=1)
    return fitted([replace(mesh, colours=blended(mesh.colours, SNOW, lying[nearest]))], size)


def _under_snow(points: Array, faces: Faces, snow: float, rng: np.random.Generator) -> tuple[Array, Array]:
    """Points lifted into a soft cap where snow lies, and how much of it lies on each, 0..1."""
    if snow <= 0:
        return points, np.zeros(len(points))
    corners = points[faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    summed = np.zeros_like(points)
    np.add.at(summed, faces.ravel(), across.repeat(3, axis=0))
    up = summed[:, 2] / np.maximum(np.linalg.norm(summed, axis=1), 1e-12)
    rounded = 0.6 * up + 0.4 * points[:, 2] / points[:, 2].max() + 0.10 * mottle(points, 0.6, rng)
    lying = smoothstep(rounded, 1.0 - 0.9 * snow - 0.08, 1.0 - 0.9 * snow + 0.12)
    return points + np.outer(0.16 * snow * lying, [0, 0, 1]), lying


_GOLDEN = 1.6180339887498951
_ICOSAHEDRON = [
    *((x, y * _GOLDEN, 0.0) for y in (1.0, -1.0) for x in (-1.0, 1.0)),
    *((0.0, y, z * _GOLDEN) for z in (1.0, -1.0) for y in (-1.0, 1.0)),
    *((x * _GOLDEN, 0.0, z) for x in (1.0, -1.0) for z in (-1.0, 1.0)),
]
_TRIANGLES = [
    (0, 11, 5), (0, 5, 1), (0, 1, 7), (0, 7, 10), (0, 10, 11), (1, 5, 9), (5, 11, 4), (11, 10, 2), (10, 7, 6),
    (7, 1, 8), (3, 9, 4), (3, 4, 2), (3, 2, 6), (3, 6, 8), (3, 8, 9), (4, 9, 5), (2, 4, 11), (6, 2, 10), (8, 6, 7),
    (9, 8, 1),
]  # fmt: skip


@lru_cache(maxsize=2)
def _ball(rounds: int) -> tuple[Array, Faces]:
    """Unit directions (n, 3) and faces of an icosahedron with every face cut in four `rounds` times.

    New points are numbered in rising order: a stone is roughened point by point. The same as trimesh makes, which takes
    ten times as long to load as a stone to build.
    """
    points, faces = np.array(_ICOSAHEDRON), np.array(_TRIANGLES)  # with edges 2 long
    for _ in range(rounds):
        edges = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]], axis=2).reshape(-1, 2)
        fresh, number = np.unique(np.round(points[edges].mean(axis=1), 6), axis=0, return_inverse=True)
        (a, b, c), (ab, bc, ca) = faces.T, len(points) + number.reshape(-1, 3).T
        faces = np.stack([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], axis=1).reshape(-1, 3)
        points = np.concatenate([points, fresh])
    return points / np.linalg.norm(points, axis=1, keepdims=True), faces
