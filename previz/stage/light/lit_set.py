"""The set as light meets it: all that stands still, before it is lit and after."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from previz.layout import Emitter
from previz.light import Floats, Mask, Occluders, Receivers, directions_round, floats
from previz.mesh import Array, Mesh, joined
from previz.physics.colour import srgb_linear
from previz.stage.light.reflecting import albedo_of, glow_of, shrunk
from previz.stage.shapes.finish import subdivided
from previz.stage.table.ground import Ground

_OFF_SURFACE = 2e-4  # how far off its surface a corner of the set is lit, out of trim that lies on it [m]
#: How thick what lies on a surface is at most, and how many such lie on one another: out of them its corners are lit,
#: for a corner in the dark below a small lamp or a door frame would smudge the whole face. [m full size], [-]
_TRIM, _MOST_TRIM = 0.045, 3
_FLOOR_EDGE = 0.020  # of the ground's triangles as they throw light back, about 12 mm square in pairs [m]
_UNEVEN = 0.001  # by which those triangles may lie above the ground itself, which they follow in steps [m]
_SLOPE_OVER = 0.003  # half the length over which the ground's slope is taken: its heights lie a few mm apart [m]


@dataclass(frozen=True)
class StillSet:
    """All that stands still, as one list of triangles: those of `meshes` in order, then those of `floor`.

    `giving` are the faces of bounce cards: what lamps and sky throw on them goes on by emitters (`light/cards.py`).
    `scale` is S of 1:S.
    """

    standing: tuple[Mesh, ...]
    around: tuple[Mesh, ...]
    ground: Ground
    table: tuple[float, float]
    scale: float
    giving: tuple[Mesh, ...] = ()

    @property
    def meshes(self) -> tuple[Mesh, ...]:
        """All but the ground."""
        return (*self.standing, *self.around, *self.giving)

    @cached_property
    def floor(self) -> Mesh:
        """The ground in triangles small enough for the light that it throws back, which is even over each."""
        return subdivided(self.ground.mesh, _FLOOR_EDGE)

    @cached_property
    def shape(self) -> Mesh:
        """`meshes` and floor as one, for its corners and triangles; its colours and material say nothing."""
        return joined([*self.meshes, self.floor])

    @cached_property
    def occluders(self) -> Occluders:
        """All of it, in the order of `shape`."""
        return Occluders(self.shape.vertices, self.shape.faces)

    @cached_property
    def triangle_albedo(self) -> Floats:
        """Mean reflectance of every triangle. (m, 3)"""
        return np.concatenate([albedo_of(mesh) for mesh in (*self.meshes, self.floor)])

    @cached_property
    def triangle_glow(self) -> Floats:
        """What every triangle sends out by itself. (m, 3) RGB [cd/m2]"""
        return floats(np.concatenate([glow_of(mesh) for mesh in (*self.meshes, self.floor)]))

    @cached_property
    def ground_albedo(self) -> Floats:
        """Reflectance over the table, coarse. (h, w, 3)"""
        return srgb_linear(shrunk(self.ground.image, 256) / 255).astype(np.float32)

    def corners(self) -> Receivers:
        """Corners of `meshes`, a hair off their surface and what lies on it, never below the ground they stand on."""
        count = sum(len(mesh.vertices) for mesh in self.meshes)
        points = self.shape.vertices[:count] + _OFF_SURFACE * self.shape.normals[:count]
        feet = points[: sum(len(mesh.vertices) for mesh in self.standing)]
        self._bring_out_of_trim(feet)
        below = np.flatnonzero(feet[:, 2] < self.ground.heights.highest + _OFF_SURFACE)
        feet[below, 2] = np.maximum(feet[below, 2], self.ground.height(feet[below, :2]) + _OFF_SURFACE)
        two_sided = [np.full(len(mesh.vertices), mesh.material.two_sided) for mesh in self.meshes]
        return Receivers.of(points, self.shape.normals[:count], np.concatenate([np.zeros(0), *two_sided]))

    def _bring_out_of_trim(self, points: Array) -> None:
        """Move corners of what stands, one after another from the first, to the outside of thin things they are in."""
        solid = np.concatenate(
            [np.zeros(0), *(np.full(len(m.vertices), not m.material.two_sided) for m in self.standing)]
        )
        inside = np.flatnonzero(solid)
        thick = _TRIM / self.scale
        for _ in range(_MOST_TRIM):
            ways = self.shape.normals[inside]
            triangle, far = self.occluders.met(floats(points[inside]), floats(thick * ways))
            met = np.flatnonzero(far < 1.0)
            a, b, c = np.moveaxis(self.shape.vertices[self.shape.faces[triangle[met]]], 1, 0)
            # What is met from behind is the outside of something that the corner is in; else it is something beside it.
            leaves = met[np.einsum("ni,ni->n", np.cross(b - a, c - a), ways[met]) > 0]
            inside = inside[leaves]
            if not len(inside):
                return
            points[inside] += (thick * far[leaves, None] + _OFF_SURFACE) * ways[leaves]

    def buried(self, some: Receivers, hits: NDArray[np.int32]) -> Mask:
        """Which of these are inside a solid: all that they see is its inside, and ground that reaches into it. (n,)

        hits: the triangles that their rays met, of `light.look_round`. (k, n)
        """
        leaf = np.concatenate([np.full(len(m.faces), m.material.two_sided) for m in (*self.meshes, self.floor)])
        ground = len(leaf) - len(self.floor.faces)
        a, b, c = np.moveaxis(self.shape.vertices[self.shape.faces], 1, 0)
        outwards = floats(np.cross(b - a, c - a))
        inside, count = np.flatnonzero(~some.two_sided), np.zeros(len(some), dtype=int)
        ways = directions_round(some, len(hits))
        for met, way in zip(hits, ways, strict=True):  # nearly all are known to see something after a ray or two
            triangle = met[inside]
            behind = (triangle >= 0) & ~leaf[triangle]
            behind &= np.einsum("ni,ni->n", outwards[triangle], way[inside]) > 0
            count[inside] += behind
            inside = inside[behind | (triangle >= ground)]
        found = np.zeros(len(some), dtype=bool)
        found[inside] = count[inside] > len(hits) / 2
        return found

    def in_high_ground(self, corners: Receivers) -> Mask:
        """Which of its corners may be under the ground though they stand on nothing: a backdrop's foot in snow. (n,)

        Not the table's own sides, nor what hangs beside it.
        """
        x, y, up = corners.points.T
        found = (up >= 0) & (up < self.ground.heights.highest + _UNEVEN)
        found &= (x >= 0) & (x <= self.table[0]) & (y >= 0) & (y <= self.table[1])
        found[: sum(len(mesh.vertices) for mesh in self.standing)] = False  # those are brought up onto it
        low = np.flatnonzero(found)
        found[low] = up[low] < self.ground.height(corners.points[low, :2].astype(float)) + _UNEVEN
        return found

    def flat_normals(self) -> Floats:
        """The normal of a triangle at each corner of `shape`, whatever normal the corner is shaded with. (n, 3)"""
        a, b, c = (self.shape.vertices[self.shape.faces[:, k]] for k in range(3))
        across = np.cross(b - a, c - a)
        across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-20)
        flat = np.zeros(self.shape.vertices.shape, dtype=np.float32)
        flat[self.shape.faces] = across[:, None, :]
        return flat

    def ground_grid(self, texel: float) -> "TableGrid":
        """Texels of about `texel` [m] over the table, lying on the ground."""
        width, depth = self.table
        columns, rows = max(round(width / texel), 2), max(round(depth / texel), 2)
        x = (np.arange(columns) + 0.5) * (width / columns)
        y = depth - (np.arange(rows) + 0.5) * (depth / rows)
        return TableGrid(self.on_ground(np.stack([np.tile(x, rows), np.repeat(y, columns)], axis=1)), rows, columns)

    def on_ground(self, places: Array) -> Receivers:
        """Ground at places (n, 2) of the table."""
        over = np.column_stack([places, self.ground.heights.surface(places)])
        slopes = [self._slope(places, axis) for axis in (0, 1)]
        normals = np.stack([-slopes[0], -slopes[1], np.ones(len(over))], axis=1)
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        return Receivers.of(over + _OFF_SURFACE * normals, normals)

    def _slope(self, places: Array, axis: int) -> Array:
        """Of what things stand on along x or y: where the ground dives under a cove, nobody sees it. (n,)"""
        before, after = places.copy(), places.copy()
        before[:, axis] = np.maximum(places[:, axis] - _SLOPE_OVER, 0)
        after[:, axis] = np.minimum(places[:, axis] + _SLOPE_OVER, self.table[axis])
        heights = self.ground.heights
        rise = np.maximum(heights.at(after), 0.0) - np.maximum(heights.at(before), 0.0)
        return np.asarray(rise / (after - before)[:, axis])


@dataclass(frozen=True)
class TableGrid:
    """Texels over the table, row by row, row 0 at the far edge."""

    receivers: Receivers
    rows: int
    columns: int


@dataclass(frozen=True)
class LitSet:
    """The lit set as a station needs it: lamps, what stops light, how bright triangles and ground are.

    Parameters
    ----------
    find_occluders : callable
        Makes the `occluders`.
    triangle_radiance : (m, 3) float32
        Of `occluders`' triangles. RGB [cd/m2]
    light, soft : (h, w, 3) float32
        Irradiance of the ground over the table, and its part from sky and surfaces in texels of its own, row 0 at the
        far edge. RGB [lx]
    albedo : (h, w, 3) float32
        Reflectance of the ground, coarse.
    table : (2,) float
        Width and depth. [m]
    room : (3,) float
        Radiance of what lies beyond the set and below the horizon. RGB [cd/m2]
    """

    emitters: tuple[Emitter, ...]
    find_occluders: Callable[[], Occluders]
    triangle_radiance: Floats
    light: Floats
    soft: Floats
    albedo: Floats
    table: tuple[float, float]
    room: tuple[float, float, float]

    @cached_property
    def occluders(self) -> Occluders:
        """Made ready when first asked for: a run whose stations are all on disk has no use for them."""
        return self.find_occluders()
