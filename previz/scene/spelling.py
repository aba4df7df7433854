"""A file's words in the spelling that the program has: `color` as `colour`, `units: inches` as `in`, `yes` as true.

A speed `on screen` of what one shot alone has otherwise is told as it looks in that shot. It is done once, to a file's
data before anything else looks at it, so that whoever asks for a word need know one only. What else people say is
refused (`called.CALLED`).
"""

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from previz.scene.called import TAKEN, spellings, taken_for
from previz.scene.fields import ON_SCREEN, YES_OR_NO, Form, Part
from previz.scene.yaml_tree import Node

_KEYS = frozenset(name for names in TAKEN["a key"].values() for name in names)
_WORDS = frozenset(
    name for what, words in TAKEN.items() if what != "a key" for word in words for name in spellings(word, what)
)


def spelled(root: Node, part: type[Part]) -> Node:
    """The data of a file of that part with every word that is taken for another as that one; lines stay.

    A key is left as it is where the group has the other too: its reader says so.
    """
    return _with_own_speeds(_group(root, (part,)) if any(_suspects(root)) else root)


def _with_own_speeds(root: Node) -> Node:
    """Speeds `on screen` of what a shot alone has otherwise, with that shot's name: there no other can be meant."""
    shots = root.child("shots")
    if shots is None or not isinstance(shots.value, list):
        return root
    own = [_in_its_own(shot) for shot in shots.value]
    if all(now is was for now, was in zip(own, shots.value, strict=True)):
        return root
    return replace(root, value={**root.value, "shots": replace(shots, value=own)})


def _in_its_own(shot: Node) -> Node:
    name, found = shot.child("id"), {}
    if name is None or not isinstance(name.value, str) or name.value.split() != [name.value]:
        return shot
    for key, group in shot.value.items():
        if key == "vehicle":
            found[key] = _named(group, name.value)
        elif key == "vehicles" and isinstance(group.value, dict):
            members = {other: _named(each, name.value) for other, each in group.value.items()}
            found[key] = replace(group, value=members)
    return replace(shot, value={**shot.value, **found}) if found else shot


def _named(vehicle: Node, shot: str) -> Node:
    speed = vehicle.child("speed")
    looks = ON_SCREEN.fullmatch(speed.value.strip()) if speed is not None and isinstance(speed.value, str) else None
    if speed is None or looks is None or looks[2]:
        return vehicle
    written = replace(speed, value=f"{speed.value.strip()} in {shot}")
    return replace(vehicle, value={**vehicle.value, "speed": written})


def as_spelled(now: Any, plain: Any, wanted: Any) -> Any:
    """What is wanted of a file's data, in the spelling that stands there now.

    Parameters
    ----------
    now, plain : plain data
        As it is written, and the same as `spelled` has it.
    wanted : plain data
        Other data in the program's spelling.

    >>> as_spelled({"color": "red", "mains": "yes"}, {"colour": "red", "mains": True}, {"colour": "tan", "mains": True})
    {'color': 'tan', 'mains': 'yes'}
    """
    if wanted == plain and type(wanted) is type(plain):
        return now
    if isinstance(wanted, dict) and isinstance(plain, dict):
        names = dict(zip(plain, now, strict=True))  # renamed where they stand
        return {names.get(key, key): as_spelled(now.get(names.get(key)), plain.get(key), each)
                for key, each in wanted.items()}  # fmt: skip
    if isinstance(wanted, list) and isinstance(plain, list):
        pairs = [_before(each, number, plain, len(wanted)) for number, each in enumerate(wanted)]
        return [each if at is None else as_spelled(now[at], plain[at], each)
                for at, each in zip(pairs, wanted, strict=True)]  # fmt: skip
    return wanted


def _before(wanted: Any, number: int, plain: list[Any], count: int) -> int | None:
    """Which member of a list it was: the same, or that of its id, or of its number where there are as many."""
    if wanted in plain:
        return plain.index(wanted)
    ids = [each.get("id") if isinstance(each, dict) else None for each in plain]
    name = wanted.get("id") if isinstance(wanted, dict) else None
    if name is not None and name in ids:
        return ids.index(name)
    return number if count == len(plain) and ids[number] is None else None


def _suspects(node: Node) -> Iterator[bool]:
    """Whether anything in it may be another spelling; most files have none and need no closer look."""
    if isinstance(node.value, dict):
        for key, each in node.value.items():
            yield key.lower() in _KEYS
            yield from _suspects(each)
    elif isinstance(node.value, list):
        for each in node.value:
            yield from _suspects(each)
    elif isinstance(node.value, str):
        yield node.value.strip().lower() in _WORDS
    else:
        yield isinstance(node.value, bool)  # of a lamp, on or off


def _group(node: Node, parts: tuple[type[Part], ...]) -> Node:
    """A group of keys, of one of several kinds."""
    found = {}
    for name, each in node.value.items():
        known = {key for part in parts for key in part.model_fields}
        plain = taken_for(name, "a key") if name not in known else None
        key = plain if plain in known and plain not in node.value else name
        found[key] = _value(each, tuple(kind for part in parts for kind in _kinds(part, key)))
    return replace(node, value=found)


def _value(node: Node, kinds: tuple[Any, ...]) -> Node:
    if isinstance(node.value, dict):
        parts = tuple(kind for kind in kinds if isinstance(kind, type) and issubclass(kind, Part))
        if parts:
            return _group(node, parts)
        members = tuple(inner for kind in kinds if get_origin(kind) is dict for inner in _shapes(get_args(kind)[1]))
        return replace(node, value={name: _value(each, members) for name, each in node.value.items()})
    if isinstance(node.value, list):
        members = tuple(
            inner
            for kind in kinds
            if get_origin(kind) is tuple
            for each in get_args(kind)
            if each is not Ellipsis
            for inner in _shapes(each)
        )
        return replace(node, value=[_value(each, members) for each in node.value])
    asked = [kind.what for kind in kinds if isinstance(kind, Form) and kind.what in TAKEN]
    word = taken_for(node.value, asked[0]) if asked else None
    if word is None:
        return node
    return replace(node, value=word == "true" if asked[0] == YES_OR_NO else word)


@lru_cache(maxsize=1024)
def _kinds(part: type[Part], key: str) -> tuple[Any, ...]:
    """What may stand for a key: groups of keys, lists and groups by name, and how words are written."""
    field = part.model_fields.get(key)
    if field is None:
        return ()
    return (*_shapes(field.annotation), *(each for each in field.metadata if isinstance(each, Form)))


def _shapes(kind: Any) -> Iterator[Any]:
    origin = get_origin(kind)
    if origin is Annotated:
        yield from (each for each in kind.__metadata__ if isinstance(each, Form))
        yield from _shapes(kind.__origin__)
    elif origin in (Union, UnionType):
        for inner in get_args(kind):
            yield from _shapes(inner)
    elif origin in (tuple, dict) or isinstance(kind, type):
        yield kind
