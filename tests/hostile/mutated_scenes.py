"""Scenes nobody would send in good faith, from a seed: good ones with values, keys, text and files changed.

`mutated_scene(seed)` is a folder's worth of files: the scene, its kit, and images and meshes that it may name. Changes
know the grammar: keys and examples come from the schema, and values from wherever else the same key has one.
"""

import copy
import functools
import io
import json
import random
import struct
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import trimesh

from previz.scene import json_schema
from previz.scene.yaml_tree import tree_of
from tests.scene.damaged import mutated

ROOT = Path(__file__).parents[2]

#: What lies beside a scene's folder, and must never be read.
OUTSIDE = {"secret.png": b"", "secret.stl": b"", "secret.yaml": b"cameras: {}\n"}

LINKS = ("link.png", "link.stl")  # in its folder, to some of these

_ODD: list[Any] = [
    *(0, -1, 1, 0.5, -0.0, 1e-9, 1e9, 1e300, -1e300, 2**63, 10**40, "1e999", float("inf"), float("nan"), True, False),
    *(None, "", " ", "a" * 5000, "\u202e", "é", "\U0001f600", "x: y", "<script>", "road", "vehicle", "auto", "none"),
    *("1:1", "1:1000", "0 mm", "-5 mm", "1e-30 m", "999 km", "7 full size", "12 ft 7 in", "200 %", "f/0.01", "f/9999"),
    *("1 Hz", "1e6 fps", "360 deg", "720 deg", "0 s", "1e6 s", "-3 stops", "60 stops", "1e12 lm", "1 K", "1e9 K"),
    *([], {}, [[]], [1], [1, 2], [1, 2, 3], [1, 2, 3, 4], {"a": 1}, ["a"] * 50, [[0, 0], [0, 0]], [{}, {}]),
]
_NAMES = [
    *("../secret.png", "../secret.stl", "../secret.yaml", "/etc/passwd", *LINKS, "folder/../../secret.stl"),
    *("~/x.png", ".", "..", "image.png\0.stl", "missing.png", "image.png", "shed.stl", "van.glb", "tree.obj"),
    *("kit.yaml", "/dev/zero", "/proc/self/environ", "http://127.0.0.1/x.png", "scene.yaml", "a" * 300),
]  # fmt: skip
_FILE_KEYS = {"image", "mesh", "kit"}

#: A small scene that names one of each kind of file.
_WITH_FILES = """
title: Files
scale: 1:50
units: mm
set:
  table: {width: 700, depth: 500}
  ground: {image: image.png, tile: 300}
  road: {lane: 60, centre: [[0, 250], [700, 250]]}
  backdrop: {distance: 490, height: 300, image: image.png}
dressing:
  - {id: card, piece: card, at: [200, 400], width: 60, height: 40, image: image.png}
  - {id: shed, mesh: shed.stl, at: [300, 400], length: 80}
  - {id: tree, mesh: tree.obj, at: [450, 400], length: 60, colour: "#446644"}
  - {id: rubble, scatter: stones, over: [[0, 320], [700, 480]], count: 20}
  - {id: lamp, piece: lamp_post, along: road, every: 200, first: 100, offset: 60, lit: 5 lm}
vehicle: {mesh: van.glb, length: 90, path: road, speed: 1 m/s}
lights:
  - {id: key, panel: [300, 200], at: [300, -100, 700], aim: [350, 250, 0], output: 2400 lm}
  - {id: room, ambient: 100 lx}
kit: kit.yaml
cameras: {pocket: {sensor: 1-inch, lens: 16 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}
shots:
  - {id: pass, camera: pocket, focal_length: 16 mm, f_number: 4, at: [350, -150, 50], aim: [350, 250, 45], focus: 400,
     capture: {rate: 120 fps, shutter: 180 deg, iso: auto}, playback: 24 fps, start: 0.2 s, duration: 0.2 s}
wants: [{edges: hidden, must: true}, {fills: 45 %}, {sharp: run}]
may_change: {focal_length: yes, height: 30 to 120 mm}
"""

