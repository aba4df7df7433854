"""Real sizes, safe areas and the usual precautions."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, found, looked, read

from previz.layout import SIGN_WIDE, floors_of, markings
from previz.predictions import Change, Finding, Verdict, predict
from previz.predictions.cautions import cautions_for, making_cautions
from previz.predictions.checks.framing import ACTION_SAFE, TITLE_SAFE, action_safe
from previz.predictions.checks.sizes import FLOOR, HEIGHTS, LANE, check_sizes
from previz.predictions.findings import Way
from previz.scene import FENCE_HEIGHTS, PIECES, VEHICLE_SIZES, Building, Scene, read_scene, rewritten
from previz.stage.vehicles.bodies import build_vehicle

# --- what is real must pass ---


@pytest.mark.parametrize("lane", [2.7, 3.048, 3.6, 3.65, 3.6576])
def test_lanes_of_the_standards_pass(lane: float) -> None:
    # FHWA-SA-07-011 ch. 3 table 3: 2.7 to 3.6 m and 9 to 12 ft; 3.65 m, Highway Engineering p. 154: both seen
    assert LANE.low <= lane <= LANE.high


#: What a maker may leave to its default, with each style and shape that has a size of its own.
LEFT_OUT = [
    *(
        {"piece": kind}
        for kind in PIECES
        if kind not in ("fence", "hedge", "wall", "card", "bounce", "flag", "sign", "building", "garland")
    ),
    *({"piece": "fence", "length": 100, "style": style} for style in FENCE_HEIGHTS),
    *({"piece": "sign", "shape": shape} for shape in SIGN_WIDE),
    *({"piece": "building", "roof": roof, "floors": floors} for roof in ("flat", "gable") for floors in (1, 3, 12)),
    {"piece": "wall", "length": 100},
    {"piece": "hedge", "length": 100},
]


@pytest.mark.parametrize("keys", LEFT_OUT, ids=lambda keys: "-".join(map(str, keys.values())))
def test_no_default_trips_its_own_check(keys: dict[str, Any], tmp_path: Path) -> None:
    entry = {"id": "it", "at": [1500, 720], **keys}
    predictions = looked(broken(("dressing", [entry])), tmp_path)
    sizes = [finding for finding in predictions.findings if finding.id == "sizes.it"]
    assert all(finding.verdict is Verdict.FINE for finding in sizes), sizes


@pytest.mark.parametrize(
    "kind,real",
    [
        ("cone", 18 * 0.0254),  # MUTCD 6F.64: seen
        ("cone", 28 * 0.0254),
        ("guard_rail", 27.75 * 0.0254),  # FHWA memorandum 17 May 2010: seen
        ("guard_rail", 30 * 0.0254),
        ("guard_rail", 31 * 0.0254),  # engineering notes on the AASHTO Roadside Design Guide 2011, as quoted
        ("lamp_post", 60 * 0.3048),  # county lighting guidance in the USA, as quoted
        ("broadleaf", 18.0),  # FHWA-RD-97-028 table 2: seen
        ("broadleaf", 30.0),
        ("conifer", 27.0),
        ("conifer", 55.0),
    ],
)
def test_real_heights_pass(kind: str, real: float) -> None:
    assert HEIGHTS[kind].low <= real <= HEIGHTS[kind].high


def test_a_door_fits_under_a_floor() -> None:
    # 80 in = 2032 mm and 1981 mm, trade pages: as quoted
    assert FLOOR.low > 2.032


@pytest.mark.parametrize(
    "keys,floors",
    [
        ({}, 3),
        ({"height": "3.66 m full size"}, 1),  # a filling station: 3.66 m are less than two floors of 2.4 m
        ({"height": "9.5 m full size"}, 3),
        ({"height": "6 m full size", "roof": "gable"}, 1),  # 3.1 m of which are roof: 0.62 of half of 10 m
        ({"height": "6 m full size", "roof": "gable", "floors": 2}, 2),
    ],
)
def test_a_building_has_the_floors_that_its_height_holds(keys: dict[str, Any], floors: int, tmp_path: Path) -> None:
    entry = {"id": "it", "piece": "building", "at": [1500, 720], "width": "10 m full size", "depth": "10 m full size"}
    scene = read(broken(("dressing", [entry | keys])), tmp_path)
    (piece,) = scene.dressing
    assert isinstance(piece, Building) and floors_of(piece, scene.scale_of(piece)) == floors


def test_a_low_building_of_three_floors_is_given_those_it_has_the_height_of(tmp_path: Path) -> None:
    entry = {"id": "it", "piece": "building", "at": [1500, 720], "height": "3.66 m full size", "floors": 3}
    scene = read(broken(("dressing", [entry])), tmp_path)
    finding = found(predict(scene), "sizes.it")
    assert finding.verdict is Verdict.WATCH and "with 3 floors" in finding.message
    (change,) = way_first(scene)
    assert (change.key, change.value) == ("dressing[0].floors", 1)
    after = predict(rewritten(scene, {change.key: change.value}), remedies=False)
    assert found(after, "sizes.it").verdict is Verdict.FINE


def way_first(scene: Scene) -> tuple[Change, ...]:
    """What is liked best of what may be done about a size, whether there is time to try it or not."""
    notes = check_sizes(scene)
    (number,) = [number for number, each in enumerate(notes.findings) if each.id == "sizes.it"]
    return next(iter(notes.ways[number]())).changes


def test_a_60_mm_tree_beside_a_1_64_car_is_a_sapling(tmp_path: Path) -> None:
    # By hand: 60 mm at 1:64 are 3.84 m
    data = broken(("scale", "1:64"), ("dressing[0].height", 60), ("set.road.lane", "3.5 m full size"))
    assert looked(data, tmp_path).value("piece_height", "tree") == pytest.approx(3.84, abs=0.005)
    assert HEIGHTS["conifer"].low > 3.84


def test_eye_height_at_scale(tmp_path: Path) -> None:
    # Driver's eye 3.50 ft [1.08 m], AASHTO text: as quoted. 1.08 m / 64 = 16.88 mm.
    data = broken(("scale", "1:64"), ("shots[0].at", [1500, -150, 16.88]))
    assert looked(data, tmp_path).shots[0].value("eye_height") == pytest.approx(1.08, abs=0.005)


def test_an_eye_at_the_height_of_an_object_on_the_road(tmp_path: Path) -> None:
    # Object height of the stopping sight distance, 2.00 ft [0.60 m], AASHTO text: as quoted; 9.4 mm at 1:64
    data = broken(("scale", "1:64"), ("shots[0].at", [1500, -150, 9.4]))
    assert looked(data, tmp_path).shots[0].value("eye_height") == pytest.approx(0.60, abs=0.005)


def test_the_design_car_passes_and_is_larger_than_a_typical_one(tmp_path: Path) -> None:
    # AASHTO design car "P", 19 ft x 7 ft x 4.3 ft (from memory). A design vehicle is larger than most of its class:
    # conference paper on Green Book design vehicles, seen. A typical car of about 4.8 x 1.8 x 1.5 m: as quoted, weak.
    design, typical = (5.791, 2.134, 1.311), VEHICLE_SIZES["saloon"]
    assert typical == pytest.approx((4.8, 1.8, 1.5), rel=0.05)
    assert design[0] > typical[0] and design[1] > typical[1]
    change = ("vehicle", {"body": "saloon", "length": "5.791 m full size", "path": "road", "speed": "0.75 m/s"})
    assert found(looked(broken(change), tmp_path), "sizes.vehicle").verdict is Verdict.FINE


def sizes_of(tmp_path: Path, **vehicle: Any) -> dict[str, tuple[Finding, Callable[[], Iterable[Way]]]]:
    """What is found of a vehicle's sizes, with its remedies."""
    notes = check_sizes(read(broken(("vehicle", {"speed": "0.75 m/s", **vehicle})), tmp_path))
    return {each.id: (each, ways) for each, ways in zip(notes.findings, notes.ways, strict=True)}


