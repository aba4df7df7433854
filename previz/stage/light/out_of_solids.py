"""Corners that are inside a solid: dark themselves, they would smudge what is seen of the faces that they end."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.light import Mask, Receivers

#: How much further off than it is a corner counts that faces the other way. [m]
_TURNED = 0.02

#: Corners so near to each other that face alike are one. [m]
_SAME = 1e-5

#: Beyond this none is taken: nothing is seen of a triangle so far in. [m]
_FURTHEST = 0.04


def out_of_solids(corners: Receivers, faces: NDArray[np.int64], buried: Mask) -> NDArray[np.int64]:
    """For each corner the one whose light it takes (n,): its own, or where that is `buried` (n,) the nearest that is
    not, on the same surface of triangles `faces` (m, 3), facing alike.

    >>> import numpy as np
    >>> post = Receivers.of([[0, 0, z] for z in (0.0, 0.01, 0.02)], np.tile([1.0, 0, 0], (3, 1)))
    >>> out_of_solids(post, np.array([[0, 1, 2]]), np.array([True, False, False])).tolist()
    [1, 1, 2]
    """
    rows = np.arange(len(corners))
    if not buried.any() or buried.all():
        return rows
    # Here: most sets have a use for it, but drawing what is kept has none.
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    some, place = corners.grouped(_SAME)  # models from files seldom share corners between triangles
    ends = place[faces].ravel(), place[np.roll(faces, 1, axis=1)].ravel()
    joined = coo_array((np.ones(faces.size, bool), ends), shape=(len(some),) * 2)
    surface = connected_components(joined, directed=False)[1][place]
    inside = np.flatnonzero(buried)
    others = np.flatnonzero(~buried & np.isin(surface, surface[inside]))
    if not len(others):
        return rows

    def where(some: NDArray[np.int64]) -> NDArray[Any]:
        apart = surface[some, None] * (2 * _FURTHEST)
        return np.concatenate([corners.points[some], _TURNED * corners.normals[some], apart], axis=1)

    far, nearest = cKDTree(where(others)).query(where(inside), distance_upper_bound=_FURTHEST)
    found = np.isfinite(far)
    rows[inside[found]] = others[nearest[found]]
    return rows
