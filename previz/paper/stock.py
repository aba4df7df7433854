"""What is cut from sheets of card and board: how many to buy of which size, and what lies where on them.

A backdrop or ramp that is larger than a sheet is joined, edge to edge. Of one size, the layout with the fewest
sheets is taken, of those the fewest joins. Of the sizes, those that need no join come first, and what is sold to
printers alone last; then fewest sheets, fewest joins, what shops keep, least paper. Common practice, no source.
"""

import math
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import pairwise, product

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.layout import (
    each_driven,
    launch_of,
    pieces_of,
    ramp_of,
    road_curve,
)
from previz.paper.built import called
from previz.paper.joins import Join, Looks, parts
from previz.paper.measures import tape_of
from previz.paper.packing import Blank, Laid, laid_on_sheets, least_sheets, sheets_needed
from previz.paper.papers import Paper, usual_paper
from previz.paper.surface import road_band, road_on_table, table_top
from previz.scene import Card, Scene, Sign
from previz.sheet_sizes import IN_SHOPS, SHEETS, TO_PRINTERS, boards, counted, sheet_called
from previz.stage import sign_face
from previz.units import percent

Array = NDArray[np.float64]

#: Left free along the edges of a sheet, which may be that much smaller than its size: half of what ISO 216 allows
#: above 600 mm (from memory). [m]
EDGE = 0.0015

#: What a cut takes: of a knife in card, with room to trim; of a fine saw in board. Common practice, no source. [m]
KNIFE, SAW = 0.001, 0.002

#: More sheets than this side by side are no backdrop. Common practice, no source.
MOST_STRIPS = 12


@dataclass(frozen=True)
class Stock:
    """Sheets of one size, and what is cut from them.

    Parameters
    ----------
    material : str
        What they are of: `card`, or board of some thickness.
    sheet : str
        The size's name in `sheet_sizes.SHEETS`.
    laid : tuple of Laid
        What lies where.
    joins : tuple of Join
        In what is larger than a sheet.
    least : int
        Sheets that the area alone needs: no layout has fewer.
    """

    material: str
    sheet: str
    laid: tuple[Laid, ...]
    joins: tuple[Join, ...]
    least: int

    @property
    def count(self) -> int:
        """Sheets to buy."""
        return 1 + max(each.sheet for each in self.laid)

    @property
    def size(self) -> tuple[float, float]:
        """Short and long side of a sheet. [m]"""
        return SHEETS[self.sheet].short, SHEETS[self.sheet].long

    @property
    def paper(self) -> float:
        """Area of all sheets. [m2]"""
        return self.count * self.size[0] * self.size[1]

    @property
    def waste(self) -> float:
        """Share of the paper that is left over."""
        return 1 - sum(each.blank.area for each in self.laid) / self.paper

    @property
    def words(self) -> str:
        """What to buy, and what it costs in paper and joins."""
        joined = f", {len(self.joins)} join{'s' if len(self.joins) > 1 else ''}" if self.joins else ""
        return f"{counted(self.count, sheet_called(self.sheet))}{joined}, {percent(self.waste)} left over"


#: What is cut from sheets.
CUT = frozenset({"backdrop", "road", "pieces", "ramp"})


def stock_of(scene: Scene, only: Collection[str] = CUT, paper: Paper | None = None) -> tuple[tuple[Stock, ...], ...]:
    """For each material the ways to buy it, the best first.

    Each way is a size of sheet of the paper's own family, metric or of the US trade. Empty where nothing is cut from
    sheets.

    only: of `CUT`, what is bought for; paper: what is printed on, which is sold where the maker buys; that of the
    file's tape unless given.
    """
    found = []
    backdrop = scene.set.backdrop if "backdrop" in only else None
    looks = Looks(scene, backdrop) if backdrop is not None else None
    for material, cut, wanted in _materials(scene, looks, only):
        family = boards((paper or usual_paper(scene.tape)).metric)
        fits = [each for sheet in family if (each := _best_of(material, sheet, cut, wanted)) is not None]
        found.append(tuple(sorted((_looked_at(each, looks) for each in fits) if looks else fits, key=_to_buy)))
    return tuple(each for each in found if each)


