"""What every sheet of a plan has: its heading, its foot, and where between them there is room; drawing scales."""

from dataclasses import dataclass

from previz.paper.letters import POINT, width_of
from previz.paper.papers import Paper
from previz.paper.sheet import BLACK, HEADING, MEDIUM, SMALL, THIN, TITLE, Box, Sheet
from previz.units import LENGTH, Tape, tape_in_words

#: Drawing scales, 1:S, that scale rulers are marked in: metric ones (ISO 5455 and what lies between), and in inches to
#: the foot (from memory).
METRIC_SCALES = (1, 2, 2.5, 5, 7.5, 10, 12.5, 15, 20, 25, 50, 75, 100, 200, 250, 500, 1000)
INCH_SCALES = (1, 2, 4, 8, 12, 16, 24, 48, 96, 192, 384, 768)

_HEAD, _FOOT = 11.0, 7.0


@dataclass(frozen=True)
class Maker:
    """Makes the sheets of one plan, all of one paper lying on its side."""

    paper: Paper
    title: str
    file: str
    tape: Tape

    def sheet(self, name: str, heading: str) -> tuple[Sheet, Box]:
        """A sheet with its heading, and the room that is left."""
        sheet = Sheet(self.paper.long, self.paper.short, name)
        room = sheet.inside
        sheet.words(heading, (room.left, room.high), TITLE, anchor="top", bold=True, within=room.width * 0.45)
        line = room.high - 7.5
        sheet.line([(room.left, line), (room.right, line)], MEDIUM)
        return sheet, Box(room.left, room.low + _FOOT, room.right, room.high - _HEAD)


def aside(sheet: Sheet, text: str) -> None:
    """What is said at the right of a sheet's heading."""
    room = sheet.inside
    sheet.words(text, (room.right, room.high - 1.4), SMALL, anchor="top", align="right", within=room.width * 0.52)


def footed(sheets: list[Sheet], maker: Maker) -> list[Sheet]:
    """The sheets, each with what it belongs to and its number at its foot."""
    for number, sheet in enumerate(sheets, start=1):
        room = sheet.inside
        told = f"page {number} of {len(sheets)}"
        left = (
            f"{maker.title}  ·  {maker.file}  ·  {tape_in_words(maker.tape.unit)}, from the table's front left corner"
        )
        spare = room.width - width_of(told, SMALL) - 6
        sheet.words(left, (room.left, room.low), SMALL, anchor="bottom", within=spare)
        sheet.words(told, (room.right, room.low), SMALL, anchor="bottom", align="right")
    return sheets


def heading(sheet: Sheet, text: str, at: tuple[float, float], width: float) -> float:
    """A heading inside a sheet, its upper left corner at a place; where what it heads may begin. [mm]"""
    sheet.words(text, at, HEADING, anchor="top", bold=True, within=width)
    return at[1] - HEADING * POINT * 1.5


def scale_for(width: float, height: float, box: Box, tape: Tape) -> float:
    """The largest drawing scale at which so much of the set [m] fits into a box."""
    scales = INCH_SCALES if tape.unit == "in" else METRIC_SCALES
    fits = (each for each in scales if max(width / box.width, height / box.height) * 1000 <= each)
    return next(fits, scales[-1])


def scale_bar(sheet: Sheet, at: tuple[float, float], scale: float, tape: Tape, most: float = 60.0) -> Box:
    """A bar of whole steps in the maker's unit, its left end a little to the right of a place; no longer than so much.

    Returns what it takes of the sheet, but for its words. [mm]
    """
    unit = LENGTH.factors[tape.unit] * 1000 / scale
    steps = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if tape.unit != "in" else (1, 2, 3, 6, 12, 24, 48, 120, 240)
    step = max((each for each in steps if 4 * each * unit <= most), default=1)
    x, y = at[0] + 2, at[1]
    for number in range(4):
        left, right = x + number * step * unit, x + (number + 1) * step * unit
        part = Box(left, y, right, y + 1.4)
        if number % 2 == 0:
            sheet.area(part.outline, BLACK)
        sheet.line(part.outline, THIN, closed=True)
    for number in (0, 2, 4):
        told = f"{number * step}" + (f" {tape.unit}" if number == 4 else "")
        sheet.words(told, (x + number * step * unit, y + 2.2), SMALL, align="middle" if number < 4 else "left")
    return Box(x, y, x + 4 * step * unit, y + 2.2)
