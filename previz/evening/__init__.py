"""An evening of filming: what is moved between setups, in which order, and how long. Front door: `evening_of`."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
