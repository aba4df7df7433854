"""What a run keeps on disk while it works, and what runs that were killed have left of it.

Each run holds a lock on what is its own, which the system lets go of however the run ends. What nobody holds is swept
by the next run, at once. Where there are no such locks (Windows) nothing is swept.
"""

import errno
import os
import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

#: Ends the name of a file that is still being written.
PART_SUFFIX = ".part"

_PREFIX, _LOCK = "previz-work-", "lock"
_FOLDER_NAME = re.compile(r"previz-work-\w{8}")
_PART_NAME = re.compile(r"\..+\.[0-9a-f]{8}\.part")

_YOUNG = 3600.0  # a folder without its lock may be one that is being made just now [s]

#: The folder beside a file in which what has been made for it lies until it is whole: `.pass.mp4.unfinished`.
_UNFINISHED = ".unfinished"
_UNFINISHED_NAME = re.compile(r"\..+\.unfinished")

_FORGOTTEN = 7 * 86400.0  # what nobody went on with for that long is swept [s]

_LONGEST_SAID = 300  # of a run's own words about itself [bytes]


class WorkFolder:
    """A folder among the system's temporary ones that only this user can read; it goes with `remove`.

    Making one sweeps those of runs that were killed. Raises OSError where none can be made.
    """

    def __init__(self) -> None:
        _sweep_folders(Path(tempfile.gettempdir()))
        self._folder = tempfile.TemporaryDirectory(prefix=_PREFIX, ignore_cleanup_errors=True)
        self.path = Path(self._folder.name)
        # Under its name only once it is locked, or a run that sweeps meanwhile would take it for one left behind.
        fresh = self.path / f"{_LOCK}.new"
        self._held = _held(fresh)
        fresh.rename(self.path / _LOCK)

    def remove(self) -> None:
        """Remove it with all that it holds."""
        self._folder.cleanup()
        if self._held is not None:
            self._held.close()

    def __enter__(self) -> Path:
        return self.path

    def __exit__(self, *_: object) -> None:
        self.remove()


@contextmanager
def part_file(part: Path) -> Iterator[None]:
    """A new file that is held until the end, when it goes unless it has another name by then.

    Sweeps those of its folder that killed runs have left. Raises OSError where it cannot be made.
    """
    _sweep_parts(part.parent)
    held = _held(part)
    try:
        while held is not None and not part.exists():  # swept before it was held
            held.close()
            held = _held(part)
        yield
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        if held is not None:
            held.close()


class Busy(Exception):
    """Another run that lives is at work on the same file. who: how it named itself, or "" where that is not known."""

    def __init__(self, who: str) -> None:
        self.who = who
        super().__init__(who)


@contextmanager
def claimed(path: Path, who: str) -> Iterator[Path]:
    """A file that this run alone works on until the end: lends the folder beside it for what is not finished.

    The folder goes at the end if nothing is in it; what is in it stays for the run that claims the file next, which
    looks after it. Where there are no locks (Windows) nobody is kept out. Sweeps folders of the same kind beside it
    that nobody has touched for a week.

    Parameters
    ----------
    who : str
        What another run is told that claims the file meanwhile.

    Raises
    ------
    Busy
        Another run has it.
    OSError
        The folder cannot be made.
    """
    home = path.with_name(f".{path.name}{_UNFINISHED}")
    made = [each for each in home.parents if not each.exists()]
    held = _claim(home, who)
    try:
        _sweep_unfinished(home)
        yield home
    finally:
        _let_go(home, held, made)


def _claim(home: Path, who: str) -> IO[bytes]:
    while True:
        home.mkdir(parents=True, exist_ok=True)
        if home.is_symlink():
            raise NotADirectoryError(errno.ENOTDIR, "a link where a folder of ours is expected", str(home))
        lock = home / _LOCK
        try:
            file = lock.open("a+b")
        except FileNotFoundError:  # the run that had it removed it just now
            continue
        try:
            _lock_or_busy(file)
            if fcntl is not None and not _is_still(lock, file):
                file.close()
                continue
            with suppress(OSError):  # nobody needs to know
                file.truncate(0)
                file.write(who.encode(errors="replace")[:_LONGEST_SAID])
                file.flush()
        except BaseException:
            file.close()
            raise
        return file


def _lock_or_busy(file: IO[bytes]) -> None:
    if fcntl is None:
        return
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        file.seek(0)
        said = file.read(_LONGEST_SAID).decode(errors="replace")
        raise Busy("".join(letter for letter in said if letter.isprintable())) from None
    except OSError:  # some file systems of other machines have no locks
        return


def _is_still(path: Path, file: IO[bytes]) -> bool:
    """Whether a file that was opened is the one of that name: whoever held it before may have removed it."""
    try:
        return os.path.samestat(path.stat(), os.fstat(file.fileno()))
    except FileNotFoundError:
        return False


def _let_go(home: Path, held: IO[bytes], made: list[Path]) -> None:
    """Removes what is empty, folders around it that were made for it too."""
    with suppress(OSError), held:
        if {path.name for path in home.iterdir()} == {_LOCK}:
            (home / _LOCK).unlink()
            for folder in (home, *made):
                folder.rmdir()  # an error unless it is empty


def _sweep_unfinished(own: Path) -> None:
    with suppress(OSError):
        for home in own.parent.iterdir():
            if home != own and _UNFINISHED_NAME.fullmatch(home.name):
                with suppress(OSError, Busy):
                    _sweep_one_unfinished(home)


def _sweep_one_unfinished(home: Path) -> None:
    lock = home / _LOCK
    last = max((path.lstat().st_mtime for path in (home, *home.iterdir())), default=time.time())
    if home.is_symlink() or fcntl is None or not lock.exists() or time.time() - last < _FORGOTTEN:
        return
    with lock.open("rb") as file:
        _lock_or_busy(file)
        shutil.rmtree(home, ignore_errors=True)


def _held(path: Path) -> IO[bytes] | None:
    """A new file, locked as long as what is returned is open; None where files cannot be locked."""
    file = path.open("xb")
    if fcntl is None:
        file.close()
        return None
    with suppress(OSError):  # some file systems of other machines have no locks; then what is left there stays
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    return file


def _left_behind(path: Path) -> bool:
    """Whether a file that runs hold while they live is held by none."""
    if fcntl is None:
        return False
    with path.open("rb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
    return True


def _sweep_folders(home: Path) -> None:
    with suppress(OSError):
        for folder in home.iterdir():
            if _FOLDER_NAME.fullmatch(folder.name):
                with suppress(OSError):
                    _sweep_folder(folder)


def _sweep_folder(folder: Path) -> None:
    state = folder.lstat()
    ours = fcntl is not None and not folder.is_symlink() and folder.is_dir() and state.st_uid == os.getuid()
    lock = folder / _LOCK
    old = time.time() - state.st_mtime > _YOUNG
    if ours and (_left_behind(lock) if lock.exists() else old):
        shutil.rmtree(folder, ignore_errors=True)


def _sweep_parts(folder: Path) -> None:
    with suppress(OSError):
        for path in folder.iterdir():
            if _PART_NAME.fullmatch(path.name) and path.is_file() and not path.is_symlink():
                with suppress(OSError):
                    if _left_behind(path):
                        path.unlink()
