"""What the shot's exposure goes by: the light on what the camera sees of the vehicle, as baked."""

from typing import TYPE_CHECKING

import numpy as np

from previz.frames.moving import Moving
from previz.light import meter, seen_places
from previz.physics.colour import LUMINANCE
from previz.scene import Scene, Shot
from previz.stage import Station

if TYPE_CHECKING:
    from previz.stage import Stage

_RAYS = 1024  # the light they find on the vehicle differs from that of four times as many by less than 0.01 stop


def light_seen(scene: Scene, stage: "Stage", shot: Shot, moving: Moving, station: Station) -> float:
    """Mean illuminance mid-shot of what the camera sees, each part by how much of the picture it takes. [lx]

    Of a set without a vehicle as the light meter of the figures has it.
    `station` is the vehicle's light there, `Moving.middle_station`'s.
    """
    camera, vehicle = moving.at(moving.typical[1], 0.0)
    if scene.vehicle is None:
        return meter(scene, shot, camera, None).vehicle.total
    corners, faces = stage.vehicle.whole
    world = corners @ vehicle.world_from_vehicle[:3, :3].T + vehicle.position
    triangle, _ = seen_places(scene, shot, camera, world, faces, stage, _RAYS)
    light = station.body[faces[triangle]] if len(triangle) else station.body
    return float(np.mean(light @ LUMINANCE)) if len(light) else 0.0
