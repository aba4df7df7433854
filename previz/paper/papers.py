"""Papers that are printed on, by the name a person types."""

from dataclasses import dataclass

from previz.sheet_sizes import METRIC_BOARDS, PAGES, SHEETS


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
