"""What stands in each other's way is found, and nothing else."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "stage"))
from set_scenes import STRAIGHT, scene

from previz.layout import (
    MARGIN,
    TOUCH,
    clearance,
    grounded,
    in_each_other,
    on_a_lane,
    others_of,
    over_the_edge,
    solids_of,
    through_the_backdrop,
    vehicle_path,
)
from previz.scene import Scene

BIG = {"table": {"width": 1200, "depth": 600}, "road": {**STRAIGHT, "centre": [[-50, 300], [1250, 300]]}}


def found_in(made: Scene) -> set[tuple[str, str]]:
    margin = MARGIN / made.scale
    return {
        *((touch.it.name, "table") for touch in over_the_edge(made)),
        *((touch.it.name, "backdrop") for touch in through_the_backdrop(made)),
        *((touch.other.name, touch.it.name) for touch in in_each_other(made) if touch.other is not None),
        *((touch.it.name, "road") for touch in on_a_lane(made)),
        *((it.name, "vehicle") for it in grounded(made) if clearance(made, it) < margin - TOUCH),
    }


def hits(*entries: dict, **keys: object) -> set[tuple[str, str]]:
    return found_in(scene(dressing=list(entries), **{**BIG, **keys}))


def test_nothing_is_wrong_with_a_street_well_dressed() -> None:
    row = {"along": "road", "every": 100, "length": 100}
    street = [
        {"id": "lamps", "piece": "lamp_post", "along": "road", "every": 220, "offset": 90, "turn": "-90 deg"},
        {"id": "kerb", "piece": "wall", "height": 3, "thickness": 6, "offset": -82, **row},
        {"id": "rail", "piece": "fence", "style": "guard_rail", "offset": 84, **row},
        {"id": "works", "piece": "cone", "at": [600, 335], "copies": 4, "step": [40, 0, 0]},  # the lane not driven
        {"id": "wood", "piece": "conifer", "at": [120, 500], "copies": 5, "step": [70, 0, 0]},  # crowns meet
        {"id": "houses", "piece": "building", "at": [600, 540], "copies": 2, "step": [200, 0, 0]},
    ]  # fmt: skip
    assert hits(*street) == set()


def test_a_hedge_is_in_the_way_as_a_wall_is_and_meets_its_neighbours() -> None:
    hedge = {"id": "hedge", "piece": "hedge", "length": 60, "at": [600, 265]}
    assert hits(hedge) == {("hedge", "vehicle")}
    beside = {**hedge, "at": [600, 200]}
    assert hits(beside, {**beside, "id": "more", "at": [655, 200]}) == set()  # ends run into each other
    box = {"id": "box", "piece": "container", "length": 40, "at": [600, 190]}
    assert hits(beside, box) != set()  # sponge gives no way, as the leaves of a bush would


def test_the_arm_of_a_lamp_over_the_road_is_no_collision_but_its_post_is() -> None:
    arm = {"id": "post", "piece": "lamp_post", "turn": "90 deg", "arm": 60}
    made = scene(dressing=[{**arm, "at": [600, 215]}], **BIG)
    (outline,) = solids_of(made)
    assert outline.footprint[:, 1].max() > 0.265  # it does reach over the vehicle's lane
    assert hits({**arm, "at": [600, 215]}) == set()
    assert hits({**arm, "at": [600, 265]}) == {("post", "vehicle")}


def test_the_vehicle_s_way_is_as_wide_as_it_is() -> None:
    # Keeping right, its middle is at y = 300 - 35 = 265; a lorry is 2.5 m, 50 mm, wide; 2 mm are kept free beside it.
    def at(y: float) -> set[tuple[str, str]]:
        return hits({"id": "block", "piece": "container", "length": 20, "at": [600, y]})

    half = 20 * 2.438 / 6.058 / 2
    assert at(265 - 25 - 2 - half + 1.5) == {("block", "vehicle")}
    assert at(265 - 25 - 2 - half - 1.5) == set()


def test_above_its_mirrors_the_way_is_wider() -> None:
    # A lorry is 2.95 m, 59 mm, wide from 1.7 m, 34 mm, upwards.
    def at(height: float) -> set[tuple[str, str]]:
        wall = {"id": "wall", "piece": "wall", "length": 60, "thickness": 4, "height": height}
        return hits({**wall, "at": [600, 265 - 25 - 2 - 2 - 2]})

    assert at(30) == set()
    assert at(40) == {("wall", "vehicle")}


def test_overlap_is_how_far_it_would_have_to_move() -> None:
    made = scene(dressing=[{"id": "block", "piece": "container", "length": 20, "at": [600, 236]}], **BIG)
    (block,) = grounded(made)
    half = 0.020 * 2.438 / 6.058 / 2
    assert -clearance(made, block) == pytest.approx(0.236 + half - (0.265 - 0.025), abs=1e-9)


def test_another_lane_counts_as_road() -> None:
    assert hits({"id": "block", "piece": "container", "at": [600, 335]}) == {("block", "road")}
    assert hits({"id": "cone", "piece": "cone", "at": [600, 335]}) == set()
    assert hits({"id": "cone", "piece": "cone", "at": [600, 265]}) == {("cone", "vehicle")}


def test_a_vehicle_is_parked_on_a_lane_that_nothing_drives_on() -> None:
    parked = {"id": "saloon", "piece": "parked", "body": "saloon"}
    assert hits({**parked, "at": [600, 345]}) == set()
    assert hits({**parked, "at": [600, 265]}) == {("saloon", "vehicle")}
    # Another vehicle comes along that lane.
    oncoming = {"oncoming": {"body": "van", "path": "road", "keep": "left", "speed": "0.5 m/s"}}
    made = scene(dressing=[{**parked, "at": [600, 335]}], vehicles=oncoming, **BIG)
    assert not list(on_a_lane(made))
    (other,) = others_of(made)
    (saloon,) = grounded(made)
    assert clearance(other[1], saloon) < 0


def test_a_bend_is_swept_wider_than_the_vehicle() -> None:
    vehicle = {"body": "bus", "speed": "0.5 m/s", "path": [[300, 100], [500, 300], [300, 500]]}
    made = scene(table=BIG["table"], vehicle=vehicle)
    path = vehicle_path(made)
    # Beside the tip of the bend, further out than half a bus's width and margin but within reach of its corners.
    apex = path.at(path.length / 2) + np.array([1.35 / 50 + 0.006, 0.0])
    post = {"id": "post", "piece": "cone", "height": 4, "at": [float(apex[0] * 1000), float(apex[1] * 1000)]}
    made = made.model_copy(update={"dressing": scene(dressing=[post]).dressing})
    assert found_in(made) == {("post", "vehicle")}


def test_pieces_in_each_other_are_found_and_neighbours_are_not() -> None:
    def pair(gap: float) -> set[tuple[str, str]]:
        first = {"id": "a", "piece": "container", "at": [300, 500]}
        return hits(first, {**first, "id": "b", "at": [300 + 6058 / 50 + gap, 500]})

    assert pair(-3) == {("a", "b")}
    assert pair(1) == set()


def test_one_on_top_of_another_is_no_collision() -> None:
    first = {"id": "a", "piece": "container", "at": [300, 500, 0]}
    assert hits(first, {**first, "id": "b", "at": [300, 500, 52]}) == set()
    assert hits(first, {**first, "id": "b", "at": [300, 500, 30]}) == {("a", "b")}


def test_over_the_edge_and_through_the_backdrop() -> None:
    backdrop = {"distance": 580, "height": 400, "colour": "#808080"}
    assert hits({"id": "a", "piece": "container", "at": [1180, 100]}) == {("a", "table")}
    assert hits({"id": "a", "piece": "container", "at": [600, 570]}, backdrop=backdrop) == {("a", "backdrop")}
    assert hits({"id": "a", "piece": "container", "at": [600, 540]}, backdrop=backdrop) == set()
