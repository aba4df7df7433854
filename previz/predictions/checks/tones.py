"""What the picture makes of its light: a night that is metered as by day, and surfaces that are burnt out."""

import math
from collections.abc import Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from previz.layout import Ambient, Emitter, emitters_of
from previz.light import Receivers
from previz.physics.colour import LUMINANCE
from previz.physics.exposure import focal_plane_exposure, level_of, luminance_of, nearest_third_stop
from previz.predictions.findings import Change, Notes, Verdict, Way, above
from previz.predictions.metering import iso_used, working_stop
from previz.predictions.shot_view import ShotView
from previz.units import percent

Array = NDArray[np.float64]

# Limits. All common practice, no source.
NIGHT = -2 / 3  # stops against the meter: with more exposure than that a night turns out as a grey dusk
_AT_NIGHT = -1.5  # stops that are offered there
BURNT = 0.03  # of the picture, over which burnt-out surfaces are seen as a fault
_ESTIMATE = 0.5  # stops, for the ISO of iso: auto is an estimate
_MOST = 1.5  # stops by which a picture may be made darker for them before the vehicle is lost
_GEL = 3  # stops of gel that are put on a lamp

_HAIR = 1e-6


def note_night(view: ShotView, notes: Notes) -> None:
    """Whether a shot under a sky that is painted as night is exposed as one: only `iso: auto` meters, as by day."""
    capture = view.shot.capture
    if not _by_night(view) or capture.iso != "auto":
        return
    notes.finding(
        "tones.night",
        "exposure_set",
        capture.exposure,
        NIGHT,
        Verdict.FINE if capture.exposure <= NIGHT + _HAIR else Verdict.WATCH,
        "Metered to mid-grey as by day, under a sky that is painted as night: it turns out as a grey dusk."
        if capture.exposure > NIGHT + _HAIR
        else f"Exposed {-capture.exposure:g} stops under the meter, as a night.",
        f"Take {-_AT_NIGHT:g} stops off (capture: exposure: {_AT_NIGHT:g} stops), as nights are mostly shown.",
        changes=[Change(f"shots[{view.index}].capture.exposure", f"{_AT_NIGHT:g} stops")],
    )


def _by_night(view: ShotView) -> bool:
    backdrop = view.scene.set.backdrop
    return backdrop is not None and backdrop.painting is not None and backdrop.painting.sky == "night"


def note_burnt(view: ShotView, notes: Notes) -> None:
    """How much of the picture is of lit surfaces that are brighter than the sensor can tell; lamps do not count.

    By the light that comes straight from lamps, sky and room: with what the set throws back it is no less.
    """
    luminance, whose, share_of_each = view.once("lit surfaces", lambda: _luminances(view))
    levels = level_of(focal_plane_exposure(luminance, view.exposure_time, working_stop(view)), iso_used(view))
    over = 2.0**_ESTIMATE if view.shot.capture.iso == "auto" else 1.0
    burnt = levels >= over
    share = float(burnt.sum()) * share_of_each
    notes.figure("burnt_share", share)
    names = view.light.around.names
    most = names[int(np.bincount(whose[burnt]).argmax())] if burnt.any() else ""
    spare = int(BURNT / share_of_each)  # so many places may be
    off = math.log2(float(np.sort(levels)[::-1][spare])) if share > BURNT else 0.0
    notes.finding(
        "tones.burnt",
        "burnt_share",
        share,
        BURNT,
        above(share, BURNT),
        f"{percent(share)} of the picture is burnt out to white" + (f", mostly {most}" if most else "") + ": "
        f"it gets {off:.1f} stops more light than the sensor can tell."
        if share > BURNT
        else "Hardly any of what the picture shows is burnt out to white.",
        ways=partial(_darker, view, burnt, off),
        otherwise=f"Turn the lamp that lights {most} off it, or bring more light to {view.lit_thing}, which is metered."
        if share > BURNT
        else "",
    )


def _luminances(view: ShotView) -> tuple[Array, NDArray[np.int64], float]:
    """Of each place (k,) that the picture shows [cd/m2], whose it is, and of what share of the picture each is."""
    light = view.light
    lux = light.at_each(emitters_of(view.scene), light.in_picture).astype(float)
    faces = light.faces_in_picture
    reflectance = light.around.albedo[faces] @ np.asarray(LUMINANCE)
    return np.asarray(luminance_of(lux, reflectance)), light.around.owner[faces], light.share_of_a_place


def _darker(view: ShotView, burnt: NDArray[np.bool_], off: float) -> list[Way]:
    """Less exposure, where the vehicle bears it; else gel on the lamp that lights most of it."""
    capture, key, ways = view.shot.capture, f"shots[{view.index}].capture", list[Way]()
    if off <= _MOST and capture.iso == "auto":
        then = math.floor((capture.exposure - off) * 10) / 10
        then = min(then, _AT_NIGHT) if _by_night(view) else then
        off_by = f"{capture.exposure - then:.1f} stops off (capture: exposure: {then:g} stops)"
        words = f"Take {off_by}, and {view.lit_thing} is as much darker."
        ways.append(Way(words, (Change(f"{key}.exposure", f"{then:g} stops"),)))
    elif off <= _MOST:
        iso = nearest_third_stop(capture.iso / 2 ** (math.ceil(off * 3 - _HAIR) / 3))
        if iso >= view.camera.iso[0]:
            ways.append(Way(f"Set ISO {iso}, and {view.lit_thing} is as much darker.", (Change(f"{key}.iso", iso),)))
    return [*ways, *_gelled(view, burnt, off)]


def _gelled(view: ShotView, burnt: NDArray[np.bool_], off: float) -> list[Way]:
    """Gel or diffusion on the lamp that gives most of the light on what is burnt out, so much that it is not."""
    seen = view.light.in_picture.take(np.flatnonzero(burnt))
    total, found = _lux(view, emitters_of(view.scene), seen), []
    for number, (light, lamp) in enumerate(zip(view.scene.lights, emitters_of(view.scene), strict=False)):
        if not isinstance(lamp, Ambient) and hasattr(light, "diffusion"):
            found.append((_lux(view, [lamp], seen), number, light))
    if not found:
        return []
    most, number, light = max(found, key=lambda each: each[0])
    rest = total / 2**off - (total - most)
    if most <= 0 or rest <= 0 or (stops := math.ceil(math.log2(most / rest) + 0.25)) > _GEL:
        return []
    more = Change(f"lights[{number}].diffusion", f"{light.diffusion + stops:g} stops")
    return [Way(f"Put {stops} stop{'s' * (stops > 1)} more of gel or diffusion on {light.id}.", (more,))]


def _lux(view: ShotView, lamps: Sequence[Emitter], places: Receivers) -> float:
    return float(np.mean(view.light.at_each(lamps, places)))
