"""Prints at life size: lengths read back from the PDF, tiles joined by their marks, only pages with something on them.

The PDF is read with pdfminer.six, which had no part in writing it, and drawn with poppler's pdftoppm.
"""

import itertools
import math
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PIL import Image

from previz.errors import PrevizError
from previz.layout import pieces_of, puddles_of
from previz.paper import PAPERS, pdf_of, prints_of
from previz.paper.papers import Paper
from previz.paper.prints.backdrop import painting_guide
from previz.paper.prints.cards import cut_out_sheets, cut_outs, house_fronts
from previz.paper.prints.cover import _cautions, _Pages
from previz.paper.prints.ground import ground_plan
from previz.paper.prints.pages import large_sheet, large_size, tile_sheet
from previz.paper.prints.parts import Part, ink_of
from previz.paper.prints.road import road_print
from previz.paper.prints.tiles import MARK, STRIP, Grid, Tile, best_grid
from previz.paper.sheet import MARGIN, Area, Sheet, Stroke
from previz.predictions import Caution
from previz.scene import Scene, read_scene, setups_of
from previz.stage import front_of
from previz.units import Tape
from tests.paper.print_scenes import scene_data, scene_of
from tests.paper.reading import Page, pages_of
from tests.paper.reading import Path as Path2D

Array = NDArray[np.float64]

DEMOS = sorted((Path(__file__).parents[2] / "scenes").glob("*.yaml"))
A4 = PAPERS["a4"]


def _unnamed(part: Part | None) -> Part:
    """The part without names, which stand elsewhere on every page."""
    assert part is not None
    return replace(part, labels=lambda view: [])


def _parts(scene: Scene) -> list[Part]:
    return [part for part in (ground_plan(scene), road_print(scene), painting_guide(scene, ())) if part is not None]


def _tiled(part: Part, paper: Paper, whole: float = 1.0) -> tuple[Grid, list[Tile], list[Page]]:
    grid, tiles = best_grid(paper, part.something, whole)
    sheets = [tile_sheet(part, grid, tile, Tape("mm")) for tile in tiles]
    return grid, tiles, pages_of(pdf_of(sheets, part.name))


def _corners(path: Path2D) -> Array:
    """Of a line or outline; its first point is not told again at its end."""
    points = path.points
    return points[:-1] if len(points) > 2 and np.allclose(points[0], points[-1], atol=1e-6) else points


def _drawn(page: Page) -> list[Array]:
    """Stroked lines and outlines. [mm]"""
    return [_corners(path) for path in page.paths if path.weight]


def _filled(page: Page) -> list[Array]:
    """Filled outlines, the paper's own left out. [mm]"""
    found = [_corners(path) for path in page.paths if path.filled]
    return [points for points in found if not np.allclose(np.ptp(points, axis=0), (page.width, page.height), atol=0.01)]


def _sides(points: Array) -> Array:
    """Of a line, or all round an outline."""
    closed = points if len(points) == 2 else np.concatenate([points, points[:1]])
    return np.linalg.norm(np.diff(closed, axis=0), axis=1)


def _rectangles(page: Page, width: float, height: float) -> list[Array]:
    """Outlines with four sides as long as that, within 0.1 mm."""
    wanted = sorted((width, width, height, height))
    return [p for p in _drawn(page) if len(p) == 4 and np.allclose(sorted(_sides(p)), wanted, atol=0.1)]


def _lone(part: Part | None) -> Page:
    """The page of a part on one large sheet, without names."""
    bare = _unnamed(part)
    (page,) = pages_of(pdf_of([large_sheet(bare, large_size(bare), Tape("mm"))], "whole"))
    return page


# --- life size ---


@pytest.mark.parametrize(
    ("paper", "unit", "length", "parts", "says"),
    [("a4", "mm", 100.0, 10, "100 mm"), ("letter", "in", 101.6, 16, "4 in")],  # the international inch is 25.4 mm
)
def test_every_page_has_a_ruler_for_the_maker_s_tape(
    tmp_path: Path, paper: str, unit: str, length: float, parts: int, says: str
) -> None:
    prints = prints_of(scene_of(scene_data(12, unit), tmp_path), PAPERS[paper])
    pages = pages_of(pdf_of(prints.sheets, "prints"))
    assert len(pages) == len(prints.sheets)
    for number, page in enumerate(pages):
        sides = {round(page.width, 1), round(page.height, 1)}
        assert sides == {round(PAPERS[paper].short, 1), round(PAPERS[paper].long, 1)}
        whole = [points for points in _drawn(page) if len(points) == 2 and abs(_sides(points)[0] - length) < 0.01]
        if number == 0:
            ways = {tuple(np.abs(points[1] - points[0]).round(1).tolist()) for points in whole}
            assert {(length, 0.0), (0.0, length)} <= ways, "one across and one up, for a printer may stretch either"
        assert whole or prints.sheets[number].name.startswith("index")
        assert not whole or says in [words.text for words in prints.sheets[number].lettering]
        for begin, end in (sorted(points.tolist()) for points in whole):
            # a tick at each 10 mm of it, or quarter of an inch
            feet = [p[0] for p in _drawn(page) if len(p) == 2 and 1.3 < _sides(p)[0] < 2.5]
            for share in np.linspace(0, 1, parts + 1):
                foot = np.array(begin) + share * (np.array(end) - begin)
                assert min(np.abs(feet - foot).max(axis=1)) < 0.02


