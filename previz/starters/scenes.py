"""The starting points: short scenes, fitted to a table, with a comment where a maker will want to change something."""

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial

from previz.errors import PrevizError
from previz.scene import USUAL_WANTS, Camera, Lasts, Sharp, choose_from, like_a_phone, listed
from previz.starters.cameras import TYPICAL, camera_text
from previz.starters.fitting import Wish
from previz.starters.further import Placed, alike, further
from previz.starters.lighting import OFF_TABLE, Lamp, Lighting, lighting
from previz.starters.staging import LANE, NoRoom, Staged, lengthwise, most_frames, passing
from previz.units import LENGTH, SPEED, shown, speed_on_tape, together

_FIRST, _EVERY = 4.0, 11.0  # m at full size along the road to the first street lamp, and between two
_CLEAR = 1.0  # m at full size between a street lamp and a backdrop


def _too_small(wish: Wish, start: "_Start") -> PrevizError:
    """What to say where nothing fits: a table of the same shape that would do, for it was tried."""
    length, would = wish.told(wish.size[0]), ""
    for larger in _larger(wish, 1.06, 29):
        with suppress(NoRoom):
            start.staged(larger, start.frames(larger))
            would = _would_do(larger)
            break
    return PrevizError(
        f"the table is too small for the start {wish.start} with {listed(wish.cameras)}: the {wish.body} at "
        f"1:{wish.scale:g} is {length} {wish.unit} long.{would} Or take a shorter --body, smaller models (--scale), "
        "another --camera or another --start"
    )


@dataclass(frozen=True)
class _Start:
    """A starting point: what it is in a sentence, what it settles, and its own lines of the file."""

    says: str
    staged: Callable[[Wish, int], Staged]  # the wish, and frames a second at most
    night: bool = False
    in_depth: bool = False  # it drives along the view, where no lens keeps all of it sharp
    rolls: bool = False  # across the picture and fast enough for a ramp, which stands beside it
    away: bool = False

    @property
    def sees(self) -> int:
        """1 where the camera sees the vehicle's nose, -1 its tail, 0 its side."""
        return (-1 if self.away else 1) if self.in_depth else 0

    def frames(self, wish: Wish) -> int:
        """A second, at most."""
        return _BY_NIGHT[0] if self.night else most_frames(wish)


_ALONG = 5.6  # f-number on a 1-inch sensor where it drives along the view
_BY_NIGHT = (24, 2.0)  # fps, and f-number on a 1-inch sensor


