"""The lamps seen from above, each with how high it hangs and how far it is from what it faces."""

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.layout import AreaEmitter, BulbEmitter, SpotEmitter, emitters_of
from previz.paper.measures import tape_of
from previz.paper.plan import symbols
from previz.paper.plan.labels import Label
from previz.paper.sheet import DASHED, GREY, MEDIUM, THIN, Box, View, box_around
from previz.scene import Ambient, Bulb, Scene
from previz.units import Tape

Array = NDArray[np.float64]


def draw_lamps(view: View, scene: Scene) -> list[Label]:
    """All but the light of the room; one that stands off the drawing is an arrow at its edge."""
    tape = tape_of(scene)

    def told(light: Any, aim: Array | None) -> str:
        throw = "" if aim is None else f", {tape(float(np.linalg.norm(np.subtract(aim, light.at))))} to its aim"
        return f"{tape(light.at[2])} up{throw}"

    def stands(light: Any, spot: Array, goal: Array) -> str:
        return f"stands at {tape.bare(light.at[0])}, {tape.bare(light.at[1])}"

    for emitter in emitters_of(scene)[: len(scene.lights)]:
        _round_source(view, emitter)
    return lamps_drawn(view, scene, lambda places: places[:, :2], told, stands)


def lamps_drawn(
    view: View,
    scene: Scene,
    flat: Callable[[Array], Array],
    told: Callable[[Any, Array | None], str],
    stands: Callable[[Any, Array, Array], str],
) -> list[Label]:
    """The same however the set is looked at: flat is what is drawn of points (n, 3) of it, (n, 2). [m]

    told: what is said of a lamp and its aim, None of a bulb. stands: where one is that is off the drawing, by where on
    the sheet it and its aim would be. [mm]
    """
    tape, inner, labels = tape_of(scene), view.box.grown(-3.5), list[Label]()

    def placed(place: Sequence[float]) -> Array:
        return np.asarray(view.placed(flat(np.array([place], dtype=float)))[0])

    def shown(place: Sequence[float]) -> bool:
        return Box(*placed(place), *placed(place)).within(inner)

    rows = [row for row in _rows(scene) if all(shown(light.at) for light in row)]
    labels += [_row_label(view, row, flat, tape) for row in rows]
    grouped = {light.id for row in rows for light in row}
    table = scene.set.table
    for light, emitter in zip(scene.lights, emitters_of(scene), strict=False):
        if isinstance(light, Ambient):
            continue
        aim = None if isinstance(light, Bulb) else light.aim  # a bulb faces nothing
        spot, goal = placed(light.at), placed((table.width / 2, table.depth / 2, 0.0) if aim is None else aim)
        words: tuple[str, ...] = (light.id, told(light, aim))
        if not shown(light.at):
            edge = _entry(spot, goal, inner)
            _off_sheet(view, edge, spot - goal)
            labels.append(Label((*words, stands(light, spot, goal)), symbols.circle(edge, 1.8), sign=True))
            continue
        if isinstance(emitter, AreaEmitter):
            words += _lit_area(view, emitter, flat(emitter.corners), tape)
        if aim is not None:
            symbols.aim_line(view.sheet, spot, goal)
        symbols.lamp_mark(view.sheet, spot.tolist())
        if light.id not in grouped:
            labels.append(Label(words, symbols.circle(spot, 2.4), sign=True))
    return labels


#: So many lamps that are alike make a row with one name, where none is further off its line than this share of it.
_ROW, _OFF_LINE = 4, 0.1


def _rows(scene: Scene) -> list[list[Any]]:
    """Lamps that are alike and stand in a row, in its order: they are named together."""
    alike: dict[str, list[Any]] = {}
    for light in scene.lights:
        if not isinstance(light, Ambient):
            what = light.model_dump(exclude={"id", "at", "aim"})
            alike.setdefault(f"{type(light).__name__} {what}", []).append(light)
    return [lights for lights in alike.values() if len(lights) >= _ROW and _in_a_row([light.at for light in lights])]


def _in_a_row(places: Sequence[Sequence[float]]) -> bool:
    """Whether places follow each other along a line seen from above.

    >>> _in_a_row([(0, 0, 1), (1, 0.05, 2), (2, 0, 1), (3, 0, 1)]), _in_a_row([(0, 0, 1), (2, 0, 1), (1, 0, 1)])
    (True, False)
    """
    flat = np.array(places)[:, :2]
    span = flat[-1] - flat[0]
    long = float(np.linalg.norm(span))
    if long < 1e-6:
        return False
    along, off = (flat - flat[0]) @ span / long, (flat - flat[0]) @ np.array([-span[1], span[0]]) / long
    return bool((np.diff(along) > 0).all() and np.abs(off).max() <= _OFF_LINE * long)


def _row_label(view: View, row: Sequence[Any], flat: Callable[[Array], Array], tape: Tape) -> Label:
    """One name for a row of lamps: which, in what order, and how high they are; flat as above."""
    places = np.array([light.at for light in row], dtype=float)
    spots = view.placed(flat(places))
    across, back = (places[-1] - places[0])[:2].tolist()
    if abs(across) >= abs(back):
        way = "right to left" if across < 0 else "left to right"
    else:
        way = "back to front" if back < 0 else "front to back"
    low, high = float(places[:, 2].min()), float(places[:, 2].max())
    up = tape(high) if tape(low) == tape(high) else f"{tape.bare(low)} to {tape(high)}"
    circles = tuple(symbols.circle(spot, 2.4) for spot in spots)
    hull = shapely.convex_hull(shapely.multipoints(np.concatenate(circles)))
    told = f"{row[0].id} to {row[-1].id}, {way}", f"{len(row)} lamps, {up} up"
    return Label(told, shapely.get_coordinates(hull)[:-1], signs=circles)


def _lit_area(view: View, emitter: AreaEmitter, flat: Array, tape: Tape) -> tuple[str, ...]:
    """Draw a lamp's lit area, its corners (4, 2) as they are looked at [m]; in words where the drawing is too small.

    Cut off, it would be lines round the set that nobody takes for a lamp.
    """
    corners = view.placed(shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(flat))))
    if box_around(corners).within(view.box):
        view.sheet.line(corners, THIN, dashes=DASHED, ink=GREY)
        return ()
    wide, high = (2 * float(np.linalg.norm(half)) for half in (emitter.half_u, emitter.half_v))
    return (f"lit area {tape.bare(wide)} × {tape(high)}",)


def _round_source(view: View, emitter: object) -> None:
    if isinstance(emitter, SpotEmitter | BulbEmitter):
        turn = np.arange(24) * math.pi / 12
        radius = emitter.radius if isinstance(emitter, BulbEmitter) else emitter.size / 2
        ring = np.array(emitter.centre[:2]) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
        view.line(ring, THIN, closed=True)


def _entry(outside: Array, inside: Array, box: Box) -> Array:
    """Where the way from a place outside a box to one inside enters it; the nearest place of the box otherwise."""
    way = shapely.intersection(shapely.linestrings([outside, inside]), box.shape)
    points = shapely.get_coordinates(way)
    if len(points):
        return np.asarray(points[0])
    return np.clip(outside, [box.left, box.low], [box.right, box.high])


def _off_sheet(view: View, edge: Array, way: Array) -> None:
    """An arrow at the edge of a drawing towards what stands off it."""
    view.sheet.line([edge, edge - _unit(way) * 9], MEDIUM)
    view.sheet.arrow_head(edge, way, 4.0)


def _unit(way: Array) -> Array:
    return way / (float(np.linalg.norm(way)) or 1.0)
