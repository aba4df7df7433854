"""Dressing built and put in its places, and scattered things off the road."""

import numpy as np
import pytest
import trimesh
from PIL import Image
from set_scenes import STRAIGHT, scene

from previz.errors import PrevizError
from previz.layout import ground_heights, pieces_of, road_curve, solids_of, vehicle_path
from previz.light import Occluders
from previz.mesh import Mesh
from previz.physics.paths import along_curve
from previz.stage.pieces.dressing import dress
from previz.stage.pieces.scattering import KINDS, Scattered, repeated, scatter

BIG = {"table": {"width": 1200, "depth": 600}, "road": {**STRAIGHT, "centre": [[-50, 300], [1250, 300]]}}


def dressed(*entries: dict, **keys: object) -> tuple[Mesh, ...]:
    return dress(scene(dressing=list(entries), **{**BIG, **keys}))


def scattered(*entries: dict, **keys: object) -> Scattered:
    """Where the last of the entries lies."""
    made = scene(dressing=list(entries), **{**BIG, **keys})
    return scatter(made, made.dressing[-1])[0]


# --- building and placing ---


def test_copies_of_containers_take_their_colours_in_turn() -> None:
    def mean(k: int) -> np.ndarray:
        entry = {"id": "c", "piece": "container", "at": [100 + 200 * k, 500]}
        colours = {"colour": "#c02020", "colours": ["#20c020", "#2020c0"]}
        row = {**entry, "at": [100, 500], "copies": 3, "step": [200, 0, 0], **colours}
        made = dressed(row)
        points = np.concatenate([mesh.vertices for mesh in made])
        paints = np.concatenate([mesh.colours for mesh in made])
        return paints[np.abs(points[:, 0] - (0.1 + 0.2 * k)) < 0.08].mean(axis=0)

    assert [int(np.argmax(mean(k))) for k in range(3)] == [0, 1, 2]


def test_a_mesh_file_stands_at_its_length(tmp_path) -> None:
    trimesh.creation.box((2, 1, 1)).export(tmp_path / "crane.stl")
    entry = {"id": "crane", "mesh": "crane.stl", "length": 80, "at": [600, 500], "turn": "90 deg"}
    points = np.concatenate([mesh.vertices for mesh in dressed(entry, folder=tmp_path)])
    assert np.ptp(points[:, :2], axis=0) == pytest.approx([0.040, 0.080])
    assert points[:, 2].min() == 0


def test_a_cut_out_takes_its_image(tmp_path) -> None:
    Image.new("RGBA", (20, 40), (200, 30, 30, 255)).save(tmp_path / "figure.png")
    entry = {"id": "card", "piece": "card", "width": 20, "height": 40, "image": "figure.png", "at": [600, 500]}
    made = dressed(entry, folder=tmp_path)
    assert any(mesh.image is not None for mesh in made)


def test_no_light_comes_through_between_a_piece_and_sloping_ground() -> None:
    ground = {"surface": "grass", "relief": 40, "seed": 5}
    house = {"piece": "building", "floors": 1, "width": 120, "depth": 60}
    wall = {"piece": "wall", "length": 120, "height": 20, "thickness": 8}
    bale = {"piece": "container"}
    rows = [{"id": f"{kind['piece']}{x}", "at": [x, y], "turn": "20 deg", "seed": x, **kind}
            for y, kind in ((420, house), (520, wall), (560, bale)) for x in (200, 500, 800, 1000)]  # fmt: skip
    made = scene(dressing=rows, **{**BIG, "ground": ground})
    meshes, heights = dress(made), ground_heights(made)
    firsts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    faces = [mesh.faces + first for mesh, first in zip(meshes, firsts, strict=False)]
    seen = Occluders(np.concatenate([mesh.vertices for mesh in meshes]), np.concatenate(faces))
    open_below = []
    for solid in pieces_of(made):
        middle = np.array(solid.at[:2])
        # Of each side, not so near its ends that a look in passes by the corner.
        sides = zip(solid.footprint, np.roll(solid.footprint, -1, axis=0), strict=True)
        around = np.concatenate([np.linspace(0.9 * a + 0.1 * b, 0.1 * a + 0.9 * b, 15) for a, b in sides])
        inside = middle + 0.97 * (around - middle)
        gap = solid.at[2] - heights.height(inside)
        low = gap > 0.001
        height = solid.at[2] - 0.5 * gap[low]
        origins, ends = (np.column_stack([np.stack(flat), height]) for flat in (middle + 1.5 * (around - middle)[low],
                         middle + 0.2 * (around - middle)[low]))  # fmt: skip
        open_below.append(seen.clear(np.float32(origins), np.float32(ends - origins)))
    assert sum(map(len, open_below)) > 50
    assert not np.concatenate(open_below).any()


def test_what_is_held_up_has_nothing_below_it() -> None:
    deck = {"id": "deck", "piece": "wall", "length": 120, "height": 20, "thickness": 40, "at": [600, 500, 60]}
    made = dressed(deck, ground={"surface": "grass", "relief": 40, "seed": 5})
    assert min(mesh.vertices[:, 2].min() for mesh in made) > 0.059


def test_meshes_are_few_and_the_same_again() -> None:
    entries = [
        {"id": "boxes", "piece": "container", "at": [100, 500], "copies": 3, "step": [150, 0, 0]},
        {"id": "stones", "scatter": "stones", "over": [[0, 0], [1200, 150]], "count": 40, "seed": 5},
    ]
    first, again = dressed(*entries), dressed(*entries)
    assert len(first) <= 6
    for one, other in zip(first, again, strict=True):
        assert np.array_equal(one.vertices, other.vertices)
        assert np.array_equal(one.colours, other.colours)


