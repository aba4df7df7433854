"""A shot's changes written into the common set, in the data of the file: what stands then, and where each value of it
stands in the file, so that a fault is told, and a remedy written, at the line that says it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from previz.scene.changes import node_of
from previz.scene.fields import FileUnits
from previz.scene.lights import LAMPS
from previz.scene.redress import MIRRORED, OTHER_END, REDRESSING, lamp_keys, moved_keys
from previz.scene.stage_set import Backdrop, Road, Table, table_keys
from previz.scene.values import group_of, value_of
from previz.scene.vehicle import VEHICLE, Vehicle
from previz.scene.yaml_tree import Node, Steps

#: Which keys give way to one that says the same thing in another way.
_INSTEAD: dict[str, tuple[str, ...]] = {"along": ("at", "copies", "step"), "at": ("along", "every", "offset", "first")}
for _kind in (Backdrop, Vehicle):
    for _keys, _ in _kind.exactly_one:
        _INSTEAD |= {key: tuple(other for other in _keys if other != key) for key in _keys}
# What is said of one file's nodes says nothing of another, nor of a body of ours.
_INSTEAD["body"] = (*_INSTEAD["body"], "node", "wheels", "glow", "up", "front")
_INSTEAD["mesh"] = (*_INSTEAD["mesh"], "node", "wheels")
_INSTEAD |= {"flux": ("axis_illuminance", "axis_distance"), "axis_illuminance": ("flux",)}  # of a lamp's output
_INSTEAD |= {"colour": (*_INSTEAD["colour"], "tile"), "surface": ("image", "tile")}  # of ground that has an image


@dataclass
class Dressed:
    """The file as it would be if it had this one setup.

    root holds no changes any more, and of the shots only those that stand alike. origins has, for places in it, those
    in the file; what lies below a place lies below its origin. subject is the name of the vehicle that stands as
    `vehicle`. changed has the origins of groups of which only some
    keys are changed: of the group itself, not of what lies below it.
    """

    root: Node
    origins: dict[Steps, Steps] = field(default_factory=dict)
    changed: dict[Steps, Steps] = field(default_factory=dict)
    subject: str = VEHICLE

    def origin(self, steps: Steps) -> Steps:
        """Where in the file stands what stands there."""
        if steps in self.changed:
            return self.changed[steps]
        for size in range(len(steps), 0, -1):
            found = self.origins.get(steps[:size])
            if found is not None:
                return (*found, *steps[size:])
        return steps

    def change_at(self, steps: Steps) -> Steps | None:
        """The change of the nearest group around a place, if a group around it is changed."""
        for size in range(len(steps), 0, -1):
            if steps[:size] in self.changed:
                return self.changed[steps[:size]]
        return None


def stands_in(root: Node, steps: Steps) -> bool:
    """Whether the data has a group there."""
    node: Node | None = root
    for step in steps:
        node = node.child(step) if node is not None else None
    return node is not None and isinstance(node.value, dict)


def changes_in(shot: Node) -> dict[str, Node]:
    """The changes that a shot has, by their keys."""
    members = shot.value if isinstance(shot.value, dict) else {}
    return {key: members[key] for key in REDRESSING if key in members and members[key].value is not None}


def dressed(root: Node, number: int, file: FileUnits) -> Dressed:
    """The file with the changes of that shot done; its ids are known to be there.

    What is moved keeps its place in the list; what is added stands behind all else, by its id, so that the order in
    which changes are written says nothing.
    """
    shot = root.value["shots"].value[number]
    changes, at = changes_in(shot), ("shots", number)
    done = Dressed(root)
    gone = {each.value for each in changes["without"].value} if "without" in changes else set()
    members = dict(root.value)
    for key in ("dressing", "lights"):
        entries = [*_standing(members.get(key), key, changes, gone, at), *_added(key, changes, at)]
        if entries or key in members:  # a key that nobody wrote stays so
            members[key] = Node((members.get(key) or shot).line, [entry.node for entry in entries])
        for place, entry in enumerate(entries):
            done.origins |= {(key, place, *steps): origin for steps, origin in entry.origins.items()}
            if entry.changed:
                done.changed[key, place] = entry.changed
    stage = dict(members["set"].value)
    for key in ("ground", "backdrop"):
        if key in changes:
            _otherwise(stage, key, changes[key], ("set", key), (*at, key), done)
    members["set"] = replace(members["set"], value=stage)
    if "vehicle" in gone:
        members.pop("vehicle", None)
    if "vehicle" in changes:
        _otherwise(members, "vehicle", changes["vehicle"], ("vehicle",), (*at, "vehicle"), done)
    _others(members, changes, gone, at, done)
    if "subject" in changes:
        _led_by(members, str(changes["subject"].value), done)
    if "run" in changes and "vehicle" in members:
        _run(members, changes["run"], (*at, "run"), done, file)
    done.root = replace(root, value=members)
    return done


def _others(members: dict[str, Node], changes: dict[str, Node], gone: set[Any], at: Steps, done: Dressed) -> None:
    """The other vehicles: those that are there, each as it is then."""
    if "vehicles" not in members:
        return
    found = {name: node for name, node in members["vehicles"].value.items() if name not in gone}
    for name, change in changes["vehicles"].value.items() if "vehicles" in changes else ():
        _otherwise(found, name, change, ("vehicles", name), (*at, "vehicles", name), done)
    members["vehicles"] = replace(members["vehicles"], value=found)
    if not found:
        members.pop("vehicles")


def _led_by(members: dict[str, Node], name: str, done: Dressed) -> None:
    """Another vehicle as the subject of the shot; the one that `vehicle` was stands among the others."""
    if name == VEHICLE or "vehicles" not in members:
        return
    others, was = dict(members["vehicles"].value), members.pop("vehicle", None)
    members["vehicle"] = others.pop(name)
    if was is not None:
        others[VEHICLE] = was
    members["vehicles"] = replace(members["vehicles"], value=others)
    if not others:
        members.pop("vehicles")
    done.subject = name
    own: Steps = ("vehicles", name)
    places: dict[Steps, Steps] = {own: ("vehicle",), ("vehicle",): ("vehicles", VEHICLE)}

    def then(steps: Steps) -> Steps:
        there = next((each for each in places if steps[: len(each)] == each), ())
        return (*places[there], *steps[len(there) :]) if there else steps

    done.origins = {("vehicle",): own, ("vehicles", VEHICLE): ("vehicle",)} | {
        then(steps): origin for steps, origin in done.origins.items()
    }
    done.changed = {then(steps): origin for steps, origin in done.changed.items()}


def alone(done: Dressed, numbers: Mapping[int, str]) -> Dressed:
    """Of the shots only those, without their changes; of what is wanted only what concerns them; no running order."""
    members = dict(done.root.value)
    shots, origins = [], dict(done.origins)
    for place, number in enumerate(numbers):
        node = members["shots"].value[number]
        kept = {key: value for key, value in node.value.items() if key not in REDRESSING}
        shots.append(replace(node, value=kept))
        origins["shots", place] = ("shots", number)
    members["shots"] = replace(members["shots"], value=shots)
    members.pop("sequence", None)  # it is of all shots
    if "wants" in members:
        wants = [(number, each) for number, each in enumerate(members["wants"].value) if _concerns(each, numbers)]
        members["wants"] = replace(members["wants"], value=[each for _, each in wants])
        origins |= {("wants", place): ("wants", number) for place, (number, _) in enumerate(wants)}
    lamps = {str(_id(each)) for each in members["lights"].value}
    choice = members["may_change"].child("lamps") if "may_change" in members else None
    if choice is not None:
        there = [each for each in choice.value if each.value in lamps]
        group = {**members["may_change"].value, "lamps": replace(choice, value=there)}
        if not there:
            group.pop("lamps")
        members["may_change"] = replace(members["may_change"], value=group)
    return Dressed(replace(done.root, value=members), origins, done.changed, done.subject)


def _concerns(want: Node, numbers: Mapping[int, str]) -> bool:
    named = want.child("shot")
    return named is None or named.value in numbers.values()


def _id(node: Node) -> Any:
    found = node.child("id")
    return found.value if found is not None else None


@dataclass(frozen=True)
class _Entry:
    """One piece or lamp, with the origins of it and of its keys; changed: where it is changed, if anywhere."""

    node: Node
    origins: dict[Steps, Steps]
    changed: Steps = ()


def _standing(
    common: Node | None, key: str, changes: Mapping[str, Node], gone: set[Any], at: Steps
) -> Iterator[_Entry]:
    """What stands on the common set and is not taken away, as it stands then."""
    for number, node in enumerate(common.value if common is not None else []):
        name = _id(node)
        if name in gone:
            continue
        origins: dict[Steps, Steps] = {(): (key, number)}
        changed: Steps = ()
        off = False
        for change, keys_of in (("moved", moved_keys), ("lights", lamp_keys)):
            found = changes[change].child(name) if change in changes and isinstance(name, str) else None
            if found is None or (change == "lights" and key != "lights"):
                continue
            short = not isinstance(found.value, dict)
            changed = (*at, change, name)
            group = {each: found if short else found.value[each] for each in keys_of(found.value)}
            if "off" in group:
                said = group.pop("off").value
                off = short or said is True
            node = Node(found.line, _merged(node.value, group))
            origins |= {(each,): changed if short else (*changed, each) for each in group}
        if not off:
            yield _Entry(node, origins, changed)


def _merged(common: Mapping[str, Node], change: Mapping[str, Node]) -> dict[str, Node]:
    """A group with other values; groups in it likewise, and what one key says in another's place goes."""
    group = dict(common)
    for key in change:
        for other in _INSTEAD.get(key, ()):
            if other not in change:
                group.pop(other, None)
    for key, node in change.items():
        was = group.get(key)
        if was is not None and isinstance(was.value, dict) and isinstance(node.value, dict):
            node = replace(node, value=_merged(was.value, node.value))
        if node.value is None:
            group.pop(key, None)
        else:
            group[key] = node
    return group


