"""The set as plain solids for light to meet: what `layout` knows of it, as a few thousand triangles with a colour."""

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    SEE_THROUGH,
    BackPlane,
    PutUp,
    Solid,
    VehiclePose,
    backdrop_colours,
    backdrop_plane,
    box_colours,
    cross_section,
    ground_colour,
    ground_heights,
    launch_of,
    light_cards,
    others_of,
    remembered_of,
    road_colour,
    road_curve,
    solids_of,
    vehicle_surface,
)
from previz.light.occluders import Beside, Occluders
from previz.light.plain_bodies import body_faces
from previz.light.receivers import Receivers
from previz.light.surroundings import Surroundings, look_past, look_round
from previz.physics.paths import nearest_along
from previz.scene import Backdrop, Container, Scene

Array = NDArray[np.float64]

_ACROSS = 48  # pieces of the table's width that the ground is cut into; other things into pieces as long
_LONGEST = 4  # widths of the table: what is longer, of a table that is a strip, is cut no finer than as if it were less
_UNKNOWN = (0.3, 0.3, 0.3)  # reflectance of what comes from a file
_SNOW = (0.80, 0.82, 0.85)
_DARK = (0.04, 0.04, 0.04)  # of what of a vehicle has not its colour: tyres, chassis

#: Of rays that meet a plant's bands, so many pass between its leaves, as its models let them pass; by its kind, or by
#: the style of its kind.
_GAPS = {
    "conifer": 0.39,
    "broadleaf foam": 0.40,
    "broadleaf fibre": 0.60,
    "broadleaf brush": 0.31,
    "bush": 0.42,
    "hedge sponge": 0.19,
    "hedge clipped": 0.10,
    "hedge wild": 0.28,
}
_BARE = 0.81
#: How near to each other places may be that are one. [m]
_STEPS = 24
_NEAR = [0.001 * 1.5**step for step in range(_STEPS)]

#: So many places of a set at most throw light back, and look so many ways.
_MOST, RAYS_ROUND = 3000, 48

_ITSELF = "the vehicle itself"
_GOLDEN = 0.6180339887498949


@dataclass(frozen=True, eq=False)
class Shape:
    """Where triangles stand, and what is found out of that: it is the same whatever colours they have.

    Parameters
    ----------
    corners : (m, 3, 3) float
        Of each triangle, counter-clockwise seen from its outside. [m]
    lots : two Shape, or none
        What it was put together from, whose occluders serve for it.
    """

    corners: Array
    lots: "tuple[Shape, ...]" = ()

    @cached_property
    def occluders(self) -> Occluders:
        """All of it."""
        if self.lots:
            return Beside(*(each.occluders for each in self.lots))
        return Occluders(self.corners.reshape(-1, 3), np.arange(3 * len(self.corners)).reshape(-1, 3))

    @cached_property
    def receivers(self) -> Receivers:
        """The middle of each triangle."""
        return Receivers.of(self.corners.mean(axis=1), _facing(self.corners))

    @cached_property
    def gathered(self) -> "Gathered":
        """Fewer places than triangles, near ones together, to throw light back."""
        if self.lots:
            still, vehicle = self.lots[0].gathered, Gathered.of(self.lots[1].receivers, self.lots[0].gathered.near)
            whose = np.concatenate([still.whose, vehicle.whose + len(still.receivers)])
            return Gathered(still.receivers.joined(vehicle.receivers), whose, still.near)
        steps = range(_STEPS)
        step = bisect_left(steps, True, key=lambda k: len(Gathered.of(self.receivers, _NEAR[k]).receivers) <= _MOST)
        return Gathered.of(self.receivers, _NEAR[min(step, _STEPS - 1)])

    @cached_property
    def around(self) -> Surroundings:
        """What those places see, looking all round."""
        if not self.lots:
            return look_round(self.gathered.receivers, self.occluders, RAYS_ROUND, far=True)
        still, vehicle = self.lots
        on_set, count = still.gathered.receivers, len(still.gathered.receivers)
        on_vehicle = self.gathered.receivers.take(slice(count, None))
        found = look_past(on_set, still.around, len(still.corners), vehicle.occluders)
        return found.joined(look_round(on_vehicle, self.occluders, RAYS_ROUND))