# --- scatter ---


def field(kind: str = "stones", count: int = 60, **keys: object) -> dict:
    return {"id": "field", "scatter": kind, "over": [[0, 0], [1200, 600]], "count": count, **keys}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_scatters_its_count_in_its_sizes(kind: str) -> None:
    made, lying = (make(field(kind, 12, size=[8, 16])) for make in (dressed, scattered))
    assert len(lying.places) == len(lying.heights) == len(lying.radii) == 12
    assert lying.heights.min() >= 0.008 and lying.heights.max() <= 0.016
    top = max(float(mesh.vertices[:, 2].max()) for mesh in made)
    assert 0.8 * lying.heights.max() < top <= lying.heights.max() + 1e-9
    for mesh in made:
        assert np.linalg.norm(mesh.normals, axis=1) == pytest.approx(1)


def test_scatter_keeps_off_the_road_the_vehicle_and_the_edge() -> None:
    centre = [[-50, 200], [400, 260], [800, 380], [1250, 300]]
    made = scene(dressing=[field(count=300)], **{**BIG, "road": {**STRAIGHT, "centre": centre}})
    lying, _ = scatter(made, made.dressing[0])
    away = along_curve(road_curve(made), lying.places[:, :2]).away
    assert (away - lying.radii).min() > 3.5 / 50  # two lanes of 3.5 m: 70 mm to each side at 1:50
    assert ((lying.places[:, :2] >= 0) & (lying.places[:, :2] <= [1.2, 0.6])).all()
    off_road = scene(
        dressing=[field(count=300)],
        table=BIG["table"],
        vehicle={"body": "bus", "speed": "0.9 m/s", "path": [[100, 0], [600, 300], [1100, 600]]},
    )
    lying, _ = scatter(off_road, off_road.dressing[0])
    away = along_curve(vehicle_path(off_road), lying.places[:, :2]).away
    assert (away - lying.radii).min() > 2.5 / 50 / 2


@pytest.mark.parametrize("seed", range(6))
def test_what_is_not_in_the_way_of_something_more_lies_where_it_lay(seed: int) -> None:
    """From one setup to the next only what must moves: what a new piece stands on, and what is crowded out by that."""
    shed = {"id": "shed", "piece": "container", "at": [600, 100]}
    stones = field(count=150, size=[10, 20], over=[[450, 20], [750, 200]], seed=seed)
    before, after = scattered(stones), scattered(shed, stones)
    moved = np.abs(after.places - before.places).max(axis=1) > 1e-9
    (solid,) = solids_of(scene(dressing=[shed], **BIG))
    (x, y, _), across = solid.middle, np.hypot(*np.ptp(solid.below(1.0), axis=0)) / 2
    must = np.hypot(before.places[:, 0] - x, before.places[:, 1] - y) < across + before.radii
    assert must.sum() > 5 and moved.sum() <= 1.5 * must.sum() and (before.radii == after.radii).all()


def test_scatter_keeps_clear_of_pieces_and_of_itself() -> None:
    shed = {"id": "shed", "piece": "container", "at": [600, 100]}
    entries = shed, field(count=150, size=[10, 20], over=[[450, 20], [750, 200]])
    lying = scattered(*entries)
    (solid,) = solids_of(scene(dressing=list(entries), **BIG))
    low, high = solid.footprint.min(axis=0), solid.footprint.max(axis=0)
    inside = ((lying.places[:, :2] > low) & (lying.places[:, :2] < high)).all(axis=1)
    assert not inside.any()
    loose = scattered(field(count=60, size=[10, 12]))
    gaps = np.linalg.norm(loose.places[:, None] - loose.places[None], axis=2) + np.eye(60)
    assert (gaps / (loose.radii[:, None] + loose.radii)).min() > 0.5


def test_scatter_stays_in_its_polygon_and_follows_its_seed() -> None:
    triangle = [[100, 400], [700, 420], [300, 580]]
    first, again, other = (
        scattered(field(count=50, over=triangle, size=[4, 6], seed=seed)).places for seed in (1, 1, 2)
    )
    assert np.array_equal(first, again) and not np.array_equal(first, other)
    a, b, c = np.array(triangle) / 1000

    def side(p: np.ndarray, q: np.ndarray) -> np.ndarray:
        return (q[0] - p[0]) * (first[:, 1] - p[1]) - (q[1] - p[1]) * (first[:, 0] - p[0])

    assert (side(a, b) > 0).all() and (side(b, c) > 0).all() and (side(c, a) > 0).all()


def test_a_scatter_without_room_is_one_clear_error() -> None:
    with pytest.raises(PrevizError, match=r"scatter field: 5 of 5 stones find no room .*none of it is free"):
        dressed(field(count=5, over=[[0, 280], [1200, 320]]))


def test_repeated_meshes_are_turned_grown_and_shaded() -> None:
    one = Mesh(
        np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0.0]]),
        np.array([[0, 1, 2]]),
        np.tile([1.0, 0, 0], (3, 1)),
        np.full((3, 3), 0.5),
    )
    many = repeated(
        one, np.array([[0, 0, 0], [5, 5, 1.0]]), np.array([1, 2.0]), np.array([0, np.pi / 2]), np.array([1, 0.5])
    )
    assert many.faces.tolist() == [[0, 1, 2], [3, 4, 5]]
    assert many.vertices[3:] == pytest.approx(np.array([[5, 5, 1], [5, 7, 1], [3, 5, 1.0]]))
    assert many.normals[3] == pytest.approx([0, 1, 0])
    assert many.colours[[0, 3], 0].tolist() == [0.5, 0.25]
