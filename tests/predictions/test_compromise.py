"""The compromise of a shot: as good as the best of the full stops tried one by one; what its maker chose stays."""

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, predicted, read
from random_scenes import random_scene

from previz.physics.exposure import THIRD_STOP_F_NUMBERS
from previz.predictions import Predictions, Verdict, in_brief, predict, view_of
from previz.predictions import compromise as room
from previz.predictions.agreed import MENDED
from previz.predictions.compromise import WANTS
from previz.scene import rewritten

#: A longer lens near by in dimmer light: sharpness wants f/11, noise f/2, the sensor's pixels f/4.
TORN = [
    ("lights[0].output", "12 klm"),
    ("lights[1].ambient", "180 lx"),
    ("shots[0].focal_length", 12),
    ("shots[0].at", [1500, -400, 70]),
]


def standing(predictions: Predictions) -> tuple[int, int]:
    bad = [each for each in predictions.findings if each.id in WANTS and each.verdict is not Verdict.FINE]
    stops = sum(each.verdict is Verdict.STOP for each in bad)
    return stops, len(bad) - stops


@pytest.mark.parametrize("stop", ["f/1.4", "f/8"])
def test_no_single_stop_does_better(stop: str, tmp_path: Path) -> None:
    scene = read(broken(*TORN, ("shots[0].f_number", stop)), tmp_path)
    before = predict(scene)
    settled = scene
    for each in before.compromises:
        settled = rewritten(scene, {change.key: change.value for change in each.changes})
    found = standing(predict(settled, remedies=False))
    stops = ("1.4", "2", "2.8", "4", "5.6", "8", "11")
    tried = [standing(predict(rewritten(scene, {"shots[0].f_number": f"f/{each}"}), remedies=False)) for each in stops]
    assert found <= min(tried), (before.compromises, dict(zip(stops, tried, strict=True)))


def test_what_it_satisfies_and_gives_up_is_what_is_then_found(tmp_path: Path) -> None:
    scene = read(broken(*TORN, ("shots[0].f_number", "f/8")), tmp_path)
    (told,) = predict(scene).compromises
    after = predict(rewritten(scene, {change.key: change.value for change in told.changes}), remedies=False)
    verdicts = {WANTS[each.id]: each.verdict for each in after.findings if each.id in WANTS}
    assert {name for name, verdict in verdicts.items() if verdict is Verdict.FINE} == set(told.satisfies)
    left = {name for name, verdict in verdicts.items() if verdict is not Verdict.FINE}
    assert left == {each.partition(" (")[0] for each in told.gives_up}


def test_a_chosen_focus_pull_stays(tmp_path: Path) -> None:
    pull: list[dict[str, Any]] = [{"time": "2.05 s", "at": "700 mm"}, {"time": "2.5 s", "at": "vehicle"}]
    predictions = predicted(broken(*TORN, ("shots[0].focus", pull), ("shots[0].f_number", "f/2")), tmp_path)
    written = [change.key for each in (*predictions.findings, *predictions.compromises) for change in each.changes]
    assert standing(predictions) > (0, 0)
    assert not [key for key in written if "focus" in key]


def test_a_lens_of_one_stop_is_told_of_no_other(tmp_path: Path) -> None:
    one = [("cameras.small.widest", "f/1.8"), ("cameras.small.smallest", "f/1.8"), ("shots[0].f_number", "f/1.8")]
    predictions = predicted(broken(*TORN, *one), tmp_path)
    assert standing(predictions) > (0, 0)
    shown = [*(each.remedy for each in predictions.findings), *(each.words for each in predictions.compromises)]
    assert not [each for each in shown if "Leave it as it is" in each or "Open up" in each]


def test_what_promises_most_with_more_light_may_have_another_focus(tmp_path: Path) -> None:
    """Seed 51: it is another shot laid open than what promises most as it is lit, and the two were held to be alike."""
    assert predicted(random_scene(51), tmp_path).compromises


@pytest.mark.parametrize("lens,key", [("4.2-25 mm", "focal_length"), ("7 mm", "at")])
def test_where_no_stop_has_it_sharp_the_vehicle_gets_smaller(lens: str, key: str, tmp_path: Path) -> None:
    """f/4 is the smallest stop: at 7 mm the lorry is longer than what is sharp, at four fifths of that it is not."""
    small = [("cameras.small.lens", lens), ("cameras.small.smallest", "f/4")]
    scene = read(broken(*small, ("shots[0].focal_length", 7), ("shots[0].f_number", "f/4")), tmp_path)
    (told,) = predict(scene).compromises
    assert [change.key for change in told.changes] == [f"shots[0].{key}"]
    then = rewritten(scene, {change.key: change.value for change in told.changes})
    assert [each.id for each in predict(then, remedies=False).findings if each.verdict is not Verdict.FINE] == []
    before, after = (
        np.ptp(view_of(each, each.shots[0]).vehicle_frame[:, ::2], axis=1).mean() for each in (scene, then)
    )
    assert "80 % as long" in told.words and after / before == pytest.approx(0.8, abs=0.02)


