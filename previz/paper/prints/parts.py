"""What a print is made of: parts of the set, each a drawing at life size."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.paper.plan.labels import Label
from previz.paper.sheet import View
from previz.physics.colour import RGB, srgb_encoded

Array = NDArray[np.float64]

#: Size of names on what is laid on the table, to be read standing over it. [pt]
LETTERS = 11.0


@dataclass(frozen=True, eq=False)
class Part:
    """A drawing of something of the set, flat, as large as it is.

    Parameters
    ----------
    name : str
        One word, on every page of it.
    heading : str
        What it is.
    about : str
        What to do with it, and where its places are measured from.
    whole : shape
        All of it: what one large sheet shows. [m]
    something : shape
        What of it is worth a page. [m]
    draw : callable
        Lines and areas, on a view of any piece of it.
    labels : callable
        Names of what a view shows.
    """

    name: str
    heading: str
    about: str
    whole: Any
    something: Any
    draw: Callable[[View], None]
    labels: Callable[[View], list[Label]]


def ink_of(colour: RGB) -> str:
    """A colour, linear reflectance, as a printer is told it.

    >>> ink_of((1.0, 0.0, 0.2140))
    '#ff007f'
    """
    return "#" + "".join(f"{round(float(code) * 255):02x}" for code in srgb_encoded(colour))


def label_of(view: View, lines: tuple[str, ...], shape: Any, *, bold: bool) -> Label | None:
    """A name for what of a shape [m] a view shows; of a line, for one end of it in view. None where it shows none."""
    seen = shapely.intersection(shapely.transform(shape, view.placed), view.seen)
    if seen.is_empty:
        return None
    if seen.geom_type in ("Polygon", "MultiPolygon"):
        part = max(shapely.get_parts(seen), key=shapely.area)
        return Label(lines, shapely.get_coordinates(shapely.convex_hull(part))[:-1], bold, letters=LETTERS)
    merged = shapely.line_merge(seen) if seen.geom_type == "MultiLineString" else seen
    part = max(shapely.get_parts(merged), key=shapely.length)
    ends = shapely.get_coordinates(shapely.line_interpolate_point(part, [0.04, 0.08], normalized=True))
    return Label(lines, ends, bold, letters=LETTERS)
