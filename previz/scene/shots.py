"""A setup as written: which camera stands where, what it looks at and how it records."""

import math
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Annotated, Any

from pydantic import Field, ValidationInfo, field_validator

from previz import units
from previz.scene.cameras import AnyMode
from previz.scene.fields import (
    CameraLength,
    Flag,
    FNumber,
    FrameRate,
    Identity,
    Part,
    Place,
    Point3,
    PositiveLength,
    PositiveTime,
    Temperature,
    Time,
    by_kind,
    one_of,
    quantity,
    series,
    short,
    whole,
    word,
    word_or,
)
from previz.units import QuantityError, shown


class Target(Part):
    """What is aimed or focused at: `[x, y, z]`, a piece by its id, `vehicle` (all along) or `vehicle at 0.4 s`.

    A piece is the point on the ground below its first copy's middle. Focus on the vehicle at a moment is set once, as
    the camera stands then, and left there.

    Keys: `place`, `piece` or `vehicle` (true); `moment` of the vehicle's run [s].
    """

    place: Place | None = None
    piece: Identity | None = None
    vehicle: Flag = False
    moment: Time | None = None

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """One thing to look at."""
        yield from one_of(given, "place", "piece", "vehicle", what="what is looked at")
        if "moment" in given and "vehicle" not in given:
            yield "moment is a moment of the vehicle's run; it needs vehicle: true"


def _target(found: object) -> object:
    if isinstance(found, list | tuple):
        return {"place": found}
    if isinstance(found, str):
        what, at, moment = (part.strip() for part in found.partition(" at "))
        if what == "vehicle":
            return {"vehicle": True, "moment": moment} if at else {"vehicle": True}
        if at:
            raise QuantityError(f"{shown(found)}: only the vehicle is somewhere at a moment; write vehicle at 0.4 s")
        return {"piece": what}
    if isinstance(found, dict | Target):
        return found
    raise QuantityError(f"{shown(found)} is not something to look at; write vehicle, [x, y, z] or a piece's id")


AnyTarget: Any = short(_target, Target, str, Place)


class Focus(Part):
    """Focused at a `target`, or at a `distance` from the entrance pupil (`400 mm`)."""

    target: AnyTarget | None = None
    distance: PositiveLength | None = None

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """One way to focus."""
        yield from one_of(given, "target", "distance", what="what is sharp")


def _focus(found: object) -> object:
    if isinstance(found, bool) or found is None:
        raise QuantityError(f"{shown(found)} is not a focus; write 400 mm, vehicle, [x, y, z] or a piece's id")
    # An id begins with a letter, so what begins like a number is a distance.
    if isinstance(found, int | float) or (isinstance(found, str) and found.strip()[:1] in "+-.0123456789"):
        return {"distance": found}
    return {"target": found} if isinstance(found, str | list | tuple | Target) else found


AnyFocus: Any = short(_focus, Focus, str, float, Place)


class PlaceKey(Part):
    """Where the camera is at a time. Keys: `time`, `at`."""

    time: Time = Field(examples=["0.5 s"])
    at: Point3


class AimKey(Part):
    """What it aims at, at a time. Keys: `time`, `at`."""

    time: Time = Field(examples=["0.5 s"])
    at: AnyTarget = Field(examples=["vehicle"])


class FocusKey(Part):
    """What it is focused on, at a time. Keys: `time`, `at`."""

    time: Time = Field(examples=["0.5 s"])
    at: AnyFocus = Field(examples=["400 mm"])


def keyed(key: Any, single: Any, example: str) -> Any:
    """A field that is one value for the whole shot, or a list of keys in rising time."""

    def kind(found: object) -> str:
        many = isinstance(found, list | tuple) and len(found) > 0 and isinstance(found[0], dict | Part)
        return "keys" if many else "one"

    keys = series(key, at_least=2, what="keys", example=f"[{{time: 0 s, at: {example}}}, {{time: 1 s, at: {example}}}]")
    return Annotated[by_kind(kind, {"keys": keys, "one": single}), Field(examples=[example])]


#: Hands by how they tremble, from the calmest.
WOBBLES = ("steady", "usual", "shaky")

ShutterAngle: Any = quantity(units.ANGLE, above=0.0, at_most=2 * math.pi)
Iso: Any = word_or("auto", whole(12, 409600), "a number like 400")
Correction: Any = quantity(units.STOPS, at_least=-6, at_most=6, bare=1.0)
Stand: Any = keyed(PlaceKey, Point3, "[700, -150, 45]")
Aim: Any = keyed(AimKey, AnyTarget, "vehicle")
FocusOrPull: Any = keyed(FocusKey, AnyFocus, "vehicle")


class Shutter(Part):
    """An exposure by `angle` (180 deg) or by `time` (1/120 s)."""

    angle: ShutterAngle | None = None
    time: PositiveTime | None = None

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """Angle or time."""
        yield from one_of(given, "angle", "time", what="an angle like 180 deg or a time like 1/120 s")


def _shutter(found: object) -> object:
    if isinstance(found, dict | Shutter):
        return found
    if isinstance(found, str) and units.unit_of(units.ANGLE, found):
        return {"angle": found}
    if isinstance(found, str) and units.unit_of(units.TIME, found):
        return {"time": found}
    raise QuantityError(f"{shown(found)} is not a shutter; write an angle like 180 deg or a time like 1/120 s")


AnyShutter: Any = short(_shutter, Shutter, str)


class Capture(Part):
    """How the sensor records.

    Keys: `rate`, `shutter` (180 deg), `mode` (one of the camera's; the largest picture at that rate), `iso` (auto),
    `white_balance` (5600 K), `exposure` (what is added to the metered exposure [stops], 0).
    """

    rate: FrameRate = Field(examples=["120 fps"])
    shutter: AnyShutter = Shutter(angle="180 deg")
    mode: AnyMode | None = None
    iso: Iso = "auto"
    white_balance: Temperature = 5600.0
    exposure: Correction = 0.0

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


class Hand(Part):
    """A camera held in the hand. Keys: `wobble`, how the hand trembles (usual): steady, usual or shaky.

    What `check` says of it is an order of magnitude; a clip is drawn as from a tripod.
    """

    wobble: Wobble = "usual"


class Shot(Part):
    """One setup of one camera.

    Keys: `id`; `camera` (its name under cameras); `focal_length`; `f_number`; `at` (where the entrance pupil stands),
    `aim` and `focus`, each one value or keys in time `[{time: 0 s, at: …}, {time: 1 s, at: …}]`; `capture`; `playback`
    rate (24 fps); `start` (time on set, 0) and `duration` (the rest of the run); `hand` that holds the camera (none: a
    tripod).
    """

    id: Identity = Field(examples=["pass"])
    camera: Identity = Field(examples=["pocket"])
    focal_length: CameraLength = Field(examples=["20 mm"])
    f_number: FNumber
    at: Stand
    aim: Aim
    focus: FocusOrPull
    capture: Capture = Field(examples=["{rate: 24 fps}"])
    playback: FrameRate = Fraction(24)
    start: Time = 0.0
    duration: PositiveTime | None = None
    hand: Hand | None = None

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
