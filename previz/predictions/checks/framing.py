"""Framing: the vehicle in the picture, what hides it, and whether the camera fits where it stands."""

import math
from collections.abc import Iterator
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    SEE_THROUGH,
    TOUCH,
    BackPlane,
    Solid,
    entries,
    faced_side,
    hits,
    ramp_solids,
    solids_of,
    table_edge_plane,
)
from previz.physics import optics
from previz.predictions.checks.set import moved_behind, to_behind
from previz.predictions.checks.time import SCREEN_TIME, begun_at, slowdown_of
from previz.predictions.findings import Change, Notes, Verdict, Way, above, below
from previz.predictions.places import from_corner, stood_at, told_place, ways_to_free_places
from previz.predictions.reframing import may_reframe, reframed, zoomed
from previz.predictions.release import release_for, stops_short
from previz.predictions.rounding import small_percent
from previz.predictions.shot_view import ShotView, at_frames, view_of
from previz.scene import PHONE_SENSOR, Camera, Target, listed
from previz.units import percent

Array = NDArray[np.float64]

#: Action and title safe areas of a 16:9 picture, shares of its sides. BKSTS Illustrated Dictionary, 4th ed., app. B.
ACTION_SAFE, TITLE_SAFE = 0.93, 0.90

#: Action safe area of a 4:3 picture; the same source.
ACTION_SAFE_4_3 = 0.90

# Limits. All common practice, no source.
SMALLEST = 0.05  # of the picture's width, under which a vehicle is lost in it
HIDDEN = 0.5  # of the vehicle, in the worst frame
CUT = 0.1  # of the vehicle's height, past the upper or lower edge of a picture that has room for it, on average
HARDLY = 0.5  # of the frames, under which a shot is of an empty road
_TILTS = (0.35, 0.7, 1.05)  # times as far as the vehicle is past an edge at most, a camera is tilted
_AIR = 0.25  # on screen, that a shot begins before its vehicle comes and lasts after it has left [s]
_ALIKE = 0.2  # of the distance that is focused on: further back than that the picture is another
_LEVEL = 0.005  # up or down, that a camera is not told to keep its height for less [m]
_HIGHER = (0.0, 0.002, 0.004, 0.006, 0.01, 0.015, 0.02, 0.03)  # than the table asks for: over kerbs and low pieces [m]
_SPARE = 0.0005  # between a camera that is raised and what it is then over: it turns a little as it is aimed anew [m]
_BODIES = 6  # frames in which it is looked where a camera's body is that turns
_STEEP = math.radians(30)  # a camera that looks down more steeply than this off the plumb line has no "back"

#: How many frames before a shot are looked at for when its vehicle comes.
_BEFORE = 48

#: How finely it is looked for the ramp: rays across and down a picture, and frames. A tenth of a per cent is found.
_RAMP_CAST, _RAMP_FRAMES = (64, 36), 12


def check_framing(view: ShotView) -> Notes:
    """The vehicle's place in the picture, what hides it, whether the camera's body fits."""
    notes = Notes(view.shot.id)
    solids = tuple(solid for solid in solids_of(view.scene) if solid.kind not in SEE_THROUGH)
    _angle(view, notes)
    if view.scene.vehicle is not None:
        _vehicle(view, notes)
        _hidden(view, notes, solids)
        _ramp(view, notes, solids)
    _body(view, notes)
    return notes


def check_body(view: ShotView) -> Notes:
    """What of that is the camera's body alone."""
    notes = Notes(view.shot.id)
    _body(view, notes)
    return notes


# --- what the lens takes in ---


def _angle(view: ShotView, notes: Notes) -> None:
    """Angles of view mid-shot, as focused there: a lens focused close sees less."""
    v = float(optics.image_distance(view.shot.focal_length, view.focus[view.middle]))
    for side, name in zip(view.area, ("horizontal", "vertical"), strict=True):
        notes.figure("angle_of_view", optics.field_of_view(side, v), name)


# --- the vehicle in the picture ---


