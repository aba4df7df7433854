"""Lamps, stands and cards as things: what of them is in the picture, what they stand in, and that remedies work."""

from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, read
from remedies_tried import applied

from previz.layout import gear_of
from previz.predictions import Change, Verdict, predict
from previz.predictions.agreed import NOT_TRIED, UNTRIED, agreed
from previz.predictions.cautions import cautions_for
from previz.predictions.checks import gear as checks_gear
from previz.predictions.checks.gear import USUAL_BODY, check_gear, check_stands
from previz.predictions.checks.set import check_set
from previz.predictions.findings import Way
from previz.predictions.looking import looked_at
from previz.predictions.shot_view import view_of
from previz.predictions.trying import Purse, Trial, outcome_of
from previz.scene import setups_of
from previz.telling import check_lines

KEY = "lights[0]"


def gear(scene):
    return [each for each in check_gear(view_of(scene, scene.shots[0])).findings if each.verdict is not Verdict.FINE]


def stands(scene):
    return {each.id: each for each in check_stands(scene).findings}


def test_where_all_is_in_order_nothing_of_the_gear_is_seen(tmp_path) -> None:
    scene = read(broken(), tmp_path)
    assert gear(scene) == [] and stands(scene) == {}


def test_a_panel_in_the_picture_takes_up_what_its_angle_says(tmp_path) -> None:
    """Square to the axis at 900 mm: of housing and pole only the housing, 160 by 120 mm and 12 mm of rim all round.

    Worked by hand: its picture is v / 900 as large, v the image distance of 4.2 mm focused at 560 mm.
    """
    panel = {
        "id": "key", "panel": [160, 120], "at": [1500, 750, 70 + 600 * 10 / 550],
        "aim": [1500, -150, 70 - 300 * 10 / 550],
        "output": "60 klm", "mains": False, "held": "nothing",
    }  # fmt: skip
    scene = read(broken((KEY, panel), ("dressing[0].at", [300, 700])), tmp_path)
    (seen,) = gear(scene)
    view = view_of(scene, scene.shots[0])
    (share,) = [each.value for each in check_gear(view).figures if each.quantity == "gear_share"]
    v = 1 / (1 / 0.0042 - 1 / view.focus[0])
    depth = float(view.depths(np.array([[1.5, 0.75, 0.07 + 6 / 550]]))[0, 0])
    expected = 0.184 * 0.144 * (v / depth) ** 2 / (view.area[0] * view.area[1])
    assert seen.id == "gear.frame.key" and seen.verdict is Verdict.STOP
    assert share == pytest.approx(expected, rel=0.06)  # of its outline, sides 40 mm deep and all
    assert "The lamp key is in the picture" in seen.message and "throughout the shot" in seen.message


def test_a_bare_bulb_in_the_picture_is_told_and_every_way_out_of_it_works(tmp_path) -> None:
    """It is aimed at nothing, so there is no back from that."""
    bulb = {"id": "key", "bulb": 60, "at": [1500, 750, 110], "output": "60 klm", "mains": False, "held": "above"}
    scene = read(broken((KEY, bulb), ("dressing[0].at", [300, 700])), tmp_path)
    notes = check_gear(view_of(scene, scene.shots[0]))
    ways = [way for each in notes.ways for way in each() if way.changes and not way.looking]
    assert [each.id for each in gear(scene)] == ["gear.frame.key"]
    assert ways and all(way.words.startswith(("Move key ", "Hang key ", "Hold key ")) for way in ways)
    for way in ways:
        assert gear(applied(scene, way.changes)) == [], way.words


@pytest.mark.parametrize("left", [0.0, 3.0])
def test_places_are_looked_for_as_far_as_patience_goes(tmp_path, monkeypatch: pytest.MonkeyPatch, left: float) -> None:
    """The rest of the way round is left; the best of what was seen by then is told as not tried."""
    bulb = {"id": "key", "bulb": 60, "at": [1500, 750, 110], "output": "60 klm", "mains": False, "held": "above"}
    looked: list[object] = []
    is_out = checks_gear._is_out
    monkeypatch.setattr(checks_gear, "_is_out", lambda *given: bool(looked.append(given)) or is_out(*given))
    findings, _ = agreed(looked_at(read(broken((KEY, bulb), ("dressing[0].at", [300, 700])), tmp_path)), Purse(left))
    (told,) = [each for each in findings if each.id == "gear.frame.key"]
    assert not told.changes
    if left:
        assert 0 < len(looked) <= len(checks_gear._STEPS)
        assert f"{NOT_TRIED} Move key " in told.remedy and " up." in told.remedy
    else:
        assert looked == [] and UNTRIED in told.remedy


