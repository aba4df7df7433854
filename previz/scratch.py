"""What a run keeps on disk while it works, and what runs that were killed have left of it.

Each run holds a lock on what is its own, which the system lets go of however the run ends. What nobody holds is swept
by the next run, at once. Where there are no such locks (Windows) nothing is swept.
"""

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
