"""The compromise of a shot: what several findings pull on together, its stop, focus, shutter and ISO, settled at once.

Where none of these has the vehicle sharp, or blurred as at full size, it is made smaller in the picture: from further
off, or with a shorter lens. That is chosen for another reason, and given up for no less than one thing more in order.
Stops are compared quickly, with the light as it was metered; what comes out best is then tried like any other remedy.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

from previz.errors import PrevizError
from previz.physics.exposure import nearest_third_stop
from previz.predictions.brought import brought_by, out_of_order
from previz.predictions.checks.backdrop import check_join
from previz.predictions.checks.focus import check_focus
from previz.predictions.checks.light import check_light
from previz.predictions.checks.motion import check_motion
from previz.predictions.checks.scale import check_scale
from previz.predictions.findings import Change, Finding, Notes, Verdict, Way, below
from previz.predictions.glossary import GLOSSARY
from previz.predictions.looking import Noted, plain
from previz.predictions.metering import iso_needed, stopped_down
from previz.predictions.more_light import lacking
from previz.predictions.places import stood_at, told_place
from previz.predictions.reframing import focal_on_ring
from previz.predictions.rounding import iso_shown
from previz.predictions.shot_view import ShotView, at_another_stop, view_of, with_shot
from previz.predictions.trying import WITH_IT, Outcome, Spent, Trial, made_good, outcome_of, standing_of, with_it
from previz.scene import Focus, Shot, rewritten
from previz.units import Tape, percent

#: The findings that pull on stop, focus, shutter and light, and what each of them is after.
WANTS = {
    "focus.vehicle": "the whole vehicle sharp",
    "focus.diffraction": "no softness by diffraction",
    "scale.blur": "blur as at full size",
    "backdrop.join": "a join that dissolves",
    "light.iso": "no noise that shows",
    "light.iso_range": "an ISO that the camera has",
    "light.exposure": "the right exposure",
    "motion.blur": "no smear",
    "motion.strobe": "no strobing",
}

#: Of these more is better.
_AT_LEAST = ("focus.vehicle", "backdrop.join")

#: What stops are compared by.
WEIGHED = (*WANTS, "focus.some")

#: Of these what more light mends, or less.
_LIGHT = ("light.iso", "light.iso_range")

#: A compromise that leaves as many things out of order as before must bring them this much nearer, taken together.
_WORTH = 0.5

#: The keys of a shot that it weighs.
_SETTLED = ("focus", "f_number", "capture.shutter", "capture.iso")

#: Where noise shows already, an ISO so many times as high is not traded for something else. Common practice, no source.
_NOISIER = 2.0

_MOST_OPTIONS = 2  # so many other focuses or shutters

#: What is after a vehicle that is smaller in the picture, and how much smaller it is tried.
_WANT_SMALLER, _SMALLER = ("focus.vehicle", "focus.some", "scale.blur"), (0.8, 0.63)

_TRIED, _TRIED_SMALLER = 3, 2  # so many of the best are tried
_OTHER_LIGHT = 5  # so many ways to more light or less are looked at, where one of these leaves it out of order
_COST, _LAID_OPEN = 3.0, 10.0  # of one stop looked at, of another focus or place; in the measure of `looking.cost_of`


@dataclass(frozen=True)
class Compromise:
    """What one shot's findings that pull on one thing are answered with.

    Parameters
    ----------
    shot : str
        Its id.
    words : str
        What to set, as whole sentences.
    satisfies, gives_up : tuple of str
        What is then in order, of all that pulls on stop, focus, shutter and light; what is not, each with how much.
    mends : tuple of str
        Ids of the findings that are gone then.
    changes : tuple of Change
        What it writes; none where the shot is best left as it is.
    brings : tuple of str
        Of what it gives up, that which is in order without it.
    besides : str
        All that is out of order then and is not without it, but for noise, in words; "" where nothing is.
    """

    shot: str
    words: str
    satisfies: tuple[str, ...]
    gives_up: tuple[str, ...]
    mends: tuple[str, ...]
    changes: tuple[Change, ...]
    brings: tuple[str, ...] = ()
    besides: str = ""

    @property
    def newly(self) -> tuple[str, ...]:
        """What it satisfies that is out of order without it."""
        return tuple(WANTS[each] for each in self.mends)

    @property
    def told(self) -> str:
        """What to set, and what comes with it."""
        return f"{self.words} {self.besides}".rstrip()

    @property
    def weighed(self) -> str:
        """What to set, what is right then that was not, what comes with it, and what stays wrong."""
        said, newly = [self.words], self.newly
        if newly:
            said.append(f"That gives {', '.join(newly)}.")
        said += [self.besides] if self.besides else []
        still = [each for each in self.gives_up if each not in self.brings] if self.changes else []
        if still:
            said.append(f"{'Still' if newly or self.besides else 'Then still'} not had: {'; '.join(still)}.")
        if self.gives_up:
            said.append("See previz advise too.")
        return " ".join(said)


@dataclass(frozen=True, eq=False)  # arrays within have no equality of their own
class _Option:
    """The shot with another focus or shutter, or as it is."""

    view: ShotView
    words: str = ""
    changes: tuple[Change, ...] = ()
    known: tuple[Finding, ...] = ()  # what another focus makes of the join, another shutter of smear and strobing


@dataclass(frozen=True, eq=False)
class _Candidate:
    """An option at a stop, and how it would stand."""

    option: _Option
    shot: Shot
    score: tuple[int, int, float]
    unlit: tuple[int, int, float]  # the same, were there light enough
    left: frozenset[str]  # ids of what is then out of order
    light: Notes  # what is then found of the light


def pulled(noted: Noted, shot: str) -> list[Finding]:
    """What of a shot is out of order and pulls on stop, focus, shutter or light."""
    return [each for each in _wants_of(noted, shot) if each.verdict is not Verdict.FINE]


def _wants_of(noted: Noted, shot: str) -> list[Finding]:
    return [each for look, notes in noted.items() if look.shot == shot for each in notes.findings if each.id in WANTS]


def compromise(trial: Trial, shot: str, ways: Mapping[int, Callable[[], Iterator[Way]]]) -> Compromise | None:
    """The best that stop, focus, shutter, ISO and lamps make of a shot; to leave it as it is, where nothing is better.

    None where the lens has one stop only, and nothing else helps; and where patience ran out before all were tried, for
    then nobody knows.

    Parameters
    ----------
    ways
        Of what is out of order, by the id of each finding: whence focuses and shutters to try are taken.
    """
    view = trial.looked.views[shot]
    assert view is not None  # only what was looked at has findings that pull
    best: _Held | None = None
    tried = False
    with suppress(Spent):
        options = [_Option(view), *_options(trial, view, ways)]
        now = _candidate(trial, options[0], view.shot)
        found = [each for option in options for each in _at_stops(trial, option)]
        best = _first_that_holds(trial, view, _best_first(now, found))
        smaller = _first_that_holds(trial, view, _smaller_ones(trial, options, found, best))
        if smaller is not None and (best is None or standing_of(smaller[1]) < standing_of(best[1])):
            best = smaller
        tried = True
    if best is not None:
        return best[0]
    if len(view.stops) < 2 or not tried:
        return None
    words = "Leave it as it is: at no other stop, focus or shutter is less out of order."
    return _told(trial, shot, Way(words, ()), trial.looked.noted)


#: A compromise that holds, and what is then noted.
_Held = tuple[Compromise, Noted]


def _first_that_holds(trial: Trial, view: ShotView, candidates: list[_Candidate]) -> _Held | None:
    """The first that is better, and has something in order that is not. Raises Spent."""
    for candidate in candidates:
        way = _way_of(view, _exposed(trial, view, candidate))
        found = _tried(trial, view.shot.id, way) if way.changes else None
        if found is not None:
            told = _told(trial, view.shot.id, *found)
            if told.mends or _fewer_stops(trial, found[1]):  # else it would give something up for nothing
                found = _lit(trial, view.shot.id, *found)
                return _told(trial, view.shot.id, *found), found[1]
    return None


def _exposed(trial: Trial, view: ShotView, candidate: _Candidate) -> _Candidate:
    """With the shutter that has the ISO within the camera's, where it is not; as it is where that is no better.

    So that one trial answers both. Where patience would end with looking at it, it is not looked at.
    """
    option, key = candidate.option, f"shots[{view.index}].capture.shutter"
    if "light.iso_range" not in candidate.left or key in {change.key for change in option.changes}:
        return candidate
    if trial.purse.share <= _LAID_OPEN + _COST:
        return candidate
    for finding, ways in zip(candidate.light.findings, candidate.light.ways, strict=True):
        for way in ways() if finding.id == "light.iso_range" else ():
            if [change.key for change in way.changes] == [key]:
                words = f"{option.words} {way.words}".lstrip()
                shut = _laid_open(trial, view, (*option.changes, *way.changes), words)
                other = _candidate(trial, shut, _at(shut, candidate.shot.f_number)) if shut is not None else None
                return other if other is not None and other.score < candidate.score else candidate
    return candidate


def _lit(trial: Trial, shot: str, way: Way, noted: Noted) -> tuple[Way, Noted]:
    """With a lamp otherwise, or another shutter, where that spares noise or an ISO that the camera has not."""
    with suppress(Spent):
        for each, ways in _ill_lit(noted, shot):
            outcome = Outcome(trial.looked.scene, False, noted, each, tuple(islice(ways(), _OTHER_LIGHT)))
            for both in made_good(way, outcome):
                together = outcome_of(trial, both)
                if (
                    together is not None
                    and standing_of(together.noted) < standing_of(noted)
                    and _better(trial, shot, together)
                ):
                    return both, together.noted
    return way, noted


def _ill_lit(noted: Noted, shot: str) -> list[tuple[Finding, Callable[[], Iterator[Way]]]]:
    """What of a shot's light is out of order, and the ways of each."""
    pairs = [
        pair
        for look, notes in noted.items()
        for pair in zip(notes.findings, notes.ways, strict=True)
        if look.shot == shot
    ]
    return [(each, ways) for each, ways in pairs if each.id in _LIGHT and each.verdict is not Verdict.FINE]


