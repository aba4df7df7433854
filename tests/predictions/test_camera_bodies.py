"""The bodies of our own kit's cameras on the set."""

from pathlib import Path

import pytest
from broken_scenes import broken, found, read

from previz.predictions import Verdict, predict
from previz.scene import read_kit

KIT = Path(__file__).parents[2] / "scenes" / "kits" / "tabletop.yaml"


def test_a_body_in_the_kit_stands_as_its_picture_does() -> None:
    """A picture wider than high comes from a camera that is held wider than high (common practice, no source)."""
    for name, camera in read_kit(KIT).items():
        (wide, high), (body_wide, body_high, _) = camera.sensor, camera.body
        assert (wide > high) == (body_wide > body_high), name


@pytest.mark.parametrize(("height", "left"), [(40.0, 1.0), (38.0, -1.0)])
def test_a_phone_on_its_side_stands_low_over_the_table(height: float, left: float, tmp_path: Path) -> None:
    """Level, 78 mm high and held in the middle: 39 mm of it are under the entrance pupil. Worked by hand."""
    body = [f"{side * 1000:g} mm" for side in read_kit(KIT)["phone"].body]
    scene = read(
        broken(
            ("cameras.small.body", body),
            ("cameras.small.lens_size", ["12 mm", "2 mm"]),
            ("shots[0].at", [1500, 60, height]),
            ("shots[0].aim", [1500, 400, height]),
        ),
        tmp_path,
    )
    predictions = predict(scene, remedies=False)
    assert predictions.shots[0].value("body_clearance") == pytest.approx(left / 1000)
    assert found(predictions, "framing.body").verdict is (Verdict.FINE if left > 0 else Verdict.STOP)
