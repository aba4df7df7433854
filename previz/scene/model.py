"""The shot as its maker wrote it, in SI: what every other room starts from.

World frame: origin at the front-left corner of the table top seen from the camera side, x right, y away from the
viewer, z up. Time 0 is when the vehicle's middle passes the start of its path.
"""

import math
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag, field_validator, model_validator

from previz import units
from previz.scene.fields import (
    Flux,
    FNumber,
    FrameRate,
    Identity,
    Illuminance,
    LampOutput,
    Length,
    Light,
    LightColour,
    NonNegativeLength,
    Paint,
    Part,
    Place,
    Point2,
    Point3,
    PositiveLength,
    PositiveTime,
    Scale,
    Seed,
    Share,
    Speed,
    Stops,
    Surface,
    Temperature,
    Time,
    quantity,
)
from previz.scene.pieces import MeshPiece, Piece, Scatter, dressing_kind
from previz.scene.real_sizes import VEHICLE_SIZES
from previz.units import QuantityError, shown

# --- the set ---


class Table(Part):
    """The table top: `width` along x, `depth` along y, `height` above the floor."""

    width: PositiveLength
    depth: PositiveLength
    height: NonNegativeLength = 0.74


class Ground(Part):
    """What covers the table. An `image` is laid in tiles `tile` wide; `relief` is the height of banks off the road."""

    surface: Surface = "plain"
    colour: Paint | None = None  # the surface's own unless given
    image: str | None = None
    tile: PositiveLength | None = None
    relief: NonNegativeLength = 0.0
    seed: Seed = 0


class Road(Part):
    """A road along a smooth curve through `centre`; it may run off the table."""

    centre: tuple[Point2, ...] = Field(min_length=2)
    lane: PositiveLength  # usually `3.5 m full size`
    lanes: int = Field(2, ge=1, le=6)
    markings: Literal["dashed", "solid", "none"] = "dashed"
    edges: bool = True  # a line along each edge
    surface: Surface = "asphalt"
    colour: Paint = (0.060, 0.060, 0.063)
    paint: Paint = (0.62, 0.62, 0.58)


class Layer(Part):
    """One painted layer of the backdrop, far ones first: a ridge or skyline up to `height` above the table."""

    shape: Literal["hills", "mountains", "trees", "skyline", "flat", "cranes"]
    height: PositiveLength
    colour: Paint
    roughness: float = Field(0.5, ge=0, le=1)
    lit: float = Field(0.0, ge=0, le=1)  # share of a skyline's windows painted as lit
    seed: Seed = 0


class Painting(Part):
    """What is painted on the backdrop: a sky and layers in front of it. `horizon` is its height above the table."""

    sky: Literal["clear", "overcast", "dusk", "dawn", "night", "snow"] = "overcast"
    horizon: Length = 0.0
    layers: tuple[Layer, ...] = ()
    seed: Seed = 0


class Join(Part):
    """How ground and backdrop meet: straight, or a cove of that radius."""

    cove: NonNegativeLength = 0.0


def _join(found: object) -> object:
    if found == "straight":
        return {}
    if isinstance(found, str) and found.startswith("cove"):
        rest = found.removeprefix("cove").strip()
        return {"cove": float(rest) if rest.replace(".", "", 1).isdigit() else rest}
    if isinstance(found, str):
        raise QuantityError(f"{shown(found)} is not a join; write straight or cove 80 mm")
    return found


class Backdrop(Part):
    """An upright sheet across the set at y = `distance`, `width` wide about the table's middle."""

    distance: PositiveLength
    height: PositiveLength
    width: PositiveLength | None = None  # the table's width
    join: Annotated[Join, BeforeValidator(_join)] = Join()
    painting: Painting | None = None
    image: str | None = None
    colour: Paint | None = None

    @model_validator(mode="after")
    def _one_face(self) -> "Backdrop":
        if sum(face is not None for face in (self.painting, self.image, self.colour)) != 1:
            raise ValueError("give one of painting, image or colour: what is seen on the backdrop")
        return self


