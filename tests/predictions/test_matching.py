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
    match,
    place_in_picture,
    predict,
    vehicle_in_picture,
    vehicle_leads_right,
)
from previz.predictions.checks.focus import best_f_number
from previz.predictions.in_picture import background_point
from previz.predictions.shot_view import view_of
from previz.scene import Scene, Shot, read_scene

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


def framed(scene: Scene, shot: Shot) -> float:
    """Width seen at the plane of focus, mid-shot. [m]"""
    view = view_of(scene.model_copy(update={"shots": (shot,)}), shot)
    s = float(view.focus[view.middle])
    return float(optics.field_width(view.area[0], optics.image_distance(shot.focal_length, s), s))


def depth(scene: Scene, shot: Shot) -> float:
    return predict(scene.model_copy(update={"shots": (shot,)})).shots[0].value("depth_of_field")


def test_from_the_same_place_the_focal_length_follows_the_sensor_by_hand(scene: Scene) -> None:
    # 12 to 36 mm: v' = 3 v. v = 20 * 460 / 440 = 20.909 mm, v' = 62.727 mm, f' = v' s / (v' + s) = 55.200 mm: not 60,
    # because a lens focused close sees less.
    taken = match(scene, scene.shots[0], "large")
    assert taken.focal_length == pytest.approx(0.0552, rel=1e-4)
    assert (taken.camera, taken.f_number, taken.at) == ("large", 4.0, scene.shots[0].at)
    assert framed(scene, taken) == pytest.approx(framed(scene, scene.shots[0]), rel=1e-9)
    # A mode that crops by 2 is a sensor half as wide.
    assert framed(scene, match(scene, scene.shots[0], "cropped")) == pytest.approx(framed(scene, scene.shots[0]))


