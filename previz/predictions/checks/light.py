"""Light: how much falls where, the ISO that takes, and lamps that pulse with the mains."""

import math
from collections.abc import Iterator
from fractions import Fraction
from functools import partial

from previz.physics import flicker
from previz.physics.colour import colour_temperature, white_rgb
from previz.physics.exposure import exposure_value, nearest_third_stop, shutter_within
from previz.predictions.checks.time import kept_speed, looks_as_fast, slowdown_of
from previz.predictions.checks.tones import note_burnt, note_night
from previz.predictions.findings import Change, Notes, Verdict, Way, above
from previz.predictions.metering import iso_needed, shortened
from previz.predictions.more_light import brighter, lacking
from previz.predictions.rounding import iso_shown
from previz.predictions.shot_view import ShotView
from previz.scene import SENSOR_FORMATS, Ambient, Scene, Shot
from previz.units import percent

# Limits. All common practice, no source.
FULL_FRAME_ISO = 12800  # past which a full-frame picture is grainy; others in proportion to their area
NOISE_STOPS = (4.0, 4.0 * 2**0.5)  # so many times that lose the picture, with a set ISO and with the estimate of auto
EXPOSURE_ERROR = (1.0, 2.0)  # stops off that are seen, that lose the picture; each half a stop wider for the estimate
LIGHTING_RATIO = 16.0  # key and fill over fill, past which shadows are black
OFF_WHITE = 60e-6  # the light's colour against the white balance, about half of daylight against a halogen lamp. [1/K]

_SEEN = 0.1  # stops: by less no picture is seen to be too dark or too bright. Common practice, no source
_MOST = 5  # stops of diffusion, in layers, that are put on a lamp. Common practice, no source
_OWN_RATES = 2  # so many of the camera's are tried that hide it, where none at the shot's rate does
_SHUTTERS = 3  # so many that hide the pulse of the mains are offered

#: Asked where a scene leaves open which mains its lamps are on.
_WHICH_MAINS = "Say which mains yours are: mains: 50 Hz, or 60 Hz, at the top of the file."

#: What the ISO here is worked out from, where the picture is metered on the models themselves: mostly within a quarter
#: of a stop of it.
ESTIMATE = "going by plain shapes of what stands on the set"


def check_light(view: ShotView) -> Notes:
    """Illuminance per lamp, exposure, lighting ratio, flicker."""
    notes = Notes(view.shot.id)
    lit = view.light.vehicle.by_lamp
    for name, lux in lit.items():
        notes.figure("illuminance_vehicle", lux, name)
    total = sum(lit.values())
    notes.figure("illuminance_vehicle", total, "all lamps")
    notes.figure("illuminance_road", view.light.road.total)
    _backdrop(view, total, notes)
    notes.figure("exposure_time", view.exposure_time)
    notes.figure("exposure_value", exposure_value(float(view.shot.f_number), view.exposure_time))
    if total <= 0:
        notes.finding(
            "light.dark",
            "illuminance_vehicle",
            total,
            1.0,
            Verdict.STOP,
            "No lamp of the scene lights the side of the vehicle that the camera sees."
            if view.scene.vehicle is not None
            else f"No lamp of the scene lights {view.lit_thing}.",
            ways=lambda: [_room_lit(view, lux) for lux in (200, 2000)],
            otherwise="Add a light in front of the set.",
        )
        return notes
    _exposure(view, lit, notes)
    note_night(view, notes)
    note_burnt(view, notes)
    _ratio(view, notes)
    _white(view, lit, notes)
    _flicker(view, lit, notes)
    return notes


def _room_lit(view: ShotView, lux: int) -> Way:
    lamp = {"id": "added_room", "ambient": f"{lux} lx"}
    return Way(f"Light the room with {lux} lx of even light.", (Change(f"lights[{len(view.scene.lights)}]", lamp),))


def _backdrop(view: ShotView, on_vehicle: float, notes: Notes) -> None:
    if view.light.backdrop is None:
        return
    lux = view.light.backdrop.total
    notes.figure("illuminance_backdrop", lux)
    if lux > 0 and on_vehicle > 0:
        notes.figure("backdrop_stops", math.log2(lux / on_vehicle))


