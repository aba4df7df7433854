"""What holds two shots together that are cut to each other, and what does not. Front door: `continuity`."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
