"""Where things are at a moment on set: the vehicle along its path, the camera, the frames in time.

A second door of the room: `stage` and `frames` may import this module too. Times are [s] on set; time 0 is when the
vehicle's middle passes the start of its path.
"""

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.errors import PrevizError, ShotFault
from previz.scene import VEHICLE_SIZES, Focus, Scatter, Scene, Shot, Target

Array = NDArray[np.float64]

#: Standard gravity [m/s2], exact by the 3rd CGPM (1901).
GRAVITY = 9.80665

_SAMPLES_A_SPAN = 64


# --- paths ---


@dataclass(frozen=True)
class Curve:
    """A smooth line on the table, measured along its length; straight beyond both ends.

    Parameters
    ----------
    points : (n, 2) float
        Close samples along it. [m]
    distances : (n,) float
        Arc length from the start at each sample. [m]

    Examples
    --------
    >>> line = Curve.through([[0, 0], [3, 4]])
    >>> line.length, line.at(2.5).tolist(), line.shifted(1.0).at(0).round(9).tolist()
    (5.0, [1.5, 2.0], [-0.8, 0.6])
    """

    points: Array
    distances: Array

    @classmethod
    def through(cls, points: ArrayLike) -> "Curve":
        """The centripetal Catmull-Rom curve through (n, 2) points, which neither loops nor overshoots.

        Source: Yuksel, Schaefer and Keyser, "Parameterization and applications of Catmull-Rom curves",
        Computer-Aided Design 43(7), 2011.
        """
        knots = np.asarray(points, dtype=float)
        if len(knots) == 2:
            return cls._measured(knots)
        ends = 2 * knots[[0, -1]] - knots[[1, -2]]
        padded = np.concatenate([ends[:1], knots, ends[1:]])
        spans = [_catmull_rom(padded[i : i + 4]) for i in range(len(knots) - 1)]
        return cls._measured(np.concatenate([*spans, knots[-1:]]))

    @classmethod
    def _measured(cls, points: Array) -> "Curve":
        steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
        keep = np.concatenate([[True], steps > 0])
        return cls(points[keep], np.concatenate([[0.0], np.cumsum(steps[steps > 0])]))

    @property
    def length(self) -> float:
        """[m]"""
        return float(self.distances[-1])

    def at(self, distance: ArrayLike) -> Array:
        """Point(s) (..., 2) at that distance along the curve. [m]"""
        s = np.asarray(distance, dtype=float)
        inside = np.stack([np.interp(s, self.distances, self.points[:, axis]) for axis in (0, 1)], axis=-1)
        before, after = np.minimum(s, 0.0), np.maximum(s - self.length, 0.0)
        way_in, way_out = self._end_ways
        return inside + before[..., None] * way_in + after[..., None] * way_out

    def heading(self, distance: ArrayLike) -> Array:
        """Direction of travel, counter-clockwise from +x. [rad]"""
        return np.interp(np.asarray(distance, dtype=float), *self._turns)

    @cached_property
    def _turns(self) -> tuple[Array, Array]:
        """Middles of the curve's steps [m] and the direction of each, without jumps of a whole turn. [rad]"""
        middles = (self.distances[1:] + self.distances[:-1]) / 2
        steps = np.diff(self.points, axis=0)
        return middles, np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))

    def shifted(self, left: float) -> "Curve":
        """The line beside this one, `left` metres to the left of travel (negative: to the right)."""
        turns = self.heading(self.distances)
        normals = np.stack([-np.sin(turns), np.cos(turns)], axis=-1)
        return Curve._measured(self.points + left * normals)

    def reversed(self) -> "Curve":
        """The same line travelled the other way."""
        return Curve._measured(self.points[::-1])

    @cached_property
    def _end_ways(self) -> tuple[Array, Array]:
        """The directions (2,) of its first and its last step."""
        first, last = self.points[1] - self.points[0], self.points[-1] - self.points[-2]
        return first / np.linalg.norm(first), last / np.linalg.norm(last)


