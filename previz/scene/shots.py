"""A setup as written: which camera stands where, what it looks at and how it records."""

import math
import re
from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import pairwise
from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, ValidationInfo, WithJsonSchema, field_validator

from previz import units
from previz.scene.called import plainly
from previz.scene.cameras import AnyMode
from previz.scene.fields import (
    CameraLength,
    Flag,
    FNumber,
    Form,
    FrameRate,
    Identity,
    Part,
    Place,
    Point3,
    PositiveLength,
    PositiveTime,
    Temperature,
    Time,
    also,
    by_kind,
    off_a_lens,
    quantity,
    series,
    short,
    told,
    whole,
    word,
    word_or,
)
from previz.scene.redress import (
    REDRESSING,
    STAYS,
    Additions,
    AnyBackdrop,
    GroundOtherwise,
    Lamps,
    Names,
    Others,
    Run,
    Things,
    VehicleOtherwise,
)
from previz.units import QuantityError, shown

#: The moment at which the vehicle is in the middle of the picture, left and right; of a focus.
MID_FRAME: Final = "mid-frame"

#: The same however people say it, as `plainly` has it.
_MID_FRAME = re.compile(
    r"((at|in|when|while|it|is|its|the) )*(mid|middle|centre|center)( ?(of )?(the )?(frame|picture|shot|image|screen))?"
)


def in_mid_frame(found: str) -> bool:
    """Whether something is said to be in the middle of the picture, however that is put.

    >>> in_mid_frame("bus mid-frame"), in_mid_frame("vehicle in the middle"), in_mid_frame("middle_house")
    (True, True, False)
    """
    return bool(_MID_FRAME.fullmatch(plainly(found.strip().partition(" ")[2])))


Moment: Any = Annotated[
    by_kind(lambda found: "word" if found == MID_FRAME else "time", {"word": Literal[MID_FRAME], "time": Time}),
    Form(f"time or {MID_FRAME}", "0.4 s"),
]


class Target(Part):
    """What is aimed or focused at: `[x, y, z]`, a piece by its id, `vehicle` (all along) or `vehicle at 0.4 s`.

    A piece is the point on the ground below its first copy's middle. Focus on the vehicle at a moment is set once, as
    the camera stands then, and left there; on `vehicle mid-frame`, when it is in the middle of the picture. In full it
    has one of place, piece or vehicle.
    """

    place: Place | None = told("a point", None, unless="give one of the three")
    piece: Identity | None = told("a piece by its id", None, unless="give one of the three")
    vehicle: Flag = told("the vehicle", False)
    moment: Moment | None = told(
        "of the vehicle's run; of a focus mid-frame too: the one moment at which it is nearest to the picture's "
        "middle, while sharp: mid-frame of wants is a stretch",
        None,
        unless="all along",
        like="0.4 s",
    )

    exactly_one = ((("place", "piece", "vehicle"), "what is looked at"),)

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """A moment of the vehicle's run."""
        if "moment" in given and "vehicle" not in given:
            yield "moment is a moment of the vehicle's run; it needs vehicle: true"

    @property
    def said_of_vehicle(self) -> str:
        """The vehicle, as a file says that it is meant."""
        if self.moment is None or self.moment == MID_FRAME:
            return "vehicle" if self.moment is None else f"vehicle {MID_FRAME}"
        return f"vehicle at {float(self.moment):g} s"


def _target(found: object) -> object:
    if isinstance(found, list | tuple):
        return {"place": found}
    if isinstance(found, str):
        what, at, moment = (part.strip() for part in found.partition(" at "))
        if what == "vehicle" and not (at and moment[:1].isalpha()):
            return {"vehicle": True, "moment": moment} if at else {"vehicle": True}
        if what.split()[:1] == ["vehicle"]:
            if _MID_FRAME.fullmatch(plainly(found.strip().removeprefix("vehicle"))):
                return {"vehicle": True, "moment": MID_FRAME}
            raise QuantityError(
                f"{shown(found)} does not say the moment as a time on set; write it like vehicle at 0.9 s: previz "
                "check tells from when to when it is in the picture. Or focus on vehicle mid-frame, where it passes "
                "the picture's middle; or write vehicle, to follow it"
            )
        if at:
            raise QuantityError(f"{shown(found)}: only the vehicle is somewhere at a moment; write vehicle at 0.4 s")
        if in_mid_frame(what):
            raise QuantityError(
                f"{shown(found)}: only the vehicle comes to the picture's middle; did you mean vehicle {MID_FRAME}?"
            )
        return {"piece": what}
    if isinstance(found, dict | Target):
        return found
    raise QuantityError(f"{shown(found)} is not something to look at; write vehicle, [x, y, z] or a piece's id")


