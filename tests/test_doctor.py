"""The check-up finds what is there, says what is missing, and never falls over itself."""

import importlib.metadata
import sys
from pathlib import Path

import pytest

from previz.doctor import Check, examine
from previz.errors import MachineError
from previz.files import cache_folder


def _found(checks: list[Check]) -> dict[str, Check]:
    return {check.name: check for check in checks}


def test_on_a_machine_that_runs_these_tests_everything_works(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PREVIZ_CACHE", str(tmp_path))
    cache_folder().mkdir()
    (cache_folder() / "a.kept").write_bytes(bytes(2500))
    checks = _found(examine())
    lacking = [check for check in checks.values() if not check.works]
    assert not lacking
    assert "H.264 tried and works" in checks["video encoder"].found
    assert "OpenGL" in checks["OpenGL"].found
    assert checks["drawn by"].found in ("the processor (software)", "graphics hardware")
    assert checks["light cache"].found == f"{cache_folder()} (2.5 kB of at most 1.0 GB; safe to delete)"
    assert checks["numpy"].found == sys.modules["numpy"].__version__


def test_without_the_extra_for_clusters_nothing_is_amiss(monkeypatch: pytest.MonkeyPatch) -> None:
    installed = importlib.metadata.version

    def without(package: str) -> str:
        if package == "distributed":
            raise importlib.metadata.PackageNotFoundError
        return installed(package)

    monkeypatch.setattr("importlib.metadata.version", without)
    check = _found(examine())["cluster"]
    assert check.works and check.found == "not installed; pip install 'tabletop-previz[cluster]'"


def test_what_is_missing_is_a_line_with_its_cure(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_opengl() -> None:
        raise MachineError("libEGL.so.1 is missing. Install OpenGL with: ...")

    def no_encoder() -> str:
        raise MachineError("the video encoder (ffmpeg) is missing; put it back with: ...")

    monkeypatch.setattr("previz.frames.require_opengl", no_opengl)
    monkeypatch.setattr("previz.delivery.try_encoder", no_encoder)
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setitem(sys.modules, "embreex", None)  # what an absent package looks like
    checks = _found(examine())
    assert {name for name, check in checks.items() if not check.works} == {
        *("OpenGL libraries", "ray casting", "video encoder")
    }
    assert checks["OpenGL libraries"].found.startswith("libEGL.so.1 is missing")
    # Without its libraries OpenGL is not tried: that would only be a second, murkier message.
    assert "OpenGL" not in checks
