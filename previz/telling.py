"""What the command line says, as lines of text, and how long it takes: nothing here prints but the progress bar."""

import dataclasses
import shutil
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

from previz.units import as_json, percent, tape_in_words, told_beside, wrapped

if TYPE_CHECKING:
    from rich.console import Console

    from previz.advice import Advice, Bind, Lost, Met, Plan, Wanted
    from previz.continuity import Between
    from previz.evening import EveningPlan, Takes
    from previz.predictions import Caution, Compromise, Figure, Finding, Predictions, ShotPredictions
    from previz.scene import KeyGroup, Scene

#: Says one line.
Say = Callable[[str], None]


#: Who waits without a bar hears of it at least so often, where frames come that fast. [s]
_SILENCE = 10.0

#: What belongs to all shots: the set, the run and the launch.
_WHOLE = "the set"

#: What belongs to two shots that are cut to each other.
_BETWEEN = "between the shots"

#: Before the compromise of a shot.
_COMPROMISE = "compromise"


def check_lines(
    scene: "Scene",
    predictions: "Predictions",
    shots: Sequence[str],
    everything: bool,
    between: "Sequence[Between]" = (),
    wanted: "Sequence[Wanted]" = (),
) -> list[str]:
    """What `check` says, from the top: whether it will work, what to do, what to set and expect, then precautions.

    shots: ids of those that are asked for. everything: also every figure, what the figures mean, and what is fine.
    between: what holds them together where they are cut to each other. wanted: how they answer what is wanted of them.
    """
    findings = [_for_those(each, shots) for each in predictions.told if each.concerns(shots)]
    sections = [(shot, shot) for shot in shots]
    if any(each.shot == "" and each.verdict != "fine" for each in findings):
        sections.insert(0, ("", _WHOLE))  # first, for it concerns all shots
    elif len(shots) != 1:
        sections.append(("", _WHOLE))
    briefs = _briefs(scene, predictions, findings, wanted, apart=len(sections) > 1)
    lines = verdict_lines(sections, findings) + [""] * (len(sections) > 1)
    known: _Known = {}
    for shot, name in sections:
        own = [each for each in findings if each.shot == shot]
        told = finding_lines(own) if everything else _briefly(own, predictions.compromises, known, name)
        for each in predictions.compromises:
            told += _hanging(f"{_COMPROMISE}: {_lower(each.weighed)}", 7) if each.shot == shot else []
        parts = [part for part in (told, _labelled(briefs[shot])) if part]
        if parts:
            lines += [name] * (len(sections) > 1) + [line for part in parts for line in (*part, "")]
    lines += between_lines(between, everything)
    if not everything:
        fine = sum(each.verdict == "fine" for each in (*findings, *between))
        lines += brief_caution_lines(predictions.cautions)
        return [*lines, f"{fine} more looked at and fine; --all shows them, and every figure"]
    lines += figure_lines("", predictions.figures, scene.tape_unit)
    for shown in predictions.shots:
        lines += figure_lines(shown.shot, shown.figures, scene.tape_unit) if shown.shot in shots else []
    lines += meaning_lines([*predictions.figures, *(each for shot in predictions.shots for each in shot.figures)])
    lines += caution_lines(predictions.cautions)
    return lines if lines[-1] else lines[:-1]


def _briefs(
    scene: "Scene",
    predictions: "Predictions",
    findings: "Sequence[Finding]",
    wanted: "Sequence[Wanted]",
    *,
    apart: bool,
) -> "dict[str, tuple[tuple[str, str], ...]]":
    """What to set and to expect of each shot, by its id, without what findings tell of it.

    apart: whether what holds of the whole scene is told by itself, under no id, or with each shot.
    """
    from previz.predictions import brief_of_releases, brief_of_scene

    told = {(each.shot, _AS_FINDING[each.id]) for each in findings if each.id in _AS_FINDING and each.verdict != "fine"}
    whole = brief_of_scene(scene, predictions.figures)
    briefs = {"": whole}
    for each in predictions.shots:
        own = tuple(line for line in _brief(scene, each) if (each.shot, line[0]) not in told)
        own += () if apart else tuple(line for line in whole if line not in own)
        # Releases with the shot they are for, whatever else is filmed in the same setup.
        briefs[each.shot] = own + brief_of_releases(scene, each.shot, (*predictions.figures, *each.figures))
    for answer in wanted:
        briefs[answer.shot] += _wanted_rows(answer)
    return briefs


