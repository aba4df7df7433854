"""Spellings in which people say things, read as what they mean: values from standards and data sheets, by hand."""

import math
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

import previz
from previz import units
from previz.cli import app
from previz.errors import SceneErrors
from previz.predictions.brief import brief_of_shot
from previz.scene import (
    Focus,
    Scene,
    edited,
    json_schema,
    key_groups,
    key_places,
    paced_by,
    read_scene,
    rewritten,
    setups_of,
)
from previz.scene.called import OF_THE_SET
from previz.scene.yaml_tree import read_tree

TEXT = """\
title: As people write it
scale: 1:50
units: mm
set: {table: {width: 1400, depth: 700}}
vehicle: {body: van, path: [[100, 300], [1300, 300]], speed: 0.5 m/s}
lights: [{id: room, ambient: 400 lx}]
cameras:
  pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50, modes: [1080p120]}
  phone: {sensor: 1/1.3-type, lens: 6.9 mm, widest: f/1.8, smallest: f/1.8, nearest: 120, modes: [1080p120]}
  prime: {sensor: full frame, lens: 50 mm, widest: f/1.8, nearest: 300, modes: [1080p120]}
shots:
  - id: pass
    camera: pocket
    focal_length: 20 mm
    f_number: 5.6
    at: [700, -150, 45]
    aim: vehicle
    focus: 400
    capture: {rate: 120 fps}
    start: 1 s
    duration: 0.5 s
"""
AWAY = """\
  - {id: away, camera: pocket, focal_length: 20 mm, f_number: 4, at: [700, -150, 45], aim: vehicle, focus: 400,
     capture: {rate: 24 fps}, start: 1 s, duration: 0.5 s}
"""


@cache
def check() -> Draft202012Validator:
    return Draft202012Validator(json_schema())


def written(tmp_path: Path, *changes: tuple[str, str], more: str = "") -> Path:
    text = TEXT + more
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = tmp_path / "scene.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def read(tmp_path: Path, *changes: tuple[str, str], more: str = "") -> Scene:
    """What is read is valid for an editor too."""
    path = written(tmp_path, *changes, more=more)
    assert [error.message for error in check().iter_errors(read_tree(path)[0].plain())] == []
    return read_scene(path)


def faults(tmp_path: Path, *changes: tuple[str, str], more: str = "") -> list[str]:
    with pytest.raises(SceneErrors) as caught:
        read_scene(written(tmp_path, *changes, more=more))
    return [f"{fault.key}: {fault.message}" for fault in caught.value.faults]


# --- lenses ---


@pytest.mark.parametrize(
    ("sensor", "crop"),
    [
        # Crop factors by their diagonals as commonly tabulated: sizes from memory, crops worked out from them.
        ("1-inch", 2.73),
        ("4/3-type", 2.00),
        ("APS-C", 1.53),
        ("1/2.3-type", 5.64),
        ("full frame", 1.0),
    ],
)
@pytest.mark.parametrize("written_so", ["24-70 mm equivalent", "24–70 mm equiv.", "24 mm - 70 mm eq"])
def test_a_lens_by_its_equivalent_goes_by_the_diagonal(
    tmp_path: Path, sensor: str, crop: float, written_so: str
) -> None:
    shot = f"{40 / crop:.3f} mm"
    scene = read(
        tmp_path, ("sensor: 1-inch, lens: 8.8-36.8 mm", f"sensor: {sensor}, lens: {written_so}"), ("20 mm", shot)
    )
    lens = scene.cameras["pocket"].lens
    assert (lens.shortest, lens.longest) == pytest.approx(
        (0.024 / crop, 0.070 / crop), rel=0.003
    )  # the crop's last digit


@pytest.mark.parametrize(
    ("on_it", "lengths", "stops"),
    [
        ("12-40 mm f/2.8", (12, 40), (2.8, None)),
        ("14-42 mm f/3.5-5.6", (14, 42), (3.5, 5.6)),
        ("'14-42mm 1:3.5-5.6'", (14, 42), (3.5, 5.6)),
        ("18–55 mm F3.5 - F5.6", (18, 55), (3.5, 5.6)),
        ("35mm f2", (35, 35), (2, None)),
        ("'f = 40 mm 1:1.4'", (40, 40), (1.4, None)),
        ("f/1.8 25 mm", (25, 25), (1.8, None)),
        ("18-55mm 3.5-5.6", (18, 55), (3.5, 5.6)),
        ("35mm 1.8", (35, 35), (1.8, None)),
        ("24 to 70 f/4", (24, 70), (4, None)),
        ("'24 mm-equivalent, f/1.8'", (24 / 2.727, 24 / 2.727), (1.8, None)),  # over the crop factor of a 1-inch sensor
    ],
)
def test_a_lens_is_written_as_it_stands_on_it(
    tmp_path: Path, on_it: str, lengths: tuple[float, float], stops: tuple[float, float | None]
) -> None:
    shot = f"focal_length: {lengths[0]} mm" if lengths[0] != lengths[1] else ""
    camera = read(tmp_path, ("8.8-36.8 mm, widest: f/1.8", on_it), ("focal_length: 20 mm", shot)).cameras["pocket"]
    assert (camera.lens.shortest * 1000, camera.lens.longest * 1000) == pytest.approx(lengths, rel=1e-3)
    assert (camera.widest, camera.widest_at_longest) == stops


def test_a_phone_s_lens_as_it_is_sold_leaves_nothing_to_set(tmp_path: Path) -> None:
    """24 mm over a crop factor of 43.267 / 12.220 (diagonals of 36 x 24 and 9.8 x 7.3 mm), by hand."""
    change = ("6.9 mm, widest: f/1.8", "24 mm equivalent f/1.8")
    shot = read(tmp_path, change, ("camera: pocket", "camera: phone"), ("focal_length: 20 mm", ""), (
        "f_number: 5.6", ""
    )).shots[0]  # fmt: skip
    assert shot.focal_length == pytest.approx(6.778e-3, rel=1e-3) and shot.f_number == 1.8


@pytest.mark.parametrize(
    ("on_it", "said"),
    [
        ("12-40 mm f/2.8 macro", "12-40 mm f/2.8 macro is not a lens; take macro out, and write its focal length or"),
        ("12-40 mm T2.8", "they stand on it: 35 mm, 12-40 mm f/2.8, 14-42 mm f/3.5-5.6, or 24 mm equivalent f/1.8"),
        ("f/2.8", "f/2.8 is not a lens; write its focal length"),
        ("24 mm f/1.8 equivalent", "is not a lens; take equivalent out"),
    ],
)
def test_what_is_no_lens_is_told_what_is(tmp_path: Path, on_it: str, said: str) -> None:
    (told,) = faults(tmp_path, ("8.8-36.8 mm", on_it))
    assert told.startswith("cameras.pocket.lens: ") and said in told