@lru_cache(maxsize=16)  # a scene that was saved again, filmed or lit otherwise, stands where it stood
def _known_shape(corners: bytes) -> Shape:
    return Shape(np.frombuffer(corners).reshape(-1, 3, 3))


@lru_cache(maxsize=16)
def _beside(still: Shape, vehicle: Shape) -> Shape:
    return Shape(np.concatenate([still.corners, vehicle.corners]), (still, vehicle))


@dataclass(frozen=True)
class Plain:
    """Triangles, each with its colour and whose it is.

    Parameters
    ----------
    corners : (m, 3, 3) float
        Of each triangle, counter-clockwise seen from its outside. [m]
    albedo : (m, 3) float
        Linear reflectance.
    owner : (m,) int
        Number in `names`.
    names : tuple of str
    lots : two Plain, or none
        What it was put together from.
    """

    corners: Array
    albedo: Array
    owner: NDArray[np.int64]
    names: tuple[str, ...]
    lots: "tuple[Plain, ...]" = ()

    @cached_property
    def shape(self) -> Shape:
        """What it has in common with all that stands where it stands."""
        if self.lots:
            return _beside(*(each.shape for each in self.lots))
        return _known_shape(np.ascontiguousarray(self.corners, dtype=float).tobytes())

    @property
    def occluders(self) -> Occluders:
        """All of it."""
        return self.shape.occluders

    def thinned(self, share: float) -> "Plain":
        """About that share of it, spread evenly: what is left lets light through as leaves do."""
        return self.part(np.flatnonzero(np.arange(len(self.corners)) * _GOLDEN % 1 < share))

    def part(self, kept: NDArray[Any]) -> "Plain":
        """Some of its triangles, by number or by a mask (m,)."""
        return Plain(self.corners[kept], self.albedo[kept], self.owner[kept], self.names)


@dataclass(frozen=True)
class Gathered:
    """Some places of many, and which of them stands for each.

    Parameters
    ----------
    receivers : k Receivers
    whose : (n,) int
    near : float
        How near to each other those are that one stands for. [m]
    """

    receivers: Receivers
    whose: NDArray[np.int64]
    near: float

    @classmethod
    def of(cls, receivers: Receivers, near: float) -> "Gathered":
        """One for all that lie as near and face alike."""
        return cls(*receivers.grouped(near), near)


def _facing(corners: Array) -> Array:
    """Unit normal of each triangle (m, 3, 3). (m, 3)"""
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-20))


def with_vehicle(still: Plain, vehicle: Plain) -> Plain:
    """Both, with what is known of the set kept: the vehicle is small, and elsewhere in every shot."""
    return replace(joined([still, vehicle]), lots=(still, vehicle))


@remembered_of("scale", "set", "dressing", "vehicle", "vehicles", "folder")
def plain_set(scene: Scene) -> Plain:
    """Table top, backdrop, and every piece that is not see-through. Scattered things are left out."""
    table, backdrop, plane = scene.set.table, scene.set.backdrop, backdrop_plane(scene)
    long = max(table.depth, *((backdrop.width or 0.0, backdrop.height) if backdrop is not None else ()), 0.0)
    size = max(table.width, long / _LONGEST) / _ACROSS
    parts = [_ground(scene, size)]
    if backdrop is not None and plane is not None:
        parts.append(_backdrop(scene, backdrop, plane, size))
    cards = {card.solid.name: card for card in light_cards(scene)}
    for solid in solids_of(scene):
        if solid.name in cards:
            parts.append(_board(cards[solid.name], size))
        elif solid.kind not in SEE_THROUGH:
            parts.append(_solid(solid, _written(scene, solid), size))
    return joined(parts)


def _written(scene: Scene, solid: Solid) -> Any:
    """What the scene says of its colour: its entry in `dressing`, or the launch ramp."""
    if solid.entry >= 0:
        return scene.dressing[solid.entry]
    others = {f"ramp of {name}": launch_of(other) for name, other in others_of(scene)}
    launch = others.get(solid.id, launch_of(scene))
    assert launch is not None  # it has a ramp
    return launch.ramp


def joined(parts: Sequence[Plain]) -> Plain:
    """All of them, in order."""
    starts = np.cumsum([0, *(len(part.names) for part in parts)])
    return Plain(
        np.concatenate([part.corners for part in parts]),
        np.concatenate([part.albedo for part in parts]),
        np.concatenate([part.owner + start for part, start in zip(parts, starts[:-1], strict=True)]),
        tuple(name for part in parts for name in part.names),
    )


