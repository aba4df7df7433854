"""What of a picture no face of the set covers, in upright lines through it.

Seen from the eye a flat face is a cone of directions between planes through the eye and its edges, and along a straight
line in the picture a ray's direction changes evenly. So along each line the stretch that a face covers is exact, and
what is left between the stretches is what sees past the set; only from line to line something can be missed.

A face is looked at only along the lines that its corners lie about, and one of a solid only where something is open
past the sheets behind it: it makes no difference to what is left, and most faces are in few lines or none.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from previz.layout import Solid

Array = NDArray[np.float64]

#: Lines through a picture, the first and the last on its sides: the narrowest patch that none can miss is a 240th of
#: the width.
LINES = 241

#: Shorter gaps along a line are rounding. Share of the picture's height.
_HAIR = 1e-9

#: By so much more than its corners say a face may be in a picture, for rounding. Share of its width and height.
_MARGIN = 1e-6

#: What is no farther ahead of the eye has no place in the picture. Share of the depth of the rays given.
_AHEAD = 1e-9


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


@dataclass(frozen=True)
class Faces:
    """Faces of upright prisms, put together once for all pictures of them.

    Parameters
    ----------
    corners : (n, 4, 3) float
        Counter-clockwise as seen from the front; those of a prism follow one another. [m]
    counts : (p,) int
        How many of them each prism has.
    boxes : (p, 8, 3) float
        Corners of the box around each prism, along the axes. [m]
    """

    corners: Array
    counts: NDArray[np.int64]
    boxes: Array

    def __add__(self, other: "Faces") -> "Faces":
        return Faces(
            np.concatenate([self.corners, other.corners]),
            np.concatenate([self.counts, other.counts]),
            np.concatenate([self.boxes, other.boxes]),
        )


def faces_of(solids: Sequence[Solid]) -> Faces:
    """The faces of the solids' prisms."""
    found = [_faces(*prism) for solid in solids for prism in solid.prisms]
    if not found:
        return Faces(np.zeros((0, 4, 3)), np.zeros(0, dtype=np.int64), np.zeros((0, 8, 3)))
    corners, counts = np.concatenate(found), np.array([len(faces) for faces in found])
    firsts = np.cumsum(counts) - counts
    low = np.minimum.reduceat(corners.min(axis=1), firsts)
    high = np.maximum.reduceat(corners.max(axis=1), firsts)
    upper = np.indices((2, 2, 2)).reshape(3, 8).T == 1
    return Faces(corners, counts, np.where(upper, high[:, None], low[:, None]))


def _faces(outline: Array, low: float, high: float) -> Array:
    """An upright prism's sides and both its ends in quads, (n, 4, 3), counter-clockwise from outside. [m]"""
    below, above = (np.column_stack([outline, np.full(len(outline), z)]) for z in (low, high))
    sides = np.stack([below, np.roll(below, -1, axis=0), np.roll(above, -1, axis=0), above], axis=1)
    last = len(outline) - 1
    fan = np.array([[0, k, k + 1, min(k + 2, last)] for k in range(1, last, 2)])
    return np.concatenate([sides, above[fan], below[fan[:, ::-1]]])


def fronts(faces: Array, eye: Array) -> NDArray[np.bool_]:
    """Which faces (n, 4, 3) turn their front to the eye (3,), (n,). [m]

    Examples
    --------
    >>> face = np.array([[[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]], dtype=float)
    >>> bool(fronts(face, np.array([0.5, 0.5, 1.0]))[0]), bool(fronts(face, np.array([0.5, 0.5, -1.0]))[0])
    (True, False)
    """
    rays = faces - eye
    normals = np.cross(rays[:, 1] - rays[:, 0], rays[:, 2] - rays[:, 0])
    return np.asarray(np.einsum("nk,nk->n", normals, rays[:, 0]) < 0)


def cones_of(faces: Array, eye: Array) -> Array:
    """Cones (n, 4, 3) of faces that turn their front to the eye: normals of their sides, pointing out.

    Parameters
    ----------
    faces : (n, 4, 3) float
        Corners, counter-clockwise as seen from the front. [m]
    eye : (3,) float
        [m]

    Examples
    --------
    >>> face = np.array([[[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]], dtype=float)
    >>> bool((cones_of(face, np.array([0.5, 0.5, 1.0]))[0] @ [0, 0, -1] < 0).all())
    True
    """
    rays = faces - eye
    sides = np.cross(rays, np.roll(rays, -1, axis=1))
    inward = np.einsum("nik,nk->ni", sides, rays.mean(axis=1)) > 0
    return np.where(inward[..., None], -sides, sides)


