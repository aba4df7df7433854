"""What one point of the pupil sees: a pinhole view whose frustum is sheared so that the focus plane stands still.

The renderer never uses the blur formula of `physics.optics`; blur arises because views differ off that plane.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.errors import PrevizError
from previz.layout import CameraPose
from previz.scene import Scene, Shot, recorded_area

Array = NDArray[np.float64]

#: Nothing nearer to the entrance pupil than this is drawn, nor further than this. [m]
NEAR, FAR = 0.004, 60.0


@dataclass(frozen=True)
class Lens:
    """A focused lens on its sensor, and the picture taken from it.

    Parameters
    ----------
    focal_length, f_number : float
        [m], -
    sensor : (2,) float
        Recorded area, width and height. [m]
    size : (2,) int
        Picture, width and height. [px]
    """

    focal_length: float
    f_number: float
    sensor: tuple[float, float]
    size: tuple[int, int]

    @property
    def pupil_radius(self) -> float:
        """Of the entrance pupil, f / 2N. [m]"""
        return self.focal_length / self.f_number / 2

    def field_at_focus(self, focus_distance: float) -> Array:
        """Width and height seen at the plane of focus. [m]

        The sensor's image there: sensor * s / v with v = f s / (s - f) (Gaussian lens equation), so a lens focused
        close sees less than its focal length says.

        >>> Lens(0.050, 2.8, (0.036, 0.024), (1, 1)).field_at_focus(0.5).round(6).tolist()
        [0.324, 0.216]
        """
        if focus_distance <= self.focal_length:
            raise PrevizError(
                f"focus at {focus_distance * 1000:.0f} mm: a {self.focal_length * 1000:g} mm lens cannot focus "
                "nearer than its focal length"
            )
        return np.asarray(self.sensor) * (focus_distance - self.focal_length) / self.focal_length

    def clip_from_world(self, pose: CameraPose, pupil: ArrayLike = (0.0, 0.0), jitter: ArrayLike = (0.0, 0.0)) -> Array:
        """The view (4, 4) from a point of the pupil (in radii, right and up), the picture shifted by `jitter` px.

        Clip space is OpenGL's: x right, y up, -w..w.
        """
        offset = np.asarray(pupil, dtype=float) * self.pupil_radius
        field = self.field_at_focus(pose.focus_distance)
        eye = pose.position + pose.world_from_camera[:, :2] @ offset
        camera_from_world = np.eye(4)
        camera_from_world[:3, :3] = pose.world_from_camera.T
        camera_from_world[:3, 3] = -pose.world_from_camera.T @ eye
        # The window on the focus plane, seen from the displaced eye; jitter moves the window by parts of a pixel.
        centre = field / np.asarray(self.size) * np.asarray(jitter, dtype=float) - offset
        return _clip_from_camera(centre, field, pose.focus_distance) @ camera_from_world

    def pixel_of(self, place: Array, pose: CameraPose, pupil: ArrayLike = (0.0, 0.0)) -> Array:
        """Where a point of the pupil (in radii) sees a place (3,) [m]: right and up of the picture's middle (2,). [px]

        What is nearer than the near plane, or behind the camera, is taken for as near as that plane.
        """
        x, y, _, w = self.clip_from_world(pose, pupil) @ np.append(place, 1.0)
        return np.array([x, y]) / max(w, NEAR) * self.size / 2

    def disc_across(self, pose: CameraPose) -> tuple[float, float]:
        """How far the picture of a point moves from one rim of the pupil to the other, (a, b): a + b / distance. [px]

        Positive behind the plane of focus, negative before it; the distance [m] is along the axis. Found by looking at
        two points from both rims: what a pinhole sees of a point is a line in 1 / distance.

        >>> lens = Lens(0.050, 2.8, (0.036, 0.024), (720, 480))
        >>> a, b = lens.disc_across(CameraPose(np.zeros(3), np.eye(3), 0.5))
        >>> round((a + b / 1.0) / 720 * 36, 4), round(a + b / 0.5, 9)
        (0.9921, 0.0)
        """
        moved = []
        for distance in (pose.focus_distance, 2 * pose.focus_distance):
            place = pose.position - pose.world_from_camera[:, 2] * distance
            left, right = (self.pixel_of(place, pose, (side, 0.0))[0] for side in (-1.0, 1.0))
            moved.append(right - left)
        b = 2 * pose.focus_distance * (moved[0] - moved[1])
        return float(moved[0] - b / pose.focus_distance), float(b)


def _clip_from_camera(centre: Array, field: Array, distance: float) -> Array:
    """Perspective through the window `centre` +- `field` / 2 at `distance` in front of the eye."""
    scale = 2 * distance / field
    shift = 2 * centre / field
    return np.array(
        [
            [scale[0], 0, shift[0], 0],
            [0, scale[1], shift[1], 0],
            [0, 0, -(FAR + NEAR) / (FAR - NEAR), -2 * FAR * NEAR / (FAR - NEAR)],
            [0, 0, -1, 0],
        ]
    )


def lens_of(scene: Scene, shot: Shot, size: tuple[int, int]) -> Lens:
    """The shot's lens on the sensor area its capture mode records, for a picture of that size.

    Raises
    ------
    PrevizError
        Where the picture's shape differs from the mode's by more than a pixel.
    """
    mode = scene.mode(shot)
    if abs(size[0] * mode.height / mode.width - size[1]) > 1:
        width = max(size[0] // 2, 1) * 2  # both even, which every format takes
        raise PrevizError(
            f"a picture of {size[0]}x{size[1]} is not the shape of {shot.camera}'s {mode.width}x{mode.height}; "
            f"use {width}x{max(round(width * mode.height / mode.width / 2), 1) * 2}"
        )
    return Lens(shot.focal_length, shot.f_number, recorded_area(scene.cameras[shot.camera], mode), size)
