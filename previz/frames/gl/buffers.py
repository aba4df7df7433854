"""Arrays on the graphics side: triangles, textures and the targets that views are drawn into.

Opening a context comes first (`context.Context`); this module is imported after it.
"""

import ctypes
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.errors import MachineError
from previz.frames.gl.context import require_kept
from previz.frames.gl.window import Window

#: Attribute names of all our shaders and their fixed places.
ATTRIBUTES = ("position", "normal", "colour", "glow", "axle", "uv", "light")


class Corners:
    """Corners of triangles with named float attributes."""

    def __init__(self, attributes: Mapping[str, NDArray[Any]], changing: Mapping[str, int] | None = None) -> None:
        """Upload once what stays; `changing` names attributes (and their width) that are filled later."""
        columns = {name: np.asarray(values, dtype=np.float32) for name, values in attributes.items()}
        packed = np.ascontiguousarray(np.concatenate(list(columns.values()), axis=1))
        self._layout: list[tuple[int, int, int, int, int]] = []  # buffer, place, width, stride, offset
        fixed = _buffer(GL.GL_ARRAY_BUFFER, packed, GL.GL_STATIC_DRAW)
        offset = 0
        for name, values in columns.items():
            self._layout.append((fixed, ATTRIBUTES.index(name), values.shape[1], packed.strides[0], offset))
            offset += 4 * values.shape[1]
        self._buffers = [fixed]
        self._changing: dict[str, int] = {}
        for name, width in (changing or {}).items():
            empty = np.zeros((len(packed), width), np.float32)
            self._changing[name] = _buffer(GL.GL_ARRAY_BUFFER, empty, GL.GL_DYNAMIC_DRAW)
            self._buffers.append(self._changing[name])
            self._layout.append((self._changing[name], ATTRIBUTES.index(name), width, 4 * width, 0))

    def fill(self, name: str, values: NDArray[np.float32]) -> None:
        """New values (n, width) of a changing attribute."""
        GL.glBindBuffer(GL.GL_ARRAY_BUFFER, self._changing[name])
        GL.glBufferSubData(GL.GL_ARRAY_BUFFER, 0, values.nbytes, np.ascontiguousarray(values))

    def delete(self) -> None:
        """Give the memory back."""
        GL.glDeleteBuffers(len(self._buffers), self._buffers)

    def attach(self) -> None:
        """To the vertex array in use."""
        for buffer, place, width, stride, offset in self._layout:
            GL.glBindBuffer(GL.GL_ARRAY_BUFFER, buffer)
            GL.glVertexAttribPointer(place, width, GL.GL_FLOAT, GL.GL_FALSE, stride, ctypes.c_void_p(offset))
            GL.glEnableVertexAttribArray(place)


class Triangles:
    """Some or all triangles over a set of corners, in the order in which they are to be drawn."""

    def __init__(self, corners: Corners, faces: NDArray[Any]) -> None:
        self._vao = GL.glGenVertexArrays(1)
        GL.glBindVertexArray(self._vao)
        corners.attach()
        self._indices = int(GL.glGenBuffers(1))
        GL.glBindBuffer(GL.GL_ELEMENT_ARRAY_BUFFER, self._indices)
        GL.glBindVertexArray(0)
        self.choose(faces)

    def choose(self, faces: NDArray[Any]) -> None:
        """Draw these from now on."""
        self.count = int(np.size(faces))
        if not self.count:
            return
        indices = np.ascontiguousarray(faces, dtype=np.uint32)
        GL.glBindVertexArray(self._vao)  # which remembers the index buffer
        GL.glBufferData(GL.GL_ELEMENT_ARRAY_BUFFER, indices.nbytes, indices, GL.GL_DYNAMIC_DRAW)
        GL.glBindVertexArray(0)

    def draw(self, times: int = 1) -> None:
        """With the program in use, so many times over."""
        if not self.count:
            return
        GL.glBindVertexArray(self._vao)
        if times == 1:
            GL.glDrawElements(GL.GL_TRIANGLES, self.count, GL.GL_UNSIGNED_INT, None)
        else:
            GL.glDrawElementsInstanced(GL.GL_TRIANGLES, self.count, GL.GL_UNSIGNED_INT, None, times)

    def delete(self) -> None:
        """Give the memory back."""
        GL.glDeleteVertexArrays(1, [self._vao])
        GL.glDeleteBuffers(1, [self._indices])


