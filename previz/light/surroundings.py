"""Light from all round: from the sky, and from the surfaces of the set, which pass it on to each other."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import Ambient, Emitter
from previz.light.occluders import OFFSET, POINTS_AT_ONCE, RAYS_AT_ONCE, Occluders, chunks
from previz.light.patterns import cosine_directions, directions_about
from previz.light.receivers import Floats, Mask, Receivers, floats
from previz.spread import spread

#: A room around the set is as bright as a mid-grey wall in the set's ambient light.
ROOM_REFLECTANCE = 0.18


@dataclass(frozen=True)
class Surroundings:
    """What each receiver meets looking all round (cosine-weighted).

    Parameters
    ----------
    sky : (n,) float32
        Irradiance from a sky of unit radiance, hidden parts left out. [lx per cd/m2]
    hits : (k, n) int32
        Triangle met by each ray, -1 for none.
    weight : (n,) float32
        What one ray counts: pi / k, and twice that where light from behind counts.
    far, ways : (k, n) and (k, n, 3) float32, or None
        How far off each triangle is [m] and where the rays went, where that is kept.
    """

    sky: Floats
    hits: NDArray[np.int32]
    weight: Floats
    far: Floats | None = None
    ways: Floats | None = None

    def joined(self, more: "Surroundings") -> "Surroundings":
        """Of these receivers, then of those; rays are forgotten."""
        hits = np.concatenate([self.hits, more.hits], axis=1)
        return Surroundings(np.concatenate([self.sky, more.sky]), hits, np.concatenate([self.weight, more.weight]))

    def sky_light(self, radiance: NDArray[Any]) -> Floats:
        """Irradiance (n, 3) RGB [lx] from a sky of `radiance` (3,) RGB [cd/m2]."""
        return np.outer(self.sky, radiance).astype(np.float32)

    def surface_light(self, triangle_radiance: NDArray[Any]) -> Floats:
        """Irradiance (n, 3) RGB [lx] from the triangles met, of radiance (m, 3) RGB [cd/m2]; any number of columns."""
        columns = triangle_radiance.shape[1]
        dark = np.zeros((1, columns), dtype=np.float32)  # -1: the last row
        table = np.concatenate([triangle_radiance.astype(np.float32, copy=False), dark])
        total = np.zeros((len(self.sky), columns), dtype=np.float32)

        def add(chunk: slice) -> None:
            given = np.empty_like(total[chunk])
            for met in self.hits[:, chunk]:
                total[chunk] += np.take(table, met, axis=0, out=given, mode="wrap")

        spread(add, chunks(len(total), POINTS_AT_ONCE))
        return total * self.weight[:, None]


def ambient_radiance(emitters: Sequence[Emitter]) -> NDArray[np.float64]:
    """Sum of the sky's radiances. (3,) RGB [cd/m2]"""
    return np.sum([e.radiance for e in emitters if isinstance(e, Ambient)], axis=0) + np.zeros(3)


def look_round(receivers: Receivers, occluders: Occluders, rays: int, *, far: bool = False) -> Surroundings:
    """Send `rays` rays from every receiver over its hemisphere (over the sphere, where two-sided).

    far: whether to keep the rays and how far they went, for `look_past`.
    """
    shape = rays, len(receivers)
    return _looked(
        receivers, occluders, rays, (np.empty(shape, np.float32), np.empty((*shape, 3), np.float32)) if far else None
    )


def look_past(receivers: Receivers, found: Surroundings, count: int, more: Occluders) -> Surroundings:
    """What those receivers see where more stands among the `count` triangles that they were found to see.

    found: with its rays. The same as to look anew past all, whose triangles are numbered on; but only those rays are
    sent that may meet it.
    """
    assert found.far is not None and found.ways is not None  # the caller has kept them
    middle, radius = more.ball
    towards = floats(middle) - receivers.points
    beside = np.maximum(np.einsum("ni,ni->n", towards, towards) - np.float32(radius) ** 2, 0)
    ahead = np.einsum("kni,ni->kn", found.ways, towards)
    ray, place = np.nonzero((ahead > np.sqrt(beside)) | (beside == 0))
    starts = receivers.points[place] + receivers.normals[place] * np.float32(OFFSET)
    turned = receivers.two_sided[place] & (ray % 2 == 1)
    starts[turned] -= 2 * np.float32(OFFSET) * receivers.normals[place[turned]]
    met, off = more.met(starts, found.ways[ray, place])
    hits, before = found.hits.copy(), off < found.far[ray, place]
    hits[ray[before], place[before]] = met[before] + np.int32(count)
    sky = _sky_seen(found.ways[..., 2] > 0, hits < 0, receivers.normals[:, 2], receivers.two_sided)
    return Surroundings(sky, hits, found.weight)


def _looked(receivers: Receivers, occluders: Occluders, rays: int, kept: tuple[Floats, Floats] | None) -> Surroundings:
    """kept: where to put how far the rays went, and which way."""
    sky = np.empty(len(receivers), dtype=np.float32)
    hits = np.empty((rays, len(receivers)), dtype=np.int32)

    def look(chunk: slice) -> None:
        both, normals = receivers.two_sided[chunk], receivers.normals[chunk]
        ways = directions_round(receivers.take(chunk), rays)
        starts = receivers.points[chunk] + normals * np.float32(OFFSET)
        starts = np.broadcast_to(starts, ways.shape).copy()
        starts[1::2, both] -= 2 * np.float32(OFFSET) * normals[both]
        sent = starts.reshape(-1, 3), ways.reshape(-1, 3)
        if kept is None:
            hits[:, chunk] = occluders.first(*sent).reshape(rays, -1)
        else:
            met, off = occluders.met(*sent)
            hits[:, chunk], kept[0][:, chunk], kept[1][:, chunk] = met.reshape(rays, -1), off.reshape(rays, -1), ways
        sky[chunk] = _sky_seen(ways[..., 2] > 0, hits[:, chunk] < 0, normals[:, 2], both)

    spread(look, chunks(len(receivers), max(1, RAYS_AT_ONCE // rays)))
    weight = np.where(receivers.two_sided, 2 * math.pi / rays, math.pi / rays).astype(np.float32)
    return Surroundings(sky, hits, weight, *(kept or ()))


def directions_round(receivers: Receivers, rays: int) -> Floats:
    """Directions of the rays that `look_round` sends. (rays, n, 3)"""
    ways = directions_about(receivers.normals, cosine_directions(rays))
    ways[1::2, receivers.two_sided] *= -1
    return ways


def mean_over_corners(values: NDArray[Any], faces: NDArray[Any]) -> Floats:
    """Mean (m, 3) over the corners of each face of what corners have (n, 3)."""
    return floats((values[faces[:, 0]] + values[faces[:, 1]] + values[faces[:, 2]]) / 3)


def _sky_seen(up: Mask, free: Mask, normal_z: Floats, both: Mask) -> Floats:
    """The unhidden sky by its closed form, times the share of upward rays that are free."""
    share = (up & free).sum(axis=0) / np.maximum(up.sum(axis=0), 1)
    unhidden = np.where(both, 1.0, (1 + normal_z) / 2)
    return np.asarray(math.pi * unhidden * share, dtype=np.float32)
