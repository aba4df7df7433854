"""Pieces where they say they stand, on the ground, as large as they are; lamps where they hang."""

import math
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "stage"))
from set_scenes import STRAIGHT, scene

from previz.layout import Lamp, Solid, ground_heights, post_lamps, road_curve, solids_of
from previz.physics.paths import along_curve

BIG = {"table": {"width": 1200, "depth": 600}, "road": {**STRAIGHT, "centre": [[-50, 300], [1250, 300]]}}


def standing(*entries: dict, **keys: object) -> tuple[Solid, ...]:
    return solids_of(scene(dressing=list(entries), **{**BIG, **keys}))


def middle(solid: Solid) -> np.ndarray:
    return (solid.footprint.min(axis=0) + solid.footprint.max(axis=0)) / 2


def test_a_piece_stands_where_and_as_turned_as_it_says() -> None:
    (outline,) = standing({"id": "box", "piece": "container", "at": [420, 520], "turn": "30 deg"})
    assert outline.id == "box" and outline.kind == "container"
    assert middle(outline) == pytest.approx([0.42, 0.52], abs=1e-12)
    assert outline.base == pytest.approx(0)
    assert outline.top == pytest.approx(2.591 / 50)
    long, wide = 6.058 / 50, 2.438 / 50
    extent = np.ptp(outline.footprint, axis=0)
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    assert extent == pytest.approx([c * long + s * wide, s * long + c * wide], rel=1e-9)


def test_copies_move_on_by_their_step() -> None:
    row = {"id": "row", "piece": "cone", "at": [100, 500], "copies": 4, "step": [60, -10, 0]}
    made = standing(row)
    assert [solid.name for solid in made] == ["row", "row/2", "row/3", "row/4"]
    places = np.array([middle(solid) for solid in made])
    assert np.diff(places, axis=0) == pytest.approx(np.tile([0.06, -0.01], (3, 1)), abs=1e-6)


def test_a_row_along_the_road_is_evenly_spaced_beside_it_and_turned_with_it() -> None:
    centre = [[-50, 200], [400, 260], [800, 380], [1250, 300]]
    lamps = {"id": "lamps", "piece": "sign", "along": "road", "every": 140, "first": 80, "offset": 110}
    made = scene(dressing=[lamps], **{**BIG, "road": {**STRAIGHT, "centre": centre}})
    curve = road_curve(made)
    places = []
    for solid in solids_of(made):
        places.append(solid.footprint.mean(axis=0))
    found = along_curve(curve, np.array(places))
    assert found.left == pytest.approx(np.full(len(places), 0.110), abs=0.003)
    assert np.diff(found.along) == pytest.approx(np.full(len(places) - 1, 0.140), abs=0.004)
    assert found.along[0] == pytest.approx(0.080, abs=0.003)
    # The last 50 mm of the road are off the table, and a sign 110 mm left of a road that falls by 10 deg 20 mm more.
    assert len(places) == math.floor((curve.length - 0.07 - 0.08) / 0.14) + 1


def test_what_would_stand_beside_the_table_is_left_out_of_a_row() -> None:
    row = {"id": "row", "piece": "cone", "along": "road", "every": 100, "offset": 120}
    places = np.array([middle(solid) for solid in standing(row)])
    # The road begins 50 mm before the table and ends 50 mm after it: places at -50, 50, 150, ... 1250.
    assert places[:, 0] == pytest.approx(np.arange(0.05, 1.2, 0.1), abs=1e-3)


def test_pieces_stand_on_the_relief() -> None:
    made = scene(
        dressing=[
            {"id": "tree", "piece": "conifer", "at": [600, 560]},
            {"id": "up", "piece": "cone", "at": [600, 540, 30]},
        ],
        ground={"surface": "snow", "relief": 50},
        **BIG,
    )
    tree, up = solids_of(made)
    height = ground_heights(made).height([[0.6, 0.56], [0.6, 0.54]])
    assert height.min() > 0.005
    assert tree.base == pytest.approx(height[0], abs=1e-3)
    assert up.base == pytest.approx(height[1] + 0.030, abs=1e-4)


def test_beyond_the_table_no_relief_lifts_what_stands_there() -> None:
    """The far edge is 600 mm from the front one: 5 mm past it heights are as the file has them, over the table top."""
    board = {"id": "off", "piece": "bounce", "width": 300, "height": 200}
    relief = {"surface": "snow", "relief": 50}
    made = scene(dressing=[{**board, "at": [600, 605, 0]}], ground=relief, **BIG)
    (off,) = solids_of(made)
    assert off.at[2] == off.base == 0.0
    at_the_edge, past_it, before = ground_heights(made).height([[0.6, 0.6], [0.6, 0.605], [0.6, -0.3]])
    assert at_the_edge > 0.01
    assert past_it == before == 0.0


def test_lamps_move_with_their_posts() -> None:
    post = {"id": "p", "piece": "lamp_post", "at": [300, 500], "lit": "20 lm"}

    def lamp(entry: dict) -> Lamp:
        ((name, found),) = post_lamps(scene(dressing=[entry], **BIG))
        assert name == "p"
        return found

    plain, turned = lamp(post), lamp({**post, "turn": "90 deg", "at": [500, 450]})
    reach = np.array(plain.centre) - [0.3, 0.5, 0]
    assert reach[0] > 0.02  # the arm points along +x of the piece
    assert np.array(turned.centre) == pytest.approx([0.5 - reach[1], 0.45 + reach[0], reach[2]])
    assert turned.flux == plain.flux == pytest.approx(20)
