"""Kits of cameras that scenes share, zooms that lose light, and values written over a file's own."""

from pathlib import Path

import pytest

from previz.errors import PrevizError, SceneErrors
from previz.scene import SENSOR_FORMATS, Camera, FileUnits, Scene, read_kit, read_scene
from previz.scene.changes import changed, node_of

SCENE = """\
title: A scene with a kit
scale: 1:50
kit: kit.yaml
set: {table: {width: 1400 mm, depth: 700 mm}}
vehicle: {body: van, path: [[100 mm, 300 mm], [1300 mm, 300 mm]], speed: 1 m/s}
lights: [{id: room, ambient: 200 lx}]
shots:
  - {id: pass, camera: pocket, focal_length: 20 mm, f_number: 5.6, at: [700 mm, -150 mm, 45 mm], aim: vehicle,
     focus: 400 mm, capture: {rate: 120 fps}, duration: 0.1 s}
"""

KIT = """\
units: cm
cameras:
  pocket: {sensor: 1-inch, lens: 0.88-3.68 cm, widest: f/1.8, nearest: 5, modes: [1080p120]}
  phone: {sensor: 1/1.3-type, lens: 6.9 mm, widest: f/1.8, nearest: 12, modes: [4k60]}
"""


def read(folder: Path, scene: str = SCENE, kit: str | None = KIT, name: str = "kit.yaml") -> Scene:
    (folder / "scene.yaml").write_text(scene, encoding="utf-8")
    if kit is not None:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(kit, encoding="utf-8")
    return read_scene(folder / "scene.yaml")


def faults(folder: Path, scene: str = SCENE, kit: str | None = KIT) -> str:
    with pytest.raises(SceneErrors) as caught:
        read(folder, scene, kit)
    return str(caught.value).replace(str(folder), "")


def test_a_kit_s_cameras_are_those_of_the_scene_in_their_own_units(tmp_path: Path) -> None:
    scene = read(tmp_path)
    assert list(scene.cameras) == ["pocket", "phone"]
    assert scene.cameras["pocket"].nearest == pytest.approx(0.05)
    assert scene.cameras == read_kit(tmp_path / "kit.yaml")


def test_a_scene_has_its_own_cameras_before_the_kit_s(tmp_path: Path) -> None:
    own = "cameras: {mine: {sensor: APS-C, lens: 35 mm, widest: f/2, nearest: 300 mm, modes: [1080p60]}}\nshots:"
    assert list(read(tmp_path, SCENE.replace("shots:", own)).cameras) == ["mine", "pocket", "phone"]


def test_a_mode_reads_out_in_its_own_time_or_in_its_camera_s(tmp_path: Path) -> None:
    modes = "modes: [{mode: 1080p120, readout: 7 ms}, 4k60, {mode: 720p240, readout: 0 ms}], readout: 15 ms}"
    camera = read(tmp_path, kit=KIT.replace("modes: [1080p120]}", modes)).cameras["pocket"]
    assert [camera.readout_in(mode) for mode in camera.modes] == pytest.approx([0.007, 0.015, 0.0])
    phone = read(tmp_path).cameras["phone"]
    assert phone.readout_in(phone.modes[0]) is None


@pytest.mark.parametrize("own,said", [
    ("modes: [1080p120], readout: 16 ms}", "/kit.yaml:3: cameras.pocket.readout: 16 ms is longer than a frame of"),
    ("modes: [{mode: 1080p120, readout: 9 ms}]}", "/kit.yaml:3: cameras.pocket.modes[0].readout: 9 ms is longer than"),
])  # fmt: skip
def test_no_read_out_of_a_kit_is_longer_than_its_frame(own: str, said: str, tmp_path: Path) -> None:
    assert faults(tmp_path, kit=KIT.replace("modes: [1080p120]}", own)).startswith(said)


def test_our_own_kit_says_how_every_mode_reads_out() -> None:
    for camera in read_kit(Path(__file__).parents[2] / "scenes" / "kits" / "tabletop.yaml").values():
        for mode in camera.modes:
            assert 0 < (camera.readout_in(mode) or 0) <= mode.frame_time


def test_a_name_may_not_be_taken_twice(tmp_path: Path) -> None:
    own = "cameras: {phone: {sensor: APS-C, lens: 35 mm, widest: f/2, nearest: 300 mm, modes: [1080p60]}}\nshots:"
    assert faults(tmp_path, SCENE.replace("shots:", own)) == (
        "/scene.yaml:7: cameras.phone: is in the kit too (kit.yaml); give one of them another name"
    )


def test_of_a_name_taken_twice_the_scene_s_own_camera_is_read_too(tmp_path: Path) -> None:
    own = "cameras: {phone: {sensor: 1-inhc, lens: 35 mm, widest: f/2, nearest: 300 mm, modes: [1080p60]}}\nshots:"
    said = faults(tmp_path, SCENE.replace("shots:", own)).splitlines()
    assert len(said) == 2
    assert any(line.startswith("/scene.yaml:7: cameras.phone.sensor: ") for line in said)
    assert any(line.startswith("/scene.yaml:7: cameras.phone: is in the kit too") for line in said)


def test_a_shot_is_held_to_what_the_kit_s_camera_can(tmp_path: Path) -> None:
    said = faults(tmp_path, SCENE.replace("camera: pocket", "camera: phone"))
    assert "20 mm is not on the lens of phone, which has 6.9 mm" in said
    assert "120 fps is faster than phone records; its modes are 3840x2160 at 60 fps" in said
    assert "pokcet is not a camera of this file; did you mean pocket?" in faults(
        tmp_path, SCENE.replace("camera: pocket", "camera: pokcet")
    )


