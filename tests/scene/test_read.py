"""Good scene files read into SI, files that are no scene at all, and a hail of mutations of a good one."""

import math
import os
import random
import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest
from damaged import GOOD, TEXT, mutated
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import ImageColor

import previz.scene
from previz.errors import Fault, PrevizError, SceneErrors
from previz.scene import Container, FileUnits, Scatter, Scene, read_scene
from previz.scene.colours import NAMED_COLOURS
from previz.scene.yaml_tree import tree_of


def read_text(folder: Path, text: str) -> Scene:
    path = folder / "scene.yaml"
    path.write_text(text, encoding="utf-8")
    return read_scene(path)


def faults_of(path: Path) -> tuple[Fault, ...]:
    with pytest.raises(SceneErrors) as caught:
        read_scene(path)
    return caught.value.faults


def only_fault(folder: Path, content: str | bytes) -> Fault:
    path = folder / "scene.yaml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    (fault,) = faults_of(path)
    return fault


# --- good files ---


def test_everything_is_in_si() -> None:
    scene = read_scene(GOOD)
    assert scene.folder == GOOD.parent
    assert scene.scale == 50
    assert scene.set.table.width == pytest.approx(1.4)
    assert scene.set.road is not None and scene.set.road.lane == pytest.approx(0.07)
    assert scene.set.road.centre == (pytest.approx((-0.05, 0.33)), pytest.approx((1.45, 0.3)))
    assert scene.set.backdrop is not None and scene.set.backdrop.join.cove == pytest.approx(0.08)
    box, lamps, rubble = scene.dressing
    assert isinstance(box, Container) and isinstance(rubble, Scatter)
    assert box.at == pytest.approx((0.42, 0.52, 0.0)) and box.turn == pytest.approx(math.radians(12))
    assert lamps.lit == 12 and lamps.every == pytest.approx(0.22)
    assert scene.vehicle.launch is not None and scene.vehicle.launch.rolling == pytest.approx(0.02)
    assert scene.vehicle_length == pytest.approx(8.0 / 50)
    key, hard, room = scene.lights
    assert key.output.flux == 1200 and key.diffusion == 1
    assert (hard.output.axis_illuminance, hard.output.axis_distance) == (1500, 1)
    assert hard.colour.kelvin == 3200 and room.ambient == 20
    camera = scene.cameras["pocket"]
    assert camera.sensor == pytest.approx((0.0132, 0.0088))
    assert (camera.lens.shortest, camera.lens.longest) == pytest.approx((0.0088, 0.0368))
    shot = scene.shot("pass")
    assert shot.capture.rate == 120 and shot.capture.exposure_time == pytest.approx(1 / 240)
    assert shot.focus.target.vehicle and shot.focus.target.moment == pytest.approx(0.4)
    assert scene.mode(shot).fastest == 120
    # sRGB code 0x8b = 139 by IEC 61966-2-1: ((139/255 + 0.055) / 1.055) ** 2.4, worked by hand: 0.2582.
    assert scene.set.ground.colour is not None
    assert scene.set.ground.colour[0] == pytest.approx(0.2582, abs=5e-5)


def test_a_shot_is_found_by_its_id() -> None:
    with pytest.raises(KeyError):
        read_scene(GOOD).shot("nobody")


