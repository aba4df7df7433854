"""Model vehicles: of the asked length, on their wheels, facing outwards, each of its own shape."""

from functools import lru_cache
from itertools import combinations

import numpy as np
import pytest
from scipy.spatial import cKDTree
from trimesh import Trimesh

from previz.mesh import Mesh
from previz.scene import OVER_ALL, VEHICLE_SIZES
from previz.stage.model import VehicleModel, Wheel
from previz.stage.vehicles.bodies import BODIES, build_vehicle

LENGTH = 0.12
PAINT = (0.05, 0.1, 0.3)
each = pytest.mark.parametrize("body", BODIES)


@lru_cache
def vehicle(body: str) -> VehicleModel:
    return build_vehicle(body, LENGTH, PAINT, headlamps=12.0, tail_lamps=1.0)


def wheel_meshes(wheel: Wheel) -> list[Mesh]:
    return [mesh.moved(np.eye(3), np.array(wheel.centre)) for mesh in wheel.round + wheel.turning]


def all_meshes(model: VehicleModel) -> list[Mesh]:
    return [*model.body, *(mesh for wheel in model.wheels for mesh in wheel_meshes(wheel))]


def points(meshes: list[Mesh]) -> np.ndarray:
    return np.concatenate([mesh.vertices for mesh in meshes])


def test_the_kinds_are_the_ones_promised() -> None:
    assert set(BODIES) == set(VEHICLE_SIZES)


@each
@pytest.mark.parametrize("length", [0.04, 0.12, 0.31])
def test_length_is_exact_and_the_origin_is_below_its_middle(body: str, length: float) -> None:
    model = build_vehicle(body, length, PAINT)
    x = points(all_meshes(model))[:, 0]
    assert x.max() == pytest.approx(length / 2, abs=1e-9)
    assert x.min() == pytest.approx(-length / 2, abs=1e-9)
    assert model.length == length


@each
def test_it_is_as_wide_over_all_as_what_is_kept_free_for_it(body: str) -> None:
    # Mirrors and all within 2 %; under them no wider than the bare body but for mouldings, 8 %.
    model, (long, wide, _) = vehicle(body), VEHICLE_SIZES[body]
    scale = LENGTH / long
    over_all, from_height = OVER_ALL[body]
    places = points(all_meshes(model))
    assert np.ptp(places[:, 1]) == pytest.approx(over_all * scale, rel=0.02)
    assert np.ptp(places[places[:, 2] < from_height * scale][:, 1]) <= 1.08 * wide * scale


@each
def test_it_stands_on_its_wheels(body: str) -> None:
    model = vehicle(body)
    assert len(model.wheels) == (10 if body == "articulated_lorry" else 4)
    for wheel in model.wheels:
        assert wheel.centre[2] == pytest.approx(wheel.radius, abs=1e-12)
        assert points(wheel_meshes(wheel))[:, 2].min() == pytest.approx(0, abs=1e-9)
    assert points(list(model.body))[:, 2].min() > 0.01 * LENGTH


@pytest.mark.parametrize("body", ["lorry", "van", "bus", "tractor", "school_bus"])
def test_nothing_of_the_body_stands_in_a_wheel_s_outer_side(body: str) -> None:
    """An arch that is bent with its body takes its wheel along."""
    model = vehicle(body)
    corners = points(list(model.body))
    for wheel in model.wheels:
        tyre = points(wheel_meshes(wheel))
        low, high = tyre.min(0), tyre.max(0)
        middle, radius, wide = (low + high) / 2, (high[2] - low[2]) / 2, high[1] - low[1]
        beside = corners[corners[:, 1] * np.sign(middle[1]) > abs(middle[1]) + wide / 4]
        assert np.hypot(*(beside - middle)[:, [0, 2]].T).min() > radius


@each
def test_width_and_height_are_those_of_the_meshes(body: str) -> None:
    model = vehicle(body)
    every = points(all_meshes(model))
    assert model.width == pytest.approx(np.ptp(every[:, 1]), abs=1e-9)
    assert model.height == pytest.approx(every[:, 2].max(), abs=1e-9)
    assert 0.18 * LENGTH < model.width < 0.6 * LENGTH


