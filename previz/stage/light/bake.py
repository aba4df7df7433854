"""The set's light, baked once: on every corner, over the table, and what every triangle sends back."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from previz.files import Arrays
from previz.layout import AreaEmitter, Emitter, SpotEmitter
from previz.light import (
    Floats,
    Mask,
    Occluders,
    Receivers,
    Surroundings,
    ambient_radiance,
    direct_light,
    floats,
    leaf_light,
    look_round,
    mean_over_corners,
)
from previz.spread import both
from previz.stage.light.effort import Effort
from previz.stage.light.lit_set import StillSet
from previz.stage.light.reflecting import share_from_around
from previz.stage.light.table_map import filled, on_table, tent

_MOST_TEXELS = 160_000
_FOLIAGE = 0.012  # leaves face every way within so much [m]
_COVERED = 0.0035  # ground with something this close above it is covered [m]


def bake(still: StillSet, emitters: tuple[Emitter, ...], effort: Effort) -> Arrays:
    """Light on all corners (`corners`), over the table (`light`, its `soft` part), and every triangle's `radiance`.

    Where a surface asks for it, `around` is the share of the light on each corner that comes from no lamp. (n,)
    """
    corners = still.corners()
    texel = max(effort.texel, math.sqrt(still.table[0] * still.table[1] / _MOST_TEXELS))
    fine, rows, columns = still.ground_grid(texel)
    coarse, soft_rows, soft_columns = still.ground_grid(texel * effort.soft)
    occluders = still.occluders

    def look_at_corners() -> tuple[Floats, Surroundings, NDArray[np.int64]]:
        straight, some, group_of = _straight_on_corners(corners, still.flat_normals(), emitters, occluders, effort)
        return straight, look_round(some, occluders, effort.samples.round), group_of

    def look_at_ground() -> tuple[Floats, Surroundings, Mask]:
        covered = _covered(fine, occluders).reshape(rows, columns)
        straight = _straight_on_ground(fine, covered, emitters, occluders, effort)
        covered_soft = _covered(coarse, occluders).reshape(soft_rows, soft_columns)
        return straight, look_round(coarse, occluders, effort.ground.round), covered_soft

    (straight, round_corners, group_of), (straight_ground, round_ground, covered_soft) = both(
        look_at_corners, look_at_ground
    )
    sky = ambient_radiance(emitters)
    centres = still.floor.vertices[still.floor.faces].mean(axis=1)

    def soft_light(around: Surroundings, radiance: Floats | None) -> Floats:
        light = around.sky_light(sky)
        return light if radiance is None else light + around.surface_light(radiance)

    given_on = len(corners) - sum(len(mesh.vertices) for mesh in still.giving)  # from there on emitters see to it
    radiance: Floats | None = None
    for _ in range(effort.samples.bounces + 1):
        on_corners = straight + soft_light(round_corners, radiance)[group_of]
        thrown = on_corners
        if still.giving:
            thrown = on_corners.copy()
            thrown[given_on:] = _from_surfaces(round_corners, radiance)[group_of[given_on:]]
        soft = soft_light(round_ground, radiance).reshape(soft_rows, soft_columns, 3)
        soft = filled(soft, covered_soft)
        soft_fine = on_table(soft, still.table, fine.points).reshape(rows, columns, 3)
        light = straight_ground + soft_fine
        at_triangles = np.concatenate(
            [
                mean_over_corners(thrown, still.shape.faces[: -len(centres)]),
                on_table(light, still.table, floats(centres)),
            ]
        )
        # What is close to a bulb gleams far beyond the rest, and the few rays that find it would speckle the set; the
        # bulb's flux already counts all that leaves its lantern.
        at_triangles = np.minimum(at_triangles, np.percentile(light, 99.5, axis=(0, 1)))
        radiance = floats(still.triangle_albedo * at_triangles / math.pi + still.triangle_glow)
    assert radiance is not None  # at least one pass
    found = {"corners": on_corners, "light": light, "soft": soft_fine, "radiance": radiance}
    if any(mesh.surface is not None and mesh.surface.shaded for mesh in still.meshes):
        found["around"] = share_from_around(on_corners, straight)
    return found


def _from_surfaces(around: Surroundings, radiance: Floats | None) -> Floats:
    """Light that other surfaces throw on each. (n, 3) RGB [lx]"""
    return np.zeros((len(around.sky), 3), np.float32) if radiance is None else around.surface_light(radiance)


def _straight_on_corners(
    corners: Receivers, flat: Floats, emitters: Sequence[Emitter], occluders: Occluders, effort: Effort
) -> tuple[Floats, Receivers, NDArray[np.int64]]:
    """Light from lamps (n, 3); then the fewer receivers that stand for all in light from all round, and whose (n,)."""
    is_leaf = corners.leaves(_FOLIAGE, flat)
    leaf, rest = np.flatnonzero(is_leaf), np.flatnonzero(~is_leaf)
    leaves, sheets = corners.take(leaf), corners.take(rest)
    light = np.empty((len(corners), 3), dtype=np.float32)
    light[leaf] = leaf_light(leaves, effort.near_leaves, emitters, [occluders], effort.samples)
    close, close_of = sheets.grouped(effort.close)
    light[rest] = direct_light(close, emitters, [occluders], effort.samples)[close_of]
    some_sheets, sheet_of = sheets.grouped(effort.near)
    some_leaves, leaf_of = leaves.grouped(effort.near_leaves, facing=False)
    group_of = np.empty(len(corners), dtype=np.int64)
    group_of[rest], group_of[leaf] = sheet_of, leaf_of + len(some_sheets)
    return light, some_sheets.joined(some_leaves), group_of


def _straight_on_ground(
    fine: Receivers, covered: Mask, emitters: Sequence[Emitter], occluders: Occluders, effort: Effort
) -> Floats:
    """Light from lamps over the table. (rows, columns, 3) RGB [lx]

    Large lamps, whose shadows are soft, are looked at through a pattern that differs over each four texels, and the
    pattern is then averaged out: four times the steps in a shadow's edge for the same rays.
    """
    soft = [lamp for lamp in emitters if _throws_soft_shadows(lamp, fine)]
    hard = [lamp for lamp in emitters if lamp not in soft]
    light = np.zeros((*covered.shape, 3), dtype=np.float32)
    number = np.arange(covered.size).reshape(covered.shape)
    for turn in range(4):
        down, across = divmod(turn, 2)
        some = number[down::2, across::2]
        part = direct_light(fine.take(some.ravel()), soft, [occluders], effort.ground, shift=turn / 4)
        light[down::2, across::2] = part.reshape(*some.shape, 3)
    light = tent(tent(filled(light, covered), 0), 1)
    return light + filled(_within_texels(fine, covered.shape, hard, occluders, effort), covered)


def _within_texels(
    fine: Receivers, shape: tuple[int, ...], lamps: Sequence[Emitter], occluders: Occluders, effort: Effort
) -> Floats:
    """Light from lamps whose shadows have hard edges, a mean of places within each texel. (rows, columns, 3) RGB [lx]

    From the middles alone, the shadow of what is thinner than a texel would be a row of dashes.
    """
    light = np.zeros((len(fine), 3), dtype=np.float32)
    if not lamps:
        return light.reshape(*shape, 3)
    sides = np.ptp(fine.points[:, :2], axis=0) / (np.array(shape[::-1]) - 1)
    places = effort.within
    fewer = replace(effort.ground, spot=math.ceil(effort.ground.spot / min(len(places), 2)))
    for turn, place in enumerate(places):
        across, along = (sides * place).tolist()
        rise = -(fine.normals[:, 0] * across + fine.normals[:, 1] * along) / fine.normals[:, 2]
        moved = np.stack([np.full_like(rise, across), np.full_like(rise, along), rise], axis=1)
        there = replace(fine, points=floats(fine.points + moved))
        light += direct_light(there, lamps, [occluders], fewer, shift=turn / len(places))
    return floats(light / len(places)).reshape(*shape, 3)


def _throws_soft_shadows(lamp: Emitter, ground: Receivers) -> bool:
    """Whether the edge of a shadow from 40 mm above the ground is about as wide as a texel."""
    if isinstance(lamp, AreaEmitter):
        return True
    if not isinstance(lamp, SpotEmitter):
        return False
    far = float(np.linalg.norm(ground.points.mean(axis=0) - np.array(lamp.centre)))
    return lamp.size / far * 0.040 > 0.0012


def _covered(ground: Receivers, occluders: Occluders) -> Mask:
    """Where something stands on the ground, so that nobody sees it."""
    up = floats(np.tile([0.0, 0.0, 1.0], (len(ground), 1)))
    return ~occluders.clear(ground.points, up, _COVERED)
