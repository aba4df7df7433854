"""Convex outlines on the table and how far they overlap, by separating axes.

Two convex shapes are apart if and only if some edge of one of them separates them; the least overlap over all edge
directions is how far one would have to move. Source: Ericson, "Real-Time Collision Detection", 2005, 5.2.1.
"""

import numpy as np

from previz.stage.mesh import Array

_DIRECTIONS = 72
# Turned a little, so that no direction is square to the sides of a box and picks a point amid one.
_TURNS = 2 * np.pi * (np.arange(_DIRECTIONS) + 0.37) / _DIRECTIONS
_WAYS = np.stack([np.cos(_TURNS), np.sin(_TURNS)])


def hull(points: Array) -> Array:
    """The convex outline (k, 2) of points (n, 2), counter-clockwise: the farthest point in each of 72 directions.

    Every corner is one of the points; a corner so blunt that no direction picks it is left out.

    >>> hull(np.array([[0, 0], [2, 0], [2, 1], [0, 1], [1, 0.5]])).tolist()
    [[2.0, 1.0], [0.0, 1.0], [0.0, 0.0], [2.0, 0.0]]
    """
    farthest = np.argmax(_WAYS.T @ np.asarray(points, dtype=float).T, axis=1)
    corners = np.asarray(points, dtype=float)[farthest]
    new = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1) > 1e-12
    return corners[new] if new.any() else corners[:1]


def _normals(outline: Array) -> Array:
    """Unit normals (k, 2) of the edges of an outline (k, 2); both axes for a single point."""
    edges = np.roll(outline, -1, axis=0) - outline
    sizes = np.linalg.norm(edges, axis=1)
    edges = edges[sizes > 1e-12] / sizes[sizes > 1e-12, None]
    if len(edges) <= 2:  # a line or a point also has to be passed along its own direction
        edges = np.concatenate([edges, np.eye(2), edges[:, ::-1] * [1, -1]])
    return np.stack([edges[:, 1], -edges[:, 0]], axis=1)


def depth(one: Array, other: Array) -> float:
    """How far two convex outlines (k, 2) and (m, 2) reach into each other; negative where they are apart. [m]

    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    >>> round(depth(square, square + [0.9, 0.2]), 9), round(depth(square, square + [1.5, 0]), 9)
    (0.1, -0.5)
    """
    axes = np.concatenate([_normals(one), _normals(other)])
    a, b = one @ axes.T, other @ axes.T
    return float(np.minimum(a.max(0) - b.min(0), b.max(0) - a.min(0)).min())


def thickness(outline: Array) -> float:
    """The least width of a convex outline. [m]"""
    along = outline @ _normals(outline).T
    return float(np.ptp(along, axis=0).min())


def box_depths(middles: Array, headings: Array, half: tuple[float, float], outline: Array) -> Array:
    """How far each of s boxes reaches into a convex outline; negative where apart, (s,). [m]

    Parameters
    ----------
    middles : (s, 2) float
        [m]
    headings : (s,) float
        Counter-clockwise from +x. [rad]
    half : (2,) float
        Half the length along the heading, half the width across. [m]
    outline : (k, 2) float
    """
    ahead = np.stack([np.cos(headings), np.sin(headings)], axis=-1)
    left = np.stack([-ahead[:, 1], ahead[:, 0]], axis=-1)
    offset = outline[None] - middles[:, None]
    least = np.full(len(middles), np.inf)
    for way, reach in ((ahead, half[0]), (left, half[1])):
        along = np.einsum("skj,sj->sk", offset, way)
        least = np.minimum(least, reach - np.maximum(along.min(axis=1), -along.max(axis=1)))
    for axis in _normals(outline):
        reach = half[0] * np.abs(ahead @ axis) + half[1] * np.abs(left @ axis)
        places, middle = outline @ axis, middles @ axis
        least = np.minimum(least, np.minimum(places.max() - middle, middle - places.min()) + reach)
    return least