def _briefly(
    findings: "Sequence[Finding]", compromises: "Sequence[Compromise]", known: "_Known", name: str
) -> list[str]:
    """Those of a part of a scene that are not fine; what other parts told already, which known is, in one line."""
    from previz.predictions import in_brief

    bad = [in_brief(each, compromises) for each in findings if each.verdict != "fine"]
    told = finding_lines(_not_again(bad, known)) + _as_before(bad, known)
    for each in bad:
        known.setdefault(each.id, {}).setdefault(each.remedy, name)
    return told


def between_lines(between: "Sequence[Between]", everything: bool) -> list[str]:
    """What tears neighbours apart, each kind once, at its worst, with where else it is; everything: each of them."""
    from previz.predictions import worst_first

    if everything:
        told = finding_lines(between)
        return [_BETWEEN, *told, ""] if told else []
    worst = [each for each in worst_first(between) if each.verdict != "fine"]
    lines: list[str] = []
    for kind in dict.fromkeys(each.id for each in worst):
        first, *others = (each for each in worst if each.id == kind)
        pairs = sorted(each.events for each in others)  # type: ignore[attr-defined]
        also = f" Also between {', '.join(f'{one} and {other}' for one, other in pairs)}." if pairs else ""
        lines += finding_lines([dataclasses.replace(first, remedy=f"{first.remedy}{also}")])
    return [_BETWEEN, *lines, ""] if lines else []


def _brief(scene: "Scene", found: "ShotPredictions") -> "tuple[tuple[str, str], ...]":
    """Of a shot as it is set up; with its run, where that is not the same in all setups."""
    from previz.predictions import brief_of_scene, brief_of_shot
    from previz.scene import as_set_up

    then = as_set_up(scene, scene.shot(found.shot))
    return brief_of_shot(then, then.shot(found.shot), found.figures) + brief_of_scene(then, found.figures)


def _for_those(finding: "Finding", shots: Sequence[str]) -> "Finding":
    """A finding of several shots as it is told with the first of those asked for."""
    if not finding.also:
        return finding
    held = [shot for shot in shots if shot in (finding.shot, *finding.also)]
    others = [shot for shot in (finding.shot, *finding.also) if shot != held[0]]
    return dataclasses.replace(finding, shot=held[0], also=tuple(others))


def verdict_lines(sections: Sequence[tuple[str, str]], findings: "Sequence[Finding]") -> list[str]:
    """In one line for each part of a scene whether it will work: the set, where there is something, and each shot."""
    from previz.predictions import to_mend_and_watch

    counts = {shot: to_mend_and_watch(findings, shot) for shot, _ in sections}
    shown = [(shot, name) for shot, name in sections if shot or any(counts[shot])]
    width = max((len(name) for _, name in shown), default=0)
    lines = []
    for shot, name in shown:
        stops, watches = counts[shot]
        verdict = f"will not work as planned, {stops} to mend" if stops else "will work"
        lines.append(f"{name:{width}}  {verdict}{f', {watches} to watch' if watches else ''}")
    return lines


#: Which line of what to expect says the same as a finding that is not fine.
_AS_FINDING = {"scale.blur": "blur", "gear.usual_body": "body"}

#: In which part of a scene each kind of finding was told first, by its remedies.
_Known = dict[str, dict[str, str]]


#: What mostly holds of every shot of a set, whatever is done: told whole once, where there is nothing to set.
_OF_MINIATURES = ("scale.blur",)


