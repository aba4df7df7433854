"""The vehicles beside the subject: how each is launched, what is in its way, where two meet, and what they hide."""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import partial
from itertools import combinations, permutations
from typing import Any

import numpy as np

from previz.errors import PrevizError
from previz.layout import (
    MARGIN,
    TOUCH,
    Passing,
    clearance,
    each_driven,
    frame_times,
    hits,
    keeps_clear,
    launch_of,
    others_of,
    own_ramp,
    passings,
    profile_of,
    ramp_of,
    travel_of,
    vehicle_on,
    vehicle_path,
    vehicle_solid,
)
from previz.physics.overlap import depth
from previz.predictions.checks.framing import inside
from previz.predictions.checks.launch import check_launch
from previz.predictions.checks.ramp import check_ramp
from previz.predictions.checks.room import beyond_backdrop, beyond_table
from previz.predictions.checks.set import check_way
from previz.predictions.findings import Change, Finding, Notes, Verdict, Way, above, below
from previz.predictions.release import note_releases
from previz.predictions.shot_view import ShotView
from previz.scene import VEHICLE, Scene, Vehicle
from previz.units import percent

#: How much later or earlier one vehicle is tried to start, the least that helps first. [s]
_SHIFTS, _LONG_SHIFTS = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.7), (1.0, 1.4, 2.0, 3.0)

#: What one look at another start takes, in the measure of `looking.cost_of`.
_LOOK = 5.0

#: Of the frames that show the subject, in how many another may hide half of it or more. Common practice, no source.
HIDES = 0.2
_HALF = 0.5
_FRAMES = 24

#: Between the places at which it is looked when one comes to another's ramp. [m]
_STEP = 0.01

#: Two ramps so alike are one. [m], [rad]
_SAME_PLACE, _SAME_WAY = 0.002, 0.02


def check_others(scene: Scene) -> Notes:
    """Each other vehicle as the subject is looked at, and where any two of all meet."""
    notes = Notes()
    for name, other in others_of(scene):
        for check in (check_launch, check_ramp):
            _as_of(notes, name, check(other))
        _as_of(notes, name, check_way(other, named(name)), says_whose=True)
        if other.vehicle is not None and other.vehicle.launch is not None:
            releases = Notes()  # no shot is about it: half-way
            note_releases(other, vehicle_path(other).length / 2, "mid-path", releases)
            _as_of(notes, name, releases)
    _ramps_apart(scene, notes)
    ends = _last_end(scene)
    _ramps_in_the_way(scene, ends, notes)
    for passing in passings(scene):
        _meet(scene, passing, ends, notes)
    return notes


def check_others_of_shot(view: ShotView) -> Notes:
    """Each other vehicle on the table and before the backdrop where it is in the picture, and how much it hides."""
    notes = Notes(view.shot.id)
    for name, other in others_of(view.scene):
        seen = _seen_as(view, other)
        _on_the_set(seen, name, notes)
        _hides(view, seen, name, notes)
    return notes


# --- what is said of the subject, said of another ---


def _as_of(notes: Notes, name: str, found: Notes, *, says_whose: bool = False) -> None:
    """Put what a check noted of the scene's vehicle down as of the one of that name.

    says_whose: whether its sentences name that one, and need no name before them.
    """
    before = "" if says_whose else f"{named(name)}: "
    for figure in found.figures:
        notes.figures.append(replace(figure, of=f"{named(name)}: {figure.of}" if figure.of else named(name)))
    for finding, ways in zip(found.findings, found.ways, strict=True):
        notes.findings.append(_finding_of(name, finding, before))
        notes.ways.append(partial(_ways_of, name, ways, before))


def _finding_of(name: str, finding: Finding, before: str) -> Finding:
    remedy = f"{before}{finding.remedy}" if finding.remedy else ""
    changes = tuple(_change_of(name, change) for change in finding.changes)
    message = f"{before}{finding.message}"
    return replace(finding, id=f"{finding.id}.{name}", message=message, remedy=remedy, changes=changes)


def _ways_of(name: str, ways: Callable[[], Iterable[Way]], before: str) -> Iterator[Way]:
    for way in ways():
        changes = tuple(_change_of(name, change) for change in way.changes)
        words, tried = (f"{before}{said}" if said else "" for said in (way.words, way.tried))
        yield replace(way, words=words, tried=tried, changes=changes)


def _change_of(name: str, change: Change) -> Change:
    rest = change.key.removeprefix("vehicle.")
    return change if rest == change.key else replace(change, key=f"vehicles.{name}.{rest}")


def called(scene: Scene, name: str) -> str:
    """A vehicle as a person is told of it: the subject is the vehicle, the others have their names."""
    return "the vehicle" if name == scene.subject else named(name)


def _first(name: str) -> str:
    """A name that begins a sentence."""
    return name[:1].upper() + name[1:]


