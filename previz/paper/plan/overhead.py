"""The plan seen from above, to scale. Away from you is up; places are from the table's front left corner."""

from collections import Counter

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    BackPlane,
    Solid,
    backdrop_plane,
    each_driven,
    pieces_of,
    ramp_of,
)
from previz.paper.measures import tape_of
from previz.paper.plan import symbols
from previz.paper.plan.filmed import (
    Tick,
    camera_body,
    draw_camera,
    draw_focus_marks,
    draw_other_ways,
    draw_sight,
    draw_way,
    named_vehicle,
)
from previz.paper.plan.key import Places, draw_key
from previz.paper.plan.labels import Label, Placing
from previz.paper.plan.laid import backdrop_line, draw_set, name_of, table_edge
from previz.paper.plan.lit import draw_lamps
from previz.paper.plan.page import Maker, aside, scale_bar, scale_for
from previz.paper.plan.seen import table_seen
from previz.paper.plan.setup import Setup
from previz.paper.sheet import SMALL, THIN, Box, Sheet, Stroke, View, box_around
from previz.scene import Scene, Shot

#: The column at the right; what dimension lines take up round the drawing: left, low, right, high. [mm]
_COLUMN, _AROUND = 76.0, (17.0, 20.0, 13.0, 9.0)
_MARK = 1.1  # round the middle of a mark of focus, on paper
_BESIDE = 1.5  # what lies nearer to a line on paper is taken for a part of it
_MORE = 6.0  # above, where the place of a backdrop is told there

#: More copies in a row than this are numbered at its ends only; more names are not tried, nor more numbers placed.
_LONG_ROW, _NAMES, _NUMBERS = 4, 60, 120


def overhead(maker: Maker, scene: Scene, shot: Shot, setup: Setup | None) -> tuple[Sheet, Places]:
    """The sheet, and the places of pieces with what of them had no room on it."""
    sheet, room = maker.sheet(f"plan-{shot.id}", f"Plan · {shot.id}")
    area = Box(room.left, room.low, room.right - _COLUMN - 5, room.high)
    plane = backdrop_plane(scene)
    above = _AROUND[3] + (_MORE if plane is not None and plane.axis == 0 and _measured(plane) else 0.0)
    inner = Box(area.left + _AROUND[0], area.low + _AROUND[1], area.right - _AROUND[2], area.high - above)
    reach = reach_of(scene, setup)
    scale = scale_for(reach.width, reach.height, inner, tape_of(scene))
    x, y = np.array(reach.middle) - (np.array(inner.middle) - np.array([area.left, area.low])) * scale / 1000
    view = View(sheet, area, scale, (float(x), float(y)))
    numbered = _draw(view, scene, setup, reach)
    aside(sheet, f"drawn 1:{scale:g}  ·  models 1:{scene.scale:g}  ·  up is away from you")
    return sheet, draw_key(sheet, Box(room.right - _COLUMN, room.low, room.right, room.high), scene, setup, numbered)


def reach_of(scene: Scene, setup: Setup | None) -> Box:
    """What of the set must be on the drawing: table, backdrop, ramp and camera; a lamp may stand off it. [m]"""
    points = [table_edge(scene), backdrop_line(scene)]
    points += [ramp.footprint for each in each_driven(scene) if (ramp := ramp_of(each)) is not None]
    if setup is not None:
        points += [setup.way.positions[:, :2]]
        points += [place[None, :2] for _, place in setup.marks]
        points += [block[:, :2] for block in camera_body(setup)]
    return box_around(np.concatenate(points))


def _draw(view: View, scene: Scene, setup: Setup | None, reach: Box) -> bool:
    """The drawing from what lies lowest to what is written last; whether pieces go by numbers, not names."""
    draw_set(view, scene, table_seen(setup.view) if setup is not None else None)
    labels: list[Label] = []
    ticks: list[Tick] = []
    if setup is not None:
        draw_sight(view, setup, reach)
        labels, ticks = draw_way(view, setup, reach)
        more = draw_other_ways(view, setup, reach)
        labels, ticks = [*labels, *more[0]], [*ticks, *more[1]]
        ticks = [*draw_focus_marks(view, setup), *ticks]
    labels += draw_lamps(view, scene)
    measured: list[Stroke] = []
    if setup is not None:
        before = len(view.sheet.marks)
        symbols.camera_way(view.sheet, view.placed(setup.way.positions[:, :2]))
        measured += _strokes(view.sheet, before)
        labels.append(draw_camera(view, setup))
    before = len(view.sheet.marks)
    _dimensions(view, scene, setup, reach)
    measured += _strokes(view.sheet, before)
    bar = scale_bar(view.sheet, (view.box.left, view.box.low), view.scale, tape_of(scene))
    return _names(view, scene, setup, labels, ticks, measured, bar)


def _strokes(sheet: Sheet, before: int) -> list[Stroke]:
    """Lines that were drawn since there were so many marks on the sheet."""
    return [mark for mark in sheet.marks[before:] if isinstance(mark, Stroke)]


def _measured(plane: BackPlane) -> bool:
    """Whether where the backdrop stands is not just where the table ends."""
    return abs(plane.distance - plane.long) > 1e-4