#: One that is full: several vehicles, what lights the set as things, plants, and shots that change all that.
_CROWDED = """
title: Full
scale: 1:50
units: mm
set:
  table: {width: 700, depth: 500}
  road: {lane: 60, lanes: 2, centre: [[-50, 250], [750, 250]]}
  backdrop: {side: left, distance: 690, height: 300, painting: {sky: dusk}}
dressing:
  - {id: hedge, piece: hedge, at: [500, 400], length: 150, style: clipped}
  - {id: oak, piece: broadleaf, at: [150, 420], height: 90, style: fibre}
  - {id: car, piece: parked, body: saloon, scale: 1:87, at: [400, 350], turn: 10 deg}
  - {id: fill, piece: bounce, width: 150, height: 100, at: [600, 60], turn: 200 deg, tilt: 10 deg, finish: silver}
  - {id: cutter, piece: flag, width: 100, height: 80, at: [100, 420, 150], held: above}
  - {id: grass, scatter: tufts, over: [[0, 380], [700, 480]], count: 12, style: reeds}
vehicle: {body: van, path: road, speed: 0.8 m/s, start: 0.1 s}
vehicles:
  oncoming: {mesh: van.glb, length: 80, front: -y, reverse: true, speed: 0.9 m/s}
  behind: {body: saloon, path: road, launch: {ramp: {height: 60, length: 200}}, start: 0.6 s, keep: left}
lights:
  - {id: key, panel: [200, 150], at: [300, -200, 500], aim: [350, 250, 0], output: 2400 lm, held: arm, mains: true}
  - {id: bare, bulb: 60 mm, at: [350, 300, 400], output: 800 lm, colour: 2700 K}
cameras:
  pocket: {sensor: 1/1.28, lens: 24 mm equivalent, widest: f/1.8, smallest: f/1.8, nearest: 50 mm, glare: 3,
           modes: [1080p120]}
shots:
  - {id: pass, camera: pocket, at: [350, -150, 50], aim: vehicle, focus: 400, capture: {rate: 120 fps},
     playback: 24 fps, start: 0.3 s, duration: 0.2 s, subject: oncoming}
  - {id: along, camera: pocket, at: [650, 240, 50], aim: [0, 250, 40], focus: vehicle, capture: {rate: 120 fps},
     playback: 24 fps, start: 0.3 s, duration: 0.1 s, without: [behind, cutter], moved: {fill: {tilt: 20 deg}},
     vehicles: {oncoming: {speed: 0.5 m/s}}, lights: {bare: off}, backdrop: {side: back, distance: 480}}
sequence: [pass, {shot: along, dissolve: 4 frames}]
wants: [{fills: 30 %}, {looks: full size}]
may_change: {launch_height: yes, lamp_output: yes}
"""


def mutated_scene(seed: int, *, small: bool = False) -> dict[str, bytes]:
    """The files of one folder by their names; the same for the same seed. small: of what is drawn in a second."""
    rng = random.Random(seed)
    files = dict(_assets())
    text = rng.choice(_small_texts() if small or rng.random() < 0.6 else _texts())
    for _ in range(rng.choice([0, 0, 0, 0, 1])):
        name = rng.choice(sorted(files))
        files[name] = _broken_bytes(rng, files[name])
    text = mutated(rng, text) if rng.random() < 0.15 else _changed(rng, text)
    if rng.random() < 0.1:
        files["kit.yaml"] = _changed(rng, files["kit.yaml"].decode("utf-8", "replace")).encode("utf-8", "replace")
    return {**files, "scene.yaml": text.encode("utf-8", "replace")}


def good_scene() -> dict[str, bytes]:
    """One that nothing is wrong with, as its files."""
    return {**_assets(), "scene.yaml": _WITH_FILES.encode()}


def good_data() -> dict[str, Any]:
    """The data of its scene, to be changed."""
    return copy.deepcopy(_data(_WITH_FILES))


def write(files: dict[str, bytes], folder: Path) -> Path:
    """Put a scene's files into its own folder, and baits beside it and behind links; returns the scene."""
    inside = folder / "inside"
    inside.mkdir(parents=True, exist_ok=True)
    for name, content in OUTSIDE.items():
        (folder / name).write_bytes(content or _assets()["image.png" if name.endswith("png") else "shed.stl"])
    for name in LINKS:
        (inside / name).unlink(missing_ok=True)
        (inside / name).symlink_to(Path("..") / name.replace("link", "secret"))
    for name, content in files.items():
        (inside / name).write_bytes(content)
    return inside / "scene.yaml"


# --- what is changed ---


@functools.cache
def _texts() -> tuple[str, ...]:
    demos = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "scenes").glob("*.yaml"))]
    demos = [each.replace("kits/tabletop.yaml", "kit.yaml") for each in demos]
    return (*demos, (ROOT / "tests/scene/good.yaml").read_text(encoding="utf-8"), *_small_texts())


@functools.cache
def _small_texts() -> tuple[str, ...]:
    return _WITH_FILES, _CROWDED


@functools.cache
def _assets() -> dict[str, bytes]:
    box = trimesh.creation.box((2, 1, 1))
    found: dict[str, Any] = {
        f"{name}": box.export(file_type=name.rpartition(".")[2]) for name in ("shed.stl", "van.glb")
    }
    found["tree.obj"] = trimesh.creation.cone(1, 3, sections=12).export(file_type="obj")
    found["image.png"] = _png(60, 40)
    found["kit.yaml"] = (ROOT / "scenes/kits/tabletop.yaml").read_bytes()
    return {name: each.encode() if isinstance(each, str) else bytes(each) for name, each in found.items()}


