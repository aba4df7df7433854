"""Whether vehicle and camera have a place to be: on the table, before the backdrop, in nothing else.

A remedy here is tried before it is offered: the scene is changed, and looked at again.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.layout import (
    TOUCH,
    BackPlane,
    Solid,
    VehiclePose,
    back_plane,
    backdrop_plane,
    chassis,
    other_solids,
    solids_of,
    vehicle_solid,
)
from previz.predictions.checks.time import filmed_from, filmed_while
from previz.predictions.findings import Change, Notes, Verdict, Way, below
from previz.predictions.places import stood_at, told_move
from previz.predictions.shot_view import ShotView, view_of, with_shot
from previz.scene import Scene, Shot

Array = NDArray[np.float64]

#: Track over width, of any vehicle. Typical, from memory.
TRACK = 0.9

#: What it costs to lay a shot open with a remedy in it, in the measure of `looking.cost_of`.
_LOOK = 4.0

#: How far a remedy keeps the entrance pupil from what it was in. [m]
CLEAR = 0.010


def check_room(view: ShotView) -> Notes:
    """The vehicle on the table and before the backdrop, the camera over, before and beside everything."""
    notes = Notes(view.shot.id)
    _vehicle_on_table(view, notes)
    _vehicle_before_backdrop(view, notes)
    _camera(view, notes)
    return notes


def check_room_of_camera(view: ShotView) -> Notes:
    """What of that is the camera's alone."""
    notes = Notes(view.shot.id)
    _camera(view, notes)
    return notes


def _camera(view: ShotView, notes: Notes) -> None:
    _camera_over_table(view, notes)
    _camera_before_backdrop(view, notes)
    _camera_in_something(view, notes)


@dataclass(frozen=True)
class _Try:
    """A remedy: what to do, the keys it would write, and scene and shot with them written."""

    words: str
    changes: list[Change]
    scene: Scene
    shot: Shot


def _those_that_help(tries: Iterator[_Try], helps: Callable[[ShotView], bool]) -> Iterator[Way]:
    """Remedies after which the shot can be laid open and the fault is gone: one may yet bring another."""
    for each in tries:
        try:
            helped = helps(view_of(each.scene, each.shot))
        except PrevizError:  # aimed or focused where it cannot be
            helped = False
        yield Way(f"{each.words}.", tuple(each.changes), _LOOK) if helped else Way("", (), _LOOK)


# --- the vehicle ---


def _footprints(view: ShotView, shares: tuple[float, float] = (1.0, 1.0)) -> Array:
    """The rectangles (n, 4, 2) the vehicle takes up in each frame, or those shares of its length and width. [m]"""
    base = view.vehicle_corners[:, :4, :2]
    middle = base.mean(axis=1, keepdims=True)
    ahead, left = (base[:, 1:2] - base[:, :1]) / 2, (base[:, 3:4] - base[:, :1]) / 2
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])[None, :, :, None] * np.array(shares)[:, None]
    return np.asarray(middle + signs[:, :, 0] * ahead + signs[:, :, 1] * left)


def _looked_at(view: ShotView) -> NDArray[np.bool_]:
    """Frames (n,) that show the vehicle on its way, not on its ramp."""
    vehicle = view.scene.vehicle
    if vehicle is None:
        return np.zeros(len(view.distances), bool)
    on_ramp = (view.distances < 0) if vehicle.launch is not None else np.zeros(len(view.distances), bool)
    return view.vehicle_in_frame & ~on_ramp


def _over_edge(view: ShotView, shares: tuple[float, float] | None = (1.0, 1.0)) -> Array:
    """How far the vehicle, those shares of it or (None) its wheels are beyond the table in each frame that shows it.

    Else -inf. (n,)
    """
    return np.where(_looked_at(view), beyond_table(view, shares), -math.inf)


def wheels_of(body: str | None) -> tuple[float, float]:
    """Wheelbase over length and track over width of a body: what must stand on the table; None of a mesh."""
    return chassis(body, 1.0).wheelbase_share, TRACK


