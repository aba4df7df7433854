"""The set as it is built: pieces in each other, over the edge, through the backdrop, on a lane, in the way."""

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    LIGHT_CARDS,
    MARGIN,
    SPARE,
    BackPlane,
    Solid,
    Touch,
    back_plane,
    backdrop_plane,
    clearance,
    firsts_on_the_table,
    grounded,
    in_each_other,
    least_rooms,
    on_a_lane,
    over_the_edge,
    pieces_of,
    through_the_backdrop,
    travel_of,
    vehicle_path,
    width_at,
)
from previz.physics.paths import Curve
from previz.predictions.findings import Change, Notes, Verdict, Way
from previz.predictions.places import placed, told_move, ways_to_free_places
from previz.scene import MeshPiece, Scatter, Scene

Array = NDArray[np.float64]

#: Places along the road at which a row may begin, so far apart [m]: of a metric tape, and of one in inches.
_MARKS = (0.005, 0.0254 / 4)

#: So many such places are offered.
_OFFERED = 3

#: Pieces whose bands are their very shape; of the others an overlap is only likely.
EXACT = ("container", "building", "card", "wall", "fence", *LIGHT_CARDS)


def check_set(scene: Scene) -> Notes:
    """The run, and what of the dressing stands where it cannot, or where it will be in the way."""
    notes = check_way(scene)
    if scene.dressing:
        _over_the_edge(scene, notes)
        _through_the_backdrop(scene, notes)
        _in_each_other(scene, notes)
        _on_a_lane(scene, notes)
    return notes


def check_way(scene: Scene, of: str = "") -> Notes:
    """The vehicle's run, and what of the dressing is in its way.

    of: its name, where it is another than the one that all shots are about.
    """
    notes = Notes()
    if scene.vehicle is not None:
        path, travel = vehicle_path(scene), travel_of(scene)
        notes.figure("path_length", path.length)
        if not scene.vehicle.stands:
            notes.figure("run_time", min(travel.time_at(path.length), travel.stops_at) - travel.begins)
        _in_the_way(scene, path, of, notes)
    return notes


def worst_of_each(found: Iterator[Touch]) -> list[Touch]:
    """For each entry, or pair of entries, the copy that is furthest out."""
    kept: dict[tuple[int, int], Touch] = {}
    for each in found:
        key = each.it.entry, each.other.entry if each.other is not None else -1
        if key not in kept or each.by > kept[key].by:
            kept[key] = each
    return list(kept.values())


def moved(scene: Scene, it: Solid, by: Array) -> list[Change]:
    """An entry moved, all its copies alike, where it stands at a place of its own."""
    piece: Any = scene.dressing[it.entry]
    if piece.at is None or not by.any():
        return []
    return [Change(f"dressing[{it.entry}].at", placed(scene, piece.at, np.array(piece.at[:2]) + by))]


def sure(*pieces: Solid) -> Verdict:
    """Of an overlap of these."""
    return Verdict.STOP if all(it.kind in EXACT for it in pieces) else Verdict.WATCH


# --- in the vehicle's way ---


def _in_the_way(scene: Scene, path: Curve, of: str, notes: Notes) -> None:
    """The room beside the vehicle: of all of each piece, and of what of it is solid."""
    solids, margin = grounded(scene), MARGIN / scene.vehicle_scale
    if not solids:
        return
    rooms: dict[int, tuple[float, float]] = {it.entry: (math.inf, math.inf) for it in solids}
    # The nearest first: what leaves more than they do, and enough, is not looked at.
    least, tight = least_rooms(scene, solids), math.inf
    for number in np.argsort(least, kind="stable").tolist():
        if least[number] > max(tight, margin):
            break
        it = solids[number]
        whole = clearance(scene, it)
        solid = clearance(scene, _surely_there(it)) if whole < 0 else whole
        before = rooms[it.entry]
        rooms[it.entry] = min(before[0], whole), min(before[1], solid)
        tight = min(tight, whole)
    tightest = min(rooms, key=lambda number: rooms[number])
    notes.figure("path_clearance", rooms[tightest][0], scene.dressing[tightest].id)
    for number, (room, solid) in rooms.items():
        if number == tightest or room < margin:
            _judge(scene, number, room, solid, path, of, notes)


