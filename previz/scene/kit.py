"""A kit: cameras in a file of their own, shared by the scenes that name it with `kit: kit.yaml`."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationError

from previz.errors import Fault, PrevizError, SceneErrors
from previz.scene.cameras import Camera
from previz.scene.faults import faults_of, translated
from previz.scene.fields import FileUnits, Form, Identity, Part, text, told, word
from previz.scene.spelling import spelled
from previz.scene.yaml_tree import read_text, read_tree
from previz.units import LENGTH, QuantityError, shown


def _named(found: object) -> object:
    if not isinstance(found, Mapping) or not found:
        raise QuantityError(f"{shown(found)} is not a group of cameras by name; write pocket: {{sensor: 1-inch, …}}")
    return found


#: Cameras by the name a shot calls them.
Cameras: Any = Annotated[
    dict[Identity, Camera], BeforeValidator(_named), Form("cameras by name", "{pocket: {sensor: 1-inch, …}}")
]

Title: Any = text(120, "a title", "Quay, first light")
#: What a bare length may mean.
BARE_UNITS = ("mm", "cm", "m", "in", "ft")
BareUnit: Any = word(*BARE_UNITS, what="a unit for bare lengths")


class Kit(Part):
    """What a maker owns to film with.

    A scene that names the kit may have cameras of its own, under names that the kit has not.
    """

    title: Title | None = told("what to call it", None, unless="none", like="What lies in the cupboard")
    units: BareUnit | None = told("what a bare length means", None, unless="every length carries its own")
    cameras: Cameras = told("each with its lens")


def read_cameras(text: str, units: str = "mm") -> dict[str, Camera]:
    """Cameras as they stand in a scene file, `{pocket: {sensor: 1-inch, …}}`, in SI; units are those of bare lengths.

    Raises
    ------
    PrevizError
        With every fault of the text.
    """
    root, slips = read_text(f"cameras: {text}")
    root = spelled(root, Kit)
    try:
        kit, found = Kit.model_validate(root.plain(), context=FileUnits(LENGTH.factors[units], None)), []
    except ValidationError as error:
        kit, found = None, translated(root, error)
    faults = faults_of(root, slips, found)
    if faults or kit is None:
        raise PrevizError("\n".join(f"{fault.key}: {fault.message}" for fault in faults))
    return dict(kit.cameras)


def read_kit(path: Path) -> dict[str, Camera]:
    """The cameras of a kit file, in SI, in the file's order.

    A kit has its own `units`, and no scale: its lengths are those of real cameras.

    Raises
    ------
    SceneErrors
        With every fault of the kit file, each with its line there.
    """
    root, slips = read_tree(path, begins="cameras:")
    root = spelled(root, Kit)
    named = root.plain().get("units")
    bare = LENGTH.factors.get(named) if isinstance(named, str) else None
    try:
        kit, found = Kit.model_validate(root.plain(), context=FileUnits(bare, None)), []
    except ValidationError as error:
        kit, found = None, translated(root, error)
    faults: list[Fault] = faults_of(root, slips, found)
    if faults or kit is None:
        raise SceneErrors(path, faults)
    return dict(kit.cameras)