def action_safe(size: tuple[int, int]) -> float:
    """Share of a picture's sides that is action safe: that of 4:3 up to half-way to 16:9, else that of 16:9. [-]"""
    return ACTION_SAFE_4_3 if size[0] / size[1] < (4 / 3 + 16 / 9) / 2 else ACTION_SAFE


def _vehicle(view: ShotView, notes: Notes) -> None:
    seen, found = view.vehicle_in_frame, passes(view)
    share = sum(last - first + 1 for first, last in found) / view.count
    notes.figure("vehicle_frames", share)
    notes.figure("time_in_frame", share * view.count / float(view.shot.playback))
    remedy, changes = ("", []) if share > 0 else _brought_in(view)
    notes.finding(
        "framing.vehicle",
        "vehicle_frames",
        share,
        0.0,
        Verdict.FINE if share > 0 else Verdict.STOP,
        f"The vehicle is in {percent(share)} of the frames." + _rests(view),
        remedy,
        changes=changes,
        ways=partial(reframed, view),
        otherwise="" if may_reframe(view) else "Aim at the vehicle where it passes, or start the shot when it does.",
    )
    if not seen.any():
        return
    width, height = view.size
    _hardly(view, share, found, notes)
    _comes_and_goes(view, found, notes)
    left, top, right, bottom = view.vehicle_frame[seen].T
    middle = int(np.argmin(np.abs(np.flatnonzero(seen) - view.middle)))
    sizes = (right - left) / width
    size = float(sizes[middle])
    notes.figure("vehicle_width", size)
    _width(view, notes, int(np.flatnonzero(seen)[middle]))
    notes.figure("head_room", float(top[middle]) / height)
    _lead_room(view, notes, np.flatnonzero(seen)[middle])
    _cut(view, notes)
    inset = [(1 - action_safe(view.size)) / 2 * side for side in view.size]
    safe = (left >= inset[0]) & (right <= width - inset[0]) & (top >= inset[1]) & (bottom <= height - inset[1])
    notes.figure("action_safe", float(safe.mean()))
    times = SMALLEST * 1.05 / max(size, 1e-6)
    longer = view.shot.focal_length * times
    reach = longer <= view.camera.lens.longest
    words, changes = zoomed(view, longer)
    notes.finding(
        "framing.small",
        "vehicle_width",
        size,
        SMALLEST,
        below(size, SMALLEST),
        f"Mid-shot the vehicle is {percent(size, 1)} of the picture's width.",
        f"{words}." if reach else "",
        changes=changes if reach else [],
        ways=partial(_larger, view, times, view.numbers[seen][sizes >= times * size]),
        otherwise="" if reach else _otherwise_larger(view, times),
    )


def _cut(view: ShotView, notes: Notes) -> None:
    """A vehicle past the upper or lower edge, where there is room for it; at the sides it comes and goes."""
    high = view.size[1]
    _, top, _, bottom = view.vehicle_frame[view.vehicle_in_frame].T
    tall = np.maximum(bottom - top, 1e-9)
    fits = (tall <= high) & np.isfinite(tall)
    past = [np.where(fits, np.clip(by, 0.0, tall) / tall, 0.0) for by in (-top, bottom - high)]
    shares = [float(each.mean()) for each in past]
    share, frames = sum(shares), float(np.mean((past[0] > 0) | (past[1] > 0)))
    above_it = shares[0] >= shares[1]
    notes.figure("cut_share", share)
    notes.finding(
        "framing.cut",
        "cut_share",
        share,
        CUT,
        above(share, CUT),
        f"The picture's {'upper' if above_it else 'lower'} edge cuts the vehicle off in {percent(frames)} of the "
        f"frames that show it, {percent(share)} of its height on average."
        if share > CUT
        else "The picture cuts none of the vehicle off, above or below.",
        ways=partial(_tilted, view, above_it),
        otherwise=f"Aim {'higher' if above_it else 'lower'}, or stand further off.",
    )


