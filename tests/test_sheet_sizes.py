"""Sizes of paper and board, against the standards that set them."""

import pytest

from previz.sheet_sizes import METRIC_BOARDS, PAGES, SHEETS, US_BOARDS, sheet_called


@pytest.mark.parametrize(
    "name,short,long",
    [
        # ISO 216: Wikipedia "ISO 216", table, seen; its tolerances are from memory and not used
        ("A0", 841, 1189), ("A1", 594, 841), ("A2", 420, 594), ("A3", 297, 420), ("A4", 210, 297), ("B1", 707, 1000),
        ("B2", 500, 707),
        # ISO 217: from memory
        ("RA0", 860, 1220), ("RA1", 610, 860), ("RA2", 430, 610),
        ("SRA0", 900, 1280), ("SRA1", 640, 900), ("SRA2", 450, 640),
        # ASME Y14.1: from memory. Each is two of the one before
        ("ANSI A", 8.5 * 25.4, 11 * 25.4), ("ANSI B", 11 * 25.4, 17 * 25.4), ("ANSI C", 17 * 25.4, 22 * 25.4),
        ("ANSI D", 22 * 25.4, 34 * 25.4), ("ANSI E", 34 * 25.4, 44 * 25.4),
        ("letter", 8.5 * 25.4, 11 * 25.4), ("legal", 8.5 * 25.4, 14 * 25.4),  # from memory
        ("US poster board", 22 * 25.4, 28 * 25.4),  # Wikipedia "Display board": seen
        ("Bristol", 22.5 * 25.4, 28.5 * 25.4),  # a paper merchant's chart: as quoted
        ("50 x 70 cm", 500, 700), ("70 x 100 cm", 700, 1000),  # as they are called; common practice, no source
    ],
)  # fmt: skip
def test_sheets_are_of_their_standard_size(name: str, short: float, long: float) -> None:
    assert SHEETS[name][:2] == pytest.approx((short / 1000, long / 1000), abs=1e-9)


def test_a_sizes_halve() -> None:
    # ISO 216: the next smaller has the larger's short side for its long one; sides are cut down to whole millimetres
    for larger, smaller in (("A0", "A1"), ("A1", "A2"), ("A2", "A3"), ("A3", "A4"), ("B1", "B2")):
        assert SHEETS[smaller].long == SHEETS[larger].short
        assert SHEETS[smaller].short == pytest.approx(SHEETS[larger].long / 2, abs=0.0006)


def test_raw_sheets_are_larger_than_what_is_trimmed_from_them() -> None:
    # ISO 217: RA is for trimming to A, SRA for trimming where the print runs to the edge (from memory)
    for size in ("0", "1", "2"):
        for inner, outer in ((f"A{size}", f"RA{size}"), (f"RA{size}", f"SRA{size}")):
            assert SHEETS[inner].short < SHEETS[outer].short and SHEETS[inner].long < SHEETS[outer].long


def test_all_boards_and_pages_have_a_size_and_a_source() -> None:
    for name in (*METRIC_BOARDS, *US_BOARDS, *PAGES.values()):
        assert SHEETS[name].short <= SHEETS[name].long and SHEETS[name].source


def test_a_size_that_not_everyone_knows_is_told_with_its_sides() -> None:
    # ISO 217 and ASME Y14.1, as above
    assert sheet_called("SRA0") == "SRA0 (90 x 128 cm)" and sheet_called("ANSI D") == "ANSI D (22 x 34 in)"
    assert sheet_called("Bristol") == "Bristol (22.5 x 28.5 in)" and sheet_called("B1") == "B1 (70.7 x 100 cm)"
    assert all(" x " in sheet_called(name) for name in (*METRIC_BOARDS, *US_BOARDS))
