"""Filtered views: discs as large as the thin lens makes them, no light lost, no fringe where sharp meets blurred."""

import itertools
from dataclasses import replace

import flip_evaluator
import numpy as np
import pytest
from bare import BareStage, bare_scene, picture, plate, solid
from scipy.ndimage import fourier_shift

from previz.frames import Look, render_frames
from previz.layout import Lamp
from previz.physics.colour import srgb_encoded
from previz.physics.optics import circle_of_confusion
from previz.scene import PlaceKey

SIZE = (640, 360)
SENSOR = (36, 20.25)
FOCAL, STOP, FOCUS = 50, 2.0, 500
FIELD = np.array(SENSOR) / 1000 * (FOCUS - FOCAL) / FOCAL  # at the plane of focus [m]


def distance_of(disc):
    """Where a point's disc has that diameter [px], before the plane of focus if it is negative.

    The formula of Wikipedia "Circle of confusion" (seen), inverted.
    """
    low, high = FOCUS / 1000, 60.0 if disc > 0 else 0.06
    for _ in range(80):
        middle = (low + high) / 2
        drawn = circle_of_confusion(FOCAL / 1000, STOP, FOCUS / 1000, middle) / SENSOR[0] * 1000 * SIZE[0]
        low, high = (middle, high) if drawn < abs(disc) else (low, middle)
    return low


def diameter(image, own_variance):
    """Four standard deviations along x: of an even disc of diameter D the variance is D^2 / 16 (calculus)."""
    return 4 * np.sqrt(variance(image) - own_variance)


def variance(image):
    light = image.sum(axis=2)
    columns = np.arange(light.shape[1]) + 0.5
    middle = (light * columns).sum() / light.sum()
    return (light * (columns - middle) ** 2).sum() / light.sum()


