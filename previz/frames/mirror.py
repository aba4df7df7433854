"""What a coat that is not quite smooth mirrors: the surround, blurred, laid out so that looking it up is cheap."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

#: Spread of the blur about the mirror's direction, from fresh lacquer to nearly matt, in equal ratios. [rad]
MIRROR_WIDTHS = tuple(float(each) for each in np.geomspace(0.05, 0.60, 4))

#: Texels along a side of a mirror's map.
MAP_SIDE = 64


def mirrors(surround: NDArray[np.float32]) -> NDArray[np.float32]:
    """Ever more blurred versions (len(MIRROR_WIDTHS), h, w, 3) of a lat-long surround (h, w, 3).

    Row 0 of the surround is the zenith, rows and columns are even in angle. Light is kept: an even surround stays
    even.

    >>> bool(np.allclose(mirrors(np.full((8, 16, 3), 2.0, np.float32)), 2.0))
    True
    """
    height, width, _ = surround.shape
    waves = np.fft.rfft(surround.astype(np.float64), axis=1)
    blurred = [np.einsum("ijk,jkc->ikc", _blur(height, width, spread), waves) for spread in MIRROR_WIDTHS]
    return np.fft.irfft(np.stack(blurred), n=width, axis=2).astype(np.float32)


def mirror_maps(surround: NDArray[np.float32]) -> NDArray[np.float32]:
    """The `mirrors` of a surround as discs (len(MIRROR_WIDTHS), MAP_SIDE, MAP_SIDE, 3): zenith in the middle.

    Lambert's equal-area projection about the zenith: a direction (x, y, z) lies at (x, y) / sqrt(2 (1 + z)), columns
    along x, rows along y, -1..1. It takes a shader one square root, where a lat-long map takes two arc functions.

    >>> bool(np.allclose(mirror_maps(np.full((8, 16, 3), 2.0, np.float32)), 2.0))
    True
    """
    height, width, _ = surround.shape
    places, weights = _map_places(height, width)
    flat = mirrors(surround).reshape(len(MIRROR_WIDTHS), -1, 3)
    mapped = np.einsum("ps,lpsc->lpc", weights, flat[:, places], optimize=True)
    return np.asarray(mapped, dtype=np.float32).reshape(len(MIRROR_WIDTHS), MAP_SIDE, MAP_SIDE, 3)


@lru_cache(maxsize=4)
def _map_places(height: int, width: int) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
    """For every texel of a map the four texels of the surround around it, and their shares. (n, 4) each"""
    along = (np.arange(MAP_SIDE) + 0.5) / MAP_SIDE * 2 - 1
    x, y = np.meshgrid(along, along)
    # What lies outside the disc is only ever blended in at its rim, the nadir.
    fall = 2 * np.arcsin(np.minimum(np.hypot(x, y), 1.0)).ravel()
    row = np.clip(fall / np.pi * height - 0.5, 0, height - 1)
    column = (np.arctan2(y, x).ravel() / (2 * np.pi)) * width - 0.5
    above, left = np.floor(row).astype(int), np.floor(column).astype(int)
    down, right = (row - above)[:, None], (column - left)[:, None]
    below = np.minimum(above + 1, height - 1)
    places = [line * width + side % width for line in (above, below) for side in (left, left + 1)]
    shares = [(1 - down) * (1 - right), (1 - down) * right, down * (1 - right), down * right]
    return np.stack(places, axis=1), np.concatenate(shares, axis=1).astype(np.float32)


@lru_cache(maxsize=8)
def _blur(height: int, width: int, spread: float) -> NDArray[np.complex128]:
    """How much of each row goes into each other's blur, wave by wave around the horizon (h, h, width // 2 + 1).

    A von Mises-Fisher lobe, the sphere's Gaussian. It is the same at every heading, so that blurring around the
    horizon is a convolution.
    """
    zenith = (np.arange(height) + 0.5) / height * np.pi
    heading = np.arange(width) / width * 2 * np.pi
    rise, flat = np.cos(zenith), np.sin(zenith)
    cosine = rise[:, None, None] * rise[:, None] + flat[:, None, None] * flat[:, None] * np.cos(heading)
    weights = np.exp((cosine - 1) / spread**2) * flat[:, None]
    weights /= weights.sum(axis=(1, 2), keepdims=True)
    return np.fft.rfft(weights, axis=2)
