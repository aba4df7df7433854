"""From a scene to a lit stage: everything built, its light baked, ready to be looked at from anywhere at any time."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache as once
from typing import Any, Literal

import numpy as np

from previz.files import kept, key_of
from previz.layout import Emitter, Lamp, Way, others_of, post_lamps, ramp_of, vehicle_path
from previz.light import ROOM_REFLECTANCE, Floats, Mask, ambient_radiance
from previz.mesh import Mesh
from previz.scene import Scene
from previz.spread import Elsewhere, both, here, spread, workers
from previz.stage.built import built_set, built_vehicle, source_key
from previz.stage.light.bake import bake
from previz.stage.light.effort import EFFORTS, Effort
from previz.stage.light.gear import light_on, lit_by
from previz.stage.light.ground_grid import Extent, GroundGrid, ground_grid
from previz.stage.light.lit_set import LitSet, StillSet
from previz.stage.light.stations import VehicleLight
from previz.stage.light.vehicle_rays import VehicleRays, vehicle_rays
from previz.stage.lit import LitGround, LitMesh, OtherVehicle, Station, Unlit
from previz.stage.model import VehicleModel
from previz.stage.packed import triple
from previz.stage.pieces.gear import build_gear

Progress = Callable[[str], None]


@dataclass(frozen=True)
class OtherDriven:
    """A vehicle beside the subject on a lit set."""

    built: OtherVehicle
    vehicle_light: VehicleLight = field(repr=False)

    def stations(self, distances: Sequence[float]) -> tuple[Station, ...]:
        """Its light at each of these distances along its path [m], each kept on disk once worked out."""
        return tuple(spread(self.vehicle_light.at, list(distances)))


@dataclass(frozen=True)
class Stage:
    """A lit set.

    Parameters
    ----------
    still : tuple of LitMesh
        All that does not move but the ground: pieces, backdrop, the table's sides, lamps' bodies and what holds them.
        World frame, few draws.
    ground : LitGround
    lamps : tuple of Lamp
        Lit lamps of the set, world frame.
    vehicle : VehicleModel
        In its own frame.
    room : (3,) float
        Radiance of what lies beyond the set. RGB [cd/m2]
    shadow_extent : (x0, x1, y0, y1)
        What a station's shadow and beam cover, in the vehicle's frame. [m]
    others : tuple of OtherDriven
        The vehicles beside the subject, in the order of `layout.others_of`.
    """

    still: tuple[LitMesh, ...]
    ground: LitGround
    lamps: tuple[Lamp, ...]
    vehicle: VehicleModel
    room: tuple[float, float, float]
    shadow_extent: Extent
    vehicle_light: VehicleLight = field(repr=False)
    others: tuple[OtherDriven, ...] = ()

    def clear(self, origins: Floats, rays: Floats, reach: float | Floats = 1.0) -> Mask:
        """Whether nothing that stands still is between each origin and origin + reach * ray. (n,) bool"""
        return self.vehicle_light.lit_set.occluders.clear(origins, rays, reach)

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
    quality: Literal["full", "draft", "small"] = "full",
    cache: bool = True,
    progress: Progress | None = None,
    elsewhere: Elsewhere = here,
    built: Callable[[Unlit], None] | None = None,
) -> Stage:
    """Build a scene's set and vehicle and light them.

    Parameters
    ----------
    quality : {"full", "draft", "small"}
        Draft takes fewer rays and a coarser light map; small, for a picture of a few hundred pixels, fewer still.
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
    effort = EFFORTS[quality]
    tell = progress or (lambda _: None)
    tell("building the set")
    found, vehicle = both(
        lambda: built_set(scene, cache, elsewhere, effort.painted), lambda: built_vehicle(scene, cache)
    )
    lamps = tuple(lamp for _, lamp in post_lamps(scene))
    table = (scene.set.table.width, scene.set.table.depth)
    still = StillSet(found.standing, found.around, found.ground, table, scene.scale, found.giving)
    emitters = lit_by(scene, still, key_of(source_key(), found.key, effort), effort.samples, cache)
    gear = build_gear(scene)
    path = vehicle_path(scene)
    grid = ground_grid(vehicle, emitters, path, effort.cell)
    others = [_other(other, emitters, effort, cache) for _, other in others_of(scene)]
    if built is not None:
        besides = tuple(other for other, _, _ in others)
        standing = (*still.meshes, *gear)
        built(
            Unlit(
                standing, found.ground.mesh, found.ground.image, lamps, vehicle, grid.extent, besides, found.ground.film
            )
        )
    tell("lighting the set")
    rays = once(lambda: vehicle_rays(vehicle, grid, effort.station.round, effort.corner))
    key = key_of(source_key(), found.key, effort, emitters)
    # Where this light is not on disk, none of the vehicle's is: what that will need is found meanwhile.
    baked = kept(key, lambda: both(lambda: bake(still, emitters, effort), rays)[0], cache=cache)
    on_gear = kept(
        key_of(key, *(array for mesh in gear for array in (mesh.vertices, mesh.normals))),
        lambda: {"light": light_on(gear, still, emitters, baked["radiance"], effort.samples)},
        cache=cache,
    )
    room = ambient_radiance(emitters) * ROOM_REFLECTANCE
    lit_set = LitSet(
        emitters,
        lambda: still.occluders,
        baked["radiance"],
        baked["light"],
        baked["soft"],
        still.ground_albedo,
        still.table,
        triple(room),
    )

    def lit_along(
        driven: Scene, way: Way, model: VehicleModel, cells: GroundGrid, found: Callable[[], VehicleRays]
    ) -> VehicleLight:
        slope = () if way.slope is None else (way.slope.way, way.slope.knots)
        ramp = ramp_of(driven)
        sheet = () if ramp is None else (ramp.width, ramp.footprint)
        named = key_of(key, cells, way.points, *slope, *sheet, *_named_by(model))
        return VehicleLight(way, model, cells, lit_set, effort.station, found, named, cache, ramp)

    return Stage(
        still=(*_lit(still.meshes, baked["corners"], baked.get("around")), *_lit(gear, on_gear["light"])),
        ground=LitGround(found.ground.mesh, found.ground.image, baked["light"], found.ground.film),
        lamps=lamps,
        vehicle=vehicle,
        room=lit_set.room,
        shadow_extent=grid.extent,
        vehicle_light=lit_along(scene, path, vehicle, grid, rays),
        others=tuple(
            OtherDriven(other, lit_along(driven, way, other.vehicle, cells, _rays_once(other.vehicle, cells, effort)))
            for (_, driven), (other, way, cells) in zip(others_of(scene), others, strict=True)
        ),
    )


