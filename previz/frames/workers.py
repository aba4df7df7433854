"""Frames drawn side by side by several processes.

Frames are independent, so the pixels do not depend on how they are shared out. The processes start while the set is
still being built, for loading what they need takes a second, and may build a part of it. Of each film they open two
files: the stage without light, the first one's while the set is still being lit, and then its light.
Frames come back as files too: a process that is killed while it sends a picture through a pipe would leave its reader
waiting for the rest for ever. What goes through the pipe is a name, too short to be cut in two.
"""

import atexit
import os
import pickle
import signal
import tempfile
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import active_children, get_context, parent_process
from multiprocessing.connection import wait
from pathlib import Path
from threading import Thread, current_thread, main_thread
from typing import TYPE_CHECKING, Any, TypeVar

from previz.errors import MachineError
from previz.frames.spent import Spent
from previz.stage import cores

if TYPE_CHECKING:
    from previz.frames.frame import Frame, Look
    from previz.frames.studio import Prepared, Setup, Studio
    from previz.scene import Scene, Shot
    from previz.stage import Unlit

T = TypeVar("T")

_AHEAD = 2  # frames that each process may be ahead of what has been asked for: memory holds no more


class Crew:
    """Processes that draw; a context, at whose end they end.

    They need what Python's `multiprocessing` needs of a program: that it can be imported without running.

    Parameters
    ----------
    count : int
        How many. They start at once.
    apart : bool
        Whether even one is a process of its own; else the caller draws what one would.
    """

    def __init__(self, count: int, *, apart: bool = False) -> None:
        self.count = count
        self._pool: ProcessPoolExecutor | None = None
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._files = 0
        self._ready: tuple[Setup, str] | None = None  # what was uploaded ahead, until it is filmed
        others = active_children()
        if count > 1 or apart:
            # A rasteriser in software shares a picture out among threads; that many pictures at once need one each.
            self._pool = ProcessPoolExecutor(count, get_context("spawn"), _ready, (count > 1 and count >= cores(),))
            self._folder = tempfile.TemporaryDirectory(prefix="previz-", ignore_cleanup_errors=True)
            with _deaf_to_interrupts():
                for _ in range(count):
                    self._pool.submit(os.getpid)  # a process starts when there is something to do
        self._processes = [process for process in active_children() if process not in others]

    def frames(self, prepared: "Prepared", numbers: range, spent: Spent | None) -> "Iterator[Frame]":
        """The frames in order.

        Raises
        ------
        MachineError
            A process was ended from outside, or the disk is full.
        """
        if self._pool is None or self._folder is None:
            yield from _drawn_here(prepared, numbers, spent)
            return
        waiting: deque[Future[str]] = deque()
        files: list[str] = []
        try:
            with self._faults_told():
                files.append(setup := self._made_ready(prepared.setup))
                files.append(lighting := self._written(prepared.lighting))
                for number in numbers:
                    waiting.append(self._pool.submit(_draw, setup, lighting, spent is not None, number))
                    if len(waiting) > self.count * _AHEAD:
                        yield _told(waiting.popleft(), spent)
                while waiting:
                    yield _told(waiting.popleft(), spent)
        finally:
            for future in waiting:
                future.cancel()
            for path in files:
                Path(path).unlink(missing_ok=True)

    def get_ready(self, scene: "Scene", shot: "Shot", look: "Look", unlit: "Unlit") -> None:
        """Upload a stage while it is still being lit; the first frames of that shot, if it comes next, come sooner.

        Nothing where the caller draws itself. A process that is late to start may find its upload done by another one,
        and then uploads with its first frame.

        Raises
        ------
        MachineError
            As `frames` does.
        """
        if self._pool is None:
            return
        from previz.frames.studio import Setup

        setup = Setup(scene, shot, look, unlit)
        with self._faults_told():
            self._ready = setup, self._written(setup)
            for _ in range(self.count):
                self._pool.submit(_upload, self._ready[1])  # whose faults come up again with the first frame

    def _made_ready(self, setup: "Setup") -> str:
        """The file of a setup: of that which was made ready if it is the same. It serves one film, to be lit once."""
        ready, self._ready = self._ready, None
        return ready[1] if ready is not None and ready[0].is_same(setup) else self._written(setup)

    def _written(self, data: Any) -> str:
        """A file of it, straight to the disk and back: pictures are not copied on the way."""
        assert self._folder is not None
        self._files += 1
        path = Path(self._folder.name, f"data-{self._files}.pickle")
        with path.open("wb") as file:
            pickle.dump(data, file, protocol=pickle.HIGHEST_PROTOCOL)
        return str(path)

    def do(self, work: Callable[[], T], /) -> T:
        """The result of a piece of work that one of the processes does before it draws, or the caller if there is none.

        The work and its result must be fit to be sent: a top-level function or a `partial` of one, and plain data.

        Raises
        ------
        MachineError
            As `frames` does; an OSError of the work counts as one of the disk. What else it raises passes through.
        """
        if self._pool is None or self._folder is None:
            return work()
        with self._faults_told():
            return _fetched(self._pool.submit(_work, self._folder.name, work))

    @contextmanager
    def _faults_told(self) -> Iterator[None]:
        """Say what a user can do where processes or the way to them fail."""
        assert self._folder is not None
        try:
            yield
        except BrokenProcessPool as error:
            raise MachineError(
                "a process that draws was ended from outside, perhaps because memory ran out; take a smaller "
                "--size, or render with --workers 1"
            ) from error
        except OSError as error:
            raise MachineError(
                f"{self._folder.name}, through which processes hand pictures over, cannot be used: "
                f"{error.strerror or error}; free some space, or name another folder in TMPDIR"
            ) from error

    def close(self, *, at_once: bool = False) -> None:
        """End the processes, when each has finished its frame or at once."""
        if self._pool is None or self._folder is None:
            return
        for process in self._processes if at_once else ():
            process.terminate()
        self._pool.shutdown(cancel_futures=True)
        self._folder.cleanup()

    def __enter__(self) -> "Crew":
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        # Whatever went wrong, or interrupted: their frames are not waited for.
        self.close(at_once=kind is not None)


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Processes that start meanwhile do not hear Ctrl-C: the one that starts them does, and ends them quietly."""
    if current_thread() is not main_thread():  # which alone may say what signals do
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _drawn_here(prepared: "Prepared", numbers: range, spent: Spent | None) -> "Iterator[Frame]":
    from previz.frames.studio import Studio

    with closing(Studio(prepared.setup)) as studio:
        studio.light(prepared.lighting, spent)
        for number in numbers:
            yield studio.frame(number)


def _told(done: Future[str], spent: Spent | None) -> "Frame":
    frame: Frame
    frame, own = _fetched(done)
    if spent is not None:
        spent.add(own)
    return frame


def _fetched(done: Future[str]) -> Any:
    path = Path(done.result())
    with path.open("rb") as file:  # written by our own process into our own folder
        found = pickle.load(file)
    path.unlink()
    return found


# --- in each process ---


@dataclass
class _Open:
    """What this process has open: a setup's file, whether it is lit yet, and what it spends its time on."""

    setup: str
    studio: "Studio"
    spent: Spent
    lit: bool = False