def test_a_container_s_foot_is_as_large_as_the_model(tmp_path: Path) -> None:
    data = scene_data(0)
    data["dressing"] = [{"id": "box", "piece": "container", "at": [450, 300], "turn": "20 deg"}]
    page = _lone(ground_plan(scene_of(data, tmp_path)))
    # ISO 668, 20 ft: 6.058 x 2.438 m (as commonly quoted, from memory), at 1:60
    (foot,) = _rectangles(page, 6058 / 60, 2438 / 60)
    # its middle, from the corner of the table, which is drawn too: 900 x 420 mm
    (table,) = _rectangles(page, 900, 420)
    assert (foot.mean(axis=0) - table.min(axis=0)).tolist() == pytest.approx([450, 300], abs=0.1)
    # turned by 20 degrees, counter-clockwise
    long = max(np.diff(foot, axis=0), key=lambda each: float(np.linalg.norm(each)))
    assert math.degrees(math.atan2(long[1], long[0])) % 180 == pytest.approx(20, abs=0.05)


@pytest.mark.parametrize("tilt", [30, -30, 90])
def test_a_leaning_card_stands_on_its_edge_and_what_leans_over_is_dashed(tmp_path: Path, tilt: int) -> None:
    data = scene_data(0)
    card = {"piece": "bounce", "width": 200, "height": 100, "tilt": f"{tilt} deg"}
    data["dressing"] = [{**card, "id": "fill", "at": [450, 150, 90], "turn": "180 deg"}]
    page = _lone(ground_plan(scene_of(data, tmp_path)))
    # By hand: of foam board, 5 mm thick, what is seen of its lower edge from above; and of all of it.
    c, s = math.cos(math.radians(tilt)), math.sin(math.radians(tilt))
    (foot,) = _rectangles(page, 200, 5 * c)
    back = [0.0, 100 * s, 5 * c, 100 * s + 5 * c]
    assert _rectangles(page, 200, max(back) - min(back))
    (table,) = _rectangles(page, 900, 420)
    # Its face looks away from the front: its lower edge is at y = 150, and the board lies before that.
    assert (foot.max(axis=0) - table.min(axis=0)).tolist() == pytest.approx([550, 150], abs=0.1)


def test_a_camera_s_mark_stands_under_its_pupil(tmp_path: Path) -> None:
    page = _lone(ground_plan(scene_of(scene_data(1), tmp_path)))
    (table,) = _rectangles(page, 900, 420)
    rings = [p for p in _drawn(page) if len(p) == 32 and np.allclose(np.ptp(p, axis=0), (8, 8), atol=0.1)]
    assert [(p.mean(axis=0) - table.min(axis=0)).tolist() for p in rings] == [pytest.approx([450, 40], abs=0.1)]


@pytest.mark.parametrize("scale", [24, 50, 87])
def test_the_road_and_its_lines_are_to_scale(tmp_path: Path, scale: int) -> None:
    data = scene_data(0)
    data |= {"scale": f"1:{scale}", "vehicle": {"body": "van", "path": "road", "speed": "0.5 m/s"}}
    data["set"]["road"] = {"lane": "3.5 m full size", "centre": [[0, 200], [900, 200]], "markings": "dashed"}
    filled = _filled(_lone(road_print(scene_of(data, tmp_path))))
    spans = [np.ptp(points, axis=0) for points in filled]
    # Two lanes of 3.5 m and 0.40 m outside the edge line on either side (typical, from memory)
    assert spans[0].tolist() == pytest.approx([900, 7800 / scale], abs=0.1)
    lines = spans[1:]
    # MUTCD section 3A.05 of 2003, as quoted: lines 4 to 6 in wide, here 0.12 m; broken ones 3 m long with gaps of 9 m
    assert all(high == pytest.approx(120 / scale, abs=0.05) for _, high in lines)
    dashes = sorted(points[:, 0].min() for points, (wide, _) in zip(filled[1:], lines, strict=True) if wide < 890)
    assert np.diff(dashes).tolist() == pytest.approx([12_000 / scale] * (len(dashes) - 1), abs=0.1)
    whole = [wide for wide, _ in lines if wide < 890][1:-1]
    assert whole == pytest.approx([3000 / scale] * len(whole), abs=0.1)
    assert sum(wide > 890 for wide, _ in lines) == 2, "a line along each edge"


