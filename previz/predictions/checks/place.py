"""The set as it is built: pieces in each other, over the table's edge, through the backdrop, on another lane.

Pieces are upright boxes; of plants only the trunk counts, for leaves give way. Walls and fences may meet, run on over
the edge as the road does and end inside a building; cones stand on roads on purpose. The stage looks at the built
models by the same rules (`stage/pieces/dressing.py`), mesh files included, which nobody knows the shape of here.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    STATION,
    Box,
    boxes,
    depths,
    road_curve,
    solid_part,
    vehicle_path,
    vehicle_size,
    way_of,
    width_at,
)
from previz.predictions.checks.path import MARGIN, clearance, placed, way_along
from previz.predictions.findings import Change, Notes, Verdict
from previz.scene import Scene

Array = NDArray[np.float64]

#: What overlaps by less only touches. [m]
TOUCH = 0.0005

#: Moved so much further than just enough. [m]
_SPARE = 0.001

#: Pieces whose box is their very shape; of the others an overlap is only likely.
EXACT = ("container", "building", "card", "wall", "fence")
_RUNS = ("wall", "fence")


@dataclass(frozen=True)
class _Standing:
    """One copy of a piece: the number of its entry, its box, and the footprint (4, 2) of what of it is solid. [m]"""

    number: int
    box: Box
    solid: Array


def check_place(scene: Scene) -> Notes:
    """What of the dressing stands where it cannot, or where it will be in the way."""
    notes = Notes()
    if not scene.dressing:
        return notes
    standing = _standing(scene)
    _over_the_edge(scene, standing, notes)
    _through_the_backdrop(scene, standing, notes)
    _in_each_other(scene, standing, notes)
    _on_the_road(scene, standing, notes)
    return notes


def _standing(scene: Scene) -> list[_Standing]:
    """Every copy of what stands on the ground; what begins over the vehicle's roof hangs and is left out."""
    numbers = {piece.id: number for number, piece in enumerate(scene.dressing)}
    roof = vehicle_size(scene)[2]
    return [
        _Standing(numbers[box.id], box, solid_part(box).footprint) for box in boxes(scene) if box.at[2] < 1.02 * roof
    ]


@dataclass(frozen=True)
class _Worst:
    """The worst copy of an entry, how far it is out [m], and where it should move to mend that (2,). [m]"""

    it: _Standing
    by: float
    mend: Array


def _worst(found: Iterator[_Worst]) -> list[_Worst]:
    """For each entry the copy that is furthest out."""
    kept: dict[int, _Worst] = {}
    for each in found:
        before = kept.get(each.it.number)
        if before is None or each.by > before.by:
            kept[each.it.number] = each
    return list(kept.values())


def _moved(scene: Scene, number: int, by: Array) -> list[Change]:
    """An entry moved, all its copies alike, where it stands at a place of its own."""
    piece: Any = scene.dressing[number]
    if piece.at is None:
        return []
    return [Change(f"dressing[{number}].at", placed(piece.at, np.array(piece.at[:2]) + by))]


# --- edge and backdrop ---


def _over_the_edge(scene: Scene, standing: list[_Standing], notes: Notes) -> None:
    size = np.array([scene.set.table.width, scene.set.table.depth])

    def over() -> Iterator[_Worst]:
        for it in standing:
            outline = it.solid.mean(axis=0, keepdims=True) if it.box.kind in _RUNS else it.solid
            low, high = outline.min(axis=0), outline.max(axis=0)
            by = float(max((-low).max(), (high - size).max()))
            if by > TOUCH:
                # Wider than the table: nothing but a smaller piece mends that.
                fits = bool(np.all(high - low <= size))
                mend = np.maximum(-low, 0.0) - np.maximum(high - size, 0.0) if fits else np.zeros(2)
                yield _Worst(it, by, mend)

    found = _worst(over())
    for each in found:
        name, off = each.it.box.id, np.array(each.it.box.at[:2])
        falls = bool(np.any(off < 0) or np.any(off > size))
        notes.finding(
            f"set.edge.{name}",
            "over_edge",
            each.by,
            0.0,
            Verdict.STOP if falls else Verdict.WATCH,
            f"{name} {'stands' if falls else 'reaches'} {scene.tape(each.by, 1)} over the edge of the table.",
            f"Move {name} {scene.tape(each.by, 1)} inwards, or use a larger table.",
            changes=_moved(scene, each.it.number, each.mend) if each.mend.any() else [],
        )
    if not found:
        notes.finding("set.edge", "over_edge", 0.0, 0.0, Verdict.FINE, "No piece reaches over the edge of the table.")


