"""The kinds of value a scene file holds, each read from text into SI with its allowed range.

A field type such as `Length` is a float for the rest of the program; the validator attached to it knows the
file's bare-length unit and scale through pydantic's validation context (`FileUnits`). `Part` is a group of keys.
All messages are written here, so that nothing of pydantic's own wording reaches a person.
"""

import difflib
import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from dataclasses import field as held
from fractions import Fraction
from itertools import islice, pairwise
from types import UnionType
from typing import Annotated, Any, ClassVar, Final, Literal, Union, get_args, get_origin

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    GetJsonSchemaHandler,
    ModelWrapValidatorHandler,
    Tag,
    ValidationError,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)
from pydantic.fields import FieldInfo
from pydantic_core import InitErrorDetails

from previz import units
from previz.physics.colour import srgb_encoded, srgb_linear, white_rgb
from previz.physics.pacing import set_speed
from previz.scene.called import (
    TAKEN,
    WEATHER,
    called,
    nearest,
    parts_of_name,
    plainly,
    spellings,
    taken_for,
)
from previz.scene.colours import NAMED_COLOURS
from previz.units import LENGTH, Dimension, QuantityError, shown


@dataclass(frozen=True)
class FileUnits:
    """What the top of the file settles: the factor of a bare length (or None) and S of 1:S.

    written counts, while the file is read, the lengths that a tape measures, by the unit they are written in. slowdowns
    are how many times slower than on set each shot plays, by its id, for a speed given as it is to look; driving
    has the shots that show a vehicle at the speed of the common set, by its key (`vehicles.tram`).
    """

    bare_length: float | None
    scale: float | None
    slowdowns: Mapping[str, float] = held(default_factory=dict)
    driving: Mapping[str, tuple[str, ...]] = held(default_factory=dict)
    written: Counter[str] = held(default_factory=Counter, compare=False)

    @classmethod
    def of(cls, info: ValidationInfo) -> "FileUnits":
        """Those of the file that is read; of what is read from no file, none."""
        return info.context if isinstance(info.context, cls) else cls(None, None)

    def count(self, found: object) -> None:
        """Note in which unit a length is written; a length at full size was not taken with a tape."""
        if not (isinstance(found, str) and units.is_full_size(found)):
            self.written[self.unit_of(found) or ""] += 1

    def unit_of(self, found: object) -> str | None:
        """The unit of a length as it is written, or that of bare ones; None where that is none."""
        bare = (name for name, factor in LENGTH.factors.items() if factor == self.bare_length)
        return units.unit_of(LENGTH, found) or next(bare, None)

    def told(self, length: float) -> str:
        """A length [m] of a file that is at fault: in inches where its bare lengths are, else as a person would say it.

        >>> FileUnits(0.0254, 48).told(0.0762), FileUnits(None, 48).told(0.0762)
        ('3 in', '76.2 mm')
        """
        for unit in ("in", "ft"):
            if self.bare_length == LENGTH.factors[unit]:
                return units.Tape(unit)(length)
        return units.text_of(LENGTH, length)


class AtScale(str):
    """Text of a file that stands in a group with a scale of its own: what is told at full size is at that one."""

    scale: float

    @classmethod
    def of(cls, found: Any, scale: float) -> Any:
        """Text, or a list with text in it, at a scale; all else as it is."""
        if isinstance(found, list | tuple):
            return [cls.of(each, scale) for each in found]
        if not isinstance(found, str):
            return found
        text = cls(found)
        text.scale = scale
        return text


def listed(words: Iterable[str], joined: str = "or") -> str:
    """Words as they are said one after the other; nothing of none.

    >>> listed(["brick", "stone", "plain"]), listed(["left", "right"], "and"), listed([])
    ('brick, stone or plain', 'left and right', '')
    """
    *most, last = list(words) or [""]
    return f"{', '.join(most)} {joined} {last}" if most else last


def meant_by(word: object, choices: Iterable[str]) -> str | None:
    """The choice a person most likely meant by a slip of spelling, or None."""
    by_small = {choice.lower(): choice for choice in islice(choices, 100)}  # a stranger may list thousands
    close = difflib.get_close_matches(str(word)[:60].lower(), by_small, n=1, cutoff=0.7)
    return by_small[close[0]] if close else None


def choose_from(found: object, choices: Iterable[str], what: str, otherwise: str = "", *, always: str = "") -> str:
    """The message for a word that is not one of a few: with the one that is meant by it, or nearly spelled so.

    otherwise: what else there is, said where none of them is meant; always: said even where one is.

    >>> choose_from("lory", ["lorry", "van"], "a body")
    'lory is not a body; did you mean lorry? Choose lorry or van'
    >>> choose_from("truck", ["lorry", "van"], "a body")
    'truck is not a body; did you mean lorry? Choose lorry or van'
    >>> choose_from("jeep", ["saloon", "pickup"], "a body")
    'jeep is not a body; none is quite that: pickup or saloon comes nearest, in size. Choose saloon or pickup'
    """
    choices = list(choices)
    near, how = nearest(found, what)
    if near:
        comes = f"none is quite that: {listed(near)} comes nearest, {how}. C"
        return f"{shown(found)} is not {what}; {comes}hoose {listed(choices)}{otherwise}{always}"
    plain = {plainly(each): each for each in choices}
    known = next((plain[part] for part in parts_of_name(found) if part in plain), None)
    meant = listed(called(found, what) or filter(None, [known or meant_by(found, choices)]))
    asks, otherwise = (f"did you mean {meant}? C", "") if meant else ("c", otherwise)
    return f"{shown(found)} is not {what}; {asks}hoose {listed(choices)}{otherwise}{always}"


# --- a key and what may be written for it ---


