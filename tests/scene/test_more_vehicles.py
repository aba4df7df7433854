"""Several vehicles in a file: what may be written, what a shot makes of them, and where that stands in the file."""

from pathlib import Path

import pytest

from previz.errors import SceneErrors
from previz.scene import Scene, as_set_up, common_changes, own_changes, read_scene, rewritten, setup_of, setups_of

SCENE = """
title: Three
scale: 1:50
units: mm
set:
  table: {width: 1400, depth: 700}
  road: {lane: 70, lanes: 2, centre: [[0, 300], [1400, 340]]}
dressing: [{id: hut, piece: building, at: [300, 500]}, {id: red, piece: parked, body: saloon, at: [900, 500]}]
vehicle: {body: lorry, speed: 0.7 m/s}
vehicles:
  oncoming: {body: saloon, reverse: true, speed: 0.9 m/s, start: 0.2 s}
  tractor: {body: tractor, speed: 0.2 m/s, path: [[0, 200], [1400, 200]]}
lights: [{id: room, ambient: 200 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 9 mm, widest: f/4, nearest: 50 mm, modes: [1080p60]}}
shots:
  - {id: first, camera: pocket, at: [700, -200, 60], aim: vehicle, focus: 400 mm, f_number: 4,
     capture: {rate: 60 fps}, duration: 1 s}
"""
SHOT = """  - {id: second, camera: pocket, at: [700, -200, 60], aim: vehicle, focus: 400 mm, f_number: 4,
     capture: {rate: 60 fps}, duration: 1 s, CHANGES}
"""


def scene_of(folder: Path, changes: str = "", text: str = SCENE) -> Scene:
    path = folder / "scene.yaml"
    path.write_text(text + (SHOT.replace("CHANGES", changes) if changes else ""), encoding="utf-8")
    return read_scene(path)


def faults(folder: Path, changes: str = "", text: str = SCENE) -> list[str]:
    with pytest.raises(SceneErrors) as caught:
        scene_of(folder, changes, text)
    return [f"{fault.key}: {fault.message}" for fault in caught.value.faults]


def test_a_shot_about_another_vehicle_has_it_as_its_own(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, "subject: oncoming, vehicles: {oncoming: {speed: 0.5 m/s}}, without: [tractor]")
    assert (scene.subject, scene.vehicle.body) == ("vehicle", "lorry")
    first, second = (as_set_up(scene, shot) for shot in scene.shots)
    assert (first.subject, first.vehicle, [*first.vehicles]) == ("vehicle", scene.vehicle, ["oncoming", "tractor"])
    assert (second.subject, second.vehicle.body, second.vehicle.speed) == ("oncoming", "saloon", 0.5)
    assert second.vehicles == {"vehicle": scene.vehicle}


def test_a_body_in_place_of_a_mesh_takes_what_was_said_of_its_nodes_with_it(tmp_path: Path) -> None:
    for name in ("cars.glb", "cart.glb"):
        (tmp_path / name).write_bytes(b"glTF")
    mesh = "mesh: cars.glb, node: taxi, wheels: [left], glow: 90 cd/m2, up: z, length: 90,"
    text = SCENE.replace("{body: lorry,", f"{{{mesh}").replace("{body: saloon, reverse", f"{{{mesh} reverse")
    scene = scene_of(tmp_path, "vehicle: {body: van}, vehicles: {oncoming: {mesh: cart.glb, node: cart}}", text)
    then = as_set_up(scene, scene.shots[1])
    assert (then.vehicle.body, then.vehicle.mesh, then.vehicle.node, then.vehicle.wheels) == ("van", None, None, ())
    other = then.vehicles["oncoming"]
    assert (other.mesh, other.node, other.wheels, other.glow) == ("cart.glb", "cart", (), 90)