@pytest.mark.parametrize("focus", ["460 mm", "vehicle", "[700 mm, 400 mm, 40 mm]"])
@pytest.mark.parametrize("camera", ["inch", "large", "cropped", "wide"])
def test_with_the_lens_as_it_is_the_camera_moves_along_its_axis(tmp_path: Path, camera: str, focus: str) -> None:
    (tmp_path / "scene.yaml").write_text(SCENE.replace("focus: 460", f"focus: {focus}"), encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    shot = scene.shots[0]
    if camera == "wide":
        with pytest.raises(CannotMatch, match="wide is too close to focus"):
            match(scene, shot, camera, Framing.LENS)
        return
    taken = match(scene, shot, camera, Framing.LENS)
    assert taken.focal_length == (0.024 if camera == "large" else 0.02)
    assert framed(scene, taken) == pytest.approx(framed(scene, shot), rel=1e-6)
    # What is aimed at stays in the middle of the picture.
    assert place_in_picture(scene, taken, 0.6, (0.7, 0.3, 0.04)) == pytest.approx((0.5, 0.5), abs=1e-6)
    if camera == "inch":
        assert taken.at == pytest.approx(shot.at)


def test_a_camera_that_travels_moves_at_every_key(tmp_path: Path) -> None:
    keys = "[{time: 0.4 s, at: [650, -160, 60]}, {time: 0.8 s, at: [750, -160, 60]}]"
    pull = "[{time: 0.4 s, at: 440}, {time: 0.8 s, at: 480}]"
    text = SCENE.replace("at: [700, -160, 60]", f"at: {keys}").replace("focus: 460", f"focus: {pull}")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    taken = match(scene, scene.shots[0], "large", Framing.LENS)
    assert framed(scene, taken) == pytest.approx(framed(scene, scene.shots[0]), rel=1e-3)
    # By hand: 20 mm focused at 460 mm shows 12 (460 - 20) / 20 = 264 mm. 24 mm on 36 mm shows as much from
    # 24 (1 + 264 / 36) = 200 mm: 260 mm nearer, along the axis (50, 460, -20) from either key. Mid-shot is known to a
    # frame; the focus is pulled by 0.8 mm in one, which is 0.5 mm of the way.
    nearer = 260 * 460 / math.hypot(50, 460, 20) / 1000
    moved = [after.at[1] - before.at[1] for before, after in zip(scene.shots[0].at, taken.at, strict=True)]
    assert moved == pytest.approx([nearer, nearer], abs=0.0005)
    assert moved[0] == pytest.approx(moved[1], rel=1e-6)
    far = [after.at.distance - before.at.distance
           for before, after in zip(scene.shots[0].focus, taken.focus, strict=True)]  # fmt: skip
    assert far == pytest.approx([-0.260, -0.260], abs=0.0005)


def test_on_its_own_a_camera_keeps_place_and_focal_length(scene: Scene) -> None:
    taken = match(scene, scene.shots[0], "cropped", Framing.OWN)
    assert (taken.focal_length, taken.at) == (0.02, scene.shots[0].at)
    assert framed(scene, taken) == pytest.approx(1.5 * framed(scene, scene.shots[0]))


@pytest.mark.parametrize("framing", [Framing.PLACE, Framing.LENS])
@pytest.mark.parametrize("camera", ["large", "cropped"])
def test_the_same_depth_of_field_is_the_same(scene: Scene, camera: str, framing: Framing) -> None:
    taken = match(scene, scene.shots[0], camera, framing, Stop.DEPTH)
    assert depth(scene, taken) == pytest.approx(depth(scene, scene.shots[0]), rel=1e-9)
    assert taken.f_number != 4


@pytest.mark.parametrize("camera,f_number", [("large", 11.04), ("tiny", 2.0444)])
def test_from_the_same_place_the_same_depth_of_field_takes_the_same_entrance_pupil(
    scene: Scene, camera: str, f_number: float
) -> None:
    # Both blur limits follow the diagonal, so the entrance pupil stays what it is, by hand: 20 mm / 4 = 5 mm =
    # 55.2 mm / 11.04; half the sensor, v = 10.4545 mm, f = 10.2222 mm = 5 mm * 2.0444.
    taken = match(scene, scene.shots[0], camera, Framing.PLACE, Stop.DEPTH)
    assert taken.f_number == pytest.approx(f_number, rel=1e-3)


def test_a_depth_of_field_that_diffraction_forbids_is_refused(tmp_path: Path) -> None:
    """By hand, with 0.55 um * 1.745 * N (1 + m/P) of diffraction (derived with scipy in tests/physics/test_optics.py).

    At f/22 the disc on 12 mm of width is 22 um, and 9.2 um count as sharp. At f/5.6 it is 5.6 um. Depth goes with
    (u (1 - u))^(1/3), u = (5.6 / 9.2)^3: 0.89 of the most depth that any stop gives; through a rear
    pupil a fifth as large, m/P = 0.68, the most is 1.136 / 1.68 of that.
    """
    text = SCENE.replace("  tiny:", "  retro: {sensor: [36, 24], lens: 24-120 mm, widest: f/2.8, smallest: f/32, "
                         "nearest: 100, pupil_magnification: 0.2, modes: [1080p120]}\n  tiny:")  # fmt: skip
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    closed = scene.shots[0].model_copy(update={"f_number": 22.0})
    half_closed = scene.shots[0].model_copy(update={"f_number": 5.6})
    with pytest.raises(CannotMatch, match="nothing is sharp in the shot as it is"):
        match(scene, closed, "large", Framing.PLACE, Stop.DEPTH)
    with pytest.raises(CannotMatch, match="retro has that depth of field at no stop"):
        match(scene, half_closed, "retro", Framing.PLACE, Stop.DEPTH)


def test_smaller_sensors_keep_more_in_focus_as_far_as_diffraction_lets_them(scene: Scene) -> None:
    """At f/2.8, by hand: of 4.59, 9.18 and 27.5 um that count as sharp diffraction leaves 4.23, 9.09 and 27.5 um.

    k = N c / (f m) with f m = 0.2323, 0.909 and 7.527 mm is 0.0510, 0.0280 and 0.0102, and depth is 2 k s / (1 - k^2).
    """
    shot = scene.shots[0].model_copy(update={"f_number": 2.8})
    depths = [depth(scene, match(scene, shot, camera)) * 1000 for camera in ("tiny", "inch", "large")]
    assert depths == pytest.approx([47.07, 25.78, 9.41], rel=0.005)


def test_each_at_its_best_takes_its_sharpest_stop(scene: Scene) -> None:
    for camera in ("inch", "large"):
        taken = match(scene, scene.shots[0], camera, Framing.PLACE, Stop.BEST)
        alone = scene.model_copy(update={"shots": (taken,)})
        assert taken.f_number == best_f_number(view_of(alone, taken))
        assert predict(alone).shots[0].value("best_f_number") == taken.f_number


@pytest.mark.parametrize(
    ("camera", "rules", "said"),
    [
        ("slow", {}, "slow records at most 30 fps, and the shot is captured at 120 fps"),
        ("tiny", {"framing": Framing.OWN}, "tiny's lens is too short: the shot needs 20 mm, the lens has 3"),
        ("prime", {}, "prime's lens is too long: this framing needs 55.2 mm, the lens has 60.3 mm"),
        ("wide", {}, "wide's lens is too short: this framing needs 55.2 mm, the lens has 16 mm"),
        ("far", {}, "far is too close to focus: it focuses from 900 mm, and the plane of focus is at 460 mm"),
    ],
)
def test_a_camera_that_cannot_says_why(scene: Scene, camera: str, rules: Any, said: str) -> None:
    with pytest.raises(CannotMatch) as caught:
        match(scene, scene.shots[0], camera, **rules)
    assert str(caught.value).startswith(said)


def test_a_stop_that_a_lens_has_not_is_refused(scene: Scene) -> None:
    open_shot = scene.shots[0].model_copy(update={"f_number": 1.4})
    with pytest.raises(CannotMatch, match=r"large opens to f/2.8 at 55.2 mm, and f/1.4 is wanted"):
        match(scene, open_shot, "large")
    closed = scene.shots[0].model_copy(update={"f_number": 11.0})
    with pytest.raises(CannotMatch, match=r"tiny closes to f/4, and f/11 is wanted"):
        match(scene, closed, "tiny")


def test_a_lens_within_a_hundredth_counts_as_having_the_focal_length(tmp_path: Path) -> None:
    (tmp_path / "scene.yaml").write_text(SCENE.replace("lens: 60.3 mm", "lens: 55.5 mm"), encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    taken = match(scene, scene.shots[0], "prime")
    assert taken.focal_length == 0.0555
    assert framed(scene, taken) == pytest.approx(framed(scene, scene.shots[0]), rel=0.01)


def test_a_camera_is_not_moved_past_what_it_is_aimed_at(tmp_path: Path) -> None:
    text = SCENE.replace("aim: [700, 300, 40]", "aim: [700, -60, 56]").replace("nearest: 250", "nearest: 17")
    (tmp_path / "scene.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "scene.yaml")
    with pytest.raises(CannotMatch, match="wide would have to stand past what it is aimed at"):
        match(scene, scene.shots[0], "wide", Framing.LENS)


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
        taken = match(scene, shot, camera)
        view = view_of(scene.model_copy(update={"shots": (taken,)}), taken)
        angles.append(optics.field_of_view(view.area[0], optics.image_distance(taken.focal_length, 0.46)))
    assert angles == pytest.approx([angles[0]] * 3)
    assert math.degrees(angles[0]) == pytest.approx(math.degrees(2 * math.atan(6 / 20.909)), abs=0.01)
