"""The launch: speed from a ramp, its spread, the ramp's foot and lip, and losses fitted from timed runs.

A vehicle rolls from rest down a slope of height h and length L (along the slope) onto a flat table. Its wheels store
`wheel_share` lambda = sum(I / r^2) / M of its kinetic energy beside its motion; `rolling` c is the rolling resistance
coefficient (drag over load). Axle friction is counted in c. Air drag and slip are left out: at these sizes and speeds
the first is small and the second does not happen (`friction_to_roll`).

No published figure for toy axles exists, so c and lambda are assumptions until `timed_runs` has seen some.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: A float or an (n,) float array; arrays in give an array out. Any, because numpy's types cannot say so.
Number = Any

#: Standard gravity [m/s2], exact by the 3rd CGPM (1901).
GRAVITY = 9.80665


# --- rolling down ---


def slope_angle(height: float, length: float) -> float:
    """Angle of a ramp with its length along the slope: asin(h / L). [rad]

    Examples
    --------
    >>> round(math.degrees(slope_angle(0.120, 0.500)), 2)
    13.89
    """
    return math.asin(height / length)


def rolling_acceleration(angle: float, wheel_share: float, rolling: float = 0.0, gravity: float = GRAVITY) -> float:
    """Acceleration down a slope without slip: g (sin a - c cos a) / (1 + lambda). [m/s2]

    Source: OpenStax University Physics 1, sec. 11.1, m g sin(a) / (m + I / r^2); the rolling loss added.

    Examples
    --------
    A marble (I = 2/5 m r^2) at 30 degrees:

    >>> round(rolling_acceleration(math.radians(30), 0.4, gravity=9.8), 2)
    3.5
    """
    return gravity * (math.sin(angle) - rolling * math.cos(angle)) / (1 + wheel_share)


def wheel_share_from_run(
    angle: float, length: float, time: float, rolling: float = 0.0, gravity: float = GRAVITY
) -> float:
    """The wheels' share from a run from rest timed on the slope itself: g (sin a - c cos a) t^2 / 2L - 1. [-]

    Examples
    --------
    10.0 m at 30 degrees in 2.60 s (OpenStax University Physics 1, sec. 11.1):

    >>> round(wheel_share_from_run(math.radians(30), 10.0, 2.60, gravity=9.8), 3)
    0.656
    """
    return gravity * (math.sin(angle) - rolling * math.cos(angle)) * time**2 / (2 * length) - 1


def friction_to_roll(angle: float, wheel_share: float) -> float:
    """Friction coefficient under which wheels slip on a slope: tan a lambda / (1 + lambda). [-]

    Source: OpenStax University Physics 1, sec. 11.1, tan(a) / (1 + m r^2 / I).

    Examples
    --------
    >>> round(friction_to_roll(math.radians(60), 0.5), 2)  # solid cylinder
    0.58
    """
    return math.tan(angle) * wheel_share / (1 + wheel_share)


def slipping_accelerations(
    angle: float, friction: float, wheel_share: float, radius: float, gravity: float = GRAVITY
) -> tuple[float, float]:
    """Acceleration [m/s2] and the wheel's angular acceleration [rad/s2] where it slips.

    g (sin a - mu cos a) and mu g cos a / (lambda r), for a body that is all wheel.

    Source: OpenStax University Physics 1, sec. 11.1.

    Examples
    --------
    >>> a, alpha = slipping_accelerations(math.radians(30), 0.4, 0.5, 0.1, gravity=9.8)
    >>> round(a, 1), round(alpha, 1)
    (1.5, 67.9)
    """
    grip = friction * gravity * math.cos(angle)
    return gravity * math.sin(angle) - grip, grip / (wheel_share * radius)


def exit_speed(height: Number, length: float, wheel_share: Number, rolling: Number, gravity: float = GRAVITY) -> Number:
    """Speed at the foot of the ramp by the balance of energy. [m/s]

    (1 + lambda) v^2 / 2 = g (h - c sqrt(L^2 - h^2)); zero where the slope does not overcome the rolling loss. The extra
    load in a curved foot is left out (`profile_speeds` has it).

    Parameters
    ----------
    height : float or (n,) float
        h, of the release above the table. [m]
    length : float
        L, along the slope. [m]
    wheel_share, rolling : float or (n,) float
        lambda and c. [-]
    gravity : float
        g. [m/s2]

    Examples
    --------
    A solid cylinder down 2.00 m without loss (OpenStax College Physics 2e, sec. 10.4):

    >>> round(float(exit_speed(2.0, 4.0, 0.5, 0.0, gravity=9.80)), 2)
    5.11
    """
    fall = height - rolling * np.sqrt(length**2 - np.square(height))
    return np.sqrt(np.maximum(2 * gravity * fall / (1 + wheel_share), 0.0))


class TooShort(ValueError):
    """No height on a ramp of that length gives the speed: it takes a fall of so much, and more. [m]"""

    def __init__(self, speed: float, fall: float, length: float) -> None:
        self.fall = fall
        super().__init__(
            f"{speed:.3g} m/s needs a fall of {fall * 1000:.0f} mm and more, the ramp is {length * 1000:.0f} mm long; "
            "make it longer"
        )


def height_for_speed(
    speed: float, length: float, wheel_share: float, rolling: float, gravity: float = GRAVITY
) -> float:
    """Release height that gives a speed at the foot, the ramp's length kept. [m]

    With k = (1 + lambda) v^2 / 2g: h = (k + c sqrt(L^2 (1 + c^2) - k^2)) / (1 + c^2).

    Raises
    ------
    TooShort
        If no height on a ramp of that length gives it.

    Examples
    --------
    >>> h = height_for_speed(1.2, 0.5, 0.08, 0.02)
    >>> round(h * 1000, 2), round(float(exit_speed(h, 0.5, 0.08, 0.02)), 9)
    (89.13, 1.2)
    """
    k = (1 + wheel_share) * speed**2 / (2 * gravity)
    if k >= length:
        raise TooShort(speed, k, length)
    return (k + rolling * math.sqrt(length**2 * (1 + rolling**2) - k**2)) / (1 + rolling**2)


def coasting_distance(speed: float, wheel_share: float, rolling: float, gravity: float = GRAVITY) -> float:
    """How far it rolls on the flat before it stands: (1 + lambda) v^2 / (2 c g); inf without loss. [m]

    Examples
    --------
    >>> round(coasting_distance(1.2, 0.08, 0.02), 3)
    3.965
    """
    return (1 + wheel_share) * speed**2 / (2 * rolling * gravity) if rolling > 0 else math.inf


def height_for_one_percent(height: float, length: float, rolling: float) -> float:
    """How much higher the release must be for one percent more speed. [m]

    v^2 goes with h - c sqrt(L^2 - h^2), so dh = 0.02 (h - c b) / (1 + c h / b), b = sqrt(L^2 - h^2): without loss 2 %
    of the height.

    Examples
    --------
    >>> round(height_for_one_percent(0.100, 0.5, 0.0) * 1000, 3)  # mm
    2.0
    """
    base = math.sqrt(length**2 - height**2)
    return 0.02 * (height - rolling * base) / (1 + rolling * height / base)


@dataclass(frozen=True)
class Profile:
    """A ramp with a rounded foot, as the line that the vehicle's middle follows.

    Parameters
    ----------
    height, length : float
        Of the straight slope to the corner it would make with the table. [m]
    foot_radius : float
        Of the arc that rounds the corner, tangent to slope and table. [m]
    """

    height: float
    length: float
    foot_radius: float = 0.0

    @property
    def angle(self) -> float:
        """Of the slope. [rad]"""
        return slope_angle(self.height, self.length)

    @property
    def tangent(self) -> float:
        """From the corner to where the arc begins and ends: R tan(a / 2). [m]"""
        return self.foot_radius * math.tan(self.angle / 2)

    def at(self, distance: float) -> tuple[float, float]:
        """Slope angle [rad] and curvature [1/m] that far along the line from the release."""
        straight = self.length - self.tangent
        arc = self.foot_radius * self.angle
        if distance < straight:
            return self.angle, 0.0
        if distance < straight + arc:
            return self.angle - (distance - straight) / self.foot_radius, 1 / self.foot_radius
        return 0.0, 0.0

    @property
    def breaks(self) -> tuple[float, float]:
        """Where the straight slope ends and where the arc ends, along the line from the release. [m]"""
        straight = self.length - self.tangent
        return straight, straight + self.foot_radius * self.angle


def profile_speed(
    profile: Profile, wheel_share: float, rolling: float, gravity: float = GRAVITY, steps: int = 200
) -> float:
    """Speed at the end of the foot, by integrating the equation of motion along the profile. [m/s]

    (1 + lambda) / 2 d(v^2)/ds = g sin a - c (g cos a + v^2 / R): the curved foot presses the vehicle down by its
    centripetal force, which rolls with loss too. Fourth-order Runge-Kutta in v^2 over s, restarted where the profile
    changes; zero where it comes to rest.

    Examples
    --------
    >>> straight = Profile(0.120, 0.500)
    >>> round(profile_speed(straight, 0.08, 0.02), 6), round(float(exit_speed(0.120, 0.500, 0.08, 0.02)), 6)
    (1.415259, 1.415259)
    """

    def gain(distance: float, square: float) -> float:
        angle, curvature = profile.at(distance)
        load = gravity * math.cos(angle) + square * curvature
        return 2 * (gravity * math.sin(angle) - rolling * load) / (1 + wheel_share)

    square, start = 0.0, 0.0
    for end in profile.breaks:
        if end <= start:
            continue
        step = (end - start) / steps
        # A hair inside the piece, so that its ends are not read from its neighbours.
        inside = step * 1e-9
        for i in range(steps):
            s = start + i * step
            a = gain(s + inside, square)
            b = gain(s + step / 2, square + step / 2 * a)
            c = gain(s + step / 2, square + step / 2 * b)
            d = gain(s + step - inside, square + step * c)
            square += step / 6 * (a + 2 * b + 2 * c + d)
            if square <= 0:
                return 0.0
        start = end
    return math.sqrt(square)


# --- foot and lip ---


def approach_angle(clearance: float, overhang: float) -> float:
    """Steepest corner that a bumper clears: atan(clearance / overhang). [rad]

    Examples
    --------
    >>> round(math.degrees(approach_angle(0.005, 0.020)), 1)
    14.0
    """
    return math.atan2(clearance, overhang)


def least_foot_radius(angle: float, wheelbase: float, overhang: float, clearance: float) -> float:
    """Smallest radius of a rounded foot in which the bumper does not scrape. [m]

    With both axles on an arc of radius R the ground rises by o (o + w) / 2R under a bumper o beyond the axle (chord and
    sagitta of a circle, for R much larger than w). Zero where even a sharp corner of that angle is cleared.

    Parameters
    ----------
    angle : float
        Of the slope. [rad]
    wheelbase, overhang, clearance : float
        w between the axles, o of the body beyond the axle, height of its underside there. [m]

    Examples
    --------
    >>> round(least_foot_radius(math.radians(25), 0.080, 0.020, 0.005) * 1000)  # mm
    200
    """
    if angle <= approach_angle(clearance, overhang):
        return 0.0
    return overhang * (overhang + wheelbase) / (2 * clearance)


def foot_load(speed: float, foot_radius: float, gravity: float = GRAVITY) -> float:
    """Load on the wheels at the foot over the weight: 1 + v^2 / (g R). [-]

    Examples
    --------
    >>> round(foot_load(1.4, 0.2), 3)
    1.999
    """
    return 1 + speed**2 / (gravity * foot_radius) if foot_radius > 0 else math.inf


@dataclass(frozen=True)
class Flight:
    """A hop off the edge of the ramp's sheet.

    Parameters
    ----------
    time : float
        In the air. [s]
    distance : float
        From the edge to where it lands. [m]
    impact : float
        Speed downwards on landing. [m/s]
    """

    time: float
    distance: float
    impact: float


def flight(speed: float, drop: float, gravity: float = GRAVITY) -> Flight:
    """A horizontal launch over a step down: t = sqrt(2 d / g), x = v t, w = g t.

    Source: OpenStax University Physics 1, sec. 4.3.

    Examples
    --------
    >>> hop = flight(1.0, 0.005)
    >>> round(hop.time * 1000, 2), round(hop.distance * 1000, 2)
    (31.93, 31.93)
    """
    time = math.sqrt(2 * drop / gravity)
    return Flight(time, speed * time, gravity * time)


# --- one take to the next ---


@dataclass(frozen=True)
class Spread:
    """Speeds of many takes.

    Parameters
    ----------
    mean, deviation : float
        Of the speed at the foot. [m/s]
    within : float
        Share of takes within the tolerance about the planned speed. [-]
    """

    mean: float
    deviation: float
    within: float


def spread_of_takes(
    height: float,
    length: float,
    wheel_share: float,
    rolling: float,
    *,
    release_scatter: float,
    rolling_scatter: float,
    tolerance: float,
    rng: np.random.Generator,
    takes: int = 4000,
) -> Spread:
    """How much speed varies when the release and the losses do (both normal).

    Parameters
    ----------
    height, length, wheel_share, rolling : float
        The plan. [m], [m], -, -
    release_scatter : float
        Standard deviation of the release height. [m]
    rolling_scatter : float
        Standard deviation of the loss from take to take, as a share of it. [-]
    tolerance : float
        Share of the planned speed that still counts as the same take. [-]
    rng : np.random.Generator
        Where the scatter comes from.
    takes : int
        How many are tried.

    Examples
    --------
    >>> s = spread_of_takes(0.12, 0.5, 0.08, 0.02, release_scatter=0.002, rolling_scatter=0.1, tolerance=0.02,
    ...                     rng=np.random.default_rng(1))
    >>> round(s.deviation / s.mean, 3), 0.9 < s.within < 1
    (0.01, True)
    """
    planned = exit_speed(height, length, wheel_share, rolling)
    heights = np.clip(height + release_scatter * rng.standard_normal(takes), 0.0, length)
    losses = np.maximum(rolling * (1 + rolling_scatter * rng.standard_normal(takes)), 0.0)
    speeds = exit_speed(heights, length, wheel_share, losses)
    within = np.mean(np.abs(speeds - planned) <= tolerance * planned)
    return Spread(float(speeds.mean()), float(speeds.std()), float(within))
