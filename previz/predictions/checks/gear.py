"""Lamps, stands, cards and cameras as things: seen in the picture, in something, on the road, in the vehicle's way.

The camera that films is in no picture of its own, and others of the kit are not drawn: who films with two at a time
keeps the one out of the other's picture, and frames each shot by itself.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.layout import (
    SEE_THROUGH,
    TOUCH,
    Band,
    Gear,
    Part,
    Solid,
    backdrop_plane,
    clearance,
    each_driven,
    entries,
    gear_of,
    light_cards,
    road_curve,
    solids_of,
)
from previz.physics.overlap import area_within, depth, from_line, hull
from previz.predictions.checks.framing import hull_of, lowest_over_table, usual_body
from previz.predictions.checks.others import called, named
from previz.predictions.findings import Change, Notes, Verdict, Way, above
from previz.predictions.places import stood_at
from previz.predictions.rounding import small_percent
from previz.predictions.shot_view import ShotView, view_of, with_shot
from previz.scene import Ambient, Bulb, Scene

Array = NDArray[np.float64]

#: What is seen of it is a slip, and no speck. Share of the picture. Common practice, no source.
SEEN = 1e-5

#: Frames in which it is looked whether a thing hides another, or is in the camera, at most.
_CAST = 8

#: What of a lamp is the lamp itself; the rest holds it.
_LAMP = frozenset({"housing", "frame", "glass"})

#: Steps by which a lamp or card is tried further off. [m]
_STEPS = (0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.6, 0.8, 1.1, 1.5)
_OFFERED = 3

#: What says that a body of a usual size would be in a vehicle's way.
USUAL_BODY = "gear.usual_body"

#: What one place tried costs, in the measure of `looking.cost_of`, and so much more for each solid on the set.
_LOOK, _A_SOLID = 1.5, 0.2


def check_gear(view: ShotView) -> Notes:
    """Every lamp, stand and card that a frame of the shot shows; and the camera's own body in something."""
    notes = Notes(view.shot.id)
    _camera(view, notes)
    found = [(each, seen) for each in _things(view.scene) if (seen := _seen(view, each)) is not None]
    meant = [each.id for each, _ in found if _practical(view.scene, each)]
    for each, seen in found:
        notes.figure("gear_share", seen.share, each.id)
        if each.id in meant:
            continue
        shown = len(seen.frames) / len(view.cameras)  # whoever zooms in makes it larger, and is no worse off
        notes.finding(
            f"gear.frame.{each.id}",
            "gear_frames",
            shown,
            0.0,
            above(shown, 0.0, 0.0),
            f"{_named(each, seen.parts)} is in the picture, up to {small_percent(seen.share)} of it"
            f"{_when(view, seen.frames)}.",
            ways=partial(_out_of_the_picture, view, each, seen),
            otherwise=f"It is fixed: frame tighter, or hang a curtain or a card before {each.id}."
            if _fixed(view.scene, each)
            else f"Move {each.id} out of the picture, or frame tighter: no place near by was found for it.",
            frames=view.numbers[seen.frames],
        )
    if len(meant) == len(found):
        none = "No lamp, stand or card for light is in the picture"
        but = f" but {' and '.join(meant)}, as meant" if meant else ""
        notes.finding("gear.frame", "gear_frames", 0.0, 0.0, Verdict.FINE, f"{none}{but}.")
    return notes


def check_stands(scene: Scene) -> Notes:
    """What of lamps and stands is in a vehicle's way or a piece, through the backdrop or on the road."""
    notes = Notes()
    for each in gear_of(scene):
        worst = max(
            _troubles(scene, each), key=lambda trouble: (trouble.verdict is Verdict.STOP, trouble.by), default=None
        )
        if worst is None:
            continue
        notes.finding(
            f"gear.stands.{each.id}",
            "overlap",
            worst.by,
            0.0,
            worst.verdict,
            f"{_named(each, (worst.what,))} {worst.words}.",
            ways=partial(_held_otherwise, scene, each),
            otherwise=f"Move {each.id} until nothing of it is there, or hold it otherwise.",
        )
    return notes


