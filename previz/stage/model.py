"""A vehicle as the stage builds it: body and wheels of triangles, and its lamps."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.layout import Lamp
from previz.mesh import Array, Mesh


@dataclass(frozen=True)
class Wheel:
    """A wheel of a vehicle, modelled about its own axle.

    Parameters
    ----------
    centre : (3,) float
        Axle middle in the vehicle's frame. [m]
    radius : float
        Rolling radius. [m]
    round : tuple of Mesh
        Parts that are solids of revolution about the axle (y axis): they look the same at any turn.
    turning : tuple of Mesh
        Parts whose turn shows: spokes, bolts, hub marks. Own frame, origin at the axle middle.
    """

    centre: tuple[float, float, float]
    radius: float
    round: tuple[Mesh, ...]
    turning: tuple[Mesh, ...]


@dataclass(frozen=True)
class VehicleModel:
    """A vehicle in its own frame: x forward, y left, z up, origin on the ground below the middle of its length."""

    body: tuple[Mesh, ...]
    wheels: tuple[Wheel, ...]
    lamps: tuple[Lamp, ...]
    length: float
    width: float
    height: float

    @property
    def shaded(self) -> bool:
        """Whether a surface of it takes away some of the light from all round."""
        parts = (*self.body, *(mesh for wheel in self.wheels for mesh in (*wheel.round, *wheel.turning)))
        return any(mesh.surface is not None and mesh.surface.shaded for mesh in parts)

    @property
    def whole(self) -> tuple[Array, NDArray[np.int64]]:
        """All its corners (n, 3) [m], in the order of `Station.body` and its wheels unturned, and faces (m, 3)."""
        parts = [(mesh, (0.0, 0.0, 0.0)) for mesh in self.body]
        parts += [(mesh, wheel.centre) for wheel in self.wheels for mesh in (*wheel.round, *wheel.turning)]
        starts = np.cumsum([0, *(len(mesh.vertices) for mesh, _ in parts)])
        corners = [np.zeros((0, 3)), *(mesh.vertices + np.array(shift) for mesh, shift in parts)]
        faces = [mesh.faces + start for (mesh, _), start in zip(parts, starts[:-1], strict=True)]
        return np.concatenate(corners), np.concatenate([np.zeros((0, 3), dtype=np.int64), *faces])
