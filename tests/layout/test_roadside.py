"""Kerbs, pavements and puddles: one answer to how high a place is, for pieces, solids and checks."""

import copy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from previz.layout import (
    MARGIN,
    clearance,
    ground_heights,
    half_road,
    in_a_kerb,
    kerb_solids,
    off_a_pavement,
    on_a_lane,
    over_a_kerb,
    pieces_of,
    puddles_of,
    road_lines,
    roadside_of,
    tyre_track,
)
from previz.paper.surface import road_edges
from previz.scene import FileUnits, Road, Scene, read_scene

BASE: dict[str, Any] = {
    "title": "Street",
    "scale": "1:50",
    "units": "mm",
    "set": {
        "table": {"width": 900, "depth": 500},
        "road": {"lane": 60, "centre": [[-50, 200], [300, 220], [600, 190], [950, 210]], "pavement": "left",
                 "kerb": "both"},
    },
    "vehicle": {"body": "van", "path": "road", "speed": "0.5 m/s"},
    "lights": [{"id": "room", "ambient": "900 lx"}],
    "cameras": {"c": {"sensor": "1-inch", "lens": "8.8-36.8 mm", "widest": "f/1.8", "nearest": 50,
                      "modes": ["1080p60"]}},
    "shots": [{"id": "s", "camera": "c", "focal_length": 20, "f_number": 5.6, "at": [450, -150, 45],
               "aim": "vehicle", "focus": "vehicle", "capture": {"rate": "24 fps"}}],
}  # fmt: skip


def scene(**keys: Any) -> Scene:
    data = copy.deepcopy(BASE)
    for key, value in keys.items():
        part = data["set"] if key in ("road", "ground", "backdrop") else data
        part[key] = {**part.get(key, {}), **value} if isinstance(value, dict) else value
    return Scene.model_validate(data, context=FileUnits(0.001, 50.0))


def test_a_kerb_is_as_high_as_a_real_one_over_the_scale() -> None:
    # 125 mm in Britain, from memory; US barrier kerbs 6 in (152 mm), from memory; at most 4 in (102 mm) on fast roads,
    # US Army SDDC-TEA curb tutorial, seen. At 1:50 some 2 to 3 mm.
    (left, right) = roadside_of(scene()).strips
    assert left.height == right.height == pytest.approx(0.0025)
    assert left.paved and not right.paved
    assert left.outer - left.face == pytest.approx(2.0 / 50)  # Manual for Streets (2007): 2 m, from memory


def test_heights_agree_with_the_shapes_on_paper_at_random_places() -> None:
    here = scene()
    kerbs, pavements = road_edges(here)
    raised = shapely.union_all([*kerbs, *pavements])
    places = np.random.default_rng(7).uniform((0, 0), (0.9, 0.5), (4000, 2))
    heights = ground_heights(here).height(places)
    assert heights.max() == ground_heights(here).highest
    edge = shapely.distance(raised.boundary, shapely.points(places)) < 0.0005
    inside = shapely.contains_xy(raised, places)
    assert 0.05 < inside.mean() < 0.3
    assert (heights[~edge & inside] == pytest.approx(0.0025)) and not heights[~edge & ~inside].any()


def test_the_solids_that_are_met_are_those_very_shapes() -> None:
    here = scene()
    kerbs, pavements = road_edges(here)
    raised = shapely.union_all([*kerbs, *pavements])
    solids = shapely.union_all([shapely.Polygon(each.footprint) for each in kerb_solids(here)])
    assert shapely.symmetric_difference(raised, solids).area < 0.01 * raised.area
    assert [each.top for each in kerb_solids(here)] == pytest.approx([0.0025] * len(kerb_solids(here)))


def test_what_stands_on_a_pavement_stands_at_its_height() -> None:
    off = half_road(scene().set.road, 50.0) + 0.020  # type: ignore[arg-type]
    row = {"id": "lamps", "piece": "lamp_post", "along": "road", "every": 200, "first": 100}
    on, beside = (pieces_of(scene(dressing=[{**row, "offset": side * off * 1000}])) for side in (1, -1))
    assert [solid.base for solid in on] == [pytest.approx(0.0025)] * len(on) and on
    assert [solid.base for solid in beside] == [0.0] * len(beside) and beside


def test_wheels_keep_off_the_kerb_until_the_way_leads_over_it() -> None:
    room, which = over_a_kerb(scene(road={"centre": [[-50, 200], [950, 200]]}))
    track = tyre_track(scene())
    # On a straight road a sum by hand: from the lane's middle to the kerb's face, less half the wheels.
    assert room == pytest.approx(0.030 + 0.40 / 50 - (track.apart + track.width) / 2, abs=2e-5)
    assert which is not None
    for seed in range(6):
        by = float(np.random.default_rng(seed).uniform(1.0, 20.0))
        moved = scene(road={"centre": [[-50, 200], [950, 200]]}, vehicle={"offset": -(room * 1000 + by)})
        assert over_a_kerb(moved)[0] == pytest.approx(-by / 1000, abs=5e-5)


