"""The launch ramp on the set: wide enough, on the table, clear of the dressing and of the backdrop."""

import math
from collections.abc import Iterator
from functools import partial

import numpy as np

from previz.layout import (
    TOUCH,
    Overhang,
    RampShape,
    in_the_ramp,
    launch_of,
    ramp_behind_backdrop,
    ramp_of,
    ramp_overhang,
    travel_of,
    vehicle_path,
    vehicle_size,
)
from previz.predictions.checks.room import TRACK
from previz.predictions.checks.set import moved, sure, worst_of_each
from previz.predictions.findings import Change, Notes, Verdict, Way, below
from previz.predictions.places import told_move, ways_to_free_places
from previz.scene import Scene


def check_ramp(scene: Scene) -> Notes:
    """The ramp as a thing; nothing where the vehicle is driven at a given speed."""
    notes, ramp, overhang = Notes(), ramp_of(scene), ramp_overhang(scene)
    if ramp is None or overhang is None:
        return notes
    notes.figure("ramp_footprint", ramp.length, "length")
    notes.figure("ramp_footprint", ramp.width, "width")
    _wide_enough(scene, ramp, notes)
    _on_the_table(scene, ramp, overhang, notes)
    _before_the_backdrop(scene, notes)
    _clear(scene, notes)
    return notes


def _wide_enough(scene: Scene, ramp: RampShape, notes: Notes) -> None:
    """Whether the wheels have sheet under them."""
    track = TRACK * vehicle_size(scene)[1]
    notes.finding(
        "ramp.width",
        "ramp_width",
        ramp.width,
        track,
        below(ramp.width, track, track),
        f"The ramp is {scene.tape(ramp.width)} wide; the vehicle's wheels need about {scene.tape(track)}.",
        f"Make it {scene.tape(math.ceil(track * 1000 + 4) / 1000)} wide or more.",
        changes=[Change("vehicle.launch.ramp.width", scene.tape.written(math.ceil(track * 1000 + 4) / 1000, 0))],
    )


def _further_in(scene: Scene, ramp: RampShape, *, whole: bool) -> float | None:
    """The first place for the foot, further along the path, that has all of the ramp on the table, or its foot. [m]"""
    launch, path, table = launch_of(scene), vehicle_path(scene), scene.set.table
    assert launch is not None  # asked of launched vehicles only
    # To whole marks of the tape along the path as written.
    mark = scene.tape.mark
    first = math.floor(launch.ramp.foot / mark + 1e-6) + 1
    feet = np.arange(first, math.ceil((launch.ramp.foot + path.length) / mark)) * mark
    along = feet - launch.ramp.foot
    half = ramp.width / 2
    corners = np.array([[0.0, -half], [0.0, half], [-ramp.length, -half], [-ramp.length, half]])[: 4 if whole else 2]
    c, s = np.cos(path.heading(along)), np.sin(path.heading(along))
    turned = np.einsum("kj,jin->nki", corners, np.array([[c, s], [-s, c]]))
    places = path.at(along)[:, None] + turned
    inside = ((places >= 0) & (places <= (table.width, table.depth))).all(axis=(1, 2))
    return float(feet[int(inside.argmax())]) if inside.any() else None


def _on_the_table(scene: Scene, ramp: RampShape, overhang: Overhang, notes: Notes) -> None:
    """Makers do let a ramp hang off the table, on a support of its own; its foot needs the table."""
    off = f"stand a support as high as the table, {scene.tape(scene.set.table.height)}, under it"
    support = Way(f"{off} (support: floor)", (Change("vehicle.launch.ramp.support", "floor"),))
    falls = overhang.foot_by > TOUCH
    on_it = _further_in(scene, ramp, whole=False) if falls else None
    notes.finding(
        "ramp.foot",
        "ramp_over_edge",
        overhang.foot_by,
        0.0,
        Verdict.STOP if falls else Verdict.FINE,
        f"The foot of the ramp stands {scene.tape(overhang.foot_by)} off the table's {overhang.edge} edge: the vehicle "
        "rolls into the air."
        if falls
        else "The foot of the ramp stands on the table.",
        ways=lambda: (
            *_longer_table(scene, overhang.edge, overhang.foot_by, support),  # no shot is otherwise then
            *_foot_at(scene, on_it, support),
            *_foot_at(scene, _further_in(scene, ramp, whole=True)),
        ),
        otherwise=f"A board as high as the table at its {overhang.edge} edge would carry it.",
    )
    launch = launch_of(scene)
    meant = launch is not None and launch.ramp.support == "floor"
    foot = _further_in(scene, ramp, whole=True) if overhang.by > TOUCH else None
    notes.finding(
        "ramp.edge",
        "ramp_over_edge",
        overhang.by,
        0.0,
        Verdict.WATCH if overhang.by > TOUCH and not meant else Verdict.FINE,
        f"The ramp hangs {scene.tape(overhang.by)} off the table's {overhang.edge} edge"
        f"{', on a support that stands on the floor' if meant else ''}."
        if overhang.by > TOUCH
        else "All of the ramp stands on the table.",
        ways=lambda: (Way(f"{off[0].upper()}{support.words[1:]}.", support.changes), *_foot_at(scene, foot)),
        otherwise=f"{off[0].upper()}{support.words[1:]}.",
    )


