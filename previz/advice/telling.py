"""Plans in words and numbers for people: what to dial in and to measure, what binds, what gave way, why others lost."""

import math
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.advice.applied import Checked, checked
from previz.advice.choices import Option
from previz.advice.demands import Demand, limit_told, miss_as_told, told, unit_of
from previz.advice.plans import Bind, Lost, Met, Plan, Relaxation, Relaxed, Row, Wanted
from previz.advice.problem import Problem
from previz.advice.search import Way, better, closed_in
from previz.advice.variants import brighter
from previz.errors import PrevizError
from previz.layout import back_plane, backdrop_plane, launch_of
from previz.physics.exposure import nearest_third_stop
from previz.physics.pacing import EVERYDAY
from previz.predictions import (
    Change,
    Finding,
    Verdict,
    focus_marks,
    iso_shown,
    noise_limit_on,
    past_the_set,
    predict,
    view_of,
    what_covers,
)
from previz.scene import (
    ALIKE,
    HIGHEST_BACKDROP,
    LARGEST_TABLE,
    MID_FRAME,
    Fills,
    Focus,
    PlaceKey,
    Range,
    Scene,
    ScreenSpeed,
    Sharp,
    Shot,
    Zoom,
    paced_by,
    rewritten,
)
from previz.units import TIME, text_of, together, told_beside

Array = NDArray[np.float64]

#: A limit binds where drawing it out brings what is missed so much nearer. [stops]
_WORTH = 0.15

#: What may be had without drawing it out is told from so much of what that brings.
_TELLING = 0.1

#: A shot that lasts so many frames longer than reckoned, for frames at its ends that are not looked at.
_SPARE_FRAMES = 2

#: Rounds in which a way is made better with and without a limit drawn out.
_CLOSER = 4

#: Lenses and bodies for "a little more": a longer lens, a nearer focus, a smaller stop, a field of the set.
_LONGER, _NEARER, _FIELD, _LIGHT = 1.25, 0.7, 1.15, 2.0

#: What holds back a picture that sees past the set, and one that is dark.
_BEHIND, _THE_LIGHT = "What stands behind", "The light"

#: No lamps are told that are more than so many times as bright as those there are, nor how bright to less than this.
_BRIGHTEST, _SPARE = 8.0, 1.03

#: The largest backdrop that is tried of one that would do, against the one there is, and how finely. [-], [m]
_LARGEST, _FINE = 6.0, 0.002
_SIDES = "width", "height"


def plan_of(found: Checked) -> Plan:
    """A way that was checked, as a plan."""
    problem = found.problem
    answer = answer_of(found)
    return Plan(
        found.scene,
        found.shot,
        found.changes,
        settings_of(found),
        marks_of(problem, found),
        answer.meets,
        answer.misses,
        tuple(_of_the_scene(problem, each) for each in found.predictions.told if each.verdict is not Verdict.FINE),
        tuple(binds_of(problem, found)),
        any(each != was for each, was in _heights(found)),
    )


#: Why a plan comes behind one that misses its wants by more.
_SWAPS = "this one comes nearer to what it misses, but check finds {} to watch in it, and {} in the plan before"


def _heights(found: Checked) -> Iterator[tuple[str, str]]:
    """How high the lens stands, above the table or below, at each of its keys; and as it is written."""
    problem, tape = found.problem, found.scene.tape
    written = problem.before or problem.scene
    was = written.shots[problem.scene.shots.index(problem.shot)].at
    for now, before in zip(_places(found.shot.at), _places(was), strict=True):
        yield tape(abs(now[2])), tape(abs(before[2]))


def _places(at: Any) -> list[Any]:
    """Where a camera stands [m]: one place, or one at each of its keys."""
    return [key.at for key in at] if isinstance(at[0], PlaceKey) else [at]


def only_swaps(written: Checked, found: Checked) -> bool:
    """Whether it comes nearer to wants, but meets none more and no must nearer, and `check` finds more of it to watch.

    `check` would send who takes it back to what is written.
    """
    rows = list(zip(found.problem.demands, written.misses, found.misses, strict=True))
    gains = any(miss == 0 < was or (demand.hard and miss < was) for demand, was, miss in rows)
    return found is not written and not gains and found.watched > written.watched


