"""`advise(scene, shot)`: the best shots that this kit can make.

1. The shot is laid out as a problem: what may change, what is wanted, what its light and set allow (`problem`).
2. Thousands of ways to make it are estimated at once, and the best of each camera closed in on (`search`).
3. The best are written into the scene and checked, as their maker would (`applied`). One that `check` stops, or that
   misses what the estimate promised, goes back to be closed in on once more, a little further from what it ran into.
4. Where more may be built or lit otherwise, that is searched too, and as little of it kept as does; and where check
   would stop all that can be made of the aim as it is written, so are two others (`variants`). An aim that may be
   elsewhere is looked for about where it is.
5. Of those that hold the best are told, with what holds them back (`telling`).
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import islice, pairwise
from typing import Any

import numpy as np

from previz.advice.applied import Checked, checked
from previz.advice.demands import MUCH, Demand
from previz.advice.estimate import WRITTEN
from previz.advice.plans import Advice, Lost, Plan, Row
from previz.advice.problem import Problem, built_otherwise, problem_of
from previz.advice.search import Way, closed_in, search
from previz.advice.telling import answer_of, behind_of, lost_of, only_swaps, plan_of, relaxation_of
from previz.advice.variants import Variant, aimed_elsewhere, looked_otherwise, reach_of_aim, variants_of
from previz.errors import PrevizError
from previz.predictions import NOISE_STOPS, Change, ShotView, noise_limit_on, view_of
from previz.scene import Range, Scene, Setup, Shot, own_changes, paced_by, rewritten, setup_of

#: So many other aims are searched, where check would stop all that can be made of the one that is written.
_LOOKS = 2

#: An aim that may be elsewhere is looked for in so many steps to half of how far it may be, then in half of them.
_AIM_STEPS = 2

#: So many ways are checked, at most, and each so often.
_CHECKS, _TRIES = 10, 3

#: A plan that misses a want by so much more than the best one misses it by far: twice or half of what is wanted. Common
#: practice, no source. [stops]
_TOO_FAR = 1.0

#: The light was estimated well enough where it is so near to what the meter reads there. [stops]
_LIT = 0.15

#: Focal lengths this near are one. [m]
_SAME_LENS = 1e-4

#: Rates this near are one. [frames/s]
_SAME_RATE = 1e-6

#: By how much less of the field that the set covers is used after a try that still saw past it.
_NARROWER = 0.985

#: A figure that was a little past the end of what is wanted is brought so much further in. [-]
_SURELY = 1.002


def advise(scene: Scene, shot: Shot, plans: int = 3) -> Advice:
    """The best plans for a shot, within what the scene says may change.

    Plans are told apart by their camera and by which wants they meet. None of them is outdone in everything that is
    wanted by one above it, nor by the shot as it is written; none misses more wants by far than it gains over
    the best one, nor more than half of all where that does not. How they are ranked is told in `search`.

    Parameters
    ----------
    scene : Scene
        As `read_scene` returned it, with `wants` and `may_change`.
    shot : Shot
        One of the scene's.
    plans : int
        How many at most.

    Raises
    ------
    PrevizError
        Where no file stands behind the scene, nothing drives, no camera is left by what may change, or the shot cannot
        be laid open as it is written.
    """
    setup = setup_of(scene, shot)
    paced = () if setup.scene is scene else paced_by(scene, shot)
    stage = _at_its_rate(setup.scene, shot, paced)
    problem = problem_of(stage, stage.shot(shot.id))
    way = _as_it_is(problem)
    written = checked(problem, way, as_it_is=True) if way is not None else None
    if written is not None and not written.stops:
        problem = replace(problem, demands=_with_misses(problem.demands, written.misses))
    variants = [variant for variant in variants_of(setup.scene) if variant.price]
    problems = [problem, *(built_otherwise(problem, variant) for variant in variants)]
    ways = [(each, way) for each in problems for way in search(each)]
    if min(way.stops for _, way in ways) > 0:  # nothing helps as long as it looks there
        for variant in islice(_other_looks(problem), _LOOKS):
            with suppress(PrevizError):  # from there what it is aimed at may be nowhere as far off as may be
                looked = built_otherwise(problem, variant)
                ways += [(looked, way) for way in search(looked)]
    ways += _aimed(problem, min((way for _, way in ways), key=lambda way: way.key))
    ways.sort(key=lambda pair: pair[1].key)
    found: list[Checked] = []
    for each, way in _in_turn(ways)[:_CHECKS]:
        if len(_chosen(found, plans)) >= plans:
            break
        if _of_no_use(each, way, found):
            continue
        held = _held(each, way)
        if held is not None and written is not None and not written.stops and only_swaps(written, held):
            held = _without_noise(each, way, written) or held
        if held is not None and _own(scene, setup, shot, held) is not None:  # else other shots would be otherwise too
            found.append(held)
    chosen = _chosen(_no_worse(written, found), plans, written)
    lost = lost_of([each for each in found if not any(each is one for one in chosen)], ways, chosen)
    if paced and setup.scene.may_change.rate is not False:
        lost = (_another_rate(setup.scene, shot, paced), *lost)
    lost = (*_as_it_is_left_out(problem), *lost)
    needed = [(each, _no_more_than_needed(problem, each)) for each in chosen]
    chosen = [each if _own(scene, setup, shot, less) is None else less for each, less in needed]
    behind = ["", *(behind_of(*pair) for pair in pairwise(chosen))]
    plans_found = tuple(
        replace(_in_file(scene, setup, shot, each), behind=why) for each, why in zip(chosen, behind, strict=False)
    )
    relaxed = relaxation_of(chosen[0]) if chosen else None
    as_it_is = answer_of(written) if written is not None else None
    if chosen and chosen[0].stops:
        return Advice((), relaxed, lost, plans_found[0], as_it_is)
    return Advice(plans_found, relaxed, lost, as_written=as_it_is)


def _aimed(problem: Problem, best: Way) -> Iterator[tuple[Problem, Way]]:
    """Ways aimed elsewhere, where the aim may be: from the best place found in steps that grow smaller.

    None where the best way without meets all that is wanted.
    """
    reach = reach_of_aim(problem.stretch.view)
    if reach <= 0 or (best.stops == 0 and not any(best.misses)):
        return
    here, step, tried = (0, 0), _AIM_STEPS, {(0, 0)}
    while step:
        beside = [(here[0] + step * right, here[1] + step * up) for right, up in ((1, 0), (-1, 0), (0, 1), (0, -1))]
        centre = here
        for place in beside:
            if place in tried or math.hypot(*place) > 2 * _AIM_STEPS:
                continue
            tried.add(place)
            right, up = (reach * each / (2 * _AIM_STEPS) for each in place)
            variant = aimed_elsewhere(problem.stretch.view, right, up)
            if variant is None:
                continue
            with suppress(PrevizError):  # it may not be laid open with that
                elsewhere = built_otherwise(problem, variant)
                for way in search(elsewhere):
                    yield elsewhere, way
                    if way.key < best.key:
                        best, here = way, place
        step = step if here != centre else step // 2


def _other_looks(problem: Problem) -> Iterator[Variant]:
    """Other aims, as the camera that is written would have them; where it has none, as the others would."""
    found = False
    for view in (problem.stretch.view, *_other_views(problem)):
        for variant in looked_otherwise(view):
            found = True
            yield variant
        if found:
            return


def _other_views(problem: Problem) -> Iterator[ShotView]:
    """The shot as it is written, laid open with each other camera."""
    scene, shot = problem.scene, problem.shot
    for name, option in {each.name: each for each in problem.options if each.name != shot.camera}.items():
        capture = shot.capture.model_copy(update={"mode": None})
        if not any(option.camera.records(mode, capture.rate) for mode in option.camera.modes):
            continue
        focal = min(max(shot.focal_length, option.camera.lens.shortest), option.camera.lens.longest)
        other = {"camera": name, "focal_length": focal, "f_number": float(option.stops[0]), "capture": capture}
        shots = [each.model_copy(update=other) if each is shot else each for each in scene.shots]
        with suppress(PrevizError):  # it may not focus as near
            yield view_of(scene.model_copy(update={"shots": tuple(shots)}), shots[scene.shots.index(shot)])


def _with_misses(demands: Sequence[Demand], misses: Sequence[float]) -> tuple[Demand, ...]:
    """What is wanted, with by how much the shot as it is written misses each."""
    return tuple(replace(demand, was=miss) for demand, miss in zip(demands, misses, strict=True))


def _no_worse(written: Checked | None, found: list[Checked]) -> list[Checked]:
    """What the shot as it is written does not outdo, and before it that shot, where nothing is better.

    All, where that may not stay so.
    """
    if written is None or written.stops:
        return found  # all that is not stopped is better, and of the rest what was searched says what holds it back
    found = [each for each in found if not _gives_up(each)]
    better = [each for each in found if each.key < written.key and not only_swaps(written, each)]
    others = [each for each in found if not any(each is one for one in better) and not _outdoes(written, each)]
    return [*better, *others] if better else [written, *others]


def _gives_up(found: Checked) -> bool:
    """Whether a want that is missed as it is written is missed by far more, and none above it is met instead."""
    pairs = sorted(zip(found.problem.demands, found.misses, strict=True), key=lambda pair: not pair[0].hard)
    for demand, miss in pairs:
        if miss == 0 and 0 < demand.was < math.inf:
            return False
        if demand.rank(miss) > 1:
            return True
    return False


def _as_it_is(problem: Problem) -> Way | None:
    """The shot as it is written as a way among others; None where what may change does not let it stay so."""
    shot, own = problem.shot, problem.shot.capture
    for number, option in enumerate(problem.options):
        lens = option.focals or (option.focal.nearest(shot.focal_length),)
        recorded = [
            at
            for at, each in enumerate(option.recordings)
            if each.rate == own.rate and math.isclose(each.time, own.exposure_time)
        ]
        if (
            recorded
            and option.name == shot.camera
            and option.mode.same_as(problem.stretch.view.mode)
            and min(abs(each - shot.focal_length) for each in lens) < _SAME_LENS
            and np.isclose(option.stops, shot.f_number, rtol=0.03).any()
        ):
            focus = float(problem.stretch.view.focus[problem.stretch.view.middle])
            place = (number, 0.0, 0.0, float(shot.focal_length), float(shot.f_number), WRITTEN, focus)
            return Way(*place, recorded[0], 0, 0.0, (), (), 0.0, 0.0, ())
    return None


def _at_its_rate(scene: Scene, shot: Shot, paced: Sequence[str]) -> Scene:
    """A setup whose shot keeps its rate where others drive by how fast that looks in it.

    Raises PrevizError where it may not keep it.
    """
    may, own = scene.may_change, shot.capture.rate
    if not paced or may.rate is False:
        return scene
    if may.rate is not True and all(abs(each - own) > _SAME_RATE for each in may.rate):
        raise PrevizError(
            f"may_change: rate: has {shot.id} filmed at another rate than its {float(own):g} fps, and "
            f"{_shared_pace(scene, paced, shot)}"
        )
    return rewritten(scene, {"may_change.rate": "no"})


def _shared_pace(scene: Scene, paced: Sequence[str], shot: Shot) -> str:
    """Why other shots hold a shot's rate. scene: its setup, which knows how fast that is on set."""
    driven = {"vehicle": scene.vehicle, **{f"vehicles.{name}": each for name, each in (scene.vehicles or {}).items()}}
    first = driven.get(paced[0].removesuffix(".speed"))
    like = f", like {scene.pace(first.speed)}," if first is not None and first.speed else ""
    keys, each = " and ".join(paced), "are each" if len(paced) > 1 else "is"
    return (
        f"{keys} {each} as it looks in {shot.id}: at another rate other shots' vehicles would drive otherwise too. "
        f"Give the speed on set{like} or in the other shots one of their own"
    )


