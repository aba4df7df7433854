"""The sheet behind the set: its shape, its picture, and the table's edge."""

import numpy as np
import pytest
from PIL import Image
from scipy.spatial.transform import Rotation
from set_scenes import scene

from previz.layout import SKIES, backdrop_colours, backdrop_plane, cross_section, ground_colour, ground_heights
from previz.physics.colour import srgb_linear
from previz.scene import Scene
from previz.stage.built import dress
from previz.stage.paint.scenery import CUTS
from previz.stage.table.backdrop import build_backdrop, build_table, painted_layers
from previz.stage.table.ground import build_ground

SHEET = {"distance": 290, "height": 200}
COVED = {**SHEET, "join": "cove 80 mm"}


def luminance(image: np.ndarray) -> np.ndarray:
    return srgb_linear(image / 255) @ [0.2126, 0.7152, 0.0722]


def test_no_backdrop_no_mesh() -> None:
    assert build_backdrop(scene()) == ()


def test_straight_sheet_stands_upright_across_the_table() -> None:
    (mesh,) = build_backdrop(scene(backdrop={**SHEET, "colour": "#808080"}))
    assert mesh.vertices.min(axis=0) == pytest.approx([0, 0.29, 0])
    assert mesh.vertices.max(axis=0) == pytest.approx([0.4, 0.29, 0.2])
    assert (mesh.normals == [0, -1, 0]).all()


def test_width_is_centred_on_the_table() -> None:
    (mesh,) = build_backdrop(scene(backdrop={**SHEET, "width": 1000, "colour": "#808080"}))
    assert mesh.vertices[:, 0].min() == pytest.approx(-0.3)
    assert mesh.vertices[:, 0].max() == pytest.approx(0.7)


def test_cove_is_a_quarter_circle_tangent_to_table_and_sheet() -> None:
    sheet = cross_section(scene(backdrop={**COVED, "colour": "#808080"}).set.backdrop)
    assert (sheet.off[0], sheet.z[0]) == pytest.approx((0.210, 0.0))
    round_part = sheet.z < 0.08 - 1e-12
    assert np.hypot(sheet.off[round_part] - 0.21, sheet.z[round_part] - 0.08) == pytest.approx(0.08)
    # Tangent: the normal is upright at the table and level where the sheet begins, and turns evenly between.
    assert sheet.normals[0] == pytest.approx([0, 1])
    assert sheet.normals[np.flatnonzero(~round_part)[0]] == pytest.approx([-1, 0])
    turn = np.arctan2(-sheet.normals[:, 0], sheet.normals[:, 1])
    assert np.diff(turn).max() <= np.pi / 2 / 16 + 1e-9
    assert sheet.along[-1] == pytest.approx(0.08 * np.pi / 2 + 0.12)
    chords = np.hypot(np.diff(sheet.off), np.diff(sheet.z))
    assert chords == pytest.approx(np.diff(sheet.along), rel=0.002)


@pytest.mark.parametrize("backdrop", [SHEET, COVED])
def test_grid_is_fine_enough_for_light_and_faces_the_viewer(backdrop) -> None:
    (mesh,) = build_backdrop(scene(backdrop={**backdrop, "painting": {"sky": "clear"}}))
    corners = mesh.vertices[mesh.faces]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)
    assert sides.max() <= 0.020 * np.sqrt(2) + 1e-9
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert (np.einsum("ij,ij->i", across, mesh.normals[mesh.faces[:, 0]]) > 0).all()


