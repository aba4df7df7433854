"""Other values for one setup, written where the file has them: into the changes of its shots, or the common set.

A setup's scene has its own numbers for pieces, lamps and shots, and values in it stand in different places of the file.
Whatever is found to write is read back: it gives that setup what was asked, and every other shot what it had.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from previz.errors import PrevizError
from previz.scene.changes import Changes, plain_steps
from previz.scene.dressed import Dressed, stands_in
from previz.scene.fields import Part, form_of
from previz.scene.model import Scene
from previz.scene.on_screen import looks_in, paces_others
from previz.scene.read import rewritten
from previz.scene.redress import lamp_keys, moved_keys
from previz.scene.setups import STANDS, Setup, as_set_up
from previz.scene.shots import Shot
from previz.scene.vehicle import VEHICLE, Vehicle
from previz.scene.yaml_tree import Steps


class _Cannot(Exception):
    """There is no place in a shot's changes for that."""


def own_changes(scene: Scene, setup: Setup, changes: Changes, shots: Sequence[str] | None = None) -> Changes | None:
    """What `rewritten(setup.scene, changes)` is in the file, for those shots of the setup alone.

    Parameters
    ----------
    scene : Scene
        The whole one, of which `setups_of` gave the setup.
    changes : mapping of str to plain data
        By the keys of the setup's scene, its members by number.
    shots : sequence of str or None
        Ids of the shots that get them; all of the setup's unless given.

    Returns
    -------
    mapping of str to plain data, or None
        By the keys of the scene; None where a shot cannot say it without changing what others stand on.
    """
    if setup.scene is scene:
        return changes
    names = list(shots if shots is not None else setup.shots)
    try:
        found: dict[str, Any] = {}
        for name in names:
            found |= _of_a_shot(scene, setup, name, changes, only=name if shots is not None else None)
        expected = rewritten(setup.scene, changes)
    except (_Cannot, PrevizError):
        return None
    return found if _comes_to(scene, found, dict.fromkeys(names, expected)) else None


def common_changes(scene: Scene, changed: Iterable[tuple[Setup, Changes]]) -> Changes | None:
    """What those changes of all setups are, where it is one and the same written into the common set; else None."""
    expected: dict[str, Scene] = {}
    found: list[dict[str, Any]] = []
    try:
        for setup, changes in changed:
            then = rewritten(setup.scene, changes)
            for name in setup.shots:
                expected[name] = then
                found.append({_in_common(setup.dressed(name), key): value for key, value in changes.items()})
    except (_Cannot, PrevizError):
        return None
    first = found[0]
    return first if all(each == first for each in found) and _comes_to(scene, first, expected) else None


def paced_by(scene: Scene, shot: Shot) -> tuple[str, ...]:
    """Speeds of the common set that other shots drive by and that are given as they look in one shot, by their keys.

    Filmed at another rate, that shot would have the vehicles drive otherwise in all of them.

    Parameters
    ----------
    scene : Scene
        The whole one.
    shot : Shot
        One of its shots.
    """
    data = scene.written.root.plain() if scene.written is not None else {}
    return tuple(f"{key}.speed" for key in paces_others(data, shot.id))


def looks_so_fast(scene: Scene, shot: Shot) -> bool:
    """Whether its vehicle's speed is given as it looks in that shot, and so goes with the rate of it."""
    data = scene.written.root.plain() if scene.written is not None else {}
    return looks_in(data.get(VEHICLE), shot.id)


def _comes_to(scene: Scene, changes: Changes, expected: Mapping[str, Scene]) -> bool:
    """Whether those shots then stand as expected, and all others as they did."""
    try:
        new = rewritten(scene, changes)
        return all(
            _alike(as_set_up(new, shot), expected.get(shot.id) or as_set_up(scene, shot), shot.id)
            for shot in scene.shots
        )
    except (PrevizError, KeyError):
        return False


def _alike(one: Scene, other: Scene, shot: str) -> bool:
    return one.shot(shot) == other.shot(shot) and all(getattr(one, name) == getattr(other, name) for name in STANDS)


def _text(steps: Steps) -> str:
    """`shots[1].moved.stack.at`."""
    first, *rest = steps
    return str(first) + "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in rest)


def _in_common(done: Dressed, key: str) -> str:
    """Where the common set says it. Raises _Cannot where a shot does."""
    steps = plain_steps(key)
    origin = done.origin(steps)
    below = [each for each in done.origins if each[: len(steps)] == steps and each != steps]
    if origin[0] == "shots" or steps in done.changed or any(done.origins[each][0] == "shots" for each in below):
        raise _Cannot
    return _text(origin)


# --- one shot's own ---