#: The starting points by name.
STARTS: dict[str, _Start] = {
    "pass": _Start("It drives past, from left to right.", lambda wish, fastest: passing(wish, fastest, 4), rolls=True),
    "towards": _Start(
        "It comes towards the camera.",
        lambda wish, fastest: lengthwise(wish, fastest, _ALONG, away=False),
        in_depth=True,
    ),
    "behind": _Start(
        "The camera sees it drive away, from behind.",
        lambda wish, fastest: lengthwise(wish, fastest, _ALONG, away=True),
        in_depth=True,
        away=True,
    ),
    "night": _Start(
        "It drives past at night, under street lamps.",
        lambda wish, fastest: passing(wish, fastest, _BY_NIGHT[1]),
        night=True,
    ),
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
        shots = _together(wish, start)
    except NoRoom:
        with suppress(NoRoom):
            if wish.ramp and _staged(start, replace(wish, ramp=False), start.frames(wish)):
                raise PrevizError(
                    f"a ramp and the way from it do not fit beside the picture of {listed(wish.cameras)}, or the "
                    f"{wish.body} at 1:{wish.scale:g} would stand before it is through: take --drive motor, a larger "
                    "table or a camera with a faster mode"
                ) from None
        raise _too_small(wish, start) from None
    first, high = shots[0].staged, max(shot.staged.backdrop[1] for shot in shots)
    first = replace(first, backdrop=(first.backdrop[0], high))
    light = lighting(wish, shots, night=start.night)
    lines = [*_head(wish, start), *_set(wish, start, first, shots, light), *_rest(wish, start, shots, light)]
    return "\n".join(lines) + "\n"


def _together(wish: Wish, start: _Start) -> tuple[Placed, ...]:
    """The start and the further shots: slowed alike, as fast on screen as each other and as blurred."""
    shots = _of_one_street(wish, start, start.frames(wish))
    rates = [shot.staged.framed.rate for shot in shots]
    if min(rates) < max(rates):
        shots = _of_one_street(wish, start, math.ceil(min(rates)))
    return alike(shots) if wish.then else shots


def _of_one_street(wish: Wish, start: _Start, fastest: int) -> tuple[Placed, ...]:
    first = Placed(wish.start, next(iter(wish.cameras)), _staged(start, wish, fastest), start.sees)
    return first, *(_further(wish, start, first.staged, name, fastest) for name in wish.then)


def _refuse_then(wish: Wish) -> None:
    """Further shots go along the street, and each is another than those before it."""
    along = [name for name, each in STARTS.items() if each.in_depth]
    for number, name in enumerate(wish.then):
        if name not in along or name in (wish.start, *wish.then[:number]):
            left = " or ".join(each for each in along if each != wish.start)
            raise PrevizError(f"{shown(name)} is no further shot on the street of {wish.start}: take {left}, each once")
    if wish.then and wish.ramp:
        raise PrevizError("what is let go on a ramp is filmed passing alone: take --then out, or --drive motor")


def _further(wish: Wish, start: _Start, first: Staged, name: str, fastest: int) -> Placed:
    """As `_fitted`, or what to say where it fits with no camera."""
    try:
        return _fitted(wish, start, first, name, fastest)
    except NoRoom:
        would = _longer_lens(wish, start, first, name, fastest) + _larger_table(wish, start, name)
        raise PrevizError(
            f"the shot {name} does not fit on the street of {wish.start} with {listed(wish.cameras)}: the picture is "
            f"wider than the table beyond the vehicle.{would} Take --then out and begin a scene of its own with it, or "
            "take smaller models (--scale)"
        ) from None


def _longer_lens(wish: Wish, start: _Start, first: Staged, name: str, fastest: int) -> str:
    """How long a lens of one of the cameras would do, else which typical camera; "" where none would: it was tried."""

    def fits(named: str, text: str, cameras: Sequence[Camera], at: int) -> bool:
        with suppress(NoRoom):
            return bool(_fitted(replace(wish, cameras={named: (text, cameras[at])}), start, first, name, fastest))
        return False

    for named, (text, camera) in wish.cameras.items():
        if like_a_phone(camera.lens, camera.sensor):
            continue
        longest = [math.ceil(float(camera.lens.longest) * 1.15**step * 1e3) / 1e3 for step in range(1, 16)]
        longer = [camera.model_copy(update={"lens": camera.lens.model_copy(update={"longest": at})}) for at in longest]
        least = _least(len(longer), partial(fits, named, text, longer))
        if least is not None:
            return f" It would with a lens of {longest[least] * 1e3:.0f} mm on {named} that focuses as near."
    for named, text, camera in map(camera_text, TYPICAL):
        if fits(named, text, [camera], 0):
            return f" It would with --camera {named} as well."
    return ""


def _larger_table(wish: Wish, start: _Start, name: str) -> str:
    """A table of the same shape that would do, for it was tried; "" where none is near."""

    def fits(larger: Wish) -> bool:
        with suppress(NoRoom):
            frames = start.frames(larger)
            return bool(_fitted(larger, start, _staged(start, larger, frames), name, frames))
        return False

    larger = [*_larger(wish, 1.12, 12)]
    least = _least(len(larger), lambda step: fits(larger[step]))
    return _would_do(larger[least]) if least is not None else ""


def _least(count: int, fits: Callable[[int], bool]) -> int | None:
    """The first of so many steps that fits, where mostly all after it do too; one that fits in any case, or None.

    >>> _least(5, lambda step: step > 2), _least(3, lambda step: step > 2)
    (3, None)
    """
    low, high = 0, count - 1
    if not fits(high):
        return None
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle + 1, high)
    return high


