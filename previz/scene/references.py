"""What one part of a scene file says about another: names, ranges, files.

These checks read the plain data, so that they speak even when some other value in the file is unreadable. They say
nothing where the value they would judge is itself at fault; the reading of that value has spoken already.
"""

from collections.abc import Iterator, Mapping
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from previz.physics.paths import Curve
from previz.scene.called import called
from previz.scene.cameras import Camera, Zoom, widest_stop
from previz.scene.fields import FileUnits, listed, meant_by
from previz.scene.lights import LAMPS
from previz.scene.no_choice import with_camera
from previz.scene.sequence import sequence_faults
from previz.scene.shots import Capture, Focus, Shot, in_mid_frame
from previz.scene.stage_set import Road
from previz.scene.values import group_of as _group
from previz.scene.values import groups_of as _groups
from previz.scene.values import value_of as _value
from previz.scene.vehicle import Ramp, Vehicle
from previz.scene.yaml_tree import Node, Steps
from previz.units import LENGTH, shown, text_of

MESH_FILES = (".glb", ".gltf", ".obj", ".stl", ".ply")
KIT_FILES = (".yaml", ".yml")

# Marked apertures are rounded (f/22 is 22.6, f/11 is 11.3): numbers this near are the same mark.
_SAME_MARK = 1.03
_HAIR = 1 + 1e-6  # lengths are compared across units, 2 in with 50.8 mm

Found = Iterator[tuple[Steps, str]]


def reference_faults(
    root: Node,
    file: FileUnits,
    folder: Path,
    *,
    outside_files: bool,
    kit: Mapping[str, Camera] | None = None,
) -> Found:
    """Every fault between parts of the file, as the place of the fault and the message.

    kit: cameras of its kit, read already; None where the kit cannot be read.
    """
    data = root.plain()
    cameras = _with_kit(data.get("cameras", {}), kit)
    yield from _twice(root, data)
    yield from _road(data)
    yield from _foot(data, file)
    yield from _others(data)
    pieces = {each["id"]: each for _, each in _groups(data.get("dressing")) if isinstance(each.get("id"), str)}
    for number, shot in _groups(data.get("shots")):
        then, drives = _there_then(pieces, shot), _drives(data, shot)
        others = _group(data.get("vehicles"))
        yield from _shot(cameras, then, others, shot, ("shots", number), file, drives=drives)
        yield from _followed(data, shot, ("shots", number))
        yield from _changed(data, shot, ("shots", number))
    yield from _endless(data, file)
    yield from _wanted(data, cameras)
    yield from _running_order(data)
    yield from sequence_faults(data, file)
    for name in kit or {}:
        if name in _group(data.get("cameras")):
            yield ("cameras", name), f"is in the kit too ({shown(data.get('kit'))}); give one of them another name"
    yield from _files(data, folder, outside_files=outside_files)


def _with_kit(cameras: Any, kit: Mapping[str, Camera] | None) -> Any:
    """The file's own cameras and the kit's; None where either cannot be read, so that no name is called unknown."""
    return {**kit, **cameras} if kit is not None and isinstance(cameras, dict) else None


def kit_file_fault(name: str, folder: Path, *, outside_files: bool) -> str | None:
    """Why the kit of that name cannot be used, or None."""
    fault = _file_fault(name, folder, outside_files=outside_files)
    if not fault and PurePosixPath(name).suffix.lower() not in KIT_FILES:
        fault = f"{shown(name)} is not a kit; a kit is a YAML file of cameras, like kit.yaml"
    return fault


# --- names ---


def _twice(root: Node, data: dict[str, Any]) -> Found:
    for kind in ("dressing", "lights", "shots"):
        first: dict[str, int] = {}
        for number, each in _groups(data.get(kind)):
            name, steps = each.get("id"), (kind, number, "id")
            if not isinstance(name, str):
                continue
            if name in first:
                yield steps, f"{shown(name)} is taken in line {root.line_of((kind, first[name], 'id'))}; choose another"
            elif kind == "dressing" and name == "vehicle":
                yield steps, "vehicle always means the one that drives; choose another id for this piece"
            first.setdefault(name, number)


