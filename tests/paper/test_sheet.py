"""Sheets in millimetres: lengths read back from the PDF by a library that did not write it, and what is cut."""

import io
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from PIL import Image

from previz.paper.letters import MISSING, cut, lines_of, printable, width_of
from previz.paper.sheet import BLACK, DASHED, MEDIUM, THICK, THIN, Box, Sheet, Stroke, Table, View, Words
from previz.paper.written import pdf_of, png_of, svg_of
from tests.paper.reading import pages_of

A4 = (210.0, 297.0)
LETTER = (215.9, 279.4)


def _sheet(size: tuple[float, float] = A4) -> Sheet:
    return Sheet(*size, "try")


@pytest.mark.parametrize("size", [A4, LETTER])
def test_a_millimetre_is_a_millimetre_to_a_hundredth(size: tuple[float, float]) -> None:
    sheet = _sheet(size)
    ends = np.random.default_rng(4).uniform(0, 200, (50, 2, 2))
    for start, end in ends:
        sheet.line([start, end], MEDIUM)
    (page,) = pages_of(pdf_of([sheet], "lengths"))
    assert (page.width, page.height) == pytest.approx(size, abs=0.01)
    found = [path.points for path in page.paths if path.weight]
    assert len(found) == 50
    assert np.abs(np.array(found) - ends).max() < 0.01
    assert {round(path.weight, 3) for path in page.paths if path.weight} == {MEDIUM}


def test_a_view_is_to_its_drawing_scale_and_cut_at_its_box() -> None:
    sheet = _sheet()
    view = View(sheet, Box(20, 20, 120, 120), 5, (0.1, 0.2))
    view.line([(0.1, 0.2), (0.4, 0.6)])  # 500 mm of the set: 100 mm on paper
    view.line([(0.2, 0.3), (9.0, 0.3)])
    (page,) = pages_of(pdf_of([sheet], "view"))
    whole, part = (path.points for path in page.paths if path.weight)
    assert np.linalg.norm(whole[1] - whole[0]) == pytest.approx(100, abs=0.01)
    assert whole[0] == pytest.approx([20, 20], abs=0.01)
    assert part[:, 0].max() == pytest.approx(120, abs=0.01)


def test_a_dimension_line_is_as_long_as_what_it_measures() -> None:
    sheet = _sheet()
    sheet.dimension((30, 60), (130, 60), "100 mm", 10)
    strokes = [mark.points for mark in sheet.marks if isinstance(mark, Stroke)]
    assert any(np.allclose(points, [[30, 70], [130, 70]]) for points in strokes)
    (words,) = sheet.lettering
    assert words.box.low > 70


@pytest.mark.parametrize(("to", "turn"), [((30, 90), 90), ((60, 60), 0), ((0, 60), 0)])
def test_a_dimension_is_read_from_below_or_from_the_right(to: tuple[float, float], turn: float) -> None:
    words = _sheet().dimension((30, 60), to, "5 mm", 0)
    assert words.turn % 360 == pytest.approx(turn)


def test_a_text_that_is_wider_than_its_dimension_stands_past_it() -> None:
    sheet = _sheet()
    words = sheet.dimension((30, 60), (34, 60), "4 mm", 8)
    assert words.box.left > 34


def test_words_are_as_wide_as_they_were_measured() -> None:
    sheet = _sheet()
    texts = ["AVAVA To Wy fi", "quay_lorry 1:50", "Ωä ½ 3/16 in", "iiiiiiii", "WWWWWWWW"]
    for number, text in enumerate(texts):
        sheet.words(text, (20, 20 + 10 * number), 9)
    (page,) = pages_of(pdf_of([sheet], "words"))
    for text, words in zip(texts, sheet.lettering, strict=True):
        line = next(each for each in page.lines if each.text == text)
        kerned = 0.07 if "AV" in text else 0.01  # pairs of letters may stand closer than their widths; never further
        assert -kerned * words.box.width < line.box[2] - words.box.right < 0.05
    assert all("DejaVu" in font and "+" in font for font in page.fonts)  # a subset of it is embedded


def test_turned_words_take_up_a_turned_box() -> None:
    flat, upright = Words("abc", (50, 50), 9), Words("abc", (50, 50), 9, turn=90)
    assert upright.box.height == pytest.approx(flat.box.width)
    assert upright.box.left == pytest.approx(50 - (flat.box.high - 50))


def test_lines_never_overflow_their_width() -> None:
    rng = np.random.default_rng(7)
    for _ in range(60):
        lengths = rng.integers(1, 30, rng.integers(1, 12))
        text = " ".join("".join(rng.choice(list("abcWMil,"), n)) for n in lengths)
        width = float(rng.uniform(6, 60))
        lines = lines_of(text, width, 8)
        assert "".join(lines).replace(" ", "") == text.replace(" ", "")
        assert all(width_of(line, 8) <= width for line in lines)
        assert width_of(cut(text, width, 8), 8) <= width


