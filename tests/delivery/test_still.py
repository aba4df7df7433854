"""Stills are read back with Pillow and, for the tags, byte by byte."""

import struct
from pathlib import Path

import numpy as np
import pytest
from made_up import frame_of, frames_of
from PIL import Image

from previz.delivery import deliver_still, png_of, words_over
from previz.errors import MachineError, PrevizError


def _chunks(content: bytes) -> dict[bytes, bytes]:
    """PNG chunks by name, as the PNG specification lays them out: length, name, data, CRC."""
    chunks, at = {}, 8
    while at < len(content):
        (length,) = struct.unpack_from(">I", content, at)
        chunks[content[at + 4 : at + 8]] = content[at + 8 : at + 8 + length]
        at += 12 + length
    return chunks


def test_a_still_holds_srgb_codes_and_says_so(tmp_path: Path) -> None:
    levels = np.array([0.0, 0.18, 0.5, 1.0, 3.0, -0.1], np.float32)
    path = tmp_path / "pass-0000.png"
    deliver_still(path, frame_of(np.repeat(levels[None, :, None], 3, axis=2)))
    with Image.open(path) as image:
        # 0.18 -> 0.4613561 (colour-science 0.4.6 eotf_inverse_sRGB, as quoted in its docstring), times 255: 117.6.
        # 0.5 -> 187.5 by IEC 61966-2-1 (from memory), 187.516.
        assert np.asarray(image)[0, :, 1].tolist() == [0, 118, 188, 255, 255, 0]
        assert image.mode == "RGB"
    chunks = _chunks(path.read_bytes())
    assert chunks[b"sRGB"] == b"\0"
    assert chunks[b"gAMA"] == struct.pack(">I", 45455)
    assert list(chunks).index(b"sRGB") < list(chunks).index(b"IDAT")


def test_row_0_is_at_the_top_and_column_0_at_the_left(tmp_path: Path) -> None:
    picture = np.zeros((4, 6, 3), np.float32)
    picture[0, 0] = (1.0, 0.0, 0.0)
    path = tmp_path / "corner.png"
    deliver_still(path, frame_of(picture))
    with Image.open(path) as image:
        assert image.size == (6, 4)
        assert image.getpixel((0, 0)) == (255, 0, 0)


def test_a_still_is_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "out" / "pass-0000.png"

    def disk_full(image: Image.Image, part: Path, **_: object) -> None:
        part.write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Image.Image, "save", disk_full)
    with pytest.raises(MachineError, match="the disk is full"):
        deliver_still(path, next(frames_of(1)))
    assert list(path.parent.iterdir()) == []


def test_a_still_can_stay_in_memory(tmp_path: Path) -> None:
    frame = next(frames_of(1))
    deliver_still(tmp_path / "pass.png", frame)
    assert png_of(frame) == (tmp_path / "pass.png").read_bytes()


def test_words_over_a_picture_darken_only_what_is_behind_them() -> None:
    bright = frame_of(np.full((200, 400, 3), 0.6, np.float32))
    linear = words_over(bright, ["line 12: f/1 is wider than pocket opens"]).linear
    assert linear.shape == bright.linear.shape
    assert (linear[-50:] == bright.linear[-50:]).all()  # the words need two lines at most
    assert linear[:12].max() < 0.1  # above them
    assert linear[:60].max() == pytest.approx(0.8, abs=0.01)  # letters
    full = words_over(bright, [f"line {number}: nothing of this can be" for number in range(50)]).linear
    assert full[:12].max() < 0.1 and full[186:195].max() < 0.1  # no line is cut in two by the lower edge


def test_a_still_is_a_png(tmp_path: Path) -> None:
    with pytest.raises(PrevizError, match="a still is a png"):
        deliver_still(tmp_path / "pass.jpg", next(frames_of(1)))
