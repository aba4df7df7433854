"""Sheets of paper and board by the standard that sets their size: what a backdrop is made of, what a page is.

Standards: A and B sizes ISO 216; RA and SRA, raw sheets that printers trim, ISO 217; ANSI A to E, letter and legal
ASME Y14.1 and US trade. Cut sheets differ from their size by a millimetre or two: ISO 216 allows 1.5 mm up to 150 mm,
2 mm up to 600 mm and 3 mm above (from memory).
"""

from typing import NamedTuple

_INCH = 0.0254  # m, exactly


class SheetSize(NamedTuple):
    """One size of sheet: short and long side [m], and where it was read."""

    short: float
    long: float
    source: str


def _metric(sizes: dict[str, tuple[int, int]], source: str) -> dict[str, SheetSize]:
    return {name: SheetSize(short / 1000, long / 1000, source) for name, (short, long) in sizes.items()}


def _inches(sizes: dict[str, tuple[float, float]], source: str) -> dict[str, SheetSize]:
    return {name: SheetSize(short * _INCH, long * _INCH, source) for name, (short, long) in sizes.items()}


#: Every size, by its name.
SHEETS: dict[str, SheetSize] = {
    **_metric(
        {"A4": (210, 297), "A3": (297, 420), "A2": (420, 594), "A1": (594, 841), "A0": (841, 1189),
         "B2": (500, 707), "B1": (707, 1000)},
        "ISO 216",  # Wikipedia "ISO 216", seen
    ),
    **_metric({"RA2": (430, 610), "RA1": (610, 860), "RA0": (860, 1220)}, "ISO 217"),  # from memory
    **_metric({"SRA2": (450, 640), "SRA1": (640, 900), "SRA0": (900, 1280)}, "ISO 217"),  # from memory
    **_inches(
        {"ANSI A": (8.5, 11), "ANSI B": (11, 17), "ANSI C": (17, 22), "ANSI D": (22, 34), "ANSI E": (34, 44)},
        "ASME Y14.1",  # from memory
    ),
    **_inches({"letter": (8.5, 11), "legal": (8.5, 14)}, "US trade"),  # from memory
    **_inches({"US poster board": (22, 28)}, 'Wikipedia "Display board"'),  # seen
    **_inches({"Bristol": (22.5, 28.5)}, "a paper merchant's basis-size chart"),  # as quoted
    **_metric({"50 x 70 cm": (500, 700), "70 x 100 cm": (700, 1000)}, "common practice, no source"),
}  # fmt: skip


def counted(count: int, sheet: str) -> str:
    """So many sheets of a kind, as they are called.

    >>> counted(2, "A1 (59.4 x 84.1 cm) lying"), counted(2, "70 x 100 cm")
    ('2 A1 (59.4 x 84.1 cm) lying', '2 of 70 x 100 cm')
    """
    return f"{count} {'of ' if sheet[:1].isdigit() else ''}{sheet}"


def sheet_called(name: str) -> str:
    """A size's name with its sides, as its standard has them; a name that says them already is enough.

    >>> sheet_called("RA0"), sheet_called("ANSI E"), sheet_called("70 x 100 cm")
    ('RA0 (86 x 122 cm)', 'ANSI E (34 x 44 in)', '70 x 100 cm')
    """
    if " x " in name:
        return name
    size = SHEETS[name]
    in_inches = all(abs(2 * side / _INCH - round(2 * side / _INCH)) < 1e-9 for side in (size.short, size.long))
    short, long = (f"{round(side / (_INCH if in_inches else 0.01), 1):g}" for side in (size.short, size.long))
    return f"{name} ({short} x {long} {'in' if in_inches else 'cm'})"


#: What backdrops and cards are cut from: metric sizes, and those of the US trade.
METRIC_BOARDS = (
    "A4", "A3", "A2", "A1", "A0", "50 x 70 cm", "70 x 100 cm", "B2", "B1", "RA2", "RA1", "RA0", "SRA2", "SRA1", "SRA0",
)  # fmt: skip
US_BOARDS = ("ANSI B", "ANSI C", "ANSI D", "ANSI E", "US poster board", "Bristol")


def boards(metric: bool) -> tuple[str, ...]:
    """What backdrops and cards are cut from, of one family of sizes: no shop has both."""
    return METRIC_BOARDS if metric else US_BOARDS


def pages_of_shops(metric: bool) -> tuple[str, ...]:
    """All sizes of a family, as pages of a print shop."""
    return METRIC_BOARDS if metric else tuple(name for name in SHEETS if name not in METRIC_BOARDS)


#: Of those, what shops for artists and schools keep as card. Common practice, no source.
IN_SHOPS = frozenset({"A4", "A3", "A2", "A1", "50 x 70 cm", "70 x 100 cm", "US poster board"})

#: Raw sheets and the larger sizes of engineering drawings, which printers buy and shops do not have as card: only what
#: they alone hold in one is cut from them. Common practice, no source.
TO_PRINTERS = frozenset({"RA2", "RA1", "RA0", "SRA2", "SRA1", "SRA0", "ANSI C", "ANSI D", "ANSI E"})

#: What printers at home and in an office print on, by what a person writes.
PAGES: dict[str, str] = {"a4": "A4", "a3": "A3", "a2": "A2", "letter": "letter", "legal": "legal", "tabloid": "ANSI B"}
