"""What moves is drawn where it is: motion blur, wheels, repeatable pixels, flat memory."""

import tracemalloc

import numpy as np
import pytest
from bare import BareStage, bare_scene, picture, plate

from previz.frames import Look, render_frames
from previz.mesh import Material, Mesh
from previz.stage import VehicleModel, Wheel


def block(x, z, width, height, glow):
    """An upright plate in the vehicle's frame, its glow to the right-hand side (-y), seen by a camera at -y."""
    corners = np.array([[-width, 0, -height], [width, 0, -height], [width, 0, height], [-width, 0, height]]) / 2
    return Mesh(
        corners + np.array([x, 0, z]),
        np.array([[0, 1, 2], [0, 2, 3]]),
        np.tile([0.0, -1, 0], (4, 1)),
        np.zeros((4, 3)),
        Material(two_sided=True, glow=(glow, glow, glow)),
    )


def one_wheel(radius, axle_height):
    """A vehicle that is one bright mark near the top of a wheel."""
    mark = block(0.0, 0.8 * radius, 0.002, 0.002, 500.0)
    empty = block(0.0, 0.0, 1e-6, 1e-6, 0.0)
    return VehicleModel((empty,), (Wheel((0.0, 0.0, axle_height), radius, (), (mark,)),), (), 0.1, 0.04, 2 * radius)


def place(image):
    light = image.sum(axis=2)
    rows, columns = np.mgrid[: light.shape[0], : light.shape[1]] + 0.5
    return np.array([(light * columns).sum(), (light * rows).sum()]) / light.sum()


def test_a_wheels_mark_matches_the_distance_travelled(tmp_path):
    """Rolling without slip: a mark at the top of a wheel of radius r is at angle distance / r, turning forward."""
    radius, size = 0.04, (720, 480)
    scene = bare_scene(tmp_path, speed=0.3, stop=22, size=size)
    # The path lies on the table, the camera is half a metre above it: the wheel is lifted into the frame.
    stage = BareStage((), vehicle=one_wheel(radius, axle_height=0.5))
    shot = scene.shots[0].model_copy(update={"duration": 4.0})
    pixels_a_metre = size[0] / (0.036 * 450 / 50)
    for frame in (36, 40, 44):
        look = Look(size=size, views=64, frames=range(frame, frame + 1), noise=False)
        (only,) = render_frames(scene, stage, shot, look)
        x, z = (place(only.linear) - [360, 240]) / pixels_a_metre * [1, -1] + [0.5, 0.5]
        distance = 0.3 * (frame + 0.25) / 24  # at mid-shutter, 180 degrees
        turn = distance / radius
        assert np.isclose(x, distance + 0.8 * radius * np.sin(turn), atol=0.001)
        assert np.isclose(z, 0.5 + 0.8 * radius * np.cos(turn), atol=0.001)


def test_motion_blur_is_the_distance_covered_while_the_shutter_is_open(tmp_path):
    """By hand: 2.08333 m/s at 192 fps, 180 deg, 324 mm on 1920 px: 32.15 px."""
    scene = bare_scene(tmp_path, speed=2.08333, stop=22, size=(1920, 1080), sensor=(36, 20.25))
    shot = scene.shots[0]
    capture = shot.capture.model_copy(update={"rate": 192})
    shot = shot.model_copy(update={"capture": capture, "duration": 0.3})
    vehicle = VehicleModel((block(0.0, 0.5, 0.0003, 0.01, 3000.0),), (), (), 0.1, 0.04, 0.05)
    frame = int(0.24 * 192)
    look = Look(size=(1920, 1080), views=128, frames=range(frame, frame + 1), noise=False)
    (only,) = render_frames(scene, BareStage((), vehicle=vehicle), shot, look)
    light = only.linear.sum(axis=(0, 2))
    columns = np.arange(1920) + 0.5
    middle = (light * columns).sum() / light.sum()
    # An even streak of length l has variance l^2 / 12 (elementary calculus); less the plate's and the pixel's own.
    variance = (light * (columns - middle) ** 2).sum() / light.sum() - (0.0003 / 0.324 * 1920) ** 2 / 12 - 1 / 12
    assert np.isclose(np.sqrt(12 * variance), 32.15, atol=0.5)


def test_the_same_scene_gives_the_same_pixels(tmp_path):
    scene = bare_scene(tmp_path, size=(180, 120))
    stage = BareStage((plate((0.55, 0.7, 0.52), 0.05, 0.05, 40),))
    look = Look(size=(180, 120), views=24, frames=range(0, 3), seed=5)
    first, again = ([frame.linear for frame in render_frames(scene, stage, scene.shots[0], look)] for _ in range(2))
    assert all(np.array_equal(a, b) for a, b in zip(first, again, strict=True))
    other = next(render_frames(scene, stage, scene.shots[0], Look(size=(180, 120), views=24, seed=6)))
    assert not np.array_equal(first[0], other.linear)


def test_grain_is_another_in_every_frame(tmp_path):
    # Signs, since grain is coarser where it is light. Two times 64 800 signs that know nothing of each other agree or
    # differ by chance to a share of 0.004, hardly ever of 0.016.
    scene = bare_scene(tmp_path, size=(180, 120))
    stage = BareStage((plate((0.55, 0.7, 0.52), 0.05, 0.05, 40),))
    grains = [
        [frame.linear for frame in render_frames(scene, stage, scene.shots[0], look)]
        for look in (Look(size=(180, 120), views=24, frames=range(2), seed=5, noise=noise) for noise in (True, False))
    ]
    one, other = (np.sign(noisy - clean) for noisy, clean in zip(*grains, strict=True))
    assert np.abs(one).mean() > 0.99
    assert abs((one * other).mean()) < 0.016


@pytest.mark.parametrize("views", [1, 5, 8, 9, 31])
def test_any_number_of_views_weighs_the_same(tmp_path, views):
    scene = bare_scene(tmp_path, size=(90, 60))
    image = picture(scene, BareStage((plate((0.5, 0.5, 0.5), 1, 1, 20),)), size=(90, 60), views=views)
    reference = picture(scene, BareStage((plate((0.5, 0.5, 0.5), 1, 1, 20),)), size=(90, 60), views=8)
    assert np.allclose(image, reference, rtol=1e-3)


def test_memory_does_not_grow_with_the_clip(tmp_path):
    # Slow, so that both clips cover less than one spacing of baked light: that grows with the road, not with frames.
    scene = bare_scene(tmp_path, size=(90, 60), speed=0.001)
    shot = scene.shots[0].model_copy(update={"duration": 26.0})
    stage = BareStage((plate((0.5, 0.5, 0.5), 0.1, 0.1, 20),))

    def peak(frames):
        tracemalloc.start()
        for _ in render_frames(scene, stage, shot, Look(size=(90, 60), views=2, frames=range(frames))):
            pass
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    peak(2)  # imports and caches
    short, long = peak(20), peak(120)
    assert long < short * 1.25 + 200_000
