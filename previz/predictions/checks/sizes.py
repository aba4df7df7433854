"""Sizes: what each thing on the set would measure at full scale, against real sizes with their sources.

Pieces come at a real size of their own where the maker gives none; those sizes are judged like any other.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from previz.errors import PrevizError
from previz.layout import ROOF_PITCH, floors_of, mesh_headlamps, solids_of, strips_of, vehicle_path, vehicle_size
from previz.predictions.findings import LIKELY_SCALE, Change, Notes, Verdict, Way, above
from previz.scene import (
    KERB_HEIGHT,
    MOST_FLOORS,
    PAVEMENT_WIDTH,
    VEHICLE_SIZES,
    BounceCard,
    FlagCard,
    MeshPiece,
    Scatter,
    Scene,
    Vehicle,
    rewritten,
)
from previz.units import together


class Real(NamedTuple):
    """What a thing measures in reality.

    Parameters
    ----------
    low, high : float
        Between which nobody wonders. [m]
    usual : float
        What the remedy proposes. [m]
    """

    low: float
    high: float
    usual: float


#: Lane of a road: 9 to 12 ft, UK 3.65 m. FHWA-SA-07-011 ch. 3 table 3 (2.7 to 3.6 m) and Highway Engineering p. 154
#: after TD 27/96 (3.65 m), both seen.
LANE = Real(2.70, 3.75, 3.5)

#: Kerb of a road, above it. At most 4 in on fast roads, US Army SDDC-TEA curb tutorial, seen; 125 mm in Britain, 6 in
#: before barriers, from memory.
KERB = Real(0.05, 0.20, KERB_HEIGHT)

#: Pavement, kerb included. 2 m as the least, Manual for Streets (2007), from memory; else typical.
PAVEMENT = Real(1.2, 8.0, PAVEMENT_WIDTH)

#: Heights by kind of piece. Trees: FHWA-RD-97-028 table 2, mature ones, of 18 to 55 m and of 18 to 30 m, seen; under
#: 5 m a sapling. Cones: MUTCD sec. 6F.64, 18 in and 28 in at least, seen. Guard rails: 27 3/4 in and 29 in +- 1 in,
#: FHWA memorandum of 17 May 2010, seen; 31 in +- 1 in, engineering notes on the AASHTO Roadside Design Guide 2011, as
#: quoted. Lamp posts: from 4 m typical, from memory; street lights up to 60 ft, county lighting guidance, USA, as
#: quoted. Signs: typical, from memory.
HEIGHTS: dict[str, Real] = {
    "conifer": Real(5.0, 55.0, 20.0),
    "broadleaf": Real(5.0, 30.0, 18.0),
    "cone": Real(0.45, 1.0, 0.71),
    "guard_rail": Real(0.68, 0.82, 0.787),
    "lamp_post": Real(4.0, 18.3, 8.0),
    "sign": Real(1.8, 5.0, 2.8),
}

#: Floor to floor: a door leaf of 2.03 m (80 in) or 1.98 m must fit under the next floor. Trade pages, as quoted;
#: headroom from memory.
FLOOR = Real(2.4, 5.0, 3.2)

#: A vehicle may differ by this share from the typical length of its kind.
VEHICLE_SHARE = 0.3

_ARTICULATED = "articulated_lorry"

#: The widest and highest that may use any road, which is what that one measures. [m]
_, WIDEST, HIGHEST = VEHICLE_SIZES[_ARTICULATED]

#: How far a real one bends at its coupling before one sees that the model does not. [rad] By eye, no source.
MOST_BENT = math.radians(10)

#: Of so many things that are of no real size, and this share of them left, another scale is likely meant.
_SEVERAL, _LEFT = 3, 0.34

_COUPLED = 0.7  # from tractor to trailer, middle to middle of their wheels, of the whole length
_PLACES = 400  # along a way at which it is looked at


def check_sizes(scene: Scene) -> Notes:
    """Road, vehicle and every piece with a size of its own; a scale that is likely another one stands for all."""
    notes = _each_size(scene)
    _one_scale(scene, notes)
    return notes


def _one_scale(scene: Scene, notes: Notes) -> None:
    """Whether most of what is of no real size is of one with a nought more or less in the scale: then that is asked."""
    off = [number for number, each in enumerate(notes.findings) if each.verdict is not Verdict.FINE]
    if len(off) < _SEVERAL or scene.written is None:
        return
    for factor in (10.0, 0.1):
        meant = f"1:{float(scene.scale) * factor:.6g}"
        try:
            then = _each_size(rewritten(scene, {"scale": meant}))
        except PrevizError:
            continue
        left = sum(each.verdict is not Verdict.FINE for each in then.findings)
        if left > _LEFT * len(off):
            continue
        worst, mended = notes.findings[off[0]], "all" if not left else f"{len(off) - left}"
        for number in off:
            notes.findings[number] = replace(notes.findings[number], among_figures=True)
        notes.finding(
            LIKELY_SCALE,
            worst.quantity,
            worst.value,
            worst.limit,
            Verdict.WATCH,
            f"At 1:{float(scene.scale):.6g}, {len(off)} things are of no real size: {worst.gist[0].lower()}"
            f"{worst.gist[1:]}. All else that is told of this set may come of that.",
            f"Did you mean scale: {meant}? At that {mended} of them are as real ones are.",
        )
        return


def _each_size(scene: Scene) -> Notes:
    """Each thing by itself."""
    notes = Notes()
    if scene.set.road is not None:
        lane = float(scene.set.road.lane) * float(scene.scale)
        notes.figure("road_lane", lane)
        _judge(notes, "sizes.lane", "road_lane", lane, LANE, "A lane", "set.road.lane", scene, float(scene.scale))
        _edges(scene, notes)
    if scene.vehicle is not None:
        _vehicle(scene, scene.vehicle, notes)
    for number, piece in enumerate(scene.dressing):
        if isinstance(piece, Scatter):
            if piece.size is not None:
                notes.figure("piece_height", piece.size[1] * scene.scale_of(piece), f"{piece.id}, the largest")
            continue
        size = next((solid.size for solid in solids_of(scene) if solid.entry == number), None)
        if size is None or isinstance(piece, BounceCard | FlagCard):  # what lights the set is as large as it is
            continue
        notes.figure("piece_length", size[0] * scene.scale_of(piece), piece.id)
        notes.figure("piece_height", size[2] * scene.scale_of(piece), piece.id)
        if not isinstance(piece, MeshPiece):  # nobody knows what that is
            _piece(scene, number, piece, size, notes)
    return notes


def _edges(scene: Scene, notes: Notes) -> None:
    """Kerb and pavement, where the road has them."""
    scale, strips, road = float(scene.scale), strips_of(scene), scene.set.road
    if not strips or road is None:
        return
    high = strips[0].height * scale
    notes.figure("kerb_height", high)
    if road.kerb is not None and road.kerb.height is not None:
        _judge(notes, "sizes.kerb", "kerb_height", high, KERB, "A kerb", "set.road.kerb.height", scene, scale)
    wide = max((strip.outer - strip.face for strip in strips if strip.paved), default=0.0) * scale
    if wide:
        notes.figure("pavement_width", wide)
        if road.pavement is not None and road.pavement.width is not None:
            what, key = "A pavement", "set.road.pavement.width"
            _judge(notes, "sizes.pavement", "pavement_width", wide, PAVEMENT, what, key, scene, scale)


def _vehicle(scene: Scene, vehicle: Vehicle, notes: Notes) -> None:
    full = scene.vehicle_length * scene.vehicle_scale
    notes.figure("vehicle_length", full)
    if vehicle.body == _ARTICULATED and not vehicle.stands:
        _coupling(scene, notes)
    if vehicle.mesh is not None and vehicle.headlamps > 0:
        _, across, up = mesh_headlamps(scene).at
        notes.figure("headlamp_height", up)
        notes.figure("headlamps_apart", 2 * across)
    if vehicle.length is None or vehicle.body is None:
        return
    typical = VEHICLE_SIZES[vehicle.body][0]
    real = Real(typical * (1 - VEHICLE_SHARE), typical * (1 + VEHICLE_SHARE), typical)
    what, scale = f"The {vehicle.body.replace('_', ' ')}", scene.vehicle_scale
    first = []
    if vehicle.body == "lorry" and abs(full / VEHICLE_SIZES[_ARTICULATED][0] - 1) <= VEHICLE_SHARE:
        words = f"Make it an articulated lorry (body: {_ARTICULATED}), which is as long as that."
        first = [Way(words, (Change("vehicle.body", _ARTICULATED),))]
    more = _too_wide(scene)
    _judge(notes, "sizes.vehicle", "vehicle_length", full, real, what, "vehicle.length", scene, scale, first, more)


def _too_wide(scene: Scene) -> str:
    """What to say of a body that its length makes far wider or higher than anything on a road; else nothing."""
    _, wide, high = vehicle_size(scene)
    for what, side, most in (("wide", wide, WIDEST), ("high", high, HIGHEST)):
        full = side * scene.vehicle_scale
        if full > (1 + VEHICLE_SHARE) * most:
            return (
                f" A body has the proportions of its kind: this one is {scene.tape(side, 1)} {what} then, which is "
                f"{scene.tape.real(full)} at full size, and the most that may use any road is "
                f"{scene.tape.real(most, 4)} (Council Directive 96/53/EC, annex I). What has other "
                "proportions is a mesh of your own."
            )
    return ""


def _coupling(scene: Scene, notes: Notes) -> None:
    """Of a body that would bend at its coupling where its way bends."""
    way, length = vehicle_path(scene), scene.vehicle_length
    starts = np.linspace(0.0, max(way.length - _COUPLED * length, 0.0), _PLACES)
    ahead, behind = (way.heading(np.minimum(starts + off, way.length)) for off in (_COUPLED * length, 0.0))
    turned = np.abs((ahead - behind + np.pi) % (2 * np.pi) - np.pi)
    worst = float(turned.max())
    notes.figure("coupling_angle", worst)
    notes.finding(
        "sizes.coupling",
        "coupling_angle",
        worst,
        MOST_BENT,
        above(worst, MOST_BENT),
        f"A real articulated lorry bends {np.degrees(worst):.0f} deg at its coupling where its way bends most, and "
        "this one is one stiff piece: its picture is right where its way is straight, or nearly so.",
        "Film it on a straight part of its way, or make the bend wider.",
    )


def real_height(piece: Any, size: tuple[float, float, float], scale: float) -> Real | None:
    """How high real ones of a piece's kind are; None of what comes in any height.

    size is that on the table [m], scale S of 1:S of the piece.
    """
    if piece.piece == "building":
        rise, floors = _gable(piece, size, scale), floors_of(piece, scale)
        low, usual, high = (floors * one + rise for one in (FLOOR.low, FLOOR.usual, FLOOR.high))
        return Real(low, high, round(usual, 2))
    return HEIGHTS.get(_height_of_what(piece))


def _gable(piece: Any, size: tuple[float, float, float], scale: float) -> float:
    """How far a gable rises over the floors of a building, at full size. [m]"""
    return ROOF_PITCH * min(size[:2]) / 2 * scale if piece.roof == "gable" else 0.0


def _with_floors(scene: Scene, number: int, piece: Any, size: tuple[float, float, float]) -> list[Way]:
    """As many floors as a building's height holds, where others are written: that takes no other model."""
    scale = scene.scale_of(piece)
    high = size[2] * scale - _gable(piece, size, scale)
    floors = min(max(round(high / FLOOR.usual), 1), MOST_FLOORS)
    if floors == floors_of(piece, scale) or not FLOOR.low * floors <= high <= FLOOR.high * floors:
        return []
    words = f"Give it {_floors(floors)} (floors), which is what it has the height of."
    return [Way(words, (Change(f"dressing[{number}].floors", floors),))]


