"""Forced perspective: what gives a thing of another scale away, and that nothing is said where nothing does.

Places in the picture are worked out by hand, by similar triangles (`random_perspective.py`).
"""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from previz.predictions import Verdict, predict, view_of
from previz.scene import rewritten
from tests.predictions.broken_scenes import read
from tests.predictions.random_perspective import Drawn, drawn, far_house, in_view, sure, told

SEEDS = range(40)


def test_on_sets_of_one_scale_it_is_silent(tmp_path: Path) -> None:
    for seed in (1, 2, 3):
        case = drawn(seed, "one scale")
        assert told(read(case.data, tmp_path)) == []
        case.data["dressing"][1]["scale"] = f"1:{case.scale:g}"  # written out, it is no other
        assert told(read(case.data, tmp_path)) == []


def test_beside_a_house_of_the_sets_scale_its_foot_gives_it_away_as_reckoned_by_hand(tmp_path: Path) -> None:
    fired = silent = 0
    for case in (drawn(seed) for seed in SEEDS):
        expected = sure(case)
        if expected is None or not in_view(case):
            continue
        finding = far_house(case.data, tmp_path)
        assert finding is not None and finding.quantity in ("foot_off", "blur_off"), case.data
        if expected:
            assert finding.verdict is Verdict.WATCH and "its foot is in the picture" in finding.message
            # Its sides reach a little further back than its front, and are of the median.
            if finding.quantity == "foot_off":
                assert finding.value == pytest.approx(case.foot_off(), rel=0.12)
        else:
            assert "its foot" not in finding.message, case.data
        fired, silent = fired + expected, silent + (not expected)
    assert fired >= 5 and silent >= 2  # both were asked


def test_well_behind_with_its_foot_hidden_it_is_silent(tmp_path: Path) -> None:
    seen = 0
    for seed in range(12):
        finding = far_house(drawn(seed, "behind").data, tmp_path)
        assert finding is None or finding.verdict is Verdict.FINE, finding
        seen += finding is not None
    assert seen >= 6


@pytest.fixture(scope="module")
def phone() -> Drawn:
    """A phone at a stop that makes nothing of it blurred."""
    return next(case for case in map(drawn, SEEDS) if case.sensor[0] < 0.01 and sure(case) and in_view(case))


def _changed(case: Drawn, far: dict[str, Any], *more: dict[str, Any], **shot: Any) -> dict[str, Any]:
    data = {**case.data, "dressing": [case.data["dressing"][0], {**case.data["dressing"][1], **far}, *more]}
    data["shots"] = [{**case.data["shots"][0], **shot}]
    return data


def test_raised_to_where_its_foot_would_be_it_is_silent(phone: Drawn, tmp_path: Path) -> None:
    """By similar triangles: raised by the eye's height times 1 - 1/m, a foot is on the line to that m times as far."""
    times = phone.own / phone.scale * 2.4 / 3.2
    x, y = phone.data["dressing"][1]["at"]
    half, whole = (
        far_house(_changed(phone, {"at": [x, y, share * phone.eye * (1 - 1 / times) * 1000]}), tmp_path)
        for share in (0.5, 1.0)
    )
    assert half is not None and half.value == pytest.approx(phone.foot_off() / 2, rel=0.15)
    assert whole is not None and whole.verdict is Verdict.FINE and whole.quantity != "foot_off"


@pytest.mark.parametrize(
    "far",
    [
        {"piece": "conifer", "floors": None, "depth": None},  # 12 m at that scale is 6 m at the set's
        {"piece": "stone", "floors": None, "depth": None},
        {"scale": "1:SET"},
    ],
)
def test_what_may_as_well_be_of_the_sets_scale_is_let_be(far: dict[str, Any], phone: Drawn, tmp_path: Path) -> None:
    far = {
        key: value.replace("SET", f"{phone.scale * 1.2}") if isinstance(value, str) else value
        for key, value in far.items()
    }
    data = _changed(phone, far)
    data["dressing"][1] = {key: value for key, value in data["dressing"][1].items() if value is not None}
    finding = far_house(data, tmp_path)
    assert finding is None or (finding.verdict is Verdict.FINE and "passes for one of the set's own" in finding.message)


def test_where_nothing_is_of_the_sets_scale_there_is_nothing_to_compare(phone: Drawn, tmp_path: Path) -> None:
    data = _changed(phone, {})
    del data["dressing"][0]
    assert told(read({**data, "set": {"table": data["set"]["table"]}}, tmp_path)) == []


def test_a_larger_scale_before_the_lens_is_told_too(phone: Drawn, tmp_path: Path) -> None:
    """The mirror case: a foot that is higher in the picture than that of something so near; out of it, nothing says."""
    large = {"scale": f"1:{phone.scale / 2.2:g}", "piece": "container", "at": [1500, 420]}
    data = _changed(phone, large)
    data["dressing"][1] = {key: value for key, value in data["dressing"][1].items() if key not in ("floors", "depth")}
    finding = far_house(data, tmp_path)
    assert finding is not None and finding.verdict is Verdict.WATCH
    assert "or less" in finding.message and "above where it would stand" in finding.message
    eye = phone.eye * 1000
    data["shots"][0] |= {"aim": [1500, 1000, eye + 700], "at": [1500, -200, eye]}
    finding = far_house(data, tmp_path)
    assert finding is None or "its foot" not in finding.message


