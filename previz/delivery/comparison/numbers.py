"""The numbers behind a comparison: one table, as CSV for a spreadsheet and JSON for programs and the page."""

import csv
import dataclasses
import io
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from previz.delivery.comparison.arrangement import Box
from previz.delivery.comparison.panels import Comparison, Panel
from previz.delivery.comparison.side_by_side import Shown, sensor_of
from previz.delivery.whole_file import named_faults, whole_file
from previz.frames import Facts
from previz.predictions import GLOSSARY, Figure, rows
from previz.units import TIME, as_json, text_of

#: What explains most of the difference between panels, in the order it is worth reading.
TELLING = (
    "focal_length", "f_number", "iso", "iso_by_check", "focus_distance", "near_limit", "far_limit",
    "backdrop_blur_share", "depth_of_field", "vehicle_sharp_share", "best_f_number", "entrance_pupil",
    "full_size_pupil", "implied_share", "f_number_for_full_size", "view_width", "vehicle_width", "slowdown",
    "exposure_time", "vehicle_blur_share", "diffraction_disc", "exposure_error",
)  # fmt: skip

#: What is looked at first of what a varied key moves: by where the key stands in the file, or by its own name.
_FIRST = {
    "vehicle": ("Launch", "Time"),
    "scale": ("Sizes at full scale", "Apparent scale"),
    "lights": ("Light",),
    "set": ("Framing", "On the set"),
    "dressing": ("Framing", "On the set"),
    "at": ("Framing",),
    "aim": ("Framing",),
    "rate": ("Time", "Light"),
    "playback": ("Time",),
    "start": ("Time", "Framing"),
    "duration": ("Time", "Framing"),
    "shutter": ("Light", "Time"),
    "iso": ("Light",),
    "exposure": ("Light",),
}

#: More rows than these explain nothing.
_MOST_TELLING = 16


def telling_table(comparison: Comparison, shown: Shown) -> list[dict[str, Any]]:
    """The few rows that explain what is seen: of what differs between panels, what is varied moves first.

    Between cameras only what `TELLING` names; recorded light and the backdrop's blur are always among the rows. So are
    the ISO of the picture and that of the findings where the two read otherwise: each is told as what it is.
    """
    rows = [row for row in table_of(comparison) if not row["of"]]
    blurs = [panel.figure("blur_pixels", "backdrop") for panel in comparison.panels]
    shares = [
        "" if blur is None else f"{100 * blur / panel.scene.mode(panel.shot).width:.2g}"
        for blur, panel in zip(blurs, comparison.panels, strict=True)
    ]
    rows.append(
        _worded_row("Focus", "backdrop_blur_share", "blur of the backdrop, of the picture's width", "%", shares)
    )
    first = _first_groups(comparison)
    rank = {quantity: number for number, quantity in enumerate(TELLING)}
    rows = [row for row in rows if len(set(row["values"])) > 1 and (comparison.varied or row["quantity"] in rank)]
    isos = _iso_rows(comparison, shown)
    if len(isos) > 1:
        rows = [row for row in rows if row["quantity"] != "iso_needed"]
    rows += [row for row in isos if len(isos) > 1 or len(set(row["values"])) > 1]
    rows.sort(
        key=lambda row: (
            first.index(row["group"]) if row["group"] in first else len(first),
            rank.get(row["quantity"], len(rank)),
        )
    )
    return rows[:_MOST_TELLING]


def _iso_rows(comparison: Comparison, shown: Shown) -> list[dict[str, Any]]:
    """The ISO of the pictures, and beside it what the findings go by where that reads otherwise.

    A picture is metered on the models themselves and a finding on plain shapes of them: they may lie on either side of
    an edge between two third stops.
    """
    drawn = [facts.iso_told for facts in shown.facts]
    by_check = [_by_check(panel, facts).iso_told for panel, facts in zip(comparison.panels, shown.facts, strict=True)]
    if by_check == drawn:
        return [_worded_row("Light", "iso", "ISO", "", drawn)]
    return [
        _worded_row("Light", "iso", "ISO of the picture, metered as it is drawn", "", drawn),
        _worded_row(
            "Light", "iso_by_check", "ISO by check, metered on plain shapes; noise is weighed by it", "", by_check
        ),
    ]


def _by_check(panel: Panel, facts: Facts) -> Facts:
    """The same with the ISO that the findings of a panel go by, where it is automatic."""
    needed = panel.figure("iso_needed")
    if needed is None or not facts.metered:
        return facts
    low, high = panel.scene.cameras[panel.shot.camera].iso
    return dataclasses.replace(facts, iso=round(min(max(needed * 2**panel.shot.capture.exposure, low), high)))


def _first_groups(comparison: Comparison) -> list[str]:
    """Groups of the table that what is varied moves first."""
    groups: list[str] = []
    for each in comparison.varied:
        steps = each.key.replace("[", ".").split(".")
        groups += _FIRST.get(steps[0], _FIRST.get(steps[-1], ()))
    return groups


def _worded_row(group: str, quantity: str, label: str, unit: str, values: list[str]) -> dict[str, Any]:
    return {"group": group, "quantity": quantity, "of": "", "label": label, "unit": unit, "values": values}


