"""The cut: which frames of which shots follow each other. Front door: `running_order`."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
