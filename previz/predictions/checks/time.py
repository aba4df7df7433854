"""Time: how long it lasts on screen, and whether it moves like something large."""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import partial

from previz.layout import vehicle_size
from previz.physics import pacing
from previz.predictions.findings import Change, Notes, Verdict, Way, above, below
from previz.predictions.metering import shortened
from previz.predictions.release import note_releases, release_for
from previz.predictions.shot_view import ShotView
from previz.scene import VEHICLE_SIZES, WHEEL_DIAMETERS, Focus, Target, Vehicle, looks_so_fast, paced_by

#: Equal spokes, holes or nuts that a wheel is taken to have. Common practice, no source.
SPOKES = 10

# Limits. All common practice, no source.
GRAVITY_RATIO = (0.8, 1.25)  # slowdown over sqrt(S)
ROAD_SPEEDS = (1.5, 35.0)  # what passes for a vehicle on a road at full scale [m/s]: a walk to a motorway
SCREEN_TIME = 1.5  # a shorter shot hardly reads [s]


def check_time(view: ShotView) -> Notes:
    """How long it lasts, slowdown, apparent speed, wheels."""
    notes = Notes(view.shot.id)
    _length(view, notes)
    _gravity(view, notes)
    if view.scene.vehicle is not None:
        _speed(view, view.scene.vehicle, notes)
    _wheels(view, notes)
    return notes


def slowdown_of(view: ShotView) -> float:
    """Capture rate over playback rate. [-]"""
    return pacing.slowdown(float(view.shot.capture.rate), float(view.shot.playback))


def time_to_read(view: ShotView) -> float:
    """How long a shot is to last to be taken in: a frame more, so that rounding does not undo it. [s on set]"""
    return SCREEN_TIME / slowdown_of(view) + 1 / float(view.shot.capture.rate)


def run_ends(view: ShotView) -> float:
    """When the vehicle has stopped, or has left its path; inf where it never does. [s on set]"""
    return min(view.travel.stops_at, view.travel.time_at(view.path.length))


def _length(view: ShotView, notes: Notes) -> None:
    on_set = view.count / float(view.shot.capture.rate)
    on_screen = view.count / float(view.shot.playback)
    notes.figure("frames", view.count)
    notes.figure("time_on_set", on_set)
    notes.figure("time_on_screen", on_screen)
    wanted = time_to_read(view)
    notes.finding(
        "time.screen",
        "time_on_screen",
        on_screen,
        SCREEN_TIME,
        below(on_screen, SCREEN_TIME),
        f"The shot lasts {on_screen:.2f} s on screen.",
        f"Let it run for {wanted:.3f} s on set; less than {SCREEN_TIME:g} s on screen is hardly taken in.",
        changes=[Change(f"shots[{view.index}].duration", f"{wanted:.6f} s")],
        ways=lambda: (
            [begun_at(view.index, begins, wanted)] if (begins := view.shot.start + on_set - wanted) >= 0 else []
        ),
    )


def filmed_from(start: float, duration: float) -> tuple[float, float]:
    """When a shot begins and how long it lasts as a file has it, rounded so that no frame is added. [s on set]"""
    return math.ceil(start * 1e6) / 1e6, math.floor(duration * 1e6) / 1e6


def begun_at(shot: int, begins: float, lasts: float, why: str = "") -> Way:
    """A shot, by its number, begun anew and so long [s]: rounded so that no frame is added."""
    begins, lasts = filmed_from(begins, lasts)
    return Way(
        f"Begin at {begins:.3f} s on set (shot's start) and let it last {lasts:.3f} s on set (duration){why}.",
        _stretch_written(shot, begins, lasts),
    )


def filmed_while(view: ShotView, it: str, begins: float, lasts: float) -> Way:
    """The shot begun anew, and so long, as `filmed_from` has it [s]: while `it`, in words, is so."""
    return Way(
        f"Film while {it}: from {begins:.3f} s on set (shot's start), for {lasts:.3f} s (duration).",
        _stretch_written(view.index, begins, lasts),
    )


