"""Foam as model trees are covered with it: lobes with the relief of crumbs, and loose crumbs that fray their outline.

A lobe is a coarse irregular ball. Its fine relief is a picture, made here from a fixed seed, that darkens the gaps
between crumbs: at the size of a crumb, triangles would cost fifty times as many.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from previz.light import Occluders, floats
from previz.mesh import Array, Mesh, joined
from previz.physics.colour import srgb_encoded
from previz.stage.pieces.foliage.growth import blades, unit
from previz.stage.shapes.finish import MATT, Colour, mottle

_PIXELS = 256  # of a picture, each way
_LOOKS = 10  # rays from a face that find out whether anything sees it


@dataclass(frozen=True)
class Lobes:
    """Lobes of foam: middles (n, 3) and radii (n, 3) along x, y and z [m], and each one's tone (n,)."""

    middles: Array
    radii: Array
    tones: Array


@cache
def crumbs_picture() -> NDArray[np.uint8]:
    """Ground foam from near by: crumbs, each its own tone, dark between them. (256, 256, 3), going round at edges."""
    rng = np.random.default_rng(171)
    near, second, which = _cells(rng.uniform(0, 1, (520, 2)))
    gap = np.clip((second - near) * 520**0.5 / 0.60, 0, 1)
    deep = rng.uniform(0, 1, 520) ** 1.2  # some crumbs lie behind the rest
    tone = (0.14 + 0.86 * gap**0.7) * (1.0 - 0.72 * deep[which])
    hue = rng.normal(0, 0.09, (520, 1)) * np.array([1.2, 0.3, -0.8])
    return _encoded(tone[..., None] * np.exp(hue[which]))


@cache
def cells_picture() -> NDArray[np.uint8]:
    """Open-cell sponge from near by: torn pores of many sizes, dark inside. (256, 256, 3), going round at its edges."""
    rng = np.random.default_rng(172)
    level = np.ones((_PIXELS, _PIXELS))
    for count, depth in ((260, 0.80), (1000, 0.62), (3000, 0.40)):
        near, _, which = _cells(rng.uniform(0, 1, (count, 2)), torn=0.30 / count**0.5)
        size = rng.uniform(0.06, 0.52, count)[which]
        pore = np.clip(1.0 - near * count**0.5 / size, 0, 1)
        level *= 1 - depth * np.minimum(1.8 * pore, 1.0)
    level *= np.exp(0.20 * rng.normal(size=level.shape))
    return _encoded(np.repeat(level[..., None], 3, axis=2))


def _cells(points: Array, torn: float = 0.0) -> tuple[Array, Array, NDArray[np.intp]]:
    """At every pixel: how far the nearest and the second nearest of points in a unit square that goes round, and which.

    `torn`: how far pixels are put off, in waves, so that no outline is round.
    """
    from scipy.spatial import cKDTree  # here: a set kept on disk need not wait for it

    places = (np.arange(_PIXELS) + 0.5) / _PIXELS
    x, y = np.meshgrid(places, places)
    off = [
        sum(np.sin(2 * np.pi * (k * x + m * y) + 5 * k) for k, m in ways)
        for ways in (((17, 9), (-8, 23), (31, -5)), ((11, -19), (27, 14), (-3, 35)))
    ]
    grid = np.stack([x, y], axis=-1) + torn * np.stack(off, axis=-1)
    far, which = cKDTree(points, boxsize=1.0).query(grid % 1.0, k=2)
    return far[..., 0], far[..., 1], which[..., 0]


def _encoded(tones: Array) -> NDArray[np.uint8]:
    """Linear tones as a picture whose mean is half of full."""
    return np.round(255 * srgb_encoded(np.clip(0.5 * tones / tones.mean(), 0, 1))).astype(np.uint8)


