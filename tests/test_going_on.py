"""A run that was stopped goes on where it was, as a person meets it. Building and drawing are played by stand-ins."""

import json
import subprocess
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from weakref import ReferenceType, ref

import numpy as np
import pytest
from typer.testing import CliRunner

import previz
from previz.cli import app
from previz.errors import MachineError
from previz.frames import Facts, Frame

SCENE = """\
title: A run that is stopped
scale: 1:50
units: mm
set: {table: {width: 1400, depth: 700}}
vehicle: {body: van, path: [[100, 300], [1300, 300]], speed: 1 m/s}
lights: [{id: room, ambient: 200 lx}]
cameras:
  pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}
  other: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/2.8, nearest: 50 mm, modes: [1080p120]}
shots:
  - {id: pass, camera: pocket, focal_length: 20 mm, f_number: 5.6, at: [700, -150, 45], aim: [700, 300, 20], focus: 400,
     capture: {rate: 120 fps}, duration: 0.1 s}
  - {id: away, camera: pocket, focal_length: 20 mm, f_number: 5.6, at: [100, -150, 45], aim: [1300, 300, 20],
     focus: 600, capture: {rate: 120 fps}, duration: 0.05 s}
"""

FACTS = Facts(iso=640, exposure_time=1 / 240, working_f_number=5.9, views=8, vehicle_illuminance=812.0)


class Machine:
    """Builds and draws in place of the real ones; stops, if it is told to, before it draws a frame."""

    def __init__(self) -> None:
        self.built = 0
        self.asked: list[tuple[str, range]] = []
        self.stops_at: int | None = None

    def build_stage(self, *_: object, **__: object) -> SimpleNamespace:
        self.built += 1
        return SimpleNamespace()

    def render_frames(self, _scene: object, _stage: object, shot: Any, look: Any, *_: object) -> Iterator[Frame]:
        self.asked.append((shot.id, look.frames))
        for number in look.frames:
            if number == self.stops_at:
                raise KeyboardInterrupt
            noise = np.random.default_rng([number, ord(shot.camera[0])])
            linear = noise.uniform(-0.1, 1.2, (look.size[1], look.size[0], 3)).astype(np.float32)
            if number % 2:
                linear *= np.float32(0.3)  # flashes
            yield Frame(number, Fraction(number, 120), linear, FACTS)

    def did(self) -> tuple[int, list[tuple[str, range]]]:
        """How often it built and what it was asked to draw since it was asked this last."""
        done = self.built, self.asked
        self.built, self.asked = 0, []
        return done


@pytest.fixture
def machine(nobody_draws: None, monkeypatch: pytest.MonkeyPatch) -> Machine:
    made = Machine()
    monkeypatch.setattr(previz, "build_stage", made.build_stage, raising=False)
    monkeypatch.setattr(previz, "render_frames", made.render_frames, raising=False)
    return made


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    path = tmp_path / "yard.yaml"
    path.write_text(SCENE, encoding="utf-8")
    return path


def run(command: str, scene_file: Path, out: Path, *arguments: object) -> Any:
    given = [command, scene_file, "--size", 64, "--views", 1, "--out", out, *arguments]
    return CliRunner().invoke(app, [str(each) for each in given])


def test_the_same_command_goes_on_to_the_same_clip(scene_file: Path, machine: Machine, tmp_path: Path) -> None:
    whole = run("render", scene_file, tmp_path / "whole", "--shot", "pass")
    assert whole.exit_code == 0, whole.output
    assert machine.did() == (1, [("pass", range(12))])
    out, said = tmp_path / "out", []
    for stops_at in (3, 8, None):
        machine.stops_at = stops_at
        said.append(run("render", scene_file, out, "--shot", "pass").stderr.splitlines())
    assert machine.did() == (3, [("pass", range(12)), ("pass", range(3, 12)), ("pass", range(8, 12))])
    assert "pass: 3 of 12 frames are kept; the same command goes on from there" in said[0]
    assert said[1][0] == "pass: goes on: 3 of 12 frames are there (--fresh draws them anew)"
    assert said[2][0] == "pass: goes on: 8 of 12 frames are there (--fresh draws them anew)"
    assert (
        [line for line in said[2][1:] if "flashes" in line]
        == [line for line in whole.stderr.splitlines() if "flashes" in line]
        != []
    )
    assert [path.name for path in out.iterdir()] == ["pass.mp4"]
    assert (out / "pass.mp4").read_bytes() == (tmp_path / "whole" / "pass.mp4").read_bytes()