@dataclass(frozen=True)
class Form:
    """How a value is written in a file; it stands beside the reader of the value, in the type.

    words name it in a column (`length`), example is one as it stands in a file, allowed says what there is to choose
    from (`flat or gable`); units are lists of units by the name of the quantity, in words; write turns a value as the
    program holds it back into text; what is what is asked for, of a word that may be spelled in other ways
    (`called.TAKEN`).
    """

    words: str
    example: str
    allowed: str = ""
    units: tuple[tuple[str, str], ...] = ()
    at_least: int = 0  # members of a list
    write: Callable[[Any], str] = str
    what: str = ""

    def __get_pydantic_json_schema__(self, schema: Any, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """What editors are told of the shape that the reader alone would know."""
        found = dict(handler(schema))
        words = [*TAKEN.get(self.what, ())]
        if words and "const" in found:
            found["enum"] = [found.pop("const")]
            words = [word for word in words if word in found["enum"]]
        if words and "enum" in found:
            others = [name for word in words for name in spellings(word, self.what)]
            found["enum"] = [*found["enum"], *(name for name in others if name not in found["enum"])]
        return {**found, "minItems": self.at_least} if self.at_least else found


def form_of(field: FieldInfo) -> Form | None:
    """How the value of a key is written; None of a group of keys."""
    forms = [each for each in field.metadata if isinstance(each, Form)] or [*forms_in(field.annotation)]
    return forms[-1] if forms else None  # the outermost is put on last


def forms_in(kind: Any) -> Iterator[Form]:
    """Of `X | None`, or of what is written in more than one way."""
    if get_origin(kind) is Annotated:
        yield from (each for each in kind.__metadata__ if isinstance(each, Form))
    elif get_origin(kind) in (Union, UnionType):
        for inner in get_args(kind):
            yield from forms_in(inner)


#: In a field's `json_schema_extra`: what holds where the key is not given and no value stands for it.
UNLESS_GIVEN = "unless given"


def told(
    says: str, default: Any = ..., *, unless: str | None = None, like: str | None = None, checked: bool = False
) -> Any:
    """One key of a `Part`, described where it is defined; `previz keys` and the schema for editors are made of it.

    Parameters
    ----------
    says : str
        What it is, for a maker; no unit, default or example, which follow from the rest.
    default : value
        As the program holds it; a key without one must be given.
    unless : str or None
        What holds where a default of None is left in place, in words: `the table's`, or `give this or mesh`.
    like : str or None
        An example as it stands in a file, where that of the kind of value would mislead.
    checked : bool
        Whether the key's rules are asked of the default too.
    """
    extra: Any = None if unless is None else {UNLESS_GIVEN: unless}
    return Field(
        default, description=says, examples=[like] if like else None, json_schema_extra=extra, validate_default=checked
    )


def example_of(field: FieldInfo) -> str:
    """An example of a key's value as it stands in a file; empty where there is none."""
    form = form_of(field)
    return str(field.examples[0]) if field.examples else form.example if form else ""


def full_size(length: float) -> str:
    """A length [m] of the real thing, as a file has it.

    >>> full_size(0.787)
    '0.787 m full size'
    """
    return f"{length:g} m full size"


# --- a group of keys ---


class Misspelt(QuantityError):
    """A key that is none, where one is most likely meant."""

    def __init__(self, meant: str, message: str) -> None:
        self.meant = meant
        super().__init__(message)


class Miscalled(QuantityError):
    """A kind by a name that is none, where one is meant."""

    def __init__(self, meant: str, message: str) -> None:
        self.meant = meant
        super().__init__(message)


class Part(BaseModel):
    """A group of keys in a scene file: frozen, and every key must be known.

    Its docstring says what it is, and how its keys go together; each key says for itself what it is (`told`).
    A subclass states of which keys exactly one is given in `exactly_one`, each time with what they say, and other rules
    about which keys go together in `key_rules`, which sees the keys as written. They are checked even when a value is
    unreadable, so that one reading of a file finds all its faults.
    """

    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, allow_inf_nan=False, defer_build=True
    )

    exactly_one: ClassVar[tuple[tuple[tuple[str, ...], str], ...]] = ()

    #: Keys that are told at the group's own `scale`, where one is given; all others at that of the file.
    told_at_scale: ClassVar[tuple[str, ...]] = ()

    @classmethod
    def at_its_scale(cls, found: Mapping[Any, Any]) -> Mapping[Any, Any]:
        """The group with those of its values marked by its own scale, where it has one that can be read."""
        if not cls.told_at_scale or found.get("scale") is None:
            return found
        try:
            scale = units.scale_of(found["scale"])
        except QuantityError:
            return found  # the reading of the scale itself says so
        return {key: AtScale.of(value, scale) if key in cls.told_at_scale else value for key, value in found.items()}

    @classmethod
    def spelled_out(cls, found: Mapping[Any, Any], file: FileUnits) -> Mapping[Any, Any]:
        """The group with its plain keys, where people write it shorter in ways that one key alone cannot be read in."""
        return found

    @classmethod
    def missing_said(cls, name: str, written: Mapping[Any, Any]) -> str | None:
        """What to do about a key that is missing from a group as written, where an example would mislead; else "".

        None where what is said of another key says it all.
        """
        return ""

    @classmethod
    def said_otherwise(cls, written: Mapping[Any, Any]) -> tuple[tuple[str, ...], str]:
        """Keys of a group as written that say together in another way what its own keys say, and how it is written
        here; none where it is not so."""
        return (), ""

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """Say what is wrong with this combination of keys; `given` are those with a value."""
        yield from ()

    @model_validator(mode="wrap")
    @classmethod
    def _check_keys(cls, found: Any, handler: ModelWrapValidatorHandler[Any], info: ValidationInfo) -> Any:
        if isinstance(found, BaseModel):
            return handler(found)
        if not isinstance(found, Mapping):
            needed = [name for name, field in cls.model_fields.items() if field.is_required()]
            shown_keys = needed or list(cls.model_fields)[:2]
            example = ", ".join(f"{name}: {example_of(cls.model_fields[name]) or '…'}" for name in shown_keys)
            without = "leave the key out where there is none, or " if found in (False, "none", "nothing", "no") else ""
            raise QuantityError(f"{shown(found)} is not a group of keys; {without}write {{{example}}}")
        file = FileUnits.of(info)
        written, found = found, cls.at_its_scale(cls.spelled_out(found, file))
        own = [*cls._key_faults(found, written, from_file=isinstance(info.context, FileUnits))]
        given = frozenset(key for key, value in found.items() if value is not None and value is not False)
        own += [_fault((), found, rule) for keys, what in cls.exactly_one for rule in one_of(given, *keys, what=what)]
        own += [_fault((), found, rule) for rule in cls.key_rules(given)]
        try:
            part = handler(found)
        except ValidationError as error:
            own += [
                InitErrorDetails(type=each["type"], loc=each["loc"], input=each["input"], ctx=each.get("ctx", {}))
                for each in error.errors(include_url=False)
                if len(each["loc"]) != 1 or each["type"] not in ("missing", "extra_forbidden")
            ]
        if own:
            raise ValidationError.from_exception_data(cls.__name__, own)
        return part

    @classmethod
    def _key_faults(
        cls, found: Mapping[Any, Any], written: Mapping[Any, Any], *, from_file: bool
    ) -> Iterator[InitErrorDetails]:
        """Unknown keys, and required keys that are absent (unless an unknown one is a slip of it)."""
        fields = {name: field for name, field in cls.model_fields.items() if not (field.exclude and from_file)}
        meant = set()
        others, how = cls.said_otherwise(written)
        if others:
            yield _fault((others[0],), found, how)
        for key in found:
            if key in fields or key in others:
                continue
            left = [name for name in fields if name not in written]
            twice = taken_for(key, "a key")
            if twice in fields and twice in found:
                yield _fault((str(key),), found, f"is {twice} by another name, which is given too; keep one of them")
                continue
            slip = next((name for name in called(key, "a key") if name in left), None)
            slip = slip or (None if _holder_of(str(key), fields) else meant_by(key, left))
            meant.add(slip)
            yield _fault((str(key),), found, _no_key(str(key), slip, fields))
        for name, field in fields.items():
            if field.is_required() and name not in found and name not in meant:
                like, instead = example_of(field), cls.missing_said(name, written)
                example = f", like {name}: {like}" if like else ""
                if instead is not None:
                    yield _fault((name,), found, f"is missing; {instead or f'write it{example}'}")


