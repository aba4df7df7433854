"""What may be written in a scene file, told from the model that reads it: for people, and for their editors.

Nothing is described here. Each key says what it is where it is defined (`fields.told`), each kind of value how it is
written (`fields.Form`), so that neither can come apart from what is read.
"""

import inspect
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import Tag
from pydantic.fields import FieldInfo
from pydantic.json_schema import GenerateJsonSchema

from previz.errors import PrevizError
from previz.scene.called import OF_THE_SET, TAKEN, built_of, called, nearest, plainly, taken_for
from previz.scene.fields import NAMED, UNLESS_GIVEN, Form, Part, example_of, form_of, listed, meant_by
from previz.scene.kit import Kit
from previz.scene.model import Scene
from previz.scene.yaml_tree import tree_of
from previz.units import shown

#: What a schema says it is written in, JSON Schema's own name for its edition of 2020-12.
DIALECT = "https://json-schema.org/draft/2020-12/schema"

_GROUP = Form("group of keys", "")

#: The places of what stands on the set.
_ON_THE_SET = ("set.", "dressing.", "vehicle.", "lights.")


@dataclass(frozen=True)
class Key:
    """One key as a person may write it.

    default is what holds unless it is given: a value as a file has it, or, where no value stands for it, words;
    units are lists of those it may carry by the name of the quantity, in words.
    """

    name: str
    says: str
    form: str
    default: str
    example: str
    required: bool = False
    units: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class KeyGroup:
    """A group of keys: where in a file it stands (`lights.panel`), what it is, and its keys.

    further names the groups that some of its keys hold.
    """

    place: str
    says: str
    keys: tuple[Key, ...]
    further: tuple[str, ...] = ()


def key_places() -> tuple[tuple[str, str], ...]:
    """Every place in a scene file with a group of keys, and what it is in a sentence; the file itself is `scene`.

    What a shot may have as the set has it, like a piece that it adds, is listed with the set.
    """
    found = {f"{at}.{kind}".rstrip("."): part for at, kind, part in _told_places()}
    return (("scene", _gist(Scene)), *((place, _gist(part)) for place, part in found.items()))


def _told_places() -> Iterator[tuple[str, str, type[Part]]]:
    """Every group of keys below a scene: the key that holds it, its kind, its keys."""
    every = [*_held(Scene, "")]
    told = {(part, kind or at.rpartition(".")[2]) for at, kind, part in every if f"{at}.".startswith(_ON_THE_SET)}
    for at, kind, part in every:
        if not at.startswith("shots.") or (part, kind or at.rpartition(".")[2]) not in told:
            yield at, kind, part  # what a shot adds to the set is told where the set is


def _gist(part: type[Part]) -> str:
    return _docstring(part).partition("\n\n")[0].replace("\n", " ")


#: By which part of a scene file what goes by one word in several is listed: a guess at what is written most.
_MOST_WRITTEN = ("lights", "vehicle", "set", "shots", "cameras", "dressing")

#: What people call one of all there is in a part.
_ONE_OF = {"lamp": "lights", "piece": "dressing"}