def _another_rate(scene: Scene, shot: Shot, paced: Sequence[str]) -> Lost:
    """Why no other rate was tried."""
    rate = Row("rate", f"another than {float(shot.capture.rate):g} fps")
    return Lost((rate,), f"{_shared_pace(scene, paced, shot)}.")


def _as_it_is_left_out(problem: Problem) -> Iterator[Lost]:
    """Why the shot as it is written was not tried, where its mode is not said to have its rate."""
    view, rate, asked = problem.stretch.view, problem.shot.capture.rate, problem.scene.may_change.rate
    camera, name = view.camera, problem.shot.camera
    unasked = not isinstance(asked, bool) and all(abs(each - rate) > _SAME_RATE for each in asked)
    if camera.records(view.mode, rate) or unasked:
        return
    which = f"{view.mode}" if any(camera.records(each, rate) for each in camera.modes) else "no mode"
    fps = f"{float(rate):.5g} fps"
    yield Lost(
        (Row("rate", f"{fps} as it is written"),),
        f"{which} of {name} is said to record at {fps}; it has {', '.join(map(str, camera.modes))}. So no plan is held "
        f"against the shot as it is written. If the camera's menu has {fps}, add that mode to its modes.",
    )


def _own(scene: Scene, setup: Setup, shot: Shot, found: Checked) -> Mapping[str, Any] | None:
    """What a way changes where the file has it, for this shot alone; None where other shots stand on that too."""
    return own_changes(scene, setup, {change.key: change.value for change in found.changes}, [shot.id])


