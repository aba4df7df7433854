"""What is put side by side: one shot through several cameras, or with one thing or two in it varied.

A camera that cannot take the shot over is left out with a sentence; the rest is compared.
"""

import dataclasses
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

from previz.errors import PrevizError, SceneErrors
from previz.predictions import FRAMING_RULES, STOP_RULES, CannotMatch, Framing, Predictions, Stop, match, predict
from previz.scene import Capture, Scene, Shot, meant_by, plain_list, read_scene
from previz.units import beyond_numbers, shown

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
    """

    name: str
    scene: Scene
    shot: Shot
    cell: tuple[int, int]
    predictions: Predictions

    def figure(self, quantity: str, of: str = "") -> float | None:
        """One predicted number of the shot, in SI; None where there is none."""
        try:
            return self.predictions.shots[0].value(quantity, of)
        except KeyError:
            return None

    @property
    def sharp(self) -> str:
        """From where to where it is sharp mid-shot, off the maker's tape: `sharp 442 to 479 mm`; "" if unknown."""
        near, far = self.figure("near_limit"), self.figure("far_limit")
        if near is None or far is None:
            return "nothing sharp" if self.figure("depth_of_field") == 0 else ""
        begins, ends, unit = self.scene.tape(near), _reach_of(self.scene, far), f" {self.scene.tape_unit}"
        return f"sharp {begins.removesuffix(unit) if ends.endswith(unit) else begins} to {ends}"

    @property
    def summary(self) -> str:
        """What it is filmed with and what comes of it, in a line."""
        parts = [f"{self.shot.focal_length * 1000:.3g} mm", f"f/{self.shot.f_number:.3g}"]
        blur = self.figure("blur_pixels", "backdrop")
        share = "" if blur is None else f"{100 * blur / self.scene.mode(self.shot).width:.2g}"
        parts += [self.sharp, f"backdrop blur {share} % of the width" if share else ""]
        return ", ".join(part for part in parts if part)


def _reach_of(scene: Scene, limit: float) -> str:
    """A far limit in words [m]; far off, a metric tape reads metres."""
    return beyond_numbers(limit) or (f"{limit:.0f} m" if limit >= 10 and scene.tape_unit != "in" else scene.tape(limit))


@dataclass(frozen=True)
class LeftOut:
    """What could not be shown, why, and by which other rule it may be ("" where there is none)."""

    name: str
    why: str
    remedy: str = ""

    @property
    def sentence(self) -> str:
        """Why it was left out, beginning with its name once."""
        return self.why if self.why.startswith(self.name) else f"{self.name}: {self.why}"


