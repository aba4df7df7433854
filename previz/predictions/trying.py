"""Trying a remedy: it is written into the scene, and what may have changed is looked at again.

Trying has a patience that is counted and not timed, so that a scene gets the same answer on every machine.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

from previz.errors import PrevizError
from previz.predictions.findings import Finding, Notes, Verdict, Way, past_limit
from previz.predictions.looking import (
    A_SHOT,
    BLIND,
    Look,
    Looked,
    Noted,
    all_looks,
    blind,
    cost_of,
    cost_of_set,
    cost_of_writing,
    looks_touched,
    noted_by,
    plain,
    views_that_hold,
)
from previz.scene import Scene, rewritten

#: What looking and trying may cost in all, in the measure of `looking.cost_of`: about this many milliseconds; and what
#: is left to try with where looking alone costs more.
PATIENCE, LEAST_PATIENCE = 800, 250

#: A question to the maker, asked once a scene in whichever shot comes first; and all questions. No scene is better off
#: for losing one.
ASKED_ONCE = "light.mains"
ASKED = (ASKED_ONCE, "run_up.room", "run_up.hand")

#: A stop that is this much further past its limit than it was is worse: less is what two meterings of one light differ.
_WORSE = 1.01

#: Between what to do and what to do with it.
WITH_IT = " With it: "

#: So many ways are tried together with one that brings something else.
_TOGETHER = 2


class Spent(Exception):
    """Patience is at its end."""


@dataclass
class Purse:
    """What is left of the patience, and of the share of it that one question may take."""

    left: float
    share: float = 0.0

    @classmethod
    def after(cls, seen: Sequence[Looked]) -> "Purse":
        """What is left once each setup of a scene was looked at."""
        spent = sum(cost_of(looked.scene, look) for looked in seen for look in looked.noted)
        spent += sum(A_SHOT * len(looked.views) + cost_of_set(looked.scene) for looked in seen)
        return cls(max(PATIENCE - spent, LEAST_PATIENCE))

    def open(self, questions: float, weight: float = 1.0) -> None:
        """For the next of so many questions, taken together: twice what it would get if each got as it weighs."""
        self.share = self.left * min(2 * weight / (questions + weight), 1.0)

    def begin(self) -> None:
        """Before a trial, which then is carried through. Raises Spent."""
        if self.share <= 0:
            raise Spent

    def pay(self, cost: float) -> None:
        """Take what a look costs."""
        self.left -= cost
        self.share -= cost


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


def standing_of(noted: Noted) -> Standing:
    """How a scene with those findings stands."""
    judged = [each for each in findings_of(noted) if each.id not in ASKED]
    return Standing(
        sum(each.id in BLIND and each.verdict is Verdict.STOP for each in judged),
        sum(each.verdict is Verdict.STOP for each in judged),
        sum(each.verdict is Verdict.WATCH for each in judged),
    )


def findings_of(noted: Noted) -> list[Finding]:
    """All findings, in the order of the checks."""
    return [finding for notes in noted.values() for finding in notes.findings]


@dataclass(frozen=True)
class Outcome:
    """What comes of a way that mends what it is for.

    Parameters
    ----------
    scene : Scene
        With it written in.
    holds : bool
        Whether it spoils nothing.
    noted : Noted
        All that is then noted, as far as that was looked at.
    brings, mended_by
        The first thing that it brings, and how that may be mended.
    """

    scene: Scene
    holds: bool
    noted: Noted
    brings: Finding | None = None
    mended_by: tuple[Way, ...] = ()


@dataclass(frozen=True)
class Trial:
    """A scene with what was noted of it, and the patience left to try remedies."""

    looked: Looked
    purse: Purse
    held: dict[str, Outcome] = field(default_factory=dict)  # what was found to hold, by what it writes

    @property
    def standing(self) -> Standing:
        """How it stands as it is."""
        return standing_of(self.looked.noted)

    def look_of(self, finding: Finding) -> Look:
        """Which look it comes from."""
        noted = self.looked.noted
        return next(look for look, notes in noted.items() if any(each is finding for each in notes.findings))


def outcome_of(trial: Trial, way: Way, finding: Finding | None = None) -> Outcome | None:
    """What comes of a way; None where it does not mend the finding, or cannot be written. Raises Spent."""
    looked = trial.looked
    own = trial.look_of(finding) if finding is not None else None
    known = trial.held.get(repr(way.changes))
    if known is not None:
        return known if finding is None or own is None or _mends(known.noted, looked.noted, own, finding) else None
    trial.purse.begin()
    trial.purse.pay(cost_of_writing(trial.looked.scene))
    try:
        outcome = _seen_in(rewritten(looked.scene, plain(way.changes)), trial, way, finding, own)
    except PrevizError:
        return None
    if outcome is not None and outcome.holds:
        trial.held[repr(way.changes)] = outcome
    return outcome


def _seen_in(then: Scene, trial: Trial, way: Way, finding: Finding | None, own: Look | None) -> Outcome | None:
    noted, hidden = trial.looked.noted, blind_shots(trial.looked.noted)
    looks = looks_touched(trial.looked.scene, way.changes)
    looks = list(dict.fromkeys([*looks, *(look for look in all_looks(then) if look.shot in hidden)]))
    if own is not None and own not in looks:
        return None
    after = {look: notes for look, notes in noted.items() if look not in looks}
    watched: Outcome | None = None
    for look, notes in _paid(then, looks, own, trial, way):
        after[look] = notes
        if blind(notes) and look.shot not in hidden:
            return Outcome(then, False, after, notes.findings[0])
        if finding is not None and look == own and not _mends(after, noted, own, finding):
            return None
        # A shot of which nothing could be said hid what stops it; that is not new.
        for verdict in (Verdict.STOP, Verdict.WATCH):
            for number in _spoiled(notes, noted.get(look), verdict) if look.shot not in hidden else []:
                brought = notes.findings[number]
                # Nothing is moved onto the road or into the way.
                if verdict is Verdict.STOP or look.check in ("set", "others"):
                    return Outcome(then, False, after, brought, tuple(islice(notes.ways[number](), 2 * _TOGETHER)))
                watched = watched or Outcome(then, False, after, brought, tuple(islice(notes.ways[number](), 4)))
    if standing_of(after) < trial.standing:
        return Outcome(then, True, after)
    return watched or Outcome(then, False, after)


def _paid(then: Scene, looks: list[Look], own: Look | None, trial: Trial, way: Way) -> Iterator[tuple[Look, Notes]]:
    """The looks one by one, what it is for first and then the cheapest, as long as patience lasts."""
    views = views_that_hold(trial.looked, then, way.changes)
    metered = bool(views)
    ordered = sorted(looks, key=lambda look: (look != own, cost_of(then, look, metered=metered)))
    notes = noted_by(then, ordered, views)
    # What is filmed or lit otherwise leaves the set as it was metered.
    known = metered or all(change.key.startswith(("shots[", "lights[")) for change in way.changes)
    for look in ordered:
        if look.check == "light" and not known:
            known = True
            trial.purse.pay(cost_of_set(then))
        trial.purse.pay(cost_of(then, look, metered=metered))
        found = next(notes, None)
        if found is None:  # a shot that cannot be laid open is noted once
            return
        yield found


def made_good(way: Way, outcome: Outcome) -> list[Way]:
    """A way together with what mends what it brings, as far as the two do not write the same keys.

    Another stretch of a shot that mends it stands alone; not another move, which is told from where the way moved to.
    """
    own = {change.key for change in way.changes}
    stretch = all(key.endswith((".start", ".duration")) for key in own)
    found = []
    for more in outcome.mended_by:
        if stretch and own <= {change.key for change in more.changes}:
            found.append(Way(more.words, more.changes))
        elif more.changes and not any(meet(change.key, key) for change in more.changes for key in own):
            found.append(Way(with_it(way.words, more.words), (*way.changes, *more.changes)))
    return found[:_TOGETHER]


def with_it(words: str, more: str) -> str:
    """What to do, and what with it.

    >>> with_it("Stop down to f/8.", "Bring the lamp nearer.")
    'Stop down to f/8. With it: bring the lamp nearer.'
    """
    return f"{words}{WITH_IT}{more[0].lower()}{more[1:]}"


def meet(one: str, other: str) -> bool:
    """Whether one key is the other, or lies in it.

    >>> meet("set.backdrop", "set.backdrop.join"), meet("shots[0].at", "shots[0].aim")
    (True, False)
    """
    return f"{one}.".startswith(f"{other}.") or f"{other}.".startswith(f"{one}.")


def blind_shots(noted: Noted) -> set[str]:
    """Ids of the shots of which nothing can be said."""
    return {look.shot for look, notes in noted.items() if blind(notes)}


def _spoiled(notes: Notes, before: Notes | None, verdict: Verdict) -> list[int]:
    """Numbers of the findings of that verdict that are new, and of the stops that are worse than they were."""
    return [*new_among(notes, before, verdict), *(_worse(notes, before) if verdict is Verdict.STOP else [])]


def _worse(notes: Notes, before: Notes | None) -> list[int]:
    """Numbers of the stops further past their limits than those of their names were, the worst beside the worst."""
    found = []
    was = _stops_by_name(before) if before is not None else {}
    for name, stops in _stops_by_name(notes).items():
        for (now, number), (then, _) in zip(stops, was.get(name, []), strict=False):
            if now > then * _WORSE:
                found.append(number)
    return found


def _stops_by_name(notes: Notes) -> dict[str, list[tuple[float, int]]]:
    """How far each stop is past its limit, and its number, by name, the furthest first."""
    found: dict[str, list[tuple[float, int]]] = {}
    for number, each in enumerate(notes.findings):
        if each.verdict is Verdict.STOP:
            found.setdefault(each.id, []).append((past_limit(each), number))
    return {name: sorted(stops, reverse=True) for name, stops in found.items()}


def new_among(notes: Notes, before: Notes | None, verdict: Verdict) -> list[int]:
    """Numbers of the findings of that verdict of which there were fewer before."""
    known = Counter(each.id for each in (before.findings if before is not None else ()) if each.verdict is verdict)
    found = [number for number, each in enumerate(notes.findings) if each.verdict is verdict and each.id not in ASKED]
    more = Counter(notes.findings[number].id for number in found) - known
    return [number for number in found if notes.findings[number].id in more]


def _mends(after: Noted, before: Noted, own: Look, finding: Finding) -> bool:
    """Whether fewer of that name are out of order."""

    def count(noted: Noted) -> int:
        return sum(each.id == finding.id and each.verdict is not Verdict.FINE for each in noted[own].findings)

    return own in after and count(after) < count(before)
