"""`previz render` and `previz still`."""

from contextlib import ExitStack
from typing import TYPE_CHECKING, Annotated

import typer

import previz
from previz.cli.drawing import (
    Film,
    crew_for,
    drawer,
    going_on,
    part_of,
    reel_of,
    reported,
    setups_together,
    staged,
    stages_for,
    warn_of,
    warn_of_flashes,
)
from previz.cli.places import at_its_line, folder_of, tried
from previz.cli.program import app, examples
from previz.cli.saying import print_json, say_all, say_folded
from previz.errors import PrevizError
from previz.options import (
    AsJson,
    At,
    ClipFormat,
    Draft,
    For,
    FrameRange,
    Fresh,
    HowFine,
    OnCluster,
    Out,
    OutsideFiles,
    Profile,
    Purpose,
    SceneFile,
    Seed,
    ShotId,
    Size,
    StillOut,
    Views,
    WithSlate,
    Workers,
)
from previz.takes import (
    Quality,
    chosen,
    frame_at,
    take_of,
)

if TYPE_CHECKING:
    pass


@app.command(
    short_help="Film the shots of a scene, one clip each.",
    epilog=examples(
        "previz render my_shot.yaml --draft",
        "previz render my_shot.yaml --shot pass --slate --for message",
    ),
)
def render(
    scene_file: SceneFile,
    shot: ShotId = None,
    out: Out = None,
    draft: Draft = False,
    level: HowFine = None,
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
    quality, kind = Quality(draft, size, views, seed, level and level.value), clip_format.value
    if purpose is not None and kind != "mp4":
        raise PrevizError(
            f"--for {purpose.value} says how an mp4 is encoded; a {kind} has one way to be. Leave --for or --format out"
        )
    encoded_for = (purpose or Purpose.POST).value
    with at_its_line(scene_file):
        require_files(scene)
        takes = [take_of(scene, each, quality, frames, slate=slate, kind=kind) for each in chosen(scene, shot)]
    folder = tried(folder_of(scene_file, out))
    for take in takes:
        if take.note:
            say_folded(f"{take.shot.id}: {take.note}")
    from previz.delivery import claimed_file
    from previz.frames import Spent

    spent, clips = Spent(), []
    with ExitStack() as held:
        paths = [folder / f"{take.shot.id}.{kind}" for take in takes]
        homes = [held.enter_context(claimed_file(path)) for path in paths]
        crew = held.enter_context(crew_for(takes, workers, cluster))
        with at_its_line(scene_file):
            predictions = previz.predict(scene, remedies=False)
            drawn_by = crew.drawn_by()  # before anything is uploaded there
            reels = [reel_of(home, take, kind, drawn_by, fresh) for home, take in zip(homes, takes, strict=True)]
        held.enter_context(going_on([take.shot.id for take in takes], takes, reels))
        warn_of(predictions, takes, scene_file)
        stage_of = stages_for(scene_file, quality, crew, spent)
        for number in setups_together(takes):
            take, path, reel = takes[number], paths[number], reels[number]
            stage = stage_of(part_of(take, reel.missing[0])) if reel.missing else None
            draw = drawer(take, stage, crew, spent if profile else None)
            with spent.on("encode"), Film(reel.frames(draw), take, reel) as film:
                previz.deliver_clip(path, film, take.shot.playback, take.look.size, take.slate, encoded_for)
            spent.seconds["encode"] -= film.waited
            reel.finish()
            warn_of_flashes(take, film)
            clips.append(reported(path, take, film, as_json, encoded_for))
            del stage, draw  # or two are held while the next one is built
    if profile:
        say_all([f"{name:8} {seconds:8.2f} s" for name, seconds in spent.seconds.items()])
    if as_json:
        order = [take.shot.id for take in takes]
        print_json({"clips": sorted(clips, key=lambda each: order.index(each["shot"]))})


@app.command(
    short_help="Take one frame of a shot as a PNG.",
    epilog=examples("previz still my_shot.yaml --draft", "previz still my_shot.yaml --shot pass --at '1.1 s' --slate"),
)
def still(
    scene_file: SceneFile,
    shot: ShotId = None,
    at: At = None,
    out: StillOut = None,
    draft: Draft = False,
    level: HowFine = None,
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
        quality, wanted = Quality(draft, size, views, seed, level and level.value), chosen(scene, shot)[0]
        with at_its_line(scene_file):
            require_files(scene)
            number = frame_at(scene, wanted, at)
            take = take_of(scene, wanted, quality, f"{number}:{number + 1}", slate=slate, kind="png")
        if out is not None and out.suffix.lower() == ".png" and not out.is_dir():
            path = tried(out.parent) / out.name
        else:
            path = tried(folder_of(scene_file, out)) / f"{wanted.id}-{number:04}.png"
        with at_its_line(scene_file):
            predictions = previz.predict(scene, remedies=False)
        warn_of(predictions, [take], scene_file, ("stop",))
        stage = staged(scene_file, quality, crew, take)
        with Film(previz.render_frames(take.scene, stage, take.shot, take.look, crew), take) as film:
            for frame in film:
                previz.deliver_still(path, frame, take.slate)
    report = reported(path, take, film, as_json)
    if as_json:
        print_json({"stills": [report]})
