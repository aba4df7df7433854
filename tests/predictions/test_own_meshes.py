"""A maker's own mesh counts by the shape that its file holds: where it stands, what it hides, how wide it drives."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh
from broken_scenes import broken, found, looked, predicted, read
from typer.testing import CliRunner

from previz.cli import app
from previz.layout import solids_of, vehicle_size
from previz.predictions import Verdict
from previz.predictions.checks.set import check_set
from previz.predictions.shot_view import view_of

#: The lane the lorry of the good scene keeps to, and half its width over its mirrors, for the post is higher. [mm]
LANE, HALF = 1000 * (0.400 - 3.5 / 24 / 2), 1000 * 2.95 / 24 / 2


def crane(folder: Path) -> None:
    """A post 40 x 40 mm under an arm 40 x 240 mm along y, the arm from 200 to 240 mm up, brought to 240 mm."""
    post = trimesh.creation.box((40, 40, 200), trimesh.transformations.translation_matrix([0, -100, 100]))
    arm = trimesh.creation.box((40, 240, 40), trimesh.transformations.translation_matrix([0, 0, 220]))
    trimesh.util.concatenate([post, arm]).export(folder / "crane.stl")


def piece(y: float) -> tuple[str, Any]:
    return "dressing[2]", {"id": "crane", "mesh": "crane.stl", "length": 240, "at": [1500, y]}


def test_a_mesh_in_the_lane_is_found_by_how_far_it_is_in_it(tmp_path: Path) -> None:
    crane(tmp_path)
    # The post's far side is 80 mm before the piece's middle: 30 mm of it stand in the lorry's way.
    near = LANE - HALF + 30 + 80
    finding = found(looked(broken(piece(near)), tmp_path), "set.path")
    assert finding.verdict is Verdict.STOP and "crane" in finding.message
    assert finding.value == pytest.approx(-0.030, abs=1e-4)


def test_an_arm_over_the_roof_is_in_nobodys_way(tmp_path: Path) -> None:
    crane(tmp_path)
    # The lorry is 3.46 m, 144 mm, high; the arm above it reaches 200 mm further than the post.
    scene = read(broken(piece(LANE - HALF - 30 + 80)), tmp_path)
    notes = [each for each in check_set(scene).findings if each.id == "set.path"]
    assert [each.verdict for each in notes] == [Verdict.FINE] and notes[0].value == pytest.approx(0.030, abs=1e-4)
    (solid,) = (each for each in solids_of(scene) if each.id == "crane")
    assert solid.footprint[:, 1].max() * 1000 > LANE  # for all that it hangs over the lane
    assert solid.size == pytest.approx((0.040, 0.240, 0.240))


def test_a_vehicle_from_a_file_is_as_wide_and_high_as_its_mesh(tmp_path: Path) -> None:
    trimesh.creation.box((60, 200, 50)).export(tmp_path / "car.stl")
    changes = [("vehicle.body", None), ("vehicle.mesh", "car.stl"), ("vehicle.length", 200), ("vehicle.front", "+y")]
    scene = read(broken(*changes), tmp_path)
    assert vehicle_size(scene) == pytest.approx((0.200, 0.060, 0.050))


def test_a_file_that_changed_is_read_again(tmp_path: Path) -> None:
    crane(tmp_path)
    before = solids_of(read(broken(piece(700)), tmp_path))
    trimesh.creation.box((240, 100, 60)).export(tmp_path / "crane.stl")
    after = solids_of(read(broken(piece(700)), tmp_path))
    assert before[-1].size == pytest.approx((0.040, 0.240, 0.240))
    assert after[-1].size == pytest.approx((0.240, 0.100, 0.060))


@pytest.mark.parametrize("seed", range(4))
def test_bands_hold_all_of_a_mesh_and_no_more_than_its_hull(seed: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(seed)
    blob = trimesh.creation.icosphere(2)
    blob.apply_transform(trimesh.transformations.random_rotation_matrix(rng.random(3)))
    blob.vertices *= rng.uniform(0.3, 1.5, 3)
    blob.export(tmp_path / "crane.stl")
    (solid,) = (each for each in solids_of(read(broken(piece(700)), tmp_path)) if each.id == "crane")
    size = 0.240 / np.ptp(blob.vertices, axis=0)[:2].max()
    middle = (blob.bounds[0] + blob.bounds[1]) / 2
    points = (blob.vertices - [*middle[:2], blob.bounds[0][2]]) * size + [1.5, 0.7, 0]
    assert solid.distance(points).max() < 1e-6
    # Eight bands of a convex blob are little larger than it.
    volume = sum(shapely.Polygon(outline).area * (high - low) for outline, low, high in solid.prisms)
    assert 1.0 < volume / (blob.volume * size**3) < 1.4


def test_a_gateway_over_the_road_is_no_stop(tmp_path: Path) -> None:
    moved = trimesh.transformations.translation_matrix
    posts = [trimesh.creation.box((20, 30, 240), moved([0, y, 120])) for y in (-200, 200)]
    lintel = trimesh.creation.box((20, 430, 30), moved([0, 0, 255]))
    trimesh.util.concatenate([*posts, lintel]).export(tmp_path / "crane.stl")
    gate = ("dressing[2]", {"id": "crane", "mesh": "crane.stl", "length": 430, "at": [1500, LANE]})
    finding = found(looked(broken(gate), tmp_path), "set.path")
    assert finding.verdict is Verdict.WATCH and "opening" in finding.message


#: A card on edge along y, a rod along y, one triangle with a side on the ground: none has any thickness.
THIN = {
    "card": ([[0, 0, 0], [0, 100, 0], [0, 100, 60], [0, 0, 60]], [[0, 1, 2], [0, 2, 3]]),
    "triangle": ([[0, 0, 0], [0, 100, 0], [0, 50, 60]], [[0, 1, 2]]),
    "flat": ([[0, 0, 0], [40, 0, 0], [40, 100, 0], [0, 100, 0]], [[0, 1, 2], [0, 2, 3]]),
}


@pytest.mark.parametrize("kind", THIN)
def test_a_mesh_without_thickness_is_as_thick_as_card(kind: str, tmp_path: Path) -> None:
    trimesh.Trimesh(*THIN[kind]).export(tmp_path / "crane.stl")
    thin = broken(("dressing[2]", {"id": "crane", "mesh": "crane.stl", "length": 100, "at": [500, 700]}))
    scene = read(thin, tmp_path)
    assert check_set(scene).findings
    (solid,) = (each for each in solids_of(scene) if each.id == "crane")
    # Lines past it at 50 mm and more do not meet it, one through its middle does.
    origins = np.array([[0.3, 0.700, 0.0], [0.3, 0.800, 0.0], [0.3, 0.300, 0.0]])
    rays = np.broadcast_to([0.4, 0.0, 0.0], origins.shape)
    assert solid.hit_by(origins, rays).tolist() == [True, False, False]
    assert looked(thin, tmp_path).findings


def rounded(folder: Path, sides: int) -> None:
    """A vehicle 200 x 80 x 70 mm whose ends are half round, of so many corners each."""
    turns = np.linspace(-np.pi / 2, np.pi / 2, sides)
    front = np.column_stack([60 + 40 * np.cos(turns), 40 * np.sin(turns)])
    plan = np.concatenate([front, -front])
    points = np.concatenate([np.column_stack([plan, np.full(len(plan), z)]) for z in (0.0, 70.0)])
    trimesh.convex.convex_hull(points).export(folder / "car.stl")


@pytest.mark.parametrize("sides", [2, 3, 7, 21])
def test_the_box_around_a_vehicle_is_its_box_whatever_its_outline(sides: int, tmp_path: Path) -> None:
    rounded(tmp_path, sides)
    length = 120 if sides == 2 else 200
    changes = [("vehicle.body", None), ("vehicle.mesh", "car.stl"), ("vehicle.length", length), ("vehicle.front", "+x")]
    scene = read(broken(*changes), tmp_path)
    view = view_of(scene, scene.shots[0])
    corners, solid = view.vehicle_corners[view.middle], view.vehicle_solid(float(view.distances[view.middle]))
    ahead, left = corners[1] - corners[0], corners[3] - corners[0]
    assert np.linalg.norm(ahead) * 1000 == pytest.approx(length) and np.linalg.norm(left) * 1000 == pytest.approx(80)
    assert corners[4] - corners[0] == pytest.approx([0, 0, 0.070])
    assert ahead @ [np.cos(solid.turn), np.sin(solid.turn), 0] * 1000 == pytest.approx(length)
    assert corners.mean(axis=0) == pytest.approx([*solid.at[:2], 0.035 + solid.at[2]])


def test_a_round_ended_vehicle_is_judged_as_a_square_ended_one_of_its_size(tmp_path: Path) -> None:
    changes = [("vehicle.body", None), ("vehicle.mesh", "car.stl"), ("vehicle.length", 200), ("vehicle.front", "+x")]
    values, judged = [], ("motion.strobe", "room.vehicle_clear")
    for box in (False, True):
        if box:
            trimesh.creation.box((200, 80, 70)).export(tmp_path / "car.stl")
        else:
            rounded(tmp_path, 21)
        told = predicted(broken(*changes), tmp_path)
        values.append({each.id: each.value for each in told.findings if each.id in judged})
    assert values[0] and values[0] == pytest.approx(values[1])


def test_a_damaged_file_is_told_with_the_key_that_names_it(tmp_path: Path) -> None:
    crane(tmp_path)
    read(broken(piece(700)), tmp_path)  # writes the scene
    (tmp_path / "crane.stl").write_bytes(b"solid\n")
    told = CliRunner().invoke(app, ["check", str(tmp_path / "scene.yaml")])
    assert told.exit_code == 2 and "scene.yaml:" in told.output and ": dressing[crane].mesh: " in told.output