def _longer_table(scene: Scene, edge: str, by: float, support: Way) -> Iterator[Way]:
    """A table that goes on under the foot, at an edge from which nothing is measured. [m]"""
    side = {"right": "width", "back": "depth"}.get(edge)
    if side is None:  # all that stands on the set would have to be written anew
        return
    long = scene.tape.up(float(getattr(scene.set.table, side)) + by + TOUCH)
    words = f"Make the table longer at its {edge} edge, with a board as high as it: {scene.tape(long)} ({side})"
    change = Change(f"set.table.{side}", scene.tape.written(long, 0))
    yield Way(f"{words}; {support.words}.", (change, *support.changes))


def _foot_at(scene: Scene, foot: float | None, support: Way | None = None) -> Iterator[Way]:
    """Its foot further along the path, best with shots begun so that they film what they did. [m]"""
    launch, travel = launch_of(scene), travel_of(scene)
    assert launch is not None  # asked of launched vehicles only
    if foot is None:
        return
    at = Change("vehicle.launch.ramp.foot", scene.tape.written(foot, 0))
    words = f"Set its foot {scene.tape(foot)} along the path{f', and {support.words}' if support else ''}"
    at_once = (at, *(support.changes if support else ()))
    sooner = travel.time_at(foot - float(launch.ramp.foot)) - travel.begins
    if math.isfinite(sooner):
        starts = (Change(f"shots[{n}].start", f"{float(shot.start) - sooner:.4f} s")
                  for n, shot in enumerate(scene.shots))  # fmt: skip
        yield Way(
            f"{words}; begin each shot {sooner:.3f} s sooner (its start), to film what it did.", (*at_once, *starts)
        )
    yield Way(f"{words}.", at_once)


def _before_the_backdrop(scene: Scene, notes: Notes) -> None:
    if scene.set.backdrop is None:
        return
    by = ramp_behind_backdrop(scene)
    notes.finding(
        "ramp.backdrop",
        "through_backdrop",
        by,
        0.0,
        Verdict.STOP if by > TOUCH else Verdict.FINE,
        f"The ramp reaches {scene.tape(by)} through the backdrop."
        if by > TOUCH
        else "The ramp stands before the backdrop.",
        f"Hang the backdrop {scene.tape(by + 0.001)} further off.",
        changes=[Change("set.backdrop.distance", scene.tape.exact(scene.set.backdrop.distance + by + 0.001, 1))],
        otherwise="Turn the start of the path.",
    )


def _clear(scene: Scene, notes: Notes) -> None:
    found = worst_of_each(in_the_ramp(scene))
    for each in found:
        name = each.it.id
        notes.finding(
            f"ramp.overlap.{name}",
            "overlap",
            each.by,
            0.0,
            sure(each.it),
            f"{name} stands in the ramp.",
            f"Move {name} {told_move(scene, each.mend)}, away from the ramp.",
            changes=moved(scene, each.it, each.mend),
            ways=partial(ways_to_free_places, scene, each.it.entry),
            otherwise=f"Move {name} away from the ramp to where it is in nothing's way.",
        )
    if scene.dressing and not found:
        notes.finding("ramp.overlap", "overlap", 0.0, 0.0, Verdict.FINE, "No piece stands in the ramp.")