def _exposure(view: ShotView, lit: dict[str, float], notes: Notes) -> None:
    capture, lux = view.shot.capture, sum(lit.values())
    needed = iso_needed(view, lux)
    notes.figure("iso_needed", needed)
    if view.metered != view.middle:
        notes.figure("metered_at", view.times[view.metered])
    key = f"shots[{view.index}]"
    if capture.iso != "auto":
        error = math.log2(capture.iso / needed)
        low, high = view.camera.iso
        named = nearest_third_stop(min(max(needed, low), high))
        notes.figure("exposure_error", error)
        notes.finding(
            "light.exposure",
            "exposure_error",
            error,
            EXPOSURE_ERROR[0],
            above(abs(error), *EXPOSURE_ERROR),
            f"ISO {capture.iso} is about {abs(error):.1f} stops {'over' if error > 0 else 'under'}: mid-grey wants "
            f"about ISO {iso_shown(needed)}, {ESTIMATE}.",
            f"Set ISO {named}.",
            changes=[Change(f"{key}.capture.iso", named)],
        )
    used = needed * 2**capture.exposure if capture.iso == "auto" else float(capture.iso)
    _iso_range(view, lit, used, notes)
    limit = noise_limit(view)
    metered = [Change(f"{key}.capture.iso", "auto")] if capture.iso != "auto" else []
    # More light is wanted for what the picture takes, not for an ISO that was set past it.
    wanted = used if capture.iso == "auto" else needed
    takes = f"The picture takes about ISO {iso_shown(used)}, {ESTIMATE}"
    if capture.iso != "auto":
        past = (
            f", though the light takes about ISO {iso_shown(needed)}" if needed < used / 2 ** EXPOSURE_ERROR[0] else ""
        )
        takes = f"It is set to ISO {used:.0f}{past}"
    begins = f"about ISO {iso_shown(limit)}" if iso_shown(limit) != iso_shown(used) else "a little less"
    notes.finding(
        "light.iso",
        "iso_needed",
        used,
        limit,
        above(used, limit, NOISE_STOPS[capture.iso == "auto"] * limit),
        f"{takes}; on a sensor of this size noise shows from {begins}.",
        ways=lambda: [
            *_iso_set_lower(view, used, needed),
            *(Way(way.words, (*way.changes, *metered)) for way in brighter(view, lit, wanted / limit)),
        ],
        otherwise=lacking(wanted / limit) if wanted > limit else "",
    )


def _iso_set_lower(view: ShotView, used: float, needed: float) -> list[Way]:
    """The ISO that the light takes, where a higher one is set."""
    low, high = view.camera.iso
    iso = nearest_third_stop(min(max(needed, low), high))
    if view.shot.capture.iso == "auto" or iso >= used:
        return []
    return [Way(f"Set ISO {iso}.", (Change(f"shots[{view.index}].capture.iso", iso),))]


def noise_limit(view: ShotView) -> float:
    """The ISO from which noise shows in a shot. [-]"""
    return noise_limit_on(view.area)


def noise_limit_on(area: tuple[float, float]) -> float:
    """The same of a recorded area, width and height [m]: at one exposure a picture gets light, in all, by its area. [-]

    Against the area that a picture of the same shape has on full frame, whichever way it is turned.
    """
    full, own = (sorted(sides) for sides in (SENSOR_FORMATS["full frame"], area))
    times = min(one / other for one, other in zip(full, own, strict=True))
    return float(FULL_FRAME_ISO / times**2)


