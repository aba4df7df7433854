"""Outlines of what a picture covers."""

from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]


def covered(cover: Any, width: float, height: float, level: float, within: float = 0.0) -> Any:
    """Where a picture is above a level, as a shape over a rectangle whose lower left corner is 0.

    Parameters
    ----------
    cover : (h, w) float
        Row 0 at the top; a texel's value is that of its middle, and the outermost go on to the rectangle's edge.
    width, height : float
        Of the rectangle. [m]
    within : float
        How far the outline may be from where it is, to have fewer corners. [m]

    Examples
    --------
    >>> shape = covered(np.array([[0.0, 0.0, 1.0, 1.0]]), 0.4, 0.1, 0.5)
    >>> [round(each, 6) for each in shape.bounds]
    [0.2, 0.0, 0.4, 0.1]
    """
    from contourpy import FillType, contour_generator

    picture = np.asarray(cover, dtype=float)
    rows, columns = picture.shape
    x = np.concatenate([[0.0], (np.arange(columns) + 0.5) * width / columns, [width]])
    y = np.concatenate([[0.0], (np.arange(rows) + 0.5) * height / rows, [height]])
    lines = contour_generator(x, y, np.pad(picture[::-1], 1, mode="edge"), fill_type=FillType.OuterOffset)
    found = []
    for points, offsets in zip(*lines.filled(level, np.inf), strict=True):
        outer, *holes = (points[begin:end] for begin, end in pairwise(offsets))
        found.append(shapely.Polygon(outer, holes))
    shape = shapely.union_all(shapely.make_valid(np.array(found, dtype=object)))
    return shapely.make_valid(shapely.simplify(shape, within)) if within else shape
