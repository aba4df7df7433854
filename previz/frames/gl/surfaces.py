"""Surfaces that a file describes, on the graphics side: their pictures, and what the shader is told of them."""

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.microfacets import SIDE, reflection_table
from previz.frames.mirror import MIRROR_WIDTHS
from previz.mesh import Mesh, Picture, Surface, Wrap

_WRAPS: dict[Wrap, int] = {
    "repeat": GL.GL_REPEAT,
    "edge": GL.GL_CLAMP_TO_EDGE,
    "mirror": GL.GL_MIRRORED_REPEAT,
}
_WAYS = ("xy", "zw")  # of the shader's `laid`


@dataclass(frozen=True)
class Look:
    """How a surface is drawn: switches of `laid_surface.frag`, textures and values by their names there."""

    switches: tuple[str, ...]
    textures: dict[str, tuple[int, int]]
    values: dict[str, Any] = field(default_factory=dict)

    @property
    def laid(self) -> bool:
        """Whether any picture lies on it."""
        return "LAID" in self.switches

    @property
    def mirrors(self) -> bool:
        """Whether the shader looks at what is all round."""
        return "reflection" in self.textures or "normal_image" in self.textures


#: What shaders know of how widely a surface mirrors: how many blurs, the least, and log2 of the most over that.
MIRROR_SWITCHES = (
    f"MIRRORS {len(MIRROR_WIDTHS)}.0",
    f"SHARPEST {MIRROR_WIDTHS[0]}",
    f"WIDENS {math.log2(MIRROR_WIDTHS[-1] / MIRROR_WIDTHS[0])}",
)


class Looks:
    """Uploads surfaces, each picture once."""

    def __init__(self) -> None:
        self._pictures: dict[Any, int] = {}
        self._kept: list[NDArray[np.uint8]] = []  # so that no other takes the place, and the name, of one
        self._table: int | None = None

    def of(self, surface: Surface) -> Look:
        """How to draw it."""
        switches, values = [*MIRROR_SWITCHES], dict[str, Any]()
        textures: dict[str, tuple[int, int]] = {}
        for name, picture in _pictures(surface):
            switches.append(f"{name.upper()} {_WAYS[picture.way]}")
            alpha = surface.alpha if name == "base" else None
            kind = "srgb" if name in ("base", "emission") else "plain"
            textures[f"{name}_image"] = (GL.GL_TEXTURE_2D, self._texture(picture, alpha, kind))
            values |= {key: float(getattr(surface, key)) for key in _BESIDE.get(name, ())}
        if textures:
            switches.append("LAID")
        if surface.image is not None and surface.alpha is not None:
            switches.append("CUT")
            values["cutoff"] = float(surface.cutoff)
        if surface.matt:
            switches.append("MATT")
        else:
            values |= {"metal": float(surface.metal), "roughness": float(surface.roughness)}
            switches.append(f"ENTRIES {SIDE}.0")
            textures["reflection"] = (GL.GL_TEXTURE_2D, self._reflection())
        return Look(tuple(switches), textures, values)

    def _texture(self, picture: Picture, alpha: NDArray[np.uint8] | None, kind: str) -> int:
        key = (id(picture.pixels), None if alpha is None else id(alpha), picture.wrap, kind)
        if key not in self._pictures:
            self._kept += [picture.pixels] if alpha is None else [picture.pixels, alpha]
            pixels = picture.pixels if alpha is None else np.dstack([picture.pixels, alpha])
            name = buffers.texture(pixels, kind)
            buffers.wrapped(name, *(_WRAPS[side] for side in picture.wrap))
            buffers.with_mipmaps(name)
            self._pictures[key] = name
        return self._pictures[key]

    def _reflection(self) -> int:
        if self._table is None:
            self._table = buffers.texture(reflection_table())
        return self._table


#: What else a surface tells with a picture.
_BESIDE = {"normal": ("normal_scale",), "occlusion": ("occlusion_strength",)}


def _pictures(surface: Surface) -> list[tuple[str, Picture]]:
    """Those that it has and that show, by their names in the shader."""
    named = {"base": surface.image, "occlusion": surface.occlusion, "emission": surface.emission}
    # What mirrors nothing has no other use for the rest.
    named["normal"] = surface.normal
    named["metal_roughness"] = None if surface.matt else surface.metal_roughness
    return [(name, picture) for name, picture in named.items() if picture is not None]


def laid_of(mesh: Mesh) -> NDArray[np.float64]:
    """Where its pictures lie at each corner, in two ways; 0 where there is none. (n, 4)"""
    laid = np.zeros((len(mesh.vertices), 4))
    if mesh.uv is not None:
        laid[:, : mesh.uv.shape[1]] = mesh.uv
    return laid