@cache
def _balls() -> tuple[tuple[Array, NDArray[np.int64]], ...]:
    """Spheres of 12 and of 42 corners."""
    from scipy.spatial import ConvexHull  # here: as above

    golden = (1 + 5**0.5) / 2
    corners = [(0.0, s, t * golden) for s in (-1.0, 1.0) for t in (-1.0, 1.0)]
    coarse = unit(np.array([c[k:] + c[:k] for k in range(3) for c in corners]))
    middles = [coarse[a] + coarse[b] for a in range(12) for b in range(a) if coarse[a] @ coarse[b] > 0.4]
    found = []
    for points in (coarse, unit(np.concatenate([coarse, middles]))):
        faces = ConvexHull(points).simplices.astype(np.int64)
        a, b, c = (points[faces[:, k]] for k in range(3))
        inward = np.einsum("ni,ni->n", np.cross(b - a, c - a), a) < 0
        faces[inward] = faces[inward][:, ::-1]
        found.append((points, faces))
    return tuple(found)


def foam(lobes: Lobes, colour: Colour, rng: np.random.Generator, cover: float, fray: int, crumb: float) -> Mesh:
    """Lobes of foam with frayed outlines.

    Parameters
    ----------
    cover : float
        Side of the square of foam that the picture shows. [m]
    fray : int
        Loose crumbs in all.
    crumb : float
        Mean length of one. [m]
    """
    weight = lobes.radii.prod(axis=1)
    heart = np.average(lobes.middles, axis=0, weights=weight) - [0, 0, 0.1 * np.ptp(lobes.middles[:, 2])]
    large = lobes.radii.mean(axis=1)
    large = large > 0.7 * large.max()
    skins = [_skin(lobes, k, _balls()[int(large[k])], heart, cover, rng) for k in range(len(lobes.middles))]
    skin = joined(skins)
    points, normals = skin.vertices, skin.normals
    owner = np.repeat(np.arange(len(skins)), [len(each.vertices) for each in skins])
    # Foam darkens towards the heart of the crown, where sprays of lighter crumbs do not reach.
    out = np.linalg.norm((points - heart) / np.ptp(points, axis=0), axis=1)
    tones = lobes.tones[owner] * (0.55 + 0.90 * out) * (0.94 + 0.14 * normals[:, 2])
    tones = tones * np.exp(rng.normal(0, 0.10, len(points)))
    hue = np.exp(rng.normal(0, 0.05, (len(skins), 1)) * np.array([1.4, 0.2, -0.8]))[owner]
    colours = np.clip(2.0 * np.asarray(colour) * tones[:, None] * hue, 0, 1)
    faces = skin.faces[_shown(points, skin.faces, len(skins))]
    used, back = np.unique(faces, return_inverse=True)
    assert skin.uv is not None
    shown = Mesh(points[used], back.reshape(-1, 3), normals[used], colours[used], MATT, skin.uv[used], skin.image)
    return frayed(shown, rng, fray, crumb)


def _skin(
    lobes: Lobes, k: int, shape: tuple[Array, NDArray[np.int64]], heart: Array, cover: float, rng: np.random.Generator
) -> Mesh:
    """One lobe, not yet coloured."""
    ball, faces = shape
    middle, radii = lobes.middles[k], lobes.radii[k]
    outwards = unit(middle - heart + [0, 0, 1e-6])
    turned = ball @ _turn_onto(outwards, rng).T
    swell = 1 + 0.10 * mottle(turned, 0.9, rng, 8) + rng.uniform(-0.16, 0.16, len(ball))
    points = middle + turned * radii * swell[:, None]
    normals = unit(0.85 * turned / radii * radii.mean() + 0.25 * unit(points - heart))
    # Equal areas about the way out; where the picture is stretched, the lobe is grown into others.
    flat = ball[:, :2] / np.maximum(np.hypot(*ball[:, :2].T), 1e-9)[:, None]
    flat = flat * (2 * np.sin(np.arccos(np.clip(ball[:, 2], -1, 1)) / 2))[:, None]
    reach = min(radii.mean() / cover, 0.245)
    at = rng.uniform(2 * reach, 1 - 2 * reach, 2)
    return Mesh(points, faces, normals, np.ones_like(points), MATT, at + reach * flat, crumbs_picture())


def _turn_onto(way: Array, rng: np.random.Generator) -> Array:
    """A rotation that takes z onto a way, turned about it at random."""
    right = unit(np.cross(way, rng.normal(size=3)))
    return np.stack([right, np.cross(way, right), way], axis=1)


