"""The shot as its maker wrote it, in SI: what every other room starts from.

World frame: origin at the front-left corner of the table top seen from the camera side, x right, y away from the
viewer, z up. Time 0 is when the vehicle's middle passes the start of its path; of a launched one, its ramp's foot;
unless the vehicle has a `start` of its own.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import ConfigDict, Field
from pydantic.json_schema import SkipJsonSchema

from previz.scene.cameras import Mode
from previz.scene.evening import Evening
from previz.scene.fields import FileName, FileUnits, Part, Scale, by_name, parsed, series, told
from previz.scene.kit import BareUnit, Cameras, Title
from previz.scene.lights import AnyLight
from previz.scene.no_choice import with_camera
from previz.scene.pieces import Dressing
from previz.scene.real_sizes import VEHICLE_SIZES
from previz.scene.sequence import Sequence
from previz.scene.shots import Shot
from previz.scene.stage_set import Set
from previz.scene.vehicle import VEHICLE, Vehicle
from previz.scene.wants import USUAL_WANTS, MayChange, ScreenSpeed, Want, Wants
from previz.units import SCALE_NAMES, QuantityError, Tape, shown, speed_on_tape


def _mains(found: object) -> int:
    frequencies = {f"{hertz} Hz": hertz for hertz in (50, 60)}
    if isinstance(found, str) and " ".join(found.split()) in frequencies:
        return frequencies[" ".join(found.split())]
    which = "; which lamps it feeds, each lamp says (mains: true)" if isinstance(found, bool) else ""
    raise QuantityError(f"{shown(found)} is not a mains frequency; write 50 Hz or 60 Hz{which}")


Mains: Any = parsed(_mains, int, "mains frequency", "50 Hz", r"(?:50|60)\s+Hz", lambda hertz: f"{hertz} Hz", bare=False)
Lights: Any = series(AnyLight, at_least=1, what="lights", example="[{id: room, ambient: 200 lx}]")
Shots: Any = series(Shot, at_least=1, what="shots", example="[{id: pass, camera: pocket, …}]")
Vehicles: Any = by_name(Vehicle, "vehicles", "{oncoming: {body: saloon, reverse: true, speed: 0.9 m/s}}")
Pieces: Any = series(Dressing, what="pieces", example="[{id: shed, piece: building, at: [300 mm, 500 mm]}]")


def _cameras_from_a_kit(schema: dict[str, Any]) -> None:
    """An editor asks for cameras or a kit; the reader puts the kit's cameras in place before it reads the scene."""
    schema["required"].remove("cameras")
    schema["anyOf"] = [{"required": ["cameras"]}, {"required": ["kit"]}]


