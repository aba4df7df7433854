"""One shot laid open: where camera and vehicle are in each frame, and where a point of the set falls in the picture."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.layout import (
    CameraPose,
    Solid,
    VehiclePose,
    back_plane,
    camera_at,
    cameras_at,
    in_picture,
    looked_through,
    metered_of,
    most_in_the_middle,
    other_solids,
    shown_across,
    stays_put,
    travel_of,
    vehicle_edges,
    vehicle_on,
    vehicle_path,
    vehicle_solid,
    vehicles_on,
)
from previz.light import ShotLight, meter
from previz.physics import optics
from previz.physics.exposure import THIRD_STOP_F_NUMBERS
from previz.physics.paths import Curve, Travel
from previz.predictions.real_speed import refuse_real_speed
from previz.scene import Camera, Focus, Mode, Scene, Shot, recorded_area

Array = NDArray[np.float64]
T = TypeVar("T")


@dataclass(frozen=True)
class ShotView:
    """A shot with what `scene` and `motion` say of it, at the frames that are looked at (`layout.looked_through`).

    Parameters
    ----------
    scene, shot, index
        The shot and its place in `scene.shots`.
    count : int
        Frames of the whole shot.
    numbers : (n,) int
        Frames looked at.
    times : (n,) float
        Mid-shutter. [s on set]
    cameras : n CameraPose
    distances : (n,) float
        Of the vehicle along its path. [m]
    """

    scene: Scene
    shot: Shot
    index: int
    count: int
    numbers: NDArray[np.int64]
    times: Array
    path: Curve
    travel: Travel
    cameras: tuple[CameraPose, ...]
    distances: Array

    @property
    def camera(self) -> Camera:
        """The shot's camera."""
        return self.scene.cameras[self.shot.camera]

    @property
    def lit_thing(self) -> str:
        """What its light is looked at on, in words."""
        return "the vehicle" if self.scene.vehicle is not None else "what the camera is focused on"

    @cached_property
    def mode(self) -> Mode:
        """How it records."""
        return self.scene.mode(self.shot)

    @property
    def size(self) -> tuple[int, int]:
        """Picture, width and height. [px]"""
        return self.mode.width, self.mode.height

    @property
    def area(self) -> tuple[float, float]:
        """The recorded part of the sensor. [m]"""
        return recorded_area(self.camera, self.mode)

    @property
    def pixel_pitch(self) -> float:
        """Width of one pixel on the sensor. [m]"""
        return self.area[0] / self.size[0]

    @property
    def widest(self) -> float:
        """The widest f-number of the lens at the shot's focal length. [-]"""
        return self.camera.widest_at(self.shot.focal_length)

    @property
    def stops(self) -> list[float]:
        """The third stops this lens has at the shot's focal length, by their engraved names. [-]"""
        return [stop for stop in THIRD_STOP_F_NUMBERS if self.widest * 0.99 <= stop <= self.camera.smallest * 1.01]

    @property
    def exposure_time(self) -> float:
        """[s]"""
        return self.shot.capture.exposure_time

    @cached_property
    def focus(self) -> Array:
        """Focus distances (n,) from the entrance pupil. [m]"""
        return np.array([pose.focus_distance for pose in self.cameras])

    @property
    def middle(self) -> int:
        """Which of the frames looked at is mid-shot."""
        return len(self.numbers) // 2

    @cached_property
    def vehicle_corners(self) -> Array:
        """Corners (n, 8, 3) of the box around the vehicle, which leans as it does on its ramp. [m]"""
        own = vehicle_solid(self.scene, VehiclePose(np.zeros(3), 0.0, 0.0)).corners()
        turns = np.stack([pose.world_from_vehicle[:3, :3] for pose in self.vehicles])
        places = np.stack([pose.position for pose in self.vehicles])
        return np.einsum("nij,kj->nki", turns, own) + places[:, None]

    @cached_property
    def vehicles(self) -> tuple[VehiclePose, ...]:
        """Where the vehicle is and how it stands, n of them."""
        return vehicles_on(self.path, self.distances)

    @cached_property
    def stands_still(self) -> bool:
        """Whether the picture of what does not move is the same in every frame: no move, no turn, no pull of focus."""
        if self._put:
            return True
        alike = np.allclose(self.positions, self.positions[0]) and np.allclose(self.turns, self.turns[0])
        return bool(alike and np.allclose(self.focus, self.focus[0], rtol=1e-3, atol=0.0))

    @property
    def _put(self) -> bool:
        """Whether it is known without a look that the camera is the same in every frame."""
        return all(pose is self.cameras[0] for pose in self.cameras)

    @cached_property
    def positions(self) -> Array:
        """Of the entrance pupil, (n, 3). [m]"""
        return np.stack([pose.position for pose in self.cameras])

    @cached_property
    def turns(self) -> Array:
        """World from camera, (n, 3, 3)."""
        return np.stack([pose.world_from_camera for pose in self.cameras])

    def vehicle_solids(self, frame: int) -> tuple[Solid, ...]:
        """All that drives in one of the frames looked at, the subject first; none of a set without any."""
        own = () if self.scene.vehicle is None else (self.vehicle_solid(float(self.distances[frame])),)
        return (*own, *other_solids(self.scene, float(self.times[frame])))

    @cached_property
    def light(self) -> ShotLight:
        """What a light meter reads in the frame by which the shot is metered."""
        driven, frame = self.scene.vehicle is not None, self.metered
        vehicle = self.vehicles[frame] if driven else None
        return meter(self.scene, self.shot, self.cameras[frame], vehicle)

    def vehicle_solid(self, distance: float) -> Solid:
        """The vehicle that far along its path."""
        if distance not in self._vehicles:
            self._vehicles[distance] = vehicle_solid(self.scene, vehicle_on(self.path, float(distance)))
        return self._vehicles[distance]

    @cached_property
    def at_f1(self) -> dict[bytes, tuple[Array, Array, Array]]:
        """What `checks.focus` found of blur at f/1 by focus distances, from which that at every stop follows."""
        return {}

    @cached_property
    def kept(self) -> dict[Any, Any]:
        """What else checks worked out that stop and ISO have no part in, by names of theirs; see `once`."""
        return {}

    def once(self, name: Hashable, work: Callable[[], T]) -> T:
        """What `work` gave when it was first asked for by that name, of this view or of one at another stop."""
        if name not in self.kept:
            self.kept[name] = work()
        found: T = self.kept[name]
        return found

    @cached_property
    def _vehicles(self) -> dict[float, Solid]:
        """What `vehicle_solid` said: several checks ask for the same frames."""
        return {}

    def depths(self, points: ArrayLike) -> Array:
        """Depths (n, k) along each frame's axis of points (k, 3) or (n, k, 3). [m]"""
        return self._in_camera(points, len(self.cameras))[..., 2]

    def project(self, points: ArrayLike) -> tuple[Array, Array]:
        """Picture places (n, k, 2) [px, from the top left, y down] and depths (n, k) [m] of points.

        A point behind the camera has a depth below zero and no meaningful place.
        """
        count = 1 if np.ndim(points) == 2 and self._put else len(self.cameras)
        places, depth = self._projected(points, count)
        if count == len(self.cameras):
            return places, depth
        frames = len(self.cameras)
        return np.broadcast_to(places, (frames, *places.shape[1:])), np.broadcast_to(depth, (frames, depth.shape[1]))

    def _projected(self, points: ArrayLike, count: int) -> tuple[Array, Array]:
        """Of the first so many of the frames looked at."""
        seen = self._in_camera(points, count)
        depth = seen[..., 2]
        v = optics.image_distance(self.shot.focal_length, self.focus[:count])[:, None]
        ahead = np.where(np.abs(depth) < 1e-9, 1e-9, depth)
        across = seen[..., 0] / ahead * v / self.pixel_pitch
        upward = seen[..., 1] / ahead * v / self.pixel_pitch
        return np.stack([self.size[0] / 2 + across, self.size[1] / 2 - upward], axis=-1), depth

    def rays(self, frame: int, across: Array, down: Array) -> tuple[Array, Array]:
        """Origin (3,) and directions (m, 3) through picture places in shares of width and height, for one frame.

        Directions have unit depth.
        """
        pose = self.cameras[frame]
        v = optics.image_distance(self.shot.focal_length, pose.focus_distance)
        right = (across - 0.5) * self.area[0] / v
        up = (0.5 - down) * self.area[1] / v
        return pose.position, np.stack([right, up, -np.ones_like(right)], axis=-1) @ pose.world_from_camera.T

    def _in_camera(self, points: ArrayLike, count: int) -> Array:
        """Right, up, depth (n, k, 3) of points (k, 3) or (n, k, 3) in the cameras of the first n frames."""
        world = np.asarray(points, dtype=float)
        world = np.broadcast_to(world, (count, *world.shape[-2:]))
        seen = (world - self.positions[:count, None]) @ self.turns[:count]
        return seen * np.array([1.0, 1.0, -1.0])

    @cached_property
    def vehicle_places(self) -> tuple[Array, Array]:
        """Of the vehicle's box: picture places (n, 8, 2) [px] and depths (n, 8) [m]."""
        return self.project(self.vehicle_corners)

    @cached_property
    def vehicle_frame(self) -> Array:
        """Left, top, right, bottom (n, 4) of the vehicle in the picture [px]; nan where partly behind or none."""
        return vehicle_edges(self.scene, self.shot, self.cameras, self.vehicles) * (*self.size, *self.size)

    @cached_property
    def vehicle_in_frame(self) -> NDArray[np.bool_]:
        """Whether any of the vehicle is in the picture, (n,)."""
        return in_picture(self.vehicle_frame / (*self.size, *self.size))

    @cached_property
    def mid_picture(self) -> int:
        """In which of the frames looked at the vehicle is nearest to the picture's middle; mid-shot if it is in none.

        There its speed is taken, for there one looks at it: mid-shot it may have left, or not yet come.
        """
        left, _, right, _ = self.vehicle_frame.T
        off = np.where(self.vehicle_in_frame, np.abs((left + right) / 2 / self.size[0] - 0.5), np.inf)
        return int(most_in_the_middle(np.nan_to_num(off, nan=np.inf)[None], self.middle)[0])

    @property
    def metered(self) -> int:
        """By which of the frames looked at the light is metered: mid-shot, if half of the vehicle is seen then."""
        return metered_of(shown_across(self.vehicle_frame / (*self.size, *self.size)), self.middle)


