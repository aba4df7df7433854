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
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import numpy as np
import platformdirs
from numpy.typing import NDArray

from previz.files.reading import digest, note, read_files

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

Arrays = dict[str, NDArray[Any]]

#: Names a folder to keep things in, instead of the user's cache folder.
FOLDER_VARIABLE = "PREVIZ_CACHE"

#: All that is kept together takes no more, and nothing larger is kept.
MOST_KEPT = 1_000_000_000

_FILES = "files read"

#: A folder of our own in the one that is named, which may hold anything; and the only names in it that are ours.
_OWN_FOLDER = "kept-by-previz"
_OWN_NAME = re.compile(r"[\w-]+\.kept|[\w-]+\.busy|draft-\w+\.tmp")

_MARK = b"kept by previz 1\n"
_DIGEST_SIZE = 32  # of SHA-256 [bytes]

_WRITTEN_BY_THEN = 3600.0  # a draft that old is of a run that was killed [s]

_PATIENCE, _LOOK = 60.0, 0.02  # what another process is at work on is waited for so long, and looked for so often [s]

_TRIMMED: set[Path] = set()  # folders that this process has looked through
_SINCE: dict[Path, int] = {}  # and what it has written there since [bytes]
_LOOKED_THROUGH_AFTER = 0.01  # of MOST_KEPT: to look through a folder of many files takes longer than to write a few


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


def kept_apiece(jobs: Mapping[str, Callable[[], Arrays]], *, cache: bool = True) -> dict[str, Arrays]:
    """As `kept` of each key, for processes that want the same at the same time: each makes what no other is making.

    What another one is at work on is come back to last, and waited for. Where files cannot be locked (Windows), or it
    takes too long, it is computed here too.
    """
    if not cache:
        return {key: compute() for key, compute in jobs.items()}
    found: dict[str, Arrays] = {}
    for patience in (0.0, _PATIENCE):
        for key in (key for key in jobs if key not in found):
            # Most often it is there, and nobody need be kept out.
            known = _read(cache_folder() / f"{key}.kept")
            if known is None:
                with _alone_at(key, patience) as alone:
                    if alone or patience:
                        known = kept(key, jobs[key])
            if known is not None:
                found[key] = known
    return {key: found[key] for key in jobs}


@contextmanager
def _alone_at(key: str, patience: float) -> Iterator[bool]:
    """Whether this process alone is at work on a key; for another one at most that long is waited. [s]

    It saves work and nothing else: what two make all the same is the same.
    """
    busy = cache_folder() / f"{key}.busy"
    try:
        busy.parent.mkdir(parents=True, exist_ok=True)
        held = busy.open("ab")
    except OSError:
        yield True
        return
    with held:
        until = time.monotonic() + patience
        while not (alone := _locked(held.fileno())) and time.monotonic() < until:
            time.sleep(_LOOK)
        try:
            yield alone
        finally:
            if alone:
                with suppress(OSError):
                    busy.unlink(missing_ok=True)


def _locked(file: int) -> bool:
    """Whether nobody else holds an open file, as long as it is open; the system lets go of it however we end."""
    if fcntl is None:
        return True
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # some file systems of other machines have no locks
        return True
    return True


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
        home, written = path.parent, write_checked(path, arrays)
        _SINCE[home] = _SINCE.get(home, 0) + written
        if home not in _TRIMMED or _SINCE[home] > _LOOKED_THROUGH_AFTER * MOST_KEPT:
            _trim(home)


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
    _SINCE[home] = 0
    files = []
    with suppress(OSError):
        for path in home.iterdir():
            if _OWN_NAME.fullmatch(path.name):
                with suppress(OSError):  # another run may have removed it
                    state = path.lstat()
                    files.append((state.st_mtime, state.st_size, path))
    total = 0
    for used, size, path in sorted(files, reverse=True):
        dead = path.suffix in (".tmp", ".busy") and time.time() - used > _WRITTEN_BY_THEN
        if dead or total + size > MOST_KEPT:
            with suppress(OSError):
                path.unlink()
        else:
            total += size