#: `vehicle`, `vehicle at 0.4 s` or an id.
_Word = Annotated[str, WithJsonSchema({"type": "string", "pattern": r"^\s*[A-Za-z]"})]
AnyTarget: Any = short(_target, Target, _Word, Place, form=Form("vehicle, id or point", "vehicle"))


class Focus(Part):
    """Focused at a target, as an aim is written, or at a distance: `400 mm`."""

    target: AnyTarget | None = told("what is sharp", None, unless="give this or distance")
    distance: PositiveLength | None = told(
        "from the middle of the lens", None, unless="give this or target", like="400 mm"
    )

    exactly_one = ((("target", "distance"), "what is sharp"),)


def _focus(found: object) -> object:
    if isinstance(found, bool) or found is None:
        raise QuantityError(f"{shown(found)} is not a focus; write 400 mm, vehicle, [x, y, z] or a piece's id")
    # An id begins with a letter, so what begins like a number is a distance.
    if isinstance(found, int | float) or (isinstance(found, str) and found.strip()[:1] in "+-.0123456789"):
        return {"distance": found}
    return {"target": found} if isinstance(found, str | list | tuple | Target) else found


AnyFocus: Any = short(_focus, Focus, _Word, PositiveLength, Place, form=Form("target or length", "vehicle"))


_ON_SET = "on set; 0 is when the vehicle passes the start of its path, a launched one the foot of its ramp"


def _height_in_words(found: object) -> object:
    """A place as it is, unless it says in words how high it is."""
    last = found[2] if isinstance(found, list | tuple) and len(found) == 3 else found
    if isinstance(last, str) and re.fullmatch(
        r"[^0-9]*\b(?:height|high|level|low|eyes?|ground|pavement)\b[^0-9]*", last
    ):
        raise QuantityError(
            f"{shown(last)} is not a height; write how high the lens stands as the third number, like "
            "[700, -150, 1.6 m full size]: somebody on a pavement sees from 1.6 m full size, the driver of a car from "
            "1.1 m, and a camera laid on the ground from 0.2 m (common practice, no source)"
        )
    return found


LensPlace: Any = Annotated[Point3, BeforeValidator(_height_in_words)]


class PlaceKey(Part):
    """Where the camera is at a time."""

    time: Time = told(_ON_SET, like="0.5 s")
    at: LensPlace = told("where it stands then", like="[700, -150, 45]")


class AimKey(Part):
    """What it aims at, at a time."""

    time: Time = told(_ON_SET, like="0.5 s")
    at: AnyTarget = told("what it aims at then")


class FocusKey(Part):
    """What it is focused on, at a time."""

    time: Time = told(_ON_SET, like="0.5 s")
    at: AnyFocus = told("what is sharp then", like="400 mm")


def keyed(key: Any, single: Any, words: str, example: str) -> Any:
    """A field that is one value for the whole shot, or a list of keys in rising time."""

    def kind(found: object) -> str:
        many = isinstance(found, list | tuple) and len(found) > 0 and isinstance(found[0], dict | Part)
        return "keys" if many else "one"

    keys = series(key, at_least=2, what="keys", example=f"[{{time: 0 s, at: {example}}}, {{time: 1 s, at: {example}}}]")
    return Annotated[by_kind(kind, {"keys": keys, "one": single}), Form(f"{words}, or keys", example)]


#: Hands by how they tremble, from the calmest.
WOBBLES = ("steady", "usual", "shaky")

ShutterAngle: Any = quantity(units.ANGLE, above=0.0, at_most=2 * math.pi)
Iso: Any = word_or("auto", whole(12, 409600), "number", "a number like 400", example="400")
Correction: Any = quantity(units.STOPS, at_least=-6, at_most=6, bare=1.0)
Stand: Any = keyed(PlaceKey, LensPlace, "[x, y, z]", "[700, -150, 45]")
Aim: Any = keyed(AimKey, AnyTarget, "target", "vehicle")
FocusOrPull: Any = keyed(FocusKey, AnyFocus, "focus", "vehicle")


class Shutter(Part):
    """How long each frame is exposed: `180 deg`, `1/120 s` or 1/120 as cameras show it, or one of these keys."""

    angle: ShutterAngle | None = told("of the shutter", None, unless="give this or time", like="180 deg")
    time: PositiveTime | None = told("of exposure", None, unless="give this or angle")

    exactly_one = ((("angle", "time"), "an angle like 180 deg or a time like 1/120 s"),)


