"""Model vehicles: two lorries, a van, two buses, a saloon car, a farm tractor and a pickup, of any length and colour.

They are generic: typical full-size proportions, from memory, of no particular make. Each builder drafts the
vehicle at full size; `build_vehicle` scales it so that its length over all is exact.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from previz.layout import Lamp
from previz.mesh import Array, Mesh, merged
from previz.stage.model import VehicleModel, Wheel
from previz.stage.shapes import solids
from previz.stage.vehicles.articulated import articulated_lorry
from previz.stage.vehicles.bus import bus
from previz.stage.vehicles.coachwork import Colour, Draft, Place, WheelParts
from previz.stage.vehicles.lorry import lorry
from previz.stage.vehicles.pickup import pickup
from previz.stage.vehicles.saloon import saloon
from previz.stage.vehicles.school_bus import school_bus
from previz.stage.vehicles.tractor import tractor
from previz.stage.vehicles.van import van
from previz.stage.vehicles.wheels import mirrored_wheel

BODIES: dict[str, Callable[[Colour], Draft]] = {
    "lorry": lorry,
    "articulated_lorry": articulated_lorry,
    "van": van,
    "bus": bus,
    "saloon": saloon,
    "tractor": tractor,
    "pickup": pickup,
    "school_bus": school_bus,
}

#: Sides of what is lit about a vehicle that is not there. [m]
_NOTHING = 0.001

# Luminance 1 by the Rec. 709 weights: warm white, and the red that a lens leaves of it. Chosen by eye.
HEAD_COLOUR = (1.12, 0.98, 0.86)
_TAIL_COLOUR = (4.0, 0.19, 0.19)


def no_vehicle() -> VehicleModel:
    """What stands for the vehicle of a set without one: a triangle without area, which nothing sees.

    So all that draws and lights a vehicle does as ever: it throws no shadow and covers no pixel.
    """
    up = np.tile([0.0, 0.0, 1.0], (3, 1))
    point = Mesh(np.zeros((3, 3)), np.array([[0, 1, 2]]), up, np.zeros((3, 3)))
    return VehicleModel((point,), (), (), _NOTHING, _NOTHING, _NOTHING)


def build_vehicle(
    body: str,
    length: float,
    colour: tuple[float, float, float],
    headlamps: float = 0.0,
    tail_lamps: float = 0.0,
) -> VehicleModel:
    """A model vehicle.

    Parameters
    ----------
    body : str
        What it is: a key of `BODIES`.
    length : float
        Length over all of the model. [m]
    colour : (3,) float
        Of the paint: reflectance, linear Rec. 709, 0..1.
    headlamps, tail_lamps : float
        Flux of both headlamps, both tail lamps, together; the lamps are there at 0 too. [lm]

    Raises
    ------
    ValueError
        If the body is not in `BODIES`, the length is not positive, the colour is not within 0..1 or a flux
        is negative.

    >>> model = build_vehicle("van", 0.12, (0.6, 0.6, 0.55))
    >>> model.length, len(model.wheels)
    (0.12, 4)
    """
    if body not in BODIES:
        raise ValueError(f"no vehicle body {body!r}; choose from {', '.join(BODIES)}")
    if not length > 0:
        raise ValueError(f"vehicle length {length:g} m must be positive")
    if len(colour) != 3 or not all(0 <= c <= 1 for c in colour):
        raise ValueError(f"paint colour {colour} must be three reflectances within 0..1")
    if not (headlamps >= 0 and tail_lamps >= 0):
        raise ValueError(f"lamp flux {headlamps:g} lm, {tail_lamps:g} lm must not be negative")
    draft = BODIES[body](colour)
    wheels = [(at, parts) for axle, axle_parts in draft.wheels for at, parts in _pair(axle, axle_parts)]
    low, high = _extent(draft.body, wheels)
    scale = length / float(high[0] - low[0])
    shift = np.array([-0.5 * float(high[0] + low[0]), 0.0, 0.0])

    def model_place(at: Iterable[float]) -> tuple[float, float, float]:
        x, y, z = scale * (np.asarray(tuple(at)) + shift)
        return float(x), float(y), float(z)

    def lenses(drafted: list[tuple[Place, float]]) -> list[tuple[Place, float]]:
        return [(model_place(at), scale * radius) for at, radius in drafted]

    return VehicleModel(
        body=merged(replace(mesh, vertices=scale * (mesh.vertices + shift)) for mesh in draft.body),
        wheels=tuple(
            Wheel(
                model_place(at),
                scale * parts.radius,
                _joined(parts.round, scale),
                _joined(parts.turning, scale),
            )
            for at, parts in wheels
        ),
        lamps=(
            *lamps_before(lenses(draft.head), headlamps, HEAD_COLOUR, 1.0),
            *lamps_before(lenses(draft.tail), tail_lamps, _TAIL_COLOUR, -1.0),
        ),
        length=length,
        width=scale * float(high[1] - low[1]),
        height=scale * float(high[2]),
    )


def _pair(axle: tuple[float, float, float], parts: WheelParts) -> list[tuple[tuple[float, float, float], WheelParts]]:
    x, y, z = axle
    return [((x, y, z), parts), ((x, -y, z), mirrored_wheel(parts))]


def _joined(meshes: Iterable[Mesh], scale: float) -> tuple[Mesh, ...]:
    return merged(solids.scaled(mesh, scale) for mesh in meshes)


def _extent(body: list[Mesh], wheels: list[tuple[tuple[float, float, float], WheelParts]]) -> tuple[Array, Array]:
    """Lowest and highest x, y, z of body and wheels. A turning wheel must not change it: its tyre counts."""
    points = [mesh.vertices for mesh in body]
    points += [mesh.vertices + np.asarray(at) for at, parts in wheels for mesh in parts.round]
    everything = np.concatenate(points)
    return everything.min(0), everything.max(0)


def lamps_before(lenses: Sequence[tuple[Place, float]], flux: float, colour: Colour, way: float) -> list[Lamp]:
    """A lamp before each lens, by its middle and radius [m], and its like on the other side, sharing the flux [lm].

    Its ball touches the lens from outside. way: 1 of what shines ahead, -1 of what shines behind.
    """
    return [
        Lamp((x + way * radius / 2, side * y, z), radius / 2, flux / (2 * len(lenses)), colour, (way, 0.0, 0.0))
        for (x, y, z), radius in lenses
        for side in (1.0, -1.0)
    ]
