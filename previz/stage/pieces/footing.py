"""What reaches down to the ground below a piece on a slope: a house has a plinth, a wall goes on below its foot."""

import numpy as np

from previz.layout import Heights, Solid
from previz.mesh import Array, Mesh
from previz.physics.overlap import hull
from previz.stage.shapes.finish import LONGEST_EDGE, MATT, Colour, sheet, subdivided, weathered

#: What stands on the ground with all of its foot, and of which what shows below has a colour of its own, by eye.
_FOOTED: dict[str, Colour | None] = {"building": (0.20, 0.19, 0.175), "wall": None, "hedge": None, "container": None}

_STEP = 0.004  # along the foot, to follow the ground [m]
_OPEN = 0.0003  # less than that between foot and ground is not seen [m]
_TUCK = 0.001  # how far it goes into the ground [m]
_FOOT = 0.0005  # of a model, what lies no higher belongs to its foot [m]


def footing(solid: Solid, model: tuple[Mesh, ...], ground: Heights, scale: float, seed: int) -> tuple[Mesh, ...]:
    """From a piece's foot down to the ground, in the piece's own frame; nothing where no gap shows, or it is held up.

    Parameters
    ----------
    solid : Solid
        Where it stands.
    model : tuple of Mesh
        The piece in its own frame, standing on z = 0.
    ground : Heights
    scale : float
        S of 1:S.
    seed : int
        Of the piece: the same seed, the same stains.
    """
    x, y, foot = solid.at
    if solid.kind not in _FOOTED or foot > ground.height([[x, y]])[0] + _OPEN:
        return ()
    outline = _foot_of(model)
    if len(outline) < 3:
        return ()
    around = _stepped(outline)
    # What sticks out over the table's edge goes down as far as it does at the edge.
    gap = foot - np.maximum(ground.surface(solid.placed(around)), 0.0)
    if gap.max() < _OPEN:
        return ()
    own = _FOOTED[solid.kind] or _colour_at(model)
    # A row of corners where it meets the ground: what goes into that is dark, and would darken all of it.
    met = -np.maximum(gap, 0.0)
    mesh = subdivided(sheet(np.concatenate([_band(around, 0 * met, met), _band(around, met, met - _TUCK)]), own, MATT))
    low = mesh.vertices[:, 2].min()
    raised = mesh.moved(np.eye(3), np.array([0.0, 0.0, -low]))
    worn = weathered(raised, np.random.default_rng([seed, 37, solid.copy]), 1 / scale, foot=0.35, moss=0.15)
    return worn.moved(np.eye(3), np.array([0.0, 0.0, low])), _lid(outline, own)


def _foot_of(model: tuple[Mesh, ...]) -> Array:
    """Convex outline (k, 2) of what stands on the ground, counter-clockwise. [m]"""
    points = np.concatenate([mesh.vertices for mesh in model])
    flat = points[points[:, 2] <= _FOOT, :2]
    return hull(flat) if len(flat) > 2 and np.ptp(flat, axis=0).min() > 0 else flat[:0]


def _colour_at(model: tuple[Mesh, ...]) -> Colour:
    """Of the model's foot, on the mean."""
    low = [mesh.colours[mesh.vertices[:, 2] <= _FOOT, :3] for mesh in model]
    red, green, blue = np.concatenate(low).mean(axis=0).tolist()
    return red, green, blue


def _stepped(outline: Array) -> Array:
    """The same outline with points no further apart than a step."""
    ends = np.roll(outline, -1, axis=0)
    counts = np.ceil(np.linalg.norm(ends - outline, axis=1) / min(_STEP, LONGEST_EDGE)).astype(int)
    sides = zip(outline, ends, np.maximum(counts, 1), strict=True)
    return np.concatenate([a + (b - a) * (np.arange(count) / count)[:, None] for a, b, count in sides])


def _band(around: Array, top: Array, bottom: Array) -> Array:
    """Faces (n, 4, 3) round an outline (m, 2) that look outwards, where there is anything between top and bottom."""
    here = np.arange(len(around))
    beyond = np.roll(here, -1)
    ends = (here, bottom), (beyond, bottom), (beyond, top), (here, top)
    corners = np.stack([np.column_stack([around[at], z[at]]) for at, z in ends], axis=1)
    high = top - bottom
    return corners[np.maximum(high, high[beyond]) > 0]


def _lid(outline: Array, colour: Colour) -> Mesh:
    """The plinth's upper side, a hair below the foot: seen where the piece stands back from its own outline."""
    count = len(outline)
    middle = outline.mean(axis=0)
    points = np.column_stack([np.vstack([outline, middle]), np.full(count + 1, -0.00005)])
    faces = np.column_stack([np.arange(count), np.roll(np.arange(count), -1), np.full(count, count)])
    normals = np.tile([0.0, 0.0, 1.0], (count + 1, 1))
    return subdivided(Mesh(points, faces, normals, np.tile(colour, (count + 1, 1)), MATT))
