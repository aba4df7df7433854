"""What is moved between setups, against lists made by hand; the evening that comes of it, against sums done by hand."""

import math
from pathlib import Path
from typing import Any

import pytest

from previz.evening import Position, evening_of, mark_words, moves_between, position_of
from previz.scene import Scene, rewritten
from tests.predictions.broken_scenes import read

#: A small set, and a shot of it that changes nothing.
SET: dict[str, Any] = {
    "title": "Moves",
    "scale": "1:50",
    "units": "mm",
    "set": {
        "table": {"width": 1200, "depth": 700},
        "road": {"lane": 70, "centre": [[-50, 300], [1250, 300]]},
        "backdrop": {"distance": 690, "height": 400, "painting": {"sky": "dusk"}},
    },
    "dressing": [
        {"id": "hut", "piece": "building", "at": [500, 520], "width": 120, "depth": 80, "floors": 1},
        {"id": "cones", "piece": "cone", "at": [300, 230], "copies": 3, "step": [60, 0, 0]},
        {"id": "tufts", "scatter": "tufts", "over": [[0, 500], [300, 600]], "count": 20},
    ],
    "vehicle": {"body": "van", "launch": {"ramp": {"height": 120, "length": 500, "foot": 60}}},
    "lights": [
        {"id": "key", "panel": [400, 300], "at": [300, -200, 600], "aim": [600, 300, 0], "output": "4000 lm"},
        {"id": "room", "ambient": "150 lx"},
    ],
    "cameras": {
        "pocket": {"sensor": "1-inch", "lens": "8.8-36.8 mm", "widest": "f/1.8", "nearest": 50, "modes": ["1080p120"]},
        "phone": {"sensor": "1/1.3-type", "lens": "6.9 mm", "widest": "f/1.8", "smallest": "f/1.8", "nearest": 120,
                  "modes": ["1080p240"]},
    },
}  # fmt: skip
PLAIN: dict[str, Any] = {
    "id": "plain", "camera": "pocket", "focal_length": "16 mm", "f_number": "f/4", "at": [600, -200, 80],
    "aim": [600, 300, 20], "focus": "500 mm", "start": "0.2 s", "duration": "0.2 s", "capture": {"rate": "120 fps"},
}  # fmt: skip


def scene_of(folder: Path, *others: dict[str, Any], **more: Any) -> Scene:
    """The set with the plain shot and others that differ from it by some keys."""
    shots = [PLAIN, *(PLAIN | {"id": f"other{number}"} | each for number, each in enumerate(others))]
    return read(SET | {"shots": shots} | more, folder)


def position(scene: Scene, number: int) -> Position:
    return position_of(scene, scene.shots[number])


