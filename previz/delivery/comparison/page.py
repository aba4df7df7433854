"""One HTML file that carries a comparison: clip, numbers, findings. It plays from disk and asks nothing of the network.

Its content policy lets nothing load or run but what stands in the file itself.
"""

import base64
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256
from itertools import groupby
from pathlib import Path
from typing import Any

from PIL import Image

from previz.delivery.clip.clip import PURPOSES, mp4_settings
from previz.delivery.clip.encoder import reencode
from previz.delivery.one_file import for_script, hash_of, jpeg_of, templates_in
from previz.delivery.whole_file import named_faults, whole_file
from previz.errors import PrevizError
from previz.scratch import WorkFolder

#: Names of what a comparison leaves in its folder.
CLIP_NAME, SHEET_NAME, NUMBERS_NAME, PAGE_NAME = "side_by_side.mp4", "sheet.png", "numbers.json", "page.html"

#: The set from above with every camera, where someone has put it there; the page shows it.
ABOVE_NAME = "above.png"

TEMPLATES = Path(__file__).parent / "templates"


@dataclass(frozen=True)
class TooLarge:
    """A page that was not written because it is larger than it may be. Both in bytes."""

    size: int
    limit: int


def deliver_page(folder: Path, *, limit: int | None = None, purpose: str | None = None) -> Path | TooLarge:
    """Write `page.html` beside the clip, numbers and sheet of a comparison, whole or not at all.

    Parameters
    ----------
    folder : Path
        Where `compare` wrote.
    limit : int or None
        Largest the page may be. [bytes]
    purpose : str or None
        Encode the clip once more for this purpose, for the page alone; None takes it as it is.

    Returns
    -------
    Path or TooLarge
        The page, or by how much it is too large; then nothing was written.

    Raises
    ------
    PrevizError
        The folder holds no comparison, or the pictures of one with the numbers of another.
    MachineError
        The page cannot be written, or the clip not encoded.
    """
    numbers = _numbers_in(folder)
    clip = _clip_in(folder, purpose, numbers)
    html = _page_from(folder, numbers, clip)
    size = len(html.encode())
    if limit is not None and size > limit:
        return TooLarge(size, limit)
    path = folder / PAGE_NAME
    with whole_file(path) as part, named_faults(path):
        part.write_text(html, encoding="utf-8")
    return path


def _page_from(folder: Path, numbers: Mapping[str, Any], clip: bytes) -> str:
    """The page; numbers that someone has changed by hand are a fault of theirs, told in one sentence."""
    from jinja2 import TemplateError

    sheet, above = _sheet_in(folder, numbers), _above_in(folder, numbers)
    try:
        return page_of(numbers, clip, _still_of(clip, numbers["moment"]), sheet, above)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, ArithmeticError, TemplateError) as error:
        missing = f" (there is no {error})" if isinstance(error, KeyError) else ""
        raise PrevizError(
            f"{folder / NUMBERS_NAME} is not as `previz compare` wrote it{missing}; compare again"
        ) from error


def page_of(
    numbers: Mapping[str, Any], clip: bytes, still: bytes, sheet: bytes | None, above: bytes | None = None
) -> str:
    """The page's text.

    It takes what `numbers_of` gives, an MP4, its frame at the moment and the sheet (both JPEG), and the set from above
    (PNG). The still is seen until the browser has decoded the clip, and where it cannot.
    """
    from markupsafe import Markup

    environment = templates_in(TEMPLATES)
    script, style = ((TEMPLATES / name).read_text(encoding="utf-8") for name in ("page.js", "page.css"))
    panels = [{**panel, "alt": _alt(panel, numbers), "stopped_by": stopped_by(panel)} for panel in numbers["panels"]]
    rate = Fraction(numbers["rate"])
    plan = {
        "size": numbers["size"],
        "boxes": [panel["box"] for panel in panels],
        "names": [panel["name"] for panel in panels],
        "alts": [panel["alt"] for panel in panels],
        "frames": numbers["frames"],
        "moment": numbers["moment"],
        "rate": float(rate),
    }
    names = [panel["name"] for panel in panels]
    tables = environment.get_template("table.html").module
    return environment.get_template("page.html").render(
        **{
            key: numbers[key]
            for key in ("title", "shot", "by", "scale", "rules", "frames", "moment", "left_out", "cautions")
        },
        panels=panels,
        columns=min(1 + max(panel["cell"][1] for panel in panels), 4),
        speeds=_speeds(numbers["slowdown"]),
        table=lambda rows: tables.table(names, rows),  # type: ignore[attr-defined]
        telling=numbers["telling"],
        groups=[{"name": name, "rows": [*rows]} for name, rows in groupby(numbers["table"], lambda row: row["group"])],
        findings=findings_by_panel(panels),
        alt_sheet=" ".join(panel["alt"] for panel in panels),
        sheet=base64.b64encode(sheet).decode() if sheet else "",
        above=base64.b64encode(above).decode() if above else "",
        plan=Markup(for_script(plan)),
        clip=base64.b64encode(clip).decode(),
        still=base64.b64encode(still).decode(),
        script=Markup(script),
        style=Markup(style),
        script_hash=hash_of(script),
        style_hash=hash_of(style),
    )


