"""Each view smeared over its own part of the shutter, along the way that what it sees moves.

A view at one moment stands for a part of the shutter. What moves in it is spread over its way before views are added
up: else a post or a door handle shows as many times as there are views. At every step of the way each pixel asks what
comes by: what moves as the most around it does, where that is nearer; otherwise what is there, which may go a way of
its own. What appears from behind something that leaves is taken from beside it.

After McGuire et al., "A Reconstruction Filter for Plausible Motion Blur", I3D 2012 (doi 10.1145/2159616.2159639), which
smears a single picture over all of the shutter; here a way is a few pixels, and so are its mistakes.
"""

from collections.abc import Callable

import numpy as np
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.programs import Program
from previz.frames.gl.window import Window

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
    """

    def __init__(self, size: tuple[int, int], most: int, program: Callable[..., Program]) -> None:
        self._size, self._program = size, program
        self._tiles = tuple(-(-side // TILE) for side in size)
        across, up = self._tiles
        self._columns = -(-up * most // HIGHEST)
        self.switches = (*SWITCHES, f"COLUMNS {self._columns}", f"TILES ivec2({across}, {up})")
        sides = across * self._columns, up * -(-most // self._columns)
        self._own, self._around = (buffers.empty_texture(*sides, GL.GL_RGBA16F) for _ in range(2))
        self._targets = [buffers.framebuffer_of(name) for name in (self._own, self._around)]
        self._empty = GL.glGenVertexArrays(1)

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
        self._program("sum.vert", "tiles.frag", (*self.switches, "AROUND")).use(own)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        GL.glViewport(0, 0, *self._size)
        GL.glEnable(GL.GL_SCISSOR_TEST)

    def told(self) -> dict[str, tuple[int, int]]:
        """Textures by name."""
        return {"moved": (GL.GL_TEXTURE_2D_ARRAY, self._moved), "furthest": (GL.GL_TEXTURE_2D, self._around)}


def told_of(smear: Smear | None) -> tuple[tuple[str, ...], dict[str, tuple[int, int]]]:
    """Switches and textures for a shader that adds views up; none where nothing is smeared."""
    return ((), {}) if smear is None else (smear.switches, smear.told())
