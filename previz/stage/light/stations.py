"""The vehicle's light at places along its path: on its body, its shadow, its headlamps' beam, what its paint mirrors.

Lamps are asked anew at every station, because the set shades the vehicle differently everywhere. Light from all round
is not: `VehicleRays` say once which way each corner looks past the vehicle itself, and a station only fills in how
bright it is there.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from threading import Lock

import numpy as np

from previz.files import Arrays, kept, key_of
from previz.layout import BulbEmitter, RampShape, SpotEmitter, VehiclePose, vehicle_on
from previz.light import (
    OFFSET,
    Floats,
    Moved,
    Receivers,
    Samples,
    direct_light,
    floats,
    look_round,
    mean_over_corners,
    seen_share,
    shadow_loss,
)
from previz.mesh import Array
from previz.physics.paths import Curve
from previz.stage.light.ground_grid import GroundGrid
from previz.stage.light.lit_set import LitSet
from previz.stage.light.panorama import direction_cells, lamps_round, light_from, surfaces_round, tilted, turned
from previz.stage.light.reflecting import share_from_around
from previz.stage.light.table_map import on_table
from previz.stage.light.vehicle_rays import FACE_PLACES, VehicleRays, raised
from previz.stage.lit import Station
from previz.stage.model import VehicleModel

_PAST_SHEET = 0.004  # how far past a ramp's edges its shadow goes on: a texel between two cells [m]
_OFF_SHEET = 5e-4  # how far off the sheet's line its cells lie: its lower edge is not quite as thin as that [m]
_SLOPE_OVER = 0.003  # half the length over which its slope is taken [m]

_ONCE = Lock()  # what all stations share is found by one of them while the others wait


@dataclass(frozen=True)
class VehicleLight:
    """Works out stations, each kept on disk.

    Parameters
    ----------
    path : Curve
        What the vehicle's middle follows.
    find_rays : callable
        Finds the vehicle's `VehicleRays`, once: a run whose stations are all on disk has no use for it.
    key : str
        Names all that the light depends on but the distance.
    cache : bool
        Whether stations are read from and kept on disk.
    ramp : RampShape or None
        What it is launched from.
    """

    path: Curve
    vehicle: VehicleModel
    grid: GroundGrid
    lit_set: LitSet
    samples: Samples
    find_rays: Callable[[], VehicleRays]
    key: str
    cache: bool
    ramp: RampShape | None = None

    def at(self, distance: float) -> Station:
        """The vehicle's light that far along its path [m]. Several threads may ask at once."""

        def work() -> Arrays:
            with _ONCE:
                rays, _ = self.find_rays(), self.lit_set.occluders
            pose = vehicle_on(self.path, distance)
            station = station_at(pose, self.vehicle, rays, self.grid, self.lit_set, self.samples, self.ramp)
            found = {"body": station.body, "shadow": station.shadow, "surround": station.surround}
            more = {"beam": station.beam, "around": station.around, "sheet": station.sheet}
            return found | {name: array for name, array in more.items() if array is not None}

        return Station(distance, **kept(key_of(self.key, distance), work, cache=self.cache))


