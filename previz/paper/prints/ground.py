"""The ground plan at life size: where everything on the table stands."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from previz.layout import (
    LIGHT_CARDS,
    BackPlane,
    RampShape,
    Solid,
    backdrop_plane,
    frame_times,
    light_cards,
    others_of,
    pieces_of,
    puddles_of,
    ramp_of,
    travel_of,
    vehicle_on,
    vehicle_path,
    vehicle_solid,
    way_of_camera,
)
from previz.paper.measures import other_scale, tape_of
from previz.paper.plan.filmed import named_vehicle
from previz.paper.plan.labels import Label
from previz.paper.plan.laid import foot_of, lifted, name_of
from previz.paper.prints.parts import Part, label_of
from previz.paper.sheet import BLACK, CHAINED, DASHED, DOTTED, GREY, MEDIUM, THICK, THIN, View
from previz.paper.surface import rings_of, road_surface, table_top
from previz.physics.overlap import area_over
from previz.scene import Bulb, Panel, Scatter, Scene, Spot

Array = NDArray[np.float64]

_BENDS = "cove begins"
_MARK = 0.004  # radius of a mark for a camera or a lamp [m]
_AXIS = 0.060  # of the line that tells where it looks [m]
_TICK = 0.006  # half a tick across the path [m]
_ARROWS = 0.2  # between arrows along the path [m]
_DRAWN = 0.0002  # half a line's width [m]
_FOOT = 0.001  # what of a thing is its foot: so much of its height [m]

#: Which way the front of a piece faces in its own frame, where it has one.
_FRONTS = {"building": (0.0, -1.0), "sign": (-1.0, 0.0), **dict.fromkeys(("card", *LIGHT_CARDS), (0.0, -1.0))}


def ground_plan(scene: Scene) -> Part | None:
    """The part; None where nothing stands on the table."""
    drawing = _Ground(scene)
    something = drawing.something
    if something.is_empty:
        return None
    return Part(
        "ground", "Ground plan",
        "Lay it on the table. Places are measured from the table's front left corner: x to the right, y away from you. "
        "A camera's mark is under the middle of its lens, which the plan tells beside the front rim of its lens.",
        table_top(scene), something, drawing.draw, drawing.labels,
    )  # fmt: skip


def off_table(scene: Scene) -> tuple[tuple[str, str, str, str], ...]:
    """What stands beside the table, and so on no page of the ground plan: its name, x, y and up, off a tape.

    Measured from the table's front left corner, as all else.
    """
    tape, found = tape_of(scene), [mark for mark in _Ground(scene).marks if mark.beside.any()]
    places = [(*(mark.at + mark.beside).tolist(), mark.up) for mark in found]
    return tuple((mark.what, tape(x), tape(y), tape(up)) for mark, (x, y, up) in zip(found, places, strict=True))


@dataclass(frozen=True, eq=False)
class _Mark:
    """Where a camera, lamp or card stands, or hangs over; beside the table, the place on its edge that is next to it.

    what is its name, told how far it is from there, way where it looks, up its height above the table top [m].
    """

    what: str
    told: str
    at: Array
    way: Array
    lamp: bool
    beside: Array
    up: float


class _Ground:
    def __init__(self, scene: Scene) -> None:
        self.scene, self.tape = scene, tape_of(scene)
        self.top = table_top(scene)
        self.pieces, self.ramp, self.road = pieces_of(scene), ramp_of(scene), road_surface(scene)
        self.path, self.marks = self._path(scene), tuple(self._marks())
        #: Name, path, ramp and, where it stands for good, footprint of each of the other vehicles.
        self.others = [
            (named_vehicle(name), self._path(other), ramp_of(other), self._parked(other))
            for name, other in others_of(scene)
        ]
        self.moments = tuple(self._moments())

    @property
    def something(self) -> Any:
        """Footprints, ramp, path, puddles and marks, as far as they lie on the table.

        Of a road without lines its edges too: it has no pages of its own.
        """
        shapes = [_shape(solid.footprint) for solid in self.pieces]
        shapes += [_shape(puddle.outline) for puddle in puddles_of(self.scene)]
        if self.road is not None and not self.road.lines:
            edges = (self.road.carriageway, *self.road.kerbs, *self.road.pavements)
            shapes += [shapely.buffer(shapely.linestrings(ring), _DRAWN) for edge in edges for ring in rings_of(edge)]
        if self.ramp is not None:
            shapes.append(_shape(self.ramp.footprint))
        if self.parked is not None:
            shapes.append(_shape(self.parked.footprint))
        # As wide as it is drawn: what has no width could lie between two pages, and be on neither.
        paths = [self.path, *(path for _, path, _, _ in self.others)]
        shapes += [shapely.buffer(path, _DRAWN) for path in paths if path is not None]
        shapes += [_shape(each.footprint) for _, _, *two in self.others for each in two if each is not None]
        shapes += [shapely.Point(*mark.at).buffer(_MARK) for mark in self.marks if not mark.beside.any()]
        return shapely.intersection(shapely.union_all(shapes), self.top)

    def _path(self, scene: Scene) -> Any:
        """The vehicle's path as far as it lies on the table, as a shape of lines. [m]"""
        if scene.vehicle is None or scene.vehicle.stands:
            return None
        way = vehicle_path(scene)
        line = shapely.linestrings(way.at(np.linspace(0.0, way.length, max(int(way.length / 0.005), 1) + 1)))
        seen = shapely.intersection(line, self.top)
        return None if seen.is_empty else seen

    @property
    def parked(self) -> Solid | None:
        """The vehicle where it stands still for good; None where it drives."""
        return self._parked(self.scene)

    def _parked(self, scene: Scene) -> Solid | None:
        if scene.vehicle is None or not scene.vehicle.stands:
            return None
        return vehicle_solid(scene, vehicle_on(vehicle_path(scene), 0.0))

    def _moments(self) -> Iterator[tuple[str, Array, Array]]:
        """Where the vehicle's middle is as each shot begins and ends: what it is called, place, direction."""
        if self.scene.vehicle is None or self.scene.vehicle.stands:
            return
        way, travel = vehicle_path(self.scene), travel_of(self.scene)
        for shot in self.scene.shots:
            frames = frame_times(self.scene, shot)
            for number, said in ((0, "begins"), (frames.count, "ends")):
                time = float(frames.time(number))
                along = float(travel.distance(time))
                if 0.0 <= along <= way.length:
                    turn = float(way.heading(along))
                    yield f"{shot.id} {said}", way.at(along), np.array([np.cos(turn), np.sin(turn)])

    def _marks(self) -> Iterator[_Mark]:
        for shot in self.scene.shots:
            goes = way_of_camera(self.scene, shot)
            moves = bool(np.linalg.norm(goes.positions[0] - goes.positions[-1]) > 1e-4)
            for number, when in ((0, "begins"), (-1, "ends")) if moves else ((0, ""),):
                name = " ".join(filter(None, ("camera", shot.id, when)))
                yield self._mark(name, goes.positions[number], -goes.turns[number, :, 2], lamp=False)
        for light in self.scene.lights:
            if isinstance(light, Panel | Spot | Bulb):
                way = (0.0, 0.0, 0.0) if isinstance(light, Bulb) else np.subtract(light.aim, light.at)
                yield self._mark(f"lamp {light.id}", light.at, way, lamp=True)
        for card in light_cards(self.scene):
            if not shapely.intersects(_shape(card.solid.footprint), self.top):
                yield self._mark(f"{card.solid.kind} {card.solid.name}", card.solid.at, card.frame[2], lamp=True)

    def _mark(self, what: str, place: ArrayLike, way: ArrayLike, *, lamp: bool) -> _Mark:
        x, y, z = np.asarray(place, dtype=float).tolist()
        table = self.scene.set.table
        at = np.array([min(max(x, 0.0), table.width), min(max(y, 0.0), table.depth)])
        beside = np.array([x, y]) - at
        told = [f"{self.tape(z)} up"]
        for off, less, more in ((beside[0], "left", "right"), (beside[1], "in front", "behind")):
            if abs(off) > 1e-9:
                told.append(f"{self.tape(abs(off))} {less if off < 0 else more}")
        flat = np.asarray(way, dtype=float)[:2]
        size = float(np.linalg.norm(flat))
        return _Mark(what, ", ".join(told), at, flat / size if size > 1e-6 else np.zeros(2), lamp, beside, z)

    # --- drawing ---

    def draw(self, view: View) -> None:
        """Lines, the large things first."""
        self._set(view)
        for solid in self.pieces:
            self._piece(view, solid)
        if self.ramp is not None:
            self._ramp(view, self.ramp)
        if self.parked is not None:
            view.line(self.parked.footprint, MEDIUM, closed=True)
        if self.path is not None:
            self._way(view, self.scene, self.path)
        for (_, path, ramp, parked), (_, other) in zip(self.others, others_of(self.scene), strict=True):
            if ramp is not None:
                self._ramp(view, ramp)
            if parked is not None:
                view.line(parked.footprint, MEDIUM, closed=True)
            if path is not None:
                self._way(view, other, path)
        for _, at, way in self.moments:
            aside = np.array([-way[1], way[0]]) * _TICK
            view.line([at - aside, at + aside], MEDIUM)
        for mark in self.marks:
            self._camera_or_lamp(view, mark)

    def _set(self, view: View) -> None:
        table = self.scene.set.table
        view.line([[0, 0], [table.width, 0], [table.width, table.depth], [0, table.depth]], MEDIUM, closed=True)
        if self.road is not None:
            for shape in (self.road.carriageway, *self.road.kerbs, *self.road.pavements):
                for ring in rings_of(shape):
                    view.line(ring, THIN, ink=GREY)
        for puddle in puddles_of(self.scene):
            view.line(puddle.outline, THIN, ink=GREY, dashes=CHAINED, closed=True)
        for piece in self.scene.dressing:
            if isinstance(piece, Scatter):
                view.line(area_over(piece.over), THIN, ink=GREY, dashes=DOTTED, closed=True)
        plane = backdrop_plane(self.scene)
        if plane is not None:
            for said, off in self._backdrop(plane):
                ends = plane.placed([-plane.half, plane.half], off, 0.0)
                view.line(ends[:, :2], MEDIUM, dashes=DASHED if said == _BENDS else ())

    def _backdrop(self, plane: BackPlane) -> Iterator[tuple[str, float]]:
        """What of the backdrop lies across the table, and how far from the edge opposite. [m]"""
        backdrop = self.scene.set.backdrop
        cove = backdrop.join.cove if backdrop is not None else 0.0
        for said, off in (("backdrop", plane.distance), (_BENDS, plane.distance - cove)):
            if off <= plane.long and (said != _BENDS or cove > 0):
                yield said, off

    def _piece(self, view: View, solid: Solid) -> None:
        foot, outline = foot_of(self.scene, solid, _FOOT), solid.footprint
        if solid.kind not in LIGHT_CARDS and lifted(self.scene, solid):
            view.line(outline, THIN, dashes=DASHED, closed=True)  # nothing of it stands on the table
            return
        if shapely.area(_shape(outline)) > 1.02 * shapely.area(_shape(foot)):
            view.line(outline, THIN, dashes=DASHED, closed=True)
        view.line(foot, MEDIUM, closed=True)
        front = _FRONTS.get(solid.kind)
        if front is not None:
            c, s = np.cos(solid.turn), np.sin(solid.turn)
            way = np.array([[c, -s], [s, c]]) @ front
            aside, size = np.array([-way[1], way[0]]), min(solid.size[0], solid.size[1], 0.008)
            ahead = (solid.size[1] if front[1] else solid.size[0]) / 2
            if solid.kind in LIGHT_CARDS:  # it stands on the edge of its face
                ahead = size = 0.006
            tip = np.array(solid.at[:2]) + way * ahead
            view.area([tip, tip - way * size * 0.6 + aside * size / 2, tip - way * size * 0.6 - aside * size / 2],
                      BLACK)  # fmt: skip

    def _ramp(self, view: View, ramp: RampShape) -> None:
        view.line(ramp.footprint, MEDIUM, closed=True)
        _, right, left, _ = ramp.footprint
        view.line([right, left], THICK)
        if ramp.block is not None:
            view.line(ramp.outline(*ramp.block), THIN, dashes=DASHED, closed=True)

    def _way(self, view: View, scene: Scene, path: Any) -> None:
        """The path, with arrows along it."""
        way = vehicle_path(scene)
        for part in shapely.get_parts(path):
            view.line(shapely.get_coordinates(part), MEDIUM, dashes=CHAINED)
        for along in np.arange(_ARROWS / 2, way.length, _ARROWS):
            tip, turn = way.at(along), float(way.heading(along))
            ahead = np.array([np.cos(turn), np.sin(turn)])
            aside = np.array([-ahead[1], ahead[0]])
            if shapely.contains(self.top, shapely.Point(*tip)):
                view.area([tip, tip - 0.005 * ahead + 0.0015 * aside, tip - 0.005 * ahead - 0.0015 * aside], BLACK)

    def _camera_or_lamp(self, view: View, mark: _Mark) -> None:
        if mark.beside.any():
            out = mark.beside / np.linalg.norm(mark.beside)
            aside = np.array([-out[1], out[0]]) * _MARK
            view.line([mark.at - out * 3 * _MARK, mark.at], MEDIUM)
            view.area([mark.at, mark.at - out * 2 * _MARK + aside, mark.at - out * 2 * _MARK - aside], BLACK)
            return
        turn = np.linspace(0.0, 2 * np.pi, 5 if mark.lamp else 33)[:-1] + (np.pi / 4 if mark.lamp else 0.0)
        view.line(mark.at + _MARK * np.column_stack([np.cos(turn), np.sin(turn)]), MEDIUM, closed=True)
        for way in np.eye(2):
            view.line([mark.at - way * 1.5 * _MARK, mark.at + way * 1.5 * _MARK], THIN)
        view.line([mark.at, mark.at + mark.way * _AXIS], THIN, dashes=CHAINED)

    # --- names ---

    def labels(self, view: View) -> list[Label]:
        """Of what a view shows."""
        found: list[tuple[tuple[str, ...], Any, bool]] = []
        for solid in self.pieces:
            scale = other_scale(self.scene, self.scene.scale_of(self.scene.dressing[solid.entry]))
            told = (*name_of(self.scene, solid), *filter(None, (scale,)))
            found.append((told, _shape(solid.footprint), False))
        if self.ramp is not None:
            high = self.tape(float(self.ramp.height(np.array([-self.ramp.length]))[0]))
            found.append(
                (("ramp, its foot on the thick line", f"high end {high} up"), _shape(self.ramp.footprint), True)
            )
        if self.parked is not None:
            found.append((("vehicle",), _shape(self.parked.footprint), True))
        for name, _, ramp, parked in self.others:
            if ramp is not None:
                high = self.tape(float(ramp.height(np.array([-ramp.length]))[0]))
                found.append(((f"ramp of {name}", f"high end {high} up"), _shape(ramp.footprint), True))
            if parked is not None:
                found.append(((name,), _shape(parked.footprint), True))
        for what, at, _ in self.moments:
            found.append(((what,), shapely.Point(*at).buffer(0.002), False))
        for mark in self.marks:
            found.append(((mark.what, mark.told), shapely.Point(*mark.at).buffer(1.5 * _MARK), True))
        for number, puddle in enumerate(puddles_of(self.scene), start=1):
            found.append(((f"puddle {number}",), _shape(puddle.outline), False))
        for piece in self.scene.dressing:
            if isinstance(piece, Scatter):
                edge = shapely.get_exterior_ring(_shape(area_over(piece.over)))
                found.append(
                    ((f"{piece.id}: {piece.count} {piece.scatter}",), shapely.intersection(edge, self.top), False)
                )
        found += [((said,), line, False) for said, line in self._lines()]
        return [label for lines, shape, bold in found if (label := label_of(view, lines, shape, bold=bold)) is not None]

    def _lines(self) -> Iterator[tuple[str, Any]]:
        """Lines that run across the table, and what they are."""
        plane = backdrop_plane(self.scene)
        if plane is not None:
            for said, off in self._backdrop(plane):
                ends = plane.placed([-plane.wide / 2, plane.wide / 2], off, 0.0)[:, :2]
                where = f"{'xy'[plane.axis]} {self.tape(float(ends[0, plane.axis]))}"
                yield f"{said}, {where}", shapely.linestrings(ends)
        if self.path is not None:
            yield "path", self.path
        yield from ((f"path of {name}", path) for name, path, _, _ in self.others if path is not None)


def _shape(outline: Array) -> Any:
    return shapely.polygons(outline) if len(outline) > 2 else shapely.linestrings(outline)