# --- what there is ---


def _practical(scene: Scene, each: Gear) -> bool:
    """Whether it is to be seen: a lamp of the set. The trade calls it so."""
    if each.kind != "lamp":
        return False
    light = scene.lights[each.entry]
    return not isinstance(light, Ambient) and light.practical


def _fixed(scene: Scene, each: Gear) -> bool:
    """Whether it is a lamp that stays where it is."""
    light = scene.lights[each.entry] if each.kind == "lamp" else None
    return light is not None and not isinstance(light, Ambient) and light.fixed


def _things(scene: Scene) -> list[Gear]:
    """Lamps and cards with what holds them, each card itself among its parts."""
    boards = {
        card.solid.name: Part("card", card.middle, card.half, False, card.spec.colour) for card in light_cards(scene)
    }
    return [
        replace(each, parts=(boards[each.id], *each.parts)) if each.kind != "lamp" else each for each in gear_of(scene)
    ]


def _named(each: Gear, parts: Sequence[str]) -> str:
    """Which of it, in words."""
    if each.kind != "lamp" and "card" in parts:
        return {"bounce": f"The bounce card {each.id}", "flag": f"The flag {each.id}"}[each.kind]
    if _LAMP.intersection(parts):
        return f"The lamp {each.id}"
    return f"The {'stand' if 'stand' in parts else 'arm'} of {each.id}"


# --- in the picture ---


@dataclass(frozen=True, eq=False)
class _Seen:
    """What of a thing is seen: how much of the picture at most, in which of the frames looked at, and which parts."""

    share: float
    frames: NDArray[np.int64]
    parts: tuple[str, ...]


def _seen(view: ShotView, each: Gear) -> _Seen | None:
    size = np.array(view.size)
    shares = np.zeros(len(view.cameras))
    parts: dict[str, None] = {}
    count = 1 if view.stands_still else len(view.cameras)
    solids = _hiding(view.scene, each)
    hidden_in = _some(count)
    for part in each.parts:
        if not _may_be_seen(view, part):
            continue
        points = _points(part)
        places, depths = view.project(points)
        x, y = places[:count, :, 0], places[:count, :, 1]
        inside = (depths[:count] > 1e-3) & (x > 0) & (y > 0) & (x < size[0]) & (y < size[1])
        if not inside.any():
            continue
        free: dict[int, float] = {}  # by the frame cast
        for frame in np.flatnonzero(inside.any(axis=1)):
            cast = int(hidden_in[np.abs(hidden_in - frame).argmin()])
            cast = cast if inside[cast].any() else int(frame)
            if cast not in free:
                free[cast] = _free(view, cast, points[inside[cast]], solids)
            if not free[cast]:
                continue
            ahead = (places[frame] / size)[depths[frame] > 1e-3]
            shares[frame] += free[cast] * area_within(ahead, (0.0, 0.0, 1.0, 1.0))
            if shares[frame] > SEEN:
                parts[part.what] = None
    if view.stands_still:
        shares[:] = shares[0]
    frames = np.flatnonzero(shares > SEEN)
    return _Seen(min(float(shares.max()), 1.0), frames, tuple(parts)) if len(frames) else None


def _some(count: int) -> NDArray[np.int64]:
    """So many frames, at most `_CAST` of them, evenly spread."""
    return np.unique(np.linspace(0, count - 1, min(count, _CAST)).round().astype(np.int64))


def _may_be_seen(view: ShotView, part: Part) -> bool:
    """Whether in any frame the box around a part is not wholly behind the camera or past one side of the picture."""
    places, depths = view.project(part.corners)
    across, ahead = places / np.array(view.size), depths > 1e-3
    past = [(across[..., axis] < 0).all(axis=1) for axis in (0, 1)]
    past += [(across[..., axis] > 1).all(axis=1) for axis in (0, 1)]
    outside = np.logical_or.reduce(past) & ahead.all(axis=1)
    return bool((~outside & ahead.any(axis=1)).any())


