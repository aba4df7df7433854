"""Smaller versions of a picture, for where it is seen from far; drawn by shaders of ours.

`glGenerateMipmap` draws the same, to the bit, by some of the driver's own. Mesa keeps on disk what it made of our
shaders, and nothing of its own: that took it a quarter of a second in every context.
"""

from collections.abc import Callable

from OpenGL import GL

from previz.frames.gl.programs import Program


class Smaller:
    """Room for smaller versions of a texture, or of all layers of one, that are drawn whenever it was drawn anew.

    No anisotropic filter: on a rasteriser in software it costs several times all else together. The shaders ask for the
    level of the short side of a pixel's footprint instead (`Views.detail`), and the views' jitter averages over its
    long side.
    """

    def __init__(
        self, name: int, width: int, height: int, *, stored: int = GL.GL_RGBA16F, depth: int = 0, between: bool = True
    ) -> None:
        """stored: as the texture is; depth: of a stack; between: whether a look mixes two sizes."""
        self._name, self._depth = name, depth
        self._target = GL.GL_TEXTURE_2D_ARRAY if depth else GL.GL_TEXTURE_2D
        self._sizes = [(width, height)]
        GL.glBindTexture(self._target, name)
        kind = GL.GL_LINEAR_MIPMAP_LINEAR if between else GL.GL_LINEAR_MIPMAP_NEAREST
        GL.glTexParameteri(self._target, GL.GL_TEXTURE_MIN_FILTER, kind)
        while self._sizes[-1] != (1, 1):
            wide, high = (max(side // 2, 1) for side in self._sizes[-1])
            shape = (wide, high, depth) if depth else (wide, high)
            make_room = GL.glTexImage3D if depth else GL.glTexImage2D
            make_room(self._target, len(self._sizes), stored, *shape, 0, GL.GL_RGBA, GL.GL_FLOAT, None)
            self._sizes.append((wide, high))
        self._framebuffer = int(GL.glGenFramebuffers(1))
        self._no_attributes = GL.glGenVertexArrays(1)

    def draw(self, program: Callable[..., Program]) -> None:
        """Draw them of what the texture shows now. Leaves no target bound, neither depth test nor blending."""
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._framebuffer)
        GL.glBindVertexArray(self._no_attributes)
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glDisable(GL.GL_BLEND)
        stages = ("smaller.vert", "smaller.frag", *((("STACK",), "smaller.geom") if self._depth else ()))
        program(*stages).use({"larger": (self._target, self._name)})
        for level, size in list(enumerate(self._sizes))[1:]:
            self._look_at(level - 1, level - 1)  # never at what is drawn into
            GL.glFramebufferTexture(GL.GL_FRAMEBUFFER, GL.GL_COLOR_ATTACHMENT0, self._name, level)
            GL.glViewport(0, 0, *size)
            GL.glDrawArraysInstanced(GL.GL_TRIANGLE_FAN, 0, 4, max(self._depth, 1))
        self._look_at(0, len(self._sizes) - 1)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, 0)

    def _look_at(self, first: int, last: int) -> None:
        GL.glTexParameteri(self._target, GL.GL_TEXTURE_BASE_LEVEL, first)
        GL.glTexParameteri(self._target, GL.GL_TEXTURE_MAX_LEVEL, last)
