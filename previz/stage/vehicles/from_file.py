"""A vehicle from a maker's own mesh file: its body, and the nodes that are its wheels, each about its own axle."""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from previz.files import load_parts
from previz.layout import QUARTER_TURNS, Lamp, mesh_headlamps, vehicle_axles
from previz.mesh import Array, Mesh
from previz.physics.colour import srgb_linear
from previz.scene import Scene
from previz.stage.model import VehicleModel, Wheel
from previz.stage.shapes.finish import LONGEST_ON_VEHICLE, cut_for_light
from previz.stage.vehicles.bodies import HEAD_COLOUR, lamps_before

#: A wheel is looked at in rings so wide and high, by its radius, each in so many sectors.
_RING, _SECTORS = 0.04, 48
_LOOKS = 40_000  # at the surface of a wheel
_HUB = 0.1  # nearer to the axle nothing shows a turn, by the radius
_UNEVEN = 0.04  # of a ring's brightness from sector to sector, as a share of white in code values: less does not show
_MOSTLY = 0.8  # of a piece's surface
_ROUND = 0.9  # of a triangle that lies in whole rings: all but its edges


def vehicle_from_file(scene: Scene) -> VehicleModel:
    """The scene's vehicle, where it is a mesh file. Raises PrevizError for one that cannot be used."""
    written = scene.vehicle
    assert written is not None and written.mesh is not None and written.length is not None  # Vehicle: mesh with length
    # A mesh file has colours of its own; only one that the scene names takes their place.
    colour = written.colour if "colour" in written.model_fields_set else None
    path = scene.folder / written.mesh
    parts = load_parts(
        path, written.length, written.up, colour, node=written.node, glow=written.glow, apart=written.wheels
    )
    quarter = QUARTER_TURNS[written.front] * math.pi / 2
    turn = np.array([[math.cos(quarter), -math.sin(quarter), 0], [math.sin(quarter), math.cos(quarter), 0], [0, 0, 1]])
    body = cut_for_light([mesh.moved(turn, np.zeros(3)) for mesh in parts.body], LONGEST_ON_VEHICLE)
    wheels = []
    for name, axle in zip(written.wheels, vehicle_axles(scene), strict=True):
        own = [mesh.moved(turn, -axle.centre) for mesh in parts.named[name]]
        smooth, turning = (cut_for_light(some, LONGEST_ON_VEHICLE) for some in turning_apart(own, axle.radius))
        x, y, z = axle.centre.tolist()
        wheels.append(Wheel((x, y, z), axle.radius, smooth, turning))
    whole = VehicleModel(body, tuple(wheels), _headlamps(scene), 0.0, 0.0, 0.0)
    points = whole.whole[0]
    size = np.ptp(points, axis=0)
    return replace(whole, length=float(size[0]), width=float(size[1]), height=float(points[:, 2].max()))


def _headlamps(scene: Scene) -> tuple[Lamp, ...]:
    """A lamp before either side of the front; none where there is no light."""
    assert scene.vehicle is not None
    if scene.vehicle.headlamps <= 0:
        return ()
    found = mesh_headlamps(scene)
    return tuple(lamps_before([(found.at, found.radius)], scene.vehicle.headlamps, HEAD_COLOUR, 1.0))


def turning_apart(meshes: list[Mesh], radius: float) -> tuple[tuple[Mesh, ...], tuple[Mesh, ...]]:
    """What of a wheel looks the same at any turn about y, and what shows its turn.

    Its surface is looked at evenly. Where a ring about the axle has surface in every direction, and as bright in all,
    what lies in it is round.

    Parameters
    ----------
    meshes : list of Mesh
        About its axle, the y axis. [m]
    radius : float
        [m]
    """
    looks = [_looked_at(mesh, meshes) for mesh in meshes]
    rings = [_rings(points, radius) for points, _, _ in looks]
    every = np.concatenate(rings)
    lowest = every[:, 1].min()
    for ring in rings:
        ring[:, 1] -= lowest
    there = np.zeros((every[:, 0].max() + 1, every[:, 1].max() - lowest + 1, _SECTORS))
    bright = np.zeros_like(there)
    for ring, (_, _, brightness) in zip(rings, looks, strict=True):
        np.add.at(there, tuple(ring.T), 1.0)
        np.add.at(bright, tuple(ring.T), brightness)
    # A ring with its neighbours: an edge of many sides wanders from one to the next.
    there, bright = _with_neighbours(there), _with_neighbours(bright)
    whole = (there > 0).all(axis=2)
    level = bright / np.maximum(there, 1)
    whole &= level.std(axis=2) < _UNEVEN
    whole[: round(_HUB / _RING)] = True
    found: tuple[list[Mesh], list[Mesh]] = ([], [])
    for mesh, ring, (_, triangle, _) in zip(meshes, rings, looks, strict=True):
        inside = whole[ring[:, 0], ring[:, 1]]
        counted = np.bincount(triangle, minlength=len(mesh.faces))
        is_round = np.bincount(triangle, inside, minlength=len(mesh.faces)) >= _ROUND * counted
        is_round = _pieces_kept_whole(mesh, is_round)
        for some, side in ((is_round, found[0]), (~is_round, found[1])):
            if some.any():
                side.append(_part(mesh, some))
    return tuple(found[0]), tuple(found[1])