def _iso_range(view: ShotView, lit: dict[str, float], used: float, notes: Notes) -> None:
    """Whether the camera has that ISO; where `iso: auto` stops at an end of its range, how far off the picture is."""
    low, high = view.camera.iso
    end = min(max(used, low), high)
    off = math.log2(used / end)
    if view.shot.capture.iso == "auto" and abs(off) < _SEEN:
        off = 0.0
    name, fixed = view.shot.camera, bool(off) and view.shot.capture.iso != "auto"
    changes: list[Change] = []
    remedy, otherwise = (
        "",
        lacking(used / high) if off > 0 else "Put a grey filter before the lens, or give less light.",
    )
    if fixed:
        otherwise = ""
        message = f"ISO {used:.0f} is not within the ISO {low} to {high} of {name}."
        remedy = f"Set ISO {end:.0f}."
        changes = [Change(f"shots[{view.index}].capture.iso", round(end))]
    elif off:
        message = (
            f"The picture takes about ISO {iso_shown(used)}, {ESTIMATE}; {name} goes {'up' if off > 0 else 'down'} to "
            f"ISO {end:.0f}, about {abs(off):.1f} stops too {'dark' if off > 0 else 'bright'}."
        )
    else:
        message = f"{name} has the ISO it takes."
    notes.finding(
        "light.iso_range",
        "iso_needed",
        used,
        end if off else float(high),
        Verdict.FINE if not off else above(abs(off), 0.0, 0.0 if fixed else EXPOSURE_ERROR[0]),
        message,
        remedy,
        changes=changes,
        ways=tuple
        if fixed
        else lambda: brighter(view, lit, used / high) if off > 0 else _darker(view, lit, low / used),
        otherwise=otherwise,
    )


def _darker(view: ShotView, lit: dict[str, float], times: float) -> list[Way]:
    """So many times less light on the sensor: a smaller stop if the lens has it, a shorter shutter, less of a lamp."""
    key = f"shots[{view.index}]"
    ways: list[Way] = []
    parts = shutter_within(view.exposure_time / times)
    stop = next((stop for stop in view.stops if stop >= view.shot.f_number * math.sqrt(times) * 0.99), None)
    if stop is not None:
        ways = [Way(f"Stop down to f/{stop:g}.", (Change(f"{key}.f_number", f"f/{stop:g}"),))]
    shorter = Change(f"{key}.capture.shutter", f"1/{parts} s")
    return [*ways, Way(f"Shorten the shutter to 1/{parts} s.", (shorter,)), *_diffused(view, lit, times)]


def _diffused(view: ShotView, lit: dict[str, float], times: float) -> list[Way]:
    """So many times less light by whole stops of diffusion on the lamp that gives most."""
    name, total = max(lit, key=lambda each: lit[each]), sum(lit.values())
    number, light = next((n, each) for n, each in enumerate(view.scene.lights) if each.id == name)
    rest = total / times - (total - lit[name])
    if isinstance(light, Ambient) or rest <= 0:
        return []
    stops = math.ceil(math.log2(lit[name] / rest))
    more = Change(f"lights[{number}].diffusion", f"{light.diffusion + stops:g} stops")
    return [Way(f"Put {stops} stops more of gel or diffusion on {name}.", (more,))] if stops <= _MOST else []


def _ratio(view: ShotView, notes: Notes) -> None:
    """All light over what is left where the key throws shadow; the key is the lamp that gives most straight from it."""
    straight, total = view.light.vehicle.straight, view.light.vehicle.total
    key = max(straight, key=lambda name: straight[name])
    fill = total - straight[key]
    ratio = total / fill if fill > 0 else math.inf
    if isinstance(next((light for light in view.scene.lights if light.id == key), None), Ambient):
        ratio = 1.0  # even light has no shadow side
    notes.figure("lighting_ratio", ratio)
    missing = max(straight[key] / (LIGHTING_RATIO - 1) * 1.02 - fill, 0.0) / max(view.light.even, 1e-3)
    notes.finding(
        "light.ratio",
        "lighting_ratio",
        ratio,
        LIGHTING_RATIO,
        above(ratio, LIGHTING_RATIO),
        f"Where {key} throws shadow, {math.log2(ratio):.1f} stops less light is left."
        if math.isfinite(ratio)
        else f"Where {key} throws shadow, no light is left.",
        f"Fill with {missing:.0f} lx more of even light, from a white card or the room.",
        changes=_ambient_change(view, missing),
    )


def _ambient_change(view: ShotView, more: float) -> list[Change]:
    for number, light in enumerate(view.scene.lights):
        if isinstance(light, Ambient):
            return [Change(f"lights[{number}].ambient", f"{light.ambient + more:.6g} lx")]
    return [Change(f"lights[{len(view.scene.lights)}]", {"id": "added_fill", "ambient": f"{more:.6g} lx"})]


