"""A camera with its lens as its owner knows it from the data sheet."""

import math
import re
from collections.abc import Mapping
from contextlib import suppress
from fractions import Fraction
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import (
    ConfigDict,
    TypeAdapter,
    ValidationError,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    WithJsonSchema,
    WrapValidator,
    field_validator,
)

from previz import units
from previz.physics.optics import crop_factor, sensor_sides
from previz.physics.pacing import EVERYDAY, rates_beside
from previz.scene.fields import (
    CameraLength,
    FileUnits,
    FNumber,
    Form,
    FrameRate,
    Part,
    Stops,
    also,
    choose_from,
    group,
    number,
    off_a_lens,
    parsed,
    quantity,
    series,
    short,
    told,
    whole,
    word_or,
)
from previz.scene.on_the_lens import ends_of, length_and_stops
from previz.units import F_NUMBER, LENGTH, TIME, QuantityError, f_number, shown, text_of

#: Sensor formats by their generic names: width, height [m]. 135: AS ISO 20954.1:2019 3.5 (seen as quoted); the
#: others as commonly tabulated (from memory). Phone types are not standardised; these are typical (from memory).
SENSOR_FORMATS: dict[str, tuple[float, float]] = {
    "44x33": (0.0438, 0.0329),
    "full frame": (0.0360, 0.0240),
    "Super 35": (0.0249, 0.0187),
    "APS-C": (0.0236, 0.0156),
    "APS-C small": (0.0223, 0.0149),
    "4/3-type": (0.0173, 0.0130),
    "1-inch": (0.0132, 0.0088),
    "1/1.3-type": (0.0098, 0.0073),
    "2/3-type": (0.0088, 0.0066),
    "1/1.56-type": (0.0082, 0.0062),
    "1/1.7-type": (0.0076, 0.0057),
    "1/2.3-type": (0.00617, 0.00455),
    "1/2.55-type": (0.0056, 0.0042),
}

#: The same by what else they are called in the trade. Four thirds of an inch is the type of the four thirds image area,
#: 17.3 x 13.0 mm (from memory), which micro four thirds keeps with another mount.
_ALSO_CALLED = {
    "micro four thirds": "4/3-type",
    "four thirds": "4/3-type",
    "MFT": "4/3-type",
    "M43": "4/3-type",
    "S35": "Super 35",
    "FF": "full frame",
}


Pixels: Any = whole(16, 16384)
Crop: Any = number(at_least=1, at_most=20, example="1.3")
Blades: Any = word_or("round", whole(5, 20), "count", "their number, from 5 to 20", example="7", allowed="5 to 20")
GlareShare: Any = word_or(
    "none", number(at_least=0, at_most=20, example="2"), "percent", "a number of percent, from 0 to 20",
    example="2", allowed="0 to 20",
)  # fmt: skip
PupilMagnification: Any = number(at_least=0.1, at_most=10, example="1.0")
BodySize: Any = group(
    CameraLength, CameraLength, CameraLength, shape="[width, height, depth]", example="[125 mm, 85 mm, 50 mm]"
)
IsoRange: Any = group(whole(12, 409600), whole(12, 409600), shape="[lowest, highest]", example="[100, 6400]")
ReadOut: Any = quantity(TIME, at_least=0.0, at_most=1.0)
LensSize: Any = group(CameraLength, CameraLength, shape="[diameter, length]", example="[70 mm, 84 mm]")


# A type is named 1/1.3-inch, 1/1.3" or 1/1.3 inch as well, though nothing on it measures that; of a fraction the
# unit may be left out.
_UNIT = r"[ -]?(?:type|inch(?:es)?|in|[\"″”]|'')"
_TYPE = re.compile(
    rf"(?P<over>[0-9]{{1,2}})(?:/(?P<under>[0-9]{{1,2}}(?:\.[0-9]{{1,3}})?)(?:{_UNIT})?|{_UNIT})", re.IGNORECASE
)


class TradeSize(tuple[float, float]):
    """Width and height of a sensor [m] as they follow from the size that it is sold by, which is no measure of it."""

    __slots__ = ()


