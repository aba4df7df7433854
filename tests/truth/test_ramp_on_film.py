"""A launched vehicle in the picture: where the slope and the clock put it, and in its own window of a locked shot."""

import math
from dataclasses import replace

import numpy as np
import pytest
from bare import BareStage, bare_scene
from test_motion_on_film import block, place

from previz.frames import Look, render_frames
from previz.layout import travel_of
from previz.scene import FileUnits, Launch, Scene
from previz.stage import VehicleModel, build_stage

RAMP = {"height": 300, "length": 500, "foot": 520}


def launched(folder, **keys) -> Scene:
    scene = bare_scene(folder, stop=22, **keys)
    # Without rolling loss, and with wheels that weigh nothing.
    launch = Launch.model_validate({"ramp": RAMP, "rolling": 0, "wheel_share": 0}, context=FileUnits(0.001, 50.0))
    return scene.model_copy(update={"vehicle": scene.vehicle.model_copy(update={"speed": None, "launch": launch})})


def test_it_is_drawn_where_it_is_on_its_slope(tmp_path):
    """From rest at g sin a down 3 in 5: by hand, s = g 0.6 t^2 / 2, and a mark on the roof leans with it."""
    size = (720, 480)
    scene = launched(tmp_path, size=size)
    fall = 9.80665 * 0.6
    whole = math.sqrt(2 * 0.5 / fall)
    vehicle = VehicleModel((block(0.0, 0.4, 0.002, 0.002, 4000.0),), (), (), 0.1, 0.04, 0.05)
    shot = scene.shots[0].model_copy(update={"start": -0.3, "duration": 0.4})
    pixels_a_metre = size[0] / (0.036 * 450 / 50)
    for frame in (0, 2, 4):
        look = Look(size=size, views=64, frames=range(frame, frame + 1), noise=False)
        (only,) = render_frames(scene, BareStage((), vehicle=vehicle), shot, look)
        x, z = (place(only.linear) - [360, 240]) / pixels_a_metre * [1, -1] + [0.5, 0.5]
        gone = fall * (whole - 0.3 + (frame + 0.25) / 24) ** 2 / 2  # mid-shutter, 180 degrees
        left = 0.5 - gone
        assert np.isclose(x, 0.52 - 0.8 * left + 0.6 * 0.4, atol=0.002)
        assert np.isclose(z, 0.6 * left + 0.8 * 0.4, atol=0.002)


YARD = {
    "title": "Yard",
    "scale": "1:50",
    "units": "mm",
    "set": {"table": {"width": 500, "depth": 300}, "ground": {"colour": "#808080"}},
    "vehicle": {
        "body": "van",
        "path": [[0, 100], [600, 100]],
        "headlamps": "5 lm",
        "launch": {"ramp": {"height": 60, "length": 200, "foot_radius": 60, "foot": 320}},
    },
    "lights": [
        {"id": "key", "spot": "60 deg", "at": [300, 900, 450], "aim": [250, 100, 0], "output": "2000 lx at 1 m"},
        {"id": "room", "ambient": "100 lx"},
    ],
    "cameras": {
        "c": {"sensor": "1-inch", "lens": "8.8-36.8 mm", "widest": "f/1.8", "nearest": "50 mm", "modes": ["1080p60"]}
    },
    "shots": [
        {
            "id": "s",
            "camera": "c",
            "focal_length": "8.8 mm",
            "f_number": "f/5.6",
            "at": [250, -350, 180],
            "aim": [250, 100, 20],
            "focus": "450 mm",
            "capture": {"rate": "60 fps"},
            "start": "-0.3 s",
            "duration": "0.5 s",
        }
    ],
}


@pytest.mark.parametrize("filtered", [True])
def test_of_a_locked_shot_all_that_moves_on_the_ramp_is_drawn_again(tmp_path, filtered):
    scene = Scene.model_validate(YARD, context=FileUnits(bare_length=0.001, scale=50))
    stage, shot = build_stage(scene, "draft", cache=False), scene.shots[0]
    assert travel_of(scene).descent.released_at < -0.3
    look = Look(size=(240, 135), views=8, noise=False, filtered=filtered)
    together = [frame.linear for frame in render_frames(scene, stage, shot, replace(look, frames=range(0, 22, 3)))]
    for number, picture in zip(range(0, 22, 3), together, strict=True):
        (alone,) = render_frames(scene, stage, shot, replace(look, frames=range(number, number + 1)))
        assert np.array_equal(picture, alone.linear)
