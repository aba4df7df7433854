"""Closed plane outlines, (n, 2) float, and how to fill them with triangles.

What is drawn flat before it becomes a solid: the side of a car with its wheel arches, a window with round
corners, a gable. Outlines run counter-clockwise; the first corner is not repeated at the end.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.mesh import Array
from previz.physics.overlap import inside

#: How far a chord may stray from the round it stands for. Models are drawn at full size: 0.06 mm at 1:50, a quarter of
#: a pixel where a vehicle fills half a picture 1280 wide. [m]
ROUND = 0.003
#: A rounded corner of no larger radius is about a pixel wide there, and left sharp. [m]
SHARP = 0.012


def chords(radius: float, turn: float, within: float = ROUND) -> int:
    """How many chords an arc of `turn` [deg] needs to stray no further than `within` from it. [m]

    >>> chords(0.5, 90.0), chords(0.05, 90.0), chords(0.005, 90.0)
    (8, 3, 1)
    """
    if radius <= within:
        return 1
    return max(1, int(np.ceil(turn / np.degrees(2 * np.arccos(1 - within / radius)) - 1e-9)))


def sides_for(radius: float) -> int:
    """Flats around a whole turn that stray from the circle by about `ROUND`: 6, or a multiple of 4.

    A multiple of 4 puts corners on all four quarters, so that what is round measures what it should.

    >>> sides_for(0.02), sides_for(0.1), sides_for(0.5)
    (6, 12, 28)
    """
    sides = np.pi / np.arccos(1 - ROUND / max(radius, 2 * ROUND))
    return 6 if sides < 7 else 4 * round(sides / 4)


def area(outline: Array) -> float:
    """Signed area, positive when counter-clockwise. [m2]

    >>> area(rectangle(2.0, 3.0))
    6.0
    """
    x, y = outline.T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def counter_clockwise(points: ArrayLike) -> Array:
    """The outline as an array (n, 2), running counter-clockwise whichever way it came."""
    outline = np.asarray(points, dtype=float)
    if outline.ndim != 2 or outline.shape[1] != 2 or len(outline) < 3:
        raise ValueError(f"an outline is (n, 2) with n >= 3, not {outline.shape}")
    return outline if area(outline) > 0 else outline[::-1]


def arc(
    centre: tuple[float, float], radius: float, start: float, end: float, segments: int | None = None
) -> list[tuple[float, float]]:
    """Points of a circle from `start` to `end` [deg], both included; angles grow counter-clockwise.

    `segments` chords, or as many as it takes.
    """
    segments = segments or chords(radius, abs(end - start))
    angles = np.radians(np.linspace(start, end, segments + 1))
    return [(centre[0] + radius * np.cos(a), centre[1] + radius * np.sin(a)) for a in angles]


def rounded(points: ArrayLike, radius: float | Sequence[float], segments: int | None = None) -> Array:
    """Replace corners by arcs.

    Parameters
    ----------
    points : (n, 2) float
        [m]
    radius : float or n floats
        Arc radius of all, or of each corner; up to `SHARP` a corner stays sharp. A radius too large for its edges is
        shortened to what fits, so that two arcs never take more than the edge between them. [m]
    segments : int or None
        Chords of an arc; None takes as many as each arc needs.
    """
    corners = np.asarray(points, dtype=float)
    radii = np.broadcast_to(np.asarray(radius, dtype=float), len(corners))
    out: list[Array] = []
    for before, corner, after, wanted in zip(
        np.roll(corners, 1, 0), corners, np.roll(corners, -1, 0), radii, strict=True
    ):
        out.extend(_fillet(before, corner, after, float(wanted), segments))
    return counter_clockwise(out)


def _fillet(before: Array, corner: Array, after: Array, radius: float, segments: int | None) -> list[Array]:
    to_before, to_after = before - corner, after - corner
    room = 0.499 * min(float(np.linalg.norm(to_before)), float(np.linalg.norm(to_after)))
    to_before, to_after = to_before / np.linalg.norm(to_before), to_after / np.linalg.norm(to_after)
    half = 0.5 * np.arccos(np.clip(to_before @ to_after, -1.0, 1.0))
    if radius <= SHARP or half > np.radians(89.9):
        return [corner]
    slope = float(np.tan(half))
    reach = min(radius / slope, room)
    radius = reach * slope
    bisector = (to_before + to_after) / np.linalg.norm(to_before + to_after)
    centre = corner + bisector * radius / np.sin(half)
    start, end = corner + to_before * reach - centre, corner + to_after * reach - centre
    turn = np.pi - 2 * half
    segments = segments or chords(radius, float(np.degrees(turn)))
    steps = np.linspace(0.0, 1.0, segments + 1)
    return [centre + (np.sin((1 - t) * turn) * start + np.sin(t * turn) * end) / np.sin(turn) for t in steps]


def rectangle(
    width: float, height: float, radius: float = 0.0, at: tuple[float, float] = (0.0, 0.0), segments: int | None = None
) -> Array:
    """An upright rectangle about `at`, its corners rounded by `radius`. [m]"""
    x, y, (cx, cy) = width / 2, height / 2, at
    return rounded([(cx - x, cy - y), (cx + x, cy - y), (cx + x, cy + y), (cx - x, cy + y)], radius, segments)


def circle(radius: float, segments: int | None = None, at: tuple[float, float] = (0.0, 0.0)) -> Array:
    """A regular polygon with corners on the circle about `at`, of as many sides as it takes. [m]"""
    return np.array(arc(at, radius, 0.0, 360.0, segments or sides_for(radius))[:-1])


def inset(outline: Array, distance: float | Array) -> Array:
    """The outline with every edge moved inwards by `distance` (outwards if negative), mitred. [m]

    An array (n,) gives each corner its own distance.

    Raises
    ------
    ValueError
        If an edge would vanish: the distance is larger than the outline allows there.
    """
    edges = np.roll(outline, -1, 0) - outline
    normals = np.stack([edges[:, 1], -edges[:, 0]], 1) / np.linalg.norm(edges, axis=1, keepdims=True)
    before = np.roll(normals, 1, 0)
    mitre = (before + normals) / np.maximum(1.0 + np.sum(before * normals, 1, keepdims=True), 0.15)
    moved = outline - np.broadcast_to(distance, len(outline))[:, None] * mitre
    if np.any(np.sum((np.roll(moved, -1, 0) - moved) * edges, 1) <= 0):
        raise ValueError(f"an inset of {np.max(distance):g} m swallows an edge of the outline; take a smaller one")
    return moved


def resampled(outline: Array, spacing: float) -> Array:
    """The same outline with no edge longer than `spacing`; all corners are kept. [m]

    Further columns beside x and y are interpolated along.
    """
    pieces = []
    for start, end in zip(outline, np.roll(outline, -1, 0), strict=True):
        count = max(1, int(np.ceil(np.linalg.norm((end - start)[:2]) / spacing - 1e-9)))
        pieces.append(start + (end - start) * (np.arange(count) / count)[:, None])
    return np.concatenate(pieces)


def filled(outline: Array, grid: float | None = None) -> tuple[Array, NDArray[np.int64]]:
    """Triangles that fill a counter-clockwise outline.

    Parameters
    ----------
    outline : (n, 2) float
        Its edges are kept as they are. [m]
    grid : float or None
        Spacing of points added inside, so that the face can be bent; None adds none. [m]

    Returns
    -------
    points : (n + k, 2) float
        The outline first.
    faces : (m, 3) int
        Counter-clockwise.
    """
    if grid is not None:
        points = np.concatenate([outline, _inner_points(outline, grid)])
        faces = _delaunay(points, len(outline))
        if faces is not None:
            return points, faces
    return outline, _ears(outline)


def _inner_points(outline: Array, grid: float) -> Array:
    """Points of a triangular lattice, even about the middle, so that a symmetric outline stays so."""
    low, high = outline.min(0), outline.max(0)
    middle, reach = (low + high) / 2, int(np.ceil((high - low).max() / grid)) + 1
    x, y = np.meshgrid(np.arange(-reach, reach + 1.0), np.arange(-reach, reach + 1.0))
    x[1::2] += 0.5
    points = middle + grid * np.stack([x.ravel(), 0.866 * y.ravel()], 1)
    points = points[inside(outline, points)]
    edges = np.roll(outline, -1, 0) - outline
    offset = points[:, None] - outline
    along = np.clip(np.sum(offset * edges, 2) / np.sum(edges * edges, 1), 0.0, 1.0)
    distance = np.linalg.norm(offset - along[..., None] * edges, axis=2).min(1, initial=np.inf)
    return points[distance > 0.55 * grid]


def _delaunay(points: Array, boundary: int) -> NDArray[np.int64] | None:
    """Delaunay triangles inside the outline (the first `boundary` points), or None if they cut its edges."""
    from scipy.spatial import Delaunay  # here: a model without curved sides need not wait for it

    faces = Delaunay(points).simplices.astype(np.int64)
    a, b, c = (points[faces[:, k]] for k in range(3))
    doubled = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    faces = np.where(doubled[:, None] > 0, faces, faces[:, [0, 2, 1]])
    outline = points[:boundary]
    solid = np.abs(doubled) > 1e-9 * np.ptp(points, axis=0).max() ** 2
    faces = faces[solid & inside(outline, (a + b + c) / 3)]
    sides = {(int(f[i]), int(f[(i + 1) % 3])) for f in faces for i in range(3)}
    whole = all((k, (k + 1) % boundary) in sides for k in range(boundary))
    edges_once = sum((j, i) not in sides for i, j in sides) == boundary
    return faces if whole and edges_once else None


def _ears(outline: Array) -> NDArray[np.int64]:
    """Triangles cut off at one corner after another (ears), the roundest first, until nothing is left."""
    points = [(float(x), float(y)) for x, y in outline]
    left, faces = list(range(len(outline))), []
    while len(left) > 3:
        best, at = 0.0, -1
        for k in range(len(left)):
            i, j, m = left[k - 1], left[k], left[(k + 1) % len(left)]
            shape = _roundness(points[i], points[j], points[m])
            if shape > best and not _holds_any(points, (i, j, m), left):
                best, at = shape, k
        if at < 0:
            raise ValueError("the outline crosses itself or has no area")
        faces.append((left[at - 1], left[at], left[(at + 1) % len(left)]))
        del left[at]
    if area(outline[left]) <= 0:
        raise ValueError("the outline crosses itself or has no area")
    return np.array([*faces, tuple(left)], dtype=np.int64)


_Point = tuple[float, float]  # plain numbers: for so few, numpy takes ten times as long


def _roundness(a: _Point, b: _Point, c: _Point) -> float:
    """Twice the area over the longest side squared; negative for a reflex corner."""
    ux, uy, vx, vy, wx, wy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1], c[0] - b[0], c[1] - b[1]
    return (ux * vy - uy * vx) / max(ux * ux + uy * uy, vx * vx + vy * vy, wx * wx + wy * wy)


def _holds_any(points: list[_Point], ear: tuple[int, int, int], left: list[int]) -> bool:
    """Whether any other corner that is left lies within the ear."""
    corners = [points[k] for k in ear]
    sides = []
    for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
        x, y = bx - ax, by - ay
        sides.append((ax, ay, x, y, -1e-12 * (x * x + y * y)))
    return any(
        all(x * (points[k][1] - ay) - y * (points[k][0] - ax) >= least for ax, ay, x, y, least in sides)
        for k in left
        if k not in ear
    )