def _best_first(now: _Candidate, found: list[_Candidate]) -> list[_Candidate]:
    """The few that promise most, with the light there is and with more of it."""
    lit = sorted((each for each in found if each.score < now.score), key=lambda each: each.score)[:_TRIED]
    more = sorted((each for each in found if each.unlit < now.score), key=lambda each: each.unlit)[:1]
    return [*lit[:1], *(each for each in more if each not in lit), *lit[1:]]


def _smaller_ones(
    trial: Trial, options: list[_Option], found: list[_Candidate], held: _Held | None
) -> list[_Candidate]:
    """Those in which a smaller vehicle has in order what is not without; the one with the best light first."""
    shot, noted = options[0].view.shot.id, held[1] if held is not None else trial.looked.noted
    lacking = {
        each.id
        for look, notes in noted.items()
        for each in notes.findings
        if look.shot == shot and each.id in _WANT_SMALLER and each.verdict is not Verdict.FINE
    }
    if not lacking:
        return []
    best = min(found, key=lambda each: each.unlit)
    tried = [each for option in _smaller(trial, best.option.view, options) for each in _at_stops(trial, option)]
    better = [each for each in tried if each.unlit[:2] < best.unlit[:2] and not lacking <= each.left]
    return sorted(better, key=lambda each: (each.score, each.unlit))[:_TRIED_SMALLER]