@pytest.mark.parametrize(
    ("on_it", "beside", "agree"),
    [
        ("8.8-36.8 mm f/2", "widest: f/2", True),
        ("8.8-36.8 mm f/2-4", "widest: f/2, widest_at_longest: 4", True),
        ("8.8-36.8 mm f/2-4", "widest: f/2-4", True),
        ("8.8-36.8 mm f/2.8", "widest: f/2", False),
        ("8.8-36.8 mm f/2", "widest: f/2-4", False),
    ],
)
def test_a_stop_that_is_said_twice_is_said_alike(tmp_path: Path, on_it: str, beside: str, agree: bool) -> None:
    change = ("8.8-36.8 mm, widest: f/1.8", f"{on_it}, {beside}")
    if agree:
        assert read(tmp_path, change).cameras["pocket"].widest == 2
    else:
        assert "and widest says it otherwise; keep one of them" in faults(tmp_path, change)[0]


@pytest.mark.parametrize("sold", ['"1/1.28\\""', "1/1.28", "1/1.28-inch", "1/1.28 in", "1/1.28 type"])
def test_a_sensor_as_it_is_sold_has_about_that_size_and_check_says_so(tmp_path: Path, sold: str) -> None:
    # By hand: 16 mm of diagonal to the inch are 12.5 mm, which is 10 by 7.5 mm
    scene = read(tmp_path, ("sensor: 1-inch", f"sensor: {sold}"))
    assert scene.cameras["pocket"].sensor == pytest.approx((0.010, 0.0075), rel=1e-4)
    lines = dict(brief_of_shot(scene, scene.shots[0], previz.predict(scene, remedies=False).shots[0].figures))
    assert "10 x 7.5 mm" in lines["sensor"]
    named = read(tmp_path, ("sensor: 1-inch", "sensor: 1/1.3"))
    assert named.cameras["pocket"].sensor == pytest.approx((0.0098, 0.0073), rel=1e-6)  # as tabulated
    assert "sensor" not in dict(
        brief_of_shot(named, named.shots[0], previz.predict(named, remedies=False).shots[0].figures)
    )


@pytest.mark.parametrize(
    ("name", "size"),
    [
        # As commonly tabulated (from memory); of full frame AS ISO 20954.1:2019, 3.5 (as quoted).
        ("MFT", (17.3, 13.0)),
        ("micro four thirds", (17.3, 13.0)),
        ("Micro-Four-Thirds", (17.3, 13.0)),
        ("Full-Frame", (36.0, 24.0)),
        ("super35", (24.9, 18.7)),
        ("APSC", (23.6, 15.6)),
        ("1 inch", (13.2, 8.8)),
        ("'1/2.3\"'", (6.17, 4.55)),
    ],
)
def test_a_sensor_by_its_trade_name_however_it_is_written(tmp_path: Path, name: str, size: tuple[float, float]) -> None:
    sensor = read(tmp_path, ("sensor: 1-inch", f"sensor: {name}")).cameras["pocket"].sensor
    assert [1000 * side for side in sensor] == pytest.approx(size)


@pytest.mark.parametrize(("front", "instead"), [("+z", "-y"), ("-z", "+y")])
def test_a_front_that_points_up_or_down_is_told_what_to_write(tmp_path: Path, front: str, instead: str) -> None:
    """The glTF 2.0 specification, 3.4: an asset's front faces +Z, its up is +Y. Once y is up, that is -y."""
    own = f"mesh: car.glb, front: {front}, length: 90 mm"
    said = next(each for each in faults(tmp_path, ("body: van", own)) if "front" in each)
    assert f"is written {instead}" in said and "change up:" in said and "+x, -x, +y or -y" in said


def test_a_size_that_no_sensor_is_sold_by_is_refused(tmp_path: Path) -> None:
    for sold in ("1/40", "3/1", "1/0.5-type"):
        (said,) = faults(tmp_path, ("sensor: 1-inch", f"sensor: {sold}"))
        assert "is not a size that sensors are sold by, which are 1/10 to 4/3; write [width, height]" in said
    (said,) = faults(tmp_path, ("sensor: 1-inch", "sensor: APS"))
    assert "did you mean APS-C?" in said and "1/1.28" in said


def test_a_focal_length_by_its_equivalent_is_one_of_the_lens(tmp_path: Path) -> None:
    """By hand: 50 mm over the 1-inch type's 2.73 is 18.3 mm. `check` says the equivalent of every focal length."""
    scene = read(tmp_path, ("focal_length: 20 mm", "focal_length: 50 mm equivalent"))
    assert scene.shots[0].focal_length == pytest.approx(0.0183, rel=0.002)
    assert previz.predict(scene, remedies=False).shots[0].value("equivalent_focal_length") == pytest.approx(
        0.050, rel=1e-4
    )
    result = CliRunner().invoke(app, ["check", str(tmp_path / "scene.yaml")], env={"COLUMNS": "80"})
    assert "pocket: 18.3 mm (50 mm equivalent), f/5.6" in result.stdout
    assert faults(tmp_path, ("focal_length: 20 mm", "focal_length: 20 mm equivalent")) == [
        "shots[pass].focal_length: 7.3333 mm is not on the lens of pocket, which has 8.8 mm to 36.8 mm; choose a focal "
        "length it has"
    ]


def test_a_zoom_that_loses_light_is_written_as_on_its_ring(tmp_path: Path) -> None:
    for form in ("f/2.8-4", "f/2.8 - f/4", "2.8–4"):
        camera = read(tmp_path, ("8.8-36.8 mm, widest: f/1.8", f"8.8-36.8 mm, widest: {form}")).cameras["pocket"]
        assert (camera.widest, camera.widest_at_longest) == (2.8, 4.0)
    (fault,) = faults(tmp_path, ("8.8-36.8 mm, widest: f/1.8", "8.8-36.8 mm, widest: f/4-2.8"))
    assert "f/2.8 is wider than the widest, f/4" in fault
    (fault,) = faults(tmp_path, ("36.8 mm, widest: f/1.8", "36.8 mm, widest: f/2.8-4, widest_at_longest: f/4"))
    assert "f/2.8-4 says it of both ends of the zoom; take widest_at_longest out" in fault
    # A shot wider than its lens opens there is found as with the two keys: 20 mm is 0.4 of the way, f/3.28.
    found = faults(tmp_path, ("8.8-36.8 mm, widest: f/1.8", "8.8-36.8 mm, widest: f/2.8-4"), ("5.6", "2.8"))
    assert found == ["shots[pass].f_number: f/2.8 is wider than pocket opens at 20 mm; its widest is f/3.28"]