class Set(Part):
    """Table, ground, road and backdrop."""

    table: Table
    ground: Ground = Ground()
    road: Road | None = None
    backdrop: Backdrop | None = None


# --- the vehicle ---


class Ramp(Part):
    """The launch ramp: `height` of the vehicle's start above the table, `length` along the slope."""

    height: PositiveLength
    length: PositiveLength
    foot_radius: NonNegativeLength = 0.0
    lip: NonNegativeLength = 0.0

    @model_validator(mode="after")
    def _slope_is_real(self) -> "Ramp":
        if self.length <= self.height:
            raise ValueError(
                f"a ramp {units.text_of(units.LENGTH, self.length)} long cannot rise "
                f"{units.text_of(units.LENGTH, self.height)}; make length (along the slope) larger than height"
            )
        return self


class Launch(Part):
    """A vehicle let go on a ramp that ends at the start of its path.

    `wheel_share` is the wheels' rotational inertia over r^2 as a share of the whole mass; `rolling` the rolling
    resistance coefficient. No published toy-axle figure exists: the defaults are assumptions until measured.
    """

    ramp: Ramp
    wheel_share: Share = 0.08
    rolling: Share = 0.02


class Vehicle(Part):
    """The model that drives. Its `length` follows from `body` and the scale unless given.

    It keeps to the right-hand lane of a two-way road (`keep: left` for the other side); `offset` shifts it further,
    positive to the left of travel. `reverse` drives the road from its last point to its first.
    """

    body: Literal["lorry", "van", "bus", "saloon", "tractor"] | None = None
    mesh: str | None = None
    up: Literal["y", "z"] | None = None
    front: Literal["+x", "-x", "+y", "-y"] = "+x"  # which way a mesh file's vehicle faces, once its up axis is up
    length: PositiveLength | None = None
    colour: Paint = (0.30, 0.03, 0.02)
    path: Literal["road"] | tuple[Point2, ...] = "road"
    keep: Literal["left", "right", "middle"] = "right"
    offset: Length = 0.0
    reverse: bool = False
    speed: Speed | None = None
    launch: Launch | None = None
    headlamps: Flux = 0.0

    @model_validator(mode="after")
    def _complete(self) -> "Vehicle":
        if (self.body is None) == (self.mesh is None):
            raise ValueError("give one of body: or mesh:")
        if self.mesh is not None and self.length is None:
            raise ValueError("a mesh file's unit is not trusted: give length, the model's real length")
        if (self.speed is None) == (self.launch is None):
            raise ValueError("give one of speed: or launch:")
        if self.path != "road" and len(self.path) < 2:
            raise ValueError("a path needs two points or more")
        return self


# --- light ---


class Diffuser(Part):
    """A diffusion frame in front of a lamp: its size, how far from the lamp, and what it costs."""

    size: tuple[PositiveLength, PositiveLength]
    distance: PositiveLength
    loss: Stops = 1.0


class _Emitter(Part):
    id: Identity
    at: Point3
    aim: Point3
    output: LampOutput
    colour: Light = LightColour()
    diffusion: Stops = 0.0  # loss of a gel or sheet on the lamp itself
    mains: bool = False  # fed from the mains without a flicker-free driver

    @model_validator(mode="after")
    def _aimed(self) -> "_Emitter":
        if self.at == self.aim:
            raise ValueError("at and aim are the same point, so the lamp points nowhere")
        return self


class Panel(_Emitter):
    """A soft panel, `panel: [width, height]`, an even Lambertian area."""

    panel: tuple[PositiveLength, PositiveLength]


class Spot(_Emitter):
    """A hard lamp with a beam `spot` wide (full angle), its source `size` across; through a `diffuser` if given."""

    spot: quantity(units.ANGLE, above=0.0, at_most=math.radians(170))  # type: ignore[valid-type]
    size: PositiveLength = 0.02
    diffuser: Diffuser | None = None


