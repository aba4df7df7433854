"""A ramp that is too flat, too low or too short: one cause, and remedies that agree."""

import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, changed, found, looked, predicted, read
from test_findings import launched

from previz.layout.motion import travel_of, vehicle_path
from previz.predictions import Change, Verdict, predict, view_of
from previz.predictions.checks.launch import check_launch
from previz.predictions.release import least_speed, release_for, stops_short

CASES: list[dict[str, Any]] = [
    {"height": 2},
    {"height": 16},
    {"height": 30},
    {"height": 10, "length": 20, "foot_radius": 0},
]


def release_heights(remedy: str) -> list[int]:
    return [int(each) for each in re.findall(r"[Rr]elease from (\d+) mm", remedy)]


@pytest.mark.parametrize("ramp", CASES, ids=str)
def test_every_remedy_names_a_release_that_gets_there(ramp: dict[str, Any], tmp_path: Path) -> None:
    data = broken(*launched(**ramp))
    scene = read(data, tmp_path)
    least = release_for(scene).launch.ramp.height
    told = [each for each in predicted(data, tmp_path).findings if each.verdict is not Verdict.FINE]
    named = [height for each in told for height in release_heights(each.remedy)]
    assert named and all(height >= int(least * 1000) for height in named)
    # The cause comes first, and what it says clears it.
    assert told[0].id == "launch.reach"
    mended = read(changed(data, told[0].changes), tmp_path)
    assert not stops_short(mended)
    assert travel_of(mended).time_at(vehicle_path(mended).length) < travel_of(mended).stops_at


def test_a_slope_that_does_not_overcome_the_loss_is_told_as_that(tmp_path: Path) -> None:
    # atan 2 % is 1.1 deg; 2 mm less the lip of 0.5 in 600 are 0.14 deg.
    told = predicted(broken(*launched(height=2)), tmp_path)
    assert "the slope is 0.1 deg, and it rolls from 1.1 deg on" in found(told, "launch.reach").message
    assert "comes to rest on its ramp" in found(told, "framing.vehicle").message
    assert found(told, "time.speed").message == "It stands still in the middle of the shot."
    assert not any(word in each.remedy for each in told.findings for word in (" 0.000 s", " -0."))


def test_a_ramp_too_short_is_made_longer_by_as_much_as_it_takes(tmp_path: Path) -> None:
    scene = read(broken(*launched(height=10, length=20)), tmp_path)
    release = release_for(scene)
    assert release.words.startswith("Make the ramp ") and len(release.changes) == 2
    longer = release.into(scene)
    assert travel_of(longer).speed_at_start == pytest.approx(least_speed(scene), rel=1e-9)


def test_a_flat_slope_needs_no_bend_at_its_foot(tmp_path: Path) -> None:
    # 30 mm in 600 and 0.6 m/s: it is thrown up by 0.03 m/s, 0.05 mm or 1 mm at full size.
    flat = found(looked(broken(*launched(height=30, foot_radius=0)), tmp_path), "launch.foot")
    steep = found(looked(broken(*launched(foot_radius=0)), tmp_path), "launch.foot")
    assert (flat.verdict, steep.verdict) == (Verdict.FINE, Verdict.WATCH)


def test_wheels_that_no_ramp_takes_far_enough_are_told(tmp_path: Path) -> None:
    data = broken(*launched(height=590, rolling="100 %", foot_radius=0))
    reach = found(predicted(data, tmp_path), "launch.reach")
    assert reach.verdict is Verdict.STOP
    assert reach.remedy.startswith("Mend its axles") and not reach.changes


@pytest.mark.parametrize("foot_radius", [0, 600])
def test_the_remedy_counts_what_the_foot_takes(foot_radius: float, tmp_path: Path) -> None:
    scene = read(broken(*launched(foot_radius=foot_radius, lip=3)), tmp_path)
    for speed in (1.2, 1.4, 1.7):
        assert travel_of(release_for(scene, speed).into(scene)).speed_at_start == pytest.approx(speed, rel=1e-6)


def test_the_speed_is_taken_where_the_vehicle_is_seen(tmp_path: Path) -> None:
    """A launched van slows by even steps: v^2 = u^2 - 2 a s (by hand), whenever the shot that films it ends."""
    at_middle = []
    for lasts in (1.6, 2.6):  # it leaves the picture well before the second ends
        data = broken(*launched(height=150), ("shots[0].duration", f"{lasts} s"), ("shots[0].start", "0.2 s"))
        scene = read(data, tmp_path)
        view = view_of(scene, scene.shots[0])
        figures = {each.quantity: each.value for each in predict(scene, remedies=False).shots[0].figures if not each.of}
        where = float(view.distances[view.mid_picture])
        by_hand = math.sqrt(view.travel.speed_at_start**2 - 2 * view.travel.deceleration * where)
        assert figures["set_speed"] == pytest.approx(by_hand)
        middle = view.vehicle_frame[view.mid_picture, [0, 2]].mean()
        assert abs(middle - view.size[0] / 2) < 0.05 * view.size[0]
        at_middle.append(figures["apparent_speed"])
        assert figures["apparent_speed_first"] > figures["apparent_speed"] > figures["apparent_speed_last"]
    assert at_middle[0] == pytest.approx(at_middle[1], rel=0.02)


