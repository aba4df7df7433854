"""How the vehicle is seen on both sides of a cut: from which side, from which angle, how large, how fast, how high.

The line of action (180 degrees) and the 30 degree rule: R. Thompson and C. J. Bowen, "Grammar of the Shot", 2nd ed.
2009, and "Grammar of the Edit", 2nd ed. 2009; screen direction, and shots from straight ahead or behind that are of
neither: J. V. Mascelli, "The Five C's of Cinematography", 1965, "Continuity" (all from memory).
"""

import math
from collections.abc import Callable
from functools import partial

import numpy as np

from previz.continuity.joins import End, Join
from previz.continuity.recorded import PACE
from previz.continuity.rule import Told, angle_between, apart, nearer_limit, ratio_of, times
from previz.errors import ShotFault
from previz.layout import backdrop_plane
from previz.predictions import Verdict, noise_limit_on, worse_at
from previz.scene import Shot

#: Angle between two looks at one thing under which a cut jumps. [rad]
JUMP = math.radians(30)

# Limits. Common practice, no source.
NEUTRAL = math.radians(15)  # as near to straight ahead or behind, it drives neither left nor right
OTHER_SIZE = 1.5  # so many times as large or small, a cut is a change of size and no jump
SIZE = 5.0  # past so many times the eye must look for the vehicle anew
SPEED = 1.3
HEIGHT = 4.0  # times: from the road to a mast
PUPIL = 2.0  # times as wide: two stops of blur


# --- direction ---


def across_the_line(join: Join) -> Told | None:
    """The vehicle drives to one side of the picture, and after the cut to the other."""
    one, other = join.before, join.after
    if not (one.drives and other.drives) or one.nearest_seen is None or other.nearest_seen is None:
        return None
    if not join.same_vehicle:
        return None
    before, after = one.bearing(one.nearest_seen), other.bearing(other.nearest_seen)
    was, over = _off_the_line(before), _off_the_line(after)
    flips = was > NEUTRAL and before * after < 0
    beyond = over if flips else 0.0
    side = {True: "left", False: "right"}
    words = (
        f"The vehicle drives to the {side[after > 0]} in {other.name} and to the {side[before > 0]} in {one.name}"
        if flips and over > NEUTRAL
        else f"The vehicle drives the same way across {one.name} and {other.name}, or towards or away from one of them"
    )
    between = (
        f"put a shot between them from within {math.degrees(NEUTRAL):.0f} deg of straight ahead or behind, or dissolve"
    )
    if join.same_run or _heads_alike(one, other):
        return Told(
            "between.line",
            "over_line",
            beyond,
            NEUTRAL,
            Verdict.WATCH if beyond > NEUTRAL else Verdict.FINE,
            f"{words}{f': the camera stands {math.degrees(over):.0f} deg over its line' if beyond > NEUTRAL else ''}.",
            f"Stand on the {side[before > 0]} of its way, as in {one.event.shot.id}; or {between}.",
        )
    return Told(
        "between.direction",
        "over_line",
        beyond,
        NEUTRAL,
        Verdict.WATCH if beyond > NEUTRAL else Verdict.FINE,
        f"{words}{', for its run is another one' if beyond > NEUTRAL else ''}.",
        f"Film {other.event.shot.id} from the other side of its way{_or_its_run(one, other)}; or {between}.",
    )


def _heads_alike(one: End, other: End) -> bool:
    """Whether the vehicle heads for the same side of the table in both, where it is seen next to the cut.

    Then its line is the same, though the runs may be of another lane or time: only the cameras' sides tell.
    """
    assert one.nearest_seen is not None and other.nearest_seen is not None
    return math.cos(one.heading(one.nearest_seen) - other.heading(other.nearest_seen)) > 0


def _or_its_run(one: End, other: End) -> str:
    """The earlier run for the later shot too, where the vehicle then drives to the same side of the picture."""
    try:
        so = other.with_run_of(one)
    except ShotFault:
        return ""
    if so.nearest_seen is None or so.bearing(so.nearest_seen) * one.bearing(one.nearest_seen or 0) < 0:
        return ""
    return f", or let it run as in {one.event.shot.id}"


