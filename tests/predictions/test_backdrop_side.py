"""A backdrop along another side of the table: all that is said of a set that is turned with it stays the same."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from previz.layout import backdrop_plane
from previz.predictions import GLOSSARY, Predictions, Verdict, predict, view_of
from previz.predictions.checks.framing import check_framing
from previz.predictions.checks.set import check_set
from previz.scene import rewritten
from tests.predictions.broken_scenes import GOOD, broken, changed, found, read
from tests.predictions.random_scenes import random_scene
from tests.predictions.turned_scenes import turned

SIDES = ("left", "front", "right")

#: All that can be wrong with a backdrop: pieces and the vehicle's way through it, the join sharp, the picture past it.
BEHIND = broken(
    ("set.backdrop", {"distance": 600, "height": 300, "width": 2000, "join": "straight", "colour": "#9aa4ad"}),
    ("set.road.centre", [[-200, 640], [3200, 640]]),
    ("shots[0].aim", [1500, 640, 80]),
    ("shots[0].f_number", "f/11"),
)
SCENES: dict[str, dict[str, Any]] = {
    "all in order": GOOD,
    "behind it": BEHIND,
    "camera behind it": broken(("shots[0].at", [1600, 895, 70]), ("shots[0].aim", [1500, 400, 80])),
    "seed 3": random_scene(3),
    "seed 14": random_scene(14),
}


def known(predictions: Predictions) -> tuple[dict[Any, float], dict[Any, tuple[Verdict, float]]]:
    """Figures and findings but those of light, which is sampled by rays that do not turn with the set."""
    figures = [("", each) for each in predictions.figures]
    figures += [(shot.shot, each) for shot in predictions.shots for each in shot.figures]
    values = {(shot, each.quantity, each.of): each.value for shot, each in figures
              if GLOSSARY[each.quantity].group != "Light"}  # fmt: skip
    told = {(each.shot, each.id): (each.verdict, each.value) for each in predictions.findings
            if not each.id.startswith(("light.", "lamps."))}  # fmt: skip
    return values, told


@pytest.mark.parametrize("side", SIDES)
def test_what_hides_the_vehicle_or_is_in_its_way_is_moved_away_from_the_camera(side: str, tmp_path: Path) -> None:
    """Behind the road is where the camera looks, whichever side of the table that is."""
    for y, name in ((150, "framing.hidden"), (400, "set.path")):
        data = turned(broken(("dressing[1].at", [1500, y])), side)
        for mended in (False, True):
            scene = read(data, tmp_path)
            notes = check_set(scene) if name == "set.path" else check_framing(view_of(scene, scene.shots[0]))
            (told,) = [number for number, each in enumerate(notes.findings) if each.id == name]
            assert (notes.findings[told].verdict is Verdict.FINE) == mended
            if not mended:
                data = changed(data, next(iter(notes.ways[told]())).changes)


@pytest.mark.parametrize("name", SCENES)
def test_a_turned_set_has_the_same_figures_and_findings(name: str, tmp_path: Path) -> None:
    there = {side: known(predict(read(turned(SCENES[name], side), tmp_path), remedies=False))
             for side in ("back", *SIDES)}  # fmt: skip
    figures, told = there["back"]
    for side in SIDES:
        assert there[side][0] == pytest.approx(figures, rel=1e-7, abs=1e-9, nan_ok=True)
        assert {key: verdict for key, (verdict, _) in there[side][1].items()} == {k: v for k, (v, _) in told.items()}
        values = {key: value for key, (_, value) in told.items()}
        assert {key: value for key, (_, value) in there[side][1].items()} == pytest.approx(
            values, rel=1e-7, abs=1e-9, nan_ok=True
        )
    if name == "behind it":  # or there was nothing to compare
        torn = {identity for (_, identity), (verdict, _) in told.items() if verdict != Verdict.FINE}
        assert {"set.backdrop.tree", "room.backdrop", "backdrop.off_set", "backdrop.join"} <= torn


@pytest.mark.parametrize("side", SIDES)
def test_lamps_light_a_turned_backdrop_as_much(side: str, tmp_path: Path) -> None:
    """What comes straight from a panel at the front, at right angles to it, has no part that is sampled all round."""
    both = []
    for each in ("back", side):
        scene = read(turned(GOOD, each), tmp_path)
        light = view_of(scene, scene.shots[0]).light
        assert light.backdrop is not None
        both.append(light.backdrop.straight["key"])
    assert both[1] == pytest.approx(both[0], rel=1e-3)


#: Down the road to an end of the table, past which a backdrop at the back does not reach.
ALONG = {"left": {"at": [550, 400, 70], "aim": [0, 400, 60], "start": "0.6 s", "duration": "0.1 s"},
         "right": {"at": [2450, 400, 70], "aim": [3000, 400, 60], "start": "3.9 s", "duration": "0.1 s"}}  # fmt: skip


@pytest.mark.parametrize("side", ALONG)
def test_a_shot_along_the_table_has_the_backdrop_turned_for_it(side: str, tmp_path: Path) -> None:
    """It looks past a backdrop at the back; what is offered was tried, and nothing is past the set then."""
    scene = read(GOOD | {"dressing": [], "shots": [GOOD["shots"][0] | ALONG[side]]}, tmp_path)
    past = found(predict(scene), "backdrop.off_set")
    assert past.verdict is Verdict.STOP and f"along the {side} side of the table" in past.remedy
    after = rewritten(scene, {change.key: change.value for change in past.changes})
    assert after.set.backdrop is not None and after.set.backdrop.side == side
    assert found(predict(after, remedies=False), "backdrop.off_set").value == 0.0


def test_where_none_hangs_one_is_hung_where_the_camera_looks(tmp_path: Path) -> None:
    bare = {key: value for key, value in GOOD["set"].items() if key != "backdrop"}
    scene = read(GOOD | {"set": bare, "dressing": [], "shots": [GOOD["shots"][0] | ALONG["left"]]}, tmp_path)
    past = found(predict(scene), "backdrop.off_set")
    assert "at the table's left edge" in past.remedy
    after = rewritten(scene, {change.key: change.value for change in past.changes})
    plane = backdrop_plane(after)
    assert plane is not None and plane.at == 0.0 and plane.side == "left"
    assert found(predict(after, remedies=False), "backdrop.off_set").value == 0.0


@pytest.mark.parametrize("side", ["back", "left"])
def test_a_bend_that_begins_at_the_table_s_edge_leaves_no_gap(side: str, tmp_path: Path) -> None:
    """The sheet stands 60 mm off the table: bent over those it covers them, straight one looks down past the edge."""
    pixels = []
    for join, distance in (("cove 60", 960), ("straight", 960), ("straight", 900)):
        data = turned(broken(("set.backdrop.join", join), ("set.backdrop.distance", distance)), side)
        pixels.append(found(predict(read(data, tmp_path), remedies=False), "backdrop.off_set").value)
    assert pixels[0] == pixels[2] == 0.0 < pixels[1]


@pytest.mark.parametrize("side", ["back", *SIDES])
def test_places_of_a_plane_are_the_set_s_turned(side: str, tmp_path: Path) -> None:
    """Out and back; right-handed; its ends left and right of whoever looks at it from the set."""
    plane = backdrop_plane(read(turned(GOOD, side), tmp_path))
    assert plane is not None
    points = np.random.default_rng(5).uniform(-1.0, 4.0, (50, 3))
    assert plane.placed(plane.across(points), plane.off(points), points[:, 2]) == pytest.approx(points)
    frame = np.stack([plane.way(1, 0, 0), plane.way(0, 1, 0), plane.way(0, 0, 1)])
    assert np.linalg.det(frame) == pytest.approx(1.0) and frame @ frame.T == pytest.approx(np.eye(3))
    left, right = plane.ends
    aside, towards = right - left, plane.way(0, 1, 0)[:2]
    assert aside[0] * towards[1] - aside[1] * towards[0] == pytest.approx(plane.width)  # ahead is to the left of right
    words = {"forward": (0, -1), "towards the back": (0, 1), "to the left": (-1, 0), "to the right": (1, 0)}
    assert words[plane.away] == tuple(-towards)
