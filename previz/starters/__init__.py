"""A first scene of one's own: starting points fitted to a table, and demo scenes copied with all they need.

Front door: `starting_scene`, `files_of`.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
