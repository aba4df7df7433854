"""The rooms of previz/: each imports only what the table in DEVELOPERS.md says, by the front door, and in no circle."""

import ast
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "previz"

#: What each room may import of previz, as the table in DEVELOPERS.md says. Data goes down the page.
ROOMS: dict[str, set[str]] = {
    "errors": set(),
    "units": set(),
    "sheet_sizes": set(),
    "threads": set(),
    "spread": set(),
    "scratch": set(),
    "physics": set(),
    "mesh": set(),
    "files": {"errors", "physics", "mesh"},
    "scene": {"errors", "units", "physics"},
    "layout": {"errors", "scene", "physics", "mesh", "files"},
    "sequence": {"errors", "scene", "layout"},
    "light": {"spread", "scene", "physics", "layout"},
    "predictions": {"errors", "units", "sheet_sizes", "scene", "physics", "layout", "light"},
    "advice": {"errors", "units", "scene", "physics", "layout", "light", "predictions"},
    "continuity": {"errors", "units", "scene", "physics", "layout", "predictions", "sequence"},
    "evening": {"errors", "scene", "physics", "layout", "predictions"},
    "stage": {"errors", "spread", "scene", "physics", "mesh", "files", "layout", "light"},
    "paper": {"errors", "units", "sheet_sizes", "files", "scene", "physics", "layout", "predictions", "evening",
              "stage"},
    "frames": {"errors", "spread", "scratch", "scene", "physics", "mesh", "layout", "light", "stage"},
    "delivery": {"errors", "units", "scratch", "files", "scene", "physics", "layout", "sequence", "predictions",
                 "frames"},
    "starters": {"errors", "units", "scene", "physics", "layout", "files", "predictions"},
    "takes": {"errors", "units", "files", "scene", "layout", "frames", "delivery"},
    "cutting": {"errors", "scene", "sequence", "delivery", "takes"},
    "watching": {"errors", "scratch", "scene", "physics", "files", "layout", "predictions", "stage", "frames",
                 "delivery", "paper", "takes"},
    "guide": set(),
    "options": {"predictions", "takes", "guide"},
    "telling": {"units", "scene", "predictions", "continuity", "evening", "advice", "stage"},
    "doctor": {"errors", "files", "stage", "frames", "delivery"},
    "cli": {"errors", "units", "spread", "scene", "physics", "files", "sequence", "predictions", "continuity",
            "evening", "advice", "stage", "frames", "delivery", "paper", "takes", "cutting", "options", "telling",
            "doctor", "starters", "watching", "guide"},
}  # fmt: skip

#: Rooms without one front door: a shelf of subjects, each imported by its own name.
BY_MODULE = {"physics"}

#: The renderer never uses the blur formula, so that a picture that agrees with it is evidence.
CLOSED = {("stage", "physics.optics"), ("frames", "physics.optics")}

#: Third-party packages by the room that may import them; the one place to move when a package is to be replaced.
EDGES = {
    "errors": set(),
    "units": set(),
    "sheet_sizes": set(),
    "threads": {"threadpoolctl"},
    "spread": set(),
    "scratch": set(),
    "physics": {"numpy", "scipy", "shapely"},
    "mesh": {"numpy"},
    "files": {"numpy", "scipy", "trimesh", "igl", "PIL", "platformdirs"},
    "scene": {"pydantic", "pydantic_core", "ruamel"},
    "layout": {"numpy"},
    "sequence": set(),
    "light": {"numpy", "embreex"},
    "predictions": {"numpy"},
    "paper": {"numpy", "shapely", "matplotlib", "contourpy", "rectpack"},
    "advice": {"numpy"},
    "continuity": {"numpy"},
    "evening": {"numpy"},
    "evening.order": {"numpy", "scipy"},
    "stage": {"numpy", "scipy", "trimesh", "PIL"},
    "frames": {"numpy"},
    "frames.gl": {"numpy", "OpenGL", "pyrender"},
    "frames.cluster": {"numpy", "dask", "distributed"},
    "delivery": {"numpy", "PIL", "imageio_ffmpeg", "jinja2", "markupsafe", "opentimelineio"},
    "starters": set(),
    "takes": set(),
    "cutting": set(),
    "watching": {"numpy"},
    "watching.files": {"watchfiles"},
    "watching.server": {"anyio", "starlette", "uvicorn"},
    "watching.gate": {"starlette"},
    "guide": set(),
    "options": {"typer"},
    "telling": {"rich"},  # the progress bar
    "doctor": {"embreex"},  # looks whether it loads
    "cli": {"typer"},
}

