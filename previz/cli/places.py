"""Where a command writes, and the line of the file that a fault belongs to."""

from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from previz.errors import FileFault, PrevizError, ShotFault

if TYPE_CHECKING:
    from previz.scene import Scene

#: Of a page where nothing else was asked for: what fits into a mail.
PAGE_SIZE = "25 MB"


def refuse_to_overwrite(files: Mapping[Path, bytes], ours: Collection[Path] = ()) -> None:
    """What is there already stays, unless it is the same, or one of `ours` to keep fresh."""
    for path, data in files.items():
        if path.exists() and path not in ours and (path.is_dir() or path.read_bytes() != data):
            raise PrevizError(f"{path} is there already; choose another name, or write over it with --force")


#: Endings of files; a folder of such a name is a slip.
_FILES_END = {".png", ".jpg", ".mp4", ".gif", ".webp", ".pdf", ".svg", ".html", ".csv", ".otio"}


def folder_of(scene_file: Path, out: Path | None, own: str = "") -> Path:
    """Where a command writes: the folder that is named, or one of its own among the scene's outputs."""
    if out is None:
        return Path("outputs", scene_file.stem, own)
    if out.suffix.lower() in _FILES_END and not out.is_dir():
        raise PrevizError(f"--out {out}: a folder is named here, and this is a file's name; leave out {out.suffix}")
    return out


def tried(folder: Path, *cure: str) -> Path:
    """The folder, once it is known that it can be written to: before any waiting. cure: what to do, if not --out."""
    from previz.delivery import try_folder

    try_folder(folder, *cure)
    return folder


@contextmanager
def at_its_line(scene_file: Path, scene: "Scene | None" = None) -> Iterator[None]:
    """Tell what a shot asks that cannot be, and which file cannot be used, by the line that says so.

    scene: as it is set up for a shot, where that is what is put to use.
    """
    try:
        yield
    except (FileFault, ShotFault) as fault:
        from previz.scene import at_its_line

        raise at_its_line(scene_file, fault, scene) from None
