"""What touches what: pieces in each other, over the edge, through the backdrop, on a lane, in the vehicle's way.

Of plants only what is solid counts, for leaves give way, except where the vehicle would brush them. Walls and fences
may meet, run on over the edge as the road does and end inside a building; cones stand on roads on purpose. What begins
above the vehicle's roof hangs, and is in nobody's way.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from previz.layout.launch import launch_of
from previz.layout.motion import road_curve, vehicle_path
from previz.layout.remembered import remembered
from previz.layout.standing import RUNS, TOUCH, Solid, solids_of
from previz.layout.vehicle import roof, vehicle_size, width_at
from previz.physics.overlap import box_depths, depth, thickness, way_clear
from previz.physics.paths import Curve
from previz.scene import Scene

Array = NDArray[np.float64]

#: Between the places at which the way of a vehicle is looked at. [m]
STATION = 0.004

#: Kept free on either side of the vehicle, at full size [m]. Common practice, no source.
MARGIN = 0.10

#: Moved so much further than just enough. [m]
SPARE = 0.001


@dataclass(frozen=True)
class Touch:
    """Something where it cannot be.

    Parameters
    ----------
    it : Solid
    by : float
        How far it is out, or in the other. [m]
    mend : (2,) float
        The move that mends it; zero where none does. [m]
    other : Solid or None
        What it stands in, where that is a thing.
    """

    it: Solid
    by: float
    mend: Array
    other: Solid | None = None


@remembered
def grounded(scene: Scene) -> tuple[Solid, ...]:
    """Every solid that begins below the vehicle's roof."""
    return tuple(solid for solid in solids_of(scene) if solid.base < roof(scene))


def _standing_on(scene: Scene, it: Solid) -> Array:
    """The outline of what of it is solid below the roof; of a wall or fence, which run on, its middle. (k, 2) [m]"""
    outline = it.solid.below(roof(scene))
    return outline.mean(axis=0, keepdims=True) if it.kind in RUNS else outline


def over_the_edge(scene: Scene) -> Iterator[Touch]:
    """What reaches over the table's edge; wider than the table, nothing but a smaller piece mends it."""
    size = np.array([scene.set.table.width, scene.set.table.depth])
    for it in grounded(scene):
        outline = _standing_on(scene, it)
        low, high = outline.min(axis=0), outline.max(axis=0)
        by = float(max((-low).max(), (high - size).max()))
        if by > TOUCH:
            fits = bool(np.all(high - low <= size))
            yield Touch(it, by, np.maximum(-low, 0.0) - np.maximum(high - size, 0.0) if fits else np.zeros(2))


def through_the_backdrop(scene: Scene) -> Iterator[Touch]:
    """What reaches through the backdrop's sheet."""
    backdrop = scene.set.backdrop
    if backdrop is None:
        return
    half = (backdrop.width or scene.set.table.width) / 2
    for it in grounded(scene):
        outline = _standing_on(scene, it)
        beside = np.abs(outline[:, 0] - scene.set.table.width / 2) <= half
        by = float(outline[beside, 1].max(initial=-math.inf)) - backdrop.distance
        if by > TOUCH:
            yield Touch(it, by, np.array([0.0, -by]))


def in_each_other(scene: Scene) -> Iterator[Touch]:
    """Pairs that stand in each other: the later of the two, the earlier as `other`."""
    standing = [(it, it.solid.below(roof(scene))) for it in grounded(scene)]
    if len(standing) < 2:
        return
    middles = np.array([outline.mean(axis=0) for _, outline in standing])
    reach = np.array([np.linalg.norm(outline - outline.mean(axis=0), axis=1).max() for _, outline in standing])
    for i, (it, outline) in enumerate(standing[:-1]):
        near = np.linalg.norm(middles[i + 1 :] - middles[i], axis=1) < reach[i + 1 :] + reach[i]
        for j in i + 1 + np.flatnonzero(near):
            other, theirs = standing[j]
            both = it.kind in RUNS and other.kind in RUNS
            if both or min(it.top, other.top) - max(it.base, other.base) <= TOUCH:
                continue  # walls and fences may meet, and one thing may stand on the other
            # A wall or fence may end inside a building, a post stand inside a wall.
            allowed = max(
                (thickness(each) for each, of in ((outline, it), (theirs, other)) if of.kind in RUNS), default=0
            )
            by = depth(outline, theirs) - allowed
            if by > TOUCH:
                clear = way_clear(outline, theirs)
                yield Touch(other, by, clear * (1 + SPARE / np.linalg.norm(clear)), it)


