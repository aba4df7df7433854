"""Built sets and baked light kept on disk between runs: named by its content, whole or absent, never in the way.

What is kept is a convenience: whatever goes wrong with the folder (read-only, full, a damaged file) costs time and
nothing else. A file begins with the digest of all that follows, which is looked at before anything is made of it: a
changed byte is found wherever it lies, also where a reader would pass over it. Damage is what is guarded against here,
not malice: who may write into this user's cache may do worse.
"""

import hashlib
import io
import json
import os
import re
import tempfile
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import platformdirs
from numpy.typing import NDArray

from previz.files.reading import digest, note, read_files

Arrays = dict[str, NDArray[Any]]

#: Names a folder to keep things in, instead of the user's cache folder.
FOLDER_VARIABLE = "PREVIZ_CACHE"

#: All that is kept together takes no more, and nothing larger is kept.
MOST_KEPT = 1_000_000_000

_FILES = "files read"

#: A folder of our own in the one that is named, which may hold anything; and the only names in it that are ours.
_OWN_FOLDER = "kept-by-previz"
_OWN_NAME = re.compile(r"[\w-]+\.kept|draft-\w+\.tmp")

_MARK = b"kept by previz 1\n"
_DIGEST_SIZE = 32  # of SHA-256 [bytes]

_WRITTEN_BY_THEN = 3600.0  # a draft that old is of a run that was killed [s]

_TRIMMED: set[Path] = set()  # folders that this process has looked through


def cache_folder() -> Path:
    """Where all is kept; it may not exist yet. Nothing outside it is ever written or removed."""
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named or platformdirs.user_cache_dir("tabletop-previz")) / _OWN_FOLDER


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


#: What is source text in a room: the programs of the graphics side too.
_SOURCE = (".py", ".glsl", ".vert", ".frag")


def source_of(package: Path, rooms: Iterable[str]) -> str:
    """Names (64 hex digits) the source text of some rooms, folders or modules of a package."""
    places = [package / name for name in rooms]
    files = (path for place in places for path in (place.rglob("*") if place.is_dir() else (place,)))
    texts = sorted(path for path in files if path.suffix in _SOURCE)
    return hashlib.sha256(b"\0".join(path.read_bytes() for path in texts)).hexdigest()


def kept(
    key: str, compute: Callable[[], Arrays], *, cache: bool = True, fresh: Callable[[Arrays], bool] | None = None
) -> Arrays:
    """The arrays kept under `key`, or else computed and kept. Errors of `compute` pass through; others do not.

    What was kept counts only if it is still `fresh`.
    """
    if not cache:
        return compute()
    path = cache_folder() / f"{key}.kept"
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
    arrays = read_checked(path)
    if arrays is None:
        return None
    with suppress(OSError):
        os.utime(path)  # used lately, so removed late
    if path.parent not in _TRIMMED:  # two runs at once, or another bound, may have left more than there should be
        _trim(path.parent)
    return arrays


def read_checked(path: Path) -> Arrays | None:
    """What a file holds; None where there is none, or it is not byte for byte what was written under that name."""
    try:
        data = path.read_bytes()
        head = len(_MARK) + _DIGEST_SIZE
        if data[:head] != _head(path, memoryview(data)[head:]):
            return None
        whole = io.BytesIO(data)
        whole.seek(head)
        with np.load(whole, allow_pickle=False) as file:
            return {name: file[name] for name in file.files}
    except Exception:  # whatever a file makes its reader trip over
        return None


def _head(path: Path, body: memoryview) -> bytes:
    """What a file of that name begins with, if `body` follows."""
    named = hashlib.sha256(path.name.encode() + b"\0")
    named.update(body)
    return _MARK + named.digest()


def _write(path: Path, arrays: Arrays) -> None:
    if sum(array.nbytes for array in arrays.values()) > MOST_KEPT:
        return  # all else would have to go for it
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_checked(path, arrays)
        _trim(path.parent)


def write_checked(path: Path, arrays: Arrays, *, at_once: bool = False) -> int:
    """A file of arrays under the digest of all its bytes; returns how many. Raises OSError.

    Under another name first (`draft-….tmp`): a reader, or a second run, never sees half a file. at_once: it is on the
    disk when this returns, should the power fail then.
    """
    packed = io.BytesIO()
    np.savez(packed, **arrays)  # type: ignore[arg-type]
    handle, draft = tempfile.mkstemp(dir=path.parent, prefix="draft-", suffix=".tmp")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(_head(path, packed.getbuffer()))
            file.write(packed.getbuffer())
            if at_once:
                file.flush()
                os.fsync(file.fileno())
        Path(draft).replace(path)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise
    return len(_MARK) + _DIGEST_SIZE + len(packed.getbuffer())


def _trim(home: Path) -> None:
    """Remove what was used longest ago, beyond MOST_KEPT in all, and drafts of runs that died."""
    _TRIMMED.add(home)
    files = []
    with suppress(OSError):
        for path in home.iterdir():
            if _OWN_NAME.fullmatch(path.name):
                with suppress(OSError):  # another run may have removed it
                    state = path.lstat()
                    files.append((state.st_mtime, state.st_size, path))
    total = 0
    for used, size, path in sorted(files, reverse=True):
        dead = path.suffix == ".tmp" and time.time() - used > _WRITTEN_BY_THEN
        if dead or total + size > MOST_KEPT:
            with suppress(OSError):
                path.unlink()
        else:
            total += size
