"""The road surface as shapes to print and cut: its carriageway and its painted lines, on the table and no further."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.layout import Strip, dashes, half_road, road_curve, road_lines, roadside_of
from previz.physics.paths import Curve
from previz.scene import Scene

Array = NDArray[np.float64]

_STEP = 0.005  # between points along a curved edge, at most [m]; a bend of 0.3 m leaves its chord by 0.01 mm


@dataclass(frozen=True)
class RoadSurface:
    """What is printed of a road.

    Parameters
    ----------
    carriageway : shape
        From edge to edge. [m]
    lines : tuple of shape
        Painted lines, a broken one in its dashes. [m]
    kerbs, pavements : tuple of shape
        Rows of kerb stones, and the slabs behind them; beside the carriageway. [m]
    """

    carriageway: Any
    lines: tuple[Any, ...]
    kerbs: tuple[Any, ...] = ()
    pavements: tuple[Any, ...] = ()


def table_top(scene: Scene) -> Any:
    """The table top as a shape. [m]"""
    return shapely.box(0.0, 0.0, scene.set.table.width, scene.set.table.depth)


def road_surface(scene: Scene) -> RoadSurface | None:
    """The scene's road as far as it lies on the table; None without one."""
    road, span = scene.set.road, road_on_table(scene)
    if road is None or span is None:
        return None
    curve, top = road_curve(scene), table_top(scene)
    lines = []
    for each in road_lines(road, scene.scale):
        for begins, ends in dashes(curve.length, scene.scale) if each.broken else [(0.0, curve.length)]:
            part = shapely.intersection(_band(curve, begins, ends, each.left, each.width / 2), top)
            if not part.is_empty:
                lines.append(part)
    kerbs, pavements = road_edges(scene)
    carriageway = shapely.intersection(road_band(scene, curve, 0.0, curve.length), top)
    return RoadSurface(carriageway, tuple(lines), kerbs, pavements)


def road_edges(scene: Scene) -> tuple[tuple[Any, ...], tuple[Any, ...]]:
    """Kerbs and pavements of the scene's road, each as far as it lies on the level table. [m]"""
    side = roadside_of(scene)
    if side.curve is None:
        return (), ()
    level = shapely.box(*side.low, *side.high)

    def between(strip: Strip, inner: float, outer: float) -> Any:
        assert side.curve is not None  # looked at above
        middle, half = strip.side * (inner + outer) / 2, (outer - inner) / 2
        return shapely.intersection(_band(side.curve, 0.0, side.curve.length, middle, half), level)

    kerbs = [between(strip, strip.face, strip.back) for strip in side.strips]
    paved = [between(strip, strip.back, strip.outer) for strip in side.strips if strip.paved]
    return tuple(each for each in kerbs if not each.is_empty), tuple(each for each in paved if not each.is_empty)


def road_on_table(scene: Scene) -> tuple[float, float] | None:
    """Where along the road's middle its carriageway comes on to the table, and leaves it for good. [m]"""
    road = scene.set.road
    if road is None:
        return None
    curve, half, table = road_curve(scene), half_road(road, scene.scale), scene.set.table
    along = np.linspace(0.0, curve.length, max(int(curve.length / 0.002), 2) + 1)
    x, y = curve.at(along).T
    near = np.hypot(x - np.clip(x, 0, table.width), y - np.clip(y, 0, table.depth)) < half
    return (float(along[near][0]), float(along[near][-1])) if near.any() else None


def road_band(scene: Scene, curve: Curve, begins: float, ends: float) -> Any:
    """The carriageway between two places along the road's middle [m], on the table or not."""
    assert scene.set.road is not None  # asked of sets with a road
    return _band(curve, begins, ends, 0.0, half_road(scene.set.road, scene.scale))


def _band(curve: Curve, begins: float, ends: float, left: float, half: float) -> Any:
    along = np.linspace(begins, ends, max(int((ends - begins) / _STEP), 1) + 1)
    middle, turns = curve.at(along), curve.heading(along)
    aside = np.stack([-np.sin(turns), np.cos(turns)], axis=-1)
    one, other = middle + (left + half) * aside, middle + (left - half) * aside
    # Piece by piece: on the inside of a bend that is too tight for the band an outline of it all would cross itself.
    quads = np.stack([one[:-1], other[:-1], other[1:], one[1:]], axis=1)
    whole = shapely.polygons(np.concatenate([one, other[::-1]]))
    return whole if whole.is_valid else shapely.union_all(shapely.make_valid(shapely.polygons(quads)))


def rings_of(shape: Any) -> list[Array]:
    """Every outline (n, 2) of the polygons of a shape, holes too, the first point repeated at the end."""
    polygons = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    return [shapely.get_coordinates(ring) for part in polygons for ring in (part.exterior, *part.interiors)]
