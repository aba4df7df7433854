"""Where things are at a moment on set: the vehicle along its path, the camera, the frames in time.

Times are [s] on set; time 0 is when the vehicle's middle passes the start of its path.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError, ShotFault
from previz.layout.launch import chassis_of, launch_of, measured, profile_of
from previz.layout.remembered import remembered
from previz.layout.slope import Way, slope_of
from previz.layout.vehicle import vehicle_size
from previz.physics.paths import Curve, FrameTimes, Travel, cross, through_keys
from previz.physics.ramp import GRAVITY, descent, launch_speed
from previz.scene import Focus, Scatter, Scene, Shot, Target

Array = NDArray[np.float64]


# --- paths ---


def road_curve(scene: Scene) -> Curve:
    """The middle of the road. Raises PrevizError where the scene has none."""
    if scene.set.road is None:
        raise PrevizError("the scene has no road; add set.road or give the vehicle a path of points")
    return Curve.through(scene.set.road.centre)


def vehicle_path(scene: Scene) -> Way:
    """The line that the vehicle's middle follows; of a launched one, from its ramp's foot on.

    Raises PrevizError where the ramp's foot stands past its end; `read_scene` has looked at the middle of the road.
    """
    path, launch = _whole_path(scene), launch_of(scene)
    foot = float(launch.ramp.foot) if launch is not None else 0.0
    if foot >= path.length:
        raise PrevizError(
            f"the ramp's foot stands {scene.tape(foot)} along the vehicle's path, which is {scene.tape(path.length)} "
            "long; set vehicle.launch.ramp.foot nearer to its start"
        )
    path = path.begun_at(foot) if foot else path
    return Way(path.points, path.distances, slope_of(scene))


def _whole_path(scene: Scene) -> Curve:
    """As written; of a set without a vehicle, across the table's middle: nothing uses it."""
    vehicle, road = scene.vehicle, scene.set.road
    if vehicle is None:
        table = scene.set.table
        return Curve.through([[0.0, table.depth / 2], [table.width, table.depth / 2]])
    if not isinstance(vehicle.path, str):
        way = Curve.through(np.array(vehicle.path, dtype=float))
        return (way.reversed() if vehicle.reverse else way).shifted(vehicle.offset)
    curve = road_curve(scene)
    curve = curve.reversed() if vehicle.reverse else curve
    assert road is not None  # road_curve has refused its absence
    side = {"left": 1.0, "right": -1.0, "middle": 0.0}[vehicle.keep]
    # On an even number of lanes the inner lane of one's own side; on an odd number the middle lane is one's own.
    own_lane = road.lane / 2 if road.lanes % 2 == 0 else 0.0
    return curve.shifted(side * own_lane + vehicle.offset)


# --- the vehicle in time ---


@dataclass(frozen=True)
class VehiclePose:
    """Where the vehicle's origin (on the ground or its ramp, below its middle) is and which way it faces.

    Parameters
    ----------
    position : (3,) float
        [m]
    heading : float
        Counter-clockwise from +x, seen from above. [rad]
    distance : float
        Travelled along the path; a wheel of radius r has turned by distance / r. [m]
    pitch : float
        Of its nose above level, below zero on its way down a ramp. [rad]
    """

    position: Array
    heading: float
    distance: float
    pitch: float = 0.0

    @property
    def on_ramp(self) -> bool:
        """Whether any wheel stands on a ramp."""
        return bool(self.pitch != 0 or self.position[2] != 0)

    @property
    def world_from_vehicle(self) -> Array:
        """(4, 4) float, columns forward, left, up, origin."""
        pose = self.world_from_ground
        pose[2, 3] = self.position[2]
        if self.pitch:
            c, s = math.cos(self.pitch), math.sin(self.pitch)
            pose[:3, :3] = pose[:3, :3] @ [[c, 0, -s], [0, 1, 0], [s, 0, c]]
        return pose

    @property
    def world_from_ground(self) -> Array:
        """(4, 4) float, columns forward, left, up, origin, of the level ground below it."""
        c, s = math.cos(self.heading), math.sin(self.heading)
        pose = np.eye(4)
        pose[:2, :2] = [[c, -s], [s, c]]
        pose[:2, 3] = self.position[:2]
        return pose


def vehicle_on(path: Curve, distance: float) -> VehiclePose:
    """The pose that far along a path, facing along it; before the start of one with a ramp, on the ramp."""
    slope = path.slope if isinstance(path, Way) else None
    forward, height, pitch = distance, 0.0, 0.0
    if slope is not None and distance < slope.ends:
        forward, height, pitch = slope.pose(distance)
    x, y = path.at(forward)
    return VehiclePose(np.array([x, y, height]), float(path.heading(forward)), distance, pitch)


def travel_of(scene: Scene) -> Travel:
    """Travel at the given speed, or down the ramp and with what that leaves it behind its foot (`ramp.launch_speed`).

    On the flat it loses rolling g / (1 + wheel_share). Where the maker has timed runs, the losses are those that fit
    them.
    """
    if scene.vehicle is None:
        return Travel(0.0)
    if scene.vehicle.speed is not None:
        return Travel(float(scene.vehicle.speed))
    launch = measured(scene)  # Vehicle: one of speed and launch
    ramp = profile_of(launch.ramp), launch.wheel_share, launch.rolling, chassis_of(scene)
    return Travel(float(launch_speed(*ramp)), launch.rolling * GRAVITY / (1 + launch.wheel_share), descent(*ramp))


