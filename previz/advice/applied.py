"""A way to make the shot, written into the scene: with numbers that can be dialled in and read off a tape."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from previz.advice.choices import Option, Recording, shutter_at
from previz.advice.demands import miss_as_told
from previz.advice.estimate import MIDDLE, RUN, Framings, ways_of
from previz.advice.problem import Problem, released_from
from previz.advice.search import Way, key_of
from previz.advice.stands import Stands
from previz.advice.stretch import stretch_of
from previz.layout import travel_of
from previz.physics.exposure import nearest_third_stop
from previz.predictions import (
    Change,
    Finding,
    Predictions,
    ShotPredictions,
    ShotView,
    Verdict,
    back_over_table,
    focus_written,
    focused_further,
    has_distance,
    noise_limit_on,
    predict,
    to_mend_and_watch,
    view_of,
)
from previz.scene import Focus, PlaceKey, Range, Scene, Shot, Target, rewritten
from previz.units import LENGTH, fps_written, parse

#: A camera's focal length is dialled in to this; under the second one to half of it. [m]
_FOCAL_STEP, _SHORT = 1e-4, 0.010


@dataclass(frozen=True)
class Checked:
    """A way written into the scene, and what `check` says of that.

    Parameters
    ----------
    problem : Problem
        In which it was found.
    way : Way
        As it was estimated; `key` goes by what was found.
    scene : Scene
    shot : Shot
    changes : tuple of Change
    view : ShotView
    predictions : Predictions
        Of the scene with this shot alone.
    figures : mapping of str to float
        By their names.
    values, misses : tuple of float
        One for each demand. [of its figure], [stops]
    stops : tuple of Finding
        What still stops it.
    key : tuple
        By which it is ranked.
    """

    problem: Problem
    way: Way
    scene: Scene
    shot: Shot
    changes: tuple[Change, ...]
    view: ShotView
    predictions: Predictions
    figures: Mapping[str, float]
    values: tuple[float, ...]
    misses: tuple[float, ...]
    stops: tuple[Finding, ...]
    key: tuple[float, ...]

    @property
    def watched(self) -> int:
        """How many findings of `check` may cost it its look, as they are told."""
        return to_mend_and_watch(self.predictions.told, self.shot.id)[1]

    @property
    def lux(self) -> float:
        """What a light meter reads on the vehicle. [lx]"""
        try:
            return self.predictions.shots[0].value("illuminance_vehicle", "all lamps")
        except KeyError:  # nothing of the shot can be told but why
            return self.view.light.vehicle.total


def checked(
    problem: Problem, way: Way, *, as_it_is: bool = False, bought: tuple[Change, ...] = (), remedies: bool = True
) -> Checked:
    """Write a way into the scene and look again; as_it_is: nothing is. Raises PrevizError where that cannot be.

    bought: what else is written, to see what it buys; then no remedies are looked for, nor where none are asked for.
    """
    changes = (*bought, *(() if as_it_is else changes_of(problem, way)))
    scene = rewritten(problem.scene, {change.key: change.value for change in changes})
    if problem.before is not None:
        built = [change for change, _ in problem.variant.changes(problem.before)]
        changes = tuple({change.key: change for change in (*built, *changes)}.values())  # what is found further goes
    shot = scene.shots[problem.scene.shots.index(problem.shot)]
    alone = scene.model_copy(update={"shots": (shot,)})
    found = predict(alone, remedies=remedies and not bought)
    view = view_of(alone, shot)
    figures = figures_of(view, found.shots[0])
    values = tuple(figures[demand.figure] for demand in problem.demands)
    misses = tuple(miss_as_told(demand, value) for demand, value in zip(problem.demands, values, strict=True))
    stops = tuple(finding for finding in found.findings if finding.verdict is Verdict.STOP)
    noise = max(math.log2(figures["iso"] / noise_limit_on(view.area)), 0.0) if figures["iso"] > 0 else 0.0
    noise += softened(found)
    # Of what is stopped the least is the nearest, by the estimate: what is found are findings, by no common measure.
    key = key_of(way.stops if stops else 0.0, misses, problem.demands, noise, way.cost)
    return Checked(
        problem, way, scene, shot, changes, view, found, figures, values, misses, stops, (float(len(stops)), *key)
    )


def softened(found: Predictions) -> float:
    """By how much diffraction alone blurs past what counts as sharp; 0 of a shot that cannot be laid open. [stops]"""
    shot = found.shots[0]
    try:
        return max(math.log2(shot.value("diffraction_disc") / shot.value("blur_limit")), 0.0)
    except KeyError:
        return 0.0


# --- what is written ---


def changes_of(problem: Problem, way: Way) -> tuple[Change, ...]:
    """What a way writes into the file: only what differs."""
    scene, shot, option = problem.scene, problem.shot, problem.options[way.option]
    key = f"shots[{scene.shots.index(shot)}]"
    recording = option.recordings[way.recording]
    written: dict[str, Any] = {}
    if option.name != shot.camera:
        written[f"{key}.camera"] = option.name
    focal = dialled(option, way.focal)
    if abs(focal - shot.focal_length) > 1e-7:
        written[f"{key}.focal_length"] = f"{focal * 1000:.6g} mm"
    if abs(way.f_number - shot.f_number) > 1e-6:
        written[f"{key}.f_number"] = f"f/{way.f_number:g}"
    if abs(way.back) > 5e-4 or abs(way.up) > 5e-4:
        written[f"{key}.at"] = _place(problem, way)
    written |= _recorded(problem, option, recording, key, way)
    released = _released(problem, way, key)
    written |= released
    written |= _at_its_pace(problem, recording, key)
    focus = _focus(problem, way)
    if focus is not None:
        written[f"{key}.focus"] = focus
    return tuple(Change(name, value) for name, value in written.items())


def dialled(option: Option, focal: float) -> float:
    """A focal length as it can be dialled in, or an end of the lens. [m]"""
    if option.focals:
        return min(option.focals, key=lambda each: abs(each - focal))
    step = _FOCAL_STEP if focal >= _SHORT else _FOCAL_STEP / 2
    near = round(focal / step) * step
    return min(max(near, option.focal.least), option.focal.most)


def _place(problem: Problem, way: Way) -> Any:
    scene, shot, view = problem.scene, problem.shot, problem.stretch.view
    moved = back_over_table(scene, shot, way.back, view)

    def text(place: Any, before: Any) -> list[str]:
        x, y, z = place
        return [
            scene.tape.exact(was, 4) if abs(each - was) < 1e-9 else scene.tape(each)
            for each, was in zip((x, y, z + way.up), before, strict=True)
        ]

    if isinstance(moved[0], PlaceKey):
        pairs = zip(moved, shot.at, strict=True)
        return [{"time": f"{key.time:g} s", "at": text(key.at, was.at)} for key, was in pairs]
    return text(moved, shot.at)


def _focus(problem: Problem, way: Way) -> Any:
    """A focus as a file has it; None where it stays what it is."""
    scene, shot = problem.scene, problem.shot
    if way.kind in (MIDDLE, RUN):
        return scene.tape(way.focus)
    further = float(problem.places(np.array([way.back]), np.array([way.up])).further[0])
    if scene.may_change.focus is False or abs(further) <= 5e-4:
        return None
    return focus_written(scene, focused_further(shot.focus, further)) if has_distance(shot.focus) else None


def _recorded(problem: Problem, option: Option, recording: Recording, key: str, way: Way) -> dict[str, Any]:
    scene, capture = problem.scene, problem.shot.capture
    found: dict[str, Any] = {}
    if recording.rate != capture.rate:
        found[f"{key}.capture.rate"] = fps_written(recording.rate)
    if abs(recording.time - shutter_at(capture.shutter, recording.rate)[1]) > 1e-9:
        found[f"{key}.capture.shutter"] = recording.words
    taken = capture.mode
    if taken is None or not option.mode.same_as(taken):
        usual = option.camera.mode_for(recording.rate)
        if taken is not None or usual is None or not option.mode.same_as(usual):
            found[f"{key}.capture.mode"] = str(option.mode)
    if capture.iso != "auto" and scene.may_change.iso is not False:
        iso = next(
            (value for each, value in zip(problem.demands, way.figures, strict=True) if each.figure == "iso"), 0.0
        )
        found[f"{key}.capture.iso"] = _third(option, iso or _iso_of(problem, way))
    return found


def _third(option: Option, iso: float) -> int:
    low, high = option.camera.iso
    return min(max(nearest_third_stop(iso), low), high)


def _iso_of(problem: Problem, way: Way) -> float:
    """What the estimate takes for mid-grey."""
    option = problem.options[way.option]
    stands = problem.places(np.array([way.back]), np.array([way.up]))
    one = np.zeros(1, dtype=np.int64)
    covered = np.ones((1, len(stands.cast)))
    lux = problem.metered.at(stands.back, stands.up)
    framings = Framings(option, stands, one, np.array([way.focal]), np.array([way.kind]), covered, lux)
    ways = ways_of(option, problem.launches)
    found = problem.judged(framings, np.array([way.f_number]), ways).figures["iso"]
    return float(found[0, 0, int(np.flatnonzero((ways.recording == way.recording) & (ways.launch == way.launch))[0])])


def _released(problem: Problem, way: Way, key: str) -> dict[str, Any]:
    """A launch, and the shot's beginning and length that film the same stretch of the path."""
    launch = problem.launches[way.launch]
    if launch.height is None:
        return {}
    scene, view = problem.scene, problem.stretch.view
    text = scene.tape(launch.height)
    height = parse(LENGTH, text)
    begins = float(problem.shot.start)
    ends = begins + problem.launches[0].lasts
    travel = travel_of(released_from(scene, height))
    start, over = (travel.time_at(view.travel.distance(time)) for time in (begins, ends))
    found: dict[str, Any] = {"vehicle.launch.ramp.height": text, f"{key}.start": f"{start:.4f} s"}
    if problem.shot.duration is not None:
        found[f"{key}.duration"] = f"{over - start:.4f} s"
    return found