def behind_of(better: Checked, found: Checked) -> str:
    """What the order of two plans goes by, the first in which they differ; "" where it is not their own.

    As `search.key_of` ranks them: each must that is missed, by how much, each other want, and then all taken together.
    """
    if found.key <= better.key:
        return _SWAPS.format(found.watched, better.watched) if only_swaps(better, found) else ""
    demands = found.problem.demands
    hard, soft = ([each for each in demands if each.hard is must] for must in (True, False))
    asked = [*hard, *hard, *soft]
    # Two figures of what check stops stand before them in a key: how much of it there is, and by how much.
    first = next(at for at, (one, other) in enumerate(zip(better.key, found.key, strict=True)) if one != other) - 2
    if first < 0:
        return "check stops this one for more"
    if first == len(asked):
        return "this one meets the same wants; what it misses, its noise and what it changes come to more together"
    demand, both = asked[first], better.misses[demands.index(asked[first])] > 0
    how = "misses by more" if both else "misses"
    return f"this one {how} {words_of(demand)}, {'a must' if demand.hard else 'the first want in which they differ'}"


def answer_of(found: Checked) -> Wanted:
    """How a shot that was checked answers what is wanted of it."""
    noise = f"ISO {iso_shown(_iso_of(found))}" if _shows_noise(found) else ""
    return replace(answered(found.shot, found.problem.demands, found.values), stops=len(found.stops), noise=noise)


def answered(shot: Shot, demands: Sequence[Demand], values: Sequence[float]) -> Wanted:
    """Which wants of a shot the values of their figures meet, and which they miss."""
    pairs = list(zip(demands, values, strict=True))
    missed = tuple(_met(*pair, _stretch_and_moment(shot, pair[0])) for pair in pairs if miss_as_told(*pair) > 0)
    met = tuple(_met(*pair) for pair in pairs if miss_as_told(*pair) <= 0)
    return Wanted(shot.id, met, missed)


def _stretch_and_moment(shot: Shot, demand: Demand) -> str:
    """Where focus is set mid-frame and the vehicle is wanted sharp mid-frame: that is a moment, this a stretch."""
    once = isinstance(shot.focus, Focus) and shot.focus.target is not None and shot.focus.target.moment == MID_FRAME
    if not once or not isinstance(demand.want, Sharp) or demand.want.sharp != MID_FRAME:
        return ""
    return " (all the while it is in the middle third of the picture; focus is set for one moment of that)"


def _met(demand: Demand, value: float, why: str = "") -> Met:
    """A want with the figure that answers it; why: what else is to be said of it."""
    return Met(
        demand.key,
        words_of(demand) + why,
        demand.quantity,
        value,
        demand.limit(value),
        unit_of(demand),
        told(demand, value),
        demand.hard,
        limit_told(demand, value),
    )


def words_of(demand: Demand) -> str:
    """What is wanted, as the file says it: `sharp: mid-frame`; a speed in the unit that people read it in."""
    if isinstance(demand.want, ScreenSpeed):
        return f"speed: {_range_told(demand)}"
    said = str(demand.want.model_copy(update={"must": False, "shot": None})).strip("{}")
    if isinstance(demand.want, Fills) and demand.want.fills.least == demand.want.fills.most:
        within = demand.want.range
        said = f"{said} ({100 * within.least:g} to {100 * within.most:g} % will do)"
    return said


def _range_told(demand: Demand) -> str:
    least, most = (told(demand, end) for end in (demand.range.least, demand.range.most))
    if math.isinf(demand.range.least) or demand.range.least <= 0:
        return f"at most {most}"
    return f"at least {least}" if math.isinf(demand.range.most) else together((least, most), " to ")


def _of_the_scene(problem: Problem, finding: Finding) -> Finding:
    """A finding on the shot alone, its changes written for the scene that has others."""
    number = problem.scene.shots.index(problem.shot)
    changes = tuple(replace(each, key=each.key.replace("shots[0]", f"shots[{number}]")) for each in finding.changes)
    return replace(finding, changes=changes)