class Ambient(Part):
    """Even light from all round above: a white room, an open sky. `ambient` is what an open table top gets."""

    id: Identity
    ambient: Illuminance
    colour: Light = LightColour()


def _light_kind(found: Any) -> str:
    if not isinstance(found, dict):
        return type(found).__name__.lower()
    return next((key for key in ("panel", "spot", "ambient") if key in found), "panel")


AnyLight: Any = Annotated[
    Annotated[Panel, Tag("panel")] | Annotated[Spot, Tag("spot")] | Annotated[Ambient, Tag("ambient")],
    Discriminator(_light_kind),
]

# --- cameras ---

#: Sensor formats by their generic names: width, height [m]. 135: AS ISO 20954.1:2019 3.5 (seen as quoted); the
#: others as commonly tabulated (from memory). Phone types are not standardised; these are typical (from memory).
SENSOR_FORMATS: dict[str, tuple[float, float]] = {
    "full frame": (0.0360, 0.0240),
    "APS-C": (0.0236, 0.0156),
    "4/3-type": (0.0173, 0.0130),
    "1-inch": (0.0132, 0.0088),
    "1/1.3-type": (0.0098, 0.0073),
    "1/2.3-type": (0.00617, 0.00455),
    "1/2.55-type": (0.0056, 0.0042),
}


def _sensor(found: object) -> object:
    if isinstance(found, str):
        if found not in SENSOR_FORMATS:
            raise QuantityError(
                f"{shown(found)} is not a sensor format; use {', '.join(SENSOR_FORMATS)}, or [width, height]"
            )
        return tuple(f"{side * 1000:.6g} mm" for side in SENSOR_FORMATS[found])
    return found


class Zoom(Part):
    """The focal lengths a lens has; a prime has one."""

    shortest: PositiveLength
    longest: PositiveLength

    @model_validator(mode="after")
    def _in_order(self) -> "Zoom":
        if self.longest < self.shortest:
            raise ValueError("a zoom is written shortest-longest, like 8.8-36.8 mm")
        return self


def _lens(found: object) -> object:
    if isinstance(found, str) and "-" in found.strip().lstrip("-"):
        shortest, longest = (end.strip() for end in found.split("-", 1))
        unit = longest.lstrip("0123456789. ")
        return {"shortest": shortest if shortest.lstrip("0123456789. ") else f"{shortest} {unit}", "longest": longest}
    return {"shortest": found, "longest": found} if isinstance(found, str | int | float) else found


class Mode(Part):
    """A capture mode: picture size in pixels, the fastest rate, and the crop of the sensor's width it uses."""

    width: int = Field(ge=16, le=16384)
    height: int = Field(ge=16, le=16384)
    fastest: FrameRate
    crop: float = Field(1.0, ge=1, le=20)


_NAMED_SIZES = {"720p": (1280, 720), "1080p": (1920, 1080), "4k": (3840, 2160), "2160p": (3840, 2160)}


def _mode(found: object) -> object:
    """`1080p120`, `4k30`, `1920x1080 at 120 fps`, or `{mode: 1080p120, crop: 1.3}`."""
    if isinstance(found, dict) and "mode" in found:
        inner = _mode(found["mode"])
        return (
            {**inner, **{key: value for key, value in found.items() if key != "mode"}}
            if isinstance(inner, dict)
            else found
        )
    if not isinstance(found, str):
        return found
    for name, (width, height) in _NAMED_SIZES.items():
        if found.startswith(name) and found[len(name) :]:
            return {"width": width, "height": height, "fastest": found[len(name) :]}
    size, at, rate = found.partition(" at ")
    width_text, times, height_text = size.partition("x")
    if at and times and width_text.strip().isdigit() and height_text.strip().isdigit():
        return {"width": int(width_text), "height": int(height_text), "fastest": rate}
    raise QuantityError(f"{shown(found)} is not a capture mode; write it like 1080p120 or 1920x1080 at 120 fps")


