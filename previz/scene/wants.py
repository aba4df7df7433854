"""What its maker wants of a shot, and what may change for it: what advice goes by."""

from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, TypeAdapter, ValidationError

from previz import units
from previz.scene.cameras import AnyMode
from previz.scene.fields import (
    Flag,
    Flux,
    FNumber,
    Form,
    FrameRate,
    Identity,
    LensLength,
    Part,
    PositiveLength,
    PositiveTime,
    Share,
    Stops,
    by_kind,
    form_of,
    listed,
    meant_by,
    quantity,
    series,
    told,
    whole,
    word,
)
from previz.scene.ranges import Range, RangeText, between, may, reason_of
from previz.scene.shots import AnyShutter, ShutterAngle, in_seconds
from previz.units import QuantityError, shown

# --- wants ---

#: At full scale on screen; a model may well be a racing car.
_ScreenSpeed: Any = quantity(units.SPEED, at_least=0, at_most=150)
_Iso: Any = whole(12, 409600)

Fill: Any = between(Share, "45 %", words="share or range", alone="itself")
SpeedRange: Any = between(_ScreenSpeed, "60 to 80 km/h", words="range of speed")
TimeRange: Any = between(PositiveTime, "at least 3 s", words="range of time", alone="at least")
IsoRange: Any = between(_Iso, "at most 800", words="range of ISO")
BlurRange: Any = between(Share, "at most 10 %", words="range of share")
FramingWanted: Any = word("as written", what="a framing")
SharpWhen: Any = word("run", "mid-frame", what="a time to be sharp")
Softness: Any = word("soft", "sharp", what="a background")
Look: Any = word("full size", what="how it may look")
EdgesWanted: Any = word("hidden", what="what edges may be")
FlickerWanted: Any = word("none", what="how much flicker")


class Want(Part):
    """Keys of every want."""

    #: The key that tells it from the others.
    kind: ClassVar[str] = ""

    must: Flag = told("a plan that misses it is no plan", False)
    shot: Identity | None = told("the shot that it is about", None, unless="every shot", like="pass")

    def __str__(self) -> str:
        """As it stands in a file."""
        said = []
        for name, field in sorted(type(self).model_fields.items(), key=lambda each: each[0] != self.kind):
            value, form = getattr(self, name), form_of(field)
            if form is not None and value != field.default:
                said.append(f"{name}: {form.write(value)}")
        return f"{{{', '.join(said)}}}"


class Fills(Want):
    """The vehicle fills so much of the picture's width while it is in the middle of it: `45 %`, or `40 to 50 %`."""

    kind = "fills"
    fills: Fill = told("the vehicle's width, of the picture's")
    within: Share = told("of the picture's width, more or less, that will do for a share alone", 0.05)

    @property
    def range(self) -> Range:
        """What will do; a share alone with what lies within reach of it."""
        found: Range = self.fills
        if found.least < found.most:
            return found
        return Range(max(found.least - self.within, 0.0), found.most + self.within)


class Framed(Want):
    """The vehicle as large in the picture as the shot has it now."""

    kind = "framing"
    framing: FramingWanted = told("of the vehicle")


class Sharp(Want):
    """The vehicle is sharp from nose to tail."""

    kind = "sharp"
    sharp: SharpWhen = told(
        "run: in at least 90 % of the frames that show it; mid-frame: all the while its middle is in the middle third "
        "of the picture's width, which of one that comes towards the camera may be all its run"
    )


class Behind(Want):
    """What lies behind the vehicle: soft, but so that one can tell what it is; or sharp."""

    kind = "background"
    background: Softness = told("how sharp it is")


class Looks(Want):
    """The blur in the picture lets the model pass for the real thing."""

    kind = "looks"
    looks: Look = told("how large it reads")


class ScreenSpeed(Want):
    """The vehicle goes so fast on screen, as if it were full size, where it is nearest to the picture's middle.

    A launched one is faster as it comes into the picture and slower as it leaves it: `check` says from what to what.
    Wanted of all shots it is not of those in which the vehicle stands (`speed: 0`).
    """

    kind = "speed"
    speed: SpeedRange = told("at full scale, as played back")


class Lasts(Want):
    """The vehicle is in the picture for so long, on screen; a time alone, `3 s`, is the least."""

    kind = "lasts"
    lasts: TimeRange = told("as played back")


class IsoWanted(Want):
    """The sensitivity that the light asks for."""

    kind = "iso"
    iso: IsoRange = told("of the sensor")


class Edges(Want):
    """No frame looks past the table's edge or the backdrop."""

    kind = "edges"
    edges: EdgesWanted = told("of the set")


class Flicker(Want):
    """Lamps on the mains neither pulse from frame to frame nor leave bands across one."""

    kind = "flicker"
    flicker: FlickerWanted = told("by lamps")


class MotionBlur(Want):
    """The vehicle smears by so much in a frame."""

    kind = "motion_blur"
    motion_blur: BlurRange = told("of its length")


WANTS: dict[str, type[Want]] = {
    each.kind: each
    for each in (Fills, Framed, Sharp, Behind, Looks, ScreenSpeed, Lasts, IsoWanted, Edges, Flicker, MotionBlur)
}