def _repeats(finding: "Finding", known: _Known) -> bool:
    from previz.predictions import LEFT

    if finding.verdict != "watch" or finding.id not in known:
        return False
    alike = finding.id in _OF_MINIATURES and not finding.changes and finding.remedy != LEFT
    return alike or finding.remedy in known[finding.id]


def _not_again(findings: "Iterable[Finding]", known: _Known) -> "Iterator[Finding]":
    """Those that were not told yet; where only something else is to be done, without what it means."""
    for each in findings:
        if each.verdict == "watch" and each.id in known and not _repeats(each, known):
            yield dataclasses.replace(each, message=f"{each.gist}.")
        elif not _repeats(each, known):
            yield each


def _as_before(findings: "Iterable[Finding]", known: _Known) -> list[str]:
    """The others in one line, for each part of the scene in which they were told."""
    from previz.predictions import LEFT

    again: dict[str, list[str]] = {}
    for each in findings:
        if _repeats(each, known):
            left = each.remedy == LEFT  # by the compromise of its own shot
            told = known[each.id]
            first = next(iter(told.values())) if each.id in _OF_MINIATURES and not left else told[each.remedy]
            where = "left by the compromise" if left else f"as in {first}"
            again.setdefault(where, []).append(_lower(each.gist))
    return [line for where, said in again.items() for line in _indented("watch", f"{where}: {'; '.join(said)}.", 7)]


def finding_lines(findings: "Iterable[Finding]") -> list[str]:
    """Each with its remedy, as given: worst first."""
    return [line for each in findings for line in _indented(str(each.verdict), _said(each), 7)]


def _said(finding: "Finding") -> str:
    """What is the matter, in which other shots it is so, and what to do; whose it is, where both begin with that, once.

    >>> from types import SimpleNamespace
    >>> _said(SimpleNamespace(message="behind: It tips.", remedy="behind: Lower the ramp.", also=("towards",)))
    'behind: It tips. So it is in towards. Lower the ramp.'
    """
    from previz.scene import listed

    whose, colon, _ = finding.message.partition(": ")
    remedy = finding.remedy.removeprefix(f"{whose}: ") if colon else finding.remedy
    also = f" So it is in {listed(finding.also, 'and')}." if finding.also else ""
    return f"{finding.message}{also} {remedy}".rstrip()


def caution_lines(cautions: "Sequence[Caution]") -> list[str]:
    """What brings each up and what is usually done; the sentence that several end in once, with the last of them."""
    ends = [each.precaution.rpartition(". ")[2] for each in cautions]
    lines = []
    for number, (each, end) in enumerate(zip(cautions, ends, strict=True)):
        said = f"{each.because}: {_lower(each.precaution)}"
        lines += _indented("take care", said.removesuffix(end).rstrip() if end in ends[number + 1 :] else said, 11)
    return lines


def brief_caution_lines(cautions: "Sequence[Caution]") -> list[str]:
    """The same in a line each, so that findings stay in view; what defers to label and local rules comes last."""
    from previz.predictions import DEFERRING

    said = [each.brief for each in cautions if each.brief]
    if said:
        defers = any(each.precaution.endswith(DEFERRING) for each in cautions)
        said.append(f"{DEFERRING} " * defers + "--all says each in full.")
    return [line for number, each in enumerate(said)
            for line in _indented("take care" if number == 0 else "", each, 11)]  # fmt: skip


def _labelled(table: "Sequence[tuple[str, str]]") -> list[str]:
    width = max((len(label) for label, _ in table), default=0)
    return [line for label, text in table for line in _indented(f"  {label}", text, width + 4)]


def _indented(label: str, text: str, indent: int) -> list[str]:
    """A label and a text beside it, wrapped to the width of the terminal."""
    lines = wrapped(text, max(shutil.get_terminal_size().columns - indent, 30))
    return [f"{label if number == 0 else '':{indent}}{line}" for number, line in enumerate(lines)]


