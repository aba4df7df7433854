"""When a shot begins and ends against the vehicle's run: not let go yet, gone already, or no frame long."""

import math
from collections.abc import Iterator
from itertools import islice, product
from typing import Any

import numpy as np

from previz.errors import PrevizError, ShotFault
from previz.layout import looked_through, most_in_the_middle, travel_of
from previz.predictions.checks.time import run_ends, time_to_read
from previz.predictions.findings import Change, Notes, Verdict, Way, above, below
from previz.predictions.places import told_place
from previz.predictions.real_speed import ways_as_it_looks
from previz.predictions.release import release_for
from previz.predictions.shot_view import ShotView, view_from_afar, view_of
from previz.scene import MID_FRAME, Focus, Scene, Shot, Target, rewritten

#: Part of a frame that rounding may cost. [-]
_HAIR = 1e-3


def check_shot(view: ShotView) -> Notes:
    """The shot's first and last moment, and whether there is a frame between them."""
    notes = Notes(view.shot.id)
    _one_frame(view, notes)
    _ends_with_the_run(view, notes)
    _begins_on_the_ramp(view, notes)
    return notes


def cannot_be(scene: Scene, shot: Shot, fault: ShotFault) -> Notes:
    """The one finding on a shot that cannot be laid open: aimed, focused or begun where that cannot be."""
    notes, number = Notes(shot.id), scene.shots.index(shot)
    notes.finding(
        f"shot.{fault.key}",
        fault.quantity,
        fault.value,
        fault.limit,
        Verdict.STOP,
        f"{fault.said[0].upper()}{fault.said[1:]}.",
        f"{fault.remedy}.",
        ways=lambda: _mended(scene, shot, number, fault.key),
    )
    return notes


#: What may be written of a shot so that it can be laid open, by the key at fault, in words and as a file has it.
_PLAIN: dict[str, tuple[tuple[str, dict[str, str]], ...]] = {
    "focus": (
        ("Focus on the vehicle all along", {"focus": "vehicle"}),
        ("Follow the vehicle (aim) and focus on it", {"aim": "vehicle", "focus": "vehicle"}),
    ),
    "aim": (
        ("Follow the vehicle (aim)", {"aim": "vehicle"}),
        ("Follow the vehicle (aim) and focus on it", {"aim": "vehicle", "focus": "vehicle"}),
    ),
    "start": (("Begin at 0 s on set (shot's start)", {"start": "0 s"}),),
}

#: A focus that is a distance: so many times the nearest of the lens. Common practice, no source.
_FURTHER = 1.5

#: Shares of its length to which a shot is cut, and how far a camera is moved, so that what is focused on does not come
#: too near; the second in metres. Common practice, no source.
_SHORTER, _MOVED = (0.95, 0.9, 0.8, 0.65, 0.5, 0.35, 0.2), (0.03, 0.06, 0.1, 0.2)


def _mended(scene: Scene, shot: Shot, number: int, key: str) -> Iterator[Way]:
    """What lets the shot be laid open, as far as that does: on the vehicle, from 0 s, focused at a distance."""
    if key == "speed":
        yield from _as_it_looks(scene, shot)
        return
    plain = _PLAIN[key] if scene.vehicle is not None or key == "start" else ()
    tried = [each for each in plain if not _says(shot, each[1])]
    if key == "focus" and _says(shot, {"focus": "vehicle"}):
        tried = [*_not_so_near(scene, shot), ("Follow the vehicle (aim)", {"aim": "vehicle"})]
    elif key == "focus":  # to follow it asks more of whoever films than to set the lens at another time
        tried[1:1] = _at_another_time(scene, shot)
    if key == "focus":
        camera = scene.cameras[shot.camera]
        off = scene.tape(max(_FURTHER * float(camera.nearest), 2 * shot.focal_length))
        tried.append((f"Focus at {off}", {"focus": off}))
    for words, written in tried:
        changes = tuple(Change(f"shots[{number}].{name}", value) for name, value in written.items())
        try:
            then = rewritten(scene, {change.key: change.value for change in changes})
            view_of(then, then.shots[number])
        except PrevizError:
            continue
        yield Way(f"{words}.", changes)


def _as_it_looks(scene: Scene, shot: Shot) -> Iterator[Way]:
    for words, speed in ways_as_it_looks(scene, shot):
        change = Change("vehicle.speed", speed)
        try:
            rewritten(scene, {change.key: change.value})
        except PrevizError:  # other shots are slowed otherwise, and it must say in which
            continue
        yield Way(words, (change,))
        return


