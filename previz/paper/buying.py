"""Sheets to buy, as a list."""

from collections.abc import Iterator, Sequence

from previz.paper.built import only_then
from previz.paper.measures import tape_of
from previz.paper.papers import Paper
from previz.paper.sheet import Table
from previz.paper.stock import Stock, stock_of
from previz.scene import Scene
from previz.sheet_sizes import SHEETS, counted
from previz.units import Tape, percent

#: Ways to buy the same that are told.
_WAYS = 2


def buying_list(scene: Scene, then: Sequence[Scene] = (), paper: Paper | None = None) -> Table:
    """What of card and board to buy: for each material the best size of sheet, and others that will do.

    then: the scenes of its setups; a backdrop or ramp that only they have is bought apart. paper: what is printed on.
    """
    tape = tape_of(scene)
    rows = [row for ways in stock_of(scene, paper=paper) for row in _ways(ways, "", tape)]
    for what, only, name in only_then(scene, then):
        # Other vehicles' ramps come by themselves where they too are otherwise.
        alone = only.model_copy(update={"vehicles": None}) if what == "ramp" else only
        rows += [row for ways in stock_of(alone, {what}, paper) for row in _ways(ways, f", {name}", tape)]
    return Table(("material", "buy", f"a sheet, {tape.unit}", "joins", "left over", "size from"), tuple(rows))


def _ways(ways: Sequence[Stock], told: str, tape: Tape) -> Iterator[tuple[str, ...]]:
    """Rows of one material; told: what it is for, where that is not all."""
    for number, each in enumerate(ways[:_WAYS]):
        size = " × ".join(tape.bare(side) for side in each.size)
        joins = str(len(each.joins)) if each.joins else "none"
        what = f"{each.material}{told}" if number == 0 else "or"
        yield what, counted(each.count, each.sheet), size, joins, percent(each.waste), SHEETS[each.sheet].source
