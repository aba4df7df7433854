"""Looking through the pupil while the shutter is open, and recording the mean. Front door: `render_frames`."""

from previz.frames.gl import gl_description, require_opengl
from previz.frames.lens import Lens
from previz.frames.render import Facts, Frame, Look, lens_of, render_frames
from previz.frames.sensor import bt709_encoded, srgb_encoded
from previz.frames.spent import Spent
from previz.frames.workers import Crew

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
