"""The painting guide of a backdrop at life size: what is painted down to where, horizon, bends and joins.

It shows the sheet laid flat, as it is painted: x from its left edge seen from the set, y along it from its foot.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from previz.layout import cross_section, flat_size
from previz.paper.contours import covered
from previz.paper.joins import Join
from previz.paper.measures import tape_of
from previz.paper.plan.labels import Label
from previz.paper.prints.parts import Part, ink_of, label_of
from previz.paper.sheet import CHAINED, DASHED, DOTTED, GREY, MEDIUM, THICK, THIN, View
from previz.scene import Scene
from previz.stage import PaintedLayer, painted_layers

#: Outlines are kept as near as this to what is painted. [m]
_WITHIN = 0.0002


@dataclass(frozen=True, eq=False)
class _Line:
    """A line of the guide as a shape [m], how it is drawn, and what it is."""

    shape: Any
    weight: float
    dashes: tuple[float, ...]
    said: str


def painting_guide(scene: Scene, joins: Sequence[Join]) -> Part | None:
    """The part; None where the scene has no backdrop with layers painted on it."""
    layers = painted_layers(scene)
    if scene.set.backdrop is None or not layers:
        return None
    width, length = flat_size(scene)
    sheet = shapely.box(0.0, 0.0, width, length)
    outlines = [_Line(shape, MEDIUM, (), f"{layer.layer.shape} {ink_of(layer.colour)}")
                for layer, shape in _outlines(layers, width, length)]  # fmt: skip
    lines = [*outlines, *_marks(scene, joins, width, length)]
    something = shapely.union_all([line.shape for line in outlines])
    if something.is_empty:
        return None

    def draw(view: View) -> None:
        view.line([(0, 0), (width, 0), (width, length), (0, length)], MEDIUM, closed=True)
        for line in lines:
            for part in shapely.get_parts(line.shape):
                ink = GREY if line.dashes == DOTTED else "#000000"
                view.line(shapely.get_coordinates(part), line.weight, ink=ink, dashes=line.dashes)

    def labels(view: View) -> list[Label]:
        found = [label_of(view, (line.said,), line.shape, bold=False) for line in lines]
        return [label for label in found if label is not None]

    return Part(
        "backdrop", "Painting guide of the backdrop",
        "Lay the backdrop flat, trace the lines on to it and paint far things first. Places are measured from its "
        "lower left corner seen from the set: x to the right, y along the sheet from its foot, round the bend.",
        sheet, something, draw, labels,
    )  # fmt: skip


def _outlines(layers: Sequence[PaintedLayer], width: float, length: float) -> Iterator[tuple[PaintedLayer, Any]]:
    """What is seen of each layer's outline past those in front of it, without the sheet's own edges."""
    shapes = [covered(layer.cover, width, length, 0.5, _WITHIN) for layer in layers]
    inside = shapely.box(0.0, 0.0, width, length).buffer(-2 * _WITHIN, join_style="mitre")
    for number, (layer, shape) in enumerate(zip(layers, shapes, strict=True)):
        nearer = shapely.union_all(shapes[number + 1 :]) if shapes[number + 1 :] else None
        line = shapely.intersection(shapely.boundary(shape), inside)
        seen = line if nearer is None else shapely.difference(line, nearer.buffer(_WITHIN))
        yield layer, shapely.line_merge(seen) if seen.geom_type == "MultiLineString" else seen


def _marks(scene: Scene, joins: Sequence[Join], width: float, length: float) -> Iterator[_Line]:
    """The horizon, where the sheet bends, and where it is joined."""
    backdrop, tape = scene.set.backdrop, tape_of(scene)
    assert backdrop is not None and backdrop.painting is not None  # asked of a backdrop that is painted
    sheet, cove = cross_section(backdrop), backdrop.join.cove
    if 0.0 < backdrop.painting.horizon < backdrop.height:
        along = float(np.interp(backdrop.painting.horizon, sheet.z, sheet.along))
        said = f"horizon, {tape(backdrop.painting.horizon)} over the table, y {tape(along)}"
        yield _Line(_level(along, width), THIN, CHAINED, said)
    if cove > 0:
        bend = float(cove * np.pi / 2)
        yield _Line(_level(bend, width), THIN, DASHED, f"the bend ends, y {tape(bend)}")
    for join in joins:
        line = shapely.linestrings([(join.at, 0.0), (join.at, length)]) if join.upright else _level(join.at, width)
        behind = f", behind {', '.join(join.hidden_by[:2])}" if join.hidden_by else ""
        yield _Line(line, THICK, DOTTED, f"join, {'x' if join.upright else 'y'} {tape(join.at)}{behind}")


def _level(along: float, width: float) -> Any:
    return shapely.linestrings([(0.0, along), (width, along)])
