"""What touches what: pieces in each other, over the edge, through the backdrop, on a lane, in the vehicle's way.

Of plants only what is solid counts, for leaves give way, except where the vehicle would brush them; a hedge is a
strip of sponge and gives no way. Walls, hedges and fences may meet and run on over the edge as the road does; walls and
fences may end inside a building. Cones stand on roads on purpose. What begins above the vehicle's roof hangs, and is in
nobody's way.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout.backdrop import backdrop_plane
from previz.layout.gear import LIGHT_CARDS, holds, light_cards
from previz.layout.motion import road_curve, travel_of, vehicle_path, vehicles_on
from previz.layout.others import each_driven
from previz.layout.ramp import ramp_of
from previz.layout.remembered import remembered
from previz.layout.roadside import roadside_of, strips_of
from previz.layout.standing import (
    RUNS,
    THIN_RUNS,
    TOUCH,
    Solid,
    kerb_solids,
    own_ramp,
    pieces_of,
    standing_places,
)
from previz.layout.tyres import tyre_track
from previz.layout.vehicle import roof, vehicle_size, width_at, widths_at
from previz.physics.overlap import box_depths, depth, hull, thickness, way_clear
from previz.physics.paths import Curve, along_curve
from previz.scene import UNDERSIDES, VEHICLE_SIZES, WHEEL_DIAMETERS, Scatter, Scene

Array = NDArray[np.float64]

#: Between the places at which the way of a vehicle is looked at. [m]
STATION = 0.004

#: For rounding. [m]
_HAIR = 1e-6

#: Kept free on either side of the vehicle, at full size [m]. Common practice, no source.
MARGIN = 0.10

#: The table's edges, as `ramp_overhang` names them: towards -x, +x, -y and +y.
EDGES = ("left", "right", "front", "back")

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
    return tuple(solid for solid in pieces_of(scene) if solid.base < roof(scene))


def _standing_on(scene: Scene, it: Solid) -> Array:
    """The outline of what of it is solid below the roof; of a wall or fence, which run on, its middle. (k, 2) [m]"""
    outline = it.solid.below(roof(scene))
    return outline.mean(axis=0, keepdims=True) if it.kind in RUNS else outline


def over_the_edge(scene: Scene) -> Iterator[Touch]:
    """What reaches over the table's edge; wider than the table, nothing but a smaller piece mends it.

    A card for light that is held from beside the table does not stand on it.
    """
    size = np.array([scene.set.table.width, scene.set.table.depth])
    held_up = {card.solid.name for card in light_cards(scene) if holds(scene, card.solid) not in ("edge", "table")}
    for it in grounded(scene):
        if it.name in held_up:
            continue
        by, low, high = _past_the_edge(scene, it)
        if by > TOUCH:
            fits = bool(np.all(high - low <= size))
            yield Touch(it, by, np.maximum(-low, 0.0) - np.maximum(high - size, 0.0) if fits else np.zeros(2))


def firsts_on_the_table(scene: Scene, number: int, step: float) -> list[float]:
    """Values of `first`, in whole steps, with which a row along the road reaches over no edge, the nearest first. [m]

    Up to the next of the row; those that leave as many of it standing before those that do not. None for what does not
    stand along the road.
    """
    row: Any = scene.dressing[number]
    own = [it for it in grounded(scene) if it.entry == number]
    if not own or isinstance(row, Scatter) or row.along is None:
        return []
    most, found = int(float(row.every) / step), []
    for away in range(-most, most + 1):
        first = (round(float(row.first) / step) + away) * step
        places = standing_places(scene, row.model_copy(update={"first": first})) if first >= 0 else ()
        stand = [replace(own[0], at=at, turn=turn) for at, turn in places]
        if stand and all(_past_the_edge(scene, it)[0] <= TOUCH for it in stand):
            found.append((len(stand) < len(own), abs(first - float(row.first)), first))
    return [first for _, _, first in sorted(found)]


def _past_the_edge(scene: Scene, it: Solid) -> tuple[float, Array, Array]:
    """How far it reaches over the table's edge, less than 0 where it does not, and its least and most x and y. [m]"""
    outline = _standing_on(scene, it)
    low, high = outline.min(axis=0), outline.max(axis=0)
    return float(max((-low).max(), (high - (scene.set.table.width, scene.set.table.depth)).max())), low, high