def _hanging(text: str, indent: int) -> list[str]:
    """A text wrapped to the width of the terminal, all its lines but the first indented."""
    return wrapped(text, max(shutil.get_terminal_size().columns, 30 + indent), subsequent_indent=" " * indent)


def _lower(sentence: str) -> str:
    """A sentence that goes on behind a colon; an abbreviation stays as it is."""
    return sentence if sentence[1:2].isupper() else sentence[:1].lower() + sentence[1:]


def meaning_lines(figures: "Iterable[Figure]") -> list[str]:
    """What the figures mean whose label does not say it all."""
    from previz.predictions import GLOSSARY

    there = {each.quantity: GLOSSARY[each.quantity] for each in figures}
    told = [(each.label, each.means) for each in there.values() if each.means]
    lines = [line for label, means in told for line in (f"  {label}", *_indented("", means, 6))]
    return ["What it means", *lines, ""] if told else []


#: Labels up to so long stand in a column of their own.
_LABEL = 58


def figure_lines(shot: str, figures: "tuple[Figure, ...]", tape: str) -> list[str]:
    """Numbers under the heading of their group, what is measured on the set in the unit of the maker's tape."""
    from previz.predictions import rows

    table, lines = rows(figures, tape), []
    # A longer label runs on to its value, so that it does not push all the others out of the terminal.
    width = max((len(row.label) for row in table if len(row.label) <= _LABEL), default=0)
    for group in dict.fromkeys(row.group for row in table):
        lines.append(f"{shot}{': ' if shot else ''}{group}")
        for row in (row for row in table if row.group == group):
            value = f"{row.value:>{10 if len(row.label) <= width else 1}}"
            lines.append(f"  {row.label:{width}}  {value} {row.unit}".rstrip())
            lines += [f"    {row.beside}"] if row.beside else []
        lines.append("")
    return lines


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
def at_work(said: str, say: Say) -> Iterator[Say]:
    """Lend a function that says what is being worked out now, where that can take a minute and has no frames to count.

    On a terminal it stands there; else a line comes wherever nothing was said for `_SILENCE`.
    """
    console = _aside()
    if _lively(console):
        with console.status(said) as status:
            yield status.update
        return
    over, now, began = threading.Event(), [said], time.monotonic()

    def tell() -> None:
        while not over.wait(_SILENCE):
            say(f"{now[0]}: {_long(time.monotonic() - began)} so far")

    def update(said: str) -> None:
        now[0] = said

    teller = threading.Thread(target=tell, name="tells what goes on", daemon=True)
    teller.start()
    try:
        yield update
    finally:
        over.set()
        teller.join()


@contextmanager
def progress(name: str, total: int, say: Say) -> Iterator[Callable[[int], None]]:
    """Lend a function to call with the number of frames done: a bar on a terminal, else a line now and then."""
    console = _aside()
    if not _lively(console):
        yield _by_line(name, total, say)
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    left = _Left(total)
    columns = (
        TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TextColumn("frames{task.fields[left]}")
    )  # fmt: skip
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(name, total=total, left="")
        yield lambda done: bar.update(task, completed=done, left=left(done))


def _by_line(name: str, total: int, say: Say) -> Callable[[int], None]:
    """A line at the first frame, at each quarter, and where the last was `_SILENCE` ago."""
    said, left = time.monotonic(), _Left(total)

    def advance(done: int) -> None:
        nonlocal said
        now, rest = time.monotonic(), left(done)
        quarter = done * 4 // total > (done - 1) * 4 // total
        if total >= 4 and done < total and (done == 1 or quarter or now - said >= _SILENCE):
            said = now
            say(f"{name}: {done} of {total} frames{rest}")

    return advance


