"""The vehicle's light at places along its path: on its body, its shadow, its headlamps' beam, what its paint mirrors.

Lamps are asked anew at every station, because the set shades the vehicle differently everywhere. Light from all round
is not: which way each corner of the vehicle looks past the vehicle itself never changes, so it is found once
(`Outlook`), and a station only fills in how bright each way is there.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    BEAM_EXPONENT,
    AreaEmitter,
    BulbEmitter,
    Emitter,
    SpotEmitter,
    VehiclePose,
    bulb_of,
    rectangle_factor,
    vehicle_on,
)
from previz.physics.paths import Curve
from previz.physics.photometry import spot_profile
from previz.physics.smooth import eased
from previz.stage.keep import store
from previz.stage.light.bake import (
    OFFSET,
    Floats,
    Moved,
    Occluders,
    Receivers,
    Samples,
    ambient_radiance,
    bulb_level,
    direct_light,
    floats,
    look_round,
    mean_over_corners,
    seen_share,
    shadow_loss,
    ways_round,
)
from previz.stage.lit import Station
from previz.stage.mesh import Array, Mesh, VehicleModel

Extent = tuple[float, float, float, float]

#: The map of what is seen all round: rows from zenith to nadir, columns counter-clockwise from +x.
ROWS, COLUMNS = 32, 64

_ONCE = Lock()  # what all stations share is found by one of them while the others wait

_FACE_PLACES = 4  # on a wheel's face, whose mean light its turning parts have
_FADE = 0.10  # share of the ground grid over which shadow and beam fade out at each border
_LONGEST_SHADOW = 4.0  # over the vehicle's height; what is longer fades out
_MOST_CELLS = 40_000
_FAINT = 0.02  # a headlamp's light below this is not looked for [lx]


@dataclass(frozen=True)
class Place:
    """The lit set as a station needs it: lamps, what stops light, how bright triangles and ground are.

    Parameters
    ----------
    find_occluders : callable
        Makes the `occluders`.
    triangle_radiance : (m, 3) float32
        Of `occluders`' triangles. RGB [cd/m2]
    light, soft : (h, w, 3) float32
        Irradiance of the ground over the table, and its part from sky and surfaces, row 0 at the far edge. RGB [lx]
    albedo : (h, w, 3) float32
        Reflectance of the ground, coarse.
    table : (2,) float
        Width and depth. [m]
    room : (3,) float
        Radiance of what lies beyond the set and below the horizon. RGB [cd/m2]
    """

    emitters: tuple[Emitter, ...]
    find_occluders: Callable[[], Occluders]
    triangle_radiance: Floats
    light: Floats
    soft: Floats
    albedo: Floats
    table: tuple[float, float]
    room: tuple[float, float, float]

    @cached_property
    def occluders(self) -> Occluders:
        """Made ready when first asked for: a run whose stations are all on disk has no use for them."""
        return self.find_occluders()


@dataclass(frozen=True)
class Outlook:
    """What never changes about a vehicle's light, in its own frame.

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
    ways : (k, n) int
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
    albedo: Floats
    receiver_of: NDArray[np.int64]
    corners_of: NDArray[np.int64]
    ways: NDArray[np.int32]
    weight: Floats
    under: Floats
    bulbs: tuple[BulbEmitter, ...]
    beams: tuple[Floats, ...]
    ball: tuple[Array, float]


@dataclass(frozen=True)
class VehicleLight:
    """Works out stations, each kept on disk.

    Parameters
    ----------
    path : Curve
        What the vehicle's middle follows.
    find_outlook : callable
        Finds the vehicle's `Outlook`, once: a run whose stations are all on disk has no use for it.
    key : str
        Names all that the light depends on but the distance.
    cache : bool
        Whether stations are read from and kept on disk.
    """

    path: Curve
    vehicle: VehicleModel
    grid: "GroundGrid"
    place: Place
    samples: Samples
    find_outlook: Callable[[], Outlook]
    key: str
    cache: bool

    def at(self, distance: float) -> Station:
        """The vehicle's light that far along its path [m]. Several threads may ask at once."""

        def work() -> store.Arrays:
            with _ONCE:
                outlook, _ = self.find_outlook(), self.place.occluders
            pose = vehicle_on(self.path, distance)
            station = station_at(pose, self.vehicle, outlook, self.grid, self.place, self.samples)
            found = {"body": station.body, "shadow": station.shadow, "surround": station.surround}
            return found if station.beam is None else {**found, "beam": station.beam}

        return Station(distance, **store.kept(store.key_of(self.key, distance), work, cache=self.cache))