def test_the_horizon_is_as_far_up_the_sheet_as_its_way_round_the_cove(tmp_path: Path) -> None:
    page = _lone(painting_guide(scene_of(scene_data(0), tmp_path), ()))
    (sheet,) = _rectangles(page, 900, 328.54)
    level = [(p - sheet.min(axis=0))[:, 1] for p in _drawn(page) if len(p) == 2 and _sides(p)[0] > 890]
    # By hand: a quarter of a circle of 50 mm is 78.54 mm long and ends 50 mm up, where the horizon is: two lines.
    assert sum(bool(np.abs(y - 78.54).max() < 0.1) for y in level) == 2


def test_a_layer_s_highest_point_is_its_height(tmp_path: Path) -> None:
    part = painting_guide(scene_of(scene_data(0), tmp_path), ())
    assert part is not None
    # 120 mm up, of which 50 mm are the cove: 70 mm above its end. The picture's texels are 0.375 mm.
    assert part.something.bounds[3] * 1000 == pytest.approx(78.54 + 70, abs=0.4)


@pytest.mark.parametrize(("haze", "code"), [("0 %", "#000000"), ("100 %", "#d4d6d7")])
def test_the_painting_guide_names_the_colour_as_it_is_painted(tmp_path: Path, haze: str, code: str) -> None:
    data = scene_data(0)
    layer = {"shape": "hills", "height": 120, "colour": "black", "haze": haze}
    data["set"]["backdrop"]["painting"] = {"sky": "overcast", "layers": [layer]}
    # By hand of the second: the sky at its horizon, 0.66, 0.67, 0.68, as sRGB.
    part = painting_guide(scene_of(data, tmp_path), ())
    assert part is not None
    (page,) = pages_of(pdf_of([large_sheet(part, large_size(part), Tape("mm"))], "whole"))
    assert f"hills {code}" in [line.text for line in page.lines]


def test_signs_and_cards_are_as_large_as_the_models(tmp_path: Path) -> None:
    from previz.stage.pieces import street

    data = scene_data(0)
    data["dressing"] = [
        {"id": shape, "piece": "sign", "shape": shape, "height": 90, "at": [100 + 90 * k, 300]}
        for k, shape in enumerate(("disc", "triangle", "square", "board"))
    ] + [{"id": "hoarding", "piece": "card", "at": [700, 300], "width": 70, "height": 45}]
    scene = scene_of(data, tmp_path)
    small, large = cut_out_sheets(cut_outs(scene), A4, "cards", Tape("mm"))
    assert not large
    (page,) = pages_of(pdf_of(small, "cards"))
    drawn = [np.ptp(points, axis=0) for points in _drawn(page) if len(points) > 2]
    assert any(np.allclose(span, (70, 45), atol=0.1) for span in drawn)
    for shape in ("disc", "triangle", "square", "board"):
        parts = street.sign(0.090, shape, (0.45, 0.02, 0.02), 0.0, np.random.default_rng(0))
        points = np.concatenate([part.vertices for part in parts])
        front = points[points[:, 0] < points[:, 0].min() + 0.00012]  # the plate lies furthest forward
        assert any(np.allclose(span, np.ptp(front[:, 1:], axis=0) * 1000, atol=0.1) for span in drawn), shape


def test_a_house_front_is_as_large_as_the_building_and_drawn_once_for_each_build(tmp_path: Path) -> None:
    data = scene_data(0)
    house = {"id": "inn", "piece": "building", "at": [200, 320], "width": 70, "depth": 40, "height": 60, "floors": 2}
    data["dressing"] = [house | {"copies": 4, "step": [100, 0, 0], "lit": 0.5}]
    fronts = house_fronts(scene_of(data, tmp_path))
    assert [each.name for each in fronts] == ["inn", "inn/2", "inn/3", "inn/4"]
    assert {(each.width, each.height) for each in fronts} == {(0.070, 0.060)}
    assert len({each.draw for each in fronts}) == 2  # two builds, in turn
    small, large = cut_out_sheets(fronts, A4, "fronts", Tape("mm"))
    assert not large
    (page,) = pages_of(pdf_of(small, "fronts"))
    drawn = [np.ptp(points, axis=0) for points in _drawn(page) if len(points) > 2]
    assert sum(np.allclose(span, (70, 60), atol=0.1) for span in drawn) >= 4


