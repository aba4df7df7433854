"""Forced perspective: what is of another scale than the set, and whether the picture gives it away.

`physics/forced_perspective.py` has the geometry. How large the real thing may be (`sizes.py`) says between which
distances it may look to be; it is taken to stand at the one nearest to where it does. So what may as well be of the
set's own scale, like half a tree, is never told.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import SEE_THROUGH, Solid, each_driven, entries, hits, pieces_of, ramp_solids, road_curve
from previz.physics import forced_perspective, optics
from previz.predictions.checks.focus import blur_limit
from previz.predictions.checks.framing import inside
from previz.predictions.checks.others import called
from previz.predictions.checks.sizes import VEHICLE_SHARE, real_height
from previz.predictions.findings import Change, Notes, Verdict, Way
from previz.predictions.metering import stopped_down
from previz.predictions.places import ways_to_free_places
from previz.predictions.shot_view import ShotView
from previz.scene import VEHICLE_SIZES, BounceCard, Card, Container, FlagCard, MeshPiece, Parked, Scatter, Scene
from previz.units import percent

Array = NDArray[np.float64]

#: Of a container of 20 ft, one box high: 8 ft to 9 ft 6 in. ISO 668, from memory. [m]
CONTAINER_HEIGHTS = (2.438, 2.896)

# Limits. All common practice, no source.
FOOT_SEEN = 0.2  # of its foot's near side: less is as good as hidden
FOOT_OFF = 0.005  # of the picture's height; and where the foot is blurred over more, that much
TOLD = 1.1  # times as far: eyes take nearer ones for one distance
BLUR_OFF = 2.0  # eyes tell a fifth in one and the same thing side by side (from memory), and here they have no other
PASSES_OFF = 0.02  # of the picture's width, over the whole shot
SEEN = 0.05  # of a thing's box, from which on it is in the picture

_FRAMES = 8
_ROUND_THE_FOOT = 32  # points
_CLEAR, _OVER = 0.0015, 0.0005  # they lie so far outside it, and are looked at so far over it [m]
_GRID = 14  # rays across and down, where one covers another

# A hedge that hides a foot. Common practice, no source.
_LOW, _THICK = 0.6, 0.35  # its least height and its thickness at full size [m]
_AT_MOST = 0.6  # of the height of what it stands before
_GAP = 0.008  # between the two [m]


@dataclass(frozen=True)
class _Thing:
    """Something whose size eyes know, in one frame.

    Parameters
    ----------
    name : str
        Of its entry, or of the vehicle: as the scene calls it.
    entry, copy : int
        In the dressing; -1 for a vehicle.
    low, high : float
        Multiples of its distance between which it may look to be. [-]
    own : float
        S of 1:S of a thing of another scale than the set; 0 of one of the set's.
    """

    name: str
    entry: int
    copy: int
    solid: Solid
    low: float
    high: float
    own: float

    @property
    def times(self) -> float:
        """The multiple at which it is least out of place; 1 where eyes do not tell it from that. [-]"""
        found = forced_perspective.nearest_distance(self.low, self.high)
        return found if not 1 / TOLD < found < TOLD else 1.0


@dataclass(frozen=True)
class _Cue:
    """What of the picture says that it stands elsewhere: a value, its limit, and the sentence."""

    quantity: str
    value: float
    limit: float
    words: str
    frame: int

    @property
    def past(self) -> float:
        """Over 1 it tells. [-]"""
        return self.value / self.limit

    @property
    def tells(self) -> bool:
        """Whether eyes find out."""
        return self.past > 1


def has_own_scales(scene: Scene) -> bool:
    """Whether anything is of another scale than the set."""
    things = (*scene.dressing, scene.vehicle, *(scene.vehicles or {}).values())
    return any(_is_other(scene, each) for each in things)


def _is_other(scene: Scene, thing: Any) -> bool:
    return scene.scale_of(thing) != float(scene.scale)


def check_perspective(view: ShotView) -> Notes:
    """Each thing of another scale: how far off it looks, and what in the picture says that it is not."""
    notes, scene = Notes(view.shot.id), view.scene
    if not has_own_scales(scene):
        return notes
    looked = _looked_at(view)
    by_entry: dict[str, list[tuple[_Thing, list[_Cue]]]] = {}
    for thing, cues in _judged(looked, [each for each in _all_things(looked) if each[0].own]):
        by_entry.setdefault(thing.name, []).append((thing, cues))
    for found in by_entry.values():
        thing, cues = max(found, key=lambda each: (sum(cue.tells for cue in each[1]), -each[0].copy))
        _tell(view, looked, thing, cues, notes)
    return notes


# --- what is looked at ---


def _looked_at(view: ShotView) -> ShotView:
    """The shot in the few frames that are looked at: one where nothing moves."""
    still = view.stands_still and view.scene.vehicle is None
    count = 1 if still else min(_FRAMES, len(view.cameras))
    frames = np.unique(np.linspace(0, len(view.cameras) - 1, count).round().astype(int))
    if still:
        frames = np.array([view.middle])
    looked = replace(
        view,
        numbers=view.numbers[frames],
        times=view.times[frames],
        cameras=tuple(view.cameras[int(frame)] for frame in frames),
        distances=view.distances[frames],
    )
    looked.__dict__["kept"] = view.once("looked at for perspective", dict)  # at another stop the same is seen
    return looked


def _all_things(view: ShotView) -> list[tuple[_Thing, ...]]:
    """Everything whose size eyes know, as it stands in each of the frames looked at."""
    scene, count = view.scene, len(view.cameras)
    found: list[tuple[_Thing, ...]] = []
    for solid in pieces_of(scene):
        piece = scene.dressing[solid.entry]
        span = _span(scene, piece, solid.size)
        if span is not None:
            own = scene.scale_of(piece) if _is_other(scene, piece) else 0.0
            found.append((_Thing(solid.id, solid.entry, solid.copy, solid, *span, own),) * count)
    solids = [view.vehicle_solids(frame) for frame in range(count)]
    for number, driven in enumerate(each_driven(scene)):
        own = driven.vehicle_scale if _is_other(scene, driven.vehicle) else 0.0
        span = _span(scene, driven.vehicle, solids[0][number].size)
        if span is not None:
            found.append(tuple(_Thing(driven.subject, -1, 0, each[number], *span, own) for each in solids))
    return found


def _span(scene: Scene, thing: Any, size: tuple[float, float, float]) -> tuple[float, float] | None:
    """Between which multiples of its distance a thing may look to be; None of what comes in any size."""
    own, kind = scene.scale_of(thing), getattr(thing, "piece", "")
    full, real = size[2] * own, (0.0, 0.0)
    if isinstance(thing, BounceCard | FlagCard | Scatter):
        return None
    if isinstance(thing, Container):
        real = CONTAINER_HEIGHTS[0] * thing.stack, CONTAINER_HEIGHTS[1] * thing.stack
    elif isinstance(thing, Parked) or getattr(thing, "body", None) is not None:
        full, typical = size[0] * own, VEHICLE_SIZES[thing.body][0]
        real = typical * (1 - VEHICLE_SHARE), typical * (1 + VEHICLE_SHARE)
    elif isinstance(thing, Card | MeshPiece) or not kind:
        # Whatever that is: eyes know it where its maker says at which scale it is.
        if isinstance(thing, Card | MeshPiece) and not _is_other(scene, thing):
            return None
        real = full * (1 - VEHICLE_SHARE), full * (1 + VEHICLE_SHARE)
    else:
        known = real_height(thing, size, own)
        if known is None:
            return None
        real = known.low, known.high
    # One that is of no real size is told as that, and taken for what it is.
    real = min(real[0], full), max(real[1], full)
    return forced_perspective.distances_it_may_have(float(scene.scale), own, full, real)


# --- what gives it away ---


def _judged(view: ShotView, things: list[tuple[_Thing, ...]]) -> Iterator[tuple[_Thing, list[_Cue]]]:
    """Each thing that is in the picture beside something of the set's scale, and what says that it stands elsewhere."""
    everything = _all_things(view)
    for each in things:
        seen = _seen_in(view, each)
        if not seen:
            continue
        if each[0].times == 1.0:
            yield each[seen[0]], []
            continue
        in_order = ("order", each[0].name, each[0].copy)
        cues = [*view.once(in_order, partial(_ordered, view, seen, each, everything)), *_foot(view, seen, each)]
        cues += [*_passing(view, seen, each), *_blurred(view, seen, each)]
        worst: dict[str, _Cue] = {}
        for cue in cues:
            known = worst.get(cue.quantity)
            if known is None or cue.past > known.past:
                worst[cue.quantity] = cue
        yield each[seen[0]], list(worst.values())


