"""Which way is up, how large things are, what the blur disc measures: the drawn picture against geometry."""

import numpy as np
import pytest
from bare import BareStage, bare_scene, picture, plate

from previz.frames import Look, render_frames
from previz.physics.optics import circle_of_confusion
from previz.scene import read_scene


def columns_and_rows(image):
    light = image.sum(axis=2)
    rows, columns = np.mgrid[: light.shape[0], : light.shape[1]] + 0.5
    return light, columns, rows


def test_right_is_right_and_up_is_row_zero(tmp_path):
    scene = bare_scene(tmp_path)
    red, green = plate((0.6, 0.5, 0.5), 0.01, 0.01, (50, 0, 0)), plate((0.5, 0.5, 0.57), 0.01, 0.01, (0, 50, 0))
    image = picture(scene, BareStage((red, green)), views=16)
    at_red, at_green = (np.argwhere(image[:, :, channel] > image.max() / 4).mean(axis=0) for channel in (0, 1))
    assert at_red[1] > 180 + 50 and abs(at_red[0] - 119.5) < 2
    assert at_green[0] < 120 - 30 and abs(at_green[1] - 179.5) < 2


def test_a_rod_of_100_mm_covers_the_computed_pixels(tmp_path):
    # Thin-lens geometry by hand: 36 mm at 50 mm focused at 500 mm, m = 1/9, sees 324 mm there: 100 mm of 360 px.
    scene = bare_scene(tmp_path)
    image = picture(scene, BareStage((plate((0.5, 0.5, 0.5), 0.1, 0.012, 50),)), views=256)
    light = image.sum(axis=2)
    length = light.sum(axis=1).max() / light.max()
    assert np.isclose(length, 100 / 324 * 360, atol=0.05)
    height = light.sum(axis=0).max() / light.max()
    assert np.isclose(height, 12 / 216 * 240, atol=0.05)


SENSORS = {
    # sensor [mm], focal length [mm], f-number, focus [mm]
    "full frame": ((36, 24), 50, 2.8, 500),
    "1-inch": ((13.2, 8.8), 20, 4, 450),
    "phone": ((9.8, 6.533), 6.9, 1.8, 300),
}
DEPTHS = (0.6, 0.8, 1.25, 2.0, 4.0)  # in focus distances


@pytest.mark.parametrize("name", SENSORS)
def test_a_points_disc_is_the_thin_lens_formulas(tmp_path, name):
    """The renderer only looks through points of the pupil; the formula is Wikipedia's "Circle of confusion" (seen).

    The diameter is four times the standard deviation of the light along x, which for an even disc of diameter D is
    D/4 (elementary calculus). The point's own width and the pixel's add their variances, w^2/12 each.
    """
    sensor, focal, stop, focus = SENSORS[name]
    size = (480, 320)
    scene = bare_scene(tmp_path, sensor=sensor, focal=focal, stop=stop, focus=focus, size=size)
    field = np.array(sensor) / 1000 * (focus - focal) / focal  # at the plane of focus
    heights = dict(zip(DEPTHS, (0.36, 0.18, 0, -0.18, -0.36), strict=True))  # in frame heights, one above the other
    points = []
    for depth, height in heights.items():
        pixel = field[0] * depth / size[0]
        place = (0.5, focus / 1000 * depth, 0.5 + height * field[1] * depth)
        points.append(plate(place, pixel, pixel, 2000))
    image = picture(scene, BareStage(tuple(points)), size=size, views=384)
    for depth, height in heights.items():
        row = round((0.5 - height) * size[1])
        light, columns, _ = columns_and_rows(image[max(row - 29, 0) : row + 29])
        middle = (light * columns).sum() / light.sum()
        variance = (light * (columns - middle) ** 2).sum() / light.sum() - 2 / 12
        drawn = 4 * np.sqrt(max(variance, 0))
        formula = (
            circle_of_confusion(focal / 1000, stop, focus / 1000, focus / 1000 * depth) / sensor[0] * 1000 * size[0]
        )
        assert abs(drawn - formula) < max(0.02 * formula, 0.5), (name, depth, drawn, formula)


def test_the_disc_of_a_worked_example(tmp_path):
    # The same formula, run; Mitsuba 3.9.1 came within 0.5 % of it: 50 mm, f/2.8, focus 500, point
    # at 1000 mm: 0.99206 mm on the sensor.
    size = (720, 480)
    scene = bare_scene(tmp_path, size=size)
    image = picture(scene, BareStage((plate((0.5, 1.0, 0.5), 0.0009, 0.0009, 3000),)), size=size, views=256)
    light, columns, _ = columns_and_rows(image)
    middle = (light * columns).sum() / light.sum()
    diameter = 4 * np.sqrt((light * (columns - middle) ** 2).sum() / light.sum() - 2 / 12)
    assert np.isclose(diameter / 720 * 36, 0.99206, rtol=0.01)


def test_a_disc_holds_all_the_light_of_its_point(tmp_path):
    """Defocus moves light about and loses none: sharp and blurred, the same sum within the views' 1 %."""
    size = (360, 240)
    sums = []
    for focus in (500, 800):
        scene = bare_scene(tmp_path, focus=focus, size=size)
        image = picture(scene, BareStage((plate((0.5, 0.8, 0.5), 0.008, 0.008, 125),)), size=size, views=256)
        # The frame sees more from further away and the working f-number differs: compare in the scene's own measure.
        field = 36 * (focus - 50) / 50 * 800 / focus
        working = 2.8 * (1 + 50 / (focus - 50))
        sums.append(image.sum() * field**2 * working**2)
    assert np.isclose(sums[0], sums[1], rtol=0.01)


def test_a_pull_to_near_focus_loses_the_light_that_the_working_f_number_says(tmp_path):
    # Focused close, exposure falls by 1 / (1 + m)^2: `focal_plane_exposure` of colour-hdri 0.2.6, run.
    scene = bare_scene(tmp_path, size=(90, 60))
    pull = "[{time: 0 s, at: 100 mm}, {time: 0.4 s, at: 500 mm}]"
    path = tmp_path / "bare.yaml"
    path.write_text(path.read_text().replace("focus: 500 mm", f"focus: {pull}"))
    scene = read_scene(path)
    stage = BareStage((plate((0.5, 0.5, 0.5), 2, 2, 20),))
    look = Look(size=(90, 60), views=8, noise=False, frames=range(12))
    frames = list(render_frames(scene, stage, scene.shots[0], look))
    first, last = frames[0], frames[-1]
    stops = [2.8 * (1 + 0.05 / (focus - 0.05)) for focus in (0.1, 0.5)]
    assert last.facts.working_f_number == pytest.approx(stops[1], rel=1e-3)
    assert first.facts.working_f_number == pytest.approx(stops[0], rel=0.02)  # a quarter frame into the pull
    brighter = last.linear[30, 45, 1] / first.linear[30, 45, 1]
    assert brighter == pytest.approx((first.facts.working_f_number / last.facts.working_f_number) ** 2, rel=2e-3)