def _says(shot: Shot, written: dict[str, str]) -> bool:
    """Whether it does all of that already."""
    focus = shot.focus.target if isinstance(shot.focus, Focus) else None
    now = {"aim": shot.aim, "focus": focus}
    follows = {key for key, at in now.items() if isinstance(at, Target) and at.vehicle and at.moment is None}
    return all(key in follows and value == "vehicle" for key, value in written.items())


def _not_so_near(scene: Scene, shot: Shot) -> Iterator[tuple[str, dict[str, Any]]]:
    """While the vehicle that is focused on is not too near: an earlier end, a later start, or a camera further back."""
    yield from islice(_cut_short(scene, shot), 1)
    target = shot.aim.place if isinstance(shot.aim, Target) else None
    if target is None or not isinstance(shot.at[0], int | float):
        return
    way = np.array([shot.at[0] - target[0], shot.at[1] - target[1]])
    back = way / max(float(np.hypot(*way)), 1e-9)
    for by, (said, along) in product(_MOVED, (("aside", (-back[1], back[0])), ("aside", (back[1], -back[0])),
                                              ("off", back))):  # fmt: skip
        place = (shot.at[0] + by * along[0], shot.at[1] + by * along[1], shot.at[2])
        if _is_sharp_all_along(scene, shot, {"at": place}):
            words = f"Stand the lens {scene.tape(by)} further {said}, {told_place(scene, place)}"
            yield words, {"at": scene.tape.place(place, shot.at, 0)}
            return


def _at_another_time(scene: Scene, shot: Shot) -> list[tuple[str, dict[str, str]]]:
    """The lens set once, where the vehicle is in the picture and not too near, as close to what was asked as can be.

    Nothing of a focus that is not set once on the vehicle.
    """
    target = shot.focus.target if isinstance(shot.focus, Focus) else None
    if target is None or not target.vehicle or target.moment is None:
        return []
    view = view_from_afar(scene, shot)
    depths = view.depths(view.vehicle_corners.mean(axis=1)[:, None])[:, 0]
    there = view.vehicle_in_frame & (depths >= float(view.camera.nearest))
    left, _, right, _ = view.vehicle_frame.T
    off = np.where(there, np.abs((left + right) / 2 / view.size[0] - 0.5), np.inf)
    middle = view.times[most_in_the_middle(off[None], view.middle)[0]]
    wanted = float(middle if target.moment == MID_FRAME else target.moment)
    for time in sorted(view.times[there].round(2).tolist(), key=lambda each: abs(each - wanted)):
        there_then = target.model_copy(update={"moment": time})
        if _is_sharp_all_along(scene, shot, {"focus": Focus(target=there_then)}):
            return [(f"Focus on the vehicle as it is at {time:g} s on set", {"focus": there_then.said_of_vehicle})]
    return []


def ways_to_cut_short(view: ShotView) -> Iterator[Way]:
    """The longest part of a shot in which the vehicle that focus follows is not too near; nothing of another focus."""
    if not _says(view.shot, {"focus": "vehicle"}):
        return
    for words, written in islice(_cut_short(view.scene, view.shot), 1):
        yield Way(f"{words}.", tuple(Change(f"shots[{view.index}].{name}", value) for name, value in written.items()))


def _cut_short(scene: Scene, shot: Shot) -> Iterator[tuple[str, dict[str, Any]]]:
    """An earlier end, or where the vehicle drives away from the camera a later start, the longest shot first."""
    whole, start = looked_through(scene, shot)[0] / float(shot.capture.rate), float(shot.start)
    for share in _SHORTER:
        lasts, begins = math.floor(whole * share * 100) / 100, math.ceil((start + whole * (1 - share)) * 100) / 100
        if lasts <= 0:
            return
        if _is_sharp_all_along(scene, shot, {"duration": lasts}):
            said = "for then the vehicle comes too near to be focused on"
            yield f"Let it last {lasts:.2f} s on set (duration), {said}", {"duration": f"{lasts:.2f} s"}
        left = math.floor((start + whole - begins) * 100) / 100
        if left > 0 and _is_sharp_all_along(scene, shot, {"start": begins, "duration": left}):
            said = "for until then the vehicle is too near to be focused on"
            yield (
                f"Begin at {begins:.2f} s on set (shot's start) and let it last {left:.2f} s (duration), {said}",
                {"start": f"{begins:.2f} s", "duration": f"{left:.2f} s"},
            )


def _is_sharp_all_along(scene: Scene, shot: Shot, update: dict[str, Any]) -> bool:
    """Whether a shot with something else can be laid open, its focus never nearer than the lens has."""
    then = shot.model_copy(update=update)
    shots = tuple(then if each is shot else each for each in scene.shots)
    try:
        view = view_of(scene.model_copy(update={"shots": shots}), then)
    except PrevizError:
        return False
    return float(view.focus.min()) >= float(view.camera.nearest)


