"""Looking through the pupil while the shutter is open, and recording the mean. Front door: `render_frames`."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
