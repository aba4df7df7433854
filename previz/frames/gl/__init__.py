"""Everything that touches OpenGL and pyrender. Front door: `Raster` draws views of a stage and sums them."""

from previz.frames.gl.context import gl_description, require_opengl
from previz.frames.gl.raster import Raster

__all__ = ["Raster", "gl_description", "require_opengl"]
