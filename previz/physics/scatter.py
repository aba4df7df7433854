"""How far from its place a lens puts light: diffraction at the stop, and what glass, edges and barrel scatter."""

import math
from typing import cast

import numpy as np
from numpy.typing import NDArray

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


def veiled_beyond(radius: Array, width: float) -> Array:
    """The share of scattered light that falls further than a radius, on a picture of that width; both in one unit.

    >>> veiled_beyond(np.array([0.0005, 0.125]), 1.0).tolist()
    [1.0, 0.0]
    """
    fallen = np.log(np.maximum(np.asarray(radius), 1e-12) / (VEIL_FROM * width)) / math.log(VEIL_TO / VEIL_FROM)
    return 1.0 - np.clip(fallen, 0.0, 1.0)