def test_what_a_camera_leaves_no_choice_in_need_not_be_said(tmp_path: Path) -> None:
    plain = ("    focal_length: 20 mm\n    f_number: 5.6\n", "")
    phone = read(tmp_path, ("camera: pocket", "camera: phone"), plain)
    assert (phone.shots[0].focal_length, phone.shots[0].f_number) == (phone.cameras["phone"].lens.longest, 1.8)
    prime = read(
        tmp_path, ("camera: pocket", "camera: prime"), ("    focal_length: 20 mm\n", ""), ("focus: 400", "focus: 600")
    )
    assert (prime.shots[0].focal_length, prime.shots[0].f_number) == (0.050, 5.6)
    # Written over its file, the shot is asked again.
    with pytest.raises(SceneErrors, match=r"shots\[pass\]\.focal_length: is missing"):
        rewritten(phone, {"shots[pass].camera": "pocket"})


def test_what_a_camera_leaves_a_choice_in_is_asked_for(tmp_path: Path) -> None:
    plain = ("    focal_length: 20 mm\n    f_number: 5.6\n", "")
    assert faults(tmp_path, plain) == [
        "shots[pass].f_number: is missing; write it, like f_number: f/5.6 (pocket has f/1.8 to f/22)",
        "shots[pass].focal_length: is missing; write it, like focal_length: 20 mm (pocket has 8.8 mm to 36.8 mm)",
    ]
    (fault,) = faults(tmp_path, ("camera: pocket", "camera: prime"), plain, ("focus: 400", "focus: 600"))
    assert fault.startswith("shots[pass].f_number: is missing")
    # Of a camera that is not there nobody knows what it leaves.
    (fault,) = faults(tmp_path, ("camera: pocket", "camera: phon"), plain)
    assert "phon is not a camera of this file; did you mean phone?" in fault
    (fault,) = faults(tmp_path, ("camera: pocket", "camera: phone"), plain, ("focus: 400", "focus: 6"))
    assert "6 mm is too near; a 6.9 mm lens cannot focus nearer" in fault


def test_what_is_like_a_phone_has_one_stop_unless_it_is_said_to_close(tmp_path: Path) -> None:
    films, open_ended = ("camera: pocket", "camera: phone"), ("smallest: f/1.8, ", "")
    plain = ("    focal_length: 20 mm\n    f_number: 5.6\n", "")
    scene = read(tmp_path, films, plain, open_ended)
    assert scene.cameras["phone"].smallest == scene.shots[0].f_number == 1.8
    assert scene.cameras["prime"].smallest == 22  # one focal length, but a large sensor
    (fault,) = faults(tmp_path, films, plain, open_ended, ("sensor: 1/1.3-type", "sensor: phone"))
    assert fault.startswith("cameras.phone.sensor: phone is not")  # and no stop is asked for
    longer = ("focal_length: 20 mm", "focal_length: 6.9 mm")
    (fault,) = faults(tmp_path, films, longer, open_ended)
    assert fault.endswith("which does not close; if it does, say so of phone, like smallest: f/16")
    closes = ("smallest: f/1.8, ", "smallest: f/8, ")
    assert read(tmp_path, films, longer, closes).shots[0].f_number == 5.6
    (fault,) = faults(tmp_path, films, plain, closes)
    assert fault == "shots[pass].f_number: is missing; write it, like f_number: f/5.6 (phone has f/1.8 to f/8)"


def test_what_a_phone_s_box_does_not_say_is_not_told_by_another_camera_s(tmp_path: Path) -> None:
    """By its equivalent; a camera that has its real focal length is answered with an example, as ever."""
    for lens, sensor, nearest in (
        ("26 mm equivalent f/1.9", "mostly is 1/1.3 to 1/1.7 (common practice, no source)", "like nearest: 10 cm"),
        (
            "26 mm f/1.9",
            "write it, like sensor: 1-inch",
            "stands in the data sheet of the lens, mostly from the sensor",
        ),
    ):
        found = faults(tmp_path, ("cameras:\n", f"cameras:\n  own: {{lens: {lens}, modes: [1080p120]}}\n"))
        keys = [fault.partition(": is missing; ")[0].rpartition(".")[2] for fault in found]
        assert keys == ["nearest", "sensor"]
        assert nearest in found[0] and sensor in found[1]
    for name in ("phone", "Smart-phone"):
        camera = f"{{sensor: {name}, lens: 26 mm equivalent f/1.9, nearest: 10 cm, modes: [1080p120]}}"
        (fault,) = faults(tmp_path, ("cameras:\n", f"cameras:\n  own: {camera}\n"))
        assert f"{name} is not a sensor format; look it up by the model's name: " in fault and "1/1.56" in fault


@pytest.mark.parametrize("moment", ["at the start", "at noon", "by the tree"])
def test_a_focus_at_no_time_is_told_once_with_how_to_find_it(moment: str, tmp_path: Path) -> None:
    for key in ("focus: 400", "aim: vehicle"):
        (fault,) = faults(tmp_path, (key, f"{key.partition(':')[0]}: vehicle {moment}"))
        assert f"vehicle {moment} does not say the moment as a time on set; write it like vehicle at 0.9 s: " in fault
        assert "Or focus on vehicle mid-frame" in fault


@pytest.mark.parametrize(
    "moment", ["mid-frame", "at mid-frame", "in the middle", "mid-shot", "Mid Picture", "in the middle of the picture"]
)
def test_a_focus_on_the_vehicle_mid_frame_is_read_and_an_aim_is_not(moment: str, tmp_path: Path) -> None:
    scene = read(tmp_path, ("focus: 400", f"focus: vehicle {moment}"), ("aim: vehicle", "aim: [700, 300, 40]"))
    focus = scene.shots[0].focus
    assert isinstance(focus, Focus) and focus.target is not None
    assert focus.target.said_of_vehicle == "vehicle mid-frame"
    (fault,) = faults(tmp_path, ("aim: vehicle", f"aim: vehicle {moment}"))
    assert "the vehicle mid-frame says nothing; write vehicle, to follow it, vehicle at 0.9 s or [x, y, z]" in fault