def _buffer(target: int, values: NDArray[Any], use: int) -> int:
    name = int(GL.glGenBuffers(1))
    GL.glBindBuffer(target, name)
    GL.glBufferData(target, values.nbytes, values, use)
    return name


_FORMATS = {  # (kind, channels): (stored as, given as)
    ("srgb", 3): (GL.GL_SRGB8, GL.GL_RGB),
    # Four channels: texels of three are read one by one by a rasteriser in software.
    ("half", 3): (GL.GL_RGBA16F, GL.GL_RGB),
    ("half", 4): (GL.GL_RGBA16F, GL.GL_RGBA),
    ("srgb", 4): (GL.GL_SRGB8_ALPHA8, GL.GL_RGBA),
    ("plain", 3): (GL.GL_RGBA8, GL.GL_RGB),
    ("plain", 1): (GL.GL_R8, GL.GL_RED),
}


def texture(image: NDArray[Any], kind: str | None = None) -> int:
    """A texture of an (h, w, 1, 3 or 4) image: uint8 is sRGB-encoded or "plain", float is linear. Row 0 is at v = 0."""
    kind = kind or ("srgb" if image.dtype == np.uint8 else "half")
    name = _new_texture(GL.GL_TEXTURE_2D)
    stored, given = _FORMATS[kind, image.shape[2]]
    pixels = np.ascontiguousarray(image.astype(np.float32) if kind == "half" else image)
    GL.glTexImage2D(GL.GL_TEXTURE_2D, 0, stored, image.shape[1], image.shape[0], 0, given, _gl_type(pixels), pixels)
    return name


def refill(name: int, image: NDArray[np.float32]) -> None:
    """New pixels (h, w, 3) or (d, h, w, 3) of the same shape for a float texture."""
    pixels = np.ascontiguousarray(image)
    if image.ndim == 3:
        GL.glBindTexture(GL.GL_TEXTURE_2D, name)
        GL.glTexSubImage2D(GL.GL_TEXTURE_2D, 0, 0, 0, image.shape[1], image.shape[0], GL.GL_RGB, GL.GL_FLOAT, pixels)
    else:
        GL.glBindTexture(GL.GL_TEXTURE_3D, name)
        GL.glTexSubImage3D(
            GL.GL_TEXTURE_3D, 0, 0, 0, 0, image.shape[2], image.shape[1], image.shape[0], GL.GL_RGB, GL.GL_FLOAT, pixels
        )


def solid_texture(images: NDArray[Any]) -> int:
    """A texture (d, h, w, 3) that is interpolated in all three."""
    name = _new_texture(GL.GL_TEXTURE_3D)
    pixels = np.ascontiguousarray(images, dtype=np.float32)
    depth, height, width = images.shape[:3]
    GL.glTexImage3D(GL.GL_TEXTURE_3D, 0, GL.GL_RGBA16F, width, height, depth, 0, GL.GL_RGB, GL.GL_FLOAT, pixels)
    return name


def empty_texture(width: int, height: int, stored: int, *, smooth: bool = False) -> int:
    """A texture to draw into."""
    name = _new_texture(GL.GL_TEXTURE_2D, nearest=not smooth)
    GL.glTexImage2D(GL.GL_TEXTURE_2D, 0, stored, width, height, 0, GL.GL_RGBA, GL.GL_FLOAT, None)
    return name


def with_mipmaps(name: int) -> None:
    """Smaller versions of a picture from a file, which may be of a kind that nothing can draw into; see `smaller`."""
    GL.glBindTexture(GL.GL_TEXTURE_2D, name)
    GL.glGenerateMipmap(GL.GL_TEXTURE_2D)
    GL.glTexParameteri(GL.GL_TEXTURE_2D, GL.GL_TEXTURE_MIN_FILTER, GL.GL_LINEAR_MIPMAP_NEAREST)


