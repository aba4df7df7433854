"""The commands that help to write a scene: `keys`, `schema` and `new`."""

import json
import re
import shlex
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from PIL import Image
from typer.testing import CliRunner, Result

from previz.cli import app
from previz.scene import BARE_UNITS, VEHICLE_SIZES, Kit, key_places, read_scene, schema_text
from previz.starters import STARTS, TYPICAL

pytestmark = pytest.mark.usefixtures("drawn_here")

ROOT = Path(__file__).parents[1]


def run(*arguments: str, typed: str | None = None) -> Result:
    return CliRunner().invoke(app, [*arguments], input=typed)


# --- keys ---


@pytest.mark.parametrize("place", [None, *(place for place, _ in key_places()), "lights", "dressing", "shots.aim"])
def test_keys_fit_into_eighty_columns(place: str | None) -> None:
    result = run("keys", *([place] if place else []))
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert len(lines) > 4 and max(map(len, lines)) <= 80
    assert "`" not in result.output and "None" not in result.output


def test_keys_of_a_part_have_their_unit_default_and_example() -> None:
    said = " ".join(run("keys", "set.table").output.split())
    assert "width length must be given 1400 mm along x" in said
    assert "height length 740 mm" in said
    assert "length: mm, cm, m, um, in or ft, or a plain number in the units of the file" in said


def test_a_part_that_is_none_is_told_with_what_was_meant() -> None:
    result = run("keys", "captur")
    assert result.exit_code == 2
    assert result.stderr.strip() == "captur is not a place in a scene file; did you mean shots.capture?"


@pytest.mark.parametrize(("word", "place"), [("capture", "shots.capture"), ("timed run", "vehicle.launch.timed_runs")])
def test_a_word_that_names_one_part_is_answered_with_that(word: str, place: str) -> None:
    assert run("keys", word).output == run("keys", place).output


@pytest.mark.parametrize(
    ("word", "places"),
    [
        ("light", ["lights", "dressing.light"]),
        ("lamp", ["lights", "dressing.lamp_post"]),
        ("ramp", ["vehicle.launch.ramp", "evening.ramp"]),
        ("height", ["set.table.height", "set.backdrop.height", "dressing.height"]),
    ],
)
def test_a_word_of_several_places_lists_them_the_most_used_first(word: str, places: list[str]) -> None:
    result = run("keys", word)
    assert result.exit_code == 0
    listed = [line.split()[0] for line in result.output.splitlines()[1:] if line[:1].strip()]
    assert [each for each in listed if each in places] == places
    assert all(run("keys", each).exit_code == 0 for each in listed)


def test_a_key_of_some_pieces_alone_is_not_taken_for_a_piece() -> None:
    result = run("keys", "dressing.bar")
    assert result.exit_code == 2
    said = " ".join(result.stderr.split())
    assert "did you mean dressing.bare, a key of broadleaf" in said
    assert "Its kinds: container, lamp_post, conifer" in said


# --- schema ---


def test_the_schema_is_printed_and_written_the_same(tmp_path: Path) -> None:
    printed = run("schema")
    assert run("schema", "--out", str(tmp_path / "s.json")).exit_code == printed.exit_code == 0
    assert (tmp_path / "s.json").read_text(encoding="utf-8") == printed.stdout == schema_text()
    Draft202012Validator.check_schema(json.loads(printed.stdout))
    assert run("schema", "--kit").stdout == schema_text(Kit)


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    result = run("schema", "--out", str(tmp_path / "file" / "s.json"))
    assert result.exit_code == 2 and "is a file, not a folder to write to" in result.stderr


def test_the_schema_beside_the_demo_scenes_is_this_one() -> None:
    """After a change of the keys: previz schema --out scenes/scene.schema.json"""
    assert (ROOT / "scenes" / "scene.schema.json").read_text(encoding="utf-8") == schema_text()


@pytest.mark.parametrize("path", sorted((ROOT / "scenes").glob("*.yaml")), ids=lambda path: path.stem)
def test_a_demo_scene_names_the_schema(path: Path) -> None:
    assert "\n# yaml-language-server: $schema=scene.schema.json\n" in path.read_text(encoding="utf-8")


# --- new ---


def test_help_names_what_there_is_to_choose_from() -> None:
    said = " ".join(run("new", "--help").output.split())
    for names in (STARTS, VEHICLE_SIZES, TYPICAL, BARE_UNITS):
        assert all(re.search(rf"\b{name}\b", said) for name in names)