# --- what to dial in, what to measure ---


def settings_of(found: Checked) -> tuple[Row, ...]:
    """Camera, mode, rate, shutter, focal length, stop and ISO."""
    view, shot, capture = found.view, found.shot, found.shot.capture
    angle = 360 * capture.exposure_time * float(capture.rate)
    rows = [
        Row("camera", shot.camera),
        Row("picture", f"{view.mode.width} x {view.mode.height}"),
        Row("rate", f"{float(capture.rate):g} fps{_not_sure(found)}, played at {float(shot.playback):g}"),
        Row("shutter", f"{text_of(TIME, capture.exposure_time)} ({angle:.0f} deg)"),
        Row("focal length", f"{shot.focal_length * 1000:.4g} mm"),
        Row("stop", f"f/{shot.f_number:g}"),
    ]
    limit = noise_limit_on(view.area)
    iso = _iso_of(found)
    noisy = f"; noise shows from about {iso_shown(limit)}" if _shows_noise(found) else ""
    if capture.iso != "auto":
        return (*rows, Row("ISO", f"{capture.iso}{noisy}"))
    low, high = view.camera.iso
    known = math.isfinite(iso) and iso > 0
    named = min(max(nearest_third_stop(iso), low), high) if known else 0
    return (*rows, Row("ISO", f"about {named}, automatic{noisy}" if known else "none: it is dark"))


def _not_sure(found: Checked) -> str:
    """In words, in brackets and with a space before: that a mode says only how fast its camera films at most."""
    rate, own = found.shot.capture.rate, found.scene.cameras[found.shot.camera]
    if rate <= EVERYDAY or any(rate == mode.fastest * part for mode in own.modes for part in ALIKE):
        return ""
    return (
        f" (a rate within its mode of {float(found.view.mode.fastest):g} fps: see whether {found.shot.camera} has it)"
    )


def marks_of(problem: Problem, found: Checked) -> tuple[Row, ...]:
    """Where the camera stands, how far it is focused, and where the vehicle is let go."""
    scene, shot, shown = found.scene, found.shot, found.predictions.shots[0]
    rows = []
    keyed = isinstance(shot.at[0], PlaceKey)
    places = [(f" at {key.time:g} s", key.at) for key in shot.at] if keyed else [("", shot.at)]
    for (when, place), (height, was) in zip(places, _heights(found), strict=True):
        x, y, z = place
        side = "behind the table's front edge" if y >= 0 else "in front of the table"
        beyond = x - float(scene.set.table.width)
        across, aside = ("right of the table", beyond) if beyond > 0 else ("from the table's left edge", x)
        if x < 0:
            across, aside = "left of the table", -x
        rows += [
            Row(f"lens{when}, {across}", scene.tape(aside)),
            Row(f"lens{when}, {side}", scene.tape(abs(y))),
            Row(
                f"lens{when}, {'above' if z >= 0 else 'below'} the table top",
                height if height == was else f"{height}, not {was}",
            ),
        ]
    stands = scene.vehicle is not None and scene.vehicle.stands  # then it has nobody to follow
    follows = _follows(problem.shot) and not _follows(shot) and not stands
    once = "; set once: it no longer follows the vehicle" if follows else ""
    lens, sensor = _pulled(found) or ([shown.value("focus_distance")], [shown.value("focus_from_sensor")])
    rows.append(Row("focus, from the middle of the lens", _one_after_another(scene, lens) + once))
    rows.append(Row("focus, from the sensor", _one_after_another(scene, sensor)))
    if problem.before is not None:
        rows += [row for _, row in problem.variant.changes(problem.before) if row.label]
    launch = launch_of(scene)
    if launch is not None and problem.launches[found.way.launch].height is not None:
        rows.append(Row("release on the ramp, above the table", scene.tape(launch.ramp.height)))
    before, now = problem.scene.vehicle, scene.vehicle
    if before is not None and now is not None and now.speed is not None and now.speed != before.speed:
        # Given as it is to look on screen: at another rate it drives otherwise, also where a shot gives it no speed.
        drives, drove = (scene.pace(float(each.speed or 0.0)) for each in (now, before))
        shared = ", in every shot" if paced_by(problem.scene, problem.shot) else ""
        rows.append(Row(f"vehicle's speed on set{shared}", f"{drives}, not {drove}"))
        if not problem.launches[0].whole:
            both = (now, found.view), (before, problem.stretch.view)
            ways = [float(each.speed or 0.0) * view.count / float(view.shot.capture.rate) for each, view in both]
            rows.append(Row("vehicle's way that is filmed", f"{scene.tape(ways[0])}, not {scene.tape(ways[1])}"))
    rows += _stretch_told(problem.shot, shot)
    return tuple(rows)