def _options(trial: Trial, view: ShotView, ways: Mapping[int, Callable[[], Iterator[Way]]]) -> list[_Option]:
    """Other focuses and shutters, as the findings that pull would have them."""
    key, found = f"shots[{view.index}].", dict[str, _Option]()
    # A slower shutter for its light alone is tried at the end, with what is best without.
    for finding in (each for each in pulled(trial.looked.noted, view.shot.id) if each.id not in _LIGHT):
        for way in ways[id(finding)]():
            other = tuple(c for c in way.changes if c.key in (f"{key}focus", f"{key}capture.shutter"))
            if len(found) == _MOST_OPTIONS:
                return list(found.values())
            if other and repr(other) not in found and all(_in_shot(change, key) for change in way.changes):
                option = _laid_open(trial, view, other)
                if option is not None:
                    found[repr(other)] = option
    return list(found.values())


def _smaller(trial: Trial, view: ShotView, options: list[_Option]) -> Iterator[_Option]:
    """The vehicle smaller in the picture, by a shorter focal length, or from further off where the lens has none.

    Of a camera that moves, of a focus in keys, and of a set without a vehicle, nothing is changed.
    """
    shot, key, own = view.shot, f"shots[{view.index}].", options[0].view
    other = next(option for option in options if option.view is view)
    if view.scene.vehicle is None or not isinstance(shot.at[0], int | float) or not isinstance(shot.focus, Focus):
        return
    for share in _SMALLER:
        if shot.focal_length * share >= own.camera.lens.shortest:
            focal = f"{focal_on_ring(shot.focal_length * share, own.camera.lens, longer=False) * 1000:.4g} mm"
            way = Way(f"Zoom out to {focal}", (Change(f"{key}focal_length", focal),))
        else:
            way = _further_off(view, share)
        words = f"{other.words} {way.words}: the vehicle is {percent(share)} as long in the picture then."
        option = _laid_open(trial, view, (*other.changes, *way.changes), words.lstrip())
        if option is not None:
            yield option


