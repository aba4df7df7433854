"""Marks for whoever pulls focus: where it is as the shot begins, ends, turns round, and between."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from previz.physics import optics
from previz.predictions.shot_view import ShotView
from previz.scene import FocusKey

#: Less than this nobody sees on a tape: such a focus is set once. [m]
_STILL = 0.001

#: Distances that agree to so many digits are alike, so that a set that is turned round has the same marks. [m]
_ALIKE = 6

#: So many marks a hand can follow in a shot. Common practice, no source.
_MOST = 5


@dataclass(frozen=True, eq=False)
class FocusMark:
    """Where focus is at one frame.

    Parameters
    ----------
    frame : int
        Its number in the shot.
    time : float
        On set. [s]
    distance : float
        From the entrance pupil along the lens axis. [m]
    from_sensor : float
        What a tape from the sensor mark reads. [m]
    place : (3,) float
        The point of the axis that is sharp then. [m]
    """

    frame: int
    time: float
    distance: float
    from_sensor: float
    place: NDArray[np.float64]

    @property
    def when(self) -> str:
        """As it is told."""
        return f"frame {self.frame}, {self.time:.2f} s"


def focus_marks(view: ShotView) -> tuple[FocusMark, ...]:
    """Three to five marks in the order of their frames, more of a focus with more keys; none where focus stays.

    First, last, nearest and furthest, those that its maker keyed, and others between, where it moves most.
    """
    focus = view.focus
    if np.ptp(focus) < _STILL:
        return ()
    last = len(focus) - 1
    chosen = {0, last, *_turns(focus)}
    for key in view.shot.focus if isinstance(view.shot.focus, tuple) else ():
        assert isinstance(key, FocusKey)  # scene: focus is one focus or keys of them
        at = int(np.argmin(np.abs(view.times - key.time)))
        if view.times[0] <= key.time <= view.times[-1] and min(abs(at - each) for each in chosen) > 1:
            chosen.add(at)
    while len(chosen) < min(_MOST, len(focus)):
        gap = max(
            pairwise(sorted(chosen)),
            key=lambda ends: (round(abs(focus[ends[1]] - focus[ends[0]]), _ALIKE), ends[1] - ends[0]),
        )
        if gap[1] - gap[0] < 2 or abs(focus[gap[1]] - focus[gap[0]]) < 2 * _STILL:
            break
        half = (focus[gap[0]] + focus[gap[1]]) / 2
        inner = np.arange(gap[0] + 1, gap[1])
        chosen.add(int(inner[np.argmin(np.round(np.abs(focus[inner] - half), _ALIKE))]))
    return tuple(_mark(view, at) for at in sorted(chosen))


def _turns(focus: NDArray[np.float64]) -> Iterator[int]:
    """Where it is nearest and furthest, if that is neither the beginning nor the end but for a hair."""
    near, far = int(np.argmin(focus)), int(np.argmax(focus))
    if min(focus[0], focus[-1]) - focus[near] > _STILL:
        yield near
    if focus[far] - max(focus[0], focus[-1]) > _STILL:
        yield far


def _mark(view: ShotView, at: int) -> FocusMark:
    pose = view.cameras[at]
    away = float(pose.focus_distance)
    reads = float(optics.sensor_to_subject(view.shot.focal_length, away))
    return FocusMark(int(view.numbers[at]), float(view.times[at]), away, reads, pose.in_focus)
