"""Where the sheet behind the set stands, and its shape. Whoever asks where the backdrop is asks here."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.scene import OPPOSITE, Backdrop, Scene, Table

Array = NDArray[np.float64]

SHEET_STEP = 0.020  # between corners, at which its light is worked out [m]
_ARC_STEPS = 16  # at least, round a cove


#: Of each side of the table: the axis that it lies across, whether towards larger values, and what is away from it.
_SIDES = {
    "back": (1, 1.0, "forward"),
    "front": (1, -1.0, "towards the back"),
    "left": (0, -1.0, "to the right"),
    "right": (0, 1.0, "to the left"),
}


@dataclass(frozen=True)
class BackPlane:
    """The upright plane of a backdrop, or of the table's edge where one would hang, and places as it has them.

    `across` runs from its middle to the right of whoever looks at it from the set, `off` from the edge of the table
    opposite towards it, as a backdrop's `distance` does. Across, off and up are a right-handed frame; for a backdrop at
    the back they run as x, y and z do. [m]

    Parameters
    ----------
    side : str
        Of the table: back, front, left or right.
    distance : float
        From the edge opposite. [m]
    width, height : float
        Of the sheet, its middle on the table's; a mere edge has no height. [m]
    long, wide : float
        The table's size towards it and along it. [m]
    """

    side: str
    distance: float
    width: float
    height: float
    long: float
    wide: float

    @property
    def axis(self) -> int:
        """Of the set, the one that it stands across: 0 at the left and right, 1 at the front and back."""
        return _SIDES[self.side][0]

    @property
    def sign(self) -> float:
        """1 where it lies towards larger values of that axis, else -1."""
        return _SIDES[self.side][1]

    @property
    def half(self) -> float:
        """Half its width. [m]"""
        return self.width / 2

    @property
    def away(self) -> str:
        """In which direction one goes away from it: forward, …"""
        return _SIDES[self.side][2]

    @property
    def at(self) -> float:
        """Where it cuts its axis. [m]"""
        return self.distance if self.sign > 0 else self.long - self.distance

    @property
    def opposite(self) -> str:
        """The side of the table from which its distance is measured."""
        return OPPOSITE[self.side]

    @property
    def _handed(self) -> float:
        """1 where across runs with the set's other axis, else -1."""
        return 1.0 if self.side in ("back", "left") else -1.0

    def off(self, points: ArrayLike) -> Array:
        """How far points (..., 2 or 3) are from the edge opposite, towards it. (...) [m]"""
        on_axis = np.asarray(points, dtype=float)[..., self.axis]
        return on_axis if self.sign > 0 else self.long - on_axis

    def before(self, points: ArrayLike) -> Array:
        """How far points (..., 2 or 3) are in front of it; negative behind. (...) [m]"""
        return np.asarray(self.distance - self.off(points))

    def across(self, points: ArrayLike) -> Array:
        """How far points (..., 2 or 3) are to the right of its middle. (...) [m]"""
        return np.asarray(self._handed * (np.asarray(points, dtype=float)[..., 1 - self.axis] - self.wide / 2))

    def beside(self, points: ArrayLike) -> NDArray[np.bool_]:
        """Which of points (..., 2 or 3) lie before or behind the sheet, and not past its ends. (...)"""
        return np.asarray(np.abs(self.across(points)) <= self.half)

    def hides(self, points: ArrayLike) -> NDArray[np.bool_]:
        """Of points (..., 3) the same, but not those higher than the sheet. (...)"""
        return np.asarray(self.beside(points) & (np.asarray(points, dtype=float)[..., 2] <= self.height))

    def placed(self, across: ArrayLike, off: ArrayLike, z: ArrayLike) -> Array:
        """Points (..., 3) of the set that are there. [m]"""
        across, off, z = np.broadcast_arrays(*(np.asarray(each, dtype=float) for each in (across, off, z)))
        places = [np.zeros(0)] * 2
        places[self.axis] = off if self.sign > 0 else self.long - off
        places[1 - self.axis] = self.wide / 2 + self._handed * across
        return np.stack([*places, z], axis=-1)

    def way(self, across: ArrayLike, off: ArrayLike, z: ArrayLike) -> Array:
        """A direction (..., 3) of the set from its parts across, towards and up."""
        across, off, z = np.broadcast_arrays(*(np.asarray(each, dtype=float) for each in (across, off, z)))
        parts = [np.zeros(0)] * 2
        parts[self.axis], parts[1 - self.axis] = self.sign * off, self._handed * across
        return np.stack([*parts, z], axis=-1)

    def towards(self, ways: ArrayLike) -> Array:
        """The part of directions (..., 2 or 3) that leads towards it. (...)"""
        return np.asarray(self.sign * np.asarray(ways, dtype=float)[..., self.axis])

    def reach(self, origin: ArrayLike, rays: ArrayLike, least: float = 1e-12) -> Array:
        """How many times as long as rays (n, 3) the way from an origin (3,) to it is; nan where they never come to it.

        least: of a ray, the part that leads towards it.
        """
        towards = self.towards(rays)
        going = towards > least
        reach = np.where(going, self.before(origin) / np.where(going, towards, 1.0), np.nan)
        return np.where(reach > 0, reach, np.nan)

    def met(self, origin: ArrayLike, rays: ArrayLike) -> tuple[Array, Array]:
        """Where rays (n, 3) from an origin (3,) meet it: across and up [m]; nan where they never do."""
        points = np.asarray(origin) + self.reach(origin, rays)[..., None] * np.asarray(rays)
        return self.across(points), points[..., 2]

    @property
    def ends(self) -> Array:
        """Left and right end (2, 2) of its foot, as seen from the set. [m]"""
        return self.placed([-self.half, self.half], self.distance, 0.0)[:, :2]

    @property
    def free(self) -> tuple[Array, Array]:
        """The corners (2,) and (2,) of what of the table lies before it, least and greatest x and y. [m]"""
        reach = min(self.long, self.distance)
        corners = self.placed([-self.wide / 2, self.wide / 2], [0.0, reach], 0.0)[:, :2]
        return corners.min(axis=0), corners.max(axis=0)


