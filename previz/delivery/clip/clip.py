"""Clips: frames in, one film file out, at exactly the playback rate."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Protocol

from previz.delivery.clip.encoder import encode
from previz.delivery.pictures import Encoding, Picture, picture_of
from previz.delivery.slate import Slate
from previz.delivery.whole_file import whole_file
from previz.errors import PrevizError
from previz.frames import Frame
from previz.physics.colour import bt709_encoded, srgb_encoded


class ClipWriter(Protocol):
    """Writes pictures that follow each other at `rate` to a file of one format; returns how many it wrote."""

    def __call__(self, path: Path, frames: Iterable[Frame], rate: Fraction, size: tuple[int, int]) -> int:
        """Write `path`, whole or not at all."""


@dataclass(frozen=True)
class Purpose:
    """What a clip is for: how finely it is encoded (ffmpeg's crf, less is finer) and the widest it may be. [px]"""

    crf: int
    widest: int | None
    effort: str


#: What clips are for. A message is small and plays on any phone; a post survives being encoded once more; an archive
#: is hard to tell from the frames. Common practice, no source.
PURPOSES: dict[str, Purpose] = {
    "message": Purpose(27, 1920, "slow"),
    "post": Purpose(18, None, "medium"),
    "archive": Purpose(12, None, "slow"),
}


#: Of the H.264 encoder. Its file depends on how many there are, so there are as many on one core as on sixteen. Four
#: are as quick as its own choice on two cores, and take a tenth more of one's time.
_THREADS = 4


def mp4_settings(purpose: str, size: tuple[int, int], *, whole_every: int = 250) -> list[str]:
    """What ffmpeg is told for H.264 in MP4, BT.709 throughout: transfer function, matrix, primaries, narrow range.

    Tags are the code points of ITU-T H.273: 1 for each of the three. whole_every: after so many frames at most one is
    encoded on its own, from which a viewer can step and scrub; fewer make a larger file.
    """
    wanted = PURPOSES[purpose]
    # Chroma is worked out at full resolution before it is halved: colours stay within rounding.
    # Its samples stand on every other column and between rows, where H.264 has them unless told otherwise.
    width, height = mp4_size(purpose, size)
    convert = (
        f"scale={width}:{height}:out_color_matrix=bt709:out_range=tv:out_h_chr_pos=0:out_v_chr_pos=128"
        ":flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp"
    )
    tags = "setparams=colorspace=bt709:color_primaries=bt709:color_trc=bt709:range=tv"
    return [
        *("-vf", f"{convert},format=yuv420p,{tags}"),
        *("-c:v", "libx264", "-crf", str(wanted.crf), "-preset", wanted.effort, "-g", str(whole_every)),
        *("-threads", str(_THREADS)),
        *("-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv"),
        *("-movflags", "+faststart", "-f", "mp4"),
    ]


def mp4_size(purpose: str, size: tuple[int, int]) -> tuple[int, int]:
    """Size of a clip for that purpose, of pictures of that size; both sides even. [px]

    >>> mp4_size("message", (2608, 1616)), mp4_size("post", (2608, 1616))
    ((1920, 1190), (2608, 1616))
    """
    widest = PURPOSES[purpose].widest
    if widest is None or size[0] <= widest:
        return size
    return widest, round(size[1] * widest / size[0] / 2) * 2


def write_mp4(path: Path, frames: Iterable[Frame], rate: Fraction, size: tuple[int, int], purpose: str = "post") -> int:
    """H.264 in MP4."""
    return _write(path, frames, size, rate, mp4_settings(purpose, size))


def write_gif(path: Path, frames: Iterable[Frame], rate: Fraction, size: tuple[int, int]) -> int:
    """Animated GIF, a palette of its own for each frame, playing round and round."""
    palettes = "split[seen][drawn];[seen]palettegen=stats_mode=single[palette];[drawn][palette]paletteuse=new=1"
    return _write(path, frames, size, rate, ["-vf", palettes, "-loop", "0", "-f", "gif"])


def write_webp(path: Path, frames: Iterable[Frame], rate: Fraction, size: tuple[int, int]) -> int:
    """Animated WebP, playing round and round."""
    # Handed over as RGB: WebP's own YUV is not BT.709, and its encoder knows which it is.
    # The encoder cuts times down to thousandths; here they are rounded to the nearest before it sees them.
    settings = [
        *("-vf", "settb=1/1000", "-fps_mode", "passthrough", "-enc_time_base", "1/1000"),
        *("-c:v", "libwebp_anim", "-pix_fmt", "bgra", "-quality", "85", "-loop", "0", "-f", "webp"),
    ]
    return _write(path, frames, size, rate, settings)


#: Formats a clip can have, by the ending of the file's name.
CLIP_WRITERS: dict[str, ClipWriter] = {"mp4": write_mp4, "gif": write_gif, "webp": write_webp}


def encoding_of(kind: str) -> Encoding:
    """The transfer function that the pictures of a format are written with."""
    return bt709_encoded if kind == "mp4" else srgb_encoded


# What ffmpeg reads exactly as the terms of a rate (av_parse_video_rate; found by trying).
_LARGEST_TERM = 1_001_000

#: Where a format counts time in whole ticks: how many a second.
_TICKS = {"gif": 100, "webp": 1000}


def deliver_clip(
    path: Path,
    frames: Iterable[Frame],
    rate: Fraction,
    size: tuple[int, int],
    slate: Slate | None = None,
    purpose: str = "post",
) -> int:
    """Write a clip, whole or not at all; its format follows from the ending of `path`.

    Parameters
    ----------
    path : Path
        Ends in .mp4, .gif or .webp. Its folder is made if missing; an older file is replaced at the very end.
    frames : iterable of Frame
        Taken one at a time and not kept.
    rate : Fraction
        Playback rate, exact. [1/s]
    size : (int, int)
        Width and height of each frame's picture, slate not counted. [px]
    slate : Slate or None
        A strip to add under each picture.
    purpose : str
        A key of `PURPOSES`, for an mp4; other formats have one way to be.

    Returns
    -------
    int
        Frames written.

    Raises
    ------
    PrevizError
        The format cannot hold that size or rate; nothing was taken from `frames`.
    MachineError
        The file cannot be written or the encoder does not work.
    """
    kind = path.suffix.removeprefix(".")
    check_clip(kind, size, rate)
    if slate is not None:
        frames, size = slate.under_each(frames, size[0]), slate.with_strip(size)
    if kind == "mp4":
        return write_mp4(path, frames, rate, size, purpose)
    return CLIP_WRITERS[kind](path, frames, rate, size)


def clip_size(kind: str, size: tuple[int, int], slate: Slate | None, purpose: str = "post") -> tuple[int, int]:
    """Width and height of the pictures in a file that `deliver_clip` or `deliver_still` writes. [px]

    >>> clip_size("mp4", (2608, 1616), None, "message"), clip_size("png", (2608, 1616), None, "message")
    ((1920, 1190), (2608, 1616))
    """
    whole = slate.with_strip(size) if slate is not None else size
    return mp4_size(purpose, whole) if kind == "mp4" else whole


def check_clip(kind: str, size: tuple[int, int], rate: Fraction) -> None:
    """Whether a clip of this kind can have that size [px] and rate [1/s]. Raises PrevizError.

    >>> check_clip("mp4", (641, 360), Fraction(24))
    Traceback (most recent call last):
    previz.errors.PrevizError: 641x360: mp4 needs an even width and height; use 640x360
    >>> check_clip("gif", (640, 360), Fraction(60))
    Traceback (most recent call last):
    previz.errors.PrevizError: 60 fps: a gif cannot play faster than 50 fps; use mp4, or play it back slower
    """
    if kind not in CLIP_WRITERS:
        raise PrevizError(f"{kind or 'no ending'} is not a format of clips; use {', '.join(CLIP_WRITERS)}")
    width, height = size
    if kind == "mp4" and (width % 2 or height % 2):
        raise PrevizError(
            f"{width}x{height}: mp4 needs an even width and height; "
            f"use {max(width // 2, 1) * 2}x{max(height // 2, 1) * 2}"
        )
    if max(rate.numerator, rate.denominator) > _LARGEST_TERM:
        raise PrevizError(
            f"{rate} fps: a clip cannot hold a rate that fine exactly; write it with fewer decimals, or as a ratio "
            "like 30000/1001 fps"
        )
    # Two ticks a frame: many viewers slow shorter frames down (common practice, no source).
    if kind in _TICKS and rate > _TICKS[kind] / 2:
        fastest = _TICKS[kind] // 2
        raise PrevizError(
            f"{float(rate):g} fps: a {kind} cannot play faster than {fastest} fps; use mp4, or play it back slower"
        )


def timing_note(kind: str, rate: Fraction) -> str | None:
    """What a viewer should know where the format cannot hold the exact rate; None where it can.

    >>> timing_note("gif", Fraction(24))
    'gif counts in 1/100 s: at 24 fps frames last 4 or 5 of them in turn, so motion is less even'
    >>> timing_note("gif", Fraction(25)) is timing_note("mp4", Fraction(30000, 1001)) is None
    True
    """
    ticks = _TICKS[kind] / rate if kind in _TICKS else Fraction(1)
    if ticks.denominator == 1:
        return None
    least = ticks.numerator // ticks.denominator
    return (
        f"{kind} counts in 1/{_TICKS[kind]} s: at {float(rate):g} fps frames last {least} or {least + 1} of them in "
        "turn, so motion is less even"
    )


def _write(
    path: Path,
    frames: Iterable[Frame],
    size: tuple[int, int],
    rate: Fraction,
    settings: list[str],
) -> int:
    encoding = encoding_of(path.suffix.removeprefix("."))
    with whole_file(path) as part:
        return encode(_pictures(path, frames, encoding), size, rate, settings, path, part)


def _pictures(path: Path, frames: Iterable[Frame], encoding: Encoding) -> Iterator[Picture]:
    empty = True
    for frame in frames:
        empty = False
        yield picture_of(frame.linear, encoding)
    if empty:
        raise PrevizError(f"{path}: there are no frames to write")
