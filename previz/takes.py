"""What is asked for, settled before any work, so that a fault costs no waiting: shots, sizes, frames, limits."""

import dataclasses
import math
import os
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from previz import units
from previz.errors import PrevizError

if TYPE_CHECKING:
    from previz.delivery import Slate
    from previz.frames import Look
    from previz.scene import Mode, Scene, Shot

#: Width of a picture unless asked otherwise, in full and in draft. [px]
FULL_WIDTH, DRAFT_WIDTH = 1280, 640

#: Of a picture on a setup card, as `--size` has it.
CARD_WIDTH = "480"

#: Views over pupil and shutter in a draft; otherwise they are chosen by how far a few of them differ.
DRAFT_VIEWS = 3

#: The least and the most that either side of a picture may be. [px]
SMALLEST, LARGEST = 16, 16384

#: The most pixels of a picture. Drawing takes some 350 bytes for each, and each worker as much again.
MOST_PIXELS = 16_000_000

#: Bytes by unit, in the decimal sense that mail and phones use.
_BYTES = {"kB": 1000, "MB": 1000**2, "GB": 1000**3}


@dataclass(frozen=True)
class Quality:
    """How the pictures are to be made, as asked for; None where it is left to us.

    draft is short for the level draft. Raises PrevizError where two of them say different things.
    """

    draft: bool = False
    size: str | None = None
    views: int | None = None
    seed: int = 0
    level: str | None = None

    def __post_init__(self) -> None:
        if self.draft and self.level not in (None, "draft"):
            raise PrevizError(f"--draft is short for --quality draft, and --quality says {self.level}: leave one out")
        if self.views is not None and self.level in ("usual", "fine"):
            raise PrevizError(
                f"--quality {self.level} chooses how many looks make up a frame, and --views says how many; "
                "leave one out"
            )
        if self.level == "draft":
            object.__setattr__(self, "draft", True)

    @property
    def effort(self) -> Literal["full", "draft"]:
        """Of lighting: draft or full."""
        return "draft" if self.draft else "full"


@dataclass(frozen=True)
class Take:
    """One shot as it is to be delivered, on the scene as it is set up for it.

    note: what a viewer should know of the format's timing, or None; effort: that of lighting.
    """

    scene: "Scene"
    shot: "Shot"
    look: "Look"
    numbers: range
    slate: "Slate | None" = None
    note: str | None = None
    effort: Literal["full", "draft"] = "full"


def take_of(
    scene: "Scene",
    shot: "Shot",
    quality: Quality,
    frames: str | None = None,
    *,
    slate: bool = False,
    kind: str = "mp4",
    counted_at: Fraction | None = None,
) -> Take:
    """One take.

    counted_at: the rate [1/s] at which `frames` are counted, where that is not the shot's own: what lies between the
    same times on set is taken.

    Raises
    ------
    ShotFault
        Where the shot's camera cannot be aimed or focused in one of the frames.
    PrevizError
        Where the machine, the lens, the size or the format cannot do it.
    """
    from previz.delivery import Slate, check_clip, timing_note
    from previz.frames import lens_of, require_opengl
    from previz.layout import camera_at, frame_times
    from previz.scene import as_set_up

    scene = as_set_up(scene, shot)
    shot = scene.shot(shot.id)
    look = look_of(scene, shot, quality)
    require_opengl()
    lens_of(scene, shot, look.size)
    if kind != "png":
        check_clip(kind, look.size, shot.playback)
    note = None if kind == "png" else timing_note(kind, shot.playback)
    times = frame_times(scene, shot)
    ratio = times.rate / counted_at if counted_at else Fraction(1)
    # A part of a frame more than so many may have been cut off at the slower rate.
    count = max(math.ceil(times.count / ratio), math.ceil((times.count + 1) / ratio) - 1)
    counted = numbers_of(frames, count, shot.id)
    first = min(math.floor(counted.start * ratio), times.count - 1)
    numbers = range(first, max(min(math.ceil(counted.stop * ratio), times.count), first + 1))
    for number in numbers:  # found out now, not after an hour of rendering
        for moment in (0.0, shot.capture.exposure_time):
            camera_at(scene, shot, float(times.time(number)) + moment)
    label = Slate.of(scene, shot) if slate else None
    return Take(scene, shot, dataclasses.replace(look, frames=numbers), numbers, label, note, quality.effort)