def background_middle(view: ShotView, frame: int) -> Array:
    """The point (3,) of the background behind the picture's middle. [m]

    Where the axis meets the plane of the backdrop, raised to its foot or lowered to its top where it passes by, or of
    the table's edge that it faces; twice as far off as the focus where it never does.
    """
    return behind_middle(view.scene, view.cameras[frame])


def behind_middle(scene: Scene, pose: CameraPose) -> Array:
    """The same of a camera at a pose. (3,) [m]"""
    axis = -pose.world_from_camera[:, 2]
    plane = back_plane(scene, axis)
    towards = float(plane.towards(axis))
    reach = float(plane.before(pose.position)) / towards if towards > 1e-6 else 2 * pose.focus_distance
    point = np.asarray(pose.position + axis * reach)
    if scene.set.backdrop is not None and towards > 1e-6:
        point[2] = np.clip(point[2], 0.0, plane.height)
    return point


def view_of(scene: Scene, shot: Shot, numbers: NDArray[np.int64] | None = None) -> ShotView:
    """Lay a shot open, in frames spread over it or in those asked for.

    Raises PrevizError where the camera cannot be aimed or focused as written, or no model drives as fast on a table.
    """
    refuse_real_speed(scene, shot)
    count, numbers, times = looked_through(scene, shot, numbers)
    path, travel = vehicle_path(scene), travel_of(scene)
    return _laid_open(scene, shot, scene.shots.index(shot), count, numbers, times, path, travel)


