"""A launched vehicle in the picture: where the slope and the clock put it, and in its own window of a locked shot."""

import math
from dataclasses import replace

import numpy as np
import pytest
from bare import BareStage, bare_scene
from test_motion_on_film import block, place

from previz.frames import Look, render_frames
from previz.frames.lens import lens_of
from previz.frames.moving import moving_of
from previz.layout import ramp_of, travel_of, vehicle_on
from previz.mesh import joined
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


@pytest.fixture(scope="module")
def yard():
    scene = Scene.model_validate(YARD, context=FileUnits(bare_length=0.001, scale=50))
    return scene, build_stage(scene, "draft", cache=False)


def test_of_a_locked_shot_all_that_moves_on_the_ramp_is_drawn_again(yard):
    (scene, stage), shot = yard, yard[0].shots[0]
    assert travel_of(scene).descent.released_at < -0.3
    look = Look(size=(240, 135), views=8, noise=False)
    together = [frame.linear for frame in render_frames(scene, stage, shot, replace(look, frames=range(0, 22, 3)))]
    for number, picture in zip(range(0, 22, 3), together, strict=True):
        (alone,) = render_frames(scene, stage, shot, replace(look, frames=range(number, number + 1)))
        assert np.array_equal(picture, alone.linear)


def met(start, way, corners):
    """Whether a line meets one of the triangles (n, 3, 3): Cramer's rule, solved for how far and where in each."""
    one, other, off = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0], start - corners[:, 0]
    across, along = np.cross(way, other), np.cross(off, one)
    with np.errstate(divide="ignore", invalid="ignore"):
        size = 1 / (one * across).sum(axis=1)
        u, v, far = (off * across).sum(axis=1) * size, along @ way * size, (other * along).sum(axis=1) * size
    return bool(((u >= 0) & (v >= 0) & (u + v <= 1) & (far > 0) & (far < 1)).any())


def test_its_shadow_falls_on_its_ramp(yard):
    """Of the lamp, where the straight line from the sheet to it meets a triangle of the vehicle."""
    scene, stage = yard
    way, ramp, grid = stage.vehicle_light.path, ramp_of(scene), stage.vehicle_light.grid
    pose = vehicle_on(way, -0.12)
    (station,) = stage.stations([-0.12])
    assert pose.on_ramp and station.sheet is not None
    below = grid.points() @ pose.world_from_ground[:3, :3].T + pose.world_from_ground[:3, 3]
    forward, left = ramp.seen_along(below[:, :2]).T
    on_it = np.flatnonzero((np.abs(left) < ramp.width / 2) & (forward > -ramp.length) & (forward < -0.01))[::17]
    places = below[on_it] + np.column_stack([np.zeros((len(on_it), 2)), ramp.height(forward[on_it]) + 0.0005])
    body = joined([*stage.vehicle.body, *(w.moved(np.eye(3), np.array(it.centre)) for it in stage.vehicle.wheels
                   for w in it.round)])  # fmt: skip
    turn, shift = pose.world_from_vehicle[:3, :3], pose.world_from_vehicle[:3, 3]
    corners = (body.vertices @ turn.T + shift)[body.faces]
    hidden = np.array([met(place, np.array([0.3, 0.9, 0.45]) - place, corners) for place in places])
    share = station.sheet.reshape(-1, 3)[on_it, 1]
    assert 0.1 < hidden.mean() < 0.9
    # Cells at its edge are part hidden, for the lamp has a size; the sky is 100 lx of some 1500.
    agrees = np.where(hidden, share < 0.5, share > 0.5)
    assert agrees.mean() > 0.97
    assert np.median(share[hidden]) < 0.1 and np.median(share[~hidden]) > 0.9


def test_the_picture_shows_that_shadow(yard):
    (scene, stage), shot = yard, yard[0].shots[0]
    lens, look = lens_of(scene, shot, (240, 135)), Look(size=(240, 135), views=4, noise=False)
    ramp, moving = ramp_of(scene), moving_of(scene, shot)
    camera, vehicle = moving.at(9, 0.25)
    assert vehicle.on_ramp
    own = ramp.seen_along(vehicle.position[None, :2])[0]
    # Before its side, away from the lamp and towards the camera.
    place = ramp.placed(np.array([[own[0], -0.4 * ramp.width]]))[0]
    right, up = lens.pixel_of(np.append(place, ramp.height(own[0])), camera)
    x, y = 120 + right, 67.5 - up
    with_it, without = (
        next(iter(render_frames(scene, stage, shot, replace(look, frames=range(number, number + 1))))).linear
        for number in (9, 29)
    )
    here = slice(int(y) - 1, int(y) + 2), slice(int(x) - 1, int(x) + 2)
    assert with_it[here].mean() < 0.4 * without[here].mean()