def test_the_release_told_for_a_speed_gives_it_where_the_speed_is_taken(tmp_path: Path) -> None:
    filmed = (("shots[0].duration", "4 s"), ("shots[0].start", "0 s"))
    figures = looked(broken(*launched(height=150), *filmed), tmp_path).shots[0].figures
    told = {each.of.split()[0]: each.value for each in figures if each.quantity == "height_for_speed"}
    assert len(told) > 2
    for speed, height in told.items():
        there = looked(broken(*launched(height=height * 1000), *filmed), tmp_path).shots[0]
        assert there.value("apparent_speed") * 3.6 == pytest.approx(float(speed), rel=0.03)


@pytest.mark.parametrize(("modes", "faster"), [(["1080p120"], False), (["1080p240"], True)])
def test_a_rate_to_keep_the_speed_is_named_only_where_the_camera_has_it(
    modes: list[str], faster: bool, tmp_path: Path
) -> None:
    notes = check_launch(read(broken(*launched(height=40), ("cameras.small.modes", modes)), tmp_path))
    number = next(number for number, each in enumerate(notes.findings) if each.id == "launch.takes")
    told = next(iter(notes.ways[number]())).words
    assert "peg or a strip" in told and "times as fast on screen" in told
    assert ("capture at" in told) is faster


#: It drives off at once, and the camera looks at where its path begins, 100 mm from the table's left edge.
SEEN_TO_START = (
    ("vehicle.path", [[100, 400], [2900, 400]]),
    ("vehicle.speed", "1.2 m/s"),
    ("shots[0].at", [300, -150, 70]),
    ("shots[0].aim", [300, 400, 80]),
    ("shots[0].start", "0 s"),
)


def test_a_vehicle_at_full_speed_in_the_first_frame_is_asked_how_it_gets_there(tmp_path: Path) -> None:
    """By hand: v^2 / 2g is 73 mm of height; wheels that turn take a share of 0.08 more, the slope of 20 deg 0.02 over
    its tangent, and the sharp corner at its foot the part of the speed that points down."""
    asked = found(looked(broken(*SEEN_TO_START), tmp_path), "run_up.room")
    assert asked.verdict is Verdict.WATCH and asked.shot == "pass" and asked.value == pytest.approx(0.0)
    assert "at 1.2 m/s on the table, and nothing says how it gets so fast" in asked.message
    high, long, takes = (int(each) for each in re.findall(r"(\d+) mm", asked.remedy))
    lossy = 73.4 * 1.08 / (1 - 0.02 / math.tan(math.radians(20))) / math.cos(math.radians(20)) ** 2
    assert high == pytest.approx(lossy, abs=1.5) and math.degrees(math.asin(high / long)) == pytest.approx(20, abs=0.5)
    assert takes == pytest.approx(asked.limit * 1000, abs=1) and takes > long * math.cos(math.radians(20))
    # A ramp of just that height and length does give it the speed.
    ramp = {"height": high, "length": long}
    launched = broken(*SEEN_TO_START, ("vehicle.speed", None), ("vehicle.launch", {"ramp": ramp}))
    assert looked(launched, tmp_path).value("exit_speed") == pytest.approx(1.2, rel=0.02)


@pytest.mark.parametrize(
    ("changes", "fine"),
    [
        ([("vehicle.drive", "thread")], None),
        ([("vehicle.speed", None), ("vehicle.launch", {"ramp": {"height": 90, "length": 260}})], None),
        ([("vehicle.speed", "0 m/s")], None),
        ([("shots[0].at", [1500, -150, 70]), ("shots[0].aim", [1500, 400, 80])], None),  # it comes into the picture
        # 1.3 m of the table are to the left of the picture's left edge.
        ([("shots[0].at", [2000, -150, 70]), ("shots[0].aim", [2000, 400, 80]), ("shots[0].start", "1.6 s")], True),
        # It begins where it is seen, and the table behind that is as long as the ramp.
        ([("vehicle.path", [[1700, 400], [2900, 400]]), ("shots[0].at", [1700, -150, 70]),
          ("shots[0].aim", [1700, 400, 80])], True),
    ],
    ids=["driven", "launched", "standing", "it comes in", "far along", "room behind"],
)  # fmt: skip
def test_nobody_is_asked_where_that_is_said_or_there_is_room(
    changes: list[tuple[str, object]], fine: bool | None, tmp_path: Path
) -> None:
    told = [each.verdict for each in looked(broken(*SEEN_TO_START, *changes), tmp_path).findings
            if each.id == "run_up.room"]  # fmt: skip
    assert told == ([Verdict.FINE] if fine else [])


