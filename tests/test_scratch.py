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
from previz.scratch import Busy, WorkFolder, claimed

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
    time.sleep(600)
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


# --- one run at a time ---

#: Another run: it has a file to itself until it is ended, or for ever, and leaves something unfinished.
HOLDER = """
import sys, time
from pathlib import Path
from previz.scratch import claimed
with claimed(Path(sys.argv[1]), "process 4711, since noon\\x1b[2J") as home:
    (home / "half").mkdir()
    print(home, flush=True)
    time.sleep(600)
"""


def test_a_file_is_one_run_s_at_a_time_and_the_next_one_s_as_soon_as_that_is_gone(tmp_path: Path) -> None:
    path = tmp_path / "out" / "pass.mp4"
    other = subprocess.Popen([sys.executable, "-c", HOLDER, str(path)], stdout=subprocess.PIPE, text=True)
    try:
        assert other.stdout is not None and other.stdout.readline()
        with pytest.raises(Busy, match=r"^process 4711, since noon\[2J$"), claimed(path, "a second one"):
            pass
        with claimed(path.with_name("away.mp4"), "of another file") as home:
            assert home.is_dir()
    finally:
        other.kill()
        other.communicate()
    with claimed(path, "a third one") as home:
        assert home == tmp_path / "out" / ".pass.mp4.unfinished"
        assert (home / "half").is_dir()  # what is unfinished is the next one's
        (home / "half").rmdir()
    assert list((tmp_path / "out").iterdir()) == []


def test_a_claim_leaves_no_folder_that_was_made_for_it_and_is_empty(tmp_path: Path) -> None:
    with claimed(tmp_path / "a" / "b" / "pass.mp4", "us"):
        pass
    assert list(tmp_path.iterdir()) == []
    with claimed(tmp_path / "a" / "b" / "pass.mp4", "us") as home:
        (home.parent / "pass.mp4").touch()
    assert [each.name for each in (tmp_path / "a" / "b").iterdir()] == ["pass.mp4"]


def test_a_claim_does_not_follow_a_link(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / ".pass.mp4.unfinished").symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    with pytest.raises(OSError, match="a link"), claimed(tmp_path / "pass.mp4", "us"):
        pass
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_what_nobody_went_on_with_for_a_week_is_swept_unless_it_is_held(tmp_path: Path) -> None:
    forgotten, held, young, theirs = (tmp_path / name for name in
        (".a.mp4.unfinished", ".b.mp4.unfinished", ".c.mp4.unfinished", "d.mp4.unfinished"))  # fmt: skip
    for home in (forgotten, young, theirs):
        home.mkdir()
        (home / "lock").touch()
    with claimed(tmp_path / "b.mp4", "it is at work") as home:
        assert home == held
        (held / "frames").mkdir()
        for each in (forgotten, held, theirs):
            for path in (*each.iterdir(), each):
                os.utime(path, (time.time() - 8 * 86400,) * 2)
        with claimed(tmp_path / "pass.mp4", "us"):
            pass
        assert not forgotten.exists()
        assert held.is_dir() and young.is_dir() and theirs.is_dir()
