"""A remedy that moves something says which way, seen from before the table: what it says is what it writes."""

import re
from collections.abc import Iterator
from contextlib import suppress
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, changed, found, looked, predicted, read
from random_scenes import random_scene

from previz.errors import PrevizError
from previz.predictions import Verdict, predict, view_of
from previz.predictions.checks.framing import check_framing
from previz.predictions.looking import looked_at
from previz.scene import Focus, Scene
from previz.units import LENGTH, parse

#: Of the first 60 random scenes some in which a check may stand a camera elsewhere.
SEEDS = (12, 14, 21, 30)

#: x to the right, y away from whoever stands before the table, z up: the frame that the README states.
WAYS = {
    "to the left": (-1, 0, 0),
    "to the right": (1, 0, 0),
    "towards you": (0, -1, 0),
    "away from you": (0, 1, 0),
    "down": (0, 0, -1),
    "up": (0, 0, 1),
}


def said(remedy: str) -> list[float]:
    """The move that a remedy tells, x, y and z. [mm]"""
    total = [0.0, 0.0, 0.0]
    for length, way in re.findall(rf"([\d.]+) mm ({'|'.join(WAYS)})", remedy):
        total = [sum_ + float(length) * each for sum_, each in zip(total, WAYS[way], strict=True)]
    return total


def written(data: dict[str, Any], key: str, remedy_changes: Any) -> list[float]:
    """How far the place at a key is moved by what a remedy writes. [mm]"""
    number = int(key[key.index("[") + 1 : key.index("]")])
    now = data[key.partition("[")[0]][number]["at"]
    (then,) = [change.value for change in remedy_changes if change.key == key]
    return [float(str(b).removesuffix(" mm")) - float(a) for a, b in zip(now, then, strict=False)]


@pytest.mark.parametrize(
    ("id", "key", "change"),
    [
        ("set.edge.hut", "dressing[1].at", ("dressing[1].at", [2990, 720])),
        ("set.edge.tree", "dressing[0].at", ("dressing[0].at", [1500, 8])),
        ("set.overlap.tree.hut", "dressing[1].at", ("dressing[1].at", [1560, 700])),
        ("set.path", "dressing[1].at", ("dressing[1].at", [1900, 440])),
        ("set.backdrop.hut", "dressing[1].at", ("dressing[1].at", [1900, 880])),
        ("room.camera_clear", "shots[0].at", ("dressing[1].at", [1500, -150])),
    ],
)
def test_what_is_said_of_a_move_is_what_is_written(tmp_path: Path, id: str, key: str, change: tuple[str, Any]) -> None:
    data = broken(change)
    told = next(each for each in predicted(data, tmp_path).findings if each.id == id)
    assert told.changes, told
    moved = said(told.remedy)
    assert any(moved), told.remedy
    # To the millimetre of a tape; the third is not written of a piece.
    wrote = [*written(data, key, told.changes), 0.0][:3]
    assert moved == pytest.approx(wrote, abs=0.51), told.remedy


def test_a_row_that_reaches_over_the_edge_says_which_of_it_and_where_to_begin(tmp_path: Path) -> None:
    # The road begins 200 mm left of the table: 201 mm along it is 1 mm from the edge. By hand.
    row = {"id": "posts", "piece": "lamp_post", "along": "road", "every": 700, "first": 201, "offset": 200}
    data = broken(("dressing[2]", row))
    told = found(predicted(data, tmp_path), "set.edge.posts")
    assert "posts, the first of 5, reaches" in told.message
    (change,) = told.changes
    assert change.key == "dressing[2].first" and float(str(change.value).removesuffix(" mm")) > 201
    assert told.remedy == f"Begin the row {change.value[:3]} mm along the road (first), not 201 mm."
    assert found(looked(changed(data, told.changes), tmp_path), "set.edge").verdict is Verdict.FINE


def test_a_row_of_copies_over_the_edge_says_which_of_it(tmp_path: Path) -> None:
    cones = {"id": "cones", "piece": "cone", "at": [2500, 700], "copies": 4, "step": [200, 0, 0]}
    told = found(looked(broken(("dressing[2]", cones)), tmp_path), "set.edge.cones")
    assert told.message.startswith("cones, the last of 4, stands")  # 3100 mm on a table of 3000


