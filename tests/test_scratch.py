"""What killed runs leave is swept by the next run, and what a live run works in never is."""

import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from previz.delivery.whole_file import whole_file
from previz.scratch import WorkFolder

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="nothing is locked there, so nothing swept")

#: Another run: it works in a folder and on a file until it is ended, or for ever.
OTHER = """
import sys, time
from pathlib import Path
from previz.delivery.whole_file import whole_file
from previz.scratch import WorkFolder
with WorkFolder() as folder, whole_file(Path(sys.argv[1])) as part:
    (folder / "1.pickle").write_bytes(bytes(1000))
    part.write_bytes(bytes(1000))
    print(folder, flush=True)
    time.sleep(100)
"""


@pytest.fixture
def temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    home = tmp_path / "temporary"
    home.mkdir()
    monkeypatch.setenv("TMPDIR", str(home))
    monkeypatch.setattr(tempfile, "tempdir", None)
    return home


def other_run(path: Path) -> "subprocess.Popen[str]":
    program = subprocess.Popen([sys.executable, "-c", OTHER, str(path)], stdout=subprocess.PIPE, text=True)
    assert program.stdout is not None and program.stdout.readline()
    return program


def test_what_a_killed_run_left_goes_and_what_a_live_one_works_in_stays(temporary: Path, tmp_path: Path) -> None:
    path = tmp_path / "out" / "pass.mp4"
    killed, live = other_run(path), other_run(path)
    try:
        assert len(list(temporary.iterdir())) == len(list(path.parent.iterdir())) == 2
        killed.send_signal(signal.SIGKILL)
        killed.wait()
        with WorkFolder() as folder, whole_file(path) as part:
            assert len(list(temporary.iterdir())) == len(list(path.parent.iterdir())) == 2
            part.write_bytes(b"whole")
            assert folder.is_dir()
        assert path.read_bytes() == b"whole"
        assert len(list(temporary.iterdir())) == 1
        assert len(list(path.parent.glob(".*.part"))) == 1
        assert live.poll() is None
    finally:
        for program in (killed, live):
            program.kill()
            program.communicate()
    with WorkFolder(), whole_file(path) as part:
        part.touch()
    assert list(temporary.iterdir()) == []
    assert [each.name for each in path.parent.iterdir()] == ["pass.mp4"]


def test_what_is_not_ours_stays(temporary: Path, tmp_path: Path) -> None:
    theirs = [temporary / name for name in ("previz-work-notes", "previz-work-12345678x", "other-12345678")]
    theirs += [tmp_path / ".notes.part", tmp_path / "a.mp4.01234567.part", tmp_path / "plan.txt"]
    for path in theirs[:3]:
        path.mkdir()
        (path / "lock").touch()
    for path in theirs[3:]:
        path.touch()
    link = temporary / "previz-work-abcdefgh"
    link.symlink_to(tmp_path, target_is_directory=True)
    with WorkFolder(), whole_file(tmp_path / "a.mp4"):
        pass
    assert all(path.exists() for path in [*theirs, link])


def test_a_folder_that_is_being_made_is_left_alone_until_it_is_old(temporary: Path) -> None:
    young = temporary / "previz-work-abcdefgh"
    young.mkdir()
    WorkFolder().remove()
    assert young.is_dir()
    os.utime(young, (time.time() - 7200,) * 2)
    WorkFolder().remove()
    assert not young.exists()
