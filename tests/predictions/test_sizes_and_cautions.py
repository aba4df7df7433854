"""Real sizes (checks.md section 7), safe areas (B7) and the usual precautions (section 14)."""

from pathlib import Path
from typing import Any

import pytest
from broken_scenes import broken, predicted, read

from previz.predictions.cautions import cautions_for
from previz.predictions.check_framing import ACTION_SAFE, TITLE_SAFE
from previz.predictions.check_sizes import FLOOR, HEIGHTS, LANE

# --- section 7: what is real must pass ---


@pytest.mark.parametrize("lane", [2.7, 3.048, 3.6, 3.65, 3.6576])
def test_lanes_of_the_standards_pass(lane: float) -> None:
    # R1, FHWA-SA-07-011 ch. 3 table 3: 2.7 to 3.6 m and 9 to 12 ft; R2, 3.65 m, Highway Engineering p. 154: both seen
    assert LANE.low <= lane <= LANE.high


@pytest.mark.parametrize(
    "kind,real",
    [
        ("cone", 18 * 0.0254),  # R7, MUTCD 6F.64: seen
        ("cone", 28 * 0.0254),
        ("guard_rail", 27.75 * 0.0254),  # R9, FHWA memorandum 17 May 2010: seen
        ("guard_rail", 30 * 0.0254),
        ("broadleaf", 18.0),  # R14, FHWA-RD-97-028 table 2: seen
        ("broadleaf", 30.0),
        ("conifer", 27.0),
        ("conifer", 55.0),
    ],
)
def test_real_heights_pass(kind: str, real: float) -> None:
    assert HEIGHTS[kind].low <= real <= HEIGHTS[kind].high


def test_a_door_fits_under_a_floor() -> None:
    # R15, 80 in = 2032 mm and 1981 mm, trade pages: as quoted
    assert FLOOR.low > 2.032


def test_a_60_mm_tree_beside_a_1_64_car_is_a_sapling(tmp_path: Path) -> None:
    # The note under R14: 3.8 m
    data = broken(("scale", "1:64"), ("dressing[0].height", 60), ("set.road.lane", "3.5 m full size"))
    assert predicted(data, tmp_path).value("piece_height", "tree") == pytest.approx(3.84, abs=0.005)
    assert HEIGHTS["conifer"].low > 3.84


def test_eye_height_at_scale(tmp_path: Path) -> None:
    # R3, driver's eye 3.50 ft [1.08 m], AASHTO text: as quoted. 16.88 mm at 1:64 in the table's rounding (1.08 m / 64).
    data = broken(("scale", "1:64"), ("shots[0].at", [1500, -150, 16.88]))
    assert predicted(data, tmp_path).shots[0].value("eye_height") == pytest.approx(1.08, abs=0.005)


# --- B7 ---


def test_safe_areas_of_a_1920_by_1080_picture() -> None:
    # B7, BKSTS Illustrated Dictionary 4th ed. app. B, insets 67.2/37.8 and 96/54 px: seen
    for share, across, down in ((ACTION_SAFE, 67.2, 37.8), (TITLE_SAFE, 96.0, 54.0)):
        assert (1 - share) / 2 * 1920 == pytest.approx(across)
        assert (1 - share) / 2 * 1080 == pytest.approx(down)


# --- section 14 ---


@pytest.mark.parametrize(
    "change,caution,word",
    [
        (("lights[0].diffusion", "1 stop"), "lamp.diffusion", "label"),
        (("lights[0].mains", True), "lamp.mains", "licensed"),
        (("lights[0].mains", True), "clip.flashes", "three flashes"),  # B4, WCAG 2.2: seen
        (("vehicle.launch", {"ramp": {"height": 150, "length": 600}}), "ramp.raised", "tip"),
    ],
)
def test_a_caution_comes_with_what_calls_for_it_and_not_before(
    change: tuple[str, Any], caution: str, word: str, tmp_path: Path
) -> None:
    before = {each.id for each in cautions_for(read(broken(), tmp_path))}
    changes = [change, ("vehicle.speed", None)] if change[0].startswith("vehicle") else [change]
    after = {each.id: each for each in cautions_for(read(broken(*changes), tmp_path))}
    assert caution not in before
    assert word in after[caution].precaution
    assert after[caution].source


def test_loose_pieces_call_for_the_small_parts_caution(tmp_path: Path) -> None:
    # 16 CFR 1501.4 as quoted: 31.75 mm by 57.15 mm
    (caution,) = (each for each in cautions_for(read(broken(), tmp_path)) if each.id == "parts.small")
    assert "31.75 mm by 57.15 mm" in caution.precaution
    bare = broken(("dressing", []))
    assert not [each for each in cautions_for(read(bare, tmp_path)) if each.id == "parts.small"]