def _through_the_backdrop(scene: Scene, standing: list[_Standing], notes: Notes) -> None:
    backdrop = scene.set.backdrop
    if backdrop is None:
        return
    half = (backdrop.width or scene.set.table.width) / 2

    def through() -> Iterator[_Worst]:
        for it in standing:
            outline = it.solid.mean(axis=0, keepdims=True) if it.box.kind in _RUNS else it.solid
            beside = np.abs(outline[:, 0] - scene.set.table.width / 2) <= half
            by = float(outline[beside, 1].max(initial=-math.inf)) - backdrop.distance
            if by > TOUCH:
                yield _Worst(it, by, np.array([0.0, -by]))

    found = _worst(through())
    for each in found:
        name = each.it.box.id
        notes.finding(
            f"set.backdrop.{name}",
            "through_backdrop",
            each.by,
            0.0,
            _sure(each.it),
            f"{name} reaches {scene.tape(each.by, 1)} through the backdrop.",
            f"Move {name} {scene.tape(each.by, 1)} forward, or the backdrop back.",
            changes=_moved(scene, each.it.number, each.mend),
        )
    if not found:
        message = "No piece reaches through the backdrop."
        notes.finding("set.backdrop", "through_backdrop", 0.0, 0.0, Verdict.FINE, message)


def _sure(*pieces: _Standing) -> Verdict:
    return Verdict.STOP if all(it.box.kind in EXACT for it in pieces) else Verdict.WATCH


# --- in each other ---


def _in_each_other(scene: Scene, standing: list[_Standing], notes: Notes) -> None:
    worst: dict[tuple[int, int], tuple[float, _Standing, _Standing]] = {}
    for one, other, by in _meetings(standing):
        key = one.number, other.number
        if key not in worst or by > worst[key][0]:
            worst[key] = by, one, other
    for by, one, other in worst.values():
        first, second = one.box.id, other.box.id
        same = one.number == other.number
        notes.finding(
            f"set.overlap.{first}.{second}",
            "overlap",
            by,
            0.0,
            _sure(one, other),
            f"{f'Copies of {first}' if same else f'{first} and {second}'} stand {scene.tape(by, 1)} in each other.",
            f"Put {first} further apart." if same else f"Move {second} {scene.tape(by, 1)} away from {first}.",
            changes=_spaced(scene, one) if same else _moved(scene, other.number, _away(one, other)),
        )
    if not worst:
        notes.finding("set.overlap", "overlap", 0.0, 0.0, Verdict.FINE, "No pieces stand in each other.")


def _meetings(standing: list[_Standing]) -> Iterator[tuple[_Standing, _Standing, float]]:
    """Pairs that stand in each other, and how far. [m]"""
    if len(standing) < 2:
        return
    solids = np.stack([it.solid for it in standing])
    middles = solids.mean(axis=1)
    reach = np.linalg.norm(solids - middles[:, None], axis=2).max(axis=1)
    thin = np.array(
        [min(np.linalg.norm(it.solid[1:3] - it.solid[:2], axis=1)) if it.box.kind in _RUNS else 0.0 for it in standing]
    )
    for i, it in enumerate(standing[:-1]):
        near = i + 1 + np.flatnonzero(
            np.linalg.norm(middles[i + 1 :] - middles[i], axis=1) < reach[i + 1 :] + reach[i]
        )  # fmt: skip
        if not len(near):
            continue
        # A wall or fence may end inside a building, a post stand inside a wall.
        found = depths(solids[near], it.solid) - np.maximum(thin[near], thin[i])
        for j, by in zip(near, found, strict=True):
            other = standing[j]
            if by > TOUCH and not (it.box.kind in _RUNS and other.box.kind in _RUNS) and _at_one_height(it, other):
                yield it, other, float(by)


