"""Where the tyres of each vehicle roll: what presses tracks into soft ground."""

from dataclasses import dataclass

from previz.layout.motion import vehicle_path
from previz.layout.others import each_driven
from previz.layout.vehicle import vehicle_size
from previz.physics.paths import Curve
from previz.scene import TYRES, VEHICLE_SIZES, Scene

#: Tyre and track of a vehicle from a file, over its width. Typical, from memory.
_TYRE_SHARE, _TRACK_SHARE = 0.11, 0.85


#: How deep tyres press into each surface, 1 the deepest; what is not here is hard. Chosen by eye: how it looks, not how
#: it rolls.
_SOFT = {"mud": 1.0, "snow": 0.85, "sand": 0.85, "earth": 0.6, "grass": 0.45, "gravel": 0.40}


def softness(surface: str) -> float:
    """How deep tyres press into a surface, 0 to 1; 0 where it is hard."""
    return _SOFT.get(surface, 0.0)


def surface_driven_on(scene: Scene) -> str:
    """The surface under the subject's way: that of the road where it keeps to it."""
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    ground, road = scene.set.ground, scene.set.road
    if isinstance(scene.vehicle.path, str) and road is not None:
        return road.surface
    return "plain" if ground.image is not None else ground.surface


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
