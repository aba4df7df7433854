"""Faces that lie open are lit evenly: nothing that lies on them, or joins them, darkens more of them than it hides."""

import numpy as np
import pytest
from set_scenes import scene

from previz.stage import build_stage

BUS = {"id": "bus", "piece": "parked", "body": "bus", "colour": "#f0e010", "length": 140, "at": [130, 200]}
HOUSE = {"id": "house", "piece": "building", "at": [300, 220], "width": 120, "floors": 1, "roof": "gable", "seed": 3}


@pytest.fixture(scope="module")
def still():
    """Of a bus and a house in the open under an even sky."""
    made = scene(dressing=[BUS, HOUSE], lights=[{"id": "room", "ambient": "500 lx"}], scale=79)
    return build_stage(made, quality="small", cache=False).still


def chosen(still, wanted):
    """Light on the corners that are wanted by place, normal and colour, wherever they are. (n,) [lx]"""
    found = []
    for lit in still:
        mesh = lit.mesh
        if mesh.image is None:
            found.append(lit.irradiance[wanted(mesh.vertices, mesh.normals, mesh.colours), 1])
    return np.concatenate(found)


def test_a_flank_is_not_smudged_about_what_lies_on_it(still):
    def flank(places, normals, colours):
        yellow = (colours[:, 0] > 0.4) & (colours[:, 2] < 0.1)
        # Away from the roof's bend, and from arches and skirt, where the ground is dark below the bus.
        return yellow & (normals[:, 1] < -0.95) & (places[:, 2] > 0.009) & (places[:, 2] < 0.035)

    light = chosen(still, flank)
    assert len(light) > 100
    # A few in a hundred lie beside a wheel.
    assert np.mean(light < 0.5 * np.median(light)) < 0.04


def test_a_roof_is_lit_evenly(still):
    def tiles(places, normals, colours):
        # One slope, away from the chimney and its ends.
        dark = colours.max(axis=1) < 0.3
        return dark & (abs(places[:, 0] - 0.3) < 0.055) & (normals[:, 1] < -0.3) & (normals[:, 2] > 0.6)

    light = chosen(still, tiles)
    assert len(light) > 200
    assert np.percentile(light, 5) > 0.8 * np.median(light)
