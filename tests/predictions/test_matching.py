"""Another camera takes a shot over: the same framing, stop or depth of field, or one sentence on why not."""

import math
from pathlib import Path
from typing import Any

import pytest

from previz.physics import optics
from previz.predictions import (
    CannotMatch,
    Framing,
    Stop,
    Taken,
    match,
    place_in_picture,
    predict,
    vehicle_in_picture,
    vehicle_leads_right,
)
from previz.predictions.checks.focus import best_f_number
from previz.predictions.in_picture import background_point
from previz.predictions.shot_view import view_of
from previz.scene import Scene, Shot, read_scene, rewritten

SCENE = """\
title: Matching
scale: 1:50
units: mm
set: {table: {width: 1400, depth: 700}, backdrop: {distance: 690, height: 500, colour: "#8899aa"}}
dressing: [{id: stack, piece: container, at: [860, 600], stack: 3}]
vehicle: {body: lorry, path: [[100, 300], [1300, 300]], speed: 1 m/s}
lights: [{id: room, ambient: 2000 lx}]
cameras:
  inch: {sensor: [12, 8], lens: 8-40 mm, widest: f/1.4, smallest: f/32, nearest: 50, modes: [1080p120]}
  large: {sensor: [36, 24], lens: 24-120 mm, widest: f/2.8, smallest: f/32, nearest: 100, modes: [1080p120]}
  cropped: {sensor: [36, 24], lens: 8-120 mm, widest: f/2.8, nearest: 99, modes: [{mode: 1080p120, crop: 2}]}
  tiny: {sensor: [6, 4], lens: 3-12 mm, widest: f/1, smallest: f/4, nearest: 60, modes: [1080p120]}
  prime: {sensor: [36, 24], lens: 60.3 mm, widest: f/2, nearest: 200, modes: [1080p120]}
  slow: {sensor: [36, 24], lens: 8-120 mm, widest: f/2, nearest: 200, modes: [4k30]}
  wide: {sensor: [36, 24], lens: 16 mm, widest: f/2, smallest: f/32, nearest: 250, modes: [1080p120]}
  far: {sensor: [36, 24], lens: 24-120 mm, widest: f/2.8, smallest: f/32, nearest: 900, modes: [1080p120]}
shots:
  - id: pass
    camera: inch
    focal_length: 20
    f_number: 4
    at: [700, -160, 60]
    aim: [700, 300, 40]
    focus: 460
    capture: {rate: 120 fps}
    start: 0.4 s
    duration: 0.4 s
"""


@pytest.fixture
def scene(tmp_path: Path) -> Scene:
    path = tmp_path / "scene.yaml"
    path.write_text(SCENE, encoding="utf-8")
    return read_scene(path)


def taken_by(*asked: Any, **rules: Any) -> Shot:
    return match(*asked, **rules).shot


def words(taken: Taken) -> dict[str, str]:
    return {each.of: each.words for each in taken.differences}


def framed(scene: Scene, shot: Shot) -> float:
    """Width seen at the plane of focus, mid-shot. [m]"""
    view = view_of(scene.model_copy(update={"shots": (shot,)}), shot)
    s = float(view.focus[view.middle])
    return float(optics.field_width(view.area[0], optics.image_distance(shot.focal_length, s), s))


def depth(scene: Scene, shot: Shot) -> float:
    return predict(scene.model_copy(update={"shots": (shot,)}), remedies=False).shots[0].value("depth_of_field")


def test_from_the_same_place_the_focal_length_follows_the_sensor_by_hand(scene: Scene) -> None:
    # 12 to 36 mm: v' = 3 v. v = 20 * 460 / 440 = 20.909 mm, v' = 62.727 mm, f' = v' s / (v' + s) = 55.200 mm: not 60,
    # because a lens focused close sees less.
    taken = taken_by(scene, scene.shots[0], "large")
    assert taken.focal_length == pytest.approx(0.0552, rel=1e-4)
    assert (taken.camera, taken.f_number, taken.at) == ("large", 4.0, scene.shots[0].at)
    assert framed(scene, taken) == pytest.approx(framed(scene, scene.shots[0]), rel=1e-9)
    # A mode that crops by 2 is a sensor half as wide.
    assert framed(scene, taken_by(scene, scene.shots[0], "cropped")) == pytest.approx(framed(scene, scene.shots[0]))


