"""One of the processes that draw: what it does when it starts, with a piece of work, and with a frame of a film.

Whatever goes from process to process goes as a file: what is written here and in `crew` was written a moment ago, by
ourselves, into a folder that only this user can read.
"""

import atexit
import os
import pickle
from collections.abc import Callable
from contextlib import suppress
from contextvars import ContextVar
from dataclasses import dataclass
from multiprocessing import parent_process
from multiprocessing.connection import wait
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Any

from previz.frames.spent import Spent

if TYPE_CHECKING:
    from previz.frames.studio import Studio


def start(single: bool) -> None:
    """Begin a process that draws; load, while there is nothing to draw yet, what drawing needs.

    `single`: a rasteriser in software is to use one thread.
    """
    if single:
        os.environ["LP_NUM_THREADS"] = "1"  # of Mesa's rasteriser; it reads this as it starts
    Thread(target=_end_with_parent, daemon=True).start()
    # At the end nothing is left to tidy up that ending would not; doing it piece by piece takes half a second.
    atexit.register(os._exit, 0)
    _BENCH.set(Bench())
    # What fails here fails again where something is to be drawn, and is told there.
    with suppress(Exception):
        from previz.frames.gl.context import platform_class
        from previz.frames.studio import Studio  # noqa: F401 - what it imports in turn takes a while

        platform_class()
        # It imports PyOpenGL, which has been told its platform just now.
        from previz.frames.gl import raster  # noqa: F401


def _end_with_parent() -> None:
    """A parent that is killed outright cannot end its processes itself."""
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def work(done: str, asked: Callable[[], Any]) -> None:
    """Do a piece of work; its result goes into that file."""
    written(done, asked())


def upload(setup: str) -> None:
    """Ahead of its light; what is open cannot be sent back."""
    _BENCH.get().studio(setup)


def draw(drawn: str, setup: str, lighting: str, timed: bool, number: int) -> None:
    """Draw a frame of a film, which is a setup's file and its lighting's, into a file of its own."""
    _BENCH.get().draw(drawn, setup, lighting, timed, number)


@dataclass
class _Open:
    """A setup that is uploaded: its file, whether it is lit yet, and what it spends its time on."""

    setup: str
    studio: "Studio"
    spent: Spent
    lit: bool = False


class Bench:
    """What a process has before it from one piece of work to the next: the last setup that it uploaded."""

    def __init__(self) -> None:
        self._open: _Open | None = None

    def studio(self, setup: str) -> _Open:
        """That of a setup's file, uploaded unless it is here already; another one makes room for it."""
        if self._open is None or self._open.setup != setup:
            from previz.frames.studio import Studio

            if self._open is not None:
                self._open.studio.close()
                self._open = None
            self._open = _Open(setup, Studio(read(setup)), Spent())
        return self._open

    def draw(self, drawn: str, setup: str, lighting: str, timed: bool, number: int) -> None:
        """A frame, with what it took, into the file `drawn`; the setup is lit with its first one."""
        here = self.studio(setup)
        if not here.lit:
            here.studio.light(read(lighting), here.spent if timed else None)
            here.lit = True
        here.spent.seconds.clear()
        written(drawn, (here.studio.frame(number), here.spent))


#: This process's own. It belongs to the thread that draws, as an OpenGL context does.
_BENCH: ContextVar[Bench] = ContextVar("bench")


def written(path: str, data: Any) -> None:
    """A file of it, straight to the disk: pictures are not copied on the way."""
    with Path(path).open("wb") as file:
        pickle.dump(data, file, protocol=pickle.HIGHEST_PROTOCOL)


def read(path: str) -> Any:
    """What was `written` into a file."""
    with Path(path).open("rb") as file:
        return pickle.load(file)
