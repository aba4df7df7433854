"""What is put side by side: one shot through several cameras, or with one thing or two in it varied.

Each camera takes the shot over as nearly as it can, and says where that differs. One that can do nothing near is left
out with a sentence, and with what would make it possible; the rest is compared.
"""

import dataclasses
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

from previz.errors import PrevizError, SceneErrors
from previz.layout import frame_times
from previz.physics.exposure import nearest_third_stop, shutter_within
from previz.predictions import (
    FRAMING_RULES,
    SAME_SPEED,
    STOP_RULES,
    CannotMatch,
    Difference,
    Figure,
    Framing,
    Predictions,
    Stop,
    focus_written,
    has_distance,
    match,
    place_written,
    predict,
    require_files,
    stops_of,
)
from previz.scene import (
    REDRESSING,
    Capture,
    Changes,
    Scene,
    Shot,
    Shutter,
    as_set_up,
    meant_by,
    plain_list,
    read_scene,
    rewritten,
    taken_for,
)
from previz.units import ANGLE, LENGTH, TIME, beyond_numbers, fps_written, parse, shown, text_of, together, unit_written

#: More panels than this in one picture are too small to judge.
MOST_PANELS = 16


@dataclass(frozen=True)
class Panel:
    """One picture of a comparison.

    Parameters
    ----------
    name : str
        What sets it apart: a camera, a value, or both.
    scene : Scene
        With this panel's shot alone.
    shot : Shot
    cell : (int, int)
        Row and column it is to have among the others.
    predictions : Predictions
        Of that scene.
    differences : tuple of Difference
        In which it is not quite what was asked for.
    """

    name: str
    scene: Scene
    shot: Shot
    cell: tuple[int, int]
    predictions: Predictions
    differences: tuple[Difference, ...] = ()

    @property
    def figures(self) -> tuple[Figure, ...]:
        """All that is predicted: of the whole scene, then of the shot."""
        return self.predictions.figures + self.predictions.shots[0].figures

    def figure(self, quantity: str, of: str = "") -> float | None:
        """One predicted number of the shot, in SI; None where there is none."""
        try:
            return self.predictions.shots[0].value(quantity, of)
        except KeyError:
            return None

    @property
    def stands(self) -> str:
        """Where the entrance pupil is and how it records: what a hand has to set beside lens and stop."""
        focus, mode, shot = self.figure("focus_distance"), self.scene.mode(self.shot), self.shot
        slowed = float(shot.capture.rate / shot.playback)
        parts = [
            f"stands at {_places_of(self.scene, shot)}",
            "" if focus is None else f"focused at {self._focus_words(focus)}",
            f"{mode.width} x {mode.height} at {float(shot.capture.rate):.5g} fps",
            f"slowed {slowed:.3g} times" if slowed > 1 else f"{1 / slowed:.3g} times faster" if slowed < 1 else "",
        ]
        return ", ".join(part for part in parts if part)

    def _focus_words(self, focus: float) -> str:
        """Where it is focused halfway, and at its nearest where it follows something that comes nearer. [m]"""
        tape, halfway = self.scene.tape, self.scene.tape(focus)
        nearest = next((each.value for each in self.predictions.findings if each.id == "focus.nearest"), focus)
        return halfway if tape(nearest) == halfway else f"{halfway} halfway, {tape(nearest)} at its nearest"

    @property
    def as_a_shot(self) -> str:
        """What a scene file says of its camera: `camera: phone, focal_length: 6.9 mm, at: [...], capture: {...}`."""
        shot, scene, capture = self.shot, self.scene, self.shot.capture
        recorded = {
            "rate": fps_written(capture.rate),
            "shutter": _shutter_written(capture.shutter),
            # A mode that the shot has written may be none of another camera's.
            "mode": None if capture.mode is None else str(capture.mode),
            "iso": None if capture.iso == "auto" else f"{capture.iso:g}",
            "white_balance": f"{capture.white_balance:.10g} K" if "white_balance" in capture.model_fields_set else None,
            "exposure": f"{capture.exposure:.10g} stops" if capture.exposure else None,
        }
        said = {
            "camera": shot.camera,
            "focal_length": text_of(LENGTH, shot.focal_length),
            "f_number": f"{shot.f_number:.3g}",
            "at": place_written(scene, shot.at),
            "focus": focus_written(scene, shot.focus) if has_distance(shot.focus) else None,
            "capture": {key: value for key, value in recorded.items() if value is not None},
        }
        return ", ".join(f"{key}: {_in_a_line(value)}" for key, value in said.items() if value is not None)

    @property
    def sharp(self) -> str:
        """From where to where it is sharp mid-shot, off the maker's tape: `sharp 442 to 479 mm`; "" if unknown."""
        near, far = self.figure("near_limit"), self.figure("far_limit")
        if near is None or far is None:
            return "nothing sharp" if self.figure("depth_of_field") == 0 else ""
        return f"sharp {together((self.scene.tape(near), _reach_of(self.scene, far)), ' to ')}"

    @property
    def summary(self) -> str:
        """What it is filmed with and what comes of it, in a line."""
        parts = [f"{self.shot.focal_length * 1000:.3g} mm", f"f/{self.shot.f_number:.3g}"]
        blur = self.figure("blur_pixels", "backdrop")
        share = "" if blur is None else f"{100 * blur / self.scene.mode(self.shot).width:.2g}"
        parts += [self.sharp, f"backdrop blur {share} % of the width" if share else ""]
        return ", ".join(part for part in parts if part)