def places_named(word: str) -> tuple[tuple[str, str], ...]:
    """Every place and key that goes by a word, also as people call it, with what it is; the most written first.

    >>> [place for place, _ in places_named("light")], [place for place, _ in places_named("camera")]
    (['lights', 'lights.bulb', 'dressing.light'], ['shots.camera', 'cameras', 'may_change.camera', 'evening.camera'])
    """
    word = taken_for(word, "a key") or word
    names = {plainly(word), plainly(word).removesuffix("s"), f"{plainly(word)}s"}

    def so_named(name: str) -> bool:
        return plainly(name) in names

    found: dict[str, str] = {}
    for at, parts in _kinds_by_key().items():
        within = "" if at == "scene" else f"{at}."
        if so_named(at.rpartition(".")[2]) or _ONE_OF.get(plainly(word)) == at:
            found[at] = _gist(parts[""]) if "" in parts else f"One of {len(parts)} kinds: {listed(parts)}."
        found |= {f"{at}.{kind}": _gist(part) for kind, part in parts.items() if kind and so_named(kind)}
        for name, field in ((name, field) for part in parts.values() for name, field in _fields(part).items()):
            if so_named(name) and not _kinds_of_any(parts, name):
                found.setdefault(f"{within}{name}", f"{_key(name, field).says}.")
    gists = dict(key_places())
    found |= {place: gists[place] for place in _called_so(word, "") if place in gists}
    found = {place: says for place, says in found.items() if not _said_elsewhere(place, found)}
    rank = {name: number for number, name in enumerate(_MOST_WRITTEN)}
    first = sorted(found, key=lambda place: (rank.get(place.partition(".")[0], len(rank)), place.count(".")))
    return tuple((place, found[place]) for place in first)


def _said_elsewhere(place: str, found: Mapping[str, str]) -> bool:
    """Whether a place is that of a change to what the set has, or of another vehicle, and the first is listed."""
    first, _, rest = place.partition(".")
    if first == "vehicles":
        return f"vehicle.{rest}" in found
    return first == "shots" and any(
        each in found for each in (rest, f"set.{rest}", rest.replace("vehicles", "vehicle"))
    )


def _kinds_by_key() -> dict[str, dict[str, type[Part]]]:
    """By each key that holds groups of keys, those by their kinds; the file itself is `scene`."""
    found: dict[str, dict[str, type[Part]]] = {"scene": {"": Scene}}
    for at, kind, part in _told_places():
        found.setdefault(at, {})[kind] = part
    return found


def _kinds_of_any(parts: Mapping[str, type[Part]], name: str) -> bool:
    return any(_kinds_of(part, name) for part in parts.values())


def key_groups(place: str) -> tuple[KeyGroup, ...]:
    """The keys at a place of a scene file, `shots.capture`; where there are several kinds, one group for each.

    What several kinds share comes first, in a group of its own. The place of a key alone, `shots.f_number`, gives that
    key alone.

    Raises
    ------
    PrevizError
        Where there is no such place, with the one that was probably meant.
    """
    kinds: Mapping[str, type[Part]] = {"": Scene}
    at, steps = "", [step for step in place.strip().split(".") if step]
    for number, step in enumerate([] if steps == ["scene"] else steps):
        if step in kinds:
            kinds, at = {"": kinds[step]}, f"{at}.{step}"
            continue
        inner = {name: part for kind in kinds.values() for name, part in _kinds_of(kind, step).items()}
        if not inner and number == len(steps) - 1 and any(step in _fields(kind) for kind in kinds.values()):
            return _key_alone(kinds, at.strip("."), step)
        if not inner:
            raise PrevizError(_no_such_place(place, at.strip("."), step, kinds))
        kinds, at = inner, f"{at}.{step}"
    return _groups(kinds, at.strip(".") or "scene")


def _key_alone(kinds: Mapping[str, type[Part]], at: str, name: str) -> tuple[KeyGroup, ...]:
    holders = [kind for kind in kinds.values() if name in _fields(kind)]
    keys = dict.fromkeys(_key(name, _fields(kind)[name]) for kind in holders)
    return (KeyGroup(f"{at}.{name}".strip("."), "", tuple(keys)),)


def _groups(kinds: Mapping[str, type[Part]], at: str) -> tuple[KeyGroup, ...]:
    counts = {base: sum(issubclass(kind, base) for kind in kinds.values()) for base in _bases(kinds.values())}
    shared = sorted((base for base, count in counts.items() if count > 1), key=lambda base: -counts[base])
    groups = []
    for base in shared:
        names = ", ".join(name for name, kind in kinds.items() if issubclass(kind, base))
        before = {key for more in shared if more is not base and issubclass(base, more) for key in _fields(more)}
        keys, further = tuple(key for key in _keys(base) if key.name not in before), _further(base, at, before)
        if keys or further:
            groups.append(KeyGroup(f"{at}: {names}", _docstring(base), keys, further))
    for name, kind in kinds.items():
        told = {key for base in shared if issubclass(kind, base) for key in _fields(base)}
        keys = tuple(key for key in _keys(kind) if key.name not in told)
        groups.append(KeyGroup(f"{at}.{name}".rstrip("."), _docstring(kind), keys, _further(kind, at, told)))
    return tuple(groups)


