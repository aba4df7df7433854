"""Light that the lens puts beside its place: a soft rim and a halo around what is far brighter than the rest.

The picture is blurred over ever larger squares, each twice as wide as the one before, and a share of each blur takes
the place of as much of the picture: any spread that falls off smoothly is a sum of such. It costs as little as the
smaller pictures are small. In linear light, before anything is clipped.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.physics.scatter import VEIL_TO, diffracted_beyond, veiled_beyond

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class Glare:
    """The spread of a point's light.

    Parameters
    ----------
    shares : tuple of float
        Of the light, spread over squares 2, 4, 8 ... pixels wide; the rest stays where it is.
    """

    shares: tuple[float, ...]

    @classmethod
    def of(cls, scattered: float, working_f_number: float, width: float, columns: int) -> "Glare":
        """Of a lens that scatters that share of its light, at a stop, for a picture of so many columns.

        width [m] is that of the part of the sensor that they show.
        """
        levels = max(1, round(np.log2(2 * VEIL_TO * columns)))
        pixel = width / columns
        # A square of 2^k pixels, blown up smoothly, has most of its light between a half and one of its width away.
        radii = pixel * 2.0 ** np.arange(levels + 1)
        diffracted = diffracted_beyond(radii, working_f_number)
        beyond = scattered * veiled_beyond(radii, width) + (1 - scattered) * diffracted
        shares = beyond[:-1] - np.append(beyond[1:-1], 0.0)  # what goes further still is put into the last
        return cls(tuple(float(share) for share in np.maximum(shares, 0.0)))

    @property
    def kept(self) -> float:
        """The share of light that stays where it is."""
        return 1.0 - sum(self.shares)

    def on(self, linear: Floats) -> Floats:
        """The picture (h, w, 3) as that lens gives it; its light stays the same but for what falls over its edges.

        >>> point = np.zeros((64, 64, 3), np.float32)
        >>> point[32, 32] = 100.0
        >>> seen = Glare((0.02, 0.01, 0.01)).on(point)
        >>> round(float(seen.sum() / point.sum()), 3), round(float(seen[32, 32, 0]), 1)
        (1.0, 96.3)
        """
        seen = np.empty_like(linear)
        for colour in range(linear.shape[2]):  # numpy is twice as fast along a row as across three numbers
            seen[..., colour] = self._on_one(np.ascontiguousarray(linear[..., colour]))
        return seen

    def _on_one(self, colour: Floats) -> Floats:
        """One colour (h, w) of a picture."""
        halved = [colour]
        for level in range(len(self.shares)):
            halved.append(_halved(halved[-1], smoothly=level > 0))
        spread = halved[-1] * np.float32(self.shares[-1])
        for level in range(len(self.shares) - 1, 0, -1):
            spread = _doubled(_softened(spread), halved[level].shape)
            spread += halved[level] * np.float32(self.shares[level - 1])
        seen = _doubled(spread, colour.shape)
        seen += colour * np.float32(self.kept)
        return seen


def _halved(picture: Floats, *, smoothly: bool) -> Floats:
    """Half as wide and high; smoothly: a lamp's halo is not to change as it crosses from one square to the next."""
    height, width = picture.shape
    if height % 2 or width % 2:  # a last odd row or column counts twice
        picture = np.pad(picture, ((0, height % 2), (0, width % 2)), mode="edge")
    return _halved_along(_halved_along(picture, 0, smoothly), 1, smoothly)


def _halved_along(picture: Floats, axis: int, smoothly: bool) -> Floats:
    lines = picture.swapaxes(0, axis)
    pairs = (lines[::2] + lines[1::2]) * np.float32(0.375 if smoothly else 0.5)
    if smoothly:
        around = np.concatenate([lines[:1], lines[1:-1:2]]) + np.concatenate([lines[2::2], lines[-1:]])
        pairs += around * np.float32(0.125)
    return pairs.swapaxes(0, axis)


def _softened(picture: Floats) -> Floats:
    """A quarter of each pixel to either neighbour, both ways: no square shows through."""
    for axis in (0, 1):
        lines = picture.swapaxes(0, axis)
        before, after = np.concatenate([lines[:1], lines[:-1]]), np.concatenate([lines[1:], lines[-1:]])
        picture = ((before + after) * np.float32(0.25) + lines * np.float32(0.5)).swapaxes(0, axis)
    return picture


def _doubled(picture: Floats, shape: tuple[int, ...]) -> Floats:
    """Twice as wide and high, smoothly: three quarters of the nearest and a quarter of the next, each way."""
    return _doubled_along(_doubled_along(picture, 0)[: shape[0]], 1)[:, : shape[1]]


def _doubled_along(picture: Floats, axis: int) -> Floats:
    lines = picture.swapaxes(0, axis)
    own = lines * np.float32(0.75)
    next_ones = lines * np.float32(0.25)
    shape = list(picture.shape)
    shape[axis] *= 2
    doubled = np.empty(shape, np.float32)
    out = doubled.swapaxes(0, axis)
    np.add(own[1:], next_ones[:-1], out=out[2::2])
    np.add(own[:-1], next_ones[1:], out=out[1:-1:2])
    out[0], out[-1] = lines[0], lines[-1]
    return doubled