def _driven(data: dict[str, Any]) -> list[tuple[Steps, str, dict[str, Any]]]:
    """All that drives: where it stands in the file, what it is called, and its keys."""
    others = _group(data.get("vehicles"))
    found: list[tuple[Steps, str, Any]] = [(("vehicle",), "the vehicle", data.get("vehicle"))]
    found += [(("vehicles", name), str(name), each) for name, each in others.items()]
    return [(steps, name, each) for steps, name, each in found if isinstance(each, dict)]


def _others(data: dict[str, Any]) -> Found:
    """Names of vehicles: each means one thing."""
    names = [*_group(data.get("vehicles"))]
    pieces = [each.get("id") for kind in ("dressing", "lights") for _, each in _groups(data.get(kind))]
    if names and data.get("vehicle") is None:
        what = "write the one that shots are about, unless they name another by subject:, as vehicle:"
        yield ("vehicles",), f"only others are given; {what}"
    for name in names:
        if name in pieces:
            yield ("vehicles", name), f"{shown(name)} is a piece or lamp of this file; choose another name"


def _road(data: dict[str, Any]) -> Found:
    stage = data.get("set")
    if not isinstance(stage, dict) or "road" in stage:
        return
    for steps, name, vehicle in _driven(data):
        if vehicle.get("path", "road") == "road":
            way = "give set: a road, or path: a list of points"
            yield (
                (*steps, "path"),
                f"{name} drives along the road unless told otherwise, and the set has none; {way}",
            )
    for number, piece in _groups(data.get("dressing")):
        if piece.get("along") == "road":
            yield ("dressing", number, "along"), "the set has no road; give set: a road, or stand this piece at: [x, y]"


def _foot(data: dict[str, Any], file: FileUnits) -> Found:
    """A ramp's foot past the end of the path that it begins."""
    stage = _group(data.get("set"))
    for steps, name, vehicle in _driven(data):
        ramp = _group(_group(vehicle.get("launch")).get("ramp"))
        foot, way = _value(Ramp, "foot", ramp, file), _value(Vehicle, "path", vehicle, file)
        points = _value(Road, "centre", _group(stage.get("road")), file) if way == "road" else way
        if not foot or not points or foot < 0:
            continue
        length = Curve.through(points).length
        if foot >= length:
            where = f"{name}'s path, {file.told(length)} long"
            yield (
                (*steps, "launch", "ramp", "foot"),
                f"{file.told(foot)} along is past the end of {where}; set the ramp's foot nearer to its start",
            )


def _endless(data: dict[str, Any], file: FileUnits) -> Found:
    """Shots without a duration last until the end of the run; where nothing drives there is none."""
    there = data.get("vehicle") is not None
    if there and _value(Vehicle, "speed", _group(data["vehicle"]), file) != 0:
        return
    why = "the vehicle stands still" if there else "there is no vehicle"
    for number, shot in _groups(data.get("shots")):
        changed = any(shot.get(key) is not None for key in ("vehicle", "vehicles", "subject"))
        if shot.get("duration") is None and not changed:  # its own is looked at as it is set up
            yield (
                ("shots", number, "duration"),
                f"{why}, so no run ends the shot; say how long it lasts, like duration: 2 s",
            )


def _wanted(data: dict[str, Any], cameras: Any) -> Found:
    """What is wanted and may change of a shot, a camera or a lamp that is not there."""
    shots = [each["id"] for _, each in _groups(data.get("shots")) if isinstance(each.get("id"), str)]
    for number, want in _groups(data.get("wants")):
        name = want.get("shot")
        if isinstance(name, str) and shots and name not in shots:
            yield ("wants", number, "shot"), _unknown(name, shots, "a shot of this file")
    lamps = [
        each["id"]
        for _, each in _groups(data.get("lights"))
        if "ambient" not in each and isinstance(each.get("id"), str)
    ]
    known = {"camera": ([*cameras] if isinstance(cameras, dict) else [], "a camera of this file")}
    known["lamps"] = (lamps, "a lamp of this file that has a place")
    for key, (names, what) in known.items():
        found = _group(data.get("may_change")).get(key)
        for number, name in enumerate(found if isinstance(found, list) else []):
            if isinstance(name, str) and names and name not in names:
                yield ("may_change", key, number), _unknown(name, names, what)


