"""Sheets to buy, as a list."""

from previz.paper.measures import tape_of
from previz.paper.sheet import Table
from previz.paper.stock import stock_of
from previz.scene import Scene
from previz.sheet_sizes import SHEETS

#: Ways to buy the same that are told: the best, and the best of the other family of sizes.
_WAYS = 2


def buying_list(scene: Scene) -> Table:
    """What of card and board to buy: for each material the best size of sheet, and others that will do."""
    tape = tape_of(scene)
    rows = []
    for ways in stock_of(scene):
        for number, each in enumerate(ways[:_WAYS]):
            size = " × ".join(tape.bare(side) for side in each.size)
            joins = str(len(each.joins)) if each.joins else "none"
            what = each.material if number == 0 else "or"
            source = SHEETS[each.sheet].source
            rows.append((what, f"{each.count} {each.sheet}", size, joins, f"{each.waste:.0%}", source))
    return Table(("material", "buy", f"a sheet, {tape.unit}", "joins", "left over", "size from"), tuple(rows))
