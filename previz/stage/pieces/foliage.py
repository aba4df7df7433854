"""Growing things: conifers, leafy and bare trees, bushes, tufts of grass, felled logs.

Leaves and needles are loose two-sided triangles. Their normals do not follow the triangle but lean outwards from the
crown, so that light wraps over the tree as over a soft body and inner leaves darken by what covers them.
"""

from dataclasses import replace

import numpy as np

from previz.physics.smooth import smoothstep
from previz.stage.mesh import Array, Mesh
from previz.stage.shapes import solids
from previz.stage.shapes.finish import LEAF, MATT, SNOW, Colour, blended, fitted, mottle, snowed, weathered

BARK: Colour = (0.075, 0.058, 0.043)
CONIFER_SPREAD = 0.46  # width over height, common practice, no source
BROADLEAF_SPREAD = 0.82
BUSH_SPREAD = 1.25
TUFT_SPREAD = 0.9
LOG_LENGTH = 5.5  # over the diameter

Branch = tuple[Array, Array]  # points (k, 3) [m], radii (k,) [m]


def unit(vectors: Array) -> Array:
    """Vectors (..., 3) at length 1."""
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-12))


def blades(corners: Array, normals: Array, colours: Array) -> Mesh:
    """Loose triangles (n, 3, 3) with a normal and a colour at every corner."""
    points = corners.reshape(-1, 3)
    faces = np.arange(len(points)).reshape(-1, 3)
    # Wind each triangle so that its front is the side its normals are on.
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    away = np.sum(across * normals.sum(1), axis=1) < 0
    faces[away] = faces[away][:, ::-1]
    return Mesh(points, faces, unit(normals).reshape(-1, 3), np.clip(colours, 0, 1).reshape(-1, 3), LEAF)


def limb(points: Array, radii: Array, sides: int = 5) -> Mesh:
    """A tapering round branch along points (k, 3) with radii (k,), open at the tip when its radius is 0. [m]"""
    along = unit(np.gradient(points, axis=0))
    right = unit(np.cross(along[0], np.eye(3)[np.argmin(np.abs(along[0]))]))
    angles = 2 * np.pi * np.arange(sides) / sides
    rings = []
    for point, way, radius in zip(points, along, radii, strict=True):
        right = unit(right - way * (right @ way))
        around = np.cos(angles)[:, None] * right + np.sin(angles)[:, None] * np.cross(way, right)
        rings.append(point + radius * around)
    return solids.loft(np.stack(rings), crease=80.0)


# --- conifer ---


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
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(2), np.arange(3), indexing="ij"))
    a, b = i * 4 + j, i * 4 + j + 1
    cell = np.concatenate([np.stack([a, a + 4, b + 4], 1), np.stack([a, b + 4, b], 1)])
    faces = (12 * np.arange(count)[:, None, None] + cell).reshape(-1, 3)
    lean = np.array([-0.8, -0.3, 0.3, 0.8])[None, None, :, None] * aside[:, :, None]
    out = unit(rows * [1, 1, 0]) * 0.35
    normals = unit(lean + up + out).reshape(-1, 3)
    across = np.cross(vertices[faces[:, 1]] - vertices[faces[:, 0]], vertices[faces[:, 2]] - vertices[faces[:, 0]])
    down = across[:, 2] < 0
    faces[down] = faces[down][:, ::-1]
    colours = np.asarray(SNOW) * rng.uniform(0.90, 1.0, (count, 1)).repeat(12, axis=0)
    return [Mesh(vertices, faces, normals, np.clip(colours, 0, 1), LEAF)]


# --- broadleaf ---


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
    bark = solids.coloured(as_one(wood), BARK, MATT)
    parts = [weathered(bark, rng, 1 / 10, tone=0.22, foot=0.15, moss=0.3)]
    if bare:
        parts.append(_twigs(branches[1:], rng, max(2, round(7 * detail))))
    else:
        parts += clumps(targets, rng.uniform(0.085, 0.13, len(targets)), colour, rng, round(2150 * detail), 0.030)
    return fitted(parts, (BROADLEAF_SPREAD * height, BROADLEAF_SPREAD * height, height))


