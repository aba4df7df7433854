"""The set seen from the side, to scale: how high lens, lamps, ramp and backdrop are, and how far the camera is tilted.

Seen from the right of the table, or from its front where the camera looks along the table: whichever shows the lens
axis less foreshortened.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.layout import (
    LIGHT_CARDS,
    PutUp,
    RampShape,
    Solid,
    backdrop_plane,
    cross_section,
    each_driven,
    light_cards,
    pieces_of,
    ramp_of,
)
from previz.paper.measures import tape_of
from previz.paper.plan import symbols
from previz.paper.plan.filmed import (
    camera_body,
    marks_at,
    named_vehicle,
)
from previz.paper.plan.labels import Label, Placing
from previz.paper.plan.laid import lifted, name_of
from previz.paper.plan.lit import lamps_drawn
from previz.paper.plan.page import Maker, aside, scale_bar, scale_for
from previz.paper.plan.setup import Setup
from previz.paper.sheet import (
    CHAINED,
    DASHED,
    GREY,
    MEDIUM,
    THICK,
    THIN,
    WHITE,
    Box,
    Sheet,
    Stroke,
    View,
    box_around,
)
from previz.scene import Ambient, Scene, Shot

Array = NDArray[np.float64]

#: What dimension lines and names take up round the drawing: left, low, right, high. [mm]
_AROUND = (14.0, 22.0, 14.0, 10.0)

#: A lamp makes the drawing reach so many times as far, at most.
_GROWN = 2.2

_FAR = 1e3
_BELOW = 0.06  # so much is drawn below the table top, at least [m]


@dataclass(frozen=True)
class _Side:
    """Which way the set is looked at: across is the axis that runs to the right of the drawing."""

    across: int
    words: str

    def flat(self, points: Array) -> Array:
        """Points (n, 3) of the set as they are drawn (n, 2). [m]"""
        return np.asarray(np.atleast_2d(points)[:, [self.across, 2]])


def side(maker: Maker, scene: Scene, shot: Shot, setup: Setup | None) -> Sheet:
    """The sheet."""
    along_table = setup is not None and abs(setup.axis[0]) > abs(setup.axis[1])
    looked = (
        _Side(0, "seen from the front") if along_table else _Side(1, "seen from the right, the front is at the left")
    )
    sheet, room = maker.sheet(f"side-{shot.id}", f"Side view · {shot.id}")
    inner = Box(room.left + _AROUND[0], room.low + _AROUND[1], room.right - _AROUND[2], room.high - _AROUND[3])
    reach = _reach(scene, setup, looked, inner.width / inner.height)
    scale = scale_for(reach.width, reach.height, inner, tape_of(scene))
    x, y = np.array(reach.middle) - (np.array(inner.middle) - np.array([room.left, room.low])) * scale / 1000
    view = View(sheet, room, scale, (float(x), float(y)))
    labels = _draw(view, scene, setup, looked)
    before = len(sheet.marks)
    _dimensions(view, scene, setup, looked, reach)
    bar = scale_bar(sheet, (room.left, room.low), scale, tape_of(scene))
    placing = Placing.on(sheet, room)
    placing.take(bar)
    placing.keep_off([mark for mark in sheet.marks[before:] if isinstance(mark, Stroke)])
    placing.keep_out([view.placed(ring) for shape in _standing(scene, looked) for ring in _rings(shape)])
    placing.place(labels)
    aside(sheet, f"drawn 1:{scale:g}  ·  models 1:{scene.scale:g}  ·  {looked.words}")
    return sheet


def _reach(scene: Scene, setup: Setup | None, looked: _Side, shape: float) -> Box:
    """What of the set must be on the drawing; a lamp too, unless it made all else much smaller. [m]"""
    table, plane, ramp = scene.set.table, backdrop_plane(scene), ramp_of(scene)
    points = [np.array([[0.0, 0.0, -_BELOW], [table.width, table.depth, 0.0]])]
    points += [solid.corners() for solid in pieces_of(scene)]
    if plane is not None:
        points.append(plane.placed(0.0, plane.distance, plane.height)[None])
    if ramp is not None:
        foot = ramp.footprint
        points.append(np.column_stack([foot, np.full(len(foot), float(ramp.line[0, 1]))]))
    if setup is not None:
        points += [*(place[None] for _, place in setup.marks), *camera_body(setup)]
    core = box_around(looked.flat(np.concatenate(points)))
    first = core
    lamps = [np.array([light.at]) for light in scene.lights if not isinstance(light, Ambient)]
    for lamp in lamps:
        grown = box_around(np.concatenate([core.outline, looked.flat(lamp)]))
        if max(grown.width, grown.height * shape) <= _GROWN * max(first.width, first.height * shape):
            core = grown
    return core


def _draw(view: View, scene: Scene, setup: Setup | None, looked: _Side) -> list[Label]:
    """From what lies furthest to what is nearest; what is to be named."""
    labels = [*_set(view, scene, looked)]
    for each in each_driven(scene):
        of = "" if each.subject == scene.subject else f" of {named_vehicle(each.subject)}"
        labels += _ramp(view, each, looked, f"ramp{of}")
    if setup is not None:
        labels += _sight(view, setup, looked)
        labels += _vehicle(view, setup, looked)
    labels += [*_lamps(view, scene, looked), *_cards(view, scene, looked), *_lifted(view, scene, looked)]
    if setup is not None:
        labels.append(_camera(view, setup, looked))
    return labels


def _set(view: View, scene: Scene, looked: _Side) -> list[Label]:
    table, backdrop, plane, labels = scene.set.table, scene.set.backdrop, backdrop_plane(scene), []
    end = (table.width, table.depth)[looked.across]
    for shape in _standing(scene, looked):
        view.area(shape, "#f2f2f2")
        for outline in _rings(shape):
            view.line(outline, THIN, closed=True, ink=GREY)
    view.line([(0, 0), (end, 0)], 2 * THICK)
    for x in (0.04 * end, 0.96 * end):  # its legs, broken off
        view.line([(x, 0), (x, -_BELOW)], MEDIUM, dashes=DASHED)
    if backdrop is not None and plane is not None:
        if looked.across == plane.axis:
            sheet = cross_section(backdrop)
            line = looked.flat(plane.placed(0.0, sheet.off, sheet.z))
        else:
            left, right = sorted(plane.ends[:, looked.across].tolist())
            line = np.array([[left, 0.0], [left, backdrop.height], [right, backdrop.height], [right, 0.0]])
        view.line(line, THICK)
        labels.append(Label(("backdrop",), view.placed(line)))
    return labels


def _standing(scene: Scene, looked: _Side) -> list[shapely.Geometry]:
    """Outlines of all pieces. [m] Cards for light as they lean, not in steps."""
    leaning = {card.solid.name for card in light_cards(scene)}
    upright = [shadow(solid, looked.flat) for solid in pieces_of(scene) if solid.name not in leaning]
    return upright + [_board(card, looked) for card in light_cards(scene)]


def _board(card: PutUp, looked: _Side) -> shapely.Geometry:
    """A card for light seen from the side. [m]"""
    corners = [card.middle + np.array(ends) @ card.half for ends in product((-1.0, 1.0), repeat=3)]
    return shapely.convex_hull(shapely.multipoints(looked.flat(np.array(corners))))


def _cards(view: View, scene: Scene, looked: _Side) -> list[Label]:
    """Names of the cards for light."""
    return [
        Label(name_of(scene, card.solid), view.placed(shapely.get_coordinates(_board(card, looked).envelope)[:-1]))
        for card in light_cards(scene)
    ]


def _lifted(view: View, scene: Scene, looked: _Side) -> list[Label]:
    """Names of the pieces that stand on no ground, with how high their feet are."""
    return [
        Label(name_of(scene, solid), view.placed(ring))
        for solid in pieces_of(scene)
        if solid.kind not in LIGHT_CARDS and lifted(scene, solid)
        for ring in _rings(shadow(solid, looked.flat))[:1]
    ]


def shadow(solid: Solid, flat: Callable[[Array], Array]) -> shapely.Geometry:
    """Its outline seen from the side."""
    boxes = []
    for outline, low, high in solid.prisms:
        ends = flat(np.column_stack([outline, np.zeros(len(outline))]))[:, 0]
        boxes.append(shapely.box(float(ends.min()), low, float(ends.max()), high))
    return shapely.union_all(boxes)


def _rings(shape: shapely.Geometry) -> list[Array]:
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    return [shapely.get_coordinates(part.exterior)[:-1] for part in parts]


def _sight(view: View, setup: Setup, looked: _Side) -> list[Label]:
    """The upper and lower edge of the picture, the lens axis, and the band that is sharp."""
    spread = math.tan(setup.value("angle_of_view", "vertical") / 2)
    table = setup.scene.set.table
    under = shapely.box(0.0, -_FAR, (table.width, table.depth)[looked.across], 0.0)
    reach = shapely.difference(_drawn(view, setup).shape, under)

    def edge(depth: float, up: float) -> Array:
        return looked.flat(setup.pupil + depth * (setup.axis + up * spread * setup.turn[:, 1]))[0]

    for up, dashes, weight in ((1.0, DASHED, MEDIUM), (-1.0, DASHED, MEDIUM), (0.0, CHAINED, THIN)):
        ray = shapely.intersection(shapely.linestrings([edge(0.0, up), edge(_FAR, up)]), reach)
        for part in shapely.get_parts(ray):
            if part.geom_type == "LineString" and not part.is_empty:
                view.line(shapely.get_coordinates(part), weight, dashes=dashes)
    if setup.band is None:
        return []
    near, far = setup.band
    ends = [np.array([edge(depth, -1.0), edge(depth, 1.0)]) for depth in (near, min(far, _FAR))]
    band = shapely.intersection(shapely.make_valid(shapely.Polygon(np.concatenate([ends[0], ends[1][::-1]]))), reach)
    if band.is_empty:
        return []
    symbols.sharp(view, band)
    for line in ends if math.isfinite(far) else ends[:1]:
        for part in shapely.get_parts(shapely.intersection(shapely.linestrings(line), reach)):
            if part.geom_type == "LineString" and not part.is_empty:
                view.line(shapely.get_coordinates(part), MEDIUM)
    return [Label(("sharp",), view.placed(shapely.get_coordinates(band.envelope)[:-1]))]


def _drawn(view: View, setup: Setup) -> Box:
    """Where on the drawing a picture's edges are worth drawing: up to the backdrop. [m]"""
    box = view.box
    (left, low), (right, high) = (
        (np.array(corner) - np.array([box.left, box.low])) * view.scale / 1000 + view.corner
        for corner in ((box.left, box.low), (box.right, box.high))
    )
    plane = backdrop_plane(setup.scene)
    looked = 1 if abs(setup.axis[1]) >= abs(setup.axis[0]) else 0
    if plane is not None and looked == plane.axis and plane.before(setup.pupil) > 0:
        left, right = (left, min(right, plane.at)) if plane.sign > 0 else (max(left, plane.at), right)
    return Box(float(left), max(float(low), -_BELOW), float(right), float(high))


