"""Light on a point against closed forms and against brute-force sums."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, read

from previz.layout import lamps
from previz.scene import Scene

UP = np.array([0.0, 0.0, 1.0])


def disc(radius: float, height: float) -> np.ndarray:
    """A 720-sided disc above the origin, lit downwards."""
    turn = -np.linspace(0, 2 * math.pi, 720, endpoint=False)
    return np.stack([radius * np.cos(turn), radius * np.sin(turn), np.full(720, height)], axis=1)


@pytest.mark.parametrize("over,expected", [(1, 1.570796), (2, 0.628319), (5, 0.120830), (10, 0.031105)])
def test_a_lambertian_disc_on_its_axis(over: float, expected: float) -> None:
    # Closed form pi R^2 / (R^2 + h^2), integrated numerically too; the surface value pi L was seen in an
    # article. A 720-gon has 1.3e-5 less area than its disc.
    assert lamps.rectangle_illuminance(disc(1.0, over), np.zeros(3), UP) == pytest.approx(expected, rel=3e-5)


def test_a_disc_taken_for_a_point() -> None:
    # By hand: 4 % too much at five radii, 1 % at ten. I = L pi R^2 on the axis.
    for over, percent in ((5, 4.00), (10, 1.00)):
        point = lamps.point_illuminance(math.pi, np.array([0, 0, float(over)]), np.zeros(3), UP)
        area = lamps.rectangle_illuminance(disc(1.0, over), np.zeros(3), UP)
        assert 100 * (point / area - 1) == pytest.approx(percent, abs=0.01)


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


@pytest.mark.parametrize("normal", [[0, 0, 1], [0, 1, 0], [0.6, 0, 0.8], [-1, 0, 0]])
def test_a_rectangle_from_anywhere_also_half_under_the_horizon(normal: list[float]) -> None:
    corners = np.array([[-0.4, 0.1, 0.6], [-0.4, 0.7, 0.6], [0.5, 0.7, 0.8], [0.5, 0.1, 0.8]])
    point, facing = np.array([0.1, 0.2, 0.0]), np.array(normal, dtype=float)
    # The sum of a million patches is good to about 1e-4 where the horizon cuts through it.
    assert lamps.rectangle_illuminance(corners, point, facing) == pytest.approx(
        summed(corners, point, facing), rel=3e-4
    )


def test_a_lamp_lights_only_what_it_faces() -> None:
    corners = disc(1.0, 1.0)
    assert lamps.rectangle_illuminance(corners[::-1], np.zeros(3), UP) == 0.0
    assert lamps.rectangle_illuminance(corners, np.zeros(3), -UP) == 0.0
    assert lamps.point_illuminance(100.0, np.array([0, 0, 1.0]), np.zeros(3), -UP) == 0.0


def set_with(light: dict[str, Any], folder: Path) -> Scene:
    return read(broken(("lights", [{"id": "lamp", **light}])), folder)


def lit(tmp_path: Path, light: dict[str, Any], point: list[float], normal: np.ndarray) -> float:
    scene = set_with(light, tmp_path)
    return lamps.illuminance(scene, np.array(point, dtype=float), normal)["lamp"]


def test_photometric_distance_law(tmp_path: Path) -> None:
    # CIE e-ILV 912: E = I cos(theta) / d^2: seen. 1000 lx at 1 m is 1000 cd; 2 m up and 2 m aside is 45 degrees.
    spot = {"spot": "120 deg", "at": [0, 0, 2000], "aim": [2000, 0, 0], "output": "1000 lx at 1 m"}
    expected = 1000 * math.cos(math.pi / 4) / 8
    assert lit(tmp_path, spot, [2, 0, 0], UP) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("light", [
    {"panel": [300, 200], "at": [0, 0, 2000], "aim": [100, 0, 0], "output": "900 lx at 1.3 m"},
    {"spot": "40 deg", "at": [0, 0, 2000], "aim": [100, 0, 0], "output": "900 lx at 1.3 m"},
])  # fmt: skip
def test_a_lamp_gives_what_was_measured_on_its_axis(light: dict[str, Any], tmp_path: Path) -> None:
    axis = np.array([0.1, 0, -2.0])
    axis /= np.linalg.norm(axis)
    point = np.array([0, 0, 2.0]) + 1.3 * axis
    assert lit(tmp_path, light, list(point), -axis) == pytest.approx(900, rel=1e-9)
    assert lit(tmp_path, {**light, "diffusion": "1 stop"}, list(point), -axis) == pytest.approx(450, rel=1e-9)


@pytest.mark.parametrize("light", [
    {"panel": [300, 200], "at": [0, 0, 1000], "aim": [0, 0, 0], "output": "800 lm"},
    {"spot": "60 deg", "at": [0, 0, 1000], "aim": [0, 0, 0], "output": "800 lm"},
])  # fmt: skip
def test_all_light_of_a_lamp_lands_somewhere(light: dict[str, Any], tmp_path: Path) -> None:
    # Conservation: the flux through a dome of 5 m around the lamp is the lamp's output. A dome, not a floor, since a
    # Lambertian panel sends light almost level.
    scene, total, rings = set_with(light, tmp_path), 0.0, 60
    for i in range(rings):
        theta = (i + 0.5) / rings * math.pi / 2
        area = 2 * math.pi * 25 * (math.cos(i / rings * math.pi / 2) - math.cos((i + 1) / rings * math.pi / 2))
        for phi in (0.3, 1.2):
            out = np.array([math.sin(theta) * math.cos(phi), math.sin(theta) * math.sin(phi), -math.cos(theta)])
            total += area / 2 * lamps.illuminance(scene, 5 * out + np.array([0, 0, 1.0]), -out)["lamp"]
    # Two meridians of an oblong panel and 60 rings of a soft edge: half a percent.
    assert total == pytest.approx(800, rel=0.005)


def test_ambient_on_a_table_a_wall_and_a_ceiling(tmp_path: Path) -> None:
    room = {"ambient": "200 lx"}
    wall = np.array([0.0, -1.0, 0.0])
    assert [lit(tmp_path, room, [1, 1, 0], normal) for normal in (UP, wall, -UP)] == pytest.approx([200, 100, 0])


def test_a_diffuser_sends_on_what_it_catches_less_its_loss(tmp_path: Path) -> None:
    # A frame that holds the whole beam, looked at from far: flux / pi on the axis of a Lambertian source, halved.
    spot = {"spot": "20 deg", "at": [0, 0, 3000], "aim": [0, 0, 0], "output": "600 lm"}
    frame = {"size": [400, 400], "distance": 500, "loss": "1 stop"}
    got = lit(tmp_path, {**spot, "diffuser": frame}, [0, 0, -20.0], UP)
    assert got == pytest.approx(300 / math.pi / 22.5**2, rel=2e-3)