#: What to do where a camera's box does not say a key, as a phone's does not. What is mostly so: common practice, no
#: source.
_ITS_BOX_DOES_NOT_SAY = {
    "sensor": "look it up by the model's name: of a phone's main camera it mostly is 1/1.3 to 1/1.7 (common practice, "
    "no source); if you can't find it, write sensor: 1/1.56, and take what is told of blur and noise as rough",
    "nearest": "measure how near it focuses, from the glass of the lens: a phone's main camera mostly to 10 cm (common "
    "practice, no source), like nearest: 10 cm",
}

_NEAREST_OF_A_LENS = (
    "how near it focuses stands in the data sheet of the lens, mostly from the sensor: measure from there to the "
    "middle of the lens, take that off, and write it like nearest: 50 mm"
)


def _sensor(found: object, info: ValidationInfo) -> object:
    if not isinstance(found, str):
        return off_a_lens(found, info)
    typed = _type_number(found)
    by_name = {_plain(name): SENSOR_FORMATS[_ALSO_CALLED.get(name, name)] for name in (*SENSOR_FORMATS, *_ALSO_CALLED)}
    by_type = {_type_number(name): size for name, size in SENSOR_FORMATS.items()}
    size = by_type.get(typed) if typed is not None else by_name.get(_plain(found))
    if size is not None:
        return tuple(f"{side * 1000:.6g} mm" for side in size)
    if typed is None:
        if _plain(found) in ("phone", "smartphone", "mobile"):
            raise QuantityError(f"{shown(found)} is not a sensor format; {_ITS_BOX_DOES_NOT_SAY['sensor']}")
        raise QuantityError(
            choose_from(found, (*SENSOR_FORMATS, *_ALSO_CALLED), "a sensor format")
            + ", a size as sold, like 1/1.28, or [width, height]"
        )
    smallest, largest = _SOLD
    if not smallest <= typed <= largest:
        raise QuantityError(
            f"{shown(found)} is not a size that sensors are sold by, which are 1/{1 / smallest:.0f} to 4/3; write "
            "[width, height] from the data sheet"
        )
    return [f"{side * 1000:.6g} mm" for side in sensor_sides(typed)]


def _plain(name: str) -> str:
    """A format's name however it is spaced, hyphened and capitalised.

    >>> _plain("Full-Frame ") == _plain("full frame")
    True
    """
    return re.sub(r"[\s_-]+", "", name).lower()


def _however_written(name: str) -> str:
    """The pattern of such a name, for editors."""
    letters = (f"[{each.lower()}{each.upper()}]" if each.isalpha() else re.escape(each) for each in _plain(name))
    return "[ _-]*".join(letters)


#: Trade sizes of sensors, from the smallest to the largest that a rule for them holds for. Common practice, no source.
_SOLD = (0.1, 1.34)


def _marked(found: object, handler: ValidatorFunctionWrapHandler) -> object:
    """The sides, marked where they follow from a trade size that no table has."""
    sides = handler(found)
    sold = _type_number(found) if isinstance(found, str) else None
    follows = sold is not None and all(sold != _type_number(name) for name in SENSOR_FORMATS)
    return TradeSize(sides) if follows or isinstance(found, TradeSize) else sides


def _type_number(name: str) -> float | None:
    """The number a sensor's type goes by, `1/1.3`; None of what is no type.

    >>> _type_number("4/3-type"), _type_number('1/2"'), _type_number("APS-C")
    (1.3333333333333333, 0.5, None)
    """
    match = _TYPE.fullmatch(name.strip())
    if not match or float(match["over"]) == 0 or float(match["under"] or 1) == 0:
        return None
    return float(match["over"]) / float(match["under"] or 1)


_SensorSize: Any = group(CameraLength, CameraLength, shape="[width, height]", example="[13.2 mm, 8.8 mm]")
_LETTERED = [name for name in (*SENSOR_FORMATS, *_ALSO_CALLED) if _type_number(name) is None]
_Format = Annotated[
    str,
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": [*SENSOR_FORMATS, *_ALSO_CALLED]},
                {"type": "string", "pattern": f"^\\s*({'|'.join(map(_however_written, _LETTERED))})\\s*$"},
                {"type": "string", "pattern": '^\\s*[0-9]+(/[0-9]|.*[ehEH"″])'},
            ]
        }
    ),
]
_SIZES = f"{', '.join(SENSOR_FORMATS)}, micro four thirds, or as sold, like 1/1.28"
Sensor: Any = Annotated[
    short(_sensor, _SensorSize, _Format, form=Form("format or size", "1-inch", _SIZES)), WrapValidator(_marked)
]