@dataclass(frozen=True)
class Picture:
    """What an eye looks at, in upright lines.

    Parameters
    ----------
    eye : (3,) float
        [m]
    across : (c,) float
        Where the lines are, as shares of the picture's width, rising.
    starts : (c, 3) float
        Directions from the eye through their upper ends.
    step : (3,) float
        What is added to them down to the lower ends.
    corner, aside : (3,) float
        The direction through the picture's upper left corner, and what is added to it over to the upper right one.
    """

    eye: Array
    across: Array
    starts: Array
    step: Array
    corner: Array
    aside: Array

    def gaps(self, sheets: Array, standing: Faces) -> Gaps:
        """What sees past sheets (n, 4, 3) [m], counter-clockwise as seen from the front, and past what stands there.

        From inside a prism nothing does.
        """
        sheets = sheets[fronts(sheets, self.eye)]
        bare = self._past(sheets)
        still_open = np.isin(self.across, bare.across)
        if not still_open.any():
            return bare
        left, right, top, bottom = self._extents(standing.boxes)
        near = (right >= bare.across.min()) & (left <= bare.across.max())
        near &= (bottom >= bare.begins.min()) & (top <= bare.ends.max())
        faces = standing.corners[np.repeat(near, standing.counts)]
        seen = fronts(faces, self.eye)
        prism = np.repeat(np.arange(near.sum()), standing.counts[near])
        if (np.bincount(prism[seen], minlength=near.sum()) == 0).any():
            return Gaps(*np.zeros((3, 0)))
        rest = replace(self, across=self.across[still_open], starts=self.starts[still_open])
        return rest._past(np.concatenate([sheets, faces[seen]]))

    def _extents(self, points: Array) -> tuple[Array, Array, Array, Array]:
        """Left, right, top and bottom (n,) of the pictures of n groups of points (n, k, 3) [m], in shares.

        Without end where a group is partly behind the eye; nan where all of it is.
        """
        places = (points - self.eye) @ np.linalg.inv(np.stack([self.corner, self.aside, self.step]))
        ahead = places[..., 0] > _AHEAD
        whole, endless = ahead.all(axis=1), np.where(ahead.any(axis=1), np.inf, np.nan)
        across, down = (places[..., k] / np.where(ahead, places[..., 0], 1.0) for k in (1, 2))
        left, top = (np.where(whole, each.min(axis=1) - _MARGIN, -endless) for each in (across, down))
        right, bottom = (np.where(whole, each.max(axis=1) + _MARGIN, endless) for each in (across, down))
        return left, right, top, bottom

    def _past(self, faces: Array) -> Gaps:
        """What none of the faces (n, 4, 3) [m], their fronts to the eye, covers of the lines."""
        left, right, _, _ = self._extents(faces)
        first = np.searchsorted(self.across, left)
        count = np.searchsorted(self.across, right, side="right") - first
        face = np.repeat(np.arange(len(faces)), count)
        line = np.arange(len(face)) + np.repeat(first - (np.cumsum(count) - count), count)
        cones = cones_of(faces, self.eye)
        at_top, change = np.einsum("pij,pj->pi", cones[face], self.starts[line]), (cones @ self.step)[face]
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = -at_top / change
        # Inside of each side: from its crossing down where the side is left behind, up to it where it is come to.
        begin = np.where(change < 0, crossing, np.where((change == 0) & (at_top > 0), np.inf, 0.0))
        begin, end = begin.max(axis=1, initial=0.0), np.where(change > 0, crossing, 1.0).min(axis=1, initial=1.0)
        covers = end > begin
        return self._between(line[covers], begin[covers], end[covers])

    def _between(self, line: NDArray[np.int64], begin: Array, end: Array) -> Gaps:
        """What is left of the lines between the stretches that are covered, each with its line's number."""
        # Each line is covered up to its upper end, and from its lower end on.
        every, one = np.arange(len(self.across)), np.ones(len(self.across))
        line = np.concatenate([every, line, every])
        begin, end = np.concatenate([-one, begin, one]), np.concatenate([0 * one, end, one])
        order = np.lexsort((begin, line))
        line, begin = line[order], begin[order]
        # The farthest end so far on the same line: ends by their rank, and a later line's above all of an earlier one.
        ends, rank = np.unique(end[order], return_inverse=True)
        covered = ends[np.maximum.accumulate(line * len(ends) + rank) % len(ends)]
        gap = np.flatnonzero(begin[1:] - covered[:-1] > _HAIR)
        return Gaps(self.across[line[gap]], covered[gap], begin[gap + 1])
