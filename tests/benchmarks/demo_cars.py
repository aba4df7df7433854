"""The models of the demo scene `country_garage`, three cars and a lamp post, made up here: there are none like them.

    python tests/benchmarks/demo_cars.py                writes scenes/models/*.glb anew
    python tests/benchmarks/demo_cars.py FOLDER heavy   the scene with cars of 5 thousand, 200 thousand and 2 million
                                                        triangles, as a maker's own may have, in FOLDER

A body is an implicit surface: rounded hulls and wings, blended. It is cut into triangles, those are brought onto the
surface, and its normals are the surface's own. Windows, shut lines and linings are cut out along outlines, so that
their edges are smooth at any number of triangles. Bumpers, strips and handles are laid on it where rays meet it.
Metres at full size; x forward, y left, z up. Files keep to glTF: y up, the front towards +z.
"""

import json
import shutil
import struct
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import igl
import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

ROOT = Path(__file__).parents[2]

Array = NDArray[np.float64]
Solid = Callable[[Array], Array]  # below 0 inside, roughly in metres

WHEEL, TYRE = 0.325, 0.165  # radius and width
ARCH, ARCH_UP, INNER = 0.375, 0.345, 0.42  # a wheel arch's radius, its middle's height, how far in it goes
FLOOR = 0.235  # height
MOST_JOINED = 12_000  # triangles of half a body; more are made of these by halving
SHUT = 0.007  # half the width of a shut line

# --- solids ---


def blend(a: Array, b: Array, width: float) -> Array:
    """Two solids as one, with a fillet."""
    near = np.maximum(width - np.abs(a - b), 0) / width
    return np.minimum(a, b) - near**2 * width / 4


def hull(p: Array, stations: Sequence[Sequence[float]], square: float, ends: float, lean: float = 0.0) -> Array:
    """A long rounded body. Rows of stations: x, half width, lowest, highest. `lean`: how much it narrows upwards."""
    x, half, low, high = np.array(stations).T
    at = np.clip(p[:, 0], x[0], x[-1])
    w, down, up = (PchipInterpolator(x, each)(at) for each in (half, low, high))
    middle, tall = (up + down) / 2, (up - down) / 2
    lifted = (p[:, 2] - middle) / tall
    w = w * (1 - lean * np.clip(lifted, 0, 1.5))
    along = np.abs(2 * (p[:, 0] - x[0]) / (x[-1] - x[0]) - 1)
    round_it = (np.abs(p[:, 1] / w) ** square + np.abs(lifted) ** square) ** (ends / square)
    return ((round_it + along**ends) ** (1 / ends) - 1) * 0.55


def drop(p: Array, places: Sequence[Sequence[float]], thin: float = 1.0) -> Array:
    """A wing: balls strung on a line. Rows: x, y, z, radius; `thin`: how much less wide than high."""
    q = p * (1, 1, 1)
    q[:, 1] = np.abs(q[:, 1])
    found = None
    for start, end in zip(np.array(places)[:-1], np.array(places)[1:], strict=True):
        a, way = start[:3] * (1, thin, 1), (end - start)[:3] * (1, thin, 1)
        off = q * (1, thin, 1) - a
        t = np.clip(off @ way / (way @ way), 0, 1)
        far = np.linalg.norm(off - t[:, None] * way, axis=1) - (start[3] + t * (end[3] - start[3]))
        found = far if found is None else blend(found, far, 0.12)
    assert found is not None
    return found


def well(p: Array, axles: Sequence[float], inner: float = INNER) -> Array:
    """Where the wheels go."""
    rolls = np.min([np.hypot(p[:, 0] - x, p[:, 2] - ARCH_UP) for x in axles], axis=0) - ARCH
    return np.maximum(rolls, inner - np.abs(p[:, 1]))


def outline(x: Array, z: Array, corners: Sequence[Sequence[float]], radius: float) -> Array:
    """Distance to a convex polygon with rounded corners, below 0 inside; corners go round counter-clockwise."""
    points = np.array(corners, dtype=float)
    ways = np.roll(points, -1, axis=0) - points
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    outs = np.stack([ways[:, 1], -ways[:, 0]], axis=1)
    far = np.stack([(x - p[0]) * o[0] + (z - p[1]) * o[1] for p, o in zip(points, outs, strict=True)], axis=1) + radius
    # The two sides that are passed furthest make the corner.
    two = np.sort(far, axis=1)[:, -2:]
    return np.where(two[:, 0] > 0, np.hypot(two[:, 0], two[:, 1]), two[:, 1]) - radius


# --- triangles ---


@dataclass
class Sheet:
    """Triangles of a body, each with the name of what covers it."""

    points: Array
    faces: NDArray[np.int64]
    cover: NDArray[np.int64]
    names: list[str] = field(default_factory=lambda: ["paint"])

    def cut(self, solid: Solid, of: tuple[str, ...], name: str) -> None:
        """What lies inside a solid, of the triangles covered as told, is covered otherwise."""
        if name not in self.names:
            self.names.append(name)
        which = np.isin(self.cover, [self.names.index(each) for each in of if each in self.names])
        values = solid(self.points)
        values = np.where(np.abs(values) < 1e-6, 1e-6, values)
        split = which & (np.ptp(np.sign(values[self.faces]), axis=1) > 0)
        inside = which & (values[self.faces] < 0).all(axis=1)
        self.cover = np.where(inside, self.names.index(name), self.cover)
        if not split.any():
            return
        # Turned so that the corner that is alone on its side comes first.
        faces = self.faces[split]
        below = values[faces] < 0
        alone = np.where(below.sum(axis=1) == 1, below.argmax(axis=1), (~below).argmax(axis=1))
        faces = faces[np.arange(len(faces))[:, None], (alone[:, None] + np.arange(3)) % 3]
        a, b, c = faces.T
        edges = np.concatenate([np.stack([a, b], 1), np.stack([a, c], 1)])
        unique, number = np.unique(np.sort(edges, axis=1), axis=0, return_inverse=True)
        v0, v1 = values[unique[:, 0]], values[unique[:, 1]]
        share = (v0 / (v0 - v1))[:, None]
        new = self.points[unique[:, 0]] * (1 - share) + self.points[unique[:, 1]] * share
        ab, ac = np.split(len(self.points) + number.reshape(-1), 2)
        self.points = np.concatenate([self.points, new])
        own, first_in = self.cover[split], values[a] < 0
        other = np.full(len(own), self.names.index(name))
        self.faces = np.concatenate([
            self.faces[~split], np.stack([a, ab, ac], 1), np.stack([ab, b, c], 1), np.stack([ab, c, ac], 1),
        ])  # fmt: skip
        first, rest = np.where(first_in, other, own), np.where(first_in, own, other)
        self.cover = np.concatenate([self.cover[~split], first, rest, rest])