def _further_off(view: ShotView, share: float) -> Way:
    """The camera so far back along its axis that the vehicle is that share as large in the middle of the shot."""
    pose = view.cameras[view.middle]
    back = float(view.vehicle_places[1][view.middle].mean()) * (1 / share - 1)
    place = view.shot.at + back * pose.world_from_camera[:, 2]
    words = f"Stand {view.scene.tape(back)} further off, {told_place(view.scene, place)}"
    return stood_at(view, words, place, digits=0, after="")


def _in_shot(change: Change, key: str) -> bool:
    return change.key in {f"{key}{name}" for name in _SETTLED}


def settled_keys(trial: Trial, by: Compromise) -> set[str]:
    """The keys that a compromise has the last word on: what it writes, and its shot's stop, focus, shutter and ISO."""
    view = trial.looked.views[by.shot]
    assert view is not None  # of a shot that was looked at
    return {f"shots[{view.index}].{name}" for name in _SETTLED} | {change.key for change in by.changes}


def _laid_open(trial: Trial, view: ShotView, changes: tuple[Change, ...], words: str = "") -> _Option | None:
    """With the light that was metered before; None where that cannot be written."""
    trial.purse.begin()
    trial.purse.pay(_LAID_OPEN)
    try:
        scene = rewritten(trial.looked.scene, plain(changes))
        there = view_of(scene, scene.shots[view.index])
    except PrevizError:
        return None
    there.__dict__["light"] = view.light
    focus = ["Focus on the vehicle all along." for change in changes if change.key.endswith("focus")]
    shutter = [f"Set the shutter to {change.value}." for change in changes if change.key.endswith("shutter")]
    found = (*(check_join(there).findings if focus else ()), *(check_motion(there).findings if shutter else ()))
    return _Option(
        there, words or " ".join((*focus, *shutter)), changes, tuple(each for each in found if each.id in WANTS)
    )


def in_stretch(trial: Trial, by: Compromise, stretch: Way) -> Compromise | None:
    """The compromise with another stretch of the shot than the one that it films; None where it mends less so.

    Raises Spent.
    """
    keys = {change.key for change in stretch.changes}
    words, with_it_, more = by.words.partition(WITH_IT)
    if not with_it_ or WITH_IT in more:  # what else goes with it would be lost
        return None
    changes = tuple(change for change in by.changes if change.key not in keys)
    way = Way(with_it(words, stretch.words), (*changes, *stretch.changes))
    outcome = outcome_of(trial, way)
    if outcome is None or not _better(trial, by.shot, outcome):
        return None
    found = _told(trial, by.shot, way, outcome.noted)
    return found if set(found.mends) >= set(by.mends) else None


# --- stops ---


