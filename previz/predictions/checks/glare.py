"""The light that a lens scatters round the headlamps: a spot of white each, or one that hides the vehicle's front."""

import math

import numpy as np

from previz.layout import BEAM_EXPONENT, vehicle_size
from previz.physics import optics
from previz.physics.scatter import glare_radius
from previz.predictions.findings import Change, Notes, Way, above
from previz.predictions.metering import iso_used, working_stop
from previz.predictions.shot_view import ShotView
from previz.units import percent

#: How wide what is white round a headlamp may be, of the vehicle's width: wider, and the two run together over its
#: front. Common practice, no source; chosen on drawn pictures.
FRONT = 1 / 3


def check_glare(view: ShotView) -> Notes:
    """Of the subject's headlamps, where they look most straight into the lens of those frames that show them."""
    notes = Notes(view.shot.id)
    vehicle = view.scene.vehicle
    if vehicle is None or vehicle.headlamps <= 0 or view.light.vehicle.total <= 0:
        return notes
    frame, towards = _most_towards(view)
    if towards <= 0:
        return notes
    off = float(np.linalg.norm(view.positions[frame] - view.vehicles[frame].position))
    magnified = float(optics.image_distance(view.shot.focal_length, float(view.focus[frame]))) / off
    stop, iso = working_stop(view), iso_used(view)

    def share_of(flux: float) -> float:
        """How wide what is white round each is, of the vehicle's width, with so much light of both [lm]. [-]"""
        # Half of the light each, in a lobe cos^n of which 2 pi / (n + 1) is the solid angle.
        intensity = flux / 2 * (BEAM_EXPONENT + 1) / (2 * math.pi) * towards
        radius = glare_radius(intensity, view.exposure_time, stop, iso, _scattered(view), magnified)
        return 2 * radius / vehicle_size(view.scene)[1]

    share = share_of(vehicle.headlamps)
    notes.figure("headlamp_glare", share)
    less = vehicle.headlamps
    while share_of(less) > 0.9 * FRONT:
        less *= 0.8
    notes.finding(
        "glare.headlamps",
        "headlamp_glare",
        share,
        FRONT,
        above(share, FRONT),
        f"Round each headlamp {percent(share)} of the vehicle's width is white, by what the lens scatters: the two "
        "hide its front. Drafts do not show it."
        if share > FRONT
        else f"Round each headlamp {percent(share)} of the vehicle's width is white.",
        ways=lambda: [
            Way(
                f"Make the headlamps weaker, {less:.2g} lm for both: a resistor, a dimmer or paint on them.",
                (Change("vehicle.headlamps", f"{less:.2g} lm"),),
            )
        ],
        otherwise=f"Make the headlamps weaker, some {less:.2g} lm for both.",
    )
    return notes


def _scattered(view: ShotView) -> float:
    """The share of its light that the lens scatters. [-]"""
    return 0.0 if view.camera.glare == "none" else float(view.camera.glare) / 100


def _most_towards(view: ShotView) -> tuple[int, float]:
    """Of the frames that show the vehicle the one in which they light the camera most, and that of their axis. [-]"""
    frames = np.flatnonzero(view.vehicle_in_frame)
    if not len(frames):
        return 0, 0.0
    to_eye = np.stack([view.positions[n] - view.vehicles[n].position for n in frames])
    ahead = np.stack([view.vehicles[n].world_from_vehicle[:3, 0] for n in frames])
    cosine = np.einsum("ni,ni->n", ahead, to_eye) / np.linalg.norm(to_eye, axis=1)
    most = int(cosine.argmax())
    return int(frames[most]), float(max(cosine[most], 0.0) ** BEAM_EXPONENT)
