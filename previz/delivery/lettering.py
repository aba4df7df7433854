"""Letters in pictures: the font, its sizes, and text made to fit the room there is."""

import unicodedata
from functools import lru_cache

from PIL import ImageFont

from previz.units import unbroken


@lru_cache(maxsize=16)
def font(size: int) -> ImageFont.FreeTypeFont:
    """Pillow's own font, which needs none installed, with letters of that size. [px]"""
    found = ImageFont.load_default(size)
    assert isinstance(found, ImageFont.FreeTypeFont)  # Pillow's wheels all carry FreeType
    return found


def cut(text: str, size: int, room: float) -> str:
    """The text, shortened to the room there is [px], `...` showing where."""
    letters = font(size)
    if letters.getlength(text) <= room:
        return text
    while text and letters.getlength(text + "...") > room:
        text = text[:-1]
    return text.rstrip() + "..."


def wrapped(text: str, size: int, room: float) -> list[str]:
    """The text in lines no longer than the room there is [px]; a word longer than a line is cut."""
    lines: list[str] = []
    for word in unbroken(text):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font(size).getlength(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(cut(word, size, room))
    return lines


#: What stands for a character that is no other one with an accent. As passports and typewriters have them.
_KIN = str.maketrans(
    {"ß": "ss", "ẞ": "SS", "Æ": "AE", "æ": "ae", "Œ": "OE", "œ": "oe", "Ø": "O", "ø": "o", "Ł": "L", "ł": "l",
     "Đ": "D", "đ": "d", "Ð": "D", "ð": "d", "Þ": "TH", "þ": "th", "ı": "i", "×": "x", "⁄": "/",
     "–": "-", "—": "-", "‘": "'", "’": "'", "‚": "'", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"'}
)  # fmt: skip


def ascii_of(text: str) -> str:
    """Text in letters the font has: accents are dropped, a letter without an ASCII kin becomes `?`.

    >>> ascii_of("Überfahrt – Landstraße")
    'Uberfahrt - Landstrasse'
    """
    apart = unicodedata.normalize("NFKD", text).translate(_KIN)
    return "".join(c for c in apart if not unicodedata.combining(c)).encode("ascii", "replace").decode()
