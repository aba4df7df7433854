"""What is installed with us is bounded, is what CI's list pins, and has a licence that a table tells."""

import re
import tomllib
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
DEPENDENCIES = [Requirement(each) for each in PROJECT["dependencies"]]
FOR_TESTS = [Requirement(each) for each in PROJECT["optional-dependencies"]["test"]]

#: Without version numbers that mean anything: a date is no promise.
BY_DATE = {"pdfminer.six"}

#: Words of a package's own metadata, and what they stand for; the first that fits counts.
FAMILIES = (
    (r"\bAGPL|Affero", "AGPL"),
    (r"\bLGPL|Lesser General", "LGPL"),
    (r"\bGPL|GNU General", "GPL"),
    (r"\bMPL|Mozilla", "MPL"),
    (r"\bMIT-CMU|HPND", "MIT-CMU"),
    (r"Apache", "Apache-2.0"),
    (r"\bISC\b", "ISC"),
    (r"\bPSF|Python Software|matplotlib", "PSF"),
    (r"\bBSD|Redistribution and use", "BSD"),
    (r"\bMIT\b", "MIT"),
)


def _installed() -> dict[str, Distribution]:
    """All that comes with the program on this machine: what it asks for, and what that asks for."""
    found: dict[str, Distribution] = {}
    waiting = list(DEPENDENCIES)
    while waiting:
        wanted = waiting.pop()
        name = canonicalize_name(wanted.name)
        if name in found or (wanted.marker is not None and not wanted.marker.evaluate({"extra": ""})):
            continue
        try:
            found[name] = distribution(name)
        except PackageNotFoundError:
            continue
        waiting += [Requirement(each) for each in found[name].requires or ()]
    return found


def _family(package: Distribution) -> str:
    """By the package's own word: its licence expression, its classifiers, its licence field, its licence file."""
    said = package.metadata
    classifiers = [each for each in said.get_all("Classifier") or () if each.startswith("License ::")]
    files = [path for path in package.files or () if re.search(r"(?i)\blicen[cs]e", path.name)]
    texts = [said.get("License-Expression"), *classifiers, said.get("License"), *(each.read_text() for each in files)]
    for text in texts:
        for pattern, family in FAMILIES:
            if text and re.search(pattern, text):
                return family
    return "unknown"


def _told() -> dict[str, str]:
    """Package and licence of every line of the table."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("\n### Licences\n")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \|$", text, flags=re.MULTILINE)
    return {canonicalize_name(name): family for family, names in rows[1:] for name in names.strip().split(", ")}


@pytest.mark.parametrize("wanted", [*DEPENDENCIES, *FOR_TESTS], ids=str)
def test_every_dependency_has_a_first_and_a_last_release_that_will_do(wanted):
    signs = {each.operator for each in wanted.specifier}
    assert signs == {"=="} or ">=" in signs
    if signs != {"=="} and wanted.name not in BY_DATE:
        assert "<" in signs
    installed = distribution(wanted.name).version
    assert wanted.specifier.contains(installed, prereleases=True), installed


def test_ci_pins_what_is_installed_and_allowed():
    lines = (ROOT / ".ci/constraints.txt").read_text(encoding="utf-8").splitlines()
    pins = {}
    for line in lines:
        if not line.startswith("#"):
            name, _, version = line.partition("==")
            pins[canonicalize_name(name)] = Version(version)
    for wanted in (*DEPENDENCIES, *FOR_TESTS):
        assert wanted.specifier.contains(pins[canonicalize_name(wanted.name)]), f"run .ci/renew for {wanted}"
    missing = set(_installed()) - set(pins)
    assert not missing, f"run .ci/renew: {missing} would be whatever is newest"


def test_licences_are_those_of_the_table():
    told, installed = _told(), _installed()
    assert len(installed) > 20
    found = {name: _family(package) for name, package in installed.items()}
    assert {name: family for name, family in told.items() if name in found} == found
    assert set(found.values()).isdisjoint({"GPL", "AGPL", "unknown"})