def station_at(
    pose: VehiclePose,
    vehicle: VehicleModel,
    rays: VehicleRays,
    grid: GroundGrid,
    lit_set: LitSet,
    samples: Samples,
    ramp: RampShape | None = None,
) -> Station:
    """The vehicle's light at a pose."""
    itself = Moved(rays.occluders, pose.world_from_vehicle[:3, :3], pose.world_from_vehicle[:3, 3])
    up = np.tile([0.0, 0.0, 1.0], (grid.rows * grid.columns, 1))
    below = pose.world_from_ground
    ground = Receivers.of(grid.points() @ below[:3, :3].T + below[:3, 3], up)
    middle = itself.shift + np.array([0.0, 0.0, vehicle.height / 2])
    surfaces = surfaces_round(lit_set, middle)
    sheet = None if ramp is None else _sheet_shadow(ramp, ground, rays, grid, itself, surfaces, lit_set, samples)
    if pose.on_ramp:
        on_sheet = _sheet_radiance(surfaces, itself, middle, grid) * (1 - rays.under.reshape(-1, 1))
        own = Receivers.of((ground.points - itself.shift) @ itself.rotation, up @ itself.rotation)
        rays = raised(rays, own, grid, samples.round)
        shadow = _shadow(ground, rays, grid, itself, lit_set, samples)
        from_below, around = on_sheet, tilted(surfaces, itself.rotation)
    else:
        shadow = _shadow(ground, rays, grid, itself, lit_set, samples)
        from_below, around = _ground_radiance(ground, shadow, lit_set), turned(surfaces, pose.heading)
    body, straight = _body_light(rays, itself, around, from_below, lit_set, samples)
    share = share_from_around(body, straight) if vehicle.shaded else None
    beam = _beam(ground, rays, grid, itself, lit_set) if rays.beams else None
    return Station(pose.distance, body, shadow, surfaces + lamps_round(lit_set, middle), beam, share, sheet)


def _shadow(
    ground: Receivers, rays: VehicleRays, grid: GroundGrid, itself: Moved, lit_set: LitSet, samples: Samples
) -> Floats:
    """What the vehicle leaves of the ground's light, a share. (rows, columns, 3)"""
    had = on_table(lit_set.light, lit_set.table, ground.points)
    lost = on_table(lit_set.soft, lit_set.table, ground.points) * rays.under.reshape(-1, 1)
    lost += _lamp_loss(ground, rays, itself, lit_set, samples)
    dark = 1e-3 * float(lit_set.light.max(initial=0.0)) + 1e-9
    share = np.clip(lost / np.maximum(had, dark), 0, 1).reshape(grid.rows, grid.columns, 3)
    return floats(1 - share * grid.fade()[..., None])


def _lamp_loss(here: Receivers, rays: VehicleRays, itself: Moved, lit_set: LitSet, samples: Samples) -> Floats:
    """Light of lamps that the vehicle takes from receivers. (n, 3) RGB [lx]"""
    origins = here.points + here.normals * np.float32(OFFSET)
    middle, radius = rays.ball
    ball = floats(itself.rotation @ middle + itself.shift), radius
    lost = np.zeros((len(here), 3), dtype=np.float32)
    for lamp in lit_set.emitters:
        loss = shadow_loss(origins, here.normals, lamp, itself, ball, lit_set.occluders, samples)
        if loss is not None:
            lost += np.outer(loss, lamp.intensity if isinstance(lamp, SpotEmitter | BulbEmitter) else lamp.radiance)
    return lost


def _sheet_shadow(
    ramp: RampShape,
    ground: Receivers,
    rays: VehicleRays,
    grid: GroundGrid,
    itself: Moved,
    surfaces: Floats,
    lit_set: LitSet,
    samples: Samples,
) -> Floats | None:
    """What the vehicle leaves of its ramp's light, a share; none where no cell is over it. (rows, columns, 3)"""
    forward, left = ramp.seen_along(ground.points[:, :2].astype(float)).T
    beside = np.maximum(np.abs(left) - ramp.width / 2, np.maximum(forward, -ramp.length - forward))
    over = np.flatnonzero(beside < _PAST_SHEET)
    if not len(over):
        return None
    slope = (ramp.height(forward[over] + _SLOPE_OVER) - ramp.height(forward[over] - _SLOPE_OVER)) / (2 * _SLOPE_OVER)
    c, s = math.cos(ramp.heading), math.sin(ramp.heading)
    normals = np.stack([-slope * c, -slope * s, np.ones(len(over))], axis=1)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    places = np.column_stack([ground.points[over, :2], ramp.height(forward[over])])
    points = floats(places + _OFF_SHEET * normals)
    here = Receivers.of(points, normals)
    own = Receivers.of((points - itself.shift) @ itself.rotation, normals @ itself.rotation)
    open_sky = (1 + own.normals[:, 2]) / 2
    under = 1 - look_round(own, rays.occluders, samples.round).sky / (math.pi * open_sky)
    soft = light_from(surfaces, normals)
    had = soft + direct_light(here, lit_set.emitters, [lit_set.occluders], samples)
    lost = soft * under[:, None] + _lamp_loss(here, rays, itself, lit_set, samples)
    share = np.zeros((grid.rows * grid.columns, 3))
    share[over] = np.clip(lost / np.maximum(had, 1e-3 * float(had.max()) + 1e-9), 0, 1)
    return floats(1 - share.reshape(grid.rows, grid.columns, 3) * grid.fade()[..., None])