def test_what_stands_behind_the_backdrop_or_a_house_is_not_seen(tmp_path) -> None:
    behind = {"at": ["1500 mm", "1100 mm", "120 mm"], "held": "table"}
    scene = read(
        broken(*((f"{KEY}.{name}", value) for name, value in behind.items()), (f"{KEY}.panel", [100, 80])), tmp_path
    )
    assert gear(scene) == []
    before = read(
        broken((f"{KEY}.at", [1500, 850, 120]), (f"{KEY}.panel", [100, 80]), ("dressing[0].at", [300, 700])), tmp_path
    )
    assert [each.id for each in gear(before)] == ["gear.frame.key"]
    hut = {"id": "hut", "piece": "building", "at": [1500, 720], "width": 700, "height": 800}
    housed = read(
        broken(
            (f"{KEY}.at", [1500, 870, 120]), (f"{KEY}.panel", [100, 80]), (f"{KEY}.held", "table"), ("dressing[1]", hut)
        ),
        tmp_path,
    )
    assert gear(housed) == []


@pytest.mark.parametrize(("side", "at"), [("right", 3200), ("left", -200)])
def test_what_stands_behind_a_backdrop_along_another_side_is_not_seen(side: str, at: int, tmp_path) -> None:
    """The camera looks along the table at it; the lamp stands 200 mm past the table's end, or as far before that."""
    for place, seen in ((at, []), (2800 if side == "right" else 200, ["gear.frame.key"])):
        scene = read(
            broken(
                ("set.backdrop.side", side), ("set.backdrop.distance", 2990), ("dressing", []), ("lights[1]", None),
                (f"{KEY}.at", [place, 400, 120]), (f"{KEY}.panel", [100, 80]), (f"{KEY}.held", "nothing"),
                ("shots[0].at", [1500, 390, 70]), ("shots[0].aim", [3000 if side == "right" else 0, 390, 70]),
                ("shots[0].focus", "500 mm"),
            ),
            tmp_path,
        )  # fmt: skip
        # Nothing drives through the camera but where its own body is asked for.
        assert [each.id for each in gear(scene) if each.id != USUAL_BODY] == seen


def test_a_bare_bulb_in_the_picture_is_told_as_a_lamp_and_moved_out(tmp_path) -> None:
    bulb = {"id": "bare", "bulb": 60, "at": [1500, 640, 120], "output": "800 lm", "mains": False, "held": "nothing"}
    scene = read(broken(("lights[2]", bulb), ("dressing", [])), tmp_path)
    view = view_of(scene, scene.shots[0])
    notes = check_gear(view)
    (told,) = [number for number, each in enumerate(notes.findings) if each.id == "gear.frame.bare"]
    assert notes.findings[told].message.startswith("The lamp bare is in the picture")
    ways = list(notes.ways[told]())
    assert ways and all(change.key == "lights[2].at" for way in ways for change in way.changes)


def lit_from(rng: np.random.Generator) -> dict[str, Any]:
    """A lamp, a bounce card or a flag somewhere before the camera."""
    x, y, z = rng.uniform(1000, 2000), rng.uniform(150, 800), rng.uniform(60, 500)
    kind = str(rng.choice(["panel", "spot", "bounce", "flag"]))
    if kind in ("panel", "spot"):
        lamp = {
            "id": "it", "at": [x, y, z], "aim": [1500, 400, 20], "output": "2 klm", "mains": False,
            "held": str(rng.choice(["above", "arm", "floor", "table", "nothing"])),
        }  # fmt: skip
        return lamp | ({"panel": [float(rng.uniform(40, 300))] * 2} if kind == "panel" else {"spot": "60 deg"})
    size = {"width": float(rng.uniform(50, 300)), "height": float(rng.uniform(50, 200))}
    turn = {"turn": f"{rng.uniform(-180, 180):.0f} deg", "tilt": f"{rng.uniform(-60, 60):.0f} deg"}
    return {"id": "it", "piece": kind, "at": [x, y, z], **size, **turn}


def test_remedies_for_what_is_in_the_picture_clear_it(tmp_path) -> None:
    """Of four things from seeds that are in the picture or in the way, every remedy shown does what it says."""
    shown = 0
    for seed in range(4):
        it = lit_from(np.random.default_rng([315, seed]))
        key = "lights[2]" if "output" in it else "dressing[2]"
        scene = read(broken((key, it)), tmp_path)
        before = predict(scene)
        for finding in before.findings:
            if finding.id.startswith("gear.") and finding.changes:
                shown += 1
                after = predict(applied(scene, finding.changes), remedies=False)
                assert not [
                    each for each in after.findings if each.id == finding.id and each.verdict is not Verdict.FINE
                ], (seed, finding.remedy)
    assert shown >= 3


