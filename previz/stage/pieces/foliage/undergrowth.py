"""What stays low: bushes, tufts of grass, felled logs."""

from dataclasses import replace

import numpy as np

from previz.layout import BUSH_SPREAD
from previz.mesh import Array, Mesh, joined
from previz.stage.pieces.foliage.growth import BARK, blades, clumps, limb, unit
from previz.stage.shapes import solids
from previz.stage.shapes.finish import MATT, Colour, fitted, mottle, snowed, weathered

TUFT_SPREAD = 0.9  # width over height, common practice, no source
LOG_LENGTH = 5.5  # over the diameter


def bush(height: float, colour: Colour, rng: np.random.Generator, detail: float = 1.0) -> tuple[Mesh, ...]:
    """A clump of leaves, `BUSH_SPREAD` as wide as high. [m]"""
    count = 8
    turns = 2 * np.pi * (np.arange(count) + rng.uniform(-0.3, 0.3, count)) / count
    out = rng.uniform(0.26, 0.38, count)
    low = np.column_stack([out * np.cos(turns), out * np.sin(turns), rng.uniform(0.22, 0.38, count)])
    top = np.column_stack([rng.uniform(-0.16, 0.16, (4, 2)), rng.uniform(0.40, 0.60, 4)])
    middles = np.concatenate([low, top])
    foliage = clumps(middles, rng.uniform(0.25, 0.31, len(middles)), colour, rng, max(40, round(1250 * detail)), 0.066)
    stems = [
        limb(np.stack([end * [0.15, 0.15, 0], end * [0.5, 0.5, 0.6], end]), np.array([0.018, 0.012, 0.004]), 4)
        for end in middles
    ]
    above = [replace(part, vertices=_above_ground(part.vertices, rng)) for part in foliage]
    return fitted(
        [*above, solids.coloured(joined(stems), BARK, MATT)], (BUSH_SPREAD * height, BUSH_SPREAD * height, height)
    )


def _above_ground(points: Array, rng: np.random.Generator) -> Array:
    """Points below 0.03 lifted, each to a height of its own, so that no triangle is pressed flat."""
    lifted = points.copy()
    low = points[:, 2] < 0.03
    lifted[low, 2] = rng.uniform(0.0, 0.03, np.count_nonzero(low))
    return lifted


def tuft(height: float, colour: Colour, rng: np.random.Generator, detail: float = 1.0) -> tuple[Mesh, ...]:
    """Blades of grass from one root, `TUFT_SPREAD` as wide as high. [m]"""
    count = max(7, round(34 * detail))
    turns = 2 * np.pi * (np.arange(count) + rng.uniform(-0.4, 0.4, count)) / count
    lean = rng.uniform(0.05, 0.75, count)
    out = np.column_stack([np.cos(turns), np.sin(turns), np.zeros(count)])
    root = out * rng.uniform(0.02, 0.16, (count, 1))
    long = rng.uniform(0.55, 1.0, (count, 1))
    knee = root + (out * 0.35 * lean[:, None] + [0, 0, 0.6]) * long
    tip = root + (out * lean[:, None] * 1.2 + np.outer(1.0 - 0.45 * lean**2, [0, 0, 1.0])) * long
    side = np.cross(out, [0, 0, 1]) * rng.uniform(0.009, 0.018, (count, 1))
    corners = np.concatenate(
        [
            np.stack([root - side, root + side, knee + 0.8 * side], 1),
            np.stack([root - side, knee + 0.8 * side, knee - 0.8 * side], 1),
            np.stack([knee - 0.8 * side, knee + 0.8 * side, tip], 1),
        ]
    )
    normals = unit(unit(out) * 0.6 + np.array([0, 0, 0.8]))[:, None].repeat(3, axis=1)
    tone = np.exp(rng.normal(0, 0.2, (count, 1, 1)))
    dry = np.exp(np.array([0.45, 0.15, -0.1]) * rng.uniform(-0.3, 1.0, (count, 1, 1)))
    shade = 0.45 + 0.75 * np.clip(corners[..., 2:], 0, 1)
    colours = np.asarray(colour) * np.tile(tone * dry, (3, 1, 1)) * shade
    mesh = blades(corners, np.tile(normals, (3, 1, 1)), colours)
    return fitted([mesh], (TUFT_SPREAD * height, TUFT_SPREAD * height, height))


def log(diameter: float, colour: Colour, snow: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """A felled trunk lying along x, `LOG_LENGTH` times as long as it is thick. [m]"""
    sides, rings = 18, 9
    along = np.linspace(-LOG_LENGTH / 2, LOG_LENGTH / 2, rings)
    turns = 2 * np.pi * np.arange(sides) / sides
    ring = np.column_stack([np.zeros(sides), np.cos(turns), np.sin(turns)])
    radius = 0.5 * np.linspace(1.0, 0.86, rings)[:, None, None]
    ridges = 0.07 * rng.normal(size=(1, sides, 1)) + 0.018 * rng.normal(size=(rings, sides, 1))
    sections = ring[None] * radius * (1 + ridges)
    sections += np.column_stack([along, 0.05 * np.sin(along + rng.uniform(0, 6)), np.zeros(rings)])[:, None]
    bark = solids.coloured(solids.loft(sections, capped=False, crease=14.0), colour)
    lines = mottle(bark.vertices * [0.35, 5.0, 5.0], 1.0, rng)  # cracks run along
    bark = replace(bark, colours=bark.colours * np.exp(0.35 * lines)[:, None])
    bark = weathered(bark, rng, 0.6, tone=0.28, foot=0.2, moss=0.25, grain=1.5)
    cuts = [_cut_end(sections[0], -1.0, rng), _cut_end(sections[-1], 1.0, rng)]
    parts = [snowed(part, snow, rng, 0.8) for part in (bark, *cuts)]
    return fitted(parts, (LOG_LENGTH * diameter, diameter, diameter))


def _cut_end(ring: Array, way: float, rng: np.random.Generator) -> Mesh:
    """The sawn face: pale wood in rings, bark-dark at the edge."""
    middle = ring.mean(0)
    shares = np.array([1.0, 0.9, 0.72, 0.45, 0.2])
    pale = np.array(
        [[0.09, 0.07, 0.05], [0.42, 0.29, 0.17], [0.33, 0.21, 0.12], [0.44, 0.31, 0.19], [0.25, 0.15, 0.08]]
    )
    count = len(ring)
    points = np.concatenate([middle + share * (ring - middle) for share in shares] + [middle[None]])
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(len(shares) - 1), np.arange(count), indexing="ij"))
    k = (j + 1) % count
    a, b, c, d = i * count + j, i * count + k, (i + 1) * count + k, (i + 1) * count + j
    last = (len(shares) - 1) * count
    hub = np.column_stack(
        [last + np.arange(count), last + (np.arange(count) + 1) % count, np.full(count, len(points) - 1)]
    )
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1), hub])
    colours = np.concatenate([pale.repeat(count, axis=0), pale[-1:]]) * np.exp(rng.normal(0, 0.06, (len(points), 1)))
    normals = np.broadcast_to([way, 0.0, 0.0], points.shape).copy()
    across = np.cross(points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]])
    away = across[:, 0] * way < 0
    faces[away] = faces[away][:, ::-1]
    return Mesh(points, faces, normals, np.clip(colours, 0, 1), MATT)
