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
    tape, labels = tape_of(scene), list[Label]()
    rows = [row for row in lamp_rows(scene) if all(_shown(view, light.at) for light in row)]
    labels += [row_label(view, row, lambda places: places[:, :2], tape) for row in rows]
    grouped = {light.id for row in rows for light in row}
    for light, emitter in zip(scene.lights, emitters_of(scene), strict=False):
        if isinstance(light, Ambient):
            continue
        bare = isinstance(light, Bulb)  # it faces nothing
        aim = (scene.set.table.width / 2, scene.set.table.depth / 2, 0.0) if bare else light.aim
        spot, goal = np.array(view.at(light.at)), np.array(view.at(aim))
        throw = float(np.linalg.norm(np.subtract(aim, light.at)))
        told: tuple[str, ...] = (light.id, f"{tape(light.at[2])} up" + ("" if bare else f", {tape(throw)} to its aim"))
        inner = view.box.grown(-3.5)
        if not _shown(view, light.at):
            edge = entry(spot, goal, inner)
            off_sheet(view, edge, spot - goal)
            labels.append(
                Label(
                    (*told, f"stands at {tape.bare(light.at[0])}, {tape.bare(light.at[1])}"),
                    symbols.circle(edge, 1.8),
                    sign=True,
                )
            )
            continue
        if isinstance(emitter, AreaEmitter):
            told += lit_area(view, emitter, emitter.corners[:, :2], tape)
        _round_source(view, emitter)
        if not bare:
            symbols.aim_line(view.sheet, spot, goal)
        symbols.lamp_mark(view.sheet, spot.tolist())
        if light.id not in grouped:
            labels.append(Label(told, symbols.circle(spot, 2.4), sign=True))
    return labels


def _shown(view: View, place: Sequence[float]) -> bool:
    """Whether a lamp's sign is on the drawing."""
    x, y = view.at(place)
    return Box(x, y, x, y).within(view.box.grown(-3.5))


#: So many lamps that are alike make a row with one name, where none is further off its line than this share of it.
_ROW, _OFF_LINE = 4, 0.1


def lamp_rows(scene: Scene) -> list[list[Any]]:
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


def row_label(view: View, row: Sequence[Any], flat: Callable[[Array], Array], tape: Tape) -> Label:
    """One name for a row of lamps: which, in what order, and how high they are; flat as for `marks_at`."""
    places = np.array([light.at for light in row], dtype=float)
    spots = view.placed(flat(places))
    step = places[-1] - places[0]
    ways = ("left to right", "right to left") if abs(step[0]) >= abs(step[1]) else ("front to back", "back to front")
    way = ways[int(step[0 if abs(step[0]) >= abs(step[1]) else 1] < 0)]
    low, high = tape.bare(float(places[:, 2].min())), tape(float(places[:, 2].max()))
    up = high if tape(float(places[:, 2].min())) == high else f"{low} to {high}"
    circles = tuple(symbols.circle(spot, 2.4) for spot in spots)
    hull = shapely.convex_hull(shapely.multipoints(np.concatenate(circles)))
    told = f"{row[0].id} to {row[-1].id}, {way}", f"{len(row)} lamps, {up} up"
    return Label(told, shapely.get_coordinates(hull)[:-1], signs=circles)


def lit_area(view: View, emitter: AreaEmitter, flat: Array, tape: Tape) -> tuple[str, ...]:
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


def entry(outside: Array, inside: Array, box: Box) -> Array:
    """Where the way from a place outside a box to one inside enters it; the nearest place of the box otherwise."""
    shape = shapely.box(box.left, box.low, box.right, box.high)
    way = shapely.intersection(shapely.linestrings([outside, inside]), shape)
    points = shapely.get_coordinates(way)
    if len(points):
        return np.asarray(points[0])
    return np.clip(outside, [box.left, box.low], [box.right, box.high])


def off_sheet(view: View, edge: Array, way: Array) -> None:
    """An arrow at the edge of a drawing towards what stands off it."""
    view.sheet.line([edge, edge - _unit(way) * 9], MEDIUM)
    view.sheet.arrow_head(edge, way, 4.0)


def _unit(way: Array) -> Array:
    return way / (float(np.linalg.norm(way)) or 1.0)
