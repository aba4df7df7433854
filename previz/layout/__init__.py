"""Physics applied to a scene, once: how big each thing is, where it stands, where it is at a time, what it emits."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
