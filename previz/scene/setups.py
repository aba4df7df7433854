"""Setups: the scene as it stands while a shot is filmed, with the shot's changes done on the common set."""

import json
from collections import deque
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from previz.errors import Fault, PrevizError, SceneErrors
from previz.scene.dressed import Dressed, alone, changes_in, dressed
from previz.scene.faults import Wrong, key_of
from previz.scene.fields import FileUnits
from previz.scene.model import Scene
from previz.scene.on_screen import key_of_vehicle
from previz.scene.pieces import apart_from_place
from previz.scene.shots import Shot
from previz.scene.values import group_of
from previz.scene.vehicle import VEHICLE
from previz.scene.whole import file_units, whole_scene
from previz.scene.written import Written
from previz.scene.yaml_tree import Steps

#: What of a scene a shot may change.
STANDS = ("set", "dressing", "vehicle", "vehicles", "lights")


@dataclass(frozen=True)
class Setup:
    """Shots before which the set, its lamps and what drives stand alike.

    Parameters
    ----------
    scene : Scene
        As all of it stands then: changes done, its `shots` those alone, in the order of the file and without their
        changes. Parts that are as on the common set are the very same objects. Of a scene whose shots change nothing it
        is that scene itself.
    """

    scene: Scene
    _by_shot: dict[str, Dressed] = field(default_factory=dict, repr=False, compare=False)

    @property
    def shots(self) -> tuple[str, ...]:
        """The ids of its shots."""
        return tuple(shot.id for shot in self.scene.shots)

    def dressed(self, shot: str) -> Dressed:
        """Where in the file stands what stands while that shot of it is filmed."""
        return self._by_shot[shot]

    def origin(self, steps: Steps) -> Steps:
        """Where in the file stands what stands at a place of its scene."""
        if not self._by_shot:
            return steps
        if steps[:1] == ("shots",) and len(steps) > 1 and isinstance(steps[1], int):
            return (*self._by_shot[self.shots[steps[1]]].origin(("shots", 0)), *steps[2:])
        return self._by_shot[self.shots[0]].origin(steps)


def as_set_up(scene: Scene, shot: Shot) -> Scene:
    """The whole scene as it stands when that shot is filmed: its changes done.

    Parameters
    ----------
    scene : Scene
        As `read_scene`, `rewritten` or this function returned it.
    shot : Shot
        One of its shots; by its id.

    Returns
    -------
    Scene
        `shots` are those that stand alike, without their changes. The scene itself where no shot changes anything.

    Raises
    ------
    KeyError
        The scene has no such shot.
    PrevizError
        The shot changes something, and no file stands behind the scene.
    """
    return setup_of(scene, shot).scene


def setup_of(scene: Scene, shot: Shot) -> Setup:
    """The setup that a shot belongs to. Raises as `as_set_up`."""
    for setup in setups_of(scene):
        if shot.id in setup.shots:
            return setup
    raise KeyError(shot.id)


def setups_of(scene: Scene) -> tuple[Setup, ...]:
    """The shots of a scene grouped by what stands alike, in the order of their first shots.

    A scene whose shots change nothing is one setup, and its `scene` the very same object.

    Raises
    ------
    SceneErrors
        With every fault of what then stands, at the line of the change; reading a scene looks for them.
    PrevizError
        A shot changes something, and no file stands behind the scene.
    """
    if not any(shot.redresses for shot in scene.shots):
        return (Setup(scene),)
    return _found(_This(scene))


def with_all(scene: Scene) -> Scene:
    """The common set with all pieces and lamps that any shot adds: what is built, bought and taken care of.

    Its shots are without their changes. The scene itself where no shot changes anything.
    """
    setups = setups_of(scene)
    if setups[0].scene is scene:
        return scene
    shots = {shot.id: shot for setup in setups for shot in setup.scene.shots}
    more: dict[str, Any] = {"shots": tuple(shots[shot.id] for shot in scene.shots)}
    for name in ("dressing", "lights"):
        common = getattr(scene, name)
        known = {each.id for each in common}
        added: list[Any] = []
        for each in (each for setup in setups for each in getattr(setup.scene, name) if each.id not in known):
            if not any(_one_thing(each, other) for other in added):
                added.append(each)
        if added:
            more[name] = (*common, *added)
    return scene.model_copy(update=more)


def _one_thing(one: Any, other: Any) -> bool:
    """Whether what two shots add is the same, though it may stand elsewhere; they may call two things alike."""
    return one.id == other.id and type(one) is type(other) and apart_from_place(one) == apart_from_place(other)


def check_setups(scene: Scene, path: Path) -> None:
    """Refuse a scene of which a setup cannot be. Raises SceneErrors with every fault, at the line of the change."""
    try:
        setups_of(scene)
    except SceneErrors as errors:
        raise SceneErrors(path, list(errors.faults)) from None


