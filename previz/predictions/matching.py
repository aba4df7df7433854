"""Another camera for a shot: which focal length, place and stop give the same framing, stop or depth of field.

A camera that cannot is refused with one sentence; nothing else is shown in its place.
"""

import math
from typing import Any

import numpy as np

from previz.errors import PrevizError
from previz.layout import CameraPose, camera_at, target_point
from previz.physics import optics
from previz.predictions.checks.focus import best_f_number, blur_limit, diffraction_discs
from previz.predictions.rules import Framing, Stop
from previz.predictions.shot_view import ShotView, view_of
from previz.scene import Camera, Focus, FocusKey, PlaceKey, Scene, Shot
from previz.units import LENGTH, text_of

#: A lens this near to the focal length that is wanted counts as having it: framing then differs by less than 1 %.
_NEAR_ENOUGH = 0.01

# Marked apertures are rounded (f/22 is 22.6): numbers this near are the same mark, as in `scene`.
_SAME_MARK = 1.03


class CannotMatch(PrevizError):
    """A camera cannot take this shot over; the message says why, beginning with the camera's name.

    remedy: another rule by which it may, or "".
    """

    def __init__(self, message: str, remedy: str = "") -> None:
        super().__init__(message)
        self.remedy = remedy


def match(
    scene: Scene,
    shot: Shot,
    camera: str,
    framing: Framing = Framing.PLACE,
    stop: Stop = Stop.SAME,
    *,
    focal_length: float | None = None,
) -> Shot:
    """The shot as another camera of the scene would take it over.

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
        Where the camera has no mode at the rate, or its lens not the focal length, the focus or the stop.
    """
    other = scene.cameras[camera]
    _check_rate(camera, other, shot)
    taken = shot.model_copy(update={"camera": camera})
    if framing is Framing.PLACE and camera != shot.camera:
        taken = _from_the_same_place(scene, shot, taken)
    elif framing is Framing.LENS:
        taken = _with_the_lens_as_it_is(scene, shot, taken, focal_length or shot.focal_length)
    _check_lens(camera, other, taken, framing)
    try:
        taken_view = _view(scene, taken)
    except PrevizError as error:  # it cannot be aimed or focused throughout
        raise CannotMatch(f"{camera} cannot film it: {error}") from error
    if stop is Stop.DEPTH:
        taken = taken.model_copy(update={"f_number": _stop_for_depth(scene, shot, taken)})
    elif stop is Stop.BEST:
        if not taken_view.vehicle_in_frame.any():
            raise CannotMatch(f"{camera} has no sharpest stop: no vehicle is in the picture")
        taken = taken.model_copy(update={"f_number": best_f_number(taken_view)})
    _check_stop(camera, other, taken)
    _check_focus(camera, other, taken_view, framing)
    return taken


# --- framing ---


def _view(scene: Scene, shot: Shot) -> ShotView:
    return view_of(scene.model_copy(update={"shots": (shot,)}), shot)


def _recorded_width(scene: Scene, shot: Shot) -> float:
    return _view(scene, shot).area[0]


def _from_the_same_place(scene: Scene, shot: Shot, taken: Shot) -> Shot:
    """Image distances in proportion to the sensors: v' = v w'/w, and f' = v' s / (v' + s)."""
    view = _view(scene, shot)
    s = float(view.focus[view.middle])
    v = optics.image_distance(shot.focal_length, s) * _recorded_width(scene, taken) / view.area[0]
    wanted = v * s / (v + s)
    lens = scene.cameras[taken.camera].lens
    held = min(max(wanted, lens.shortest), lens.longest)
    return taken.model_copy(update={"focal_length": held if abs(held / wanted - 1) <= _NEAR_ENOUGH else wanted})


def _with_the_lens_as_it_is(scene: Scene, shot: Shot, taken: Shot, focal_length: float) -> Shot:
    """The camera moves along its axis until the width at the plane of focus is the same: s' = f' (1 + 1/m').

    Where its lens has not the focal length, the end nearest to it is used.
    """
    view, lens = _view(scene, shot), scene.cameras[taken.camera].lens
    s = float(view.focus[view.middle])
    focal_length = min(max(focal_length, lens.shortest), lens.longest)
    seen = view.area[0] / optics.magnification(shot.focal_length, s)
    m = _recorded_width(scene, taken) / seen
    back = float(optics.distance_for_magnification(focal_length, m)) - s
    if _room_to_the_aim(scene, shot, view) + back <= 1e-6:
        raise CannotMatch(
            f"{taken.camera} would have to stand past what it is aimed at, {scene.tape(-back)} nearer: its lens "
            f"is too short for this framing at {text_of(LENGTH, focal_length)}"
        )
    return taken.model_copy(
        update={
            "focal_length": focal_length,
            "at": _further_back(scene, shot, back, view),
            "focus": _focused_further(shot.focus, back),
        }
    )