def _catmull_rom(p: Array) -> Array:
    """Samples from p[1] up to, not including, p[2]; (4, 2) control points, centripetal knots."""
    t = np.concatenate([[0.0], np.cumsum(np.sqrt(np.maximum(np.linalg.norm(np.diff(p, axis=0), axis=1), 1e-12)))])
    u = np.linspace(t[1], t[2], _SAMPLES_A_SPAN, endpoint=False)[:, None]

    def mix(a: Array, b: Array, i: int, j: int) -> Array:
        return np.asarray(((t[j] - u) * a + (u - t[i]) * b) / (t[j] - t[i]))

    a1, a2, a3 = mix(p[0], p[1], 0, 1), mix(p[1], p[2], 1, 2), mix(p[2], p[3], 2, 3)
    b1, b2 = mix(a1, a2, 0, 2), mix(a2, a3, 1, 3)
    return mix(b1, b2, 1, 2)


def road_curve(scene: Scene) -> Curve:
    """The middle of the road. Raises PrevizError where the scene has none."""
    if scene.set.road is None:
        raise PrevizError("the scene has no road; add set.road or give the vehicle a path of points")
    return Curve.through(scene.set.road.centre)


def vehicle_path(scene: Scene) -> Curve:
    """The line that the vehicle's middle follows."""
    vehicle, road = scene.vehicle, scene.set.road
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
class Travel:
    """How far along its path a vehicle is: a start speed and an even loss of speed until it stands.

    Parameters
    ----------
    speed_at_start : float
        Where the path begins, at time 0. [m/s]
    deceleration : float
        [m/s2]
    """

    speed_at_start: float
    deceleration: float = 0.0

    @property
    def stops_at(self) -> float:
        """When it stands still. [s], inf if it never does"""
        return self.speed_at_start / self.deceleration if self.deceleration > 0 else math.inf

    def distance(self, time: float) -> float:
        """Along the path [m]; negative before time 0, when it comes on at the start speed.

        >>> Travel(2.0, 0.5).distance(2.0), Travel(2.0, 0.5).distance(100.0)
        (3.0, 4.0)
        """
        braked = min(max(time, 0.0), self.stops_at)
        coming = min(time, 0.0)
        return self.speed_at_start * (coming + braked) - self.deceleration * braked**2 / 2

    def speed(self, time: float) -> float:
        """[m/s]"""
        return max(self.speed_at_start - self.deceleration * max(time, 0.0), 0.0)

    def time_at(self, distance: float) -> float:
        """When the middle is that far along [s]; inf where it never gets there.

        >>> Travel(2.0, 0.5).time_at(3.0)
        2.0
        """
        if self.speed_at_start == 0:
            return 0.0 if distance <= 0 else math.inf
        if distance <= 0 or self.deceleration == 0:
            return distance / self.speed_at_start
        left = self.speed_at_start**2 - 2 * self.deceleration * distance
        return (self.speed_at_start - math.sqrt(left)) / self.deceleration if left >= 0 else math.inf


def travel_of(scene: Scene) -> Travel:
    """Travel at the given speed, or from the launch by a simple energy balance.

    The height pays for speed, wheel spin (`wheel_share` of the mass) and rolling loss on the slope:
    (1 + wheel_share) v^2 / 2 = g (h - rolling sqrt(L^2 - h^2)); on the flat the loss is rolling g / (1 + wheel_share).
    Where the maker has timed runs, the losses are those that fit them.
    """
    if scene.vehicle.speed is not None:
        return Travel(float(scene.vehicle.speed))
    from previz.predictions.timed_runs import measured  # which builds on this module

    assert scene.vehicle.launch is not None  # Vehicle: one of speed and launch
    launch = measured(scene.vehicle.launch)
    ramp = launch.ramp
    fall = ramp.height - launch.rolling * math.sqrt(ramp.length**2 - ramp.height**2)
    share = 1 + launch.wheel_share
    return Travel(math.sqrt(max(2 * GRAVITY * fall / share, 0.0)), launch.rolling * GRAVITY / share)


@dataclass(frozen=True)
class VehiclePose:
    """Where the vehicle's origin (on the ground, below its middle) is and which way it faces.

    Parameters
    ----------
    position : (3,) float
        [m]
    heading : float
        Counter-clockwise from +x, seen from above. [rad]
    distance : float
        Travelled along the path; a wheel of radius r has turned by distance / r. [m]
    """

    position: Array
    heading: float
    distance: float

    @property
    def world_from_vehicle(self) -> Array:
        """(4, 4) float, columns forward, left, up, origin."""
        c, s = math.cos(self.heading), math.sin(self.heading)
        pose = np.eye(4)
        pose[:2, :2] = [[c, -s], [s, c]]
        pose[:3, 3] = self.position
        return pose


