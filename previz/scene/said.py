"""Values of a scene in words for who builds it: lengths as the maker's tape has them, all else as a file says it."""

from collections.abc import Callable, Collection, Iterator
from typing import Any

from pydantic.fields import FieldInfo

from previz.scene.colours import NAMED_COLOURS
from previz.scene.fields import UNLESS_GIVEN, Form, LightColour, Output, Part, form_of
from previz.scene.stage_set import Backdrop, Join
from previz.units import FLUX, ILLUMINANCE, Tape, speed_on_tape, text_of, together

#: What is said behind a size in the place of its key before it.
_SIDES = {"width": "wide", "height": "high", "length": "long", "depth": "deep", "thickness": "thick"}

#: A yes or no that has better words: when it holds, and when not.
_FLAGS = {
    "reverse": ("from the other end", "from its first end"),
    "edges": ("with a line along each edge", "without lines along its edges"),
    "practical": ("meant to be in the picture", "to be kept out of the picture"),
    "fixed": ("fixed where it is", "free to be moved"),
    "tracks": ("with tyre tracks", "without tyre tracks"),
    "mains": ("fed from the mains", "not fed from the mains"),
}


def said_otherwise(was: Part | None, now: Part, tape: Callable[[float], str], leave: Collection[str] = ()) -> list[str]:
    """What of a part is otherwise than it was, each with its value.

    Parameters
    ----------
    was : Part or None
        Of the same kind; None where there was nothing, and all that is no default is said.
    now : Part
    tape : callable
        Writes a length [m] with its unit.
    leave : collection of str
        Keys that are said elsewhere.

    >>> from previz.scene.stage_set import Backdrop
    >>> sheet = Backdrop(distance="70 cm", height="40 cm", colour="grey")
    >>> wide = Backdrop(distance="70 cm", height="40 cm", width="144.3 cm", join="cove 8 cm", colour="darkred")
    >>> said_otherwise(sheet, wide, lambda length: f"{length * 100:.1f} cm")
    ['144.3 cm wide', 'join cove 8.0 cm', 'colour #8b0000 (darkred)']
    """
    said = []
    turned = isinstance(was, Backdrop) and isinstance(now, Backdrop) and was.side != now.side
    for key, field in type(now).model_fields.items():
        before = getattr(was, key) if was is not None else field.get_default()
        value = getattr(now, key)
        same = before == value and not (turned and key == "distance")  # as far from another edge is elsewhere
        if key in leave or key == "id" or same or _told_by_another(type(now), key, field, value):
            continue
        if isinstance(value, Part) and not isinstance(value, Join | LightColour | Output):
            before = before if isinstance(before, type(value)) else None
            said.append(f"{_words(key)} {', '.join(said_otherwise(before, value, tape)) or 'as it comes'}")
        else:
            said.append(said_value(now, key, tape))
    return said


def said_value(part: Part, key: str, tape: Callable[[float], str]) -> str:
    """One value of a part with what it is: `144.3 cm wide`, `1500 lm`, `a van`.

    >>> from previz.scene.lights import Bulb
    >>> from previz.scene.vehicle import Vehicle
    >>> van = Vehicle(body="van", speed="0.5 m/s", reverse=True)
    >>> [said_value(van, key, lambda length: f"{length * 1000:g} mm") for key in ("body", "speed", "reverse", "length")]
    ['a van', '0.5 m/s', 'from the other end', 'length from body and scale']
    >>> said_value(Bulb(id="sun", bulb="60 mm", at=("0 m", "0 m", "1 m"), output="20 klm"), "output", str)
    '20000 lm'
    """
    value, field = getattr(part, key), type(part).model_fields[key]
    if value is None:
        return f"{_words(key)} {_unless(field) or 'none'}"
    if isinstance(value, bool) and key in _FLAGS:
        return _FLAGS[key][not value]
    text = _text(value, form_of(field), tape) if key != "speed" else speed_on_tape(value, _unit(tape))
    if key in ("output", "speed", "ambient") or (key == "colour" and isinstance(value, LightColour)):
        return text if key != "speed" or value else "standing"
    if key == "distance":
        return f"{text} from the table's {part.opposite} edge" if isinstance(part, Backdrop) else f"{text} in front"
    if key == "side":
        return f"along the {text} side"
    if key == "body":
        return f"a{'n' * (text[0] in 'aeiou')} {text}"
    if key in _SIDES and isinstance(value, float):
        return f"{text} {_SIDES[key]}"
    return f"{_words(key)} {text}"


def _words(key: str) -> str:
    return {"centre": "along its middle", "spot": "beam", "kelvin": "of"}.get(key, key.replace("_", " "))


def _unless(field: FieldInfo) -> str:
    extra = field.json_schema_extra
    return str(extra.get(UNLESS_GIVEN, "")) if isinstance(extra, dict) else ""


def _told_by_another(kind: type[Part], key: str, field: FieldInfo, value: Any) -> bool:
    """Whether a key that is not given says nothing: another is given in its stead, or it goes with one that is not."""
    either = any(key in keys for keys, _ in kind.exactly_one)
    return value is None and (either or _unless(field).startswith(("give this", "goes with")))


def _text(value: Any, form: Form | None, tape: Callable[[float], str]) -> str:
    words = form.words if form is not None else ""
    if isinstance(value, Join):
        return f"cove {tape(value.cove)}" if value.cove else "straight"
    if isinstance(value, LightColour):
        return f"{value.kelvin:.0f} K" + (f" with a gel {_colour(value.gel)}" if value.gel is not None else "")
    if isinstance(value, Output):
        if value.flux is not None:
            return text_of(FLUX, value.flux)
        assert value.axis_illuminance is not None and value.axis_distance is not None  # Output: one of the two
        return f"{text_of(ILLUMINANCE, value.axis_illuminance)} at {Tape(_unit(tape)).far(value.axis_distance)}"
    if isinstance(value, Part):
        return " ".join(_given(value, tape))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if words == "colour":
        return _colour(value)
    if isinstance(value, tuple):
        return _list(value, words, tape)
    if words == "length" or form is None:
        return tape(value) if isinstance(value, float) else str(value)
    if words == "angle":
        return form.write(value).replace(" deg", "°")
    if words == "stops":
        return f"{value:g} stop{'s' * (value != 1)}"
    return form.write(value).replace("_", " ") if words == "word" else form.write(value)


def _list(values: tuple[Any, ...], words: str, tape: Callable[[float], str]) -> str:
    """Points, sizes, colours or groups, one after the other."""
    if words == "list of colours":
        return ", ".join(_colour(each) for each in values)
    if all(isinstance(each, float) for each in values):
        between = " × " if "width" in words else " to " if "smallest" in words else ", "
        return together([tape(each) for each in values], between)
    return "; ".join(_text(each, None, tape) for each in values) or "none"


def _unit(tape: Callable[[float], str]) -> str:
    """What a tape is marked in."""
    return tape(0.0).rpartition(" ")[2]


def _colour(colour: Any) -> str:
    """Its code, and the name that a file may have for it."""
    form = form_of(LightColour.model_fields["gel"])
    assert form is not None  # a colour has one
    code = form.write(colour).strip('"')
    name = next((name for name, known in NAMED_COLOURS.items() if known == code.removeprefix("#")), None)
    return code if name is None else f"{code} ({name})"


def _given(part: Part, tape: Callable[[float], str]) -> Iterator[str]:
    """Values of a group in a list of such, in few words: those that it must have."""
    for key, field in type(part).model_fields.items():
        if field.is_required():
            yield _text(getattr(part, key), form_of(field), tape)