def _pulled(found: Checked) -> tuple[list[float], list[float]] | None:
    """How far it is focused from the lens and from the sensor as it begins, where it turns round and as it ends. [m]

    None where it is set once.
    """
    marks = focus_marks(found.view)
    if not marks:
        return None
    ends = {id(pick(marks, key=lambda mark: mark.distance)) for pick in (min, max)} | {id(marks[0]), id(marks[-1])}
    told = [mark for mark in marks if id(mark) in ends]
    return [mark.distance for mark in told], [mark.from_sensor for mark in told]


def _one_after_another(scene: Scene, lengths: Sequence[float]) -> str:
    """One after the other, as a tape reads them; those that read alike once."""
    said = [scene.tape(length) for length in lengths]
    return together([each for number, each in enumerate(said) if not number or each != said[number - 1]], " to ")


def _stretch_told(was: Shot, now: Shot) -> Iterator[Row]:
    """When a shot begins and how long it lasts, where that is another."""
    for label, before, then in (
        ("begin, on set", was.start, now.start),
        ("duration, on set", was.duration, now.duration),
    ):
        if then is not None and before is not None and abs(float(then) - float(before)) > 5e-4:
            yield Row(label, f"{float(then):.3f} s, not {float(before):.3f} s")


def _follows(shot: Shot) -> bool:
    """Whether the focus goes with the vehicle all through a shot."""
    focus = shot.focus
    target = focus.target if isinstance(focus, Focus) else None
    return target is not None and target.vehicle and target.moment is None


# --- what binds ---


@dataclass(frozen=True)
class _Drawn:
    """A limit drawn out: what it is, what more of it is called, the problem with it, and what that writes."""

    limit: str
    more: str
    problem: Problem
    bought: tuple[Change, ...] = ()


def binds_of(problem: Problem, found: Checked) -> Iterator[Bind]:
    """Limits of which a little more would bring a missed want nearer, without costing one above it; and noise."""
    limits: set[str] = set()
    for bind in _of_wants(problem, found) if any(found.misses) else ():
        limits.add(bind.limit)
        yield bind
    if _THE_LIGHT not in limits:
        yield from _noisy(found)


def _of_wants(problem: Problem, found: Checked) -> Iterator[Bind]:
    lit = problem.metered.learned(found.way.back, found.way.up, found.lux)
    problem = replace(problem, metered=lit)
    limits: set[str] = set()
    if any(each.id == "backdrop.off_set" for each in found.stops):
        limits.add(_BEHIND)
        yield _larger(found)
    for bind in _ends_too_soon(problem, found):
        limits.add(bind.limit)
        yield bind
    nearest = closed_in(problem, [found.way], _CLOSER)[0]
    for drawn in _drawn_out(problem, found):
        brings = _bought(problem, drawn, nearest, found) if drawn.limit not in limits else None
        if brings is not None:
            limits.add(drawn.limit)
            yield brings


