"""Frames drawn side by side by several processes.

Frames are independent, so the pixels do not depend on how they are shared out. Each process opens the stage once, from
a file, and keeps it.
"""

import os
import pickle
import tempfile
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from previz.frames.render import Frame, Prepared, Studio
from previz.frames.spent import Spent
from previz.stage import cores

_AHEAD = 2  # frames that each process may be ahead of what has been asked for: memory holds no more

_studio: tuple[Studio, Spent] | None = None  # of this process


def drawn_by_workers(prepared: Prepared, numbers: range, workers: int, spent: Spent | None) -> Iterator[Frame]:
    """The frames in order. A process that dies raises `concurrent.futures.process.BrokenProcessPool`."""
    with tempfile.TemporaryDirectory(prefix="previz-") as folder:
        path = Path(folder, "stage.pickle")
        path.write_bytes(pickle.dumps(prepared, protocol=pickle.HIGHEST_PROTOCOL))
        # A rasteriser in software shares a picture out among threads; that many pictures at once need one thread each.
        single = workers >= cores()
        pool = ProcessPoolExecutor(workers, get_context("spawn"), _open, (str(path), single, spent is not None))
        try:
            yield from _in_order(pool, numbers, workers, spent)
        finally:
            pool.shutdown(cancel_futures=True)


def _in_order(pool: ProcessPoolExecutor, numbers: range, workers: int, spent: Spent | None) -> Iterator[Frame]:
    waiting: deque[Future[tuple[Frame, Spent]]] = deque()
    for number in numbers:
        waiting.append(pool.submit(_draw, number))
        if len(waiting) > workers * _AHEAD:
            yield _told(waiting.popleft(), spent)
    while waiting:
        yield _told(waiting.popleft(), spent)


def _told(done: "Future[tuple[Frame, Spent]]", spent: Spent | None) -> Frame:
    frame, own = done.result()
    if spent is not None:
        spent.add(own)
    return frame


def _open(path: str, single: bool, timed: bool) -> None:
    """Runs once in each process."""
    global _studio
    if single:
        os.environ["LP_NUM_THREADS"] = "1"  # of Mesa's rasteriser; it reads this as it starts
    spent = Spent()
    # The file is ours, written a moment ago into a folder that only this user can read.
    _studio = Studio(pickle.loads(Path(path).read_bytes()), spent if timed else None), spent


def _draw(number: int) -> tuple[Frame, Spent]:
    assert _studio is not None  # the pool runs _open first
    studio, spent = _studio
    spent.seconds.clear()
    frame = studio.frame(number)
    own = Spent()
    own.add(spent)
    return frame, own