def _stretch_written(shot: int, begins: float, lasts: float) -> tuple[Change, Change]:
    """When a shot, by its number, begins and how long it lasts, as `filmed_from` has it. [s]"""
    key = f"shots[{shot}]"
    return Change(f"{key}.start", f"{begins:.6f} s"), Change(f"{key}.duration", f"{lasts:.6f} s")


def rate_remedy(
    view: ShotView, wanted: float, then: str = ".", *, same_angle: bool = False, over: float | None = None
) -> tuple[str, Callable[[], list[Way]]]:
    """A capture rate [frames/s] that cameras have, as far as this one goes: advice where it does not, else the way.

    The way is worked out when it is asked for: what it costs in light takes a metering. The advice lacks its full stop.

    Parameters
    ----------
    then : str
        What the words of the way end in.
    same_angle : bool
        Whether a shutter given as a time becomes the angle it is now, so that it follows the rate.
    over
        As of `pacing.rate_among`.
    """
    fastest = max(float(mode.fastest) for mode in view.camera.modes)
    rate = pacing.rate_among(view.camera.rates, wanted, over)
    if rate is None:
        needed = math.ceil(wanted - 1e-9)
        if needed <= fastest:
            # One that it has may be set by hand in the file; a remedy goes by those that cameras usually have.
            return (
                f"It would take about {needed} fps, which is none of the rates that a camera with this one's modes "
                "usually has: if yours has one near, set that; else use one that has",
                list,
            )
        return f"It would take {needed} fps, past this camera's {fastest:g}: use a faster one", list
    key, now = f"shots[{view.index}].capture", float(view.shot.capture.rate)
    changes, lasts = [Change(f"{key}.rate", f"{rate:g} fps"), *kept_speed(view)], view.exposure_time
    timed = view.shot.capture.shutter.time
    if same_angle or timed is None:
        lasts *= now / rate
    if lasts > 1 / rate:
        lasts = 0.5 / rate
        changes.append(Change(f"{key}.shutter", "180 deg"))
    if same_angle and timed is not None:
        changes.append(Change(f"{key}.shutter", f"{360 * view.exposure_time * now:.6g} deg"))
    return "", lambda: [Way(f"Capture at {rate:g} fps{shortened(view, lasts)}{then}", tuple(changes))]


def kept_speed(view: ShotView) -> Iterator[Change]:
    """The speed on set as this shot's own, where others show it at the same one: filmed at another rate, it looks
    otherwise here, and all must agree on one that is given as it looks."""
    vehicle = view.scene.vehicle
    if vehicle is not None and vehicle.speed is not None and _shared_speed(view):
        yield Change(f"shots[{view.index}].vehicle.speed", f"{float(vehicle.speed):.5f} m/s")


def _shared_speed(view: ShotView) -> bool:
    """Whether the vehicle's speed is given as it looks in this shot and others alike, in none by name."""
    scene = view.scene
    return bool(paced_by(scene, view.shot)) and all(looks_so_fast(scene, each) for each in scene.shots)


def _gravity(view: ShotView, notes: Notes) -> None:
    slow, wanted = slowdown_of(view), pacing.gravity_slowdown(view.scene.vehicle_scale)
    ratio, vehicle = slow / wanted, view.scene.vehicle
    notes.figure("slowdown", slow)
    notes.figure("gravity_slowdown", wanted)
    low, high = GRAVITY_RATIO
    rate = pacing.rate_for_gravity(view.scene.vehicle_scale, float(view.shot.playback))
    over = min(1 / low, high)
    advice, _ = rate_remedy(view, rate, over=over)
    notes.finding(
        "time.gravity",
        "gravity_ratio",
        ratio,
        low if ratio < 1 else high,
        Verdict.FINE if vehicle is None or vehicle.stands else below(ratio, low) if ratio < 1 else above(ratio, high),
        f"{'Not slowed' if slow == 1 else f'Slowed {slow:.3g} times'}; hops and falls at this scale want {wanted:.3g}"
        + (
            ", and look light and small"
            if ratio < low
            else ", and look too slow"
            if ratio > high
            else " to look full size"
        )
        + ". Steady driving looks right.",
        advice and f"{advice}, and set the vehicle's speed anew.",
        ways=partial(_at_rate, view, rate, over),
        among_figures=bool(advice),
    )


