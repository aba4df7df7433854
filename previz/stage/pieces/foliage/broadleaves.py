"""Leafy trees as makers buy and make them, and bare ones: a trunk of twisted wire that branches to its covering."""

from collections.abc import Callable

import numpy as np

from previz.layout import BROADLEAF_SPREADS
from previz.mesh import Array, Mesh, joined
from previz.stage.pieces.foliage.foam import Lobes, crumbs_picture, foam, on_picture
from previz.stage.pieces.foliage.growth import BARK, Branch, blades, limb, twisted, unit
from previz.stage.shapes import solids
from previz.stage.shapes.finish import MATT, Colour, fitted, mottle, weathered


def broadleaf(
    height: float, colour: Colour, bare: bool, rng: np.random.Generator, detail: float = 1.0, style: str = "foam"
) -> tuple[Mesh, ...]:
    """A leafy tree, or its winter skeleton.

    Parameters
    ----------
    height : float
        Over all; `BROADLEAF_SPREADS` of its style as wide. [m]
    bare : bool
        Branches down to the twigs instead of leaves; of a `foam` tree.
    detail : float
        Share of the full number of triangles.
    style : str
        foam: clumps of foam on wire; fibre: fine fibre teased over wire, with light through it; brush: a bottle
        brush of wire and bristles, slender.
    """
    parts = _bare(rng, detail) if bare else _STYLES[style](colour, rng, detail)
    spread = BROADLEAF_SPREADS["foam" if bare else style]
    return fitted(parts, (spread * height, spread * height, height))


def _bare(rng: np.random.Generator, detail: float) -> list[Mesh]:
    targets = _crown(rng, max(9, round(44 * detail**0.5)))
    branches = _grown(targets, rng)
    branches += _side_shoots(branches[1:], rng, max(1, round(3 * detail)))
    return [_wood(branches, rng), _twigs(branches[1:], rng, max(2, round(7 * detail)))]


def _foam(colour: Colour, rng: np.random.Generator, detail: float) -> list[Mesh]:
    """Clumps at the ends of the boughs, each a heap of lobes; between them one looks through to the wire."""
    clumps = _crown(rng, max(7, round(22 * detail**0.4)))
    branches = _grown(clumps, rng)
    each = max(3, round(17 * detail**0.7))
    middles, radii, tones = [], [], []
    heart = np.array([0, 0, 0.55])
    for clump in clumps:
        size = rng.uniform(0.070, 0.110)
        ways = unit(rng.normal(size=(each, 3)) + 0.7 * unit(clump - heart) + [0, 0, 0.25])
        off = size * rng.uniform(0.55, 1.0, (each, 1))
        middles.append(np.concatenate([[clump], clump + ways * off * [1.25, 1.25, 0.75]]))
        across = size * np.concatenate([[0.75], rng.uniform(0.26, 0.46, each)]) * detail**-0.12
        radii.append(across[:, None] * [1.08, 1.08, 0.85])
        tones.append(np.full(each + 1, np.exp(rng.normal(0, 0.13))) * np.exp(rng.normal(0, 0.05, each + 1)))
    lobes = Lobes(np.concatenate(middles), np.concatenate(radii), np.concatenate(tones))
    return [_wood(branches, rng), foam(lobes, colour, rng, 0.30, round(1950 * detail), 0.0160)]


def _fibre(colour: Colour, rng: np.random.Generator, detail: float) -> list[Mesh]:
    """Twigs all through a rounded crown, and fine leaf held by the fibre about them."""
    targets = _crown(rng, max(9, round(46 * detail**0.5)))
    branches = _grown(targets, rng)
    branches += _side_shoots(branches[1:], rng, 1)
    fine = np.stack([points[[-2, -1]] for points, radii in branches if radii[0] < 0.01])
    return [_wood(branches, rng), _leaves(fine, colour, rng, round(5600 * detail), 0.0185 * detail**-0.2)]


def _leaves(fine: Array, colour: Colour, rng: np.random.Generator, count: int, size: float) -> Mesh:
    """Flakes about the outer ends (n, 2, 3) of branches: a haze, denser along each."""
    owner = rng.integers(0, len(fine), count)
    along = rng.uniform(-0.2, 1.0, (count, 1))
    cloud = rng.normal(0, 1, (count, 3)) * rng.uniform(0.006, 0.030, (count, 1))
    places = fine[owner, 1] + (fine[owner, 0] - fine[owner, 1]) * along + cloud * [1.15, 1.15, 0.75]
    heart = np.array([0, 0, 0.5])
    normals = unit(0.6 * unit(places - heart) + 0.5 * unit(cloud) + [0, 0, 0.2])
    face = unit(normals + rng.normal(0, 0.6, normals.shape))
    right = unit(np.cross(face, rng.normal(size=face.shape)))
    long = size * rng.uniform(0.5, 1.4, (count, 1))
    wide = long * rng.uniform(0.3, 0.6, (count, 1))
    tip = places + np.cross(face, right) * long
    corners = np.stack([places - right * wide, places + right * wide * 0.9, tip], 1)
    far = np.linalg.norm((places - heart) / np.ptp(places, axis=0), axis=1)
    clump = np.exp(rng.normal(0, 0.16, len(fine)))[owner]
    tones = clump * (0.55 + 0.85 * far) * np.exp(rng.normal(0, 0.22, count))
    hue = np.exp(np.array([0.15, 0.0, -0.10]) * rng.normal(0, 0.8, (count, 1)))
    colours = np.asarray(colour) * hue * tones[:, None]
    return blades(corners, normals[:, None].repeat(3, axis=1), colours[:, None].repeat(3, axis=1))


