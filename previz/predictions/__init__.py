"""What physics says of a scene before anything is built: figures and findings. Front door: `predict`."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
