"""What a coat that is not quite smooth mirrors: the surround, blurred."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

#: Spread of the blur about the mirror's direction, from fresh lacquer to nearly matt. [rad]
MIRROR_WIDTHS = (0.05, 0.12, 0.30, 0.60)


def mirrors(surround: NDArray[np.float32]) -> NDArray[np.float32]:
    """Ever more blurred versions (len(MIRROR_WIDTHS), h, w, 3) of a lat-long surround (h, w, 3).

    Row 0 of the surround is the zenith, rows and columns are even in angle. Light is kept: an even surround stays
    even.

    >>> bool(np.allclose(mirrors(np.full((8, 16, 3), 2.0, np.float32)), 2.0))
    True
    """
    height, width, _ = surround.shape
    flat = surround.reshape(-1, 3)
    blurred = [_blur(height, width, spread) @ flat for spread in MIRROR_WIDTHS]
    return np.stack(blurred).reshape(len(MIRROR_WIDTHS), height, width, 3)


@lru_cache(maxsize=8)
def _blur(height: int, width: int, spread: float) -> NDArray[np.float32]:
    """Weights (h w, h w) of every direction in every other's blur: a von Mises-Fisher lobe, the sphere's Gaussian."""
    zenith = (np.arange(height) + 0.5) / height * np.pi
    heading = (np.arange(width) + 0.5) / width * 2 * np.pi
    flat = np.sin(zenith)[:, None]
    directions = np.stack(
        [flat * np.cos(heading), flat * np.sin(heading), np.broadcast_to(np.cos(zenith)[:, None], (height, width))],
        axis=-1,
    ).reshape(-1, 3)
    areas = np.repeat(np.sin(zenith), width)
    weights = np.exp((directions @ directions.T - 1) / spread**2) * areas
    return np.asarray(weights / weights.sum(axis=1, keepdims=True), dtype=np.float32)
