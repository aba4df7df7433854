"""What stands otherwise than on the common set, shot by shot, as a list of what to do before each."""

from collections.abc import Iterator, Sequence
from typing import Any

from previz.paper.measures import Tape, tape_of
from previz.paper.sheet import Table
from previz.scene import Scene, Shot, setups_of


def otherwise_list(scene: Scene, shots: Sequence[Shot]) -> Table | None:
    """Setups and what is to be done to the common set for each; None where it stands as it is for all."""
    wanted = {shot.id for shot in shots}
    rows = []
    for setup in setups_of(scene):
        if setup.scene is scene or not wanted & {*setup.shots}:
            continue
        named = ", ".join(shot for shot in setup.shots if shot in wanted)
        told = [*_done(scene, setup.scene)]
        rows += [(named if number == 0 else "", what, how) for number, (what, how) in enumerate(told)]
    return Table((f"for, {scene.tape_unit}", "what", "how it stands then"), tuple(rows)) if rows else None


def _done(common: Scene, then: Scene) -> Iterator[tuple[str, str]]:
    tape = tape_of(common)
    for name in ("dressing", "lights"):
        before, after = ({each.id: each for each in getattr(scene, name)} for scene in (common, then))
        yield from ((each, "taken away or off") for each in before if each not in after)
        for each, thing in after.items():
            if each not in before:
                yield each, f"added{_standing(thing, tape)}"
            elif before[each] != thing:
                yield each, "; ".join(_differs(before[each], thing, tape))
    for what, was, now in (
        ("ground", common.set.ground, then.set.ground),
        ("backdrop", common.set.backdrop, then.set.backdrop),
        ("road", common.set.road, then.set.road),
        ("vehicle", common.vehicle, then.vehicle),
    ):
        if was != now:
            yield what, _group_differs(was, now, tape)


def _standing(thing: Any, tape: Tape) -> str:
    at = getattr(thing, "at", None)
    return "" if at is None else f" at {_place(at, tape)}"


def _place(at: Sequence[float], tape: Tape) -> str:
    flat = at[:2] if len(at) == 3 and at[2] == 0 else at
    return ", ".join(tape.bare(each) for each in flat)


def _differs(was: Any, now: Any, tape: Tape) -> Iterator[str]:
    """Each key of a thing that is otherwise: a place as it then is, else the key's name."""
    for name in type(now).model_fields:
        if getattr(was, name, None) == getattr(now, name):
            continue
        value = getattr(now, name)
        if name in ("at", "aim", "step") and value is not None:
            yield f"{name} {_place(value, tape)}"
        elif name == "turn":
            yield f"turned {value * 57.29577951308232:g}°"
        elif isinstance(value, bool | int | str):
            yield f"{name} {value}"
        else:
            yield f"another {name}"


def _group_differs(was: Any, now: Any, tape: Tape) -> str:
    if now is None:
        return "taken away"
    if type(was) is not type(now):
        return "added"
    return "; ".join(_differs(was, now, tape))
