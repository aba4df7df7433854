"""Triangles with a colour on every corner: plain arrays, in metres, z up.

Everything is opaque. Tinted, glossy windows stand for glass, as they do on most models.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

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
    driver : int or None
        The vehicle that drives on it, the scene's subject being 0: its shadow falls on this.
    globe : (4,) float or None
        Middle and radius of the ball that all of it is, in the world frame: a bare bulb. [m]
    """

    gloss: float = 0.0
    two_sided: bool = False
    glow: tuple[float, float, float] = (0.0, 0.0, 0.0)
    driver: int | None = None
    globe: tuple[float, float, float, float] | None = None


#: What a picture shows past its sides, along u and v: itself again, its edge, or itself mirrored.
Wrap = Literal["repeat", "edge", "mirror"]


@dataclass(frozen=True, eq=False)
class Picture:
    """Values laid over a surface.

    Parameters
    ----------
    pixels : (h, w, 3) uint8
    way : int
        By which pair of columns of `Mesh.uv` it lies.
    wrap : (2,) of "repeat", "edge", "mirror"
    """

    pixels: NDArray[np.uint8]
    way: int = 0
    wrap: tuple[Wrap, Wrap] = ("repeat", "repeat")


@dataclass(frozen=True, eq=False)
class Surface:
    """A surface as glTF describes it, where a file does (glTF 2.0, 3.9): a metal or not, rough or smooth, in detail.

    Its colour is that of the corners times `Mesh.image`, its own light `Material.glow` times `emission`.

    Parameters
    ----------
    metal, roughness : float
        0..1 each; times blue and green of `metal_roughness`, linear.
    image : Picture or None
        How `Mesh.image` lies.
    alpha : (h, w) uint8 or None
        Of `Mesh.image`: what is below `cutoff`, 0..1, is not there.
    normal : Picture or None
        Tilts the normal: red along u, green against v, 127.5 is none; linear. `normal_scale` times.
    occlusion : Picture or None
        Red is the share of light that gets there from all round, linear; `occlusion_strength` of the rest is taken.
    emission : Picture or None
        sRGB.
    matt : bool
        It mirrors nothing at all: `metal` and `roughness` say nothing.
    """

    metal: float = 1.0
    roughness: float = 1.0
    image: Picture | None = None
    alpha: NDArray[np.uint8] | None = None
    cutoff: float = 0.5
    metal_roughness: Picture | None = None
    normal: Picture | None = None
    normal_scale: float = 1.0
    occlusion: Picture | None = None
    occlusion_strength: float = 1.0
    emission: Picture | None = None
    matt: bool = False

    @property
    def shaded(self) -> bool:
        """Whether some of the light from all round is taken from it, and so has to be told from the rest."""
        return self.occlusion is not None and self.occlusion_strength > 0


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
    uv : (n, 2) or (n, 4) float or None
        Image coordinates, (0, 0) at the *top-left* of the image, u right, v down. The first two are those of `image`;
        pictures of a `surface` may lie in a second way.
    image : (h, w, 3) uint8 or None
        sRGB-encoded texture.
    surface : Surface or None
        What a file says of it beyond that.
    """

    vertices: Array
    faces: NDArray[np.int64]
    normals: Array
    colours: Array
    material: Material = field(default_factory=Material)
    uv: Array | None = None
    image: NDArray[np.uint8] | None = None
    surface: Surface | None = None

    def moved(self, rotation: Array, shift: Array) -> "Mesh":
        """The same mesh turned by `rotation` (3, 3), then shifted by `shift` (3,) [m]."""
        return replace(self, vertices=self.vertices @ rotation.T + shift, normals=self.normals @ rotation.T)


def merged(meshes: Iterable[Mesh]) -> tuple[Mesh, ...]:
    """Join meshes that share material, image and surface into one each, so that a view takes few draws."""
    groups: dict[tuple[Material, int, int], list[Mesh]] = {}
    for mesh in meshes:
        groups.setdefault((mesh.material, id(mesh.image), id(mesh.surface)), []).append(mesh)
    return tuple(joined(group) for group in groups.values())


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """All meshes as one, of the first one's material and image."""
    starts = np.cumsum([0] + [len(mesh.vertices) for mesh in meshes[:-1]])
    first = meshes[0]
    laid = [mesh.uv for mesh in meshes if mesh.uv is not None]
    all_alike = len(laid) == len(meshes) and len({uv.shape[1] for uv in laid}) == 1
    return replace(
        first,
        vertices=np.concatenate([mesh.vertices for mesh in meshes]),
        normals=np.concatenate([mesh.normals for mesh in meshes]),
        colours=np.concatenate([mesh.colours for mesh in meshes]),
        faces=np.concatenate([mesh.faces + start for mesh, start in zip(meshes, starts, strict=True)]),
        uv=np.concatenate(laid) if all_alike else None,
    )
