"""The launch: speed from a ramp, what its foot and lip take, and how alike the takes are.

A vehicle rolls from rest down a slope of height h and length L (along the slope) onto a flat table. Its wheels store
`wheel_share` lambda = sum(I / r^2) / M of its kinetic energy beside its motion; `rolling` c is the rolling resistance
coefficient (drag over load). Axle friction is counted in c. Air drag and slip are left out: at these sizes and speeds
the first is small and the second does not happen: it takes a friction coefficient under
tan(slope) lambda / (1 + lambda) (OpenStax University Physics 1, sec. 11.1).

`launch_speed` is the speed with which it goes on over the table, after the foot and the lip; whatever asks how fast a
ramp is asks that. `exit_speed` is the balance of energy on a straight slope alone.

No published figure for toy axles exists, so c and lambda are assumptions until `timed_runs` has seen some.
"""

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: A float or an (n,) float array; arrays in give an array out. Any, because numpy's types cannot say so.
Number = Any

#: Standard gravity [m/s2], exact by the 3rd CGPM (1901).
GRAVITY = 9.80665


# --- rolling down ---


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


def exit_speed(height: Number, length: float, wheel_share: Number, rolling: Number, gravity: float = GRAVITY) -> Number:
    """Speed at the lower end of a straight slope by the balance of energy, before it meets the table. [m/s]

    (1 + lambda) v^2 / 2 = g (h - c sqrt(L^2 - h^2)); zero where the slope does not overcome the rolling loss.

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


def coasting_distance(speed: float, wheel_share: float, rolling: float, gravity: float = GRAVITY) -> float:
    """How far it rolls on the flat before it stands: (1 + lambda) v^2 / (2 c g); inf without loss. [m]

    Examples
    --------
    >>> round(coasting_distance(1.2, 0.08, 0.02), 3)
    3.965
    """
    return (1 + wheel_share) * speed**2 / (2 * rolling * gravity) if rolling > 0 else math.inf


# --- the ramp as a line, and the speed it gives ---


@dataclass(frozen=True)
class Profile:
    """A ramp as the line that the vehicle's middle follows, from the release down to the table.

    Parameters
    ----------
    height : float or (n,) float
        Of the release above the table. [m]
    length : float
        Of the straight slope, to the corner it would make with the table. [m]
    foot_radius : float
        Of the arc that rounds the corner, tangent to slope and table. [m]
    lip : float
        Step from the ramp's lower edge down to the table; the slope falls by the height less the lip. [m]
    """

    height: Number
    length: float
    foot_radius: float = 0.0
    lip: float = 0.0

    @property
    def angle(self) -> Number:
        """Of the slope: asin((h - lip) / L). [rad]

        Examples
        --------
        >>> round(math.degrees(Profile(0.125, 0.500, lip=0.005).angle), 2)
        13.89
        """
        return np.arcsin(np.clip((self.height - self.lip) / self.length, 0.0, 1.0))

    @property
    def radius(self) -> Number:
        """Of the foot as far as it fits: the arc is no longer than the slope. [m]"""
        return np.minimum(self.foot_radius, self.length / np.maximum(np.tan(self.angle / 2), 1e-9))

    @property
    def tangent(self) -> Number:
        """From the corner to where the arc begins and ends: R tan(a / 2). [m]"""
        return self.foot_radius * np.tan(self.angle / 2)

    def points(self, arc: int = 16) -> Array:
        """The line (k, 2) of a ramp with one height: forward of the corner, and above the table. [m]

        From the release to the ramp's lower edge; `arc` pieces in the bend, where there is one.

        Examples
        --------
        >>> Profile(0.3, 0.5).points().round(3).tolist()
        [[-0.4, 0.3], [0.0, 0.0]]
        """
        angle, radius = float(self.angle), float(self.radius)
        release = self.length * np.array([-math.cos(angle), math.sin(angle)])
        turned = np.linspace(angle, 0.0, arc + 1) if radius > 0 else np.zeros(1)
        forward = radius * math.tan(angle / 2) - radius * np.sin(turned)
        bend = np.stack([forward, radius * (1 - np.cos(turned))], axis=1)
        return np.asarray(np.concatenate([release[None], bend]) + np.array([0.0, self.lip]))


@dataclass(frozen=True)
class Chassis:
    """What the foot of a ramp meets of a vehicle.

    Parameters
    ----------
    wheelbase_share : float
        Wheelbase over the length of the body, over which its mass is taken to be spread evenly. [-]
    wheel_radius : float
        A bend tighter than this no wheel follows: to it that is a sharp corner. [m]
    """

    wheelbase_share: float = 0.6
    wheel_radius: float = 0.0

    def spread(self, wheel_share: Number) -> Number:
        """Radius of gyration in pitch over half the wheelbase, squared; 1 is all mass at the axles. [-]

        The body's is that of an even bar, (l^2 / 12) / (w / 2)^2; solid wheels hold twice their share of the mass and
        sit at the axles.
        """
        wheels = np.minimum(2 * wheel_share, 1.0)
        return (1 - wheels) / (3 * self.wheelbase_share**2) + wheels

    def turns(self, profile: Profile) -> bool:
        """Whether the wheels follow the foot's bend, rather than strike the table."""
        return profile.foot_radius > self.wheel_radius


