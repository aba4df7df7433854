"""How the vehicle's outline lies before a camera, and when it is most in the middle of the picture."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from previz.layout.motion import VehiclePose
from previz.layout.vehicle import vehicle_silhouette
from previz.scene import Scene

Array = NDArray[np.float64]

#: Places of the vehicle are as near to the picture's middle where they differ by so little of it. [-]
_AS_NEAR = 0.01


def outline_before(
    scene: Scene, eyes: Array, turns: Array, vehicles: Sequence[VehiclePose]
) -> tuple[Array, NDArray[np.bool_]]:
    """The vehicle's outline before cameras that stand at eyes (n, 3), turned as in turns (n, 3, 3).

    Right and up of the axis (n, m, 2) in tangents; and whether all of it is ahead, (n,).
    """
    outline = vehicle_silhouette(scene)
    poses = np.stack([each.world_from_vehicle for each in vehicles])
    points = np.einsum("nij,mj->nmi", poses[:, :3, :3], outline) + poses[:, None, :3, 3]
    seen = np.einsum("nki,nij->nkj", points - eyes[:, None], turns)
    depth = -seen[..., 2]
    tangents = seen[..., :2] / np.where(np.abs(depth) < 1e-9, 1e-9, depth)[..., None]
    return tangents, np.all(depth > 0, axis=1)


def most_in_the_middle(off: Array, middle: int) -> NDArray[np.int64]:
    """Of moments (n, t) with the vehicle so far off the picture's middle that where it is nearest, (n,).

    A camera that follows it has it there all the time: then the one nearest to mid-shot, moment `middle`.
    """
    apart = np.abs(np.arange(off.shape[1]) - middle)
    near = off <= off.min(axis=1, keepdims=True) + _AS_NEAR
    return np.asarray(np.argmin(np.where(near, apart, off.shape[1]), axis=1))