def _no_key(key: str, slip: str | None, fields: Mapping[str, FieldInfo]) -> QuantityError:
    """What to say of a key that a group does not have: which is meant, or below which of its keys it belongs."""
    there = f"he keys here are {', '.join(fields)}"
    if slip:
        return Misspelt(slip, f"is not a key here; did you mean {slip}? T{there}")
    holder = _holder_of(key, fields)
    if holder:
        return QuantityError(f"is not a key here; it belongs in {holder}, like {holder}: {{{shown(key)}: …}}")
    elsewhere = _WET if plainly(key) in WEATHER else ""
    there_already = meant_by(key, fields)  # or had without being written, as the focal length of a prime is
    asks = f"did you mean {there_already}? T" if there_already else f"{elsewhere}t"
    return QuantityError(f"is not a key here; {asks}{there}")


_WET = (
    "a wet street is ground: {wet: true} of set, and water that stands on it puddles: {count: 8} beside it, see previz "
    "keys set.ground; "
)


def _holder_of(key: str, fields: Mapping[str, FieldInfo]) -> str | None:
    """The one of a group's keys whose own group has a key of that name."""
    holders = [name for name, field in fields.items() if any(key in part.model_fields for part in parts_of(field))]
    return holders[0] if len(holders) == 1 else None


def parts_of(field: FieldInfo) -> Iterator[type["Part"]]:
    """The groups of keys that a key's value may be; of a list of groups none, for it is not known which."""
    kinds = [field.annotation]
    while kinds:
        kind = kinds.pop()
        if get_origin(kind) in (Annotated, Union, UnionType):
            kinds += [each for each in get_args(kind) if get_origin(each) or isinstance(each, type)]
        elif isinstance(kind, type) and issubclass(kind, Part):
            yield kind


def _fault(location: tuple[str | int, ...], found: object, wrong: str | QuantityError) -> InitErrorDetails:
    error = QuantityError(wrong) if isinstance(wrong, str) else wrong
    return InitErrorDetails(type="value_error", loc=location, input=found, ctx={"error": error})


def one_of(given: frozenset[str], *keys: str, what: str) -> Iterator[str]:
    """The rule that exactly one of `keys` is given."""
    present = [key for key in keys if key in given]
    if not present:
        yield f"needs {listed(keys)}: {what}"
    elif len(present) > 1:
        yield f"has {' and '.join(present)}; keep one of them: {what}"


# --- quantities ---

#: In a schema: the name of the definition that it is moved to, so that what is used a hundred times is written once.
NAMED = "$comment"


def scale_for(found: object, file: FileUnits) -> float | None:
    """S of 1:S of what is told at full size: that of its group, else the file's."""
    return found.scale if isinstance(found, AtScale) else file.scale