@pytest.mark.parametrize(
    ("old", "new", "check"),
    [
        ("units: mm\n", "units: cm\n", lambda scene: scene.set.table.width == pytest.approx(14.0)),
        ("focus: vehicle at 0.4 s", "focus: 400 mm", lambda scene: scene.shots[0].focus.distance == pytest.approx(0.4)),
        ("focus: vehicle at 0.4 s", "focus: 400", lambda scene: scene.shots[0].focus.distance == pytest.approx(0.4)),
        ("focus: vehicle at 0.4 s", "focus: stack_a", lambda scene: scene.shots[0].focus.target.piece == "stack_a"),
        ("focus: vehicle at 0.4 s", "focus: lamps", lambda scene: scene.shots[0].focus.target.piece == "lamps"),
        ("aim: vehicle\n", "aim: [700, 330]\n", lambda scene: scene.shots[0].aim.place[2] == 0),
        (
            "aim: vehicle\n",
            "aim: [{time: 0 s, at: [700, 330]}, {time: 0.5 s, at: vehicle}]\n",
            lambda scene: scene.shots[0].aim[1].at.vehicle and scene.shots[0].aim[1].time == 0.5,
        ),
        ("shutter: 180 deg", "shutter: 1/240 s", lambda scene: scene.shots[0].capture.exposure_time == 1 / 240),
        ("lens: 8.8-36.8 mm", "lens: 20 mm", lambda scene: scene.cameras["pocket"].lens.longest == pytest.approx(0.02)),
        ("lens: 8.8-36.8 mm", "lens: 8.8 mm – 3.68 cm", lambda scene: scene.cameras["pocket"].lens.longest == 0.0368),
        (
            "modes: [1080p60, 1080p120, 4k30]",
            "modes: [1280x720 at 119.88 fps, {mode: 4K120, crop: 1.3}]",
            lambda scene: (
                scene.cameras["pocket"].modes[0].fastest == Fraction(120000, 1001)
                and scene.cameras["pocket"].modes[1].crop == 1.3
            ),
        ),
        ("path: road", "path: [[0, 330], [1400, 300]]", lambda scene: len(scene.vehicle.path) == 2),
        ("distance: 690", "distance: 900", lambda scene: scene.set.backdrop.distance > scene.set.table.depth),
        ("join: cove 80", "join: straight", lambda scene: scene.set.backdrop.join.cove == 0),
        ("f_number: 5.6", "f_number: 22.6", lambda scene: scene.shots[0].f_number == 22.6),  # the f/22 mark, unrounded
        ("title: Yard at noon", "title: 'yes: 1:50'", lambda scene: scene.title == "yes: 1:50"),
        ("title: Yard at noon", "title: 2026-01-01", lambda scene: scene.title == "2026-01-01"),
        ("title: Yard at noon", "title: yes", lambda scene: scene.title == "yes"),
        (
            "sensor: 1-inch",
            "sensor: 1/1.3-inch",
            lambda scene: scene.cameras["pocket"].sensor == pytest.approx((0.0098, 0.0073)),
        ),
        (
            "sensor: 1-inch",
            "sensor: 2/3 type",
            lambda scene: scene.cameras["pocket"].sensor == pytest.approx((0.0088, 0.0066)),
        ),
        (
            "sensor: 1-inch",
            'sensor: 1"',
            lambda scene: scene.cameras["pocket"].sensor == pytest.approx((0.0132, 0.0088)),
        ),
        ('"#8b8a86"', "DarkRed", lambda scene: scene.set.ground.colour == pytest.approx((0.258183, 0, 0), abs=1e-6)),
        ("colour: 3200 K", "colour: orange", lambda scene: scene.lights[1].colour.gel[:3:2] == (1.0, 0.0)),
        ("path: road", "reverse: true", lambda scene: scene.vehicle.reverse is True),
    ],
    ids=lambda each: each.strip() if isinstance(each, str) else "",
)
def test_the_ways_a_thing_can_be_written(tmp_path: Path, old: str, new: str, check: object) -> None:
    assert TEXT.count(old) == 1
    assert check(read_text(tmp_path, TEXT.replace(old, new)))  # type: ignore[operator]


def test_colours_have_the_names_that_pillow_knows_too() -> None:
    known = {name: ImageColor.getrgb(name) for name in ImageColor.colormap}
    assert {name: tuple(bytes.fromhex(code)) for name, code in NAMED_COLOURS.items()} == known


def test_aliases_are_written_out_and_their_faults_stand_where_they_are_used(tmp_path: Path) -> None:
    text = TEXT.replace("at: [420, 520]", "at: &spot [420, 520]").replace("aim: vehicle", "aim: *spot")
    assert read_text(tmp_path, text).shots[0].aim.place == pytest.approx((0.42, 0.52, 0))
    text = TEXT.replace("at: [420, 520]", "at: &spot [420, 520, 3, 4]").replace("aim: vehicle", "aim: *spot")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    assert [fault.line for fault in faults_of(tmp_path / "scene.yaml")] == [14, 33]


def test_a_byte_order_mark_and_windows_line_ends_are_fine(tmp_path: Path) -> None:
    (tmp_path / "scene.yaml").write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert read_scene(tmp_path / "scene.yaml").title == "Yard at noon"
    (tmp_path / "scene.yaml").write_bytes(TEXT.replace("\n", "\r\n").replace("lorry", "lory").encode())
    assert [fault.line for fault in faults_of(tmp_path / "scene.yaml")] == [TEXT[: TEXT.index("lorry")].count("\n") + 1]


