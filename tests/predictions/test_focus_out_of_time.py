"""Focus that is set where the vehicle is not while the picture shows it: said, with when it is there."""

from pathlib import Path

import pytest
from broken_scenes import broken, found, looked

from previz.predictions import Verdict

#: The lorry comes towards the camera along x, at 0.75 m/s from x = -200 mm; a long lens wide open, so little is sharp.
TOWARDS = (
    ("cameras.small.sensor", [13.2, 8.8]),
    ("cameras.small.lens", "25 mm"),
    ("shots[0].focal_length", 25),
    ("shots[0].f_number", "f/1.4"),
    ("shots[0].at", [2700, 400, 90]),
    ("shots[0].aim", [0, 400, 70]),
    ("shots[0].start", "2 s"),
    ("shots[0].duration", "0.3 s"),
)


@pytest.mark.parametrize(
    ("focus", "says"),
    [
        # At 1 s its middle is at 750 - 200 = 550 mm; the shot begins at 2 s. By hand.
        ("vehicle at 1 s", "is focused where the vehicle is at 1 s on set, when it has not come into the picture yet"),
        ("vehicle at 3 s", "is focused where the vehicle is at 3 s on set, when it has left the picture"),
        # 2150 mm from the lens is x = 550 mm, which its middle passes at 1 s.
        ("2150 mm", "sharp at 1 s on set, before it comes into the picture, which shows it from 2 to 2.29 s."),
        ([2300, 400, 90], "after it has left the picture, which shows it from 2 to 2.29 s."),
        ("10 m", "Its way never comes to what is sharp."),
    ],
)
def test_a_focus_that_the_vehicle_is_not_at_while_it_is_seen_is_told(tmp_path: Path, focus: object, says: str) -> None:
    told = found(looked(broken(*TOWARDS, ("shots[0].focus", focus)), tmp_path), "focus.some")
    assert told.verdict is Verdict.STOP
    assert says in told.message


def test_nothing_of_the_kind_is_said_of_a_focus_in_time(tmp_path: Path) -> None:
    for focus in ("vehicle at 2.1 s", "vehicle"):
        told = looked(broken(*TOWARDS, ("shots[0].focus", focus)), tmp_path)
        assert found(told, "focus.some").verdict is Verdict.FINE
        assert "picture" not in found(told, "focus.vehicle").message
