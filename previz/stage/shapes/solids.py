"""Making shapes: rounded boxes, extruded outlines, lofts, solids of revolution, tubes.

All are closed, centred on the origin unless said otherwise, in metres, with unit outward normals that are
smooth across curves and split at creases. They come grey and matt: `coloured` gives them their finish.
`placed`, `mirrored` and `scaled` move them about.
"""

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.mesh import Array, Material, Mesh, merged
from previz.stage.shapes import outlines

CREASE = 50.0  # deg: more than the step between facets of a bevel, less than a corner
_NARROW = 0.010  # a rounded edge of a smaller radius is left sharp: it is narrower than a pixel [m]
_GLINT = 0.006  # how far a facet may stray from a rounded edge: that shows as a line of light, hardly as a shape [m]

# Columns are where (outline first, outline second, depth) go; all are rotations, so nothing turns inside out.
_AXES = {
    "x": np.array([[0, 0, 1], [1, 0, 0], [0, 1, 0]], dtype=float),  # outline is (y, z)
    "y": np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]], dtype=float),  # outline is (x, z)
    "z": np.eye(3),  # outline is (x, y)
}


def shaped(vertices: ArrayLike, faces: ArrayLike, crease: float = CREASE) -> Mesh:
    """A mesh from bare triangles, with its normals worked out.

    Parameters
    ----------
    vertices : (n, 3) float
        Corners; those at one place (within 1e-7 of the size) are joined. [m]
    faces : (m, 3) int
        Counter-clockwise from outside. Faces without area are dropped.
    crease : float
        Neighbouring faces that turn by more than this keep a sharp edge between them. [deg]
    """
    points, triangles = _welded(np.asarray(vertices, dtype=float), np.asarray(faces, dtype=np.int64))
    corners = points[triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    # Summed cross products weigh by area: broad faces stay flat and the bevel beside them takes up the turn.
    summed = _summed_around(triangles, across, np.cos(np.radians(crease)))
    normals = summed / np.linalg.norm(summed, axis=1, keepdims=True)
    first, back = distinct(triangles.ravel(), *np.rint(normals * 1e5).T)
    kept = points[triangles.ravel()[first]]
    return Mesh(kept, back.reshape(-1, 3).astype(np.int64), normals[first], np.full_like(kept, 0.5))


def _welded(vertices: Array, faces: NDArray[np.int64]) -> tuple[Array, NDArray[np.int64]]:
    size = np.ptp(vertices, axis=0).max()
    first, back = distinct(*np.rint(vertices / (1e-7 * size)).T)
    faces = back[faces]
    corners = vertices[first][faces]
    doubled = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    return vertices[first], faces[doubled > 1e-11 * size**2]


def distinct(*columns: NDArray[Any]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The first row of each distinct one, in rising order, and which of these every row is.

    As np.unique does it for whole rows, but that sorts them as records, which is slow.
    """
    order = np.lexsort(columns[::-1])
    fresh = np.zeros(len(order), dtype=bool)
    fresh[:1] = True
    for column in columns:
        ordered = column[order]
        fresh[1:] |= ordered[1:] != ordered[:-1]
    back = np.empty(len(order), dtype=np.int64)
    back[order] = np.cumsum(fresh) - 1
    return order[fresh], back


def _summed_around(faces: NDArray[np.int64], across: Array, least_cosine: float) -> Array:
    """For each corner of each face: the sum of `across` over the faces there that turn little from it."""
    vertex = faces.ravel()
    order = np.argsort(vertex, kind="stable")
    counts = np.bincount(vertex)
    starts = np.cumsum(counts) - counts
    mine = np.repeat(np.arange(len(vertex)), counts[vertex])
    rank = np.arange(len(mine)) - np.repeat(np.cumsum(counts[vertex]) - counts[vertex], counts[vertex])
    other = order[starts[vertex[mine]] + rank]
    unit = across / np.linalg.norm(across, axis=1, keepdims=True)
    near = np.sum(unit[mine // 3] * unit[other // 3], axis=1) > least_cosine
    mine, other = mine[near], other[near]
    return np.stack([np.bincount(mine, weights=across[other // 3, k], minlength=len(vertex)) for k in range(3)], axis=1)


def _edge_facets(bevel: float) -> int:
    """Facets around a rounded edge of that radius, a quarter turn: none where nobody would see that it is rounded."""
    return 0 if bevel < _NARROW else outlines.chords(bevel, 90.0, _GLINT)


def box(size: tuple[float, float, float], bevel: float = 0.0, segments: int | None = None) -> Mesh:
    """A box with rounded edges and corners.

    Parameters
    ----------
    size : (x, y, z) float
        Outer size. [m]
    bevel : float
        Edge radius, at most half the smallest side. [m]
    segments : int or None
        Facets around an edge, 1 or even. None takes as many as show at the radius of a full-size edge.

    >>> box((4, 2, 1), bevel=0.1).vertices.max(0).round(9).tolist()
    [2.0, 1.0, 0.5]
    """
    half = np.asarray(size, dtype=float) / 2
    if bevel < 0 or bevel > half.min() * (1 + 1e-9):
        raise ValueError(f"bevel {bevel:g} m must lie in 0..{half.min():g} m, half the smallest side")
    facets = _edge_facets(bevel) if segments is None else segments
    if bevel == 0 or facets == 0:
        cube = _cube()
        return replace(cube, vertices=cube.vertices * np.asarray(size, dtype=float))
    return _rounded_box(tuple(float(side) for side in size), float(bevel), (facets + 1) // 2 if facets > 1 else 0)


@lru_cache(maxsize=1)
def _cube() -> Mesh:
    return _shared(extrude(outlines.rectangle(1.0, 1.0), 1.0))


def slab(size: tuple[float, float, float], cell: float) -> Mesh:
    """A box with sharp edges whose faces are cut into rectangles with no side longer than `cell`. [m]

    For light that is worked out at corners: a long bar takes a fraction of the triangles that halving them would.

    >>> len(slab((0.12, 0.002, 0.003), 0.03).faces)
    36
    """
    counts = [max(1, int(np.ceil(side / cell - 1e-9))) for side in size]
    cube = _cut_cube(*counts)
    return replace(cube, vertices=cube.vertices * np.asarray(size, dtype=float))


@lru_cache(maxsize=256)
def _cut_cube(*counts: int) -> Mesh:
    """A cube of side 1, cut so often along x, y and z."""
    ticks = [np.linspace(-0.5, 0.5, count + 1) for count in counts]
    vertices: list[Array] = []
    normals: list[Array] = []
    faces: list[NDArray[np.int64]] = []
    for axis, (one, other) in enumerate(((1, 2), (2, 0), (0, 1))):
        a, b = (grid.ravel() for grid in np.meshgrid(ticks[one], ticks[other], indexing="ij"))
        cells = grid_faces(counts[one] + 1, counts[other] + 1)
        for sign in (-1.0, 1.0):
            points, normal = np.zeros((len(a), 3)), sign * np.eye(3)[axis]
            points[:, one], points[:, other], points[:, axis] = a, b, 0.5 * sign
            faces.append((cells if sign > 0 else cells[:, ::-1]) + sum(map(len, vertices)))
            vertices.append(points)
            normals.append(np.tile(normal, (len(a), 1)))
    points = np.concatenate(vertices)
    return _shared(Mesh(points, np.concatenate(faces), np.concatenate(normals), np.full_like(points, 0.5)))


@lru_cache(maxsize=256)
def _rounded_box(size: tuple[float, ...], bevel: float, steps: int) -> Mesh:
    """`steps` facets to each half of an edge; 0 for one facet across."""
    half = np.asarray(size) / 2
    if steps == 0:
        return _shared(shaped(_CHAMFERED * half + _CHAMFERS * bevel, _CHAMFERED_FACES, crease=80.0))
    # A sphere of six gridded faces, cut apart at its three middle planes and pulled out to the box.
    ticks = np.tan(np.linspace(0.0, np.pi / 4, steps + 1))
    line = np.concatenate([-ticks[::-1], ticks])
    side = np.concatenate([-np.ones(steps + 1), np.ones(steps + 1)])
    a, b = (grid.ravel() for grid in np.meshgrid(line, line, indexing="ij"))
    sign_a, sign_b = (grid.ravel() for grid in np.meshgrid(side, side, indexing="ij"))
    one = np.ones_like(a)
    faces = grid_faces(len(line), len(line))
    vertices: list[Array] = []
    triangles: list[NDArray[np.int64]] = []
    for axis in range(3):
        for sign in (1.0, -1.0):
            # (a, b, axis) is a right-handed set for +; swapping a and b mirrors it for −.
            first, second = (axis + 1) % 3, (axis + 2) % 3
            first, second = (first, second) if sign > 0 else (second, first)
            way, push = np.zeros((len(a), 3)), np.zeros((len(a), 3))
            way[:, first], way[:, second], way[:, axis] = a, b, sign * one
            push[:, first], push[:, second], push[:, axis] = sign_a, sign_b, sign * one
            way /= np.linalg.norm(way, axis=1, keepdims=True)
            triangles.append(faces + len(a) * len(vertices))
            vertices.append(way * bevel + push * (half - bevel))
    # No edge of it is sharp, so the wide crease angle.
    return _shared(shaped(np.concatenate(vertices), np.concatenate(triangles), crease=80.0))


def _chamfered() -> tuple[Array, Array, NDArray[np.int64]]:
    """A box with one facet to an edge: its corners in half sides, how they draw in by bevels, and its faces."""
    corners = np.array([(x, y, z) for x in (-1.0, 1.0) for y in (-1.0, 1.0) for z in (-1.0, 1.0)]).repeat(3, axis=0)
    drawn_in = -corners * (1 - np.tile(np.eye(3), (8, 1)))
    # Corner 3 k + axis is that of the box's corner k which lies on its face across the axis.
    faces = [(3 * k, 3 * k + 1, 3 * k + 2) for k in range(8)]
    for along, one, other in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        step = 3 * (4, 2, 1)[along]
        for k in (3 * k for k in range(8) if corners[3 * k, along] < 0):
            edge = (k + one, k + other, k + step + other, k + step + one)
            faces += [edge[:3], (edge[0], *edge[2:])]
        for sign in (-1.0, 1.0):
            first, second, third, last = (k + along for k in range(0, 24, 3) if corners[k, along] == sign)
            faces += [(first, second, last), (first, last, third)]
    found = np.array(faces, dtype=np.int64)
    a, b, c = ((corners + 0.5 * drawn_in)[found[:, k]] for k in range(3))
    inward = np.sum(np.cross(b - a, c - a) * (a + b + c), axis=1) < 0
    return corners, drawn_in, np.where(inward[:, None], found[:, ::-1], found)


_CHAMFERED, _CHAMFERS, _CHAMFERED_FACES = _chamfered()


def _shared(mesh: Mesh) -> Mesh:
    """The mesh with its arrays locked: many hold it, so nobody may change it in place."""
    for values in (mesh.vertices, mesh.faces, mesh.normals, mesh.colours):
        values.flags.writeable = False
    return mesh


def grid_faces(rows: int, columns: int, around: bool = False) -> NDArray[np.int64]:
    """Two triangles per cell of a (rows, columns) grid, row-major; `around` closes each row into a ring."""
    cells = columns if around else columns - 1
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(rows - 1), np.arange(cells), indexing="ij"))
    k = (j + 1) % columns
    a, b, c, d = i * columns + j, (i + 1) * columns + j, (i + 1) * columns + k, i * columns + k
    return np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]).astype(np.int64)


def extrude(
    profile: ArrayLike,
    depth: float,
    bevel: float = 0.0,
    axis: str = "z",
    segments: int | None = None,
    grid: float | None = None,
    ease: ArrayLike = 1.0,
    back: bool = True,
    crease: float = CREASE,
) -> Mesh:
    """An outline given thickness, centred on its plane.

    Parameters
    ----------
    profile : (n, 2) float
        The outline, either way round, need not be convex: (x, y) for axis "z", (x, z) for "y", (y, z) for
        "x". [m]
    depth : float
        Full thickness along the axis. [m]
    bevel : float
        Radius of the edges around both end faces. [m]
    axis : {"x", "y", "z"}
        Which way the thickness runs.
    segments : int or None
        Facets around a bevelled edge. None takes as many as show at the radius of a full-size edge.
    grid : float or None
        Also cut the end faces and the sides into triangles of about this size, so that `bending.bent` can bend
        them. [m]
    ease : float or (n,) float
        How far the bevel reaches into the end faces at each corner, as a share of `bevel`: less than 1 makes
        an edge crisper. An array needs a counter-clockwise profile.
    back : bool
        False leaves out the far end and its bevel: for a panel sunk into something, with a third of the
        corners less.

    Raises
    ------
    ValueError
        If the bevel is larger than the outline or the depth allows.
    """
    outline = outlines.counter_clockwise(profile)
    shares = np.broadcast_to(np.asarray(ease, dtype=float), len(outline))
    if grid is not None:
        cut = outlines.resampled(np.column_stack([outline, shares]), grid)
        outline, shares = cut[:, :2], cut[:, 2]
    if bevel < 0 or bevel > depth / 2:
        raise ValueError(f"bevel {bevel:g} m must lie in 0..{depth / 2:g} m, half the depth")
    segments = _edge_facets(bevel) if segments is None else segments
    bevel = bevel if segments else 0.0
    levels, end_outline = _levels(outline, depth, bevel, bevel * shares, segments, grid)
    levels = levels if back else levels[-(segments if bevel else 0) - 2 :]
    rings = np.stack([np.column_stack([ring, np.full(len(ring), height)]) for ring, height in levels])
    count = rings.shape[1]
    points, cap = outlines.filled(end_outline, grid)
    top = np.column_stack([points, np.full(len(points), depth / 2)])
    bottom = np.column_stack([points, np.full(len(points), -depth / 2)])
    # Rings climb, so rows swap against the grid's own winding to face outwards.
    walls = grid_faces(len(rings), count, around=True)[:, ::-1]
    start = len(rings) * count
    vertices = np.concatenate([rings.reshape(-1, 3), top, bottom])
    faces = np.concatenate([walls, cap + start, *([cap[:, ::-1] + start + len(top)] if back else [])])
    return shaped(vertices @ _AXES[axis].T, faces, crease)


def _levels(
    outline: Array, depth: float, bevel: float, reach: Array, segments: int, grid: float | None
) -> tuple[list[tuple[Array, float]], Array]:
    """The rings of an extrusion from bottom to top, each (outline, height), and the end face's outline."""
    cuts = 1 if grid is None else max(1, int(np.ceil((depth - 2 * bevel) / grid)))
    middle = [(outline, float(h)) for h in np.linspace(-depth / 2 + bevel, depth / 2 - bevel, cuts + 1)]
    if bevel == 0:
        return middle, outline
    angles = np.linspace(0.0, np.pi / 2, segments + 1)[1:]
    rise = depth / 2 - bevel
    upper = [(outlines.inset(outline, reach * (1 - np.cos(t))), rise + bevel * np.sin(t)) for t in angles]
    lower = [(ring, -height) for ring, height in reversed(upper)]
    return lower + middle + upper, upper[-1][0]


def loft(sections: ArrayLike, capped: bool = True, crease: float = CREASE) -> Mesh:
    """A skin over cross-sections.

    Parameters
    ----------
    sections : (k, n, 3) float
        k rings of n points each, corresponding point by point, counter-clockwise seen from the last ring
        looking back at the first (with sections stacked up in z: from above). [m]
    capped : bool
        Close both ends, with a sharp edge; end rings must then be flat.
    """
    rings = np.asarray(sections, dtype=float)
    count = rings.shape[1]
    skin = shaped(rings.reshape(-1, 3), grid_faces(len(rings), count, around=True)[:, ::-1], crease)
    if not capped:
        return skin
    ends = [(rings[-1], _cap(rings[-1])), (rings[0], _cap(rings[0])[:, ::-1])]
    return merged([skin, *(shaped(ring, faces) for ring, faces in ends if len(faces))])[0]


def _cap(ring: Array) -> NDArray[np.int64]:
    """Triangles over a flat ring, counter-clockwise as the ring itself runs."""
    if np.ptp(ring, axis=0).max() < 1e-12:
        return np.zeros((0, 3), dtype=np.int64)
    normal = np.sum(np.cross(ring, np.roll(ring, -1, 0)), axis=0)
    normal /= np.linalg.norm(normal)
    right = np.cross(np.eye(3)[np.argmin(np.abs(normal))], normal)
    right /= np.linalg.norm(right)
    return outlines.filled(np.column_stack([ring @ right, ring @ np.cross(normal, right)]))[1]


def revolve(
    profile: ArrayLike, segments: int | None = None, axis: str = "z", closed: bool = False, crease: float = CREASE
) -> Mesh:
    """A solid of revolution.

    Parameters
    ----------
    profile : (n, 2) float
        (radius, height) points, from the bottom up along the outside. Where an end is off the axis it is
        joined to it by a flat disc. [m]
    segments : int or None
        Flats around the axis; a multiple of 4 puts points on all four quarters. None takes
        `outlines.sides_for` the widest.
    axis : {"x", "y", "z"}
        What it turns about.
    closed : bool
        The profile is a closed loop away from the axis (a tyre, a hoop), counter-clockwise in
        (radius, height); no discs are added.

    Raises
    ------
    ValueError
        If a radius is negative.
    """
    points = np.asarray(profile, dtype=float)
    if points[:, 0].min() < 0:
        raise ValueError(f"radius {points[:, 0].min():g} m: a radius of revolution is not negative")
    if closed:
        points = np.concatenate([points, points[:1]])
    else:
        # Rings of radius 0 close the ends; where the end is on the axis already they weld away.
        points = np.concatenate([points[:1] * (0, 1), points, points[-1:] * (0, 1)])
    segments = segments or outlines.sides_for(float(points[:, 0].max()))
    angles = 2 * np.pi * np.arange(segments) / segments
    radius, height = points[:, 0, None], points[:, 1, None]
    heights = np.broadcast_to(height, (len(points), segments))
    rings = np.stack([radius * np.cos(angles), radius * np.sin(angles), heights], 2)
    faces = grid_faces(len(points), segments, around=True)[:, ::-1]
    return shaped(rings.reshape(-1, 3) @ _AXES[axis].T, faces, crease)


def cylinder(radius: float, depth: float, bevel: float = 0.0, axis: str = "z", segments: int | None = None) -> Mesh:
    """A round bar or disc with rounded rims. [m]"""
    turn = np.linspace(0.0, np.pi / 2, _edge_facets(bevel) + 1)
    bevel = bevel if len(turn) > 1 else 0.0
    rim = np.column_stack([radius - bevel * (1 - np.cos(turn)), depth / 2 - bevel * (1 - np.sin(turn))])
    return revolve(np.concatenate([rim[::-1] * (1, -1), rim]), segments, axis)


def hoop(radius: float, depth: float, axis: str = "z") -> Mesh:
    """A band round something, its outside alone. [m]"""
    turn = 2 * np.pi * np.arange(sides := outlines.sides_for(radius)) / sides
    ring = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    rings = [np.column_stack([ring, np.full(sides, height)]) for height in (-depth / 2, depth / 2)]
    skin = loft(rings, capped=False)
    return replace(skin, vertices=skin.vertices @ _AXES[axis].T, normals=skin.normals @ _AXES[axis].T)


def ball(radius: float, segments: int = 16) -> Mesh:
    """A sphere. [m]"""
    turn = np.linspace(-np.pi / 2, np.pi / 2, segments // 2 + 1)
    return revolve(radius * np.column_stack([np.abs(np.cos(turn)), np.sin(turn)]), segments)


def tube(path: ArrayLike, radius: float, segments: int | None = None, crease: float = CREASE) -> Mesh:
    """A round bar along `path` (n, 3), with flat ends: a mirror arm, a rail, an exhaust. [m]"""
    segments = segments or outlines.sides_for(radius)
    points = np.asarray(path, dtype=float)
    steps = np.diff(points, axis=0)
    steps /= np.linalg.norm(steps, axis=1, keepdims=True)
    along = np.concatenate([steps[:1], steps[:-1] + steps[1:], steps[-1:]])
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    right = np.cross(along[0], np.eye(3)[np.argmin(np.abs(along[0]))])
    rings = []
    for k, point in enumerate(points):
        # Carry the same sideways direction along, so that the skin does not twist.
        right = right - along[k] * (right @ along[k])
        right /= np.linalg.norm(right)
        widen = 1.0 if k in (0, len(points) - 1) else 1.0 / max(float(along[k] @ steps[k]), 0.5)
        angles = 2 * np.pi * np.arange(segments)[:, None] / segments
        around = np.cos(angles) * right + np.sin(angles) * np.cross(along[k], right)
        rings.append(point + radius * widen * around)
    return loft(rings, crease=crease)


def coloured(mesh: Mesh, colour: tuple[float, float, float], material: Material | None = None) -> Mesh:
    """The mesh in one colour (linear Rec. 709 reflectance) and, if given, another material."""
    colours = np.broadcast_to(np.asarray(colour, dtype=float), mesh.vertices.shape).copy()
    return replace(mesh, colours=colours, material=material or mesh.material)


def placed(
    mesh: Mesh,
    at: tuple[float, float, float] = (0.0, 0.0, 0.0),
    turn: float = 0.0,
    pitch: float = 0.0,
    roll: float = 0.0,
) -> Mesh:
    """The mesh rolled about x, then pitched about y, then turned about z, then moved to `at`.

    Angles in degrees, right-handed: a positive turn is counter-clockwise from above, a positive pitch takes
    +z towards +x (a nose dips), a positive roll takes +y towards +z. [m]
    """
    a, b, c = np.radians([roll, pitch, turn])
    about_x = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    about_y = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    about_z = np.array([[np.cos(c), -np.sin(c), 0], [np.sin(c), np.cos(c), 0], [0, 0, 1]])
    return mesh.moved(about_z @ about_y @ about_x, np.asarray(at, dtype=float))


def mirrored(mesh: Mesh, axis: str = "y") -> Mesh:
    """The mesh reflected in the plane through the origin across `axis`."""
    flip = np.ones(3)
    flip["xyz".index(axis)] = -1.0
    return replace(mesh, vertices=mesh.vertices * flip, normals=mesh.normals * flip, faces=mesh.faces[:, ::-1].copy())


def both_sides(meshes: Iterable[Mesh]) -> list[Mesh]:
    """Each mesh and its mirror image across y: what a vehicle has left and right."""
    return [copy for mesh in meshes for copy in (mesh, mirrored(mesh))]


def scaled(mesh: Mesh, factor: float) -> Mesh:
    """The mesh grown about the origin by a positive factor."""
    return replace(mesh, vertices=mesh.vertices * factor)
