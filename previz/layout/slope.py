"""The line that a launched vehicle's wheels follow down its ramp and onto the table, and how it stands on it."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from previz.layout.launch import chassis_of, launch_of, profile_of
from previz.layout.remembered import remembered
from previz.layout.vehicle import vehicle_size
from previz.physics.paths import Curve
from previz.physics.ramp import exit_speed, flight
from previz.physics.rolling import wheel_way
from previz.scene import UNDERSIDES, VEHICLE_SIZES, Scene

Array = NDArray[np.float64]

#: Times the two axles are moved until they are a wheelbase apart: each leaves a tenth of what was wrong, or less.
_ROUNDS = 8

#: From a bend, so many radii on, a wheel touches one side alone.
_CLEAR = 2


@dataclass(frozen=True, eq=False)
class Slope:
    """A ramp as wheels meet it, in the upright plane along the vehicle's way.

    Parameters
    ----------
    way : (n, 2) float
        Of the middle of a wheel: forward of the ramp's lower edge, and over the table. [m]
    run : (n,) float
        Length of it so far. [m]
    knots : (2, 4) float
        Distances along the ramp's line from its lower edge, and that length where a wheel is then: on the straight
        slope, where its bends begin and end, and on the flat. Between two both grow evenly. [m]
    radius : float
        Of the wheels. [m]
    axles : (2,) float
        Front and rear, forward of the vehicle's middle. [m]
    """

    way: Array
    run: Array
    knots: Array
    radius: float
    axles: tuple[float, float]

    @property
    def ends(self) -> float:
        """How far along its path a vehicle has left it for good. [m]"""
        return float(self.knots[0, 2]) - self.axles[1]

    def pose(self, distance: float) -> tuple[float, float, float]:
        """Of the point on the ground below the vehicle's middle: forward of the lower edge, over the table; its pitch.

        `distance` is along the line, negative on the ramp; the pitch is above level with its nose up. [m], [m], [rad]

        >>> import numpy as np
        >>> slope = slope_over(np.array([[-0.8, 0.6], [0.0, 0.0], [0.9, 0.0]]), radius=0.01, axles=(0.05, -0.05))
        >>> np.round(slope.pose(-0.5), 6).tolist(), np.round(slope.pose(0.2), 6).tolist()
        ([-0.4, 0.3, -0.643501], [0.2, 0.0, 0.0])
        """
        forward, height, pitch = self.poses(np.array([distance]))
        return float(forward[0]), float(height[0]), float(pitch[0])

    def poses(self, distances: Array) -> tuple[Array, Array, Array]:
        """The same of many distances (n,), (n,) each."""
        wheelbase = self.axles[0] - self.axles[1]
        front, rear = (np.interp(distances + axle, *self.knots) for axle in self.axles)
        for _ in range(_ROUNDS):
            short = wheelbase - np.hypot(*(self._middles(front) - self._middles(rear)))
            front, rear = front + short / 2, rear - short / 2
        ahead, behind = self._middles(front), self._middles(rear)
        way = (ahead - behind) / np.hypot(*(ahead - behind))
        up = np.stack([-way[1], way[0]])
        middle = behind - self.axles[1] * way - self.radius * up
        return middle[0], middle[1], np.array([math.atan2(y, x) for x, y in way.T.tolist()])

    def _middles(self, runs: Array) -> Array:
        return np.stack([np.interp(runs, self.run, self.way[:, side]) for side in (0, 1)])


def slope_over(line: Array, radius: float, axles: tuple[float, float]) -> Slope:
    """The slope of wheels of a radius on a line (k, 2), whose corner nearest to 0 is the ramp's lower edge. [m]

    Its first piece is the straight slope and its last is the flat.
    """
    sizes = np.linalg.norm(np.diff(line, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(sizes)])
    along -= along[int(np.argmin(np.abs(line[:, 0])))]
    way = wheel_way(line, radius)
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(way, axis=0), axis=1))])
    begins, ends = float(along[1]) - _CLEAR * radius, float(along[-2]) + _CLEAR * radius
    distances = np.array([along[0], begins, ends, along[-1]])
    runs = np.array([0.0, begins - along[0], run[-1] - (along[-1] - ends), run[-1]])
    return Slope(way, run, np.stack([distances, runs]), radius, axles)


@remembered
def slope_of(scene: Scene) -> Slope | None:
    """The ramp's slope; None where nothing is launched."""
    launch = launch_of(scene)
    if launch is None:
        return None
    chassis, profile, length = chassis_of(scene), profile_of(launch.ramp), vehicle_size(scene)[0]
    landed = 0.0
    if profile.lip > 0:
        # As fast as without loss: it is a matter of millimetres.
        speed = exit_speed(profile.height - profile.lip, profile.length, launch.wheel_share, 0.0)
        landed = flight(float(speed), profile.lip, 0.0 if chassis.turns(profile) else float(profile.angle)).distance
    flat = np.array([[landed, 0.0], [landed + 4 * length, 0.0]])[int(profile.lip == 0) :]
    line = np.concatenate([ramp_line(scene, beyond=2 * length), flat])
    return slope_over(line, chassis.wheel_radius, _axles(scene))


def ramp_line(scene: Scene, beyond: float) -> Array:
    """The upper side (k, 2) of a launched vehicle's ramp, from so far behind its start [m] down to the lower edge.

    Forward of that edge, and over the table. A bend tighter than a wheel is a sharp corner, as the wheels find it. [m]
    """
    launch = launch_of(scene)
    assert launch is not None  # asked of launched vehicles only
    profile = profile_of(launch.ramp)
    if not chassis_of(scene).turns(profile):
        profile = replace(profile, foot_radius=0.0)
    points = profile.points()
    points[:, 0] -= points[-1, 0]
    points[-1] = [0.0, profile.lip]  # without the rounding of sines
    points[0] += (points[0] - points[1]) / np.linalg.norm(points[0] - points[1]) * beyond
    return points


def _axles(scene: Scene) -> tuple[float, float]:
    """Front and rear axle, forward of the vehicle's middle. [m]"""
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    body, length = scene.vehicle.body, vehicle_size(scene)[0]
    if body is None:
        half = chassis_of(scene).wheelbase_share * length / 2
        return half, -half
    wheelbase, overhang, _ = (side * length / VEHICLE_SIZES[body][0] for side in UNDERSIDES[body])
    return length / 2 - overhang, length / 2 - overhang - wheelbase


@dataclass(frozen=True)
class Way(Curve):
    """The line that a vehicle's middle follows; where a ramp leads to its start, with that ramp's slope."""

    slope: Slope | None = None
