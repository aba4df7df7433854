"""The set's light, baked once: on every corner, over the table, and what every triangle sends back."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from previz.files import Arrays
from previz.layout import Emitter
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
from previz.stage.light.lamps_on_ground import LampsOnGround, is_covered, lamps_on_ground
from previz.stage.light.lit_set import StillSet
from previz.stage.light.out_of_solids import out_of_solids
from previz.stage.light.over_faces import WideFaces
from previz.stage.light.reflecting import share_from_around
from previz.stage.light.table_map import filled, finer, on_table

_MOST_TEXELS = 160_000
_FOLIAGE = 0.012  # leaves face every way within so much [m]


def bake(still: StillSet, emitters: tuple[Emitter, ...], effort: Effort) -> Arrays:
    """Light on all corners (`corners`), over the table (`light`, its `soft` part), and every triangle's `radiance`.

    Where a surface asks for it, `around` is the share of the light on each corner that comes from no lamp. (n,)
    """
    corners = still.corners()
    texel = max(effort.texel, math.sqrt(still.table[0] * still.table[1] / _MOST_TEXELS))
    fine, coarse = still.ground_grid(texel), still.ground_grid(texel * effort.soft)
    occluders = still.occluders

    def look_at_corners() -> tuple[Floats, Surroundings, NDArray[np.int64], NDArray[np.int64]]:
        faces = still.shape.faces[: -len(still.floor.faces)]
        flat = still.flat_normals()
        straight, some, group_of = _straight_on_corners(corners, faces, flat, emitters, occluders, effort)
        around = look_round(some, occluders, effort.samples.round)
        buried = still.buried(some, around.hits)[group_of]
        own = corners.take(buried)  # others of a group may be outside of what its first is in
        buried[buried] = still.buried(own, look_round(own, occluders, effort.samples.round).hits)
        buried |= still.in_high_ground(corners)
        return straight, around, group_of, out_of_solids(corners, faces, buried)

    def look_at_ground() -> tuple[LampsOnGround, Surroundings, Mask]:
        lamps = lamps_on_ground(still, fine, emitters, effort)
        covered_soft = is_covered(coarse.receivers, occluders).reshape(coarse.rows, coarse.columns)
        return lamps, look_round(coarse.receivers, occluders, effort.ground.round), covered_soft

    (straight, round_corners, group_of, out), (lamps, round_ground, covered_soft) = both(
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
        on_corners = (straight + soft_light(round_corners, radiance)[group_of])[out]
        thrown = on_corners
        if still.giving:
            thrown = on_corners.copy()
            thrown[given_on:] = _from_surfaces(round_corners, radiance)[group_of[given_on:]]
        soft = filled(soft_light(round_ground, radiance).reshape(coarse.rows, coarse.columns, 3), covered_soft)
        soft_fine = on_table(soft, still.table, fine.receivers.points).reshape(fine.rows, fine.columns, 3)
        light = lamps.light + soft_fine
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
    sharp = lamps.sharp + finer(soft_fine, lamps.sharp.shape[0] // fine.rows)
    found = {"corners": on_corners, "light": sharp, "soft": soft_fine, "radiance": radiance}
    if any(mesh.surface is not None and mesh.surface.shaded for mesh in still.meshes):
        found["around"] = share_from_around(on_corners, straight[out])
    return found


def _from_surfaces(around: Surroundings, radiance: Floats | None) -> Floats:
    """Light that other surfaces throw on each. (n, 3) RGB [lx]"""
    return np.zeros((len(around.sky), 3), np.float32) if radiance is None else around.surface_light(radiance)


def _straight_on_corners(
    corners: Receivers,
    faces: NDArray[np.int64],
    flat: Floats,
    emitters: Sequence[Emitter],
    occluders: Occluders,
    effort: Effort,
) -> tuple[Floats, Receivers, NDArray[np.int64]]:
    """Light from lamps (n, 3); then the fewer receivers that stand for all in light from all round, and whose (n,)."""
    is_leaf = corners.leaves(_FOLIAGE, flat)
    leaf, rest = np.flatnonzero(is_leaf), np.flatnonzero(~is_leaf)
    leaves, sheets = corners.take(leaf), corners.take(rest)
    light = np.empty((len(corners), 3), dtype=np.float32)
    light[leaf] = leaf_light(leaves, effort.near_leaves, emitters, [occluders], effort.samples)
    close, close_of = sheets.grouped(effort.close)

    def direct(there: Receivers) -> Floats:
        return direct_light(there, emitters, [occluders], effort.samples)

    row_of = np.full(len(corners), -1)
    row_of[rest] = close_of
    flat_faces = faces[(row_of[faces] >= 0).all(axis=1)]
    wide = WideFaces.of(corners.points[flat_faces], row_of[flat_faces], effort.wide, len(close))
    light[rest] = wide.evened(direct(close), close, direct)[close_of]
    some_sheets, sheet_of = sheets.grouped(effort.near)
    some_leaves, leaf_of = leaves.grouped(effort.near_leaves, facing=False)
    group_of = np.empty(len(corners), dtype=np.int64)
    group_of[rest], group_of[leaf] = sheet_of, leaf_of + len(some_sheets)
    return light, some_sheets.joined(some_leaves), group_of