def through_the_backdrop(scene: Scene) -> Iterator[Touch]:
    """What reaches through the backdrop's sheet, standing or hung."""
    plane = backdrop_plane(scene)
    if plane is None:
        return
    high = roof(scene)
    for it in pieces_of(scene):
        # All of a wall or fence too: over the table's edge it may run on, through a sheet it does not.
        outline = it.solid.below(high if it.base < high else plane.height)
        by = float(-plane.before(outline[plane.beside(outline)]).min(initial=math.inf))
        if by > TOUCH:
            yield Touch(it, by, plane.way(0.0, -by, 0.0)[:2])


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
                (thickness(each) for each, of in ((outline, it), (theirs, other)) if of.kind in THIN_RUNS), default=0
            )
            by = depth(outline, theirs) - allowed
            if by > TOUCH:
                clear = way_clear(outline, theirs)
                yield Touch(other, by, clear * (1 + SPARE / np.linalg.norm(clear)), it)


# --- the ramp ---


def in_the_ramp(scene: Scene) -> Iterator[Touch]:
    """Pieces that stand in the launch ramp; under its sheet there is room for what is low. The ramp as `other`."""
    ramp = ramp_of(scene)
    if ramp is None:
        return
    for it in pieces_of(scene):
        for part in own_ramp(scene):
            if _meet(it.solid, part):
                outline = np.concatenate([band for band, _, _ in it.solid.prisms])
                clear = way_clear(ramp.footprint, hull(outline))
                by = float(np.linalg.norm(clear))
                yield Touch(it, by, clear * (1 + SPARE / by) if by > 0 else clear, part)
                break


def _meet(one: Solid, other: Solid) -> bool:
    """Whether some band of the one and some band of the other share room."""
    return any(
        min(high, top) - max(low, bottom) > TOUCH and depth(outline, theirs) > TOUCH
        for outline, low, high in one.prisms
        for theirs, bottom, top in other.prisms
    )


@dataclass(frozen=True)
class Overhang:
    """How far the ramp hangs off the table. [m]

    Parameters
    ----------
    by : float
        At most; zero where all of it is on the table.
    edge : str
        Off which edge of the table its foot hangs, or where that does not, the rest: left, right, front or back.
    foot_by : float
        How far its foot does.
    """

    by: float
    edge: str
    foot_by: float


def ramp_overhang(scene: Scene) -> Overhang | None:
    """How far the launch ramp hangs off the table; None where nothing is launched."""
    ramp = ramp_of(scene)
    if ramp is None:
        return None
    outline, table = ramp.footprint, scene.set.table
    x, y = outline.T
    over = np.stack([-x, x - table.width, -y, y - table.depth])
    foot_by = max(float(over[:, 1:3].max()), 0.0)
    edge = int((over[:, 1:3] if foot_by > TOUCH else over).max(axis=1).argmax())
    return Overhang(max(float(over.max()), 0.0), EDGES[edge], foot_by)


def ramp_behind_backdrop(scene: Scene) -> float:
    """How far the launch ramp reaches through the backdrop's sheet; zero where it does not. [m]"""
    ramp, plane = ramp_of(scene), backdrop_plane(scene)
    if ramp is None or plane is None:
        return 0.0
    share = np.linspace(0.0, 1.0, 33)[:, None]
    outline = ramp.footprint
    sides = np.concatenate([a + share * (b - a) for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True)])
    return max(float(-plane.before(sides[plane.beside(sides)]).min(initial=math.inf)), 0.0)


# --- the ways of vehicles ---


def _stations(curve: Curve, start: float) -> tuple[Array, Array]:
    along = np.linspace(start, curve.length, max(math.ceil((curve.length - start) / STATION), 1) + 1)
    return curve.at(along), curve.heading(along)


def clearance(scene: Scene, it: Solid) -> float:
    """Least room between the vehicle, turned along its path as it drives, and a solid; negative where it hits. [m]

    It is as wide as it is at the height of what stands beside it: over its mirrors, or under them. On its ramp it
    passes over what is lower.
    """
    length, _, height = vehicle_size(scene)
    middles, headings, raised = _own_way(scene)
    room = math.inf
    for outline, low, high in it.prisms:
        beside = (raised < high) & (low < raised + height)
        widths = widths_at(scene, high - raised)
        for width in np.unique(widths[beside]).tolist():  # over its mirrors, and under them
            some = beside & (widths == width)
            depths = box_depths(middles[some], headings[some], (length / 2, width / 2), outline)
            room = min(room, -float(depths.max()))
    return room


