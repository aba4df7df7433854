"""When the vehicle comes and goes, what the lens takes in there, and the exposure value: worked by hand."""

import math
from pathlib import Path

import numpy as np
import pytest
from broken_scenes import broken, changed, found, looked, predicted, read
from test_findings import launched

from previz.predictions import Verdict, predict, vehicle_in_picture
from previz.predictions.checks.framing import check_framing, passes
from previz.predictions.shot_view import view_of
from previz.scene import VEHICLE_SIZES, Scene

# A lens of 4.2 mm focused at 477 mm, on 5.6 mm of 16:9.
V = 4.2 * 477 / 472.8


def test_angles_of_view_are_those_of_the_lens_focused_close(tmp_path: Path) -> None:
    """2 atan(w / 2v), thin lens (OpenStax University Physics 3, sec. 2.4): v, not f; and the width is w d / v."""
    figures = looked(broken(("shots[0].focus", "477 mm")), tmp_path).shots[0]
    for side, name in ((5.6, "horizontal"), (3.15, "vertical")):
        assert figures.value("angle_of_view", name) == pytest.approx(2 * math.atan(side / 2 / V), rel=1e-9)
    # The camera stands 477 mm before the lane's middle and looks 1 degree up at it; the vehicle's middle is 75 mm up.
    assert figures.value("view_width") == pytest.approx(0.477 * 5.6 / V, rel=0.002)


def test_a_full_frame_lens_has_the_angles_of_its_format(tmp_path: Path) -> None:
    """36 x 20.25 mm through 50 mm at infinity: 39.60 by 22.90 degrees (24 x 36 mm: AS ISO 20954.1:2019, as quoted)."""
    lens = [
        ("cameras.small.sensor", [36, 24]), ("cameras.small.lens", "50 mm"), ("cameras.small.nearest", 100),
        ("shots[0].focal_length", 50), ("shots[0].focus", "99 m"),
    ]  # fmt: skip
    figures = looked(broken(*lens), tmp_path).shots[0]
    for name, degrees in (("horizontal", 39.60), ("vertical", 22.90)):
        assert math.degrees(figures.value("angle_of_view", name)) == pytest.approx(degrees, abs=0.03)


def test_the_exposure_value_is_that_of_stop_and_shutter(tmp_path: Path) -> None:
    """EV = log2(N^2 / t) (Wikipedia "Exposure value"): f/2.8 and 1/240 s make 10.88."""
    figures = looked(broken(), tmp_path).shots[0]
    assert figures.value("exposure_value") == pytest.approx(10.88, abs=0.005)


def test_when_the_vehicle_enters_and_leaves_by_hand(tmp_path: Path) -> None:
    """A lorry 333 mm long on y = 327, 106 mm wide, at 750 mm/s from x = -200; the camera at x = 1500, 477 mm off.

    The picture's edge lies 0.6607 of the depth to either side. The nose comes over it on the far side, 512 to 530 mm
    off with the corner rounded, at x = 1500 - 338 to 350: its middle then is at 983 to 995, 1.578 to 1.594 s. The tail
    goes past the other edge on the far side too, its middle at 2005 to 2017: 2.940 to 2.956 s.
    """
    figures = looked(broken(("shots[0].start", "1.2 s"), ("shots[0].duration", "2 s")), tmp_path).shots[0]
    assert 1.578 - 1 / 120 < figures.value("enters_at") < 1.594 + 1 / 120
    assert 2.940 - 1 / 120 < figures.value("leaves_at") < 2.956 + 1 / 120
    for name in ("enters", "leaves"):
        frame = figures.value(f"{name}_frame")
        assert figures.value(f"{name}_at") == pytest.approx(1.2 + frame / 120)
    whole = looked(broken(), tmp_path).shots[0]
    assert [whole.value(name) for name in ("enters_frame", "leaves_frame")] == [0, 53]
    assert whole.value("enters_at") == pytest.approx(2.05)
    never = looked(broken(("shots[0].start", "20 s"), ("shots[0].focus", "477 mm")), tmp_path).shots[0]
    with pytest.raises(KeyError):
        never.value("enters_at")


