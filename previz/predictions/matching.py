"""Another camera for a shot: the nearest that it can do to the same framing, stop or depth of field, and what differs.

What counts as near, all common practice, no source:

- framing from the same place may be `camera_place.NEAR` wider or tighter; past that the camera moves along its axis
  until the framing is the same;
- where the table, the backdrop, a piece or the nearest focus is in its way, it stands as near to that as it can, and
  may frame up to `camera_place.FAR` times as wide or as tight;
- a rule that leaves each camera its own framing takes any;
- the nearest stop is always near: what it costs is told in light and in depth of field;
- a rate that no mode has becomes the camera's fastest;
- a shutter time that is longer than a frame becomes the longest marked one that is not.

A camera that cannot even do that is refused with a sentence, and with what would make it possible.
"""

import math

from previz.errors import ShotFault
from previz.physics import optics
from previz.physics.exposure import shutter_within
from previz.predictions.camera_place import Standing, laid_open
from previz.predictions.checks.focus import best_f_number, blur_limit, diffraction_discs, sharp_range
from previz.predictions.differences import CannotMatch, Difference, Taken, stops_of
from previz.predictions.rules import Framing, Stop
from previz.predictions.shot_view import ShotView
from previz.scene import Camera, Capture, Mode, Scene, Shot, Shutter
from previz.units import TIME, beyond_numbers, text_of

# Marked apertures are rounded (f/22 is 22.6): numbers this near are the same mark, as in `scene`.
_SAME_MARK = 1.03

#: Less light than this is not worth a word. [stops]
_SAME_LIGHT = 0.05


def match(
    scene: Scene,
    shot: Shot,
    camera: str,
    framing: Framing = Framing.PLACE,
    stop: Stop = Stop.SAME,
    *,
    focal_length: float | None = None,
) -> Taken:
    """The shot as another camera of the scene would take it over, as nearly as it can.

    Framing is matched mid-shot, at the plane of focus, by the width of what is seen there.

    Parameters
    ----------
    scene : Scene
        Holds the camera.
    shot : Shot
        The one to be matched; the camera it names is the reference.
    camera : str
        Name of the camera that takes over.
    framing, stop
        By which rules.
    focal_length : float or None
        Of the lens to be used where the camera moves; the shot's own unless given. [m]

    Raises
    ------
    CannotMatch
        Where nothing near is possible.
    """
    try:
        laid_open(scene, shot)
    except ShotFault as fault:
        raise CannotMatch(f"{camera} cannot film it as it is written: {fault.said}", fault.remedy) from fault
    recorded, differences = _recording(scene, shot, camera)
    taken = shot.model_copy(update={"camera": camera, "capture": recorded})
    stood = Standing(scene, shot, taken, framing, focal_length or shot.focal_length).nearest()
    differences = [*stood.differences, *differences]
    wanted, why = _wanted_stop(scene, shot, stood.shot, stop)
    held = _stop_held(scene.cameras[camera], stood.shot.focal_length, wanted)
    taken = stood.shot.model_copy(update={"f_number": held})
    if held != wanted or why:
        differences += _of_the_stop(scene, shot, taken, wanted, why)
    return Taken(taken, tuple(differences))


# --- what it records ---


def _recording(scene: Scene, shot: Shot, camera: str) -> tuple[Capture, list[Difference]]:
    """The camera's mode nearest to the shot's by its picture, at the shot's rate or else its own fastest.

    Where its modes list every rate they have and not the shot's, it is the fastest of the slower ones; the slowest of
    all where they are all faster, whose frames may be too short for the shot's exposure.
    """
    if camera == shot.camera:
        return shot.capture, []
    wanted, own, other = scene.mode(shot), shot.capture.rate, scene.cameras[camera]
    rates = [mode.fastest for mode in other.modes]
    near = max((each for each in rates if each <= own), default=min(rates))
    rate = own if any(other.records(mode, own) for mode in other.modes) else near
    able = [mode for mode in other.modes if other.records(mode, rate)]
    mode = min(able, key=lambda each: _unlike(each, wanted))
    recorded = _within_a_frame(shot.capture.model_copy(update={"mode": mode, "rate": rate}))
    differences = (
        [] if rate == own else [_at_another_rate(shot, recorded, "fastest" if rate == max(rates) else "nearest")]
    )
    if (mode.width, mode.height) != (wanted.width, wanted.height):
        pixels = mode.width * mode.height / (wanted.width * wanted.height)
        words = f"records {mode.width} x {mode.height}, the shot {wanted.width} x {wanted.height}"
        differences.append(Difference("picture", pixels, words))
    return recorded, differences


def _unlike(mode: Mode, wanted: Mode) -> tuple[float, float]:
    """How unlike two modes are: first by the sides of the picture, then by the fastest rate."""
    sides = (mode.width / wanted.width, mode.height / wanted.height)
    return sum(abs(math.log(side)) for side in sides), abs(math.log(mode.fastest / wanted.fastest))


def _within_a_frame(recorded: Capture) -> Capture:
    """With the longest shutter that cameras mark and a frame has time for, where its own is longer."""
    frame = 1 / float(recorded.rate)
    if recorded.exposure_time <= frame * (1 + 1e-9):
        return recorded
    return recorded.model_copy(update={"shutter": Shutter(time=f"1/{shutter_within(frame)} s")})