def _shutter_written(shutter: Shutter) -> str:
    """So that it reads back as it is: rounded up it might be longer than a frame."""
    dimension = TIME if shutter.angle is None else ANGLE
    value = float(shutter.time if shutter.angle is None else shutter.angle)  # type: ignore[arg-type]  # one is there
    short = text_of(dimension, value)
    exact = math.isclose(parse(dimension, short), value, rel_tol=1e-9)
    return short if exact else f"{value:.10g} {'s' if dimension is TIME else 'rad'}"


def _in_a_line(value: Any) -> str:
    """What a file holds, without line breaks: `[{time: 0 s, at: [705 mm, -160 mm, 52 mm]}, ...]`."""
    if isinstance(value, list):
        return f"[{', '.join(map(_in_a_line, value))}]"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{key}: {_in_a_line(each)}' for key, each in value.items())}}}"
    return str(value)


def _places_of(scene: Scene, shot: Shot) -> str:
    """Where it stands, as the scene file would have it: `705, -160, 52 mm`, from first to last where it travels."""
    keyed = hasattr(shot.at[0], "time")
    ends = [shot.at[0].at, shot.at[-1].at] if keyed else [shot.at]
    return " to ".join(together([scene.tape(each) for each in place], ", ") for place in ends)


def _reach_of(scene: Scene, limit: float) -> str:
    """A far limit in words [m]; far off, a metric tape reads metres."""
    return beyond_numbers(limit) or (
        f"{limit:.0f} m" if limit >= 10 and scene.tape.column != "in" else scene.tape(limit)
    )


@dataclass(frozen=True)
class LeftOut:
    """What could not be shown, why, and what would make it possible ("" where nothing is known that would)."""

    name: str
    why: str
    remedy: str = ""

    @property
    def sentence(self) -> str:
        """Why it was left out, beginning with its name once, and what would make it possible."""
        why = self.why if self.why.startswith(self.name) else f"{self.name}: {self.why}"
        return f"{why}; {self.remedy}" if self.remedy else why


@dataclass(frozen=True)
class Comparison:
    """Panels and by which rules they are alike.

    Parameters
    ----------
    scene : Scene
        As it is written, set up for the shot.
    shot : Shot
        The one that is compared, as it is written.
    by : str
        What the panels differ by, with its unit: `camera`, `ramp height [mm]`, `camera and f-number`.
    rules : tuple of str
        What was matched and what stays as it is, in words.
    panels, left_out
        What is shown, two panels at least, and what is not.
    varied : tuple of Variation
        What takes several values.
    others : tuple of str
        Ids of the scene's other shots.
    """

    scene: Scene
    shot: Shot
    by: str
    rules: tuple[str, ...]
    panels: tuple[Panel, ...]
    left_out: tuple[LeftOut, ...]
    varied: "tuple[Variation, ...]" = ()
    others: tuple[str, ...] = ()

    @property
    def stage_numbers(self) -> tuple[int, ...]:
        """For each panel, which of `staged` has its set: cameras and speed differ, the light is the same."""
        sets = [_set_of(panel.scene) for panel in self.panels]
        kinds = [each for number, each in enumerate(sets) if each not in sets[:number]]
        return tuple(kinds.index(each) for each in sets)

    @property
    def staged(self) -> tuple[Panel, ...]:
        """One panel for each different set, in order."""
        numbers = self.stage_numbers
        return tuple(self.panels[numbers.index(number)] for number in sorted(set(numbers)))


