"""Remedies that programs apply: a scene with the changes of any finding written into it can be read again."""

from pathlib import Path
from typing import Any

import pytest
from broken_scenes import broken, changed, found, predicted, read
from test_findings import BROKEN, launched
from test_place import BROKEN as MISPLACED

from previz.predictions import Verdict

CASES = [changes for changes, *_ in (*BROKEN, *MISPLACED)]
CASES += [
    [("shots[0].capture.iso", 51200)],
    [("lights[0].output", "50 lm"), ("lights[1].ambient", "1 lx")],
    [("lights[1].ambient", "90 klx"), ("shots[0].f_number", "f/11")],
    [("shots[0].f_number", "f/11"), ("cameras.small.nearest", 600), ("vehicle.speed", "9 m/s")],
    list(launched(height=20, rolling="3 %")),
]

#: A zoom that opens to f/2.8 where the shot has it, and less further out: f/1.4 to f/4 over 4.2 to 25 mm.
ZOOM = [
    ("cameras.small.widest_at_longest", "f/4"),
    ("shots[0].focal_length", 15.4),
    ("shots[0].at", [1500, -1700, 90]),
]


def zoomed(changes: list[tuple[str, Any]]) -> list[tuple[str, Any]]:
    """The same faults on a zoom that loses light; a stop it has not there is opened as far as it goes."""
    stops = {"f/1.4": "f/2.8", "f/2.8": "f/2.8"}
    return [*ZOOM, *((key, stops.get(value, value) if key.endswith("f_number") else value) for key, value in changes)]


@pytest.mark.parametrize("lens", [list, zoomed], ids=["prime", "zoom"])
@pytest.mark.parametrize("number", range(len(CASES)))
def test_the_changes_of_every_remedy_can_be_read(number: int, lens: Any, tmp_path: Path) -> None:
    data = broken(*lens(CASES[number]))
    written = [finding for finding in predicted(data, tmp_path).findings if finding.changes]
    for finding in written:
        read(changed(data, finding.changes), tmp_path)


@pytest.mark.parametrize("light,key,value", [(0.5, "shots[0].f_number", "f/2.8"), (0.32, "lights[0].output", None)])
def test_a_zoom_that_loses_light_is_not_opened_past_what_it_has_left(
    light: float, key: str, value: str | None, tmp_path: Path
) -> None:
    dim = [("lights[0].output", f"{60 * light:g} klm"), ("lights[1].ambient", f"{900 * light:g} lx")]
    # f/1.4 at the short end, but (15.4 - 4.2) / 20.8 of the way to f/4 at the long one: f/2.8. From f/4 that is a
    # stop, enough for the one and not for the other, which wants f/2.2.
    data = broken(*ZOOM, *dim, ("shots[0].f_number", "f/4"))
    (change,) = found(predicted(data, tmp_path), "light.iso").changes
    assert change.key == key
    assert value is None or change.value == value


def test_zooming_in_stops_a_lens_down_that_opens_less_there(tmp_path: Path) -> None:
    # 8 mm opens to f/1.9; a lorry of 333 mm from 12.3 m is 3.9 % of 5.6 mm wide, and 11 mm opens to f/2.2 only.
    far = [*ZOOM, ("shots[0].focal_length", 8), ("shots[0].at", [1500, -12000, 90]), ("shots[0].f_number", "f/2")]
    finding = found(predicted(broken(*far), tmp_path), "framing.small")
    assert finding.verdict is Verdict.WATCH
    assert [change.key for change in finding.changes] == ["shots[0].focal_length", "shots[0].f_number"]
    mended = predicted(changed(broken(*far), finding.changes), tmp_path)
    assert found(mended, "framing.small").verdict is Verdict.FINE
