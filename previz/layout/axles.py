"""Where a wheel that is part of a mesh file turns: worked out from its shape alone."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.mesh import Mesh
from previz.physics.overlap import hull

Array = NDArray[np.float64]

#: How far an outline may be from a circle, by its radius, root of the mean square: an even eight-sided wheel is 0.025
#: off, a six-sided one 0.045.
_ROUND = 0.035

_THIN = 0.3  # what thickness counts for beside roundness, where both say where the axle lies
_STRAIGHT = np.radians(1.5)  # an axle so near to an axis of the file is meant to lie along it
_STEPS = 8  # points looked at along each side of an outline
_WIDEST, _FINEST = np.radians(8.0), np.radians(0.1)  # how far an axis of the surface is tilted to look for the axle


@dataclass(frozen=True)
class Axle:
    """What a wheel turns about.

    Parameters
    ----------
    centre : (3,) float
        Of the wheel. [m]
    way : (3,) float
        Along the axle, of length 1; either way.
    radius : float
        Of the wheel. [m]
    """

    centre: Array
    way: Array
    radius: float


def axle_of(meshes: tuple[Mesh, ...], name: str) -> Axle:
    """The axle about which some meshes, one wheel, are round.

    Of the axes of the surface, tilted to fit, it is the one along which they look most like a disc. The middle is that
    of the circle which fits the outline best, by least squares (Kasa 1976, doi 10.1109/TIM.1976.6312298).

    Raises PrevizError where they are round about none; `name` is what to call them.

    >>> turn = np.arange(24) * np.pi / 12
    >>> rim = np.column_stack([np.cos(turn) + 3, np.zeros(24), np.sin(turn) + 1])
    >>> corners = np.concatenate([rim, rim + [0, 0.4, 0]])
    >>> faces = np.array([[k, (k + 1) % 24, 24 + k] for k in range(24)])
    >>> axle = axle_of((Mesh(corners, faces, corners, corners),), "wheel")
    >>> np.abs(axle.way).round(6).tolist(), axle.centre.round(6).tolist(), round(axle.radius, 6)
    ([0.0, 1.0, 0.0], [3.0, 0.2, 1.0], 1.0)
    """
    triangles = np.concatenate([mesh.vertices[mesh.faces] for mesh in meshes])
    points = np.unique(triangles.reshape(-1, 3), axis=0)
    looks = sorted((_seen_along(way, points) for way in _axes(triangles)), key=lambda each: each.off)
    found = min((_turned_to_fit(each, points) for each in looks[:2]), key=lambda each: each.off)
    straight = np.eye(3)[np.argmax(np.abs(found.way))]  # an axis of the file is exact
    if abs(found.way @ straight) > np.cos(_STRAIGHT):
        found = _seen_along(straight, points)
    off, way = found.off, found.way
    if off > _ROUND:
        share = 100 * min(off, 1)
        raise PrevizError(
            f"the node {name!r} is not round about any axle: its outline is off a circle by {share:.0f} % of its "
            "radius; name a node that holds one wheel and nothing else"
        )
    along = points @ way
    centre = found.middle @ _across(way) + (along.min() + along.max()) / 2 * way
    return Axle(np.asarray(centre), way, found.radius)


@dataclass(frozen=True)
class _Seen:
    """Looked at along a way: middle (2,) and radius of the outline's circle, how far off it that is; how thick."""

    way: Array
    middle: Array
    radius: float
    off: float
    thick: float


def _seen_along(way: Array, points: Array) -> _Seen:
    outline, thick = hull(points @ _across(way).T), float(np.ptp(points @ way))
    if len(outline) < 3:
        return _Seen(way, np.zeros(2), 1.0, np.inf, thick)
    return _Seen(way, *_circle(outline), thick)


def _across(way: Array) -> Array:
    """Two ways (2, 3) square to one and to each other."""
    return np.asarray(np.linalg.svd(way[None, :])[2][1:])


def _turned_to_fit(seen: _Seen, points: Array) -> _Seen:
    """Tilted a little, and less and less, as long as that makes it more of a disc.

    A tilted disc is thicker, a tilted roller less round: together they are least along the axle.
    """
    size = 2 * seen.radius / _THIN

    def cost(look: _Seen) -> float:
        return look.off + look.thick / size

    tilt = _WIDEST
    while tilt > _FINEST:
        ways = [np.cos(tilt) * seen.way + sign * np.sin(tilt) * side for side in _across(seen.way) for sign in (-1, 1)]
        best = min((_seen_along(way, points) for way in ways), key=cost)
        if cost(best) < cost(seen):
            seen = best
        else:
            tilt /= 2
    return seen


def _axes(triangles: Array) -> Iterator[Array]:
    """Of a surface (m, 3, 3): the axes of its second moment, that of least extent first."""
    area = np.linalg.norm(np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]), axis=1)
    middle = (area @ triangles.mean(axis=1)) / max(area.sum(), 1e-300)
    corners = triangles - middle
    three = corners.sum(axis=1)
    moment = np.einsum("m,mki,mkj->ij", area, corners, corners) + np.einsum("m,mi,mj->ij", area, three, three)
    yield from np.linalg.eigh(moment)[1].T


def _circle(outline: Array) -> tuple[Array, float, float]:
    """Middle (2,), radius and how far off, by the radius, of the circle through a convex outline (k, 2)."""
    share = np.arange(_STEPS)[:, None, None] / _STEPS
    points = (outline * (1 - share) + np.roll(outline, -1, axis=0) * share).reshape(-1, 2)
    # By the length that each stands for: an outline has many corners where its mesh has.
    lengths = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1)
    weight = np.sqrt(np.tile(lengths, _STEPS) / lengths.sum())
    shift = points.mean(axis=0)
    near = points - shift
    system = np.column_stack([2 * near, np.ones(len(near))]) * weight[:, None]
    (x, y, c), *_ = np.linalg.lstsq(system, (near**2).sum(axis=1) * weight, rcond=None)
    middle = np.array([x, y])
    away = np.linalg.norm(near - middle, axis=1)
    size = float(np.sqrt(max(c + x * x + y * y, 1e-300)))
    off = float(np.sqrt(((away - size) ** 2 * weight**2).sum() / (weight**2).sum())) / size
    return middle + shift, float(np.linalg.norm(outline - shift - middle, axis=1).max()), off
