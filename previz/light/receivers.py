"""Points that receive light."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Receivers:
    """Points that receive light.

    Parameters
    ----------
    points, normals : (n, 3) float32
        Places [m] and unit normals.
    two_sided : (n,) bool
        Where light from behind counts as well: a thin leaf that lets through as much as it reflects.
    """

    points: Floats
    normals: Floats
    two_sided: Mask

    @classmethod
    def of(cls, points: Any, normals: Any, two_sided: Any = False) -> "Receivers":
        """From anything array-like; `two_sided` is one bool or one each."""
        points = np.ascontiguousarray(points, dtype=np.float32).reshape(-1, 3)
        normals = np.ascontiguousarray(normals, dtype=np.float32).reshape(-1, 3)
        return cls(points, normals, np.broadcast_to(np.asarray(two_sided, dtype=bool), (len(points),)))

    def __len__(self) -> int:
        return len(self.points)

    def take(self, rows: Any) -> "Receivers":
        """Those rows."""
        return Receivers(self.points[rows], self.normals[rows], self.two_sided[rows])

    def joined(self, more: "Receivers") -> "Receivers":
        """These, then those."""
        return Receivers(
            np.concatenate([self.points, more.points]),
            np.concatenate([self.normals, more.normals]),
            np.concatenate([self.two_sided, more.two_sided]),
        )

    @classmethod
    def all_of(cls, lots: "Sequence[Receivers]") -> "Receivers":
        """Those of every lot, in order."""
        return cls(*(np.concatenate([getattr(each, name) for each in lots]) for name in cls.__dataclass_fields__))

    def grouped(self, near: float, facing: bool = True) -> tuple["Receivers", NDArray[np.int64]]:
        """One receiver for all that lie within a cube of side `near` [m], and whose it is (n,).

        Unless `facing` is False they must face alike as well.
        """
        if not len(self):
            return self, np.zeros(0, dtype=np.int64)
        low, size = self.points.min(axis=0), float(np.ptp(self.points))
        places = ((self.points - low) / max(near, 2e-5 * size, 1e-9)).astype(np.int64)
        ways = np.round((self.normals + 1) * 2.5).astype(np.int64)
        key = self.two_sided.astype(np.int64)
        for column in (*places.T, *ways.T) if facing else places.T:
            key = key * (int(column.max()) + 1) + column
        _, first, group_of = np.unique(key, return_index=True, return_inverse=True)
        return self.take(first), group_of.ravel()

    def leaves(self, near: float, flat: Floats) -> Mask:
        """Which are leaves: two-sided, and within `near` [m] of others that face every way. (n,)

        `flat` (n, 3) are the normals of their triangles; those for shading may be those of a whole crown.
        """
        two = np.flatnonzero(self.two_sided)
        cells, cell_of = self.take(two).grouped(near, facing=False)
        _, first = np.unique(cell_of, return_index=True)
        alike = np.einsum("ni,ni->n", flat[two], flat[two][first][cell_of]) ** 2
        count = np.bincount(cell_of, minlength=len(cells))
        mean = np.bincount(cell_of, weights=alike, minlength=len(cells)) / np.maximum(count, 1)
        found = np.zeros(len(self), dtype=bool)
        found[two] = ((count >= 4) & (mean < 0.75))[cell_of]  # 1 on a flat sheet, 1/3 for leaves facing anywhere
        return found


def floats(values: Any) -> Floats:
    """As an array of the rays' own number type."""
    return np.asarray(values, dtype=np.float32)