def _one_frame(view: ShotView, notes: Notes) -> None:
    duration, rate = view.shot.duration, float(view.shot.capture.rate)
    if duration is None:
        return
    frames = float(duration) * rate
    wanted = time_to_read(view)
    notes.finding(
        "shot.frame",
        "frames",
        frames,
        1.0,
        below(frames, 1 - 1e-6),
        f"The shot lasts {frames:.2f} of a frame; one frame is made of it."
        if frames < 1 - 1e-6
        else f"The shot has {view.count} frames.",
        f"Let it run for {wanted:.3f} s on set.",
        changes=[Change(f"shots[{view.index}].duration", f"{wanted:.6f} s")],
    )


def _ends_with_the_run(view: ShotView, notes: Notes) -> None:
    """A vehicle past the end of its path drives on straight in the picture; one that has stopped stands there."""
    shot, rate = view.shot, float(view.shot.capture.rate)
    stands, leaves, over = view.travel.stops_at, view.travel.time_at(view.path.length), run_ends(view)
    start = float(shot.start)
    end = start + view.count / rate
    notes.figure("shot_start", start)
    notes.figure("shot_end", end)
    if not math.isfinite(over):
        return
    key, lasts = f"shots[{view.index}]", math.floor((over - start) * 1e5) / 1e5
    # Cut so short that it is hardly taken in it would be lengthened again: then it begins earlier, if it can.
    earlier, read = math.floor((over - view.count / rate) * 1e5) / 1e5, lasts >= time_to_read(view)
    if stands <= leaves:
        remedy, changes = _before_it_stands(view, over)
    elif lasts * rate >= 1 and (read or earlier < 0):
        remedy = f"Let it last {lasts:.3f} s on set (duration), or give it a longer way to drive"
        changes = [Change(f"{key}.duration", f"{lasts:.5f} s")]
    else:
        remedy = f"Begin it at {earlier:.3f} s on set (shot's start), or give it a longer way to drive"
        changes = [Change(f"{key}.start", f"{earlier:.5f} s")]
    what = "stands still" if stands <= leaves else "has left its path"
    notes.finding(
        "shot.run",
        "shot_end",
        end,
        over,
        above(end, over + (1 + _HAIR) / rate),
        f"The vehicle {what} from {over:.3f} s on set, before the shot ends at {end:.3f} s on set."
        if end > over
        else f"The vehicle drives throughout the shot; it {what} from {over:.3f} s on set.",
        f"{remedy}.",
        changes=changes,
        frames=view.numbers[view.times > over],
    )


def _before_it_stands(view: ShotView, over: float) -> tuple[str, list[Change]]:
    """What to do about a launched vehicle that stands still from a moment on [s], in words and changes."""
    release, start, rate = release_for(view.scene), float(view.shot.start), float(view.shot.capture.rate)
    words = f"{release.words}, from where it gets to the end of its path"
    lasts = math.floor((over - start) * 1e5) / 1e5
    if lasts * rate >= 1:
        changes = [Change(f"shots[{view.index}].duration", f"{lasts:.5f} s")]
        return f"Let it last {lasts:.3f} s on set (duration); or {words[0].lower()}{words[1:]}", changes
    # Only where the shot then ends before the run does; it may be gone by then.
    travel = travel_of(release.into(view.scene))
    ends = min(travel.stops_at, travel.time_at(view.path.length)) + 1 / rate
    return words, release.changes if start + view.count / rate <= ends else []


def _begins_on_the_ramp(view: ShotView, notes: Notes) -> None:
    if view.scene.vehicle is None or view.scene.vehicle.launch is None:
        return
    start, released, foot = float(view.shot.start), view.travel.released_at, view.travel.begins
    released = released if math.isfinite(released) else foot
    notes.finding(
        "shot.ramp",
        "shot_start",
        start,
        released,
        Verdict.WATCH if start < released else Verdict.FINE,
        f"The shot begins {released - start:.3f} s on set before the vehicle is let go; it stands on its ramp."
        if start < released
        else f"The vehicle is let go at {released:.3f} s on set and rolls down its ramp when the shot begins."
        if start < foot
        else "The vehicle has left the ramp when the shot begins.",
        f"Begin at {math.ceil(released * 1000) / 1000:.3f} s on set or later (shot's start).",
        changes=[Change(f"shots[{view.index}].start", f"{math.ceil(released * 1000) / 1000:.3f} s")],
        frames=view.numbers[view.times < released],
    )
