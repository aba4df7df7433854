"""`previz compare` and `previz page` as a person meets them. Building and drawing are played by stand-ins."""

import json
import re
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import av
import numpy as np
import pytest
from typer.testing import CliRunner

import previz
from previz import options
from previz.cli import app
from previz.delivery import PURPOSES
from previz.frames import Facts, Frame
from previz.predictions import Framing, Stop
from previz.takes import bytes_of

sys.path.insert(0, str(Path(__file__).parent / "delivery"))
from comparisons import SCENE

FACTS = Facts(iso=640, exposure_time=1 / 240, working_f_number=5.9, views=8, vehicle_illuminance=812.0)


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    path = tmp_path / "yard.yaml"
    path.write_text(SCENE, encoding="utf-8")
    return path


@pytest.fixture
def drawn(nobody_draws: None, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Stand-ins for building and drawing; lists stages as they are built and each panel as it is drawn."""
    done: list[Any] = []

    def build_stage(scene: Any, quality: str, progress: Any, **_: object) -> SimpleNamespace:
        progress("lighting the set")
        done.append(("built", quality))
        return SimpleNamespace(collisions=(), number=len(done))

    def render_frames(_scene: Any, stage: Any, shot: Any, look: Any, *_: object) -> Iterator[Frame]:
        done.append((shot.camera, look.size, look.views, look.frames))
        for number in look.frames:
            linear = np.full((look.size[1], look.size[0], 3), 0.1 + 0.02 * number, np.float32)
            yield Frame(number, Fraction(2, 5) + Fraction(number, 120), linear, FACTS)

    monkeypatch.setattr(previz, "build_stage", build_stage, raising=False)
    monkeypatch.setattr(previz, "render_frames", render_frames, raising=False)
    return done


def run(*arguments: object) -> Any:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def test_cameras_are_compared_on_one_stage_and_everything_is_named(
    scene_file: Path, drawn: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(scene_file.parent)
    result = run("compare", scene_file.name, "--size", 160, "--frames", "10:16")
    assert result.exit_code == 0, result.output
    folder = Path("outputs/yard/side_by_side")
    assert {path.name for path in folder.iterdir()} == {
        "side_by_side.mp4", "sheet.png", "numbers.csv", "numbers.json", "page.html", "above.png",
    }  # fmt: skip
    assert 'alt="The set from above' in (folder / "page.html").read_text(encoding="utf-8")
    assert [each for each in drawn if each[0] == "built"] == [("built", "full")]
    assert [each[0] for each in drawn[1:]] == ["inch", "large", "tall"]
    lines = result.stdout.splitlines()
    # By hand: of 9.18 um that count as sharp 4.01 um of diffraction leave (9.18^3 - 4.01^3)^(1/3) = 8.92 um, so
    # k = 4 * 8.92 um / 0.909 mm = 0.0392 and the limits are 460 mm / (1 +- k).
    assert lines[0] == "inch   20 mm, f/4, sharp 443 to 479 mm, backdrop blur 0.87 % of the width"
    assert lines[1] == "       stands at 700, -160, 60 mm, focused at 460 mm, 1920 x 1080 at 120 fps,"
    assert lines[2] == "       slowed 5 times"
    files = [line for line in lines if line.startswith("outputs/")]
    assert max(len(line) for line in lines if line not in files) <= 80
    assert files[0].startswith("outputs/yard/side_by_side/side_by_side.mp4: ")
    assert lines[-1].startswith("outputs/yard/side_by_side/page.html: ")
    assert lines[-1].endswith("opens in any browser")
    assert (
        "left out: stuck frames 4.1 times as wide as the shot at best: its lens has 5 mm, and it focuses no nearer "
        "than 900 mm; from the shot's own place it would take a lens of 10.2 mm that focuses from 460 mm"
        in result.stderr
    )
    assert "tall: records 1440 x 1080, the shot 1920 x 1080\n" in result.stderr
    with av.open(str(folder / "side_by_side.mp4")) as clip:
        assert clip.streams.video[0].frames == 6
        assert clip.streams.video[0].average_rate == 24


def test_json_tells_the_same_as_data(scene_file: Path, drawn: list[Any], tmp_path: Path) -> None:
    result = run(
        "compare", scene_file, "--vary", "f_number=2.8,11", "--draft", "--frames", "0:4", "--at", "0.425 s", "--json",
        "--out", tmp_path / "out",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert [panel["name"] for panel in told["panels"]] == ["f/2.8", "f/11"]
    assert (told["frames"], told["moment"]) == (4, 3)
    assert told["files"]["clip"]["bytes"] == (tmp_path / "out" / "side_by_side.mp4").stat().st_size
    assert told["page"] == {
        "file": str(tmp_path / "out" / "page.html"),
        "bytes": (tmp_path / "out" / "page.html").stat().st_size,
    }
    assert [each[1:3] for each in drawn[1:]] == [((640, 360), 3)] * 2


def test_a_camera_at_another_rate_shows_the_same_time_on_set(
    scene_file: Path, drawn: list[Any], tmp_path: Path
) -> None:
    text = SCENE.replace("nearest: 100, modes: [1080p120]}", "nearest: 100, modes: [4k30]}")
    scene_file.write_text(text, encoding="utf-8")
    result = run(
        "compare", scene_file, "--cameras", "inch,large", "--size", 160, "--frames", "10:18", "--out", tmp_path
    )
    assert result.exit_code == 0, result.output
    assert [(each[0], each[3]) for each in drawn[1:]] == [("inch", range(10, 18)), ("large", range(2, 5))]
    assert "large: 30 fps is its fastest, the shot has 120: slowed 1.25 times, not 5; exposed 1/60 s" in result.stderr
    drawn.clear()
    run("compare", scene_file, "--cameras", "large,inch", "--size", 160, "--out", tmp_path)
    assert [(each[0], each[3]) for each in drawn[1:]] == [("large", range(12)), ("inch", range(48))]


def test_of_several_shots_it_says_which_it_takes_and_none_writes_over_another(
    scene_file: Path, drawn: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(scene_file.parent)
    second = (
        SCENE[SCENE.index("  - id: pass") :].replace("id: pass", "id: closer").replace("focus: 460", "focus: vehicle")
    )
    second = second.replace("at: [700,", "at: [1100,")  # at a slant, so that what it follows comes nearer
    scene_file.write_text(SCENE + second, encoding="utf-8")
    asked = ("compare", scene_file.name, "--cameras", "inch,large", "--size", 160, "--frames", "10:12")
    first = run(*asked)
    assert first.exit_code == 0, first.output
    assert "yard.yaml has 2 shots: this compares pass, the first; name another with --shot: closer" in first.stderr
    assert "only pass is compared, not closer: --shot names another" in first.stdout
    other = run(*asked, "--shot", "closer")
    assert re.search(r"focused at \d+ mm halfway, \d+ mm at its nearest", " ".join(other.stdout.split()))
    assert "2 shots" not in other.stderr and "only" not in other.stdout
    assert "the first of several" in " ".join(run("compare", "--help").stdout.replace("│", " ").split())
    varied = run("compare", scene_file.name, "--vary", "f_number=2.8,11", "--size", 160, "--frames", "10:12")
    assert varied.exit_code == 0, varied.output
    pages = sorted(str(page.parent.name) for page in Path("outputs/yard").glob("*/page.html"))
    assert pages == ["side_by_side_closer", "side_by_side_pass", "side_by_side_pass_f-number"]


def test_one_panel_is_no_page(scene_file: Path, drawn: list[Any], tmp_path: Path) -> None:
    result = run("compare", scene_file, "--cameras", "inch,stuck", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "from the shot's own place it would take a lens of 10.2 mm that focuses from 460 mm" in result.stderr
    assert not (tmp_path / "out").exists() and drawn == []
    alone = SCENE[: SCENE.index("  large:")] + SCENE[SCENE.index("shots:") :]
    scene_file.write_text(alone, encoding="utf-8")
    result = run("compare", scene_file, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "one camera, inch, is no comparison: the scene has no other; add one, or a kit: of them" in result.stderr


def test_a_stage_is_built_for_each_light(scene_file: Path, drawn: list[Any], tmp_path: Path) -> None:
    result = run(
        "compare", scene_file, "--vary", "lights[key].diffusion=0,1 stop", "--size", 160, "--frames", ":2",
        "--out", tmp_path / "out",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    assert len([each for each in drawn if each[0] == "built"]) == 2


def test_a_page_too_large_is_a_choice_without_rendering_again(
    scene_file: Path, drawn: list[Any], tmp_path: Path
) -> None:
    out = tmp_path / "out"
    result = run("compare", scene_file, "--size", 160, "--frames", ":4", "--page-size", "20 kB", "--out", out)
    assert result.exit_code == 1
    assert "no page: it would be " in result.stderr and "more than 20.0 kB" in result.stderr
    assert f"previz page {out} --for message" in result.stderr
    assert (out / "side_by_side.mp4").exists() and not (out / "page.html").exists()
    drawn.clear()
    assert run("page", out, "--page-size", "20 kB").exit_code == 1
    again = run("page", out, "--for", "message", "--page-size", "5 kB")
    assert again.exit_code == 1
    # What was done already is no advice.
    (advice,) = [line.strip() for line in again.stderr.splitlines() if "previz page" in line]
    assert advice.startswith(f"previz page {out} --for message --page-size ")
    made = run("page", out, "--for", "message", "--page-size", "1MB", "--json")
    assert made.exit_code == 0, made.output
    assert json.loads(made.stdout)["page"]["file"] == str(out / "page.html")
    assert drawn == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--page-size", "big"], "--page-size big is not a file size; write it like 25 MB"),
        (["--cameras", "inhc"], "--cameras inhc is not a camera of this scene or its kit; did you mean inch?"),
        (["--at", "0.7 s", "--frames", "0:4"], "--at 0.7 s is frame 36, which is not among --frames 0:4"),
        (["--frames", "40:60"], "shot pass has 48 frames"),
        (["--cameras", "inch"], "one camera, inch, is no comparison: name another of large, tall, stuck"),
        (["--cameras", "inch,stuck"], "only inch can be shown, and a comparison needs two:\nstuck frames 4.1 times"),
    ],
)
def test_faults_are_told_before_anything_is_built(
    scene_file: Path, drawn: list[Any], arguments: list[str], said: str
) -> None:
    result = run("compare", scene_file, *arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert drawn == []


def test_a_clip_too_wide_for_phones_is_said(scene_file: Path, drawn: list[Any], tmp_path: Path) -> None:
    arguments = ("compare", scene_file, "--vary", "f_number=2,2.8,4,5.6,8", "--frames", ":1")
    result = run(*arguments, "--size", 1440, "--out", tmp_path / "wide")
    assert "the clip is 4384x" in result.stderr and "more than most phones play" in result.stderr
    smaller = run(*arguments, "--size", 1440, "--for", "message", "--out", tmp_path / "message")
    assert "phones" not in smaller.stderr


def test_a_folder_without_a_comparison_has_no_page(tmp_path: Path) -> None:
    result = run("page", tmp_path)
    assert result.exit_code == 2
    assert "name a folder that `previz compare` wrote" in result.stderr
    scene = run("page", tmp_path / "my shot.yaml")
    assert scene.exit_code == 2
    assert (
        f"is a scene; name the folder of its comparison, {Path('outputs', 'my shot', 'side_by_side')} " in scene.stderr
    )


def test_a_clip_s_purpose_is_kept_to(scene_file: Path, drawn: list[Any], tmp_path: Path) -> None:
    sizes = {}
    for purpose in PURPOSES:
        result = run(
            "render", scene_file, "--size", 320, "--frames", ":6", "--for", purpose, "--out", tmp_path / purpose
        )
        assert result.exit_code == 0, result.output
        sizes[purpose] = (tmp_path / purpose / "pass.mp4").stat().st_size
    assert sizes["message"] <= sizes["post"] <= sizes["archive"]


def test_the_options_words_are_those_of_the_rooms() -> None:
    assert [str(each) for each in options.Purpose] == list(PURPOSES)
    assert [str(each) for each in options.Framing] == [str(each) for each in Framing]
    assert [str(each) for each in options.Stop] == [str(each) for each in Stop]


@pytest.mark.parametrize(
    ("text", "size"), [("25 MB", 25_000_000), ("1.5mb", 1_500_000), ("900kB", 900_000), ("2 GB", 2_000_000_000)]
)
def test_file_sizes_are_read_as_people_write_them(text: str, size: int) -> None:
    assert bytes_of(text, "--page-size") == size
