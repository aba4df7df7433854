"""A vehicle that would drive through the backdrop on its way into the picture: nobody can start it where it starts."""

import math

import numpy as np
from numpy.typing import NDArray

from previz.layout import TOUCH, backdrop_plane, vehicle_size, vehicles_on
from previz.physics.paths import Curve
from previz.predictions.checks.room import CLEAR
from previz.predictions.findings import Change, Notes, Way, below
from previz.predictions.shot_view import ShotView

Array = NDArray[np.float64]

#: From one place that is looked at to the next along its way [m]: less than the shortest vehicle is long.
_STEP = 0.005

#: Points along each side of its outline.
_ALONG = 9

#: A way no further than this from another is told by the same marks on the table. Common practice, no source. [m]
_SAME_WAY = 0.001

#: More points than these nobody marks out.
_MOST_POINTS = 8

#: Places at which two ways are held against each other.
_SAMPLES = 200


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
    ways = _starts_here(view, free) if reach > 0 and free is not None else ()
    notes.finding(
        "way_in.backdrop",
        "backdrop_clearance",
        -reach,
        0.0,
        below(-reach, 0.0),
        "The vehicle starts behind the backdrop: on its way into the picture it would drive through it."
        if reach > 0
        else "The vehicle comes into the picture without driving through the backdrop.",
        ways=lambda: ways,
        otherwise="" if ways else _in_words(view, free),
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


def _starts_here(view: ShotView, free: float) -> tuple[Way, ...]:
    """Its path begun on this side, and as much later, so that it is where it was when it is filmed.

    A ramp is for its maker to lay anew, and so is a way that bends so much that few points do not tell it.
    """
    vehicle = view.scene.vehicle
    assert vehicle is not None  # it starts somewhere
    points = _rest(view, free) if vehicle.launch is None else None
    if points is None:
        return ()
    written = [[view.scene.tape.exact(float(value)) for value in point] for point in points]
    begins = view.travel.time_at(free)
    changes = [Change("vehicle.path", written), Change("vehicle.start", f"{begins:.6f} s")]
    # The points have them already.
    changes += [Change(f"vehicle.{key}", None) for key in ("reverse", "offset") if getattr(vehicle, key)]
    on = "; ".join(_told(view, point) for point in points[1:])
    begun = f"Start it on this side, its middle at {_told(view, points[0])}, and on by {on} (vehicle.path)"
    words = f"{begun}, {begins:.3f} s on set (vehicle.start)."
    return (Way(words, tuple(changes)),)


def _rest(view: ShotView, free: float) -> Array | None:
    """A few points (n, 2) of its way from there to its end through which it is the same way; None where many are not.

    One more where it is furthest off, until it is the same.
    """
    samples = np.linspace(free, view.path.length, _SAMPLES)
    way, marks = view.path.at(samples), [0, _SAMPLES - 1]
    for _ in range(_MOST_POINTS - 1):
        off = np.linalg.norm(Curve.through(way[marks]).at(samples - free) - way, axis=1)
        if off.max() <= _SAME_WAY:
            return np.asarray(way[marks])
        marks = sorted({*marks, int(off.argmax())})
    return None


def _told(view: ShotView, point: Array) -> str:
    x, y = (view.scene.tape(float(value)) for value in point)
    return f"{x}, {y}"


def _in_words(view: ShotView, free: float | None) -> str:
    where = "" if free is None else f", its middle at {_told(view, view.path.at(free))} or further on"
    return f"Start it on this side of the backdrop{where}; or move the backdrop away."
