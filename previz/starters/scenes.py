"""The starting points: short scenes, fitted to a table, with a comment where a maker will want to change something."""

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

from previz.errors import PrevizError
from previz.scene import USUAL_WANTS, Lasts, Sharp, choose_from, listed
from previz.starters.fitting import Wish
from previz.starters.further import Further, further
from previz.starters.staging import LANE, NoRoom, Staged, lengthwise, most_frames, passing
from previz.units import LENGTH, SPEED, shown, speed_on_tape, together

_OFF_TABLE = 0.05  # m from the table's edge to the stand of a lamp beside it
_MORE_LIGHT = 1.8  # than grey all round takes: most of what stands on a set is darker
_DAY, _NIGHT = 400.0, 8.0  # lx on the vehicle at least
_UNDER = 2.0**-1  # what night is exposed by: a stop under
_LAMPS_TO = 11.0  # lx of the moon on the vehicle, for which street lamps and headlamps are as at full size
_LAMPS_MOST = 2.5  # times that, where the moon has to be brighter


def _too_small(wish: Wish, staged: Callable[[Wish], Staged]) -> PrevizError:
    """What to say where nothing fits: a table of the same shape that would do, for it was tried."""
    larger = wish
    for step in range(1, 30):
        side = [math.ceil(each * 1.06**step * 100) / 100 for each in wish.table]
        larger = replace(wish, table=(side[0], side[1]))
        try:
            staged(larger)
            break
        except NoRoom:
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


@dataclass(frozen=True)
class _Start:
    """A starting point: what it is in a sentence, what it settles, and its own lines of the file."""

    says: str
    staged: Callable[[Wish], Staged]
    night: bool = False
    in_depth: bool = False  # it drives along the view, where no lens keeps all of it sharp
    rolls: bool = False  # across the picture and fast enough for a ramp, which stands beside it
    away: bool = False

    def frames(self, wish: Wish) -> int:
        """A second, at most."""
        return _BY_NIGHT[0] if self.night else most_frames(wish)


_ALONG = 5.6  # f-number on a 1-inch sensor where it drives along the view
_BY_NIGHT = (24, 2.0)  # fps, and f-number on a 1-inch sensor


