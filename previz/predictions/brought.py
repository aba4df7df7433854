"""What comes with a remedy: all that is then out of order and was not, in words."""

import re
from collections.abc import Sequence

from previz.predictions.findings import Finding, Verdict, as_told, worst_first
from previz.predictions.looking import Noted
from previz.predictions.trying import blind_shots, findings_of, new_among

#: Before what comes with a remedy: what was in order, and what was not and gets much worse.
_ONE, _MORE, COSTS = "Then this is out of order:", "Then these are out of order:", "It costs:"

#: More than so many are told in short.
_AT_LENGTH = 3


def brought_by(before: Noted, after: Noted) -> list[Finding]:
    """What is out of order then and was not, the gravest first.

    Not what is asked of the maker, nor what is told among the figures alone; nor of a shot of which nothing could be
    said before.
    """
    was = {(each.id, each.shot) for each in findings_of(before) if each.verdict is not Verdict.FINE}
    hidden, new = blind_shots(before), list[Finding]()
    for look, notes in after.items():
        if look.shot in hidden:
            continue
        stops, watches = (
            [notes.findings[number] for number in new_among(notes, before.get(look), verdict)]
            for verdict in (Verdict.STOP, Verdict.WATCH)
        )
        new += [*stops, *(each for each in watches if (each.id, each.shot) not in was)]  # one that stopped is milder
    return list(worst_first(each for each in new if not each.among_figures))


def out_of_order(brought: Sequence[Finding], shot: str) -> str:
    """That in words, each with its shot where that is another than this one; "" where nothing is.

    >>> late = Finding("shot.run", "shot_end", 2, 1, "s", Verdict.WATCH, "It has left: the shot ends later.", shot="s")
    >>> out_of_order([late], "s"), out_of_order([], "s")
    ('Then this is out of order: It has left: the shot ends later.', '')
    >>> out_of_order([late] * 4, "t")
    'Then these are out of order: In s: It has left. In s: It has left. In s: It has left. In s: It has left.'
    """
    told = as_told(brought)
    if not told:
        return ""
    said = [
        ("" if each.shot in ("", shot) else f"In {each.shot}: ")
        + (f"{each.gist}." if len(told) > _AT_LENGTH else each.sentence)
        for each in told
    ]
    return f"{_ONE if len(told) == 1 else _MORE} {' '.join(said)}"


def what_to_do(remedy: str) -> str:
    """A remedy without what comes with it.

    >>> what_to_do("Open up to f/4. Then this is out of order: It has left."), what_to_do("Open up to f/4.")
    ('Open up to f/4.', 'Open up to f/4.')
    """
    for begins in (_ONE, _MORE, COSTS):
        remedy = remedy.partition(f" {begins}")[0]
    return remedy


def in_all(remedies: Sequence[tuple[str, Sequence[str]]]) -> str:
    """A remedy that several setups have in common, with the ids of the shots of each: what comes with it in any.

    >>> dark, noisy = "Move it. Then this is out of order: In {}: It is dark.", "It costs: noise in c (2; it is 1)."
    >>> in_all([(dark.format("a"), ["a"]), (dark.format("b"), ["b"]), (f"Move it. {noisy}", ["c"])])
    'Move it. Then this is out of order: In a and b: It is dark. It costs: noise in c (2; it is 1).'
    """
    what, costs, where = what_to_do(remedies[0][0]), dict[str, None](), dict[str, list[str]]()
    for remedy, shots in remedies:
        brought, _, cost = remedy.removeprefix(what).strip().partition(f"{COSTS} ")
        if cost:
            costs[cost.removesuffix(".")] = None
        for shot, said in _by_shot(brought, shots):
            where.setdefault(said, []).append(shot)
    told = [f"In {_both(ids)}: {said}" if all(ids) else said for said, ids in where.items()]
    brought = f" {_ONE if len(told) == 1 else _MORE} {' '.join(told)}" if told else ""
    return what + brought + (f" {COSTS} {'; '.join(costs)}." if costs else "")


def _by_shot(brought: str, shots: Sequence[str]) -> list[tuple[str, str]]:
    """What `out_of_order` said, by the shot that it is said of, "" for the set."""
    bare = brought.removeprefix(_ONE).removeprefix(_MORE)
    of_set, *others = re.split(rf" In ({'|'.join(map(re.escape, shots))}): ", bare)
    pairs = [("", of_set), *zip(others[::2], others[1::2], strict=True)]
    return [(shot, said.strip()) for shot, said in pairs if said.strip()]


def _both(names: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
