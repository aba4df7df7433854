"""`previz new`."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import previz
from previz import units
from previz.cli.places import refuse_to_overwrite, tried
from previz.cli.program import app, examples
from previz.cli.questions import DRIVES, SCALE, TABLE, Questions, cameras_of, drive_question, one_of
from previz.cli.saying import print_out, say, say_all, say_folded
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
    Then,
)

if TYPE_CHECKING:
    from previz.starters import Wish


@app.command(
    short_help="Write a first scene to change: your table, scale and cameras.",
    epilog=examples(
        "previz new my_shot.yaml --start towards --table 140x70cm --scale 1:43 --camera phone",
        "previz new my_shot.yaml --start pass --then towards",
        "previz new my_shot.yaml --drive ramp --camera phone --camera pocket",
        "previz new my_quay.yaml --like scenes/quay_lorry.yaml",
    ),
)
def new(
    file: NewScene,
    table: TableSize = None,
    scale: ModelScale = None,
    body: BodyName = None,
    camera: OwnCameras = None,
    start: Start = None,
    then: Then = None,
    drive: Drive = None,
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

    said = (start, then, table, scale, body, drive, camera, unit)
    if like is not None and any(each is not None for each in said):
        raise PrevizError("--like copies a scene as it is; take the other options out, or --like")
    if not force:
        refuse_to_overwrite({file: b""})  # before anything is asked
    tried(file.parent, "give the scene a name in a folder that you may write to")
    written = _copies(file, like) if like is not None else {file: starting_scene(_wish(file, *said)).encode()}
    schema_file = file.with_name("scene.schema.json")
    if b"$schema=scene.schema.json" in written[file]:
        written.setdefault(schema_file, schema_text().encode())
    if not force:
        refuse_to_overwrite(written, ours={schema_file})
    deliver_files(written)
    scene = previz.read_scene(file)
    for each in written:
        print_out(each)
    for finding in _stops(scene):
        place = f"{finding.shot}: " if finding.shot else ""
        say_folded(f"stop: {place}{finding.message} {finding.remedy}".rstrip())
    name = shlex.quote(str(file))
    say_all([f"previz check {name}", f"previz render {name} --draft"])
    if like is None:
        along = "" if then else "--then towards writes one along the same street, or "
        say(f"one more shot: {along}copy one under shots: and give it an id of its own; see previz guide shots")


def _stops(scene: "previz.Scene") -> "list[previz.Finding]":
    """With their remedies, which take ten times as long to find as that nothing stops."""
    if previz.predict(scene, remedies=False).verdict != "stop":
        return []
    return [finding for finding in previz.predict(scene).told if finding.verdict == "stop"]


def _wish(
    file: Path,
    start: str | None,
    then: list[str] | None,
    table: str | None,
    scale: str | None,
    body: str | None,
    drive: str | None,
    cameras: list[str] | None,
    unit: str | None,
) -> "Wish":
    """What a maker wants of a first scene: as given, else asked for on a terminal, else as it usually is.

    What a maker owns is asked for first; how it is filmed, and what moves the vehicle then, last.
    """
    from previz.scene import BARE_UNITS, VEHICLE_SIZES
    from previz.starters import STARTS, Wish, table_of, with_a_camera_that_serves

    if unit is not None:
        unit = one_of(BARE_UNITS, "a unit for bare lengths")(unit)
    questions = Questions()
    width, depth, tables = questions.answer(
        "--table", table, TABLE, "1400x700 mm", lambda text: table_of(text, unit or "mm")
    )
    sized = questions.answer("--scale", scale, SCALE, "1:50", _scale_of)
    bodies = one_of(VEHICLE_SIZES, "a body")
    drives = questions.answer("--body", body, f"What drives: {', '.join(VEHICLE_SIZES)}", "van", bodies)
    own = cameras_of(cameras, unit or tables, questions)
    ways = "".join(f"\n  {name:9}{each.says}" for name, each in STARTS.items())
    starts = one_of(STARTS, "a starting point")
    begins = questions.answer("--start", start, f"How is it filmed?{ways}\nWhich", "pass", starts)
    moves = drive_question(rolls=STARTS[begins].rolls)
    drive = questions.answer("--drive", drive, moves, "motor", one_of(DRIVES, "what moves it"))
    if questions.asked:
        given = [*(word for each in then or () for word in ("--then", each)), *(["--units", unit] if unit else [])]
        say(f"the same without questions: {shlex.join(['previz', 'new', str(file), *questions.options, *given])}")
    moved = {"ramp": True} if drive == "ramp" else {"drive": drive}
    wish = Wish(begins, (width, depth), unit or tables, sized, drives, own, then=tuple(then or ()), **moved)
    serves = with_a_camera_that_serves(wish)
    (named, *_), (films, *_) = wish.cameras, serves.cameras
    if films != named:
        lacks = "a ramp and the way from it do" if wish.ramp else "the start does"
        say(f"{films} films, not {named}: on this table {lacks} not fit beside the picture of {named}")
    return serves


def _scale_of(text: str) -> float:
    try:
        return units.scale_of(text)
    except units.QuantityError as error:
        raise PrevizError(str(error)) from None


def _copies(file: Path, like: Path) -> dict[Path, bytes]:
    """A scene and all that it needs, by where the copies go."""
    from previz.starters import files_of

    scene, *others = files_of(like)
    return {file: (like.parent / scene).read_bytes()} | {
        file.parent / each: (like.parent / each).read_bytes() for each in others
    }
