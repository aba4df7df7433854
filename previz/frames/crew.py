"""Frames drawn side by side by several processes.

Frames are independent, so the pixels do not depend on how they are shared out. The processes start while the set is
still being built, for loading what they need takes a second, and may build a part of it. Of each film they open two
files: the stage without light, the first one's while the set is still being lit, and then its light.
Frames come back as files too: a process that is killed while it sends a picture through a pipe would leave its reader
waiting for the rest for ever. What goes through the pipe are names, too short to be cut in two.
"""

import itertools
import os
import signal
import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import active_children, get_context
from pathlib import Path
from threading import current_thread, main_thread
from typing import TYPE_CHECKING, Any, TypeVar

from previz.errors import MachineError
from previz.frames import worker
from previz.frames.spent import Spent
from previz.scratch import WorkFolder
from previz.spread import cores

if TYPE_CHECKING:
    from previz.frames.frame import Frame, Look
    from previz.frames.studio import Prepared, Setup
    from previz.scene import Scene, Shot
    from previz.stage import Unlit

T = TypeVar("T")

#: How long processes are waited for before they are killed: once told to end, and with a frame to finish first. [s]
_TO_END, _TO_FINISH = 3.0, 60.0

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
        self._processes = _processes(count) if count > 1 or apart else None
        self._ready: tuple[Setup, str] | None = None  # what was uploaded ahead, until it is filmed

    def frames(self, prepared: "Prepared", numbers: range, spent: Spent | None) -> "Iterator[Frame]":
        """The frames in order.

        Raises
        ------
        MachineError
            A process was ended from outside, or the disk is full.
        """
        if self._processes is None:
            yield from _drawn_here(prepared, numbers, spent)
            return
        waiting: deque[_Asked] = deque()
        files: list[str] = []
        try:
            with self._processes.faults_explained():
                files.append(setup := self._made_ready(self._processes, prepared.setup))
                files.append(lighting := self._processes.written(prepared.lighting))
                for number in numbers:
                    waiting.append(self._processes.ask(worker.draw, setup, lighting, spent is not None, number))
                    if len(waiting) > self.count * _AHEAD:
                        yield _frame_of(waiting.popleft(), spent)
                while waiting:
                    yield _frame_of(waiting.popleft(), spent)
        finally:
            for asked in waiting:
                asked.drop()
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
        if self._processes is None:
            return
        from previz.frames.studio import Setup

        setup = Setup(scene, shot, look, unlit)
        with self._processes.faults_explained():
            self._drop_ready()
            self._ready = setup, self._processes.written(setup)
            self._processes.tell_each(worker.upload, self._ready[1])  # whose faults come up again with the first frame

    def _made_ready(self, processes: "_Processes", setup: "Setup") -> str:
        """The file of a setup: of that which was made ready if it is the same. It serves one film, to be lit once."""
        if self._ready is not None and self._ready[0].is_same(setup):
            (_, path), self._ready = self._ready, None
            return path
        self._drop_ready()
        return processes.written(setup)

    def _drop_ready(self) -> None:
        """What was made ready and never filmed goes: a crew may stay for hours."""
        if self._ready is not None:
            with suppress(OSError):  # a process may have it open, which some systems mind
                Path(self._ready[1]).unlink(missing_ok=True)
            self._ready = None

    def do(self, work: Callable[[], T], /) -> T:
        """The result of a piece of work that one of the processes does before it draws, or the caller if there is none.

        The work and its result must be fit to be sent: a top-level function or a `partial` of one, and plain data.

        Raises
        ------
        MachineError
            As `frames` does; an OSError of the work counts as one of the disk. What else it raises passes through.
        """
        if self._processes is None:
            return work()
        with self._processes.faults_explained():
            result: T = self._processes.ask(worker.work, work).result()
            return result

    @property
    def whole(self) -> bool:
        """Whether none of the processes has ended: a crew that lost one draws no more."""
        return self._processes is None or self._processes.alive

    def close(self, *, at_once: bool = False) -> None:
        """End the processes, when each has finished its frame or at once."""
        if self._processes is not None:
            self._processes.close(at_once=at_once)

    def __enter__(self) -> "Crew":
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        # Whatever went wrong, or interrupted: their frames are not waited for.
        self.close(at_once=kind is not None)


