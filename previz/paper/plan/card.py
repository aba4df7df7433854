"""The card of one setup: what is set on the camera and where it stands, what to watch for, and the shot as drawn."""

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from previz import units
from previz.layout import (
    frame_times,
    launch_of,
    others_of,
    travel_of,
)
from previz.paper.measures import tape_of
from previz.paper.plan.filmed import named_vehicle
from previz.paper.plan.page import Maker, aside, heading
from previz.paper.plan.setup import Setup, to_watch
from previz.paper.plan.side import tilt_words
from previz.paper.sheet import GREY, SMALL, THIN, Box, Sheet, Table
from previz.predictions import DRIVEN, Predictions, iso_words, moved_words, speeds_on_screen, thread_words
from previz.scene import Scene, Shot
from previz.units import Tape

Array = NDArray[np.float64]

_SETTINGS = 130.0  # width of what is set [mm]

#: Sizes of its letters that are tried, the largest first [pt], and whether rows stand close, without lines between
#: them; the width of the words before a value, for a letter of 1 pt. [mm]
_LETTERS, _WORDS = ((11.0, False), (10.0, False), (9.0, False), (SMALL, False), (SMALL, True)), 5.7


def card(
    maker: Maker,
    scene: Scene,
    shot: Shot,
    setup: Setup | None,
    predictions: Predictions,
    still: NDArray[np.uint8] | None,
) -> Sheet:
    """The sheet; still is the shot's picture, (rows, columns, 3), where there is one."""
    sheet, room = maker.sheet(f"card-{shot.id}", f"Setup card · {shot.id}")
    aside(sheet, f"models 1:{scene.scale:g}")
    tape = tape_of(scene)
    rows = tuple(_camera_rows(scene, shot, setup)) + (tuple(_place_rows(setup, tape)) if setup is not None else ())
    rows += tuple(_vehicle_rows(scene, setup, tape)) if setup is not None else ()
    done, _ = settings_of(rows, room.height).draw(sheet, Box(room.left, room.low, room.left + _SETTINGS, room.high))
    if done < len(rows):
        left = f"and {len(rows) - done} more: previz check tells them"
        sheet.words(left, (room.left, room.low - 0.4), SMALL, anchor="top", ink=GREY)
    right = Box(room.left + _SETTINGS + 8, room.low, room.right, room.high)
    y = right.high
    if still is not None:
        high = min(right.width * still.shape[0] / still.shape[1], right.height * 0.55)
        picture = Box(right.left, y - high, right.right, y)
        sheet.picture(still, picture)
        y = picture.low - 2
        y = sheet.paragraph(
            "As drawn at mid-shot, in draft: light and noise are rough.", (right.left, y), right.width, ink=GREY
        )
        y -= 3
    _watch(sheet, _to_tell(predictions, shot), Box(right.left, right.low, right.right, y))
    return sheet


def settings_of(rows: tuple[tuple[str, str], ...], height: float) -> Table:
    """What is set, in the largest letters in which all of it has room."""
    tables = [
        Table(("set", "to"), rows, size=size, fixed=(_WORDS * size, 0.0), tight=tight) for size, tight in _LETTERS
    ]
    return next((each for each in tables if each.drawn_height(_SETTINGS) <= height), tables[-1])


def _to_tell(predictions: Predictions, shot: Shot) -> list[tuple[str, str]]:
    """What to watch for, each with how grave it is: the compromise, that others point to, and then the worst."""
    weighed = [("", f"Compromise: {each.weighed}") for each in predictions.compromises if each.shot == shot.id]
    return weighed + [
        (str(each.verdict), f"{each.message} {each.remedy}".strip()) for each in to_watch(predictions, shot)
    ]