def frame_by_frame(scene: Scene) -> list[tuple[int, int]]:
    """Each frame looked at alone."""
    shot, view = scene.shots[0], view_of(scene, scene.shots[0])
    middle = float(view.times[0])
    seen = [vehicle_in_picture(scene, shot, middle + n / float(shot.capture.rate)) for n in range(view.count)]
    steps = np.diff([0, *(each is not None for each in seen), 0])
    return list(zip(np.flatnonzero(steps > 0).tolist(), (np.flatnonzero(steps < 0) - 1).tolist(), strict=True))


def test_on_random_pans_every_pass_is_found_to_the_frame(tmp_path: Path) -> None:
    """Cameras that swing over and back while it drives, from a seed: against every frame looked at alone.

    Of 480 frames 90 are looked at; what lasts less than the six from one to the next may be missed, and is left out.
    """
    rng = np.random.default_rng(13)
    several = 0
    for _ in range(7):
        times = np.sort(rng.uniform(0.5, 4.5, 4))
        keys = [{"time": f"{time:.3f} s", "at": [float(rng.uniform(300, 2700)), 400, 80]} for time in times]
        swing = [("shots[0].aim", keys), ("shots[0].start", "0.4 s"), ("shots[0].duration", "4 s")]
        scene = read(broken(*swing, ("shots[0].focus", "477 mm"), ("shots[0].focal_length", 12)), tmp_path)
        found, expected = passes(view_of(scene, scene.shots[0])), frame_by_frame(scene)
        if any(last - first < 6 for first, last in expected):
            continue
        assert found == expected
        figures = predict(scene, remedies=False).shots[0]
        if len(found) > 1:
            several += 1
            told = [(figures.value("enters_frame", f"pass {n + 1}"), figures.value("leaves_frame", f"pass {n + 1}"))
                    for n in range(len(found))]  # fmt: skip
            assert told == found
    assert several >= 3


def test_a_release_height_says_which_shot_it_serves(tmp_path: Path) -> None:
    figures = looked(broken(*launched()), tmp_path).shots[0].figures  # it has left the picture by then
    served = [figure.of for figure in figures if figure.quantity == "height_for_speed"]
    assert served and all("on screen in pass, mid-shot" in each for each in served)


#: It comes at 1.586 s and leaves at 2.948 s, to 8 ms and a frame: see above.
CUT_OFF = [("1.1 s", "0.9 s", "before it comes", 0.414 / 0.9, 1.586 - 0.05),
           ("2.3 s", "1.5 s", "after it has left", 0.648 / 1.5, 2.948 + 0.05 - 1.5)]  # fmt: skip


@pytest.mark.parametrize(("start", "duration", "when", "share", "begins"), CUT_OFF, ids=["late", "long"])
def test_a_shot_without_its_vehicle_for_more_than_half_is_told_and_begun_so_that_it_is_there(
    start: str, duration: str, when: str, share: float, begins: float, tmp_path: Path
) -> None:
    """Where an end of the shot cuts its pass off, it is as long as it was and begins otherwise: a quarter of a second
    on screen, which is five times slowed, is left beside the pass."""
    data = broken(("shots[0].start", start), ("shots[0].duration", duration))
    finding = found(predicted(data, tmp_path), "framing.hardly")
    assert finding.verdict is Verdict.WATCH and finding.limit == 0.5
    assert finding.value == pytest.approx(share, abs=0.02)
    assert finding.message.endswith(f"without it, {100 * (1 - finding.value):.0f} % of the shot {when}.")
    (change,) = finding.changes
    assert change.key == "shots[0].start"
    assert float(str(change.value).removesuffix(" s")) == pytest.approx(begins, abs=0.017)
    assert found(looked(changed(data, finding.changes), tmp_path), "framing.hardly").value > 0.85


