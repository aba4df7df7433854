"""Lines on the table and how something runs along them; values that are keyed in time; frames in time."""

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.physics.ramp import Descent

Array = NDArray[np.float64]

_SAMPLES_A_SPAN = 64


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

    def begun_at(self, distance: float) -> "Curve":
        """The same line from that far along it on [m]; from before its start, straight, where that is negative.

        Raises ValueError where nothing of it is left.

        >>> Curve.through([[0, 0], [3, 4]]).begun_at(-5.0).length
        10.0
        """
        if distance >= self.length:
            raise ValueError(f"{distance:g} m along is past the end of a line {self.length:g} m long")
        return Curve._measured(np.concatenate([self.at(distance)[None], self.points[self.distances > distance]]))

    @cached_property
    def _end_ways(self) -> tuple[Array, Array]:
        """The directions (2,) of its first and its last step."""
        first, last = self.points[1] - self.points[0], self.points[-1] - self.points[-2]
        return first / np.linalg.norm(first), last / np.linalg.norm(last)


@dataclass(frozen=True)
class Along:
    """Where every place lies against a curve: left of it, along it, and how far from it. [m]"""

    left: Array
    along: Array
    away: Array


def along_curve(curve: Curve, points: Array) -> Along:
    """`points` (n, 2) measured against `curve`, which counts as straight beyond its ends."""
    samples = np.linspace(0.0, curve.length, max(int(curve.length / 0.002), 2) + 1)
    places = curve.at(samples)
    nearest = nearest_along(places, points)
    ways = np.stack([np.cos(curve.heading(samples)), np.sin(curve.heading(samples))], axis=-1)
    offset, way = points - places[nearest], ways[nearest]
    ahead = np.einsum("ij,ij->i", offset, way)
    left = way[:, 0] * offset[:, 1] - way[:, 1] * offset[:, 0]
    beyond = np.where(
        nearest == 0, np.minimum(ahead, 0), np.where(nearest == len(samples) - 1, np.maximum(ahead, 0), 0)
    )
    return Along(left, samples[nearest] + ahead, np.hypot(left, beyond))


#: So many places in a row are looked at together.
_TOGETHER = 32


