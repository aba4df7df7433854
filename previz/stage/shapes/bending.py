"""Bending meshes: every point moved, normals turned to suit, triangles cut where they would stray from the bend."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from previz.mesh import Array, Mesh
from previz.stage.shapes.halving import halved
from previz.stage.shapes.solids import distinct

BEND = 0.002  # how far an edge may stray from the bend that it follows: panels lie 6 mm apart on bent bodies [m]
_MOST_HALVINGS = 6


def bent(mesh: Mesh, bend: Callable[[Array], Array], within: float = BEND) -> Mesh:
    """The mesh with every point moved by `bend` ((n, 3) -> (n, 3)), and its normals turned to suit.

    `bend` must be smooth and must not turn space inside out. Edges are halved until the bent surface strays no further
    than `within` from them, six times at most, so a plain face needs no cutting beforehand. [m]
    """
    moved = _bent(mesh, bend)
    for _ in range(_MOST_HALVINGS):
        cut = _strays(mesh, moved, bend, within)
        if not cut.any():
            break
        mesh = halved(mesh, cut)
        moved = _bent(mesh, bend)
    return moved


def _bent(mesh: Mesh, bend: Callable[[Array], Array]) -> Mesh:
    # The normal is the cross product of two tangents, so carry two short tangents through the bend.
    step = 1e-5 * float(np.ptp(mesh.vertices, axis=0).max())
    aside = np.eye(3)[np.argmin(np.abs(mesh.normals), axis=1)]
    first = np.cross(aside, mesh.normals)
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    second = np.cross(mesh.normals, first)
    along, across = (bend(mesh.vertices + step * way) - bend(mesh.vertices - step * way) for way in (first, second))
    normals = np.cross(along, across)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return replace(mesh, vertices=bend(mesh.vertices), normals=normals)


def _turned_over(mesh: Mesh) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Longest edges, as face and corner, of thin faces that a bend along the surface has turned inside out."""
    corners = mesh.vertices[mesh.faces]
    sides = np.roll(corners, -1, axis=1) - corners
    across = np.cross(sides[:, 0], sides[:, 1])
    facing = np.einsum("mi,mi->m", across, mesh.normals[mesh.faces].sum(axis=1))
    over = np.flatnonzero(facing < 0.3 * np.linalg.norm(across, axis=1))
    return over, np.einsum("mki,mki->mk", sides, sides)[over].argmax(axis=1)


def _strays(mesh: Mesh, moved: Mesh, bend: Callable[[Array], Array], within: float) -> NDArray[np.bool_]:
    """Which edges (m, 3), corner k to k + 1 of a face, lie too far off their bent course across a face beside them.

    Along its faces an edge may stray as it likes. Both copies of an edge along a crease are cut alike.
    """
    start, end = mesh.faces, np.roll(mesh.faces, -1, axis=1)
    off = np.zeros(start.shape)
    # A step of `bend` may fall within one half of an edge, so its quarters are tried as well.
    for share in (0.25, 0.5, 0.75):
        places = (1 - share) * mesh.vertices[start] + share * mesh.vertices[end]
        straight = (1 - share) * moved.vertices[start] + share * moved.vertices[end]
        gap = bend(places.reshape(-1, 3)).reshape(straight.shape) - straight
        across = np.einsum("mki,mki->mk", gap, (1 - share) * moved.normals[start] + share * moved.normals[end])
        off = np.maximum(off, np.abs(across))
    off[_turned_over(moved)] = np.inf
    size = float(np.ptp(mesh.vertices, axis=0).max())
    _, place_of = distinct(*np.rint(mesh.vertices / (1e-7 * size)).T)
    low, high = np.minimum(place_of[start], place_of[end]), np.maximum(place_of[start], place_of[end])
    edges, number = np.unique(low * len(mesh.vertices) + high, return_inverse=True)
    worst = np.zeros(len(edges))
    np.maximum.at(worst, number.ravel(), off.ravel())
    return np.asarray(worst[number.ravel()].reshape(start.shape) > within)