def test_a_phone_of_a_kit_needs_them_no_more(tmp_path: Path) -> None:
    own = "{sensor: 1-inch, lens: 24 mm equivalent, widest: f/2, smallest: f/2, nearest: 50, modes: [1080p120]}"
    kit = f"title: Cupboard\nunits: mm\ncameras:\n  own: {own}\n"
    (tmp_path / "kit.yaml").write_text(kit, encoding="utf-8")
    scene = read(
        tmp_path, ("units: mm\n", "units: mm\nkit: kit.yaml\n"), ("camera: pocket", "camera: own"),
        ("    focal_length: 20 mm\n    f_number: 5.6\n", ""),
    )  # fmt: skip
    assert (scene.shots[0].focal_length, scene.shots[0].f_number) == (pytest.approx(0.0088, rel=1e-3), 2.0)


# --- scales ---

#: NEM 010 (2011), as seen in copies of it: the scale's letters, its ratio and its gauge for standard gauge. [mm]
NEM_010 = {"Z": (220, 6.5), "N": (160, 9.0), "TT": (120, 12.0), "H0": (87, 16.5), "S": (64, 22.5), "0": (45, 32.0),
           "I": (32, 45.0), "II": (22.5, 64.0)}  # fmt: skip


@pytest.mark.parametrize("name", NEM_010)
def test_a_scale_goes_by_its_letters(tmp_path: Path, name: str) -> None:
    ratio, gauge = NEM_010[name]
    scale = read(tmp_path, ("scale: 1:50", f'scale: "{name}"')).scale
    assert scale == ratio
    assert gauge * scale == pytest.approx(1435, rel=0.01)  # standard gauge is 1435 mm


@pytest.mark.parametrize(
    ("name", "ratio"),
    [
        ("HO", 87.086),  # NMRA S-1.2, 3.5 mm to the foot, as quoted: 304.8 / 3.5
        ("O", 48),  # NMRA S-1.2, as quoted
        ("OO", 76.2),  # 4 mm to the foot, as quoted
        ("72 mm for 4.5 m", 62.5),  # by hand
        ("3.5 mm to 1 ft", 87.086),
        ("2 7/8 in for 15 ft", 62.609),  # by hand: 180 / 2.875
    ],
)
def test_a_scale_by_a_ratio_of_lengths_or_american_letters(tmp_path: Path, name: str, ratio: float) -> None:
    scene = read(tmp_path, ("scale: 1:50", f"scale: {name}"))
    assert scene.scale == pytest.approx(ratio, abs=5e-4)
    # The scale stands before what is divided by it.
    lane = read(tmp_path, ("scale: 1:50", f"scale: {name}"), ("body: van,", "body: van, length: 5 m full size,"))
    assert lane.vehicle_length == pytest.approx(5 / ratio, rel=1e-5)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("0", 'nought is written in quotes, "0"'),
        ("4.5 m for 72 mm", "is not a scale from 1:1 to 1:2000"),
        ("72 mm for", "72 mm for 4.5 m"),
        ("72 for 4500", "72 has no unit"),
        ("0 mm for 4 m", "both must be above nothing"),
        ("G", "by its letters (Z, N, TT, H0, HO, OO, 00, S, 0, O, I, II, III)"),
    ],
)
def test_what_is_no_scale_is_told_with_all_that_is(tmp_path: Path, name: str, said: str) -> None:
    (fault,) = faults(tmp_path, ("scale: 1:50", f"scale: {name}"))
    assert fault.startswith("scale: ") and said in fault


# --- speed as it is to look ---


def test_a_speed_on_screen_is_driven_so_that_it_looks_so(tmp_path: Path) -> None:
    """The VES Handbook's worked example, appendix A, "Miniatures", seen: 36 mph at 1:6, filmed 2.5 times as fast as it
    is shown, is 22 feet a second on set."""
    scene = read(tmp_path, ("1:50", "1:6"), ("0.5 m/s", "36 mph on screen"), ("{rate: 120 fps}", "{rate: 60 fps}"))
    assert scene.vehicle is not None and scene.vehicle.speed == pytest.approx(22 * 0.3048, rel=1e-9)
    assert previz.predict(scene, remedies=False).shots[0].value("apparent_speed") == pytest.approx(36 * 0.44704)
    faster = rewritten(scene, {"shots[pass].capture.rate": "120 fps"})
    assert faster.vehicle is not None and faster.vehicle.speed == pytest.approx(44 * 0.3048)


def test_nothing_in_no_unit_is_valid_for_an_editor_too(tmp_path: Path) -> None:
    scene = read(tmp_path, ("0.5 m/s", "0"))
    assert scene.vehicle is not None and scene.vehicle.stands


def test_shots_that_slow_it_differently_are_told_apart(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, ("0.5 m/s", "30 km/h on screen"), more=AWAY)
    assert fault == (
        "vehicle.speed: 30 km/h on screen: shots that are slowed differently show it at different speeds (pass 5 "
        "times, away 1 times); say in which, like 30 km/h on screen in pass"
    )
    scene = read(tmp_path, ("0.5 m/s", "30 km/h on screen in away"), more=AWAY)
    assert scene.vehicle is not None and scene.vehicle.speed == pytest.approx(30 / 3.6 / 50)
    # What one shot has otherwise can only be meant as it looks in that shot.
    own = AWAY.replace("{id: away", "{id: away, vehicle: {speed: 60 km/h on screen}")
    scene = read(tmp_path, ("0.5 m/s", "30 km/h on screen in pass"), more=own)
    speeds = [each.scene.vehicle.speed for each in setups_of(scene)]  # type: ignore[union-attr]
    assert speeds == [pytest.approx(5 * 30 / 3.6 / 50), pytest.approx(60 / 3.6 / 50)]
    (fault,) = faults(tmp_path, ("0.5 m/s", "30 km/h on screen in awya"), more=AWAY)
    assert "awya is not a shot of this file; did you mean away?" in fault
    (fault,) = faults(tmp_path, ("0.5 m/s", "fast on screen"))
    assert "fast is not a speed" in fault
    for wrong in (("120 fps", "soon"), ("{rate: 120 fps}", "{rate: 120 fps}\n    playback: real time")):  # told alone
        (fault,) = faults(tmp_path, ("0.5 m/s", "30 km/h on screen in pass"), wrong)
        assert "is not a frame rate" in fault


LAUNCHED = "vehicle: {launch: {ramp: {height: 100 mm, length: 400 mm}}}"


