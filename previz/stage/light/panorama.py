"""What is seen all round from a place, as a map: rows from zenith to nadir, columns counter-clockwise from +x."""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import BEAM_EXPONENT, AreaEmitter, BulbEmitter, SpotEmitter, rectangle_factor
from previz.light import Floats, ambient_radiance, floats, seen_share
from previz.mesh import Array
from previz.physics.photometry import spot_profile
from previz.stage.light.lit_set import LitSet

ROWS, COLUMNS = 32, 64


def direction_cells(ways: NDArray[Any]) -> NDArray[np.int32]:
    """Cell of the map all round for unit directions (..., 3), row by row.

    >>> direction_cells(np.float32([[0, 0, 1], [1, 0.01, 0], [0, 1, -0.01]])).tolist()
    [0, 1024, 1040]
    """
    row = np.minimum(np.arccos(np.clip(ways[..., 2], -1, 1)) * (ROWS / math.pi), ROWS - 1).astype(np.int32)
    turn = np.arctan2(ways[..., 1], ways[..., 0]) / (2 * math.pi)
    column = np.minimum((turn % 1.0) * COLUMNS, COLUMNS - 1).astype(np.int32)
    return np.asarray(row * COLUMNS + column)


def map_directions(fine: int = 1) -> Floats:
    """Unit directions to the middles of the map's cells, each cut `fine` by `fine`. (rows * cols, 3)"""
    down = (np.arange(ROWS * fine) + 0.5) * (math.pi / (ROWS * fine))
    turn = (np.arange(COLUMNS * fine) + 0.5) * (2 * math.pi / (COLUMNS * fine))
    ring = np.sin(down)[:, None]
    z = np.repeat(np.cos(down)[:, None], len(turn), axis=1)
    return floats(np.stack([ring * np.cos(turn), ring * np.sin(turn), z], axis=-1).reshape(-1, 3))


def surfaces_round(lit_set: LitSet, middle: Array) -> Floats:
    """The map (32, 64, 3) of the set, sky and room seen from a place, lamps left out. RGB [cd/m2]"""
    fine = 2
    ways = map_directions(fine)
    origins = np.broadcast_to(floats(middle), ways.shape).copy()
    hits = lit_set.occluders.first(origins, ways)
    sky = floats(ambient_radiance(lit_set.emitters))
    missed = np.where((ways[:, 2] > 0)[:, None], sky, floats(lit_set.room))
    seen = np.where((hits >= 0)[:, None], _rows(lit_set.triangle_radiance, hits), missed)
    return floats(seen.reshape(ROWS, fine, COLUMNS, fine, 3).mean(axis=(1, 3)))


def _rows(table: Floats, numbers: NDArray[np.int32]) -> Floats:
    return table[np.maximum(numbers, 0)] if len(table) else np.zeros((len(numbers), 3), np.float32)


def lamps_round(lit_set: LitSet, middle: Array) -> Floats:
    """What the lamps add to the map, each spread so that its light is right. (32, 64, 3) RGB [cd/m2]"""
    added = np.zeros((ROWS * COLUMNS, 3), dtype=np.float32)
    solid = _solid_angles().ravel()
    ways = map_directions()
    here = floats(middle)[None]
    for lamp in lit_set.emitters:
        if isinstance(lamp, AreaEmitter):
            across = floats(lamp.centre) - here[0]
            toward = across / np.linalg.norm(across)
            facing = -float(toward @ floats(lamp.normal))
            if facing <= 0:
                continue
            share = float(seen_share(here, lamp, [lit_set.occluders], 13)[0])
            angle = float(rectangle_factor(here, toward[None], lamp)[0])  # all but its solid angle, seen face on
            cells = _cells_on(lamp, here[0], ways)
            if not len(cells):
                cells = direction_cells(toward[None])
            added[cells] += floats(lamp.radiance) * np.float32(share * angle / solid[cells].sum())
        elif isinstance(lamp, SpotEmitter | BulbEmitter):
            across = floats(lamp.centre) - here[0]
            squared = float(across @ across)
            toward = across / math.sqrt(squared)
            share = float(seen_share(here, lamp, [lit_set.occluders], 4)[0]) * _aimed(lamp, -toward)
            cells = direction_cells(toward[None])
            added[cells] += floats(lamp.intensity) * np.float32(share / squared / solid[cells].sum())
    return added.reshape(ROWS, COLUMNS, 3)


def _aimed(lamp: SpotEmitter | BulbEmitter, leaving: Floats) -> float:
    """Intensity towards a direction over that on the axis."""
    if isinstance(lamp, SpotEmitter):
        off = np.arccos(np.clip(leaving @ floats(lamp.axis), -1, 1))
        return float(spot_profile(np.array(off), lamp.angle))
    if lamp.beam is None:
        return 1.0
    return max(float(leaving @ floats(lamp.beam)), 0.0) ** float(BEAM_EXPONENT)


def light_from(surround: Floats, normals: NDArray[Any]) -> Floats:
    """Irradiance of surfaces of such normals (n, 3) by a map (32, 64, 3) of radiance. (n, 3)

    >>> even = np.ones((ROWS, COLUMNS, 3), np.float32)
    >>> light_from(even, np.array([[0.0, 0.0, 1.0]])).astype(float).round(1).tolist()  # pi
    [[3.1, 3.1, 3.1]]
    """
    cosines = np.maximum(floats(normals) @ map_directions().T, 0) * _solid_angles().ravel()
    return floats(cosines @ surround.reshape(-1, 3))


def _solid_angles() -> Floats:
    """Of the map's cells. (32, 64) [sr]"""
    edges = np.cos(np.linspace(0, math.pi, ROWS + 1))
    return floats(np.repeat(((edges[:-1] - edges[1:]) * (2 * math.pi / COLUMNS))[:, None], COLUMNS, axis=1))


def _cells_on(lamp: AreaEmitter, here: Floats, ways: Floats) -> NDArray[np.int32]:
    """Cells whose middle looks onto the rectangle."""
    slope = ways @ floats(lamp.normal)
    across = floats(lamp.centre) - here
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (across @ floats(lamp.normal)) / slope
        on_plane = ways * far[:, None] - across
        u = on_plane @ floats(lamp.half_u) / np.dot(lamp.half_u, lamp.half_u)
        v = on_plane @ floats(lamp.half_v) / np.dot(lamp.half_v, lamp.half_v)
        return np.flatnonzero((far > 0) & (np.abs(u) <= 1) & (np.abs(v) <= 1)).astype(np.int32)


def turned(surround: Floats, heading: float) -> Floats:
    """The map in the directions of a vehicle of that heading."""
    move = heading / (2 * math.pi) * COLUMNS
    whole, part = math.floor(move), np.float32(move - math.floor(move))
    return np.asarray((1 - part) * np.roll(surround, -whole, axis=1) + part * np.roll(surround, -whole - 1, axis=1))


def tilted(surround: Floats, rotation: Array) -> Floats:
    """The map in the directions of a vehicle turned by a rotation (3, 3) that is not about the upright axis alone."""
    return np.asarray(surround.reshape(-1, 3)[direction_cells(map_directions() @ floats(rotation).T)]).reshape(
        ROWS, COLUMNS, 3
    )