def _at_rate(view: ShotView, wanted: float, over: float) -> Iterator[Way]:
    """Recorded at a rate near this one [frames/s]: the run as it looks now, if all there is of it goes by time alone.

    Else the speed on set stays, and so looks otherwise on screen, which is told.
    """
    rate, vehicle = pacing.rate_among(view.camera.rates, wanted, over), view.scene.vehicle
    if rate is None:
        return
    times = rate / float(view.shot.capture.rate)
    if vehicle is None or vehicle.stands:
        yield from rate_remedy(view, wanted, over=over)[1]()
        return
    same = looks_as_fast(view, vehicle, times)
    if same is not None:
        for way in rate_remedy(view, wanted, f", {same.words}", over=over)[1]():
            yield replace(way, changes=_last_of_each((*way.changes, *same.changes)))
    speed = float(
        pacing.apparent_speed(
            view.travel.speed(float(view.times[view.mid_picture])), view.scene.vehicle_scale, slowdown_of(view) * times
        )
    )
    then = f"; on screen it then drives at {view.scene.tape.road(speed)}."
    yield from rate_remedy(view, wanted, then, over=over)[1]()


def _last_of_each(changes: Iterable[Change]) -> tuple[Change, ...]:
    return tuple({each.key: each for each in changes}.values())


def looks_as_fast(view: ShotView, vehicle: Vehicle, times: float) -> Way | None:
    """What else is written where so many times the frames are recorded, so that all but the slowing looks as it does.

    The vehicle drives as many times as fast and is filmed in as much less time: at a speed of this shot's own, where
    others show it at the same one. None where it does not drive at a speed, where other things go by the clock too,
    keys of the camera or another vehicle, or other shots by this one's rate.
    """
    shot, key, scene = view.shot, f"shots[{view.index}]", view.scene
    moment = shot.focus.target.moment if isinstance(shot.focus, Focus) and shot.focus.target is not None else None
    keyed = not (isinstance(shot.at[0], int | float) and isinstance(shot.aim, Target) and isinstance(shot.focus, Focus))
    if vehicle.speed is None or keyed or getattr(shot.aim, "moment", None) is not None or scene.vehicles:
        return None
    if paced_by(scene, shot) and not _shared_speed(view):
        return None  # it is this shot that is named for the speed

    def sooner(time: float) -> float:
        return float(vehicle.start) + (time - float(vehicle.start)) / times

    speed = float(vehicle.speed) * times
    begins, lasts = filmed_from(sooner(float(shot.start)), view.count / float(shot.capture.rate) / times)
    changes = [*_stretch_written(view.index, begins, lasts)]
    own = ""
    if _shared_speed(view) or not looks_so_fast(scene, shot):  # else it goes with the rate by itself
        driven = "vehicle.speed" if len(scene.shots) == 1 else f"{key}.vehicle.speed"
        changes.append(Change(driven, f"{speed:.5f} m/s"))
        own = " in this shot alone" if len(scene.shots) > 1 else ""
    words = f"drive at {scene.pace(speed)} on the set{own}, so that on screen it looks as fast as now, "
    if isinstance(moment, int | float):
        focus = f"vehicle at {sooner(moment):.3f} s"
        changes.append(Change(f"{key}.focus", focus))
        words += f"focus on the {focus}, "
    return Way(
        f"{words}and begin at {begins:.3f} s on set (shot's start), for {lasts:.3f} s on set (duration).",
        tuple(changes),
    )