def backdrop_plane(scene: Scene) -> BackPlane | None:
    """Where the scene's backdrop stands; None where it has none."""
    backdrop = scene.set.backdrop
    if backdrop is None:
        return None
    edge = table_edge_plane(scene.set.table, backdrop.side)
    return BackPlane(
        backdrop.side, backdrop.distance, backdrop.width or edge.wide, backdrop.height, edge.long, edge.wide
    )


def back_plane(scene: Scene, looking: ArrayLike | None = None) -> BackPlane:
    """Where the scene's backdrop stands; of a set without one, the table's back edge, or the one that is looked at.

    looking: the direction (3,) of a camera.
    """
    side = faced_side(looking) if looking is not None else "back"
    return backdrop_plane(scene) or table_edge_plane(scene.set.table, side)


def faced_side(looking: ArrayLike) -> str:
    """The side of the table that whoever looks in that direction (3,) faces."""
    x, y = np.asarray(looking, dtype=float)[:2].tolist()
    if abs(x) > abs(y):
        return "right" if x > 0 else "left"
    return "back" if y >= 0 else "front"


def table_edge_plane(table: Table, side: str = "back") -> BackPlane:
    """The plane of an edge of the table, where a backdrop would hang."""
    long, wide = (table.depth, table.width) if _SIDES[side][0] == 1 else (table.width, table.depth)
    return BackPlane(side, long, wide, 0.0, long, wide)


@dataclass(frozen=True)
class Sheet:
    """The backdrop's cross-section, from its foot on the table to its top.

    Parameters
    ----------
    off, z : (n,) float
        How far from the edge of the table opposite, as `BackPlane` has it, and how high. [m]
    along : (n,) float
        Length along the sheet from its foot. [m]
    normals : (n, 2) float
        Unit (off, z), towards the viewer.
    """

    off: Array
    z: Array
    along: Array
    normals: Array


def flat_size(scene: Scene) -> tuple[float, float]:
    """Width, and length round the bend from foot to top, of the backdrop's sheet laid flat: what is cut. [m]

    Asked of scenes with a backdrop.
    """
    backdrop, plane = scene.set.backdrop, backdrop_plane(scene)
    assert backdrop is not None and plane is not None  # said above
    return float(plane.width), float(cross_section(backdrop).along[-1])


def cross_section(backdrop: Backdrop) -> Sheet:
    """A cove of the join's radius, if it has one, tangent to the table and to the upright sheet above it."""
    cove, top = backdrop.join.cove, backdrop.height
    step = max(SHEET_STEP, top / 400)
    upright = np.linspace(cove, top, max(int(np.ceil((top - cove) / step)), 1) + 1)
    off, z = np.full_like(upright, backdrop.distance), upright
    normals = np.tile((-1.0, 0.0), (len(upright), 1))
    along = upright - cove
    if cove > 0:
        angle = np.linspace(0, np.pi / 2, max(_ARC_STEPS, int(np.ceil(cove * np.pi / 2 / SHEET_STEP))) + 1)[:-1]
        off = np.concatenate([backdrop.distance - cove + cove * np.sin(angle), off])
        z = np.concatenate([cove - cove * np.cos(angle), z])
        normals = np.concatenate([np.stack([-np.sin(angle), np.cos(angle)], axis=1), normals])
        along = np.concatenate([cove * angle, along + cove * np.pi / 2])
    return Sheet(off, z, along, normals)
