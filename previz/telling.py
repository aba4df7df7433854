"""What the command line says, as lines of text, and how long it takes: nothing here prints but the progress bar."""

import dataclasses
import shutil
import textwrap
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from previz.units import as_json

if TYPE_CHECKING:
    from rich.console import Console

    from previz.predictions import Figure, Finding

#: Says one line.
Say = Callable[[str], None]


def finding_lines(findings: "Sequence[Finding]", everything: bool) -> list[str]:
    """One aligned table, the worst first."""
    fine = sum(finding.verdict == "fine" for finding in findings)
    table = [
        (str(finding.verdict), finding.shot, f"{finding.message} {finding.remedy}".rstrip())
        for finding in findings
        if everything or finding.verdict != "fine"
    ]
    if everything:
        return table_lines(table)
    return [
        *table_lines(table),
        f"{fine} more looked at and fine (--all shows them)" if table else f"{fine} looked at, all fine",
    ]


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