def _bought(problem: Problem, drawn: _Drawn, nearest: Way, found: Checked) -> Bind | None:
    """What more of a limit brings, written into the scene and checked, with what else is set then; None of nothing.

    nearest: the best without it. More light is spent on the stop and the shutter alone: where the camera stands, what
    it is focused on and how long its lens is has other reasons.
    """
    if drawn.limit == _THE_LIGHT:
        nearest, then = (_lit(each, found) for each in (problem, drawn.problem))
    else:
        then = closed_in(drawn.problem, [found.way], _CLOSER)[0]
    if _gain(problem.demands, nearest.misses, then.misses, found) is None or then.stops > nearest.stops + 1e-6:
        return None
    held, without = _written(drawn.problem, then, drawn.bought), None
    if held is not None and len(held.stops) > len(found.stops):
        return None
    figures, misses, about = (then.figures, then.misses, "about ") if held is None else (held.values, held.misses, "")
    at = _gain(problem.demands, found.misses, misses, found)
    if at is not None and nearest.misses[at] < found.misses[at] - _WORTH:
        # Some of that may be had for nothing.
        without = _written(problem, nearest, ())
        if without is not None and len(without.stops) > len(found.stops):
            without = None
        if without is not None:
            at = _gain(problem.demands, without.misses, misses, found)
    if at is None:
        return None
    demand = problem.demands[at]
    before = told(demand, found.values[at])
    after = told_beside(told(demand, figures[at]), before)
    more, free = f"{drawn.more}{_set_with_it(found, held)}", ""
    least = found.misses[at] - _TELLING * (found.misses[at] - misses[at])
    if without is not None and 0 < without.misses[at] < least:
        had = told_beside(told(demand, without.values[at]), before)
        free = f"; without it, but{_set_with_it(found, without).removeprefix(',')}, to {had}"
    return Bind(drawn.limit, f"{more}: {words_of(demand)} would come to {about}{after}, not {before}{free}")


def _lit(problem: Problem, found: Checked) -> Way:
    """The best at the place, with the lens, the focus and the rate of a plan: at another stop or shutter."""
    way, focal = found.way, float(found.shot.focal_length)
    own = replace(problem.options[way.option], focals=(focal,), focal=Range(focal, focal))
    options = tuple(own if number == way.option else each for number, each in enumerate(problem.options))
    fixed = replace(problem, kinds=(way.kind,), options=options)
    return better(fixed, replace(way, focal=focal), np.zeros(3))


def _written(problem: Problem, way: Way, bought: tuple[Change, ...]) -> Checked | None:
    """A way checked, with what is bought for it; None where it cannot be written."""
    with suppress(PrevizError):
        return checked(problem, way, bought=bought)
    return None


def _set_with_it(found: Checked, then: Checked | None) -> str:
    """What is set otherwise than in the plan, so that what is bought brings what it does."""
    if then is None:
        return ""
    was = {*settings_of(found), *_place_and_focus(found)}
    rows = [row for row in (*settings_of(then), *_place_and_focus(then)) if row not in was and row.label != "ISO"]
    return f", with {' and '.join(f'{row.label} {row.value}' for row in rows)}" if rows else ""


def _place_and_focus(found: Checked) -> tuple[Row, ...]:
    """The camera's distance, its height and its focus."""
    scene, shown, stretch = found.scene, found.predictions.shots[0], found.problem.stretch
    eye = found.view.cameras[found.view.middle].position
    far = float(np.linalg.norm(eye - stretch.now.aim[stretch.middle]))
    rows = [("distance to what it is aimed at", far), ("height of the lens", float(eye[2]))]
    rows += [("focus, from the middle of the lens,", shown.value("focus_distance"))]
    return tuple(Row(label, scene.tape(value)) for label, value in rows)


def _iso_of(found: Checked) -> float:
    """The one that is set, or that the light asks for."""
    capture = found.shot.capture
    return float(found.figures["iso"]) if capture.iso == "auto" else float(capture.iso)


def _shows_noise(found: Checked) -> bool:
    """Whether its ISO is past where noise shows, as people read the two."""
    iso, limit = _iso_of(found), noise_limit_on(found.view.area)
    return math.isfinite(iso) and iso > limit and iso_shown(iso) != iso_shown(limit)


