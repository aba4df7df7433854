"""What stays low: bushes, tufts of grass, felled logs."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from previz.layout import BUSH_SPREAD
from previz.mesh import Array, Mesh, joined
from previz.stage.pieces.foliage.foam import Lobes, foam
from previz.stage.pieces.foliage.growth import BARK, blades, limb, unit
from previz.stage.shapes import solids
from previz.stage.shapes.finish import MATT, Colour, fitted, mottle, snowed, weathered

TUFT_SPREAD = 0.9  # width over height, common practice, no source
_CURVED = 0.018  # tufts as high show that their fibres are bowed [m]
LOG_LENGTH = 5.5  # over the diameter


def bush(height: float, colour: Colour, rng: np.random.Generator, detail: float = 1.0) -> tuple[Mesh, ...]:
    """A heap of foam, `BUSH_SPREAD` as wide as high. [m]"""
    count = max(8, round(72 * detail**0.8))
    number = np.arange(count) + 0.5
    rise = 1 - 0.95 * number / count
    turn = number * np.pi * (3 - np.sqrt(5)) + rng.uniform(0, 7)
    flat = np.sqrt(1 - rise**2)
    ways = np.column_stack([flat * np.cos(turn), flat * np.sin(turn), rise])
    out = rng.uniform(0.85, 1.12, count) * (1 + 0.12 * mottle(ways, 1.2, rng))
    middles = ways * [0.42, 0.42, 0.50] * out[:, None] + [0, 0, 0.22]
    radii = rng.uniform(0.075, 0.145, (count, 1)) * [1.05, 1.05, 0.9] * detail**-0.15
    inner = np.array([[0.42, 0.42, 0.42]])
    lobes = Lobes(
        np.concatenate([[[0, 0, 0.33]], middles]),
        np.concatenate([inner, radii]),
        np.exp(rng.normal(0, 0.13, count + 1)),
    )
    leafy = foam(lobes, colour, rng, 1.1, max(40, round(1150 * detail)), 0.055)
    stems = [
        limb(np.stack([end * [0.15, 0.15, 0], end * [0.5, 0.5, 0.6], end]), np.array([0.018, 0.012, 0.004]), 4)
        for end in middles[:: max(1, count // 7)]
    ]
    above = replace(leafy, vertices=_above_ground(leafy.vertices, rng))
    return fitted(
        [above, solids.coloured(joined(stems), BARK, MATT)], (BUSH_SPREAD * height, BUSH_SPREAD * height, height)
    )


def _above_ground(points: Array, rng: np.random.Generator) -> Array:
    """Points below 0.03 lifted, each to a height of its own, so that no triangle is pressed flat."""
    lifted = points.copy()
    low = points[:, 2] < 0.03
    lifted[low, 2] = rng.uniform(0.0, 0.03, np.count_nonzero(low))
    return lifted


def tuft(
    height: float, colour: Colour, rng: np.random.Generator, detail: float = 1.0, style: str = "meadow"
) -> tuple[Mesh, ...]:
    """Fibres of grass from one root, `TUFT_SPREAD` as wide as high. [m]

    `style`: meadow arches over; reeds stand stiff and carry brown heads; flowers stand in grass.
    """
    stiff = style == "reeds"
    count = max(7, round((48 if stiff else 60) * detail))
    turn = 2 * np.pi * (np.arange(count) * 0.618034 + rng.uniform(-0.1, 0.1, count))
    lean = rng.uniform(0.0, 1.0, count) ** (1.6 if stiff else 0.8) * (0.42 if stiff else 0.95)
    long = rng.uniform(0.5, 1.0, count) ** 0.7
    # A bow in a plane that is turned a little out of the way it leans.
    out = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(count)])
    swerve = turn + rng.normal(0, 0.5, count)
    over = np.column_stack([np.cos(swerve), np.sin(swerve), np.zeros(count)])
    root = out * (0.15 * np.sqrt(rng.uniform(0, 1, count)))[:, None]
    steps = np.array([0.0, 0.42, 0.78, 1.0] if height >= _CURVED else [0.0, 0.6, 1.0])
    bow = lean[:, None] * (0.35 * steps + 0.65 * steps**2.4)
    reach = out[:, None] * (0.4 * bow)[..., None] + over[:, None] * (0.6 * bow)[..., None]
    rise = steps - 0.34 * lean[:, None] ** 1.5 * steps**2.6
    path = root[:, None] + long[:, None, None] * (reach + rise[..., None] * np.array([0.0, 0.0, 1.0]))
    aside = unit(np.cross(over, [0.0, 0.0, 1.0]) + rng.normal(0, 0.35, (count, 3)))
    wide = rng.uniform(0.0060, 0.0115, (count, 1)) * detail**-0.35 * (1 - steps**3)
    half = aside[:, None] * wide[..., None]
    corners, ends = _strips(path - half, path + half)
    at = steps[ends]  # (k, 3)
    tone = np.exp(rng.normal(0, 0.2, (count, 1, 1)))
    dry = np.exp(np.array([0.45, 0.12, -0.1]) * rng.uniform(-0.6, 0.7, (count, 1, 1)))
    # Earthy at the root, full in the middle, straw at the tip.
    foot, tip = np.array([0.50, 0.38, 0.40]), np.array([0.65, 0.32, 0.0])
    shade = foot + (1 - foot) * np.minimum(2.2 * at, 1)[..., None] + tip * np.clip(2 * at - 1, 0, 1)[..., None] ** 1.5
    colours = np.asarray(colour) * (tone * dry)[None] * shade[:, None]
    normals = np.broadcast_to(unit(0.6 * out + np.array([0, 0, 0.8]))[None, :, None], corners.shape)
    parts = [blades(*(each.reshape(-1, 3, 3) for each in (corners, normals, colours)))]
    if style != "meadow":
        parts.append(_heads(path, rng, detail, stiff))
    return fitted(parts, (TUFT_SPREAD * height, TUFT_SPREAD * height, height))


def _strips(left: Array, right: Array) -> tuple[Array, NDArray[np.intp]]:
    """Triangles (k, n, 3, 3) of n strips between edges (n, steps, 3) that meet at the tip; the step of each corner."""
    corners, ends = [], []
    last = left.shape[1] - 1
    for step in range(last):
        corners.append(np.stack([left[:, step], right[:, step], right[:, step + 1]], 1))
        ends.append((step, step, step + 1))
        if step + 1 < last:
            corners.append(np.stack([left[:, step], right[:, step + 1], left[:, step + 1]], 1))
            ends.append((step, step + 1, step + 1))
    return np.stack(corners), np.array(ends)


#: Of spikes of reeds, and of blossoms, one colour a tuft; linear, chosen by eye.
_SPIKE = (0.085, 0.045, 0.020)
_BLOSSOMS = ((0.80, 0.78, 0.70), (0.75, 0.50, 0.03), (0.42, 0.10, 0.38), (0.60, 0.06, 0.05))


def _heads(path: Array, rng: np.random.Generator, detail: float, reeds: bool) -> Mesh:
    """Brown spikes of reeds, or blossoms, on the tips of the highest fibres."""
    count = max(2, round((9 if reeds else 16) * detail))
    chosen = np.argsort(-path[:, -1, 2])[:count]
    at, way = path[chosen, -1], unit(path[chosen, -1] - path[chosen, -2])
    long, wide = (0.15, 0.013) if reeds else (0.034, 0.024)
    colour = _SPIKE if reeds else _BLOSSOMS[int(rng.integers(len(_BLOSSOMS)))]
    if reeds:
        at = at - 0.5 * long * way
    size = rng.uniform(0.70, 1.25, (count, 1))
    side = unit(np.cross(way, rng.normal(size=way.shape)))
    turns = 2 * np.pi * np.arange(5) / 5
    around = [np.cos(turn) * side + np.sin(turn) * np.cross(way, side) for turn in turns]
    # A spike is widest low down, a blossom opens upwards.
    belt = [at + size * (wide * each + (0.4 if reeds else 0.8) * long * way) for each in around]
    ends = (at, at + size * long * way * (1.0 if reeds else 0.6))
    faces = [np.stack([belt[k - 1], belt[k], end], 1) for k in range(5) for end in ends]
    normals = [
        np.stack([unit(around[k - 1] + up * way), unit(around[k] + up * way), unit(around[k] + 3 * up * way)], 1)
        for k in range(5)
        for up in (-0.3, 0.3)
    ]
    tones = np.tile(np.exp(rng.normal(0, 0.2, (count, 1, 1))), (len(faces), 1, 1))
    heads = blades(np.concatenate(faces), np.concatenate(normals), np.asarray(colour) * tones * np.ones((1, 3, 1)))
    return replace(heads, material=MATT)  # closed and solid: lit as no leaf is


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