#: Every front door opens late with it.
EVERYWHERE = {"lazy_loader"}

#: A scene file comes from a stranger, and nothing we do needs the network. `watching.server` answers this machine only.
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
            elif node.module is not None and _names_modules(node.module):
                # `from previz import units` names a room, `from previz import Look` a public name.
                for alias in node.names:
                    inner = f"{node.module}.{alias.name}"
                    yield Import(node.lineno, inner if _is_module(inner) else node.module)
            else:
                assert node.module is not None
                yield Import(node.lineno, node.module)


def _names_modules(module: str) -> bool:
    return module == "previz" or module.startswith("previz.")


def _is_module(name: str) -> bool:
    """Whether there is a room, folder or file of that name (one of `previz.theatre`, which the cure then misses)."""
    place = PACKAGE.parent / name.replace(".", "/")
    return place.with_suffix(".py").is_file() or (place / "__init__.py").is_file()


def _parts(file: Path) -> tuple[str, ...]:
    parts = file.with_suffix("").parts
    return parts[:-1] if parts[-1] == "__init__" else parts


def faults(file: Path, source: str) -> list[str]:
    """What `file` (relative to the package) imports that it should not: room, import and cure."""
    parts = _parts(file)
    if not parts:
        return []  # it only names the front doors
    room = "cli" if parts == ("__main__",) else parts[0]
    assert room in ROOMS, f"previz/{file} is in no room: give it one in ROOMS of {__file__}"
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
    if top in sys.stdlib_module_names or top in EVERYWHERE:
        return None
    edge = inner if (inner := ".".join(parts[:2])) in EDGES else room
    if top not in EDGES[edge]:
        where = [name for name, packages in EDGES.items() if top in packages]
        return f"it belongs in {' or '.join(where)}" if where else f"name it in EDGES of {Path(__file__).name} first"
    return None


def _cure_between_rooms(room: str, rest: list[str]) -> str | None:
    if not rest:
        return None if room == "cli" else "the public names are for users; import from the room's front door"
    other, *inner = rest
    if other == room:
        return None
    if other not in ROOMS:
        return f"there is no room {other}"
    if other not in ROOMS[room]:
        return f"{room} may import {', '.join(sorted(ROOMS[room])) or 'no room'}: move what is shared, or hand it over"
    if (room, ".".join(rest)) in CLOSED:
        return f"{'.'.join(rest)} is closed to {room}: a picture that agrees with it must be evidence"
    if other in BY_MODULE:
        return None if len(inner) == 1 else f"{other} is imported by module: from previz.{other}.subject import ..."
    return f"use its front door: from previz.{other} import ..." if inner else None


def test_a_room_imports_only_what_the_table_says_through_front_doors() -> None:
    files = sorted(PACKAGE.rglob("*.py"))
    assert len(files) > 20
    found = [fault for file in files for fault in faults(file.relative_to(PACKAGE), file.read_text(encoding="utf-8"))]
    assert not found, "\n" + "\n".join(found)


def test_the_table_in_developers_md_is_this_one() -> None:
    text = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    written = dict(re.findall(r"^\| `(\w+)(?:/|\.py)` \|.*\| ([^|]*) \|[^|]*\|$", text, flags=re.MULTILINE))
    assert {room: set(re.findall(r"\w+", allowed)) for room, allowed in written.items()} == ROOMS


