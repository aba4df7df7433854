"""Every scene that we hand to people reads, holds no shot that cannot work, and draws."""

import re
from pathlib import Path

import av
import pytest
from PIL import Image
from typer.testing import CliRunner

from previz.cli import app
from previz.cutting import cut_plan
from previz.predictions import Verdict, predict
from previz.scene import read_scene
from previz.takes import Quality
from tests.benchmarks.pictures import PICTURES, WIDTH

pytestmark = pytest.mark.usefixtures("drawn_here")

ROOT = Path(__file__).parents[1]
SCENES = sorted((ROOT / "scenes").glob("*.yaml"))


def test_every_picture_of_the_readme_is_drawn_by_the_script():
    shown = re.findall(r"!\[[^]]*\]\(([^)]*)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert shown
    assert {ROOT / each for each in shown} == set(PICTURES.values())
    for scene, picture in PICTURES.items():
        assert scene in SCENES
        with Image.open(picture) as image:
            assert image.width == WIDTH


#: Of a scene with several shots, the one that is drawn here.
DRAWN = {"early_post": "pass", "country_garage": "pass"}


def test_there_are_five_demo_scenes():
    assert [path.stem for path in SCENES] == ["country_garage", "early_post", "night_van", "quay_lorry", "snow_bus"]


def test_the_demo_of_a_film_is_eight_shots_that_play_in_one_clip():
    scene = read_scene(ROOT / "scenes" / "early_post.yaml")
    plan = cut_plan(scene, Quality(draft=True))
    assert len(scene.shots) == len(plan.parts) == 8
    assert plan.events[-1].ends / plan.rate > 25  # seconds


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_a_demo_scene_says_what_it_shows_and_has_no_shot_that_cannot_work(path):
    assert path.read_text().startswith("# Shows: ")
    assert predict(read_scene(path), remedies=False).verdict is not Verdict.STOP


#: Drawn from its file in tests/truth/test_two_roads_drawn.py; a minute of the suite is dearer than a second look.
ELSEWHERE = "snow_bus"


@pytest.mark.parametrize("path", [each for each in SCENES if each.stem != ELSEWHERE], ids=lambda path: path.stem)
def test_a_demo_scene_draws_as_a_clip(path, tmp_path):
    """In draft and tiny; read back with PyAV, which did not write it."""
    arguments = [
        "render",
        str(path),
        "--draft",
        "--size",
        "160",
        "--views",
        "2",
        "--frames",
        "0:5",
        "--out",
        str(tmp_path),
        *(("--shot", DRAWN[path.stem]) if path.stem in DRAWN else ()),
    ]
    result = CliRunner().invoke(app, arguments)
    assert result.exit_code == 0, result.output
    assert "stop:" not in result.output
    (clip,) = tmp_path.glob("*.mp4")
    with av.open(str(clip)) as container:
        stream = container.streams.video[0]
        frames = [frame.to_ndarray(format="rgb24") for frame in container.decode(stream)]
        assert stream.average_rate == 24
        assert len(frames) == 5
        assert frames[0].shape == (90, 160, 3)
        # A picture: neither black nor white nor flat, and something moves.
        assert 20 < frames[0].mean() < 235 and frames[0].std() > 15
        assert (frames[0] != frames[-1]).any()


def test_the_readmes_scene_is_one_that_works(tmp_path):
    readme = (ROOT / "README.md").read_text()
    text, traffic, _, _, cards, street, wants = re.findall(r"```yaml\n(.*?)```", readme, re.DOTALL)
    path = tmp_path / "first_try.yaml"
    path.write_text(f"{text}\n{traffic}\n{wants}")
    assert predict(read_scene(path), remedies=False).verdict is not Verdict.STOP
    path.write_text(text.replace("dressing:\n", cards))
    assert predict(read_scene(path), remedies=False).verdict is not Verdict.STOP
    paved, count = re.subn(r"  ground:.*\n  road:.*\n", street.removeprefix("set:\n"), text)
    path.write_text(paved)
    assert count == 1 and predict(read_scene(path), remedies=False).verdict is not Verdict.STOP
