"""Where the vehicle and the camera go on a table of a given size, so that the first picture holds together.

Everything here is a first guess for a maker to change; `previz check` judges what comes of it.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from itertools import product

from previz import units
from previz.errors import PrevizError
from previz.physics import optics
from previz.physics.exposure import THIRD_STOP_F_NUMBERS, working_f_number
from previz.predictions import noise_limit_on, sharp_disc
from previz.scene import VEHICLE_SIZES, Camera, Mode, recorded_area, taken_for
from previz.units import LENGTH, QuantityError, Tape, shown

Point = tuple[float, float, float]

#: Decimals of a length in each unit a file may be in: about a millimetre.
_DECIMALS = {"mm": 0, "cm": 1, "m": 3, "in": 1, "ft": 2}

_ONE_INCH = 0.0132  # m, width of a 1-inch sensor
#: Whole stops as lenses mark them.
MARKS = (1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0)

_DOWN = 2.0  # times the f-number, to keep the vehicle sharp: two stops, for which the lamps have to make up
_STEEPEST = 0.5  # how far down a camera looks, as rise over run


@dataclass(frozen=True)
class Wish:
    """What a maker says of a first scene: which start, table (width, depth) [m], scale, body and cameras by name.

    unit is the one in which lengths are written. A camera is its text and what was read of it; the first one films.
    then has the further shots on the street of the start.
    """

    start: str
    table: tuple[float, float]
    unit: str
    scale: float
    body: str
    cameras: dict[str, tuple[str, Camera]] = field(default_factory=dict)
    ramp: bool = False
    drive: str = "motor"
    then: tuple[str, ...] = ()

    @property
    def camera(self) -> Camera:
        """The one that films."""
        return next(iter(self.cameras.values()))[1]

    @property
    def size(self) -> tuple[float, float, float]:
        """Length, width and height of the vehicle on the table. [m]"""
        length, width, height = VEHICLE_SIZES[self.body]
        return length / self.scale, width / self.scale, height / self.scale

    def told(self, length: float) -> str:
        """A length [m] as the file has it, a bare number.

        >>> Wish("pass", (1, 1), "in", 50, "van").told(0.1)
        '3.9'
        """
        text = f"{length / LENGTH.factors[self.unit]:.{_DECIMALS[self.unit]}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
        return "0" if text in ("-0", "") else text

    def point(self, *place: float) -> str:
        """A point as the file has it."""
        return f"[{', '.join(self.told(each) for each in place)}]"

    @property
    def tape(self) -> Tape:
        """That of who measures in the file's unit."""
        return Tape("mm" if self.unit == "m" else self.unit)

    def real(self, length: float) -> str:
        """A length of the real thing [m] as the file has it: a guess, so that half a foot is as good as it.

        >>> Wish("pass", (1, 1), "in", 50, "van").real(3.5), Wish("pass", (1, 1), "cm", 50, "van").real(3.5)
        ('11.5 ft full size', '3.5 m full size')
        """
        foot = LENGTH.factors["ft"]
        return self.tape.real_written(length if self.tape.real_unit == "m" else round(2 * length / foot) / 2 * foot)


def table_of(text: str, unit: str) -> tuple[float, float, str]:
    """Width and depth of a table [m], and the unit a file about it is best written in.

    text: `1400x700`, `140 x 70 cm`, `4 ft 6 in by 28 in`; unit is that of bare numbers.

    >>> table_of("1.5 x 0.75 m", "mm"), table_of("1500x750", "mm")
    ((1.5, 0.75, 'm'), (1.5, 0.75, 'mm'))
    >>> table_of("55 x 28 inches", "mm")[2], table_of("5 x 2.5 feet", "mm")[2]
    ('in', 'ft')
    """
    sides = units.two_sides(text)
    if sides is None:
        raise PrevizError(f"{shown(text)} is not the size of a table; write its width and depth, like 1400x700 mm")
    written = units.unit_of(LENGTH, sides[1]) or units.unit_of(LENGTH, sides[0])
    unit = {"'": "ft", '"': "in"}.get(written or "", written or unit)
    unit = taken_for(unit, "a unit for bare lengths") or unit
    try:
        width, depth = (units.parse(LENGTH, side, bare=LENGTH.factors[unit]) for side in sides)
    except QuantityError as error:
        raise PrevizError(f"the table's size: {error}") from None
    if not 0.05 <= min(width, depth) <= max(width, depth) <= 20:
        raise PrevizError(f"{shown(text)} is not the size of a table; width and depth are from 50 mm to 20 m")
    return width, depth, unit if unit in _DECIMALS else "mm"


