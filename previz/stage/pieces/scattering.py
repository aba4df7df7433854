"""Loose things over an area: where they fall, by a seed, and a few builds of each kind repeated for all of them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.layout import (
    backdrop_plane,
    each_driven,
    ground_heights,
    half_road,
    road_curve,
    roof,
    solids_of,
    vehicle_path,
)
from previz.mesh import Array, Mesh
from previz.physics.overlap import area_over, inside
from previz.physics.paths import along_curve
from previz.scene import SCATTERED_STYLES, VEHICLE_SIZES, Scatter, Scene
from previz.stage.pieces import foliage, street, yard
from previz.stage.pieces.models import Build, Model, at_fault, words_of
from previz.stage.shapes.finish import MOST_TRIANGLES, too_many

_ROUNDS = 60


@dataclass(frozen=True)
class Scattered:
    """Where one scatter's things lie.

    Parameters
    ----------
    places : (n, 3) float
        Foot of each, on the ground. [m]
    radii : (n,) float
        Half the widest of each seen from above. [m]
    heights : (n,) float
        [m]
    """

    places: Array
    radii: Array
    heights: Array


Colour = tuple[float, float, float]
Make = Callable[[float, Colour, float, np.random.Generator, float, str], Model]


@dataclass(frozen=True)
class Kind:
    """What a scatter is made of.

    Parameters
    ----------
    size : (2,) float
        Full-size heights where the scene gives none [m]; typical, from memory.
    colour : (3,) float
        Its own, linear.
    variants : int
        Different builds of it.
    apart : float
        Spacing, as a share of the two radii.
    settled : float
        How much of its height lies in the ground.
    build : callable
        (height, colour, snow, rng, detail, style) -> meshes about so high [m]; style is "" for what has none.
    """

    size: tuple[float, float]
    colour: Colour
    variants: int
    apart: float
    settled: float
    build: Make


def _stone(
    height: float, colour: Colour, snow: float, rng: np.random.Generator, detail: float, style: str
) -> tuple[Mesh, ...]:
    wide, deep = height * rng.uniform(1.15, 1.7), height * rng.uniform(1.0, 1.4)
    return yard.stone((wide, deep, height), colour, snow, rng)


KINDS: dict[str, Kind] = {
    "stones": Kind((0.3, 1.1), (0.22, 0.21, 0.19), 8, 0.9, 0.12, _stone),
    "cones": Kind((0.71, 0.71), (0.70, 0.13, 0.02), 2, 1.5, 0.0, lambda h, c, s, r, d, k: street.cone(h, c, r)),
    "conifers": Kind((6.0, 14.0), (0.030, 0.062, 0.030), 6, 0.75, 0.01,
                     lambda h, c, s, r, d, k: foliage.conifer(h, c, s, r, d)),
    "broadleaves": Kind((6.0, 12.0), (0.075, 0.120, 0.030), 4, 0.75, 0.01,
                        lambda h, c, s, r, d, k: foliage.broadleaf(h, c, False, r, d, k)),
    "bushes": Kind((0.8, 2.0), (0.070, 0.110, 0.030), 5, 0.6, 0.04, lambda h, c, s, r, d, k: foliage.bush(h, c, r, d)),
    "tufts": Kind((0.25, 0.6), (0.110, 0.135, 0.045), 8, 0.4, 0.0,
                  lambda h, c, s, r, d, k: foliage.tuft(h, c, r, d, k)),
    "logs": Kind((0.3, 0.6), (0.120, 0.085, 0.055), 4, 0.6, 0.10, lambda h, c, s, r, d, k: foliage.log(h, c, s, r)),
}  # fmt: skip


def scatter(
    scene: Scene, spec: Scatter, most: int = MOST_TRIANGLES, variants: Sequence[Model] | None = None
) -> tuple[Scattered, list[Mesh]]:
    """Place one scatter, clear of the road, the vehicle's way and all that stands on the set.

    `variants` are what it is made of, as `variants_of` has them; built here unless they are given.
    Raises PrevizError where its area has no free place at all, or it would have more than `most` triangles.
    """
    kind = KINDS[spec.scatter]
    rng = np.random.default_rng([spec.seed, 31])
    low, high = _sizes(scene, spec)
    if variants is None:
        variants = [build() for build in variants_of(scene, spec).values()]
    which = rng.integers(0, len(variants), spec.count)
    count = sum(len(mesh.faces) * int((which == k).sum()) for k, meshes in enumerate(variants) for mesh in meshes)
    if count > most:
        raise too_many(f"with {spec.id} all that stands has {MOST_TRIANGLES - most + count}")
    heights = low + (high - low) * rng.random(spec.count) ** 1.6  # more small ones than large
    spread = np.array([_spread(meshes) for meshes in variants])
    radii = heights * spread[which]
    spots = _spots(scene, spec, radii, kind.apart, taken(scene), rng)
    feet = np.column_stack([spots, ground_heights(scene).height(spots)])
    rng = np.random.default_rng([spec.seed, 33])  # however many darts were thrown
    turns = rng.uniform(0, 2 * np.pi, spec.count)
    shades = rng.uniform(0.86, 1.12, spec.count)
    sunk = feet - np.outer(kind.settled * heights, [0, 0, 1])
    parts: list[Mesh] = []
    for k, meshes in enumerate(variants):
        mine = np.flatnonzero(which == k)
        if len(mine):
            parts += [repeated(mesh, sunk[mine], heights[mine], turns[mine], shades[mine]) for mesh in meshes]
    return Scattered(feet, radii, heights), parts


def taken(scene: Scene) -> list[Array]:
    """Outlines of what stands below the vehicle's roof."""
    outlines = [solid.below(roof(scene)) for solid in solids_of(scene)]
    return [outline for outline in outlines if len(outline)]