#: What another shot changes, and what is then to do: kind, thing, and its words in whole millimetres.
CHANGES: dict[str, tuple[dict[str, Any], list[tuple[str, str]]]] = {
    "nothing": ({}, []),
    "a piece moved and turned": (
        {"moved": {"hut": {"at": [900, 560], "turn": "30 deg"}}},
        [("dress", "move hut from 500, 520 to 900, 560, turned 30°")]),
    "a row taken away": (
        {"without": ["cones"]},
        [("dress", f"take away cones{copy} from {x}, 230") for copy, x in (("", 300), ("/2", 360), ("/3", 420))]),
    "a piece added": (
        {"added": [{"id": "bin", "piece": "cone", "at": [700, 400]}]}, [("dress", "put bin at 700, 400")]),
    "a piece that looks otherwise": (
        {"moved": {"hut": {"colour": "#884422"}}}, [("dress", "change hut at 500, 520: colour #884422")]),
    "scattered things gone": ({"without": ["tufts"]}, [("scatter", "sweep up tufts")]),
    "fewer things scattered": (
        {"moved": {"tufts": {"count": 5}}}, [("scatter", "strew anew tufts: count 5")]),
    "a lamp moved": (
        {"moved": {"key": [900, -200, 700]}},
        [("lamp", "move key from 300, -200, 600 up, facing 600, 300, 0 up to 900, -200, 700 up, facing 600, 300, 0 "
          "up")]),
    "a lamp set anew": (
        {"lights": {"key": {"output": "2000 lm", "colour": "3200 K"}}}, [("lamp_setting", "set key: 2000 lm, 3200 K")]),
    "a lamp switched off": ({"lights": {"key": "off"}}, [("lamp_setting", "switch off key")]),
    "a lamp taken away": ({"without": ["key"]}, [("lamp", "take away key")]),
    "a card for light put up, its height told": (
        {"added": [{"id": "fill", "piece": "bounce", "width": 300, "height": 200, "at": [700, -60, 40]}]},
        [("dress", "put fill at 700, -60, 40 up")]),
    "another backdrop": (
        {"backdrop": {"painting": {"sky": "night"}}}, [("backdrop", "change the backdrop: painting sky night")]),
    "the backdrop turned": (
        {"backdrop": {"side": "left", "distance": 1190, "width": 1200}},
        [("backdrop", "turn the backdrop: along the left side, 1190 mm from the table's right edge, 1200 mm wide")]),
    "another backdrop, as wide as the side it is turned to": (
        {"backdrop": {"side": "left", "distance": 1190}},
        [("backdrop", "change the backdrop: along the left side, 1190 mm from the table's right edge")]),
    "a wider backdrop on a bend": (
        {"backdrop": {"width": "144.3 cm", "join": "cove 40"}},
        [("backdrop", "change the backdrop: 1443 mm wide, join cove 40 mm")]),
    "a backdrop of one colour": (
        {"backdrop": {"colour": "darkred"}}, [("backdrop", "change the backdrop: colour #8b0000 (darkred)")]),
    "another ground": (
        {"ground": {"surface": "snow", "relief": 12}}, [("ground", "lay the ground: surface snow, relief 12 mm")]),
    "a lamp with another head": (
        {"lights": {"key": {"panel": [500, 250], "diffusion": "1 stop"}}},
        [("lamp_setting", "set key: diffusion 1 stop, panel 500 × 250 mm")]),
    "another vehicle, as fast": (
        {"vehicle": {"body": "bus"}}, [("vehicle", "change the vehicle: a bus")]),
    "the vehicle and its ramp taken away": (
        {"without": ["vehicle"]}, [("ramp", "take away the ramp"), ("vehicle", "take away the vehicle")]),
    "the run from the other end": (
        # The foot stands 60 mm along the middle of its lane, half a lane to the right of the road's middle.
        {"run": "from the other end"},
        [("ramp", "move the ramp's foot from 10, 265 to 1190, 335, turned 180°")]),
    "a motor in the ramp's stead": (
        {"vehicle": {"speed": "0.5 m/s"}},
        [("ramp", "exchange the ramp for the vehicle's start at -50, 265: 0.5 m/s")]),
    "another release": (
        {"vehicle": {"launch": {"ramp": {"height": 90}}}}, [("release", "set the release height: 120 mm to 90 mm")]),
    "the camera moved": (
        {"at": [300, -100, 60]},
        [("camera", "move the camera pocket from 600, -200, 80 up, facing 600, 300, 20 up to 300, -100, 60 up, facing "
          "600, 300, 20 up")]),
    "the camera begins where it stood and moves": (
        {"at": [{"time": "0.2 s", "at": [600, -200, 80]}, {"time": "0.4 s", "at": [650, -200, 80]}]},
        # Smoothstep 3 t^2 - 2 t^3 is half as fast again in its middle as on the whole.
        [("camera", "set the camera pocket: moved in the shot 50 mm, gently, at 0.25 m/s on average, 0.375 m/s at "
          "most, to 650, -200, 80 up")]),
    "the camera moves from elsewhere": (
        {"moves": "evenly", "at": [{"time": "0.2 s", "at": [500, -200, 80]}, {"time": "0.4 s", "at": [450, -200, 80]}]},
        [("camera", "move the camera pocket from 600, -200, 80 up, facing 600, 300, 20 up to 500, -200, 80 up, facing "
          "600, 300, 20 up: moved in the shot 50 mm, evenly, at 0.25 m/s, to 450, -200, 80 up")]),
    "the camera aimed anew": (
        {"aim": [500, 300, 20]}, [("aim", "aim the camera pocket at 600, -200, 80 up, facing 500, 300, 20 up")]),
    "a pan, which begins where its first key is aimed": (
        {"aim": [{"time": "0.2 s", "at": [500, 300, 20]}, {"time": "0.4 s", "at": [650, 300, 20]}], "start": "0.2 s"},
        [("aim", "aim the camera pocket at 600, -200, 80 up, facing 500, 300, 20 up")]),
    "the zoom": ({"focal_length": 24}, [("lens", "set the lens of pocket: 16 mm to 24 mm")]),
    "the zoom by less than its ring shows": ({"focal_length": 15.9}, []),
    "the zoom by a little more": ({"focal_length": 15.8}, [("lens", "set the lens of pocket: 16 mm to 15.8 mm")]),
    "the stop and the focus": (
        {"f_number": "f/8", "focus": "400 mm"}, [("settings", "set pocket: f/4 to f/8, focus anew")]),
    "another camera": (
        {"camera": "phone", "focal_length": 6.9, "f_number": "f/1.8"},
        [("camera", "put up the camera phone at 600, -200, 80 up, facing 600, 300, 20 up: 6.9 mm, f/1.8, 120 fps, "
          "1/240 s, ISO auto, 5600 K")]),
}  # fmt: skip


