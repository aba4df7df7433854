"""A focus that follows the vehicle, as who pulls it does: while the picture shows it, and no further."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, read

from previz.layout import camera_at, frame_times
from previz.predictions import Verdict, focus_marks, view_of
from previz.predictions.checks.focus import check_focus
from previz.predictions.checks.framing import passes
from previz.predictions.shot_view import ShotView

#: A way that comes slantwise past the camera, ever nearer to it.
NEARER = [[300, 850], [2900, 0]]


def laid_open(tmp_path: Path, *changes: tuple[str, Any]) -> ShotView:
    follows = ("shots[0].focus", "vehicle"), ("vehicle.path", NEARER), ("shots[0].start", "0.2 s")
    scene = read(broken(*follows, ("shots[0].duration", "3.2 s"), *changes), tmp_path)
    count = frame_times(scene, scene.shots[0]).count
    return view_of(scene, scene.shots[0], np.arange(count))


def to_its_middle(view: ShotView) -> np.ndarray:
    """How far along the axis of each frame's camera the vehicle's middle is, by its corners. (n,) [m]"""
    return view.depths(view.vehicle_corners.mean(axis=1, keepdims=True))[:, 0]


def test_focus_waits_for_the_vehicle_and_stays_where_it_left(tmp_path: Path) -> None:
    view = laid_open(tmp_path)
    ((first, last),) = passes(view)
    assert 0 < first < last < len(view.focus) - 1
    depths = to_its_middle(view)
    assert view.focus[first : last + 1] == pytest.approx(depths[first : last + 1], abs=1e-4)
    assert (view.focus[:first] == view.focus[first]).all() and (view.focus[last:] == view.focus[last]).all()
    assert depths[-1] < view.focus[-1] - 0.1  # where it would have gone
    # As drawn: at any moment of the shot, and before and after that it follows.
    shot, rate = view.shot, float(view.shot.capture.rate)
    for frame in (first // 2, (last + len(view.focus)) // 2):
        at = camera_at(view.scene, shot, float(shot.start) + (frame + 0.3) / rate)
        assert at.focus_distance == view.focus[0 if frame < first else -1]


def test_marks_of_focus_are_where_it_goes(tmp_path: Path) -> None:
    view = laid_open(tmp_path)
    ((first, last),) = passes(view)
    frames = [mark.frame for mark in focus_marks(view)]
    assert (frames[0], frames[-1]) == (first, last)


def test_what_it_would_come_to_unseen_is_not_too_near(tmp_path: Path) -> None:
    """The way passes nearer to the lens than it focuses once the picture shows nothing of the vehicle any more."""
    view = laid_open(tmp_path)
    least, would = float(view.focus.min()), float(to_its_middle(view).min())
    assert 0 < would < least
    between = laid_open(tmp_path, ("cameras.small.nearest", f"{(least + would) / 2 * 1000} mm"))
    beyond = laid_open(tmp_path, ("cameras.small.nearest", f"{(least + 0.01) * 1000} mm"))
    found = [
        {each.id: each.verdict for each in check_focus(each).findings}["focus.nearest"] for each in (between, beyond)
    ]
    assert found == [Verdict.FINE, Verdict.STOP]


def test_between_two_passes_it_goes_from_one_to_the_other(tmp_path: Path) -> None:
    """The way leads out of the picture, and back into it further off."""
    there_and_back = [[300, 100], [2900, 200], [2900, 700], [300, 800]]
    view = laid_open(tmp_path, ("vehicle.path", there_and_back), ("shots[0].duration", "8 s"))
    (_, leaves), (comes, _) = passes(view)
    assert view.focus[leaves : comes + 1] == pytest.approx(
        np.linspace(view.focus[leaves], view.focus[comes], comes - leaves + 1)
    )
    assert view.focus[comes] > view.focus[leaves] + 0.2
    seen = view.vehicle_in_frame
    assert view.focus[seen] == pytest.approx(to_its_middle(view)[seen], abs=1e-4)
