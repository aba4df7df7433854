"""`plan_sheets(scene)`: all sheets of a scene's plan, in the order they are used."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from previz.evening import evening_of
from previz.paper.buying import buying_list
from previz.paper.measures import tape_of
from previz.paper.papers import Paper, usual_paper
from previz.paper.plan.card import card
from previz.paper.plan.changeovers import changeover_sheets
from previz.paper.plan.lists import build_list, caution_list, in_columns, lamp_list, lists, take_log
from previz.paper.plan.otherwise import otherwise_list
from previz.paper.plan.overhead import overhead
from previz.paper.plan.page import Maker, footed
from previz.paper.plan.setup import setup_of, to_watch
from previz.paper.plan.side import side
from previz.paper.sheet import Sheet, Table
from previz.predictions import Predictions, cautions_of_all, making_cautions
from previz.scene import Scene, Shot, as_set_up, setups_of, with_all

Picture = NDArray[np.uint8]


def plan_sheets(
    scene: Scene,
    predictions: Predictions,
    shots: Sequence[Shot],
    *,
    paper: Paper | None = None,
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
    paper : Paper, optional
        What it is printed on; that of the file's tape unless given.
    stills : mapping of str to (rows, columns, 3) uint8, optional
        A picture of each shot, by its id.
    file : str
        What the scene was read from, for the foot of each sheet.
    """
    paper = paper or usual_paper(scene.tape)
    maker = Maker(paper, scene.title, file, tape_of(scene))
    sheets: list[Sheet] = []
    places: dict[tuple[str, ...], Table] = {}  # what had no room, by the shots before which it stands so
    for shot in shots:
        then = as_set_up(scene, shot)
        shot = then.shot(shot.id)
        setup = setup_of(then, shot, predictions)
        above, rest = overhead(maker, then, shot, setup)
        if rest.rows:
            places[tuple(each.id for each in then.shots)] = rest
        sheets.append(above)
        sheets.append(side(maker, then, shot, setup))
        sheets.append(card(maker, then, shot, setup, to_watch(predictions, shot), (stills or {}).get(shot.id)))
    whole, setups = with_all(scene), [setup.scene for setup in setups_of(scene)]
    careful = dict.fromkeys(
        (*predictions.cautions, *cautions_of_all(scene, making_cautions))
    )  # some are called for by both
    parts = [
        *((_continued(names, len(names) < len(scene.shots)), in_columns(rest, 3)) for names, rest in places.items()),
        ("Set up otherwise for these shots", otherwise_list(scene, shots)),
        ("To build", build_list(whole, setups)),
        ("To buy; cut as previz print shows", buying_list(whole, setups, paper)),
        ("Lamps", lamp_list(whole)),
        ("Take care", caution_list([*careful])),
    ]
    sheets += lists(maker, [(title, table) for title, table in parts if table is not None])
    if len(shots) > 1:
        sheets += changeover_sheets(maker, evening_of(scene))
    sheets.append(take_log(maker, shots))
    return footed(sheets, maker)


def _continued(shots: tuple[str, ...], of_some: bool) -> str:
    """The heading of places that had no room on the sheets of those shots."""
    return f"Places of pieces for {', '.join(shots)}, continued" if of_some else "Places of pieces, continued"
