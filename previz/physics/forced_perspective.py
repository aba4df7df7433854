"""Forced perspective: how far off a thing looks that is of another scale than what stands beside it.

A picture keeps angles, not distances. A model at 1:T among models at 1:S, d from the lens, is seen under the angle of
one at 1:S that is d T / S from it. Who knows how large the real thing is puts it there, as far as nothing in the
picture says otherwise; and few things are known so well that they say one distance, so that it is a range of them.

What says otherwise is told here as plain geometry about the eye: the thing is as if it stood where the range comes
nearest to where it does stand, `times` as far from the eye. In the picture it is the same there, but its foot would be
elsewhere, it would be blurred otherwise, and pass by otherwise as the eye moves.

That the foot's angle below the horizon tells a distance over level ground: Ooi, Wu and He, "Distance determined by the
angular declination below the horizon", Nature 414, 2001, 197-200, doi 10.1038/35102562 (as quoted elsewhere). That blur
tells nearer from further: Held et al. 2010, as in `apparent_scale`. That what covers comes before what is covered needs
no source.
"""

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

#: A float or an (n,) float array; arrays in give an array out. Any, because numpy's types cannot say so.
Number = Any


def distances_it_may_have(scale: float, own: float, full_size: float, real: tuple[float, float]) -> tuple[float, float]:
    """Between which multiples of its own distance a thing of the set's scale would look as it does. [-]

    Parameters
    ----------
    scale, own : float
        S of 1:S of the set, and T of 1:T of the thing.
    full_size : float
        What the thing measures at its own scale. [m]
    real : (float, float)
        Between which real ones measure. [m]

    Examples
    --------
    A house of 8 m at 1:100 in a set at 1:50, where houses of its kind are 6 to 12 m high:

    >>> distances_it_may_have(50, 100, 8.0, (6.0, 12.0))
    (1.5, 3.0)
    """
    low, high = (own / scale * size / full_size for size in real)
    return low, high


def nearest_distance(low: float, high: float) -> float:
    """The multiple of its distance between two that is nearest to 1, in proportion. [-]

    >>> nearest_distance(1.5, 3.0), nearest_distance(0.8, 1.7), nearest_distance(0.3, 0.6)
    (1.5, 1.0, 0.6)
    """
    return min(max(1.0, low), high)


def as_if_at(points: ArrayLike, eye: ArrayLike, times: Number) -> Array:
    """Points (..., 3) that many times as far from an eye (3,), on the same rays: at one moment they look the same. [m]

    >>> as_if_at([[1.0, 2.0, 0.0]], [0.0, 0.0, 0.5], 2.0).tolist()
    [[2.0, 4.0, -0.5]]
    """
    origin = np.asarray(eye, dtype=float)
    return np.asarray(origin + times * (np.asarray(points, dtype=float) - origin))


def foot_it_would_have(points: ArrayLike, eye: ArrayLike, times: Number) -> Array:
    """Where on level ground at height 0 the foot (..., 3) of a thing would be, were that so many times as far off. [m]

    Only what is raised by the eye's height times (1 - 1 / times) has its foot where it would be:

    >>> eye = [0.0, 0.0, 0.06]
    >>> foot_it_would_have([[1.0, 0.0, 0.0]], eye, 2.0).tolist()
    [[2.0, 0.0, 0.0]]
    >>> as_if_at([[1.0, 0.0, 0.03]], eye, 2.0).round(9).tolist()
    [[2.0, 0.0, 0.0]]
    """
    found = as_if_at(points, eye, times)
    found[..., 2] = 0.0
    return found


def blur_it_would_have(disc: float, would: float, sharp: float) -> float:
    """Times by which a blur disc differs from the one that it would be, the larger over the smaller. [-]

    Parameters
    ----------
    disc, would : float
        Diameters. [m]
    sharp : float
        What still counts as sharp: discs below are all as good as that. [m]

    Examples
    --------
    >>> blur_it_would_have(2e-5, 8e-5, 1e-5), blur_it_would_have(1e-6, 9e-6, 1e-5)
    (4.0, 1.0)
    """
    one, other = sorted((max(disc, sharp), max(would, sharp)))
    return other / one if one > 0 else math.inf if other > 0 else 1.0
