"""A maker's own car as the vehicle: its wheels turn about their axles, and what looks the same at any turn stays."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from PIL import Image
from trimesh.transformations import rotation_matrix, translation_matrix
from trimesh.visual import TextureVisuals
from trimesh.visual.material import PBRMaterial

from previz.errors import FileFault
from previz.files import key_of
from previz.layout import mesh_headlamps, open_files, vehicle_axles, vehicle_size
from previz.mesh import Material, Mesh
from previz.predictions.checks.sizes import check_sizes
from previz.scene import read_scene
from previz.stage import build_stage
from previz.stage.build import _named_by
from previz.stage.built import built_vehicle
from previz.stage.shapes import solids
from previz.stage.shapes.finish import cut_for_light
from previz.stage.vehicles.from_file import turning_apart, vehicle_from_file

SCENE = """
title: own car
scale: 1:43
units: mm
set: {{table: {{width: 1200, depth: 800}}}}
vehicle: {{mesh: car.glb, length: 100, front: "{front}", path: [[0, 400], [1200, 400]], speed: 1 m/s, {more}}}
lights: [{{id: room, ambient: 100 lx}}]
cameras: {{pocket: {{sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}}}
shots:
  - {{id: pass, camera: pocket, focal_length: 10 mm, f_number: 8, at: [600, 0, 80], aim: [600, 400, 20], focus: 400,
     capture: {{rate: 120 fps}}, start: 0.2 s, duration: 0.2 s}}
"""
#: Where the middles of the wheels are, x forward, y left, z up, and their radius; the car is 4 long and 1.6 wide.
WHEELS = {"fl": (1.2, 0.7), "fr": (1.2, -0.7), "rl": (-1.3, 0.7), "rr": (-1.3, -0.7)}
RADIUS = 0.35


def wheel(askew: float = 0.0) -> trimesh.Trimesh:
    """About y: a tyre and four spokes."""
    tyre = trimesh.creation.annulus(0.24, RADIUS, 0.2, sections=40)
    spokes = [trimesh.creation.box((0.46, 0.05, 0.04)) for _ in range(2)]
    spokes[1].apply_transform(rotation_matrix(np.pi / 2, (0, 0, 1)))
    made = trimesh.util.concatenate([tyre, *spokes])
    made.apply_transform(rotation_matrix(np.pi / 2, (1, 0, 0)))
    made.apply_transform(rotation_matrix(np.radians(askew), (0, 0, 1)))
    return made


def car(folder: Path, *, turned: float = 0.0, askew: float = 0.0, wheels: dict[str, Any] = WHEELS) -> None:
    """A box on wheels that are nodes, its front along x turned by so much. [rad]"""
    up = rotation_matrix(-np.pi / 2, (1, 0, 0)) @ rotation_matrix(turned, (0, 0, 1))
    scene = trimesh.Scene()
    box = trimesh.creation.box((4.0, 1.2, 1.0), translation_matrix((0, 0, 0.9)))
    scene.add_geometry(box, node_name="body", geom_name="body", transform=up)
    for name, (x, y) in wheels.items():
        place = up @ translation_matrix((x, y, RADIUS))
        scene.add_geometry(wheel(askew), node_name=name, geom_name=name, transform=place)
    scene.export(folder / "car.glb")


def scene_of(folder: Path, *, front: str = "+x", more: str = "wheels: [fl, fr, rl, rr]") -> Any:
    path = folder / "scene.yaml"
    path.write_text(SCENE.format(front=front, more=more))
    return read_scene(path)


@pytest.mark.parametrize(("front", "turned"), [("+x", 0.0), ("+y", np.pi / 2), ("-x", np.pi)])
def test_wheels_are_where_the_file_has_them_whatever_way_it_faces(tmp_path, front: str, turned: float) -> None:
    car(tmp_path, turned=turned)
    scene = scene_of(tmp_path, front=front)
    open_files(scene)
    model = vehicle_from_file(scene)
    for found, (x, y) in zip(model.wheels, WHEELS.values(), strict=True):
        assert found.centre == pytest.approx((0.025 * x, 0.025 * y, 0.025 * RADIUS), abs=2e-5)
        assert found.radius == pytest.approx(0.025 * RADIUS, rel=1e-3)
        # Both tyre and spokes are there, each about the axle.
        assert found.round and found.turning
        for mesh in (*found.round, *found.turning):
            assert np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 2]).max() <= 0.025 * RADIUS * 1.001
    assert (model.length, model.width, model.height) == pytest.approx((0.1, 0.04, 0.035), rel=1e-3)
    assert vehicle_size(scene) == pytest.approx((0.1, 0.04, 0.035), rel=1e-3)


@pytest.mark.parametrize(("front", "turned"), [("+x", 0.0), ("-y", -np.pi / 2)])
def test_headlamps_are_in_the_front_as_high_and_as_far_in_as_real_ones(tmp_path, front: str, turned: float) -> None:
    # UN Regulation 48, 6.2.4: dipped beams 0.5 to 1.2 m up, their outer edge 0.4 m in at most. From memory.
    car(tmp_path, turned=turned)
    scene = scene_of(tmp_path, front=front, more="headlamps: 2 lm")
    left, right = vehicle_from_file(scene).lamps
    assert left.flux == right.flux == 1.0 and left.beam == right.beam == (1.0, 0.0, 0.0)
    x, y, z = left.centre
    assert x == pytest.approx(0.050 + left.radius, abs=1e-6) and right.centre == pytest.approx((x, -y, z))
    assert 0.5 <= z * 43 <= 1.2 and 2 * (y - 2 * left.radius) * 43 >= 0.6
    assert 0 <= (0.020 - y - 2 * left.radius) * 43 <= 0.4
    assert vehicle_from_file(scene_of(tmp_path, front=front)).lamps == ()
    told = {each.quantity: each.value for each in check_sizes(scene).figures}
    assert told["headlamp_height"] == pytest.approx(z) and told["headlamps_apart"] == pytest.approx(2 * y)


def test_headlamps_lie_on_a_round_front(tmp_path) -> None:
    """Of an egg: its own equation says how far forward it reaches there."""
    egg = trimesh.creation.icosphere(4)
    egg.apply_transform(np.diag([2.0, 0.8, 0.7, 1.0]))
    egg.apply_transform(rotation_matrix(-np.pi / 2, (1, 0, 0)))
    egg.export(tmp_path / "car.glb")
    lamps = mesh_headlamps(scene_of(tmp_path, more="headlamps: 2 lm"))
    x, y, z = np.array(lamps.at) / 0.025

    def forward(across: float, up: float) -> float:
        return 2 * (1 - (across / 0.8) ** 2 - ((up - 0.7) / 0.7) ** 2) ** 0.5

    radius = lamps.radius / 0.025
    assert forward(y + 0.7 * radius, z - 0.7 * radius) - 0.05 < x < forward(y, z) + 0.01
    assert x < 1.95


def longest_edge(meshes) -> float:
    corners = np.concatenate([mesh.vertices[mesh.faces] for mesh in meshes])
    return float(np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max())


def test_long_triangles_are_cut_for_the_light_on_them(tmp_path) -> None:
    """Of a box 100 mm long in twelve triangles: with light at its corners alone, a shadow at its foot is a wedge."""
    car(tmp_path)
    model = vehicle_from_file(scene_of(tmp_path))
    assert longest_edge(model.body) <= 0.006 * (1 + 1e-9)
    assert sum(len(mesh.faces) for mesh in model.body) < 10_000
    points = np.concatenate([mesh.vertices for mesh in model.body])
    assert np.ptp(points, axis=0) == pytest.approx([0.1, 0.03, 0.025], rel=1e-3)  # of the file's 4 x 1.2 x 1


def test_a_model_gets_no_more_triangles_than_it_may() -> None:
    """As near to the edge that is wanted as the number allows, all parts alike."""
    slab, post = solids.box((1.0, 0.5, 0.2)), solids.box((0.1, 0.01, 0.01))
    found = cut_for_light([slab, post], 0.01, 5_000)
    assert 1_000 < sum(len(mesh.faces) for mesh in found) <= 5_024
    assert longest_edge([slab]) > 8 * longest_edge(found[:1])
    assert longest_edge(cut_for_light([post], 0.01, 5_000)) <= 0.01 * (1 + 1e-9)


def test_the_model_kept_on_disk_is_the_same(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("PREVIZ_CACHE", str(tmp_path / "kept"))
    skin = Image.fromarray(np.random.default_rng(1).integers(0, 255, (8, 8, 3), dtype=np.uint8))
    box = trimesh.creation.box((4, 1.5, 1))
    look = PBRMaterial(baseColorTexture=skin, normalTexture=skin, metallicFactor=0.25, roughnessFactor=0.5)
    box.visual = TextureVisuals(uv=np.random.default_rng(2).random((8, 2)), material=look)
    box.export(tmp_path / "car.glb")
    scene = scene_of(tmp_path, more="glow: 5 cd/m2")
    (first,), (again,) = built_vehicle(scene, True).body, built_vehicle(scene, True).body
    one, other = first.surface, again.surface
    assert one is not None and other is not None and one.normal is not None and other.normal is not None
    assert (one.metal, one.roughness, one.normal_scale) == (other.metal, other.roughness, other.normal_scale)
    assert np.array_equal(one.normal.pixels, other.normal.pixels) and one.normal.wrap == other.normal.wrap
    assert first.image is not None and again.image is not None and np.array_equal(first.image, again.image)
    assert other.image is not None and np.array_equal(other.image.pixels, again.image)


def test_light_that_was_kept_is_not_taken_for_that_of_a_car_with_another_wheelbase(tmp_path) -> None:
    models = []
    for wheels in (WHEELS, {**WHEELS, "rl": (-1.0, 0.7), "rr": (-1.0, -0.7)}):
        car(tmp_path, wheels=wheels)
        models.append(vehicle_from_file(scene_of(tmp_path)))
    one, other = models
    # Its meshes are alike to the last bit: those of wheels are about their axles.
    assert all(np.array_equal(a.vertices, b.vertices) for a, b in zip(one.body, other.body, strict=True))
    assert one.wheels[2].centre != other.wheels[2].centre
    thin = replace(one, body=tuple(replace(mesh, material=Material(two_sided=True)) for mesh in one.body))
    assert len({key_of(*_named_by(model)) for model in (one, other, thin)}) == 3
    assert key_of(*_named_by(one)) == key_of(*_named_by(replace(one)))


def test_a_wheel_askew_is_told_by_the_line_that_names_it(tmp_path) -> None:
    car(tmp_path, askew=20.0)
    with pytest.raises(FileFault, match="the axle of 'fl' is 20 deg off straight across") as caught:
        open_files(scene_of(tmp_path))
    assert caught.value.steps == ("vehicle", "wheels")
    car(tmp_path)
    for front, fits in (("+y", r"\+x or -x"), ("+x", r"\+y or -y")):
        car(tmp_path, turned=0.0 if front == "+y" else np.pi / 2)
        with pytest.raises(FileFault, match=f"is 90 deg off .*write front: {fits}; .* -y$"):
            vehicle_axles(scene_of(tmp_path, front=front, more="wheels: [fl]"))
    # What is said of glTF's own axes: a car that faces +Z with +Y up, as the format has it, faces -y here.
    car(tmp_path, turned=-np.pi / 2)
    (axle,) = vehicle_axles(scene_of(tmp_path, front="-y", more="wheels: [fl]"))
    nose = trimesh.load(tmp_path / "car.glb").graph.get("fl")[0][:3, 3]
    assert nose[2] == pytest.approx(1.2) and axle.centre[0] > 0


def test_a_wheel_that_is_not_there_is_told_with_the_nodes_that_are(tmp_path) -> None:
    car(tmp_path)
    with pytest.raises(FileFault, match="no node is called 'front_left'; the file has 'body', 'fl', 'fr', 'rl', 'rr'"):
        open_files(scene_of(tmp_path, more="wheels: [front_left]"))
    with pytest.raises(FileFault, match="'body' is not round"):
        open_files(scene_of(tmp_path, more="wheels: [body]"))


def faces_of(meshes: tuple[Mesh, ...]) -> int:
    return sum(len(mesh.faces) for mesh in meshes)


def as_mesh(made: trimesh.Trimesh, **more: Any) -> Mesh:
    return Mesh(np.array(made.vertices), np.array(made.faces), np.array(made.vertex_normals),
                np.full((len(made.vertices), 3), 0.5), **more)  # fmt: skip


@pytest.mark.parametrize("spokes", [3, 5, 8, 20])
@pytest.mark.parametrize("sides", [12, 24, 64])
def test_tyres_are_round_and_spokes_turn(spokes: int, sides: int) -> None:
    upright = rotation_matrix(np.pi / 2, (1, 0, 0))
    tyre = trimesh.creation.annulus(0.7, 1.0, 0.5, sections=sides, transform=upright)
    blades = []
    for k in range(spokes):
        blade = trimesh.creation.box((0.5, 0.06, 0.3 / spokes), translation_matrix((0.4, 0.1, 0)))
        blade.apply_transform(rotation_matrix(2 * np.pi * k / spokes, (0, 1, 0)))
        blades.append(blade)
    # As one mesh, as simple models have it.
    smooth, turning = turning_apart([as_mesh(trimesh.util.concatenate([tyre, *blades]))], 1.0)
    assert faces_of(smooth) == len(tyre.faces) and faces_of(turning) == 12 * spokes


def test_a_round_disc_turns_where_its_picture_shows_it() -> None:
    disc = trimesh.creation.cylinder(1.0, 0.2, sections=48, transform=rotation_matrix(np.pi / 2, (1, 0, 0)))
    uv = 0.5 + 0.5 * disc.vertices[:, [0, 2]]
    even = np.full((16, 16, 3), 90, np.uint8)
    marked = even.copy()
    marked[:, 8:] = 160
    for image, turns in ((even, False), (marked, True)):
        smooth, turning = turning_apart([as_mesh(disc, uv=uv, image=image)], 1.0)
        assert (faces_of(turning) > 0.9 * len(disc.faces)) is turns
        assert (faces_of(smooth) == len(disc.faces)) is not turns


def test_light_from_all_round_is_told_from_that_of_lamps_where_a_surface_asks(tmp_path) -> None:
    skin = Image.fromarray(np.full((4, 4, 3), 128, np.uint8))
    box = trimesh.creation.box((4, 1.5, 1))
    box.visual = TextureVisuals(uv=np.zeros((8, 2)), material=PBRMaterial(occlusionTexture=skin))
    box.export(tmp_path / "car.glb")
    path = tmp_path / "scene.yaml"
    lamp = "{id: lamp, spot: 40 deg, at: [0, 400, 2038], aim: [0, 400, 0], output: 2000 lx at 2000 mm}"
    text = SCENE.format(front="+x", more="glow: 1 cd/m2").replace("[{id: room", f"[{lamp}, {{id: room")
    path.write_text(text)
    scene = read_scene(path)
    (station,) = build_stage(scene, "draft", cache=False).stations([0.0])
    assert station.around is not None
    top = np.concatenate([mesh.normals for mesh in vehicle_from_file(scene).body])[:, 2] > 0.9
    # Its roof, 37.5 mm up, has 100 lx from all round and 2000 lx from the lamp 2 m above it.
    assert station.around[top] == pytest.approx(100 / 2100, rel=0.05)
