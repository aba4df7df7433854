"""Arrays on the graphics side: triangles, textures and the targets that views are drawn into.

Opening a context comes first (`context.open_context`); this module is imported after it.
"""

import ctypes
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

#: Attribute names of all our shaders and their fixed places.
ATTRIBUTES = ("position", "normal", "colour", "glow", "axle", "uv")


class Triangles:
    """Triangles with named float attributes, uploaded once."""

    def __init__(self, faces: NDArray[Any], attributes: Mapping[str, NDArray[Any]]) -> None:
        columns = {name: np.asarray(values, dtype=np.float32) for name, values in attributes.items()}
        packed = np.ascontiguousarray(np.concatenate(list(columns.values()), axis=1))
        self.count = int(np.size(faces))
        self._vao = GL.glGenVertexArrays(1)
        GL.glBindVertexArray(self._vao)
        self._buffers = list(GL.glGenBuffers(2))
        GL.glBindBuffer(GL.GL_ARRAY_BUFFER, self._buffers[0])
        GL.glBufferData(GL.GL_ARRAY_BUFFER, packed.nbytes, packed, GL.GL_STATIC_DRAW)
        offset = 0
        for name, values in columns.items():
            place, width = ATTRIBUTES.index(name), values.shape[1]
            GL.glVertexAttribPointer(place, width, GL.GL_FLOAT, GL.GL_FALSE, packed.strides[0], ctypes.c_void_p(offset))
            GL.glEnableVertexAttribArray(place)
            offset += 4 * width
        indices = np.ascontiguousarray(faces, dtype=np.uint32)
        GL.glBindBuffer(GL.GL_ELEMENT_ARRAY_BUFFER, self._buffers[1])
        GL.glBufferData(GL.GL_ELEMENT_ARRAY_BUFFER, indices.nbytes, indices, GL.GL_STATIC_DRAW)
        GL.glBindVertexArray(0)

    def draw(self) -> None:
        """With the program in use."""
        GL.glBindVertexArray(self._vao)
        GL.glDrawElements(GL.GL_TRIANGLES, self.count, GL.GL_UNSIGNED_INT, None)


_FORMATS = {  # (kind, channels): (stored as, given as)
    ("srgb", 3): (GL.GL_SRGB8, GL.GL_RGB),
    ("half", 3): (GL.GL_RGB16F, GL.GL_RGB),
    ("float", 3): (GL.GL_RGB32F, GL.GL_RGB),
}


def texture(image: NDArray[Any], *, mipmaps: bool = False, wrap: bool = False) -> int:
    """A texture of an (h, w, 3) image: uint8 is sRGB-encoded, float is linear. Row 0 is at v = 0."""
    kind = "srgb" if image.dtype == np.uint8 else "half"
    name = _new_texture(GL.GL_TEXTURE_2D, mipmaps, wrap)
    stored, given = _FORMATS[kind, image.shape[2]]
    pixels = np.ascontiguousarray(image if kind == "srgb" else image.astype(np.float32))
    GL.glTexImage2D(GL.GL_TEXTURE_2D, 0, stored, image.shape[1], image.shape[0], 0, given, _gl_type(pixels), pixels)
    if mipmaps:
        GL.glGenerateMipmap(GL.GL_TEXTURE_2D)
        # A set is seen at grazing angles; without this the road turns to mush a hand's breadth from the camera.
        GL.glTexParameterf(GL.GL_TEXTURE_2D, _MAX_ANISOTROPY, 8.0)
    return name


_MAX_ANISOTROPY = 0x84FE  # EXT_texture_filter_anisotropic, core since 4.6


def layers(images: NDArray[Any], *, exact: bool = False, wrap: bool = False) -> int:
    """An array texture of (k, h, w, 3) linear float images; `exact` keeps 32 bits and reads single texels."""
    name = _new_texture(GL.GL_TEXTURE_2D_ARRAY, False, wrap, nearest=exact)
    stored, given = _FORMATS["float" if exact else "half", images.shape[3]]
    pixels = np.ascontiguousarray(images, dtype=np.float32)
    count, height, width = images.shape[:3]
    GL.glTexImage3D(GL.GL_TEXTURE_2D_ARRAY, 0, stored, width, height, count, 0, given, GL.GL_FLOAT, pixels)
    return name


