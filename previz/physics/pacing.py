"""Time on set against time on screen: slow motion, motion blur, panning, wheels, the shutter's read-out.

Capture rate and playback rate are frames a second; slowdown is capture over playback. Speeds are on the set [m/s]
unless a name says full size.
"""

import math
from collections.abc import Iterable, Sequence
from typing import Any

#: A float or an (n,) float array; arrays in give an array out. Any, because numpy's types cannot say so.
Number = Any

#: Seconds an object should take across the frame in a pan at 24 fps, 180 deg. Common practice, no source.
PAN_CROSSING = 7.0


def slowdown(rate: float, playback: float) -> float:
    """How many times slower the screen shows it than the set had it. [-]

    Examples
    --------
    >>> slowdown(120, 24)
    5.0
    """
    return float(rate / playback)


def gravity_slowdown(scale: float) -> float:
    """The slowdown at which falls and hops on a 1:S set look full size: sqrt(S). [-]

    Lengths shrink by S, gravity does not, and times of fall go with the root of the length. It binds what gravity
    moves (drops, jumps, suspension); a vehicle rolling at an even speed needs only `apparent_speed`. Surface tension,
    air drag and the grip of tyres do not follow it.

    Source: VES Handbook of Visual Effects, app. A, "Miniatures".

    Examples
    --------
    >>> gravity_slowdown(64)
    8.0
    """
    return math.sqrt(scale)


def rate_for_gravity(scale: float, playback: float) -> float:
    """Capture rate for that slowdown: playback sqrt(S). [frames/s]

    Examples
    --------
    >>> rate_for_gravity(4, 24)
    48.0
    """
    return playback * gravity_slowdown(scale)


def apparent_speed(speed: Number, scale: float, slowdown: Number) -> Number:
    """The full-size speed the screen shows: v S / slowdown. [m/s]

    Examples
    --------
    >>> round(apparent_speed(0.9, 50, 5.0) * 3.6, 1)  # km/h
    32.4
    """
    return speed * scale / slowdown


def set_speed(full_size_speed: Number, scale: float, slowdown: float) -> Number:
    """The speed on the set that shows as a full-size speed: v slowdown / S. [m/s]

    Source: VES Handbook, app. A: 36 mph at 1:6 and 2.5 times the frame rate is 22 ft/s.

    Examples
    --------
    >>> round(set_speed(36 * 0.44704, 6, 2.5) / 0.3048, 2)  # ft/s
    22.0
    """
    return full_size_speed * slowdown / scale


def exposure_time(shutter_angle: float, rate: float) -> float:
    """Time the shutter is open each frame: angle / (2 pi rate). [s]

    Parameters
    ----------
    shutter_angle : float
        Of a full turn. [rad]
    rate : float
        [frames/s]

    Examples
    --------
    >>> round(exposure_time(math.pi, 24) * 1000, 3)  # ms
    20.833
    """
    return shutter_angle / (2 * math.pi * rate)


#: Whole rates that cameras have. From memory; common practice, no source. [frames/s]
CAMERA_RATES = (
    8, 10, 12, 15, 16, 18, 20, 24, 25, 30, 48, 50, 60, 72, 90, 96, 100, 120, 144, 150, 180, 200, 240, 300, 400, 480,
    500, 600, 800, 960, 1000,
)  # fmt: skip


#: Up to which rate cameras have others than those that their modes are named by. Common practice, no source. [frames/s]
EVERYDAY = 60


def rates_beside(modes: Iterable[float], only: Iterable[float] = ()) -> list[float]:
    """The rates that a camera likely has, from the fastest ones of its modes: those, halved again and again.

    Beside them the usual ones up to `EVERYDAY`. [frames/s]

    only: the rates of modes that are for these alone. [frames/s]

    >>> rates_beside([120, 30])[-5:], rates_beside([], only=[240, 30])
    ([30, 48, 50, 60, 120], [30, 240])
    """
    fastest = [*modes]
    parts = {each / 2**n for each in fastest for n in range(10) if n == 0 or each / 2**n >= EVERYDAY}
    usual = {rate for rate in CAMERA_RATES if rate <= min(EVERYDAY, max(fastest, default=0.0))}
    return sorted({int(rate) if rate == int(rate) else rate for rate in parts | usual | {*only}})


def rate_among(known: Sequence[float], wanted: float, over: float | None = None) -> float | None:
    """Of the rates that a camera has, in order, one for what wants so many [frames/s]; None where none will do.

    over: how many times over or under the wanted one it may be, and then it is the nearest; else it is none under
    it. [-]

    >>> known = rates_beside([120])
    >>> rate_among(known, 59), rate_among(known, 61), rate_among(known, 130), rate_among(known, 130, over=1.25)
    (60, 120, None, 120)
    >>> rate_among([60, 240], 192, over=1.25), rate_among([60, 240], 190, over=1.25)
    (240, None)
    """
    if over is None:
        return next((rate for rate in known if rate >= wanted * (1 - 1e-9)), None)
    near = min(known, key=lambda rate: abs(math.log(rate / wanted)))
    return near if 1 / over <= near / wanted <= over else None


def crossing_time(pixels_per_frame: Number, pixels: int, playback: float) -> Number:
    """Seconds on screen that something needs to cross the picture. [s]

    Examples
    --------
    >>> round(crossing_time(11.43, 1920, 24), 2)
    7.0
    """
    return pixels / pixels_per_frame / playback


def wheel_turn(speed: Number, wheel_diameter: float, rate: float) -> Number:
    """Turn of a wheel from one frame to the next, in full turns: v / (pi D rate). [-]

    Examples
    --------
    >>> round(wheel_turn(0.9, 0.020, 120), 4)
    0.1194
    """
    return speed / (math.pi * wheel_diameter * rate)


def apparent_wheel_turn(turn: float, spokes: int) -> float:
    """Turn that the eye sees of a wheel with equal spokes: the smallest that gives the same picture. [turns]

    Negative turns backwards, zero stands still: turn - round(turn n)/n.

    Parameters
    ----------
    turn : float
        True turn from one frame to the next. [turns]
    spokes : int
        n equal spokes, holes or nuts.

    Examples
    --------
    >>> round(apparent_wheel_turn(0.09, 10), 3), round(apparent_wheel_turn(0.03, 10), 3)
    (-0.01, 0.03)
    """
    return turn - round(turn * spokes) / spokes


def read_out_lean(pixels_per_second: float, readout: float, picture_height: int) -> float:
    """Lean of an upright edge by a rolling shutter: atan(v t_read / h). [rad]

    Parameters
    ----------
    pixels_per_second : float
        Across the picture, on set time; positive to the right leans the foot to the right. [px/s]
    readout : float
        t_read, from the first row to the last. [s]
    picture_height : int
        h. [px]

    Examples
    --------
    >>> round(math.degrees(read_out_lean(2000, 0.010, 1080)), 2)
    1.06
    """
    return math.atan(pixels_per_second * readout / picture_height)
