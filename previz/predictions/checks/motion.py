"""Motion in the picture: how far things smear, strobing, pans, the lean of a rolling shutter."""

import math

import numpy as np
from numpy.typing import NDArray

from previz.physics import hand, optics, pacing
from previz.physics.exposure import shutter_within
from previz.predictions.checks.time import rate_remedy, slowdown_of
from previz.predictions.findings import Change, Notes, Way, above, below
from previz.predictions.metering import shortened
from previz.predictions.places import stood_at
from previz.predictions.shot_view import ShotView, background_middle, moved
from previz.units import percent

Array = NDArray[np.float64]

# Limits. All common practice, no source.
WOBBLE = 0.002  # of the picture's width, side to side, which a viewer takes for a steady hand
BLUR_SHARE = 0.10  # motion blur over the vehicle's length
STROBE_GAP = 0.10  # gap between two frames' streaks over the vehicle's length
PAN_RATE = math.radians(60)  # a hand pans evenly up to about this [rad/s]
LEAN = math.radians(3)  # a lean by the shutter that is not seen [rad]


def check_motion(view: ShotView) -> Notes:
    """Motion blur, strobing, pan, read-out, the hand that holds the camera."""
    notes = Notes(view.shot.id)
    _blur_and_strobe(view, notes)
    _pan(view, notes)
    _hand(view, notes)
    return notes


def shifts(view: ShotView, by: float) -> tuple[Array, Array]:
    """How far vehicle and background move across the picture in a time, both (n, 2) [px]; `by` is that time. [s]

    The vehicle by the middle of its box, the background by the point that is behind the picture's middle.
    """
    before, after = moved(view, -by / 2), moved(view, by / 2)
    behind = np.stack([background_middle(view, n) for n in range(len(view.cameras))])[:, None]
    driven = view.scene.vehicle is not None
    vehicle = [
        side.project(side.vehicle_corners.mean(axis=1, keepdims=True))[0][:, 0]
        if driven
        else np.zeros((len(behind), 2))
        for side in (before, after)
    ]
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
        denominator = shutter_within(shorter)
        notes.finding(
            "motion.blur",
            "vehicle_blur_share",
            share,
            BLUR_SHARE,
            above(share, BLUR_SHARE),
            f"The vehicle smears over {pixels:.0f} px, {percent(share)} of its length.",
            ways=lambda: [_shorter(view, denominator)],
            frames=view.numbers[[worst]],
        )
        gap = share / open_share * (1 - open_share)
        same = ", with the same shutter angle."
        advice, ways = rate_remedy(view, rate * gap / STROBE_GAP, same, same_angle=True)
        notes.finding(
            "motion.strobe",
            "strobe_gap",
            gap,
            STROBE_GAP,
            above(gap, STROBE_GAP * (1 + 1e-9)),
            f"From one frame's streak to the next the vehicle jumps {percent(gap)} of its length.",
            advice and advice + same,
            ways=ways,
        )
    _crossing(view, notes, behind / open_share, np.linalg.norm(vehicle, axis=1) / open_share)
    _read_out(view, notes, vehicle[:, 0] / view.exposure_time)


def _shorter(view: ShotView, parts: int) -> Way:
    shutter = Change(f"shots[{view.index}].capture.shutter", f"1/{parts} s")
    return Way(f"Shorten the shutter to 1/{parts} s{shortened(view, 1 / parts)}.", (shutter,))


def _length_pixels(view: ShotView, frame: int) -> float:
    """Length on the picture of the vehicle's middle line, tail to nose. [px]"""
    corners = view.vehicle_corners[frame]
    tail, nose = corners[[0, 3, 4, 7]].mean(axis=0), corners[[1, 2, 5, 6]].mean(axis=0)
    places = view.project(np.stack([tail, nose]))[0][frame]
    return max(float(np.linalg.norm(places[1] - places[0])), 1.0)


