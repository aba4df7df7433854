"""What a person sees: exit codes, one clear message, what was written. Building and drawing are played by stand-ins."""

import contextlib
import json
import os
import shlex
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import av
import numpy as np
import pytest
import typer
from PIL import Image
from typer.testing import CliRunner

import previz
from previz.cli import EXIT_CODES, app
from previz.delivery import CLIP_WRITERS
from previz.doctor import Check
from previz.errors import MachineError
from previz.frames import Facts, Frame
from previz.options import ClipFormat
from previz.predictions import Figure, Finding, Predictions, ShotPredictions, Verdict
from previz.telling import at_work, progress

SCENE = """\
title: A test of the command line
scale: 1:50
units: mm
set:
  table: {width: 1400, depth: 700}
vehicle: {body: van, path: [[100, 300], [1300, 300]], speed: 1 m/s}
lights:
  - {id: room, ambient: 200 lx}
cameras:
  pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}
shots:
  - id: pass
    camera: pocket
    focal_length: 20 mm
    f_number: 5.6
    at: [700, -150, 45]
    aim: vehicle
    focus: 400
    capture: {rate: 120 fps}
    duration: 0.1 s
  - id: away
    camera: pocket
    focal_length: 30 mm
    f_number: 4
    at: [100, -150, 45]
    aim: [1300, 300, 20]
    focus: 600
    capture: {rate: 30000/1001}
    playback: 30000/1001
    start: 0.2 s
    duration: 0.5 s
"""

STAGE = SimpleNamespace()

PATIENCE = 120.0  # for anything, on a machine that has much to do [s]

FACTS = Facts(iso=640, exposure_time=1 / 240, working_f_number=5.9, views=8, vehicle_illuminance=812.0)