@pytest.mark.parametrize("name", CHANGES)
def test_all_that_changes_is_a_move_and_nothing_else_is(name: str, tmp_path: Path) -> None:
    change, expected = CHANGES[name]
    scene = scene_of(tmp_path, change)
    moves = moves_between(position(scene, 0), position(scene, 1))
    told = [(move.kind, mark_words(move, lambda length: f"{length * 1000:.0f}")) for move in moves]
    assert told == expected
    # The way back has as many moves, of the same kinds.
    back = moves_between(position(scene, 1), position(scene, 0))
    assert sorted(move.kind for move in back) == sorted(kind for kind, _ in expected)


def test_a_window_is_covered_and_not_taken_away(tmp_path: Path) -> None:
    """One that is said to be fixed; switched off or taken away, the same is done to it."""
    scene = scene_of(tmp_path, {"lights": {"key": "off"}}, {"without": ["key"]})
    scene = rewritten(scene, {"lights[0].fixed": True})
    assert scene.lights[0].id == "key"
    told = [
        [(move.kind, mark_words(move, str)) for move in moves_between(position(scene, one), position(scene, other))]
        for one, other in ((0, 1), (1, 0), (0, 2), (2, 0))
    ]
    assert told == [[("lamp_setting", f"{does} key")] for does in ("cover", "uncover", "cover", "uncover")]


def test_a_lamp_that_is_switched_on_is_told_whole(tmp_path: Path) -> None:
    """Before it was off it may have stood elsewhere, or been set otherwise."""
    away = {"moved": {"key": [900, -200, 700]}}
    scene = scene_of(tmp_path, {"lights": {"key": "off"}}, away, {"without": ["key"]})
    off = position(scene, 1)
    told = [
        [(move.kind, mark_words(move, lambda length: f"{length * 1000:.0f}")) for move in moves_between(off, then)]
        for then in (position(scene, 0), position(scene, 2), position(scene, 3), off)
    ]
    assert told == [
        [("lamp_setting", "switch on key at 300, -200, 600 up, facing 600, 300, 0 up: 4000 lm, 5600 K")],
        [("lamp", "switch on key at 900, -200, 700 up, facing 600, 300, 0 up: 4000 lm, 5600 K")],
        [("lamp", "take away key")],
        [],
    ]


