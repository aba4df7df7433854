"""One of the processes that draw: how it goes through life, and what it does with a frame of a film.

Its orders and its answers are files: what is written here and in `processes` was written a moment ago, by ourselves,
into a folder that only this user can read.
"""

import atexit
import os
import pickle
from collections.abc import Callable
from contextlib import suppress
from contextvars import ContextVar
from dataclasses import dataclass
from errno import EIO
from functools import partial
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait
from pathlib import Path
from threading import Condition, Thread
from traceback import format_exc
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from previz.errors import PrevizError
from previz.frames.spent import Spent

if TYPE_CHECKING:
    from previz.frames.frame import Frame
    from previz.frames.studio import Studio

T = TypeVar("T")

#: What a process says while it works, so that nobody takes it for stopped; and how often. [s]
BEAT, _EVERY = -1, 0.5

#: What a process says when it is done; else the number of the fault for which its answer could not be written.
DONE = 0

#: What a process ends with that cannot draw any more, though another one may; and how that is told.
GRAPHICS_LOST, MEMORY_OUT = 77, 78
TOLD = {GRAPHICS_LOST: "its graphics were reset, or their memory ran out", MEMORY_OUT: "memory ran out"}


class Handed(Protocol):
    """What is handed over once for many frames."""

    @property
    def name(self) -> str:
        """No other's."""

    def open(self) -> Any:
        """What it is."""


@dataclass(frozen=True)
class Filed:
    """What was handed over as a file."""

    name: str

    def open(self) -> Any:
        """What was `written` into it."""
        return read(self.name)


def serve(orders: Connection, answers: Connection, single: bool) -> None:
    """The life of a process that draws: it does what is in the files that `orders` names, until nobody is there.

    `single`: a rasteriser in software is to use one thread.
    """
    if single:
        os.environ["LP_NUM_THREADS"] = "1"  # of Mesa's rasteriser; it reads this as it starts
    Thread(target=_end_with_parent, daemon=True).start()
    # At the end nothing is left to tidy up that ending would not; doing it piece by piece takes half a second.
    atexit.register(os._exit, 0)
    pulse = _Pulse(answers)
    get_ready()
    pulse.rest()
    with suppress(EOFError, OSError):  # nobody is there any more
        while True:
            order = orders.recv()
            pulse.work()
            pulse.rest(_obeyed(order))


def get_ready() -> None:
    """In the thread that is to draw: load, while there is nothing to draw yet, what drawing needs."""
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


class _Pulse:
    """Beats from a thread of its own while there is work: one that is stopped is silent."""

    def __init__(self, answers: Connection) -> None:
        self._answers, self._working, self._change = answers, True, Condition()
        Thread(target=self._beat, daemon=True).start()

    def work(self) -> None:
        """There is work from now on."""
        with self._change:
            self._working = True
            self._change.notify()

    def rest(self, said: int | None = None) -> None:
        """No beat comes after this, which says how the work went. Beats that nobody reads would fill the pipe."""
        with self._change:
            self._working = False
            if said is not None:
                self._answers.send(said)

    def _beat(self) -> None:
        with self._change, suppress(OSError):
            while True:
                self._change.wait(_EVERY if self._working else None)
                if self._working:
                    self._answers.send(BEAT)


def _obeyed(order: str) -> int:
    """Do what an order's file says, and write what came of it into the file of its answer."""
    try:
        work, given = read(order)
        answer = True, work(*given)
    except Exception as error:
        answer = False, _sendable(error)
    try:
        written(answer_to(order), answer)
    except OSError as error:
        return error.errno or EIO
    return DONE


def answer_to(order: str) -> str:
    """The file of the answer to an order: whether it was done, and what came of it or the error."""
    return f"{order}.answer"


def _sendable(error: Exception) -> Exception:
    """An error as it will arrive; of one of ours nobody wants to know where in the code it was found."""
    if not isinstance(error, PrevizError | OSError):
        error.add_note(f"in another process:\n{format_exc()}")
    try:
        pickle.loads(pickle.dumps(error))
    except Exception:
        return RuntimeError(f"{type(error).__name__} in another process:\n{format_exc()}")
    return error


def upload(setup: Handed) -> None:
    """Ahead of its light; what is open cannot be sent back."""
    _BENCH.get().studio(setup)


def draw(setup: Handed, lighting: Handed, timed: bool, number: int) -> "tuple[Frame, Spent]":
    """Draw a frame of a film, which is a setup and its lighting; with what it took.

    A process that cannot, ends: a new one draws the frame anew.
    """
    return or_end(partial(_BENCH.get().draw, setup, lighting, timed, number))


def or_end(work: Callable[[], T]) -> T:
    """The result of work that draws; the process ends where it cannot draw any more."""
    from previz.frames.gl.context import GraphicsLost

    try:
        return work()
    except GraphicsLost:
        os._exit(GRAPHICS_LOST)
    except MemoryError:
        os._exit(MEMORY_OUT)


@dataclass
class _Open:
    """A setup that is uploaded: its name, whether it is lit yet, and what it spends its time on."""

    name: str
    studio: "Studio"
    spent: Spent
    lit: bool = False


class Bench:
    """What a process has before it from one piece of work to the next: the last setup that it uploaded."""

    def __init__(self) -> None:
        self._open: _Open | None = None

    def studio(self, setup: Handed) -> _Open:
        """That of a setup, uploaded unless it is here already; another one makes room for it."""
        if self._open is None or self._open.name != setup.name:
            from previz.frames.studio import Studio
            from previz.layout import take_as_measured

            self.clear()
            opened = setup.open()
            take_as_measured(opened.measured)
            self._open = _Open(setup.name, Studio(opened), Spent())
        return self._open

    def draw(self, setup: Handed, lighting: Handed, timed: bool, number: int) -> "tuple[Frame, Spent]":
        """A frame, with what it took; the setup is lit with its first one."""
        here = self.studio(setup)
        if not here.lit:
            here.studio.light(lighting.open(), here.spent if timed else None)
            here.lit = True
        here.spent.seconds.clear()
        frame, spent = here.studio.frame(number), Spent()
        spent.add(here.spent)
        return frame, spent

    def clear(self) -> None:
        """Give the graphics side back what it holds."""
        if self._open is not None:
            self._open.studio.close()
            self._open = None


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
