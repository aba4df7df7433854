"""Set pieces: sizes, standing, seeds, light, budgets. The looks are judged by eye."""

from collections.abc import Iterator

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from set_scenes import scene

from previz.errors import PrevizError
from previz.layout import post_lamps
from previz.layout.sizes import BANDS, LAMP_RADIUS, lamp_in_post, piece_size, post_scale
from previz.mesh import Mesh
from previz.scene import PIECES, Standing
from previz.stage.pieces import yard
from previz.stage.pieces.buildings.openings import lit_windows
from previz.stage.pieces.buildings.site import House, Site
from previz.stage.pieces.buildings.walls import MORTAR, gable_wall, laid_in, plain_walls
from previz.stage.pieces.kinds import BUILDERS, build_piece
from previz.stage.shapes import solids
from previz.stage.shapes.finish import GLASS, LONGEST_EDGE, subdivided

SCALE = 50.0


#: Sizes that nobody builds, and a slip of the pen writes: each was a traceback once.
ODD: list[tuple[str, dict[str, object]]] = [
    ("building", {"width": "0.2 mm"}),
    ("building", {"width": "33 mm", "height": "3.4 mm", "depth": "0.012 mm", "floors": 36, "roof": "gable"}),
    ("wall", {"length": "0.8 mm", "height": "24 mm", "style": "brick"}),
    ("wall", {"length": "0.9 mm", "height": "0.6 mm", "style": "stone"}),
    ("hedge", {"length": "0.8 mm", "height": "24 mm"}),
    ("hedge", {"length": "900 mm", "height": "2 mm", "thickness": "700 mm", "style": "clipped"}),
    ("hedge", {"length": "900 mm", "height": "90 mm", "thickness": "1 mm", "style": "wild"}),
]


def spec(kind: str, **keys: object) -> Standing:
    needed: dict[str, object] = {}
    if kind in ("fence", "hedge", "wall"):
        needed["length"] = "150 mm"
    if kind == "garland":
        needed.update(length="150 mm", at=["1 m", "1 m", "90 mm"])
    if kind in ("card", "bounce", "flag"):
        needed.update(width="90 mm", height="60 mm")
    return PIECES[kind].model_validate({"id": "x", "piece": kind, "at": ["1 m", "1 m"], **needed, **keys})


#: Kind, keys, most triangles. Every frame draws all that it sees of a set 4 to 84 times, and on a software rasteriser a
#: triangle that is smaller than 16 pixels costs as much as they do; what is finer than that is paid for and not seen.
CASES: list[tuple[str, dict[str, object], int]] = [
    ("container", {}, 2800),
    ("container", {"length": "120 mm", "stack": 3, "colours": ["#204060", "#888888"]}, 7600),
    ("lamp_post", {}, 900),
    ("lamp_post", {"height": "120 mm", "arm": "10 mm", "lit": "12 lm"}, 650),
    ("conifer", {}, 2900),
    ("conifer", {"height": "150 mm", "snow": "80 %"}, 4200),
    ("broadleaf", {}, 7500),
    ("broadleaf", {"bare": True}, 5200),
    ("broadleaf", {"style": "fibre"}, 8300),
    ("broadleaf", {"style": "brush"}, 5500),
    ("bush", {}, 2100),
    ("hedge", {}, 4000),
    ("hedge", {"style": "clipped"}, 5600),
    ("hedge", {"style": "wild", "height": "40 mm"}, 5200),
    ("stone", {"size": "23 mm"}, 300),
    ("stone", {"snow": "60 %"}, 300),
    ("building", {}, 12500),
    ("building", {"roof": "gable", "lit": "40 %", "snow": "70 %", "width": "150 mm"}, 17500),
    ("building", {"shop": True, "lit": "60 %", "height": "200 mm", "depth": "90 mm"}, 13000),
    ("building", {"roof": "gable", "walls": "boards", "windows": False}, 12500),
    ("building", {"roof": "gable", "width": "90 mm", "depth": "140 mm", "colour": "#b0aca0"}, 12500),
    ("fence", {}, 650),
    ("fence", {"style": "pickets", "height": "20 mm"}, 1600),
    ("fence", {"style": "guard_rail", "height": "15 mm"}, 750),
    ("sign", {}, 550),
    ("sign", {"shape": "triangle"}, 450),
    ("sign", {"shape": "square", "glow": "50 cd/m2"}, 450),
    ("sign", {"shape": "board", "height": "70 mm"}, 1150),
    ("cone", {}, 400),
    ("garland", {}, 1900),
    ("garland", {"length": "600 mm", "bulbs": 3, "bulb": "5 mm", "sag": "80 mm"}, 900),
    ("wall", {}, 3400),
    ("wall", {"style": "brick", "height": "15 mm"}, 2900),
    ("wall", {"style": "stone", "snow": "50 %", "thickness": "9 mm"}, 3500),
    ("card", {}, 200),
    ("bounce", {"tilt": "20 deg"}, 500),
    ("bounce", {"tilt": "-90 deg", "finish": "silver"}, 500),
    ("flag", {"tilt": "90 deg"}, 500),
]
#: Plain board, every one alike.
BOARDS = ("bounce", "flag")
IDS = [f"{k}-{kind}-{'-'.join(keys) or 'plain'}" for k, (kind, keys, _) in enumerate(CASES)]
NAMED = list(zip(IDS, CASES, strict=True))


