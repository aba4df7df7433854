"""The frames of a clip that are drawn already, beside the clip until that is whole: a run that was stopped goes on.

A frame is kept as what the encoder takes: the codes that its picture has in the clip, without its slate. Reading them
gives other light than was drawn, but to the very same codes. Each file stands under the digest of all its bytes and of
all that the frames are made from, so that a damaged or half one, or one of another take, is drawn anew.
"""

import dataclasses
import errno
import json
import re
import shutil
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from previz.delivery.pictures import Encoding, deep_picture_of, levels_of, picture_of
from previz.errors import MachineError
from previz.files import Arrays, read_checked, write_checked
from previz.frames import Facts, Frame

#: All frames of one clip together take no more, nor more than half of what the disk has free: the clip needs room too.
MOST_UNFINISHED = 10_000_000_000

_SHARE_OF_FREE = 0.5

_FOLDER_NAME = re.compile(r"[0-9a-f]{16}")
_FILE_NAME = re.compile(r"(\d{6,})\.frame")
_DRAFT_NAME = re.compile(r"draft-\w+\.tmp")

_FORGOTTEN = 7 * 86400.0  # frames of another digest that nobody went on with for that long go [s]


@dataclass(frozen=True)
class KeptFrame(Frame):
    """A frame as it was kept: `linear` comes to the codes that were drawn."""