def quantity(
    dimension: Dimension,
    *,
    above: float | None = None,
    at_least: float | None = None,
    at_most: float | None = None,
    bare: float | None = None,
    tape: bool = False,
) -> Any:
    """A float field read from text; the bounds are SI, `above` is excluded, the others included.

    tape: a length that is measured on the set, in the unit in which its maker wants to read others.
    """

    def read(found: object, info: ValidationInfo) -> float:
        file = FileUnits.of(info)
        length = dimension is LENGTH
        factor = file.bare_length if length else bare
        if factor is None and found == 0 and not isinstance(found, bool | str):
            factor = 1.0  # nothing is nothing in every unit
        value = units.parse(dimension, found, bare=factor, scale=scale_for(found, file) if length else None)
        too_low = (above is not None and value <= above) or (at_least is not None and value < at_least)
        if too_low or (at_most is not None and value > at_most):
            unit = units.unit_of(dimension, found)
            if unit is None and length:
                unit = next((name for name, known in LENGTH.factors.items() if known == factor), None)
            as_written = _plain_limit if bare is not None and unit is None else units.text_of
            limits = _limits(above, at_least, at_most, lambda limit: as_written(dimension, limit, unit))
            meant = units.in_a_likely_unit(found, unit, value, 0, at_most) if length and at_most and value > 0 else ""
            slip = f"; did you mean {shown(meant)}?" if meant else ""
            raise QuantityError(f"{shown(found)} is out of range; it must be {limits}{slip}")
        if tape and value != 0:  # nothing is nothing in every unit
            file.count(found)
        return value

    bare_number = dimension is LENGTH or bare is not None
    schema: dict[str, Any] = {"type": "string", "pattern": units.pattern_of(dimension, bare=bare_number)}
    if not bare_number:
        schema = {"anyOf": [schema, {"const": 0}]}
    limits: dict[str, Any] = {}
    if bare is not None:
        limits = {"minimum": at_least, "maximum": at_most}
    elif 0 in (above, at_least):  # nothing is nothing, whatever a bare length means
        limits = {"exclusiveMinimum": 0} if above == 0 else {"minimum": 0}
    if bare_number:
        schema = {"anyOf": [schema, {"type": "number", **limits}]}
    form = Form(
        dimension.name,
        dimension.example,
        units=_units(dimension, plain=bare is not None),
        write=lambda value: units.text_of(dimension, value),
    )
    # One definition for all of a kind; the bounds of what has a unit are the reader's.
    name = "_".join([*dimension.name.split(), *(f"{key}_{limit:g}" for key, limit in limits.items())])
    kind = {NAMED: name, **schema}
    return Annotated[float, BeforeValidator(read), WithJsonSchema(kind), form]


def _units(dimension: Dimension, *, plain: bool) -> tuple[tuple[str, str], ...]:
    """The units of a quantity, in words for people."""
    more = ", or a plain number" if plain else ""
    if dimension is LENGTH:
        more = ", or a plain number in the units of the file; also 3.5 m full size, divided by the scale"
    return ((dimension.name, listed(dimension.unit_names) + more),)


def _limits(above: float | None, at_least: float | None, at_most: float | None, text: Callable[[float], str]) -> str:
    worded = (("more than", above), ("at least", at_least), ("at most", at_most))
    return " and ".join(f"{words} {text(limit)}" for words, limit in worded if limit is not None)


def _plain_limit(dimension: Dimension, limit: float, unit: str | None) -> str:
    return f"{limit:g} ({units.text_of(dimension, limit)})"


def parsed(
    reader: Any, kind: Any, words: str, example: str, pattern: str, write: Callable[[Any], str], *, bare: bool = True
) -> Any:
    """A field read by a function of the found value alone (`f/5.6`, `24 fps`); bare: a plain number will do."""
    schema: dict[str, Any] = {"type": "string", "pattern": rf"^\s*(?:{pattern})\s*$"}
    if bare:
        schema = {"anyOf": [schema, {"type": "number"}]}
    named = {NAMED: words.replace(" ", "_"), **schema}
    return Annotated[kind, BeforeValidator(reader), WithJsonSchema(named), Form(words, example, write=write)]


def number(*, at_least: float, at_most: float, example: str) -> Any:
    """A plain number without a unit, in a range."""

    def read(found: object) -> float:
        if isinstance(found, bool) or not isinstance(found, int | float):
            raise QuantityError(f"{shown(found)} is not a number; write it like {example}")
        if not at_least <= found <= at_most:
            raise QuantityError(f"{shown(found)} is out of range; it must be from {at_least:g} to {at_most:g}")
        return float(found)

    schema = {"type": "number", "minimum": at_least, "maximum": at_most}
    form = Form("number", example, f"{at_least:g} to {at_most:g}", write=lambda value: f"{value:g}")
    return Annotated[float, BeforeValidator(read), WithJsonSchema(schema), form]


def whole(at_least: int, at_most: int) -> Any:
    """A count, in a range."""

    def read(found: object) -> int:
        if isinstance(found, bool) or not isinstance(found, int):
            raise QuantityError(f"{shown(found)} is not a whole number; write one from {at_least} to {at_most}")
        if not at_least <= found <= at_most:
            raise QuantityError(f"{shown(found)} is out of range; it must be from {at_least} to {at_most}")
        return found

    schema = {"type": "integer", "minimum": at_least, "maximum": at_most}
    form = Form("whole number", str(max(at_least, 1)), f"{at_least} to {at_most}")
    return Annotated[int, BeforeValidator(read), WithJsonSchema(schema), form]


def _flag(found: object) -> bool:
    if not isinstance(found, bool):
        raise QuantityError(f"{shown(found)} is not a yes or no; write true or false")
    return found


def _true_or_false(value: bool) -> str:
    return "true" if value else "false"


#: What `called.TAKEN` has the other spellings of true and false under.
YES_OR_NO: Final = "a yes or no"

#: true or false; YAML 1.2 reads yes and no as text, which `spelling` makes these of.
Flag: Any = Annotated[
    bool,
    BeforeValidator(_flag),
    WithJsonSchema({NAMED: "yes_or_no", "enum": [True, False]}),
    Form(
        "true or false",
        "true",
        units=(("true or false", "yes and no will do too"),),
        write=_true_or_false,
        what=YES_OR_NO,
    ),
]


def word(*choices: str, what: str, always: str = "") -> Any:
    """One word out of a few; always says what else there is, whatever was written that is none of them."""

    def read(found: object) -> str:
        if not isinstance(found, str) or found not in choices:
            raise QuantityError(choose_from(found, choices, what, always=always))
        return found

    others = [name for names in TAKEN.get(what, {}).values() for name in names]
    allowed = f"{listed(choices)}{f', also spelled {listed(others)}' if others else ''}"
    return Annotated[Literal[choices], BeforeValidator(read), Form("word", choices[0], allowed, what=what)]


