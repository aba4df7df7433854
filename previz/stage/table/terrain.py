"""Triangles over a grid of heights, large where the ground is level and small where it bends.

The grid is cut into square blocks, each of two right triangles; a triangle is halved at the middle of its longest
side until the grid's heights lie close to it. Both triangles at a side are halved together, so no crack opens. Source:
Evans, Kirkpatrick and Townsend, "Right-triangulated irregular networks", Algorithmica 30(2), 2001.
"""

import numpy as np
from numpy.typing import NDArray

from previz.mesh import Array

Whole = NDArray[np.int64]


def triangulated(z: Array, block: int, within: float) -> tuple[Whole, Whole]:
    """Triangles over a grid of heights.

    Parameters
    ----------
    z : (n, m) float
        Heights; n - 1 and m - 1 are multiples of `block`. Lines may differ in spacing from block to block, not
        within one. [m]
    block : int
        Cells along a side of the largest triangles; a power of 2.
    within : float
        How far a height may lie off where its triangle was halved last. [m]

    Returns
    -------
    places : (k, 2) int
        Row and column of each corner in use.
    faces : (t, 3) int
        Into `places`, counter-clockwise where rows and columns rise along y and x.

    >>> places, faces = triangulated(np.zeros((9, 17)), 8, 1e-4)
    >>> len(places), len(faces)
    (6, 4)
    """
    errors = _errors(z, block)
    todo, done = _blocks(z.shape[0], z.shape[1], block), []
    while len(todo):
        # A side as long as one cell or its diagonal has no grid point in its middle.
        whole = ((todo[:, 0] + todo[:, 1]) % 2 == 0).all(axis=1)
        middle = (todo[:, 0] + todo[:, 1]) // 2
        split = whole & (errors[middle[:, 0], middle[:, 1]] > within)
        done.append(todo[~split])
        a, b, c = (todo[split, k] for k in range(3))
        m = middle[split]
        todo = np.concatenate([np.stack([c, a, m], axis=1), np.stack([b, c, m], axis=1)])
    corners = np.concatenate(done)
    used, faces = np.unique(corners[..., 0] * z.shape[1] + corners[..., 1], return_inverse=True)
    return np.stack(np.divmod(used, z.shape[1]), axis=1), faces.reshape(-1, 3).astype(np.int64)


def _blocks(rows: int, columns: int, block: int) -> Whole:
    """Two triangles a block (t, 3, 2): both ends of the longest side, then the corner across; rows and columns."""
    i, j = (
        grid.ravel()
        for grid in np.meshgrid(np.arange(0, rows - 1, block), np.arange(0, columns - 1, block), indexing="ij")
    )
    a, b, c, d = (
        np.stack([i + up * block, j + right * block], axis=1) for up, right in ((0, 0), (0, 1), (1, 1), (1, 0))
    )
    # Diagonals turn from block to block, as those of the halved triangles do.
    rising = ((i + j) // block % 2 == 0)[:, None, None]
    first = np.where(rising, np.stack([c, a, b], axis=1), np.stack([b, d, a], axis=1))
    second = np.where(rising, np.stack([a, c, d], axis=1), np.stack([d, b, c], axis=1))
    return np.concatenate([first, second])


def _errors(z: Array, block: int) -> Array:
    """At every point that may halve a triangle, how far it lies off the middle of the halved side, or what is halved
    after it does, whichever is more. (n, m) [m]"""
    errors = np.zeros_like(z)
    step = 1
    while step < block:
        _at_sides(z, errors, step)
        _at_middles(z, errors, step)
        step *= 2
    return errors


def _at_sides(z: Array, errors: Array, step: int) -> None:
    """Halfway between two neighbours 2 `step` apart in a row or column: its halves hang on cell middles beside it."""
    for across in (False, True):
        values, worst = (z.T, errors.T) if across else (z, errors)
        own = np.abs(values[:: 2 * step, step :: 2 * step] - _mean(values[:: 2 * step, :: 2 * step], axis=1))
        half = step // 2
        if half:
            # Middles of cells of size `step`, above and below, left and right; none beyond the border.
            middles = worst[half::step, half::step]
            both = np.maximum(middles[:, ::2], middles[:, 1::2])
            padded = np.pad(both, ((1, 1), (0, 0)))
            own = np.maximum(own, np.maximum(padded[:-1:2], padded[1::2]))
        worst[:: 2 * step, step :: 2 * step] = own


def _at_middles(z: Array, errors: Array, step: int) -> None:
    """The middle of a cell of size 2 `step`: its halves hang on the middles of the cell's four sides."""
    corners = z[:: 2 * step, :: 2 * step]
    rising = (corners[:-1, :-1] + corners[1:, 1:]) / 2
    falling = (corners[:-1, 1:] + corners[1:, :-1]) / 2
    i, j = np.indices(rising.shape)
    own = np.abs(z[step :: 2 * step, step :: 2 * step] - np.where((i + j) % 2 == 0, rising, falling))
    flat, upright = errors[:: 2 * step, step :: 2 * step], errors[step :: 2 * step, :: 2 * step]
    sides = (flat[:-1], flat[1:], upright[:, :-1], upright[:, 1:])
    errors[step :: 2 * step, step :: 2 * step] = np.maximum.reduce([own, *sides])


def _mean(values: Array, axis: int) -> Array:
    """Of each two neighbours along an axis."""
    count = values.shape[axis]
    return np.asarray((np.take(values, np.arange(count - 1), axis) + np.take(values, np.arange(1, count), axis)) / 2)
