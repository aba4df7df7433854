"""Clips are written by the ffmpeg program and read back by PyAV and Pillow, which share no code of ours."""

import gc
import os
import signal
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from made_up import frame_of, frames_of
from PIL import Image

from previz.delivery import CLIP_WRITERS, check_clip, deliver_clip, timing_note
from previz.delivery.clip.encoder import _AtWork, encode, reencode
from previz.errors import MachineError, PrevizError
from previz.frames import Frame

SIZE = (64, 48)

# Rec. 709 matrix, row by row red green blue -> Y' Cb Cr: ITU-R BT.709, 3.2-3.3 (from memory).
RED, GREEN, BLUE = 0.2126, 0.7152, 0.0722


@contextmanager
def _opened(path: Path) -> Iterator[tuple[av.VideoStream, list[av.VideoFrame]]]:
    """The stream, which tells of itself only while its file is open, and all its frames."""
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        yield stream, list(container.decode(stream))


def _decoded(path: Path) -> list[av.VideoFrame]:
    with _opened(path) as (_, frames):
        return frames


def _yuv_of(codes: np.ndarray) -> np.ndarray:
    """8-bit narrow-range Y'CbCr of full-range R'G'B' 0..1, by the recommendation's formulae."""
    red, green, blue = codes
    luma = RED * red + GREEN * green + BLUE * blue
    return np.array(
        [16 + 219 * luma, 128 + 224 * (blue - luma) / (2 * (1 - BLUE)), 128 + 224 * (red - luma) / (2 * (1 - RED))]
    )


def _bt709_oetf(level: float) -> float:
    """ITU-R BT.709 item 1.2 (from memory), written again here so that the product's own is checked."""
    return 4.5 * level if level < 0.018 else 1.099 * level**0.45 - 0.099


@pytest.mark.parametrize(
    ("count", "rate"),
    [
        (29, Fraction(25)),
        (29, Fraction(24)),
        (1, Fraction(24)),
        (31, Fraction(30000, 1001)),
        (10, Fraction(24000, 1001)),
        (10, Fraction(120000, 1001)),
        (7, Fraction(1)),
        (12, Fraction(999983, 40000)),
    ],
)
def test_an_mp4_has_every_frame_at_exactly_the_rate(tmp_path: Path, count: int, rate: Fraction) -> None:
    path = tmp_path / "pass.mp4"
    assert deliver_clip(path, frames_of(count), rate, SIZE) == count
    with _opened(path) as (stream, frames):
        assert len(frames) == stream.frames == count
        # libav sums a rate up in terms of at most 60000, so that a finer one shows in the times alone.
        if rate.numerator <= 60000:
            assert stream.average_rate == rate
        assert [frame.pts * frame.time_base for frame in frames] == [n / rate for n in range(count)]
        assert stream.duration * stream.time_base == count / rate
        assert (stream.width, stream.height, stream.codec_context.pix_fmt) == (*SIZE, "yuv420p")
        assert stream.codec_context.name == "h264"


def test_an_mp4_says_it_is_bt709(tmp_path: Path) -> None:
    path = tmp_path / "pass.mp4"
    deliver_clip(path, frames_of(2), Fraction(24), SIZE)
    with _opened(path) as (stream, frames):
        tags = stream.codec_context
        # ITU-T H.273: 1 is BT.709 in all three tables; libav's range 1 is the narrow ("tv") one.
        assert (tags.color_primaries, tags.color_trc, tags.colorspace, tags.color_range) == (1, 1, 1, 1)
    assert int(frames[0].colorspace) == 1
    content = path.read_bytes()
    # nclx in the container's colr box: 1, 1, 1, narrow range.
    assert b"colrnclx\x00\x01\x00\x01\x00\x01\x00" in content


def test_an_mp4_can_start_before_it_is_all_there(tmp_path: Path) -> None:
    path = tmp_path / "pass.mp4"
    deliver_clip(path, frames_of(5), Fraction(24), SIZE)
    content = path.read_bytes()
    assert 0 < content.index(b"moov") < content.index(b"mdat")