def _white(view: ShotView, lit: dict[str, float], notes: Notes) -> None:
    """The colour of the light on the vehicle against a white balance that nobody chose; one that is written was.

    Lamps with a gel are coloured on purpose, and left out; where they give most of the light, nothing is said.
    """
    plain = {light.id: light.colour.kelvin for light in view.scene.lights if light.colour.gel is None}
    level = sum(lit.get(name, 0.0) for name in plain)
    if level < sum(lit.values()) / 2:
        return
    mixed = sum(lit.get(name, 0.0) * white_rgb(kelvin) for name, kelvin in plain.items())
    light, white = colour_temperature(mixed), float(view.shot.capture.white_balance)
    off = 1 / light - 1 / white
    chosen = "white_balance" in view.shot.capture.model_fields_set
    balanced = min(max(round(light, -2), 1500), 20000)
    notes.figure("light_off_white", off)
    notes.finding(
        "light.white",
        "light_off_white",
        off,
        math.copysign(OFF_WHITE, off),
        Verdict.FINE if chosen else above(abs(off), OFF_WHITE),
        _turns_out(view.lit_thing, off, light, white, chosen=chosen)
        if abs(off) > OFF_WHITE
        else f"The light on {view.lit_thing}, of about {round(light, -2):.0f} K, suits the white balance.",
        f"Set the white balance to {balanced:.0f} K (capture: white_balance), or write it as it is if that is the look "
        "you want.",
        changes=[Change(f"shots[{view.index}].capture.white_balance", f"{balanced:.0f} K")],
    )


def _turns_out(lit_thing: str, off: float, light: float, white: float, *, chosen: bool) -> str:
    """What the picture's colour is, with light and white balance in kelvin; a look that was chosen is told as one."""
    looks, about = "orange" if off > 0 else "blue", f"{round(light, -2):.0f} K"
    if chosen:
        on = f"the light on {lit_thing} about {about}"
        return f"{looks.capitalize()}, as you wrote it: white balance {white:.0f} K, {on}."
    return (
        f"The picture turns out {looks}: the light on {lit_thing} is of about {about}, and the white balance is "
        f"{white:.0f} K."
    )


def _flicker(view: ShotView, lit: dict[str, float], notes: Notes) -> None:
    """Of lamps said to be fed from the mains without a driver; where no lamp says, whether they are."""
    lights = view.scene.lights
    pulsing = [light.id for light in lights if light.mains]
    supplies = tuple(flicker.PULSES) if view.scene.mains is None else (view.scene.mains,)
    if all(light.mains is None for light in lights):
        _ask_for_mains(view, supplies, notes)
    if not pulsing:
        return
    backdrop = view.light.backdrop
    share = max(_share_of(pulsing, lit), _share_of(pulsing, backdrop.by_lamp) if backdrop is not None else 0.0)
    for mains in supplies:
        pulses = flicker.PULSES[mains]
        between, across = (share * ripple for ripple in _ripples(view.scene, view.shot, pulses))
        notes.figure("ripple", between, f"{mains} Hz mains")
        notes.figure("bands", across, f"{mains} Hz mains")
        worst = max(between, across)
        notes.finding(
            f"light.flicker_{mains}",
            "bands" if across > between else "ripple",
            worst,
            flicker.EVEN_LIGHT,
            above(worst, flicker.EVEN_LIGHT, flicker.HALF_A_STOP),
            f"On {mains} Hz mains {', '.join(pulsing)} {_ripple_told(view, between, across)}."
            + (f" {_WHICH_MAINS}" if view.scene.mains is None and worst > flicker.EVEN_LIGHT else ""),
            ways=partial(_steady_shutters, view, pulses),
            otherwise="Light with lamps on direct current.",
        )


def _share_of(lamps: list[str], lit: dict[str, float]) -> float:
    """What some lamps give of the light somewhere. [-]"""
    total = sum(lit.values())
    return sum(lit[name] for name in lamps) / total if total > 0 else 0.0


def _ripples(scene: Scene, shot: Shot, pulses: int) -> tuple[float, float]:
    """Ripple from frame to frame and across the rows of one, in light that is all of lamps on the mains. [-]"""
    rate, time = float(shot.capture.rate), shot.capture.exposure_time
    return flicker.ripple_between_frames(rate, time, pulses), flicker.bands(_readout(scene, shot)[0], time, pulses)


