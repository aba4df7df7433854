"""Convex outlines on the table, and upright prisms over them: how far they overlap, how near points are, what rays hit.

Two convex shapes are apart if and only if some edge of one of them separates them; the least overlap over all edge
directions is how far one would have to move. Source: Ericson, "Real-Time Collision Detection", 2005, 5.2.1.

Outlines are (k, 2) float, counter-clockwise, the first corner not repeated. [m]
"""

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

#: An edge shorter than this has no direction. [m]
_SHORT = 1e-12

#: A ray that leaves a face by less than this, times the face's edge, runs along it. [m]
_PARALLEL = 1e-15

#: So many rays against faces at once: few enough for the processor's cache.
_AT_ONCE = 1 << 16


def hull(points: ArrayLike) -> Array:
    """The convex outline (k, 2) of points (n, 2), counter-clockwise; of points on one line, or one point, its ends.

    >>> hull(np.array([[0, 0], [2, 0], [2, 1], [0, 1], [1, 0.5]])).tolist()
    [[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0]]
    """
    shape = shapely.convex_hull(shapely.multipoints(np.asarray(points, dtype=float)))
    corners = shapely.get_coordinates(shapely.orient_polygons(shape) if shape.geom_type == "Polygon" else shape)
    outline = corners[:-1] if len(corners) > 2 else corners
    return np.roll(outline, -int(np.lexsort(outline.T)[0]), axis=0)


def normals(outline: Array) -> Array:
    """Unit outward normals (k, 2) of the edges of an outline; both axes too for a line or a single point."""
    # Several thousand times a check: numpy's `roll`, `norm` and `stack` would take most of it.
    edges = np.concatenate([outline[1:], outline[:1]]) - outline
    sizes = np.sqrt((edges * edges).sum(axis=1))
    long = sizes > _SHORT
    edges = edges[long] / sizes[long, None]
    if len(edges) <= 2:  # a line or a point also has to be passed along its own direction
        edges = np.concatenate([edges, np.eye(2), edges[:, ::-1] * [1, -1]])
    found = np.empty_like(edges)
    found[:, 0], found[:, 1] = edges[:, 1], -edges[:, 0]
    return found


def depth(one: Array, other: Array) -> float:
    """How far two convex outlines reach into each other; negative where they are apart. [m]

    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    >>> round(depth(square, square + [0.9, 0.2]), 9), round(depth(square, square + [1.5, 0]), 9)
    (0.1, -0.5)
    """
    return depth_along(one, other, np.concatenate([normals(one), normals(other)]))


def depth_along(one: Array, other: Array, axes: Array) -> float:
    """The same by the normals of both (k, 2), for who has them. [m]"""
    a, b = one @ axes.T, other @ axes.T
    return float(np.minimum(a.max(0) - b.min(0), b.max(0) - a.min(0)).min())


def way_clear(one: Array, other: Array) -> Array:
    """The least move (2,) of the other outline that takes it just clear of the one; zero where they are apart. [m]

    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    >>> way_clear(square, square + [0.9, 0.2]).round(9).tolist()
    [0.1, 0.0]
    """
    axes = np.concatenate([normals(one), normals(other), -normals(other)])
    ahead = (one @ axes.T).max(axis=0) - (other @ axes.T).min(axis=0)
    least = int(ahead.argmin())
    return np.asarray(axes[least] * max(float(ahead[least]), 0.0) + 0.0)


def area_over(corners: ArrayLike) -> Array:
    """The outline (k, 2) of an area that is told by two opposite corners of a rectangle, or by all its corners.

    >>> area_over([[0, 2], [3, 0]]).tolist()
    [[0.0, 2.0], [3.0, 2.0], [3.0, 0.0], [0.0, 0.0]]
    """
    outline = np.asarray(corners, dtype=float)
    if len(outline) > 2:
        return outline
    (x0, y0), (x1, y1) = outline.tolist()
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def inside(outline: Array, points: Array) -> NDArray[np.bool_]:
    """Which of `points` (m, 2) lie within an outline, convex or not: an odd number of edges lies to their right.

    >>> inside(np.array([[0, 0], [2, 0], [0, 2.0]]), np.array([[0.5, 0.5], [1.5, 1.5]])).tolist()
    [True, False]
    """
    x, y = points[:, 0, None], points[:, 1, None]
    (ax, ay), (bx, by) = outline.T, np.roll(outline, -1, 0).T
    straddles = (ay > y) != (by > y)
    rise = np.where(by == ay, 1.0, by - ay)
    return np.asarray(np.sum(straddles & (x < ax + (y - ay) / rise * (bx - ax)), 1) % 2 == 1)


