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
from previz.paper.plan.key import Places
from previz.paper.plan.lists import build_list, caution_list, in_columns, lamp_list, lists, puddle_list, take_log
from previz.paper.plan.otherwise import otherwise_list
from previz.paper.plan.overhead import overhead
from previz.paper.plan.page import Maker, footed
from previz.paper.plan.setup import setup_of
from previz.paper.plan.side import side
from previz.paper.sheet import GREY, SMALL, Sheet, Table
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
    stand: dict[tuple[tuple[str, ...], ...], list[tuple[str, Sheet, Places]]] = {}  # sheets by the places they tell
    for shot in shots:
        then = as_set_up(scene, shot)
        shot = then.shot(shot.id)
        setup = setup_of(then, shot, predictions)
        above, places = overhead(maker, then, shot, setup)
        stand.setdefault(places.all.rows, []).append((shot.id, above, places))
        sheets.append(above)
        sheets.append(side(maker, then, shot, setup))
        sheets.append(card(maker, then, shot, setup, predictions, (stills or {}).get(shot.id)))
    whole, setups = with_all(scene), [setup.scene for setup in setups_of(scene)]
    careful = dict.fromkeys(
        (*predictions.cautions, *cautions_of_all(scene, making_cautions))
    )  # some are called for by both
    continued = {_continued(those, len(stand) > 1): those for those in stand.values()}
    parts = [
        *((title, in_columns(_longest(those), 3)) for title, those in continued.items()),
        ("Set up otherwise for these shots", otherwise_list(scene, shots)),
        ("To build", build_list(whole, setups)),
        ("To buy; cut as previz print shows", buying_list(whole, setups, paper)),
        ("Lamps", lamp_list(whole)),
        (_PUDDLES, in_columns(puddle_list(scene), 3)),
        ("Take care", caution_list([*careful])),
    ]
    listed, begins = lists(maker, [(title, table) for title, table in parts if table is not None])
    for title, those in continued.items():
        for _, above, places in those:
            if places.rest.rows:
                page = len(sheets) + begins[title] + 1
                left = "pieces" if len(places.rest.rows) == len(places.all.rows) else "more pieces"
                above.words(f"{len(places.rest.rows)} {left} on page {page}", places.spot, SMALL, ink=GREY)
    sheets += listed
    if len(shots) > 1:
        sheets += changeover_sheets(maker, evening_of(scene))
    sheets.append(take_log(maker, shots))
    return footed(sheets, maker)


_PUDDLES = "Puddles: middle and size, numbered as on the ground plan of previz print"


def _longest(those: Sequence[tuple[str, Sheet, Places]]) -> Table:
    """What had no room on any sheet that tells the same places: on that with least room."""
    return max((places.rest for _, _, places in those), key=lambda table: len(table.rows))


def _continued(those: Sequence[tuple[str, Sheet, Places]], of_some: bool) -> str:
    """The heading of places that had no room on the sheets of those shots."""
    named = f" for {', '.join(shot for shot, _, _ in those)}" if of_some else ""
    whole = _longest(those).rows == those[0][2].all.rows
    return f"Places of pieces{named}{'' if whole else ', continued'}"