def in_seconds(found: object) -> object:
    """An exposure as a camera shows it, `1/240`, with the unit that it has there; all else as it is.

    >>> in_seconds("1/240"), in_seconds("1/500 to 1/100"), in_seconds("180 deg"), in_seconds("1/48 s")
    ('1/240 s', '1/500 to 1/100 s', '180 deg', '1/48 s')
    """
    bare = isinstance(found, str) and re.search(r"(?:^|\s)1/[0-9]+(?:\.[0-9]+)?\s*$", found)
    return f"{str(found).rstrip()} s" if bare else found


def _shutter(found: object) -> object:
    found = in_seconds(found)
    if isinstance(found, Mapping) and "time" in found:
        return {**found, "time": in_seconds(found["time"])}
    if isinstance(found, dict | Shutter):
        return found
    if isinstance(found, str) and units.unit_of(units.ANGLE, found):
        return {"angle": found}
    if isinstance(found, str) and units.unit_of(units.TIME, found):
        return {"time": found}
    raise QuantityError(f"{shown(found)} is not a shutter; write an angle like 180 deg or a time like 1/120 s")


def _shutter_text(shutter: Shutter) -> str:
    if shutter.angle is not None:
        return units.text_of(units.ANGLE, shutter.angle)
    return units.text_of(units.TIME, _exposure_time(shutter, Fraction(1)))


_AS_SHOWN = Annotated[str, WithJsonSchema({"type": "string", "pattern": r"^\s*1/[0-9]+(\.[0-9]+)?\s*$"})]
AnyShutter: Any = short(
    _shutter, Shutter, ShutterAngle, PositiveTime, _AS_SHOWN, form=Form("angle or time", "180 deg", write=_shutter_text)
)


class Capture(Part):
    """How the sensor records."""

    rate: FrameRate = told("frames a second, as recorded", like="120 fps")
    shutter: AnyShutter = told("how long each frame is exposed", Shutter(angle="180 deg"))
    mode: AnyMode | None = told("one of the camera's", None, unless="the largest picture at that rate", like="1080p120")
    iso: Iso = told("sensitivity", "auto")
    white_balance: Temperature = told("the light that looks white", 5600.0)
    exposure: Correction = told("added to what iso: auto meters", 0.0, like="-0.7 stops")

    @property
    def exposure_time(self) -> float:
        """Time each frame is exposed. [s]

        Angle over full turn, a frame: 180 deg at 24 fps is 1/48 s.
        """
        return _exposure_time(self.shutter, self.rate)

    @field_validator("exposure")
    @classmethod
    def _corrects_the_meter(cls, stops: float, info: ValidationInfo) -> float:
        iso = info.data.get("iso")
        if stops and isinstance(iso, int):
            raise ValueError(f"exposure corrects what iso: auto meters; with iso: {iso} set, change iso instead")
        return stops

    @field_validator("shutter")
    @classmethod
    def _fits_a_frame(cls, shutter: Shutter, info: ValidationInfo) -> Shutter:
        rate = info.data.get("rate")
        if rate is not None and _exposure_time(shutter, rate) * rate > 1 + 1e-9:
            raise ValueError(
                f"a shutter of {units.text_of(units.TIME, _exposure_time(shutter, rate))} is longer than a frame at "
                f"{float(rate):g} fps ({units.text_of(units.TIME, 1 / float(rate))}); shorten it or lower the rate"
            )
        return shutter


def _exposure_time(shutter: Shutter, rate: Fraction) -> float:
    if shutter.time is not None:
        return float(shutter.time)
    assert shutter.angle is not None  # a Shutter has one of the two
    return float(shutter.angle / (2 * math.pi) / float(rate))


Wobble: Any = word(*WOBBLES, what="a hand")
Pace: Any = word("gently", "evenly", what="a way to move")


class Hand(Part):
    """A camera held in the hand.

    What `check` says of it is an order of magnitude; a clip is drawn as from a tripod.
    """

    wobble: Wobble = told("how the hand trembles", "usual")


def _not_of_a_sensor(found: object, info: ValidationInfo) -> object:
    """An equivalent is worked out where the camera is known (`Scene.spelled_out`); here it is not."""
    off_a_lens(found, info)
    if isinstance(found, str) and found.strip().endswith("equivalent"):
        raise QuantityError(
            f"{shown(found)} needs a camera whose sensor is known; or write the length on the lens, 20 mm"
        )
    return found


