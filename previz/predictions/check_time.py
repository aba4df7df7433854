"""Time: does it move like something large, how far does it smear, does it strobe?"""

import math

import numpy as np
from numpy.typing import NDArray

from previz.predictions import pacing, ramp
from previz.predictions.findings import Change, Notes, above, below
from previz.predictions.outlines import vehicle_size
from previz.predictions.shot_view import ShotView, background_middle, moved
from previz.scene import VEHICLE_SIZES

Array = NDArray[np.float64]

#: Full-size wheel diameter of each body [m]; typical, from memory.
WHEEL_DIAMETERS = {"lorry": 0.96, "van": 0.72, "bus": 1.0, "saloon": 0.66, "tractor": 1.65}

#: Equal spokes, holes or nuts that a wheel is taken to have. Common practice, no source.
SPOKES = 10

# Limits. All common practice, no source.
GRAVITY_RATIO = (0.8, 1.25)  # slowdown over sqrt(S)
ROAD_SPEEDS = (1.5, 35.0)  # what passes for a vehicle on a road at full scale [m/s]: a walk to a motorway
BLUR_SHARE = 0.10  # motion blur over the vehicle's length
STROBE_GAP = 0.10  # gap between two frames' streaks over the vehicle's length
SCREEN_TIME = 1.5  # a shorter shot hardly reads [s]
PAN_RATE = math.radians(60)  # a hand pans evenly up to about this [rad/s]
LEAN = math.radians(3)  # a lean by the shutter that is not seen [rad]


def check_time(view: ShotView) -> Notes:
    """Slowdown, apparent speed, motion blur, strobing, pan, wheels, read-out."""
    notes = Notes(view.shot.id)
    _length(view, notes)
    _gravity(view, notes)
    _speed(view, notes)
    _blur_and_strobe(view, notes)
    _pan(view, notes)
    _wheels(view, notes)
    return notes


def slowdown_of(view: ShotView) -> float:
    """Capture rate over playback rate. [-]"""
    return pacing.slowdown(float(view.shot.capture.rate), float(view.shot.playback))


def _length(view: ShotView, notes: Notes) -> None:
    on_set = view.count / float(view.shot.capture.rate)
    on_screen = view.count / float(view.shot.playback)
    notes.figure("frames", view.count)
    notes.figure("time_on_set", on_set)
    notes.figure("time_on_screen", on_screen)
    # A whole frame more than asked, so that rounding to frames does not undo it.
    wanted = SCREEN_TIME / slowdown_of(view) + 1 / float(view.shot.capture.rate)
    notes.finding(
        "time.screen",
        "time_on_screen",
        on_screen,
        SCREEN_TIME,
        below(on_screen, SCREEN_TIME),
        f"The shot lasts {on_screen:.2f} s on screen.",
        f"Let it run for {wanted:.3f} s on set, or capture at a higher rate.",
        changes=[Change(f"shots[{view.index}].duration", f"{wanted:.6f} s")],
    )


def rate_remedy(view: ShotView, wanted: float) -> tuple[str, list[Change]]:
    """Words and changes for a capture rate [frames/s], as far as the camera goes."""
    fastest = max(float(mode.fastest) for mode in view.camera.modes)
    rate = max(math.ceil(wanted - 1e-9), 1)
    if rate > fastest:
        return (
            f"It would take {rate} fps, past the {fastest:g} fps of this camera: use a faster one",
            [],
        )
    changes = [Change(f"shots[{view.index}].capture.rate", f"{rate} fps")]
    if view.exposure_time > 1 / rate:
        changes.append(Change(f"shots[{view.index}].capture.shutter", "180 deg"))
    return f"Capture at {rate} fps", changes


def _gravity(view: ShotView, notes: Notes) -> None:
    slow, wanted = slowdown_of(view), pacing.gravity_slowdown(float(view.scene.scale))
    ratio = slow / wanted
    notes.figure("slowdown", slow)
    notes.figure("gravity_slowdown", wanted)
    low, high = GRAVITY_RATIO
    rate = pacing.rate_for_gravity(float(view.scene.scale), float(view.shot.playback))
    remedy, changes = rate_remedy(view, rate)
    notes.finding(
        "time.gravity",
        "gravity_ratio",
        ratio,
        low if ratio < 1 else high,
        below(ratio, low) if ratio < 1 else above(ratio, high),
        f"Slowed {slow:.3g} times; hops and falls at this scale want {wanted:.3g} to look full size"
        + (", and look light and small" if ratio < low else ", and look too slow" if ratio > high else "")
        + ". Even rolling does not mind.",
        f"{remedy}, and set the vehicle's speed anew for the speed on screen.",
        changes=changes,
    )


