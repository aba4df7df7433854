"""Views added up as they are: their plain mean, by which the layers of `layers.py` are judged too."""

from collections.abc import Callable

from OpenGL import GL

from previz.frames.gl.buffers import SumTarget
from previz.frames.gl.programs import Program
from previz.frames.gl.smear import Smear, parts_of
from previz.frames.gl.window import Window


class Mean:
    """Adds views straight into the sum; stands where `Layers` does when the views' own patches are too small to matter.

    Parameters
    ----------
    target : SumTarget
    program : callable
        Makes programs of two shaders and switches.
    """

    #: How far a change in a view spreads. [px]
    reach = 0

    def __init__(self, target: SumTarget, program: Callable[..., Program]) -> None:
        self._sum, self._program = target, program
        self._no_attributes = GL.glGenVertexArrays(1)

    def add(
        self, views: int, count: int, weight: float, window: Window, *, fresh: bool, smear: Smear | None = None
    ) -> None:
        """Add the first `count` of a stack of views, within the window; a fresh start forgets what was there."""
        GL.glScissor(*window.box)
        if fresh:
            self._sum.clear()
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._sum.framebuffer)
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glEnable(GL.GL_BLEND)
        GL.glBlendFunc(GL.GL_ONE, GL.GL_ONE)
        GL.glBindVertexArray(self._no_attributes)
        for part in parts_of(smear, window):
            textures = {"drawn": (GL.GL_TEXTURE_2D_ARRAY, views), **part.textures}
            switches = (f"COUNT {count}", *part.switches)
            self._program("sum.vert", "sum.frag", switches).use(textures, weight=weight)
            for place in part.windows:
                GL.glScissor(*place.box)
                GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)

    def fill(self, window: Window) -> None:
        """Nothing is left to do: no view fills more than its place."""

    def delete(self) -> None:
        """Nothing of it takes memory."""
