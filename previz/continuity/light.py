"""Whether the light comes from where it came from before the cut, and in its colour."""

import math
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.continuity.joins import End, Join
from previz.continuity.rule import Told, angle_between
from previz.layout import lamp_rgb, post_lamps
from previz.physics.colour import chromaticity, colour_temperature, white_rgb
from previz.predictions import OFF_WHITE, Verdict, iso_shown, noise_limit_on
from previz.scene import Ambient, listed

Array = NDArray[np.float64]

#: How far round the light may come from elsewhere. Common practice, no source. [rad]
TURNED = math.radians(30)

#: Light from all round has no direction: it has one where this share of it comes from there. Common practice, no
#: source. [-]
DIRECTED = 0.25

#: How far apart on the CIE 1976 chart the colour of the light may be: seven steps of 0.0011 (CIE TN 001:2014), as far
#: as lamps of one nominal colour may lie from it (ANSI C78.377); both from memory.
COLOUR = 7 * 0.0011


def way_of_the_light(join: Join) -> Told | None:
    """Most of the light comes from elsewhere than before the cut."""
    one, other = _from(join.before), _from(join.after)
    if one is None or other is None:
        return None
    before, after = one, other
    if join.one_vehicle and not join.same_run and join.before.drives and join.after.drives:
        # What the viewer goes by is the vehicle, which then goes another way; of two that meet it is the set.
        before, after = _as_it_faces(join.before, one), _as_it_faces(join.after, other)
    turned = angle_between(before, after)
    return Told(
        "between.light",
        "light_turned",
        turned,
        TURNED,
        Verdict.WATCH if turned > TURNED else Verdict.FINE,
        f"In {join.after.name} most of the light comes from {math.degrees(turned):.0f} deg beside where it comes from "
        f"in {join.before.name}.",
        _back_to_its_side(join, turned, before, after) if turned > TURNED else "",
    )


def _back_to_its_side(join: Join, turned: float, one: Array, other: Array) -> str:
    """What brings the light back: where no lamp is moved or set otherwise, it is the vehicle that is elsewhere.

    one, other: where it comes from before the cut and after it, as they are compared; unit vectors (3,).
    """
    before, after = join.before.event, join.after.event
    if before.scene.lights == after.scene.lights and (join.same_run or not join.one_vehicle):
        return (
            f"The lamps are as they were: film the vehicle in {after.shot.id} where it is in {before.shot.id}, or hang "
            "the lamps further off, so that their light comes from one side all along its way."
        )
    return (
        f"Move the lamps of {after.shot.id} round the vehicle by {_way_round(turned, one, other)}, back to where their "
        f"light comes from before.{_exposed_then(join, one, other)}"
    )


#: How much of a direction is level for it to have a way round, seen from above. By eye, no source.
_LEVEL = 0.3


def _way_round(turned: float, one: Array, other: Array) -> str:
    """By how much lamps are moved, and which way round seen from above; and up or down, where that is much of it.

    >>> front, left = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    >>> _way_round(math.pi / 2, front, left), _way_round(math.pi / 2, left, front)
    ('90 deg clockwise as seen from above', '90 deg counter-clockwise as seen from above')
    >>> _way_round(math.radians(40), np.array([0.77, 0.0, 0.64]), front)
    '40 deg up'
    """
    raised = math.asin(max(-1.0, min(1.0, float(one[2])))) - math.asin(max(-1.0, min(1.0, float(other[2]))))
    level = min(math.hypot(*one[:2]), math.hypot(*other[:2])) > _LEVEL
    round_it = math.atan2(other[0] * one[1] - other[1] * one[0], float(other[:2] @ one[:2])) if level else 0.0
    told = []
    if abs(round_it) > abs(raised) / 3:
        told.append(f"{math.degrees(abs(round_it)):.0f} deg {'counter-' * (round_it > 0)}clockwise as seen from above")
    if abs(raised) > abs(round_it) / 3:
        told.append(f"{math.degrees(abs(raised)):.0f} deg {'up' if raised > 0 else 'down'}")
    return " and ".join(told) or f"{math.degrees(turned):.0f} deg"


