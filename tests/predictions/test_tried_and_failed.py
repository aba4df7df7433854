"""What was tried and fails is not recommended in the same breath, nor in general words where nothing holds."""

import math
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, found, predicted, read

from previz.predictions import Finding, Verdict, reframed, view_of
from previz.predictions.agreed import _cost, _traded
from previz.predictions.findings import Way
from previz.predictions.trying import Outcome
from previz.scene import rewritten

#: A camera that turns fast before a backdrop that is too low for one further off.
TURNS = broken(
    ("shots[0].aim", "vehicle"), ("vehicle.speed", "3 m/s"), ("shots[0].start", "0.4 s"), ("set.backdrop.height", 300)
)  # fmt: skip


@pytest.mark.parametrize(
    "data,name,still,refused",
    [
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


#: It looks slantwise at the middle of the table, past the left end of a backdrop at its back.
QUARTER = broken(
    ("shots[0].at", [2300, 100, 80]), ("shots[0].aim", [1500, 400, 80]), ("set.backdrop.height", 500),
    ("set.backdrop.width", 1800),
)  # fmt: skip


def test_a_look_from_quite_another_side_comes_last_and_says_so(tmp_path: Path) -> None:
    scene = read(QUARTER, tmp_path)
    view = view_of(scene, scene.shots[0])
    ways = [way for way in reframed(view) if way.changes]
    turned = []
    for way in ways:
        then = rewritten(scene, {change.key: change.value for change in way.changes})
        there = view_of(then, then.shots[0])
        now, after = (each.cameras[each.middle].world_from_camera[:2, 2] for each in (view, there))
        turned.append(math.degrees(math.acos(now @ after / np.linalg.norm(now) / np.linalg.norm(after))))
        said = re.search(r"turns the view by (\d+) degrees: it is another shot\.", way.words)
        assert (said is not None) == (turned[-1] > 30)
        assert said is None or float(said[1]) == pytest.approx(turned[-1], abs=3)
    assert ways and turned[-1] > 30 and [each > 30 for each in turned] == sorted(each > 30 for each in turned)


def test_what_a_remedy_costs_is_said() -> None:
    def noted(share: float, iso: float) -> dict[str, Any]:
        sharp = Finding("focus.vehicle", "vehicle_sharp_share", share, 0.9, "", Verdict.WATCH, "", shot="s")
        noise = Finding("light.iso", "iso_needed", iso, 1600.0, "", Verdict.WATCH, "", shot="s")
        return {"look": SimpleNamespace(findings=[sharp, noise])}

    past = Finding("backdrop.off_set", "off_set_share", 0.1, 0.0, "", Verdict.STOP, "", shot="s")
    trial: Any = SimpleNamespace(
        looked=SimpleNamespace(noted=noted(0.6, 3200.0), scene=SimpleNamespace(tape_unit="mm"))
    )
    said = [_cost(trial, past, Outcome(None, True, noted(*then))) for then in ((0.0, 3200.0), (0.5, 4000.0))]  # type: ignore[arg-type]
    assert said == [" It costs: the whole vehicle sharp (0 %; at least 90 %; it is 60 %).", ""]


def test_a_stop_that_a_way_makes_worse_is_told_as_one_that_was_there() -> None:
    past = Finding("backdrop.off_set", "off_set_share", 0.3, 0.0, "", Verdict.STOP, "It sees past the set.", shot="s")
    new = Finding("gear.camera", "camera_clearance", -0.1, 0.0, "", Verdict.STOP, "It is in a kerb.", shot="s")
    trial: Any = SimpleNamespace(looked=SimpleNamespace(noted={"look": SimpleNamespace(findings=[past])}))
    raised, scene = Way("Raise it by 16 mm.", ()), SimpleNamespace()
    told = [_traded(trial, new, raised, Outcome(scene, False, {}, brings)) for brings in (past, new)]  # type: ignore[arg-type]
    assert told == [
        "What mends it makes another stop worse: Raise it by 16 mm. Then: It sees past the set.",
        "Not this: Raise it by 16 mm. The shot then does not work: It is in a kerb.",
    ]
