"""A shot's changes on the common set: as it is set up, the scene is the one whose file says it so."""

import random
from pathlib import Path
from typing import Any

import pytest
import yaml_text
from damaged import TEXT

from previz.errors import PrevizError, SceneErrors
from previz.scene import Scene, as_set_up, edited, own_changes, read_scene, rewritten, setups_of, with_all

STANDS = ("set", "dressing", "vehicle", "lights")
BEGINS, ENDS = TEXT.index("  - id: pass"), TEXT.index("wants:")
SHOT = TEXT[BEGINS:ENDS]


def written(folder: Path, **shots: str) -> Path:
    """The good scene, with more shots of those changes each."""
    more = "".join(SHOT.replace("id: pass", f"id: {name}") + f"    {said}\n" for name, said in shots.items())
    path = folder / "scene.yaml"
    path.write_text(TEXT[:ENDS] + more + TEXT[ENDS:], encoding="utf-8")
    return path


def stands(scene: Scene) -> dict[str, Any]:
    return {name: getattr(scene, name) for name in STANDS}


#: What a shot changes, and what the common set would have to say instead.
SAME: list[tuple[str, dict[str, Any]]] = [
    ("moved: {stack_a: [300, 500]}", {"dressing[stack_a].at": [300, 500]}),
    (
        "moved: {stack_a: {turn: 30 deg, stack: 1}, key: {at: [10, -20, 300]}}",
        {"dressing[stack_a].turn": "30 deg", "dressing[stack_a].stack": 1, "lights[key].at": [10, -20, 300]},
    ),
    (
        "moved: {lamps: [100, 600]}",  # out of the row along the road, to one place
        {"dressing[lamps].at": [100, 600], "dressing[lamps].along": None, "dressing[lamps].every": None,
         "dressing[lamps].offset": None},
    ),
    ("moved: {lamps: {lit: 0 lm, every: 300}}", {"dressing[lamps].lit": "0 lm", "dressing[lamps].every": 300}),
    ("without: [rubble, hard]", {"dressing[rubble]": None, "lights[hard]": None}),
    ("lights: {hard: off, room: 40 lx, key: 600 lm}",
     {"lights[hard]": None, "lights[room].ambient": "40 lx", "lights[key].output": "600 lm"}),
    ("lights: {hard: {aim: [600, 300, 0], output: 900 lx at 1 m}}",
     {"lights[hard].aim": [600, 300, 0], "lights[hard].output": "900 lx at 1 m"}),
    ("added: [{id: rim, spot: 20 deg, at: [900, 600, 300], aim: [700, 330, 0], output: 300 lm}]",
     {"lights[3]": {"id": "rim", "spot": "20 deg", "at": [900, 600, 300], "aim": [700, 330, 0], "output": "300 lm"}}),
    ("added: [{id: bin, piece: cone, at: [500, 200]}]",
     {"dressing[3]": {"id": "bin", "piece": "cone", "at": [500, 200]}}),
    ("backdrop: {distance: 650}", {"set.backdrop.distance": 650}),
    ("backdrop: {side: left, distance: 1390}", {"set.backdrop.side": "left", "set.backdrop.distance": 1390}),
    ("backdrop: {painting: {sky: night}}", {"set.backdrop.painting.sky": "night"}),
    ("backdrop: {colour: grey}", {"set.backdrop.colour": "grey", "set.backdrop.painting": None}),
    ("backdrop: none", {"set.backdrop": None}),
    ("ground: {surface: snow}", {"set.ground.surface": "snow"}),
    ("vehicle: {body: van, speed: 1.2 m/s}",
     {"vehicle.body": "van", "vehicle.speed": "1.2 m/s", "vehicle.launch": None}),
    ("vehicle: {launch: {ramp: {height: 90}}}", {"vehicle.launch.ramp.height": 90}),
    ("run: from the other end", {"vehicle.reverse": True}),
    ("run: mirrored",
     {"vehicle.reverse": True, "set.road.centre": [["-0.04999999999999982 m", "0.3 m"],
                                                   ["1.4500000000000002 m", "0.33 m"]]}),
]  # fmt: skip


