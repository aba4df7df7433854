"""What is painted on a road, as plain geometry: which lines there are, how wide, how broken. Drawn and printed alike.

Line width 4-6 in and broken lines of 3 m with gaps of 9 m are the figures of the MUTCD (section 3A.05 of 2003, as
quoted in a slide deck; widths as summarised at legalclarity.org). The other measure is typical, from memory.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.scene import Road

Array = NDArray[np.float64]

#: Carriageway outside the edge line, full size [m]; typical, from memory.
SHOULDER = 0.40

LINE_WIDTH = 0.12  # full size [m]
DASH, GAP = 3.0, 9.0  # full size [m]

_EDGE_OF_LINE = 0.20  # from the lanes' outer edge to the middle of the edge line, inwards, full size [m]


@dataclass(frozen=True)
class RoadLine:
    """One painted line.

    Parameters
    ----------
    left : float
        Of its middle, left of the road's middle. [m]
    width : float
        [m]
    broken : bool
        Dashes, as `dashes` has them; else solid.
    """

    left: float
    width: float
    broken: bool


def half_road(road: Road, scale: float) -> float:
    """From the road's middle to the edge of its carriageway, outside the edge line. [m]"""
    return float(road.lane * road.lanes / 2 + SHOULDER / scale)


def road_lines(road: Road, scale: float) -> tuple[RoadLine, ...]:
    """Its painted lines: those between lanes, then those along both edges."""
    width = LINE_WIDTH / scale
    found = []
    if road.between_lanes != "none":
        for k in range(1, road.lanes):
            place = (k - road.lanes / 2) * road.lane
            found.append(RoadLine(place, width, road.between_lanes == "dashed" or place != 0.0))
    if road.edge_lines:
        edge = road.lane * road.lanes / 2 - _EDGE_OF_LINE / scale
        found += [RoadLine(edge, width, False), RoadLine(-edge, width, False)]
    return tuple(found)


def dash_period(scale: float) -> tuple[float, float, float]:
    """Where the first dash of a broken line begins along the road, how long one is, from one to the next. [m]"""
    return GAP / 2 / scale, DASH / scale, (DASH + GAP) / scale


def dashes(length: float, scale: float) -> Array:
    """Where each dash of a broken line begins and ends along a road of that length, (n, 2). [m]

    >>> from previz.layout.markings import dashes
    >>> (dashes(20.0, 1.0)).tolist()
    [[4.5, 7.5], [16.5, 19.5]]
    """
    first, long, period = dash_period(scale)
    begins = first + period * np.arange(-1, int(length / period) + 2)
    spans = np.clip(np.stack([begins, begins + long], axis=1), 0.0, length)
    return np.asarray(spans[spans[:, 1] - spans[:, 0] > 1e-9])