def test_a_scene_stays_as_it_was_read() -> None:
    scene = read_scene(GOOD)
    with pytest.raises(ValueError, match="frozen"):
        scene.title = "other"
    assert read_scene(GOOD) == scene


# --- what is no scene at all ---


def test_an_empty_file(tmp_path: Path) -> None:
    for empty in ("", "\n\n", "# only a remark\n"):
        assert only_fault(tmp_path, empty).message.startswith("is empty; begin with title:")
    copied = only_fault(tmp_path, "").message.partition("a copy of ")[2].rstrip(")")
    assert (Path(previz.scene.__file__).parents[2] / copied).is_file()
    assert "a group of keys is wanted" in only_fault(tmp_path, "---\n").message
    assert "a group of keys is wanted" in only_fault(tmp_path, "just words\n").message
    assert "a list of 2, where a group of keys is wanted" in only_fault(tmp_path, "- a\n- b\n").message


def test_a_folder_and_a_missing_file(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path)
    assert fault == Fault(None, "", "is a folder; name the scene file in it")
    (fault,) = faults_of(tmp_path / "nothing.yaml")
    assert "there is no such file" in fault.message
    (fault,) = faults_of(Path("/dev/null"))
    assert "is not a file" in fault.message
    for odd in (tmp_path / ("x" * 400), Path("nul\0byte")):
        (fault,) = faults_of(odd)
        assert "cannot be read" in fault.message or "no such file" in fault.message


def test_other_encodings(tmp_path: Path) -> None:
    assert "UTF-16" in only_fault(tmp_path, TEXT.encode("utf-16")).message
    assert only_fault(tmp_path, TEXT.replace("noon", "n\0on").encode()).line == 1
    latin = only_fault(tmp_path, TEXT.replace("title: Yard", "# x\ntitle: Stra\xdfe").encode("latin-1"))
    assert latin.line == 2 and "save the file as UTF-8" in latin.message
    bell = only_fault(tmp_path, TEXT.replace("noon", "no\x07on"))
    assert bell.line == 1 and "U+0007" in bell.message


def test_a_file_too_large(tmp_path: Path) -> None:
    assert "larger than 1 MB" in only_fault(tmp_path, TEXT + "#" * 2_000_000).message


def test_an_alias_bomb(tmp_path: Path) -> None:
    bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n"
    bomb += "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]\n" for n in range(1, 12))
    fault = only_fault(tmp_path, bomb)
    assert fault.line == 5 and "more than 20000 values" in fault.message


def test_nesting_beyond_reason(tmp_path: Path) -> None:
    assert "nested deeper than 40" in only_fault(tmp_path, "a: " + "[" * 5000).message
    assert "nested deeper than 40" in only_fault(tmp_path, "a: " + "{b: " * 5000).message
    chain = "a0: &a0 [x]\n" + "".join(f"a{n}: &a{n} [*a{n - 1}]\n" for n in range(1, 3000))
    assert only_fault(tmp_path, chain).line == 40


@pytest.mark.parametrize("digits", ["1" * 10_000, "1e" + "9" * 4000, "0x" + "f" * 9000, "-" + "7" * 500])
def test_a_number_of_thousands_of_digits(tmp_path: Path, digits: str) -> None:
    for key, old in (("set.table.depth", "depth: 700"), ("set.road.lanes", "lanes: 2"), ("scale", "scale: 1:50")):
        fault = only_fault(tmp_path, TEXT.replace(old, f"{old.split(':')[0]}: {digits}"))
        assert fault.key == key and len(fault.message) < 250