def _larger(wish: Wish, step: float, steps: int) -> Iterator[Wish]:
    """The wish on larger and larger tables of one shape."""
    for number in range(1, steps + 1):
        side = [math.ceil(each * step**number * 100) / 100 for each in wish.table]
        yield replace(wish, table=(side[0], side[1]))


def _would_do(larger: Wish) -> str:
    width, depth = map(larger.told, larger.table)
    return f" A table of {width} x {depth} {larger.unit} would do."


def _fitted(wish: Wish, start: _Start, first: Staged, name: str, fastest: int) -> Placed:
    """Filmed by the first camera for which it fits, with room for what the others show of it or without.

    One whose body is clear of the vehicle's way comes before one whose is not. Raises NoRoom.
    """
    stop = _BY_NIGHT[1] if start.night else _ALONG
    orders = [dict([one, *(each for each in wish.cameras.items() if each != one)]) for one in wish.cameras.items()]
    found: list[Placed] = []
    for cameras in (*orders, *(dict([one]) for one in wish.cameras.items())):
        with suppress(NoRoom):
            by = replace(wish, cameras=cameras)
            frames = min(fastest, start.frames(by))
            found.append(further(by, first, name, frames, stop, away=STARTS[name].away, hung=not start.night))
            if found[-1].staged.clear:
                return found[-1]
    if not found:
        raise NoRoom
    return found[0]


def with_a_camera_that_serves(wish: Wish) -> Wish:
    """The wish with the first of its cameras to film for which the start fits the table; as it was where none does.

    One whose body is clear of the vehicle's way comes before one whose is not.
    """
    start = STARTS.get(wish.start)
    if start is None or (wish.ramp and not start.rolls):
        return wish  # for `starting_scene` to say
    names, fits = [*wish.cameras], []
    for first in names:
        order = [first, *(name for name in names if name != first)]
        tried = replace(wish, cameras={name: wish.cameras[name] for name in order})
        with suppress(NoRoom):
            clear = _staged(start, tried, start.frames(tried)).clear
            fits.append(tried)
            if clear:
                return tried
    return fits[0] if fits else wish


def _staged(start: _Start, wish: Wish, fastest: int) -> Staged:
    """With room for what each of the cameras shows, where the table has that; else for the first one's picture."""
    try:
        return start.staged(wish, fastest)
    except NoRoom:
        first = dict([next(iter(wish.cameras.items()))])
        if len(wish.cameras) == 1:
            raise
        return start.staged(replace(wish, cameras=first), fastest)


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


