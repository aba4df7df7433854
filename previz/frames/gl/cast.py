"""What the subject takes of the light on the ground and what its lamps add to it, made one picture once a frame.

The ground then looks one thing up in place of three. What is added counts as a share of the light where the vehicle is,
which it passes while the shutter is open: so there is a picture for each of some moments.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.programs import Program
from previz.frames.gl.states import FrameState, ViewState

Array = NDArray[np.float64]

_PLANE = GL.GL_TEXTURE_2D

#: Where vehicles have lamps, the ground is drawn as if it had that much light at least, for what they add is told as a
#: share of it. On white ground that is less than a third of the least step of an 8-bit picture. [shares of saturation]
LEAST = 3e-4

#: The same for shaders.
LEAST_LIT = f"LEAST {LEAST!r}"

#: Views that share a picture at least, and the most pictures.
_VIEWS_EACH, _MOST = 4, 8


class Cast:
    """Those pictures; none yet.

    Parameters
    ----------
    size : (int, int)
        Of the patch's grid. [texels]
    light : int
        Texture of the light over the table, in shares of saturation.
    light_size : (int, int)
    uv_from_world : (2, 3) float
        Where in it a place (x, y, 1) of the table is.
    """

    def __init__(self, size: tuple[int, int], light: int, light_size: tuple[int, int], uv_from_world: Array) -> None:
        self._size, self._light, self._light_size = size, light, light_size
        self._uv_from_world = np.zeros((4, 4))
        self._uv_from_world[:2, [0, 1, 3]], self._uv_from_world[3, 3] = uv_from_world, 1.0
        self._targets: list[tuple[int, int]] = []
        self._count = 0
        self._no_attributes = GL.glGenVertexArrays(1)

    def make(
        self,
        frame: FrameState,
        shadow: int,
        beam: int,
        extent: tuple[float, float, float, float],
        program: Callable[..., Program],
    ) -> None:
        """Those of a frame, of textures of shadow and beam; extent: of the patch, rear, front, right, left. [m]"""
        self._count = self._moments(frame)
        while len(self._targets) < self._count:
            made = buffers.empty_texture(*self._size, GL.GL_RGBA16F, smooth=True)
            self._targets.append((made, buffers.framebuffer_of(made)))
        x0, x1, y0, y1 = extent
        ground_of_patch = np.array([[x1 - x0, 0, 0, x0], [0, y0 - y1, 0, y1], [0, 0, 1, 0], [0, 0, 0, 1]])
        textures = {"shadow": (_PLANE, shadow), "beam": (_PLANE, beam), "light": (_PLANE, self._light)}
        GL.glDisable(GL.GL_SCISSOR_TEST)
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glDisable(GL.GL_BLEND)
        GL.glViewport(0, 0, *self._size)
        GL.glBindVertexArray(self._no_attributes)
        for number in range(self._count):
            moment = (number + 0.5) / self._count
            nearest = min(frame.views, key=lambda view: abs(view.moment - moment))
            GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._targets[number][1])
            program("sum.vert", "ground_cast.frag", (LEAST_LIT,)).use(
                textures, uv_of_patch=self._uv_from_world @ nearest.world_from_ground @ ground_of_patch
            )
            GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)

    def at(self, view: ViewState) -> int:
        """The picture for a view of that frame."""
        return self._targets[min(int(view.moment * self._count), self._count - 1)][0]

    def _moments(self, frame: FrameState) -> int:
        """So many that the vehicle passes no more than a texel of the light from one to the next, as far as it goes."""
        places = [each.world_from_ground[:, 3] for each in (frame.opened, frame.closed)]
        passed = (self._uv_from_world @ (places[1] - places[0]))[:2] * self._light_size
        most = min(_MOST, max(1, len(frame.views) // _VIEWS_EACH))
        return int(np.clip(np.ceil(np.linalg.norm(passed)), 1, most))
