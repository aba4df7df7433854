"""Firs: whorls of boughs, feathered with needles."""

from dataclasses import replace

import numpy as np

from previz.layout import CONIFER_SPREAD
from previz.mesh import Array, Mesh
from previz.physics.smooth import smoothstep
from previz.stage.pieces.foliage.growth import BARK, blades, unit
from previz.stage.shapes import solids
from previz.stage.shapes.finish import LEAF, MATT, SNOW, Colour, blended, fitted, mottle, weathered


def conifer(
    height: float, colour: Colour, snow: float, rng: np.random.Generator, detail: float = 1.0
) -> tuple[Mesh, ...]:
    """A fir: whorls of drooping boughs, each a spine feathered with thin two-sided triangles.

    Parameters
    ----------
    height : float
        Over all; the crown is `CONIFER_SPREAD` as wide. [m]
    snow : float
        Share of the upper side under snow, 0..1.
    detail : float
        Share of the full number of triangles, for many trees at once.

    Built to height 1 and brought to size last.
    """
    lean = rng.normal(0, 0.008, 2)
    roots, ways, lengths = _boughs(rng, max(5, round(16 * detail**0.4)), detail**0.3)
    needles, spines = _needles(roots, ways, lengths, colour, rng, max(3, round(5 * detail**0.5)))
    parts = [needles]
    if snow > 0:
        parts = [_snowed_needles(needles, snow, rng), *_bough_snow(spines, snow, rng)]
    trunk = solids.revolve([(0.021, 0.0), (0.015, 0.03), (0.012, 0.25), (0.0035, 0.88), (0.0010, 0.985)], 7)
    parts.append(weathered(solids.coloured(trunk, BARK, MATT), rng, 1 / 12, tone=0.15, foot=0.2))
    bowed = [replace(part, vertices=part.vertices + _bow(part.vertices[:, 2], lean)) for part in parts]
    return fitted(bowed, (CONIFER_SPREAD * height, CONIFER_SPREAD * height, height))


def _bow(heights: Array, lean: Array) -> Array:
    return np.column_stack([heights[:, None] ** 2 * lean, np.zeros(len(heights))])


def _boughs(rng: np.random.Generator, whorls: int, fullness: float) -> tuple[Array, Array, Array]:
    """Where boughs leave the trunk (n, 3), which way they go (n, 3) and how long they are (n,)."""
    roots, ways, lengths = [], [], []
    for level in np.linspace(0.0, 1.0, whorls):
        height = 0.09 + 0.87 * level**0.82
        reach = 0.225 * (1 - level) ** 0.90 + 0.024
        count = max(4, round((5 + 4 * (1 - level)) * fullness))
        turns = 2 * np.pi * (np.arange(count) + rng.uniform(-0.35, 0.35, count)) / count + rng.uniform(0, 7)
        # Low boughs hang, the leader's reach up.
        rise = -0.42 + 0.95 * level + rng.normal(0, 0.10, count)
        ways.append(np.column_stack([np.cos(turns), np.sin(turns), rise]))
        roots.append(np.column_stack([np.zeros((count, 2)), height + rng.uniform(-0.024, 0.012, count)]))
        lengths.append(reach * rng.uniform(0.80, 1.08, count))
    return np.concatenate(roots), unit(np.concatenate(ways)), np.concatenate(lengths)


def _spine(roots: Array, ways: Array, lengths: Array, shares: Array) -> Array:
    """Points (n, k, 3) at `shares` of boughs: they sag in the middle and lift a little at the tip."""
    reach = lengths[:, None] * shares
    sag = -0.34 * reach * shares + 0.20 * reach * shares**3
    points = roots[:, None] + ways[:, None] * reach[..., None]
    points[..., 2] += sag
    return np.asarray(points)


def _needles(
    roots: Array, ways: Array, lengths: Array, colour: Colour, rng: np.random.Generator, pairs: int
) -> tuple[Mesh, Array]:
    """All needle triangles, and the bough spines (n, 3, 3) for snow to lie on."""
    shares = np.linspace(0.14, 1.0, pairs)
    base = _spine(roots, ways, lengths, shares)  # (n, k, 3)
    ahead = unit(np.gradient(base, axis=1))
    aside = unit(np.cross(ahead, [0.0, 0.0, 1.0]))
    shape = base.shape[:2]
    corners, owners = [], []
    width = lengths[:, None] * (0.50 * (1 - shares) ** 0.7 + 0.14)  # the bough is broad near the trunk
    for side in (-1.0, 1.0):
        spread = rng.normal(0, 0.18, (*shape, 1))
        drop = rng.uniform(-0.62, -0.06, (*shape, 1))
        way = unit(side * aside * (1 + spread) + ahead * rng.uniform(0.5, 1.0, (*shape, 1)) + drop * [0, 0, 1])
        tip = base + way * (width * rng.uniform(0.75, 1.25, shape))[..., None]
        half = ahead * (lengths[:, None, None] * (0.66 / pairs))
        lift = np.array([0, 0, 1]) * (lengths[:, None, None] * 0.03)
        corners.append(np.stack([base - half + lift, base + half * 1.1 + lift, tip], 2))
        owners.append(np.broadcast_to(np.arange(len(roots))[:, None], shape))
    tips = _tips(base[:, -1], ahead[:, -1], aside[:, -1], lengths)
    points = np.concatenate([np.concatenate([part.reshape(-1, 3, 3) for part in corners]), tips])
    owner = np.concatenate([*(part.ravel() for part in owners), np.arange(len(roots))])
    fine, normals = _split(points), None
    owner = np.repeat(owner, 2)
    normals = _crown_normals(fine, rng)
    bough_tone = np.exp(rng.normal(0, 0.16, len(roots)))[owner]
    own = np.exp(rng.normal(0, 0.14, len(fine)))
    colours = _needle_colours(fine, colour, bough_tone * own, rng)
    return blades(fine, normals, colours), _spine(roots, ways, lengths, np.array([0.30, 0.66, 1.0]))