def _off_the_line(bearing: float) -> float:
    """How far a camera stands off the line that the vehicle drives along, 0 to a quarter turn. [rad]"""
    return min(abs(bearing), math.pi - abs(bearing))


# --- angle and size ---


def jump_cut(join: Join) -> Told | None:
    """Nearly the same look at the vehicle again, or at the set without it: no other place nor size."""
    one, other = join.before, join.after
    if not (one.seen or other.seen) and join.one_place:
        return _same_look_at_the_set(one, other)
    if not (one.seen and other.seen and join.same_vehicle):
        return None
    return _jump(
        one, other, "the vehicle", _angle(one, other), _size(one, other), partial(_out_of_the_jump, one, other)
    )


def _jump(one: End, other: End, what: str, angle: float, ratio: float, out: Callable[[], str]) -> Told:
    """Whether a cut jumps that sees what it shows from such an angle beside before, and so many times as large.

    out: what to do about it.
    """
    jumps = angle < JUMP and 1 / OTHER_SIZE < ratio < OTHER_SIZE
    return Told(
        "between.angle",
        "angle_between",
        angle,
        JUMP,
        Verdict.WATCH if jumps else Verdict.FINE,
        f"{other.name} sees {what} from {math.degrees(angle):.0f} deg beside where {one.name} does, {times(ratio)} as "
        f"large{': the cut jumps' if jumps else ''}.",
        out() if jumps else "",
    )


def _same_look_at_the_set(one: End, other: End) -> Told | None:
    """The same of what stands there, the vehicle in neither picture; None where the two show different parts of it."""
    points = [end.view.cameras[0].in_focus for end in (one, other)]
    if not all(end.shows(point) for end in (one, other) for point in points):
        return None
    ways = [end.view.cameras[0].position - points[0] for end in (one, other)]
    angle = angle_between(*(way / np.linalg.norm(way) for way in ways))
    ratio = ratio_of(*(end.view_width_at(points[0], 0) for end in (one, other)))
    return _jump(
        one,
        other,
        "the set, without the vehicle,",
        angle,
        ratio,
        lambda: (
            f"Frame {other.event.shot.id} at least {OTHER_SIZE:g} times as tight or as wide, stand it "
            f"{math.degrees(JUMP):.0f} deg round what it shows, or dissolve."
        ),
    )


def _angle(one: End, other: End) -> float:
    """Between the ways from the vehicle, as it stands and faces, to both cameras. [rad]"""
    return angle_between(one.to_camera(0), other.to_camera(0))


def _size(one: End, other: End) -> float:
    """How many times as large the vehicle is in the later one."""
    return ratio_of(one.view_width(0), other.view_width(0))


def _out_of_the_jump(one: End, other: End) -> str:
    """Where the later camera would stand, round the vehicle on its side of the line, if it may stay as it is else."""
    shot, scene = other.event.shot, other.event.scene
    size = f"Frame it at least {OTHER_SIZE:g} times as large or as small in {shot.id}"
    round_it = moved_round(one, other)
    if round_it is None:
        return f"{size}, or dissolve."
    x, y, z = (scene.tape(each) for each in round_it.at)
    return f"{size}, or move its camera round the vehicle, to {x}, {y}, {z} up."


