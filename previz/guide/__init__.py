"""The guide that `previz guide` prints: a page of plain words for each topic.

The words lie in `words/`, a file for each topic. Numbers stay where they are worked out: the guide names the command
that tells them. `tests/test_guide.py` runs its commands and reads its fragments of scenes.

Front door: `guide_titles`, `guide_page`.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
