"""Answers about the set come in the unit that most of the file's lengths are in; in data everything stays SI."""

from pathlib import Path
from typing import Any

import pytest
from broken_scenes import GOOD, broken, changed, found, looked, predicted, read

from previz.predictions import GLOSSARY, Change, brief_of_shot, rows

#: Written off a data sheet, in millimetres whatever tape lies on the set.
OF_THE_CAMERA = {"sensor": ["5.6 mm", "4.2 mm"], "nearest": "60 mm", "focal_length": "4.2 mm"}
COUNTS = {"seed", "floors", "copies", "f_number"}


def rewritten(data: Any, factor: float, key: str = "") -> Any:
    """The same scene with every bare length in another unit."""
    if key in OF_THE_CAMERA:
        return OF_THE_CAMERA[key]
    if isinstance(data, dict):
        return {name: rewritten(each, factor, name) for name, each in data.items()}
    if isinstance(data, list):
        return [rewritten(each, factor, key) for each in data]
    if isinstance(data, str) and data.startswith("cove "):
        return f"cove {float(data.removeprefix('cove ')) / factor}"
    number = isinstance(data, int | float) and not isinstance(data, bool)
    return data / factor if number and key not in COUNTS else data


def in_unit(unit: str, factor: float) -> dict[str, Any]:
    return {**rewritten(GOOD, factor), "units": unit}


@pytest.mark.parametrize(
    "unit,factor,tape", [("in", 25.4, "in"), ("ft", 304.8, "ft"), ("cm", 10, "cm"), ("m", 1e3, "mm")]
)
def test_the_tape_is_that_of_the_file_s_lengths(unit: str, factor: float, tape: str, tmp_path: Path) -> None:
    assert read(in_unit(unit, factor), tmp_path).tape_unit == tape


def test_the_unit_that_most_lengths_are_in_wins_over_the_line_at_the_top(tmp_path: Path) -> None:
    # 2 of 26 lengths on the set in inches are not most of them; all of a small file's are.
    few = broken(("set.table.width", "120 in"), ("set.table.depth", "3 ft"))
    assert read(few, tmp_path).tape_unit == "mm"
    spelt = rewritten(GOOD, 25.4)
    spelt = changed(spelt, [Change("shots[0].at", ["59 in", "-5.9 in", "2.8 in"])])
    del spelt["units"]
    with pytest.raises(Exception, match="no unit"):
        read(spelt, tmp_path)  # nothing is taken for granted


def test_numbers_are_the_same_whatever_the_tape(tmp_path: Path) -> None:
    metric, inch = looked(GOOD, tmp_path), looked(in_unit("in", 25.4), tmp_path)
    for one, other in zip(metric.shots[0].figures, inch.shots[0].figures, strict=True):
        # The pictures' samples of the set are cast alike to rounding, but for a ray that grazes an edge.
        assert one.quantity == other.quantity
        if one.quantity == "sheets":  # where inches are written, others are sold
            assert (
                other.of.partition(" (")[0].endswith("US poster board") or "ANSI" in other.of or "Bristol" in other.of
            )
            assert not any(name in one.of for name in ("US", "ANSI", "Bristol"))
            continue
        assert one.of == other.of
        # Light is found by rays, too: some hundred to a place, of which one may go the other way.
        within = 1e-3 if GLOSSARY[one.quantity].group == "Light" else 1e-6
        assert other.value == pytest.approx(one.value, rel=within, abs=1e-9), one.quantity


def test_what_a_tape_measures_is_told_in_its_unit_and_the_camera_in_millimetres(tmp_path: Path) -> None:
    inch = changed(in_unit("in", 25.4), [Change("cameras.small.nearest", "500 mm"), Change("shots[0].focus", 18)])
    predictions = predicted(inch, tmp_path)
    finding = found(predictions, "focus.nearest")
    assert finding.message == "Focus goes down to 18 in; the lens focuses from 19 11/16 in."
    # 500 mm are 19.685 in, and a millimetre more to the next sixteenth 19 3/4 in: what is told is what was tried.
    assert finding.remedy.startswith("Focus at 19 3/4 in or further")
    assert finding.changes == (Change("shots[0].focus", "19 3/4 in"),)
    assert (finding.value, finding.unit) == (pytest.approx(18 * 0.0254), "m")
    table = {row.label: (row.value, row.unit) for row in rows(predictions.shots[0].figures, "in")}
    assert table["focus, from the middle of the lens"] == ("18", "in")
    assert table["focal length"] == ("4.2", "mm")
    assert table["camera height at full scale"][1] == "ft"
    scene, shot = read(inch, tmp_path), predictions.shots[0]
    miles = shot.value("apparent_speed") * 3600 / 1609.344  # a mile in metres: the international yard of 1959
    assert f"{miles:.0f} mph at full size" in dict(brief_of_shot(scene, scene.shots[0], shot.figures))["speed"]