def test_what_may_stand_on_a_lane_is_told_so_wherever_it_is_told(tmp_path: Path) -> None:
    """With a remedy that was tried, and of a scene that no file stands behind, in which no place was looked for."""
    block = ("dressing[2]", {"id": "block", "piece": "container", "at": [700, 480], "length": 60})
    tried = found(predicted(broken(block), tmp_path), "set.lane.block")
    assert tried.changes and tried.remedy.endswith(", unless it is meant to stand there.")
    scene = read(broken(block), tmp_path)
    made = scene.model_copy(update={"shots": scene.shots})
    assert found(predict(made, remedies=False), "set.lane.block").remedy == (
        "Move block off the road, unless it is meant to stand there."
    )


def test_a_focus_told_by_its_distance_goes_with_a_camera_that_is_moved(tmp_path: Path) -> None:
    """By hand: so far nearer along its axis, as far from the lens is what was sharp; on the vehicle it is by itself."""
    far = ("cameras.small.lens", "4.2 mm"), ("shots[0].at", [1500, -8000, 80])
    for focus in ("8.4 m", "vehicle"):
        scene = read(broken(*far, ("shots[0].focus", focus)), tmp_path)
        notes = check_framing(view_of(scene, scene.shots[0]))
        (ways,) = [ways for each, ways in zip(notes.findings, notes.ways, strict=True) if each.id == "framing.small"]
        (way,) = ways()
        wrote = {change.key: change.value for change in way.changes}
        nearer = parse(LENGTH, wrote["shots[0].at"][1]) + 8
        assert nearer > 1
        if focus == "vehicle":
            assert wrote.keys() == {"shots[0].at"}
        else:
            assert parse(LENGTH, wrote["shots[0].focus"]) == pytest.approx(8.4 - nearer, abs=5.1e-4)  # as told


def test_who_moves_a_camera_is_told_of_the_focus_that_goes_with_it(tmp_path: Path) -> None:
    """Of random scenes whose focus is told by its distance, all that any check may say: what was sharp stays that."""
    moved = 0
    for number in SEEDS:
        data = random_scene(number)
        first = data["shots"][0]
        scene = read(data, tmp_path)
        shot = scene.shots[0]
        if not isinstance(shot.focus, Focus) or not isinstance(shot.at[0], float):
            continue  # what moves, and a pull in keys, stays as it was chosen
        with suppress(PrevizError):  # of a focus that cannot be
            first["focus"] = f"{view_of(scene, shot).focus.mean() * 1000:.0f} mm"
            scene = read(data, tmp_path)
            view = view_of(scene, scene.shots[0])
            for words, keys in said_of_camera(scene):
                further = float((place_of(keys) - view.shot.at) @ view.cameras[view.middle].world_from_camera[:, 2])
                was = parse(LENGTH, first["focus"])
                then = keys.get("shots[0].focus", first["focus"])
                assert parse(LENGTH, then) == pytest.approx(was + further, abs=6e-4), words
                assert (f"focus at {then}" in words) == ("shots[0].focus" in keys), words
                moved += "shots[0].focus" in keys
    assert moved >= 3


def said_of_camera(scene: Scene) -> Iterator[tuple[str, dict[str, Any]]]:
    """All ways that stand the first shot's camera elsewhere and leave its aim: in words, and what they write."""
    for look, notes in looked_at(scene).noted.items():
        if look.shot in ("", scene.shots[0].id):
            for way in (way for ways in notes.ways for way in islice(ways(), 12)):
                keys = {change.key: change.value for change in way.changes}
                if "shots[0].at" in keys and "shots[0].aim" not in keys:
                    yield way.words, keys


def place_of(keys: dict[str, Any]) -> Any:
    """Where the camera then stands. [m]"""
    return np.array([parse(LENGTH, each) for each in keys["shots[0].at"]])


def test_a_compromise_from_further_off_gives_what_it_says_to_who_does_what_it_says(tmp_path: Path) -> None:
    """Place, focus and aim as its words have them, written by hand: the vehicle is sharp, and all is in order."""
    small = [("cameras.small.lens", "7 mm"), ("cameras.small.smallest", "f/4"), ("shots[0].focal_length", 7),
             ("shots[0].f_number", "f/4"), ("shots[0].focus", "500 mm")]  # fmt: skip
    (told,) = predicted(data := broken(*small), tmp_path).compromises
    said = re.search(r"at: \[(.*)\], and focus at (.*), not 500 mm: .* aim higher, at (.*) from", told.words)
    assert said is not None, told.words
    place, focus, aim = said.groups()
    done = broken(*small, *(("shots[0]." + key, told.split(", ")) for key, told in (("at", place), ("aim", aim))),
                  ("shots[0].focus", focus))  # fmt: skip
    assert found(looked(data, tmp_path), "focus.vehicle").verdict is Verdict.WATCH
    assert [each.id for each in looked(done, tmp_path).findings if each.verdict is not Verdict.FINE] == []