def _watch(sheet: Sheet, told: list[tuple[str, str]], box: Box) -> None:
    """What to watch for, as much as there is room for; the rest is counted."""
    y = heading(sheet, "Watch for", (box.left, box.high), box.width)
    if not told:
        sheet.words("Nothing: all that was looked at is fine.", (box.left, y), SMALL, anchor="top")
        return
    for number, (verdict, text) in enumerate(told):
        trial = Sheet(sheet.width, sheet.height, "")
        end = trial.paragraph(text, (box.left + 13, y), box.width - 13)
        if end < box.low + (4.5 if number < len(told) - 1 else 0.0):
            rest = f"and {len(told) - number} more: previz check tells them"
            sheet.words(rest, (box.left, box.low), SMALL, ink=GREY)
            return
        sheet.words(verdict, (box.left, y), SMALL, anchor="top", bold=True)
        y = sheet.paragraph(text, (box.left + 13, y), box.width - 13) - 1.6
        sheet.line([(box.left, y + 0.6), (box.right, y + 0.6)], THIN, ink=GREY)
        y -= 0.6


def _camera_rows(scene: Scene, shot: Shot, setup: Setup | None) -> Iterator[tuple[str, str]]:
    capture = shot.capture
    mode = scene.mode(shot)
    size = f"{mode.width}x{mode.height}, in a mode that goes up to {_rate(float(mode.fastest))} fps"
    yield "camera", f"{shot.camera}, {mode if mode.fastest == capture.rate else size}"
    yield "focal length", units.text_of(units.LENGTH, shot.focal_length)
    yield "stop", f"f/{shot.f_number:g}"
    yield "shutter", _shutter(shot)
    yield "rate", f"{_rate(float(capture.rate))} fps, played back at {_rate(float(shot.playback))} fps"
    yield "ISO", _iso(scene, shot, setup)
    yield "white balance", f"{capture.white_balance:.0f} K"


def _shutter(shot: Shot) -> str:
    capture = shot.capture
    exposed = units.text_of(units.TIME, capture.exposure_time)
    degrees = math.degrees(2 * math.pi * capture.exposure_time * float(capture.rate))
    return f"{exposed} ({degrees:.4g} deg)"


def _rate(rate: float) -> str:
    return f"{rate:.5g}"


def _iso(scene: Scene, shot: Shot, setup: Setup | None) -> str:
    """The same words as those of check."""
    figures = () if setup is None else setup.figures.figures
    return iso_words(scene, shot, {each.quantity: each.value for each in figures if not each.of})


def _place_rows(setup: Setup, tape: Tape) -> Iterator[tuple[str, str]]:
    yield from _focus_rows(setup, tape)
    when = ", mid-shot" if setup.moves else ""
    for name, place in setup.marks:
        yield f"{name} at{when}", f"{', '.join(tape.bare(float(each)) for each in place)} {tape.unit} up"
    yield from _move_rows(setup, tape)
    z = tape.bare(float(setup.pupil[2]))
    floor = tape(float(setup.pupil[2] + setup.scene.set.table.height))
    assumed = "" if "height" in setup.scene.set.table.model_fields_set else ", the table's height assumed"
    yield "lens axis over table", f"{z} {tape.unit} ({floor} over the floor{assumed})"
    yield "tilt", tilt_words(setup)
    yield "pan", _pan_words(setup)


def _move_rows(setup: Setup, tape: Tape) -> Iterator[tuple[str, str]]:
    """Of a camera that travels: where its first mark is as the shot begins and ends, how far that is, how fast."""
    if not setup.moves:
        return
    name, ahead = setup.marks[0][0], 0.0 if setup.rim is None else setup.view.camera.rim or 0.0
    places = setup.way.positions - ahead * setup.way.turns[:, :, 2]
    for when, place in (("begins", places[0]), ("ends", places[-1])):
        yield f"{name}, as it {when}", f"{', '.join(tape.bare(float(each)) for each in place)} {tape.unit} up"
    yield "camera is moved", moved_words(setup.scene, setup.shot, setup.way, tape) or "not while it films"