def _shown(points: Array, faces: NDArray[np.int64], seed: int) -> NDArray[np.bool_]:
    """Which faces (m,) see anything of the world outside: of `_LOOKS` rays off their front, one that gets away."""
    a, b, c = (points[faces[:, k]] for k in range(3))
    front = unit(np.cross(b - a, c - a))
    rng = np.random.default_rng([seed, 173])
    ways = unit(front[:, None] + 0.95 * unit(rng.normal(size=(len(faces), _LOOKS, 3))))
    size = float(np.ptp(points, axis=0).max())
    starts = ((a + b + c) / 3 + 1e-4 * size * front).repeat(_LOOKS, axis=0)
    clear = Occluders(points, faces).clear(floats(starts), floats(ways.reshape(-1, 3)), 2 * size)
    return np.asarray(clear.reshape(-1, _LOOKS).any(axis=1))


def frayed(
    skin: Mesh, rng: np.random.Generator, count: int, crumb: float, within: tuple[Array, Array] | None = None
) -> Mesh:
    """A skin of foam with loose crumbs on it, small triangles that stand off it every way.

    `crumb`: mean length [m]; `within`: lowest and highest corner (3,) of a box that none leaves [m].

    They are lit as the skin is, not as leaves are: leaves share what they see of a lamp with their neighbours, and
    those of a crumb lie within the foam.
    """
    assert skin.uv is not None
    a, b, c = (skin.vertices[skin.faces[:, k]] for k in range(3))
    sizes = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    on = rng.choice(len(sizes), count, p=sizes / sizes.sum())
    # None over a corner of the skin: in its shade, all faces there would be dark.
    share = 0.6 * rng.dirichlet([1.0, 1.0, 1.0], count) + 0.4 / 3
    of_skin = (skin.vertices, skin.normals, skin.colours)
    places, normals, colours = (np.einsum("nk,nki->ni", share, each[skin.faces[on]]) for each in of_skin)
    normals = unit(normals)
    long = crumb * rng.uniform(0.4, 1.6, (count, 1))
    way = unit(normals * rng.uniform(0.2, 1.4, (count, 1)) + rng.normal(0, 0.7, (count, 3)))
    side = unit(np.cross(way, rng.normal(size=(count, 3)))) * long * rng.uniform(0.30, 0.60, (count, 1))
    foot = places + rng.uniform(0.05, 0.45, (count, 1)) * long * way
    corners = np.stack([foot - side, foot + side, foot + way * long], axis=1)
    # A last dusting is lighter than the foam, and stays lying on what looks up.
    dusted = 1 + 0.35 * np.clip(normals[:, 2], 0, 1)[:, None, None]
    tones = dusted * np.exp(rng.normal(0.0, 0.28, (count, 1, 1))) * np.array([0.75, 0.85, 1.30])[None, :, None]
    tint = np.exp(rng.normal(0, 0.06, (count, 1, 1)) * np.array([1.3, 0.3, -0.8]))
    shading = unit(normals[:, None] + rng.normal(0, 0.25, (count, 1, 3))).repeat(3, axis=1)
    if within is not None:
        low, high = within
        corners -= (
            np.maximum(corners.max(axis=1) - high, 0)[:, None] + np.minimum(corners.min(axis=1) - low, 0)[:, None]
        )
    return joined([skin, on_picture(blades(corners, shading, colours[:, None] * tones * tint), skin, rng)])


def on_picture(loose: Mesh, skin: Mesh, rng: np.random.Generator) -> Mesh:
    """Loose triangles, each with a bit of the picture that a skin has; their colours are such as are under a picture.

    They are lit as what they lie on, a little as they lie themselves.
    """
    a, b, c = (loose.vertices[loose.faces[:, k]] for k in range(3))
    normals = loose.normals.copy()
    normals[loose.faces] += 0.4 * unit(np.cross(b - a, c - a))[:, None]
    at = rng.uniform(0.02, 0.98, (len(loose.faces), 1, 2))
    uv = (at + 0.01 * np.array([[-1.0, -1.0], [1.0, -1.0], [0.0, 1.0]])).reshape(-1, 2)
    return replace(loose, normals=unit(normals), material=skin.material, uv=uv, image=skin.image)
