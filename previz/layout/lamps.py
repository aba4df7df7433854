"""Light from the scene's lamps on a point of the set, in closed form and without shadows.

Illuminance E [lx] falls on a small flat receiver at a point, facing a unit normal. What stands between lamp and point
is not looked at (the renderer does that), and neither is light that the set throws back.
"""

import math

import numpy as np
from numpy.typing import NDArray

from previz.layout.emitters import Ambient, AreaEmitter, SpotEmitter, bulb_of, emitters_of, post_lamps
from previz.physics.colour import LUMINANCE
from previz.physics.photometry import point_illuminance, rectangle_illuminance, spot_profile
from previz.scene import Scene

Array = NDArray[np.float64]


def illuminance(scene: Scene, point: Array, normal: Array) -> dict[str, float]:
    """Illuminance by each lamp's id. [lx]

    Lamps are the scene's lights and lit lamp posts; glowing windows, signs and headlamps are left out.

    Parameters
    ----------
    point, normal : (3,) float
        Of the receiver; the normal is a unit vector. [m], -
    """
    found: dict[str, float] = {}
    for light, emitter in zip(scene.lights, emitters_of(scene), strict=False):
        if isinstance(emitter, Ambient):
            # From the upper half only: a receiver tilted by t sees (1 + cos t) / 2 of it.
            level = math.pi * (1 + float(normal[2])) / 2
            found[light.id] = level * float(LUMINANCE @ emitter.radiance)
        elif isinstance(emitter, AreaEmitter):
            level = rectangle_illuminance(emitter.corners, point, normal)
            found[light.id] = level * float(LUMINANCE @ emitter.radiance)
        elif isinstance(emitter, SpotEmitter):
            way = point - np.array(emitter.centre)
            cosine = float(np.clip(way @ np.array(emitter.axis) / np.linalg.norm(way), -1, 1))
            level = float(spot_profile(math.acos(cosine), emitter.angle))
            intensity = float(LUMINANCE @ emitter.intensity)
            found[light.id] = level * point_illuminance(intensity, np.array(emitter.centre), point, normal)
    for name, lamp in post_lamps(scene):
        intensity = float(LUMINANCE @ bulb_of(lamp).intensity)
        level = point_illuminance(intensity, np.array(lamp.centre), point, normal)
        found[name] = found.get(name, 0.0) + level
    return found
