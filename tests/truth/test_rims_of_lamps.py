"""A lamp far over white ends as it does on a sensor of finer pixels, each of which is clipped by itself: no steps."""

import numpy as np
import pytest
from bare import BareStage, bare_scene, picture
from test_bulbs_out_of_focus import bulb

from previz.frames import Look, render_frames

SIZE, FINER = (150, 100), 3


def on_finer_pixels(scene, stage):
    """What a sensor of so much finer pixels holds, in pixels as large as ours: each view sees the ball itself."""
    size = (FINER * SIZE[0], FINER * SIZE[1])
    look = Look(size=size, views=512, frames=range(1), noise=False, filtered=False)
    held = np.minimum(next(iter(render_frames(scene, stage, scene.shots[0], look))).linear, 1)
    return held.reshape(SIZE[1], FINER, SIZE[0], FINER, 3).mean(axis=(1, 3))


@pytest.mark.parametrize("over_white", [20, 100])
def test_a_rim_is_as_a_sensor_of_finer_pixels_has_it(tmp_path, over_white):
    scene = bare_scene(tmp_path, focal=50, stop=4, focus=500, size=SIZE, sensor=(15, 10))
    stage = BareStage((bulb(1.5, 0.005, over_white * 7400.0),))
    linear = picture(scene, stage, size=SIZE, views=8)[..., 1]
    ours, truth = np.minimum(linear, 1), on_finer_pixels(scene, stage)[..., 1]
    assert 0.8 * over_white < linear.max() < 1.2 * over_white  # what is white all over is not clipped yet
    rim = (truth > 0.05) & (truth < 0.95)
    assert rim.sum() > 30
    # Clipped pixel by pixel it is 0.14 and 0.17. The reference's own rim is rough: a few of its views make it white.
    assert np.abs(ours - truth)[rim].mean() < 0.1