def test_a_front_shows_the_walls_in_their_colour_and_nothing_beside_a_gable(tmp_path: Path) -> None:
    data = scene_data(0)
    walls = {"id": "barn", "piece": "building", "at": [200, 320], "width": 40, "depth": 70, "height": 60, "floors": 1}
    data["dressing"] = [walls | {"roof": "gable", "colour": "#4060a0"}]
    scene = scene_of(data, tmp_path)
    front = front_of(scene, pieces_of(scene)[0])
    assert front.shape[1] / front.shape[0] == pytest.approx(40 / 60, rel=0.01)
    rows = front[..., 3] > 0
    assert rows[-10].mean() > 0.9 and rows[3].mean() < 0.3  # its front is a gable's: narrow at the top
    wall = front[int(0.75 * len(front)) :][rows[int(0.75 * len(front)) :]]
    # Plaster of that colour, weathered: bluer than it is red in the middle of all its dots.
    assert np.median(wall[:, 2]) > np.median(wall[:, 0]) + 20


# --- tiles ---


def _cell_from_marks(page: Page) -> Array:
    """Lower left and upper right corner of a tile's cell, told by its marks alone. [mm]"""
    marks = [p for p in _drawn(page) if len(p) == 2 and _sides(p)[0] == pytest.approx(MARK, abs=0.01)]
    upright = sorted({round(float(p[0, 0]), 3) for p in marks if abs(p[1, 0] - p[0, 0]) < 1e-3})
    level = sorted({round(float(p[0, 1]), 3) for p in marks if abs(p[1, 1] - p[0, 1]) < 1e-3})
    assert len(marks) == 8 and len(upright) == len(level) == 2
    return np.array([[upright[0], level[0]], [upright[1], level[1]]])


def _lines(page: Page, box: Any) -> Any:
    """All stroked lines in a box, as a shape. [mm]"""
    found = [np.concatenate([p, p[:1]]) if closed else p for p, closed in _strokes(page)]
    return shapely.intersection(shapely.union_all([shapely.linestrings(points) for points in found]), box)


def _strokes(page: Page) -> list[tuple[Array, bool]]:
    """Points, and whether they are told once round: pdfminer leaves the end of a rectangle out."""
    found = [path.points for path in page.paths if path.weight and len(path.points) > 1]
    return [(p, len(p) == 4 and bool((np.abs(np.diff(p, axis=0)).min(axis=1) < 1e-6).all())) for p in found]


def _moved(shape: Any, by: Array) -> Any:
    return shapely.transform(shape, lambda points: points + by)


@pytest.mark.parametrize(("paper", "count"), [("letter", 1), ("a4", 40)])
def test_tiles_joined_by_their_marks_are_the_whole(tmp_path: Path, paper: str, count: int) -> None:
    for part in map(_unnamed, _parts(scene_of(scene_data(count), tmp_path))):
        grid, tiles, pages = _tiled(part, PAPERS[paper])
        joined, cells = [], []
        for tile, page in zip(tiles, pages, strict=True):
            low, high = _cell_from_marks(page)
            assert (high - low).tolist() == pytest.approx(grid.step, abs=0.01)
            # Each row and column goes on from the one before, by the marks: nothing else says where a page belongs.
            move = np.array([tile.column, tile.row]) * (high - low) - low + np.array(grid.corner) * 1000
            cell = shapely.box(*low, *high).buffer(0.02, join_style="mitre")
            joined.append(_moved(_lines(page, cell), move))
            cells.append(_moved(cell, move))
        everything = shapely.box(*np.array(part.whole.bounds) * 1000).buffer(0.1)
        drawn = shapely.intersection(shapely.union_all(joined), everything)
        off = np.array([MARGIN, MARGIN + 11.0]) - np.array(part.whole.bounds[:2]) * 1000
        whole = shapely.intersection(_moved(_lines(_lone(part), shapely.box(0, 0, 1e4, 1e4)), -off), everything)
        wanted = shapely.intersection(whole, shapely.union_all(cells))
        assert wanted.length > 100
        assert shapely.difference(wanted, drawn.buffer(0.1)).length < 0.5
        assert shapely.difference(drawn, whole.buffer(0.1)).length < 0.5


