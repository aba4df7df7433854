"""How wide and high words are in print, so that they can be placed before they are written.

Widths are those of the typeface itself (DejaVu Sans, which comes with matplotlib and may be embedded and passed on), so
what is measured here is what the PDF shows. Sizes are in points of 1/72 in, widths in millimetres.
"""

import logging
from collections.abc import Iterator
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from previz.units import unbroken

if TYPE_CHECKING:
    from matplotlib.ft2font import FT2Font

# It would say on stderr where it keeps its list of typefaces, which nobody asked.
logging.getLogger("matplotlib").setLevel(logging.ERROR)

#: One point. [mm]
POINT = 25.4 / 72

#: Of the typeface, in ems: the height of a capital, how far a letter hangs below its line, and from line to line.
CAPITAL, HANGS, LEADING = 0.73, 0.21, 1.3

#: Stands for a character that the typeface has not.
MISSING = "□"

_MEASURED_AT = 100.0  # points; widths grow evenly with the size
_KEPT = "\u00ad\u200b"  # seen as nothing: taken out


@cache
def font_file(bold: bool = False) -> Path:
    """The file of the typeface."""
    import matplotlib

    return Path(matplotlib.get_data_path(), "fonts", "ttf", "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")


@cache
def _font(bold: bool) -> "FT2Font":
    from matplotlib.ft2font import FT2Font

    font = FT2Font(str(font_file(bold)))
    font.set_size(_MEASURED_AT, 72)
    return font


@lru_cache(maxsize=8192)
def printable(text: str) -> str:
    """The text on one line, with a box for each character that cannot be written.

    >>> printable("a\\tb" + chr(7)) == "a b" + MISSING
    True
    """
    has = _font(False).get_char_index
    line = "".join(" " if each.isspace() else each for each in text if each not in _KEPT)
    return "".join(each if each == " " or (each.isprintable() and has(ord(each))) else MISSING for each in line)


@lru_cache(maxsize=8192)
def width_of(text: str, size: float, bold: bool = False) -> float:
    """How wide a line of text is. [mm]

    text as `printable` gives it, size in points.
    """
    return sum(_step(each, bold) for each in printable(text)) * size * POINT  # kerning only makes it less


@cache
def _step(letter: str, bold: bool) -> float:
    """From one letter to the next, in ems."""
    from matplotlib.ft2font import LoadFlags

    glyph = _font(bold).load_char(ord(letter), flags=LoadFlags.NO_HINTING)
    return float(glyph.linearHoriAdvance / 65536 / _MEASURED_AT)  # told in 65536ths of a point


def cut(text: str, width: float, size: float, bold: bool = False) -> str:
    """As much of a line as a width [mm] holds, with … for the rest."""
    text = printable(text)
    if width_of(text, size, bold) <= width:
        return text
    kept = text
    while kept and width_of(kept.rstrip() + "…", size, bold) > width:
        kept = kept[:-1]
    return kept.rstrip() + "…"


def lines_of(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Text broken into lines that a width [mm] holds; a word that is longer is broken too. One line at least."""
    lines: list[str] = []
    for part in text.split("\n"):
        line = ""
        for word in _words(printable(part), width, size, bold):
            longer = f"{line} {word}" if line else word
            if line and width_of(longer, size, bold) > width:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(line)
    return lines


def _words(text: str, width: float, size: float, bold: bool) -> Iterator[str]:
    for whole in unbroken(text):
        for word in [whole] if width_of(whole, size, bold) <= width else whole.split():
            while len(word) > 1 and width_of(word, size, bold) > width:
                count = len(word) - 1
                while count > 1 and width_of(word[:count], size, bold) > width:
                    count -= 1
                yield word[:count]
                word = word[count:]
            yield word
