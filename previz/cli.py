"""The command line: the only room that prints, reads arguments and sets an exit code.

Exit codes: 0 done; 1 `check` found a shot that will not work or `doctor` something missing; 2 a fault the user can
mend; 130 stopped with Ctrl-C.
"""

import dataclasses
import difflib
import json
import math
import re
import shutil
import signal
import sys
import textwrap
import time
from collections.abc import Callable, Generator, Iterator
from contextlib import ExitStack, contextmanager
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

import previz
from previz import units
from previz.errors import PrevizError

if TYPE_CHECKING:
    from rich.console import Console

    from previz.frames import Facts, Frame, Look
    from previz.predictions import Figure, Finding, Predictions
    from previz.scene import Scene, Shot
    from previz.stage import Collision

#: Width of a picture unless asked otherwise, in full and in draft. [px]
FULL_WIDTH, DRAFT_WIDTH = 1280, 640

#: Views over pupil and shutter unless asked otherwise, in full and in draft.
FULL_VIEWS, DRAFT_VIEWS = 64, 8


class ClipFormat(StrEnum):
    """Formats of clips; the same as delivery's, without loading it."""

    MP4 = "mp4"
    GIF = "gif"
    WEBP = "webp"


class _Commands(typer.core.TyperGroup):
    """The commands, with a user's faults told in a message and not in a traceback."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command that was asked for."""
        try:
            return super().invoke(ctx)
        except PrevizError as error:
            _say_fault(str(error))
            raise typer.Exit(2) from None


app = typer.Typer(
    cls=_Commands,
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help reads the same everywhere
    help="See a miniature film's shot before building it: the focus, framing, motion and light that your camera "
    "would record of a model vehicle driving through a set on a table.",
    epilog="Begin with: previz render scenes/quay_lorry.yaml --draft",
)

