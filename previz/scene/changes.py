"""Other values written over a scene file's own before it is read: `shots[pass].f_number`, `lights[key].diffusion`."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from previz.errors import PrevizError
from previz.scene.called import taken_for
from previz.scene.fields import meant_by
from previz.scene.yaml_tree import Node, Steps
from previz.units import shown

#: Places by their dotted key, and the plain data to write there; None takes out what is there.
Changes = Mapping[str, Any]


def changed(root: Node, changes: Changes) -> Node:
    """The file with those values written into it; a new value stands in the line of the one it replaces.

    Members of a list are named by their id or by their number from 0, and the number after the last puts one behind
    them; groups that are missing on the way are made.

    Raises
    ------
    PrevizError
        Where a place names a member of a list that is not there.
    """
    for key, value in changes.items():
        root = _written(root, _steps(key), value, key)
    return root


def _steps(key: str) -> list[str]:
    """`shots[pass].capture.rate` or `shots.pass.capture.rate`, step by step.

    >>> _steps("shots[pass].capture.rate")
    ['shots', 'pass', 'capture', 'rate']
    """
    steps = key.replace("]", "").replace("[", ".").split(".")
    if not all(step.strip() for step in steps) or len(steps) > 12:
        raise PrevizError(f"{shown(key)} is not a place in a scene file; write it like shots[pass].f_number")
    return [step.strip() for step in steps]


def plain_steps(key: str) -> tuple[str | int, ...]:
    """The same, the members of lists by number where they are given so.

    >>> plain_steps("lights[1].output")
    ('lights', 1, 'output')
    """
    return tuple(int(step) if step.isascii() and step.isdigit() else step for step in _steps(key))


def _written(node: Node, steps: list[str], value: Any, key: str) -> Node:
    if not steps:
        return node_of(value, node.line)
    first, *rest = steps
    if isinstance(node.value, list):
        if not rest and value is not None and first == str(len(node.value)):
            return replace(node, value=[*node.value, node_of(value, node.line)])
        number = _member(node, first, key)
        items = list(node.value)
        items[number : number + 1] = [] if not rest and value is None else [_written(items[number], rest, value, key)]
        return replace(node, value=items)
    members = dict(node.value) if isinstance(node.value, dict) else {}
    if first not in members and taken_for(first, "a key") in members:
        first = str(taken_for(first, "a key"))
    if not rest and value is None:
        members.pop(first, None)
    else:
        members[first] = _written(members.get(first, Node(node.line, {})), rest, value, key)
    return replace(node, value=members)


def renamed(root: Node, steps: Steps, name: str) -> Node:
    """The file with another name for the key at `steps`, or without that key where there is one of the name."""
    if len(steps) > 1:
        child = root.child(steps[0])
        if child is None:
            return root
        inner = renamed(child, steps[1:], name)
        if isinstance(root.value, list):
            return replace(root, value=[inner if each is child else each for each in root.value])
        return replace(root, value={key: inner if key == steps[0] else each for key, each in root.value.items()})
    value = {key: each for key, each in root.value.items() if key != steps[0] or name not in root.value}
    return replace(root, value={name if key == steps[0] else key: each for key, each in value.items()})


def _member(node: Node, step: str, key: str) -> int:
    """Which member of a list is meant by its id or number."""
    ids = [item.value["id"].value if "id" in (item.value if isinstance(item.value, dict) else {}) else None
           for item in node.value]  # fmt: skip
    if step in ids:
        return ids.index(step)
    if step.isascii() and step.isdigit() and int(step) < len(ids):
        return int(step)
    known = [str(each) for each in ids if each is not None]
    meant = meant_by(step, known)
    there = f"did you mean {shown(meant)}?" if meant else f"there are {', '.join(map(shown, known[:8])) or len(ids)}"
    raise PrevizError(f"{shown(key)}: the scene has no {shown(step)} there; {there}")


def node_of(value: Any, line: int) -> Node:
    """Plain data as if it stood in that line of a file."""
    if isinstance(value, Mapping):
        return Node(line, {str(key): node_of(each, line) for key, each in value.items()})
    if isinstance(value, list | tuple):
        return Node(line, [node_of(each, line) for each in value])
    return Node(line, value)