def test_a_first_scene_is_written_with_its_schema_and_what_to_run_next(tmp_path: Path) -> None:
    file = tmp_path / "my shots" / "first é.yaml"
    result = run("new", str(file))
    assert result.exit_code == 0, result.output
    assert result.stdout.splitlines() == [str(file), str(file.with_name("scene.schema.json"))]
    assert f"previz check '{file}'" in result.stderr
    assert file.with_name("scene.schema.json").read_text(encoding="utf-8") == schema_text()
    scene = read_scene(file)
    assert (scene.scale, scene.set.table.width, scene.vehicle.body) == (50, pytest.approx(1.4), "van")


def test_one_pushed_by_hand_has_a_speed_and_how_long_a_metre_takes(tmp_path: Path) -> None:
    file = tmp_path / "pushed.yaml"
    assert run("new", str(file), "--drive", "hand").exit_code == 0
    vehicle = read_scene(file).vehicle
    assert vehicle is not None and vehicle.launch is None and vehicle.speed
    found = re.search(r"1 m in ([0-9.]+) s", file.read_text(encoding="utf-8"))
    assert found is not None and float(found[1]) == pytest.approx(1 / vehicle.speed, rel=0.06)


@pytest.mark.usefixtures("somebody_answers")
@pytest.mark.parametrize(("start", "offered"), [("towards", False), ("night", False), ("pass", True)])
def test_what_moves_it_is_asked_wherever_it_is_filmed_from(start: str, offered: bool, tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    asked = ("--table", "200x90cm", "--scale", "1:64", "--body", "saloon", "--camera", "phone", "--start", start)
    result = run("new", str(file), *asked, typed="thread\n")
    assert result.exit_code == 0, result.output
    assert ("\n  ramp " in result.stderr) == offered and "\n  thread " in result.stderr
    assert read_scene(file).vehicle.drive == "thread" and "--drive thread" in result.stderr


def test_options_say_all_that_would_be_asked(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    mine = "mine: {sensor: APS-C, lens: 18-55 mm, widest: f/3.5, nearest: 200 mm, modes: [1080p60]}"
    asked = ("--start", "towards", "--table", "60x36", "--units", "in", "--scale", "1:43", "--body", "saloon")
    result = run("new", str(file), *asked, "--camera", mine, "--camera", "phone")
    assert result.exit_code == 0, result.output
    scene = read_scene(file)
    assert scene.set.table.width == pytest.approx(60 * 0.0254) and scene.tape_unit == "in"
    assert list(scene.cameras) == ["mine", "phone"] and scene.shots[0].camera == "mine"
    assert (scene.scale, scene.vehicle.body, scene.shots[0].id) == (43, "saloon", "towards")


def test_what_is_wrong_with_two_cameras_is_told_of_both(tmp_path: Path) -> None:
    mine = (
        "one: {sensor: phone, lens: 24 mm equivalent f/1.8, nearest: 10 cm, modes: [4K60]}",
        "two: {lens: 50 mm f/2}",
    )
    result = run("new", str(tmp_path / "a.yaml"), "--camera", mine[0], "--camera", mine[1])
    said = " ".join(result.stderr.split())
    assert result.exit_code == 2 and "write sensor: 1/1.56" in said
    assert all(f"cameras.{key} " in said for key in ("one.sensor: phone", "two.sensor: is", "two.nearest: is"))


def test_which_camera_films_and_what_is_taken_of_a_phone_is_said(tmp_path: Path) -> None:
    slow = "slow: {sensor: APS-C, lens: 18-55mm f/3.5-5.6, nearest: 250 mm, modes: [1080p60]}"
    mine = "mine: {sensor: 1/1.3, lens: 24 mm equivalent f/1.8, nearest: 100 mm, modes: [1080p240]}"
    asked = ("--table", "150x75cm", "--scale", "1:64", "--drive", "ramp", "--camera", slow, "--camera", mine)
    result = run("new", str(tmp_path / "a.yaml"), *asked)
    assert result.exit_code == 0, result.output
    assert read_scene(tmp_path / "a.yaml").shots[0].camera == "mine"
    said = " ".join(result.stderr.split())
    assert "mine films, not slow: on this table a ramp and the way from it do not fit beside the picture" in said
    assert "mine: one focal length and a small sensor, so taken for a phone's lens, which has one stop, f/1.8" in said


@pytest.fixture
def somebody_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("previz.cli.questions.on_a_terminal", lambda: True)


@pytest.mark.usefixtures("somebody_answers")
def test_on_a_terminal_it_asks_for_what_is_not_given_what_one_owns_first(tmp_path: Path) -> None:
    file = tmp_path / "a b.yaml"
    result = run("new", str(file), "--scale", "1:87", typed="90x42cm\n\nphone\npocket\n\nnight\n\n")
    assert result.exit_code == 0, result.output
    scene = read_scene(file)
    assert (scene.shots[0].id, scene.set.table.width, scene.vehicle.body) == ("night", pytest.approx(0.9), "van")
    assert list(scene.cameras) == ["phone", "pocket"] and scene.scale == 87
    questions = ("How large is your table", "What do you film with", "How is it filmed")
    asked = [result.stderr.index(each) for each in questions]
    assert asked == sorted(asked) and "What scale" not in result.stderr  # it was given
    assert all(f"  {name:9}{each.says}" in result.stderr for name, each in STARTS.items())
    assert all(f"\n  {name:9}" in result.stderr for name in TYPICAL)
    again = result.stderr.partition("the same without questions: ")[2].partition("\n")[0]
    text = file.read_text(encoding="utf-8")
    assert run(*shlex.split(again)[1:], "--force").exit_code == 0
    assert file.read_text(encoding="utf-8") == text


@pytest.mark.usefixtures("somebody_answers")
def test_the_end_of_input_at_a_question_is_told_like_ctrl_c(tmp_path: Path) -> None:
    result = run("new", str(tmp_path / "a.yaml"), typed="90x42cm\n")  # and then Ctrl-D
    assert result.exit_code == 130
    assert result.stderr.endswith("\nstopped; nothing is written\n")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("somebody_answers")
def test_what_cannot_be_read_is_told_and_asked_for_again(tmp_path: Path) -> None:
    typed = "large\n120x60cm\n1:43\ncar\nsaloon\nphon\nphone\n\npass\nmotor\n"
    result = run("new", str(tmp_path / "a.yaml"), typed=typed)
    assert result.exit_code == 0, result.output
    assert read_scene(tmp_path / "a.yaml").vehicle.body == "saloon"
    for said in ("large is not the size of a table", "did you mean saloon?", "phon is not a camera to begin with"):
        assert said in " ".join(result.stderr.split())


@pytest.mark.usefixtures("somebody_answers")
def test_a_camera_of_one_s_own_is_asked_for_key_by_key(tmp_path: Path) -> None:
    """Its stop is on its lens; of a sensor as phones have, that is taken to be its only one."""
    own = "full frame\n35mm f/2\n\n0.3 m\n1080p120, 4k60\n12 x 7 x 6 cm\n"
    phone = "1/1.3\n24 mm equivalant f/1.8\n\n120\n4k60\n\n\n24 mm equivalent, f/1.8\n\n\n\n\n"
    typed = f"55 x 28 in\n1:64\nsaloon\nown\n{own}own\n{phone}\npass\nmotor\n"
    result = run("new", str(tmp_path / "a.yaml"), typed=typed)
    assert result.exit_code == 0, result.output
    assert "24 mm equivalant is not a lens" in " ".join(result.stderr.split())
    scene = read_scene(tmp_path / "a.yaml")
    mine, other = scene.cameras["mine"], scene.cameras["mine_2"]
    assert (*mine.sensor, mine.lens.longest, mine.widest, mine.smallest) == pytest.approx((0.036, 0.024, 0.035, 2, 22))
    assert (mine.nearest, [str(mode) for mode in mine.modes]) == (
        pytest.approx(0.3), ["1920x1080 at 120 fps", "3840x2160 at 60 fps"],
    )  # fmt: skip
    assert mine.body == pytest.approx((0.12, 0.07, 0.06)) and other.body is None  # it was skipped
    assert (other.widest, other.smallest, other.nearest) == (1.8, 1.8, pytest.approx(0.12))


def test_a_bare_length_of_a_camera_means_what_it_means_in_the_file(tmp_path: Path) -> None:
    mine = "mine: {sensor: APS-C, lens: 18-55 mm f/3.5, nearest: 24, modes: [1080p60]}"
    result = run("new", str(tmp_path / "a.yaml"), "--table", "90 x 60 in", "--camera", mine)
    assert result.exit_code == 0, result.output
    scene = read_scene(tmp_path / "a.yaml")
    assert scene.cameras["mine"].nearest == pytest.approx(24 * 0.0254)
    at, road = scene.shots[0].at, scene.set.road
    assert road is not None and isinstance(at, tuple)
    assert road.centre[0][1] - at[1] > scene.cameras["mine"].nearest  # it stands where it focuses


def test_nothing_that_is_there_is_written_over_unless_told_to(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_text("mine", encoding="utf-8")
    refused = run("new", str(file))
    assert refused.exit_code == 2 and "is there already" in refused.stderr
    assert file.read_text(encoding="utf-8") == "mine" and [*tmp_path.iterdir()] == [file]
    assert run("new", str(file), "--force").exit_code == 0
    assert read_scene(file).title == "My first shot"


def test_a_demo_is_copied_with_its_kit_and_reads_in_its_new_place(tmp_path: Path) -> None:
    like = ROOT / "scenes" / "quay_lorry.yaml"
    file = tmp_path / "mine" / "quay.yaml"
    result = run("new", str(file), "--like", str(like))
    assert result.exit_code == 0, result.output
    assert file.read_bytes() == like.read_bytes()
    assert read_scene(file).model_copy(update={"folder": Path()}) == read_scene(like).model_copy(
        update={"folder": Path()}
    )
    assert {path.relative_to(file.parent).as_posix() for path in file.parent.rglob("*") if path.is_file()} == {
        "quay.yaml", "kits/tabletop.yaml", "scene.schema.json",
    }  # fmt: skip
    # A second copy beside it meets the same kit, which is fine; a kit of someone's own is not written over.
    assert run("new", str(file.with_name("again.yaml")), "--like", str(like)).exit_code == 0
    (file.parent / "kits" / "tabletop.yaml").write_text("cameras: {}\n", encoding="utf-8")
    refused = run("new", str(file.with_name("third.yaml")), "--like", str(like))
    assert refused.exit_code == 2 and "tabletop.yaml is there already" in refused.stderr
    assert not file.with_name("third.yaml").exists()


def test_units_may_be_spelled_out(tmp_path: Path) -> None:
    """As in a file: the same scene comes of it as of the short word."""
    written = []
    for number, (unit, table) in enumerate((("in", "55x28"), ("inches", "55x28"), ("in", "55x28 inches"))):
        file = tmp_path / f"{number}.yaml"
        assert run("new", str(file), "--units", unit, "--table", table).exit_code == 0
        written.append(file.read_text(encoding="utf-8").replace(f"{number}.yaml", "0.yaml"))
    assert len({*written}) == 1 and "units: in " in written[0]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--start", "pas"), "did you mean pass?"),
        (("--body", "lory"), "did you mean lorry?"),
        (("--scale", "50"), "50 is not a scale from 1:1 to 1:2000; write it like 1:50"),
        (("--units", "miles"), "miles is not a unit for bare lengths"),
        (("--table", "large"), "is not the size of a table"),
        (("--table", "60x40cm", "--scale", "1:24", "--body", "lorry"), "the lorry at 1:24 is 33.3 cm long"),
        (("--camera", "phone", "--camera", "phone"), "phone is given twice"),
        (("--like", "no.yaml"), "there is no such file"),
        (("--like", "no.yaml", "--scale", "1:50"), "take the other options out"),
    ],
)
def test_what_cannot_be_is_told_and_nothing_written(tmp_path: Path, arguments: tuple[str, ...], said: str) -> None:
    result = run("new", str(tmp_path / "a.yaml"), *arguments)
    assert result.exit_code == 2
    assert said in result.stderr and not [*tmp_path.iterdir()]


def test_what_will_not_work_is_said_at_once(tmp_path: Path) -> None:
    slow = "slow: {sensor: 1/2.3-type, lens: 8.4 mm, widest: f/16, smallest: f/16, nearest: 35 mm, modes: [4k25]}"
    result = run("new", str(tmp_path / "a.yaml"), "--camera", slow, "--table", "2.2x1.3 m")
    assert result.exit_code == 0 and "stop: pass: " in result.stderr


@pytest.mark.parametrize("start", ["towards", "night"])
def test_a_first_scene_renders_at_once(start: str, tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    assert run("new", str(file), "--start", start).exit_code == 0
    drawn = run("still", str(file), "--draft", "--size", "160", "--views", "2", "--out", str(tmp_path), "--json")
    assert drawn.exit_code == 0, drawn.output
    (picture,) = tmp_path.glob("*.png")
    pixels = np.asarray(Image.open(picture).convert("L"), dtype=float)
    assert 15 < pixels.mean() < 235 and pixels.std() > 15  # neither black nor white nor flat
