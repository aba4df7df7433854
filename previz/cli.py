"""The command line: the only room that prints, reads arguments and sets an exit code.

Exit codes are listed in `EXIT_CODES`.
"""

import dataclasses
import errno
import gc
import io
import json
import math
import os
import re
import shlex
import shutil
import signal
import sys
import textwrap
import time
from collections.abc import Callable, Collection, Generator, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, nullcontext, suppress
from functools import partial
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

import previz
from previz import units
from previz.cutting import CutPlan, Part, cut_plan
from previz.errors import FileFault, MachineError, PrevizError, SceneErrors, ShotFault
from previz.files import slow_work_told
from previz.options import (
    AlsoPng,
    AlsoSvg,
    Apply,
    AsJson,
    AsPoster,
    At,
    BareUnit,
    BeginShot,
    BodyName,
    ByFraming,
    ByStop,
    Cameras,
    ClipFormat,
    ComparePlans,
    Draft,
    DraftSize,
    For,
    FrameRange,
    Framing,
    Fresh,
    GuideTopic,
    KeyPlace,
    LikeScene,
    ModelScale,
    NewFile,
    NewScene,
    OnCluster,
    OnlyParts,
    OnPaper,
    Out,
    OutsideFiles,
    Overwrite,
    OwnCameras,
    PageSize,
    PaperName,
    PictureOut,
    Plans,
    Profile,
    Purpose,
    SceneFile,
    Seed,
    ShotId,
    Size,
    SoundFile,
    Start,
    StartTimecode,
    StillOut,
    Stop,
    TableSize,
    TilePaper,
    Vary,
    Views,
    WithoutStills,
    WithSlate,
    Workers,
)
from previz.takes import (
    CARD_WIDTH,
    Quality,
    Take,
    bytes_of,
    chosen,
    digest_of,
    frame_at,
    kept_frame,
    take_of,
    time_of,
)
from previz.telling import (
    advice_lines,
    building,
    caution_lines,
    check_lines,
    evening_lines,
    key_lines,
    place_lines,
    plain,
    progress,
)

if TYPE_CHECKING:
    from previz.advice import Advice, Plan
    from previz.continuity import Between
    from previz.delivery import Comparison, CutWritten, KeptShot, Panel, Reel, TooLarge
    from previz.frames import Crew, Facts, Frame, Spent
    from previz.paper import Prints, Sheet
    from previz.predictions import Predictions
    from previz.stage import Stage
    from previz.starters import Wish


class _Commands(typer.core.TyperGroup):
    """The commands, with a user's faults told in a message and not in a traceback."""

    def make_context(self, *arguments: Any, **settings: Any) -> Any:
        """Read the options that come before any command."""
        with _faults_told():
            return super().make_context(*arguments, **settings)

    def invoke(self, ctx: Any) -> Any:
        """Run the command that was asked for."""
        with _faults_told():
            _refuse_to_work_nowhere()
            with slow_work_told(_say):
                return super().invoke(ctx)


@contextmanager
def _faults_told() -> Iterator[None]:
    try:
        with _interrupts_heard():
            yield
    except PrevizError as error:
        _say_fault(str(error))
        raise typer.Exit(2) from None
    except (KeyboardInterrupt, _Stopped):
        _say("stopped; what was not finished is not written")
        raise
    except typer.BadParameter as error:
        error.message = _in_our_words(error.message)
        raise


@contextmanager
def _interrupts_heard() -> Iterator[None]:
    """After Ctrl-C whatever else comes up is that: a library that was broken off in loading has faults of its own."""
    try:
        yield
    except Exception:
        if not _INTERRUPTED.is_set():
            raise
        raise KeyboardInterrupt from None


def _in_our_words(message: str) -> str:
    """What the library of the command line says of a value, without the words of the one behind it.

    >>> _in_our_words("Value error, 'avi' is not one of 'mp4', 'gif', 'webp'.")
    "'avi' is not one of 'mp4', 'gif', 'webp'."
    >>> _in_our_words("Input should be a valid integer, unable to parse string as an integer")
    'it must be a whole number'
    """
    for theirs, ours in (
        (r"^Value error, ", ""),
        (r"^Input should be a valid integer.*", "it must be a whole number"),
        (r"^Input should be greater than or equal to", "it must be at least"),
        (r"^Input should be less than or equal to", "it must be at most"),
    ):
        message = re.sub(theirs, ours, message, flags=re.DOTALL)
    return message


def _examples(*commands: str) -> str:
    """The end of a command's help."""
    return "\b\n" + "\n".join(["Examples:", *(f"  {command}" for command in commands)])


#: What a command ends with, for scripts; told in the help, and in the README.
EXIT_CODES = (
    ("0", "done"),
    ("1", "an answer that asks for something: check found a shot that stops, advise no plan that does all it must, "
     "doctor something missing, or a page was too large to write"),
    ("2", "a fault that you can mend: a scene, an option, a file, this machine"),
    ("130", "stopped with Ctrl-C; by another signal, 128 and its number"),
)  # fmt: skip


def _exit_codes() -> str:
    rows = [textwrap.wrap(f"{code:5}{meaning}", 74, subsequent_indent=" " * 5) for code, meaning in EXIT_CODES]
    return "\b\n" + "\n".join(["Exit codes:", *(f"  {line}" for row in rows for line in row)])


app = typer.Typer(
    cls=_Commands,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help reads the same everywhere
    help="See a miniature film's shot before building it: the focus, framing, motion and light that your camera "
    "would record of a model vehicle driving through a set on a table.",
    epilog="\n\n".join(
        [_exit_codes(), _examples("previz guide example", "previz render scenes/quay_lorry.yaml --draft")]
    ),
)