class Scene(Part):
    """A set, what drives through it, what lights it and what films it."""

    model_config = ConfigDict(json_schema_extra=_cameras_from_a_kit)

    title: Title = told("what to call it")
    scale: Scale = told(
        f"of the models: a ratio, its letters ({', '.join(SCALE_NAMES)}: with a nought those of NEM 010, with an O "
        "those of NMRA S-1.2; OO and 00 4 mm to the foot), or two lengths, 72 mm for 4.5 m"
    )
    units: BareUnit | None = told("what a bare length means", None, unless="every length carries its own")
    set: Set = told("the table and what it becomes", like="{table: {width: 1400 mm, depth: 700 mm}}")
    dressing: Pieces = told("what stands on the set", ())
    vehicle: Vehicle | None = told(
        "what drives", None, unless="none: the set alone", like="{body: lorry, speed: 0.9 m/s}"
    )
    vehicles: Vehicles | None = told(
        "what else drives, by name; a shot that follows one of them says so with subject", None, unless="none"
    )
    lights: Lights = told("lamps, and the light of the room")
    mains: Mains | None = told("frequency of the supply: 50 Hz or 60 Hz", None, unless="lamps are looked at for both")
    cameras: Cameras = told("each with its lens; or a kit of them")
    kit: FileName | None = told(
        "a file of cameras (title, units, cameras) that scenes share", None, unless="none", like="kit.yaml"
    )
    shots: Shots = told("what is filmed")
    sequence: Sequence | None = told("the running order of the cut", None, unless="all shots, whole, in their order")
    sound: FileName | None = told(
        "what is heard in the cut, a WAV file beside the scene", None, unless="silence", like="engine.wav"
    )
    wants: Wants = told("what advice goes by, the most important first", USUAL_WANTS)
    may_change: MayChange = told("what advice may change", MayChange(), like="{focal_length: 16 to 35 mm, height: no}")
    evening: Evening = told("how long takes and moves take", Evening(), like="{take: 2 min, camera: 8 min}")

    @classmethod
    def spelled_out(cls, found: Mapping[Any, Any], file: FileUnits) -> Mapping[Any, Any]:
        """Shots with what only their cameras know."""
        shots, cameras = found.get("shots"), found.get("cameras")
        if not isinstance(shots, list):
            return found
        known = [with_camera(each, cameras, file) if isinstance(each, dict) else each for each in shots]
        return {**found, "shots": known}

    #: Where the file lies; images and meshes are looked for beside it. Not a key of the file.
    folder: Annotated[SkipJsonSchema[Path], Field(exclude=True)] = Path()

    #: The unit of the maker's tape, mm, cm, in or ft: the one most lengths of the file are in. Not a key of the file.
    tape_unit: Annotated[SkipJsonSchema[str], Field(exclude=True)] = "mm"

    #: Which of its vehicles `vehicle` is, as a shot's subject names it. Not a key of the file.
    subject: Annotated[SkipJsonSchema[str], Field(exclude=True)] = VEHICLE

    #: What it was read from, for `rewritten`; None of a scene that is not as any file has it. Not a key of the file.
    written: Annotated[SkipJsonSchema[Any], Field(exclude=True, repr=False)] = None

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """As pydantic's. A copy with other values is not what the file says, and so it forgets the file."""
        forgotten = {"written": None} if update else {}
        return super().model_copy(update={**forgotten, **(update or {})}, deep=deep)

    @property
    def vehicle_length(self) -> float:
        """Length of the model vehicle on the table. [m] Asked of a scene that has one."""
        assert self.vehicle is not None
        if self.vehicle.length is not None:
            return float(self.vehicle.length)
        assert self.vehicle.body is not None  # Vehicle: a mesh must give its length
        return VEHICLE_SIZES[self.vehicle.body][0] / self.vehicle_scale

    @property
    def vehicle_scale(self) -> float:
        """S of 1:S of the vehicle; where none drives, of the set."""
        return self.scale_of(self.vehicle)

    def scale_of(self, thing: Any) -> float:
        """S of 1:S of a piece or vehicle of this scene: its own, where it has one, else the set's."""
        return float(getattr(thing, "scale", None) or self.scale)

    @property
    def tape(self) -> Tape:
        """The maker's tape: `tape(length)` tells a length [m] as it is read off it, and as a file may have it."""
        return Tape(self.tape_unit)

    def pace(self, speed: float) -> str:
        """A speed on the table [m/s] for people, in the unit that goes with the maker's tape."""
        return speed_on_tape(speed, self.tape_unit)

    def shot(self, name: str) -> Shot:
        """The shot of that id. Raises KeyError."""
        for shot in self.shots:
            if shot.id == name:
                return shot
        raise KeyError(name)

    def wants_of(self, shot: Shot) -> tuple[Want, ...]:
        """What is wanted of a shot, the most important first.

        A speed that is wanted of all shots is of those in which the vehicle is to drive.
        """
        still = self.vehicle is not None and self.vehicle.stands
        return tuple(
            want
            for want in self.wants
            if want.shot == shot.id or (want.shot is None and not (still and isinstance(want, ScreenSpeed)))
        )

    def mode(self, shot: Shot) -> Mode:
        """The mode the shot names, or the largest picture its camera records at the shot's rate.

        `read_scene` saw that there is one.
        """
        modes, named = self.cameras[shot.camera].modes, shot.capture.mode
        if named is not None:
            return next(mode for mode in modes if mode.same_as(named))
        found = self.cameras[shot.camera].mode_for(shot.capture.rate)
        assert found is not None  # as it saw
        return found
