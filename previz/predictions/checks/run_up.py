"""What gives a vehicle its speed: nothing, though it has it from the first frame on; or a thread that may be seen."""

import math

import numpy as np
from numpy.typing import NDArray

from previz.layout import chassis_of, in_picture, vehicle_edges, vehicle_size, vehicles_on
from previz.physics import ramp
from previz.predictions.checks.launch import TOLERANCE
from previz.predictions.findings import Notes, below
from previz.predictions.release import ramp_for
from previz.predictions.shot_view import ShotView
from previz.scene import Launch
from previz.units import percent

Array = NDArray[np.float64]

#: In so many places on its way to where it is in the first frame it is looked for in the picture.
_PLACES = 60

#: Places on a thread are so far apart [m]; it runs towards or away from the camera within 45 deg.
_STEP, _TOWARDS = 0.005, math.sqrt(0.5)


def check_run_up(view: ShotView) -> Notes:
    """Whether a ramp would fit behind it, out of the picture; of one that a hand drives, what it does without the hand.

    One that comes into the picture has been let go, pushed or pulled before: that is not looked at.
    """
    notes, vehicle = Notes(view.shot.id), view.scene.vehicle
    if vehicle is None or vehicle.launch is not None or vehicle.stands:
        return notes
    if vehicle.drive is not None:
        if vehicle.drive == "thread":
            _thread(view, notes)
        if vehicle.drive == "hand" and view.vehicle_in_frame.any():
            _by_hand(view, notes)
        return notes
    if view.numbers[0] != 0 or not view.vehicle_in_frame[0]:
        return notes
    speed = float(view.travel.speed_at_start)
    try:
        height, length = map(view.scene.tape.up, ramp_for(speed, chassis_of(view.scene)))
    except ramp.TooShort:
        return notes
    room, tape = _room_behind(view), view.scene.tape
    # The sheet goes on past the vehicle's middle.
    needed = tape.up(math.sqrt(length**2 - height**2) + vehicle_size(view.scene)[0] / 2)
    notes.finding(
        "run_up.room",
        "run_up",
        room,
        needed,
        below(room, needed),
        f"The vehicle is in the picture from the first frame on, at {view.scene.pace(speed)} on the table, and nothing "
        f"says how it gets so fast: out of the picture, behind it, {tape(room)} of the table are left."
        if room < needed
        else f"A ramp that gives the vehicle its speed would fit behind it, {tape(needed)} long.",
        f"If it rolls by itself, it is let go {tape(height)} high on a slope {tape(length)} long. That "
        f"takes {tape(needed)} of table behind it, out of the picture: let its path begin further back, aim or "
        "stand so that its start is not seen, or film only from where it comes into the picture. If something drives "
        "it, say what (drive: motor, thread or hand).",
        frames=[0],
    )
    return notes


def _thread(view: ShotView, notes: Notes) -> None:
    """How much of the thread the picture shows, as it lies from the nose along the vehicle's way to the table's edge.

    What stands before it is not looked at.
    """
    table = view.scene.set.table
    along = np.arange(0.0, view.path.length + math.hypot(table.width, table.depth), _STEP)
    flat = view.path.at(along)
    on_table = ((flat >= 0) & (flat <= (table.width, table.depth))).all(axis=1)
    places, depths = view.project(np.column_stack([flat, np.zeros(len(flat))]))
    inside = ((places > 0) & (places < view.size)).all(axis=-1) & (depths > 0) & on_table
    nose = view.distances + vehicle_size(view.scene)[0] / 2
    shown = (inside & (along > nose[:, None])).sum(axis=1) * _STEP
    most = int(shown.argmax())
    lies = view.path.at(nose[most] + shown[most]) - view.path.at(nose[most])
    camera = view.positions[most, :2] - view.path.at(nose[most])
    cosine = lies @ camera / max(float(np.linalg.norm(lies) * np.linalg.norm(camera)), 1e-12)
    notes.figure("thread_frames", float((shown > 0).mean()))
    way = "towards the camera" if cosine > _TOWARDS else "away from the camera" if cosine < -_TOWARDS else ""
    notes.figure("thread_shown", float(shown[most]), beside=way if shown[most] > 0 else "")