def _tilted(view: ShotView, up: bool) -> Iterator[Way]:
    """What it is aimed at raised or lowered until all of a vehicle that fits is in the picture; else another look."""
    shot, high = view.shot, view.size[1]
    aim = shot.aim.place if isinstance(shot.aim, Target) else None
    _, top, _, bottom = view.vehicle_frame[view.vehicle_in_frame & np.isfinite(view.vehicle_frame).all(axis=1)].T
    fits = bottom - top <= high
    if aim is not None and isinstance(shot.at[0], int | float) and fits.any():
        pose = view.cameras[view.middle]
        reach = float((pose.position - np.array(aim)) @ pose.world_from_camera[:, 2])
        v = float(optics.image_distance(shot.focal_length, pose.focus_distance)) / view.area[1] * high  # [px]
        past = float((-top[fits]).max()) if up else float((bottom[fits] - high).max())
        now = float(np.linalg.norm(pose.position[:2] - np.array(aim[:2])))
        for part in _TILTS:
            turn = math.atan2(part * past, v) * (1 if up else -1)
            tilt = math.atan2(float(aim[2] - pose.position[2]), now) + turn
            there = (*aim[:2], float(pose.position[2]) + now * math.tan(tilt))
            if reach > 0 and there[2] >= 0:
                written = Change(f"shots[{view.index}].aim", view.scene.tape.place(there, aim, 0))
                by = view.scene.tape(abs(there[2] - aim[2]))
                yield Way(f"Aim {by} {'higher' if up else 'lower'}, at {from_corner(view.scene, there)}.", (written,))
    yield from reframed(view)


def _hardly(view: ShotView, share: float, found: list[tuple[int, int]], notes: Notes) -> None:
    """A vehicle that is in few of the frames: when to begin and how long to film, so that most show it."""
    rate = float(view.shot.capture.rate)
    first, last = max(found, key=lambda each: each[1] - each[0])
    comes, leaves = (float(view.shot.start) + number / rate for number in (first, last + 1))
    before, after = found[0][0], view.count - 1 - found[-1][1]
    between = view.count - round(share * view.count) - before - after
    empty = ((before, "before it comes"), (between, "between its passes"), (after, "after it has left"))
    without = listed((f"{percent(frames / view.count)} of the shot {when}" for frames, when in empty if frames), "and")
    notes.finding(
        "framing.hardly",
        "vehicle_frames",
        share,
        HARDLY,
        below(share, HARDLY),
        f"The vehicle is in {percent(share)} of the frames, {comes:.3f} to {leaves:.3f} s on set; the rest show the "
        f"set without it, {without}."
        if share < HARDLY
        else "The vehicle is in the picture for long enough.",
        ways=partial(_while_it_is_seen, view, first, leaves, (before > 0, after > 0)),
        otherwise="Let it drive more slowly, or frame it wider.",
    )


def _while_it_is_seen(view: ShotView, first: int, leaves: float, empty: tuple[bool, bool]) -> Iterator[Way]:
    """The shot begun so that more of the vehicle's pass is in it; as long as that lasts; or the camera turned with it.

    first, leaves: frame and time on set [s] of the stretch that shows it. empty: whether the shot begins, and ends,
    without it.
    """
    key, slow, starts = f"shots[{view.index}]", slowdown_of(view), float(view.shot.start)
    frame, air = 1 / float(view.shot.capture.rate), _AIR / slow
    comes = starts + (first - _seen_before(view)) * frame
    whole, stays = view.count * frame, leaves - comes
    begins = comes - air if empty == (True, False) else leaves + air - whole if empty == (False, True) else starts
    begins = max(begins, min(starts, 0.0))
    if abs(begins - starts) > frame:  # the end of the shot cuts its pass off
        yield Way(f"Begin at {begins:.3f} s on set (shot's start).", (Change(f"{key}.start", f"{begins:.4f} s"),))
    # Its own time, or as long as a shot needs that is to read, with the vehicle in the middle of that.
    lasts = max(stays + 2 * air, SCREEN_TIME / slow + frame)
    begins = max(comes - (lasts - stays) / 2, min(starts, comes, 0.0))
    yield begun_at(view.index, begins, lasts)
    # No time that was not filmed as it was.
    begins = max(comes - air, starts)
    yield begun_at(view.index, begins, min(leaves + air, starts + whole) - begins)
    yield Way("Follow the vehicle: aim at it.", (Change(f"{key}.aim", "vehicle"),))