def _running_order(data: dict[str, Any]) -> Found:
    """Stretches of a shot that is not there."""
    shots = [each["id"] for _, each in _groups(data.get("shots")) if isinstance(each.get("id"), str)]
    entries = data.get("sequence")
    for number, entry in enumerate(entries if isinstance(entries, list) else []):
        name = _group(entry).get("shot") if isinstance(entry, dict) else entry
        steps = ("sequence", number, *(("shot",) if isinstance(entry, dict) else ()))
        if isinstance(name, str) and shots and name not in shots:
            yield steps, _unknown(name, shots, "a shot of this file")


# --- a shot against its camera and its set ---


def _shot(
    cameras: Any,
    pieces: dict[str, Any],
    others: dict[str, Any],
    shot: dict[str, Any],
    steps: Steps,
    file: FileUnits,
    *,
    drives: bool,
) -> Found:
    name, shot = shot.get("camera"), with_camera(shot, cameras, file)
    if isinstance(cameras, dict) and cameras and isinstance(name, str):
        if name not in cameras:
            yield (*steps, "camera"), _unknown(name, [*cameras], "a camera of this file")
        elif isinstance(cameras[name], dict | Camera):
            yield from _camera(cameras[name], name, shot, steps, file)
    if isinstance(cameras, dict):
        yield from _left_out(cameras, shot, steps, file)
    yield from _too_near(shot, steps, file)
    for key in () if drives else ("aim", "focus"):
        for place in _vehicle_named(shot.get(key), (*steps, key)):
            yield place, "the set has no vehicle; give it one, or name a piece or a place, like [700, 330, 0]"
    for key in ("aim", "focus"):
        for place, piece in _pieces_named(shot.get(key), (*steps, key)):
            if piece in others:
                yield (
                    place,
                    f"{piece} is another vehicle; make it the shot's (subject: {piece}), and write vehicle here",
                )
            else:
                yield from _target(pieces, piece, place, drives=drives)


def _unknown(name: str, known: list[str], what: str) -> str:
    """The message for a name that nothing has.

    >>> _unknown("poket", ["pocket"], "a camera of this file"), _unknown("big", ["pocket"], "a camera of this file")
    ('poket is not a camera of this file; did you mean pocket?', 'big is not a camera of this file; there is pocket')
    """
    meant = next((each for each in called(name, what) if each in known), None) or meant_by(name, known)
    names = listed((shown(each) for each in known[:8]), "and") + (" and others" if len(known) > 8 else "")
    there = f"there {'are' if len(known) > 1 else 'is'} {names}"
    if meant is None:
        return f"{shown(name)} is not {what}; {there}"
    others = f" T{there[1:]}" if len(known) > 1 else ""
    return f"{shown(name)} is not {what}; did you mean {shown(meant)}?{others}"


def _on_the_lens(focal_length: float, lens: Zoom) -> bool:
    """Whether it can be dialled in; an end may be written as it is told, rounded."""
    within = lens.shortest / _HAIR <= focal_length <= lens.longest * _HAIR
    return within or text_of(LENGTH, focal_length) in {text_of(LENGTH, end) for end in (lens.shortest, lens.longest)}


