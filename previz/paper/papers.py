"""Papers that are printed on, by the name a person types."""

from dataclasses import dataclass

from previz.sheet_sizes import PAGES, SHEETS


@dataclass(frozen=True)
class Paper:
    """A sheet of paper by its name, short and long side. [mm]"""

    name: str
    short: float
    long: float


#: By the name a person types.
PAPERS: dict[str, Paper] = {
    typed: Paper(typed.capitalize(), SHEETS[size].short * 1000, SHEETS[size].long * 1000)
    for typed, size in PAGES.items()
}
