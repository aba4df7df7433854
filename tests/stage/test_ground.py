"""The painted table top: lines and dashes at scale, banks off the road, the same picture from the same seed."""

import time

import numpy as np
import pytest
from PIL import Image
from set_scenes import STRAIGHT, scene

from previz.errors import PrevizError
from previz.layout import SURFACE_COLOURS as COLOURS
from previz.layout import ground_colour
from previz.physics.colour import srgb_linear
from previz.physics.paths import Curve, along_curve
from previz.physics.water import wetted
from previz.stage.table.ground import build_ground, ground_heights

PLAIN_ROAD = {**STRAIGHT, "surface": "plain", "colour": "#202020", "paint": "#ffffff"}


def bright(image: np.ndarray) -> np.ndarray:
    """Share of white paint in each texel of a `PLAIN_ROAD`, by linear reflectance."""
    linear = srgb_linear(image[..., 1] / 255)
    low = srgb_linear(0x20 / 255)
    return (linear - low) / (1 - low)


def runs(line: np.ndarray) -> list[int]:
    """Lengths of the runs of True that have a False on either side."""
    edges = np.flatnonzero(np.diff(line.astype(int)))
    starts, ends = [e for e in edges if not line[e]], [e for e in edges if line[e]]
    return [min(e for e in ends if e > s) - s for s in starts if any(e > s for e in ends)]


@pytest.mark.parametrize("scale", [24, 43, 64])
def test_lines_are_as_wide_as_real_ones_at_scale(scale: int) -> None:
    # A normal line is 4-6 in (101.6-152.4 mm) wide: MUTCD as summarised at legalclarity.org.
    road = {**PLAIN_ROAD, "markings": "solid"}
    ground = build_ground(scene(scale, road=road, ground={"surface": "plain", "colour": "#202020"}))
    texel = 0.4 / ground.image.shape[1]
    half = 3.5 / scale
    y = 0.3 - (np.arange(ground.image.shape[0]) + 0.5) * texel
    # All the paint across a line over the most that any texel there has: its width, however it falls on texels.
    for low, high in ((-half / 2, half / 2), (half / 2, half), (-half, -half / 2)):
        across = bright(ground.image)[(y - 0.15 > low) & (y - 0.15 < high)]
        width = np.median(across.sum(axis=0) / across.max(axis=0)) * texel * scale
        assert 0.1016 < width < 0.1524
        assert width == pytest.approx(0.12, rel=0.06)  # the specks of a plain surface add up across the strip


@pytest.mark.parametrize(("scale", "dash", "cycle"), [(64, 0.04763, 0.1905), (43, 0.0709, 0.2836)])
def test_dashes_are_three_metres_with_gaps_of_nine(scale: int, dash: float, cycle: float) -> None:
    # MUTCD sec. 3A.05 (2003), as quoted in a slide deck: 3 m (10 ft) of line, 9 m (30 ft) of gap. We paint the metres.
    road = {**PLAIN_ROAD, "centre": [[-50, 150], [850, 150]]}
    wide = scene(scale, road=road, table={"width": 800, "depth": 300}, ground={"surface": "plain", "colour": "#202020"})
    image = build_ground(wide).image
    texel = 0.8 / image.shape[1]
    row = int(0.15 / texel)
    dashes = runs(bright(image)[row] > 0.45)
    gaps = runs(bright(image)[row] <= 0.45)
    assert len(dashes) >= 2
    assert np.mean(dashes) * texel == pytest.approx(3.0 / scale, abs=texel)
    assert np.mean(gaps) * texel == pytest.approx(9.0 / scale, abs=texel)
    assert np.mean(dashes) * texel == pytest.approx(dash, rel=0.03)  # 10 ft is 1.6 % more than 3 m
    assert (np.mean(dashes) + np.mean(gaps)) * texel == pytest.approx(cycle, rel=0.03)


