"""The launch ramp on the set, and the vehicle on it: its wheels touch the sheet, and nothing jumps."""

import math
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

sys.path.insert(0, str(Path(__file__).parents[1] / "stage"))
from set_scenes import STRAIGHT, scene

from previz.errors import PrevizError
from previz.layout import (
    chassis_of,
    clearance,
    ground_heights,
    in_the_ramp,
    pieces_of,
    profile_of,
    ramp_behind_backdrop,
    ramp_of,
    ramp_overhang,
    solids_of,
    travel_of,
    vehicle_on,
    vehicle_path,
    vehicle_size,
)
from previz.scene import UNDERSIDES, VEHICLE_SIZES, Scene

TABLE = {"width": 2000, "depth": 600}
RAMP = {"height": 120, "length": 500, "foot_radius": 200, "foot": 700}
BODIES = ("lorry", "van", "bus", "saloon", "tractor")


def launched(body: str = "lorry", road: Any = None, path: Any = "road", keys: Any = None, **ramp: Any) -> Scene:
    way = road or {**STRAIGHT, "centre": [[-50, 300], [2050, 300]]}
    vehicle = {"body": body, "path": path, "launch": {"ramp": {**RAMP, **ramp}}}
    return scene(table=TABLE, road=way, vehicle=vehicle, **(keys or {}))


def wheels(made: Scene, distance: float) -> np.ndarray:
    """Middles of front and rear wheels (2, 3) in the world, from the vehicle's own frame."""
    pose, chassis = vehicle_on(vehicle_path(made), distance), chassis_of(made)
    body, length = made.vehicle.body, vehicle_size(made)[0]
    wheelbase, overhang, _ = (side * length / VEHICLE_SIZES[body][0] for side in UNDERSIDES[body])
    front = length / 2 - overhang
    own = np.array([[x, 0.0, chassis.wheel_radius, 1.0] for x in (front, front - wheelbase)])
    return (own @ pose.world_from_vehicle.T)[:, :3]


def surface(made: Scene, lip: bool = True) -> shapely.LineString:
    """Ramp and table as a line in the plane of the vehicle's way: forward of the foot, and up."""
    line = profile_of(made.vehicle.launch.ramp).points(arc=200)
    line[:, 0] -= line[-1, 0]
    uphill = (line[0] - line[1]) / np.linalg.norm(line[0] - line[1])
    return shapely.LineString([line[0] + 2 * uphill, *line, (0.0, 0.0), (5.0, 0.0)])


def in_plane(made: Scene, points: np.ndarray) -> np.ndarray:
    path = vehicle_path(made)
    heading = float(path.heading(0.0))
    ahead = np.array([math.cos(heading), math.sin(heading)])
    return np.column_stack([(points[:, :2] - path.at(0.0)) @ ahead, points[:, 2]])


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("foot_radius", [0, 200, 500])
def test_its_wheels_touch_the_ramp_all_the_way_down(body: str, foot_radius: float) -> None:
    made = launched(body, foot_radius=foot_radius)
    line, radius = surface(made), chassis_of(made).wheel_radius
    run = travel_of(made).descent.length
    for distance in np.linspace(-run, 0.2, 90):
        for middle in in_plane(made, wheels(made, float(distance))):
            assert line.distance(shapely.Point(middle)) == pytest.approx(radius, abs=5e-5)


@pytest.mark.parametrize("body", BODIES)
def test_it_is_let_go_at_the_height_that_is_written(body: str) -> None:
    made = launched(body)
    travel = travel_of(made)
    pose = vehicle_on(vehicle_path(made), travel.distance(travel.descent.released_at - 1.0))
    assert pose.position[2] == pytest.approx(0.120, abs=2e-5)
    assert pose.pitch == pytest.approx(-math.asin(0.120 / 0.500), abs=1e-9)
    # Straight back from the foot: the slope but for the bend's tangent, and that on the flat.
    angle, tangent = math.asin(0.120 / 0.500), 0.2 * math.tan(math.asin(0.120 / 0.500) / 2)
    back = float(np.linalg.norm(pose.position[:2] - vehicle_path(made).at(0.0)))
    assert back == pytest.approx(0.5 * math.cos(angle) + tangent, abs=1e-4)