def _at_stops(trial: Trial, option: _Option) -> list[_Candidate]:
    """Full stops first, then the third stops beside the best of them, with the light there is and with more of it.

    Raises Spent.
    """
    stops = option.view.stops or [option.view.shot.f_number]
    found = {stop: _candidate(trial, option, _at(option, stop)) for stop in stops[::3]}
    lit, unlit = min(found, key=lambda stop: found[stop].score), min(found, key=lambda stop: found[stop].unlit)
    for best in dict.fromkeys((stops.index(unlit), stops.index(lit))):
        for stop in stops[max(best - 2, 0) : best + 3]:
            if stop not in found:
                found[stop] = _candidate(trial, option, _at(option, stop))
    return list(found.values())


def _at(option: _Option, stop: float) -> Shot:
    """The shot at that stop; an ISO that is set follows, as far as the camera has it."""
    view = option.view
    shot = view.shot.model_copy(update={"f_number": stop})
    if shot.capture.iso == "auto" or view.light.vehicle.total <= 0:
        return shot
    low, high = view.camera.iso
    needed = iso_needed(replace(view, shot=shot), view.light.vehicle.total)
    iso = round(min(max(nearest_third_stop(needed), low), high))
    return shot.model_copy(update={"capture": shot.capture.model_copy(update={"iso": iso})})


def _candidate(trial: Trial, option: _Option, shot: Shot) -> _Candidate:
    trial.purse.begin()
    trial.purse.pay(_COST)
    view = at_another_stop(option.view, with_shot(option.view.scene, option.view.index, shot))
    known = {each.id: each for each in (*_wants_of(trial.looked.noted, shot.id), *option.known)}
    light = check_light(view)
    for notes in (check_focus(view), check_scale(view), light):
        known |= {each.id: each for each in notes.findings if each.id in WEIGHED}
    join, behind = known.get("backdrop.join"), view.scene.set.backdrop
    if join is not None and behind is not None and behind.join.cove == 0:
        blur = join.value * option.view.shot.f_number / shot.f_number  # it goes with the pupil
        known["backdrop.join"] = replace(join, value=blur, verdict=below(blur, join.limit))
    return _Candidate(
        option,
        shot,
        _score(known.values()),
        _score(each for each in known.values() if each.id not in _LIGHT),
        frozenset(name for name, each in known.items() if each.verdict is not Verdict.FINE),
        light,
    )


def _score(findings: Any) -> tuple[int, int, float]:
    bad = [each for each in findings if each.verdict is not Verdict.FINE]
    stops = sum(each.verdict is Verdict.STOP for each in bad)
    return stops, len(bad) - stops, round(misfit(bad), 2)


def misfit(findings: list[Finding]) -> float:
    """How far from their limits they are, taken together: in doublings, none counted for more than six."""
    return sum(
        min(abs(math.log2(abs(each.value) / abs(each.limit))), 6.0) if each.value and each.limit else 6.0
        for each in findings
    )


# --- trying and telling ---


def _way_of(view: ShotView, candidate: _Candidate) -> Way:
    shot, option, key = candidate.shot, candidate.option, f"shots[{view.index}]"
    words, changes = [option.words] if option.words else [], [*option.changes]
    if shot.f_number != view.shot.f_number:
        way = "Stop down to" if shot.f_number > view.shot.f_number else "Open up to"
        auto = shot.capture.iso == "auto"
        words.append(f"{way} f/{shot.f_number:g}{stopped_down(option.view, shot.f_number) if auto else ''}.")
        changes.append(Change(f"{key}.f_number", f"f/{shot.f_number:g}"))
    if shot.capture.iso != view.shot.capture.iso:
        words.append(f"Set ISO {shot.capture.iso}.")
        changes.append(Change(f"{key}.capture.iso", shot.capture.iso))
    return Way(" ".join(words), tuple(changes))


def _tried(trial: Trial, shot: str, way: Way) -> tuple[Way, Noted] | None:
    """The way, or it with what makes good for it, and what is then noted; None where it is no better. Raises Spent."""
    outcome = outcome_of(trial, way)
    if outcome is None:
        return None
    for both in made_good(way, outcome) if outcome.brings is not None else []:
        together = outcome_of(trial, both)
        if together is not None and _better(trial, shot, together):
            return both, together.noted
    return (way, outcome.noted) if _better(trial, shot, outcome) else None


