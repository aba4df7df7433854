"""Likely slips are asked about, and what is meant is not: on demos, on first scenes and on scenes from a seed."""

import json
import sys
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from broken_scenes import GOOD, broken, changed, found, looked, predicted, read

from previz.errors import PrevizError
from previz.predictions import Change, Finding, Verdict
from previz.predictions.checks.slips import check_slips, check_slips_of_shot
from previz.predictions.shot_view import view_of
from previz.scene import VEHICLE_SIZES, Scene, read_scene
from previz.starters import STARTS, TYPICAL, Wish, camera_text, starting_scene

sys.path.insert(0, str(Path(__file__).parents[1] / "light"))
from random_sets import written

ROOT = Path(__file__).parents[2]


def slips(scene: Scene) -> list[Finding]:
    """Of slips alone: nothing is metered."""
    notes = [check_slips(scene), *(check_slips_of_shot(view_of(scene, shot)) for shot in scene.shots)]
    return [finding for each in notes for finding in each.findings]


def asked(tmp_path: Path, *changes: tuple[str, Any]) -> list[Finding]:
    return slips(read(changed(GOOD, [Change(*change) for change in changes]), tmp_path))


# --- what is meant ---


@pytest.mark.parametrize("name", ["quay_lorry", "snow_bus", "night_van"])
def test_nothing_is_asked_of_a_demo(name: str) -> None:
    assert slips(read_scene(ROOT / "scenes" / f"{name}.yaml")) == []


def test_nothing_is_asked_of_a_first_scene(tmp_path: Path) -> None:
    tried = 0
    for number, (start, camera, scale) in enumerate(product(STARTS, TYPICAL, (24.0, 50.0, 87.0, 160.0))):
        name, text, typical = camera_text(camera)
        body = [*VEHICLE_SIZES][number % len(VEHICLE_SIZES)]
        wish = Wish(start, (1.4, 0.7), "mm", scale, body, {name: (text, typical)})
        path = tmp_path / "scene.yaml"
        try:
            path.write_text(starting_scene(wish), encoding="utf-8")
        except PrevizError:  # the table is too small for it
            continue
        assert slips(read_scene(path)) == []
        tried += 1
    assert tried > 30


def test_nothing_is_asked_of_scenes_from_a_seed(tmp_path: Path) -> None:
    path = tmp_path / "scene.yaml"
    for number in range(60):
        path.write_text(json.dumps(written(number)), encoding="utf-8")
        assert slips(read_scene(path)) == []


def test_fences_tables_and_rates_as_people_have_them_are_let_be(tmp_path: Path) -> None:
    """From a seed: tables from a board to a hall's, fences from knee height to a noise barrier's, cameras' rates."""
    rng = np.random.default_rng(6)
    for _ in range(100):
        fence = {
            "id": "f",
            "piece": "fence",
            "at": [1500, 700],
            "length": 600,
            "height": float(rng.uniform(0.3, 5)) * 1e3 / 24,
        }
        rate = str(rng.choice(["24 fps", "25 fps", "29.97 fps", "50 fps", "59.94 fps", "119.88 fps", "240 fps"]))
        sides = {"width": float(rng.uniform(0.25, 4.9)) * 1e3, "depth": float(rng.uniform(0.25, 4.9)) * 1e3}
        assert asked(tmp_path, ("dressing", [fence]), ("shots[0].capture.rate", rate), ("set.table", sides)) == []


def test_a_rate_that_a_mode_is_named_by_is_let_be(tmp_path: Path) -> None:
    modes = ["1080p240", "1080p100"]
    assert asked(tmp_path, ("shots[0].capture.rate", "100 fps"), ("cameras.small.modes", modes)) == []


# --- what is likely a slip ---