@pytest.mark.parametrize("otherwise", [LAUNCHED, "vehicle: {speed: 0.3 m/s}", "without: [vehicle]"])
def test_a_shot_that_has_it_go_otherwise_has_no_say_in_a_speed_on_screen(tmp_path: Path, otherwise: str) -> None:
    """30 km/h at 1:50, five times slowed in the one shot that shows it so."""
    own = AWAY.replace("{id: away, ", f"{{id: away, {otherwise}, ").replace("aim: vehicle", "aim: [700, 300, 20]")
    for said in ("30 km/h on screen", "30 km/h on screen in pass"):
        scene = read(tmp_path, ("0.5 m/s", said), more=own)
        assert [each.scene.vehicle.speed for each in setups_of(scene) if "pass" in each.shots] == [  # type: ignore[union-attr]
            pytest.approx(5 * 30 / 3.6 / 50)
        ]
        assert paced_by(scene, scene.shot("pass")) == paced_by(scene, scene.shot("away")) == ()
        # And the rate of that shot changes nothing of it.
        assert rewritten(scene, {"shots[away].capture.rate": "120 fps"}).vehicle == scene.vehicle
        faster = rewritten(setups_of(scene)[0].scene, {"shots[pass].capture.rate": "60 fps"})
        assert faster.vehicle is not None and faster.vehicle.speed == pytest.approx(2.5 * 30 / 3.6 / 50)


@pytest.mark.parametrize(("otherwise", "why"), [(LAUNCHED, "lets it go on a ramp"),
                                                ("without: [vehicle]", "does without it")])  # fmt: skip
def test_a_speed_as_it_looks_where_it_is_not_shown_is_refused(tmp_path: Path, otherwise: str, why: str) -> None:
    own = AWAY.replace("{id: away, ", f"{{id: away, {otherwise}, ").replace("aim: vehicle", "aim: [700, 300, 20]")
    (fault,) = faults(tmp_path, ("0.5 m/s", "30 km/h on screen in away"), more=own)
    assert fault == (
        f"vehicle.speed: 30 km/h on screen in away: away {why}, so that no shot shows it at that speed; say "
        "30 km/h on screen in pass"
    )
    both = own + own.replace("id: away", "id: after").replace("24 fps", "48 fps")
    every = ("  - id: pass\n", f"  - id: pass\n    {otherwise}\n")
    (fault,) = faults(
        tmp_path, ("0.5 m/s", "30 km/h on screen"), every, ("aim: vehicle", "aim: [700, 300, 20]"), more=both
    )
    assert fault.endswith("30 km/h on screen: no shot shows it at that speed; write one on set, like 0.5 m/s")


def test_another_vehicle_goes_by_the_shots_that_show_it(tmp_path: Path) -> None:
    """It leads a shot of its own, and is told apart by its name there too: 20 km/h at 1:50, five times slowed."""
    own = AWAY.replace(
        "{id: away, ", "{id: away, vehicles: {tram: {launch: {ramp: {height: 80 mm, length: 300 mm}}}}, "
    )
    leads = AWAY.replace("{id: away, ", "{id: lead, subject: tram, ").replace("24 fps", "120 fps")
    tram = "\nvehicles: {tram: {body: bus, path: [[1300, 380], [100, 380]], speed: 20 km/h on screen}}"
    scene = read(tmp_path, ("speed: 0.5 m/s}", "speed: 0.5 m/s}" + tram), more=own + leads)
    found = {shot: each.scene for each in setups_of(scene) for shot in each.shots}
    speed = pytest.approx(5 * 20 / 3.6 / 50)
    assert found["lead"].vehicle.speed == found["pass"].vehicles["tram"].speed == speed  # type: ignore[union-attr,index]
    assert [paced_by(scene, scene.shot(each)) for each in ("pass", "away", "lead")] == [
        ("vehicles.tram.speed",), (), ("vehicles.tram.speed",),
    ]  # fmt: skip


# --- light ---


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ("{id: room, ambient: 400 lx}", "{id: room, ambient: 60 W}", "reads lux (lx)"),
        ("speed: 0.5 m/s", "speed: 0.5 m/s, headlamps: 3 W", "its lumens (lm) mostly stand on its box"),
        (
            "{id: room, ambient: 400 lx}",
            "{id: key, panel: [300, 200], at: [0, 0, 900], aim: [700, 330, 0], output: 10 watts}",
            "guess and measure later: an LED lamp or panel gives some 80 to 100 lm for each watt",
        ),
        *(
            (
                "{id: room, ambient: 400 lx}",
                f"{{id: key, {lamp}, at: [0, 0, 900], aim: [700, 330, 0]}}",
                "an LED lamp or panel gives some 80 to 100 lm for each watt",
            )
            for lamp in ("LED panel: 60 W", "panel: [300, 200], output: 60 W LED", "panel: [300, 200], output: LED 60W")
        ),
    ],
)
def test_watts_are_told_from_lumens(tmp_path: Path, old: str, new: str, where: str) -> None:
    (fault,) = faults(tmp_path, (old, new))
    assert "watts say what a lamp draws, not how much light it gives" in fault and where in fault
    assert "806" not in fault  # of another lamp


def test_lumens_are_written_out(tmp_path: Path) -> None:
    lamp = "{id: key, panel: [300, 200], at: [0, 0, 900], aim: [700, 330, 0], output: %s}"
    for form in ("800 lumen", "800 lumens", "800 Lumens", "0.8 klm"):
        (light,) = read(tmp_path, ("{id: room, ambient: 400 lx}", lamp % form)).lights
        assert light.output.flux == 800


def test_the_mains_of_a_lamp_and_those_of_the_scene_name_each_other(tmp_path: Path) -> None:
    for form in ("50 Hz", "50Hz", "60"):
        (fault,) = faults(tmp_path, ("ambient: 400 lx", f"ambient: 400 lx, mains: {form}"))
        assert fault.startswith(
            f"lights[room].mains: {form} is the same for every lamp: write mains: {form[:2]} Hz once, at"
        )
        assert "mains: true for a lamp" in fault
    (fault,) = faults(tmp_path, ("units: mm\n", "units: mm\nmains: true\n"))
    assert "write 50 Hz or 60 Hz; which lamps it feeds, each lamp says (mains: true)" in fault
    # What both say is read.
    scene = read(
        tmp_path, ("units: mm\n", "units: mm\nmains: 60 Hz\n"), ("ambient: 400 lx", "ambient: 400 lx, mains: true")
    )
    assert (scene.mains, scene.lights[0].mains) == (60, True)