def _png(width: int, height: int) -> bytes:
    from PIL import Image

    kept = io.BytesIO()
    Image.frombytes("RGB", (width, height), random.Random(1).randbytes(3 * width * height)).save(kept, "PNG")
    return kept.getvalue()


def _changed(rng: random.Random, text: str) -> str:
    """The same data with a few changes that its grammar knows, as JSON, which is YAML."""
    data = copy.deepcopy(_data(text))
    if data is None:
        return mutated(rng, text)
    for _ in range(rng.choice([1, 1, 1, 1, 2, 2, 4])):
        rng.choice(_CHANGES)(rng, data)
    return _written(rng, data)


@functools.cache
def _data(text: str) -> Any:
    try:
        return tree_of(text)[0].plain()
    except Exception:  # a kit whose bytes were broken before
        return None


def _written(rng: random.Random, data: Any) -> str:
    text = json.dumps(data, ensure_ascii=False, indent=rng.choice([None, 1]))
    return text.replace("NaN", ".nan").replace("-Infinity", "-.inf").replace("Infinity", ".inf")


Place = tuple[Any, Any]  # a group or list, and the key or number in it


def _places(data: Any) -> Iterator[Place]:
    for key, value in data.items() if isinstance(data, dict) else enumerate(data):
        yield data, key
        if isinstance(value, dict | list):
            yield from _places(value)


def _any_place(rng: random.Random, data: Any, wanted: Callable[[Place], bool] = lambda _: True) -> Place | None:
    found = [each for each in _places(data) if wanted(each)]
    return rng.choice(found) if found else None


def _key_of(place: Place, data: Any) -> str:
    """The key that a place belongs to: of a member of a list that of the list."""
    if isinstance(place[1], str):
        return place[1]
    return next((key for held, key in _places(data) if isinstance(key, str) and held[key] is place[0]), "")


def _odd(rng: random.Random, data: Any) -> None:
    place = _any_place(rng, data)
    if place:
        place[0][place[1]] = copy.deepcopy(rng.choice(_ODD))


def _scaled(rng: random.Random, data: Any) -> None:
    """A number many times as large or small, or the other way round; its unit stays."""

    def number(place: Place) -> bool:
        value = place[0][place[1]]
        if isinstance(value, str):
            return value[:1].isdigit()
        return isinstance(value, int | float) and not isinstance(value, bool)

    place = _any_place(rng, data, number)
    if place is None:
        return
    value = place[0][place[1]]
    by = rng.choice([-1, 0, 0.001, 0.1, 10, 25.4, 1000, 1e6] if rng.random() < 0.3 else [0.3, 0.6, 0.9, 1.1, 1.7, 3])
    if isinstance(value, str):
        head = value.split(" ")[0]
        try:
            place[0][place[1]] = f"{float(head) * by:g}{value[len(head) :]}"
        except ValueError:
            place[0][place[1]] = value.replace(value[0], rng.choice("0123456789"))
    elif isinstance(value, int) and rng.random() < 0.7:
        place[0][place[1]] = int(value * by)
    else:
        place[0][place[1]] = value * by


def _without(rng: random.Random, data: Any) -> None:
    place = _any_place(rng, data)
    if place:
        del place[0][place[1]]


def _swapped(rng: random.Random, data: Any) -> None:
    one, two = _any_place(rng, data), _any_place(rng, data)
    if one and two:
        first, second = copy.deepcopy(one[0][one[1]]), copy.deepcopy(two[0][two[1]])
        try:
            one[0][one[1]], two[0][two[1]] = second, first
        except (KeyError, IndexError):
            return


def _from_elsewhere(rng: random.Random, data: Any) -> None:
    """A value that the same key has in another scene, or in the schema's example."""
    place = _any_place(rng, data)
    if place:
        known = _values_by_key().get(_key_of(place, data))
        if known:
            place[0][place[1]] = copy.deepcopy(rng.choice(known))


def _with_key(rng: random.Random, data: Any) -> None:
    """One more key in a group, mostly one that belongs there."""
    groups = [data, *(held[key] for held, key in _places(data) if isinstance(held[key], dict))]
    group = rng.choice(groups)
    fitting = [props for props in _groups_of_keys() if len(set(props) & set(group)) >= max(1, len(group) - 1)]
    keys: dict[str, Any] = rng.choice(fitting) if fitting and rng.random() < 0.9 else rng.choice(_groups_of_keys())
    key = rng.choice(sorted(keys))
    group[key] = copy.deepcopy(rng.choice(keys[key] or _ODD))


