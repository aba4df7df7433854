"""The ISO that a shot takes by its light meter, and what a remedy costs that lets less light in."""

import math

from previz.physics import optics
from previz.physics.exposure import iso_for_grey, working_f_number
from previz.predictions.rounding import iso_shown
from previz.predictions.shot_view import ShotView

#: Fewer stops than this no camera is set by, and nobody sees. Common practice, no source.
_SEEN = 0.1


def iso_needed(view: ShotView, lux: float) -> float:
    """ISO for mid-grey at the shot's stop and shutter, focused as in the frame that is metered. [-]"""
    return float(iso_for_grey(lux, view.exposure_time, working_stop(view)))


def working_stop(view: ShotView) -> float:
    """The f-number that the sensor sees in the frame that is metered. [-]"""
    m = float(optics.magnification(view.shot.focal_length, float(view.focus[view.metered])))
    return float(working_f_number(view.shot.f_number, m, view.camera.pupil_magnification))


def iso_used(view: ShotView) -> float:
    """The ISO that the shot is filmed at: as set, or what auto takes within the camera's. [-]"""
    capture, (low, high) = view.shot.capture, view.camera.iso
    if capture.iso != "auto":
        return float(capture.iso)
    return float(min(max(iso_needed(view, view.light.vehicle.total) * 2.0**capture.exposure, low), high))


def cost_in_light(view: ShotView, stops: float) -> str:
    """In words, in brackets and with a space before, what must make good so many stops less on the sensor.

    "" where nothing must: the picture is too bright by more than that. No lamp is named, for what moving one brings is
    known only once it is tried, as `brighter` has it where the ISO will not do.

    Parameters
    ----------
    stops : float
        By how much less light the remedy leaves than the shot has as it is written; below 0 it leaves more.
    """
    capture, name = view.shot.capture, view.shot.camera
    low, high = view.camera.iso
    lux = view.light.vehicle.total
    if lux <= 0:
        return f" (takes {stops:.1f} stops more light)" if stops >= _SEEN else ""
    needed = iso_needed(view, lux)
    if capture.iso == "auto":
        wanted = needed * 2.0**capture.exposure
        now = max(wanted, low)  # under its lowest the picture is too bright as it is
        after = wanted * 2.0**stops
    else:
        now = float(capture.iso)
        after = min(needed, now) * 2.0**stops  # and so it is with a set ISO above what is needed
    lacking = math.log2(after / now)
    if lacking < _SEEN:
        return ""
    reached = after <= high * 1.05
    iso = f"or ISO {iso_shown(after)} in place of {iso_shown(now)}"  # both as they are found before and after
    if not reached:
        iso = f"no ISO of {name} does that alone, for it ends at {high}"
    return f" (takes {lacking:.1f} stops more light{',' if reached else ';'} {iso})"


def stopped_down(view: ShotView, f_number: float) -> str:
    """The cost of another stop, at the same focus."""
    return cost_in_light(view, 2 * math.log2(f_number / view.shot.f_number))


def shortened(view: ShotView, exposure_time: float) -> str:
    """The cost of another exposure time. [s]"""
    return cost_in_light(view, math.log2(view.exposure_time / exposure_time))
