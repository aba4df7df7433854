"""Papers that a plan is printed on."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Paper:
    """A sheet of paper by its name, short and long side. [mm]"""

    name: str
    short: float
    long: float


#: By the name a person types. ISO 216 (Wikipedia "ISO 216", seen); letter and tabloid are ANSI/ASME Y14.1 A and B,
#: 8.5 x 11 and 11 x 17 in (from memory); legal is 8.5 x 14 in (from memory).
PAPERS: dict[str, Paper] = {
    "a4": Paper("A4", 210.0, 297.0),
    "a3": Paper("A3", 297.0, 420.0),
    "a2": Paper("A2", 420.0, 594.0),
    "letter": Paper("Letter", 215.9, 279.4),
    "legal": Paper("Legal", 215.9, 355.6),
    "tabloid": Paper("Tabloid", 279.4, 431.8),
}
