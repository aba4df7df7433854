"""From a scene to a lit stage: everything built, its light baked, ready to be looked at from anywhere at any time."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache as once
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from previz.layout import AreaEmitter, Emitter, Lamp, SpotEmitter, emitters_of, vehicle_path
from previz.physics.colour import srgb_linear
from previz.scene import Scene
from previz.stage.keep import store
from previz.stage.keep.built import built_set, built_vehicle, source_key
from previz.stage.light.bake import (
    Floats,
    Mask,
    Occluders,
    Receivers,
    Samples,
    Surroundings,
    ambient_radiance,
    direct_light,
    floats,
    leaf_light,
    look_round,
    mean_over_corners,
)
from previz.stage.light.stations import Extent, Place, VehicleLight, ground_grid, look_out, on_table
from previz.stage.lit import LitGround, LitMesh, Station, Unlit
from previz.stage.mesh import Array, Mesh, VehicleModel
from previz.stage.pieces.dressing import Collision, Outline
from previz.stage.shapes.finish import subdivided
from previz.stage.spread import Elsewhere, both, here, spread, workers
from previz.stage.table.ground import Ground

#: A room around the set is as bright as a mid-grey wall in the set's ambient light.
_ROOM_REFLECTANCE = 0.18

_PROUD = 2e-4  # how far off its surface a corner of the set is lit, out of trim that lies on it [m]
_MOST_TEXELS = 160_000
_FOLIAGE = 0.012  # leaves lie every way within so much [m]
_FLOOR_EDGE = 0.020  # of the ground's triangles as they throw light back, about 12 mm square in pairs [m]
_SLOPE_OVER = 0.003  # half the length over which the ground's slope is taken: its heights lie a few mm apart [m]
_COVERED = 0.0035  # ground with something this close above it is covered [m]

Progress = Callable[[str], None]


@dataclass(frozen=True)
class _Effort:
    """How finely light is worked out.

    texel: of the light map [m]; soft: light-map texels to a texel of light from all round; near, near_leaves: corners
    of the set that share light from all round [m]; corner: corners of the vehicle that share light [m]; cell: of the
    ground about the vehicle [m].
    """

    samples: Samples
    ground: Samples
    station: Samples
    texel: float
    soft: int
    near: float
    near_leaves: float
    corner: float
    cell: float


_EFFORTS = {
    "full": _Effort(
        samples=Samples(panel=24, probes=6, spot=12, bulb=1, round=24, bounces=2),
        ground=Samples(panel=13, probes=4, spot=9, bulb=1, round=48),
        station=Samples(panel=18, probes=5, spot=9, bulb=1, round=36),
        texel=0.0025,
        soft=3,
        near=0.002,
        near_leaves=0.006,
        corner=0.0008,
        cell=0.002,
    ),
    "draft": _Effort(
        samples=Samples(panel=13, probes=4, spot=6, bulb=1, round=15, bounces=1),
        ground=Samples(panel=8, probes=3, spot=5, bulb=1, round=36),
        station=Samples(panel=9, probes=3, spot=5, bulb=1, round=18),
        texel=0.005,
        soft=2,
        near=0.004,
        near_leaves=0.010,
        corner=0.0015,
        cell=0.003,
    ),
}


@dataclass(frozen=True)
class Stage:
    """A lit set.

    Parameters
    ----------
    still : tuple of LitMesh
        All that does not move but the ground: pieces, backdrop, the table's sides. World frame, few draws.
    ground : LitGround
    lamps : tuple of Lamp
        Lit lamps of the set, world frame.
    vehicle : VehicleModel
        In its own frame.
    room : (3,) float
        Radiance of what lies beyond the set. RGB [cd/m2]
    outlines, collisions
        Footprints of what stands on the set, and which of them meet.
    shadow_extent : (x0, x1, y0, y1)
        What a station's shadow and beam cover, in the vehicle's frame. [m]
    """

    still: tuple[LitMesh, ...]
    ground: LitGround
    lamps: tuple[Lamp, ...]
    vehicle: VehicleModel
    room: tuple[float, float, float]
    outlines: tuple[Outline, ...]
    collisions: tuple[Collision, ...]
    shadow_extent: Extent
    vehicle_light: VehicleLight = field(repr=False)

    def stations(self, distances: Sequence[float], progress: Progress | None = None) -> tuple[Station, ...]:
        """The vehicle's light at each of these distances along its path [m], each kept on disk once worked out."""
        tell = progress or (lambda _: None)
        found: list[Station] = []
        # A few at a time, so that there is something to tell.
        for start in range(0, len(distances), workers()):
            some = [float(distance) for distance in distances[start : start + workers()]]
            tell(f"light on the vehicle, place {start + 1} of {len(distances)}")
            found += spread(self.vehicle_light.at, some)
        return tuple(found)


