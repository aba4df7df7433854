"""Cutting triangles smaller where that is wanted: edges halved, without a crack."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from previz.mesh import Array, Mesh


def halved(mesh: Mesh, cut: NDArray[np.bool_]) -> Mesh:
    """Each edge that `cut` (m, 3) names (corner k to k + 1 of a face) halved, both faces at it alike."""
    start, end = mesh.faces[cut], mesh.faces[:, [1, 2, 0]][cut]
    count = len(mesh.vertices)
    edges, number = np.unique(np.minimum(start, end) * count + np.maximum(start, end), return_inverse=True)
    first, second = np.divmod(edges, count)
    middle = np.zeros_like(mesh.faces)  # number of the new corner on each cut edge
    middle[cut] = count + number

    def joined(values: Array) -> Array:
        return np.concatenate([values, (values[first] + values[second]) / 2])

    normals = joined(mesh.normals)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    faces = _cut_faces(mesh.faces, cut, middle)
    uv = None if mesh.uv is None else joined(mesh.uv)
    return replace(
        mesh, vertices=joined(mesh.vertices), faces=faces, normals=normals, colours=joined(mesh.colours), uv=uv
    )


def _cut_faces(faces: NDArray[np.int64], cut: NDArray[np.bool_], middle: NDArray[np.int64]) -> NDArray[np.int64]:
    """One to four triangles for each, by which of its edges (corner k to k + 1) are cut."""
    count = cut.sum(axis=1)
    out = [faces[count == 0]]
    for k in range(3):
        # Turned so that the edge from a is the first one.
        turned = [k, (k + 1) % 3, (k + 2) % 3]
        one = np.flatnonzero((count == 1) & cut[:, k])
        a, b, c = faces[one][:, turned].T
        m = middle[one, k]
        out += [np.stack([a, m, c], 1), np.stack([m, b, c], 1)]
        two = np.flatnonzero((count == 2) & cut[:, k] & cut[:, turned[1]])
        a, b, c = faces[two][:, turned].T
        m, n, _ = middle[two][:, turned].T
        out += [np.stack([m, b, n], 1), np.stack([a, m, n], 1), np.stack([a, n, c], 1)]
    every = count == 3
    a, b, c = faces[every].T
    m, n, p = middle[every].T
    out += [np.stack(corners, 1) for corners in ((a, m, p), (m, b, n), (p, n, c), (m, n, p))]
    return np.concatenate(out)
