"""The rays that leave a vehicle, sent once in its own frame: which way it looks past itself never changes."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from previz.layout import BulbEmitter, bulb_of
from previz.light import (
    OFFSET,
    Floats,
    Occluders,
    Receivers,
    bulb_level,
    directions_round,
    floats,
    look_round,
    seen_share,
)
from previz.mesh import Array, joined
from previz.stage.light.ground_grid import GroundGrid
from previz.stage.light.over_faces import WideFaces
from previz.stage.light.panorama import COLUMNS, ROWS, direction_cells
from previz.stage.light.reflecting import albedo_of
from previz.stage.model import VehicleModel

FACE_PLACES = 4  # on a wheel's face, whose mean light its turning parts have
_WIDE = 0.011  # longest side of faces that are looked at between corners, in the vehicle's lengths
_FAINT = 0.02  # a headlamp's light below this is not looked for [lx]


@dataclass(frozen=True)
class VehicleRays:
    """What the vehicle's own rays met, in its frame: all about its light that stays the same along its path.

    Parameters
    ----------
    receivers : Receivers
        Its corners, as `Station.body` orders them but for the turning parts: four places on each wheel's face.
    occluders : Occluders
        Body and round parts.
    receiver_of : (nf,) int
        Receiver of each corner of `occluders`.
    corners_of : (nb,) int
        Row that each corner of `Station.body` takes of the receivers' light followed by one mean a wheel's face.
    faces, albedo : (m, 3) int, (m, 3) float
        Of its triangles.
    wide : WideFaces
        Those that a thin thing's shadow has room between the corners of.
    ends : (k, n) int
        Where each ray ends: a cell of the ground grid, then a cell of the map all round, then a triangle of its own.
    weight : (n,) float
        What one ray counts.
    under : (h, w) float
        Share of the sky that the vehicle hides from the ground.
    bulbs, beams : tuple of BulbEmitter, tuple of (h, w) float
        Its lit lamps, and their light on the ground past the vehicle itself, for unit intensity. [lx per cd]
    ball : (3,) float, float
        Middle and radius of a ball that holds the vehicle. [m]
    """

    receivers: Receivers
    occluders: Occluders
    faces: NDArray[np.int64]
    wide: WideFaces
    albedo: Floats
    receiver_of: NDArray[np.int64]
    corners_of: NDArray[np.int64]
    ends: NDArray[np.int32]
    weight: Floats
    under: Floats
    bulbs: tuple[BulbEmitter, ...]
    beams: tuple[Floats, ...]
    ball: tuple[Array, float]


def vehicle_rays(vehicle: VehicleModel, grid: GroundGrid, count: int, detail: float) -> VehicleRays:
    """Send `count` rays from each corner of a vehicle; corners nearer than `detail` [m] to each other share theirs."""
    fixed = [*vehicle.body, *(mesh.moved(np.eye(3), np.array(w.centre)) for w in vehicle.wheels for mesh in w.round)]
    whole = joined(fixed)
    occluders = Occluders(whole.vertices, whole.faces)
    # A little off the surface, out of door handles and trim that lie on it: a hidden corner would smudge its face.
    places = whole.vertices + 0.004 * vehicle.length * whole.normals
    two_sided = np.concatenate([np.full(len(mesh.vertices), mesh.material.two_sided) for mesh in fixed])
    grouped, group_of = Receivers.of(places, whole.normals, two_sided).grouped(detail)
    receivers = grouped.joined(_wheel_faces(vehicle))
    seen = look_round(receivers, occluders, count)
    hidden = np.asarray((seen.hits[:, : len(grouped)] >= 0).all(axis=0))
    shown = _seeing_out(grouped, hidden, vehicle.length)[group_of]
    ground = Receivers.of(grid.points(), np.tile([0.0, 0.0, 1.0], (grid.rows * grid.columns, 1)))
    bulbs = tuple(bulb_of(lamp) for lamp in vehicle.lamps if lamp.flux > 0)
    return VehicleRays(
        receivers,
        occluders,
        whole.faces,
        WideFaces.of(whole.vertices[whole.faces], group_of[whole.faces], _WIDE * vehicle.length, len(receivers)),
        np.concatenate([albedo_of(mesh) for mesh in fixed]),
        group_of,
        _corner_order(vehicle, shown, len(grouped)),
        _ends(receivers, seen.hits, grid),
        seen.weight,
        _hidden_sky(ground, occluders, grid, count),
        bulbs,
        _beams(bulbs, ground, occluders, grid),
        _ball(whole.vertices),
    )


def _seeing_out(places: Receivers, hidden: NDArray[np.bool_], length: float) -> NDArray[np.int64]:
    """For each place the row of one that looks past a vehicle of that length [m]: its own, or the nearest that faces
    alike where each of its rays ends on the vehicle.

    Where a box stands in another, its lowest corners are inside: dark themselves, they would smudge what is seen of it.
    """
    rows = np.arange(len(places))
    if hidden.all() or not hidden.any():
        return rows
    where = np.concatenate([places.points, length * places.normals], axis=1)
    rows[hidden] = rows[~hidden][cKDTree(where[~hidden]).query(where[hidden])[1]]
    return rows


def raised(rays: VehicleRays, ground: Receivers, grid: GroundGrid, count: int) -> VehicleRays:
    """The rays of a vehicle on its ramp; `ground`: the cells of the grid, which lie elsewhere in its frame then."""
    return replace(
        rays,
        under=_hidden_sky(ground, rays.occluders, grid, count),
        beams=_beams(rays.bulbs, ground, rays.occluders, grid),
    )


def _hidden_sky(ground: Receivers, occluders: Occluders, grid: GroundGrid, count: int) -> Floats:
    return 1 - look_round(ground, occluders, count).sky.reshape(grid.rows, grid.columns) / math.pi


def _beams(
    bulbs: tuple[BulbEmitter, ...], ground: Receivers, occluders: Occluders, grid: GroundGrid
) -> tuple[Floats, ...]:
    return tuple(_own_beam(bulb, ground, occluders).reshape(grid.rows, grid.columns) for bulb in bulbs)


def _ball(points: Array) -> tuple[Array, float]:
    """Middle and radius of a ball that holds all points (n, 3). [m]"""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    return middle, float(np.linalg.norm(points - middle, axis=1).max())


def _wheel_faces(vehicle: VehicleModel) -> Receivers:
    """A few places just outside each wheel's outer face."""
    points, normals = [], []
    for wheel in vehicle.wheels:
        side = 1.0 if wheel.centre[1] >= 0 else -1.0
        parts = wheel.turning or wheel.round
        out = max((float((side * mesh.vertices[:, 1]).max()) for mesh in parts), default=0.0) + 0.01 * vehicle.length
        for turn in (np.arange(FACE_PLACES) + 0.5) * (2 * math.pi / FACE_PLACES):
            across, up = 0.5 * wheel.radius * math.cos(turn), 0.5 * wheel.radius * math.sin(turn)
            points.append(np.array(wheel.centre) + np.array([across, side * out, up]))
            normals.append([0.0, side, 0.0])
    return Receivers.of(np.array(points), np.array(normals))