def build(kind: str, keys: dict[str, object], seed: int = 1) -> tuple[Mesh, ...]:
    return build_piece(spec(kind, **keys), SCALE, np.random.default_rng(seed))


@pytest.fixture(scope="module")
def models() -> dict[str, tuple[Mesh, ...]]:
    return {name: build(kind, keys) for name, (kind, keys, _) in zip(IDS, CASES, strict=True)}


def joined(model: tuple[Mesh, ...]) -> np.ndarray:
    return np.concatenate([mesh.vertices for mesh in model])


def test_every_kind_has_a_builder_and_bands() -> None:
    assert set(BUILDERS) == set(PIECES.values())
    assert set(BANDS) == set(PIECES)
    assert {kind for kind, _, _ in CASES} == set(PIECES) - {"parked"}  # a vehicle: tests/stage/test_vehicles.py


@pytest.mark.parametrize(("name", "case"), NAMED, ids=IDS)
def test_extent_is_piece_size_and_it_stands_on_the_table(
    models: dict[str, tuple[Mesh, ...]], name: str, case: tuple[str, dict[str, object], int]
) -> None:
    kind, keys, _ = case
    points = joined(models[name])
    size = np.array(piece_size(spec(kind, **keys), SCALE))
    if kind == "card":
        size[1] = 0.0  # a sheet; its thickness is for plans only
    np.testing.assert_allclose(np.ptp(points, axis=0), size, rtol=1e-6, atol=1e-9)
    assert points[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    if kind not in ("lamp_post", *BOARDS):  # a board's face begins at its foot
        np.testing.assert_allclose((points.max(0) + points.min(0))[:2], 0.0, atol=1e-9)


@pytest.mark.parametrize("name", IDS)
def test_meshes_are_sound(models: dict[str, tuple[Mesh, ...]], name: str) -> None:
    for mesh in models[name]:
        count = len(mesh.vertices)
        assert mesh.normals.shape == mesh.colours.shape == (count, 3)
        assert np.isfinite(mesh.vertices).all() and np.isfinite(mesh.colours).all()
        np.testing.assert_allclose(np.linalg.norm(mesh.normals, axis=1), 1.0, atol=1e-6)
        assert mesh.colours.min() >= 0 and mesh.colours.max() <= 1
        assert mesh.faces.min() >= 0 and mesh.faces.max() < count
        a, b, c = mesh.vertices[mesh.faces].transpose(1, 0, 2)
        across = np.linalg.norm(np.cross(b - a, c - a), axis=1)
        assert across.min() > 1e-13  # [m2]: a tenth of a micrometre square


@pytest.mark.parametrize("name", IDS)
def test_normals_are_on_the_side_the_faces_show(models: dict[str, tuple[Mesh, ...]], name: str) -> None:
    for mesh in models[name]:
        if not mesh.material.two_sided:
            assert share_facing_out(mesh) > 0.995


def share_facing_out(mesh: Mesh) -> float:
    a, b, c = mesh.vertices[mesh.faces].transpose(1, 0, 2)
    across = np.cross(b - a, c - a)
    return float(np.mean(np.sum(across * mesh.normals[mesh.faces].sum(1), axis=1) > 0))


@pytest.mark.parametrize(("name", "most"), [(name, case[2]) for name, case in NAMED], ids=IDS)
def test_no_piece_has_more_triangles_than_show(models: dict[str, tuple[Mesh, ...]], name: str, most: int) -> None:
    assert sum(len(mesh.faces) for mesh in models[name]) <= most


@pytest.mark.parametrize(("name", "case"), [each for each in NAMED if each[1][0] not in BOARDS])
def test_same_seed_same_arrays_other_seed_others(
    models: dict[str, tuple[Mesh, ...]], name: str, case: tuple[str, dict[str, object], int]
) -> None:
    again, other = build(case[0], case[1], seed=1), build(case[0], case[1], seed=2)
    for first, second in zip(models[name], again, strict=True):
        np.testing.assert_array_equal(first.vertices, second.vertices)
        np.testing.assert_array_equal(first.colours, second.colours)
        np.testing.assert_array_equal(first.normals, second.normals)
    colours = [np.concatenate([mesh.colours for mesh in model]) for model in (models[name], other)]
    assert colours[0].shape != colours[1].shape or not np.array_equal(*colours)


@pytest.mark.parametrize("name", [name for name, case in NAMED if case[0] not in BOARDS])
def test_nothing_is_one_flat_colour(models: dict[str, tuple[Mesh, ...]], name: str) -> None:
    colours = np.concatenate([mesh.colours for mesh in models[name]])
    assert len(np.unique(np.round(colours, 4), axis=0)) > 20


@pytest.mark.parametrize("scale", [22.0, 87.0])
@pytest.mark.parametrize("kind", sorted(PIECES))
def test_every_kind_builds_at_other_scales(kind: str, scale: float) -> None:
    piece = spec(kind)
    points = joined(build_piece(piece, scale, np.random.default_rng(0)))
    assert np.ptp(points[:, 2]) == pytest.approx(piece_size(piece, scale)[2], rel=1e-6)


@pytest.mark.parametrize(
    "keys",
    [
        {"width": "30 mm", "height": "20 mm", "depth": "12 mm"},
        {"floors": 12},
        {"floors": 1, "roof": "gable", "shop": True},
    ],
    ids=str,
)
def test_unusual_buildings_fill_their_size(keys: dict[str, object]) -> None:
    piece = spec("building", **keys)
    points = joined(build_piece(piece, SCALE, np.random.default_rng(3)))
    np.testing.assert_allclose(np.ptp(points, axis=0), piece_size(piece, SCALE), rtol=1e-6)


def test_joints_of_a_wall_are_cut_as_finely_as_its_bricks() -> None:
    """A shadow ends between two corners: in joints of larger triangles lit hairs ran between bricks in the dark."""
    house = House(7.0, 6.0, 6.0, 2, (0.4, 0.2, 0.1), True, False, 0.0, 0.0, (1.0, 1.0, 1.0), 0.0, walls="brick")
    site = Site(house, np.random.default_rng(1), (0.5, 0.5, 0.5), "brick", 0.8)
    laid = laid_in(site, 26.0, 5.0)
    plain_walls(site, 3.5, 5.0, -3.0, 3.0, laid)
    joints = [mesh for mesh in (*site.far, gable_wall(site, 6.0, 2.0, laid)[0]) if np.all(mesh.colours == MORTAR)]
    assert len(joints) == 3  # of two sides and a gable
    for mesh in joints:
        corners = mesh.vertices[mesh.faces]
        assert np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max() < 2 * laid[1]


# --- light ---


def test_the_bulbs_of_a_garland_hang_in_a_row_below_its_wire_and_share_its_light() -> None:
    data = {"id": "g", "piece": "garland", "length": 600, "bulbs": 5, "bulb": 4, "sag": 50, "lit": "10 lm"}
    made = scene(dressing=[{**data, "at": [200, 150, 90], "turn": "90 deg"}])
    lamps = [lamp for _, lamp in post_lamps(made)]
    places = np.array([lamp.centre for lamp in lamps])
    assert [lamp.flux for lamp in lamps] == [2.0] * 5 and {lamp.radius for lamp in lamps} == {0.002}
    # By hand: 120 mm apart, the middle one's underside 90 mm up, the outermost 50 mm * 0.8^2 above it.
    np.testing.assert_allclose(places[:, 1], 0.150 + 0.120 * np.arange(-2, 3), atol=1e-9)
    np.testing.assert_allclose(places[:, 0], 0.200, atol=1e-9)
    np.testing.assert_allclose(places[:, 2], 0.092 + 0.050 * np.array([0.64, 0.16, 0.0, 0.16, 0.64]), atol=1e-9)
    # Nothing of it lies within a bulb, or the light would find it dark.
    points = joined(build_piece(made.dressing[0], 50.0, np.random.default_rng(0))) @ [[0, 1, 0], [-1, 0, 0], [0, 0, 1]]
    points += np.array([0.2, 0.15, 0.09])
    off = np.linalg.norm(points[:, None] - places, axis=2)
    assert off.min() > 0.0019
    with pytest.raises(ValueError, match="give a third number, how high its lowest bulb hangs"):
        scene(dressing=[{**data, "at": [200, 150]}])


def test_nothing_of_a_post_encloses_its_lamp() -> None:
    # Or the light would find it dark.
    post = spec("lamp_post", lit="12 lm")
    points, lamp = joined(build("lamp_post", {"lit": "12 lm"})), lamp_in_post(post, SCALE)
    assert np.linalg.norm(points - lamp, axis=1).min() > 0.9 * LAMP_RADIUS * post_scale(post, SCALE)


@pytest.mark.parametrize(
    "count,share,lit", [(12, 0.0, 0), (12, 0.25, 3), (7, 0.4, 3), (40, 0.33, 13), (30, 0.02, 1), (9, 1.0, 9)]
)
def test_lit_windows_are_the_nearest_number_to_their_share(count: int, share: float, lit: int) -> None:
    # By hand: a quarter of 12; 2.8 of 7; 13.2 of 40; 0.6 of 30.
    assert np.count_nonzero(lit_windows(count, share, np.random.default_rng(5))) == lit


def test_no_window_is_lit_more_often_than_another() -> None:
    # 3 of 12 in 400 houses: each window is lit 100 times, give or take 8.7 (binomial); four times that are allowed.
    houses = [lit_windows(12, 0.25, np.random.default_rng(seed)) for seed in range(400)]
    assert np.abs(np.sum(houses, axis=0) - 100).max() < 35


def walls_facing(model: tuple[Mesh, ...], way: int, above: float = 0.0) -> tuple[NDArray[np.float64], int]:
    """Mean colour of the faces that look against an axis and stand outermost on it; and how many there are."""
    seen, count = np.zeros(3), 0
    for mesh in model:
        middles = mesh.vertices[mesh.faces].mean(1)
        outward = mesh.normals[mesh.faces][:, 0, way] < -0.99
        there = outward & (middles[:, 2] > above) & (middles[:, way] < 0.7 * mesh.vertices[:, way].min())
        seen += mesh.colours[mesh.faces[there]].mean(1).sum(0)
        count += int(there.sum())
    return seen / max(count, 1), count


@pytest.mark.parametrize("walls", ["brick", "plaster", "boards"])
def test_end_walls_and_gables_are_of_what_the_front_is_of(walls: str) -> None:
    keys = {"roof": "gable", "colour": "#a03828", "walls": walls, "floors": 1, "windows": False}
    model = build("building", {**keys, "width": "170 mm", "depth": "120 mm", "height": "110 mm"})
    (front, _), (end, _), (_, gable) = (walls_facing(model, way, above) for way, above in ((1, 0), (0, 0), (0, 0.08)))
    assert end[0] / end[2] > 0.7 * front[0] / front[2]  # the front has a door and stone, which are grey
    assert (gable > 30) == (walls != "plaster")  # bricks and boards one by one


def test_a_barn_has_no_glass_and_no_chimney() -> None:
    house, barn = (build("building", {"roof": "gable", "floors": 1, **more}) for more in ({}, BARN))
    glass = [any(mesh.material == GLASS for mesh in model) for model in (house, barn)]
    assert glass == [True, False]


def test_a_barn_s_door_has_no_corners_in_the_dark_under_its_ledges() -> None:
    """Each would make a smudge of all that is seen of its triangle. Rays by trimesh."""
    model = build("building", {"roof": "gable", "floors": 1, **BARN})
    body = trimesh.util.concatenate([trimesh.Trimesh(mesh.vertices, mesh.faces, process=False) for mesh in model])
    left, right = body.bounds[:, 0]
    x, z = (each.ravel() for each in np.meshgrid(np.linspace(left, right, 300)[5:-5], np.linspace(0.0, 0.048, 80)))
    front = np.column_stack([x, np.full(len(x), -1.0), z])
    hit = body.ray.intersects_first(front, np.tile([0.0, 1.0, 0.0], (len(front), 1)))
    seen = np.unique(hit[hit >= 0])
    corners = body.vertices[body.faces[seen]]
    inside = (corners + 0.02 * (corners.mean(axis=1, keepdims=True) - corners) - [0, 2e-5, 0]).reshape(-1, 3)
    hidden = body.ray.intersects_any(inside, np.tile([0.0, -1.0, 0.0], (len(inside), 1))).reshape(-1, 3).any(axis=1)
    assert np.isin(hit, seen[hidden]).mean() < 0.15  # in joints of boards, which are dark


BARN: dict[str, object] = {"walls": "boards", "windows": False}


def glow_area(model: tuple[Mesh, ...]) -> float:
    total = 0.0
    for mesh in model:
        if any(mesh.material.glow):
            a, b, c = mesh.vertices[mesh.faces].transpose(1, 0, 2)
            total += float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2)
    return total


