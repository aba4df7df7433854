"""The model that drives, as written: what it is, where it goes and what sets it moving."""

import re
from collections.abc import Iterator
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationInfo, field_validator

from previz import units
from previz.scene.fields import (
    FileName,
    Flag,
    FrameRate,
    Length,
    LevelPoint,
    Luminance,
    NodeName,
    NonNegativeLength,
    Paint,
    Part,
    PositiveLength,
    PositiveTime,
    Scale,
    Share,
    Speed,
    Time,
    group,
    leading_on,
    on_or_off,
    scale_of_its_own,
    series,
    told,
    whole,
    word,
    word_or,
)
from previz.scene.real_sizes import VEHICLE_SIZES
from previz.units import QuantityError, shown

#: What `vehicle:` of a file is called among the others; in a shot it means the shot's subject, whichever that is.
VEHICLE = "vehicle"

Body: Any = word(
    *VEHICLE_SIZES, what="a body", always="; any other is a model of your own, mesh: car.glb, with its length"
)
Support: Any = word("block", "floor", "none", what="a support")
Drive: Any = word("motor", "thread", "hand", what="what drives it")
UpAxis: Any = word("y", "z", what="an upward axis")


def _level(found: object) -> object:
    """The axis as it is, but one that points up or down, which no vehicle faces."""
    if isinstance(found, str) and re.fullmatch(r"[+-]?z", found.strip()):
        beside = "+y" if found.strip().startswith("-") else "-y"
        raise QuantityError(
            f"{shown(found)} points {'down' if beside == '+y' else 'up'} once the mesh stands upright; a vehicle faces "
            f"+x, -x, +y or -y. The {found.strip()} of a file whose up is y, as in glTF, is written {beside} here; "
            "where the model stands on its nose or tail, change up: y to z or z to y first"
        )
    return found


FrontAxis: Any = Annotated[word("+x", "-x", "+y", "-y", what="an axis"), BeforeValidator(_level)]
Side: Any = word("left", "right", "middle", what="a side")
_WAY = "[[0, 330], [1400, 300]]"
Way: Any = word_or(
    "road",
    series(LevelPoint, at_least=2, what="points", example=_WAY),
    "points",
    f"a list of points like {_WAY}",
    example="road",
)


#: Of both headlamps of a real vehicle, dipped [lm]: their bulbs give 1000 to 1500 each (UN Regulation 37, from memory),
#: of which about half gets out (common practice, no source).
HEADLAMPS = 1200.0


Headlamps: Any = on_or_off(HEADLAMPS)

Wheels: Any = series(NodeName, what="names of nodes", example="[wheel_fl, wheel_fr, wheel_rl, wheel_rr]")
Marks: Any = group(NonNegativeLength, PositiveLength, shape="[first, second]", example="[100 mm, 900 mm]")
Frames: Any = whole(1, 100000)


class Ramp(Part):
    """The launch ramp. Its slope falls by the height less the lip.

    It runs straight back from its foot, where the vehicle's way begins. The sheet goes on past the vehicle's start by
    half the vehicle's length, so that all of it stands on the ramp.

    It is what films a slope, for roads and paths are level: a shot that starts below 0 s has the vehicle on it. It
    rolls down by itself; none drives up a ramp, by motor, hand or thread.
    """

    height: PositiveLength = told("of the vehicle's start above the table", like="120 mm")
    length: PositiveLength = told("along the slope", like="500 mm")
    foot_radius: NonNegativeLength = told(
        "of the bend at the bottom; 0 is a sharp corner, which takes some of the speed", 0.0, like="200 mm"
    )
    lip: NonNegativeLength = told("the step from the ramp's edge down to the table", 0.0, like="1 mm")
    foot: Length = told(
        "where its lower edge lies, along the path from its start; below 0 is before it", 0.0, like="-50 mm"
    )
    width: PositiveLength | None = told(
        "of the sheet", None, unless="the vehicle's over its mirrors and 10 mm on either side", like="80 mm"
    )
    thickness: PositiveLength = told("of the sheet", 0.003)
    support: Support = told("under its high end; floor: it hangs off the table, on a stand", "block")
    colour: Paint = told("of the sheet", (0.45, 0.31, 0.17))

    @field_validator("length")
    @classmethod
    def _slope_is_real(cls, length: float, info: ValidationInfo) -> float:
        height = info.data.get("height")
        if height is not None and length <= height:
            raise ValueError(
                f"a ramp {units.text_of(units.LENGTH, length)} long cannot rise "
                f"{units.text_of(units.LENGTH, height)}; make length (along the slope) larger than height"
            )
        return length

    @field_validator("lip")
    @classmethod
    def _falls_to_its_lip(cls, lip: float, info: ValidationInfo) -> float:
        height = info.data.get("height")
        if height is not None and lip >= height:
            raise ValueError(
                f"a lip of {units.text_of(units.LENGTH, lip)} is as high as the start of the vehicle, "
                f"{units.text_of(units.LENGTH, height)}; lip is the step at the ramp's foot, a few millimetres at most"
            )
        return lip