def text(longest: int, what: str, example: str) -> Any:
    """Printable text on one line."""

    def read(found: object) -> str:
        if not isinstance(found, str):
            raise QuantityError(f"{shown(found)} is not {what}; write text, in quotes if it looks like a number")
        if not found.strip() or len(found) > longest or not found.isprintable():
            raise QuantityError(
                f"{shown(found)} is not {what}; write 1 to {longest} characters on one line, without control characters"
            )
        return found

    schema = {"type": "string", "minLength": 1, "maxLength": longest}
    return Annotated[str, BeforeValidator(read), WithJsonSchema(schema), Form("text", example)]


# --- lists and choices of shape ---


def group(*kinds: Any, shape: str, example: str) -> Any:
    """A list of fixed length, such as `[x, y]`, each member of its own kind."""

    def read(found: object) -> object:
        if not isinstance(found, list | tuple) or len(found) != len(kinds):
            raise QuantityError(f"{shown(found)} is not {shape}; write {len(kinds)} values in brackets")
        return found

    members: Any = tuple[kinds]  # type: ignore[valid-type]
    units_of_all = tuple(dict.fromkeys(each for kind in kinds for form in forms_in(kind) for each in form.units))
    return Annotated[members, BeforeValidator(read), Form(shape, example, units=units_of_all, write=_in_brackets)]


def _in_brackets(values: Iterable[Any]) -> str:
    return f"[{', '.join(str(value) for value in values)}]"


def series(kind: Any, *, at_least: int = 0, what: str, example: str) -> Any:
    """A list of any length, `at_least` so long."""

    def read(found: object) -> object:
        if not isinstance(found, list | tuple):
            raise QuantityError(f"{shown(found)} is not a list of {what}; write it like {example}")
        if len(found) < at_least:
            raise QuantityError(f"{shown(found)}, where {at_least} or more {what} are needed; write it like {example}")
        return found

    listing = Form(f"list of {what}", example, at_least=at_least, write=_in_brackets)
    return Annotated[tuple[kind, ...], BeforeValidator(read), listing]


def by_kind(kind_of: Callable[[Any], str], kinds: Mapping[str, Any]) -> Any:
    """A value of one of several shapes; `kind_of` names the shape or raises a QuantityError saying what is wanted."""

    def check(found: object, info: ValidationInfo) -> object:
        try:
            kind_of(found)
        except Miscalled as slip:  # the rest is wrong or right as what is meant
            raise _with_the_rest(slip, kinds[slip.meant], found, info) from None
        return found

    # The marks keep the names pydantic puts into an error's location apart from the file's keys.
    tagged = tuple(Annotated[kind, Tag(f"<{name}>")] for name, kind in kinds.items())
    union: Any = Union[tagged]  # noqa: UP007 - built at run time
    return Annotated[union, Discriminator(lambda found: f"<{kind_of(found)}>"), BeforeValidator(check)]


def _with_the_rest(slip: Miscalled, meant: type[Part], found: Any, info: ValidationInfo) -> ValidationError:
    """What is wrong with a group whose kind is called otherwise: that, and all that is wrong as the kind meant."""
    (key,) = [key for key, field in meant.model_fields.items() if get_args(field.annotation) == (slip.meant,)]
    wrong = [_fault((key,), found, slip)]
    try:
        meant.model_validate({**found, key: slip.meant}, context=info.context)
    except ValidationError as error:
        wrong += [
            InitErrorDetails(type=each["type"], loc=each["loc"], input=each["input"], ctx=each.get("ctx", {}))
            for each in error.errors(include_url=False)
        ]
    return ValidationError.from_exception_data(meant.__name__, wrong)


def word_or(choice: str, kind: Any, brief: str, otherwise: str, *, example: str, allowed: str = "") -> Any:
    """The one word, or a value of that kind, which is not text; `otherwise` says in words what that is, `brief` in two.

    example and allowed are those of a `Form`.
    """

    def kind_of(found: object) -> str:
        if isinstance(found, str) and found != choice:
            raise QuantityError(f"{shown(found)} is not {choice}; write {choice} or {otherwise}")
        return "word" if found == choice else "value"

    either = by_kind(kind_of, {"word": Literal[choice], "value": kind})
    return Annotated[either, Form(f"{choice} or {brief}", example, allowed)]


def short(reader: Callable[..., Any], kind: Any, *written: Any, form: Form | None = None) -> Any:
    """A group of keys that also has a short form, which `reader` turns into the keys; `written` are its types.

    form: how it is usually written; that of `kind` unless given.
    """
    accepted: Any = Union[(*written, kind)]
    read = BeforeValidator(reader, json_schema_input_type=accepted)
    return Annotated[kind, read, form] if form else Annotated[kind, read]


def also(reader: Callable[..., Any], kind: Any, *schemas: dict[str, Any]) -> Any:
    """A value that is also written in other ways, which `reader` turns into the plain one; `schemas` are theirs."""
    (plain,) = [each.json_schema for each in kind.__metadata__ if isinstance(each, WithJsonSchema)]
    return Annotated[kind, BeforeValidator(reader), WithJsonSchema({"anyOf": [plain, *schemas]})]