def test_a_kit_s_faults_are_told_with_its_own_name_and_line(tmp_path: Path) -> None:
    said = faults(tmp_path, kit=KIT.replace("nearest: 5,", "nearest: 5 kg,").replace("1/1.3-type", "1/0.5-type"))
    assert said.splitlines()[0].startswith("/kit.yaml:3: cameras.pocket.nearest: ")
    assert "/kit.yaml:4: cameras.phone.sensor: 1/0.5-type is not a size that sensors are sold by" in said
    assert faults(tmp_path, kit="") == "/kit.yaml: is empty; begin with cameras:"
    assert "needs a unit" in faults(tmp_path, kit=KIT.replace("units: cm\n", "")) or "unit" in faults(
        tmp_path, kit=KIT.replace("units: cm\n", "")
    )


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("missing.yaml", "kit: there is no file missing.yaml beside the scene"),
        ("../kit.yaml", "kit: ../kit.yaml lies outside the scene's folder"),
        ("/etc/hostname", "kit: /etc/hostname lies outside the scene's folder"),
        ("kit.txt", "kit: kit.txt is not a kit; a kit is a YAML file of cameras, like kit.yaml"),
        ("12", "kit: 12 is not a file name"),
    ],
)
def test_a_kit_that_cannot_be_used_is_the_only_thing_said(tmp_path: Path, name: str, said: str) -> None:
    (tmp_path / "kit.txt").write_text(KIT, encoding="utf-8")
    found = faults(tmp_path, SCENE.replace("kit.yaml", name)).splitlines()
    assert len(found) == 1, found
    assert found[0].startswith(f"/scene.yaml:3: {said}")


def test_a_kit_outside_the_folder_is_read_when_that_is_allowed(tmp_path: Path) -> None:
    (tmp_path / "kit.yaml").write_text(KIT, encoding="utf-8")
    inner = tmp_path / "scenes"
    inner.mkdir()
    (inner / "scene.yaml").write_text(SCENE.replace("kit.yaml", "../kit.yaml"), encoding="utf-8")
    assert "phone" in read_scene(inner / "scene.yaml", outside_files=True).cameras


def test_a_zoom_loses_light_in_proportion_to_its_focal_length(tmp_path: Path) -> None:
    slow = KIT.replace("widest: f/1.8, nearest: 5,", "widest: f/1.8, widest_at_longest: f/2.8, nearest: 5,")
    camera = read(tmp_path, kit=slow).cameras["pocket"]
    # 8.8 to 36.8 mm, f/1.8 to f/2.8: a quarter of the way, 15.8 mm, opens to f/2.05.
    assert camera.widest_at(0.0158) == pytest.approx(2.05)
    assert (camera.widest_at(0.0088), camera.widest_at(0.0368)) == pytest.approx((1.8, 2.8))
    assert "f/2 is wider than pocket opens at 20 mm; its widest is f/2.2" in faults(
        tmp_path, SCENE.replace("f_number: 5.6", "f_number: 2"), slow
    )
    assert "f/1.4 is wider than the widest, f/1.8" in faults(tmp_path, kit=slow.replace("f/2.8", "f/1.4"))


def test_formats_are_listed_from_large_to_small_and_have_a_shape_cameras_have() -> None:
    areas = [width * height for width, height in SENSOR_FORMATS.values()]
    assert areas == sorted(areas, reverse=True)
    assert all(1.25 < width / height < 1.6 for width, height in SENSOR_FORMATS.values())
    for name in SENSOR_FORMATS:
        Camera.model_validate(
            {"sensor": name, "lens": "5 mm", "widest": 2, "nearest": "50 mm", "modes": ["1080p60"]},
            context=FileUnits(None, None),
        )


def test_values_are_written_over_a_file_s_own(tmp_path: Path) -> None:
    (tmp_path / "kit.yaml").write_text(KIT, encoding="utf-8")
    path = tmp_path / "scene.yaml"
    path.write_text(SCENE, encoding="utf-8")
    scene = read_scene(
        path, changes={"shots[pass].f_number": "f/8", "shots[0].capture.iso": 200, "lights.room.ambient": "50 lx"}
    )
    assert (scene.shots[0].f_number, scene.shots[0].capture.iso, scene.lights[0].ambient) == (8.0, 200, 50.0)
    assert read_scene(path, changes={"shots[pass].duration": None}).shots[0].duration is None
    with pytest.raises(SceneErrors, match=r"scene.yaml:8: shots\[pass\]\.f_number: wide is not an f-number"):
        read_scene(path, changes={"shots[pass].f_number": "wide"})


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("shots[pas].f_number", "the scene has no pas there; did you mean pass"),
        ("shots[3].f_number", "the scene has no 3 there; there are pass"),
        ("shots..f_number", "is not a place in a scene file"),
    ],
)
def test_a_place_that_is_not_there_is_told(key: str, said: str) -> None:
    root = node_of({"shots": [{"id": "pass"}]}, 1)
    with pytest.raises(PrevizError, match=said):
        changed(root, {key: 1})


def test_an_editor_asks_for_cameras_or_a_kit() -> None:
    schema = Scene.model_json_schema()
    assert "cameras" not in schema["required"]
    assert {"required": ["kit"]} in schema["anyOf"]
