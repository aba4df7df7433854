"""Focus that is set where the vehicle is not while the picture shows it: said, with when it is there."""

from pathlib import Path

import numpy as np
import pytest
from broken_scenes import broken, found, looked, predicted, read

from previz.layout import stays_put
from previz.predictions import Verdict, predict, view_of
from previz.predictions.checks.shot import _not_so_near
from previz.scene import rewritten

#: The lorry comes towards the camera along x, at 0.75 m/s from x = -200 mm; a long lens wide open, so little is sharp.
TOWARDS = (
    ("cameras.small.sensor", [13.2, 8.8]),
    ("cameras.small.lens", "25 mm"),
    ("shots[0].focal_length", 25),
    ("shots[0].f_number", "f/1.4"),
    ("shots[0].at", [2700, 400, 90]),
    ("shots[0].aim", [0, 400, 70]),
    ("shots[0].start", "2 s"),
    ("shots[0].duration", "0.3 s"),
)


@pytest.mark.parametrize(
    ("focus", "says"),
    [
        # At 1 s its middle is at 750 - 200 = 550 mm; the shot begins at 2 s. By hand.
        ("vehicle at 1 s", "is focused where the vehicle is at 1 s on set, when it has not come into the picture yet"),
        ("vehicle at 3 s", "is focused where the vehicle is at 3 s on set, when it has left the picture"),
        # 2150 mm from the lens is x = 550 mm, which its middle passes at 1 s.
        ("2150 mm", "sharp at 1 s on set, before it comes into the picture, which shows it from 2 to 2.29 s."),
        ([2300, 400, 90], "after it has left the picture, which shows it from 2 to 2.29 s."),
        ("10 m", "Its way never comes to what is sharp."),
    ],
)
def test_a_focus_that_the_vehicle_is_not_at_while_it_is_seen_is_told(tmp_path: Path, focus: object, says: str) -> None:
    told = found(looked(broken(*TOWARDS, ("shots[0].focus", focus)), tmp_path), "focus.some")
    assert told.verdict is Verdict.STOP
    assert says in told.message


#: It passes x = 1400 mm at (1400 + 200) / 750 s = 2.133 s; the middle of the picture. By hand.
BEFORE_IT = (("shots[0].at", [1400, -150, 70]), ("shots[0].aim", [1400, 400, 80]))


def test_focus_mid_frame_is_where_it_passes_the_middle_of_the_picture(tmp_path: Path) -> None:
    focused = []
    for focus in ("vehicle mid-frame", f"vehicle at {1600 / 750} s"):
        scene = read(broken(*BEFORE_IT, ("shots[0].focus", focus)), tmp_path)
        view = view_of(scene, scene.shots[0])
        assert float(view.times[view.mid_picture]) == pytest.approx(1600 / 750, abs=0.5 / 120)  # the nearest frame
        assert stays_put(scene.shots[0])
        focused.append(view.focus)
    assert focused[0] == pytest.approx(focused[1], abs=1e-6)
    assert float(np.ptp(focused[0])) == 0.0  # set once


def test_focus_mid_frame_follows_the_camera_that_keeps_the_vehicle_there(tmp_path: Path) -> None:
    scene = read(broken(("shots[0].aim", "vehicle"), ("shots[0].focus", "vehicle mid-frame")), tmp_path)
    all_along = read(broken(("shots[0].aim", "vehicle")), tmp_path)
    views = [view_of(each, each.shots[0]) for each in (scene, all_along)]
    assert views[0].focus == pytest.approx(views[1].focus[views[1].middle], abs=1e-9)  # mid-shot, and left there


def test_a_vehicle_that_is_never_mid_frame_is_told_with_what_helps(tmp_path: Path) -> None:
    data = broken(*BEFORE_IT, ("shots[0].focus", "vehicle mid-frame"), ("shots[0].start", "2.6 s"))
    told = found(predicted(data, tmp_path), "shot.focus")
    assert told.verdict is Verdict.STOP
    # At 2.6 s its middle is 350 mm past x = 1400 mm: on the right, for the camera looks along y.
    assert "is never in the middle of the picture in this shot: it comes nearest at 2.6 s on set," in told.message
    assert "deg to the right" in told.message
    assert told.changes and told.changes[0].value == "vehicle"


def test_a_focus_that_follows_until_the_vehicle_is_too_near_ends_sooner(tmp_path: Path) -> None:
    """Its middle passes the lens, at x = 2700 mm, at (2700 + 200) / 750 s = 3.87 s on set. By hand."""
    near = (*TOWARDS, ("shots[0].focus", "vehicle"), ("shots[0].start", "3 s"), ("shots[0].duration", "1 s"))
    scene = read(broken(*near), tmp_path)
    told = found(predict(scene), "shot.focus")
    assert told.verdict is Verdict.STOP and "Let it last" in told.remedy and "focus on it" not in told.remedy
    after = rewritten(scene, {change.key: change.value for change in told.changes})
    shorter = after.shots[0]
    assert float(shorter.start) + float(shorter.duration or 0) < 3.87
    assert float(view_of(after, shorter).focus.min()) >= float(after.cameras["small"].nearest)


