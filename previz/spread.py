"""Work spread over the machine's cores by threads: rays and large arrays leave Python's lock while they work.

What is spread must not depend on how many cores there are, so callers cut it into pieces of a fixed size. Threads work
in the context of the one that started them: files that they read are on its list.
"""

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from typing import Protocol, TypeVar

T = TypeVar("T")
R = TypeVar("R")

_MOST = 16  # threads; memory is the limit then


class Elsewhere(Protocol):
    """Does a piece of work, perhaps in another process, and returns its result or raises its error.

    The work and its result must be fit to be sent there: a top-level function or a `partial` of one, and plain data.
    """

    def __call__(self, work: Callable[[], T], /) -> T:
        """The result of `work`."""


def here(work: Callable[[], T], /) -> T:
    """`Elsewhere` for those who have no other process."""
    return work()


def cores() -> int:
    """Processor cores this process may use: a container may be given fewer than the machine has."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def workers() -> int:
    """How many threads are worth having here."""
    return min(cores(), _MOST)


def both(one: Callable[[], T], other: Callable[[], R]) -> tuple[T, R]:
    """The results of two pieces of work done at the same time. An error of either is raised.

    >>> both(lambda: 1, lambda: "one")
    (1, 'one')
    """
    if workers() < 2:
        return one(), other()
    with ThreadPoolExecutor(1) as pool:
        second = pool.submit(copy_context().run, other)
        return one(), second.result()


def spread(work: Callable[[T], R], parts: Iterable[T]) -> list[R]:
    """`work` of every part, in order, several at a time. An error of any is raised.

    >>> spread(lambda number: number * number, range(4))
    [0, 1, 4, 9]
    """
    todo = list(parts)
    threads = min(workers(), len(todo))
    if threads < 2:
        return [work(part) for part in todo]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(lambda context, part: context.run(work, part), [copy_context() for _ in todo], todo))
