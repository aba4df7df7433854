"""The version is written once for the program, once for packaging and once for readers; they agree."""

import re
import tomllib
from pathlib import Path

import previz

TOP = Path(__file__).parents[1]


def test_package_and_project_have_one_version() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == previz.__version__


def test_the_newest_entry_of_the_changelog_is_this_version() -> None:
    text = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
    _, heading, changes = text.partition("\n## Changelog\n")
    assert heading, "DEVELOPERS.md has no heading '## Changelog'"
    newest = re.search(r"^### \[?v?(\d+\.\d+\.\d+)", changes, flags=re.MULTILINE)
    assert newest, "the changelog has no entry like '### 0.1.0'"
    assert newest[1] == previz.__version__