@dataclass(frozen=True)
class Framed:
    """A camera set up: its lens and mode, how it stands before what it films, and what the picture shows there.

    distance is from the entrance pupil to the vehicle's plane, width and height those of the picture in it. [m]
    """

    camera: Camera
    rate: Fraction
    focal_length: float
    f_number: float
    distance: float
    width: float
    height: float

    @property
    def light_wanted(self) -> float:
        """On the set, for a picture without much noise. [lx]

        A reflected-light meter's K of 12.5 (ISO 2720:1974, from memory), on grey of 18 %.
        """
        iso = noise_limit_on(recorded_area(self.camera, rate_of(self.camera, int(self.rate))[1]))
        working = self.f_number * self.distance / max(self.distance - self.focal_length, 0.1 * self.distance)
        return 12.5 * math.pi * working**2 * 2 * float(self.rate) / (0.18 * iso)  # a shutter of 180 deg

    def sharp_across(self, deep: float) -> bool:
        """Whether what is so deep [m], focused on in its middle, is all sharp."""
        left = self._defocus_left()
        if left == 0:
            return False
        near, far = optics.depth_of_field(self.focal_length, self.f_number, self.distance, left)
        return near <= self.distance - deep / 2 and self.distance + deep / 2 <= far

    def _defocus_left(self) -> float:
        """How wide a disc of defocus counts as sharp beside that of diffraction; 0 where that alone is wider. [m]"""
        mode = rate_of(self.camera, int(self.rate))[1]
        area = recorded_area(self.camera, mode)
        m = float(optics.magnification(self.focal_length, self.distance))
        in_effect = working_f_number(self.f_number, m, self.camera.pupil_magnification)
        disc = float(optics.diffraction_disc(in_effect))
        return float(optics.defocus_allowed(sharp_disc(area, area[0] / mode.width), disc))

    def stopped_down(self, deep: float) -> "Framed":
        """At the widest stop that keeps what is so deep [m] sharp, `_DOWN` at most; as it is where none does."""
        stops = [mark for mark in MARKS if 1 <= mark / self.f_number <= _DOWN * 1.05 and mark <= self.camera.smallest]
        tried = (replace(self, f_number=mark) for mark in stops)
        return self if self.sharp_across(deep) else next((each for each in tried if each.sharp_across(deep)), self)

    @property
    def opening(self) -> float:
        """Diameter of the entrance pupil, by which what is out of focus blurs. [m]"""
        return self.focal_length / self.f_number

    def closed_to(self, opening: float) -> "Framed":
        """At the widest stop whose opening is no wider [m], else at the smallest at which diffraction does not show."""
        closed = (replace(self, f_number=stop) for stop in self._stops if stop > self.f_number)
        able = [self, *(each for each in closed if each._defocus_left() > 0)]
        return next((each for each in able if each.opening <= opening), able[-1])

    def opened_to(self, opening: float) -> "Framed":
        """At the smallest stop whose opening is no narrower [m], else at its widest."""
        opened = [replace(self, f_number=stop) for stop in reversed(self._stops) if stop < self.f_number]
        able = [self, *opened]
        return next((each for each in able if each.opening >= opening), able[-1])

    @property
    def _stops(self) -> list[float]:
        """Those that can be set, the widest first."""
        widest, smallest = widest_on_the_dial(self.camera, self.focal_length), float(self.camera.smallest)
        return [widest, *(stop for stop in THIRD_STOP_F_NUMBERS if widest < stop <= smallest)]

    def at(self, distance: float) -> tuple[float, float]:
        """Width and height of the picture at another distance. [m]"""
        return self.width * distance / self.distance, self.height * distance / self.distance

    def raised(self, in_front: float, aim: float) -> float:
        """How high the camera stands so that the table's front edge, so far in front, stays below the picture. [m]

        aim: the height at which the middle of the picture meets the vehicle's plane. Infinite where no height will do.
        """
        if in_front <= 0:
            return aim
        lower, upper = aim, aim + _STEEPEST * self.distance
        if not self._edge_below(upper, in_front, aim):
            return math.inf
        for _ in range(40):  # the higher the camera, the further below the picture is the edge
            height = (lower + upper) / 2
            lower, upper = (lower, height) if self._edge_below(height, in_front, aim) else (height, upper)
        return upper

    def _edge_below(self, height: float, in_front: float, aim: float) -> bool:
        bottom = math.atan2(height - aim, self.distance) + math.atan2(self.height / 2, self.distance)
        return height > 1.12 * in_front * math.tan(bottom)

    def seen(self, at: Point, aim: Point, backdrop: float) -> tuple[float, float, float, float]:
        """What the picture shows of a set: its least and greatest x, its least y, and how high up the backdrop. [m]

        backdrop: how far from the table's front edge it stands.
        """
        away = math.dist(at, aim)
        ahead = [(end - start) / away for start, end in zip(at, aim, strict=True)]
        level = math.hypot(ahead[0], ahead[1])
        right = (ahead[1] / level, -ahead[0] / level, 0.0)
        above = (-ahead[0] * ahead[2] / level, -ahead[1] * ahead[2] / level, level)
        sides, near, top = [], backdrop, 0.0
        for u, v in product((-0.5, 0.0, 0.5), repeat=2):
            across, up = u * self.width / self.distance, v * self.height / self.distance
            ray = [ahead[n] + across * right[n] + up * above[n] for n in range(3)]
            reach = (backdrop - at[1]) / ray[1] if ray[1] > 0 else math.inf
            if ray[2] < 0:
                reach = min(reach, -at[2] / ray[2])  # the ground is met first
            sides.append(at[0] + reach * ray[0])
            near = min(near, at[1] + reach * ray[1])
            top = max(top, at[2] + reach * ray[2])
        return min(sides), max(sides), near, top