def _points(part: Part) -> Array:
    """Spread over the faces of the box around a part, closely along what is long. (n, 3) [m]"""
    sizes = np.linalg.norm(part.half, axis=1)
    counts = np.clip((24 * sizes / sizes.max()).astype(int), 2, 24)
    ticks = [np.linspace(-1, 1, count) for count in counts]
    grid = np.stack(np.meshgrid(*ticks, indexing="ij"), axis=-1).reshape(-1, 3)
    return np.asarray(part.centre + grid[(np.abs(grid) > 1 - 1e-9).any(axis=1)] @ part.half)


def _hiding(scene: Scene, each: Gear) -> tuple[Solid, ...]:
    """What may stand before it: pieces one does not see through, but not itself."""
    return tuple(solid for solid in solids_of(scene) if solid.kind not in SEE_THROUGH and solid.name != each.id)


def _free(view: ShotView, frame: int, points: Array, solids: tuple[Solid, ...]) -> float:
    """The share of points (n, 3) [m] that a frame's camera sees past pieces, table and backdrop."""
    scene, eye = view.scene, view.cameras[frame].position
    rays = points - eye
    between = _between(eye, points, solids)
    hidden = entries(np.broadcast_to(eye, points.shape), rays, between) < 1 - 1e-6
    table, plane = scene.set.table, backdrop_plane(scene)
    met, through = _through(eye, rays, 2, 0.0)
    hidden |= met & ((through >= 0) & (through <= (table.width, table.depth, 0.0)))[:, :2].all(axis=1)
    if plane is not None:
        met, through = _through(eye, rays, plane.axis, plane.at)
        hidden |= met & plane.hides(through) & (through[:, 2] >= 0)
    return float(np.mean(~hidden))


def _between(eye: Array, points: Array, solids: tuple[Solid, ...]) -> list[Solid]:
    """Those that reach into the box around an eye and the points (n, 3) it looks at: no other is before them."""
    low, high = np.minimum(points.min(axis=0), eye), np.maximum(points.max(axis=0), eye)
    least, most = (np.array([solid.reach[end] for solid in solids]).reshape(-1, 3) for end in (0, 1))
    near = ((least <= high) & (most >= low)).all(axis=1)
    return [solid for solid, reaches_in in zip(solids, near, strict=True) if reaches_in]


def _through(eye: Array, rays: Array, axis: int, at: float) -> tuple[NDArray[np.bool_], Array]:
    """Which rays (n,) go through a plane square to an axis before they end, and where all of them would. (n, 3) [m]"""
    along = np.where(rays[:, axis] == 0, np.nan, rays[:, axis])
    share = (at - eye[axis]) / along
    return (share > 0) & (share < 1 - 1e-6), eye + share[:, None] * rays


def _when(view: ShotView, frames: NDArray[np.int64]) -> str:
    if len(frames) == len(view.cameras):
        return " throughout the shot"
    first, last = view.times[frames[0]], view.times[frames[-1]]
    return f" from {first:.2f} to {last:.2f} s on set" if last > first else f" at {first:.2f} s on set"


def _out_of_the_picture(view: ShotView, each: Gear, seen: _Seen) -> Iterator[Way]:
    """Held otherwise, where only what holds it is seen; else moved, the shortest way first; not what is fixed."""
    if _fixed(view.scene, each):
        return
    if not (_LAMP | {"card"}).intersection(seen.parts):
        yield from _held_otherwise(view.scene, each, lambda scene: _is_out(view, scene, each))
    found: list[tuple[float, Way]] = []
    looked = 0
    for words, way in _directions(view, each):
        so_far = min(found, key=_by_step)[1] if found else Way("", ())
        yield replace(so_far, cost=_look(view.scene) * looked, looking=True)
        looked = 0
        for step in map(view.scene.tape.marked, _STEPS):
            scene = _moved(view.scene, each, way * step)
            if scene is None:
                return
            looked += 1
            if _is_out(view, scene[0], each):
                found.append((step, Way(f"Move {each.id} {view.scene.tape(step)} {words}.", scene[1])))
                break
    yield Way("", (), _look(view.scene) * looked)
    for _, moved in sorted(found, key=_by_step)[:_OFFERED]:
        yield moved