def named(name: str) -> str:
    """Another vehicle as a person is told of it: that of `vehicle:` where a shot is about another one."""
    return "the usual vehicle" if name == VEHICLE else name


# --- two that meet ---


def _last_end(scene: Scene) -> float:
    """When the last of the scene's shots has ended. [s on set]"""
    ends = [-math.inf]
    for shot in scene.shots:
        try:
            times = frame_times(scene, shot)
        except PrevizError:  # it cannot be filmed at all, which is told elsewhere
            continue
        ends.append(float(times.time(times.count)))
    return max(ends)


def _meet(scene: Scene, passing: Passing, ends: float, notes: Notes) -> None:
    one, other = (called(scene, name) for name in (passing.one, passing.other))
    margin, room = passing.wanted, passing.room
    bodies = passing.bodies < -TOUCH
    verdict = below(room, margin, -TOUCH if bodies and passing.begins <= ends else -math.inf)
    both, x, y = f"{one[0].upper()}{one[1:]} and {other}", *map(scene.tape, passing.place)
    if room >= 0:
        said = f"{both} keep {scene.tape(room, 1)} from each other"
        message = f"{said}, at {passing.at:.3f} s on set."
    else:
        how = "run into each other" if bodies else "touch with their mirrors"
        late = ", after the last shot has ended" if passing.begins > ends else ""
        message = (
            f"{both} {how} at {passing.begins:.3f} s on set{late}, {x} from the table's left and {y} from its front: "
            f"{scene.tape(-room, 1)} in each other at most, at {passing.at:.3f} s."
        )
    if 0 <= room < margin:
        message = f"{message[:-1]}; {scene.tape(margin, 1)} ({scene.tape(MARGIN)} at full size) are wanted."
    notes.finding(
        f"others.meet.{passing.one}.{passing.other}",
        "vehicles_room",
        room,
        margin,
        verdict,
        message,
        ways=partial(_ways_apart, scene, passing),
        otherwise="Give one of them another way, or another speed: no other start was found that keeps them apart.",
    )


def _ways_apart(scene: Scene, passing: Passing) -> Iterator[Way]:
    """One of the two starts later or earlier, keeps another side, drives further to a side; or is left out."""
    names = [name for name in (passing.other, passing.one) if name != scene.subject]
    for name in names:
        yield from _started_otherwise(scene, name, partial(keeps_clear, name=name), _SHIFTS)
    for name in names:
        yield from _aside(scene, name, passing)
    for name in names:
        yield from _started_otherwise(scene, name, partial(keeps_clear, name=name), _LONG_SHIFTS)
    for name in names:
        yield _left_out(scene, name)


def _left_out(scene: Scene, name: str) -> Way:
    key = f"vehicles.{name}" if len(scene.vehicles or {}) > 1 else "vehicles"
    return Way(f"Leave {named(name)} out.", (Change(key, None),))


def _started_otherwise(
    scene: Scene, name: str, helps: Callable[[Scene], bool], shifts: tuple[float, ...]
) -> Iterator[Way]:
    """Later or earlier, by the least that helps each way."""
    vehicle = _other(scene, name)
    if vehicle.stands:
        return
    looked = 0
    for sign, word in ((1, "later"), (-1, "sooner")):
        for shift in shifts:
            looked += 1
            start = float(vehicle.start) + sign * shift
            if helps(_with(scene, name, {"start": start})):
                words = f"Let {named(name)} start {shift:g} s {word}, at {start:.3g} s on set (vehicles.{name}.start)."
                yield Way(words, (Change(f"vehicles.{name}.start", f"{start:.4g} s"),), _LOOK * looked)
                looked = 0
                break
    if looked:
        yield Way("", (), _LOOK * looked)


def _aside(scene: Scene, name: str, passing: Passing) -> Iterator[Way]:
    """On the other side of the road, or further to a side of its way."""
    vehicle = _other(scene, name)
    if isinstance(vehicle.path, str):
        for side in ("right", "left"):
            if side != vehicle.keep and keeps_clear(_with(scene, name, {"keep": side}), name):
                words = f"Let {named(name)} keep to the {side} (vehicles.{name}.keep)."
                yield Way(words, (Change(f"vehicles.{name}.keep", side),), _LOOK)
    by = scene.tape.up(passing.wanted - passing.room + 0.001)
    for sign, side in ((1, "left"), (-1, "right")):
        offset = float(vehicle.offset) + sign * by
        if keeps_clear(_with(scene, name, {"offset": offset}), name):
            words = f"Let {named(name)} drive {scene.tape(by)} further to its {side} (offset)."
            yield Way(words, (Change(f"vehicles.{name}.offset", scene.tape.exact(offset)),), 2 * _LOOK)
            return


def _other(scene: Scene, name: str) -> Vehicle:
    found: Vehicle = (scene.vehicles or {})[name]
    return found