# --- the ground grid ---


@dataclass(frozen=True)
class GroundGrid:
    """Cells of the ground about the vehicle, in its frame: (x0, x1, y0, y1) [m], `rows` by `columns`."""

    extent: Extent
    rows: int
    columns: int

    def points(self) -> Array:
        """Cell middles on z = 0, row 0 at the largest y. (rows * columns, 3) [m]"""
        x0, x1, y0, y1 = self.extent
        x = x0 + (np.arange(self.columns) + 0.5) / self.columns * (x1 - x0)
        y = y1 - (np.arange(self.rows) + 0.5) / self.rows * (y1 - y0)
        return np.stack([np.tile(x, self.rows), np.repeat(y, self.columns), np.zeros(self.rows * self.columns)], axis=1)

    def cells(self, x: Floats, y: Floats) -> tuple[NDArray[np.int32], NDArray[np.bool_]]:
        """Number of the cell under each place, and whether there is one."""
        x0, x1, y0, y1 = self.extent
        column = np.floor((x - x0) / (x1 - x0) * self.columns)
        row = np.floor((y1 - y) / (y1 - y0) * self.rows)
        inside = (column >= 0) & (column < self.columns) & (row >= 0) & (row < self.rows)
        return np.where(inside, row * self.columns + column, 0).astype(np.int32), inside

    def fade(self) -> Floats:
        """1 in the middle, smoothly 0 at the border. (rows, columns)"""
        down, across = (
            np.clip(np.minimum(np.arange(n) + 0.5, n - 0.5 - np.arange(n)) / (_FADE * n), 0, 1)
            for n in (self.rows, self.columns)
        )
        edge = np.outer(down, across)
        return floats(eased(edge))


def ground_grid(vehicle: VehicleModel, emitters: Sequence[Emitter], path: Curve, cell: float) -> GroundGrid:
    """Large enough for the vehicle's shadows wherever it is on its path, and for its lamps' beam."""
    about = 0.6 * vehicle.height  # it darkens the ground beside it under any light
    tips = np.concatenate([np.zeros((1, 2)), *(_shadow_tips(lamp, path, vehicle.height) for lamp in emitters)])
    (rear, right), (front, left) = tips.min(axis=0).tolist(), tips.max(axis=0).tolist()
    half_length, half_width = vehicle.length / 2, vehicle.width / 2
    x = [min(rear, -about) - half_length, max(front, about) + half_length]
    y = [min(right, -about) - half_width, max(left, about) + half_width]
    for lamp in vehicle.lamps:
        if lamp.flux > 0 and lamp.beam is not None:
            ahead = lamp.beam[0] > 0
            x = [min(x[0], 0 if ahead else -1.2 * vehicle.length), max(x[1], 2.0 * vehicle.length if ahead else 0)]
            y = [min(y[0], -0.7 * vehicle.length), max(y[1], 0.7 * vehicle.length)]
    grow = _FADE / (1 - 2 * _FADE)  # the fade lies outside
    wide, deep = x[1] - x[0], y[1] - y[0]
    extent = (x[0] - grow * wide, x[1] + grow * wide, y[0] - grow * deep, y[1] + grow * deep)
    wide, deep = extent[1] - extent[0], extent[3] - extent[2]
    cell *= max(1.0, math.sqrt(wide * deep / cell**2 / _MOST_CELLS))
    return GroundGrid(extent, math.ceil(deep / cell), math.ceil(wide / cell))


def _shadow_tips(lamp: Emitter, path: Curve, height: float) -> Array:
    """Where the shadow of something `height` tall ends, along the path, in the vehicle's frame. (n, 2) [m]"""
    if not isinstance(lamp, AreaEmitter | SpotEmitter):
        return np.zeros((0, 2))  # bulbs are near: their shadows are short, or faint
    along = np.linspace(0.1, 0.9, 9) * path.length
    away = (path.at(along) - np.array(lamp.centre[:2])) * (height / max(lamp.centre[2], 1e-3))
    away *= np.minimum(1, _LONGEST_SHADOW * height / np.maximum(np.linalg.norm(away, axis=1), 1e-9))[:, None]
    cosine, sine = np.cos(path.heading(along)), np.sin(path.heading(along))
    return np.stack([cosine * away[:, 0] + sine * away[:, 1], cosine * away[:, 1] - sine * away[:, 0]], axis=1)


