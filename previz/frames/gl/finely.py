"""Lamps' light on every photosite of some parts of a picture: drawn beside each other, and read back together."""

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.window import Window
from previz.frames.sensor import PHOTOSITES, OnPhotosites

#: Rows of the picture that are drawn together at most, and columns: a driver has a largest picture. [px]
_MOST = 2048


class Finely:
    """Room for some windows of a picture so high; it grows as more is asked for."""

    def __init__(self, height: int) -> None:
        self._height = height
        self._texture = self._target = self._wide = self._high = 0

    def drawn(self, windows: Sequence[Window], draw: Callable[[Window, int], None]) -> tuple[OnPhotosites, ...]:
        """What `draw` adds within these windows, once with a place for every photosite and once for every pixel.

        It is told a window, which is its viewport, and how many places a pixel has each way.
        """
        found: list[OnPhotosites] = []
        some: list[Window] = []
        for piece in (piece for window in windows for piece in _pieces(window)):
            if sum(each.box[3] for each in some) + piece.box[3] > _MOST:
                found += self._drawn_together(some, draw)
                some = []
            some.append(piece)
        return (*found, *self._drawn_together(some, draw)) if some else ()

    def _drawn_together(self, windows: Sequence[Window], draw: Callable[[Window, int], None]) -> list[OnPhotosites]:
        wide = PHOTOSITES * max(window.box[2] for window in windows)
        high = (PHOTOSITES + 1) * sum(window.box[3] for window in windows)
        self._make_room(wide, high)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._target)
        GL.glDisable(GL.GL_SCISSOR_TEST)
        GL.glClearBufferfv(GL.GL_COLOR, 0, np.zeros(4, np.float32))
        places, low = [], 0
        for finer in (PHOTOSITES, 1):
            for window in windows:
                width, height = (finer * side for side in window.box[2:])
                GL.glViewport(0, low, width, height)
                draw(window, finer)
                places.append((slice(low, low + height), slice(0, width)))
                low += height
        pixels = np.empty((high, wide, 3), np.float32)
        GL.glReadPixels(0, 0, wide, high, GL.GL_RGB, GL.GL_FLOAT, pixels)
        cut = [pixels[place][::-1] for place in places]
        fine, coarse = cut[: len(windows)], cut[len(windows) :]
        tops = (self._height - window.top for window in windows)
        return [
            OnPhotosites(top, window.left, *light)
            for top, window, *light in zip(tops, windows, fine, coarse, strict=True)
        ]

    def _make_room(self, wide: int, high: int) -> None:
        if wide <= self._wide and high <= self._high:
            return
        if self._texture:
            GL.glDeleteFramebuffers(1, [self._target])
            GL.glDeleteTextures(1, [self._texture])
        self._wide, self._high = (
            max(2 ** (asked - 1).bit_length(), had) for asked, had in ((wide, self._wide), (high, self._high))
        )
        self._texture = buffers.empty_texture(self._wide, self._high, GL.GL_RGBA32F)
        self._target = buffers.framebuffer_of(self._texture)


def _pieces(window: Window) -> Iterator[Window]:
    """The same pixels, no piece too large to draw.

    >>> [piece.box for piece in _pieces(Window(0, 0, 10, 3000))]
    [(0, 0, 10, 2048), (0, 2048, 10, 952)]
    """
    for bottom in range(window.bottom, window.top, _MOST):
        for left in range(window.left, window.right, _MOST):
            yield Window(left, bottom, left + _MOST, bottom + _MOST).within(window)
