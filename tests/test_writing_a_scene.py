"""The commands that help to write a scene: `keys`, `schema` and `new`."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from typer.testing import CliRunner, Result

from previz.cli import app
from previz.scene import Kit, key_places, schema_text

ROOT = Path(__file__).parents[1]


def run(*arguments: str, typed: str | None = None) -> Result:
    return CliRunner().invoke(app, [*arguments], input=typed)


# --- keys ---


@pytest.mark.parametrize("place", [None, *(place for place, _ in key_places()), "lights", "dressing", "shots.aim"])
def test_keys_fit_into_eighty_columns(place: str | None) -> None:
    result = run("keys", *([place] if place else []))
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert len(lines) > 4 and max(map(len, lines)) <= 80
    assert "`" not in result.output and "None" not in result.output


def test_keys_of_a_part_have_their_unit_default_and_example() -> None:
    said = " ".join(run("keys", "set.table").output.split())
    assert "width length must be given 1400 mm along x" in said
    assert "height length 740 mm" in said
    assert "length: mm, cm, m, um, in or ft, or a plain number in the units of the file" in said


def test_a_part_that_is_none_is_told_with_what_was_meant() -> None:
    result = run("keys", "capture")
    assert result.exit_code == 2
    assert result.stderr.strip() == "capture is not a place in a scene file; did you mean shots.capture?"


# --- schema ---


def test_the_schema_is_printed_and_written_the_same(tmp_path: Path) -> None:
    printed = run("schema")
    assert run("schema", "--out", str(tmp_path / "s.json")).exit_code == printed.exit_code == 0
    assert (tmp_path / "s.json").read_text(encoding="utf-8") == printed.stdout == schema_text()
    Draft202012Validator.check_schema(json.loads(printed.stdout))
    assert run("schema", "--kit").stdout == schema_text(Kit)


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    result = run("schema", "--out", str(tmp_path / "no" / "s.json"))
    assert result.exit_code == 2 and "cannot be written: no such file or directory" in result.stderr


def test_the_schema_beside_the_demo_scenes_is_this_one() -> None:
    """After a change of the keys: previz schema --out scenes/scene.schema.json"""
    assert (ROOT / "scenes" / "scene.schema.json").read_text(encoding="utf-8") == schema_text()


@pytest.mark.parametrize("path", sorted((ROOT / "scenes").glob("*.yaml")), ids=lambda path: path.stem)
def test_a_demo_scene_names_the_schema(path: Path) -> None:
    assert "\n# yaml-language-server: $schema=scene.schema.json\n" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize("command", ["keys", "schema"])
def test_help_ends_with_two_examples(command: str) -> None:
    *_, title, first, second = run(command, "--help").output.rstrip().splitlines()
    assert title.strip() == "Examples:"
    assert all(line.strip().startswith(f"previz {command}") for line in (first, second))