def _corner_order(vehicle: VehicleModel, group_of: NDArray[np.int64], receivers: int) -> NDArray[np.int64]:
    """For each corner of `Station.body`, its row in the receivers' light followed by one mean a wheel."""
    take = [group_of[: sum(len(mesh.vertices) for mesh in vehicle.body)]]
    used = len(take[0])
    for number, wheel in enumerate(vehicle.wheels):
        count = sum(len(mesh.vertices) for mesh in wheel.round)
        take.append(group_of[used : used + count])
        used += count
        take.append(np.full(sum(len(mesh.vertices) for mesh in wheel.turning), receivers + number))
    return np.concatenate(take)


def _ends(receivers: Receivers, hits: NDArray[np.int32], grid: GroundGrid) -> NDArray[np.int32]:
    """Turn what the rays met into rows of the table that `VehicleRays.ends` describes."""
    cells = grid.rows * grid.columns
    ways = directions_round(receivers, len(hits))
    down = ways[..., 2] < -1e-3
    along = floats(np.where(down, np.maximum(receivers.points[:, 2], 0) / np.where(down, -ways[..., 2], 1), 0))
    cell, on_grid = grid.cells(
        receivers.points[:, 0] + along * ways[..., 0], receivers.points[:, 1] + along * ways[..., 1]
    )
    ends = np.where(down & on_grid, cell, cells + direction_cells(ways))
    return np.where(hits >= 0, cells + ROWS * COLUMNS + hits, ends).astype(np.int32)


def _own_beam(bulb: BulbEmitter, ground: Receivers, occluders: Occluders) -> Floats:
    """A lamp's light on the ground past the vehicle itself, for unit intensity. (n,) [lx per cd]"""
    level = bulb_level(ground.points, ground.normals, bulb)
    near = np.flatnonzero(level * max(bulb.intensity) > _FAINT)
    origins = ground.points[near] + ground.normals[near] * np.float32(OFFSET)
    free = np.zeros_like(level)
    free[near] = level[near] * seen_share(origins, bulb, [occluders], 1)
    return free
