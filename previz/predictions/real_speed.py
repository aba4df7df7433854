"""A vehicle's speed that is one of the road, given as if it drove so fast on the table."""

import math
from collections.abc import Iterator

from previz import units
from previz.errors import ShotFault
from previz.layout import vehicle_path
from previz.physics.pacing import apparent_speed, slowdown
from previz.physics.ramp import GRAVITY
from previz.scene import ON_SCREEN, Scene, Shot

#: What its tyres hold, of its weight: sped up over half of its way and braked over the other half, a model is no
#: faster than that lets it be. Rubber on a dry road holds about its weight. Common practice, no source.
_GRIP = 1.0

#: Who means a speed on the table writes it by the second.
_OF_THE_ROAD = ("km/h", "mph")


def refuse_real_speed(scene: Scene, shot: Shot) -> None:
    """Raise ShotFault where the vehicle's speed is no model's on this table, but one of the road: as it is to look.

    Nothing else can be said of the shot then: its light, focus and lens would be measured at places that the vehicle
    never sees.
    """
    vehicle, written = scene.vehicle, _speed_written(scene)
    if vehicle is None or vehicle.speed is None or written is None or ON_SCREEN.fullmatch(written):
        return
    if units.unit_of(units.SPEED, written) not in _OF_THE_ROAD:
        return
    speed = float(vehicle.speed)
    way = max(vehicle_path(scene).length, math.hypot(scene.set.table.width, scene.set.table.depth))
    most = math.sqrt(_GRIP * GRAVITY * way)
    if speed <= most:
        return
    looks = apparent_speed(speed, scene.vehicle_scale, slowdown(float(shot.capture.rate), float(shot.playback)))
    road = scene.tape.road
    raise ShotFault(
        shot.id,
        "speed",
        f"the vehicle's speed of {written} is {scene.pace(speed)} on the table and looks like {road(looks)} on screen; "
        f"over a way of {scene.tape(way)}, from a stop to a stop, no model does more than {scene.pace(most)}",
        f"Did you mean speed: {written} on screen? Else drive slower",
        quantity="set_speed",
        value=speed,
        limit=most,
    )


def _speed_written(scene: Scene) -> str | None:
    """The subject's speed as its file has it; None of a scene that no file stands behind."""
    vehicle = scene.written.root.child("vehicle") if scene.written is not None else None
    speed = vehicle.child("speed") if vehicle is not None else None
    return speed.value.strip() if speed is not None and isinstance(speed.value, str) else None


def ways_as_it_looks(scene: Scene, shot: Shot) -> Iterator[tuple[str, str]]:
    """What asks whether a speed on set is meant as it looks, and what is then written; last in that shot alone."""
    written = _speed_written(scene)
    for where in ("", f" in {shot.id}") if written is not None else ():
        meant = f"{written} on screen{where}"
        yield f"Did you mean speed: {meant}?", meant
