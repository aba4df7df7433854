"""The best shots that a kit can make of a scene: a search over what may change, and plans. Front door: `advise`."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