def test_a_lorry_as_long_as_an_articulated_one_is_told_how_wide_it_is_then_and_what_to_take(tmp_path: Path) -> None:
    # Widest 2.55 m, Council Directive 96/53/EC, annex I, 1.2: from memory. A lorry's 2.5 m of 8 m, at 16.5 m.
    told, ways = sizes_of(tmp_path, body="lorry", length="16.5 m full size")["sizes.vehicle"]
    assert told.verdict is Verdict.WATCH
    assert f"which is {2.5 / 8 * 16.5:.2f} m at full size, and the most that may use any road is 2.55 m" in told.message
    assert next(iter(ways())).changes == (Change("vehicle.body", "articulated_lorry"),)
    assert sizes_of(tmp_path, body="articulated_lorry", length="16.5 m full size")["sizes.vehicle"][0].verdict == "fine"
    assert "may use" not in sizes_of(tmp_path, body="lorry", length="10 m full size")["sizes.vehicle"][0].message


def test_an_articulated_lorry_is_told_where_its_way_would_bend_it(tmp_path: Path) -> None:
    # By hand: of a circle of 1 m 0.7 of 16.5 m at 1:24 are 0.481 m, 0.481 rad.
    turns = np.linspace(0, 1.2, 25)
    circle = np.column_stack([1000 * np.sin(turns), 1200 - 1000 * np.cos(turns)]).tolist()
    bent = sizes_of(tmp_path, body="articulated_lorry", path=circle)["sizes.coupling"][0]
    assert bent.verdict is Verdict.WATCH and bent.value == pytest.approx(0.7 * 16.5 / 24, rel=0.02)
    straight = sizes_of(tmp_path, body="articulated_lorry", path=[[-200, 330], [1600, 330]])
    assert straight["sizes.coupling"][0].verdict is Verdict.FINE
    assert "sizes.coupling" not in sizes_of(tmp_path, body="bus", path=circle)


