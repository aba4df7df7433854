"""Where people work: no screen, 80 columns, no colour, odd names of folders, and folders of others."""

import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from typer.testing import CliRunner

from previz.cli import app

#: With what a machine without a screen and with a plain terminal offers.
PLAIN = {"NO_COLOR": "1", "TERM": "dumb", "COLUMNS": "80"}
QUICK = ("--draft", "--size", "160", "--views", "2")


def previz(
    *arguments: object, cwd: Path, before: Sequence[str] = (), **more: str
) -> "subprocess.CompletedProcess[str]":
    screenless = {key: value for key, value in os.environ.items() if key not in {"DISPLAY", "WAYLAND_DISPLAY"}}
    command = [*before, sys.executable, "-m", "previz", *map(str, arguments)]
    where = {"PYTHONPATH": str(Path(__file__).parents[1])}
    return subprocess.run(
        command, cwd=cwd, env=screenless | PLAIN | where | more, stdin=subprocess.DEVNULL, capture_output=True,
        encoding="utf-8", timeout=300, check=False,
    )  # fmt: skip


@pytest.fixture(scope="module")
def started(tmp_path_factory: pytest.TempPathFactory) -> str:
    """What `new` writes, without its trees: they take long to light, and stand in nobody's way here."""
    path = tmp_path_factory.mktemp("started") / "a.yaml"
    assert CliRunner().invoke(app, ["new", str(path)]).exit_code == 0
    return without_trees(path.read_text(encoding="utf-8"))


def without_trees(text: str) -> str:
    bare, count = re.subn(r"(?m)^dressing:.*\n(?:  .*\n)+", "", text)
    assert count == 1
    return bare


def test_every_step_works_in_a_folder_with_spaces_and_letters_of_any_script(tmp_path: Path) -> None:
    folder, file = tmp_path / "meine Sets ß" / "Плёнка 1", "mein schuß é.yaml"
    folder.mkdir(parents=True)
    for step in (
        ("new", file, "--camera", "pocket", "--camera", "phone"),
        ("check", file),
        ("still", file, *QUICK),
        ("plan", file, "--no-stills"),
        ("compare", file, *QUICK, "--frames", "0:2"),
    ):
        said = previz(*step, cwd=folder, PREVIZ_CACHE=str(tmp_path / "Zwischen lager ü"))
        assert said.returncode == 0, (step, said.stderr)
        assert "\x1b" not in said.stdout + said.stderr, step
        if step[0] == "new":
            (folder / file).write_text(without_trees((folder / file).read_text(encoding="utf-8")), encoding="utf-8")
    outputs = folder / "outputs" / "mein schuß é"
    assert (outputs / "plan.pdf").is_file() and (outputs / "side_by_side" / "page.html").is_file()


def test_a_command_that_is_proposed_can_be_pasted(tmp_path: Path, started: str) -> None:
    (tmp_path / "a shot.yaml").write_text(started, encoding="utf-8")
    said = previz("check", "a shot.yaml", cwd=tmp_path).stderr.strip().strip("()")
    assert shlex.split(said)[:3] == ["previz", "plan", "a shot.yaml"]


def test_a_terminal_that_lacks_a_letter_of_a_name_gets_its_number(tmp_path: Path) -> None:
    said = previz("new", "schuß.yaml", cwd=tmp_path, PYTHONIOENCODING="ascii")
    assert said.returncode == 0, said.stderr
    assert said.stdout.splitlines()[0] == r"schu\xdf.yaml"


@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
def test_a_terminal_is_told_in_lines_that_it_holds(tmp_path: Path, started: str) -> None:
    import pty

    (tmp_path / "a.yaml").write_text(started.replace("surface: grass", "surface: gras"), encoding="utf-8")
    in_one_line = previz("check", "a.yaml", cwd=tmp_path).stderr.strip()
    assert len(in_one_line) > 80 and "\n" not in in_one_line  # where it is no terminal
    try:
        ours, theirs = pty.openpty()
    except OSError as fault:  # a root without /dev/pts
        pytest.skip(f"no terminal to be had here: {fault}")
    command = [sys.executable, "-m", "previz", "check", "a.yaml"]
    env = os.environ | PLAIN | {"PYTHONPATH": str(Path(__file__).parents[1])}
    subprocess.run(command, cwd=tmp_path, env=env, stderr=theirs, stdout=subprocess.DEVNULL, timeout=300, check=False)
    os.close(theirs)
    said = os.read(ours, 10_000).decode()
    os.close(ours)
    assert max(map(len, said.splitlines())) < 80
    assert " ".join(said.split()) == in_one_line


@pytest.fixture(scope="module")
def not_mine(tmp_path_factory: pytest.TempPathFactory, started: str) -> Iterator[tuple[Path, Sequence[str]]]:
    """A folder with a scene that may not be written, and what makes a command one of somebody who cannot."""
    tmp_path = tmp_path_factory.mktemp("of two")
    folder = tmp_path / "theirs"
    folder.mkdir()
    (tmp_path / "mine").mkdir()
    (folder / "a.yaml").write_text(started, encoding="utf-8")
    folder.chmod(0o555)
    # Root may write anywhere; in a namespace of its own it is a user like any other, who owns the same files.
    as_user = ("unshare", "--user", "--map-user=1000") if os.name == "posix" and os.geteuid() == 0 else ()
    if as_user and not shutil.which("unshare"):
        pytest.skip("root cannot lose its permissions here")
    program = "import os, sys; assert os.geteuid(); sys.exit(not os.access('.', os.R_OK) or os.access('.', os.W_OK))"
    if subprocess.run(
        [*as_user, sys.executable, "-c", program], cwd=folder, capture_output=True, check=False
    ).returncode:
        pytest.skip("root cannot lose its permissions here")
    yield folder, as_user
    folder.chmod(0o755)


def test_a_scene_in_a_folder_of_somebody_else_s_is_filmed_into_one_s_own(
    not_mine: tuple[Path, Sequence[str]],
) -> None:
    folder, user = not_mine
    out = folder.parent / "mine"
    for step in (
        ("check", "a.yaml"),
        ("still", "a.yaml", *QUICK, "--out", out),
        ("plan", "a.yaml", "--no-stills", "--out", out),
        ("compare", "a.yaml", "--vary", "f_number=4,8", *QUICK, "--frames", "0:2", "--out", out / "both"),
        ("new", out / "b.yaml"),
    ):
        said = previz(*step, cwd=folder, before=user)
        assert said.returncode == 0, (step, said.stderr)
    assert {path.suffix for path in out.iterdir()} >= {".png", ".pdf", ".yaml"}
    assert (out / "both" / "page.html").is_file()


@pytest.mark.parametrize(
    ("step", "cure"),
    [
        (("still", "a.yaml", *QUICK), "choose a folder you may write to with --out"),
        (("new", "b.yaml"), "give the scene a name in a folder that you may write to"),
        (("advise", "a.yaml", "--apply", "1"), "choose a folder you may write to with --out"),
        (("advise", "a.yaml", "--compare", "--draft"), "run it in a folder that you may write to"),
    ],
    ids=lambda each: each[0] if isinstance(each, tuple) else "",
)
def test_what_cannot_be_written_is_told_before_any_work_with_a_cure_that_works(
    step: tuple[str, ...], cure: str, not_mine: tuple[Path, Sequence[str]]
) -> None:
    folder, user = not_mine
    said = previz(*step, cwd=folder, before=user)
    assert said.returncode == 2
    assert said.stderr.rstrip().endswith(f"cannot be written (permission denied); {cure}")
    assert said.stdout == "" and "Traceback" not in said.stderr
