"""Focus: what is sharp, when the vehicle is, and the stop that is best for this run."""

import math
from collections.abc import Iterator
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import backdrop_plane, solids_of
from previz.physics import optics
from previz.physics.exposure import THIRD_STOP_F_NUMBERS, working_f_number
from previz.predictions.as_written import place_written
from previz.predictions.checks.shot import ways_to_cut_short
from previz.predictions.checks.slips import nearest_asked
from previz.predictions.findings import Change, Notes, Verdict, Way, above, below
from previz.predictions.metering import stopped_down
from previz.predictions.places import told_move, told_place
from previz.predictions.pulled import focus_marks
from previz.predictions.reframing import reframed
from previz.predictions.shot_view import ShotView, background_middle
from previz.scene import MID_FRAME, Focus
from previz.units import percent

Array = NDArray[np.float64]

#: A picture is sharp where blur, defocus and diffraction together, stays under the format's diagonal over this. Common
#: practice, no source.
DIAGONAL_OVER = 1500

#: Share of the frames that should show the whole vehicle sharp. Common practice, no source.
SHARP_SHARE = 0.9

#: Where the sharpest that there is of the vehicle is blurred by more than so many times what counts as sharp, the shot
#: does not work; under that it is soft. Limits in use lie further apart than that. Common practice, no source.
SOFT = 2.0

_SIDEWAYS = 0.3  # what a step back gains of distance, under which it is a step aside
_FURTHER = (1.0, 1.15, 1.4)  # times a step that would do if the camera did not turn with it

_ALONG_PATH = 2001  # so many places of the vehicle along its path are looked at


def blur_limit(view: ShotView) -> float:
    """Blur disc on the sensor that still counts as sharp: diagonal / 1500, and never under a pixel. [m]"""
    return sharp_disc(view.area, view.pixel_pitch)


def sharp_disc(area: tuple[float, float], pixel_pitch: float) -> float:
    """The same of a recorded area, width and height, and its pixels. [m]"""
    return max(math.hypot(*area) / DIAGONAL_OVER, pixel_pitch)


def diffraction_discs(view: ShotView, f_number: float, focus: Array | None = None) -> Array:
    """Disc that blurs as much as diffraction in each frame, wider the closer it is focused. (n,) [m]

    focus: other focus distances (n,) than the shot's. [m]
    """
    m = optics.magnification(view.shot.focal_length, view.focus if focus is None else focus)
    return np.asarray(optics.diffraction_disc(working_f_number(f_number, m, view.camera.pupil_magnification)))


def sharp_range(view: ShotView, frame: int) -> tuple[float, float] | None:
    """Nearest and farthest distance that is sharp in one of the frames looked at [m]; None where nothing can be."""
    shot, s = view.shot, float(view.focus[frame])
    left = optics.defocus_allowed(blur_limit(view), float(diffraction_discs(view, shot.f_number)[frame]))
    return optics.depth_of_field(shot.focal_length, shot.f_number, s, left) if left > 0 else None


def check_focus(view: ShotView) -> Notes:
    """Depth of field, sharp frames, diffraction, best stop, nearest focus."""
    notes = Notes(view.shot.id)
    _limits(view, notes)
    _nearest(view, notes)
    _blurs(view, notes)
    if view.vehicle_in_frame.any():
        _vehicle(view, notes)
    _diffraction(view, notes)
    return notes


def stop_from(f_number: float) -> float:
    """The engraved third stop at or above an f-number.

    >>> stop_from(5.7), stop_from(8.0)
    (6.3, 8.0)
    """
    return next((stop for stop in THIRD_STOP_F_NUMBERS if stop >= f_number * (1 - 1e-9)), math.ceil(f_number))


def _limits(view: ShotView, notes: Notes) -> None:
    shot, s, limit = view.shot, float(view.focus[view.middle]), blur_limit(view)
    m = float(optics.magnification(shot.focal_length, s))
    notes.figure("focal_length", shot.focal_length)
    notes.figure("equivalent_focal_length", shot.focal_length * optics.crop_factor(view.camera.sensor))
    notes.figure("f_number", shot.f_number)
    notes.figure("focus_distance", s)
    notes.figure("focus_from_sensor", optics.sensor_to_subject(shot.focal_length, s))
    for mark in focus_marks(view):
        notes.figure("focus_at", mark.distance, mark.when)
        notes.figure("focus_mark", mark.from_sensor, mark.when)
    notes.figure("magnification", m)
    notes.figure("working_f_number", working_f_number(shot.f_number, m, view.camera.pupil_magnification))
    notes.figure("blur_limit", limit)
    sharp = sharp_range(view, view.middle)
    if sharp is not None:
        notes.figure("near_limit", sharp[0])
        notes.figure("far_limit", sharp[1])
    notes.figure("depth_of_field", sharp[1] - sharp[0] if sharp is not None else 0.0)
    # Focused that far the working f-number is the engraved one.
    left = optics.defocus_allowed(limit, float(optics.diffraction_disc(shot.f_number)))
    hyperfocal = optics.hyperfocal_distance(shot.focal_length, shot.f_number, left) if left > 0 else math.inf
    notes.figure("hyperfocal_distance", hyperfocal)


def _nearest(view: ShotView, notes: Notes) -> None:
    nearest, worst = float(view.camera.nearest), int(np.argmin(view.focus))
    focus = float(view.focus[worst])
    # A millimetre more than needed, so that a tape's rounding does not undo it.
    short = max(nearest - focus, 0.0) + 0.001
    back = view.cameras[worst].world_from_camera[:, 2] * short
    key, changes, remedy = f"shots[{view.index}]", [], ""
    keyed = not isinstance(view.shot.at[0], int | float)
    set_distance = isinstance(view.shot.focus, Focus) and view.shot.focus.distance is not None
    if set_distance:
        changes = [Change(f"{key}.focus", view.scene.tape.written(nearest + 0.001, 0))]
        remedy = f"Focus at {view.scene.tape(nearest + 0.001)} or further"
    elif not keyed:
        place = np.array(view.shot.at) + back
        changes = [Change(f"{key}.at", view.scene.tape.place(place, view.shot.at))]
        remedy = f"Move the camera back by {view.scene.tape(short)}, {told_place(view.scene, place)}"
    other = f"a lens that focuses from {view.scene.tape(focus)}"
    too_near = view.focus < nearest * (1 - 1e-9)
    notes.finding(
        "focus.nearest",
        "focus_distance",
        focus,
        nearest,
        below(focus, nearest * (1 - 1e-9), nearest * (1 - 1e-9)),
        f"Focus goes down to {view.scene.tape(focus)}; the lens focuses from {view.scene.tape(nearest)}."
        + nearest_asked(view),
        f"{remedy}." if remedy else "",
        changes=changes,
        ways=lambda: (
            chain(_kept_off(view) if keyed else (), reframed(view), ways_to_cut_short(view)) if too_near.any() else ()
        ),
        otherwise=f"Stand {view.scene.tape(short)} further off, or use {other}." if keyed else f"Use {other}.",
        frames=view.numbers[too_near],
    )


def _kept_off(view: ShotView) -> Iterator[Way]:
    """The whole move of a camera shifted back from what it comes too near to, as high as it is."""
    scene, nearest = view.scene, float(view.camera.nearest)
    axes = np.stack([pose.world_from_camera[:, 2] for pose in view.cameras])
    back = axes[int(np.argmin(view.focus))] * [1.0, 1.0, 0.0]
    back /= max(float(np.linalg.norm(back)), 1e-9)
    gains = axes @ back
    near = view.focus < nearest
    if (gains[near] < _SIDEWAYS).any():
        return
    least = float(((nearest - view.focus[near]) / gains[near]).max())
    for more in _FURTHER:  # it looks less to the side from there, and so gains less than it moves
        by = scene.tape.up(least * more + 0.001) * back
        keys: Any = view.shot.at
        moved = [key.model_copy(update={"at": tuple((np.array(key.at) + by).tolist())}) for key in keys]
        words = f"Move the camera {told_move(scene, by)} at each of its keys (at)."
        yield Way(words, (Change(f"shots[{view.index}].at", place_written(scene, moved)),))


def _blurs(view: ShotView, notes: Notes) -> None:
    """Blur of each piece in view, of the backdrop and of the vehicle, mid-shot, in pixels."""
    middle, shot = view.middle, view.shot
    named = {solid.id: solid.middle for solid in reversed(solids_of(view.scene))}
    plane = backdrop_plane(view.scene)
    if plane is not None and plane.towards(-view.cameras[middle].world_from_camera[:, 2]) > 1e-6:
        named["backdrop"] = background_middle(view, middle)
    if not named:
        return
    places, depths = view.project(np.stack(list(named.values())))
    for name, (x, y), depth in zip(named, places[middle], depths[middle], strict=True):
        if depth > 0 and 0 <= x <= view.size[0] and 0 <= y <= view.size[1]:
            disc = optics.circle_of_confusion(shot.focal_length, shot.f_number, view.focus[middle], depth)
            notes.figure("blur_pixels", disc / view.pixel_pitch, name)