def _camera(camera: Any, name: str, shot: dict[str, Any], steps: Steps, file: FileUnits) -> Found:
    written, camera = camera, _spelled(camera, file)
    focal_length = _value(Shot, "focal_length", shot, file)
    lens: Zoom | None = _value(Camera, "lens", camera, file)
    if focal_length and lens and not _on_the_lens(focal_length, lens):
        ends = [text_of(LENGTH, end) for end in sorted({lens.shortest, lens.longest})]
        given = shown(shot["focal_length"])
        message = f"{given} is not on the lens of {name}, which has {' to '.join(ends)}; choose a focal length it has"
        yield (*steps, "focal_length"), message
    f_number, widest, smallest = (
        _value(Shot, "f_number", shot, file),
        _value(Camera, "widest", camera, file),
        _value(Camera, "smallest", camera, file),
    )
    at_longest = _value(Camera, "widest_at_longest", camera, file)
    if widest and at_longest and lens and focal_length:
        widest = widest_stop(lens, widest, at_longest, focal_length)
    if f_number and widest and f_number * _SAME_MARK < widest:
        at = f" at {text_of(LENGTH, focal_length)}" if at_longest and focal_length else ""
        yield (*steps, "f_number"), f"f/{f_number:g} is wider than {name} opens{at}; its widest is f/{widest:.3g}"
    if f_number and smallest and f_number > smallest * _SAME_MARK:
        message = f"f/{f_number:g} is smaller than {name} closes; its smallest is f/{smallest:g}"
        if smallest == widest and isinstance(written, dict) and written.get("smallest") is None:
            message += (
                ", for it has one focal length and a small sensor and is taken for a phone's, which does not close; if "
                f"it does, say so of {name}, like smallest: f/16"
            )
        yield (*steps, "f_number"), message
    rate = _value(Capture, "rate", _group(shot.get("capture")), file)
    modes = _value(Camera, "modes", camera, file)
    known = ", ".join(str(mode) for mode in modes or ())
    mode = _value(Capture, "mode", _group(shot.get("capture")), file)
    if mode and modes and not any(each.same_as(mode) for each in modes):
        yield (*steps, "capture", "mode"), f"{mode} is not a mode of {name}; its modes are {known}"
    elif mode and rate and mode.fastest < rate:
        message = f"{float(rate):.5g} fps is faster than the mode {mode}; lower the rate, or choose another of {known}"
        yield (*steps, "capture", "rate"), message
    elif rate and modes and all(mode.fastest < rate for mode in modes):
        message = f"{float(rate):.5g} fps is faster than {name} records; its modes are {known}"
        yield (*steps, "capture", "rate"), message


def _left_out(cameras: Any, shot: dict[str, Any], steps: Steps, file: FileUnits) -> Found:
    """What is set on the lens, where the lens leaves a choice; where it is not known which lens, every one must."""
    named = shot.get("camera") in cameras if isinstance(shot.get("camera"), str) else False
    asked = {shot["camera"]: cameras[shot["camera"]]} if named else cameras
    for key, ends, like in (("focal_length", _zoom, "20 mm"), ("f_number", _stops, "f/5.6")):
        left = {name: ends(each, file) for name, each in asked.items() if isinstance(each, dict | Camera)}
        if shot.get(key) is None and left and all(left.values()):
            why = f" ({shot['camera']} has {left[shot['camera']]})" if named else ""
            yield (*steps, key), f"is missing; write it, like {key}: {like}{why}"


def _zoom(camera: Any, file: FileUnits) -> str | None:
    """The focal lengths of a zoom, in words; None of a prime, and where they cannot be read."""
    lens: Zoom | None = _value(Camera, "lens", _spelled(camera, file), file)
    if lens is None or lens.shortest == lens.longest:
        return None
    return f"{text_of(LENGTH, lens.shortest)} to {text_of(LENGTH, lens.longest)}"


def _stops(camera: Any, file: FileUnits) -> str | None:
    """From which f-number to which, in words; None where there is but one, and where they cannot be read."""
    widest, smallest = (_value(Camera, key, _spelled(camera, file), file) for key in ("widest", "smallest"))
    if not widest or not smallest or widest == smallest:
        return None
    if _value(Camera, "sensor", camera, file) is None and camera.get("smallest") is None and not _zoom(camera, file):
        return None  # it may be a phone's, which has but one
    return f"f/{widest:g} to f/{smallest:g}"


def _spelled(camera: Any, file: FileUnits) -> Any:
    return camera if isinstance(camera, Camera) else Camera.spelled_out(camera, file)