def _seen_in(view: ShotView, things: Sequence[_Thing]) -> list[int]:
    """The frames in which it is in the picture beside something of the set's scale."""

    def work() -> list[int]:
        return [n for n in range(len(view.cameras)) if _is_seen(view, n, things[n].solid) and _compared(view, n)]

    return view.once(("seen", things[0].name, things[0].copy), work)


def _standing(view: ShotView, frame: int) -> list[Solid]:
    """All that hides something in a frame."""
    return [*(it for it in pieces_of(view.scene) if it.kind not in SEE_THROUGH), *ramp_solids(view.scene),
            *view.vehicle_solids(frame)]  # fmt: skip


def _others(view: ShotView, frame: int, it: Solid) -> list[Solid]:
    return [each for each in _standing(view, frame) if (each.id, each.copy) != (it.id, it.copy)]


def _places(view: ShotView, frame: int, points: Array) -> tuple[Array, Array]:
    """Of points (k, 3) in one frame: places (k, 2) [px] and depths (k,) [m]."""
    places, depths = view.project(points)
    return places[frame], depths[frame]


def _in_picture(view: ShotView, places: Array, depths: Array) -> NDArray[np.bool_]:
    return np.asarray((depths > 0) & ((places >= 0) & (places <= view.size)).all(axis=1))