def plain_vehicle(scene: Scene, pose: VehiclePose) -> Plain:
    """The vehicle at a pose."""
    vehicle, size = scene.vehicle, scene.vehicle_length / 8
    assert vehicle is not None  # asked of sets with a vehicle only
    if vehicle.body is None:
        # Its own shape: outlines of its bands have neither its slants nor its hollows, and are lit otherwise.
        world = vehicle_surface(scene) @ pose.world_from_vehicle[:3, :3].T + pose.position
        return _plain(world, vehicle.colour, _ITSELF)
    corners, painted = _body(vehicle.body, scene.vehicle_length, size)
    world = corners @ pose.world_from_vehicle[:3, :3].T + pose.position
    return _plain(world, np.where(painted[:, None], vehicle.colour, _DARK), _ITSELF)


@lru_cache(maxsize=8)  # every shot asks
def _body(body: str, length: float, size: float) -> tuple[Array, NDArray[np.bool_]]:
    """A body in pieces about so long [m], in the vehicle's frame, and which of them are painted."""
    parts = [(_face(outline, size), painted) for outline, painted in body_faces(body, length)]
    painted = np.repeat([painted for _, painted in parts], [len(each) for each, _ in parts])
    return np.concatenate([each for each, _ in parts]), painted


def gaps_in(spec: Any) -> float:
    """Of rays that meet a piece's bands, the share that passes through it."""
    kind = getattr(spec, "piece", "")
    return (
        _BARE
        if getattr(spec, "bare", False)
        else _GAPS.get(kind, _GAPS.get(f"{kind} {getattr(spec, 'style', '')}", 0.0))
    )


def _solid(solid: Solid, spec: Any, size: float) -> Plain:
    """One thing in pieces about so long [m]."""
    gaps = gaps_in(spec)
    if gaps:
        size = min(size, solid.size[0] / 6)
    prisms = [_known_prism(outline.tobytes(), low, high, size) for outline, low, high in solid.prisms]
    found = _plain(np.concatenate(prisms), _colour(spec, solid.copy), solid.name)
    snow = getattr(spec, "snow", 0.0) * (_facing(found.corners)[:, 2:] > 0.5)
    found = replace(found, albedo=found.albedo + snow * (np.array(_SNOW) - found.albedo))
    return found.thinned(1 - math.sqrt(gaps)) if gaps else found  # a ray passes its skin twice


def _board(card: PutUp, size: float) -> Plain:
    """A bounce card or flag as it leans, in pieces about so long. [m]"""
    quads = []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            a, b = (card.half[k] for k in ((axis + 1) % 3, (axis + 2) % 3))
            ring = [-a - b, a - b, a + b, b - a][:: int(sign)]
            quads.append(np.stack(ring) + card.middle + sign * card.half[axis])
    return _plain(np.concatenate([_grid(quad, size) for quad in quads]), card.spec.colour, card.solid.name)


def _plain(corners: Array, albedo: Any, name: str) -> Plain:
    shades = np.broadcast_to(np.array(albedo, dtype=float), (len(corners), 3))
    return Plain(corners, shades, np.zeros(len(corners), dtype=np.int64), (name,))


def _colour(spec: Any, copy: int) -> tuple[float, float, float]:
    if isinstance(spec, Container):
        return tuple(np.mean(box_colours(spec, copy), axis=0).tolist())
    return getattr(spec, "colour", None) or _UNKNOWN


@lru_cache(maxsize=2048)  # most pieces stand in one setup as in the next
def _known_prism(outline: bytes, low: float, high: float, size: float) -> Array:
    return _prism(np.frombuffer(outline).reshape(-1, 2), low, high, size)


def _prism(outline: Array, low: float, high: float, size: float) -> Array:
    """Sides, top and underside of an upright prism. (m, 3, 3)"""
    below, above = (np.column_stack([outline, np.full(len(outline), z)]) for z in (low, high))
    sides = np.stack([below, np.roll(below, -1, axis=0), np.roll(above, -1, axis=0), above], axis=1)
    return np.concatenate([_grids(sides, size), _face(above, size), _face(below[::-1], size)])


