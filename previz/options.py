"""Arguments and options of the commands, each described once: shared ones mean the same in all."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from previz.predictions import Framing, Stop
from previz.takes import DRAFT_VIEWS, DRAFT_WIDTH, FULL_WIDTH


class ClipFormat(StrEnum):
    """Formats of clips; the same as delivery's, without loading it."""

    MP4 = "mp4"
    GIF = "gif"
    WEBP = "webp"


class Level(StrEnum):
    """How well pictures are made."""

    DRAFT = "draft"
    USUAL = "usual"
    FINE = "fine"


class Purpose(StrEnum):
    """What clips are for; the same as delivery's."""

    MESSAGE = "message"
    POST = "post"
    ARCHIVE = "archive"


SceneFile = Annotated[Path, typer.Argument(metavar="SCENE", help="The scene file (YAML): set, lights, cameras, shots.")]
NewScene = Annotated[Path, typer.Argument(metavar="FILE", help="The scene file to write, like my_shot.yaml.")]
Start = Annotated[
    str | None,
    typer.Option(
        metavar="NAME",
        help="How it is filmed: pass (it drives past), towards or behind (it comes or goes), night (past under street "
        "lamps); pass unless given.",
    ),
]
Then = Annotated[
    list[str] | None,
    typer.Option(
        metavar="NAME",
        help="One more shot on the same street: towards or behind, with the backdrop hung across it. Given again "
        "it adds one.",
    ),
]
TableSize = Annotated[
    str | None,
    typer.Option(
        "--table",
        metavar="SIZE",
        help="Width and depth of your table, like 1400x700, 140x70 cm or 55x28 in; 1400x700 mm unless given.",
    ),
]
ModelScale = Annotated[
    str | None, typer.Option("--scale", metavar="1:S", help="Of your models, like 1:43 or H0; 1:50 unless given.")
]
BodyName = Annotated[
    str | None,
    typer.Option(
        "--body",
        metavar="NAME",
        help="What drives: lorry, articulated_lorry, van, bus, saloon, tractor, pickup or school_bus; "
        "van unless given.",
    ),
]
Drive = Annotated[
    str | None,
    typer.Option(
        "--drive",
        metavar="NAME",
        help="What moves it: motor, thread (a line that pulls it), hand, or a ramp that it is let go on, of --start "
        "pass; motor unless given.",
    ),
]
OwnCameras = Annotated[
    list[str] | None,
    typer.Option(
        "--camera",
        metavar="CAMERA",
        help="A typical phone, pocket or big camera, or yours as a scene file has it, like 'mine: {sensor: APS-C, "
        "lens: 18-55 mm f/3.5-5.6, nearest: 200 mm, modes: [1080p60]}'. Given again it adds one; the first for "
        "which the start fits the table films. "
        "pocket unless given.",
    ),
]
BareUnit = Annotated[
    str | None,
    typer.Option("--units", metavar="UNIT", help="What bare lengths mean: mm, cm, m, in or ft; the table's or mm."),
]
LikeScene = Annotated[
    Path | None,
    typer.Option(
        "--like", metavar="SCENE", help="Copy this scene with all it needs (kit, images, meshes) instead of these."
    ),
]
Overwrite = Annotated[bool, typer.Option("--force", help="Write over files that are there.")]
KeyPlace = Annotated[
    str | None, typer.Argument(metavar="PART", help="A part of a scene file, like lights or shots.capture.")
]


def _topics_like(begun: str) -> list[str]:
    from previz.guide import TOPICS

    return [topic for topic in TOPICS if topic.startswith(begun)]


