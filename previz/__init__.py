"""See a miniature film's shot before building it."""

__version__ = "0.1.0"
