"""Light from the scene's lamps on a point of the set, in closed form and without shadows.

Illuminance E [lx] falls on a small flat receiver at a point, facing a unit normal. What stands between lamp and point
is not looked at (the renderer does that), and neither is light that the set throws back.
"""

import math

import numpy as np
from numpy.typing import NDArray

from previz.layout.emitters import Ambient, AreaEmitter, SpotEmitter, emitters_of
from previz.layout.outlines import piece_size, standing_places
from previz.physics.colour import LUMINANCE
from previz.physics.photometry import point_illuminance, rectangle_illuminance, spot_profile
from previz.scene import LampPost, Scene

Array = NDArray[np.float64]

#: Arm of a lamp post not given, full size, as `scene/pieces.py` states it. [m]
_ARM = 1.6


def illuminance(scene: Scene, point: Array, normal: Array) -> dict[str, float]:
    """Illuminance by each lamp's id. [lx]

    Lamps are the scene's lights and lit lamp posts; glowing windows, signs and headlamps are left out.

    Parameters
    ----------
    point, normal : (3,) float
        Of the receiver; the normal is a unit vector. [m], -
    """
    found: dict[str, float] = {}
    for light, emitter in zip(scene.lights, emitters_of(scene, ()), strict=True):
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
    for piece in scene.dressing:
        if isinstance(piece, LampPost) and piece.lit > 0:
            found[piece.id] = _posts(piece, scene, point, normal)
    return found


def _posts(piece: LampPost, scene: Scene, point: Array, normal: Array) -> float:
    """Bulbs that shine evenly all round, flux over 4 pi, at the ends of their arms."""
    size = piece_size(piece, scene.scale)
    assert size is not None  # a lamp post has a size
    arm = piece.arm if piece.arm is not None else _ARM / scene.scale
    total = 0.0
    for (x, y, z), turn in standing_places(piece, scene):
        head = np.array([x + arm * math.cos(turn), y + arm * math.sin(turn), z + size[2]])
        total += point_illuminance(piece.lit / (4 * math.pi), head, point, normal)
    return total