def _noisy(found: Checked) -> Iterator[Bind]:
    """Lamps so bright that no noise shows; none where lamps that are told are not that bright, or do not do."""
    iso, limit = found.figures["iso"], noise_limit_on(found.view.area)
    if not _shows_noise(found) or iso <= limit:
        return
    lamps, by_lamp = brighter(found.scene, 1.0), found.view.light.vehicle.by_lamp
    share = sum(by_lamp.get(name, 0.0) for name, _, _ in lamps) / max(sum(by_lamp.values()), 1e-9)
    times = _SPARE * (iso / limit - 1 + share) / share if share > 0 else math.inf
    if times > _BRIGHTEST:
        return
    lamps = brighter(found.scene, times)
    scene = rewritten(found.scene, {change.key: change.value for _, change, _ in lamps})
    shot = scene.shots[found.problem.scene.shots.index(found.problem.shot)]
    then = predict(scene.model_copy(update={"shots": (shot,)}), remedies=False).shots[0].value("iso_needed")
    then *= 2.0 ** float(shot.capture.exposure)
    if then <= limit:
        more = f"lamps {times:.2g} times as bright{_each(lamps)}"
        yield Bind(_THE_LIGHT, f"{more}: it takes ISO {iso_shown(then)}, at which no noise shows, not {iso_shown(iso)}")


def _ends_too_soon(problem: Problem, found: Checked) -> Iterator[Bind]:
    """The shot's own end, where the vehicle is still in the picture then and a later one would show it long enough."""
    rows = zip(problem.demands, found.values, found.misses, strict=True)
    short = [(demand, value) for demand, value, miss in rows if demand.figure == "lasts" and miss > 0]
    shot, number = found.shot, found.problem.scene.shots.index(found.problem.shot)
    for demand, value in short[:1]:
        if value >= demand.range.least or shot.duration is None or not found.view.vehicle_in_frame[-1]:
            continue
        rate, playback = float(shot.capture.rate), float(shot.playback)
        wanted = float(shot.duration) + (demand.range.least - value) * playback / rate + _SPARE_FRAMES / rate
        lasts = f"{math.ceil(wanted * 100) / 100:.2f} s"
        try:
            then = rewritten(found.scene, {f"shots[{number}].duration": lasts})
            longer = predict(then.model_copy(update={"shots": (then.shots[number],)}), remedies=False)
            seen = longer.shots[0].value("time_in_frame")
        except (PrevizError, KeyError):
            continue
        stopped = {each.id for each in found.predictions.findings if each.verdict is Verdict.STOP}
        if {each.id for each in longer.findings if each.verdict is Verdict.STOP} <= stopped and seen > value:
            yield Bind(
                "The shot ends while it is in the picture",
                f"a duration of at least {lasts} on set: {words_of(demand)} would come to {told(demand, seen)}, not "
                f"{told(demand, value)}",
            )


def _larger(found: Checked) -> Bind:
    """What it takes so that a picture that sees past the set no longer does: a backdrop that is larger, checked."""
    scene = found.scene
    plane = backdrop_plane(scene)
    if plane is None:
        return Bind(_BEHIND, "a backdrop: there is none")
    now = np.array([plane.width, plane.height])
    size = np.minimum(_LARGEST * now, (LARGEST_TABLE, HIGHEST_BACKDROP))
    if not _hides(found, size):
        still = "a larger backdrop alone it would see past the set still: past the table's own edges"
        return Bind(_BEHIND, f"{still}. {what_covers(found.view)}".removesuffix(". ").removesuffix("."))
    for side in (0, 1):
        least, most = now[side], size[side]
        while most - least > _FINE:
            size[side] = (least + most) / 2
            least, most = (least, size[side]) if _hides(found, size) else (size[side], most)
        size[side] = most if most - now[side] > 2 * _FINE else now[side]
    more = [
        f"{scene.tape(math.ceil(by * 100) / 100)} {word}"
        for by, word in zip(size - now, ("wider", "higher"), strict=True)
        if by > 0
    ]
    return Bind(_BEHIND, f"a backdrop {' and '.join(more)}: the picture would see nothing past the set")


def _hides(found: Checked, size: Array) -> bool:
    """Whether a backdrop of that width and height hides all that is past the set. [m]"""
    written = {f"set.backdrop.{side}": f"{value * 1000:.0f} mm" for side, value in zip(_SIDES, size, strict=True)}
    scene = rewritten(found.scene, written)
    shot = scene.shots[found.problem.scene.shots.index(found.problem.shot)]
    return past_the_set(view_of(scene.model_copy(update={"shots": (shot,)}), shot)) == 0


