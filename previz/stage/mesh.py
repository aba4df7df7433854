"""What the set is made of: triangles with a colour on every corner, and the lamps fixed to them.

World frame: x right along the table, y away from the viewer, z up, metres; z = 0 is the table top.
Everything is opaque. Tinted, glossy windows stand for glass, as they do on most models.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from previz.layout import Lamp

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Material:
    """How a surface answers light, the same over one mesh.

    Parameters
    ----------
    gloss : float
        0 is matt; 1 is fresh lacquer or glass, a clear-coat (index 1.5) over the diffuse colour. Values
        between blur the reflection and weaken it.
    two_sided : bool
        Seen and lit from both faces: leaves, cards.
    glow : (3,) float
        Luminance the surface sends out by itself, linear Rec. 709, luminance in [cd/m2]: lit windows, signs.
    """

    gloss: float = 0.0
    two_sided: bool = False
    glow: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Mesh:
    """Triangles of one material.

    Parameters
    ----------
    vertices : (n, 3) float
        Corner positions. [m]
    faces : (m, 3) int
        Corner numbers, counter-clockwise seen from outside.
    normals : (n, 3) float
        Unit outward normals; corners are doubled where an edge is sharp.
    colours : (n, 3) float
        Diffuse reflectance, linear Rec. 709, 0..1; multiplied by `image` where there is one.
    uv : (n, 2) float or None
        Image coordinates, (0, 0) at the *top-left* of the image, u right, v down.
    image : (h, w, 3) uint8 or None
        sRGB-encoded texture.
    """

    vertices: Array
    faces: NDArray[np.int64]
    normals: Array
    colours: Array
    material: Material = field(default_factory=Material)
    uv: Array | None = None
    image: NDArray[np.uint8] | None = None

    def moved(self, rotation: Array, shift: Array) -> "Mesh":
        """The same mesh turned by `rotation` (3, 3), then shifted by `shift` (3,) [m]."""
        return replace(self, vertices=self.vertices @ rotation.T + shift, normals=self.normals @ rotation.T)


@dataclass(frozen=True)
class Model:
    """A finished thing in its own frame: origin on the ground at its middle, z up, x its front or right."""

    meshes: tuple[Mesh, ...]
    lamps: tuple[Lamp, ...] = ()


@dataclass(frozen=True)
class Wheel:
    """A wheel of a vehicle, modelled about its own axle.

    Parameters
    ----------
    centre : (3,) float
        Axle middle in the vehicle's frame. [m]
    radius : float
        Rolling radius. [m]
    round : tuple of Mesh
        Parts that are solids of revolution about the axle (y axis): they look the same at any turn.
    turning : tuple of Mesh
        Parts whose turn shows: spokes, bolts, hub marks. Own frame, origin at the axle middle.
    """

    centre: tuple[float, float, float]
    radius: float
    round: tuple[Mesh, ...]
    turning: tuple[Mesh, ...]


@dataclass(frozen=True)
class VehicleModel:
    """A vehicle in its own frame: x forward, y left, z up, origin on the ground below the middle of its length."""

    body: tuple[Mesh, ...]
    wheels: tuple[Wheel, ...]
    lamps: tuple[Lamp, ...]
    length: float
    width: float
    height: float


def merged(meshes: Iterable[Mesh]) -> tuple[Mesh, ...]:
    """Join meshes that share material and image into one each, so that a view takes few draws."""
    groups: dict[tuple[Material, int], list[Mesh]] = {}
    for mesh in meshes:
        groups.setdefault((mesh.material, id(mesh.image)), []).append(mesh)
    return tuple(_join(group) for group in groups.values())


def _join(meshes: list[Mesh]) -> Mesh:
    starts = np.cumsum([0] + [len(mesh.vertices) for mesh in meshes[:-1]])
    first = meshes[0]
    return replace(
        first,
        vertices=np.concatenate([mesh.vertices for mesh in meshes]),
        normals=np.concatenate([mesh.normals for mesh in meshes]),
        colours=np.concatenate([mesh.colours for mesh in meshes]),
        faces=np.concatenate([mesh.faces + start for mesh, start in zip(meshes, starts, strict=True)]),
        uv=None if first.image is None else np.concatenate([mesh.uv for mesh in meshes if mesh.uv is not None]),
    )
