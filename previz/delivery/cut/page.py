"""One HTML file that carries a cut: its clip, a picture of each shot, and what was found of each."""

import base64
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image

from previz.delivery.comparison.page import TEMPLATES as COMPARISON_TEMPLATES
from previz.delivery.comparison.page import TooLarge
from previz.delivery.cut.contact import coming_in, when_of
from previz.delivery.cut.cut_list import ListRow
from previz.delivery.one_file import hash_of, jpeg_of, templates_in
from previz.delivery.whole_file import named_faults, whole_file
from previz.predictions import Finding, Predictions, to_mend_and_watch

_TEMPLATES = Path(__file__).parent / "templates"


@dataclass(frozen=True)
class Told:
    """What the page says of a cut beside its rows.

    Parameters
    ----------
    title, length, sound : str
        Of the scene; how long the cut is; what is heard.
    scale : float
        S of 1:S.
    warnings : tuple of str
        Of the clip as a whole.
    predictions : Predictions
        Of all shots.
    between : tuple of Finding
        What tears neighbours apart.
    """

    title: str
    length: str
    sound: str
    scale: float
    warnings: tuple[str, ...]
    predictions: Predictions
    between: tuple[Finding, ...] = ()


def deliver_cut_page(
    path: Path,
    told: Told,
    rows: Sequence[ListRow],
    stills: Mapping[int, Image.Image],
    clip: bytes,
    rate: float,
    limit: int,
) -> Path | TooLarge:
    """Write the page, whole or not at all; not if it would be larger than the limit [bytes]. Raises MachineError."""
    html = cut_page(told, rows, stills, clip, rate)
    size = len(html.encode())
    if size > limit:
        return TooLarge(size, limit)
    with whole_file(path) as part, named_faults(path):
        part.write_text(html, encoding="utf-8")
    return path


def cut_page(told: Told, rows: Sequence[ListRow], stills: Mapping[int, Image.Image], clip: bytes, rate: float) -> str:
    """The page's text."""
    from markupsafe import Markup

    script = (_TEMPLATES / "cut.js").read_text(encoding="utf-8")
    style = "".join(
        each.read_text(encoding="utf-8") for each in (COMPARISON_TEMPLATES / "page.css", _TEMPLATES / "cut.css")
    )
    first: dict[str, int] = {}
    shown = []
    for row in rows:
        before = first.setdefault(row.shot, row.number)
        of_it = [each for each in told.predictions.told if each.shot and each.concerns((row.shot,))]
        found = _found(of_it) if before == row.number else []
        shown.append(
            {
                "number": row.number,
                "shot": row.shot,
                "at": f"{(row.first + row.dissolve + 0.5) / rate:.6f}",
                "when": when_of(row),
                "lasts": f"{row.seconds:.2f} s, {row.frames} frames{coming_in(row)}",
                "picture": _coded(stills[row.number]),
                "findings": found,
                "counted": _counted(*to_mend_and_watch(of_it, row.shot)) if found else "",
                "again": before if before != row.number else None,
            }
        )
    return (
        templates_in(_TEMPLATES)
        .get_template("cut.html")
        .render(
            title=told.title,
            length=told.length,
            sound=told.sound,
            scale=told.scale,
            warnings=told.warnings,
            rows=shown,
            general=_found([each for each in told.predictions.told if not each.shot]),
            between=_found(told.between),
            cautions=[{"because": each.because, "precaution": each.precaution} for each in told.predictions.cautions],
            clip=base64.b64encode(clip).decode(),
            script=Markup(script),
            style=Markup(style),
            script_hash=hash_of(script),
            style_hash=hash_of(style),
        )
    )


def _found(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """What will not work as planned."""
    return [
        {"verdict": str(each.verdict), "message": each.message, "remedy": each.remedy}
        for each in findings
        if each.verdict != "fine"
    ]


def _counted(stops: int, watches: int) -> str:
    """How many findings there are of each verdict.

    >>> _counted(1, 2)
    '1 to mend, 2 to watch'
    """
    return ", ".join(f"{count} {words}" for count, words in ((stops, "to mend"), (watches, "to watch")) if count)


def _coded(image: Image.Image) -> str:
    buffer = io.BytesIO()
    image.save(buffer, format="png")
    return base64.b64encode(jpeg_of(buffer.getvalue())).decode()
