"""What of a picture no face of the set covers, in upright lines through it.

Seen from the eye a flat face is a cone of directions between planes through the eye and its edges, and along a straight
line in the picture a ray's direction changes evenly. So along each line the stretch that a face covers is exact, and
what is left between the stretches is what sees past the set; only from line to line something can be missed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.layout import Solid

Array = NDArray[np.float64]

#: Lines through a picture, the first and the last on its sides: the narrowest patch that none can miss is a 240th of
#: the width.
LINES = 241

#: Shorter gaps along a line are rounding. Share of the picture's height.
_HAIR = 1e-9


@dataclass(frozen=True)
class Gaps:
    """Stretches of upright lines that nothing covers.

    Parameters
    ----------
    across : (m,) float
        Where each stretch's line is, as a share of the picture's width.
    begins, ends : (m,) float
        From where to where down it, in shares of the picture's height.
    """

    across: Array
    begins: Array
    ends: Array

    @property
    def share(self) -> float:
        """Of the picture, by the trapezoidal rule from line to line. [-]"""
        return float(np.sum(self.weights * (self.ends - self.begins)))

    @property
    def weights(self) -> Array:
        """Share (m,) of the picture's width that each stretch stands for."""
        sides = (self.across <= 0) | (self.across >= 1)
        return np.where(sides, 0.5, 1.0) / (LINES - 1)


def lines() -> Array:
    """Where the lines are, as shares of the picture's width. (LINES,)"""
    return np.linspace(0.0, 1.0, LINES)


def cones_of(faces: Array, eye: Array) -> Array:
    """Cones (k, 4, 3) of the faces that turn their front to the eye: normals of their sides, pointing out.

    Parameters
    ----------
    faces : (n, 4, 3) float
        Corners, counter-clockwise as seen from the front. [m]
    eye : (3,) float
        [m]

    Examples
    --------
    >>> face = np.array([[[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]], dtype=float)
    >>> above, below = np.array([0.5, 0.5, 1.0]), np.array([0.5, 0.5, -1.0])
    >>> len(cones_of(face, below)), bool((cones_of(face, above)[0] @ [0, 0, -1] < 0).all())
    (0, True)
    """
    rays = faces - eye
    normals = np.cross(rays[:, 1] - rays[:, 0], rays[:, 2] - rays[:, 0])
    rays = rays[np.einsum("nk,nk->n", normals, rays[:, 0]) < 0]
    sides = np.cross(rays, np.roll(rays, -1, axis=1))
    inward = np.einsum("nik,nk->ni", sides, rays.mean(axis=1)) > 0
    return np.where(inward[..., None], -sides, sides)


def cones_of_solids(solids: Sequence[Solid], eye: Array) -> Array:
    """Cones (k, 4, 3) of the solids' faces that the eye sees; of one that it is inside, a cone of every direction."""
    found = [np.zeros((0, 4, 3))]
    for solid in solids:
        for outline, low, high in solid.prisms:
            seen = cones_of(_faces(outline, low, high), eye)
            found.append(seen if len(seen) else np.zeros((1, 4, 3)))
    return np.concatenate(found)


def _faces(outline: Array, low: float, high: float) -> Array:
    """An upright prism's sides and both its ends in quads, (n, 4, 3), counter-clockwise from outside. [m]"""
    below, above = (np.column_stack([outline, np.full(len(outline), z)]) for z in (low, high))
    sides = np.stack([below, np.roll(below, -1, axis=0), np.roll(above, -1, axis=0), above], axis=1)
    last = len(outline) - 1
    fan = np.array([[0, k, k + 1, min(k + 2, last)] for k in range(1, last, 2)])
    return np.concatenate([sides, above[fan], below[fan[:, ::-1]]])


def gaps_between(across: Array, starts: Array, step: Array, cones: Array) -> Gaps:
    """What no cone covers of upright lines through a picture.

    Parameters
    ----------
    across : (c,) float
        Where the lines are, as shares of the picture's width.
    starts : (c, 3) float
        Directions from the eye through their upper ends.
    step : (3,) float
        What is added to them down to the lower ends.
    cones : (k, 4, 3) float
        As `cones_of` gives them.
    """
    at_top, change = np.einsum("kij,cj->kic", cones, starts), (cones @ step)[..., None]
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = -at_top / change
    # Inside of each side: from its crossing down where the side is left behind, up to it where it is come to.
    begin = np.where(change < 0, crossing, np.where((change == 0) & (at_top > 0), np.inf, 0.0)).max(axis=1, initial=0.0)
    end = np.where(change > 0, crossing, 1.0).min(axis=1, initial=1.0)
    begin, end = (np.where(end > begin, each, 1.0) for each in (begin, end))
    order = np.argsort(begin, axis=0)
    begin, end = (np.take_along_axis(each, order, axis=0) for each in (begin, end))
    edge = np.zeros((1, len(across)))
    covered = np.maximum.accumulate(np.concatenate([edge, end]), axis=0)
    begin = np.concatenate([begin, edge + 1.0])
    stretch, line = np.nonzero(begin - covered > _HAIR)
    return Gaps(across[line], covered[stretch, line], begin[stretch, line])
