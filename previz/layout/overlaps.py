"""How far upright boxes reach into each other, seen from above, by separating axes.

Two rectangles are apart if and only if a side of one of them separates them; the least overlap along the four
directions of their sides is how far one would have to move. Source: Ericson, "Real-Time Collision Detection", 2005,
5.2.1. The stage has the same for whole outlines of its models (`stage/shapes/convex.py`); neither uses the other.
"""

import math

import numpy as np
from numpy.typing import NDArray

from previz.layout.outlines import Box
from previz.physics.paths import Curve

Array = NDArray[np.float64]

#: Between the places at which the way of a vehicle is looked at. [m]
STATION = 0.004


def depths(rectangles: Array, other: Array) -> Array:
    """How far each of many rectangles reaches into another; negative where apart, (s,). [m]

    Parameters
    ----------
    rectangles : (s, 4, 2) float
        Corners in order. [m]
    other : (4, 2) float

    Examples
    --------
    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    >>> depths(np.stack([square + [0.9, 0.2], square + [1.5, 0]]), square).round(9).tolist()
    [0.1, -0.5]
    """
    sides = other[1:3] - other[:2]
    own = rectangles[:, 1:3] - rectangles[:, :2]
    axes = np.concatenate([np.broadcast_to(sides, own.shape), own], axis=1)
    axes = axes / np.linalg.norm(axes, axis=2, keepdims=True)
    a = np.einsum("skj,saj->ska", rectangles, axes)
    b = np.einsum("kj,saj->ska", other, axes)
    either = np.minimum(a.max(axis=1) - b.min(axis=1), b.max(axis=1) - a.min(axis=1))
    return np.asarray(either.min(axis=1))


def way_of(path: Curve, start: float, length: float, width: float) -> Array:
    """The rectangles (s, 4, 2) that a vehicle stands on at close stations along a path, from `start` to its end. [m]"""
    stations = np.linspace(start, path.length, max(math.ceil((path.length - start) / STATION), 1) + 1)
    middles, headings = path.at(stations), path.heading(stations)
    ahead = np.stack([np.cos(headings), np.sin(headings)], axis=-1) * length / 2
    left = np.stack([-np.sin(headings), np.cos(headings)], axis=-1) * width / 2
    return np.stack([middles - ahead - left, middles + ahead - left, middles + ahead + left, middles - ahead + left], 1)


def room_inside(points: Array, box: Box) -> Array:
    """Distance of points (n, 3) from a box, negative inside: how far the nearest face is. (n,) [m]

    >>> box = Box("a", "wall", (0.0, 0.0, 0.0), (0.2, 0.2, 0.1))
    >>> room_inside(np.array([[0.0, 0.0, 0.02], [0.4, 0.0, 0.05]]), box).round(9).tolist()
    [-0.02, 0.3]
    """
    c, s = math.cos(box.turn), math.sin(box.turn)
    local = (points - np.array(box.at)) @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    local[:, 2] -= box.size[2] / 2
    beyond = np.abs(local) - np.array(box.size) / 2
    return np.asarray(np.linalg.norm(np.maximum(beyond, 0.0), axis=1) + np.minimum(beyond.max(axis=1), 0.0))
