"""What of the table top a camera sees: inside its picture, and not behind anything.

Reckoned on the bare, level table: banks of the ground are left out. What one sees through hides nothing.
"""

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.layout import SEE_THROUGH, Solid, backdrop_plane, cross_section, solids_of
from previz.predictions import ShotView
from previz.scene import Scene

Array = NDArray[np.float64]

#: So many frames of a shot whose camera moves are looked at.
_FRAMES = 9

#: What begins nearer below the camera's height than this share of it throws its shadow on the table to the horizon.
_LEVEL = 1e-3


def table_seen(view: ShotView) -> shapely.Geometry:
    """The part of the table top that is in the picture in any frame of the shot, and not hidden in it. [m]"""
    poses = [pose.position.tobytes() + pose.world_from_camera.tobytes() for pose in view.cameras]
    different = sorted({pose: number for number, pose in enumerate(poses)}.values())
    chosen = sorted({different[round(n)] for n in np.linspace(0, len(different) - 1, _FRAMES)})
    solids = [solid for solid in solids_of(view.scene) if solid.kind not in SEE_THROUGH]
    return shapely.union_all([_seen_in(view, frame, solids) for frame in chosen])


def _seen_in(view: ShotView, frame: int, solids: list[Solid]) -> shapely.Geometry:
    picture = picture_on_table(view, frame)
    eye = view.cameras[frame].position
    if eye[2] <= 0 or picture.is_empty:
        return shapely.Polygon()
    shadows = [_shadow(eye, *prism) for solid in solids for prism in solid.prisms]
    shadows += _shadows_of_backdrop(eye, view.scene)
    return shapely.difference(picture, shapely.union_all([each for each in shadows if each is not None]))


def picture_on_table(view: ShotView, frame: int) -> shapely.Geometry:
    """The part of the table top that lies in the pyramid the lens takes in, hidden or not."""
    table = view.scene.set.table
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])  # shares of the picture, clockwise
    eye, rays = view.rays(frame, corners[:, 0], corners[:, 1])
    outline = np.array([[0.0, 0.0], [table.width, 0.0], [table.width, table.depth], [0.0, table.depth]])
    inward = -view.cameras[frame].world_from_camera[:, 2]
    for one, other in zip(rays, np.roll(rays, -1, axis=0), strict=True):
        side = np.cross(one, other)
        outline = _kept(outline, side if side @ inward > 0 else -side, eye)
    outline = _kept(outline, inward, eye)
    return shapely.Polygon(outline) if len(outline) >= 3 else shapely.Polygon()


def _kept(outline: Array, normal: Array, eye: Array) -> Array:
    """What of an outline (k, 2) on the table lies on the side of a plane through the eye that its normal points to."""
    if not len(outline):
        return outline
    height = np.column_stack([outline, np.zeros(len(outline))]) @ normal - eye @ normal
    found = []
    for a, b, h, k in zip(outline, np.roll(outline, -1, axis=0), height, np.roll(height, -1), strict=True):
        if h >= 0:
            found.append(a)
        if (h >= 0) != (k >= 0):
            found.append(a + (b - a) * h / (h - k))
    return np.array(found).reshape(-1, 2)


def _shadow(eye: Array, outline: Array, low: float, high: float) -> shapely.Geometry | None:
    """What of the table top a prism between two heights hides from an eye above the table; None where it hides nothing.

    Each height's outline is thrown on the table from the eye; those between two heights lie in the hull of both.
    """
    level = _level(eye)
    if low >= level or high <= 0:
        return None
    heights = np.array([max(low, 0.0), min(high, level)])
    corners = np.column_stack([np.tile(outline, (2, 1)), np.repeat(heights, len(outline))])
    return _hull_thrown(eye, corners)


def _shadows_of_backdrop(eye: Array, scene: Scene) -> list[shapely.Geometry | None]:
    """What of the table top the backdrop hides from an eye above the table, strip by strip from its foot up.

    What of the table lies under its bend it hides from all eyes before it.
    """
    plane, backdrop = backdrop_plane(scene), scene.set.backdrop
    if plane is None or backdrop is None:
        return []
    sheet = cross_section(backdrop)
    heights = np.unique(np.minimum(sheet.z, _level(eye)))
    off = np.interp(heights, sheet.z, sheet.off)
    corners = plane.placed([[-plane.half], [plane.half]], off, heights)
    return [_hull_thrown(eye, corners[:, n : n + 2].reshape(-1, 3)) for n in range(len(heights) - 1)]


def _level(eye: Array) -> float:
    """The greatest height that throws its shadow on the table, not past the horizon. [m]"""
    return float(eye[2]) * (1 - _LEVEL)


def _hull_thrown(eye: Array, corners: Array) -> shapely.Geometry | None:
    """The hull of what corners (n, 3), all below the eye, throw on the table from it; None where it is no area."""
    share = eye[2] / (eye[2] - corners[:, 2:])
    hull = shapely.convex_hull(shapely.multipoints(eye[:2] + (corners[:, :2] - eye[:2]) * share))
    return hull if math.isfinite(hull.area) else None
