"""What the command line says, as lines of text, and how long it takes: nothing here prints but the progress bar."""

import dataclasses
import shutil
import textwrap
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

from previz.units import as_json

if TYPE_CHECKING:
    from rich.console import Console

    from previz.advice import Advice, Lost, Met, Plan
    from previz.predictions import Figure, Finding
    from previz.scene import KeyGroup

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


# --- advice ---


def advice_lines(shot: str, advice: "Advice", *, whole: bool) -> list[str]:
    """The plans for a shot, the best first: what to set and to measure, what comes of it, what holds it back.

    A few lines a plan; whole: all there is to say.
    """
    plans = advice.plans
    count = "no plan" if not plans else "1 plan" if len(plans) == 1 else f"{len(plans)} plans, the best first"
    lines = [f"{shot}: {count}"]
    if advice.relaxed is not None:
        lines += _under("gives way", [f"{each.words}: {each.given_shown} at best" for each in advice.relaxed.wants])
    for number, plan in enumerate(plans, start=1):
        lines += ["", *_plan_lines(number, plan, whole=whole)]
    lost = advice.lost if whole or not plans else advice.lost[:1]
    lines += [""] if lost else []
    for each in lost:
        lines += _under("lost", [f"{_settings_text(each)}: {each.why}"])
    return lines


def _plan_lines(number: int, plan: "Plan", *, whole: bool) -> list[str]:
    wants = len(plan.meets) + len(plan.misses)
    changed = ", ".join(dict.fromkeys(_word_for(change.key) for change in plan.changes))
    said = f"plan {number}: {len(plan.meets)} of {wants} wants met; " + (
        f"changes {changed}" if changed else "as it is"
    )
    lines = textwrap.wrap(said, _COLUMNS, subsequent_indent="  ")
    lines += _under("dial in", [f"{row.label} {row.value}" for row in plan.settings])
    lines += _under("measure", [f"{row.label} {row.value}" for row in plan.marks])
    if number == 1:
        lines += _under("meets", [_met_text(met) for met in plan.meets])
    lines += _under("misses", [f"{_met_text(met)}{_limit_text(met)}" for met in plan.misses])
    stops = [finding for finding in plan.findings if finding.verdict == "stop"]
    shown = plan.findings if whole else (stops or plan.findings)[:1] if number == 1 else stops[:1]
    for finding in shown:
        lines += _under(str(finding.verdict), [f"{finding.message} {finding.remedy if whole else ''}".rstrip()])
    if left := len(plan.findings) - len(shown):
        lines += _under(
            "" if shown else "watch", [f"{'and ' if shown else ''}{left} {'more ' if shown else ''}by check"]
        )
    for bind in plan.binds if whole else plan.binds[:1]:
        lines += _under("held by", [f"{bind.limit}. With {bind.buys}"])
    return lines


def _under(name: str, said: Iterable[str]) -> list[str]:
    """What is said, behind its name, in as many lines as it needs."""
    wrapped = textwrap.wrap("; ".join(said), _COLUMNS - 13)
    return [f"  {'' if number else name:9}  {line}" for number, line in enumerate(wrapped)]


def _met_text(met: "Met") -> str:
    return f"{met.words}{' (must)' if met.hard else ''}, {met.shown}"


def _limit_text(met: "Met") -> str:
    """What a missed figure is held against, where the want does not say it itself."""
    from previz.predictions import GLOSSARY, Figure, rows

    if any(character.isdigit() for character in met.words) or GLOSSARY[met.quantity].unit != met.unit:
        return ""
    (row,) = rows((Figure(met.quantity, met.limit),))
    return f" (wanted {row.value} {row.unit})"


def _settings_text(lost: "Lost") -> str:
    """A way that lost in a few words: what tells it from the plans."""
    told = [row for row in lost.settings if row.label in ("camera", "rate", "focal length", "stop")]
    return ", ".join(row.value for row in told)


def _word_for(key: str) -> str:
    """What a key of the file is called by one who films: `stop` of `shots[0].f_number`."""
    last = key.rpartition(".")[2]
    return {"at": "place", "f_number": "stop", "iso": "ISO"}.get(last, last.replace("_", " "))
