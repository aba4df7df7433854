"""Light on a flat receiver with nothing in its way, by another road than the baked light takes.

A panel is summed over 400 x 400 patches, bulbs and spots go by the inverse square and the cosine (CIE e-ILV 17-26-027,
photometric distance law, its number from memory), even light by the share of the upper half that is seen.
"""

import math

import numpy as np

from previz.layout.emitters import Ambient, AreaEmitter, Emitter, SpotEmitter
from previz.physics.photometry import spot_profile


def illuminance(emitters: list[Emitter], point: np.ndarray, normal: np.ndarray, weights: np.ndarray) -> float:
    """[lx] at a point [m] facing a unit normal; weights (3,) make luminance of RGB."""
    return sum(_of(emitter, point, normal, weights) for emitter in emitters)


def _of(emitter: Emitter, point: np.ndarray, normal: np.ndarray, weights: np.ndarray) -> float:
    if isinstance(emitter, Ambient):
        # From the upper half only: a receiver tilted by t sees (1 + cos t) / 2 of it.
        return math.pi * (1 + float(normal[2])) / 2 * float(weights @ emitter.radiance)
    if isinstance(emitter, AreaEmitter):
        return _of_panel(np.array(emitter.corners), point, normal) * float(weights @ emitter.radiance)
    way = np.array(emitter.centre) - point
    reach = float(np.linalg.norm(way))
    intensity = float(weights @ emitter.intensity)
    if isinstance(emitter, SpotEmitter):
        cosine = float(np.clip(-way @ np.array(emitter.axis) / reach, -1, 1))
        intensity *= float(spot_profile(math.acos(cosine), emitter.angle))
    return intensity * max(float(way @ normal), 0.0) / reach**3


def _of_panel(corners: np.ndarray, point: np.ndarray, normal: np.ndarray) -> float:
    step = (np.arange(400) + 0.5) / 400
    u, v = np.meshgrid(step, step)
    a, b = corners[1] - corners[0], corners[3] - corners[0]
    away = corners[0] + u[..., None] * a + v[..., None] * b - point
    square = np.einsum("ijk,ijk->ij", away, away)
    size = float(np.linalg.norm(np.cross(a, b)))
    lit = np.cross(a, b) / size
    leaves, lands = np.maximum(-(away @ lit), 0), np.maximum(away @ normal, 0)
    return float((leaves * lands / square**2).mean() * size)