# --- once for the vehicle ---


def look_out(vehicle: VehicleModel, grid: GroundGrid, rays: int, detail: float) -> Outlook:
    """Everything about a vehicle's light that its place does not change. `detail`: corners nearer share light [m]."""
    fixed = [*vehicle.body, *(mesh.moved(np.eye(3), np.array(w.centre)) for w in vehicle.wheels for mesh in w.round)]
    vertices, faces, colours = _joined(fixed)
    occluders = Occluders(vertices, faces)
    # A little off the surface, out of door handles and trim that lie on it: a hidden corner would smudge its face.
    proud = 0.004 * vehicle.length
    corners = Receivers.of(
        np.concatenate([mesh.vertices + proud * mesh.normals for mesh in fixed]),
        np.concatenate([mesh.normals for mesh in fixed]),
        np.concatenate([np.full(len(mesh.vertices), mesh.material.two_sided) for mesh in fixed]),
    )
    grouped, group_of = corners.grouped(detail)
    face_points = _wheel_faces(vehicle)
    receivers = grouped.joined(face_points)
    seen = look_round(receivers, occluders, rays)
    ground = Receivers.of(grid.points(), np.tile([0.0, 0.0, 1.0], (grid.rows * grid.columns, 1)))
    under = 1 - look_round(ground, occluders, rays).sky.reshape(grid.rows, grid.columns) / math.pi
    bulbs = tuple(bulb_of(lamp) for lamp in vehicle.lamps if lamp.flux > 0)
    return Outlook(
        receivers,
        occluders,
        faces,
        mean_over_corners(colours, faces),
        group_of,
        _corner_order(vehicle, group_of, len(grouped)),
        _ways(receivers, seen.hits, rays, grid),
        seen.weight,
        under,
        bulbs,
        tuple(_own_beam(bulb, ground, occluders).reshape(grid.rows, grid.columns) for bulb in bulbs),
        _ball(vertices),
    )


def _ball(points: Array) -> tuple[Array, float]:
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    return middle, float(np.linalg.norm(points - middle, axis=1).max())


def _joined(meshes: Sequence[Mesh]) -> tuple[Array, NDArray[np.int64], Array]:
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    return (
        np.concatenate([mesh.vertices for mesh in meshes]),
        np.concatenate([mesh.faces + start for mesh, start in zip(meshes, starts[:-1], strict=True)]),
        np.concatenate([mesh.colours for mesh in meshes]),
    )


def _wheel_faces(vehicle: VehicleModel) -> Receivers:
    """A few places just outside each wheel's outer face."""
    points, normals = [], []
    for wheel in vehicle.wheels:
        side = 1.0 if wheel.centre[1] >= 0 else -1.0
        parts = wheel.turning or wheel.round
        out = max((float((side * mesh.vertices[:, 1]).max()) for mesh in parts), default=0.0) + 0.01 * vehicle.length
        for turn in (np.arange(_FACE_PLACES) + 0.5) * (2 * math.pi / _FACE_PLACES):
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


def _ways(receivers: Receivers, hits: NDArray[np.int32], rays: int, grid: GroundGrid) -> NDArray[np.int32]:
    """Turn what the rays met into rows of the table that `Outlook.ways` describes."""
    cells = grid.rows * grid.columns
    ways = ways_round(receivers, rays)
    down = ways[..., 2] < -1e-3
    along = floats(np.where(down, np.maximum(receivers.points[:, 2], 0) / np.where(down, -ways[..., 2], 1), 0))
    cell, on_grid = grid.cells(
        receivers.points[:, 0] + along * ways[..., 0], receivers.points[:, 1] + along * ways[..., 1]
    )
    ends = np.where(down & on_grid, cell, cells + direction_cells(ways))
    return np.where(hits >= 0, cells + ROWS * COLUMNS + hits, ends).astype(np.int32)


