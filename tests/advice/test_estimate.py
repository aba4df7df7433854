"""What the search estimates of a way to make a shot is what `check` says of it once it is written into the scene.

Two roads: the estimate multiplies arrays out from a few moments of the shot as it was; `predict` lays the new shot open
frame by frame.
"""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from random_problems import problem

from previz.advice.applied import Checked, checked, dialled
from previz.advice.estimate import ways_of
from previz.advice.problem import Problem, _framing_as_written, _pulsing, problem_of
from previz.advice.search import Table, Way
from previz.errors import PrevizError
from previz.predictions import SHARP_SHARE, Verdict, predict, view_of
from previz.predictions.checks.framing import CUT
from previz.scene import read_scene

SCENES = Path(__file__).parents[2] / "scenes"


def some_way(found: Problem, rng: np.random.Generator) -> Way:
    """A way at random, from a place and with a lens that `check` has something to say of."""
    number = int(rng.integers(len(found.options)))
    option = found.options[number]
    back, up = float(rng.choice(found.backs)), float(rng.choice(found.ups))
    stands = found.places(np.array([back]), np.array([up]))
    focal = dialled(option, float(rng.uniform(option.focal.least, option.focal.most)))
    stop = float(rng.choice([each for each in option.stops if each >= option.camera.widest_at(focal)]))
    covered = found.covered_at(option.shape, stands) / 0.985
    framings = found.framings(option, stands, covered, np.array([[focal]]))
    table = Table(found, number, framings, np.array([stop]), ways_of(option, found.launches))
    return table.way(int(rng.integers(len(framings))), 0, int(rng.integers(len(table.ways))))


@pytest.fixture(scope="module")
def pairs(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Problem, Way, Checked]]:
    """Ways as estimated and as checked: of random problems with every want, and of the demo scenes."""
    wants: list[dict[str, Any]] = [
        {"fills": "40 %"}, {"sharp": "run"}, {"sharp": "mid-frame"}, {"background": "soft"}, {"looks": "full size"},
        {"speed": "50 to 60 km/h"}, {"lasts": "at least 2 s"}, {"iso": "at most 800"}, {"edges": "hidden"},
        {"flicker": "none"}, {"motion_blur": "at most 10 %"},
    ]  # fmt: skip
    folder, rng = tmp_path_factory.mktemp("problems"), np.random.default_rng(5)
    scenes = [problem(number, folder, wants=wants) for number in range(14)]
    scenes += [read_scene(SCENES / f"{name}.yaml", changes={"wants": wants}) for name in ("quay_lorry", "snow_bus")]
    found = []
    for scene in scenes:
        laid = problem_of(scene, scene.shots[0])
        for _ in range(3):
            way = some_way(laid, rng)
            try:
                found.append((laid, way, checked(laid, way)))
            except PrevizError as error:  # a way that cannot be written is not looked at here
                assert "focus" in str(error) or "aim" in str(error), error
    assert len(found) > 30
    return found


def estimated(found: Problem, way: Way, name: str) -> float:
    return way.figures[[demand.figure for demand in found.demands].index(name)]


def seen(pair: tuple[Problem, Way, Checked]) -> bool:
    """Whether the vehicle is well in the picture of a camera that stands free: else there is no figure to compare."""
    found, way, _ = pair
    if found.places(np.array([way.back]), np.array([way.up])).stuck[0] > 0:
        return False
    return estimated(found, way, "lasts") > 0.3 and math.isfinite(estimated(found, way, "width"))


# A place is rounded to a millimetre, so that a vehicle that is near comes out a little larger or smaller.
@pytest.mark.parametrize(
    ("name", "quantity", "within"),
    [("pupil", "full_size_pupil", 1e-3), ("speed", "apparent_speed", 0.01), ("smear", "vehicle_blur_share", 0.06)],
)
def test_figures_that_check_has_too(pairs: Any, name: str, quantity: str, within: float) -> None:
    compared = 0
    for found, way, held in filter(seen, pairs):
        if name == "smear" and way.launch:
            continue  # the speed changes on the way; the estimate goes by that mid-shot
        moment, then = found.stretch.view.mid_picture, held.view.mid_picture
        if name == "speed" and found.scene.vehicle.launch is not None and moment != then:
            continue  # likewise, and by that in the middle of the picture as written
        value = held.predictions.shots[0].value(quantity)
        assert estimated(found, way, name) == pytest.approx(value, rel=within, abs=1e-9)
        compared += 1
    assert compared > 8


@pytest.mark.parametrize("height", [-90, -50, 20, 90, 140, 150])
def test_a_vehicle_that_check_says_is_cut_off_is_so_in_the_estimate(height: int) -> None:
    """Aimed lower and higher, by as much of it as is cut off; the moments looked at are others."""
    scene = read_scene(SCENES / "quay_lorry.yaml")
    aim = [f"{1000 * each} mm" for each in scene.shots[0].aim.place[:2]]
    scene = read_scene(SCENES / "quay_lorry.yaml", changes={"shots[0].aim": [*aim, f"{height} mm"]})
    shows = float(_framing_as_written(problem_of(scene, scene.shots[0])).shows[0])
    cut = predict(scene, remedies=False).shots[0].value("cut_share")
    assert shows == pytest.approx(1 - cut, abs=0.06)
    assert (cut > CUT) == (height not in (20, 90))


