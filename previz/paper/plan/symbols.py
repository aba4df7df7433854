"""The signs of a plan, drawn alike on the sheet and in its legend. Places are on the sheet. [mm]"""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from previz.paper.sheet import BLACK, CHAINED, DASHED, GREY, MEDIUM, THICK, THIN, WHITE, Drawing, Sheet, View
from previz.paper.surface import rings_of

Array = NDArray[np.float64]

#: The table top that the camera does not see, and the band that is sharp.
UNSEEN, BAND_TURN, BAND_STEP = "#e4e4e4", 60.0, 1.5

#: Between the two lines of a camera's way.
_RAILS = 1.2


def circle(at: ArrayLike, radius: float, corners: int = 24) -> Array:
    """Corners of a round outline."""
    turn = np.arange(corners) * 2 * math.pi / corners
    return np.asarray(at, dtype=float) + radius * np.column_stack([np.cos(turn), np.sin(turn)])


def cross(sheet: Sheet, at: Sequence[float], reach: float, turn: float = 0.0, weight: float = THIN) -> None:
    """Two short lines that cross at a place."""
    for angle in (turn, turn + math.pi / 2):
        way = reach * np.array([math.cos(angle), math.sin(angle)])
        sheet.line([np.array(at) - way, np.array(at) + way], weight)


def pupil_mark(sheet: Sheet, at: Sequence[float], turn: float = 0.0) -> None:
    """The entrance pupil of the lens: a cross in a circle."""
    sheet.area(circle(at, 1.1), WHITE)
    sheet.line(circle(at, 1.1), MEDIUM, closed=True)
    cross(sheet, at, 2.2, turn)


def rim_mark(sheet: Sheet, at: Sequence[float], turn: float, half: float) -> None:
    """The front rim of the lens: a broad line across the axis, as wide as the lens."""
    way = half * np.array([-math.sin(turn), math.cos(turn)])
    sheet.line([np.array(at) - way, np.array(at) + way], THICK)


def focus_mark(sheet: Sheet, at: ArrayLike) -> None:
    """Where focus is at a frame: a small open square on its corner."""
    ring = circle(at, 1.0, 4)
    sheet.area(ring, WHITE)
    sheet.line(ring, THIN, closed=True)


def sensor_mark(sheet: Sheet, at: Sequence[float], turn: float) -> None:
    """The plane of the sensor: a circle with a bar through it across the axis, which runs along turn. [rad]"""
    sheet.area(circle(at, 1.1), WHITE)
    sheet.line(circle(at, 1.1), MEDIUM, closed=True)
    way = 2.8 * np.array([-math.sin(turn), math.cos(turn)])
    sheet.line([np.array(at) - way, np.array(at) + way], THICK)


def camera_way(sheet: Sheet, points: ArrayLike) -> None:
    """How a camera is moved while it films: two lines like rails, closed at both ends, a head where it ends."""
    places = np.asarray(points, dtype=float)
    moved = np.linalg.norm(np.diff(places, axis=0), axis=1) > 0
    places = places[np.concatenate([[True], moved])]
    if len(places) < 2:
        return
    rails = shapely.buffer(shapely.linestrings(places), _RAILS / 2, cap_style="flat", join_style="mitre")
    for ring in rings_of(rails):
        sheet.line(ring, THIN, closed=True)
    sheet.arrow_head(places[-1], places[-1] - places[-2])


def lamp_mark(sheet: Sheet, at: Sequence[float]) -> None:
    """A lamp: a ring of rays round a small disc."""
    sheet.area(circle(at, 1.0), BLACK)
    for angle in np.arange(8) * math.pi / 4:
        way = np.array([math.cos(angle), math.sin(angle)])
        sheet.line([np.array(at) + 1.5 * way, np.array(at) + 2.3 * way], THIN)


def aim_line(sheet: Sheet, start: ArrayLike, end: ArrayLike) -> None:
    """From a lamp towards what it faces: chained, an open arrow at its end."""
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    span = float(np.linalg.norm(b - a))
    if span < 3:
        return
    way = (b - a) / span
    sheet.line([a + 2.6 * way, b], THIN, dashes=CHAINED, ink=GREY)
    side = np.array([-way[1], way[0]])
    sheet.line([b - 2.2 * way + 0.8 * side, b, b - 2.2 * way - 0.8 * side], THIN, ink=GREY)


def sharp(view: View, shape: shapely.Geometry) -> None:
    """What of a view is sharp [m]: hatched, more loosely where it is large."""
    area = shape.area * (1000 / view.scale) ** 2
    step = BAND_STEP * max(1.0, (area / 1500) ** 0.5)
    view.hatch(shape, turn=BAND_TURN, step=min(step, 3 * BAND_STEP), ink=GREY)


def unseen(sheet: Sheet, outline: ArrayLike | shapely.Geometry) -> None:
    """A sample of the table top that the camera does not see."""
    sheet.area(outline, UNSEEN)


def vehicle_outline(drawing: Drawing, outline: ArrayLike, *, now: bool) -> None:
    """The vehicle seen from above: mid-shot, or dashed where it enters or leaves."""
    if now:
        drawing.area(outline, WHITE)
    drawing.line(outline, THICK if now else MEDIUM, closed=True, dashes=() if now else DASHED)