def beyond_table(view: ShotView, shares: tuple[float, float] | None = None) -> Array:
    """How far those shares of the vehicle's length and width are beyond the table in each frame; else its wheels.

    (n,) [m]
    """
    if shares is None:
        shares = wheels_of(None if view.scene.vehicle is None else view.scene.vehicle.body)
    size = np.array([view.scene.set.table.width, view.scene.set.table.depth])
    base = _footprints(view, shares)
    return np.asarray(np.maximum(-base, base - size).max(axis=(1, 2)))


def _vehicle_on_table(view: ShotView, notes: Notes) -> None:
    if not _looked_at(view).any():
        return
    over, wheels = _over_edge(view), _over_edge(view, None)
    worst = float(over.max())
    falls = float(wheels.max()) > TOUCH
    notes.finding(
        "room.table",
        "edge_clearance",
        -worst,
        0.0,
        Verdict.STOP if falls else below(-worst, -TOUCH),
        f"The vehicle is {view.scene.tape(worst)} over the edge of the table while it is in the picture"
        + ("; its wheels stand on nothing." if falls else ", its wheels still on it.")
        if worst > TOUCH
        else f"The vehicle keeps {view.scene.tape(-worst)} from the table's edges.",
        "Move its path onto the table, or use a larger table.",
        ways=lambda: _those_that_help(
            _back_on_table(view, over), lambda after: _keeps_to_the_table(after) and _focuses_as_near(after, view)
        ),
        frames=view.numbers[over > TOUCH],
    )


def _keeps_to_the_table(view: ShotView) -> bool:
    return bool(_looked_at(view).any() and _over_edge(view).max() <= TOUCH and _through(view).max() <= TOUCH)


def _focuses_as_near(after: ShotView, before: ShotView) -> bool:
    """Whether no focus is nearer than the lens has, or was: when a vehicle that is followed comes too near is known
    without trying it all."""
    return bool(after.focus.min() >= min(float(after.camera.nearest), float(before.focus.min())) * (1 - 1e-9))


def _back_on_table(view: ShotView, out: Array) -> Iterator[_Try]:
    """Without its offset; with its way moved across; for as long as it is on the table."""
    yield from _sideways(view)
    good = np.flatnonzero((out <= TOUCH) & _looked_at(view))
    if len(good) < 2:
        yield from _at_another_time(view)
        return
    run = max(np.split(good, np.flatnonzero(np.diff(good) > 1) + 1), key=len)
    half, frame = view.exposure_time / 2, 1 / float(view.shot.capture.rate)
    whole = view.count * frame
    # Between frames looked at there may be others: one more is left off at each end where the first try fails.
    for inner in (run, run[1:-1]):
        if len(inner) >= 2:
            first, last = (float(view.times[n]) - half for n in inner[[0, -1]])
            yield _lasting(view, first, whole)
            yield _lasting(view, first, last - first + frame)


def _at_another_time(view: ShotView) -> Iterator[_Try]:
    """As long, or half as long, about when it is half-way: of a shot that has it nowhere on the table."""
    halfway = view.travel.time_at(view.path.length / 2)
    whole = view.count / float(view.shot.capture.rate)
    if math.isfinite(halfway):
        for lasts in (whole, whole / 2):
            yield _lasting(view, max(halfway - lasts / 2, 0.0), lasts)


def _lasting(view: ShotView, start: float, duration: float) -> _Try:
    """The shot begun anew, and so long. [s]"""
    begins, lasts = filmed_from(start, duration)
    way = filmed_while(view, "it is there", begins, lasts)
    shot = view.shot.model_copy(update={"start": begins, "duration": lasts})
    return _Try(way.words[:-1], list(way.changes), with_shot(view.scene, view.index, shot), shot)