def _speed(view: ShotView, notes: Notes) -> None:
    scale, slow = float(view.scene.scale), slowdown_of(view)
    speed = view.travel.speed(float(view.times[view.middle]))
    apparent = float(pacing.apparent_speed(speed, scale, slow))
    notes.figure("set_speed", speed)
    notes.figure("apparent_speed", apparent)
    low, high = ROAD_SPEEDS
    # Well inside the range: a slow street or a country road.
    aim = 0.7 * high if apparent > high else 3 * low
    remedy, changes = speed_remedy(view, float(pacing.set_speed(aim, scale, slow)), speed)
    notes.finding(
        "time.speed",
        "apparent_speed",
        apparent,
        high if apparent > high else low,
        above(apparent, high) if apparent > high else below(apparent, low),
        f"On screen it drives at {apparent * 3.6:.0f} km/h at full scale.",
        f"{remedy} for {aim * 3.6:.0f} km/h.",
        changes=changes,
    )


def speed_remedy(view: ShotView, wanted: float, now: float) -> tuple[str, list[Change]]:
    """Words and changes that give the vehicle a speed on set, mid-shot [m/s], where it has `now`."""
    vehicle = view.scene.vehicle
    if vehicle.launch is None:
        return f"Drive at {wanted:.3g} m/s on the set", [Change("vehicle.speed", f"{wanted:.5f} m/s")]
    launch = ramp.measured(vehicle.launch)
    lost = view.travel.speed_at_start**2 - now**2
    at_foot = math.sqrt(wanted**2 + lost)
    try:
        height = ramp.height_for_speed(at_foot, launch.ramp.length, launch.wheel_share, launch.rolling)
    except ValueError as error:
        return f"The ramp is too short ({error})", []
    return (
        f"Release from {height * 1000:.0f} mm on the ramp",
        [Change("vehicle.launch.ramp.height", f"{height * 1000:.2f} mm")],
    )


def shifts(view: ShotView, by: float) -> tuple[Array, Array]:
    """How far vehicle and background move across the picture in a time, both (n, 2) [px]; `by` is that time. [s]

    The vehicle by the middle of its box, the background by the point that is behind the picture's middle.
    """
    before, after = moved(view, -by / 2), moved(view, by / 2)
    behind = np.stack([background_middle(view, n) for n in range(len(view.cameras))])[:, None]
    vehicle = [side.project(side.vehicle_corners.mean(axis=1, keepdims=True))[0][:, 0] for side in (before, after)]
    background = [side.project(behind)[0][:, 0] for side in (before, after)]
    return vehicle[1] - vehicle[0], background[1] - background[0]


def _blur_and_strobe(view: ShotView, notes: Notes) -> None:
    seen = view.vehicle_in_frame
    vehicle, background = shifts(view, view.exposure_time)
    rate, open_share = float(view.shot.capture.rate), view.exposure_time * float(view.shot.capture.rate)
    streak, behind = np.linalg.norm(vehicle, axis=1), np.linalg.norm(background, axis=1)
    notes.figure("background_blur_pixels", float(behind[view.middle]))
    if seen.any():
        worst = int(np.argmax(np.where(seen, streak, -1)))
        share, pixels = float(streak[worst]) / _length_pixels(view, worst), float(streak[worst])
        notes.figure("vehicle_blur_pixels", pixels)
        notes.figure("vehicle_blur_share", share)
        shorter = view.exposure_time * min(BLUR_SHARE / share, 1.0) if share > 0 else view.exposure_time
        denominator = math.ceil(1 / shorter)
        notes.finding(
            "time.blur",
            "vehicle_blur_share",
            share,
            BLUR_SHARE,
            above(share, BLUR_SHARE),
            f"The vehicle smears over {pixels:.0f} px, {share:.0%} of its length.",
            f"Shorten the shutter to 1/{denominator} s, which needs {math.log2(view.exposure_time * denominator):.1f} "
            "stops more light.",
            changes=[Change(f"shots[{view.index}].capture.shutter", f"1/{denominator} s")],
            frames=view.numbers[[worst]],
        )
        gap = share / open_share * (1 - open_share)
        remedy, changes = rate_remedy(view, rate * gap / STROBE_GAP)
        notes.finding(
            "time.strobe",
            "strobe_gap",
            gap,
            STROBE_GAP,
            above(gap, STROBE_GAP * (1 + 1e-9)),
            f"From one frame's streak to the next the vehicle jumps {gap:.0%} of its length.",
            f"{remedy}, with the same shutter angle.",
            changes=[*changes, *_same_angle(view, changes)],
        )
    _crossing(view, notes, behind / open_share, np.linalg.norm(vehicle, axis=1) / open_share)
    _read_out(view, notes, vehicle[:, 0] / view.exposure_time)


def _length_pixels(view: ShotView, frame: int) -> float:
    """Length on the picture of the vehicle's middle line, tail to nose. [px]"""
    corners = view.vehicle_corners[frame]
    tail, nose = corners[[0, 3, 4, 7]].mean(axis=0), corners[[1, 2, 5, 6]].mean(axis=0)
    places = view.project(np.stack([tail, nose]))[0][frame]
    return max(float(np.linalg.norm(places[1] - places[0])), 1.0)


