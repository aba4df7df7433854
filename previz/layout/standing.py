"""What stands where: every copy of every piece in its place, as solids that can be met, hit and hidden by."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import FileFault, PrevizError
from previz.layout.ground import ground_heights
from previz.layout.modelled import ModelFile, mesh_bands
from previz.layout.motion import VehiclePose, road_curve, vehicle_at
from previz.layout.others import others_of
from previz.layout.ramp import ramp_of
from previz.layout.remembered import remembered, remembered_of
from previz.layout.roadside import roadside_of
from previz.layout.sizes import PLANTS, Band, Size, extent_of, piece_bands, rectangle, solid_bands
from previz.layout.vehicle import vehicle_bands
from previz.physics.overlap import distance_to_prism, entries_into, hull, planes_of, prism_entries
from previz.scene import MeshPiece, Scatter, Scene

Array = NDArray[np.float64]

#: Pieces one sees through or past: they hide nothing worth a finding, and hardly shade.
SEE_THROUGH = ("fence", "lamp_post", "sign", "cone", "kerb", "garland")

#: Walls, hedges and fences: they may meet, and run on over the table's edge as the road does.
RUNS = ("wall", "hedge", "fence")
THIN_RUNS = ("wall", "fence")  # of those, what may end inside another thing

#: What overlaps by less only touches. [m]
TOUCH = 0.0005

#: By so much more than it is a box is taken to be, for rounding. [m]
_HAIR = 1e-6


@dataclass(frozen=True)
class Solid:
    """One thing on the set.

    Parameters
    ----------
    id : str
        Of its entry in the scene; "vehicle" for the vehicle.
    kind : str
        The word after `piece:`, "mesh", "ramp" or "vehicle".
    at : (3,) float
        Middle of its foot. [m]
    turn : float
        Counter-clockwise seen from above. [rad]
    bands : tuple of Band
        What it takes up, in its own frame.
    entry : int
        Number of its entry in `dressing`; -1 for what is none.
    copy : int
        Which of the entry's copies, from 0.
    """

    id: str
    kind: str
    at: tuple[float, float, float]
    turn: float
    bands: tuple[Band, ...]
    entry: int = -1
    copy: int = 0

    @property
    def name(self) -> str:
        """Its id; of the second copy `id/2`, and so on."""
        return self.id if self.copy == 0 else f"{self.id}/{self.copy + 1}"

    @cached_property
    def size(self) -> Size:
        """Extent along its own x, its own y, and up. [m]"""
        return extent_of(self.bands)

    @cached_property
    def radius(self) -> float:
        """Of the circle about the middle of its foot that holds all of it, seen from above. [m]"""
        return max(float(np.hypot(*band.outline.T).max()) for band in self.bands)

    @property
    def base(self) -> float:
        """Its lowest point over the table. [m]"""
        return self.at[2] + min(band.low for band in self.bands)

    @property
    def top(self) -> float:
        """Its highest point over the table. [m]"""
        return self.at[2] + max(band.high for band in self.bands)

    @property
    def middle(self) -> Array:
        """Of the box around it. (3,) [m]"""
        return np.asarray(self.corners().mean(axis=0))

    @cached_property
    def footprint(self) -> Array:
        """Convex outline (k, 2) of all of it seen from above. [m]"""
        return self.below(math.inf)

    def below(self, height: float) -> Array:
        """Convex outline (k, 2) of what of it lies below a height over the table; (0, 2) where nothing does. [m]"""
        outlines = [band.outline for band in self.bands if self.at[2] + band.low < height]
        if not outlines:
            return np.zeros((0, 2))
        return self.placed(outlines[0] if len(outlines) == 1 else hull(np.concatenate(outlines)))

    def placed(self, points: Array) -> Array:
        """Points (n, 2) or (n, 3) of its own frame where they are on the set. [m]"""
        c, s = math.cos(self.turn), math.sin(self.turn)
        flat = points[:, :2] @ np.array([[c, s], [-s, c]]) + np.array(self.at[:2])
        return np.column_stack([flat, points[:, 2:] + self.at[2]])

    @cached_property
    def solid(self) -> "Solid":
        """What of it nothing else can stand in."""
        return replace(self, bands=solid_bands(self.kind, self.bands)) if self.kind in PLANTS else self

    @cached_property
    def prisms(self) -> tuple[tuple[Array, float, float], ...]:
        """Each band's outline, low and high in the world. [m]"""
        return tuple((self.placed(band.outline), self.at[2] + band.low, self.at[2] + band.high) for band in self.bands)

    @cached_property
    def planes(self) -> tuple[tuple[Array, Array], ...]:
        """The planes of each prism's faces, as `physics.overlap.planes_of` gives them."""
        return tuple(planes_of(*prism) for prism in self.prisms)

    @cached_property
    def reach(self) -> tuple[Array, Array]:
        """Least and most along x, y and up of a box that holds it. (3,) each [m]"""
        flat, around = np.array(self.at[:2]), self.radius
        return np.array([*(flat - around), self.base]), np.array([*(flat + around), self.top])

    def corners(self) -> Array:
        """Corners (8, 3) of the box around it that is turned as it is, the lower four first. [m]

        Each four go round from the rear right: rear right, front right, front left, rear left.
        """
        outlines = np.concatenate([band.outline for band in self.bands])
        (rear, right), (front, left) = outlines.min(axis=0), outlines.max(axis=0)
        flat = self.placed(rectangle(rear, front, right, left))
        return np.concatenate([np.column_stack([flat, np.full(4, z)]) for z in (self.base, self.top)])

    def hit_by(self, origins: Array, directions: Array) -> NDArray[np.bool_]:
        """Which rays (n,) from origin to origin + direction, both (n, 3) [m], meet it; one that begins inside does."""
        return np.asarray(_entries_each(origins, directions, [self])[0] <= 1)

    def distance(self, points: Array) -> Array:
        """Of points (n, 3) from it; negative inside. (n,) [m]"""
        return np.min([distance_to_prism(points, *prism) for prism in self.prisms], axis=0)