def test_a_place_in_keys_stays(tmp_path: Path) -> None:
    moves: list[dict[str, Any]] = [{"time": "2 s", "at": [1500, -150, 70]}, {"time": "2.6 s", "at": [1500, -140, 70]}]
    small = [("cameras.small.lens", "4.2-25 mm"), ("cameras.small.smallest", "f/4"), ("shots[0].at", moves)]
    scene = read(broken(*small, ("shots[0].focal_length", 7), ("shots[0].f_number", "f/4")), tmp_path)
    written = [change.key for each in predict(scene).compromises for change in each.changes]
    assert not [each for each in written if "focal_length" in each or each.endswith(".at")]


def test_noise_that_shows_is_not_traded_for_twice_the_iso(tmp_path: Path) -> None:
    """The smallest stop and a shorter lens have it sharp and blurred as at full size, at over twice the ISO."""
    dim = [("lights[0].output", "8 klm"), ("lights[1].ambient", "120 lx"), ("shots[0].f_number", "f/2")]
    scene = read(broken(*TORN, *dim, ("shots[0].focal_length", 9)), tmp_path)
    before = predict(scene)
    (told,) = before.compromises
    after = predict(rewritten(scene, {change.key: change.value for change in told.changes}), remedies=False)
    (was,), (then,) = ([each for each in one.findings if each.id == "light.iso"] for one in (before, after))
    assert told.changes and was.verdict is Verdict.WATCH
    assert then.value < 2 * was.value


def test_it_opens_no_further_than_takes_the_noise(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blur asks for the smallest stop, noise for f/4.5 or wider: between two full stops, and far from the smallest."""

    def candidate(trial: Any, option: Any, stop: float) -> Any:
        blur = (0, 1, round(20 / stop, 2))
        return SimpleNamespace(stop=stop, score=(0, 1 + (stop > 4.5), blur[2]), unlit=blur)

    monkeypatch.setattr(room, "_at", lambda option, stop: stop)
    monkeypatch.setattr(room, "_candidate", candidate)
    thirds = [each for each in THIRD_STOP_F_NUMBERS if 1.8 <= each <= 22]
    option: Any = SimpleNamespace(view=SimpleNamespace(stops=thirds))
    found: list[Any] = room._at_stops(None, option)  # type: ignore[arg-type,assignment]
    assert min(found, key=lambda each: each.score).stop == 4.5
    assert min(found, key=lambda each: each.unlit).stop == 22


@pytest.mark.parametrize(("stop", "focus"), [("f/4", "vehicle mid-frame"), ("f/5.6", "600 mm")])
@pytest.mark.parametrize("over", [1.3, 2.0])
def test_it_has_the_shutter_that_check_would_find_next(over: float, stop: str, focus: str, tmp_path: Path) -> None:
    """Of a lens of one stop, on a camera whose lowest ISO is so many times what the shot takes."""
    lens = [("cameras.small.widest", stop), ("cameras.small.smallest", stop), ("shots[0].f_number", stop)]
    shot = [*lens, *TORN[2:], ("shots[0].focus", focus), ("lights[0].output", "300 klm")]
    takes = predict(read(broken(*shot), tmp_path), remedies=False).shots[0].value("iso_needed")
    scene = read(broken(*shot, ("cameras.small.iso", [round(over * takes), 51200])), tmp_path)
    (told,) = predict(scene).compromises
    assert WANTS["light.iso_range"] in told.newly and len(told.newly) > 1, told
    then = predict(rewritten(scene, {change.key: change.value for change in told.changes}), remedies=False)
    assert not [each for each in then.findings if each.id.startswith("light.iso") and each.verdict is not Verdict.FINE]


def test_a_lamp_that_it_moves_is_moved_for_its_shot_alone_and_says_so(tmp_path: Path) -> None:
    """In dim light the lamp has to come nearer; another shot, lit otherwise, uses it too."""
    data = broken(
        *TORN[2:], ("lights[0].output", "6 klm"), ("lights[1].ambient", "20 lx"), ("shots[0].f_number", "f/8")
    )
    other = {"id": "other", "lights": {"room": {"ambient": "500 lx"}}}
    data["shots"].append(data["shots"][0] | other)
    scene = read(data, tmp_path)
    before = predict(scene)
    own = next(each for each in before.compromises if each.shot == "pass")
    (lamp,) = [change for change in own.changes if "lights" in change.key]
    assert lamp.key == "shots[0].lights.key" and "move key" in own.words
    assert f"In pass alone: lights: {{key: {{at: [{', '.join(lamp.value['at'])}]}}}}." in own.words
    # As it is written there, the other shot stays as it was.
    told = own.words.partition("In pass alone: ")[2].partition(" {key: {at: [")[2].partition("]")[0].split(", ")
    data["shots"][0] |= {"lights": {"key": {"at": told}}}
    looked = [predict(each, remedies=False) for each in (scene, read(data, tmp_path))]
    theirs = [[each for each in one.findings if each.shot == "other"] for one in looked]
    assert theirs[0] == theirs[1] and looked[0].shot("pass") != looked[1].shot("pass")
    # Beside the compromise what it mends says no more than that.
    mended = [each for each in before.findings if each.shot == "pass" and each.changes == own.changes]
    assert mended and {in_brief(each, before.compromises).remedy for each in mended} == {MENDED}
