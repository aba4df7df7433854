"""Many moments of a frame's shutter at once are what each is by itself."""

from pathlib import Path

import numpy as np
import pytest

from previz.frames.moving import moving_of
from previz.scene import as_set_up, read_scene

SCENES = sorted((Path(__file__).parents[2] / "scenes").glob("*.yaml"))


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_several_moments_at_once_are_what_each_is_alone(path):
    written = read_scene(path)
    moments = (0.5, 0.0, 1.0, *np.random.default_rng(5).uniform(0, 1, 9))
    for each in written.shots:
        scene = as_set_up(written, each)
        moving = moving_of(scene, scene.shot(each.id))
        number = moving.typical[1]
        for moment, (camera, (vehicle, *others)) in zip(moments, moving.at_each(number, moments), strict=True):
            alone, driven = moving.at(number, moment)
            assert np.array_equal(camera.position, alone.position)
            assert np.array_equal(camera.world_from_camera, alone.world_from_camera)
            assert camera.focus_distance == alone.focus_distance
            assert len(others) == len(moving.others)
            for one, another in zip((vehicle, *others), (driven, *moving.others_at(number, moment)), strict=True):
                assert np.array_equal(one.world_from_vehicle, another.world_from_vehicle)
                assert one.distance == another.distance