class Zoom(Part):
    """The focal lengths a lens has: `8.8-36.8 mm`; a prime has one, `25 mm`."""

    shortest: CameraLength = told("its shortest", like="8.8 mm")
    longest: CameraLength = told("its longest", like="36.8 mm")

    @field_validator("longest")
    @classmethod
    def _in_order(cls, longest: float, info: ValidationInfo) -> float:
        if longest < info.data.get("shortest", 0.0):
            raise ValueError("a zoom is written from its shortest to its longest, like 8.8-36.8 mm")
        return longest


def widest_stop(lens: Zoom, widest: float, at_longest: float, focal_length: float) -> float:
    """The widest f-number of a zoom between its ends, in proportion to the focal length. [-]

    Real zooms lose light in steps of their own; in proportion is common practice, no source.

    >>> widest_stop(Zoom.model_construct(shortest=0.010, longest=0.030), 2.0, 4.0, 0.020)
    3.0
    """
    if lens.longest <= lens.shortest:
        return float(widest)
    share = (focal_length - lens.shortest) / (lens.longest - lens.shortest)
    return float(widest + min(max(share, 0.0), 1.0) * (at_longest - widest))


#: The diagonal of a sensor [m] below which it is one of phones and the like; with one focal length a phone's. Common
#: practice, no source.
PHONE_SENSOR = 0.0155


def like_a_phone(lens: Zoom, sensor: tuple[float, float]) -> bool:
    """Whether a camera is like a phone's, whose lens mostly stays at one stop: one focal length, a small sensor [m].

    >>> like_a_phone(Zoom.model_construct(shortest=0.007, longest=0.007), (0.0098, 0.0073))
    True
    """
    return bool(lens.shortest == lens.longest and math.hypot(*sensor) < PHONE_SENSOR)


def _lens(found: object, info: ValidationInfo) -> object:
    _, stops = length_and_stops(found) if isinstance(found, str) else ("", ())
    if stops:  # `Camera.spelled_out` leaves them only where widest says it otherwise
        raise QuantityError(f"{shown(found)} says {' to '.join(stops)}, and widest says it otherwise; keep one of them")
    found = off_a_lens(found, info)
    if isinstance(found, str):
        return ends_of(found)
    plain = isinstance(found, int | float) and not isinstance(found, bool)
    return {"shortest": found, "longest": found} if plain else found


Lens: Any = short(_lens, Zoom, str, float, form=Form("length or range", "8.8-36.8 mm"))


def _widest(found: object) -> float:
    if isinstance(found, str) and _BOTH_ENDS.fullmatch(found):
        raise QuantityError(f"{shown(found)} says it of both ends of the zoom; take widest_at_longest out")
    return f_number(found)


_BOTH_ENDS = re.compile(r"\s*((?:[fF]\s*/\s*)?[0-9.]+)\s*[-–]\s*((?:[fF]\s*/\s*)?[0-9.]+)\s*")
_EQUIVALENT = re.compile(r"\s*(\S.*?)[\s-]*\b(?:equivalent|equiv\.?|eq\.?)\s*")

#: The widest f-number, or those of a zoom from its short to its long end.
Widest: Any = parsed(
    _widest, float, "f-number or range", "f/5.6", rf"{F_NUMBER}(?:\s*[-–]\s*{F_NUMBER})?", lambda value: f"f/{value:g}"
)


def _stops_of_the_lens(camera: Mapping[Any, Any]) -> dict[str, Any]:
    """What `lens: 12-40 mm f/2.8` says of a camera: its lens and its stops, unless those are said otherwise too."""
    lens, stops = length_and_stops(camera["lens"]) if isinstance(camera.get("lens"), str) else ("", ())
    if not stops:
        return {}
    said = dict(zip(("widest", "widest_at_longest"), stops, strict=False))
    given = {key: camera[key] for key in ("widest", "widest_at_longest") if camera.get(key) is not None}
    agree = False
    with suppress(QuantityError):
        agree = {*given} <= {*said} and all(f_number(given[key]) == f_number(said[key]) for key in given)
    return {"lens": lens} | said if agree else {}