def _vehicle(view: View, setup: Setup, looked: _Side) -> list[Label]:
    if setup.scene.vehicle is None:
        return []
    middle, labels = setup.view.middle, list[Label]()
    for solid in setup.view.vehicle_solids(middle):
        outline = _rings(shadow(solid, looked.flat))[0]
        symbols.vehicle_outline(view, outline, now=True)
        called = "vehicle" if solid.kind == solid.id and len(labels) == 0 else named_vehicle(solid.id)
        around = box_around(view.placed(outline)).grown(THICK)  # it stands on the broad line of the table top
        labels.append(Label((f"{called}, frame {int(setup.view.numbers[middle])}",), around.outline))
    return labels


def _ramp(view: View, scene: Scene, looked: _Side, name: str) -> list[Label]:
    ramp = ramp_of(scene)
    if ramp is None:
        return []
    along = ramp.line[:, 0]
    parts = []
    if ramp.block is not None:
        low = max(ramp.block_foot, -_BELOW)
        block = _bar(ramp, np.array(ramp.block), np.full(2, low), ramp.underside(np.array(ramp.block)), looked)
        view.area(block, WHITE)
        view.hatch(block, turn=-45, step=1.2)
        parts.append(block)
    ends = np.stack([along[:-1], along[1:]], axis=1)
    sheet = shapely.union_all([_bar(ramp, each, ramp.underside(each), ramp.height(each), looked) for each in ends])
    view.area(sheet, WHITE)
    for outline in (outline for part in (*parts, sheet) for outline in _rings(part)):
        view.line(outline, MEDIUM, closed=True)
    return [Label((name,), view.placed(_rings(sheet)[0]))]