def test_it_covers_what_its_size_has_before_it(phone: Drawn, tmp_path: Path) -> None:
    """Containers of the set's scale close behind it, foot out of sight: a far house does not cover what is nearer."""
    x, y = phone.data["dressing"][1]["at"]
    wide = 9000 / phone.own
    behind = {"id": "covered", "piece": "container", "stack": 3, "at": [x + 0.6 * wide, y + 90]}
    hedge = {"id": "hedge", "piece": "hedge", "at": [x, y - 60], "length": 700, "height": 15}
    finding = far_house(_changed(phone, {}, behind, hedge), tmp_path)
    assert finding is not None and finding.verdict is Verdict.WATCH
    assert finding.quantity == "covers_nearer" and "it covers covered" in finding.message
    # The lowest floors make it m times as far as it stands; a container is at most 2.896 m high where it is 2.591 m.
    lens, times = phone.data["shots"][0]["at"][1], phone.own / phone.scale * 2.4 / 3.2
    front = y - 30 - lens, y + 90 - 1219 / phone.scale - lens
    assert finding.value == pytest.approx(times * front[0] / (2.896 / 2.591 * front[1]), rel=0.03)
    apart = dict(behind, at=[x + 3 * wide, y + 90])
    assert far_house(_changed(phone, {}, apart, hedge), tmp_path).verdict is Verdict.FINE  # type: ignore[union-attr]


def test_a_camera_that_moves_past_gives_it_away(phone: Drawn, tmp_path: Path) -> None:
    """By hand: a point d off moves v t / d over the sensor as the lens moves t aside; m times as far off, 1/m of it."""
    x, y = phone.data["dressing"][1]["at"]
    hedge = {"id": "hedge", "piece": "hedge", "at": [x, y - 60], "length": 700, "height": 15}
    lens, eye = phone.data["shots"][0]["at"][1], phone.eye * 1000
    keys = [{"time": "0 s", "at": [1500, lens, eye]}, {"time": "0.2 s", "at": [1700, lens, eye]}]
    aims = [{"time": "0 s", "at": [1500, 1000, eye]}, {"time": "0.2 s", "at": [1700, 1000, eye]}]
    data = _changed(phone, {}, hedge, at=keys, aim=aims)
    scene = read(data, tmp_path)
    (finding,) = told(scene)
    assert finding.verdict is Verdict.WATCH and finding.quantity == "passes_off"
    image = phone.focal * phone.focus / (phone.focus - phone.focal)
    times, depth = phone.own / phone.scale * 2.4 / 3.2, (y - lens) / 1000
    cameras = view_of(scene, scene.shots[0]).cameras
    moved = float(cameras[-1].position[0] - cameras[0].position[0])
    off = image * moved / depth * (1 - 1 / times) / phone.sensor[0]
    assert finding.value == pytest.approx(off, rel=0.05)
    turning = _changed(phone, {}, hedge, aim=aims)
    assert far_house(turning, tmp_path).verdict is Verdict.FINE  # type: ignore[union-attr]


def test_near_what_is_sharp_its_blur_gives_it_away(tmp_path: Path) -> None:
    """A large sensor wide open: close behind the plane of focus it is sharper than what is as far as it looks."""
    case = next(each for each in map(drawn, SEEDS) if each.sensor[0] > 0.03)
    lens = case.data["shots"][0]["at"][1]
    hedge = {"id": "hedge", "piece": "hedge", "at": [1550, 560], "length": 900, "height": 15}
    data = _changed(case, {"at": [1550, 620]}, hedge, f_number=2, focus=580 - lens)
    finding = far_house(data, tmp_path)
    assert finding is not None and finding.quantity == "blur_off" and finding.verdict is Verdict.WATCH
    times = case.own / case.scale * 2.4 / 3.2
    focal, focus, depth = 50.0, 580 - lens, 620 - lens
    discs = [focal / 2 * (1 - focus / d) * focal / (focus - focal) for d in (depth, depth * times)]
    sharp = max(np.hypot(36, 20.25) / 1500, 36 / 1920)
    assert finding.value == pytest.approx(max(discs[1], sharp) / max(discs[0], sharp), rel=0.03)


def test_the_remedy_hides_its_foot_and_holds(phone: Drawn, tmp_path: Path) -> None:
    scene = read(phone.data, tmp_path)
    (finding,) = [each for each in predict(scene).findings if each.id == "perspective.far"]
    assert finding.verdict is Verdict.WATCH and finding.remedy.startswith("Hide its foot: a hedge")
    then = rewritten(scene, {change.key: change.value for change in finding.changes})
    assert [each.verdict for each in told(then)] == [Verdict.FINE]


def test_a_vehicle_of_another_scale_is_told_by_its_wheels_on_the_road(phone: Drawn, tmp_path: Path) -> None:
    data = {**phone.data, "dressing": phone.data["dressing"][:1], "vehicle": {"body": "van", "speed": "0.5 m/s"}}
    data["vehicles"] = {
        "far": {"body": "van", "scale": f"1:{phone.own:g}", "speed": "0.2 m/s", "path": [[1300, 420], [1700, 420]]}
    }
    data["shots"] = [{**phone.data["shots"][0], "start": "0.5 s", "duration": "0.8 s"}]
    finding = far_house(data, tmp_path)
    assert finding is not None and finding.verdict is Verdict.WATCH and "its foot is in the picture" in finding.message