@pytest.mark.parametrize(("said", "instead"), SAME, ids=[said for said, _ in SAME])
def test_it_stands_as_if_the_common_set_said_so(tmp_path: Path, said: str, instead: dict[str, Any]) -> None:
    path = written(tmp_path, other=said)
    scene = read_scene(path)
    common, other = setups_of(scene)
    assert common.shots == ("pass",) and other.shots == ("other",)
    plain = read_scene(written(tmp_path), changes=instead)
    assert stands(other.scene) == stands(plain)
    assert stands(common.scene) == stands(read_scene(written(tmp_path))) == stands(scene)
    # What is alike is the very same, so that nobody need work it out again.
    for name in STANDS:
        if getattr(common.scene, name) == getattr(other.scene, name):
            assert getattr(other.scene, name) is getattr(scene, name)
    kept = {each.id: each for each in scene.dressing}
    assert all(each is kept[each.id] for each in other.scene.dressing if each == kept.get(each.id))


def test_ground_told_otherwise_takes_the_place_of_its_picture(tmp_path: Path) -> None:
    path = written(tmp_path, sand="ground: {surface: sand}", grey="ground: {colour: grey}")
    text = path.read_text(encoding="utf-8")
    assert 'ground: {surface: concrete, colour: "#8b8a86"}' in text
    path.write_text(
        text.replace('{surface: concrete, colour: "#8b8a86"}', "{image: floor.png, tile: 300}"), encoding="utf-8"
    )
    (tmp_path / "floor.png").touch()  # reading a scene looks only whether it is there
    scene = read_scene(path)
    for shot in ("sand", "grey"):
        ground = as_set_up(scene, scene.shot(shot)).set.ground
        assert ground.image is None and ground.tile is None
    assert as_set_up(scene, scene.shot("sand")).set.ground.surface == "sand"


def test_what_two_shots_call_alike_is_built_twice_if_it_is_two_things(tmp_path: Path) -> None:
    bin = "added: [{{id: bin, piece: {}, at: [{}, 200]}}]"
    one = [bin.format(*each) for each in (("cone", 500), ("cone", 600), ("stone", 500))]
    scene = read_scene(written(tmp_path, a=one[0], b=one[1], c=one[2]))
    assert [each.piece for each in with_all(scene).dressing if each.id == "bin"] == ["cone", "stone"]


AT_A_DISTANCE = {"axis_illuminance": 900, "axis_distance": 1}


@pytest.mark.parametrize(
    ("common", "said", "then"),
    [
        ("{flux: 1000 lm}", "{axis_illuminance: 900 lx, axis_distance: 1 m}", AT_A_DISTANCE),
        ("{axis_illuminance: 900 lx, axis_distance: 1 m}", "{flux: 1000 lm}", {"flux": 1000}),
    ],
)
def test_a_lamp_s_light_told_in_another_way_takes_the_place_of_what_was(
    tmp_path: Path, common: str, said: str, then: dict[str, float]
) -> None:
    path = written(tmp_path, other=f"lights: {{key: {{output: {said}}}}}")
    path.write_text(path.read_text(encoding="utf-8").replace("output: 1200 lm", f"output: {common}"), encoding="utf-8")
    scene = read_scene(path)
    key = next(each for each in as_set_up(scene, scene.shot("other")).lights if each.id == "key")
    assert key.output.model_dump(exclude_none=True) == then


def test_without_changes_it_is_the_scene_itself(tmp_path: Path) -> None:
    scene = read_scene(written(tmp_path))
    (only,) = setups_of(scene)
    assert only.scene is scene is as_set_up(scene, scene.shots[0]) is with_all(scene)


def test_what_comes_to_the_same_is_one_setup(tmp_path: Path) -> None:
    changed = {"a": "moved: {stack_a: [420, 52 cm]}", "b": "without: [rubble]", "c": "moved: {stack_a: [300, 500]}",
               "d": "moved: {stack_a: {at: [30 cm, 50 cm, 0]}}"}  # fmt: skip
    scene = read_scene(written(tmp_path, **changed))
    setups = setups_of(scene)
    assert [setup.shots for setup in setups] == [("pass", "a"), ("b",), ("c", "d")]
    then = as_set_up(scene, scene.shot("d"))
    assert then is as_set_up(scene, scene.shot("c")) is as_set_up(then, scene.shot("d"))
    assert not any(shot.redresses for shot in then.shots)