def _in_file(scene: Scene, setup: Setup, shot: Shot, found: Checked) -> Plan:
    """The plan of a way, with its changes where the file has them."""
    changes = _own(scene, setup, shot, found)
    assert changes is not None  # else it was not kept
    return replace(plan_of(found), changes=tuple(Change(key, value) for key, value in changes.items()))


def _of_no_use(problem: Problem, way: Way, found: list[Checked]) -> bool:
    """Whether a way is as good as stopped, others are not, and why its camera lost is known."""
    sound = any(not each.stops for each in found)
    return sound and way.stops > _LIT and any(each.shot.camera == problem.options[way.option].name for each in found)


def _in_turn(ways: list[tuple[Problem, Way]]) -> list[tuple[Problem, Way]]:
    """Those worth checking: of each camera and each set of wants met the best, in order."""
    first: dict[tuple[str, tuple[bool, ...]], tuple[Problem, Way]] = {}
    for problem, way in ways:
        first.setdefault((problem.options[way.option].name, _missed(way.misses)), (problem, way))
    return list(first.values())


def _missed(misses: tuple[float, ...]) -> tuple[bool, ...]:
    return tuple(miss > 0 for miss in misses)


def _no_more_than_needed(problem: Problem, found: Checked) -> Checked:
    """What is built or lit otherwise taken back by halves as far as the plan does as well."""
    variant = found.problem.variant
    if not (variant.backdrop or variant.light):
        return found
    best, step = found, 0.5
    for _ in range(3):
        variant = best.problem.variant.less(step)
        try:
            less = checked(built_otherwise(problem, variant), found.way)
        except PrevizError:
            break
        best = less if less.key[:-1] <= found.key[:-1] else best
        step /= 2
    return best


