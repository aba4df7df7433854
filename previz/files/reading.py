"""The bytes of files that come from strangers, and a list of those read: what was built of them is kept as long as they
stay the same."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from hashlib import sha256
from pathlib import Path

from previz.errors import PrevizError

MOST_BYTES = 200 * 1000**2

#: What a builder wants listed. Each build has a list of its own, however many run at once: threads that a build starts
#: by `spread` work on its behalf, in its context.
_READ: ContextVar[dict[Path, str] | None] = ContextVar("files read", default=None)


def bytes_of(path: Path, what: str, most: int) -> bytes:
    """The file's content. Raises PrevizError where there is none that can be read."""
    if path.is_dir():
        raise PrevizError(f"{path}: a folder found where {what} file is expected; name the file inside it")
    if not path.exists():
        raise PrevizError(f"{path}: no such file; {what} file is expected here: check the name, or copy it there")
    if not path.is_file():
        raise PrevizError(f"{path}: not an ordinary file; {what} file is expected here")
    try:
        size = path.stat().st_size
        if size > most:
            raise PrevizError(
                f"{path}: {size / 1e6:.0f} MB found; at most {most / 1e6:.0f} MB are read; make the file smaller"
            )
        data = path.read_bytes()
    except OSError as fault:
        raise PrevizError(f"{path}: cannot be read ({fault.strerror}); check who may read it") from None
    note({path.resolve(): sha256(data).hexdigest()})
    if not data:
        raise PrevizError(f"{path}: an empty file found where {what} is expected; save or copy it again")
    return data


@contextmanager
def read_files() -> Iterator[dict[Path, str]]:
    """Lists every file read meanwhile on behalf of the caller, what meshes refer to included, with its `digest`."""
    read: dict[Path, str] = {}
    before = _READ.set(read)
    try:
        yield read
    finally:
        _READ.reset(before)


def note(read: Mapping[Path, str]) -> None:
    """Put files on the caller's list, if one is kept: such as another process read for it."""
    listed = _READ.get()
    if listed is not None:
        listed.update(read)


def digest(path: Path) -> str:
    """Names a file's content; "" where it cannot be read."""
    try:
        return sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""