@dataclass(frozen=True)
class _Asked:
    """A piece of work on its way, and the file that its result will be in."""

    done: Future[None]
    path: Path

    def result(self) -> Any:
        """What was done, waited for. Its file goes."""
        self.done.result()
        found = worker.read(str(self.path))
        self.path.unlink()
        return found

    def drop(self) -> None:
        """Nobody wants the result any more; its file goes, even if it is only being written."""
        if not self.done.cancel():
            self.done.add_done_callback(lambda _: self.path.unlink(missing_ok=True))


def _processes(count: int) -> "_Processes | None":
    """Processes that draw; None where a single one cannot be had, for the caller can do what it would."""
    try:
        return _Processes(count)
    except (OSError, NotImplementedError, ImportError) as error:  # no semaphores: Python's own words for it differ
        if count == 1:
            return None
        raise MachineError(
            f"processes that draw side by side cannot be had here ({getattr(error, 'strerror', None) or error}): "
            "they need shared memory, on Linux /dev/shm, and a folder for temporary files; render with --workers 1"
        ) from error


class _Processes:
    """Processes that wait for work, and the folder through which work and results are handed over."""

    def __init__(self, count: int) -> None:
        others = active_children()
        # A rasteriser in software shares a picture out among threads; that many pictures at once need one each.
        single = count > 1 and count >= cores()
        self._pool = ProcessPoolExecutor(count, get_context("spawn"), worker.start, (single,))
        self._folder = WorkFolder()
        self._count, self._numbers = count, itertools.count(1)
        self._broken = False
        with _deaf_to_interrupts():
            self.tell_each(os.getpid)  # a process starts when there is something to do
        self._own = [process for process in active_children() if process not in others]

    @property
    def alive(self) -> bool:
        """Whether all are there, as far as is known: one that is just ending may still count."""
        return not self._broken and all(process.is_alive() for process in self._own)

    def tell_each(self, work: Callable[..., object], *given: object) -> None:
        """As many times as there are processes; one that is late to start leaves its share to another."""
        for _ in range(self._count):
            self._pool.submit(work, *given)

    def ask(self, work: Callable[..., None], *given: object) -> _Asked:
        """Of one of them, a piece of work that writes its result into the file named first."""
        path = self._new_file()
        return _Asked(self._pool.submit(work, path, *given), Path(path))

    def written(self, data: Any) -> str:
        """The name of a file of it."""
        path = self._new_file()
        worker.written(path, data)
        return path

    def _new_file(self) -> str:
        return str(Path(self._folder.path, f"{next(self._numbers)}.pickle"))

    @contextmanager
    def faults_explained(self) -> Iterator[None]:
        """Say what a user can do where processes or the way to them fail."""
        try:
            yield
        except BrokenProcessPool as error:
            self._broken = True
            raise MachineError(
                "a process that draws was ended from outside, perhaps because memory ran out; take a smaller "
                "--size, or render with --workers 1"
            ) from error
        except OSError as error:
            raise MachineError(
                f"{self._folder.path}, through which processes hand pictures over, cannot be used: "
                f"{error.strerror or error}; free some space, or name another folder in TMPDIR"
            ) from error

    def close(self, *, at_once: bool) -> None:
        """End them, when each has finished what it does or at once."""
        for process in self._own if at_once else ():
            process.terminate()
        self._pool.shutdown(wait=False, cancel_futures=True)
        until = time.monotonic() + (_TO_END if at_once else _TO_FINISH)
        for process in self._own:  # one that is stopped hears nothing of this
            process.join(max(until - time.monotonic(), 0.0))
            if process.is_alive():
                process.kill()
                process.join()
        self._folder.remove()


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


def _frame_of(asked: _Asked, spent: Spent | None) -> "Frame":
    frame: Frame
    frame, own = asked.result()
    if spent is not None:
        spent.add(own)
    return frame
