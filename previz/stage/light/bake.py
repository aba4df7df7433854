"""How much light falls on points of the set: rays towards the lamps, the sky and the surfaces around.

Rays are Embree's, and nearly all the time goes into them. No randomness: every point looks at a lamp through the same
well-spread pattern, because an error that differs from one corner to the next shows as blotches, and one that does not
is an even, small offset. (`shift` turns the pattern, for a caller that averages neighbours again.)
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from previz.layout import BEAM_EXPONENT, Ambient, AreaEmitter, BulbEmitter, Emitter, SpotEmitter, rectangle_factor
from previz.physics.colour import LUMINANCE
from previz.physics.photometry import spot_profile
from previz.stage.spread import spread

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: A ray starts this far off its surface, so that the surface does not shade itself. [m]
OFFSET = 5e-5

#: A bulb whose unhidden light is below this share of a point's light, over the number of bulbs, is left out there:
#: what is left out is at most this share.
_LEFT_OUT = 0.02

#: Shadows in a bulb's light below this are not looked for. RGB [lx]
_FAINT = 0.1

#: Points handled at once: large enough that numpy's overhead is small, small enough for the processor's cache.
_CHUNK = 4096
_RAYS = 131072


@dataclass(frozen=True)
class Samples:
    """Rays a point sends: to each panel, spot and bulb where its shadow has an edge, and all round.

    `probes` go to a panel first; only where they disagree is there an edge. `bounces` is how often light goes on from
    surface to surface.
    """

    panel: int = 34
    probes: int = 8
    spot: int = 12
    bulb: int = 4
    round: int = 64
    bounces: int = 2


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

    def loose(self, near: float, lie: Floats) -> Mask:
        """Which are leaves: two-sided, and within `near` [m] of others that lie every way. (n,)

        `lie` (n, 3) are the normals of their triangles; those for shading may be those of a whole crown.
        """
        two = np.flatnonzero(self.two_sided)
        leaves = self.take(two)
        cells, cell_of = leaves.grouped(near, facing=False)
        _, first = np.unique(cell_of, return_index=True)
        alike = np.einsum("ni,ni->n", lie[two], lie[two][first][cell_of]) ** 2
        count = np.bincount(cell_of, minlength=len(cells))
        mean = np.bincount(cell_of, weights=alike, minlength=len(cells)) / np.maximum(count, 1)
        found = np.zeros(len(self), dtype=bool)
        found[two] = ((count >= 4) & (mean < 0.75))[cell_of]  # 1 on a flat sheet, 1/3 for leaves facing anywhere
        return found


class Blocks(Protocol):
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

    def first_places(self, origins: Floats, rays: Floats) -> tuple[NDArray[np.int32], Floats, Floats]:
        """As `first`, with the distance in ray lengths (n,) and weights (n, 3) of the triangle's corners there."""
        if not self.count:
            return self.first(origins, rays), floats(np.full(len(origins), np.inf)), floats(np.zeros((len(origins), 3)))
        hit = self._scene.run(origins, rays, output=1)
        u, v = hit["u"], hit["v"]
        return hit["primID"], hit["tfar"], np.stack([1 - u - v, u, v], axis=1)


@dataclass(frozen=True)
class Moved:
    """Occluders that stand turned by `rotation` (3, 3), then shifted by `shift` (3,) [m]."""

    occluders: Occluders
    rotation: NDArray[np.float64]
    shift: NDArray[np.float64]

    def clear(self, origins: Floats, rays: Floats, reach: float | Floats = 1.0) -> Mask:
        """Whether nothing stands between each origin and origin + reach * ray. (n,) bool"""
        turn = floats(self.rotation)
        return self.occluders.clear(floats((origins - floats(self.shift)) @ turn), rays @ turn, reach)


# --- light straight from the lamps ---


def irradiance(receivers: Receivers, emitters: Sequence[Emitter], occluders: Occluders, samples: Samples) -> Floats:
    """Light from lamps and sky on each receiver, before any bounce. (n, 3) RGB [lx]"""
    sky = ambient_radiance(emitters)
    lit = direct_light(receivers, emitters, [occluders], samples)
    if sky.any():
        lit += look_round(receivers, occluders, samples.round).sky_light(sky)
    return lit