def _seen_before(view: ShotView) -> int:
    """For how many frames before the shot begins the vehicle is in the picture already, at most as long as the shot."""
    if not view.vehicle_in_frame[0]:
        return 0
    until = min(view.count, int(float(view.shot.start) * float(view.shot.capture.rate)))
    before = np.unique(np.linspace(-until, 0, min(until, _BEFORE) + 1).round().astype(np.int64))[::-1]
    seen = at_frames(view, before).vehicle_in_frame
    return -int(before[len(before) - 1 if seen.all() else int(np.argmin(seen)) - 1])


def _larger(view: ShotView, times: float, large: NDArray[np.int64]) -> Iterator[Way]:
    """The camera nearer, to where the vehicle is so many times as large, if it stands; or later in the run.

    large: frames in which the vehicle is as large as that.
    """
    if isinstance(view.shot.at[0], int | float):
        yield from _nearer(view, _depth(view) * (1 - 1 / times))
    later = [int(number) for number in large if number > (view.count - 1) / 2]
    if later:  # the rest of the shot, about the first of them
        rate = float(view.shot.capture.rate)
        begins, lasts = float(view.shot.start) + (2 * later[0] - view.count) / rate, 2 * (view.count - later[0]) / rate
        yield begun_at(view.index, begins, lasts, ": it comes nearer")


def _nearer(view: ShotView, step: float) -> Iterator[Way]:
    """A camera that stands, so far along its axis [m]; or as high as it is, where the axis leads up or down."""
    along = -view.cameras[view.middle].world_from_camera[:, 2] * step
    level = along * (1.0, 1.0, 0.0)
    ways = [(along, "")] + [(level, ", as high as it is")] * (abs(float(along[2])) >= _LEVEL)
    for way, words in ways:
        place, by = np.array(view.shot.at) + way, view.scene.tape(float(np.linalg.norm(way)))
        yield stood_at(view, f"Move the camera {by} nearer{words}, {told_place(view.scene, place)}", place)


def _otherwise_larger(view: ShotView, times: float) -> str:
    """Where neither the lens nor any of these does."""
    if not isinstance(view.shot.at[0], int | float):
        return "Come nearer."
    if _depth(view) / times < float(view.camera.nearest):
        return "Use a longer lens, or a camera that focuses nearer."
    return "Use a longer lens, or bring the two nearer: another place of the camera, or a path that comes closer."


def _depth(view: ShotView, frame: int | None = None) -> float:
    """Of the vehicle's middle, mid-shot if no frame is named. [m]"""
    depths = view.depths(view.vehicle_corners.mean(axis=1, keepdims=True))
    return float(depths[view.middle if frame is None else frame, 0])


def passes(view: ShotView) -> list[tuple[int, int]]:
    """First and last frame of each stretch of frames that show the vehicle, by number.

    Exact to the frame, but for a stretch so short that it lies between two of the frames looked at.
    """
    seen, edges = view.vehicle_in_frame, []
    for n in np.flatnonzero(seen[1:] != seen[:-1]):
        between = np.arange(view.numbers[n], view.numbers[n + 1] + 1)
        as_after = at_frames(view, between).vehicle_in_frame == seen[n + 1]
        edges.append(int(between[int(np.argmax(as_after))]))
    firsts, lasts = edges[int(seen[0]) :: 2], [edge - 1 for edge in edges[1 - int(seen[0]) :: 2]]
    return list(
        zip(
            [int(view.numbers[0])] * bool(seen[0]) + firsts,
            lasts + [int(view.numbers[-1])] * bool(seen[-1]),
            strict=True,
        )
    )