def test_more_lit_windows_glow_over_more_area_and_none_when_dark() -> None:
    dark, some, all_lit = (glow_area(build("building", {"lit": share})) for share in ("0 %", "50 %", "100 %"))
    assert dark == 0.0
    assert 0.3 < some / all_lit < 0.7


def test_windows_glow_as_bright_as_asked_in_few_steps() -> None:
    model = build("building", {"lit": "100 %", "glow": "80 cd/m2"})
    levels = {float(np.dot(m.material.glow, [0.2126, 0.7152, 0.0722])) for m in model} - {0.0}
    assert max(levels) == pytest.approx(80.0)
    assert len(levels) <= 4


def test_glowing_sign_sends_out_its_luminance() -> None:
    model = build("sign", {"glow": "50 cd/m2"})
    assert {m.material.glow for m in model} == {(0.0, 0.0, 0.0), (50.0, 50.0, 50.0)}


# --- particular kinds ---


def test_stacked_boxes_each_have_their_own_colour() -> None:
    model = build("container", {"stack": 3, "colour": "#c02010", "colours": ["#1040c0", "#10c040"]})
    points, colours = joined(model), np.concatenate([mesh.colours for mesh in model])
    high = points[:, 2].max() / 3
    strongest = []
    for level in range(3):
        inside = (points[:, 2] > (level + 0.3) * high) & (points[:, 2] < (level + 0.7) * high)
        strongest.append(int(np.argmax(colours[inside].mean(0))))
    assert strongest == [0, 2, 1]


