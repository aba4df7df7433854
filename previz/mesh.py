"""Triangles with a colour on every corner: plain arrays, in metres, z up.

Everything is opaque. Tinted, glossy windows stand for glass, as they do on most models.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

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


def merged(meshes: Iterable[Mesh]) -> tuple[Mesh, ...]:
    """Join meshes that share material and image into one each, so that a view takes few draws."""
    groups: dict[tuple[Material, int], list[Mesh]] = {}
    for mesh in meshes:
        groups.setdefault((mesh.material, id(mesh.image)), []).append(mesh)
    return tuple(joined(group) for group in groups.values())


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """All meshes as one, of the first one's material and image."""
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
