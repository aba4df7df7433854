"""The front door: a scene file in, a `Scene` out, or every fault of the file in one go."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from previz import units
from previz.errors import Fault, SceneErrors
from previz.scene.fields import FileUnits
from previz.scene.model import Scene
from previz.scene.references import reference_faults
from previz.scene.yaml_tree import Node, Steps, read_tree
from previz.units import LENGTH, QuantityError, UnitMissing, shown


def read_scene(path: Path, *, outside_files: bool = False) -> Scene:
    """Read a scene file.

    Parameters
    ----------
    path : Path
        A YAML file, UTF-8, at most 1 MB.
    outside_files : bool
        Allow images and meshes outside the file's folder.

    Returns
    -------
    Scene
        In SI, with `folder` set to where the file lies.

    Raises
    ------
    SceneErrors
        With every fault found, each with its line and the dotted key; members of a list are named by their id, or
        by their number from 0: `shots[pass].f_number`, `set.road.centre[1]`.
    """
    path = Path(path)
    root, slips = read_tree(path)
    file = _file_units(root.plain())
    wrongs = [_Wrong(slip.path, slip.message, slip.line) for slip in slips]
    scene, found = _validated(root, file)
    folder = path.absolute().parent
    found += [_Wrong(steps, why) for steps, why in reference_faults(root, file, folder, outside_files=outside_files)]
    # What is wrong with the text of a value explains whatever else is said about it.
    slipped = {slip.path for slip in slips}
    wrongs += [each for each in found if not any(each.steps[:size] in slipped for size in range(len(each.steps) + 1))]
    if wrongs or scene is None:
        faults = dict.fromkeys(
            Fault(each.line or root.line_of(each.steps), _key(root, each.steps), each.message) for each in wrongs
        )
        raise SceneErrors(path, list(faults))
    return scene.model_copy(update={"folder": folder})


@dataclass(frozen=True)
class _Wrong:
    """A fault by its place in the data; its line and key are looked up when all are known."""

    steps: Steps
    message: str
    line: int | None = None


def _file_units(data: dict[str, Any]) -> FileUnits:
    """Units and scale, needed to read anything else.

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
    return FileUnits(bare_length=bare, scale=scale)


def _validated(root: Node, file: FileUnits) -> tuple[Scene | None, list[_Wrong]]:
    try:
        return Scene.model_validate(root.plain(), context=file), []
    except ValidationError as error:
        return None, _translated(root, error)


def _translated(root: Node, error: ValidationError) -> list[_Wrong]:
    """Pydantic's errors as ours. Bare lengths in a file without `units` are one fault, however many there are."""
    wrongs: list[_Wrong] = []
    bare_lengths: list[_Wrong] = []
    for each in error.errors(include_url=False):
        reason = each.get("ctx", {}).get("error")
        message = str(reason) if isinstance(reason, ValueError) else f"{shown(each['input'])} does not belong here"
        wrong = _Wrong(_steps(root, each["loc"]), message)
        bare = isinstance(reason, UnitMissing) and reason.dimension is LENGTH
        (bare_lengths if bare else wrongs).append(wrong)
    if len(bare_lengths) < 2:
        return wrongs + bare_lengths
    first = min(bare_lengths, key=lambda wrong: root.line_of(wrong.steps))
    advice = "write units: mm at the top of the file, or a unit behind each of them, like 35 mm"
    return [*wrongs, _Wrong(first.steps, f"this and {len(bare_lengths) - 1} more lengths have no unit; {advice}")]


def _steps(root: Node, location: tuple[int | str, ...]) -> Steps:
    """Pydantic's location as a path in the file: without its marks, and not into what a short form stands for."""
    node, steps = root, []
    for step in location:
        child = node.child(step)
        if child is not None:
            node = child
            steps.append(step)
        elif isinstance(node.value, dict) and isinstance(step, str) and not step.startswith(("<", "[")):
            return (*steps, step)  # a key that is missing
    return tuple(steps)


def _key(root: Node, steps: Steps) -> str:
    """The dotted key: `shots[pass].capture.rate`."""
    node: Node | None = root
    text = ""
    for step in steps:
        node = node.child(step) if node else None
        if isinstance(step, str):
            text += f".{shown(step)}" if text else shown(step)
        else:
            named = node.child("id") if node else None
            text += f"[{shown(named.value, 40) if named and isinstance(named.value, str) else step}]"
    return text
