"""The launch ramp as built: where layout says it is, in the light, and counted when a set is kept."""

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from test_build import SET

sys.path.insert(0, str(Path(__file__).parent))

from previz.files import store
from previz.layout import ramp_of, vehicle_on, vehicle_path
from previz.mesh import Mesh, joined
from previz.physics.colour import LUMINANCE
from previz.scene import FileUnits, Scene
from previz.stage import built
from previz.stage.build import build_stage
from previz.stage.pieces.ramp import build_ramp

RAMP = {"height": 60, "length": 200, "foot_radius": 60, "foot": 320}


def scene(launch: dict[str, Any] | None = None, **ramp: Any) -> Scene:
    """A van of 110 mm let go towards +x along y = 100; the ramp's foot is at x = 320, the lamp stands in front."""
    vehicle = {"body": "van", "path": [[0, 100], [600, 100]], "launch": {"ramp": {**RAMP, **ramp}, **(launch or {})}}
    table = {"table": {**SET["set"]["table"], "width": 600}}
    written = {**SET, "set": {**SET["set"], **table}, "dressing": [], "vehicle": vehicle}
    return Scene.model_validate(written, context=FileUnits(bare_length=0.001, scale=50))


def whole(made: Scene) -> Mesh:
    return joined(build_ramp(made))


def test_it_is_built_where_layout_says() -> None:
    made = scene()
    ramp, points = ramp_of(made), whole(made).vertices
    low, high = ramp.footprint.min(axis=0), ramp.footprint.max(axis=0)
    assert points[:, :2].min(axis=0) == pytest.approx(low, abs=1e-9)
    assert points[:, :2].max(axis=0) == pytest.approx(high, abs=1e-9)
    assert (points[:, 2].min(), points[:, 2].max()) == pytest.approx((0.0, float(ramp.line[0, 1])), abs=1e-9)


@pytest.mark.parametrize("ramp", [{}, {"foot_radius": 0}, {"support": "none"}, {"lip": 2}, {"lip": 6}])
def test_it_is_made_of_closed_bodies_that_face_outwards(ramp: dict[str, Any]) -> None:
    parts = build_ramp(scene(**ramp))
    assert len(parts) == (1 if ramp.get("support") == "none" else 2)
    for part in parts:
        body = trimesh.Trimesh(part.vertices, part.faces)
        assert body.is_watertight and body.volume > 0
        assert (np.einsum("ij,ij->i", body.vertex_normals, body.vertices - body.centroid) != 0).all()


def test_the_sheet_s_volume_is_its_length_width_and_thickness() -> None:
    made = scene(support="none", foot_radius=0)
    ramp = ramp_of(made)
    (sheet,) = build_ramp(made)
    # Its cross-section is cut upright, so thickness is measured upright, less the taper at the foot.
    taper = 0.003**2 / 2 / (0.060 / ramp.length * ramp.line[0, 1] / 0.060)
    expected = ramp.width * (0.003 * ramp.length - taper)
    assert trimesh.Trimesh(sheet.vertices, sheet.faces).volume == pytest.approx(expected, rel=0.01)


def test_a_driven_vehicle_has_none() -> None:
    driven = {**SET, "dressing": [], "vehicle": {"body": "van", "path": [[0, 100], [400, 100]], "speed": "1 m/s"}}
    assert build_ramp(Scene.model_validate(driven, context=FileUnits(bare_length=0.001, scale=50))) == ()


# --- in the light ---


@pytest.fixture(scope="module")
def stage():
    return build_stage(scene(), "draft", cache=False)


def ground_light(stage, x: float, y: float) -> float:
    light = stage.ground.light
    row = int((0.300 - y / 1000) / 0.300 * light.shape[0])
    return float(light[row, int(x / 600 * light.shape[1])] @ LUMINANCE)