def _sizes(scene: Scene, spec: Scatter) -> tuple[float, float]:
    """The least and the largest height of one. [m]"""
    low, high = KINDS[spec.scatter].size
    return spec.size or (low / scene.scale_of(spec), high / scene.scale_of(spec))


def variants_of(scene: Scene, spec: Scatter, number: int = 0) -> dict[str, Build]:
    """A few builds by key, drafted at a middling height and brought to exactly 1, standing on z = 0.

    `number` is that of the entry, at which a fault is told.
    """
    kind, height = KINDS[spec.scatter], sum(_sizes(scene, spec)) / 2
    words = words_of(spec)
    return {
        f"{words} {height!r} {k}": partial(_variant, spec, kind, height, k, number)
        for k in range(min(kind.variants, spec.count))
    }


def _variant(spec: Scatter, kind: Kind, height: float, k: int, number: int) -> Model:
    detail = float(np.clip(150 / spec.count, 0.15, 0.8))
    style = spec.style or SCATTERED_STYLES.get(spec.scatter, ("",))[0]
    rng = np.random.default_rng([spec.seed, 32, k])
    with at_fault("dressing", number, "scatter"):
        meshes = kind.build(height, spec.colour or kind.colour, spec.snow, rng, detail, style)
    z = np.concatenate([mesh.vertices[:, 2] for mesh in meshes])
    return tuple(replace(mesh, vertices=(mesh.vertices - [0, 0, z.min()]) / np.ptp(z)) for mesh in meshes)


def _spread(meshes: tuple[Mesh, ...]) -> float:
    """Farthest reach from its axis of a thing 1 high."""
    return max(float(np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 1]).max()) for mesh in meshes)


def repeated(mesh: Mesh, places: Array, sizes: Array, turns: Array, shades: Array) -> Mesh:
    """One mesh that is `mesh` at n places: grown by sizes, turned, its colours times shades (each (n,))."""
    c, s, zero = np.cos(turns), np.sin(turns), np.zeros(len(turns))
    rows = np.stack([c, -s, zero, s, c, zero, zero, zero, zero + 1], axis=1).reshape(-1, 3, 3)
    grown = rows * sizes[:, None, None]
    vertices = np.einsum("kij,nj->kni", grown, mesh.vertices) + places[:, None]
    normals = np.einsum("kij,nj->kni", rows, mesh.normals)
    colours = np.clip(shades[:, None, None] * mesh.colours[None], 0, 1)
    count = len(mesh.vertices)
    faces = mesh.faces[None] + count * np.arange(len(places))[:, None, None]
    return replace(
        mesh,
        vertices=vertices.reshape(-1, 3),
        normals=normals.reshape(-1, 3),
        colours=colours.reshape(-1, 3),
        faces=faces.reshape(-1, 3),
        uv=None if mesh.uv is None else np.tile(mesh.uv, (len(places), 1)),
    )


# --- places ---


