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


def metered_of(seen: NDArray[np.bool_], middle: int) -> int:
    """By which of its frames a shot is metered, from whether each shows the vehicle: the middle one.

    Where that does not show it, the middle one of those that do: light that falls where it has gone is of no use.

    >>> metered_of(np.array([True, True, True, False, False, False]), 3)
    1
    >>> metered_of(np.array([False, False]), 1)
    1
    """
    shown = np.flatnonzero(seen)
    return middle if seen[middle] or not len(shown) else int(shown[len(shown) // 2])