def least_rooms(scene: Scene, solids: Sequence[Solid]) -> Array:
    """No more than the `clearance` of each of the solids, and found far sooner. (k,) [m]"""
    length, width, _ = vehicle_size(scene)
    return _least_gaps(_own_way(scene)[0], max(length, width_at(scene, math.inf), width) / 2, solids)


def _least_gaps(middles: Array, half: float, solids: Sequence[Solid]) -> Array:
    """No more than how far each of the solids lies from boxes with such middles (s, 2), half as long. (k,) [m]

    Boxes and outlines are held apart along axes, of which one lies within 45 deg of the line between the two.
    """
    at, around = np.array([it.at[:2] for it in solids]).reshape(-1, 2), np.array([it.radius for it in solids])
    away = np.sqrt(((at[:, None] - middles) ** 2).sum(axis=2).min(axis=1))
    return np.asarray(away / math.sqrt(2) - around - half - _HAIR)


@remembered
def _own_way(scene: Scene) -> tuple[Array, Array, Array]:
    """Stations along the vehicle's path: where (s, 2), which way it heads (s,), and how high over the table it is (s,).

    Of one that stands still the first. On its ramp it is as high as its lower end is there. [m], [rad], [m]
    """
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    path = vehicle_path(scene)
    middles, headings = _stations(path, 0.0)
    if scene.vehicle.stands:
        return middles[:1], headings[:1], np.zeros(1)
    descent = travel_of(scene).descent
    if descent is None:
        return middles, headings, np.zeros(len(middles))
    back = -np.arange(STATION, descent.length, STATION)
    poses, noses = vehicles_on(path, back), vehicles_on(path, back + vehicle_size(scene)[0] / 2)
    places = np.array([pose.position[:2] for pose in poses]).reshape(-1, 2)
    raised = [min(pose.position[2], nose.position[2]) for pose, nose in zip(poses, noses, strict=True)]
    return (
        np.concatenate([middles, places]),
        np.concatenate([headings, [pose.heading for pose in poses]]),
        np.concatenate([np.zeros(len(middles)), raised]),
    )


#: What is often put on a lane that nothing drives on.
AT_HOME = ("cone", "parked")


def on_a_lane(scene: Scene) -> Iterator[Touch]:
    """What does not belong on a road: on the lanes that nothing drives on; cones and parked vehicles do."""
    road = scene.set.road
    if road is None:
        return
    curve, half = road_curve(scene), 0.45 * float(road.lane)
    if scene.vehicle is not None:
        half = min(width_at(scene, 0.0) / 2 + MARGIN / scene.vehicle_scale, half)
    offsets = (np.arange(road.lanes) - (road.lanes - 1) / 2) * float(road.lane)
    lanes = [_stations(curve.shifted(float(offset)), 0.0) for offset in offsets]

    solids = grounded(scene)
    gaps = np.min([_least_gaps(middles, max(STATION, half), solids) for middles, _ in lanes], axis=0)
    for it, gap in zip(solids, gaps.tolist(), strict=True):
        if gap > 0:
            continue
        # A broadleaf tree's crown hangs over the road, other plants stand on it with their leaves.
        outline = (it.solid if it.kind == "broadleaf" else it).below(roof(scene))
        by = 0.0 if it.kind in AT_HOME else max(box_depths(*lane, (STATION, half), outline).max() for lane in lanes)
        # What is in the own way of one that drives is another matter.
        if by > TOUCH and all(clearance(each, it) >= MARGIN / each.vehicle_scale for each in each_driven(scene)):
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
    edges = [strip.outer for strip in strips_of(scene) if strip.side * off > 0]  # of kerb and pavement there
    wanted = max(road.lanes / 2 * float(road.lane), *edges, 0.0) + math.hypot(*it.size[:2]) / 2 + SPARE
    return np.asarray(np.array(it.at[:2]) + left * (math.copysign(wanted, off) - off))


# --- kerbs and pavements ---