def _crossing(view: ShotView, notes: Notes, background: Array, vehicle: Array) -> None:
    """The seven-second rule, for a camera that turns and does not follow the vehicle (the eye follows what is held)."""
    step = float(background.max())
    if step < 1e-6:
        return
    time = float(pacing.crossing_time(step, view.size[0], float(view.shot.playback)))
    notes.figure("crossing_time", time)
    followed = view.scene.vehicle is not None and bool(np.median(vehicle) < np.median(background) / 2)
    slower = "pan" if np.allclose(view.positions, view.positions[0]) else "move the camera"
    if followed:
        slower = "let the vehicle drive"
    advice, ways = rate_remedy(view, float(view.shot.capture.rate) * pacing.PAN_CROSSING / time)
    notes.finding(
        "motion.pan_strobe",
        "crossing_time",
        time,
        pacing.PAN_CROSSING,
        above(0, 1) if followed else below(time, pacing.PAN_CROSSING),
        f"The background crosses the picture in {time:.1f} s on screen"
        + (", behind a vehicle that is followed." if followed else "; faster than about 7 s it judders."),
        f"{advice}, or {slower} more slowly." if advice else f"{slower.capitalize()} more slowly.",
        ways=ways,
    )


def _read_out(view: ShotView, notes: Notes, across: Array) -> None:
    readout = view.camera.readout_in(view.mode)
    if readout is None or not view.vehicle_in_frame.any():
        return
    fastest = float(np.abs(np.where(view.vehicle_in_frame, across, 0.0)).max())
    lean = pacing.read_out_lean(fastest, readout, view.size[1])
    notes.figure("read_out_lean", lean)
    enough = math.tan(LEAN) * view.size[1] / fastest if fastest > 0 else readout
    notes.finding(
        "motion.read_out",
        "read_out_lean",
        lean,
        LEAN,
        above(lean, LEAN),
        f"Uprights of the vehicle lean {math.degrees(lean):.1f} deg while the shutter rolls down the picture.",
        f"Use a mode or camera that reads out in {enough * 1000:.2g} ms or less, or frame the vehicle smaller.",
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
    words = f"Stand {view.scene.tape(back)} further off"
    further = Way(f"{words}.", ())
    if isinstance(view.shot.at[0], int | float):
        place = np.array(view.shot.at) - axes[fastest] * max(back, 0.0)
        further = stood_at(view, words, place)
    notes.finding(
        "motion.pan",
        "pan_rate",
        rate,
        PAN_RATE,
        above(rate, PAN_RATE),
        f"The camera turns at up to {math.degrees(rate):.0f} deg/s.",
        further.words,
        changes=further.changes,
        otherwise="Fix the camera and let it pass."
        if further.changes
        else "Stand further off, or fix the camera and let it pass.",
        frames=view.numbers[[fastest]],
    )


def _hand(view: ShotView, notes: Notes) -> None:
    """What tremor alone does to a camera held in the hand."""
    held = view.shot.hand
    if held is None:
        return
    m = float(optics.magnification(view.shot.focal_length, float(view.focus.min())))
    amplitude = hand.tremor_amplitude(hand.TREMOR_ACCELERATIONS[held.wobble])
    pixels, limit = hand.wobble_pixels(amplitude, m, view.pixel_pitch), WOBBLE * view.size[0]
    on_screen = hand.TREMOR_RATE / slowdown_of(view)
    notes.figure("wobble", pixels)
    notes.figure("wobble_rate", on_screen)
    stabiliser = " The stabiliser, rated for turning, does not help." if view.camera.steadied > 0 else ""
    notes.finding(
        "motion.hand",
        "wobble",
        pixels,
        limit,
        above(pixels, limit),
        f"Tremor of a {held.wobble} hand shifts the picture by about {pixels:.2g} px, {on_screen:.1f} times a second "
        f"on screen: assumed, an order of magnitude, and without sway or turning, which move it further.{stabiliser} "
        "The clip is drawn as from a tripod.",
        "Rest the camera on something that stands, and take hand out.",
        changes=[Change(f"shots[{view.index}].hand", None)],
    )
