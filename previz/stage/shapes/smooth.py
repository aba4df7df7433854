"""A step without a corner, for shapes and finishes in double precision (`painting` has its own in single)."""

import numpy as np

from previz.stage.mesh import Array


def smoothstep(x: Array, start: float, end: float) -> Array:
    """0 up to `start`, 1 from `end`, smooth between; `end` may be the smaller one.

    >>> smoothstep(np.array([0.0, 1.5, 3.0]), 1.0, 2.0).tolist()
    [0.0, 0.5, 1.0]
    """
    t = np.clip((x - start) / (end - start), 0.0, 1.0)
    return np.asarray(t * t * (3 - 2 * t))
