"""From which ISO noise shows: 12800 on full frame (common practice, no source), elsewhere by area."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, found, looked, predicted

from previz.predictions import Verdict


def limit(sensor: list[float], mode: Any, folder: Path) -> float:
    """Of the finding on a shot whose camera has that sensor [mm] and mode, at a lens of a quarter of its width."""
    focal = max(sensor) * 0.75
    keys = [
        ("cameras.small.sensor", sensor), ("cameras.small.lens", f"{focal} mm"), ("shots[0].focal_length", focal),
        ("cameras.small.modes", [mode]),
    ]  # fmt: skip
    return found(predicted(broken(*keys), folder), "light.iso").limit


@pytest.mark.parametrize(
    ("sensor", "mode", "iso"),
    [
        ([36, 24], "1080p120", 12800),
        # A one-inch sensor has (13.2 * 8.8) / (36 * 24) = 0.1344 of the area, and so has its 16:9 of full frame's.
        ([13.2, 8.8], "1080p120", 1720),
        ([8.8, 13.2], "1080x1920 at 120 fps", 1720),
        # Half of the width and height is a quarter of the area.
        ([36, 24], {"mode": "1080p120", "crop": 2}, 3200),
        # 4:3 of 17.3 x 13 mm against the 32 x 24 mm that full frame has for it.
        ([17.3, 13.0], "1440x1080 at 120 fps", 12800 * (17.3 * 12.975) / (32 * 24)),
    ],
)
def test_noise_goes_with_the_area_of_the_picture(sensor: Any, mode: Any, iso: float, tmp_path: Path) -> None:
    assert limit(sensor, mode, tmp_path) == pytest.approx(iso, rel=0.002)


def test_an_estimated_iso_loses_the_picture_half_a_stop_later_than_one_that_is_set(tmp_path: Path) -> None:
    """Two stops past the limit, which common practice sets (no source); `check` knows an ISO of auto to half a stop."""
    dim = [("lights[0].output", "1 lm"), ("shots[0].capture.iso", "auto")]
    bright = looked(broken(*dim, ("lights[1].ambient", "100 lx")), tmp_path)
    value, most = found(bright, "light.iso").value, found(bright, "light.iso").limit
    for stops, verdict, set_verdict in (
        (0.1, Verdict.WATCH, Verdict.WATCH),
        (1.9, Verdict.WATCH, Verdict.WATCH),
        (2.4, Verdict.WATCH, Verdict.STOP),
        (2.6, Verdict.STOP, Verdict.STOP),
    ):
        # Hardly anything but the ambient light falls on the vehicle: ISO goes with one over it.
        lux = 100 * value / (most * 2**stops)
        here = looked(broken(*dim, ("lights[1].ambient", f"{lux:.6g} lx")), tmp_path)
        assert found(here, "light.iso").verdict is verdict, stops
        fixed = looked(broken(("shots[0].capture.iso", round(most * 2**stops))), tmp_path)
        assert found(fixed, "light.iso").verdict is set_verdict, stops


def test_an_iso_set_higher_than_the_light_takes_asks_for_no_more_light(tmp_path: Path) -> None:
    here = looked(broken(("shots[0].capture.iso", 6400)), tmp_path)
    assert found(here, "light.exposure").value > 2  # it is far too bright
    noise = found(here, "light.iso")
    assert noise.message.startswith("It is set to ISO 6400, though the light takes about ISO ")
    assert "more light" not in noise.remedy
    dim = broken(("lights[0].output", "1 lm"), ("lights[1].ambient", "5 lx"), ("shots[0].capture.iso", 6400))
    wants = found(looked(dim, tmp_path), "light.iso")
    # As dark as that it lacks what the ISO it takes is past the limit, not what the one that is set is.
    needed = looked(dim, tmp_path).shots[0].value("iso_needed")
    assert f"It takes {math.log2(needed / wants.limit):.1f} stops more light than there is" in wants.remedy


def test_on_random_sensors_as_many_photons_make_as_much_noise(tmp_path: Path) -> None:
    """Shot noise by counting: a picture's signal over its noise is the root of its photons. From a seed.

    Photons go with area and exposure, and exposure with 1 / ISO: at the limit all have the same of them.
    """
    rng = np.random.default_rng(10)
    photons = []
    for width in rng.uniform(5, 40, 6):
        sensor = [round(float(width), 2), round(float(width) * 9 / 16, 4)]
        area = sensor[0] * sensor[1]
        photons.append(rng.poisson(area * 1e9 / limit(sensor, "1080p120", tmp_path)))
    assert photons == pytest.approx([photons[0]] * 6, rel=0.01)


def test_noise_and_an_iso_that_the_camera_has_not_are_told_in_one(tmp_path: Path) -> None:
    """Both out of order, in one with the worse verdict; a fourteenth of a stop past a camera's last ISO is not told."""
    dim = [("lights[0].output", "500 lm"), ("lights[1].ambient", "7 lx")]
    needed = found(looked(broken(*dim), tmp_path), "light.iso").value
    for highest, past in ((needed / 2, True), (needed / 1.05, False)):
        predictions = looked(broken(*dim, ("cameras.small.iso", [50, round(highest)])), tmp_path)
        told = [each for each in predictions.told if each.id.startswith("light.iso")]
        noise, ends = (found(predictions, name) for name in ("light.iso", "light.iso_range"))
        assert (ends.verdict is not Verdict.FINE) is past and noise.verdict is Verdict.STOP
        bad = [each for each in told if each.verdict is not Verdict.FINE]
        assert [each.verdict for each in bad] == [Verdict.STOP] and "noise shows" in bad[0].message
        assert ("1.0 stops too dark" in bad[0].message) is past
