"""Each shot is checked as it is set up: as if its set had been written so, and remedies mend it there alone."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from random_scenes import random_scene

from previz.layout import pieces_of, travel_of, vehicle_on, vehicle_path
from previz.predictions import Finding, Predictions, Verdict, predict
from previz.predictions.looking import Look, looked_at
from previz.scene import Scene, as_set_up, read_scene, rewritten

SCENE = """
title: Two setups
scale: 1:50
units: mm
set:
  table: {width: 1000, depth: 500}
  road: {lane: 70, centre: [[-60, 200], [1060, 200]]}
  backdrop: {distance: 490, height: 400, colour: grey}
dressing:
  - {id: crate, piece: container, at: [500, 400]}
  - {id: cone, piece: cone, at: [800, 320]}
vehicle: {body: van, speed: 0.5 m/s}
lights:
  - {id: key, panel: [300, 300], at: [100, -300, 600], aim: [500, 200, 0], output: 3000 lm, mains: false}
  - {id: low, spot: 40 deg, at: [-100, -100, 30], aim: [500, 200, 20], output: 4000 lm, mains: false}
  - {id: room, ambient: 200 lx, mains: false}
cameras:
  pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p60]}
shots:
"""
SHOT = """
  - id: NAME
    camera: pocket
    focal_length: 20 mm
    f_number: 5.6
    at: [500, -200, 60]
    aim: [500, 200, 30]
    focus: 400 mm
    capture: {rate: 60 fps}
    start: 0.9 s
    duration: 0.4 s
"""


def scene_of(folder: Path, **shots: str) -> Scene:
    said = (SHOT.replace("NAME", name) + f"    {change}\n" * bool(change) for name, change in shots.items())
    path = folder / "scene.yaml"
    path.write_text(SCENE + "".join(said), encoding="utf-8")
    return read_scene(path)


def told(found: Predictions, *ids: str) -> list[Finding]:
    return [each for each in found.findings if each.id.startswith(ids) and each.verdict is not Verdict.FINE]


ON_THE_ROAD = "moved: {crate: [500, 180]}"


def test_a_piece_that_is_moved_onto_the_road_is_told_for_its_shots_only(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, wide="", close=ON_THE_ROAD, last="", again=ON_THE_ROAD)
    (hit,) = told(predict(scene), "set.path")
    assert (hit.shot, hit.also) == ("close", ("again",)) and "crate" in hit.message
    assert hit.concerns(["again"]) and not hit.concerns(["wide", "last"])
    # What it says to do is written into those two shots, and the common set stays.
    new = rewritten(scene, {each.key: each.value for each in hit.changes})
    assert hit.changes and {each.key.partition("]")[0] for each in hit.changes} == {"shots[1", "shots[3"}
    assert new.dressing is scene.dressing and not told(predict(new, remedies=False), "set.path")


def test_what_is_wrong_in_all_setups_is_told_once_and_mended_on_the_common_set(tmp_path: Path) -> None:
    text = SCENE.replace("at: [500, 400]", "at: [500, 180]")
    path = tmp_path / "scene.yaml"
    path.write_text(text + SHOT.replace("NAME", "a") + SHOT.replace("NAME", "b") + "    without: [cone]\n", "utf-8")
    scene = read_scene(path)
    (hit,) = told(predict(scene), "set.path")
    assert (hit.shot, hit.also) == ("", ())
    assert [each.key for each in hit.changes] == ["dressing[0].at"]
    new = rewritten(scene, {each.key: each.value for each in hit.changes})
    assert not told(predict(new, remedies=False), "set.path")


def test_a_remedy_of_several_setups_tells_what_comes_with_it_in_each(tmp_path: Path) -> None:
    """The crate goes into the light of the low spot, in shots a and b; in c that is off."""
    text = SCENE.replace("at: [500, 400]", "at: [500, 180]")
    shots = (SHOT.replace("NAME", "a"), SHOT.replace("NAME", "b") + "    without: [cone]\n")
    path = tmp_path / "scene.yaml"
    path.write_text(text + "".join(shots) + SHOT.replace("NAME", "c") + "    lights: {low: off}\n", "utf-8")
    (hit,) = told(predict(read_scene(path)), "set.path")
    assert hit.shot == "" and "In a and b: low lights nothing of the vehicle" in hit.remedy
    assert hit.remedy.count("low lights nothing") == 1 and "In a: low" not in hit.remedy


def test_check_and_layout_have_it_at_one_place(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, wide="", close="moved: {crate: {at: [300, 420], turn: 90 deg}}\n    without: [cone]")
    then = as_set_up(scene, scene.shot("close"))
    (crate,) = pieces_of(then)
    assert crate.at[:2] == pytest.approx((0.3, 0.42)) and crate.turn == pytest.approx(np.pi / 2)
    assert [solid.id for solid in pieces_of(scene)] == ["crate", "cone"]


def test_what_is_taken_away_throws_no_shadow(tmp_path: Path) -> None:
    """A crate between the low spot and the vehicle: the spot's light on the vehicle comes back without it."""
    scene = scene_of(tmp_path, hidden="moved: {crate: {at: [200, 50], turn: 110 deg}}", free="without: [crate]")
    found = predict(scene, remedies=False)
    hidden, free = (found.shot(name).value("illuminance_vehicle", "low") for name in ("hidden", "free"))
    assert free > 2 * hidden