@pytest.mark.parametrize(
    "value",
    [
        '"\\UFFFFFFFF"',
        "!<tag:x> 3",
        "!!binary aGVsbG8=",
        "!!set {a}",
        "&a",
        "*",
        "!",
        "|+",
        '"\\x"',
        "@x",
        "`x",
        "%x",
        "? x",
    ],
)
def test_corners_of_yaml_are_refused_or_read_but_never_crash(tmp_path: Path, value: str) -> None:
    for old in ("title: Yard at noon", "depth: 700"):
        text = TEXT.replace(old, f"{old.split(':')[0]}: {value}")
        (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
        if value != "!" or old != "title: Yard at noon":
            assert faults_of(tmp_path / "scene.yaml")


def test_values_by_the_core_schema_of_yaml_1_2() -> None:
    # YAML 1.2.2, section 10.3.2 (core schema), with what 1.1 read otherwise: yes, 1:50, 0o17, 017, 1_000, dates.
    text = "[yes, no, on, 1:50, 0o17, 017, 0x1F, 1_000, 2026-01-01, ~, TRUE, 1e3, .5, '7', !!str 7, !!int '7', =, +3]"
    values = tree_of(f"values: {text}\n")[0].plain()["values"]
    assert values == [
        *("yes", "no", "on", "1:50", 15, 17, 31, "1_000", "2026-01-01", None, True, 1000.0, 0.5),
        *("7", "7", 7, "=", 3),
    ]


# --- files beside the scene ---


@pytest.fixture
def with_image(tmp_path: Path) -> Iterator[Path]:
    """A scene that names an image, in a folder of its own."""
    folder = tmp_path / "film"
    folder.mkdir()
    text = TEXT.replace('surface: concrete, colour: "#8b8a86"', "image: NAME")
    (folder / "scene.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "outside.png").write_bytes(b"not looked into")
    yield folder / "scene.yaml"


def naming(path: Path, name: str) -> Path:
    path.write_text(path.read_text(encoding="utf-8").replace("NAME", name), encoding="utf-8")
    return path


def test_a_file_beside_the_scene_is_accepted(with_image: Path) -> None:
    (with_image.parent / "pictures").mkdir()
    (with_image.parent / "pictures" / "ground.png").write_bytes(b"")
    assert read_scene(naming(with_image, "pictures/ground.png")).set.ground.image == "pictures/ground.png"


@pytest.mark.parametrize("name", ["../outside.png", "ABSOLUTE", "link.png", "linked/outside.png", "C:/outside.png"])
def test_no_way_leads_out_of_the_folder(with_image: Path, name: str) -> None:
    (with_image.parent / "link.png").symlink_to(with_image.parent.parent / "outside.png")
    (with_image.parent / "linked").symlink_to(with_image.parent.parent)
    name = name.replace("ABSOLUTE", str(with_image.parent.parent / "outside.png"))
    (fault,) = faults_of(naming(with_image, name))
    assert fault.key == "set.ground.image" and fault.line == 6
    assert "lies outside the scene's folder" in fault.message
    if not name.startswith("C:"):
        assert read_scene(with_image, outside_files=True).set.ground.image == name


def test_a_link_inside_the_folder_is_fine(with_image: Path) -> None:
    (with_image.parent / "real.png").write_bytes(b"")
    (with_image.parent / "link.png").symlink_to("real.png")
    read_scene(naming(with_image, "link.png"))


def test_links_in_a_circle_a_folder_and_a_slip_of_the_pen(with_image: Path) -> None:
    original = with_image.read_text(encoding="utf-8")
    (with_image.parent / "a.png").symlink_to("b.png")
    (with_image.parent / "b.png").symlink_to("a.png")
    (with_image.parent / "ground.jpg").write_bytes(b"")
    os.mkfifo(with_image.parent / "pipe") if hasattr(os, "mkfifo") else (with_image.parent / "pipe").touch()
    for name, words in (
        ("a.png", "a.png"),
        (".", "is a folder"),
        ("pipe", "not an ordinary file"),
        ("grond.jpg", "did you mean ground.jpg?"),
    ):
        with_image.write_text(original, encoding="utf-8")
        (fault,) = faults_of(naming(with_image, name))
        assert words in fault.message


# --- all faults at once, none twice ---


def test_a_fault_in_the_text_does_not_hide_the_others(tmp_path: Path) -> None:
    text = (
        TEXT.replace("playback: 24 fps", "playback:")
        .replace("body: lorry", "body: lory")
        .replace("rate: 120", "rate: 999")
    )
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    keys = [fault.key for fault in faults_of(tmp_path / "scene.yaml")]
    assert keys == ["vehicle.body", "shots[pass].capture.rate", "shots[pass].playback"]


def test_a_text_that_cannot_be_read_on_says_that_the_rest_is_unread(tmp_path: Path) -> None:
    path = tmp_path / "scene.yaml"
    broken = TEXT.replace("f_number: 5.6", "f_number: 400").replace("  table: {width", "  table: {width: [")
    path.write_text(broken, encoding="utf-8")
    (fault,) = faults_of(path)
    assert "nothing else in the file has been looked at yet" in fault.message
    (missing,) = faults_of(tmp_path / "none.yaml")
    assert "looked at yet" not in missing.message


def test_thousands_of_faults_are_told_in_reasonable_time(tmp_path: Path) -> None:
    shot = "  - {id: s%d, camera: c%d, aim: t%d, focus: , bogus: 1}\n"
    text = TEXT[: TEXT.index("  - id: pass")] + "".join(shot % (n, n, n) for n in range(1200))
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    faults = faults_of(tmp_path / "scene.yaml")
    # id, camera, aim and focus are given; focal_length, f_number, at and capture are missing.
    assert len(faults) == 1200 * 8 + 1  # and they are too many
    assert len(set(faults)) == len(faults)


# --- parts made in Python ---


def test_parts_can_be_made_in_python_with_units() -> None:
    box = Container.model_validate({"id": "a", "piece": "container", "at": [1, 2]}, context=FileUnits(1e-3, 50.0))
    assert box.at == pytest.approx((0.001, 0.002, 0))
    assert Container(id="a", piece="container", at=["1 m", "2 m"]).at == pytest.approx((1, 2, 0))


# --- mutations ---


@settings(
    max_examples=300, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 2**32))
def test_a_damaged_scene_is_read_or_refused_but_never_crashes(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "scene.yaml"
    text = mutated(random.Random(seed))
    path.write_text(text, encoding="utf-8", newline="")
    try:
        assert isinstance(read_scene(path), Scene)
    except SceneErrors as error:
        assert error.faults
        last = len(text.splitlines())
        for fault in error.faults:
            assert fault.line is None or 1 <= fault.line <= last
            assert fault.message and fault.message.isprintable() and fault.key.isprintable()
            assert "does not belong here" not in fault.message  # the words for what no message was written for
    except PrevizError:
        pytest.fail("a scene file has only SceneErrors")


def test_a_shot_may_name_its_mode(tmp_path):
    text = TEXT.replace("1080p120", "{mode: 1080p120, crop: 1.5}")
    scene = read_text(tmp_path, text)
    shot = scene.shots[0]
    named = shot.model_copy(update={"capture": shot.capture.model_copy(update={"rate": Fraction(24)})})
    assert scene.mode(named).width == 3840  # the largest, unless said
    capture = named.capture.model_copy(update={"mode": scene.cameras[shot.camera].modes[1]})
    assert scene.mode(named.model_copy(update={"capture": capture})).crop == 1.5


def test_a_camera_has_the_usual_isos_unless_it_says_its_own(tmp_path):
    assert read_text(tmp_path, TEXT).cameras["pocket"].iso == (100, 25600)
    scene = read_text(tmp_path, TEXT.replace("widest: f/1.8", "widest: f/1.8, iso: [64, 3200]"))
    assert scene.cameras["pocket"].iso == (64, 3200)


def test_a_zoom_that_loses_light_may_stand_in_the_scene_itself(tmp_path):
    scene = read_text(tmp_path, TEXT.replace("widest: f/1.8", "widest: f/1.8, widest_at_longest: f/4"))
    assert scene.cameras["pocket"].widest_at(0.0368) == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("size", "unit"), [("{width: 140, depth: 70}", "cm"), ("140 x 70", "cm"), ("{width: 55, depth: 28}", "in")]
)
def test_a_file_that_is_refused_is_told_of_a_table_that_no_set_fits_on(tmp_path: Path, size: str, unit: str) -> None:
    text = re.sub(r"table: .*", f"table: {size}", TEXT).replace("nearest: ", "nearest: 0.")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    table, *others = faults_of(tmp_path / "scene.yaml")
    assert table.key == "set.table" and f"are your numbers in {unit}? Then write units: {unit}" in table.message
    assert others and table.line == TEXT[: TEXT.index("table:")].count("\n") + 1


def test_a_small_table_in_a_file_that_can_be_read_is_no_fault(tmp_path: Path) -> None:
    assert read_text(tmp_path, "title: t\nscale: 1:160\n" + SMALL).set.table.width == pytest.approx(0.19)


SMALL = """units: mm
set: {table: {width: 190, depth: 150}}
lights: [{id: room, ambient: 400 lx}]
cameras: {c: {sensor: APS-C, lens: 50 mm f/2, nearest: 300, modes: [1080p60]}}
shots: [{id: a, camera: c, f_number: 8, at: [90, -9, 60], aim: [9, 70, 10], focus: 460, duration: 1 s,
         capture: {rate: 24 fps}}]
"""
