"""Everything that leaves for `outputs/<scene>/`. Front door: `deliver_clip`, `deliver_still`, `deliver_comparison`."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
