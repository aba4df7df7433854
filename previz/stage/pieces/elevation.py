"""The front of a building seen square on, as a picture of its paint: what is printed and glued on a plain block."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from previz.layout import Solid
from previz.light import Occluders, floats
from previz.mesh import Mesh
from previz.physics.colour import srgb_encoded
from previz.scene import Scene
from previz.stage.pieces.dressing import model_of

#: So many dots at most, whatever the size: about those of a page at 150 dots to the inch.
_MOST = 1.5e6
_FINEST = 6000.0  # dots on a metre: 150 to the inch
_AT_ONCE = 131072


def front_of(scene: Scene, solid: Solid) -> NDArray[np.uint8]:
    """A building's front as it is painted, without light or shadow: sRGB and, fourth, 255 where there is any of it.

    It is as wide and high as the building, (rows, columns, 4), and its windows that are lit are as bright as paper.
    """
    model = model_of(scene, solid)
    points = np.concatenate([mesh.vertices for mesh in model])
    low, high = points.min(axis=0), points.max(axis=0)
    wide, up = float(high[0] - low[0]), float(high[2] - low[2])
    dots = min(_FINEST, math.sqrt(_MOST / (wide * up)))
    columns, rows = max(round(wide * dots), 1), max(round(up * dots), 1)
    x = low[0] + (np.arange(columns) + 0.5) / columns * wide
    z = high[2] - (np.arange(rows) + 0.5) / rows * up
    picture = np.zeros((rows * columns, 4), dtype=np.uint8)
    faces, paint = _painted(model)
    corners = points[faces]
    block, depth = Occluders(points, faces), float(low[1]) - 0.01
    for begin in range(0, len(picture), _AT_ONCE):
        dot = np.arange(begin, min(begin + _AT_ONCE, len(picture)))
        starts = np.column_stack([x[dot % columns], np.full(len(dot), depth), z[dot // columns]])
        met = block.first(floats(starts), np.tile(floats([0.0, 1.0, 0.0]), (len(dot), 1)))
        there = met >= 0
        weights = _weights(starts[there][:, [0, 2]], corners[met[there]][..., [0, 2]])
        colour = np.einsum("nk,nkc->nc", weights, paint[faces[met[there]]])
        picture[dot[there], :3] = np.rint(255 * srgb_encoded(np.clip(colour, 0.0, 1.0)))
        picture[dot[there], 3] = 255
    return picture.reshape(rows, columns, 4)


def _painted(model: Sequence[Mesh]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Faces (m, 3) of all meshes together, and the paint of their corners (n, 3), linear; what glows is bright."""
    faces, paint, count = [], [], 0
    for mesh in model:
        glow = np.array(mesh.material.glow)
        faces.append(mesh.faces + count)
        paint.append(np.tile(glow / glow.max(), (len(mesh.vertices), 1)) if glow.any() else mesh.colours)
        count += len(mesh.vertices)
    return np.concatenate(faces), np.concatenate(paint)


def _weights(places: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of each of the three corners (n, 3, 2) at a place (n, 2) in their triangle. (n, 3)"""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    along, aside, to = b - a, c - a, places - a
    area = along[:, 0] * aside[:, 1] - along[:, 1] * aside[:, 0]
    area = np.where(np.abs(area) < 1e-18, 1e-18, area)
    second = (to[:, 0] * aside[:, 1] - to[:, 1] * aside[:, 0]) / area
    third = (along[:, 0] * to[:, 1] - along[:, 1] * to[:, 0]) / area
    return np.clip(np.column_stack([1 - second - third, second, third]), 0.0, 1.0)
