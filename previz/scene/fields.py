"""The kinds of value a scene file holds, each read from text into SI with its allowed range.

A field type such as `Length` is a float for the rest of the program; the validator attached to it knows the
file's bare-length unit and scale through pydantic's validation context (`FileUnits`).
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, WithJsonSchema

from previz import units
from previz.units import Dimension, QuantityError, shown


@dataclass(frozen=True)
class FileUnits:
    """What the top of the file settles: the factor of a bare length (or None) and S of 1:S."""

    bare_length: float | None
    scale: float | None


class Part(BaseModel):
    """A group of keys in a scene file: frozen, and every key must be known."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


def quantity(
    dimension: Dimension,
    *,
    above: float | None = None,
    at_least: float | None = None,
    at_most: float | None = None,
    bare: float | None = None,
) -> Any:
    """A float field read from text; the bounds are SI, `above` is excluded, the others included."""

    def read(found: object, info: ValidationInfo) -> float:
        file = info.context if isinstance(info.context, FileUnits) else FileUnits(None, None)
        length = dimension is units.LENGTH
        value = units.parse(
            dimension, found, bare=file.bare_length if length else bare, scale=file.scale if length else None
        )
        if (
            (above is not None and not value > above)
            or (at_least is not None and value < at_least)
            or (at_most is not None and value > at_most)
        ):
            low, high = (above if above is not None else at_least), at_most
            interval = (
                f"{'(' if above is not None or low is None else '['}"
                f"{'-inf' if low is None else units.text_of(dimension, low)}, "
                f"{'inf)' if high is None else units.text_of(dimension, high) + ']'}"
            )
            raise QuantityError(f"{shown(found)} is not in {interval}")
        return value

    schema = {
        "anyOf": [{"type": "string"}, {"type": "number"}],
        "description": f"{dimension.name}, like {dimension.example}",
    }
    return Annotated[float, BeforeValidator(read), WithJsonSchema(schema)]


def parsed(reader: Any, kind: Any, example: str) -> Any:
    """A field read by a function of the found value alone (`f/5.6`, `24 fps`)."""
    schema = {"anyOf": [{"type": "string"}, {"type": "number"}], "description": f"like {example}"}
    return Annotated[kind, BeforeValidator(reader), WithJsonSchema(schema)]


# Nothing on a table-top set is longer than a hall or further away than one: a slip of a unit shows here.
_HALL = 100.0

Length: Any = quantity(units.LENGTH, at_least=-_HALL, at_most=_HALL)
PositiveLength: Any = quantity(units.LENGTH, above=0, at_most=_HALL)
NonNegativeLength: Any = quantity(units.LENGTH, at_least=0, at_most=_HALL)
Time: Any = quantity(units.TIME, at_least=-3600, at_most=3600)
PositiveTime: Any = quantity(units.TIME, above=0, at_most=3600)
Angle: Any = quantity(units.ANGLE)
Speed: Any = quantity(units.SPEED, above=0, at_most=50)
Flux: Any = quantity(units.FLUX, at_least=0, at_most=1e6)
Illuminance: Any = quantity(units.ILLUMINANCE, at_least=0, at_most=1e6)
Luminance: Any = quantity(units.LUMINANCE, at_least=0, at_most=1e6)
Stops: Any = quantity(units.STOPS, at_least=0, at_most=10, bare=1.0)
Share: Any = quantity(units.SHARE, at_least=0, at_most=1, bare=1.0)
Temperature: Any = quantity(units.TEMPERATURE, at_least=1500, at_most=20000)
FNumber: Any = parsed(units.f_number, float, "f/5.6")
FrameRate: Any = parsed(units.frame_rate, Fraction, "24 fps")
Scale: Any = parsed(units.scale_of, float, "1:50")

Point2 = tuple[Length, Length]
Point3 = tuple[Length, Length, Length]


def _place(found: object) -> object:
    """On the table, `[x, y]` means z = 0."""
    return [*found, "0 mm"] if isinstance(found, list | tuple) and len(found) == 2 else found


Place: Any = Annotated[Point3, BeforeValidator(_place)]

Seed: Any = Annotated[int, Field(ge=0, lt=2**32)]


def _srgb_to_linear(code: float) -> float:
    """IEC 61966-2-1 decoding, code 0..1."""
    return code / 12.92 if code <= 0.04045 else ((code + 0.055) / 1.055) ** 2.4


def _paint(found: object) -> tuple[float, ...]:
    match = re.fullmatch(r"#([0-9a-fA-F]{6})", found.strip()) if isinstance(found, str) else None
    if not match:
        raise QuantityError(f'{shown(found)} is not a colour; write it like "#8b8a86" (in quotes, red green blue)')
    return tuple(_srgb_to_linear(int(match[1][i : i + 2], 16) / 255) for i in (0, 2, 4))


#: The colour of a surface or a gel, `"#8b8a86"` (sRGB) in the file, linear Rec. 709 0..1 in the program.
Paint: Any = Annotated[
    tuple[float, float, float],
    BeforeValidator(_paint),
    WithJsonSchema({"type": "string", "pattern": "^#[0-9a-fA-F]{6}$"}),
]


class LightColour(Part):
    """The colour of a light: a colour temperature [K], a gel `#rrggbb` over it, or both."""

    kelvin: Temperature = 5600.0
    gel: Paint | None = None


def _light_colour(found: object) -> object:
    if isinstance(found, str) and found.strip().startswith("#"):
        return {"gel": found}
    return {"kelvin": found} if isinstance(found, str | int | float) else found


#: `5600 K`, `"#ff9944"` or `{kelvin: 3200 K, gel: "#ff9944"}`.
Light: Any = Annotated[LightColour, BeforeValidator(_light_colour)]


class Output(Part):
    """How much light a lamp gives: `1200 lm` in all, or as measured on its axis, `1500 lx at 1 m`."""

    flux: Flux | None = None
    axis_illuminance: Illuminance | None = None
    axis_distance: PositiveLength | None = None


def _output(found: object) -> object:
    if isinstance(found, str) and " at " in found:
        level, distance = found.split(" at ", 1)
        return {"axis_illuminance": level, "axis_distance": distance}
    return {"flux": found} if isinstance(found, str | int | float) else found


LampOutput: Any = Annotated[Output, BeforeValidator(_output)]

Identity: Any = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_-]{0,39}$")]
Surface = Literal["concrete", "asphalt", "cobbles", "snow", "grass", "sand", "earth", "wood", "plain"]
