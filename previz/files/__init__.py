"""What lies on disk: meshes and images that a scene names, read with care; and what is kept between runs."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
