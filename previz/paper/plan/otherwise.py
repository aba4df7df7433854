"""What stands otherwise than on the common set, shot by shot, as a list of what to do before each."""

from collections.abc import Iterator, Sequence
from typing import Any

from previz.layout import each_driven
from previz.paper.measures import tape_of
from previz.paper.sheet import Table
from previz.scene import Scene, Setup, Shot, said_otherwise, setups_of
from previz.units import Tape


def otherwise_list(scene: Scene, shots: Sequence[Shot]) -> Table | None:
    """Setups and what is to be done to the common set for each; None where it stands as it is for all."""
    wanted = {shot.id for shot in shots}
    rows = []
    for setup in setups_of(scene):
        if setup.scene is scene or not wanted & {*setup.shots}:
            continue
        named = ", ".join(shot for shot in setup.shots if shot in wanted)
        told = [*_done(scene, setup)]
        rows += [(named if number == 0 else "", what, how) for number, (what, how) in enumerate(told)]
    return Table((f"for, {scene.tape.column}", "what", "how it stands then"), tuple(rows)) if rows else None


def _done(common: Scene, setup: Setup) -> Iterator[tuple[str, str]]:
    then, tape = setup.scene, tape_of(common)
    shot = common.shot(setup.shots[0])
    for name in ("dressing", "lights"):
        before, after = ({each.id: each for each in getattr(scene, name)} for scene in (common, then))
        yield from ((each, _gone(each, common, setup.shots)) for each in before if each not in after)
        for each, thing in after.items():
            if each not in before:
                yield each, f"added{_standing(thing, tape)}"
            elif before[each] != thing:
                yield each, "; ".join(_differs(before[each], thing, tape))
    for what, was, now in (
        ("ground", common.set.ground, then.set.ground),
        ("backdrop", common.set.backdrop, then.set.backdrop),
        ("road", common.set.road, then.set.road),
    ):
        if was != now:
            yield what, _group_differs(was, now, tape)
    yield from _runs(common, then, shot, tape)


def _gone(name: str, common: Scene, shots: Sequence[str]) -> str:
    """Whether a piece or lamp is taken away or only switched off; shots that stand alike may say either."""
    off = [each for each in shots if name in (lamps := common.shot(each).lights or {}) and lamps[name].off]
    away = [each for each in shots if each not in off]
    if off and away:
        return f"off for {', '.join(off)}; taken away for {', '.join(away)}"
    return "off" if off else "taken away"


def _runs(common: Scene, then: Scene, shot: Shot, tape: Tape) -> Iterator[tuple[str, str]]:
    """The vehicle and what its way is, in the words of the shot where it has some for it."""
    here, there = ({each.subject: each.vehicle for each in each_driven(scene)} for scene in (common, then))
    said = shot.run is not None and then.vehicle is not None
    if shot.subject is not None:
        yield "subject", str(shot.subject)
    if said:
        yield "run", str(shot.run)
    leave = ("reverse", "path") if said else ()
    for name in dict.fromkeys((*here, *there)):
        was, now = here.get(name), there.get(name)
        told = "" if was == now else _group_differs(was, now, tape, leave)
        if told:
            yield name, told


def _standing(thing: Any, tape: Tape) -> str:
    at = getattr(thing, "at", None)
    return "" if at is None else f" at {_place(at, tape)}"


def _place(at: Sequence[float], tape: Tape) -> str:
    flat = at[:2] if len(at) == 3 and at[2] == 0 else at
    return ", ".join(tape.bare(each) for each in flat)


#: Keys of a thing that are said as a place or a turn, without the unit that the list's head has.
_PLACED = ("at", "aim", "step", "turn")


def _differs(was: Any, now: Any, tape: Tape) -> Iterator[str]:
    """Each key of a thing that is otherwise, with its value then."""
    if type(was) is not type(now):
        yield f"another kind of thing{_standing(now, tape)}"
        was = None
    for name in _PLACED:
        value = getattr(now, name, None)
        if value is None or getattr(was, name, None) == value or (was is None and name in ("at", "turn")):
            continue
        yield f"turned {value * 57.29577951308232:g}°" if name == "turn" else f"{name} {_place(value, tape)}"
    yield from said_otherwise(was, now, tape, _PLACED)


def _group_differs(was: Any, now: Any, tape: Tape, leave: Sequence[str] = ()) -> str:
    if now is None:
        return "taken away"
    told = "; ".join(said_otherwise(was, now, tape, leave))
    return f"added: {told}" if was is None else told
