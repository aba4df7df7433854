"""Speeds that are given as they are to look, `60 km/h on screen`: in which shots a vehicle drives by one, and in which
of them it is to look so fast.

A shot that launches the vehicle, gives it a speed of its own or does without it does not show it at the common one, and
so has no say in what that is on set.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import islice
from typing import Any

from previz import units
from previz.scene.faults import Wrong
from previz.scene.fields import ON_SCREEN, FileUnits
from previz.scene.values import group_of, groups_of
from previz.scene.vehicle import VEHICLE
from previz.scene.yaml_tree import Node, Steps
from previz.units import QuantityError, shown


def key_of_vehicle(steps: Steps) -> str:
    """`vehicle`, or `vehicles.tram`, of where a vehicle stands."""
    return ".".join(str(step) for step in steps)


def driving_in(data: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """By each vehicle's key, the ids of the shots that show it at the speed that the common set gives it.

    >>> away = {"id": "away", "vehicle": {"launch": {}}}
    >>> driving_in({"vehicle": {"speed": "30 km/h on screen"}, "shots": [{"id": "pass"}, away]})
    {'vehicle': ('pass',)}
    """
    shots = [each for _, each in groups_of(data.get("shots")) if isinstance(each.get("id"), str)]
    return {
        key_of_vehicle(steps): tuple(shot["id"] for shot in shots if _instead(shot, str(steps[-1])) is None)
        for steps, _ in _speeds(data)
    }


def looks_in(vehicle: Any, shot: str) -> bool:
    """Whether a vehicle's speed, as a file has it, is given as it looks, and not in another shot than this."""
    looks = _looks(group_of(vehicle).get("speed"))
    return looks is not None and looks[2] in (None, shot)


def paces_others(data: Mapping[str, Any], shot: str) -> Iterator[str]:
    """The keys of vehicles whose speed is as it looks in that shot, and that others show at it too."""
    driving = driving_in(data)
    for steps, speed in _speeds(data):
        key, looks = key_of_vehicle(steps), _looks(speed)
        here = looks is not None and (looks[2] == shot if looks[2] else shot in driving[key])
        if here and any(other != shot for other in driving[key]):
            yield key


def as_in_one_shot(root: Node, file: FileUnits) -> tuple[Node, list[Wrong]]:
    """The file's data with a shot named for each speed on screen, and what is wrong with such speeds.

    All shots that a vehicle drives in at a speed must agree on it, so the first of them speaks for all.
    """
    data, found = root.plain(), []
    for steps, speed in _speeds(data):
        looks = _looks(speed)
        if looks is None or not _is_speed(looks[1]):  # its reading says so
            continue
        driving = file.driving.get(key_of_vehicle(steps), ())
        if looks[2]:
            wrong = _shown_nowhere(data, steps, looks[2], driving, shown(looks[0]))
        else:
            root, wrong = _by_the_first(root, steps, file, driving or tuple(file.slowdowns), shown(looks[0]))
            if wrong and not driving:
                wrong = f"{shown(looks[0])}: no shot shows it at that speed; write one on set, like 0.5 m/s"
        if wrong:
            found.append(Wrong((*steps, "speed"), wrong))
    return root, found


def _by_the_first(root: Node, steps: Steps, file: FileUnits, shots: tuple[str, ...], said: str) -> tuple[Node, str]:
    """With the first of those shots named whose slowing is known, and what is wrong where they do not agree."""
    slows = {name: slow for name in shots if not math.isnan(slow := file.slowdowns.get(name, math.nan))}
    named = next((name for name in slows if name.split() == [name]), None)
    if named is None:  # the file is refused for its shots
        return root, ""
    told = _named(root, steps, named)
    if len({*slows.values()}) == 1:
        return told, ""
    each = ", ".join(f"{name} {slow:.3g} times" for name, slow in islice(slows.items(), 8))
    return told, (
        f"{said}: shots that are slowed differently show it at different speeds ({each}); say in which, "
        f"like {said} in {named}"
    )


def _shown_nowhere(data: Mapping[str, Any], steps: Steps, name: str, driving: tuple[str, ...], said: str) -> str:
    """What is wrong with a speed as it looks in a shot that cannot show it so, which has the vehicle launched or not.

    One that has a speed of its own may be named: so a speed can be tried in it alone, and the others keep theirs.
    """
    shot = next((each for _, each in groups_of(data.get("shots")) if each.get("id") == name), None)
    why = _instead(shot, str(steps[-1])) if shot is not None else None
    if why in (None, "speed"):
        return ""
    does = f"{name} lets it go on a ramp" if why == "launch" else f"{name} does without it"
    then = f"say {said.rpartition(' ')[0]} {driving[0]}" if driving else "write a speed on set, like 0.5 m/s"
    return f"{said}: {does}, so that no shot shows it at that speed; {then}"


def _instead(shot: Mapping[str, Any], name: str) -> str | None:
    """What a shot has in place of the speed that the common set gives a vehicle: launch, speed or without; or None."""
    own = group_of(shot.get(VEHICLE) if name == VEHICLE else group_of(shot.get("vehicles")).get(name))
    if name in (gone if isinstance(gone := shot.get("without"), list | tuple) else ()):
        return "without"
    return next((key for key in ("launch", "speed") if key in own), None)


def _speeds(data: Mapping[str, Any]) -> Iterator[tuple[Steps, Any]]:
    """Where each vehicle that has a speed stands, and that speed."""
    found: list[tuple[Steps, Any]] = [((VEHICLE,), data.get(VEHICLE))]
    found += [(("vehicles", name), each) for name, each in group_of(data.get("vehicles")).items()]
    yield from ((steps, each["speed"]) for steps, each in found if group_of(each).get("speed") is not None)


def _looks(speed: Any) -> Any:
    return ON_SCREEN.fullmatch(speed.strip()) if isinstance(speed, str) else None


def _is_speed(text: str) -> bool:
    try:
        units.parse(units.SPEED, text)
    except QuantityError:
        return False
    return True


def _named(node: Node, steps: Steps, shot: str) -> Node:
    """The data with the speed of the vehicle there as it looks in that shot."""
    first, *rest = steps or ("speed",)
    below = node.value[first]
    new = _named(below, tuple(rest), shot) if steps else replace(below, value=f"{below.value.strip()} in {shot}")
    return replace(node, value={**node.value, first: new})
