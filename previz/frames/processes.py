"""Processes of this machine that draw, each with a thread of ours that hands it its work.

A process that ends over a piece of work, or falls silent, makes room for a new one that does it anew. Work and answers
go as files: a process that is killed while it sends a picture through a pipe would leave its reader waiting for the
rest for ever. What goes through pipes are names and numbers, too short to be cut in two. Nothing is shared that the
system would keep when all of us are killed but the folder of those files, which the next run sweeps.
"""

import itertools
import os
import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import Pipe, get_context, resource_tracker
from multiprocessing.process import BaseProcess
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Lock
from typing import Any, TypeVar

from previz.errors import MachineError
from previz.frames import worker
from previz.scratch import WorkFolder
from previz.spread import cores

T = TypeVar("T")

#: How long processes are waited for before they are killed: with nothing left to do, and with a frame to finish. [s]
_TO_END, _TO_FINISH = 3.0, 60.0

#: One is taken for stopped after so many looks without a beat. Looks and not time: whoever stops it may stop us too.
_SILENT_LOOKS, _LOOK = 60, 1.0  # [s]

_TRIES = 3  # processes that a piece of work may end before it is given up


class _Gone(Exception):
    """The process ended, or was ended; says how."""


class _Hand:
    """A process that draws, once it is started, and whichever takes its place."""

    process: BaseProcess | None = None

    def __init__(self, single: bool) -> None:
        self._single = single

    @property
    def is_there(self) -> bool:
        """Whether it has begun, and not ended."""
        return self.process is not None and self.process.is_alive()

    def start(self) -> None:
        """Begin the process; the one before it, if any, has ended."""
        orders, self._orders = Pipe(duplex=False)
        self._answers, answers = Pipe(duplex=False)
        process = get_context("spawn").Process(target=worker.serve, args=(orders, answers, self._single), daemon=True)
        with _deaf_to_interrupts():
            process.start()
        self.process = process  # only now: one that never began cannot be waited for
        orders.close()
        answers.close()

    def obey(self, order: str) -> None:
        """Have an order's work done. Raises _Gone, or OSError where the answer cannot be written."""
        try:
            self._orders.send(order)
            said = self._said()
        except (EOFError, OSError):
            raise _Gone(self._end()) from None
        if said != worker.DONE:
            raise OSError(said, os.strerror(said))

    def _said(self) -> int:
        silent = 0
        while silent < _SILENT_LOOKS:
            if not self._answers.poll(_LOOK):
                silent += 1
            elif (said := int(self._answers.recv())) == worker.BEAT:
                silent = 0
            else:
                return said
        self.kill()
        raise _Gone(f"it did nothing for {_SILENT_LOOKS * _LOOK:g} s")

    def _end(self) -> str:
        """How the process ended, which it has just done."""
        self.wait()
        code = (self.process and self.process.exitcode) or 0
        if code in worker.TOLD:
            return worker.TOLD[code]
        return f"it was killed by signal {-code}, as when memory runs out" if code < 0 else f"it ended with code {code}"

    def dismiss(self) -> None:
        """Tell the process, which has nothing to do, that nobody has work for it any more."""
        if self.process is not None:
            self._orders.close()

    def kill(self) -> None:
        """End the process at once."""
        if self.process is not None:
            self.process.kill()

    def wait(self) -> None:
        """For the end of a process that has nothing left to do; one that is stopped hears nothing of that."""
        if self.process is None:
            return
        self.process.join(_TO_END)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()


@dataclass(frozen=True)
class _Asked:
    """A piece of work on its way, and the file of its order."""

    done: Future[None]
    order: str

    def result(self) -> Any:
        """What was done, waited for. Its file goes."""
        self.done.result()
        good, answer = worker.read(worker.answer_to(self.order))
        self._remove()
        if not good:
            raise answer
        return answer

    def drop(self) -> None:
        """Nobody wants the result any more, nor the work if it has not begun."""
        self.done.cancel()
        self.let_go()

    def let_go(self) -> None:
        """Nobody waits for the result; its file goes, even if it is only being written."""
        self.done.add_done_callback(lambda _: self._remove())

    def _remove(self) -> None:
        for path in (self.order, worker.answer_to(self.order)):
            Path(path).unlink(missing_ok=True)


