"""Meshes with far more triangles than show, cut down: a scan of a stone has a million, and is a hand wide on screen.

libigl does it, and is imported only when there is something to cut down.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]

#: Corners this near to each other, by the size of the whole, are one.
_SAME = 1e-6

#: How far from its corner towards the middle of a triangle its picture is looked at.
_INWARDS = 0.1


@dataclass(frozen=True)
class Simplified:
    """What is left of a surface.

    Parameters
    ----------
    vertices : (n, 3) float
    faces : (m, 3) int
    origin : (n,) int
        For each corner the old one that it was, to take a colour from.
    uv : (m, 3, k) float or None
        Texture coordinates of each triangle's corners: at a seam two triangles have other ones at the same corner.
    normals : (m, 3, 3) float or None
        The same way.
    """

    vertices: Array
    faces: Numbers
    origin: Numbers
    uv: Array | None
    normals: Array | None = None


def simplified(
    vertices: Array, faces: Numbers, uv: Array | None, count: int, normals: Array | None = None
) -> Simplified:
    """At most `count` triangles of much the same surface, where its shape allows.

    Parameters
    ----------
    vertices : (n, 3) float
    faces : (m, 3) int
        Counter-clockwise from outside. Corners of one place count as one, whatever their numbers.
    uv : (n, k) float or None
    normals : (n, 3) float or None

    Source: Garland and Heckbert 1997, Surface simplification using quadric error metrics, doi 10.1145/258734.258849,
    as libigl has it.
    """
    import igl

    first, joined = _joined(vertices, faces)
    whole = (joined != np.roll(joined, 1, axis=1)).all(axis=1)
    old, corners = faces[whole], joined[whole]
    first, corners = _apart(first, corners)
    places = np.asfortranarray(vertices[first])
    left, sides, _, was = igl.qslim(places, np.asfortranarray(corners, dtype=np.int32), count)
    if uv is not None:
        uv = _mapped(vertices, uv, old, left[sides])
    if normals is not None:
        normals = _turned(vertices, normals, old, left[sides])
    return Simplified(np.ascontiguousarray(left), np.asarray(sides, dtype=np.int64), first[was], uv, normals)


def _mapped(vertices: Array, uv: Array, old: Numbers, corners: Array) -> Array:
    """Texture coordinates (m, 3, k) of triangles with these corners (m, 3, 3): as the old triangles had them there.

    A corner looks a little inwards, for at a seam two triangles differ. A triangle that spans a seam goes on as the old
    one at its middle does, or it would hold the whole width of the picture.
    """
    middle = corners.mean(axis=1, keepdims=True)
    there = _read_off(vertices, uv, old, corners, corners + _INWARDS * (middle - corners))
    goes_on = _read_off(vertices, uv, old, corners, np.broadcast_to(middle, corners.shape))
    size = np.linalg.norm(np.ptp(goes_on, axis=1), axis=-1)
    spans = (np.linalg.norm(there - goes_on, axis=-1) > size[:, None]).any(axis=1)
    return np.where(spans[:, None, None], goes_on, there)


def _turned(vertices: Array, normals: Array, old: Numbers, corners: Array) -> Array:
    """Normals (m, 3, 3) of triangles with these corners (m, 3, 3): as the old surface had them a little inwards."""
    import igl

    middle = corners.mean(axis=1, keepdims=True)
    points = np.asfortranarray((corners + _INWARDS * (middle - corners)).reshape(-1, 3))
    found = igl.point_mesh_squared_distance(points, np.asfortranarray(vertices), np.asfortranarray(old))
    on, nearest = old[np.asarray(found[1])], np.asarray(found[2])
    ways = _ways(vertices[on])
    share = np.einsum("nij,nj->ni", np.linalg.pinv(np.swapaxes(ways, 1, 2)), nearest - vertices[on[:, 0]])
    share = np.clip(share, 0, 1)
    read = normals[on[:, 0]] + np.einsum("ni,nij->nj", share, _ways(normals[on]))
    length = np.linalg.norm(read, axis=1, keepdims=True)
    return np.asarray(np.where(length > 1e-6, read / np.maximum(length, 1e-6), normals[on[:, 0]])).reshape(-1, 3, 3)


def _read_off(vertices: Array, uv: Array, old: Numbers, corners: Array, looks: Array) -> Array:
    """At corners (m, 3, 3), the coordinates (m, 3, k) of the old triangle nearest to where each looks, gone on with."""
    import igl

    points = np.asfortranarray(looks.reshape(-1, 3))
    nearest = igl.point_mesh_squared_distance(points, np.asfortranarray(vertices), np.asfortranarray(old))[1]
    on = old[np.asarray(nearest)]
    ways, steps = _ways(vertices[on]), _ways(uv[on])
    share = np.einsum(
        "nij,nj->ni", np.linalg.pinv(np.swapaxes(ways, 1, 2)), corners.reshape(-1, 3) - vertices[on[:, 0]]
    )
    return np.asarray(uv[on[:, 0]] + np.einsum("ni,nij->nj", share, steps)).reshape(-1, 3, uv.shape[1])


def _joined(vertices: Array, faces: Numbers) -> tuple[Numbers, Numbers]:
    """One of the corners at each place (k,), and the triangles (m, 3) by the numbers of those places."""
    step = _SAME * max(float(np.ptp(vertices, axis=0).max()), 1e-300)
    steps = np.rint((vertices - vertices.min(axis=0)) / step)
    order = np.lexsort(steps.T)
    new = np.concatenate([[True], (steps[order[1:]] != steps[order[:-1]]).any(axis=1)])
    place = np.empty(len(vertices), dtype=np.int64)
    place[order] = np.cumsum(new) - 1
    return order[new], place[faces]


def _apart(first: Numbers, corners: Numbers) -> tuple[Numbers, Numbers]:
    """A corner of its own for each fan of triangles about a place, which makes a surface of anything.

    Triangles hang together over an edge that just two have, each its own way round; the method needs that everywhere.
    """
    from scipy.sparse import coo_array  # here: few scenes have something to cut down, and it takes a while to load
    from scipy.sparse.csgraph import connected_components

    starts, ends = corners.reshape(-1), np.roll(corners, -1, axis=1).reshape(-1)
    along, against = starts * len(first) + ends, ends * len(first) + starts
    kinds, which, counts = np.unique(along, return_inverse=True, return_counts=True)
    edge = np.empty(len(kinds), dtype=np.int64)
    edge[which] = np.arange(len(along))
    found = np.minimum(np.searchsorted(kinds, against), len(kinds) - 1)
    paired = (kinds[found] == against) & (counts[which] == 1) & (counts[found] == 1)
    one, other = np.flatnonzero(paired), edge[found[paired]]  # an edge as both its triangles have it
    # The start of one is the end of the other, which is where the other's next edge starts.
    after = other - other % 3 + (other + 1) % 3

    links = coo_array((np.ones(len(one), dtype=bool), (one, after)), shape=(len(along), len(along)))
    count, fan = connected_components(links, directed=False)
    new = np.empty(count, dtype=np.int64)
    new[fan] = first[starts]
    return new, fan.astype(np.int64).reshape(-1, 3)


def _ways(triangles: Array) -> Array:
    """From the first corner to the others: (m, 2, d) of (m, 3, d)."""
    return triangles[:, 1:] - triangles[:, :1]