@pytest.mark.parametrize(("path", "paper"), list(zip(DEMOS, itertools.cycle(("a4", "letter")))), ids=str)
def test_only_pages_with_something_on_them(path: Path, paper: str) -> None:
    most = max(setups_of(read_scene(path)), key=lambda setup: len(setup.shots))  # print takes one
    for part in _parts(most.scene):
        grid, tiles = best_grid(PAPERS[paper], part.something)
        assert len({(tile.row, tile.column) for tile in tiles}) == len(tiles)
        shown = [shapely.box(x, y, x + (grid.step[0] + STRIP) / 1000, y + (grid.step[1] + STRIP) / 1000)
                 for x, y in (tile.corner for tile in tiles)]  # fmt: skip
        for box in shown:
            assert shapely.intersects(part.something, box)
        left_out = shapely.difference(part.something, shapely.union_all(shown))
        assert left_out.area < 1e-10 and left_out.length < 1e-3
        everywhere = grid.rows * grid.columns
        assert len(tiles) <= everywhere
        for sheet in (tile_sheet(_unnamed(part), grid, tile, Tape("mm")) for tile in tiles):
            box = grid.shown
            inked = [m for m in sheet.marks if isinstance(m, Stroke | Area)
                     and box.low < (m.points if isinstance(m, Stroke) else m.outlines[0])[0][1] < box.high]  # fmt: skip
            assert inked, sheet.name


@pytest.mark.parametrize("seed", range(12))
def test_cells_lie_side_by_side_and_marks_are_found_with_a_tape(seed: int) -> None:
    rng = np.random.default_rng(seed)
    spots = rng.uniform(0, 3, (int(rng.integers(1, 9)), 2)) * (1.0, 0.5)
    something = shapely.union_all([shapely.Point(*spot).buffer(rng.uniform(0.001, 0.2)) for spot in spots])
    for paper in ("a4", "letter", "a3"):
        grid, tiles = best_grid(PAPERS[paper], something)
        assert len(tiles) >= 1
        for tile in tiles:
            where = np.array(tile.corner) * 1000
            assert where.tolist() == pytest.approx(np.round(where).tolist(), abs=1e-6), "whole millimetres"
        cells = [grid.cell(tile) for tile in tiles]
        assert shapely.union_all(cells).area == pytest.approx(sum(cell.area for cell in cells))
        assert shapely.difference(something, shapely.union_all(cells).buffer(2e-5)).area < 1e-9
        # No page more than there are, had the first stood in the lower left corner of it all.
        low = shapely.bounds(something)[:2]
        plain = Grid(grid.width, grid.height, tuple(low), tuple(shapely.bounds(something)[2:] - low))
        assert len(tiles) <= len(plain.carrying(something)) + 1


def test_an_inch_maker_finds_the_marks_at_quarter_inches(tmp_path: Path) -> None:
    scene = scene_of(scene_data(12, "in"), tmp_path)
    part = ground_plan(scene)
    assert part is not None
    _, tiles = best_grid(PAPERS["letter"], part.something, 25.4 / 4)
    quarters = np.array([tile.corner for tile in tiles]) / 0.0254 * 4
    assert np.abs(quarters - quarters.round()).max() < 1e-6


# --- as pictures ---

_DOTS = 2  # a millimetre, so that whole millimetres are whole pixels
_DARK, _INK = 110, 225  # codes: surely a line, and a trace of one between two pixels
_ROUND = 400  # free round the poster, for tiles that begin beyond it [mm]


def _pictures(folder: Path, sheets: list[Sheet]) -> list[NDArray[np.uint8]]:
    """Sheets as poppler draws them, grey, row 0 at the bottom."""
    for sheet in sheets:  # dashes begin anew at the edge of every page
        sheet.marks = [replace(mark, dashes=()) if isinstance(mark, Stroke) else mark for mark in sheet.marks]
    (folder / "sheets.pdf").write_bytes(pdf_of(sheets, "pictures"))
    for old in folder.glob("page*.png"):
        old.unlink()
    command = ["pdftoppm", "-r", str(25.4 * _DOTS), "-gray", "-png", str(folder / "sheets.pdf"), str(folder / "page")]
    subprocess.run(command, check=True)
    found = [np.asarray(Image.open(path).convert("L")) for path in sorted(folder.glob("page*.png"))]
    # A page that is no whole number of pixels is drawn on one more, below and at the right.
    sizes = [(round(sheet.height * _DOTS), round(sheet.width * _DOTS)) for sheet in sheets]
    return [pixels[:rows, :columns][::-1] for pixels, (rows, columns) in zip(found, sizes, strict=True)]