@pytest.mark.parametrize("rate,told", [("24 fps", True), ("6 fps", False)])
def test_a_clip_that_flashes_more_than_three_times_a_second_is_told(
    rate: str, told: bool, scene_file: Path, looks: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    def flashing(_scene: object, _stage: object, _shot: object, look: Any, *_: object) -> Iterator[Frame]:
        for number in look.frames:
            linear = np.full((look.size[1], look.size[0], 3), 0.9 * (number % 2), np.float32)
            yield Frame(number, Fraction(number, 120), linear, FACTS)

    monkeypatch.setattr(previz, "render_frames", flashing)
    scene_file.write_text(SCENE.replace("duration: 0.1 s", f"duration: 0.1 s\n    playback: {rate}"), encoding="utf-8")
    result = run(
        "render", scene_file, "--shot", "pass", "--size", 160, "--views", 1, "--out", scene_file.parent / "out"
    )
    assert result.exit_code == 0, result.output
    assert ("the clip flashes" in result.stderr) is told
    assert ("Steady the light" in result.stderr) is told and "place by place" not in result.stderr


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    path = tmp_path / "yard.yaml"
    path.write_text(SCENE, encoding="utf-8")
    return path


@pytest.fixture
def looks(nobody_draws: None, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Stand-ins for building and drawing; lists how each shot was asked to look."""
    asked: list[Any] = []

    def render_frames(_scene: object, stage: object, shot: Any, look: Any, *_: object) -> Iterator[Frame]:
        assert stage is STAGE
        asked.append(look)
        for number in look.frames:
            linear = np.full((look.size[1], look.size[0], 3), 0.1, np.float32)
            linear[:, : number + 4] = 0.7
            yield Frame(number, Fraction(number, 120), linear, FACTS)

    def build_stage(_scene: object, quality: str, progress: Any, **_: object) -> SimpleNamespace:
        assert quality in ("full", "draft")
        progress("lighting the set")
        return STAGE

    monkeypatch.setattr(previz, "build_stage", build_stage, raising=False)
    monkeypatch.setattr(previz, "render_frames", render_frames, raising=False)
    return asked


def run(*arguments: object) -> Any:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


COMMANDS = sorted(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_ends_with_examples_whose_options_there_are(command: str) -> None:
    page = run(*filter(None, (command, "--help"))).output
    _, title, listed = page.rpartition("  Examples:\n")
    examples = [line.strip() for line in listed.splitlines()]
    assert title and len(examples) >= 2 and len(set(examples)) == len(examples)
    assert max(map(len, page.splitlines())) <= 80 or command in {"new", "page"}
    for example in examples:
        program, name, *words = shlex.split(example)
        assert program == "previz" and name == (command or name)
        offered = run(name, "--help").output.rpartition("  Examples:\n")[0].split()
        assert {word for word in words if word.startswith("--")} <= set(offered), example


def test_exit_codes_are_told_alike_in_the_help_and_in_the_readme() -> None:
    told = " ".join(run("--help").output.split())
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    assert {code for code, _ in EXIT_CODES} == {"0", "1", "2", "130"}
    for code, meaning in EXIT_CODES:
        assert f"{code} {meaning}" in told
        assert f"| {code} | {meaning} |" in readme


@pytest.mark.parametrize(
    ("words", "offered"),
    [("previz ch", {"check"}), ("previz guide la", {"launch", "lamps"})],
)
def test_a_shell_completes_commands_and_topics(words: str, offered: set[str]) -> None:
    asked = {**os.environ, "_PREVIZ_COMPLETE": "complete_bash", "COMP_WORDS": words,
             "COMP_CWORD": str(words.count(" "))}  # fmt: skip
    said = subprocess.run(
        [sys.executable, "-m", "previz"], env=asked, capture_output=True, text=True, check=False, timeout=PATIENCE
    )
    assert set(said.stdout.split()) == offered, said.stderr
    assert "--install-completion" in run("--help").output


def test_out_may_be_the_name_of_a_still_and_no_other_file_s(scene_file: Path, looks: list[Any], tmp_path: Path) -> None:
    picture = tmp_path / "seen.png"
    assert run("still", scene_file, "--size", 64, "--out", picture).exit_code == 0
    assert picture.is_file()
    slip = run("render", scene_file, "--size", 64, "--out", tmp_path / "clip.mp4")
    assert slip.exit_code == 2
    assert "a folder is named here, and this is a file's name; leave out .mp4" in " ".join(slip.stderr.split())
    assert not (tmp_path / "clip.mp4").exists()


def test_render_writes_one_clip_for_each_shot_and_names_them(
    scene_file: Path, looks: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(scene_file.parent)
    result = run("render", scene_file.name, "--size", 160)
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert lines[0].startswith(
        "outputs/yard/pass.mp4: 12 frames, 0.50 s on screen at 24 fps, 160x90, 1/240 s, ISO 640, "
    )
    assert lines[1].startswith("outputs/yard/away.mp4: 14 frames, 0.47 s on screen at 29.97 fps, 160x90, ")
    assert len(lines) == 2
    for name, count, rate in (("pass", 12, Fraction(24)), ("away", 14, Fraction(30000, 1001))):
        with av.open(f"outputs/yard/{name}.mp4") as container:
            stream = container.streams.video[0]
            assert (stream.frames, stream.average_rate) == (count, rate)
            assert (stream.width, stream.height) == (160, 90)


def test_while_working_it_tells_what_it_does_on_stderr(scene_file: Path, looks: list[Any], tmp_path: Path) -> None:
    result = run("render", scene_file, "--shot", "pass", "--size", 64, "--out", tmp_path)
    assert "lighting the set" in result.stderr
    # How many seconds, the next test tells, by a clock of its own.
    assert "pass: 1 of 12 frames\n" in result.stderr  # what the first one took says nothing of the others
    assert "pass: 3 of 12 frames, " in result.stderr
    assert "\x1b" not in result.output, "colour codes do not belong in a file"


def test_the_estimate_leaves_out_what_the_first_frame_took_to_start(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two processes: the first two frames after 30 s, of which 28 are the start, then two every 2 s."""
    from previz.telling import _Left

    now = [0.0]
    monkeypatch.setattr("previz.telling.time.monotonic", lambda: now[0])
    left = _Left(100)
    told = []
    for done in range(1, 9):
        now[0] = 30.0 + 2.0 * ((done - 1) // 2) + 0.1 * ((done - 1) % 2)
        told.append(left(done))
    assert told[:2] == ["", ""]
    # From the second frame on it is a frame a second: 92 s are left after the eighth.
    assert told[7] == ", about 92 s left"


def test_without_a_terminal_a_slow_clip_is_told_of_every_ten_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: 400 frames of 4 s each are told of at the first, then every third, and at each quarter."""
    now, said = [0.0], []  # type: ignore[var-annotated]
    monkeypatch.setattr("previz.telling.time.monotonic", lambda: now[0])
    with progress("pass", 400, said.append) as advance:
        for done in range(1, 401):
            now[0] += 4.0
            advance(done)
    assert said[:3] == [
        "pass: 1 of 400 frames",
        "pass: 4 of 400 frames, about 26 min left",
        "pass: 7 of 400 frames, about 26 min left",
    ]
    told = [int(line.split()[1]) for line in said]
    assert max(later - earlier for earlier, later in pairwise(told)) * 4.0 <= 12.0  # the first frame past ten seconds
    assert {100, 200, 300} <= {*told} and said[-1].endswith(" s left")


def test_what_has_no_frames_to_count_is_told_of_too(monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    heard = threading.Event()

    def say(line: str) -> None:
        said.append(line)
        heard.set()

    monkeypatch.setattr("previz.telling._SILENCE", 0.01)
    with at_work("advice for pass", say) as tell:
        assert heard.wait(PATIENCE)
        tell("advice for back")
        while said[-1].startswith("advice for pass"):  # it may be about to say so once more
            heard.clear()
            assert heard.wait(PATIENCE)
    count = len(said)
    assert said[0] == "advice for pass: 0 s so far" and said[-1].startswith("advice for back: ")
    time.sleep(0.03)
    assert len(said) == count  # once it is done nothing more is said


def test_more_workers_than_cores_is_said(
    scene_file: Path, looks: list[Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("previz.spread.cores", lambda: 2)
    asked = ("render", scene_file, "--shot", "pass", "--size", 64, "--out", tmp_path, "--workers")
    assert "--workers 3: this machine has 2 cores; more than that only take turns" in run(*asked, 3).stderr
    assert "--workers" not in run(*asked, 2).stderr


@pytest.mark.parametrize("kind", ["gif", "webp"])
def test_a_purpose_of_what_is_no_mp4_is_refused(scene_file: Path, looks: list[Any], tmp_path: Path, kind: str) -> None:
    result = run("render", scene_file, "--format", kind, "--for", "post", "--out", tmp_path)
    assert (result.exit_code, looks) == (2, [])
    assert result.stderr.startswith(f"--for post says how an mp4 is encoded; a {kind} has one way to be.")


@pytest.mark.parametrize(
    ("options", "size", "views"),
    [
        ([], (1280, 720), None),
        (["--draft"], (640, 360), 3),
        (["--draft", "--views", "4"], (640, 360), 4),
        (["--draft", "--size", "320"], (320, 180), 3),
        (["--size", "1920x1080", "--views", "256"], (1920, 1080), 256),
    ],
)
def test_draft_sets_what_is_not_given(
    scene_file: Path,
    looks: list[Any],
    tmp_path: Path,
    options: list[str],
    size: tuple[int, int],
    views: int | None,
) -> None:
    result = run("still", scene_file, "--out", tmp_path / "out", "--seed", 5, *options)
    assert result.exit_code == 0, result.output
    (look,) = looks
    assert (look.size, look.views, look.seed) == (size, views, 5)
    assert look.thorough == ("--draft" not in options)


def test_quality_reaches_the_picture_and_draft_is_short_for_one(
    scene_file: Path, looks: list[Any], tmp_path: Path
) -> None:
    for options in (["--quality", "usual"], ["--quality", "fine"], ["--quality", "draft"], ["--draft"], []):
        assert run("still", scene_file, "--out", tmp_path / "out", *options).exit_code == 0
    usual, fine, draft, short, plain = looks
    assert (usual.quality, fine.quality, draft) == ("usual", "fine", short)
    assert usual == plain and usual != fine


@pytest.mark.parametrize(
    ("options", "found"),
    [
        (["--draft", "--quality", "fine"], "--draft is short for --quality draft, and --quality says fine: leave one"),
        (["--quality", "fine", "--views", "9"], "--quality fine chooses how many looks make up a frame, and --views"),
    ],
)
def test_two_options_that_say_different_things_are_refused(
    scene_file: Path, looks: list[Any], tmp_path: Path, options: list[str], found: str
) -> None:
    result = run("still", scene_file, "--out", tmp_path / "out", *options)
    assert (result.exit_code, looks) == (2, []) and result.stderr.startswith(found)


@pytest.mark.parametrize(
    ("asked", "wanted"), [("0:4", range(4)), (":3", range(3)), ("9:", range(9, 12)), ("5:6", range(5, 6))]
)
def test_frames_are_counted_from_0_and_the_end_is_not_included(
    scene_file: Path, looks: list[Any], tmp_path: Path, asked: str, wanted: range
) -> None:
    result = run("render", scene_file, "--shot", "pass", "--size", 64, "--frames", asked, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert looks[0].frames == wanted
    with av.open(str(tmp_path / "out" / "pass.mp4")) as container:
        assert container.streams.video[0].frames == len(wanted)


@pytest.mark.parametrize(
    ("options", "number"),
    [
        ([], 6),
        (["--at", "0 s"], 0),
        (["--at", "1/40 s"], 3),
        (["--at", "28 ms"], 3),
        (["--shot", "away"], 7),
        (["--shot", "away", "--at", "0.2 s"], 0),
    ],
)
def test_a_still_is_the_frame_nearest_a_time_on_set(
    scene_file: Path, looks: list[Any], tmp_path: Path, options: list[str], number: int
) -> None:
    result = run("still", scene_file, "--size", 64, "--out", tmp_path / "out", *options)
    assert result.exit_code == 0, result.output
    shot = "away" if "away" in options else "pass"
    (path,) = (tmp_path / "out").iterdir()
    assert path.name == f"{shot}-{number:04}.png"
    assert looks[0].frames == range(number, number + 1)
    with Image.open(path) as image:
        assert image.size == (64, 36)
    assert result.stdout.startswith(f"{path}: 64x36, 1/240 s, ISO 640, ")


def test_json_holds_the_numbers_and_nothing_else_is_on_stdout(
    scene_file: Path, looks: list[Any], tmp_path: Path
) -> None:
    result = run("render", scene_file, "--size", 64, "--out", tmp_path / "out", "--json")
    first, second = json.loads(result.stdout)["clips"]
    assert first["file"] == str(tmp_path / "out" / "pass.mp4")
    assert first["bytes"] == (tmp_path / "out" / "pass.mp4").stat().st_size
    assert (first["frames"], first["playback"], first["size"], first["iso"]) == (12, "24", [64, 36], 640)
    assert second["playback"] == "30000/1001"


def test_a_slate_is_added_under_the_picture(scene_file: Path, looks: list[Any], tmp_path: Path) -> None:
    assert run("still", scene_file, "--size", 640, "--slate", "--out", tmp_path / "out").exit_code == 0
    with Image.open(tmp_path / "out" / "pass-0006.png") as image:
        assert image.size[0] == 640
        assert 400 < image.size[1] < 460


def test_the_size_told_is_that_of_the_file(scene_file: Path, looks: list[Any], tmp_path: Path) -> None:
    result = run("render", scene_file, "--shot", "pass", "--size", 160, "--slate", "--out", tmp_path, "--json")
    (told,) = json.loads(result.stdout)["clips"]
    with av.open(str(tmp_path / "pass.mp4")) as container:
        stream = container.streams.video[0]
        assert told["size"] == [stream.width, stream.height]
        assert stream.height > 90
    said = run("still", scene_file, "--size", 160, "--slate", "--out", tmp_path).stdout
    with Image.open(tmp_path / "pass-0006.png") as image:
        assert f": {image.size[0]}x{image.size[1]}, " in said


def test_a_mode_of_odd_width_is_filmed_at_an_even_size_near_its_shape(
    scene_file: Path, looks: list[Any], tmp_path: Path
) -> None:
    odd = SCENE.replace("modes: [1080p120]", "modes: [1001x564 at 120 fps]")
    scene_file.write_text(odd, encoding="utf-8")
    result = run("render", scene_file, "--shot", "pass", "--frames", "0:1", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    # 1000 * 564 / 1001 = 563.4
    assert looks[0].size == (1000, 564)


def test_a_gif_says_where_it_cannot_hold_the_rate(scene_file: Path, looks: list[Any], tmp_path: Path) -> None:
    result = run("render", scene_file, "--shot", "pass", "--size", 64, "--format", "gif", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert "pass: gif counts in 1/100 s: at 24 fps frames last 4 or 5 of them in turn" in result.stderr
    with Image.open(tmp_path / "out" / "pass.gif") as image:
        assert image.n_frames == 12


FAULTS = [
    (["--shot", "pas"], "--shot pas: the scene's shots are pass, away; did you mean pass?"),
    (["--size", "wide"], "--size wide is not a picture size; write a width like 1280"),
    (["--size", "8"], "--size 8 is not a picture size"),
    (["--size", "16384"], "--size 16384: 16384x9216 is 151 megapixels, and at most 16 are drawn; use 5332 or less"),
    (["--size", "640x640"], "a picture of 640x640 is not the shape of pocket's 1920x1080; use 640x360"),
    (["--size", "642x300"], "a picture of 642x300 is not the shape of pocket's 1920x1080; use 642x362"),
    (["--size", "641x300"], "a picture of 641x300 is not the shape of pocket's 1920x1080; use 640x360"),
    (["--size", "16"], "--size 16: the picture would be 16x8, and 16 is the least; use 28 or more"),
    (["--size", "641x361"], "641x361: mp4 needs an even width and height; use 640x360"),
    (["--frames", "4"], "--frames 4 is not a range of frames; write it like 0:24"),
    (["--frames", "0:13", "--shot", "pass"], "shot pass has 12 frames; write numbers within 0:12"),
    (["--frames", "3:3"], "--frames 3:3: shot pass has 12 frames"),
]


@pytest.mark.parametrize(("options", "said"), FAULTS)
def test_a_fault_is_one_message_and_exit_code_2_before_any_work(
    scene_file: Path, looks: list[Any], tmp_path: Path, options: list[str], said: str
) -> None:
    result = run("render", scene_file, "--out", tmp_path / "out", *options)
    assert result.exit_code == 2
    assert said in result.stderr
    assert len(result.stderr.splitlines()) == 1
    assert result.stdout == ""
    assert looks == []
    assert not (tmp_path / "out").exists()


def test_the_only_shot_is_named_once(scene_file: Path) -> None:
    scene_file.write_text(SCENE[: SCENE.index("  - id: away")], encoding="utf-8")
    result = run("render", scene_file, "--shot", "pas")
    assert (result.exit_code, result.stderr) == (2, "--shot pas: the scene's only shot is pass\n")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--format", "avi"], "Invalid value for '--format': 'avi' is not one of 'mp4', 'gif', 'webp'."),
        (["--views", "many"], "Invalid value for '--views': it must be a whole number"),
        (["--views", "0"], "Invalid value for '--views': it must be at least 1"),
    ],
)
def test_a_bad_option_is_told_without_a_library_s_words(scene_file: Path, options: list[str], said: str) -> None:
    result = run("render", scene_file, *options)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Value error" not in result.output and "Input should" not in result.output


@pytest.mark.parametrize("command", [["render"], ["still"], ["compare", "--vary", "f_number=4,8"]])
@pytest.mark.parametrize("under", [False, True])
def test_a_folder_that_cannot_be_is_told_before_building(
    scene_file: Path, looks: list[Any], tmp_path: Path, command: list[str], under: bool
) -> None:
    (tmp_path / "taken").write_text("a file")
    result = run(*command, scene_file, "--out", tmp_path / "taken" / "deeper" if under else tmp_path / "taken")
    assert (result.exit_code, looks) == (2, [])
    assert str(tmp_path / "taken") in result.stderr
    assert "--out" in result.stderr
    assert "lighting" not in result.stderr
    assert (tmp_path / "taken").read_text() == "a file"


@pytest.mark.parametrize("command", ["render", "still"])
@pytest.mark.parametrize(
    ("key", "old", "new", "said"),
    [
        (
            "focus",
            "focus: 400\n",
            "focus: [{time: 0 s, at: 400}, {time: 0.1 s, at: [700, -400, 45]}]\n",
            "cannot focus nearer",
        ),
        ("aim", "aim: vehicle\n", "aim: [700, -150, 45]\n", "stands at the very point it is aimed at"),
        ("start", "duration: 0.1 s\n", "start: 9 s\n", "the vehicle's run is over"),
    ],
)
def test_what_a_shot_asks_that_cannot_be_is_told_with_its_line(
    scene_file: Path, looks: list[Any], tmp_path: Path, command: str, key: str, old: str, new: str, said: str
) -> None:
    text = SCENE.replace(old, new, 1)
    scene_file.write_text(text, encoding="utf-8")
    line = text[: text.index(new)].count("\n") + 1
    at = [] if key == "start" or command == "render" else ["--at", "0.09 s"]
    result = run(command, scene_file, "--shot", "pass", "--out", tmp_path / "out", *at)
    assert (result.exit_code, looks) == (2, [])
    assert result.stderr.startswith(f"{scene_file}:{line}: shots[pass].{key}: ")
    assert said in result.stderr
    assert len(result.stderr.splitlines()) == 1
    checked = run("check", scene_file, "--shot", "pass")
    assert checked.exit_code == 1
    assert "stop" in checked.stdout


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("x 0.4", "is not a time"),
        ("9 s", "shot pass runs from 0.000 s to 0.092 s on set"),
        ("-1 s", "runs from"),
        ("x", "--at"),
    ],
)
def test_a_time_outside_the_shot_is_refused(
    scene_file: Path, looks: list[Any], tmp_path: Path, at: str, said: str
) -> None:
    result = run("still", scene_file, f"--at={at}", "--out", tmp_path / "out")
    assert (result.exit_code, looks) == (2, [])
    assert said in result.stderr


def test_timed_runs_that_cannot_be_are_told_with_their_line(scene_file: Path, looks: list[Any]) -> None:
    runs = "timed_runs: [{height: 119 mm, marks: [100 mm, 900 mm], time: 0.1 s}]"
    text = SCENE.replace("speed: 1 m/s", f"launch: {{ramp: {{height: 120 mm, length: 500 mm, foot: 60 mm}}, {runs}}}")
    scene_file.write_text(text, encoding="utf-8")
    result = run("check", scene_file, "--json")
    line = 1 + text[: text.index("timed_runs")].count("\n")
    assert result.exit_code == 2
    assert result.stderr.startswith(f"{scene_file}:{line}: vehicle.launch.timed_runs: the timed runs are")
    assert result.stdout == ""


def test_every_fault_of_a_scene_file_is_told_with_its_line(scene_file: Path, looks: list[Any]) -> None:
    scene_file.write_text(SCENE.replace("f_number: 5.6", "f_number: huge").replace("1:50", "fifty"), encoding="utf-8")
    result = run("render", scene_file)
    assert result.exit_code == 2
    assert f"{scene_file}:2: scale" in result.stderr
    assert f"{scene_file}:15: shots[pass].f_number" in result.stderr
    assert "Traceback" not in result.output


def test_without_opengl_it_says_the_line_that_installs_it(
    scene_file: Path, looks: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The line is that of the README; it was tried in a bare Debian."""

    def missing() -> None:
        line = "sudo apt-get update && sudo apt-get install -y --no-install-recommends python3-venv libegl1 libgl1"
        raise MachineError(f"libEGL.so.1 is missing\n  {line}")

    monkeypatch.setattr("previz.frames.require_opengl", missing)
    result = run("render", scene_file)
    assert (result.exit_code, looks) == (2, [])
    last = result.stderr.splitlines()[-1].strip()
    assert last == (
        "sudo apt-get update && sudo apt-get install -y --no-install-recommends python3-venv libegl1 libgl1"
    )


def test_a_fault_of_ours_is_not_hidden(scene_file: Path, looks: list[Any], monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(previz, "build_stage", broken, raising=False)
    result = run("render", scene_file)
    assert isinstance(result.exception, ZeroDivisionError)


def test_ctrl_c_leaves_whole_frames_alone_and_exits_with_130(
    scene_file: Path, looks: list[Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> Iterator[Frame]:
        if drawn:
            yield Frame(0, Fraction(0), np.zeros((36, 64, 3), np.float32), FACTS)
        raise KeyboardInterrupt

    monkeypatch.setattr(previz, "render_frames", interrupted, raising=False)
    out = tmp_path / "out"
    for drawn in (False, True):
        result = run("render", scene_file, "--size", 64, "--out", out)
        assert result.exit_code == 130
        assert "Traceback" not in result.output
        assert ("pass: 1 of 12 frames are kept; the same command goes on from there" in result.stderr) is drawn
        assert out.exists() is drawn
    assert [path.name for path in out.iterdir()] == [".pass.mp4.unfinished"]
    assert [path.name for path in out.rglob("*.frame")] == ["000000.frame"]


def test_drawing_is_ended_before_a_fault_of_delivery_is_told(
    scene_file: Path, looks: list[Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    happened: list[str] = []

    def frames(*_: object) -> Iterator[Frame]:
        try:
            while True:
                yield Frame(0, Fraction(0), np.zeros((36, 64, 3), np.float32), FACTS)
        finally:
            happened.append("drawing ended")

    def full(_path: Path, frames: Iterator[Frame], *_: object) -> None:
        next(iter(frames))
        raise MachineError("the disk is full")

    monkeypatch.setattr(previz, "render_frames", frames, raising=False)
    monkeypatch.setattr(previz, "deliver_clip", full, raising=False)
    monkeypatch.setattr("previz.cli.program.say_fault", happened.append)
    assert run("render", scene_file, "--size", 64, "--out", tmp_path).exit_code == 2
    assert happened == ["drawing ended", "the disk is full"]


ENDLESS = """
import itertools, signal, sys, time
from fractions import Fraction
from types import SimpleNamespace
import numpy as np
import previz, previz.cli
from previz.frames import Facts, Frame

def endless(scene, stage, shot, look, *_):
    for number in itertools.count():
        time.sleep(0.01)
        linear = np.zeros((36, 64, 3), np.float32)
        yield Frame(number, Fraction(number), linear, Facts(100, 0.01, 8.0, 1, 1.0))

previz.build_stage = lambda *_, **__: SimpleNamespace()
previz.render_frames = endless
signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored where the tests run in the background
previz.cli.main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize(
    ("name", "stopped"),
    [("SIGINT", False), ("SIGTERM", False), ("SIGHUP", False), ("SIGQUIT", False), ("SIGINT", True)],
)
def test_a_signal_ends_a_running_render_with_nothing_left(
    scene_file: Path, tmp_path: Path, name: str, stopped: bool
) -> None:
    number, home = getattr(signal, name), tmp_path / "temporary"
    home.mkdir()
    out = tmp_path / "out"
    command = [sys.executable, "-c", ENDLESS, "render", str(scene_file), "--size", "64", "--out", str(out)]
    environment = {**os.environ, "TMPDIR": str(home)}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    ) as program:
        try:
            while not list(out.glob(".pass.mp4.unfinished/*/*.frame")):
                assert program.poll() is None, program.communicate()
                time.sleep(0.02)
            while not (parts := list(out.glob(".pass.mp4.*.part"))):
                assert program.poll() is None, program.communicate()
                time.sleep(0.02)
            assert len(parts) == 1
            encoders = _encoders(program.pid)
            if stopped:
                for encoder in encoders:
                    os.kill(encoder, signal.SIGSTOP)
            os.kill(program.pid, number)
            stdout, stderr = program.communicate(timeout=PATIENCE)
        finally:
            program.kill()
    assert program.returncode == 128 + number, stderr
    assert "Traceback" not in stdout + stderr
    assert stderr.splitlines()[-1] == "stopped; what was not finished is not written"
    assert [path.name for path in out.iterdir()] == [".pass.mp4.unfinished"]  # whole frames, and nothing else
    assert not [path for path in out.rglob("*") if path.is_file() and path.suffix != ".frame" and path.name != "lock"]
    assert list(home.iterdir()) == []
    for encoder in encoders:
        with contextlib.suppress(ProcessLookupError):
            os.kill(encoder, 0)
            pytest.fail("the encoder was left running")


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize("command", ["check", "watch"])
def test_ctrl_c_is_told_as_that_whatever_it_breaks_off(scene_file: Path, command: str) -> None:
    """A compiled module that is interrupted while it is loaded raises ImportError."""
    code = """
import os, signal
import previz.cli, previz.watching

def loading(*_, **__):
    try:
        os.kill(os.getpid(), signal.SIGINT)
    except KeyboardInterrupt as found:
        raise ImportError("initialization failed") from found

signal.signal(signal.SIGINT, signal.default_int_handler)
previz.predict = previz.watching.watch_scene = loading
previz.cli.main()
"""
    said = subprocess.run([sys.executable, "-c", code, command, str(scene_file)], capture_output=True, text=True)
    assert "Traceback" not in said.stderr
    ended, last = (0, "ended") if command == "watch" else (130, "stopped; what was not finished is not written")
    assert (said.returncode, said.stderr.splitlines()[-1]) == (ended, last)


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM"])
def test_a_program_ended_while_it_loads_says_so_too(name: str) -> None:
    code = f"""
import os, signal, sys
import previz.cli

class Ended:
    def find_spec(self, wanted, *_):
        if wanted == "typer":
            os.kill(os.getpid(), signal.{name})

signal.signal(signal.SIGINT, signal.default_int_handler)
sys.meta_path.insert(0, Ended())
previz.cli.main()
"""
    said = subprocess.run([sys.executable, "-c", code, "doctor"], capture_output=True, text=True)
    assert (said.returncode, said.stdout) == (128 + getattr(signal, name), "")
    assert said.stderr.splitlines() == ["stopped; what was not finished is not written"]


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_what_is_not_to_hear_of_a_terminal_s_end_does_not(tmp_path: Path) -> None:
    """As `nohup` starts it."""
    code = (
        "import signal, previz.cli.commands; signal.signal(signal.SIGHUP, signal.SIG_IGN)\n"
        "previz.cli.commands.app = lambda **_: "
        "print(signal.getsignal(signal.SIGHUP) is signal.SIG_IGN, signal.getsignal(signal.SIGTERM) is signal.SIG_DFL)\n"
        "previz.cli.main()"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert said.stdout.split() == ["True", "False"]


def _as_a_program(*arguments: str, **settings: Any) -> "subprocess.CompletedProcess[str]":
    return subprocess.run([sys.executable, "-m", "previz", *arguments], text=True, check=False, **settings)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no device that is always full")
@pytest.mark.parametrize("arguments", [("keys",), ("doctor", "--json"), ("--version",)])
def test_output_that_cannot_be_written_is_told_in_a_sentence(arguments: tuple[str, ...]) -> None:
    with Path("/dev/full").open("w") as full:
        said = _as_a_program(*arguments, stdout=full, stderr=subprocess.PIPE)
    assert said.returncode == 2
    assert said.stderr.splitlines() == [
        "standard output cannot be written (no space left on device); send it elsewhere"
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="there a folder that is in use stays")
def test_a_folder_that_is_gone_is_told_in_a_sentence(tmp_path: Path) -> None:
    code = (
        "import os, sys; os.mkdir('gone'); os.chdir('gone'); os.rmdir('../gone');"
        "import previz.cli; sys.argv = ['previz', 'check', '/nowhere.yaml']; previz.cli.main()"
    )
    said = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert said.returncode == 2
    assert said.stderr.splitlines() == [
        "the folder that this runs in is no longer there; change to another one with cd"
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="a shell that can close a stream")
def test_with_standard_error_closed_nothing_else_is_on_stdout(scene_file: Path, tmp_path: Path) -> None:
    shell = f'exec "{sys.executable}" -m previz check "{scene_file}" --json 2>&-'
    said = subprocess.run(["sh", "-c", shell], stdout=subprocess.PIPE, text=True, check=False)
    assert json.loads(said.stdout)["shots"]
    still = f'exec "{sys.executable}" -m previz check "{tmp_path}/nowhere.yaml" 2>&-'
    said = subprocess.run(["sh", "-c", still], stdout=subprocess.PIPE, text=True, check=False)
    assert (said.returncode, said.stdout) == (2, "")


def _encoders(pid: int) -> list[int]:
    """Those of its children that take pictures by now; before, it asks the same program for its version."""
    if not Path("/proc").is_dir():
        return []
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        taking = [each for each in _children(pid) if b"pipe:0" in Path(f"/proc/{each}/cmdline").read_bytes()]
        if taking:
            return taking
        time.sleep(0.02)
    return pytest.fail("no encoder was started")


def _children(pid: int) -> list[int]:
    """Process ids of the children of a process, where /proc says."""
    found = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            if int(status.read_text().rpartition(")")[2].split()[1]) == pid:
                found.append(int(status.parent.name))
    return found


def test_as_a_program_a_missing_scene_is_one_message(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "previz", "render", "nowhere.yaml"]
    said = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path)
    assert said.returncode == 2
    assert "nowhere.yaml" in said.stderr
    assert len(said.stderr.splitlines()) == 1
    assert said.stdout == ""
    assert list(tmp_path.iterdir()) == []


def _findings(monkeypatch: pytest.MonkeyPatch, *findings: Finding) -> None:
    figures = (Figure("far_limit", float("inf")), Figure("near_limit", 0.479))
    shots = (ShotPredictions("pass", figures), ShotPredictions("away", ()))
    answer = Predictions((), shots, findings, ())
    monkeypatch.setattr(previz, "predict", lambda _scene, **_: answer, raising=False)
    monkeypatch.setattr("previz.continuity.between_shots", lambda *_: ())  # of the few figures that there are


STOP = Finding("a.b", "near_limit", 0.4, 0.5, "m", Verdict.STOP, "Too near.", "Step back.", "pass")
WATCH = Finding("a.c", "near_limit", 0.4, 0.5, "m", Verdict.WATCH, "A little near.", "Step back.", "away")
FINE = Finding("a.d", "near_limit", 0.6, 0.5, "m", Verdict.FINE, "Far enough.", "", "pass")


def test_check_tells_figures_and_findings_of_a_real_scene_without_drawing(scene_file: Path, looks: list[Any]) -> None:
    result = run("check", scene_file, "--all")
    assert result.exit_code in (0, 1), result.output
    assert "pass: Focus\n" in result.stdout
    assert "away: Time\n" in result.stdout
    # f 20 mm focused at 400 mm: m = f / (s - f) = 20/380 = 0.0526
    figures = result.stdout.split("pass: Focus\n")[1].split("away: ")[0]
    (line,) = [line for line in figures.splitlines() if "size on the sensor over size on the set" in line]
    assert line.split()[-1] == "0.0526"
    assert "\nfine " in result.stdout
    assert looks == []
    assert "\nfine " not in run("check", scene_file).stdout


def test_check_exits_with_1_where_a_shot_will_not_work(scene_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _findings(monkeypatch, STOP, WATCH, FINE)
    result = run("check", scene_file)
    assert result.exit_code == 1
    lines = result.stdout.splitlines()
    assert lines[:2] == ["pass  will not work as planned, 1 to mend", "away  will work, 1 to watch"]
    assert lines.index("pass") + 1 == lines.index("stop   Too near. Step back.")
    assert lines.index("away") + 1 == lines.index("watch  A little near. Step back.")
    assert lines[-1] == "1 more looked at and fine; --all shows them, and every figure"
    assert run("check", scene_file, "--shot", "away").exit_code == 0
    _findings(monkeypatch, FINE)
    assert run("check", scene_file).stdout.splitlines()[:2] == ["pass  will work", "away  will work"]


def test_check_as_json_is_strict_json(scene_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _findings(monkeypatch, STOP, WATCH)

    def refuse(constant: str) -> None:
        pytest.fail(f"{constant} is not JSON")

    answer = json.loads(run("check", scene_file, "--shot", "pass", "--json").stdout, parse_constant=refuse)
    assert [finding["id"] for finding in answer["findings"]] == ["a.b"]
    assert [shot["shot"] for shot in answer["shots"]] == ["pass"]
    first = {"quantity": "far_limit", "value": "infinity", "of": "", "deviation": None, "beside": ""}
    assert answer["shots"][0]["figures"][0] == first


@pytest.mark.parametrize("command", [("render", "--shot", "pass"), ("still",)])
def test_what_will_not_work_is_said_first(
    command: tuple[str, ...], scene_file: Path, looks: list[Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _findings(monkeypatch, STOP, WATCH, FINE)
    result = run(command[0], scene_file, *command[1:], "--size", 64, "--out", tmp_path / "out")
    assert result.exit_code == 0
    assert result.stderr.splitlines()[:3] == [
        "stop: pass: Too near.",
        f"(previz check {scene_file} says what to change)",
        "lighting the set",
    ]


def test_doctor_lists_what_is_there_and_exits_with_1_when_something_lacks(monkeypatch: pytest.MonkeyPatch) -> None:
    checks = [Check("Python", "3.11.2"), Check("video encoder", "ffmpeg 7.1")]
    monkeypatch.setattr("previz.doctor.examine", lambda: checks)
    result = run("doctor")
    assert result.exit_code == 0
    assert [line.split() for line in result.stdout.splitlines()] == [
        ["Python", "3.11.2"],
        ["video", "encoder", "ffmpeg", "7.1"],
    ]
    checks.append(Check("OpenGL libraries", "libEGL.so.1 is missing", works=False))
    result = run("doctor")
    assert result.exit_code == 1
    assert "OpenGL libraries  LACKS: libEGL.so.1 is missing" in result.stdout
    assert json.loads(run("doctor", "--json").stdout)["OpenGL libraries"]["works"] is False


def test_version() -> None:
    result = run("--version")
    assert (result.exit_code, result.stdout) == (0, f"previz {previz.__version__}\n")


def test_the_formats_offered_are_those_delivery_can_write() -> None:
    assert [kind.value for kind in ClipFormat] == list(CLIP_WRITERS)