def _set_of(scene: Scene) -> Scene:
    """What has to be built and lit: the scene without what films it and how fast its vehicle is; its ramp counts."""
    vehicle = scene.vehicle
    launch = None if vehicle is None else vehicle.launch
    if launch is not None:
        launch = launch.model_copy(update={"rolling": 0.0, "timed_runs": ()})
    parked = None if vehicle is None else vehicle.model_copy(update={"speed": None, "launch": launch})
    return scene.model_copy(update={"shots": (), "cameras": {}, "vehicle": parked})


@dataclass(frozen=True)
class Variation:
    """One key of the scene and the values it takes in turn, as a file would hold them; bare is a bare number's unit."""

    key: str
    place: str
    values: tuple[Any, ...]
    bare: str = ""

    @classmethod
    def of(cls, text: str, shot: int) -> "Variation":
        """Read `f_number=2.8,5.6,11`; the key is one of the shot, of its capture, or a place in the scene file.

        >>> Variation.of("f_number=2.8, f/4", 0)
        Variation(key='f_number', place='shots[0].f_number', values=(2.8, 'f/4'), bare='')
        >>> Variation.of("rate=60 fps,120 fps", 0).place, Variation.of("aperture=2,4", 0).place
        ('shots[0].capture.rate', 'shots[0].f_number')
        """
        key, equals, written = (part.strip() for part in text.partition("="))
        values = plain_list(written) if equals and key and written else None
        if not values:
            raise PrevizError(f"--vary {shown(text)} is not a key and its values; write it like f_number=2.8,5.6,11")
        if len(values) < 2:
            raise PrevizError(f"--vary {shown(text)}: two values or more make a comparison, divided by commas")
        group, dot, last = key.rpartition(".")
        key = f"{group}{dot}{taken_for(last, 'a key') or last}"
        return cls(key, _place_of(key, shot), tuple(values))

    def in_file(self, reread: Callable[[Changes], Scene], bare_length: str | None) -> "Variation":
        """The same with the unit that a bare number has in this place, which reading the file tells."""
        number = next((value for value in self.values if _is_bare(value)), None)
        if number is None:
            return self

        def read(value: Any) -> Scene | None:
            try:
                found = reread({self.place: value})
            except SceneErrors:
                return None
            return found.model_copy(update={"tape_unit": "mm"})

        as_written = read(number)
        units = [unit for unit in (bare_length, "fps", "stops") if unit]
        same = (unit for unit in units if as_written and read(_with_unit(number, unit)) == as_written)
        return dataclasses.replace(self, bare=next(same, ""))

    def name_of(self, value: Any) -> str:
        """`f/2.8`, `focal length 20 mm`.

        >>> Variation("capture.rate", "", ()).name_of("60 fps")
        'rate 60 fps'
        >>> Variation("lights[key].diffusion", "", (), "stops").name_of(0)
        'diffusion of key 0 stops'
        """
        if self.key == "f_number":
            return f"f/{str(value).removeprefix('f/')}"
        text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
        return f"{self.words} {text} {self.bare}" if self.bare and _is_bare(value) else f"{self.words} {text}"

    @property
    def words(self) -> str:
        """The key as one would say it: `focal length`, `ramp height`, or of one lamp among others `output of key`."""
        steps = self.key.replace("]", "").replace("[", ".").split(".")
        last = "f-number" if steps[-1] == "f_number" else steps[-1].replace("_", " ")
        if len(steps) > 2 and steps[0] in ("lights", "dressing", "cameras", "shots"):
            return f"{last} of {steps[1]}"
        return f"{steps[-2].replace('_', ' ')} {last}" if len(steps) > 1 and steps[0] in ("vehicle", "set") else last

    @property
    def heading(self) -> str:
        """The same with the unit that all values share, where they have one.

        >>> Variation("vehicle.launch.ramp.height", "", (80, "12 mm"), "mm").heading
        'ramp height [mm]'
        >>> Variation("shutter", "", ("90 deg", "1/200 s")).heading
        'shutter'
        """
        units = {self.bare if _is_bare(value) else unit_written(value) for value in self.values}
        unit = units.pop() if len(units) == 1 else None
        return f"{self.words} [{unit}]" if unit else self.words