def _surely_there(it: Solid) -> Solid:
    """What of it is there for certain: no leaves; of a mesh, in whose outline may be a gateway, the corners."""
    if it.kind != "mesh":
        return it.solid
    return replace(it, bands=tuple(replace(band, outline=one[None]) for band in it.bands for one in band.outline))


def _judge(scene: Scene, number: int, room: float, solid: float, path: Curve, of: str, notes: Notes) -> None:
    name, margin = scene.dressing[number].id, MARGIN / scene.vehicle_scale
    if room >= 0:
        where = f"leaves {scene.tape(room, 1)} beside {of or 'the vehicle'}"
    else:
        mesh = isinstance(scene.dressing[number], MeshPiece)
        unsure = ", by its outline; an opening in it is not seen" if mesh else ", with its leaves only"
        whose = f"in the way of {of}" if of else "in the vehicle's way"
        where = f"stands {scene.tape(-room)} {whose}" + ("" if solid < 0 else unsure)
    path_of = f"the path of {of}" if of else "the path"
    notes.finding(
        "set.path",
        "path_clearance",
        room,
        margin,
        Verdict.STOP if solid < 0 else Verdict.WATCH if room < margin else Verdict.FINE,
        f"{name} {where}; {scene.tape(margin, 1)} ({scene.tape(MARGIN)} at full size) are wanted.",
        f"Move {name} behind {path_of}{to_behind(scene, path, number, back_plane(scene))}.",
        changes=moved_behind(scene, path, number, back_plane(scene)),
        ways=lambda: (*ways_to_free_places(scene, number), _left_out(scene, number, path_of)),
        otherwise=f"Move {name} out of the way, or {path_of} past it{_nowhere(scene, '; ')}.",
    )


def _left_out(scene: Scene, number: int, path_of: str) -> Way:
    """Without it: what is said where it has no place that is free."""
    name = scene.dressing[number].id
    words = f"Leave {name} out, or move {path_of} past it: no place near by is free for it."
    return Way(words, (Change(f"dressing[{number}]", None),))


def _either_moved(scene: Scene, *two: Solid) -> Iterator[Way]:
    for it in two:
        yield from ways_to_free_places(scene, it.entry)


def moved_behind(scene: Scene, path: Curve, number: int, plane: BackPlane) -> list[Change]:
    """A piece moved to where all of it stands behind the path, towards a side, if it stands at a place of its own."""
    piece: Any = scene.dressing[number]
    if isinstance(piece, Scatter) or piece.at is None:
        return []
    return [Change(f"dressing[{number}].at", placed(scene, piece.at, _behind(scene, path, number, plane)))]


def to_behind(scene: Scene, path: Curve, number: int, plane: BackPlane) -> str:
    """The same in words, with a comma before; nothing where it does not stand at a place of its own."""
    piece: Any = scene.dressing[number]
    if isinstance(piece, Scatter) or piece.at is None:
        return ""
    return f", {told_move(scene, _behind(scene, path, number, plane) - np.array(piece.at[:2]))}"


def _behind(scene: Scene, path: Curve, number: int, plane: BackPlane) -> Array:
    """Where a piece stands behind the path, all of it, as seen from the side opposite. (2,) [m]"""
    length, depth, _ = next(it.size for it in pieces_of(scene) if it.entry == number)
    points = path.at(np.linspace(0.0, path.length, 200))
    room = width_at(scene, math.inf) / 2 + math.hypot(length, depth) / 2 + MARGIN / scene.vehicle_scale
    at: Any = scene.dressing[number]
    return plane.placed(plane.across(at.at), float(plane.off(points).max()) + 1.1 * room, 0.0)[:2]