def on_this_sensor(length: str, sensor: object, file: FileUnits) -> str:
    """A focal length by its equivalent on full frame, `24 mm equivalent`, as it is; other text comes back as it was.

    >>> on_this_sensor("24 mm equivalent", ["13.2 mm", "8.8 mm"], FileUnits(None, None))
    '8.8 mm'
    """
    match = _EQUIVALENT.fullmatch(length)
    if not match or not (units.unit_of(LENGTH, match[1]) or file.bare_length in (None, LENGTH.factors["mm"])):
        return length  # of what has no unit its own reader asks for it
    try:
        focal_length = units.parse(LENGTH, match[1], bare=file.bare_length)
        sides = _sensor_reader().validate_python(sensor, context=file)
    except (QuantityError, ValidationError):
        return match[1]  # what is wrong with either, its own reader says
    return f"{focal_length / crop_factor(sides) * 1000:.5g} mm"


def _says_lengths(lens: str) -> bool:
    with suppress(QuantityError):
        return bool(ends_of((_EQUIVALENT.fullmatch(lens) or ("", lens))[1]))
    return False


def _of_a_phone(camera: Mapping[str, Any], file: FileUnits) -> bool:
    """`like_a_phone` of a camera as written; False where its own reader has something to say of it."""
    try:
        lens, sensor = (
            reader().validate_python(camera.get(key), context=file)
            for key, reader in (("lens", _lens_reader), ("sensor", _sensor_reader))
        )
    except ValidationError:
        return False
    return like_a_phone(lens, sensor)


@lru_cache(maxsize=1)
def _sensor_reader() -> TypeAdapter[Any]:
    return TypeAdapter(Sensor)


@lru_cache(maxsize=1)
def _lens_reader() -> TypeAdapter[Any]:
    return TypeAdapter(Lens)


_TWO_NEAREST = re.compile(r"\s*([0-9.]+\s*[a-z]*)\s*(?:-|–|to)\s*([0-9.]+\s*[a-z]*)\s*")


def _nearest(found: object) -> object:
    both = _TWO_NEAREST.fullmatch(found) if isinstance(found, str) else None
    if both is None:
        return found
    raise QuantityError(
        f"{shown(found)} is two lengths; of a zoom they mostly are the nearest at its short and at its long end "
        f"(common practice, no source): write nearest: {both[2].strip()}, which is had at every focal length, or "
        f"nearest: {both[1].strip()} where all shots are filmed at the short end"
    )


Nearest: Any = also(_nearest, CameraLength)


class Mode(Part):
    """A capture mode: `1080p120`, `4k30`, `1080p at 120 fps`, `1920x1080 at 120 fps`, or
    `{mode: 1080p120, crop: 1.3, readout: 7 ms}`.

    Its rate is the fastest: with 1080p240 a shot may be filmed at any rate up to 240 that the camera has. Which those
    are the file does not say; remedies go by the usual ones: 240, halved again and again, and 24 to 60. Who lists one
    of 60 or slower beside a faster one of the same size lists them all: such modes are for their own rates alone.
    """

    width: Pixels = told("of the picture, in pixels", like="1920")
    height: Pixels = told("of the picture, in pixels", like="1080")
    fastest: FrameRate = told("its fastest rate; shots may be slower", like="120 fps")
    crop: Crop = told("the sensor's width over the width it uses", 1.0)
    readout: ReadOut | None = told(
        "how long the shutter rolls from the first row to the last; 0 ms if all rows are exposed at once",
        None,
        unless="the camera's",
        like="7 ms",
    )

    @field_validator("readout")
    @classmethod
    def _within_a_frame(cls, readout: float | None, info: ValidationInfo) -> float | None:
        fastest = info.data.get("fastest")
        if readout is not None and fastest is not None and readout * fastest > 1 + 1e-9:
            raise ValueError(
                f"{readout * 1000:.3g} ms is longer than a frame at {float(fastest):.5g} fps, "
                f"{1000 / float(fastest):.3g} ms; no sensor reads out for longer than its frame lasts, so write "
                "what it takes in this mode, or leave readout out"
            )
        return readout

    @property
    def frame_time(self) -> float:
        """Of the fastest rate; no read-out takes longer. [s]"""
        return float(1 / self.fastest)

    def __str__(self) -> str:
        """`1920x1080 at 120 fps`."""
        return f"{self.width}x{self.height} at {units.fps_written(self.fastest)}"

    def same_as(self, named: "Mode") -> bool:
        """Whether a shot that names that mode means this one; crop and read-out need not be said again."""
        return (self.width, self.height, self.fastest) == (named.width, named.height, named.fastest)