def _is_bare(value: Any) -> bool:
    """Whether it is a number, or a place in numbers, without a unit."""
    if isinstance(value, list):
        return bool(value) and all(map(_is_bare, value))
    return isinstance(value, int | float) and not isinstance(value, bool)


def _with_unit(value: Any, unit: str) -> Any:
    return [_with_unit(each, unit) for each in value] if isinstance(value, list) else f"{value} {unit}"


def compared(
    path: Path,
    shot: str | None = None,
    *,
    cameras: Sequence[str] | None = None,
    vary: Sequence[str] = (),
    framing: str = Framing.PLACE,
    stop: str = Stop.SAME,
    outside_files: bool = False,
) -> Comparison:
    """Work out what a comparison shows.

    Parameters
    ----------
    path : Path
        The scene file.
    shot : str or None
        Id of the shot; the first unless given.
    cameras : sequence of str or None
        Cameras by name. None: all of them, or the shot's own where something is varied.
    vary : sequence of str
        Up to two of `f_number=2.8,5.6,11`; two, or one and several cameras, make a grid.
    framing, stop : str
        The rules of `predictions.match`, a `Framing` and a `Stop`.

    Raises
    ------
    SceneErrors
        The scene cannot be read.
    PrevizError
        A name, key or value that is not there, more panels than can be judged, or fewer than two that can be shown.
    """
    framing, stop = Framing(framing), Stop(stop)
    whole = read_scene(path, outside_files=outside_files)
    require_files(whole)
    scene = as_set_up(whole, _shot_of(whole, shot))
    base = scene.shot(_shot_of(whole, shot).id)
    index = scene.shots.index(base)

    def reread(changes: Changes) -> Scene:
        """The scene with other values, as this shot is set up."""
        return (
            read_scene(path, outside_files=outside_files, changes=changes)
            if scene is whole
            else rewritten(scene, changes)
        )

    variations = [Variation.of(text, index).in_file(reread, scene.units) for text in vary]
    names = _cameras_of(scene, cameras, [base.camera] if variations else [*scene.cameras])
    _check_axes(scene, names, variations, stop)
    shown_as, left_out = [], []
    for cell, values, camera in _cells(names, variations):
        label = _label(camera if len(names) > 1 else "", variations, values)
        changes = {each.place: value for each, value in zip(variations, values, strict=True)}
        varied = _varied(reread, changes, label) if changes else scene
        # With the lens as it is the camera moves to the framing that was written, whatever lens it is given.
        written = varied.shots[index]
        reference = (
            written.model_copy(update={"focal_length": base.focal_length}) if framing is Framing.LENS else written
        )
        try:
            taken = match(varied, reference, camera, framing, stop, focal_length=written.focal_length)
            # One tape for all, though a value that is varied may be written in another unit.
            alone = varied.model_copy(update={"shots": (taken.shot,), "tape_unit": scene.tape_unit})
            predictions = predict(alone)
            differences = (*taken.differences, *_wrongly_exposed(alone, taken.shot, predictions))
            shown_as.append(Panel(label, alone, taken.shot, cell, predictions, differences))
        except CannotMatch as error:
            left_out.append(LeftOut(label, str(error), error.remedy))
    if len(shown_as) < 2:
        raise PrevizError(_too_few(shown_as, left_out))
    shown_as = _at_unlike_speeds(shown_as, base.camera)
    panels = shown_as if _is_grid(names, variations) else _closed_up(shown_as)
    return Comparison(
        scene, base, _by(names, variations), _rules(base, names, variations, framing, stop, panels), tuple(panels),
        tuple(left_out), tuple(variations), tuple(each.id for each in whole.shots if each.id != base.id),
    )  # fmt: skip


