"""Lamps put out the light their makers state, in the right colour."""

import math
import warnings

import numpy as np
import pytest
from scipy import integrate

from previz.layout import emitters as lights
from previz.layout.emitters import Ambient, AreaEmitter, Lamp, SpotEmitter, emitters_of, light_rgb, rectangle_factor
from previz.light.direct import bulb_level
from previz.physics.colour import LUMINANCE, white_rgb
from previz.physics.photometry import spot_profile
from previz.scene import Ambient as WrittenAmbient
from previz.scene import Bulb, FileUnits, LightColour, Panel, Scene, Spot

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # colour-science warns about the optional packages it lacks
    import colour


@pytest.mark.parametrize("kelvin", [2000, 2700, 3200, 4300, 5600, 6500, 10000])
def test_white_agrees_with_colour_science(kelvin):
    xyz = colour.sd_to_XYZ(colour.sd_blackbody(kelvin, colour.SpectralShape(360, 780, 1)))
    truth = np.maximum(colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_XYZ_to_RGB @ xyz, 0)
    truth /= LUMINANCE @ truth
    # The fit's own error; 2 % of full white in any channel is below a just visible difference in a picture.
    assert white_rgb(kelvin) == pytest.approx(truth, rel=0.02, abs=0.02)


def test_a_gel_tints_but_does_not_dim():
    amber = light_rgb(LightColour(kelvin="5600 K", gel="#e87c40"))
    assert amber @ LUMINANCE == pytest.approx(1)
    assert amber[0] > amber[1] > amber[2]


def test_a_gel_that_lets_nothing_of_its_lamp_through_is_refused():
    no_blue = white_rgb(1500)[2] <= 0
    assert no_blue  # a flame gives none
    for lamp in ({"gel": "#000000"}, {"kelvin": "1500 K", "gel": "#0000ff"}):
        with pytest.raises(ValueError, match="no light of this lamp gets through"):
            LightColour(**lamp)
    assert light_rgb(LightColour(kelvin="5600 K", gel="#0000ff")) @ LUMINANCE == pytest.approx(1)


def emitters(*written):
    """The emitters of lights as a file would write them."""
    units = FileUnits(bare_length=0.001, scale=50)
    kinds = {"panel": Panel, "spot": Spot, "bulb": Bulb, "ambient": WrittenAmbient}

    lights = tuple(
        next(kinds[k] for k in kinds if k in light).model_validate({"id": "lamp", **light}, context=units)
        for light in written
    )
    nothing = dict.fromkeys(Scene.model_fields)
    return emitters_of(Scene.model_construct(**{**nothing, "dressing": (), "lights": lights}))


def test_a_bare_bulb_sends_its_lumens_alike_all_round():
    # I = flux / 4 pi, E = I / d^2 (CIE's definitions of the units): 806 lm are 64.14 cd, 256.6 lx half a metre off
    (bulb,) = emitters({"bulb": 60, "at": [0, 0, 500], "output": "806 lm", "colour": "2700 K"})
    assert np.array(bulb.intensity) @ LUMINANCE == pytest.approx(64.14, abs=0.005)
    places, normals = np.array([[0.0, 0.0, 0.0], [0.5, 0.0, 0.5]]), np.array([[0.0, 0.0, 1.0], [-1.0, 0.0, 0.0]])
    lux = bulb_level(places.astype(np.float32), normals.astype(np.float32), bulb) * 64.14
    assert lux == pytest.approx([256.6, 256.6], abs=0.05)
    (metered,) = emitters({"bulb": 60, "at": [0, 0, 500], "output": "256.6 lx at 500 mm", "diffusion": 1})
    assert np.array(metered.intensity) @ LUMINANCE == pytest.approx(64.14 / 2, abs=0.01)


PANEL = {"panel": [300, 200], "at": [0, 0, 500], "aim": [0, 400, 200], "colour": "6500 K"}
SPOT = {"spot": "30 deg", "at": [0, 0, 1000], "aim": [0, 0, 0], "colour": "6500 K"}


def luminance(rgb):
    return float(LUMINANCE @ np.array(rgb))


def test_a_panel_sends_out_its_flux():
    (panel,) = emitters({**PANEL, "output": "1200 lm"})
    assert isinstance(panel, AreaEmitter)
    assert luminance(panel.radiance) * math.pi * panel.area == pytest.approx(1200)
    assert panel.area == pytest.approx(0.06)


