"""Light from lamps of simple shape, in closed form: what falls on a small flat receiver, and what leaves a spot.

What stands between lamp and receiver is not looked at here.
"""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.physics.smooth import eased

Array = NDArray[np.float64]

#: Share of a spot's half angle over which its beam falls off at its edge. Common practice, no source.
SOFT_EDGE = 0.15


def spot_profile(off_axis: Any, beam: float) -> Any:
    """Relative intensity of a spot: 1 inside, falling smoothly to 0 at the edge of its beam. What `spot` means.

    Parameters
    ----------
    off_axis : float or (n,) float
        Angle off its axis; arrays in give an array out. [rad]
    beam : float
        Full angle, edge to edge. [rad]

    Examples
    --------
    >>> spot_profile(0.0, 1.0), spot_profile(0.5, 1.0), spot_profile(0.9, 1.0)
    (1.0, 0.0, 0.0)
    """
    edge = beam / 2
    rise = (edge - off_axis) / (SOFT_EDGE * edge)
    # Cut to 0..1 by arithmetic alone, which numbers and arrays understand alike.
    rise = rise * (rise > 0)
    inside = 1 + (rise - 1) * (rise < 1)
    return eased(inside)


def flux_per_intensity(beam: float) -> float:
    """Luminous flux of a spot over the intensity on its axis: its profile integrated over the cone. [lm per cd]

    Parameters
    ----------
    beam : float
        Full angle, edge to edge. [rad]

    Examples
    --------
    A cone of 60 degrees with a hard edge would hold 2 pi (1 - cos 30) = 0.8418:

    >>> round(flux_per_intensity(math.radians(60)), 4)
    0.7235
    """
    angles = np.linspace(0.0, beam / 2, 2001)
    return float(2 * math.pi * np.trapezoid(spot_profile(angles, beam) * np.sin(angles), angles))


def mean_through_frame(size: tuple[float, float], distance: float, beam: float) -> float:
    """Mean illuminance on a frame square to the axis of a spot of unit intensity. [lx per cd]

    Parameters
    ----------
    size : (2,) float
        Width and height of the frame, whose middle is on the axis. [m]
    distance : float
        From the lamp. [m]
    beam : float
        [rad]

    Examples
    --------
    >>> round(mean_through_frame((0.02, 0.02), 1.0, 1.0), 4)
    0.9999
    """
    across, up = (side * (np.arange(400) + 0.5) / 400 - side / 2 for side in size)
    off_axis = np.hypot(across[:, None], up[None, :])
    away = np.hypot(off_axis, distance)
    profile = spot_profile(np.arctan2(off_axis, distance), beam)
    return float(np.mean(profile * distance / away**3))


def polygon_factor(corners: Array, points: NDArray[Any], normals: NDArray[Any]) -> Array:
    """Illuminance at points from an unhidden polygon of unit luminance. (n,) [lx per cd/m2]

    Lambert's formula: half the sum over the edges of their angle times the cosine to the edge's plane. Right where the
    whole polygon is above the point's horizon; behind the polygon the value is negative.

    Parameters
    ----------
    corners : (k, 3) float
        Counter-clockwise seen from its lit side. [m]
    points, normals : (n, 3) float
        [m], unit vectors

    Source: Lambert 1760, as in Baum, Rushmeier and Winget, SIGGRAPH 1989 (from memory).
    """
    rays = corners[:, None, :] - np.asarray(points, dtype=np.float64)
    total = np.zeros(len(points))
    for this, after in zip(rays, np.roll(rays, -1, axis=0), strict=True):
        across = np.cross(this, after)
        sine = np.sqrt(np.einsum("ni,ni->n", across, across))
        angle = np.arctan2(sine, np.einsum("ni,ni->n", this, after))
        total -= angle / np.maximum(sine, 1e-30) * np.einsum("ni,ni->n", across, normals)
    return total / 2


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

    Source: Lambert 1760, as in Baum, Rushmeier and Winget, SIGGRAPH 1989 (from memory); the tests hold it against the
    closed form of a Lambertian disc on its axis, pi R^2 / (R^2 + h^2), and against numerical integration.

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
    return abs(float(polygon_factor(rays, np.zeros((1, 3)), np.asarray(normal, dtype=float)[None])[0]))


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