def _at_another_rate(shot: Shot, recorded: Capture, which: str) -> Difference:
    slowed, as_shot = (float(rate / shot.playback) for rate in (recorded.rate, shot.capture.rate))
    words = (
        f"{float(recorded.rate):.5g} fps is its {which}, the shot has {float(shot.capture.rate):.5g}: slowed "
        f"{slowed:.3g} times, not {as_shot:.3g}"
    )
    longer = recorded.exposure_time / shot.capture.exposure_time
    if abs(longer - 1) > 0.01:
        fits = recorded.shutter == shot.capture.shutter
        told = [text_of(TIME, each.exposure_time) for each in (recorded, shot.capture)]
        words += (
            f"; exposed {told[0]} a frame{'' if fits else f', which {told[1]} does not fit in'}, "
            f"{stops_of(abs(math.log2(longer)))} {'more' if longer > 1 else 'less'} light and "
            f"{longer:.3g} times the motion blur"
        )
    return Difference("slowdown", slowed, words)


# --- stop ---


def _wanted_stop(scene: Scene, shot: Shot, taken: Shot, stop: Stop) -> tuple[float, str]:
    """The f-number that a rule asks for, and what is amiss with the rule itself ("" mostly)."""
    view = laid_open(scene, taken)
    if stop is Stop.DEPTH:
        return _stop_for_depth(laid_open(scene, shot), view)
    if stop is Stop.BEST:
        if view.vehicle_in_frame.any():
            return best_f_number(view), ""
        return shot.f_number, "no vehicle is in the picture to be sharpest on, so the stop stays"
    return shot.f_number, ""


def _stop_held(camera: Camera, focal_length: float, wanted: float) -> float:
    """The nearest stop that the lens has there."""
    widest, smallest = camera.widest_at(focal_length), float(camera.smallest)
    if widest / _SAME_MARK <= wanted <= smallest * _SAME_MARK:
        return wanted
    return min(max(wanted, widest), smallest)


def _stop_for_depth(view: ShotView, other: ShotView) -> tuple[float, str]:
    """The f-number that keeps the depth of field, mid-shot: near and far limit at s / (1 +- k), k = c / (A m).

    c is what diffraction leaves of the blur limit. Where the reference is sharp to infinity its k is kept: the near
    limit then is in proportion. Of two stops with one depth of field the wider is taken, which diffraction blurs less.
    Where none has it, the one with the most: N (c^3 - (a N)^3)^(1/3) is largest where (a N)^3 is half of c^3, a the
    diffraction disc at f/1.
    """
    shot, taken = view.shot, other.shot
    s, s2 = float(view.focus[view.middle]), float(other.focus[other.middle])
    left = optics.defocus_allowed(blur_limit(view), float(diffraction_discs(view, shot.f_number)[view.middle]))
    if left == 0:
        return shot.f_number, "nothing is sharp in the shot, for diffraction, so the stop stays"
    k = left / (optics.entrance_pupil(shot.focal_length, shot.f_number) * optics.magnification(shot.focal_length, s))
    if k < 1:
        depth = 2 * k * s / (1 - k * k)
        k = (math.hypot(s2, depth) - s2) / depth
    at_the_limit = k * taken.focal_length * float(optics.magnification(taken.focal_length, s2))
    disc = float(diffraction_discs(other, 1.0)[other.middle])
    ends = optics.sharp_f_numbers(at_the_limit, disc, blur_limit(other))
    if ends is None:
        return blur_limit(other) / disc / 2 ** (1 / 3), "no stop of it keeps that depth of field: this one has the most"
    return ends[0], ""


def _of_the_stop(scene: Scene, shot: Shot, taken: Shot, wanted: float, why: str) -> list[Difference]:
    """What another stop than the one asked for costs: light, and depth of field against the shot's."""
    differences = []
    stops = 2 * math.log2(wanted / taken.f_number)
    if abs(stops) >= _SAME_LIGHT:
        amount = f"{stops_of(abs(stops))} {'more' if stops > 0 else 'less'} light"
        camera = scene.cameras[taken.camera]
        only = ", its only stop," if camera.widest == camera.smallest else ""
        then = (
            "; auto ISO follows"
            if taken.capture.iso == "auto"
            else f"; at the shot's ISO the picture is that much {'brighter' if stops > 0 else 'darker'}"
        )
        words = f"{amount}: f/{taken.f_number:.3g}{only} for f/{wanted:.3g}{then}"
        differences.append(Difference("light", stops, words))
    depth, as_shot = (_depth(laid_open(scene, each)) for each in (taken, shot))
    here = f"sharp over {_over(scene, depth)}" if depth else "nothing is sharp"
    words = f"{here}, {f'the shot over {_over(scene, as_shot)}' if as_shot else 'nor in the shot'}"
    differences.append(Difference("depth", depth, f"{words} ({why})" if why else words))
    return differences


def _depth(view: ShotView) -> float:
    sharp = sharp_range(view, view.middle)
    return sharp[1] - sharp[0] if sharp is not None else 0.0


def _over(scene: Scene, depth: float) -> str:
    return beyond_numbers(depth) or scene.tape(depth)