def _want_kind(found: Any) -> str:
    if isinstance(found, Want):
        return found.kind
    if not isinstance(found, dict):
        raise QuantityError(f"{shown(found)} is not a want; write it like {{fills: 45 %}}")
    kinds = [name for name in WANTS if name in found]
    if len(kinds) == 1:
        return kinds[0]
    if kinds:
        raise QuantityError(f"has {' and '.join(kinds)}; give each an entry of its own, the most important first")
    slip = next(
        (f" (did you mean {meant_by(key, WANTS)} by {shown(key)}?)" for key in found if meant_by(key, WANTS)), ""
    )
    raise QuantityError(f"says nothing that is wanted{slip}; give it {listed(WANTS)}")


AnyWant: Any = by_kind(_want_kind, WANTS)
Wants: Any = series(AnyWant, what="wants", example="[{fills: 45 %, must: true}, {sharp: mid-frame}]")

#: What nearly every shot wants, the most important first. Common practice, no source.
USUAL_WANTS: tuple[Want, ...] = (
    Edges(edges="hidden"),
    Flicker(flicker="none"),
    Framed(framing="as written"),
    Lasts(lasts="at least 2 s"),
    Sharp(sharp="mid-frame"),
    Looks(looks="full size"),
)

# --- what may change ---

MayCamera: Any = may(among=Identity, example="[pocket, big]")
MayFocalLength: Any = may(
    within=between(LensLength, "16 to 35 mm", words="range of length"), among=LensLength, example="16 to 35 mm"
)
MayFNumber: Any = may(
    within=between(FNumber, "f/2.8 to f/8", words="range of f-numbers"), among=FNumber, example="f/2.8 to f/8"
)
LengthRange: Any = between(PositiveLength, "300 to 900 mm", words="range of length")
HeightRange: Any = between(PositiveLength, "30 to 120 mm", words="range of length")
MayMove: Any = may(within=LengthRange, example="300 to 900 mm")
MayAim: Any = may(within=LengthRange, example="at most 60 mm")
MayHeight: Any = may(within=HeightRange, example="30 to 120 mm")
MayLaunch: Any = may(within=LengthRange, example="60 to 200 mm")
MayBackdrop: Any = may(within=LengthRange, example="400 to 800 mm")
Lamps: Any = series(Identity, at_least=1, what="lamps", example="[key]")
MayMode: Any = may(among=AnyMode, example="[1080p120, 4k60]")
MayRate: Any = may(among=FrameRate, example="[60 fps, 120 fps]")
MayIso: Any = may(within=IsoRange, example="100 to 1600")
MayOutput: Any = may(within=between(Flux, "200 to 1200 lm", words="range of light"), example="200 to 1200 lm")
MayDiffusion: Any = may(within=between(Stops, "0 to 2 stops", words="range of stops"), example="0 to 2 stops")


@dataclass(frozen=True)
class ShutterRange:
    """A range of shutters: by their angle [rad], or by their time of exposure [s]."""

    angle: Range | None = None
    time: Range | None = None


_ANGLES: TypeAdapter[Range] = TypeAdapter(between(ShutterAngle, "90 to 180 deg", words=""))
_TIMES: TypeAdapter[Range] = TypeAdapter(between(PositiveTime, "1/500 to 1/100 s", words=""))


def _shutters(found: object) -> ShutterRange:
    if isinstance(found, ShutterRange):
        return found
    found = in_seconds(found)
    angle = isinstance(found, str) and units.unit_of(units.ANGLE, found)
    try:
        return (
            ShutterRange(angle=_ANGLES.validate_python(found))
            if angle
            else ShutterRange(time=_TIMES.validate_python(found))
        )
    except ValidationError as error:
        raise reason_of(error, found) from None


ShutterWithin: Any = Annotated[
    ShutterRange, BeforeValidator(_shutters, json_schema_input_type=RangeText), Form("range of shutters", "")
]
MayShutter: Any = may(within=ShutterWithin, among=AnyShutter, example="90 to 180 deg")


class MayChange(Part):
    """What advice may change to come nearer to what is wanted.

    Each is `yes`, `no`, a range to stay within, or a list to choose from. What is built stays unless you let it go, and
    so does the height from which the vehicle is seen: from another it is another shot.
    """

    camera: MayCamera = told("any camera of the scene and its kit, or of these", True)
    focal_length: MayFocalLength = told("as set on the lens", True)
    f_number: MayFNumber = told("as set on the lens", True)
    focus: MayMove = told("from the middle of the lens to what is sharp", True)
    distance: MayMove = told("from the middle of the lens to what it is aimed at", True)
    height: MayHeight = told("of the middle of the lens above the table", False)
    aim: MayAim | None = told(
        "how far from where it is written what the camera is aimed at may be, over the table: of one that is aimed at "
        "a place and stays so; yes is up to a third of the picture's width. Where nothing else would do other aims are "
        "looked for anyhow, but where this is no",
        None,
        unless="no, but where nothing else would do",
    )
    mode: MayMode = told("of the camera", True)
    rate: MayRate = told("frames a second, as recorded", True)
    shutter: MayShutter = told("how long each frame is exposed", True)
    iso: MayIso = told("of the sensor", True)
    launch_height: MayLaunch = told("of the vehicle's start on its ramp, above the table", False)
    lamps: Lamps | None = told("which lamps the next three are about", None, unless="all but the room's light")
    lamp_distance: MayMove = told("from a lamp to what it is aimed at", False)
    lamp_output: MayOutput = told("how much light a lamp gives", False)
    lamp_diffusion: MayDiffusion = told("lost in a gel or sheet on a lamp", False)
    backdrop_width: MayBackdrop = told("from end to end", False)
    backdrop_height: MayBackdrop = told("above the table", False)
