"""A vehicle that would drive through the backdrop on its way into the picture: nobody can start it where it starts."""

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import TOUCH, backdrop_plane, vehicle_size, vehicles_on
from previz.predictions.checks.room import CLEAR
from previz.predictions.findings import Change, Notes, Way, below
from previz.predictions.shot_view import ShotView

Array = NDArray[np.float64]

#: From one place that is looked at to the next along its way [m]: less than the shortest vehicle is long.
_STEP = 0.005

#: Points along each side of its outline.
_ALONG = 9


def check_way_in(view: ShotView) -> Notes:
    """Whether the way from its start, or its release, to where the picture first has it leads through the backdrop.

    What it does while it is in the picture is looked at in `room`; round an end of the sheet it may come.
    """
    notes, plane = Notes(view.shot.id), backdrop_plane(view.scene)
    along = _way_in(view)
    if plane is None or not len(along):
        return notes
    outlines = _outlines(view, along)
    before, beside = plane.before(outlines), plane.beside(outlines)
    behind = np.where(beside, -before, -math.inf).max(axis=1)
    through = (behind > TOUCH) & (beside & (before > TOUCH)).any(axis=1)
    reach = float(behind[: np.flatnonzero(through)[-1] + 1].max()) if through.any() else 0.0
    held = np.flatnonzero(behind > -CLEAR)  # to the last of them it is behind the sheet or in it
    free = float(along[held[-1] + 1]) if len(held) and held[-1] + 1 < len(along) else None
    notes.finding(
        "way_in.backdrop",
        "backdrop_clearance",
        -reach,
        0.0,
        below(-reach, 0.0),
        "The vehicle starts behind the backdrop: on its way into the picture it would drive through it."
        if reach > 0
        else "The vehicle comes into the picture without driving through the backdrop.",
        ways=lambda: _starts_here(view, free),
        otherwise=_in_words(view, free),
    )
    return notes


def _way_in(view: ShotView) -> Array:
    """How far along its path it is looked at, from its start to where it is first seen; none of one that stands. [m]"""
    vehicle = view.scene.vehicle
    if vehicle is None or vehicle.stands or not view.vehicle_in_frame.any():
        return np.zeros(0)
    released = view.travel.released_at
    start = view.travel.distance(released) if math.isfinite(released) else 0.0
    seen = float(view.distances[int(np.argmax(view.vehicle_in_frame))])
    return np.arange(start, seen, _STEP) if seen > start else np.zeros(0)


def _outlines(view: ShotView, along: Array) -> Array:
    """Points round the vehicle's outline on the ground in each of those places, (n, m, 2). [m]"""
    length, width, _ = vehicle_size(view.scene)
    share, end = np.linspace(-0.5, 0.5, _ALONG), np.full(_ALONG, 0.5)
    outline = np.concatenate([[share, -end], [share, end], [-end, share], [end, share]], axis=1).T * [length, width]
    poses = vehicles_on(view.path, along)
    places, turns = np.array([pose.position[:2] for pose in poses]), np.array([pose.heading for pose in poses])
    ahead = np.stack([np.cos(turns), np.sin(turns)], axis=-1)[:, None]
    left = np.stack([-np.sin(turns), np.cos(turns)], axis=-1)[:, None]
    return np.asarray(places[:, None] + outline[None, :, :1] * ahead + outline[None, :, 1:] * left)


def _starts_here(view: ShotView, free: float | None) -> Iterator[Way]:
    """Its path begun on this side, and as much later, so that it is where it was when it is filmed.

    Of a straight way, its own or along the road; a ramp or a bend is for its maker to lay anew.
    """
    vehicle, scene = view.scene.vehicle, view.scene
    assert vehicle is not None  # it starts somewhere
    way: Any = vehicle.path if not isinstance(vehicle.path, str) else scene.set.road and scene.set.road.centre
    straight = way is not None and len(way) == 2
    if free is None or vehicle.launch is not None or not straight or vehicle.offset:
        return
    ends = [view.path.at(free), view.path.at(view.path.length)]
    points = [[scene.tape.exact(float(value)) for value in point] for point in ends]
    begins = view.travel.time_at(free)
    changes = (
        Change("vehicle.path", points[::-1] if vehicle.reverse else points),
        Change("vehicle.start", f"{begins:.6f} s"),
    )
    yield Way(f"Start it on this side, its middle at {_told(view, free)}, {begins:.3f} s on set (start).", changes)


def _told(view: ShotView, free: float) -> str:
    x, y = (view.scene.tape(float(value)) for value in view.path.at(free))
    return f"{x}, {y}"


def _in_words(view: ShotView, free: float | None) -> str:
    where = "" if free is None else f", its middle at {_told(view, free)} or further on"
    return f"Start it on this side of the backdrop{where}; or move the backdrop away."
