"""The public names of previz and of each room are sorted, there, and no more than promised."""

import importlib
import subprocess
import sys

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
