"""How wide a picture may be from a place before it sees past the set: past table, backdrop and pieces."""

import numpy as np
from numpy.typing import NDArray

from previz.layout import SEE_THROUGH, CameraPose, backdrop_plane, cross_section, solids_of
from previz.predictions.gaps import Faces, Picture, faces_of, lines
from previz.scene import Scene

Array = NDArray[np.float64]

_STRIPS = 4  # of a bend


def covered_field(scene: Scene, pose: CameraPose, shape: float, widest: float, standing: Faces) -> float:
    """The widest field about the axis in which a picture sees nothing past the set: half its width over its depth. [-]

    Never wider than it is, by at most a hundredth, and by no more than `widest`. The vehicle does not count.

    Parameters
    ----------
    pose : CameraPose
    shape : float
        Width over height of the picture. [-]
    widest : float
        Where to stop looking. [-]
    standing : Faces
        Of the pieces.
    """
    field = widest
    for _ in range(2):  # once to find it, and once more with all the lines about it
        found = _free_field(scene, pose, shape, field, standing)
        if found >= field:
            return field if field == widest else found
        field = min(1.2 * found + 1e-3, widest)
    return min(_free_field(scene, pose, shape, field, standing), widest)


def sees_past(scene: Scene, pose: CameraPose, shape: float, field: float, standing: Faces) -> bool:
    """Whether a picture of that field sees past the set; cheaper to ask than how wide it may be."""
    return _free_field(scene, pose, shape, field, standing) < field


def _free_field(scene: Scene, pose: CameraPose, shape: float, field: float, standing: Faces) -> float:
    """The same by one look at a picture of that field; `field` where nothing of it sees past the set."""
    right, up, backward = pose.world_from_camera.T
    across = lines()
    middle, aside, down = -backward, 2 * field * right, -2 * field / shape * up
    corner = middle - aside / 2 - down / 2
    picture = Picture(pose.position, across, corner + across[:, None] * aside, down, corner, aside)
    gaps = picture.gaps(table_and_backdrop(scene), standing)
    if not len(gaps.across):
        return field
    beside = np.maximum(np.abs(2 * gaps.across - 1) - 2 / (len(across) - 1), 0.0)
    begins, ends = 2 * gaps.begins - 1, 2 * gaps.ends - 1
    above = np.where(begins * ends < 0, 0.0, np.minimum(np.abs(begins), np.abs(ends)))
    return field * float(np.maximum(beside, above).min())


def standing_faces(scene: Scene) -> Faces:
    """Of the pieces that one does not see past."""
    return faces_of(tuple(solid for solid in solids_of(scene) if solid.kind not in SEE_THROUGH))


def table_and_backdrop(scene: Scene) -> Array:
    """The table's top, the backdrop's front and the bend at its foot where that reaches past the table, (n, 4, 3),
    counter-clockwise as the camera should see them. [m]"""
    table, backdrop, plane = scene.set.table, scene.set.backdrop, backdrop_plane(scene)
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    x, y = (square * [table.width, table.depth]).T
    faces = [np.stack([x, y, np.zeros(4)], axis=1)]
    if backdrop is not None and plane is not None:
        if backdrop.join.cove > 0 and plane.distance > plane.long:
            # As flat strips from edge to edge of the bend: what looks through one meets the bend behind it.
            sheet, bend = cross_section(backdrop), np.linspace(0.0, backdrop.join.cove * np.pi / 2, _STRIPS + 1)
            off, z = np.interp(bend, sheet.along, sheet.off), np.interp(bend, sheet.along, sheet.z)
            ends = np.array([-plane.half, plane.half, plane.half, -plane.half])
            faces += [plane.placed(ends, off[[k, k, k + 1, k + 1]], z[[k, k, k + 1, k + 1]]) for k in range(_STRIPS)]
        faces.append(plane.placed((square[:, 0] - 0.5) * plane.width, plane.distance, square[:, 1] * plane.height))
    return np.stack(faces)
