"""Smaller versions of a picture are those that the driver makes."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from previz.frames.gl.context import Context


@pytest.fixture(scope="module")
def context() -> Iterator[Context]:
    found = Context(16, 16)
    yield found
    found.close()


def versions(target: int, name: int, count: int) -> list[Any]:
    from OpenGL import GL

    GL.glBindTexture(target, name)
    return [GL.glGetTexImage(target, level, GL.GL_RGBA, GL.GL_FLOAT) for level in range(count)]


@pytest.mark.parametrize(("width", "height", "count"), [(64, 32, 7), (101, 77, 7), (1, 9, 4), (1, 1, 1)])
def test_of_a_picture(context: Context, width: int, height: int, count: int) -> None:
    from OpenGL import GL

    from previz.frames.gl import buffers
    from previz.frames.gl.programs import Program
    from previz.frames.gl.smaller import Smaller

    pixels = np.random.default_rng(5).random((height, width, 3)).astype(np.float32)
    ours, theirs = buffers.texture(pixels), buffers.texture(pixels)
    Smaller(ours, width, height).draw(Program)
    GL.glBindTexture(GL.GL_TEXTURE_2D, theirs)
    GL.glGenerateMipmap(GL.GL_TEXTURE_2D)
    for one, other in zip(*(versions(GL.GL_TEXTURE_2D, each, count) for each in (ours, theirs)), strict=True):
        assert np.allclose(one, other, atol=2**-11)  # half floats below 1; by Mesa's rasteriser they are equal


def test_of_every_layer_of_a_stack(context: Context) -> None:
    from OpenGL import GL

    from previz.frames.gl import buffers
    from previz.frames.gl.programs import Program
    from previz.frames.gl.smaller import Smaller

    pixels = np.random.default_rng(6).integers(0, 256, (5, 32, 32, 1), dtype=np.uint8)
    stacks = []
    for _ in range(2):
        stacks.append(buffers.stack_texture(32, 32, 5))
        GL.glTexSubImage3D(
            GL.GL_TEXTURE_2D_ARRAY, 0, 0, 0, 0, 32, 32, 5, GL.GL_RED, GL.GL_UNSIGNED_BYTE, pixels
        )  # fmt: skip
    Smaller(stacks[0], 32, 32, stored=GL.GL_R8, depth=5).draw(Program)
    GL.glBindTexture(GL.GL_TEXTURE_2D_ARRAY, stacks[1])
    GL.glGenerateMipmap(GL.GL_TEXTURE_2D_ARRAY)
    ours, theirs = (versions(GL.GL_TEXTURE_2D_ARRAY, each, 6) for each in stacks)
    assert all(np.allclose(one, other, atol=1 / 255) for one, other in zip(ours, theirs, strict=True))
    first, second, *_ = ours[4].reshape(5, -1)  # as they lie in memory; PyOpenGL tells the sides the other way round
    assert not np.allclose(first, second)
