"""Triangles, lamps and baked light: the set as a camera meets it. Front door: `build_stage`."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