def build_stage(
    scene: Scene,
    quality: Literal["full", "draft"] = "full",
    cache: bool = True,
    progress: Progress | None = None,
    elsewhere: Elsewhere = here,
    built: Callable[[Unlit], None] | None = None,
) -> Stage:
    """Build a scene's set and vehicle and light them.

    Parameters
    ----------
    quality : {"full", "draft"}
        Draft takes fewer rays and a coarser light map.
    cache : bool
        Read and keep built sets and baked light in the user's cache folder (`PREVIZ_CACHE` names another).
    progress : callable or None
        Told in a few words what is being done.
    elsewhere : callable
        Does a piece of work, perhaps in another process, and returns its result, as `Crew.do` does. The ground is
        built there.
    built : callable or None
        Told what will be drawn, once it is built and before it is lit: see `Crew.get_ready`.

    Raises PrevizError for a file of the scene that cannot be used.
    """
    effort = _EFFORTS[quality]
    tell = progress or (lambda _: None)
    tell("building the set")
    found, vehicle = both(lambda: built_set(scene, cache, elsewhere), lambda: built_vehicle(scene, cache))
    lamps = tuple(lamp for lamp in found.lamps if lamp.flux > 0)
    setting = _Setting(found.standing, found.around, found.ground, (scene.set.table.width, scene.set.table.depth))
    emitters = emitters_of(scene, lamps)
    path = vehicle_path(scene)
    grid = ground_grid(vehicle, emitters, path, effort.cell)
    if built is not None:
        built(Unlit(setting.meshes, found.ground.mesh, found.ground.image, lamps, vehicle, grid.extent))
    tell("lighting the set")
    outlook = once(lambda: look_out(vehicle, grid, effort.station.round, effort.corner))
    key = store.key_of(source_key(), found.key, effort, emitters)
    # Where this light is not on disk, none of the vehicle's is: what that will need is found meanwhile.
    baked = store.kept(key, lambda: both(lambda: _bake(setting, emitters, effort), outlook)[0], cache=cache)
    room = ambient_radiance(emitters) * _ROOM_REFLECTANCE
    place = Place(
        emitters,
        lambda: setting.occluders,
        baked["radiance"],
        baked["light"],
        baked["soft"],
        setting.ground_albedo,
        setting.table,
        _triple(room),
    )
    station_key = store.key_of(key, grid, path.points, *_vehicle_arrays(vehicle), vehicle.lamps)
    return Stage(
        still=_lit(setting.meshes, baked["corners"]),
        ground=LitGround(found.ground.mesh, found.ground.image, baked["light"]),
        lamps=lamps,
        vehicle=vehicle,
        room=place.room,
        outlines=found.outlines,
        collisions=found.collisions,
        shadow_extent=grid.extent,
        vehicle_light=VehicleLight(path, vehicle, grid, place, effort.station, outlook, station_key, cache),
    )


def _lit(meshes: Sequence[Mesh], corners: Floats) -> tuple[LitMesh, ...]:
    ends = np.cumsum([len(mesh.vertices) for mesh in meshes])
    parts = np.split(corners, ends[:-1]) if len(meshes) else []
    return tuple(LitMesh(mesh, light) for mesh, light in zip(meshes, parts, strict=True))


