"""What is told of a launch ramp as a thing: where it stands, what is in it, and how much of the picture it takes."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from broken_scenes import GOOD, broken, changed, found, looked, predicted, read

from previz.layout import ramp_of
from previz.predictions import Verdict
from previz.predictions.shot_view import view_of

FINE, WATCH, STOP = Verdict.FINE, Verdict.WATCH, Verdict.STOP
RAMP = {"height": 150, "length": 600, "foot_radius": 600, "lip": 0.5, "foot": 1100}


def on_ramp(*more: tuple[str, Any], **ramp: Any) -> dict[str, Any]:
    launch = {"ramp": {**RAMP, **ramp}, "wheel_share": "8 %", "rolling": "2 %"}
    return broken(("vehicle.speed", None), ("vehicle.launch", launch), *more)


#: Its length on the table: the slope and half a lorry more of it, and the tangent of its bend.
ANGLE = math.asin(149.5 / 600)
LONG = (0.600 + 8 / 24 / 2) * math.cos(ANGLE) + 0.600 * math.tan(ANGLE / 2)
LANE = 400 - 3500 / 24 / 2  # y of the lane's middle


def test_the_footprint_is_told(tmp_path: Path) -> None:
    told = looked(on_ramp(), tmp_path)
    assert told.value("ramp_footprint", "length") == pytest.approx(LONG, rel=1e-6)
    assert told.value("ramp_footprint", "width") == pytest.approx(2.95 / 24 + 0.020)  # a lorry over its mirrors


CASES = [
    # The road begins 200 mm off the table: a foot 150 mm along it is 50 mm off.
    ({"foot": 150}, [], "ramp.foot", STOP, 0.050),
    ({"foot": 500}, [], "ramp.edge", WATCH, LONG - 0.300),
    ({"width": 80}, [], "ramp.width", STOP, 0.080),  # a lorry 104 mm wide
    # A lamp post's foot, a wall, in the sheet's lower part; a tree's leaves give way.
    ({}, [("dressing[2]", {"id": "wall", "piece": "wall", "at": [700, LANE], "length": 40})], "ramp.overlap.wall",
     STOP, None),
    ({}, [("dressing[2]", {"id": "cone", "piece": "cone", "at": [880, LANE]})], "ramp.overlap.cone", WATCH, None),
    # A path that begins towards the front: the ramp runs back through the sheet, which bends up from 800 mm on.
    ({"foot": 0}, [("vehicle.path", [[1000, 600], [1000, 100]])], "ramp.backdrop", STOP, 0.600 + LONG - 0.890),
]  # fmt: skip


@pytest.mark.parametrize("ramp,more,name,verdict,value", CASES)
def test_what_is_wrong_with_a_ramp_is_found_and_its_remedy_clears_it(
    ramp: dict[str, Any], more: list[tuple[str, Any]], name: str, verdict: Verdict, value: float | None, tmp_path: Path
) -> None:
    data = on_ramp(*more, **ramp)
    finding = found(predicted(data, tmp_path), name)
    assert finding.verdict is verdict
    if value is not None:
        assert finding.value == pytest.approx(value, rel=1e-6)
    assert finding.remedy and finding.changes
    mended = [each for each in looked(changed(data, finding.changes), tmp_path).findings if each.id == name]
    assert [each.verdict for each in mended] in ([], [FINE])


def test_a_good_ramp_is_fine_throughout(tmp_path: Path) -> None:
    ramp = [each for each in looked(on_ramp(), tmp_path).findings if each.id.startswith("ramp.")]
    assert {each.id for each in ramp} == {"ramp.width", "ramp.foot", "ramp.edge", "ramp.backdrop", "ramp.overlap"}
    assert all(each.verdict is FINE for each in ramp)


def test_a_driven_vehicle_has_no_ramp_to_speak_of(tmp_path: Path) -> None:
    told = looked(GOOD, tmp_path)
    assert not [each for each in told.findings if "ramp" in each.id]
    assert not [each for each in (*told.figures, *told.shots[0].figures) if each.quantity.startswith("ramp_")]


def test_an_overhang_says_which_edge_and_how_high_a_support(tmp_path: Path) -> None:
    finding = found(predicted(on_ramp(("set.table.height", 810), foot=500), tmp_path), "ramp.edge")
    assert f"{1000 * (LONG - 0.3):.0f} mm off the table's left edge" in finding.message
    assert "as high as the table, 810 mm" in finding.remedy


#: A ramp off the table's edge, that comes into the picture where it is set further in.
HANGS = on_ramp(
    ("shots[0].start", "0.1 s"), ("shots[0].at", [700, -150, 70]), ("shots[0].aim", [700, 400, 80]), foot=500
)  # fmt: skip


def test_a_ramp_that_hangs_over_is_stood_on_the_floor_which_spoils_nothing(tmp_path: Path) -> None:
    """Its block stood there before too, so nothing else is otherwise; and the file says that it is meant."""
    before = predicted(HANGS, tmp_path)
    told = found(before, "ramp.edge")
    assert told.remedy == "Stand a support as high as the table, 740 mm, under it (support: floor)."
    mended = changed(HANGS, told.changes)
    after = looked(mended, tmp_path)
    assert found(after, "ramp.edge").verdict is FINE
    assert "on a support that stands on the floor" in found(after, "ramp.edge").message
    others = [{each.id: (each.value, each.verdict) for each in told.findings if each.id != "ramp.edge"}
              for told in (before, after)]  # fmt: skip
    assert others[0] == others[1]
    shapes = [ramp_of(read(data, tmp_path)) for data in (HANGS, mended)]
    assert shapes[0].block == shapes[1].block and shapes[0].block_foot == shapes[1].block_foot == -0.740


def test_a_foot_off_the_right_edge_gets_a_longer_table_on_which_no_shot_is_otherwise(tmp_path: Path) -> None:
    """The road ends 200 mm off the right edge and is driven from there: 3000 mm + 150 mm, for a foot 50 mm along."""
    data = on_ramp(("vehicle.reverse", True), ("vehicle.keep", "left"), foot=50)
    told = found(predicted(data, tmp_path), "ramp.foot")
    assert (told.verdict, told.value) == (STOP, pytest.approx(0.150))
    assert told.remedy.startswith(
        "Make the table longer at its right edge, with a board as high as it: 3151 mm (width)"
    )
    assert not any(change.key.startswith("shots") for change in told.changes)
    mended = looked(changed(data, told.changes), tmp_path)
    assert [found(mended, name).verdict for name in ("ramp.foot", "ramp.edge")] == [FINE, FINE]


def test_the_caution_about_raised_ramps_stays(tmp_path: Path) -> None:
    assert "ramp.raised" in {each.id for each in looked(on_ramp(), tmp_path).cautions}


# --- in the picture ---


def outline_in_picture(data: dict[str, Any], folder: Path) -> float:
    """Share of the first frame inside the outline of the sheet and its block, drawn by their corners."""
    scene = read(data, folder)
    view, ramp = view_of(scene, scene.shots[0]), ramp_of(scene)
    forward = np.linspace(-ramp.length, 0.0, 40)

    def side(left: float, heights: np.ndarray) -> np.ndarray:
        flat = ramp.placed(np.column_stack([forward, np.full(len(forward), left)]))
        return np.column_stack([flat, heights])

    half, width, height = ramp.width / 2, *view.size
    low = np.where(forward <= ramp.block[1], 0.0, ramp.underside(forward))
    shapes = []
    for corners in ([side(s, h) for s in (-half, half) for h in (ramp.height(forward), low)],):
        places = [view.project(points)[0][0] for points in corners]
        for k in range(len(forward) - 1):
            shapes.append(shapely.convex_hull(shapely.multipoints(np.concatenate([p[k : k + 2] for p in places]))))
    seen = shapely.intersection(shapely.union_all(shapes), shapely.box(0, 0, width, height))
    return seen.area / (width * height)


@pytest.mark.parametrize("foot,x", [(1100, 900), (1300, 900), (1500, 900), (1500, 1500)])
def test_the_ramp_s_share_of_the_picture_is_that_of_its_outline(foot: float, x: float, tmp_path: Path) -> None:
    view = [("shots[0].at", [x, -350, 160]), ("shots[0].aim", [x, 400, 60]), ("shots[0].focus", "600 mm")]
    data = on_ramp(*view, ("dressing", []), foot=foot)
    finding = found(looked(data, tmp_path), "framing.ramp")
    share = outline_in_picture(data, tmp_path)
    assert share > 0.005
    assert finding.value == pytest.approx(share, rel=0.12)
    assert finding.verdict is WATCH


def test_out_of_the_picture_or_behind_something_it_is_fine(tmp_path: Path) -> None:
    view = [("shots[0].at", [2300, -350, 160]), ("shots[0].aim", [2300, 400, 60])]
    aside = found(looked(on_ramp(*view), tmp_path), "framing.ramp")
    assert (aside.verdict, aside.value) == (FINE, 0.0)
    near = [("shots[0].at", [500, -350, 60]), ("shots[0].aim", [500, 400, 60])]
    wall = {"id": "wall", "piece": "wall", "at": [500, 100], "length": 1600, "height": 320}
    assert found(looked(on_ramp(*near), tmp_path), "framing.ramp").verdict is WATCH
    hidden = found(looked(on_ramp(*near, ("dressing", [wall])), tmp_path), "framing.ramp")
    assert (hidden.verdict, hidden.value) == (FINE, 0.0)


def test_a_ramp_before_the_vehicle_hides_it(tmp_path: Path) -> None:
    # From behind and below, down the ramp's axis: the high end stands between camera and vehicle.
    view = [
        ("shots[0].at", [60, LANE, 60]),
        ("shots[0].aim", [1500, LANE, 60]),
        ("shots[0].start", "0.2 s"),
        ("shots[0].duration", "0.2 s"),
    ]
    finding = found(predicted(on_ramp(*view, foot=1000), tmp_path), "framing.hidden")
    assert finding.value > 0.8 and "by ramp" in finding.message and finding.remedy == "Move the camera past the ramp."


def test_on_its_ramp_a_vehicle_is_not_hidden_by_the_sheet_that_it_stands_on(tmp_path: Path) -> None:
    view = [("shots[0].at", [700, -350, 160]), ("shots[0].aim", [700, 400, 60]), ("shots[0].start", "-0.6 s")]
    finding = found(looked(on_ramp(*view, ("dressing", []), foot=1200), tmp_path), "framing.hidden")
    assert finding.value < 0.03


def test_a_camera_in_the_ramp_is_found(tmp_path: Path) -> None:
    view = [("shots[0].at", [1100 - 200 - 1000 * LONG + 20, LANE, 60]), ("shots[0].aim", [1500, LANE, 60])]
    finding = found(looked(on_ramp(*view), tmp_path), "room.camera_clear")
    assert finding.verdict is STOP and "inside ramp" in finding.message


# --- before the vehicle is let go ---


def test_a_shot_may_begin_on_the_ramp_but_not_before_the_release(tmp_path: Path) -> None:
    rolling = found(looked(on_ramp(("shots[0].start", "-0.3 s")), tmp_path), "shot.ramp")
    assert rolling.verdict is FINE and "rolls down its ramp" in rolling.message
    early = found(looked(on_ramp(("shots[0].start", "-2 s")), tmp_path), "shot.ramp")
    # Down 0.6 m of slope at g (sin a - 0.02 cos a) / 1.08, more slowly in the bend.
    straight = math.sqrt(2 * 0.6 / (9.80665 * (math.sin(ANGLE) - 0.02 * math.cos(ANGLE)) / 1.08))
    assert early.verdict is WATCH and -1.1 * straight < early.limit < -straight
