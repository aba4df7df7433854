"""`plan_sheets(scene)`: all sheets of a scene's plan, in the order they are used."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from previz.evening import evening_of
from previz.paper.buying import buying_list
from previz.paper.measures import tape_of
from previz.paper.papers import PAPERS, Paper
from previz.paper.plan.card import card
from previz.paper.plan.changeovers import changeover_sheets
from previz.paper.plan.lists import build_list, caution_list, in_columns, lamp_list, lists, take_log
from previz.paper.plan.overhead import overhead
from previz.paper.plan.page import Maker, footed
from previz.paper.plan.setup import setup_of, to_watch
from previz.paper.plan.side import side
from previz.paper.sheet import Sheet
from previz.predictions import Predictions, making_cautions
from previz.scene import Scene, Shot

Picture = NDArray[np.uint8]


def plan_sheets(
    scene: Scene,
    predictions: Predictions,
    shots: Sequence[Shot],
    *,
    paper: Paper = PAPERS["a4"],
    stills: Mapping[str, Picture] | None = None,
    file: str = "",
) -> list[Sheet]:
    """For each shot its plan, side view and setup card; then the lists, what is moved between shots, the log of takes.

    Parameters
    ----------
    predictions : Predictions
        Of the scene: all figures and findings on the sheets are theirs.
    shots : sequence of Shot
        Of the scene.
    stills : mapping of str to (rows, columns, 3) uint8, optional
        A picture of each shot, by its id.
    file : str
        What the scene was read from, for the foot of each sheet.
    """
    maker = Maker(paper, scene.title, file, tape_of(scene))
    sheets, places = [], None
    for shot in shots:
        setup = setup_of(scene, shot, predictions)
        above, rest = overhead(maker, scene, shot, setup)
        if places is None or rest.rows:
            places = rest
        sheets.append(above)
        sheets.append(side(maker, scene, shot, setup))
        sheets.append(card(maker, scene, shot, setup, to_watch(predictions, shot), (stills or {}).get(shot.id)))
    careful = dict.fromkeys((*predictions.cautions, *making_cautions(scene)))  # some are called for by both
    parts = [
        ("Places of pieces, continued", in_columns(places, 3) if places is not None and places.rows else None),
        ("To build", build_list(scene)),
        ("To buy; cut as previz print shows", buying_list(scene)),
        ("Lamps", lamp_list(scene)),
        ("Take care", caution_list([*careful])),
    ]
    sheets += lists(maker, [(title, table) for title, table in parts if table is not None])
    if len(shots) > 1:
        sheets += changeover_sheets(maker, evening_of(scene))
    sheets.append(take_log(maker, shots))
    return footed(sheets, maker)
