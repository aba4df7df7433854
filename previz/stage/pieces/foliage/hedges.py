"""Hedges: a worn strip of open-cell sponge, one cut square and strewn with leaf, or one grown out."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from previz.mesh import Array, Mesh, joined
from previz.stage.pieces.foliage.foam import cells_picture, crumbs_picture, frayed
from previz.stage.pieces.foliage.growth import unit
from previz.stage.shapes.finish import MATT, Colour, fitted, mottle

_MOST_RINGS = 260  # of a strip, however long
_MOST_ACROSS = 40  # the same of its top, however thick
_MOST_CRUMBS = 3600


@dataclass(frozen=True)
class _Style:
    """How a strip is made; lengths over the least of its length, thickness and height.

    worn: radius of its corners; rough: how far its faces wander, and over what length; side: what its picture shows;
    crumb: length of a loose one; loose: how much of the faces these would cover; sag: share of its height that its top
    comes down by.
    """

    worn: float
    rough: float
    over: float
    side: float
    crumb: float
    loose: float
    sag: float
    picture: Callable[[], NDArray[np.uint8]]


_STYLES = {
    "sponge": _Style(0.24, 0.075, 1.1, 1.5, 0.060, 0.16, 0.0, cells_picture),
    "clipped": _Style(0.08, 0.022, 1.1, 1.05, 0.085, 0.60, 0.0, crumbs_picture),
    "wild": _Style(0.36, 0.15, 0.75, 1.05, 0.090, 1.10, 0.26, crumbs_picture),
}


def hedge(size: tuple[float, float, float], colour: Colour, style: str, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """A hedge of a length, a thickness and a height [m], along x.

    `style`: sponge, a strip of open-cell sponge with worn corners; clipped, cut square and strewn with leaf; wild,
    grown out, uneven.
    """
    length, thick, high = size
    look, unit_size = _STYLES[style], min(size)
    points = _strip(size, look, rng)
    skin = _sheet(points, colour, look, look.side * unit_size, rng)
    ends = [_end(points[end], skin, way, look.side * unit_size, rng) for end, way in ((0, -1.0), (-1, 1.0))]
    crumb = look.crumb * unit_size
    loose = int(np.clip(look.loose * length * (2 * high + thick) / crumb**2, 150, _MOST_CRUMBS))
    (block,) = fitted([joined([skin, *ends])], (length - 0.7 * crumb, thick - 0.7 * crumb, high - 0.35 * crumb))
    box = np.array([[-length / 2, -thick / 2, 0.0], [length / 2, thick / 2, high]])
    return fitted([frayed(block, rng, loose, crumb, (box[0], box[1]))], size)


def _strip(size: tuple[float, float, float], look: _Style, rng: np.random.Generator) -> Array:
    """Points of its skin, side over top to side, from end to end. (rings, around, 3)"""
    length, thick, high = size
    unit_size = min(size)
    worn = look.worn * unit_size
    section = _section(thick, high, worn)
    count = max(2, round((length - worn) / max(high / 8, length / _MOST_RINGS)))
    inner = np.linspace(-length / 2 + worn, length / 2 - worn, count + 1)
    # The ends are rounded off as the corners are; a face will close them.
    x = np.concatenate([[-length / 2, -length / 2 + 0.3 * worn], inner, [length / 2 - 0.3 * worn, length / 2]])
    drawn = np.array([0.38, 0.12]) * look.worn / 0.30
    draw = 1 - np.concatenate([drawn, np.zeros(len(inner)), drawn[::-1]])
    rows = section * draw[:, None, None]
    points = np.concatenate([np.broadcast_to(x[:, None, None], (*rows.shape[:2], 1)), rows], axis=2)
    flat = points.reshape(-1, 3)
    bumps = 0.7 * mottle(flat, look.over * unit_size, rng) + 0.5 * mottle(flat, 0.36 * look.over * unit_size, rng)
    bumps += rng.normal(0, 0.22, len(flat))
    moved = flat + _outward(points).reshape(-1, 3) * (look.rough * unit_size * bumps)[:, None]
    waves = np.clip(mottle(x[:, None], 2.2 * high, rng) + rng.normal(0, 0.25, len(x)), -1, 1)
    moved[:, 2] *= np.repeat(1 - look.sag * (0.5 - 0.5 * waves), points.shape[1])
    moved[:, 2] = np.maximum(moved[:, 2], 0.002 * high * rng.uniform(0, 1, len(moved)))
    return np.asarray(moved.reshape(points.shape))


def _section(thick: float, high: float, worn: float) -> Array:
    """From the foot of one side over the top to the foot of the other, corners rounded. (k, 2)"""
    turns = np.linspace(0, np.pi / 2, 4)
    side = np.column_stack([np.full(5, thick / 2), np.linspace(0, high - worn, 6)[:-1]])
    corner = [thick / 2 - worn, high - worn] + worn * np.column_stack([np.cos(turns), np.sin(turns)])
    half = np.concatenate([side, corner])
    flat = thick - 2 * worn
    top = np.linspace(flat / 2, -flat / 2, min(max(2, round(flat / (high / 7))), _MOST_ACROSS) + 1)[1:-1]
    return np.concatenate([half, np.column_stack([top, np.full(len(top), high)]), half[::-1] * [-1, 1]])


def _outward(points: Array) -> Array:
    """Unit normals of a sheet of points (rings, around, 3), out of the strip."""
    return unit(np.cross(np.gradient(points, axis=1), np.gradient(points, axis=0)))


def _sheet(points: Array, colour: Colour, look: _Style, side: float, rng: np.random.Generator) -> Mesh:
    """A skin over points (rings, around, 3); its picture shows `side` [m] and is laid on edge to edge."""
    flat = points.reshape(-1, 3)
    tones = (0.72 + 0.36 * flat[:, 2] / flat[:, 2].max()) * np.exp(0.14 * mottle(flat, 0.6 * side, rng))
    hue = np.exp(0.07 * mottle(flat, 0.9 * side, rng)[:, None] * [1.2, 0.2, -0.8])
    colours = np.clip(2.0 * np.asarray(colour) * tones[:, None] * hue, 0, 1).reshape(points.shape)
    normals = _outward(points)
    steps = (np.linalg.norm(np.diff(points, axis=axis), axis=2).mean(axis=1 - axis) for axis in (0, 1))
    along, around = (_tiles(each, side) for each in steps)
    parts = []
    for rows, u in along:
        for columns, v in around:
            uv = np.stack(np.meshgrid(u, v, indexing="ij"), axis=-1)
            shown = (points[rows, columns], normals[rows, columns], colours[rows, columns], uv)
            count, k = uv.shape[:2]
            i, j = (grid.ravel() for grid in np.meshgrid(np.arange(count - 1), np.arange(k - 1), indexing="ij"))
            a, b, c, d = i * k + j, (i + 1) * k + j, (i + 1) * k + j + 1, i * k + j + 1
            faces = np.concatenate([np.stack([a, c, b], 1), np.stack([a, d, c], 1)])
            place, normal, tint, at = (each.reshape(-1, each.shape[-1]) for each in shown)
            parts.append(Mesh(place, faces, normal, tint, MATT, at, look.picture()))
    return joined(parts)


def _tiles(steps: Array, side: float) -> list[tuple[slice, Array]]:
    """Runs of corners, n - 1 steps [m] apart, that take about `side` each, and the places 0..1 of a run's corners."""
    along = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = np.linspace(0, along[-1], max(1, round(along[-1] / side)) + 1)
    cuts = np.unique(np.abs(along[:, None] - wanted).argmin(axis=0))
    spans = [slice(begin, end + 1) for begin, end in pairwise(cuts.tolist())]
    return [(span, (along[span] - along[span][0]) / np.ptp(along[span])) for span in spans]