def measured(tmp_path, depth, disc, views):
    """The mean diameter of points one above the other, each a pixel wide and elsewhere within its pixel.

    A single point would be seen at as many places, to whole pixels, as there are views: a few per cent of noise.
    """
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    pixel = FIELD[0] * depth / (FOCUS / 1000) / SIZE[0]
    apart = int(1.5 * disc + 12)
    count = max(1, min(16, SIZE[1] // apart))
    rows = [(number - (count - 1) / 2) * apart for number in range(count)]
    plates = [
        plate((0.5 + number / count * pixel, depth, 0.5 - row * pixel), pixel, 3 * pixel, 5000)
        for number, row in enumerate(rows)
    ]
    image = picture(scene, BareStage(tuple(plates)), size=SIZE, views=views)
    bands = [image[max(0, int(SIZE[1] / 2 + row - apart / 2)) : int(SIZE[1] / 2 + row + apart / 2)] for row in rows]
    # The point's own width and the pixel's add w^2 / 12 each.
    return 4 * np.sqrt(np.mean([variance(band) for band in bands]) - 2 / 12)


@pytest.mark.parametrize("disc", [3, 6, 12, 25, 45])
@pytest.mark.parametrize("views", [16, 24, 32])
def test_a_points_disc_measures_what_the_thin_lens_makes_it(tmp_path, disc, views):
    assert np.isclose(measured(tmp_path, distance_of(disc), disc, views), disc, rtol=0.03)


@pytest.mark.parametrize("near", [0.45, 0.35, 0.25, 0.2, 0.12])
def test_a_nearer_points_disc_too_up_to_160_px(tmp_path, near):
    disc = circle_of_confusion(FOCAL / 1000, STOP, FOCUS / 1000, near) / SENSOR[0] * 1000 * SIZE[0]
    assert np.isclose(measured(tmp_path, near, disc, 24), disc, rtol=0.03), disc


def lamp_stage(far, flux=0.01, radius=0.0005, still=()):
    return BareStage(still, lamps=(Lamp((0.5, far, 0.5), radius, flux, (1.0, 1.0, 1.0)),))


@pytest.mark.parametrize("disc", [3, 10, 25, 45])
def test_a_lamp_is_a_clean_disc_of_that_size(tmp_path, disc):
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    far = distance_of(disc)
    image = picture(scene, lamp_stage(far), size=SIZE, views=8)
    own = 0.0005 / (FIELD[0] * far / (FOCUS / 1000) / SIZE[0])
    own_variance = max(own, 0.75) ** 2 / 4 + 1 / 12  # an even disc's, and the pixel's
    assert np.isclose(diameter(image, own_variance), disc, rtol=0.03)
    if disc >= 25:  # even within: no view shows as a dot
        light = image.sum(axis=2)
        rows, columns = np.mgrid[: SIZE[1], : SIZE[0]] + 0.5
        inside = np.hypot(columns - SIZE[0] / 2, rows - SIZE[1] / 2) < disc / 2 - 2 * own - 2
        assert np.ptp(light[inside]) < 0.02 * light[inside].mean()


def test_a_lamp_has_the_light_of_the_plain_form(tmp_path):
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    for far in (0.5, 0.6, 1.5):
        stage = lamp_stage(far, flux=0.0001)  # so dim that no photosite is full: those hold no more
        filtered = picture(scene, stage, size=SIZE, views=8)
        plain = plain_picture(scene, stage, 256)
        assert np.isclose(filtered.sum(), plain.sum(), rtol=0.01)


def test_a_lamp_half_behind_an_edge_is_a_clean_half_disc(tmp_path):
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    # A black screen in the plane of focus hides all to the right of the middle: the half of the pupil from which the
    # lamp lies behind it. Seen from the left of the pupil a far lamp lies to the left of a near edge's right.
    screen = plate((0.75, FOCUS / 1000, 0.5), 0.5, 1.0, 0.0)
    image = picture(scene, lamp_stage(1.2, still=(screen,)), size=SIZE, views=8)
    reference = plain_picture(scene, lamp_stage(1.2, still=(screen,)), 512)
    light, wanted = image.sum(axis=2), reference.sum(axis=2)
    assert light[:, 322:].max() < 0.01 * light.max()
    assert np.isclose(light.sum(), wanted.sum(), rtol=0.02)
    columns = np.arange(SIZE[0]) + 0.5
    assert abs((light * columns).sum() / light.sum() - (wanted * columns).sum() / wanted.sum()) < 0.5


def plain_picture(scene, stage, views):
    look = Look(size=SIZE, views=views, frames=range(1), noise=False, filtered=False)
    (only,) = render_frames(scene, stage, scene.shots[0], look)
    return only.linear


@pytest.mark.parametrize("far", [0.5, 0.62, 0.9, 2.0])
def test_light_is_conserved_within_one_per_cent(tmp_path, far):
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    stage = BareStage((plate((0.5, far, 0.5), 0.04 * far, 0.08 * far, 50),))
    assert np.isclose(
        picture(scene, stage, size=SIZE, views=16).sum(), plain_picture(scene, stage, 256).sum(), rtol=0.01
    )


def test_a_blurred_edge_is_the_disc_summed_along_a_line(tmp_path):
    """The edge of an even disc of diameter D: the share of the disc beyond a line at x, a circle's segment."""
    disc = 44.0
    far = distance_of(disc)
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    stage = BareStage((plate((1.5, far, 0.5), 2.0, 4.0, 50),))  # bright to the right of the middle
    row = picture(scene, stage, size=SIZE, views=32)[SIZE[1] // 2].sum(axis=1)
    at = np.clip((np.arange(SIZE[0]) + 0.5 - SIZE[0] / 2) / (disc / 2), -1, 1)
    expected = (np.pi - np.arccos(at) + at * np.sqrt(1 - at**2)) / np.pi
    error = np.abs(row / row[-1] - expected)
    assert error.max() < 0.03 and error.mean() < 0.003


def across_a_post(tmp_path, disc, views, usual, turn, *, wide=2.0, off=0.3):
    """How far from its middle [px] and how light the blur of a thin straight post is, in shares of what is behind.

    Its disc's diameter and that of what is behind it are given [px], and how far it leans [deg].
    """
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    depth, back, lean = distance_of(disc), distance_of(usual), np.radians(turn)
    pixel = FIELD[0] * depth / (FOCUS / 1000) / SIZE[0]
    over, along = np.array([np.cos(lean), np.sin(lean)]), np.array([-np.sin(lean), np.cos(lean)])
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [wide / 2, 150] + [off, 0]
    x, z = (pixel * half @ np.stack([over, along])).T
    post = solid(np.column_stack([0.5 + x, np.full(4, depth), 0.5 + z]), [[0, 1, 2], [0, 2, 3]], 4000)
    light = picture(scene, BareStage((post, plate((0.5, back, 0.5), 8, 8, 2000))), size=SIZE, views=views).sum(axis=2)
    rows, columns = np.mgrid[: SIZE[1], : SIZE[0]] + 0.5
    places = np.stack([columns - SIZE[0] / 2, SIZE[1] / 2 - rows], axis=2)
    away, near = places @ over - off, np.abs(places @ along) < 20
    steps = np.arange(-round(0.4 * abs(disc)), round(0.4 * abs(disc)) + 1)
    own = light / np.median(light) - 1
    return steps, np.array([own[near & (np.round(away) == step)].mean() for step in steps])


# What single views show of a post must not be seen, as a share of its own blurred light. A grating is seen from about a
# hundredth of contrast on (common knowledge of vision, from memory), and such a post is up to a quarter of the light
# where it is. What changes over more than a quarter of the disc is no line.
@pytest.mark.parametrize("turn", [0, 45, 90])
@pytest.mark.parametrize(("disc", "views", "usual"), [(-20, 24, 8), (12, 20, 18)])
def test_a_thin_post_out_of_focus_is_an_even_blur(tmp_path, disc, views, usual, turn):
    steps, drawn = across_a_post(tmp_path, disc, views, usual, turn)
    chord = np.sqrt((disc / 2) ** 2 - steps**2)
    wanted = 2.0 * chord / (np.pi / 8 * disc**2)  # 2 px of it, out of all of the disc, summed along the post
    width = abs(disc) // 4 | 1
    left = drawn - wanted
    even = np.convolve(np.pad(left, width // 2, "edge"), np.full(width, 1 / width), "valid")
    assert np.isclose(drawn.mean(), wanted.mean(), rtol=0.15)  # it is there
    assert (left - even).std() < 0.04 * wanted.mean()


@pytest.mark.parametrize("backdrop", [10.0, 60.0])
def test_a_sharp_outline_before_a_blurred_backdrop_has_no_fringe(tmp_path, backdrop):
    """A sharp plate before an even, blurred backdrop: a step, known exactly; neither halo beside it nor rim on it."""
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    stage = BareStage((plate((0.5, 0.5, 0.5), 0.1, 0.3, 30), plate((0.5, 1.5, 0.5), 4, 4, backdrop)))
    row = picture(scene, stage, size=SIZE, views=16)[SIZE[1] // 2].sum(axis=1)
    edges = (np.array([-0.05, 0.05]) / FIELD[0] + 0.5) * SIZE[0]
    columns = np.arange(SIZE[0])
    cover = np.clip(np.minimum(columns + 1, edges[1]) - np.maximum(columns, edges[0]), 0, 1)
    middle, outside = row[SIZE[0] // 2], row[5]
    expected = outside + cover * (middle - outside)
    assert np.abs(row - expected).max() < 0.03 * abs(middle - outside)


def test_a_blurred_outline_before_a_sharp_backdrop_agrees_with_many_views(tmp_path):
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    backdrop = tuple(plate((0.3 + 0.04 * step, 0.5, 0.5), 0.02, 0.3, 60) for step in range(12))
    stage = BareStage((plate((0.5, 0.36, 0.5), 0.06, 0.1, 15), *backdrop, plate((0.5, 0.52, 0.5), 2, 2, 10)))
    filtered = picture(scene, stage, size=SIZE, views=32)
    reference = plain_picture(scene, stage, 512)
    error = np.abs(filtered - reference).mean(axis=2) / reference.mean()
    assert error.mean() < 0.012 and np.percentile(error, 99.5) < 0.15


def chosen(scene, stage, quality):
    look = Look(size=SIZE, quality=quality, frames=range(1), noise=False)
    (only,) = render_frames(scene, stage, scene.shots[0], look)
    return only


@pytest.mark.parametrize(("stop", "quality"), [(4.0, 0.03), (1.4, 0.01)])
def test_the_views_that_are_chosen_have_about_the_error_that_was_asked_for(tmp_path, stop, quality):
    """FLIP against many plain views, its mean and what a hundredth exceeds. Of the pictures the rule was fitted to,
    the worst had 1.8 and 2.4 times what was asked for (tests/benchmarks/RESULTS.md); this set is none of them.
    """
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=stop, focus=FOCUS, size=SIZE)
    rng = np.random.default_rng(8)
    bars = [
        plate((0.5 + (x - 0.5) * far, far, 0.5 + (z - 0.5) * 0.6 * far), 0.02, 0.05, 300 * g)
        for x, z, far, g in rng.random((160, 4)) * [1, 1, 0.8, 1] + [0, 0, 0.4, 0]
    ]
    stage = BareStage((*bars, plate((0.5, 1.6, 0.5), 4, 4, 60)))
    drawn, reference = chosen(scene, stage, quality), plain_picture(scene, stage, 512)
    shown, wanted = (srgb_encoded(each) for each in (drawn.linear, reference))
    errors, error, _ = flip_evaluator.evaluate(wanted, shown, "LDR", applyMagma=False)
    shares = error / quality, np.percentile(errors, 99) / (16 / 3 * quality)
    assert shares[0] < 1.7 and shares[1] < 2.2, shares
    assert max(shares) > 0.6 or drawn.facts.views == 8  # the fewest there are


def test_where_there_is_nothing_to_see_in_the_blur_few_views_do(tmp_path):
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE)
    sky = plate((0.5, 2.0, 0.5), 8, 8, 60)
    checks = [plate((0.5 + 0.1 * x, 1.9, 0.5 + 0.1 * z), 0.05, 0.05, 400) for x in range(-9, 9) for z in range(-9, 9)]
    views = [chosen(scene, BareStage(still), "fine").facts.views for still in ((sky,), (*checks, sky))]
    assert views[0] == 8 and views[1] > 24


def test_a_still_scene_does_not_flicker(tmp_path):
    scene = bare_scene(tmp_path, size=(180, 120))
    stage = replace(lamp_stage(1.2), still=(plate((0.55, 0.7, 0.52), 0.05, 0.05, 40),))
    look = Look(size=(180, 120), views=16, frames=range(3), noise=False)
    first, *rest = [frame.linear for frame in render_frames(scene, stage, scene.shots[0], look)]
    assert all(np.array_equal(first, other) for other in rest)


# Mean FLIP between frames of a slow pan that follow each other, laid over each other. The bounds are stated here, no
# source: a fifth of 0.04 and a quarter of 0.02, mean errors that so many views may have.
@pytest.mark.parametrize(("views", "bound"), [(16, 0.008), (64, 0.005)])
def test_a_slow_pan_does_not_flicker(tmp_path, views, bound):
    depth = 0.8
    pixel = FIELD[0] * depth / (FOCUS / 1000) / SIZE[0]
    aside = 0.25 * pixel * 24  # a quarter of a pixel a frame at that depth, 24 frames a second [m/s]
    # A camera starts and ends at rest; between inner keys on a line it goes evenly.
    keys = ", ".join(f"{{time: {time} s, at: [{500 + 1000 * aside * time}, 1000, 500]}}" for time in range(4))
    scene = bare_scene(tmp_path, sensor=SENSOR, focal=FOCAL, stop=STOP, focus=FOCUS, size=SIZE, aim=f"[{keys}]")
    at = tuple(PlaceKey.model_construct(time=time, at=(0.5 + aside * time, 0.0, 0.5)) for time in range(4))
    shot = scene.shots[0].model_copy(update={"at": at, "start": 1.0})
    rng = np.random.default_rng(4)
    bars = [plate((0.3 + 0.4 * x, depth, 0.45 + 0.1 * z), 0.012, 0.02, 20 + 60 * g) for x, z, g in rng.random((40, 3))]
    lamp = Lamp((0.52, depth, 0.52), 0.0006, 0.02, (1.0, 1.0, 1.0))
    stage = BareStage((*bars, plate((0.5, depth + 0.001, 0.5), 2, 2, 10)), lamps=(lamp,))
    look = Look(size=SIZE, views=views, frames=range(4), noise=False)
    frames = [frame.linear for frame in render_frames(scene, stage, shot, look)]
    level = 0.7 / np.percentile(frames[0], 95)
    for before, after in itertools.pairwise(frames):
        # The set moves to the left by a quarter of a pixel; blurred as it is, a shift of its waves is exact.
        expected = np.fft.ifft2(fourier_shift(np.fft.fft2(before, axes=(0, 1)), (0, -0.25, 0)), axes=(0, 1)).real
        shown, wanted = (srgb_encoded(level * each) for each in (after, expected))
        assert flip_evaluator.evaluate(wanted, shown, "LDR", applyMagma=False)[1] < bound
