"""Where a vehicle from a mesh file has its headlamps: in its front, as high and as far apart as real ones are."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.files import kept_with_files, key_of, load_parts
from previz.layout.modelled import ModelFile, turned
from previz.layout.remembered import remembered_of
from previz.layout.vehicle import QUARTER_TURNS, vehicle_size
from previz.scene import HEADLAMP_HEIGHT, HEADLAMP_INSET, HEADLAMP_RADIUS, Scene

Array = NDArray[np.float64]

#: Of a model that is not as wide or high as real ones, at most so far up and in, by its height and by half its width.
_UP, _IN = 0.5, 0.5

_FRONT = 0.3  # of its length: what a look from ahead meets behind that is not its front
_LOOKS = np.array([[0.0, 0.0], *([np.cos(t), np.sin(t)] for t in np.arange(8) * np.pi / 4)])  # over a lens


@dataclass(frozen=True)
class MeshHeadlamps:
    """Both, in the vehicle's frame: the left one's middle, and the other as far to the right.

    Parameters
    ----------
    at : (3,) float
        The middle of its lens, which lies on the front. [m]
    radius : float
        Of the lens. [m]
    """

    at: tuple[float, float, float]
    radius: float


@remembered_of("scale", "vehicle", "folder")
def mesh_headlamps(scene: Scene) -> MeshHeadlamps:
    """The places of the headlamps of a vehicle that is a mesh file. Raises PrevizError for a file that cannot be used.

    Where the front is open there, they are taken to be further in or up, and where it is open all over, foremost.
    """
    vehicle = scene.vehicle
    assert vehicle is not None and vehicle.mesh is not None  # asked of meshes only
    length, width, height = vehicle_size(scene)
    scale = scene.vehicle_scale
    up, inwards = min(HEADLAMP_HEIGHT / scale, _UP * height), min(HEADLAMP_INSET / scale, _IN * width / 2)
    radius = min(HEADLAMP_RADIUS / scale, up / 2)
    beside, above = np.array([0.0, 0.1, 0.2, 0.3, 0.45]), np.array([0.0, 0.1, -0.1, 0.2, 0.3])
    places = np.array([[(width / 2 - inwards) * (1 - a), up * (1 + b)] for b in above for a in beside])
    looks = (places[:, None] + radius * _LOOKS * 0.7).reshape(-1, 2)
    ahead = _foremost(ModelFile.of(scene, vehicle), length, QUARTER_TURNS[vehicle.front], looks)
    ahead = ahead.reshape(len(places), -1).min(axis=1)  # the whole lens has the front behind it
    found = np.flatnonzero(ahead > (0.5 - _FRONT) * length)
    which = int(found[0]) if len(found) else 0
    x = float(ahead[which]) if len(found) else length / 2
    return MeshHeadlamps((x, float(places[which, 0]), float(places[which, 1])), radius)


def _foremost(model: ModelFile, length: float, quarter_turns: int, places: Array) -> Array:
    """How far forward a mesh reaches that is looked at from ahead, at places (n, 2) across and up. (n,) [m]

    Less than nothing, by far, where nothing is met; kept by the file's content.
    """
    across = places / length

    def compute() -> dict[str, Array]:
        parts = load_parts(model.path, 1.0, model.up, node=model.node, apart=model.wheels)
        turn = turned(quarter_turns)
        ahead = np.full(len(across), -np.inf)
        for mesh in (*parts.body, *(each for some in parts.named.values() for each in some)):
            corners = (mesh.vertices @ turn.T)[mesh.faces]
            flat = corners[:, :, 1:]  # most of a large mesh lies beside all that is looked at: that takes a tenth
            near = (flat.min(axis=1) <= across.max(axis=0)) & (flat.max(axis=1) >= across.min(axis=0))
            corners = corners[near.all(axis=1)]
            for number, place in enumerate(across):
                ahead[number] = max(ahead[number], _met(corners, place))
        return {"ahead": ahead}

    key = key_of("fronts", 1, str(model.path.resolve()), model.up, model.node, quarter_turns, across.tolist())
    return np.asarray(kept_with_files(key, compute)["ahead"]) * length


def _met(corners: Array, place: Array) -> float:
    """How far forward triangles (m, 3, 3) reach on a line along x, at a place across and up."""
    flat = corners[:, :, 1:] - place
    near = (flat.min(axis=1) <= 0).all(axis=1) & (flat.max(axis=1) >= 0).all(axis=1)
    if not near.any():
        return -np.inf
    flat, along = flat[near], corners[near, :, 0]
    a, b, c = (flat[:, k] for k in range(3))
    # Shares of the corners, by the areas that the place has with each side.
    areas = np.stack([_area(b, c), _area(c, a), _area(a, b)], axis=1)
    whole = areas.sum(axis=1)
    inside = (np.abs(whole) > 0) & ((areas * np.sign(whole)[:, None]) >= 0).all(axis=1)
    if not inside.any():
        return -np.inf
    return float(((areas[inside] / whole[inside, None]) * along[inside]).sum(axis=1).max())


def _area(one: Array, other: Array) -> Array:
    """Twice the signed area (m,) of triangles from the origin. (m, 2) each"""
    return np.asarray(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])
