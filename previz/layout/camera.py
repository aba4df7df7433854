"""Where the camera is at a time, where it looks, and what it is focused on."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError, ShotFault
from previz.layout.motion import frame_times, looked_through, vehicles_at
from previz.layout.outline import most_in_the_middle, outline_before
from previz.layout.remembered import remembered_of_shot
from previz.layout.standing import pieces_of
from previz.layout.vehicle import vehicle_size
from previz.physics.paths import cross, through_keys
from previz.scene import MID_FRAME, Focus, Scene, Shot, Target

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
    depths = _keyed(shot, shot.focus, times, lambda focus: _focus_depths(scene, shot, focus, times, (positions, turns)))
    for time, depth in zip(times.tolist(), depths.tolist(), strict=True):
        _can_be_focused(scene, shot, time, depth)
    return tuple(CameraPose(*each) for each in zip(positions, turns, depths.tolist(), strict=True))


@dataclass(frozen=True)
class CameraWay:
    """How a camera goes in a shot: as the shot begins, mid-shutter in frames spread over it, and as it ends.

    Of the way that is filmed; keys of it before that and after are not. As it begins its first frame's shutter opens,
    and as it ends the next frame's would.

    Parameters
    ----------
    times : (n,) float
        On set. [s]
    positions : (n, 3) float
        Of the middle of the entrance pupil. [m]
    turns : (n, 3, 3) float
        As `CameraPose.world_from_camera`.
    """

    times: Array
    positions: Array
    turns: Array

    @property
    def _steps(self) -> Array:
        return np.asarray(np.linalg.norm(np.diff(self.positions, axis=0), axis=1))

    @property
    def length(self) -> float:
        """[m]"""
        return float(self._steps.sum())

    @property
    def mean_speed(self) -> float:
        """[m/s]"""
        return self.length / float(np.ptp(self.times))

    @property
    def top_speed(self) -> float:
        """Between two of the times. [m/s]"""
        return float((self._steps / np.diff(self.times)).max())


def way_of_camera(scene: Scene, shot: Shot) -> CameraWay:
    """How a shot's camera goes. Raises ShotFault where it is aimed at its own place."""
    frames = frame_times(scene, shot)
    _, _, middles = looked_through(scene, shot)
    times = np.array([float(frames.time(0)), *middles, float(frames.time(frames.count))])
    return CameraWay(times, *_stand(scene, shot, times))


def _can_be_focused(scene: Scene, shot: Shot, time: float, depth: float) -> None:
    if depth <= shot.focal_length:
        where = (
            f"{scene.tape(depth)} from the middle of the lens"
            if depth > 0
            else f"{scene.tape(-depth)} behind the camera"
        )
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
    positions = _keyed(shot, shot.at, times, lambda place: np.broadcast_to(np.asarray(place, float), (len(times), 3)))
    aims = _keyed(shot, shot.aim, times, lambda target: _target_points(scene, target, times))
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
    moment = focus.target.moment
    if moment is not None:
        once = np.array([_mid_frame(scene, shot) if moment == MID_FRAME else float(moment)])
        stand, points = _stand(scene, shot, once), _target_points(scene, Target(vehicle=True), once)
    else:
        points = _target_points(scene, focus.target, times)
    positions, turns = stand
    depths = np.einsum("nk,nk->n", points - positions, -turns[:, :, 2])
    return np.broadcast_to(depths, times.shape)


@remembered_of_shot  # every view of every frame asks what it is focused on
def _mid_frame(scene: Scene, shot: Shot) -> float:
    """When the vehicle is most in the middle of the picture, to the left and right. [s on set]

    Where it crosses the middle between two of the frames looked at, it is taken to do so evenly. Raises ShotFault where
    nothing of it ever is there.
    """
    if scene.vehicle is None:
        raise PrevizError("the set has no vehicle to focus on")
    _, _, times = looked_through(scene, shot)
    tangents, ahead = outline_before(scene, *_stand(scene, shot, times), vehicles_at(scene, times))
    left, right = tangents[..., 0].min(axis=1), tangents[..., 0].max(axis=1)
    off = np.where(ahead, (left + right) / 2, np.inf)
    here = int(most_in_the_middle(np.abs(off)[None], len(times) // 2)[0])
    for there in (here - 1, here + 1):
        if 0 <= there < len(times) and ahead[there] and off[there] * off[here] < 0:
            share = off[here] / (off[here] - off[there])
            return float(times[here] + share * (times[there] - times[here]))
    if not (ahead[here] and left[here] <= 0 <= right[here]):
        raise _never_mid_frame(shot, float(times[here]), float(np.arctan(off[here])))
    return float(times[here])


def _never_mid_frame(shot: Shot, time: float, angle: float) -> ShotFault:
    """That the vehicle is never in the picture's middle: nearest to it then [s on set], so far to the right. [rad]"""
    side = "right" if angle > 0 else "left"
    nearest = f": it comes nearest at {time:.3g} s on set, {abs(math.degrees(angle)):.1f} deg to the {side}"
    where = nearest if abs(angle) < math.pi / 2 else ", but behind the camera"
    return ShotFault(
        shot.id,
        "focus",
        f"the vehicle is never in the middle of the picture in this shot{where}",
        "Focus on it all along (vehicle) or at a time at which the picture shows it (vehicle at 0.9 s), aim where it "
        "passes, or let the shot last until it does",
        quantity="off_middle",
        value=abs(angle),
        limit=0.0,
    )


def _keyed(shot: Shot, value: object, times: Array, read: Callable[[Any], Array]) -> Array:
    """A value at several times (n, ...), keyed or not; `read` turns what is written into numbers, one for each."""
    if not (isinstance(value, tuple) and value and hasattr(value[0], "time")):
        return read(value)
    keys = np.array([key.time for key in value], dtype=float)
    weights = through_keys(keys, np.eye(len(value)), times, evenly=shot.evenly)
    # What is written at a key may move on its own, and is taken as it is at the time.
    return np.asarray(np.einsum("nk,kn...->n...", weights, np.stack([read(key.at) for key in value])))
