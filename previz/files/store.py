"""Built sets and baked light kept on disk between runs: named by its content, whole or absent, never in the way.

What is kept is a convenience: whatever goes wrong with the folder (read-only, full, a damaged file) costs time and
nothing else.
"""

import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import platformdirs
from numpy.typing import NDArray

from previz.files.reading import digest, note, read_files

Arrays = dict[str, NDArray[Any]]

#: Names the folder instead of the user's cache folder.
FOLDER_VARIABLE = "PREVIZ_CACHE"
MOST_BYTES = 1_000_000_000

_FILES = "files read"


def cache_folder() -> Path:
    """Where all is kept; it may not exist yet."""
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named) if named else Path(platformdirs.user_cache_dir("tabletop-previz"))


def key_of(*parts: Any) -> str:
    """A name (64 hex digits) for all that determines a result.

    Arrays count by type, shape and content; anything else by its `repr`, so pass plain values and frozen dataclasses.

    >>> key_of("a", np.zeros(2)) == key_of("a", np.zeros(2)), key_of(np.zeros(2)) == key_of(np.zeros((2, 1)))
    (True, False)
    """
    digest = hashlib.sha256()
    for part in parts:
        if isinstance(part, np.ndarray):
            digest.update(f"array {part.dtype.str} {part.shape} ".encode())
            digest.update(np.ascontiguousarray(part).data)
        else:
            text = repr(part).encode()
            digest.update(b"value %d " % len(text) + text)
    return digest.hexdigest()


def kept(
    key: str, compute: Callable[[], Arrays], *, cache: bool = True, fresh: Callable[[Arrays], bool] | None = None
) -> Arrays:
    """The arrays kept under `key`, or else computed and kept. Errors of `compute` pass through; others do not.

    What was kept counts only if it is still `fresh`.
    """
    if not cache:
        return compute()
    path = cache_folder() / f"{key}.npz"
    found = _read(path)
    if found is None or (fresh is not None and not fresh(found)):
        found = compute()
        _write(path, found)
    return found


def kept_with_files(key: str, compute: Callable[[], Arrays], *, cache: bool = True) -> Arrays:
    """As `kept`, of something made from files: what was kept counts only while all that was read is still the same.

    The files go by their whole paths, so a key need not name them.
    """

    def listed() -> Arrays:
        with read_files() as read:
            arrays = compute()
        names = {str(path): known for path, known in read.items()}
        return {**arrays, _FILES: np.frombuffer(json.dumps(names).encode(), dtype=np.uint8)}

    def fresh(arrays: Arrays) -> bool:
        names: dict[str, str] = json.loads(arrays[_FILES].tobytes())
        return all(digest(Path(path)) == known for path, known in names.items())

    found = kept(key, listed, cache=cache, fresh=fresh)
    names: dict[str, str] = json.loads(found[_FILES].tobytes())
    note({Path(path): known for path, known in names.items()})  # whoever keeps what is made of this, read them too
    return {name: array for name, array in found.items() if name != _FILES}


def _read(path: Path) -> Arrays | None:
    try:
        with path.open("rb") as handle, np.load(handle, allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
        os.utime(path)  # used lately, so removed late
    except (OSError, ValueError, EOFError, KeyError, zipfile.BadZipFile):
        return None
    return arrays


def _write(path: Path, arrays: Arrays) -> None:
    """Under another name first: a reader, or a second run, never sees half a file."""
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, draft = tempfile.mkstemp(dir=path.parent, prefix="draft-", suffix=".tmp")
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez(file, **arrays)  # type: ignore[arg-type]
            Path(draft).replace(path)
        except BaseException:
            Path(draft).unlink(missing_ok=True)
            raise
        _trim(path.parent)


def _trim(home: Path) -> None:
    """Remove what was used longest ago, beyond MOST_BYTES in all, and drafts of runs that died."""
    files = []
    for path in [*home.glob("*.npz"), *home.glob("draft-*.tmp")]:
        with suppress(OSError):  # another run may have removed it
            state = path.stat()
            files.append((state.st_mtime, state.st_size, path))
    total = 0
    for _, size, path in sorted(files, reverse=True):
        total += size
        if total > MOST_BYTES:
            with suppress(OSError):
                path.unlink()
