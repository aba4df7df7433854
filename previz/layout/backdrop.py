"""The shape of the sheet behind the set."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.scene import Backdrop

Array = NDArray[np.float64]

SHEET_STEP = 0.020  # between corners, at which its light is worked out [m]
_ARC_STEPS = 16  # at least, round a cove


@dataclass(frozen=True)
class Sheet:
    """The backdrop's cross-section, from its foot on the table to its top.

    Parameters
    ----------
    y, z : (n,) float
        [m]
    along : (n,) float
        Length along the sheet from its foot. [m]
    normals : (n, 2) float
        Unit (y, z), towards the viewer.
    """

    y: Array
    z: Array
    along: Array
    normals: Array


def cross_section(backdrop: Backdrop) -> Sheet:
    """A cove of the join's radius, if it has one, tangent to the table and to the upright sheet above it."""
    cove, top = backdrop.join.cove, backdrop.height
    if cove >= top or cove > backdrop.distance:
        raise PrevizError(
            f"a cove of {cove * 1000:.4g} mm does not fit a backdrop {top * 1000:.4g} mm high at a distance of "
            f"{backdrop.distance * 1000:.4g} mm; make the cove smaller than both, or write join: straight"
        )
    step = max(SHEET_STEP, top / 400)
    upright = np.linspace(cove, top, max(int(np.ceil((top - cove) / step)), 1) + 1)
    y, z = np.full_like(upright, backdrop.distance), upright
    normals = np.tile((-1.0, 0.0), (len(upright), 1))
    along = upright - cove
    if cove > 0:
        angle = np.linspace(0, np.pi / 2, max(_ARC_STEPS, int(np.ceil(cove * np.pi / 2 / SHEET_STEP))) + 1)[:-1]
        y = np.concatenate([backdrop.distance - cove + cove * np.sin(angle), y])
        z = np.concatenate([cove - cove * np.cos(angle), z])
        normals = np.concatenate([np.stack([-np.sin(angle), np.cos(angle)], axis=1), normals])
        along = np.concatenate([cove * angle, along + cove * np.pi / 2])
    return Sheet(y, z, along, normals)
