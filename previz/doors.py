"""Front doors that open late: a room's names are loaded when first used, so that nobody waits for what they do not use.

A process that draws wants the triangles of a set, not the builders of it; `previz check` wants neither.
"""

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def door(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """The `__getattr__` of a package whose public names live in the modules that `homes` names.

    >>> find = door("json", {"JSONDecoder": "decoder"})
    >>> find("JSONDecoder").__name__
    'JSONDecoder'
    >>> find("Painter")
    Traceback (most recent call last):
    AttributeError: module 'json' has no attribute 'Painter'
    """

    def find(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f"{package}.{homes[name]}"), name)

    return find