class _Left:
    """How long the rest takes, told frame by frame.

    The first frame takes longer than any other, for a process starts, loads and uploads the set. So the pace is that
    since the first ones came; until then nothing is told.
    """

    def __init__(self, total: int) -> None:
        self._total, self._began = total, time.monotonic()
        self._first = self._from = (0, self._began)  # frames done, and when

    def __call__(self, done: int) -> str:
        now, left = time.monotonic(), self._total - done
        if self._first[0] == 0:
            self._first = self._from = (done, now)
        # Processes side by side hand in their first frames nearly together.
        elif now - self._began < (self._first[1] - self._began) * _TOGETHER:
            self._from = (done, now)
        frames = done - self._from[0]
        if frames:
            return f", about {_long((now - self._from[1]) / frames * left)} left"
        return ""


def _long(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"


#: Times the time to the first frame, until which others are first ones too.
_TOGETHER = 1.1


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
    wide = max(28, *(len(place) for place, _ in places))
    return [line for place, says in places for line in _row((place, says), (wide, _COLUMNS - 2 - wide))]


def key_lines(groups: "Sequence[KeyGroup]") -> list[str]:
    """A table for each group of keys, and at the end the units.

    A key stands with how it is written, what holds unless it is given and an example, and below it what it is.
    """
    lines: list[str] = []
    for group in groups:
        said = [line for each in group.says.split("\n\n") for line in wrapped(each, _COLUMNS)]
        lines += [*wrapped(group.place, _COLUMNS), *said, ""]
        rows = [(key.name, key.form, key.default, key.example) for key in group.keys]
        table = [("key", "written as", "unless given", "example"), *rows]
        widths = _widths(table)
        lines += _row(table[0], widths)
        for key, row in zip(group.keys, rows, strict=True):
            lines += _row(row, widths)
            said = wrapped(key.says, _COLUMNS - widths[0] - 2)
            lines += [" " * (widths[0] + 2) + line for line in said]
        lines += ["", *(f"more: previz keys {place}" for place in group.further), *([""] if group.further else [])]
    units = dict.fromkeys(each for group in groups for key in group.keys for each in key.units)
    for name, written in units:
        lines += wrapped(f"{name}: {written}", _COLUMNS, subsequent_indent="  ")
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
    parts = [wrapped(cell, width) or [""] for cell, width in zip(cells, widths, strict=True)]
    return [
        "  ".join(f"{part:{width}}" for part, width in zip(line, widths, strict=True)).rstrip()
        for line in zip_longest(*parts, fillvalue="")
    ]


# --- advice ---


def advice_lines(shot: str, advice: "Advice", *, whole: bool) -> list[str]:
    """The plans for a shot, the best first: what to set and to measure, what comes of it, what holds it back.

    A few lines a plan; whole: all there is to say.
    """
    plans = advice.plans
    count = "no plan" if not plans else "1 plan" if len(plans) == 1 else f"{len(plans)} plans, the best first"
    if advice.nearest is not None:
        count = "no plan: check stops all that can be made of it"
    elif plans and not plans[0].changes:
        others = f"; {len(plans) - 1} more that are better in other wants" if len(plans) > 1 else ""
        count = f"nothing was found that is better than as it is written{others}"
    lines = [f"{shot}: {count}"]
    if advice.relaxed is not None:
        lines += _under("gives way", [f"{each.words}: {each.given_shown} at best" for each in advice.relaxed.wants])
        lines += _under("stops it", [each.message for each in advice.relaxed.stops])
    told: set[str] = set()
    for number, plan in enumerate(plans, start=1):
        binds = plan.binds if whole else [bind for bind in plan.binds[:1] if bind.limit not in told]
        told |= {bind.limit for bind in binds}
        lines += ["", *_plan_lines(f"plan {number}", plan, advice.as_written, binds, whole=whole, first=number == 1)]
        meets = [len(each.meets) for each in plans[max(number - 2, 0) : number]]
        if plan.behind and meets[0] <= meets[-1]:
            lines += _under("behind", [f"plan {number - 1}: {plan.behind}"])
    if advice.nearest is not None:
        binds = advice.nearest.binds if whole else advice.nearest.binds[:1]
        lines += ["", *_plan_lines("nearest to one", advice.nearest, advice.as_written, binds, whole=whole, first=True)]
    lost = advice.lost if whole or not plans else advice.lost[:1]
    lines += [""] if lost else []
    for each in lost:
        lines += _under("lost", [f"{_settings_text(each)}: {each.why}"])
    return lines


def _plan_lines(
    name: str, plan: "Plan", written: "Wanted | None", binds: "Sequence[Bind]", *, whole: bool, first: bool
) -> list[str]:
    wants = len(plan.meets) + len(plan.misses)
    words = dict.fromkeys(_word_for(change.key) for change in plan.changes)
    changed = ", ".join(f"{word} and height" if word == "place" and plan.other_height else word for word in words)
    before, gains = "", list[str]()
    if changed and first and written is not None:
        before = ", as written check stops it" if written.stops else f", as written {len(written.meets)}"
        noisy = any(each.id == "light.iso" for each in plan.findings)
        gains += [f"no noise that shows, as written at {written.noise}"] if written.noise and not noisy else []
    was = {each.want: each.shown for each in written.misses} if written is not None and changed else {}
    said = f"{name}: {len(plan.meets)} of {wants} wants met{before}; "
    said += f"changes {changed}" if changed else "as it is"
    lines = wrapped(said, _COLUMNS, subsequent_indent="  ")
    lines += _under("dial in", [f"{row.label} {row.value}" for row in plan.settings])
    lines += _under("measure", [f"{row.label} {row.value}" for row in plan.marks])
    told = [f"{_met_text(met)}{_was_text(met, was)}" if first else met.words for met in plan.meets]
    lines += _under("meets", told + gains)
    missed = [(_met_text(met), _limit_text(met), _was_text(met, was)) for met in plan.misses]
    lines += _under("misses", [f"{said}{f' ({limit})' if limit else ''}{before}" for said, limit, before in missed])
    stops = _stopped(plan)
    shown = plan.findings if whole else (stops or plan.findings)[:1] if first else stops[:1]
    for finding in shown:
        lines += _under(str(finding.verdict), [f"{finding.message} {finding.remedy if whole else ''}".rstrip()])
    if left := len(plan.findings) - len(shown):
        lines += _under(
            "" if shown else "watch", [f"{'and ' if shown else ''}{left} {'more ' if shown else ''}by check"]
        )
    for bind in binds:
        lines += _under("held by", [f"{bind.limit}. With {bind.buys}"])
    return lines


def _stopped(plan: "Plan") -> "list[Finding]":
    """What stops a plan: only where nothing else is any better."""
    return [finding for finding in plan.findings if finding.verdict == "stop"]


def _under(name: str, said: Iterable[str]) -> list[str]:
    """What is said, behind its name, in as many lines as it needs."""
    lines = wrapped("; ".join(said), _COLUMNS - 13)
    return [f"  {'' if number else name:9}  {line}" for number, line in enumerate(lines)]


def _met_text(met: "Met") -> str:
    return f"{met.words}{' (must)' if met.hard else ''}, {met.shown}"


def _wanted_rows(wanted: "Wanted") -> tuple[tuple[str, str], ...]:
    """What a shot misses of what is wanted, and below it what it meets, each with what it is and what it should be."""
    told = [
        f"{what}: {'; '.join(f'{met.words} ({_is_text(met)})' for met in those)}"
        for what, those in (("missed", wanted.misses), ("met", wanted.meets))
        if those
    ]
    return tuple(zip(("wants", ""), told, strict=False))


def _is_text(met: "Met") -> str:
    """A number is what a want is; what is said in words stands for itself.

    >>> from types import SimpleNamespace
    >>> looks = SimpleNamespace(words="looks: full size", hard=True, shown="15 cm", limit_shown="at most 4.5 cm")
    >>> edges = SimpleNamespace(words="edges: hidden", hard=False, shown="nothing past the set", limit_shown="")
    >>> _is_text(looks), _is_text(edges)
    ('must, is 15 cm, wanted at most 4.5 cm', 'nothing past the set')
    """
    wanted = _limit_text(met)
    return f"{'must, ' * met.hard}{'is ' * met.shown[0].isdigit()}{met.shown}{f', {wanted}' if wanted else ''}"


def _limit_text(met: "Met") -> str:
    """What a figure is held against, where the want does not say it itself."""
    said_already = any(character.isdigit() for character in met.words)
    return f"wanted {met.limit_shown}" if met.limit_shown and not said_already else ""


def _was_text(met: "Met", was: Mapping[str, str]) -> str:
    """What a want that the shot misses as it is written comes to in that, where it is not the same."""
    before = was.get(met.want, met.shown)
    return f", as written {told_beside(before, met.shown)}" if before != met.shown else ""


def _settings_text(lost: "Lost") -> str:
    """A way that lost in a few words: what tells it from the plans."""
    told = [row for row in lost.settings if row.label in ("camera", "rate", "focal length", "stop")]
    return ", ".join(row.value for row in told)


def _word_for(key: str) -> str:
    """What a key of the file is called by one who films: `stop` of `shots[0].f_number`."""
    last = key.rpartition(".")[2]
    return {"at": "place", "f_number": "stop", "iso": "ISO"}.get(last, last.replace("_", " "))


# --- an evening ---


def evening_lines(scene: "Scene", plan: "EveningPlan") -> list[str]:
    """How long an evening takes; then the setups in the order of least work, with all that is moved before each."""
    from previz.evening import spell, told_moves

    sure, count = plan.assumed.sure, len(plan.takes)
    lines = [f"{spell(plan.enough)} will do with a chance of {percent(sure)}, {spell(plan.mean)} on the mean"]
    saved = plan.as_written - plan.work
    instead = f"; in the order of the file it would be {spell(plan.as_written)}" if saved > 0 else ""
    lines += [f"of that {spell(plan.work)} for {plan.moves} moves between {count} shots{instead}"] if count > 1 else []
    if plan.least < plan.work:
        lines.append(f"no order takes less than {spell(plan.least)}; this is the best that was found")
    lines.append("that is filming alone: building the set and rigging its lamps come before it")
    unit = tape_in_words(scene.tape.column)
    lines += ["", f"places are in {unit} from the table's front left corner: x, y, and height", ""]
    width = max((len(each.shot) for each in plan.changeovers), default=0) + 5
    for number, (change, takes) in enumerate(zip(plan.changeovers, plan.takes, strict=True), start=1):
        head = f"{number:2} {change.shot}"
        time = f"{spell(change.time)}, then " if change.moves else "nothing to move; "
        lines += _indented(head, f"{time}{_takes_words(takes)}", width)
        for each in told_moves(change.moves, scene.tape.bare):
            lines += _indented("", each, width)
    return [*lines, "", *_assumed(plan)]


def _takes_words(takes: "Takes") -> str:
    if takes.enough == float("inf"):
        return "no number of takes is enough: hardly one is good"
    many = f"{takes.enough:.0f} take{'s' * (takes.enough != 1)}"
    return f"{many}, {takes.mean:.2g} on the mean"


def _assumed(plan: "EveningPlan") -> list[str]:
    """What it all rests on."""
    from previz.evening import spell

    assumed, within = plan.assumed, {each.within for each in plan.takes if each.within is not None}
    launched = (
        f"; of launches {', '.join(percent(each) for each in sorted(within))} are within 5 % of the speed"
        * bool(within)
    )
    good = f"{assumed.good_takes} good take{'s' * (assumed.good_takes > 1)} a shot"
    said = (
        f"assumed: {good}, {spell(assumed.take)} a take, {percent(assumed.spoiled)} of them spoiled{launched}. One "
        f"camera stands at a time: {spell(assumed.camera)} to put it up, {spell(assumed.lamp)} for a lamp, "
        f"{spell(assumed.dress)} for a piece, and {spell(assumed.look)} to look at the picture after each change. "
        "Change it with evening: in the scene file (previz keys evening)."
    )
    return wrapped(said, max(shutil.get_terminal_size().columns, 40))