def _tips(ends: Array, ahead: Array, aside: Array, lengths: Array) -> Array:
    half = aside * lengths[:, None] * 0.07
    return np.stack([ends - half, ends + half, ends + ahead * lengths[:, None] * 0.16], 1)


def _split(triangles: Array) -> Array:
    """Each twig as two thin spikes with a gap between: the outline of a bough is ragged, never a leaf."""
    a, b, tip = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    first = np.stack([a, a + 0.58 * (b - a), tip], 1)
    other = tip - 0.30 * (tip - b) + 0.22 * (b - a)
    second = np.stack([a + 0.46 * (b - a), b, other], 1)
    return np.stack([first, second], 1).reshape(-1, 3, 3)


def _crown_normals(points: Array, rng: np.random.Generator) -> Array:
    """Out from the trunk and up, unsettled a little from triangle to triangle."""
    out = points * [1, 1, 0]
    out = unit(out) * 0.75 + np.array([0, 0, 0.55])
    return unit(out + rng.normal(0, 0.24, (len(points), 1, 3)))


def _needle_colours(points: Array, colour: Colour, tone: Array, rng: np.random.Generator) -> Array:
    """Dark inside and old, lighter and a little yellower towards the tips."""
    radius = np.linalg.norm(points[..., :2], axis=2)
    reach = 0.24 * np.clip(1.03 - points[..., 2], 0.06, 1.0) ** 0.85
    outer = np.clip(radius / reach, 0, 1.15)
    lit = 0.42 + 0.80 * outer**1.6
    colours = np.asarray(colour) * (lit * tone[:, None])[..., None]
    fresh = (0.35 * smoothstep(outer.ravel(), 0.75, 1.15)).reshape(outer.shape)[..., None]
    return np.asarray(colours * (1 + fresh * np.array([0.65, 0.40, -0.10])))


def _snowed_needles(needles: Mesh, snow: float, rng: np.random.Generator) -> Mesh:
    """White on the outer, upper twigs."""
    corners = needles.vertices
    reach = np.linalg.norm(corners[:, :2], axis=1) / (0.24 * np.clip(1.03 - corners[:, 2], 0.06, 1.0) ** 0.85)
    lying = 0.75 * reach + 0.35 * mottle(corners, 0.09, rng)
    powder = snow * 0.8 * smoothstep(lying, 0.95 - 0.55 * snow, 1.35 - 0.35 * snow)
    return replace(needles, colours=blended(needles.colours, SNOW, powder))


def _bough_snow(spines: Array, snow: float, rng: np.random.Generator) -> list[Mesh]:
    """A soft lump along the top of the boughs that carry snow."""
    carrying = spines[rng.uniform(size=len(spines)) < 0.25 + 0.75 * snow]
    count = len(carrying)
    ahead = unit(np.gradient(carrying, axis=1))
    aside = unit(np.cross(ahead, [0.0, 0.0, 1.0]))
    long = np.linalg.norm(carrying[:, -1] - carrying[:, 0], axis=1)[:, None, None]
    swell = np.array([0.18, 0.27, 0.03])[None, :, None] * rng.uniform(0.55, 1.2, (count, 3, 1))
    half = long * swell * (0.45 + 0.25 * snow)
    thick = long * swell * (0.40 + 0.35 * snow) + 0.002
    up = np.array([0.0, 0.0, 1.0])
    droop = 0.35 * half * up
    rows = np.stack(
        [
            carrying - aside * half * rng.uniform(0.7, 1.25, (count, 3, 1)) - droop,
            carrying - aside * half * 0.55 + thick * 0.8 * up,
            carrying + aside * half * 0.5 + thick * up,
            carrying + aside * half * rng.uniform(0.7, 1.25, (count, 3, 1)) - droop,
        ],
        2,
    )  # (n, along 3, across 4, 3)
    vertices = rows.reshape(-1, 3)
    faces = (12 * np.arange(count)[:, None, None] + solids.grid_faces(3, 4)).reshape(-1, 3)
    lean = np.array([-0.8, -0.3, 0.3, 0.8])[None, None, :, None] * aside[:, :, None]
    out = unit(rows * [1, 1, 0]) * 0.35
    normals = unit(lean + up + out).reshape(-1, 3)
    across = np.cross(vertices[faces[:, 1]] - vertices[faces[:, 0]], vertices[faces[:, 2]] - vertices[faces[:, 0]])
    down = across[:, 2] < 0
    faces[down] = faces[down][:, ::-1]
    colours = np.asarray(SNOW) * rng.uniform(0.90, 1.0, (count, 1)).repeat(12, axis=0)
    return [Mesh(vertices, faces, normals, np.clip(colours, 0, 1), LEAF)]
