"""How big a maker's own mesh is: read from its file once, and kept by the file's content."""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.files import Arrays, kept_with_files, key_of, load_parts
from previz.layout.axles import Axle, axle_of
from previz.layout.sizes import CARD_THICKNESS, Band
from previz.mesh import Mesh
from previz.physics.overlap import hull, thickened
from previz.scene import MeshPiece, Scene, Vehicle

Array = NDArray[np.float64]

Up = Literal["y", "z"] | None


@dataclass(frozen=True)
class ModelFile:
    """A mesh file, or a node of it.

    Parameters
    ----------
    path : Path
        As `files.load_model` reads it.
    up : "y", "z" or None
        The file's upward axis, or that usual for its kind.
    node : str or None
        Of a glTF file this node alone.
    wheels : tuple of str
        Nodes that are a wheel each.
    """

    path: Path
    up: Up = None
    node: str | None = None
    wheels: tuple[str, ...] = ()

    @classmethod
    def of(cls, scene: Scene, thing: Vehicle | MeshPiece) -> "ModelFile":
        """Of a thing that has one."""
        assert thing.mesh is not None
        wheels = thing.wheels if isinstance(thing, Vehicle) else ()
        return cls(scene.folder / thing.mesh, thing.up, thing.node, wheels)


#: What is known of mesh files.
Measured = dict[ModelFile, Arrays]

_TOLD: Measured = {}  # by whoever sent a scene here

#: Into so many bands of one height a mesh is cut: an arm over the road is told from the post that carries it.
BANDS = 8

#: Of more triangles than these light meets fewer: the corners in one cell, of this share of its size, become one.
MOST_PLAIN, _GRID = 20_000, 0.02

#: A mesh file may come out no higher on the table. [m]
HIGHEST = 5.0


def mesh_bands(model: ModelFile, length: float, quarter_turns: int = 0) -> tuple[Band, ...]:
    """The convex outlines of a mesh file's bands, brought to a length; a sheet counts as thick as card. [m]

    Parameters
    ----------
    model : ModelFile
    length : float
        Its largest horizontal extent on the table. [m]
    quarter_turns : int
        Turned counter-clockwise by so many, to bring its front to +x.

    Raises PrevizError for a file that cannot be used.
    """

    kept = _measured(model)
    turn = turned(quarter_turns)[:2, :2]
    rows = [length * kept[name] for name in sorted((name for name in kept if name.isdigit()), key=int)]
    highest = float(rows[-1][0, 1])
    if highest > HIGHEST:
        raise PrevizError(
            f"{model.path}: brought to its length it is {highest:.3g} m high; at most {HIGHEST:g} m is built: check up "
            "and length"
        )
    return tuple(
        Band(float(each[0, 0]), float(each[0, 1]), thickened(each[1:] @ turn.T, CARD_THICKNESS)) for each in rows
    )


def mesh_surface(model: ModelFile, length: float, quarter_turns: int = 0) -> Array:
    """Its triangles (m, 3, 3), so many that light finds its shape, like `mesh_bands`. [m]

    Raises PrevizError for a file that cannot be used.
    """
    return np.asarray(_measured(model)["surface"] @ turned(quarter_turns).T * length)


def mesh_triangles(model: ModelFile) -> int:
    """How many triangles a mesh file has. Raises PrevizError for a file that cannot be used."""
    return int(_measured(model)["triangles"][0])


def mesh_axles(model: ModelFile, length: float, quarter_turns: int = 0) -> tuple[Axle, ...]:
    """What each of its wheels turns about, like `mesh_bands`. Raises PrevizError for a node that is no wheel."""
    kept, turn = _measured(model), turned(quarter_turns)
    found = [kept[f"axle.{k}"] for k in range(len(model.wheels))]
    return tuple(Axle(turn @ each[0] * length, turn @ each[1], float(each[2, 0]) * length) for each in found)


def turned(quarter_turns: int) -> Array:
    """Places (n, 3) @ its transpose are turned counter-clockwise by so many quarters. (3, 3)"""
    return np.linalg.matrix_power(np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]), quarter_turns)


def _measured(model: ModelFile) -> Arrays:
    """Bands of a mesh brought to a length of 1, each its low, high and outline; its axles, and how many triangles."""

    def compute() -> Arrays:
        parts = load_parts(model.path, 1.0, model.up, node=model.node, apart=model.wheels)
        meshes = (*parts.body, *(mesh for each in parts.named.values() for mesh in each))
        found = outlines_of(meshes, BANDS)
        bands = {f"{k}": np.vstack([[low, high], outline]) for k, (low, high, outline) in enumerate(found)}
        try:
            axles = [axle_of(parts.named[name], name) for name in model.wheels]
        except PrevizError as fault:
            raise PrevizError(f"{model.path}: {fault}") from None
        turning = {
            f"axle.{k}": np.stack([axle.centre, axle.way, np.full(3, axle.radius)]) for k, axle in enumerate(axles)
        }
        surface = {"surface": plain_surface(meshes)}
        return {**bands, **turning, **surface, "triangles": np.array([sum(len(mesh.faces) for mesh in meshes)])}

    told = _TOLD.get(model)
    if told is not None:
        return told
    key = key_of("bands", 5, str(model.path.resolve()), model.up, model.node, list(model.wheels))
    return kept_with_files(key, compute)


def measured_meshes(scene: Scene) -> Measured:
    """What the layout knows of the mesh files that a scene names, for a place where they are not."""
    things = (scene.vehicle, *(scene.vehicles or {}).values(), *scene.dressing)
    named = [each for each in things if isinstance(each, Vehicle | MeshPiece)]
    models = [ModelFile.of(scene, each) for each in named if each.mesh is not None]
    return {model: _measured(model) for model in models}


def take_as_measured(measured: Measured) -> None:
    """From now on these count, in this process, whether the files are there or not; those of another scene no more."""
    _TOLD.clear()
    _TOLD.update(measured)


def plain_surface(meshes: tuple[Mesh, ...]) -> Array:
    """The triangles (m, 3, 3) of meshes; of more than `MOST_PLAIN` corners in one cell of `_GRID` are one.

    >>> corners = np.array([[0, 0, 0], [1, 0, 0], [0, 0, 1.0]])
    >>> plain_surface((Mesh(corners, np.array([[0, 1, 2]]), corners, corners),)).tolist() == [corners.tolist()]
    True
    """
    corners = np.concatenate([mesh.vertices[mesh.faces] for mesh in meshes])
    if len(corners) <= MOST_PLAIN:
        return corners
    points = corners.reshape(-1, 3)
    cells = np.round(points / (_GRID * float(np.ptp(points, axis=0).max()))).astype(np.int64)
    _, cell, held = np.unique(cells, axis=0, return_inverse=True, return_counts=True)
    cell = cell.reshape(-1)
    middles = np.stack([np.bincount(cell, weights=points[:, axis]) / held for axis in range(3)], axis=1)
    sides = cell.reshape(-1, 3)
    sides = sides[(sides != np.roll(sides, 1, axis=1)).all(axis=1)]
    _, first = np.unique(np.sort(sides, axis=1), axis=0, return_index=True)
    return np.asarray(middles[sides[np.sort(first)]])


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
