"""The scenic painter's box: seeded noise, soft edges and colours, read in strips of rows.

A picture of eight million texels is painted strip by strip, so that a strip stays in the processor's cache.
Everything random is drawn before the first strip. Values are float32: linear reflectance 0..1 where they are colours,
about −1..1 where they are noise.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.physics.colour import srgb_encoded
from previz.physics.noise import Canvas, Texels
from previz.physics.smooth import eased
from previz.spread import spread

Pixels = NDArray[np.uint8]
Colour = tuple[float, float, float]

#: Paints the (3, n, w) linear colours of rows `rows` of a picture. Several threads paint at once.
PaintRows = Callable[[slice], Texels]

_CODES = 1 << 13


@dataclass(frozen=True)
class Grain:
    """Noise of a few texels that repeats; too fine for the repeat to be seen."""

    tile: Texels

    def rows(self, rows: slice) -> Texels:
        """(n, w) float32"""
        return self.tile[np.arange(rows.start, rows.stop) % len(self.tile)]


def grain(canvas: Canvas, rng: np.random.Generator, blur: float = 0.6, stretch: float = 1.0) -> Grain:
    """Zero-mean, unit-variance noise blurred by `blur` texels, `stretch` times as much along x."""
    from scipy.ndimage import gaussian_filter  # here: a set kept on disk need not wait for it

    side = (min(512, canvas.height), min(512, canvas.width))
    tile = rng.standard_normal(side, dtype=np.float32)
    tile = gaussian_filter(tile, (blur, blur * stretch), mode="wrap", truncate=3.0)
    tile /= tile.std()
    repeats = -(-canvas.width // side[1])
    return Grain(np.ascontiguousarray(np.tile(tile, (1, repeats))[:, : canvas.width]))


def smoothstep(x: Texels, start: float, end: float) -> Texels:
    """`physics.smooth.smoothstep` in single precision, and quicker: pictures have millions of texels."""
    return np.asarray(eased(np.clip((x - np.float32(start)) * np.float32(1 / (end - start)), 0, 1)), dtype=np.float32)


def tinted(tone: Texels, colour: Colour) -> Texels:
    """(3, n, w): `colour` lightened and darkened by `tone` (n, w), which is 1 where it stays."""
    return tone[None] * np.array(colour, dtype=np.float32)[:, None, None]


def lay(under: Texels, colour: ArrayLike, share: Texels) -> None:
    """Lay a colour, (3,) or (3, n, w), over (3, n, w) in place where `share` (n, w) says how much covers."""
    over = np.asarray(colour, dtype=np.float32)
    over = over[:, None, None] if over.ndim == 1 else over
    under += (over - under) * share[None]


@cache
def _code_table() -> Texels:
    """Codes 0..255 over the square root of linear, where even steps lose nothing in the shadows."""
    return np.asarray(255 * srgb_encoded(np.linspace(0, 1, _CODES) ** 2), dtype=np.float32)


def painted(canvas: Canvas, paint: PaintRows, dither: Grain | None = None) -> Pixels:
    """The finished picture, (h, w, 3) uint8 sRGB.

    `dither` spreads each code's rounding over its neighbours, so that a slow gradient does not show steps.
    """
    picture = np.empty((canvas.height, canvas.width, 3), dtype=np.uint8)
    table = _code_table()
    bytes_table = np.rint(table).astype(np.uint8)

    def finish(rows: slice) -> None:
        linear = paint(rows)
        np.clip(linear, 0, 1, out=linear)
        np.sqrt(linear, out=linear)
        linear *= _CODES - 1
        index = linear.astype(np.int16)
        if dither is None:
            for channel in range(3):
                picture[rows, :, channel] = bytes_table[index[channel]]
            return
        for channel in range(3):
            shaken = table[index[channel]] + 0.5 + 0.4 * dither.rows(rows)
            picture[rows, :, channel] = np.clip(shaken, 0, 255)

    spread(finish, canvas.strips())
    return picture