def test_every_finding_of_a_scene_in_inches_keeps_to_them(tmp_path: Path) -> None:
    # What stays metric: sensors and focal lengths.
    metric = ("sensor", "Zoom in", "lens")
    broken_all = changed(
        in_unit("in", 25.4),
        [Change("shots[0].at", [59, -40, 12]), Change("set.backdrop.height", 4), Change("dressing[1].at", [59, 18])],
    )
    told = [each for each in predicted(broken_all, tmp_path).findings if each.verdict != "fine"]
    assert any(" in " in each.message for each in told)
    for each in told:
        if not any(word in each.message + each.remedy for word in metric):
            assert " mm" not in each.message + each.remedy, each


def test_only_lengths_are_measured_with_a_tape() -> None:
    assert all(quantity.unit == "m" for quantity in GLOSSARY.values() if quantity.tape)


def test_what_is_said_of_the_real_thing_is_in_feet_to_who_measures_in_inches(tmp_path: Path) -> None:
    """By hand, at 1:24: 8 in of lane are 16 ft, of real ones 2.7 to 3.75 m; a foot of fence is 24 ft."""
    wide = changed(in_unit("in", 25.4), [Change("set.road.lane", 8)])
    wide["dressing"] = [*wide["dressing"], {"id": "tall", "piece": "fence", "at": [40, 24], "length": 9, "height": 12}]
    told = predicted(wide, tmp_path)
    lane = found(told, "sizes.lane")
    assert "16.00 ft at full size; most real ones measure 8.86 to 12.30 ft" in lane.message
    assert lane.remedy.startswith("Make it 5 3/4 in, 11.48 ft at full size.")
    assert lane.changes == (Change("set.road.lane", "11.4829 ft full size"),)
    assert "is 12 in high, 24 ft at full size" in found(told, "slips.tall").message
    metric = found(predicted(changed(GOOD, [Change("set.road.lane", 8 * 25.4)]), tmp_path), "sizes.lane")
    assert "4.88 m at full size; most real ones measure 2.70 to 3.75 m" in metric.message


def test_a_size_that_no_set_has_is_refused_in_the_file_s_own_unit(tmp_path: Path) -> None:
    with pytest.raises(Exception, match="2000 in on the table; at most 787 3/8 in is built"):
        read(changed(in_unit("in", 25.4), [Change("set.table.width", 2000)]), tmp_path)


def test_a_move_in_inches_leaves_what_stays_where_it_is(tmp_path: Path) -> None:
    """59.03 in and 2.8 in lie between the marks of a tape, 59 1/16 and 2 13/16: what is not moved is not rounded."""
    off = changed(in_unit("in", 25.4), [Change("cameras.small.nearest", "500 mm"), Change("shots[0].focus", "vehicle")])
    square = [Change("shots[0].at", [59.03, -5.9, 2.8]), Change("shots[0].aim", [59.03, 15.7, 3.1])]
    near = found(predicted(changed(off, square), tmp_path), "focus.nearest")
    (change,) = near.changes
    assert change.key == "shots[0].at" and change.value[0] == "59.03 in" and change.value[1] != "-5.9 in"


def test_no_remedy_writes_millimetres_of_the_set_into_a_file_in_inches(tmp_path: Path) -> None:
    sunk = changed(
        in_unit("in", 25.4), [Change("shots[0].at", [59, 5.9, -0.2]), Change("cameras.small.body", [4, 3, 4])]
    )
    near = changed(in_unit("in", 25.4), [Change("set.road.centre", [[-8, 0.5], [126, 0.5]])])
    written = [
        change for data in (sunk, near) for each in predicted(data, tmp_path).findings for change in each.changes
    ]
    places = [change for change in written if change.key.endswith((".at", ".path", ".centre", ".offset"))]
    assert places and " mm" not in str(places) and " in" in str(places)


def test_a_cove_that_does_not_fit_is_told_by_the_maker_s_tape(tmp_path: Path) -> None:
    coved = in_unit("in", 25.4) | {}
    coved["set"] = coved["set"] | {"backdrop": {"distance": 30, "height": 12, "join": "cove 14", "colour": "#888888"}}
    with pytest.raises(Exception, match="a cove of 14 in does not fit a backdrop 12 in high at a distance of 30 in"):
        predicted(coved, tmp_path)