def slope(solid: Solid, points: Array, step: float = 0.003) -> Array:
    """How a solid's value grows, per metre."""
    found = []
    for axis in np.eye(3) * step:
        found.append((solid(points + axis) - solid(points - axis)) / (2 * step))
    return np.stack(found, axis=1)


def onto(solid: Solid, points: Array, rounds: int = 3) -> Array:
    """Points brought onto its surface."""
    for _ in range(rounds):
        way = slope(solid, points)
        square = np.maximum((way**2).sum(axis=1), 0.04)
        points = points - np.clip(solid(points) / square, -0.02, 0.02)[:, None] * way
    return points


def skin(solid: Solid, size: Sequence[float], step: float, triangles: int) -> tuple[Array, NDArray[np.int64]]:
    """A solid's surface as about so many triangles, the same on the left and on the right."""
    x, y, z = (np.arange(low, high, step) for low, high in ((-size[0], size[0]), (0, size[1]), (0, size[2])))
    grid = np.stack(np.meshgrid(x, y, z, indexing="ij"), axis=-1)
    at = np.ascontiguousarray(grid.transpose(2, 1, 0, 3)).reshape(-1, 3)
    found = igl.marching_cubes(solid(at), at, len(x), len(y), len(z), 0.0)
    points, faces = np.asarray(found[0]), np.asarray(found[1]).astype(np.int64)
    # Coarser by joining corners, then finer by halving, until one half of the body has half as many as told.
    halvings = max(int(np.ceil(np.log(triangles / 2 / MOST_JOINED) / np.log(4))), 0)
    done = igl.decimate(points, faces, round(triangles / 2 / 4**halvings))
    done = done if isinstance(done[0], np.ndarray) else done[1:]
    points, faces = np.asarray(done[0]), np.asarray(done[1]).astype(np.int64)
    for _ in range(halvings):
        points, faces = trimesh.remesh.subdivide(points, faces)
    points = onto(solid, points)
    points[:, 1] = np.where(np.abs(points[:, 1]) < step, np.maximum(points[:, 1], 0), points[:, 1])
    edge = trimesh.Trimesh(points, faces, process=False)
    border = np.unique(edge.edges_sorted[trimesh.grouping.group_rows(edge.edges_sorted, require_count=1)])
    points[border, 1] = 0.0
    if edge.volume < 0:
        faces = faces[:, ::-1]
    both = np.concatenate([faces, faces[:, ::-1] + len(points)])
    whole = trimesh.Trimesh(np.concatenate([points, points * (1, -1, 1)]), both, process=False)
    whole.merge_vertices(digits_vertex=7)
    return np.asarray(whole.vertices), np.asarray(whole.faces).astype(np.int64)


# --- what is laid on ---


def tube(line: Array, radius: float, sides: int, flat: float = 1.0, ups: Array | None = None) -> trimesh.Trimesh:
    """A bar along a line (n, 3), rounded at its ends; `flat`: its thickness off the body by its height."""
    way = np.gradient(line, axis=0)
    way /= np.linalg.norm(way, axis=1)[:, None]
    up = np.array([0.0, 0.0, 1.0]) if ups is None else ups
    out = np.cross(way, up)
    out /= np.linalg.norm(out, axis=1)[:, None]
    up = np.cross(out, way)
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    taper = np.sqrt(np.clip(1 - np.abs(np.linspace(-1, 1, len(line))) ** 16, 0.02, 1))[:, None, None]
    spokes = out[:, None] * np.cos(turn)[:, None] * flat + up[:, None] * np.sin(turn)[:, None]
    normal = out[:, None] * np.cos(turn)[:, None] + up[:, None] * np.sin(turn)[:, None] * flat
    points = (line[:, None] + radius * taper * spokes).reshape(-1, 3)
    normal = normal.reshape(-1, 3) / np.linalg.norm(normal.reshape(-1, 3), axis=1)[:, None]
    number = np.arange(len(line) * sides).reshape(len(line), sides)
    a, b = number[:-1], number[1:]
    c, d = np.roll(b, -1, axis=1), np.roll(a, -1, axis=1)
    faces = np.concatenate([np.stack(each, -1).reshape(-1, 3) for each in ((a, b, c), (a, c, d))])
    made = trimesh.Trimesh(points, faces, vertex_normals=normal, process=False)
    first = made.triangles_center[0] - line[0]
    if made.face_normals[0] @ (first - (first @ way[0]) * way[0]) < 0:
        made = trimesh.Trimesh(points, faces[:, ::-1], vertex_normals=normal, process=False)
    return made