def _to_buy(stock: Stock) -> tuple[bool, bool, int, int, bool, float]:
    """The order in which sizes are offered."""
    joins = len(stock.joins)
    return joins > 0, stock.sheet in TO_PRINTERS, stock.count, joins, stock.sheet not in IN_SHOPS, stock.paper


def _laid_best(stock: Stock) -> tuple[int, int, float]:
    """The order of layouts on sheets of one size."""
    return stock.count, len(stock.joins), stock.paper


@dataclass(frozen=True)
class _Cut:
    """One way to cut all of a material: blanks, and the joins that they make."""

    blanks: tuple[Blank, ...]
    joins: tuple[Join, ...]


def _materials(
    scene: Scene, looks: Looks | None, only: Collection[str]
) -> "Iterator[tuple[str, float, list[partial[list[_Cut]]]]]":
    """What each material is, what a cut takes, and for each thing of it the ways to cut it for a size of sheet."""
    card = [partial(_backdrop_cuts, looks)] if looks is not None else []
    if scene.set.road is not None and "road" in only:
        card.append(partial(_road_cuts, cache(partial(_road_in, scene))))
    if "pieces" in only and (small := _small_blanks(scene)):
        card.append(partial(_as_it_is, small))
    if card:
        yield "card", KNIFE, card
    boards: dict[str, list[partial[list[_Cut]]]] = {}
    said: set[str] = set()
    for each in each_driven(scene) if "ramp" in only else ():
        ramp = ramp_of(each)
        if ramp is not None:
            slope = float(np.linalg.norm(np.diff(ramp.line, axis=0), axis=1).sum())
            cuts = partial(_ramp_cuts, called("ramp", each), ramp.width, slope)
            board = f"board {tape_of(scene)(ramp.thickness)} thick"
            boards.setdefault(board, []).append(cuts)
            if thickness_said(each):
                said.add(board)
    for board, ramps in boards.items():
        yield board if board in said else f"{board} (not said, taken)", SAW, ramps


def thickness_said(scene: Scene) -> bool:
    """Whether the scene says how thick the sheet of its ramp is."""
    launch = launch_of(scene)
    return launch is None or "thickness" in launch.ramp.model_fields_set


def _best_of(material: str, sheet: str, cut: float, wanted: "list[partial[list[_Cut]]]") -> Stock | None:
    """The best layout on sheets of one size; None where something is too large for them."""
    size = SHEETS[sheet].short, SHEETS[sheet].long
    usable = size[0] - 2 * EDGE, size[1] - 2 * EDGE
    best: Stock | None = None
    for chosen in sorted(product(*(ways(usable) for ways in wanted)), key=lambda each: sum(len(c.joins) for c in each)):
        blanks = [blank for each in chosen for blank in each.blanks]
        joins = tuple(join for each in chosen for join in each.joins)
        least = least_sheets(blanks, size, EDGE, cut)
        if best is not None and best.count <= least:
            break  # more joins, and no fewer sheets
        if best is not None and best.count <= sheets_needed(blanks, size, EDGE, cut):
            continue
        laid = laid_on_sheets(blanks, size, EDGE, cut)
        if laid:
            found = Stock(material, sheet, laid, joins, least)
            best = found if best is None else min(best, found, key=_laid_best)
    return best


def _looked_at(stock: Stock, looks: Looks) -> Stock:
    """With how much of the backdrop's joins is seen."""
    joins = [looks.join(join.upright, join.at) if join.part_of == "backdrop" else join for join in stock.joins]
    return replace(stock, joins=tuple(joins))


# --- what is cut ---


def _as_it_is(blanks: list[Blank], usable: tuple[float, float]) -> list[_Cut]:
    return [_Cut(tuple(blanks), ())]