def _alt(panel: Mapping[str, Any], numbers: Mapping[str, Any]) -> str:
    """What a picture shows, for who does not see it."""
    what = "the vehicle on the set of" if numbers["drives"] else "the set of"
    text = f"{panel['name']}: {what} {numbers['title']}, at {', '.join(panel['settings'])}."
    for more in (panel["sharp"], panel["stands"], *(each["words"] for each in panel["differences"])):
        text += f" {more[0].upper()}{more[1:]}." if more else ""
    return text


#: So many stops are told under a picture; the others are below, with what to do.
_TOLD_THERE = 2


def stopped_by(panel: Mapping[str, Any]) -> list[str]:
    """What stops a panel's shot, in few words, for under its picture: there one sees it."""
    stops = [each["gist"] for each in panel["findings"] if each["verdict"] == "stop"]
    told = [f"{each[0].lower() if each[1:2].islower() else each[0]}{each[1:]}." for each in stops[:_TOLD_THERE]]
    return [*told, *([f"and {len(stops) - _TOLD_THERE} more, below."] if len(stops) > _TOLD_THERE else [])]


def _speeds(slowdown: float | None) -> list[dict[str, Any]]:
    """Factors of the playback rate. Browsers play up to sixteen times as fast."""
    speeds = [(1, "as planned"), (0.5, "half"), (0.25, "quarter")]
    if slowdown is not None and 1 < slowdown <= 16:
        speeds.insert(0, (slowdown, f"real time, {slowdown:.3g} × faster"))
    return [{"factor": factor, "words": words} for factor, words in speeds]


def findings_by_panel(panels: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Findings by panel; those that all panels share, with what to do about them, stand once."""
    each = [
        {(found["id"], found["message"], found["remedy"]): found for found in panel["findings"]} for panel in panels
    ]
    shared = [key for key in each[0] if all(key in others for others in each)] if len(panels) > 1 else []
    groups = [{"name": "All of them", "findings": [each[0][key] for key in shared]}]
    for panel, found in zip(panels, each, strict=True):
        groups.append({"name": panel["name"], "findings": [found[key] for key in found if key not in shared]})
    return [group for group in groups if group["findings"]]


# --- what lies in the folder ---


def _numbers_in(folder: Path) -> dict[str, Any]:
    path = folder / NUMBERS_NAME
    try:
        numbers = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise PrevizError(f"{path}: cannot be read; name a folder that `previz compare` wrote") from error
    if not isinstance(numbers, dict) or "panels" not in numbers:
        raise PrevizError(f"{path} is not the numbers of a comparison; name a folder that `previz compare` wrote")
    return numbers


def _clip_in(folder: Path, purpose: str | None, numbers: Mapping[str, Any]) -> bytes:
    path = folder / CLIP_NAME
    if not path.is_file():
        raise PrevizError(f"there is no {path}; name a folder that `previz compare` wrote")
    data = _as_written(path, numbers)
    if purpose is None:
        return data
    if purpose not in PURPOSES:
        raise PrevizError(f"{purpose} is not a purpose; use {', '.join(PURPOSES)}")
    width, height = numbers["size"]
    with WorkFolder() as scratch:
        part = scratch / CLIP_NAME
        reencode(path, mp4_settings(purpose, (width, height), whole_every=12), part)
        return part.read_bytes()


def _as_written(path: Path, numbers: Mapping[str, Any]) -> bytes:
    """The bytes of a file that the numbers are of. Raises PrevizError where they are another's."""
    data, known = path.read_bytes(), numbers.get("sha256")
    if not isinstance(known, dict) or known.get(path.name) != sha256(data).hexdigest():
        raise PrevizError(
            f"{path} is not the one that {NUMBERS_NAME} tells of: a comparison was stopped before its end, or a file "
            "put there since; compare again"
        )
    return data


def _still_of(clip: bytes, number: int) -> bytes:
    """One frame of a clip as a JPEG. Raises MachineError."""
    with WorkFolder() as scratch:
        film, picture = scratch / CLIP_NAME, scratch / "still.png"
        film.write_bytes(clip)
        one = f"select=eq(n\\,{number:d}),scale=in_color_matrix=bt709:in_range=tv,format=rgb24"
        reencode(film, ["-vf", one, "-frames:v", "1", "-c:v", "png", "-f", "image2"], picture)
        return jpeg_of(picture.read_bytes())


def _sheet_in(folder: Path, numbers: Mapping[str, Any]) -> bytes | None:
    """The sheet as a JPEG, which is small enough to travel."""
    path = folder / SHEET_NAME
    return jpeg_of(_as_written(path, numbers)) if path.is_file() else None


def _above_in(folder: Path, numbers: Mapping[str, Any]) -> bytes | None:
    """The set from above as a PNG of a few greys; None where these numbers know of none."""
    path, known = folder / ABOVE_NAME, numbers.get("sha256")
    if not isinstance(known, dict) or path.name not in known or not path.is_file():
        return None
    buffer = io.BytesIO()
    with Image.open(io.BytesIO(_as_written(path, numbers))) as drawing:
        drawing.convert("L").quantize(16).save(buffer, format="png", optimize=True)
    return buffer.getvalue()