def test_what_the_typeface_has_not_becomes_a_box_and_a_dollar_stays_one() -> None:
    assert printable("a\u6f22\x07b\n$x$") == f"a{MISSING}{MISSING}b $x$"
    sheet = _sheet()
    sheet.words("cost $5$ \u6f22", (20, 20))
    (page,) = pages_of(pdf_of([sheet], "$"))
    assert f"cost $5$ {MISSING}" in page.text


def test_hatching_stays_inside_its_shape_and_keeps_its_step() -> None:
    sheet = _sheet()
    shape = shapely.Point(100, 150).buffer(30).difference(shapely.Point(100, 150).buffer(10))
    sheet.hatch(shape, turn=30, step=2)
    strokes = [mark for mark in sheet.marks if isinstance(mark, Stroke)]
    assert strokes
    assert all(shapely.buffer(shape, 1e-6).covers(shapely.linestrings(mark.points)) for mark in strokes)
    normal = np.array([-np.sin(np.radians(30)), np.cos(np.radians(30))])
    rows = np.unique(np.round([mark.points.mean(axis=0) @ normal for mark in strokes], 6))
    assert np.diff(rows) == pytest.approx(2)


def test_a_hole_in_an_area_stays_white_in_the_picture() -> None:
    sheet = Sheet(40, 40, "ring")
    sheet.area(shapely.box(5, 5, 35, 35).difference(shapely.box(15, 15, 25, 25)), BLACK)
    pixels = np.asarray(Image.open(io.BytesIO(png_of(sheet, 254))).convert("L"))
    assert pixels.shape == (400, 400)
    assert (pixels[200, 200], pixels[200, 100], pixels[20, 20]) == (255, 0, 255)


def test_a_table_wraps_its_cells_and_says_how_many_rows_it_placed() -> None:
    rows = tuple(
        (f"piece_{n}", "a long cell of many words that must be wrapped to stay in its column", "1") for n in range(40)
    )
    sheet, box = _sheet(), Box(20, 200, 90, 280)
    table = Table(("piece", "what it is", "n"), rows)
    done, y = table.draw(sheet, box)
    assert 0 < done < 40
    assert y >= box.low
    assert len(table.rest(done).rows) == 40 - done
    assert all(words.box.within(box) for words in sheet.lettering)
    boxes = [words.box for words in sheet.lettering]
    assert not any(a.meets(b) for n, a in enumerate(boxes) for b in boxes[:n])


def test_a_narrow_column_is_not_broken_for_the_sake_of_a_wide_one() -> None:
    long = "words without end that go on and on " * 3
    table = Table(("lamp", "throw", "what", "mains"), (("key", "142 1/8", long, "not said"), ("a", "1", long, "yes")))
    sheet = _sheet()
    table.draw(sheet, Box(20, 20, 110, 280))
    told = [words.text for words in sheet.lettering]
    assert "142 1/8" in told and "not said" in told


def test_a_picture_keeps_its_shape() -> None:
    sheet = _sheet()
    sheet.picture(np.zeros((90, 160, 3), np.uint8), Box(20, 20, 120, 120))
    (page,) = pages_of(pdf_of([sheet], "picture"))
    assert page.pictures == 1
    assert sheet.marks[0].box.width / sheet.marks[0].box.height == pytest.approx(16 / 9)  # type: ignore[union-attr]


def test_a_picture_that_comes_later_is_written_as_if_it_had_been_there() -> None:
    pixels = np.random.default_rng(5).integers(0, 256, (9, 16, 3), dtype=np.uint8)

    def written(shown: np.ndarray, come: Callable[[], None] | None = None) -> bytes:
        sheet = _sheet()
        sheet.picture(shown, Box(20, 20, 120, 120))
        return pdf_of([sheet], "picture", 50, come)

    room = np.zeros_like(pixels)
    there, black = written(pixels), written(room)
    assert written(room, lambda: np.copyto(room, pixels)) == there != black


def test_the_same_sheet_gives_the_same_bytes_whatever_a_user_has_set() -> None:
    import matplotlib

    sheet = _sheet()
    sheet.dimension((30, 60), (130, 60), "100 mm", 10)
    sheet.line([(1, 1), (50, 50)], THICK, dashes=DASHED)
    sheet.hatch(shapely.box(30, 100, 60, 130), weight=THIN)
    first = pdf_of([sheet], "t"), svg_of(sheet), png_of(sheet, 50)
    with matplotlib.rc_context({"lines.linewidth": 9, "path.sketch": (1, 2, 3), "text.color": "red"}):
        assert (pdf_of([sheet], "t"), svg_of(sheet), png_of(sheet, 50)) == first
    assert b"Date" not in first[0]
