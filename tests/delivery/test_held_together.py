"""No line that a maker reads ends between a number and its unit, wherever it is broken: held against random texts."""

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from previz.delivery import lettering
from previz.delivery.one_file import templates_in
from previz.paper.letters import lines_of
from previz.units import wrapped

#: As they are told; of another kind than what they are looked for with.
TOLD = ["27 %", "-640 mm", "3.5 m", "1/120 s", "19 3/16 in", "45 deg", "18 km/h", "4 ft", "3200 K", "ISO 640", "300 lx",
        "120 fps", "2.5 stops", "25 MB"]  # fmt: skip
PLAIN = ["a", "vehicle", "in", "frames", "of", "7", "walls,", "sharp"]

BROKEN: dict[str, Callable[[str, int], list[str]]] = {
    "terminal": lambda text, width: wrapped(text, width),
    "picture": lambda text, width: lettering.wrapped(text, 14, 9.0 * width),
    "paper": lambda text, width: lines_of(text, 2.0 * width, 8),
}


@pytest.mark.parametrize("where", BROKEN)
def test_a_number_stays_with_its_unit(where: str) -> None:
    rng = np.random.default_rng(13)
    for _ in range(200):
        words = [rng.choice(TOLD) if rng.random() < 0.5 else rng.choice(PLAIN) for _ in range(rng.integers(5, 30))]
        text, width = " ".join(words), int(rng.integers(14, 60))
        lines = BROKEN[where](text, width)
        assert " ".join(lines) == text  # nothing is lost, and spaces are plain ones
        assert all(sum(line.count(each) for line in lines) == text.count(each) for each in TOLD)


def test_what_is_wider_than_a_column_of_a_sheet_is_parted_at_its_space() -> None:
    assert lines_of("123456 mm", 12.0, 8) == ["123456", "mm"]


def test_a_page_that_a_browser_breaks_into_lines_holds_them_too(tmp_path: Path) -> None:
    (tmp_path / "a.html").write_text('<p title="{{ told }}">{{ told }} {{ 7 }}</p>', encoding="utf-8")
    html = templates_in(tmp_path).get_template("a.html").render(told="27 % <b>")
    assert re.fullmatch('<p title="27\N{NO-BREAK SPACE}% &lt;b&gt;">27\N{NO-BREAK SPACE}% &lt;b&gt; 7</p>', html)