def lathe(line: Sequence[Sequence[float]], sides: int, sharp: float = 35.0) -> trimesh.Trimesh:
    """A solid of revolution about y from (radius, y), its outside to the right; it creases where it bends more."""
    points = np.array(line, dtype=float)
    ways = np.diff(points, axis=0)
    outs = np.stack([ways[:, 1], -ways[:, 0]], 1) / np.linalg.norm(ways, axis=1)[:, None]
    turn = np.linspace(0, 2 * np.pi, sides + 1)[:-1]
    c, s = np.cos(turn), np.sin(turn)

    def ring(at: Array, out: Array) -> tuple[Array, Array]:
        place = np.stack([at[0] * c, np.full(sides, at[1]), at[0] * s], 1)
        return place, np.stack([out[0] * c, np.full(sides, out[1]), out[0] * s], 1)

    rings, joins = [], []
    for k, out in enumerate(outs):
        for end in (0, 1):
            other = k - 1 if end == 0 else k + 1
            mine = out
            if 0 <= other < len(outs) and outs[other] @ out > np.cos(np.radians(sharp)):
                mine = (out + outs[other]) / np.linalg.norm(out + outs[other])
            rings.append(ring(points[k + end], mine))
        joins.append((len(rings) - 2, len(rings) - 1))
    faces = []
    ahead = (np.arange(sides) + 1) % sides
    for low, high in joins:
        a, b = low * sides + np.arange(sides), high * sides + np.arange(sides)
        faces += [np.stack([a, a[ahead], b[ahead]], 1), np.stack([a, b[ahead], b], 1)]
    whole = trimesh.Trimesh(
        np.concatenate([each[0] for each in rings]), np.concatenate(faces),
        vertex_normals=np.concatenate([each[1] for each in rings]), process=False,
    )  # fmt: skip
    good = whole.area_faces > 1e-12
    faces_of = whole.faces[good]
    middle = np.einsum("ij,ij->i", whole.face_normals[good], whole.vertex_normals[faces_of[:, 0]])
    faces_of = np.where((middle < 0)[:, None], faces_of[:, ::-1], faces_of)
    return trimesh.Trimesh(whole.vertices, faces_of, vertex_normals=whole.vertex_normals, process=False)


def ball(at: Sequence[float], radii: Sequence[float], fine: int) -> trimesh.Trimesh:
    """An ellipsoid."""
    made = trimesh.creation.icosphere(subdivisions=fine)
    normal = made.vertices / np.array(radii)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    return trimesh.Trimesh(made.vertices * radii + np.array(at), made.faces, vertex_normals=normal, process=False)


def plate(at: Sequence[float], size: Sequence[float]) -> trimesh.Trimesh:
    """A small box with flat sides."""
    made = trimesh.creation.box(size)
    made.unmerge_vertices()
    made.apply_translation(at)
    return trimesh.Trimesh(
        made.vertices, made.faces, vertex_normals=np.repeat(made.face_normals, 3, axis=0), process=False
    )


def met(solid: Solid, start: Array, way: Array) -> Array:
    """Where rays from outside meet it. (n, 3)"""
    points, way = np.array(start, dtype=float), np.broadcast_to(way, np.shape(start))
    for _ in range(90):
        points = points + np.clip(0.6 * solid(points), -0.05, 0.05)[:, None] * way
    return points


# --- cars ---


@dataclass(frozen=True)
class Kind:
    """A car: its solid and what is cut out of it and laid on it."""

    solid: Solid
    axles: tuple[float, float]
    track: float
    windows: tuple[tuple[str, Solid], ...]
    lines: tuple[Solid, ...]
    upper: Solid
    lamps: tuple[float, float]  # y and z of a headlamp
    tail_lamps: tuple[float, float]
    grille: tuple[float, float, float, float]  # half width, lowest, highest, bars
    strip: tuple[float, float, float]  # from, to, height
    handles: tuple[float, ...]
    belt: float
    bed: tuple[float, float, float, float] | None = None  # from x to x, half width, height of its floor
    boards: bool = False  # to step on, between the wings


def facing(axis: int, sign: float, at: float) -> Solid:
    """What lies on one side of a plane."""
    return lambda p: at - sign * p[:, axis]


def both(*solids: Solid) -> Solid:
    """What lies in all of them."""
    return lambda p: np.max([each(p) for each in solids], axis=0)


def side_on(corners: Sequence[Sequence[float]], radius: float = 0.05) -> Solid:
    """An outline as seen from either side."""
    return lambda p: np.maximum(outline(p[:, 0], p[:, 2], corners, radius), 0.36 - np.abs(p[:, 1]))


def head_on(corners: Sequence[Sequence[float]], radius: float = 0.07) -> Solid:
    """An outline as seen from ahead or behind, told of its right half: y above 0."""
    whole = [*corners, *[(-y, z) for y, z in reversed(corners) if y > 0]]
    return lambda p: outline(p[:, 1], p[:, 2], whole, radius)


def saloon() -> Kind:
    """A rounded saloon with four doors."""
    axles = (1.27, -1.27)

    def solid(p: Array) -> Array:
        tub = hull(p, (
            (-2.12, 0.50, 0.34, 0.62), (-1.85, 0.60, 0.26, 0.82), (-1.3, 0.68, 0.22, 0.95), (-0.6, 0.72, 0.22, 0.97),
            (0.2, 0.72, 0.22, 0.97), (0.8, 0.70, 0.22, 0.95), (1.3, 0.67, 0.24, 0.91), (1.8, 0.62, 0.28, 0.83),
            (2.10, 0.52, 0.34, 0.70)), 3.2, 8.0, 0.08)  # fmt: skip
        cabin = hull(p, (
            (-1.62, 0.46, 0.6, 0.90), (-1.3, 0.58, 0.6, 1.18), (-0.9, 0.655, 0.6, 1.39), (-0.4, 0.69, 0.6, 1.495),
            (0.1, 0.69, 0.6, 1.475), (0.45, 0.66, 0.6, 1.36), (0.72, 0.60, 0.6, 1.14), (0.95, 0.52, 0.6, 0.90)),
            3.0, 12.0, 0.20)  # fmt: skip
        front = drop(p, ((1.90, 0.60, 0.66, 0.17), (1.35, 0.62, 0.58, 0.30), (0.35, 0.66, 0.52, 0.22),
                         (-0.7, 0.66, 0.42, 0.16)), 1.35)  # fmt: skip
        rear = drop(p, ((-0.62, 0.66, 0.5, 0.14), (-1.25, 0.64, 0.56, 0.29), (-1.75, 0.58, 0.56, 0.22),
                        (-2.0, 0.52, 0.58, 0.11)), 1.35)  # fmt: skip
        return blend(blend(tub, cabin, 0.07), blend(front, rear, 0.05), 0.14)

    belt = 1.0
    glass = (
        (
            "glass",
            both(
                side_on(((-0.30, belt + 0.02), (0.62, belt + 0.02), (0.34, 1.315), (-0.30, 1.36))), facing(0, 1, -0.29)
            ),
        ),
        ("glass", side_on(((-1.0, belt + 0.03), (-0.38, belt + 0.02), (-0.38, 1.36), (-0.78, 1.33)))),
        ("glass", both(head_on(((0.0, 1.0), (0.545, 1.0), (0.43, 1.345), (0.0, 1.375))), facing(0, 1, 0.36))),
        ("glass", both(head_on(((0.0, 1.04), (0.47, 1.04), (0.37, 1.29), (0.0, 1.31))), facing(0, -1, 0.85))),
    )
    doors = (
        side_on(((-0.34, 0.36), (0.68, 0.36), (0.74, 0.95), (0.40, 1.40), (-0.34, 1.42)), 0.06),
        side_on(((-0.86, 0.50), (-0.70, 0.36), (-0.34, 0.36), (-0.34, 1.42), (-0.86, 1.40), (-1.08, 1.0)), 0.06),
        both(lambda p: outline(p[:, 0], p[:, 1], ((0.86, -0.46), (1.9, -0.32), (1.9, 0.32), (0.86, 0.46)), 0.1),
             facing(2, 1, 0.74)),
        both(lambda p: outline(p[:, 0], p[:, 1], ((-1.98, -0.40), (-1.5, -0.44), (-1.5, 0.44), (-1.98, 0.40)), 0.1),
             facing(2, 1, 0.6)),
    )  # fmt: skip

    def roof(p: Array) -> Array:
        return 0.985 + 0.02 * p[:, 0] - p[:, 2] + 3 * np.maximum(np.abs(p[:, 0] + 0.33) - 1.32, 0)

    return Kind(
        solid, axles, 0.63, glass, doors, roof,
        (0.60, 0.70), (0.52, 0.66), (0.34, 0.46, 0.70, 5), (0.0, 0.0, 0.0), (-0.22, -0.95), belt,
    )  # fmt: skip


