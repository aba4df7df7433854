"""Light from the scene's lamps on a point of the set, in closed form and without shadows.

Illuminance E [lx] falls on a small flat receiver at a point, facing a unit normal. What stands between lamp and point
is not looked at (the renderer does that), and neither is light that the set throws back.
"""

import math

import numpy as np
from numpy.typing import NDArray

from previz.predictions.outlines import piece_size, standing_places
from previz.scene import Ambient, LampPost, Panel, Scene, Spot, spot_profile

Array = NDArray[np.float64]

#: Arm of a lamp post not given, full size, as `scene/pieces.py` states it. [m]
_ARM = 1.6


def rectangle_illuminance(corners: Array, point: Array, normal: Array) -> float:
    """Illuminance from an even Lambertian polygon of luminance 1. [lx per cd/m2]

    Lambert's formula on the part of the polygon above the receiver's horizon: half the sum over its edges of the angle
    each subtends times the cosine between the receiver's normal and the normal of the plane through edge and point.

    Parameters
    ----------
    corners : (k, 3) float
        Counter-clockwise seen from its lit side; a point behind that gets nothing. [m]
    point, normal : (3,) float
        Of the receiver; the normal is a unit vector. [m], -

    Source: Lambert 1760, as in Baum, Rushmeier and Winget, SIGGRAPH 1989 (from memory); `tests` hold it against the
    disc of checks.md E19 and against numerical integration.

    Examples
    --------
    A square 2 m wide, 1 m straight above; a sky of luminance 1 would give pi. 4/sqrt(2) atan(1/sqrt(2)) by hand:

    >>> square = np.array([[-1, -1, 1.0], [-1, 1, 1], [1, 1, 1], [1, -1, 1]])
    >>> round(rectangle_illuminance(square, np.zeros(3), np.array([0, 0, 1.0])), 4)
    1.7408
    """
    corners = np.asarray(corners, dtype=float)
    lit = np.cross(corners[1] - corners[0], corners[2] - corners[1])
    if lit @ (point - corners[0]) <= 0:
        return 0.0
    rays = _above_horizon(corners - point, normal)
    if len(rays) < 3:
        return 0.0
    rays = rays / np.linalg.norm(rays, axis=1, keepdims=True)
    ahead = np.roll(rays, -1, axis=0)
    across = np.cross(rays, ahead)
    sine = np.linalg.norm(across, axis=1)
    angle = np.arctan2(sine, np.einsum("ij,ij->i", rays, ahead))
    weight = np.where(sine > 1e-12, angle / np.maximum(sine, 1e-12), 1.0)
    return abs(float(weight @ (across @ normal))) / 2


def _above_horizon(rays: Array, normal: Array) -> Array:
    """The polygon cut by the receiver's plane (Sutherland and Hodgman, one plane)."""
    kept: list[Array] = []
    heights = rays @ normal
    for i, (ray, height) in enumerate(zip(rays, heights, strict=True)):
        before, below = rays[i - 1], heights[i - 1]
        if (height > 0) != (below > 0):
            kept.append(before + (ray - before) * below / (below - height))
        if height > 0:
            kept.append(ray)
    return np.array(kept)


def point_illuminance(intensity: float, source: Array, point: Array, normal: Array) -> float:
    """Illuminance from a small lamp: I cos(theta) / d^2, zero from behind the receiver. [lx]

    Source: CIE e-ILV term 912 (photometric distance law); good to 1 % from five diameters on.

    Examples
    --------
    >>> point_illuminance(100.0, np.array([0, 0, 2.0]), np.zeros(3), np.array([0, 0, 1.0]))
    25.0
    """
    away = source - point
    distance = float(np.linalg.norm(away))
    return intensity * max(float(away @ normal), 0.0) / distance**3


def spot_intensity(spot: Spot) -> float:
    """Luminous intensity on a spot's axis behind its own diffusion. [cd]

    From flux: the profile integrated over its cone; from `1500 lx at 1 m`: E d^2.
    """
    through = 2.0**-spot.diffusion
    if spot.output.flux is None:
        return float(spot.output.axis_illuminance * spot.output.axis_distance**2 * through)
    angles = np.linspace(0.0, spot.spot / 2, 2001)
    cone = 2 * math.pi * float(np.trapezoid(spot_profile(angles, spot.spot) * np.sin(angles), angles))
    return float(spot.output.flux / cone * through)


