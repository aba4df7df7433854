"""The starting points: short scenes, fitted to a table, with a comment where a maker will want to change something."""

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import product

from previz.errors import PrevizError
from previz.layout import chassis
from previz.physics.pacing import rate_for_gravity
from previz.physics.ramp import GRAVITY, Profile, TooShort, height_for_speed, length_for_speed
from previz.predictions import GRAVITY_RATIO, hull_of, usual_body, usual_cove
from previz.scene import USUAL_WANTS, Camera, Lasts, Launch, Sharp, choose_from, listed
from previz.starters.fitting import STAYS, Framed, Wish, framings, rate_of, seen_by_all
from previz.units import LENGTH, SPEED, speed_on_tape, together

_LANE = 3.5  # m at full size
_LEAST_LEFT = 1.3  # so much more energy than it takes through the picture
_KMH = 24  # of the real thing on screen, at most: slow enough that a short run fills a shot
_SLOWEST = 6  # the same at least: walking pace
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
_FOOT = 2.5  # lengths of the vehicle, the radius of the bend at its foot
_BESIDE = 0.015  # m between the vehicle on its way and the camera's body beside it, which turns a little
_MOST_DOWN = 0.35  # how far the camera looks down to be over the vehicle's way, as rise over run
_BEFORE_BACKDROP = 0.62  # lengths of the vehicle between its middle and the backdrop, or the bend at its foot
_LEAST_COVE = 0.02  # m, the tightest bend at the backdrop's foot, where a wider one leaves no room
_AT_EDGE = 0.01  # m that all of it stands from the table's edge, for times are written in hundredths of a second
_RATES = (120, 240)  # fps, the usual one and one for small models
_MORE_LIGHT = 1.8  # than grey all round takes: most of what stands on a set is darker
_DAY, _NIGHT = 400.0, 8.0  # lx on the vehicle at least
_UNDER = 2.0**-1  # what night is exposed by: a stop under
_LAMPS_TO = 11.0  # lx of the moon on the vehicle, for which street lamps and headlamps are as at full size
_LAMPS_MOST = 2.5  # times that, where the moon has to be brighter


@dataclass(frozen=True)
class _Staged:
    """What a starting point settles for the text: the camera, the set round what it sees, and the run.

    path is that of the road, at and aim are the camera's, backdrop has its distance and height and cove the radius of
    the bend at its foot, trees stand between two corners [m]; kmh is its speed on screen, speed that on the table
    [m/s]; moments are when the shot begins, what it is focused on, and when it ends [s]. ramp is what the vehicle rolls
    down, where it has no motor, and way where it then drives, or where it does instead of all of the road.
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


def _lanes(wish: Wish, room: float) -> int:
    return 2 if 2 * _LANE / wish.scale <= room else 1


def _backdrop(wish: Wish) -> float:
    """Where it stands, a little before the table's far edge. [m]"""
    return wish.table[1] - min(0.02, wish.table[1] / 40)


def _fastest(wish: Wish) -> int:
    """Frames a second at most: the usual, or what hops and falls want of a camera that has it in as large a picture."""
    usual, faster = _RATES
    wanted = GRAVITY_RATIO[0] * rate_for_gravity(wish.scale, 24)
    widths = [rate_of(wish.camera, rate)[1].width for rate in _RATES]
    return faster if usual < wanted <= faster and widths[0] <= widths[1] else usual


def _speeds(wish: Wish, framed: Framed, run: float) -> tuple[int, float]:
    """On screen, for a run so long [m] to last a while, and on the table, played back at 24 fps. [km/h, m/s]"""
    kmh = min(_KMH, max(_SLOWEST, math.floor(run * wish.scale / _LASTS * 3.6)))
    return kmh, _on_table(wish, framed, kmh)


def _on_table(wish: Wish, framed: Framed, kmh: int) -> float:
    """The speed that looks like one on screen [m/s]."""
    return kmh / 3.6 / wish.scale * float(framed.rate) / 24


class _NoRoom(Exception):
    """Nothing fits on the table."""


