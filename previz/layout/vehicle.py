"""How big the vehicle is: a body of ours by its proportions, a maker's own mesh as it is."""

import math

import numpy as np
from numpy.typing import NDArray

from previz.errors import FileFault, PrevizError
from previz.layout.axles import Axle
from previz.layout.modelled import ModelFile, mesh_axles, mesh_bands, mesh_surface
from previz.layout.others import each_driven
from previz.layout.remembered import remembered_of
from previz.layout.sizes import Band, Size, body_size, extent_of, rectangle
from previz.scene import OVER_ALL, VEHICLE_SIZES, Scene

Array = NDArray[np.float64]

#: Radius of a vehicle's corners seen from above, over its width: 0.3 to 0.4 m on most. Typical, from memory.
CORNER = 1 / 6

#: An axle of a vehicle from a file may be so far from straight across it. [deg]
MOST_ASKEW = 5.0

#: Quarter turns counter-clockwise that bring a mesh's front to +x.
QUARTER_TURNS = {"+x": 0, "-y": 1, "-x": 2, "+y": 3}


@remembered_of("scale", "vehicle", "folder")
def vehicle_bands(scene: Scene) -> tuple[Band, ...]:
    """What the model takes up, in its own frame: x forward, y left, z up. [m]

    A body of ours is the block of its length, its width without mirrors and its height.
    """
    vehicle, length = scene.vehicle, scene.vehicle_length
    assert vehicle is not None  # asked of sets with a vehicle only
    if vehicle.mesh is not None:
        try:
            bands = mesh_bands(ModelFile.of(scene, vehicle), length, QUARTER_TURNS[vehicle.front])
            vehicle_axles(scene)
            return bands
        except FileFault:
            raise
        except PrevizError as error:
            raise FileFault(("vehicle", "mesh"), str(error)) from None
    assert vehicle.body is not None  # Vehicle: one of body and mesh
    _, width, height = body_size(vehicle.body, length, scene.vehicle_scale)
    return (Band(0.0, height, rectangle(-length / 2, length / 2, -width / 2, width / 2)),)


@remembered_of("scale", "vehicle", "folder")
def vehicle_surface(scene: Scene) -> Array:
    """Of a vehicle from a file, the triangles (m, 3, 3) that light meets, in its own frame. [m]"""
    vehicle = scene.vehicle
    assert vehicle is not None and vehicle.mesh is not None  # asked of such alone
    return mesh_surface(ModelFile.of(scene, vehicle), scene.vehicle_length, QUARTER_TURNS[vehicle.front])


@remembered_of("scale", "vehicle", "folder")
def vehicle_axles(scene: Scene) -> tuple[Axle, ...]:
    """What the wheels of a vehicle from a file turn about, in the order of `wheels`, in its own frame.

    Raises FileFault for a wheel that stands askew.
    """
    vehicle = scene.vehicle
    assert vehicle is not None and vehicle.mesh is not None
    axles = mesh_axles(ModelFile.of(scene, vehicle), scene.vehicle_length, QUARTER_TURNS[vehicle.front])
    for name, axle in zip(vehicle.wheels, axles, strict=True):
        askew = math.degrees(math.acos(min(abs(float(axle.way[1])), 1.0)))
        if askew > MOST_ASKEW:
            raise FileFault(
                ("vehicle", "wheels"),
                f"the axle of {name!r} is {askew:.0f} deg off straight across the vehicle; at most {MOST_ASKEW:g} deg: "
                f"{_set_straight(vehicle.front, axle)}",
            )
    return axles


def _set_straight(front: str, axle: Axle) -> str:
    """What to do about an axle that lies askew: of one that lies along the vehicle, which fronts are a turn away."""
    if abs(float(axle.way[0])) < math.cos(math.radians(MOST_ASKEW)):
        return "check front and up, or set the wheel straight in the model"
    beside = [each for each, turns in QUARTER_TURNS.items() if (turns - QUARTER_TURNS[front]) % 2]
    # glTF 2.0, 3.4 "Coordinate System and Units": +Y is up and the front of an asset faces +Z, here -y (from memory).
    return f"write front: {' or '.join(sorted(beside))}; of a file that keeps to glTF's own axes it is -y"


@remembered_of("scale", "vehicle", "folder")
def vehicle_size(scene: Scene) -> Size:
    """Length, width and height of the model on the table. [m]"""
    return extent_of(vehicle_bands(scene))


def roof(scene: Scene) -> float:
    """What begins above this height hangs, and is in no vehicle's way; where none drives, in the highest one's. [m]"""
    driven = each_driven(scene)
    if not driven:
        return 1.02 * max(height for _, _, height in VEHICLE_SIZES.values()) / float(scene.scale)
    return 1.02 * max(vehicle_size(each)[2] for each in driven)


def width_at(scene: Scene, height: float) -> float:
    """How wide the vehicle's way is for something that high on the table: over its mirrors, or under them. [m]"""
    return float(widths_at(scene, np.array(height)))


def widths_at(scene: Scene, heights: Array) -> Array:
    """The same for several heights, (n,) each. [m]"""
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    body, (length, width, _) = scene.vehicle.body, vehicle_size(scene)
    if body is None:
        return np.full(np.shape(heights), width)
    model = length / VEHICLE_SIZES[body][0]
    over_all, from_height = OVER_ALL[body]
    return np.where(heights > from_height * model, over_all * model, width)


def vehicle_silhouette(scene: Scene) -> Array:
    """Points (m, 3) in the vehicle's frame whose picture has the vehicle's extent. [m]

    Of a mesh the corners of its bands. Of a body its length, width and height with the upright corners rounded: one
    shape for every kind. A bonnet narrower than the cab, or a tractor's, makes the real one up to a twentieth shorter
    in the picture of a camera two lengths off.
    """
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    if scene.vehicle.body is None:
        return np.concatenate(
            [
                np.column_stack([band.outline, np.full(len(band.outline), z)])
                for band in vehicle_bands(scene)
                for z in (band.low, band.high)
            ]
        )
    length, width, height = vehicle_size(scene)
    radius = CORNER * width
    turns = np.linspace(0.0, math.pi / 2, 7)
    x = length / 2 - radius * (1 - np.cos(turns))
    y = width / 2 - radius * (1 - np.sin(turns))
    plan = np.concatenate([np.column_stack([along * x, side * y]) for along in (-1, 1) for side in (-1, 1)])
    return np.concatenate([np.column_stack([plan, np.full(len(plan), z)]) for z in (0.0, height)])
