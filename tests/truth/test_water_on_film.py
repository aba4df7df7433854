"""Water on the ground, drawn: what it mirrors where and how brightly, against rays and Fresnel's equations by hand."""

from dataclasses import replace
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
from bare import BareStage, bare_scene, picture, plate

from previz.frames import Look, render_frames
from previz.mesh import Material, Mesh
from previz.stage import LitGround, VehicleModel

SIZE, EYE, WALL = (120, 80), np.array([0.5, 0.0, 0.5]), 0.8
AIM = np.array([0.5, 0.8, 0.02])


def lake(film: int = 255) -> LitGround:
    """Black ground under water: whatever is seen there is mirrored."""
    corners = np.array([[-2, 0, 0], [3, 0, 0], [3, 3, 0], [-2, 3, 0]], dtype=float)
    mesh = Mesh(
        corners, np.array([[0, 1, 2], [0, 2, 3]]), np.tile([0, 0, 1.0], (4, 1)), np.ones((4, 3)), uv=np.zeros((4, 2))
    )
    black = np.zeros((4, 4, 3), np.uint8)
    return LitGround(mesh, black, np.full((4, 4, 3), 50, np.float32), np.full((4, 4), film, np.uint8))


def rays() -> np.ndarray:
    """Of the middle of each pixel, (h, w, 3): 36 x 24 mm at 50 mm, row 0 at the top."""
    ahead = (AIM - EYE) / np.linalg.norm(AIM - EYE)
    right = np.array([1.0, 0.0, 0.0])
    up = np.cross(right, ahead)
    x = ((np.arange(SIZE[0]) + 0.5) / SIZE[0] - 0.5) * 36 / 50
    y = (0.5 - (np.arange(SIZE[1]) + 0.5) / SIZE[1]) * 24 / 50
    ways = ahead + x[None, :, None] * right + y[:, None, None] * up
    return np.asarray(ways / np.linalg.norm(ways, axis=2, keepdims=True))


