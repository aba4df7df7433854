"""White balance against the colour of the lamps, and bare bulbs: told, mended, and precautions with them."""

from pathlib import Path

import numpy as np
import pytest
from broken_scenes import GOOD, broken, changed, found, looked, predicted, read

from previz.paper.plan.lists import lamp_list
from previz.predictions import Change, Verdict

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
    (row,) = [row for row in lamp_list(scene).rows if row[0] == "key"]
    assert row[1] == "bare bulb, 60 mm across" and row[6] == ""  # it faces nothing
