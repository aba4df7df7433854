"""Dressing in its places, scattered things off the road, and collisions found where they are and nowhere else."""

import math

import numpy as np
import pytest
import trimesh
from PIL import Image
from set_scenes import STRAIGHT, scene

from previz.errors import PrevizError
from previz.layout.motion import road_curve, vehicle_path
from previz.stage.mesh import Mesh
from previz.stage.paint.roadway import along_curve
from previz.stage.pieces.dressing import Dressed, collisions, dress
from previz.stage.pieces.scattering import KINDS, repeated
from previz.stage.shapes import convex
from previz.stage.table.ground import Ground, build_ground

BIG = {"table": {"width": 1200, "depth": 600}, "road": {**STRAIGHT, "centre": [[-50, 300], [1250, 300]]}}


class Level:
    """A ground without a picture."""

    def height(self, points: object) -> np.ndarray:
        return np.zeros(len(np.asarray(points).reshape(-1, 2)))


LEVEL: Ground = Level()  # type: ignore[assignment]


def dressed(*entries: dict, **keys: object) -> Dressed:
    return dress(scene(dressing=list(entries), **{**BIG, **keys}), LEVEL)


def hits(*entries: dict, **keys: object) -> set[tuple[str, str]]:
    made = scene(dressing=list(entries), **{**BIG, **keys})
    return {(hit.piece, hit.with_what) for hit in collisions(made, dress(made, LEVEL))}


def middle(outline: object) -> np.ndarray:
    return (outline.footprint.min(axis=0) + outline.footprint.max(axis=0)) / 2  # type: ignore[attr-defined]


# --- placing ---


def test_a_piece_stands_where_and_as_turned_as_it_says() -> None:
    (outline,) = dressed({"id": "box", "piece": "container", "at": [420, 520], "turn": "30 deg"}).outlines
    assert outline.id == "box" and outline.kind == "container"
    assert middle(outline) == pytest.approx([0.42, 0.52], abs=2e-4)
    assert outline.base == pytest.approx(0)
    assert outline.height == pytest.approx(2.591 / 50, rel=0.02)
    long, wide = 6.058 / 50, 2.438 / 50
    extent = np.ptp(outline.footprint, axis=0)
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    assert extent == pytest.approx([c * long + s * wide, s * long + c * wide], rel=0.02)


def test_copies_move_on_by_their_step() -> None:
    row = {"id": "row", "piece": "cone", "at": [100, 500], "copies": 4, "step": [60, -10, 0]}
    made = dressed(row)
    assert [outline.id for outline in made.outlines] == ["row", "row/2", "row/3", "row/4"]
    places = np.array([middle(outline) for outline in made.outlines])
    assert np.diff(places, axis=0) == pytest.approx(np.tile([0.06, -0.01], (3, 1)), abs=1e-6)


def test_copies_of_containers_take_their_colours_in_turn() -> None:
    def mean(k: int) -> np.ndarray:
        entry = {"id": "c", "piece": "container", "at": [100 + 200 * k, 500]}
        colours = {"colour": "#c02020", "colours": ["#20c020", "#2020c0"]}
        row = {**entry, "at": [100, 500], "copies": 3, "step": [200, 0, 0], **colours}
        made = dressed(row)
        points = np.concatenate([mesh.vertices for mesh in made.meshes])
        paints = np.concatenate([mesh.colours for mesh in made.meshes])
        return paints[np.abs(points[:, 0] - (0.1 + 0.2 * k)) < 0.08].mean(axis=0)

    assert [int(np.argmax(mean(k))) for k in range(3)] == [0, 1, 2]


def test_a_row_along_the_road_is_evenly_spaced_beside_it_and_turned_with_it() -> None:
    centre = [[-50, 200], [400, 260], [800, 380], [1250, 300]]
    lamps = {"id": "lamps", "piece": "sign", "along": "road", "every": 140, "first": 80, "offset": 110}
    made = scene(dressing=[lamps], **{**BIG, "road": {**STRAIGHT, "centre": centre}})
    curve = road_curve(made)
    places = []
    for outline in dress(made, LEVEL).outlines:
        places.append(outline.standing.mean(axis=0))
    found = along_curve(curve, np.array(places))
    assert found.left == pytest.approx(np.full(len(places), 0.110), abs=0.003)
    assert np.diff(found.along) == pytest.approx(np.full(len(places) - 1, 0.140), abs=0.004)
    assert found.along[0] == pytest.approx(0.080, abs=0.003)
    # The last 50 mm of the road are off the table, and a sign 110 mm left of a road that falls by 10 deg 20 mm more.
    assert len(places) == math.floor((curve.length - 0.07 - 0.08) / 0.14) + 1


