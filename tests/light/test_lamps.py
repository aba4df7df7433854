"""Light on a point against closed forms and against brute-force sums."""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from previz.layout import AreaEmitter, emitters_of
from previz.light import Occluders, Receivers, Samples, ambient_radiance, direct_light, look_round
from previz.physics.colour import LUMINANCE
from previz.scene import read_scene

UP = np.array([0.0, 0.0, 1.0])
NOTHING = Occluders(np.zeros((0, 3)), np.zeros((0, 3), dtype=int))


def summed(corners: np.ndarray, point: np.ndarray, normal: np.ndarray) -> float:
    """Brute force over 1000 x 1000 patches of a rectangle of luminance 1."""
    step = (np.arange(1000) + 0.5) / 1000
    u, v = np.meshgrid(step, step)
    a, b = corners[1] - corners[0], corners[3] - corners[0]
    away = corners[0] + u[..., None] * a + v[..., None] * b - point
    square = np.einsum("ijk,ijk->ij", away, away)
    lit = np.cross(a, b) / np.linalg.norm(np.cross(a, b))
    leaves, lands = np.maximum(-(away @ lit), 0), np.maximum(away @ normal, 0)
    return float((leaves * lands / square**2).mean() * np.linalg.norm(np.cross(a, b)))


def panel(corners: np.ndarray) -> AreaEmitter:
    """The rectangle of luminance 1 whose corners are in that order, counter-clockwise seen from its lit side."""
    u, v = (corners[1] - corners[0]) / 2, (corners[3] - corners[0]) / 2
    across = np.cross(u, v)
    found = (corners.mean(axis=0), u, v, across / np.linalg.norm(across), np.ones(3))
    return AreaEmitter(*(tuple(each.tolist()) for each in found))


def on(corners: np.ndarray, point: np.ndarray, normal: np.ndarray) -> float:
    return float(direct_light(Receivers.of([point], [normal]), [panel(corners)], [NOTHING], Samples(panel=4096))[0, 0])


@pytest.mark.parametrize("normal", [[0, 0, 1], [0, 1, 0], [0.6, 0, 0.8], [-1, 0, 0]])
def test_a_rectangle_from_anywhere_also_half_under_the_horizon(normal: list[float]) -> None:
    corners = np.array([[-0.4, 0.1, 0.6], [-0.4, 0.7, 0.6], [0.5, 0.7, 0.6], [0.5, 0.1, 0.6]])
    point, facing = np.array([0.1, 0.2, 0.0]), np.array(normal, dtype=float)
    # The sum of a million patches is good to about 1e-4 where the horizon cuts through it; ours there is of 4096.
    assert on(corners, point, facing) == pytest.approx(summed(corners, point, facing), rel=3e-3)


def test_a_lamp_lights_only_what_it_faces() -> None:
    corners = np.array([[-0.4, 0.1, 0.6], [-0.4, 0.7, 0.6], [0.5, 0.7, 0.6], [0.5, 0.1, 0.6]])
    assert on(corners, np.zeros(3), UP) > 0
    assert on(corners[::-1], np.zeros(3), UP) == 0.0
    assert on(corners, np.zeros(3), -UP) == 0.0


#: Only what lights it counts here.
BARE = {
    "title": "Lamps",
    "scale": "1:50",
    "units": "mm",
    "set": {"table": {"width": 1000, "depth": 500}},
    "vehicle": {"body": "van", "path": [[0, 250], [1000, 250]], "speed": "1 m/s"},
    "cameras": {"c": {"sensor": "1-inch", "lens": "10 mm", "widest": "f/2", "nearest": "50 mm", "modes": ["1080p60"]}},
    "shots": [
        {"id": "s", "camera": "c", "focal_length": 10, "f_number": 4, "at": [500, -300, 50], "aim": [500, 250, 20],
         "focus": 400, "capture": {"rate": "60 fps"}, "duration": "0.5 s"}
    ],
}  # fmt: skip