def _too_near(shot: dict[str, Any], steps: Steps, file: FileUnits) -> Found:
    """No lens focuses nearer than its focal length: the image would lie behind infinity."""
    focal_length, focus = _value(Shot, "focal_length", shot, file), _value(Shot, "focus", shot, file)
    if focal_length is None or focus is None:
        return
    one = isinstance(focus, Focus)
    for number, each in enumerate([focus] if one else [key.at for key in focus]):
        if each.distance is not None and each.distance <= focal_length:
            near, limit = text_of(LENGTH, each.distance), text_of(LENGTH, focal_length)
            place = (*steps, "focus") if one else (*steps, "focus", number, "at")
            yield place, f"{near} is too near; a {limit} lens cannot focus nearer than its focal length"


def _pieces_named(found: Any, steps: Steps) -> Iterator[tuple[Steps, str]]:
    """Ids of pieces in what is aimed or focused at, in any of the ways it can be written."""
    if isinstance(found, str):
        name = found.strip()
        moment = " at " in name or in_mid_frame(name)  # who reads the value says that pieces have none
        if name and name[0].isalpha() and name.split()[0] != "vehicle" and not moment:
            yield steps, name
    elif isinstance(found, dict):
        for key in ("piece", "target", "at"):
            yield from _pieces_named(found.get(key), (*steps, key))
    elif isinstance(found, list):
        for number, each in _groups(found):
            yield from _pieces_named(each, (*steps, number))


def _vehicle_named(found: Any, steps: Steps) -> Iterator[Steps]:
    """Where what is aimed or focused at is the vehicle, in any of the ways it can be written."""
    if isinstance(found, str):
        if found.split()[:1] == ["vehicle"]:
            yield steps
    elif isinstance(found, dict):
        if found.get("vehicle") is True:
            yield (*steps, "vehicle")
        for key in ("target", "at"):
            yield from _vehicle_named(found.get(key), (*steps, key))
    elif isinstance(found, list):
        for number, each in _groups(found):
            yield from _vehicle_named(each, (*steps, number))


def _target(pieces: dict[str, Any], name: str, steps: Steps, *, drives: bool) -> Found:
    if name not in pieces:
        yield steps, _unknown(name, [*(["vehicle"] if drives else []), *pieces], "something on this set")
    elif "scatter" in pieces[name]:
        yield steps, f"{name} is scattered over many places; write the point itself, [x, y, z]"


# --- what a shot changes ---


def _names(found: Any) -> list[tuple[int, str]]:
    return [
        (number, each) for number, each in enumerate(found if isinstance(found, list) else []) if isinstance(each, str)
    ]


def _there_then(pieces: dict[str, Any], shot: dict[str, Any]) -> dict[str, Any]:
    """Pieces by their ids as they stand while a shot is filmed: those taken away are gone, those added are there."""
    gone = {name for _, name in _names(shot.get("without"))}
    added = {each["id"]: each for _, each in _groups(shot.get("added")) if isinstance(each.get("id"), str)}
    added = {name: each for name, each in added.items() if not _LAMPS & each.keys()}
    return {**{name: each for name, each in pieces.items() if name not in gone}, **added}


def _drives(data: dict[str, Any], shot: dict[str, Any]) -> bool:
    """Whether what a shot is about drives while it is filmed."""
    subject = shot.get("subject")
    if isinstance(subject, str) and subject in _group(data.get("vehicles")):
        return True
    gone = any(name == "vehicle" for _, name in _names(shot.get("without")))
    return (data.get("vehicle") is not None and not gone) or shot.get("vehicle") is not None


def _followed(data: dict[str, Any], shot: dict[str, Any], steps: Steps) -> Found:
    """The vehicle that a shot is about, and the others that it changes."""
    others, subject = _group(data.get("vehicles")), shot.get("subject")
    gone = {name: number for number, name in _names(shot.get("without"))}
    left = [name for name in others if name not in gone]
    if isinstance(subject, str):
        if subject != "vehicle" and subject not in others:
            known = [*(["vehicle"] if data.get("vehicle") is not None else []), *others]
            what = "a vehicle of this file"
            yield (*steps, "subject"), _unknown(subject, known, what) if known else f"{shown(subject)} is not {what}"
        elif subject in gone:
            yield (*steps, "subject"), f"{subject} is taken away in this shot; keep one of the two"
    elif subject is None and "vehicle" in gone and left:
        which = f"{listed(left)}" if len(left) > 1 else left[0]
        yield (
            (*steps, "without", gone["vehicle"]),
            f"the vehicle is taken away and others drive; say which the shot is about (subject: {which}), or take them "
            "away too",
        )
    for name in _group(shot.get("vehicles")):
        place = (*steps, "vehicles", name)
        if name == "vehicle":
            yield place, "what differs of vehicle itself is written under vehicle:"
        elif name not in others:
            yield (
                place,
                _unknown(str(name), [*others], "another vehicle of this file")
                if others
                else (f"{shown(name)} is not another vehicle of this file; there is none"),
            )
        elif name in gone:
            yield place, f"{name} is taken away, and vehicles: says how it is; keep one of the two"


