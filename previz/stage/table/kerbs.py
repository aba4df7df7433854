"""Kerb stones in a row along the road's edges, and the back and ends of what they hold."""

import numpy as np
from numpy.typing import NDArray

from previz.layout import Roadside, Strip, roadside_of
from previz.mesh import Array, Mesh, joined
from previz.scene import KERB_STONE, Kerb, Scene

_CHAMFER = 0.16  # of a stone's upper front edge, by its height
_GAP = 0.010  # between two stones, full size [m]
_STEP = 0.012  # between corners along a stone [m]
_SUNK = 0.0004  # how far stones reach into the road [m]
_NO_AREA = 2e-9  # twice the least of a piece of kerb or pavement, seen from above [m2]


def build_kerbs(scene: Scene) -> tuple[Mesh, ...]:
    """The stones of each side, and the back of its pavement."""
    side, road = roadside_of(scene), scene.set.road
    if road is None or not side.strips:
        return ()
    kerb = road.kerb or Kerb()
    rng = np.random.default_rng([scene.set.ground.seed, 51])
    found: list[Mesh] = []
    for strip in side.strips:
        found += _stones(side, strip, scene.scale, kerb.colour, rng)
        if strip.paved:
            assert road.pavement is not None  # a strip is paved by one
            found += _back(side, strip, road.pavement.colour)
    return tuple(found)


def _stones(
    side: Roadside, strip: Strip, scale: float, colour: tuple[float, float, float], rng: np.random.Generator
) -> tuple[Mesh, ...]:
    """One after another along the road, each its own shade, with joints between; none where no table is under them."""
    assert side.curve is not None  # it has a strip
    high, cut = strip.height, _CHAMFER * strip.height
    profile = np.array(
        [
            (strip.face, -_SUNK),
            (strip.face, high - cut),
            (strip.face + cut, high),
            (strip.back, high),
            (strip.back, -_SUNK),
        ]
    )
    stone, gap = KERB_STONE / scale, _GAP / scale
    starts = np.arange(0.0, side.curve.length, stone)
    shades = 1 + 0.07 * rng.standard_normal(len(starts))
    parts = []
    for start, shade in zip(starts.tolist(), shades.tolist(), strict=True):
        end = min(start + stone - gap, side.curve.length)
        if end - start < gap:
            continue
        along = np.linspace(start, end, max(int(np.ceil((end - start) / _STEP)), 1) + 1)
        middle, turns = side.curve.at(along), side.curve.heading(along)
        aside = strip.side * np.stack([-np.sin(turns), np.cos(turns)], axis=-1)
        flat = middle[:, None] + profile[None, :, :1] * aside[:, None]
        flat = np.clip(flat, side.low, side.high)
        if not _on_table(flat[:, 0], flat[:, -1]).any():
            continue
        rings = np.concatenate([flat, np.broadcast_to(profile[None, :, 1:], (*flat.shape[:2], 1))], axis=2)
        parts.append(_prism(rings, np.clip(shade * np.array(colour), 0, 1)))
    return (joined(parts),) if parts else ()


def _on_table(one: Array, other: Array) -> NDArray[np.bool_]:
    """Between which places (n - 1,) along two lines (n, 2) there is table: what is past it lies on its edge."""
    ways, back = other[1:] - one[:-1], other[:-1] - one[1:]
    return np.asarray(np.abs(ways[:, 0] * back[:, 1] - ways[:, 1] * back[:, 0]) > _NO_AREA)


def _back(side: Roadside, strip: Strip, colour: tuple[float, float, float]) -> tuple[Mesh, ...]:
    """The upright faces of a pavement that its stones do not hide: along its back, and at both ends of the road."""
    line, inner = (side.line(strip.side * off) for off in (strip.outer, strip.back))
    there = _on_table(line, inner)
    if not there.any():
        return ()
    walls = [_wall(line, strip.height, colour, strip.side, there)]
    first, last = np.flatnonzero(there)[[0, -1]].tolist()
    for end, flip in ((first, 1), (last + 1, -1)):
        walls.append(_wall(np.array([inner[end], line[end]]), strip.height, colour, strip.side * flip))
    return (joined(walls),)


def _wall(
    line: Array,
    high: float,
    colour: tuple[float, float, float],
    left: int,
    there: NDArray[np.bool_] | None = None,
) -> Mesh:
    """An upright face over points (n, 2), seen from the left of their way where `left` is 1.

    `there` (n - 1,) leaves it out between some of them.
    """
    count = len(line)
    vertices = np.concatenate([np.column_stack([line, np.full(count, z)]) for z in (-_SUNK, high)])
    a = np.arange(count - 1) if there is None else np.flatnonzero(there)
    faces = np.concatenate(
        [np.stack([a, a + count, a + 1], axis=1), np.stack([a + 1, a + count, a + 1 + count], axis=1)]
    )
    ways = np.gradient(line, axis=0)
    normals = left * np.column_stack([-ways[:, 1], ways[:, 0], np.zeros(count)])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    return Mesh(
        vertices, faces if left > 0 else faces[:, ::-1], np.tile(normals, (2, 1)), np.tile(colour, (2 * count, 1))
    )


def _prism(rings: Array, colour: Array) -> Mesh:
    """Flat faces through rings of corners (n, k, 3), one after another along the road, and both ends."""
    corners = rings.shape[1]
    sides = np.stack([rings[:-1, :-1], rings[1:, :-1], rings[1:, 1:], rings[:-1, 1:]], axis=2).reshape(-1, 4, 3)
    ends = [ring[[0, k, k + 1, k + 1]] for ring in (rings[0], rings[-1]) for k in range(1, corners - 1)]
    quads = np.concatenate([sides, np.stack(ends)])
    across = np.cross(quads[:, 1] - quads[:, 0], quads[:, 2] - quads[:, 0])
    # Outwards is away from the middle of the ring beside it.
    beside = np.concatenate([np.repeat(rings[:-1].mean(axis=1), corners - 1, axis=0),
                             np.repeat(rings[1:-1].mean(axis=(0, 1))[None] if len(rings) > 2 else
                                       rings.mean(axis=(0, 1))[None], len(ends), axis=0)])  # fmt: skip
    inwards = np.einsum("ni,ni->n", across, quads.mean(axis=1) - beside) < 0
    quads[inwards], across[inwards] = quads[inwards][:, ::-1], -across[inwards]
    normals = across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-20)
    first = 4 * np.arange(len(quads))[:, None]
    faces = np.concatenate([first + np.array(three) for three in ((0, 1, 2), (0, 2, 3))])
    vertices = quads.reshape(-1, 3)
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    faces = faces[np.linalg.norm(np.cross(b - a, c - a), axis=1) > 1e-14]  # those at the ends are triangles twice
    return Mesh(vertices, faces, np.repeat(normals, 4, axis=0), np.tile(colour, (len(vertices), 1)))