class Camera(Part):
    """A camera with its lens, as its owner knows it."""

    sensor: Annotated[tuple[PositiveLength, PositiveLength], BeforeValidator(_sensor)]
    lens: Annotated[Zoom, BeforeValidator(_lens)]
    widest: FNumber
    smallest: FNumber = 22.0
    nearest: PositiveLength  # nearest focus, from the entrance pupil
    modes: tuple[Annotated[Mode, BeforeValidator(_mode)], ...] = Field(min_length=1)
    blades: int | Literal["round"] = "round"
    readout: PositiveTime | None = None
    pupil_magnification: float = Field(1.0, gt=0.1, lt=10)
    body: tuple[PositiveLength, PositiveLength, PositiveLength] | None = None  # width, height, depth
    lens_size: tuple[PositiveLength, PositiveLength] | None = None  # diameter, length in front of the body
    steadied: Stops = 0.0

    @field_validator("blades")
    @classmethod
    def _enough_blades(cls, blades: int | str) -> int | str:
        if isinstance(blades, int) and not 5 <= blades <= 20:
            raise ValueError(f"{blades} is not in 5 to 20 blades; write round for a round pupil")
        return blades


# --- shots ---


class Target(Part):
    """What is aimed or focused at: a place, a piece by its id, or the vehicle (at a moment, or all along)."""

    place: Place | None = None
    piece: str | None = None
    vehicle: bool = False
    moment: Time | None = None


def _target(found: object) -> object:
    if isinstance(found, list | tuple):
        return {"place": found}
    if isinstance(found, str):
        what, at, moment = found.partition(" at ")
        if what.strip() == "vehicle":
            return {"vehicle": True, "moment": moment if at else None}
        return {"piece": found.strip()}
    return found


AnyTarget: Any = Annotated[Target, BeforeValidator(_target)]


class Focus(Part):
    """Focused at a target, or at a distance from the entrance pupil."""

    target: AnyTarget | None = None
    distance: PositiveLength | None = None


def _focus(found: object) -> object:
    if isinstance(found, int | float) or (isinstance(found, str) and found[:1].isdigit()):
        return {"distance": found}
    return {"target": found} if isinstance(found, str | list | tuple) else found


AnyFocus: Any = Annotated[Focus, BeforeValidator(_focus)]


class PlaceKey(Part):
    """Where the camera is at a time."""

    time: Time
    at: Point3


class AimKey(Part):
    """What it aims at, at a time."""

    time: Time
    at: AnyTarget


class FocusKey(Part):
    """What it is focused on, at a time."""

    time: Time
    at: AnyFocus


def _in_time_order(keys: tuple[Any, ...]) -> tuple[Any, ...]:
    if any(later.time <= earlier.time for earlier, later in pairwise(keys)):
        raise ValueError("keyed times must rise from one key to the next")
    return keys


def keyed(key: Any, single: Any) -> Any:
    """A field that is one value for the whole shot, or a list of keys in rising time."""

    def kind(found: Any) -> str:
        many = isinstance(found, list | tuple) and len(found) > 0 and isinstance(found[0], dict | Part)
        return "keys" if many else "one"

    keys = Annotated[tuple[key, ...], Field(min_length=2)]
    return Annotated[Annotated[keys, Tag("keys")] | Annotated[single, Tag("one")], Discriminator(kind)]


class Shutter(Part):
    """An exposure by shutter angle or by time."""

    angle: quantity(units.ANGLE, above=0.0, at_most=2 * math.pi) | None = None  # type: ignore[valid-type]
    time: PositiveTime | None = None

    @model_validator(mode="after")
    def _one_way(self) -> "Shutter":
        if (self.angle is None) == (self.time is None):
            raise ValueError("give an angle like 180 deg or a time like 1/120 s, one of the two")
        return self


def _shutter(found: object) -> object:
    if isinstance(found, str):
        return {"angle": found} if "deg" in found or "°" in found else {"time": found}
    if isinstance(found, int | float):
        raise QuantityError(f"{shown(found)} has no unit; write an angle like 180 deg or a time like 1/120 s")
    return found