@app.command(
    short_help="Film the shots of a scene, one clip each.",
    epilog=_examples(
        "previz render my_shot.yaml --draft",
        "previz render my_shot.yaml --shot pass --slate --for message",
    ),
)
def render(
    scene_file: SceneFile,
    shot: ShotId = None,
    out: Out = None,
    draft: Draft = False,
    size: Size = None,
    views: Views = None,
    frames: FrameRange = None,
    seed: Seed = 0,
    clip_format: Annotated[ClipFormat, typer.Option("--format", help="mp4 keeps every rate exactly.")] = ClipFormat.MP4,
    purpose: For = None,
    slate: WithSlate = False,
    workers: Workers = None,
    fresh: Fresh = False,
    cluster: OnCluster = None,
    profile: Profile = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Film the shots of a scene: one clip each, captured and played back at the rates you plan.

    120 fps played back at 24 fps is five times slow, as it will be on screen. Where a run was stopped, the same command
    goes on from its last whole frame.
    """
    from previz.predictions import require_files

    if cluster is not None and workers is not None:
        raise PrevizError("--workers are processes of this machine, --cluster has others draw: leave one of them out")
    scene = previz.read_scene(scene_file, outside_files=outside_files)
    quality, kind = Quality(draft, size, views, seed), clip_format.value
    if purpose is not None and kind != "mp4":
        raise PrevizError(
            f"--for {purpose.value} says how an mp4 is encoded; a {kind} has one way to be. Leave --for or --format out"
        )
    encoded_for = (purpose or Purpose.POST).value
    with _at_its_line(scene_file):
        require_files(scene)
        takes = [take_of(scene, each, quality, frames, slate=slate, kind=kind) for each in chosen(scene, shot)]
    folder = _tried(_folder(scene_file, out))
    for take in takes:
        if take.note:
            _say_folded(f"{take.shot.id}: {take.note}")
    from previz.delivery import claimed_file
    from previz.frames import Spent

    spent, clips = Spent(), []
    with ExitStack() as held:
        paths = [folder / f"{take.shot.id}.{kind}" for take in takes]
        homes = [held.enter_context(claimed_file(path)) for path in paths]
        crew = held.enter_context(_crew_for(takes, workers, cluster))
        with _at_its_line(scene_file):
            predictions = previz.predict(scene, remedies=False)
            drawn_by = crew.drawn_by()  # before anything is uploaded there
            reels = [_reel(home, take, kind, drawn_by, fresh) for home, take in zip(homes, takes, strict=True)]
        held.enter_context(_going_on([take.shot.id for take in takes], takes, reels))
        _warn(predictions, takes, scene_file)
        stage_of = _stages(quality, crew, spent)
        for number in _setups_together(takes):
            take, path, reel = takes[number], paths[number], reels[number]
            stage = stage_of(_part(take, reel.missing[0])) if reel.missing else None

            def draw(numbers: range, take: Take = take, stage: "Stage | None" = stage) -> "Iterator[Frame]":
                assert stage is not None  # for something is missing
                part = _part(take, numbers)
                return previz.render_frames(take.scene, stage, take.shot, part.look, crew, spent if profile else None)

            with spent.on("encode"), _Film(reel.frames(draw), take, reel) as film:
                previz.deliver_clip(path, film, take.shot.playback, take.look.size, take.slate, encoded_for)
            spent.seconds["encode"] -= film.waited
            reel.finish()
            _warn_of_flashes(take, film)
            clips.append(_report(path, take, film, as_json, encoded_for))
            del stage, draw  # or two are held while the next one is built
    if profile:
        _say_all([f"{name:8} {seconds:8.2f} s" for name, seconds in spent.seconds.items()])
    if as_json:
        order = [take.shot.id for take in takes]
        _print_json({"clips": sorted(clips, key=lambda each: order.index(each["shot"]))})


def _crew_for(takes: list[Take], workers: int | None, cluster: str | None = None) -> "Crew":
    """Those who are to draw the takes: processes of this machine, or a cluster."""
    from previz.frames import Crew
    from previz.spread import cores

    if workers is not None and workers > cores():
        _say(f"--workers {workers}: this machine has {cores()} cores; more than that only take turns")
    side_by_side = workers or max(_usual_workers(take) for take in takes)
    return Crew(min(side_by_side, max(len(take.numbers) for take in takes)), cluster=cluster)


def _part(take: Take, numbers: range) -> Take:
    """Some of a take's frames."""
    return dataclasses.replace(take, numbers=numbers, look=dataclasses.replace(take.look, frames=numbers))


def _reel(home: Path, take: Take, kind: str | None, drawn_by: str, fresh: bool, among: int = 1) -> "Reel":
    """The frames of a take that a run before has left, and where this one keeps its own.

    kind: the format of the clip, or None where more than that is made of the frames. drawn_by: OpenGL's words for
    itself; another one's pictures differ in their last bits. among: how many takes are filmed side by side.
    """
    from previz.delivery import Reel, encoding_of

    encoding = encoding_of(kind) if kind is not None else None
    unmarked = dataclasses.replace(take, slate=None)  # it is put under the frames anew
    digest = digest_of(take.scene, unmarked, encoding and encoding.__name__, drawn_by)
    return Reel(home, digest, take.numbers, encoding, fresh=fresh, among=among)


@contextmanager
def _going_on(names: list[str], takes: list[Take], reels: "list[Reel]") -> Iterator[None]:
    """Says what frames are there already; and, if the run ends early, which are by then."""
    totals = [(name, len(take.numbers), reel) for name, take, reel in zip(names, takes, reels, strict=True)]
    for name, total, reel in totals:
        if reel.there:
            _say(f"{name}: goes on: {len(reel.there)} of {total} frames are there (--fresh draws them anew)")
    with ExitStack() as open_until_done:
        for reel in reels:
            open_until_done.enter_context(reel)
        try:
            yield
        except BaseException:
            for name, total, reel in totals:
                if reel.kept:
                    left_out = f" (no more: {reel.given_up})" if reel.given_up else ""
                    _say_folded(
                        f"{name}: {reel.kept} of {total} frames are kept{left_out}; the same command goes on from there"
                    )
            raise


def _setups_together(takes: Sequence[Take]) -> list[int]:
    """The numbers of takes in an order in which those of one setup stand together."""
    first: dict[int, int] = {}
    for number, take in enumerate(takes):
        first.setdefault(id(take.scene), number)
    return sorted(range(len(takes)), key=lambda number: first[id(takes[number].scene)])


def _stages(quality: Quality, crew: "Crew", spent: "Spent | None" = None) -> "Callable[[Take], Stage]":
    """Gives the stage of a take, built and lit when it is first asked for. It holds one: ask for those of a setup
    together, and it is built once."""
    held: list[tuple[previz.Scene, Stage]] = []

    def stage_of(take: Take) -> "Stage":
        if not held or held[0][0] is not take.scene:
            held.clear()
            with spent.on("bake") if spent is not None else nullcontext():
                held.append((take.scene, _staged(quality, crew, take)))
        return held[0][1]

    return stage_of


def _on_their_stages(takes: Sequence[Take], quality: Quality, crew: "Crew") -> "Iterator[tuple[Take, Stage]]":
    """The takes with their stages, those before one setup together."""
    stage_of = _stages(quality, crew)
    for number in _setups_together(takes):
        yield takes[number], stage_of(takes[number])


def _staged(quality: Quality, crew: "Crew", first: Take) -> "Stage":
    """The stage of a take, lit; meanwhile the crew gets ready for it."""
    with building(_say) as tell:
        ready = partial(crew.get_ready, first.scene, first.shot, first.look)
        return previz.build_stage(first.scene, quality.effort, progress=tell, elsewhere=crew.do, built=ready)


def _usual_workers(take: Take) -> int:
    """One a core, four at most (each holds the whole set); one where starting more would cost more than it saves."""
    from previz.spread import cores

    return min(cores(), 4) if len(take.numbers) >= 24 else 1


@app.command(
    short_help="Join the shots into one clip, with its cut list, contact sheet and page.",
    epilog=_examples("previz cut my_shot.yaml --draft", "previz cut my_shot.yaml --slate --start-timecode 10:00:00:00"),
)
def cut(
    scene_file: SceneFile,
    out: Out = None,
    draft: Draft = False,
    size: Size = None,
    views: Views = None,
    seed: Seed = 0,
    purpose: For = None,
    slate: WithSlate = False,
    sound: SoundFile = None,
    start_timecode: StartTimecode = None,
    page_size: PageSize = "25 MB",
    workers: Workers = None,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Join the shots into one clip, in the order that the scene's sequence gives, at the rate at which they play.

    Each shot is filmed without loss and kept; it is filmed again only when something that it shows has changed. With
    the clip come a cut list (CSV and OpenTimelineIO), a contact sheet, and a page to send.
    """
    from previz.delivery import CUT_NAME, SHOTS_FOLDER, claimed_file, deliver_cut, length_of, require_wav
    from previz.predictions import require_files

    limit = bytes_of(page_size, "--page-size")
    scene = previz.read_scene(scene_file, outside_files=outside_files)
    quality = Quality(draft, size, views, seed)
    with _at_its_line(scene_file):
        require_files(scene)
        plan = cut_plan(scene, quality, start_timecode)
        predictions = previz.predict(scene)
        between = _between_shots(scene, predictions)
    heard = sound if sound is not None else scene.folder / scene.sound if scene.sound is not None else None
    if heard is not None:
        require_wav(heard)
    folder = _tried(_folder(scene_file, out, "cut"))
    _warn(predictions, [part.take for part in plan.parts.values()], scene_file, ("stop",))
    with claimed_file(folder / CUT_NAME):
        kept = {shot: part.kept(folder / SHOTS_FOLDER) for shot, part in plan.parts.items()}
        films = {shot: film for shot, film in kept.items() if film is not None}
        fresh = {shot: part for shot, part in plan.parts.items() if shot not in films}
        if films:
            _say_folded(f"as they were when last filmed: {', '.join(films)}")
        films |= _filmed(fresh, quality, folder / SHOTS_FOLDER, workers)
        with progress("the cut", plan.events[-1].ends, _say) as advance:
            written = deliver_cut(
                folder, scene, plan.stretches(films, slates=slate), plan.clock, predictions, between,
                purpose=(purpose or Purpose.POST).value, sound=heard, limit=limit, advance=advance,
            )  # fmt: skip
    if written.warning:
        _say_folded(f"watch: {written.warning}")
    _tell_cut(plan, written, [*fresh], length_of(plan.events, plan.rate), as_json, purpose)


def _filmed(parts: Mapping[str, Part], quality: Quality, folder: Path, workers: int | None) -> "dict[str, KeptShot]":
    """Film shots and keep them."""
    from previz.delivery import keep_shot

    films: dict[str, KeptShot] = {}
    if not parts:
        return films
    takes = [part.take for part in parts.values()]
    with _crew_for(takes, workers) as crew:
        for take, stage in _on_their_stages(takes, quality, crew):
            shot, part = take.shot, parts[take.shot.id]
            with _Film(previz.render_frames(take.scene, stage, shot, take.look, crew), take) as film:
                films[shot.id] = keep_shot(
                    folder, part.name, part.digest, film, take.numbers, take.look.size, shot.playback
                )
            del stage  # or two are held while the next one is built
    return films


def _tell_cut(
    plan: CutPlan, written: "CutWritten", filmed: Sequence[str], length: str, as_json: bool, purpose: Purpose | None
) -> None:
    from previz.doctor import size_text

    page = written.page
    if as_json:
        files = {kind: {"file": str(path), "bytes": path.stat().st_size} for kind, path in written.files.items()}
        _print_json(
            {
                "files": files,
                "page": _page_data(page),
                "frames": plan.events[-1].ends,
                "playback": str(plan.rate),
                "start_timecode": plan.clock.label(0),
                "size": written.size,
                "sound": written.sound,
                "filmed": filmed,
                "flashes": written.flashes.worst,
                "events": [dataclasses.asdict(row) for row in written.rows],
            }
        )
    else:
        for row in written.rows:
            where = f"{row.cut_in}  " if row.cut_in else ""
            how = f", dissolves in over {row.dissolve} frames" if row.dissolve else ""
            _print(f"{row.number:3}  {where}{row.shot:16} {row.seconds:7.2f} s{how}")
        _print(f"{length}, sound: {written.sound}")
        for path in written.files.values():
            _print(f"{path}: {size_text(path.stat().st_size)}")
        kept = sum(film.stat().st_size for film in written.films)
        _print(f"{written.films[0].parent}: {size_text(kept)}, the shots without loss, for the next cut")
    if isinstance(page, Path):
        if not as_json:
            _print(f"{page}: {size_text(page.stat().st_size)}, opens in any browser")
        return
    smaller = "--for message, or " if purpose is not Purpose.MESSAGE else ""
    _say_folded(
        f"no page: it would be {size_text(page.size)}, more than {size_text(page.limit)}. Nothing is filmed again with "
        f"{smaller}--page-size {math.ceil(page.size / 1e6)}MB"
    )
    raise typer.Exit(1)


@app.command(
    short_help="Take one frame of a shot as a PNG.",
    epilog=_examples("previz still my_shot.yaml --draft", "previz still my_shot.yaml --shot pass --at '1.1 s' --slate"),
)
def still(
    scene_file: SceneFile,
    shot: ShotId = None,
    at: At = None,
    out: StillOut = None,
    draft: Draft = False,
    size: Size = None,
    views: Views = None,
    seed: Seed = 0,
    slate: WithSlate = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Take one frame of a shot as a PNG; of the first shot unless another is named."""
    from previz.frames import Crew
    from previz.predictions import require_files

    with Crew(1, apart=True) as crew:  # it gets ready to draw while the scene is read and the set built
        scene = previz.read_scene(scene_file, outside_files=outside_files)
        quality, wanted = Quality(draft, size, views, seed), chosen(scene, shot)[0]
        with _at_its_line(scene_file):
            require_files(scene)
            number = frame_at(scene, wanted, at)
            take = take_of(scene, wanted, quality, f"{number}:{number + 1}", slate=slate, kind="png")
        if out is not None and out.suffix.lower() == ".png" and not out.is_dir():
            path = _tried(out.parent) / out.name
        else:
            path = _tried(_folder(scene_file, out)) / f"{wanted.id}-{number:04}.png"
        with _at_its_line(scene_file):
            predictions = previz.predict(scene, remedies=False)
        _warn(predictions, [take], scene_file, ("stop",))
        stage = _staged(quality, crew, take)
        with _Film(previz.render_frames(take.scene, stage, take.shot, take.look, crew), take) as film:
            for frame in film:
                previz.deliver_still(path, frame, take.slate)
    report = _report(path, take, film, as_json)
    if as_json:
        _print_json({"stills": [report]})


@app.command(
    short_help="Put cameras, or one thing varied, side by side.",
    epilog=_examples(
        "previz compare my_shot.yaml --cameras pocket,phone --draft",
        "previz compare my_shot.yaml --vary f_number=2.8,5.6,11 --draft",
    ),
)
def compare(
    scene_file: SceneFile,
    shot: ShotId = None,
    cameras: Cameras = None,
    vary: Vary = None,
    framing: ByFraming = Framing.PLACE,
    stop: ByStop = Stop.SAME,
    at: At = None,
    out: Out = None,
    draft: Draft = False,
    size: Size = None,
    views: Views = None,
    frames: FrameRange = None,
    seed: Seed = 0,
    purpose: For = None,
    page_size: PageSize = "25 MB",
    fresh: Fresh = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Put cameras, or one thing varied, side by side: a clip, a still sheet, the numbers, and a page to send.

    The light is baked once. Each camera comes as near to the shot as it can, and its panel says where that differs.
    One that can do nothing near is left out, and you are told what would make it possible.
    """
    limit = bytes_of(page_size, "--page-size")
    with _at_its_line(scene_file):
        comparison = previz.compared(
            scene_file, shot, cameras=[name.strip() for name in cameras.split(",")] if cameras else None,
            vary=vary or (), framing=framing.value, stop=stop.value, outside_files=outside_files,
        )  # fmt: skip
    folder = _folder(scene_file, out, "side_by_side")
    quality = Quality(draft, size, views, seed)
    written, page = _side_by_side(
        comparison, folder, quality, frames, at, purpose=(purpose or Purpose.POST).value, limit=limit, fresh=fresh
    )
    _tell_comparison(comparison, written, page, as_json, purpose)


def _side_by_side(
    comparison: "Comparison",
    folder: Path,
    quality: Quality,
    frames: str | None = None,
    at: str | None = None,
    *,
    purpose: str,
    limit: int,
    fresh: bool = False,
) -> "tuple[dict[str, Path], Path | TooLarge]":
    """Draw a comparison's panels and write all there is of it into a folder."""
    takes = [
        take_of(panel.scene, panel.shot, quality, frames, counted_at=comparison.shot.capture.rate)
        for panel in comparison.panels
    ]
    moment = kept_frame(takes[0].scene, takes[0], at)
    from previz.delivery import CLIP_NAME, claimed_file
    from previz.frames import gl_description

    with claimed_file(_tried(folder) / CLIP_NAME) as home:
        drawn_by, panels = gl_description(), comparison.panels
        reels = [_reel(home, take, None, drawn_by, fresh, len(takes)) for take in takes]
        with _going_on([panel.name for panel in panels], takes, reels):
            _warn_before_comparing(comparison)
            stages: list[Stage] = []
            if any(reel.missing for reel in reels):
                with building(_say) as tell:
                    stages += [
                        previz.build_stage(panel.scene, quality.effort, progress=tell) for panel in comparison.staged
                    ]
            with progress("side by side", max(len(take.numbers) for take in takes), _say) as advance:
                films = _films(comparison, stages, takes, reels, advance)
                above = _from_above(comparison)
                written = previz.deliver_comparison(folder, comparison, films, moment, purpose, above)
            for reel in reels:
                reel.finish()
        return written, previz.deliver_page(folder, limit=limit)


def _from_above(comparison: "Comparison") -> bytes | None:
    """The set with every panel's camera, as a PNG for the page."""
    from previz.paper import figure_of, png_of

    drawing = figure_of([(each.name, each.scene, each.shot, each.predictions) for each in comparison.panels])
    return png_of(drawing) if drawing is not None else None


@app.command(
    short_help="Write a comparison's page once more, smaller or larger.",
    epilog=_examples(
        "previz page outputs/my_shot/side_by_side --for message",
        "previz page outputs/my_shot/side_by_side --page-size 40MB",
    ),
)
def page(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where `previz compare` wrote.")],
    purpose: Annotated[
        Purpose | None, typer.Option("--for", help="Encode the page's clip for this; as it is unless given.")
    ] = None,
    page_size: PageSize = "25 MB",
    as_json: AsJson = False,
) -> None:
    """Write a comparison's page once more from what lies in its folder. Nothing is rendered."""
    from previz.delivery import CLIP_NAME, claimed_file

    limit = bytes_of(page_size, "--page-size")
    with claimed_file(folder / CLIP_NAME) if folder.is_dir() else nullcontext():
        found = previz.deliver_page(folder, limit=limit, purpose=purpose.value if purpose else None)
    if as_json:
        _print_json({"page": _page_data(found)})
    _tell_page(folder, found, as_json, purpose)


@app.command(
    short_help="Work out whether the shots will work, without rendering.",
    epilog=_examples("previz check my_shot.yaml", "previz check my_shot.yaml --shot pass --all"),
)
def check(
    scene_file: SceneFile,
    shot: ShotId = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Also every figure, what they mean, and what is fine.")
    ] = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Work out whether the shots will work: focus, apparent scale, time, launch, light and framing. Nothing is drawn.

    `stop` will not work as planned, `watch` may cost you the look; each says what to change. Below stand the dozen
    figures to set up by, what tears shots apart that are cut to each other, and precautions.
    """
    scene = previz.read_scene(scene_file, outside_files=outside_files)
    wanted = {each.id for each in chosen(scene, shot)}
    with _at_its_line(scene_file):
        predictions = previz.predict(scene)
        between = _between_shots(scene, predictions) if shot is None else ()
    findings = [finding for finding in predictions.findings if finding.concerns(wanted)]
    weighed = tuple(each for each in predictions.compromises if each.shot in wanted)
    if as_json:
        kept = [each for each in predictions.shots if each.shot in wanted]
        told = dataclasses.replace(predictions, shots=tuple(kept), findings=tuple(findings), compromises=weighed)
        _print_json({**plain(told), "between": plain(between)})
    else:
        shots = [each.id for each in scene.shots if each.id in wanted]
        _print("\n".join(check_lines(scene, predictions, shots, everything, between)))
        _say(f"(previz plan {shlex.quote(str(scene_file))} draws it to build and shoot by)")
    if any(finding.verdict == "stop" for finding in (*findings, *between)):
        raise typer.Exit(1)


def _between_shots(scene: "previz.Scene", predictions: "Predictions") -> "tuple[Between, ...]":
    """What holds the cut together; nothing where one of its shots cannot be, for its finding says why."""
    from previz.continuity import continuity
    from previz.sequence import running_order

    try:
        return continuity(running_order(scene), predictions, ordered=scene.sequence is not None)
    except ShotFault:
        return ()


@app.command(
    short_help="Order the setups so that least is moved, and say how long an evening takes.",
    epilog=_examples("previz evening my_shot.yaml", "previz evening my_shot.yaml --json"),
)
def evening(scene_file: SceneFile, outside_files: OutsideFiles = False, as_json: AsJson = False) -> None:
    """Order the setups so that least is moved between them, with the marks of all that is; and say how long it takes.

    It goes by how long moves and takes last, which the scene's evening says and else is assumed, and by how alike
    launches are. previz plan prints the moves on a sheet.
    """
    from previz.evening import evening_of
    from previz.predictions import cautions_of_all, require_files

    scene = previz.read_scene(scene_file, outside_files=outside_files)
    with _at_its_line(scene_file):
        require_files(scene)
        found = evening_of(scene)
    if as_json:
        _print_json({**plain(found), "assumed": found.assumed.model_dump()})
    else:
        _print("\n".join([*evening_lines(scene, found), "", *caution_lines(cautions_of_all(scene))]))


@app.command(
    short_help="Show a shot anew at every save of its scene.",
    epilog=_examples(
        "previz watch my_shot.yaml",
        "previz watch my_shot.yaml --shot pass --at '0.9 s' --out picture.png",
    ),
)
def watch(
    scene_file: SceneFile,
    shot: BeginShot = None,
    at: At = None,
    out: PictureOut = None,
    size: DraftSize = None,
    seed: Seed = 0,
    outside_files: OutsideFiles = False,
) -> None:
    """Show a shot while you write its scene: at every save what will not work, a draft, and then a small clip.

    The address that it prints is of a page on this machine alone. There a shot and a time are chosen. What is wrong
    with the file stands over the last good picture, with its line. Ctrl-C ends it.
    """
    from previz.watching import Asked, Wish, watch_scene

    if out is not None:
        if out.suffix != ".png":
            raise PrevizError(f"--out {out}: a picture is a png; let its name end in .png")
        _tried(out.parent)
    wish = Wish(shot, time_of(at) if at is not None else None)
    _wish_can_be(scene_file, wish.shot, outside_files)
    asked = Asked(scene_file, wish, Quality(True, size, seed=seed), out, outside_files)
    try:
        with _interrupts_heard():
            watch_scene(asked, _say)
    except KeyboardInterrupt:
        _say("ended")


def _wish_can_be(scene_file: Path, shot: str | None, outside_files: bool) -> None:
    """Refuse a shot that is not there; what is wrong with the file is told later, and seen to be mended."""
    with suppress(SceneErrors):
        chosen(previz.read_scene(scene_file, outside_files=outside_files), shot)


@app.command(
    short_help="Draw the plan to build and shoot by: views to scale, setup cards, lists.",
    epilog=_examples("previz plan scenes/quay_lorry.yaml", "previz plan scenes/quay_lorry.yaml --paper letter --png"),
)
def plan(
    scene_file: SceneFile,
    shot: ShotId = None,
    paper: OnPaper = PaperName.A4,
    out: Out = None,
    png: AlsoPng = False,
    svg: AlsoSvg = False,
    no_stills: WithoutStills = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Draw what hangs beside the table, as one PDF at true scale: for each shot the plan from above, the side view and
    its setup card; then what to build, the lamps, what to take care of, and a log of takes.

    Places are from the table's front left corner, in the unit that most of the scene is written in.
    """
    from previz.delivery import deliver_files
    from previz.frames import Crew
    from previz.paper import PAPERS, pdf_of, plan_sheets, png_of, svg_of

    with Crew(1, apart=True) as crew:
        scene = previz.read_scene(scene_file, outside_files=outside_files)
        shots = chosen(scene, shot)
        folder = _tried(_folder(scene_file, out))
        with _at_its_line(scene_file):
            predictions = previz.predict(scene)
        stills = {} if no_stills else _card_stills(scene, shots, crew)
    with _at_its_line(scene_file):
        sheets = plan_sheets(scene, predictions, shots, paper=PAPERS[paper.value], stills=stills, file=scene_file.name)
    files = {folder / "plan.pdf": pdf_of(sheets, scene.title)}
    for kind, wanted, written in (("png", png, png_of), ("svg", svg, svg_of)):
        files |= {folder / f"{each.name}.{kind}": written(each) for each in sheets if wanted}
    deliver_files(files)
    _tell_plan(files, sheets, as_json)


def _card_stills(scene: "previz.Scene", shots: "tuple[previz.Shot, ...]", crew: "Crew") -> dict[str, Any]:
    """A small picture of each shot for its card; of one that cannot be drawn none, and why is said."""
    from previz.delivery import still_picture

    quality, takes = Quality(draft=True, size=CARD_WIDTH), []
    for each in shots:
        number = frame_at(scene, each, None)
        try:
            takes.append(take_of(scene, each, quality, f"{number}:{number + 1}", kind="png"))
        except (ShotFault, MachineError) as error:
            _say(f"{each.id}: no picture on its card: {error}")
    stills = {}
    for take, stage in _on_their_stages(takes, quality, crew):
        for frame in previz.render_frames(take.scene, stage, take.shot, take.look, crew):
            stills[take.shot.id] = still_picture(frame)
        del stage  # or two are held while the next one is built
    return stills


@app.command(
    "print",
    short_help="Print parts of the set at life size, on pages to join or large sheets.",
    epilog=_examples(
        "previz print scenes/quay_lorry.yaml",
        "previz print scenes/quay_lorry.yaml --paper letter --only road --only cards",
    ),
)
def print_at_life_size(
    scene_file: SceneFile,
    shot: ShotId = None,
    paper: TilePaper = PaperName.A4,
    only: OnlyParts = None,
    poster: AsPoster = False,
    out: Out = None,
    png: AlsoPng = False,
    svg: AlsoSvg = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Print parts of the set at life size, as one PDF: the ground plan to lay on the table, the road surface to cut, a
    painting guide of the backdrop, faces of signs, cards and house fronts; an index in front, and which sheets of card
    to buy.

    Print it at 100 %, not fitted to the page, and measure the line of 100 mm on every page before you cut. Where shots
    change the set, it is printed as it stands for the first, or for --shot.
    """
    from previz.delivery import deliver_files
    from previz.paper import PAPERS, pdf_of, png_of, prints_of, svg_of
    from previz.predictions import require_files
    from previz.scene import as_set_up

    whole = previz.read_scene(scene_file, outside_files=outside_files)
    scene = as_set_up(whole, chosen(whole, shot)[0])
    folder = _tried(_folder(scene_file, out))
    if len(scene.shots) < len(whole.shots):
        _say_folded(f"as it is set up for {', '.join(each.id for each in scene.shots)}; --shot prints another setup")
    with _at_its_line(scene_file):
        require_files(whole)
        prints = prints_of(scene, PAPERS[paper.value], [each.value for each in only or ()], poster=poster)
    name = "poster" if poster else "print"
    files = {folder / f"{name}.pdf": pdf_of(prints.sheets, scene.title)}
    for kind, wanted, written in (("png", png, png_of), ("svg", svg, svg_of)):
        files |= {folder / f"{name}-{_file_name(each.name)}.{kind}": written(each) for each in prints.sheets if wanted}
    deliver_files(files)
    _tell_prints(files, prints, as_json)


def _file_name(sheet: str) -> str:
    """A sheet's name without what a file's cannot have: `hoarding/2 A1`."""
    return sheet.replace("/", "-").replace(" ", "-")


def _tell_prints(files: Mapping[Path, bytes], prints: "Prints", as_json: bool) -> None:
    bought = {ways[0].material: ways[0] for ways in prints.stocks}
    if as_json:
        written = [{"file": str(path), "bytes": len(data)} for path, data in files.items()]
        to_buy = {
            material: {"sheet": stock.sheet, "count": stock.count, "joins": len(stock.joins), "left_over": stock.waste}
            for material, stock in bought.items()
        }
        _print_json({"files": written, "parts": dict(prints.told), "to_buy": to_buy})
        return
    for part, what in prints.told:
        _print(f"{part}: {what}")
    for material, stock in bought.items():
        _print(f"to buy, {material}: {stock.words}")
    _tell_plan(files, prints.sheets, as_json)
    _say("print it at 100 %, and measure the line of 100 mm on a page before you cut")


def _tell_plan(files: Mapping[Path, bytes], sheets: "Sequence[Sheet]", as_json: bool) -> None:
    from previz.doctor import size_text

    if as_json:
        written = [{"file": str(path), "bytes": len(data)} for path, data in files.items()]
        _print_json({"files": written, "sheets": [sheet.name for sheet in sheets]})
        return
    for path, data in files.items():
        pages = f"{len(sheets)} pages, " if path.suffix == ".pdf" else ""
        _print(f"{path}: {pages}{size_text(len(data))}")


@app.command(
    short_help="Say what the best shots are that your kit can make.",
    epilog=_examples(
        "previz advise my_shot.yaml",
        "previz advise my_shot.yaml --apply 2 --out better.yaml",
        "previz advise my_shot.yaml --compare --draft",
    ),
)
def advise(
    scene_file: SceneFile,
    shot: ShotId = None,
    plans: Plans = 3,
    apply: Apply = None,
    out: NewFile = None,
    compare_plans: ComparePlans = False,
    draft: Draft = False,
    force: Overwrite = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Say what the best shots are that your kit can make, by what the scene wants and what it says may change.

    Every plan was tried and checked: what to set, what to measure, what comes of it, and what holds it back. Nothing
    is changed unless you ask for a plan with --apply.
    """
    from previz import advice
    from previz.predictions import require_files

    scene = previz.read_scene(scene_file, outside_files=outside_files)
    shots = chosen(scene, shot)
    if out is not None and apply is None:
        raise PrevizError("--out names the file that --apply writes; say which plan, like --apply 1")
    if (apply or compare_plans) and len(shots) > 1:
        names = ", ".join(each.id for each in shots)
        raise PrevizError(f"plans are for one shot; name it with --shot: the scene has {names}")
    target = _applied_file(scene, scene_file, shot, apply, out, force=force) if apply else None
    if compare_plans:
        _tried(_folder(scene_file, None) / "plans", "run it in a folder that you may write to")
    with _at_its_line(scene_file):
        require_files(scene)
        found = {each.id: advice.advise(scene, each, plans) for each in shots}
    first = found[shots[0].id]
    taken = _plan_of(first, apply) if apply else None
    answer: dict[str, Any] = {"shots": {name: _advice_data(each) for name, each in found.items()}}
    if not as_json:
        lines = [advice_lines(name, each, whole=plans == 1) for name, each in found.items()]
        _print("\n\n".join(map("\n".join, lines)))
    if target is not None and taken is not None:
        _apply(scene_file, taken, target)
        answer["written"] = str(target)
        if not as_json:
            _print(f"\n{target}: the scene with plan {apply}")
    if compare_plans:
        if not as_json:
            _print("")
        answer |= _draw_plans(scene_file, scene, shots[0], first, Quality(draft), as_json)
    if as_json:
        _print_json(answer)
    elif target is None and not compare_plans and first.plans:
        name = shlex.quote(str(scene_file)) + (f" --shot {shlex.quote(shots[0].id)}" if shot or len(shots) > 1 else "")
        # A plan that check stops is not one to go on with.
        next_ones = ["--compare --draft"] if _stopped(first) else ["--apply 1", "--compare --draft"]
        _say_all([f"previz advise {name} {each}" for each in next_ones])
    if any(map(_falls_short, found.values())) or answer.get("page", {"file": ""})["file"] is None:
        raise typer.Exit(1)


def _draw_plans(
    scene_file: Path, scene: "previz.Scene", shot: "previz.Shot", advice: "Advice", quality: Quality, as_json: bool
) -> dict[str, Any]:
    """Draw a shot and its plans side by side; returns what was written, as data."""
    comparison = _compared_plans(scene, shot, advice)
    folder = _folder(scene_file, None) / "plans"
    limit = bytes_of(_PAGE_SIZE, "--page-size")
    written, page = _side_by_side(comparison, folder, quality, purpose=Purpose.POST.value, limit=limit)
    if not as_json:
        _tell_comparison(comparison, written, page, as_json=False, purpose=None)
    return _comparison_data(written, page)


#: Of a page where nothing else was asked for: what fits into a mail.
_PAGE_SIZE = "25 MB"


def _falls_short(advice: "Advice") -> bool:
    """Whether no plan works, or none does all that must be."""
    return not advice.plans or advice.relaxed is not None or _stopped(advice)


def _stopped(advice: "Advice") -> bool:
    """Whether check stops even the best plan."""
    return any(finding.verdict == "stop" for finding in advice.plans[0].findings)


def _plan_of(advice: "Advice", number: int) -> "Plan":
    if number > len(advice.plans):
        count = len(advice.plans)
        there = f"there {'is one plan' if count == 1 else f'are {count} plans'}" if count else "there is no plan"
        raise PrevizError(f"--apply {number}: {there} for this shot")
    return advice.plans[number - 1]


def _applied_file(
    scene: "previz.Scene", scene_file: Path, shot: str | None, apply: int, out: Path | None, *, force: bool
) -> Path:
    """The scene file to write, once it is known that nothing is lost by it and what it names is found from there."""
    from previz.starters import named_files

    stem = scene_file.stem + (f"_{shot}" if shot and len(scene.shots) > 1 else "")
    target = out if out is not None else scene_file.with_name(f"{stem}_plan{apply}{scene_file.suffix}")
    if not force and target.exists():
        raise PrevizError(f"{target} is there already; choose another name with --out, or write over it with --force")
    named = named_files(scene)
    if named and target.absolute().parent != scene_file.absolute().parent:
        raise PrevizError(
            f"--out {target}: the scene names {named[0]}, which is looked for beside it; choose a name in "
            f"{scene_file.parent}"
        )
    _tried(target.parent)
    return target


def _apply(scene_file: Path, plan: "Plan", target: Path) -> None:
    from previz.delivery import deliver_files
    from previz.scene import edited

    text = scene_file.read_bytes().decode("utf-8")
    try:
        new = edited(text, {change.key: change.value for change in plan.changes})
    except PrevizError as error:
        raise PrevizError(f"{scene_file}: {error}") from None
    deliver_files({target: new.encode("utf-8")})


def _compared_plans(scene: "previz.Scene", shot: "previz.Shot", advice: "Advice") -> "Comparison":
    from previz.delivery import ways_side_by_side
    from previz.predictions import Difference

    if not advice.plans:
        raise PrevizError(f"there is no plan for {shot.id} to compare")
    ways = [
        (
            f"plan {number}, {plan.shot.camera}",
            plan.scene,
            plan.shot,
            tuple(Difference("want", met.value, f"misses {met.words}: {met.shown}") for met in plan.misses),
        )
        for number, plan in enumerate(advice.plans, start=1)
    ]
    return ways_side_by_side(scene, shot, ways, ("the shot as it is written, and the best that may be made of it",))


def _advice_data(advice: "Advice") -> dict[str, Any]:
    """Advice for other programs, in SI; what is set and measured also as it is told."""
    named = ("changes", "settings", "marks", "meets", "misses", "findings", "binds")
    plans = [
        {**{name: plain(getattr(plan, name)) for name in named}, "shot": plan.shot.model_dump()}
        for plan in advice.plans
    ]
    return {"plans": plans, "relaxed": plain(advice.relaxed), "lost": plain(advice.lost)}


@app.command(
    short_help="Write a first scene to change: your table, scale and cameras.",
    epilog=_examples(
        "previz new my_shot.yaml --start towards --table 140x70cm --scale 1:43 --camera phone",
        "previz new my_quay.yaml --like scenes/quay_lorry.yaml",
    ),
)
def new(
    file: NewScene,
    start: Start = None,
    table: TableSize = None,
    scale: ModelScale = None,
    body: BodyName = None,
    camera: OwnCameras = None,
    unit: BareUnit = None,
    like: LikeScene = None,
    force: Overwrite = False,
) -> None:
    """Write a short scene that renders at once, fitted to your table, for you to change.

    On a terminal it asks for what is not given. It writes over nothing that is there, unless told to.
    """
    from previz.delivery import deliver_files
    from previz.scene import schema_text
    from previz.starters import starting_scene

    said = (start, table, scale, body, camera, unit)
    if like is not None and any(each is not None for each in said):
        raise PrevizError("--like copies a scene as it is; take the other options out, or --like")
    if not force:
        _refuse_to_overwrite({file: b""})  # before anything is asked
    _tried(file.parent, "give the scene a name in a folder that you may write to")
    written = _copies(file, like) if like is not None else {file: starting_scene(_wish(*said)).encode()}
    schema_file = file.with_name("scene.schema.json")
    if b"$schema=scene.schema.json" in written[file]:
        written.setdefault(schema_file, schema_text().encode())
    if not force:
        _refuse_to_overwrite(written, ours={schema_file})
    deliver_files(written)
    scene = previz.read_scene(file)
    for each in written:
        _print(each)
    for finding in previz.predict(scene).findings:
        if finding.verdict == "stop":
            place = f"{finding.shot}: " if finding.shot else ""
            _say_folded(f"stop: {place}{finding.message} {finding.remedy}".rstrip())
    name = shlex.quote(str(file))
    _say_all([f"previz check {name}", f"previz render {name} --draft"])


def _wish(
    start: str | None,
    table: str | None,
    scale: str | None,
    body: str | None,
    cameras: list[str] | None,
    unit: str | None,
) -> "Wish":
    """What a maker wants of a first scene: as given, else asked for on a terminal, else as it usually is."""
    from previz.scene import BARE_UNITS, VEHICLE_SIZES, choose_from
    from previz.starters import STARTS, TYPICAL, Wish, camera_text, table_of

    def asked(given: str | None, question: str, usual: str, choices: Iterable[str] = ()) -> str:
        if given is None and _on_a_terminal():
            given = typer.prompt(f"{question} ({', '.join(choices)})" if choices else question, default=usual)
        given = usual if given is None else given.strip()
        if choices and given not in choices:
            raise PrevizError(choose_from(given, choices, f"a choice of {question.lower()}"))
        return given

    begins = asked(start, "Starting point", "pass", STARTS)
    if unit is not None and unit not in BARE_UNITS:
        raise PrevizError(choose_from(unit, BARE_UNITS, "a unit for bare lengths"))
    width, depth, tables = table_of(asked(table, "Table, width x depth", "1400x700 mm"), unit or "mm")
    sized = _scale_of(asked(scale, "Scale of your models", "1:50"))
    drives = asked(body, "What drives", "van", VEHICLE_SIZES)
    texts = cameras or [asked(None, f"Camera ({', '.join(TYPICAL)}, or yours as a scene file has it)", "pocket")]
    read = [camera_text(each) for each in texts]
    twice = {name for name, _, _ in read if [each[0] for each in read].count(name) > 1}
    if twice:
        raise PrevizError(f"--camera: {min(twice)} is given twice; give each camera a name of its own")
    return Wish(begins, (width, depth), unit or tables, sized, drives, {name: (text, cam) for name, text, cam in read})


def _scale_of(text: str) -> float:
    try:
        return units.scale_of(text)
    except units.QuantityError as error:
        raise PrevizError(str(error)) from None


def _on_a_terminal() -> bool:
    return sys.stdin.isatty() and sys.stderr.isatty()


def _copies(file: Path, like: Path) -> dict[Path, bytes]:
    """A scene and all that it needs, by where the copies go."""
    from previz.starters import files_of

    scene, *others = files_of(like)
    return {file: (like.parent / scene).read_bytes()} | {
        file.parent / each: (like.parent / each).read_bytes() for each in others
    }


def _refuse_to_overwrite(files: Mapping[Path, bytes], ours: Collection[Path] = ()) -> None:
    """What is there already stays, unless it is the same, or one of `ours` to keep fresh."""
    for path, data in files.items():
        if path.exists() and path not in ours and (path.is_dir() or path.read_bytes() != data):
            raise PrevizError(f"{path} is there already; choose another name, or write over it with --force")


@app.command(
    short_help="Say what may be written in a scene file.",
    epilog=_examples("previz keys", "previz keys shots.capture"),
)
def keys(place: KeyPlace = None) -> None:
    """Say what may be written in a scene file: the keys, their units, what holds unless they are given, an example.

    Without a PART the parts are listed.
    """
    from previz.scene import key_groups, key_places

    _print("\n".join(place_lines(key_places()) if place is None else key_lines(key_groups(place))))


@app.command(
    short_help="Print the schema with which an editor completes a scene file.",
    epilog=_examples("previz schema --out scene.schema.json", "previz schema --kit"),
)
def schema(
    out: Annotated[Path | None, typer.Option(metavar="FILE", help="Where to write; printed unless given.")] = None,
    kit: Annotated[bool, typer.Option("--kit", help="That of a kit of cameras instead.")] = False,
) -> None:
    """Print what may be written in a scene file as JSON Schema, for an editor that completes and checks YAML.

    A scene names it in a comment:

    \b
    # yaml-language-server: $schema=scene.schema.json
    """
    from previz.delivery import deliver_files
    from previz.scene import Kit, Scene, schema_text

    text = schema_text(Kit if kit else Scene)
    if out is None:
        _print(text, end="")
        return
    deliver_files({out: text.encode()})
    _say(f"{out} written")


@app.command(
    short_help="Explain a subject on one page: axes, lamps, launch, a first film.",
    epilog=_examples("previz guide", "previz guide example"),
)
def guide(topic: GuideTopic = None) -> None:
    """Explain a subject on one page. Without a TOPIC the topics are listed."""
    from previz.guide import TOPICS, guide_page, guide_titles

    if topic is None:
        _print("\n".join(f"{name:10}{title}" for name, title in guide_titles()))
        _say("(previz guide example begins at an empty table)")
        return
    if topic not in TOPICS:
        from previz.scene import choose_from

        raise PrevizError(choose_from(topic, TOPICS, "a topic of the guide"))
    _print(guide_page(topic), end="")


@app.command(
    short_help="Say what this machine offers and lacks.",
    epilog=_examples("previz doctor", "previz doctor --json"),
)
def doctor(as_json: AsJson = False) -> None:
    """Say what this machine offers for rendering and encoding, and what it lacks."""
    from previz.doctor import examine

    checks = examine()
    if as_json:
        _print_json({check.name: {"found": check.found, "works": check.works} for check in checks})
    else:
        width = max(len(check.name) for check in checks)
        for check in checks:
            _print(f"{check.name:{width}}  {'' if check.works else 'LACKS: '}{check.found}")
    if not all(check.works for check in checks):
        raise typer.Exit(1)


def _print_version(wanted: bool) -> None:
    if wanted:
        _print(f"previz {previz.__version__}")
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
    _open_the_closed()
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # a terminal may lack the letters of a file's name
    # A polite request to end is treated like Ctrl-C, so that nothing half-written is left.
    for number in _REQUESTS_TO_END:
        if signal.getsignal(number) is not signal.SIG_IGN:  # `nohup` wants a terminal's end not to be heard
            signal.signal(number, _terminated)
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _interrupted)
    try:
        app(prog_name="previz")
    finally:
        gc.freeze()  # or Python searches all of a set for garbage as it ends, which takes a fifth of a second


#: From outside, from a terminal that is closed and by Ctrl-\\, where the system has them.
_REQUESTS_TO_END = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP", "SIGQUIT") if hasattr(signal, name)]


_INTERRUPTED = Event()  # by Ctrl-C


def _interrupted(_number: int, _frame: object) -> NoReturn:
    _INTERRUPTED.set()
    raise KeyboardInterrupt


class _Stopped(SystemExit):
    """A request to end was heard."""


def _terminated(number: int, _frame: object) -> NoReturn:
    for each in _REQUESTS_TO_END:  # one is enough; another would end the clearing up
        signal.signal(each, signal.SIG_IGN)
    raise _Stopped(128 + number)


def _open_the_closed() -> None:
    """Standard streams that were closed lead nowhere: a file would take their number, and words their place."""
    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # the lowest number that is free
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(number, mode, closefd=False))


def _refuse_to_work_nowhere() -> None:
    try:
        Path.cwd()
    except OSError:
        raise PrevizError("the folder that this runs in is no longer there; change to another one with cd") from None


#: Endings of files; a folder of such a name is a slip.
_FILES_END = {".png", ".jpg", ".mp4", ".gif", ".webp", ".pdf", ".svg", ".html", ".csv", ".otio"}


def _folder(scene_file: Path, out: Path | None, own: str = "") -> Path:
    """Where a command writes: the folder that is named, or one of its own among the scene's outputs."""
    if out is None:
        return Path("outputs", scene_file.stem, own)
    if out.suffix.lower() in _FILES_END and not out.is_dir():
        raise PrevizError(f"--out {out}: a folder is named here, and this is a file's name; leave out {out.suffix}")
    return out


def _tried(folder: Path, *cure: str) -> Path:
    """The folder, once it is known that it can be written to: before any waiting. cure: what to do, if not --out."""
    from previz.delivery import try_folder

    try_folder(folder, *cure)
    return folder


@contextmanager
def _at_its_line(scene_file: Path) -> Iterator[None]:
    """Tell what a shot asks that cannot be, and which file cannot be used, by the line that says so."""
    try:
        yield
    except (FileFault, ShotFault) as fault:
        from previz.scene import at_its_line

        raise at_its_line(scene_file, fault) from None


# --- what is said ---


class _Film:
    """The frames of a take on their way to delivery, counted aloud.

    A context: however delivery ends, drawing is ended and the progress taken off the terminal before anything else is
    said.
    """

    def __init__(self, frames: "Iterator[Frame]", take: Take, reel: "Reel | None" = None) -> None:
        self._frames, self._take, self._reel, self._open = frames, take, reel, ExitStack()
        self.count = 0
        self.waited = 0.0  # for frames [s]
        self.facts: Facts | None = None
        self.cells: list[Any] = []  # of every frame, a few hundred numbers each

    def __enter__(self) -> "_Film":
        self._advance = self._open.enter_context(progress(self._take.shot.id, len(self._take.numbers), _say))
        if isinstance(self._frames, Generator):
            self._open.callback(self._frames.close)
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def __iter__(self) -> "Iterator[Frame]":
        from previz.physics.flashes import cells_of

        asked = time.perf_counter()
        for frame in self._frames:
            self.waited += time.perf_counter() - asked
            self.count, self.facts = self.count + 1, frame.facts
            known = getattr(frame, "cells", None)  # of one that a run before has kept
            self.cells.append(known if known is not None else cells_of(frame.linear))
            if self._reel is not None:
                self._reel.keep(frame, self.cells[-1])
            yield frame
            self._advance(self.count)
            asked = time.perf_counter()


def _warn_of_flashes(take: Take, film: _Film) -> None:
    """More than three flashes in any one second can harm viewers."""
    from previz.physics.flashes import flashes_in_a_second

    found = flashes_in_a_second(film.cells, float(take.shot.playback))
    if found.too_many:
        _say_folded(
            f"watch: {take.shot.id}: the clip flashes {found.worst:g} times in one second, over up to "
            f"{found.share:.0%} of a 10 degree field of view; more than 3 can harm people with photosensitive "
            "epilepsy (WCAG 2.2). Steady the light, play it back slower, or warn viewers"
        )


def _report(path: Path, take: Take, film: _Film, as_json: bool, purpose: str = "post") -> dict[str, Any]:
    """Name what was written; returns the same as data."""
    from previz.delivery import clip_size
    from previz.doctor import size_text

    assert film.facts is not None  # a clip without frames is never written
    size = path.stat().st_size
    width, height = clip_size(path.suffix.removeprefix("."), take.look.size, take.slate, purpose)
    rate, seconds = take.shot.playback, film.count / take.shot.playback
    if not as_json:
        exposed = f"{units.text_of(units.TIME, film.facts.exposure_time)}, ISO {film.facts.iso}"
        lasts = (
            f"{film.count} frames, {float(seconds):.2f} s on screen at {float(rate):.5g} fps, "
            if film.count > 1
            else ""
        )
        _print(f"{path}: {lasts}{width}x{height}, {exposed}, {size_text(size)}")
    return {
        "file": str(path),
        "bytes": size,
        "shot": take.shot.id,
        "first_frame": take.numbers.start,
        "frames": film.count,
        "playback": str(rate),
        "size": [width, height],
        "seed": take.look.seed,
        **dataclasses.asdict(film.facts),
    }


def _warn(
    predictions: "Predictions", takes: list[Take], scene_file: Path, verdicts: tuple[str, ...] = ("stop", "watch")
) -> None:
    """Before any waiting: what of these takes will not work as planned."""
    filmed = {take.shot.id for take in takes}
    findings = [each for each in predictions.findings if each.concerns(filmed) and each.verdict in verdicts]
    for finding in findings:
        _say_folded(f"{finding.verdict}: {finding.shot}{': ' if finding.shot else ''}{finding.message}")
    if findings:
        _say(f"(previz check {shlex.quote(str(scene_file))} says what to change)")


def _films(
    comparison: "Comparison",
    stages: "list[Stage]",
    takes: list[Take],
    reels: "list[Reel]",
    advance: Callable[[int], None],
) -> "list[Iterator[Frame]]":
    """Each panel's frames, drawn when asked for unless they are there; the one with most of them counts.

    Without stages where all are there.
    """

    def drawn(panel: "Panel", at: int, take: Take, numbers: range) -> "Iterator[Frame]":
        return previz.render_frames(panel.scene, stages[at], panel.shot, _part(take, numbers).look)

    by_panel = zip(comparison.panels, comparison.stage_numbers, takes, reels, strict=True)
    films = [reel.film(partial(drawn, panel, at, take)) for panel, at, take, reel in by_panel]
    longest = max(range(len(takes)), key=lambda number: len(takes[number].numbers))
    films[longest] = _counted(films[longest], advance)
    return films


def _counted(frames: "Iterator[Frame]", advance: Callable[[int], None]) -> "Iterator[Frame]":
    with ExitStack() as until_done:
        if isinstance(frames, Generator):
            until_done.callback(frames.close)
        for count, frame in enumerate(frames, start=1):
            yield frame
            advance(count)


def _warn_before_comparing(comparison: "Comparison") -> None:
    """Before any waiting: what will not be shown, what is not quite as asked, and what of it will not work."""
    for each in comparison.left_out:
        _say_folded(f"left out: {each.sentence}")
    for panel in comparison.panels:
        for difference in panel.differences:
            _say_folded(f"{panel.name}: {difference.words}")
    for panel in comparison.panels:
        for finding in panel.predictions.findings:
            if finding.verdict == "stop":
                _say_folded(f"stop: {panel.name}: {finding.message}")


def _tell_comparison(
    comparison: "Comparison", written: dict[str, Path], page: "Path | TooLarge", as_json: bool, purpose: Purpose | None
) -> None:
    """Name what was written; a page that was not is told last."""
    from previz.delivery import width_note
    from previz.doctor import size_text

    if as_json:
        numbers = json.loads(written["numbers"].read_text(encoding="utf-8"))
        _print_json({**_comparison_data(written, page), **numbers})
    else:
        width = max(len(panel.name) for panel in comparison.panels)
        for panel in comparison.panels:
            for name, text in ((panel.name, panel.summary), ("", panel.stands)):
                first, further = f"{name:{width}}  ", " " * (width + 2)
                _print(textwrap.fill(text, 80, initial_indent=first, subsequent_indent=further))
        for path in written.values():
            _print(f"{path}: {size_text(path.stat().st_size)}")
        if note := width_note(written["clip"].parent):
            _say(note)
    _tell_page(written["clip"].parent, page, as_json, purpose)


def _comparison_data(written: Mapping[str, Path], page: "Path | TooLarge") -> dict[str, Any]:
    files = {kind: {"file": str(path), "bytes": path.stat().st_size} for kind, path in written.items()}
    return {"files": files, "page": _page_data(page)}


def _page_data(found: "Path | TooLarge") -> dict[str, Any]:
    if isinstance(found, Path):
        return {"file": str(found), "bytes": found.stat().st_size}
    return {"file": None, "bytes": found.size, "limit": found.limit}


def _tell_page(folder: Path, found: "Path | TooLarge", as_json: bool, purpose: Purpose | None) -> None:
    """Name the page, or say what can be done; ends with 1 where it was not written."""
    from previz.doctor import size_text

    if isinstance(found, Path):
        if not as_json:
            _print(f"{found}: {size_text(found.stat().st_size)}, opens in any browser")
        return
    name = shlex.quote(str(folder))
    kept = f" --for {purpose.value}" if purpose is not None else ""
    smaller = f"\n  previz page {name} --for message   (a smaller clip)" if purpose is not Purpose.MESSAGE else ""
    _say(
        f"no page: it would be {size_text(found.size)}, more than {size_text(found.limit)}. Without rendering again:"
        f"{smaller}\n  previz page {name}{kept} --page-size {math.ceil(found.size / 1e6)}MB   (a larger page)"
    )
    raise typer.Exit(1)


def _say(text: str) -> None:
    with suppress(OSError):  # a terminal that is gone
        print(text, file=sys.stderr)


def _say_folded(sentence: str) -> None:
    """Said in lines as wide as the terminal, which would break them within words; in one line to what is none."""
    if not sys.stderr.isatty():
        _say(sentence)
        return
    width = max(shutil.get_terminal_size().columns - 1, 40)
    _say_all(textwrap.wrap(sentence, width, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False))


def _print(text: object, end: str = "\n") -> None:
    """What was asked for, to standard output. Raises MachineError where it cannot be written."""
    try:
        print(text, end=end, flush=True)
    except OSError as error:
        if error.errno == errno.EPIPE:
            raise  # who reads has enough
        sys.stdout = Path(os.devnull).open("w")  # noqa: SIM115 - or Python would try once more at the end
        raise MachineError(
            f"standard output cannot be written ({(error.strerror or str(error)).lower()}); send it elsewhere"
        ) from error


def _say_all(lines: list[str]) -> None:
    for line in lines:
        _say(line)


def _say_fault(text: str) -> None:
    for line in text.splitlines():
        _say_folded(line)


def _print_json(answer: object) -> None:
    _print(json.dumps(answer, indent=2, default=str))
