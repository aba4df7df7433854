"""What stands still as each view of a locked-off camera sees it: drawn once, then taken over frame by frame.

A locked-off frame draws anew only where something moves, but there all things of the set that may be seen: many
triangles for few pixels. So the set is kept apart, with how far away it is, and vehicles and ground are drawn over it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from OpenGL import GL

from previz.frames.gl.buffers import ViewTargets
from previz.frames.gl.window import Window

#: Memory that kept views may take, and what a pixel of one takes. [bytes]
_MOST, _A_PIXEL = 300e6, 12


class Kept:
    """The set as the first of a frame's views see it, as many as there is memory for; empty at first.

    Parameters
    ----------
    size : (int, int)
        Of a view. [px]
    """

    def __init__(self, size: tuple[int, int]) -> None:
        self._size = size
        self._most = int(_MOST / (_A_PIXEL * size[0] * size[1]))
        self._targets: ViewTargets | None = None
        self._known = 0

    def views(self, count: int) -> "list[KeptView | None]":
        """Of each of a frame's views, what is kept of it; None where there is no memory for it."""
        some = min(count, self._most)
        if some and (self._targets is None or self._targets.depth != some):
            self.forget()
            self._targets = ViewTargets(*self._size, some, at_once=True, moving=False)
        return [*(KeptView(self, number) for number in range(some)), *[None] * (count - some)]

    @property
    def known(self) -> int:
        """How many views the set has been drawn of."""
        return self._known

    def drawn(self, number: int) -> None:
        """The set is drawn as that view sees it."""
        self._known = number + 1

    def target(self, number: int) -> int:
        """Where the set is as that view sees it."""
        assert self._targets is not None
        return self._targets.framebuffers[number]

    def forget(self) -> None:
        """The camera looks another way, or there will be no more pictures: the memory is given back."""
        if self._targets is not None:
            self._targets.delete()
        self._targets, self._known = None, 0


@dataclass(frozen=True)
class KeptView:
    """One of them; they are drawn one after another."""

    kept: Kept
    number: int

    @property
    def known(self) -> bool:
        """Whether the set has been drawn as this view sees it."""
        return self.number < self.kept.known

    def drawn_into(self) -> int:
        """The target to draw it into, now."""
        self.kept.drawn(self.number)
        return self.kept.target(self.number)

    def copied_into(self, framebuffer: int, windows: Sequence[Window], *, moving: bool) -> None:
        """Take it over into a target, within some windows; where that also takes how far things move, nothing does."""
        GL.glBindFramebuffer(GL.GL_READ_FRAMEBUFFER, self.kept.target(self.number))
        GL.glBindFramebuffer(GL.GL_DRAW_FRAMEBUFFER, framebuffer)
        GL.glDisable(GL.GL_SCISSOR_TEST)
        if moving:  # a copy goes into every picture that is drawn into
            GL.glDrawBuffers(1, [GL.GL_COLOR_ATTACHMENT0])
        for window in windows:
            box = window.left, window.bottom, window.right, window.top
            GL.glBlitFramebuffer(*box, *box, GL.GL_COLOR_BUFFER_BIT | GL.GL_DEPTH_BUFFER_BIT, GL.GL_NEAREST)
        GL.glEnable(GL.GL_SCISSOR_TEST)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
        if moving:
            GL.glDrawBuffers(2, [GL.GL_COLOR_ATTACHMENT0, GL.GL_COLOR_ATTACHMENT1])
            for window in windows:
                GL.glScissor(*window.box)
                GL.glClearBufferfv(GL.GL_COLOR, 1, np.zeros(4, np.float32))