def as_one(meshes: list[Mesh]) -> Mesh:
    """Meshes of one material joined into one."""
    starts = np.cumsum([0] + [len(mesh.vertices) for mesh in meshes[:-1]])
    return replace(
        meshes[0],
        vertices=np.concatenate([mesh.vertices for mesh in meshes]),
        normals=np.concatenate([mesh.normals for mesh in meshes]),
        colours=np.concatenate([mesh.colours for mesh in meshes]),
        faces=np.concatenate([mesh.faces + start for mesh, start in zip(meshes, starts, strict=True)]),
    )


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


def clumps(
    middles: Array, radii: Array, colour: Colour, rng: np.random.Generator, count: int, leaf: float
) -> list[Mesh]:
    """Leaf clumps: a dim lumpy core each, so that the crown is not see-through, and leaves standing off it.

    Parameters
    ----------
    middles, radii : (n, 3), (n,) float
        [m]
    count : int
        Leaves in all.
    leaf : float
        Mean leaf length: a spray at model scale, not one botanical leaf. [m]
    """
    centre = middles.mean(0) - [0, 0, 0.25 * np.ptp(middles[:, 2])]
    clump_tone = np.exp(rng.normal(0, 0.13, len(middles)))
    clump_hue = rng.normal(0, 0.7, len(middles))
    sphere = solids.ball(1.0, 6)
    cores = []
    for middle, radius, tone in zip(middles, radii, clump_tone, strict=True):
        swell = 0.58 + 0.12 * mottle(sphere.vertices + 9 * middle, 1.2, rng)
        points = middle + sphere.vertices * (swell * radius)[:, None] * [1.1, 1.1, 0.8]
        normals = unit(0.6 * sphere.normals + 0.5 * unit(points - centre))
        shade = 0.30 + 0.12 * sphere.normals[:, 2] + 0.10 * rng.normal(size=len(points))
        tints = np.clip(np.asarray(colour) * (tone * shade)[:, None], 0.0, 1.0)
        cores.append(Mesh(points, sphere.faces, normals, tints, LEAF))
    owner = rng.choice(len(middles), count, p=radii**2 / np.sum(radii**2))
    out = unit(rng.normal(size=(count, 3)) + [0, 0, 0.3] + 0.7 * unit(middles - centre)[owner])
    places = middles[owner] + out * (radii[owner] * rng.uniform(0.66, 1.08, count))[:, None] * [1.1, 1.1, 0.82]
    normals = unit(0.65 * out + 0.45 * unit(places - centre) + np.array([0, 0, 0.15]))
    corners = _leaf_corners(places, normals, leaf * rng.uniform(0.6, 1.35, count), rng)
    corner_normals = unit(normals[:, None] + rng.normal(0, 0.20, (count, 1, 3))).repeat(3, axis=1)
    tone = (0.86 + 0.26 * out[:, 2]) * clump_tone[owner] * np.exp(rng.normal(0, 0.20, count))
    hue = np.exp(np.array([0.15, 0.0, -0.10]) * (rng.normal(0, 0.8, count) + clump_hue[owner])[:, None])
    colours = (np.asarray(colour) * hue * tone[:, None])[:, None] * np.array([0.80, 0.90, 1.20])[None, :, None]
    return [as_one(cores), blades(corners, corner_normals, colours)]


def _leaf_corners(places: Array, normals: Array, size: Array, rng: np.random.Generator) -> Array:
    """A pointed triangle about each place, roughly across its normal but well turned out of that plane."""
    face = unit(normals + rng.normal(0, 0.55, normals.shape))
    right = unit(np.cross(face, rng.normal(size=face.shape)))
    ahead = np.cross(face, right)
    wide = (size * rng.uniform(0.30, 0.50, len(size)))[:, None]
    long = size[:, None]
    tip = places + 0.6 * ahead * long + np.array([0, 0, -0.2]) * long
    return np.stack([places - right * wide - 0.4 * ahead * long, places + right * wide - 0.3 * ahead * long, tip], 1)


# --- low growth ---


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
        [*above, solids.coloured(as_one(stems), BARK, MATT)], (BUSH_SPREAD * height, BUSH_SPREAD * height, height)
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