def test_the_order_in_which_changes_are_written_says_nothing(tmp_path: Path) -> None:
    """Shuffled from a seed: keys of groups and members of lists."""
    said = {
        "moved": {"stack_a": {"at": [300, 500], "turn": "20 deg"}, "key": {"at": [0, -100, 700], "aim": [700, 300, 0]}},
        "without": ["rubble", "hard"],
        "added": [{"id": "z", "piece": "cone", "at": [1, 2]}, {"id": "a", "piece": "stone", "at": [200, 600]},
                  {"id": "rim", "ambient": "4 lx"}, {"id": "dim", "ambient": "2 lx"}],
        "lights": {"room": "30 lx", "key": "600 lm"},
        "vehicle": {"colour": "navy", "offset": 4},
        "run": "from the other end",
    }  # fmt: skip
    found = []
    for seed in range(6):
        shuffled = yaml_text.shuffled(said, random.Random(seed))
        lines = "\n    ".join(f"{key}: {yaml_text.flow(value)}" for key, value in shuffled.items())
        scene = read_scene(written(tmp_path, other=lines))
        found.append(stands(as_set_up(scene, scene.shot("other"))))
    assert all(each == found[0] for each in found)


#: What is wrong with a change, and how that is told.
WRONG = [
    ("moved: {stak_a: [300, 500]}", "moved.stak_a: stak_a is not a piece or lamp of this file; did you mean stack_a?"),
    ("moved: {stack_a: {trun: 3 deg}}", "moved.stack_a.trun: is not a key here; did you mean turn?"),
    ("moved: {stack_a: [300]}", "moved.stack_a: a list of 1 is not a place"),
    ("moved: {stack_a: here}", "moved.stack_a: here is not where it stands; write its place"),
    ("moved: {vehicle: [300, 500]}", "moved.vehicle: the vehicle is changed with vehicle: or run:"),
    ("moved: {key: {aim: [300, -200, 500]}}", "moved.key.aim: is the same point as at"),
    ("moved: {stack_a: {every: 200}}", "moved.stack_a: every only means something with along: road"),
    ("without: [stack_b]", "without[0]: stack_b is not a piece or lamp of this file"),
    ("without: [key, hard, room]", "without: then, lights: "),
    ("without: []", "without: "),
    ("added: [{id: bin}]", "added[bin]: needs piece:, scatter: or mesh:, or panel:, spot:, bulb: or ambient:"),
    ("added: [{id: key, piece: cone, at: [1, 2]}]", "added[key].id: key stands on the set already"),
    ("added: [{id: bin, mesh: ../bin.glb, length: 30, at: [1, 2]}]", "added[bin].mesh: ../bin.glb lies outside"),
    ("lights: {kee: off}", "lights.kee: kee is not a lamp of this file; there are key, hard and room"),
    ("lights: {key: bright}", "lights.key: bright "),
    ("lights: {room: {output: 20 lm}}", "lights.room.output: is not a key here"),
    ("backdrop: {colour: grey, image: a.jpg}", "backdrop"),
    ("backdrop: {side: left}", "backdrop: side needs distance"),
    ("backdrop: {side: top, distance: 690}", "backdrop.side: top is not a side of the table"),
    ("backdrop: gone", "backdrop: gone is not none; write none or keys"),
    ("ground: {surface: ice}", "ground.surface: ice is not a surface"),
    (
        "vehicle: {launch: {ramp: {height: 600}}}",
        "vehicle: then, vehicle.launch.ramp.length: a ramp 500 mm long cannot",
    ),
    ("run: backwards", "run: backwards is not a way to run; choose from the other end or mirrored"),
    ("without: [vehicle]\n    run: mirrored", "run: nothing drives in this shot"),
    ("without: [stack_a]\n    moved: {stack_a: [1, 2]}", "without[0]: stack_a is taken away, and moved:"),
    ("moved: {key: [1, 2, 3]}\n    lights: {key: {at: [3, 2, 1]}}", "lights.key: key is moved too, and both say at"),
]


