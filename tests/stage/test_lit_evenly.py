"""Faces that lie open are lit evenly: nothing that lies on them, or joins them, darkens more of them than it hides."""

import numpy as np
import pytest
import trimesh
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


def test_the_foot_of_a_box_in_another_is_not_smudged(tmp_path):
    """A model of boxes that stand in one another, as makers join them: what is inside is dark, and not seen."""
    deck = trimesh.creation.box(bounds=[[0, 0, 0], [120, 50, 20]])
    cab = trimesh.creation.box(bounds=[[60, 5, 8], [100, 45, 60]])
    trimesh.util.concatenate([deck, cab]).export(tmp_path / "truck.stl")
    truck = {"id": "truck", "mesh": "truck.stl", "length": 120, "at": [200, 150], "colour": "#f0e010"}
    made = scene(folder=tmp_path, dressing=[truck], lights=[{"id": "room", "ambient": "500 lx"}])
    still = build_stage(made, quality="draft", cache=False).still

    def of_cab(low, high):
        def wanted(places, normals, colours):
            height = places[:, 2]
            inwards = np.abs(places[:, 1] - 0.15) < 0.0201
            return inwards & (np.abs(normals[:, 1]) > 0.95) & (height > low) & (height < high)

        return chosen(still, wanted)

    buried, seen = of_cab(0.0, 0.0195), of_cab(0.021, 0.061)
    assert len(buried) > 4
    assert buried.min() > 0.7 * np.median(seen)


def test_the_foot_of_a_backdrop_in_snow_is_lit_as_the_sheet_above_it():
    """Snow lies a little higher than the table there: a corner below it would see but its bright underside."""
    ground, backdrop = {"surface": "snow", "seed": 3}, {"distance": 290, "height": 300, "colour": "#9aa4ad"}
    lamp = {"id": "sun", "spot": "50 deg", "at": [200, -600, 700], "aim": [200, 200, 0], "output": "8 klm"}
    made = scene(lights=[lamp, {"id": "room", "ambient": "500 lx"}], ground=ground, backdrop=backdrop)
    lit = build_stage(made, quality="small", cache=False).still

    def light(low, high):
        def sheet(places, normals, _):
            up, on_it = places[:, 2], (abs(places[:, 1] - 0.29) < 0.004) & (normals[:, 1] < -0.9)
            return on_it & (up >= low) & (up < high) & (places[:, 0] > 0.02) & (places[:, 0] < 0.38)

        return chosen(lit, sheet)

    foot, above = light(-0.001, 0.001), light(0.015, 0.045)
    assert len(foot) > 5 and len(above) > 5
    assert foot.min() > 0.85 * above.min() and foot.max() < 1.15 * above.max()