def test_each_shot_goes_on_by_itself(scene_file: Path, machine: Machine, tmp_path: Path) -> None:
    machine.stops_at = 7  # the first shot has that frame, the second has not
    assert run("render", scene_file, tmp_path / "out").exit_code == 130
    machine.stops_at = 4
    assert run("render", scene_file, tmp_path / "out", "--shot", "away").exit_code == 130
    machine.stops_at = None
    machine.did()
    again = run("render", scene_file, tmp_path / "out")
    assert again.stderr.splitlines()[:2] == [
        "pass: goes on: 7 of 12 frames are there (--fresh draws them anew)",
        "away: goes on: 4 of 6 frames are there (--fresh draws them anew)",
    ]
    assert machine.did() == (1, [("pass", range(7, 12)), ("away", range(4, 6))])


@pytest.mark.parametrize(
    ("change", "kept"),
    [
        (["--slate"], 5),
        (["--for", "message"], 5),
        ([], 5),
        (["--seed", "1"], 0),
        (["--fresh"], 0),
        (["--format", "gif"], 0),
        (["--frames", "0:10"], 0),
        (["--size", "66"], 0),
    ],
)
def test_frames_serve_as_long_as_they_would_be_drawn_the_same(
    scene_file: Path, machine: Machine, tmp_path: Path, change: list[str], kept: int
) -> None:
    machine.stops_at = 5
    run("render", scene_file, tmp_path / "out", "--shot", "pass")
    machine.stops_at = None
    machine.did()
    result = run("render", scene_file, tmp_path / "out", "--shot", "pass", *change)
    assert result.exit_code == 0, result.output
    assert ("goes on" in result.stderr) is (kept > 0)
    assert machine.did()[1][0][1].start == kept


def test_another_scene_begins_anew(scene_file: Path, machine: Machine, tmp_path: Path) -> None:
    machine.stops_at = 5
    run("render", scene_file, tmp_path / "out", "--shot", "pass")
    machine.stops_at = None
    scene_file.write_text(SCENE.replace("200 lx", "210 lx"), encoding="utf-8")
    assert "goes on" not in run("render", scene_file, tmp_path / "out", "--shot", "pass").stderr


