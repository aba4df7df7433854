"""Leafy trees, and bare ones: a trunk that branches down to clumps of leaves or to twigs."""

import numpy as np

from previz.layout import BROADLEAF_SPREAD
from previz.mesh import Array, Mesh, joined
from previz.stage.pieces.foliage.growth import BARK, Branch, blades, clumps, limb, unit
from previz.stage.shapes import solids
from previz.stage.shapes.finish import MATT, Colour, fitted, mottle, weathered


def broadleaf(
    height: float, colour: Colour, bare: bool, rng: np.random.Generator, detail: float = 1.0
) -> tuple[Mesh, ...]:
    """A leafy tree, or its winter skeleton.

    Parameters
    ----------
    height : float
        Over all; `BROADLEAF_SPREAD` as wide. [m]
    bare : bool
        Branches down to the twigs instead of leaves.
    detail : float
        Share of the full number of triangles.
    """
    targets = _crown(rng, max(9, round((44 if bare else 36) * detail**0.5)))
    branches = _grown(targets, rng)
    if bare:
        branches += _side_shoots(branches[1:], rng, max(1, round(3 * detail)))
    wood = [limb(points, radii, 7 if radii[0] > 0.012 else 4 if radii[0] > 0.004 else 3) for points, radii in branches]
    bark = solids.coloured(joined(wood), BARK, MATT)
    parts = [weathered(bark, rng, 1 / 10, tone=0.22, foot=0.15, moss=0.3)]
    if bare:
        parts.append(_twigs(branches[1:], rng, max(2, round(7 * detail))))
    else:
        parts += clumps(targets, rng.uniform(0.085, 0.13, len(targets)), colour, rng, round(2150 * detail), 0.030)
    return fitted(parts, (BROADLEAF_SPREAD * height, BROADLEAF_SPREAD * height, height))


def _crown(rng: np.random.Generator, count: int) -> Array:
    """Middles of the leaf clumps (n, 3) of a tree about 1 high: spread over an uneven egg, some inside it."""
    number = np.arange(count) + 0.5
    rise = 1 - 1.72 * number / count  # the underside is open
    turn = number * np.pi * (3 - np.sqrt(5)) + rng.uniform(0, 7)
    flat = np.sqrt(1 - rise**2)
    ways = np.column_stack([flat * np.cos(turn), flat * np.sin(turn), rise])
    out = np.where(rng.uniform(size=count) < 0.75, rng.uniform(0.88, 1.06, count), rng.uniform(0.45, 0.75, count))
    out *= 1 + 0.09 * mottle(ways, 2.0, rng)
    return np.asarray(ways * out[:, None] * [0.32, 0.32, 0.29] + [0, 0, 0.63] + rng.normal(0, 0.018, (count, 3)))


def _curve(start: Array, pull: Array, end: Array, rng: np.random.Generator, count: int = 5) -> Array:
    """A quadratic curve through start and end, a little unsteady. (count, 3)"""
    t = np.linspace(0, 1, count)[:, None]
    points = (1 - t) ** 2 * start + 2 * t * (1 - t) * pull + t**2 * end
    shake = rng.normal(0, 0.035, (count, 3)) * np.linalg.norm(end - start)
    shake[[0, -1]] = 0
    return np.asarray(points + shake)


def _grown(targets: Array, rng: np.random.Generator, limbs: int = 6) -> list[Branch]:
    """Trunk, then main limbs, then a branch to every target."""
    fork = np.array([*rng.normal(0, 0.012, 2), rng.uniform(0.25, 0.30)])
    stem = np.stack([fork * [0, 0, 0], fork * [0, 0, 0.06], fork * [0.3, 0.5, 0.35], fork * [0.9, 0.7, 0.7], fork])
    branches: list[Branch] = [(stem, np.array([0.040, 0.028, 0.0235, 0.021, 0.020]))]
    turn = np.arctan2(targets[:, 1], targets[:, 0])
    sector = np.floor((turn + rng.uniform(0, 7)) / (2 * np.pi) * (limbs - 1)).astype(int) % (limbs - 1)
    central = np.linalg.norm(targets[:, :2], axis=1) < 0.15
    sector[central] = limbs - 1  # the leader
    for group in np.unique(sector):
        own = targets[sector == group]
        low = fork * [1, 1, rng.uniform(0.86, 1.0)]
        end = low + 0.72 * (own.mean(0) - low)
        bough = _curve(low, low + 0.45 * (end - low) * [0.55, 0.55, 1.4], end, rng)
        branches.append((bough, np.linspace(0.0135, 0.0060, 5)))
        for target in own:
            at = int(rng.integers(2, 5))
            start = bough[at]
            pull = start + 0.5 * (target - start) * [0.8, 0.8, 1.25]
            branches.append((_curve(start, pull, target, rng, 4), np.linspace(0.0062 - 0.0007 * at, 0.0014, 4)))
    return branches


def _side_shoots(branches: list[Branch], rng: np.random.Generator, each: int) -> list[Branch]:
    """Thin branches off the finer ones, reaching on outwards."""
    shoots: list[Branch] = []
    for points, radii in branches:
        if radii[0] > 0.01:
            continue
        for _ in range(each):
            k = int(rng.integers(1, len(points)))
            way = unit(points[k] - points[k - 1])
            way = unit(way + rng.normal(0, 0.55, 3) + 0.35 * unit(points[k] - [0, 0, 0.5]) + [0, 0, 0.15])
            end = points[k] + way * rng.uniform(0.06, 0.13)
            shoots.append((_curve(points[k], (points[k] + end) / 2, end, rng, 3), np.array([0.0021, 0.0014, 0.0006])))
    return shoots


def _twigs(branches: list[Branch], rng: np.random.Generator, each: int) -> Mesh:
    """A spray of hair-thin twigs along the outer half of every fine branch."""
    fine = [points for points, radii in branches if radii[0] < 0.01]
    ends = np.stack([points[-1] for points in fine]).repeat(each, axis=0)
    before = np.stack([points[-2] for points in fine]).repeat(each, axis=0)
    starts = ends + (before - ends) * rng.uniform(0, 1, (len(ends), 1)) ** 1.5
    way = unit(unit(ends - before) + rng.normal(0, 0.5, ends.shape) + [0, 0, 0.12])
    long = rng.uniform(0.025, 0.075, (len(ends), 1))
    side = unit(np.cross(way, rng.normal(size=way.shape))) * rng.uniform(0.0009, 0.0015, (len(ends), 1))
    corners = np.stack([starts - side, starts + side, starts + way * long + [0, 0, -0.006]], 1)
    normals = unit(np.cross(side, way) + 0.4 * way)[:, None].repeat(3, axis=1)
    tone = np.exp(rng.normal(0, 0.2, (len(starts), 1, 1)))
    return blades(corners, normals, np.asarray(BARK) * 1.05 * tone * np.ones((1, 3, 1)))
