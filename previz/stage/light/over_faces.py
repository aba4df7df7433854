"""Light held at corners that are far apart: the shadow of a thin thing, met by one corner and missed by the next.

Light between corners is drawn as a ramp, so one dark corner among lit ones is a dark star on a smooth panel, and a
shadow's edge a row of teeth as uneven as the faces. There each corner gets the mean of places in the faces about it:
the shadow is as wide as the faces, and as faint as it is thin.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.light import Floats, Mask, Receivers, floats

#: Light of a face's corners that differs by more than so much of the brightest is looked at again.
_UNEVEN = 0.3

#: Where a corner's place in a face is: what each corner counts, its own first. In a small face all have one.
_NEAR, _MIDDLE = (2 / 3, 1 / 6, 1 / 6), (1 / 3, 1 / 3, 1 / 3)

#: The longest side of a small face, in the longest of those that have no room for a shadow.
_SMALL = 2.7


@dataclass(frozen=True)
class WideFaces:
    """Triangles with room for a shadow between their corners.

    Parameters
    ----------
    corners : (k, 3) int
        Rows of receivers.
    area : (k,) float
        [m^2]
    small : (k,) bool
        Whether one place stands for all of it.
    rest : (n,) float
        Of each receiver, a third of the area of its other faces. [m^2]
    """

    corners: NDArray[np.int64]
    area: Floats
    small: Mask
    rest: Floats

    @classmethod
    def of(cls, points: NDArray[Any], corners: NDArray[np.int64], longest: float, count: int) -> "WideFaces":
        """Those of triangles (m, 3, 3) with a side over `longest` [m]; `corners` (m, 3) are theirs of `count`
        receivers.
        """
        sides = points - np.roll(points, 1, axis=1)
        area = floats(np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1) / 2)
        distinct = (corners != np.roll(corners, 1, axis=1)).all(axis=1)
        side = np.linalg.norm(sides, axis=2).max(axis=1)
        wide = (side > longest) & distinct
        others = np.bincount(corners[~wide].ravel(), np.repeat(area[~wide] / 3, 3), minlength=count)
        return cls(corners[wide], area[wide], side[wide] < _SMALL * longest, floats(others))

    def evened(self, light: Floats, here: Receivers, direct: Callable[[Receivers], Floats]) -> Floats:
        """Light on receivers (n, 3), looked at again with `direct` about corners where that of wide faces differs."""
        level = light.sum(axis=1)[self.corners]
        differs = level.max(axis=1) - level.min(axis=1) > _UNEVEN * level.max(axis=1)
        again = np.zeros(len(here), dtype=bool)
        again[self.corners[differs]] = True
        asked = again[self.corners]
        if not asked.any():
            return light
        face, which = np.nonzero(asked & ~self.small[:, None])
        own, *others = (self.corners[face, (which + step) % 3] for step in range(3))
        some = np.flatnonzero(asked.any(axis=1) & self.small)
        found = direct(
            _between(here, (own, *others), _NEAR).joined(_between(here, tuple(self.corners[some].T), _MIDDLE))
        )
        own = np.concatenate([own, *self.corners[some].T])
        found = np.concatenate([found[: len(face)], *3 * (found[len(face) :],)])
        area = np.concatenate([self.area[face], *3 * (self.area[some],)]) / 3
        total = light * self.rest[:, None]
        weight = self.rest.copy()
        np.add.at(total, own, found * area[:, None])
        np.add.at(weight, own, area)
        return floats(np.where(again[:, None], total / np.maximum(weight, 1e-20)[:, None], light))


def _between(here: Receivers, rows: tuple[NDArray[np.int64], ...], shares: tuple[float, ...]) -> Receivers:
    """Places between three receivers each, by what each counts; light from behind counts where it does at the first."""
    points, normals = (
        sum(share * values[row] for share, row in zip(shares, rows, strict=True))
        for values in (here.points, here.normals)
    )
    length = np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-9)
    return Receivers(floats(points), floats(normals / length), here.two_sided[rows[0]])