def _added(key: str, changes: Mapping[str, Node], at: Steps) -> list[_Entry]:
    if "added" not in changes:
        return []
    found = [(str(_id(node)), number, node) for number, node in enumerate(changes["added"].value)
             if _is_lamp(node) == (key == "lights")]  # fmt: skip
    return [_Entry(node, {(): (*at, "added", number)}) for _, number, node in sorted(found, key=lambda each: each[:2])]


def _is_lamp(node: Node) -> bool:
    return any(key in node.value for key in LAMPS)


def _otherwise(members: dict[str, Node], key: str, change: Node, steps: Steps, origin: Steps, done: Dressed) -> None:
    """Put a group's other values in; `none` takes it out."""
    if change.value == "none":
        members.pop(key, None)
        return
    was = members.get(key)
    members[key] = Node(change.line, _merged(was.value if was is not None else {}, change.value))
    done.origins |= {(*steps, *each): (*origin, *each) for each in _leaves(change)}
    (done.origins if was is None else done.changed)[steps] = origin


def _leaves(node: Node) -> Iterator[Steps]:
    """The places of all values in a group that are none themselves."""
    for key, each in node.value.items():
        if isinstance(each.value, dict):
            yield from ((key, *below) for below in _leaves(each))
        else:
            yield (key,)