def _bases(kinds: Any) -> list[type[Part]]:
    """The classes that have keys of their own for others to share."""
    bases = dict.fromkeys(base for kind in kinds for base in kind.__mro__[1:] if base is not Part)
    return [base for base in bases if issubclass(base, Part)]


def _further(part: type[Part], at: str, without: Any = ()) -> tuple[str, ...]:
    place = "" if at == "scene" else f"{at}."
    return tuple(f"{place}{name}" for name in _fields(part) if name not in without and _kinds_of(part, name))


def _docstring(part: type[Part]) -> str:
    return re.sub(r"``?", "", inspect.cleandoc(part.__doc__ or ""))


def _fields(part: type[Part]) -> dict[str, FieldInfo]:
    """The keys that a file may have; the program keeps more in a part than its keys."""
    return {name: field for name, field in part.model_fields.items() if not field.exclude}


def _keys(part: type[Part]) -> tuple[Key, ...]:
    return tuple(_key(name, field) for name, field in _fields(part).items())


def _key(name: str, field: FieldInfo) -> Key:
    form = form_of(field) or _GROUP
    if form is _GROUP and get_origin(field.annotation) is Literal:  # the word a kind of piece is known by
        form = Form("word", get_args(field.annotation)[0])
    return Key(
        name,
        says=f"{field.description}{f': {form.allowed}' if form.allowed else ''}{_also_as(name)}",
        form=form.words,
        default=_default(field, form),
        example=example_of(field) or form.example,
        required=field.is_required(),
        units=form.units,
    )


def _also_as(name: str) -> str:
    """What else a key may be called, for who looks for that; "" of most."""
    return f"; {listed(TAKEN['a key'][name])} will do too" if name in TAKEN["a key"] else ""


def _default(field: FieldInfo, form: Form) -> str:
    """What holds unless the key is given, as a file has it; in words where no value stands for it."""
    if field.is_required():
        return "must be given"
    unless = field.json_schema_extra
    if isinstance(unless, dict) and UNLESS_GIVEN in unless:
        return str(unless[UNLESS_GIVEN])
    if field.default == ():
        return "none"
    return _written(field.default) if form is _GROUP else form.write(field.default)


def _written(part: Part) -> str:
    """A group of keys as a file has it: those that are not as they are unless given, or the first."""
    fields = _fields(type(part))
    told = [name for name, field in fields.items() if getattr(part, name) != field.default] or [next(iter(fields))]
    texts = [f"{name}: {(form_of(fields[name]) or _GROUP).write(getattr(part, name))}" for name in told]
    return f"{{{', '.join(texts)}}}"


# --- groups of keys below a key ---


def _kinds_of(part: type[Part], name: str) -> dict[str, type[Part]]:
    """The groups of keys that a key may hold, by the names of their kinds (`panel`), or by none where there is one."""
    field = _fields(part).get(name)
    found = {} if field is None else dict(_parts_in(field.annotation, ""))
    return {"": next(iter(found.values()))} if len(found) == 1 else found


def _parts_in(kind: Any, name: str) -> Iterator[tuple[str, type[Part]]]:
    origin = get_origin(kind)
    if origin is Annotated:
        tags = [each.tag.strip("<>") for each in kind.__metadata__ if isinstance(each, Tag)]
        yield from _parts_in(kind.__origin__, tags[0] if tags else name)
    elif origin in (Union, UnionType, tuple, dict):
        for inner in get_args(kind):
            yield from _parts_in(inner, name)
    elif inspect.isclass(kind) and issubclass(kind, Part):
        yield name, kind