def test_what_would_stand_beside_the_table_is_left_out_of_a_row() -> None:
    row = {"id": "row", "piece": "cone", "along": "road", "every": 100, "offset": 120}
    places = np.array([middle(outline) for outline in dressed(row).outlines])
    # The road begins 50 mm before the table and ends 50 mm after it: places at -50, 50, 150, ... 1250.
    assert places[:, 0] == pytest.approx(np.arange(0.05, 1.2, 0.1), abs=1e-3)


def test_pieces_stand_on_the_relief() -> None:
    made = scene(
        dressing=[
            {"id": "tree", "piece": "conifer", "at": [600, 560]},
            {"id": "up", "piece": "cone", "at": [600, 540, 30]},
        ],
        ground={"surface": "snow", "relief": 50},
        **BIG,
    )
    ground = build_ground(made)
    tree, up = dress(made, ground).outlines
    height = ground.height([[0.6, 0.56], [0.6, 0.54]])
    assert height.min() > 0.005
    assert tree.base == pytest.approx(height[0], abs=1e-3)
    assert up.base == pytest.approx(height[1] + 0.030, abs=1e-4)


def test_lamps_move_with_their_posts() -> None:
    post = {"id": "p", "piece": "lamp_post", "at": [300, 500], "lit": "20 lm"}
    (plain,) = dressed(post).lamps
    (turned,) = dressed({**post, "turn": "90 deg", "at": [500, 450]}).lamps
    reach = np.array(plain.centre) - [0.3, 0.5, 0]
    assert reach[0] > 0.02  # the arm points along +x of the piece
    assert np.array(turned.centre) == pytest.approx([0.5 - reach[1], 0.45 + reach[0], reach[2]])
    assert turned.flux == plain.flux == pytest.approx(20)


def test_a_mesh_file_stands_at_its_length(tmp_path) -> None:
    trimesh.creation.box((2, 1, 1)).export(tmp_path / "crane.stl")
    entry = {"id": "crane", "mesh": "crane.stl", "length": 80, "at": [600, 500], "turn": "90 deg"}
    (outline,) = dressed(entry, folder=tmp_path).outlines
    assert np.ptp(outline.footprint, axis=0) == pytest.approx([0.040, 0.080])
    assert (outline.kind, outline.base) == ("mesh", 0)


def test_a_cut_out_takes_its_image(tmp_path) -> None:
    Image.new("RGBA", (20, 40), (200, 30, 30, 255)).save(tmp_path / "figure.png")
    entry = {"id": "card", "piece": "card", "width": 20, "height": 40, "image": "figure.png", "at": [600, 500]}
    made = dressed(entry, folder=tmp_path)
    assert any(mesh.image is not None for mesh in made.meshes)


def test_meshes_are_few_and_the_same_again() -> None:
    entries = [
        {"id": "boxes", "piece": "container", "at": [100, 500], "copies": 3, "step": [150, 0, 0]},
        {"id": "stones", "scatter": "stones", "over": [[0, 0], [1200, 150]], "count": 40, "seed": 5},
    ]
    first, again = dressed(*entries), dressed(*entries)
    assert len(first.meshes) <= 6
    for one, other in zip(first.meshes, again.meshes, strict=True):
        assert np.array_equal(one.vertices, other.vertices)
        assert np.array_equal(one.colours, other.colours)


# --- scatter ---


def field(kind: str = "stones", count: int = 60, **keys: object) -> dict:
    return {"id": "field", "scatter": kind, "over": [[0, 0], [1200, 600]], "count": count, **keys}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_scatters_its_count_in_its_sizes(kind: str) -> None:
    made = dressed(field(kind, 12, size=[8, 16]))
    (lying,) = made.scattered
    assert len(lying.places) == len(lying.heights) == len(lying.radii) == 12
    assert lying.heights.min() >= 0.008 and lying.heights.max() <= 0.016
    top = max(float(mesh.vertices[:, 2].max()) for mesh in made.meshes)
    assert 0.8 * lying.heights.max() < top <= lying.heights.max() + 1e-9
    for mesh in made.meshes:
        assert np.linalg.norm(mesh.normals, axis=1) == pytest.approx(1)


def test_scatter_keeps_off_the_road_the_vehicle_and_the_edge() -> None:
    centre = [[-50, 200], [400, 260], [800, 380], [1250, 300]]
    made = scene(dressing=[field(count=300)], **{**BIG, "road": {**STRAIGHT, "centre": centre}})
    (lying,) = dress(made, LEVEL).scattered
    away = along_curve(road_curve(made), lying.places[:, :2]).away
    assert (away - lying.radii).min() > 3.5 / 50  # two lanes of 3.5 m: 70 mm to each side at 1:50
    assert ((lying.places[:, :2] >= 0) & (lying.places[:, :2] <= [1.2, 0.6])).all()
    off_road = scene(
        dressing=[field(count=300)],
        table=BIG["table"],
        vehicle={"body": "bus", "speed": "0.9 m/s", "path": [[100, 0], [600, 300], [1100, 600]]},
    )
    (lying,) = dress(off_road, LEVEL).scattered
    away = along_curve(vehicle_path(off_road), lying.places[:, :2]).away
    assert (away - lying.radii).min() > 2.5 / 50 / 2


