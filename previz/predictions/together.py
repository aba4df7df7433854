"""What is predicted of several setups, told as one: what is said of the set in each of them once, and remedies written
where the file has what they change.
"""

from collections.abc import Sequence
from dataclasses import replace

from previz.predictions.brought import in_all, what_to_do
from previz.predictions.compromise import Compromise
from previz.predictions.findings import Change, Figure, Finding, worst_first
from previz.predictions.looking import plain
from previz.predictions.trying import ASKED_ONCE
from previz.scene import Scene, Setup, common_changes, in_braces, listed, own_changes

#: Before a remedy that only a change to what other shots stand on would write.
SHARED = "Only by a change to the common set, which other shots stand on too:"


def findings_together(scene: Scene, setups: Sequence[Setup], found: Sequence[Sequence[Finding]]) -> tuple[Finding, ...]:
    """All findings of all setups, worst first; one of the set that holds in several is told once.

    One that holds in every setup is of the whole scene; else it is of the first shot in which it holds, with the others
    beside it.
    """
    of_the_set: dict[tuple[str, str], list[_Held]] = {}
    for setup, findings in zip(setups, found, strict=True):
        for each in findings:
            if not each.shot:
                of_the_set.setdefault((each.id, each.message), []).append((setup, each))
    told: list[Finding] = []
    asked = False
    for setup, findings in zip(setups, found, strict=True):
        for each in findings:
            if not each.shot:
                told += [_of_the_set(scene, alike) for alike in _by_remedy(of_the_set.pop((each.id, each.message), []))]
            elif each.id != ASKED_ONCE or not asked:
                told.append(_written(scene, each, [(setup, each)]))
                asked = asked or each.id == ASKED_ONCE
    return worst_first(told)


#: A finding of a setup.
_Held = tuple[Setup, Finding]


def _by_remedy(held: Sequence[_Held]) -> list[list[_Held]]:
    """Findings of the same words in groups that one remedy mends, whatever comes with it in each; all of them where
    nothing that was tried does."""
    if held and not any(each.changes for _, each in held):
        return [list(held)]
    groups: dict[str, list[_Held]] = {}
    for setup, each in held:
        groups.setdefault(what_to_do(each.remedy), []).append((setup, each))
    return list(groups.values())


def _of_the_set(scene: Scene, held: Sequence[_Held]) -> Finding:
    """One finding of the set, told of the whole scene or of the shots in which it holds."""
    first, shots = held[0][1], {shot for setup, _ in held for shot in setup.shots}
    if len(held) > 1 and first.remedy:
        first = replace(first, remedy=in_all([(each.remedy, setup.shots) for setup, each in held]))
    if len(shots) == len(scene.shots):
        written = _common(scene, held) if first.changes else ()
        return replace(first, changes=written) if written is not None else _written(scene, first, held)
    ids = [shot.id for shot in scene.shots if shot.id in shots]
    return replace(_written(scene, first, held), shot=ids[0], also=tuple(ids[1:]))


def _common(scene: Scene, held: Sequence[_Held]) -> tuple[Change, ...] | None:
    found = common_changes(scene, [(setup, plain(each.changes)) for setup, each in held])
    return None if found is None else tuple(Change(key, value) for key, value in found.items())


def _written(scene: Scene, finding: Finding, held: Sequence[_Held]) -> Finding:
    """The finding with its changes written for the shots of the setups that it holds in."""
    if not finding.changes:
        return finding
    changes: dict[str, Change] = {}
    for setup, each in held:
        own = own_changes(scene, setup, plain(each.changes))
        if own is None:
            return replace(finding, remedy=f"{SHARED} {finding.remedy}", changes=())
        changes |= {key: Change(key, value) for key, value in own.items()}
    return replace(finding, changes=tuple(changes.values()))


def compromise_in_file(scene: Scene, setup: Setup, found: Compromise) -> Compromise:
    """A compromise with its changes as the file has them: it is about one shot, and changes nothing for other setups.

    Where it moves a lamp that other shots use too, it says where that is written.
    """
    if not found.changes:  # to see where the file would have them takes a scene anew
        return found
    own = own_changes(scene, setup, plain(found.changes)) or {}
    changes = tuple(Change(key, value) for key, value in own.items())
    return replace(found, words=f"{found.words}{_where_written(scene, changes)}", changes=changes)


def _where_written(scene: Scene, changes: Sequence[Change]) -> str:
    """Of lamps that shots have for themselves: in which, and how the file has it; a sentence, or nothing.

    A lamp moved in `lights` would be moved in all other shots.
    """
    told: dict[str, list[str]] = {}
    for change in changes:
        first, _, rest = change.key.partition("].")
        key, _, name = rest.partition(".")
        if first.startswith("shots[") and name in {lamp.id for lamp in scene.lights}:
            told.setdefault(f"{key}: {{{name}: {in_braces(change.value)}}}", []).append(
                scene.shots[int(first.partition("[")[2])].id
            )
    return "".join(f" In {listed(shots, 'and')} alone: {written}." for written, shots in told.items())


def figures_together(
    found: Sequence[tuple[Setup, tuple[Figure, ...]]],
) -> tuple[tuple[Figure, ...], dict[str, tuple[Figure, ...]]]:
    """Figures of the set that all setups share; and by shot those that they do not."""
    shared = [each for each in found[0][1] if all(each in figures for _, figures in found)]
    rest = {
        shot: tuple(each for each in figures if each not in shared) for setup, figures in found for shot in setup.shots
    }
    return tuple(shared), rest
