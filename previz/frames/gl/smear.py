"""Each view smeared over its own part of the shutter, along the way that what it sees moves.

A view at one moment stands for a part of the shutter. What moves in it is spread over its way before views are added
up: else a post or a door handle shows as many times as there are views. At every step of the way each pixel asks what
comes by: what moves as the most around it does, where that is nearer; otherwise what is there, which may go a way of
its own. What appears from behind something that leaves is taken from beside it.

After McGuire et al., "A Reconstruction Filter for Plausible Motion Blur", I3D 2012 (doi 10.1145/2159616.2159639), which
smears a single picture over all of the shutter; here a way is a few pixels, and so are its mistakes.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.programs import Program
from previz.frames.gl.window import Window, rectangles

#: Side of the tiles of which it is known what moves furthest, and the longest way that is smeared: half of it to
#: either side is within a tile around each. [px]
TILE = 8
MOST_STEPS = 2.0 * TILE

#: For the shaders that smear, and those that say how far things move.
SWITCHES = ("SMEARED", f"TILE {TILE}", f"MOST_STEPS {MOST_STEPS}")

#: How far away what a view sees may change what comes of it: the tiles around a pixel's own. [px]
REACH = 2 * TILE

#: What is known of the tiles of views stands in one picture, view above view; in columns where that would be higher: a
#: rasteriser in software ends at 16384, and says nothing. [px]
HIGHEST = 8192

#: A rasteriser in software takes both ways of every branch, so each part of a picture is added up by a shader that
#: knows no more than what happens there. What may happen in a tile, in any view: nothing moves, all go the same way, or
#: things go different ways.
_STILL, _EVEN, _MIXED = 0, 1, 2


@dataclass(frozen=True)
class Part:
    """What a shader that adds views up is told, and where it is to do so."""

    switches: tuple[str, ...]
    textures: dict[str, tuple[int, int]]
    windows: tuple[Window, ...]


class Smear:
    """What moves furthest around each place of views, and what shaders that add views up are to be told.

    Parameters
    ----------
    size : (int, int)
        Of a view. [px]
    most : int
        Views in a batch.
    program : callable
        Makes programs of two shaders and switches.
    sorts : bool
        Whether tiles are told apart by what happens in them.
    """

    def __init__(self, size: tuple[int, int], most: int, program: Callable[..., Program], *, sorts: bool) -> None:
        self._size, self._program, self._sorts = size, program, sorts
        self._tiles = -(-size[0] // TILE), -(-size[1] // TILE)
        across, up = self._tiles
        self._columns = -(-up * most // HIGHEST)
        self.switches = (*SWITCHES, f"COLUMNS {self._columns}", f"TILES ivec2({across}, {up})")
        sides = across * self._columns, up * -(-most // self._columns)
        self._own, self._around = (buffers.empty_texture(*sides, GL.GL_RGBA16F) for _ in range(2))
        self._targets = [buffers.framebuffer_of(name) for name in (self._own, self._around)]
        self._empty = GL.glGenVertexArrays(1)
        self._lines = tuple([TILE * tile for tile in range(tiles + 1)] for tiles in self._tiles)
        self._kinds = buffers.empty_texture(*self._tiles, GL.GL_RG8)
        self._kinds_target = buffers.framebuffer_of(self._kinds)

    def look(self, moved: int, count: int, window: Window) -> None:
        """Find out what moves furthest in the first `count` of a stack, as far as a window of the picture needs it."""
        self._moved = moved
        across, up = self._tiles
        left, bottom, width, height = window.grown(TILE, self._size).box
        tiles = left // TILE, bottom // TILE, -(-(left + width) // TILE), -(-(bottom + height) // TILE)
        GL.glDisable(GL.GL_SCISSOR_TEST)
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glDisable(GL.GL_BLEND)
        GL.glViewport(0, 0, across * self._columns, up * -(-count // self._columns))
        GL.glBindVertexArray(self._empty)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._targets[0])
        stack = {"moved": (GL.GL_TEXTURE_2D_ARRAY, moved)}
        self._program("sum.vert", "tiles.frag", self.switches).use(stack, window=np.array(tiles))
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._targets[1])
        own = {"furthest": (GL.GL_TEXTURE_2D, self._own)}
        self._program("sum.vert", "tiles.frag", (*self.switches, "AROUND")).use(own, window=np.array(tiles))
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        self._happens = self._what_happens(count) if self._sorts else None
        GL.glViewport(0, 0, *self._size)
        GL.glEnable(GL.GL_SCISSOR_TEST)

    def _what_happens(self, count: int) -> NDArray[np.int64]:
        """What happens in each tile, and the steps to either side of its longest way.

        (rows, columns, 2), row 0 at the bottom.
        """
        across, up = self._tiles
        GL.glViewport(0, 0, across, up)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._kinds_target)
        around = {"furthest": (GL.GL_TEXTURE_2D, self._around)}
        self._program("sum.vert", "tiles.frag", (*self.switches, "KINDS")).use(around, count=count)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        kinds = np.zeros((up, across, 2), np.uint8)
        GL.glPixelStorei(GL.GL_PACK_ALIGNMENT, 1)
        GL.glReadPixels(0, 0, across, up, GL.GL_RG, GL.GL_UNSIGNED_BYTE, kinds)
        return kinds.astype(np.int64)

    def parts(self, window: Window) -> list[Part]:
        """What shaders that add these views up are told in which parts of a window."""
        moved = {"moved": (GL.GL_TEXTURE_2D_ARRAY, self._moved), "furthest": (GL.GL_TEXTURE_2D, self._around)}
        if self._happens is None:
            return [Part(self.switches, moved, (window,))]
        furthest = {"furthest": moved["furthest"]}
        told = {_STILL: ((), {}), _EVEN: ((*self.switches, "EVEN"), furthest), _MIXED: (self.switches, moved)}
        found = []
        columns, rows = (
            slice(first // TILE, -(-beyond // TILE))
            for first, beyond in ((window.left, window.right), (window.bottom, window.top))
        )
        here, last = np.moveaxis(self._happens[rows, columns], -1, 0)
        # Steps to either side are written out up to two: with more of them a loop takes no longer.
        sorts = 4 * here + np.where(here == _STILL, 0, np.clip(last, 1, 3))
        lines = self._lines[0][columns.start :], self._lines[1][rows.start :]
        for sort in np.unique(sorts).tolist():
            switches, textures = told[sort // 4]
            steps = {1: ("LAST 1",), 2: ("LAST 2",)}.get(sort % 4, ())
            windows = tuple(tiles.within(window) for tiles in rectangles(sorts == sort, *lines))
            found.append(Part((*switches, *steps), textures, windows))
        return found


def parts_of(smear: Smear | None, window: Window) -> list[Part]:
    """What shaders that add views up are told in which parts of a window."""
    return [Part((), {}, (window,))] if smear is None else smear.parts(window)