def thickness(outline: Array) -> float:
    """The least width of a convex outline. [m]

    >>> thickness(np.array([[0, 0], [3, 0], [3, 1], [0, 1.0]]))
    1.0
    """
    along = outline @ normals(outline).T
    return float(np.ptp(along, axis=0).min())


def thickened(outline: Array, least: float) -> Array:
    """An outline as it is, or grown by half of `least` all round where it is thinner than that. [m]

    >>> thickened(np.array([[0, 0], [0.3, 0.0]]), 0.002).tolist()
    [[-0.001, -0.001], [0.301, -0.001], [0.301, 0.001], [-0.001, 0.001]]
    """
    if thickness(outline) >= least:
        return outline
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * least / 2
    return hull((outline[:, None] + corners).reshape(-1, 2))


def area_within(points: Array, box: tuple[float, float, float, float]) -> float:
    """Area of the convex outline around points (n, 2), as far as it lies in a box: left, low, right, high.

    >>> area_within(np.array([[0.5, 0.5], [2, 0.5], [2, 1], [0.5, 1]]), (0.0, 0.0, 1.0, 1.0))
    0.25
    """
    outline = shapely.convex_hull(shapely.multipoints(points))
    return float(shapely.area(shapely.intersection(outline, shapely.box(*box))))


