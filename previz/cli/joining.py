"""`previz cut`."""

import dataclasses
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

import previz
from previz.cli.comparing import page_data
from previz.cli.drawing import (
    Film,
    crew_for,
    drawer,
    going_on,
    part_of,
    reel_of,
    setups_together,
    stages_for,
    warn_of,
)
from previz.cli.places import at_its_line, folder_of, tried
from previz.cli.program import app, examples
from previz.cli.saying import print_json, print_out, say, say_folded
from previz.cutting import CutPlan, Part, cut_plan
from previz.errors import FileFault, PrevizError
from previz.options import (
    AsJson,
    Draft,
    For,
    Fresh,
    HowFine,
    Out,
    OutsideFiles,
    PageSize,
    Purpose,
    SceneFile,
    Seed,
    Size,
    SoundFile,
    StartTimecode,
    Views,
    WithSlate,
    Workers,
)
from previz.takes import (
    Quality,
    bytes_of,
)
from previz.telling import (
    progress,
)

if TYPE_CHECKING:
    from previz.delivery import CutWritten, KeptShot


@app.command(
    short_help="Join the shots into one clip, with its cut list, contact sheet and page.",
    epilog=examples("previz cut my_shot.yaml --draft", "previz cut my_shot.yaml --slate --start-timecode 10:00:00:00"),
)
def cut(
    scene_file: SceneFile,
    out: Out = None,
    draft: Draft = False,
    level: HowFine = None,
    size: Size = None,
    views: Views = None,
    seed: Seed = 0,
    purpose: For = None,
    slate: WithSlate = False,
    sound: SoundFile = None,
    start_timecode: StartTimecode = None,
    fresh: Fresh = False,
    page_size: PageSize = "25 MB",
    workers: Workers = None,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Join the shots into one clip, in the order that the scene's sequence gives, at the rate at which they play.

    Each shot is filmed without loss and kept; it is filmed again only when something that it shows has changed. Where
    a run was stopped, the same command goes on from its last whole frame. With the clip come a cut list (CSV and
    OpenTimelineIO), a contact sheet, and a page to send.
    """
    from previz.continuity import between_shots
    from previz.delivery import CUT_NAME, SHOTS_FOLDER, claimed_file, deliver_cut, length_of
    from previz.predictions import require_files

    limit = bytes_of(page_size, "--page-size")
    scene = previz.read_scene(scene_file, outside_files=outside_files)
    quality = Quality(draft, size, views, seed, level and level.value)
    with at_its_line(scene_file):
        require_files(scene)
        plan = cut_plan(scene, quality, start_timecode)
        predictions = previz.predict(scene)
        between = between_shots(scene, predictions)
    heard = sound if sound is not None else scene.folder / scene.sound if scene.sound is not None else None
    if heard is not None:
        with at_its_line(scene_file):
            _require_sound(heard, of_the_scene=sound is None)
    folder = tried(folder_of(scene_file, out, "cut"))
    warn_of(predictions, [part.take for part in plan.parts.values()], scene_file, ("stop",))
    with claimed_file(folder / CUT_NAME) as home:
        films = {} if fresh else plan.kept(folder / SHOTS_FOLDER)
        filmed = _filmed(scene_file, plan.parts, films, quality, (folder / SHOTS_FOLDER, home), workers, fresh)
        films |= filmed
        with progress("the cut", plan.events[-1].ends, say) as advance:
            written = deliver_cut(
                folder, scene, plan.stretches(films, slates=slate), plan.clock, predictions, between,
                purpose=(purpose or Purpose.POST).value, sound=heard, limit=limit, advance=advance,
            )  # fmt: skip
    if written.warning:
        say_folded(f"watch: {written.warning}")
    _tell_cut(plan, written, [*filmed], length_of(plan.events, plan.rate), as_json, purpose)


def _require_sound(heard: Path, *, of_the_scene: bool) -> None:
    """Refuse a sound that cannot be used: that of the scene at its key."""
    from previz.delivery import require_wav

    try:
        require_wav(heard)
    except PrevizError as error:
        if not of_the_scene:
            raise
        raise FileFault(("sound",), str(error)) from None


def _filmed(
    scene_file: Path,
    parts: Mapping[str, Part],
    films: "Mapping[str, KeptShot]",
    quality: Quality,
    folders: tuple[Path, Path],
    workers: int | None,
    fresh: bool,
) -> "dict[str, KeptShot]":
    """Film the shots of which there is no film, or one that another OpenGL drew than draws now, and keep them.

    folders: of the films, and of what is not finished.
    """
    from previz.delivery import keep_shot

    missing = {shot: part for shot, part in parts.items() if shot not in films}
    if not missing:
        say_folded(f"as they were when last filmed: {', '.join(films)}")
        return {}
    filmed: dict[str, KeptShot] = {}
    with crew_for([part.take for part in missing.values()], workers) as crew:
        drawn_by = crew.drawn_by()  # before anything is uploaded there
        otherwise = [shot for shot, film in films.items() if film.drawn_by != drawn_by]
        if otherwise:
            say_folded(f"filmed anew, for another OpenGL drew them: {', '.join(otherwise)}")
        if same := [shot for shot in films if shot not in otherwise]:
            say_folded(f"as they were when last filmed: {', '.join(same)}")
        takes = {shot: part.take for shot, part in parts.items() if shot in missing or shot in otherwise}
        reels = {shot: reel_of(folders[1], take, "mp4", drawn_by, fresh) for shot, take in takes.items()}
        with going_on([*takes], [*takes.values()], [*reels.values()]):
            stage_of = stages_for(scene_file, quality, crew)
            for number in setups_together([*takes.values()]):
                shot, take = [*takes.items()][number]
                part, reel = parts[shot], reels[shot]
                stage = stage_of(part_of(take, reel.missing[0])) if reel.missing else None
                with Film(reel.frames(drawer(take, stage, crew)), take, reel) as film:
                    filmed[shot] = keep_shot(
                        folders[0], part.name, part.digest, film, take.numbers, take.look.size, take.shot.playback,
                        drawn_by,
                    )  # fmt: skip
                reel.finish()
                del stage, film  # or two are held while the next one is built
    return filmed


def _tell_cut(
    plan: CutPlan, written: "CutWritten", filmed: Sequence[str], length: str, as_json: bool, purpose: Purpose | None
) -> None:
    from previz.delivery import coming_in
    from previz.doctor import size_text

    page = written.page
    if as_json:
        files = {kind: {"file": str(path), "bytes": path.stat().st_size} for kind, path in written.files.items()}
        print_json(
            {
                "files": files,
                "page": page_data(page),
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
            print_out(f"{row.number:3}  {where}{row.shot:16} {row.seconds:7.2f} s{coming_in(row)}")
        print_out(f"{length}, sound: {written.sound}")
        for path in written.files.values():
            print_out(f"{path}: {size_text(path.stat().st_size)}")
        kept = sum(film.stat().st_size for film in written.films)
        print_out(f"{written.films[0].parent}: {size_text(kept)}, the shots without loss, for the next cut")
    if isinstance(page, Path):
        if not as_json:
            print_out(f"{page}: {size_text(page.stat().st_size)}, opens in any browser")
        return
    smaller = "--for message, or " if purpose is not Purpose.MESSAGE else ""
    say_folded(
        f"no page: it would be {size_text(page.size)}, more than {size_text(page.limit)}. Nothing is filmed again with "
        f"{smaller}--page-size {math.ceil(page.size / 1e6)}MB"
    )
    raise typer.Exit(1)
