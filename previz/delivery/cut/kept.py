"""A shot kept as it was filmed, without loss, so that the cut is encoded once and an unchanged shot never filmed again.

Two files: a film whose pictures are, to the code, those that an encoder would be handed (FFV1, IETF RFC 9043), and what
is known of it.
"""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from fractions import Fraction
from hashlib import file_digest
from pathlib import Path
from typing import Any

from previz.delivery.clip.encoder import encode
from previz.delivery.pictures import picture_of
from previz.delivery.whole_file import named_faults, whole_file
from previz.frames import Facts, Frame
from previz.physics.colour import bt709_encoded

#: FFV1 in Matroska: every picture on its own, codes as they are, read by players and editors.
_WITHOUT_LOSS = ["-c:v", "ffv1", "-level", "3", "-g", "1", "-pix_fmt", "bgr0", "-f", "matroska"]


@dataclass(frozen=True)
class KeptShot:
    """Frames of a shot that lie in a film.

    Parameters
    ----------
    path : Path
        The film.
    digest : str
        Of all that it was filmed from.
    numbers : range
        Which of the shot's frames it holds.
    size : (int, int)
        Width and height. [px]
    facts : Facts
        What it was recorded with.
    drawn_by : str
        OpenGL's words for itself where it was drawn; another one's pictures differ in their last bits.
    """

    path: Path
    digest: str
    numbers: range
    size: tuple[int, int]
    facts: Facts
    drawn_by: str = ""

    def in_film(self, frames: range) -> range:
        """Where frames of the shot stand in the film, counted from 0."""
        return range(frames.start - self.numbers.start, frames.stop - self.numbers.start)


def keep_shot(
    folder: Path,
    shot: str,
    digest: str,
    frames: Iterable[Frame],
    numbers: range,
    size: tuple[int, int],
    rate: Fraction,
    drawn_by: str = "",
) -> KeptShot:
    """Film a shot into a folder, whole or not at all; frames are taken one at a time.

    Raises
    ------
    MachineError
        The file cannot be written or the encoder does not work.
    """
    facts: list[Facts] = []

    def pictures() -> Any:
        for frame in frames:
            facts[:] = [frame.facts]
            yield picture_of(frame.linear, bt709_encoded)

    path = folder / f"{shot}.mkv"
    with whole_file(path) as part:
        encode(pictures(), size, rate, _WITHOUT_LOSS, path, part)
        known = {
            "digest": digest,
            "first": numbers.start,
            "frames": len(numbers),
            "size": list(size),
            "facts": asdict(facts[0]),
            "drawn_by": drawn_by,
            "sha256": _digest(part),
        }
    note = _note(path)
    with whole_file(note) as part, named_faults(note):
        part.write_text(json.dumps(known, indent=1), encoding="utf-8")
    return KeptShot(path, digest, numbers, size, facts[0], drawn_by)


def kept_shot(folder: Path, shot: str, digest: str, wanted: range) -> KeptShot | None:
    """The film of a shot if it was made from that and holds the frames wanted; None where it has to be filmed."""
    path = folder / f"{shot}.mkv"
    try:
        known = json.loads(_note(path).read_text(encoding="utf-8"))
        numbers = range(known["first"], known["first"] + known["frames"])
        held = numbers.start <= wanted.start and wanted.stop <= numbers.stop
        if known["digest"] != digest or not held or known["sha256"] != _digest(path):
            return None
        width, height = known["size"]
        size, facts = (int(width), int(height)), Facts(**known["facts"])
        return KeptShot(path, digest, numbers, size, facts, str(known["drawn_by"]))
    except (OSError, ValueError, KeyError, TypeError):  # not there, or someone else's
        return None


def _note(path: Path) -> Path:
    return path.with_suffix(".json")


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()