#: The starting points by name.
STARTS: dict[str, _Start] = {
    "pass": _Start("It drives past, from left to right.", lambda wish: passing(wish, most_frames(wish), 4), rolls=True),
    "towards": _Start(
        "It comes towards the camera.",
        lambda wish: lengthwise(wish, most_frames(wish), _ALONG, away=False),
        in_depth=True,
    ),
    "behind": _Start(
        "The camera sees it drive away, from behind.",
        lambda wish: lengthwise(wish, most_frames(wish), _ALONG, away=True),
        in_depth=True,
        away=True,
    ),
    "night": _Start("It drives past at night, under street lamps.", lambda wish: passing(wish, *_BY_NIGHT), night=True),
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
    _refuse_then(wish)
    if wish.ramp and not start.rolls:
        across = " or ".join(name for name, each in STARTS.items() if each.rolls)
        raise PrevizError(
            f"a ramp does not go with the start {wish.start}: it would stand in the picture, or so slow a vehicle "
            f"would not roll far enough; take --start {across}, or --drive motor"
        )
    try:
        staged = _staged(start, wish)
    except NoRoom:
        with suppress(NoRoom):
            if wish.ramp and _staged(start, replace(wish, ramp=False)):
                raise PrevizError(
                    f"a ramp and the way from it do not fit beside the picture of {listed(wish.cameras)}, or the "
                    f"{wish.body} at 1:{wish.scale:g} would stand before it is through: take --drive motor, a larger "
                    "table or a camera with a faster mode"
                ) from None
        raise _too_small(wish, start.staged) from None
    more = tuple(_further(wish, start, staged, name) for name in wish.then)
    high = max(each.backdrop[1] for each in (staged, *(one.staged for one in more)))
    staged = replace(staged, backdrop=(staged.backdrop[0], high))
    light = _lighting(wish, start, max(each.framed.light_wanted for each in (staged, *(one.staged for one in more))))
    lines = [*_head(wish, start), *_set(wish, start, staged, light), *_rest(wish, start, staged, more, light)]
    return "\n".join(lines) + "\n"


def _refuse_then(wish: Wish) -> None:
    """Further shots go along the street, and each is another than those before it."""
    along = [name for name, each in STARTS.items() if each.in_depth]
    for number, name in enumerate(wish.then):
        if name not in along or name in (wish.start, *wish.then[:number]):
            left = " or ".join(each for each in along if each != wish.start)
            raise PrevizError(f"{shown(name)} is no further shot on the street of {wish.start}: take {left}, each once")
    if wish.then and wish.ramp:
        raise PrevizError("what is let go on a ramp is filmed passing alone: take --then out, or --drive motor")


def _further(wish: Wish, start: _Start, first: Staged, name: str) -> Further:
    """Filmed by the first camera for which it fits, with room for what the others show of it or without."""
    stop = _BY_NIGHT[1] if start.night else _ALONG
    orders = [dict([one, *(each for each in wish.cameras.items() if each != one)]) for one in wish.cameras.items()]
    for cameras in (*orders, *(dict([one]) for one in wish.cameras.items())):
        with suppress(NoRoom):
            by = replace(wish, cameras=cameras)
            return further(by, first, name, start.frames(by), stop, away=STARTS[name].away, hung=not start.night)
    raise PrevizError(
        f"the shot {name} does not fit on the street of {wish.start} with {listed(wish.cameras)}: the picture is wider "
        "than the table beyond the vehicle. Take --then out and begin a scene of its own with it, or a larger table, "
        "smaller models (--scale) or a --camera with a longer lens"
    )


def with_a_camera_that_serves(wish: Wish) -> Wish:
    """The wish with the first of its cameras to film for which the start fits the table; as it was where none does."""
    start = STARTS.get(wish.start)
    if start is None or (wish.ramp and not start.rolls):
        return wish  # for `starting_scene` to say
    names = [*wish.cameras]
    for first in names:
        order = [first, *(name for name in names if name != first)]
        tried = replace(wish, cameras={name: wish.cameras[name] for name in order})
        with suppress(NoRoom):
            _staged(start, tried)
            return tried
    return wish


def _staged(start: _Start, wish: Wish) -> Staged:
    """With room for what each of the cameras shows, where the table has that; else for the first one's picture."""
    try:
        return start.staged(wish)
    except NoRoom:
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


def _set(wish: Wish, start: _Start, staged: Staged, light: "_Lighting") -> list[str]:
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
    lit = _two_digits(max(50000 / wish.scale**2, 0.5) * light.lamps)
    # Past a backdrop that is hung at the end of the street, for a further shot.
    first = max(4.0, (_OFF_TABLE + 0.06 * wish.table[0]) * wish.scale) if wish.then else 4.0
    lamps = (
        f"  - {{id: lamps, piece: lamp_post, along: road, every: {wish.real(11)}, first: {wish.real(first)},\n"
        f"     offset: {wish.real(LANE * staged.lanes / 2 + 1)}, turn: -90 deg, height: {wish.real(4.5)},\n"
        f"     lit: {lit} lm}}  # turned, so that their arms reach over the road"
    )
    return [
        "set:",
        f"  table: {{width: {width}, depth: {depth}}}",
        f"  ground: {{surface: {surface}}}",
        f"  road: {{lane: {wish.real(LANE)}, lanes: {staged.lanes}, centre: [{path}]}}",
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


def _join(wish: Wish, staged: Staged) -> list[str]:
    if not staged.cove:
        return []
    return [f"    join: {_join_of(wish, staged.cove)}  # the sheet bends onto the table, without an edge"]


def _trees(wish: Wish, staged: Staged) -> str:
    """Conifers where there is room for them beside the road, else bushes, a fence or nothing."""
    (left, before), (right, after) = staged.trees
    road = LANE * staged.lanes if staged.path[0][0] == staged.path[1][0] else 0.0  # it runs through their area
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


def _lighting(wish: Wish, start: _Start, wanted: float) -> _Lighting:
    """As much light on the side of the vehicle that the camera sees as a picture without much noise takes.

    wanted: for grey all round [lx].
    """
    across, depth = wish.table
    at, aim = (0.2 * across, -0.1 * depth, max(0.6 * max(wish.table), 0.5)), (across / 2, 0.5 * depth, 0.0)
    lux = max(_NIGHT, _UNDER * _MORE_LIGHT * wanted) if start.night else max(_DAY, _MORE_LIGHT * wanted)
    key, ambient = (0.62 * lux, 0.65 * lux) if start.night else (0.8 * lux, 0.3 * lux)
    # A panel gives pi d^2 E / cos of its light to what faces it so far off; the vehicle's side stands upright.
    away = math.dist(at, aim)
    output = math.pi * away**2 * key / ((aim[1] - at[1]) / away)
    return _Lighting(at, aim, output, ambient, min(max(key / _LAMPS_TO, 1.0), _LAMPS_MOST))


def _rest(wish: Wish, start: _Start, staged: Staged, more: tuple[Further, ...], light: "_Lighting") -> list[str]:
    across = wish.table[0]
    panel = f"[{wish.told(0.6 * across)}, {wish.told(0.4 * across)}]"
    lamp, tint = ("moon", ", colour: 6000 K") if start.night else ("key", "")
    flux, room = _two_digits(light.output), _two_digits(light.ambient)
    lights = [
        f"  - {{id: {lamp}, panel: {panel}, at: {wish.point(*light.at)}, aim: {wish.point(*light.aim)}, "
        f"output: {flux} lm{tint}}}",
        f"  - {{id: room, ambient: {room} lx{tint}}}",
    ]
    moving = "headlamps" if start.night else ""
    in_depth = start.in_depth or bool(more)
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
        *_shot(wish, start, Further(wish.start, next(iter(wish.cameras)), staged, "", lambda place: place)),
        *(line for each in more for line in ("", *_shot(wish, start, each), *_other(wish, staged, each, lamp, light))),
        "",
        "wants:  # what `previz advise` goes by, the most important first; previz keys wants",
        *(f"  - {want}" for want in _wants(wish, in_depth, staged.kmh)),
    ]


def _shot(wish: Wish, start: _Start, it: Further) -> list[str]:
    """A shot; of one in the street of another, without what is then otherwise on the set."""
    staged, lens = it.staged, it.staged.framed.camera.lens
    framed, (begin, focused, end) = staged.framed, staged.moments
    by_night = ", exposure: -1 stop, white_balance: 3600 K" if start.night else ""
    return [
        f"  - id: {it.name}",
        f"    camera: {it.camera}",
        *([f"    focal_length: {framed.focal_length * 1e3:.4g} mm"] if lens.shortest < lens.longest else []),
        f"    f_number: {framed.f_number:g}",
        f"    at: {wish.point(*it.on_set(staged.at))}  # the middle of the lens",
        f"    aim: {wish.point(*it.on_set(staged.aim))}  # or vehicle, to follow it",
        f"    focus: vehicle at {focused:.2f} s  # set once there; or vehicle, to follow it",
        f"    capture: {{rate: {framed.rate} fps{by_night}}}",
        "    playback: 24 fps",
        f"    start: {begin:.2f} s  # on set; 0 is when it passes the "
        + ("foot of its ramp" if staged.ramp else "start of its path"),
        f"    duration: {end - begin:.2f} s",
    ]


def _other(wish: Wish, first: Staged, it: Further, lamp: str, light: "_Lighting") -> list[str]:
    """What of the set is otherwise in a further shot: the vehicle's way, and all that looks along with the camera."""
    staged = it.staged
    way = ", ".join(wish.point(*it.on_set(each)) for each in staged.way or ())
    own = "" if staged.kmh == first.kmh else f", speed: {speed_on_tape(staged.speed, wish.tape.unit)}"
    lines = [f"    vehicle: {{path: [{way}]{own}}}  # along the same street"]
    if not it.side:
        return lines
    join = f", join: {_join_of(wish, staged.cove)}" if staged.cove != first.cove else ""
    lit = (staged.aim[0], staged.aim[1], 0.0)
    aside, back, up = (to + at - aim for to, at, aim in zip(lit, light.at, light.aim, strict=True))
    stands = (min(aside, -_OFF_TABLE), back, up)
    return [
        *lines,
        f"    backdrop: {{side: {it.side}, distance: {wish.told(staged.backdrop[0])}{join}}}  # hung across the street",
        f"    moved: {{{lamp}: {{at: {wish.point(*it.on_set(stands))}, aim: {wish.point(*it.on_set(lit))}}}}}",
    ]


def _join_of(wish: Wish, cove: float) -> str:
    return f"cove {wish.told(cove)} {wish.unit}" if cove else "straight"


def _driven(wish: Wish, staged: Staged) -> list[str]:
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
    # Never lower, it would stand before it is through; nor bent more, its bumper would scrape.
    high, bent = (math.ceil(each / step - 1e-6) * step for each in (ramp.height, ramp.foot_radius))
    height, long, radius = (
        f"{each / 0.0254:.2f} in" if inches else wish.told(each) for each in (high, ramp.length, bent)
    )
    # Seen from above, with what holds the vehicle behind its release.
    reach = ramp.length * math.cos(float(ramp.angle)) + float(ramp.tangent) + wish.size[0] / 2
    off = ", support: floor" if staged.way is not None and reach > staged.way[0][0] else ""
    return [
        f"  path: [{way}]  # from the foot of the ramp, which stands behind it",
        "  launch:  # let go on a ramp, which takes no motor; time a few runs of your own, previz guide launch",
        f"    ramp: {{height: {height}, length: {long}, foot_radius: {radius}{off}}}  # {looks} on screen, halfway",
    ]


def _wants(wish: Wish, in_depth: bool, kmh: int) -> list[str]:
    """What is usual, and the speed that the table speed was chosen for."""
    least, most = (wish.tape.road(share * kmh / 3.6) for share in (0.75, 1.25))
    speed = f"{{speed: {together((least, most), ' to ')}}}"
    usual = [want for want in USUAL_WANTS if not (in_depth and isinstance(want, Sharp))]
    return [line for want in usual for line in (str(want), *([speed] if isinstance(want, Lasts) else []))]