def _ground_radiance(ground: Receivers, shadow: Floats, lit_set: LitSet) -> Floats:
    """Of the ground's cells. (n, 3)"""
    on_ground = on_table(lit_set.light, lit_set.table, ground.points) * shadow.reshape(-1, 3)
    return floats(on_ground * on_table(lit_set.albedo, lit_set.table, ground.points) / math.pi)


def _sheet_radiance(surfaces: Floats, itself: Moved, middle: Array, grid: GroundGrid) -> Floats:
    """What the vehicle sees of its ramp and past it, cell by cell of a grid on the ramp's slope. (n, 3)"""
    ways = itself.placed(grid.points()) - middle
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    return surfaces.reshape(-1, 3)[direction_cells(ways)]


def _body_light(
    rays: VehicleRays,
    itself: Moved,
    surfaces: Floats,
    from_below: Floats,
    lit_set: LitSet,
    samples: Samples,
) -> tuple[Floats, Floats]:
    """Light on every corner of the vehicle, in the order of `Station.body`, and that which comes straight from lamps.

    `surfaces` is the map in its directions, `from_below` the radiance of the cells of its grid.
    """
    here = replace(
        rays.receivers,
        points=floats(itself.placed(rays.receivers.points)),
        normals=floats(rays.receivers.normals @ itself.rotation.T),
    )

    def direct(there: Receivers) -> Floats:
        return direct_light(there, lit_set.emitters, [itself, lit_set.occluders], samples)

    light = rays.wide.evened(direct(here), here, direct)
    own = mean_over_corners(light[rays.receiver_of], rays.faces)
    radiance = floats(np.concatenate([from_below, surfaces.reshape(-1, 3), own * rays.albedo / math.pi]))
    around = np.zeros_like(light)
    for ends in rays.ends:
        around += radiance[ends]
    straight = light.copy()
    light += around * rays.weight[:, None]
    return _on_corners(light, rays), _on_corners(straight, rays)


def _on_corners(light: Floats, rays: VehicleRays) -> Floats:
    """Light on receivers as corners have it: those of a wheel's turning parts the mean of its face. (nb, 3)"""
    wheel_faces = light[int(rays.receiver_of.max()) + 1 :].reshape(-1, FACE_PLACES, 3)
    rows = np.concatenate([light[: len(light) - wheel_faces.size // 3], wheel_faces.mean(axis=1)])
    return floats(rows[rays.corners_of])


def _beam(ground: Receivers, rays: VehicleRays, grid: GroundGrid, itself: Moved, lit_set: LitSet) -> Floats:
    """Light of the vehicle's lamps on the ground, past what stands on the set. (rows, columns, 3) RGB [lx]"""
    origins = ground.points + ground.normals * np.float32(OFFSET)
    total = np.zeros((len(ground), 3), dtype=np.float32)
    for bulb, level in zip(rays.bulbs, rays.beams, strict=True):
        lit = np.flatnonzero(level.ravel() > 0)
        x, y, z = itself.rotation @ np.array(bulb.centre) + itself.shift
        there = replace(bulb, centre=(float(x), float(y), float(z)))
        seen = seen_share(origins[lit], there, [lit_set.occluders], 1)
        total[lit] += np.outer(level.ravel()[lit] * seen, bulb.intensity)
    return floats(total.reshape(grid.rows, grid.columns, 3) * grid.fade()[..., None])