def _own_beam(bulb: BulbEmitter, ground: Receivers, occluders: Occluders) -> Floats:
    level = bulb_level(ground.points, ground.normals, bulb)
    near = np.flatnonzero(level * max(bulb.intensity) > _FAINT)
    origins = ground.points[near] + ground.normals[near] * np.float32(OFFSET)
    free = np.zeros_like(level)
    free[near] = level[near] * seen_share(origins, bulb, [occluders], 1)
    return free


# --- the map all round ---


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


def surfaces_round(place: Place, middle: Array) -> Floats:
    """The map (32, 64, 3) of the set, sky and room seen from a place, lamps left out. RGB [cd/m2]"""
    fine = 2
    ways = map_directions(fine)
    origins = np.broadcast_to(floats(middle), ways.shape).copy()
    hits = place.occluders.first(origins, ways)
    sky = floats(ambient_radiance(place.emitters))
    missed = np.where((ways[:, 2] > 0)[:, None], sky, floats(place.room))
    seen = np.where((hits >= 0)[:, None], _rows(place.triangle_radiance, hits), missed)
    return floats(seen.reshape(ROWS, fine, COLUMNS, fine, 3).mean(axis=(1, 3)))


def _rows(table: Floats, numbers: NDArray[np.int32]) -> Floats:
    return table[np.maximum(numbers, 0)] if len(table) else np.zeros((len(numbers), 3), np.float32)


def lamps_round(place: Place, middle: Array) -> Floats:
    """What the lamps add to the map, each spread so that its light is right. (32, 64, 3) RGB [cd/m2]"""
    added = np.zeros((ROWS * COLUMNS, 3), dtype=np.float32)
    solid = _solid_angles().ravel()
    ways = map_directions()
    here = floats(middle)[None]
    for lamp in place.emitters:
        if isinstance(lamp, AreaEmitter):
            across = floats(lamp.centre) - here[0]
            toward = across / np.linalg.norm(across)
            facing = -float(toward @ floats(lamp.normal))
            if facing <= 0:
                continue
            share = float(seen_share(here, lamp, [place.occluders], 13)[0])
            angle = float(rectangle_factor(here, toward[None], lamp)[0])  # all but its solid angle, seen face on
            cells = _cells_on(lamp, here[0], ways)
            if not len(cells):
                cells = direction_cells(toward[None])
            added[cells] += floats(lamp.radiance) * np.float32(share * angle / solid[cells].sum())
        elif isinstance(lamp, SpotEmitter | BulbEmitter):
            across = floats(lamp.centre) - here[0]
            squared = float(across @ across)
            toward = across / math.sqrt(squared)
            share = float(seen_share(here, lamp, [place.occluders], 4)[0]) * _aimed(lamp, -toward)
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


# --- one station ---


def station_at(
    pose: VehiclePose, vehicle: VehicleModel, outlook: Outlook, grid: GroundGrid, place: Place, samples: Samples
) -> Station:
    """The vehicle's light at a pose."""
    rotation, shift = pose.world_from_vehicle[:3, :3], pose.world_from_vehicle[:3, 3]
    itself = Moved(outlook.occluders, rotation, shift)
    ground = Receivers.of(grid.points() @ rotation.T + shift, np.tile([0.0, 0.0, 1.0], (grid.rows * grid.columns, 1)))
    shadow = _shadow(ground, outlook, grid, itself, place, samples)
    middle = shift + np.array([0.0, 0.0, vehicle.height / 2])
    surfaces = surfaces_round(place, middle)
    body = _body_light(pose, rotation, shift, outlook, itself, surfaces, ground, shadow, place, samples)
    beam = _beam(ground, outlook, grid, rotation, shift, place) if outlook.beams else None
    return Station(pose.distance, body, shadow, surfaces + lamps_round(place, middle), beam)


def _shadow(
    ground: Receivers, outlook: Outlook, grid: GroundGrid, itself: Moved, place: Place, samples: Samples
) -> Floats:
    """What the vehicle takes from the ground, over what the ground had."""
    origins = ground.points + ground.normals * np.float32(OFFSET)
    middle, radius = outlook.ball
    ball = floats(itself.rotation @ middle + itself.shift), radius
    had = on_table(place.light, place.table, ground.points)
    lost = on_table(place.soft, place.table, ground.points) * outlook.under.reshape(-1, 1)
    for lamp in place.emitters:
        loss = shadow_loss(origins, ground.normals, lamp, itself, ball, place.occluders, samples)
        if loss is not None:
            lost += np.outer(loss, lamp.intensity if isinstance(lamp, SpotEmitter | BulbEmitter) else lamp.radiance)
    dark = 1e-3 * float(place.light.max(initial=0.0)) + 1e-9
    share = np.clip(lost / np.maximum(had, dark), 0, 1).reshape(grid.rows, grid.columns, 3)
    return floats(1 - share * grid.fade()[..., None])