def _focus_rows(setup: Setup, tape: Tape) -> Iterator[tuple[str, str]]:
    """How far what is sharp is from each mark, and from where to where it is sharp, along the axis."""
    if setup.focus_marks:
        yield "focus goes (times on set), from", " / ".join(name for name, _ in setup.focus_from[:2])
        for mark in setup.focus_marks:
            lengths = [tape.bare(length) for _, length in setup.measured_from(mark.distance, mark.from_sensor)[:2]]
            yield f"focus, {mark.when}", f"{' / '.join(lengths)} {tape.unit}"
    else:
        for name, length in setup.focus_from:
            yield f"focus from {name}", tape(length)
    if setup.band is not None:
        near, far = setup.band
        yield f"sharp{', mid-shot' * bool(setup.focus_marks)}, from middle of lens", f"{tape(near)} to {tape(far)}"


def _pan_words(setup: Setup) -> str:
    """How far the lens looks to the left or right of straight away from the table's front."""
    if math.hypot(setup.axis[0], setup.axis[1]) < 1e-6:
        return "straight down" if setup.axis[2] < 0 else "straight up"
    pan = math.degrees(math.atan2(setup.axis[0], setup.axis[1]))
    along = "" if np.allclose(setup.view.cameras[0].world_from_camera, setup.turn, atol=1e-4) else ", mid-shot"
    told = "straight ahead" if abs(pan) < 0.05 else f"{abs(pan):.1f}° to the {'right' if pan > 0 else 'left'}"
    return told + along


def _set_going(scene: Scene, other: Scene, tape: Tape) -> str:
    """How another vehicle is set going, and when: against the subject's release, where both are let go."""
    vehicle, launch = other.vehicle, launch_of(other)
    assert vehicle is not None  # it is one of them
    if vehicle.stands:
        return "stands"
    how = scene.pace(vehicle.speed or 0.0) if launch is None else f"let go at {tape(float(launch.ramp.height), 1)}"
    both = launch is not None and launch_of(scene) is not None
    moments = [travel.released_at if both else travel.begins for travel in (travel_of(other), travel_of(scene))]
    if not all(map(math.isfinite, moments)):
        return how
    later = moments[0] - moments[1]
    when = "at the same time as" if abs(later) < 0.005 else f"{abs(later):.2f} s {'after' if later > 0 else 'before'}"
    return f"{how}, {when} the vehicle" if both else f"{how}; starts {when} the vehicle"


def _begins(scene: Scene, start: float) -> str:
    """When the shot begins, by what drives; start: on set. [s]"""
    if scene.vehicle is None or scene.vehicle.stands:
        return "when you like"
    into = start - float(scene.vehicle.start)
    if into >= 0:
        return f"{into:.3f} s into the vehicle's way"
    return f"{-into:.3f} s before the vehicle is at the " + ("ramp's foot" if launch_of(scene) else "start of its way")


def _vehicle_rows(scene: Scene, setup: Setup, tape: Tape) -> Iterator[tuple[str, str]]:
    times = frame_times(scene, setup.shot)
    seconds = times.count / float(setup.shot.playback)
    yield "frames", f"{times.count}, {seconds:.2f} s on screen"
    launch = launch_of(scene)
    if launch is not None:
        yield "release height on ramp", tape(float(launch.ramp.height), 1)
    elif scene.vehicle is not None and not scene.vehicle.stands:
        drive = scene.vehicle.drive
        by = f", {DRIVEN[drive]}" if drive is not None else ""
        yield "vehicle's speed", f"{scene.pace(scene.vehicle.speed or 0.0)} on the table{by}"
    if thread := thread_words(tape, setup.figures.figures):
        yield "thread", thread
    if setup.has("apparent_speed") and scene.vehicle is not None and not scene.vehicle.stands:
        speed, within = speeds_on_screen(setup.figures.figures, tape)
        yield "on screen, mid-picture", f"{speed}{', ' * bool(within)}{within}"
    yield "begins", _begins(scene, float(times.start))
    for name, other in others_of(scene):
        yield named_vehicle(name), _set_going(scene, other, tape)
    for of, first, last in setup.passes():
        yield f"vehicle in the picture{', ' + of if of else ''}", f"frames {first} to {last}"