def vehicle_at(scene: Scene, time: float) -> VehiclePose:
    """The vehicle at a time on set. [s]"""
    path, travel = _run(scene)
    return vehicle_on(path, travel.distance(time))


@remembered  # every view of every frame asks where the vehicle is
def _run(scene: Scene) -> tuple[Curve, Travel]:
    return vehicle_path(scene), travel_of(scene)


# --- the camera in time ---


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


def camera_at(scene: Scene, shot: Shot, time: float) -> CameraPose:
    """The shot's camera at a time on set. [s]

    Raises
    ------
    ShotFault
        Where it is aimed at its own place, or focused on something beside or behind it.
    """
    position, turn = _stand(scene, shot, time)
    depth = float(
        _keyed(shot.focus, time, lambda focus: np.array(_focus_depth(scene, shot, focus, time, (position, turn))))
    )
    if depth <= shot.focal_length:
        where = f"{scene.tape(depth)} from the lens" if depth > 0 else f"{scene.tape(-depth)} behind the camera"
        raise ShotFault(
            shot.id,
            "focus",
            f"at {time:.3f} s the plane of focus would be {where}; a {shot.focal_length * 1000:g} mm lens cannot focus "
            "nearer than its focal length",
            "Focus on something in front of the camera, further away",
            quantity="focus_distance",
            value=depth,
            limit=float(shot.focal_length),
        )
    return CameraPose(position, turn, depth)


def _stand(scene: Scene, shot: Shot, time: float) -> tuple[Array, Array]:
    """Where the entrance pupil is (3,) and how the camera is turned (3, 3) at a time."""
    position = _keyed(shot.at, time, lambda place: np.asarray(place, dtype=float))
    aim = _keyed(shot.aim, time, lambda target: target_point(scene, target, time))
    return position, _turn_towards(aim - position, shot)


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
    if target.vehicle and scene.vehicle is None:
        raise PrevizError("the set has no vehicle to aim or focus at")
    if target.vehicle:
        pose = vehicle_at(scene, time if target.moment is None else target.moment)
        return pose.position + np.array([0.0, 0.0, vehicle_size(scene)[2] / 2])
    if target.place is not None:
        return np.asarray(target.place, dtype=float)
    for piece in scene.dressing:
        if piece.id == target.piece and not isinstance(piece, Scatter):
            if piece.at is not None:
                return np.asarray(piece.at, dtype=float)
            return np.append(road_curve(scene).shifted(piece.offset).at(piece.first), 0.0)
    raise PrevizError(f"there is no piece {target.piece!r} in dressing to aim or focus at")


def _focus_depth(scene: Scene, shot: Shot, focus: Focus, time: float, stand: tuple[Array, Array]) -> float:
    if focus.distance is not None:
        return float(focus.distance)
    assert focus.target is not None  # Focus: one of the two
    # On the vehicle at a moment the lens is set once, as the camera stands at that moment; a pan does not rack it.
    if focus.target.moment is not None:
        time = float(focus.target.moment)
        stand = _stand(scene, shot, time)
    position, turn = stand
    return float((target_point(scene, focus.target, time) - position) @ -turn[:, 2])


def _keyed(value: object, time: float, read: Callable[[Any], Array]) -> Array:
    """A value at a time, keyed or not; `read` turns what is written into numbers."""
    if not (isinstance(value, tuple) and value and hasattr(value[0], "time")):
        return np.asarray(read(value))
    return through_keys(np.array([key.time for key in value]), np.array([read(key.at) for key in value]), time)


# --- frames in time ---


def frame_times(scene: Scene, shot: Shot) -> FrameTimes:
    """The frames of a shot: whole frames that begin within its duration, one at least.

    Without a duration the shot lasts until the vehicle reaches the end of its path or stands still. Raises PrevizError
    where nothing drives that would give it an end; `read_scene` lets no such shot through.
    """
    start = Fraction(shot.start).limit_denominator(1_000_000)
    duration = shot.duration if shot.duration is not None else _run_time(scene) - float(start)
    if math.isinf(duration):
        raise PrevizError(f"shot {shot.id!r}: nothing drives, so that no run ends it; give it a duration")
    # A duration such as 29/25 s is not exact in binary; a millionth of a frame is no frame.
    count = math.floor(duration * float(shot.capture.rate) + 1e-6)
    if count < 1 and shot.duration is None:
        raise ShotFault(
            shot.id,
            "start",
            f"it starts at {float(start):g} s, when the vehicle's run is over ({_run_time(scene):.3f} s)",
            "Start earlier, or give duration",
            quantity="shot_start",
            value=float(start),
            limit=_run_time(scene),
        )
    return FrameTimes(max(count, 1), start, shot.capture.rate)


def _run_time(scene: Scene) -> float:
    travel, length = travel_of(scene), vehicle_path(scene).length
    return min(travel.time_at(length), travel.stops_at)
