"""The set from above as a figure for a page: where each of several cameras stands, and what it takes in."""

from collections.abc import Sequence

import numpy as np

from previz.paper.measures import tape_of
from previz.paper.plan.filmed import draw_edges, draw_marks, draw_other_ways, draw_way
from previz.paper.plan.labels import Label, Placing
from previz.paper.plan.laid import draw_set
from previz.paper.plan.overhead import reach_of
from previz.paper.plan.page import scale_bar
from previz.paper.plan.setup import Setup, setup_of
from previz.paper.sheet import Box, Sheet, View, box_around
from previz.predictions import Predictions
from previz.scene import Scene, Shot

#: Of the figure [mm]: its width, what is left free round the set, and room for the scale bar.
_WIDTH, _FREE, _FOOT = 180.0, 8.0, 8.0


def figure_of(panels: Sequence[tuple[str, Scene, Shot, Predictions]]) -> Sheet | None:
    """The set of the first with the camera of each, by its name; None where none of them can be laid open.

    Cameras that stand and look alike are named together.
    """
    named = [(name, setup_of(scene, shot, predictions)) for name, scene, shot, predictions in panels]
    setups = [(name, setup) for name, setup in named if setup is not None]
    if not setups:
        return None
    scene, first = panels[0][1], setups[0][1]
    reach = box_around(np.concatenate([reach_of(scene, setup).outline for _, setup in setups]))
    scale = max(reach.width / (_WIDTH - 2 * _FREE), reach.height / (0.8 * _WIDTH)) * 1000
    height = reach.height * 1000 / scale + 2 * _FREE + _FOOT
    sheet = Sheet(_WIDTH, height, "above")
    area = Box(1.0, _FOOT, _WIDTH - 1.0, height - 1.0)
    view = View.around(sheet, area, scale, reach.middle)
    draw_set(view, scene, None)
    labels, ticks = draw_way(view, first, reach)
    more = draw_other_ways(view, first, reach)
    labels, ticks = [*labels, *more[0]], [*ticks, *more[1]]
    for alike in _alike(setups):
        setup = alike[0][1]
        draw_edges(view, setup, reach)
        marks = draw_marks(view, setup)
        labels.append(Label((", ".join(name for name, _ in alike),), marks, bold=True))
    scale_bar(sheet, (area.left, 1.5), scale, tape_of(scene))
    placing = Placing.on(sheet, area)
    placing.take(*(box_around(label.outline) for label in labels if label.bold))
    for tick in ticks:
        placing.number(tick.number, tick.place, tick.left)
    placing.place(labels)
    return sheet


def _alike(setups: Sequence[tuple[str, Setup]]) -> list[list[tuple[str, Setup]]]:
    """Setups by where they stand, how they look and how much they take in."""
    found: dict[tuple[float, ...], list[tuple[str, Setup]]] = {}
    for name, setup in setups:
        angle = setup.value("angle_of_view", "horizontal")
        key = np.round([*setup.pupil, *setup.axis, angle], 4).tolist()
        found.setdefault(tuple(key), []).append((name, setup))
    return list(found.values())