def _of_a_shot(scene: Scene, setup: Setup, name: str, changes: Changes, only: str | None) -> dict[str, Any]:
    number = next(place for place, shot in enumerate(scene.shots) if shot.id == name)
    own = _Own(scene.written.root.value["shots"].value[number].plain(), ("shots", number), setup.dressed(name))
    for key, value in changes.items():
        steps = plain_steps(key)
        if steps[0] == "shots":
            its = setup.scene.shots[_number(steps)].id
            if only in (None, its) and its == name:
                own.found[_text(("shots", number, *steps[2:]))] = value
        else:
            own.write(steps, value, setup.scene)
    return own.found


def _number(steps: Steps) -> int:
    if len(steps) < 2 or not isinstance(steps[1], int):
        raise _Cannot
    return steps[1]


class _Own:
    """The changes of one shot, with more of them."""

    def __init__(self, shot: Mapping[str, Any], at: Steps, done: Dressed) -> None:
        self.shot, self.at, self.done = shot, at, done
        self.found: dict[str, Any] = {}
        self._entries: dict[tuple[str, str], dict[str, Any]] = {}
        self._lists: dict[str, list[Any]] = {}

    def write(self, steps: Steps, value: Any, scene: Scene) -> None:
        """Into this shot's changes. Raises _Cannot."""
        match steps:
            case ("dressing" | "lights" as kind, int(number), *rest):
                self._entry(kind, number, tuple(rest), value, scene)
            case ("set", "ground" | "backdrop" as part, str(), *_) if stands_in(self.done.root, ("set", part)):
                self._group((part, *steps[2:]), steps, value)
            case ("vehicle", str(), *_) | ("vehicles", str(), str(), *_):
                self._group(self._driven(steps), steps, value)
            case _:
                raise _Cannot

    def _driven(self, steps: Steps) -> Steps:
        """Where in the shot's own changes a vehicle is changed, whichever of them the shot is about."""
        if steps[0] == "vehicles":
            return steps[1:] if steps[1] == VEHICLE else steps
        return steps if self.done.subject == VEHICLE else ("vehicles", self.done.subject, *steps[1:])

    def _entry(self, kind: str, number: int, rest: Steps, value: Any, scene: Scene) -> None:
        entries: tuple[Any, ...] = getattr(scene, kind)
        if number == len(entries) and not rest and value is not None:
            self._listed("added", value)
            return
        origin, name = self.done.origins.get((kind, number)), entries[number].id
        if origin is not None and origin[0] == "shots":  # it is added by this shot
            self.found[_text((*origin, *rest))] = value
            return
        if not rest:
            if value is not None:
                raise _Cannot
            self._listed("without", name)
            return
        change, keys_of = ("lights", lamp_keys) if kind == "lights" else ("moved", moved_keys)
        if kind == "lights" and str(rest[0]) in _keys(self.shot.get("moved"), name):
            change, keys_of = "moved", moved_keys  # where that key of it stands already
        entry = self._entries.get((change, name))
        if entry is None:
            written = (self.shot.get(change) or {}).get(name)
            entry = dict(keys_of(written)) if written is not None else {}
            self._entries[change, name] = entry
        if value is None:
            value = _default(type(entries[number]), rest)
        _put(entry, rest, value)
        short = [*entry] == ["at"] and change == "moved"
        self.found[_text((*self.at, change, name))] = entry["at"] if short else entry

    def _listed(self, key: str, member: Any) -> None:
        members = self._lists.setdefault(key, list(self.shot.get(key) or []))
        members.append(member)
        self.found[_text((*self.at, key))] = members

    def _group(self, own: Steps, steps: Steps, value: Any) -> None:
        origin = self.done.origins.get(steps)
        if origin is not None and origin[: len(self.at) + 1] == (*self.at, "run"):
            raise _Cannot
        if value is None:
            value = _default(
                Vehicle, steps[2:] if steps[0] == "vehicles" else steps[1:]
            )  # of ground and backdrop nothing is taken out
        self.found[_text((*self.at, *own))] = value


def _keys(found: Any, name: str) -> Iterable[str]:
    written = found.get(name) if isinstance(found, dict) else None
    return moved_keys(written) if written is not None else ()


def _put(group: dict[str, Any], steps: Steps, value: Any) -> None:
    """Write into nested groups; what is no group on the way cannot be written into."""
    first, *rest = steps
    if not isinstance(first, str) or (rest and not isinstance(group.setdefault(first, {}), dict)):
        raise _Cannot
    if rest:
        _put(group[first], tuple(rest), value)
    else:
        group[first] = value


def _default(kind: type[Part], steps: Steps) -> str:
    """What a key is unless it is given, as a file has it. Raises _Cannot where it is nothing that can be written."""
    field = kind.model_fields.get(str(steps[0])) if len(steps) == 1 else None
    form = form_of(field) if field is not None else None
    if field is None or form is None or field.is_required() or field.default is None:
        raise _Cannot
    return form.write(field.default)