def test_picture_is_upright_and_not_mirrored(tmp_path) -> None:
    picture = np.zeros((40, 80, 3), dtype=np.uint8)
    picture[:20, :40] = (255, 255, 255)  # top left, seen from the front
    Image.fromarray(picture).save(tmp_path / "sky.png")
    (mesh,) = build_backdrop(scene(folder=tmp_path, backdrop={**SHEET, "image": "sky.png"}))
    corner = np.argmin(np.linalg.norm(mesh.vertices - [0, 0.29, 0.2], axis=1))
    assert mesh.uv is not None and mesh.image is not None
    assert mesh.uv[corner] == pytest.approx([0, 0])
    height, width = mesh.image.shape[:2]
    assert mesh.image[height // 4, width // 4, 0] > 250
    assert mesh.image[height // 4, 3 * width // 4, 0] < 5
    assert mesh.image[3 * height // 4, width // 4, 0] < 5


def test_a_cove_goes_from_the_ground_s_colour_into_the_painting() -> None:
    made = scene(backdrop={**COVED, "colour": "#2040c0"}, ground={"surface": "sand"})
    (mesh,) = build_backdrop(made)
    foot, top = mesh.vertices[:, 2] < 1e-9, mesh.vertices[:, 2] > 0.0801
    assert mesh.colours[foot] == pytest.approx(np.tile(ground_colour(made), (foot.sum(), 1)))
    assert mesh.colours[top] == pytest.approx(np.tile(srgb_linear(np.array([0x20, 0x40, 0xC0]) / 255), (top.sum(), 1)))
    (painted,) = build_backdrop(scene(backdrop={**COVED, "painting": {"sky": "dusk"}}, ground={"surface": "sand"}))
    assert painted.image is not None
    last = srgb_linear(painted.image[-3:] / 255).mean(axis=(0, 1))
    assert last == pytest.approx(ground_colour(made), rel=0.08)


@pytest.mark.parametrize("sky", sorted(SKIES))
def test_skies_do_not_band(sky: str) -> None:
    (mesh,) = build_backdrop(scene(backdrop={**SHEET, "painting": {"sky": sky}}))
    assert mesh.image is not None
    part = mesh.image[:, :400].astype(int)
    # Where the mean of a row is between two codes, dither shows both; a banded sky has rows of one code.
    fraction = np.abs(part.mean(axis=1) - np.round(part.mean(axis=1))).max(axis=1)
    spread = part.std(axis=1).max(axis=1)
    assert (spread[fraction > 0.2] > 0.3).all()
    steps = np.abs(np.diff(part.mean(axis=1), axis=0))
    assert steps.max() < 3.0


def test_dusk_is_blue_above_and_warm_at_the_horizon() -> None:
    painting = {"sky": "dusk", "horizon": 40}
    (mesh,) = build_backdrop(scene(backdrop={**SHEET, "painting": painting}))
    assert mesh.image is not None
    rows = srgb_linear(mesh.image / 255).mean(axis=1)
    top, horizon = rows[5], rows[int(len(rows) * 0.78)]
    assert top[2] > 2 * top[0]
    assert horizon[0] > 2 * horizon[2]


@pytest.mark.parametrize("shape", sorted(CUTS))
def test_a_layer_reaches_its_height_and_no_higher(shape: str) -> None:
    layer = {"shape": shape, "height": 120, "colour": "#000000"}
    bare, layered = (
        build_backdrop(scene(backdrop={**SHEET, "painting": {"sky": "snow", "layers": layers}}))[0].image
        for layers in ([], [layer])
    )
    assert bare is not None and layered is not None
    changed = np.abs(bare.astype(int) - layered).max(axis=2) > 12
    highest = np.flatnonzero(changed.any(axis=1))[0] / len(changed)
    assert (1 - highest) * 0.2 == pytest.approx(0.120, abs=0.004)


@pytest.mark.parametrize(("colour", "code"), [("black", (0, 0, 0)), ("magenta", (255, 0, 255))])
def test_a_layer_is_painted_in_the_colour_that_is_written(colour: str, code: tuple[int, int, int]) -> None:
    layers = [{"shape": "flat", "height": h, "colour": colour, "roughness": 0} for h in (150, 100)]
    (mesh,) = build_backdrop(scene(backdrop={**SHEET, "painting": {"sky": "overcast", "layers": layers}}))
    assert mesh.image is not None
    rows = mesh.image[int(0.3 * len(mesh.image)) :].reshape(-1, 3)  # all below the top of the farther one
    # Water is streaked by some hundredths of its light, and the paper has a grain of a code.
    assert np.abs(np.median(rows, axis=0) - code).max() <= 2


def mountain(ground: str, **keys: object) -> np.ndarray:
    """What a green mountain is painted as over its own height, and a bit of sky; the paper's grain with it."""
    layers = [{"shape": "mountains", "height": 190, "colour": "#205010", **keys}]
    made = scene(ground={"surface": ground}, backdrop={**SHEET, "painting": {"sky": "night", "layers": layers}})
    (mesh,) = build_backdrop(made)
    assert mesh.image is not None
    return mesh.image


def white(image: np.ndarray, under: float = 1.0) -> float:
    """Share of its rows up to a height, from the foot, that is as bright in red as snow on a green rock."""
    return float((image[int((1 - under) * len(image)) :, :, 0] > 90).mean())


def test_mountains_have_snow_where_the_ground_has_it_or_the_layer_says() -> None:
    assert white(mountain("grass")) < 1e-5  # a star
    assert white(mountain("snow")) > 0.05
    assert white(mountain("snow", snow="0 %")) < 1e-5
    some, more = (mountain("grass", snow=share) for share in ("30 %", "60 %"))
    assert white(more) > 1.5 * white(some) > 0
    assert white(some, under=0.3) < 0.2 * white(some), "hardly any in the lower third"
    hills = [{"shape": "hills", "height": 50, "colour": "red", "snow": "30 %"}]
    with pytest.raises(ValueError, match="is painted on mountains alone, not on hills; take snow out"):
        scene(backdrop={**SHEET, "painting": {"layers": hills}})


def test_haze_is_the_colour_of_the_air_over_a_layer_s_own() -> None:
    layers = [{"shape": "flat", "height": 150, "colour": "black", "roughness": 0, "haze": "40 %"}]
    made = scene(backdrop={**SHEET, "painting": {"sky": "overcast", "layers": layers}})
    (mesh,) = build_backdrop(made)
    assert mesh.image is not None
    # By hand: 40 % of the sky at the horizon over black, near the layer's top.
    by_hand = 0.4 * np.array(SKIES["overcast"][0][1])
    top = srgb_linear(mesh.image[int(0.27 * len(mesh.image))] / 255).mean(axis=0)
    assert top == pytest.approx(by_hand, rel=0.03)
    (painted,) = painted_layers(made)
    assert painted.colour == pytest.approx(by_hand), "as the guide names it"
    # What the light meter takes the sheet for is what is painted on it.
    assert backdrop_colours(made, np.array([0.10]))[0] == pytest.approx(by_hand)


def test_layers_with_more_haze_are_paler() -> None:
    layers = [{"shape": "flat", "height": h, "colour": "#101010", "roughness": 0, "haze": haze}
              for h, haze in ((150, 0.4), (100, 0.2), (50, 0))]  # fmt: skip
    (mesh,) = build_backdrop(scene(backdrop={**SHEET, "painting": {"sky": "snow", "layers": layers}}))
    assert mesh.image is not None
    heights = luminance(mesh.image).mean(axis=1)
    far, middle, near = (heights[int((1 - z / 0.2) * len(heights))] for z in (0.140, 0.090, 0.040))
    assert far > middle > near


def test_painted_trees_have_boughs_and_no_pipes() -> None:
    layer = {"shape": "trees", "height": 150, "colour": "#405040"}
    made = scene(backdrop={**SHEET, "painting": {"sky": "overcast", "horizon": 30, "layers": [layer]}})
    (wood,) = painted_layers(made)
    above = wood.cover[: int((1 - 0.04 / 0.2) * len(wood.cover))]  # of the foot, which fades out, nothing
    hanging = (np.diff(above, axis=0) < -0.3).any(axis=0)
    assert hanging.mean() > 0.3, "under boughs one sees past a tree"
    (mesh,) = build_backdrop(made)
    assert mesh.image is not None
    body = slice(int(0.62 * len(mesh.image)), int(0.78 * len(mesh.image)))
    wooded = luminance(mesh.image[body])[:, (wood.cover[body] > 0.99).all(axis=0)]
    assert wooded.mean(axis=0).var() < 0.65 * wooded.var(), "no column is of one shade all the way down"


def test_lit_windows_follow_their_share() -> None:
    def windows(lit: float) -> float:
        layer = {"shape": "skyline", "height": 150, "colour": "#101010", "lit": lit}
        (mesh,) = build_backdrop(scene(backdrop={**SHEET, "painting": {"sky": "night", "layers": [layer]}}))
        assert mesh.image is not None
        return float((luminance(mesh.image) > 0.15).mean())

    none, some, many = windows(0.0), windows(0.2), windows(0.6)
    assert none < 0.001 < some < many


def test_a_skyline_as_low_as_its_roofs_is_painted() -> None:
    for seed in range(40):
        layer = {"shape": "skyline", "height": 2, "colour": "#101010", "seed": seed, "roughness": 0.9}
        painting = {"sky": "clear", "horizon": 0, "layers": [layer]}
        (mesh,) = build_backdrop(scene(backdrop={**SHEET, "height": 20, "painting": painting}))
        assert mesh.image is not None
        assert mesh.image[-1].mean() < mesh.image[0].mean()


def test_same_seed_same_painting() -> None:
    layers = [{"shape": shape, "height": 100, "colour": "#405060"} for shape in CUTS]
    first, again, other = (
        build_backdrop(scene(backdrop={**SHEET, "painting": {"sky": "clear", "seed": seed, "layers": layers}}))[0].image
        for seed in (1, 1, 2)
    )
    assert first is not None and again is not None and other is not None
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_table_edges_close_the_ground_all_round() -> None:
    made = scene(ground={"relief": 40, "surface": "grass"})
    ground = build_ground(made).mesh
    sides = build_table(made, ground.vertices)
    corners_of_ground = {tuple(corner) for corner in ground.vertices.round(12)}
    points = np.concatenate([side.vertices for side in sides])
    assert points.min(axis=0) == pytest.approx([0, 0, -0.030])
    for side in sides:
        top = side.vertices[side.vertices[:, 2] > -0.030 + 1e-9]
        assert {tuple(corner) for corner in top.round(12)} <= corners_of_ground
        corners = side.vertices[side.faces]
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert (np.einsum("ij,ij->i", across, side.normals[side.faces[:, 0]]) > 0).all()
        outward = side.vertices.mean(axis=0)[:2] - (0.2, 0.15)
        assert outward @ side.normals[0, :2] > 0


# --- along another side of the table ---

TURNS = {"back": 0.0, "left": 90.0, "front": 180.0, "right": -90.0}


def turned_round(points: np.ndarray, side: str, origin: tuple[float, float] = (0.2, 0.15)) -> np.ndarray:
    """Points (n, 3) of the small set turned about the middle of its table, which then has its sides swapped."""
    after = origin[::-1] if side in ("left", "right") else origin
    turn = Rotation.from_euler("z", TURNS[side], degrees=True)
    return np.asarray(turn.apply(points - np.array([*origin, 0])) + np.array([*after, 0]))


def along(side: str, **backdrop: object) -> Scene:
    """The small set with its backdrop at a side, the table turned with it."""
    table = {"width": 300, "depth": 400} if side in ("left", "right") else {"width": 400, "depth": 300}
    return scene(table=table, backdrop={"side": side, **backdrop})


@pytest.mark.parametrize("width", [{}, {"width": 1000}])
@pytest.mark.parametrize("side", ["left", "front", "right"])
def test_along_another_side_the_same_sheet_is_turned(side: str, width: dict[str, int]) -> None:
    """Corners and normals are those of the sheet at the back, turned by scipy; what is painted on it is the same."""
    hills = {"shape": "hills", "height": 90, "colour": "#334455"}
    written = {**COVED, **width, "painting": {"sky": "dusk", "layers": [hills]}}
    (there,), (back,) = build_backdrop(along(side, **written)), build_backdrop(along("back", **written))
    assert there.vertices == pytest.approx(turned_round(back.vertices, side), abs=1e-12)
    assert there.normals == pytest.approx(turned_round(back.normals, side, (0.0, 0.0)), abs=1e-12)
    assert (there.faces == back.faces).all() and there.uv == pytest.approx(back.uv, abs=1e-12)
    assert (there.image == back.image).all()


@pytest.mark.parametrize("side", ["left", "front", "right"])
def test_the_ground_dives_under_a_cove_at_any_side(side: str) -> None:
    there, back = (ground_heights(along(each, **COVED, colour="#808080")) for each in (side, "back"))
    points = np.random.default_rng(3).uniform(0.0, [0.4, 0.3], (400, 2))
    lower = back.at(points)
    assert (lower < -0.002).any() and (lower == 0.0).any()
    turned = turned_round(np.column_stack([points, lower]), side)
    assert there.at(turned[:, :2]) == pytest.approx(lower, abs=1e-9)


@pytest.mark.parametrize("side", ["back", "left", "front", "right"])
def test_what_is_scattered_keeps_clear_of_the_sheet_at_any_side(side: str) -> None:
    stones = {"id": "stones", "scatter": "stones", "over": [[0, 0], [300, 300]], "count": 60, "size": [4, 8]}
    found = scene(backdrop={**COVED, "distance": 250, "side": side, "colour": "#808080"}, dressing=[stones],
                  vehicle=None)  # fmt: skip
    placed = np.concatenate([mesh.vertices for mesh in dress(found)])[:, :2]
    plane = backdrop_plane(found)
    assert plane is not None and len(placed) > 100
    assert plane.off(placed).max() < 0.250 - 0.080 + 1e-6