def _comes_and_goes(view: ShotView, found: list[tuple[int, int]], notes: Notes) -> None:
    """When the vehicle enters the picture and leaves it, pass by pass: its first and last frame and their times."""
    rate = float(view.shot.capture.rate)
    for number, (first, last) in enumerate(found, start=1):
        of = f"pass {number}" if len(found) > 1 else ""
        notes.figure("enters_at", float(view.shot.start) + first / rate, of)
        notes.figure("enters_frame", first, of)
        notes.figure("leaves_at", float(view.shot.start) + last / rate, of)
        notes.figure("leaves_frame", last, of)


def _width(view: ShotView, notes: Notes, frame: int) -> None:
    """The width that the picture covers at the vehicle's middle, square to the axis."""
    depth = _depth(view, frame)
    v = float(optics.image_distance(view.shot.focal_length, view.focus[frame]))
    notes.figure("view_width", optics.field_width(view.area[0], v, depth))


def _rests(view: ShotView) -> str:
    """Where a launched vehicle stops on its way, as one more sentence; "" where it does not."""
    if not stops_short(view.scene):
        return ""
    on_its_way = view.travel.distance(view.travel.stops_at)
    where = f"{view.scene.tape(on_its_way)} along its path" if on_its_way > 0 else "on its ramp"
    return f" It comes to rest {where}."


def _brought_in(view: ShotView) -> tuple[str, list[Change]]:
    """A launched vehicle that stops short of the picture wants another release; see `reframed` for any other."""
    if stops_short(view.scene):
        release = release_for(view.scene)
        if view_of(release.into(view.scene), view.shot).vehicle_in_frame.any():
            return f"{release.words}, and it comes into the picture.", release.changes
    return "", []


def _lead_room(view: ShotView, notes: Notes, frame: int) -> None:
    """Room in front of the vehicle over room behind it, in the direction it moves across the picture."""
    left, _, right, _ = view.vehicle_frame[frame]
    nose = view.path.at(view.distances[frame] + 0.01)
    ahead = view.project(np.array([[*nose, 0.0], [*view.path.at(view.distances[frame]), 0.0]]))[0][frame]
    rooms = max(left, 0.0), max(view.size[0] - right, 0.0)
    front, back = rooms[::-1] if ahead[0, 0] >= ahead[1, 0] else rooms
    if back > 0:  # with none behind it, there is nothing to count by
        notes.figure("lead_room", front / back)


def _hidden(view: ShotView, notes: Notes, solids: tuple[Solid, ...]) -> None:
    """Share of the vehicle's box that pieces stand in front of, worst frame, and which piece does most of it."""
    seen = [
        n for n in np.unique(np.linspace(0, len(view.cameras) - 1, 24).round().astype(int)) if view.vehicle_in_frame[n]
    ]
    if not seen:
        return
    worst, culprit, when = 0.0, "", seen[0]
    for n in seen:
        points = inside(view.vehicle_corners[n])
        origin = view.cameras[n].position
        ways = points - origin
        met = hits(np.broadcast_to(origin, ways.shape), ways, solids)
        share = float(met.any(axis=1).mean()) if solids else 0.0
        if share > worst:
            worst, when, culprit = share, n, solids[int(met.sum(axis=0).argmax())].id
    notes.figure("hidden_share", worst)
    number = next((i for i, piece in enumerate(view.scene.dressing) if piece.id == culprit), None)
    faced = table_edge_plane(view.scene.set.table, faced_side(view.cameras[when].world_from_camera[:, 2] * -1))
    notes.finding(
        "framing.hidden",
        "hidden_share",
        worst,
        HIDDEN,
        above(worst, HIDDEN),
        f"At worst {percent(worst)} of the vehicle is hidden" + (f", mostly by {culprit}." if culprit else "."),
        f"Move {culprit} behind the road{'' if number is None else to_behind(view.scene, view.path, number, faced)}.",
        changes=[] if number is None else moved_behind(view.scene, view.path, number, faced),
        ways=tuple if number is None else partial(ways_to_free_places, view.scene, number, _far_side(view, faced)),
        otherwise=f"Move the camera past {'the ramp' if culprit == 'ramp' else culprit}.",
        frames=[int(view.numbers[when])],
    )


