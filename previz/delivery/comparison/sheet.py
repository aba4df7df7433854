"""A still sheet: one moment of every panel, with details of the vehicle and the background at 1:1."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from previz.delivery.comparison.arrangement import (
    GROUND,
    LINE,
    LOUD,
    QUIET,
    Box,
    Caption,
    caption_height,
    small_of,
    write_caption,
)
from previz.delivery.comparison.panels import Comparison, Panel
from previz.delivery.comparison.side_by_side import caption_of, head_of, notes_of
from previz.delivery.lettering import font, wrapped
from previz.delivery.pictures import picture_of
from previz.delivery.still import PNG_PACKING, srgb_tags
from previz.delivery.whole_file import named_faults, whole_file
from previz.frames import Frame
from previz.physics.colour import srgb_encoded
from previz.predictions import background_point, place_in_picture, vehicle_in_picture, vehicle_leads_right

_GAP = 20


@dataclass(frozen=True)
class _Card:
    """One panel on the sheet: its whole picture, made smaller, and two details of it as they are.

    whole and details are pictures; places are where the details lie, in shares of the picture (x, y, width, height).
    """

    caption: Caption
    whole: Image.Image
    details: tuple[Image.Image, ...]
    places: tuple[tuple[float, float, float, float], ...]


def deliver_sheet(path: Path, comparison: Comparison, frames: Sequence[Frame]) -> None:
    """Write a still sheet as a PNG, whole or not at all.

    Parameters
    ----------
    frames : sequence of Frame
        Each panel's at the moment that is shown.

    Raises
    ------
    MachineError
        The file cannot be written.
    """
    image = sheet_of(comparison, frames)
    with whole_file(path) as part, named_faults(path):
        image.save(part, format="png", pnginfo=srgb_tags(), **PNG_PACKING)


def sheet_of(comparison: Comparison, frames: Sequence[Frame]) -> Image.Image:
    """The sheet as a picture, sRGB."""
    widest = max(frame.linear.shape[1] for frame in frames)
    width = max(480, widest // 4 * 2)
    # One place on the set, so that the same thing is seen in every panel.
    point = background_point(
        comparison.panels[0].scene, comparison.panels[0].shot, _mid_shutter(comparison.panels[0], frames[0])
    )
    cards = [_card(panel, frame, width, point) for panel, frame in zip(comparison.panels, frames, strict=True)]
    letter = max(16, round(width / 26))
    return _laid_out(comparison, cards, width, letter, _moment_text(frames, comparison.scene.vehicle is not None))


def _moment_text(frames: Sequence[Frame], drives: bool) -> str:
    times = sorted({frame.time for frame in frames})
    when = f"{float(times[0]):.3f} s on set" if len(times) == 1 else _span(times)
    first = "vehicle" if drives else "middle"
    return f"One moment, {when}. Details a ({first}) and b (background) are 1:1: a pixel of the clip is a pixel here."


def _span(times: Sequence[Fraction]) -> str:
    return f"{float(times[0]):.3f} to {float(times[-1]):.3f} s on set"


def _mid_shutter(panel: Panel, frame: Frame) -> float:
    return float(frame.time) + panel.shot.capture.exposure_time / 2


# --- one card ---


def _card(panel: Panel, frame: Frame, width: int, point: NDArray[np.float64]) -> _Card:
    picture = Image.fromarray(picture_of(frame.linear, srgb_encoded))
    time = _mid_shutter(panel, frame)
    vehicle = _front_of_the_vehicle(panel, time, width / 2 / picture.width)
    background = place_in_picture(panel.scene, panel.shot, time, point) or (0.8, 0.3)
    size = (width - _GAP // 2) // 2
    boxes = [_detail(picture.size, centre, (size, size * 3 // 4)) for centre in (vehicle, background)]
    shares = tuple(
        (x / picture.width, y / picture.height, w / picture.width, h / picture.height) for x, y, w, h in boxes
    )
    return _Card(
        caption_of(panel, frame),
        picture.resize((width, round(width * picture.height / picture.width)), Image.Resampling.BOX, reducing_gap=None),
        tuple(picture.crop((x, y, x + w, y + h)) for x, y, w, h in boxes),
        shares,
    )


def _front_of_the_vehicle(panel: Panel, time: float, width: float) -> tuple[float, float]:
    """The middle of a detail of that width around the end that leads; all in shares of the picture."""
    now = vehicle_in_picture(panel.scene, panel.shot, time)
    if now is None:
        return 0.5, 0.5
    left, top, right, bottom = now
    across = (left + right) / 2
    if right - left > width:  # it does not fit: show the leading end, with a little air before it
        leads_right = vehicle_leads_right(panel.scene, panel.shot, time)
        across = right - width * 0.44 if leads_right else left + width * 0.44
    return across, (top + bottom) / 2


def _detail(picture: tuple[int, int], centre: tuple[float, float], size: tuple[int, int]) -> tuple[int, int, int, int]:
    """Left, top, width, height of a detail around a place (shares of the picture), kept inside the picture. [px]

    >>> _detail((640, 360), (0.5, 0.5), (200, 150)), _detail((640, 360), (0.99, 0.0), (200, 150))
    ((220, 105, 200, 150), (440, 0, 200, 150))
    """
    width, height = min(size[0], picture[0]), min(size[1], picture[1])
    x, y = round(centre[0] * picture[0] - width / 2), round(centre[1] * picture[1] - height / 2)
    return min(max(x, 0), picture[0] - width), min(max(y, 0), picture[1] - height), width, height


# --- all of them ---


def _laid_out(comparison: Comparison, cards: Sequence[_Card], width: int, letter: int, moment: str) -> Image.Image:
    small = small_of(letter)
    cells = [panel.cell for panel in comparison.panels]
    rows, columns = (1 + max(cell[axis] for cell in cells) for axis in (0, 1))
    detail = max(picture.height for card in cards for picture in card.details)
    tallest = max(card.whole.height for card in cards)
    captions = [
        round(caption_height([card.caption for card, cell in zip(cards, cells, strict=True) if cell[0] == row], letter,
                             width) + _GAP * 0.8)
        for row in range(rows)
    ]  # fmt: skip
    heights = [tallest + caption + detail + _GAP * 2 for caption in captions]
    total = columns * (width + _GAP) + _GAP
    title, *lines = [*head_of(comparison), moment]
    told = [line for text in lines for line in wrapped(text, small, total - 2 * _GAP)]
    notes = [line for text in notes_of(comparison) for line in wrapped(text, small, total - 2 * _GAP)]
    top = round(_GAP + letter * 1.4 + len(told) * small * 1.4 + _GAP)
    tops = [top + sum(heights[:row]) for row in range(rows + 1)]
    bottom = tops[rows]
    image = Image.new("RGB", (total, bottom + round(len(notes) * small * 1.4) + (_GAP if notes else 0)), GROUND)
    draw = ImageDraw.Draw(image)
    draw.text((_GAP, _GAP), title, LOUD, font(letter))
    _write(draw, told, (_GAP, round(_GAP + letter * 1.4)), small)
    for card, (row, column) in zip(cards, cells, strict=True):
        _place_card(image, card, (_GAP + column * (width + _GAP), tops[row]), tallest, letter, captions[row])
    _write(draw, notes, (_GAP, bottom), small)
    return image


def _write(draw: ImageDraw.ImageDraw, lines: Sequence[str], at: tuple[int, int], small: int) -> None:
    for number, line in enumerate(lines):
        draw.text((at[0], at[1] + number * small * 1.4), line, QUIET, font(small))


def _place_card(image: Image.Image, card: _Card, at: tuple[int, int], tallest: int, letter: int, caption: int) -> None:
    x, y = at
    small, draw = small_of(letter), ImageDraw.Draw(image)
    image.paste(card.whole, (x, y))
    for mark, (left, top, wide, high) in zip("ab", card.places, strict=True):
        corner = (x + left * card.whole.width, y + top * card.whole.height)
        _mark(draw, mark, (*corner, wide * card.whole.width, high * card.whole.height), small)
    y += tallest
    write_caption(draw, Box(x, y, card.whole.width, 0), card.caption, letter)
    y += caption
    for mark, picture in zip("ab", card.details, strict=True):
        image.paste(picture, (x, y))
        draw.rectangle((x, y, x + picture.width - 1, y + picture.height - 1), outline=LINE)
        draw.text((x + small * 0.4, y + small * 0.2), mark, LOUD, font(small), stroke_width=2, stroke_fill=GROUND)
        x += picture.width + _GAP // 2


def _mark(draw: ImageDraw.ImageDraw, mark: str, box: tuple[float, float, float, float], small: int) -> None:
    """The corners of where a detail lies, thin, so that they cover next to nothing."""
    x, y, width, height = box
    arm = min(width, height) * 0.08
    for cx, sx in ((x, 1), (x + width - 1, -1)):
        for cy, sy in ((y, 1), (y + height - 1, -1)):
            draw.line([(cx + sx * arm, cy), (cx, cy), (cx, cy + sy * arm)], fill=LOUD, width=1)
    draw.text((x + 3, y + 1), mark, LOUD, font(small), stroke_width=1, stroke_fill=GROUND)
