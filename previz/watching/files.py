"""The files of a scene, looked after in a thread of its own.

The system tells of changes in their folders: an editor may write a file in place, or write another and give it the
name. Once a second their times are looked at as well, for there are disks that tell of nothing, and folders that come
and go.
"""

import time
from collections.abc import Callable, Collection
from pathlib import Path
from threading import Event, Thread

from watchfiles import watch

#: A save is over once this long nothing more was written [ms]; after so long it is told in any case.
_QUIET, _LONGEST = 40, 400

#: How often is looked without being told; and where the system tells nothing at all. [s]
_LOOK, _LOOK_ALONE = 1.0, 0.3

#: A file's own time is when it was saved, unless it is older than this [s]: renaming leaves it as it was.
_RECENT = 5.0

#: Of a file: when it was changed [ns], its size [bytes] and its number on the disk.
Stamp = tuple[int, int, int]


class Watcher:
    """Tells of every save; a context, at whose end it stops.

    Parameters
    ----------
    files : collection of Path
        Whether they are there or not.
    saved : callable
        Told when one was saved or deleted. [s since the epoch]
    """

    def __init__(self, files: Collection[Path], saved: Callable[[float], None]) -> None:
        self._files, self._saved = _all_names(files), saved
        self._stamps = _stamps(self._files)
        self._again, self._over = Event(), False
        self._thread = Thread(target=self._run, name="watcher", daemon=True)

    def follow(self, files: Collection[Path]) -> None:
        """Look after these from now on."""
        names = _all_names(files)
        if names != self._files:
            self._files = names
            self._again.set()

    def __enter__(self) -> "Watcher":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over = True
        self._again.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._over:
            self._again.clear()
            try:
                self._listen(self._files)
            except (OSError, RuntimeError):  # no more of the system's watches to be had
                self._again.wait(_LOOK_ALONE)
                self._compare()

    def _listen(self, files: frozenset[Path]) -> None:
        """Until other files or folders are to be looked after."""
        folders = _folders(files)
        if self._over or files != self._files:
            return
        for _ in watch(
            *folders, watch_filter=None, debounce=_LONGEST, step=_QUIET, stop_event=self._again,
            rust_timeout=round(_LOOK * 1000), yield_on_timeout=True, raise_interrupt=False, recursive=False,
            ignore_permission_denied=True,
        ):  # fmt: skip
            self._compare()
            if _folders(files) != folders:
                return

    def _compare(self) -> None:
        """Tell if anything is not as it was. A file that is new here counts from now on."""
        before, self._stamps = self._stamps, _stamps(self._files)
        changed = [file for file, stamp in self._stamps.items() if file in before and before[file] != stamp]
        if changed:
            self._saved(_when([self._stamps[file] for file in changed]))


def _when(stamps: Collection[Stamp | None]) -> float:
    """When the last of these files was saved, by its own time if that can be. [s since the epoch]"""
    now = time.time()
    times = [stamp[0] * 1e-9 for stamp in stamps if stamp is not None]
    return max((each for each in times if now - _RECENT < each <= now), default=now)


def _all_names(files: Collection[Path]) -> frozenset[Path]:
    """Also what links lead to: an editor writes there."""
    return frozenset(name for file in files for name in (file.absolute(), file.resolve()))


def _folders(files: Collection[Path]) -> dict[Path, int]:
    """The folders of files, by which they are on the disk; of one that is missing, the next above it that is there."""
    found: dict[Path, int] = {}
    for file in files:
        folder = next(each for each in file.parents if each.is_dir())
        found[folder] = folder.stat().st_ino
    return found


def _stamps(files: Collection[Path]) -> dict[Path, Stamp | None]:
    return {file: _stamp(file) for file in files}


def _stamp(file: Path) -> Stamp | None:
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino
