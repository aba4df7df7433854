"""What a shot films, in arrays: where vehicle, camera and what it is aimed and focused at are at a few moments.

A camera that stands further back over the table, or higher, is the same camera with two numbers added; so the moments
are worked out once, and thousands of places come of them in `stands`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    SEE_THROUGH,
    TOUCH,
    Solid,
    solids_of,
    target_point,
    vehicle_on,
    vehicle_silhouette,
    vehicle_size,
)
from previz.physics.paths import through_keys
from previz.predictions import Faces, ShotView, back_over_table, beyond_backdrop, beyond_table, standing_faces
from previz.scene import Focus, Scene, Shot

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: So many moments of a shot are looked at, the first, the last and the middle one among them.
MOMENTS = 17


_Keyed = tuple[Array | None, Array]  # times of the keys, None where there are none, and what they hold


@dataclass(frozen=True)
class Moments:
    """The camera as written, what it is aimed at, and the vehicle, at n moments.

    Parameters
    ----------
    times : (n,) float
        [s on set]
    eye, back, aim : (n, 3) float
        Entrance pupil, what moving it back by 1 m over the table adds to it, and what is in the middle of the picture.
        [m]
    vehicle : (n, 3) float
        The vehicle's middle, as a focus on it means it. [m]
    """

    times: Array
    eye: Array
    back: Array
    aim: Array
    vehicle: Array


@dataclass(frozen=True)
class Stretch:
    """A shot laid open once, for cameras that stand elsewhere.

    Parameters
    ----------
    view : ShotView
        As written.
    frames : (n,) int
        Which of its frames are looked at.
    """

    view: ShotView
    frames: NDArray[np.int64]

    @property
    def scene(self) -> Scene:
        """[-]"""
        return self.view.scene

    @property
    def shot(self) -> Shot:
        """As written."""
        return self.view.shot

    @property
    def middle(self) -> int:
        """Which moment is mid-shot."""
        return int(np.flatnonzero(self.frames == self.view.middle)[0])

    @cached_property
    def now(self) -> Moments:
        """At the frames looked at."""
        return self.moments(self.view.times[self.frames])

    def moments(self, times: Array) -> Moments:
        """The shot as written at any times on set. [s]"""
        scene, shot, view = self.scene, self.shot, self.view
        places = _keys(shot.at, lambda place: np.asarray(place, dtype=float))
        moved = _keys(back_over_table(scene, shot, 1.0, view), lambda place: np.asarray(place, dtype=float))
        eye = np.stack([self._at(places, time) for time in times])
        back = np.stack([self._at(moved, time) for time in times]) - eye
        aim = np.stack([self._at(_keys(shot.aim, self._target(time)), time) for time in times])
        return Moments(times, eye, back, aim, np.stack([self._vehicle(time) for time in times]))

    def _at(self, keyed: _Keyed, time: float) -> Array:
        times, values = keyed
        return values if times is None else through_keys(times, values, float(time), evenly=self.shot.evenly)

    def _target(self, time: float) -> Callable[[Any], Array]:
        return lambda target: target_point(self.scene, target, float(time))

    def _vehicle(self, time: float) -> Array:
        if self.scene.vehicle is None:
            return np.full(3, np.nan)
        pose = vehicle_on(self.view.path, self.view.travel.distance(float(time)))
        return np.asarray(pose.position + np.array([0.0, 0.0, vehicle_size(self.scene)[2] / 2]))

    @cached_property
    def boxes(self) -> Array:
        """Corners (n, 8, 3) of the box around the vehicle. [m]"""
        return self.view.vehicle_corners[self.frames]

    @cached_property
    def vehicle_solids(self) -> tuple[Solid, ...]:
        """The vehicle at each moment."""
        return tuple(self.view.vehicle_solid(float(each)) for each in self.view.distances[self.frames])

    def about(self, by: float) -> list[tuple[Moments, Array]]:
        """Half a time [s] before and after the moments looked at, each with where the vehicle's middle is then."""
        if by not in self._about:
            sides = (self.now.times - by / 2, self.now.times + by / 2)
            self._about[by] = [(self.moments(times), self._middles(times)) for times in sides]
        return self._about[by]

    @cached_property
    def _about(self) -> dict[float, list[tuple[Moments, Array]]]:
        return {}

    def _middles(self, times: Array) -> Array:
        """Middle (t, 3) of the vehicle's box at any times on set. [s], [m]"""
        distances = [self.view.travel.distance(float(time)) for time in times]
        return np.stack([self.view.vehicle_solid(each).corners().mean(axis=0) for each in distances])

    @cached_property
    def outlines(self) -> Array:
        """Points (n, m, 3) whose picture has the vehicle's extent. [m]"""
        outline = vehicle_silhouette(self.scene)
        distances = self.view.distances[self.frames]
        poses = np.stack([vehicle_on(self.view.path, float(each)).world_from_vehicle for each in distances])
        return np.asarray(np.einsum("nij,mj->nmi", poses[:, :3, :3], outline) + poses[:, None, :3, 3])

    @cached_property
    def off_the_set(self) -> Flags:
        """Whether the vehicle drives where a picture must not show it: off the table, or through the backdrop. (n,)"""
        on_ramp = (self.view.distances < 0) & (self.scene.vehicle is not None and self.scene.vehicle.launch is not None)
        off = ((beyond_table(self.view) > TOUCH) | (beyond_backdrop(self.view) > TOUCH)) & ~on_ramp
        return np.asarray(off[self.frames])

    @cached_property
    def foci(self) -> tuple[tuple[Focus, ...], Array]:
        """What is focused on, and how much each key of a pull weighs at each moment, (n, k); one without keys."""
        if isinstance(self.shot.focus, Focus):
            return (self.shot.focus,), np.ones((len(self.frames), 1))
        keys = np.array([key.time for key in self.shot.focus])
        weights = through_keys(keys, np.eye(len(keys)), self.now.times, evenly=self.shot.evenly)
        return tuple(key.at for key in self.shot.focus), weights

    @cached_property
    def solids(self) -> tuple[tuple[Solid, Array, Array], ...]:
        """What a camera cannot stand in, each with the lowest and the highest corner of what lies about it. [m]"""
        solids = [solid.solid for solid in solids_of(self.scene)]
        corners = [solid.corners() for solid in solids]
        return tuple((solid, box.min(axis=0), box.max(axis=0)) for solid, box in zip(solids, corners, strict=True))

    @cached_property
    def hiding(self) -> tuple[Solid, ...]:
        """What one does not see past."""
        return tuple(solid for solid in solids_of(self.scene) if solid.kind not in SEE_THROUGH)

    @cached_property
    def standing(self) -> Faces:
        """The same as faces."""
        return standing_faces(self.scene)

    @property
    def locked_off(self) -> bool:
        """Whether the camera neither moves nor turns."""
        eye, aim = self.now.eye, self.now.aim
        return bool(np.allclose(eye, eye[0]) and np.allclose(aim, aim[0]))


def stretch_of(view: ShotView, moments: int = MOMENTS) -> Stretch:
    """A shot, looked at in so many of its frames."""
    last = len(view.times) - 1
    frames = np.unique([*np.linspace(0, last, moments).round().astype(np.int64), view.middle])
    return Stretch(view, frames.astype(np.int64))


def _keys(value: Any, read: Callable[[Any], Array]) -> _Keyed:
    """Times of the keys of a value, None where it has none; and what they hold."""
    if isinstance(value, tuple) and value and hasattr(value[0], "time"):
        return np.array([key.time for key in value]), np.stack([read(key.at) for key in value])
    return None, read(value)


def goes_by_the_clock(shot: Shot) -> bool:
    """Whether camera, aim or focus of a shot have keys in time, or a focus has a moment."""
    targets = [shot.aim, shot.focus.target if isinstance(shot.focus, Focus) else None]
    return moves_by_the_clock(shot) or any(getattr(target, "moment", None) is not None for target in targets)


def moves_by_the_clock(shot: Shot) -> bool:
    """Whether camera, aim or focus of a shot have keys in time."""
    return any(isinstance(each, tuple) and hasattr(each[0], "time") for each in (shot.at, shot.aim, shot.focus))