#: Proportions of no vehicle in particular.
ANY_CHASSIS = Chassis()


def edge_speed(
    profile: Profile, wheel_share: Number, rolling: Number, chassis: Chassis = ANY_CHASSIS, gravity: float = GRAVITY
) -> Number:
    """Speed at the ramp's lower edge, before a sharp corner or a lip takes its part. [m/s]

    Down the slope by the balance of energy. In the arc the vehicle is pressed down by its centripetal force, which
    rolls with loss too: with q = v^2 and the slope a left, (1 + lambda) / 2 dq/ds = g sin a - c (g cos a + q / R). Over
    a that is linear in q, and solved exactly.

    Examples
    --------
    >>> straight, bent = Profile(0.120, 0.500), Profile(0.120, 0.500, foot_radius=0.2)
    >>> [round(float(edge_speed(ramp, 0.08, 0.02)), 4) for ramp in (straight, bent)]
    [1.4153, 1.4059]
    """
    fall, angle = profile.height - profile.lip, profile.angle
    square = np.square(exit_speed(np.maximum(fall, 0.0), profile.length, wheel_share, rolling, gravity))
    if not chassis.turns(profile):
        return np.sqrt(square)
    radius = profile.radius
    square = square * np.maximum(1 - radius * np.tan(angle / 2) / profile.length, 0.0)
    k = 2 * rolling / (1 + wheel_share)
    left = np.exp(-k * angle)
    # The integrals of exp(-k a) sin a and exp(-k a) cos a over the arc.
    sine = (1 - left * (k * np.sin(angle) + np.cos(angle))) / (1 + k**2)
    cosine = (k + left * (np.sin(angle) - k * np.cos(angle))) / (1 + k**2)
    gained = 2 * radius * gravity / (1 + wheel_share) * (sine - rolling * cosine)
    return np.sqrt(np.maximum(square * left + gained, 0.0))


def kept_in_corner(angle: Number, wheel_share: Number, spread: Number) -> Number:
    """Share of its speed that a vehicle keeps in a sharp corner between slope and table. [-]

    Its front axle strikes the table, its rear axle does when it comes to the corner, and neither bounces. Each time
    the motion keeps only what it has in common with the one that the wheels allow from there on, weighed by mass
    (Carnot's theorem on inelastic impacts); between the two it keeps its energy. With C = cos a and S = sin a:

        (C + lambda (1 + C) / 2)^2 / ((1 + lambda) ((1 + 3 C^2 + spread S^2) / 4 + lambda (1 + C^2) / 2))

    A point keeps cos a; a vehicle with its mass at the axles nearly does, one with its mass in the middle loses half
    as much.

    Parameters
    ----------
    angle : float or (n,) float
        Between slope and table. [rad]
    wheel_share, spread : float or (n,) float
        lambda, and `Chassis.spread`. [-]

    Examples
    --------
    >>> [round(float(kept_in_corner(math.radians(20), 0.0, spread)), 3) for spread in (1.0, 0.0)]
    [0.938, 0.968]
    """
    c, s = np.cos(angle), np.sin(angle)
    common = c + wheel_share * (1 + c) / 2
    after = (1 + 3 * c**2 + spread * s**2) / 4 + wheel_share * (1 + c**2) / 2
    return common**2 / ((1 + wheel_share) * after)