class TimedRun(Part):
    """One run down the ramp that the maker timed, between two marks on the flat: in seconds, or frames at a rate."""

    height: PositiveLength = told("of the release above the table", like="120 mm")
    marks: Marks = told("how far both are from the foot of the ramp")
    time: PositiveTime | None = told("between the marks", None, unless="give this or frames", like="0.61 s")
    frames: Frames | None = told("counted between the marks", None, unless="give this or time", like="73")
    rate: FrameRate | None = told("at which frames were counted", None, unless="goes with frames", like="120 fps")

    exactly_one = ((("time", "frames"), "how long it took, like time: 0.61 s"),)

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """Frames with their rate."""
        if ("frames" in given) != ("rate" in given):
            yield "frames and rate go together: frames: 73 and rate: 120 fps"

    @field_validator("marks")
    @classmethod
    def _in_order(cls, marks: tuple[float, float]) -> tuple[float, float]:
        if marks[1] <= marks[0]:
            raise ValueError("marks are written in the order the vehicle passes them, like [100 mm, 900 mm]")
        return marks

    @property
    def seconds(self) -> float:
        """Between the marks. [s]"""
        if self.time is not None:
            return float(self.time)
        assert self.frames is not None and self.rate is not None  # key_rules: time, or frames with rate
        return float(self.frames / self.rate)


_RUNS = "[{height: 120 mm, marks: [100 mm, 900 mm], time: 0.6 s}]"


TimedRuns: Any = series(TimedRun, what="timed runs", example=_RUNS)


class Launch(Part):
    """A vehicle let go on a ramp, at whose foot its way begins.

    No published toy-axle figure exists: the defaults of wheel_share and rolling are assumptions until measured.
    timed_runs measure them: with runs given, the losses that fit them take the place of both.
    """

    ramp: Ramp = told("what it rolls down", like="{height: 120 mm, length: 500 mm}")
    wheel_share: Share = told("the wheels' rotational inertia over r^2, of the whole mass", 0.08)
    rolling: Share = told("rolling resistance, of the weight", 0.02, like="0.02")
    timed_runs: TimedRuns = told("runs that you timed", ())

    @field_validator("timed_runs")
    @classmethod
    def _released_on_the_ramp(cls, runs: tuple[TimedRun, ...], info: ValidationInfo) -> tuple[TimedRun, ...]:
        ramp = info.data.get("ramp")
        for number, run in enumerate(runs):
            if ramp is not None and not ramp.lip < run.height < ramp.length:
                raise ValueError(
                    f"run {number + 1} starts {units.text_of(units.LENGTH, run.height)} high, on a ramp "
                    f"{units.text_of(units.LENGTH, ramp.length)} long with a lip of "
                    f"{units.text_of(units.LENGTH, ramp.lip)}; a run starts between the two"
                )
        return runs


class Vehicle(Part):
    """The model that drives: a body that previz has, or a mesh of your own with its real length.

    It has a speed or a launch from a ramp; at `speed: 0` it stands where its path begins, facing along it. An
    articulated lorry is one stiff piece: it does not bend at its coupling, which shows in tight bends.
    """

    body: Body | None = told("what it is", None, unless="give this or mesh")
    mesh: FileName | None = told("a file with its shape", None, unless="give this or body", like="my_car.glb")
    up: UpAxis | None = told("the mesh's upward axis", None, unless="y for glTF, else z", like="z")
    front: FrontAxis = told("the axis the mesh faces, once up is up", "+x")
    node: NodeName | None = told("of a glTF file this node alone", None, unless="all of it", like="lorry")
    wheels: Wheels = told("nodes of a glTF file that turn as it rolls, each one wheel", ())
    glow: Luminance = told("of an emission of 1 in a glTF file", 1.0, like="400 cd/m2")
    scale: Scale | None = scale_of_its_own()
    length: PositiveLength | None = told("on the table", None, unless="from body and scale", like="160 mm")
    colour: Paint = told("of its paint", (0.30, 0.03, 0.02))
    path: Way = told("where it goes: along the road, or through points", "road")
    keep: Side = told("its lane on a two-way road", "right")
    offset: Length = told("shifts it further; above 0 is to the left of travel", 0.0, like="10 mm")
    reverse: Flag = told("drives the path from its last point to its first", False)
    speed: Speed | None = told(
        "on the table; or as it is to look, 60 km/h on screen; the same all through a shot: of one that stops, film it "
        "coming and then standing, in two shots",
        None,
        unless="give this or launch",
    )
    launch: Launch | None = told(
        "let go on a ramp", None, unless="give this or speed", like="{ramp: {height: 120 mm, length: 500 mm}}"
    )
    drive: Drive | None = told(
        "what keeps one with a speed at it: motor, thread (a line that pulls it) or hand",
        None,
        unless="not known",
        like="motor",
    )
    start: Time = told(
        "when it passes the start of its path, a launched one the foot of its ramp: time on set", 0.0, like="0.4 s"
    )
    headlamps: Headlamps = told(
        f"light of both together; on: {HEADLAMPS:g} lm at full size, over the scale squared", 0.0, like="on"
    )

    told_at_scale = ("length", "speed", "headlamps")
    exactly_one = (
        (("body", "mesh"), "what drives, like body: lorry"),
        (("speed", "launch"), "what moves it, like speed: 0.9 m/s"),
    )

    @property
    def stands(self) -> bool:
        """Whether it stands still for good, at the start of its path."""
        return self.speed == 0

    @field_validator("path")
    @classmethod
    def _leads_on(cls, path: str | tuple[tuple[float, float], ...]) -> str | tuple[tuple[float, float], ...]:
        return path if isinstance(path, str) else leading_on(path)

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """A mesh with its length, and parts of a mesh only."""
        if "mesh" not in given and (idle := ", ".join(sorted(given & {"node", "wheels", "glow"}))):
            yield f"{idle} only means something with mesh: file.glb; take it out"
        if "mesh" in given and "length" not in given:
            yield "needs length, the model's real length: a mesh file's unit is not trusted"
