"""Sheets for the evening: the setups in the order of least work, and all that is moved before each, to tick off."""

from previz.evening import Changeover, EveningPlan, Move, spell
from previz.paper.plan.lists import lists
from previz.paper.plan.page import Maker
from previz.paper.sheet import Sheet, Table
from previz.units import Tape, percent

#: Of the columns; the last takes what is left. [mm]
_WIDTHS = (13.0, 55.0, 62.0, 72.0, 0.0)

#: The box that is ticked off.
_BOX = "\u25a1"


def changeover_sheets(maker: Maker, plan: EveningPlan) -> list[Sheet]:
    """What is done when; then for each setup what is moved, from where and to where."""
    parts = [(_whole(plan), _order(plan))]
    for number, change in enumerate(plan.changeovers, start=1):
        after = f", after {plan.changeovers[number - 2].shot}" if number > 1 else ", on the set as built"
        if change.moves:
            parts.append((f"{number}: {change.shot}{after}", _moves(change, maker.tape)))
    return lists(maker, parts, "changeovers", "What is moved between the shots")[0]


def _whole(plan: EveningPlan) -> str:
    sure = f"{spell(plan.enough)} will do with a chance of {percent(plan.assumed.sure)}"
    least = f"With the set built and lit, and least to move: {spell(plan.work)} for {plan.moves} moves"
    return f"{least}; with all takes {sure}"


def _order(plan: EveningPlan) -> Table:
    rows = [
        (
            str(number),
            change.shot,
            str(len(change.moves)),
            spell(change.time),
            _count(takes.enough),
            percent(takes.share),
        )
        for number, (change, takes) in enumerate(zip(plan.changeovers, plan.takes, strict=True), start=1)
    ]
    return Table(("", "shot", "moves", "they take", "takes to plan for", "good takes"), tuple(rows))


def _count(takes: float) -> str:
    return "none is enough" if takes == float("inf") else f"{takes:.0f}"


def _moves(change: Changeover, tape: Tape) -> Table:
    rows = [(_BOX, *_row(move, tape)) for move in change.moves]
    headings = ("done", "what", f"from x, y, up, {tape.unit}", f"to x, y, up, {tape.unit}", "set to")
    return Table(headings, tuple(rows), fixed=_WIDTHS)


def _row(move: Move, tape: Tape) -> tuple[str, str, str, str]:
    before, after = ("" if mark is None else mark.words(tape.bare) for mark in (move.before, move.after))
    return f"{move.does} {move.what}", before, after, move.said