def wrapped(name: int, across: int, down: int) -> None:
    """What a texture shows past its sides."""
    GL.glBindTexture(GL.GL_TEXTURE_2D, name)
    GL.glTexParameteri(GL.GL_TEXTURE_2D, GL.GL_TEXTURE_WRAP_S, across)
    GL.glTexParameteri(GL.GL_TEXTURE_2D, GL.GL_TEXTURE_WRAP_T, down)


def stack_texture(width: int, height: int, depth: int) -> int:
    """A stack of single-channel pictures to draw into."""
    name = _new_texture(GL.GL_TEXTURE_2D_ARRAY)
    GL.glTexImage3D(GL.GL_TEXTURE_2D_ARRAY, 0, GL.GL_R8, width, height, depth, 0, GL.GL_RED, GL.GL_UNSIGNED_BYTE, None)
    return name


def stack_of_half_floats(width: int, height: int, depth: int) -> int:
    """A stack of linear pictures."""
    name = _new_texture(GL.GL_TEXTURE_2D_ARRAY)
    GL.glTexImage3D(GL.GL_TEXTURE_2D_ARRAY, 0, GL.GL_RGBA16F, width, height, depth, 0, GL.GL_RGB, GL.GL_FLOAT, None)
    return name


def refill_layer(stack: int, layer: int, image: NDArray[np.float32]) -> None:
    """New pixels (h, w, 3) for one picture of a stack."""
    pixels = np.ascontiguousarray(image, dtype=np.float32)
    GL.glBindTexture(GL.GL_TEXTURE_2D_ARRAY, stack)
    GL.glPixelStorei(GL.GL_UNPACK_ALIGNMENT, 1)
    height, width = image.shape[:2]
    GL.glTexSubImage3D(GL.GL_TEXTURE_2D_ARRAY, 0, 0, 0, layer, width, height, 1, GL.GL_RGB, GL.GL_FLOAT, pixels)


def layer_framebuffers(stack: int, depth: int) -> list[int]:
    """A target for each picture of a stack."""
    names = [int(GL.glGenFramebuffers(1)) for _ in range(depth)]
    for layer, name in enumerate(names):
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, name)
        GL.glFramebufferTextureLayer(GL.GL_FRAMEBUFFER, GL.GL_COLOR_ATTACHMENT0, stack, 0, layer)
    return names


def framebuffer_of(*textures: int) -> int:
    """A target that draws into these textures at once, output 0 into the first.

    Raises
    ------
    GraphicsLost
        The driver was reset, or had no memory left for them.
    MachineError
        It cannot draw into such textures.
    """
    name = int(GL.glGenFramebuffers(1))
    GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, name)
    places = [GL.GL_COLOR_ATTACHMENT0 + number for number in range(len(textures))]
    for place, texture_name in zip(places, textures, strict=True):
        GL.glFramebufferTexture2D(GL.GL_FRAMEBUFFER, place, GL.GL_TEXTURE_2D, texture_name, 0)
    GL.glDrawBuffers(len(places), places)
    state = GL.glCheckFramebufferStatus(GL.GL_FRAMEBUFFER)
    if state != GL.GL_FRAMEBUFFER_COMPLETE:
        require_kept()
        raise MachineError(
            f"the graphics driver cannot draw into pictures of this kind or size (OpenGL: {int(state):#06x}); try a "
            "smaller --size. `previz doctor` says what draws here"
        )
    return name


def _new_texture(target: int, *, nearest: bool = False) -> int:
    name = int(GL.glGenTextures(1))
    GL.glBindTexture(target, name)
    GL.glPixelStorei(GL.GL_UNPACK_ALIGNMENT, 1)
    smooth = GL.GL_NEAREST if nearest else GL.GL_LINEAR
    GL.glTexParameteri(target, GL.GL_TEXTURE_MIN_FILTER, smooth)
    GL.glTexParameteri(target, GL.GL_TEXTURE_MAG_FILTER, smooth)
    for side in (GL.GL_TEXTURE_WRAP_S, GL.GL_TEXTURE_WRAP_T, GL.GL_TEXTURE_WRAP_R):
        GL.glTexParameteri(target, side, GL.GL_CLAMP_TO_EDGE)
    return name


