"""How far from its place a lens puts light: diffraction at the stop, and what glass, edges and barrel scatter."""

import math
from typing import cast

import numpy as np
from numpy.typing import NDArray

from previz.physics.exposure import focal_plane_exposure, level_of

Array = NDArray[np.float64]

#: Green, to which the eye is most sensitive. [m]
_GREEN = 550e-9

#: Where scattered light falls: from this share of the picture's width to that, as much in each doubling of the
#: distance, so that its density falls with the square. Common practice, no source.
VEIL_FROM, VEIL_TO = 1 / 1000, 1 / 8


def diffracted_beyond(radius: Array, working_f_number: float, wavelength: float = _GREEN) -> Array:
    """The share of a point's light that a round stop diffracts further than a radius [m] on the sensor.

    J0(x)^2 + J1(x)^2 with x = pi r / (wavelength N): Rayleigh 1881, as in Born and Wolf, Principles of Optics, 8.5.2.

    >>> first_dark_ring = np.array([1.22 * 550e-9 * 8])
    >>> diffracted_beyond(first_dark_ring, 8.0).round(3).tolist()
    [0.162]
    """
    from scipy.special import j0, j1  # here: a check need not wait for it

    x = math.pi * np.asarray(radius) / (wavelength * working_f_number)
    return cast("Array", j0(x) ** 2 + j1(x) ** 2)


def glare_radius(
    intensity: float, exposure_time: float, working_f_number: float, iso: float, scattered: float, magnification: float
) -> float:
    """How far round a small lamp in focus the picture is white by what the lens puts beside it, at that lamp. [m]

    The lamp's image has the light of a surface of luminance 1 with as many square metres as it has candelas. Of that
    lies at a radius r on the sensor, for every square metre, (s / ln(VEIL_TO / VEIL_FROM) + 2 l N / (pi^2 r)) /
    (2 pi r^2): what is scattered, as `veiled_beyond` has it, and what the stop diffracts, the far end of
    `diffracted_beyond`. The picture is white where that fills the sensor. Outside the ends of the veil it is too much.

    Parameters
    ----------
    intensity : float
        Towards the camera. [cd]
    exposure_time : float
        [s]
    working_f_number : float
        [-]
    iso : float
        [-]
    scattered : float
        The share of its light that the lens scatters. [-]
    magnification : float
        At the lamp, above 0. [-]

    Examples
    --------
    >>> round(glare_radius(4.0, 0.01, 5.0, 12800, 0.02, 0.05), 4)
    0.0118
    """
    light = level_of(focal_plane_exposure(1.0, exposure_time, working_f_number), iso) * intensity * magnification**2
    veil = scattered / math.log(VEIL_TO / VEIL_FROM)
    diffracted = (1 - scattered) * 2 * _GREEN * working_f_number / math.pi**2
    radius = math.sqrt(light / (2 * math.pi))  # of all of it evenly; each step at least halves the error
    for _ in range(40):
        radius = math.sqrt(light / (2 * math.pi) * (veil + diffracted / max(radius, 1e-12)))
    return float(radius / magnification)


def veiled_beyond(radius: Array, width: float) -> Array:
    """The share of scattered light that falls further than a radius, on a picture of that width; both in one unit.

    >>> veiled_beyond(np.array([0.0005, 0.125]), 1.0).tolist()
    [1.0, 0.0]
    """
    fallen = np.log(np.maximum(np.asarray(radius), 1e-12) / (VEIL_FROM * width)) / math.log(VEIL_TO / VEIL_FROM)
    return 1.0 - np.clip(fallen, 0.0, 1.0)