def _sideways(view: ShotView) -> Iterator[_Try]:
    """Remedies that move the vehicle's way across the table."""
    scene, vehicle = view.scene, view.scene.vehicle
    assert vehicle is not None  # one is over the edge
    if vehicle.offset != 0:
        plain = scene.model_copy(update={"vehicle": vehicle.model_copy(update={"offset": 0.0})})
        yield _Try("Take out the vehicle's offset", [Change("vehicle.offset", None)], plain, view.shot)
    driven, plane = _footprints(view)[view.vehicle_in_frame], backdrop_plane(scene)
    least, most = back_plane(scene).free
    if plane is not None and plane.distance - CLEAR < plane.long:  # not up to the sheet itself
        least, most = replace(plane, distance=plane.distance - CLEAR).free
    for axis in _ways_aside(driven, back_plane(scene)):
        under, over = least[axis] - driven[..., axis].min(), driven[..., axis].max() - most[axis]
        by = max(float(under), 0.0) - max(float(over), 0.0)
        if by != 0:
            yield _moved_path(view, axis, by + math.copysign(0.001, by))


def _ways_aside(driven: Array, plane: BackPlane) -> tuple[int, ...]:
    """Along which axes of the set a way may be moved: to and from the back, or where what stands behind is at the left
    or right, first along the one of which it takes up less."""
    if plane.axis == 1:
        return (1,)
    extent = np.ptp(driven.reshape(-1, 2), axis=0)
    return (1, 0) if extent[0] > extent[1] else (0, 1)


def _moved_path(view: ShotView, axis: int, by: float) -> _Try:
    """The vehicle's way, and the road that it goes along, moved along an axis of the set. [m]"""
    scene, vehicle = view.scene, view.scene.vehicle
    assert vehicle is not None  # one is over the edge
    to, more = (("left", "right"), ("front", "back"))[axis][by > 0], f"{'xy'[axis]} {('less', 'more')[by > 0]}"
    words = f"Move its path {scene.tape(abs(by))} towards the table's {to} (so much {more} at each of its points)"
    way = np.array([by, 0.0] if axis == 0 else [0.0, by])
    road: Any = scene.set.road
    points = np.array(road.centre if isinstance(vehicle.path, str) else vehicle.path) + way
    moved = tuple((float(x), float(y)) for x, y in points)
    if isinstance(vehicle.path, str):
        stage = scene.set.model_copy(update={"road": road.model_copy(update={"centre": moved})})
        changed = scene.model_copy(update={"set": stage})
        return _Try(words, [Change("set.road.centre", _written(scene, moved))], changed, view.shot)
    changed = scene.model_copy(update={"vehicle": vehicle.model_copy(update={"path": moved})})
    return _Try(words, [Change("vehicle.path", _written(scene, moved))], changed, view.shot)


def _written(scene: Scene, points: Any) -> list[list[str]]:
    return [[scene.tape.exact(value) for value in point] for point in points]


def _through(view: ShotView) -> Array:
    """How far the vehicle reaches through the backdrop's plane in each frame that shows it; else -inf. (n,) [m]"""
    return np.where(_looked_at(view), beyond_backdrop(view), -math.inf)


def beyond_backdrop(view: ShotView) -> Array:
    """How far the vehicle reaches through the backdrop's plane in each frame; -inf beside the sheet. (n,) [m]"""
    plane = backdrop_plane(view.scene)
    if plane is None or view.scene.vehicle is None:
        return np.full(len(view.cameras), -math.inf)
    base = _footprints(view)
    # Points along all four sides, so that a vehicle that passes the sheet's edge counts by what is behind the sheet.
    shares = np.linspace(0.0, 1.0, 9)[:, None, None]
    outline = np.concatenate(base[None] + shares[:, None] * (np.roll(base, -1, axis=1) - base)[None], axis=1)
    return np.asarray(np.where(plane.beside(outline), -plane.before(outline), -math.inf).max(axis=1))


def _vehicle_before_backdrop(view: ShotView, notes: Notes) -> None:
    through = _through(view)
    worst = float(through.max())
    if not math.isfinite(worst):
        return
    notes.finding(
        "room.backdrop",
        "backdrop_clearance",
        -worst,
        0.0,
        below(-worst, -TOUCH, -TOUCH),
        f"The vehicle drives {view.scene.tape(worst)} through the backdrop while it is in the picture."
        if worst > TOUCH
        else f"The vehicle keeps {view.scene.tape(-worst)} from the backdrop.",
        f"Move its path {back_plane(view.scene).away}, or the backdrop further off.",
        ways=lambda: _those_that_help(
            _back_on_table(view, through),
            lambda after: float(_through(after).max()) <= TOUCH and _focuses_as_near(after, view),
        ),
        frames=view.numbers[through > TOUCH],
    )


