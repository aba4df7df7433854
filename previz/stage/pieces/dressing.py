"""The set dressing: every piece, copy and row put in its place on the ground, and what stands in each other's way."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from previz.layout import Lamp, road_curve, vehicle_path
from previz.physics.paths import Curve
from previz.scene import OVER_ALL, VEHICLE_SIZES, Card, Container, MeshPiece, Scatter, Scene, Standing
from previz.stage.keep.files import load_image, load_model
from previz.stage.mesh import Array, Mesh, Model, merged
from previz.stage.pieces.kinds import build_piece
from previz.stage.pieces.scattering import Scattered, scatter
from previz.stage.shapes import convex
from previz.stage.table.ground import Floor

_PLANTS = ("conifer", "broadleaf", "bush")
#: Copies come in so many different builds, then repeat; what is made in a works looks alike.
_LOOKS = {"conifer": 6, "broadleaf": 4, "bush": 5, "stone": 8}
_LOOKS_MADE = 2
_RUNS = ("wall", "fence")

_MARGIN = 0.10  # kept free beside the vehicle, full size [m]
_TOUCH = 0.0005  # what overlaps by less only touches [m]
_STATION = 0.004  # between the poses at which the way of the vehicle is tested [m]


@dataclass(frozen=True)
class Outline:
    """What a piece takes up.

    Parameters
    ----------
    id : str
        The piece's id; its second copy is `id/2`, and so on.
    footprint : (k, 2) float
        Convex outline of the whole piece seen from above, counter-clockwise. [m]
    height : float
        From its lowest to its highest point. [m]
    base : float
        Its lowest point above the table top. [m]
    kind : str
        The word after `piece:`, or "mesh".
    standing : (k, 2) float
        Convex outline of what lies below the vehicle's roof: a lamp post's foot without its arm. Empty if nothing.
    """

    id: str
    footprint: Array
    height: float
    base: float
    kind: str
    standing: Array


@dataclass(frozen=True)
class Dressed:
    """All dressing in the world frame. `scattered` says where loose things lie; they have no outlines of their own."""

    meshes: tuple[Mesh, ...]
    lamps: tuple[Lamp, ...]
    outlines: tuple[Outline, ...]
    scattered: tuple[Scattered, ...] = ()


@dataclass(frozen=True)
class Collision:
    """A piece in the way.

    Parameters
    ----------
    piece : str
        Its outline's id.
    with_what : str
        "vehicle" (it stands where the vehicle drives), "road" (where something in another lane would), "table" (it
        reaches over the edge), "backdrop" (it reaches through the sheet), or another outline's id.
    overlap : float
        How far it would have to move. [m]
    """

    piece: str
    with_what: str
    overlap: float


def dress(scene: Scene, ground: Floor) -> Dressed:
    """Build and place all of the scene's dressing. Raises PrevizError for a file or a scatter that cannot be used."""
    meshes: list[Mesh] = []
    lamps: list[Lamp] = []
    outlines: list[Outline] = []
    roof = 1.02 * vehicle_size(scene)[2]
    for spec in scene.dressing:
        if isinstance(spec, Scatter):
            continue
        models = _Models(scene, spec)
        for k, (place, turn) in enumerate(_places(scene, spec, ground)):
            placed = _placed(models.copy(k), place, turn)
            meshes += placed.meshes
            lamps += placed.lamps
            outlines.append(_outline(spec, k, placed, roof))
    loose = [
        scatter(scene, spec, ground, [outline.standing for outline in outlines if len(outline.standing)])
        for spec in scene.dressing
        if isinstance(spec, Scatter)
    ]
    for _, parts in loose:
        meshes += parts
    return Dressed(merged(meshes), tuple(lamps), tuple(outlines), tuple(places for places, _ in loose))


class _Models:
    """The builds of one entry's copies: a few looks that repeat, and the colours of containers in turn."""

    def __init__(self, scene: Scene, spec: Standing | MeshPiece) -> None:
        self.scene, self.spec = scene, spec
        self._built: dict[Any, Model] = {}

    def copy(self, k: int) -> Model:
        spec: Any = self.spec
        if isinstance(spec, MeshPiece):
            if not self._built:
                path = self.scene.folder / spec.mesh
                self._built[0] = load_model(path, spec.length, spec.up, spec.colour)
            return self._built[0]
        look, first = k % _LOOKS.get(spec.piece, _LOOKS_MADE), 0
        if isinstance(spec, Container) and spec.colours:
            paints = (spec.colour, *spec.colours)
            first = k * spec.stack % len(paints)
            turned = (*paints[first:], *paints[:first])
            spec = spec.model_copy(update={"colour": turned[0], "colours": turned[1:]})
        if (look, first) not in self._built:
            rng = np.random.default_rng([spec.seed, look])
            image = load_image(self.scene.folder / spec.image) if isinstance(spec, Card) and spec.image else None
            self._built[look, first] = build_piece(spec, self.scene.scale, rng, image)
        return self._built[look, first]