def _dimensions(view: View, scene: Scene, setup: Setup | None, reach: Box) -> None:
    """Of the table above and at the left, the backdrop beyond those, the camera's lens below and at the right."""
    tape, sheet, table = tape_of(scene), view.sheet, scene.set.table
    edge = box_around(view.placed(reach.outline))
    corner, across, back = view.at((0, 0)), view.at((table.width, 0)), view.at((0, table.depth))
    sheet.dimension(back, (across[0], back[1]), tape(table.width), edge.high - back[1] + 4)
    sheet.dimension(corner, back, tape(table.depth), corner[0] - edge.left + 5)
    plane = backdrop_plane(scene)
    if plane is not None and _measured(plane):
        ends = plane.placed(0.0, np.array([0.0, plane.distance]), 0.0)[:, plane.axis]
        if plane.axis == 1:
            begin, end = (view.at((0, y)) for y in sorted(ends.tolist()))
            sheet.dimension(begin, end, tape(plane.distance), corner[0] - edge.left + 11)
        else:
            begin, end = (view.at((x, table.depth)) for x in sorted(ends.tolist()))
            sheet.dimension(begin, end, tape(plane.distance), edge.high - back[1] + 10)
    if setup is None:
        return
    x, y = view.at(setup.measured.tolist())
    way = view.placed(setup.way.positions[:, :2])
    along, up = (tape(abs(float(each))) for each in setup.measured[:2])
    low = min([corner[1], y, *way[np.abs(way[:, 0] - x) < _BESIDE, 1]])  # no line lies along the camera's way
    if abs(x - corner[0]) > 0.5:
        left, right = sorted([corner[0], x])
        sheet.dimension((left, low), (right, low), along, edge.low - low - 6)
    if abs(y - corner[1]) > 0.5:
        base, (lower, upper) = max(across[0], x), sorted([corner[1], y])
        sheet.dimension((base, lower), (base, upper), up, base - edge.right - 6)
        past = max([x, *way[np.abs(way[:, 1] - y) < _BESIDE, 0]])
        if base > past:
            sheet.line([(past + 3, y), (base, y)], THIN)


def _names(
    view: View,
    scene: Scene,
    setup: Setup | None,
    labels: list[Label],
    ticks: list[Tick],
    measured: list[Stroke],
    bar: Box,
) -> bool:
    """Everything's name where it covers nothing, least of all what is measured; whether pieces had to be numbered.

    measured: dimension lines and the camera's way. bar: the scale's, which no name may cover, with its words on the
    sheet.
    """
    placing = Placing.on(view.sheet, view.box)
    outlines = [view.placed(solid.footprint) for solid in pieces_of(scene)]
    placing.keep_off(measured)
    placing.take(bar)
    if setup is not None:
        for _, place in setup.marks:
            x, y = view.at(place.tolist())
            placing.take(Box(x, y, x, y).grown(2.6))
        placing.take_signs(labels)
        placing.keep_out(outlines)
        # No name stands on a mark of focus, nor the letter of the next.
        placing.take(*(_around_mark(tick.place) for tick in ticks if tick.number.isalpha()))
        for tick in ticks:
            placing.number(tick.number, tick.place, tick.left)
    line = view.placed(backdrop_line(scene))
    for each in each_driven(scene):
        ramp, of = ramp_of(each), "" if each.subject == scene.subject else f" of {named_vehicle(each.subject)}"
        if ramp is not None:
            labels.append(Label((f"ramp{of}",), view.placed(ramp.footprint)))
    if len(line):
        labels.append(Label(("backdrop",), np.concatenate([line, line[::-1] + 0.05])))
    placing.keep_out([*(() if setup is not None else outlines), *(label.outline for label in labels)])
    placing.place(labels)
    named = _named(scene)
    pieces = [Label(name_of(scene, solid), outlines[n]) for n, solid in named]
    numbered = len(named) > _NAMES or not placing.fits(pieces)
    if numbered:
        pieces = [Label((str(n + 1),), outlines[n], ringed=True) for n, _ in named]
    left = len(placing.place(pieces[:_NUMBERS])) + len(pieces[_NUMBERS:])
    if left:
        told = f"{left} piece{'s' * (left > 1)} without a number, for want of room"
        view.sheet.words(told, (view.box.right, view.box.low), SMALL, align="right")
    return numbered


def _around_mark(place: NDArray[np.float64]) -> Box:
    """What a mark of focus takes up on the sheet."""
    x, y = place.tolist()
    return Box(x, y, x, y).grown(_MARK)


def _named(scene: Scene) -> list[tuple[int, Solid]]:
    """What gets a name or number, with its place in the list, the largest first: of a long row its two ends."""
    solids = list(enumerate(pieces_of(scene)))
    copies = Counter(solid.entry for _, solid in solids)
    found = [
        (n, solid)
        for n, solid in solids
        if copies[solid.entry] <= _LONG_ROW or solid.copy in (0, copies[solid.entry] - 1)
    ]
    return sorted(found, key=lambda each: -each[1].size[0] * each[1].size[1])