_LAMPS = {*LAMPS}


def _changed(data: dict[str, Any], shot: dict[str, Any], steps: Steps) -> Found:
    """What a shot changes on the set: is it there, and is it said once?"""
    known = {kind: [each["id"] for _, each in _groups(data.get(kind)) if isinstance(each.get("id"), str)]
             for kind in ("dressing", "lights")}  # fmt: skip
    both = [*known["dressing"], *known["lights"]]
    moved, lights = _group(shot.get("moved")), _group(shot.get("lights"))
    gone = {name: (*steps, "without", number) for number, name in _names(shot.get("without"))}
    others = [*_group(data.get("vehicles"))]
    for name in moved:
        if name in others:
            how = f"it is changed with vehicles:, like vehicles: {{{name}: {{speed: 1.2 m/s}}}}"
            yield (*steps, "moved", name), f"{name} is a vehicle: {how}"
            continue
        yield from _one_of_them(name, both, "a piece or lamp of this file", (*steps, "moved", name))
    for name in lights:
        yield from _one_of_them(name, known["lights"], "a lamp of this file", (*steps, "lights", name))
        twice = {*_keys(moved.get(name), "at")} & {*_keys(lights[name], "output")}
        if twice and name not in known["dressing"]:
            yield (*steps, "lights", name), f"{name} is moved too, and both say {listed(sorted(twice))}; keep one"
    for name, place in gone.items():
        if name == "vehicle":
            if shot.get("vehicle") is not None:
                yield place, "the vehicle is taken away, and vehicle: says how it is; keep one of the two"
            elif data.get("vehicle") is None:
                yield place, "the set has no vehicle to take away; take it out"
            continue
        if name in others:
            continue
        what = "a piece, a lamp or a vehicle of this file" if others else "a piece or lamp of this file"
        yield from _one_of_them(name, [*both, *others], what, place)
        for key, changed in (("moved", moved), ("lights", lights)):
            if name in changed:
                yield place, f"{name} is taken away, and {key}: says how it stands; keep one of the two"
    if shot.get("run") is not None and not _drives(data, shot):
        yield (*steps, "run"), "nothing drives in this shot; take it out, or give the set a vehicle"
    added: set[str] = set()
    for number, each in _groups(shot.get("added")):
        name = str(each.get("id"))  # one that is no text is told where it is read
        place = (*steps, "added", number, "id")
        if name in both and name not in gone:
            yield place, f"{shown(name)} stands on the set already; move it with moved:, or choose another id"
        elif name in added:
            yield place, f"{shown(name)} is added twice; choose another id"
        elif name == "vehicle":
            yield place, "vehicle always means the one that drives; choose another id for this piece"
        added.add(name)


def _keys(found: Any, alone: str) -> list[str]:
    """The keys that a change gives; alone is that of its short form."""
    return [] if found is None else [str(key) for key in found] if isinstance(found, dict) else [alone]


def _one_of_them(name: Any, known: list[str], what: str, steps: Steps) -> Found:
    if not isinstance(name, str):
        return
    if name == "vehicle":
        yield steps, "the vehicle is changed with vehicle: or run:, like vehicle: {speed: 1.2 m/s}"
    elif name not in known:
        yield steps, _unknown(name, known, what) if known else f"{shown(name)} is not {what}; there is none"
    elif known.count(name) > 1:
        yield steps, f"{shown(name)} is a piece and a lamp; give one of them another id"


# --- files ---