class Capture(Part):
    """How the sensor records: rate, shutter, ISO (or auto) and white balance."""

    rate: FrameRate
    shutter: Annotated[Shutter, BeforeValidator(_shutter)] = Shutter(angle="180 deg")
    iso: Annotated[int, Field(ge=12, le=409600)] | Literal["auto"] = "auto"
    white_balance: Temperature = 5600.0
    exposure: quantity(units.STOPS, at_least=-6, at_most=6, bare=1.0) = 0.0  # type: ignore[valid-type]

    @property
    def exposure_time(self) -> float:
        """Time each frame is exposed. [s]

        Angle over full turn, a frame: 180 deg at 24 fps is 1/48 s.
        """
        if self.shutter.time is not None:
            return float(self.shutter.time)
        assert self.shutter.angle is not None  # a Shutter has one of the two
        return float(self.shutter.angle / (2 * math.pi) / float(self.rate))

    @model_validator(mode="after")
    def _fits_a_frame(self) -> "Capture":
        frame = 1 / float(self.rate)
        if self.exposure_time > frame * (1 + 1e-9):
            raise ValueError(
                f"a shutter of {units.text_of(units.TIME, self.exposure_time)} is longer than a frame at "
                f"{float(self.rate):g} fps ({units.text_of(units.TIME, frame)}); shorten it or lower the rate"
            )
        return self


class Shot(Part):
    """One setup of one camera.

    `at` is where the entrance pupil stands. `start` and `duration` are times on set; the whole run by default.
    """

    id: Identity
    camera: str
    focal_length: PositiveLength
    f_number: FNumber
    at: keyed(PlaceKey, Point3)  # type: ignore[valid-type]
    aim: keyed(AimKey, AnyTarget)  # type: ignore[valid-type]
    focus: keyed(FocusKey, AnyFocus)  # type: ignore[valid-type]
    capture: Capture
    playback: FrameRate = Fraction(24)
    start: Time = 0.0
    duration: PositiveTime | None = None

    _order = field_validator("at", "aim", "focus")(
        lambda keys: _in_time_order(keys) if keys and isinstance(keys, tuple) and isinstance(keys[0], Part) else keys
    )


# --- the whole ---


Dressing: Any = Annotated[
    Annotated[Piece, Tag("piece")] | Annotated[Scatter, Tag("scatter")] | Annotated[MeshPiece, Tag("mesh")],
    Discriminator(dressing_kind),
]


class Scene(Part):
    """A set, what drives through it, what lights it and what films it. Everything is in SI."""

    title: str = Field(min_length=1, max_length=120)
    scale: Scale
    units: Literal["mm", "cm", "m", "in", "ft"] | None = None
    set: Set
    dressing: tuple[Dressing, ...] = ()
    vehicle: Vehicle
    lights: tuple[AnyLight, ...] = Field(min_length=1)
    cameras: dict[str, Camera] = Field(min_length=1)
    shots: tuple[Shot, ...] = Field(min_length=1)

    #: Where the file lies; images and meshes are looked for beside it. Not a key of the file.
    folder: Annotated[Path, Field(exclude=True)] = Path()

    @property
    def vehicle_length(self) -> float:
        """Length of the model vehicle on the table. [m]"""
        if self.vehicle.length is not None:
            return float(self.vehicle.length)
        assert self.vehicle.body is not None  # Vehicle: a mesh must give its length
        return VEHICLE_SIZES[self.vehicle.body][0] / self.scale

    def shot(self, name: str) -> Shot:
        """The shot of that id. Raises KeyError."""
        return next(shot for shot in self.shots if shot.id == name)

    def mode(self, shot: Shot) -> Mode:
        """The largest picture the shot's camera records at the shot's rate."""
        fast_enough = [mode for mode in self.cameras[shot.camera].modes if mode.fastest >= shot.capture.rate]
        return max(fast_enough, key=lambda mode: mode.width * mode.height)