class _This:
    """A scene known by being that object: comparing key by key would cost more than is remembered."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene

    def __hash__(self) -> int:
        return id(self.scene)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _This) and other.scene is self.scene


@lru_cache(maxsize=8)
def _found(this: Any) -> tuple[Setup, ...]:
    scene: Scene = this.scene
    if scene.written is None:
        raise PrevizError("this scene was made, not read; what its shots change on the set is known from its file only")
    shots = scene.written.root.value["shots"].value
    alike: dict[str, list[int]] = {}
    for number, node in enumerate(shots):
        said = {key: each.plain() for key, each in changes_in(node).items()}
        alike.setdefault(json.dumps(said, sort_keys=True, default=str), []).append(number)
    stands: dict[int, Scene] = {}
    faults: list[Fault] = []
    for numbers in alike.values():
        try:
            stands[numbers[0]] = _stand(scene, numbers)
        except SceneErrors as errors:
            faults += errors.faults
    if faults:
        raise SceneErrors(scene.folder, list(dict.fromkeys(faults)))
    return _grouped(scene, list(alike.values()), stands)


def _grouped(scene: Scene, alike: list[list[int]], stands: dict[int, Scene]) -> tuple[Setup, ...]:
    """Setups whose changes are written differently and come to the same are one."""
    groups: list[list[int]] = []
    for numbers in sorted(alike, key=lambda each: each[0]):
        one = stands[numbers[0]]
        same = next((group for group in groups if _same(stands[group[0]], one)), None)
        if same is None:
            groups.append(list(numbers))
        else:
            same += numbers
    found = []
    for group in groups:
        numbers = sorted(group)
        first = stands[group[0]] if group in alike else _stand(scene, numbers)
        by_shot = {scene.shots[number].id: _dressed(scene, number, [number]) for number in numbers}
        found.append(Setup(first, by_shot))
    return tuple(found)


def _same(one: Scene, other: Scene) -> bool:
    return all(getattr(one, name) == getattr(other, name) for name in STANDS)


def _dressed(scene: Scene, number: int, numbers: list[int]) -> Dressed:
    root = scene.written.root
    return alone(dressed(root, number, file_units(root.plain())), {each: scene.shots[each].id for each in numbers})


def _stand(scene: Scene, numbers: list[int]) -> Scene:
    """The scene with the changes of the first of those shots done, of those shots. Raises SceneErrors."""
    written: Written = scene.written
    done = _dressed(scene, numbers[0], numbers)
    file = file_units(written.root.plain())
    file = replace(file, driving=_driving(done, file))
    new, found = _read_alike(done, file, scene)
    if found or new is None:
        raise SceneErrors(scene.folder, _in_file(scene, done, numbers[0], found))
    again = replace(written, root=done.root, slowdowns=file.slowdowns, driving=file.driving)
    given = new.model_fields_set  # a copy counts as given whatever it is updated with
    kept = {name: _kept(getattr(scene, name), getattr(new, name)) for name in STANDS if name in given}
    same = {name: old for name in given if (old := getattr(scene, name)) == getattr(new, name)}
    return new.model_copy(
        update={
            **kept,
            **same,
            "folder": scene.folder,
            "tape_unit": scene.tape_unit,
            "subject": done.subject,
            "written": again,
        }
    )


def _driving(done: Dressed, file: FileUnits) -> dict[str, tuple[str, ...]]:
    """The shots of the file that show each vehicle at the speed it has here, where that is the common set's."""
    places: list[Steps] = [(VEHICLE,), *(("vehicles", name) for name in group_of(done.root.plain().get("vehicles")))]
    common = {steps: key_of_vehicle(done.origin((*steps, "speed"))[:-1]) for steps in places}
    return {key_of_vehicle(steps): file.driving[key] for steps, key in common.items() if key in file.driving}


#: The last few setups that were read without a fault: the kit of the file's one reading, what was read, and what that
#: came to. A scene that is written anew, as remedies are tried, has most of its setups as they were.
_KNOWN: deque[tuple[Any, str, Scene]] = deque(maxlen=16)


def _read_alike(done: Dressed, file: FileUnits, scene: Scene) -> tuple[Scene | None, list[Wrong]]:
    written: Written = scene.written
    said = json.dumps([done.root.plain(), file.bare_length, file.scale, file.slowdowns, file.driving], default=str)
    known = next((new for kit, before, new in tuple(_KNOWN) if kit is written.kit and before == said), None)
    if known is not None:
        return known, []
    new, found = whole_scene(done.root, file, scene.folder, written.kit, outside_files=written.outside_files)
    if new is not None and not found:
        _KNOWN.append((written.kit, said, new))
    return new, found


def _kept(old: Any, new: Any) -> Any:
    """The new value, with what is as it was the very same object; so nobody need work it out again."""
    if old == new:
        return old
    if isinstance(old, tuple) and isinstance(new, tuple):
        before = {each.id: each for each in old}
        return tuple(before[each.id] if before.get(each.id) == each else each for each in new)
    if isinstance(old, dict) and isinstance(new, dict):
        return {name: _kept(old.get(name), each) for name, each in new.items()}
    if old is None or type(old) is not type(new):
        return new
    parts = {name: was for name in type(old).model_fields if (was := getattr(old, name)) == getattr(new, name)}
    return new.model_copy(update=parts)


def _in_file(scene: Scene, done: Dressed, number: int, found: list[Wrong]) -> list[Fault]:
    """Faults of a setup at the change that brings them: that value itself, else the group, else the first change."""
    root = scene.written.root
    faults = []
    for each in found:
        steps, message = done.origin(each.steps), each.message
        if steps[:1] != ("shots",):
            message = f"then, {key_of(done.root, each.steps)}: {message}"
            steps = done.change_at(each.steps) or (
                "shots",
                number,
                next(iter(changes_in(root.value["shots"].value[number]))),
            )
        faults.append(Fault(root.line_of(steps), key_of(root, steps), message))
    return faults