def leading_on(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """A way's points, refused where one is the same as the one before: there it would lead nowhere."""
    for number, (before, after) in enumerate(pairwise(points), start=2):
        if before == after:
            raise ValueError(f"point {number} is the same as the one before it; take one of them out")
    return points


def enclosing(corners: tuple[tuple[float, float], ...] | None) -> tuple[tuple[float, float], ...] | None:
    """Corners of an area, refused where they enclose none, or the lines between them cross."""
    if corners is not None and (len({x for x, _ in corners}) < 2 or len({y for _, y in corners}) < 2):
        raise ValueError("the corners enclose no area; give two opposite corners, or three and more around it")
    if corners is not None and len(corners) > 3:
        from previz.physics.overlap import crosses_itself

        if crosses_itself(corners):
            raise ValueError("the lines from corner to corner cross; give the corners in their order around the area")
    return corners


def in_order(size: tuple[float, float] | None) -> tuple[float, float] | None:
    """A smallest and a largest size, refused the other way round."""
    if size and size[0] > size[1]:
        raise ValueError("the first is larger than the second; size is [smallest, largest]")
    return size


#: A speed as it is to look, and in which shot.
ON_SCREEN = re.compile(r"(\S.*?)\s+on[ -]screen(?:\s+in\s+(\S+))?")


def _on_set(found: object, info: ValidationInfo) -> object:
    """A speed on set: of nothing without a unit, or of what is to look so fast on screen."""
    if found == 0 and not isinstance(found, bool):
        return "0 m/s"
    looks = ON_SCREEN.fullmatch(found.strip()) if isinstance(found, str) else None
    file = FileUnits.of(info)
    scale = scale_for(found, file)
    if looks is None or scale is None:
        return found
    speed, slow = units.parse(units.SPEED, looks[1]), _slowdown(looks[2], file.slowdowns)
    return f"{float(set_speed(speed, scale, slow))!r} m/s"


def _slowdown(shot: str | None, known: Mapping[str, float]) -> float:
    """Of the shot that is named; 1 where none is or a fault of the shot itself hides it, and the file is refused."""
    if shot is not None and known and shot not in known:
        raise QuantityError(choose_from(shot, known, "a shot of this file"))
    slow = known.get(shot or "", math.nan)
    return 1.0 if math.isnan(slow) else slow


_NO_UNIT = re.compile(r"\s*([0-9.]+(?:\s*[-–]\s*[0-9.]+)?)(\s*\b(?:equivalent|equiv\.?|eq\.?))?\s*")


def off_a_lens(found: object, info: ValidationInfo) -> object:
    """What is read off a lens or a sensor, as it is: a length, a range of them, or a list.

    Those go by millimetres. Raises QuantityError where they have no unit and a bare length in the file is something
    else, like 18-55 in a file in centimetres: it would be read as a lens that nobody has.
    """
    file = FileUnits.of(info)
    unit = next((name for name, factor in LENGTH.factors.items() if factor == file.bare_length), None)
    bare = [_NO_UNIT.fullmatch(str(each)) for each in (found if isinstance(found, list | tuple) else [found])]
    # Without any unit at the top, a single length is told together with all others that have none.
    if not bare or unit == "mm" or (unit is None and not (isinstance(found, str) and re.search("[-–]", found))):
        return found
    meant = [f"{each[1]} mm{each[2] or ''}" for each in bare if each]
    if len(meant) < len(bare):
        return found
    listing = "[{}]" if isinstance(found, list | tuple) else "{}"
    written, asked = (listing.format(", ".join(each)) for each in ([each[0].strip() for each in bare if each], meant))
    reads = f", and a bare length in this file is in {unit}" if unit else ""
    raise QuantityError(
        f"{shown(written)} has no unit{reads}; did you mean {shown(asked)}? Lenses and sensors go by millimetres, so "
        "write the unit"
    )


# --- the kinds by name ---

# Nothing on a table-top set is longer than a hall or further away than one: a slip of a unit shows here.
_HALL = 100.0

Length: Any = quantity(units.LENGTH, at_least=-_HALL, at_most=_HALL, tape=True)
PositiveLength: Any = quantity(units.LENGTH, above=0, at_most=_HALL, tape=True)
NonNegativeLength: Any = quantity(units.LENGTH, at_least=0, at_most=_HALL, tape=True)
CameraLength: Any = quantity(units.LENGTH, above=0, at_most=_HALL)  # off a data sheet: millimetres everywhere
LensLength: Any = Annotated[CameraLength, BeforeValidator(off_a_lens)]  # with its unit, where the file's is another
Time: Any = quantity(units.TIME, at_least=-3600, at_most=3600)
PositiveTime: Any = quantity(units.TIME, above=0, at_most=3600)
Angle: Any = quantity(units.ANGLE, at_least=-20 * math.pi, at_most=20 * math.pi)
_LOOKS_SO = {"type": "string", "pattern": r"\son[ -]screen(\s+in\s+\S+)?\s*$"}
Speed: Any = also(_on_set, quantity(units.SPEED, at_least=0, at_most=50), _LOOKS_SO)
Flux: Any = quantity(units.FLUX, at_least=0, at_most=1e6)
#: Of a lamp as small as what it belongs to.
ModelFlux: Any = quantity(replace(units.FLUX, example="0.5 lm"), at_least=0, at_most=1e6)


#: What `called.TAKEN` has the other spellings of on and off under.
ON_OR_OFF: Final = "on or off"


def on_or_off(full: float, *, many: str = "") -> Any:
    """The light [lm] of a lamp of a model, or whether it is on: as bright for its size as a real one, of `full` lumens.

    What it lights is so many times nearer, and so gets as much. many: the key before it that says how many there are,
    of `full` lumens each.
    """

    def read(found: object, info: ValidationInfo) -> object:
        if found not in ("on", "off"):
            return found
        scale = scale_for(found, info.context) if isinstance(info.context, FileUnits) else None
        lit = full / scale**2 if found == "on" and scale else 0.0  # of a file whose scale is at fault, nothing is lit
        return f"{lit * (info.data or {}).get(many, 1)!r} lm"  # no others where it is read alone

    (plain,) = forms_in(ModelFlux)
    kind = also(read, ModelFlux, {"enum": ["on", "off", "yes", "no", True, False]})
    return Annotated[kind, replace(plain, what=ON_OR_OFF)]


Illuminance: Any = quantity(units.ILLUMINANCE, at_least=0, at_most=1e6)
Luminance: Any = quantity(units.LUMINANCE, at_least=0, at_most=1e6)
Stops: Any = quantity(units.STOPS, at_least=0, at_most=10, bare=1.0)
Share: Any = quantity(units.SHARE, at_least=0, at_most=1, bare=1.0)

#: What boxes call the colour of a lamp, and cameras the light that is to look white. Common practice, no source. [K]
_KELVIN = {
    "warm": 2700, "halogen": 3000, "tungsten": 3200, "incandescent": 3200, "neutral": 4000, "fluorescent": 4000,
    "flash": 5600, "daylight": 5600, "sunny": 5600, "cloudy": 6500, "cool": 6500, "shade": 7500,
}  # fmt: skip


def kelvin_of(word: str) -> str:
    """What to say of a colour of light that is given by a word: its kelvin, where they are known, and where they stand.

    >>> kelvin_of("Daylight")
    '; what a box or a camera calls daylight is mostly 5600 K, and a box says its kelvin too'
    """
    word = word.lower()
    called = f"what a box or a camera calls {word} is mostly {_KELVIN.get(word)} K"
    return f"; {called}, and a box says its kelvin too" if word in _KELVIN else ""


def _in_kelvin(found: object) -> object:
    """A word is refused with the kelvin that it mostly stands for."""
    text = found.strip() if isinstance(found, str) else ""
    if text.isalpha():
        auto = "; set it, to the light that is to look white: a camera that goes by the picture drifts in a shot"
        hint = auto if text.lower() in ("auto", "awb") else kelvin_of(text)
        raise QuantityError(f"{shown(found)} is not a colour temperature; write it like 5600 K{hint}")
    return found


Temperature: Any = Annotated[quantity(units.TEMPERATURE, at_least=1500, at_most=20000), BeforeValidator(_in_kelvin)]
FNumber: Any = parsed(units.f_number, float, "f-number", "f/5.6", units.F_NUMBER, lambda value: f"f/{value:g}")
FrameRate: Any = parsed(
    units.frame_rate, Fraction, "frame rate", "24 fps", rf"{units.FRAME_RATE}\s*(?:fps)?", lambda rate: f"{rate} fps"
)
Scale: Any = parsed(units.scale_of, float, "scale", "1:50", units.SCALE, lambda value: f"1:{value:g}", bare=False)


def scale_of_its_own() -> Any:
    """The key `scale` of what may be of another scale than the rest of the set."""
    return told(
        "of its own, for forced perspective: what it measures at full size, written or left out, is then at this one",
        None,
        unless="the scene's",
        like="1:87",
    )


Point2: Any = group(Length, Length, shape="[x, y]", example="[700, 330]")


def _level(found: object) -> object:
    """A place of a road or way, which has no height of its own."""
    if isinstance(found, list | tuple) and len(found) == 3:
        raise QuantityError(
            f"{shown(found)} is not [x, y]: roads and paths are level; take the third value out. A slope is filmed as "
            "a launch ramp in the picture, which a vehicle rolls down by itself: see previz keys vehicle.launch.ramp"
        )
    return found


LevelPoint: Any = Annotated[Point2, BeforeValidator(_level)]
Point3: Any = group(Length, Length, Length, shape="[x, y, z]", example="[700, 330, 45]")


def _place(found: object) -> object:
    if not isinstance(found, list | tuple) or len(found) not in (2, 3):
        raise QuantityError(f"{shown(found)} is not a place; write [x, y] on the table, or [x, y, z]")
    return [*found, "0 mm"] if len(found) == 2 else found


#: A point; `[x, y]` means z = 0, on the table.
Place: Any = short(
    _place, Point3, Point2, form=Form("[x, y] or [x, y, z]", "[700, 330]", units=_units(LENGTH, plain=True))
)

Seed: Any = whole(0, 2**32 - 1)


def _paint(found: object) -> tuple[float, ...]:
    if isinstance(found, tuple):  # from Python, linear already; a file only has lists
        return found
    text = found.strip() if isinstance(found, str) else ""
    code = NAMED_COLOURS.get(text.lower()) or text.removeprefix("#") * text.startswith("#")
    if not re.fullmatch(r"[0-9a-fA-F]{6}", code):
        unquoted = " (without quotes, # begins a comment)" if found is None else ""
        # A name begins well even where it goes wrong, and `meant_by` looks at so many only.
        near = [name for name in NAMED_COLOURS if name[0] == text[:1].lower()]
        meant = listed(called(text, "a colour") or filter(None, [meant_by(plainly(text).replace(" ", ""), near)]))
        hint = f"did you mean {meant}? W" if meant else "w"
        raise QuantityError(
            f'{shown(found)} is not a colour{unquoted}; {hint}rite it like "#8b8a86" (red, green, blue in hex), or as '
            "a name of CSS, like darkred"
        )
    return tuple(float(srgb_linear(int(code[i : i + 2], 16) / 255)) for i in (0, 2, 4))


def _hex(colour: Iterable[float]) -> str:
    """The nearest code for a linear colour, as it stands in a file.

    >>> _hex((1.0, 0.2581829, 0.0))
    '"#ff8b00"'
    """
    return '"#{:02x}{:02x}{:02x}"'.format(*(round(float(srgb_encoded(part)) * 255) for part in colour))


_COLOURS = (
    (
        "colour",
        "red, green and blue in hex, or a name of CSS, like wheat; its brown is as red as brick, for wood or earth "
        "write saddlebrown (a building of wood has walls: boards too)",
    ),
)

#: The colour of a surface or a gel, `"#8b8a86"` (sRGB) or a name of CSS in the file, linear Rec. 709 0..1 in the
#: program.
Paint: Any = Annotated[
    tuple[float, float, float],
    BeforeValidator(_paint),
    WithJsonSchema({NAMED: "colour", "type": "string", "pattern": r"^\s*(#[0-9a-fA-F]{6}|[a-zA-Z]+)\s*$"}),
    Form("colour", '"#8b8a86"', units=_COLOURS, write=_hex),
]


class LightColour(Part):
    """The colour of a light: `5600 K`, `"#ff9944"`, a name of CSS, or these keys for a gel on a warm or cool lamp."""

    kelvin: Temperature = told("its colour temperature", 5600.0)
    gel: Paint | None = told("the gel before it", None, unless="none")

    @field_validator("gel")
    @classmethod
    def _lets_light_through(cls, gel: Any, info: ValidationInfo) -> Any:
        kelvin = info.data.get("kelvin")
        if (
            gel is not None
            and kelvin is not None
            and not any(part * through > 0 for part, through in zip(white_rgb(kelvin), gel, strict=True))
        ):
            raise ValueError("no light of this lamp gets through such a gel; give it another colour")
        return gel


def _light_colour(found: object) -> object:
    text = found.strip() if isinstance(found, str) else ""
    if text.startswith("#") or text.lower() in NAMED_COLOURS:
        return {"gel": found}
    if text.isalpha():
        raise QuantityError(
            f'{shown(found)} is not the colour of a light; write 5600 K, "#ff9944", or a name of CSS, like orange'
            f"{kelvin_of(text)}"
        )
    return {"kelvin": found} if isinstance(found, str | int | float) else found


def _light_text(light: LightColour) -> str:
    return units.text_of(units.TEMPERATURE, light.kelvin)


#: `5600 K`, `"#ff9944"`, `orange` or `{kelvin: 3200 K, gel: "#ff9944"}`.
_KELVIN_OR_COLOUR = Form("kelvin or colour", "5600 K", units=_units(units.TEMPERATURE, plain=False), write=_light_text)
Light: Any = short(_light_colour, LightColour, Temperature, Paint, form=_KELVIN_OR_COLOUR)


class Output(Part):
    """How much light a lamp gives: `1200 lm` in all, or as measured on its axis, `1500 lx at 1 m`, or these keys."""

    flux: Flux | None = told("all its light", None, unless="give this or axis_illuminance", like="1200 lm")
    axis_illuminance: Illuminance | None = told(
        "measured on its axis", None, unless="give this or flux", like="1500 lx"
    )
    axis_distance: PositiveLength | None = told(
        "from the lamp to where that was measured", None, unless="goes with axis_illuminance", like="1 m"
    )

    exactly_one = ((("flux", "axis_illuminance"), "like 1200 lm, or 1500 lx at 1 m"),)

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """Illuminance with its distance."""
        if ("axis_illuminance" in given) != ("axis_distance" in given) and "flux" not in given:
            yield "an illuminance needs the distance it was measured at, like 1500 lx at 1 m"

    def told(self, tape: units.Tape) -> str:
        """As a file of who measures with that tape has it."""
        if self.flux is not None:
            return units.text_of(units.FLUX, self.flux)
        assert self.axis_illuminance is not None and self.axis_distance is not None  # one of the two
        return f"{units.text_of(units.ILLUMINANCE, self.axis_illuminance)} at {tape.far(self.axis_distance)}"


def _output(found: object) -> object:
    if isinstance(found, str) and " at " in found:
        level, distance = found.split(" at ", 1)
        return {"axis_illuminance": level, "axis_distance": distance}
    if isinstance(found, str) and units.unit_of(units.ILLUMINANCE, found):
        raise QuantityError(f"{shown(found)} needs the distance it was measured at, like {shown(found)} at 1 m")
    return {"flux": found} if isinstance(found, str | int | float) else found


_AT_A_DISTANCE = Annotated[str, WithJsonSchema({"type": "string", "pattern": " at "})]
_LIGHT_UNITS = _units(units.FLUX, plain=False) + _units(units.ILLUMINANCE, plain=False)
LampOutput: Any = short(
    _output, Output, Flux, _AT_A_DISTANCE, form=Form("lm, or lx at m", "1200 lm", units=_LIGHT_UNITS)
)


def _identity(found: object) -> str:
    if not isinstance(found, str) or not re.fullmatch(r"[A-Za-z][A-Za-z0-9_-]{0,39}", found):
        raise QuantityError(
            f"{shown(found)} is not a name; use up to 40 letters, digits, _ and -, beginning with a letter"
        )
    return found


#: The name of one thing in the file, by which others refer to it.
Identity: Any = Annotated[
    str,
    BeforeValidator(_identity),
    WithJsonSchema({"type": "string", "pattern": "^[A-Za-z][A-Za-z0-9_-]{0,39}$"}),
    Form("name", "stack_a"),
]


def by_name(kind: Any, what: str, example: str) -> Any:
    """One or more of a kind, each under a name of its own."""

    def named(found: object) -> object:
        if not isinstance(found, Mapping) or not found:
            raise QuantityError(f"{shown(found)} is not a group of {what} by name; write it like {example}")
        return found

    return Annotated[dict[Identity, kind], BeforeValidator(named), Form(f"{what} by name", example)]


#: A picture or mesh beside the scene file.
FileName: Any = text(200, "a file name", "quay.jpg")

#: A node of a glTF file, by the name that it has there.
NodeName: Any = text(200, "the name of a node", "body")


def _not_wet(found: object) -> object:
    """What it is made of; how wet it is stands beside it."""
    first, _, rest = plainly(found).partition(" ")
    if isinstance(found, str) and first in WEATHER and rest:
        dry = (called(rest, "a surface") or (rest,))[0]
        raise QuantityError(
            f"{shown(found)} is not a surface; write surface: {dry}, and wet: true of the ground (set.ground.wet), "
            "which holds for the road too; water that stands on it is puddles: {count: 8}"
        )
    return found


Surface: Any = Annotated[
    word(
        "concrete",
        "asphalt",
        "cobbles",
        "gravel",
        "snow",
        "grass",
        "sand",
        "earth",
        "mud",
        "wood",
        "plain",
        what="a surface",
    ),
    BeforeValidator(_not_wet),
]