def _at_its_pace(problem: Problem, recording: Recording, key: str) -> dict[str, Any]:
    """When a shot begins, how long it lasts and its moments, so that a vehicle that goes with the rate goes as far.

    Nothing where it goes as fast, nor of a shot that moves in keys: those would come at other moments of the run.
    """
    shot, now = problem.shot, problem.launches[0]
    if now.paced is None or not now.whole or recording.rate == shot.capture.rate:
        return {}
    slower = now.paced / float(recording.rate)
    travel = problem.stretch.view.travel

    def then(time: float) -> float:
        return travel.begins + (time - travel.begins) * slower

    found: dict[str, Any] = {}
    if abs(float(shot.start) - travel.begins) > 1e-6:
        found[f"{key}.start"] = f"{then(float(shot.start)):.6g} s"
    if shot.duration is not None:
        found[f"{key}.duration"] = f"{float(shot.duration) * slower:.6g} s"
    aim, focus = shot.aim, shot.focus.target if isinstance(shot.focus, Focus) else None
    for name, target in (("aim", aim), ("focus", focus)):
        if isinstance(target, Target) and isinstance(target.moment, int | float):
            found[f"{key}.{name}"] = target.model_copy(update={"moment": then(target.moment)}).said_of_vehicle
    return found


# --- what is found ---