def _ramp(view: ShotView, notes: Notes, solids: tuple[Solid, ...]) -> None:
    """How much of the picture launch ramps take up where no piece stands before it, worst frame."""
    ramp = ramp_solids(view.scene)
    if not ramp:
        return
    before = [solid for solid in solids if solid.kind != "ramp"]
    across, down = (side.ravel() for side in np.meshgrid(*(np.arange(n) / n + 0.5 / n for n in _RAMP_CAST)))
    shares, count = {}, 1 if view.stands_still else _RAMP_FRAMES
    for n in np.unique(np.linspace(0, len(view.cameras) - 1, count).round().astype(int)).tolist():
        origin, ways = view.rays(n, across, down)
        origins = np.broadcast_to(origin, ways.shape)
        first = entries(origins, ways, ramp)
        met = np.isfinite(first)
        shares[n] = float((first[met] < entries(origins[met], ways[met], before)).sum() / len(first))
    worst = max(shares.values())
    notes.figure("ramp_share", worst)
    notes.finding(
        "framing.ramp",
        "ramp_share",
        worst,
        0.0,
        above(worst, 0.0),
        f"The launch ramp is in the picture, up to {small_percent(worst)} of it."
        if worst > 0
        else "The launch ramp is not in the picture.",
        "Aim past it, frame tighter, set its foot before the picture's edge, or dress something in front of it.",
        frames=view.numbers[[n for n, share in shares.items() if share > 0] if count > 1 else [0, -1]],
    )


def _far_side(view: ShotView, faced: BackPlane) -> tuple[BackPlane, float]:
    """The side of the table that the camera faces, and how far towards it the vehicle gets in the picture. [m]"""
    return faced, float(faced.off(view.vehicle_corners[view.vehicle_in_frame]).max())


def inside(corners: Array) -> Array:
    """Points (75, 3) spread through a box by its corners (8, 3). [m]"""
    along, side, up = (np.linspace(0.1, 0.9, count) for count in (5, 3, 5))
    origin = corners[0]
    a, b, c = corners[1] - origin, corners[3] - origin, corners[4] - origin
    grid = np.stack(np.meshgrid(along, side, up), axis=-1).reshape(-1, 3)
    return np.asarray(origin + grid @ np.stack([a, b, c]))


# --- the camera on the set ---


def _body(view: ShotView, notes: Notes) -> None:
    """Room under the camera where it stands over the table: its body and lens must not sink into it."""
    if not view.camera.blocks:
        return
    least, at = lowest_over_table(view, hull_of(view.camera))
    if not math.isfinite(least):
        return
    notes.figure("body_clearance", least)
    still = isinstance(view.shot.at[0], int | float)
    notes.finding(
        "framing.body",
        "body_clearance",
        least,
        0.0,
        Verdict.STOP if least < -TOUCH else Verdict.FINE,
        f"Body or lens of the camera would be {view.scene.tape(-least)} inside the table top."
        if least < -TOUCH
        else f"Under body and lens of the camera {view.scene.tape(max(least, 0.0))} are left to the table.",
        ways=lambda: _off_the_table(view, least),
        otherwise=f"{'Stand' if still else 'Raise it, stand'} it off the table's edge, or use a smaller body.",
        frames=[int(view.numbers[at])],
    )


def _off_the_table(view: ShotView, least: float) -> Iterator[Way]:
    """Back as far as it takes and as high as it is, where the shot stays alike; else up. Of a camera that stands still.

    least: from the lowest part of it over the table to the table top, below 0. [m]
    """
    if not isinstance(view.shot.at[0], int | float):
        return
    tape, place = view.scene.tape, np.array(view.shot.at, dtype=float)
    axis, table = view.cameras[0].world_from_camera[:, 2], view.scene.set.table
    if (flat := float(np.hypot(*axis[:2]))) > math.sin(_STEEP):
        away = axis * [1.0, 1.0, 0.0] / flat
        over = _over_table(view, hull_of(view.camera), 0)
        edges = np.where(away[:2] > 0, (table.width, table.depth), 0.0) - over[over[:, 2] < 0, :2]
        ways = np.divide(edges, away[:2], out=np.full_like(edges, np.inf), where=np.abs(away[:2]) > 1e-9)
        back = tape.up(float(ways.min(axis=1).max()) + 0.001)
        if back <= _ALIKE * float(view.focus[view.middle]):
            there = place + back * away
            words = f"Move it {tape(back)} back, as high as it is, {told_place(view.scene, there)}"
            yield stood_at(view, words, there)
    lifts = [tape.up(1e-3 - least + more) for more in _HIGHER]
    lift = next((each for each in lifts if _clear_of_pieces(view, each)), lifts[0])
    yield stood_at(view, f"Raise it by {tape(lift)}", place + np.array([0.0, 0.0, lift]))


