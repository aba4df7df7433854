"""Remedies that agree: each is applied and checked again before it is shown.

A remedy holds if its finding is gone, nothing stops that did not and no stop is further past its limit, nothing stands
where it did not, on the road or in the way, and fewer things are out of order than before (`trying.Standing`). Whoever
follows remedies that hold, in any order, comes to an end: each takes the scene to a better standing, and there are only
so many. What patience was too short to try is told as that, and writes nothing.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import replace

from previz.predictions.brought import COSTS, brought_by, out_of_order
from previz.predictions.checks.time import begun_at
from previz.predictions.compromise import (
    WANTS,
    Compromise,
    compromise,
    in_stretch,
    measured,
    misfit,
    pulled,
    settled_keys,
    shown_value,
)
from previz.predictions.findings import Finding, Verdict, Way, to_mend_and_watch, worst_first
from previz.predictions.looking import BLIND, Looked, cost_of_writing
from previz.predictions.shot_view import ShotView
from previz.predictions.trying import (
    Outcome,
    Purse,
    Spent,
    Trial,
    blind_shots,
    findings_of,
    made_good,
    meet,
    outcome_of,
)
from previz.units import TIME, parse

#: Of what each finding can be mended by.
Ways = dict[int, Callable[[], Iterator[Way]]]

#: Before what else is said of a finding that the compromise of its shot leaves.
GIVEN_UP = "Best left as it is: mending it puts more out of order."

#: What is said in short of what the compromise of its shot mends, and of what that leaves.
MENDED, LEFT = "The compromise mends it.", "The compromise leaves it."

#: So much more of the patience goes to what stops a shot.
_WEIGHTS = {Verdict.STOP: 4.0, Verdict.WATCH: 1.0}

#: Where a check has nothing to do about what stops a shot.
ADVISE = "previz advise looks at place, lens, stop and rate together."

NOT_FOUND = "Nothing was found here that mends it and spoils nothing else."
UNTRIED = "Nothing that mends it and spoils nothing else was found in the time of a check."

#: Before what may mend a finding, where patience was at its end before that could be tried.
NOT_TRIED = "Not tried in the time of a check, so check again after it:"


def weight_of(looked: Looked) -> float:
    """How much of the patience what is wrong there asks for."""
    return sum(_WEIGHTS.get(each.verdict, 0.0) for each in findings_of(looked.noted))


def agreed(looked: Looked, purse: Purse) -> tuple[tuple[Finding, ...], tuple[Compromise, ...]]:
    """Every finding, worst first, with the first of its ways that holds, else what is then to be weighed; compromises.

    Where several findings of a shot pull on its stop, shutter or light, they are answered together by a compromise. A
    scene that no file stands behind has nothing tried, and so nothing shown. The purse pays for what is tried.
    """
    noted = looked.noted
    ways: Ways = {id(one): way for notes in noted.values() for one, way in zip(notes.findings, notes.ways, strict=True)}
    ordered = worst_first(findings_of(noted))
    bad = [each for each in ordered if each.verdict is not Verdict.FINE]
    if looked.scene.written is None or not bad:
        return ordered, ()
    trial = Trial(looked, purse)
    found = _compromises(trial, ways)
    settled = []
    weights = [_WEIGHTS[each.verdict] for each in bad]
    for number, each in enumerate(bad):
        trial.purse.open(sum(weights[number:]), weights[number])
        answered = found.get(each.shot) if each.id in WANTS else None
        settled.append(_settled(trial, each, ways[id(each)](), answered))
    for each in settled:
        if each.id in WANTS and not each.changes and len(pulled(noted, each.shot)) == 1:
            trial.purse.open(1)
            alone = compromise(trial, each.shot, ways)
            if alone is not None and alone.changes:
                found[each.shot] = alone
    settled = [_answered(each, found.get(each.shot)) for each in _in_one_stretch(trial, bad, settled, found)]
    shown = (each for shot, each in found.items() if each.changes or not _mended_alone(settled, shot))
    return (*(_pointed(trial, each) for each in settled), *ordered[len(bad) :]), tuple(shown)


def in_brief(finding: Finding, compromises: Iterable[Compromise]) -> Finding:
    """The finding, pointing to its shot's compromise where that is its remedy, and no more where that gives it up.

    For where the compromise stands beside it.
    """
    own = [each for each in compromises if each.shot == finding.shot]
    if any(each.changes and finding.id in each.mends and each.changes == finding.changes for each in own):
        return replace(finding, remedy=MENDED)
    if not finding.remedy.startswith(GIVEN_UP):
        return finding
    return replace(finding, remedy=LEFT if own else GIVEN_UP)


def _compromises(trial: Trial, ways: Ways) -> dict[str, Compromise]:
    """Of the shots in which more than one finding pulls on one thing."""
    looked = trial.looked
    torn = [shot for shot, view in looked.views.items() if view is not None and len(pulled(looked.noted, shot)) > 1]
    found = {}
    for number, shot in enumerate(torn):
        trial.purse.open(len(torn) - number + 1)
        answer = compromise(trial, shot, ways)
        if answer is not None:
            found[shot] = answer
    return found


def _answered(finding: Finding, by: Compromise | None) -> Finding:
    """The finding with the compromise for its remedy, where that mends it; else told that it stays."""
    if by is None or finding.id not in WANTS or finding.changes:
        return finding
    if finding.id in by.mends:
        return replace(finding, remedy=by.told, changes=by.changes)
    return replace(finding, remedy=f"{GIVEN_UP} {finding.remedy}".rstrip())


def _in_one_stretch(
    trial: Trial, bad: list[Finding], settled: list[Finding], found: dict[str, Compromise]
) -> list[Finding]:
    """Remedies that each film another stretch of one shot made one, where what they have in common mends all of them,
    or one of them does with what goes with it.

    Else whoever follows one after the other writes over it. The shot's compromise is one of them where it films another
    too; where that does not do in common, it is left as it is.

    Parameters
    ----------
    settled
        What became of each that is bad, in order.
    found
        Compromises by their shots; one in another stretch takes its place there.
    """
    for view in filter(None, trial.looked.views.values()):
        names = f"shots[{view.index}].start", f"shots[{view.index}].duration"
        torn = [number for number, each in enumerate(settled) if each.id not in WANTS and _written(each, names)]
        by = found.get(view.shot.id)
        filmed = torn and by is not None and _written(by, names)
        written = [_written(settled[number], names) for number in torn]
        mended = [bad[number] for number in torn]
        joined = _joined(trial, mended, _in_common(view, [*written, filmed]), by) if filmed else None
        ways = _for_all(view, [settled[number] for number in torn], names)
        others = (_joined(trial, mended, each) for each in ways)
        way, again = joined or next(filter(None, others), (None, None))
        if way is None:
            continue
        for number in torn:
            settled[number] = replace(settled[number], remedy=way.words, changes=way.changes)
        if again is not None:
            found[view.shot.id] = again
    return settled


def _for_all(view: ShotView, remedies: list[Finding], names: tuple[str, str]) -> Iterator[Way]:
    """What may mend all that are mended in different stretches: one of their own, with what goes with it, else what
    they have in common, which may be too short to be read."""
    written = [_written(each, names) for each in remedies]
    if len(set(written)) < 2:
        return
    yield from (Way(each.remedy, each.changes) for each in remedies)
    common = _in_common(view, written)
    if common is not None:
        yield common


def _joined(
    trial: Trial, bad: list[Finding], way: Way | None, by: Compromise | None = None
) -> tuple[Way, Compromise | None] | None:
    """A stretch that mends all that is bad, and the compromise in it; None where it does not all hold there."""
    if way is None:
        return None
    trial.purse.open(1)
    with suppress(Spent):
        again = in_stretch(trial, by, way) if by is not None else None
        tried = (outcome_of(trial, way, each) for each in bad)
        if (again is None) == (by is None) and all(one is not None and one.holds for one in tried):
            return way, again
    return None


def _in_common(view: ShotView, written: list[tuple[tuple[str, str], ...]]) -> Way | None:
    """The stretch that all have in common of those that are filmed once each is written; None where there is none, or
    but one."""
    if len(set(written)) < 2:
        return None
    stretches = [_stretch(view, dict(each)) for each in written]
    start, end = max(first for first, _ in stretches), min(last for _, last in stretches)
    lasts = end - start
    if lasts * float(view.shot.capture.rate) < 1:
        return None
    return begun_at(view.index, start, lasts)


def _written(remedy: Finding | Compromise, names: tuple[str, str]) -> tuple[tuple[str, str], ...]:
    """What a remedy writes to any of those keys."""
    return tuple((each.key, each.value) for each in remedy.changes if each.key in names)


def _stretch(view: ShotView, written: dict[str, str]) -> tuple[float, float]:
    """From when to when a shot is filmed once its start or duration is written, by key. [s] on set"""
    times = {key.rpartition(".")[2]: parse(TIME, value) for key, value in written.items()}
    start = times.get("start", float(view.shot.start))
    return start, start + times.get("duration", view.count / float(view.shot.capture.rate))


def _pointed(trial: Trial, finding: Finding) -> Finding:
    """What stops a shot and has no remedy, or of what not all was tried, with a word on what looks further."""
    view = trial.looked.views.get(finding.shot)
    asks = finding.verdict is Verdict.STOP or finding.remedy.endswith(UNTRIED)
    if finding.changes or not asks or view is None or view.scene.vehicle is None:
        return finding
    return replace(finding, remedy=f"{finding.remedy} {ADVISE}".lstrip())


def _mended_alone(findings: list[Finding], shot: str) -> bool:
    return any(each.changes and each.shot == shot and each.id in WANTS for each in findings)


def _settled(trial: Trial, finding: Finding, ways: Iterator[Way], by: Compromise | None) -> Finding:
    """The finding with the first way that holds, alone or with what makes good for it; else with what is weighed.

    by: what answers it together with others; then no trade is told, nor a way that would undo it.
    """
    traded, offered, none = "", False, NOT_FOUND
    left: Way | None = None  # the one that is about to be tried
    least: tuple[int, Way, Outcome] | None = None  # what lays open a shot with least to mend in it, and how much
    if by is not None and finding.id in by.mends:
        return finding
    taken = settled_keys(trial, by) if by is not None and by.changes else set()
    try:
        for way in _own_first(trial, finding, ways):
            trial.purse.pay(way.cost)
            offered = True
            if way.looking:
                left = way if way.words else None
                trial.purse.begin()
                continue
            if not way.changes or any(meet(change.key, key) for change in way.changes for key in taken):
                continue
            left = way
            outcome = outcome_of(trial, way, finding)
            left = None
            if outcome is None:
                continue
            if outcome.holds:
                blind = finding.id in BLIND
                mend = to_mend_and_watch(findings_of(outcome.noted), finding.shot)[0] if blind else 0
                if not mend:
                    return _mended(trial, finding, way, outcome)
                if least is None or mend < least[0]:
                    least = mend, way, outcome
                continue
            traded = traded or _traded(trial, finding, way, outcome)
            for both in made_good(way, outcome):
                together = outcome_of(trial, both, finding)
                if together is not None and together.holds:
                    return _mended(trial, finding, both, together)
    except Spent:
        none = f"{NOT_TRIED} {left.words}" if left is not None else UNTRIED
    if least is not None:
        return _mended(trial, finding, *least[1:])
    if by is not None:
        return finding
    fails = none if finding.verdict is Verdict.STOP and not traded else ""
    # What there is to do where no way holds is for then: not beside a way that may hold, nor told in it already.
    told_there = fails.startswith(NOT_TRIED) or finding.remedy.rstrip(".").lower() in fails.lower()
    said = [each for each in (fails, "" if told_there else finding.remedy, traded) if each]
    lost = finding.verdict is Verdict.STOP and not finding.remedy
    return replace(finding, remedy=" ".join(said) or none) if offered or lost else finding


def _own_first(trial: Trial, finding: Finding, ways: Iterator[Way]) -> Iterator[Way]:
    """The ways in their order, but last those that shots which stand otherwise would have to go along with."""
    last = []
    for way in ways:
        elsewhere = finding.shot and not all(change.key.startswith("shots[") for change in way.changes)
        if elsewhere and trial.looked.own is not None:
            trial.purse.pay(cost_of_writing(trial.looked.scene))
            if not trial.looked.own(way.changes):
                last.append(way)
                continue
        yield way
    yield from last


def _mended(trial: Trial, finding: Finding, way: Way, outcome: Outcome) -> Finding:
    """The finding with a way that holds for its remedy, and what comes with that."""
    return replace(finding, remedy=f"{way.words}{_comes_with(trial, finding, way, outcome)}", changes=way.changes)


#: A finding that is out of order already is worse to speak of where it is so much further past its limit. [stops]
_WORSE = 1.0


def _cost(trial: Trial, finding: Finding, outcome: Outcome) -> str:
    """What is out of order as it is, and by a remedy that holds gets much worse; a sentence, or nothing."""
    before = {(each.id, each.shot): each for each in findings_of(trial.looked.noted)}
    worse, tape = [], trial.looked.scene.tape_unit
    for each in findings_of(outcome.noted):
        was = before.get((each.id, each.shot))
        if was is None or each.id not in WANTS or each.id == finding.id:
            continue
        if Verdict.FINE not in (each.verdict, was.verdict) and misfit([each]) > misfit([was]) + _WORSE:
            of = f" in {each.shot}" if each.shot != finding.shot else ""
            worse.append(f"{WANTS[each.id]}{of} ({measured(each, tape)}; it is {shown_value(was, tape)})")
    return f" {COSTS} {'; '.join(worse)}." if worse else ""


def _comes_with(trial: Trial, finding: Finding, way: Way, outcome: Outcome) -> str:
    """What comes with a remedy that holds: what is then out of order that was not, and what gets much worse."""
    if finding.shot in blind_shots(trial.looked.noted):
        # A question whether something else was meant says nothing of what will be.
        return "" if way.words.endswith("?") else " What else is wrong with the shot shows then: check again."
    brought = out_of_order(brought_by(trial.looked.noted, outcome.noted), finding.shot)
    return f"{f' {brought}' if brought else ''}{_cost(trial, finding, outcome)}"


def _stops_likewise(one: Finding, other: Finding) -> bool:
    """Whether both are one question's answer for one shot, and stop it."""
    return (one.id, one.shot) == (other.id, other.shot) and one.verdict is other.verdict is Verdict.STOP


def _traded(trial: Trial, finding: Finding, way: Way, outcome: Outcome) -> str:
    """What a way that does not hold would cost; of one that stops the shot that it is not to be followed."""
    if outcome.brings is None:
        return ""
    words = way.tried or way.words
    if any(_stops_likewise(each, outcome.brings) for each in findings_of(trial.looked.noted)):
        return f"What mends it makes another stop worse: {words} Then: {outcome.brings.sentence}"
    if outcome.brings.verdict is Verdict.STOP:
        return f"Not this: {words} The shot then does not work: {outcome.brings.sentence}"
    brought = brought_by(trial.looked.noted, outcome.noted) or [outcome.brings]
    return f"What mends it spoils something else: {words} {out_of_order(brought, finding.shot)}"
