"""Where things are at a moment on set: the vehicle along its path, the camera, the frames in time.

Times are [s] on set; time 0 is when the vehicle's middle passes the start of its path, unless it says when it does.
"""

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError, ShotFault
from previz.layout.launch import chassis_of, launch_of, measured, profile_of
from previz.layout.remembered import remembered
from previz.layout.slope import Way, slope_of
from previz.physics.paths import Curve, FrameTimes, Travel
from previz.physics.ramp import GRAVITY, descent, launch_speed
from previz.scene import Scene, Shot

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
    return vehicles_on(path, np.array([distance]))[0]


def vehicles_on(path: Curve, distances: Array) -> tuple[VehiclePose, ...]:
    """The same of many distances (n,) at once. [m]"""
    slope = path.slope if isinstance(path, Way) else None
    forward, height, pitch = distances.astype(float), np.zeros(len(distances)), np.zeros(len(distances))
    if slope is not None:
        some = np.flatnonzero(forward < slope.ends)
        if len(some):
            forward[some], height[some], pitch[some] = slope.poses(forward[some])
    places = np.column_stack([path.at(forward), height])
    each = zip(places, path.heading(forward).tolist(), distances.tolist(), pitch.tolist(), strict=True)
    return tuple(VehiclePose(*pose) for pose in each)


def travel_of(scene: Scene) -> Travel:
    """Travel at the given speed, or down the ramp and with what that leaves it behind its foot (`ramp.launch_speed`).

    On the flat it loses rolling g / (1 + wheel_share). Where the maker has timed runs, the losses are those that fit
    them.
    """
    if scene.vehicle is None:
        return Travel(0.0)
    begins = float(scene.vehicle.start)
    if scene.vehicle.speed is not None:
        return Travel(float(scene.vehicle.speed), begins=begins)
    launch = measured(scene)  # Vehicle: one of speed and launch
    ramp = profile_of(launch.ramp), launch.wheel_share, launch.rolling, chassis_of(scene)
    loss = launch.rolling * GRAVITY / (1 + launch.wheel_share)
    return Travel(float(launch_speed(*ramp)), loss, descent(*ramp), begins)


def vehicle_at(scene: Scene, time: float) -> VehiclePose:
    """The vehicle at a time on set. [s]"""
    return vehicles_at(scene, np.array([time]))[0]


def vehicles_at(scene: Scene, times: Array) -> tuple[VehiclePose, ...]:
    """The same at several times (n,). [s]"""
    path, travel = _run(scene)
    return vehicles_on(path, np.array([travel.distance(time) for time in times.tolist()]))


@remembered  # every view of every frame asks where the vehicle is
def _run(scene: Scene) -> tuple[Curve, Travel]:
    return vehicle_path(scene), travel_of(scene)


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
            f"it starts at {float(start):g} s on set, when the vehicle's run is over (at {_run_time(scene):.3f} s)",
            "Start earlier, or give duration",
            quantity="shot_start",
            value=float(start),
            limit=_run_time(scene),
        )
    return FrameTimes(max(count, 1), start, shot.capture.rate)


#: So many frames of a shot are looked at, evenly spread, the first and the last among them.
_MOST_FRAMES = 90


def looked_through(
    scene: Scene, shot: Shot, numbers: NDArray[np.int64] | None = None
) -> tuple[int, NDArray[np.int64], Array]:
    """How many frames a shot has; which are looked at (n,), spread over it unless given; when, mid-shutter (n,). [s]

    Raises PrevizError as `frame_times` does.
    """
    frames = frame_times(scene, shot)
    if numbers is None:
        spread = np.linspace(0, frames.count - 1, min(frames.count, _MOST_FRAMES))
        numbers = np.unique(spread.round().astype(np.int64))
    half = shot.capture.exposure_time / 2
    return frames.count, numbers, np.array([float(frames.time(int(number))) + half for number in numbers])


def _run_time(scene: Scene) -> float:
    travel, length = travel_of(scene), vehicle_path(scene).length
    return min(travel.time_at(length), travel.stops_at)
