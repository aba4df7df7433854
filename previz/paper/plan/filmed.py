"""What is filmed and by what, seen from above: the camera with its marks, what it takes in, the vehicle's way."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from string import ascii_lowercase

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.layout import (
    VehiclePose,
    backdrop_plane,
    frame_times,
    others_of,
    travel_of,
    vehicle_on,
    vehicle_path,
    vehicle_solid,
)
from previz.paper.plan import symbols
from previz.paper.plan.labels import Label
from previz.paper.plan.seen import picture_on_table
from previz.paper.plan.setup import Setup
from previz.paper.sheet import CHAINED, DASHED, MEDIUM, THIN, Box, View, box_around
from previz.predictions import FocusMark
from previz.scene import VEHICLE, Scene

Array = NDArray[np.float64]

#: As far as a line need be drawn on any table. [m]
_FAR = 1e3

#: Between ticks, and between those that are numbered, on paper at least. [mm]
_TICK, _NUMBER = 1.4, 9.0

#: From the vehicle's side to a mark of focus, on paper. [mm]
_MARK = 1.6


@dataclass(frozen=True, eq=False)
class Tick:
    """A numbered frame of the vehicle's way: its number, its place on the sheet [mm], the direction to its left."""

    number: str
    place: Array
    left: Array


def camera_body(setup: Setup) -> list[Array]:
    """Corners (8, 3) of lens and of body, as far as the camera's sizes are known."""
    flat = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [
        setup.pupil + np.array([(x * w / 2, y * h / 2, z) for z in (front, back) for x, y in flat]) @ setup.turn.T
        for w, h, front, back in setup.view.camera.blocks
    ]


def wedge(setup: Setup, near: float, far: float) -> Array:
    """Outline (4, 2) of what the lens takes in between two distances along its axis: near left, near right, far. [m]

    At the height of the axis, between the picture's left and right edges.
    """
    spread = math.tan(setup.value("angle_of_view", "horizontal") / 2)
    corners = ((near, -1), (near, 1), (far, 1), (far, -1))
    return np.array(
        [(setup.pupil + depth * (setup.axis + side * spread * setup.turn[:, 0]))[:2] for depth, side in corners]
    )


def on_table(setup: Setup, near: float, far: float) -> Array:
    """Outline (4, 2) of what the lens takes in of the level of the table between two distances along its axis. [m]

    In the order of `wedge`, which it is for a lens that looks level. What is sharp is a slab square to the axis: where
    that leans, it meets the table nearer or further than the axis is sharp. Above and below the picture it goes on.
    """
    spread = math.tan(setup.value("angle_of_view", "horizontal") / 2)
    right, up = setup.turn[:, 0], setup.turn[:, 1]
    found = []
    for depth, side in ((near, -1), (near, 1), (far, 1), (far, -1)):
        at = setup.pupil + depth * (setup.axis + side * spread * right)
        found.append((at - up * at[2] / up[2])[:2])  # not steep, so up points up
    return np.array(found)


def draw_edges(view: View, setup: Setup, reach: Box) -> None:
    """The left and right edge of the picture as far as the drawing reaches [m]; of a steep one all, on the table."""
    if setup.steep:
        picture = picture_on_table(setup.view, setup.view.middle)
        if not picture.is_empty:
            view.line(shapely.get_coordinates(picture), MEDIUM, dashes=DASHED)
        return
    ground = _in_view(setup, reach)
    edges = wedge(setup, 0.0, _FAR)
    for ends in (edges[[0, 3]], edges[[1, 2]]):
        _line_on(view, ground, ends, dashes=DASHED)


def draw_sight(view: View, setup: Setup, reach: Box) -> None:
    """The edges of the picture, and where what is sharp meets the table, as far as the drawing reaches. [m]"""
    draw_edges(view, setup, reach)
    if setup.band is None or setup.steep:
        return
    ground = _in_view(setup, reach)
    near, far = setup.band
    band = on_table(setup, near, min(far, _FAR))
    inside = shapely.intersection(shapely.make_valid(shapely.Polygon(band)), ground)
    if not inside.is_empty:
        symbols.sharp(view, inside)
    for ends in (band[:2], band[2:]) if math.isfinite(far) else (band[:2],):
        _line_on(view, ground, ends)


def _line_on(view: View, ground: shapely.Geometry, ends: Array, dashes: tuple[float, ...] = ()) -> None:
    """What of a line between two places (2, 2) lies on an area. [m]"""
    for part in shapely.get_parts(shapely.intersection(shapely.linestrings(ends), ground)):
        if part.geom_type == "LineString" and not part.is_empty:
            view.line(shapely.get_coordinates(part), MEDIUM, dashes=dashes)


