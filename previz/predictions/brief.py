"""The dozen figures that a maker acts on while setting up, in words: what to set, and what comes of it."""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping

from previz.layout import CameraWay
from previz.physics.apparent_scale import FILMED_PUPIL
from previz.predictions.checks.scale import past_full_size
from previz.predictions.checks.time import GRAVITY_RATIO
from previz.predictions.findings import Figure
from previz.predictions.rounding import iso_shown, significant
from previz.scene import VEHICLE, Scene, Shot, TradeSize, paced_by
from previz.units import TIME, Tape, beyond_numbers, percent, text_of, together

#: What is in a line: a word or two, and what is said under them.
Line = tuple[str, str]

#: Speeds that differ by no more than this share are told as one. Common practice, no source.
SAME_SPEED = 0.03

#: A lamp that gives less of the light than this is not named. [-]
_LEAST_SHARE = 0.05


def brief_of_shot(scene: Scene, shot: Shot, figures: Iterable[Figure]) -> tuple[Line, ...]:
    """What to set and expect in one shot; nothing of a shot of which there are no figures.

    Lengths are in the unit of the maker's tape, and each time says whether it is one on set or on screen.
    """
    known = _Known(figures)
    return tuple(
        line for tell, asks in _TOLD.items() if asks in known or known.of(asks) for line in tell(scene, shot, known)
    )


def brief_of_scene(scene: Scene, figures: Iterable[Figure]) -> tuple[Line, ...]:
    """What holds for every shot: the run, the room beside it, and from how high it is released."""
    known = _Known(figures)
    lines = []
    if "path_length" in known:
        lasts = f" in {known['run_time']:.3g} s on set" if math.isfinite(known.get("run_time", math.nan)) else ""
        beside = "".join(f"; {_beside(scene, of, room)}" for of, room in known.of("path_clearance"))
        long = scene.tape.far(known["path_length"])
        lines.append(("run", f"{long}{lasts}{beside}"))
    lines += _set_by(scene)
    if "ramp_height" in known:
        within = f"; {percent(known['takes_within'])} of takes within 5 % of it" if "takes_within" in known else ""
        height = scene.tape(known["ramp_height"])
        lines.append(("release", f"{height} above the table: {scene.pace(known.get('exit_speed', 0))} on set{within}"))
    return tuple(lines)


def _set_by(scene: Scene) -> Iterator[Line]:
    """Where a speed is written as it looks in one of several shots: which one sets it for others too."""
    if len(scene.shots) < 2 or scene.vehicle is None or scene.vehicle.speed is None:
        return
    sets = [shot for shot in scene.shots if f"{VEHICLE}.speed" in paced_by(scene, shot)]
    for shot in sets if len(sets) == 1 else ():  # where it looks alike in all, a shot that did not would be refused
        rate, playback = (f"{float(each):.5g}" for each in (shot.capture.rate, shot.playback))
        yield (
            "all shots",
            f"{scene.pace(scene.vehicle.speed)} on set, as it is to look in {shot.id}, at {rate} fps "
            f"played at {playback}; another rate there changes it in all",
        )


def _beside(scene: Scene, of: str, room: float) -> str:
    """The room beside a vehicle; of another one than the subject its name stands before what is beside it."""
    name, _, piece = of.rpartition(": ")
    if room >= 0:
        return f"{scene.tape(room, 1)} beside {name or 'it'}, to {piece}"
    return f"{piece} stands in {f'the way of {name}' if name else 'its way'}"