def standing_places(scene: Scene, piece: Any) -> Iterator[tuple[tuple[float, float, float], float]]:
    """Where a piece and its copies stand on the ground: middle of the foot [m], and turn [rad].

    A row along the road stands from `first` to the road's end, as far as there is table under it.
    """
    ground = ground_heights(scene)
    if piece.along is None:
        step = np.array(piece.step or (0.0, 0.0, 0.0))
        for copy in range(piece.copies):
            x, y, z = np.array(piece.at) + copy * step
            yield (float(x), float(y), float(z + ground.height([[x, y]])[0])), float(piece.turn)
        return
    curve, table = road_curve(scene), scene.set.table
    distances = np.arange(piece.first, curve.length + 1e-9, piece.every)
    turns = curve.heading(distances)
    spots = curve.at(distances) + piece.offset * np.stack([-np.sin(turns), np.cos(turns)], axis=-1)
    on_table = ((spots >= 0) & (spots <= (table.width, table.depth))).all(axis=1)
    spots, turns = spots[on_table], turns[on_table]
    for (x, y), turn, z in zip(spots.tolist(), turns.tolist(), ground.height(spots).tolist(), strict=True):
        yield (x, y, z), turn + float(piece.turn)


@remembered
def solids_of(scene: Scene) -> tuple[Solid, ...]:
    """All that stands on the set: every copy of every piece, the launch ramps in slices, kerbs and pavements in
    stretches."""
    return (*pieces_of(scene), *ramp_solids(scene), *kerb_solids(scene))


@remembered_of("scale", "set", "folder")
def kerb_solids(scene: Scene) -> tuple[Solid, ...]:
    """Kerbs with the pavements behind them, in stretches that are straight: those at the left of the road first."""
    side, found = roadside_of(scene), []
    for strip in side.strips:
        name = f"{'pavement' if strip.paved else 'kerb'} at the road's {'left' if strip.side > 0 else 'right'}"
        for number, outline in enumerate(side.pieces(strip)):
            middle = outline.mean(axis=0)
            x, y = middle.tolist()
            found.append(
                Solid(name, "kerb", (x, y, 0.0), 0.0, (Band(0.0, strip.height, outline - middle),), copy=number)
            )
    return tuple(found)


@remembered
def ramp_solids(scene: Scene) -> tuple[Solid, ...]:
    """The launch ramps of all vehicles in slices, that of the subject first."""
    others = [(name, part) for name, other in others_of(scene) for part in own_ramp(other)]
    return (*own_ramp(scene), *(replace(part, id=f"ramp of {name}") for name, part in others))


