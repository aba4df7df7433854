"""Remedies that agree: each is applied and checked again before it is shown.

A remedy holds if its finding is gone, nothing stops that did not, and fewer things are out of order than before
(`Standing`). Whoever follows remedies that hold, in any order, comes to an end: each takes the scene to a better
standing, and there are only so many.
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
PATIENCE = 600

#: A question to the maker, asked once a scene in whichever shot comes first: none is better off for losing it.
_ASKED = "light.mains"

NOT_FOUND = "Nothing was found here that mends it alone and brings no new stop."


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

    def pay(self, cost: float) -> None:
        """Take what a look costs. Raises _Spent."""
        self.left -= cost
        if self.left < 0:
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
    purse = _Purse(PATIENCE)
    return tuple(_settled(scene, noted, each, ways[id(each)], purse) for each in ordered)


def _settled(
    scene: Scene, noted: Noted, finding: Finding, ways: Callable[[], tuple[Way, ...]], purse: _Purse
) -> Finding:
    """The finding with the first way that holds; where none does, with the first that trades it for another."""
    trade, offered = "", ways()
    try:
        for way in offered:
            brings = _brought_by(scene, noted, finding, way, purse)
            if brings == []:
                return replace(finding, remedy=way.words, changes=way.changes)
            if brings and not trade:
                trade = _traded(way, brings[0])
    except _Spent:
        pass
    said = [each for each in (finding.remedy, trade) if each]
    return replace(finding, remedy=" ".join(said) or NOT_FOUND) if offered else finding


def _traded(way: Way, brings: Finding) -> str:
    """What a way that does not hold would cost; one that stops the shot is not named, so that nobody follows it."""
    if brings.verdict is Verdict.STOP:
        return f"What would mend it stops the shot: {brings.message}"
    return f"Only by trade: {way.words} That mends it, and brings this: {brings.message}"


def _brought_by(scene: Scene, noted: Noted, finding: Finding, way: Way, purse: _Purse) -> list[Finding] | None:
    """What a way brings with it: nothing where it holds; None where it does not mend the finding. Raises _Spent."""
    try:
        then = rewritten(scene, plain(way.changes))
        return _brought(then, noted, finding, looks_touched(scene, way.changes), purse)
    except PrevizError:  # it cannot be written, or not be worked out
        return None


def _brought(then: Scene, noted: Noted, finding: Finding, looks: list[Look], purse: _Purse) -> list[Finding] | None:
    own = next(look for look, notes in noted.items() if any(each is finding for each in notes.findings))
    blind_shots = {look.shot for look, notes in noted.items() if blind(notes)}
    looks = list(dict.fromkeys([*looks, *(look for look in all_looks(then) if look.shot in blind_shots)]))
    after = {look: notes for look, notes in noted.items() if look not in looks}
    for look, notes in _paid(then, sorted(looks, key=lambda look: (look != own, cost_of(then, look))), purse):
        if blind(notes) and look.shot not in blind_shots:
            return [notes.findings[0]]
        after[look] = notes
        if look == own and _count(notes, finding) >= _count(noted[own], finding):
            return None
        # A shot of which nothing could be said hid what stops it; that is not new.
        stops = [each for each in _new(notes, noted.get(look), Verdict.STOP) if each.shot not in blind_shots]
        if stops:
            return stops
    if standing_of(findings_of(after)) < standing_of(findings_of(noted)):
        return []
    return [
        each for look in looks if look in after for each in _new(after[look], noted.get(look), Verdict.WATCH)
    ] or None


def _paid(scene: Scene, looks: list[Look], purse: _Purse) -> Iterator[tuple[Look, Notes]]:
    """The looks one by one, as long as patience lasts."""
    notes = noted_by(scene, looks)
    for look in looks:
        purse.pay(cost_of(scene, look))
        found = next(notes, None)
        if found is None:  # a shot that cannot be laid open is noted once
            return
        yield found


def _new(notes: Notes, before: Notes | None, verdict: Verdict) -> list[Finding]:
    """Findings of that verdict of which there were fewer before."""
    known = Counter(each.id for each in (before.findings if before is not None else ()) if each.verdict is verdict)
    found = [each for each in notes.findings if each.verdict is verdict and each.id != _ASKED]
    more = Counter(each.id for each in found) - known
    return [each for each in found if each.id in more]


def _count(notes: Notes, finding: Finding) -> int:
    """How many of that name are not fine."""
    return sum(each.id == finding.id and each.verdict is not Verdict.FINE for each in notes.findings)