def brief_of_releases(scene: Scene, shot: str, figures: Iterable[Figure]) -> tuple[Line, ...]:
    """How high else to release for which speed on screen in that shot, where the figures are for it."""
    told: dict[tuple[str, str], list[str]] = {}  # by where they are for and whose they are, "" of the scene's own
    for of, height in _Known(figures).of("height_for_speed"):
        speed, _, where = of.partition(" on screen in ")
        if where.rpartition(", ")[0] == shot:
            owner, _, speed = speed.rpartition(": ")
            told.setdefault((where, owner), []).append(f"{scene.tape(height)} for {speed}")
    places: dict[str, list[str]] = {}
    for (where, owner), heights in told.items():
        places.setdefault(where, []).append(f"{owner}: " * bool(owner) + ", ".join(heights))
    said = [f"{'; '.join(each)} (on screen in {where})" for where, each in places.items()]
    return (("or release", "; ".join(said)),) if told else ()


class _Known(dict[str, float]):
    """Figures by name, those that have no owner; `of` tells the others."""

    def __init__(self, figures: Iterable[Figure]) -> None:
        self.figures = tuple(figures)
        super().__init__({each.quantity: each.value for each in self.figures if not each.of})

    def of(self, quantity: str) -> list[tuple[str, float]]:
        """Owner and value of each figure of that name that has an owner."""
        return [(each.of, each.value) for each in self.figures if each.quantity == quantity and each.of]


