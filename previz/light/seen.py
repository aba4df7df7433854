"""The one rule of metering: of the vehicle, what the camera sees, each part by how much of the picture it takes."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import CameraPose
from previz.light.occluders import Obstacle, Occluders
from previz.light.patterns import lattice
from previz.light.receivers import Floats, floats
from previz.physics.optics import image_distance
from previz.scene import Scene, Shot, recorded_area

Array = NDArray[np.float64]

#: A thing is not hidden by what only touches it: what is so near before it, over the distance, counts for nothing.
_HAIR = np.float32(1e-3)

_WIDEST = 4.0  # half the width over the distance of the widest picture: 152 degrees


def seen_places(
    scene: Scene,
    shot: Shot,
    camera: CameraPose,
    corners: Array,
    faces: NDArray[Any],
    others: Obstacle,
    count: int,
    itself: Occluders | None = None,
) -> tuple[NDArray[np.int32], Floats]:
    """Places on a thing that lie evenly in the picture: where `count` rays through its part of the picture meet it.

    What lies outside the picture or behind the `others` is left out. Where nothing is left the thing counts as if it
    were alone and the camera were aimed at it. Empty where the camera stands in it.

    Parameters
    ----------
    corners : (n, 3) float
        Of the thing, in the world. [m]
    faces : (m, 3) int
    others : Obstacle
        What may stand before it.
    itself : Occluders or None
        Of the very same faces, where they are ready for rays.

    Returns
    -------
    triangle : (k,) int
        Which of `faces` each place lies on.
    places : (k, 3) float
        [m]
    """
    itself, eye = itself or Occluders(corners, faces), floats(camera.position)
    area = np.array(recorded_area(scene.cameras[shot.camera], scene.mode(shot)))
    half = area / 2 / float(image_distance(shot.focal_length, camera.focus_distance))
    for turn, limit, alone in (
        (camera.world_from_camera, np.minimum(half, _WIDEST), False),
        (_aimed_at(corners, camera.position), np.full(2, _WIDEST), True),
    ):
        ways = _through(corners, camera.position, turn, limit, count)
        triangle = itself.first(np.tile(eye, (len(ways), 1)), ways)
        ways, triangle = ways[triangle >= 0], triangle[triangle >= 0]
        starts, reach = np.tile(eye, (len(ways), 1)), _reach(eye, ways, corners[faces[triangle]])
        free = np.ones(len(ways), dtype=bool) if alone else others.clear(starts, ways, reach * (1 - _HAIR))
        if free.any():
            return triangle[free], floats(starts + reach[:, None] * ways)[free]
    return np.zeros(0, dtype=np.int32), np.zeros((0, 3), dtype=np.float32)


def _through(corners: Array, eye: Array, turn: Array, limit: Array, count: int) -> Floats:
    """Directions evenly over that part of the picture within which the corners fall; none where none does. (k, 3)"""
    local = (corners - eye) @ turn
    ahead = local[:, 2] < -1e-6
    low, high = -limit, limit  # what passes beside the camera fills the picture
    if ahead.all() and len(ahead):
        places = local[:, :2] / -local[:, 2:]
        low, high = np.maximum(places.min(axis=0), -limit), np.minimum(places.max(axis=0), limit)
    if not ahead.any() or (low >= high).any():
        return np.zeros((0, 3), dtype=np.float32)
    across = low + lattice(count) * (high - low)
    return floats(np.column_stack([across, np.full(count, -1.0)]) @ turn.T)


def _aimed_at(corners: Array, eye: Array) -> Array:
    """Axes (3, 3) of a camera there, level, that looks at their middle."""
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2 if len(corners) else eye
    back = (eye - middle) / max(float(np.linalg.norm(eye - middle)), 1e-9)
    level = float(np.hypot(back[0], back[1]))
    right = np.array([-back[1], back[0], 0.0]) / level if level > 1e-6 else np.array([1.0, 0.0, 0.0])
    return np.column_stack([right, np.cross(back, right), back])


def _reach(eye: Floats, ways: Floats, triangles: Array) -> Floats:
    """How many times its way each ray goes to the plane of its triangle (k, 3, 3). (k,)"""
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    along = np.einsum("ni,ni->n", ways, across)
    return floats(np.einsum("ni,ni->n", triangles[:, 0] - eye, across) / np.where(along == 0, 1e-30, along))
