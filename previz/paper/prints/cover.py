"""What comes before the prints: how to print and join them, where each page goes, what to buy and how to cut it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import shapely

from previz.layout import puddles_of
from previz.paper.letters import LEADING, POINT, width_of
from previz.paper.measures import tape_of
from previz.paper.papers import Paper
from previz.paper.prints.pages import draw_ruler, ruler_for
from previz.paper.prints.parts import Part
from previz.paper.prints.tiles import Grid, Tile
from previz.paper.sheet import (
    BLACK,
    CHAINED,
    DASHED,
    DOTTED,
    GREY,
    HEADING,
    MEDIUM,
    PALE,
    SMALL,
    THICK,
    THIN,
    TITLE,
    WHITE,
    Box,
    Sheet,
    Table,
    View,
)
from previz.paper.stock import Stock
from previz.predictions import Caution
from previz.scene import Scene
from previz.sheet_sizes import SHEETS
from previz.units import Tape, percent

_GAP = 4.0  # between what stands above one another [mm]
_BETWEEN = 0.8  # paragraphs [mm]
_CELL = 7.0  # of a page on a map, at least [mm]
_LIST = 90.0  # what a list of blanks is wide, at least [mm]
_HIGHEST_SHEET = 90.0  # drawn for cutting [mm]
_HEAD = 2.0 * HEADING * POINT  # over a map [mm]
_LINE = LEADING * SMALL * POINT

#: Where what all setups need is told, for who prints one of them.
ALL_BOUGHT = "one list in previz plan; what they share is bought once"

#: Ways to buy the same that are told beside the best.
_OTHERS = 3

_STEPS = (
    "1  Print with the printer set to 100 % or “actual size”, not “fit to page”.",
    "2  Measure both lines here, and the one on every page: each is {ruler} long. If one is not, the printer has "
    "scaled it: set it right and print again.",
    "3  Cut each page along its left and near marks. Lay it over the strips of the pages to its left and nearer to "
    "you, up to their marks. Tape them together.",
)


@dataclass
class _Pages:
    """Sheets filled from the top down; a new one where something does not fit any more."""

    paper: Paper
    sheets: list[Sheet]
    y: float = 0.0

    @property
    def sheet(self) -> Sheet:
        return self.sheets[-1]

    @property
    def room(self) -> Box:
        """What of the last sheet is free."""
        inside = self.sheet.inside
        return Box(inside.left, inside.low, inside.right, self.y)

    def new(self) -> None:
        self.sheets.append(Sheet(self.paper.short, self.paper.long, f"index {len(self.sheets) + 1}"))
        self.y = self.sheet.inside.high

    def need(self, height: float) -> None:
        """Go on to a new sheet unless that much is left."""
        if self.y - height < self.sheet.inside.low:
            self.new()

    def head(self, text: str, after: float = 0.0) -> None:
        """A heading with room for what follows it."""
        self.need(2 * HEADING * POINT + after)
        self.sheet.words(text, (self.room.left, self.y), HEADING, anchor="top", bold=True)
        self.y -= HEADING * POINT * 1.6

    def height_of(self, text: str) -> float:
        """How much of a page a paragraph takes. [mm]"""
        probe = Sheet(self.paper.short, self.paper.long, "")
        return _BETWEEN - probe.paragraph(text, (0.0, 0.0), self.sheet.inside.width)

    def say(self, text: str) -> None:
        """A paragraph over the whole width."""
        inside = self.sheet.inside
        self.need(self.height_of(text) - _BETWEEN)
        self.y = self.sheet.paragraph(text, (inside.left, self.y), inside.width) - _BETWEEN

    def table(self, table: Table) -> None:
        """A table, over as many sheets as it takes."""
        self.need(4 * _LINE)
        while True:
            done, self.y = table.draw(self.sheet, self.room)
            table = table.rest(done)
            if not table.rows:
                break
            self.new()
        self.y -= _GAP


def cover_sheets(
    scene: Scene,
    paper: Paper,
    tiled: Sequence[tuple[Part, Grid, list[Tile]]],
    told: Sequence[tuple[str, str]],
    stocks: Sequence[Sequence[Stock]],
    cautions: Sequence[Caution],
    beside: Sequence[tuple[str, str, str, str]] = (),
    alone: bool = False,
) -> list[Sheet]:
    """The first pages of a print.

    Parameters
    ----------
    tiled : sequence of (Part, Grid, list of Tile)
        Parts on tiles: each gets a map.
    told : sequence of (str, str)
        Every part's name, and how many pages or how large a sheet it takes.
    stocks : sequence of sequence of Stock
        For each material the ways to buy it, the best first.
    beside : sequence of (str, str, str, str)
        What stands beside the table: its name, x, y and up.
    alone : bool
        It is of one of several setups.
    """
    pages = _Pages(paper, [])
    pages.new()
    _title(pages, scene)
    _how(pages, told, tape_of(scene))
    _maps(pages, tiled)
    for part, _, _ in tiled:
        pages.head(part.heading, 2 * _LINE)
        pages.say(part.about)
        pages.y -= 1.0
    if beside:
        pages.head("Off the table", 4 * _LINE)
        pages.say("On no page of the ground plan. Measured, like all places, from the table's front left corner.")
        pages.table(Table(("what", "to the right (x)", "away from you (y)", "up"), tuple(beside)))
    rampless = scene.vehicle is None or scene.vehicle.launch is None
    without = {word for word, none in ((_RAMP, rampless), (_PUDDLE, not puddles_of(scene))) if none}
    _legend(pages, [part.name for part, _, _ in tiled], without)
    if stocks:
        _to_buy(pages, stocks, tape_of(scene), alone)
    if cautions:
        _cautions(pages, cautions)
    return pages.sheets


def _title(pages: _Pages, scene: Scene) -> None:
    inside = pages.sheet.inside
    pages.sheet.words(f"{scene.title}: prints at life size", (inside.left, pages.y), TITLE, anchor="top", bold=True,
                      within=inside.width)  # fmt: skip
    pages.y -= TITLE * POINT * 1.5


def _how(pages: _Pages, told: Sequence[tuple[str, str]], tape: Tape) -> None:
    """The rulers; beside them what to do, and what is printed."""
    inside, ruler = pages.sheet.inside, ruler_for(tape)
    draw_ruler(pages.sheet, ruler, (inside.left + 4.0, pages.y - ruler.length - 16.0), upright=True)
    draw_ruler(pages.sheet, ruler, (inside.left + 4.0, pages.y - ruler.length - 20.0))
    left, top = inside.left + 16.0, pages.y
    for step in _STEPS:
        top = pages.sheet.paragraph(step.format(ruler=ruler.says), (left, top), inside.right - left) - 1.6
    box = Box(left, pages.y - ruler.length - 4.0, inside.right, top - 1.0)
    top = _joined(pages.sheet, box) - HEADING * POINT
    for name, what in told:
        pages.sheet.words(f"{name}: {what}", (left, top), SMALL, anchor="top", within=inside.right - left)
        top -= _LINE
    pages.y = min(pages.y - ruler.length - 25.0, top - _GAP)


def _joined(sheet: Sheet, box: Box) -> float:
    """A picture of four pages joined: cells side by side, strips under the neighbours. Returns where it ends. [mm]"""
    wide, high, strip = 26.0, 18.0, 4.0
    left, low = box.left + 2.0, box.high - 2 * high - strip - 4.0
    for row in (1, 0):
        for column in (1, 0):
            x, y = left + column * wide, low + row * high
            sheet.line(
                Box(x, y, x + wide + strip, y + high + strip).outline, THIN, ink=GREY, dashes=DOTTED, closed=True
            )
    for row in (0, 1):
        for column in (0, 1):
            x, y = left + column * wide, low + row * high
            sheet.line(Box(x, y, x + wide, y + high).outline, MEDIUM, closed=True)
            name = Tile(row, column, (0.0, 0.0)).name
            sheet.words(name, (x + wide / 2, y + high / 2), HEADING, align="middle", anchor="middle", bold=True)
    x = left + 2 * wide + strip + 4.0
    for line, text in enumerate(("Rows by letters, A nearest to you.", "Columns by numbers, 1 at the left.",
                                 "Dotted: the strip that the next", "page covers.")):  # fmt: skip
        sheet.words(text, (x, low + 2 * high - 3.0 - line * _LINE), SMALL)
    return low


# --- maps ---


def _maps(pages: _Pages, tiled: Sequence[tuple[Part, Grid, list[Tile]]]) -> None:
    """Where each page goes: all maps as wide as lets them share the first page, if a page's name can still be read."""
    if not tiled:
        return
    width, spans = pages.sheet.inside.width - 1.0, [_span(*each) for each in tiled]
    natural = sum(high / wide * width for _, (wide, high) in spans)
    room = pages.room.height - len(tiled) * (_HEAD + _GAP + 1.0)
    readable = max(
        _CELL / grid.step[0] * wide * 1000 for (_, grid, _), (_, (wide, _)) in zip(tiled, spans, strict=True)
    )
    width *= min(max(room / natural, readable / width), 1.0)
    for (part, grid, tiles), (corner, (wide, high)) in zip(tiled, spans, strict=True):
        scale = max(wide * 1000 / width, high * 1000 / (pages.sheet.inside.height - _HEAD - _GAP))
        across, tall = wide * 1000 / scale, high * 1000 / scale
        pages.need(tall + _HEAD + 1.0)
        pages.sheet.words(part.heading, (pages.room.left, pages.y), HEADING, anchor="top", bold=True)
        pages.y -= _HEAD
        box = Box(pages.room.left + 0.5, pages.y - tall, pages.room.left + 0.5 + across, pages.y)
        _map(pages.sheet, box, scale, corner, part, grid, tiles)
        pages.y -= tall + _GAP


