"""The run itself: how long it is, how long it takes, and whether a piece stands in its way."""

import math

import numpy as np

from previz.predictions.findings import Change, Notes, below
from previz.predictions.motion import Curve, travel_of, vehicle_path
from previz.predictions.outlines import Box, boxes, piece_size, vehicle_size
from previz.scene import Scene

#: How closely the path is looked at. [m]
_STEP = 0.005


def check_path(scene: Scene) -> Notes:
    """Length and time of the run, and the room beside the vehicle."""
    notes = Notes()
    path, travel = vehicle_path(scene), travel_of(scene)
    notes.figure("path_length", path.length)
    notes.figure("run_time", min(travel.time_at(path.length), travel.stops_at))
    solids = boxes(scene)
    if not solids:
        return notes
    rooms = [clearance(path, box, vehicle_size(scene)) for box in solids]
    tightest = int(np.argmin(rooms))
    if not math.isfinite(rooms[tightest]):
        return notes
    name = solids[tightest].id
    number = next(i for i, piece in enumerate(scene.dressing) if piece.id == name)
    notes.figure("path_clearance", rooms[tightest], name)
    notes.finding(
        "set.path",
        "path_clearance",
        rooms[tightest],
        0.0,
        below(rooms[tightest], 0.0, 0.0),
        f"{name} stands {abs(rooms[tightest]) * 1000:.0f} mm "
        + ("in the vehicle's way." if rooms[tightest] < 0 else "from the vehicle's side at the nearest."),
        f"Move {name} out of the way, or the path past it.",
        changes=moved_behind(scene, path, number),
    )
    return notes


def clearance(path: Curve, box: Box, size: tuple[float, float, float]) -> float:
    """Least room between a vehicle's side and a box along the path; negative where it would hit. [m]

    From the path to the box's footprint, less half the vehicle's width; inf for a box that hangs over its roof. The
    swing of its ends in bends is left out.

    Parameters
    ----------
    path : Curve
    box : Box
    size : (3,) float
        Length, width, height of the vehicle. [m]

    Examples
    --------
    >>> road = Curve.through([[0.0, 0.0], [1.0, 0.0]])
    >>> round(clearance(road, Box("a", "wall", (0.5, 0.3, 0.0), (0.2, 0.2, 0.1)), (0.3, 0.1, 0.1)), 6)
    0.15
    """
    if box.at[2] >= size[2]:
        return math.inf
    points = path.at(np.linspace(0.0, path.length, math.ceil(path.length / _STEP) + 1))
    c, s = math.cos(box.turn), math.sin(box.turn)
    local = np.abs((points - np.array(box.at[:2])) @ np.array([[c, -s], [s, c]]))
    beyond = local - np.array(box.size[:2]) / 2
    outside = np.hypot(*np.maximum(beyond, 0.0).T)
    inside = np.minimum(beyond.max(axis=1), 0.0)
    return float((outside + inside).min()) - size[1] / 2


def moved_behind(scene: Scene, path: Curve, number: int) -> list[Change]:
    """A piece moved to where all of it stands behind the path, if it stands at a place of its own."""
    piece = scene.dressing[number]
    size = piece_size(piece, float(scene.scale))
    if piece.at is None or size is None:
        return []
    points = path.at(np.linspace(0.0, path.length, 200))
    room = vehicle_size(scene)[1] / 2 + math.hypot(size[0], size[1]) / 2
    behind = float(points[:, 1].max()) + 1.1 * room
    return [Change(f"dressing[{number}].at", [f"{piece.at[0] * 1000:g} mm", f"{behind * 1000:.0f} mm"])]
