"""The model that drives, as written: what it is, where it goes and what sets it moving."""

from collections.abc import Iterator
from typing import Any

from pydantic import Field, ValidationInfo, field_validator

from previz import units
from previz.scene.fields import (
    FileName,
    Flag,
    Flux,
    FrameRate,
    Length,
    NonNegativeLength,
    Paint,
    Part,
    Point2,
    PositiveLength,
    PositiveTime,
    Share,
    Speed,
    group,
    leading_on,
    one_of,
    series,
    whole,
    word,
    word_or,
)
from previz.scene.real_sizes import VEHICLE_SIZES

Body: Any = word(*VEHICLE_SIZES, what="a body")
Support: Any = word("block", "none", what="a support")
UpAxis: Any = word("y", "z", what="an upward axis")
FrontAxis: Any = word("+x", "-x", "+y", "-y", what="an axis")
Side: Any = word("left", "right", "middle", what="a side")
_WAY = "[[0, 330], [1400, 300]]"
Way: Any = word_or("road", series(Point2, at_least=2, what="points", example=_WAY), f"a list of points like {_WAY}")


class Ramp(Part):
    """The launch ramp.

    Keys: `height` of the vehicle's start above the table, `length` along the slope, `foot_radius` of the bend at the
    bottom (0: a sharp corner, which takes some of the speed), `lip` (the step from the ramp's edge down to the table,
    0; the slope falls by the height less the lip).
    `foot`: where its lower edge lies, along the path from its start (0; negative: before it). It runs straight back
    from there, and the vehicle's way begins there. `width` of the sheet (the vehicle's over its mirrors and 10 mm on
    either side), its `thickness` (3 mm) and `colour`; `support`, under its high end: block or none (block). The sheet
    goes on past the vehicle's start by half the vehicle's length, so that all of it stands on the ramp.
    """

    height: PositiveLength = Field(examples=["120 mm"])
    length: PositiveLength = Field(examples=["500 mm"])
    foot_radius: NonNegativeLength = 0.0
    lip: NonNegativeLength = 0.0
    foot: Length = 0.0
    width: PositiveLength | None = None
    thickness: PositiveLength = 0.003
    support: Support = "block"
    colour: Paint = (0.45, 0.31, 0.17)

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
    """One run down the ramp that the maker timed, between two marks on the flat.

    Keys: `height` of the release above the table; `marks`, how far both marks are from the foot of the ramp; and the
    time between them: `time`, or `frames` counted at a `rate`.
    """

    height: PositiveLength = Field(examples=["120 mm"])
    marks: group(NonNegativeLength, PositiveLength, shape="[first, second]") = Field(examples=["[100 mm, 900 mm]"])  # type: ignore[valid-type]
    time: PositiveTime | None = None
    frames: whole(1, 100000) | None = None  # type: ignore[valid-type]
    rate: FrameRate | None = None

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """Seconds, or frames with their rate."""
        yield from one_of(given, "time", "frames", what="how long it took, like time: 0.61 s")
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


class Launch(Part):
    """A vehicle let go on a ramp, at whose foot its way begins.

    Keys: `ramp`; `wheel_share`, the wheels' rotational inertia over r^2 as a share of the whole mass (0.08); `rolling`,
    the rolling resistance coefficient (0.02). No published toy-axle figure exists: the defaults are assumptions until
    measured, and `timed_runs` measure them (none): with runs given, the losses that fit them take the place of both.
    """

    ramp: Ramp = Field(examples=["{height: 120 mm, length: 500 mm}"])
    wheel_share: Share = 0.08
    rolling: Share = 0.02
    timed_runs: series(TimedRun, what="timed runs", example=_RUNS) = ()  # type: ignore[valid-type]

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
    """The model that drives.

    Keys: `body`, or `mesh` (a file) with its real `length`, its `up` axis (y for glTF, z for the others) and the axis
    its `front` faces once up is up (+x); `length` (from the body and the scale), `colour`.
    `path`: `road`, or a list of points. On a two-way road it keeps to the right-hand lane (`keep`: right, left or
    middle); `offset` shifts it further, positive to the left of travel (0); `reverse` drives the path from its last
    point to its first (false). `speed`, or `launch` from a ramp; at `speed: 0` it stands where its path begins, facing
    along it. `headlamps`: light output of both together (0).
    """

    body: Body | None = None
    mesh: FileName | None = None
    up: UpAxis | None = None
    front: FrontAxis = "+x"
    length: PositiveLength | None = None
    colour: Paint = (0.30, 0.03, 0.02)
    path: Way = "road"
    keep: Side = "right"
    offset: Length = 0.0
    reverse: Flag = False
    speed: Speed | None = None
    launch: Launch | None = None
    headlamps: Flux = 0.0

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
        """One body and one way to move."""
        yield from one_of(given, "body", "mesh", what="what drives, like body: lorry")
        if "mesh" in given and "length" not in given:
            yield "needs length, the model's real length: a mesh file's unit is not trusted"
        yield from one_of(given, "speed", "launch", what="what moves it, like speed: 0.9 m/s")