def _span(part: Part, grid: Grid, tiles: list[Tile]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Lower left corner, and width and height, of a part with its pages. [m]"""
    left, low, right, high = shapely.bounds(part.whole).tolist()
    corners = np.array([tile.corner for tile in tiles])
    x0, y0 = np.minimum(corners.min(axis=0), (left, low)).tolist()
    x1, y1 = np.maximum(corners.max(axis=0) + np.array(grid.step) / 1000, (right, high)).tolist()
    return (x0, y0), (x1 - x0, y1 - y0)


def _map(
    sheet: Sheet, box: Box, scale: float, corner: tuple[float, float], part: Part, grid: Grid, tiles: list[Tile]
) -> None:
    view = View(sheet, box.grown(0.3), scale, (corner[0] - 0.0003 * scale, corner[1] - 0.0003 * scale))
    for shape in shapely.get_parts(part.something):
        _outlined(view, shape)
    view.line(shapely.get_coordinates(shapely.box(*shapely.bounds(part.whole))), THIN, ink=GREY)
    for tile in tiles:
        x, y = tile.corner
        wide, high = (side / 1000 for side in grid.step)
        view.line([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)], MEDIUM, closed=True)
        sheet.words(tile.name, view.at((x + wide / 2, y + high / 2)), SMALL, align="middle", anchor="middle", bold=True,
                    back=True)  # fmt: skip


def _outlined(view: View, shape: Any) -> None:
    if shape.geom_type == "Polygon":
        view.area(shape, PALE)
        view.line(shapely.get_coordinates(shape.exterior), THIN, ink=GREY)
    elif shape.geom_type == "LineString":
        view.line(shapely.get_coordinates(shape), THIN, ink=GREY)


_RAMP, _PUDDLE = "foot of the ramp", "puddle, by its number in the plan's list"

#: Lines of each part: what they mean, weight, dashes and ink.
_MEANINGS: dict[str, tuple[tuple[str, float, tuple[float, ...], str], ...]] = {
    "ground": (
        ("foot of a piece; a black corner points to its front", MEDIUM, (), BLACK),
        ("what stands out over its foot, or over the ground", THIN, DASHED, BLACK),
        ("way of the vehicle's middle", MEDIUM, CHAINED, BLACK),
        (_RAMP, THICK, (), BLACK),
        ("edges of road, kerb and pavement", THIN, (), GREY),
        (_PUDDLE, THIN, CHAINED, GREY),
        ("round what is scattered over the ground", THIN, DOTTED, GREY),
    ),
    "backdrop": (
        ("outline of what is painted", MEDIUM, (), BLACK),
        ("horizon", THIN, CHAINED, BLACK),
        ("where the sheet bends", THIN, DASHED, BLACK),
        ("join of two sheets", THICK, DOTTED, GREY),
    ),
}


def _legend(pages: _Pages, names: Sequence[str], without: set[str]) -> None:
    rows = [meaning for name in names for meaning in _MEANINGS.get(name, ()) if meaning[0] not in without]
    if not rows:
        return
    columns = 2
    lines = -(-len(rows) // columns)
    pages.need(lines * 1.3 * _LINE + 3 * HEADING * POINT)
    pages.head("Lines")
    inside = pages.sheet.inside
    for number, (said, weight, dashes, ink) in enumerate(rows):
        x = inside.left + (number // lines) * inside.width / columns
        y = pages.y - (number % lines) * 1.3 * _LINE
        pages.sheet.line([(x, y - 1.2), (x + 16.0, y - 1.2)], weight, ink=ink, dashes=dashes)
        pages.sheet.words(said, (x + 18.0, y), SMALL, anchor="top", within=inside.width / columns - 20.0)
    pages.y -= lines * 1.3 * _LINE + _GAP


# --- what to buy ---


def _to_buy(pages: _Pages, stocks: Sequence[Sequence[Stock]], tape: Tape, alone: bool) -> None:
    for ways in stocks:
        best = ways[0]
        pages.need(60.0)
        pages.head(f"To buy{' for this setup alone' if alone else ''}: {best.material}")
        if alone:
            pages.say(f"For all setups: {ALL_BOUGHT}.")
        for each in ways[: 1 + _OTHERS]:
            pages.say(f"{'' if each is best else 'or '}{each.words}. Size of a sheet: {SHEETS[each.sheet].source}.")
        for join in best.joins:
            if join.part_of == "backdrop":
                pages.say(_join_told(join, tape))
        if cuts := [join.at for join in best.joins if join.part_of == "road"]:
            pages.say(f"The road is cut across {', '.join(map(tape, cuts))} along its middle from where it begins.")
        if any(join.part_of != "road" for join in best.joins):
            pages.say("Butt the edges of a join and back it with a strip of the same (common practice, no source).")
        pages.y -= 1.0
        list_of_blanks = _sheets_drawn(pages, best, tape, _blanks(best, tape))
        if list_of_blanks.rows:
            pages.table(list_of_blanks)


def _join_told(join: Any, tape: Tape) -> str:
    where = "from the left edge" if join.upright else "along the sheet from its foot"
    behind = f", behind {', '.join(join.hidden_by)}" if join.hidden_by else ""
    seen = f"at most {percent(join.seen)} of it is in a picture"
    return f"A join of the backdrop lies {tape(join.at)} {where}{behind}; {seen}."


def _blanks(stock: Stock, tape: Tape) -> Table:
    """What is cut, like things in one row."""
    rows: dict[tuple[str, str, int], int] = {}
    for each in stock.laid:
        size = f"{tape(each.blank.width)} × {tape(each.blank.height)}"
        row = (each.blank.part_of if each.blank.part_of not in ("backdrop", "road", "ramp") else each.blank.name, size,
               each.sheet + 1)  # fmt: skip
        rows[row] = rows.get(row, 0) + 1
    cells = tuple((name, size, str(times), str(sheet)) for (name, size, sheet), times in rows.items())
    return Table(("piece", "size", "times", "from sheet"), cells, tight=True)


def _sheets_drawn(pages: _Pages, stock: Stock, tape: Tape, blanks: Table) -> Table:
    """Each sheet with what is cut from it, side by side as far as they fit; beside a lone one the list of blanks.

    Returns what of the list is still to be drawn. What is too small to be named is found there by its size.
    """
    inside = pages.sheet.inside
    side_by_side = min(stock.count, 3 if stock.size[0] < 0.75 * stock.size[1] else 2)
    width = (inside.width - (side_by_side - 1) * _GAP) / side_by_side
    scale = max(stock.size[0] * 1000 / width, stock.size[1] * 1000 / _HIGHEST_SHEET)
    wide, high = (side * 1000 / scale for side in stock.size)
    for first in range(0, stock.count, side_by_side):
        pages.need(high + _LINE + 2.0)
        for column, number in enumerate(range(first, min(first + side_by_side, stock.count))):
            left = inside.left + column * (wide + _GAP)
            pages.sheet.words(f"sheet {number + 1}", (left, pages.y), SMALL, anchor="top")
            box = Box(left, pages.y - _LINE - high, left + wide, pages.y - _LINE)
            _sheet_drawn(pages.sheet, box, scale, stock, number, tape)
        if stock.count == 1 and inside.width - wide > _LIST:
            beside = Box(inside.left + wide + _GAP, pages.y - high - _LINE, inside.right, pages.y)
            blanks = blanks.rest(blanks.draw(pages.sheet, beside)[0])
        pages.y -= high + _LINE + 2.0
    return blanks


def _sheet_drawn(sheet: Sheet, box: Box, scale: float, stock: Stock, number: int, tape: Tape) -> None:
    view = View(sheet, box.grown(0.2), scale, (-0.0002 * scale, -0.0002 * scale))
    sheet.area(box.outline, PALE)
    sheet.line(box.outline, THIN, closed=True)
    for each in stock.laid:
        if each.sheet != number:
            continue
        (wide, high), blank = each.size, each.blank
        corner, far = view.placed([(each.x, each.y), (each.x + wide, each.y + high)]).tolist()
        outline = Box(*corner, *far)
        sheet.area(outline.outline, WHITE)
        sheet.line(outline.outline, MEDIUM, closed=True)
        _named(sheet, outline, (blank.name, f"{tape.bare(blank.width)} × {tape.bare(blank.height)}"))


def _named(sheet: Sheet, box: Box, lines: tuple[str, str]) -> None:
    """A name and a size in a box, upright if they only fit so; the name alone or nothing where there is less room."""
    for said, upright in product((lines, lines[:1]), (False, True)):
        room = (box.height, box.width) if upright else (box.width, box.height)
        if max(width_of(line, SMALL) for line in said) + 1.5 > room[0] or len(said) * _LINE + 1.0 > room[1]:
            continue
        x, y = box.middle
        for number, line in enumerate(said):
            off = (number - (len(said) - 1) / 2) * _LINE
            at = (x + off, y) if upright else (x, y - off)
            sheet.words(line, at, SMALL, align="middle", anchor="middle", turn=90.0 if upright else 0.0)
        return


def _cautions(pages: _Pages, cautions: Sequence[Caution]) -> None:
    said = [f"{each.because[0].upper()}{each.because[1:]}: {each.precaution}" for each in cautions]
    said.append("These are the usual precautions and no risk assessment. Labels and local rules come first.")
    together = sum(map(pages.height_of, said))
    # On a page of their own rather than one sentence of them.
    pages.head("Take care", together if together < pages.sheet.inside.height - _HEAD else 3 * _LINE)
    for each in said:
        pages.say(each)