def _end(ring: Array, skin: Mesh, way: float, side: float, rng: np.random.Generator) -> Mesh:
    """A face across the strip, a little proud in its middle."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    middle = (low + high) / 2
    shares = np.array([1.0, 0.66, 0.30])
    rows = middle + (ring - middle) * shares[:, None, None]
    rows[..., 0] = ring[:, 0].mean() + way * 0.02 * (high[2] - low[2]) * (1 - shares[:, None])
    rows[0] = ring
    points = np.concatenate([rows.reshape(-1, 3), rows[-1].mean(axis=0, keepdims=True)])
    k = len(ring)
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(2), np.arange(k), indexing="ij"))
    n = (j + 1) % k
    faces = np.concatenate(
        [
            np.stack([i * k + j, (i + 1) * k + j, (i + 1) * k + n], 1),
            np.stack([i * k + j, (i + 1) * k + n, i * k + n], 1),
            np.stack([2 * k + np.arange(k), np.full(k, 3 * k), 2 * k + (np.arange(k) + 1) % k], 1),
        ]
    )
    normals = unit(np.array([way, 0, 0]) + 0.25 * unit(points - middle) + rng.normal(0, 0.1, points.shape))
    colours = np.broadcast_to(skin.colours.mean(axis=0), points.shape) * np.exp(rng.normal(0, 0.08, (len(points), 1)))
    shown = max(side, high[1] - low[1], high[2] - low[2])
    uv = 0.005 + 0.99 * (points[:, 1:] - low[1:]) / shown
    return replace(
        skin,
        vertices=points,
        faces=faces if way < 0 else faces[:, ::-1],
        normals=normals,
        colours=np.clip(colours, 0, 1),
        uv=uv,
    )