def illuminance(scene: Scene, point: Array, normal: Array) -> dict[str, float]:
    """Illuminance by each lamp's id. [lx]

    Lamps are the scene's lights and lit lamp posts; glowing windows, signs and headlamps are left out.

    Parameters
    ----------
    point, normal : (3,) float
        Of the receiver; the normal is a unit vector. [m], -
    """
    found: dict[str, float] = {}
    for light in scene.lights:
        if isinstance(light, Ambient):
            # Radiance E/pi from the upper half only: a receiver tilted by t sees (1 + cos t) / 2 of it.
            found[light.id] = float(light.ambient) * (1 + float(normal[2])) / 2
        elif isinstance(light, Panel):
            found[light.id] = _panel(light, point, normal)
        elif light.diffuser is not None:
            found[light.id] = _diffused(light, point, normal)
        else:
            found[light.id] = _spot(light, point, normal)
    for piece in scene.dressing:
        if isinstance(piece, LampPost) and piece.lit > 0:
            found[piece.id] = _posts(piece, scene, point, normal)
    return found


def _panel(light: Panel, point: Array, normal: Array) -> float:
    corners = _rectangle(np.array(light.at), np.array(light.aim), light.panel)
    through = 2.0**-light.diffusion
    if light.output.flux is not None:
        luminance = light.output.flux / (math.pi * light.panel[0] * light.panel[1])
    else:
        axis = _unit(np.array(light.aim) - np.array(light.at))
        before = np.array(light.at) + axis * light.output.axis_distance
        luminance = light.output.axis_illuminance / rectangle_illuminance(corners, before, -axis)
    return float(luminance * through * rectangle_illuminance(corners, point, normal))


def _spot(light: Spot, point: Array, normal: Array) -> float:
    axis = _unit(np.array(light.aim) - np.array(light.at))
    cosine = float(np.clip(_unit(point - np.array(light.at)) @ axis, -1, 1))
    profile = float(spot_profile(math.acos(cosine), light.spot))
    return spot_intensity(light) * profile * point_illuminance(1.0, np.array(light.at), point, normal)


def _diffused(light: Spot, point: Array, normal: Array) -> float:
    """The diffusion frame becomes the source: what the beam throws on it leaves it evenly, less its loss."""
    frame = light.diffuser
    assert frame is not None  # the caller has looked
    axis = _unit(np.array(light.aim) - np.array(light.at))
    corners = _rectangle(
        np.array(light.at) + axis * frame.distance, np.array(light.aim) + axis * frame.distance, frame.size
    )
    u, v = ((np.arange(200) + 0.5) / 200 * side - side / 2 for side in frame.size)
    off = np.hypot(u[:, None], v[None, :])
    reach = np.hypot(off, frame.distance)
    on_it = spot_profile(np.arctan2(off, frame.distance), light.spot) * frame.distance / reach**3
    luminance = spot_intensity(light) * float(on_it.mean()) / math.pi * 2.0**-frame.loss
    return float(luminance * rectangle_illuminance(corners, point, normal))


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


def _rectangle(centre: Array, aim: Array, size: tuple[float, float]) -> Array:
    """Corners (4, 3) of a level rectangle, counter-clockwise seen from where it shines."""
    axis = _unit(aim - centre)
    level = np.array([-axis[1], axis[0], 0.0])
    across = _unit(level) if np.linalg.norm(level) > 1e-6 else np.array([1.0, 0.0, 0.0])
    half_u, half_v = across * size[0] / 2, np.cross(axis, across) * size[1] / 2
    return np.stack(
        [centre - half_u - half_v, centre + half_u - half_v, centre + half_u + half_v, centre - half_u + half_v]
    )


def _unit(vector: Array) -> Array:
    return np.asarray(vector / np.linalg.norm(vector))