def _spots(
    scene: Scene, spec: Scatter, radii: Array, apart: float, taken: list[Array], rng: np.random.Generator
) -> Array:
    """A free spot (n, 2) for each radius: throw darts, keep those that are clear, ask for less room each round."""
    area = area_over(spec.over)
    low, high = area.min(axis=0), area.max(axis=0)
    spots, waiting = np.zeros((len(radii), 2)), np.arange(len(radii))
    done = np.zeros(0, dtype=np.intp)
    ever_free = False
    for k in range(_ROUNDS):
        # For those that lie already too: what is in the way of one in one setup makes no other lie elsewhere there.
        darts = rng.uniform(low, high, (len(radii), 2))[waiting]
        reach = radii[waiting]
        free = inside(area, darts) & clear_of_all(scene, darts, reach, taken)
        ever_free |= bool(free.any())
        chosen, places = waiting[free], darts[free]
        room = apart * 0.93**k if k < _ROUNDS - 10 else 0.0
        keep = _apart(spots[done], radii[done], places, radii[chosen], room)
        spots[chosen[keep]] = places[keep]
        done = np.concatenate([done, chosen[keep]])
        waiting = np.setdiff1d(waiting, chosen[keep], assume_unique=True)
        if not len(waiting):
            return spots
    raise PrevizError(
        f"scatter {spec.id}: {len(waiting)} of {spec.count} {spec.scatter} find no room in its area beside the road, "
        f"the vehicle's way and other pieces{'' if ever_free else ' (none of it is free)'}; "
        "make the area larger, the count smaller or the size less"
    )


def clear_of_all(scene: Scene, spots: Array, radii: Array, taken: list[Array]) -> NDArray[np.bool_]:
    """Which spots are clear of road, vehicle and pieces by their own radius, and on the table."""
    table = scene.set.table
    clear = ((spots >= 0) & (spots <= (table.width, table.depth))).all(axis=1)
    backdrop, plane = scene.set.backdrop, backdrop_plane(scene)
    if backdrop is not None and plane is not None:
        clear &= plane.off(spots) + radii < backdrop.distance - backdrop.join.cove
    road = scene.set.road
    if road is not None:
        half = half_road(road, scene.scale)
        clear &= along_curve(road_curve(scene), spots).away > half + radii
    for each in each_driven(scene):
        way = along_curve(vehicle_path(each), spots)
        # Straight on beyond both ends of its path too: it comes from there and leaves that way.
        clear &= np.minimum(way.away, np.abs(way.left)) > swept_half_width(each) + radii
    for outline in taken:
        clear &= ~_within(outline, spots, radii)
    return np.asarray(clear)


def swept_half_width(scene: Scene) -> float:
    """Half of what the vehicle sweeps: its width, a margin, and how far its corners swing out in its bends. [m]"""
    assert scene.vehicle is not None
    length = scene.vehicle_length
    body = scene.vehicle.body
    width = length * (VEHICLE_SIZES[body][1] / VEHICLE_SIZES[body][0] if body else 0.45)
    curve = vehicle_path(scene)
    stations = np.linspace(0, curve.length, max(int(curve.length / 0.02), 2))
    bend = float(np.abs(np.gradient(np.unwrap(curve.heading(stations)), stations)).max())
    # A corner half a length ahead of the middle leaves a circle of radius 1/bend by about length^2 bend / 8.
    return width / 2 + 0.2 / scene.vehicle_scale + length**2 * bend / 8


def _within(outline: Array, spots: Array, radii: Array) -> NDArray[np.bool_]:
    """Which discs reach into a convex outline (k, 2), counter-clockwise; a little early round its corners."""
    edges = np.roll(outline, -1, axis=0) - outline
    sizes = np.linalg.norm(edges, axis=1)
    outward = np.stack([edges[:, 1], -edges[:, 0]], axis=1)[sizes > 1e-12] / sizes[sizes > 1e-12, None]
    starts = outline[sizes > 1e-12]
    beyond = np.einsum("nkj,kj->nk", spots[:, None] - starts[None], outward)
    return np.asarray((beyond < radii[:, None]).all(axis=1))


def _apart(done: Array, done_radii: Array, places: Array, radii: Array, room: float) -> NDArray[np.intp]:
    """Which of the new places stay clear of those that are done and of earlier new ones, by `room` of their radii."""
    from scipy.spatial import cKDTree  # here: a set kept on disk need not wait for it

    if room <= 0 or not len(places):
        return np.arange(len(places))
    everywhere = np.concatenate([done, places])
    size = np.concatenate([done_radii, radii])
    pairs = cKDTree(everywhere).query_pairs(2 * room * size.max(), output_type="ndarray")
    gap = np.linalg.norm(everywhere[pairs[:, 0]] - everywhere[pairs[:, 1]], axis=1)
    pairs = pairs[(gap < room * (size[pairs[:, 0]] + size[pairs[:, 1]])) & (pairs[:, 1] >= len(done))]
    keep = np.ones(len(everywhere), dtype=bool)
    for first, second in pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))].tolist():
        if keep[first]:
            keep[second] = False
    return np.flatnonzero(keep[len(done) :])
