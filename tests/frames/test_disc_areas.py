"""The light of a lamp about in focus: the area that its own picture and its disc share is never below nothing."""

from pathlib import Path

import numpy as np
from shapely import Point

import previz
from previz.frames.gl.context import Context

GLOW = Path(previz.__file__).parent / "frames" / "gl" / "shaders" / "glow.frag"


def test_two_discs_share_what_shapely_says() -> None:
    """Above all of a lamp's picture many times as large as its disc: of one just short of the plane of focus."""
    rng = np.random.default_rng(4)
    small = np.concatenate([np.full(24, 0.05), rng.uniform(0.05, 3, 12)])
    large = np.concatenate([rng.uniform(0.75, 12, 24), rng.uniform(0.05, 3, 12)])
    apart = np.abs(large - small) + rng.uniform(0.02, 0.98, 36) * 2 * np.minimum(small, large)
    exact = [
        Point(0, 0).buffer(a, quad_segs=2048).intersection(Point(d, 0).buffer(b, quad_segs=2048)).area
        for a, b, d in zip(small, large, apart, strict=True)
    ]
    shared = _on_the_card(np.column_stack([small, large, apart]))
    whole = np.pi * np.minimum(small, large) ** 2
    assert (np.abs(shared - exact) / whole).max() < 0.002
    many = rng.uniform(-0.02, 1.02, 2000)
    wide = rng.uniform(0.75, 12, 2000)
    assert _on_the_card(np.column_stack([np.full(2000, 0.05), wide, wide - 0.05 + 0.1 * many])).min() >= 0


def _on_the_card(discs: np.ndarray) -> np.ndarray:
    """Of two radii and the distance of the middles (n, 3), as the shader has it."""
    context = Context(16, 16)
    try:
        from OpenGL import GL
        from OpenGL.GL import shaders

        from previz.frames.gl import buffers

        text = GLOW.read_text()
        function = text[text.index("const float PI") : text.index("// How much of the lamp's light arrives")]
        given = buffers.empty_texture(len(discs), 1, GL.GL_RGBA32F)
        GL.glBindTexture(GL.GL_TEXTURE_2D, given)
        rows = np.ascontiguousarray(discs, np.float32)
        GL.glTexSubImage2D(GL.GL_TEXTURE_2D, 0, 0, 0, len(discs), 1, GL.GL_RGB, GL.GL_FLOAT, rows)
        drawn = buffers.framebuffer_of(buffers.empty_texture(len(discs), 1, GL.GL_RGBA32F))
        program = shaders.compileProgram(
            shaders.compileShader(GLOW.with_name("sum.vert").read_text(), GL.GL_VERTEX_SHADER),
            shaders.compileShader(
                f"#version 330 core\nuniform sampler2D discs; out vec4 seen;\n{function}\nvoid main() {{ vec3 disc = "
                "texelFetch(discs, ivec2(gl_FragCoord.xy), 0).xyz; seen = vec4(shared_area(disc.x, disc.y, disc.z)); }",
                GL.GL_FRAGMENT_SHADER,
            ),
            validate=False,
        )
        GL.glUseProgram(program)
        GL.glBindTexture(GL.GL_TEXTURE_2D, given)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, drawn)
        GL.glViewport(0, 0, len(discs), 1)
        GL.glBindVertexArray(GL.glGenVertexArrays(1))
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        found = GL.glReadPixels(0, 0, len(discs), 1, GL.GL_RED, GL.GL_FLOAT)
        return np.frombuffer(found, np.float32).astype(float)
    finally:
        context.close()
