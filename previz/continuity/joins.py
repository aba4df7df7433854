"""Where one stretch of the cut ends and the next begins: both laid open at the two frames that meet."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import ShotFault
from previz.physics import optics, pacing
from previz.predictions import Predictions, ShotPredictions, ShotView, view_of
from previz.scene import Shot
from previz.sequence import Event

Array = NDArray[np.float64]


@dataclass(frozen=True)
class End:
    """A stretch of the cut at its last frame, or at its first.

    Parameters
    ----------
    event : Event
    view : ShotView
        The frames that play, from the one at the cut on to the far end.
    figures : ShotPredictions
        Of its shot.
    weighed : bool
        Whether its shot's stop has been weighed against all that pulls on it: a compromise is told.
    """

    event: Event
    view: ShotView
    figures: ShotPredictions
    weighed: bool = False

    @property
    def name(self) -> str:
        """For people: its number in the running order and its shot."""
        return f"{self.event.number} {self.event.shot.id}"

    @property
    def drives(self) -> bool:
        """Whether there is a vehicle that is meant to move."""
        vehicle = self.event.scene.vehicle
        return vehicle is not None and not vehicle.stands

    @property
    def moves(self) -> bool:
        """Whether anything does: the vehicle, or the camera from frame to frame."""
        first, last = self.view.cameras[0], self.view.cameras[-1]
        still = np.allclose(first.position, last.position) and np.allclose(
            first.world_from_camera, last.world_from_camera
        )
        return self.drives or not still

    @cached_property
    def _middles(self) -> Array:
        """Of the vehicle in each frame, (n, 1, 3). [m]"""
        return np.asarray(self.view.vehicle_corners.mean(axis=1, keepdims=True))

    @cached_property
    def _in_picture(self) -> NDArray[np.bool_]:
        """In which frames the vehicle's middle is in the picture, (n,)."""
        if self.event.scene.vehicle is None:
            return np.zeros(len(self.view.numbers), dtype=bool)
        return self._are_in_picture(self._middles)

    def _are_in_picture(self, points: Array) -> NDArray[np.bool_]:
        """In which frames a point is that stays (1, 3), or one of each frame's own (n, 1, 3). (n,)"""
        places, depths = self.view.project(points)
        within = (places[:, 0] >= 0) & (places[:, 0] <= np.array(self.view.size))
        return np.asarray(within.all(axis=1) & (depths[:, 0] > 0))

    @property
    def seen(self) -> bool:
        """Whether the vehicle is in the picture at the cut itself."""
        return bool(self._in_picture[0])

    @cached_property
    def nearest_seen(self) -> int | None:
        """The frame nearest to the cut in which the vehicle is in the picture; None where it never is."""
        return int(np.argmax(self._in_picture)) if self._in_picture.any() else None

    def shows(self, place: Array) -> bool:
        """Whether a place (3,) is in the picture at the cut, past whatever may stand before it."""
        return bool(self._are_in_picture(place[None])[0])

    def bearing(self, frame: int) -> float:
        """From the vehicle's nose round to the camera, seen from above; above 0 to the left of its travel. [rad]"""
        to_camera = self.view.cameras[frame].position[:2] - self._middles[frame, 0, :2]
        turned = math.atan2(to_camera[1], to_camera[0]) - self.heading(frame)
        return (turned + math.pi) % (2 * math.pi) - math.pi

    def heading(self, frame: int) -> float:
        """Of the vehicle, counter-clockwise from +x. [rad]"""
        return self.view.vehicle_solid(float(self.view.distances[frame])).turn

    def to_camera(self, frame: int) -> Array:
        """From the vehicle's middle to the camera, a unit vector (3,) forward, left and up of the vehicle."""
        way = self.view.cameras[frame].position - self._middles[frame, 0]
        c, s = math.cos(self.heading(frame)), math.sin(self.heading(frame))
        own = np.array([c * way[0] + s * way[1], c * way[1] - s * way[0], way[2]])
        return np.asarray(own / np.linalg.norm(own))

    def view_width(self, frame: int) -> float:
        """The width that the picture covers at the vehicle's middle, square to the axis. [m]"""
        return self.view_width_at(self._middles[frame, 0], frame)

    def view_width_at(self, place: Array, frame: int) -> float:
        """The same at any place (3,) before the camera. [m]"""
        depth = float(self.view.depths(place[None])[frame, 0])
        v = optics.image_distance(self.event.shot.focal_length, self.view.focus[frame])
        return float(optics.field_width(self.view.area[0], v, depth))

    def apparent_speed(self, frame: int) -> float:
        """Of the vehicle at full size, on screen. [m/s]"""
        speed = self.view.travel.speed(float(self.view.times[frame]))
        return float(pacing.apparent_speed(speed, self.event.scene.vehicle_scale, self.slowdown))

    @property
    def slowdown(self) -> float:
        """Capture rate over playback rate. [-]"""
        return pacing.slowdown(float(self.event.shot.capture.rate), float(self.event.shot.playback))

    @property
    def shutter_angle(self) -> float:
        """[rad]"""
        capture = self.event.shot.capture
        return 2 * math.pi * capture.exposure_time * float(capture.rate)

    @property
    def eye_height(self) -> float:
        """Of the camera over the table at the cut, at full size; a hand's breadth at least. [m]"""
        height = float(self.view.cameras[0].position[2]) * float(self.event.scene.scale)
        return max(height, 0.1)

    def with_shot(self, shot: Shot) -> "End":
        """The same stretch of another version of its shot. Raises ShotFault where that cannot be laid open."""
        event = replace(self.event, shot=shot, scene=self.event.scene.model_copy(update={"shots": (shot,)}))
        return replace(self, event=event, view=view_of(event.scene, shot, self.view.numbers))

    def with_lights(self, lights: Sequence[Any]) -> "End":
        """The same stretch with lamps elsewhere. Raises ShotFault where that cannot be."""
        scene = self.event.scene.model_copy(update={"lights": tuple(lights)})
        event = replace(self.event, scene=scene)
        return replace(self, event=event, view=view_of(scene, event.shot, self.view.numbers))

    def with_run_of(self, other: "End") -> "End":
        """The same stretch with the vehicle as it drives in another. Raises ShotFault where that cannot be."""
        scene = self.event.scene.model_copy(update={"vehicle": other.event.scene.vehicle})
        event = replace(self.event, scene=scene)
        return replace(self, event=event, view=view_of(scene, event.shot, self.view.numbers))


