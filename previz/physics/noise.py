"""Smooth random fields, seeded: blotches over an area, kept coarse and read in strips of rows.

Everything random is drawn before the first strip is read. Values are float32, zero mean and unit variance.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.floating[Any]]
Texels = NDArray[np.floating[Any]]  # float32; mypy cannot follow numpy that far

_STRIP = 32


@dataclass(frozen=True)
class Canvas:
    """The size of a picture in texels, and of a square texel on the set. [m]"""

    width: int
    height: int
    texel: float

    def strips(self) -> list[slice]:
        """Its rows, a strip at a time, from the top."""
        return [slice(top, min(top + _STRIP, self.height)) for top in range(0, self.height, _STRIP)]


@dataclass(frozen=True)
class Field:
    """A smooth picture kept as a small grid: full size along x, coarse along y until rows are asked for.

    Parameters
    ----------
    across : (k, w) float32
        The grid, already as wide as the canvas.
    lines : (h, 4) int
        The four grid rows around each row of the canvas.
    weights : (h, 4) float32
        How much each of them counts.
    """

    across: Texels
    lines: NDArray[np.intp]
    weights: Texels

    def rows(self, rows: slice) -> Texels:
        """(n, w) float32"""
        first, weights = _dense(self.lines[rows], self.weights[rows])
        # Not `@`, though quicker: it rounds otherwise, and a few texels of every painting would change by a code.
        return np.einsum("nk,kw->nw", weights, self.across[first : first + weights.shape[1]])


def _taps(places: Array, size: int, basis: Callable[[Array], Array]) -> tuple[NDArray[np.intp], Texels]:
    """The four of `size` grid lines around each of n places among them, and their weights, (n, 4) each."""
    cells = np.floor(places).astype(np.intp)
    return np.clip(cells[:, None] + np.arange(-1, 3), 0, size - 1), basis(places - cells).astype(np.float32)


def _dense(lines: NDArray[np.intp], weights: Texels) -> tuple[int, Texels]:
    """The first grid line that counts, and the (n, band) weights from there on."""
    first = int(lines[:, 0].min())
    band = np.zeros((len(lines), int(lines[:, 3].max()) - first + 1), dtype=np.float32)
    each = np.arange(len(lines))
    for tap in range(4):
        band[each, lines[:, tap] - first] += weights[:, tap]
    return first, band


def _b_spline(t: Array) -> Array:
    """Uniform cubic B-spline: passes near the grid's values, never beyond them, with even curvature."""
    u = 1 - t
    return np.stack([u**3, 3 * t**3 - 6 * t**2 + 4, 3 * u**3 - 6 * u**2 + 4, t**3], axis=-1) / 6


def _catmull_rom(t: Array) -> Array:
    """Cubic through the grid's values: for measured fields such as a distance."""
    return (
        np.stack([-(t**3) + 2 * t**2 - t, 3 * t**3 - 5 * t**2 + 2, -3 * t**3 + 4 * t**2 + t, t**3 - t**2], axis=-1) / 2
    )


def field_through(grid: ArrayLike, x_places: Array, y_places: Array) -> Field:
    """The field that passes through `grid` (k, m), each texel's place given in grid columns and rows."""
    return _field(np.asarray(grid, dtype=np.float32), x_places, y_places, _catmull_rom)


def _field(grid: Texels, x_places: Array, y_places: Array, basis: Callable[[Array], Array]) -> Field:
    columns, shares = _taps(x_places, grid.shape[1], basis)
    across = np.empty((len(grid), len(x_places)), dtype=np.float32)
    # Some eight cells at a time: weights for all of x at once would be mostly zeros.
    texels_a_cell = (len(x_places) - 1) / max(float(x_places[-1] - x_places[0]), 1e-9)
    step = max(_STRIP, int(8 * texels_a_cell))
    for start in range(0, len(x_places), step):
        part = slice(start, start + step)
        first, weights = _dense(columns[part], shares[part])
        band = np.ascontiguousarray(grid[:, first : first + weights.shape[1]].T)
        across[:, part] = np.einsum("wc,ck->wk", weights, band).T
    return Field(across, *_taps(y_places, len(grid), basis))


def noise(
    canvas: Canvas,
    rng: np.random.Generator,
    cell: float,
    octaves: int = 4,
    *,
    roughness: float = 0.5,
    stretch: tuple[float, float] = (1.0, 1.0),
) -> Field:
    """Smooth random blotches: zero mean, unit variance.

    Parameters
    ----------
    cell : float
        Size of the largest blotches. [m]
    octaves : int
        Each next one is half as large; those finer than five texels are left out (`Grain` is for them).
    roughness : float
        Strength of each octave against the one before.
    stretch : (2,) float
        Draws the blotches out along x and along y.
    """
    sizes = [cell / 2**k for k in range(octaves) if k == 0 or cell / 2**k > 5 * canvas.texel]
    grid = np.zeros((0, 0), dtype=np.float32)
    strength = 1.0
    for size in sizes:
        steps = (max(size * stretch[0] / canvas.texel, 1.0), max(size * stretch[1] / canvas.texel, 1.0))
        shape = (int(canvas.height / steps[1]) + 5, int(canvas.width / steps[0]) + 5)
        finer = strength * rng.standard_normal(shape, dtype=np.float32)
        if grid.size:
            finer += _field(grid, 1 + np.arange(shape[1]) / 2, 1 + np.arange(shape[0]) / 2, _b_spline).rows(slice(None))
        grid, strength = finer, strength * roughness
    x_places, y_places = 1 + np.arange(canvas.width) / steps[0], 1 + np.arange(canvas.height) / steps[1]
    raw = _field(grid, x_places, y_places, _b_spline)
    every = slice(None, None, max(canvas.height // 64, 1))
    sample = Field(raw.across, raw.lines[every], raw.weights[every]).rows(slice(None))
    return replace(raw, across=(raw.across - sample.mean()) / (sample.std() + np.float32(1e-9)))
