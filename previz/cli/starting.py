"""`previz new`."""

import shlex
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import typer

import previz
from previz import units
from previz.cli.places import refuse_to_overwrite, tried
from previz.cli.program import app, examples
from previz.cli.saying import print_out, say_all, say_folded
from previz.errors import PrevizError
from previz.options import (
    BareUnit,
    BodyName,
    Drive,
    LikeScene,
    ModelScale,
    NewScene,
    Overwrite,
    OwnCameras,
    Start,
    TableSize,
)

if TYPE_CHECKING:
    from previz.starters import Wish


@app.command(
    short_help="Write a first scene to change: your table, scale and cameras.",
    epilog=examples(
        "previz new my_shot.yaml --start towards --table 140x70cm --scale 1:43 --camera phone",
        "previz new my_shot.yaml --drive ramp --camera phone --camera pocket",
        "previz new my_quay.yaml --like scenes/quay_lorry.yaml",
    ),
)
def new(
    file: NewScene,
    start: Start = None,
    table: TableSize = None,
    scale: ModelScale = None,
    body: BodyName = None,
    drive: Drive = None,
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

    said = (start, table, scale, body, drive, camera, unit)
    if like is not None and any(each is not None for each in said):
        raise PrevizError("--like copies a scene as it is; take the other options out, or --like")
    if not force:
        refuse_to_overwrite({file: b""})  # before anything is asked
    tried(file.parent, "give the scene a name in a folder that you may write to")
    written = _copies(file, like) if like is not None else {file: starting_scene(_wish(*said)).encode()}
    schema_file = file.with_name("scene.schema.json")
    if b"$schema=scene.schema.json" in written[file]:
        written.setdefault(schema_file, schema_text().encode())
    if not force:
        refuse_to_overwrite(written, ours={schema_file})
    deliver_files(written)
    scene = previz.read_scene(file)
    for each in written:
        print_out(each)
    for finding in previz.predict(scene).findings:
        if finding.verdict == "stop":
            place = f"{finding.shot}: " if finding.shot else ""
            say_folded(f"stop: {place}{finding.message} {finding.remedy}".rstrip())
    name = shlex.quote(str(file))
    say_all([f"previz check {name}", f"previz render {name} --draft"])


def _wish(
    start: str | None,
    table: str | None,
    scale: str | None,
    body: str | None,
    drive: str | None,
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
    if drive is not None or STARTS[begins].rolls:  # elsewhere there is nothing to choose
        drive = asked(drive, "What moves it", "motor", ("motor", "hand", "ramp"))
    texts = cameras or _cameras_asked(lambda question, usual: asked(None, question, usual), TYPICAL)
    read = [camera_text(each) for each in texts]
    twice = {name for name, _, _ in read if [each[0] for each in read].count(name) > 1}
    if twice:
        raise PrevizError(f"--camera: {min(twice)} is given twice; give each camera a name of its own")
    own = {name: (text, cam) for name, text, cam in read}
    return Wish(begins, (width, depth), unit or tables, sized, drives, own, ramp=drive == "ramp")


#: What ends the question for further cameras.
_NO_MORE = "no more"


def _cameras_asked(asked: Callable[[str, str], str], typical: Iterable[str]) -> list[str]:
    """The camera that films and, on a terminal, others to compare it with."""
    found = [asked(f"Camera that films ({', '.join(typical)}, or yours as a scene file has it)", "pocket")]
    while _on_a_terminal() and (another := asked("Another camera, to compare", _NO_MORE)) != _NO_MORE:
        found.append(another)
    return found


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