def in_a_kerb(scene: Scene) -> Iterator[Touch]:
    """Pieces that stand in a kerb, or half on a pavement: those that stand on one stand at its height."""
    kerbs = kerb_solids(scene)
    for it in grounded(scene) if kerbs else ():
        if it.kind in LIGHT_CARDS and holds(scene, it) not in ("edge", "table"):
            continue  # held over it
        for kerb in kerbs:
            if not _meet(it.solid, kerb):
                continue
            outline = it.solid.below(kerb.top)
            by = depth(outline, kerb.footprint)
            # A run of wall, hedge or fence is cut where it crosses one.
            if by > TOUCH and it.kind not in RUNS:
                clear = way_clear(kerb.footprint, outline)
                clear *= 1 + SPARE / np.linalg.norm(clear)
                yield Touch(it, by, clear if _may_go(scene, it, outline, clear) else np.zeros(2), kerb)


def off_a_pavement(scene: Scene) -> Iterator[Touch]:
    """Pieces that stand on a kerb or pavement at its height and reach past its edge, under which is nothing there."""
    side = roadside_of(scene)
    if side.curve is None:
        return
    for it in grounded(scene):
        if it.kind in RUNS or (it.kind in LIGHT_CARDS and holds(scene, it) not in ("edge", "table")):
            continue
        raised = float(side.height([it.at[:2]])[0])
        if raised == 0 or abs(it.base - raised) > TOUCH:
            continue
        outline = it.solid.below(it.base + TOUCH)
        lie, middle = along_curve(side.curve, outline), along_curve(side.curve, np.array([it.at[:2]]))
        (strip,) = (each for each in side.strips if each.side * middle.left[0] > 0)
        off = strip.side * lie.left
        inwards, outwards = float(strip.face - off.min()), float(off.max() - strip.outer)
        by = max(inwards, outwards)
        if by > TOUCH:
            fits = np.ptp(off) <= strip.outer - strip.face - SPARE
            turn = float(side.curve.heading(middle.along)[0])
            to_left = strip.side * (inwards + SPARE if inwards > outwards else -outwards - SPARE)
            mend = to_left * np.array([-math.sin(turn), math.cos(turn)]) if fits else np.zeros(2)
            yield Touch(it, by, mend, max(kerb_solids(scene), key=lambda each: depth(each.footprint, outline)))


def _may_go(scene: Scene, it: Solid, outline: Array, by: Array) -> bool:
    """Whether something may be moved so [m]: beside the lanes; or what is at home on a road, out of everyone's way."""
    if it.kind not in AT_HOME:
        return _beside_the_lanes(scene, outline + by)
    x, y, z = it.at
    there = replace(it, at=(x + float(by[0]), y + float(by[1]), z))
    return all(clearance(each, there) >= MARGIN / each.vehicle_scale for each in each_driven(scene))


def _beside_the_lanes(scene: Scene, outline: Array) -> bool:
    road = scene.set.road
    assert road is not None  # it has a kerb
    left = along_curve(road_curve(scene), outline).left
    return bool(max(left.min(), -left.max()) >= road.lanes / 2 * float(road.lane) - TOUCH)


def over_a_kerb(scene: Scene) -> tuple[float, Solid | None]:
    """Least room between the vehicle's wheels and a kerb or pavement, and which; negative where one is run over. [m]

    Of one that lies lower than the kerb is high, all of it counts, its overhangs too. Infinite and None without any.
    """
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    room, which = math.inf, None
    middles, headings, raised = _own_way(scene)
    for kerb in kerb_solids(scene):
        half, ahead = _wheels(scene, kerb.top)
        shifted = middles + ahead * np.stack([np.cos(headings), np.sin(headings)], axis=1)
        low = raised < kerb.top
        if low.any():
            least = -float(box_depths(shifted[low], headings[low], half, kerb.footprint).max())
            if least < room:
                room, which = least, kerb
    return room, which


def _wheels(scene: Scene, high: float) -> tuple[tuple[float, float], float]:
    """Half the length and width of what of the vehicle meets something that high, and how far ahead of its middle that
    lies. [m]"""
    assert scene.vehicle is not None
    length, width, _ = vehicle_size(scene)
    body = scene.vehicle.body
    if body is None:
        return (length / 2, width / 2), 0.0
    model = length / VEHICLE_SIZES[body][0]
    base, front, clear = (model * each for each in UNDERSIDES[body])
    if clear <= high:
        return (length / 2, width / 2), 0.0
    track = tyre_track(scene)
    wheel = WHEEL_DIAMETERS[body] * model
    return ((base + wheel) / 2, (track.apart + track.width) / 2), length / 2 - front - base / 2
