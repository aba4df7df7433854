"""Where the vehicle falls in a shot's picture, and by which of its frames a shot is metered."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from previz.layout.camera import CameraPose
from previz.layout.motion import VehiclePose
from previz.layout.outline import outline_before
from previz.physics.optics import image_distance
from previz.scene import Scene, Shot, recorded_area

Array = NDArray[np.float64]

#: Of the vehicle, in a picture by which its light is metered. Common practice, no source.
_WELL = 0.5


def vehicle_edges(scene: Scene, shot: Shot, cameras: Sequence[CameraPose], vehicles: Sequence[VehiclePose]) -> Array:
    """Left, top, right, bottom (n, 4) of the vehicle, in shares of the picture's width and height from the top left.

    nan where it is partly behind the camera, or where none drives.
    """
    if scene.vehicle is None:
        return np.full((len(cameras), 4), np.nan)
    eyes = np.stack([each.position for each in cameras])
    turns = np.stack([each.world_from_camera for each in cameras])
    tangents, ahead = outline_before(scene, eyes, turns, vehicles)
    focus = np.array([each.focus_distance for each in cameras])
    area = np.array(recorded_area(scene.cameras[shot.camera], scene.mode(shot)))
    v = image_distance(shot.focal_length, focus)[:, None, None]
    places = 0.5 + tangents * (1.0, -1.0) * v / area
    edges = np.concatenate([places.min(axis=1), places.max(axis=1)], axis=1)
    return np.where(ahead[:, None], edges, np.nan)


def in_picture(edges: Array) -> NDArray[np.bool_]:
    """Whether any of what has these edges (n, 4) is in the picture. (n,)"""
    left, top, right, bottom = edges.T
    return np.asarray((right > 0) & (left < 1) & (bottom > 0) & (top < 1))


def shown_across(edges: Array) -> Array:
    """How much of what has these edges (n, 4) is in the picture, across: of its width, or the picture's if less. (n,)

    >>> shown_across(np.array([[-0.3, 0.4, 0.1, 0.6], [-1.0, 0.0, 2.0, 1.0], [1.2, 0.4, 1.6, 0.6]])).round(3).tolist()
    [0.25, 1.0, 0.0]
    """
    left, _, right, _ = edges.T
    shown = np.minimum(right, 1.0) - np.maximum(left, 0.0)
    return np.where(in_picture(edges), shown / np.maximum(np.minimum(right - left, 1.0), 1e-9), 0.0)


def shown_well(shown: float) -> bool:
    """Whether a picture that shows so much of the vehicle, of `shown_across`, does to meter its light by."""
    return shown >= _WELL


def metered_of(shown: Array, middle: int) -> int:
    """By which of its frames a shot is metered, from how much of the vehicle each shows: the middle one.

    Where that shows less than half of it, the middle one of those that show as much, or else the most: light that falls
    where it has gone is of no use, nor that on its nose alone, just come.

    >>> metered_of(np.array([1.0, 1.0, 0.6, 0.0, 0.0, 0.0]), 3), metered_of(np.array([0.0, 0.1, 0.4, 0.8]), 2)
    (1, 3)
    >>> metered_of(np.array([0.0, 0.0]), 1)
    1
    """
    if shown_well(float(shown[middle])):
        return middle
    well = np.flatnonzero((shown > 0) & (shown >= min(_WELL, shown.max())))
    return int(well[len(well) // 2]) if len(well) else middle