def test_a_shot_that_begins_mid_pass_is_begun_before_the_vehicle_comes(tmp_path: Path) -> None:
    """All of its pass, 1.586 to 2.948 s (see above), with a quarter of a second on screen at either end."""
    data = broken(("shots[0].start", "2.6 s"), ("shots[0].duration", "3 s"))
    finding = found(predicted(data, tmp_path), "framing.hardly")
    written = {change.key: float(str(change.value).removesuffix(" s")) for change in finding.changes}
    assert written["shots[0].start"] == pytest.approx(1.586 - 0.05, abs=3.0 / 48 + 0.017)  # it is looked in 48 frames
    assert written["shots[0].start"] + written["shots[0].duration"] == pytest.approx(2.948 + 0.05, abs=0.08)
    mended = looked(changed(data, finding.changes), tmp_path)
    assert mended.shots[0].value("enters_frame") > 0 and found(mended, "framing.hardly").value > 0.85


def test_a_vehicle_that_is_small_as_it_comes_is_filmed_later_or_from_nearer_by(tmp_path: Path) -> None:
    """Each of the ways makes it as large as it must be mid-shot; one of them leaves the camera as high as it is."""
    towards = ("shots[0].at", [9000, 330, 400]), ("shots[0].aim", [1500, 330, 0]), ("shots[0].focus", "4 m")
    stretch = ("shots[0].start", "0.5 s"), ("shots[0].duration", "10.5 s")
    data = broken(*towards, *stretch, ("set.road.centre", [[-200, 400], [9200, 400]]), ("cameras.small.lens", "4.2 mm"))
    scene = read(data, tmp_path)
    notes = check_framing(view_of(scene, scene.shots[0]))
    (small,) = [number for number, each in enumerate(notes.findings) if each.id == "framing.small"]
    assert notes.findings[small].value < notes.findings[small].limit
    ways = list(notes.ways[small]())
    assert [("as high as it is" in way.words, "it comes nearer" in way.words) for way in ways] == [
        (False, False), (True, False), (False, True),
    ]  # fmt: skip
    for way in ways:
        then = read(changed(data, way.changes), tmp_path)
        assert view_of(then, then.shots[0]).cameras[0].position[2] == pytest.approx(0.4) or "high" not in way.words
        figures = predict(then, remedies=False).shots[0]
        assert figures.value("vehicle_width") > notes.findings[small].limit


def test_a_vehicle_cut_off_by_the_lower_edge_is_told_and_the_camera_tilted(tmp_path: Path) -> None:
    """A level camera 200 mm up: the lorry's near side is 424 mm off (its lane's middle 477, its half width 53).

    With v = 4.24 mm (see above) its foot is 200 / 424 v = 2.0 mm below the axis, where half the picture is 1.575 mm
    high; its top is a box's far edge, 530 mm off.
    """
    level = broken(("shots[0].at", [1500, -150, 200]), ("shots[0].aim", [1500, 400, 200]), ("shots[0].focus", "477 mm"))
    finding = found(predicted(level, tmp_path), "framing.cut")
    foot, top = 200 / 424 * V, (200 - 1000 * VEHICLE_SIZES["lorry"][2] / 24) / 530 * V
    assert finding.verdict is Verdict.WATCH and "lower edge" in finding.message
    assert finding.value == pytest.approx((foot - 3.15 / 2) / (foot - top), rel=0.1)
    assert "Aim " in finding.remedy and "lower" in finding.remedy
    assert found(looked(changed(level, finding.changes), tmp_path), "framing.cut").verdict is Verdict.FINE


def test_who_films_a_wheel_is_not_told_that_the_rest_is_cut_off(tmp_path: Path) -> None:
    near = broken(("shots[0].focal_length", 25), ("shots[0].aim", [1500, 400, 30]), ("shots[0].f_number", "f/4"))
    assert found(looked(near, tmp_path), "framing.cut").verdict is Verdict.FINE