def from_line(line: Array, outline: Array) -> float:
    """Distance of an outline from a line through points (n, 2); 0 where they meet.

    >>> from_line(np.array([[0.0, 0.0], [1.0, 0.0]]), np.array([[0.2, 0.3], [0.4, 0.3], [0.4, 0.5]]))
    0.3
    """
    return float(shapely.distance(shapely.linestrings(line), shapely.Polygon(outline)))


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

    Examples
    --------
    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    >>> box_depths(np.array([[1.2, 0.5], [2.0, 0.5]]), np.zeros(2), (0.4, 0.1), square).round(9).tolist()
    [0.2, -0.6]
    """
    ahead = np.stack([np.cos(headings), np.sin(headings)], axis=-1)
    left = np.stack([-ahead[:, 1], ahead[:, 0]], axis=-1)
    offset = outline[None] - middles[:, None]
    least = np.full(len(middles), np.inf)
    for way, reach in ((ahead, half[0]), (left, half[1])):
        along = np.einsum("skj,sj->sk", offset, way)
        least = np.minimum(least, reach - np.maximum(along.min(axis=1), -along.max(axis=1)))
    for axis in normals(outline):
        reach = half[0] * np.abs(ahead @ axis) + half[1] * np.abs(left @ axis)
        places, middle = outline @ axis, middles @ axis
        least = np.minimum(least, np.minimum(places.max() - middle, middle - places.min()) + reach)
    return least


def distance_to_prism(points: Array, outline: Array, low: float, high: float) -> Array:
    """Distance (n,) of points (n, 3) from an upright prism; inside it is negative, to the nearest face. [m]

    >>> square = np.array([[-0.1, -0.1], [0.1, -0.1], [0.1, 0.1], [-0.1, 0.1]])
    >>> distance_to_prism(np.array([[0.0, 0.0, 0.02], [0.4, 0.0, 0.05]]), square, 0.0, 0.1).round(9).tolist()
    [-0.02, 0.3]
    """
    ahead, aside = (np.concatenate([outline[1:], outline[:1]]) - outline).T
    sizes = np.maximum(np.sqrt(ahead * ahead + aside * aside), _SHORT)
    # A side to an array, and edges to rows: sums over the last axis of two, and the least of a few columns, are slow.
    x, y = points[:, 0] - outline[:, :1], points[:, 1] - outline[:, 1:]
    within = (x * (aside / sizes)[:, None] + y * (-ahead / sizes)[:, None]).max(axis=0)
    share = np.clip((x * ahead[:, None] + y * aside[:, None]) / (sizes**2)[:, None], 0.0, 1.0)
    x, y = x - share * ahead[:, None], y - share * aside[:, None]
    beside = np.sqrt((x * x + y * y).min(axis=0))
    level = np.where(within <= 0, within, beside)
    upright = np.maximum(low - points[:, 2], points[:, 2] - high)
    outside = np.hypot(np.maximum(level, 0.0), np.maximum(upright, 0.0))
    return np.asarray(outside + np.minimum(np.maximum(level, upright), 0.0))


def prism_entries(origins: Array, directions: Array, outline: Array, low: float, high: float) -> Array:
    """How far along each ray (n,) it comes into an upright prism, in its own lengths; inf where it never does.

    A ray is cut by the planes of the prism's faces, and what is left of it counts (Kay and Kajiya, SIGGRAPH 1986).

    Parameters
    ----------
    origins, directions : (n, 3) float
        A ray runs from origin to origin + direction. [m]

    Examples
    --------
    >>> wall = np.array([[0.45, -0.2], [0.55, -0.2], [0.55, 0.2], [0.45, 0.2]])
    >>> start = np.array([[0.0, 0.0, 0.1]] * 2)
    >>> prism_entries(start, np.array([[0.1, 0, 0], [0, 1.0, 0]]), wall, 0.0, 0.2).round(9).tolist()
    [4.5, inf]
    """
    return entries_into(origins, directions, *(each[None] for each in planes_of(outline, low, high)))[0]


def planes_of(outline: Array, low: float, high: float) -> tuple[Array, Array]:
    """The planes of an upright prism's faces: their ways out (k, 3), of no set length, and where along those they lie
    (k,)."""
    count, following = len(outline), np.concatenate([outline[1:], outline[:1]])
    faces = np.zeros((count + 2, 3))
    faces[:count, 0] = following[:, 1] - outline[:, 1]
    faces[:count, 1] = outline[:, 0] - following[:, 0]
    faces[count:, 2] = 1.0, -1.0
    return faces, np.concatenate([np.einsum("kj,kj->k", faces[:count, :2], outline), [high, -low]])


def entries_into(origins: Array, directions: Array, faces: Array, at: Array) -> Array:
    """How far along each of n rays it comes into each of p prisms, as `prism_entries`, (p, n).

    Parameters
    ----------
    origins, directions : (n, 3) float
        [m]
    faces, at : (p, k, 3) and (p, k) float
        Of each prism what `planes_of` gives.
    """
    count, sides = at.shape
    found = np.empty((count, len(directions)))
    together = max(_AT_ONCE // max(sides * len(directions), 1), 1)
    for part in (slice(start, start + together) for start in range(0, count, together)):
        found[part] = _entered(origins, directions, faces[part], at[part])
    return found


def _entered(origins: Array, directions: Array, faces: Array, at: Array) -> Array:
    # A face to a row: the least and the most over many short columns is found far faster so.
    every, shape = faces.reshape(-1, 3), (*at.shape, len(directions))
    start = (at.reshape(-1, 1) - every @ origins.T).reshape(shape)
    along = (every @ directions.T).reshape(shape)
    leaving, entering = along >= _PARALLEL, along <= -_PARALLEL
    parallel = ~(leaving | entering)
    if parallel.any():
        beside = (parallel & (start < 0)).any(axis=1)
        cut = start / np.where(parallel, 1.0, along)
    else:
        beside, cut = np.False_, start / along
    leaves = np.where(leaving, cut, np.inf).min(axis=1)
    enters = np.where(entering, cut, -np.inf).max(axis=1)
    meets = (enters <= leaves) & (leaves >= 0) & ~beside
    return np.where(meets, np.maximum(enters, 0.0), np.inf)


def crosses_itself(corners: ArrayLike) -> bool:
    """Whether the lines from each of the corners (n, 2) of an area to the next, and back to the first, cross.

    >>> crosses_itself([(0, 0), (2, 0), (2, 1), (0, 1)]), crosses_itself([(0, 0), (2, 1), (2, 0), (0, 1)])
    (False, True)
    >>> crosses_itself([(0, 0), (2, 0), (2, 0), (2, 1), (0, 1), (0, 0)])  # a corner twice, and closed
    False
    """
    return not bool(shapely.is_simple(shapely.linearrings(np.asarray(corners, dtype=float))))