def vehicle_on(path: Curve, distance: float) -> VehiclePose:
    """The pose that far along a path, facing along it."""
    x, y = path.at(distance)
    return VehiclePose(np.array([x, y, 0.0]), float(path.heading(distance)), distance)


def vehicle_at(scene: Scene, time: float) -> VehiclePose:
    """The vehicle at a time on set. [s]"""
    path, travel = _run(_Same(scene))
    return vehicle_on(path, travel.distance(time))


class _Same:
    """A scene that is equal only to itself: comparing scenes key by key would cost more than what is remembered."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene

    def __hash__(self) -> int:
        return id(self.scene)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.scene is self.scene


@lru_cache(maxsize=16)  # every view of every frame asks where the vehicle is
def _run(same: _Same) -> tuple[Curve, Travel]:
    return vehicle_path(same.scene), travel_of(same.scene)


def vehicle_height(scene: Scene) -> float:
    """Height of the model [m], from its kind; a mesh file's is taken as a third of its length."""
    if scene.vehicle.body is None:
        return scene.vehicle_length / 3
    length, _, height = VEHICLE_SIZES[scene.vehicle.body]
    return scene.vehicle_length * height / length


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
    right = _cross(upright, backward)
    right /= np.linalg.norm(right)
    return np.stack([right, _cross(backward, right), backward], axis=1)


def _cross(one: Array, other: Array) -> Array:
    """The vector product of two (3,): numpy's takes ten times as long to find out which way its arguments lie."""
    (a, b, c), (u, v, w) = one.tolist(), other.tolist()
    return np.array([b * w - c * v, c * u - a * w, a * v - b * u])


def target_point(scene: Scene, target: Target, time: float) -> Array:
    """The point (3,) that is meant by a target at a time: the vehicle's middle, a piece's place, or a place. [m]"""
    if target.vehicle:
        pose = vehicle_at(scene, time if target.moment is None else target.moment)
        return pose.position + np.array([0.0, 0.0, vehicle_height(scene) / 2])
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


def _keyed(value: object, time: float, read) -> Array:  # type: ignore[no-untyped-def]
    """A keyed value at a time, starting and ending at rest and passing smoothly through the keys between.

    Cubic Hermite spans; slopes at inner keys are those of the chord between their neighbours.
    """
    if not (isinstance(value, tuple) and value and hasattr(value[0], "time")):
        return np.asarray(read(value))
    times = np.array([key.time for key in value])
    points = np.array([read(key.at) for key in value])
    if time <= times[0] or time >= times[-1]:
        return np.asarray(points[0] if time <= times[0] else points[-1])
    slopes = np.zeros_like(points)
    gaps = (times[2:] - times[:-2]).reshape(-1, *[1] * (points.ndim - 1))
    slopes[1:-1] = (points[2:] - points[:-2]) / gaps
    i = int(np.searchsorted(times, time, side="right")) - 1
    span = times[i + 1] - times[i]
    u = (time - times[i]) / span
    return np.asarray(
        (2 * u**3 - 3 * u**2 + 1) * points[i]
        + (u**3 - 2 * u**2 + u) * span * slopes[i]
        + (3 * u**2 - 2 * u**3) * points[i + 1]
        + (u**3 - u**2) * span * slopes[i + 1]
    )


# --- frames in time ---


@dataclass(frozen=True)
class FrameTimes:
    """When each frame's shutter opens, exactly.

    >>> times = FrameTimes(29, Fraction(0), Fraction(30000, 1001))
    >>> times.time(28)
    Fraction(7007, 7500)
    """

    count: int
    start: Fraction
    rate: Fraction

    def time(self, number: int) -> Fraction:
        """Of frame `number`, counted from 0. [s on set]"""
        return self.start + number / self.rate


def frame_times(scene: Scene, shot: Shot) -> FrameTimes:
    """The frames of a shot: whole frames that begin within its duration, one at least.

    Without a duration the shot lasts until the vehicle reaches the end of its path or stands still.
    """
    start = Fraction(shot.start).limit_denominator(1_000_000)
    duration = shot.duration if shot.duration is not None else _run_time(scene) - float(start)
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
