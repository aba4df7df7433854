"""Frames that are kept until their clip is whole: read as they were drawn, or drawn anew."""

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from previz.delivery import KeptFrame, Reel, deliver_clip, encoding_of, reel
from previz.delivery.pictures import deep_picture_of, levels_of, picture_of
from previz.errors import MachineError
from previz.files import read_checked, write_checked
from previz.frames import Frame
from previz.physics.colour import bt709_encoded, srgb_encoded
from tests.delivery.made_up import FACTS

DIGEST, OTHER = "a" * 64, "b" * 64


def noisy(number: int) -> Frame:
    """Light as a sensor has it: below black, above white and all between."""
    linear = np.random.default_rng(number).uniform(-0.1, 1.2, (48, 64, 3)).astype(np.float32)
    return Frame(number, Fraction(number, 120), linear, FACTS)


class Drawing:
    """Draws frames, and lists which ranges it was asked for."""

    def __init__(self) -> None:
        self.asked: list[range] = []

    def __call__(self, numbers: range) -> Iterator[Frame]:
        self.asked.append(numbers)
        return map(noisy, numbers)


def filmed(home: Path, upto: int | None = None, digest: str = DIGEST, numbers: range = range(8)) -> Drawing:
    """A run that keeps its frames and is stopped after `upto` of them, or comes to the end of them."""
    home.mkdir(exist_ok=True)
    draw = Drawing()
    with Reel(home, digest, numbers, bt709_encoded) as frames:
        for count, frame in enumerate(frames.frames(draw), start=1):
            frames.keep(frame)
            if count == upto:
                break
    return draw


@pytest.mark.parametrize("encoding", [bt709_encoded, srgb_encoded])
def test_the_light_that_is_read_comes_to_the_very_same_codes(encoding: Callable[..., object]) -> None:
    """All 65536 steps of light that a picture tells apart, which every code is the nearest of; tried by trying all."""
    every = (np.arange(65536, dtype=np.float32) / np.float32(65535)).reshape(256, 256, 1)
    codes = picture_of(every, encoding)
    assert len(np.unique(codes)) == 256
    assert (picture_of(levels_of(codes, encoding), encoding) == codes).all()
    deep = deep_picture_of(every)
    assert (deep.ravel() == np.arange(65536)).all()
    assert (deep_picture_of(levels_of(deep, None)) == deep).all()
    assert (picture_of(levels_of(deep, None), encoding) == codes).all()


def test_a_run_goes_on_where_the_last_one_stopped(tmp_path: Path) -> None:
    assert filmed(tmp_path / "home", upto=3).asked == [range(8)]
    assert filmed(tmp_path / "home", upto=5).asked == [range(3, 8)]
    assert filmed(tmp_path / "home").asked == [range(5, 8)]
    assert filmed(tmp_path / "home").asked == []


@pytest.mark.parametrize("kind", ["mp4", "gif"])
def test_a_clip_of_kept_frames_is_that_of_drawn_ones_to_the_byte(tmp_path: Path, kind: str) -> None:
    whole, gone_on = tmp_path / f"whole.{kind}", tmp_path / f"gone_on.{kind}"
    deliver_clip(whole, map(noisy, range(6)), Fraction(24), (64, 48))
    (tmp_path / "home").mkdir()
    for upto in (2, 4, None):
        with Reel(tmp_path / "home", DIGEST, range(6), encoding_of(kind)) as frames:
            kept = [frame for frame, _ in zip(frames.frames(Drawing()), range(upto or 6), strict=False)]
            for frame in kept:
                frames.keep(frame)
    assert [isinstance(frame, KeptFrame) for frame in kept] == [True] * 4 + [False] * 2
    assert [(frame.number, frame.time, frame.facts) for frame in kept] == [
        (n, Fraction(n, 120), FACTS) for n in range(6)
    ]
    deliver_clip(gone_on, kept, Fraction(24), (64, 48))
    assert gone_on.read_bytes() == whole.read_bytes()