def _places(scene: Scene, spec: Any, ground: Floor) -> Iterator[tuple[Array, float]]:
    """Where each copy stands (3,) [m], on the ground, and its turn [rad].

    A row along a road stands from `first` to the end of the road, as far as there is table under it.
    """
    if spec.along is None:
        step = np.array(spec.step or (0.0, 0.0, 0.0))
        for k in range(spec.copies):
            place = np.array(spec.at) + k * step
            place[2] += ground.height(place[None, :2])[0]
            yield place, spec.turn
        return
    curve = road_curve(scene)
    distances = np.arange(spec.first, curve.length + 1e-9, spec.every)
    turns = curve.heading(distances)
    spots = curve.at(distances) + spec.offset * np.stack([-np.sin(turns), np.cos(turns)], axis=-1)
    table = scene.set.table
    on_table = ((spots >= 0) & (spots <= (table.width, table.depth))).all(axis=1)
    for spot, turn, height in zip(spots[on_table], turns[on_table], ground.height(spots[on_table]), strict=True):
        yield np.append(spot, height), float(turn) + spec.turn


def _placed(model: Model, place: Array, turn: float) -> Model:
    c, s = np.cos(turn), np.sin(turn)
    rotation = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    return Model(
        tuple(mesh.moved(rotation, place) for mesh in model.meshes),
        tuple(_moved_lamp(lamp, rotation, place) for lamp in model.lamps),
    )


def _moved_lamp(lamp: Lamp, rotation: Array, shift: Array) -> Lamp:
    x, y, z = (rotation @ np.array(lamp.centre) + shift).tolist()
    if lamp.beam is None:
        return replace(lamp, centre=(x, y, z))
    bx, by, bz = (rotation @ np.array(lamp.beam)).tolist()
    return replace(lamp, centre=(x, y, z), beam=(bx, by, bz))


def _outline(spec: Any, k: int, placed: Model, roof: float) -> Outline:
    points = np.concatenate([mesh.vertices for mesh in placed.meshes])
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    below = np.concatenate([_below(mesh, roof) for mesh in placed.meshes])
    return Outline(
        id=spec.id if k == 0 else f"{spec.id}/{k + 1}",
        footprint=convex.hull(points[:, :2]),
        height=high - low,
        base=low,
        kind="mesh" if isinstance(spec, MeshPiece) else spec.piece,
        standing=convex.hull(below[:, :2]) if len(below) else np.zeros((0, 2)),
    )


def _below(mesh: Mesh, roof: float) -> Array:
    """Corners of the part of a mesh that lies below z = roof: its own, and where edges go through that height."""
    z = mesh.vertices[:, 2]
    edges = mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    crossing = edges[(z[edges[:, 0]] < roof) & (z[edges[:, 1]] > roof)]
    start, end = mesh.vertices[crossing[:, 0]], mesh.vertices[crossing[:, 1]]
    share = (roof - start[:, 2]) / (end[:, 2] - start[:, 2])
    return np.concatenate([mesh.vertices[z <= roof], start + share[:, None] * (end - start)])


# --- what stands in the way ---


def collisions(scene: Scene, dressed: Dressed) -> tuple[Collision, ...]:
    """Pieces that stand in the vehicle's way, on another lane, in each other, over the edge or through the backdrop.

    Leaves give way, so of a plant only its inner third counts, except where the vehicle would brush it. Walls and
    fences may meet. Cones stand on roads on purpose, so they are only looked for where the vehicle drives. Scattered
    things were kept out of the way when they were placed.
    """
    found: list[Collision] = []
    ways = _ways(scene)
    for outline in dressed.outlines:
        if len(outline.standing) == 0:
            continue
        found += _in_the_way(outline, ways)
        found += _off_the_set(scene, outline)
    for one, other in combinations(dressed.outlines, 2):
        overlap = _meeting(one, other)
        if overlap > _TOUCH:
            found.append(Collision(one.id, other.id, overlap))
    return tuple(found)