def test_road_lies_where_the_scene_says_and_the_far_edge_is_the_top_of_the_image() -> None:
    road = {**PLAIN_ROAD, "centre": [[-50, 220], [450, 220]], "markings": "solid", "edges": False}
    image = build_ground(scene(road=road, ground={"surface": "plain", "colour": "#202020"})).image
    rows = np.flatnonzero(bright(image)[:, image.shape[1] // 2] > 0.45)
    texel = 0.4 / image.shape[1]
    assert 0.3 - (rows.mean() + 0.5) * texel == pytest.approx(0.220, abs=texel)


def test_no_markings_and_no_edges_leave_the_road_bare() -> None:
    road = {**PLAIN_ROAD, "markings": "none", "edges": False}
    image = build_ground(scene(road=road, ground={"surface": "plain", "colour": "#202020"})).image
    assert bright(image).max() < 0.1


def test_a_road_that_ends_on_the_table_is_painted_no_further() -> None:
    road = {**PLAIN_ROAD, "centre": [[-50, 150], [200, 150]], "markings": "solid"}
    image = build_ground(scene(road=road, ground={"surface": "plain", "colour": "#808080"})).image
    row = image[image.shape[0] // 2, :, 0].astype(int)
    assert (np.abs(row[int(0.55 * len(row)) :] - 0x80) < 12).all()
    assert (row[: int(0.45 * len(row))] > 200).mean() > 0.9


def test_lines_are_smooth_at_their_edges() -> None:
    road = {**PLAIN_ROAD, "centre": [[-50, 140], [450, 165]], "markings": "solid", "edges": False}
    image = build_ground(scene(road=road, ground={"surface": "plain", "colour": "#202020"})).image
    between = (bright(image) > 0.15) & (bright(image) < 0.75)
    # A slanted line crosses every column's texels at all shares: half-covered texels on both sides of it.
    assert between.sum(axis=0).mean() > 0.8


@pytest.mark.parametrize("surface", sorted(COLOURS))
def test_a_surface_keeps_the_mean_that_its_colour_states(surface: str) -> None:
    made = scene(ground={"surface": surface}, table={"width": 800, "depth": 600})
    mean = srgb_linear(build_ground(made).image / 255).mean(axis=(0, 1))
    # A cove is painted in that mean, so a difference would show as a join: 12 % is a step that noise hides.
    assert mean == pytest.approx(np.array(COLOURS[surface]), rel=0.12)
    assert ground_colour(made) == COLOURS[surface]


@pytest.mark.parametrize(("wet", "share"), [(True, 1.0), (0.5, 0.5), ("30 %", 0.3)])
def test_wet_ground_is_as_dark_as_water_makes_it_and_gleams_all_over(wet: object, share: float) -> None:
    made = scene(ground={"surface": "concrete", "wet": wet}, road=STRAIGHT)
    ground = build_ground(made)
    dry = np.array(COLOURS["concrete"])
    darker = share * wetted(dry) + (1 - share) * dry  # after Lekner and Dorf 1988: tests/physics/test_water.py
    beside = srgb_linear(ground.image[-150:] / 255).mean(axis=(0, 1))
    assert beside == pytest.approx(darker, rel=0.12) and ground_colour(made) == pytest.approx(darker)
    assert ground.film is not None
    assert ground.film.min() > 0.2 * share * 255 and ground.film.max() <= 0.9 * share * 255 + 1
    level = scene(ground={"surface": "concrete", "wet": False})
    assert build_ground(level).film is None and ground_colour(level) == COLOURS["concrete"]


def test_a_given_colour_replaces_the_surface_s_own() -> None:
    image = build_ground(scene(ground={"surface": "plain", "colour": "#3060a0"})).image
    assert image.reshape(-1, 3).mean(axis=0) == pytest.approx([0x30, 0x60, 0xA0], abs=3)


def test_same_seed_same_picture_other_seed_another() -> None:
    first, again, other = (
        build_ground(scene(road=STRAIGHT, ground={"surface": "snow", "relief": 20, "seed": seed})) for seed in (5, 5, 6)
    )
    assert np.array_equal(first.image, again.image)
    assert np.array_equal(first.mesh.vertices, again.mesh.vertices)
    assert not np.array_equal(first.image, other.image)
    assert not np.array_equal(first.mesh.vertices, other.mesh.vertices)


def test_mesh_covers_the_table_and_its_uv_the_picture() -> None:
    mesh = build_ground(scene()).mesh
    assert mesh.vertices.min(axis=0).tolist() == [0, 0, 0]
    assert mesh.vertices.max(axis=0) == pytest.approx([0.4, 0.3, 0])
    corner = np.argmin(np.linalg.norm(mesh.vertices - [0, 0.3, 0], axis=1))
    assert mesh.uv is not None
    assert mesh.uv[corner] == pytest.approx([0, 0])
    ways = np.cross(
        mesh.vertices[mesh.faces[:, 1]] - mesh.vertices[mesh.faces[:, 0]],
        mesh.vertices[mesh.faces[:, 2]] - mesh.vertices[mesh.faces[:, 0]],
    )
    assert (ways[:, 2] > 0).all()
    assert ways[:, 2].sum() / 2 == pytest.approx(0.4 * 0.3)


@pytest.fixture(scope="module")
def snow_pass():
    road = {**STRAIGHT, "centre": [[-50, 120], [200, 160], [450, 130]]}
    return scene(64, road=road, ground={"surface": "snow", "relief": 40, "seed": 3})


def test_relief_leaves_the_road_level_and_stays_within_its_height(snow_pass) -> None:
    heights = ground_heights(snow_pass)
    curve = Curve.through(snow_pass.set.road.centre)
    stations = np.linspace(0, curve.length, 400)
    for aside in np.linspace(-1, 1, 9) * (3.5 + 0.4) / 64:
        assert np.abs(heights.at(curve.shifted(float(aside)).at(stations))).max() < 1e-9
    assert 0.4 * 0.040 < heights.z.max() <= 0.040
    assert heights.z.min() >= 0


def test_relief_is_smooth(snow_pass) -> None:
    heights = ground_heights(snow_pass)
    slope = np.hypot(*np.gradient(heights.z, heights.y, heights.x))
    assert slope.max() < 1.5  # about 56 deg: no cliff in one cell
    bend = np.abs(np.diff(heights.z, 2, axis=1)).max()
    assert bend < 0.002


def test_the_mesh_follows_the_heights_within_a_tenth_of_a_millimetre(snow_pass) -> None:
    # Less than half a pixel of a picture as wide as the table; its corners lie on the heights themselves.
    ground = build_ground(snow_pass)
    corners = ground.mesh.vertices[ground.mesh.faces]
    rng = np.random.default_rng(0)
    some = corners[rng.integers(0, len(corners), 5000)]
    shares = rng.dirichlet([1, 1, 1], 5000)
    points = np.einsum("nk,nkj->nj", shares, some)
    assert ground.height(points[:, :2]) == pytest.approx(points[:, 2], abs=1e-4)
    assert ground.height(ground.mesh.vertices[:, :2]) == pytest.approx(ground.mesh.vertices[:, 2], abs=1e-12)


def test_the_mesh_has_no_crack(snow_pass) -> None:
    mesh = build_ground(snow_pass).mesh
    sides = np.sort(np.stack([mesh.faces, np.roll(mesh.faces, -1, 1)], 2).reshape(-1, 2), axis=1)
    sides, count = np.unique(sides, axis=0, return_counts=True)
    assert count.max() == 2
    ends = mesh.vertices[sides[count == 1], :2]
    assert np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).sum() == pytest.approx(2 * (0.4 + 0.3))


def test_triangles_are_as_small_as_the_relief_needs_and_no_smaller(snow_pass) -> None:
    """Each costs a frame as much as many pixels, in every view, and the light of the ground is a texture."""
    level, banked = build_ground(scene()).mesh, build_ground(snow_pass).mesh
    assert len(level.faces) <= 2 * 14 * 10
    cells = (len(ground_heights(snow_pass).x) - 1) * (len(ground_heights(snow_pass).y) - 1)
    assert len(banked.faces) < 0.6 * 2 * cells
    sides = banked.vertices[banked.faces] - banked.vertices[np.roll(banked.faces, 1, axis=1)]
    assert np.linalg.norm(sides, axis=2).max() < 0.085  # 60 mm square: what is culled lies in small pieces


def test_ground_dives_under_a_cove_and_is_level_before_it() -> None:
    backdrop = {"distance": 290, "height": 200, "join": "cove 80 mm", "colour": "#808080"}
    ground = build_ground(scene(backdrop=backdrop, ground={"relief": 30}))
    behind = ground.mesh.vertices[:, 1] > 0.210 + 1e-9
    assert (ground.mesh.vertices[behind, 2] < 0).all()
    front = np.abs(ground.mesh.vertices[:, 1] - 0.210) < 1e-9
    assert front.any()
    assert np.abs(ground.mesh.vertices[front, 2]).max() < 1e-9
    assert ground.height([[0.2, 0.25]])[0] == 0.0


def test_places_are_measured_against_a_curve() -> None:
    found = along_curve(Curve.through([[0, 0], [1, 0]]), np.array([[0.5, 0.2], [0.25, -0.1], [1.3, 0.4], [-0.3, 0]]))
    assert found.left == pytest.approx([0.2, -0.1, 0.4, 0.0])
    assert found.along == pytest.approx([0.5, 0.25, 1.3, -0.3], abs=1e-9)
    assert found.away == pytest.approx([0.2, 0.1, 0.5, 0.3])


def test_an_image_is_laid_in_tiles_from_the_front_left_corner(tmp_path) -> None:
    tile = np.zeros((20, 20, 3), dtype=np.uint8)
    tile[10:, :10] = (255, 0, 0)  # front left quarter
    Image.fromarray(tile).save(tmp_path / "tile.png")
    image = build_ground(scene(folder=tmp_path, ground={"image": "tile.png", "tile": 100})).image
    texel = 0.4 / image.shape[1]

    def at(x: float, y: float) -> list[int]:
        return image[int((0.3 - y) / texel), int(x / texel)].tolist()

    for x, y in ((0.025, 0.025), (0.125, 0.025), (0.325, 0.225)):
        assert at(x, y)[0] > 240
        assert at(x + 0.05, y)[0] < 15
        assert at(x, y + 0.05)[0] < 15


def test_a_missing_ground_image_is_one_clear_error(tmp_path) -> None:
    with pytest.raises(PrevizError, match=r"tile\.png: no such file"):
        build_ground(scene(folder=tmp_path, ground={"image": "tile.png"}))


def test_a_huge_table_is_painted_within_bounds() -> None:
    start = time.process_time()
    made = build_ground(scene(table={"width": 60000, "depth": 20}, ground={"surface": "grass", "relief": 5}))
    assert max(made.image.shape[:2]) <= 4096
    assert len(made.mesh.vertices) < 400_000
    assert time.process_time() - start < 30  # a guard against painting by the million, not a benchmark
