"""Looking through the pupil while the shutter is open, and recording the mean. Front door: `render_frames`."""

from typing import TYPE_CHECKING

from previz.doors import door

if TYPE_CHECKING:
    from previz.frames.gl import gl_description, require_opengl
    from previz.frames.lens import Lens
    from previz.frames.render import Facts, Frame, Look, lens_of, render_frames
    from previz.frames.sensor import bt709_encoded, srgb_encoded
    from previz.frames.spent import Spent
    from previz.frames.workers import Crew

_HOMES = {
    "Crew": "workers",
    "Facts": "render",
    "Frame": "render",
    "Lens": "lens",
    "Look": "render",
    "Spent": "spent",
    "bt709_encoded": "sensor",
    "gl_description": "gl",
    "lens_of": "render",
    "render_frames": "render",
    "require_opengl": "gl",
    "srgb_encoded": "sensor",
}

__all__ = [
    "Crew",
    "Facts",
    "Frame",
    "Lens",
    "Look",
    "Spent",
    "bt709_encoded",
    "gl_description",
    "lens_of",
    "render_frames",
    "require_opengl",
    "srgb_encoded",
]

__getattr__ = door(__name__, _HOMES)
