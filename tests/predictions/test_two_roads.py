"""Two roads to one number: predictions against the renderer's own matrices, models and light, in the demo scenes.

Nothing is drawn here; what a picture would show is found from what draws it. `tests/truth` holds the drawn blur disc,
streak and knife edge against the same formulae.
"""

from pathlib import Path

import numpy as np
import pytest

from previz.frames.lens import Lens
from previz.layout import Ambient, BulbEmitter, SpotEmitter, emitters_of, post_lamps
from previz.layout.motion import camera_at, vehicle_on
from previz.light import Occluders, Receivers, Samples, direct_light
from previz.light.plain_set import Plain
from previz.physics.photometry import spot_profile
from previz.predictions import predict
from previz.predictions.checks.motion import shifts
from previz.predictions.shot_view import ShotView, view_of
from previz.scene import read_scene
from previz.stage import build_stage
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


NOTHING = Occluders(np.zeros((0, 3)), np.zeros((0, 3), dtype=int))


def from_a_point(centre: object, intensity: object, point: np.ndarray, normal: np.ndarray) -> float:
    """Photometric distance law (CIE e-ILV 912): I cos(theta) / d^2. [lx]"""
    away = np.array(centre) - point
    return max(float(away @ normal), 0.0) / float(np.linalg.norm(away)) ** 3 * float(LUMINANCE_WEIGHTS @ intensity)


def test_every_lamp_gives_on_vehicle_and_road_what_its_law_says_and_posts_among_them(view: ShotView) -> None:
    # Nothing in the way; by the formulae of each kind of lamp, at five places on the vehicle and at the road's own.
    places = view.light.on_vehicle.take(slice(None, None, 40)).joined(
        Receivers.of([view.light.on_vehicle.points.mean(axis=0) * [1, 1, 0]], [[0.0, 0.0, 1.0]])
    )
    lamps = emitters_of(view.scene)
    assert len(lamps) == len(view.scene.lights) + len(post_lamps(view.scene))
    for lamp in lamps:
        if isinstance(lamp, Ambient):
            continue
        got = direct_light(places, [lamp], [NOTHING], Samples(panel=1024)) @ LUMINANCE_WEIGHTS
        for place, normal, lux in zip(places.points, places.normals, got, strict=True):
            if isinstance(lamp, BulbEmitter):
                expected = from_a_point(lamp.centre, lamp.intensity, place, normal)
            elif isinstance(lamp, SpotEmitter):
                way = place - np.array(lamp.centre)
                off_axis = np.arccos(way @ np.array(lamp.axis) / np.linalg.norm(way))
                expected = from_a_point(lamp.centre, lamp.intensity, place, normal)
                expected *= float(spot_profile(float(off_axis), lamp.angle))
            else:  # a panel, in a hundred by a hundred small ones that each send cos / pi of their flux
                step = (np.arange(100) + 0.5) / 50 - 1
                u, v = (each.reshape(-1, 1) for each in np.meshgrid(step, step))
                small = np.array(lamp.centre) + u * np.array(lamp.half_u) + v * np.array(lamp.half_v)
                away = small - place
                square = np.einsum("ni,ni->n", away, away)
                cosines = np.maximum(away @ normal, 0) * np.maximum(-(away @ np.array(lamp.normal)), 0)
                luminance = float(LUMINANCE_WEIGHTS @ lamp.radiance)
                expected = luminance * lamp.area * float((cosines / square**2).mean())
            assert lux == pytest.approx(expected, rel=0.01, abs=1e-3)


def test_shadows_on_vehicle_and_road_are_those_of_the_models(view: ShotView) -> None:
    """Light straight from each lamp, past the plain solids and past the models that are built: the same on the mean."""
    stage = build_stage(view.scene, "draft")
    still = view.light.around
    plain = Occluders(*_corners_of(still, [name for name in still.names if name != "the vehicle itself"]))
    x, y = view.light.on_vehicle.points.mean(axis=0)[:2]
    around = [(x + a * 0.05, y + b * 0.03, 1e-3) for a in range(-4, 5) for b in range(-2, 3)]
    for places in (view.light.on_vehicle, Receivers.of(around, [(0.0, 0.0, 1.0)] * len(around))):
        ours, built, open_ = (
            direct_light(places, emitters_of(view.scene), [each], Samples()) @ LUMINANCE_WEIGHTS
            for each in (plain, stage.vehicle_light.lit_set.occluders, NOTHING)
        )
        # Firs that are scattered, posts and rails throw shadows that plain solids do not: a tenth of the light.
        assert ours.mean() == pytest.approx(built.mean(), rel=0.10)
        assert (ours <= open_ * 1.001 + 1e-6).all()


def _corners_of(plain: Plain, names: list[str]) -> tuple[np.ndarray, np.ndarray]:
    kept = np.isin(plain.owner, [number for number, name in enumerate(plain.names) if name in names])
    corners = plain.corners[kept].reshape(-1, 3)
    return corners, np.arange(len(corners)).reshape(-1, 3)


def test_every_demo_scene_is_predicted() -> None:
    for demo in DEMOS:
        predictions = predict(read_scene(SCENES / f"{demo}.yaml"))
        assert predictions.findings
        assert all(np.isfinite(figure.value) or figure.quantity in ("far_limit", "depth_of_field", "lead_room")
                   for shot in predictions.shots for figure in shot.figures)  # fmt: skip
