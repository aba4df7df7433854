"""Where the panels of a comparison stand in one picture, and the words around them.

Words never lie on a picture: each panel has a strip of its own below it, the head tells what is compared, and what
was left out is said in the margin below or in the place that is free.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from previz.delivery.lettering import cut, font, wrapped

#: Codes of the ground, of small words and of large ones; of a hairline.
GROUND, QUIET, LOUD, LINE = (22, 23, 24), (158, 160, 160), (228, 229, 226), (62, 64, 66)

#: Panels begin on the encoder's blocks, so that one does not bleed into the next when it is cut out again. [px]
_BLOCK = 16


@dataclass(frozen=True)
class Box:
    """A rectangle of a picture, from its left top corner. [px]"""

    x: int
    y: int
    width: int
    height: int

    @property
    def rows(self) -> slice:
        """Of an image array."""
        return slice(self.y, self.y + self.height)

    @property
    def columns(self) -> slice:
        """Of an image array."""
        return slice(self.x, self.x + self.width)


@dataclass(frozen=True)
class Caption:
    """What stands below a panel: its name, what it was filmed with, what comes of it.

    outcomes say the same at length and shorter, the longest first; the first that fits is written. notes are written
    whole below that, wrapped: where the camera stands, in what it differs from what was asked.
    """

    name: str
    settings: str
    outcomes: tuple[str, ...]
    notes: tuple[str, ...] = ()

    def lines(self, small: int, room: float) -> list[str]:
        """The notes in lines of small letters [px] no longer than the room there is. [px]"""
        return [line for note in self.notes for line in wrapped(note, small, room)]


def caption_height(captions: Sequence[Caption], letter: int, width: int) -> int:
    """What the tallest of the captions takes below a panel of that width, its large letters that size. [px]"""
    small = small_of(letter)
    most = max((len(caption.lines(small, width)) for caption in captions), default=0)
    return round(letter * 1.35 + small * 1.4 * (1 + most))


@dataclass(frozen=True)
class Layout:
    """A picture of panels.

    Parameters
    ----------
    size : (int, int)
        Width and height, both even. [px]
    head : Box
    panels, captions : tuple of Box
        In the panels' order.
    notes : Box
        For what was left out; empty (height 0) where there is nothing to say.
    letter : int
        Size of large letters. [px]
    """

    size: tuple[int, int]
    head: Box
    panels: tuple[Box, ...]
    captions: tuple[Box, ...]
    notes: Box
    letter: int

    @property
    def small(self) -> int:
        """Size of small letters. [px]"""
        return small_of(self.letter)


def small_of(letter: int) -> int:
    """Size of the small letters that go with large ones. [px]"""
    return max(11, round(letter * 0.74))


def layout_of(
    sizes: Sequence[tuple[int, int]],
    cells: Sequence[tuple[int, int]],
    head: Sequence[str],
    notes: Sequence[str],
    captions: Sequence[Caption] = (),
) -> Layout:
    """Place panels of these sizes [px] in these cells (row, column), with so many words around them.

    Letters are at least a fortieth of a panel's width, or a seventieth of the picture's: a picture as wide as a
    screen can be read on it.
    """
    width, height = max(size[0] for size in sizes), max(size[1] for size in sizes)
    rows, columns = (1 + max(cell[axis] for cell in cells) for axis in (0, 1))
    total = _BLOCK + columns * _pitch(width)
    letter = max(14, min(round(total / 70), round(width / 24)))
    small = small_of(letter)
    margin = _BLOCK
    inner = total - 2 * margin
    head_lines = 1 + sum(len(wrapped(line, small, inner)) for line in head[1:])
    head_height = _up(margin + letter * 1.3 + (head_lines - 1) * small * 1.35 + margin * 0.6)
    tallest = [
        caption_height([each for each, cell in zip(captions, cells, strict=False) if cell[0] == row], letter, width)
        for row in range(rows)
    ]
    below = [_up(each + margin * 1.3 + height) - height for each in tallest]
    tops = [head_height + sum(_up(height + each) for each in below[:row]) for row in range(rows + 1)]
    free = [(row, column) for row in range(rows) for column in range(columns) if (row, column) not in cells]
    places = [Box(margin + c * _pitch(width), tops[r], width, height) for r, c in [*cells, *free]]
    bottom = tops[rows]
    hole = places[len(cells)] if free else None
    note_lines = sum(len(wrapped(note, small, (hole.width if hole else inner) - margin)) for note in notes)
    note_height = round(note_lines * small * 1.4 + margin) if notes else 0
    if hole is not None and note_height <= hole.height:
        note_box = Box(hole.x, hole.y, hole.width, note_height)
    else:
        lines = sum(len(wrapped(note, small, inner - margin)) for note in notes)
        note_box = Box(margin, bottom, inner, round(lines * small * 1.4 + margin) if notes else 0)
        bottom += note_box.height
    boxes = tuple(
        # A panel smaller than the largest stands in the middle of its place.
        Box(place.x + (width - size[0]) // 4 * 2, place.y + (height - size[1]) // 4 * 2, *size)
        for place, size in zip(places, sizes, strict=False)
    )
    words = tuple(
        Box(place.x, place.y + height, width, below[row]) for place, (row, _) in zip(places, cells, strict=False)
    )
    return Layout((_even(total), _even(bottom)), Box(margin, 0, inner, head_height), boxes, words, note_box, letter)


def _pitch(width: int) -> int:
    return _up(width + _BLOCK)


def _up(length: float) -> int:
    """To whole blocks."""
    return -(-round(length) // _BLOCK) * _BLOCK


def _even(length: int) -> int:
    return length + length % 2


def lettered(layout: Layout, head: Sequence[str], captions: Sequence[Caption], notes: Sequence[str]) -> Image.Image:
    """The picture without its panels: all the words, in ASCII."""
    image = Image.new("RGB", layout.size, GROUND)
    draw = ImageDraw.Draw(image)
    _write_head(draw, layout, head)
    for box, caption in zip(layout.captions, captions, strict=True):
        write_caption(draw, box, caption, layout.letter)
    y = layout.notes.y + layout.small * 0.5
    for note in notes:
        for line in wrapped(note, layout.small, layout.notes.width - _BLOCK):
            draw.text((layout.notes.x, y), line, QUIET, font(layout.small))
            y += layout.small * 1.4
    return image


def _write_head(draw: ImageDraw.ImageDraw, layout: Layout, head: Sequence[str]) -> None:
    title, *rules = head
    x, y = layout.head.x, _BLOCK * 0.8
    draw.text((x, y), cut(title, layout.letter, layout.head.width * 0.66), LOUD, font(layout.letter))
    y += layout.letter * 1.3
    for rule in rules:
        for line in wrapped(rule, layout.small, layout.head.width):
            draw.text((x, y), line, QUIET, font(layout.small))
            y += layout.small * 1.35


def write_caption(draw: ImageDraw.ImageDraw, box: Box, caption: Caption, letter: int) -> None:
    """A panel's name on the left and its settings on the right; below, what comes of them, and its notes."""
    small = small_of(letter)
    y = box.y + letter * 0.3
    room = font(small).getlength(caption.settings)
    name = cut(caption.name, letter, max(box.width - room - letter, box.width * 0.35))
    draw.text((box.x, y), name, LOUD, font(letter))
    settings = cut(caption.settings, small, box.width - font(letter).getlength(name) - letter)
    draw.text((box.x + box.width, y + (letter - small) * 0.75), settings, LOUD, font(small), anchor="ra")
    y += letter * 1.35
    fitting = (text for text in caption.outcomes if font(small).getlength(text) <= box.width)
    draw.text((box.x, y), next(fitting, cut(caption.outcomes[-1], small, box.width)), QUIET, font(small))
    for line in caption.lines(small, box.width):
        y += small * 1.4
        draw.text((box.x, y), line, QUIET, font(small))


def counter_box(layout: Layout) -> Box:
    """The right third of the head's first line, where the count of frames stands."""
    width = round(layout.head.width * 0.32)
    return Box(layout.head.x + layout.head.width - width, 0, width, round(_BLOCK * 0.8 + layout.letter * 1.3))


def counter(layout: Layout, text: str) -> NDArray[np.uint8]:
    """The count of frames for `counter_box`, (h, w, 3)."""
    box = counter_box(layout)
    image = Image.new("RGB", (box.width, box.height), GROUND)
    draw = ImageDraw.Draw(image)
    at = (box.width, _BLOCK * 0.8 + (layout.letter - layout.small) * 0.75)
    draw.text(at, cut(text, layout.small, box.width), QUIET, font(layout.small), anchor="ra")
    return np.asarray(image)
