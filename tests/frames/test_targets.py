"""What a driver cannot draw into is told, and not drawn into."""

import pytest

from previz.errors import MachineError
from previz.frames.gl.context import Context


def test_a_target_that_is_not_whole_is_told() -> None:
    context = Context(16, 16)
    try:
        from previz.frames.gl import buffers

        with pytest.raises(MachineError, match=r"cannot draw into pictures .* 0x8cd7\).* smaller --size"):
            buffers.framebuffer_of(0)  # no texture: GL_FRAMEBUFFER_INCOMPLETE_MISSING_ATTACHMENT
    finally:
        context.close()