def _floors(number: int) -> str:
    return "1 floor" if number == 1 else f"{number} floors"


def _height_of_what(piece: Any) -> str:
    return "guard_rail" if getattr(piece, "style", "") == "guard_rail" else str(piece.piece)


def _piece(scene: Scene, number: int, piece: Any, size: tuple[float, float, float], notes: Notes) -> None:
    scale = scene.scale_of(piece)
    real = real_height(piece, size, scale)
    if real is None:
        return
    what = f"{piece.id} ({_height_of_what(piece).replace('_', ' ')})"
    if piece.piece == "building":
        what = f"{piece.id} with {_floors(floors_of(piece, scale))}" + (
            " under a gable" if piece.roof == "gable" else ""
        )
    key, name = f"dressing[{number}].height", f"sizes.{piece.id}"
    first = _with_floors(scene, number, piece, size) if piece.piece == "building" else []
    _judge(notes, name, "piece_height", size[2] * scale, real, what, key, scene, scale, first)


def _judge(
    notes: Notes,
    name: str,
    quantity: str,
    full: float,
    real: Real,
    what: str,
    key: str,
    scene: Scene,
    scale: float,
    first: Sequence[Way] = (),
    more: str = "",
) -> None:
    """A size at full scale against the real one; both limits count as fine. scale: S of 1:S of the thing.

    first: ways that come before another size; more: what else is to be said.
    """
    hair = 1e-9 * full
    limit = real.low if full < real.low else real.high
    verdict = Verdict.FINE if real.low - hair <= full <= real.high + hair else Verdict.WATCH
    written = full / scale
    told = scene.tape.real(written, 4)
    slip = f" It is {told} on the table: did you mean {told} full size?" * _is_real(written, real)
    aim = written if slip else real.usual
    sized = _made(scene, key, aim, scale)
    liked = [sized, *first] if slip else [*first, sized]
    notes.finding(
        name,
        quantity,
        full,
        limit,
        verdict,
        f"{what} would be {scene.tape.real(full)} at full size; most real ones measure "
        f"{together((scene.tape.real(real.low), scene.tape.real(real.high)), ' to ')}.{more}{slip}",
        liked[0].words,
        changes=liked[0].changes,
        ways=lambda: [*liked[1:], _made(scene, key, (limit + real.usual) / 2, scale), _made(scene, key, limit, scale)],
    )


def _is_real(size: float, real: Real) -> bool:
    """Whether what was meant as a size on the set [m] is one of the real thing."""
    return real.low <= size <= real.high


def _made(scene: Scene, key: str, full: float, scale: float) -> Way:
    """Made that large at full size. [m]"""
    words = f"Make it {scene.tape(full / scale, 1)}, {scene.tape.real(full, 4)} at full size."
    return Way(words, (Change(key, scene.tape.real_written(full)),))