def test_a_shot_that_says_no_end_or_drives_away_is_cut_to_what_can_be_focused_on(tmp_path: Path) -> None:
    """By hand: its middle is 2700 mm along x at 3.87 s and 500 mm at 0.93 s, so it must end, or begin, there."""
    follows = (*TOWARDS, ("shots[0].focus", "vehicle"))
    endless = (*follows, ("shots[0].start", "0.5 s"), ("shots[0].duration", None))
    away = (("shots[0].at", [500, 400, 90]), ("shots[0].aim", [3000, 400, 70]), ("shots[0].start", "0.8 s"))
    for changes, first in ((endless, "duration"), ((*follows, *away, ("shots[0].duration", "2 s")), "start")):
        scene = read(broken(*changes), tmp_path)
        told = found(predict(scene), "shot.focus")
        assert told.verdict is Verdict.STOP and told.changes[0].key == f"shots[0].{first}"
        after = rewritten(scene, {change.key: change.value for change in told.changes})
        shot = after.shots[0]
        assert float(shot.start) + float(shot.duration or 0) < 3.87 and (first == "duration" or shot.start > 0.93)
        assert float(view_of(after, shot).focus.min()) >= float(after.cameras["small"].nearest)


def test_a_focus_that_stops_a_shot_takes_no_figure_with_it_that_it_has_no_part_in(tmp_path: Path) -> None:
    """Told as of the same shot focused elsewhere: what is set, how long and fast it is, and the light."""
    far, near = (
        looked(broken(*TOWARDS, ("shots[0].focus", focus), ("shots[0].start", "3.6 s")), tmp_path).shots[0]
        for focus in ("5 m", "vehicle")
    )
    for name, of in (("f_number", ""), ("focal_length", ""), ("frames", ""), ("slowdown", ""), ("apparent_speed", ""),
                     ("set_speed", ""), ("time_on_screen", ""), ("shot_end", ""), ("exposure_time", "")):  # fmt: skip
        assert near.value(name, of) == pytest.approx(far.value(name, of), rel=1e-6), name
    # Light is metered on what of it is in the picture, so focus has a hair's part in that.
    lit = [each.value("illuminance_vehicle", "all lamps") for each in (near, far)]
    assert lit[0] == pytest.approx(lit[1], rel=0.01)
    with pytest.raises(KeyError):
        near.value("focus_distance")
    with pytest.raises(KeyError):
        near.value("enters_at")  # a lens that is focused nearer sees less


def test_where_a_shorter_shot_does_not_do_the_lens_stands_off_the_way(tmp_path: Path) -> None:
    """It passes the lens just after the shot begins, and 100 mm further off that is nearer than the lens focuses."""
    near = (*TOWARDS, ("shots[0].focus", "vehicle"), ("shots[0].start", "3.86 s"), ("shots[0].duration", "0.1 s"))
    scene = read(broken(*near), tmp_path)
    ((words, written),) = _not_so_near(scene, scene.shots[0])
    assert words.startswith("Stand the lens 200 mm further off, at: [2900 mm")
    after = rewritten(scene, {f"shots[0].{key}": value for key, value in written.items()})
    assert float(view_of(after, after.shots[0]).focus.min()) >= float(after.cameras["small"].nearest)


def test_nothing_of_the_kind_is_said_of_a_focus_in_time(tmp_path: Path) -> None:
    for focus in ("vehicle at 2.1 s", "vehicle"):
        told = looked(broken(*TOWARDS, ("shots[0].focus", focus)), tmp_path)
        assert found(told, "focus.some").verdict is Verdict.FINE
        assert "picture" not in found(told, "focus.vehicle").message


@pytest.mark.parametrize("focus", ["vehicle at 3.9 s", "vehicle mid-frame"])
def test_a_focus_set_once_where_that_cannot_be_is_set_at_another_time_before_the_camera_follows(
    tmp_path: Path, focus: str
) -> None:
    """It passes the lens, 2700 mm along x, at 3.87 s, seen off the picture's middle; following it leaves stops."""
    past = (*TOWARDS, ("shots[0].at", [2700, 200, 90]), ("shots[0].aim", [0, 300, 70]), ("shots[0].focus", focus),
            ("shots[0].duration", "2 s"))  # fmt: skip
    scene = read(broken(*past), tmp_path)
    told = found(predict(scene), "shot.focus")
    (change,) = told.changes
    time = float(str(change.value).removeprefix("vehicle at ").removesuffix(" s"))
    assert change.key == "shots[0].focus" and 1.98 < time < 3.87
    after = rewritten(scene, {change.key: change.value})
    assert float(view_of(after, after.shots[0]).focus.min()) >= float(after.cameras["small"].nearest)