def _exposed_then(join: Join, one: Array, other: Array) -> str:
    """What the later shot takes with its lamps so moved, where that differs to speak of: it was metered there."""
    end = join.after
    if not join.same_run and join.one_vehicle:
        one, other = _on_the_table(end, one), _on_the_table(end, other)
    axis, cosine = np.cross(other, one), float(other @ one)
    if cosine < -0.999:
        return ""  # from straight opposite: round which side is for their maker to say
    place = _place(end)

    def moved(point: Sequence[float]) -> tuple[float, ...]:
        arm = np.array(point) - place
        turned = cosine * arm + np.cross(axis, arm) + axis * float(axis @ arm) / (1 + cosine)  # Rodrigues
        return tuple(map(float, place + turned))

    lights: list[Any] = [
        light.model_copy(update={key: moved(getattr(light, key)) for key in ("at", "aim") if hasattr(light, key)})
        for light in end.event.scene.lights
    ]
    if any(light.at[2] <= 0 for light in lights if hasattr(light, "at")):
        return ""  # under the table
    return _exposed_with(end, lights)


def _exposed_with(end: End, lights: Sequence[Any]) -> str:
    """What a shot takes with those lamps in place of its own, where that differs by a third of a stop or more."""
    now, then = (each.view.light.vehicle.total for each in (end, end.with_lights(lights)))
    needed = [each.value for each in end.figures.figures if each.quantity == "iso_needed" and not each.of]
    if min(now, then) <= 0 or abs(math.log2(then / now)) < 1 / 3 or not needed:
        return ""
    capture, limit = end.event.shot.capture, noise_limit_on(end.view.area)
    if capture.iso != "auto":
        less, more = math.log2(now / then), math.log2(then / now)
        return f" It then gets {max(less, more):.1f} stops {'less' if less > 0 else 'more'} light than now."
    takes = needed[0] * 2.0 ** float(capture.exposure)
    noisy = ", at which noise shows" if takes * now / then > limit else ""
    return f" It then takes about ISO {iso_shown(takes * now / then)}{noisy}; now about {iso_shown(takes)}."


def _on_the_table(end: End, way: Array) -> Array:
    """A direction (3,) forward, left and up of the vehicle, as it is on the table: `_as_it_faces` undone."""
    c, s = math.cos(end.heading(0)), math.sin(end.heading(0))
    return np.array([c * way[0] - s * way[1], s * way[0] + c * way[1], way[2]])


def _place(end: End) -> Array:
    """Where the light is metered: the vehicle mid-shot, or what is in focus where nothing drives."""
    view = end.view
    if end.event.scene.vehicle is None:
        return view.cameras[0].in_focus
    shot = end.event.shot
    time = float(shot.start) + end.figures.value("time_on_set") / 2
    return np.asarray(view.vehicle_solid(view.travel.distance(time)).middle)


def _from(end: End) -> Array | None:
    """The unit vector towards which the light comes from on the whole; None where it has no direction.

    Each lamp counts by what the light meter reads of it.
    """
    lux = _lux(end)
    at = {lamp.id: np.array(lamp.at) for lamp in end.event.scene.lights if not isinstance(lamp, Ambient)}
    place, total = _place(end), sum(lux.values())
    flow = np.zeros(3)
    for name, light in lux.items():
        if name in at:
            way = at[name] - place
            flow += light * way / max(float(np.linalg.norm(way)), 1e-9)
    length = float(np.linalg.norm(flow))
    return flow / length if total > 0 and length / total >= DIRECTED else None


def _as_it_faces(end: End, way: Array) -> Array:
    """A direction (3,) forward, left and up of the vehicle."""
    heading = end.heading(0)
    c, s = math.cos(heading), math.sin(heading)
    return np.array([c * way[0] + s * way[1], c * way[1] - s * way[0], way[2]])


def _lux(end: End) -> dict[str, float]:
    """What each lamp gives on the vehicle, by its id. [lx]"""
    return {
        figure.of: figure.value
        for figure in end.figures.figures
        if figure.quantity == "illuminance_vehicle" and figure.of not in ("", "all lamps")
    }


def colour_of_the_light(join: Join, balanced: "Balanced | None" = None) -> Told | None:
    """The light looks warmer, cooler or greener than before the cut, white balance and all.

    balanced: how all shots of the cut are to be balanced, for one answer to serve every cut; None where nothing is.
    """
    differs = _apart(join, None)
    if differs is None:
        return None
    before, after = (each.event.shot.capture.white_balance for each in (join.before, join.after))
    unlike = f"; they are balanced for {before:.0f} K and {after:.0f} K" if before != after else ""
    remedy = (
        balanced.words
        if balanced is not None
        else f"Light {join.after.event.shot.id} in the colour of {join.before.event.shot.id}, or gel its lamps."
    )
    return Told(
        "between.colour",
        "light_colour",
        differs,
        COLOUR,
        Verdict.WATCH if differs > COLOUR else Verdict.FINE,
        f"The light on the vehicle differs in colour between {join.before.name} and {join.after.name}, by "
        f"{differs:.3f} in u'v'{unlike}.",
        f"{remedy} If it is meant to look otherwise, dissolve into it, and this is not looked at.",
    )


