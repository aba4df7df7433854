"""A step without a corner: how shapes, finishes, shadows and beams of light go smoothly from one thing to another."""

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Share = TypeVar("Share", float, NDArray[np.floating[Any]])


def eased(share: Share) -> Share:
    """A share that leaves 0 and reaches 1 slowly: 3 t^2 - 2 t^3, in the precision it is given in.

    Parameters
    ----------
    share : float or (...) float
        0..1; it is not cut here.

    Examples
    --------
    >>> eased(0.0), eased(0.25), eased(1.0)
    (0.0, 0.15625, 1.0)
    """
    return share * share * (3 - 2 * share)


def smoothstep(x: Array, start: float, end: float) -> Array:
    """0 up to `start`, 1 from `end`, smooth between; `end` may be the smaller one.

    Examples
    --------
    >>> smoothstep(np.array([0.0, 1.5, 3.0]), 1.0, 2.0).tolist()
    [0.0, 0.5, 1.0]
    """
    return np.asarray(eased(np.clip((x - start) / (end - start), 0.0, 1.0)))
