"""Words: what was asked for to standard output, what is said beside it to standard error."""

import errno
import json
import os
import shutil
import sys
from contextlib import suppress
from pathlib import Path

from previz.errors import MachineError
from previz.units import wrapped


def say(text: str) -> None:
    """What goes on, beside what was asked for: to standard error."""
    with suppress(OSError):  # a terminal that is gone
        print(text, file=sys.stderr)


def say_folded(sentence: str) -> None:
    """Said in lines as wide as the terminal, which would break them within words; in one line to what is none."""
    if not sys.stderr.isatty():
        say(sentence)
        return
    width = max(shutil.get_terminal_size().columns - 1, 40)
    say_all(wrapped(sentence, width, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False))


def print_out(text: object, end: str = "\n") -> None:
    """What was asked for, to standard output. Raises MachineError where it cannot be written."""
    try:
        print(text, end=end, flush=True)
    except OSError as error:
        if error.errno == errno.EPIPE:
            raise  # who reads has enough
        sys.stdout = Path(os.devnull).open("w")  # noqa: SIM115 - or Python would try once more at the end
        raise MachineError(
            f"standard output cannot be written ({(error.strerror or str(error)).lower()}); send it elsewhere"
        ) from error


def say_all(lines: list[str]) -> None:
    """Lines that stay as they are."""
    for line in lines:
        say(line)


def say_fault(text: str) -> None:
    """What is wrong, each of its lines folded."""
    for line in text.splitlines():
        say_folded(line)


def print_json(answer: object) -> None:
    """What was asked for, for other programs."""
    print_out(json.dumps(answer, indent=2, default=str))