def _run(members: dict[str, Node], change: Node, origin: Steps, done: Dressed, file: FileUnits) -> None:
    """The vehicle from the other end of its way, or its way mirrored from left to right.

    The vehicle is the shot's subject; mirrored are the ways of all. A road that they go along is mirrored with them.
    Its points are then written from its other end, so that what stands along it stays on its side, and they go the
    other way along it.
    """
    line, turned = change.line, change.value == OTHER_END
    stage = members["set"].value
    width = value_of(Table, "width", group_of(table_keys(stage["table"].plain())), file) if "table" in stage else None
    others = dict(members["vehicles"].value) if "vehicles" in members else {}
    ways = [(others, name, ("vehicles", name)) for name in others] + [(members, "vehicle", ("vehicle",))]
    if change.value == MIRRORED and width:
        along_road = [each for each in ways if _along_the_road(each[0][each[1]])] if "road" in stage else []
        if along_road:
            points = value_of(Road, "centre", group_of(stage["road"].plain()), file)
            road = {**stage["road"].value, "centre": node_of(_mirrored(points or (), width)[::-1], line)}
            members["set"] = replace(members["set"], value={**stage, "road": replace(stage["road"], value=road)})
            done.origins["set", "road", "centre"] = origin
        for group, name, steps in ways:
            if (group, name, steps) in along_road:
                _turned(group, name, line, (*steps, "reverse"), origin, done)
            elif not _along_the_road(group[name]):
                points = value_of(Vehicle, "path", group[name].plain(), file)
                path = node_of(_mirrored(points or (), width), line)
                group[name] = replace(group[name], value={**group[name].value, "path": path})
                done.origins[*steps, "path"] = origin
    if turned:
        _turned(members, "vehicle", line, ("vehicle", "reverse"), origin, done)
    if others:
        members["vehicles"] = replace(members["vehicles"], value=others)


def _along_the_road(vehicle: Node) -> bool:
    path = vehicle.child("path")
    return path is None or path.value == "road"


def _turned(group: dict[str, Node], name: str, line: int, steps: Steps, origin: Steps, done: Dressed) -> None:
    """A vehicle that goes its way the other way round."""
    was = group[name].child("reverse")
    reverse = Node(line, not (was is not None and was.value is True))
    group[name] = replace(group[name], value={**group[name].value, "reverse": reverse})
    done.origins[steps] = origin


def _mirrored(points: Any, width: float) -> list[list[str]]:
    """Points on the other side of the table's middle, as a file has them."""
    return [[f"{float(width - x)!r} m", f"{float(y)!r} m"] for x, y in points]