_opened: _Open | None = None


def _ready(single: bool) -> None:
    """Load, while there is nothing to draw yet, what drawing needs."""
    if single:
        os.environ["LP_NUM_THREADS"] = "1"  # of Mesa's rasteriser; it reads this as it starts
    Thread(target=_end_with_parent, daemon=True).start()
    # At the end nothing is left to tidy up that ending would not; doing it piece by piece takes half a second.
    atexit.register(os._exit, 0)
    # What fails here fails again where something is to be drawn, and is told there.
    with suppress(Exception):
        from previz.frames.gl.context import platform_class
        from previz.frames.studio import Studio  # noqa: F401 - what it imports in turn takes a while

        platform_class()
        # These import PyOpenGL, which has been told its platform just now.
        from previz.frames.gl import at_once, glows, layers, things  # noqa: F401


def _end_with_parent() -> None:
    """A parent that is killed outright cannot end its processes itself."""
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _work(folder: str, work: Callable[[], Any]) -> str:
    """Does the work; its result goes into a file, whose name is returned."""
    handle, path = tempfile.mkstemp(dir=folder, prefix="result-")
    with os.fdopen(handle, "wb") as file:
        pickle.dump(work(), file, protocol=pickle.HIGHEST_PROTOCOL)
    return path


def _draw(setup: str, lighting: str, timed: bool, number: int) -> str:
    """Draws into a file, whose name is returned."""
    opened = _set_up(setup)
    if not opened.lit:
        opened.studio.light(_read(lighting), opened.spent if timed else None)
        opened.lit = True
    opened.spent.seconds.clear()
    drawn = Path(f"{lighting}.{number}")
    with drawn.open("wb") as file:
        pickle.dump((opened.studio.frame(number), opened.spent), file, protocol=pickle.HIGHEST_PROTOCOL)
    return str(drawn)


def _upload(setup: str) -> None:
    """Ahead of its light; what is open cannot be sent back."""
    _set_up(setup)


def _set_up(setup: str) -> _Open:
    """The stage of a file, uploaded."""
    global _opened
    if _opened is None or _opened.setup != setup:
        from previz.frames.studio import Studio

        if _opened is not None:
            _opened.studio.close()
            _opened = None
        _opened = _Open(setup, Studio(_read(setup)), Spent())
    return _opened


def _read(path: str) -> Any:
    """What is in a file of ours, written a moment ago into a folder that only this user can read."""
    with Path(path).open("rb") as file:
        return pickle.load(file)