def test_snow_whitens_upward_faces() -> None:
    for kind in ("stone", "conifer"):
        plain, snowy = build(kind, {}), build(kind, {"snow": "90 %"})
        share = [np.mean(np.concatenate([m.colours for m in model]).min(1) > 0.6) for model in (plain, snowy)]
        assert share[0] == 0.0 and share[1] > 0.05


def test_card_keeps_what_is_solid_and_maps_the_image_upright() -> None:
    image = np.zeros((40, 60, 4), dtype=np.uint8)
    image[:20, :, :3] = 200  # the upper half is light
    image[:, 30:, 3] = 255  # the right half is solid
    piece = spec("card")
    (mesh,) = build_piece(piece, SCALE, np.random.default_rng(0), image)
    assert mesh.vertices[:, 0].min() == pytest.approx(0.0, abs=0.09 / 128)
    assert mesh.vertices[:, 0].max() == pytest.approx(0.045)
    assert mesh.uv is not None and mesh.image is not None and mesh.image.shape == (40, 60, 3)
    top = np.argmax(mesh.vertices[:, 2])
    assert mesh.uv[top, 1] == pytest.approx(0.0)
    np.testing.assert_allclose(mesh.uv[:, 0], mesh.vertices[:, 0] / 0.09 + 0.5, atol=1e-12)


