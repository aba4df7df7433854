"""Triangles sorted into near neighbours, so that what no view of a frame can see is left out of its draws."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from weakref import finalize

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]
Faces = NDArray[np.uint32]  # as the graphics side takes them

#: Triangles in a chunk at most. Fewer cull more sharply; each costs eight corners' projection a view.
MOST = 800

#: The whole picture, in clip coordinates over w: left, right, bottom, top.
WHOLE = (-1.0, 1.0, -1.0, 1.0)


@dataclass(frozen=True)
class Eyes:
    """A box around all the places that a frame is looked at from.

    Parameters
    ----------
    middle, half : (3,) float
        Its middle, and half of its sides. [m]
    """

    middle: Array
    half: Array

    @classmethod
    def around(cls, pupils: Array, radius: float) -> "Eyes":
        """Of pupils of that radius [m] about these places (n, 3) [m].

        >>> Eyes.around(np.array([[0.0, 0, 0], [1, 0, 0]]), 0.5).half.tolist()
        [1.0, 0.5, 0.5]
        """
        low, high = pupils.min(axis=0), pupils.max(axis=0)
        return cls((low + high) / 2, (high - low) / 2 + radius)


@dataclass(frozen=True)
class Chunks:
    """Groups of triangles that lie together.

    Parameters
    ----------
    faces : (m, 3) int
        All triangles, chunk after chunk.
    starts : (k + 1,) int
        Where each chunk begins in `faces`, and the end.
    low, high : (k, 3) float
        Bounding box of each. [m]
    fronts : (m, 4) float
        Plane of every triangle: a place p is on its front where fronts . (p, 1) > 0.
    """

    faces: Faces
    starts: NDArray[np.int64]
    low: Array
    high: Array
    fronts: Array

    @classmethod
    def known(cls, vertices: Array, faces: NDArray[np.int64]) -> "Chunks":
        """As `of`; found once for as long as these very arrays live: a setup's shots are drawn from the same ones."""
        key = id(vertices), id(faces)
        found = _KNOWN.get(key)
        if found is None:
            found = _KNOWN[key] = cls.of(vertices, faces)
            for array in (vertices, faces):
                finalize(array, _KNOWN.pop, key, None).atexit = False
        return found

    @classmethod
    def of(cls, vertices: Array, faces: NDArray[np.int64]) -> "Chunks":
        """Split at the middle of the longest side until no chunk has more than `MOST` triangles."""
        corners = vertices[faces]
        groups = _split(corners.mean(axis=1), np.arange(len(faces)))
        starts = np.cumsum([0, *(len(group) for group in groups)])
        order = np.concatenate(groups)
        low = np.minimum.reduceat(corners.min(axis=1)[order], starts[:-1])
        high = np.maximum.reduceat(corners.max(axis=1)[order], starts[:-1])
        first, second, third = np.moveaxis(corners[order], 1, 0)
        normals = np.cross(second - first, third - first)
        fronts = np.column_stack([normals, -np.einsum("ni,ni->n", normals, first)])
        return cls(faces[order].astype(np.uint32), starts, low, high, fronts)

    def seen(self, clips: Array, window: tuple[float, float, float, float] = WHOLE) -> NDArray[np.bool_]:
        """Which chunks (k,) may show in any of the views `clips` (v, 4, 4), within a window of the picture."""
        return np.asarray(self.seen_in_each(clips, window).any(axis=0))

    def seen_in_each(self, clips: Array, window: tuple[float, float, float, float] = WHOLE) -> NDArray[np.bool_]:
        """The same of each view (v, k).

        A box is out of sight of a view when all of its corners lie beyond one and the same side of the frustum.
        """
        left, right, bottom, top = window
        x, y, z, w = np.moveaxis(self._corners @ np.swapaxes(clips, 1, 2)[:, None], -1, 0)
        beyond = [x < left * w, x > right * w, y < bottom * w, y > top * w, z < -w]
        hidden = np.logical_or.reduce([side.all(axis=2) for side in beyond])
        return np.asarray(~hidden)

    def chosen(self, chosen: NDArray[np.bool_]) -> Faces:
        """The triangles of the chosen chunks in any order."""
        return np.asarray(self.faces[np.repeat(chosen, np.diff(self.starts))])

    def facing(self, eyes: Eyes, numbers: Numbers) -> NDArray[np.bool_]:
        """Which of some triangles (n,) show their front to a place in a box.

        A plane's sign is linear in the place, so that its largest value in a box is known without trying the corners.
        """
        fronts = self.fronts[numbers]
        normals = fronts[:, :3]
        return np.asarray(normals @ eyes.middle + np.abs(normals) @ eyes.half + fronts[:, 3] > 0)

    def touching(self, low: Array, high: Array) -> NDArray[np.bool_]:
        """Which chunks (k,) may reach into a box."""
        return np.asarray((self.low <= high).all(axis=1) & (self.high >= low).all(axis=1))

    def numbers(self, chosen: NDArray[np.bool_] | Numbers) -> Numbers:
        """Of the triangles of the chosen chunks, chunk after chunk."""
        starts, counts = self.starts[:-1][chosen], np.diff(self.starts)[chosen]
        return np.asarray(np.repeat(starts - (np.cumsum(counts) - counts), counts) + np.arange(counts.sum()))

    def front_to_back(
        self, chosen: NDArray[np.bool_], eyes: Eyes, wanted: Callable[[Numbers], NDArray[np.bool_]] | None = None
    ) -> Faces:
        """The triangles of the chosen chunks, the nearest chunk first: what it hides is then not shaded.

        `wanted` says of their numbers (n,) which are not left out.
        """
        near = np.flatnonzero(chosen)
        gap = np.maximum(np.maximum(self.low[near] - eyes.middle, eyes.middle - self.high[near]), 0.0)
        order = self.numbers(near[np.argsort(np.linalg.norm(gap, axis=1), kind="stable")])
        return np.asarray(self.faces[order if wanted is None else order[wanted(order)]])

    @cached_property
    def _corners(self) -> Array:
        """Of every box, homogeneous. (k, 8, 4)"""
        ends = np.stack([self.low, self.high], axis=1)
        picks = np.stack(np.meshgrid([0, 1], [0, 1], [0, 1], indexing="ij"), axis=-1).reshape(8, 3)
        corners = np.stack([ends[:, picks[:, axis], axis] for axis in range(3)], axis=-1)
        return np.concatenate([corners, np.ones((*corners.shape[:2], 1))], axis=-1)


_KNOWN: dict[tuple[int, int], Chunks] = {}


def _split(centres: Array, numbers: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    if len(numbers) <= MOST:
        return [numbers]
    own = centres[numbers]
    axis = int(np.ptp(own, axis=0).argmax())
    halves = np.argpartition(own[:, axis], len(numbers) // 2)
    middle = len(numbers) // 2
    return [
        *_split(centres, numbers[np.sort(halves[:middle])]),
        *_split(centres, numbers[np.sort(halves[middle:])]),
    ]
