"""Where a starting point puts camera, road, backdrop and run on a table, so that the first picture holds together."""

import math
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import product

from previz.layout import chassis, clears_from
from previz.physics.pacing import rate_for_gravity
from previz.physics.ramp import GRAVITY, Profile, TooShort, height_for_speed, length_for_speed
from previz.predictions import GRAVITY_RATIO, hull_of, usual_body, usual_cove
from previz.scene import Camera, Launch
from previz.starters.fitting import STAYS, Framed, Wish, framings, rate_of, seen_by_all

LANE = 3.5  # m at full size
_LEAST_LEFT = 1.3  # so much more energy than it takes through the picture
_KMH = 24  # of the real thing on screen, at most: slow enough that a short run fills a shot
SLOWEST = 6  # the same at least: walking pace
_LASTS = 3.3  # s on screen that a shot is to last, where the table has room for it at such speeds
_LONG_ENOUGH = 0.8  # of that, for a start with room for the camera's body
_EYE = 1.7  # m at full size: where a person's eyes are
_LOWEST = 0.03  # m: no camera stands lower on its body
_SPARE = 1.08  # how much wider the set is than what the picture shows of it
_ACROSS = (2.8, 2.4, 2.0, 1.7)  # widths of the picture in lengths of the vehicle, the first that fits the table
_SHARP_ACROSS = (2.8, 3.3, 3.9, 4.6, 5.4, 2.4, 2.0, 1.7)  # those in which all of it may be sharp are tried before
_DEEPER = 1.2  # of the vehicle's width, since the camera looks down on it a little
_SEEN_FOR = 0.48  # of picture and vehicle together, to either side of the middle: from when it enters to when it leaves
_AHEAD = (6.0, 7.0, 8.5, 10.0, 12.0, 14.0, 5.0, 4.2)  # the same in its widths, halfway, where it comes or goes
_SHORTEST_RUN = 0.7  # lengths of the vehicle that it drives in the picture, coming or going
_RUNS = (8.0, 6.0, 4.5, 3.3, 2.4, 1.7, 1.2, _SHORTEST_RUN)  # the most that it drives, in its lengths
_SLOPE = math.radians(15)  # of a ramp: gentle enough that its foot takes little
_LEAST_RAMP = 2.0  # lengths of the vehicle that a ramp has at least
_FOOT = 2.5  # lengths of the vehicle, the radius of the bend at its foot, if its bumper needs no more
_BESIDE = 0.015  # m between the vehicle on its way and the camera's body beside it, which turns a little
_MOST_DOWN = 0.35  # how far the camera looks down to be over the vehicle's way, as rise over run
_BEFORE_BACKDROP = 0.62  # lengths of the vehicle between its middle and the backdrop, or the bend at its foot
_AS_HIGH = 3.5  # times the first shot's camera: a cut to one that looks down from higher up shows it
_LEAST_COVE = 0.02  # m, the tightest bend at the backdrop's foot, where a wider one leaves no room
_HUNG = (
    1.0,
    0.85,
    0.7,
    0.55,
    0.45,
    0.35,
    0.28,
)  # of the table's length: where a backdrop hangs across a street
_AT_EDGE = 0.01  # m that all of it stands from the table's edge, for times are written in hundredths of a second
_RATES = (120, 240)  # fps, the usual one and one for small models


@dataclass(frozen=True)
class Staged:
    """What a starting point settles for the text: the camera, the set round what it sees, and the run.

    path is that of the road, at and aim are the camera's, backdrop has its distance and height and cove the radius of
    the bend at its foot, trees stand between two corners [m]; kmh is its speed on screen, speed that on the table
    [m/s]; moments are when the shot begins, what it is focused on, and when it ends [s]. ramp is what the vehicle rolls
    down, where it has no motor, and way where it then drives, or where it does instead of all of the road. clear says
    whether the camera's body is out of that way and the foot of the backdrop bent.
    """

    framed: Framed
    path: tuple[tuple[float, float], ...]
    lanes: int
    at: tuple[float, float, float]
    aim: tuple[float, float, float]
    backdrop: tuple[float, float]
    cove: float
    kmh: int
    speed: float
    moments: tuple[float, float, float]
    trees: tuple[tuple[float, float], tuple[float, float]]
    ramp: Profile | None = None
    way: tuple[tuple[float, float], tuple[float, float]] | None = None
    clear: bool = True

    @property
    def run(self) -> float:
        """How far it drives while it is filmed. [m]"""
        return self.speed * (self.moments[2] - self.moments[0])

    @property
    def fastest(self) -> float:
        """On screen, for it to last long enough in the picture. [km/h]"""
        begins, _, ends = self.moments
        return self.kmh * (ends - begins) * float(self.framed.rate) / 24 / (_LONG_ENOUGH * _LASTS)

    def as_fast_as(self, kmh: int) -> "Staged":
        """The same at another speed on screen; slower, it is filmed for no more than twice as long as shots mostly are.

        Not of one that is let go on a ramp, where all hangs on the speed.
        """
        faster = kmh / self.kmh
        begins, focused, ends = (moment / faster for moment in self.moments)
        half = _LASTS * 24 / float(self.framed.rate)
        moments = (max(begins, focused - half), focused, min(ends, focused + half))
        return replace(self, kmh=kmh, speed=self.speed * faster, moments=moments)


