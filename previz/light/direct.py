"""Light straight from the lamps, shadows included."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from previz.layout import BEAM_EXPONENT, Ambient, AreaEmitter, BulbEmitter, Emitter, SpotEmitter, rectangle_factor
from previz.light.occluders import OFFSET, POINTS_AT_ONCE, RAYS_AT_ONCE, Obstacle, chunks, sees, towards
from previz.light.patterns import RIM, on_ball, on_disc, on_rectangle, targets_on
from previz.light.receivers import Floats, Mask, Receivers, floats
from previz.light.samples import Samples
from previz.physics.colour import LUMINANCE
from previz.physics.photometry import spot_profile
from previz.spread import spread

#: A bulb whose unhidden light is below this share of a point's light, over the number of bulbs, is left out there:
#: what is left out is at most this share.
_LEFT_OUT = 0.02

#: Shadows in a bulb's light below this are not looked for. RGB [lx]
_FAINT = 0.1


def direct_light(
    receivers: Receivers,
    emitters: Sequence[Emitter],
    occluders: Sequence[Obstacle],
    samples: Samples,
    shift: float = 0.0,
) -> Floats:
    """Light from panels, spots and bulbs on each receiver. (n, 3) RGB [lx]"""
    return direct_light_of(receivers, [emitters], occluders, samples, shift)[0]


def direct_light_of(
    receivers: Receivers,
    lots: Sequence[Sequence[Emitter]],
    occluders: Sequence[Obstacle],
    samples: Samples,
    shift: float = 0.0,
) -> Floats:
    """The same of several lots of emitters, (lots, n, 3): rays are sent once to panels that are alike but for their
    light."""
    behind = np.flatnonzero(receivers.two_sided)
    points = np.concatenate([receivers.points, receivers.points[behind]])
    normals = np.concatenate([receivers.normals, -receivers.normals[behind]])
    lit = np.empty((len(lots), len(points), 3), dtype=np.float32)

    def light(chunk: slice) -> None:
        levels: dict[AreaEmitter, Floats] = {}
        for lot, emitters in zip(lit, lots, strict=True):
            lot[chunk] = _direct(points[chunk], normals[chunk], emitters, occluders, samples, shift, levels)

    spread(light, chunks(len(points), POINTS_AT_ONCE))
    total = lit[:, : len(receivers)]
    total[:, behind] += lit[:, len(receivers) :]
    return total


def _direct(
    points: Floats,
    normals: Floats,
    emitters: Sequence[Emitter],
    occluders: Sequence[Obstacle],
    samples: Samples,
    shift: float,
    levels: dict[AreaEmitter, Floats],
) -> Floats:
    """levels: what panels of a radiance of 1 are known to give; added to."""
    origins = points + normals * np.float32(OFFSET)
    lit = np.zeros((len(points), 3), dtype=np.float32)
    for emitter in emitters:
        if isinstance(emitter, AreaEmitter):
            panel = replace(emitter, radiance=(1.0, 1.0, 1.0))
            if panel not in levels:
                levels[panel] = area_light(origins, normals, emitter, occluders, samples, shift)
            lit += np.outer(levels[panel], emitter.radiance)
        elif isinstance(emitter, SpotEmitter):
            lit += np.outer(spot_light(origins, normals, emitter, occluders, samples.spot, shift), emitter.intensity)
    bulbs = [emitter for emitter in emitters if isinstance(emitter, BulbEmitter)]
    if bulbs:
        lit += bulb_light(origins, normals, bulbs, occluders, samples.bulb, _along(lit, LUMINANCE))
    return lit


def leaf_light(
    leaves: Receivers, near: float, emitters: Sequence[Emitter], occluders: Sequence[Obstacle], samples: Samples
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
    occluders: Sequence[Obstacle],
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
    probes = sees(place, on_rectangle(emitter, samples.probes, shift, spread=1.1), occluders)
    hidden = ~probes.any(axis=0)
    edge = np.flatnonzero(~hidden & ~(whole & probes.all(axis=0)))
    level = np.zeros(len(facing))
    easy = np.flatnonzero(~hidden & whole)
    level[easy] = rectangle_factor(place[easy], normal[easy], emitter)
    targets = on_rectangle(emitter, samples.panel, shift)
    for part in chunks(len(edge), max(1, RAYS_AT_ONCE // samples.panel)):
        some = edge[part]
        weights = _rectangle_weights(place[some], normal[some], targets, emitter)
        seen = (weights * sees(place[some], targets, occluders)).sum(axis=0)
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
    occluders: Sequence[Obstacle],
    samples: int,
    shift: float = 0.0,
) -> Floats:
    """Irradiance from a spot of unit axis intensity, shadows included. (n,) [lx per cd]"""
    light = spot_level(origins, normals, emitter)
    lit = np.flatnonzero(light > 0)
    if len(lit):
        probes, targets = (on_disc(emitter, count, shift) for count in (RIM, samples))
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
    occluders: Sequence[Obstacle],
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
            targets = on_ball(bulb, samples)
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
    origins: Floats, probes: Floats, targets: Floats, occluders: Sequence[Obstacle], short: float = 0.0
) -> Floats:
    """Share of a small lamp each origin sees: by a few rays, by all where those disagree. (n,)"""
    first = sees(origins, probes, occluders, short)
    share = first.mean(axis=0, dtype=np.float32)
    edge = np.flatnonzero(first.any(axis=0) & ~first.all(axis=0))
    if len(probes) == 1:  # one ray cannot disagree
        edge = np.arange(len(origins)) if len(targets) > 1 else edge
    if len(edge):
        share[edge] = sees(origins[edge], targets, occluders, short).mean(axis=0)
    return share


def seen_share(origins: Floats, lamp: Emitter, occluders: Sequence[Obstacle], samples: int) -> Floats:
    """Share of a lamp that each origin sees. (n,)"""
    targets, short = targets_on(lamp, samples)
    return floats(sees(origins, targets, occluders, short).mean(axis=0))


def shadow_loss(
    origins: Floats,
    normals: Floats,
    lamp: Emitter,
    body: Obstacle,
    ball: tuple[Floats, float],
    others: Obstacle,
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
        level, first, full = spot_level(origins, normals, lamp), RIM, samples.spot
    else:
        level, first, full = bulb_level(origins, normals, lamp), 1, samples.bulb
        level = floats(np.where(level * max(lamp.intensity) > _FAINT, level, 0))
    loss = np.zeros(len(origins), dtype=np.float32)
    lit = np.flatnonzero((level > 0) & _past_ball(origins, lamp, *ball))
    probes, short = targets_on(lamp, first)
    shaded = lit[~sees(origins[lit], probes, [body], short).all(axis=0)]
    targets, _ = targets_on(lamp, full)

    def lose(part: slice) -> None:
        some = shaded[part]
        starts, rays, reach = towards(origins[some], targets, short)
        taken = ~body.clear(starts, rays, reach)
        stopped = np.flatnonzero(taken)
        taken[stopped] = others.clear(starts[stopped], rays[stopped], reach[stopped])
        share = taken.reshape(full, -1).astype(np.float32)
        if isinstance(lamp, AreaEmitter):
            weights = _rectangle_weights(origins[some], normals[some], targets, lamp)
            share *= weights * (full / np.maximum(weights.sum(axis=0), 1e-20))
        loss[some] = level[some] * share.mean(axis=0)

    spread(lose, chunks(len(shaded), max(1, RAYS_AT_ONCE // full)))
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


def _along(values: Floats, way: Any) -> Floats:
    """Scalar product of each of (..., 3) with `way` (3,). Not `@`, for the reason that `times` gives."""
    return floats(np.einsum("...i,i->...", values, floats(way)))