def test_nothing_needs_no_unit(tmp_path: Path) -> None:
    post = "dressing: [{id: post, piece: lamp_post, at: [300, 500], turn: 0, lit: 0}]\nvehicle:"
    scene = read(tmp_path, ("vehicle:", post), ("start: 1 s", "start: 0"))
    assert scene.shots[0].start == 0
    (fault,) = faults(tmp_path, ("start: 1 s", "start: 1"))
    assert fault.endswith("1 has no unit; write one, such as 1 s")
    (fault,) = faults(tmp_path, ("duration: 0.5 s", "duration: 0"))
    assert "0 is out of range; it must be more than 0 s" in fault


@pytest.mark.parametrize("sides", ["1.6 m x 0.8 m", "1600 × 800 mm", "1600 by 800"])
def test_a_table_is_so_wide_by_so_deep(tmp_path: Path, sides: str) -> None:
    table = read(tmp_path, ("{width: 1400, depth: 700}", sides)).set.table
    assert (table.width, table.depth) == pytest.approx((1.6, 0.8))
    told = faults(tmp_path, ("{width: 1400, depth: 700}", "30 m x 0.8 m"))
    assert any("set.table.width" in each for each in told)


@pytest.mark.parametrize(
    "mode", ["1080p at 240 fps", "240 fps at 1080p", "1080p @240", "1080p@240 fps", "240fps in 1920x1080", "1080p 240"]
)
def test_a_mode_is_a_size_and_a_rate_in_either_order(tmp_path: Path, mode: str) -> None:
    change = ("50, modes: [1080p120]", f"50, modes: ['{mode}']")
    (found,) = read(tmp_path, change).cameras["pocket"].modes
    assert (found.width, found.height, found.fastest) == (1920, 1080, 240)


def test_a_shutter_in_degrees(tmp_path: Path) -> None:
    shot = read(tmp_path, ("{rate: 120 fps}", "{rate: 120 fps, shutter: 180 degrees}")).shots[0]
    assert shot.capture.exposure_time == pytest.approx(1 / 240)


@pytest.mark.parametrize(("own", "lumens"), [("", 1200 / 50**2), ("scale: 1:20, ", 1200 / 20**2)])
def test_headlamps_that_are_on_light_their_road_as_real_ones_do(tmp_path: Path, own: str, lumens: float) -> None:
    """What is lit lies so many times nearer, so that a lamp of 1 / S^2 gives as many lux."""
    drives = ("speed: 0.5 m/s", f"{own}speed: 0.5 m/s, headlamps: on")
    vehicle = read(tmp_path, drives).vehicle
    assert vehicle is not None and vehicle.headlamps == pytest.approx(lumens)
    off = read(tmp_path, ("speed: 0.5 m/s", "speed: 0.5 m/s, headlamps: off")).vehicle
    assert off is not None and off.headlamps == 0
    (fault,) = faults(tmp_path, ("speed: 0.5 m/s", "speed: 0.5 m/s, headlamps: bright"))
    assert fault.endswith("bright is not a light output; write it like 0.5 lm")


def test_a_lamp_s_light_in_percent_is_asked_for_in_lumens(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, ("duration: 0.5 s", "duration: 0.5 s\n    lights: {room: dim 10 %}"))
    assert "dim 10 % is not the light of a lamp" in fault and "600 lm" in fault and "1 stop} is half" in fault


# --- millimetres of a lens in a file in other units ---

IN_CM = ("units: mm", "units: cm")


@pytest.mark.parametrize(
    ("old", "new", "meant"),
    [
        ("lens: 8.8-36.8 mm", "lens: 18-55", "18-55 mm"),
        ("lens: 8.8-36.8 mm", "lens: 24-70 equivalent", "24-70 mm equivalent"),
        ("lens: 50 mm", "lens: 50", "50 mm"),
        ("sensor: full frame", "sensor: [36, 24]", "[36 mm, 24 mm]"),
        ("focal_length: 20 mm", "focal_length: 20", "20 mm"),
        ("focal_length: 20 mm", "focal_length: 35 equivalent", "35 mm equivalent"),
    ],
)
def test_a_lens_in_no_unit_is_not_read_in_centimetres(tmp_path: Path, old: str, new: str, meant: str) -> None:
    (fault,) = faults(tmp_path, IN_CM, (old, new))
    assert "has no unit, and a bare length in this file is in cm" in fault and f"did you mean {meant}?" in fault
    read(tmp_path, ("focal_length: 20 mm", "focal_length: 20"))  # in a file in millimetres it is plain


def test_a_zoom_in_no_unit_is_told_once(tmp_path: Path) -> None:
    """In a file without `units` each length has its own; both ends of the zoom are one slip."""
    text = re.sub(r"(?<![:/\w.\"])\b(\d+)(?=[,\]}\n])", r"\1 mm", TEXT).replace("units: mm\n", "")
    text = text.replace("f_number: 5.6 mm", "f_number: 5.6").replace("lens: 8.8-36.8 mm", "lens: 8.8-36.8")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(SceneErrors) as caught:
        read_scene(tmp_path / "scene.yaml")
    (fault,) = caught.value.faults
    assert fault.key == "cameras.pocket.lens" and "did you mean 8.8-36.8 mm?" in fault.message


# --- one slip of spelling, one message ---


def _without_a_letter() -> list[tuple[int, str]]:
    """Every key of the text above in turn, its second letter left out: where it stands, and the key."""
    found = [(each.start(1), each[1]) for each in re.finditer(r"([a-z_]{4,}):", TEXT)]
    named = {"pocket", "phone", "prime"}  # these are the maker's own words
    return [(place, key) for place, key in found if key not in named]


def test_a_misspelt_key_is_told_once_and_not_by_all_that_then_is_missing(tmp_path: Path) -> None:
    path, tried = tmp_path / "scene.yaml", 0
    for place, key in _without_a_letter():
        path.write_text(TEXT[: place + 1] + TEXT[place + 2 :], encoding="utf-8")
        with pytest.raises(SceneErrors) as caught:
            read_scene(path)
        (fault,) = caught.value.faults
        assert f"did you mean {key}" in fault.message and fault.line == TEXT.count("\n", 0, place) + 1
        tried += 1
    assert tried > 30


def test_what_else_is_wrong_under_a_misspelt_key_is_told_too(tmp_path: Path) -> None:
    told = faults(tmp_path, ("vehicle: {body: van", "vehcle: {body: vann"), ("{rate: 120 fps}", "{rte: 120 fsp}"))
    assert sorted(each.partition(";")[0] for each in told) == [
        "shots[pass].capture.rate: 120 fsp is not a frame rate",
        "shots[pass].capture.rte: is not a key here",
        "vehcle: is not a key here",
        "vehicle.body: vann is not a body",
    ]


