"""A file that appears whole or not at all."""

import errno
import os
import secrets
import shlex
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from previz.errors import MachineError
from previz.scratch import PART_SUFFIX, Busy, claimed, part_file


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Lend a name beside `path` to write to; the file takes its own name only once the block has ended well.

    The folder is made if it is missing. Whatever ends the block early (Ctrl-C too) removes what was written and
    leaves an older file of that name as it was.

    Raises
    ------
    MachineError
        The folder cannot be made or written, or `path` is a folder itself.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}{PART_SUFFIX}")
    with ExitStack() as held:
        with named_faults(path):
            if path.is_dir():
                raise MachineError(f"{path} is a folder, so no file of that name can be written; move it or rename it")
            path.parent.mkdir(parents=True, exist_ok=True)
            # A folder that cannot be written is found out now, not after an hour of rendering.
            held.enter_context(part_file(part))
        yield part
        with named_faults(path):
            part.replace(path)


@contextmanager
def claimed_file(path: Path) -> Iterator[Path]:
    """A file that this run alone makes until the end; lends the folder beside it for what is not finished.

    See `scratch.claimed`.

    Raises
    ------
    MachineError
        Another run makes it, or the folder cannot be made.
    """
    program = Path(sys.argv[0]).name if sys.argv else ""
    who = f"process {os.getpid()}, {shlex.join([program, *sys.argv[1:]])}, since {time.strftime('%Y-%m-%d %H:%M')}"
    with ExitStack() as held:
        try:
            with named_faults(path):
                home = held.enter_context(claimed(path, who))
        except Busy as busy:
            raise MachineError(
                f"{path}: another run is making it ({busy.who or 'it does not say which'}); wait until that has ended, "
                "or choose another folder with --out"
            ) from None
        yield home


#: What to do about a folder that cannot be written, where a command has that option.
_ELSEWHERE = "choose a folder you may write to with --out"


def try_folder(folder: Path, cure: str = _ELSEWHERE) -> None:
    """Find out whether files can be written to a folder that may yet have to be made; it is left as it was.

    cure is what to do where they cannot.

    Raises
    ------
    MachineError
        It is a file, or cannot be made or written.
    """
    if folder.exists() and not folder.is_dir():
        raise MachineError(f"{folder} is a file, not a folder to write to; choose a folder with --out")
    made: list[Path] = []
    part = folder / f".{secrets.token_hex(4)}{PART_SUFFIX}"
    try:
        with named_faults(folder, cure):
            for missing in reversed([each for each in (folder, *folder.parents) if not each.exists()]):
                missing.mkdir()
                made.append(missing)
            part.touch()
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
            for each in reversed(made):
                each.rmdir()


@contextmanager
def named_faults(path: Path, cure: str = _ELSEWHERE) -> Iterator[None]:
    """Turn the system's refusal to write `path` into one sentence. Raises MachineError."""
    try:
        yield
    except OSError as error:
        raise MachineError(why_not_written(path, error, cure)) from error


def why_not_written(path: Path, error: OSError, cure: str = _ELSEWHERE) -> str:
    """One sentence on why `path` could not be written and what to do.

    >>> why_not_written(Path("pass.mp4"), OSError(errno.ENOSPC, "No space left on device"))
    'pass.mp4: the disk is full; free some space, or choose a folder on another disk with --out'
    """
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{path}: the disk is full; free some space, or choose a folder on another disk with --out"
    reason = (error.strerror or str(error)).lower()
    return f"{path}: cannot be written ({reason}); {cure}"
