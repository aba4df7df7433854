"""What the panels of a comparison show, measured in the drawn pictures, against what is predicted of them."""

from contextlib import ExitStack
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from bare import BareStage, plate

from previz.delivery import Comparison, compared
from previz.delivery.comparison.panels import Panel
from previz.delivery.comparison.side_by_side import in_step
from previz.frames import Look, render_frames
from previz.physics import optics
from previz.predictions import vehicle_in_picture
from previz.scene import recorded_area
from previz.stage.vehicles.bodies import build_vehicle

SCENE = """\
title: Panels
scale: 1:50
units: mm
set: {table: {width: 1400, depth: 700}}
vehicle: {body: lorry, path: [[100, 300], [1300, 300]], keep: middle, speed: 0.2 m/s}
lights: [{id: room, ambient: 2000 lx}]
cameras:
  inch: {sensor: [12, 8], lens: 8-40 mm, widest: f/1.4, smallest: f/32, nearest: 50, modes: [1080p120]}
  large: {sensor: [36, 24], lens: 24-120 mm, widest: f/2.8, smallest: f/32, nearest: 100, modes: [1080p120]}
  four: {sensor: [17.3, 13], lens: 10-60 mm, widest: f/2, smallest: f/22, nearest: 100, modes: [1440x1080 at 120 fps]}
  cropped: {sensor: [36, 24], lens: 8-60 mm, widest: f/2, nearest: 90, modes: [{mode: 1080p120, crop: 1.5}]}
shots:
  - id: pass
    camera: inch
    focal_length: 20
    f_number: 2.8
    at: [700, -160, 60]
    aim: [700, 300, 40]
    focus: 460
    capture: {rate: 120 fps, shutter: 5 deg, iso: 100}
    start: 3 s
    duration: 0.1 s
""".replace("modes:", "glare: none, modes:")  # blur is measured here

WIDTH = 480


def comparison_of(folder: Path, **asked: object) -> Comparison:
    path = folder / "scene.yaml"
    path.write_text(SCENE, encoding="utf-8")
    return compared(path, **asked)  # type: ignore[arg-type]


def size_of(panel: Panel) -> tuple[int, int]:
    mode = panel.scene.mode(panel.shot)
    return WIDTH, round(WIDTH * mode.height / mode.width / 2) * 2


def drawn(panel: Panel, stage: BareStage, views: int = 128) -> np.ndarray:
    """One frame's light, (h, w)."""
    look = Look(size=size_of(panel), views=views, frames=range(0, 1), noise=False)
    (frame,) = render_frames(panel.scene, stage, panel.shot, look)  # type: ignore[arg-type]
    return frame.linear.sum(axis=2)


def axis(panel: Panel) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The camera's place, its direction of view and its up."""
    eye, aim = np.array(panel.shot.at), np.array([0.7, 0.3, 0.04])
    forward = (aim - eye) / np.linalg.norm(aim - eye)
    up = np.array([0.0, 0.0, 1.0]) - forward * forward[2]
    return eye, forward, up / np.linalg.norm(up)


def pitch_of(panel: Panel) -> float:
    area = recorded_area(panel.scene.cameras[panel.shot.camera], panel.scene.mode(panel.shot))
    return area[0] / WIDTH


@pytest.mark.parametrize("framing", ["place", "lens"])
def test_blur_discs_are_those_predicted(tmp_path: Path, framing: str) -> None:
    for panel in comparison_of(tmp_path, framing=framing).panels:
        eye, forward, _ = axis(panel)
        focus = panel.figure("focus_distance")
        assert focus is not None
        behind = focus * 1.6
        light = drawn(panel, BareStage(still=(plate(eye + forward * behind, 0.0006, 0.0006, 4000.0),)), views=512)
        wanted = optics.circle_of_confusion(panel.shot.focal_length, panel.shot.f_number, focus, behind)
        _, xs = np.mgrid[: light.shape[0], : light.shape[1]]
        weight = light / light.sum()
        x = float((weight * xs).sum())
        # A disc of diameter D spreads by D / 4 to each side; the light's own width and the pixel are taken off.
        own = 0.0006 / behind * optics.image_distance(panel.shot.focal_length, focus) / pitch_of(panel)
        spread = float((weight * (xs - x) ** 2).sum()) - own**2 / 12 - 1 / 12
        disc = 4 * np.sqrt(max(spread, 0.0))
        predicted = wanted / pitch_of(panel)
        assert disc == pytest.approx(predicted, rel=0.02, abs=0.5), panel.name


