"""Where the tyres of each vehicle roll: what presses tracks into soft ground."""

from dataclasses import dataclass

import numpy as np

from previz.layout.markings import half_road
from previz.layout.motion import road_curve, vehicle_path
from previz.layout.others import each_driven
from previz.layout.vehicle import vehicle_size
from previz.physics.paths import Curve, along_curve
from previz.scene import TYRES, VEHICLE_SIZES, Road, Scene

#: Tyre and track of a vehicle from a file, over its width. Typical, from memory.
_TYRE_SHARE, _TRACK_SHARE = 0.11, 0.85


#: At so many places of its way it is looked what a wheel rolls on, and so small a share of them is nothing.
_LOOKED_AT, _HARDLY = 100, 0.02

#: How deep tyres press into each surface, 1 the deepest; what is not here is hard. Chosen by eye: how it looks, not how
#: it rolls.
_SOFT = {"mud": 1.0, "snow": 0.85, "sand": 0.85, "earth": 0.6, "grass": 0.45, "gravel": 0.40}


def softness(surface: str) -> float:
    """How deep tyres press into a surface, 0 to 1; 0 where it is hard."""
    return _SOFT.get(surface, 0.0)


def surface_driven_on(scene: Scene) -> str:
    """The surface under the subject's wheels: that of the road while they roll on it; the softer of two."""
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    ground, road = scene.set.ground, scene.set.road
    beside = "plain" if ground.image is not None else ground.surface
    if road is None:
        return beside
    off = _off_the_road(scene, road)
    under = [road.surface] * (off < 1 - _HARDLY) + [beside] * (off > _HARDLY)
    return max(under, key=softness)


def _off_the_road(scene: Scene, road: Road) -> float:
    """The share of their way that the subject's wheels roll beside the road, however that way is written."""
    track = tyre_track(scene)
    along = np.linspace(0.0, track.curve.length, _LOOKED_AT)
    wheels = np.concatenate([track.curve.shifted(side * track.apart / 2).at(along) for side in (-1.0, 1.0)])
    lie = along_curve(road_curve(scene), wheels)
    beyond = lie.away > np.abs(lie.left) + 1e-6  # past an end of it
    return float((beyond | (np.abs(lie.left) > half_road(road, float(scene.scale)))).mean())


@dataclass(frozen=True)
class TyreTrack:
    """The tyres of one vehicle.

    Parameters
    ----------
    curve : Curve
        What the middle of the vehicle follows.
    apart : float
        From middle to middle of the wheels on an axle. [m]
    width : float
        Of a tyre, of both where there are two side by side. [m]
    """

    curve: Curve
    apart: float
    width: float


def tyre_track(scene: Scene) -> TyreTrack:
    """That of the scene's subject."""
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    length, width, _ = vehicle_size(scene)
    body = scene.vehicle.body
    if body is None:
        return TyreTrack(vehicle_path(scene), _TRACK_SHARE * width, _TYRE_SHARE * width)
    tyre, track = TYRES[body]
    model = length / VEHICLE_SIZES[body][0]
    return TyreTrack(vehicle_path(scene), track * model, tyre * model)


def tyre_tracks(scene: Scene) -> tuple[TyreTrack, ...]:
    """Those of every vehicle, the subject's first."""
    return tuple(tyre_track(each) for each in each_driven(scene))
