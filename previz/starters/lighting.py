"""The lamp over a first set, and the light all round: enough for every shot, and from one side of the vehicle."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from previz.starters.fitting import Point, Wish
from previz.starters.further import Placed

OFF_TABLE = 0.05  # m from the table's edge to the stand of a lamp beside it
_MORE_LIGHT = 1.8  # than grey all round takes: most of what stands on a set is darker
_MORE_ASLANT = 1.4  # times that, where it meets what the camera sees aslant: what leans away gets little
_DAY, _NIGHT = 400.0, 8.0  # lx on the vehicle at least
_UNDER = 2.0**-1  # what night is exposed by: a stop under
_LAMPS_TO = 11.0  # lx of the moon on the vehicle, for which street lamps and headlamps are as at full size
_LAMPS_MOST = 2.5  # times that, where the moon has to be brighter
#: How far the lamp is turned from straight beside the vehicle, for one shot to see its nose lit and one its tail: to
#: either side less than half of what the light may turn by from shot to shot.
_TURNED = math.radians(13)


@dataclass(frozen=True)
class Lamp:
    """Where it stands and what it faces. [m]"""

    at: Point
    aim: Point


@dataclass(frozen=True)
class Lighting:
    """The lamp over the set, where each shot has it, and its output [lm]; the light all round [lx].

    lamps: how much brighter than at full size those that the set has by night are.
    """

    each: tuple[Lamp, ...]
    output: float
    ambient: float
    lamps: float


def lighting(wish: Wish, shots: Sequence[Placed], *, night: bool) -> Lighting:
    """As much light on the side of the vehicle that the camera sees as a picture without much noise takes."""
    each = _from_one_side(wish, shots) if len(shots) > 1 else (_over_the_table(wish),)
    aslant = _MORE_ASLANT if _both_ends(shots) else 1.0
    lux = [_wanted(aslant * shot.staged.framed.light_wanted, night=night) for shot in shots]
    shares = (0.62, 0.65) if night else (0.55, 0.55) if _both_ends(shots) else (0.8, 0.3)
    # A panel gives pi d^2 E / cos of its light to what faces it so far off; what the camera sees stands upright.
    output = max(
        math.pi * math.dist(lamp.at, lamp.aim) ** 2 * shares[0] * light / _faced(shot, lamp)
        for shot, lamp, light in zip(shots, each, lux, strict=True)
    )
    key = shares[0] * max(lux)
    return Lighting(each, output, shares[1] * max(lux), min(max(key / _LAMPS_TO, 1.0), _LAMPS_MOST))


def _wanted(light: float, *, night: bool) -> float:
    """On the vehicle, where grey all round wants so much. [lx]"""
    return max(_NIGHT, _UNDER * _MORE_LIGHT * light) if night else max(_DAY, _MORE_LIGHT * light)


def _over_the_table(wish: Wish) -> Lamp:
    across, depth = wish.table
    return Lamp((0.2 * across, -0.1 * depth, _height(wish)), (across / 2, 0.5 * depth, 0.0))


def _height(wish: Wish) -> float:
    return max(0.6 * max(wish.table), 0.5)


def _from_one_side(wish: Wish, shots: Sequence[Placed]) -> tuple[Lamp, ...]:
    """To the right of the vehicle in every shot, off the table, and before or behind it as that one sees it.

    What the viewer goes by is the vehicle: it is lit from one side, wherever on the table it drives.
    """
    right, up = max(_to_the_edge(wish, shot) for shot in shots), _height(wish)
    ends = {shot.sees for shot in shots}
    ahead = math.tan(_TURNED) * math.hypot(right, up) if _both_ends(shots) else right
    lamps = []
    for shot in shots:
        (x, y), (east, north) = shot.middle, shot.heading
        before = ahead * (shot.sees or sum(ends))
        lamps.append(
            Lamp((x + before * east + right * north, y + before * north - right * east, up), (x, y, 0.0)),
        )
    return tuple(lamps)


def _both_ends(shots: Sequence[Placed]) -> bool:
    """Whether one shot sees the vehicle's nose and one its tail, so that light from one side meets both aslant."""
    return {1, -1} <= {shot.sees for shot in shots}


def _to_the_edge(wish: Wish, shot: Placed) -> float:
    """From the vehicle past the table's edge to its right, and past a camera that looks at it from there. [m]"""
    (width, depth), (x, y), (east, north) = wish.table, shot.middle, shot.heading
    if abs(north) > abs(east):
        return (width - x if north > 0 else x) + OFF_TABLE
    past = y + max(OFF_TABLE, 0.1 * depth)
    return past if shot.sees else max(past, shot.staged.framed.distance + OFF_TABLE)


def _faced(shot: Placed, lamp: Lamp) -> float:
    """Cosine of the angle at which the light meets the end or the side of the vehicle that the camera sees."""
    (east, north), away = shot.heading, math.dist(lamp.at, lamp.aim)
    across, up = lamp.at[0] - lamp.aim[0], lamp.at[1] - lamp.aim[1]
    ahead, right = across * east + up * north, across * north - up * east
    return (ahead * shot.sees if shot.sees else right) / away