#: What of a scene, and of a shot, no frame of a take shows: other shots and cameras, and what only findings, advice and
#: the evening go by.
_NOT_SHOWN = {"title", "units", "kit", "mains", "wants", "may_change", "shots", "sequence", "sound", "cameras",
              "evening"}  # fmt: skip
_NOT_SEEN = {"place"}

#: Rooms whose source text decides what a frame looks like, and the packages that they draw with.
_ROOMS = ("mesh.py", "units.py", "files", "scene", "physics", "layout", "light", "stage", "frames", "delivery")
_PACKAGES = (
    "numpy",
    "scipy",
    "shapely",
    "trimesh",
    "embreex",
    "Pillow",
    "PyOpenGL",
    "pyrender-maintained",
    "libigl",
    "imageio-ffmpeg",
)


def digest_of(scene: "Scene", take: Take, *how: object) -> str:
    """Names (64 hex digits) all that the clip of a take is made from; another digest, and it has to be filmed anew.

    That is: the set, the lights, the vehicle, the shot and its camera, as validated; the contents of every file that
    they name, by where it lies from the scene's folder; which frames, their size, views, seed, slate and effort; the
    source text of the rooms that draw, and the versions of the packages that they draw with. The scene's other shots
    and cameras, what is wanted and what may change are not among it, nor is the machine.

    Parameters
    ----------
    how : plain values
        What else makes the file: the format, what the clip is for.

    Raises
    ------
    FileFault
        For the first file that cannot be used.
    """
    from previz.files import key_of, read_files
    from previz.layout import open_files

    with read_files() as read:
        open_files(scene)
    folder = scene.folder.resolve()
    files = sorted((os.path.relpath(path, folder), known) for path, known in read.items())
    # What was left to its default differs from what was written.
    parts = [
        part.model_dump(exclude=_NOT_SHOWN if part is scene else _NOT_SEEN, exclude_unset=unset)
        for part in (scene, take.shot, scene.cameras[take.shot.camera])
        for unset in (False, True)
    ]
    slate = None if take.slate is None else (scene.title, scene.tape_unit)
    return key_of(*parts, files, take.look, take.numbers, slate, take.effort, *_versions(), *how)


@cache
def _versions() -> tuple[str, ...]:
    from previz.files import source_of

    return source_of(Path(__file__).parent, _ROOMS), *map(_version, _PACKAGES)


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "none"


def chosen(scene: "Scene", wanted: str | None) -> tuple["Shot", ...]:
    """All shots, or the one of that id."""
    shots = {shot.id: shot for shot in scene.shots}
    if wanted is None:
        return tuple(shots.values())
    if wanted not in shots:
        from previz.scene import meant_by

        meant = meant_by(wanted, shots)
        advice = f"; did you mean {meant}?" if meant and len(shots) > 1 else ""
        there = f"shots are {', '.join(shots)}" if len(shots) > 1 else f"only shot is {next(iter(shots))}"
        raise PrevizError(f"--shot {units.shown(wanted)}: the scene's {there}{advice}")
    return (shots[wanted],)


