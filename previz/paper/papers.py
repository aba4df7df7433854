"""Papers that are printed on, by the name a person types."""

from dataclasses import dataclass

from previz.sheet_sizes import METRIC_BOARDS, PAGES, SHEETS
from previz.units import Tape


@dataclass(frozen=True)
class Paper:
    """A sheet of paper by its name, short and long side [mm]; metric: of the ISO sizes, else of the US trade."""

    name: str
    short: float
    long: float
    metric: bool = True


#: By the name a person types.
PAPERS: dict[str, Paper] = {
    typed: Paper(typed.capitalize(), SHEETS[size].short * 1000, SHEETS[size].long * 1000, size in METRIC_BOARDS)
    for typed, size in PAGES.items()
}


def usual_paper(tape: Tape) -> Paper:
    """What is printed on unless it is said: the page that is usual where sheets are sold in the sizes of that tape.

    >>> usual_paper(Tape("cm")).name, usual_paper(Tape("ft")).name
    ('A4', 'Letter')
    """
    return PAPERS["a4" if tape.metric else "letter"]
