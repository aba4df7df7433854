"""A wheel on a bent line: where its middle goes."""

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Pieces of the arc that it makes round an outer corner, a quarter turn. [-]
_QUARTER = 16


def wheel_way(line: Array, radius: float) -> Array:
    """The way (n, 2) of the middle of a wheel that rolls on top of a line, which runs towards larger x.

    In an inner corner it touches both sides at once; round an outer one it turns about the edge.

    Parameters
    ----------
    line : (k, 2) float
        Forward and up. [m]
    radius : float
        [m]

    Examples
    --------
    Down a slope of 3 in 4 and onto the level, the middle never comes nearer to the corner than both sides let it:

    >>> wheel_way(np.array([[-0.4, 0.3], [0.0, 0.0], [0.4, 0.0]]), 0.03).round(4).tolist()
    [[-0.382, 0.324], [0.01, 0.03], [0.4, 0.03]]
    """
    way = shapely.offset_curve(shapely.LineString(line), radius, quad_segs=_QUARTER, join_style="round")
    corners = shapely.get_coordinates(way)
    return np.asarray(corners if corners[0, 0] < corners[-1, 0] else corners[::-1])
