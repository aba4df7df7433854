"""The plain solids that light meets in `check`, against the models: as large, as dense, in their places."""

import json
import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from random_sets import written

from previz.layout import piece_size, solids_of
from previz.light import Occluders, floats
from previz.light.plain_bodies import BODIES, body_faces
from previz.light.plain_set import Plain, gaps_in, plain_set
from previz.mesh import joined
from previz.scene import VEHICLE_SIZES, Broadleaf, Bush, Conifer, FileUnits, Hedge, Scene, Standing, read_scene
from previz.stage.pieces.dressing import model_of
from previz.stage.pieces.kinds import build_piece
from previz.stage.vehicles.bodies import build_vehicle


def rays(way: np.ndarray, middle: np.ndarray, half: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Parallel rays through a square about a place, as wide as twice `half`."""
    way = way / np.linalg.norm(way)
    right = np.cross(way, [0, 0, 1.0] if abs(way[2]) < 0.9 else [1.0, 0, 0])
    right /= np.linalg.norm(right)
    places = np.random.default_rng(5).uniform(-half, half, (count, 2))
    starts = middle + places[:, :1] * right + places[:, 1:] * np.cross(right, way) - 3 * half * way
    return floats(starts), floats(np.tile(6 * half * way, (count, 1)))


VIEWS = {"side": (0, 1, 0), "front": (-1, 0, 0), "above": (0, 0, -1), "three-quarter": (-0.6, 0.7, -0.25)}


@pytest.mark.parametrize("body", sorted(VEHICLE_SIZES))
@pytest.mark.parametrize("view", sorted(VIEWS))
def test_a_plain_body_has_the_outline_of_its_model(body: str, view: str) -> None:
    length, _, height = VEHICLE_SIZES[body]
    model = build_vehicle(body, length, (0.5, 0.5, 0.5))
    corners, faces = model.whole
    plain = []
    for outline, _ in body_faces(body, length):
        middle = np.broadcast_to(outline.mean(axis=0), outline.shape)
        plain.append(np.stack([middle, outline, np.roll(outline, -1, axis=0)], axis=1))
    triangles = np.concatenate(plain)
    starts, ways = rays(np.array(VIEWS[view], float), np.array([0, 0, height / 2]), 0.6 * length, 30000)
    drawn, ours = (
        ~each.clear(starts, ways)
        for each in (
            Occluders(corners, faces),
            Occluders(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3)),
        )
    )
    # Mirrors, a tractor's steps and its steering wheel are left out: at most an eighth of both outlines together.
    assert (drawn & ours).sum() / (drawn | ours).sum() > 0.87


def test_faces_of_plain_bodies_look_outwards() -> None:
    # The volume that outward faces enclose is positive (divergence theorem); of a lorry about its length times width
    # times height, less what is under the bed.
    for body in BODIES:
        length, width, height = VEHICLE_SIZES[body]
        total = 0.0
        for outline, _ in body_faces(body, length):
            for a, b in pairwise(outline):
                total += float(outline[0] @ np.cross(a, b)) / 6
        assert 0.2 < total / (length * width * height) < 1.0, body


UNITS = FileUnits(bare_length=0.001, scale=50)
PLANTS = [
    (Conifer, {"piece": "conifer"}),
    (Broadleaf, {"piece": "broadleaf"}),
    (Broadleaf, {"piece": "broadleaf", "style": "fibre"}),
    (Broadleaf, {"piece": "broadleaf", "style": "brush"}),
    (Broadleaf, {"piece": "broadleaf", "bare": True}),
    (Bush, {"piece": "bush"}),
    (Hedge, {"piece": "hedge", "length": 60}),
    (Hedge, {"piece": "hedge", "length": 60, "style": "wild"}),
]


@pytest.mark.parametrize("kind,keys", PLANTS, ids=lambda each: "-".join(map(str, getattr(each, "values", tuple)())))
def test_a_plain_plant_lets_as_much_light_through_as_its_model(kind: type[Standing], keys: dict[str, object]) -> None:
    spec = kind.model_validate({"id": "it", "at": [200, 150], **keys}, context=UNITS)
    model = joined(build_piece(spec, 50, np.random.default_rng(3)))
    scene = set_with([{"id": "it", "at": [200, 150], **keys}])
    (solid,) = solids_of(scene)
    plain, shift = only(plain_set(scene), "it"), np.array([0.2, 0.15, 0.0])
    drawn, ours = Occluders(model.vertices + shift, model.faces), plain.occluders
    through = {}
    for name, turn in (("level", 0.0), ("slanting", 0.6)):
        way = np.array([math.cos(turn), 0.3, -math.sin(turn)])
        starts, ways = rays(way, solid.middle, 0.75 * max(piece_size(spec, 50)), 20000)
        met = solid.hit_by(starts.astype(float), ways.astype(float))
        through[name] = [float(each.clear(starts[met], ways[met]).mean()) for each in (drawn, ours)]
    model_share, plain_share = np.mean(list(through.values()), axis=0)
    assert model_share == pytest.approx(gaps_in(spec), abs=0.06)
    assert plain_share == pytest.approx(model_share, abs=0.12), through


def test_what_one_sees_through_is_left_out_and_the_rest_stands_where_it_is() -> None:
    stands = [
        {"id": "box", "piece": "container", "at": [120, 220], "turn": "20 deg", "stack": 2},
        {"id": "rail", "piece": "fence", "at": [200, 60], "length": 300},
        {"id": "hut", "piece": "building", "at": [300, 220], "floors": 2, "roof": "gable"},
    ]
    scene = set_with(stands)
    found = plain_set(scene)
    assert "rail" not in found.names
    for solid in solids_of(scene):
        if solid.kind != "fence":
            corners = only(found, solid.name).corners.reshape(-1, 3)
            assert corners.min(axis=0) == pytest.approx([*solid.footprint.min(axis=0), solid.base], abs=1e-9)
            assert corners.max(axis=0) == pytest.approx([*solid.footprint.max(axis=0), solid.top], abs=1e-9)


def test_boxes_have_the_colours_that_theirs_are_built_in() -> None:
    """Of copies in turn, and of a stack higher than there are colours; what is built is weathered, to some 0.7."""
    red_and_white = {"piece": "container", "colour": "#800000", "colours": ["#e0e0e0"]}
    copies = {"id": "box", "at": [100, 200], "copies": 2, "step": [100, 0, 0], **red_and_white}
    scene = set_with([copies, {"id": "pile", "at": [60, 270], "stack": 4, **red_and_white}])
    plain = plain_set(scene)
    for solid in solids_of(scene)[1:]:  # the first is red alone
        model = joined(model_of(scene, solid))
        a, b, c = (model.vertices[model.faces[:, k]] for k in range(3))
        areas = np.linalg.norm(np.cross(b - a, c - a), axis=1)
        green = np.average(model.colours[model.faces].mean(axis=1)[:, 1], weights=areas)
        assert green == pytest.approx(0.7 * only(plain, solid.name).albedo[0, 1], rel=0.1), solid.name


def test_what_stands_where_it_stood_is_made_ready_for_light_once() -> None:
    """Read anew, or painted otherwise; not where it stands elsewhere."""
    box = {"id": "box", "piece": "container", "at": [120, 220], "colour": "#800000"}
    first, again, white, moved = (
        plain_set(set_with([box | other])) for other in ({}, {}, {"colour": "#ffffff"}, {"at": [121, 220]})
    )
    assert first.shape is again.shape is white.shape
    assert not np.array_equal(first.albedo, white.albedo)
    assert moved.shape is not first.shape and moved.occluders.count == first.occluders.count


def only(plain: Plain, name: str) -> Plain:
    number = plain.names.index(name)
    mine = plain.owner == number
    return Plain(plain.corners[mine], plain.albedo[mine], np.zeros(int(mine.sum()), dtype=np.int64), (name,))


def set_with(dressing: list[dict[str, object]]) -> Scene:
    return Scene.model_validate(
        {
            "title": "Plain",
            "scale": "1:50",
            "units": "mm",
            "set": {"table": {"width": 400, "depth": 300}},
            "dressing": dressing,
            "vehicle": {"body": "van", "path": [[0, 30], [400, 30]], "speed": "1 m/s"},
            "lights": [{"id": "room", "ambient": "20 lx"}],
            "cameras": {
                "c": {"sensor": "1-inch", "lens": "10 mm", "widest": "f/2", "nearest": "50 mm", "modes": ["1080p60"]}
            },
            "shots": [
                {
                    "id": "s",
                    "camera": "c",
                    "focal_length": 10,
                    "f_number": 4,
                    "at": [200, -300, 50],
                    "aim": [200, 30, 20],
                    "focus": 300,
                    "capture": {"rate": "60 fps"},
                    "duration": "0.2 s",
                }
            ],
        },
        context=UNITS,
    )


@pytest.mark.parametrize("table", [{"width": 0.6, "depth": 900}, {"width": 300, "depth": 20000}])
def test_a_table_that_is_a_strip_is_no_more_work_than_another(table: dict[str, float], tmp_path: Path) -> None:
    """A slip of a unit ate all memory: squares as long as a hair is wide, over all of a backdrop."""
    data = written(3)
    data["set"] |= {"table": table, "backdrop": {"distance": 590, "height": 500, "colour": "grey"}}
    path = tmp_path / "scene.yaml"
    path.write_text(json.dumps(data), encoding="utf-8")
    assert len(plain_set(read_scene(path)).corners) < 200_000