def _held(
    part: type[Part], at: str, known: frozenset[type[Part]] = frozenset()
) -> Iterator[tuple[str, str, type[Part]]]:
    """Every group of keys below a part, with the key that holds it and its kind.

    Each once below one key: what two kinds share has the place of neither.
    """
    for name in _fields(part):
        kinds = {kind: each for kind, each in _kinds_of(part, name).items() if each not in known}
        for kind, each in kinds.items():
            yield f"{at}{name}", kind, each
        seen = known | {*kinds.values()}
        for each in kinds.values():
            below = [*_held(each, f"{at}{name}.", seen)]
            yield from below
            seen |= {inner for _, _, inner in below}


def _no_such_place(place: str, at: str, step: str, kinds: Mapping[str, type[Part]]) -> str:
    """What to say of a place that is none.

    >>> _no_such_place("capture", "", "capture", {"": Scene})
    'capture is not a place in a scene file; did you mean shots.capture?'
    >>> _no_such_place("tree", "", "tree", {"": Scene})
    'tree is not a place in a scene file; did you mean dressing.broadleaf or dressing.conifer?'
    >>> _no_such_place("streetlight", "", "streetlight", {"": Scene})
    'streetlight is not a place in a scene file; did you mean dressing.lamp_post?'
    >>> _no_such_place("dressing.barn", "dressing", "barn", {"": Scene})
    'dressing.barn is not a place in a scene file; did you mean dressing.building?'
    >>> _no_such_place("archway", "", "archway", {"": Scene})[:67]
    'archway is not a place in a scene file; it is built of walls, two t'
    >>> from previz.scene.pieces import Conifer, Fence
    >>> _no_such_place("dressing.lid", "dressing", "lid", {"conifer": Conifer, "fence": Fence})
    'dressing.lid is not a place in a scene file; did you mean dressing.id, a key of all? Its kinds: conifer, fence'
    """
    here = [name for kind in kinds.values() for name in _fields(kind)] + [kind for kind in kinds if kind]
    places = [name for name, _ in key_places()]
    elsewhere = [each for each in places if each.rpartition(".")[2] == step]
    near = [f"{at}.{meant}".strip(".")] if (meant := meant_by(step, here)) else []
    named = _called_so(step, at)
    if near and at and not named and meant not in kinds and len(kinds) > 1:
        having = [kind for kind, part in kinds.items() if meant in _fields(part)]
        whose = "all" if len(having) == len(kinds) else listed(having, "and")
        return (
            f"{shown(place)} is not a place in a scene file; did you mean {near[0]}, a key of {whose}? Its kinds: "
            f"{', '.join(kinds)}"
        )
    if at in ("", "dressing") and not elsewhere and not named and (built := built_of(step)):
        return f"{shown(place)} is not a place in a scene file; {built}"
    near = elsewhere or (near or named if not at else named or near)
    near = near or [each for each in places if meant_by(step, [each.rpartition(".")[2]])]
    if near:
        return f"{shown(place)} is not a place in a scene file; did you mean {listed(near[:4])}?"
    there = f"{at} has" if at else "a scene file has"
    return f"{shown(place)} is not a place in a scene file; {there} {', '.join(dict.fromkeys(here))}"


def _called_so(step: str, at: str) -> list[str]:
    """The places of what people call a piece or a lamp, one or several, or what belongs to the set."""
    found = []
    for group, what in (("dressing", "a kind of piece"), ("lights", "a kind of lamp")):
        kinds = called(step, what) or called(step.removesuffix("s"), what) or nearest(step, what)[0]
        found += [f"{group}.{kind}" for kind in kinds] if at in ("", group) else []
    return found or [OF_THE_SET[name] for name in (plainly(step),) if name in OF_THE_SET]


# --- for editors ---