@remembered
def own_ramp(scene: Scene) -> tuple[Solid, ...]:
    """The launch ramp of the subject in upright slices from its high end to its foot; none where it is not launched."""
    ramp = ramp_of(scene)
    if ramp is None:
        return ()
    found = []
    for number, (begins, ends, low, high) in enumerate(ramp.slices().tolist()):
        x, y = ramp.placed(np.array([[(begins + ends) / 2, 0.0]]))[0].tolist()
        half = (ends - begins) / 2
        band = Band(low, high, rectangle(-half, half, -ramp.width / 2, ramp.width / 2))
        found.append(Solid("ramp", "ramp", (x, y, 0.0), ramp.heading, (band,), copy=number))
    return tuple(found)


@remembered_of("scale", "set", "dressing", "vehicle", "vehicles", "folder")
def pieces_of(scene: Scene) -> tuple[Solid, ...]:
    """Every copy of every piece, in the order of the scene; scattered things are kept clear of them by the stage."""
    found = []
    for number, piece in enumerate(scene.dressing):
        if isinstance(piece, Scatter):
            continue
        if isinstance(piece, MeshPiece):
            kind, bands = "mesh", _of_a_file(scene, number, piece)
        else:
            kind, bands = piece.piece, piece_bands(piece, scene.scale_of(piece))
        for copy, (at, turn) in enumerate(standing_places(scene, piece)):
            found.append(Solid(piece.id, kind, at, turn, bands, number, copy))
    return tuple(found)


def _of_a_file(scene: Scene, number: int, piece: MeshPiece) -> tuple[Band, ...]:
    try:
        return mesh_bands(ModelFile.of(scene, piece), piece.length)
    except PrevizError as error:
        raise FileFault(("dressing", number, "mesh"), str(error)) from None


def vehicle_solid(scene: Scene, pose: VehiclePose) -> Solid:
    """The vehicle at a pose."""
    x, y, z = pose.position.tolist()
    return Solid("vehicle", "vehicle", (x, y, z), pose.heading, vehicle_bands(scene))


def other_solids(scene: Scene, time: float) -> tuple[Solid, ...]:
    """The vehicles beside the subject at a time on set [s], by their names."""
    return tuple(replace(vehicle_solid(other, vehicle_at(other, time)), id=name) for name, other in others_of(scene))


def entries(origins: Array, directions: Array, solids: Sequence[Solid]) -> Array:
    """How far along each ray (n,) it comes into the first of the solids, in its own lengths; inf where into none."""
    first = np.full(len(origins), np.inf)
    if not len(origins) or not solids:
        return first
    least, most = _reaches(solids)
    (x0, y0, z0), (x1, y1, z1) = (least.min(axis=0) - _HAIR).tolist(), (most.max(axis=0) + _HAIR).tolist()
    near = np.isfinite(prism_entries(origins, directions, rectangle(x0, x1, y0, y1), z0, z1))
    if near.any():
        first[near] = _entries_each(origins[near], directions[near], solids).min(axis=0)
    return first


def hits(origins: Array, directions: Array, solids: Sequence[Solid]) -> NDArray[np.bool_]:
    """Which solids each ray meets before its end: (n, k) bool for n rays and k solids."""
    found = np.zeros((len(origins), len(solids)), dtype=bool)
    if not len(origins) or not solids:
        return found
    ends = np.concatenate([origins, origins + directions])
    least, most = _reaches(solids)
    near = np.flatnonzero(((least <= ends.max(axis=0)) & (most >= ends.min(axis=0))).all(axis=1))
    if len(near):  # none of them comes near the rest
        found[:, near] = (_entries_each(origins, directions, [solids[k] for k in near.tolist()]) <= 1).T
    return found


def _reaches(solids: Sequence[Solid]) -> tuple[Array, Array]:
    """Least and most along x, y and up of each one's box. (k, 3) each [m]"""
    low, high = zip(*(solid.reach for solid in solids), strict=True)
    return np.array(low), np.array(high)


def _entries_each(origins: Array, directions: Array, solids: Sequence[Solid]) -> Array:
    """How far along each of n rays it comes into each of k solids, in its own lengths; inf where never. (k, n)

    Prisms of as many faces go together: most solids are of few, so that to ask each costs more than the answer.
    """
    first = np.full((len(solids), len(origins)), np.inf)
    alike: dict[int, tuple[list[int], list[tuple[Array, Array]]]] = {}
    for k, solid in enumerate(solids):
        for planes in solid.planes:
            whose, lot = alike.setdefault(len(planes[1]), ([], []))
            whose.append(k)
            lot.append(planes)
    for whose, lot in alike.values():
        faces, at = (np.stack(each) for each in zip(*lot, strict=True))
        for k, entered in zip(whose, entries_into(origins, directions, faces, at), strict=True):
            np.minimum(first[k], entered, out=first[k])
    return first
