"""The set seen from above: table, road, backdrop, ramp and pieces, drawn to scale."""

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.layout import (
    LIGHT_CARDS,
    Solid,
    backdrop_plane,
    each_driven,
    ground_heights,
    holds,
    light_cards,
    pieces_of,
    puddles_of,
    ramp_of,
    road_curve,
)
from previz.paper.measures import tape_of
from previz.paper.plan.symbols import UNSEEN
from previz.paper.sheet import CHAINED, DASHED, DOTTED, GREY, MEDIUM, THICK, THIN, WHITE, View
from previz.paper.surface import rings_of, road_edges
from previz.physics.overlap import area_over
from previz.scene import Scatter, Scene

Array = NDArray[np.float64]

#: What is no higher over the ground stands on it. [m]
_OFF_GROUND = 0.001


def table_edge(scene: Scene) -> Array:
    """Corners (4, 2) of the table top, the front left one first. [m]"""
    table = scene.set.table
    return np.array([[0.0, 0.0], [table.width, 0.0], [table.width, table.depth], [0.0, table.depth]])


def backdrop_line(scene: Scene) -> Array:
    """Left and right end (2, 2) of the backdrop's sheet; (0, 2) where there is none. [m]"""
    plane = backdrop_plane(scene)
    return plane.ends if plane is not None else np.zeros((0, 2))


def draw_set(view: View, scene: Scene, seen: shapely.Geometry | None) -> None:
    """All that stands still, from what lies lowest; what of the table top is not seen is shaded first."""
    top = shapely.Polygon(table_edge(scene))
    if seen is not None:
        view.area(shapely.difference(top, seen), UNSEEN)
    _road(view, scene, top)
    for puddle in puddles_of(scene):
        view.line(puddle.outline, THIN, dashes=CHAINED, ink=GREY, closed=True)
    view.line(table_edge(scene), THICK, closed=True)
    for piece in scene.dressing:
        if isinstance(piece, Scatter):
            view.line(area_over(piece.over), THIN, dashes=DOTTED, closed=True)
    line, backdrop, plane = backdrop_line(scene), scene.set.backdrop, backdrop_plane(scene)
    if backdrop is not None and plane is not None:
        view.line(line, 2 * THICK)
        if backdrop.join.cove:
            view.line(line - plane.way(0.0, backdrop.join.cove, 0.0)[:2], THIN, dashes=DASHED)
    for each in each_driven(scene):
        _ramp(view, each)
    for solid in sorted(pieces_of(scene), key=lambda each: each.top):
        _piece(view, scene, solid)


def _road(view: View, scene: Scene, top: shapely.Geometry) -> None:
    road = scene.set.road
    if road is None:
        return
    curve = road_curve(scene)
    half = road.lane * road.lanes / 2
    lines: list[tuple[float, tuple[float, ...]]] = [(side * half, ()) for side in (-1, 1)]
    lines += [(lane * road.lane - half, DASHED) for lane in range(1, road.lanes)]
    for edge in (shape for shapes in road_edges(scene) for shape in shapes):
        for ring in rings_of(edge):
            view.line(ring, THIN)
    for left, dashes in lines:
        on_top = shapely.intersection(shapely.linestrings(curve.shifted(left).points), top)
        for part in shapely.get_parts(on_top):
            if part.geom_type == "LineString" and not part.is_empty:
                view.line(shapely.get_coordinates(part), THIN, dashes=dashes, ink=GREY)


def _ramp(view: View, scene: Scene) -> None:
    ramp = ramp_of(scene)
    if ramp is None:
        return
    view.area(ramp.footprint, WHITE)
    if ramp.block is not None:
        block = ramp.outline(*ramp.block)
        for ends in (block[[0, 2]], block[[1, 3]]):
            view.line(ends, THIN)
        view.line(block, MEDIUM, closed=True)
    view.line(ramp.footprint, THICK, closed=True)


def foot_of(scene: Scene, solid: Solid, above: float = 1e-6) -> Array:
    """Outline of what of a piece stands on the ground, or less than that above its lowest part. (k, 2) [m]"""
    leaning = {card.solid.name: card.foot for card in light_cards(scene)}
    return leaning[solid.name] if solid.name in leaning else solid.below(solid.base + above)


def lifted(scene: Scene, solid: Solid) -> float:
    """How high its lowest part is above the table, where that stands on no ground; else 0. [m]"""
    ground = float(ground_heights(scene).height([solid.at[:2]])[0])
    return solid.base if solid.base - ground > _OFF_GROUND else 0.0


def _piece(view: View, scene: Scene, solid: Solid) -> None:
    """What it takes up; where it spreads above its foot, that only thinly, for the foot is what is marked out.

    What stands on no ground is dashed: what lies under it stays to be seen.
    """
    if solid.kind not in LIGHT_CARDS and lifted(scene, solid):
        view.line(solid.footprint, THIN, dashes=DASHED, closed=True)
        return
    foot = foot_of(scene, solid)
    spreads = shapely.Polygon(solid.footprint).area > 1.05 * shapely.Polygon(foot).area
    if spreads:
        view.line(solid.footprint, THIN, closed=True)
    view.area(foot, WHITE)
    view.line(foot, MEDIUM, closed=True)


def name_of(scene: Scene, solid: Solid) -> tuple[str, ...]:
    """What a piece is called, line by line: of what stands on no ground, how high its foot or lower edge is too."""
    if solid.kind in LIGHT_CARDS:
        up = solid.at[2] if holds(scene, solid) != "edge" else None
    else:
        up = lifted(scene, solid) or None
    return (solid.name, f"{tape_of(scene)(up)} up") if up is not None else (solid.name,)


def turn_of(solid: Solid) -> str:
    """How it is turned counter-clockwise, in degrees; nothing where it is not.

    Half a degree is told, no less.
    """
    degrees = round(math.degrees(solid.turn) * 2) / 2
    degrees = 180 - (180 - degrees) % 360  # above -180, up to 180
    return f"{degrees:g}°" if degrees else ""