def _lanes(wish: Wish, room: float) -> int:
    return 2 if 2 * LANE / wish.scale <= room else 1


def _backdrop(wish: Wish) -> float:
    """Where it stands, a little before the table's far edge. [m]"""
    return wish.table[1] - min(0.02, wish.table[1] / 40)


def most_frames(wish: Wish) -> int:
    """Frames a second at most: the usual, or what hops and falls want of a camera that has it in as large a picture."""
    usual, faster = _RATES
    wanted = GRAVITY_RATIO[0] * rate_for_gravity(wish.scale, 24)
    widths = [rate_of(wish.camera, rate)[1].width for rate in _RATES]
    return faster if usual < wanted <= faster and widths[0] <= widths[1] else usual


def _speeds(wish: Wish, framed: Framed, run: float) -> tuple[int, float]:
    """On screen, for a run so long [m] to last a while, and on the table, played back at 24 fps. [km/h, m/s]"""
    kmh = min(_KMH, max(SLOWEST, math.floor(run * wish.scale / _LASTS * 3.6)))
    return kmh, _on_table(wish, framed, kmh)


def _on_table(wish: Wish, framed: Framed, kmh: int) -> float:
    """The speed that looks like one on screen [m/s]."""
    return kmh / 3.6 / wish.scale * float(framed.rate) / 24


class NoRoom(Exception):
    """Nothing fits on the table."""


def passing(wish: Wish, fastest: int, stop: float) -> Staged:
    """The vehicle drives across the table from left to right, and the camera looks across it."""
    with suppress(NoRoom):
        return _passed(wish, fastest, stop, _SHARP_ACROSS, sharp=True)
    return _passed(wish, fastest, stop, _ACROSS, sharp=False)


def _passed(wish: Wish, fastest: int, stop: float, widths: tuple[float, ...], *, sharp: bool) -> Staged:
    """The first of the widths that has room, all of the vehicle sharp or as it comes."""
    (length, broad, height), (across, depth) = wish.size, wish.table
    behind, aim, lanes = _backdrop(wish), 0.9 * height, _lanes(wish, 0.45 * depth)
    cove = usual_cove(behind)
    for wide, share in product(widths, (0.42, 0.5, 0.6)):
        road = share * depth
        beside = road - (LANE / wish.scale / 2 if lanes == 2 else 0)
        for tried in framings(wish.camera, wide * length, 16 / wish.scale, fastest, stop):
            framed = tried.stopped_down(_DEEPER * broad)
            up = max(_EYE / wish.scale, _LOWEST, framed.raised(framed.distance - beside, aim))
            if up == math.inf or (sharp and not framed.sharp_across(_DEEPER * broad)):
                continue
            at, target = (across / 2, beside - framed.distance, up), (across / 2, beside, aim)
            left, right, front, top = seen_by_all(wish, framed, at, target, behind)
            overhang = _SPARE * max(right - across / 2, across / 2 - left) - across / 2
            if overhang > 0 or front < 0.01 * depth:
                continue
            begins, shown = -0.05 * across, framed.width + length
            half = min(_SEEN_FOR * shown, (across - length) / 2 - _AT_EDGE)  # all the while it stands on the table
            kmh, speed = _speeds(wish, framed, 2 * half)
            start, middle, end = ((across / 2 + place - begins) / speed for place in (-half, 0, half))
            ramp = way = None
            if wish.ramp:
                # The foot stands out of every camera's picture with all of the vehicle, and the run ends past it.
                aside = 0.5 * STAYS * framed.width + 0.7 * length
                if aside > across / 2:
                    continue
                way = ((across / 2 - aside, beside), (across / 2 + aside, beside))
                try:
                    ramp, moments = _launched(wish, speed, [aside + place for place in (-half, 0, half)])
                except NoRoom:  # too slow to roll that far: as fast as it may be, and less of the way
                    half, kmh = 0.45 * framed.width, _KMH
                    speed = _on_table(wish, framed, kmh)
                    ramp, moments = _launched(wish, speed, [aside + place for place in (-half, 0, half)])
                start, middle, end = moments
            trees = road + (lanes / 2 * LANE + 3) / wish.scale
            return Staged(
                framed,
                path=((begins, road), (1.05 * across, road)),
                lanes=lanes,
                at=at,
                aim=target,
                backdrop=(behind, max(1.15 * top, 3 * height, 2 * cove)),
                cove=cove,
                kmh=kmh,
                speed=speed,
                moments=(start, middle, end),
                trees=((0.0, trees), (across, behind - cove)),
                ramp=ramp,
                way=way,
            )
    raise NoRoom