def _readout(scene: Scene, shot: Shot) -> tuple[float, bool]:
    """How long the shutter rolls [s], and whether the scene says so; else as long as it can in that mode."""
    mode = scene.mode(shot)
    known = scene.cameras[shot.camera].readout_in(mode)
    return (mode.frame_time, False) if known is None else (known, True)


def _ripple_told(view: ShotView, between: float, across: float) -> str:
    """What the lamps on the mains do, as the end of a sentence about them."""
    readout, known = _readout(view.scene, view.shot)
    rolls = f"a read-out of {readout * 1000:.3g} ms" + ("" if known else ", assumed, as the mode says none")
    if max(between, across) <= flicker.EVEN_LIGHT:
        return "give every frame and all of it the same light"
    if across <= flicker.EVEN_LIGHT:
        return f"would leave up to {percent(between)} of ripple from frame to frame"
    stand = "travel" if between > flicker.EVEN_LIGHT else "stand still"
    return f"would leave bands of up to {percent(max(between, across))} across the picture that {stand} ({rolls})"


def _steady_shutters(view: ShotView, pulses: int) -> Iterator[Way]:
    """Shutters of whole pulses, which hide them whatever the read-out, the nearest first."""
    rate, key = float(view.shot.capture.rate), f"shots[{view.index}].capture"
    shutters = flicker.steady_shutters(rate, pulses)
    if not shutters:
        yield from _slower(view, pulses)
    for safe in sorted(shutters, key=lambda safe: abs(math.log(safe / view.exposure_time)))[:_SHUTTERS]:
        parts = round(safe * pulses)
        words = f"Set the shutter to {parts}/{pulses} s{shortened(view, safe)}, or light with lamps on direct current."
        yield Way(words, (Change(f"{key}.shutter", f"{parts}/{pulses} s"),))


def _slower(view: ShotView, pulses: int) -> Iterator[Way]:
    """Rates whose frames no pulse outlasts: the fastest that the camera likely has, and only then that of the pulses.

    First so that the shot looks as it does, where all there is of it goes by time alone.
    """
    shot, vehicle, key = view.shot, view.scene.vehicle, f"shots[{view.index}].capture"
    now = float(shot.capture.rate)
    own = [each for each in view.camera.rates if each <= pulses][: -_OWN_RATES - 1 : -1]
    at_pulses = [pulses] if any(view.camera.records(mode, Fraction(pulses)) for mode in view.camera.modes) else []
    for each in dict.fromkeys((*own, *at_pulses)):
        slowed = f", slowed {each / float(shot.playback):.3g} times and not {slowdown_of(view):.3g}"
        words = (
            f"At {now:g} fps no shutter is safe: light with lamps on direct current, or capture at {each:g} fps with a "
            f"shutter of 1/{pulses} s{slowed}"
        )
        changes = Change(f"{key}.rate", f"{each:g} fps"), Change(f"{key}.shutter", f"1/{pulses} s")
        same = looks_as_fast(view, vehicle, each / now) if vehicle is not None and not vehicle.stands else None
        if same is not None:
            yield Way(f"{words}; {same.words}", (*changes, *same.changes))
        yield Way(f"{words}.", (*changes, *kept_speed(view)))


def _ask_for_mains(view: ShotView, supplies: tuple[int, ...], notes: Notes) -> None:
    """Once a scene: in slow motion, where lamps on the mains would show."""

    def shows(shot: Shot) -> float:
        """The ripple that lamps on the mains would leave in a shot in slow motion. [-]"""
        if shot.capture.rate <= shot.playback:
            return 0.0
        return max(max(_ripples(view.scene, shot, flicker.PULSES[mains])) for mains in supplies)

    if next((shot for shot in view.scene.shots if shows(shot) > flicker.HALF_A_STOP), None) is not view.shot:
        return
    notes.finding(
        "light.mains",
        "ripple",
        shows(view.shot),
        flicker.HALF_A_STOP,
        Verdict.WATCH,
        f"No lamp says whether the mains feed it; at {float(view.shot.capture.rate):g} fps its pulse would show.",
        "Film each lamp, and the room, at 1/1000 s: stripes or flutter are mains. "
        "Write mains: true or false on the lights"
        + (", and mains: 50 or 60 Hz on top." if view.scene.mains is None else "."),
    )
