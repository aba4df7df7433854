"""A vehicle as the stage builds it: body and wheels of triangles, and its lamps."""

from dataclasses import dataclass

from previz.layout import Lamp
from previz.mesh import Mesh


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
