"""The guide: its commands run as they are written, its fragments are read, and what it points to is there."""

import io
import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML
from typer.testing import CliRunner

from previz import predict, read_scene
from previz.cli import app
from previz.guide import TOPICS, guide_page, guide_titles
from previz.scene import key_groups, rewritten

pytestmark = pytest.mark.usefixtures("drawn_here")

ROOT = Path(__file__).parents[1]
#: What makes a command quick, where it takes it.
QUICK = (("--size", "160"), ("--views", "2"), ("--frames", "0:2"), ("--workers", "1"))


def blocks(topic: str) -> Iterator[str]:
    """What a page indents by four spaces, without them."""
    for block in re.findall(r"(?:^ {4}.*\n)+", guide_page(topic), flags=re.MULTILINE):
        if block[4] != " ":
            yield "".join(line[4:] for line in block.splitlines(keepends=True))


def commands(topic: str) -> list[list[str]]:
    lines = [line for block in blocks(topic) for line in block.splitlines()]
    return [shlex.split(line)[1:] for line in lines if line.startswith("previz ")]


FRAGMENTS = [(topic, block) for topic in TOPICS for block in blocks(topic) if not block.startswith("previz ")]


def run(arguments: list[str]) -> Any:
    return CliRunner().invoke(app, arguments, env={"PYTHONWARNINGS": "ignore"})


def quickly(arguments: list[str]) -> list[str]:
    offered = run([arguments[0], "--help"]).output
    return arguments + [word for option in QUICK if f"{option[0]} " in offered for word in option]


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the scene that the pages begin with."""
    folder = tmp_path_factory.mktemp("begun")
    assert run(["new", str(folder / "my_shot.yaml"), "--camera", "pocket", "--camera", "phone"]).exit_code == 0
    return folder


@pytest.fixture
def scene_file(begun: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    shutil.copytree(begun, tmp_path, dirs_exist_ok=True)
    return tmp_path / "my_shot.yaml"


@pytest.mark.parametrize("times", [1.0, 2.0])
def test_the_low_sun_gives_most_of_the_light_beside_the_lamps_of_a_starting_point(tmp_path: Path, times: float) -> None:
    """On the table it is told for, and on one twice as long with the lengths and lumens that are told for that."""
    (told,) = re.findall(r"- (\{id: sun, [^}]*1500 lm[^}]*\})", guide_page("lamps"), flags=re.DOTALL)
    lamp = YAML(typ="safe").load(told)
    assert (lamp["at"][0], lamp["output"]) == ("-300 mm", "1500 lm")
    for key in ("at", "aim"):
        lamp[key] = [f"{float(each.removesuffix(' mm')) * times} mm" for each in lamp[key]]
    lamp["output"] = f"{1500 * times**2} lm"
    path = tmp_path / "low.yaml"
    table = f"{1400 * times:.0f} x {700 * times:.0f} mm"
    assert run(["new", str(path), "--table", table, "--camera", "pocket"]).exit_code == 0
    scene = read_scene(path)
    lit = rewritten(scene, {f"lights[{len(scene.lights)}]": lamp})
    shot = predict(lit, remedies=False).shots[0]
    assert shot.value("illuminance_vehicle", "sun") > 0.5 * shot.value("illuminance_vehicle", "all lamps")


def test_every_page_of_words_is_a_topic() -> None:
    assert {path.stem for path in (ROOT / "previz" / "guide" / "words").iterdir()} == set(TOPICS)
    assert len(set(dict(guide_titles()).values())) == len(TOPICS)


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_fits_a_terminal_of_80_columns(topic: str) -> None:
    page = guide_page(topic)
    assert max(map(len, page.splitlines())) <= 78
    assert page.isascii() and "\t" not in page and page.endswith("\n")
    printed = run(["guide", topic])
    assert (printed.exit_code, printed.stdout) == (0, page)


def test_the_topics_are_listed_and_a_slip_is_told() -> None:
    listed = run(["guide"])
    assert listed.exit_code == 0 and all(title in listed.stdout for _, title in guide_titles())
    assert max(map(len, listed.stdout.splitlines())) < 80
    slip = run(["guide", "lamp"])
    assert slip.exit_code == 2 and "did you mean lamps?" in slip.stderr


@pytest.mark.usefixtures("nothing_is_tried")
def test_the_worked_example_runs_as_it_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    steps = commands("example")
    assert len(steps) > 8
    for step in steps:
        result = run(quickly(step))
        assert result.exit_code == 0, (step, result.output)
    assert (tmp_path / "outputs" / "better" / "side_by_side" / "page.html").is_file()
    assert (tmp_path / "outputs" / "better" / "plan.pdf").is_file()


@pytest.mark.usefixtures("nothing_is_tried")
def test_the_commands_of_the_other_topics_run(scene_file: Path) -> None:
    there = [step for topic in TOPICS if topic != "example" for step in commands(topic)]
    assert there
    for step in there:
        result = run(quickly(step))
        assert result.exit_code in (0, 1), (step, result.output)


@pytest.mark.parametrize(
    ("topic", "fragment"), FRAGMENTS, ids=[f"{topic}-{n}" for n, (topic, _) in enumerate(FRAGMENTS)]
)
def test_a_fragment_of_a_scene_is_read_and_worked_out(topic: str, fragment: str, scene_file: Path) -> None:
    yaml = YAML()
    if unit := yaml.load(fragment).get("units"):
        assert run(["new", "my_shot.yaml", "--force", "--units", unit, "--table", "140x70"]).exit_code == 0
    written = yaml.load(scene_file.read_text(encoding="utf-8"))
    for key, value in yaml.load(fragment).items():
        if key == "set":
            written[key].update(value)
        elif key == "kit":
            shutil.copytree(ROOT / "scenes" / "kits", scene_file.parent / "kits")
            del written["cameras"]["phone"]  # the kit has one of that name
            written[key] = value
        else:
            written[key] = value
    text = io.StringIO()
    yaml.dump(written, text)
    scene_file.write_text(text.getvalue(), encoding="utf-8")
    predict(read_scene(scene_file), remedies=False)


def test_what_the_guide_points_to_is_there() -> None:
    named = [line for topic in TOPICS for line in guide_page(topic).splitlines() if line.startswith("See also: ")]
    places = re.findall(r"previz keys ([a-z_.]+)", "\n".join(named))
    assert len(places) > 8
    for place in places:
        assert key_groups(place)
    assert set(re.findall(r"previz guide (\w+)", "\n".join(map(guide_page, TOPICS)))) <= set(TOPICS)


def test_the_words_that_the_guide_quotes_are_keys() -> None:
    """`"nearest" is from the middle of the lens`: a key that is renamed takes its words along."""
    for topic, place in {"cameras": "cameras", "lamps": "lights", "launch": "vehicle.launch.ramp"}.items():
        keys = {key.name for group in key_groups(place) for key in group.keys}
        quoted = set(re.findall(r'"([a-z_]+)"', guide_page(topic))) - {"at", "aim", "focus"}
        assert quoted <= keys | {"ambient"}, topic