def test_a_focus_mid_frame_is_that_of_the_shot() -> None:
    scene = read_scene(SCENES / "quay_lorry.yaml", changes={"shots[0].focus": "vehicle mid-frame"})
    found = problem_of(scene, scene.shots[0])
    here = found.places(np.array([0.0]), np.array([0.0])).focus_as_written[0]
    # It is told to the nearest of the moments looked at; the shot's own lies between two of them.
    assert here == pytest.approx(view_of(scene, scene.shots[0]).focus[0], rel=0.01)
    assert float(np.ptp(here)) == 0.0


def test_the_time_in_the_picture_is_that_of_check_within_two_frames(pairs: Any) -> None:
    for found, way, held in pairs:
        frame = 1 / float(held.shot.playback)
        longest = held.view.count * frame
        # Of ninety frames at most that check looks at, each stands for a few.
        near = 2 * frame + longest * 0.03
        assert estimated(found, way, "lasts") == pytest.approx(
            held.predictions.shots[0].value("time_in_frame"), abs=near
        ), held.changes


def test_ripple_and_iso_are_those_of_check(pairs: Any) -> None:
    for found, way, held in filter(seen, pairs):
        ripples = [each.value for each in held.predictions.shots[0].figures if each.quantity in ("ripple", "bands")]
        # The share of lamps on the mains goes by the light on the shot as written; it is set right here.
        there = max(_pulsing(held.view), 1e-9) / max(found.light.pulsing, 1e-9)
        assert estimated(found, way, "ripple") * there == pytest.approx(max(ripples, default=0.0), abs=1e-6)
        if way.focus < 3 * way.focal:
            continue  # focused so close, the millimetre to which a place is rounded changes the light that gets through
        lux = held.view.light.vehicle.total
        here = float(found.metered.at(np.array([way.back]), np.array([way.up]))[0])
        iso = estimated(found, way, "iso") * here / lux
        correction = 2.0 ** float(held.shot.capture.exposure)
        assert iso == pytest.approx(held.predictions.shots[0].value("iso_needed") * correction, rel=0.01)


def test_the_light_between_places_that_were_metered_is_within_half_a_stop(pairs: Any) -> None:
    off = []
    for found, way, held in filter(seen, pairs):
        if found.places(np.array([way.back]), np.array([way.up])).depths[0].min() < 0.03:
            continue  # so near that it sees a corner of the vehicle and no more
        here = float(found.metered.at(np.array([way.back]), np.array([way.up]))[0])
        off.append(abs(math.log2(here / held.view.light.vehicle.total)))
    assert np.median(off) < 0.2
    assert max(off) < 1.0


def test_what_is_sharp_is_what_check_calls_sharp(pairs: Any) -> None:
    compared = 0
    for found, way, held in filter(seen, pairs):
        blur = estimated(found, way, "sharp_run")
        if math.isnan(blur) or 0.93 < blur < 1.07:
            continue  # so near to the limit that a millimetre of a tape decides
        share = held.predictions.shots[0].value("vehicle_sharp_share")
        if 0.8 < share < 0.97:
            continue  # and so near to the share that a frame does
        assert (blur < 1) == (share >= SHARP_SHARE), (blur, share, held.changes)
        compared += 1
    assert compared > 15


def test_a_picture_that_is_held_within_the_set_sees_nothing_past_it(pairs: Any) -> None:
    inside = outside = 0
    for found, way, held in pairs:
        field, pixels = estimated(found, way, "edges"), held.predictions.shots[0].value("off_set_pixels")
        if field < 0.985:
            inside += 1
            assert pixels == 0, (field, pixels, held.changes)
        elif field > 1.08 and found.stretch.locked_off:
            outside += 1
            assert pixels > 0, (field, pixels, held.changes)
    assert inside > 2
    assert outside > 2


def _lamp_in_picture(finding: Any) -> bool:
    """Which the search does not estimate: what has one is tried, and is no plan."""
    return finding.id.startswith("gear.frame.")


def test_what_the_estimate_lets_pass_check_does_not_stop(pairs: Any) -> None:
    for _, way, held in pairs:
        stopped = {each.id for each in held.stops if each.shot and not _lamp_in_picture(each)}
        if way.stops == 0:
            assert not stopped - {"light.iso", "light.iso_range", "light.exposure"}, (way, held.changes)


def test_what_check_stops_the_estimate_does_not_let_pass(pairs: Any) -> None:
    stopped = [
        (way, held)
        for _, way, held in pairs
        if any(each.verdict is Verdict.STOP and each.shot and not _lamp_in_picture(each) for each in held.stops)
    ]
    assert stopped
    for way, held in stopped:
        assert way.stops > 0, [each.id for each in held.stops]