def _bar(ramp: RampShape, ends: Array, low: Array, high: Array, looked: _Side) -> shapely.Geometry:
    """Outline of a part of the ramp over all its width, between two places along it, from low to high at each. [m]"""
    half = ramp.width / 2
    corners = [
        (*place, z)
        for end, *heights in zip(ends, low, high, strict=True)
        for place in ramp.placed(np.array([[end, -half], [end, half]])).tolist()
        for z in heights
    ]
    return shapely.convex_hull(shapely.multipoints(looked.flat(np.array(corners))))


def _lamps(view: View, scene: Scene, looked: _Side) -> list[Label]:
    tape, high = tape_of(scene), view.box.grown(-3.5).high

    def stands(light: Any, spot: Array, goal: Array) -> str:
        if spot[1] > high:
            return "off the sheet"
        return ("to the right", "further off")[looked.across] if spot[0] > goal[0] else "nearer to you"

    return lamps_drawn(view, scene, looked.flat, lambda light, aim: f"{tape(light.at[2])} up", stands)


def _camera(view: View, setup: Setup, looked: _Side) -> Label:
    for block in camera_body(setup):
        hull = shapely.convex_hull(shapely.multipoints(looked.flat(block)))
        view.line(shapely.get_coordinates(hull), THIN)
    lines = (f"camera {setup.shot.camera}", f"tilt: {tilt_words(setup)}")
    return Label(lines, marks_at(view, setup, looked.flat))