def _launched(wish: Wish, speed: float, places: list[float]) -> tuple[Profile, list[float]]:
    """A ramp that gives the speed [m/s] halfway, and when [s] the vehicle is at places along its way from the foot [m].

    On the flat it slows down evenly, by g c / (1 + lambda). Its losses are those that a launch has unless it says them.
    """
    length, losses = (
        wish.size[0],
        {name: float(Launch.model_fields[name].default) for name in ("wheel_share", "rolling")},
    )
    slows = GRAVITY * losses["rolling"] / (1 + losses["wheel_share"])
    off = math.sqrt(speed**2 + 2 * slows * places[len(places) // 2])
    if off**2 <= 2 * slows * places[-1] * _LEAST_LEFT:
        raise NoRoom  # it would stand before it has passed
    own = chassis(wish.body, length)
    radius = max(_FOOT * length, clears_from(wish.body, length, _SLOPE))
    profile = Profile(0.0, _LEAST_RAMP * length, math.ceil(radius * 1000 - 1e-6) / 1000)
    with suppress(TooShort):
        long = max(profile.length, length_for_speed(off, _SLOPE, profile, **losses, chassis=own))
        profile = replace(profile, length=math.ceil(long * 100) / 100)
        profile = replace(profile, height=height_for_speed(off, profile, **losses, chassis=own))
        return profile, [(off - math.sqrt(off**2 - 2 * slows * place)) / slows for place in places]
    raise NoRoom


@dataclass(frozen=True)
class Street:
    """What a further shot keeps of the first: the middle of its road across the picture [m], lanes and speed [km/h].

    eye is how high the first one's camera stands [m].

    hung: whether a backdrop may hang across it before its end, past which nothing stands along it.
    aside: whether the first looks across it from the side on which the vehicle keeps, so that this one may not film
    from over the other lane, beyond the line along which it drives.
    """

    middle: float
    lanes: int
    kmh: int
    eye: float
    hung: bool
    aside: bool


def lengthwise(wish: Wish, fastest: int, stop: float, *, away: bool) -> Staged:
    """The vehicle drives along the table's depth, towards the camera or away from it, in the picture all along.

    The camera's body is beside its way, or over it, where the table has room for that.
    """
    behind, pictures = _backdrop(wish), _pictures(wish, fastest, stop)
    for clear, cove in product(("beside", "over", ""), _coves(behind)):
        with suppress(NoRoom):
            return _along(wish, pictures, _Along(away, clear, behind, cove, None))
    raise NoRoom


def lengthwise_on(wish: Wish, fastest: int, stop: float, street: Street, *, away: bool) -> Staged:
    """The same on a street that is there, and long enough in the picture at its speed; else for as long as there is.

    The backdrop hangs across the street, where it has to be nearer than the table's end.
    """
    ends = [share * _backdrop(wish) for share in (_HUNG if street.hung else (1.0,))]
    best, pictures = None, _pictures(wish, fastest, stop)
    for clear, number, behind in product(("beside", "over", ""), range(3), ends):
        cove = _coves(behind)[number]
        if best is not None and not (clear and cove):
            return best  # how fast it may be is worth less than room for the camera's body, and no join in view
        with suppress(NoRoom):
            longer = best.run * 1.01 if best is not None else 0.0
            best = _along(wish, pictures, _Along(away, clear, behind, cove, street, longer))
            if best.fastest >= street.kmh:
                return best
    if best is None:
        raise NoRoom
    return best


def _coves(behind: float) -> tuple[float, float, float]:
    """Radii of the bend at the foot of a backdrop so far behind [m]: as usual, as tight as it may be, and none."""
    return usual_cove(behind), _LEAST_COVE, 0.0


@dataclass(frozen=True)
class _Along:
    """How it is tried: which way it goes; how the camera is out of its way, if it is; where the backdrop stands, and
    the radius of the bend at its foot, up to which it drives [m]; the street, where there is one; and how long a run
    is worth having at least [m].
    """

    away: bool
    clear: str
    behind: float
    cove: float
    street: Street | None
    longer: float = 0.0


def _pictures(wish: Wish, fastest: int, stop: float) -> tuple[Framed, ...]:
    """Ways to show it halfway, the tightest first as far as that is liked."""
    wide = wish.size[1]
    ways = (framings(wish.camera, times * wide, 22 / wish.scale, fastest, stop) for times in _AHEAD)
    return tuple(framed for way in ways for framed in way)


def _along(wish: Wish, pictures: tuple[Framed, ...], tried: _Along) -> Staged:
    """The first of the runs and pictures that has room."""
    away, clear, behind, cove, street = tried.away, tried.clear, tried.behind, tried.cove, tried.street
    (length, wide, height), (across, depth) = wish.size, wish.table
    middle, aim = street.middle if street is not None else across / 2, 0.5 * height
    flat = behind - cove
    far, nearest = flat - _BEFORE_BACKDROP * length, 0.12 * min(depth, behind) + length / 2
    lanes = street.lanes if street is not None else _lanes(wish, 0.5 * across)
    # It keeps to the right: to the left of the picture where it comes, to the right where it goes. The camera stands
    # over the other side, where nothing keeps it on this one.
    aside = (LANE / wish.scale / 2 if lanes == 2 else 0.6 * wide) * (1 if away else -1)
    beside = middle + (aside if lanes == 2 else 0)
    stands, begins = middle - aside, -0.05 * depth
    if street is not None and street.aside:
        stands = 2 * beside - stands
    low, reach = _body_of(wish.camera)
    far_enough = beside + math.copysign(wide / 2 + reach + _BESIDE, stands - beside)
    for drives in _RUNS:
        near = max(far - drives * length, nearest)
        run = (near + far) / 2
        if far - near < max(0.999 * _SHORTEST_RUN * length, tried.longer):
            continue
        for framed in pictures:
            up = max(_EYE / wish.scale, _LOWEST, framed.raised(framed.distance - run, aim))
            close = framed.distance - (run - near) - length / 2
            if up == math.inf or close < 1.1 * wish.camera.nearest:
                continue
            if _SPARE * framed.at(framed.distance + behind - run)[0] > across and framed.height > 2 * (up - aim):
                continue  # however it stands, it sees past the backdrop: to find that out by rays takes longer
            at, target = (stands, run - framed.distance, up), (beside, run, aim)
            # As far as the table is driven along, and lower than the vehicle is high.
            in_the_way = at[1] > begins - length and up - low < height + _BESIDE
            if in_the_way and clear == "beside" and abs(far_enough - beside) > abs(stands - beside):
                at = (far_enough, at[1], up)
            if in_the_way and clear == "over":
                at = (stands, at[1], height + _BESIDE + low)
                below = (at[2] - aim) * (1 - close / framed.distance)  # the axis, where it is nearest
                if at[2] - aim > _MOST_DOWN * framed.distance or framed.at(close)[1] / 2 < 0.5 * height + below:
                    continue
            if street is not None and at[2] > _AS_HIGH * max(street.eye, _EYE / wish.scale):
                continue
            off_axis = abs(at[0] - beside) * (1 - close / framed.distance)
            if framed.at(close)[0] / 2 < 0.6 * wide + off_axis:
                continue
            left, right, front, top = seen_by_all(wish, framed, at, target, behind)
            spare = min(middle - _SPARE * (middle - left), across - middle - _SPARE * (right - middle))
            if spare < 0 or front < 0.01 * depth:
                continue
            kmh, speed = _speeds(wish, framed, far - near)
            if clear and (far - near) * wish.scale * 3.6 / kmh < _LONG_ENOUGH * _LASTS:
                continue  # a run that is seen matters more than room for the body
            path = ((middle, begins), (middle, behind))
            comes_from = (far + flat - length / 2) / 2  # all of it before the backdrop
            begin, end = (begins, comes_from) if away else (comes_from, begins)
            way = (beside, begin), (beside, end)
            start, end = sorted((each - begins if away else comes_from - each) / speed for each in (near, far))
            return Staged(
                framed,
                path=path if away else path[::-1],
                lanes=lanes,
                at=at,
                aim=target,
                backdrop=(behind, max(1.15 * top, 3 * height, 2 * cove)),
                cove=cove,
                kmh=kmh,
                speed=speed,
                moments=(start, (start + end) / 2, end),
                trees=((0.0, 0.5 * depth), (across, flat)),
                way=None if away and street is None else way,
                clear=bool(clear and cove),
            )
    raise NoRoom


def _body_of(camera: Camera) -> tuple[float, float]:
    """How far body and lens of a camera reach below and beside its entrance pupil; a usual one's if not known. [m]"""
    hull = hull_of(camera if camera.body is not None else usual_body(camera))
    return float(-hull[:, 1].min()), float(abs(hull[:, 0]).max())