@pytest.mark.parametrize(
    ("changes", "name", "said", "meant"),
    [
        ([("set.table.width", 18000)], "slips.table", "table's width is 18000 mm.", "Did you mean 1800 mm or 709 mm?"),
        # 55 inches, its unit left out in a file in millimetres: 55 x 25.4 = 1397
        ([("set.table.depth", 55)], "slips.table", "The table's depth is 55 mm.", "Did you mean 550 mm or 1397 mm?"),
        ([("set.table.depth", 27)], "slips.table", "The table's depth is 27 mm.", "Did you mean 686 mm?"),
        (
            [("dressing[0]", {"id": "f", "piece": "fence", "at": [1500, 700], "length": 600, "height": 500})],
            "slips.f", "The fence f is 500 mm high, 12 m at full size.", "Did you mean 50 mm?",
        ),
        (  # 1.2 m written without saying that it is at full size
            [("dressing[0]", {"id": "f", "piece": "fence", "at": [1500, 700], "length": 600, "height": "1.2 m"})],
            "slips.f", "The fence f is 1200 mm high, 28.8 m at full size.",
            "Did you mean 50 mm (that at full size) or 120 mm?",
        ),
        (
            [("shots[0].focus", [{"time": "2.1 s", "at": 480}, {"time": "11 s", "at": 500}])],
            "slips.focus", "The last key of focus is at 11 s on set; the shot ends at 2.500 s on set.",
            "Did you mean 2.2 s? Times are those on set, not on screen.",
        ),
        (
            [("shots[0].aim", [{"time": "2.1 s", "at": "vehicle"}, {"time": "4 s", "at": "vehicle"}])],
            "slips.aim", "The last key of aim is at 4 s on set", "Did you mean a time before 2.500 s on set?",
        ),
        (
            [("shots[0].capture.rate", "119 fps")],
            "slips.rate", "Hardly any camera records at 119 fps; small has 1920x1080 at 240 fps.",
            "Did you mean 120 fps?",
        ),
        (  # by hand: diagonals of 36 x 24 and 8.2 x 6.2 mm, 43.27 / 10.28 = 4.21
            [("cameras.small.sensor", "1/1.56"), ("cameras.small.lens", "26 mm"), ("shots[0].focal_length", "26 mm")],
            "slips.lens", "The lens of small, 26 mm, is 109 mm equivalent on its sensor.",
            "Did you mean lens: 26 mm equivalent, which is 6.18 mm?",
        ),
        ([("shots[0].capture.rate", "29 fps")], "slips.rate", "at 29 fps", "Did you mean 30 fps?"),
        (  # other cameras have it; this one's modes are of 240 fps and what that is halved to
            [("shots[0].capture.rate", "100 fps")],
            "slips.rate", "No mode of small is said to record at 100 fps; it has 1920x1080 at 240 fps.",
            "Did you mean 120 fps? If its menu has 100 fps, add that mode to its modes.",
        ),
        (  # every rate of that size is listed, so that 1080p240 is no word for 25 fps
            [
                ("cameras.small.modes", ["1080p30", "1080p60", "1080p120", "1080p240"]),
                ("shots[0].capture.rate", "25 fps"),
            ],
            "slips.rate", "No mode of small is said to record at 25 fps; it has 1920x1080 at 30 fps,",
            "Did you mean 30 fps? If its menu has 25 fps, add that mode to its modes.",
        ),
        (  # 0.1 mm at 1:24 are 2.4 mm, and not nothing
            [("set.road.kerb", {"height": "0.1 mm"})],
            "sizes.kerb", "A kerb would be 0.0024 m at full size; most real ones measure 0.05 to 0.20 m", "Make it",
        ),
        (  # a lane as wide as a real one, on the table
            [("set.road", {"lane": "3.5 m", "centre": [[-100, 300], [3100, 300]]})],
            "sizes.lane", "It is 3.5 m on the table: did you mean 3.5 m full size?", "Make it 145.8 mm, 3.5 m at full",
        ),
    ],
)  # fmt: skip
def test_a_slip_is_asked_about(
    changes: list[tuple[str, Any]], name: str, said: str, meant: str, tmp_path: Path
) -> None:
    predictions = predicted(changed(GOOD, [Change(*change) for change in changes]), tmp_path)
    (finding,) = [each for each in predictions.findings if each.id == name]
    assert finding.verdict is Verdict.WATCH
    assert said in finding.message and finding.remedy.startswith(meant)


def test_a_speed_of_the_road_without_on_screen_is_asked_about_and_nothing_that_follows_from_it(tmp_path: Path) -> None:
    """By hand: 60 km/h is 16.7 m/s; half of 3.3 m of way at 1 g and half against it end at 5.7 m/s in the middle."""
    data = changed(GOOD, [Change("vehicle.speed", "60 km/h")])
    of_shot = [each for each in predicted(data, tmp_path).findings if each.shot]
    (finding,) = of_shot
    assert finding.verdict is Verdict.STOP and finding.value == pytest.approx(60 / 3.6)
    assert finding.limit == pytest.approx((9.80665 * 3.3) ** 0.5, rel=0.05)
    assert "The vehicle's speed of 60 km/h is 16.7 m/s on the table" in finding.message
    assert finding.remedy == "Did you mean speed: 60 km/h on screen?"
    mended = predicted(changed(data, finding.changes), tmp_path)
    assert mended.shots[0].value("apparent_speed") == pytest.approx(60 / 3.6, rel=1e-3)


