"""A vehicle that starts behind the backdrop: found from the numbers written, and gone where it starts on this side."""

import re
from pathlib import Path
from typing import Any

import pytest

from previz.predictions import Finding, Verdict, predict, view_of
from previz.predictions.checks.way_in import check_way_in
from previz.scene import read_scene, setups_of
from tests.predictions.broken_scenes import GOOD, broken, changed, found, read

#: A sheet across the road, 50 mm inside the table's left edge; the road begins 200 mm before that edge.
AT_THE_LEFT = ("set.backdrop", GOOD["set"]["backdrop"] | {"side": "left", "distance": 2950, "width": 2000})


def way_in(data: dict[str, Any], folder: Path) -> Finding:
    scene = read(data, folder)
    (told,) = check_way_in(view_of(scene, scene.shots[0])).findings
    return told


def test_a_start_behind_the_sheet_is_found_with_how_far_behind_it_reaches(tmp_path: Path) -> None:
    told = way_in(broken(AT_THE_LEFT), tmp_path)
    assert told.verdict is Verdict.WATCH and "starts behind the backdrop" in told.message
    assert told.value == pytest.approx(-(0.050 + 0.200 + 8 / 24 / 2))  # its tail, half a lorry of 8 m at 1:24 behind
    assert not told.remedy  # it has a way, which is tried first


def test_its_remedy_starts_it_clear_of_the_sheet(tmp_path: Path) -> None:
    """The first place on its way, by 5 mm, from which its tail is a centimetre clear."""
    told = found(predict(read(broken(AT_THE_LEFT), tmp_path)), "way_in.backdrop")
    assert told.remedy.startswith("Start it on this side, its middle at 230 mm, 327 mm, and on by ")
    for key in ("vehicle.path", "vehicle.start"):  # a shot has a start too
        assert f"({key})" in told.remedy and key in {change.key for change in told.changes}


#: Ways that bend: along the road, and through points beside it, driven from the last.
BENT = [
    (("set.road.centre", [[-200, 380], [900, 420], [1900, 380], [3200, 420]]),),
    (("vehicle.path", [[3200, 420], [1500, 380], [-200, 430]]), ("vehicle.reverse", True), ("vehicle.offset", "20 mm")),
]


@pytest.mark.parametrize("bent", [(), *BENT])
def test_its_remedy_leaves_the_vehicle_where_it_is_filmed(bent: tuple[tuple[str, Any], ...], tmp_path: Path) -> None:
    data = broken(AT_THE_LEFT, *bent)
    scene = read(data, tmp_path)
    before = view_of(scene, scene.shots[0])
    (way,) = check_way_in(before).ways[0]()
    after = read(changed(data, way.changes), tmp_path)
    then = view_of(after, after.shots[0])
    assert check_way_in(then).findings[0].verdict is Verdict.FINE
    assert (";" in way.words) == bool(bent)
    near = 2e-3 if bent else 1e-5  # a tape's marks; as it is written
    assert then.vehicle_corners == pytest.approx(before.vehicle_corners, abs=near)


def test_one_on_a_ramp_or_a_way_of_many_bends_is_told_where_it_may_start(tmp_path: Path) -> None:
    wound = [[150 * number - 200, 400 + 40 * (-1) ** number] for number in range(24)]
    told = way_in(broken(AT_THE_LEFT, ("vehicle.path", wound)), tmp_path)
    assert re.fullmatch(
        r"Start it on this side .* its middle at .* or further on; or move the backdrop away\.", told.remedy
    )


@pytest.mark.parametrize(
    "change",
    [
        ("set.backdrop", GOOD["set"]["backdrop"]),  # along the road
        ("set.backdrop", AT_THE_LEFT[1] | {"width": 100}),  # it comes round the end of the sheet
        ("set.road.centre", [[300, 400], [3200, 400]]),  # on this side from the start
    ],
)
def test_a_way_that_meets_no_sheet_is_fine(change: tuple[str, Any], tmp_path: Path) -> None:
    assert way_in(broken(AT_THE_LEFT, change), tmp_path).verdict is Verdict.FINE


def test_one_that_stands_is_not_looked_at(tmp_path: Path) -> None:
    scene = read(broken(AT_THE_LEFT, ("vehicle.speed", 0)), tmp_path)
    assert not check_way_in(view_of(scene, scene.shots[0])).findings


def test_check_tells_it_and_its_remedy_holds(tmp_path: Path) -> None:
    told = found(predict(read(broken(AT_THE_LEFT), tmp_path)), "way_in.backdrop")
    assert told.verdict is Verdict.WATCH and told.remedy


@pytest.mark.parametrize(
    "demo", sorted((Path(__file__).parents[2] / "scenes").glob("*.yaml")), ids=lambda path: path.stem
)
def test_no_demo_starts_behind_its_backdrop(demo: Path) -> None:
    for setup in setups_of(read_scene(demo)):
        for shot in setup.scene.shots:
            assert all(each.verdict is Verdict.FINE for each in check_way_in(view_of(setup.scene, shot)).findings)