@each
def test_round_parts_look_the_same_at_any_turn_and_turning_parts_do_not(body: str) -> None:
    """Radius and y of round parts' corners do not depend on the angle; those of turning parts are lumpy."""
    for wheel in vehicle(body).wheels:
        for mesh in wheel.round:
            turned = _turned(mesh.vertices, 360.0 / 16)
            assert cKDTree(mesh.vertices).query(turned)[0].max() < 1e-9
        for mesh in wheel.turning:
            off = cKDTree(mesh.vertices).query(_turned(mesh.vertices, 360.0 / 16))[0]
            assert off.max() > 0.02 * wheel.radius
        assert wheel.turning
        within = np.hypot(*points(list(wheel.round + wheel.turning))[:, [0, 2]].T)
        assert within.max() <= wheel.radius * (1 + 1e-9)


def _turned(vertices: np.ndarray, degrees: float) -> np.ndarray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return vertices @ np.array([[c, 0, -s], [0, 1, 0], [s, 0, c]])


@each
def test_left_mirrors_right(body: str) -> None:
    """All but a few small things: an exhaust, a door handle. The same surface; it need not be cut alike."""
    meshes = all_meshes(vehicle(body))
    whole = Trimesh(*_joined(meshes), process=False)
    places, normals = (values * (1, -1, 1) for values in (points(meshes) / LENGTH, _all_normals(meshes)))
    # From a little outside, straight at the surface.
    hits, rays, _ = whole.ray.intersects_location(places + 0.02 * normals, -normals, multiple_hits=True)
    off = np.full(len(places), np.inf)
    np.minimum.at(off, rays, np.abs(np.linalg.norm(hits - places[rays] - 0.02 * normals[rays], axis=1) - 0.02))
    near = cKDTree(places * (1, -1, 1)).query(places)[0] < 1e-6
    assert ((off < 0.0005) | near).mean() > 0.99
    low, high = places.min(0), places.max(0)
    assert low[1] == pytest.approx(-high[1], abs=1e-8)


def _all_normals(meshes: list[Mesh]) -> np.ndarray:
    return np.concatenate([mesh.normals for mesh in meshes])


@each
def test_normals_are_unit_and_agree_with_the_faces(body: str) -> None:
    for mesh in all_meshes(vehicle(body)):
        np.testing.assert_allclose(np.linalg.norm(mesh.normals, axis=1), 1, atol=1e-9)
        a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
        across = np.cross(b - a, c - a)
        area = np.linalg.norm(across, axis=1) / 2
        assert area.min() > 1e-10 * LENGTH**2
        agree = np.sum(across[:, None] * mesh.normals[mesh.faces], axis=2) > 0
        assert agree.mean() > 0.999


@each
@pytest.mark.parametrize("way", [(-1, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, -1), (-1, 1, -0.5)])
def test_what_one_sees_first_faces_the_eye(body: str, way: tuple[float, float, float]) -> None:
    """Rays along `way`: a shell inside out, or a panel's missing back, would be hit from behind."""
    whole = Trimesh(*_joined(all_meshes(vehicle(body))), process=False)
    along = np.array(way) / np.linalg.norm(way)
    rng = np.random.default_rng(5)
    start = rng.uniform(-0.55, 0.55, (4000, 3)) * (1, 0.4, 0.4) + (0, 0, 0.2) - 2 * along
    faces = whole.ray.intersects_first(start, np.tile(along, (4000, 1)))
    faces = faces[faces >= 0]
    assert len(faces) > 400
    assert (whole.face_normals[faces] @ along < 1e-6).mean() > 0.999


def _joined(meshes: list[Mesh]) -> tuple[np.ndarray, np.ndarray]:
    """Corners and faces of all, in lengths of the vehicle (the ray caster works in single precision)."""
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes[:-1])])
    faces = [mesh.faces + first for mesh, first in zip(meshes, starts, strict=True)]
    return points(meshes) / LENGTH, np.concatenate(faces)


#: Most triangles of body and wheels. A frame draws them 4 to 84 times, and on a software rasteriser one costs as much
#: as 16 pixels: 20 000 are a third of a picture 1280 wide, in every view. More cannot be seen: see `outlines.ROUND`.
#: Ten wheels take more than four.
MOST = {
    "lorry": 20_500, "van": 19_000, "bus": 20_500, "saloon": 17_500, "tractor": 17_500, "pickup": 17_500,
    "school_bus": 20_500, "articulated_lorry": 24_500,
}  # fmt: skip