def test_a_card_that_cannot_be_cut_says_why() -> None:
    for image, error, words in (
        (np.zeros((4, 4), dtype=np.uint8), ValueError, "is \\(h, w, 3\\)"),
        (np.zeros((4, 4, 4), dtype=np.uint8), PrevizError, "too little of the image is solid"),  # a maker's to mend
    ):
        with pytest.raises(error, match=words):
            build_piece(spec("card"), SCALE, np.random.default_rng(0), image)


# --- subdivision ---


def test_subdivided_keeps_area_and_leaves_no_long_edge_or_crack() -> None:
    whole = solids.box((0.09, 0.05, 0.02), 0.002)
    cut = subdivided(whole, LONGEST_EDGE)
    edges = cut.vertices[cut.faces] - cut.vertices[np.roll(cut.faces, 1, axis=1)]
    assert np.linalg.norm(edges, axis=2).max() <= LONGEST_EDGE * (1 + 1e-9)
    assert area(cut) == pytest.approx(area(whole), rel=1e-9)
    places = np.unique(np.round(cut.vertices, 9), axis=0, return_inverse=True)[1].reshape(-1)[cut.faces]
    sides = np.sort(np.stack([places, np.roll(places, -1, 1)], 2).reshape(-1, 2), axis=1)
    assert np.all(np.unique(sides, axis=0, return_counts=True)[1] == 2)  # closed: each edge between two faces