@pytest.mark.parametrize("speed", ["60 km/h on screen", "3 km/h", "9 m/s"])
def test_a_speed_that_a_model_does_or_that_is_told_by_the_second_is_let_be(speed: str, tmp_path: Path) -> None:
    data = changed(GOOD, [Change("vehicle.speed", speed)])
    assert "shot.speed" not in [each.id for each in predicted(data, tmp_path).findings]


def test_a_speed_of_the_road_names_the_shot_where_they_are_slowed_unlike_each_other(tmp_path: Path) -> None:
    other = {**GOOD["shots"][0], "id": "other", "capture": {"rate": "60 fps"}}
    data = changed(GOOD, [Change("vehicle.speed", "40 mph"), Change("shots[1]", other)])
    found = [each for each in predicted(data, tmp_path).findings if each.id == "shot.speed"]
    asks = {f"Did you mean speed: 40 mph on screen in {each['id']}?" for each in data["shots"]}
    assert {each.remedy for each in found} == asks


def test_a_model_of_your_own_that_is_far_too_long_is_asked_about(tmp_path: Path) -> None:
    """2.8 m at 1:24: as it stands 67 m, a tenth of it 6.7 m; given at full size it would be 117 mm."""
    trimesh.creation.box((1.0, 0.4, 0.4)).export(tmp_path / "car.stl")
    own = [("vehicle.body", None), ("vehicle.mesh", "car.stl")]
    (finding,) = asked(tmp_path, *own, ("vehicle.length", "2.8 m"))
    assert finding.message == "The vehicle is 2800 mm long, 67.2 m at full size."
    assert finding.remedy == "Did you mean 117 mm (that at full size) or 280 mm?"
    assert asked(tmp_path, *own, ("vehicle.length", "280 mm")) == []


def test_slips_of_a_unit_are_found_and_what_was_meant_is_among_the_answers(tmp_path: Path) -> None:
    """From a seed: a table's width a thousandth, a tenth or ten times of what it is; past 20 m it is refused
    when read. One that passes for a table's is let be."""
    rng, asked_about = np.random.default_rng(3), 0
    for _ in range(60):
        width, factor = float(rng.integers(600, 2000)), float(rng.choice([0.001, 0.1, 10.0]))
        found = asked(tmp_path, ("set.table.width", round(width * factor, 3)))
        assert bool(found) == (not 200 <= round(width * factor, 3) <= 5000)
        assert all(f"{width:.0f} mm" in each.remedy for each in found)
        asked_about += bool(found)
    assert asked_about > 45


def test_a_remedy_that_names_a_rate_names_one_that_cameras_have(tmp_path: Path) -> None:
    """From a seed: speeds at which wheels, gaps and falls want another rate. What it names is asked about by none."""
    rng, named = np.random.default_rng(11), 0
    for _ in range(8):
        broken = [
            Change("vehicle.speed", f"{rng.uniform(0.8, 6):.3f} m/s"),
            Change("shots[0].start", "0.05 s"),
            Change("shots[0].capture", {"rate": f"{rng.choice([24, 30, 60])} fps", "shutter": "20 deg"}),
            Change("cameras.small.modes", [str(rng.choice(["1080p120", "1080p240", "720p960"]))]),
        ]
        data = changed(GOOD, broken)
        for finding in predicted(data, tmp_path).findings:
            if any(change.key == "shots[0].capture.rate" for change in finding.changes):
                assert slips(read(changed(data, finding.changes), tmp_path)) == [], finding
                named += 1
    assert named > 5


@pytest.mark.parametrize(
    ("lens", "nearest", "asked"),
    [
        ("4.2-25 mm", 2500, "did you mean nearest: 250 mm?"),
        ("4.2-50 mm", 40000, "look at its unit and at its noughts (nearest)."),
        ("4.2-25 mm", 900, ""),  # unusual, and told as it is
        ("4.2-300 mm", 2500, ""),
    ],
)
def test_a_lens_that_focuses_only_from_afar_is_asked_about(
    lens: str, nearest: float, asked: str, tmp_path: Path
) -> None:
    data = broken(("cameras.small.lens", lens), ("cameras.small.nearest", nearest))
    told = found(looked(data, tmp_path), "focus.nearest")
    assert told.verdict is Verdict.STOP and told.message.endswith(asked)
    assert ("Hardly a lens of that length" in told.message) == bool(asked)
