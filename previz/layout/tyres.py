"""Where the tyres of each vehicle roll: what presses tracks into soft ground."""

from dataclasses import dataclass

from previz.layout.motion import vehicle_path
from previz.layout.others import each_driven
from previz.layout.vehicle import vehicle_size
from previz.physics.paths import Curve
from previz.scene import TYRES, VEHICLE_SIZES, Scene

#: Tyre and track of a vehicle from a file, over its width. Typical, from memory.
_TYRE_SHARE, _TRACK_SHARE = 0.11, 0.85


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
