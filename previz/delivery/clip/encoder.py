"""Driving the ffmpeg program: pictures in through a pipe, one at a time, a clip out.

imageio-ffmpeg carries the program. It is driven here and not through imageio-ffmpeg's own writer, which hands the
frame rate over with two decimals: 30000/1001 would become 29.97.
"""

import errno
import os
import select
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Sequence
from contextlib import suppress
from fractions import Fraction
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Thread
from typing import IO, Any

import numpy as np

from previz.delivery.pictures import Picture
from previz.delivery.whole_file import why_not_written
from previz.errors import MachineError
from previz.scratch import WorkFolder

_PATIENCE = 120.0  # with a program that takes no more pictures, or does not end, and does nothing meanwhile [s]


def ffmpeg_program() -> str:
    """Path of the ffmpeg program. Raises MachineError when there is none."""
    import imageio_ffmpeg

    try:
        return str(imageio_ffmpeg.get_ffmpeg_exe())
    except RuntimeError as error:
        raise MachineError(
            "the video encoder (ffmpeg) is missing; put it back with: pip install --force-reinstall imageio-ffmpeg"
        ) from error


def encode(
    pictures: Iterable[Picture],
    size: tuple[int, int],
    rate: Fraction,
    settings: Sequence[str],
    path: Path,
    part: Path,
) -> int:
    """Encode pictures into the file `part`; returns how many.

    Parameters
    ----------
    pictures : iterable of (h, w, 3) uint8
        Taken one at a time; none is kept.
    size : (int, int)
        Width and height. [px]
    rate : Fraction
        Frames a second, exact.
    settings : sequence of str
        What ffmpeg is told about the output.
    path : Path
        The name the file will have, for messages.
    part : Path
        Where to write.

    Raises
    ------
    MachineError
        The program could not be started, or gave up.
    ValueError
        A picture of another size or kind.
    """
    command = [
        *(ffmpeg_program(), "-hide_banner", "-loglevel", "error", "-nostats", "-y"),
        *("-f", "rawvideo", "-pix_fmt", "rgb24", "-video_size", f"{size[0]}x{size[1]}"),
        *("-r", f"{rate.numerator}/{rate.denominator}", "-i", "pipe:0"),
        *settings,
        f"file:{part}",
    ]
    with tempfile.TemporaryFile() as complaints:
        program = _start(command, complaints)
        at_work = _AtWork(program, part)
        try:
            count = _feed(program, pictures, size, path, at_work)
            status = _waited_for(program, at_work)
        except subprocess.TimeoutExpired:
            raise _no_answer(path) from None
        except _EndedEarly:
            count, status = 0, program.wait() or 1
        finally:
            _closed(program)
        if status:
            complaints.seek(0)
            raise MachineError(why_it_stopped(complaints.read().decode(errors="replace"), status, path))
    return count


def reencode(source: Path, settings: Sequence[str], path: Path) -> None:
    """Encode a clip once more, into `path`. Raises MachineError."""
    command = [
        *(ffmpeg_program(), "-hide_banner", "-loglevel", "error", "-nostats", "-progress", "pipe:1", "-y"),
        *("-i", f"file:{source}"),
        *settings,
        f"file:{path}",
    ]
    with tempfile.TemporaryFile() as complaints:
        program = _start(command, complaints, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE)
        assert program.stdout is not None  # it was started with a pipe
        try:
            if not _read_to_its_end(program.stdout):
                raise _no_answer(path, "told of nothing done")
            status = program.wait(_PATIENCE)
        except subprocess.TimeoutExpired:
            raise _no_answer(path, "not ended") from None
        finally:
            ended(program)
            program.stdout.close()
        if status:
            complaints.seek(0)
            raise MachineError(why_it_stopped(complaints.read().decode(errors="replace"), status, path))


def _read_to_its_end(pipe: IO[bytes]) -> bool:
    """What a program says of its progress, every half second. False where it says nothing for too long."""
    lines: SimpleQueue[bytes] = SimpleQueue()

    def read() -> None:
        with suppress(OSError, ValueError):  # closed under us, once it has been waited for long enough
            for line in iter(pipe.readline, b""):
                lines.put(line)
        lines.put(b"")

    Thread(target=read, daemon=True).start()
    with suppress(Empty):
        while lines.get(timeout=_PATIENCE):
            pass
        return True
    return False


def try_encoder() -> str:
    """Encode a tiny H.264 clip and throw it away; returns the program's version. Raises MachineError."""
    said = subprocess.run([ffmpeg_program(), "-version"], capture_output=True, text=True, check=False).stdout.split()
    grey = [np.full((16, 16, 3), 128, np.uint8)] * 2
    with WorkFolder() as folder:
        clip = folder / "trial.mp4"
        encode(grey, (16, 16), Fraction(24), ["-c:v", "libx264", "-pix_fmt", "yuv420p", "-f", "mp4"], clip, clip)
    return said[2] if len(said) > 2 else "of unknown version"


