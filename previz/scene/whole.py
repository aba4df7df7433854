"""A whole scene file read from its data: the values, and what one part says of another."""

import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from previz import units
from previz.scene.budget import budget_faults
from previz.scene.cameras import Camera
from previz.scene.faults import Wrong, translated
from previz.scene.fields import FileUnits
from previz.scene.model import Scene
from previz.scene.on_screen import as_in_one_shot, driving_in
from previz.scene.references import reference_faults
from previz.scene.written import Written
from previz.scene.yaml_tree import Node
from previz.units import LENGTH, QuantityError


def whole_scene(
    root: Node, file: FileUnits, folder: Path, kit: Mapping[str, Camera] | None, *, outside_files: bool
) -> tuple[Scene | None, list[Wrong]]:
    """The scene that a file's data says, or None, and all that is wrong with it. kit: None where it cannot be read."""
    root, wrong = as_in_one_shot(root, file)
    scene, found = _validated(root, file, kit)
    return scene, wrong + found + _between_parts(root, file, folder, kit, outside_files=outside_files)


def _between_parts(
    root: Node, file: FileUnits, folder: Path, kit: Mapping[str, Camera] | None, *, outside_files: bool
) -> list[Wrong]:
    data = root.plain()
    found = reference_faults(root, file, folder, outside_files=outside_files, kit=kit)
    return [Wrong(steps, why) for steps, why in [*found, *budget_faults(data, file)]]


def file_units(data: dict[str, Any], written: Written | None = None) -> FileUnits:
    """Units and scale, needed to read anything else; written: of one setup, which knows of shots not in the data.

    Where one of them is at fault, a stand-in lets the rest be read so that all faults show at once; the file is
    refused in any case.
    """
    bare: float | None = None
    if data.get("units") is not None:
        named = data["units"]
        bare = LENGTH.factors[named] if isinstance(named, str) and named in LENGTH.factors else 1e-3
    try:
        scale = units.scale_of(data.get("scale"))
    except QuantityError:
        scale = 50.0
    slowdowns, driving = dict(_slowdowns(data.get("shots"))), driving_in(data)
    if written is not None:
        slowdowns, driving = {**written.slowdowns, **slowdowns}, {**driving, **written.driving}
    return FileUnits(bare, scale, slowdowns, driving)


def _slowdowns(shots: Any) -> Iterator[tuple[str, float]]:
    """How many times slower than on set each shot plays, by its id; nan of one whose rates are at fault."""
    for shot in shots if isinstance(shots, list) else []:
        if not isinstance(shot, dict) or not isinstance(shot.get("id"), str):
            continue
        capture = shot.get("capture")
        written = capture.get("rate") if isinstance(capture, dict) else None
        try:
            rate, playback = (units.frame_rate(each) for each in (written, shot.get("playback", 24)))
        except QuantityError:
            yield shot["id"], math.nan
            continue
        yield shot["id"], float(rate / playback)


def _validated(root: Node, file: FileUnits, kit: Mapping[str, Camera] | None) -> tuple[Scene | None, list[Wrong]]:
    data = root.plain()
    own = data.get("cameras", {})
    if kit and isinstance(own, dict):
        data["cameras"] = {**own, **kit, **own}  # its own first; of a name in both it is read, for its faults
    try:
        return Scene.model_validate(data, context=file), []
    except ValidationError as error:
        told = translated(root, error)
    unread = kit is None and "cameras" not in data  # the kit is at fault; that no cameras came of it is no news
    return None, [each for each in told if not (unread and each.steps == ("cameras",))]
