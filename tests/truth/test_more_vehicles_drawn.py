"""Vehicles beside the subject are drawn, moved, blurred, lit and shaded as the subject is."""

from dataclasses import replace
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

from previz.frames import Look, render_frames
from previz.mesh import Picture, Surface
from previz.scene import Scene, Shot, as_set_up, read_scene
from previz.stage import Stage, VehicleModel, build_stage

SCENE = """
title: Two that pass
scale: 1:50
units: mm
set:
  table: {width: 500, depth: 260}
  road: {lane: 70, lanes: 2, centre: [[0, 120], [500, 120]]}
vehicle: {body: saloon, speed: 0.4 m/s, headlamps: 4 lm, start: -0.2 s}
vehicles:
  van: {body: van, speed: 1.2 m/s, reverse: true, colour: "#c0c0b0", headlamps: 4 lm}
lights:
  - {id: sun, spot: 60 deg, size: 20, at: [900, -400, 500], aim: [250, 120, 0], output: 4000 lm}
  - {id: room, ambient: 30 lx}
cameras: {pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p60]}}
shots:
"""
SHOT = """  - {id: NAME, camera: pocket, focal_length: 14 mm, f_number: 5.6, at: [250, -220, 150], aim: [250, 120, 10],
     focus: 380 mm, capture: {rate: 60 fps, shutter: 180 deg, iso: 800}, start: 0.15 s, duration: 0.1 sMORE}
"""
LOOK = Look(size=(96, 54), views=6, frames=range(1), noise=False)


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Scene, Shot, Stage]]:
    """The very same set, filmed about the one vehicle and about the other."""
    path: Path = tmp_path_factory.mktemp("scene") / "scene.yaml"
    shots = [("one", ""), ("other", ", subject: van")]
    path.write_text(SCENE + "".join(SHOT.replace("NAME", name).replace("MORE", more) for name, more in shots))
    scene = read_scene(path)
    found = []
    for shot in scene.shots:
        then = as_set_up(scene, shot)
        found.append((then, then.shot(shot.id), build_stage(then, "draft", cache=False)))
    return found


def drawn(scene: Scene, shot: Shot, stage: Stage) -> np.ndarray:
    (frame,) = render_frames(scene, stage, shot, LOOK)
    return frame.linear


@pytest.fixture(scope="module")
def pictures(two: list[tuple[Scene, Shot, Stage]]) -> list[np.ndarray]:
    return [drawn(*each) for each in two]


def test_it_makes_no_difference_which_of_two_a_shot_is_about(
    two: list[tuple[Scene, Shot, Stage]], pictures: list[np.ndarray]
) -> None:
    one, other = pictures
    assert np.abs(one - other).max() < 0.02 * one.max()
    # And both are in it: without the other the picture is another one, where the van is and its shadow falls.
    scene, shot, stage = two[0]
    alone = drawn(scene.model_copy(update={"vehicles": None}), shot, replace(stage, others=()))
    changed = np.abs(one - alone).max(axis=2) > 0.05 * one.max()
    assert 0.01 < changed.mean() < 0.5


def test_all_views_drawn_at_once_are_the_same(
    two: list[tuple[Scene, Shot, Stage]], pictures: list[np.ndarray], monkeypatch: pytest.MonkeyPatch
) -> None:
    module = import_module("previz.frames.gl.at_once")  # only now: it imports OpenGL
    if not module.layering_of_hardware():
        pytest.skip("this renderer's vertex shaders cannot choose a layer")
    monkeypatch.setattr(module, "layering", module.layering_of_hardware)
    assert np.array_equal(drawn(*two[0]), pictures[0])


def laid(model: VehicleModel) -> VehicleModel:
    """The same with pictures on its body, as a file may describe them."""
    codes = np.random.default_rng(1).integers(0, 255, (16, 16, 3), dtype=np.uint8)
    lies = Picture(codes, 0, ("repeat", "repeat"))
    surface = Surface(metal=0.3, roughness=0.4, image=lies, normal=lies)
    body = tuple(replace(mesh, uv=40 * mesh.vertices[:, :2], image=codes, surface=surface) for mesh in model.body)
    return replace(model, body=body)


def test_locked_off_they_are_drawn_again_where_they_move_surfaces_of_files_smear_and_glare_included(
    two: list[tuple[Scene, Shot, Stage]], monkeypatch: pytest.MonkeyPatch
) -> None:
    scene, shot, stage = two[0]
    others = [replace(each, built=replace(each.built, vehicle=laid(each.built.vehicle))) for each in stage.others]
    whole = replace(stage, others=tuple(others))

    def film(frames: range) -> list[np.ndarray]:
        return [frame.linear for frame in render_frames(scene, whole, shot, replace(LOOK, frames=frames))]

    *_, together = film(range(2))
    assert np.array_equal(*film(range(1, 2)), together)
    module = import_module("previz.frames.gl.at_once")
    if module.layering_of_hardware():
        monkeypatch.setattr(module, "layering", module.layering_of_hardware)
        assert np.array_equal(*film(range(1, 2)), together)