def _by_step(found: tuple[float, Way]) -> float:
    return found[0]


def _look(scene: Scene) -> float:
    """What one place tried costs."""
    return _LOOK + _A_SOLID * len(solids_of(scene))


def _directions(view: ShotView, each: Gear) -> list[tuple[str, Array]]:
    """Up, to the sides of the picture, and back from what it lights."""
    pose = view.cameras[view.middle]
    right = pose.world_from_camera[:, 0] * [1.0, 1.0, 0.0]
    right /= max(float(np.linalg.norm(right)), 1e-9)
    found = [("up", np.array([0.0, 0.0, 1.0])), ("to the camera's right", right), ("to the camera's left", -right)]
    light: Any = view.scene.lights[each.entry] if each.kind == "lamp" else None
    if light is not None and not isinstance(light, Bulb):  # a bare one is aimed at nothing
        back = np.subtract(light.at, light.aim)
        found.append(("back from what it is aimed at", back / np.linalg.norm(back)))
    return found


def _moved(scene: Scene, each: Gear, by: Array) -> tuple[Scene, tuple[Change, ...]] | None:
    """The scene with it moved, and what that writes; None where it has no place of its own."""
    field = "lights" if each.kind == "lamp" else "dressing"
    things: Any = getattr(scene, field)
    thing = things[each.entry]
    if thing.at is None or getattr(thing, "copies", 1) > 1:
        return None
    at = np.zeros(3)
    at[: len(thing.at)] = thing.at
    place = (at + by).round(4)
    there = thing.model_copy(update={"at": tuple(place.tolist())})
    after = scene.model_copy(update={field: (*things[: each.entry], there, *things[each.entry + 1 :])})
    return after, (Change(f"{field}[{each.entry}].at", scene.tape.place(place, at, 1)),)


def _is_out(view: ShotView, scene: Scene, each: Gear) -> bool:
    """Whether nothing of it is seen as it stands in another scene, and it is in nothing's way there."""
    there = next((thing for thing in _things(scene) if thing.id == each.id), None)
    if there is None or any(True for _ in _troubles(scene, there)):
        return False
    return _seen(replace(view, scene=scene), there) is None


def _held_otherwise(scene: Scene, each: Gear, helps: Any = None) -> Iterator[Way]:
    """By something else, as far as that is out of the way."""
    field = "lights" if each.kind == "lamp" else "dressing"
    things: Any = getattr(scene, field)
    says = {"above": "from above", "arm": "on an arm from beside the table", "floor": "on a stand on the floor"}
    for held, words in says.items():
        if held == each.held:
            continue
        thing = things[each.entry].model_copy(update={"held": held})
        after = scene.model_copy(update={field: (*things[: each.entry], thing, *things[each.entry + 1 :])})
        there = next(one for one in gear_of(after) if one.id == each.id)
        if any(True for _ in _troubles(after, there)) or (helps is not None and not helps(after)):
            yield Way("", (), _look(scene), looking=True)
            continue
        does = "Hang" if held == "above" else "Hold"
        yield Way(f"{does} {each.id} {words}.", (Change(f"{field}[{each.entry}].held", held),), _look(scene))


# --- the camera ---


def _camera(view: ShotView, notes: Notes) -> None:
    """Room round body and lens, as far as their sizes are known; that the pupil itself is in nothing is `room`'s."""
    camera = view.camera
    if camera.body is None:
        _usual_body(view, notes)
    if not camera.blocks:
        return
    least, what = _room_round(view, hull_of(camera))
    notes.figure("camera_clearance", least)
    notes.finding(
        "gear.camera",
        "camera_clearance",
        least,
        0.0,
        Verdict.STOP if least < -TOUCH else Verdict.FINE,
        f"{what[0].upper()}{what[1:]} is {view.scene.tape(-least)} inside the camera's body or lens."
        if least < -TOUCH
        else f"Body and lens of the camera keep {view.scene.tape(least)} from what stands and drives on the set."
        if least < 10
        else "Nothing that stands or drives on the set is near body and lens of the camera.",
        ways=partial(_camera_elsewhere, view, hull_of(camera)),
        otherwise="Stand the camera further off with a longer lens, or use a smaller one.",
    )