def _settings(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    lens, shutter = f"{shot.focal_length * 1000:.3g} mm", text_of(TIME, shot.capture.exposure_time)
    if "equivalent_focal_length" in known:
        lens += f" ({known['equivalent_focal_length'] * 1000:.0f} mm equivalent)"
    yield (
        "set",
        f"{shot.camera}: {lens}, f/{shot.f_number:.3g}, {shutter}, {iso_words(scene, shot, known, corrected=False)}",
    )
    sensor = scene.cameras[shot.camera].sensor
    if isinstance(sensor, TradeSize):
        sides = " x ".join(f"{side * 1000:.3g}" for side in sensor)
        yield "sensor", f"taken to be {sides} mm, as sensors sold so mostly are; better is [width, height] off its data"


def iso_words(scene: Scene, shot: Shot, known: Mapping[str, float], *, corrected: bool = True) -> str:
    """The ISO that is set, or about that which is chosen: the one to dial, whoever tells it.

    known: the shot's figures by name, those that have no owner. corrected: also by what an automatic one is off grey.
    """
    capture = shot.capture
    if capture.iso != "auto":
        off = known.get("exposure_error", 0.0)
        return f"ISO {capture.iso}" + (f", {abs(off):.1f} stops {'over' if off > 0 else 'under'}" * (abs(off) >= 0.1))
    if "iso_needed" not in known:
        return "ISO auto"
    low, high = scene.cameras[shot.camera].iso
    wanted = known["iso_needed"] * 2.0**capture.exposure
    used = min(max(wanted, low), high)
    auto = f", auto at {capture.exposure:+.3g} stops" if corrected and capture.exposure else ""
    off, way = abs(math.log2(wanted / used)), "bright" if wanted < used else "dark"
    # Less than a tenth of a stop nobody sets.
    short = f"; the camera ends there, {off:.1f} stops too {way}" if off >= 0.05 else ""
    return f"about ISO {iso_shown(used)}{auto}{short}"


def moved_words(scene: Scene, shot: Shot, way: CameraWay, tape: Tape) -> str:
    """How far a camera is moved while it films, in which way and how fast; nothing where it is not."""
    if not way.length > 0:
        return ""
    how = "evenly" if shot.evenly else "gently"
    pace, fastest = scene.pace(way.mean_speed), scene.pace(way.top_speed)
    return f"{tape(way.length)}, {how}, at {pace}{f' on average, {fastest} at most' * (fastest != pace)}"


def _frames(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    rate, playback = (f"{float(each):.5g}" for each in (shot.capture.rate, shot.playback))
    slow = known["slowdown"]
    pace = "as fast as on set" if slow == 1 else f"{slow:.3g} times slow" if slow > 1 else f"{1 / slow:.3g} times fast"
    least, most = GRAVITY_RATIO
    wanted = known["gravity_slowdown"]
    moves = scene.vehicle is not None and not scene.vehicle.stands
    falls = f" (hops and falls want {wanted:.3g})" if moves and not least <= slow / wanted <= most else ""
    lasts = f"{known['time_on_screen']:.3g} s on screen"
    yield "frames", f"{known['frames']:.0f} at {rate} fps, played at {playback}: {pace}{falls}; {lasts}"


def _focus(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    """From each place that a tape is held at; from–to where it goes."""
    camera = scene.cameras[shot.camera]
    pulled = [away for _, away in known.of("focus_at")]
    least, most = (min(pulled), max(pulled)) if pulled else (known["focus_distance"],) * 2
    behind = known["focus_from_sensor"] - known["focus_distance"]
    told = [f"{scene.tape.span(least, most)} from the middle of the lens"]
    if camera.rim is not None:
        told.append(f"{scene.tape.span(least - camera.rim, most - camera.rim)} from the front rim")
    if camera.sensor_may_be(behind):
        sensor = [away for _, away in known.of("focus_mark")] or [known["focus_from_sensor"]]
        told.append(f"{scene.tape.span(min(sensor), max(sensor))} from the sensor")
    yield "focus", ", ".join(told) + (f"; it goes, {len(pulled)} marks on the plan" if pulled else "")


def _sharp(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    if "near_limit" not in known:
        yield "sharp", "nothing: the stop is so small that diffraction blurs all"
        return
    near, far = known["near_limit"], known["far_limit"]
    ends = f"{scene.tape(near)} to {scene.tape(far) if math.isfinite(far) else beyond_numbers(far)}"
    share = known.get("vehicle_sharp_share")
    when = ", mid-shot" if known.of("focus_at") else ""
    yield (
        "sharp",
        f"{ends} from the middle of the lens{when}"
        + ("" if share is None else f"; whole vehicle in {percent(share)} of the frames that show it"),
    )


#: On screen, before the vehicle comes, of a shot that does not say when it starts. Common practice, no source. [s]
_LONG_EMPTY = 0.5


def _vehicle(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    if not known["vehicle_frames"]:
        yield "vehicle", "never in the picture"
        return
    enters, leaves = ([known[key]] if key in known else [value for _, value in known.of(key)]
                      for key in ("enters_at", "leaves_at"))  # fmt: skip
    spans = " and ".join(f"{first:.3g} to {last:.3g} s" for first, last in zip(enters, leaves, strict=True))
    begun, ended = enters[0] <= float(shot.start), leaves[-1] >= known["shot_end"] - 1.5 / float(shot.capture.rate)
    if begun and ended and len(enters) == 1:
        which = ", the whole shot"
    else:
        which = ", there as the shot begins" if begun else ""
        which += ", still there as it ends" if ended else ""
    yield "vehicle", f"in the picture {spans} on set{which}; {known['time_in_frame']:.3g} s on screen"
    empty = (enters[0] - float(shot.start)) * float(shot.capture.rate / shot.playback)
    if "start" not in shot.model_fields_set and empty > _LONG_EMPTY:
        begins = math.floor(enters[0] * 100) / 100
        yield "", f"{empty:.2g} s on screen before it comes; start: {begins:.2f} s leaves that out"


def _speed(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    if scene.vehicle is None or scene.vehicle.stands:
        return
    launch = scene.vehicle.launch
    from_ramp = f", released at {scene.tape(launch.ramp.height)}" if launch is not None else ""
    by = from_ramp or (f", {DRIVEN[scene.vehicle.drive]}" if scene.vehicle.drive is not None else "")
    yield "speed", f"{_on_screen(known, scene.tape)}; {scene.pace(known['set_speed'])} on set{by}"
    if "thread_frames" in known:
        yield "thread", thread_words(scene.tape, known.figures)


#: How what keeps a vehicle at its speed is told.
DRIVEN = {"motor": "by a motor", "thread": "pulled on a thread", "hand": "pushed by hand"}


def thread_words(tape: Tape, figures: Iterable[Figure]) -> str:
    """How much of the thread that pulls a vehicle is in the picture; "" where no figure is of one."""
    known = {each.quantity: each for each in figures}
    if "thread_frames" not in known:
        return ""
    share, most = known["thread_frames"].value, known["thread_shown"]
    if share == 0:
        return "out of the picture"
    frames = "all frames" if share == 1 else f"{percent(share)} of the frames"
    lies = f", {most.beside}" if most.beside else ""
    return f"before the vehicle, in the picture in {frames}, up to {tape(most.value)} of it{lies}"


def _on_screen(known: "_Known", tape: Tape) -> str:
    speed, within = speeds_on_screen(known.figures, tape)
    where = f", mid-picture ({within})" if within else ""
    return f"{speed} at full size, on screen{where}"


def speeds_on_screen(figures: Iterable[Figure], tape: Tape) -> tuple[str, str]:
    """The speed at full size mid-picture; and where the picture first and last shows it, "" where that is all one."""
    known = _Known(figures)
    speed, *ends = (known.get(f"apparent_speed{end}", known["apparent_speed"]) for end in ("", "_first", "_last"))
    alike = max(abs(end - speed) for end in ends) <= SAME_SPEED * speed
    first, last = map(tape.road, ends)
    return tape.road(speed), "" if alike else f"{first.split()[0]} at first, {last.split()[0]} at last"


def _light(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    by_lamp = dict(known.of("illuminance_vehicle"))
    total = by_lamp.pop("all lamps", 0.0)
    if total <= 0:
        return
    shares = sorted(((lux / total, name) for name, lux in by_lamp.items()), reverse=True)
    named = ", ".join(f"{percent(share)} {name}" for share, name in shares if share >= _LEAST_SHARE)
    on = "set"
    if scene.vehicle is not None:
        at = known.get("metered_at")
        on = "vehicle mid-shot" if at is None else f"vehicle at {at:.2f} s on set"
    yield "light", f"{significant(total, 2)} lx on the {on}: {named}"


def _body(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    (what, inside), *_ = known.of("usual_body_inside")
    usual = f"a usual one would be {scene.tape(inside)} in {what}"
    yield "body", f"of {shot.camera} not given, so room beside it was not looked at; {usual}"


def _off_set(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    off = known["off_set_pixels"]
    needed = [known.get(key, math.nan) for key in ("backdrop_width_needed", "backdrop_height_needed")]
    covers = f"; {' x '.join(map(scene.tape, needed))} of backdrop cover it" if all(map(math.isfinite, needed)) else ""
    mode = scene.mode(shot)
    share = off / (mode.width * mode.height)
    most = f"up to {percent(share, 1)} of a frame" if share >= 0.001 else "a strip of a frame"
    yield "off the set", (most if off > 0 else "nothing in the picture") + covers


#: What stands before how the blur compares with that of full size.
BLUR = "blur"


def _blur(scene: Scene, shot: Shot, known: _Known) -> Iterator[Line]:
    opening, (least, most) = known["full_size_pupil"], FILMED_PUPIL
    if past_full_size(scene, opening):
        usual = together((scene.tape(least), scene.tape(most)), " to ")
        yield BLUR, f"as by a lens opening of {scene.tape(opening)} at full size; films of vehicles mostly have {usual}"


#: What is told of a shot in this order, and the figure without which it cannot be.
_TOLD: dict[Callable[[Scene, Shot, _Known], Iterator[Line]], str] = {
    _settings: "f_number",
    _frames: "frames",
    _focus: "focus_distance",
    _sharp: "depth_of_field",
    _blur: "full_size_pupil",
    _vehicle: "vehicle_frames",
    _speed: "apparent_speed",
    _light: "exposure_time",
    _off_set: "off_set_pixels",
    _body: "usual_body_inside",
}