@pytest.mark.parametrize("seed", range(3))
def test_water_mirrors_what_stands_behind_it_by_fresnel(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    wide, high = rng.uniform(0.15, 0.35), rng.uniform(0.12, 0.25)
    middle = 0.5 + rng.uniform(-0.1, 0.1)
    scene = bare_scene(tmp_path, stop=22, focus=850, size=SIZE, aim="[500, 800, 20]")
    stage = BareStage((plate((middle, WALL, high / 2), wide, high, (3.0, 6.0, 2.0)),), ground=lake())
    seen = picture(scene, stage, size=SIZE, views=16)
    ways = rays()
    ground = EYE + ways * (-EYE[2] / ways[..., 2:])  # all looks go down
    on_wall = EYE + ways * ((WALL - EYE[1]) / ways[..., 1:2])
    inner, outer = (lambda x, z, rim=rim: (np.abs(x - middle) < wide / 2 + rim) & (z > -rim) & (z < high + rim)
                    for rim in (-0.012, 0.035))  # fmt: skip
    direct = inner(on_wall[..., 0], on_wall[..., 2])
    # Behind the mirror the plate hangs from its foot, seen through the water before it.
    behind = inner(on_wall[..., 0], -on_wall[..., 2])
    nothing = ~outer(on_wall[..., 0], np.abs(on_wall[..., 2])) & (ground[..., 1] < 3)
    assert direct.sum() > 50 and behind.sum() > 50 and nothing.sum() > 500
    radiance = np.median(seen[direct], axis=0)
    cosine = -ways[..., 2][behind]
    inside = np.arccos(cosine), np.arcsin(np.sin(np.arccos(cosine)) / 1.333)
    less, more = inside[0] - inside[1], inside[0] + inside[1]
    share = ((np.sin(less) / np.sin(more)) ** 2 + (np.tan(less) / np.tan(more)) ** 2) / 2
    assert seen[behind] == pytest.approx(share[:, None] * radiance, rel=0.03)
    assert seen[nothing].max() < 0.002 * radiance.max()


def test_dry_ground_mirrors_nothing_and_half_wet_ground_half(tmp_path: Path) -> None:
    scene = bare_scene(tmp_path, stop=22, focus=850, size=SIZE, aim="[500, 800, 20]")
    wide = plate((0.5, WALL, 0.3), 4.0, 0.6, 5.0)
    pictures = [picture(scene, BareStage((wide,), ground=lake(film)), size=SIZE, views=4) for film in (0, 128, 255)]
    row = SIZE[1] - 10  # near the eye: far into the mirrored plate, which blurs over its like
    dry, half, wet = (float(each[row, SIZE[0] // 2, 1]) for each in pictures)
    assert dry == 0 and wet > 0
    assert half == pytest.approx(128 / 255 * wet, rel=0.05)


def glowing_box() -> VehicleModel:
    corners = np.array([[x, y, z] for z in (0.05, 0.15) for y in (-0.04, 0.04) for x in (-0.1, 0.1)])
    faces = np.array([[0, 1, 5], [0, 5, 4], [2, 7, 3], [2, 6, 7], [0, 2, 3], [0, 3, 1], [4, 5, 7], [4, 7, 6],
                      [0, 4, 6], [0, 6, 2], [1, 3, 7], [1, 7, 5]])  # fmt: skip
    lamp = Material(two_sided=True, glow=(4.0, 4.0, 4.0))
    mesh = Mesh(corners, faces, np.tile([0, 0, 1.0], (8, 1)), np.zeros((8, 3)), lamp)
    return VehicleModel((mesh,), (), (), 0.2, 0.08, 0.15)


def test_what_drives_is_mirrored_where_it_is_and_a_locked_off_frame_is_a_whole_one(tmp_path: Path) -> None:
    scene = bare_scene(tmp_path, stop=16, focus=700, size=SIZE, speed=1, aim="[500, 500, 50]")
    stage = BareStage((), vehicle=glowing_box(), ground=lake())
    look = Look(size=SIZE, views=6, frames=range(8, 11), noise=False)
    in_a_row = [frame.linear for frame in render_frames(scene, stage, scene.shots[0], look)]
    alone = picture(scene, stage, size=SIZE, views=6, frame=10)
    assert np.array_equal(in_a_row[-1], alone)
    bright = alone[..., 1]
    box = bright > 0.5 * bright.max()
    below = (bright > 0.005 * bright.max()) & (bright < 0.3 * bright.max())
    below[: np.flatnonzero(box.any(axis=1)).max() + 4] = False  # its own blurred edges
    assert box.sum() > 30 and below.sum() > 30
    # It hangs below the box, as far behind the mirror as that is before it: so much nearer to the picture's middle.
    columns = np.arange(SIZE[0]) - (SIZE[0] - 1) / 2
    seen, mirrored = (float((mask.sum(axis=0) @ columns) / mask.sum()) for mask in (box, below))
    ahead = np.array([0.0, 0.5, -0.45]) / np.hypot(0.5, 0.45)
    deep, deeper = (ahead @ (np.array([0.0, 0.5, z]) - [0.0, 0.0, EYE[2]]) for z in (0.1, -0.1))
    assert abs(seen) > 15 and mirrored == pytest.approx(seen * deep / deeper, abs=1.0)
    dry = picture(scene, replace(stage, ground=lake(0)), size=SIZE, views=6, frame=10)
    assert not (dry[..., 1] > 0.005 * bright.max())[below].any()


def test_what_moves_fast_leaves_an_even_streak_in_the_water(tmp_path: Path) -> None:
    """A narrow upright rod: some 32 px of even light, not a rod for each look."""
    size = (320, 213)
    half = np.array([[-0.002, 0.02], [0.002, 0.02], [0.002, 0.15], [-0.002, 0.15]])
    corners = np.column_stack([half[:, 0], np.zeros(4), half[:, 1]])
    lamp = Material(two_sided=True, glow=(4e3, 4e3, 4e3))
    rod = Mesh(corners, np.array([[0, 1, 2], [0, 2, 3]]), np.tile([0, -1.0, 0], (4, 1)), np.zeros((4, 3)), lamp)
    stage = BareStage((), vehicle=VehicleModel((rod,), (), (), 0.2, 0.08, 0.15), ground=lake())
    scene = bare_scene(tmp_path, stop=22, focus=700, size=size, speed=2.4, aim="[500, 500, 50]")
    seen = picture(scene, stage, size=size, views=8, frame=4)[..., 1]
    mirrored = seen[int(0.8 * size[0] / 1.5) :].max(axis=0)
    lit = np.flatnonzero(mirrored > 0.3 * mirrored.max())
    assert 25 < np.ptp(lit) < 45
    inside = mirrored[lit[0] + 5 : lit[-1] - 4]
    assert np.ptp(inside) < 0.35 * inside.mean(), inside


def test_a_vehicle_that_gets_faster_leaves_what_stands_still_the_same_bits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A fast one is mirrored at more moments of the shutter. There is room beside all that may be blurred with it.
    monkeypatch.setattr(import_module("previz.frames.gl.mirrored"), "_moments", lambda frame, lens: moments)
    size, plates = (640, 400), (plate((0.72, WALL, 0.1), 0.2, 0.2, (3.7e4, 2.1e4, 1.2e4)),)
    scene = bare_scene(tmp_path, stop=16, focus=700, size=size, speed=1, aim="[500, 500, 50]")
    stage = BareStage(plates, vehicle=glowing_box(), ground=lake())
    look = Look(size=size, views=3, frames=range(1, 3), noise=False)
    moments = 1
    frames = render_frames(scene, stage, scene.shots[0], look)
    next(frames)
    moments = 3
    in_a_row = next(frames).linear
    frames.close()
    assert np.array_equal(in_a_row, picture(scene, stage, size=size, views=3, frame=2))


def test_all_views_drawn_at_once_mirror_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    module = import_module("previz.frames.gl.at_once")  # only now: it imports OpenGL
    scene = bare_scene(tmp_path, stop=4, focus=600, size=SIZE, aim="[500, 800, 20]")
    stage = BareStage((plate((0.5, WALL, 0.1), 0.3, 0.2, 5.0),), vehicle=glowing_box(), ground=lake())
    one_by_one = picture(scene, stage, size=SIZE, views=6, frame=9)
    if not module.layering_of_hardware():
        pytest.skip("this renderer's vertex shaders cannot choose a layer")
    monkeypatch.setattr(module, "layering", module.layering_of_hardware)
    assert np.array_equal(picture(scene, stage, size=SIZE, views=6, frame=9), one_by_one)