def _new_texture(target: int, mipmaps: bool, wrap: bool, nearest: bool = False) -> int:
    name = int(GL.glGenTextures(1))
    GL.glBindTexture(target, name)
    GL.glPixelStorei(GL.GL_UNPACK_ALIGNMENT, 1)
    smooth = GL.GL_NEAREST if nearest else GL.GL_LINEAR
    GL.glTexParameteri(target, GL.GL_TEXTURE_MIN_FILTER, GL.GL_LINEAR_MIPMAP_LINEAR if mipmaps else smooth)
    GL.glTexParameteri(target, GL.GL_TEXTURE_MAG_FILTER, smooth)
    GL.glTexParameteri(target, GL.GL_TEXTURE_WRAP_S, GL.GL_REPEAT if wrap else GL.GL_CLAMP_TO_EDGE)
    GL.glTexParameteri(target, GL.GL_TEXTURE_WRAP_T, GL.GL_CLAMP_TO_EDGE)
    return name


def _gl_type(pixels: NDArray[Any]) -> int:
    return int(GL.GL_UNSIGNED_BYTE if pixels.dtype == np.uint8 else GL.GL_FLOAT)


class ViewTargets:
    """A stack of half-float pictures with one depth buffer: views are drawn into its layers, then added up."""

    def __init__(self, width: int, height: int, depth: int) -> None:
        self.depth = depth
        self.texture = _new_texture(GL.GL_TEXTURE_2D_ARRAY, False, False, nearest=True)
        GL.glTexImage3D(
            GL.GL_TEXTURE_2D_ARRAY, 0, GL.GL_RGBA16F, width, height, depth, 0, GL.GL_RGBA, GL.GL_FLOAT, None
        )
        depth_buffer = GL.glGenRenderbuffers(1)
        GL.glBindRenderbuffer(GL.GL_RENDERBUFFER, depth_buffer)
        GL.glRenderbufferStorage(GL.GL_RENDERBUFFER, GL.GL_DEPTH_COMPONENT32F, width, height)
        self.framebuffers = [int(GL.glGenFramebuffers(1)) for _ in range(depth)]
        for layer, framebuffer in enumerate(self.framebuffers):
            GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
            GL.glFramebufferTextureLayer(GL.GL_FRAMEBUFFER, GL.GL_COLOR_ATTACHMENT0, self.texture, 0, layer)
            GL.glFramebufferRenderbuffer(GL.GL_FRAMEBUFFER, GL.GL_DEPTH_ATTACHMENT, GL.GL_RENDERBUFFER, depth_buffer)


class SumTarget:
    """A 32-bit float picture that views are added into, and the one read-back of a frame."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.texture = _new_texture(GL.GL_TEXTURE_2D, False, False, nearest=True)
        GL.glTexImage2D(GL.GL_TEXTURE_2D, 0, GL.GL_RGBA32F, width, height, 0, GL.GL_RGBA, GL.GL_FLOAT, None)
        self.framebuffer = int(GL.glGenFramebuffers(1))
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.framebuffer)
        GL.glFramebufferTexture2D(GL.GL_FRAMEBUFFER, GL.GL_COLOR_ATTACHMENT0, GL.GL_TEXTURE_2D, self.texture, 0)

    def clear(self) -> None:
        """Back to zero."""
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.framebuffer)
        GL.glClearBufferfv(GL.GL_COLOR, 0, np.zeros(4, np.float32))

    def read(self) -> NDArray[np.float32]:
        """The sum (h, w, 3), row 0 at the top."""
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.framebuffer)
        pixels = np.zeros((self.height, self.width, 4), np.float32)
        GL.glReadPixels(0, 0, self.width, self.height, GL.GL_RGBA, GL.GL_FLOAT, pixels)
        return np.ascontiguousarray(pixels[::-1, :, :3])
