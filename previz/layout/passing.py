"""How near the vehicles come to each other: each pair's least room on its ways, when and where.

A vehicle counts from when its middle passes the start of its path until that passes the end; one that is launched from
before it is let go, one that comes to a stop for good after it has. Off their paths somebody holds them.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from previz.layout.motion import VehiclePose, travel_of, vehicle_at, vehicle_path
from previz.layout.others import each_driven
from previz.layout.remembered import remembered
from previz.layout.sizes import Band, rectangle
from previz.layout.touching import MARGIN
from previz.layout.vehicle import vehicle_bands, vehicle_size
from previz.physics.overlap import depth_along, normals
from previz.scene import OVER_ALL, VEHICLE_SIZES, Scene

Array = NDArray[np.float64]

#: Between the moments at which two are looked at, by how far they can have moved against each other: while they are in
#: each other, and where they are next to each other. [m]
_IN, _BESIDE = 0.020, 0.002

#: So often the deepest moment is looked for between its neighbours, and the first touch halved down to.
_FINER, _HALVINGS = 2, 24


@dataclass(frozen=True)
class Passing:
    """Two vehicles at their nearest.

    Parameters
    ----------
    one, other : str
        Their names; the subject's comes first.
    room : float
        Least room between them, over their mirrors; negative where they are in each other. [m]
    bodies : float
        The same without mirrors. [m]
    at : float
        When that is. [s on set]
    begins : float
        When they first touch; inf where they never do. [s on set]
    place : (2,) float
        Between them, then. [m]
    wanted : float
        Room that they should keep. [m]
    """

    one: str
    other: str
    room: float
    bodies: float
    at: float
    begins: float
    place: tuple[float, float]
    wanted: float


@remembered
def passings(scene: Scene) -> tuple[Passing, ...]:
    """Every pair of vehicles that are on the set at one time."""
    found = (_nearest(one, other) for one, other in combinations(each_driven(scene), 2))
    return tuple(each for each in found if each is not None)


def keeps_clear(scene: Scene, name: str) -> bool:
    """Whether the vehicle of that name keeps the room that is wanted from all others."""
    for one, other in combinations(each_driven(scene), 2):
        span, wanted = _together(one, other) if name in (one.subject, other.subject) else None, _wanted(one, other)
        if span is not None and any(room < wanted for _, room in _rooms(_Two(one, other), *span)):
            return False
    return True


def _wanted(one: Scene, other: Scene) -> float:
    """What each keeps free beside it, at its own scale; the more of the two. [m]"""
    return MARGIN / min(one.vehicle_scale, other.vehicle_scale)


def there(scene: Scene) -> tuple[float, float]:
    """From when until when the scene's vehicle is on its way, or stands on the set; either may be infinite. [s]"""
    vehicle, travel = scene.vehicle, travel_of(scene)
    assert vehicle is not None  # asked of sets with a vehicle only
    if vehicle.stands:
        return -math.inf, math.inf
    comes = -math.inf if vehicle.launch is not None else travel.time_at(0.0)
    return comes, travel.time_at(vehicle_path(scene).length)


def _together(one: Scene, other: Scene) -> tuple[float, float] | None:
    """From when until when both are there and something of it changes [s]; None where they never are."""
    spans = there(one), there(other)
    begins, ends = max(span[0] for span in spans), min(span[1] for span in spans)
    return None if begins > ends else _within(one, other, begins, ends)


def _nearest(one: Scene, other: Scene) -> Passing | None:
    span = _together(one, other)
    if span is None:
        return None
    two = _Two(one, other)
    walked = found = list(_rooms(two, *span))
    nearest = min(range(len(found)), key=lambda n: found[n][1])
    at, room = found[nearest]
    for _ in range(_FINER):
        if len(found) > 1:
            low, high = found[max(nearest - 1, 0)][0], found[min(nearest + 1, len(found) - 1)][0]
            found = [(float(time), two.room(float(time))[0]) for time in np.linspace(low, high, 9)]
            nearest = min(range(len(found)), key=lambda n: found[n][1])
            if found[nearest][1] < room:
                at, room = found[nearest]
    room, bodies, place = two.room(at)
    first = _first_touch(two, [*(each for each in walked if each[0] < at), (at, room)]) if room < 0 else math.inf
    return Passing(one.subject, other.subject, room, bodies, at, first, place, _wanted(one, other))