class Processes:
    """Processes that wait for work; the first few begin at once, the rest when they are expected or have work.

    Raises OSError where they, or a folder to hand work over in, cannot be had.
    """

    def __init__(self, count: int, at_once: int) -> None:
        self.count, self._numbers = count, itertools.count(1)
        self._folder = WorkFolder()
        # A rasteriser in software shares a picture out among threads; that many pictures at once need one each.
        single = count > 1 and count >= cores()
        self._closing, self._starting = False, Lock()
        self._hands: list[_Hand] = []
        self._free: SimpleQueue[_Hand] = SimpleQueue()
        self._threads = ThreadPoolExecutor(count)
        try:
            for _ in range(count):
                self._hands.append(hand := _Hand(single))
                self._free.put(hand)
            self.expect(at_once)
        except BaseException:
            self.close(at_once=True)
            raise

    def expect(self, count: int) -> None:
        """Have so many there, or all: there will be work for them."""
        with self._starting:
            for hand in self._hands[:count]:
                if hand.process is None:
                    hand.start()

    def handed(self, data: Any) -> worker.Filed:
        """A file of it."""
        path = self._new_file()
        worker.written(path, data)
        return worker.Filed(path)

    def take_back(self, handed: worker.Filed) -> None:
        """Its file goes."""
        with suppress(OSError):  # a process may have it open, which some systems mind
            Path(handed.name).unlink(missing_ok=True)

    def ask(self, named: str, work: Callable[..., object], *given: object) -> _Asked:
        """Of one of them, a piece of work; `named` in a message."""
        order = self._new_file()
        worker.written(order, (work, given))
        return _Asked(self._threads.submit(self._have_done, order, named), order)

    def tell_each(self, named: str, work: Callable[..., object], *given: object) -> None:
        """As many times as there are processes; one that is late to start leaves its share to another."""
        for _ in range(self.count):
            self.ask(named, work, *given).let_go()

    def do(self, work: Callable[[], T]) -> T:
        """The result of a piece of work that one of them does."""
        result: T = self.ask("a part of the set", work).result()
        return result

    def drawn_by(self) -> str:
        """OpenGL's words for itself, in one of them."""
        from previz.frames.gl import gl_description

        return self.do(gl_description)

    def _new_file(self) -> str:
        return str(Path(self._folder.path, f"{next(self._numbers)}.pickle"))

    def _have_done(self, order: str, named: str) -> None:
        """In one of the threads: hand an order to a process that is free."""
        hand = self._free.get()
        try:
            for _ in range(_TRIES):
                try:
                    self._see_to(hand)
                    hand.obey(order)
                    return
                except _Gone as gone:
                    how = str(gone)
            raise MachineError(
                f"{named}: {_TRIES} processes ended over it, the last because {how}. Take a smaller --size or fewer "
                "--workers"
            )
        finally:
            self._free.put(hand)

    def _see_to(self, hand: _Hand) -> None:
        """Have a process there, unless all are to end."""
        with self._starting:
            if self._closing:
                raise MachineError("the processes that draw are ended")
            if not hand.is_there:
                try:
                    hand.start()
                except OSError as error:
                    raise MachineError(
                        f"of the processes that draw, another one cannot begin ({error.strerror or error}): render "
                        "with fewer --workers"
                    ) from error

    @contextmanager
    def faults_explained(self) -> Iterator[None]:
        """Say what a user can do where the way to the processes fails."""
        try:
            yield
        except OSError as error:
            raise MachineError(
                f"{self._folder.path}, through which processes hand pictures over, cannot be used: "
                f"{error.strerror or error}; free some space, or name another folder in TMPDIR"
            ) from error

    def close(self, *, at_once: bool) -> None:
        """End them, when each has finished what it does or at once."""
        with self._starting:
            self._closing = True
        self._threads.shutdown(wait=False, cancel_futures=True)
        until = time.monotonic() + _TO_FINISH
        for hand in self._hands if at_once else ():
            hand.kill()
        rest: list[_Hand] = []
        for _ in self._hands:  # those that are done first
            with suppress(Empty):
                rest.append(hand := self._free.get(timeout=max(until - time.monotonic(), 0.0)))
                hand.dismiss()
        for hand in rest:  # a thread that took up work just before waits for one, and is told then
            self._free.put(hand)
        for hand in self._hands:
            hand.wait()
        self._threads.shutdown()
        self._folder.remove()


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Processes that start meanwhile do not hear Ctrl-C: the one that starts them does, and ends them quietly."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    resource_tracker.ensure_running()  # which lets them through again, the first time
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