def _gl_type(pixels: NDArray[Any]) -> int:
    return int(GL.GL_UNSIGNED_BYTE if pixels.dtype == np.uint8 else GL.GL_FLOAT)


class ViewTargets:
    """A stack of half-float pictures: views are drawn into its layers, one by one or all at once, then added up.

    With `moving` a second stack takes how far what is seen moves.
    """

    def __init__(self, width: int, height: int, depth: int, *, at_once: bool, moving: bool) -> None:
        self.depth = depth
        self.texture = _stack(width, height, depth, GL.GL_RGBA16F, GL.GL_RGBA)
        self.moved = _stack(width, height, depth, GL.GL_RG16F, GL.GL_RG) if moving else None
        layers = depth if at_once else 1  # one after another they can share
        self._depths = _stack(width, height, layers, GL.GL_DEPTH_COMPONENT32F, GL.GL_DEPTH_COMPONENT)
        stacks = {GL.GL_COLOR_ATTACHMENT0: self.texture, GL.GL_DEPTH_ATTACHMENT: self._depths}
        if self.moved is not None:
            stacks[GL.GL_COLOR_ATTACHMENT1] = self.moved
        outputs = [place for place in stacks if place != GL.GL_DEPTH_ATTACHMENT]
        #: A target for each layer, and one for all.
        self.framebuffers = [int(GL.glGenFramebuffers(1)) for _ in range(depth)]
        for layer, framebuffer in enumerate(self.framebuffers):
            GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
            for place, stack in stacks.items():
                number = min(layer, layers - 1) if place == GL.GL_DEPTH_ATTACHMENT else layer
                GL.glFramebufferTextureLayer(GL.GL_FRAMEBUFFER, place, stack, 0, number)
            GL.glDrawBuffers(len(outputs), outputs)
        self.whole = int(GL.glGenFramebuffers(1))
        if at_once:
            GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.whole)
            for place, stack in stacks.items():
                GL.glFramebufferTexture(GL.GL_FRAMEBUFFER, place, stack, 0)
            GL.glDrawBuffers(len(outputs), outputs)

    def delete(self) -> None:
        """Give the memory back."""
        names = [*self.framebuffers, self.whole]
        GL.glDeleteFramebuffers(len(names), names)
        stacks = [stack for stack in (self.texture, self._depths, self.moved) if stack is not None]
        GL.glDeleteTextures(len(stacks), stacks)


def _stack(width: int, height: int, depth: int, stored: int, given: int) -> int:
    name = _new_texture(GL.GL_TEXTURE_2D_ARRAY, nearest=True)
    GL.glTexImage3D(GL.GL_TEXTURE_2D_ARRAY, 0, stored, width, height, depth, 0, given, GL.GL_FLOAT, None)
    return name


class SumTarget:
    """A 32-bit float picture that views are added into, and the one read-back of a frame."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.texture = _new_texture(GL.GL_TEXTURE_2D, nearest=True)
        GL.glTexImage2D(GL.GL_TEXTURE_2D, 0, GL.GL_RGBA32F, width, height, 0, GL.GL_RGBA, GL.GL_FLOAT, None)
        self.framebuffer = int(GL.glGenFramebuffers(1))
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.framebuffer)
        GL.glFramebufferTexture2D(GL.GL_FRAMEBUFFER, GL.GL_COLOR_ATTACHMENT0, GL.GL_TEXTURE_2D, self.texture, 0)

    def clear(self) -> None:
        """Back to zero."""
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.framebuffer)
        GL.glClearBufferfv(GL.GL_COLOR, 0, np.zeros(4, np.float32))

    def read(self, window: Window) -> NDArray[np.float32]:
        """Part of the sum (h, w, 3), row 0 at the top."""
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self.framebuffer)
        left, bottom, width, height = window.box
        pixels = np.empty((height, width, 3), np.float32)
        if pixels.size:
            GL.glReadPixels(left, bottom, width, height, GL.GL_RGB, GL.GL_FLOAT, pixels)
        return np.ascontiguousarray(pixels[::-1])
