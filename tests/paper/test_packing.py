"""Blanks on sheets: all there, none over another, none over the edge, and how near to the area's bound."""

import numpy as np
import pytest
import shapely

from previz.paper.packing import Blank, Laid, laid_on_sheets, least_sheets
from previz.sheet_sizes import METRIC_BOARDS, SHEETS, US_BOARDS


def _blanks(rng: np.random.Generator, count: int, sheet: tuple[float, float]) -> list[Blank]:
    sides = rng.uniform(0.02, 0.6, (count, 2)) * sheet
    return [Blank(f"b{number}", "b", *map(float, each)) for number, each in enumerate(sides)]


def _shape(each: Laid) -> shapely.Polygon:
    return shapely.box(each.x, each.y, each.x + each.size[0], each.y + each.size[1])


@pytest.mark.parametrize("seed", range(60))
def test_nothing_overlaps_or_leaves_its_sheet_and_all_is_there(seed: int) -> None:
    rng = np.random.default_rng(seed)
    boards = (*METRIC_BOARDS, *US_BOARDS)
    name = boards[seed % len(boards)]
    sheet = SHEETS[name].short, SHEETS[name].long
    edge, cut = float(rng.uniform(0, 0.005)), float(rng.uniform(0, 0.003))
    blanks = _blanks(rng, int(rng.integers(1, 45)), sheet)
    laid = laid_on_sheets(blanks, sheet, edge, cut, turning=bool(seed % 3))
    assert laid is not None
    assert sorted(each.blank.name for each in laid) == sorted(each.name for each in blanks)
    inside = shapely.box(edge, edge, sheet[0] - edge, sheet[1] - edge).buffer(1e-9)
    for number in range(1 + max(each.sheet for each in laid)):
        shapes = [_shape(each) for each in laid if each.sheet == number]
        assert shapes, "no sheet is bought for nothing"
        assert all(inside.contains(shape) for shape in shapes)
        # Room for the blade between any two: grown by half a cut each, they share no area.
        grown = [shape.buffer(cut / 2 - 1e-6, join_style="mitre") for shape in shapes]
        assert sum(shape.area for shape in grown) == pytest.approx(shapely.union_all(grown).area, rel=1e-9)
    for each in laid:
        wide, high = each.size
        assert sorted((wide, high)) == pytest.approx(sorted((each.blank.width, each.blank.height)))
        assert seed % 3 or not each.turned


@pytest.mark.parametrize("seed", range(20))
def test_never_fewer_sheets_than_the_area_needs(seed: int) -> None:
    rng = np.random.default_rng([seed, 1])
    blanks = _blanks(rng, 40, (0.6, 0.8))
    laid = laid_on_sheets(blanks, (0.6, 0.8), 0.001, 0.001)
    assert laid is not None
    count = 1 + max(each.sheet for each in laid)
    usable = (0.6 - 0.002) * (0.8 - 0.002)
    # By area alone, without any cut between them: a bound from below that no packing undercuts.
    assert sum(blank.area for blank in blanks) <= count * usable
    assert least_sheets(blanks, (0.6, 0.8), 0.001, 0.001) <= count <= 1.25 * sum(b.area for b in blanks) / usable + 1


def test_halves_of_a_sheet_fill_it() -> None:
    # By hand: two A4 lie on one A3 (297 = 297, 2 x 210 = 420), four on an A2 (420, 594)
    a4 = [Blank(str(number), "a4", 0.210, 0.297) for number in range(4)]
    assert {each.sheet for each in laid_on_sheets(a4[:2], (0.297, 0.420)) or ()} == {0}
    assert {each.sheet for each in laid_on_sheets(a4, (0.420, 0.594)) or ()} == {0}
    assert least_sheets(a4, (0.420, 0.594), 0.0, 0.0) == 1
    # a blade's width between them, and four do not fit any more
    assert max(each.sheet for each in laid_on_sheets(a4, (0.420, 0.594), cut=0.001) or ()) == 1


def test_what_is_larger_than_a_sheet_is_not_laid() -> None:
    assert laid_on_sheets([Blank("a", "a", 0.3, 0.5)], (0.4, 0.42)) is None
    assert laid_on_sheets([Blank("a", "a", 0.42, 0.1)], (0.4, 0.42)) is not None
    assert laid_on_sheets([Blank("a", "a", 0.42, 0.1)], (0.4, 0.42), turning=False) is None