# --- edge and backdrop ---


def _over_the_edge(scene: Scene, notes: Notes) -> None:
    size = np.array([scene.set.table.width, scene.set.table.depth])
    found = worst_of_each(over_the_edge(scene))
    for each in found:
        name, at = each.it.id, np.array(each.it.at[:2])
        falls = bool(np.any(at < 0) or np.any(at > size))
        notes.finding(
            f"set.edge.{name}",
            "over_edge",
            each.by,
            0.0,
            Verdict.STOP if falls else Verdict.WATCH,
            f"{_of_a_row(scene, each.it)} {'stands' if falls else 'reaches'} {scene.tape(each.by, 1)} over the edge of "
            "the table.",
            f"Move {name} {told_move(scene, each.mend)}.",
            changes=moved(scene, each.it, each.mend),
            ways=partial(_inwards, scene, each.it),
            otherwise=_inwards_said(scene, each.it),
        )
    if not found:
        notes.finding("set.edge", "over_edge", 0.0, 0.0, Verdict.FINE, "No piece reaches over the edge of the table.")


def _of_a_row(scene: Scene, it: Solid) -> str:
    """A thing by its name; of a row also which of it: the first, the last or by its number."""
    copies = sum(each.entry == it.entry for each in pieces_of(scene))
    if copies == 1:
        return it.id
    which = {1: "the first", copies: "the last"}.get(it.copy + 1, f"number {it.copy + 1}")
    return f"{it.id}, {which} of {copies},"


def _inwards(scene: Scene, it: Solid) -> Iterator[Way]:
    """Ways to have all of a piece or row on the table: elsewhere, begun elsewhere along the road, or fewer of it."""
    row: Any = scene.dressing[it.entry]
    for first in firsts_on_the_table(scene, it.entry, _MARKS[scene.tape.column == "in"])[:_OFFERED]:
        said = f"Begin the row {scene.tape(first)} along the road (first), not {scene.tape(float(row.first))}."
        yield Way(said, (Change(f"dressing[{it.entry}].first", scene.tape.written(first)),))
    yield from ways_to_free_places(scene, it.entry)
    over = {each.it.copy for each in over_the_edge(scene) if each.it.entry == it.entry}
    fewer = min(over)
    if it.copy and over == {*range(fewer, row.copies)} and fewer:
        words = (
            f"Leave the last {len(over)} of {it.id} out (copies)."
            if len(over) > 1
            else f"Leave {it.name} out (copies)."
        )
        yield Way(words, (Change(f"dressing[{it.entry}].copies", fewer),))


def _inwards_said(scene: Scene, it: Solid) -> str:
    if not _along_the_road(scene, it):
        return f"Move {it.id} inwards to where it is in nothing's way, or use a larger table."
    return f"Begin {it.id} elsewhere along the road (first), set them closer or wider (every), or use a larger table."


def _along_the_road(scene: Scene, it: Solid) -> bool:
    """Whether it is one of a row that goes by the road, and so is not moved by its place."""
    row: Any = scene.dressing[it.entry]
    return not isinstance(row, Scatter) and row.along is not None


def _through_the_backdrop(scene: Scene, notes: Notes) -> None:
    plane = backdrop_plane(scene)
    if plane is None:
        return
    found = worst_of_each(through_the_backdrop(scene))
    for each in found:
        name = each.it.id
        notes.finding(
            f"set.backdrop.{name}",
            "through_backdrop",
            each.by,
            0.0,
            Verdict.STOP if each.it.kind == "mesh" else sure(each.it),  # its outline reaches as far as it does
            f"{name} reaches {scene.tape(each.by, 1)} through the backdrop.",
            f"Move {name} {told_move(scene, each.mend)}.",
            changes=moved(scene, each.it, each.mend),
            ways=partial(ways_to_free_places, scene, each.it.entry),
            otherwise=_before_it_said(scene, each.it, plane.away),
        )
    if not found:
        message = "No piece reaches through the backdrop."
        notes.finding("set.backdrop", "through_backdrop", 0.0, 0.0, Verdict.FINE, message)


