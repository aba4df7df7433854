"""The front door: a scene file in, a `Scene` out, or every fault of the file in one go."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path

from previz import units
from previz.errors import Fault, FileFault, PrevizError, SceneErrors, ShotFault
from previz.scene.budget import SMALLEST_TABLE, USUAL_TABLE
from previz.scene.cameras import Camera
from previz.scene.changes import Changes, changed, renamed
from previz.scene.faults import Wrong, faults_of, key_of
from previz.scene.kit import BARE_UNITS, read_kit
from previz.scene.model import Scene
from previz.scene.references import kit_file_fault, leads_out, named_files
from previz.scene.setups import check_setups
from previz.scene.spelling import spelled
from previz.scene.stage_set import table_keys
from previz.scene.vehicle import VEHICLE
from previz.scene.whole import file_units, whole_scene
from previz.scene.written import Written
from previz.scene.yaml_tree import Node, read_tree


def read_scene(path: Path, *, outside_files: bool = False, changes: Changes | None = None) -> Scene:
    """Read a scene file.

    Parameters
    ----------
    path : Path
        A YAML file, UTF-8, at most 1 MB.
    outside_files : bool
        Allow images, meshes and a kit outside the file's folder.
    changes : mapping of str to plain data, or None
        Values to write over those of the file before it is read, by their dotted keys: `{"shots[pass].f_number": 4}`.
        None as a value takes out what is there.

    Returns
    -------
    Scene
        In SI, with `folder` set to where the file lies, `tape_unit` to the unit most of its lengths on the set are
        written in (`units.tape_unit`), and the cameras of its kit behind its own. A name in both is a fault: which of
        two cameras is meant is not guessed.

    Raises
    ------
    SceneErrors
        With every fault found, each with its line and the dotted key; members of a list are named by their id, or
        by their number from 0: `shots[pass].f_number`, `set.road.centre[1]`. A kit's faults come alone, under the
        kit's own name.
    PrevizError
        Where a change names a place that is not in the file.
    """
    path = Path(path)
    root, slips = read_tree(path)
    root = spelled(changed(spelled(root, Scene), changes or {}), Scene)
    folder = path.absolute().parent
    misspelt: list[Wrong] = []
    while True:
        file, kit = file_units(root.plain()), _kit_of(root, folder, outside_files=outside_files)
        scene, found = whole_scene(root, file, folder, kit, outside_files=outside_files)
        now = [replace(each, line=root.line_of(each.steps)) for each in found if each.meant is not None]
        if not now:
            break
        # Read on as it was meant, so that a misspelt key is told once, and not by all that then is missing.
        misspelt += now
        for each in now:
            root = renamed(root, each.steps, each.meant or "")
    found += misspelt
    others = root.child("vehicles")
    if others is not None and others.child(VEHICLE) is not None:
        found.append(Wrong(("vehicles", VEHICLE), "vehicle always means what vehicle: says; choose another name"))
    faults = faults_of(root, slips, found)
    if faults or scene is None:
        raise SceneErrors(path, [*_of_another_unit(root, file.bare_length), *faults])
    written = Written(root, kit or {}, outside_files)
    read = scene.model_copy(update={"folder": folder, "tape_unit": units.tape_unit(file.written), "written": written})
    check_setups(read, path)
    return read


def rewritten(scene: Scene, changes: Changes) -> Scene:
    """The scene with other values written over those of its file, read through the same rules and as strictly.

    Nothing is read from disk again but what tells whether a file that it names is there.

    Parameters
    ----------
    scene : Scene
        As `read_scene` or this function returned it.
    changes : mapping of str to plain data
        As of `read_scene`; a member of a list whose number is that of its members is put behind them.

    Returns
    -------
    Scene
        With the folder and the `tape_unit` of the scene.

    Raises
    ------
    SceneErrors
        With every fault of what is then written.
    PrevizError
        Where a change names a place that is not there, or no file stands behind the scene.
    """
    written = scene.written
    if written is None:
        raise PrevizError("this scene was made, not read; there is no file to write other values into")
    root = spelled(changed(written.root, changes), Scene)
    file = file_units(root.plain(), written)
    new, found = whole_scene(root, file, scene.folder, written.kit, outside_files=written.outside_files)
    faults = faults_of(root, [], found)
    if faults or new is None:
        raise SceneErrors(scene.folder, faults)
    again = replace(written, root=root)
    # What is as it was stays the very same, so that nobody need work it out again.
    same = {name: old for name in Scene.model_fields if (old := getattr(scene, name)) == getattr(new, name)}
    kept = {"folder": scene.folder, "tape_unit": scene.tape_unit, "subject": scene.subject}
    new = new.model_copy(update={**same, **kept, "written": again})
    check_setups(new, scene.folder)
    return new


def at_its_line(path: Path, fault: FileFault | ShotFault, scene: Scene | None = None) -> SceneErrors:
    """A fault that only shows once the scene is put to use, told by the line of the file that asks for it.

    scene: as it was put to use, where that may be otherwise than the file has it: set up for a shot.
    """
    written = scene.written if scene is not None else None
    root = written.root if written is not None else spelled(read_tree(path)[0], Scene)
    if isinstance(fault, FileFault):
        return SceneErrors(path, [Fault(root.line_of(fault.steps), key_of(root, fault.steps), fault.said)])
    line, key = _place_of(root, fault)
    return SceneErrors(path, [Fault(line, key, f"{fault.said}. {fault.remedy}")])


def _of_another_unit(root: Node, bare: float | None) -> Iterator[Fault]:
    """In a file that is refused: a table without units whose size no table has, for that may be why.

    bare: what a bare length in the file is. [m]
    """
    group = root.child("set")
    table = group.child("table") if group is not None else None
    sides = table_keys(table.plain()) if table is not None else None
    try:
        bare_sides = [float(sides[key]) for key in ("width", "depth")] if isinstance(sides, dict) else []
    except (KeyError, TypeError, ValueError):  # one has a unit of its own, or is at fault itself
        return
    if bare is None or not bare_sides or max(bare_sides) * bare >= SMALLEST_TABLE:
        return
    low, high = USUAL_TABLE
    meant = (
        name for name in BARE_UNITS if all(low <= each * units.LENGTH.factors[name] <= high for each in bare_sides)
    )
    width, depth = (units.text_of(units.LENGTH, each * bare) for each in bare_sides)
    asks = "".join(f"; are your numbers in {name}? Then write units: {name}" for name in islice(meant, 1))
    yield Fault(root.line_of(("set", "table")), "set.table", f"a table of {width} by {depth} holds no set{asks}")


def _place_of(root: Node, fault: ShotFault) -> tuple[int | None, str]:
    """The line and the key of a shot; of a speed of the common vehicle, that."""
    steps = ("vehicle", fault.key)
    if fault.key == "speed" and (vehicle := root.child("vehicle")) is not None and vehicle.child(fault.key) is not None:
        return root.line_of(steps), ".".join(steps)
    return _line_of(root, fault.shot, fault.key), f"shots[{fault.shot}].{fault.key}"


def _line_of(root: Node, shot: str, key: str) -> int | None:
    """The line where a shot says a key, by the shot's id."""
    shots = root.child("shots")
    for number, each in enumerate(shots.value if shots is not None and isinstance(shots.value, list) else []):
        named = each.child("id")
        if named is not None and named.value == shot:
            return root.line_of(("shots", number, key))
    return None


def files_named(path: Path, *, outside_files: bool = False) -> tuple[Path, ...]:
    """The kit, images, meshes and sound that a scene file names, whether they are there or not.

    As far as the file can be read: none where it cannot be, and whatever else is wrong with it is left to `read_scene`.
    Those that it may not name, outside its folder, are left out.

    >>> files_named(Path("scenes/quay_lorry.yaml"))[0].name
    'tabletop.yaml'
    """
    try:
        root, _ = read_tree(path)
    except SceneErrors:
        return ()
    data = root.plain()
    found = named_files(data) if isinstance(data, dict) else []
    return tuple(path.absolute().parent / name for _, name in found if outside_files or not leads_out(name))


def _kit_of(root: Node, folder: Path, *, outside_files: bool) -> dict[str, Camera] | None:
    """The cameras of the kit that a scene names: none where it names none, None where it cannot be read."""
    name = root.plain().get("kit")
    if name is None:
        return {}
    if not isinstance(name, str) or kit_file_fault(name, folder, outside_files=outside_files):
        return None  # the reading of the key says why
    return read_kit(folder / name)
