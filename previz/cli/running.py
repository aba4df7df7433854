"""The command line, run."""

import gc
import io
import os
import sys
from typing import Any

from previz.cli.saying import say
from previz.cli.stopping import STOPPED, Stopped, hear_requests_to_end, interrupts_heard

#: So many things are made between two searches for garbage: there is little, and a check would search for a tenth of
#: its time.
_BETWEEN_SEARCHES = 50_000


def main() -> None:
    """Run the command line."""
    _open_the_closed()
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # a terminal may lack the letters of a file's name
    hear_requests_to_end()
    gc.set_threshold(_BETWEEN_SEARCHES)
    app = _loaded()
    try:
        app(prog_name="previz")
    finally:
        gc.freeze()  # or Python searches all of a set for garbage as it ends, which takes a fifth of a second


def _loaded() -> Any:
    """The program; whoever ends it while it loads is told the same as later."""
    try:
        with interrupts_heard():
            from previz.cli.commands import app
    except KeyboardInterrupt:
        say(STOPPED)
        raise SystemExit(130) from None
    except Stopped:
        say(STOPPED)
        raise
    return app


def _open_the_closed() -> None:
    """Standard streams that were closed lead nowhere: a file would take their number, and words their place."""
    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # the lowest number that is free
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(number, mode, closefd=False))
