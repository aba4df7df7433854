"""`previz check` and `previz still` on one scene as a user runs them, but in this process; what came of it."""

import contextlib
import io
import sys
import traceback
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from previz.cli import app
from tests.hostile.mutated_scenes import LINKS, OUTSIDE

_SECRETS = ("/etc/passwd", "/dev/zero", "/proc/self/environ")

#: What Python opened to read since `heard` was asked last; a hook cannot be taken off again.
_opened: list[str] = []


@dataclass(frozen=True)
class Answer:
    """How a command ended: its exit code, what was said, and a traceback where it broke."""

    code: int
    said: str
    broke: str = ""


def checked(scene: Path, *options: str) -> Answer:
    """Ask `check` about it. A user gets a message or an answer: anything else is told in `broke`."""
    return _asked((0, 1, 2), "check", scene, *options)


def drawn(scene: Path, out: Path) -> Answer:
    """A still of it in draft, 160 pixels wide, of two views."""
    return _asked((0, 2), "still", scene, "--draft", "--size", 160, "--views", 2, "--out", out)


def _asked(fine: tuple[int, ...], *arguments: Any) -> Answer:
    with contextlib.redirect_stderr(io.StringIO()) as stray:
        done = CliRunner().invoke(app, [str(each) for each in arguments])
    broke, said = "", done.output + stray.getvalue()
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        broke = "".join(traceback.format_exception(done.exception))
    elif done.exit_code not in fine:
        broke = f"exit code {done.exit_code}: {said[-400:]}"
    elif "Traceback" in said or "Warning:" in said:
        broke = f"a library's words: {said[-400:]}"
    elif done.exit_code == 2 and not said.strip():
        broke = "refused without a word"
    return Answer(done.exit_code, said, broke)


def is_bait(name: str) -> bool:
    """Whether it lies outside a scene's folder and scenes here name it, or is a link that leads there."""
    return Path(name).name in {*OUTSIDE, *LINKS} or name in _SECRETS


def listen() -> None:
    """From now on, keep the names of what Python opens to read in this process."""

    def hear(event: str, arguments: tuple[Any, ...]) -> None:
        if event == "open" and not (isinstance(arguments[1], str) and "w" in arguments[1]):
            _opened.append(str(arguments[0]))

    sys.addaudithook(hear)


def heard() -> list[str]:
    """The names of what was opened since this was asked last."""
    names = list(_opened)
    _opened.clear()
    return names
