"""The digest of a take: another one whenever what makes its frames is another, the same one otherwise."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

import previz.takes
from previz.files import key_of
from previz.scene import read_scene
from previz.takes import Quality, digest_of, take_of

SCENE = """\
title: A test of digests
scale: 1:50
units: mm
kit: kit.yaml
set:
  table: {width: 1400, depth: 700}
  ground: {image: tile.png, tile: 100}
vehicle: {mesh: wedge.obj, length: 80, path: [[100, 300], [1300, 300]], speed: 1 m/s}
lights: [{id: room, ambient: 200 lx}]
wants: [{sharp: mid-frame}]
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
  - {id: away, camera: other, focal_length: 20 mm, f_number: 4, at: [100, -150, 45], aim: [1300, 300, 20], focus: 600,
     capture: {rate: 60 fps}, duration: 0.2 s}
"""

KIT = """\
title: Cameras
units: mm
cameras:
  pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}
  other: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}
"""

WEDGE = """\
mtllib paint.mtl
usemtl p
v 0 0 0
v 2 0 0
v 0 1 0
v 0 0 1
f 1 3 2
f 1 2 4
f 2 3 4
f 3 1 4
"""


PLAIN = Quality()

SHADERS = ("frames/gl/shaders/views.glsl", "frames/gl/shaders/glow.vert", "frames/gl/shaders/sum.frag")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    from PIL import Image

    monkeypatch.setenv("PREVIZ_CACHE", str(tmp_path / "cache"))
    home = tmp_path / "project"
    home.mkdir()
    for name, text in (
        ("yard.yaml", SCENE),
        ("kit.yaml", KIT),
        ("wedge.obj", WEDGE),
        ("paint.mtl", "newmtl p\nKd 0.1 0.6 0.2\n"),
    ):
        (home / name).write_text(text, encoding="utf-8")
    Image.new("RGB", (8, 8), (200, 10, 10)).save(home / "tile.png")
    return home


def digest(
    folder: Path, quality: Quality = PLAIN, frames: str | None = None, *, slate: bool = False, **changes: object
) -> str:
    scene = read_scene(folder / "yard.yaml", changes={key.replace("__", "."): each for key, each in changes.items()})
    return digest_of(scene, take_of(scene, scene.shots[0], quality, frames, slate=slate))


def test_the_same_take_has_the_same_digest_wherever_its_folder_lies(folder: Path) -> None:
    before = digest(folder)
    assert before == digest(folder) and len(before) == 64
    assert digest(folder.rename(folder.with_name("moved"))) == before


def test_what_no_frame_of_a_shot_shows_is_not_in_its_digest(folder: Path) -> None:
    before = digest(folder)
    text = SCENE.replace("A test", "Another").replace("mid-frame", "run").replace("focus: 600", "focus: 700")
    (folder / "yard.yaml").write_text(text, encoding="utf-8")
    (folder / "kit.yaml").write_text(
        KIT.replace("other: {sensor: 1-inch", "other: {glare: none, sensor: APS-C"), encoding="utf-8"
    )
    assert digest(folder) == before
    assert digest(folder, slate=True) != before  # the title is on it


@pytest.mark.parametrize(
    "changes",
    [
        {"vehicle__speed": "1.1 m/s"},
        {"set__table__depth": 710},
        {"lights": [{"id": "room", "ambient": "210 lx"}]},
        {"shots[pass]__f_number": 8},
        {"shots[pass]__playback": "25 fps"},
        {"scale": "1:43"},
        {"vehicle__colour": "#808080"},
    ],
)
def test_what_the_scene_says_of_it_is(folder: Path, changes: dict[str, object]) -> None:
    assert digest(folder, **changes) != digest(folder)


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("kit.yaml", "pocket: {sensor: 1-inch", "pocket: {sensor: APS-C"),
        ("kit.yaml", "pocket: {", "pocket: {glare: none, "),
        ("wedge.obj", "v 0 0 1", "v 0 0 1.5"),
        ("paint.mtl", "0.6", "0.7"),
    ],
)
def test_so_is_what_is_in_the_files_it_names_and_in_those_they_name(
    folder: Path, name: str, old: str, new: str
) -> None:
    before = digest(folder)
    file = folder / name
    file.write_text(file.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    assert digest(folder) != before


def test_an_image_counts_by_its_bytes(folder: Path) -> None:
    before = digest(folder)
    with (folder / "tile.png").open("ab") as file:
        file.write(b"\0")
    assert digest(folder) != before


def test_so_is_how_it_is_made(folder: Path) -> None:
    ways = [
        digest(folder),
        digest(folder, Quality(seed=1)),
        digest(folder, Quality(size="640")),
        digest(folder, Quality(views=8)),
        digest(folder, Quality(draft=True, size="1280", views=8)),
        digest(folder, frames="0:6"),
        digest(folder, frames="6:12"),
    ]
    assert len(set(ways)) == len(ways)
    scene = read_scene(folder / "yard.yaml")
    take = take_of(scene, scene.shots[0], Quality())
    assert digest_of(scene, take, "mp4", "post") != digest_of(scene, take, "mp4", "message") != digest_of(scene, take)
    assert digest_of(scene, take) != digest_of(scene, replace(take, effort="draft"))


def test_so_is_the_source_text_of_what_draws(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "previz"
    shutil.copytree(Path(previz.takes.__file__).parent, package)
    monkeypatch.setattr(previz.takes, "__file__", str(package / "takes.py"))

    def after(room: str) -> str:
        file = package / room
        file.write_text(file.read_text(encoding="utf-8") + "# other\n", encoding="utf-8")
        previz.takes._versions.cache_clear()
        return digest(folder)

    before = after("cli/program.py")
    assert after("predictions/findings.py") == before
    for room in ("frames/sensor.py", "scene/model.py", "delivery/slate.py", "units.py", *SHADERS):
        changed = after(room)
        assert changed != before
        before = changed
    previz.takes._versions.cache_clear()


def test_a_file_read_once_for_several_is_listed_for_each(folder: Path) -> None:
    """The answers of the layout are remembered; what they were read from is too."""
    from previz.files import read_files
    from previz.layout import open_files

    scene = read_scene(folder / "yard.yaml")
    listed = []
    for _ in range(2):
        with read_files() as read:
            open_files(scene)
        listed.append(dict(read))
    assert listed[0] == listed[1]
    assert {path.name for path in listed[0]} == {"tile.png", "wedge.obj", "paint.mtl"}
    assert key_of(sorted(listed[0].values())) == key_of(sorted(listed[1].values()))