def test_scatter_keeps_clear_of_pieces_and_of_itself() -> None:
    shed = {"id": "shed", "piece": "container", "at": [600, 100]}
    made = dressed(shed, field(count=150, size=[10, 20], over=[[450, 20], [750, 200]]))
    (lying,), (outline,) = made.scattered, made.outlines
    low, high = outline.standing.min(axis=0), outline.standing.max(axis=0)
    inside = ((lying.places[:, :2] > low) & (lying.places[:, :2] < high)).all(axis=1)
    assert not inside.any()
    loose = dressed(field(count=60, size=[10, 12])).scattered[0]
    gaps = np.linalg.norm(loose.places[:, None] - loose.places[None], axis=2) + np.eye(60)
    assert (gaps / (loose.radii[:, None] + loose.radii)).min() > 0.5


def test_scatter_stays_in_its_polygon_and_follows_its_seed() -> None:
    triangle = [[100, 400], [700, 420], [300, 580]]
    first, again, other = (
        dressed(field(count=50, over=triangle, size=[4, 6], seed=seed)).scattered[0].places for seed in (1, 1, 2)
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


# --- collisions ---


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


def test_the_arm_of_a_lamp_over_the_road_is_no_collision_but_its_post_is() -> None:
    arm = {"id": "post", "piece": "lamp_post", "turn": "90 deg", "arm": 60}
    made = scene(dressing=[{**arm, "at": [600, 215]}], **BIG)
    (outline,) = dress(made, LEVEL).outlines
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
    (hit,) = collisions(made, dress(made, LEVEL))
    half = 0.020 * 2.438 / 6.058 / 2
    assert hit.overlap == pytest.approx(0.236 + half - (0.265 - 0.025 - 0.002), abs=3e-4)


def test_another_lane_counts_as_road() -> None:
    assert hits({"id": "block", "piece": "container", "at": [600, 335]}) == {("block", "road")}
    assert hits({"id": "cone", "piece": "cone", "at": [600, 335]}) == set()
    assert hits({"id": "cone", "piece": "cone", "at": [600, 265]}) == {("cone", "vehicle")}


def test_a_bend_is_swept_wider_than_the_vehicle() -> None:
    vehicle = {"body": "bus", "speed": "0.5 m/s", "path": [[300, 100], [500, 300], [300, 500]]}
    made = scene(table=BIG["table"], vehicle=vehicle)
    path = vehicle_path(made)
    # Beside the tip of the bend, further out than half a bus's width and margin but within reach of its corners.
    apex = path.at(path.length / 2) + np.array([1.35 / 50 + 0.006, 0.0])
    post = {"id": "post", "piece": "cone", "height": 4, "at": [float(apex[0] * 1000), float(apex[1] * 1000)]}
    made = made.model_copy(update={"dressing": scene(dressing=[post]).dressing})
    assert {hit.with_what for hit in collisions(made, dress(made, LEVEL))} == {"vehicle"}


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


def test_convex_outlines() -> None:
    rng = np.random.default_rng(3)
    points = rng.normal(size=(500, 2))
    outline = convex.hull(points)
    edges = np.roll(outline, -1, axis=0) - outline
    turns = edges[:, 0] * np.roll(edges, -1, axis=0)[:, 1] - edges[:, 1] * np.roll(edges, -1, axis=0)[:, 0]
    assert (turns > 0).all()  # convex, counter-clockwise
    line = np.array([[0, 0], [1, 0.0]])
    square = np.array([[0.2, -0.5], [0.8, -0.5], [0.8, 0.5], [0.2, 0.5]])
    assert convex.depth(line, square) == pytest.approx(0.5)
    assert convex.depth(line, square + np.array([0, 0.6])) == pytest.approx(-0.1)
    assert convex.depth(line, square + np.array([2, 0])) == pytest.approx(-1.2)
    assert convex.thickness(square) == pytest.approx(0.6)


@pytest.mark.parametrize("seed", range(5))
def test_boxes_and_outlines_agree_with_plain_separating_axes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    outline = convex.hull(rng.normal(size=(30, 2)) * 0.4)
    middles, headings = rng.uniform(-1.5, 1.5, (40, 2)), rng.uniform(0, 2 * np.pi, 40)
    depths = convex.box_depths(middles, headings, (0.5, 0.2), outline)
    for middle, heading, found in zip(middles, headings, depths, strict=True):
        c, s = np.cos(heading), np.sin(heading)
        box = np.array([[-0.5, -0.2], [0.5, -0.2], [0.5, 0.2], [-0.5, 0.2]]) @ [[c, s], [-s, c]] + middle
        assert found == pytest.approx(convex.depth(box, outline), abs=1e-12)