def _repeated(rng: random.Random, data: Any) -> None:
    """Members of a list more than once, mostly under names of their own."""
    place = _any_place(rng, data, lambda each: isinstance(each[0], list) and len(each[0]) < 300)
    if place is None:
        return
    member = place[0][place[1]]
    for number in range(rng.choice([1, 1, 2, 5, 30])):
        again = copy.deepcopy(member)
        if isinstance(again, dict) and "id" in again and rng.random() < 0.95:
            again["id"] = f"n{number}x{rng.randrange(10**6)}"
            for key in ("at", "start"):
                if isinstance(again.get(key), list) and all(isinstance(each, int | float) for each in again[key]):
                    again[key] = [each + rng.randint(-200, 200) for each in again[key]]
        place[0].append(again)


def _another_file(rng: random.Random, data: Any) -> None:
    place = _any_place(rng, data, lambda each: each[1] in _FILE_KEYS)
    if place is None:
        data["kit"] = rng.choice(_NAMES)
    else:
        place[0][place[1]] = rng.choice(_NAMES)


def _another_member(rng: random.Random, data: Any) -> None:
    """A piece, lamp or shot as the schema has it, with what must be given and some of what may."""
    kind = rng.choice([each for each in _schema()["$defs"].values() if "id" in each.get("required", ())])
    held = data.get(next((name for key, name in _LISTS.items() if key in kind["properties"]), "dressing"))
    if not isinstance(held, list):
        return
    member = {}
    for key, schema in kind["properties"].items():
        wanted = 0.9 if key == "at" else 0.05 if key in ("along", "every", "offset", "first", "step", "copies") else 0.3
        if key in kind["required"] or rng.random() < wanted:
            examples = [schema["const"]] if "const" in schema else schema.get("examples") or _values_by_key().get(key)
            member[key] = copy.deepcopy(rng.choice(examples or _ODD))
    member["id"] = f"p{rng.randrange(10**6)}"
    held.append(member)


#: Where groups with these keys belong.
_LISTS = {"panel": "lights", "spot": "lights", "ambient": "lights", "capture": "shots"}

_CHANGES = (
    *(_scaled, _scaled, _scaled, _scaled, _from_elsewhere, _from_elsewhere, _with_key, _with_key),
    *(_another_member, _another_member, _repeated, _repeated, _odd, _without, _swapped, _another_file),
)  # fmt: skip


@functools.cache
def _schema() -> dict[str, Any]:
    return json_schema()


@functools.cache
def _values_by_key() -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {}
    for text in _texts():
        for held, key in _places(_data(text)):
            if isinstance(key, str):
                found.setdefault(key, []).append(held[key])
    for group in _groups_of_keys():
        for key, examples in group.items():
            found.setdefault(key, []).extend(examples)
    return found


@functools.cache
def _groups_of_keys() -> tuple[dict[str, list[Any]], ...]:
    """Every group of keys of the schema: its keys, each with its examples and the words that are allowed."""
    schema = _schema()
    groups = [schema, *schema["$defs"].values()]
    return tuple(
        {
            key: [*each.get("examples", ()), *each.get("enum", ()), *([each["const"]] if "const" in each else [])]
            for key, each in group["properties"].items()
        }
        for group in groups
        if group.get("properties")
    )


def _broken_bytes(rng: random.Random, whole: bytes) -> bytes:
    """A file with bytes changed, taken out, put in or cut off."""
    data = bytearray(whole)
    for _ in range(rng.choice([1, 1, 2, 8])):
        at = rng.randrange(len(data) or 1)
        match rng.randrange(5):
            case 0 if data:
                data[at] = rng.randrange(256)
            case 1:
                del data[at : at + rng.choice([1, 4, 50])]
            case 2:
                data[at:at] = rng.randbytes(rng.choice([1, 4, 50]))
            case 3:
                data = data[:at]
            case _:  # a number in it becomes another, as counts and sizes are written
                data[at : at + 4] = struct.pack("<I", rng.choice([0, 1, 2**16, 2**31 - 1, 2**32 - 1]))
    return _sealed(bytes(data)) if rng.random() < 0.5 else bytes(data)


def _sealed(png: bytes) -> bytes:
    """A PNG with its checksums right, so that what was changed in it is looked at; other files as they are."""
    if not png.startswith(b"\x89PNG\r\n\x1a\n"):
        return png
    out, at = png[:8], 8
    while at + 12 <= len(png):
        (size,) = struct.unpack(">I", png[at : at + 4])
        body = png[at + 4 : at + 8 + size]
        if len(body) < size + 4:
            break
        out += struct.pack(">I", size) + body + struct.pack(">I", zlib.crc32(body))
        at += 12 + size
    return out + png[at:]