def _in_view(setup: Setup, reach: Box) -> shapely.Geometry:
    """What of the drawing is not behind the backdrop at the height of the lens. [m]"""
    plane, eye = backdrop_plane(setup.scene), setup.pupil[:2]
    if plane is None or plane.before(eye) <= 0 or setup.pupil[2] >= plane.height:
        return reach.shape
    past = eye + (plane.ends - eye) * _FAR / plane.before(eye)
    return shapely.difference(reach.shape, shapely.convex_hull(shapely.multipoints([*plane.ends, *past])))


def draw_camera(view: View, setup: Setup) -> Label:
    """Its body, its axis up to what is sharp, and the marks of its rim, its pupil and its sensor."""
    for block in camera_body(setup):
        hull = shapely.convex_hull(shapely.multipoints(block[:, :2]))
        if hull.geom_type == "Polygon":
            view.line(shapely.get_coordinates(hull), THIN)
    back = setup.pupil if setup.sensor is None else setup.sensor
    view.line([back[:2], setup.sharp[:2]], THIN, dashes=CHAINED)
    return Label((f"camera {setup.shot.camera}",), draw_marks(view, setup), bold=True)


def draw_marks(view: View, setup: Setup) -> Array:
    """The marks of rim, pupil and sensor; the outline (k, 2) around all on the sheet. [mm]"""
    return marks_at(view, setup, lambda places: np.atleast_2d(places)[:, :2])


def marks_at(view: View, setup: Setup, flat: Callable[[Array], Array]) -> Array:
    """The same however the set is looked at: flat is what is drawn of points (n, 3) of it, (n, 2). [m]"""
    pupil, ahead = view.placed(flat(np.array([setup.pupil, setup.pupil + setup.axis])))
    turn = math.atan2(*(ahead - pupil)[::-1])
    around = [symbols.circle(pupil, 2.4)]
    if setup.sensor is not None:
        sensor = view.placed(flat(setup.sensor))[0]
        symbols.sensor_mark(view.sheet, sensor.tolist(), turn)
        around.append(symbols.circle(sensor, 3.0))
    if setup.rim is not None:
        rim = view.placed(flat(setup.rim))[0]
        wide = setup.view.camera.lens_size[0] * 1000 / view.scale if setup.view.camera.lens_size else 0.0
        symbols.rim_mark(view.sheet, rim.tolist(), turn, max(wide / 2, 1.4))
        around.append(symbols.circle(rim, 1.4))
    symbols.pupil_mark(view.sheet, pupil.tolist(), turn)
    hull = shapely.convex_hull(shapely.multipoints(np.concatenate(around)))
    return np.asarray(shapely.get_coordinates(hull)[:-1])


def draw_focus_marks(view: View, setup: Setup) -> list[Tick]:
    """Where focus is at some frames: a line beside the track of what is sharp, a small square at its end, a letter.

    On the side of the track on which the vehicle has no numbers, and past the vehicle, whose name may stand in it. None
    of a shot that looks steeply down.
    """
    marks = [] if setup.steep else lettered(setup)
    if not marks:
        return []
    track = view.placed([mark.place[:2] for _, mark in marks])
    along = track[-1] - track[0]
    left = np.array([-along[1], along[0]]) / (float(np.linalg.norm(along)) or 1.0)
    reach = _MARK
    if setup.scene.vehicle is not None:
        middle = setup.view.vehicles[setup.view.middle]
        left = left if left @ _left_of(middle) >= 0 else -left
        reach += vehicle_solid(setup.scene, middle).size[1] * 500 / view.scale
    found = []
    for (letter, _), on_track in zip(marks, track, strict=True):
        end = on_track + reach * left
        view.sheet.line([on_track, end], THIN)
        symbols.focus_mark(view.sheet, end)
        found.append(Tick(letter, end, -left))
    return found


def lettered(setup: Setup) -> list[tuple[str, FocusMark]]:
    """Focus marks by their letters."""
    return list(zip(ascii_lowercase, setup.focus_marks, strict=False))


def draw_way(view: View, setup: Setup, reach: Box) -> tuple[list[Label], list[Tick]]:
    """The vehicle's way with ticks at frames, and the vehicle mid-shot and where it enters and leaves the picture."""
    scene, shown = setup.scene, setup.view
    if scene.vehicle is None:
        return [], []
    path, times, labels = vehicle_path(scene), frame_times(scene, setup.shot), []
    line = path.points
    if scene.vehicle.launch is not None:
        line = np.concatenate([[vehicle_on(path, shown.travel.distance(-1e6)).position[:2]], line])
    view.line(line, MEDIUM, dashes=CHAINED)
    for of, first, last in setup.passes() if not scene.vehicle.stands else ():
        for number, word in (
            (first, "enters" if first else "there as the shot begins"),
            (last, "leaves" if last + 1 < times.count else "still there as it ends"),
        ):
            pose = vehicle_on(path, shown.travel.distance(float(times.time(number))))
            outline = vehicle_solid(scene, pose).footprint
            symbols.vehicle_outline(view, outline, now=False)
            labels.append(Label((f"{word}, frame {number}{', ' + of if of else ''}",), view.placed(outline)))
    ticks = list(_ticks(view, setup, scene, box_around(view.placed(reach.outline)).grown(8.0)))
    labels.append(_mid_shot(view, setup, scene, "vehicle"))
    return labels, ticks


