"""How big a maker's own mesh is: read from its file once, and kept by the file's content."""

from itertools import pairwise
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.files import Arrays, kept_with_files, key_of, load_model
from previz.layout.sizes import CARD_THICKNESS, Band
from previz.mesh import Mesh
from previz.physics.overlap import hull, thickened
from previz.scene import MeshPiece, Scene, Vehicle

Array = NDArray[np.float64]

Up = Literal["y", "z"] | None

#: Of mesh files by their path and upward axis.
Measured = dict[tuple[str, Up], Arrays]

_TOLD: Measured = {}  # by whoever sent a scene here

#: Into so many bands of one height a mesh is cut: an arm over the road is told from the post that carries it.
BANDS = 8

#: A mesh file may come out no higher on the table. [m]
HIGHEST = 5.0


def mesh_bands(path: Path, length: float, up: Up, quarter_turns: int = 0) -> tuple[Band, ...]:
    """The convex outlines of a mesh file's bands, brought to a length; a sheet counts as thick as card. [m]

    Parameters
    ----------
    path : Path
        A mesh file, as `files.load_model` reads it.
    length : float
        Its largest horizontal extent on the table. [m]
    up : "y", "z" or None
        The file's upward axis, or that usual for its kind.
    quarter_turns : int
        Turned counter-clockwise by so many, to bring its front to +x.

    Raises PrevizError for a file that cannot be used.
    """

    kept = _measured(path, up)
    turn = np.linalg.matrix_power(np.array([[0.0, -1.0], [1.0, 0.0]]), quarter_turns)
    rows = [length * kept[name] for name in sorted(set(kept) - {"triangles"}, key=int)]
    highest = float(rows[-1][0, 1])
    if highest > HIGHEST:
        raise PrevizError(
            f"{path}: brought to its length it is {highest:.3g} m high; at most {HIGHEST:g} m is built: check up and "
            "length"
        )
    return tuple(
        Band(float(each[0, 0]), float(each[0, 1]), thickened(each[1:] @ turn.T, CARD_THICKNESS)) for each in rows
    )


def mesh_triangles(path: Path, up: Up) -> int:
    """How many triangles a mesh file has. Raises PrevizError for a file that cannot be used."""
    return int(_measured(path, up)["triangles"][0])


def _measured(path: Path, up: Up) -> Arrays:
    """Bands of a mesh brought to a length of 1, each its low, high and outline, and how many triangles it has."""

    def compute() -> Arrays:
        meshes = load_model(path, 1.0, up)
        found = outlines_of(meshes, BANDS)
        bands = {f"{k}": np.vstack([[low, high], outline]) for k, (low, high, outline) in enumerate(found)}
        return {**bands, "triangles": np.array([sum(len(mesh.faces) for mesh in meshes)])}

    told = _TOLD.get((str(path), up))
    return kept_with_files(key_of("bands", 3, str(path.resolve()), up), compute) if told is None else told


def measured_meshes(scene: Scene) -> Measured:
    """What the layout knows of the mesh files that a scene names, for a place where they are not."""
    things = (scene.vehicle, *(scene.vehicles or {}).values(), *scene.dressing)
    named = [(each.mesh, each.up) for each in things if isinstance(each, Vehicle | MeshPiece)]
    paths = [(scene.folder / mesh, up) for mesh, up in named if mesh is not None]
    return {(str(path), up): _measured(path, up) for path, up in paths}


def take_as_measured(measured: Measured) -> None:
    """From now on these count, in this process, whether the files are there or not; those of another scene no more."""
    _TOLD.clear()
    _TOLD.update(measured)


def outlines_of(meshes: tuple[Mesh, ...], count: int) -> list[tuple[float, float, Array]]:
    """Low, high and convex outline (k, 2) of what lies in each of `count` bands of height; empty ones are left out. [m]

    >>> corners = np.array([[0, 0, 0], [1, 0, 0], [0, 0, 1.0]])
    >>> sheet = Mesh(corners, np.array([[0, 1, 2]]), corners, corners)
    >>> [(low, high, float(outline[:, 0].max())) for low, high, outline in outlines_of((sheet,), 2)]
    [(0.0, 0.5, 1.0), (0.5, 1.0, 0.5)]
    """
    points = np.concatenate([mesh.vertices for mesh in meshes])
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    faces = np.concatenate([mesh.faces + start for mesh, start in zip(meshes, starts[:-1], strict=True)])
    sides = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    z = points[:, 2]
    sides = np.where((z[sides[:, 0]] <= z[sides[:, 1]])[:, None], sides, sides[:, ::-1])
    levels = np.linspace(z.min(), z.max(), count + 1)
    cuts = [_cut(points, sides, level) for level in levels]
    found = []
    for k, (low, high) in enumerate(pairwise(levels.tolist())):
        inside = points[(z >= low) & (z <= high), :2]
        here = np.concatenate([inside, cuts[k], cuts[k + 1]])
        if len(here):
            found.append((low, high, hull(here)))
    return found


def _cut(points: Array, sides: NDArray[np.int64], level: float) -> Array:
    """Where sides, each from its lower to its upper corner, go through a height. (n, 2) [m]"""
    start, end = points[sides[:, 0]], points[sides[:, 1]]
    through = (start[:, 2] < level) & (end[:, 2] > level)
    start, end = start[through], end[through]
    share = (level - start[:, 2]) / (end[:, 2] - start[:, 2])
    return np.asarray(start[:, :2] + share[:, None] * (end - start)[:, :2])