def look_of(scene: "Scene", shot: "Shot", quality: Quality) -> "Look":
    """How the picture is made: draft sets size and views where they are not given themselves."""
    from previz.frames import Look

    mode = scene.mode(shot)
    usual = min(DRAFT_WIDTH if quality.draft else FULL_WIDTH, mode.width // 2 * 2)
    width, height = size_of(quality.size) if quality.size else (usual, None)
    if height is None:
        height = _height_for(width, mode)
    if height < SMALLEST:
        least = next(wide for wide in range(SMALLEST, LARGEST + 1, 2) if _height_for(wide, mode) >= SMALLEST)
        raise PrevizError(
            f"--size {width}: the picture would be {width}x{height}, and {SMALLEST} is the least; use {least} or more"
        )
    if width * height > MOST_PIXELS:
        raise PrevizError(
            f"--size {quality.size}: {width}x{height} is {width * height / 1e6:.0f} megapixels, and at most "
            f"{MOST_PIXELS / 1e6:.0f} are drawn; use {_widest(mode)} or less"
        )
    views = quality.views or (DRAFT_VIEWS if quality.draft else None)
    level = "draft" if quality.draft else quality.level or "usual"
    return Look(size=(width, height), views=views, seed=quality.seed, quality=level, thorough=not quality.draft)


def _height_for(width: int, mode: "Mode") -> int:
    """The even height nearest to a mode's shape. [px]"""
    return max(2, round(width * mode.height / mode.width / 2) * 2)


def _widest(mode: "Mode") -> int:
    """The widest even width of a mode's shape that may be drawn. [px]"""
    return next(wide for wide in range(LARGEST, SMALLEST, -2) if wide * _height_for(wide, mode) <= MOST_PIXELS)


def size_of(text: str) -> tuple[int, int | None]:
    """A picture's width and, where given, height. [px]

    >>> size_of("1280"), size_of("1280x720")
    ((1280, None), (1280, 720))
    """
    match = re.fullmatch(r"(\d{1,5})(?:\s*x\s*(\d{1,5}))?", text.strip(), flags=re.ASCII)
    width, height = (int(match[1]), int(match[2]) if match[2] else None) if match else (0, None)
    if not SMALLEST <= width <= LARGEST or not (height is None or SMALLEST <= height <= LARGEST):
        raise PrevizError(
            f"--size {units.shown(text)} is not a picture size; write a width like 1280, or 1280x720, "
            f"each from {SMALLEST} to {LARGEST}"
        )
    return width, height


def numbers_of(text: str | None, count: int, shot: str) -> range:
    """The frames `A:B` of a shot of `count` frames.

    >>> numbers_of(":12", 100, "pass")
    range(0, 12)
    """
    match = re.fullmatch(r"(\d{0,9}):(\d{0,9})", (text or ":").strip(), flags=re.ASCII)
    if not match:
        raise PrevizError(
            f"--frames {units.shown(text)} is not a range of frames; write it like 0:24, from frame 0 up to, not "
            "including, frame 24"
        )
    first, end = int(match[1] or 0), int(match[2] or count)
    if not 0 <= first < end <= count:
        raise PrevizError(
            f"--frames {units.shown(text)}: shot {shot} has {count} frame{'s' * (count != 1)}; write numbers within "
            f"0:{count}, the smaller first"
        )
    return range(first, end)


def frame_at(scene: "Scene", shot: "Shot", at: str | None) -> int:
    """The frame nearest a time on set, or the middle one; of the shot as it is set up."""
    from previz.layout import frame_times
    from previz.scene import as_set_up

    then = as_set_up(scene, shot)
    times = frame_times(then, then.shot(shot.id))
    if at is None:
        return times.count // 2
    number = round((Fraction(time_of(at)) - times.start) * times.rate)
    if not 0 <= number < times.count:
        first, last = float(times.start), float(times.time(times.count - 1))
        raise PrevizError(
            f"--at {at}: shot {shot.id} runs from {first:.3f} s to {last:.3f} s on set; choose a time between"
        )
    return number


def time_of(at: str) -> float:
    """A time on set as it is asked for. [s]"""
    try:
        return units.parse(units.TIME, at, bare=1.0)
    except units.QuantityError:
        raise PrevizError(
            f"--at {units.shown(at)} is not a time on set; write it in seconds, like 0.4 or 0.4s"
        ) from None


def kept_frame(scene: "Scene", take: Take, at: str | None) -> int:
    """Which frame of a take, counted from its first, is shown as a still: the one nearest a time, or the middle one."""
    number = frame_at(scene, take.shot, at) if at is not None else take.numbers[len(take.numbers) // 2]
    if number not in take.numbers:
        raise PrevizError(
            f"--at {at} is frame {number}, which is not among --frames {take.numbers.start}:{take.numbers.stop}"
        )
    return number - take.numbers.start


def bytes_of(text: str, option: str) -> int:
    """A file size.

    >>> bytes_of("25 MB", "--page-size")
    25000000
    """
    match = re.fullmatch(r"(\d{1,6}(?:\.\d{1,3})?)\s*(kB|MB|GB)", text.strip(), flags=re.ASCII | re.IGNORECASE)
    if not match or not float(match[1]):
        raise PrevizError(f"{option} {units.shown(text)} is not a file size; write it like 25 MB")
    unit = {"k": "kB", "m": "MB", "g": "GB"}[match[2][0].lower()]
    return round(float(match[1]) * _BYTES[unit])
