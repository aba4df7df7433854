"""What the program needs at run time is installed with it, not only found in a checkout."""

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_every_file_that_is_not_python_is_package_data():
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["package-data"]["previz"]
    package = ROOT / "previz"
    named = {path for pattern in settings for path in package.glob(pattern)}
    there = {path for path in package.rglob("*") if path.is_file() and path.suffix not in {".py", ".pyc"}}
    assert there, "there are shaders at least"
    assert there == named, "name what is missing in pyproject.toml, [tool.setuptools.package-data]"


def test_every_folder_with_package_data_is_a_package():
    # setuptools finds packages by their __init__.py; data in any other folder is left behind.
    for path in (ROOT / "previz").rglob("*"):
        if path.is_file() and path.suffix == ".py":
            assert (path.parent / "__init__.py").is_file(), path