def _with(scene: Scene, name: str, values: dict[str, Any]) -> Scene:
    """The scene with other values for another vehicle."""
    vehicles = {**(scene.vehicles or {}), name: _other(scene, name).model_copy(update=values)}
    return scene.model_copy(update={"vehicles": vehicles})


# --- ramps ---


def _ramps_apart(scene: Scene, notes: Notes) -> None:
    """Two ramps that take up the same room; two of which one goes on up the slope of the other are one."""
    launched = [each for each in each_driven(scene) if launch_of(each) is not None]
    for one, other in combinations(launched, 2):
        ramps = ramp_of(one), ramp_of(other)
        assert ramps[0] is not None and ramps[1] is not None  # both are launched
        by = depth(ramps[0].footprint, ramps[1].footprint)
        if by <= TOUCH or _one_ramp(one, other):
            continue
        names = [called(scene, each.subject) for each in (one, other)]
        notes.finding(
            f"others.ramps.{one.subject}.{other.subject}",
            "overlap",
            by,
            0.0,
            Verdict.STOP,
            f"The ramps of {names[0]} and {names[1]} stand {scene.tape(by, 1)} in each other.",
            "Set the foot of one further along its way, or let both roll down one ramp: the same foot, way and slope.",
        )


def _one_ramp(one: Scene, other: Scene) -> bool:
    """Whether both roll down the same slope from the same foot on."""
    ramps, launches = (ramp_of(one), ramp_of(other)), (launch_of(one), launch_of(other))
    if ramps[0] is None or ramps[1] is None or launches[0] is None or launches[1] is None:
        return False
    apart = float(np.linalg.norm(ramps[0].foot - ramps[1].foot))
    turned = abs(math.remainder(ramps[0].heading - ramps[1].heading, 2 * math.pi))
    slopes = [float(profile_of(launch.ramp).angle) for launch in launches if launch is not None]
    return apart < _SAME_PLACE and turned < _SAME_WAY and abs(slopes[0] - slopes[1]) < _SAME_WAY


def _ramps_in_the_way(scene: Scene, ends: float, notes: Notes) -> None:
    """A vehicle that drives, or stands, in the ramp of another one."""
    for driven, launched in permutations(each_driven(scene), 2):
        by = _in_the_ramp(driven, launched)
        begins = _comes_to_the_ramp(driven, launched) if by > TOUCH else math.inf
        if begins == math.inf:
            continue
        who, whose = called(scene, driven.subject), called(scene, launched.subject)
        late = begins > ends
        notes.finding(
            f"others.ramp.{driven.subject}.{launched.subject}",
            "overlap",
            by,
            0.0,
            Verdict.WATCH if late else Verdict.STOP,
            f"{who[0].upper()}{who[1:]} runs {scene.tape(by, 1)} into the ramp of {whose}"
            + (", after the last shot has ended." if late else "."),
            ways=partial(_past_the_ramp, scene, driven.subject, launched.subject),
            otherwise=f"Give {who} another way, or set the ramp's foot where it does not drive.",
        )


def _in_the_ramp(driven: Scene, launched: Scene) -> float:
    """How far a vehicle on its way gets into another one's ramp, if they do not share it. [m]"""
    if launch_of(launched) is None or _one_ramp(driven, launched):
        return 0.0
    return max((-clearance(driven, part) for part in own_ramp(launched)), default=0.0)


def _comes_to_the_ramp(driven: Scene, launched: Scene) -> float:
    """When it first is over the ramp's outline, as seen from above; inf where it comes to a stop before. [s on set]"""
    ramp, path, vehicle = ramp_of(launched), vehicle_path(driven), driven.vehicle
    assert ramp is not None and vehicle is not None  # the one is launched, the other drives
    if vehicle.stands:
        return -math.inf
    for along in np.arange(0.0, path.length + _STEP, _STEP).clip(max=path.length).tolist():
        if depth(vehicle_solid(driven, vehicle_on(path, along)).footprint, ramp.footprint) > TOUCH:
            return float(travel_of(driven).time_at(along))
    return -math.inf  # on its own ramp already


def _past_the_ramp(scene: Scene, driven: str, launched: str) -> Iterator[Way]:
    """The one of the two that is not the subject on the other side of the road, or left out."""
    name = driven if driven != scene.subject else launched
    vehicle = _other(scene, name)
    for side in ("right", "left") if isinstance(vehicle.path, str) else ():
        then = _with(scene, name, {"keep": side})
        there = {each.subject: each for each in each_driven(then)}
        if side != vehicle.keep and _in_the_ramp(there[driven], there[launched]) <= TOUCH and keeps_clear(then, name):
            words = f"Let {named(name)} keep to the {side} (vehicles.{name}.keep)."
            yield Way(words, (Change(f"vehicles.{name}.keep", side),), _LOOK)
    yield _left_out(scene, name)