def launch_speed(
    profile: Profile, wheel_share: Number, rolling: Number, chassis: Chassis = ANY_CHASSIS, gravity: float = GRAVITY
) -> Number:
    """Speed with which the vehicle goes on over the table, its foot and lip behind it. [m/s]

    Off a bend it goes on as it comes. In a sharp corner it keeps `kept_in_corner`. Striking the table with a speed w
    downwards, off a corner or a lip, presses its wheels down by M w, which rolls with loss: c w / (1 + lambda).
    Held against MuJoCo in `tests/physics/test_launch_in_mujoco.py`.

    Parameters
    ----------
    profile : Profile
        Its height may be an array.
    wheel_share, rolling : float or (n,) float
        lambda and c. [-]
    chassis : Chassis
        Its proportions.
    gravity : float
        g. [m/s2]

    Examples
    --------
    >>> ramps = Profile(0.120, 0.500), Profile(0.120, 0.500, foot_radius=0.2), Profile(0.120, 0.500, lip=0.005)
    >>> [round(float(launch_speed(ramp, 0.08, 0.02)), 3) for ramp in ramps]
    [1.371, 1.406, 1.341]
    """
    speed = edge_speed(profile, wheel_share, rolling, chassis, gravity)
    down, kept = 0.0, 1.0
    if not chassis.turns(profile):
        down = speed * np.sin(profile.angle)
        kept = kept_in_corner(profile.angle, wheel_share, chassis.spread(wheel_share))
    impact = np.sqrt(np.square(down) + 2 * gravity * profile.lip)
    return np.maximum(speed * kept - rolling * impact / (1 + wheel_share), 0.0)


# --- the way down in time ---


@dataclass(frozen=True, eq=False)
class Descent:
    """Where a vehicle let go from rest is on its ramp, against the moment when its middle passes the lower edge.

    Parameters
    ----------
    acceleration : float
        Down the straight slope. [m/s2]
    straight : float
        Length of the straight slope. [m]
    times, distances, speeds : (k,) float
        In the bend of the foot, to the ramp's lower edge, where the first two are 0; without one, that edge alone.
        [s], [m], [m/s]
    """

    acceleration: float
    straight: float
    times: Array
    distances: Array
    speeds: Array

    @property
    def length(self) -> float:
        """From the release to the lower edge, along the ramp. [m]"""
        return self.straight - float(self.distances[0])

    @property
    def arrives(self) -> bool:
        """Whether it comes down to the lower edge at all."""
        return self.acceleration > 0 and float(self.speeds[-1]) > 0

    @property
    def released_at(self) -> float:
        """When it is let go [s]; -inf where it never arrives."""
        if not self.arrives:
            return -math.inf
        return float(self.times[0]) - math.sqrt(2 * self.straight / self.acceleration)

    def distance(self, time: float) -> float:
        """From the lower edge, negative; before it is let go, and where it never arrives, that of the release. [m]"""
        if not self.arrives:
            return -self.length
        if time >= self.times[0]:
            return float(np.interp(time, self.times, self.distances))
        return self.acceleration * max(time - self.released_at, 0.0) ** 2 / 2 - self.length

    def speed(self, time: float) -> float:
        """[m/s]"""
        if not self.arrives:
            return 0.0
        if time >= self.times[0]:
            return float(np.interp(time, self.times, self.speeds))
        return self.acceleration * max(time - self.released_at, 0.0)

    def time_at(self, distance: float) -> float:
        """When it is that far from the lower edge, which is negative [s]; further back than the release, never.

        >>> way = descent(Profile(0.120, 0.500, foot_radius=0.2), 0.08, 0.02)
        >>> round(way.time_at(-0.3), 9) == round(way.time_at(way.distance(way.time_at(-0.3))), 9)
        True
        """
        if not self.arrives or distance < -self.length:
            return -math.inf
        if distance >= self.distances[0]:
            return float(np.interp(distance, self.distances, self.times))
        return self.released_at + math.sqrt(2 * (distance + self.length) / self.acceleration)


#: Steps in which the bend of a foot is rolled through. [-]
_STEPS = 64