def json_schema(part: type[Part] = Scene) -> dict[str, Any]:
    """What may be written in a scene file, or in a kit (`Kit`), as JSON Schema 2020-12.

    Whatever is read, it lets pass. It knows each value by itself, not what one says of another.
    """
    found = part.model_json_schema(schema_generator=_Plain)
    parts = {each.__name__: each for _, _, each in _held(part, "")}
    groups: dict[str, Any] = found["$defs"]
    for name, each in parts.items():
        if name in groups:
            _describe(groups[name], each)
    _describe(found, part)
    kinds: dict[str, Any] = {}
    plain = _hoisted(found, kinds)
    what = "A kit of cameras" if part is Kit else "A scene file"
    return {
        "$schema": DIALECT,
        "title": f"{what} of previz",
        **{key: value for key, value in plain.items() if key != "$defs"},
        "$defs": {**plain["$defs"], **kinds},
    }


@cache  # of half a second
def schema_text(part: type[Part] = Scene) -> str:
    """The schema as it stands in a file of its own: the same for the same version of previz."""
    return json.dumps(json_schema(part), indent=1, ensure_ascii=False) + "\n"


class _Plain(GenerateJsonSchema):
    """Without what only the program knows: defaults in SI, titles made of the names, values that are nothing."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def default_schema(self, schema: Any) -> Any:
        return self.generate_inner(schema["schema"])

    def nullable_schema(self, schema: Any) -> Any:
        return self.generate_inner(schema["schema"])


def _describe(group: dict[str, Any], part: type[Part]) -> None:
    """Put what is told of a part and its keys into its schema."""
    group["description"] = _docstring(part)
    flags = {name for name, field in _fields(part).items() if field.annotation is bool}  # false is as good as not given
    one_each = [keys for keys, _ in part.exactly_one if not flags & {*keys}]
    if one_each:
        group["allOf"] = [{"oneOf": [_given(key) for key in keys]} for keys in one_each]
    for key in _keys(part):
        schema = group["properties"][key.name]
        example = _data(key.example)
        schema.pop(UNLESS_GIVEN, None)
        schema["description"] = f"{key.says}." + ("" if key.required else f" Unless given: {key.default}.")
        schema.pop("examples", None)
        if example:
            schema["examples"] = example
        for other in TAKEN["a key"].get(key.name, ()):
            same = {name: value for name, value in schema.items() if name != "examples"}
            group["properties"].setdefault(other, {**same, "description": f"{key.name}, by another name."})
    needed = group.get("required", [])
    if two := [key for key in needed if key in TAKEN["a key"]]:
        group["required"] = [key for key in needed if key not in two]
        group["allOf"] = [*group.get("allOf", []), *map(_given, two)]


def _given(key: str) -> dict[str, Any]:
    """A rule that a key is given, by whichever of its names."""
    names = (key, *TAKEN["a key"].get(key, ()))
    return {"required": [key]} if len(names) == 1 else {"anyOf": [{"required": [name]} for name in names]}


def _data(text: str) -> list[Any] | None:
    """An example as the data it stands for, in a list; None of one that is cut short."""
    if not text or "…" in text:
        return None
    root, _ = tree_of(f"example: {text}")
    return [root.plain()["example"]]


def _hoisted(schema: Any, kinds: dict[str, Any]) -> Any:
    """The schema with each named kind of value defined once, under its name in `kinds`."""
    if isinstance(schema, list):
        return [_hoisted(each, kinds) for each in schema]
    if not isinstance(schema, dict):
        return schema
    held = {key: _hoisted(value, kinds) for key, value in schema.items()}
    if NAMED in held:
        said = {key: held.pop(key) for key in ("description", "examples") if key in held}
        name = held.pop(NAMED)
        kinds[name] = held
        return {"$ref": f"#/$defs/{name}", **said}
    if "patternProperties" in held:
        held["additionalProperties"] = False  # other names are no names
    return held
