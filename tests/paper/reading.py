"""What a PDF holds, read back with pdfminer.six, which had no part in writing it. [mm] from the lower left."""

import io
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pdfminer.high_level import extract_pages
from pdfminer.layout import LAParams, LTChar, LTCurve, LTFigure, LTImage, LTPage, LTRect, LTTextLine

MM = 25.4 / 72


@dataclass(frozen=True)
class Path:
    """A line or outline: its points [mm], the width of its stroke [mm] (0: none), whether it is filled."""

    points: NDArray[np.float64]
    weight: float
    filled: bool


@dataclass(frozen=True)
class Line:
    """A line of text and the box around it: left, low, right, high. [mm]"""

    text: str
    box: tuple[float, float, float, float]
    size: float


@dataclass(frozen=True)
class Page:
    """One page: its size [mm], paths, text, how many pictures, and the typefaces of its letters."""

    width: float
    height: float
    paths: tuple[Path, ...]
    lines: tuple[Line, ...]
    pictures: int
    fonts: frozenset[str]

    @property
    def text(self) -> str:
        return "\n".join(line.text for line in self.lines)


def pages_of(data: bytes) -> list[Page]:
    return [_page(each) for each in extract_pages(io.BytesIO(data), laparams=LAParams(detect_vertical=True))]


def _page(page: LTPage) -> Page:
    paths, lines, pictures, fonts = [], [], 0, set()
    for item in _flat(page):
        if isinstance(item, LTCurve):
            weight = float(item.linewidth) * MM if item.stroke else 0.0
            points = np.array(item.pts, dtype=float) * MM
            if isinstance(item, LTRect) and len(points) == 4:  # told without its way back to the first
                points = np.concatenate([points, points[:1]])
            paths.append(Path(points, weight, bool(item.fill)))
        elif isinstance(item, LTTextLine):
            letters = [each for each in item if isinstance(each, LTChar)]
            fonts |= {each.fontname for each in letters}
            lines.append(Line(item.get_text().strip(), tuple(each * MM for each in item.bbox), letters[0].size))
        elif isinstance(item, LTImage):
            pictures += 1
    return Page(page.width * MM, page.height * MM, tuple(paths), tuple(lines), pictures, frozenset(fonts))


def _flat(item: object) -> Iterator[object]:
    yield item
    if isinstance(item, LTTextLine) or not hasattr(item, "__iter__"):
        return
    for each in item if not isinstance(item, LTFigure) else list(item):
        yield from _flat(each)


def spans(page: Page) -> NDArray[np.float64]:
    """Lengths of the pieces of all its stroked lines. [mm]"""
    steps = [np.linalg.norm(np.diff(path.points, axis=0), axis=1) for path in page.paths if path.weight]
    return np.concatenate(steps) if steps else np.zeros(0)