def estate() -> Kind:
    """A small estate car: upright, long-roofed."""
    axles = (1.15, -1.12)

    def solid(p: Array) -> Array:
        tub = hull(p, (
            (-1.86, 0.62, 0.30, 0.90), (-1.5, 0.70, 0.23, 0.99), (-0.6, 0.74, 0.22, 1.0), (0.3, 0.73, 0.22, 1.0),
            (0.8, 0.70, 0.22, 0.99), (1.3, 0.66, 0.24, 0.95), (1.65, 0.61, 0.28, 0.88), (1.84, 0.54, 0.34, 0.76)),
            3.6, 9.0, 0.03)  # fmt: skip
        cabin = hull(p, (
            (-1.80, 0.60, 0.6, 1.30), (-1.6, 0.66, 0.6, 1.52), (-1.1, 0.69, 0.6, 1.58), (-0.3, 0.70, 0.6, 1.60),
            (0.25, 0.69, 0.6, 1.54), (0.55, 0.66, 0.6, 1.36), (0.75, 0.61, 0.6, 1.14), (0.92, 0.55, 0.6, 0.92)),
            4.0, 16.0, 0.15)  # fmt: skip
        wings = drop(p, ((1.66, 0.56, 0.66, 0.18), (1.2, 0.60, 0.56, 0.28), (0.2, 0.63, 0.50, 0.22),
                         (-1.1, 0.62, 0.54, 0.27), (-1.6, 0.60, 0.56, 0.2)), 1.3)  # fmt: skip
        return blend(blend(tub, cabin, 0.06), wings, 0.10)

    glass = (
        ("glass", side_on(((-0.22, 1.04), (0.58, 1.04), (0.32, 1.42), (-0.22, 1.46)))),
        ("glass", side_on(((-0.88, 1.04), (-0.30, 1.04), (-0.30, 1.46), (-0.88, 1.46)))),
        ("glass", side_on(((-1.62, 1.06), (-0.98, 1.04), (-0.98, 1.46), (-1.56, 1.44)))),
        ("glass", both(head_on(((0.0, 1.02), (0.56, 1.02), (0.48, 1.43), (0.0, 1.46))), facing(0, 1, 0.36))),
        ("glass", both(head_on(((0.0, 1.08), (0.50, 1.08), (0.44, 1.42), (0.0, 1.44))), facing(0, -1, 1.5))),
    )
    doors = (
        side_on(((-0.26, 0.34), (0.60, 0.34), (0.68, 0.95), (0.38, 1.50), (-0.26, 1.52)), 0.06),
        side_on(((-0.70, 0.50), (-0.62, 0.34), (-0.26, 0.34), (-0.26, 1.52), (-0.93, 1.52), (-0.93, 0.9)), 0.06),
    )
    return Kind(
        solid, axles, 0.60, glass, doors, lambda p: 1.50 - p[:, 2], (0.56, 0.72), (0.60, 0.72),
        (0.36, 0.46, 0.72, 4), (-1.55, 1.5, 0.68), (-0.16, -0.82), 1.02,
    )  # fmt: skip


def pickup() -> Kind:
    """A pick-up with a rounded cab and an open bed."""
    axles = (1.32, -1.30)

    def solid(p: Array) -> Array:
        tub = hull(p, (
            (-2.2, 0.70, 0.40, 0.92), (-1.6, 0.72, 0.34, 0.94), (-0.6, 0.74, 0.26, 0.98), (0.3, 0.73, 0.24, 1.03),
            (0.8, 0.64, 0.24, 1.04), (1.4, 0.52, 0.26, 1.02), (1.85, 0.42, 0.30, 0.95), (2.1, 0.34, 0.36, 0.80)),
            4.0, 12.0, 0.0)  # fmt: skip
        cabin = hull(p, (
            (-0.62, 0.62, 0.6, 1.36), (-0.5, 0.68, 0.6, 1.60), (-0.2, 0.71, 0.6, 1.70), (0.2, 0.70, 0.6, 1.66),
            (0.48, 0.67, 0.6, 1.48), (0.66, 0.62, 0.6, 1.22), (0.82, 0.56, 0.6, 0.98)), 3.6, 14.0, 0.16)  # fmt: skip
        front = drop(p, ((1.84, 0.64, 0.66, 0.16), (1.34, 0.66, 0.60, 0.31), (0.5, 0.70, 0.40, 0.16)), 1.4)
        rear = drop(p, ((-0.86, 0.72, 0.44, 0.12), (-1.3, 0.74, 0.58, 0.28), (-1.78, 0.72, 0.48, 0.14)), 1.6)
        return blend(blend(tub, cabin, 0.06), blend(front, rear, 0.02), 0.05)

    glass = (
        ("glass", side_on(((-0.38, 1.10), (0.56, 1.10), (0.32, 1.50), (-0.38, 1.54)))),
        ("glass", both(head_on(((0.0, 1.10), (0.55, 1.10), (0.47, 1.50), (0.0, 1.53))), facing(0, 1, 0.30))),
        ("glass", both(head_on(((0.0, 1.16), (0.44, 1.16), (0.40, 1.46), (0.0, 1.47))), facing(0, -1, 0.5))),
    )
    doors = (
        side_on(((-0.48, 0.42), (0.66, 0.42), (0.68, 1.0), (0.38, 1.58), (-0.48, 1.60)), 0.06),
        both(lambda p: outline(p[:, 0], p[:, 1], ((0.78, -0.50), (1.92, -0.30), (1.92, 0.30), (0.78, 0.50)), 0.1),
             facing(2, 1, 0.86)),
    )  # fmt: skip
    return Kind(
        solid, axles, 0.66, glass, doors, lambda p: 9.0 + 0 * p[:, 2], (0.64, 0.70), (0.62, 0.62),
        (0.30, 0.50, 0.86, 6), (0.0, 0.0, 0.0), (-0.36,), 1.06, (-2.10, -0.72, 0.64, 0.62), True,
    )  # fmt: skip