def _vehicle(view: ShotView, notes: Notes) -> None:
    shot, limit = view.shot, blur_limit(view)
    seen = view.vehicle_in_frame
    worst = _worst_disc(view, shot.f_number)[seen]
    sharp = _worst_blur(view, shot.f_number)[seen] <= limit * (1 + 1e-9)
    near, far = _sharp_depths(view)
    depths = view.vehicle_places[1][seen]
    partly = (depths.min(axis=1) <= far[seen]) & (depths.max(axis=1) >= near[seen])
    numbers = view.numbers[seen]
    share = float(sharp.mean())
    middle = int(np.argmin(np.abs(numbers - view.numbers[view.middle])))
    notes.figure("blur_pixels", worst[middle] / view.pixel_pitch, "vehicle")
    notes.figure("vehicle_sharp_share", share)
    if sharp.any():
        notes.figure("first_sharp_frame", numbers[sharp][0])
        notes.figure("last_sharp_frame", numbers[sharp][-1])
    notes.figure("total_blur", _total(view, shot.f_number))
    notes.figure("best_f_number", view.once("best stop", lambda: best_f_number(view)))
    notes.figure("working_distance", float(depths.min()) - (view.camera.rim or 0.0))
    some, least = float(partly.mean()), _least_blur(view, shot.f_number)
    notes.figure("vehicle_part_sharp_share", some)
    soft = above(least, limit, SOFT * limit)
    quite = "quite " if soft is Verdict.WATCH else ""
    notes.finding(
        "focus.some",
        "least_blur",
        least,
        limit,
        Verdict.FINE if some > 0 else soft,
        f"Some of the vehicle is sharp in {percent(some)} of the frames that show it."
        if some > 0
        else f"Nothing of the vehicle is {quite}sharp in any frame that shows it: where it is sharpest it blurs by "
        f"{least * 1e6:.1f} um, and {limit * 1e6:.1f} um count as sharp.{_missed(view)}",
        ways=lambda: [*_sharper(view), *_on_it(view), *_some_sharp(view)],
        frames=numbers,
    )
    notes.finding(
        "focus.vehicle",
        "vehicle_sharp_share",
        share,
        SHARP_SHARE,
        below(share, SHARP_SHARE),
        f"The whole vehicle is sharp in {percent(share)} of the frames that show it, some of it in {percent(some)}."
        + (_untimely(view) if some > 0 and share < SHARP_SHARE else ""),
        ways=lambda: _sharper(view),
        otherwise=view.once("not sharper", lambda: _not_sharper(view)) if share < SHARP_SHARE else "",
        frames=numbers[~sharp],
    )


def _seen_from_to(view: ShotView) -> tuple[float, float]:
    """The first and the last moment at which the picture shows the vehicle. [s on set]"""
    times = view.times[view.vehicle_in_frame]
    return float(times[0]), float(times[-1])


def _untimely(view: ShotView) -> str:
    """In words, with a space before: that focus is set where the vehicle is while the picture does not show it."""
    focus, (first, last) = view.shot.focus, _seen_from_to(view)
    if not isinstance(focus, Focus) or focus.target is None or focus.target.moment in (None, MID_FRAME):
        return ""
    moment = float(focus.target.moment)
    if first <= moment <= last:
        return ""
    when = "has not come into the picture yet" if moment < first else "has left the picture"
    return (
        f" It is focused where the vehicle is at {moment:.3g} s on set, when it {when}: that shows it from "
        f"{first:.3g} to {last:.3g} s."
    )


def _missed(view: ShotView) -> str:
    """The same, or when else the vehicle comes to what is sharp, if it ever does; nothing where the camera moves."""
    if _all_diffracted(view):
        return f" Diffraction does it: at f/{view.shot.f_number:g} it blurs all by more than counts as sharp."
    said = _untimely(view)
    if said or not view.stands_still:
        return said
    along = np.linspace(0.0, view.path.length, _ALONG_PATH)
    middles = np.column_stack([view.path.at(along), np.full(len(along), view.vehicle_corners[0, :, 2].mean())])
    past = view.depths(middles)[view.middle] - view.focus[view.middle]
    passes = along[1:][np.diff(np.sign(past)) != 0]
    if not len(passes):
        return " Its way never comes to what is sharp."
    first, last = _seen_from_to(view)
    comes = min((view.travel.time_at(float(each)) for each in passes), key=lambda time: max(first - time, time - last))
    if not math.isfinite(comes) or first <= comes <= last:
        return ""  # it stands before it gets there, or its middle does what its box does not
    when = "before it comes into the picture" if comes < first else "after it has left the picture"
    return (
        f" It is where that is sharp at {comes:.3g} s on set, {when}, which shows it from {first:.3g} to {last:.3g} s."
    )