_EQUIVALENT = {"type": "string", "pattern": r"^\s*[0-9.].*\b(equivalent|equiv\.?|eq\.?)\s*$"}
FocalLength: Any = also(_not_of_a_sensor, CameraLength, _EQUIVALENT)


class Shot(Part):
    """One setup of one camera.

    at, aim and focus are each one value, or keys in time: `[{time: 0 s, at: …}, {time: 1 s, at: …}]`. Before the first
    and after the last they stay as those are; moves says how they pass in between. From moved on its keys say what of
    the common set is otherwise while it is filmed; all that they do not name stays.
    """

    id: Identity = told("its name", like="pass")
    camera: Identity = told("its name under cameras or in the kit", like="pocket")
    focal_length: FocalLength = told(
        "as set on the lens; or 35 mm equivalent, as for full frame",
        None,
        unless="a prime's own; of a zoom it is needed",
    )
    f_number: FNumber = told("as set on the lens", None, unless="the only one, of a phone; else it is needed")
    at: Stand = told(
        "where the middle of the lens stands, about from where it sees (its entrance pupil); of a phone, its glass"
    )
    aim: Aim = told("what is in the middle of the picture")
    focus: FocusOrPull = told("what is sharp")
    moves: Pace = told(
        "how at, aim and focus pass from key to key: gently, at rest at the first and the last; or evenly, at one "
        "pace, as a camera that keeps beside the vehicle does",
        "gently",
        like="evenly",
    )
    capture: Capture = told("how the sensor records", like="{rate: 24 fps}")
    playback: FrameRate = told("frames a second, on screen", Fraction(24))
    start: Time = told(_ON_SET, 0.0, like="0.5 s")
    duration: PositiveTime | None = told("on set", None, unless="the rest of the run", like="0.9 s")
    place: Identity | None = told(
        "where in the story it is; shots of other places should show nothing that one knows again",
        None,
        unless="not looked at",
        like="harbour",
    )
    hand: Hand | None = told("that holds the camera", None, unless="a tripod", like="{wobble: steady}")
    moved: Things | None = told("pieces and lamps that stand otherwise, by their ids", None, unless="none")
    subject: Identity | None = told(
        "which of the vehicles the shot is about: what vehicle means in it", None, unless="vehicle", like="oncoming"
    )
    without: Names | None = told(
        "ids of pieces and lamps that are taken away; or vehicle, or another by its name", None, unless="none"
    )
    added: Additions | None = told("pieces and lamps for this shot alone", None, unless="none")
    lights: Lamps | None = told("lamps that are off, brighter or otherwise, by their ids", None, unless="none")
    backdrop: AnyBackdrop | None = told("what of it differs; none takes it away", None, unless=STAYS)
    ground: GroundOtherwise | None = told("what of it differs", None, unless=STAYS, like="{surface: snow}")
    vehicle: VehicleOtherwise | None = told("what of it differs", None, unless=STAYS, like="{speed: 1.2 m/s}")
    vehicles: Others | None = told("what of the others differs, by their names", None, unless=STAYS)
    run: Run | None = told("the vehicle's way, if not the common one", None, unless=STAYS)

    @property
    def evenly(self) -> bool:
        """Whether what has keys goes from one to the next at one pace."""
        return bool(self.moves == "evenly")

    @property
    def redresses(self) -> bool:
        """Whether it changes anything on the common set."""
        return any(getattr(self, name) is not None for name in REDRESSING)

    @field_validator("aim")
    @classmethod
    def _aimed_by_itself(cls, aim: Any) -> Any:
        if any(each.moment == MID_FRAME for each in ([key.at for key in aim] if isinstance(aim, tuple) else [aim])):
            raise ValueError(
                "the middle of the picture is where the camera is aimed, so that the vehicle mid-frame says nothing; "
                "write vehicle, to follow it, vehicle at 0.9 s or [x, y, z]"
            )
        return aim

    @field_validator("at", "aim", "focus")
    @classmethod
    def _in_time_order(cls, keys: Any) -> Any:
        times = (
            [key.time for key in keys if isinstance(key, PlaceKey | AimKey | FocusKey)]
            if isinstance(keys, tuple)
            else []
        )
        for earlier, later in pairwise(times):
            if later <= earlier:
                raise ValueError(
                    f"the key at {units.text_of(units.TIME, later)} follows one at "
                    f"{units.text_of(units.TIME, earlier)}; put the keys in the order of their times"
                )
        return keys