def _near(dark: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Pixels that are dark or beside a dark one: a page that is no whole number of pixels high lies between them."""
    padded = np.pad(dark, 1)
    height, width = dark.shape
    return np.any([padded[i : i + height, j : j + width] for i in range(3) for j in range(3)], axis=0)


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm (poppler-utils) is not installed")
def test_tiles_drawn_and_joined_show_what_the_whole_shows(tmp_path: Path) -> None:
    for part in map(_unnamed, _parts(scene_of(scene_data(40), tmp_path))):
        left, low, right, high = part.whole.bounds
        base = np.floor(np.array([left, low]) * 1000)
        part = replace(part, whole=shapely.box(*base / 1000, right, high))  # the poster begins at a whole millimetre
        width, height = (math.ceil(side) for side in large_size(part))
        (poster,) = _pictures(tmp_path, [large_sheet(part, (float(width), float(height)), Tape("mm"))])
        whole = np.zeros(((height + 2 * _ROUND) * _DOTS, (width + 2 * _ROUND) * _DOTS), dtype=bool)
        joined, covered = np.zeros_like(whole), np.zeros_like(whole)
        whole_ink, joined_ink = np.zeros_like(whole), np.zeros_like(whole)
        # Where it draws: all round are its margins, and under it its ruler.
        left_off, low_off = round(MARGIN * _DOTS), round((MARGIN + 11.0) * _DOTS)
        drawing = slice(low_off, round((height - MARGIN) * _DOTS)), slice(left_off, round((width - MARGIN) * _DOTS))
        there = tuple(slice(_ROUND * _DOTS + side.start, _ROUND * _DOTS + side.stop) for side in drawing)
        whole[there], whole_ink[there] = poster[drawing] < _DARK, poster[drawing] < _INK
        grid, tiles = best_grid(PAPERS["letter"], part.something)
        pictures = _pictures(tmp_path, [tile_sheet(part, grid, tile, Tape("mm")) for tile in tiles])
        for tile, picture in zip(tiles, pictures, strict=True):
            x, y = (np.round(np.array(tile.corner) * 1000) - base + (MARGIN, MARGIN + 11.0) + _ROUND).astype(
                int
            ) * _DOTS
            wide, tall = (round(side) * _DOTS for side in grid.step)
            column, row = round(grid.shown.left * _DOTS), round(grid.shown.low * _DOTS)
            cell, here = picture[row : row + tall, column : column + wide], (slice(y, y + tall), slice(x, x + wide))
            joined[here], joined_ink[here], covered[here] = cell < _DARK, cell < _INK, True
        shown = np.zeros_like(whole)  # what the poster has room for
        shown[there] = True
        covered &= shown
        seen = int((joined & covered).sum())
        lost = int((whole & covered & ~_near(joined_ink)).sum())
        added = int((joined & covered & ~_near(whole_ink)).sum())
        assert seen > 1000
        assert lost < 0.003 * seen and added < 0.003 * seen, f"{part.name}: {lost} and {added} of {seen} dark pixels"


# --- what is said ---


@pytest.mark.parametrize(
    ("count", "paper", "unit"), [(1, "a4", "mm"), (40, "letter", "mm"), (1, "letter", "in"), (40, "a4", "in")]
)
def test_words_stay_on_the_page_and_off_one_another(tmp_path: Path, count: int, paper: str, unit: str) -> None:
    prints = prints_of(scene_of(scene_data(count, unit), tmp_path), PAPERS[paper])
    for sheet in prints.sheets:
        shapes = [shapely.Polygon(words.corners) for words in sheet.lettering]
        page = shapely.box(0, 0, sheet.width, sheet.height).buffer(-MARGIN + 0.01)
        for words, shape in zip(sheet.lettering, shapes, strict=True):
            assert page.contains(shape), f"{sheet.name}: {words.text!r} runs off the page"
        tree = shapely.STRtree(shapes)
        for one, other in tree.query(shapes, predicate="intersects").T:
            if one < other:
                lap = shapely.intersection(shapes[one], shapes[other]).area
                both = sheet.lettering[one].text, sheet.lettering[other].text
                assert lap < 0.3, f"{sheet.name}: {both} overlap"
        for mark in sheet.marks:
            if isinstance(mark, Stroke):
                assert mark.points.min() > 5.0 and (mark.points < (sheet.width - 5.0, sheet.height - 5.0)).all()


@pytest.mark.parametrize("count", [1, 40])
def test_every_piece_is_named_on_some_page(tmp_path: Path, count: int) -> None:
    data = scene_data(count)
    prints = prints_of(scene_of(data, tmp_path), A4, ["ground"])
    said = {words.text for sheet in prints.sheets for words in sheet.lettering}
    assert {piece["id"] for piece in data["dressing"]} <= said


def test_the_index_comes_first_and_names_every_tile(tmp_path: Path) -> None:
    prints = prints_of(scene_of(scene_data(40), tmp_path), A4)
    names = [sheet.name for sheet in prints.sheets]
    assert names[0] == "index 1" and names == sorted(names, key=lambda name: not name.startswith("index"))
    on_first = [words.text for words in prints.sheets[0].lettering]
    for name in names:
        if name.split()[0] in ("ground", "road", "backdrop"):
            assert name.split()[1] in on_first
    assert sum(int(what.split()[0]) for _, what in prints.told) + sum("index" in name for name in names) == len(names)


def test_what_stands_off_the_table_is_on_the_index_with_its_place_from_the_corner(tmp_path: Path) -> None:
    """The side lamp stands 300 mm to the left of the table, as the scene has it; the key lamp hangs over it."""
    scene = scene_of(scene_data(1), tmp_path)
    told = _index_words(scene)
    assert "Off the table" in told and "lamp side -300 mm 100 mm 300 mm" in told
    assert "lamp key" not in told
    cards = {"piece": "bounce", "width": 200, "height": 100}
    data = scene_data(1)
    data["dressing"] += [{**cards, "id": "fill", "at": [500, -90, 60]}, {**cards, "id": "cut", "at": [500, 60, 220]}]
    held = scene_of(data, tmp_path)
    assert "bounce fill 500 mm -90 mm 60 mm" in _index_words(held)
    ground = [words.text for sheet in prints_of(held, A4, ["ground"]).sheets for words in sheet.lettering]
    assert "cut" in ground and "220 mm up" in ground
    only = prints_of(scene, A4, ["road"])
    assert "Off the table" not in " ".join(words.text for sheet in only.sheets for words in sheet.lettering)


def test_a_camera_that_travels_is_marked_where_it_begins_and_where_it_ends(tmp_path: Path) -> None:
    """As its keys have it, which are those times: not where it is mid-shutter in the first frame and the last."""
    data = scene_data(1)
    at = [{"time": f"{time} s", "at": place} for time, place in ((0, [200, -90, 60]), (0.5, [600, -90, 60]))]
    data["shots"][0] |= {"at": at, "moves": "evenly", "start": "0 s", "duration": "0.5 s"}
    told = _index_words(scene_of(data, tmp_path))
    assert "camera pass begins 200 mm -90 mm 60 mm" in told and "camera pass ends 600 mm -90 mm 60 mm" in told


def test_what_can_hurt_is_said(tmp_path: Path) -> None:
    data = scene_data(2)
    said = _index_words(scene_of(data, tmp_path))
    for word in ("blade", "Saw and sand", "31.75 mm", "supports", "no risk assessment"):
        assert word in said, word
    data["vehicle"] = {"body": "van", "path": "road", "speed": "0.5 m/s"}
    said = _index_words(scene_of(data, tmp_path))
    assert "blade" in said and "Saw and sand" not in said


def _index_words(scene: Scene) -> str:
    sheets = prints_of(scene, A4).sheets
    return " ".join(words.text for sheet in sheets if sheet.name.startswith("index") for words in sheet.lettering)


# --- what is asked for ---


def test_only_what_is_asked_for_is_printed(tmp_path: Path) -> None:
    scene = scene_of(scene_data(12), tmp_path)
    prints = prints_of(scene, A4, ["road", "cards"])
    assert [name for name, _ in prints.told] == ["road", "cards"]
    assert {sheet.name.split()[0] for sheet in prints.sheets} == {"index", "road", "cards"}


def test_a_road_without_lines_takes_no_ink_unless_it_is_asked_for(tmp_path: Path) -> None:
    data = scene_data(1)
    data["set"]["road"] |= {"markings": "none", "edges": False}
    scene = scene_of(data, tmp_path)
    prints = prints_of(scene, A4)
    assert not [sheet.name for sheet in prints.sheets if sheet.name.startswith("road")]
    assert dict(prints.told)["road"].startswith("no pages, it has no lines")
    part, road = ground_plan(scene), road_print(scene)
    assert part is not None and road is not None
    grid, tiles = best_grid(A4, part.something)
    everywhere = shapely.union_all([grid.cell(tile) for tile in tiles]).buffer(1e-4)
    assert everywhere.contains(shapely.boundary(road.something))  # its edges are on the ground plan
    asked = prints_of(scene, A4, ["road"])
    assert asked.told == (("road", f"{len(asked.sheets) - 1} pages"),)


def test_puddles_are_on_pages_with_their_numbers_and_in_the_legend(tmp_path: Path) -> None:
    data = scene_data(1)
    assert "puddle" not in _index_words(scene_of(data, tmp_path))
    data["set"]["ground"]["puddles"] = {"count": 5, "size": [30, 60]}
    scene = scene_of(data, tmp_path)
    assert "puddle, by its number in the plan's list" in _index_words(scene)
    part = ground_plan(scene)
    assert part is not None
    grid, tiles = best_grid(A4, part.something)
    everywhere = shapely.union_all([grid.cell(tile) for tile in tiles]).buffer(1e-4)
    puddles = puddles_of(scene)
    assert len(puddles) == 5
    for puddle in puddles:
        assert everywhere.contains(shapely.intersection(shapely.Polygon(puddle.outline), part.whole))
    told = [words.text for tile in tiles for words in tile_sheet(part, grid, tile, Tape("mm")).lettering]
    assert {f"puddle {number}" for number in range(1, 6)} <= set(told)


def test_each_part_on_the_smallest_sheet_that_holds_it(tmp_path: Path) -> None:
    prints = prints_of(scene_of(scene_data(1), tmp_path), A4, poster=True)
    told = dict(prints.told)
    # By hand: 900 x 420 mm with 12 mm round it and 11 mm for its foot are 924 x 455 mm. Of the sizes that are as long
    # the smallest is 700 x 1000, as shops have it; SRA1 (640 x 900) is not long enough.
    assert told["ground"] == "one sheet, 70 x 100 cm lying"
    (page,) = [page for page in pages_of(pdf_of(prints.sheets, "poster")) if page.width > 900 and "Ground" in page.text]
    assert (page.width, page.height) == pytest.approx((1000, 700), abs=0.01)


def test_a_set_larger_than_any_sheet_gets_one_of_its_own_up_to_what_a_pdf_holds(tmp_path: Path) -> None:
    data = scene_data(1)
    data["set"]["table"] |= {"width": 3000}
    assert dict(prints_of(scene_of(data, tmp_path), A4, ["ground"], poster=True).told)["ground"] == (
        "one sheet, 3024 mm × 455 mm"
    )
    data["set"]["table"] |= {"width": 5100}
    with pytest.raises(PrevizError, match="5124 mm long, and a page of a PDF is 5080 mm at most"):
        prints_of(scene_of(data, tmp_path), A4, ["ground"], poster=True)


def test_more_pages_than_anybody_wants_are_refused_before_they_are_drawn(tmp_path: Path) -> None:
    data = scene_data(1)
    data["set"]["table"] |= {"width": 20_000, "depth": 20_000}
    there_and_back = [[x, y] for way in range(2) for x, y in [(0, 9000 * way), (20_000, 9000 * way + 5000)]]
    data["vehicle"] |= {"path": there_and_back}
    del data["set"]["road"], data["set"]["backdrop"]
    with pytest.raises(PrevizError, match="more than 400; print one part with --only, larger paper with --paper"):
        prints_of(scene_of(data, tmp_path), A4)


def test_nothing_to_print_is_said(tmp_path: Path) -> None:
    data = scene_data(0)
    with pytest.raises(PrevizError, match="there is nothing to print at life size: no cards in the scene"):
        prints_of(scene_of(data, tmp_path), A4, ["cards"])


def test_an_image_s_clear_part_is_cut_away(tmp_path: Path) -> None:
    data = scene_data(0)
    data["dressing"] = [
        {"id": "tree", "piece": "card", "at": [450, 300], "width": 60, "height": 50, "image": "tree.png"}
    ]
    scene = scene_of(data, tmp_path)
    (tree,) = cut_outs(scene)
    part = Part(
        "tree", "tree", "", shapely.box(0, 0, 0.06, 0.05), shapely.box(0, 0, 0.06, 0.05), tree.draw, lambda view: []
    )
    (page,) = pages_of(pdf_of([large_sheet(part, large_size(part), Tape("mm"))], "tree"))
    assert page.pictures == 1
    outline = max(page.paths, key=lambda path: len(path.points)).points - (MARGIN, MARGIN + 11.0)
    # The picture is 300 x 250: its crown reaches from 40 to 260 across, its trunk from the foot to 10 below the top.
    assert outline[:, 0].min() == pytest.approx(40 * 0.2, abs=0.3) and outline[:, 0].max() == pytest.approx(
        260 * 0.2, abs=0.3
    )
    assert outline[:, 1].min() == pytest.approx(0, abs=0.3) and outline[:, 1].max() == pytest.approx(48, abs=0.3)


def test_a_printed_colour_is_the_picture_s() -> None:
    # IEC 61966-2-1: linear 0.2140 is code 127, 0.0 and 1.0 are 0 and 255
    assert ink_of((0.0, 0.2140, 1.0)) == "#007fff"


def test_the_same_scene_gives_the_same_bytes(tmp_path: Path) -> None:
    data = scene_data(12)
    one, other = (pdf_of(prints_of(scene_of(data, tmp_path), A4).sheets, "x") for _ in range(2))
    assert one == other


@pytest.mark.parametrize("used", [0.0, 0.9, 0.93])
def test_precautions_stand_on_one_page(used: float) -> None:
    pages = _Pages(PAPERS["a4"], [])
    pages.new()
    pages.y -= used * pages.sheet.inside.height
    _cautions(pages, [Caution("knife", "what cuts", "Cut away from you, and cover it. " * 6, "")] * 2)
    assert [len(sheet.lettering) > 0 for sheet in pages.sheets] == [used < 0.5] + [True] * (used > 0.5)