def named_files(data: dict[str, Any]) -> list[tuple[Steps, str]]:
    """The kit, images, meshes and sound that a scene names, and where; no name that no file can have."""
    stage = _group(data.get("set"))
    named: list[tuple[Steps, Any]] = [
        (("set", "ground", "image"), _group(stage.get("ground")).get("image")),
        (("set", "backdrop", "image"), _group(stage.get("backdrop")).get("image")),
        *(((*steps, "mesh"), vehicle.get("mesh")) for steps, _, vehicle in _driven(data)),
    ]
    for number, piece in _groups(data.get("dressing")):
        named += [(("dressing", number, key), piece.get(key)) for key in ("image", "mesh")]
    for number, shot in _groups(data.get("shots")):
        at: Steps = ("shots", number)
        for part, key in (("ground", "image"), ("backdrop", "image"), ("vehicle", "mesh")):
            named.append(((*at, part, key), _group(shot.get(part)).get(key)))
        for name, each in _group(shot.get("vehicles")).items():
            named.append(((*at, "vehicles", name, "mesh"), _group(each).get("mesh")))
        for place, each in _groups(shot.get("added")):
            named += [((*at, "added", place, key), each.get(key)) for key in ("image", "mesh")]
        for moved, keys in _group(shot.get("moved")).items():
            named.append(((*at, "moved", moved, "image"), _group(keys).get("image")))
    named += [((key,), data.get(key)) for key in ("kit", "sound")]
    return [
        (steps, name)
        for steps, name in named
        if isinstance(name, str) and name.strip() and name.isprintable() and len(name) <= 200
    ]


def _files(data: dict[str, Any], folder: Path, *, outside_files: bool) -> Found:
    for steps, name in named_files(data):
        fault = _file_fault(name, folder, outside_files=outside_files)
        suffix = PurePosixPath(name).suffix.lower()
        if not fault and steps[-1] == "mesh" and suffix not in MESH_FILES:
            fault = f"{shown(name)} is not a mesh file this reads; use {listed(MESH_FILES)}"
        if not fault and steps == ("kit",):
            fault = kit_file_fault(name, folder, outside_files=outside_files)
        if not fault and steps == ("sound",) and suffix != ".wav":
            fault = f"{shown(name)} is not a sound this reads; save it as WAV, like engine.wav"
        if fault:
            yield steps, fault


def leads_out(name: str) -> bool:
    """Whether a file of that name lies elsewhere than in the scene's folder; links are not looked at.

    >>> [leads_out(name) for name in ("tiles/a.png", "../a.png", "/a.png", "C:a.png", "//host/a.png")]
    [False, True, True, True, True]
    """
    parts = PurePosixPath(name)
    return parts.is_absolute() or ".." in parts.parts or PureWindowsPath(name).drive != ""


def _file_fault(name: str, folder: Path, *, outside_files: bool) -> str | None:
    """Why the file of that name cannot be used, or None."""
    if "\\" in name:
        return f"{shown(name)}: write / between folders, so that the scene works on every machine"
    outside = (
        f"{shown(name)} lies outside the scene's folder; copy it beside the scene file, or run with --outside-files"
    )
    if leads_out(name) and not outside_files:
        return outside
    try:
        place = (folder / name).resolve()
        if not outside_files and not place.is_relative_to(folder.resolve()):
            return outside  # a link leads out
        if place.is_dir():
            return f"{shown(name)} is a folder; name the file in it"
        if place.exists() and not place.is_file():
            return f"{shown(name)} is not an ordinary file but a pipe, a socket or a device; name a file"
        if not place.is_file():
            there = [each.name for each in place.parent.iterdir()] if place.parent.is_dir() else []
            meant = meant_by(place.name, there)
            hint = f"did you mean {shown(meant)}? " if meant else ""
            return f"there is no file {shown(name)} beside the scene; {hint}check the name, or put the file there"
    except ValueError:
        return f"{shown(name)} has a character that no file's name has; take it out"
    except (OSError, RuntimeError) as error:  # a name the system refuses, or links in a circle
        return f"{shown(name)} cannot be opened: {getattr(error, 'strerror', None) or 'its links run in a circle'}"
    return None