def direct_light(
    receivers: Receivers,
    emitters: Sequence[Emitter],
    occluders: Sequence[Blocks],
    samples: Samples,
    shift: float = 0.0,
) -> Floats:
    """Light from panels, spots and bulbs on each receiver. (n, 3) RGB [lx]"""
    behind = np.flatnonzero(receivers.two_sided)
    points = np.concatenate([receivers.points, receivers.points[behind]])
    normals = np.concatenate([receivers.normals, -receivers.normals[behind]])
    lit = np.empty((len(points), 3), dtype=np.float32)

    def light(chunk: slice) -> None:
        lit[chunk] = _direct(points[chunk], normals[chunk], emitters, occluders, samples, shift)

    spread(light, _chunks(len(points), _CHUNK))
    total = lit[: len(receivers)]
    total[behind] += lit[len(receivers) :]
    return total


def _direct(
    points: Floats,
    normals: Floats,
    emitters: Sequence[Emitter],
    occluders: Sequence[Blocks],
    samples: Samples,
    shift: float,
) -> Floats:
    origins = points + normals * np.float32(OFFSET)
    lit = np.zeros((len(points), 3), dtype=np.float32)
    for emitter in emitters:
        if isinstance(emitter, AreaEmitter):
            lit += np.outer(area_light(origins, normals, emitter, occluders, samples, shift), emitter.radiance)
        elif isinstance(emitter, SpotEmitter):
            lit += np.outer(spot_light(origins, normals, emitter, occluders, samples.spot, shift), emitter.intensity)
    bulbs = [emitter for emitter in emitters if isinstance(emitter, BulbEmitter)]
    if bulbs:
        lit += bulb_light(origins, normals, bulbs, occluders, samples.bulb, _along(lit, LUMINANCE))
    return lit


def leaf_light(
    leaves: Receivers, near: float, emitters: Sequence[Emitter], occluders: Sequence[Blocks], samples: Samples
) -> Floats:
    """Light from lamps on leaves, which share within `near` [m] what they see of a lamp. (n, 3) RGB [lx]

    Each still faces the lamp in its own way; a leaf is lit through, so either way counts.
    """
    cells, cell_of = leaves.grouped(near, facing=False)
    light = np.zeros((len(leaves), 3), dtype=np.float32)
    bulbs = [lamp for lamp in emitters if isinstance(lamp, BulbEmitter)]
    for lamp in emitters:
        if isinstance(lamp, Ambient):
            continue
        faced = Receivers(cells.points, _towards_middle(cells.points, lamp), np.zeros(len(cells), dtype=bool))
        some = np.arange(len(cells))
        if isinstance(lamp, BulbEmitter):  # no more than direct_light would count
            level = bulb_level(faced.points, faced.normals, lamp) * float(LUMINANCE @ np.array(lamp.intensity))
            so_far = np.bincount(cell_of, weights=_along(light, LUMINANCE), minlength=len(cells)) / np.bincount(cell_of)
            some = np.flatnonzero(level > _LEFT_OUT / len(bulbs) * (so_far + level))
        full = np.zeros((len(cells), 3), dtype=np.float32)
        full[some] = direct_light(faced.take(some), [lamp], occluders, samples)
        cosine = np.abs(np.einsum("ni,ni->n", leaves.normals, _towards_middle(leaves.points, lamp)))
        light += full[cell_of] * cosine[:, None]
    return light


def _towards_middle(points: Floats, lamp: AreaEmitter | SpotEmitter | BulbEmitter) -> Floats:
    rays = floats(lamp.centre) - points
    return floats(rays / np.maximum(np.linalg.norm(rays, axis=1, keepdims=True), 1e-9))


