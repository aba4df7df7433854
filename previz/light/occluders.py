"""What stops light, and rays sent past it: Embree's, which take nearly all the time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from previz.light.receivers import Floats, Mask, floats

#: A ray starts this far off its surface, so that the surface does not shade itself. [m]
OFFSET = 5e-5

#: Handled at once: large enough that numpy's overhead is small, small enough for the processor's cache.
POINTS_AT_ONCE = 4096
RAYS_AT_ONCE = 131072


class Obstacle(Protocol):
    """Anything that can stop a ray."""

    def clear(self, origins: Floats, rays: Floats, reach: float | Floats = 1.0) -> Mask:
        """Whether nothing stands between each origin and origin + reach * ray. (n,) bool"""


class Occluders:
    """Triangles that stop light, ready for rays.

    Parameters
    ----------
    vertices : (n, 3) float
        [m]
    faces : (m, 3) int
    """

    def __init__(self, vertices: Any, faces: Any) -> None:
        corners = np.ascontiguousarray(vertices, dtype=np.float32).reshape(-1, 3)
        triangles = np.ascontiguousarray(faces, dtype=np.int32).reshape(-1, 3)
        self.count = len(triangles)
        #: Middle (3,) and radius of a ball that holds all of it, with room to spare for rounding. [m]
        self.ball = _ball_around(corners)
        self._scene = EmbreeScene()  # its robust mode costs a third more and mends rays that exactly graze an edge
        if self.count:
            self._mesh = TriangleMesh(scene=self._scene, vertices=corners, indices=triangles)

    def clear(self, origins: Floats, rays: Floats, reach: float | Floats = 1.0) -> Mask:
        """Whether nothing stands between each origin and origin + reach * ray. (n,) bool"""
        if not self.count:
            return np.ones(len(origins), dtype=bool)
        far = np.full(len(origins), reach, dtype=np.float32) if np.ndim(reach) == 0 else np.array(reach, np.float32)
        return np.asarray(self._scene.run(origins, rays, dists=far, query="OCCLUDED") == -1)

    def first(self, origins: Floats, rays: Floats) -> NDArray[np.int32]:
        """Number of the first triangle along each ray, -1 for none. (n,)"""
        if not self.count:
            return np.full(len(origins), -1, dtype=np.int32)
        return np.asarray(self._scene.run(origins, rays), dtype=np.int32)

    def met(self, origins: Floats, rays: Floats) -> tuple[NDArray[np.int32], Floats]:
        """The same, and how many times its ray each is away, inf for none. (n,) each"""
        if not self.count:
            return np.full(len(origins), -1, dtype=np.int32), np.full(len(origins), np.inf, dtype=np.float32)
        found = self._scene.run(origins, rays, output=True)
        triangle = np.asarray(found["primID"], dtype=np.int32)
        return triangle, np.where(triangle < 0, np.float32(np.inf), found["tfar"])


def _ball_around(corners: Floats) -> tuple[Floats, float]:
    low, high = (corners.min(axis=0), corners.max(axis=0)) if len(corners) else np.zeros((2, 3), np.float32)
    return floats((low + high) / 2), 1.01 * float(np.linalg.norm(high - low)) / 2 + 1e-3


class Beside(Occluders):
    """Two lots of triangles, numbered one after the other: what is ready for rays is not made ready anew."""

    def __init__(self, one: Occluders, other: Occluders) -> None:
        self.one, self.other = one, other
        self.count = one.count + other.count

    def clear(self, origins: Floats, rays: Floats, reach: float | Floats = 1.0) -> Mask:
        """As of any occluders."""
        seen = self.one.clear(origins, rays, reach)
        left = np.flatnonzero(seen)
        reach = reach if np.ndim(reach) == 0 else np.asarray(reach)[left]
        seen[left] = self.other.clear(origins[left], rays[left], reach)
        return seen

    def first(self, origins: Floats, rays: Floats) -> NDArray[np.int32]:
        """As of any occluders."""
        return self.met(origins, rays)[0]

    def met(self, origins: Floats, rays: Floats) -> tuple[NDArray[np.int32], Floats]:
        """As of any occluders."""
        return nearer(*self.one.met(origins, rays), *self.other.met(origins, rays), self.one.count)


def nearer(
    one: NDArray[np.int32], far: Floats, other: NDArray[np.int32], as_far: Floats, count: int
) -> tuple[NDArray[np.int32], Floats]:
    """Of what rays meet of two lots of triangles, the first of `count`, what they meet first, and how far off."""
    before = as_far < far
    return np.where(before, other + np.int32(count), one), np.where(before, as_far, far)


@dataclass(frozen=True)
class Moved:
    """Occluders that stand turned by `rotation` (3, 3), then shifted by `shift` (3,) [m]."""

    occluders: Occluders
    rotation: NDArray[np.float64]
    shift: NDArray[np.float64]

    def placed(self, points: NDArray[Any]) -> NDArray[Any]:
        """Where points (n, 3) of the occluders' own frame are then. [m]"""
        return points @ self.rotation.T + self.shift

    def clear(self, origins: Floats, rays: Floats, reach: float | Floats = 1.0) -> Mask:
        """Whether nothing stands between each origin and origin + reach * ray. (n,) bool"""
        turn = floats(self.rotation)
        return self.occluders.clear(floats((origins - floats(self.shift)) @ turn), rays @ turn, reach)


def sees(origins: Floats, targets: Floats, occluders: Sequence[Obstacle], short: float = 0.0) -> Mask:
    """Whether each origin sees each target, past all occluders; rays end `short` of the target [m]. (s, n)"""
    starts, rays, reach = towards(origins, targets, short)
    seen = occluders[0].clear(starts, rays, reach)
    for more in occluders[1:]:
        left = np.flatnonzero(seen)
        seen[left] = more.clear(starts[left], rays[left], reach[left])
    return np.asarray(seen.reshape(len(targets), len(origins)))


def towards(origins: Floats, targets: Floats, short: float) -> tuple[Floats, Floats, Floats]:
    """Starts, rays and their reach from every origin to every target, target by target."""
    rays = (targets[:, None, :] - origins).reshape(-1, 3)
    starts = np.broadcast_to(origins, (len(targets), *origins.shape)).reshape(-1, 3)
    if not short:
        return starts, rays, np.ones(len(rays), dtype=np.float32)
    return starts, rays, np.maximum(1 - np.float32(short) / np.sqrt(np.einsum("ni,ni->n", rays, rays)), 0)


def chunks(count: int, size: int) -> Iterator[slice]:
    """Rows 0 to `count` in runs of `size`."""
    return (slice(start, min(start + size, count)) for start in range(0, count, size))