@pytest.mark.parametrize("body", sorted(VEHICLE_SIZES))
def test_a_vehicle_is_predicted_as_high_as_it_is_built(body: str) -> None:
    # Framing, aim and focus rest on it; 3 % is less than models of one kind differ by.
    length, _, height = VEHICLE_SIZES[body]
    assert build_vehicle(body, length, (0.5, 0.5, 0.5)).height == pytest.approx(height, rel=0.03)


def test_markings_are_painted_as_wide_and_long_as_real_ones() -> None:
    # Normal lines of 4 to 6 in, MUTCD as summarised at legalclarity.org; 3 m of line and 9 m of gap, MUTCD
    # 3A.05 as quoted in a slide deck
    assert 4 * 0.0254 <= markings.LINE_WIDTH <= 6 * 0.0254
    assert (markings.DASH, markings.GAP) == (3.0, 9.0)


def test_signs_are_between_the_smallest_and_the_largest_real_ones() -> None:
    # MUTCD 2003 table 2B-1, stop sign: 24 in at least, 30 conventional, 48 oversized: seen
    for shape in ("disc", "square"):
        assert 24 * 0.0254 <= SIGN_WIDE[shape] <= 48 * 0.0254


def test_the_kerb_of_a_demo_scene_is_a_real_kerb() -> None:
    # Up to 4 in on fast roads (US Army SDDC-TEA: seen), 6 in for a barrier, 125 mm in the UK (both from memory).
    # Within a third over the highest: 2 mm is the thinnest card that a maker lays.
    night = read_scene(Path(__file__).parents[2] / "scenes" / "night_van.yaml")
    (kerb,) = (piece for piece in night.dressing if piece.id == "kerb")
    assert 0.100 <= float(kerb.height) * night.scale <= 0.1524 * 4 / 3


# --- safe areas ---


def test_safe_areas_of_a_1920_by_1080_picture() -> None:
    # BKSTS Illustrated Dictionary 4th ed. app. B, insets 67.2/37.8 and 96/54 px: seen
    for share, across, down in ((ACTION_SAFE, 67.2, 37.8), (TITLE_SAFE, 96.0, 54.0)):
        assert (1 - share) / 2 * 1920 == pytest.approx(across)
        assert (1 - share) / 2 * 1080 == pytest.approx(down)


@pytest.mark.parametrize("size,share", [((1920, 1080), 0.93), ((4096, 2160), 0.93), ((1440, 1080), 0.90)])
def test_the_action_safe_area_follows_the_shape_of_the_picture(size: tuple[int, int], share: float) -> None:
    # BKSTS Illustrated Dictionary 4th ed. app. B, 16:9 and 4:3: seen. 16:9 at 1920 x 1080: BT.709 article, seen.
    assert 1920 / 1080 == 16 / 9
    assert action_safe(size) == share


# --- precautions ---


@pytest.mark.parametrize(
    "change,caution,word",
    [
        (("lights[0].diffusion", "1 stop"), "lamp.diffusion", "label"),
        (("lights[0].mains", True), "lamp.mains", "licensed"),
        (("lights[0].mains", True), "clip.flashes", "three flashes"),  # WCAG 2.2: seen
        (("vehicle.launch", {"ramp": {"height": 150, "length": 600}}), "ramp.raised", "tip"),
    ],
)
def test_a_caution_comes_with_what_calls_for_it_and_not_before(
    change: tuple[str, Any], caution: str, word: str, tmp_path: Path
) -> None:
    before = {each.id for each in cautions_for(read(broken(), tmp_path))}
    changes = [change, ("vehicle.speed", None)] if change[0].startswith("vehicle") else [change]
    after = {each.id: each for each in cautions_for(read(broken(*changes), tmp_path))}
    assert caution not in before
    assert word in after[caution].precaution
    assert after[caution].source