def _at_one_height(one: _Standing, other: _Standing) -> bool:
    """Whether neither stands on top of the other."""
    low = max(one.box.at[2], other.box.at[2])
    return min(one.box.at[2] + one.box.size[2], other.box.at[2] + other.box.size[2]) - low > TOUCH


def _away(one: _Standing, other: _Standing) -> Array:
    """The least move (2,) that takes the other clear of the one, along a side of either. [m]"""
    ways = [side for it in (one, other) for side in it.solid[1:3] - it.solid[:2]]
    best = np.full(2, math.inf)
    for way in ways:
        axis = way / np.linalg.norm(way)
        fixed, free = one.solid @ axis, other.solid @ axis
        for by in (fixed.max() - free.min() + _SPARE, fixed.min() - free.max() - _SPARE):
            if abs(by) < np.linalg.norm(best):
                best = axis * by
    return best


def _spaced(scene: Scene, it: _Standing) -> list[Change]:
    """Copies or a row so far apart that no two can meet, whichever way they are turned."""
    piece: Any = scene.dressing[it.number]
    apart = float(np.linalg.norm(it.solid[2] - it.solid[0])) + _SPARE
    if piece.along is not None:
        return [Change(f"dressing[{it.number}].every", f"{apart * 1000:.2f} mm")]
    step = np.array(piece.step)
    level = float(np.linalg.norm(step[:2]))
    longer = step * [apart / level, apart / level, 1.0] if level > 0 else step + np.array([apart, 0.0, 0.0])
    return [Change(f"dressing[{it.number}].step", [f"{value * 1000:.2f} mm" for value in longer])]


# --- another lane ---


def _on_the_road(scene: Scene, standing: list[_Standing], notes: Notes) -> None:
    """What another vehicle would hit: the lanes that this one does not drive on."""
    road = scene.set.road
    if road is None:
        return
    middle, margin = road_curve(scene), MARGIN / float(scene.scale)
    half = min(width_at(scene, 0.0) / 2 + margin, 0.45 * float(road.lane))
    lanes = (np.arange(road.lanes) - (road.lanes - 1) / 2) * float(road.lane)
    ways = [way_of(middle.shifted(float(lane)), 0.0, 2 * STATION, 2 * half) for lane in lanes]
    own = way_along(scene, vehicle_path(scene))

    def on_it() -> Iterator[_Worst]:
        for it in standing:
            # A broadleaf tree's crown hangs over the road, other plants stand on it with their leaves.
            outline = it.solid if it.box.kind == "broadleaf" else it.box.footprint
            by = max(float(depths(way, outline).max()) for way in ways)
            # What is in this vehicle's way, `set.path` says.
            if it.box.kind != "cone" and by > TOUCH and clearance(own, it.box) >= margin:
                yield _Worst(it, by, np.zeros(2))

    for each in _worst(on_it()):
        name = each.it.box.id
        notes.finding(
            f"set.lane.{name}",
            "overlap",
            each.by,
            0.0,
            Verdict.WATCH,
            f"{name} stands {scene.tape(each.by, 1)} on a lane of the road that is not driven on.",
            f"Move {name} off the road, unless it is meant to stand there.",
            changes=_off_the_road(scene, each.it),
        )


def _off_the_road(scene: Scene, it: _Standing) -> list[Change]:
    """An entry of one piece moved straight away from the road's middle, to where all of it stands beside the road."""
    road, piece = scene.set.road, scene.dressing[it.number]
    if road is None or piece.at is None or piece.copies > 1:
        return []
    middle = road_curve(scene)
    stations = np.linspace(0.0, middle.length, 400)
    points = middle.at(stations)
    nearest = int(np.argmin(np.linalg.norm(points - it.box.at[:2], axis=1)))
    turn = float(middle.heading(stations[nearest]))
    left = np.array([-math.sin(turn), math.cos(turn)])
    off = float((np.array(it.box.at[:2]) - points[nearest]) @ left)
    wanted = road.lanes / 2 * float(road.lane) + math.hypot(*it.box.size[:2]) / 2 + _SPARE
    return _moved(scene, it.number, left * (math.copysign(wanted, off) - off))
