"""Lamps, stands and cards on the set: drawn where they are, lit, and in nobody's light but a card's."""

import math

import numpy as np
import pytest
from set_scenes import scene

from previz.frames import Look, render_frames
from previz.frames.sensor import exposure_gain
from previz.layout import gear_of
from previz.physics.colour import LUMINANCE, white_rgb
from previz.physics.exposure import working_f_number
from previz.physics.photometry import flux_per_intensity
from previz.stage import build_stage

FAR = {"id": "far", "spot": "60 deg", "at": [200, -900, 200], "aim": [200, 150, 0], "output": "3000 lm"}
PARKED = {"body": "van", "speed": 0, "path": [[60, 60], [100, 60]]}


def shot(**keys):
    return {
        "id": "s", "camera": "c", "focal_length": "20 mm", "f_number": 8, "at": [200, -500, 60], "aim": [200, 150, 60],
        "focus": [200, 150, 60], "capture": {"rate": "24 fps", "iso": 100, "white_balance": "5600 K"},
        "duration": "0.1 s", **keys,
    }  # fmt: skip


def frame(made, stage, width=64):
    (only,) = render_frames(
        made, stage, made.shots[0], Look(size=(width, width * 9 // 16), views=4, frames=range(1), noise=False)
    )
    return only.linear


def staged(**keys):
    made = scene(**{"vehicle": PARKED, "ground": {"surface": "plain", "colour": "#101010"}, **keys})
    return made, build_stage(made, "draft", cache=False)


def test_a_lamp_in_the_picture_is_as_bright_as_its_light_says() -> None:
    """A Lambertian panel: L = flux / (pi A). Through the exposure law of ISO 2720 that the sensor goes by."""
    panel = {"id": "key", "panel": [60, 40], "at": [200, 250, 80], "aim": [200, -500, 60], "output": "2 lm"}
    made, stage = staged(lights=[panel], shots=[shot()])
    linear = frame(made, stage)
    stop = working_f_number(8, 0.020 / (0.65 - 0.020))
    luminance = (
        linear[linear.shape[0] // 2 - 1, linear.shape[1] // 2]
        / exposure_gain(1 / 48, stop, 100)
        @ (LUMINANCE * white_rgb(5600))
    )
    assert luminance == pytest.approx(2 / (math.pi * 0.06 * 0.04), rel=0.02)


@pytest.mark.parametrize(("held", "below"), [("above", False), ("table", True)])
def test_a_bare_bulb_in_the_picture_is_as_bright_as_its_light_says(held: str, below: bool) -> None:
    """A ball alike all round: L = flux / (4 pi) / (pi r^2). Its socket is where it is held."""
    bulb = {"id": "key", "bulb": "60 mm", "at": [200, 250, 80], "output": "2 lm", "held": held}
    made, stage = staged(lights=[bulb], shots=[shot()])
    socket = next(part for each in gear_of(made) for part in each.parts if part.what == "housing")
    assert bool(socket.centre[2] < 0.08) is below
    linear = frame(made, stage)
    stop = working_f_number(8, 0.020 / (0.65 - 0.020))
    seen = linear[int(linear.shape[0] * 0.40), linear.shape[1] // 2]
    luminance = seen / exposure_gain(1 / 48, stop, 100) @ (LUMINANCE * white_rgb(5600))
    assert luminance == pytest.approx(2 / (4 * math.pi) / (math.pi * 0.03**2), rel=0.03)


def test_bodies_and_stands_stand_in_no_light(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor does what is out of the picture change a pixel of it."""
    lights = [{**FAR, "at": [900, -100, 500]}, {"id": "room", "ambient": "30 lx"}]
    made, with_them = staged(lights=lights, shots=[shot()])
    assert {part.what for each in gear_of(made) for part in each.parts} == {"housing", "stand"}
    monkeypatch.setattr("previz.stage.build.build_gear", lambda scene: ())
    without = build_stage(made, "draft", cache=False)
    assert len(with_them.still) > len(without.still)
    assert np.array_equal(with_them.ground.light, without.ground.light)
    for one, other in zip(with_them.still, without.still, strict=False):
        assert np.array_equal(one.irradiance, other.irradiance)
    assert np.array_equal(frame(made, with_them), frame(made, without))


def at(stage, x, y):
    """Illuminance of the ground there, row 0 at its far edge. [lx]"""
    light = stage.ground.light
    rows, columns = light.shape[:2]
    return float(light[int((0.3 - y) / 0.3 * rows), int(x / 0.4 * columns)] @ LUMINANCE)


def test_a_flag_shades_and_a_bounce_card_lights_what_it_faces() -> None:
    """The card's light by its area and the inverse square: far off for its size, within a few per cent.

    A card of 40 mm at 150 mm over the ground leant so that it looks down at 45 degrees: E = L A cos cos / d2.
    """
    flag = {"id": "flag", "piece": "flag", "width": 300, "height": 150, "at": [200, 20]}
    _, open_ = staged(lights=[FAR])
    _, flagged = staged(lights=[FAR], dressing=[flag])
    assert at(open_, 0.2, 0.06) > 100 and at(flagged, 0.2, 0.06) < 0.02 * at(open_, 0.2, 0.06)
    card = {"id": "card", "piece": "bounce", "width": 40, "height": 40, "at": [200, 250, 150], "tilt": "-45 deg"}
    _, bounced = staged(lights=[FAR], dressing=[card])
    tilt = math.radians(-45)
    up = np.array([0, math.sin(tilt), math.cos(tilt)])
    out = np.array([0, -math.cos(tilt), math.sin(tilt)])
    middle = np.array([0.2, 0.25, 0.15]) + 0.02 * up + 5e-4 * out
    lamp = np.array([0.2, -0.9, 0.2])
    way = lamp - middle
    axis = np.array([0.2, 0.15, 0.0]) - lamp
    off = math.acos(-way @ axis / np.linalg.norm(way) / np.linalg.norm(axis))
    assert off < math.radians(25)  # within the even part of the beam
    intensity = 3000 / flux_per_intensity(math.radians(60))
    on_it = intensity * (way @ out) / np.linalg.norm(way) ** 3
    place = np.array([0.2, 0.15, 0.0])
    ray = place - middle
    expected = 0.85 * on_it / math.pi * 0.04**2 * (ray @ out) * -ray[2] / np.linalg.norm(ray) ** 4
    assert at(bounced, 0.2, 0.15) - at(open_, 0.2, 0.15) == pytest.approx(expected, rel=0.05)