def _too_small(wish: Wish, staged: Callable[[Wish], _Staged]) -> PrevizError:
    """What to say where nothing fits: a table of the same shape that would do, for it was tried."""
    larger = wish
    for step in range(1, 30):
        side = [math.ceil(each * 1.06**step * 100) / 100 for each in wish.table]
        larger = replace(wish, table=(side[0], side[1]))
        try:
            staged(larger)
            break
        except _NoRoom:
            continue
    else:
        larger = wish
    (width, depth), length = map(wish.told, larger.table), wish.told(wish.size[0])
    would = f" A table of {width} x {depth} {wish.unit} would do." if larger is not wish else ""
    return PrevizError(
        f"the table is too small for the start {wish.start} with {listed(wish.cameras)}: the {wish.body} at "
        f"1:{wish.scale:g} is {length} {wish.unit} long.{would} Or take a shorter --body, smaller models (--scale), "
        "another --camera or another --start"
    )


def _passing(wish: Wish, fastest: int, stop: float) -> _Staged:
    """The vehicle drives across the table from left to right, and the camera looks across it."""
    with suppress(_NoRoom):
        return _passed(wish, fastest, stop, _SHARP_ACROSS, sharp=True)
    return _passed(wish, fastest, stop, _ACROSS, sharp=False)