@dataclass(frozen=True)
class Comparison:
    """Panels and by which rules they are alike.

    Parameters
    ----------
    scene : Scene
        As it is written.
    shot : Shot
        The one that is compared, as it is written.
    rules : tuple of str
        What was matched and what was varied, in words.
    panels, left_out
        What is shown, one panel at least, and what is not.
    """

    scene: Scene
    shot: Shot
    rules: tuple[str, ...]
    panels: tuple[Panel, ...]
    left_out: tuple[LeftOut, ...]

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
    """One key of the scene and the values it takes in turn, as a file would hold them."""

    key: str
    place: str
    values: tuple[Any, ...]

    @classmethod
    def of(cls, text: str, shot: int) -> "Variation":
        """Read `f_number=2.8,5.6,11`; the key is one of the shot, of its capture, or a place in the scene file.

        >>> Variation.of("f_number=2.8, f/4", 0)
        Variation(key='f_number', place='shots[0].f_number', values=(2.8, 'f/4'))
        >>> Variation.of("rate=60 fps,120 fps", 0).place
        'shots[0].capture.rate'
        """
        key, equals, written = (part.strip() for part in text.partition("="))
        values = plain_list(written) if equals and key and written else None
        if not values:
            raise PrevizError(f"--vary {shown(text)} is not a key and its values; write it like f_number=2.8,5.6,11")
        if len(values) < 2:
            raise PrevizError(f"--vary {shown(text)}: two values or more make a comparison, divided by commas")
        return cls(key, _place_of(key, shot), tuple(values))

    def name_of(self, value: Any) -> str:
        """`f/2.8`, `focal length 20 mm`.

        >>> Variation("capture.rate", "", ()).name_of("60 fps")
        'rate 60 fps'
        >>> Variation("lights[key].diffusion", "", ()).name_of("1 stop")
        'diffusion of key 1 stop'
        """
        if self.key == "f_number":
            return f"f/{str(value).removeprefix('f/')}"
        text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
        return f"{self.words} {text}"

    @property
    def words(self) -> str:
        """The key as one would say it: `focal length`, or of one lamp among others `output of key`."""
        steps = self.key.replace("]", "").replace("[", ".").split(".")
        last = "f-number" if steps[-1] == "f_number" else steps[-1].replace("_", " ")
        named = len(steps) > 2 and steps[0] in ("lights", "dressing", "cameras", "shots")
        return f"{last} of {steps[1]}" if named else last


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
        A name, key or value that is not there, more panels than can be judged, or none that can be shown.
    """
    framing, stop = Framing(framing), Stop(stop)
    scene = read_scene(path, outside_files=outside_files)
    base = _shot_of(scene, shot)
    index = scene.shots.index(base)
    variations = [Variation.of(text, index) for text in vary]
    names = _cameras_of(scene, cameras, [base.camera] if variations else [*scene.cameras])
    _check_axes(names, variations, stop)
    shown_as, left_out = [], []
    for cell, values, camera in _cells(names, variations):
        label = _label(camera if len(names) > 1 or not variations else "", variations, values)
        changes = {each.place: value for each, value in zip(variations, values, strict=True)}
        varied = _varied(path, changes, label, outside_files) if changes else scene
        # With the lens as it is the camera moves to the framing that was written, whatever lens it is given.
        written = varied.shots[index]
        reference = (
            written.model_copy(update={"focal_length": base.focal_length}) if framing is Framing.LENS else written
        )
        try:
            taken = match(varied, reference, camera, framing, stop, focal_length=written.focal_length)
            # One tape for all, though a value that is varied may be written in another unit.
            alone = varied.model_copy(update={"shots": (taken,), "tape_unit": scene.tape_unit})
            shown_as.append(Panel(label, alone, taken, cell, predict(alone)))
        except CannotMatch as error:
            left_out.append(LeftOut(label, str(error), error.remedy))
    if not shown_as:
        raise PrevizError(
            "\n".join(["none of these can be shown:", *(f"{each.name}: {each.why}" for each in left_out)])
        )
    panels = shown_as if _is_grid(names, variations) else _closed_up(shown_as)
    return Comparison(scene, base, _rules(names, variations, framing, stop), tuple(panels), tuple(left_out))


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


def _check_axes(cameras: list[str], variations: list[Variation], stop: Stop) -> None:
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


def _place_of(key: str, shot: int) -> str:
    """The dotted key in the scene file."""
    first = key.replace("[", ".").partition(".")[0]
    if first in ("camera", "id"):
        raise PrevizError(f"--vary {first}: to compare cameras, write --cameras big,pocket")
    if first in Shot.model_fields:
        return f"shots[{shot}].{key}"
    if first in Capture.model_fields:
        return f"shots[{shot}].capture.{key}"
    if first in ("set", "dressing", "vehicle", "lights", "scale", "cameras", "shots"):
        return key
    known = [*Shot.model_fields, *Capture.model_fields, "vehicle", "lights", "set", "dressing", "scale"]
    raise PrevizError(
        f"--vary {_not_among(key, known, 'something a shot has')}; elsewhere write its place, like "
        "lights[key].diffusion or vehicle.launch.ramp.height"
    )


def _not_among(found: str, known: Iterable[str], what: str) -> str:
    names = [name for name in known if name != "id"]
    meant = meant_by(found, names)
    advice = f"did you mean {meant}? " if meant else ""
    return f"{shown(found)} is not {what}; {advice}there are {', '.join(names)}"


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


def _varied(path: Path, changes: Mapping[str, Any], label: str, outside_files: bool) -> Scene:
    try:
        return read_scene(path, outside_files=outside_files, changes=changes)
    except SceneErrors as error:
        faults = "\n".join(f"{fault.key}: {fault.message}" for fault in error.faults)
        raise PrevizError(f"--vary, {label}: {faults}") from error


def _closed_up(panels: list[Panel]) -> list[Panel]:
    """Panels in reading order, without gaps, in rows of about as many as there are columns.

    A picture of 2 x 2 with one place free is larger than a strip of three, and the place holds the notes.
    """
    columns = math.ceil(math.sqrt(len(panels)))
    return [dataclasses.replace(panel, cell=divmod(number, columns)) for number, panel in enumerate(panels)]


def _rules(cameras: list[str], variations: list[Variation], framing: Framing, stop: Stop) -> tuple[str, ...]:
    rules = []
    if len(cameras) > 1 or framing is not Framing.PLACE:
        rules.append(FRAMING_RULES[framing])
    if (len(cameras) > 1 and not any(each.key == "f_number" for each in variations)) or stop is not Stop.SAME:
        rules.append(STOP_RULES[stop])
    if variations:
        rules.append("varied: " + " and ".join(each.words for each in variations))
    return tuple(rules)