def random_launches(seed: int, count: int) -> list[Scene]:
    rng = np.random.default_rng(seed)
    found = []
    for number in range(count):
        length = rng.uniform(150, 900)
        height = length * math.sin(rng.uniform(0.03, 0.55))
        radius = 0.0 if number % 3 == 0 else rng.uniform(0, 1.2) * length
        lip = rng.uniform(0, 4) if number % 2 else 0.0
        bend = [[-50, 300], [600, rng.uniform(200, 400)], [1300, rng.uniform(100, 500)], [2050, 300]]
        ramp = {"height": height + lip, "length": length, "foot_radius": radius, "lip": lip}
        extra = {"foot": rng.uniform(-200, 900), "support": str(rng.choice(["block", "none"]))}
        body = str(rng.choice(BODIES))
        found.append(launched(body, road={**STRAIGHT, "centre": bend}, **ramp, **extra))
    return found


@pytest.mark.parametrize("number", range(24))
def test_launches_at_random_neither_jump_nor_fail(number: int) -> None:
    made = random_launches(5, 24)[number]
    path, travel = vehicle_path(made), travel_of(made)
    run, step = travel.descent.length, 0.0005
    poses = [vehicle_on(path, float(d)) for d in np.arange(-run, 3 * made.vehicle_length, step)]
    # The roof's corner, which pitching moves most: it never goes much further than the wheels roll.
    corner = np.array([made.vehicle_length / 2, 0.0, vehicle_size(made)[2], 1.0])
    places = np.array([pose.world_from_vehicle @ corner for pose in poses])[:, :3]
    assert np.linalg.norm(np.diff(places, axis=0), axis=1).max() < 3 * step
    assert poses[-1].pitch == 0 and poses[-1].position[2] == 0
    assert min(pose.position[2] for pose in poses) > -1e-4
    frames = [pose.world_from_vehicle[:3, :3] for pose in poses[::50]]
    assert all(np.allclose(frame.T @ frame, np.eye(3)) and np.linalg.det(frame) > 0.99 for frame in frames)
    shape, overhang = ramp_of(made), ramp_overhang(made)
    assert shape.length > 0 and overhang.by >= overhang.foot_by >= 0
    assert all(solid.top > solid.base for solid in solids_of(made))
    assert list(in_the_ramp(made)) == []


def test_on_the_flat_it_stands_as_a_driven_one_does() -> None:
    made, plain = launched(), scene(table=TABLE, road={**STRAIGHT, "centre": [[-50, 300], [2050, 300]]})
    here = vehicle_on(vehicle_path(made), 0.5).world_from_vehicle
    there = vehicle_on(vehicle_path(plain), 0.7 + 0.5).world_from_vehicle  # the foot is 700 mm along the road
    assert np.allclose(here, there, atol=1e-12)


# --- where it stands ---


def test_it_runs_straight_back_from_its_foot_as_wide_as_it_is() -> None:
    ramp = ramp_of(launched())
    angle = math.asin(0.120 / 0.500)
    # The slope, with half a lorry of 160 mm more of it at the top, and the bend's tangent.
    long = (0.5 + 0.080) * math.cos(angle) + 0.2 * math.tan(angle / 2)
    assert ramp.length == pytest.approx(long, rel=1e-9)
    assert ramp.width == pytest.approx(2.95 / 50 + 0.020)  # a lorry is 2.95 m wide over its mirrors
    x, y = ramp.footprint.T
    assert (x.min(), x.max()) == pytest.approx((0.65 - long, 0.65))  # 700 mm along a road that begins at -50
    assert (y.min(), y.max()) == pytest.approx((0.265 - ramp.width / 2, 0.265 + ramp.width / 2))
    assert ramp_of(launched(width=100)).width == pytest.approx(0.100)
    assert ramp_of(scene()) is None


def test_a_foot_before_the_path_s_start_lengthens_the_way() -> None:
    path = [[900, 300], [1900, 300]]
    assert vehicle_path(launched(path=path, foot=-300)).length == pytest.approx(1.3)
    assert vehicle_path(launched(path=path, foot=300)).at(0.0) == pytest.approx([1.2, 0.3])
    with pytest.raises(PrevizError, match="nearer to its start"):
        vehicle_path(launched(path=path, foot=1000))


def test_it_leads_the_way_that_its_path_begins() -> None:
    made = launched(path=[[1000, 100], [1000, 500]], foot=0)
    ramp = ramp_of(made)
    assert ramp.footprint[:, 1].max() == pytest.approx(0.100) and ramp.footprint[:, 1].min() < -0.4
    assert ramp_overhang(made).edge == "front"
    assert ramp_overhang(made).by == pytest.approx(ramp.length - 0.100)
    assert ramp_overhang(made).foot_by == 0


def test_a_ramp_off_the_table_is_told_by_its_foot() -> None:
    foot = ramp_overhang(launched(foot=20))  # the road begins 50 mm off the table
    assert (foot.edge, foot.foot_by) == ("left", pytest.approx(0.030))
    assert ramp_overhang(launched(foot=700)).by == 0


