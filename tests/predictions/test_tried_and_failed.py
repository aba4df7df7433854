"""What was tried and fails is not recommended in the same breath, nor in general words where nothing holds."""

from pathlib import Path
from typing import Any

import pytest
from broken_scenes import broken, found, predicted, read
from test_ramp_on_set import on_ramp

from previz.predictions import Verdict, reframed, view_of

#: A ramp off the table's edge, that comes into the picture where it is set further in.
HANGS = on_ramp(
    ("shots[0].start", "0.1 s"), ("shots[0].at", [700, -150, 70]), ("shots[0].aim", [700, 400, 80]), foot=500
)  # fmt: skip
#: A camera that turns fast before a backdrop that is too low for one further off.
TURNS = broken(
    ("shots[0].aim", "vehicle"), ("vehicle.speed", "3 m/s"), ("shots[0].start", "0.4 s"), ("set.backdrop.height", 300)
)  # fmt: skip


@pytest.mark.parametrize(
    "data,name,still,refused",
    [
        (
            HANGS,
            "ramp.edge",
            "Stand a support as high as the table, 740 mm, under it.",
            "What mends it spoils something else: Set its foot ",
        ),
        (TURNS, "motion.pan", "Fix the camera and let it pass.", "Not this: Stand "),
    ],
)
def test_what_is_refused_is_not_recommended_before_it(
    data: dict[str, Any], name: str, still: str, refused: str, tmp_path: Path
) -> None:
    finding = found(predicted(data, tmp_path), name)
    assert finding.remedy.startswith(f"{still} {refused}") and not finding.changes
    # Nor is what is still to be done refused after it.
    assert finding.remedy.count(still) == 1 and ";" not in finding.remedy  # what it brings is named, not explained
    assert "support" not in finding.remedy.partition(refused)[2]


def test_past_the_set_nothing_is_told_to_do_that_was_not_found_to_help(tmp_path: Path) -> None:
    """A camera that moves and looks away from the set, up: no sheet is there, nor ground, nor a zoom."""
    moves = [{"time": "2 s", "at": [400, -150, 300]}, {"time": "2.6 s", "at": [420, -150, 300]}]
    data = broken(("shots[0].at", moves), ("shots[0].aim", [400, -900, 600]), ("shots[0].focus", "500 mm"))
    finding = found(predicted(data, tmp_path), "backdrop.off_set")
    assert finding.verdict is Verdict.STOP and not finding.changes
    assert "needs a backdrop of its own" in finding.remedy and "previz advise" in finding.remedy
    assert not [each for each in ("nearer", "oom in", "level", "larger") if each in finding.remedy]


def test_what_stops_a_shot_is_said_to_be_past_what_was_tried(tmp_path: Path) -> None:
    """Every focus and stop is tried on a lens that diffraction leaves nothing sharp with; none helps."""
    small = [("cameras.small.widest", "f/64"), ("cameras.small.smallest", "f/64"), ("shots[0].f_number", "f/64")]
    finding = found(predicted(broken(*small), tmp_path), "focus.some")
    assert finding.verdict is Verdict.STOP and not finding.changes
    assert finding.remedy.startswith("Nothing ") and "Focus on" not in finding.remedy


def test_a_camera_that_would_follow_no_more_is_said_to_stand_still(tmp_path: Path) -> None:
    low = ("set.backdrop.height", 250)
    for aim in ("vehicle", [1500, 400, 160]):
        scene = read(broken(("shots[0].aim", aim), low), tmp_path)
        ways = [way for way in reframed(view_of(scene, scene.shots[0])) if way.changes]
        assert ways
        for way in ways:
            aims = [change.value for change in way.changes if change.key.endswith(".aim")]
            stops_following = aim == "vehicle" and aims != [] and aims != ["vehicle"]
            assert way.words.endswith("does not pan: the vehicle drives through the picture.") is stops_following
        if aim == "vehicle":
            assert any("stands still" in way.words for way in ways)
