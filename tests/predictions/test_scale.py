"""What `check` says of a full-size camera, on a shot worked by hand."""

from pathlib import Path

import pytest
from broken_scenes import broken, found, predicted, read

from previz.delivery.cut.page import _found
from previz.predictions import BLUR, Figure, Verdict, brief_of_shot, predict, rows, to_mend_and_watch
from previz.telling import check_lines

CLOSE = (
    ("scale", "1:50"),
    ("set.road.lane", "3.5 m full size"),
    ("cameras.small.sensor", [36, 24]),
    ("cameras.small.lens", "50 mm"),
    ("cameras.small.nearest", 100),
    ("shots[0].focal_length", 50),
    ("shots[0].f_number", "f/6.25"),
    ("shots[0].focus", "500 mm"),
)


def test_the_full_size_lens_and_the_sensor_that_would_do_are_those_of_a_lens_focused_close(tmp_path: Path) -> None:
    """50 mm focused at 500 mm, f/6.25, 1:50; thin lens (OpenStax University Physics 3, sec. 2.4), by hand.

    v = 55.56 mm; pupil 8 mm, 400 mm at full size: f/0.1389. A 45 mm pupil (common practice) is 0.1125 of that, and a
    5.625 mm lens from the same place draws what 36 mm take in on 36 * 5.689 / 55.556 = 3.69 mm.
    """
    predictions = predicted(broken(*CLOSE), tmp_path)
    shot = predictions.shots[0]
    assert shot.value("full_size_pupil") == pytest.approx(0.400)
    assert shot.value("full_size_focal_length") * 1000 == pytest.approx(55.56, abs=0.005)
    assert shot.value("full_size_f_number") == pytest.approx(0.1389, abs=5e-5)
    assert shot.value("sensor_for_full_size") * 1000 == pytest.approx(3.69, abs=0.005)
    assert shot.value("distance_for_full_size") * 1000 == pytest.approx(500 * 0.1125)
    # What no shop sells is a figure and no remedy.
    told = found(predictions, "scale.blur")
    assert "mm wide" not in told.remedy and not told.changes
    # What nothing mends is a figure and no finding, as people are told it; where a stop does, it is one.
    assert told.verdict is Verdict.WATCH and "scale.blur" not in {each.id for each in predictions.told}
    few = broken(("shots[0].f_number", "f/1.4"))
    mended = predicted(few, tmp_path)
    assert "scale.blur" in {each.id for each in mended.told}
    scene = read(few, tmp_path)
    (said,) = [text for label, text in brief_of_shot(scene, scene.shots[0], mended.shots[0].figures) if label == BLUR]
    assert said == "as by a lens opening of 72 mm at full size; films of vehicles mostly have 5 to 45 mm"
    text = "\n".join(check_lines(scene, mended, ["pass"], everything=False))
    assert text.count("lens opening") == 1 and "\n  blur " not in text


def test_a_blur_that_nobody_asked_about_and_no_stop_mends_is_counted_nowhere(tmp_path: Path) -> None:
    """Check, the page of a cut, that of a comparison and `watch` count alike, whether remedies were tried or not."""
    scene = read(broken(*CLOSE), tmp_path)
    tried, untried = predict(scene), predict(scene, remedies=False)
    assert found(tried, "scale.blur").verdict is found(untried, "scale.blur").verdict is Verdict.WATCH
    counts = {to_mend_and_watch(each.told, "pass") for each in (tried, untried)}
    assert len(counts) == 1
    ((stops, watches),) = counts
    first, *_ = check_lines(scene, tried, ["pass"], everything=False)
    assert f", {watches} to watch" in first
    page = _found([each for each in tried.told if each.shot])
    assert [sum(each["verdict"] == kind for each in page) for kind in ("stop", "watch")] == [stops, watches]
    assert not any("lens opening" in each["message"] for each in page)


def test_who_wants_full_size_is_told_of_a_blur_that_no_stop_mends(tmp_path: Path) -> None:
    few = broken(*CLOSE)
    plain = predicted(few, tmp_path)
    wanted = predicted(few | {"wants": [{"looks": "full size"}]}, tmp_path)
    (stops, watches), then = to_mend_and_watch(plain.told, "pass"), to_mend_and_watch(wanted.told, "pass")
    assert then == (stops, watches + 1)
    text = "\n".join(
        check_lines(read(few | {"wants": [{"looks": "full size"}]}, tmp_path), wanted, ["pass"], everything=False)
    )
    assert "watch  Blur is as by a lens opening" in text and "\n  blur " not in text


@pytest.mark.parametrize(
    ("lens", "told"),
    [
        ({}, "56 (f/11 is this lens's smallest stop)"),
        ({"widest": "f/6.25", "smallest": "f/6.25"}, "56 (f/6.25 is this lens's only stop)"),
        ({"smallest": "f/90"}, "56"),
    ],
)
def test_a_stop_that_the_lens_has_not_is_told_as_one(tmp_path: Path, lens: dict[str, str], told: str) -> None:
    """50 mm at 1:50 want 50 * 50 / 45 = 55.6: f/56, which lies past the stops that lenses mark."""
    figures = predicted(broken(*CLOSE, *((f"cameras.small.{key}", value) for key, value in lens.items())), tmp_path)
    (row,) = rows(each for each in figures.shots[0].figures if each.quantity == "f_number_for_full_size")
    assert row.told == told


def test_the_scale_that_a_blur_suggests_is_told_as_a_scale_beside_the_real_one(tmp_path: Path) -> None:
    """A pupil of 8 mm against an eye's usual 4.6 mm (Spring and Stiles 1948, as in apparent_scale.py): 1:87 at 1:50."""
    figures = predicted(broken(*CLOSE), tmp_path).shots[0].figures
    implied = [each for each in figures if each.quantity == "implied_share"]
    assert implied[0].value == pytest.approx(4.6 / (50 * 8))
    assert (rows(implied)[0].value, rows(implied)[0].beside) == ("1:87", "this one is 1:50")
    # What is blurred less than the real thing would be is no enlargement.
    assert rows([Figure("implied_share", 1.3)])[0].value == "1:1"