def _usual_body(view: ShotView, notes: Notes) -> None:
    """That a body of a usual size would be in something, where the camera's own is not known; nothing else."""
    body = hull_of(usual_body(view.camera))
    low, _ = lowest_over_table(view, body)
    least, what = min(_room_round(view, body), (low, "the table"), key=lambda each: each[0])
    if least >= -TOUCH:
        return
    notes.figure("usual_body_inside", -least, what)
    if not any(what.startswith(called(view.scene, each.subject)) for each in each_driven(view.scene)):
        return  # it may well be smaller, and its maker sees what it stands in
    notes.finding(
        USUAL_BODY,
        "usual_body_inside",
        -least,
        0.0,
        Verdict.WATCH,
        f"Of {view.shot.camera} no body is given; a usual one would be {view.scene.tape(-least)} in {what}.",
        ways=partial(_camera_elsewhere, view, body),
        otherwise="Give its size (body, lens_size), or stand it further off with a longer lens.",
    )


def _room_round(view: ShotView, body: Array) -> tuple[float, str]:
    """The least room from a camera's hull (m, 3) to pieces or vehicles on all their ways, and whose; inf where none."""
    least, what = np.inf, "nothing"
    solids = [solid.solid for solid in solids_of(view.scene)]
    reach = float(np.linalg.norm(body, axis=1).max())
    for frame in _some(1 if view.stands_still else len(view.cameras)):
        pose = view.cameras[frame]
        points = pose.position + body @ pose.world_from_camera.T
        for solid in (*solids, *view.vehicle_solids(frame)):
            away = float(np.hypot(*(pose.position[:2] - solid.at[:2]))) - solid.radius
            if away - reach >= least or solid.distance(pose.position[None])[0] - reach >= least:
                continue
            room = float(solid.distance(points).min())
            if room < least:
                least, what = room, _called(view.scene, solid)
    for driven in each_driven(view.scene) if view.stands_still else ():
        room = clearance(driven, _hull(view, body))
        if room < min(least, 0.0):
            least, what = room, f"{called(view.scene, driven.subject)} on its way"
    return least, what


def _called(scene: Scene, solid: Solid) -> str:
    """A thing in words: the subject is the vehicle, another vehicle has its name as its id."""
    if solid.kind != "vehicle":
        return solid.id
    return "the vehicle" if solid.id == "vehicle" else called(scene, solid.id)


def _hull(view: ShotView, body: Array) -> Solid:
    """Body and lens (m, 3) of a camera that stands still, upright."""
    pose = view.cameras[0]
    points = pose.position + body @ pose.world_from_camera.T
    band = Band(float(points[:, 2].min()), float(points[:, 2].max()), hull(points[:, :2]))
    return Solid("camera", "camera", (0.0, 0.0, 0.0), 0.0, (band,))


def _camera_elsewhere(view: ShotView, body: Array) -> Iterator[Way]:
    """Up, or back along its axis; for a camera that stands still, whose body and lens are (m, 3)."""
    if not isinstance(view.shot.at[0], int | float):
        return
    back = view.cameras[0].world_from_camera[:, 2] * [1.0, 1.0, 0.0]
    found = []
    for words, way in (("Raise the camera by", np.array([0.0, 0.0, 1.0])), ("Move the camera back by", back)):
        for step in map(view.scene.tape.marked, _STEPS):
            place = np.array(view.shot.at) + step * way
            shot = view.shot.model_copy(update={"at": tuple(place.round(4).tolist())})
            try:
                after = view_of(with_shot(view.scene, view.index, shot), shot)
            except PrevizError:  # aimed or focused where it cannot be
                continue
            if _room_round(after, body)[0] >= 0:
                found.append((step, stood_at(view, f"{words} {view.scene.tape(step)}", place, 1)))
                break
    for _, elsewhere in sorted(found, key=lambda one: one[0]):
        yield replace(elsewhere, cost=_LOOK * len(_STEPS))


