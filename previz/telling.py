"""What the command line says, as lines of text, and how long it takes: nothing here prints but the progress bar."""

import dataclasses
import shutil
import textwrap
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

from previz.units import as_json

if TYPE_CHECKING:
    from rich.console import Console

    from previz.predictions import Compromise, Figure, Finding
    from previz.scene import KeyGroup

#: Says one line.
Say = Callable[[str], None]


def finding_lines(
    findings: "Sequence[Finding]", everything: bool, compromises: "Sequence[Compromise]" = ()
) -> list[str]:
    """One aligned table, the worst first, and then what answers several of a shot together."""
    fine = sum(finding.verdict == "fine" for finding in findings)
    table = [
        (str(finding.verdict), finding.shot, f"{finding.message} {finding.remedy}".rstrip())
        for finding in findings
        if everything or finding.verdict != "fine"
    ]
    table += [("compromise", each.shot, _weighed(each)) for each in compromises]
    if everything:
        return table_lines(table)
    return [
        *table_lines(table),
        f"{fine} more looked at and fine (--all shows them)" if table else f"{fine} looked at, all fine",
    ]


def _weighed(compromise: "Compromise") -> str:
    said = [compromise.words]
    if compromise.satisfies:
        said.append(f"In order then: {', '.join(compromise.satisfies)}.")
    if compromise.gives_up:
        said.append(f"Given up: {'; '.join(compromise.gives_up)}.")
    return " ".join(said)


def figure_lines(shot: str, figures: "tuple[Figure, ...]", tape: str) -> list[str]:
    """Numbers under the heading of their group, what is measured on the set in the unit of the maker's tape."""
    from previz.predictions import rows

    table, lines = rows(figures, tape), []
    width = max((len(row.label) for row in table), default=0)
    for group in dict.fromkeys(row.group for row in table):
        lines.append(f"{shot}{': ' if shot else ''}{group}")
        lines += [f"  {row.label:{width}}  {row.value:>10} {row.unit}".rstrip() for row in table if row.group == group]
        lines.append("")
    return lines


def table_lines(table: list[tuple[str, str, str]]) -> list[str]:
    """Short columns, then one that is wrapped to the width of the terminal."""
    if not table:
        return []
    first, second = (max(len(line[column]) for line in table) for column in (0, 1))
    indent = first + second + 4
    lines = []
    for verdict, shot, text in table:
        wrapped = textwrap.wrap(text, max(shutil.get_terminal_size().columns - indent, 30))
        lines.append(f"{verdict:{first}}  {shot:{second}}  " + f"\n{' ' * indent}".join(wrapped))
    return [*lines, ""]


def plain(value: Any) -> Any:
    """Data as JSON can hold it."""
    if dataclasses.is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {key: plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    return as_json(value) if isinstance(value, float) else value


@contextmanager
def building(say: Say) -> Iterator[Say]:
    """Lend a function that says what is being built and lit, which can take seconds."""
    console = _aside()
    if not _lively(console):
        yield say
        return
    with console.status("") as status:
        yield status.update


@contextmanager
def progress(name: str, total: int, say: Say) -> Iterator[Callable[[int], None]]:
    """Lend a function to call with the number of frames done: a bar on a terminal, else a line each quarter."""
    console = _aside()
    if not _lively(console):
        yield _quarters(name, total, say)
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TextColumn("frames,"),
        TimeRemainingColumn(compact=True), TextColumn("left"),
    )  # fmt: skip
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(name, total=total)
        yield lambda done: bar.update(task, completed=done)


def _quarters(name: str, total: int, say: Say) -> Callable[[int], None]:
    began = time.monotonic()

    def advance(done: int) -> None:
        if total >= 4 and done < total and done * 4 // total > (done - 1) * 4 // total:
            left = (time.monotonic() - began) / done * (total - done)
            say(f"{name}: {done} of {total} frames, about {left:.0f} s left")

    return advance


def _aside() -> "Console":
    """For what is said while working: stderr, so that stdout holds the answer alone."""
    from rich.console import Console

    return Console(stderr=True)


def _lively(console: "Console") -> bool:
    return console.is_terminal and not console.is_dumb_terminal


# --- what may be written ---

_COLUMNS = 80  # help reads the same everywhere


def place_lines(places: Sequence[tuple[str, str]]) -> list[str]:
    """Every place of a scene file, and what it is."""
    return [line for place, says in places for line in _row((place, says), (28, _COLUMNS - 30))]


def key_lines(groups: "Sequence[KeyGroup]") -> list[str]:
    """A table for each group of keys, and at the end the units.

    A key stands with how it is written, what holds unless it is given and an example, and below it what it is.
    """
    lines: list[str] = []
    for group in groups:
        said = [line for each in group.says.split("\n\n") for line in textwrap.wrap(each, _COLUMNS)]
        lines += [*textwrap.wrap(group.place, _COLUMNS), *said, ""]
        rows = [(key.name, key.form, key.default, key.example) for key in group.keys]
        table = [("key", "written as", "unless given", "example"), *rows]
        widths = _widths(table)
        lines += _row(table[0], widths)
        for key, row in zip(group.keys, rows, strict=True):
            lines += _row(row, widths)
            said = textwrap.wrap(key.says, _COLUMNS - widths[0] - 2)
            lines += [" " * (widths[0] + 2) + line for line in said]
        lines += ["", *(f"more: previz keys {place}" for place in group.further), *([""] if group.further else [])]
    units = dict.fromkeys(each for group in groups for key in group.keys for each in key.units)
    for name, written in units:
        lines += textwrap.wrap(f"{name}: {written}", _COLUMNS, subsequent_indent="  ")
    return lines


def _widths(table: list[tuple[str, str, str, str]]) -> tuple[int, ...]:
    """Of the columns: as wide as they must be, and the last two share what is left."""
    first, second, third, fourth = (max(map(len, column)) for column in zip(*table, strict=True))
    second = min(second, 20)
    left = _COLUMNS - first - second - 6
    third = min(third, max(left // 2, left - fourth))
    return first, second, third, left - third


def _row(cells: tuple[str, ...], widths: tuple[int, ...]) -> list[str]:
    """One row of a table, as many lines as its longest cell needs."""
    wrapped = [textwrap.wrap(cell, width) or [""] for cell, width in zip(cells, widths, strict=True)]
    return [
        "  ".join(f"{part:{width}}" for part, width in zip(line, widths, strict=True)).rstrip()
        for line in zip_longest(*wrapped, fillvalue="")
    ]