def test_a_stand_in_the_way_on_the_road_or_in_a_piece_is_told(tmp_path) -> None:
    def held(at, how="table"):
        small = {"id": "low", "spot": "40 deg", "at": at, "aim": [1500, 400, 20], "output": "900 lm", "held": how}
        return read(broken(("lights[2]", {**small, "mains": False})), tmp_path)

    in_the_way = stands(held([1000, 400, 600]))["gear.stands.low"]
    assert in_the_way.verdict is Verdict.STOP and "in the vehicle's way" in in_the_way.message
    # The lanes are 3.5 m / 24 wide and their middle is at 400 mm: at 550 mm its foot of 60 mm laps over the edge.
    on_road = stands(held([1000, 570, 600]))["gear.stands.low"]
    assert on_road.verdict is Verdict.WATCH and "on the road" in on_road.message
    assert on_road.value == pytest.approx(0.4 + 3.5 / 24 - (0.570 + back() - 0.060), abs=0.012)
    in_hut = stands(held([1900, 720, 600]))["gear.stands.low"]
    assert "in hut" in in_hut.message
    assert stands(held([1000, 640, 600])) == {}
    assert stands(held([1000, 400, 600], "above")) == {}
    through = stands(held([1000, 850, 600], "floor"))["gear.stands.low"]
    assert through.verdict is Verdict.STOP and "goes through the table" in through.message


def test_a_stand_and_a_camera_in_the_way_of_another_vehicle_are_told(tmp_path) -> None:
    """Its way leads away from the viewer, across the table 500 mm from its left edge; the subject's does not."""
    low = {"id": "low", "spot": "40 deg", "at": [500, 100, 600], "aim": [500, 400, 20], "output": "900 lm"}
    other = {"body": "saloon", "path": [[500, 0], [500, 260]], "speed": "0.2 m/s", "start": "30 s"}
    keys = [
        ("lights[2]", {**low, "mains": False, "held": "table"}), ("vehicles", {"cab": other}),
        ("cameras.small.body", [100, 60, 40]), ("cameras.small.lens_size", [40, 40]),
        ("shots[0].at", [500, 120, 60]), ("shots[0].aim", [1500, 400, 60]), ("shots[0].focus", "500 mm"),
    ]  # fmt: skip
    scene = read(broken(*keys), tmp_path)
    in_the_way = stands(scene)["gear.stands.low"]
    assert in_the_way.verdict is Verdict.STOP and "in the way of cab" in in_the_way.message
    (camera,) = [each for each in gear(scene) if each.id == "gear.camera"]
    assert camera.verdict is Verdict.STOP and "Cab on its way is" in camera.message
    assert stands(read(broken(keys[0]), tmp_path)) == {}


def back():
    """How far behind a lamp at [1000, 570, 600] aimed at [1500, 400, 20] its neck is, along y. [m]"""
    way = np.array([0.5, -0.17, -0.58])
    return float(0.17 / np.linalg.norm(way) * (1.5 * 0.045 + 0.015))


@pytest.mark.parametrize(("y", "through"), [(880, True), (840, False)])
def test_a_lamp_through_the_backdrop_is_told(y: int, through: bool, tmp_path) -> None:
    """The sheet is at 890 mm; a panel that faces away from it has a housing of 40 mm, from 1 mm behind its light on."""
    panel = {"id": "low", "panel": [200, 100], "aim": [1500, 400, 400], "output": "900 lm", "mains": False}
    lamp = {**panel, "at": [1500, y, 400], "held": "nothing"}
    told = stands(read(broken(("lights[2]", lamp)), tmp_path)).get("gear.stands.low")
    assert (told is not None) == through
    if told is not None:
        assert told.verdict is Verdict.WATCH and "through the backdrop" in told.message
        assert told.value == pytest.approx(0.010 - 0.001, abs=0.001)


def test_a_card_that_is_held_up_need_not_stand_on_the_table(tmp_path) -> None:
    card = {"id": "fill", "piece": "bounce", "width": 300, "height": 200, "at": [1500, -400, 100]}
    scene = read(broken(("dressing[2]", card)), tmp_path)
    assert {each.id: each.held for each in gear_of(scene)}["fill"] == "floor"
    assert not [each for each in predict(scene, remedies=False).findings if each.id.startswith("set.edge.fill")]
    on_edge = read(broken(("dressing[2]", {**card, "at": [300, 100]})), tmp_path)
    assert {each.id: each.held for each in gear_of(on_edge)}["fill"] == "edge"