def _speed(view: ShotView, vehicle: Vehicle, notes: Notes) -> None:
    scale, slow = view.scene.vehicle_scale, slowdown_of(view)
    speed = view.travel.speed(float(view.times[view.mid_picture]))
    apparent = float(pacing.apparent_speed(speed, scale, slow))
    notes.figure("set_speed", speed)
    notes.figure("apparent_speed", apparent)
    seen = view.times[view.vehicle_in_frame]
    for name, times in (("apparent_speed_first", seen[:1]), ("apparent_speed_last", seen[-1:])):
        for time in times:
            notes.figure(name, float(pacing.apparent_speed(view.travel.speed(float(time)), scale, slow)))
    if vehicle.launch is not None and view.index == 0:
        where = "mid-picture" if len(seen) else "mid-shot"
        note_releases(view.scene, float(view.distances[view.mid_picture]), where, notes)
    low, high = ROAD_SPEEDS
    # Well inside the range: a slow street or a country road.
    aim = 0.7 * high if apparent > high else 3 * low
    remedy, changes = speed_remedy(view, aim, speed)
    notes.finding(
        "time.speed",
        "apparent_speed",
        apparent,
        high if apparent > high else low,
        Verdict.FINE if vehicle.stands else above(apparent, high) if apparent > high else below(apparent, low),
        f"On screen it drives at {view.scene.tape.road(apparent)} at full scale."
        if speed > 0
        else "It stands still, as it is written."
        if vehicle.stands
        else "It stands still where it is nearest to the picture's middle."
        if len(seen)
        else "It stands still in the middle of the shot.",
        f"{remedy}.",
        changes=changes,
    )


def speed_remedy(view: ShotView, aim: float, now: float) -> tuple[str, list[Change]]:
    """Words and changes that give the vehicle a speed at full scale on screen, mid-picture.

    aim is that speed, and now its speed on set as it is. [m/s]
    """
    scene, on_screen = view.scene, f"for {view.scene.tape.road(aim)}"
    wanted = float(pacing.set_speed(aim, scene.vehicle_scale, slowdown_of(view)))
    if scene.vehicle is None or scene.vehicle.launch is None:
        return f"Drive at {scene.pace(wanted)} on the set {on_screen}", [Change("vehicle.speed", f"{wanted:.5f} m/s")]
    lost = view.travel.speed_at_start**2 - now**2
    if now == 0:  # it stopped before; about half of its path is what it must get through
        lost = view.travel.deceleration * view.path.length
    release = release_for(scene, math.sqrt(wanted**2 + lost))
    why = "the least that takes it to the end of its path" if release.raised else on_screen
    return f"{release.words}{',' if release.raised else ''} {why}", release.changes


def _wheels(view: ShotView, notes: Notes) -> None:
    body = view.scene.vehicle.body if view.scene.vehicle is not None else None
    if body is None or not view.vehicle_in_frame.any():
        return
    diameter = WHEEL_DIAMETERS[body] * vehicle_size(view.scene)[0] / VEHICLE_SIZES[body][0]
    speed = view.travel.speed(float(view.times[view.mid_picture]))
    turn = float(pacing.wheel_turn(speed, diameter, float(view.shot.capture.rate)))
    seen = pacing.apparent_wheel_turn(turn, SPOKES)
    notes.figure("wheel_turn", turn)
    limit = 0.5 / SPOKES
    # At one speed on screen a wheel turns as far between two frames of the real thing: v S / (playback pi D S) at the
    # table speed v and slowed as here. So it is no sign of a miniature, and a faster rate would slow down the vehicle.
    notes.finding(
        "time.wheels",
        "wheel_turn",
        turn,
        limit,
        above(turn, limit),
        f"A wheel turns {turn:.3f} of a turn a frame; with {SPOKES} equal spokes or nuts it seems to "
        + (
            "turn forwards."
            if turn <= limit
            else f"turn {'backwards' if seen < 0 else 'too slowly'}, as the real thing's does on film at that speed."
        ),
        "Plain faces on the wheels hide it.",
        among_figures=True,
    )
