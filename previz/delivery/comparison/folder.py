"""Everything a comparison leaves in its folder but the page: clip, still sheet, numbers."""

import json
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from previz.delivery.comparison.numbers import deliver_numbers, numbers_of
from previz.delivery.comparison.page import ABOVE_NAME, CLIP_NAME, NUMBERS_NAME, SHEET_NAME
from previz.delivery.comparison.panels import Comparison
from previz.delivery.comparison.sheet import deliver_sheet
from previz.delivery.comparison.side_by_side import Frames, Shown, deliver_side_by_side
from previz.delivery.files import deliver_files

#: Wider H.264 than this is beyond the decoders built into most phones (level 5.2 ends here; from memory). [px]
_WIDEST_ON_PHONES = 4096


def width_note(folder: Path) -> str | None:
    """What to know of the clip in a comparison's folder before it is sent; None where it plays anywhere."""
    width, height = json.loads((folder / NUMBERS_NAME).read_text(encoding="utf-8"))["clip_size"]
    if width <= _WIDEST_ON_PHONES:
        return None
    return f"the clip is {width}x{height}, more than most phones play: choose a smaller --size, or --for message"


def deliver_comparison(
    folder: Path,
    comparison: Comparison,
    frames: Sequence[Frames],
    moment: int,
    purpose: str = "post",
    above: bytes | None = None,
    counts: Sequence[int] | None = None,
) -> dict[str, Path]:
    """Write `side_by_side.mp4`, `sheet.png`, `numbers.csv` and `numbers.json`, each whole or not at all.

    Parameters
    ----------
    frames : sequence of iterators of Frame
        Of each panel; walked in step, once.
    moment : int
        Frame of the clip, counted from 0, that the sheet shows.
    purpose : str
        A key of `PURPOSES`: what the clip is for.
    above : bytes, optional
        The set from above with every panel's camera, as a PNG; `above.png` is written of it.

    counts : sequence of int or None
        Frames of each panel, as of `deliver_side_by_side`.

    Returns
    -------
    dict
        Their names, by clip, sheet, table and numbers.

    Raises
    ------
    PrevizError, MachineError
        As `deliver_side_by_side`.
    """
    clip, sheet = folder / CLIP_NAME, folder / SHEET_NAME
    shown = deliver_side_by_side(clip, comparison, frames, moment, purpose, counts)
    deliver_sheet(sheet, comparison, shown.kept)
    pictures = [clip, sheet]
    if above is not None:
        pictures.append(folder / ABOVE_NAME)
        deliver_files({folder / ABOVE_NAME: above})
    table, numbers = deliver_numbers(folder, comparison, _numbers(comparison, shown, *pictures))
    return {"clip": clip, "sheet": sheet, "table": table, "numbers": numbers}


def _numbers(comparison: Comparison, shown: Shown, *pictures: Path) -> dict[str, Any]:
    """What is known, with the digests of the files it is known of: a run that is stopped half-way leaves new pictures
    beside old numbers."""
    digests = {path.name: sha256(path.read_bytes()).hexdigest() for path in pictures}
    return numbers_of(comparison, shown, CLIP_NAME, digests)