def test_what_is_found_for_a_shot_is_written_where_the_file_has_it(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, "subject: oncoming")
    second = setup_of(scene, scene.shots[1])
    assert second.origin(("vehicle", "speed")) == ("vehicles", "oncoming", "speed")
    assert second.origin(("vehicles", "vehicle", "speed")) == ("vehicle", "speed")
    for key, written in (
        ("vehicle.start", "shots[1].vehicles.oncoming.start"),
        ("vehicles.vehicle.start", "shots[1].vehicle.start"),
        ("vehicles.tractor.start", "shots[1].vehicles.tractor.start"),
    ):
        found = own_changes(scene, second, {key: "0.3 s"})
        assert found == {written: "0.3 s"}
        after = rewritten(scene, found)
        assert as_set_up(after, after.shots[0]).vehicles == scene.vehicles
    both = [(setups_of(scene)[0], {"vehicles.oncoming.start": "0.3 s"}), (second, {"vehicle.start": "0.3 s"})]
    assert common_changes(scene, both) == {"vehicles.oncoming.start": "0.3 s"}


def test_mirrored_are_the_ways_of_all_and_from_the_other_end_comes_the_subject(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, "run: mirrored")
    then = as_set_up(scene, scene.shots[1])
    assert [each.reverse for each in (then.vehicle, *then.vehicles.values())] == [True, False, False]
    assert then.vehicles["tractor"].path == (pytest.approx((1.4, 0.2)), (0.0, 0.2))
    other = scene_of(tmp_path, "subject: tractor, run: from the other end")
    then = as_set_up(other, other.shots[1])
    assert then.vehicle.reverse and not then.vehicles["vehicle"].reverse and then.vehicles["oncoming"].reverse


def test_a_file_with_one_vehicle_is_as_it_was(tmp_path: Path) -> None:
    lines = [line for line in SCENE.splitlines() if "oncoming" not in line and "tractor" not in line]
    scene = scene_of(tmp_path, text="\n".join(line for line in lines if line != "vehicles:"))
    assert scene.vehicles is None and setups_of(scene)[0].scene is scene


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ("subject: oncomming", "shots[second].subject: oncomming is not a vehicle of this file; did you mean oncoming"),
        ("subject: tractor, without: [tractor]", "shots[second].subject: tractor is taken away"),
        ("without: [vehicle]", "say which the shot is about (subject: oncoming or tractor)"),
        ("vehicles: {bus: {speed: 1 m/s}}", "shots[second].vehicles.bus: bus is not another vehicle of this file"),
        ("vehicles: {vehicle: {speed: 1 m/s}}", "written under vehicle:"),
        ("vehicles: {tractor: {speed: 1 m/s}}, without: [tractor]", "tractor is taken away, and vehicles: says"),
        ("moved: {oncoming: [3, 4]}", "oncoming is a vehicle: it is changed with vehicles:, like vehicles: {oncoming:"),
        ("subject: [oncoming]", "shots[second].subject: a list of 1 is not"),
        ("without: [onncoming]", "is not a piece, a lamp or a vehicle of this file; did you mean oncoming"),
    ],
)
def test_what_a_shot_says_of_vehicles_that_cannot_be(tmp_path: Path, changes: str, told: str) -> None:
    assert any(told in each for each in faults(tmp_path, changes))


@pytest.mark.parametrize(
    ("was", "becomes", "told"),
    [
        ("  oncoming:", "  hut:", "vehicles.hut: hut is a piece or lamp of this file"),
        ("  oncoming:", "  vehicle:", "vehicles.vehicle: vehicle always means what vehicle: says"),
        ("vehicle: {body: lorry, speed: 0.7 m/s}\n", "", "only others are given"),
        ("id: hut", "id: [hut]", "dressing[0].id: a list of 1 is not a name"),
        ("aim: vehicle", "aim: oncoming", "make it the shot's (subject: oncoming), and write vehicle here"),
        ("path: [[0, 200], [1400, 200]]", "path: [[0, 200], [1400 m, 200]]", "at most 100 m"),
        ("reverse: true", "launch: {ramp: {height: 100, length: 500}}", "speed and launch"),
        ("body: saloon, reverse", "mesh: car.glb, length: 90, reverse", "vehicles.oncoming.mesh"),
    ],
)
def test_what_the_file_says_of_vehicles_that_cannot_be(tmp_path: Path, was: str, becomes: str, told: str) -> None:
    assert was in SCENE
    found = faults(tmp_path, text=SCENE.replace(was, becomes, 1))
    assert any(told in each for each in found), found