_NAMED_SIZES = {"720p": (1280, 720), "1080p": (1920, 1080), "4k": (3840, 2160), "2160p": (3840, 2160)}


def _mode(found: object) -> object:
    if isinstance(found, Mapping) and "mode" in found:
        inner = _mode(found["mode"])
        rest = {key: value for key, value in found.items() if key != "mode"}
        doubled = [key for key in ("width", "height", "fastest") if key in rest]
        if doubled:
            raise QuantityError(f"has mode and {' and '.join(doubled)}, which say the same; keep mode")
        return {**inner, **rest} if isinstance(inner, dict) else found
    if isinstance(found, Mapping | Mode):
        return found
    text = found.strip() if isinstance(found, str) else ""
    if turned := re.fullmatch(r"([0-9][0-9./]*\s*fps)\s+(?:at|in)\s+(\S+)", text):
        text = f"{turned[2]} at {turned[1]}"
    for name, (width, height) in _NAMED_SIZES.items():
        rate = re.sub(r"^(at\s|@|up\s+to\s)", "", text[len(name) :].strip()) if text.lower().startswith(name) else ""
        if rate:
            return {"width": width, "height": height, "fastest": rate.strip()}
    sized = re.fullmatch(r"([0-9]{1,6})\s*[xX×]\s*([0-9]{1,6})\s+(?:at|up\s+to)\s+(.+)", text)
    if sized:
        return {"width": int(sized[1]), "height": int(sized[2]), "fastest": sized[3]}
    raise QuantityError(f"{shown(found)} is not a capture mode; write it like 1080p120 or 1920x1080 at 120 fps")


_ModeKeys: Any = dict[Literal["mode", "crop", "readout"], str | float]
_NAMES = "|".join(name + "|" + name.upper() for name in _NAMED_SIZES)
_SIZE_FIRST = rf"(?:{_NAMES}|[0-9]{{1,6}}\s*[xX×])\s*(?:at\s+|@\s*|up\s+to\s+)?[0-9]"
_ModeName = Annotated[
    str,
    WithJsonSchema({"type": "string", "pattern": rf"^\s*(?:{_SIZE_FIRST}|[0-9].*fps\s+(?:at|in)\s+[0-9])"}),
]
AnyMode: Any = short(_mode, Mode, _ModeName, _ModeKeys, form=Form("capture mode", "1080p120"))
Modes: Any = series(
    AnyMode,
    at_least=1,
    what="modes",
    example="[1080p60, 4k30]",
)


def _widest_or_on_the_lens(schema: dict[str, Any]) -> None:
    schema["required"].remove("widest")


#: A rate and those that are called by the same whole number: 60 and 59.94. [-]
ALIKE = (Fraction(1), Fraction(1000, 1001), Fraction(1001, 1000))


def _size_of(mode: Mode) -> tuple[int, int, float]:
    return int(mode.width), int(mode.height), float(mode.crop)


