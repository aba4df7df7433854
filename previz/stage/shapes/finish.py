"""How set pieces are finished: the few materials they share, weathering, snow, and triangles fine enough for light.

Light is baked at corners and blended across a triangle, so a broad face must be cut small before a shadow shows on
it: `subdivided`. Nothing on a set is one flat colour: `weathered` and `mottle` see to that, from a seeded generator.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from previz.errors import PrevizError
from previz.layout import MOST_CUT_OF_A_FILE
from previz.mesh import Array, Material, Mesh
from previz.physics.smooth import smoothstep
from previz.stage.shapes.halving import halved

Colour = tuple[float, float, float]

# Each material is a draw call over the whole set, so pieces share these.
MATT = Material()
LEAF = Material(two_sided=True)
PAINT = Material(gloss=0.5)
GLASS = Material(gloss=1.0)

LONGEST_EDGE = 0.012  # [m] on the table: shadows of vehicles a few centimetres long still have a shape
LONGEST_ON_VEHICLE = 0.006  # [m] the same of a vehicle from a file: what it is of stands close and shades the rest
LONGEST_BAR = 0.026  # [m] the same of rails, posts and bars: too narrow for a shadow on them to have one

# Reflectances below are chosen by eye.
SNOW: Colour = (0.80, 0.83, 0.88)
RUST: Colour = (0.16, 0.055, 0.022)
#: Of all that stands on a set, or all round it. At some 300 bytes each until they are baked, a machine with 8 GB has
#: room for them. `layout` refuses most of what comes to so many before it is built.
MOST_TRIANGLES = 3_000_000

DIRT: Colour = (0.085, 0.068, 0.050)
MOSS: Colour = (0.055, 0.075, 0.028)
STEEL: Colour = (0.36, 0.37, 0.38)
DARK: Colour = (0.016, 0.016, 0.017)


def glowing(rgb: Colour, luminance: float) -> Material:
    """A material that sends out `luminance` [cd/m2] in the colour `rgb` (luminance 1)."""
    red, green, blue = (float(luminance * part) for part in rgb)
    return Material(glow=(red, green, blue))


def subdivided(mesh: Mesh, longest: float = LONGEST_EDGE, most: int | None = None) -> Mesh:
    """The same surface in triangles with no edge longer than `longest` [m].

    Edges are halved, both triangles at an edge alike, so no cracks open. Corners keep their values. Raises PrevizError
    where there would be more than `most` of them, MOST_TRIANGLES unless given.

    >>> from previz.stage.shapes import solids
    >>> cut = subdivided(solids.box((0.04, 0.02, 0.01)), 0.012)
    >>> edges = cut.vertices[cut.faces] - cut.vertices[np.roll(cut.faces, 1, axis=1)]
    >>> bool(np.linalg.norm(edges, axis=2).max() <= 0.012)
    True
    """
    if longest <= 0:
        raise ValueError(f"the longest edge must be above 0 m, not {longest:g} m")
    most = MOST_TRIANGLES if most is None else most
    while True:
        corners = mesh.vertices[mesh.faces]
        steps = corners[:, [1, 2, 0]] - corners
        # Both copies of an edge along a crease must be cut alike, though rounding makes one a little longer.
        cut = np.einsum("fei,fei->fe", steps, steps) > (longest * (1 + 1e-9)) ** 2
        if not cut.any():
            return mesh
        count = len(cut) + int(cut.sum())
        if count > most:
            before = f" with the {MOST_TRIANGLES - most} before it" if most < MOST_TRIANGLES else ""
            raise too_many(f"cut for its light in pieces of {longest * 1000:.3g} mm, a surface has {count}{before}")
        mesh = halved(mesh, cut)


def cut_for_light(
    meshes: Sequence[Mesh], longest: float = LONGEST_EDGE, more: int = MOST_CUT_OF_A_FILE
) -> tuple[Mesh, ...]:
    """Meshes as others made them, with no edge longer than `longest` [m], or as near to that as `more` triangles go.

    CAD programs export a flat side as few long triangles, and light at their corners alone would lie on it in wedges.
    """
    found = tuple(meshes)
    most = sum(len(mesh.faces) for mesh in found) + more
    reach = max((float(_edges(mesh).max(initial=0.0)) for mesh in found), default=0.0)
    for step in reversed(range(math.ceil(math.log2(max(reach / longest, 1.0))))):
        try:
            finer = tuple(subdivided(mesh, longest * 2**step, most) for mesh in found)
        except PrevizError:
            break
        if sum(len(mesh.faces) for mesh in finer) > most:
            break
        found = finer
    return found


def _edges(mesh: Mesh) -> Array:
    """How long each edge of each triangle is. (m, 3) [m]"""
    corners = mesh.vertices[mesh.faces]
    return np.asarray(np.linalg.norm(corners[:, [1, 2, 0]] - corners, axis=2))


def too_many(found: str) -> PrevizError:
    """The refusal of a set that would have more triangles than are built."""
    return PrevizError(
        f"{found} triangles, and at most {MOST_TRIANGLES} are built for a set: fewer, smaller or simpler pieces"
    )


def mottle(points: Array, size: float, rng: np.random.Generator, waves: int = 14) -> Array:
    """Smooth irregular values (n,), mean 0, mostly within -1..1, that change over about `size` [m]."""
    ways = rng.normal(size=(waves, points.shape[1]))
    ways *= (2 * np.pi / size) * rng.uniform(0.35, 1.4, (waves, 1)) / np.linalg.norm(ways, axis=1, keepdims=True)
    values = np.cos(points @ ways.T + rng.uniform(0, 2 * np.pi, waves)).sum(axis=1)
    return np.asarray(values * np.sqrt(1.0 / waves))


def blended(colours: Array, other: Colour, share: Array) -> Array:
    """Colours (n, 3) taken towards `other` by `share` (n,), 0..1."""
    weight = np.clip(share, 0.0, 1.0)[:, None]
    return np.asarray(colours * (1 - weight) + np.asarray(other) * weight)


def weathered(
    mesh: Mesh,
    rng: np.random.Generator,
    unit: float,
    *,
    tone: float = 0.10,
    foot: float = 0.5,
    rise: float = 0.5,
    moss: float = 0.0,
    grain: float = 0.8,
) -> Mesh:
    """The mesh with uneven tone, dirt splashed up from the ground and moss on what looks up.

    Parameters
    ----------
    unit : float
        What one metre full size is on the table. [m]
    tone : float
        How far the tone wanders, as a share.
    foot, rise : float
        Share of dirt at the ground, and how high it reaches. [m full size]
    moss : float
        Share of moss on upward faces and near the ground.
    grain : float
        Size of the patches of tone. [m full size]
    """
    points, up = mesh.vertices, mesh.normals[:, 2]
    patches = 0.6 * mottle(points, grain * unit, rng) + 0.4 * mottle(points, 0.3 * grain * unit, rng)
    colours = mesh.colours * np.exp(tone * patches + 0.4 * tone * rng.normal(size=len(points)))[:, None]
    splash = foot * np.exp(-points[:, 2] / (rise * unit)) * (1 + 0.5 * patches)
    colours = blended(colours, DIRT, splash)
    if moss:
        growth = moss * smoothstep(mottle(points, 0.7 * grain * unit, rng) + 0.8 * up, 0.2, 1.4)
        colours = blended(colours, MOSS, growth)
    return replace(mesh, colours=np.clip(colours, 0.0, 1.0))


def snowed(mesh: Mesh, share: float, rng: np.random.Generator, size: float) -> Mesh:
    """The mesh with `share` of what looks up whitened, in patches of about `size` [m]."""
    if share <= 0:
        return mesh
    lying = mesh.normals[:, 2] + 0.22 * mottle(mesh.vertices, size, rng)
    edge = 1.0 - 0.95 * share
    return replace(mesh, colours=blended(mesh.colours, SNOW, smoothstep(lying, edge - 0.10, edge + 0.10)))


def toned(colour: Colour, rng: np.random.Generator, spread: float = 0.08) -> Colour:
    """The colour a little lighter or darker, warmer or cooler, so that no two parts are quite alike."""
    lift, warmth = rng.normal(0.0, spread), rng.normal(0.0, 0.3 * spread)
    red, green, blue = np.clip(np.asarray(colour) * np.exp([lift + warmth, lift, lift - warmth]), 0.0, 1.0).tolist()
    return (red, green, blue)


def bounds(meshes: Iterable[Mesh]) -> tuple[Array, Array]:
    """Lowest and highest corner (3,) of all meshes. [m]"""
    points = np.concatenate([mesh.vertices for mesh in meshes])
    return points.min(0), points.max(0)


def fitted(meshes: Iterable[Mesh], size: tuple[float, float, float]) -> tuple[Mesh, ...]:
    """The meshes stretched and shifted as one to fill `size` [m], standing on z = 0 and centred in x and y."""
    parts = tuple(meshes)
    low, high = bounds(parts)
    stretch = np.asarray(size) / np.where(high > low, high - low, 1.0)
    middle = np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]])
    return tuple(_stretched(mesh, stretch, middle) for mesh in parts)


def _stretched(mesh: Mesh, stretch: Array, middle: Array) -> Mesh:
    normals = mesh.normals / stretch
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return replace(mesh, vertices=(mesh.vertices - middle) * stretch, normals=normals)


_HALVES = np.array([(0, 1, 2), (0, 2, 3)])  # of a face with four corners


def sheet(corners: Array, colour: Colour, material: Material = MATT) -> Mesh:
    """Flat four-cornered faces, each on its own corners.

    Parameters
    ----------
    corners : (n, 4, 3) float
        Counter-clockwise seen from outside. [m]
    """
    quads = np.asarray(corners, dtype=float).reshape(-1, 4, 3)
    one, other = quads[:, 2] - quads[:, 0], quads[:, 3] - quads[:, 1]
    # Written out: a building has hundreds of small sheets, and np.cross takes three times as long for a few rows.
    across = one[:, [1, 2, 0]] * other[:, [2, 0, 1]] - one[:, [2, 0, 1]] * other[:, [1, 2, 0]]
    sizes = np.sqrt(np.einsum("ni,ni->n", across, across))
    if not sizes.all():  # of what is thinner than can be reckoned with
        across[sizes == 0], sizes[sizes == 0] = (0.0, 0.0, 1.0), 1.0
    across /= sizes[:, None]
    faces = (4 * np.arange(len(quads))[None, :, None] + _HALVES[:, None]).reshape(-1, 3)
    vertices = quads.reshape(-1, 3)
    colours = np.broadcast_to(np.asarray(colour, dtype=float), vertices.shape).copy()
    return Mesh(vertices, faces, np.repeat(across, 4, axis=0), colours, material)