def test_what_belongs_to_the_road_is_not_looked_for_among_the_pieces(tmp_path: Path) -> None:
    places = {place for place, _ in key_places()}
    for word, place in OF_THE_SET.items():
        (told,) = faults(tmp_path, ("vehicle:", f"dressing: [{{id: it, piece: {word}, at: [1, 2]}}]\nvehicle:"))
        assert told.endswith(f"{word} is not a kind of piece; write it as {place}, see previz keys {place}")
        assert place in places


# --- other spellings, and names that can mean nothing else ---

#: As it was written at first, and as a maker in another country writes it; each means the same.
RESPELT = (
    ("units: mm", "units: millimeters"),
    ("speed: 0.5 m/s}", "speed: 0.5 m/s, reverse: yes, keep: center, color: red, headlights: 2 lm}"),
    ("scale: 1:50", "scale: 1/50"),
    ("focal_length: 20 mm", "focal length: 20 mm"),
    ("f_number: 5.6", "aperture: 5.6"),
    ("{rate: 120 fps}", "{fps: 120, shutter: 1/240}"),
    ("start: 1 s", "moved: {shed: {color: tan}}\n    lights: {key: {color: 3200 K, mains: no}}\n    start: 1 s"),
    (
        "[{id: room,",
        "[{id: key, bulb: 60, at: [1, 2, 3], output: 800 lm, color: {gel: red}, mains: yes}, {id: room, color: 3000 K,",
    ),
    (
        "depth: 700}}",
        "depth: 700}, ground: {wet: yes}, backdrop: {distance: 690, height: 300, color: grey},"
        " road: {lane: 70, center: [[0, 300], [1400, 300]]}}"
        "\ndressing: [{id: shed, piece: building, at: [300, 500], color: red}]",
    ),
)
PLAIN = {
    "reverse: yes": "reverse: true", "keep: center": "keep: middle", "color": "colour", "headlights": "headlamps",
    "units: millimeters": "units: mm", "1/50": "1:50", "aperture": "f_number", "focal length": "focal_length",
    "fps: 120": "rate: 120", "1/240": "1/240 s", "mains: yes": "mains: true", "mains: no": "mains: false",
    "center": "centre", "wet: yes": "wet: true",
}  # fmt: skip


def respelt(tmp_path: Path) -> tuple[Scene, Scene]:
    """The scene as it is spelled in one country, and in the other."""
    there = read(tmp_path, *RESPELT)
    text = (tmp_path / "scene.yaml").read_text(encoding="utf-8")
    for one, other in PLAIN.items():
        assert one in text, one
        text = text.replace(one, other)
    (tmp_path / "plain.yaml").write_text(text, encoding="utf-8")
    return there, read_scene(tmp_path / "plain.yaml")


def test_another_spelling_is_the_same_scene_in_every_setup(tmp_path: Path) -> None:
    there, here = respelt(tmp_path)
    assert there == here and [str(each) for each in setups_of(there)] == [str(each) for each in setups_of(here)]
    changes = {"shots[pass].f_number": 8, "vehicle.reverse": False, "lights[key].colour": "4000 K"}
    assert rewritten(there, changes) == rewritten(here, changes)
    assert read_scene(tmp_path / "scene.yaml", changes=changes) == read_scene(tmp_path / "plain.yaml", changes=changes)
    by_its_name = {"shots[pass].aperture": 8, "vehicle.reverse": "no", "lights[key].color": "4000 K"}
    assert read_scene(tmp_path / "plain.yaml", changes=by_its_name) == rewritten(here, changes)


def test_what_is_edited_keeps_its_spelling(tmp_path: Path) -> None:
    respelt(tmp_path)
    text = (tmp_path / "scene.yaml").read_text(encoding="utf-8")
    new = edited(text, {"shots[pass].f_number": 8, "shots[pass].capture.iso": 400, "lights[key].colour": "4000 K"})
    meant = text.replace("aperture: 5.6", "aperture: 8").replace("shutter: 1/240}", "shutter: 1/240, iso: 400}")
    assert new == meant.replace("color: {gel: red}", "color: 4000 K")


def test_a_name_of_the_maker_s_own_is_no_spelling(tmp_path: Path) -> None:
    scene = read(tmp_path, ("  pocket:", "  center:"), ("camera: pocket", "camera: center"))
    assert "center" in scene.cameras and scene.shots[0].camera == "center"


@pytest.mark.parametrize("also", ["colour: red, color: red", "color: red, colour: blue"])
def test_a_word_that_is_written_in_both_spellings_is_told(tmp_path: Path, also: str) -> None:
    (fault,) = faults(tmp_path, ("speed: 0.5 m/s", f"speed: 0.5 m/s, {also}"))
    assert fault == "vehicle.color: is colour by another name, which is given too; keep one of them"


# --- the command line ---


def test_a_time_of_day_on_set_needs_no_quotes(tmp_path: Path) -> None:
    from previz.takes import frame_at

    scene = read(tmp_path)
    assert {frame_at(scene, scene.shots[0], at) for at in ("1.2", "1.2s", "1.2 s", "1200 ms")} == {24}


def test_a_first_scene_takes_a_scale_by_its_letters(tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["new", str(tmp_path / "a.yaml"), "--scale", "H0"])
    assert result.exit_code == 0, result.output
    assert read_scene(tmp_path / "a.yaml").scale == 87


def test_keys_tell_of_these_spellings() -> None:
    def told(place: str) -> Any:
        return {key.name: f"{key.says} {key.default}" for group in key_groups(place) for key in group.keys}

    assert "24 mm equivalent" in told("cameras")["lens"] and "f/2.8-4" in told("cameras")["widest"]
    assert "prime" in told("shots")["focal_length"] and "phone" in told("shots")["f_number"]
    assert all(name in told("scene")["scale"] for name in units.SCALE_NAMES)
    assert "72 mm for 4.5 m" in told("scene")["scale"] and "60 km/h on screen" in told("vehicle")["speed"]
    assert math.isclose(units.scale_of("72 mm for 4.5 m"), 62.5)


def test_a_lens_that_can_not_be_read_is_told_once(tmp_path: Path) -> None:
    (told,) = faults(tmp_path, ("8.8-36.8 mm, widest: f/1.8", "18-55mm 3.5-5.6 kit zoom"))
    assert "take kit zoom out" in told