class _EndedEarly(Exception):
    """The program stopped reading before the pictures were all in."""


def _start(
    command: list[str], complaints: IO[bytes], stdin: int = subprocess.PIPE, stdout: int = subprocess.DEVNULL
) -> "subprocess.Popen[bytes]":
    # Apart from our terminal, so that Ctrl-C does not reach it: we end it, and clear up, ourselves.
    apart: dict[str, Any] = {"start_new_session": True}
    if sys.platform == "win32":
        apart = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}
    try:
        return subprocess.Popen(command, stdin=stdin, stdout=stdout, stderr=complaints, bufsize=0, **apart)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise MachineError(f"the video encoder {command[0]} cannot be started ({reason})") from error


class _AtWork:
    """Whether a program has used the processor, where the system tells it, or made its file longer.

    At the end of a large clip an encoder has dozens of pictures still to do: minutes on a machine that is busy.
    """

    def __init__(self, program: "subprocess.Popen[bytes]", part: Path) -> None:
        self._told, self._part = Path(f"/proc/{program.pid}/stat"), part
        self._seen = self._state()

    def since(self) -> bool:
        """Since this was asked last."""
        before, self._seen = self._seen, self._state()
        return self._seen != before

    def _state(self) -> tuple[int, list[str]]:
        length, spent = 0, []
        with suppress(OSError):
            length = self._part.stat().st_size
        with suppress(OSError):
            spent = self._told.read_text().rpartition(")")[2].split()[11:13]  # by itself and by the system for it
        return length, spent


def _waited_for(program: "subprocess.Popen[bytes]", at_work: _AtWork) -> int:
    """The status it ends with. Raises TimeoutExpired where it neither ends nor works."""
    while True:
        try:
            return program.wait(_PATIENCE)
        except subprocess.TimeoutExpired:
            if not at_work.since():
                raise


def _feed(
    program: "subprocess.Popen[bytes]",
    pictures: Iterable[Picture],
    size: tuple[int, int],
    path: Path,
    at_work: _AtWork,
) -> int:
    assert program.stdin is not None  # it was started with a pipe
    if sys.platform != "win32":
        os.set_blocking(program.stdin.fileno(), False)  # or a write that a picture is too large for waits by itself
    count = 0
    for picture in pictures:
        if picture.shape != (size[1], size[0], 3) or picture.dtype != np.uint8:
            raise ValueError(f"picture {count} is {picture.shape} {picture.dtype}, not {(size[1], size[0], 3)} uint8")
        if not _write_all(program.stdin, np.ascontiguousarray(picture).data.cast("B"), at_work):
            raise _no_answer(path)
        count += 1
    program.stdin.close()
    return count


def _no_answer(path: Path, what: str = "taken nothing") -> MachineError:
    return MachineError(
        f"{path}: the video encoder has {what} for {_PATIENCE:g} s; look whether something stops it, and try again"
    )


def _write_all(pipe: IO[bytes], rest: memoryview, at_work: _AtWork) -> bool:
    """An unbuffered pipe may take less than it is given, or nothing yet. False where it takes nothing for too long."""
    while rest:
        if sys.platform != "win32" and not select.select([], [pipe], [], _PATIENCE)[1]:  # of sockets only, on Windows
            if at_work.since():
                continue
            return False
        try:
            taken = pipe.write(rest)
        except OSError as error:  # EPIPE; Windows says EINVAL
            raise _EndedEarly from error
        rest = rest[taken or 0 :]
    return True


def ended(program: "subprocess.Popen[bytes]") -> None:
    """Make sure the program is gone, whatever happened."""
    if program.poll() is None:
        program.kill()
        program.wait()


def _closed(program: "subprocess.Popen[bytes]") -> None:
    ended(program)
    assert program.stdin is not None
    with suppress(OSError):
        program.stdin.close()


def why_it_stopped(complaints: str, status: int, path: Path) -> str:
    """One sentence from what the program said.

    >>> why_it_stopped("[out#0/mp4 @ 0x1] Error writing trailer: No space left on device", 228, Path("pass.mp4"))
    'pass.mp4: the disk is full; free some space, or choose a folder on another disk with --out'
    """
    for code in (errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EROFS):
        if os.strerror(code) in complaints:
            return why_not_written(path, OSError(code, os.strerror(code)))
    said = next((line.strip() for line in complaints.splitlines() if line.strip()), f"it ended with status {status}")
    return f"{path}: the video encoder stopped ({said}); `previz doctor` tries the encoder out"