def _same_angle(view: ShotView, changes: list[Change]) -> list[Change]:
    """A shutter given as a time becomes the angle it is now, so that a new rate keeps it."""
    if not changes or view.shot.capture.shutter.time is None:
        return []
    angle = 360 * view.exposure_time * float(view.shot.capture.rate)
    return [Change(f"shots[{view.index}].capture.shutter", f"{angle:.6g} deg")]


def _crossing(view: ShotView, notes: Notes, background: Array, vehicle: Array) -> None:
    """The seven-second rule, for a camera that turns and does not follow the vehicle (the eye follows what is held)."""
    step = float(background.max())
    if step < 1e-6:
        return
    time = float(pacing.crossing_time(step, view.size[0], float(view.shot.playback)))
    notes.figure("crossing_time", time)
    followed = bool(np.median(vehicle) < np.median(background) / 2)
    remedy, changes = rate_remedy(view, float(view.shot.capture.rate) * pacing.PAN_CROSSING / time)
    notes.finding(
        "time.pan_strobe",
        "crossing_time",
        time,
        pacing.PAN_CROSSING,
        above(0, 1) if followed else below(time, pacing.PAN_CROSSING),
        f"The background crosses the picture in {time:.1f} s on screen"
        + (", behind a vehicle that is followed." if followed else "; faster than about 7 s it judders."),
        f"{remedy}, or pan more slowly.",
        changes=changes,
    )


def _read_out(view: ShotView, notes: Notes, across: Array) -> None:
    readout = view.camera.readout
    if readout is None or not view.vehicle_in_frame.any():
        return
    fastest = float(np.abs(np.where(view.vehicle_in_frame, across, 0.0)).max())
    lean = pacing.read_out_lean(fastest, readout, view.size[1])
    notes.figure("read_out_lean", lean)
    enough = math.tan(LEAN) * view.size[1] / fastest if fastest > 0 else readout
    notes.finding(
        "time.read_out",
        "read_out_lean",
        lean,
        LEAN,
        above(lean, LEAN),
        f"Uprights of the vehicle lean {math.degrees(lean):.1f} deg while the shutter rolls down the picture.",
        f"Use a mode or camera that reads out in {enough * 1000:.2g} ms or less, or frame the vehicle smaller.",
        changes=[Change(f"cameras.{view.shot.camera}.readout", f"{enough * 999:.4g} ms")],
    )


def _pan(view: ShotView, notes: Notes) -> None:
    if len(view.cameras) < 2:
        return
    axes = np.stack([-pose.world_from_camera[:, 2] for pose in view.cameras])
    turned = np.arccos(np.clip(np.einsum("ni,ni->n", axes[1:], axes[:-1]), -1, 1))
    rates = turned / np.diff(view.times)
    fastest = int(np.argmax(rates))
    rate = float(rates[fastest])
    if rate < 1e-4:
        return
    notes.figure("pan_rate", rate)
    # Further off by that factor, along the axis of the fastest moment.
    back = float(view.focus[fastest]) * (rate / PAN_RATE - 1) * 1.02
    changes = []
    if isinstance(view.shot.at[0], int | float):
        place = np.array(view.shot.at) - axes[fastest] * max(back, 0.0)
        changes = [Change(f"shots[{view.index}].at", [f"{value * 1000:.2f} mm" for value in place])]
    notes.finding(
        "time.pan",
        "pan_rate",
        rate,
        PAN_RATE,
        above(rate, PAN_RATE),
        f"The camera turns at up to {math.degrees(rate):.0f} deg/s.",
        f"Stand {back * 1000:.0f} mm further off with a longer lens, or fix the camera and let it pass.",
        changes=changes,
        frames=view.numbers[[fastest]],
    )


def _wheels(view: ShotView, notes: Notes) -> None:
    body = view.scene.vehicle.body
    if body is None or not view.vehicle_in_frame.any():
        return
    diameter = WHEEL_DIAMETERS[body] * vehicle_size(view.scene)[0] / VEHICLE_SIZES[body][0]
    speed = view.travel.speed(float(view.times[view.middle]))
    turn = float(pacing.wheel_turn(speed, diameter, float(view.shot.capture.rate)))
    seen = pacing.apparent_wheel_turn(turn, SPOKES)
    notes.figure("wheel_turn", turn)
    limit = 0.5 / SPOKES
    remedy, changes = rate_remedy(view, float(view.shot.capture.rate) * turn / limit * 1.001)
    notes.finding(
        "time.wheels",
        "wheel_turn",
        turn,
        limit,
        above(turn, limit),
        f"A wheel turns {turn:.3f} of a turn a frame; with {SPOKES} equal spokes or nuts it seems to "
        + ("turn forwards." if turn <= limit else f"turn {'backwards' if seen < 0 else 'too slowly'}."),
        f"{remedy}; or give the wheels plain faces.",
        changes=changes,
    )
