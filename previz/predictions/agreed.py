"""Remedies that agree: each is applied and checked again before it is shown.

A remedy holds if its finding is gone, nothing stops that did not, nothing stands where it did not, on the road or in
the way, and fewer things are out of order than before (`Standing`). Whoever follows remedies that hold, in any order,
comes to an end: each takes the scene to a better standing, and there are only so many.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from previz.errors import PrevizError
from previz.predictions.findings import Finding, Notes, Verdict, Way, worst_first
from previz.predictions.looking import BLIND, Look, Noted, all_looks, blind, cost_of, looks_touched, noted_by, plain
from previz.scene import Scene, rewritten

#: What trying may cost in all, in the measure of `looking.cost_of`: about this many milliseconds. Counted and not
#: timed, so that a scene gets the same answer on every machine.
PATIENCE = 650

#: A question to the maker, asked once a scene in whichever shot comes first: none is better off for losing it.
_ASKED = "light.mains"

#: The most of it that goes to one finding. [-]
_AT_MOST = 0.5

#: So many ways are tried together with one that brings something else.
_TOGETHER = 2

NOT_FOUND = "Nothing was found here that mends it and spoils nothing else."
UNTRIED = "What mends it and spoils nothing else was not found in the time that this takes."


@dataclass(frozen=True, order=True)
class Standing:
    """How a scene stands; less is better, the first counts most.

    Parameters
    ----------
    blind : int
        Shots of which nothing can be said.
    stops, watches : int
        Findings by verdict.
    """

    blind: int
    stops: int
    watches: int


def standing_of(findings: list[Finding]) -> Standing:
    """How a scene with those findings stands."""
    judged = [each for each in findings if each.id != _ASKED]
    return Standing(
        sum(each.id in BLIND and each.verdict is Verdict.STOP for each in judged),
        sum(each.verdict is Verdict.STOP for each in judged),
        sum(each.verdict is Verdict.WATCH for each in judged),
    )


class _Spent(Exception):
    """Patience is at its end."""


@dataclass
class _Purse:
    """What is left of the patience."""

    left: float
    share: float = 0.0

    def open(self) -> None:
        """For the next finding."""
        self.share = min(self.left, _AT_MOST * PATIENCE)

    def pay(self, cost: float) -> None:
        """Take what a look costs. Raises _Spent."""
        self.left -= cost
        self.share -= cost
        if self.share < 0:
            raise _Spent


def findings_of(noted: Noted) -> list[Finding]:
    """All findings, in the order of the checks."""
    return [finding for notes in noted.values() for finding in notes.findings]


def agreed(scene: Scene, noted: Noted) -> tuple[Finding, ...]:
    """Every finding, worst first, with the first of its ways that holds; of the others, what is then to be weighed.

    A scene that no file stands behind has none tried, and so none shown.
    """
    ways = {id(one): way for notes in noted.values() for one, way in zip(notes.findings, notes.ways, strict=True)}
    ordered = worst_first(findings_of(noted))
    if scene.written is None:
        return ordered
    trial = _Trial(scene, noted, standing_of(findings_of(noted)), _Purse(PATIENCE))
    return tuple(_settled(trial, each, ways[id(each)]) for each in ordered)


@dataclass(frozen=True)
class _Trial:
    """A scene with what was noted of it, and the patience left to try remedies."""

    scene: Scene
    noted: Noted
    standing: Standing
    purse: _Purse


@dataclass(frozen=True)
class _Outcome:
    """What came of a way that mends its finding: whether it holds, else what it brings, and how that may be mended."""

    holds: bool
    brings: Finding | None = None
    mended_by: Callable[[], tuple[Way, ...]] = tuple


def _settled(trial: _Trial, finding: Finding, ways: Callable[[], tuple[Way, ...]]) -> Finding:
    """The finding with the first way that holds, alone or with what makes good for it; else with what is weighed."""
    traded, offered, none = "", ways(), NOT_FOUND
    trial.purse.open()
    try:
        for way in offered:
            outcome = _outcome(trial, finding, way)
            if outcome is None:
                continue
            if outcome.holds:
                return replace(finding, remedy=way.words, changes=way.changes)
            traded = traded or _traded(way, outcome.brings)
            for both in _made_good(way, outcome):
                together = _outcome(trial, finding, both)
                if together is not None and together.holds:
                    return replace(finding, remedy=both.words, changes=both.changes)
    except _Spent:
        none = UNTRIED
    said = [each for each in (finding.remedy, traded) if each]
    return replace(finding, remedy=" ".join(said) or none) if offered else finding


def _made_good(way: Way, outcome: _Outcome) -> list[Way]:
    """A way together with what mends what it brings, as far as the two do not write the same keys."""
    own = [change.key for change in way.changes]
    return [
        Way(f"{way.words} With it: {more.words[0].lower()}{more.words[1:]}", (*way.changes, *more.changes))
        for more in outcome.mended_by()
        if not any(_meet(change.key, key) for change in more.changes for key in own)
    ][:_TOGETHER]


def _meet(one: str, other: str) -> bool:
    """Whether one key is the other, or lies in it.

    >>> _meet("set.backdrop", "set.backdrop.join"), _meet("shots[0].at", "shots[0].aim")
    (True, False)
    """
    return f"{one}.".startswith(f"{other}.") or f"{other}.".startswith(f"{one}.")


def _traded(way: Way, brings: Finding | None) -> str:
    """What a way that does not hold would cost; one that stops the shot is not named, so that nobody follows it."""
    if brings is None:
        return ""
    if brings.verdict is Verdict.STOP:
        return f"What would mend it stops the shot: {brings.message}"
    return f"Only by trade: {way.words} That mends it, and brings this: {brings.message}"


def _outcome(trial: _Trial, finding: Finding, way: Way) -> _Outcome | None:
    """What comes of a way; None where it does not mend the finding, or cannot be written. Raises _Spent."""
    try:
        then = rewritten(trial.scene, plain(way.changes))
        return _seen_in(then, trial, finding, looks_touched(trial.scene, way.changes))
    except PrevizError:
        return None


def _seen_in(then: Scene, trial: _Trial, finding: Finding, looks: list[Look]) -> _Outcome | None:
    noted = trial.noted
    own = next(look for look, notes in noted.items() if any(each is finding for each in notes.findings))
    blind_shots = {look.shot for look, notes in noted.items() if blind(notes)}
    looks = list(dict.fromkeys([*looks, *(look for look in all_looks(then) if look.shot in blind_shots)]))
    if own not in looks:
        return None  # nothing that this writes has to do with it
    after = {look: notes for look, notes in noted.items() if look not in looks}
    watched: _Outcome | None = None
    for look, notes in _paid(then, sorted(looks, key=lambda look: (look != own, cost_of(then, look))), trial.purse):
        if blind(notes) and look.shot not in blind_shots:
            return _Outcome(False, notes.findings[0])
        after[look] = notes
        if look == own and _count(notes, finding) >= _count(noted[own], finding):
            return None
        # A shot of which nothing could be said hid what stops it; that is not new.
        for verdict in (Verdict.STOP, Verdict.WATCH):
            for number in _new(notes, noted.get(look), verdict) if look.shot not in blind_shots else []:
                outcome = _Outcome(False, notes.findings[number], notes.ways[number])
                if verdict is Verdict.STOP or look.check == "set":  # nothing is moved onto the road or into the way
                    return outcome
                watched = watched or outcome
    if standing_of(findings_of(after)) < trial.standing:
        return _Outcome(True)
    return watched


def _paid(scene: Scene, looks: list[Look], purse: _Purse) -> Iterator[tuple[Look, Notes]]:
    """The looks one by one, as long as patience lasts."""
    notes = noted_by(scene, looks)
    for look in looks:
        purse.pay(cost_of(scene, look))
        found = next(notes, None)
        if found is None:  # a shot that cannot be laid open is noted once
            return
        yield found


def _new(notes: Notes, before: Notes | None, verdict: Verdict) -> list[int]:
    """Numbers of the findings of that verdict of which there were fewer before."""
    known = Counter(each.id for each in (before.findings if before is not None else ()) if each.verdict is verdict)
    found = [number for number, each in enumerate(notes.findings) if each.verdict is verdict and each.id != _ASKED]
    more = Counter(notes.findings[number].id for number in found) - known
    return [number for number in found if notes.findings[number].id in more]


def _count(notes: Notes, finding: Finding) -> int:
    """How many of that name are not fine."""
    return sum(each.id == finding.id and each.verdict is not Verdict.FINE for each in notes.findings)