class Reel:
    """Frames of one clip, kept as they are drawn.

    Parameters
    ----------
    home : Path
        The folder of what is not finished, claimed by this run (`scratch.claimed`).
    digest : str
        Names all that the frames are made from (64 hex digits); frames of another are not looked at.
    numbers : range
        The frames of the clip.
    encoding : Encoding or None
        The transfer function that the clip is written with. None keeps pictures so deep that any may follow, which
        takes twice as much room.
    fresh : bool
        Whether what a run before has left is removed.
    among : int
        How many reels that are filmed at the same time share the room that there is.
    """

    def __init__(
        self, home: Path, digest: str, numbers: range, encoding: Encoding | None, *, fresh: bool = False, among: int = 1
    ) -> None:
        self._home, self._digest, self._numbers, self._encoding = home, digest, numbers, encoding
        self._among = among
        self.folder = home / digest[:16]
        self._sweep(fresh)
        #: Numbers of the frames that were there from the start, whole.
        self.there = frozenset(number for number in self._listed() if self._found(number) is not None)
        self._kept = set(self.there)
        self._room: float | None = None  # for what this run adds [bytes]
        self._added = 0
        self._writer = ThreadPoolExecutor(1, thread_name_prefix="reel")  # begins with the first frame
        self._writing: Future[None] | None = None
        #: Why no more frames are kept; None as long as they are.
        self.given_up: str | None = None

    @property
    def kept(self) -> int:
        """How many frames are kept by now."""
        self._wait()
        return len(self._kept)

    @property
    def missing(self) -> list[range]:
        """The frames that are still to be drawn, as few ranges as can be."""
        runs: list[range] = []
        for number in self._numbers:
            if number in self.there:
                continue
            if runs and runs[-1].stop == number:
                runs[-1] = range(runs[-1].start, number + 1)
            else:
                runs.append(range(number, number + 1))
        return runs

    def frames(self, draw: Callable[[range], Iterator[Frame]]) -> Iterator[Frame]:
        """All frames in order: those that were there, and between them what `draw` makes of those that are missing.

        Raises
        ------
        MachineError
            One that was there is not any more.
        """
        at = self._numbers.start
        for run in [*self.missing, range(self._numbers.stop, self._numbers.stop)]:
            for number in range(at, run.start):
                yield self._whole(number)
            if run:
                yield from _closed(draw(run))
            at = run.stop

    def film(self, draw: Callable[[range], Iterator[Frame]]) -> Iterator[Frame]:
        """All `frames`, each kept before it is handed over."""
        for frame in _closed(self.frames(draw)):
            self.keep(frame)
            yield frame

    def keep(self, frame: Frame) -> None:
        """Keep a frame unless it is kept, or the room for it has run out; another thread writes it meanwhile."""
        self._wait()
        if isinstance(frame, KeptFrame) or self.given_up is not None:
            return
        self._writing = self._writer.submit(self._write, frame)

    def finish(self) -> None:
        """The clip is whole: its frames go."""
        self._wait()
        shutil.rmtree(self.folder, ignore_errors=True)
        self._kept.clear()

    def close(self) -> None:
        """Wait for the frame that is being written. A folder without any goes."""
        self._wait()
        self._writer.shutdown()
        with suppress(OSError):
            self.folder.rmdir()

    def __enter__(self) -> "Reel":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- the folder ---

    def _sweep(self, fresh: bool) -> None:
        """What goes before anything is read: half files, and frames of other takes that are forgotten, or all."""
        for folder in self._home.iterdir():
            if not _FOLDER_NAME.fullmatch(folder.name) or folder.is_symlink() or not folder.is_dir():
                continue
            forgotten = folder != self.folder and time.time() - folder.stat().st_mtime > _FORGOTTEN
            if fresh or forgotten:
                shutil.rmtree(folder, ignore_errors=True)
        for path in self.folder.iterdir() if self.folder.is_dir() else ():
            if _DRAFT_NAME.fullmatch(path.name):
                path.unlink(missing_ok=True)

    def _listed(self) -> Iterator[int]:
        for path in self.folder.iterdir() if self.folder.is_dir() else ():
            found = _FILE_NAME.fullmatch(path.name)
            if found and int(found[1]) in self._numbers:
                yield int(found[1])

    def _path(self, number: int) -> Path:
        return self.folder / f"{number:06}.frame"

    def _whole(self, number: int) -> KeptFrame:
        frame = self._read(number)
        if frame is None:
            raise MachineError(
                f"{self._path(number)} was whole when this run began, and is not any more; start it once more, and "
                "let nothing else write there"
            )
        return frame

    def _found(self, number: int) -> tuple[Arrays, dict[str, Any]] | None:
        """What a frame's file holds, and what is said of it; None unless it is whole and of this take."""
        arrays = read_checked(self._path(number))
        if arrays is None:
            return None
        said: dict[str, Any] = json.loads(arrays["said"].tobytes())
        if said["digest"] != self._digest or said["number"] != number:
            return None
        return arrays, said

    def _read(self, number: int) -> KeptFrame | None:
        found = self._found(number)
        if found is None:
            return None
        arrays, said = found
        linear = levels_of(arrays["picture"], self._encoding)
        return KeptFrame(number, Fraction(said["time"]), linear, Facts(**said["facts"]), arrays.get("cells"))

    def _write(self, frame: Frame) -> None:
        encoding = self._encoding
        picture = deep_picture_of(frame.linear) if encoding is None else picture_of(frame.linear, encoding)
        said = {
            "digest": self._digest,
            "number": frame.number,
            "time": str(frame.time),
            "facts": dataclasses.asdict(frame.facts),
        }
        arrays: Arrays = {
            "picture": picture,
            "said": np.frombuffer(json.dumps(said, default=_plain).encode(), np.uint8),
        }
        if frame.cells is not None:
            arrays["cells"] = frame.cells
        try:
            self.folder.mkdir(exist_ok=True)
            if self._room is None:
                self._room = self._left() / self._among
            if self._added + picture.nbytes > self._room:
                self.given_up = f"they would take more than the {self._room / 1e6:.0f} MB left for them in {self._home}"
                if (others := self._used() - self._used(self.folder.name)) and self._among == 1:
                    self.given_up += f", where other takes have {others / 1e6:.0f} MB; --fresh clears them away"
                return
            self._added += write_checked(self._path(frame.number), arrays, at_once=True)
            self._kept.add(frame.number)
        except OSError as error:
            full = error.errno in (errno.ENOSPC, errno.EDQUOT)
            self.given_up = "the disk is full" if full else (error.strerror or str(error)).lower()

    def _left(self) -> float:
        """How much may still be kept for the clip, beside what is kept of this and of other takes. [bytes]"""
        used = self._used()
        free = shutil.disk_usage(self._home).free
        return max(min(MOST_UNFINISHED, (free + used) * _SHARE_OF_FREE) - used, 0.0)

    def _used(self, folder: str = "*") -> int:
        """By what is kept, of this and of other takes. [bytes]"""
        return sum(path.lstat().st_size for path in self._home.glob(f"{folder}/*.frame"))

    def _wait(self) -> None:
        writing, self._writing = self._writing, None
        if writing is not None:
            writing.result()


def _closed(frames: Iterator[Frame]) -> Iterator[Frame]:
    """The frames; drawing ends when nobody wants any more."""
    close = getattr(frames, "close", None)
    try:
        yield from frames
    finally:
        if close is not None:
            close()


def _plain(value: Any) -> Any:
    return value.item()  # a number of numpy's