def _vehicle_arrays(vehicle: VehicleModel) -> list[NDArray[Any]]:
    parts = [*vehicle.body, *(mesh for wheel in vehicle.wheels for mesh in (*wheel.round, *wheel.turning))]
    return [array for mesh in parts for array in (mesh.vertices, mesh.normals, mesh.faces, mesh.colours)]


# --- what is baked ---


@dataclass(frozen=True)
class _Setting:
    """All that stands still, as one list of triangles: those of `meshes` in order, then those of `floor`."""

    standing: tuple[Mesh, ...]
    around: tuple[Mesh, ...]
    ground: Ground
    table: tuple[float, float]

    @property
    def meshes(self) -> tuple[Mesh, ...]:
        return (*self.standing, *self.around)

    @cached_property
    def floor(self) -> Mesh:
        """The ground in triangles small enough for the light that it throws back, which is even over each."""
        return subdivided(self.ground.mesh, _FLOOR_EDGE)

    @cached_property
    def faces(self) -> NDArray[np.int64]:
        """Of all triangles, into the corners of `meshes` then of the floor."""
        parts = [*self.meshes, self.floor]
        starts = np.cumsum([0, *(len(mesh.vertices) for mesh in parts)])
        return np.concatenate([mesh.faces + start for mesh, start in zip(parts, starts[:-1], strict=True)])

    @cached_property
    def occluders(self) -> Occluders:
        return Occluders(np.concatenate([mesh.vertices for mesh in (*self.meshes, self.floor)]), self.faces)

    @cached_property
    def triangle_albedo(self) -> Floats:
        """Mean reflectance of every triangle. (m, 3)"""
        return np.concatenate([_albedo(mesh) for mesh in (*self.meshes, self.floor)])

    @cached_property
    def triangle_glow(self) -> Floats:
        """What every triangle sends out by itself. (m, 3) RGB [cd/m2]"""
        parts = (*self.meshes, self.floor)
        return floats(np.concatenate([np.tile(mesh.material.glow, (len(mesh.faces), 1)) for mesh in parts]))

    @cached_property
    def ground_albedo(self) -> Floats:
        """Reflectance over the table, coarse. (h, w, 3)"""
        return srgb_linear(_shrunk(self.ground.image, 256) / 255).astype(np.float32)

    def corners(self) -> Receivers:
        """Corners of `meshes`, a hair off their surface and never below the ground they stand on."""
        points = [mesh.vertices + _PROUD * mesh.normals for mesh in self.meshes]
        for place in points[: len(self.standing)]:
            floor = self.ground.height(place[:, :2]) + _PROUD
            place[:, 2] = np.maximum(place[:, 2], floor)
        return Receivers.of(
            _stacked(points),
            _stacked([mesh.normals for mesh in self.meshes]),
            np.concatenate([np.zeros(0), *(np.full(len(m.vertices), m.material.two_sided) for m in self.meshes)]),
        )

    def lie(self) -> Floats:
        """Normal of a triangle at each of the `corners`. (n, 3)"""
        lie = np.zeros((sum(len(mesh.vertices) for mesh in self.meshes), 3), dtype=np.float32)
        start = 0
        for mesh in self.meshes:
            a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
            across = np.cross(b - a, c - a)
            across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-20)
            lie[start + mesh.faces] = across[:, None, :]
            start += len(mesh.vertices)
        return lie

    def ground_grid(self, texel: float) -> tuple[Receivers, int, int]:
        """Texels over the table, row 0 at the far edge, lying on the ground; then rows and columns."""
        width, depth = self.table
        columns, rows = max(round(width / texel), 2), max(round(depth / texel), 2)
        x = (np.arange(columns) + 0.5) * (width / columns)
        y = depth - (np.arange(rows) + 0.5) * (depth / rows)
        over = np.stack([np.tile(x, rows), np.repeat(y, columns), np.zeros(rows * columns)], axis=1)
        over[:, 2] = self.ground.heights.at(over[:, :2])
        slopes = [self._slope(over[:, :2], axis) for axis in (0, 1)]
        normals = np.stack([-slopes[0], -slopes[1], np.ones(len(over))], axis=1)
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        return Receivers.of(over + _PROUD * normals, normals), rows, columns

    def _slope(self, places: Array, axis: int) -> Array:
        """Of what things stand on along x or y: where the ground dives under a cove, nobody sees it. (n,)"""
        before, after = places.copy(), places.copy()
        before[:, axis] = np.maximum(places[:, axis] - _SLOPE_OVER, 0)
        after[:, axis] = np.minimum(places[:, axis] + _SLOPE_OVER, self.table[axis])
        rise = self.ground.height(after) - self.ground.height(before)
        return np.asarray(rise / (after - before)[:, axis])