def _looked_at(mesh: Mesh, meshes: list[Mesh]) -> tuple[Array, NDArray[np.int64], Array]:
    """Places (n, 3) spread evenly over a mesh, one or more a triangle, which it is (n,), and how bright (n,)."""
    areas = [_areas(each) for each in meshes]
    mine = _areas(mesh)
    counts = np.ceil(mine / max(sum(float(each.sum()) for each in areas), 1e-300) * _LOOKS).astype(int)
    triangle = np.repeat(np.arange(len(mine)), np.maximum(counts, 1))
    # Places that fill any number of triangles evenly, whichever have how many: Roberts' additive sequence folded over.
    number = np.arange(len(triangle))
    u, v = (0.5 + number * 0.7548776662466927) % 1.0, (0.5 + number * 0.5698402909980532) % 1.0
    over = u + v > 1
    u, v = np.where(over, 1 - u, u), np.where(over, 1 - v, v)
    shares = np.stack([1 - u - v, u, v], axis=1)

    def there(values: Array) -> Array:
        return np.asarray(np.einsum("nk,nki->ni", shares, values[mesh.faces[triangle]]))

    colours = there(mesh.colours)
    if mesh.image is not None and mesh.uv is not None:
        rows, columns = mesh.image.shape[:2]
        across, down = (there(mesh.uv[:, :2]) % 1.0).T
        texels = mesh.image[np.minimum((down * rows).astype(int), rows - 1), np.minimum(
            (across * columns).astype(int), columns - 1)]  # fmt: skip
        colours = colours * srgb_linear(texels / 255)
    return there(mesh.vertices), triangle, np.sqrt(np.maximum(colours, 0)).mean(axis=1)


def _pieces_kept_whole(mesh: Mesh, is_round: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Pieces that hang together and mostly turn, or mostly do not, do so as a whole: a spoke takes its end along."""
    from scipy.sparse import coo_array  # here: most vehicles are not from a file, and it takes a while to load
    from scipy.sparse.csgraph import connected_components

    places = np.unique(mesh.vertices.round(9), axis=0, return_inverse=True)[1].reshape(-1)[mesh.faces]
    sides = coo_array((np.ones(places.size, bool), (places.ravel(), np.roll(places, 1, axis=1).ravel())),
                      shape=(places.max() + 1,) * 2)  # fmt: skip
    piece = connected_components(sides, directed=False)[1][places[:, 0]]
    areas = _areas(mesh)
    share = (np.bincount(piece, areas * is_round) / np.maximum(np.bincount(piece, areas), 1e-300))[piece]
    return np.where(share < 1 - _MOSTLY, False, np.where(share > _MOSTLY, True, is_round))


def _areas(mesh: Mesh) -> Array:
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a), axis=1))


def _rings(points: Array, radius: float) -> NDArray[np.int64]:
    """Of each place its ring out from the axle, its ring along the axle, and its sector. (n, 3)"""
    out = np.hypot(points[:, 0], points[:, 2])
    sector = (np.arctan2(points[:, 2], points[:, 0]) / (2 * np.pi) % 1.0) * _SECTORS
    step = _RING * radius
    return np.stack([out // step, points[:, 1] // step, np.minimum(sector, _SECTORS - 1)], axis=1).astype(np.int64)


def _with_neighbours(values: Array) -> Array:
    """Each ring's value with those next to it out and along the axle."""
    wide = np.pad(values, ((1, 1), (1, 1), (0, 0)))
    rows, columns = values.shape[:2]
    return np.asarray(sum(wide[i : i + rows, j : j + columns] for i in range(3) for j in range(3)))


def _part(mesh: Mesh, some: NDArray[np.bool_]) -> Mesh:
    """Some of a mesh's triangles, with the corners that they have."""
    used, faces = np.unique(mesh.faces[some], return_inverse=True)
    return replace(
        mesh,
        vertices=mesh.vertices[used],
        normals=mesh.normals[used],
        colours=mesh.colours[used],
        uv=None if mesh.uv is None else mesh.uv[used],
        faces=faces.reshape(-1, 3),
    )