def test_a_panel_faces_its_aim_and_hangs_level():
    (panel,) = emitters({**PANEL, "output": "1200 lm"})
    assert panel.normal == pytest.approx((0, 0.8, -0.6))
    assert panel.half_u == pytest.approx((-0.15, 0, 0))
    assert np.cross(panel.half_u, panel.half_v) @ np.array(panel.normal) == pytest.approx(0.015)


def test_a_panel_measured_on_its_axis_gives_that_there():
    (panel,) = emitters({**PANEL, "output": "1500 lx at 0.3 m"})
    there = np.array(panel.centre) + 0.3 * np.array(panel.normal)
    level = rectangle_factor(there[None], -np.array([panel.normal]), panel)[0] * luminance(panel.radiance)
    assert level == pytest.approx(1500)


def test_diffusion_costs_its_stops():
    bare, dimmed = emitters({**PANEL, "output": "1200 lm"}, {**PANEL, "output": "1200 lm", "diffusion": "1.5 stop"})
    assert luminance(dimmed.radiance) / luminance(bare.radiance) == pytest.approx(2**-1.5)


def test_rectangle_factor_is_the_integral_over_the_rectangle():
    (panel,) = emitters({**PANEL, "output": "1200 lm"})
    point, normal = np.array([0.1, 0.35, 0.02]), np.array([0, -0.6, 0.8])

    def part(v, u):
        ray = np.array(panel.centre) + u * np.array(panel.half_u) + v * np.array(panel.half_v) - point
        far = np.linalg.norm(ray)
        return (ray @ normal) * -(ray @ np.array(panel.normal)) / far**4 * panel.area / 4

    truth, _ = integrate.dblquad(part, -1, 1, -1, 1, epsrel=1e-8)
    assert rectangle_factor(point[None], normal[None], panel)[0] == pytest.approx(truth, rel=1e-6)


def test_a_spot_sends_its_flux_into_its_beam():
    (spot,) = emitters({**SPOT, "output": "300 lm"})
    assert isinstance(spot, SpotEmitter)
    beam, _ = integrate.quad(
        lambda a: float(spot_profile(np.array(a), spot.angle)) * math.sin(a) * 2 * math.pi, 0, spot.angle / 2
    )
    assert luminance(spot.intensity) * beam == pytest.approx(300, rel=1e-4)


def test_a_spot_measured_on_its_axis():
    (spot,) = emitters({**SPOT, "output": "1500 lx at 2 m"})
    assert luminance(spot.intensity) == pytest.approx(6000)


def test_a_wide_diffuser_catches_the_whole_beam_and_a_small_one_its_share():
    written = {**SPOT, "output": "300 lm"}
    wide, small = emitters(
        {**written, "diffuser": {"size": [400, 400], "distance": 300, "loss": "1 stop"}},
        {**written, "diffuser": {"size": [40, 40], "distance": 300, "loss": "1 stop"}},
    )
    assert wide.centre == pytest.approx((0, 0, 0.7))
    assert luminance(wide.radiance) * math.pi * wide.area == pytest.approx(150, rel=2e-3)
    # Inside the even middle of the beam: intensity over distance squared, a little less towards the corners.
    (bare,) = emitters(written)
    on_frame = luminance(bare.intensity) * small.area / 0.3**2 / 2
    assert luminance(small.radiance) * math.pi * small.area == pytest.approx(on_frame, rel=0.01)


def test_ambient_is_what_an_open_table_gets():
    (sky,) = emitters({"ambient": "20 lx", "colour": "6500 K"})
    assert isinstance(sky, Ambient)
    assert luminance(sky.radiance) * math.pi == pytest.approx(20)


def test_a_beamed_lamp_sends_its_flux_forward():
    bulb = lights.bulb_of(Lamp((0, 0, 0), 0.001, 10.0, (1, 1, 1), (1, 0, 0)))
    beam, _ = integrate.quad(lambda a: math.cos(a) ** lights.BEAM_EXPONENT * math.sin(a), 0, math.pi / 2)
    assert luminance(bulb.intensity) * 2 * math.pi * beam == pytest.approx(10)
