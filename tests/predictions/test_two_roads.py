"""Two roads to one number: predictions against the renderer's own matrices, models and light, in the demo scenes.

Nothing is drawn here; what a picture would show is found from what draws it. `tests/truth` holds the drawn blur disc,
streak and knife edge against the same formulae.
"""

from pathlib import Path

import numpy as np
import pytest

from previz.frames.lens import Lens
from previz.layout.camera import camera_at
from previz.layout.motion import vehicle_on
from previz.predictions import predict
from previz.predictions.checks.motion import shifts
from previz.predictions.shot_view import ShotView, view_of
from previz.scene import read_scene
from previz.stage.vehicles.bodies import build_vehicle

#: Luminance of linear Rec. 709 (ITU-R BT.709), as quoted in summaries of it; colour-science 0.4.6 has the same.
LUMINANCE_WEIGHTS = np.array([0.2126, 0.7152, 0.0722])

SCENES = Path(__file__).parents[2] / "scenes"
DEMOS = ("quay_lorry", "night_van", "snow_bus")


@pytest.fixture(params=DEMOS, scope="module")
def view(request: pytest.FixtureRequest) -> ShotView:
    scene = read_scene(SCENES / f"{request.param}.yaml")
    return view_of(scene, scene.shots[0])


def drawn_at(view: ShotView, frame: int, points: np.ndarray) -> np.ndarray:
    """Picture places (k, 2) [px] of points by the matrices that draw."""
    lens = Lens(view.shot.focal_length, view.shot.f_number, view.area, view.size)
    clip = np.column_stack([points, np.ones(len(points))]) @ lens.clip_from_world(view.cameras[frame]).T
    place = clip[:, :2] / clip[:, 3:]
    return (place * [1, -1] + 1) / 2 * np.array(view.size)


def test_points_fall_where_the_renderer_draws_them(view: ShotView) -> None:
    for frame in (0, view.middle, len(view.cameras) - 1):
        corners = view.vehicle_corners[frame]
        assert np.abs(view.project(corners)[0][frame] - drawn_at(view, frame, corners)).max() < 1e-3


def test_the_vehicles_size_is_that_of_its_model(view: ShotView) -> None:
    # One rounded box of length, width and height for every kind of vehicle, against the extent of the model that is
    # drawn, mid-shot: within 2 % of its width.
    scene, frame = view.scene, view.middle
    model = build_vehicle(scene.vehicle.body, scene.vehicle_length, (0.5, 0.5, 0.5))
    parts = [part.vertices for part in model.body]
    parts += [
        part.vertices + np.array(wheel.centre) for wheel in model.wheels for part in (*wheel.round, *wheel.turning)
    ]
    pose = vehicle_on(view.path, float(view.distances[frame])).world_from_vehicle
    world = np.concatenate(parts) @ pose[:3, :3].T + pose[:3, 3]
    places = drawn_at(view, frame, world)
    left, _, right, _ = view.vehicle_frame[frame]
    assert right - left == pytest.approx(np.ptp(places[:, 0]), rel=0.02)


def test_motion_blur_is_how_far_the_drawn_vehicle_moves_in_the_shutter(view: ShotView) -> None:
    before, after = (float(view.times[view.middle]) + half * view.exposure_time / 2 for half in (-1, 1))
    lens = Lens(view.shot.focal_length, view.shot.f_number, view.area, view.size)
    ends = []
    for time in (before, after):
        middle = vehicle_on(view.path, view.travel.distance(time)).position + np.array([0, 0, _half_height(view)])
        clip = lens.clip_from_world(camera_at(view.scene, view.shot, time)) @ np.append(middle, 1)
        ends.append((clip[:2] / clip[3] * [1, -1] + 1) / 2 * np.array(view.size))
    vehicle, _ = shifts(view, view.exposure_time)
    assert np.linalg.norm(vehicle[view.middle]) == pytest.approx(np.linalg.norm(ends[1] - ends[0]), rel=0.02, abs=0.5)


def _half_height(view: ShotView) -> float:
    return float(view.vehicle_solid(0.0).size[2]) / 2


def test_every_demo_scene_is_predicted() -> None:
    for demo in DEMOS:
        predictions = predict(read_scene(SCENES / f"{demo}.yaml"), remedies=False)
        assert predictions.findings
        assert all(np.isfinite(figure.value) or figure.quantity in ("far_limit", "depth_of_field", "lead_room")
                   for shot in predictions.shots for figure in shot.figures)  # fmt: skip