GuideTopic = Annotated[
    str | None,
    typer.Argument(metavar="TOPIC", help="What to explain, like lamps.", autocompletion=_topics_like),
]
ShotId = Annotated[str | None, typer.Option("--shot", metavar="ID", help="Only this shot, by its id in the scene.")]
OneShot = Annotated[
    str | None,
    typer.Option(
        "--shot",
        metavar="ID",
        help="Which shot, one at a time, by its id in the scene; the first of several unless given.",
    ),
]
Out = Annotated[
    Path | None, typer.Option(metavar="FOLDER", help="Where to write; outputs/ and the scene file's name unless given.")
]
StillOut = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="FOLDER|FILE.png",
        help="Where to write, or the picture's own name; outputs/ and the scene file's name unless given.",
    ),
]
BeginShot = Annotated[
    str | None, typer.Option("--shot", metavar="ID", help="The shot to begin with; the first unless given.")
]
DraftSize = Annotated[
    str | None,
    typer.Option(
        "--size",
        metavar="WIDTH[xHEIGHT]",
        help=f"Picture size in pixels, such as 960 or 960x540. The height follows from the capture mode; {DRAFT_WIDTH} "
        "wide unless given.",
    ),
]
PictureOut = Annotated[
    Path | None, typer.Option("--out", metavar="FILE.png", help="Write the picture here at every save; shows no page.")
]
Draft = Annotated[
    bool,
    typer.Option(
        "--draft",
        help=f"A quick look: {DRAFT_WIDTH} pixels wide, {DRAFT_VIEWS} views a frame, coarser light, no halos, motion "
        "in steps. Short for --quality draft.",
    ),
]
HowFine = Annotated[
    Level | None,
    typer.Option(
        "--quality",
        help="How smooth what is out of focus or moves is to be: draft, usual, or fine for half the error of usual, "
        "which takes some five times as long; usual unless given.",
    ),
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
        "moves, and take longer in proportion; chosen by how far a few of them differ unless given.",
    ),
]
Profile = Annotated[
    bool,
    typer.Option(
        "--profile", help="Say where the time went: bake, views, lamps, filter, reading, glare, sensor, encode."
    ),
]
OnCluster = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="Have the workers of a Dask cluster draw: its scheduler's tcp://host:port, or tls://host:port. They run "
        "whatever they are sent: on a network of your own only. The pixels are the same.",
    ),
]
Workers = Annotated[
    int | None,
    typer.Option(
        min=1,
        max=64,
        metavar="N",
        help="Processes that draw frames side by side; the pixels do not depend on it. One for each core, four at "
        "most, unless given.",
    ),
]
Seed = Annotated[int, typer.Option(min=0, metavar="N", help="Of the sensor's noise: the same seed, the same pixels.")]
Fresh = Annotated[
    bool, typer.Option("--fresh", help="Draw every frame anew, also those that a run that was stopped has left.")
]
WithSlate = Annotated[
    bool,
    typer.Option(
        "--slate", help="Add a strip under the picture: shot, camera, lens, stop, focus, shutter, rates, ISO, time."
    ),
]
OutsideFiles = Annotated[
    bool,
    typer.Option("--outside-files", help="Let the scene use images and meshes from outside its own folder."),
]
FrameRange = Annotated[
    str | None,
    typer.Option(
        metavar="A:B",
        help="Only frames A up to, not including, B: 0:24, 48: or :12. The first is 0. Where panels differ in rate, "
        "frames of the shot as written.",
    ),
]
At = Annotated[
    str | None,
    typer.Option(
        metavar="TIME",
        help="Time on set, such as 0.4 or 0.4s, in seconds; the frame nearest it. The middle unless given.",
    ),
]
For = Annotated[
    Purpose | None,
    typer.Option(
        "--for",
        help="What an mp4 is for: a message is small and at most 1920 wide, a post survives being encoded again, an "
        "archive keeps all that can be seen; a post unless given.",
    ),
]
PageSize = Annotated[
    str,
    typer.Option(metavar="SIZE", help="Largest the page may be; what fits into a mail unless given."),
]


class PaperName(StrEnum):
    """Papers that plans are printed on; the same as paper's, without loading it."""

    A4 = "a4"
    A3 = "a3"
    A2 = "a2"
    LETTER = "letter"
    LEGAL = "legal"
    TABLOID = "tabloid"


_USUAL = "a4 unless given, of a file in inches letter."
OnPaper = Annotated[
    PaperName | None, typer.Option("--paper", help=f"What it is printed on, lying on its side: {_USUAL}")
]
AlsoPng = Annotated[bool, typer.Option("--png", help="Each sheet as a PNG too.")]
AlsoSvg = Annotated[bool, typer.Option("--svg", help="Each sheet as an SVG too.")]


class PartName(StrEnum):
    """What can be printed at life size; the same as paper's, without loading it."""

    GROUND = "ground"
    ROAD = "road"
    BACKDROP = "backdrop"
    CARDS = "cards"
    FRONTS = "fronts"


TilePaper = Annotated[PaperName | None, typer.Option("--paper", help=f"What your printer prints on: {_USUAL}")]
AsPoster = Annotated[
    bool, typer.Option("--poster", help="Each part on one large sheet, for a print shop, instead of pages to join.")
]
OnlyParts = Annotated[
    list[PartName] | None, typer.Option("--only", help="Only this part; give it again for another. All unless given.")
]
WithoutStills = Annotated[
    bool, typer.Option("--no-stills", help="Leave the pictures of the shots out; nothing is drawn.")
]
Plans = Annotated[
    int, typer.Option(min=1, max=9, metavar="N", help="How many plans at most; of 1 all there is to say.")
]
Apply = Annotated[
    int | None, typer.Option(min=1, metavar="N", help="Write a scene file with plan N in it, comments and layout kept.")
]
NewFile = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="FILE",
        help="The scene file to write with --apply; beside the scene unless given, as NAME_planN (of several shots "
        "NAME_SHOT_planN).",
    ),
]
ComparePlans = Annotated[
    bool,
    typer.Option("--compare", help="Draw the shot as written and the plans side by side, in a clip and on a page."),
]
StartTimecode = Annotated[
    str | None,
    typer.Option(
        metavar="HH:MM:SS:FF",
        help="Timecode of the first frame; ; before the frames for drop-frame, 01:00:00;00. 01:00:00:00 unless given.",
    ),
]
SoundFile = Annotated[
    Path | None,
    typer.Option(
        "--sound",
        metavar="FILE.wav",
        help="What is heard, cut off or followed by silence to be as long as the picture; that of the scene, or "
        "silence, unless given.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the answer as JSON, for other programs.")]
Cameras = Annotated[
    str | None,
    typer.Option(metavar="NAMES", help="Cameras of the scene or its kit, like big,pocket; all unless given."),
]
Vary = Annotated[
    list[str] | None,
    typer.Option(
        metavar="KEY=VALUES",
        help="One thing of the shot over a list, as a scene file has it: f_number=2.8,5.6,11; rate=60 fps,120 fps; "
        "lights[key].diffusion=0,1 stop. Given twice it makes a grid.",
    ),
]
ByFraming = Annotated[
    Framing,
    typer.Option(
        help="What stays when another camera frames the same: place, and its focal length follows; lens, and the "
        "camera moves; own keeps both, and each frames as it does. What a lens has not is taken as near as it goes, "
        "and told.",
    ),
]
ByStop = Annotated[
    Stop,
    typer.Option(help="The same f-number, one for the same depth of field, or for each its best (sharpest)."),
]