def area(mesh: Mesh) -> float:
    a, b, c = mesh.vertices[mesh.faces].transpose(1, 0, 2)
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2)


def broad_faces() -> Iterator[tuple[str, dict[str, object]]]:
    yield from (("container", {"length": "120 mm"}), ("building", {}), ("wall", {}), ("card", {}))


@pytest.mark.parametrize(("kind", "keys"), list(broad_faces()), ids=str)
def test_broad_faces_are_cut_small_enough_to_catch_a_shadow(kind: str, keys: dict[str, object]) -> None:
    for mesh in build(kind, keys):
        if any(mesh.material.glow) or mesh.material.gloss == 1.0:
            continue  # lights itself, or is dark glass: no shadow shows
        faces = mesh.faces[mesh.normals[mesh.faces][:, :, 2].max(1) > -0.9]  # nothing falls on an underside
        sides = mesh.vertices[faces] - mesh.vertices[np.roll(faces, 1, axis=1)]
        longest = np.linalg.norm(sides, axis=2).max(axis=1)
        area = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
        broad = area > 0.004 * longest  # a shadow on a bar of less than 4 mm has no shape
        assert longest[broad].max(initial=0.0) < 2.3 * LONGEST_EDGE
        assert longest.max() < 2.6 * LONGEST_EDGE


@pytest.mark.parametrize("seed", [0, 8])
@pytest.mark.parametrize(("kind", "keys"), ODD)
def test_odd_sizes_are_built_all_the_same(kind: str, keys: dict[str, object], seed: int) -> None:
    keys = {"colour": "#8c3b26", **keys}
    model = build(kind, keys, seed)
    np.testing.assert_allclose(np.ptp(joined(model), axis=0), piece_size(spec(kind, **keys), SCALE), rtol=1e-6)
    for mesh in model:
        np.testing.assert_allclose(np.linalg.norm(mesh.normals, axis=1), 1.0, atol=1e-6)


@pytest.mark.parametrize("rounds", [1, 2])
def test_a_stone_begins_as_the_ball_that_trimesh_makes(rounds: int) -> None:
    ball, (points, faces) = trimesh.creation.icosahedron(), yard._ball(rounds)
    for _ in range(rounds):
        ball = ball.subdivide()
    theirs = ball.vertices / np.linalg.norm(ball.vertices, axis=1, keepdims=True)
    one, other = (
        np.unique(np.round(p[f].mean(axis=1), 6) + 0.0, axis=0) for p, f in ((theirs, ball.faces), (points, faces))
    )
    assert len(one) == 20 * 4**rounds and one == pytest.approx(other, abs=2e-6)
    a, b, c = np.moveaxis(points[faces], 1, 0)
    assert (np.einsum("ni,ni->n", np.cross(b - a, c - a), a) > 0).all()  # seen from outside