def _further_back(scene: Scene, shot: Shot, back: float, view: ShotView) -> Any:
    """The places of a shot, each moved backward along the axis there [m]; what is aimed at must stay in front."""
    if isinstance(shot.at, tuple) and isinstance(shot.at[0], PlaceKey):
        return tuple(
            PlaceKey.model_construct(time=key.time, at=_moved(camera_at(scene, shot, key.time), back))
            for key in shot.at
        )
    return _moved(view.cameras[view.middle], back)


def _room_to_the_aim(scene: Scene, shot: Shot, view: ShotView) -> float:
    """How far what it is aimed at lies in front of the camera, mid-shot. [m]"""
    target = shot.aim if not isinstance(shot.aim, tuple) else shot.aim[0].at
    pose = view.cameras[view.middle]
    point = target_point(scene, target, float(view.times[view.middle]))
    return float((point - pose.position) @ -pose.world_from_camera[:, 2])


def _moved(pose: CameraPose, back: float) -> tuple[float, float, float]:
    x, y, z = pose.position + pose.world_from_camera[:, 2] * back
    return float(x), float(y), float(z)


def _focused_further(focus: Any, back: float) -> Any:
    """Distances grow by what the camera moved; what is focused on by name stays what it is."""
    if isinstance(focus, tuple):
        return tuple(FocusKey.model_construct(time=key.time, at=_focused_further(key.at, back)) for key in focus)
    if focus.distance is None:
        return focus
    return Focus.model_construct(target=None, distance=focus.distance + back)


# --- stop ---


def _stop_for_depth(scene: Scene, shot: Shot, taken: Shot) -> float:
    """The f-number that keeps the depth of field, mid-shot: near and far limit at s / (1 +- k), k = c / (A m).

    c is what diffraction leaves of the blur limit. Where the reference is sharp to infinity its k is kept: the near
    limit then is in proportion. Of two stops with one depth of field the wider is taken, which diffraction blurs less.
    """
    view, other = _view(scene, shot), _view(scene, taken)
    s, s2 = float(view.focus[view.middle]), float(other.focus[other.middle])
    left = optics.defocus_allowed(blur_limit(view), float(diffraction_discs(view, shot.f_number)[view.middle]))
    if left == 0:
        raise CannotMatch(
            f"{taken.camera} has no depth of field to keep: nothing is sharp in the shot as it is, for diffraction at "
            f"f/{shot.f_number:g}"
        )
    k = left / (optics.entrance_pupil(shot.focal_length, shot.f_number) * optics.magnification(shot.focal_length, s))
    if k < 1:
        depth = 2 * k * s / (1 - k * k)
        k = (math.hypot(s2, depth) - s2) / depth
    at_the_limit = k * taken.focal_length * float(optics.magnification(taken.focal_length, s2))
    ends = optics.sharp_f_numbers(at_the_limit, float(diffraction_discs(other, 1.0)[other.middle]), blur_limit(other))
    if ends is None:
        raise CannotMatch(
            f"{taken.camera} has that depth of field at no stop: where it is small enough, diffraction blurs all"
        )
    return ends[0]


# --- what a camera cannot ---


def _check_rate(name: str, camera: Camera, shot: Shot) -> None:
    fastest = max(mode.fastest for mode in camera.modes)
    if fastest < shot.capture.rate:
        raise CannotMatch(
            f"{name} records at most {float(fastest):.5g} fps, and the shot is captured at "
            f"{float(shot.capture.rate):.5g} fps"
        )


def _check_lens(name: str, camera: Camera, taken: Shot, framing: Framing) -> None:
    wanted, lens = taken.focal_length, camera.lens
    if lens.shortest * (1 - 1e-6) <= wanted <= lens.longest * (1 + 1e-6):
        return
    ends = " to ".join(text_of(LENGTH, end) for end in sorted({lens.shortest, lens.longest}))
    fault = "too long" if wanted < lens.shortest else "too short"
    purpose = "this framing" if framing is Framing.PLACE else "the shot"
    raise CannotMatch(
        f"{name}'s lens is {fault}: {purpose} needs {text_of(LENGTH, wanted)}, the lens has {ends}",
        "with --framing lens the camera moves instead" if framing is Framing.PLACE else "",
    )


def _check_stop(name: str, camera: Camera, taken: Shot) -> None:
    widest = camera.widest_at(taken.focal_length)
    if taken.f_number * _SAME_MARK < widest:
        at = f" at {text_of(LENGTH, taken.focal_length)}"
        raise CannotMatch(f"{name} opens to f/{widest:.3g}{at}, and f/{taken.f_number:.3g} is wanted")
    if taken.f_number > camera.smallest * _SAME_MARK:
        raise CannotMatch(f"{name} closes to f/{camera.smallest:.3g}, and f/{taken.f_number:.3g} is wanted")


def _check_focus(name: str, camera: Camera, view: ShotView, framing: Framing) -> None:
    nearest = float(np.min(view.focus))
    if nearest < camera.nearest * (1 - 1e-9):
        moved = " from where the framing is the same" if framing is Framing.LENS else ""
        raise CannotMatch(
            f"{name} is too close to focus: it focuses from {view.scene.tape(camera.nearest)}, and the plane of focus "
            f"is at {view.scene.tape(nearest)}{moved}"
        )