def _body_light(
    pose: VehiclePose,
    rotation: Array,
    shift: Array,
    outlook: Outlook,
    itself: Moved,
    surfaces: Floats,
    ground: Receivers,
    shadow: Floats,
    place: Place,
    samples: Samples,
) -> Floats:
    """Light on every corner of the vehicle, in the order of `Station.body`."""
    here = replace(
        outlook.receivers,
        points=floats(outlook.receivers.points @ rotation.T + shift),
        normals=floats(outlook.receivers.normals @ rotation.T),
    )
    light = direct_light(here, place.emitters, [itself, place.occluders], samples)
    on_ground = on_table(place.light, place.table, ground.points) * shadow.reshape(-1, 3)
    ground_radiance = on_ground * on_table(place.albedo, place.table, ground.points) / math.pi
    own = mean_over_corners(light[outlook.receiver_of], outlook.faces)
    table = np.concatenate(
        [ground_radiance, _turned(surfaces, pose.heading).reshape(-1, 3), own * outlook.albedo / math.pi]
    ).astype(np.float32)
    around = np.zeros_like(light)
    for ways in outlook.ways:
        around += table[ways]
    light += around * outlook.weight[:, None]
    wheel_faces = light[int(outlook.receiver_of.max()) + 1 :].reshape(-1, _FACE_PLACES, 3)
    rows = np.concatenate([light[: len(light) - wheel_faces.size // 3], wheel_faces.mean(axis=1)])
    return floats(rows[outlook.corners_of])


def _turned(surround: Floats, heading: float) -> Floats:
    """The map in the directions of a vehicle of that heading."""
    move = heading / (2 * math.pi) * COLUMNS
    whole, part = math.floor(move), np.float32(move - math.floor(move))
    return np.asarray((1 - part) * np.roll(surround, -whole, axis=1) + part * np.roll(surround, -whole - 1, axis=1))


def _beam(ground: Receivers, outlook: Outlook, grid: GroundGrid, rotation: Array, shift: Array, place: Place) -> Floats:
    """Light of the vehicle's lamps on the ground, past what stands on the set."""
    origins = ground.points + ground.normals * np.float32(OFFSET)
    total = np.zeros((len(ground), 3), dtype=np.float32)
    for bulb, level in zip(outlook.bulbs, outlook.beams, strict=True):
        lit = np.flatnonzero(level.ravel() > 0)
        x, y, z = rotation @ np.array(bulb.centre) + shift
        there = replace(bulb, centre=(float(x), float(y), float(z)))
        seen = seen_share(origins[lit], there, [place.occluders], 1)
        total[lit] += np.outer(level.ravel()[lit] * seen, bulb.intensity)
    return floats(total.reshape(grid.rows, grid.columns, 3) * grid.fade()[..., None])


def on_table(values: Floats, table: tuple[float, float], points: Floats) -> Floats:
    """A map over the table (h, w, 3), row 0 at the far edge, at places (n, 3); 0 beyond the table. (n, 3)"""
    rows, columns = values.shape[:2]
    u, v = points[:, 0] / table[0], 1 - points[:, 1] / table[1]
    x = np.clip(u * columns - 0.5, 0, columns - 1)
    y = np.clip(v * rows - 0.5, 0, rows - 1)
    left, top = np.minimum(x.astype(int), max(columns - 2, 0)), np.minimum(y.astype(int), max(rows - 2, 0))
    right, below = np.minimum(left + 1, columns - 1), np.minimum(top + 1, rows - 1)
    s, t = floats(x - left)[:, None], floats(y - top)[:, None]
    upper = values[top, left] * (1 - s) + values[top, right] * s
    lower = values[below, left] * (1 - s) + values[below, right] * s
    inside = (u >= 0) & (u <= 1) & (v >= 0) & (v <= 1)
    return floats((upper * (1 - t) + lower * t) * inside[:, None])