def _all_diffracted(view: ShotView) -> bool:
    """Whether diffraction alone blurs all there is by more than counts as sharp."""
    return bool(np.isnan(_sharp_depths(view)[0]).all())


def _sharp_depths(view: ShotView) -> tuple[Array, Array]:
    """Near and far limit of depth of field in each frame, (n,) each; nan where nothing is sharp. [m]"""
    shot, most, limits = view.shot, blur_limit(view), []
    for s, disc in zip(view.focus.tolist(), diffraction_discs(view, shot.f_number).tolist(), strict=True):
        left = optics.defocus_allowed(most, disc)
        sharp = optics.depth_of_field(shot.focal_length, shot.f_number, s, left) if left > 0 else None
        limits.append(sharp or (math.nan, math.nan))
    near, far = np.array(limits).T
    return near, far


def _worst_disc(view: ShotView, f_number: float, focus: Array | None = None) -> Array:
    """Largest blur disc on the vehicle's box in each frame (n,). [m]"""
    return _at_f1(view, focus)[0] / f_number


def _worst_blur(view: ShotView, f_number: float, focus: Array | None = None) -> Array:
    """Largest blur on the vehicle's box in each frame, defocus and diffraction together. (n,) [m]"""
    defocus, _, diffraction = _at_f1(view, focus)
    return np.asarray(optics.blur_together(defocus / f_number, diffraction * f_number))


def _least_blur(view: ShotView, f_number: float) -> float:
    """Blur of the sharpest of the vehicle's box in any frame that shows it, defocus and diffraction together. [m]"""
    _, least, diffraction = _at_f1(view, None)
    blur = optics.blur_together(least / f_number, diffraction * f_number)
    return float(np.asarray(blur)[view.vehicle_in_frame].min())


def _some_of_it_sharp(view: ShotView, f_number: float) -> bool:
    """Whether some of the vehicle is sharp in any frame, as focus and stop are set."""
    return _least_blur(view, f_number) <= blur_limit(view) * (1 + 1e-9)


def _at_f1(view: ShotView, focus: Array | None) -> tuple[Array, Array, Array]:
    """Largest and least blur disc on the vehicle's box and that of diffraction, in each frame at f/1: the first two
    fall with the f-number, the last grows with it. (n,) each [m]
    """
    s = view.focus if focus is None else focus
    known = view.at_f1.get(s.tobytes())
    if known is None:
        depths = np.maximum(view.vehicle_places[1], 1e-6)
        discs = np.asarray(optics.circle_of_confusion(view.shot.focal_length, 1.0, s[:, None], depths))
        within = (depths.min(axis=1) <= s) & (s <= depths.max(axis=1))
        least = np.where(within, 0.0, discs.min(axis=1))
        known = view.at_f1[s.tobytes()] = discs.max(axis=1), least, diffraction_discs(view, 1.0, s)
    return known


def _all_sharp(view: ShotView, f_number: float, focus: Array) -> bool:
    """Whether the vehicle is sharp as long as it is seen."""
    return float(_worst_blur(view, f_number, focus)[view.vehicle_in_frame].max()) <= blur_limit(view)


def _sharper(view: ShotView) -> list[Way]:
    """Changes of stop and focus that keep the vehicle sharp, the least first.

    A focus that is pulled by keys was chosen, and stays.
    """
    shot, key = view.shot, f"shots[{view.index}]"
    ways: list[Way] = []
    focuses: list[tuple[Array, tuple[Change, ...]]] = [(view.focus, ())]
    if not isinstance(shot.focus, tuple):
        focuses.append((_focus_on_vehicle(view), (Change(f"{key}.focus", "vehicle"),)))
    for focus, also in focuses:
        if also and _all_sharp(view, shot.f_number, focus):
            ways.append(Way("Focus on the vehicle all along.", also))
        good = [stop for stop in view.stops if _all_sharp(view, stop, focus)]
        if good:
            stop = min(good, key=lambda each: abs(math.log(each / shot.f_number)))
            way = "stop down to" if stop > shot.f_number else "open up to"
            words = f"Focus on the vehicle all along and {way}" if also else f"{way[0].upper()}{way[1:]}"
            written = (*also, Change(f"{key}.f_number", f"f/{stop:g}"))
            ways.append(Way(f"{words} f/{stop:g}{stopped_down(view, stop)}.", written))
    return ways