def descent(
    profile: Profile, wheel_share: float, rolling: float, chassis: Chassis = ANY_CHASSIS, gravity: float = GRAVITY
) -> Descent:
    """The way down a ramp of one height, as `edge_speed` has it, in time.

    What a sharp corner or a lip takes, it takes as the vehicle's middle passes the lower edge. In the bend
    q = v^2 follows dq/da = -k q + F(a) with the slope a left, as in `edge_speed`, summed up in small steps.

    Examples
    --------
    >>> way = descent(Profile(0.120, 0.500), 0.0, 0.0)  # sin a = 0.24, without loss
    >>> round(way.released_at, 4), round(-math.sqrt(2 * 0.5 / (GRAVITY * 0.24)), 4)
    (-0.6518, -0.6518)
    """
    angle = float(profile.angle)
    acceleration = rolling_acceleration(angle, wheel_share, rolling, gravity)
    radius = float(profile.radius) if chassis.turns(profile) else 0.0
    straight = max(profile.length - radius * math.tan(angle / 2), 0.0)
    turned = np.linspace(0.0, angle, _STEPS + 1) if radius > 0 else np.zeros(1)
    k = 2 * rolling / (1 + wheel_share)
    force = 2 * radius * gravity / (1 + wheel_share) * (np.sin(angle - turned) - rolling * np.cos(angle - turned))
    grown = np.exp(k * turned) * force
    gained = np.concatenate([[0.0], np.cumsum((grown[1:] + grown[:-1]) / 2 * np.diff(turned))])
    squares = np.exp(-k * turned) * (2 * max(acceleration, 0.0) * straight + gained)
    speeds = np.sqrt(np.maximum(squares, 0.0))
    if speeds.min() <= 0 and len(speeds) > 1 and speeds[1:].min() <= 0:  # it stops in the bend
        speeds[-1] = 0.0
        return Descent(acceleration, straight, np.zeros(len(turned)), radius * (turned - angle), speeds)
    steps = 2 * radius * np.diff(turned) / (speeds[1:] + speeds[:-1])
    times = np.concatenate([np.cumsum(steps[::-1])[::-1] * -1, [0.0]])
    return Descent(acceleration, straight, times, radius * (turned - angle), speeds)


# --- back from a speed to a ramp ---


class TooShort(ValueError):
    """No height on a ramp of that length gives the speed."""

    def __init__(self, speed: float, length: float) -> None:
        super().__init__(f"{speed:.3g} m/s is more than a ramp of {length * 1000:.0f} mm gives; make it longer")


def height_for_speed(
    speed: float, profile: Profile, wheel_share: float, rolling: float, chassis: Chassis = ANY_CHASSIS
) -> float:
    """Least release height that gives a speed on the table, the ramp's length, foot and lip kept. [m]

    With a sharp corner a steeper slope loses more than it gains from some 33 deg on, so not every height on the ramp
    has a speed of its own.

    Parameters
    ----------
    speed : float
        After the foot. [m/s]
    profile : Profile
        Its height is not looked at.
    wheel_share, rolling, chassis
        As in `launch_speed`.

    Raises
    ------
    TooShort
        If no height on a ramp of that length gives it.

    Examples
    --------
    >>> sharp = Profile(0.120, 0.500)
    >>> h = height_for_speed(1.2, sharp, 0.08, 0.02)
    >>> round(h * 1000, 2), round(float(launch_speed(replace(sharp, height=h), 0.08, 0.02)), 9)
    (92.22, 1.2)
    """
    low, high = profile.lip, profile.length
    # Narrowed to a hundredth each time: a nanometre in five rounds.
    for _ in range(6):
        heights = np.linspace(low, high, 101)
        fast = np.flatnonzero(launch_speed(replace(profile, height=heights), wheel_share, rolling, chassis) >= speed)
        if not len(fast):
            raise TooShort(speed, profile.length)
        first = max(int(fast[0]), 1)
        low, high = float(heights[first - 1]), float(heights[first])
    return high