# --- the camera ---


def _pupils(view: ShotView) -> Array:
    """Where the entrance pupil is in each frame, (n, 3). [m]"""
    return np.stack([pose.position for pose in view.cameras])


def _stood(view: ShotView, places: list[tuple[str, Array]], helps: Callable[[ShotView], bool]) -> tuple[str, Any]:
    """The first of the places in which a camera that stands still is well; what to do in words for one that moves."""
    if not isinstance(view.shot.at[0], int | float):
        return "Lead its move clear of it", []

    def tries() -> Iterator[_Try]:
        for words, place in places:
            shot = view.shot.model_copy(update={"at": tuple(float(value) for value in place)})
            there = stood_at(view, words, place, after="")
            yield _Try(there.words, [*there.changes], with_shot(view.scene, view.index, shot), shot)

    helping = (way for way in _those_that_help(tries(), helps) if way.changes)
    first = next(helping, Way("Stand it elsewhere; no free place was found near by.", ()))
    return first.words.removesuffix("."), list(first.changes)


def _height(view: ShotView) -> Array:
    """Of the entrance pupil over the table in each frame; inf where it is not over the table. (n,) [m]"""
    at, table = _pupils(view), view.scene.set.table
    over = (at[:, 0] >= 0) & (at[:, 0] <= table.width) & (at[:, 1] >= 0) & (at[:, 1] <= table.depth)
    return np.where(over, at[:, 2], math.inf)


def _camera_over_table(view: ShotView, notes: Notes) -> None:
    heights = _height(view)
    worst = int(np.argmin(heights))
    least = float(heights[worst])
    if not math.isfinite(least):
        return
    words = ""
    changes: list[Change] = []
    if least <= 0:
        lens = view.camera.lens_size[0] / 2 if view.camera.lens_size is not None else 0.0
        place = np.array([*_pupils(view)[worst, :2], max(CLEAR, lens + 0.001)])
        words, changes = _stood(
            view,
            [(f"Raise the camera to {view.scene.tape(place[2])}", place)],
            lambda after: float(_height(after).min()) > 0,
        )
    notes.finding(
        "room.camera_table",
        "pupil_height",
        least,
        0.0,
        Verdict.STOP if least <= 0 else Verdict.FINE,
        f"The middle of the lens stands {view.scene.tape(least)} over the table top."
        if least > 0
        else f"The middle of the lens is {view.scene.tape(-least)} inside the table: it sees nothing.",
        f"{words}.",
        changes=changes,
        frames=view.numbers[heights <= 0],
    )


def _before(view: ShotView) -> Array:
    """How far the pupil is in front of the backdrop in each frame; inf beside or above the sheet. (n,) [m]"""
    plane, at = backdrop_plane(view.scene), _pupils(view)
    if plane is None:
        return np.full(len(at), math.inf)
    return np.where(plane.hides(at), plane.before(at), math.inf)


def _camera_before_backdrop(view: ShotView, notes: Notes) -> None:
    before = _before(view)
    worst = int(np.argmin(before))
    least = float(before[worst])
    if not math.isfinite(least):
        return
    words = ""
    changes: list[Change] = []
    if least <= 0:
        plane, at = back_plane(view.scene), _pupils(view)[worst]
        words, changes = _stood(
            view,
            [
                ("Stand the camera in front of the backdrop", plane.placed(plane.across(at), off, at[2]))
                for off in (plane.distance - CLEAR, -0.15)
            ],
            lambda after: float(_before(after).min()) > 0 and float(_nearest(after)[0].min()) > 0,
        )
    notes.finding(
        "room.camera_backdrop",
        "pupil_to_backdrop",
        least,
        0.0,
        Verdict.STOP if least <= 0 else Verdict.FINE,
        f"The middle of the lens stands {view.scene.tape(least)} in front of the backdrop."
        if least > 0
        else f"The middle of the lens stands {view.scene.tape(-least)} behind the backdrop.",
        f"{words}.",
        changes=changes,
        frames=view.numbers[before <= 0],
    )


