"""How a run is ended from outside: Ctrl-C, a polite request, a terminal that closes."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event
from typing import NoReturn

#: From outside, from a terminal that is closed and by Ctrl-\\, where the system has them.
_REQUESTS_TO_END = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP", "SIGQUIT") if hasattr(signal, name)]

_INTERRUPTED = Event()  # by Ctrl-C


#: What is said then.
STOPPED = "stopped; what was not finished is not written"


class Stopped(SystemExit):
    """A request to end was heard."""


def hear_requests_to_end() -> None:
    """Treat a polite request to end like Ctrl-C, so that nothing half-written is left."""
    for number in _REQUESTS_TO_END:
        if signal.getsignal(number) is not signal.SIG_IGN:  # `nohup` wants a terminal's end not to be heard
            signal.signal(number, _terminated)
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _interrupted)


def _interrupted(_number: int, _frame: object) -> NoReturn:
    _INTERRUPTED.set()
    raise KeyboardInterrupt


def _terminated(number: int, _frame: object) -> NoReturn:
    for each in _REQUESTS_TO_END:  # one is enough; another would end the clearing up
        signal.signal(each, signal.SIG_IGN)
    raise Stopped(128 + number)


@contextmanager
def interrupts_heard() -> Iterator[None]:
    """After Ctrl-C whatever else comes up is that: a library that was broken off in loading has faults of its own."""
    try:
        yield
    except Exception:
        if not _INTERRUPTED.is_set():
            raise
        raise KeyboardInterrupt from None