def tilt_words(setup: Setup) -> str:
    """How far the lens looks down or up, mid-shot."""
    tilt = math.degrees(math.asin(float(np.clip(setup.axis[2], -1.0, 1.0))))
    return "level" if abs(tilt) < 0.05 else f"{abs(tilt):.1f}° {'down' if tilt < 0 else 'up'}"


def _dimensions(view: View, scene: Scene, setup: Setup | None, looked: _Side, reach: Box) -> None:
    """How high the lens axis and the backdrop are, how far along the camera and the backdrop stand."""
    tape, sheet = tape_of(scene), view.sheet
    edge = box_around(view.placed(reach.outline))
    zero = view.at((0.0, 0.0))
    plane = backdrop_plane(scene)
    if plane is not None:
        x = plane.at if looked.across == plane.axis else float(plane.ends[:, looked.across].max())
        foot, top = view.at((x, 0.0)), view.at((x, plane.height))
        sheet.dimension(foot, top, tape(plane.height), -(edge.right - foot[0] + 6))
        if looked.across == plane.axis:
            opposite = view.at((0.0 if plane.sign > 0 else plane.long, 0.0))
            left, right = sorted([opposite[0], foot[0]])
            sheet.dimension((left, zero[1]), (right, zero[1]), tape(plane.distance), edge.low - zero[1] - 5)
    if setup is None:
        return
    x, y = view.placed(looked.flat(setup.measured))[0].tolist()
    sheet.dimension((x, zero[1]), (x, y), tape(float(setup.measured[2])), x - edge.left + 6)
    if abs(x - zero[0]) > 0.5:
        left, right = sorted([x, zero[0]])
        sheet.dimension(
            (left, zero[1]), (right, zero[1]), tape(abs(float(setup.measured[looked.across]))), edge.low - zero[1] - 11
        )