def test_a_vehicle_that_comes_back_is_told_with_what_moves_it(tmp_path: Path) -> None:
    """None is there, and then one on a ramp, one with a motor, one that stands."""
    motor, parked = {"vehicle": {"speed": "0.5 m/s"}}, {"vehicle": {"speed": 0}}
    scene = scene_of(tmp_path, {"without": ["vehicle"]}, motor, parked)
    told = [
        [mark_words(move, lambda length: f"{length * 1000:.0f}") for move in moves_between(position(scene, one), then)]
        for one in (1, 2)
        for then in (position(scene, 0), position(scene, 2), position(scene, 3))
    ]
    ramp = "at 10, 265: release height 120 mm, 500 mm long"
    assert told == [
        [f"put the ramp's foot {ramp}", "put the vehicle: a van, on the ramp"],
        ["put the vehicle at -50, 265: a van, 0.5 m/s"],
        ["put the vehicle at -50, 265: a van, standing"],
        [f"exchange the vehicle's start for the ramp's foot {ramp}"],
        [],
        ["set the vehicle's speed: 0.5 m/s to standing"],
    ]


def test_a_lamp_that_is_put_up_is_told_whole(tmp_path: Path) -> None:
    rim = {"id": "rim", "spot": "25 deg", "at": [0, 600, 500], "aim": [600, 300, 0], "output": "900 lx at 1 m",
           "colour": {"kelvin": "3200 K", "gel": "#3344ff"}}  # fmt: skip
    scene = scene_of(tmp_path, {"added": [rim]})
    (move,) = moves_between(position(scene, 0), position(scene, 1))
    assert move.said == "beam 25°, 900 lx at 1 m, 3200 K with a gel #3344ff"


def test_values_are_told_in_the_unit_of_the_maker_s_tape(tmp_path: Path) -> None:
    inches = scene_of(tmp_path).model_copy(update={"tape_unit": "in"})
    backdrop = inches.set.backdrop.model_copy(update={"width": 56.75 * 0.0254, "distance": 30 * 0.0254})  # type: ignore[union-attr]
    there = inches.model_copy(update={"set": inches.set.model_copy(update={"backdrop": backdrop})})
    (move,) = moves_between(Position(inches), Position(there))
    assert move.said == "30 in from the table's front edge, 56 3/4 in wide"


def test_a_road_that_is_mirrored_is_told_point_by_point(tmp_path: Path) -> None:
    road = {"lane": 70, "centre": [[-50, 280], [1250, 320]]}
    motor = {"body": "van", "speed": "0.5 m/s"}
    scene = scene_of(tmp_path, {"run": "mirrored"}, set=SET["set"] | {"road": road}, vehicle=motor)
    laid = moves_between(position(scene, 0), position(scene, 1))[0]
    assert (laid.what, laid.said) == ("the road", "along its middle -50, 320 mm; 1250, 280 mm")


def test_a_place_in_inches_is_told_in_inches(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, {"moved": {"hut": [762, 508]}})
    (move,) = moves_between(position(scene, 0), position(scene, 1))
    assert mark_words(move, lambda length: f"{length / 0.0254:g}").endswith("to 30, 20")