@pytest.mark.parametrize("focus", ["460 mm", "vehicle", "[700 mm, 400 mm, 40 mm]"])
@pytest.mark.parametrize("camera", ["inch", "large", "cropped"])
def test_with_the_lens_as_it_is_the_camera_moves_and_stays_as_high(tmp_path: Path, camera: str, focus: str) -> None:
    (tmp_path / "scene.yaml").write_text(SCENE.replace("focus: 460", f"focus: {focus}"), encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    shot = scene.shots[0]
    taken = taken_by(scene, shot, camera, Framing.LENS)
    assert taken.focal_length == (0.024 if camera == "large" else 0.02)
    assert framed(scene, taken) == pytest.approx(framed(scene, shot), rel=1e-6)
    # What is aimed at stays in the middle of the picture.
    assert place_in_picture(scene, taken, 0.6, (0.7, 0.3, 0.04)) == pytest.approx((0.5, 0.5), abs=1e-6)
    assert taken.at[2] == shot.at[2]
    if camera == "inch":
        assert taken.at == pytest.approx(shot.at)


def test_a_camera_that_travels_moves_at_every_key(tmp_path: Path) -> None:
    keys = "[{time: 0.4 s, at: [650, -160, 60]}, {time: 0.8 s, at: [750, -160, 60]}]"
    pull = "[{time: 0.4 s, at: 440}, {time: 0.8 s, at: 480}]"
    text = SCENE.replace("at: [700, -160, 60]", f"at: {keys}").replace("focus: 460", f"focus: {pull}")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    taken = taken_by(scene, scene.shots[0], "large", Framing.LENS)
    assert framed(scene, taken) == pytest.approx(framed(scene, scene.shots[0]), rel=1e-3)
    # By hand: 20 mm focused at 460 mm shows 12 (460 - 20) / 20 = 264 mm. 24 mm on 36 mm shows as much from
    # 24 (1 + 264 / 36) = 200 mm: 260 mm nearer to what it is aimed at, (50, 460, -20) from either key, and as high over
    # the table. Mid-shot is known to a frame; the focus is pulled by 0.8 mm in one, which is 0.5 mm of the way.
    level = math.hypot(50, 460)
    moved_level = level - math.sqrt((math.hypot(50, 460, 20) - 260) ** 2 - 20**2)
    nearer = moved_level * 460 / level / 1000
    assert [after.at[2] for after in taken.at] == [0.06, 0.06]
    moved = [after.at[1] - before.at[1] for before, after in zip(scene.shots[0].at, taken.at, strict=True)]
    assert moved == pytest.approx([nearer, nearer], abs=0.0005)
    assert moved[0] == pytest.approx(moved[1], rel=1e-6)
    far = [after.at.distance - before.at.distance
           for before, after in zip(scene.shots[0].focus, taken.focus, strict=True)]  # fmt: skip
    assert far == pytest.approx([-0.260, -0.260], abs=0.0005)


@pytest.mark.parametrize(
    "changed,higher",
    [
        ("aim: [700, 300, 40]", None),  # level
        ("aim: [700, 300, 200]", None),  # up: along its axis it would sink into the table, from further off
        ("at: [700, -160, 500]", 0.14),  # down by 44 degrees: as high it would look from quite another side
    ],
)
def test_how_high_a_camera_stands_that_moves_is_kept_or_told(
    tmp_path: Path, changed: str, higher: float | None
) -> None:
    key = changed.partition(":")[0]
    was = {"aim": "aim: [700, 300, 40]", "at": "at: [700, -160, 60]"}[key]
    text = SCENE.replace("lens: 60.3 mm", "lens: 100 mm").replace(was, changed).replace("focus: 460", "focus: vehicle")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    taken = match(scene, scene.shots[0], "prime")
    rise, said = taken.shot.at[2] - scene.shots[0].at[2], words(taken)["moved"]
    if higher is None:
        assert rise == 0 and "over the table" not in said
    else:
        assert rise > higher and f"{rise * 1000:.0f} mm higher" in said


def test_on_its_own_a_camera_keeps_place_and_focal_length(scene: Scene) -> None:
    taken = taken_by(scene, scene.shots[0], "cropped", Framing.OWN)
    assert (taken.focal_length, taken.at) == (0.02, scene.shots[0].at)
    assert framed(scene, taken) == pytest.approx(1.5 * framed(scene, scene.shots[0]))


@pytest.mark.parametrize("framing", [Framing.PLACE, Framing.LENS])
@pytest.mark.parametrize("camera", ["large", "cropped"])
def test_the_same_depth_of_field_is_the_same(scene: Scene, camera: str, framing: Framing) -> None:
    taken = taken_by(scene, scene.shots[0], camera, framing, Stop.DEPTH)
    assert depth(scene, taken) == pytest.approx(depth(scene, scene.shots[0]), rel=1e-9)
    assert taken.f_number != 4


@pytest.mark.parametrize("camera,f_number", [("large", 11.04), ("tiny", 2.0444)])
def test_from_the_same_place_the_same_depth_of_field_takes_the_same_entrance_pupil(
    scene: Scene, camera: str, f_number: float
) -> None:
    # Both blur limits follow the diagonal, so the entrance pupil stays what it is, by hand: 20 mm / 4 = 5 mm =
    # 55.2 mm / 11.04; half the sensor, v = 10.4545 mm, f = 10.2222 mm = 5 mm * 2.0444.
    taken = taken_by(scene, scene.shots[0], camera, Framing.PLACE, Stop.DEPTH)
    assert taken.f_number == pytest.approx(f_number, rel=1e-3)


def test_where_diffraction_forbids_a_depth_of_field_the_most_there_is_is_taken(tmp_path: Path) -> None:
    """By hand, with 0.55 um * 1.745 * N (1 + m/P) of diffraction (derived with scipy in tests/physics/test_optics.py).

    At f/22 the disc on 12 mm of width is 22 um, and 9.2 um count as sharp: nothing is, and the stop is kept. At f/5.6
    it is 5.6 um. Depth goes with (u (1 - u))^(1/3), u = (5.6 / 9.2)^3: 0.89 of the most depth that any stop gives;
    through a rear pupil a fifth as large, m/P = 0.68, the most is 1.136 / 1.68 of that. It has it where u = 1/2, the
    disc 2^(-1/3) of what counts as sharp, 27.54 um / 1.260 = 21.86 um: at m = 0.1364, f/21.86 / (0.960 * 1.6818)
    = f/13.54.
    """
    text = SCENE.replace("  tiny:", "  retro: {sensor: [36, 24], lens: 24-120 mm, widest: f/2.8, smallest: f/32, "
                         "nearest: 100, pupil_magnification: 0.2, modes: [1080p120]}\n  tiny:")  # fmt: skip
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    closed = match(scene, scene.shots[0].model_copy(update={"f_number": 22.0}), "large", Framing.PLACE, Stop.DEPTH)
    assert closed.shot.f_number == 22.0
    assert "nothing is sharp in the shot" in words(closed)["depth"]
    half_closed = scene.shots[0].model_copy(update={"f_number": 5.6})
    most = match(scene, half_closed, "retro", Framing.PLACE, Stop.DEPTH)
    assert most.shot.f_number == pytest.approx(13.54, rel=1e-3)
    assert "no stop of it keeps that depth of field" in words(most)["depth"]
    at_most = depth(scene, most.shot)
    for stop in (0.97, 1.03):
        assert depth(scene, most.shot.model_copy(update={"f_number": most.shot.f_number * stop})) < at_most


def test_smaller_sensors_keep_more_in_focus_as_far_as_diffraction_lets_them(scene: Scene) -> None:
    """At f/2.8, by hand: of 4.59, 9.18 and 27.5 um that count as sharp diffraction leaves 4.23, 9.09 and 27.5 um.

    k = N c / (f m) with f m = 0.2323, 0.909 and 7.527 mm is 0.0510, 0.0280 and 0.0102, and depth is 2 k s / (1 - k^2).
    """
    shot = scene.shots[0].model_copy(update={"f_number": 2.8})
    depths = [depth(scene, taken_by(scene, shot, camera)) * 1000 for camera in ("tiny", "inch", "large")]
    assert depths == pytest.approx([47.07, 25.78, 9.41], rel=0.005)


def test_each_at_its_best_takes_its_sharpest_stop(scene: Scene) -> None:
    for camera in ("inch", "large"):
        taken = taken_by(scene, scene.shots[0], camera, Framing.PLACE, Stop.BEST)
        alone = scene.model_copy(update={"shots": (taken,)})
        assert taken.f_number == best_f_number(view_of(alone, taken))
        assert predict(alone, remedies=False).shots[0].value("best_f_number") == taken.f_number


# --- the nearest that a camera can do ---


def test_a_lens_a_little_long_stays_and_says_how_much_tighter_it_frames(scene: Scene) -> None:
    """By hand: 36 (460 - 60.3) / 60.3 = 238.63 mm of the 264 mm that the shot shows: 9.6 % tighter."""
    taken = match(scene, scene.shots[0], "prime")
    assert (taken.shot.focal_length, taken.shot.at) == (0.0603, scene.shots[0].at)
    assert words(taken) == {"framing": "frames 9.6 % tighter"}
    assert taken.differences[0].value == pytest.approx(238.63 / 264, rel=1e-4)


def test_a_lens_a_little_short_says_how_to_crop(tmp_path: Path) -> None:
    """By hand: 36 (460 - 54.4) / 54.4 = 268.41 mm for 264 mm: 1.7 % wider; cropped to 264 / 268.41 = 98 % the same."""
    (tmp_path / "scene.yaml").write_text(SCENE.replace("lens: 60.3 mm", "lens: 54.4 mm"), encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    said = words(match(scene, scene.shots[0], "prime"))
    assert said == {"framing": "frames 1.7 % wider; cropped to 98 % of its width it frames the same"}


def test_a_hair_is_not_worth_a_word(tmp_path: Path) -> None:
    (tmp_path / "scene.yaml").write_text(SCENE.replace("lens: 60.3 mm", "lens: 55.3 mm"), encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    taken = match(scene, scene.shots[0], "prime")
    assert taken.shot.focal_length == pytest.approx(0.0553)
    assert taken.differences == ()


def test_a_lens_far_too_long_takes_the_camera_back_until_it_frames_the_same(tmp_path: Path) -> None:
    """By hand: 100 mm on 36 mm shows 264 mm from 100 (1 + 264 / 36) = 833.3 mm, 373.3 mm further off than 460 mm.

    What it is aimed at is hypot(460, 20) = 460.43 mm off, then 833.77 mm, 20 mm lower: 833.53 - 460 mm along the table.
    """
    (tmp_path / "scene.yaml").write_text(SCENE.replace("lens: 60.3 mm", "lens: 100 mm"), encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    taken = match(scene, scene.shots[0], "prime")
    assert words(taken) == {
        "moved": "stands 374 mm further back than the shot's camera: from there 100 mm frames the same"
    }
    assert taken.differences[0].value == pytest.approx(0.37353, abs=1e-5)
    assert framed(scene, taken.shot) == pytest.approx(framed(scene, scene.shots[0]), rel=1e-9)
    # As high, and 833.8 mm from what it is aimed at, 20 mm lower: y 300 - 833.5 mm.
    x, y, z = taken.shot.at
    off = math.hypot(460, 20) + 1000 * 0.37333
    assert (x, y, z) == pytest.approx((0.7, 0.3 - math.sqrt(off**2 - 20**2) / 1000, 0.06), abs=1e-5)


def test_a_lens_that_cannot_focus_so_near_is_zoomed_in_from_further_back(scene: Scene) -> None:
    """By hand: from 900 mm 36 mm of width show 264 mm at 900 / (1 + 264 / 36) = 108 mm, which `far` has."""
    taken = match(scene, scene.shots[0], "far")
    assert taken.shot.focal_length == pytest.approx(0.108)
    assert words(taken) == {
        "moved": "stands 440 mm further back than the shot's camera: it focuses no nearer than 900 mm; from there "
        "108 mm frames the same"
    }
    assert framed(scene, taken.shot) == pytest.approx(0.264)


def test_where_nearest_focus_keeps_a_short_lens_off_it_stands_there_and_frames_wider(scene: Scene) -> None:
    """By hand: 16 mm would frame the same from 133 mm; it focuses from 250 mm and shows 36 * 234 / 16 = 526 mm."""
    taken = match(scene, scene.shots[0], "wide", Framing.LENS)
    assert taken.shot.focus.distance == pytest.approx(0.250, abs=1e-4)
    said = words(taken)
    assert said["framing"] == "frames 99 % wider; cropped to 50 % of its width it frames the same"
    assert (
        said["moved"]
        == "stands 210 mm nearer than the shot's camera, and no nearer still: it focuses no nearer than 250 mm"
    )
    assert "16 mm, the nearest it can use to 20 mm" in said["focal_length"]


@pytest.mark.parametrize(
    ("nearer_than", "written"),
    [
        (
            "something on the set",
            "  - {id: wall, piece: wall, at: [700, -60], length: 400, height: 150, thickness: 120}\n",
        ),
        ("the backdrop", ""),
    ],
)
def test_what_stands_in_the_way_keeps_the_camera_as_near_as_it_can(
    tmp_path: Path, nearer_than: str, written: str
) -> None:
    """16 mm on full frame would want 133 mm to the focus, or 100 mm much more than there is before the backdrop."""
    text = SCENE.replace("nearest: 250", "nearest: 17").replace("lens: 60.3 mm", "lens: 100 mm")
    camera = "wide"
    if written:
        text = text.replace("dressing: [", "dressing:\n" + written + "  - ").replace("stack: 3}]", "stack: 3}")
        text = text.replace("at: [700, -60]", "at: [700, 140]")
    else:  # it looks at the viewer's side, with its back to the sheet
        text = text.replace("at: [700, -160, 60]", "at: [700, 560, 60]").replace("focus: 460", "focus: 260")
        camera = "prime"
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    taken = match(scene, scene.shots[0], camera)
    said = words(taken)
    assert said["moved"].endswith(f": {nearer_than} is in its way")
    assert "frames" in said["framing"]
    alone = scene.model_copy(update={"shots": (taken.shot,)})
    blocked = [
        each.id
        for each in predict(alone, remedies=False).findings
        if each.id.startswith("room.camera") and each.verdict == "stop"
    ]
    assert blocked == []
    # A millimetre further back it is in the way: 16 mm has passed the wall, 100 mm comes to the sheet.
    axis = view_of(alone, taken.shot).cameras[0].world_from_camera[:, 2]
    further = taken.shot.model_copy(update={"at": tuple((taken.shot.at + axis * 0.001).tolist())})
    found = predict(scene.model_copy(update={"shots": (further,)}), remedies=False).findings
    assert any(each.id.startswith("room.camera") and each.verdict == "stop" for each in found)


def test_a_camera_is_not_moved_past_what_it_is_aimed_at(tmp_path: Path) -> None:
    text = SCENE.replace("aim: [700, 300, 40]", "aim: [700, -60, 56]").replace("nearest: 250", "nearest: 17")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    with pytest.raises(CannotMatch, match=r"wide frames .* as the shot at best: .* past what it is aimed at"):
        match(scene, scene.shots[0], "wide", Framing.LENS)


def test_a_camera_that_can_do_nothing_near_says_what_would(tmp_path: Path) -> None:
    """By hand: at 400 mm 16 mm on 36 mm show 864 mm, 3.3 times the 264 mm; 55.2 mm would do from 460 mm."""
    (tmp_path / "scene.yaml").write_text(SCENE.replace("nearest: 250", "nearest: 400"), encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    with pytest.raises(CannotMatch) as caught:
        match(scene, scene.shots[0], "wide")
    assert str(caught.value) == (
        "wide frames 3.3 times as wide as the shot at best: its lens has 16 mm, and it focuses no nearer than 400 mm"
    )
    assert caught.value.remedy == "from the shot's own place it would take a lens of 55.2 mm that focuses from 460 mm"


def test_a_lens_that_has_not_the_stop_takes_its_nearest_and_says_what_that_costs(scene: Scene) -> None:
    """2 log2(1.4 / 2.8) = -2 stops, 2 log2(5.6 / 4) = 0.97: light goes with 1/N^2 (ISO 2720, from memory)."""
    opened = match(scene, scene.shots[0].model_copy(update={"f_number": 1.4}), "large")
    assert opened.shot.f_number == 2.8
    assert words(opened)["light"] == "2.0 stops less light: f/2.8 for f/1.4; auto ISO follows"
    shot = scene.shots[0].model_copy(update={"f_number": 5.6})
    closed = match(scene, shot, "tiny")
    assert closed.shot.f_number == 4
    assert words(closed)["light"] == "1.0 stop more light: f/4 for f/5.6; auto ISO follows"
    fixed = shot.model_copy(update={"capture": shot.capture.model_copy(update={"iso": 800})})
    assert words(match(scene, fixed, "tiny"))["light"].endswith("; at the shot's ISO the picture is that much brighter")
    # 3.9 um of diffraction at f/4 (1 + 0.0227) on 6 mm of width, where 4.6 um count as sharp.
    sharp = f"sharp over {1000 * depth(scene, closed.shot):.0f} mm"
    assert words(closed)["depth"] == f"{sharp}, the shot over {1000 * depth(scene, shot):.0f} mm"
    assert words(opened)["depth"].startswith(f"sharp over {1000 * depth(scene, opened.shot):.0f} mm, the shot over ")


def test_a_rate_beside_those_that_a_camera_lists_becomes_one_of_them(scene: Scene) -> None:
    """180 degrees at 60 fps expose 1/120 s, twice the 1/240 s at 120 fps; 60 / 24 = 2.5 times slowed."""
    rates = ["1080p30", "1080p60", "1080p240"]
    listed = rewritten(scene, {"cameras.slow.modes": rates})
    taken = match(listed, listed.shots[0], "slow")
    assert taken.shot.capture.rate == 60
    assert words(taken)["slowdown"].startswith("60 fps is its nearest, the shot has 120: slowed 2.5 times, not 5; ")


def test_a_shutter_too_long_for_the_frames_of_the_only_rates_there_are_is_cut_to_one_that_fits(scene: Scene) -> None:
    """1/50 s does not fit in a frame of 1/60 s, 1/60 s just does: log2(60 / 50) = 0.26 stops. Two rates list all."""
    slow = {"cameras.slow.modes": ["1080p60", "1080p120"], "shots[pass].capture.rate": "25 fps"}
    listed = rewritten(scene, slow | {"shots[pass].capture.shutter": "1/50 s"})
    taken = match(listed, listed.shots[0], "slow")
    recorded = taken.shot.capture
    assert (recorded.rate, recorded.exposure_time) == (60, pytest.approx(1 / 60))
    assert words(taken)["slowdown"].endswith(
        "; exposed 1/60 s a frame, which 1/50 s does not fit in, 0.3 stops less light and 0.833 times the motion blur"
    )
    turned = rewritten(scene, slow | {"shots[pass].capture.shutter": "180 deg"})
    whole = match(turned, turned.shots[0], "slow")
    assert "; exposed 1/120 s a frame, 1.3 stops less light and 0.417 times the motion blur" in words(whole)["slowdown"]


def test_a_rate_that_no_mode_has_becomes_the_fastest_there_is(scene: Scene) -> None:
    """180 degrees at 30 fps expose 1/60 s, four times the 1/240 s at 120 fps: 2 stops; 30 / 24 = 1.25 times slowed."""
    taken = match(scene, scene.shots[0], "slow")
    assert taken.shot.capture.rate == 30
    assert scene.mode(taken.shot).width == 3840
    assert words(taken) == {
        "slowdown": "30 fps is its fastest, the shot has 120: slowed 1.25 times, not 5; exposed 1/60 s a frame, "
        "2.0 stops more light and 4 times the motion blur",
        "picture": "records 3840 x 2160, the shot 1920 x 1080",
    }


def test_the_mode_nearest_to_the_shot_s_is_taken(tmp_path: Path) -> None:
    modes = "modes: [4k60, 1080p240, 720p240, 1080p120]"
    text = SCENE.replace("nearest: 100, modes: [1080p120]}", f"nearest: 100, {modes}}}")
    text = text.replace("rate: 120 fps", "rate: 50 fps, mode: 1080p120")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    taken = match(scene, scene.shots[0], "large")
    assert str(scene.mode(taken.shot)) == "1920x1080 at 120 fps"
    assert taken.differences == ()


def test_a_camera_left_to_itself_is_never_left_out(scene: Scene) -> None:
    """By hand: 12 mm on 6 mm shows 6 * 448 / 12 = 224 mm of 264 mm: 15 % tighter."""
    taken = match(scene, scene.shots[0], "tiny", Framing.OWN)
    assert (taken.shot.focal_length, taken.shot.at) == (0.012, scene.shots[0].at)
    assert words(taken) == {
        "framing": "frames 15 % tighter",
        "focal_length": "12 mm, the nearest it can use to 20 mm",
    }


def test_a_shot_that_cannot_be_is_told_for_every_camera(tmp_path: Path) -> None:
    text = SCENE.replace("focus: 460", "focus: [700, -400, 40]")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    for camera in ("inch", "large"):
        with pytest.raises(CannotMatch, match=rf"{camera} cannot film it as it is written: at .* behind the"):
            match(scene, scene.shots[0], camera)


def test_the_vehicle_and_the_background_are_found_in_the_picture(scene: Scene) -> None:
    shot = scene.shots[0]
    left, top, right, bottom = vehicle_in_picture(scene, shot, 0.6) or (0, 0, 0, 0)
    # At 0.6 s the vehicle's middle is at x = 700 mm, straight ahead.
    assert (left + right) / 2 == pytest.approx(0.5, abs=0.01)
    assert 0 < top < bottom < 1
    assert vehicle_in_picture(scene, shot, 5.0) is None
    point = background_point(scene, shot, 0.6)
    assert point[:2] == pytest.approx((0.86, 0.6))
    assert place_in_picture(scene, shot, 0.6, point) is not None
    assert place_in_picture(scene, shot, 0.6, (0.7, -0.5, 0)) is None
    bare = scene.model_copy(update={"dressing": ()})
    assert background_point(bare, shot, 0.6)[1] == pytest.approx(0.69)


def test_the_vehicle_s_front_is_found_however_the_camera_follows(tmp_path: Path) -> None:
    for aim in ("[700, 300, 40]", "vehicle"):
        for path, right in (("[[100, 300], [1300, 300]]", True), ("[[1300, 300], [100, 300]]", False)):
            text = SCENE.replace("[[100, 300], [1300, 300]]", path).replace("aim: [700, 300, 40]", f"aim: {aim}")
            (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
            scene = read_scene(tmp_path / "scene.yaml")
            assert vehicle_leads_right(scene, scene.shots[0], 0.6) is right


def test_matching_leaves_equal_angles_of_view(scene: Scene) -> None:
    shot = scene.shots[0]
    angles = []
    for camera in ("inch", "large", "cropped"):
        taken = taken_by(scene, shot, camera)
        view = view_of(scene.model_copy(update={"shots": (taken,)}), taken)
        angles.append(optics.field_of_view(view.area[0], optics.image_distance(taken.focal_length, 0.46)))
    assert angles == pytest.approx([angles[0]] * 3)
    assert math.degrees(angles[0]) == pytest.approx(math.degrees(2 * math.atan(6 / 20.909)), abs=0.01)
