"""Everything that touches OpenGL and pyrender. Front door: `open_raster`, whose raster draws views and adds them up."""

from typing import TYPE_CHECKING

from previz.frames.gl.context import Context, gl_description, require_opengl

if TYPE_CHECKING:
    from previz.frames.gl.raster import Raster
    from previz.frames.lens import Lens
    from previz.stage import Unlit

__all__ = ["gl_description", "open_raster", "require_opengl"]


def open_raster(stage: "Unlit", lens: "Lens") -> "Raster":
    """A stage uploaded into a context of its own. Raises MachineError where this machine has none."""
    context = Context(*lens.size)
    # It imports PyOpenGL, which chooses its platform then: only after the context is open.
    from previz.frames.gl.raster import Raster

    return Raster(context, stage, lens)