def figures_of(view: ShotView, shot: ShotPredictions) -> dict[str, float]:
    """The figures of the demands, of a shot as it is: those of `check`, and the rest by the same rules as estimated."""

    def value(quantity: str, of: str = "") -> float:
        try:
            return shot.value(quantity, of)
        except KeyError:
            return math.nan

    figures = {
        "pupil": value("full_size_pupil"),
        "speed": value("apparent_speed"),
        "lasts": value("time_in_frame"),
        "smear": value("vehicle_blur_share"),
    }
    iso, capture = value("iso_needed"), view.shot.capture
    figures["iso"] = iso * 2.0 ** float(capture.exposure)
    framing = _of_the_framing(view)
    past = value("off_set_pixels") > 0
    figures["edges"] = max(framing.pop("field"), 1.0 + 1e-4) if past else min(framing.pop("field"), 1.0)
    ripples = [each.value for each in shot.figures if each.quantity in ("ripple", "bands")]
    figures["ripple"] = max(ripples, default=0.0)
    return figures | framing


def _of_the_framing(view: ShotView) -> dict[str, float]:
    """Width and blur in every frame that `check` looks at."""
    stretch = stretch_of(view, len(view.times))
    stands, one = Stands(stretch, np.zeros(1), np.zeros(1)), np.zeros(1, dtype=np.int64)
    stop = np.array([view.shot.f_number])
    option = Option(view.shot.camera, view.camera, view.mode, view.area, Range(), (), stop, ())
    covered = stands.covered(option.shape, 1.05 * view.area[0] / 2 / view.shot.focal_length)
    framings = Framings(option, stands, one, np.array([view.shot.focal_length]), one, covered, np.ones(1))
    return {
        "field": float(framings.field[0]),
        "width": float(framings.width[0]),
        "sharp_run": float(framings.sharp_run(stop)[0, 0]),
        "sharp_middle": float(framings.sharp_middle(stop)[0, 0]),
        "behind": float(framings.behind(stop)[0, 0]),
    }
