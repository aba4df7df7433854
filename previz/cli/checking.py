"""What is worked out without filming: `previz check`, `previz evening`, `previz watch`."""

import dataclasses
import shlex
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import previz
from previz.cli.places import at_its_line, tried
from previz.cli.program import app, examples
from previz.cli.saying import print_json, print_out, say, say_folded
from previz.cli.stopping import interrupts_heard
from previz.errors import PrevizError, SceneErrors
from previz.options import (
    AsJson,
    At,
    BeginShot,
    DraftSize,
    OutsideFiles,
    PictureOut,
    SceneFile,
    Seed,
    ShotId,
)
from previz.takes import (
    Quality,
    chosen,
    time_of,
)
from previz.telling import (
    at_work,
    caution_lines,
    check_lines,
    evening_lines,
    plain,
)

if TYPE_CHECKING:
    from previz.advice import Wanted
    from previz.predictions import Predictions
    from previz.scene import Scene


@app.command(
    short_help="Work out whether the shots will work, without rendering.",
    epilog=examples("previz check my_shot.yaml", "previz check my_shot.yaml --shot pass --all"),
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
    from previz.continuity import between_shots

    scene = previz.read_scene(scene_file, outside_files=outside_files)
    wanted = {each.id for each in chosen(scene, shot)}
    with at_its_line(scene_file), at_work("check: what each shot shows, and what mends it", say) as tell:
        predictions = previz.predict(scene)
        tell("check: what cuts and wants ask for")
        between = between_shots(scene, predictions) if shot is None else ()
        answered = _wanted(scene, predictions, wanted)
    findings = [finding for finding in predictions.findings if finding.concerns(wanted)]
    weighed = tuple(each for each in predictions.compromises if each.shot in wanted)
    if as_json:
        kept = [each for each in predictions.shots if each.shot in wanted]
        told = dataclasses.replace(predictions, shots=tuple(kept), findings=tuple(findings), compromises=weighed)
        print_json({**plain(told), "between": plain(between), "wants": plain(answered)})
    else:
        shots = [each.id for each in scene.shots if each.id in wanted]
        print_out("\n".join(check_lines(scene, predictions, shots, everything, between, answered)))
        say(f"(previz plan {shlex.quote(str(scene_file))} draws it to build and shoot by)")
    if any(finding.verdict == "stop" for finding in (*findings, *between)):
        raise typer.Exit(1)


def _wanted(scene: "Scene", predictions: "Predictions", shots: set[str]) -> "tuple[Wanted, ...]":
    """How the shots answer what the file wants of them; of a file without wants the search is not even loaded."""
    if "wants" not in scene.model_fields_set:
        return ()
    from previz.advice import wanted_of

    return wanted_of(scene, predictions, shots)


@app.command(
    short_help="Order the setups so that least is moved, and say how long an evening takes.",
    epilog=examples("previz evening my_shot.yaml", "previz evening my_shot.yaml --json"),
)
def evening(scene_file: SceneFile, outside_files: OutsideFiles = False, as_json: AsJson = False) -> None:
    """Order the setups so that least is moved between them, with the marks of all that is; and say how long it takes.

    It goes by how long moves and takes last, which the scene's evening says and else is assumed, and by how alike
    launches are. previz plan prints the moves on a sheet.
    """
    from previz.evening import evening_of
    from previz.predictions import cautions_of_all, require_files

    scene = previz.read_scene(scene_file, outside_files=outside_files)
    with at_its_line(scene_file), at_work("evening: the order of least work", say):
        require_files(scene)
        found = evening_of(scene)
    if as_json:
        print_json({**plain(found), "assumed": found.assumed.model_dump()})
    else:
        print_out("\n".join([*evening_lines(scene, found), "", *caution_lines(cautions_of_all(scene))]))


@app.command(
    short_help="Show a shot anew at every save of its scene.",
    epilog=examples(
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
    if out is not None:
        if out.suffix != ".png":
            raise PrevizError(f"--out {out}: a picture is a png; let its name end in .png")
        tried(out.parent)
    moment = time_of(at) if at is not None else None
    _wish_can_be(scene_file, shot, outside_files)
    if out is not None:
        say_folded(
            f"{scene_file}: its picture goes to {out}, anew at every save; the first is on its way. Ctrl-C ends it"
        )
    from previz.watching import Asked, Wish, watch_scene  # takes a while to load

    wish = Wish(shot, moment)
    asked = Asked(scene_file, wish, Quality(True, size, seed=seed), out, outside_files)
    try:
        with interrupts_heard():
            watch_scene(asked, say)
    except KeyboardInterrupt:
        say("ended")


def _wish_can_be(scene_file: Path, shot: str | None, outside_files: bool) -> None:
    """Refuse a shot that is not there; what is wrong with the file is told later, and seen to be mended."""
    with suppress(SceneErrors):
        chosen(previz.read_scene(scene_file, outside_files=outside_files), shot)