def nearest_along(places: Array, points: Array) -> NDArray[np.intp]:
    """Which of `places` (m, 2), in order along a line, is nearest to each of `points` (n, 2). (n,)

    Rows of places are passed over whose box is further off than the middle one of some row. scipy's k-d tree takes half
    as long, and to load it takes ten times as long as this does in a check.
    """
    starts = range(0, len(places), _TOGETHER)
    rows = [places[start : start + _TOGETHER] for start in starts]
    x, y = (np.ascontiguousarray(side) for side in points.T)
    most = np.full(len(points), np.inf)
    for row in rows:
        across, up = row[len(row) // 2].tolist()
        np.minimum(most, (x - across) ** 2 + (y - up) ** 2, out=most)
    most *= 1 + 1e-9
    least, found = np.full(len(points), np.inf), np.zeros(len(points), dtype=np.intp)
    for start, row in zip(starts, rows, strict=True):
        (left, below), (right, above) = row.min(axis=0).tolist(), row.max(axis=0).tolist()
        aside = np.maximum(np.maximum(left - x, x - right), 0.0)
        off = np.maximum(np.maximum(below - y, y - above), 0.0)
        some = np.flatnonzero(aside**2 + off**2 <= most)
        squares = (x[some, None] - row[:, 0]) ** 2 + (y[some, None] - row[:, 1]) ** 2
        which = np.argmin(squares, axis=1)
        square = squares[np.arange(len(some)), which]
        nearer = square < least[some]
        least[some[nearer]], found[some[nearer]] = square[nearer], start + which[nearer]
    return found


def _catmull_rom(p: Array) -> Array:
    """Samples from p[1] up to, not including, p[2]; (4, 2) control points, centripetal knots."""
    t = np.concatenate([[0.0], np.cumsum(np.sqrt(np.maximum(np.linalg.norm(np.diff(p, axis=0), axis=1), 1e-12)))])
    u = np.linspace(t[1], t[2], _SAMPLES_A_SPAN, endpoint=False)[:, None]

    def mix(a: Array, b: Array, i: int, j: int) -> Array:
        return np.asarray(((t[j] - u) * a + (u - t[i]) * b) / (t[j] - t[i]))

    a1, a2, a3 = mix(p[0], p[1], 0, 1), mix(p[1], p[2], 1, 2), mix(p[2], p[3], 2, 3)
    b1, b2 = mix(a1, a2, 0, 2), mix(a2, a3, 1, 3)
    return mix(b1, b2, 1, 2)


@dataclass(frozen=True)
class Travel:
    """How far along its path a vehicle is: a start speed and an even loss of speed until it stands.

    Parameters
    ----------
    speed_at_start : float
        Where the path begins, at time 0. [m/s]
    deceleration : float
        [m/s2]
    descent : Descent or None
        How it comes to where the path begins, down a ramp; None at the start speed.
    begins : float
        When it is where the path begins: later than time 0 by so much. [s]
    """

    speed_at_start: float
    deceleration: float = 0.0
    descent: Descent | None = None
    begins: float = 0.0

    @property
    def stops_at(self) -> float:
        """When it stands still. [s], inf if it never does"""
        return self.begins + self.speed_at_start / self.deceleration if self.deceleration > 0 else math.inf

    @property
    def released_at(self) -> float:
        """When it is let go on its ramp [s]; -inf where it never arrives, or comes down none."""
        return -math.inf if self.descent is None else self.begins + self.descent.released_at

    def distance(self, time: float) -> float:
        """Along the path [m]; negative before it begins, when it comes on at the start speed, or down its ramp.

        One that does not get off its ramp stands at its release for good.

        >>> Travel(2.0, 0.5).distance(2.0), Travel(2.0, 0.5).distance(100.0), Travel(2.0, begins=0.5).distance(2.0)
        (3.0, 4.0, 3.0)
        """
        time -= self.begins
        if self.descent is not None and (time < 0 or not self.descent.arrives):
            return self.descent.distance(time)
        braked = min(max(time, 0.0), self.stops_at - self.begins)
        coming = min(time, 0.0)
        return self.speed_at_start * (coming + braked) - self.deceleration * braked**2 / 2

    def speed(self, time: float) -> float:
        """[m/s]"""
        time -= self.begins
        if self.descent is not None and time < 0:
            return self.descent.speed(time)
        return max(self.speed_at_start - self.deceleration * max(time, 0.0), 0.0)

    def time_at(self, distance: float) -> float:
        """When the middle is that far along [s]; inf where it never gets there.

        >>> Travel(2.0, 0.5).time_at(3.0), Travel(2.0, 0.5, begins=1.5).time_at(3.0)
        (2.0, 3.5)
        """
        return self.begins + self._after(distance)

    def _after(self, distance: float) -> float:
        if self.descent is not None and distance < 0:
            return self.descent.time_at(distance)
        if self.speed_at_start == 0:
            return 0.0 if distance <= 0 else math.inf
        if distance <= 0 or self.deceleration == 0:
            return distance / self.speed_at_start
        left = self.speed_at_start**2 - 2 * self.deceleration * distance
        return (self.speed_at_start - math.sqrt(left)) / self.deceleration if left >= 0 else math.inf


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


def through_keys(times: Array, points: Array, time: ArrayLike, *, evenly: bool = False) -> Array:
    """A keyed value at a time, or at each of several (m,): at rest at both ends, and smooth through the keys between.

    Cubic Hermite spans; slopes at inner keys are those of the chord between their neighbours. Evenly: straight from key
    to key, at one pace.

    Parameters
    ----------
    times : (n,) float
        Rising. [s]
    points : (n, ...) float
        The value at each.

    Examples
    --------
    >>> float(through_keys(np.array([0.0, 1.0]), np.array([0.0, 2.0]), 0.25, evenly=True))
    0.5
    """
    within = np.clip(np.asarray(time, dtype=float), times[0], times[-1])
    if len(times) == 1:
        return np.asarray(np.broadcast_to(points[0], (*within.shape, *points.shape[1:])))
    if evenly:
        beside = np.stack([np.interp(within, times, each) for each in points.reshape(len(times), -1).T], axis=-1)
        return beside.reshape((*within.shape, *points.shape[1:]))
    slopes = np.zeros_like(points)
    gaps = (times[2:] - times[:-2]).reshape(-1, *[1] * (points.ndim - 1))
    slopes[1:-1] = (points[2:] - points[:-2]) / gaps
    i = np.minimum(np.searchsorted(times, within, side="right") - 1, len(times) - 2)
    each = (*within.shape, *[1] * (points.ndim - 1))
    span = (times[i + 1] - times[i]).reshape(each)
    u = (within - times[i]).reshape(each) / span
    return np.asarray(
        (2 * u**3 - 3 * u**2 + 1) * points[i]
        + (u**3 - 2 * u**2 + u) * span * slopes[i]
        + (3 * u**2 - 2 * u**3) * points[i + 1]
        + (u**3 - u**2) * span * slopes[i + 1]
    )


def cross(one: Array, other: Array) -> Array:
    """The vector product of two (3,): numpy's takes ten times as long to find out which way its arguments lie."""
    (a, b, c), (u, v, w) = one.tolist(), other.tolist()
    return np.array([b * w - c * v, c * u - a * w, a * v - b * u])