def test_its_slices_stand_for_sheet_and_block() -> None:
    made = launched()
    ramp, slices = ramp_of(made), [solid for solid in solids_of(made) if solid.kind == "ramp"]
    assert np.concatenate([each.footprint for each in slices])[:, 0].min() == pytest.approx(0.65 - ramp.length)
    for forward in np.linspace(-ramp.length + 1e-6, -1e-6, 300):
        over = [each for each in slices if abs(each.middle[0] - 0.65 - forward) <= each.size[0] / 2 + 1e-12]
        height = float(ramp.height(forward))
        assert min(abs(each.top - height) for each in over) < 0.0035
        blocked = forward < ramp.block[1]
        assert min(each.base for each in over) == pytest.approx(0.0 if blocked else max(height - 0.003, 0), abs=0.0035)
    bare = [solid for solid in solids_of(launched(support="none")) if solid.kind == "ramp"]
    assert max(each.base for each in bare) > 0.1
    off = launched(foot=300)  # its block stands beside the table, on the floor
    assert min(solid.base for solid in solids_of(off)) == pytest.approx(-0.740)


def test_what_stands_in_it_is_found_and_what_stands_under_its_sheet_or_beside_it_is_not() -> None:
    ramp = ramp_of(launched())

    def in_it(**piece: Any) -> list[str]:
        made = launched(keys={"dressing": [{"id": "it", **piece}]})
        return [touch.it.id for touch in in_the_ramp(made)]

    box = {"piece": "container", "length": 30}  # 12.8 mm high
    low_end, high_end = 650 - 60, 650 - 0.6 * ramp.length * 1000
    assert in_it(at=[low_end, 265], **box) == ["it"]  # the sheet is 7 mm up there
    assert in_it(at=[high_end, 265], **box) == []  # and 70 mm here
    assert in_it(at=[650 - ramp.length * 1000 + 20, 265], **box) == ["it"]  # in the block
    assert in_it(at=[high_end, 265], piece="wall", length=20, height=200) == ["it"]  # through the sheet
    assert in_it(at=[high_end, 265 + 39.5 + 7], **box) == []
    assert in_it(at=[680, 265], **box) == []


def test_a_piece_in_the_ramp_is_clear_of_it_once_moved() -> None:
    wall = {"id": "it", "piece": "wall", "length": 60, "height": 200}
    made = launched(keys={"dressing": [{**wall, "at": [400, 280]}]})
    (touch,) = in_the_ramp(made)
    x, y = (np.array([0.4, 0.28]) + touch.mend).tolist()
    again = launched(keys={"dressing": [{**wall, "at": [1000 * x, 1000 * y]}]})
    assert list(in_the_ramp(again)) == []
    almost = launched(keys={"dressing": [{**wall, "at": [400, 280 + 0.9 * (1000 * y - 280)]}]})
    assert len(list(in_the_ramp(almost))) == 1


def test_on_its_ramp_the_vehicle_passes_over_what_is_low() -> None:
    wall = {"id": "it", "piece": "wall", "length": 30, "at": [650 - 400, 265]}
    low, tall = (launched(keys={"dressing": [{**wall, "height": high}]}, support="none") for high in (13, 150))
    (under,), (through,) = pieces_of(low), pieces_of(tall)
    assert clearance(low, under) > 0 > clearance(tall, through)


def test_through_the_backdrop() -> None:
    path = [[1000, 450], [1000, 100]]
    backdrop = {"distance": 590, "height": 400, "colour": "#808080"}
    made = launched(path=path, foot=0, keys={"backdrop": backdrop})
    assert ramp_behind_backdrop(made) == pytest.approx(0.45 + ramp_of(made).length - 0.59)
    assert ramp_behind_backdrop(launched(keys={"backdrop": backdrop})) == 0


def test_the_ground_is_level_under_a_wide_ramp() -> None:
    relief = {"surface": "grass", "relief": 40, "seed": 3}
    path = [[1000, 300], [1900, 300]]
    vehicle = {"body": "lorry", "path": path}
    wide = scene(table=TABLE, ground=relief, vehicle={**vehicle, "launch": {"ramp": {**RAMP, "foot": 0, "width": 200}}})
    driven = scene(table=TABLE, ground=relief, vehicle={**vehicle, "speed": "1 m/s"})
    beside = np.array([[0.8, 0.3 + side * 0.095] for side in (-1, 1)])
    assert ground_heights(wide).at(beside).max() == 0 < ground_heights(driven).at(beside).max()