def test_an_evening_adds_up(tmp_path: Path) -> None:
    """Minutes are written, so that the sum is done by hand."""
    minutes = {"take": "2 min", "look": "3 min", "dress": "1 min", "camera": "10 min", "backdrop": "7 min",
               "spoiled": "50 %", "good_takes": 1, "sure": "75 %"}  # fmt: skip
    night = {"backdrop": {"painting": {"sky": "night"}}}
    moved = {"moved": {"hut": [900, 560]}}
    scene = scene_of(tmp_path, night, moved, vehicle={"body": "van", "speed": "0.5 m/s"}, evening=minutes)
    plan = evening_of(scene)
    # As built and plain: the camera, 10, and a look, 3. Moving the hut: 1 and 3. Back, and the backdrop: 1, 7 and 3.
    # The other way round: 7 and 3, then 1, 7 and 3: as the file has it.
    assert [each.shot for each in plan.changeovers] == ["plain", "other1", "other0"]
    assert [each.time for each in plan.changeovers] == [13 * 60, 4 * 60, 11 * 60]
    assert plan.work == plan.least == 28 * 60
    assert plan.as_written == (13 + 10 + 11) * 60
    # Half of the takes are good: two a shot on the mean, and two with a chance of 75 %.
    assert [(each.share, each.mean, each.enough) for each in plan.takes] == [(0.5, 2.0, 2.0)] * 3
    assert plan.mean == (28 + 6 * 2) * 60
    # Of three good ones, P(6 takes) = 42/64 and P(7) = 99/128, the sums of the binomial: seven takes of two minutes.
    assert plan.enough == (28 + 7 * 2) * 60


def test_takes_go_by_how_alike_launches_are(tmp_path: Path) -> None:
    low = {"vehicle": {"launch": {"ramp": {"height": 25}}}}
    plan = evening_of(scene_of(tmp_path, low))
    by_shot = {each.shot: each for each in plan.takes}
    assert by_shot["plain"].within is not None and by_shot["other0"].within is not None
    # From lower, two millimetres of release and the losses weigh more.
    assert by_shot["other0"].within < by_shot["plain"].within
    assert by_shot["other0"].enough >= by_shot["plain"].enough
    assert by_shot["plain"].share == pytest.approx(0.75 * by_shot["plain"].within)


def test_shots_alike_cost_nothing_between_them(tmp_path: Path) -> None:
    plan = evening_of(scene_of(tmp_path, {}, {"start": "0.3 s"}))
    assert [each.time for each in plan.changeovers[1:]] == [0.0, 0.0]


def test_where_no_take_is_good_no_number_is_enough(tmp_path: Path) -> None:
    assert evening_of(scene_of(tmp_path, evening={"spoiled": "100 %"})).enough == math.inf


def test_a_card_for_light_that_is_raised_or_leant_is_a_move(tmp_path: Path) -> None:
    card = {"id": "fill", "piece": "bounce", "width": 300, "height": 200, "at": [700, -60, 40]}
    others: tuple[dict[str, Any], ...] = ({"moved": {"fill": [700, -60, 90]}}, {"moved": {"fill": {"tilt": "20 deg"}}})
    scene = scene_of(tmp_path, *others, dressing=[card])
    said = [
        mark_words(move, lambda length: f"{length * 1000:.0f}")
        for number in (1, 2)
        for move in moves_between(position(scene, 0), position(scene, number))
    ]
    assert said == ["move fill from 700, -60, 40 up to 700, -60, 90 up", "change fill at 700, -60, 40 up: tilt 20°"]


def test_a_start_in_time_is_a_move_only_beside_another_that_drives(tmp_path: Path) -> None:
    """Of one alone it is where the clock of the shot begins: nobody does anything for it."""
    later = {"vehicle": {"start": "0.1 s"}}
    both = later | {"vehicles": {"taxi": {"start": "0.4 s"}}}
    taxi = {"body": "saloon", "speed": "0.5 m/s", "reverse": True, "start": "0.3 s"}
    alone = scene_of(tmp_path, later)
    assert not moves_between(position(alone, 0), position(alone, 1))
    two = scene_of(tmp_path, later, both, vehicles={"taxi": taxi})
    assert not moves_between(position(two, 0), position(two, 2))
    assert [(each.what, each.said) for each in moves_between(position(two, 0), position(two, 1))] == [
        ("taxi's start in time", "0.3 s to 0.2 s after the first that drives"),
    ]