def length_for_speed(
    speed: float, angle: float, profile: Profile, wheel_share: float, rolling: float, chassis: Chassis = ANY_CHASSIS
) -> float:
    """Least length of a slope of that angle [rad] that gives a speed on the table, foot and lip kept. [m]

    Raises
    ------
    TooShort
        If not even a slope a thousand times as long as the ramp does.

    Examples
    --------
    >>> length = length_for_speed(1.2, math.radians(20), Profile(0.120, 0.500), 0.08, 0.02)
    >>> round(length, 3)
    0.279
    """

    def enough(length: float) -> bool:
        tried = replace(profile, height=length * math.sin(angle) + profile.lip, length=length)
        return float(launch_speed(tried, wheel_share, rolling, chassis)) >= speed

    low, high = 0.0, profile.length
    while not enough(high):
        low, high = high, 2 * high
        if high > 1000 * profile.length:
            raise TooShort(speed, high)
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def height_for_one_percent(
    profile: Profile, wheel_share: float, rolling: float, chassis: Chassis = ANY_CHASSIS
) -> float:
    """How much higher the release must be for one percent more speed on the table; inf where no height does. [m]

    Examples
    --------
    Without loss 2 % of the height; a sharp corner takes more the steeper the slope:

    >>> bent = Profile(0.100, 0.5, foot_radius=0.2)
    >>> [round(height_for_one_percent(ramp, 0.0, 0.0) * 1000, 2) for ramp in (bent, replace(bent, foot_radius=0.0))]
    [2.01, 2.2]
    """
    wanted = 1.01 * float(launch_speed(profile, wheel_share, rolling, chassis))
    try:
        more = height_for_speed(wanted, profile, wheel_share, rolling, chassis) - float(profile.height)
    except TooShort:
        return math.inf
    return more if more > 0 else math.inf  # so steep that a flatter slope is faster


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


def flight(speed: float, drop: float, angle: float = 0.0, gravity: float = GRAVITY) -> Flight:
    """Off a step, along a slope that points down by an angle: w^2 = (v sin a)^2 + 2 g d, w = v sin a + g t.

    Source: OpenStax University Physics 1, sec. 4.3.

    Parameters
    ----------
    speed : float
        v, at the edge, along the slope. [m/s]
    drop : float
        d, of the step. [m]
    angle : float
        a; 0 off a foot that is bent level. [rad]

    Examples
    --------
    >>> level, along_slope = flight(1.0, 0.005), flight(1.535, 0.005, math.asin(0.25))
    >>> [(round(hop.time * 1000, 1), round(hop.distance * 1000)) for hop in (level, along_slope)]
    [(31.9, 32), (11.4, 17)]
    """
    down = speed * math.sin(angle)
    impact = math.sqrt(down**2 + 2 * gravity * drop)
    # Without the difference of near-equal numbers: d over the mean of both speeds.
    time = 2 * drop / (down + impact) if drop > 0 else 0.0
    return Flight(time, speed * math.cos(angle) * time, impact)


# --- one take to the next ---


@dataclass(frozen=True)
class Spread:
    """Speeds of many takes.

    Parameters
    ----------
    mean, deviation : float
        Of the speed after the foot. [m/s]
    within : float
        Share of takes within the tolerance about the planned speed. [-]
    """

    mean: float
    deviation: float
    within: float


def spread_of_takes(
    profile: Profile,
    wheel_share: float,
    rolling: float,
    chassis: Chassis = ANY_CHASSIS,
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
    profile, wheel_share, rolling, chassis
        The plan, as in `launch_speed`.
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
    >>> s = spread_of_takes(Profile(0.12, 0.5), 0.08, 0.02, release_scatter=0.002, rolling_scatter=0.1,
    ...                     tolerance=0.02, rng=np.random.default_rng(1))
    >>> round(s.deviation / s.mean, 3), 0.9 < s.within < 1
    (0.009, True)
    """
    planned = launch_speed(profile, wheel_share, rolling, chassis)
    heights = np.clip(profile.height + release_scatter * rng.standard_normal(takes), profile.lip, profile.length)
    losses = np.maximum(rolling * (1 + rolling_scatter * rng.standard_normal(takes)), 0.0)
    speeds = launch_speed(replace(profile, height=heights), wheel_share, losses, chassis)
    within = np.mean(np.abs(speeds - planned) <= tolerance * planned)
    return Spread(float(speeds.mean()), float(speeds.std()), float(within))