def _stacked(parts: Sequence[Array]) -> Array:
    return np.concatenate([np.zeros((0, 3)), *parts])


def _albedo(mesh: Mesh) -> Floats:
    colours = mean_over_corners(mesh.colours, mesh.faces)
    if mesh.image is None or mesh.uv is None:
        return colours
    small = _shrunk(mesh.image, 256)
    rows, columns = small.shape[:2]
    u, v = (mesh.uv[mesh.faces].mean(axis=1) % 1.0).T
    texels = small[np.minimum((v * rows).astype(int), rows - 1), np.minimum((u * columns).astype(int), columns - 1)]
    return floats(colours * srgb_linear(texels / 255))


def _shrunk(image: NDArray[np.uint8], most: int) -> NDArray[Any]:
    """At most about `most` pixels wide and high, each the mean of a block (of codes: near enough for a bounce)."""
    step = max(1, math.ceil(max(image.shape[:2]) / most))
    if step >= 6:
        return _shrunk(image[::2, ::2], most)  # every other pixel tells the mean of so many well enough
    rows, columns = (max(side // step, 1) * min(step, side) for side in image.shape[:2])
    down, across = min(step, image.shape[0]), min(step, image.shape[1])
    blocks = image[:rows, :columns].reshape(rows // down, down, columns // across, across, 3)
    return np.asarray(blocks.mean(axis=(1, 3)))


def _bake(setting: _Setting, emitters: tuple[Emitter, ...], effort: _Effort) -> store.Arrays:
    """Light on all corners (`corners`), over the table (`light`, its `soft` part), and every triangle's `radiance`."""
    corners = setting.corners()
    texel = max(effort.texel, math.sqrt(setting.table[0] * setting.table[1] / _MOST_TEXELS))
    fine, rows, columns = setting.ground_grid(texel)
    coarse, soft_rows, soft_columns = setting.ground_grid(texel * effort.soft)
    occluders = setting.occluders

    def look_at_corners() -> tuple[Floats, Surroundings, NDArray[np.int64]]:
        straight, some, group_of = _straight_on_corners(corners, setting.lie(), emitters, occluders, effort)
        return straight, look_round(some, occluders, effort.samples.round), group_of

    def look_at_ground() -> tuple[Floats, Surroundings, Mask]:
        covered = _covered(fine, occluders).reshape(rows, columns)
        straight = _straight_on_ground(fine, covered, emitters, occluders, effort.ground)
        covered_soft = _covered(coarse, occluders).reshape(soft_rows, soft_columns)
        return straight, look_round(coarse, occluders, effort.ground.round), covered_soft

    (straight, round_corners, group_of), (straight_ground, round_ground, covered_soft) = both(
        look_at_corners, look_at_ground
    )
    sky = ambient_radiance(emitters)
    centres = setting.floor.vertices[setting.floor.faces].mean(axis=1)

    def soft_light(around: Surroundings, radiance: Floats | None) -> Floats:
        light = around.sky_light(sky)
        return light if radiance is None else light + around.surface_light(radiance)

    radiance: Floats | None = None
    for _ in range(effort.samples.bounces + 1):
        on_corners = straight + soft_light(round_corners, radiance)[group_of]
        soft = soft_light(round_ground, radiance).reshape(soft_rows, soft_columns, 3)
        soft = _filled(soft, covered_soft)
        soft_fine = on_table(soft, setting.table, fine.points).reshape(rows, columns, 3)
        light = straight_ground + soft_fine
        at_triangles = np.concatenate(
            [
                mean_over_corners(on_corners, setting.faces[: len(setting.faces) - len(centres)]),
                on_table(light, setting.table, floats(centres)),
            ]
        )
        # What is close to a bulb gleams far beyond the rest, and the few rays that find it would speckle the set; the
        # bulb's flux already counts all that leaves its lantern.
        at_triangles = np.minimum(at_triangles, np.percentile(light, 99.5, axis=(0, 1)))
        radiance = floats(setting.triangle_albedo * at_triangles / math.pi + setting.triangle_glow)
    assert radiance is not None  # at least one pass
    return {"corners": on_corners, "light": light, "soft": soft_fine, "radiance": radiance}


def _straight_on_corners(
    corners: Receivers, lie: Floats, emitters: Sequence[Emitter], occluders: Occluders, effort: _Effort
) -> tuple[Floats, Receivers, NDArray[np.int64]]:
    """Light from lamps (n, 3); then the fewer receivers that stand for all in light from all round, and whose (n,)."""
    loose = corners.loose(_FOLIAGE, lie)
    leaf, rest = np.flatnonzero(loose), np.flatnonzero(~loose)
    leaves, sheets = corners.take(leaf), corners.take(rest)
    light = np.empty((len(corners), 3), dtype=np.float32)
    light[leaf] = leaf_light(leaves, effort.near_leaves, emitters, [occluders], effort.samples)
    close, close_of = sheets.grouped(0.25 * effort.near)
    light[rest] = direct_light(close, emitters, [occluders], effort.samples)[close_of]
    some_sheets, sheet_of = sheets.grouped(effort.near)
    some_leaves, leaf_of = leaves.grouped(effort.near_leaves, facing=False)
    group_of = np.empty(len(corners), dtype=np.int64)
    group_of[rest], group_of[leaf] = sheet_of, leaf_of + len(some_sheets)
    return light, some_sheets.joined(some_leaves), group_of


def _straight_on_ground(
    fine: Receivers, covered: Mask, emitters: Sequence[Emitter], occluders: Occluders, samples: Samples
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
        part = direct_light(fine.take(some.ravel()), soft, [occluders], samples, shift=turn / 4)
        light[down::2, across::2] = part.reshape(*some.shape, 3)
    light = _tent(_tent(_filled(light, covered), 0), 1)
    sharp = direct_light(fine, hard, [occluders], samples).reshape(*covered.shape, 3)
    return light + _filled(sharp, covered)


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


def _filled(values: Floats, covered: Mask) -> Floats:
    """The map with covered texels as bright as those around, or their darkness would fringe the foot of each piece."""
    known = (~covered).astype(np.float32)[..., None]
    light = values * known
    for _ in range(3):
        spread, count = _tent(_tent(light, 0), 1), _tent(_tent(known, 0), 1)
        fresh = (known == 0) & (count > 0)
        light = np.where(fresh, spread / np.maximum(count, 1e-6), light)
        known = np.where(fresh, 1, known).astype(np.float32)
    return floats(light)


def _tent(values: Floats, axis: int) -> Floats:
    """Each with a quarter of either neighbour; the border repeats."""
    padded = np.pad(values, [(1, 1) if k == axis else (0, 0) for k in range(3)], mode="edge")
    count = values.shape[axis]
    before, own, after = (np.take(padded, np.arange(count) + k, axis=axis) for k in range(3))
    return floats(0.25 * before + 0.5 * own + 0.25 * after)


def _triple(values: Sequence[float] | Array) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in values)
    return x, y, z
