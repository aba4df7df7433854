"""What a shot changes on the common set while it is filmed: what is moved, taken away, added, lit or run otherwise.

A shot says only what differs. Each key takes what the same thing takes on the common set, so the groups of keys here
are made of those that describe it there, with every key left out meaning that it stays as it is.
"""

import re
from collections.abc import Iterator
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import WithJsonSchema, create_model
from pydantic.fields import FieldInfo

from previz import units
from previz.scene.fields import (
    ON_OR_OFF,
    Flag,
    Form,
    Identity,
    Part,
    by_kind,
    by_name,
    form_of,
    meant_by,
    series,
    short,
    told,
    word,
    word_or,
)
from previz.scene.lights import LAMPS, Ambient, Bulb, Panel, Spot, light_kind
from previz.scene.pieces import KINDS, PIECES, Card, Container, Scatter, Standing, dressing_kind
from previz.scene.stage_set import Backdrop, Ground
from previz.scene.vehicle import Vehicle
from previz.units import QuantityError, shown

STAYS = "as on the common set"

#: Ways to run otherwise than on the common set.
OTHER_END, MIRRORED = "from the other end", "mirrored"

#: The keys of a shot that change the set.
REDRESSING = ("moved", "without", "added", "lights", "backdrop", "ground", "vehicle", "vehicles", "subject", "run")


def _otherwise(part: type[Part], name: str, doc: str, base: type[Part] = Part) -> Any:
    """The keys of a part, none of which must be given; so those of the groups in it. base: has the rules about them."""
    fields = {key: _left(field, name) for key, field in part.model_fields.items()}
    return create_model(name, __base__=base, __doc__=doc, __module__=__name__, **fields)


def _left(field: FieldInfo, name: str, says: str | None = None) -> Any:
    """A field that may be left out: (its kind or None, what is told of it)."""
    kind: Any = field.annotation
    inner = [each for each in (get_args(kind) if _either(kind) else (kind,)) if each is not type(None)]
    if len(inner) == 1 and isinstance(inner[0], type) and issubclass(inner[0], Part) and not field.metadata:
        part = inner[0]
        kind = _otherwise(part, f"{part.__name__}Of{name}", f"{_first_sentence(part)} In a shot, what of it differs.")
    elif field.metadata:
        kind = Annotated[(kind, *field.metadata)]
    form = form_of(field)
    like = str(field.examples[0]) if field.examples else form.example if form else None
    return (kind | None, told(says or str(field.description), None, unless=STAYS, like=like))


def _either(kind: Any) -> bool:
    return get_origin(kind) in (Union, UnionType)


def _first_sentence(part: type[Part]) -> str:
    doc = " ".join((part.__doc__ or "").split())
    end = doc.find(". ") + 1
    return doc[:end] if end else doc


#: Of keys that several kinds of pieces have, in words for all of them.
_SAYS = {
    "colour": "of a piece's paint or a lamp's light",
    "snow": "share of its upper side under snow",
    "glow": "of a lit sign or lit windows",
    "light": "of a lamp post's or of lit windows",
    "panel": "a panel's lit area",
    "size": "of a spot's source, across",
}


def _gathered(name: str, doc: str, *sources: tuple[type[Part], tuple[str, ...]], **more: Any) -> Any:
    """Keys out of several parts, none of which must be given."""
    fields = {key: _left(part.model_fields[key], name, _SAYS.get(key)) for part, keys in sources for key in keys}
    return create_model(name, __base__=Part, __doc__=doc, __module__=__name__, **{**fields, **more})


_LIT = Annotated[
    Any,
    WithJsonSchema({"type": ["string", "number", "boolean"]}),
    Form("lm of a post, a share of windows", "0 lm", what=ON_OR_OFF),
]

Moved: Any = _gathered(
    "Moved",
    """What stands otherwise in this shot: its place alone, `[300, 500]`, or any of these keys.

    Each means what it means for the piece or lamp itself; what is not given stays.
    """,
    (Standing, ("at", "turn", "copies", "step", "along", "every", "offset", "first", "seed")),
    (Panel, ("aim",)),
    (Container, ("colour", "stack")),
    (PIECES["building"], ("snow", "glow", "light")),
    (Card, ("image",)),
    (PIECES["bounce"], ("tilt", "held")),
    (Scatter, ("over", "count")),
    lit=(_LIT | None, told("its light, or how many of its windows", None, unless=STAYS)),
)


def moved_keys(found: Any) -> Any:
    """What is written of a thing that is moved, as its keys: a list is its place."""
    return {"at": found} if isinstance(found, list | tuple) else found


def _moved(found: object) -> object:
    if isinstance(found, list | tuple | dict | Part):
        return moved_keys(found)
    raise QuantityError(f"{shown(found)} is not where it stands; write its place, [300, 500], or {{turn: 20 deg}}")


AnyMoved: Any = short(_moved, Moved, Annotated[list[Any], WithJsonSchema({"type": "array"})],
                      form=Form("place or keys", "[300, 500]"))  # fmt: skip

