"""A newcomer's scene goes from the first check to no stops by doing what is shown first, time and again.

`python tests/benchmarks/newcomer.py` follows many more, and says what is left of those that still stop.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from broken_scenes import broken, changed, found, looked, predicted
from newcomers import lit_by_a_bulb, newcomers_scene, stops_of, until_nothing_stops

from previz.predictions import Verdict, predict
from previz.scene import Scene


@pytest.mark.parametrize("made,seed", [(newcomers_scene, 2), (newcomers_scene, 15), (lit_by_a_bulb, 2)])
def test_doing_what_is_shown_first_ends_without_stops(
    made: Callable[[int, Path], Scene], seed: int, tmp_path: Path
) -> None:
    """One sees far past the table, one looks where nothing drives; no single key mends either.

    The last is lit by a bulb, on a small table, and its second camera was put where its maker liked.
    """
    scene = made(seed, tmp_path)
    first = predict(scene)
    assert stops_of(first)
    _, last, done = until_nothing_stops(scene, first)
    assert stops_of(last) == [], done


def test_a_camera_that_looks_past_the_vehicle_is_aimed_with_nothing_past_the_set_in_view(tmp_path: Path) -> None:
    """Aimed low past the table's front, and up over the backdrop: one remedy aims, and the picture is whole."""
    data = broken(("shots[0].aim", [1500, 150, 900]))
    shown = found(predicted(data, tmp_path), "framing.vehicle")
    assert shown.verdict is Verdict.STOP
    assert "shots[0].aim" in [change.key for change in shown.changes]
    mended = looked(changed(data, shown.changes), tmp_path)
    assert found(mended, "framing.vehicle").verdict is Verdict.FINE
    assert mended.shots[0].value("off_set_pixels") == 0


def test_where_the_whole_cannot_be_sharp_focus_on_the_vehicle_has_some_of_it_so(tmp_path: Path) -> None:
    """A big sensor and a long lens near by, wide open for good: what stops is that nothing at all is sharp."""
    fixed = [("cameras.small.sensor", "full frame"), ("cameras.small.lens", "35 mm"), ("cameras.small.widest", "f/2"),
             ("cameras.small.smallest", "f/2"), ("shots[0].focal_length", 35), ("shots[0].f_number", "f/2"),
             ("shots[0].focus", "300 mm")]  # fmt: skip
    data = broken(*fixed)
    shown = found(predicted(data, tmp_path), "focus.some")
    assert shown.verdict is Verdict.STOP
    assert ("shots[0].focus", "vehicle") in [(change.key, change.value) for change in shown.changes]
    mended = looked(changed(data, shown.changes), tmp_path)
    assert found(mended, "focus.some").verdict is Verdict.FINE
    assert found(mended, "focus.vehicle").verdict is Verdict.WATCH