def test_a_flag_that_hangs_may_hide_the_vehicle_or_reach_through_the_backdrop(tmp_path) -> None:
    """Above the roof of what drives it is in nobody's way, yet between it and a camera that looks down on it."""
    flag = {"id": "cut", "piece": "flag", "width": 900, "height": 400, "at": [1500, 100, 250], "held": "above"}
    high = [("shots[0].at", [1500, -150, 650]), ("dressing", [flag])]
    found = {each.id: each for each in predict(read(broken(*high), tmp_path), remedies=False).findings}
    assert found["framing.hidden"].value > 0.9 and found["framing.hidden"].verdict is Verdict.WATCH
    assert not [name for name in found if name.startswith("set.backdrop.")]
    behind = read(broken(("dressing", [{**flag, "at": [1500, 920, 250]}])), tmp_path)  # the sheet is at 890 mm
    (through,) = [each for each in check_set(behind).findings if each.id == "set.backdrop.cut"]
    assert through.verdict is Verdict.STOP and through.value == pytest.approx(0.035, abs=0.001)  # its board is 5 mm


def test_a_bounce_card_lifts_what_the_meter_reads_on_the_vehicle(tmp_path) -> None:
    """Beside the camera, lit from behind the vehicle: a flag in its place gives nothing."""
    card = {"id": "fill", "piece": "bounce", "width": 900, "height": 500, "at": [1500, -160, 120], "turn": "180 deg"}
    lights = [
        {"id": "back", "panel": [600, 400], "at": [1500, 880, 1500], "aim": [1500, -150, 300], "output": "60 klm"}
    ]
    light = {}
    for kind in ("bounce", "flag"):
        scene = read(broken(("lights", lights), ("dressing[2]", {**card, "piece": kind})), tmp_path)
        light[kind] = view_of(scene, scene.shots[0]).light.vehicle.total
    assert light["bounce"] > 1.15 * light["flag"]


@pytest.mark.parametrize(("y", "left"), [(300.0, 51.0), (370.0, -19.0)])
def test_the_camera_body_is_in_nothing_and_nothing_drives_through_it(y: float, left: float, tmp_path) -> None:
    """By hand: 20 mm of the lens are before the pupil; a house front is 71 mm or 1 mm ahead of that."""
    hut = {"id": "hut", "piece": "building", "at": [1500, 421, 0], "width": 600, "depth": 100, "height": 300}
    keys = [
        ("cameras.small.body", [100, 60, 40]), ("cameras.small.lens_size", [40, 40]),
        ("vehicle.path", [[0, 800], [3000, 800]]),
        ("shots[0].at", [1500, y, 120]), ("shots[0].aim", [1500, 900, 120]), ("dressing[1]", hut),
        ("shots[0].focus", "500 mm"),
    ]  # fmt: skip
    scene = read(broken(*keys), tmp_path)
    (told,) = [each for each in check_gear(view_of(scene, scene.shots[0])).findings if each.id == "gear.camera"]
    assert told.value * 1000 == pytest.approx(left, abs=1.0)
    assert told.verdict is (Verdict.FINE if left > 0 else Verdict.STOP)
    on_the_way = read(
        broken(*keys[:2], keys[-1], ("shots[0].at", [2800, 380, 60]), ("shots[0].aim", [2800, 900, 60])), tmp_path
    )
    (told,) = [
        each for each in check_gear(view_of(on_the_way, on_the_way.shots[0])).findings if each.id == "gear.camera"
    ]
    assert told.verdict is Verdict.STOP and "The vehicle on its way is" in told.message


def test_a_practical_lamp_is_left_in_the_picture_and_one_shot_may_say_otherwise(tmp_path) -> None:
    bulb = {
        "id": "globe", "bulb": 11, "at": [1500, 620, 110], "output": "60 klm", "mains": False, "held": "nothing",
        "practical": True,
    }  # fmt: skip
    scene = read(broken((KEY, bulb), ("dressing[0].at", [300, 700])), tmp_path)
    notes = check_gear(view_of(scene, scene.shots[0]))
    assert gear(scene) == [] and [each.message for each in notes.findings] == [
        "No lamp, stand or card for light is in the picture but globe, as meant."
    ]
    assert any(each.quantity == "gear_share" and each.value > 0 for each in notes.figures)
    post = {"id": "post", "piece": "wall", "at": [1500, 620], "length": 20, "height": 110}
    mounted = broken((KEY, bulb), ("dressing[0].at", [300, 700]), ("dressing[1]", post))
    assert stands(read(mounted, tmp_path)) == {}
    bare = {**bulb, "practical": False}
    assert list(stands(read(broken((KEY, bare), ("dressing[1]", post)), tmp_path))) == ["gear.stands.globe"]
    here = ("shots[0].lights", {"globe": {"practical": False}})
    otherwise = broken((KEY, bulb), ("dressing[0].at", [300, 700]), here)
    assert [each.id for each in gear(setups_of(read(otherwise, tmp_path))[0].scene)] == ["gear.frame.globe"]