def _gain(demands: Sequence[Demand], now: Sequence[float], then: Sequence[float], found: Checked) -> int | None:
    """Number of the first want that comes nearer; None where one above it is worse.

    Nearer than the plan has it, and than it would come without that limit drawn out: now and then are misses. [stops]
    """
    for at, (closest, was, becomes) in enumerate(zip(now, found.misses, then, strict=True)):
        least = min(closest, was)
        if becomes > least + _WORTH or (becomes > 0 and least == 0):
            return None
        if least > 0 and becomes < least - min(_WORTH, least / 2):
            return at
    return None


def _drawn_out(problem: Problem, found: Checked) -> Iterator[_Drawn]:
    """What may bind: light, set, lens and stop, nearest focus, rate, and what `may_change` leaves."""
    scene, way = problem.scene, found.way
    option = problem.options[way.option]
    camera = option.camera

    def with_option(changed: Option) -> Problem:
        options = [changed if each == way.option else other for each, other in enumerate(problem.options)]
        return replace(problem, options=tuple(options))

    yield from _twice_the_light(problem)
    yield _more_behind(problem)
    nearest = scene.tape(camera.nearest * _NEARER)
    closer = with_option(replace(option, camera=camera.model_copy(update={"nearest": camera.nearest * _NEARER})))
    key = f"cameras.{option.name}"
    yield _Drawn(f"The nearest focus of {option.name}", f"one that focuses from {nearest}", closer,
                 (Change(f"{key}.nearest", f"{camera.nearest * _NEARER * 1000:.4g} mm"),))  # fmt: skip
    fixed = camera.lens.shortest == camera.lens.longest
    if way.focal > option.focal.most * 0.99:
        longer = Zoom.model_construct(shortest=camera.lens.shortest, longest=option.focal.most * _LONGER)
        lens = replace(option, camera=camera.model_copy(update={"lens": longer}), focals=(),
                       focal=Range(option.focal.least, option.focal.most * _LONGER))  # fmt: skip
        yield _Drawn(
            "The lens" if fixed else "The long end of the lens",
            f"one of {lens.focal.most * 1000:.0f} mm",
            with_option(lens),
        )
    if way.focal < option.focal.least * 1.01:
        shorter = Zoom.model_construct(shortest=option.focal.least / _LONGER, longest=camera.lens.longest)
        lens = replace(option, camera=camera.model_copy(update={"lens": shorter}), focals=(),
                       focal=Range(option.focal.least / _LONGER, option.focal.most))  # fmt: skip
        yield _Drawn(
            "The lens" if fixed else "The short end of the lens",
            f"one of {lens.focal.least * 1000:.1f} mm",
            with_option(lens),
        )
    smallest = float(option.stops[-1])
    smaller = replace(option, stops=np.append(option.stops, [smallest * 2**0.5, smallest * 2]))
    bought = (Change(f"{key}.smallest", f"f/{smallest * 2:.3g}"),)
    yield _Drawn("The smallest stop", f"one of f/{smallest * 2:.2g}", with_option(smaller), bought)


def _twice_the_light(problem: Problem) -> Iterator[_Drawn]:
    """Twice the light of what lamps there are: not of daylight, nor of the room where there are others."""
    lamps, by_lamp, slack = brighter(problem.scene, _LIGHT), problem.light.by_lamp, problem.slack
    total = sum(by_lamp.values())
    if not lamps or total <= 0:
        return
    times = 1 + (_LIGHT - 1) * sum(by_lamp.get(name, 0.0) for name, _, _ in lamps) / total
    more = f"lamps twice as bright{_each(lamps)}"
    lit = problem.with_slack(replace(slack, light=slack.light * times))
    yield _Drawn(_THE_LIGHT, more, lit, tuple(change for _, change, _ in lamps))