@each
def test_it_is_cheap_to_draw(body: str) -> None:
    model = vehicle(body)
    assert 6_000 <= sum(len(mesh.faces) for mesh in all_meshes(model)) <= MOST[body]
    assert 3 <= len(model.body) <= 5
    assert all(len(wheel.round) <= 3 and len(wheel.turning) <= 2 for wheel in model.wheels)


@each
def test_colours_are_reflectances_and_the_paint_is_on_it(body: str) -> None:
    colours = np.concatenate([mesh.colours for mesh in vehicle(body).body])
    assert colours.min() >= 0
    assert colours.max() <= 1
    assert np.all(np.isclose(colours, PAINT), axis=1).mean() > 0.1


@each
def test_lamps_share_the_flux_and_look_the_right_way(body: str) -> None:
    model = vehicle(body)
    heads = [lamp for lamp in model.lamps if lamp.beam == (1.0, 0.0, 0.0)]
    tails = [lamp for lamp in model.lamps if lamp.beam == (-1.0, 0.0, 0.0)]
    assert len(heads) == len(tails) == 2 == len(model.lamps) / 2
    assert sum(lamp.flux for lamp in heads) == pytest.approx(12.0)
    assert sum(lamp.flux for lamp in tails) == pytest.approx(1.0)
    for lamp in model.lamps:
        assert np.dot(lamp.colour, (0.2126, 0.7152, 0.0722)) == pytest.approx(1, abs=0.005)
    assert min(lamp.centre[0] for lamp in heads) > 0.25 * LENGTH
    assert max(lamp.centre[0] for lamp in tails) < -0.25 * LENGTH
    assert heads[0].centre[1] == -heads[1].centre[1] > 0
    assert tails[0].colour[0] > 5 * tails[0].colour[1]


@each
def test_a_lamp_shines_from_outside_the_body_and_close_to_it(body: str) -> None:
    model = vehicle(body)
    whole = Trimesh(*_joined(all_meshes(model)), process=False)
    for lamp in model.lamps:
        centre, way = np.array([lamp.centre]) / LENGTH, np.array([lamp.beam])
        assert not whole.ray.intersects_any(centre, way)[0]
        behind = whole.ray.intersects_location(centre, -way)[0]
        nearest = np.abs((behind - centre) @ way[0]).min()
        assert nearest < 1.3 * lamp.radius / LENGTH


def test_unlit_lamps_are_still_there() -> None:
    assert {lamp.flux for lamp in build_vehicle("van", LENGTH, PAINT).lamps} == {0.0}
    assert len(build_vehicle("van", LENGTH, PAINT).lamps) == 4


def test_no_two_kinds_share_a_side_view() -> None:
    """Roof line in 12 steps along the length, as shares of the length: some step differs by 3 % or more."""
    lines = {}
    for body in BODIES:
        x, _, z = points(all_meshes(vehicle(body))).T / LENGTH
        bins = np.clip(((x + 0.5) * 12).astype(int), 0, 11)
        lines[body] = np.array([z[bins == k].max() for k in range(12)])
    for one, other in combinations(BODIES, 2):
        assert np.abs(lines[one] - lines[other]).max() > 0.03, (one, other)


def test_a_tractor_has_big_rear_wheels_and_a_lorry_is_taller_than_a_saloon() -> None:
    rear, front = (sorted(vehicle("tractor").wheels, key=lambda wheel: wheel.centre[0])[k] for k in (0, -1))
    assert rear.radius > 1.4 * front.radius
    assert vehicle("lorry").height > 1.2 * vehicle("saloon").height


def test_the_same_call_gives_the_same_vehicle() -> None:
    first, second = (build_vehicle("bus", LENGTH, PAINT) for _ in range(2))
    for one, other in zip(all_meshes(first), all_meshes(second), strict=True):
        np.testing.assert_array_equal(one.vertices, other.vertices)
        np.testing.assert_array_equal(one.faces, other.faces)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("hovercraft", 0.1, PAINT), "hovercraft.*lorry, van, bus, saloon, tractor"),
        (("van", 0.0, PAINT), "must be positive"),
        (("van", float("nan"), PAINT), "must be positive"),
        (("van", 0.1, (0.1, 0.2, 1.4)), "within 0..1"),
        (("van", 0.1, PAINT, -1.0), "must not be negative"),
    ],
)
def test_nonsense_is_refused(arguments: tuple, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        build_vehicle(*arguments)
