"""White balance against the colour of the lamps, bare bulbs, and shadows on the backdrop: told and mended."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from broken_scenes import GOOD, broken, changed, found, looked, predicted, read

from previz.paper.plan.lists import lamp_list
from previz.predictions import Change, Verdict, view_of

WARM = {"kelvin": "2700 K"}
BULB = {"id": "key", "bulb": 60, "at": [1500, -100, 900], "output": "20 klm", "colour": "2700 K", "mains": False}


@pytest.mark.parametrize(("kelvin", "looks"), [(3000, "orange"), (12000, "blue")])
def test_lamps_of_another_colour_than_the_white_balance_are_told_and_balancing_mends_it(
    tmp_path: Path, kelvin: int, looks: str
) -> None:
    """By hand: all light of 3000 K under 5600 K is 333.3 - 178.6 = 154.8 mired off; of 12000 K 83.3 - 178.6 = -95.2."""
    scene = broken(*((f"lights[{number}].colour", f"{kelvin} K") for number in (0, 1)))
    told = found(predicted(scene, tmp_path), "light.white")
    assert told.verdict is Verdict.WATCH and f"turns out {looks}" in told.message
    assert told.value * 1e6 == pytest.approx(1e6 / kelvin - 1e6 / 5600, abs=1)
    after = found(looked(changed(scene, told.changes), tmp_path), "light.white")
    assert after.verdict is Verdict.FINE and abs(after.value) < 5e-6  # not because it is written now


def test_a_white_balance_that_is_written_is_meant_and_so_is_a_gel(tmp_path: Path) -> None:
    warm = [("lights[0].colour", "2700 K"), ("lights[1].colour", "2700 K")]
    chosen = found(looked(broken(*warm, ("shots[0].capture.white_balance", "5600 K")), tmp_path), "light.white")
    assert chosen.verdict is Verdict.FINE and chosen.value * 1e6 == pytest.approx(191.8, abs=3)
    assert chosen.message == "Orange, as you wrote it: white balance 5600 K, the light on the vehicle about 2700 K."
    gelled = looked(broken(("lights[0].colour", "orange"), ("lights[1].colour", "orange")), tmp_path)
    assert all(each.id != "light.white" for each in gelled.findings)


def test_a_bare_bulb_lights_the_set_is_listed_and_brings_its_precautions(tmp_path: Path) -> None:
    data = changed(GOOD, [Change("lights[0]", BULB)])
    scene, predictions = read(data, tmp_path), looked(data, tmp_path)
    # Without anything between, a point of the vehicle's side gets I / d^2 times a cosine, and never more.
    nearest = np.linalg.norm(np.array([1.5, -0.1, 0.9]) - np.array([1.5, 0.36, 0.1]))
    lux = predictions.shot("pass").value("illuminance_vehicle", "key")
    assert 0.2 * 20000 / (4 * np.pi * nearest**2) < lux < 20000 / (4 * np.pi * nearest**2)
    assert {"lamp.bulb", "lamp.stand"} <= {each.id for each in predictions.cautions}
    lamps = lamp_list(scene)
    (row,) = [dict(zip(lamps.headings, row, strict=True)) for row in lamps.rows if row[0] == "key"]
    assert row["kind"] == "bare bulb, 60 mm across" and not row.get("faces")


#: A wall to the right of the vehicle, and a small lamp low on the left that throws its shadow on a painted sky behind.
PAINTED = {"distance": 890, "height": 900, "join": "cove 90", "painting": {"sky": "clear"}}
LOW = {"id": "key", "panel": [60, 60], "at": [200, -900, 400], "aim": [1500, 890, 200], "output": "20 klm",
       "mains": False}  # fmt: skip
SHADOWED = (
    ("set.backdrop", PAINTED),
    ("lights[0]", LOW),
    ("lights[1].ambient", "200 lx"),
    ("dressing", [{"id": "tower", "piece": "wall", "at": [1800, 650], "length": 120, "height": 250, "thickness": 40}]),
)


def _block(x: float, y: float, long: float, deep: float, high: float) -> np.ndarray:
    return np.array([[x + i * long / 2, y + j * deep / 2, k * high] for i in (-1, 1) for j in (-1, 1) for k in (0, 1)])


def test_the_shadow_of_a_piece_on_a_painted_backdrop_is_told_with_its_share(tmp_path: Path) -> None:
    """Against outlines: the wall's corners thrown on the backdrop from the lamp's middle, less what hides that."""
    scene = read(broken(*SHADOWED), tmp_path)
    told = found(looked(broken(*SHADOWED), tmp_path), "shadows.backdrop")
    assert told.verdict is Verdict.WATCH and "tower stands in the light of key" in told.message
    view = view_of(scene, scene.shots[0])
    lamp, tower = np.array([0.2, -0.9, 0.4]), _block(1.8, 0.65, 0.12, 0.04, 0.25)
    thrown = lamp + (tower - lamp) * ((0.89 - lamp[1]) / (tower[:, 1] - lamp[1]))[:, None]

    def outline(points: np.ndarray) -> shapely.Geometry:
        return shapely.convex_hull(shapely.multipoints(view.project(points)[0][view.middle]))

    sheet = outline(np.array([[x, 0.89, z] for x in (0.0, 3.0) for z in (0.09, 0.9)]))
    hidden = shapely.union_all([outline(tower), outline(view.vehicle_corners[view.middle])])
    seen = shapely.difference(shapely.intersection(sheet, shapely.box(0, 0, *view.size)), hidden)
    share = shapely.intersection(seen, outline(thrown)).area / seen.area
    assert share > 0.03
    assert told.value == pytest.approx(share, rel=0.15)


@pytest.mark.parametrize(
    ("changes", "begins"),
    [
        ([], "Hang key higher, "),
        ([("lights[0].at", [200, -900, 1200]), ("dressing[0].at", [1850, 800])], "Move tower "),
    ],
    ids=["lamp", "piece"],
)
def test_a_shadow_goes_with_a_higher_lamp_or_a_piece_further_off(
    changes: list[tuple[str, object]], begins: str, tmp_path: Path
) -> None:
    data = broken(*SHADOWED, *changes)
    told = found(predicted(data, tmp_path), "shadows.backdrop")
    assert told.verdict is Verdict.WATCH and told.remedy.startswith(begins)
    assert found(looked(changed(data, told.changes), tmp_path), "shadows.backdrop").verdict is Verdict.FINE


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ([("lights[0].at", [200, -900, 2300])], [Verdict.FINE]),  # it falls on the table
        ([("lights[1].ambient", "20000 lx")], [Verdict.FINE]),  # other light fills it
        ([("set.backdrop.painting", None), ("set.backdrop.colour", "grey")], []),  # a plain sheet is no far country
    ],
    ids=["high", "filled", "plain"],
)
def test_of_a_shadow_that_does_not_show_nothing_is_said(
    changes: list[tuple[str, object]], told: list[Verdict], tmp_path: Path
) -> None:
    said = looked(broken(*SHADOWED, *changes), tmp_path).findings
    assert [each.verdict for each in said if each.id == "shadows.backdrop"] == told
