"""The command line: the only room that prints, reads arguments and sets an exit code. Front door: `main`.

Exit codes are listed in `EXIT_CODES`.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