def _within(one: Scene, other: Scene, begins: float, ends: float) -> tuple[float, float]:
    """A span in which all happens of one that may be endless: before and after it both stand."""
    travels = [travel_of(each) for each in (one, other)]
    moves = [time for travel in travels for time in (travel.begins, travel.released_at, travel.stops_at)]
    known = [time for time in (*moves, *there(one), *there(other)) if math.isfinite(time)]
    if not math.isfinite(begins):
        begins = min(known, default=0.0)
    if not math.isfinite(ends):
        ends = max(known, default=begins)
    return begins, max(begins, ends)


def _rooms(two: "_Two", begins: float, ends: float) -> Iterator[tuple[float, float]]:
    """Moments and the room then, so near each other that none is missed: no further on than both could close it up."""
    time = begins
    while True:
        room = two.room(time)[0]
        yield time, room
        if time >= ends or two.closing == 0:
            return
        time = min(time + max(room, _IN if room < 0 else _BESIDE) / two.closing, ends)


def _first_touch(two: "_Two", rooms: list[tuple[float, float]]) -> float:
    """When they first touch on the way to the last of these moments, at which they are in each other."""
    number = next(n for n, (_, room) in enumerate(rooms) if room < 0)
    if number == 0:
        return rooms[0][0]
    clear, touching = rooms[number - 1][0], rooms[number][0]
    for _ in range(_HALVINGS):
        middle = (clear + touching) / 2
        clear, touching = (clear, middle) if two.room(middle)[0] < 0 else (middle, touching)
    return touching


class _Two:
    """Two vehicles on their ways."""

    def __init__(self, one: Scene, other: Scene) -> None:
        self._both = one, other
        self._shapes = [_shape(each) for each in self._both]
        #: As fast as they can come towards each other, their corners in bends included. [m/s]
        self.closing = sum(_fastest(each) for each in self._both)

    def room(self, time: float) -> tuple[float, float, tuple[float, float]]:
        """Room over mirrors and without them, and a place between the two. [m]"""
        poses = [vehicle_at(each, time) for each in self._both]
        first, second = (_placed(shape, pose) for shape, pose in zip(self._shapes, poses, strict=True))
        over = bodies = math.inf
        for outline, axes, low, high, mirrors in first:
            for theirs, their_axes, bottom, top, others in second:
                if min(high, top) > max(low, bottom):
                    room = -depth_along(outline, theirs, np.concatenate([axes, their_axes]))
                    over = min(over, room)
                    bodies = bodies if mirrors or others else min(bodies, room)
        between = (poses[0].position[:2] + poses[1].position[:2]) / 2
        if not math.isfinite(over):  # one is over the other, on a ramp
            away = float(np.linalg.norm(poses[0].position[:2] - poses[1].position[:2]))
            over = bodies = max(away - self._reach(), _BESIDE)
        return over, bodies, (float(between[0]), float(between[1]))

    def _reach(self) -> float:
        return sum(math.hypot(*vehicle_size(each)[:2]) / 2 for each in self._both)


def _shape(scene: Scene) -> list[tuple[Band, bool]]:
    """What a vehicle takes up, and with its mirrors, of one that has any. [m]"""
    found = [(band, False) for band in vehicle_bands(scene)]
    assert scene.vehicle is not None
    body = scene.vehicle.body
    if body is not None:
        length, width, height = vehicle_size(scene)
        model = length / VEHICLE_SIZES[body][0]
        over_all, from_height = OVER_ALL[body]
        if over_all * model > width:
            half = over_all * model / 2
            found.append((Band(from_height * model, height, rectangle(-length / 2, length / 2, -half, half)), True))
    return found


def _placed(shape: list[tuple[Band, bool]], pose: VehiclePose) -> list[tuple[Array, Array, float, float, bool]]:
    """Outlines and their normals, from how high to how high, and whether with mirrors."""
    c, s = math.cos(pose.heading), math.sin(pose.heading)
    turn, at, z = np.array([[c, s], [-s, c]]), pose.position[:2], float(pose.position[2])
    placed = [(band.outline @ turn + at, band, mirrors) for band, mirrors in shape]
    return [(each, normals(each), z + band.low, z + band.high, mirrors) for each, band, mirrors in placed]


def _fastest(scene: Scene) -> float:
    """Of any of its corners. [m/s]"""
    vehicle, travel, path = scene.vehicle, travel_of(scene), vehicle_path(scene)
    assert vehicle is not None
    if vehicle.stands:
        return 0.0
    places = np.linspace(0.0, path.length, 65)
    bend = float(np.abs(np.gradient(np.unwrap(path.heading(places)), places)).max())
    return travel.speed_at_start * (1 + 1.5 * bend * math.hypot(*vehicle_size(scene)[:2]) / 2)
