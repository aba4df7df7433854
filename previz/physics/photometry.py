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