def _clear_of_pieces(view: ShotView, lift: float) -> bool:
    """Whether body and lens, raised so far as they are held [m], are in nothing that stands on the table: no kerb."""
    body, solids = hull_of(view.camera), solids_of(view.scene)
    reach = float(np.linalg.norm(body, axis=1).max())
    for n in _frames_apart(view)[:: max(len(view.cameras) // _BODIES, 1)]:
        pose = view.cameras[n]
        points = pose.position + [0.0, 0.0, lift] + body @ pose.world_from_camera.T
        near = [each for each in solids if np.hypot(*(pose.position[:2] - each.at[:2])) < reach + each.solid.radius]
        if any(float(each.solid.distance(points).min()) < _SPARE for each in near):
            return False
    return True


def _frames_apart(view: ShotView) -> list[int]:
    """Frames in which the camera is where it was in none before: the first alone where it stays put."""
    return list({id(pose): n for n, pose in reversed(list(enumerate(view.cameras)))}.values())


def lowest_over_table(view: ShotView, hull: Array) -> tuple[float, int]:
    """How high the lowest of a camera's hull (m, 3) is over the table top, below 0 in it, and in which of the frames
    looked at; inf where none of it is over the table. [m]"""
    return min((float(_over_table(view, hull, n)[:, 2].min(initial=math.inf)), n) for n in _frames_apart(view))


def _over_table(view: ShotView, hull: Array, frame: int) -> Array:
    """What of a camera's hull (m, 3) is over the table or in it, (k, 3). [m]"""
    pose, table = view.cameras[frame], view.scene.set.table
    points = pose.position + hull @ pose.world_from_camera.T
    return np.asarray(points[((points[:, :2] >= 0) & (points[:, :2] <= (table.width, table.depth))).all(axis=1)])


def hull_of(camera: Camera) -> Array:
    """Points (m, 3) on the hull of lens and body: right, up and backward of the entrance pupil. [m]

    Of a lens whose size is not known it is that pupil.
    """
    pupil = ((0.0, 0.0, 0.0, 0.0),) if camera.lens_size is None else ()
    return _hull((*pupil, *camera.blocks))


#: The bodies, wide, high and deep, and the lens, across and long, that phones and cameras mostly have whose own are not
#: known. Common practice, no source. [m]
USUAL_PHONE, USUAL_CAMERA, _USUAL_LENS = (0.150, 0.072, 0.009), (0.125, 0.085, 0.060), (0.065, 0.070)


def usual_body(camera: Camera) -> Camera:
    """The same camera with a body of a usual size, and a lens where that is not known either."""
    if math.hypot(*camera.sensor) < PHONE_SENSOR:
        return camera.model_copy(update={"body": USUAL_PHONE})
    return camera.model_copy(update={"body": USUAL_CAMERA, "lens_size": camera.lens_size or _USUAL_LENS})


@cache
def _hull(blocks: tuple[tuple[float, float, float, float], ...]) -> Array:
    parts = []
    for width, height, front, back in blocks:
        x, y, z = np.meshgrid(
            np.linspace(-width / 2, width / 2, 5), [-height / 2, height / 2], np.linspace(front, back, 9)
        )
        parts.append(np.stack([x.ravel(), y.ravel(), z.ravel()], axis=1))
    return np.concatenate(parts)