def moved_round(one: End, other: End) -> Shot | None:
    """The later shot from the nearest place round the vehicle from where it does not jump; None where there is none.

    It stands as far off and as high, on the same side of the line, over no backdrop; a camera that travels stays.
    """
    shot = other.event.shot
    if not isinstance(shot.at[0], int | float):
        return None
    middle, place = other.view.vehicle_corners[0].mean(axis=0), other.view.cameras[0].position
    off, plane = place - middle, backdrop_plane(other.event.scene)
    side = math.copysign(1.0, other.bearing(0))
    for degrees in range(1, 120):
        for turn in (math.radians(degrees), -math.radians(degrees)):
            c, s = math.cos(turn), math.sin(turn)
            x, y = middle[0] + c * off[0] - s * off[1], middle[1] + s * off[0] + c * off[1]
            if plane is not None and plane.before([x, y]) < 0:
                continue
            try:
                moved = other.with_shot(shot.model_copy(update={"at": (round(x, 3), round(y, 3), float(place[2]))}))
            except ShotFault:  # from there it cannot be aimed or focused
                continue
            stays = math.copysign(1.0, moved.bearing(0)) == side
            if stays and moved.seen and _angle(one, moved) >= JUMP:
                return moved.event.shot
    return None


def another_size(join: Join) -> Told | None:
    """So much larger or smaller that the eye loses it."""
    one, other = join.before, join.after
    if not (one.seen and other.seen and join.same_vehicle):
        return None
    ratio = _size(one, other)
    return Told(
        "between.size",
        "size_ratio",
        ratio,
        nearer_limit(ratio, SIZE),
        apart(ratio, SIZE),
        f"The vehicle is {times(ratio)} as large in {other.name} as in {one.name}.",
        f"Frame it {'wider' if ratio > 1 else 'tighter'} in {other.event.shot.id}, or put a shot of a size in between.",
    )


# --- speed ---


def another_speed(join: Join) -> Told | None:
    """Faster or slower at full size, on screen."""
    one, other = join.before, join.after
    if not join.one_vehicle or not (one.drives and other.drives):
        return None
    if one.nearest_seen is None or other.nearest_seen is None:
        return None
    before, after = one.apparent_speed(one.nearest_seen), other.apparent_speed(other.nearest_seen)
    where = (f"at the start of {other.name}", f"at the end of {one.name}")
    if join.together and not join.ordered:
        # Two cameras at one run: who cuts chooses the moment, and at any one only the slowing can differ.
        after, where = before * one.slowdown / other.slowdown, (f"in {other.name}", f"at that moment in {one.name}")
    ratio, road = ratio_of(after, before), other.event.scene.tape.road
    return Told(
        "between.speed",
        "speed_ratio",
        ratio,
        nearer_limit(ratio, SPEED),
        apart(ratio, SPEED),
        f"It drives at {road(after)} {where[0]} and at {road(before)} {where[1]}, at full size on screen.",
        _at_one_moment(join) or _as_fast(one, other, before, after),
    )


def _at_one_moment(join: Join) -> str:
    """When to go over, where both film one run alike slow: then it is as fast before the cut as after it."""
    if join.together is None or apart(join.before.slowdown / join.after.slowdown, SPEED) is not Verdict.FINE:
        return ""
    begins, ends = join.together
    return (
        f"Both film one run: end {join.before.name} and begin {join.after.name} at one moment, from {begins:.3g} to "
        f"{ends:.3g} s on set."
    )


def _as_fast(one: End, other: End, wanted: float, now: float) -> str:
    """The rate that gives the speed before the cut, where the camera has it and it is slowed alike or more so by it."""
    shot = other.event.shot
    if not wanted or not now:
        return f"Let it drive in both, or dissolve to {shot.id}."
    exact, slower = float(shot.capture.rate) * now / wanted, max(_unlike(one, other.slowdown), math.log(PACE))
    rates = [rate for rate in other.view.camera.rates if 1 / SPEED < rate / exact < SPEED]
    rates = [rate for rate in rates if _unlike(one, rate / float(shot.playback)) <= slower]
    rate = min(rates, key=lambda rate: abs(math.log(rate / exact)), default=None)
    advice = f"Let it drive {wanted / now:.2g} times as fast at the start of {shot.id}"
    vehicle = other.event.scene.vehicle
    if vehicle is not None and vehicle.launch is not None:
        advice += f" (release it from {'lower' if wanted < now else 'higher'} on its ramp)"
    return f"{advice}, or record that at {rate:.5g} fps." if rate is not None else f"{advice}."