def _on_it(view: ShotView) -> list[Way]:
    """Focus on the vehicle, so that some of it is sharp, where no stop has all of it so and it is not diffraction.

    A focus that is pulled by keys was chosen, and stays.
    """
    if isinstance(view.shot.focus, tuple) or _all_diffracted(view):
        return []
    written = Change(f"shots[{view.index}].focus", "vehicle")
    return [Way("Focus on the vehicle all along: its middle is sharp then.", (written,))]


def _some_sharp(view: ShotView) -> Iterator[Way]:
    """The nearest stop at which some of the vehicle is sharp, focused as it is."""
    now = view.shot.f_number
    good = [stop for stop in view.stops if _some_of_it_sharp(view, stop)]
    if good:
        stop = min(good, key=lambda each: abs(math.log(each / now)))
        way = "Stop down to" if stop > now else "Open up to"
        words = f"{way} f/{stop:g}{stopped_down(view, stop)}: some of it is sharp then."
        yield Way(words, (Change(f"shots[{view.index}].f_number", f"f/{stop:g}"),))


def _not_sharper(view: ShotView) -> str:
    """Why nothing keeps the vehicle sharp, where no stop does."""
    on_vehicle = _focus_on_vehicle(view)
    if any(_all_sharp(view, stop, focus) for stop in view.stops for focus in (view.focus, on_vehicle)):
        return ""
    past = next((stop for stop in THIRD_STOP_F_NUMBERS if _all_sharp(view, stop, on_vehicle)), None)
    widest, smallest = f"f/{view.widest:.3g}", f"f/{view.camera.smallest:g}"
    which, why = f"No stop of this lens, {widest} to {smallest}, keeps", ""
    if widest == smallest:
        which = f"{widest}, this lens's only stop, does not keep"
    else:
        why = " (where the stop is small enough for it, diffraction blurs all)"
    if past is not None:
        why = f" (f/{past:g} would be needed even with focus on the vehicle)"
    return f"{which} all of it sharp{why}: it takes a smaller sensor, or the vehicle smaller in the picture."


def _focus_on_vehicle(view: ShotView) -> Array:
    """Focus distances (n,) on the middle of the vehicle, where `focus: vehicle` puts them. [m]"""
    middle = view.vehicle_corners.mean(axis=1)
    positions = np.stack([pose.position for pose in view.cameras])
    axes = np.stack([-pose.world_from_camera[:, 2] for pose in view.cameras])
    depth = np.einsum("nk,nk->n", middle - positions, axes)
    return np.maximum(depth, view.shot.focal_length * 1.01)


def _total(view: ShotView, f_number: float) -> float:
    """Defocus of the vehicle, diffraction and one pixel together, worst frame. [m]"""
    blur = _worst_blur(view, f_number)[view.vehicle_in_frame].max()
    return math.hypot(blur, view.pixel_pitch)


def best_f_number(view: ShotView) -> float:
    """The third stop of this lens at which the vehicle's worst frame is sharpest, of those with any of it sharp. [-]

    A smaller one may blur the worst of it less where diffraction blurs all of it too much: there nothing is sharp.
    """
    every = view.stops or [view.widest]
    some = [stop for stop in every if _some_of_it_sharp(view, stop)]
    return min(some or every, key=lambda stop: _total(view, stop))


def _diffraction(view: ShotView, notes: Notes) -> None:
    shot, limit = view.shot, blur_limit(view)
    m = float(optics.magnification(shot.focal_length, float(view.focus[view.middle])))
    widening = working_f_number(1.0, m, view.camera.pupil_magnification)
    disc = float(optics.diffraction_disc(shot.f_number * widening))
    notes.figure("diffraction_disc", disc)
    notes.figure("pixel_pitch", view.pixel_pitch)
    most = limit / float(optics.diffraction_disc(1.0)) / widening
    opened = max((stop for stop in THIRD_STOP_F_NUMBERS if stop <= most), default=view.widest)
    possible = opened >= view.widest * 0.99
    notes.finding(
        "focus.diffraction",
        "diffraction_disc",
        disc,
        limit,
        above(disc, limit),
        f"Diffraction at f/{shot.f_number:g} (f/{shot.f_number * widening:.3g} so close) blurs as a disc of "
        f"{disc * 1e6:.1f} um does; {limit * 1e6:.1f} um counts as sharp.",
        f"Open up to f/{opened:g}, for less depth of field.",
        changes=[Change(f"shots[{view.index}].f_number", f"f/{opened:g}")] if possible else [],
        otherwise=""
        if possible
        else f"This lens opens to f/{view.widest:.3g} at most: it takes a larger sensor, or fewer pixels.",
    )