BARS = [
    (0.0, 0.0, 0.0),
    (1.0, 1.0, 1.0),
    (0.18, 0.18, 0.18),
    (0.01, 0.01, 0.01),
    (0.75, 0.0, 0.0),
    (0.0, 0.75, 0.0),
    (0.0, 0.0, 0.75),
    (0.75, 0.75, 0.0),
    (0.0, 0.75, 0.75),
    (0.6, 0.2, 0.05),
    (4.0, 4.0, 4.0),  # over saturation: white
    (-0.2, 0.5, 9.0),
]


def _bars() -> np.ndarray:
    return np.repeat(np.array(BARS, np.float32)[None, :, None], 32, axis=0).repeat(32, axis=2).reshape(32, -1, 3)


def test_colours_survive_the_mp4_within_8_bit_rounding(tmp_path: Path) -> None:
    """Half a code each for rounding R'G'B' and Y'CbCr; the quantiser at crf 18 adds nothing on flat colour."""
    picture = _bars()
    path = tmp_path / "bars.mp4"
    deliver_clip(path, (frame_of(picture, n) for n in range(3)), Fraction(24), (picture.shape[1], 32))
    frames = _decoded(path)
    planes = [np.asarray(plane) for plane in _planes(frames[1])]
    for index, bar in enumerate(BARS):
        expected = _yuv_of(np.array([_bt709_oetf(min(max(level, 0.0), 1.0)) for level in bar]))
        middle = index * 32 + 16
        found = np.array([planes[0][16, middle], planes[1][8, middle // 2], planes[2][8, middle // 2]], float)
        assert np.abs(found - expected).max() <= 1.0, f"bar {bar}: {found}, expected {expected}"


def _planes(frame: av.VideoFrame) -> list[np.ndarray]:
    """Y', Cb, Cr as stored, before any reader's conversion to RGB."""
    height, width = frame.height, frame.width
    packed = frame.to_ndarray(format="yuv420p").reshape(-1)
    luma, quarter = height * width, height * width // 4
    return [
        packed[:luma].reshape(height, width),
        packed[luma : luma + quarter].reshape(height // 2, width // 2),
        packed[luma + quarter :].reshape(height // 2, width // 2),
    ]


def test_row_0_is_at_the_top_and_column_0_at_the_left(tmp_path: Path) -> None:
    picture = np.zeros((48, 64, 3), np.float32)
    picture[:8, :8] = 1.0
    path = tmp_path / "corner.mp4"
    deliver_clip(path, [frame_of(picture)], Fraction(24), SIZE)
    luma = _planes(_decoded(path)[0])[0]
    assert luma[2, 2] > 220
    assert luma[-3, 2] < 30
    assert luma[2, -3] < 30


def test_colour_stands_where_h264_has_it(tmp_path: Path) -> None:
    """Without a tag chroma sample k of a row is at column 2k (ITU-T H.264, chroma_sample_loc_type 0, from memory)."""
    for column, where in ((32, [16]), (33, [16, 17])):
        picture = np.full((48, 64, 3), 0.2, np.float32)
        picture[:, column] = (0.6, 0.02, 0.02)
        path = tmp_path / f"{column}.mp4"
        deliver_clip(path, [frame_of(picture)], Fraction(24), SIZE)
        red = _planes(_decoded(path)[0])[2].astype(int)[12] - 128
        assert red[where].min() > 15
        assert red[where].max() - red[where].min() <= 3
        assert np.abs(np.delete(red, where)).max() <= 5


@pytest.mark.parametrize(("kind", "tick"), [("gif", 10), ("webp", 1)])
@pytest.mark.parametrize("rate", [Fraction(24), Fraction(25), Fraction(30000, 1001)])
def test_gif_and_webp_show_each_frame_within_half_a_tick_of_its_time(
    tmp_path: Path, kind: str, tick: int, rate: Fraction
) -> None:
    """The last frame lasts as long as the one before it, so the end may be a rounding further off."""
    path = tmp_path / f"pass.{kind}"
    deliver_clip(path, frames_of(25), rate, SIZE)
    with Image.open(path) as image:
        assert image.size == SIZE
        assert image.n_frames == 25
        assert image.info["loop"] == 0
        began = 0
        for number in range(25):
            assert abs(began - number * 1000 / rate) <= Fraction(tick, 2)
            image.seek(number)
            image.load()
            began += image.info["duration"]
        assert abs(began - 25000 / rate) <= 2 * tick
    assert (timing_note(kind, rate) is None) == ((1000 / rate / tick).denominator == 1)


@pytest.mark.parametrize(("kind", "allowed"), [("gif", 3), ("webp", 6)])
def test_gif_and_webp_show_the_colours_of_srgb(tmp_path: Path, kind: str, allowed: int) -> None:
    """GIF has a palette of 256 for 12 colours; WebP is lossy, and its limit is what quality 85 costs on flat colour."""
    picture = _bars()
    path = tmp_path / f"bars.{kind}"
    deliver_clip(path, [frame_of(picture)], Fraction(25), (picture.shape[1], 32))
    with Image.open(path) as image:
        shown = np.asarray(image.convert("RGB")).astype(int)
    for index, bar in enumerate(BARS):
        level = np.clip(np.array(bar), 0, 1)
        # IEC 61966-2-1 (from memory), written again here.
        code = np.where(level <= 0.0031308, 12.92 * level, 1.055 * np.maximum(level, 1e-9) ** (1 / 2.4) - 0.055)
        assert np.abs(shown[16, index * 32 + 16] - 255 * code).max() <= allowed, bar


@pytest.mark.parametrize("size", [(641, 360), (640, 361), (1, 1)])
def test_an_odd_size_is_refused_before_any_frame_is_made(tmp_path: Path, size: tuple[int, int]) -> None:
    def never() -> Iterator[Frame]:
        pytest.fail("a frame was asked for")
        yield

    with pytest.raises(PrevizError, match=r"even width and height; use \d*[02468]x\d*[02468]$"):
        deliver_clip(tmp_path / "pass.mp4", never(), Fraction(24), size)
    assert list(tmp_path.iterdir()) == []


def test_a_rate_that_gif_cannot_play_is_refused() -> None:
    check_clip("gif", SIZE, Fraction(50))
    with pytest.raises(PrevizError, match="60 fps: a gif cannot play faster than 50 fps"):
        check_clip("gif", SIZE, Fraction(60))


def test_a_rate_too_fine_to_be_held_exactly_is_refused() -> None:
    with pytest.raises(PrevizError, match="1234567/50000 fps: a clip cannot hold a rate that fine exactly"):
        check_clip("mp4", SIZE, Fraction(1234567, 50000))


def test_an_unknown_format_is_refused(tmp_path: Path) -> None:
    with pytest.raises(PrevizError, match="mov is not a format of clips; use mp4, gif, webp"):
        deliver_clip(tmp_path / "pass.mov", frames_of(1), Fraction(24), SIZE)


def test_no_frames_is_an_error_and_no_file(tmp_path: Path) -> None:
    with pytest.raises(PrevizError, match="there are no frames"):
        deliver_clip(tmp_path / "pass.mp4", [], Fraction(24), SIZE)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("kind", CLIP_WRITERS)
@pytest.mark.parametrize("end", [RuntimeError("the renderer broke"), KeyboardInterrupt(), SystemExit(143)])
def test_a_clip_that_is_broken_off_leaves_nothing(tmp_path: Path, kind: str, end: BaseException) -> None:
    def broken() -> Iterator[Frame]:
        yield from frames_of(10)
        raise end

    with pytest.raises(type(end)):
        deliver_clip(tmp_path / f"pass.{kind}", broken(), Fraction(24), SIZE)
    assert list(tmp_path.iterdir()) == []


def test_a_clip_that_is_broken_off_leaves_the_older_one_alone(tmp_path: Path) -> None:
    path = tmp_path / "pass.mp4"
    path.write_bytes(b"yesterday's")

    def broken() -> Iterator[Frame]:
        yield from frames_of(3)
        assert path.read_bytes() == b"yesterday's"
        raise RuntimeError("the renderer broke")

    with pytest.raises(RuntimeError):
        deliver_clip(path, broken(), Fraction(24), SIZE)
    assert path.read_bytes() == b"yesterday's"
    assert list(tmp_path.iterdir()) == [path]
    deliver_clip(path, frames_of(3), Fraction(24), SIZE)
    assert path.read_bytes() != b"yesterday's"
    assert list(tmp_path.iterdir()) == [path]


def test_a_picture_of_another_size_is_not_written(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="not \\(48, 64, 3\\) uint8"):
        deliver_clip(tmp_path / "pass.mp4", frames_of(1, (32, 32)), Fraction(24), SIZE)
    assert list(tmp_path.iterdir()) == []


def _encoder_that(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    program = tmp_path / "ffmpeg"
    program.write_text("\n".join(["#!/bin/sh", *lines, ""]))
    program.chmod(0o755)
    monkeypatch.setattr("previz.delivery.clip.encoder.ffmpeg_program", lambda: str(program))


def test_an_encoder_that_dies_is_one_clear_error_and_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _encoder_that(tmp_path, monkeypatch, "echo 'Unknown encoder libx264' >&2", "exit 8")
    with pytest.raises(MachineError, match=r"pass.mp4: the video encoder stopped \(Unknown encoder libx264\)"):
        deliver_clip(tmp_path / "out" / "pass.mp4", frames_of(200), Fraction(24), SIZE)
    assert list((tmp_path / "out").iterdir()) == []


def test_an_encoder_that_is_killed_is_one_clear_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _encoder_that(tmp_path, monkeypatch, "head -c 100 >/dev/null", "kill -9 $$")
    with pytest.raises(MachineError, match=r"the video encoder stopped \(it ended with status -9\)"):
        deliver_clip(tmp_path / "out" / "pass.mp4", frames_of(200), Fraction(24), SIZE)


@pytest.mark.parametrize("when", ["mid-picture", "at the end"])
def test_an_encoder_that_is_stopped_is_not_waited_for_without_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    """It takes some of a picture that the pipe does not hold whole, or all of them, and then does nothing more."""
    takes = "head -c 1000 >/dev/null" if when == "mid-picture" else "cat >/dev/null"
    # Should we wait all the same, it ends: then the message is another one.
    _encoder_that(tmp_path, monkeypatch, takes, "exec sleep 300")
    monkeypatch.setattr("previz.delivery.clip.encoder._PATIENCE", 0.5)
    size = (320, 240)
    with pytest.raises(MachineError, match=r"pass.mp4: the video encoder has taken nothing for 0.5 s"):
        deliver_clip(tmp_path / "out" / "pass.mp4", frames_of(2, size), Fraction(24), size)
    assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere only the file tells that it works")
def test_an_encoder_that_works_long_after_the_last_picture_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pictures of 2160 lines that it has looked ahead at took over two minutes on a busy machine."""
    end = tmp_path / "end"
    _encoder_that(tmp_path, monkeypatch, "cat >/dev/null", f"while [ ! -e '{end}' ]; do sleep 0.05; done")
    monkeypatch.setattr("previz.delivery.clip.encoder._PATIENCE", 0.05)
    asked = []

    def since(_: _AtWork) -> bool:
        """It works, says this, whatever the system makes of it; and ends once that was asked for the third time."""
        asked.append("")
        if len(asked) == 3:
            end.touch()
        return True

    monkeypatch.setattr(_AtWork, "since", since)
    pictures = [np.zeros((SIZE[1], SIZE[0], 3), np.uint8)] * 2
    assert encode(pictures, SIZE, Fraction(24), [], tmp_path / "pass.mp4", tmp_path / "pass.part") == 2
    assert len(asked) >= 3


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere only the file tells that it works")
def test_a_program_that_uses_the_processor_is_at_work_and_one_that_is_stopped_is_not(tmp_path: Path) -> None:
    program = subprocess.Popen([sys.executable, "-c", "while True: pass"])
    try:
        at_work = _AtWork(program, tmp_path / "pass.part")
        _comes_true(at_work.since)
        program.send_signal(signal.SIGSTOP)
        _comes_true(lambda: " T " in Path(f"/proc/{program.pid}/stat").read_text())
        _comes_true(lambda: not at_work.since())
        (tmp_path / "pass.part").write_bytes(b"a picture")
        assert at_work.since()
        _comes_true(lambda: not at_work.since())
    finally:
        program.kill()
        program.wait()


def _comes_true(true: Callable[[], bool]) -> None:
    """Sooner or later: the bound only keeps the tests from hanging."""
    end = time.monotonic() + 120
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


@pytest.mark.parametrize("says", ["", "echo frame=1"], ids=["from the start", "later"])
def test_nor_is_one_that_encodes_a_clip_once_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, says: str) -> None:
    _encoder_that(tmp_path, monkeypatch, says, "exec sleep 300")
    monkeypatch.setattr("previz.delivery.clip.encoder._PATIENCE", 0.5)
    with pytest.raises(MachineError, match=r"page.mp4: the video encoder has told of nothing done for 0.5 s"):
        reencode(tmp_path / "pass.mp4", [], tmp_path / "page.mp4")


def test_an_encoder_that_is_not_there_is_one_clear_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("previz.delivery.clip.encoder.ffmpeg_program", lambda: str(tmp_path / "nowhere"))
    with pytest.raises(MachineError, match="cannot be started"):
        deliver_clip(tmp_path / "out" / "pass.mp4", frames_of(1), Fraction(24), SIZE)


def test_a_full_disk_is_one_clear_error_and_no_file(tmp_path: Path) -> None:
    """A disk of 64 kB, which only root may mount."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)], capture_output=True)
    if mounted.returncode:
        pytest.skip("mounting a small disk needs root")
    rng = np.random.default_rng(1)
    noise = (frame_of(rng.random((256, 256, 3), np.float32), n) for n in range(40))
    try:
        with pytest.raises(MachineError, match="the disk is full; free some space"):
            deliver_clip(disk / "pass.mp4", noise, Fraction(24), (256, 256))
        assert list(disk.iterdir()) == []
    finally:
        subprocess.run(["umount", str(disk)], check=True)


@pytest.mark.parametrize("blocked", ["a file where the folder should be", "a folder where the file should be"])
def test_a_path_that_cannot_be_written_is_one_clear_error(tmp_path: Path, blocked: str) -> None:
    if blocked == "a file where the folder should be":
        (tmp_path / "out").write_text("in the way")
    else:
        (tmp_path / "out" / "pass.mp4").mkdir(parents=True)
    with pytest.raises(MachineError, match=r"pass.mp4(: cannot be written| is a folder)"):
        deliver_clip(tmp_path / "out" / "pass.mp4", frames_of(1), Fraction(24), SIZE)


def test_the_same_frames_give_the_same_file(tmp_path: Path) -> None:
    for name in ("one.mp4", "two.mp4"):
        deliver_clip(tmp_path / name, frames_of(12), Fraction(24), SIZE)
    assert (tmp_path / "one.mp4").read_bytes() == (tmp_path / "two.mp4").read_bytes()


def test_memory_does_not_grow_with_the_length_of_a_clip(tmp_path: Path) -> None:
    """Peak of 600 frames against that of 60; one frame of 64 x 48 is 37 kB in linear light."""
    deliver_clip(tmp_path / "warm.mp4", frames_of(2), Fraction(24), SIZE)  # tables and imports
    peaks = []
    for count in (60, 600):
        gc.collect()
        tracemalloc.start()
        deliver_clip(tmp_path / "pass.mp4", frames_of(count), Fraction(24), SIZE)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    frame = 64 * 48 * 3 * 4
    assert peaks[1] < peaks[0] + frame, peaks
    assert peaks[1] < 10 * frame, peaks


@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="this system cannot keep a program to one core")
@pytest.mark.parametrize("kind", CLIP_WRITERS)
def test_the_file_is_the_same_on_one_core_and_on_all(tmp_path: Path, kind: str) -> None:
    """The encoder inherits the cores that this process may use, and asks how many there are.

    So small a clip is enough: H.264 with as many threads as the encoder chooses by itself has other bytes then.
    """
    all_cores, rng, size = os.sched_getaffinity(0), np.random.default_rng(5), (160, 96)
    if len(all_cores) < 2:
        pytest.skip("there is one core only")
    grain = rng.random((size[1], size[0], 3)).astype(np.float32) * 0.2
    moving = [frame_of(frame.linear + np.roll(grain, 3 * frame.number, axis=1)) for frame in frames_of(12, size)]
    written = []
    try:
        for cores in ({min(all_cores)}, all_cores):
            os.sched_setaffinity(0, cores)
            path = tmp_path / str(len(cores)) / f"clip.{kind}"
            deliver_clip(path, moving, Fraction(24), size)
            written.append(path.read_bytes())
    finally:
        os.sched_setaffinity(0, all_cores)
    assert written[0] == written[1]
