"""What growing things are made of: blades and branches."""

import numpy as np

from previz.mesh import Array, Mesh
from previz.stage.shapes import solids
from previz.stage.shapes.finish import LEAF, Colour

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


def twisted(points: Array, radii: Array, rng: np.random.Generator, strands: int) -> Mesh:
    """Wires twisted together along points (k, 3) with radii (k,): one skin with a groove between each two. [m]"""
    fine = np.linspace(0, len(points) - 1, 3 * len(points) - 2)
    number = np.arange(len(points))
    path = np.column_stack([np.interp(fine, number, column) for column in points.T])
    radii = np.interp(fine, number, radii)
    length = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    turn = rng.uniform(0, 7) + 0.9 * np.cumsum(np.gradient(length) / np.maximum(3.2 * radii, 1e-9))
    along = unit(np.gradient(path, axis=0))
    right = unit(np.cross(along[0], np.eye(3)[np.argmin(np.abs(along[0]))]))
    angles = 2 * np.pi * np.arange(3 * strands) / (3 * strands)
    rings = []
    for point, way, radius, twist in zip(path, along, radii, turn, strict=True):
        right = unit(right - way * (right @ way))
        rounds = 1 + 0.16 * np.cos(strands * angles)
        around = np.cos(angles + twist)[:, None] * right + np.sin(angles + twist)[:, None] * np.cross(way, right)
        rings.append(point + radius * rounds[:, None] * around)
    return solids.loft(np.stack(rings), crease=80.0)