def _unlike(one: End, slowdown: float) -> float:
    """How far a slowdown is from that before the cut, either way. [-]"""
    return abs(math.log(slowdown / one.slowdown))


# --- height and blur ---


def eye_of_another_height(join: Join) -> Told:
    """Once from the road, once from a mast."""
    one, other = join.before, join.after
    ratio = ratio_of(other.eye_height, one.eye_height)
    within = 0.9 * HEIGHT if ratio > 1 else 1 / (0.9 * HEIGHT)
    wanted, tape = one.eye_height * within / float(other.event.scene.scale), other.event.scene.tape
    return Told(
        "between.height",
        "height_ratio",
        ratio,
        nearer_limit(ratio, HEIGHT),
        apart(ratio, HEIGHT),
        f"The camera is {tape.real(other.eye_height, 2)} high at full size in {other.name} and "
        f"{tape.real(one.eye_height, 2)} in {one.name}.",
        f"{'Lower' if ratio > 1 else 'Raise'} it in {other.event.shot.id} to {tape(wanted)} over the "
        "table, unless the change is meant.",
    )


def blur_of_another_size(join: Join) -> Told:
    """The lens is as if it were larger or smaller: the one shot looks more of a model than the other."""
    one, other = join.before, join.after
    before, after = (each.figures.value("full_size_pupil") for each in (one, other))
    ratio, tape = ratio_of(after, before), other.event.scene.tape
    fine = apart(ratio, PUPIL) is Verdict.FINE
    return Told(
        "between.blur",
        "pupil_ratio",
        ratio,
        nearer_limit(ratio, PUPIL),
        apart(ratio, PUPIL),
        f"Blur falls off as by a lens opening of {tape(after)} at full size in {other.name}, and of "
        f"{tape(before)} in {one.name}{': the one reads smaller than the other' * (not fine)}.",
        "" if fine else _as_blurred(one, other, ratio),
    )


def _as_blurred(one: End, other: End, ratio: float) -> str:
    """A stop that blurs as across the cut and that check lets be, with the light it takes: after it, else before it."""
    called_out = ""
    for end, times_as_small in ((other, ratio), (one, 1 / ratio)):
        shot, wanted = end.event.shot, float(end.event.shot.f_number) * times_as_small
        stops = [stop for stop in end.view.stops if 1 / PUPIL < stop / wanted < PUPIL]
        for stop in sorted(stops, key=lambda stop: abs(math.log(stop / wanted))):
            if not worse_at(end.view, stop):
                first = (
                    f"The compromise of {shot.id} comes first; only to have the two alike: s" if end.weighed else "S"
                )
                return f"{first}et {shot.id} to f/{stop:g}{_light_for(stop, end)}."
            called_out = called_out or f"At f/{stop:g} {shot.id} would be as blurred, which check calls out there: "
    if called_out:
        return f"{called_out}leave it, and frame out what is far in {one.event.shot.id} or {other.event.shot.id}."
    shot = other.event.shot
    return f"No stop of {shot.camera} does: film {shot.id} with a camera more like the other, or frame out what is far."


def _light_for(stop: float, other: End) -> str:
    """What another stop asks of the lamps in all, where the picture would then show noise or be too dark."""
    capture = other.event.shot.capture
    more = 2 * math.log2(stop / float(other.event.shot.f_number))
    needed = [each.value for each in other.figures.figures if each.quantity == "iso_needed" and not each.of]
    if more <= 0 or not needed:
        return ""
    takes = needed[0] * 2.0 ** (capture.exposure + more)
    if capture.iso == "auto":
        short, fails = math.log2(takes / noise_limit_on(other.view.area)), "shows noise"
    else:
        short, fails = math.log2(takes / float(capture.iso)), "is too dark"
    told = math.ceil(short * 10) / 10  # rounded down it would be too little
    return f", with {told:.1f} stops more light, or the picture {fails}" if told > 0 else ""