def _backdrop_cuts(looks: Looks, usable: tuple[float, float]) -> list[_Cut]:
    """With sheets upright and lying, joined where least of it is seen, and evenly."""
    found = []
    width, length = looks.width, looks.length
    for across, up in (usable, usable[::-1]):
        columns, rows = math.ceil(width / across - 1e-9), math.ceil(length / up - 1e-9)
        if columns * rows > MOST_STRIPS:
            continue
        even = tuple(width * k / columns for k in range(1, columns)), tuple(length * k / rows for k in range(1, rows))
        full = tuple(across * k for k in range(1, columns)), tuple(up * k for k in range(1, rows))
        hidden = looks.least_seen(True, across), looks.least_seen(False, up)
        for upright, level in dict.fromkeys((hidden, even, full)):
            pieces = product(parts(length, level), parts(width, upright))
            blanks = [Blank(f"backdrop {number}", "backdrop", wide, high)
                      for number, (high, wide) in enumerate(pieces, start=1)]  # fmt: skip
            if len(blanks) == 1:
                blanks = [Blank("backdrop", "backdrop", width, length)]
            joins = [Join("backdrop", True, at) for at in upright] + [Join("backdrop", False, at) for at in level]
            found.append(_Cut(tuple(blanks), tuple(joins)))
    return found


def _road_boxes(scene: Scene, cuts: Array) -> list[tuple[float, float]]:
    """Sides of the box round each stretch of the road between cuts along it, the longer first. [m]"""
    curve, top = road_curve(scene), table_top(scene)
    found = []
    for begins, ends in pairwise(cuts.tolist()):
        part = shapely.intersection(road_band(scene, curve, begins, ends), top)
        if part.area > 1e-8:
            corners = shapely.get_coordinates(shapely.oriented_envelope(part))
            one, other = np.linalg.norm(np.diff(corners[:3], axis=0), axis=1)
            found.append((float(max(one, other)), float(min(one, other))))
    return found


def _road_in(scene: Scene, count: int) -> tuple[Array, list[tuple[float, float]]]:
    """Where the road is cut into so many stretches, its ends too [m], and the sides of their boxes."""
    span = road_on_table(scene)
    cuts = np.linspace(*span, count + 1) if span is not None else np.zeros(0)
    return cuts, _road_boxes(scene, cuts)


def _road_cuts(
    road_in: Callable[[int], tuple[Array, list[tuple[float, float]]]], usable: tuple[float, float]
) -> list[_Cut]:
    """In the fewest stretches that fit, and in one and two more."""
    found: list[_Cut] = []
    for count in range(1, MOST_STRIPS + 1):
        cuts, boxes = road_in(count)
        if not len(cuts):
            return [_Cut((), ())]
        if all(long <= usable[1] and short <= usable[0] for long, short in boxes):
            names = [f"road {number}" if count > 1 else "road" for number in range(1, len(boxes) + 1)]
            blanks = tuple(Blank(name, "road", *sides) for name, sides in zip(names, boxes, strict=True))
            found.append(_Cut(blanks, tuple(Join("road", True, float(at)) for at in cuts[1:-1])))
        if len(found) == 3:
            break
    return found


def _ramp_cuts(name: str, width: float, slope: float, usable: tuple[float, float]) -> list[_Cut]:
    """Across its slope; lengthways only where it is wider than a sheet is long."""
    found = []
    for along, across in (usable, usable[::-1]):
        count, beside = math.ceil(slope / along - 1e-9), math.ceil(width / across - 1e-9)
        if count * beside > MOST_STRIPS:
            continue
        joins = [Join(name, False, slope * k / count) for k in range(1, count)]
        joins += [Join(name, True, width * k / beside) for k in range(1, beside)]
        names = [f"{name} {number}" for number in range(1, count * beside + 1)] if count * beside > 1 else [name]
        found.append(_Cut(tuple(Blank(each, "ramp", slope / count, width / beside) for each in names), tuple(joins)))
    return found


def _small_blanks(scene: Scene) -> list[Blank]:
    """Cut-out cards and the faces of signs, each copy that stands on the table."""
    found = []
    for solid in pieces_of(scene):
        piece = scene.dressing[solid.entry]
        if isinstance(piece, Card):
            found.append(Blank(solid.name, piece.id, float(piece.width), float(piece.height)))
        elif isinstance(piece, Sign):
            wide, high = np.ptp(sign_face(solid.size[2], piece.shape, piece.colour).outline, axis=0).tolist()
            found.append(Blank(solid.name, piece.id, wide, high))
    return found