#: Keys of a vehicle by which one knows it again.
_LOOKS = ("body", "mesh", "node", "up", "front", "scale", "length", "colour")


@dataclass(frozen=True)
class Join:
    """Two stretches of the cut that meet.

    Parameters
    ----------
    before, after : End
        The one at its last frame, the other at its first.
    ordered : bool
        Whether their maker put them in this order; else they are there to choose from.
    """

    before: End
    after: End
    ordered: bool = True

    @property
    def dissolves(self) -> bool:
        """Whether the one comes in over the other: time has passed, or the place has changed."""
        return self.after.event.dissolve > 0

    @property
    def runs_on(self) -> bool:
        """Whether it is one shot that goes on, so that no cut is seen."""
        one, other = self.before.event, self.after.event
        return one.shot.id == other.shot.id and one.frames[-1] + 1 == other.frames[0] and not self.dissolves

    @property
    def one_place(self) -> bool:
        """Whether what stands and shines is the same in both, and they tell no other place of the story."""
        one, other = self.before.event, self.after.event
        same = (getattr(one.scene, key) == getattr(other.scene, key) for key in ("set", "dressing", "lights"))
        return one.shot.place == other.shot.place and all(same)

    @property
    def one_vehicle(self) -> bool:
        """Whether both are about the same vehicle: two are not compared with each other."""
        return self.before.event.scene.subject == self.after.event.scene.subject

    @property
    def same_run(self) -> bool:
        """Whether the vehicle goes the same way in both."""
        one, other = self.before.event.scene, self.after.event.scene
        return self.one_vehicle and _way(one.vehicle) == _way(other.vehicle) and one.set.road == other.set.road

    @property
    def together(self) -> tuple[float, float] | None:
        """From when to when both film one and the same run, on set [s]; None where they do not."""
        one, other = self.before, self.after
        if not self.same_run or one.event.scene.vehicle != other.event.scene.vehicle:
            return None
        begins = max(float(end.view.times.min()) for end in (one, other))
        ends = min(float(end.view.times.max()) for end in (one, other))
        return (begins, ends) if begins <= ends else None

    @property
    def same_vehicle(self) -> bool:
        """Whether the viewer takes what drives for the same: it looks the same, whichever way it goes and how fast."""
        one, other = (each.event.scene.vehicle for each in (self.before, self.after))
        return all(getattr(one, key, None) == getattr(other, key, None) for key in _LOOKS)


def _way(vehicle: object) -> tuple[object, ...]:
    return tuple(getattr(vehicle, key, None) for key in ("path", "keep", "offset", "reverse"))


def joins_of(events: Sequence[Event], predictions: Predictions, *, ordered: bool = True) -> tuple[Join, ...]:
    """Where neighbours meet; without those of a shot that cannot be laid open, which `check` tells.

    predictions: of the scene whose running order this is.
    """
    return tuple(
        Join(before, after, ordered)
        for one, other in pairwise(events)
        for before in [_end(one, predictions, last=True)]
        for after in [_end(other, predictions, last=False)]
        if before is not None and after is not None
    )


#: So many frames of a stretch are looked at, from the cut on.
_FRAMES = 24


def _end(event: Event, predictions: Predictions, *, last: bool) -> End | None:
    spread = np.unique(np.linspace(0, len(event.frames) - 1, min(len(event.frames), _FRAMES)).round().astype(np.int64))
    numbers = event.frames[0] + spread
    try:
        view = view_of(event.scene, event.shot, numbers[::-1] if last else numbers)
    except ShotFault:
        return None
    weighed = any(each.shot == event.shot.id for each in predictions.compromises)
    return End(event, view, predictions.shot(event.shot.id), weighed)
