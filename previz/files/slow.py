"""Work on files that takes so long that a person is told of it: it is done wherever a file is first asked for."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_SAY: ContextVar[Callable[[str], None] | None] = ContextVar("who is told", default=None)


@contextmanager
def slow_work_told(say: Callable[[str], None]) -> Iterator[None]:
    """Tell of what takes long meanwhile, a line for each, before it begins."""
    before = _SAY.set(say)
    try:
        yield
    finally:
        _SAY.reset(before)


def tell(what: str) -> None:
    """Tell whoever asked for it that this begins."""
    say = _SAY.get()
    if say is not None:
        say(what)