class Camera(Part):
    """A camera with its lens, as its owner knows it.

    A camera turned upright is written as one of its own: `sensor: [8.8 mm, 13.2 mm]`, `modes: [1080x1920 at 60 fps]`.
    """

    # A lens may say how wide it opens, which an editor cannot know.
    model_config = ConfigDict(json_schema_extra=_widest_or_on_the_lens)

    sensor: Sensor = told("its format by name, or [width, height]")
    lens: Lens = told(
        "its focal length, or its zoom range, as it stands on it: 12-40 mm f/2.8 says widest too; 24 mm equivalent, as "
        "for full frame, goes by the sensor's diagonal"
    )
    widest: Widest = told("the widest f-number; f/2.8-4 of a zoom that loses light", like="f/1.8")
    widest_at_longest: FNumber | None = told(
        "of a zoom that loses light towards its long end", None, unless="widest throughout", like="f/4"
    )
    smallest: FNumber = told(
        "the smallest aperture; unless given, one focal length on a small sensor is a phone's, which stays at widest",
        22.0,
        like="f/16",
        checked=True,
    )
    nearest: Nearest = told(
        "nearest focus, from the middle of the lens (about its entrance pupil); of a phone, from its glass; of a zoom "
        "that focuses less near at its long end, that of the long end, or write it as two cameras",
        like="50 mm",
    )
    modes: Modes = told(
        "what it records, each size with its fastest rate: 1080p240 is up to 240, 24 and 60 too; with 1080p60 or "
        "slower listed beside it, just the rates listed"
    )
    blades: Blades = told("of the diaphragm", "round")
    # ISO 9358 says how the share is measured; a few per cent is usual of good lenses (from memory).
    glare: GlareShare = told(
        "percent of its light that the lens scatters over the picture: halos around lamps; none: a perfect lens", 2.0
    )
    readout: ReadOut | None = told(
        "how long the shutter rolls over the sensor, in modes that do not say their own; no longer than a frame",
        None,
        unless="not known",
        like="8 ms",
    )
    pupil_magnification: PupilMagnification = told("exit pupil over entrance pupil of the lens", 1.0)
    body: BodySize | None = told(
        "as it stands when its picture is level (a phone on its side), for what fits on the set",
        None,
        unless="not known",
    )
    lens_size: LensSize | None = told(
        "across, and in front of the body; with it plan tells where the front rim of the lens is",
        None,
        unless="not known",
    )
    steadied: Stops = told("what stabilisation gains, held in the hand", 0.0, like="4 stops")
    # Common practice, no source.
    iso: IsoRange = told("between which iso: auto chooses", (100, 25600))

    @classmethod
    def spelled_out(cls, found: Mapping[Any, Any], file: FileUnits) -> Mapping[Any, Any]:
        """`widest: f/2.8-4` is two keys; a lens by its equivalent needs the sensor to be read, a phone's is known by
        both."""
        plain = dict(found)
        ends = _BOTH_ENDS.fullmatch(plain["widest"]) if isinstance(plain.get("widest"), str) else None
        if ends and plain.get("widest_at_longest") is None:
            plain |= {"widest": ends[1], "widest_at_longest": ends[2]}
        plain |= _stops_of_the_lens(plain)
        lens = plain.get("lens")
        if isinstance(lens, str) and (match := _EQUIVALENT.fullmatch(lens)):
            in_millimetres = file.bare_length == LENGTH.factors["mm"] or units.unit_of(LENGTH, match[1])
            if in_millimetres:
                with suppress(QuantityError):  # its own reader says so
                    plain["lens"] = {
                        key: on_this_sensor(f"{end} equivalent", plain.get("sensor"), file)
                        for key, end in ends_of(match[1]).items()
                    }
        if plain.get("smallest") is None and plain.get("widest") is not None and _of_a_phone(plain, file):
            plain["smallest"] = plain["widest"]
        return plain

    @classmethod
    def missing_said(cls, name: str, written: Mapping[Any, Any]) -> str | None:
        """Of a lens by its equivalent, which mostly is a phone's: its box says neither, and no other's would do.

        A lens that can't be read may say how wide it opens.
        """
        lens = written.get("lens")
        if name == "widest" and isinstance(lens, str) and not _says_lengths(length_and_stops(lens)[0]):
            return None
        by_equivalent = isinstance(lens, str) and _EQUIVALENT.fullmatch(length_and_stops(lens)[0])
        if name == "nearest" and not by_equivalent:
            return _NEAREST_OF_A_LENS
        return _ITS_BOX_DOES_NOT_SAY.get(name, "") if by_equivalent else ""

    @property
    def rim(self) -> float | None:
        """How far its front rim is before the entrance pupil, which is taken to lie in the middle of the lens. [m]

        None where the size of the lens is not known.
        """
        return None if self.lens_size is None else float(self.lens_size[1]) / 2

    def sensor_may_be(self, behind: float) -> bool:
        """Whether the sensor may be so far behind the entrance pupil [m]: of a wide lens that is inside its barrel."""
        return behind >= (self.rim or 0.0)

    @property
    def blocks(self) -> tuple[tuple[float, float, float, float], ...]:
        """Lens and body as far as their sizes are known: width, height, and from where to where they reach behind the
        entrance pupil. [m]"""
        (across, long), rim = self.lens_size or (0.0, 0.0), self.rim or 0.0
        lens = ((across, across, -rim, long - rim),) if self.lens_size is not None else ()
        if self.body is None:
            return lens
        wide, high, deep = self.body
        return (*lens, (wide, high, long - rim, long - rim + deep))

    def widest_at(self, focal_length: float) -> float:
        """The widest f-number at a focal length [m] of the lens."""
        if self.widest_at_longest is None:
            return float(self.widest)
        return widest_stop(self.lens, self.widest, self.widest_at_longest, focal_length)

    def only(self, mode: Mode) -> bool:
        """Whether a mode of this camera is for its own rate alone: one of those by which all of its size are listed."""
        rates = {each.fastest for each in self._alike(mode)}
        return len(rates) > 1 and min(rates) <= EVERYDAY

    def of_one_size(self, mode: Mode) -> list[Mode]:
        """A mode of this camera, with those that have the other rates of its size where all are listed."""
        return self._alike(mode) if self.only(mode) else [mode]

    def _alike(self, mode: Mode) -> list[Mode]:
        return [each for each in self.modes if _size_of(each) == _size_of(mode)]

    def records(self, mode: Mode, rate: Fraction) -> bool:
        """Whether it may be filmed at a rate [frames/s] in a mode of this camera; 59.94 counts as 60."""
        if not self.only(mode):
            return bool(rate <= mode.fastest)
        return any(rate == mode.fastest * part for part in ALIKE)

    def mode_for(self, rate: Fraction) -> Mode | None:
        """The largest picture that it records at a rate [frames/s]; None where it has none so fast.

        Of modes none of which is said to have that rate the largest that is as fast: `check` asks about the rate.
        """
        fast = [mode for mode in self.modes if mode.fastest >= rate or self.records(mode, rate)]
        able = [mode for mode in fast if self.records(mode, rate)] or fast
        return max(able, key=lambda mode: mode.width * mode.height, default=None)

    @property
    def rates(self) -> list[float]:
        """The rates that it likely has, in order. [frames/s]"""
        up_to, only_at = (
            [float(mode.fastest) for mode in self.modes if self.only(mode) is alone] for alone in (False, True)
        )
        return rates_beside(up_to, only_at)

    def readout_in(self, mode: Mode) -> float | None:
        """How long the shutter rolls in a mode of this camera, None where that is not known. [s]"""
        return self.readout if mode.readout is None else mode.readout

    @field_validator("readout")
    @classmethod
    def _within_every_frame(cls, readout: float | None, info: ValidationInfo) -> float | None:
        for mode in info.data.get("modes", ()):
            if readout is not None and mode.readout is None and readout > mode.frame_time * (1 + 1e-9):
                raise ValueError(
                    f"{readout * 1000:.3g} ms is longer than a frame of {mode}, {mode.frame_time * 1000:.3g} ms; no "
                    "sensor reads out for longer than its frame lasts, so give that mode its own, like "
                    f"{{mode: {mode}, readout: {mode.frame_time * 800:.2g} ms}}"
                )
        return readout

    @field_validator("widest_at_longest")
    @classmethod
    def _no_wider_when_long(cls, stop: float | None, info: ValidationInfo) -> float | None:
        widest = info.data.get("widest", 0.0)
        if stop is not None and stop < widest:
            raise ValueError(f"f/{stop:g} is wider than the widest, f/{widest:g}; give widest the smaller number")
        return stop

    @field_validator("iso")
    @classmethod
    def _isos_in_order(cls, isos: tuple[int, int]) -> tuple[int, int]:
        if isos[1] < isos[0]:
            raise ValueError(f"the first, {isos[0]}, is above the second, {isos[1]}; iso is [lowest, highest]")
        return isos

    @field_validator("smallest")
    @classmethod
    def _apertures_in_order(cls, smallest: float, info: ValidationInfo) -> float:
        widest = info.data.get("widest", 0.0)
        if smallest < widest:
            raise ValueError(
                f"the smallest aperture, f/{smallest:g} (f/22 unless given), is wider than the widest, f/{widest:g}; "
                "give smallest a larger number"
            )
        return smallest

    @field_validator("nearest")
    @classmethod
    def _beyond_the_focus(cls, nearest: float, info: ValidationInfo) -> float:
        lens = info.data.get("lens")
        if lens is not None and nearest <= lens.shortest:
            raise ValueError(
                f"{text_of(LENGTH, nearest)} is not beyond the focal length, {text_of(LENGTH, lens.shortest)}: no lens "
                "focuses nearer than that; measure from the middle of the lens; data sheets say it from the sensor"
            )
        return nearest