def _mid_shot(view: View, setup: Setup, scene: Scene, name: str) -> Label:
    """Draws the scene's vehicle mid-shot, with its front."""
    shown = setup.view
    middle = vehicle_on(vehicle_path(scene), travel_of(scene).distance(float(shown.times[shown.middle])))
    solid = vehicle_solid(scene, middle)
    symbols.vehicle_outline(view, solid.footprint, now=True)
    way = np.array([math.cos(middle.heading), math.sin(middle.heading)])
    front = middle.position[:2] + way * solid.size[0] / 2
    view.sheet.arrow_head(view.at(front.tolist()), way, min(2.4, solid.size[0] * 500 / view.scale))
    return Label((f"{name}, frame {int(shown.numbers[shown.middle])}",), view.placed(solid.footprint))


def draw_other_ways(view: View, setup: Setup, reach: Box) -> tuple[list[Label], list[Tick]]:
    """The ways of the vehicles beside the subject, with ticks at frames, and each of them mid-shot."""
    labels: list[Label] = []
    ticks: list[Tick] = []
    for name, other in others_of(setup.scene):
        path, travel, vehicle = vehicle_path(other), travel_of(other), other.vehicle
        assert vehicle is not None  # it is one of them
        if not vehicle.stands:
            line = path.points
            if vehicle.launch is not None:
                line = np.concatenate([[vehicle_on(path, travel.distance(-1e6)).position[:2]], line])
            view.line(line, THIN, dashes=CHAINED)
            found = list(_ticks(view, setup, other, box_around(view.placed(reach.outline)).grown(8.0)))
            # Numbers on one and the same line would be taken for the subject's.
            ticks += [] if _on_one_line(view, setup.scene, other) else found
        labels.append(_mid_shot(view, setup, other, named_vehicle(name)))
    return labels, ticks


def _on_one_line(view: View, scene: Scene, other: Scene) -> bool:
    """Whether two ways lie so near each other on paper, half-way, that their numbers would mingle."""
    if scene.vehicle is None or scene.vehicle.stands:
        return False
    own, theirs = vehicle_path(scene), vehicle_path(other)
    middle = view.placed([theirs.at(theirs.length / 2)])
    away = np.linalg.norm(view.placed(own.points) - middle, axis=1).min()
    return bool(away < _NUMBER / 2)


def named_vehicle(name: str) -> str:
    """A vehicle beside the subject, as the plan calls it: that of `vehicle:` where a shot is about another one."""
    return "usual vehicle" if name == VEHICLE else name


def _ticks(view: View, setup: Setup, scene: Scene, shown: Box) -> Iterator[Tick]:
    """Draws a short line across the way at frames, where the set is; gives those that are numbered."""
    times, travel, path = frame_times(setup.scene, setup.shot), travel_of(scene), vehicle_path(scene)
    poses = [vehicle_on(path, travel.distance(float(times.time(n)))) for n in range(times.count)]
    places = view.placed([pose.position[:2] for pose in poses])
    run = float(np.linalg.norm(np.diff(places, axis=0), axis=1).sum())
    if run < 3:
        return
    small, large = (_step(times.count * gap / run) for gap in (_TICK, _NUMBER))
    for n in range(0, times.count, small):
        left, (x, y) = _left_of(poses[n]), places[n].tolist()
        if not Box(x, y, x, y).within(shown):
            continue
        numbered = n % large == 0
        reach = (1.6 if numbered else 0.8) * left
        view.sheet.line([places[n] - reach, places[n] + reach], MEDIUM if numbered else THIN)
        if numbered:
            yield Tick(str(n), places[n], left)


def _left_of(pose: VehiclePose) -> Array:
    return np.array([-math.sin(pose.heading), math.cos(pose.heading)])


def _step(least: float) -> int:
    """The least of 1, 2, 5, 10, 20, 50, … that is no less.

    >>> _step(0.3), _step(3.2), _step(10.0), _step(11.0)
    (1, 5, 10, 20)
    """
    power = 10 ** max(math.floor(math.log10(max(least, 1.0))), 0)
    return next(power * each for each in (1, 2, 5, 10) if power * each >= least)
