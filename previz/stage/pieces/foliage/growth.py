"""What growing things are made of: blades, branches, clumps of leaves."""

import numpy as np

from previz.mesh import Array, Mesh, joined
from previz.stage.shapes import solids
from previz.stage.shapes.finish import LEAF, Colour, mottle

BARK: Colour = (0.075, 0.058, 0.043)

Branch = tuple[Array, Array]  # points (k, 3) [m], radii (k,) [m]


def unit(vectors: Array) -> Array:
    """Vectors (..., 3) at length 1."""
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-12))


def blades(corners: Array, normals: Array, colours: Array) -> Mesh:
    """Separate triangles (n, 3, 3) with a normal and a colour at every corner."""
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
    return [joined(cores), blades(corners, corner_normals, colours)]


def _leaf_corners(places: Array, normals: Array, size: Array, rng: np.random.Generator) -> Array:
    """A pointed triangle about each place, roughly across its normal but well turned out of that plane."""
    face = unit(normals + rng.normal(0, 0.55, normals.shape))
    right = unit(np.cross(face, rng.normal(size=face.shape)))
    ahead = np.cross(face, right)
    wide = (size * rng.uniform(0.30, 0.50, len(size)))[:, None]
    long = size[:, None]
    tip = places + 0.6 * ahead * long + np.array([0, 0, -0.2]) * long
    return np.stack([places - right * wide - 0.4 * ahead * long, places + right * wide - 0.3 * ahead * long, tip], 1)