# --- where it stands ---


@dataclass(frozen=True)
class _Trouble:
    """What is where it cannot be: which part, how far, in words."""

    what: str
    by: float
    verdict: Verdict
    words: str


def _troubles(scene: Scene, each: Gear) -> Iterator[_Trouble]:
    """Of the parts of a lamp or stand: in a vehicle's way or a piece, through table or backdrop, on the road."""
    table = scene.set.table
    for part in each.parts:
        if part.what == "card":
            continue  # it stands among the pieces
        solid = _solid(part)
        x, y = solid.footprint.T
        if (by := _through_the_backdrop(scene, part)) > TOUCH:
            yield _Trouble(part.what, by, Verdict.WATCH, f"reaches {scene.tape(by, 1)} through the backdrop")
        over = (x.max() > 0) & (x.min() < table.width) & (y.max() > 0) & (y.min() < table.depth)
        if not over:
            continue
        for driven in each_driven(scene):
            if (room := clearance(driven, solid)) < -TOUCH:
                whose = (
                    "the vehicle's way" if driven.subject == scene.subject else f"the way of {named(driven.subject)}"
                )
                yield _Trouble(part.what, -room, Verdict.STOP, f"stands {scene.tape(-room)} in {whose}")
        if solid.base < -TOUCH and solid.top > TOUCH:
            by = -max(solid.base, -table.height)
            yield _Trouble(part.what, by, Verdict.STOP, "goes through the table")
        for piece in () if _practical(scene, each) else solids_of(scene):  # a practical is mounted on a piece, or in it
            by = _in(solid, piece.solid) if piece.kind not in SEE_THROUGH and piece.name != each.id else 0.0
            if by > TOUCH:
                yield _Trouble(part.what, by, Verdict.WATCH, f"stands {scene.tape(by, 1)} in {piece.name}")
        if part.what == "stand" and (by := _on_the_road(scene, solid)) > TOUCH:
            yield _Trouble(part.what, by, Verdict.WATCH, f"stands {scene.tape(by, 1)} on the road")


def _solid(part: Part) -> Solid:
    corners = part.corners
    low, high = float(corners[:, 2].min()), float(corners[:, 2].max())
    return Solid("gear", "gear", (0.0, 0.0, 0.0), 0.0, (Band(low, high, hull(corners[:, :2])),))


def _in(one: Solid, other: Solid) -> float:
    """How far one reaches into another at heights that they share. [m]"""
    found = 0.0
    for outline, low, high in one.prisms:
        for theirs, bottom, top in other.prisms:
            if min(high, top) - max(low, bottom) > TOUCH:
                found = max(found, depth(outline, theirs))
    return found


def _through_the_backdrop(scene: Scene, part: Part) -> float:
    """How far it would have to move, at least, to be wholly on one side of the sheet. [m]"""
    plane, corners = backdrop_plane(scene), part.corners
    if plane is None or corners[:, 2].max() <= 0 or corners[:, 2].min() >= plane.height:
        return 0.0
    across = plane.across(corners)
    if across.max() <= -plane.half or across.min() >= plane.half:
        return 0.0
    before = plane.before(corners)
    return float(min(before.max(), -before.min()))


def _on_the_road(scene: Scene, solid: Solid) -> float:
    """How far a stand's foot reaches over the edge of the road. [m]"""
    road = scene.set.road
    if road is None or solid.base > 0.01 or solid.top < 0:
        return 0.0
    curve = road_curve(scene)
    return road.lanes / 2 * float(road.lane) - from_line(curve.at(np.linspace(0, curve.length, 400)), solid.footprint)