def vehicle_size(scene: Scene) -> tuple[float, float, float]:
    """Length, width and height of the vehicle on the table; a mesh file's are measured. [m]"""
    vehicle, length = scene.vehicle, scene.vehicle_length
    if vehicle.body is not None:
        long, wide, high = VEHICLE_SIZES[vehicle.body]
        return length, length * wide / long, length * high / long
    assert vehicle.mesh is not None  # a Vehicle has one of body and mesh
    model = load_model(scene.folder / vehicle.mesh, length, vehicle.up)
    x, y, z = np.ptp(np.concatenate([mesh.vertices for mesh in model.meshes]), axis=0).tolist()
    return (x, y, z) if vehicle.front.endswith("x") else (y, x, z)


@dataclass(frozen=True)
class _Way:
    """Poses of a box that drives: middles (s, 2), headings (s,), and half its length and width. [m]

    above: only what reaches higher than this is in its way. [m]
    """

    name: str
    middles: Array
    headings: Array
    half: tuple[float, float]
    above: float = 0.0


def _ways(scene: Scene) -> list[_Way]:
    """The vehicle's own way first, wider where its mirrors are, then the other lanes of the road."""
    length, width, _ = vehicle_size(scene)
    half = width / 2 + _MARGIN / scene.scale
    launch = scene.vehicle.launch
    run_up = launch.ramp.length if launch is not None else 0.0
    ways = [_way("vehicle", vehicle_path(scene), -run_up, (length / 2, half))]
    if scene.vehicle.body is not None:
        model = length / VEHICLE_SIZES[scene.vehicle.body][0]
        over_all, from_height = (side * model for side in OVER_ALL[scene.vehicle.body])
        over_mirrors = over_all / 2 + _MARGIN / scene.scale
        ways.insert(0, replace(ways[0], half=(length / 2, over_mirrors), above=from_height))
    road = scene.set.road
    if road is not None:
        half = min(half, 0.45 * road.lane)
        for lane in (np.arange(road.lanes) - (road.lanes - 1) / 2) * road.lane:
            ways.append(_way("road", road_curve(scene).shifted(float(lane)), 0.0, (_STATION, half)))
    return ways


def _way(name: str, curve: Curve, start: float, half: tuple[float, float]) -> _Way:
    stations = np.linspace(start, curve.length, max(int((curve.length - start) / _STATION), 1) + 1)
    return _Way(name, curve.at(stations), curve.heading(stations), half)


def _in_the_way(outline: Outline, ways: list[_Way]) -> Iterator[Collision]:
    """The worst of the ways: the vehicle's own, or else another lane."""
    for way in ways:
        if outline.base + outline.height <= way.above or (way.name == "road" and outline.kind == "cone"):
            continue
        overlap = float(convex.box_depths(way.middles, way.headings, way.half, outline.standing).max())
        if overlap > _TOUCH:
            yield Collision(outline.id, way.name, overlap)
            return


def _solid(outline: Outline) -> Array:
    """What of it nothing else can stand in."""
    if outline.kind not in _PLANTS:
        return outline.standing
    middle = outline.standing.mean(axis=0)
    return np.asarray(middle + (outline.standing - middle) / 3)


def _off_the_set(scene: Scene, outline: Outline) -> Iterator[Collision]:
    table, backdrop = scene.set.table, scene.set.backdrop
    solid = _solid(outline)
    if outline.kind in _RUNS:  # they run on over the edge as the road does; only where they stand counts
        solid = solid.mean(axis=0, keepdims=True)
    over = max(-solid[:, 0].min(), solid[:, 0].max() - table.width, -solid[:, 1].min(), solid[:, 1].max() - table.depth)
    if over > _TOUCH:
        yield Collision(outline.id, "table", float(over))
    if backdrop is None:
        return
    width = backdrop.width or table.width
    beside = np.abs(solid[:, 0] - table.width / 2) <= width / 2
    through = solid[beside, 1].max(initial=-np.inf) - backdrop.distance
    if through > _TOUCH:
        yield Collision(outline.id, "backdrop", float(through))


def _meeting(one: Outline, other: Outline) -> float:
    """How far two pieces stand in each other beyond what is allowed; 0 or less where they do not. [m]"""
    if len(one.standing) == 0 or len(other.standing) == 0 or (one.kind in _RUNS and other.kind in _RUNS):
        return 0.0
    if min(one.base + one.height, other.base + other.height) - max(one.base, other.base) <= _TOUCH:
        return 0.0  # one stands on the other
    first, second = _solid(one), _solid(other)
    # A wall or fence may end inside a building, a post stand inside a wall.
    runs = [convex.thickness(solid) for solid, of in ((first, one), (second, other)) if of.kind in _RUNS]
    return convex.depth(first, second) - max(runs, default=0.0)