def test_where_the_encoder_failed_at_the_end_nothing_is_built_or_drawn(
    scene_file: Path, machine: Machine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def crashed(path: Path, frames: Iterator[Frame], *_: object) -> None:
        list(frames)
        raise MachineError(f"{path}: the video encoder stopped")

    with monkeypatch.context() as patched:
        patched.setattr(previz, "deliver_clip", crashed)
        first = run("render", scene_file, tmp_path / "out", "--shot", "pass")
    assert first.exit_code == 2
    assert "pass: 12 of 12 frames are kept; the same command goes on from there" in first.stderr
    assert "the video encoder stopped" in first.stderr
    machine.did()
    assert run("render", scene_file, tmp_path / "out", "--shot", "pass").exit_code == 0
    assert machine.did() == (0, [])


def test_a_comparison_goes_on_to_the_same_clip_sheet_and_numbers(
    scene_file: Path, machine: Machine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("previz.cli.comparing._from_above", lambda _: None)  # drawn anew each time, which takes a while
    assert run("compare", scene_file, tmp_path / "whole").exit_code == 0
    machine.stops_at = 7
    stopped = run("compare", scene_file, tmp_path / "out")
    assert stopped.exit_code == 130
    assert "pocket: 7 of 12 frames are kept; the same command goes on from there" in stopped.stderr
    machine.stops_at = None
    machine.did()
    again = run("compare", scene_file, tmp_path / "out")
    assert again.exit_code == 0, again.output
    assert "\nother: goes on: 7 of 12 frames are there" in again.stderr
    assert [numbers.start for _, numbers in machine.did()[1]] == [7, 7]
    for whole in (tmp_path / "whole").iterdir():
        assert (tmp_path / "out" / whole.name).read_bytes() == whole.read_bytes(), whole.name
    assert len(list((tmp_path / "out").iterdir())) == len(list((tmp_path / "whole").iterdir()))


class Stage:
    """What a reference may be kept of without holding it."""


def test_one_stage_is_held_at_a_time(
    scene_file: Path, machine: Machine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    built: list[ReferenceType[Stage]] = []

    def build_stage(*_: object, **__: object) -> Stage:
        assert [each() for each in built] == [None] * len(built)
        stage = Stage()
        built.append(ref(stage))
        return stage

    monkeypatch.setattr(previz, "build_stage", build_stage)
    text = SCENE.replace("duration: 0.05 s", "duration: 0.05 s, run: from the other end")
    third = text[text.index("  - {id: pass") : text.index("  - {id: away")].replace("id: pass", "id: back")
    scene_file.write_text(text + third, encoding="utf-8")
    result = run("render", scene_file, tmp_path / "out", "--json")
    assert result.exit_code == 0, result.output
    assert len(built) == 2
    assert [shot for shot, _ in machine.did()[1]] == ["pass", "back", "away"]  # those of a setup together
    assert [each["shot"] for each in json.loads(result.stdout)["clips"]] == ["pass", "away", "back"]


HOLDER = """
import sys, time
from pathlib import Path
from previz.delivery import claimed_file
with claimed_file(Path(sys.argv[1])):
    print("claimed", flush=True)
    time.sleep(600)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="nothing is locked there")
@pytest.mark.parametrize(
    ("command", "name"), [("render", "away.mp4"), ("compare", "side_by_side.mp4"), ("cut", "cut.mp4")]
)
def test_of_two_runs_into_one_folder_the_second_is_told_which_is_the_first(
    scene_file: Path, machine: Machine, tmp_path: Path, command: str, name: str
) -> None:
    path = tmp_path / "out" / name
    other = subprocess.Popen([sys.executable, "-c", HOLDER, path], stdout=subprocess.PIPE, text=True)
    try:
        assert other.stdout is not None and other.stdout.readline()
        refused = run(command, scene_file, tmp_path / "out")
        assert refused.exit_code == 2
        assert f"{path}: another run is making it (process {other.pid}, -c {path}, since 20" in refused.stderr
        assert "wait until that has ended, or choose another folder with --out" in refused.stderr
        assert machine.did() == (0, [])
        assert [each.name for each in (tmp_path / "out").iterdir()] == [f".{name}.unfinished"]
    finally:
        other.kill()
        other.communicate()
    if command == "render":
        assert run(command, scene_file, tmp_path / "out").exit_code == 0


def test_frames_that_several_processes_drew_are_those_that_one_draws(tmp_path: Path, scene_file: Path) -> None:
    """With the real builders and drawers: two processes until it is stopped, then one; against one alone."""
    delivered = previz.deliver_clip
    asked = (
        "--shot",
        "away",
        "--draft",
        "--frames",
        "0:5",
        "--size",
        320,
    )  # so large that its one view fills its patch

    def stopped(path: Path, frames: Iterator[Frame], *given: Any) -> int:
        def three() -> Iterator[Frame]:
            for count, frame in enumerate(frames):
                if count == 3:
                    raise MachineError("the disk is full")
                yield frame

        return delivered(path, three(), *given)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(previz, "deliver_clip", stopped)
        assert run("render", scene_file, tmp_path / "out", *asked, "--workers", 2).exit_code == 2
    again = run("render", scene_file, tmp_path / "out", *asked, "--workers", 1)
    assert again.stderr.startswith("away: goes on: 4 of 5 frames are there"), again.stderr
    assert run("render", scene_file, tmp_path / "whole", *asked, "--workers", 1).exit_code == 0
    assert (tmp_path / "out" / "away.mp4").read_bytes() == (tmp_path / "whole" / "away.mp4").read_bytes()