def _other(
    scene: Scene, emitters: Sequence[Emitter], effort: Effort, cache: bool
) -> tuple[OtherVehicle, Way, GroundGrid]:
    """The scene's vehicle as one beside another: built, with its way and the cells of its shadow."""
    vehicle, path = built_vehicle(scene, cache), vehicle_path(scene)
    grid = ground_grid(vehicle, emitters, path, effort.cell)
    return OtherVehicle(vehicle, grid.extent), path, grid


def _rays_once(vehicle: VehicleModel, grid: GroundGrid, effort: Effort) -> Callable[[], VehicleRays]:
    return once(lambda: vehicle_rays(vehicle, grid, effort.station.round, effort.corner))


def _lit(meshes: Sequence[Mesh], corners: Floats, around: Floats | None = None) -> tuple[LitMesh, ...]:
    ends = np.cumsum([len(mesh.vertices) for mesh in meshes])
    parts = np.split(corners, ends[:-1]) if len(meshes) else []
    shares: Sequence[Floats | None] = [None] * len(parts) if around is None else np.split(around, ends[:-1])
    return tuple(LitMesh(*each) for each in zip(meshes, parts, shares, strict=True))


def _named_by(vehicle: VehicleModel) -> list[Any]:
    """All of a vehicle that its light goes by, for a key."""
    parts = [*vehicle.body, *(mesh for wheel in vehicle.wheels for mesh in (*wheel.round, *wheel.turning))]
    arrays = [(mesh.vertices, mesh.normals, mesh.faces, mesh.colours, mesh.uv, mesh.image) for mesh in parts]
    # Meshes of wheels are about their axles, wherever those are.
    wheels = [(wheel.centre, wheel.radius, len(wheel.round)) for wheel in vehicle.wheels]
    lit_from_behind = [mesh.material.two_sided for mesh in parts]
    return [*(array for each in arrays for array in each), wheels, lit_from_behind, vehicle.shaded, vehicle.lamps]
