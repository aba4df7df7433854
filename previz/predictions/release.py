"""Where to let the vehicle go on its ramp: high enough for a speed, and never so low that it stops on its way."""

import math
from dataclasses import dataclass, replace

from previz.layout import chassis_of, measured, profile_of, travel_of, vehicle_path
from previz.physics import pacing, ramp
from previz.predictions.findings import Change, Notes
from previz.scene import Launch, Scene
from previz.units import SPEED

#: Slope of a ramp that is longer than the one there is [rad], and the share of its energy that a vehicle should have
#: left at the end of its path. Common practice, no source.
_SLOPE, _SPARE = math.radians(20), 0.1

#: Speeds on screen for which release heights are told.
_HOURLY = {"km/h": (20, 30, 40, 50, 60, 80), "mph": (15, 20, 25, 35, 45, 55)}


@dataclass(frozen=True)
class Release:
    """A remedy: what to do in words that begin a sentence, the keys it writes, and the launch with them written.

    raised says that the speed asked for would not take the vehicle to the end of its path, and this does.
    """

    words: str
    changes: list[Change]
    launch: Launch
    raised: bool

    def into(self, scene: Scene) -> Scene:
        """The scene with this launch."""
        assert scene.vehicle is not None
        vehicle = scene.vehicle.model_copy(update={"launch": self.launch})
        return scene.model_copy(update={"vehicle": vehicle})


def stops_short(scene: Scene) -> bool:
    """Whether a launched vehicle comes to rest before the end of its path."""
    travel = travel_of(scene)
    if scene.vehicle is None:
        return False
    return scene.vehicle.launch is not None and travel.distance(travel.stops_at) < vehicle_path(scene).length


def least_speed(scene: Scene) -> float:
    """Speed off the ramp that takes a launched vehicle to the end of its path, moving still. [m/s]"""
    return math.sqrt(2 * travel_of(scene).deceleration * vehicle_path(scene).length * (1 + _SPARE))


def release_for(scene: Scene, speed: float = 0.0) -> Release:
    """How to get a speed off the ramp [m/s], or as much as takes the vehicle to the end of its path.

    A ramp that is too short for it is made longer; with wheels that no ramp gets that far there is nothing to write.
    """
    written = scene.vehicle.launch if scene.vehicle is not None else None
    assert written is not None  # asked of launched vehicles only
    launch, least = measured(scene), least_speed(scene)
    wanted, profile = max(speed, least), profile_of(launch.ramp)
    losses = (launch.wheel_share, launch.rolling, chassis_of(scene))
    length = profile.length
    try:
        height = _marked(scene, ramp.height_for_speed(wanted, profile, *losses))
        words, longer = f"Release from {scene.tape(height)} on the ramp", []
    except ramp.TooShort:
        try:
            length = math.ceil(ramp.length_for_speed(wanted, _SLOPE, profile, *losses) * 100) / 100
            height = _marked(scene, ramp.height_for_speed(wanted, replace(profile, length=length), *losses))
        except ramp.TooShort:
            return Release("Mend its axles, as no ramp is long enough", [], written, speed < least)
        words = f"Make the ramp {scene.tape(length)} long and release from {scene.tape(height)}"
        longer = [Change("vehicle.launch.ramp.length", scene.tape.written(length, 0))]
    changes = [*longer, Change("vehicle.launch.ramp.height", scene.tape.written(height))]
    new = written.ramp.model_copy(update={"height": height, "length": length})
    return Release(words, changes, written.model_copy(update={"ramp": new}), speed < least)


def ramp_for(speed: float, chassis: ramp.Chassis) -> tuple[float, float]:
    """Height and length of a plain slope for a speed at its foot, with the losses that are assumed of any. [m]

    Raises ramp.TooShort where none is long enough.
    """
    share, rolling = (Launch.model_fields[name].default for name in ("wheel_share", "rolling"))
    length = ramp.length_for_speed(speed, _SLOPE, ramp.Profile(0.1, 0.5), share, rolling, chassis)
    return length * math.sin(_SLOPE), length


def _marked(scene: Scene, height: float) -> float:
    """A height as it is written and let go from: no lower, and in inches on a mark. [m]"""
    return scene.tape.up(height) if scene.tape.column == "in" else height


def note_releases(scene: Scene, distance: float, where: str, notes: Notes) -> None:
    """Release heights for speeds on screen, so far along the path [m], at the first shot's slowdown.

    where: what that place is called. Nothing of a vehicle that does not get off its ramp.
    """
    if travel_of(scene).speed_at_start == 0:
        return
    launch, shot = measured(scene), scene.shots[0]
    slow = pacing.slowdown(float(shot.capture.rate), float(shot.playback))
    lost = 2 * launch.rolling * ramp.GRAVITY * max(distance, 0.0) / (1 + launch.wheel_share)
    unit = scene.tape.road_unit
    for hourly in _HOURLY[unit]:
        on_set = float(pacing.set_speed(hourly * SPEED.factors[unit], scene.vehicle_scale, slow))
        try:
            height = ramp.height_for_speed(
                math.sqrt(on_set**2 + lost),
                profile_of(launch.ramp),
                launch.wheel_share,
                launch.rolling,
                chassis_of(scene),
            )
        except ramp.TooShort:
            return
        notes.figure("height_for_speed", height, f"{hourly} {unit} on screen in {shot.id}, {where}")
