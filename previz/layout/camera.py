"""Where the camera is at a time, where it looks, and what it is focused on."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError, ShotFault
from previz.layout.motion import vehicles_at
from previz.layout.standing import pieces_of
from previz.layout.vehicle import vehicle_size
from previz.physics.paths import cross, through_keys
from previz.scene import Focus, Scene, Shot, Target

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CameraPose:
    """Where the entrance pupil is, how the camera is turned, what it is focused on.

    Parameters
    ----------
    position : (3,) float
        Middle of the entrance pupil. [m]
    world_from_camera : (3, 3) float
        Columns: the picture's right, its up, and backward (out of the lens's back), unit vectors.
    focus_distance : float
        From the entrance pupil along the axis to the plane of focus. [m]
    """

    position: Array
    world_from_camera: Array
    focus_distance: float

    @property
    def in_focus(self) -> Array:
        """The point (3,) on the axis that is sharp. [m]"""
        return np.asarray(self.position - self.focus_distance * self.world_from_camera[:, 2])


def stays_put(shot: Shot) -> bool:
    """Whether its camera is the same at all times: it neither moves nor follows, and its focus is set once."""
    focused = isinstance(shot.focus, Focus) and (shot.focus.target is None or _stays(shot.focus.target))
    return isinstance(shot.at[0], int | float) and isinstance(shot.aim, Target) and _stays(shot.aim) and focused


def _stays(target: Target) -> bool:
    return not target.vehicle or target.moment is not None


def camera_at(scene: Scene, shot: Shot, time: float) -> CameraPose:
    """The shot's camera at a time on set. [s]

    Raises
    ------
    ShotFault
        Where it is aimed at its own place, or focused on something beside or behind it.
    """
    return cameras_at(scene, shot, np.array([time]))[0]


def cameras_at(scene: Scene, shot: Shot, times: Array) -> tuple[CameraPose, ...]:
    """The same at each of several times (n,). [s]"""
    positions, turns = _stand(scene, shot, times)
    depths = _keyed(shot.focus, times, lambda focus: _focus_depths(scene, shot, focus, times, (positions, turns)))
    for time, depth in zip(times.tolist(), depths.tolist(), strict=True):
        _can_be_focused(scene, shot, time, depth)
    return tuple(CameraPose(*each) for each in zip(positions, turns, depths.tolist(), strict=True))


def _can_be_focused(scene: Scene, shot: Shot, time: float, depth: float) -> None:
    if depth <= shot.focal_length:
        where = f"{scene.tape(depth)} from the lens" if depth > 0 else f"{scene.tape(-depth)} behind the camera"
        raise ShotFault(
            shot.id,
            "focus",
            f"at {time:.3f} s on set the plane of focus would be {where}; a {shot.focal_length * 1000:g} mm lens "
            "cannot focus nearer than its focal length",
            "Focus on something in front of the camera, further away",
            quantity="focus_distance",
            value=depth,
            limit=float(shot.focal_length),
        )


def _stand(scene: Scene, shot: Shot, times: Array) -> tuple[Array, Array]:
    """Where the entrance pupil is (n, 3) and how the camera is turned (n, 3, 3) at several times."""
    positions = _keyed(shot.at, times, lambda place: np.broadcast_to(np.asarray(place, float), (len(times), 3)))
    aims = _keyed(shot.aim, times, lambda target: _target_points(scene, target, times))
    return positions, np.stack([_turn_towards(way, shot) for way in aims - positions])


def _turn_towards(direction: Array, shot: Shot) -> Array:
    reach = np.linalg.norm(direction)
    if reach < 1e-9:
        raise ShotFault(
            shot.id,
            "aim",
            "the camera stands at the very point it is aimed at",
            "Move at or aim",
            quantity="aim_distance",
            value=float(reach),
            limit=0.0,
        )
    backward = -direction / reach
    upright = np.array([0.0, 0.0, 1.0]) if abs(backward[2]) < 1 - 1e-9 else np.array([0.0, 1.0, 0.0])
    right = cross(upright, backward)
    right /= np.linalg.norm(right)
    return np.stack([right, cross(backward, right), backward], axis=1)


def target_point(scene: Scene, target: Target, time: float) -> Array:
    """The point (3,) that is meant by a target at a time: the vehicle's middle, a piece's place, or a place. [m]"""
    return np.asarray(_target_points(scene, target, np.array([time]))[0])


def _target_points(scene: Scene, target: Target, times: Array) -> Array:
    """The same at several times (n,), (n, 3)."""
    if target.vehicle and scene.vehicle is None:
        raise PrevizError("the set has no vehicle to aim or focus at")
    if target.vehicle:
        moments = times if target.moment is None else np.full(len(times), float(target.moment))
        places = np.stack([pose.position for pose in vehicles_at(scene, moments)])
        return np.asarray(places + np.array([0.0, 0.0, vehicle_size(scene)[2] / 2]))
    if target.place is not None:
        return np.broadcast_to(np.asarray(target.place, dtype=float), (len(times), 3))
    for it in pieces_of(scene):  # of a row, the first of it that stands on the table
        if it.id == target.piece:
            return np.broadcast_to(np.array(it.at), (len(times), 3))
    raise PrevizError(f"there is no piece {target.piece!r} on the table to aim or focus at")


def _focus_depths(scene: Scene, shot: Shot, focus: Focus, times: Array, stand: tuple[Array, Array]) -> Array:
    if focus.distance is not None:
        return np.full(len(times), float(focus.distance))
    assert focus.target is not None  # Focus: one of the two
    # On the vehicle at a moment the lens is set once, as the camera stands at that moment; a pan does not rack it.
    if focus.target.moment is not None:
        stand = _stand(scene, shot, np.array([float(focus.target.moment)]))
    positions, turns = stand
    depths = np.einsum("nk,nk->n", _target_points(scene, focus.target, times) - positions, -turns[:, :, 2])
    return np.asarray(depths)


def _keyed(value: object, times: Array, read: Callable[[Any], Array]) -> Array:
    """A value at several times (n, ...), keyed or not; `read` turns what is written into numbers, one for each."""
    if not (isinstance(value, tuple) and value and hasattr(value[0], "time")):
        return read(value)
    weights = through_keys(np.array([key.time for key in value], dtype=float), np.eye(len(value)), times)
    # What is written at a key may move on its own, and is taken as it is at the time.
    return np.asarray(np.einsum("nk,kn...->n...", weights, np.stack([read(key.at) for key in value])))