def _nearest(view: ShotView) -> tuple[Array, list[str]]:
    """Room (n,) between pupil and the nearest of pieces and vehicle in each frame, negative inside [m]; whose it is."""
    at = _pupils(view)
    least, name = np.full(len(at), math.inf), [""] * len(at)

    def compare(room: Array, whose: str) -> None:
        for n in np.flatnonzero(room < least):
            least[n], name[n] = room[n], whose

    places = at if np.ptp(at, axis=0).any() else at[:1]
    for box in _near_enough([solid.solid for solid in solids_of(view.scene)], places):
        compare(np.broadcast_to(box.distance(places), len(at)), box.id)
    if view.scene.vehicle is not None:
        turns = np.stack([pose.world_from_ground[:3, :3] for pose in view.vehicles])
        seen = np.einsum("nij,ni->nj", turns, at - np.stack([pose.position for pose in view.vehicles]))
        compare(vehicle_solid(view.scene, VehiclePose(np.zeros(3), 0.0, 0.0)).distance(seen), "the vehicle")
    for frame, time in enumerate(view.times.tolist()) if view.scene.vehicles else ():
        for solid in other_solids(view.scene, time):
            near = float(solid.distance(at[frame : frame + 1])[0])
            if near < least[frame]:
                least[frame], name[frame] = near, solid.id
    return least, name


def _near_enough(solids: list[Solid], places: Array) -> list[Solid]:
    """Those that may be the nearest of all to one of some places (n, 3)."""
    if not solids:
        return []
    away = np.linalg.norm(places[:, None, :2] - np.array([solid.at[:2] for solid in solids]), axis=2)
    least = away - np.array([solid.radius for solid in solids])
    first = int(least.min(axis=0).argmin())
    near = (least <= solids[first].distance(places)[:, None]).any(axis=0)
    return [solid for solid, may in zip(solids, near.tolist(), strict=True) if may]


def _camera_in_something(view: ShotView, notes: Notes) -> None:
    rooms, names = _nearest(view)
    worst = int(np.argmin(rooms))
    least, name = float(rooms[worst]), names[worst]
    words = ""
    changes: list[Change] = []
    if least < 0:
        words, changes = _stood(view, _ways_out(view, worst, name), lambda after: float(_nearest(after)[0].min()) >= 0)
    notes.finding(
        "room.camera_clear",
        "pupil_clearance",
        least,
        0.0,
        below(least, 0.0, 0.0),
        f"The nearest to the middle of the lens is {name}, {view.scene.tape(least)} off."
        if least >= 0
        else f"The middle of the lens is {view.scene.tape(-least)} inside {name}.",
        f"{words}.",
        changes=changes,
        frames=view.numbers[rooms < 0],
    )


def _ways_out(view: ShotView, frame: int, name: str) -> list[tuple[str, Array]]:
    """Places beside and above the box that the pupil is in, the nearest first."""
    at = _pupils(view)[frame]
    around: list[Solid] = [*view.vehicle_solids(frame)]
    around += [solid.solid for solid in solids_of(view.scene) if solid.id == name]
    box = min(around, key=lambda each: float(each.distance(at[None])[0]))
    c, s = math.cos(box.turn), math.sin(box.turn)
    ahead, left = np.array([c, s, 0.0]), np.array([-s, c, 0.0])
    off = at - np.array(box.at)
    ways = [
        sign * axis * (size / 2 + CLEAR - sign * float(off @ axis))
        for axis, size in ((ahead, box.size[0]), (left, box.size[1]))
        for sign in (1.0, -1.0)
    ]
    ways.append(np.array([0.0, 0.0, box.size[2] + CLEAR - float(off[2])]))
    return [
        (f"Move the camera {told_move(view.scene, way)}, out of {name}", at + way)
        for way in sorted(ways, key=lambda way: float(np.linalg.norm(way)))
    ]