def _before_it_said(scene: Scene, it: Solid, away: str) -> str:
    """What else there is where nowhere was found: not in the way of a sheet that is hung across for some shots."""
    first, further = f"Move {it.id} {away} to where it is clear", "hang the backdrop further off"
    if _along_the_road(scene, it):
        first = f"Begin {it.id} elsewhere along the road (first)"
    if scene.set.backdrop is None or scene.set.backdrop.side == "back":
        return f"{first}, or {further}."
    return f"{first}, {further}, or leave it out where that hangs so (shot's without: [{it.id}])."


# --- in each other ---


def _in_each_other(scene: Scene, notes: Notes) -> None:
    found = worst_of_each(in_each_other(scene))
    for each in found:
        assert each.other is not None  # of two things
        first, second = each.other.id, each.it.id
        same = each.it.entry == each.other.entry
        both = f"Copies of {first}" if same else f"{first} and {second}"
        notes.finding(
            f"set.overlap.{first}.{second}",
            "overlap",
            each.by,
            0.0,
            sure(each.it, each.other),
            f"{both} stand {scene.tape(each.by, 1)} in each other.",
            f"Put {first} further apart." if same else f"Move {second} {told_move(scene, each.mend)}.",
            changes=_spaced(scene, each.other) if same else moved(scene, each.it, each.mend),
            ways=tuple if same else partial(_either_moved, scene, each.it, each.other),
            otherwise=f"Put them further apart{_nowhere(scene, ': ')}.",
        )
    if not found:
        notes.finding("set.overlap", "overlap", 0.0, 0.0, Verdict.FINE, "No pieces stand in each other.")


def _nowhere(scene: Scene, before: str) -> str:
    """That no other place holds; of a scene that no file stands behind, none was tried."""
    return f"{before}no free place was found near by" if scene.written is not None else ""


def _spaced(scene: Scene, it: Solid) -> list[Change]:
    """Copies or a row so far apart that no two can meet, whichever way they are turned."""
    piece: Any = scene.dressing[it.entry]
    apart = math.hypot(*it.solid.size[:2]) + SPARE
    if piece.along is not None:
        return [Change(f"dressing[{it.entry}].every", scene.tape.exact(apart))]
    step = np.array(piece.step)
    level = float(np.linalg.norm(step[:2]))
    longer = step * [apart / level, apart / level, 1.0] if level > 0 else step + np.array([apart, 0.0, 0.0])
    return [Change(f"dressing[{it.entry}].step", [scene.tape.exact(float(value)) for value in longer])]


# --- another lane ---


#: What stands on a road may be a road block.
_MEANT = "unless it is meant to stand there"


def _off_the_road(scene: Scene, entry: int) -> Iterator[Way]:
    for way in ways_to_free_places(scene, entry):
        yield replace(way, words=f"{way.words[:-1]}, {_MEANT}." if way.words else "")


def _on_a_lane(scene: Scene, notes: Notes) -> None:
    """What another vehicle would hit: the lanes that this one does not drive on."""
    for each in worst_of_each(on_a_lane(scene)):
        name, piece = each.it.id, scene.dressing[each.it.entry]
        alone = not isinstance(piece, Scatter | MeshPiece) and piece.copies == 1
        notes.finding(
            f"set.lane.{name}",
            "overlap",
            each.by,
            0.0,
            Verdict.WATCH,
            f"{name} stands {scene.tape(each.by, 1)} on a lane of the road that is not driven on.",
            f"Move {name} {told_move(scene, each.mend)}, off the road, {_MEANT}.",
            changes=moved(scene, each.it, each.mend) if alone else [],
            ways=partial(_off_the_road, scene, each.it.entry),
            otherwise=f"Move {name} off the road, {_MEANT}{_nowhere(scene, '; ')}.",
        )