@pytest.mark.parametrize("seed", range(4))
def test_puddles_lie_level_apart_and_off_the_pavement(seed: int) -> None:
    wet = {"surface": "mud", "relief": 20, "seed": seed, "puddles": {"count": 12, "seed": seed, "size": [8, 40]}}
    here = scene(ground=wet)
    found = puddles_of(here)
    assert 4 <= len(found) <= 12 and found == puddles_of(here)
    heights = ground_heights(here)
    for puddle in found:
        assert np.abs(heights.at(puddle.outline)).max() < 0.0003
        assert heights.roadside.height([puddle.at])[0] == 0
        # `inside` and `outline` are one shape: a little in from each corner is in, a little out is out.
        for share, sign in ((0.98, 1), (1.02, -1)):
            x, y = (np.array(puddle.at) + share * (puddle.outline - puddle.at)).T
            assert (np.sign(puddle.inside(x, y)) == sign).all()
    shapes = [shapely.Polygon(puddle.outline) for puddle in found]
    assert all(not one.intersects(two) for k, one in enumerate(shapes) for two in shapes[k + 1 :])


def test_demos_without_kerbs_are_as_level_as_they_were() -> None:
    quay = read_scene(Path("scenes/quay_lorry.yaml"))
    assert roadside_of(quay).strips == () and kerb_solids(quay) == () and puddles_of(quay) == ()


def test_what_stands_in_a_kerb_or_on_a_lane_is_sent_off_both() -> None:
    """At random places across a road: no move out of a kerb leads on to a lane, and none off a lane into a kerb."""
    rng, told = np.random.default_rng(3), [0, 0]

    def stands(place: np.ndarray, turn: float) -> Scene:
        piece = {"id": "it", "piece": "container", "scale": "1:87", "at": place.tolist(), "turn": f"{turn} deg"}
        aside = {"scale": "1:160", "path": [[-50, 20], [950, 20]]}
        return scene(road={"centre": [[-50, 200], [950, 200]]}, dressing=[piece], vehicle=aside)

    for _ in range(30):
        place, turn = rng.uniform((300, 90), (600, 330)), float(rng.uniform(0, 360))
        here = stands(place, turn)
        for touch in in_a_kerb(here):
            assert not touch.mend.any() or not list(on_a_lane(stands(place + 1000 * touch.mend, turn)))
            told[0] += bool(touch.mend.any())
        for touch in on_a_lane(here):
            after = stands(place + 1000 * touch.mend, turn)
            assert not list(on_a_lane(after)) and not list(in_a_kerb(after))
            told[1] += 1
    assert min(told) > 3


@pytest.mark.parametrize("seed", range(6))
def test_what_reaches_past_the_edge_of_its_pavement_is_found_and_moved_on_to_it(seed: int) -> None:
    # By hand: a pavement of 40 mm from 8 mm (0.4 m at 1:50) past the lanes of 60 mm, a container 2.438 m wide at 1:87.
    rng = np.random.default_rng(seed)
    half, first, last = 2.438 / 87 / 2, 0.268, 0.308
    y = float(rng.uniform(first, last))
    by = max(first - (y - half), y + half - last, 0.0)

    def stands(y: float) -> Scene:
        piece = {"id": "it", "piece": "container", "scale": "1:87", "at": [450, 1000 * y]}
        return scene(road={"centre": [[-50, 200], [950, 200]]}, dressing=[piece])

    found = list(off_a_pavement(stands(y)))
    assert [touch.by for touch in found] == ([pytest.approx(by, abs=2e-5)] if by > 0.0005 else [])
    for touch in found:
        assert touch.mend[0] == pytest.approx(0, abs=1e-9)
        assert not list(off_a_pavement(stands(y + float(touch.mend[1]))))


def test_a_vehicle_of_its_own_scale_wants_room_at_that_scale() -> None:
    """What leaves it less is in its way, what leaves it more may be on another's lane: nothing is both or neither."""
    kinds = set()
    for y in np.arange(180.0, 210.0, 1.0).tolist():
        here = scene(dressing=[{"id": "it", "piece": "stone", "size": 10, "at": [450, y]}], vehicle={"scale": "1:25"})
        (it,) = pieces_of(here)
        kinds.add((clearance(here, it) < MARGIN / 25, bool(list(on_a_lane(here)))))
    assert (True, True) not in kinds and (True, False) in kinds


@pytest.mark.parametrize(("surface", "lines"), [("asphalt", 3), ("concrete", 3), ("gravel", 0), ("mud", 0)])
def test_a_road_that_is_not_paved_has_lines_only_where_they_are_asked_for(surface: str, lines: int) -> None:
    road = Road.model_validate({"centre": [["0 m", "0 m"], ["1 m", "0 m"]], "lane": "60 mm", "surface": surface})
    assert len(road_lines(road, 50)) == lines
    assert len(road_lines(road.model_copy(update={"edges": True, "markings": "solid"}), 50)) == 3
    assert len(road_lines(road.model_copy(update={"edges": False, "markings": "none"}), 50)) == 0