def _brush(colour: Colour, rng: np.random.Generator, detail: float) -> list[Mesh]:
    """Bristles held by two twisted wires, trimmed to a spindle and strewn with foam."""
    lean = rng.normal(0, 0.012, 2)
    heights = np.linspace(0, 0.97, 9)
    stem = twisted(_bent(np.zeros((9, 2)), heights, lean), np.linspace(0.021, 0.004, 9), rng, 2)
    wood = weathered(solids.coloured(stem, BARK, MATT), rng, 1 / 10, tone=0.15, foot=0.15)
    # Bristles stand in a screw about the wire, and were trimmed a little unevenly.
    count = max(60, round(4600 * detail))
    rise = (np.arange(count) + rng.uniform(0, 1, count)) / count
    turn = rng.uniform(0, 2 * np.pi, count)
    lumps = _lumps(turn, rise, rng)
    far = rng.uniform(0.35, 1.0, count) ** 0.45
    out = np.column_stack([np.cos(turn), np.sin(turn)])
    tip = _bent(out * (0.185 * _spindle(rise) * lumps * far)[:, None], 0.115 + 0.86 * rise, lean)
    way = unit(np.column_stack([out, rng.normal(0.30, 0.30, count) + 0.6 * rise]) + rng.normal(0, 0.25, (count, 3)))
    long = rng.uniform(0.012, 0.032, (count, 1)) * detail**-0.25
    side = unit(np.cross(way, rng.normal(size=way.shape))) * long * rng.uniform(0.18, 0.42, (count, 1))
    corners = np.stack([tip - way * long - side, tip - way * long + side, tip], 1)
    normals = unit(np.column_stack([out, np.full(count, 0.4)]) + rng.normal(0, 0.2, way.shape))
    tones = (0.40 + 0.80 * far**3 * lumps**1.5) * np.exp(rng.normal(0, 0.22, count))
    hue = np.exp(np.array([0.15, 0.0, -0.10]) * rng.normal(0, 0.8, (count, 1)))
    colours = (np.asarray(colour) * hue * tones[:, None])[:, None] * np.array([0.8, 0.8, 1.2])[None, :, None]
    core = _core(lean, colour, rng)
    bristles = blades(corners, normals[:, None].repeat(3, axis=1), 2.0 * colours)
    return [wood, joined([core, on_picture(bristles, core, rng)])]


def _bent(flat: Array, heights: Array, lean: Array) -> Array:
    """Points at heights, off by `flat` (n, 2) from a stem that leans more the higher."""
    return np.column_stack([flat + np.outer(heights**2, lean), heights])


def _lumps(turn: Array, rise: Array, rng: np.random.Generator) -> Array:
    """How far out a brush reaches, about 1."""
    return np.asarray(1 + 0.17 * mottle(np.column_stack([np.cos(turn), np.sin(turn), 6 * rise]), 1.1, rng))


def _spindle(rise: Array) -> Array:
    """Width of a brush over its height, 0..1 of its widest."""
    return np.asarray(np.minimum(0.35 + 3.2 * rise, 1.0) * (1 - rise**2.2) ** 0.75 + 0.03)


def _core(lean: Array, colour: Colour, rng: np.random.Generator) -> Mesh:
    """The dim inside of a brush: bristles too close to tell apart."""
    rise = np.linspace(0, 1, 12)
    widths, heights = (0.135 * _spindle(rise)).tolist(), (0.13 + 0.74 * rise).tolist()
    core = solids.revolve([(0.0, 0.12), *zip(widths, heights, strict=True), (0.0, 0.88)], 12)
    turn = np.arctan2(core.vertices[:, 1], core.vertices[:, 0])
    swollen = core.vertices[:, :2] * (1 + 0.12 * mottle(core.vertices, 0.12, rng))[:, None]
    tones = 0.62 * np.exp(0.2 * mottle(core.vertices, 0.08, rng))
    # The picture goes to and fro, turning at corners.
    level = np.clip((core.vertices[:, 2] - 0.13) / 0.74 * 11 / 4, 0, 3)
    uv = np.column_stack([0.5 + 0.49 * np.cos(2 * turn), 0.99 * np.abs(level % 2 - 1)])
    colours = np.clip(2.0 * np.asarray(colour) * tones[:, None], 0, 1)
    points = _bent(swollen, core.vertices[:, 2], lean)
    return Mesh(points, core.faces, core.normals, colours, MATT, uv, crumbs_picture())


_STYLES: dict[str, Callable[[Colour, np.random.Generator, float], list[Mesh]]] = {
    "foam": _foam,
    "fibre": _fibre,
    "brush": _brush,
}


def _wood(branches: list[Branch], rng: np.random.Generator) -> Mesh:
    """Trunk and boughs of wires twisted together, thinner ones round; brushed with bark."""
    wood = [
        twisted(points, radii, rng, 4)
        if radii[0] > 0.020
        else limb(points, radii, 6 if radii[0] > 0.012 else 4 if radii[0] > 0.0055 else 3)
        for points, radii in branches
    ]
    bark = solids.coloured(joined(wood), BARK, MATT)
    return weathered(bark, rng, 1 / 10, tone=0.22, foot=0.15, moss=0.3)


def _crown(rng: np.random.Generator, count: int) -> Array:
    """Middles of the clumps (n, 3) of a tree about 1 high: spread over an uneven egg, some inside it."""
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
    # The first ring stands in what it grows from, where it is dark, and the next just out of it.
    t = np.linspace(0, 1, count)[:, None] ** 1.6
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
