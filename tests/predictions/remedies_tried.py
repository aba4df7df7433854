"""What becomes of a scene whose remedies are applied: the whole of it is looked at anew."""

from collections import Counter

from previz.predictions import Change, Finding, Predictions, Verdict, predict
from previz.predictions.looking import BLIND
from previz.predictions.trying import ASKED
from previz.scene import Scene, rewritten

#: More findings than a scene has: each round mends one.
MOST_ROUNDS = 40

#: A stop so much further past its limit is worse; two meterings of one light from two places differ by less.
WORSE = 1.01


#: What is looked at even of a shot of which nothing else can be said.
OF_THE_SET = "set.", "gear.stands."


def names(predictions: Predictions, *verdicts: Verdict) -> Counter[tuple[str, str]]:
    """Of each shot what is out of order there: what is of the set in all of them is told once, and is of each."""
    found = [each for each in predictions.findings if each.verdict in verdicts]
    return Counter((shot, each.id) for each in found for shot in shots_of(predictions, each))


def shots_of(predictions: Predictions, finding: Finding) -> list[str]:
    """In which shots it holds."""
    return [finding.shot, *finding.also] if finding.shot else [each.shot for each in predictions.shots]


def applied(scene: Scene, changes: tuple[Change, ...]) -> Scene:
    return rewritten(scene, {change.key: change.value for change in changes})


def spoiled(scene: Scene, before: Predictions) -> list[str]:
    """Of every remedy shown what is wrong: its finding is not cleared, something stops that did not, or more so; or
    something is then out of order that was not, and it does not say so.
    """
    wrong, tried = [], dict[str, Predictions]()
    bad = Verdict.STOP, Verdict.WATCH
    for finding in before.findings:
        if not finding.changes:
            continue
        key = repr(finding.changes)
        if key not in tried:
            tried[key] = predict(applied(scene, finding.changes), remedies=False)
        after = tried[key]
        now, then = names(after, *bad), names(before, *bad)
        if any(now[shot, finding.id] >= then[shot, finding.id] for shot in shots_of(before, finding)):
            wrong.append(f"{finding.id} is not cleared by {finding.remedy}")
        wrong += [f"{name} after {finding.remedy}" for name in spoiled_stops(before, after)]
        wrong += unsaid(before, after, finding.remedy)
    for each in before.compromises:
        if each.changes:
            after = tried.get(repr(each.changes)) or predict(applied(scene, each.changes), remedies=False)
            wrong += [f"{name} after {each.words}" for name in spoiled_stops(before, after)]
            wrong += unsaid(before, after, each.weighed)
    return wrong


def unsaid(before: Predictions, after: Predictions, words: str) -> list[str]:
    """What is out of order then, was not and is told, and is not in the words of the remedy: its gist at the least."""
    bad = Verdict.STOP, Verdict.WATCH
    hidden = {each.shot for each in before.findings if each.id in BLIND and each.verdict is Verdict.STOP}
    new = names(after, *bad).keys() - names(before, *bad).keys()
    return [
        f"{each.shot}: {each.id} is not said by {words}"
        for each in after.told
        if any((shot, each.id) in new for shot in shots_of(after, each)) and each.shot not in hidden
        if each.id not in ASKED and each.gist not in words
        if each.id != "light.iso" or "Noise shows then." not in words
    ]


def spoiled_stops(before: Predictions, after: Predictions) -> list[str]:
    """What stops then and did not, or is further past its limit; not what a shot hid that could not be looked at."""
    hidden = {each.shot for each in before.findings if each.id in BLIND and each.verdict is Verdict.STOP}
    then, now = past_limits(before), past_limits(after)
    said = []
    for (shot, name), found in now.items():
        was = then.get((shot, name), [])
        if shot in hidden and not name.startswith(OF_THE_SET):
            continue
        if len(found) > len(was):
            said.append(f"{shot}: {name} stops")
        said += [
            f"{shot}: {name} is worse, {b:.3g} past its limit where it was {a:.3g},"
            for a, b in zip(was, found, strict=False)
            if b > a * WORSE
        ]
    return said


def past_limits(predictions: Predictions) -> dict[tuple[str, str], list[float]]:
    """How far every stop is past its limit, by shot and name, the furthest first."""
    found: dict[tuple[str, str], list[float]] = {}
    for each in predictions.findings:
        if each.verdict is Verdict.STOP:
            past = abs(each.value - each.limit) / (abs(each.limit) or 1.0)
            for shot in shots_of(predictions, each):
                found.setdefault((shot, each.id), []).append(past)
    return {name: sorted(values, reverse=True) for name, values in found.items()}


def followed(scene: Scene, first: Predictions) -> tuple[list[Predictions], str]:
    """What is said in each round where the worst that has a remedy is followed; `ends`, `loops` or `goes on`."""
    seen, rounds = set[str](), [first]
    for _ in range(MOST_ROUNDS):
        if repr(scene) in seen:
            return rounds, "loops"
        seen.add(repr(scene))
        changes = next_of(rounds[-1])
        if not changes:
            return rounds, "ends"
        scene = applied(scene, changes)
        rounds.append(predict(scene))
    return rounds, "goes on" if next_of(rounds[-1]) else "ends"


def next_of(predictions: Predictions) -> tuple[Change, ...]:
    """What a maker would do next."""
    shown = (*(each.changes for each in predictions.findings), *(each.changes for each in predictions.compromises))
    return next((changes for changes in shown if changes), ())