def ways_side_by_side(
    scene: Scene, shot: Shot, ways: Sequence[tuple[str, Scene, Shot, tuple[Difference, ...]]], rules: tuple[str, ...]
) -> Comparison:
    """Ways to make a shot side by side, the shot as it is written first.

    Parameters
    ----------
    scene : Scene
        As it is written.
    shot : Shot
        Of that scene.
    ways : sequence of (str, Scene, Shot, tuple of Difference)
        Each with its name, its scene, the shot in it, and in which it is not what was wanted.
    rules : tuple of str
        What the ways have in common, in words.

    Raises
    ------
    PrevizError
        More panels than can be judged.
    """
    if len(ways) >= MOST_PANELS:
        raise PrevizError(
            f"that is {len(ways) + 1} panels, too small to judge; compare {MOST_PANELS} at most at a time"
        )
    scene = as_set_up(scene, shot)
    shot = scene.shot(shot.id)
    panels = []
    for name, its_scene, its_shot, differences in [("as written", scene, shot, ()), *ways]:
        alone = its_scene.model_copy(update={"shots": (its_shot,), "tape_unit": scene.tape_unit})
        panels.append(Panel(name, alone, its_shot, (0, 0), predict(alone), differences))
    return Comparison(scene, shot, "plan", (*rules, *_halfway(panels)), tuple(_closed_up(panels)), ())


def _at_unlike_speeds(panels: list[Panel], camera: str) -> list[Panel]:
    """Each with a word on how fast its vehicle looks, where that is not as in the first of the shot's own camera."""
    own = next((panel for panel in panels if panel.shot.camera == camera), panels[0])
    speed = own.figure("apparent_speed")
    if not speed:
        return panels
    told = []
    for panel in panels:
        looks = panel.figure("apparent_speed")
        if looks is not None and abs(looks / speed - 1) > SAME_SPEED:
            road = panel.scene.tape.road
            words = f"on screen it drives at {road(looks)} at full size, and at {road(speed)} in {own.name}"
            more = Difference("speed", looks / speed, words)
            panel = dataclasses.replace(panel, differences=(*panel.differences, more))
        told.append(panel)
    return told


def _shorter_shutter(scene: Scene, shot: Shot, stops: float) -> str:
    """In words, the shutter that takes so many stops off, where nothing strobes or pulses with it; "" else."""
    parts = shutter_within(shot.capture.exposure_time / 2**stops)
    shutter = Shutter.model_validate({"time": f"1/{parts} s"})
    shorter = shot.model_copy(update={"capture": shot.capture.model_copy(update={"shutter": shutter})})
    found = predict(scene.model_copy(update={"shots": (shorter,)}), remedies=False).findings
    uneven = any(each.id in _BY_SHUTTER and each.verdict != "fine" for each in found)
    return "" if uneven else f", a shutter of 1/{parts} s"


#: What a shorter shutter may put out of order.
_BY_SHUTTER = ("motion.strobe", "light.flicker_50", "light.flicker_60")


def _wrongly_exposed(scene: Scene, shot: Shot, predictions: Predictions) -> Iterator[Difference]:
    """That a panel's picture is too bright or too dark, by how much and why: it is seen before any finding is read."""
    for finding in predictions.findings:
        if finding.verdict == "fine":
            continue
        if finding.id == "light.exposure" and shot.capture.iso != "auto":
            iso = nearest_third_stop(shot.capture.iso / 2**finding.value)
            yield _too(finding.value, f"ISO {shot.capture.iso}; it wants about ISO {iso}, which iso: auto would set")
        elif finding.id == "light.iso_range" and shot.capture.iso == "auto":
            off = -math.log2(finding.value / finding.limit)
            what = "highest, so more light or a slower rate"
            if off > 0:
                what = f"lowest, so less light{_shorter_shutter(scene, shot, off)} or a grey filter"
            yield _too(off, f"ISO {finding.limit:.0f}, its {what}")