def _is_seen(view: ShotView, frame: int, it: Solid) -> bool:
    """Whether enough of it is in the picture, past what stands before it."""
    points = inside(it.corners())
    shown = _in_picture(view, *_places(view, frame, points))
    if shown.mean() < SEEN:
        return False
    eye = view.cameras[frame].position
    rays = points[shown] - eye
    hidden = hits(np.broadcast_to(eye, rays.shape), rays, _others(view, frame, it)).any(axis=1)
    return bool((~hidden).sum() >= SEEN * len(points))


def _compared(view: ShotView, frame: int) -> bool:
    """Whether a frame shows anything of the set's own scale: its road, a piece or a vehicle."""
    scene, points = view.scene, []
    if scene.set.road is not None:
        curve = road_curve(scene)
        flat = curve.at(np.linspace(0.0, curve.length, 100))
        points.append(np.column_stack([flat, np.zeros(len(flat))]))
    points += [it.corners() for it in pieces_of(scene) if not _is_other(scene, scene.dressing[it.entry])]
    driven = zip(view.vehicle_solids(frame), each_driven(scene), strict=True)
    points += [it.corners() for it, each in driven if not _is_other(scene, each.vehicle)]
    return bool(points) and bool(_in_picture(view, *_places(view, frame, np.concatenate(points))).any())


def _disc(view: ShotView, frame: int, depth: float) -> float:
    """Of a point that far off. [m]"""
    shot = view.shot
    return float(optics.circle_of_confusion(shot.focal_length, shot.f_number, float(view.focus[frame]), depth))


def _foot(view: ShotView, seen: Sequence[int], things: Sequence[_Thing]) -> Iterator[_Cue]:
    """Its foot, where that is in the picture: the ground says how far off it stands."""
    for frame in seen:
        thing = things[frame]
        found = view.once(("foot", frame, thing.name, thing.copy), partial(_foot_off, view, frame, thing))
        if found is None:
            continue
        off, depth = found
        blur = _disc(view, frame, depth) / view.pixel_pitch / view.size[1]
        side = "below" if off > 0 else "above"
        yield _Cue(
            "foot_off",
            abs(off),
            max(FOOT_OFF, blur),
            f"its foot is in the picture, {percent(abs(off), 1)} of the height {side} where it would stand so far off",
            frame,
        )


def _foot_off(view: ShotView, frame: int, thing: _Thing) -> tuple[float, float] | None:
    """How far below where it would stand its foot is, of the picture's height, and its depth [m]; None where hidden."""
    it, eye = thing.solid, view.cameras[frame].position
    points = _round(it)
    rays = points + np.array([0.0, 0.0, _OVER]) - eye  # the ground hides none of it
    origins = np.broadcast_to(eye, rays.shape)
    near = ~it.hit_by(origins, rays)
    shown = near & ~hits(origins, rays, _others(view, frame, it)).any(axis=1)
    places, depths = _places(view, frame, points)
    shown &= _in_picture(view, places, depths)
    if not near.any() or shown.sum() < FOOT_SEEN * near.sum():
        return None
    would, ahead = _places(view, frame, forced_perspective.foot_it_would_have(points, eye, thing.times))
    shown &= ahead > 0
    if not shown.any():
        return None
    return float(np.median((places - would)[shown, 1])) / view.size[1], float(np.median(depths[shown]))