def _passed(wish: Wish, fastest: int, stop: float, widths: tuple[float, ...], *, sharp: bool) -> _Staged:
    """The first of the widths that has room, all of the vehicle sharp or as it comes."""
    (length, broad, height), (across, depth) = wish.size, wish.table
    behind, aim, lanes = _backdrop(wish), 0.9 * height, _lanes(wish, 0.45 * depth)
    cove = usual_cove(behind)
    for wide, share in product(widths, (0.42, 0.5, 0.6)):
        road = share * depth
        beside = road - (_LANE / wish.scale / 2 if lanes == 2 else 0)
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
                except _NoRoom:  # too slow to roll that far: as fast as it may be, and less of the way
                    half, kmh = 0.45 * framed.width, _KMH
                    speed = _on_table(wish, framed, kmh)
                    ramp, moments = _launched(wish, speed, [aside + place for place in (-half, 0, half)])
                start, middle, end = moments
            trees = road + (lanes / 2 * _LANE + 3) / wish.scale
            return _Staged(
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
    raise _NoRoom


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
        raise _NoRoom  # it would stand before it has passed
    own = chassis(wish.body, length)
    profile = Profile(0.0, _LEAST_RAMP * length, _FOOT * length)
    with suppress(TooShort):
        long = max(profile.length, length_for_speed(off, _SLOPE, profile, **losses, chassis=own))
        profile = replace(profile, length=math.ceil(long * 100) / 100)
        profile = replace(profile, height=height_for_speed(off, profile, **losses, chassis=own))
        return profile, [(off - math.sqrt(off**2 - 2 * slows * place)) / slows for place in places]
    raise _NoRoom


def _lengthwise(wish: Wish, fastest: int, stop: float, *, away: bool) -> _Staged:
    """The vehicle drives along the table's depth, towards the camera or away from it, in the picture all along.

    The camera's body is beside its way, or over it, where the table has room for that.
    """
    usual = usual_cove(_backdrop(wish))
    for clear, cove in product(("beside", "over", ""), (usual, _LEAST_COVE, 0.0)):
        with suppress(_NoRoom):
            return _along(wish, fastest, stop, away=away, clear=clear, cove=cove)
    raise _NoRoom


def _along(wish: Wish, fastest: int, stop: float, *, away: bool, clear: str, cove: float) -> _Staged:
    """The first of the runs and pictures that has room; clear: how the camera is out of the vehicle's way, if it is.

    cove: the radius of the bend at the backdrop's foot, up to which it drives. [m]
    """
    (length, wide, height), (across, depth) = wish.size, wish.table
    behind, middle, aim = _backdrop(wish), across / 2, 0.5 * height
    flat = behind - cove
    far, nearest = flat - _BEFORE_BACKDROP * length, 0.12 * depth + length / 2
    lanes = _lanes(wish, 0.5 * across)
    # It keeps to the right: to the left of the picture where it comes, to the right where it goes. The camera stands
    # over the other side.
    aside = (_LANE / wish.scale / 2 if lanes == 2 else 0.6 * wide) * (1 if away else -1)
    beside = middle + (aside if lanes == 2 else 0)
    stands, begins = middle - aside, -0.05 * depth
    low, reach = _body_of(wish.camera)
    far_enough = beside + math.copysign(wide / 2 + reach + _BESIDE, stands - beside)
    for drives, times in product(_RUNS, _AHEAD):
        near = max(far - drives * length, nearest)
        run = (near + far) / 2
        if far - near < 0.999 * _SHORTEST_RUN * length:
            continue
        for framed in framings(wish.camera, times * wide, 22 / wish.scale, fastest, stop):
            up = max(_EYE / wish.scale, _LOWEST, framed.raised(framed.distance - run, aim))
            close = framed.distance - (run - near) - length / 2
            if up == math.inf or close < 1.1 * wish.camera.nearest:
                continue
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
            off_axis = abs(at[0] - beside) * (1 - close / framed.distance)
            if framed.at(close)[0] / 2 < 0.6 * wide + off_axis:
                continue
            left, right, front, top = seen_by_all(wish, framed, at, target, behind)
            overhang = _SPARE * max(right - middle, middle - left) - middle
            if overhang > 0 or front < 0.01 * depth:
                continue
            kmh, speed = _speeds(wish, framed, far - near)
            if clear and (far - near) * wish.scale * 3.6 / kmh < _LONG_ENOUGH * _LASTS:
                continue  # a run that is seen matters more than room for the body
            path = ((middle, begins), (middle, behind))
            comes_from = (far + flat - length / 2) / 2  # all of it before the backdrop
            start, end = sorted((each - begins if away else comes_from - each) / speed for each in (near, far))
            return _Staged(
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
                way=None if away else ((beside, comes_from), (beside, begins)),
            )
    raise _NoRoom


def _body_of(camera: Camera) -> tuple[float, float]:
    """How far body and lens of a camera reach below and beside its entrance pupil; a usual one's if not known. [m]"""
    hull = hull_of(camera if camera.body is not None else usual_body(camera))
    return float(-hull[:, 1].min()), float(abs(hull[:, 0]).max())


@dataclass(frozen=True)
class _Start:
    """A starting point: what it is in a sentence, what it settles, and its own lines of the file."""

    says: str
    staged: Callable[[Wish], _Staged]
    night: bool = False
    in_depth: bool = False  # it drives along the view, where no lens keeps all of it sharp
    rolls: bool = False  # across the picture and fast enough for a ramp, which stands beside it


#: The starting points by name.
STARTS: dict[str, _Start] = {
    "pass": _Start("It drives past, from left to right.", lambda wish: _passing(wish, _fastest(wish), 4), rolls=True),
    "towards": _Start(
        "It comes towards the camera.", lambda wish: _lengthwise(wish, _fastest(wish), 5.6, away=False), in_depth=True
    ),
    "behind": _Start(
        "The camera sees it drive away, from behind.",
        lambda wish: _lengthwise(wish, _fastest(wish), 5.6, away=True),
        in_depth=True,
    ),
    "night": _Start("It drives past at night, under street lamps.", lambda wish: _passing(wish, 24, 2), night=True),
}


def starting_scene(wish: Wish) -> str:
    """The text of a scene file to begin with.

    Raises
    ------
    PrevizError
        Where the table is too small for the vehicle, with what would fit; of a start that is none.
    """
    if wish.start not in STARTS:
        raise PrevizError(choose_from(wish.start, STARTS, "a starting point"))
    start = STARTS[wish.start]
    if wish.ramp and not start.rolls:
        across = " or ".join(name for name, each in STARTS.items() if each.rolls)
        raise PrevizError(
            f"a ramp does not go with the start {wish.start}: it would stand in the picture, or so slow a vehicle "
            f"would not roll far enough; take --start {across}, or --drive motor"
        )
    try:
        staged = _staged(start, wish)
    except _NoRoom:
        with suppress(_NoRoom):
            if wish.ramp and _staged(start, replace(wish, ramp=False)):
                raise PrevizError(
                    f"a ramp and the way from it do not fit beside the picture of {listed(wish.cameras)}, or the "
                    f"{wish.body} at 1:{wish.scale:g} would stand before it is through: take --drive motor, a larger "
                    "table or a camera with a faster mode"
                ) from None
        raise _too_small(wish, start.staged) from None
    return "\n".join([*_head(wish, start), *_set(wish, start, staged), *_rest(wish, start, staged)]) + "\n"


def with_a_camera_that_serves(wish: Wish) -> Wish:
    """The wish with the first of its cameras to film for which the start fits the table; as it was where none does."""
    start = STARTS.get(wish.start)
    if start is None or (wish.ramp and not start.rolls):
        return wish  # for `starting_scene` to say
    names = [*wish.cameras]
    for first in names:
        order = [first, *(name for name in names if name != first)]
        tried = replace(wish, cameras={name: wish.cameras[name] for name in order})
        with suppress(_NoRoom):
            _staged(start, tried)
            return tried
    return wish


def _staged(start: _Start, wish: Wish) -> _Staged:
    """With room for what each of the cameras shows, where the table has that; else for the first one's picture."""
    try:
        return start.staged(wish)
    except _NoRoom:
        first = dict([next(iter(wish.cameras.items()))])
        if len(wish.cameras) == 1:
            raise
        return start.staged(replace(wish, cameras=first))


def _two_digits(value: float) -> str:
    """A number that is a guess, without an exponent.

    >>> _two_digits(6283.2), _two_digits(0.153)
    ('6300', '0.15')
    """
    return f"{value:.2g}" if value < 100 else f"{round(value, 1 - int(math.log10(value))):.0f}"


def _head(wish: Wish, start: _Start) -> list[str]:
    return [
        f"# {start.says} A first guess: change what you like, then run `previz check` on it.",
        "# `previz keys` lists what may be written here. Places are measured from the table's front-left corner:",
        "# x to the right, y away from you, z up. `full size` is the size of the real thing.",
        "# yaml-language-server: $schema=scene.schema.json",
        "",
        "title: My first shot",
        f"scale: 1:{wish.scale:g}",
        f"units: {wish.unit}  # of lengths without a unit",
        "",
    ]


def _set(wish: Wish, start: _Start, staged: _Staged) -> list[str]:
    width, depth = map(wish.told, wish.table)
    distance, height = map(wish.told, staged.backdrop)
    path = ", ".join(wish.point(*each) for each in staged.path)
    surface, sky = ("asphalt", "night") if start.night else ("grass", "overcast")
    hill = wish.told(0.45 * staged.backdrop[1])
    horizon = wish.told(0.16 * staged.backdrop[1])
    layer = (
        f'{{shape: skyline, height: {hill}, colour: "#161a26", haze: 42 %, lit: 0.6, roughness: 0.8}}'
        if start.night
        else f'{{shape: hills, height: {hill}, colour: "#7c8a84", haze: 42 %}}'
    )
    lit = _two_digits(max(50000 / wish.scale**2, 0.5) * _lighting(wish, start, staged).lamps)
    lamps = (
        f"  - {{id: lamps, piece: lamp_post, along: road, every: {wish.real(11)}, first: {wish.real(4)},\n"
        f"     offset: {wish.real(_LANE * staged.lanes / 2 + 1)}, turn: -90 deg, height: {wish.real(4.5)},\n"
        f"     lit: {lit} lm}}  # turned, so that their arms reach over the road"
    )
    return [
        "set:",
        f"  table: {{width: {width}, depth: {depth}}}",
        f"  ground: {{surface: {surface}}}",
        f"  road: {{lane: {wish.real(_LANE)}, lanes: {staged.lanes}, centre: [{path}]}}",
        "  backdrop:",
        f"    distance: {distance}",
        f"    height: {height}",
        *_join(wish, staged),
        f"    painting: {{sky: {sky}, horizon: {horizon},\n      layers: [{layer}]}}",
        "",
        "dressing:  # what stands on the set; previz keys dressing",
        lamps if start.night else _trees(wish, staged),
        "",
    ]


def _join(wish: Wish, staged: _Staged) -> list[str]:
    if not staged.cove:
        return []
    return [f"    join: cove {wish.told(staged.cove)} {wish.unit}  # the sheet bends onto the table, without an edge"]


def _trees(wish: Wish, staged: _Staged) -> str:
    """Conifers where there is room for them beside the road, else bushes, a fence or nothing."""
    (left, before), (right, after) = staged.trees
    road = _LANE * staged.lanes if staged.path[0][0] == staged.path[1][0] else 0.0  # it runs through their area
    deep, wide = (after - before) * wish.scale, (right - left) * wish.scale - road
    room, count = min(deep, wide / 2 if road else wide), int(min(max(deep * wide / 30, 4), 120))
    over = f"[{wish.point(left, before)}, {wish.point(right, after)}]"
    for kind, least, most, needs in (("conifers", 3, 7, 7.0), ("bushes", 0.8, 1.4, 3.5)):
        if room > needs:
            size = f"[{wish.real(least)}, {wish.real(most)}]"
            return f"  - {{id: {kind}, scatter: {kind}, over: {over}, count: {count}, size: {size}}}"
    upright = staged.backdrop[0] - staged.cove - 0.4 / wish.scale
    if upright < before + 0.2 / wish.scale:
        return "  []"
    at = wish.point(left + 0.3 * (right - left) / 2, upright)
    return f"  - {{id: fence, piece: fence, at: {at}, length: {wish.told(0.2 * (right - left))}}}"


@dataclass(frozen=True)
class _Lighting:
    """The lamp over the set: where it stands and what it faces [m], and its output [lm]; the light all round [lx].

    lamps: how much brighter than at full size those that the set has by night are.
    """

    at: tuple[float, float, float]
    aim: tuple[float, float, float]
    output: float
    ambient: float
    lamps: float


def _lighting(wish: Wish, start: _Start, staged: _Staged) -> _Lighting:
    """As much light on the side of the vehicle that the camera sees as a picture without much noise takes."""
    across, depth = wish.table
    at, aim = (0.2 * across, -0.1 * depth, max(0.6 * max(wish.table), 0.5)), (across / 2, 0.5 * depth, 0.0)
    wanted = _MORE_LIGHT * staged.framed.light_wanted
    lux = max(_NIGHT, _UNDER * wanted) if start.night else max(_DAY, wanted)
    key, ambient = (0.62 * lux, 0.65 * lux) if start.night else (0.8 * lux, 0.3 * lux)
    # A panel gives pi d^2 E / cos of its light to what faces it so far off; the vehicle's side stands upright.
    away = math.dist(at, aim)
    output = math.pi * away**2 * key / ((aim[1] - at[1]) / away)
    return _Lighting(at, aim, output, ambient, min(max(key / _LAMPS_TO, 1.0), _LAMPS_MOST))


def _rest(wish: Wish, start: _Start, staged: _Staged) -> list[str]:
    framed, lens = staged.framed, staged.framed.camera.lens
    begin, focused, end = staged.moments
    light, across = _lighting(wish, start, staged), wish.table[0]
    panel = f"[{wish.told(0.6 * across)}, {wish.told(0.4 * across)}]"
    lamp, tint = ("moon", ", colour: 6000 K") if start.night else ("key", "")
    flux, room = _two_digits(light.output), _two_digits(light.ambient)
    lights = [
        f"  - {{id: {lamp}, panel: {panel}, at: {wish.point(*light.at)}, aim: {wish.point(*light.aim)}, "
        f"output: {flux} lm{tint}}}",
        f"  - {{id: room, ambient: {room} lx{tint}}}",
    ]
    name = next(iter(wish.cameras))
    moving = "headlamps" if start.night else ""
    by_night = ", exposure: -1 stop, white_balance: 3600 K" if start.night else ""
    return [
        "vehicle:",
        f"  body: {wish.body}  # or mesh: and length: of your own; previz keys vehicle",
        *_driven(wish, staged),
        *([f"  {moving}: {_two_digits(max(7500 / wish.scale**2, 0.2) * light.lamps)} lm"] if moving else []),
        "",
        "lights:  # write what your lamps give, as their boxes say",
        *lights,
        "",
        "cameras:  # write yours as its data sheet says; previz keys cameras",
        *(f"  {each}: {text}" for each, (text, _) in wish.cameras.items()),
        "",
        "shots:",
        f"  - id: {wish.start}",
        f"    camera: {name}",
        *([f"    focal_length: {framed.focal_length * 1e3:.4g} mm"] if lens.shortest < lens.longest else []),
        f"    f_number: {framed.f_number:g}",
        f"    at: {wish.point(*staged.at)}  # the middle of the lens",
        f"    aim: {wish.point(*staged.aim)}  # or vehicle, to follow it",
        f"    focus: vehicle at {focused:.2f} s  # set once there; or vehicle, to follow it",
        f"    capture: {{rate: {framed.rate} fps{by_night}}}",
        "    playback: 24 fps",
        f"    start: {begin:.2f} s  # on set; 0 is when it passes the "
        + ("foot of its ramp" if staged.ramp else "start of its path"),
        f"    duration: {end - begin:.2f} s",
        "",
        "wants:  # what `previz advise` goes by, the most important first; previz keys wants",
        *(f"  - {want}" for want in _wants(wish, start, staged.kmh)),
    ]


def _driven(wish: Wish, staged: _Staged) -> list[str]:
    """How it gets along: at a speed, or let go on a ramp."""
    unit = wish.tape.road_unit
    looks = f"{staged.kmh * SPEED.factors['km/h'] / SPEED.factors[unit]:.3g} {unit}"
    way = ", ".join(wish.point(*each) for each in staged.way or ())
    if staged.ramp is None:
        far = LENGTH.factors[wish.tape.real_unit]
        on_screen = f"on screen {looks}; 1 {wish.tape.real_unit} in {far / staged.speed:.2g} s"
        speed = f"  speed: {speed_on_tape(staged.speed, wish.tape.unit)}  # {on_screen}; or a launch: from a ramp"
        path = "road" if staged.way is None else f"[{way}]  # from before the backdrop, to which the road goes"
        return [f"  path: {path}", speed, f"  drive: {wish.drive}  # what keeps it at that: motor, thread or hand"]
    ramp = staged.ramp
    inches = wish.unit in ("in", "ft")
    step = 0.01 * 0.0254 if inches else 0.001
    high = math.ceil(ramp.height / step - 1e-6) * step  # never lower: it would stand before it is through
    height, long, radius = (
        f"{each / 0.0254:.2f} in" if inches else f"{each * 1000:.0f} mm"
        for each in (high, ramp.length, ramp.foot_radius)
    )
    # Seen from above, with what holds the vehicle behind its release.
    reach = ramp.length * math.cos(float(ramp.angle)) + float(ramp.tangent) + wish.size[0] / 2
    off = ", support: floor" if staged.way is not None and reach > staged.way[0][0] else ""
    return [
        f"  path: [{way}]  # from the foot of the ramp, which stands behind it",
        "  launch:  # let go on a ramp, which takes no motor; time a few runs of your own, previz guide launch",
        f"    ramp: {{height: {height}, length: {long}, foot_radius: {radius}{off}}}  # {looks} on screen, halfway",
    ]


def _wants(wish: Wish, start: _Start, kmh: int) -> list[str]:
    """What is usual, and the speed that the table speed was chosen for."""
    least, most = (wish.tape.road(share * kmh / 3.6) for share in (0.75, 1.25))
    speed = f"{{speed: {together((least, most), ' to ')}}}"
    usual = [want for want in USUAL_WANTS if not (start.in_depth and isinstance(want, Sharp))]
    return [line for want in usual for line in (str(want), *([speed] if isinstance(want, Lasts) else []))]
