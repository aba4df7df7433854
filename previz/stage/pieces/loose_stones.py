"""Stones that lie loose on gravel, for what is painted has no height: a strewing that comes with the surface."""

from dataclasses import replace

import numpy as np

from previz.layout import SURFACE_COLOURS, ground_heights
from previz.mesh import Array, Mesh
from previz.scene import Scene
from previz.stage.pieces.scattering import clear_of_all, repeated, taken
from previz.stage.shapes import solids
from previz.stage.shapes.finish import MATT

# Full size, typical, from memory; how many lie loose is chosen by eye.
_A_SQUARE_METRE = 4500  # of table
_MOST = 6000
_SIZES = (0.030, 0.080)  # high [m]
_LEAST = 0.0005  # grit that is sieved is no finer [m]
_VARIANTS = 10


def loose_stones(scene: Scene) -> tuple[Mesh, ...]:
    """None but on gravel; clear of the road, the vehicles' ways and all that stands."""
    ground, table = scene.set.ground, scene.set.table
    if ground.surface != "gravel" or ground.image is not None:
        return ()
    rng = np.random.default_rng([ground.seed, 61])
    count = int(np.clip(_A_SQUARE_METRE * table.width * table.depth, 20, _MOST))
    low, high = (max(size / scene.scale, least) for size, least in zip(_SIZES, (_LEAST, 2 * _LEAST), strict=True))
    spots = rng.uniform((0.0, 0.0), (table.width, table.depth), (count, 2))
    heights = low + (high - low) * rng.random(count) ** 2.5  # more small ones than large
    turns, shades, which = (
        rng.uniform(0, 2 * np.pi, count),
        rng.uniform(0.7, 1.25, count),
        rng.integers(0, _VARIANTS, count),
    )
    free = clear_of_all(scene, spots, heights, taken(scene))
    feet = np.column_stack([spots, ground_heights(scene).height(spots)])
    colour = np.array(ground.colour or SURFACE_COLOURS["gravel"])
    found = []
    for k in range(_VARIANTS):
        mine = np.flatnonzero(free & (which == k))
        stone = _stone(colour, rng)
        if len(mine):
            found.append(repeated(stone, feet[mine], heights[mine], turns[mine], shades[mine]))
    return tuple(found)


def _stone(colour: Array, rng: np.random.Generator) -> Mesh:
    """A chip of stone 1 high, its underside left out."""
    from scipy.spatial import ConvexHull  # here: a set kept on disk need not wait for it

    ways = rng.normal(size=(11, 3))
    points = ways / np.linalg.norm(ways, axis=1, keepdims=True) * (rng.uniform(0.8, 1.3), rng.uniform(0.6, 0.9), 0.5)
    points[:, 2] -= points[:, 2].min()
    points[:, 2] /= points[:, 2].max()
    # Settled in: a corner below the ground would be lit as if it lay there. Narrow at the top: what leans out is dark.
    points[:, 2] = np.maximum(points[:, 2] - 0.3, 0.0) / 0.7
    points[:, :2] *= 1 - 0.5 * points[:, 2:]
    hull = ConvexHull(points)
    faces = hull.simplices.astype(np.int64)
    across = np.cross(points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]])
    inwards = np.einsum("ni,ni->n", across, hull.equations[:, :3]) < 0
    faces[inwards] = faces[inwards][:, ::-1]
    seen = hull.equations[:, 2] > -0.3
    mesh = solids.coloured(solids.shaped(points, faces[seen], crease=20.0), tuple(colour.tolist()), MATT)
    foot = np.clip(0.75 + 0.4 * mesh.vertices[:, 2:], 0, 1.1)  # dark where it meets the ground
    # A chip of a millimetre is lit from all round its edges: flat faces alone would make flecks of it.
    normals = mesh.normals + np.array([0.0, 0.0, 1.0])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return replace(mesh, colours=np.clip(mesh.colours * foot, 0, 1), normals=normals)