def _round(it: Solid) -> Array:
    """Points (m, 3) round its foot, just outside. [m]"""
    outline = it.below(it.base + 0.02)
    middle = outline.mean(axis=0)
    closed = np.concatenate([outline, outline[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.linspace(0.0, along[-1], _ROUND_THE_FOOT, endpoint=False)
    flat = np.stack([np.interp(at, along, closed[:, k]) for k in (0, 1)], axis=1)
    away = flat - middle
    flat += _CLEAR * away / np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-9)
    return np.column_stack([flat, np.full(len(flat), it.base)])


def _ordered(
    view: ShotView, seen: Sequence[int], things: Sequence[_Thing], everything: list[tuple[_Thing, ...]]
) -> list[_Cue]:
    """What covers something that its size has before it, or is covered by what that has behind it."""
    return [
        cue
        for frame in seen
        for other in everything
        if (other[0].name, other[0].copy) != (things[0].name, things[0].copy)
        for cue in _covers(view, frame, things[frame], other[frame])
    ]


def _covers(view: ShotView, frame: int, one: _Thing, other: _Thing) -> Iterator[_Cue]:
    boxes = [_box(view, frame, each.solid) for each in (one, other)]
    if any(box is None for box in boxes):
        return
    (left, top), (right, bottom) = np.maximum(boxes[0][0], boxes[1][0]), np.minimum(boxes[0][1], boxes[1][1])  # type: ignore[index]
    if right <= left or bottom <= top:
        return
    eye, rays, (first, second) = _cast(view, frame, [one.solid, other.solid], boxes)
    both = np.isfinite(first) & np.isfinite(second)
    if not both.any():
        return
    before = bool(np.median(second[both] - first[both]) > 0)
    front, rear, near, far = (one, other, first, second) if before else (other, one, second, first)
    by = front.low * near[both] / (rear.high * far[both])
    value = float(np.median(by))
    if value <= 1 or not _both_seen(view, frame, (eye, rays), (front, near), (rear, far)):
        return
    names = [_called(view.scene, each) for each in (front, rear)]
    mine = front is one
    words = (
        f"it covers {names[1]}, which is nearer than it looks to be"
        if mine
        else f"{names[0]} covers it, which is further off than it looks to be"
    )
    yield _Cue("covers_nearer", value, 1.0, words, frame)


def _box(view: ShotView, frame: int, it: Solid) -> tuple[Array, Array] | None:
    """Of a solid in the picture: left top and right bottom in shares of its sides, cut to it; None where it is not."""
    places, depths = _places(view, frame, it.corners())
    if (depths <= 0).any():
        return None
    shares = places / np.array(view.size)
    low, high = np.clip(shares.min(axis=0), 0.0, 1.0), np.clip(shares.max(axis=0), 0.0, 1.0)
    return (low, high) if (high > low).all() else None


def _cast(
    view: ShotView, frame: int, solids: Sequence[Solid], boxes: Sequence[Any]
) -> tuple[Array, Array, list[Array]]:
    """Rays through all of both boxes, and how far along each meets each of the solids."""
    low, high = np.minimum(boxes[0][0], boxes[1][0]), np.maximum(boxes[0][1], boxes[1][1])
    across, down = np.meshgrid(*(np.linspace(low[k], high[k], 2 * _GRID + 1)[1::2] for k in (0, 1)))
    eye, rays = view.rays(frame, across.ravel(), down.ravel())
    origins = np.broadcast_to(eye, rays.shape)
    return origins, rays, [entries(origins, rays, (solid,)) for solid in solids]


def _both_seen(
    view: ShotView, frame: int, cast: tuple[Array, Array], front: tuple[_Thing, Array], rear: tuple[_Thing, Array]
) -> bool:
    """Whether the picture shows the one cover the other: the one there, and the other beside it."""
    two = {(each.solid.id, each.solid.copy) for each, _ in (front, rear)}
    rest = [it for it in _standing(view, frame) if (it.id, it.copy) not in two]
    before = entries(*cast, rest)
    covers = np.isfinite(rear[1]) & (front[1] < rear[1]) & (front[1] < before)
    beside = (rear[1] < front[1]) & (rear[1] < before)
    return bool(covers.any() and beside.any())


def _passing(view: ShotView, seen: Sequence[int], things: Sequence[_Thing]) -> Iterator[_Cue]:
    """How it moves in the picture as the camera does: what is near passes faster than what is far."""
    if view.stands_still or things[0].entry < 0:
        return
    point = things[seen[0]].solid.middle[None]
    would = forced_perspective.as_if_at(point, view.cameras[seen[0]].position, things[seen[0]].times)
    places, depths = view.project(np.concatenate([point, would]))
    for frame in seen[1:]:
        if (depths[frame] > 0).all():
            off = float(np.linalg.norm(places[frame, 0] - places[frame, 1])) / view.size[0]
            words = f"as the camera moves it passes by {percent(off, 1)} of the width otherwise than from there"
            yield _Cue("passes_off", off, PASSES_OFF, words, frame)


def _blurred(view: ShotView, seen: Sequence[int], things: Sequence[_Thing]) -> Iterator[_Cue]:
    """Its blur, which is that of where it stands."""
    sharp = blur_limit(view)
    for frame in seen:
        _, (depth,) = _places(view, frame, things[frame].solid.middle[None])
        if depth <= 0:
            continue
        disc, would = (_disc(view, frame, float(depth) * times) for times in (1.0, things[frame].times))
        off = forced_perspective.blur_it_would_have(disc, would, sharp)
        pixels = [max(each, sharp) / view.pixel_pitch for each in (disc, would)]
        words = f"it is blurred over {pixels[0]:.1f} pixels, and would be over {pixels[1]:.1f} so far off"
        yield _Cue("blur_off", off, BLUR_OFF, words, frame)


# --- what is said of it ---


def _called(scene: Scene, thing: _Thing) -> str:
    return thing.name if thing.entry >= 0 else called(scene, thing.name)


def _tell(view: ShotView, looked: ShotView, thing: _Thing, cues: list[_Cue], notes: Notes) -> None:
    scene, name = view.scene, _called(view.scene, thing)
    middle = len(looked.cameras) // 2
    _, depths = _places(looked, middle, thing.solid.middle[None])
    off = float(depths[0]) * thing.times * float(scene.scale)
    notes.figure("looks_off", off, name)
    for cue in cues:
        notes.figure(cue.quantity, cue.value, name)
    telling = [cue for cue in cues if cue.tells]
    what = f"{name[0].upper()}{name[1:]} is of 1:{thing.own:g} in a set of 1:{scene.scale:g}"
    if thing.times == 1.0:
        said = f"{what}, and passes for one of the set's own scale."
    else:
        more = "or more" if thing.times > 1 else "or less"
        far = scene.tape.real(off, 3)
        said = f"{what}, and looks {far} off at full size {more}, {thing.times:.3g} times as far as it stands"
        why = " and ".join(cue.words for cue in telling)
        said += f"; but {why}." if telling else ", by all that the picture shows."
    worst = max(telling or cues, key=lambda cue: cue.past, default=None)
    quantity, value, limit = (worst.quantity, worst.value, worst.limit) if worst else ("foot_off", 0.0, FOOT_OFF)
    notes.finding(
        f"perspective.{thing.name}",
        quantity,
        value,
        limit,
        Verdict.WATCH if telling else Verdict.FINE,
        said,
        ways=partial(_ways, view, looked, thing, telling),
        otherwise=_advice(telling) if telling else "",
        frames=[int(looked.numbers[cue.frame]) for cue in telling],
    )


def _advice(telling: list[_Cue]) -> str:
    if any(cue.quantity == "passes_off" for cue in telling):
        return "Hold the camera still, or let it only turn."
    return "Look from where other things hide its foot, and where it covers nothing that is nearer."


def _ways(view: ShotView, looked: ShotView, thing: _Thing, telling: list[_Cue]) -> Iterator[Way]:
    scene, name = view.scene, _called(view.scene, thing)
    told = {cue.quantity for cue in telling}
    entry, like_all = thing.entry, f"Take {name} of 1:{scene.scale:g}, like the rest of the set."
    if entry >= 0:
        if "foot_off" in told:
            yield from _behind_a_hedge(looked, thing)
        if "blur_off" in told:
            yield from _stopped_down(view, looked, thing)
        if "foot_off" not in told:  # else only a place behind something would do
            yield from ways_to_free_places(scene, entry, helps=partial(_works_at, looked, entry))
        yield Way(like_all, (Change(f"dressing[{entry}].scale", None),))
        yield Way(f"Leave {name} out.", (Change(f"dressing[{entry}]", None),))
        return
    subject = thing.name == scene.subject
    key = "vehicle" if subject else f"vehicles.{thing.name}"
    yield Way(like_all, (Change(f"{key}.scale", None),))
    if not subject:
        yield Way(f"Leave {name} out.", (Change(key if len(scene.vehicles or {}) > 1 else "vehicles", None),))


def _works_at(view: ShotView, entry: int, by: Array) -> bool:
    """Whether an entry, moved by that much (2,) [m], is in the picture and nothing gives it away."""
    piece: Any = view.scene.dressing[entry]
    place = (piece.at[0] + float(by[0]), piece.at[1] + float(by[1]), piece.at[2])
    moved = piece.model_copy(update={"at": place})
    dressing = (*view.scene.dressing[:entry], moved, *view.scene.dressing[entry + 1 :])
    then = replace(view, scene=view.scene.model_copy(update={"dressing": dressing}))
    own = [each for each in _all_things(then) if each[0].entry == entry]
    found = [cues for _, cues in _judged(then, own)]
    return bool(found) and not any(cue.tells for cues in found for cue in cues)


def _stopped_down(view: ShotView, looked: ShotView, thing: _Thing) -> Iterator[Way]:
    """The widest stop at which its blur says nothing."""
    for stop in (each for each in view.stops if each > view.shot.f_number * 1.01):
        shot = view.shot.model_copy(update={"f_number": stop})
        then = replace(looked, shot=shot)
        if not any(cue.tells for cue in _blurred(then, range(len(then.cameras)), [thing] * len(then.cameras))):
            change = Change(f"shots[{view.index}].f_number", f"f/{stop:g}")
            yield Way(f"Stop down to f/{stop:g}{stopped_down(view, stop)}.", (change,))
            return


def _behind_a_hedge(view: ShotView, thing: _Thing) -> Iterator[Way]:
    """A hedge of the set's scale close before its foot, square to the look, so long and high that it hides all of that.

    From all places of the camera; none where it would hide the thing itself.
    """
    scene, it = view.scene, thing.solid
    piece: Any = scene.dressing[thing.entry]
    if piece.along is not None or piece.copies > 1:
        return
    eyes = np.stack([pose.position for pose in view.cameras])
    feet = _round(it)
    out = eyes[:, :2].mean(axis=0) - feet[:, :2].mean(axis=0)
    out /= np.linalg.norm(out)
    along, thick = np.array([-out[1], out[0]]), _THICK / float(scene.scale)
    back = float((feet[:, :2] @ out).max()) + _GAP  # where its far side stands, along the look
    passes = []
    for eye in eyes:
        away = float(eye[:2] @ out) - feet[:, :2] @ out
        if (away <= 0).any():
            return
        shares = ((back - feet[:, :2] @ out) / away)[:, None]
        passes.append(feet + shares * (eye - feet))
    met = np.concatenate(passes)
    height = max(_LOW / float(scene.scale), 1.2 * float(met[:, 2].max() - it.base))
    if height > _AT_MOST * it.size[2]:
        return
    sides = met[:, :2] @ along
    left, right = float(sides.min()) - _GAP, float(sides.max()) + _GAP
    place = out * (back + thick / 2) + along * (left + right) / 2
    tape = scene.tape
    hedge = {
        "id": f"before_{it.id}"[:40],
        "piece": "hedge",
        "at": [tape.written(float(value), 1) for value in place],
        "turn": f"{math.degrees(math.atan2(along[1], along[0])):.1f} deg",
        "length": tape.written(right - left, 0),
        "height": tape.written(height, 1),
        "thickness": tape.written(thick, 1),
    }
    words = f"Hide its foot: a hedge {tape(right - left)} long and {tape(height)} high, "
    words += f"{tape(_GAP)} before {it.id}, or a wall or bank."
    yield Way(words, (Change(f"dressing[{len(scene.dressing)}]", hedge),), tried="a hedge")