@pytest.mark.parametrize(("said", "told"), WRONG, ids=[said for said, _ in WRONG])
def test_what_is_wrong_with_a_change_is_told_at_its_line(tmp_path: Path, said: str, told: str) -> None:
    path = written(tmp_path, other=said)
    lines = path.read_text(encoding="utf-8").split("\n")
    key = told.partition(":")[0].partition(".")[0].partition("[")[0]
    line = next(number for number, text in enumerate(lines, start=1) if number > 45 and text.startswith(f"    {key}:"))
    with pytest.raises(SceneErrors) as caught:
        read_scene(path)
    faults = [(fault.line, f"{fault.key}: {fault.message}") for fault in caught.value.faults]
    assert any(each[0] == line and each[1].startswith(f"shots[other].{told}") for each in faults), (line, faults)


def test_a_shot_may_look_at_what_it_adds_and_not_at_what_it_takes_away(tmp_path: Path) -> None:
    def aimed(at: str, said: str) -> Path:
        path = written(tmp_path, other=said)
        before, _, after = path.read_text(encoding="utf-8").partition("  - id: other")
        path.write_text(before + "  - id: other" + after.replace("aim: vehicle", f"aim: {at}", 1), encoding="utf-8")
        return path

    scene = read_scene(aimed("bin", "added: [{id: bin, piece: cone, at: [500, 200]}]"))
    assert as_set_up(scene, scene.shot("other")).shot("other").aim.piece == "bin"
    with pytest.raises(SceneErrors, match="stack_a is not something on this set"):
        read_scene(aimed("stack_a", "without: [stack_a]"))
    with pytest.raises(SceneErrors, match="the set has no vehicle"):
        read_scene(aimed("vehicle", "without: [vehicle]"))


def test_a_scene_that_was_made_says_that_its_changes_are_not_known(tmp_path: Path) -> None:
    scene = read_scene(written(tmp_path, other="without: [rubble]")).model_copy(update={"title": "Made"})
    with pytest.raises(PrevizError, match="was made, not read"):
        setups_of(scene)


#: What is written into a setup's scene, and where the file gets it.
INTO = [
    ({"shots[0].f_number": "f/8"}, {"shots[1].f_number": "f/8"}),
    ({"dressing[0].at": [310, 510]}, {"shots[1].moved.stack_a": [310, 510]}),
    ({"dressing[0].turn": "3 deg"}, {"shots[1].moved.stack_a": {"at": [300, 500], "turn": "3 deg"}}),
    ({"dressing[1].every": 230}, {"shots[1].moved.lamps": {"every": 230}}),
    ({"dressing[2].at": [520, 210]}, {"shots[1].added[0].at": [520, 210]}),
    ({"lights[0].output": "700 lm"}, {"shots[1].lights.key": {"output": "700 lm"}}),
    ({"lights[0].diffusion": None}, {"shots[1].lights.key": {"diffusion": "0 stops"}}),
    ({"lights[3]": {"id": "fill", "ambient": "9 lx"}}, None),
    ({"set.backdrop.distance": 650}, {"shots[1].backdrop.distance": 650}),
    ({"vehicle.launch.ramp.height": "100 mm"}, {"shots[1].vehicle.launch.ramp.height": "100 mm"}),
    ({"set.road.lanes": 1}, "nowhere"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "expected"), INTO, ids=lambda each: next(iter(each)) if isinstance(each, dict) else ""
)
def test_what_a_setup_is_to_have_is_written_into_its_shots_changes(
    tmp_path: Path, changes: dict[str, Any], expected: Any
) -> None:
    said = "moved: {stack_a: [300, 500]}\n    without: [rubble]\n    added: [{id: bin, piece: cone, at: [500, 200]}]"
    path = written(tmp_path, other=said, last="lights: {hard: off}")
    scene = read_scene(path)
    setup = setups_of(scene)[1]
    found = own_changes(scene, setup, changes)
    if expected == "nowhere":
        assert found is None
        return
    assert found is not None and (expected is None or found == expected)
    path.write_text(edited(path.read_text(encoding="utf-8"), found), encoding="utf-8")
    new = read_scene(path)
    assert stands(as_set_up(new, new.shot("other"))) == stands(rewritten(setup.scene, changes))
    for name in ("pass", "last"):
        assert stands(as_set_up(new, new.shot(name))) == stands(as_set_up(scene, scene.shot(name)))