@pytest.mark.parametrize("run", ["mirrored", "from the other end"])
def test_it_drives_the_other_way(tmp_path: Path, run: str) -> None:
    scene = scene_of(tmp_path, there="", back=f"run: {run}")
    ways = []
    for shot in scene.shots:
        then = as_set_up(scene, shot)
        ways.append([vehicle_on(vehicle_path(then), travel_of(then).distance(time)).position[0] for time in (0.5, 0.9)])
    assert ways[0][1] - ways[0][0] == pytest.approx(0.2) and ways[1][1] - ways[1][0] == pytest.approx(-0.2)


def test_figures_of_the_run_that_differ_are_with_their_shots(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, slow="", fast="vehicle: {speed: 1 m/s}")
    found = predict(scene, remedies=False)
    assert found.value("path_length") == pytest.approx(1.12)
    assert found.shot("slow").value("run_time") == pytest.approx(2 * found.shot("fast").value("run_time"))


# --- on scenes from a seed ---


def with_two_shots(seed: int, change: dict[str, Any]) -> dict[str, Any]:
    data = random_scene(seed)
    first = data["shots"][0]
    data["shots"] = [{**first, "id": "one"}, {**first, "id": "two", **change}]
    return data


def read(folder: Path, data: dict[str, Any]) -> Scene:
    path = folder / "scene.yaml"
    path.write_text(json.dumps(data), encoding="utf-8")
    return read_scene(path)


SEEDS = [seed for seed in range(30) if random_scene(seed)["dressing"]][:4]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_change_to_what_is_there_already_changes_nothing(tmp_path: Path, seed: int) -> None:
    plain = with_two_shots(seed, {})
    piece = plain["dressing"][0]
    changed = with_two_shots(seed, {"moved": {piece["id"]: {"at": piece["at"]}}})
    found, so = (predict(read(tmp_path, each), remedies=False) for each in (changed, plain))
    assert found == so


@pytest.mark.parametrize("seed", SEEDS)
def test_it_is_checked_as_if_the_set_were_written_so(tmp_path: Path, seed: int) -> None:
    data = with_two_shots(seed, {})
    piece, table = data["dressing"][0], data["set"]["table"]
    place = [table["width"] * 0.4, table["depth"] * 0.7]
    changed = with_two_shots(seed, {"moved": {piece["id"]: place}})
    so = {**data, "dressing": [{**piece, "at": place}, *data["dressing"][1:]], "shots": data["shots"][1:]}
    found, plain = (predict(read(tmp_path, each), remedies=False) for each in (changed, so))
    figures = found.shot("two").figures + found.figures
    assert all(each in figures for each in (*plain.shot("two").figures, *plain.figures))
    asked = "light.mains"  # once a scene
    mine = {(each.id, each.message) for each in found.findings if each.concerns(["two"])}
    assert mine >= {(each.id, each.message) for each in plain.findings if each.id != asked}


@pytest.mark.parametrize("seed", SEEDS[:1])
def test_a_remedy_mends_its_shots_and_spoils_no_other(tmp_path: Path, seed: int) -> None:
    data = with_two_shots(seed, {"vehicle": {"colour": "navy"}, "lights": {}})
    road = data["set"]["road"]["centre"][1]
    del data["shots"][1]["lights"]
    data["shots"][1]["moved"] = {data["dressing"][0]["id"]: road}
    scene = read(tmp_path, data)
    found = predict(scene)
    tried = [each for each in found.findings if each.changes][:4]
    assert tried
    for finding in tried:
        after = predict(rewritten(scene, {each.key: each.value for each in finding.changes}), remedies=False)
        count = [sum(each.id == finding.id and each.verdict is not Verdict.FINE and each.shot == finding.shot
                     for each in some.findings) for some in (found, after)]  # fmt: skip
        assert count[1] < count[0], finding
        stops = [sum(each.verdict is Verdict.STOP for each in some.findings) for some in (found, after)]
        assert stops[1] <= stops[0], finding


def test_what_a_shot_can_do_by_itself_comes_before_what_others_would_have_to_go_along_with(tmp_path: Path) -> None:
    """It leaves over the table's right end: filmed for less long it is on the table, with no road moved."""
    edge = (
        "    at: [-300, 60, 60]\n    aim: [900, 200, 30]\n    start: 1.5 s\n    duration: 0.8 s\n"
        "    backdrop: {side: right, distance: 1300, width: 900}\n"
    )
    keys = ("at:", "aim:", "start:", "duration:")
    shot = [line for line in SHOT.replace("NAME", "edge").splitlines(keepends=True) if line.split()[:1][:1] != []]
    shot = [line for line in shot if not line.strip().startswith(keys)]
    path = tmp_path / "scene.yaml"
    path.write_text(f"{SCENE}{SHOT.replace('NAME', 'wide')}{''.join(shot)}{edge}", encoding="utf-8")
    scene = read_scene(path)
    notes = looked_at(as_set_up(scene, scene.shots[1])).noted[Look("edge", "room")]
    (ways,) = [ways for each, ways in zip(notes.findings, notes.ways, strict=True) if each.id == "room.table"]
    first = next(way for way in ways() if way.changes)
    assert first.changes[0].key == "set.road.centre"  # liked best where nobody else is on it, told by the table's ends
    assert "towards the table's left (so much x less at each of its points)" in first.words
    (over,) = told(predict(scene), "room.table")
    assert over.shot == "edge" and over.remedy.startswith("Film while it is there"), over.remedy
    assert over.changes and all(change.key.startswith("shots[1].") for change in over.changes)
