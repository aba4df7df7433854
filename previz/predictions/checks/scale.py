"""Does the blur look full size? (apparent_scale.py says after whom, and how far to trust it.)"""

from previz.physics import apparent_scale, optics
from previz.predictions.checks.focus import stop_from
from previz.predictions.findings import Change, Notes, Verdict, Way
from previz.predictions.glossary import GLOSSARY
from previz.predictions.metering import stopped_down
from previz.predictions.rounding import in_figures
from previz.predictions.shot_view import ShotView
from previz.scene import Looks, Scene
from previz.units import together


def check_scale(view: ShotView) -> Notes:
    """The full-size camera that this blur implies, the size it suggests, and what would mend it."""
    notes, shot, scale = Notes(view.shot.id), view.shot, float(view.scene.scale)
    pupil = float(optics.entrance_pupil(shot.focal_length, shot.f_number))
    full = float(apparent_scale.full_size_pupil(pupil, scale))
    s = float(view.focus[view.middle])
    v = float(optics.image_distance(shot.focal_length, s))
    focal, f_number = apparent_scale.full_size_lens(v, pupil, scale, view.area[0])
    wanted = stop_from(apparent_scale.f_number_for_full_size(shot.focal_length, scale))
    # At one stop the pupil goes with the focal length, and at one framing that with the distance, s = f (1 + 1/m).
    share = min(apparent_scale.FILMED_PUPIL[1] / full, 1.0)
    sensor = apparent_scale.sensor_of_share(view.area[0], shot.focal_length, s, share)
    notes.figure("entrance_pupil", pupil)
    notes.figure("full_size_pupil", full)
    notes.figure("full_size_focal_length", focal)
    notes.figure("full_size_f_number", f_number)
    spread = apparent_scale.EYE_PUPIL_SPREAD
    for label, eye in (("", 0.0), ("smaller pupil", -spread), ("larger pupil", spread)):
        norm = apparent_scale.EYE_PUPIL + eye
        implied = apparent_scale.implied_share(pupil, scale, norm)
        notes.figure("implied_share", implied, label, beside=f"this one is 1:{scale:g}")
    reach = wanted <= view.camera.smallest
    notes.figure("f_number_for_full_size", wanted, beside="" if reach else _has_not(view))
    notes.figure("sensor_for_full_size", sensor)
    notes.figure("distance_for_full_size", s * share)
    notes.figure("eye_height", float(view.cameras[view.middle].position[2]) * scale)
    most, tape = apparent_scale.FILMED_PUPIL[1], view.scene.tape
    # What no file writes nobody asked for, though advice goes by it.
    asked = "wants" in view.scene.model_fields_set and any(
        isinstance(want, Looks) for want in view.scene.wants_of(shot)
    )
    notes.finding(
        "scale.blur",
        "full_size_pupil",
        full,
        most,
        Verdict.WATCH if past_full_size(view.scene, full) else Verdict.FINE,
        f"Blur is as by a lens opening of {_opening(view.scene, full)} at full size, where films of vehicles mostly "
        f"have {together((tape(apparent_scale.FILMED_PUPIL[0]), tape(most)), ' to ')}; more tends to read as a "
        "miniature where the picture shows blur.",
        ways=lambda: [_stopped_down(view, wanted)] if reach else [],
        otherwise=""
        if reach
        else "No stop of this lens does that: keep in view what is near the plane of focus, or use a smaller sensor.",
        among_figures=not reach and not asked,
    )
    return notes


def past_full_size(scene: Scene, opening: float) -> bool:
    """Whether a lens opening [m] at full size is more than films of vehicles have, as far as figures tell: a want that
    is met by what is printed is no matter to watch."""
    most, quantity = apparent_scale.FILMED_PUPIL[1], GLOSSARY["full_size_pupil"].on(scene.tape_unit)
    return opening > most and in_figures(opening, quantity) != in_figures(most, quantity)


def _opening(scene: Scene, opening: float) -> str:
    """As a tape tells it; to more digits where that would be the limit itself."""
    told, quantity = scene.tape(opening), GLOSSARY["full_size_pupil"].on(scene.tape_unit)
    if not past_full_size(scene, opening) or told != scene.tape(apparent_scale.FILMED_PUPIL[1]):
        return told
    return f"{in_figures(opening, quantity)} {quantity.shown}"


def _has_not(view: ShotView) -> str:
    """That a stop cannot be set, for it is past the lens's smallest."""
    smallest = view.camera.smallest
    return f"f/{smallest:g} is this lens's {'only' if view.widest == smallest else 'smallest'} stop"


def _stopped_down(view: ShotView, wanted: float) -> Way:
    stop = Change(f"shots[{view.index}].f_number", f"f/{wanted:g}")
    return Way(f"Stop down to f/{wanted:g}{stopped_down(view, wanted)}.", (stop,))