def _laid_open(
    scene: Scene,
    shot: Shot,
    index: int,
    count: int,
    numbers: NDArray[np.int64],
    times: Array,
    path: Curve,
    travel: Travel,
) -> ShotView:
    if stays_put(shot):
        cameras = (camera_at(scene, shot, float(times[0])),) * len(times)
    else:
        cameras = cameras_at(scene, shot, times)
    distances = np.array([travel.distance(float(time)) for time in times])
    return ShotView(scene, shot, index, count, numbers, times, path, travel, cameras, distances)


#: What was worked out of a shot that its stop and ISO have no part in.
_OF_NO_STOP = (
    "mode",
    "focus",
    "stands_still",
    "at_f1",
    "kept",
    "_vehicles",
    "positions",
    "turns",
    "vehicles",
    "vehicle_corners",
    "vehicle_places",
    "vehicle_frame",
    "vehicle_in_frame",
    "mid_picture",
    "light",
)


def at_another_stop(view: ShotView, scene: Scene) -> ShotView:
    """The view in a scene that differs in the stop and the ISO of its shot alone: places and light are as they were."""
    again = replace(view, scene=scene, shot=scene.shots[view.index])
    again.__dict__.update((name, view.__dict__[name]) for name in _OF_NO_STOP if name in view.__dict__)
    return again


def with_shot(scene: Scene, index: int, shot: Shot) -> Scene:
    """The scene with another shot in the place of one of its own."""
    return scene.model_copy(update={"shots": (*scene.shots[:index], shot, *scene.shots[index + 1 :])})


#: Focused as far off as this a lens is as it is at infinity. [m]
_FAR = 1000.0


def view_from_afar(scene: Scene, shot: Shot) -> ShotView:
    """A shot laid open as if focused at infinity, for what focus has no part in. Raises PrevizError, as `view_of`."""
    far = shot.model_copy(update={"focus": Focus.model_construct(distance=_FAR, target=None)})
    return view_of(with_shot(scene, scene.shots.index(shot), far), far)


def moved(view: ShotView, by: float) -> ShotView:
    """The same shot with camera and vehicle at times later by `by`. [s]"""
    return _at(view, view.numbers, view.times + by)


def at_frames(view: ShotView, numbers: NDArray[np.int64]) -> ShotView:
    """The same shot looked at in other frames, mid-shutter."""
    rate = float(view.shot.capture.rate)
    return _at(view, numbers, view.times[0] + (numbers - view.numbers[0]) / rate)


def _at(view: ShotView, numbers: NDArray[np.int64], times: Array) -> ShotView:
    return _laid_open(view.scene, view.shot, view.index, view.count, numbers, times, view.path, view.travel)