#: As far as a lens may frame wider or tighter before its camera moves in a comparison; `previz compare` says so.
STAYS = 1.15


def seen_by_all(
    wish: Wish, framed: Framed, at: Point, aim: Point, backdrop: float
) -> tuple[float, float, float, float]:
    """What all cameras of the wish together show of a set, as `Framed.seen`: the others take over the first's picture.

    One that frames more than `STAYS` otherwise from there moves along the axis, no nearer than it focuses.
    """
    every = [framed.seen(at, aim, backdrop)]
    for camera in list(wish.cameras.values())[1:]:
        other = _taken_over(camera[1], framed)
        share = other.distance / framed.distance
        stands = tuple(end + (start - end) * share for start, end in zip(at, aim, strict=True))
        every.append(other.seen((stands[0], stands[1], stands[2]), aim, backdrop))
    lefts, rights, nears, tops = zip(*every, strict=True)
    return min(lefts), max(rights), min(nears), max(tops)


def _taken_over(camera: Camera, framed: Framed) -> Framed:
    rate, mode = rate_of(camera, int(framed.rate))
    across, up = recorded_area(camera, mode)
    wanted = across * framed.distance / framed.width
    focal_length = min(max(wanted, float(camera.lens.shortest)), float(camera.lens.longest))
    far = framed.distance
    if not 1 / STAYS <= wanted / focal_length <= STAYS:
        far = max(far * focal_length / wanted, 1.05 * float(camera.nearest))
    width = across * far / focal_length
    widest = widest_on_the_dial(camera, focal_length)
    return Framed(camera, rate, focal_length, widest, far, width, width * up / across)


def widest_on_the_dial(camera: Camera, focal_length: float) -> float:
    """The widest f-number that can be set at a focal length [m]: between the ends of a zoom, the next third stop."""
    widest = camera.widest_at(focal_length)
    if widest in (camera.widest, camera.widest_at_longest):
        return widest
    return next((stop for stop in THIRD_STOP_F_NUMBERS if widest <= stop <= camera.smallest), widest)


@lru_cache(maxsize=64)  # asked some thousand times of a camera
def rate_of(camera: Camera, fastest: int) -> tuple[Fraction, Mode]:
    """The rate to film at, as fast as the camera goes up to that many frames a second, and the mode for it."""
    able = [mode for mode in camera.modes if mode.fastest >= 24] or list(camera.modes)
    rate = min(max(mode.fastest for mode in able), Fraction(fastest))
    slower = [mode.fastest for mode in able if mode.fastest <= rate]
    if slower and not any(camera.records(mode, rate) for mode in able):
        rate = max(slower)
    mode = camera.mode_for(rate)
    assert mode is not None  # it is no faster than the fastest
    return rate, mode


def framings(camera: Camera, wanted: float, distance: float, fastest: int, stop: float) -> Iterator[Framed]:
    """Ways to show so wide a picture [m], from the distance [m] that is nearest to the one that is wanted.

    stop: the f-number on a 1-inch sensor. A larger one is stopped down further, for depth; a smaller one opened up, for
    light, and because small openings blur more on it.
    """
    rate, mode = rate_of(camera, fastest)
    across, up = recorded_area(camera, mode)
    shortest, longest = float(camera.lens.shortest), float(camera.lens.longest)
    near = 1.2 * float(camera.nearest)
    for further in (1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 0.8, 0.65, 0.5):
        far = max(distance * further, near)
        focal_length = min(max(across * far / wanted, shortest), longest)
        focal_length = min(max(round(focal_length * 1e3) / 1e3, shortest), longest)
        far = max(far if shortest < focal_length < longest else focal_length * wanted / across, near)
        width = across * far / focal_length
        opened = stop * (across / _ONE_INCH) ** (1.0 if across < _ONE_INCH else 0.6)
        f_number = min(MARKS, key=lambda mark: abs(math.log(mark / opened)))
        f_number = min(max(f_number, widest_on_the_dial(camera, focal_length)), float(camera.smallest))
        yield Framed(camera, rate, focal_length, f_number, far, width, width * up / across)