KINDS = {"saloon": saloon, "estate": estate, "pickup": pickup}

#: What is in each file: a kind, how many triangles its body is made of before it is cut out, how fine all else is, and
#: the liveries that it comes in: node, body, upper part.
FILES: dict[str, tuple[str, int, int, tuple[tuple[str, str, str], ...]]] = {
    "saloon": ("saloon", 10_400, 2, (("saloon_blue", "#2f6f86", "#e9e2cf"),)),
    "pickup": ("pickup", 5_000, 1, (("pickup_green", "#55703f", "#55703f"), ("pickup_rust", "#a3502f", "#a3502f"))),
    "estate": ("estate", 640, 0, (("estate_cream", "#d8c9a0", "#efe9da"), ("estate_red", "#8f2f2a", "#e6dcc6"))),
}

#: The same of bodies with so many triangles that the cars come to 2 million, 200 thousand and 5 thousand.
HEAVY = {"saloon": 2_080_000, "pickup": 186_000, "estate": 640}


def linear(code: str) -> list[float]:
    """A colour as it is written to what it reflects (IEC 61966-2-1)."""
    share = np.array([int(code[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    return [*np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4).round(4).tolist(), 1.0]


Cover = tuple[list[float], float, float]


def material(colour: Sequence[float], metal: float, rough: float) -> Cover:
    """A material of one colour."""
    return list(colour), metal, rough


COVERS = {
    "glass": material((0.012, 0.016, 0.018, 1), 0.0, 0.06),
    "seal": material((0.60, 0.61, 0.62, 1), 1.0, 0.30),
    "line": material((0.012, 0.012, 0.012, 1), 0.0, 0.9),
    "mouth": material((0.014, 0.014, 0.015, 1), 0.0, 0.7),
    "bed": material((0.30, 0.22, 0.14, 1), 0.0, 0.8),
    "lining": material((0.018, 0.018, 0.018, 1), 0.0, 0.95),
    "chrome": material((0.86, 0.87, 0.88, 1), 1.0, 0.18),
    "rubber": material((0.022, 0.022, 0.023, 1), 0.0, 0.85),
    "white": material((0.72, 0.71, 0.68, 1), 0.0, 0.6),
    "lens": material((0.80, 0.82, 0.80, 1), 0.0, 0.08),
    "red": material((0.42, 0.012, 0.010, 1), 0.0, 0.12),
    "amber": material((0.70, 0.24, 0.02, 1), 0.0, 0.15),
    "plate": material((0.70, 0.70, 0.66, 1), 0.0, 0.5),
}

Parts = dict[str, list[trimesh.Trimesh]]


def body(kind: Kind, triangles: int, detail: int) -> Parts:
    """A car without its wheels, by what covers it."""
    fine = {0: 0.032, 1: 0.024, 2: 0.018}[detail]
    points, faces = skin(kind.solid, (2.35, 0.98, 1.8), fine, triangles)
    sheet = Sheet(points, faces, np.zeros(len(faces), np.int64))
    sheet.cut(lambda p: well(p, kind.axles), ("paint",), "gone")
    sheet.cut(lambda p: p[:, 2] - FLOOR, ("paint",), "lining")
    if kind.bed is not None:
        low, high, half, deep = kind.bed
        sheet.cut(
            lambda p: np.max([low - p[:, 0], p[:, 0] - high, np.abs(p[:, 1]) - half, deep - p[:, 2]], axis=0),
            ("paint",), "bed",
        )  # fmt: skip
    if detail:
        for door in kind.lines:  # a line is narrower than a triangle: its two edges are cut one after the other
            sheet.cut(lambda p, w=door: w(p) - SHUT, ("paint",), "line")
            sheet.cut(lambda p, w=door: w(p) + SHUT, ("line",), "paint")
    sheet.cut(kind.upper, ("paint",), "upper")
    for name, window in kind.windows:
        sheet.cut(lambda p, w=window: w(p) - 0.022, ("paint", "upper"), "seal")
        sheet.cut(window, ("seal",), name)
    half, low, high, bars = kind.grille
    mouth = head_on(((0.0, low), (half, low), (half * 0.8, high), (0.0, high)), 0.08)
    sheet.cut(both(mouth, facing(0, 1, 1.6)), ("paint",), "mouth")
    normals = slope(kind.solid, sheet.points)
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-9)[:, None]
    for name, height, up in (("lining", FLOOR, -1.0), ("bed", kind.bed[3] if kind.bed else 0.0, 1.0)):
        if name in sheet.names:  # these are flat, and what is flat does not share corners with what is not
            mine = sheet.cover == sheet.names.index(name)
            used, packed = np.unique(sheet.faces[mine], return_inverse=True)
            sheet.faces[mine] = packed.reshape(-1, 3) + len(sheet.points)
            sheet.points = np.concatenate([sheet.points, sheet.points[used] * (1, 1, 0) + (0, 0, height)])
            normals = np.concatenate([normals, np.tile((0.0, 0.0, up), (len(used), 1))])
    parts: Parts = {}
    for number, name in enumerate(sheet.names):
        if name == "gone":
            continue
        mine = sheet.faces[sheet.cover == number]
        used, packed = np.unique(mine, return_inverse=True)
        if len(mine):
            parts[name] = [
                trimesh.Trimesh(sheet.points[used], packed.reshape(-1, 3), vertex_normals=normals[used], process=False)
            ]
    arches(kind, parts, detail)
    if kind.bed is not None:
        load_bed(kind, kind.bed, parts, detail)
    laid_on(kind, parts, detail, int(bars))
    return parts


def walls(lines: Sequence[Array]) -> trimesh.Trimesh:
    """A sheet between lines (n, 3), seen from either side."""
    points = np.stack(lines)
    number = np.arange(points.shape[0] * points.shape[1]).reshape(points.shape[:2])
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    faces = np.concatenate([np.stack(each, -1).reshape(-1, 3) for each in ((a, b, c), (a, c, d))])
    made = trimesh.Trimesh(points.reshape(-1, 3), faces, process=False)
    return trimesh.Trimesh(
        np.tile(made.vertices, (2, 1)), np.concatenate([faces, faces[:, ::-1] + len(made.vertices)]),
        vertex_normals=np.concatenate([made.vertex_normals, -made.vertex_normals]), process=False,
    )  # fmt: skip


def arches(kind: Kind, parts: Parts, detail: int) -> None:
    """What is inside the wheel arches, and the lip along each."""
    lowest = np.arcsin((FLOOR - ARCH_UP) / ARCH)
    turn = np.linspace(lowest, np.pi - lowest, (9, 21, 41)[detail])
    for axle in kind.axles:
        for side in (-1.0, 1.0):
            rim = np.stack([axle + ARCH * np.cos(turn), 0 * turn + 1.4 * side, ARCH_UP + ARCH * np.sin(turn)], 1)
            edge = met(kind.solid, rim, np.array([0.0, -side, 0.0]))
            on = (np.abs(kind.solid(edge)) < 0.01) & (side * edge[:, 1] > INNER)
            edge[:, 1] = np.interp(turn, turn[on], edge[on, 1])  # the body may end above the floor
            inside = edge * (1, 0, 1) + (0, side * INNER, 0)
            middle = 0 * edge + (axle, side * INNER, FLOOR)
            parts.setdefault("lining", []).append(walls([edge, inside, middle]))
            parts["paint"].append(tube(edge, 0.016, (4, 5, 8)[detail], 1.0, np.array([0.0, 1.0, 0.001])))


def load_bed(kind: Kind, bed: tuple[float, float, float, float], parts: Parts, detail: int) -> None:
    """The sides of a pick-up's bed, and the rolled edge along them."""
    low, high, half, deep = bed
    corners = np.array([(low, -half), (low, half), (high, half), (high, -half), (low, -half)])
    steps = (8, 12, 20)[detail]
    for start, end in pairwise(corners):
        flat = start + (end - start) * np.linspace(0, 1, steps)[:, None]
        top = met(kind.solid, np.column_stack([flat, np.full(steps, 2.2)]), np.array([0.0, 0.0, -1.0]))
        parts.setdefault("bed", []).append(walls([top, top * (1, 1, 0) + (0, 0, deep)]))
        if abs(start[0] - end[0]) > 0.1 or start[0] < high:
            parts["paint"].append(tube(top, 0.022, (5, 6, 8)[detail]))


def laid_on(kind: Kind, parts: Parts, detail: int, bars: int) -> None:
    """Bumpers, grille, strips, lamps, handles, mirrors and plates."""
    sides, steps, knob = (5, 8, 12)[detail], (9, 17, 29)[detail], min(detail, 1)
    chrome = parts.setdefault("chrome", [])

    def around(z: float, sign: float, reach: float, off: float, count: int) -> Array:
        turn = np.linspace(-reach, reach, count)
        way = np.stack([-sign * np.cos(turn), -np.sin(turn) * 0.8, 0 * turn], 1)
        start = np.stack([sign * (1.2 + 1.6 * np.cos(turn)), 1.25 * np.sin(turn), 0 * turn + z], 1)
        found = met(kind.solid, start, way / np.linalg.norm(way, axis=1)[:, None])
        return found - off * way

    for sign in (1.0, -1.0):
        line = around(0.44, sign, 0.95, 0.075, steps)
        line[:, 2] = 0.44
        chrome.append(tube(line, 0.055, sides, 0.6))
        for y in (-0.28, 0.28):
            at = line[np.abs(line[:, 1] - y).argmin()]
            chrome.append(ball((at[0] + sign * 0.02, y, 0.46), (0.045, 0.035, 0.10), knob))
        for y in (-1.0, 1.0):
            lamp_y, lamp_z = kind.lamps if sign > 0 else kind.tail_lamps
            at = met(kind.solid, np.array([[sign * 2.6, y * lamp_y, lamp_z]]), np.array([[-sign, 0.0, 0.0]]))[0]
            if sign > 0:
                around_y = (14, 20, 32)[detail]
                for name, shape in (("paint", ((0.075, -0.22), (0.112, -0.12), (0.128, -0.03), (0.130, 0.0))),
                                    ("chrome", ((0.130, 0.0), (0.130, 0.014), (0.120, 0.026), (0.104, 0.022))),
                                    ("lens", ((0.106, 0.018), (0.085, 0.034), (0.05, 0.046), (0, 0.05)))):  # fmt: skip
                    made = lathe(shape, around_y)
                    turned(made, at - np.array((0.03, 0, 0)))
                    parts.setdefault(name, []).append(made)
                low = met(kind.solid, np.array([[2.6, y * (lamp_y - 0.02), lamp_z - 0.19]]), np.array([[-1.0, 0, 0]]))[
                    0
                ]
                parts.setdefault("amber", []).append(ball(low, (0.02, 0.045, 0.03), knob))
            else:
                parts.setdefault("red", []).append(ball(at, (0.03, 0.055, 0.085), knob))
        high = 0.60 if sign < 0 else 0.33
        at = met(kind.solid, np.array([[sign * 2.8, 0.0, high]]), np.array([[-sign, 0.0, 0.0]]))[0]
        parts.setdefault("plate", []).append(
            plate((at[0] + sign * (0.03 if sign < 0 else 0.09), 0, high), (0.012, 0.42, 0.10))
        )
    half, low, high, _ = kind.grille
    for z in np.linspace(low + 0.03, high - 0.03, bars):
        wide = np.linspace(-1, 1, max(steps // 2, 7)) * half * np.interp(z, [low, high], [0.98, 0.80])
        start = np.stack([0 * wide + 2.6, wide, 0 * wide + z], 1)
        chrome.append(tube(met(kind.solid, start, np.array([-1.0, 0, 0])) + np.array((0.004, 0, 0)), 0.017, sides, 0.8))
    for side in (-1.0, 1.0):
        if kind.boards:
            parts["paint"].append(plate((0.03, side * 0.76, 0.30), (1.62, 0.24, 0.03)))
        if kind.strip[0] < kind.strip[1] and detail:
            x = np.linspace(kind.strip[0], kind.strip[1], 2 * steps)
            start = np.stack([x, 0 * x + side * 1.4, 0 * x + kind.strip[2]], 1)
            chrome.append(tube(met(kind.solid, start, np.array([0, -side, 0])), 0.013, 6, 0.8))
        for x0 in kind.handles:
            x = np.linspace(x0, x0 + 0.16, 5)
            start = np.stack([x, 0 * x + side * 1.4, 0 * x + kind.belt - 0.13], 1)
            chrome.append(
                tube(met(kind.solid, start, np.array([0, -side, 0])) + np.array((0, side * 0.02, 0)), 0.016, 6)
            )
        at = met(kind.solid, np.array([[0.66, side * 1.4, kind.belt]]), np.array([[0.0, -side, 0.0]]))[0]
        chrome.append(ball(at + np.array((0, side * 0.10, 0.05)), (0.035, 0.075, 0.05), knob))
        chrome.append(
            tube(np.linspace(at, at + np.array((0, side * 0.09, 0.04)), 4), 0.010, 5, 1.0, np.array([1.0, 0, 0]))
        )


def turned(mesh: trimesh.Trimesh, at: Array) -> None:
    """What was made about y faces ahead, x, and is moved."""
    mesh.apply_transform(trimesh.transformations.rotation_matrix(-np.pi / 2, (0, 0, 1)))
    mesh.apply_translation(at)


def wheel(side: float, detail: int, white_wall: bool) -> Parts:
    """A tyre, a painted disc with slots and a chrome cap, about y, its outer face towards `side`, 1 or -1."""
    around, bends = (14, 24, 36)[detail], (3, 5, 7)[detail]
    w, slots = TYRE / 2, 5 if detail == 0 else 8
    turn = np.linspace(-np.pi / 2, np.pi / 2, bends)
    tread = [(0.255 + 0.07 * np.cos(a) ** 0.5, w * np.sin(a)) for a in np.clip(turn, -1.5707, 1.5707)]
    parts: Parts = {
        "rubber": [
            lathe([(0.20, -w * 0.8), (0.235, -w * 1.02), *tread, (0.235, w * 1.02), (0.20, w * 0.8)], around, 60)
        ],
        "paint": [
            lathe([(0.205, w * 0.8), (0.198, w * 0.95), (0.185, w * 0.72), (0.15, w * 0.62), (0.12, w * 0.80)], around)
        ],
        "chrome": [
            lathe([(0.125, w * 0.74), (0.118, w * 0.98), (0.09, w * 1.14), (0.05, w * 1.24), (0.0, w * 1.27)], around)
        ],
        "lining": [lathe([(0.20, -w * 0.7), (0.0, -w * 0.7)][::-1], around)],
    }
    if white_wall:
        parts["white"] = [lathe([(0.274, w * 1.03), (0.224, w * 1.055)], around)]
    for k in range(slots):
        slot = ball((0.168, w * 0.64, 0.0), (0.014, 0.008, 0.026), 0)
        slot.apply_transform(trimesh.transformations.rotation_matrix(2 * np.pi * k / slots, (0, 1, 0)))
        parts["lining"].append(slot)
    if side < 0:
        for meshes in parts.values():
            for mesh in meshes:
                mesh.apply_transform(trimesh.transformations.rotation_matrix(np.pi, (0, 0, 1)))
    return parts


#: glTF has y up and the front towards z: x forward becomes z, y left becomes x.
AXES = np.array([[0.0, 1, 0], [0, 0, 1], [1, 0, 0]])

#: Coordinates of files are multiples of these, so that git packs them well. [m] and of a unit normal
GRAIN, TILT = 2.0**-13, 2.0**-8


def joined(meshes: Sequence[trimesh.Trimesh]) -> tuple[Array, Array, NDArray[np.int64]]:
    """Several as one, in the file's axes: points, normals, triangles. Corners that are alike are one."""
    counts = np.cumsum([0, *[len(each.vertices) for each in meshes]])
    points = np.concatenate([each.vertices for each in meshes]) @ AXES.T
    normals = np.concatenate([each.vertex_normals for each in meshes]) @ AXES.T
    faces = np.concatenate([each.faces + start for each, start in zip(meshes, counts, strict=False)])
    alike, first, number = np.unique(
        np.hstack([(points / GRAIN).round() * GRAIN, (normals / TILT).round() * TILT])[faces.ravel()],
        axis=0, return_index=True, return_inverse=True,
    )  # fmt: skip
    order = np.argsort(first)  # corners in the order of the triangles: near by stays near by
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    points, normals = np.split(alike[order], 2, axis=1)
    faces = rank[number.reshape(-1, 3)]
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    return points, normals / np.maximum(np.linalg.norm(normals, axis=1), 1e-9)[:, None], faces


@dataclass
class File:
    """A glTF file while it is put together."""

    data: bytearray = field(default_factory=bytearray)
    tree: dict[str, list[Any]] = field(default_factory=dict)

    def put(self, group: str, what: dict[str, Any]) -> int:
        """One more of a group, once; its number."""
        group_of = self.tree.setdefault(group, [])
        if what not in group_of:
            group_of.append(what)
        return group_of.index(what)

    def numbers(self, values: NDArray[Any], target: int) -> int:
        """Numbers as an accessor; 34962 for corners, 34963 for triangles."""
        shape, codes = ("VEC3", values.astype("<f4")) if target == 34962 else ("SCALAR", values.ravel())
        if target == 34963:
            codes = codes.astype("<u2" if values.max() < 65535 else "<u4")
        raw = codes.tobytes()
        view = {"buffer": 0, "byteOffset": len(self.data), "byteLength": len(raw), "target": target}
        self.data += raw + b"\0" * (-len(raw) % 4)
        kind = {"<f4": 5126, "<u2": 5123, "<u4": 5125}[codes.dtype.str]
        made: dict[str, Any] = {
            "bufferView": self.put("bufferViews", view), "componentType": kind, "count": len(codes), "type": shape,
        }  # fmt: skip
        if target == 34962:
            made |= {"min": codes.min(axis=0).tolist(), "max": codes.max(axis=0).tolist()}
        return self.put("accessors", made)

    def written(self, roots: list[int]) -> bytes:
        """The file (glTF 2.0, 4.4)."""
        whole = {
            "asset": {"version": "2.0", "copyright": "MIT, like its repository", "generator": "demo_cars.py"},
            "scene": 0, "scenes": [{"nodes": roots}], "buffers": [{"byteLength": len(self.data)}], **self.tree,
        }  # fmt: skip
        text = json.dumps(whole, separators=(",", ":")).encode()
        text += b" " * (-len(text) % 4)
        head = struct.pack("<4sII", b"glTF", 2, 28 + len(text) + len(self.data))
        return (
            head
            + struct.pack("<I4s", len(text), b"JSON")
            + text
            + struct.pack("<I4s", len(self.data), b"BIN\0")
            + self.data
        )


def written(path: Path, kind: str, triangles: int, detail: int, liveries: Sequence[tuple[str, str, str]]) -> int:
    """One file with a car in one livery or more, each a node with four wheels below it; how many triangles one has."""
    car = KINDS[kind]()
    shapes: dict[str, Parts] = {"": body(car, triangles, detail)}
    places = {"": np.zeros(3)}
    for name, x, y in (("fl", 0, 1), ("fr", 0, -1), ("rl", 1, 1), ("rr", 1, -1)):
        shapes[f"_wheel_{name}"] = wheel(y, detail, kind == "saloon")
        places[f"_wheel_{name}"] = np.array([car.axles[x], y * car.track, WHEEL])
    file, count = File(), 0
    laid: dict[tuple[str, str], dict[str, Any]] = {}
    for part, parts in shapes.items():
        for name, meshes in parts.items():
            points, normals, faces = joined(meshes)
            count += len(faces)
            laid[part, name] = {
                "attributes": {"POSITION": file.numbers(points, 34962), "NORMAL": file.numbers(normals, 34962)},
                "indices": file.numbers(faces, 34963),
            }
    roots = []
    for node, colour, upper in liveries:
        covers = COVERS | {"paint": material(linear(colour), 0.0, 0.22), "upper": material(linear(upper), 0.0, 0.22)}
        below: list[int] = []
        for part in reversed(shapes):  # the wheels first, for the car to name them
            primitives = [
                primitive | {"material": file.put("materials", described(covers[name]))}
                for (of, name), primitive in laid.items() if of == part
            ]  # fmt: skip
            number = file.put("meshes", {"name": node + part, "primitives": primitives})
            made: dict[str, Any] = {"name": node + part, "mesh": number}
            if part:
                below.append(file.put("nodes", made | {"translation": (AXES @ places[part]).tolist()}))
            else:
                roots.append(file.put("nodes", made | {"children": below}))
    path.write_bytes(file.written(roots))
    return count


def post() -> bytes:
    """A cast post 3.3 m high for a globe, which stands on top of it as a bulb of the scene."""
    line = [
        (0.30, 0), (0.30, 0.08), (0.24, 0.12), (0.20, 0.40), (0.14, 0.52), (0.10, 0.60), (0.075, 0.72), (0.055, 1.8),
        (0.05, 2.7), (0.085, 2.74), (0.085, 2.80), (0.055, 2.86), (0.07, 2.98), (0.17, 3.10), (0.2, 3.22), (0.2, 3.30),
        (0.0, 3.30),
    ]  # fmt: skip
    shaft = lathe(line, 20, 30)
    file = File()
    points, normals, faces = joined([shaft])
    turn = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])  # made about y, and the format's own axes put x, y, z round
    points, normals = (each @ AXES @ turn @ AXES.T for each in (points, normals))
    primitive = {
        "attributes": {"POSITION": file.numbers(points, 34962), "NORMAL": file.numbers(normals, 34962)},
        "indices": file.numbers(faces, 34963),
        "material": file.put("materials", described(material(linear("#24423a"), 0.0, 0.45))),
    }
    number = file.put("meshes", {"name": "post", "primitives": [primitive]})
    return file.written([file.put("nodes", {"name": "post", "mesh": number})])


def described(cover: Cover) -> dict[str, Any]:
    """A material as glTF has it."""
    colour, metal, rough = cover
    return {"pbrMetallicRoughness": {"baseColorFactor": colour, "metallicFactor": metal, "roughnessFactor": rough}}


def main() -> None:
    """Write the cars."""
    if len(sys.argv) > 1:
        folder = Path(sys.argv[1])
        shutil.copytree(ROOT / "scenes", folder, dirs_exist_ok=True)
    else:
        folder = ROOT / "scenes"
    (folder / "models").mkdir(parents=True, exist_ok=True)
    for name, (kind, triangles, detail, liveries) in FILES.items():
        path = folder / "models" / f"{name}.glb"
        heavy = sys.argv[2:] == ["heavy"]
        count = written(path, kind, HEAVY[name] if heavy else triangles, 2 if heavy and detail else detail, liveries)
        sys.stdout.write(f"{path}: {count} triangles each, {path.stat().st_size / 1e3:.0f} kB\n")
    (folder / "models" / "post.glb").write_bytes(post())


if __name__ == "__main__":
    main()
