"""The rooms of previz/: data goes down this list, so a room imports only from rooms above it, by their front door."""

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "previz"

ORDER = (
    "doors", "errors", "units", "scene", "predictions", "stage", "frames", "delivery", "takes", "options", "telling",
    "doctor", "cli",
)  # fmt: skip

#: Doors beside the front door. Stage and frames may use no other of `predictions`: the renderer never uses the blur
#: formula, so that a picture that agrees with it is evidence.
SECOND_DOORS = {"previz.predictions.motion", "previz.predictions.exposure"}
ONLY_BY_SECOND_DOOR = {("stage", "predictions"), ("frames", "predictions")}

#: Third-party packages by the room that may import them; the one place to move when a package is to be replaced.
EDGES = {
    "doors": set(),
    "errors": set(),
    "units": set(),
    "scene": {"pydantic", "pydantic_core", "ruamel"},
    "predictions": {"numpy", "scipy"},
    "stage": {"numpy", "scipy", "trimesh", "embreex", "PIL", "platformdirs"},
    "frames": {"numpy"},
    "frames.gl": {"numpy", "OpenGL", "pyrender"},
    "delivery": {"numpy", "PIL", "imageio_ffmpeg", "jinja2", "markupsafe"},
    "takes": set(),
    "options": {"typer"},
    "telling": {"rich"},  # the progress bar
    "doctor": {"embreex"},  # looks whether it loads
    "cli": {"typer"},
}

#: A scene file comes from a stranger, and nothing we do needs the network.
NETWORK = {"socket", "ssl", "http", "urllib.request", "ftplib", "smtplib", "xmlrpc", "asyncio", "requests"}


@dataclass(frozen=True)
class Import:
    """One import of one module, or of a name that may be a module."""

    line: int
    module: str


def _imports(source: str) -> Iterator[Import]:
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Import(node.lineno, alias.name)
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                yield Import(node.lineno, "." * node.level + (node.module or ""))
            elif node.module == "previz":
                # `from previz import units` names a room, `from previz import Look` a public name.
                for alias in node.names:
                    yield Import(node.lineno, f"previz.{alias.name}" if alias.name in ORDER else "previz")
            else:
                assert node.module is not None
                yield Import(node.lineno, node.module)


def faults(file: Path, source: str) -> list[str]:
    """What `file` (relative to the package) imports that it should not: room, import and cure."""
    parts = file.with_suffix("").parts
    if parts == ("__init__",):
        return []  # it only names the front doors
    room = "cli" if parts == ("__main__",) else parts[0]
    assert room in ORDER, f"previz/{file} is in no room: give it one in ORDER of {__file__}"
    found = []
    for each in _imports(source):
        cure = _cure(room, parts, each.module)
        if cure:
            found.append(f"previz/{file}:{each.line}: {room} imports {each.module}; {cure}")
    return found


def _cure(room: str, parts: tuple[str, ...], module: str) -> str | None:
    top, *rest = module.split(".")
    if module.startswith("."):
        return "write the whole name, so that arrows can be read"
    if top == "previz":
        return _cure_between_rooms(room, rest)
    if any(module == each or module.startswith(each + ".") for each in NETWORK):
        return "nothing here opens the network; read a file that the user names"
    if top in sys.stdlib_module_names:
        return None
    edge = "frames.gl" if parts[:2] == ("frames", "gl") else room
    if top not in EDGES[edge]:
        where = [name for name, packages in EDGES.items() if top in packages]
        return f"it belongs in {' or '.join(where)}" if where else f"name it in EDGES of {Path(__file__).name} first"
    return None


def _cure_between_rooms(room: str, rest: list[str]) -> str | None:
    if not rest:
        return None if room == "cli" else "the public names are for users; import from the room's front door"
    other = rest[0]
    if other == room:
        return None
    if other not in ORDER:
        return f"there is no room {other}"
    if ORDER.index(other) > ORDER.index(room):
        return f"{other} is below {room}: move what is shared into {room} or a room above it, or hand it over as data"
    if "previz." + ".".join(rest) in SECOND_DOORS:
        return None
    if (room, other) in ONLY_BY_SECOND_DOOR:
        return f"of {other} only {' and '.join(sorted(SECOND_DOORS))} are open to {room}"
    return None if len(rest) == 1 else f"use its front door: from previz.{other} import ..."


def test_a_room_imports_only_from_rooms_above_it_through_their_front_door() -> None:
    files = sorted(PACKAGE.rglob("*.py"))
    assert len(files) > 20
    found = [fault for file in files for fault in faults(file.relative_to(PACKAGE), file.read_text(encoding="utf-8"))]
    assert not found, "\n" + "\n".join(found)


@pytest.mark.parametrize(
    ("file", "source", "said"),
    [
        ("scene/read.py", "from previz.stage import Stage", "stage is below scene"),
        ("scene/read.py", "from previz import stage", "stage is below scene"),
        ("scene/read.py", "import previz.cli", "cli is below scene"),
        ("errors.py", "from previz import units", "units is below errors"),
        ("frames/render.py", "from previz.predictions.optics import blur", "only previz.predictions.exposure and"),
        ("stage/build.py", "from previz.predictions import predict", "only previz.predictions.exposure and"),
        ("delivery/clip.py", "from previz.frames.sensor import srgb", "front door: from previz.frames import"),
        ("delivery/clip.py", "from previz import Frame", "the public names are for users"),
        ("delivery/clip.py", "def later():\n    import pyrender", "it belongs in frames.gl"),
        ("frames/render.py", "from OpenGL import GL", "it belongs in frames.gl"),
        ("frames/render.py", "import imageio_ffmpeg", "it belongs in delivery"),
        ("stage/files.py", "import yaml", "name it in EDGES"),
        ("stage/files.py", "import pydantic", "it belongs in scene"),
        ("stage/files.py", "import rich.progress", "it belongs in telling"),
        ("stage/files.py", "from urllib.request import urlopen", "nothing here opens the network"),
        ("stage/files.py", "from .mesh import Mesh", "write the whole name"),
        ("stage/files.py", "import previz.theatre", "there is no room theatre"),
    ],
)
def test_the_check_sees_what_it_should(file: str, source: str, said: str) -> None:
    (fault,) = faults(Path(file), source)
    assert f"previz/{file}:" in fault
    assert said in fault


@pytest.mark.parametrize(
    ("file", "source"),
    [
        ("frames/render.py", "from previz.predictions.motion import camera_at"),
        ("stage/lights.py", "from previz import scene as written"),
        ("stage/files.py", "from urllib.parse import unquote"),
        ("delivery/plan.py", "from previz.predictions import predict"),
        ("frames/gl/raster.py", "from OpenGL import GL"),
        ("__main__.py", "from previz.cli import main"),
    ],
)
def test_the_check_lets_the_rest_pass(file: str, source: str) -> None:
    assert faults(Path(file), source) == []