def _fewer_stops(trial: Trial, then: Noted) -> bool:
    return standing_of(then).stops < trial.standing.stops


def _better(trial: Trial, shot: str, outcome: Outcome) -> bool:
    if outcome.brings is not None and (outcome.brings.verdict is Verdict.STOP or outcome.brings.id not in WANTS):
        return False
    now, then = trial.standing, standing_of(outcome.noted)
    if then.stops >= now.stops and _much_noisier(trial.looked.noted, outcome.noted, shot):
        return False
    if then != now:
        return then < now
    # Of all shots, for a lamp lights them all: else two shots would pull it to and fro.
    before, after = (
        sum(misfit(pulled(noted, each)) for each in trial.looked.views) for noted in (trial.looked.noted, outcome.noted)
    )
    return after < before - _WORTH


def _much_noisier(before: Noted, after: Noted, shot: str) -> bool:
    """Whether noise that shows anyhow is that of an ISO so many times as high: no other thing in order is worth it."""
    was, then = (
        {each.id: each.value for each in pulled(noted, shot) if each.id in _LIGHT} for noted in (before, after)
    )
    return any(then.get(name, 0.0) >= _NOISIER * value > 0 for name, value in was.items())


def _told(trial: Trial, shot: str, way: Way, noted: Noted) -> Compromise:
    wants = _wants_of(noted, shot)
    out = [each for each in wants if each.verdict is not Verdict.FINE]
    left = {each.id for each in out}
    noise = [each for each in out if each.id == "light.iso"] if way.changes else []
    brought = brought_by(trial.looked.noted, noted) if way.changes else []
    new = {(each.id, each.shot) for each in brought}
    short = [f"Noise shows then. {lacking(each.value / each.limit)}" for each in noise]
    tape = trial.looked.scene.tape_unit
    return Compromise(
        shot,
        " ".join((way.words, *short)),
        tuple(WANTS[each.id] for each in wants if each.id not in left),
        tuple(_not_had(each, tape) for each in out),
        tuple(each.id for each in pulled(trial.looked.noted, shot) if each.id not in left),
        way.changes,
        tuple(_not_had(each, tape) for each in out if (each.id, each.shot) in new),
        out_of_order([each for each in brought if each not in noise], shot),
    )


def _not_had(finding: Finding, tape: str) -> str:
    return f"{WANTS[finding.id]} ({measured(finding, tape)})"


def measured(finding: Finding, tape: str) -> str:
    """What was found, and to what end of it that is let be, in the unit that people read; tape: of `Scene.tape_unit`.

    >>> measured(Finding("light.iso", "iso_needed", 4052.3, 1721.0, "", Verdict.WATCH, ""), "cm")
    'ISO 4000; at most ISO 1600'
    >>> blur = Finding("scale.blur", "full_size_pupil", 0.154, 0.045, "m", Verdict.WATCH, "")
    >>> measured(blur, "cm"), measured(blur, "mm"), measured(blur, "in")
    ('15.4 cm; at most 4.5 cm', '154 mm; at most 45 mm', '6 1/16 in; at most 1 3/4 in')
    """
    least = finding.id in _AT_LEAST or (finding.verdict is not Verdict.FINE and finding.value < finding.limit)
    wanted = f"; at {'least' if least else 'most'} "
    return wanted.join(_shown(finding.quantity, each, tape) for each in (finding.value, finding.limit))


def shown_value(finding: Finding, tape: str) -> str:
    """What was found, in the unit that people read."""
    return _shown(finding.quantity, finding.value, tape)


def _shown(name: str, value: float, tape: str) -> str:
    quantity = GLOSSARY[name].on(tape)
    if quantity.marked:
        return f"ISO {iso_shown(value)}"
    found, unit = value * quantity.factor, f" {quantity.shown}" if quantity.shown else ""
    if quantity.tape and quantity.shown == "in":
        return Tape(tape)(value)
    return f"{found:.0f}{unit}" if abs(found) >= 100 else f"{found:.3g}{unit}"