@dataclass(frozen=True)
class Balanced:
    """What to set the white balance of each shot to, by its id, for no cut to show it, and how that is said. [K]"""

    kelvin: dict[str, float]
    words: str


def balanced_alike(joins: Sequence[Join]) -> Balanced | None:
    """One answer for all shots that are cut to each other; None where no white balance has their light look alike.

    One setting for all where their light is alike: that of the most shots, but one that nobody chose and that their own
    light does not suit comes last, for what is found of those shots sends them elsewhere. Else each shot is balanced
    for its own light.
    """
    ends = {end.event.shot.id: end for join in joins for end in (join.before, join.after)}
    set_to = {name: float(end.event.shot.capture.white_balance) for name, end in ends.items()}
    unsuited = {set_to[name] for name, end in ends.items() if _unsuited(end)}
    count, mean = Counter(set_to.values()), sum(1 / _own_white(end) for end in ends.values()) / max(len(ends), 1)
    for one in sorted(count, key=lambda kelvin: (kelvin in unsuited, -count[kelvin], abs(1 / kelvin - mean))):
        alike = dict.fromkeys(ends, one)
        if _clears(joins, alike):
            others = [name for name in ends if set_to[name] != one]
            like = listed([name for name in ends if name not in others], "and")
            return Balanced(alike, f"Set the white balance of {listed(others, 'and')} to {one:.0f} K, as in {like}.")
    own = {name: _own_white(end) for name, end in ends.items()}
    if not _clears(joins, own):
        return None
    told = listed([f"{name} to {kelvin:.0f} K" for name, kelvin in own.items() if kelvin != set_to[name]], "and")
    return Balanced(own, f"Balance each shot for its own light: the white balance of {told}.")


def _clears(joins: Sequence[Join], kelvin: dict[str, float]) -> bool:
    return all((_apart(join, kelvin) or 0.0) <= COLOUR for join in joins)


def _unsuited(end: End) -> bool:
    """Whether its light is of another colour than a white balance that nobody chose."""
    off = [each.value for each in end.figures.figures if each.quantity == "light_off_white"]
    return "white_balance" not in end.event.shot.capture.model_fields_set and any(abs(one) > OFF_WHITE for one in off)


def _own_white(end: End) -> float:
    """The white balance under which the light on the vehicle looks white, as it is set on a camera. [K]"""
    rgb = _light(end)
    return min(max(round(colour_temperature(rgb), -2), 1500.0), 20000.0) if rgb.any() else 5600.0


def _apart(join: Join, kelvin: dict[str, float] | None) -> float | None:
    """How far the colours of the light lie apart, as the shots are balanced or would be; None where one has none. [-]

    Lamps that stand on the set alike in both are seen to give what the vehicle takes of them as it drives past: their
    light is left out (motivated light; common practice, no source).
    """
    one, other = join.before, join.after
    posts = {name: tuple(lamp.colour) for name, lamp in post_lamps(one.event.scene)}
    seen = posts.keys() if posts == {name: tuple(lamp.colour) for name, lamp in post_lamps(other.event.scene)} else ()
    lights = [_light(end, seen) for end in (one, other)]
    if not all(light.any() for light in lights):
        return None
    whites = [
        kelvin[end.event.shot.id] if kelvin is not None else end.event.shot.capture.white_balance
        for end in (one, other)
    ]
    before, after = (chromaticity(light / white_rgb(white)) for light, white in zip(lights, whites, strict=True))
    return float(np.linalg.norm(after - before))


def _light(end: End, without: Collection[str] = ()) -> Array:
    """The light on the vehicle, red, green and blue (3,); 0 where there is none. [lx]"""
    scene = end.event.scene
    colours = {lamp.id: np.array(lamp_rgb(lamp.colour)) for lamp in scene.lights}
    colours |= {name: np.array(lamp.colour) for name, lamp in post_lamps(scene)}
    rgb = np.zeros(3)
    for name, light in _lux(end).items():
        if name not in without:
            rgb += light * colours.get(name, np.ones(3))
    return rgb