def test_under_it_and_behind_it_the_ground_is_dark(stage) -> None:
    bare = build_stage(scene(foot=-3000), "draft", cache=False)  # its ramp is far off the table
    assert ground_light(stage, 240, 100) < 0.35 * ground_light(bare, 240, 100)
    # The lamp stands 800 mm in front and 700 mm up, so that the block, 80 mm high, shades some 90 mm behind it.
    assert ground_light(stage, 105, 165) < 0.5 * ground_light(bare, 105, 165)
    assert ground_light(stage, 500, 100) == pytest.approx(ground_light(bare, 500, 100), rel=0.05)


def test_its_upper_side_is_lit_as_the_open_ground_is(stage) -> None:
    """Leaning 17 degrees towards +x, across the lamp's way, it gets what level ground gets but for a few per cent."""
    lights = np.concatenate([lit.irradiance[lit.mesh.normals[:, 2] > 0.9] for lit in stage.still]) @ LUMINANCE
    assert np.median(lights) == pytest.approx(ground_light(stage, 500, 100), rel=0.15)


def test_stations_on_the_ramp_have_the_vehicle_s_light(stage) -> None:
    on_ramp, flat = stage.stations([-0.105, 0.140])
    normals = np.concatenate([mesh.normals for mesh in stage.vehicle.body])
    right, roof, below = normals[:, 1] < -0.9, normals[:, 2] > 0.9, normals[:, 2] < -0.9
    for station in (on_ramp, flat):
        assert np.isfinite(station.body).all() and (station.body >= 0).all()
    # Towards the lamp it is as bright on the ramp as on the flat, and so is its roof.
    for side in (right, roof):
        here, there = (np.median(station.body[: len(normals)][side] @ LUMINANCE) for station in (on_ramp, flat))
        assert here == pytest.approx(there, rel=0.15)
    # Below it the sheet, of 0.3 reflectance or so, throws back more than the grey ground of 0.2.
    here, there = (np.median(station.body[: len(normals)][below] @ LUMINANCE) for station in (on_ramp, flat))
    assert 0.7 * there < here < 3 * there


def test_the_vehicle_s_shadow_lies_on_level_ground_below_it(stage) -> None:
    made, distance = scene(), -0.105
    raised = vehicle_on(vehicle_path(made), distance).position[2]
    assert raised > 0.025

    def middle(station) -> float:
        """How far behind the vehicle what the lamp does not reach lies, of what is outside the ramp's own shade."""
        lost = 1 - station.shadow @ LUMINANCE
        _, _, y0, y1 = stage.shadow_extent
        across = y1 - (np.arange(len(lost)) + 0.5) / len(lost) * (y1 - y0)
        dark = lost > 0.5
        assert dark.any()
        return float((across[:, None] * dark).sum() / dark.sum())

    on_ramp, flat = (middle(station) for station in stage.stations([distance, 0.140]))
    # The lamp is 700 mm up and 800 mm in front: what is raised by h throws its shadow 0.8 / 0.7 h further behind.
    assert on_ramp - flat == pytest.approx(raised * 0.8 / 0.7, rel=0.35)


# --- kept ---


@pytest.fixture
def builds(tmp_path, monkeypatch):
    monkeypatch.setenv(store.FOLDER_VARIABLE, str(tmp_path / "cache"))
    done: list[int] = []
    real = built._build_set

    def counted(*asked):
        done.append(1)
        return real(*asked)

    monkeypatch.setattr(built, "_build_set", counted)
    return done


@pytest.mark.parametrize(
    "ramp", [{"height": 70}, {"foot": 330}, {"width": 90}, {"support": "none"}, {"colour": "#203040"}, {"lip": 1}]
)
def test_another_ramp_is_another_set(builds, ramp) -> None:
    keys = {built.built_set(each, cache=True).key for each in (scene(), scene(**ramp))}
    assert len(builds) == len(keys) == 2


def test_losses_are_nothing_to_the_set(builds) -> None:
    runs = [{"height": 60, "marks": [50, 250], "time": "0.2 s"}]
    for launch in ({}, {"rolling": "4 %"}, {"wheel_share": "12 %"}, {"timed_runs": runs}):
        built.built_set(scene(launch), cache=True)
    assert builds == [1]
