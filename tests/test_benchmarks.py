"""Benchmarks are run by hand; that each can be loaded is looked at here."""

from importlib import import_module
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "benchmarks"


def test_every_benchmark_can_be_loaded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(FOLDER)  # as when one is run: they load each other by name
    names = sorted(path.stem for path in FOLDER.glob("*.py"))
    assert names
    for name in names:
        assert import_module(name).__doc__, name