def _set(wish: Wish, start: _Start, staged: Staged, shots: tuple[Placed, ...], light: Lighting) -> list[str]:
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
    lamps = (
        f"  - {{id: lamps, piece: lamp_post, along: road, every: {wish.real(_EVERY)}, "
        f"first: {wish.real(_first_lamp(wish, shots))},\n"
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


def _first_lamp(wish: Wish, shots: tuple[Placed, ...]) -> float:
    """How far along the road it stands, at full size, for none to stand in a backdrop that is hung across. [m]"""
    if not wish.then:
        return _FIRST
    begins, across = shots[0].staged.path[0][0], wish.table[0]
    hung = [shot.on_set((0.0, shot.staged.backdrop[0]))[0] for shot in shots if shot.side]
    past = (OFF_TABLE + 0.06 * across) * wish.scale  # one at the end from which the road comes
    least = max(_FIRST, math.ceil(2 * past) / 2)
    for step in range(int(2 * _EVERY)):
        first = least + step / 2
        row = [begins + (first + number * _EVERY) / wish.scale for number in range(int(across * wish.scale))]
        if all(abs(x - there) > _CLEAR / wish.scale for x in row for there in hung):
            return first
    return least


def _join(wish: Wish, staged: Staged) -> list[str]:
    if not staged.cove:
        return []
    return [f"    join: {_join_of(wish, staged.cove)}  # the sheet bends onto the table, without an edge"]


def _trees(wish: Wish, staged: Staged) -> str:
    """Conifers where there is room for them beside the road, else bushes, a fence or nothing.

    No fence where a further shot may have its backdrop hung through it.
    """
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
    if wish.then or upright < before + 0.2 / wish.scale:
        return "  []"
    at = wish.point(left + 0.3 * (right - left) / 2, upright)
    return f"  - {{id: fence, piece: fence, at: {at}, length: {wish.told(0.2 * (right - left))}}}"


def _rest(wish: Wish, start: _Start, shots: tuple[Placed, ...], light: Lighting) -> list[str]:
    across, (first, *more), key = wish.table[0], shots, light.each[0]
    panel = f"[{wish.told(0.6 * across)}, {wish.told(0.4 * across)}]"
    lamp, tint = ("moon", ", colour: 6000 K") if start.night else ("key", "")
    flux, room = _two_digits(light.output), _two_digits(light.ambient)
    lights = [
        f"  - {{id: {lamp}, panel: {panel}, at: {wish.point(*key.at)}, aim: {wish.point(*key.aim)}, "
        f"output: {flux} lm{tint}}}",
        f"  - {{id: room, ambient: {room} lx{tint}}}",
    ]
    # Brightened with the street's they would hide what comes towards a camera that they dazzle.
    headlamps = max(7500 / wish.scale**2, 0.2) * (1.0 if any(shot.sees > 0 for shot in shots) else light.lamps)
    in_depth = start.in_depth or bool(more)
    return [
        "vehicle:",
        f"  body: {wish.body}  # or mesh: and length: of your own; previz keys vehicle",
        *_driven(wish, first.staged),
        *([f"  headlamps: {_two_digits(headlamps)} lm"] if start.night else []),
        "",
        "lights:  # write what your lamps give, as their boxes say",
        *lights,
        "",
        "cameras:  # write yours as its data sheet says; previz keys cameras",
        *(f"  {each}: {text}" for each, (text, _) in wish.cameras.items()),
        "",
        "shots:",
        *_shot(wish, start, first),
        *(
            line
            for each, there in zip(more, light.each[1:], strict=True)
            for line in ("", *_shot(wish, start, each), *_other(wish, first.staged, each), _moved(wish, lamp, there))
        ),
        "",
        "wants:  # what `previz advise` goes by, the most important first; previz keys wants",
        *(f"  - {want}" for want in _wants(wish, in_depth, first.staged.kmh)),
    ]


def _shot(wish: Wish, start: _Start, it: Placed) -> list[str]:
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


def _other(wish: Wish, first: Staged, it: Placed) -> list[str]:
    """What of the set is otherwise in a further shot: the vehicle's way, and the backdrop at its end."""
    staged = it.staged
    way = ", ".join(wish.point(*it.on_set(each)) for each in staged.way or ())
    own = "" if math.isclose(staged.speed, first.speed) else f", speed: {speed_on_tape(staged.speed, wish.tape.unit)}"
    lines = [f"    vehicle: {{path: [{way}]{own}}}  # along the same street"]
    if not it.side:
        return lines
    join = f", join: {_join_of(wish, staged.cove)}" if staged.cove != first.cove else ""
    hung = f"backdrop: {{side: {it.side}, distance: {wish.told(staged.backdrop[0])}{join}}}"
    return [*lines, f"    {hung}  # hung across the street"]


def _moved(wish: Wish, name: str, lamp: Lamp) -> str:
    """Where a further shot has the lamp."""
    return f"    moved: {{{name}: {{at: {wish.point(*lamp.at)}, aim: {wish.point(*lamp.aim)}}}}}"


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