def _face(outline: Array, size: float) -> Array:
    """A flat convex piece (k, 3) in triangles; a four-cornered one in such about so long. (m, 3, 3)"""
    if len(outline) == 4:
        return _grid(outline, size)
    middle = np.broadcast_to(outline.mean(axis=0), outline.shape)
    return np.stack([middle, outline, np.roll(outline, -1, axis=0)], axis=1)


def _grid(quad: Array, size: float) -> Array:
    """A four-cornered piece cut into triangles about so long, turned as its corners are. (m, 3, 3)"""
    return _grids(quad[None], size)


def _grids(quads: Array, size: float) -> Array:
    """The same of several (q, 4, 3), one after the other. (m, 3, 3)"""
    ways = quads[:, (1, 3)] - quads[:, :1]
    cuts = np.maximum(np.ceil(np.linalg.norm(ways, axis=2) / size).astype(int), 1)
    if (cuts == cuts[0]).all():
        return _cut_alike(quads, *cuts[0].tolist()).reshape(-1, 3, 3)
    counts = 2 * cuts.prod(axis=1)
    firsts, found = np.cumsum(counts) - counts, np.empty((counts.sum(), 3, 3))
    for across, up in set(map(tuple, cuts.tolist())):
        some = np.flatnonzero((cuts == (across, up)).all(axis=1))
        found[firsts[some, None] + np.arange(2 * across * up)] = _cut_alike(quads[some], across, up)
    return found


def _cut_alike(quads: Array, across: int, up: int) -> Array:
    """Each of (q, 4, 3) cut into so many pieces across and up. (q, 2 across up, 3, 3)"""
    a, b, c, d = (quads[:, corner, None, None] for corner in range(4))
    u, v = _steps(across)[None, :, None], _steps(up)[:, None, None]
    return _triangles((1 - v) * ((1 - u) * a + u * b) + v * ((1 - u) * d + u * c)).reshape(len(quads), -1, 3, 3)


@cache
def _steps(count: int) -> Array:
    return np.linspace(0, 1, count + 1)


def _triangles(grid: Array) -> Array:
    """Two to each cell of a grid of corners (rows, columns, 3), or of several such grids. (m, 3, 3)"""
    a, b, c, d = grid[..., :-1, :-1, :], grid[..., :-1, 1:, :], grid[..., 1:, 1:, :], grid[..., 1:, :-1, :]
    found = np.empty((*a.shape[:-1], 2, 3, 3))
    for number, corners in enumerate(((a, b, c), (a, c, d))):
        for corner, places in enumerate(corners):
            found[..., number, corner, :] = places
    return found.reshape(-1, 3, 3)


# --- table and backdrop ---


def _ground(scene: Scene, size: float) -> Plain:
    table, heights = scene.set.table, ground_heights(scene)
    x = np.linspace(0, table.width, _ACROSS + 1)
    y = np.linspace(0, table.depth, max(round(table.depth / size), 1) + 1)
    places = np.stack(np.meshgrid(x, y), axis=-1)
    z = heights.at(places.reshape(-1, 2)).reshape(places.shape[:2])
    corners = _triangles(np.concatenate([places, z[..., None]], axis=-1))
    albedo = np.tile(ground_colour(scene), (len(corners), 1))
    road = scene.set.road
    if road is not None:
        curve = road_curve(scene)
        along = curve.at(np.linspace(0.0, curve.length, max(int(4 * curve.length / road.lane), 2)))
        middles = corners.mean(axis=1)[:, :2]
        away = np.linalg.norm(middles - along[nearest_along(along, middles)], axis=1)
        on_road = away < road.lane * road.lanes / 2
        albedo[on_road] = road_colour(road)
    return _plain(corners, albedo, "the table")


def _backdrop(scene: Scene, backdrop: Backdrop, plane: BackPlane, size: float) -> Plain:
    sheet = cross_section(backdrop)
    across = np.linspace(-plane.half, plane.half, max(round(plane.width / size), 1) + 1)
    along = np.unique([*np.searchsorted(sheet.along, np.arange(0, sheet.along[-1], size)), len(sheet.along) - 1])
    corners = _triangles(plane.placed(across, sheet.off[along][:, None], sheet.z[along][:, None]))
    albedo = backdrop_colours(scene, corners.mean(axis=1)[:, 2])
    return _plain(corners, albedo, "the backdrop")