def test_what_was_kept_with_a_frame_comes_back(tmp_path: Path) -> None:
    cells = np.random.default_rng(1).random((18, 24, 3)).astype(np.float32)
    with Reel(tmp_path, DIGEST, range(2), None) as frames:
        frames.keep(replace(noisy(0), cells=cells))
        frames.keep(noisy(1))
    with Reel(tmp_path, DIGEST, range(2), None) as frames:
        first, second = frames.frames(Drawing())
    assert isinstance(first, KeptFrame) and isinstance(second, KeptFrame)
    assert first.cells is not None and (first.cells == cells).all() and second.cells is None
    assert np.abs(first.linear - np.clip(noisy(0).linear, 0, 1)).max() < 1 / 65535


@pytest.mark.parametrize("damage", ["flipped", "cut", "emptied", "renamed", "gone"])
def test_a_frame_that_is_not_whole_is_drawn_anew(tmp_path: Path, damage: str) -> None:
    filmed(tmp_path / "home")
    (folder,) = (path for path in (tmp_path / "home").iterdir())
    path = folder / "000003.frame"
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    if damage == "flipped":
        path.write_bytes(data)
    elif damage == "renamed":  # another frame in its place
        path.write_bytes((folder / "000004.frame").read_bytes())
    elif damage == "gone":
        path.unlink()
    else:
        path.write_bytes(data[: len(data) // 2] if damage == "cut" else b"")
    assert filmed(tmp_path / "home").asked == [range(3, 4)]
    assert filmed(tmp_path / "home").asked == []


def test_frames_of_another_take_are_left_alone_and_not_looked_at(tmp_path: Path) -> None:
    filmed(tmp_path / "home", upto=4)
    assert filmed(tmp_path / "home", upto=2, digest=OTHER).asked == [range(8)]
    assert filmed(tmp_path / "home", digest=DIGEST, numbers=range(2, 8)).asked == [range(4, 8)]
    # A folder's name is only the beginning of a digest.
    assert filmed(tmp_path / "home", digest=DIGEST[:16] + OTHER[16:]).asked == [range(8)]


def test_frames_of_another_take_go_after_a_week_and_with_fresh_all_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    filmed(tmp_path / "home", upto=4)
    filmed(tmp_path / "home", upto=4, digest=OTHER)
    (tmp_path / "home" / "notes").mkdir()
    now = reel.time.time()
    monkeypatch.setattr(reel.time, "time", lambda: now + 8 * 86400)
    filmed(tmp_path / "home", upto=4, digest=OTHER)
    assert sorted(path.name for path in (tmp_path / "home").iterdir()) == [OTHER[:16], "notes"]
    with Reel(tmp_path / "home", OTHER, range(8), bt709_encoded, fresh=True) as frames:
        assert frames.missing == [range(8)]
    assert [path.name for path in (tmp_path / "home").iterdir()] == ["notes"]


def test_half_a_frame_that_a_killed_run_left_goes(tmp_path: Path) -> None:
    filmed(tmp_path / "home", upto=2)
    (folder,) = (tmp_path / "home").iterdir()
    (folder / "draft-abc12345.tmp").write_bytes(b"half")
    filmed(tmp_path / "home", upto=3)
    assert [path.name for path in sorted(folder.iterdir())] == [f"00000{n}.frame" for n in range(3)]


def test_a_whole_clip_leaves_nothing(tmp_path: Path) -> None:
    with Reel(tmp_path, DIGEST, range(4), bt709_encoded) as frames:
        for frame in frames.frames(Drawing()):
            frames.keep(frame)
        assert frames.kept == 4
        frames.finish()
        assert frames.kept == 0
    assert list(tmp_path.iterdir()) == []


def test_no_more_is_kept_than_half_of_what_is_free(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    frame = 48 * 64 * 3
    monkeypatch.setattr(reel.shutil, "disk_usage", lambda _: type("", (), {"free": 8 * frame}))
    with Reel(tmp_path, DIGEST, range(8), bt709_encoded) as frames:
        for each in frames.frames(Drawing()):
            frames.keep(each)
        assert frames.kept == 3  # a file is a little more than its picture
        assert frames.given_up is not None and frames.given_up.startswith("they would take more than the 0 MB left")
    assert sum(path.stat().st_size for path in tmp_path.rglob("*.frame")) <= 4 * frame


def test_room_that_other_takes_hold_can_be_had_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reel, "MOST_UNFINISHED", 50_000)
    filmed(tmp_path, upto=4, digest="b" * 64)
    with Reel(tmp_path, DIGEST, range(8), bt709_encoded) as frames:
        frames.keep(noisy(0))
        frames.keep(noisy(1))
        assert frames.kept == 1
        assert frames.given_up is not None
        assert frames.given_up.endswith(", where other takes have 0 MB; --fresh clears them away")
    with Reel(tmp_path, DIGEST, range(8), bt709_encoded, fresh=True) as frames:
        frames.keep(noisy(0))
        frames.keep(noisy(1))
        assert (frames.kept, frames.given_up) == (2, None)


def test_those_side_by_side_share_the_room_and_other_takes_count(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    frame = 48 * 64 * 3
    filmed(tmp_path, 2, digest="e" * 64)
    monkeypatch.setattr(reel.shutil, "disk_usage", lambda _: type("", (), {"free": 10 * frame}))
    reels = [Reel(tmp_path, each * 64, range(8), bt709_encoded, among=2) for each in "ab"]
    for together in zip(*(each.frames(Drawing()) for each in reels), strict=True):
        for each, one in zip(reels, together, strict=True):
            each.keep(one)
    assert [each.kept for each in reels] == [1, 1]  # half of 12 are for all; 2 are there, a file is a little more
    for each in reels:
        each.close()


def test_a_full_disk_ends_the_keeping_and_not_the_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(reel, "write_checked", full)
    with Reel(tmp_path, DIGEST, range(8), bt709_encoded) as frames:
        for each in frames.frames(Drawing()):
            frames.keep(each)
        assert frames.kept == 0
        assert frames.given_up == "the disk is full"
    assert list(tmp_path.iterdir()) == []


def test_a_frame_that_goes_while_the_run_goes_on_is_told(tmp_path: Path) -> None:
    filmed(tmp_path / "home", upto=4)
    with Reel(tmp_path / "home", DIGEST, range(8), bt709_encoded) as frames:
        frames._path(2).unlink()
        with pytest.raises(MachineError, match=r"000002\.frame was whole when this run began, .* start it once more"):
            list(frames.frames(Drawing()))


def test_drawing_ends_with_who_asks(tmp_path: Path) -> None:
    ended: list[bool] = []

    def draw(numbers: range) -> Iterator[Frame]:
        try:
            yield from map(noisy, numbers)
        finally:
            ended.append(True)

    with Reel(tmp_path, DIGEST, range(8), bt709_encoded) as frames:
        walking = frames.frames(draw)
        next(walking)
        assert not ended
        walking.close()  # type: ignore[attr-defined]
        assert ended


def test_what_is_said_in_a_frame_is_under_its_digest_too(tmp_path: Path) -> None:
    """Another frame's words in a file that is whole do not pass."""
    filmed(tmp_path / "home", upto=1)
    (path,) = (tmp_path / "home").rglob("*.frame")
    arrays = read_checked(path)
    assert arrays is not None
    said = json.loads(arrays["said"].tobytes())
    assert said["digest"] == DIGEST and said["number"] == 0
    said["number"] = 1
    write_checked(path, {**arrays, "said": np.frombuffer(json.dumps(said).encode(), np.uint8)})
    assert filmed(tmp_path / "home").asked == [range(8)]