# --- in the picture ---


def _seen_as(view: ShotView, other: Scene) -> ShotView:
    """The shot as it is filmed, laid open for another of its vehicles."""
    travel = travel_of(other)
    distances = np.array([travel.distance(float(time)) for time in view.times])
    return replace(view, scene=other, path=vehicle_path(other), travel=travel, distances=distances)


def _on_the_set(seen: ShotView, name: str, notes: Notes) -> None:
    """Whether it is on the table and before the backdrop while it is in the picture."""
    shown = seen.vehicle_in_frame & ((seen.distances >= 0) | (launch_of(seen.scene) is None))
    if not shown.any():
        return
    scene = seen.scene
    nothing = "of it is over the edge of the table: its wheels stand on nothing"
    for id, quantity, by, what, fine in (
        ("table", "edge_clearance", beyond_table(seen), nothing, "on the table"),
        (
            "backdrop",
            "backdrop_clearance",
            beyond_backdrop(seen),
            "of it is behind the backdrop",
            "before the backdrop",
        ),
    ):
        worst = float(np.where(shown, by, -math.inf).max())
        if not math.isfinite(worst):
            continue
        notes.finding(
            f"others.{id}.{name}",
            quantity,
            -worst,
            0.0,
            below(-worst, -TOUCH, -TOUCH),
            f"While {named(name)} is in the picture, {scene.tape(worst)} {what}."
            if worst > TOUCH
            else f"{_first(named(name))} is {fine} while it is in the picture.",
            ways=partial(_off_the_picture, seen, name, worst),
            otherwise=f"Give {named(name)} another way, or let it start when the shot has ended.",
            frames=seen.numbers[shown & (by > TOUCH)],
        )


def _off_the_picture(seen: ShotView, name: str, by: float) -> Iterator[Way]:
    """Without its offset, further to a side, or left out."""
    vehicle = seen.scene.vehicle
    assert vehicle is not None
    if vehicle.offset != 0:
        yield Way(f"Take out {named(name)}'s offset.", (Change(f"vehicles.{name}.offset", None),))
    for sign, side in ((1, "left"), (-1, "right")):
        aside = seen.scene.tape.up(by + 0.001)
        offset = float(vehicle.offset) + sign * aside
        words = f"Let {named(name)} drive {seen.scene.tape(aside)} further to its {side} (offset)."
        yield Way(words, (Change(f"vehicles.{name}.offset", seen.scene.tape.exact(offset)),))
    yield _left_out(seen.scene, name)


def _hides(view: ShotView, seen: ShotView, name: str, notes: Notes) -> None:
    """In how many of the frames that show the subject half of it or more is behind another."""
    frames = _frames_of_subject(view)
    if not len(frames):
        return
    hidden = [n for n in frames if _hidden(view, seen, n) >= _HALF]
    share = len(hidden) / len(frames)
    hides = named(name)
    notes.figure("hidden_by", share, hides)
    notes.finding(
        f"others.hide.{name}",
        "hidden_by",
        share,
        HIDES,
        above(share, HIDES),
        f"{hides[0].upper()}{hides[1:]} hides half of the vehicle or more in {percent(share)} of the frames that show "
        "it."
        if share > 0
        else f"{hides[0].upper()}{hides[1:]} never hides half of the vehicle.",
        ways=partial(_ways_past, view, seen, name),
        otherwise=f"Stand the camera higher, or on the other side; or leave {hides} out.",
        frames=[int(view.numbers[n]) for n in hidden],
    )


def _frames_of_subject(view: ShotView) -> list[int]:
    if view.scene.vehicle is None:
        return []
    looked = np.unique(np.linspace(0, len(view.cameras) - 1, _FRAMES).round().astype(int)).tolist()
    return [n for n in looked if view.vehicle_in_frame[n]]


def _hidden(view: ShotView, seen: ShotView, frame: int) -> float:
    """Share of the subject's box that the other stands before, in one frame."""
    points, origin = inside(view.vehicle_corners[frame]), view.cameras[frame].position
    rays = points - origin
    solid = seen.vehicle_solid(float(seen.distances[frame]))
    return float(hits(np.broadcast_to(origin, rays.shape), rays, (solid,)).mean())


def _ways_past(view: ShotView, seen: ShotView, name: str) -> Iterator[Way]:
    def helps(then: Scene) -> bool:
        other = dict(others_of(then))[name]
        moved = _seen_as(view, other)
        frames = _frames_of_subject(view)
        hidden = sum(_hidden(view, moved, n) >= _HALF for n in frames)
        return hidden <= HIDES * len(frames) and keeps_clear(then, name)

    yield from _started_otherwise(view.scene, name, helps, (*_SHIFTS, *_LONG_SHIFTS))
    yield _left_out(view.scene, name)