def test_the_holder_of_a_small_bulb_is_small_and_of_a_household_one_as_ever(tmp_path) -> None:
    """Of an 11 mm bulb it is narrower than the glass, and of one that nothing holds there is none; of one of 60 mm it
    is 40 mm, as before small ones were known."""
    widths = {}
    bare = {"id": "key", "bulb": 11, "at": [1500, 750, 110], "output": "1 lm", "held": "nothing"}
    scene = read(broken((KEY, bare)), tmp_path)
    assert [part.what for each in gear_of(scene) if each.id == "key" for part in each.parts] == ["glass"]
    assert not {"lamp.bulb", "lamp.stand"} & {each.id for each in cautions_for(scene)}
    for wide, held in ((11, "table"), (60, "nothing")):
        bulb = {"id": "key", "bulb": wide, "at": [1500, 750, 110], "output": "60 klm", "held": held}
        (lamp,) = [each for each in gear_of(read(broken((KEY, bulb)), tmp_path)) if each.id == "key"]
        (socket,) = [part for part in lamp.parts if part.what == "housing"]
        widths[wide] = 2 * np.linalg.norm(socket.half[0])
    assert widths[11] < 0.011 and widths[60] == pytest.approx(0.040)


def test_a_window_stays_where_it_is(tmp_path) -> None:
    """As large as one, in the picture; and hidden behind the backdrop, and far off where more light is asked for."""
    panel = {"id": "key", "panel": [160, 120], "at": [1500, 750, 70], "aim": [1500, -150, 70], "output": "60 klm"}
    window = panel | {"mains": False, "fixed": True}
    scene = read(broken((KEY, window), ("dressing[0].at", [300, 700])), tmp_path)
    assert all(part.what not in ("stand", "arm") for each in gear_of(scene) for part in each.parts)
    (seen,) = [each for each in predict(scene).findings if each.id == "gear.frame.key"]
    assert not seen.changes and "It is fixed: frame tighter, or hang a curtain or a card before key." in seen.remedy
    hidden = read(broken(("lights[0].at", [1500, 1500, 700]), ("lights[0].fixed", True)), tmp_path)
    (found,) = [each for each in predict(hidden).findings if each.id == "lamps.hidden"]
    assert not found.changes and "Move key" not in found.remedy


def test_a_usual_body_in_the_way_of_the_vehicle_is_told_and_no_remedy_brings_it_there(tmp_path) -> None:
    """Of a camera without `body:` that looks across the vehicle's lane from within it, or from far off."""
    keys = [("shots[0].focus", "500 mm")]
    near = [*keys, ("shots[0].at", [2800, 380, 60]), ("shots[0].aim", [2800, 900, 60])]
    far = [*keys, ("shots[0].at", [1500, -500, 60]), ("shots[0].aim", [1500, 900, 60])]
    there, away = (read(broken(*each), tmp_path) for each in (near, far))
    (told,) = [each for each in check_gear(view_of(there, there.shots[0])).findings if each.id == USUAL_BODY]
    assert told.verdict is Verdict.WATCH and "in the vehicle on its way" in told.message
    assert not [each for each in check_gear(view_of(away, away.shots[0])).findings if each.id == USUAL_BODY]
    # No remedy stands one there that stood beside the way: of a lane of 146 mm south of y 400 the lorry fills 106 mm.
    beside = looked_at(read(broken(*near[:1], ("shots[0].at", [2800, 150, 60]), near[2]), tmp_path))
    way = Way("Stand it there.", (Change("shots[0].at", ["2800 mm", "380 mm", "60 mm"]),))
    outcome = outcome_of(Trial(beside, Purse(1e9, 1e9)), way)
    assert outcome is not None and not outcome.holds and outcome.brings is not None
    assert outcome.brings.id == USUAL_BODY
    text = "\n".join(check_lines(there, predict(there, remedies=False), ["pass"], everything=False))
    assert "a usual one would be" in text and "\n  body " not in text
