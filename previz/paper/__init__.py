"""What is laid on the table or hung beside it: plans, cards and lists, drawn in millimetres. Front door: `pdf_of`."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
