"""The contact sheet: a picture of each stretch of the cut, with its number, when it plays and how long."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from PIL import Image, ImageDraw

from previz.delivery.cut.cut_list import ListRow
from previz.delivery.cut.joining import STILL_WIDTH
from previz.delivery.lettering import ascii_of, cut, font
from previz.delivery.still import PNG_PACKING, srgb_tags
from previz.delivery.whole_file import named_faults, whole_file

_GROUND, _LOUD, _QUIET = (24, 25, 26), (232, 233, 230), (160, 165, 164)
_WIDTH, _GAP, _LETTER, _SMALL = STILL_WIDTH, 22, 22, 16

#: The most that stand beside each other.
_ABREAST = 4


def deliver_contact_sheet(
    path: Path, title: str, length: str, rows: Sequence[ListRow], stills: Mapping[int, Image.Image]
) -> None:
    """Write the sheet as a PNG, whole or not at all. Raises MachineError where it cannot be written."""
    image = contact_sheet(title, length, rows, stills)
    with whole_file(path) as part, named_faults(path):
        image.save(part, format="png", pnginfo=srgb_tags(), **PNG_PACKING)


def contact_sheet(title: str, length: str, rows: Sequence[ListRow], stills: Mapping[int, Image.Image]) -> Image.Image:
    """The sheet as a picture, sRGB."""
    pictures = [stills[row.number] for row in rows]
    tall = max(picture.height for picture in pictures)
    across = min(_ABREAST, len(rows))
    step = (_WIDTH + _GAP, tall + round(_LETTER * 1.4 + _SMALL * 2.8) + _GAP)
    top = _GAP + round(_LETTER * 2.6 + _GAP)
    down = -(-len(rows) // across)
    image = Image.new("RGB", (across * step[0] + _GAP, top + down * step[1]), _GROUND)
    draw = ImageDraw.Draw(image)
    room = image.width - 2 * _GAP
    draw.text((_GAP, _GAP), cut(ascii_of(title), _LETTER, room), _LOUD, font(_LETTER))
    draw.text((_GAP, _GAP + _LETTER * 1.4), cut(length, _SMALL, room), _QUIET, font(_SMALL))
    for place, (row, picture) in enumerate(zip(rows, pictures, strict=True)):
        x, y = _GAP + place % across * step[0], top + place // across * step[1]
        image.paste(picture, (x, y + tall - picture.height))
        _caption(draw, row, x, y + tall)
    return image


def _caption(draw: ImageDraw.ImageDraw, row: ListRow, x: int, y: int) -> None:
    lines = [
        (_LETTER, _LOUD, f"{row.number}  {row.shot}"),
        (_SMALL, _QUIET, when_of(row)),
        (_SMALL, _QUIET, f"{row.seconds:.2f} s, {row.frames} frames{coming_in(row)}"),
    ]
    y += 6
    for size, colour, text in lines:
        draw.text((x, y), cut(text, size, _WIDTH), colour, font(size))
        y += round(size * 1.4)


def when_of(row: ListRow) -> str:
    """Where it stands in the cut: timecode, or frames where there is none."""
    return f"{row.cut_in} to {row.cut_out}" if row.cut_in else f"frames {row.first} to {row.first + row.frames}"


def coming_in(row: ListRow) -> str:
    """How it comes in, where that is not a cut."""
    return f", dissolves in over {row.dissolve} frames" if row.dissolve else ""