@pytest.mark.parametrize("framing", ["place", "lens"])
def test_the_same_framing_shows_the_same_width(tmp_path: Path, framing: str) -> None:
    widths = []
    for panel in comparison_of(tmp_path, framing=framing).panels:
        eye, forward, _ = axis(panel)
        focus = panel.figure("focus_distance")
        assert focus is not None
        light = drawn(panel, BareStage(still=(plate(eye + forward * focus, 0.15, 0.05, 50.0),)))
        across = light[light.shape[0] // 2] / light.max()
        v = optics.image_distance(panel.shot.focal_length, focus)
        predicted = 0.15 / optics.field_width(pitch_of(panel) * WIDTH, v, focus) * WIDTH
        assert across.sum() == pytest.approx(predicted, rel=0.02, abs=0.5), panel.name
        widths.append(float(across.sum()))
    assert len(widths) == 4
    assert widths == pytest.approx([widths[0]] * 4, abs=0.5)


def test_the_vehicle_is_as_large_as_predicted(tmp_path: Path) -> None:
    for panel in comparison_of(tmp_path).panels:
        vehicle = build_vehicle("lorry", panel.scene.vehicle_length, (0.6, 0.6, 0.6))
        sharp = panel.shot.model_copy(update={"f_number": 32.0})
        light = drawn(Panel(panel.name, panel.scene, sharp, (0, 0), panel.predictions),
                      BareStage(still=(), vehicle=vehicle), views=32)  # fmt: skip
        seen = np.argwhere(light > 0.02 * light.max())
        left, right = seen[:, 1].min(), seen[:, 1].max() + 1
        box = vehicle_in_picture(panel.scene, panel.shot, 3.0 + panel.shot.capture.exposure_time / 2)
        assert box is not None
        assert right - left == pytest.approx((box[2] - box[0]) * WIDTH, rel=0.02, abs=0.5), panel.name


def test_panels_of_other_shapes_and_sets_are_drawn_in_step_as_they_are_alone(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, cameras=["inch", "four", "large"])
    eye, forward, _ = axis(comparison.panels[0])
    stages = [
        BareStage(still=tuple(plate(eye + forward * (0.5 + 0.1 * at), 0.05, 0.03, 50.0) for at in range(count)))
        for count in (1, 3, 2)
    ]
    looks = [Look(size=size_of(panel), views=4, frames=range(0, 3)) for panel in comparison.panels]

    def films() -> list:
        return [
            render_frames(panel.scene, stage, panel.shot, look)  # type: ignore[arg-type]
            for panel, stage, look in zip(comparison.panels, stages, looks, strict=True)
        ]

    alone = [[frame.linear for frame in film] for film in films()]
    with ExitStack() as until:
        rates = [Fraction(24)] * 3
        for number, together in enumerate(in_step(films(), rates, Fraction(24), until)):
            for panel, frame in enumerate(together):
                assert np.array_equal(frame.linear, alone[panel][number])
        assert number == 2


def test_the_order_of_depth_of_field_is_that_of_common_practice(tmp_path: Path) -> None:
    # Same framing, place and f-number: the smaller the sensor, the more is sharp. Common practice, no source.
    panels = comparison_of(tmp_path).panels
    widths = {panel.name: pitch_of(panel) * WIDTH for panel in panels}
    depths = {panel.name: panel.figure("depth_of_field") or 0.0 for panel in panels}
    assert sorted(widths, key=widths.__getitem__) == sorted(depths, key=depths.__getitem__, reverse=True)