LampOtherwise: Any = _gathered(
    "LampOtherwise",
    """How a lamp is in this shot: `off`, its light alone, `600 lm` or `20 lx` of the room, or any of these keys.

    Each means what it means for the lamp itself; what is not given stays.
    """,
    (Panel, ("at", "aim", "output", "colour", "diffusion", "mains", "held", "practical", "panel")),
    (Spot, ("spot", "size", "diffuser")),
    (Bulb, ("bulb",)),
    (Ambient, ("ambient",)),
    off=(Flag, told("it is switched off", False, like="true")),
)


def lamp_keys(found: Any) -> Any:
    """What is written of a lamp, as its keys: `off`, or its light alone."""
    if found == "off":
        return {"off": True}
    if isinstance(found, str):
        room = units.unit_of(units.ILLUMINANCE, found) and " at " not in found
        return {"ambient" if room else "output": found}
    return found


def _lamp(found: object) -> object:
    if isinstance(found, str) and re.search(r"[0-9]\s*(?:%|percent)", found):
        raise QuantityError(
            f"{shown(found)} is not the light of a lamp, for its dial may mean anything by it; write the light that it "
            "then gives, like 600 lm, or by how many stops it is less than at full: {diffusion: 1 stop} is half"
        )
    if isinstance(found, dict | Part) or (isinstance(found, str) and _says_its_light(found)):
        return lamp_keys(found)
    raise QuantityError(
        f"{shown(found)} is not a lamp otherwise; write off, its light like 600 lm (of a room 20 lx), or in keys what "
        "differs: {diffusion: 1 stop} is half its light, {colour: 3200 K}, {aim: [700, 300, 0]}; the keys are "
        f"{', '.join(LampOtherwise.model_fields)}. A lamp that stays as on the common set is left out"
    )


def _says_its_light(text: str) -> bool:
    """Whether a lamp's light may be meant: off, or a number that has no unit of anything else."""
    return text == "off" or (
        any(sign.isdigit() for sign in text)
        and units.unit_written(text) not in (*units.STOPS.factors, *units.TEMPERATURE.factors)
    )


AnyLamp: Any = short(
    _lamp, LampOtherwise, Annotated[str, WithJsonSchema({"type": "string"})], form=Form("off, light or keys", "600 lm")
)


_ADDED: dict[str, Any] = {**KINDS, **LAMPS}


def added_kind(found: Any) -> str:
    """Which of the kinds of pieces and lamps an entry of `added` is. Raises QuantityError."""
    if isinstance(found, Part):
        return light_kind(found) if isinstance(found, Panel | Spot | Bulb | Ambient) else dressing_kind(found)
    if isinstance(found, dict) and any(key in found for key in LAMPS):
        return light_kind(found)
    if isinstance(found, dict) and not any(key in found for key in ("piece", "scatter", "mesh")):
        slip = next((meant_by(key, ["piece", "scatter", "mesh", *LAMPS]) for key in found if key != "id"), None)
        hint = f"; did you mean {slip}?" if slip else ""
        raise QuantityError(f"needs piece:, scatter: or mesh:, or panel:, spot:, bulb: or ambient: of a lamp{hint}")
    return dressing_kind(found)


Things: Any = by_name(AnyMoved, "pieces and lamps", "{stack: [300, 500]}")
Lamps: Any = by_name(AnyLamp, "lamps", "{key: 600 lm}")
Names: Any = series(Identity, at_least=1, what="names", example="[stack]")
Additions: Any = series(
    by_kind(added_kind, _ADDED), at_least=1, what="pieces and lamps",
    example="[{id: bin, piece: cone, at: [300 mm, 500 mm]}]",
)  # fmt: skip


class _Turned(Part):
    """The rule of a backdrop that is turned."""

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """From another side it is measured from another edge."""
        if "side" in given and "distance" not in given:
            yield "side needs distance: it is measured from the edge of the table opposite that side; give both"


BackdropOtherwise: Any = _otherwise(
    Backdrop, "BackdropOtherwise",
    "How the backdrop is in this shot: what of it differs. What is seen on it takes the place of what was.", _Turned,
)  # fmt: skip
GroundOtherwise: Any = _otherwise(Ground, "GroundOtherwise", "How the ground is in this shot: what of it differs.")
VehicleOtherwise: Any = _otherwise(
    Vehicle, "VehicleOtherwise",
    "What drives in this shot, and how: what of it differs. A speed takes a launch's place, a body a mesh's.",
)  # fmt: skip
Others: Any = by_name(VehicleOtherwise, "vehicles", "{oncoming: {speed: 0.8 m/s}}")
AnyBackdrop: Any = word_or(
    "none", BackdropOtherwise, "keys", "keys like {distance: 650 mm}", example="{distance: 650 mm}"
)
Run: Any = word(OTHER_END, MIRRORED, what="a way to run")