def table_of(comparison: Comparison, *, decimals: bool = False) -> list[dict[str, Any]]:
    """Predicted numbers, a row for each, with a text for each panel in the unit that is named: the maker's tape's.

    What holds for the whole scene, its launch and sizes, is among them. Pixels are those of each camera's own capture
    mode. decimals: of inches too, as a spreadsheet reads them.
    """
    found: dict[tuple[str, str], list[Figure | None]] = {}
    for number, panel in enumerate(comparison.panels):
        for figure in panel.figures:
            found.setdefault((figure.quantity, figure.of), [None] * len(comparison.panels))[number] = figure
    tape = comparison.scene.tape_unit
    table = [_row(quantity, of, figures, tape, decimals) for (quantity, of), figures in found.items()]
    # What the first panel lacks comes last, but belongs to its group.
    groups = list(dict.fromkeys(row["group"] for row in table))
    return sorted(table, key=lambda row: groups.index(row["group"]))


def _row(quantity: str, of: str, figures: Sequence[Figure | None], tape: str, decimals: bool) -> dict[str, Any]:
    known = next(figure for figure in figures if figure is not None)
    (named,) = rows((known,), tape)
    laid = [rows((figure,), tape, decimals=decimals)[0] if figure is not None else None for figure in figures]
    values = ["" if row is None else row.value if decimals else row.told for row in laid]
    return {**_worded_row(named.group, quantity, named.label, named.unit, values), "of": of}


def numbers_of(comparison: Comparison, shown: Shown, clip: str, digests: Mapping[str, str]) -> dict[str, Any]:
    """Everything the page tells, as plain data; lengths and times are SI where they are numbers.

    digests: SHA-256 of each picture file that the numbers are of, by its name.
    """
    shot = comparison.shot
    return {
        "title": comparison.scene.title,
        "shot": shot.id,
        "scale": comparison.scene.scale,
        "drives": comparison.scene.vehicle is not None,
        "by": comparison.by,
        "rules": list(comparison.rules),
        "clip": clip,
        "sha256": dict(digests),
        "size": list(shown.layout.size),
        "clip_size": list(shown.clip_size),
        "rate": str(shown.rate),
        "frames": shown.count,
        "moment": shown.moment,
        "slowdown": _slowdowns(comparison),
        "panels": [
            _panel(panel, shown.layout.panels[number], shown, number) for number, panel in enumerate(comparison.panels)
        ],
        "telling": telling_table(comparison, shown),
        "table": table_of(comparison),
        "left_out": [{"name": each.name, "why": each.sentence, "remedy": each.remedy} for each in comparison.left_out],
        "cautions": [
            {"because": each.because, "precaution": each.precaution}
            for each in comparison.panels[0].predictions.cautions
        ],
    }


def _slowdowns(comparison: Comparison) -> float | None:
    """How many times slower than on set all of it plays; None where panels differ. [-]"""
    found = {panel.shot.capture.rate / panel.shot.playback for panel in comparison.panels}
    return float(found.pop()) if len(found) == 1 else None


def _panel(panel: Panel, box: Box, shown: Shown, number: int) -> dict[str, Any]:
    facts, shot = shown.facts[number], panel.shot
    return {
        "name": panel.name,
        "camera": shot.camera,
        "box": [box.x, box.y, box.width, box.height],
        "cell": list(panel.cell),
        "sensor": sensor_of(panel).replace(" x ", " × "),
        "settings": [
            f"{shot.focal_length * 1000:.3g} mm",
            f"f/{shot.f_number:.3g}",
            text_of(TIME, facts.exposure_time),
            f"ISO {facts.iso_told}",
        ],
        "focal_length": shot.focal_length,
        "f_number": shot.f_number,
        "stands": panel.stands.replace(" x ", " × "),
        "differences": [{**dataclasses.asdict(each), "value": as_json(each.value)} for each in panel.differences],
        "sharp": panel.sharp,
        "facts": dataclasses.asdict(facts),
        "figures": [
            {
                "quantity": each.quantity,
                "of": each.of,
                "value": as_json(each.value),
                "unit": GLOSSARY[each.quantity].unit,
            }
            for each in panel.figures
        ],
        "findings": [
            {
                "id": each.id,
                "verdict": str(each.verdict),
                "gist": each.gist,
                "message": each.message,
                "remedy": each.remedy,
            }
            for each in panel.predictions.told
            if each.verdict != "fine"
        ],
    }


def deliver_numbers(folder: Path, comparison: Comparison, numbers: dict[str, Any]) -> tuple[Path, Path]:
    """Write `numbers.csv` and `numbers.json`, each whole or not at all; returns their names. Raises MachineError."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["group", "quantity", "of", "unit", *(panel.name for panel in comparison.panels)])
    for row in table_of(comparison, decimals=True):
        quantity = row["label"].removesuffix(f", {row['of']}")
        writer.writerow([row["group"], quantity, row["of"], row["unit"], *row["values"]])
    written = []
    for name, content in (("numbers.csv", text.getvalue()), ("numbers.json", json.dumps(numbers, indent=1))):
        path = folder / name
        with whole_file(path) as part, named_faults(path):
            part.write_text(content, encoding="utf-8", newline="")
        written.append(path)
    return written[0], written[1]
