"""One shot as the plan shows it: where camera and vehicle are mid-shot, with the figures that `check` gives.

Nothing is reckoned anew here: distances are the figures of `predictions`, places are those of `layout`.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from previz.errors import ShotFault
from previz.layout import CameraWay, way_of_camera
from previz.predictions import (
    Finding,
    FocusMark,
    Predictions,
    ShotPredictions,
    ShotView,
    Verdict,
    focus_marks,
    in_brief,
    view_of,
)
from previz.scene import Scene, Shot

Array = NDArray[np.float64]

_STEEP = 0.7  # sine of the tilt: about 45 degrees


@dataclass(frozen=True, eq=False)
class Setup:
    """A shot laid open, and what is predicted of it."""

    scene: Scene
    shot: Shot
    view: ShotView
    figures: ShotPredictions

    def value(self, quantity: str, of: str = "") -> float:
        """One figure, in its SI unit."""
        return self.figures.value(quantity, of)

    def has(self, quantity: str) -> bool:
        """Whether there is a figure of that name."""
        return any(figure.quantity == quantity for figure in self.figures.figures)

    @property
    def pupil(self) -> Array:
        """Middle of the entrance pupil mid-shot, (3,). [m]"""
        return self.view.cameras[self.view.middle].position

    @property
    def turn(self) -> Array:
        """Columns: the picture's right, its up, and backward, mid-shot. (3, 3)"""
        return self.view.cameras[self.view.middle].world_from_camera

    @property
    def axis(self) -> Array:
        """Where the lens looks, a unit vector. (3,)"""
        return -self.turn[:, 2]

    @property
    def rim(self) -> Array | None:
        """Middle of the front rim of the lens, (3,); None where the size of the lens is not known. [m]"""
        ahead = self.view.camera.rim
        return None if ahead is None else np.asarray(self.pupil + self.axis * ahead)

    @property
    def measured(self) -> Array:
        """Where a tape finds the lens: its front rim; the entrance pupil where that is not known. (3,) [m]"""
        return self.pupil if self.rim is None else self.rim

    @cached_property
    def sensor(self) -> Array | None:
        """Middle of the sensor, (3,), behind the pupil by what a tape from its mark reads more. [m]

        None where it cannot be where a thin lens has it.
        """
        behind = self.value("focus_from_sensor") - self.value("focus_distance")
        return np.asarray(self.pupil - self.axis * behind) if self.view.camera.sensor_may_be(behind) else None

    @property
    def marks(self) -> tuple[tuple[str, Array], ...]:
        """What of the camera is marked with a tape, as far as it is known where that is, each (3,). [m]"""
        marks = (("front rim of lens", self.rim), ("middle of lens", self.pupil), ("sensor", self.sensor))
        return tuple((name, place) for name, place in marks if place is not None)

    @property
    def focus_from(self) -> tuple[tuple[str, float], ...]:
        """`measured_from` of the focus mid-shot."""
        return self.measured_from(self.value("focus_distance"), self.value("focus_from_sensor"))

    def measured_from(self, away: float, from_sensor: float) -> tuple[tuple[str, float], ...]:
        """How far it is to what is sharp, from each mark that a tape is held at, and from the pupil last. [m]

        away: from the entrance pupil. from_sensor: from the sensor mark.
        """
        rim = self.view.camera.rim
        marks = (
            ("front rim", None if rim is None else away - rim),
            ("sensor", None if self.sensor is None else from_sensor),
            ("middle of lens", away),
        )
        return tuple((name, length) for name, length in marks if length is not None)

    @cached_property
    def focus_marks(self) -> tuple[FocusMark, ...]:
        """Where focus is in three to five frames; none where it stays."""
        return focus_marks(self.view)

    @property
    def sharp(self) -> Array:
        """The point of the axis that is sharp, (3,). [m]"""
        return self.view.cameras[self.view.middle].in_focus

    @property
    def band(self) -> tuple[float, float] | None:
        """From where to where it is sharp, along the axis from the pupil [m]; None where nothing can be."""
        if not self.has("near_limit"):
            return None
        return self.value("near_limit"), self.value("far_limit")

    @property
    def steep(self) -> bool:
        """Whether it looks down or up so much that a view from above cannot show what is sharp."""
        return abs(float(self.axis[2])) > _STEEP

    @property
    def moves(self) -> bool:
        """Whether the camera travels in the shot."""
        return not isinstance(self.shot.at[0], int | float)

    @cached_property
    def way(self) -> CameraWay:
        """How the camera goes in the shot."""
        return way_of_camera(self.scene, self.shot)

    def passes(self) -> list[tuple[str, int, int]]:
        """Each pass of the vehicle through the picture: which, its first and its last frame."""
        found = [figure for figure in self.figures.figures if figure.quantity == "enters_frame"]
        return [(each.of, round(each.value), round(self.value("leaves_frame", each.of))) for each in found]


def setup_of(scene: Scene, shot: Shot, predictions: Predictions) -> Setup | None:
    """A shot laid open; None where its camera cannot be aimed or focused as written, which a finding tells."""
    try:
        view = view_of(scene, shot)
    except ShotFault:
        return None
    return Setup(scene, shot, view, predictions.shot(shot.id))


def to_watch(predictions: Predictions, shot: Shot) -> list[Finding]:
    """What is not fine of a shot and of the set, worst first, in the words of `check`."""
    return [
        in_brief(finding, predictions.compromises)
        for finding in predictions.told
        if finding.concerns((shot.id,)) and finding.verdict is not Verdict.FINE
    ]