@pytest.mark.parametrize("speed", [0.75, 0.3])
def test_one_that_a_hand_drives_is_told_how_it_slows_where_the_hand_lets_go(speed: float, tmp_path: Path) -> None:
    """It loses 0.02 g / 1.08 where it rolls freely: followed in small steps of time through what the picture shows."""
    filmed = (("shots[0].start", f"{1.4 / speed} s"), ("shots[0].duration", "1.5 s"))
    scene = read(broken(("vehicle.speed", f"{speed} m/s"), ("vehicle.drive", "hand"), *filmed), tmp_path)
    view = view_of(scene, scene.shots[0])
    told = found(predict(scene, remedies=False), "run_up.hand")
    seen = view.distances[view.vehicle_in_frame]
    v, gone, rolled, step = speed, 0.0, seen[-1] - seen[0], 1e-4
    while v > 0 and gone < rolled:
        gone, v = gone + v * step, max(v - 0.02 * 9.80665 / 1.08 * step, 0.0)
    assert told.value == pytest.approx(v, abs=1e-3) and told.verdict is Verdict.WATCH
    assert ("stands in the picture" in told.message) == (v == 0)
    assert "hand that pushes it" in told.message and "meant to be seen" in told.remedy


@pytest.mark.parametrize(("speed", "start"), [(1.6, 0.4), (1.7, 0.5), (0.6, 2.0)])
def test_a_hand_is_told_how_fast_to_push_and_how_long_to_film(speed: float, start: float, tmp_path: Path) -> None:
    """As it is told it stays within 5 % of the speed, followed in small steps of time."""
    data = broken(
        ("vehicle.speed", f"{speed} m/s"), ("vehicle.drive", "hand"), ("shots[0].start", f"{start} s"),
        ("shots[0].duration", "1.6 s"),
    )  # fmt: skip
    scene = read(data, tmp_path)
    told = found(predict(scene, remedies=False), "run_up.hand")
    assert told.verdict is Verdict.WATCH
    lasts, pushed = (
        re.search(each, told.remedy) for each in (r"duration: ([\d.]+) s", r"Let go there at ([\d.]+) m/s")
    )
    assert lasts and pushed
    shorter = read(changed(data, [Change("shots[0].duration", f"{lasts[1]} s")]), tmp_path)
    both = " m/s and film no more " in told.remedy
    assert both == (speed == 0.6)
    if not both:
        assert found(predict(shorter, remedies=False), "run_up.hand").verdict is Verdict.FINE
    filmed = shorter if both else scene
    view = view_of(filmed, filmed.shots[0])
    shown = np.ptp(view.distances[view.vehicle_in_frame])
    v, gone, step = float(pushed[1]), 0.0, 1e-4
    assert v <= 1.051 * speed
    while gone < shown:
        gone, v = gone + v * step, v - 0.02 * 9.80665 / 1.08 * step
    assert v >= 0.949 * speed


def test_nothing_is_said_of_a_hand_where_none_drives_it_or_it_is_not_seen(tmp_path: Path) -> None:
    away = (("vehicle.drive", "hand"), ("shots[0].start", "0 s"), ("shots[0].duration", "0.1 s"))
    for changes in ((("vehicle.drive", "motor"),), away):
        told = looked(broken(*changes), tmp_path)
        assert not [each for each in told.findings if each.id == "run_up.hand"]


@pytest.mark.parametrize("length", [102, 110, 118, 126, 150, 333])
def test_a_foot_bent_as_it_is_told_is_fine(length: int, tmp_path: Path) -> None:
    """Also where that is a whole millimetre, to the last place but one: the radius goes with the model's length."""
    data = broken(*launched(foot_radius=0), ("vehicle.length", length))
    finding = found(predicted(data, tmp_path), "launch.foot")
    assert finding.verdict == "watch"
    radius = re.search(r"a radius of (\d+) mm or more", finding.remedy)
    assert radius, finding
    bent = broken(*launched(foot_radius=int(radius[1])), ("vehicle.length", length))
    assert found(looked(bent, tmp_path), "launch.foot").verdict == "fine"


def test_a_radius_that_ties_to_the_last_place_is_enough(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("previz.physics.ramp.least_foot_radius", lambda *_: 0.21500000000000002)
    bent = broken(*launched(height=150, foot_radius=215))
    assert found(looked(bent, tmp_path), "launch.foot").verdict == "fine"