SceneFile = Annotated[Path, typer.Argument(metavar="SCENE", help="The scene file (YAML): set, lights, cameras, shots.")]
ShotId = Annotated[str | None, typer.Option("--shot", metavar="ID", help="Only this shot, by its id in the scene.")]
Out = Annotated[
    Path | None, typer.Option(metavar="FOLDER", help="Where to write; outputs/ and the scene file's name unless given.")
]
Draft = Annotated[
    bool, typer.Option("--draft", help=f"A quick look: {DRAFT_WIDTH} pixels wide, {DRAFT_VIEWS} views a frame.")
]
Size = Annotated[
    str | None,
    typer.Option(
        metavar="WIDTH[xHEIGHT]",
        help=f"Picture size in pixels, such as 1920 or 1920x1080. The height follows from the capture mode; "
        f"{FULL_WIDTH} wide unless given.",
    ),
]
Views = Annotated[
    int | None,
    typer.Option(
        min=1,
        max=65536,
        metavar="N",
        help="Looks through the lens that make up one frame. More are smoother where the picture is out of focus or "
        f"moves, and take longer in proportion; {FULL_VIEWS} unless given.",
    ),
]
Seed = Annotated[int, typer.Option(min=0, metavar="N", help="Of the sensor's noise: the same seed, the same pixels.")]
WithSlate = Annotated[
    bool, typer.Option("--slate", help="Add a strip under the picture: shot, lens, stop, shutter, rates, ISO, time.")
]
OutsideFiles = Annotated[
    bool,
    typer.Option("--outside-files", help="Let the scene use images and meshes from outside its own folder."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the answer as JSON, for other programs.")]


@app.command(short_help="Film the shots of a scene, one clip each.")
def render(
    scene_file: SceneFile,
    shot: ShotId = None,
    out: Out = None,
    draft: Draft = False,
    size: Size = None,
    views: Views = None,
    frames: Annotated[
        str | None,
        typer.Option(metavar="A:B", help="Only frames A up to, not including, B: 0:24, 48: or :12. The first is 0."),
    ] = None,
    seed: Seed = 0,
    clip_format: Annotated[ClipFormat, typer.Option("--format", help="mp4 keeps every rate exactly.")] = ClipFormat.MP4,
    slate: WithSlate = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Film the shots of a scene: one clip each, captured and played back at the rates you plan.

    120 fps played back at 24 fps is five times slow, as it will be on screen.
    """
    scene = previz.read_scene(scene_file, outside_files=outside_files)
    takes = [
        _take(scene, each, _look(scene, each, draft, size, views, seed), frames, slate, clip_format.value)
        for each in _chosen(scene, shot)
    ]
    _warn(previz.predict(scene), takes, scene_file)
    with _building() as tell:
        stage = previz.build_stage(scene, "draft" if draft else "full", progress=tell)
    _warn_of_collisions(stage.collisions)
    clips = []
    for take in takes:
        path = _folder(scene_file, out) / f"{take.shot.id}.{clip_format.value}"
        with _Film(previz.render_frames(scene, stage, take.shot, take.look), take) as film:
            previz.deliver_clip(path, film, take.shot.playback, take.look.size, take.slate)
        clips.append(_told(path, take, film, as_json))
    if as_json:
        _print_json({"clips": clips})


@app.command(short_help="Take one frame of a shot as a PNG.")
def still(
    scene_file: SceneFile,
    shot: ShotId = None,
    at: Annotated[
        str | None,
        typer.Option(
            metavar="TIME",
            help="Time on set, such as 0.4 s; the frame nearest it. The middle of the shot unless given.",
        ),
    ] = None,
    out: Out = None,
    draft: Draft = False,
    size: Size = None,
    views: Views = None,
    seed: Seed = 0,
    slate: WithSlate = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Take one frame of a shot as a PNG; of the first shot unless another is named."""
    scene = previz.read_scene(scene_file, outside_files=outside_files)
    chosen = _chosen(scene, shot)[0]
    number = _frame_at(scene, chosen, at)
    take = _take(scene, chosen, _look(scene, chosen, draft, size, views, seed), f"{number}:{number + 1}", slate, "png")
    with _building() as tell:
        stage = previz.build_stage(scene, "draft" if draft else "full", progress=tell)
    _warn_of_collisions(stage.collisions)
    path = _folder(scene_file, out) / f"{chosen.id}-{number:04}.png"
    with _Film(previz.render_frames(scene, stage, chosen, take.look), take) as film:
        for frame in film:
            previz.deliver_still(path, frame, take.slate)
    told = _told(path, take, film, as_json)
    if as_json:
        _print_json({"stills": [told]})


@app.command(short_help="Work out whether the shots will work, without rendering.")
def check(
    scene_file: SceneFile,
    shot: ShotId = None,
    everything: Annotated[bool, typer.Option("--all", help="Also what was looked at and is fine.")] = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Work out whether the shots will work: focus, apparent scale, time, launch, light and framing. Nothing is drawn.

    `stop` will not work as planned, `watch` may cost you the look; each says what to change.
    """
    scene = previz.read_scene(scene_file, outside_files=outside_files)
    chosen = {each.id for each in _chosen(scene, shot)}
    predictions = previz.predict(scene)
    findings = [finding for finding in predictions.findings if finding.shot in {"", *chosen}]
    if as_json:
        kept = [each for each in predictions.shots if each.shot in chosen]
        _print_json(_plain(dataclasses.replace(predictions, shots=tuple(kept), findings=tuple(findings))))
    else:
        _print_figures("", predictions.figures)
        for each in predictions.shots:
            if each.shot in chosen:
                _print_figures(each.shot, each.figures)
        _print_table([("take care", caution.because, caution.precaution) for caution in predictions.cautions])
        _print_findings(findings, everything)  # last, where a terminal ends
    if any(finding.verdict == "stop" for finding in findings):
        raise typer.Exit(1)


@app.command(short_help="Say what this machine offers and lacks.")
def doctor(as_json: AsJson = False) -> None:
    """Say what this machine offers for rendering and encoding, and what it lacks."""
    from previz.doctor import examine

    checks = examine()
    if as_json:
        _print_json({check.name: {"found": check.found, "works": check.works} for check in checks})
    else:
        width = max(len(check.name) for check in checks)
        for check in checks:
            print(f"{check.name:{width}}  {'' if check.works else 'LACKS: '}{check.found}")
    if not all(check.works for check in checks):
        raise typer.Exit(1)


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"previz {previz.__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run the command line."""
    # A polite request to end is treated like Ctrl-C, so that nothing half-written is left.
    signal.signal(signal.SIGTERM, _terminated)
    app(prog_name="previz")


def _terminated(number: int, _frame: object) -> NoReturn:
    sys.exit(128 + number)


# --- what is asked for ---


@dataclasses.dataclass(frozen=True)
class _Take:
    """One shot as it is to be delivered."""

    shot: "Shot"
    look: "Look"
    numbers: range  # of the frames
    slate: Any  # Slate or None


def _take(scene: "Scene", shot: "Shot", look: "Look", frames: str | None, slate: bool, kind: str) -> _Take:
    """Settle what can be settled before any work, so that a fault costs no waiting. Raises PrevizError."""
    from previz.delivery import check_clip, timing_note
    from previz.frames import lens_of, require_opengl
    from previz.predictions.motion import frame_times

    require_opengl()
    lens_of(scene, shot, look.size)
    if kind != "png":
        check_clip(kind, look.size, shot.playback)
        if note := timing_note(kind, shot.playback):
            _say(f"{shot.id}: {note}")
    numbers = _numbers(frames, frame_times(scene, shot).count, shot.id)
    label = previz.Slate.of(scene, shot) if slate else None
    return _Take(shot, dataclasses.replace(look, frames=numbers), numbers, label)


def _chosen(scene: "Scene", wanted: str | None) -> tuple["Shot", ...]:
    """All shots, or the one of that id."""
    shots = {shot.id: shot for shot in scene.shots}
    if wanted is None:
        return tuple(shots.values())
    if wanted not in shots:
        near = difflib.get_close_matches(wanted, shots, n=1)
        advice = f"; did you mean {near[0]}?" if near else ""
        raise PrevizError(f"--shot {units.shown(wanted)}: the scene's shots are {', '.join(shots)}{advice}")
    return (shots[wanted],)


def _look(scene: "Scene", shot: "Shot", draft: bool, size: str | None, views: int | None, seed: int) -> "Look":
    """How the picture is made: `--draft` sets size and views where they are not given themselves."""
    mode = scene.mode(shot)
    width, height = _size(size) if size else (min(DRAFT_WIDTH if draft else FULL_WIDTH, mode.width), None)
    if height is None:
        height = max(2, round(width * mode.height / mode.width / 2) * 2)
    return previz.Look(size=(width, height), views=views or (DRAFT_VIEWS if draft else FULL_VIEWS), seed=seed)


def _size(text: str) -> tuple[int, int | None]:
    match = re.fullmatch(r"(\d{1,5})(?:\s*x\s*(\d{1,5}))?", text.strip(), flags=re.ASCII)
    width, height = (int(match[1]), int(match[2]) if match[2] else None) if match else (0, None)
    if not 16 <= width <= 16384 or not (height is None or 16 <= height <= 16384):
        raise PrevizError(
            f"--size {units.shown(text)} is not a picture size; write a width like 1280, or 1280x720, "
            "each from 16 to 16384"
        )
    return width, height


def _numbers(text: str | None, count: int, shot: str) -> range:
    """The frames `A:B` of a shot of `count` frames."""
    match = re.fullmatch(r"(\d{0,9}):(\d{0,9})", (text or ":").strip(), flags=re.ASCII)
    if not match:
        raise PrevizError(
            f"--frames {units.shown(text)} is not a range of frames; write it like 0:24 (B is not included)"
        )
    first, end = int(match[1] or 0), int(match[2] or count)
    if not 0 <= first < end <= count:
        raise PrevizError(
            f"--frames {units.shown(text)}: shot {shot} has {count} frames, so A and B must be in 0:{count}, A before B"
        )
    return range(first, end)


def _frame_at(scene: "Scene", shot: "Shot", at: str | None) -> int:
    """The frame nearest a time on set, or the middle one."""
    from previz.predictions.motion import frame_times

    times = frame_times(scene, shot)
    if at is None:
        return times.count // 2
    try:
        wanted = units.parse(units.TIME, at)
    except units.QuantityError as error:
        raise PrevizError(f"--at {error}") from error
    number = round((Fraction(wanted) - times.start) * times.rate)
    if not 0 <= number < times.count:
        first, last = float(times.start), float(times.time(times.count - 1))
        raise PrevizError(f"--at {at}: shot {shot.id} runs from {first:.3f} s to {last:.3f} s; choose a time between")
    return number


def _folder(scene_file: Path, out: Path | None) -> Path:
    return out if out is not None else Path("outputs", scene_file.stem)


# --- what is said ---


class _Film:
    """The frames of a take on their way to delivery, counted aloud.

    A context: however delivery ends, drawing is ended and the progress taken off the terminal before anything else is
    said.
    """

    def __init__(self, frames: "Iterator[Frame]", take: _Take) -> None:
        self._frames, self._take, self._open = frames, take, ExitStack()
        self.count = 0
        self.facts: Facts | None = None

    def __enter__(self) -> "_Film":
        self._advance = self._open.enter_context(_progress(self._take.shot.id, len(self._take.numbers)))
        if isinstance(self._frames, Generator):
            self._open.callback(self._frames.close)
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def __iter__(self) -> "Iterator[Frame]":
        for frame in self._frames:
            self.count, self.facts = self.count + 1, frame.facts
            yield frame
            self._advance(self.count)


def _told(path: Path, take: _Take, film: _Film, as_json: bool) -> dict[str, Any]:
    """Name what was written; returns the same as data."""
    from previz.doctor import size_text

    assert film.facts is not None  # a clip without frames is never written
    size = path.stat().st_size
    rate, seconds = take.shot.playback, film.count / take.shot.playback
    if not as_json:
        exposed = f"{units.text_of(units.TIME, film.facts.exposure_time)}, ISO {film.facts.iso}"
        lasts = f"{film.count} frames, {float(seconds):.2f} s at {float(rate):.5g} fps, " if film.count > 1 else ""
        print(f"{path}: {lasts}{take.look.size[0]}x{take.look.size[1]}, {exposed}, {size_text(size)}")
    return {
        "file": str(path),
        "bytes": size,
        "shot": take.shot.id,
        "first_frame": take.numbers.start,
        "frames": film.count,
        "playback": str(rate),
        "size": list(take.look.size),
        "views": take.look.views,
        "seed": take.look.seed,
        **{key: value for key, value in dataclasses.asdict(film.facts).items() if key != "views"},
    }


def _warn(predictions: "Predictions", takes: list[_Take], scene_file: Path) -> None:
    """Before any waiting: what of these takes will not work as planned."""
    filmed = {"", *(take.shot.id for take in takes)}
    findings = [each for each in predictions.findings if each.shot in filmed and each.verdict != "fine"]
    for finding in findings:
        _say(f"{finding.verdict}: {finding.shot}{': ' if finding.shot else ''}{finding.message}")
    if findings:
        _say(f"(previz check {scene_file} says what to change)")


def _warn_of_collisions(collisions: "tuple[Collision, ...]") -> None:
    """What stands in the way on the set as it was built."""
    ways = {
        "vehicle": "stands in the vehicle's way: move it {far}",
        "road": "stands in the road: move it {far}",
        "table": "reaches {far} over the edge of the table",
        "backdrop": "reaches {far} through the backdrop",
    }
    for each in collisions:
        way = ways.get(each.with_what, f"and {each.with_what} stand in each other: move one {{far}}")
        verdict = "stop" if each.with_what == "vehicle" else "watch"
        _say(f"{verdict}: {each.piece} {way.format(far=units.text_of(units.LENGTH, each.overlap))}")


def _print_findings(findings: "list[Finding]", everything: bool) -> None:
    """One aligned table, the worst first."""
    fine = sum(finding.verdict == "fine" for finding in findings)
    table = [
        (str(finding.verdict), finding.shot, f"{finding.message} {finding.remedy}".rstrip())
        for finding in findings
        if everything or finding.verdict != "fine"
    ]
    _print_table(table)
    if not everything:
        print(f"{fine} more looked at and fine (--all shows them)" if table else f"{fine} looked at, all fine")


def _print_figures(shot: str, figures: "tuple[Figure, ...]") -> None:
    """Numbers under the heading of their group."""
    from previz.predictions import rows

    table = rows(figures)
    width = max((len(row.label) for row in table), default=0)
    for group in dict.fromkeys(row.group for row in table):
        print(f"{shot}{': ' if shot else ''}{group}")
        for row in table:
            if row.group == group:
                print(f"  {row.label:{width}}  {row.value:>10} {row.unit}".rstrip())
        print()


def _print_table(table: list[tuple[str, str, str]]) -> None:
    """Short columns, then one that is wrapped to the width of the terminal."""
    if not table:
        return
    first, second = (max(len(line[column]) for line in table) for column in (0, 1))
    indent = first + second + 4
    for verdict, shot, text in table:
        lines = textwrap.wrap(text, max(shutil.get_terminal_size().columns - indent, 30))
        print(f"{verdict:{first}}  {shot:{second}}  " + f"\n{' ' * indent}".join(lines))
    print()


def _plain(value: Any) -> Any:
    """Data as JSON can hold it: what is unknown becomes null, what is beyond numbers the word `infinity`."""
    if dataclasses.is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None if math.isnan(value) else "infinity" if value > 0 else "-infinity"
    return value


@contextmanager
def _building() -> Iterator[Callable[[str], None]]:
    """Lend a function that says what is being built and lit, which can take seconds."""
    console = _aside()
    if not _lively(console):
        yield _say
        return
    with console.status("") as status:
        yield status.update


@contextmanager
def _progress(name: str, total: int) -> Iterator[Callable[[int], None]]:
    """Lend a function to call with the number of frames done: a bar on a terminal, else a line each quarter."""
    console = _aside()
    if not _lively(console):
        yield _quarters(name, total)
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TextColumn("frames,"),
        TimeRemainingColumn(compact=True), TextColumn("left"),
    )  # fmt: skip
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(name, total=total)
        yield lambda done: bar.update(task, completed=done)


def _quarters(name: str, total: int) -> Callable[[int], None]:
    began = time.monotonic()

    def advance(done: int) -> None:
        if total >= 4 and done < total and done * 4 // total > (done - 1) * 4 // total:
            left = (time.monotonic() - began) / done * (total - done)
            _say(f"{name}: {done} of {total} frames, about {left:.0f} s left")

    return advance


def _aside() -> "Console":
    """For what is said while working: stderr, so that stdout holds the answer alone."""
    from rich.console import Console

    return Console(stderr=True)


def _lively(console: "Console") -> bool:
    return console.is_terminal and not console.is_dumb_terminal


def _say(text: str) -> None:
    print(text, file=sys.stderr)


def _say_fault(text: str) -> None:
    for line in text.splitlines():
        _say(line)


def _print_json(answer: object) -> None:
    print(json.dumps(answer, indent=2, default=str))