def test_two_nearest_distances_are_told_which_to_write(tmp_path: Path) -> None:
    (told,) = faults(tmp_path, ("nearest: 50, modes", "nearest: 3 cm to 1 m, modes"))
    assert "write nearest: 1 m, " in told and "nearest: 3 cm where" in told


def test_a_mode_up_to_a_rate_is_one(tmp_path: Path) -> None:
    camera = read(
        tmp_path, ("nearest: 50, modes: [1080p120]", "nearest: 50, modes: [1080p up to 100, 1080p120]")
    ).cameras["pocket"]
    assert (camera.modes[0].height, camera.modes[0].fastest) == (1080, 100)


@pytest.mark.parametrize("at", ["pavement height", "[700, -150, pavement height]"])
def test_a_height_in_words_is_told_as_a_number(tmp_path: Path, at: str) -> None:
    (told,) = faults(tmp_path, ("at: [700, -150, 45]", f"at: {at}"))
    assert "pavement height is not a height" in told and "1.6 m full size" in told


@pytest.mark.parametrize(("own", "lumens"), [("", 6000 / 50**2), ("scale: 1:20, ", 6000 / 20**2)])
def test_a_street_lamp_that_is_on_gives_what_a_real_one_does_where_it_lights(
    tmp_path: Path, own: str, lumens: float
) -> None:
    """By hand: what it lights is as many times nearer as the model is smaller, and light goes with distance squared."""
    lamp = f"\ndressing:\n  - {{id: post, piece: lamp_post, at: [300, 500], {own}lit: on}}\n"
    assert read(tmp_path, more=lamp).dressing[0].lit == pytest.approx(lumens)


@pytest.mark.parametrize("lit", ["on", "yes", "true"])
def test_bulbs_of_a_garland_and_headlamps_are_on_however_it_is_said(tmp_path: Path, lit: str) -> None:
    drives = ("speed: 0.5 m/s", f"scale: 1:20, speed: 0.5 m/s, headlamps: {lit}")
    piece = "piece: garland, at: [300, 500, 90], length: 600, bulbs: 8"
    hung = f"\ndressing: [{{id: own, scale: 1:20, {piece}, lit: {lit}}}, {{id: lights, {piece}, lit: {lit}}}]\n"
    scene = read(tmp_path, drives, more=hung)
    assert [each.lit for each in scene.dressing] == pytest.approx([8 * 100 / 20**2, 8 * 100 / 50**2])
    assert scene.vehicle is not None and scene.vehicle.headlamps == pytest.approx(1200 / 20**2)


@pytest.mark.parametrize("lit", ["off", "no", "false"])
def test_a_shot_puts_a_garland_out_however_it_is_said(tmp_path: Path, lit: str) -> None:
    hung = "\ndressing: [{id: lights, piece: garland, at: [300, 500, 90], length: 600, lit: on}]\n"
    scene = read(tmp_path, ("start: 1 s", f"moved: {{lights: {{lit: {lit}}}}}\n    start: 1 s"), more=hung)
    (setup,) = setups_of(scene)
    assert scene.dressing[0].lit > 0 and setup.scene.dressing[0].lit == 0


@pytest.mark.parametrize(("word", "kelvin"), [("daylight", "5600 K"), ("Tungsten", "3200 K"), ("cloudy", "6500 K")])
def test_a_white_balance_by_word_is_told_its_kelvin(tmp_path: Path, word: str, kelvin: str) -> None:
    (fault,) = faults(tmp_path, ("{rate: 120 fps}", f"{{rate: 120 fps, white_balance: {word}}}"))
    assert f"white_balance: {word} is not a colour temperature" in fault
    assert f"calls {word.lower()} is mostly {kelvin}" in fault
    (auto,) = faults(tmp_path, ("{rate: 120 fps}", "{rate: 120 fps, white_balance: auto}"))
    assert "set it, to the light that is to look white" in auto


@pytest.mark.parametrize("written", ["dim", "'on'", "1 stop", "3200 K", "600"])
def test_a_lamp_otherwise_is_told_all_that_may_be_written(tmp_path: Path, written: str) -> None:
    (fault,) = faults(tmp_path, ("duration: 0.5 s", f"duration: 0.5 s\n    lights: {{room: {written}}}"))
    assert "is not a lamp otherwise; write off, its light like 600 lm (of a room 20 lx), or in keys" in fault
    assert "{diffusion: 1 stop}" in fault and "output, colour" in fault and "ambient, off" in fault


def test_no_windows_are_lit_where_there_are_none(tmp_path: Path) -> None:
    barn = "\ndressing:\n  - {id: barn, piece: building, at: [300, 500], floors: 1, windows: no, lit: 30 %}\n"
    (fault,) = faults(tmp_path, more=barn)
    assert "dressing[barn].lit: windows: no leaves it none" in fault and "take out one of the two" in fault
    assert read(tmp_path, more=barn.replace("30 %", "no")).dressing[0].lit == 0
    # A shot lights them no more than the set does.
    shot = ("start: 1 s", "moved: {barn: {lit: 30 %}}\n    start: 1 s")
    (fault,) = faults(tmp_path, shot, more=barn.replace(", lit: 30 %", ""))
    assert "shots[pass].moved.barn.lit: windows: no leaves it none" in fault


@pytest.mark.parametrize(
    ("old", "new", "meant"),
    [
        ("width: 1400", "width: 10000 cm", "100 m on the table; at most 20 m is built; did you mean 10000 mm?"),
        ("width: 1400", "width: 1400 m", "1400 m is out of range; it must be more than 0 m and at most 100 m; did"),
        ("width: 1400", "width: 1400m", "did you mean 1400mm?"),
        ("width: 1400", "width: 90000", "90 m on the table; at most 20 m is built: check the unit"),
    ],
)
def test_a_length_far_out_of_range_is_asked_for_the_unit_that_was_meant(
    tmp_path: Path, old: str, new: str, meant: str
) -> None:
    (fault,) = faults(tmp_path, (old, new))
    assert fault.startswith("set.table.width: ") and meant in fault


def test_a_piece_as_long_as_the_real_one_is_asked_whether_that_is_meant(tmp_path: Path) -> None:
    tree = "\ndressing: [{id: tree, piece: conifer, at: [300, 500], height: 12 m}]\n"
    (fault,) = faults(tmp_path, more=tree)
    assert fault.endswith("12 m on the table; at most 5000 mm is built; did you mean 12 m full size or 12 mm?")