def _held(problem: Problem, way: Way) -> Checked | None:
    """A way that was checked, set right as far as it can be."""
    best: Checked | None = None
    before: Checked | None = None
    wanted = problem.demands
    for _ in range(_TRIES):
        try:
            found = checked(replace(problem, demands=wanted), way)
        except PrevizError:  # it cannot be written: a camera that would stand past what it is aimed at
            return best
        if best is None or found.key < best.key:
            best = found
        if _as_promised(way, found) or (before is not None and before.key == found.key):
            return best
        before = found
        problem = _learned(problem, way, found)
        way = closed_in(problem, [way], 3)[0]
    return best


def _without_noise(problem: Problem, way: Way, written: Checked) -> Checked | None:
    """A way near that one that shows no noise, or no more than the shot as it is written: what a swap mostly costs."""
    shows = max(written.figures["iso"] / noise_limit_on(written.view.area), 1.0)
    allowed = NOISE_STOPS[written.shot.capture.iso == "auto"]
    quiet = problem.with_slack(replace(problem.slack, noise=shows / allowed))
    held = _held(quiet, closed_in(quiet, [way])[0])
    return held if held is not None and not held.stops and not only_swaps(written, held) else None


def _as_promised(way: Way, found: Checked) -> bool:
    """Whether a way does what the estimate said: nothing stops it, it meets what it should, the light is as thought."""
    stopped = any(finding.shot for finding in found.stops) and way.stops == 0
    missed = any(miss > 0 and promised == 0 for miss, promised in zip(found.misses, way.misses, strict=True))
    here = float(found.problem.metered.at(np.array([way.back]), np.array([way.up]))[0])
    light = abs(math.log2(max(found.lux, 1e-9) / here))
    return not stopped and not missed and light < _LIT