def lit(folder: Path, light: dict[str, Any], points: Any, normals: Any) -> np.ndarray:
    """Illuminance of places (n,) by the scene's one lamp, nothing in the way. [lx]"""
    path = folder / "lamps.yaml"
    path.write_text(json.dumps({**BARE, "lights": [{"id": "lamp", **light}]}), encoding="utf-8")
    receivers, emitters = Receivers.of(points, normals), emitters_of(read_scene(path))
    sky = look_round(receivers, NOTHING, 64).sky_light(ambient_radiance(emitters))
    return np.asarray((direct_light(receivers, emitters, [NOTHING], Samples()) + sky) @ LUMINANCE)


def test_photometric_distance_law(tmp_path: Path) -> None:
    # CIE e-ILV 912: E = I cos(theta) / d^2: seen. 1000 lx at 1 m is 1000 cd; 2 m up and 2 m aside is 45 degrees.
    spot = {"spot": "120 deg", "at": [0, 0, 2000], "aim": [2000, 0, 0], "output": "1000 lx at 1 m"}
    expected = 1000 * math.cos(math.pi / 4) / 8
    assert lit(tmp_path, spot, [2, 0, 0], UP)[0] == pytest.approx(expected, rel=5e-5)  # from 0.05 mm up


@pytest.mark.parametrize("light", [
    {"panel": [300, 200], "at": [0, 0, 2000], "aim": [100, 0, 0], "output": "900 lx at 1.3 m"},
    {"spot": "40 deg", "at": [0, 0, 2000], "aim": [100, 0, 0], "output": "900 lx at 1.3 m"},
])  # fmt: skip
def test_a_lamp_gives_what_was_measured_on_its_axis(light: dict[str, Any], tmp_path: Path) -> None:
    axis = np.array([0.1, 0, -2.0])
    axis /= np.linalg.norm(axis)
    point = np.array([0, 0, 2.0]) + 1.3 * axis
    assert lit(tmp_path, light, point, -axis)[0] == pytest.approx(900, rel=1e-4)
    assert lit(tmp_path, {**light, "diffusion": "1 stop"}, point, -axis)[0] == pytest.approx(450, rel=1e-4)


@pytest.mark.parametrize("light", [
    {"panel": [300, 200], "at": [0, 0, 1000], "aim": [0, 0, 0], "output": "800 lm"},
    {"spot": "60 deg", "at": [0, 0, 1000], "aim": [0, 0, 0], "output": "800 lm"},
])  # fmt: skip
def test_all_light_of_a_lamp_lands_somewhere(light: dict[str, Any], tmp_path: Path) -> None:
    # Conservation: the flux through a dome of 5 m around the lamp is the lamp's output. A dome, not a floor, since a
    # Lambertian panel sends light almost level.
    rings = 60
    theta = (np.arange(rings) + 0.5) / rings * math.pi / 2
    edges = np.cos(np.arange(rings + 1) / rings * math.pi / 2)
    area = np.repeat(2 * math.pi * 25 * (edges[:-1] - edges[1:]) / 2, 2)
    theta, phi = np.repeat(theta, 2), np.tile([0.3, 1.2], rings)
    out = np.stack([np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), -np.cos(theta)], axis=1)
    # Two meridians of an oblong panel and 60 rings of a soft edge: half a percent.
    assert area @ lit(tmp_path, light, 5 * out + [0, 0, 1.0], -out) == pytest.approx(800, rel=0.005)


def test_ambient_on_a_table_a_wall_and_a_ceiling(tmp_path: Path) -> None:
    room = {"ambient": "200 lx"}
    wall = np.array([0.0, -1.0, 0.0])
    found = lit(tmp_path, room, np.ones((3, 3)), [UP, wall, -UP])
    assert found == pytest.approx([200, 100, 0], abs=1e-3)


def test_a_diffuser_sends_on_what_it_catches_less_its_loss(tmp_path: Path) -> None:
    # A frame that holds the whole beam, looked at from far: flux / pi on the axis of a Lambertian source, halved.
    spot = {"spot": "20 deg", "at": [0, 0, 3000], "aim": [0, 0, 0], "output": "600 lm"}
    frame = {"size": [400, 400], "distance": 500, "loss": "1 stop"}
    got = lit(tmp_path, {**spot, "diffuser": frame}, [0, 0, -20.0], UP)
    assert got[0] == pytest.approx(300 / math.pi / 22.5**2, rel=2e-3)