def _too(stops: float, why: str) -> Difference:
    return Difference("exposure", stops, f"{stops_of(abs(stops))} too {'bright' if stops > 0 else 'dark'} at {why}")


def _too_few(shown_as: Sequence[Panel], left_out: Sequence[LeftOut]) -> str:
    only = f"only {shown_as[0].name} can be shown" if shown_as else "none of these can be shown"
    return "\n".join([f"{only}, and a comparison needs two:", *(each.sentence for each in left_out)])


# --- what is asked for ---


def _shot_of(scene: Scene, wanted: str | None) -> Shot:
    shots = {shot.id: shot for shot in scene.shots}
    if wanted is not None and wanted not in shots:
        raise PrevizError(f"--shot {_not_among(wanted, shots, 'a shot of this scene')}")
    return shots[wanted] if wanted else scene.shots[0]


def _cameras_of(scene: Scene, wanted: Sequence[str] | None, otherwise: list[str]) -> list[str]:
    for name in wanted or ():
        if name not in scene.cameras:
            raise PrevizError(f"--cameras {_not_among(name, scene.cameras, 'a camera of this scene or its kit')}")
    return list(dict.fromkeys(wanted or otherwise))


def _check_axes(scene: Scene, cameras: list[str], variations: list[Variation], stop: Stop) -> None:
    if len(cameras) < 2 and not variations:
        others = [name for name in scene.cameras if name not in cameras]
        more = (
            f"name another of {', '.join(others)}" if others else "the scene has no other; add one, or a kit: of them"
        )
        raise PrevizError(
            f"one camera, {cameras[0]}, is no comparison: {more}; or vary one thing, like --vary f_number=2.8,5.6,11"
        )
    axes = [*([cameras] if len(cameras) > 1 else []), *(each.values for each in variations)]
    if len(axes) > 2:
        raise PrevizError("a picture has rows and columns: vary two things at most, or one for several cameras")
    panels = math.prod(len(axis) for axis in axes)
    if panels > MOST_PANELS:
        raise PrevizError(f"that is {panels} panels, too small to judge; compare {MOST_PANELS} at most at a time")
    if stop is not Stop.SAME and any(each.key == "f_number" for each in variations):
        raise PrevizError(f"--vary f_number and --stop {stop} both set the stop; leave one of them out")
    if len({each.place for each in variations}) < len(variations):
        raise PrevizError(f"--vary {variations[0].key} is given twice; write all its values in one list")


#: The keys of a shot that can be varied; what it changes on the set is varied where the set has it.
_OF_A_SHOT = [name for name in Shot.model_fields if name not in REDRESSING]


def _place_of(key: str, shot: int) -> str:
    """The dotted key in the scene file."""
    first = key.replace("[", ".").partition(".")[0]
    if first in ("camera", "id"):
        raise PrevizError(f"--vary {first}: to compare cameras, write --cameras big,pocket")
    if first in ("set", "dressing", "vehicle", "vehicles", "lights", "scale", "cameras", "shots"):
        return key  # of vehicle and lights, as of any shot: those that the shot has are done before it is varied
    if first in _OF_A_SHOT:
        return f"shots[{shot}].{key}"
    if first in Capture.model_fields:
        return f"shots[{shot}].capture.{key}"
    known = [*_OF_A_SHOT, *Capture.model_fields, "vehicle", "vehicles", "lights", "set", "dressing", "scale"]
    raise PrevizError(
        f"--vary {_not_among(key, known, 'something a shot has')}; elsewhere write its place, like "
        "lights[key].diffusion or vehicle.launch.ramp.height"
    )


def _not_among(found: str, known: Iterable[str], what: str) -> str:
    names = [name for name in known if name != "id"]
    meant = meant_by(found, names)
    there = f"here {'are' if len(names) > 1 else 'is'} {', '.join(names)}"
    return f"{shown(found)} is not {what}; " + (f"did you mean {meant}? T{there}" if meant else f"t{there}")


# --- one after another ---


def _is_grid(cameras: list[str], variations: list[Variation]) -> bool:
    return (len(cameras) > 1) + len(variations) == 2