def area_light(
    origins: Floats,
    normals: Floats,
    emitter: AreaEmitter,
    occluders: Sequence[Blocks],
    samples: Samples,
    shift: float = 0.0,
) -> Floats:
    """Irradiance from a rectangle of unit radiance, shadows included. (n,) [lx per cd/m2]

    A few rays first; only where they disagree (a shadow's edge), or where the rectangle straddles the point's
    horizon, the full pattern.
    """
    corners = emitter.corners.astype(np.float32)
    heights = np.einsum("cni,ni->cn", corners[:, None, :] - origins, normals)
    before = _along(origins - floats(emitter.centre), emitter.normal) > 0
    light = np.zeros(len(origins), dtype=np.float32)
    facing = np.flatnonzero(before & (heights > 0).any(axis=0))
    if not len(facing):
        return light
    place, normal = origins[facing], normals[facing]
    whole = (heights[:, facing] > 0).all(axis=0)
    # Probes stand a little outwards of the pattern: what touches the lamp touches its rim first.
    probes = _sees(place, _on_rectangle(emitter, samples.probes, shift, spread=1.1), occluders)
    hidden = ~probes.any(axis=0)
    edge = np.flatnonzero(~hidden & ~(whole & probes.all(axis=0)))
    level = np.zeros(len(facing))
    easy = np.flatnonzero(~hidden & whole)
    level[easy] = rectangle_factor(place[easy], normal[easy], emitter)
    targets = _on_rectangle(emitter, samples.panel, shift)
    for part in _chunks(len(edge), max(1, _RAYS // samples.panel)):
        some = edge[part]
        weights = _rectangle_weights(place[some], normal[some], targets, emitter)
        seen = (weights * _sees(place[some], targets, occluders)).sum(axis=0)
        level[some] = np.where(
            whole[some],
            level[some] * seen / np.maximum(weights.sum(axis=0), 1e-20),
            seen * (emitter.area / samples.panel),
        )
    light[facing] = np.maximum(level, 0)
    return light


def _rectangle_weights(place: Floats, normal: Floats, targets: Floats, emitter: AreaEmitter) -> Floats:
    """Cosine at the point times cosine at the lamp over distance squared. (s, n)"""
    rays = targets[:, None, :] - place
    squared = np.einsum("sni,sni->sn", rays, rays)
    here = np.maximum(np.einsum("sni,ni->sn", rays, normal), 0)
    there = np.maximum(-_along(rays, emitter.normal), 0)
    return np.asarray(here * there / (squared * squared))


def spot_light(
    origins: Floats,
    normals: Floats,
    emitter: SpotEmitter,
    occluders: Sequence[Blocks],
    samples: int,
    shift: float = 0.0,
) -> Floats:
    """Irradiance from a spot of unit axis intensity, shadows included. (n,) [lx per cd]"""
    light = spot_level(origins, normals, emitter)
    lit = np.flatnonzero(light > 0)
    if len(lit):
        probes, targets = (_on_disc(emitter, count, shift) for count in (_RIM, samples))
        light[lit] *= _share_seen(origins[lit], probes, targets, occluders)
    return light


def spot_level(origins: Floats, normals: Floats, emitter: SpotEmitter) -> Floats:
    """Irradiance from an unhidden spot of unit axis intensity. (n,) [lx per cd]"""
    rays = floats(emitter.centre) - origins
    squared = np.einsum("ni,ni->n", rays, rays)
    far = np.sqrt(squared)
    cosine = np.einsum("ni,ni->n", rays, normals)
    off_axis = np.arccos(np.clip(-_along(rays, emitter.axis) / far, -1, 1))
    return floats(np.maximum(cosine, 0) / (squared * far) * spot_profile(off_axis, emitter.angle))


def bulb_light(
    origins: Floats,
    normals: Floats,
    bulbs: Sequence[BulbEmitter],
    occluders: Sequence[Blocks],
    samples: int,
    other_light: Floats,
) -> Floats:
    """Irradiance from all bulbs, shadows included. (n, 3) RGB [lx]

    other_light (n,) is the luminous part from other lamps; a bulb too weak to matter beside it is left out.
    """
    lit = np.zeros((len(origins), 3), dtype=np.float32)
    levels = [bulb_level(origins, normals, bulb) for bulb in bulbs]
    luminous = [float(LUMINANCE @ np.array(bulb.intensity)) for bulb in bulbs]
    total = other_light + sum(level * one for level, one in zip(levels, luminous, strict=True))
    least = _LEFT_OUT / len(bulbs) * total
    for bulb, level, one in zip(bulbs, levels, luminous, strict=True):
        near = np.flatnonzero((level * one > least) & (level > 0))
        if len(near):
            targets = _on_ball(bulb, samples)
            seen = _share_seen(origins[near], targets[:1], targets, occluders, short=1.3 * bulb.radius)
            lit[near] += np.outer(level[near] * seen, bulb.intensity)
    return lit


def bulb_level(origins: Floats, normals: Floats, bulb: BulbEmitter) -> Floats:
    """Irradiance from an unhidden bulb of unit intensity. (n,) [lx per cd]

    A ball lights like a point at its middle, at any distance: cos / d^2.
    """
    rays = floats(bulb.centre) - origins
    squared = np.maximum(np.einsum("ni,ni->n", rays, rays), np.float32(bulb.radius**2))
    far = np.sqrt(squared)
    level = np.maximum(np.einsum("ni,ni->n", rays, normals), 0) / (squared * far)
    if bulb.beam is not None:
        level *= np.maximum(-_along(rays, bulb.beam) / far, 0) ** np.float32(BEAM_EXPONENT)
    return np.asarray(level, dtype=np.float32)


def _share_seen(
    origins: Floats, probes: Floats, targets: Floats, occluders: Sequence[Blocks], short: float = 0.0
) -> Floats:
    """Share of a small lamp each origin sees: by a few rays, by all where those disagree. (n,)"""
    first = _sees(origins, probes, occluders, short)
    share = first.mean(axis=0, dtype=np.float32)
    edge = np.flatnonzero(first.any(axis=0) & ~first.all(axis=0))
    if len(probes) == 1:  # one ray cannot disagree
        edge = np.arange(len(origins)) if len(targets) > 1 else edge
    if len(edge):
        share[edge] = _sees(origins[edge], targets, occluders, short).mean(axis=0)
    return share


def _sees(origins: Floats, targets: Floats, occluders: Sequence[Blocks], short: float = 0.0) -> Mask:
    """Whether each origin sees each target, past all occluders; rays end `short` of the target [m]. (s, n)"""
    starts, rays, reach = _towards(origins, targets, short)
    seen = occluders[0].clear(starts, rays, reach)
    for more in occluders[1:]:
        left = np.flatnonzero(seen)
        seen[left] = more.clear(starts[left], rays[left], reach[left])
    return np.asarray(seen.reshape(len(targets), len(origins)))


def _towards(origins: Floats, targets: Floats, short: float) -> tuple[Floats, Floats, Floats]:
    """Starts, rays and their reach from every origin to every target, target by target."""
    rays = (targets[:, None, :] - origins).reshape(-1, 3)
    starts = np.broadcast_to(origins, (len(targets), *origins.shape)).reshape(-1, 3)
    if not short:
        return starts, rays, np.ones(len(rays), dtype=np.float32)
    return starts, rays, np.maximum(1 - np.float32(short) / np.sqrt(np.einsum("ni,ni->n", rays, rays)), 0)


def seen_share(origins: Floats, lamp: Emitter, occluders: Sequence[Blocks], samples: int) -> Floats:
    """Share of a lamp that each origin sees. (n,)"""
    targets, short = _targets(lamp, samples)
    return floats(_sees(origins, targets, occluders, short).mean(axis=0))


def _targets(lamp: Emitter, samples: int) -> tuple[Floats, float]:
    """Points on a lamp, and how far before them a ray ends so as not to meet the lamp's own body [m]."""
    if isinstance(lamp, AreaEmitter):
        return _on_rectangle(lamp, samples), 0.0
    if isinstance(lamp, SpotEmitter):
        return _on_disc(lamp, samples), 0.0
    assert isinstance(lamp, BulbEmitter)  # the sky is no lamp to aim at
    return _on_ball(lamp, samples), 1.3 * lamp.radius


def shadow_loss(
    origins: Floats,
    normals: Floats,
    lamp: Emitter,
    body: Blocks,
    ball: tuple[Floats, float],
    others: Blocks,
    samples: Samples,
) -> Floats | None:
    """Light that `body` takes from each point where the `others` let it by. (n,); None for the sky.

    Per unit of the lamp's radiance or intensity. `ball` is the middle and radius [m] of one that holds the body.
    """
    if isinstance(lamp, Ambient):
        return None
    if isinstance(lamp, AreaEmitter):
        level, first, full = floats(rectangle_factor(origins, normals, lamp)), samples.probes, samples.panel
    elif isinstance(lamp, SpotEmitter):
        level, first, full = spot_level(origins, normals, lamp), _RIM, samples.spot
    else:
        level, first, full = bulb_level(origins, normals, lamp), 1, samples.bulb
        level = floats(np.where(level * max(lamp.intensity) > _FAINT, level, 0))
    loss = np.zeros(len(origins), dtype=np.float32)
    lit = np.flatnonzero((level > 0) & _past_ball(origins, lamp, *ball))
    probes, short = _targets(lamp, first)
    shaded = lit[~_sees(origins[lit], probes, [body], short).all(axis=0)]
    targets, _ = _targets(lamp, full)

    def lose(part: slice) -> None:
        some = shaded[part]
        starts, rays, reach = _towards(origins[some], targets, short)
        taken = ~body.clear(starts, rays, reach)
        stopped = np.flatnonzero(taken)
        taken[stopped] = others.clear(starts[stopped], rays[stopped], reach[stopped])
        share = taken.reshape(full, -1).astype(np.float32)
        if isinstance(lamp, AreaEmitter):
            weights = _rectangle_weights(origins[some], normals[some], targets, lamp)
            share *= weights * (full / np.maximum(weights.sum(axis=0), 1e-20))
        loss[some] = level[some] * share.mean(axis=0)

    spread(lose, _chunks(len(shaded), max(1, _RAYS // full)))
    return loss


def _past_ball(origins: Floats, lamp: AreaEmitter | SpotEmitter | BulbEmitter, middle: Floats, radius: float) -> Mask:
    """Whether any line from an origin to the lamp may pass through a ball. (n,)"""
    if isinstance(lamp, AreaEmitter):
        reach = float(np.linalg.norm(lamp.half_u) + np.linalg.norm(lamp.half_v))
    else:
        reach = lamp.size / 2 if isinstance(lamp, SpotEmitter) else lamp.radius
    rays, across = floats(lamp.centre) - origins, middle - origins
    squared = np.einsum("ni,ni->n", rays, rays)
    nearest = np.clip(np.einsum("ni,ni->n", rays, across) / squared, 0, 1)
    off = across - nearest[:, None] * rays
    # Lines to a lamp fan out; the ball may be met some way before or behind the nearest place of the middle one.
    fan = np.minimum(nearest + radius / np.sqrt(squared), 1) * reach
    return np.asarray(np.einsum("ni,ni->n", off, off) <= (radius + fan) ** 2)


# --- light from all round ---


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
    """

    sky: Floats
    hits: NDArray[np.int32]
    weight: Floats

    def sky_light(self, radiance: NDArray[Any]) -> Floats:
        """Irradiance (n, 3) RGB [lx] from a sky of `radiance` (3,) RGB [cd/m2]."""
        return np.outer(self.sky, radiance).astype(np.float32)

    def surface_light(self, triangle_radiance: NDArray[Any]) -> Floats:
        """Irradiance (n, 3) RGB [lx] from the triangles met, of radiance (m, 3) RGB [cd/m2]."""
        table = np.concatenate([triangle_radiance, np.zeros((1, 3))]).astype(np.float32)  # -1 is the dark last row
        total = np.zeros((len(self.sky), 3), dtype=np.float32)

        def add(chunk: slice) -> None:
            for met in self.hits[:, chunk]:
                total[chunk] += table[met]

        spread(add, _chunks(len(total), _CHUNK))
        return total * self.weight[:, None]


def ambient_radiance(emitters: Sequence[Emitter]) -> NDArray[np.float64]:
    """Sum of the sky's radiances. (3,) RGB [cd/m2]"""
    return np.sum([e.radiance for e in emitters if isinstance(e, Ambient)], axis=0) + np.zeros(3)


def look_round(receivers: Receivers, occluders: Occluders, rays: int) -> Surroundings:
    """Send `rays` rays from every receiver over its hemisphere (over the sphere, where two-sided)."""
    sky = np.empty(len(receivers), dtype=np.float32)
    hits = np.empty((rays, len(receivers)), dtype=np.int32)

    def look(chunk: slice) -> None:
        both, normals = receivers.two_sided[chunk], receivers.normals[chunk]
        ways = ways_round(receivers.take(chunk), rays)
        starts = receivers.points[chunk] + normals * np.float32(OFFSET)
        starts = np.broadcast_to(starts, ways.shape).copy()
        starts[1::2, both] -= 2 * np.float32(OFFSET) * normals[both]
        hits[:, chunk] = occluders.first(starts.reshape(-1, 3), ways.reshape(-1, 3)).reshape(rays, -1)
        sky[chunk] = _sky_seen(ways[..., 2] > 0, hits[:, chunk] < 0, normals[:, 2], both)

    spread(look, _chunks(len(receivers), max(1, _RAYS // rays)))
    weight = np.where(receivers.two_sided, 2 * math.pi / rays, math.pi / rays).astype(np.float32)
    return Surroundings(sky, hits, weight)


def ways_round(receivers: Receivers, rays: int) -> Floats:
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


def cosine_directions(count: int) -> Floats:
    """Directions about +z, as dense as their cosine: a sunflower disc raised to the hemisphere. (count, 3)"""
    number = np.arange(count)
    radius = np.sqrt((number + 0.5) / count)
    turn = number * (math.pi * (3 - math.sqrt(5)))
    return np.stack([radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1 - radius**2)], axis=1).astype(np.float32)


def directions_about(normals: Floats, local: Floats) -> Floats:
    """`local` (k, 3) directions about z turned to be about each normal (n, 3). (k, n, 3)

    The turn varies smoothly with the normal but at z = -0.5, so neighbours see through the same pattern (basis of
    Duff et al., "Building an Orthonormal Basis, Revisited", JCGT 6(1), 2017, its seam moved off upright walls).
    """
    x, y, z = normals.T
    sign = np.where(z < -0.5, np.float32(-1), np.float32(1))
    a = -1 / (sign + z)
    b = x * y * a
    across = np.stack([1 + sign * x * x * a, sign * b, -sign * x], axis=1)
    along = np.stack([b, sign + y * y * a, -y], axis=1)
    basis = np.stack([across, along, normals]).reshape(3, -1)
    return np.asarray((local @ basis).reshape(len(local), len(normals), 3))


# --- patterns ---


#: Probes on the rim of a spot.
_RIM = 4


def _lattice(count: int, shift: float = 0.0) -> Floats:
    """`count` points over the unit square, each alone in its row and column. (count, 2)

    The two-dimensional lattice of golden steps: an edge of any slant crosses the points one by one, so a soft
    shadow falls off in `count` small steps.
    """
    number = np.arange(count)
    across = ((number + 0.5) / count + shift) % 1
    return np.stack([across, (0.5 + shift + number * 0.6180339887498949) % 1], axis=1).astype(np.float32)


def _on_rectangle(emitter: AreaEmitter, count: int, shift: float = 0.0, spread: float = 1.0) -> Floats:
    across = np.clip(spread * (2 * _lattice(count, shift) - 1), -0.98, 0.98).astype(np.float32)
    return floats(emitter.centre) + across @ floats([emitter.half_u, emitter.half_v])


def _on_disc(emitter: SpotEmitter, count: int, shift: float = 0.0) -> Floats:
    if count == _RIM:  # probes stand on the rim, where they disagree first
        turn = (np.arange(count) + shift) * (2 * math.pi / count)
        flat = 0.9 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    else:
        c, s = math.cos(2 * math.pi * shift), math.sin(2 * math.pi * shift)
        rotation = np.array([[c, s], [-s, c]])
        flat = cosine_directions(count)[:, :2] @ rotation
    on_plane = floats(np.pad(flat, [(0, 0), (0, 1)]) * (emitter.size / 2))
    return np.asarray(floats(emitter.centre) + directions_about(floats([emitter.axis]), on_plane)[:, 0])


def _on_ball(bulb: BulbEmitter, count: int) -> Floats:
    if count == 1:
        return floats([bulb.centre])
    corners = floats([[0, 0, 0], [1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]])[:count]
    return np.asarray(floats(bulb.centre) + corners * np.float32(0.45 * bulb.radius))


def _along(values: Floats, way: Any) -> Floats:
    """Scalar product of each of (..., 3) with `way` (3,). Not `@`, for the reason that `times` gives."""
    return floats(np.einsum("...i,i->...", values, floats(way)))


def floats(values: Any) -> Floats:
    """As an array of the rays' own number type."""
    return np.asarray(values, dtype=np.float32)


def _chunks(count: int, size: int) -> Iterator[slice]:
    return (slice(start, min(start + size, count)) for start in range(0, count, size))