def _learned(problem: Problem, way: Way, found: Checked) -> Problem:
    """The problem with what a check found out: the light there, that a picture saw past the set, and wants just missed.

    A search goes no further than to the end of a want's range, so a figure that is a hair off there misses it.
    """
    metered = problem.metered.learned(way.back, way.up, found.lux)
    past = found.figures["edges"] > 1
    slack = replace(problem.slack, field=problem.slack.field * _NARROWER) if past else problem.slack
    rows = zip(problem.demands, way.figures, found.values, found.misses, strict=True)
    demands = tuple(_narrowed(each, promised, value) if miss > 0 else each for each, promised, value, miss in rows)
    return replace(problem, metered=metered, slack=slack, demands=demands)


def _narrowed(demand: Demand, promised: float, value: float) -> Demand:
    """A want whose range is narrowed by what a figure was found to be off, where it was promised to lie in it."""
    if demand.miss(promised) > 0 or not (0 < promised < math.inf and 0 < value < math.inf):
        return demand
    off, least, most = promised / value, demand.range.least, demand.range.most
    narrowed = Range(least * max(off * _SURELY, 1.0), most * min(off / _SURELY, 1.0))
    return replace(demand, range=narrowed) if narrowed.least <= narrowed.most else demand


def _chosen(found: list[Checked], plans: int, written: Checked | None = None) -> list[Checked]:
    """The best of those that hold: unlike each other, and none outdone by one above it.

    What only swaps what the shot as it is written misses for what `check` finds comes right behind that.
    """

    def rank(each: Checked) -> tuple[tuple[float, ...], bool]:
        swaps = written is not None and not written.stops and only_swaps(written, each)
        return (max(written.key, each.key), True) if written is not None and swaps else (each.key, False)

    ranked = sorted(found, key=rank)
    if not ranked:
        return []
    sound = [each for each in ranked if not each.stops] or ranked[:1]
    hard = [demand.hard for demand in sound[0].problem.demands]
    least = [miss for miss, must in zip(sound[0].misses, hard, strict=True) if must]
    chosen: list[Checked] = []
    for each in sound:
        kept = [miss for miss, must in zip(each.misses, hard, strict=True) if must]
        if any(miss > most + 0.05 for miss, most in zip(kept, least, strict=True)):
            continue
        kind = each.shot.camera, _missed(each.misses)
        alike = any((other.shot.camera, _missed(other.misses)) == kind for other in chosen)
        if chosen and _too_far(each, chosen[0]):
            continue
        if not alike and not any(_outdoes(other, each) for other in chosen):
            chosen.append(each)
    return chosen[:plans]


def _too_far(found: Checked, best: Checked) -> bool:
    """Whether it gives up too much of what the best plan has: more wants by far than it gains, or most of all."""
    pairs = list(zip(found.misses, best.misses, strict=True))
    behind = sum(miss > other + _TOO_FAR for miss, other in pairs)
    far = behind > sum(other > miss + _TOO_FAR for miss, other in pairs)  # for one want by far it may give up another
    missed, least_missed = (sum(_missed(each.misses)) for each in (found, best))
    return far or missed > max(least_missed, len(found.misses) / 2)


def _outdoes(one: Checked, other: Checked) -> bool:
    """Whether the other answers no want better, to speak of: it meets none that the one misses, nor comes much nearer.

    Of another camera that does as well it does not: which of the two they take is for their maker to say.
    """
    pairs = list(zip(one.misses, other.misses, strict=True))
    if any(_better(theirs, mine) for mine, theirs in pairs):
        return False
    return one.shot.camera == other.shot.camera or any(_better(mine, theirs) for mine, theirs in pairs)


def _better(miss: float, other: float) -> bool:
    """Whether one miss is better than another to speak of. [stops]"""
    return (miss == 0) != (other == 0) if 0 in (miss, other) and miss < other else miss < other - MUCH