def test_a_lamp_on_a_stand_calls_for_care_and_the_light_of_a_room_does_not(tmp_path: Path) -> None:
    (caution,) = (each for each in cautions_for(read(broken(), tmp_path)) if each.id == "lamp.stand")
    assert "key" in caution.because
    assert "tip" in caution.precaution
    assert "label" in caution.precaution
    room = broken(("lights", [{"id": "room", "ambient": "200 lx"}]))
    assert "lamp.stand" not in {each.id for each in cautions_for(read(room, tmp_path))}
    window = broken(("lights[0].fixed", True))  # part of the room: nothing of it could tip
    assert "lamp.stand" not in {each.id for each in cautions_for(read(window, tmp_path))}


def test_cards_that_something_holds_are_named_with_the_lamps_on_stands(tmp_path: Path) -> None:
    card = {"piece": "flag", "width": 200, "height": 150, "at": [300, 700]}
    cards = [{**card, "id": "low"}, {**card, "id": "high", "at": [600, 700, 300], "copies": 2, "step": [300, 0, 0]}]
    scene = read(broken(("dressing[2]", cards[0]), ("dressing[3]", cards[1])), tmp_path)
    (caution,) = (each for each in cautions_for(scene) if each.id == "lamp.stand")
    assert caution.because == "lamps and cards that stand or hang (key, high)"
    assert "tie what hangs twice" in caution.precaution


def test_loose_pieces_call_for_the_small_parts_caution(tmp_path: Path) -> None:
    # 16 CFR 1501.4 as quoted: 31.75 mm by 57.15 mm
    (caution,) = (each for each in cautions_for(read(broken(), tmp_path)) if each.id == "parts.small")
    assert "31.75 mm by 57.15 mm" in caution.precaution
    bare = broken(("dressing", []))
    assert not [each for each in cautions_for(read(bare, tmp_path)) if each.id == "parts.small"]


@pytest.mark.parametrize(
    "entry,told",
    [
        ({"id": "it", "piece": "hedge", "at": [1500, 720], "length": 100}, True),
        ({"id": "it", "scatter": "tufts", "over": [[1400, 700], [1500, 740]], "count": 3}, True),
        ({"id": "it", "piece": "wall", "at": [1500, 720], "length": 100}, False),
    ],
    ids=["hedge", "tufts", "wall"],
)
def test_foam_and_glue_are_warned_of_where_foliage_is_made(entry: dict[str, Any], told: bool, tmp_path: Path) -> None:
    scene = read(broken(("dressing", [entry])), tmp_path)
    assert ("foliage.dust" in {each.id for each in making_cautions(scene)}) == told


SIZED = [
    {"id": "tree", "piece": "conifer", "at": [1500, 700], "height": 420},
    {"id": "oak", "piece": "broadleaf", "at": [2300, 700], "height": 400},
    {"id": "hut", "piece": "building", "at": [1900, 720], "floors": 1, "height": 130},
]


@pytest.mark.parametrize(("scale", "meant"), [("1:2.4", "1:24"), ("1:240", "1:24"), ("1:24", None), ("1:12", None)])
def test_a_scale_with_a_nought_too_many_is_asked_about_before_all_that_it_makes(
    scale: str, meant: str | None, tmp_path: Path
) -> None:
    data = broken(("scale", scale), ("dressing", SIZED), ("vehicle.length", 330))
    predictions = looked(data, tmp_path)
    sizes = [each for each in predictions.findings if each.id.startswith("sizes.") and each.verdict is not Verdict.FINE]
    if meant is None:
        assert not [each for each in sizes if each.id == "sizes.scale" or each.among_figures]
        return
    assert predictions.findings[0].id == "sizes.scale"
    told = [each for each in sizes if not each.among_figures]
    assert [each.id for each in told] == ["sizes.scale"] and len(sizes) > 4
    assert told[0].message.startswith(f"At {scale}, {len(sizes) - 1} things are of no real size: the lorry ")
    assert told[0].remedy == f"Did you mean scale: {meant}? At that all of them are as real ones are."


def test_sizes_that_are_off_each_by_itself_are_told_each_by_itself(tmp_path: Path) -> None:
    """A tree ten times too low, a lorry twice too long, a hut three times too high: no scale has them all real."""
    dressing = [SIZED[0] | {"height": 40}, SIZED[1], SIZED[2] | {"height": 500}]
    found_there = looked(broken(("dressing", dressing), ("vehicle.length", 700)), tmp_path).findings
    off = {each.id for each in found_there if each.id.startswith("sizes.") and each.verdict is not Verdict.FINE}
    assert off == {"sizes.tree", "sizes.hut", "sizes.vehicle"}
    assert not any(each.among_figures for each in found_there if each.id in off)