# --- the ways of vehicles ---


#: Depths (s,) that the vehicle, over its mirrors or under them, reaches into a solid at stations along its path. [m]
Way = Callable[[Solid], Array]


def _stations(curve: Curve, start: float) -> tuple[Array, Array]:
    along = np.linspace(start, curve.length, max(math.ceil((curve.length - start) / STATION), 1) + 1)
    return curve.at(along), curve.heading(along)


def run_up(scene: Scene) -> float:
    """How far before the start of its path a vehicle is let go. [m]"""
    launch = launch_of(scene)
    return float(launch.ramp.length) if launch is not None else 0.0


def clearance(scene: Scene, it: Solid, path: Curve | None = None) -> float:
    """Least room between the vehicle, turned along its path as it drives, and a solid; negative where it hits. [m]

    It is as wide as it is at the height of what stands beside it: over its mirrors, or under them.
    """
    middles, headings = _own_way(scene) if path is None else _stations(path, -run_up(scene))
    length, _, height = vehicle_size(scene)
    room = math.inf
    for outline, low, high in it.prisms:
        if low < height:
            half = length / 2, width_at(scene, high) / 2
            room = min(room, -float(box_depths(middles, headings, half, outline).max()))
    return room


@remembered
def _own_way(scene: Scene) -> tuple[Array, Array]:
    """Of one that stands still, the start of its path alone."""
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    middles, headings = _stations(vehicle_path(scene), -run_up(scene))
    return (middles[:1], headings[:1]) if scene.vehicle.stands else (middles, headings)


def on_a_lane(scene: Scene) -> Iterator[Touch]:
    """What another vehicle would hit: on the lanes that this one does not drive on."""
    road = scene.set.road
    if road is None:
        return
    curve, margin = road_curve(scene), MARGIN / float(scene.scale)
    half = 0.45 * float(road.lane)
    if scene.vehicle is not None:
        half = min(width_at(scene, 0.0) / 2 + margin, half)
    offsets = (np.arange(road.lanes) - (road.lanes - 1) / 2) * float(road.lane)
    lanes = [_stations(curve.shifted(float(offset)), 0.0) for offset in offsets]

    @cache
    def on_it(outline: bytes) -> float:
        corners = np.frombuffer(outline).reshape(-1, 2)
        return max(float(box_depths(*lane, (STATION, half), corners).max()) for lane in lanes)

    for it in grounded(scene):
        # A broadleaf tree's crown hangs over the road, other plants stand on it with their leaves.
        outline = (it.solid if it.kind == "broadleaf" else it).below(roof(scene))
        by = 0.0 if it.kind == "cone" else on_it(outline.tobytes())
        # What is in this vehicle's own way is another matter.
        if by > TOUCH and (scene.vehicle is None or clearance(scene, it) >= margin):
            yield Touch(it, by, _off_the_road(scene, it) - np.array(it.at[:2]))


def _off_the_road(scene: Scene, it: Solid) -> Array:
    """Where (2,) all of it stands beside the road, straight away from the road's middle. [m]"""
    road, middle = scene.set.road, road_curve(scene)
    assert road is not None  # the caller has looked
    stations = np.linspace(0.0, middle.length, 400)
    points = middle.at(stations)
    nearest = int(np.argmin(np.linalg.norm(points - it.at[:2], axis=1)))
    turn = float(middle.heading(stations[nearest]))
    left = np.array([-math.sin(turn), math.cos(turn)])
    off = float((np.array(it.at[:2]) - points[nearest]) @ left)
    wanted = road.lanes / 2 * float(road.lane) + math.hypot(*it.size[:2]) / 2 + SPARE
    return np.asarray(np.array(it.at[:2]) + left * (math.copysign(wanted, off) - off))
