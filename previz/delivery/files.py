"""Small files of text that belong together."""

from collections.abc import Mapping
from pathlib import Path

from previz.delivery.whole_file import named_faults, try_folder, whole_file


def deliver_files(files: Mapping[Path, bytes]) -> None:
    """Write files, each whole or not at all, once it is known that their folders can be written to.

    Raises
    ------
    MachineError
        A folder cannot be made or written, or a file's name is that of a folder.
    """
    for folder in dict.fromkeys(path.parent for path in files):
        try_folder(folder)
    for path, data in files.items():
        with whole_file(path) as part, named_faults(path):
            part.write_bytes(data)