def circles(arrows: dict[str, set[str]]) -> list[tuple[str, ...]]:
    """Each way round from a module back to itself, found once."""
    done: set[str] = set()
    found = []

    def follow(module: str, way: tuple[str, ...]) -> None:
        if module in way:
            found.append((*way[way.index(module) :], module))
        elif module not in done:
            for other in sorted(arrows.get(module, ())):
                follow(other, (*way, module))
            done.add(module)

    for module in sorted(arrows):
        follow(module, ())
    return found


def test_no_modules_import_each_other_in_a_circle() -> None:
    arrows = {}
    for file in PACKAGE.rglob("*.py"):
        own = ".".join(("previz", *_parts(file.relative_to(PACKAGE))))
        arrows[own] = {each.module for each in _imports(file.read_text(encoding="utf-8")) if each.module != own}
    assert not circles(arrows), "\n" + "\n".join(" -> ".join(way) for way in circles(arrows))


def test_a_circle_is_seen() -> None:
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b"}}) == [("b", "c", "b")]
    assert circles({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == []


@pytest.mark.parametrize(
    ("file", "source", "said"),
    [
        ("scene/read.py", "from previz.stage import Stage", "scene may import errors, physics, units"),
        ("scene/read.py", "from previz import stage", "scene may import errors"),
        ("scene/read.py", "import previz.cli", "scene may import errors"),
        ("errors.py", "from previz import units", "errors may import no room"),
        (
            "delivery/clip/clip.py",
            "from previz.stage import Stage",
            "delivery may import errors, files, frames, layout",
        ),
        ("frames/render.py", "from previz.physics.optics import blur", "physics.optics is closed to frames"),
        ("stage/build.py", "from previz.physics import optics", "physics.optics is closed to stage"),
        (
            "stage/build.py",
            "from previz.predictions import predict",
            "stage may import errors, files, layout, light, mesh, physics",
        ),
        ("physics/ramp.py", "from previz.scene import Launch", "physics may import no room"),
        ("layout/motion.py", "from previz.physics import Curve", "imported by module"),
        ("delivery/clip/clip.py", "from previz.frames.sensor import srgb", "front door: from previz.frames import"),
        ("delivery/clip/clip.py", "from previz import Frame", "the public names are for users"),
        ("delivery/clip/clip.py", "def later():\n    import pyrender", "it belongs in frames.gl"),
        ("frames/render.py", "from OpenGL import GL", "it belongs in frames.gl"),
        ("frames/render.py", "import imageio_ffmpeg", "it belongs in delivery"),
        ("watching/looking.py", "import uvicorn", "it belongs in watching.server"),
        ("delivery/still.py", "from starlette.routing import Route", "it belongs in watching.server or watching.gate"),
        ("watching/server.py", "import socket", "nothing here opens the network"),
        ("stage/build.py", "import yaml", "name it in EDGES"),
        ("stage/build.py", "import pydantic", "it belongs in scene"),
        ("stage/build.py", "import rich.progress", "it belongs in telling"),
        ("stage/build.py", "from urllib.request import urlopen", "nothing here opens the network"),
        ("stage/build.py", "from .mesh import Mesh", "write the whole name"),
        ("stage/build.py", "import previz.theatre", "there is no room theatre"),
    ],
)
def test_the_check_sees_what_it_should(file: str, source: str, said: str) -> None:
    (fault,) = faults(Path(file), source)
    assert f"previz/{file}:" in fault
    assert said in fault


@pytest.mark.parametrize(
    ("file", "source"),
    [
        ("frames/render.py", "from previz.layout import camera_at"),
        ("frames/render.py", "from previz.physics import exposure"),
        ("layout/emitters.py", "from previz import scene as written"),
        ("stage/build.py", "from urllib.parse import unquote"),
        ("delivery/plan.py", "from previz.predictions import predict"),
        ("frames/gl/raster.py", "from OpenGL import GL"),
        ("__main__.py", "from previz.cli import main"),
    ],
)
def test_the_check_lets_the_rest_pass(file: str, source: str) -> None:
    assert faults(Path(file), source) == []
