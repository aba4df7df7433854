"""The run itself: how long it is, how long it takes, and whether a piece stands in the vehicle's way.

Pieces are upright boxes of the size they are given or come at; mesh files and scattered things are not looked at.
"""

import math
from collections.abc import Callable, Iterable
from functools import cache

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    Box,
    boxes,
    depths,
    piece_size,
    solid_part,
    travel_of,
    vehicle_path,
    vehicle_size,
    way_of,
    width_at,
)
from previz.physics.paths import Curve
from previz.predictions.findings import Change, Notes, Verdict
from previz.scene import Scene

Array = NDArray[np.float64]

#: Kept free on either side of the vehicle, at full size [m]. Common practice, no source.
MARGIN = 0.10


def check_path(scene: Scene) -> Notes:
    """Length and time of the run, and the room beside the vehicle."""
    notes = Notes()
    path, travel = vehicle_path(scene), travel_of(scene)
    notes.figure("path_length", path.length)
    if not scene.vehicle.stands:
        notes.figure("run_time", min(travel.time_at(path.length), travel.stops_at))
    way, roof = way_along(scene, path), vehicle_size(scene)[2]
    rooms: dict[str, tuple[float, float]] = {}
    for box in boxes(scene):
        if box.at[2] < roof:  # what hangs over the vehicle is not in its way
            whole, solid = clearance(way, box), clearance(way, solid_part(box))
            before = rooms.get(box.id, (math.inf, math.inf))
            rooms[box.id] = min(before[0], whole), min(before[1], solid)
    if not rooms:
        return notes
    tightest = min(rooms, key=lambda name: rooms[name])
    notes.figure("path_clearance", rooms[tightest][0], tightest)
    for number, piece in enumerate(scene.dressing):
        if piece.id == tightest or rooms.get(piece.id, (math.inf, 0))[0] < MARGIN / float(scene.scale):
            _judge(scene, number, *rooms[piece.id], path, notes)
    return notes


#: The rectangles (s, 4, 2) that the vehicle takes up along its path, for something that reaches up to a height. [m]
Way = Callable[[float], Array]


def way_along(scene: Scene, path: Curve) -> Way:
    """The vehicle's way along a path from where it is let go: over its mirrors, or under them for what is low.

    One that stands still takes up the start of it.
    """
    launch = scene.vehicle.launch
    start = -float(launch.ramp.length) if launch is not None else 0.0

    @cache
    def as_wide_as(width: float) -> Array:
        way = way_of(path, start, vehicle_size(scene)[0], width)
        return way[:1] if scene.vehicle.stands else way

    return lambda height: as_wide_as(width_at(scene, height))


def clearance(way: Way, box: Box) -> float:
    """Least room between the vehicle, turned along its path as it drives, and a box; negative where it would hit. [m]

    The ends of the box count as its sides do.
    """
    return -float(depths(way(box.at[2] + box.size[2]), box.footprint).max())


def _judge(scene: Scene, number: int, room: float, solid: float, path: Curve, notes: Notes) -> None:
    """One piece, by the room beside all of it and beside what of it is solid."""
    name, margin = scene.dressing[number].id, MARGIN / float(scene.scale)
    if room >= 0:
        where = f"leaves {scene.tape(room, 1)} beside the vehicle"
    else:
        where = f"stands {scene.tape(-room)} in the vehicle's way" + ("" if solid < 0 else ", with its leaves only")
    notes.finding(
        "set.path",
        "path_clearance",
        room,
        margin,
        Verdict.STOP if solid < 0 else Verdict.WATCH if room < margin else Verdict.FINE,
        f"{name} {where}; {scene.tape(margin, 1)} ({scene.tape(MARGIN)} at full size) are wanted.",
        f"Move {name} out of the way, or the path past it.",
        changes=moved_behind(scene, path, number),
    )


def moved_behind(scene: Scene, path: Curve, number: int) -> list[Change]:
    """A piece moved to where all of it stands behind the path, if it stands at a place of its own."""
    piece = scene.dressing[number]
    size = piece_size(piece, float(scene.scale))
    if piece.at is None or size is None:
        return []
    points = path.at(np.linspace(0.0, path.length, 200))
    room = width_at(scene, math.inf) / 2 + math.hypot(size[0], size[1]) / 2 + MARGIN / float(scene.scale)
    behind = float(points[:, 1].max()) + 1.1 * room
    return [Change(f"dressing[{number}].at", placed(piece.at, (piece.at[0], behind)))]


def placed(at: Iterable[float], place: Iterable[float]) -> list[str]:
    """A place as a file holds it: x and y anew, the height that was there kept. [m]

    >>> placed((0.1, 0.2, 0.05), (0.3, 0.25))
    ['300.00 mm', '250.00 mm', '50.00 mm']
    """
    return [f"{value * 1000:.2f} mm" for value in (*place, *list(at)[2:])]