def _each(lamps: Sequence[tuple[str, Change, str]]) -> str:
    return f" ({', '.join(f'{name} {text}' for name, _, text in lamps)})"


def _more_behind(problem: Problem) -> _Drawn:
    scene, plane = problem.scene, back_plane(problem.scene)
    wider = problem.with_slack(replace(problem.slack, field=problem.slack.field * _FIELD))
    by = (_FIELD - 1) * plane.width
    if scene.set.backdrop is None:
        return _Drawn(_BEHIND, f"{scene.tape(by)} more table", wider)
    sides = zip(_SIDES, (plane.width, plane.height), strict=True)
    bought = tuple(Change(f"set.backdrop.{side}", f"{(now + by) * 1000:.0f} mm") for side, now in sides)
    return _Drawn(_BEHIND, f"{scene.tape(by)} more backdrop, and as much higher", wider, bought)


# --- what gave way, and what lost ---


def relaxation_of(best: Checked) -> Relaxation | None:
    """The hard wants that the best plan misses, and what stops even it; None where it meets them all and works."""
    problem, found = best.problem, []
    for demand, value, miss in zip(problem.demands, best.values, best.misses, strict=True):
        if demand.hard and miss > 0:
            limit = demand.limit(value)
            found.append(
                Relaxed(
                    demand.key,
                    words_of(demand),
                    limit,
                    value,
                    unit_of(demand),
                    told(demand, limit),
                    told(demand, value),
                )
            )
    return Relaxation(tuple(found), best.stops) if found or best.stops else None


def lost_of(
    checked: Sequence[Checked], ways: Sequence[tuple[Problem, Way]], chosen: Sequence[Checked]
) -> tuple[Lost, ...]:
    """Why the best of each other camera lost, and ways that were checked and did not hold."""
    if not chosen:
        return tuple(Lost(settings_of(each), _why_stopped(each)) for each in checked)
    shown = {each.shot.camera for each in chosen}
    found = []
    for each in sorted(checked, key=lambda each: each.key):
        if each.shot.camera not in shown:
            shown.add(each.shot.camera)
            found.append(Lost(settings_of(each), _why(each, chosen[0])))
    for problem, way in ways:
        name = problem.options[way.option].name
        if name not in shown:
            shown.add(name)
            found.append(Lost(_settings_in_short(problem, way), _why_estimated(problem, way, chosen[0])))
    return tuple(found)


def _why_stopped(found: Checked) -> str:
    return found.stops[0].message if found.stops else "It does no better."


def _why(found: Checked, best: Checked) -> str:
    if found.stops and not best.stops:
        return found.stops[0].message
    return _worse(found.problem, found.values, found.misses, best)


#: Of a camera that check would stop in all that was tried.
_NOWHERE = "No place, lens and stop of it were found that check would not stop."


def _why_estimated(problem: Problem, way: Way, best: Checked) -> str:
    if way.stops > 0:
        with suppress(PrevizError):
            stops = checked(problem, way, remedies=False).stops
            if stops:
                return f"{_NOWHERE} Where it does best: {stops[0].sentence}"
        return _NOWHERE
    return _worse(problem, way.figures, way.misses, best)


def _worse(problem: Problem, values: Sequence[float], misses: Sequence[float], best: Checked) -> str:
    """The first want, as they are ranked, in which it does worse than the best."""
    order = sorted(range(len(problem.demands)), key=lambda at: (not problem.demands[at].hard, at))
    for at in order:
        demand = problem.demands[at]
        if misses[at] > best.misses[at] + 1e-6:
            return (
                f"{words_of(demand)}: {told(demand, values[at])}, where the best plan has "
                f"{told(demand, best.values[at])}."
            )
    return "It does as well in all that is wanted, and is further from the shot as written."


def _settings_in_short(problem: Problem, way: Way) -> tuple[Row, ...]:
    option: Any = problem.options[way.option]
    recording = option.recordings[way.recording]
    return (
        Row("camera", option.name),
        Row("rate", f"{float(recording.rate):g} fps"),
        Row("focal length", f"{way.focal * 1000:.3g} mm"),
        Row("stop", f"f/{way.f_number:g}"),
    )
