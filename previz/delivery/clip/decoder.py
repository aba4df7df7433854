"""Driving the ffmpeg program the other way: frames of a film that was kept, one at a time."""

import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from previz.delivery.clip.encoder import ended, ffmpeg_program, why_it_stopped
from previz.delivery.pictures import Picture
from previz.errors import MachineError


def decoded(path: Path, size: tuple[int, int], numbers: range) -> Iterator[Picture]:
    """Frames of a film, counted from 0, (h, w, 3) uint8 as they were handed in.

    Parameters
    ----------
    size : (int, int)
        Width and height of its pictures. [px]

    Raises
    ------
    MachineError
        The program could not be started or gave up, or the film ends before the last of them.
    """
    length = size[0] * size[1] * 3
    command = [
        *(ffmpeg_program(), "-hide_banner", "-loglevel", "error", "-nostdin", "-i", f"file:{path}"),
        *("-vf", f"trim=start_frame={numbers.start}:end_frame={numbers.stop}", "-fps_mode", "passthrough"),
        *("-f", "rawvideo", "-pix_fmt", "rgb24", "pipe:1"),
    ]
    with tempfile.TemporaryFile() as complaints:
        program = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=complaints)
        assert program.stdout is not None  # it was started with a pipe
        try:
            for _ in numbers:
                data = program.stdout.read(length)
                if len(data) < length:
                    complaints.seek(0)
                    said = complaints.read().decode(errors="replace")
                    raise MachineError(why_it_stopped(said, program.wait(), path))
                yield np.frombuffer(data, np.uint8).reshape(size[1], size[0], 3)
        finally:
            program.stdout.close()
            ended(program)