def _cells(cameras: list[str], variations: list[Variation]) -> Iterator[tuple[tuple[int, int], tuple[Any, ...], str]]:
    """Each panel's cell, its values and its camera: of a grid, the first thing down, the second across."""
    axes = [*(each.values for each in variations)]
    for numbers in product(*(range(len(axis)) for axis in (cameras, *axes))):
        camera, *places = numbers
        values = tuple(axis[place] for axis, place in zip(axes, places, strict=True))
        down, across = (camera, places[0]) if len(places) == 1 else (places[0], places[1]) if places else (0, camera)
        yield (down, across), values, cameras[camera]


def _label(camera: str, variations: list[Variation], values: Sequence[Any]) -> str:
    named = [each.name_of(value) for each, value in zip(variations, values, strict=True)]
    return ", ".join([camera, *named] if camera else named) or camera


def _varied(reread: Callable[[Changes], Scene], changes: Changes, label: str) -> Scene:
    try:
        return reread(changes)
    except SceneErrors as error:
        faults = "\n".join(f"{fault.key}: {fault.message}" for fault in error.faults)
        raise PrevizError(f"--vary, {label}: {faults}") from error


def _closed_up(panels: list[Panel]) -> list[Panel]:
    """Panels in reading order, without gaps, in rows of about as many as there are columns.

    A picture of 2 x 2 with one place free is larger than a strip of three, and the place holds the notes.
    """
    columns = math.ceil(math.sqrt(len(panels)))
    return [dataclasses.replace(panel, cell=divmod(number, columns)) for number, panel in enumerate(panels)]


#: Where no other lens has the focal length that the shot's own place takes.
_FROM_ELSEWHERE = "each camera from where its panel says"

#: Said of a rule that not every panel could follow.
_BUT = ", but where a panel says otherwise"


def _by(cameras: list[str], variations: list[Variation]) -> str:
    return " and ".join([*(["camera"] if len(cameras) > 1 else []), *(each.heading for each in variations)])


def _rules(
    base: Shot,
    cameras: list[str],
    variations: list[Variation],
    framing: Framing,
    stop: Stop,
    panels: Sequence[Panel],
) -> tuple[str, ...]:
    """What is alike in all panels; where some could not follow a rule, it says that those tell how they differ."""
    differs = {each.of for panel in panels for each in panel.differences}
    rules = []
    if len(cameras) > 1 or framing is not Framing.PLACE:
        rules.append(_framing_rule(framing, base, panels))
    if (len(cameras) > 1 and not any(each.key == "f_number" for each in variations)) or stop is not Stop.SAME:
        rules.append(STOP_RULES[stop] + (_BUT if "light" in differs and stop is Stop.SAME else ""))
    if len(cameras) == 1:
        rules.append(f"all else as in the scene, filmed with {cameras[0]}")
    return (*rules, *_halfway(panels))


def _framing_rule(framing: Framing, base: Shot, panels: Sequence[Panel]) -> str:
    """How the panels frame alike: what was asked for, as far as any other camera than the shot's own could do it."""
    others = [{each.of for each in panel.differences} for panel in panels if panel.shot.camera != base.camera]
    off = [each & ({"moved", "framing"} if framing is not Framing.LENS else {"framing"}) for each in others]
    if framing is Framing.OWN or not any(off):
        return FRAMING_RULES[framing]
    if framing is Framing.PLACE and all(off):
        as_wide = not any("framing" in each for each in off)
        return f"{'same framing' if as_wide else 'framing as near as each lens comes to it'}, {_FROM_ELSEWHERE}"
    return FRAMING_RULES[framing] + _BUT


def _halfway(panels: Sequence[Panel]) -> Iterator[str]:
    """How panels are in step that do not last alike on screen, as other rates are slowed otherwise."""
    lasts = {frame_times(panel.scene, panel.shot).count / panel.shot.playback for panel in panels}
    if max(lasts) - min(lasts) > 1 / max(panel.shot.playback for panel in panels):
        shortest, longest = (f"{float(each):.3g}" for each in (min(lasts), max(lasts)))
        yield (
            f"slowed differently they last {shortest} to {longest} s on screen: all show one moment halfway, and those "
            "that are shorter stand before and after"
        )
