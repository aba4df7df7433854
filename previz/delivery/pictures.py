"""From linear light to the 8-bit codes a file holds."""

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: (h, w, 3) uint8, row 0 at the top, red green blue codes over the full range 0..255.
Picture = NDArray[np.uint8]

#: A transfer function: linear light 0..1 to codes 0..1.
Encoding = Callable[[ArrayLike], NDArray[Any]]

# The steepest of our curves, sRGB at black, rises 12.92 times: 0.05 of a code from one entry to the next.
_ENTRIES = 65536


def picture_of(linear: NDArray[np.float32], encoding: Encoding) -> Picture:
    """The codes of a picture, rounded to the nearest of 256.

    What lies above saturation is white, what noise took below zero is black. Looked up in a table, which is several
    times faster than raising every pixel to a power.

    >>> picture_of(np.array([[[-0.1, 0.5, 3.0]]], np.float32), lambda level: np.asarray(level))
    array([[[  0, 128, 255]]], dtype=uint8)
    """
    return _table(encoding)[deep_picture_of(linear)]


def deep_picture_of(linear: NDArray[np.float32]) -> NDArray[np.uint16]:
    """A picture before its transfer function: each of 65536 equal steps of light leads to one code of any of ours.

    >>> deep_picture_of(np.array([[[-0.1, 0.5, 3.0]]], np.float32))
    array([[[    0, 32768, 65535]]], dtype=uint16)
    """
    entry = np.clip(linear, 0.0, 1.0) * np.float32(_ENTRIES - 1)
    entry += np.float32(0.5)
    return entry.astype(np.uint16)


def levels_of(picture: NDArray[np.uint8 | np.uint16], encoding: Encoding | None) -> NDArray[np.float32]:
    """Linear light (h, w, 3) that comes to the very same picture: of `picture_of`, or with None of `deep_picture_of`.

    >>> codes = np.arange(256, dtype=np.uint8).reshape(1, -1, 1)
    >>> bool((picture_of(levels_of(codes, np.sqrt), np.sqrt) == codes).all())
    True
    """
    if encoding is None:
        return picture.astype(np.float32) / np.float32(_ENTRIES - 1)
    return _levels(encoding)[picture]


@lru_cache(maxsize=4)
def _levels(encoding: Encoding) -> NDArray[np.float32]:
    """For each code the middle of the steps of light that lead to it."""
    entries = np.arange(_ENTRIES)
    codes = _table(encoding)
    counts = np.bincount(codes, minlength=256)
    middle = np.bincount(codes, weights=entries, minlength=256) / np.maximum(counts, 1)
    return (np.round(middle) / (_ENTRIES - 1)).astype(np.float32)


@lru_cache(maxsize=4)
def _table(encoding: Encoding) -> NDArray[np.uint8]:
    codes = np.asarray(encoding(np.linspace(0.0, 1.0, _ENTRIES, dtype=np.float32)))
    return np.rint(codes * 255).astype(np.uint8)
