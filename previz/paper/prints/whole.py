"""A whole print: which parts, on which pages, with the index in front."""

from collections.abc import Sequence
from dataclasses import dataclass

from previz.errors import PrevizError
from previz.paper.measures import tape_of
from previz.paper.papers import Paper
from previz.paper.prints.backdrop import painting_guide
from previz.paper.prints.cards import cut_out_sheets, cut_outs, house_fronts
from previz.paper.prints.cover import cover_sheets
from previz.paper.prints.ground import ground_plan, off_table
from previz.paper.prints.pages import large_sheet, large_size, tile_sheet
from previz.paper.prints.parts import Part
from previz.paper.prints.road import road_print
from previz.paper.prints.tiles import Grid, Tile, best_grid
from previz.paper.sheet import Sheet
from previz.paper.stock import Stock, stock_of
from previz.paper.surface import road_surface
from previz.predictions import making_cautions
from previz.scene import Scene
from previz.sheet_sizes import SHEETS, pages_of_shops, sheet_called
from previz.units import Tape

#: What can be printed, by the name that is typed.
PARTS = ("ground", "road", "backdrop", "cards", "fronts")

#: Steps from page to page are whole numbers of this in each unit of tape. [mm]
_WHOLE = {"mm": 1.0, "cm": 1.0, "in": 25.4 / 4}

#: More pages than that are nobody's wish.
MOST_PAGES = 400

#: The longest side of a page: 14 400 units of 1/72 in, ISO 32000-1 annex C (from memory). [mm]
LONGEST = 5080.0


@dataclass(frozen=True)
class Prints:
    """Sheets at life size, the index first.

    Parameters
    ----------
    told : tuple of (str, str)
        Each part, and the pages or the sheet it takes.
    stocks : tuple of tuple of Stock
        For each material the ways to buy it, the best first; empty where only some parts are printed.
    """

    sheets: tuple[Sheet, ...]
    told: tuple[tuple[str, str], ...]
    stocks: tuple[tuple[Stock, ...], ...]


def prints_of(
    scene: Scene, paper: Paper, only: Sequence[str] = (), *, poster: bool = False, alone: bool = False
) -> Prints:
    """What of a scene is printed at life size: all parts, or only some of `PARTS`.

    A road without lines is one colour all over, which takes ink and has nothing to mark: only who asks for it gets it.

    poster: each part on one large sheet instead of tiles of the paper. alone: the scene is one of several setups, and
    what is bought for it not all that is bought.

    Raises
    ------
    PrevizError
        There is nothing of that in the scene, it takes more than `MOST_PAGES`, or a sheet is longer than a PDF allows.
    """
    stocks = stock_of(scene, paper=paper)
    surface = road_surface(scene)
    uniform = not only and surface is not None and not surface.lines
    wanted = only or tuple(part for part in PARTS if not (uniform and part == "road"))
    parts, cards = _parts(scene, paper, wanted, stocks)
    if not parts and not cards:
        raise PrevizError(
            f"there is nothing to print at life size: no {', '.join(wanted)} in the scene"
            + (", or none with painted layers" if "backdrop" in wanted else "")
        )
    tape = tape_of(scene)
    tiled: list[tuple[Part, Grid, list[Tile]]] = []
    told, sheets = [], []
    for part in parts:
        if poster:
            size, name = poster_size(part, tape, paper)
            sheets.append(large_sheet(part, size, tape))
            told.append((part.name, f"one sheet, {name}"))
            continue
        _few_enough(part, paper)
        grid, tiles = best_grid(paper, part.something, _WHOLE[scene.tape.column])
        tiled.append((part, grid, tiles))
        sheets += [tile_sheet(part, grid, tile, tape) for tile in tiles]
        told.append((part.name, _count(len(tiles))))
    if uniform:
        told.append(("road", "no pages, it has no lines: its edges are on the ground plan (--only road prints it)"))
    for name, pages in cards.items():
        sheets += pages
        told.append((name, _count(len(pages))))
    if len(sheets) > MOST_PAGES:
        raise PrevizError(_too_many(f"{len(sheets)} pages"))
    bought = () if only else stocks
    beside = off_table(scene) if any(part.name == "ground" for part in parts) else ()
    cover = cover_sheets(scene, paper, tiled, told, bought, making_cautions(scene), beside, alone)
    return Prints((*cover, *sheets), tuple(told), bought)


def _count(pages: int) -> str:
    return f"{pages} page{'' if pages == 1 else 's'}"


def _parts(
    scene: Scene, paper: Paper, wanted: Sequence[str], stocks: tuple[tuple[Stock, ...], ...]
) -> tuple[list[Part], dict[str, list[Sheet]]]:
    """The drawings that are wanted and that the scene has, and pages of what is cut out, by the name of the part."""
    joins = [join for ways in stocks for join in ways[0].joins if join.part_of == "backdrop"]
    makers = {"ground": lambda: ground_plan(scene), "road": lambda: road_print(scene),
              "backdrop": lambda: painting_guide(scene, joins)}  # fmt: skip
    parts = [part for name, make in makers.items() if name in wanted and (part := make()) is not None]
    pages: dict[str, list[Sheet]] = {}
    for name, found in (("cards", cut_outs), ("fronts", house_fronts)):
        small, large = cut_out_sheets(found(scene), paper, name, tape_of(scene)) if name in wanted else ([], [])
        parts += large
        if small:
            pages[name] = small
    return parts, pages


def _few_enough(part: Part, paper: Paper) -> None:
    left, low, right, high = part.something.bounds
    pages = (right - left) * (high - low) * 1e6 / (paper.short * paper.long)
    if pages > 10 * MOST_PAGES:
        raise PrevizError(_too_many(f"the {part.name} alone some {pages:.0f} pages"))


def _too_many(what: str) -> str:
    return (
        f"the print takes {what}, more than {MOST_PAGES}; print one part with --only, larger paper with --paper, or "
        "large sheets with --poster"
    )


def poster_size(part: Part, tape: Tape, paper: Paper) -> tuple[tuple[float, float], str]:
    """Width and height [mm] of the smallest sheet of the paper's family that holds a part, and its name; one of its own
    where none does.

    Raises PrevizError where a PDF cannot hold it.
    """
    width, height = large_size(part)
    sizes = {name: SHEETS[name] for name in pages_of_shops(paper.metric)}
    for name, (short, long, _) in sorted(sizes.items(), key=lambda each: each[1].short * each[1].long):
        for across, up, way in ((short, long, "upright"), (long, short, "lying")):
            if width <= across * 1000 and height <= up * 1000:
                return (across * 1000, up * 1000), f"{sheet_called(name)} {way}"
    if max(width, height) > LONGEST:
        raise PrevizError(
            f"the {part.name} is {tape(max(width, height) / 1000)} long, and a page of a PDF is "
            f"{tape(LONGEST / 1000)} at most; "
            "print it on tiles, without --poster"
        )
    return (width, height), " × ".join(tape(side / 1000) for side in (width, height))
