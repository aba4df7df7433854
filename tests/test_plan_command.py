"""`previz plan` as a person types it: what is written, what is said, and what happens where nothing can be drawn."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import previz
from previz.cli import app
from previz.errors import MachineError
from previz.options import PaperName
from previz.paper import PAPERS
from previz.physics.colour import srgb_encoded
from tests.paper.random_papers import scene_text
from tests.paper.reading import pages_of

pytestmark = pytest.mark.usefixtures("nothing_is_tried", "drawn_here")


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    file = tmp_path / "small.yaml"
    file.write_text(scene_text(21, 3, shots=2), encoding="utf-8")
    return file


def plan(*options: object) -> Any:
    return CliRunner().invoke(app, ["plan", *map(str, options)])


def test_a_plan_is_one_pdf_on_the_paper_asked_for(scene_file: Path, tmp_path: Path) -> None:
    result = plan(scene_file, "--no-stills", "--paper", "letter", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    (file,) = (tmp_path / "out").iterdir()
    assert result.stdout.startswith(f"{file}: 9 pages, ")
    pages = pages_of(file.read_bytes())
    assert len(pages) == 9
    assert {(round(page.width, 1), round(page.height, 1)) for page in pages} == {(279.4, 215.9)}
    assert "small.yaml" in pages[0].text


def test_one_shot_and_its_sheets_as_pictures_too(scene_file: Path, tmp_path: Path) -> None:
    result = plan(scene_file, "--no-stills", "--shot", "shot_2", "--png", "--svg", "--json", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    sheets = ["plan-shot_2", "side-shot_2", "card-shot_2", "lists-1", "takes"]
    said = json.loads(result.stdout)
    assert said["sheets"] == sheets
    written = {path.name for path in (tmp_path / "out").iterdir()}
    assert written == {"plan.pdf"} | {f"{name}.{kind}" for name in sheets for kind in ("png", "svg")}
    assert {Path(each["file"]).name for each in said["files"]} == written
    with Image.open(tmp_path / "out" / "takes.png") as image:
        assert image.size == (int(297 / 25.4 * 150), int(210 / 25.4 * 150))


def test_a_card_shows_the_shot_as_drawn(
    scene_file: Path, tmp_path: Path, nobody_draws: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[tuple[str, range]] = []
    built: list[str] = []

    def frames(scene: Any, stage: Any, shot: Any, look: Any, *_: Any) -> Any:
        drawn.append((shot.id, look.frames))
        width, height = look.size
        yield previz.Frame(look.frames.start, 0, np.full((height, width, 3), len(drawn) / 5, np.float32), None)  # type: ignore[arg-type]

    monkeypatch.setattr("previz.frames.one_by_one.build_stage", lambda _, quality: built.append(quality))
    monkeypatch.setattr("previz.frames.one_by_one.render_frames", frames)
    result = plan(scene_file, "--png", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert built == ["small"]  # one setup, lit for small pictures
    assert drawn == [("shot_1", range(48, 49)), ("shot_2", range(48, 49))]  # the middle one of 96
    pages = pages_of((tmp_path / "out" / "plan.pdf").read_bytes())
    assert [page.pictures for page in pages] == [0, 0, 1, 0, 0, 1, 0, 0, 0]
    for shot, linear in (("shot_1", 0.2), ("shot_2", 0.4)):  # each card has its own, filled in before it is written
        code = round(255 * float(srgb_encoded(np.array(linear))))
        with Image.open(tmp_path / "out" / f"card-{shot}.png") as card:
            assert np.count_nonzero((np.asarray(card)[..., :3] == code).all(axis=-1)) > 50_000


def test_where_nothing_can_be_drawn_the_plan_comes_without_pictures_and_says_so(
    scene_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def lacking() -> None:
        raise MachineError("no OpenGL here; install libegl1")

    monkeypatch.setattr("previz.frames.require_opengl", lacking)
    result = plan(scene_file, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert "shot_1: no picture on its card: no OpenGL here; install libegl1" in result.stderr
    assert (tmp_path / "out" / "plan.pdf").exists()


def test_faults_are_one_message(scene_file: Path, tmp_path: Path) -> None:
    assert plan(tmp_path / "none.yaml").exit_code == 2
    assert "'a9' is not one of" in plan(scene_file, "--paper", "a9").stderr
    (tmp_path / "taken").write_text("")
    result = plan(scene_file, "--no-stills", "--out", tmp_path / "taken")
    assert result.exit_code == 2
    assert "is a file, not a folder" in result.stderr


def test_the_papers_offered_are_those_there_are() -> None:
    assert [each.value for each in PaperName] == list(PAPERS)


def test_check_points_to_the_plan(scene_file: Path) -> None:
    result = CliRunner().invoke(app, ["check", str(scene_file)])
    assert f"previz plan {scene_file}" in result.stderr.splitlines()[-1]
    assert "previz plan" not in CliRunner().invoke(app, ["check", str(scene_file), "--json"]).stderr
