"""The public names of previz and of each room are sorted, there, and no more than promised."""

import ast
import importlib
import re
import subprocess
import sys
from pathlib import Path

import pytest

import previz

ROOMS = (
    "scene", "layout", "sequence", "predictions", "continuity", "evening", "stage", "frames", "delivery", "paper",
    "starters", "guide",
)  # fmt: skip


def test_public_names_are_sorted_and_each_is_there() -> None:
    assert previz.__all__ == sorted(previz.__all__)
    assert all(hasattr(previz, name) for name in previz.__all__)


@pytest.mark.parametrize("name", previz.__all__)
def test_a_public_name_is_what_its_room_offers(name: str) -> None:
    found = getattr(previz, name)
    if name != "__version__":
        doors = [importlib.import_module(f"previz.{room}") for room in (*ROOMS, "errors")]
        assert any(found is getattr(door, name, None) for door in doors)
        assert found.__doc__


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_lists_its_front_door(room: str) -> None:
    door = importlib.import_module(f"previz.{room}")
    assert len(set(door.__all__)) == len(door.__all__)
    missing = [name for name in door.__all__ if not hasattr(door, name)]
    assert not missing


def test_a_name_that_is_not_there_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="theatre"):
        previz.theatre  # noqa: B018


def test_nothing_heavy_is_loaded_for_the_command_line_s_help() -> None:
    heavy = (
        "numpy", "scipy", "ruamel", "trimesh", "embreex", "pyrender", "OpenGL", "PIL", "imageio_ffmpeg", "matplotlib",
    )  # fmt: skip
    program = (
        "import sys, previz.cli\n"
        "from typer.testing import CliRunner\n"
        "assert CliRunner().invoke(previz.cli.app, ['render', '--help']).exit_code == 0\n"
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"


def test_nobody_is_told_how_far_we_saw_a_source() -> None:
    """That is said in comments and docstrings, for who reads the code; a maker is told the source."""
    ours = re.compile(
        r"from memory|, (?:both )?seen$|, seen[;,)]|source was not seen|figure not seen|as (?:commonly )?quoted"
    )
    for path in Path(previz.__file__).parent.rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        texts = [node for node in ast.walk(tree) if isinstance(node, ast.Constant) and id(node) not in docs]
        assert [each.value for each in texts if isinstance(each.value, str) and ours.search(each.value)] == [], path