def _by_hand(view: ShotView, notes: Notes) -> None:
    """Let go as the picture first shows it, it rolls freely and slows; a hand that goes on pushing is in the picture.

    It loses what one off a ramp is taken to lose until its runs are timed.
    """
    tape, pace = view.scene.tape, view.scene.pace
    rolling, wheel_share = (float(Launch.model_fields[name].default) for name in ("rolling", "wheel_share"))
    seen = np.flatnonzero(view.vehicle_in_frame)
    first, last = (float(view.distances[each]) for each in (seen[0], seen[-1]))
    speed = float(view.travel.speed_at_start)
    rolls = ramp.coasting_distance(speed, wheel_share, rolling)
    kept = speed * math.sqrt(max(1 - (last - first) / rolls, 0.0))
    goes = (
        f"slows from {pace(speed)} to {pace(kept)} while the picture shows it" if kept > 0 else "stands in the picture"
    )
    x, y = (tape(float(each)) for each in view.path.at(first))
    notes.finding(
        "run_up.hand",
        "set_speed",
        kept,
        (1 - TOLERANCE) * speed,
        below(kept, (1 - TOLERANCE) * speed),
        f"A hand that pushes it at {pace(speed)} all along is seen. Let go as the picture first shows it, its middle "
        f"at {x}, {y}, it rolls {tape(rolls)} and {goes}, with a rolling resistance taken to be {percent(rolling)}.",
        f"{_let_go(view, speed, last - first, rolls)} Or let motor or thread drive it (vehicle.drive). Where the hand "
        "is meant to be seen, leave it so.",
        frames=view.numbers[seen],
    )


def _let_go(view: ShotView, speed: float, shown: float, rolls: float) -> str:
    """How fast to push and how much to film of one that is let go where the picture first shows it, in words.

    v^2 = v0^2 (1 - x / rolls) on the flat, and so (1 + t)^2 - (1 - t)^2 = 4 t of that way lie between t faster and t
    slower than v0.

    Parameters
    ----------
    speed
        Wanted. [m/s]
    shown
        Of its way, in the picture. [m]
    rolls
        So far it rolls from that speed. [m]
    """
    tape, pace = view.scene.tape, view.scene.pace
    comes = float(view.times[view.vehicle_in_frame][0] - view.times[0])

    def of(way: float) -> str:
        """So much of its way, and the shot's length that films it: rounded down, for it must not be more."""
        marks, lasts = math.floor(way / tape.mark) * tape.mark, math.floor((comes + way / speed) * 1000) / 1000
        return f"no more than {tape(marks)} of its way from there (shot's duration: {lasts:.3f} s on set)"

    within, even = percent(TOLERANCE), 4 * TOLERANCE * rolls
    if shown > even:
        faster = pace((1 + TOLERANCE) * speed)
        return f"Let go there at {faster} and film {of(even)}: it keeps within {within} of {pace(speed)}."
    push = speed * math.sqrt(1 + shown / (2 * rolls))
    less = of((1 - (1 - TOLERANCE) ** 2) * rolls)
    return f"Let go there at {pace(push)}: it keeps within {within} of {pace(speed)}. Or film {less}."


def _room_behind(view: ShotView) -> float:
    """Table along its way, and straight on behind that, up to where the first frame begins to show it. [m]"""
    path, first = view.path, float(view.distances[0])
    start, heading = path.at(0.0), float(path.heading(0.0))
    back = -np.array([math.cos(heading), math.sin(heading)])
    behind = _to_the_edge(start, back, (view.scene.set.table.width, view.scene.set.table.depth))
    along = np.linspace(-behind, first, _PLACES)
    edges = vehicle_edges(view.scene, view.shot, (view.cameras[0],) * _PLACES, vehicles_on(path, along))
    seen = in_picture(edges)
    where = np.flatnonzero(seen)
    return float(along[where[0]] + behind) if len(where) else first + behind


def _to_the_edge(place: Array, way: Array, table: tuple[float, float]) -> float:
    """How far it is from a place along a way to the edge of the table; 0 off the table. [m]"""
    if not all(0 <= at <= side for at, side in zip(place.tolist(), table, strict=True)):
        return 0.0
    reaches = [
        ((side if step > 0 else 0.0) - at) / step
        for at, step, side in zip(place.tolist(), way.tolist(), table, strict=True)
        if abs(step) > 1e-9
    ]
    return max(min(reaches), 0.0)
