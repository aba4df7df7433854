"""Where things fall in a shot's picture at one moment, in shares of its width and height from the top left."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.layout import backdrop_plane, camera_at, frame_times, pieces_of, travel_of, vehicle_path
from previz.predictions.shot_view import ShotView
from previz.scene import Scene, Shot

Array = NDArray[np.float64]

#: Things nearer than this to an edge make poor details. Share of the picture.
_MARGIN = 0.08


def moment_of(scene: Scene, shot: Shot, time: float) -> ShotView:
    """A shot laid open at one time on set alone. [s]"""
    travel = travel_of(scene)
    return ShotView(
        scene,
        shot,
        0,
        frame_times(scene, shot).count,
        np.array([0]),
        np.array([time]),
        vehicle_path(scene),
        travel,
        (camera_at(scene, shot, time),),
        np.array([travel.distance(time)]),
    )


def vehicle_in_picture(scene: Scene, shot: Shot, time: float) -> tuple[float, float, float, float] | None:
    """Left, top, right, bottom of the vehicle in shares of the picture, cut to it; None where it is not in it."""
    view = moment_of(scene, shot, time)
    edges = view.vehicle_frame[0] / np.array([*view.size, *view.size])
    if not view.vehicle_in_frame[0] or np.isnan(edges).any():
        return None
    left, top, right, bottom = np.clip(edges, 0.0, 1.0).tolist()
    return left, top, right, bottom


def vehicle_leads_right(scene: Scene, shot: Shot, time: float) -> bool:
    """Whether the vehicle's front is to the right of its middle in the picture, at a time on set. [s]"""
    view = moment_of(scene, shot, time)
    ahead = view.vehicle_solid(float(view.distances[0]))
    forward = np.array([np.cos(ahead.turn), np.sin(ahead.turn), 0.0])
    places, _ = view.project(np.array(ahead.at) + np.array([[0.0], [ahead.size[0] / 2]]) * forward)
    return bool(places[0, 1, 0] >= places[0, 0, 0])


def place_in_picture(scene: Scene, shot: Shot, time: float, point: ArrayLike) -> tuple[float, float] | None:
    """Where a point (3,) [m] falls, in shares of the picture; None where it is outside it or behind the camera."""
    view = moment_of(scene, shot, time)
    places, depths = view.project(np.asarray(point, dtype=float)[None])
    x, y = (places[0, 0] / np.array(view.size)).tolist()
    return (x, y) if depths[0, 0] > 0 and 0 <= x <= 1 and 0 <= y <= 1 else None


def background_point(scene: Scene, shot: Shot, time: float) -> Array:
    """A point (3,) far behind the focus that shows its blur well: the farthest piece that the vehicle leaves free.

    Where there is none, the backdrop beside the vehicle. [m]
    """
    view = moment_of(scene, shot, time)
    pieces = pieces_of(scene)
    if pieces:
        middles = np.array([solid.middle for solid in pieces])
        places, depths = view.project(middles)
        shares = places[0] / np.array(view.size)
        free = np.all((shares > _MARGIN) & (shares < 1 - _MARGIN), axis=1) & (depths[0] > view.focus[0])
        free &= ~_over_the_vehicle(view, shares)
        if free.any():
            return np.asarray(middles[int(np.argmax(np.where(free, depths[0], -np.inf)))])
    return _beside_the_vehicle(view)


def _over_the_vehicle(view: ShotView, shares: Array) -> NDArray[np.bool_]:
    left, top, right, bottom = view.vehicle_frame[0] / np.array([*view.size, *view.size])
    x, y = shares.T
    return np.asarray((x > left - 0.03) & (x < right + 0.03) & (y > top - 0.03) & (y < bottom + 0.03))


def _beside_the_vehicle(view: ShotView) -> Array:
    """On the backdrop, else twice as far off as the focus, a quarter in from the side the vehicle leaves free."""
    left, _, right, _ = view.vehicle_frame[0] / view.size[0]
    across = 0.75 if np.isnan(left) or left + right < 1 else 0.25
    eye, rays = view.rays(0, np.array([across]), np.array([0.3]))
    plane = backdrop_plane(view.scene)
    depth = 2 * float(view.focus[0])
    if plane is not None and plane.towards(rays[0]) > 1e-6:
        depth = float(plane.before(eye) / plane.towards(rays[0]))
    return np.asarray(eye + rays[0] * depth)
