"""Light straight from lamps over the table: coarse everywhere, fine where a hard shadow has an edge."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from previz.layout import AreaEmitter, Emitter, SpotEmitter
from previz.light import Floats, Mask, Occluders, Receivers, direct_light, floats
from previz.physics.colour import LUMINANCE
from previz.stage.light.effort import Effort
from previz.stage.light.lit_set import StillSet, TableGrid
from previz.stage.light.table_map import about, filled, finer, tent

_COVERED = 0.0035  # ground with something this close above it is covered [m]
_SHOWS = 0.06  # of the light: a step from a texel to the next that is more is the edge of a shadow
_EDGE = 0.0012  # a shadow's edge that is wider than that is soft [m]


@dataclass(frozen=True)
class LampsOnGround:
    """Light straight from lamps, RGB [lx]: `light` (rows, columns, 3) over the whole table; `sharp` the same in finer
    texels, where its shadows have hard edges. Without any both are one."""

    light: Floats
    sharp: Floats


def lamps_on_ground(still: StillSet, grid: TableGrid, emitters: Sequence[Emitter], effort: Effort) -> LampsOnGround:
    """Light of all lamps over a grid of the table."""
    occluders = still.occluders
    covered = is_covered(grid.receivers, occluders).reshape(grid.rows, grid.columns)
    soft = [lamp for lamp in emitters if throws_soft_shadows(lamp, grid.receivers, effort.low)]
    hard = [lamp for lamp in emitters if lamp not in soft]
    smooth = _smoothed(grid.receivers, covered, soft, occluders, effort)
    if not hard:
        return LampsOnGround(smooth, smooth)
    stepped = within_texels(grid.receivers, covered.shape, hard, occluders, effort)
    whole = filled(stepped, covered)
    light = smooth + whole
    if effort.finer == 1:
        return LampsOnGround(light, light)
    edges = _edges(stepped @ LUMINANCE, light @ LUMINANCE)
    fine = finer(whole, effort.finer)
    hidden = np.repeat(np.repeat(covered, effort.finer, axis=0), effort.finer, axis=1)
    _look_closer(still, edges, (fine, hidden), hard, effort)
    return LampsOnGround(light, finer(smooth, effort.finer) + filled(fine, hidden))


def _edges(stepped: Floats, light: Floats) -> Mask:
    """Where light from hard lamps (rows, columns), shadows and what is covered as they are, is uneven enough to show in
    all the light from lamps. (rows, columns)"""
    highest, lowest = about(stepped, np.maximum), about(stepped, np.minimum)
    return np.asarray(highest - lowest > _SHOWS * about(light, np.maximum))


def _look_closer(
    still: StillSet, edges: Mask, maps: tuple[Floats, Mask], hard: Sequence[Emitter], effort: Effort
) -> None:
    """Work light and what is covered out anew at each fine texel of some texels (rows, columns), into their maps."""
    fine, hidden = maps
    times = effort.finer
    rows, columns = np.nonzero(np.repeat(np.repeat(edges, times, axis=0), times, axis=1))
    if not len(rows):
        return
    width, depth = still.table
    side = np.array([width / fine.shape[1], depth / fine.shape[0]])
    ground = still.on_ground(np.stack([(columns + 0.5) * side[0], depth - (rows + 0.5) * side[1]], axis=1))
    hidden[rows, columns] = is_covered(ground, still.occluders)
    fine[rows, columns] = _at_places(ground, side, effort.within_finer, hard, still.occluders, effort)


def _smoothed(
    ground: Receivers, covered: Mask, lamps: Sequence[Emitter], occluders: Occluders, effort: Effort
) -> Floats:
    """Light from lamps with soft shadows. (rows, columns, 3) RGB [lx]

    They are looked at through a pattern that differs over each four texels, and the pattern is then averaged out: four
    times the steps in a shadow's edge for the same rays.
    """
    light = np.zeros((*covered.shape, 3), dtype=np.float32)
    number = np.arange(covered.size).reshape(covered.shape)
    for turn in range(4):
        down, across = divmod(turn, 2)
        some = number[down::2, across::2]
        part = direct_light(ground.take(some.ravel()), lamps, [occluders], effort.ground, shift=turn / 4)
        light[down::2, across::2] = part.reshape(*some.shape, 3)
    return tent(tent(filled(light, covered), 0), 1)


def within_texels(
    ground: Receivers, shape: tuple[int, ...], lamps: Sequence[Emitter], occluders: Occluders, effort: Effort
) -> Floats:
    """Light from lamps whose shadows have hard edges, a mean of places within each texel. (rows, columns, 3) RGB [lx]

    From the middles alone, the shadow of what is thinner than a texel would be a row of dashes.
    """
    side = np.ptp(ground.points[:, :2], axis=0) / (np.array(shape[::-1]) - 1)
    return _at_places(ground, side, effort.within, lamps, occluders, effort).reshape(*shape, 3)


def _at_places(
    ground: Receivers,
    side: Floats,
    places: Sequence[tuple[float, float]],
    lamps: Sequence[Emitter],
    occluders: Occluders,
    effort: Effort,
) -> Floats:
    """The mean of what falls on places about each point, told in sides of a texel (2,) [m]. (n, 3) RGB [lx]"""
    light = np.zeros((len(ground), 3), dtype=np.float32)
    fewer = replace(effort.ground, spot=math.ceil(effort.ground.spot / min(len(places), 2)))
    for turn, place in enumerate(places):
        across, along = (side * place).tolist()
        rise = -(ground.normals[:, 0] * across + ground.normals[:, 1] * along) / ground.normals[:, 2]
        moved = np.stack([np.full_like(rise, across), np.full_like(rise, along), rise], axis=1)
        there = replace(ground, points=floats(ground.points + moved))
        light += direct_light(there, lamps, [occluders], fewer, shift=turn / len(places))
    return floats(light / len(places))


def throws_soft_shadows(lamp: Emitter, ground: Receivers, low: float) -> bool:
    """Whether even what is `low` above the ground [m] throws a shadow with a soft edge."""
    if isinstance(lamp, AreaEmitter):
        return True
    if not isinstance(lamp, SpotEmitter):
        return False
    far = float(np.linalg.norm(ground.points.mean(axis=0) - np.array(lamp.centre)))
    return lamp.size / far * low > _EDGE


def is_covered(ground: Receivers, occluders: Occluders) -> Mask:
    """Where something stands on the ground, so that nobody sees it. (n,)"""
    up = floats(np.tile([0.0, 0.0, 1.0], (len(ground), 1)))
    return ~occluders.clear(ground.points, up, _COVERED)
