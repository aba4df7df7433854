"""What the sensor makes of the light that reaches it: exposure and noise.

Signals are in shares of saturation: 1 is the most the sensor holds (ISO 12232 saturation-based speed).
"""

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from previz.physics.exposure import focal_plane_exposure, level_of, saturation_exposure

Array = NDArray[np.float64]

#: Electrons a square micrometre of sensor collects for 1 lx s of white light. 1 lx s at 555 nm is 4.1e3 photons a
#: square micrometre (683 lm/W, 3.58e-19 J a photon); about half are counted. From memory, as an order of magnitude.
ELECTRONS_PER_UM2_LXS = 2000.0

#: Read noise of a present-day sensor. [electrons] From memory, as an order of magnitude.
READ_NOISE = 3.0

#: Photosites each way in a delivered pixel, each of which holds no more than it can: what is far over white ends within
#: a pixel as far as it covers them. A sensor of 20 megapixels has 5472 across, more than four for each of 1280 and
#: nearly three of 1920. Common practice, no source.
PHOTOSITES = 3

_ROWS = 32  # of a picture at a time
_GRAINS = 2**21  # numbers that grain is taken from, or eight times as many as such rows need


def exposure_gain(exposure_time: float, working_f_number: float, iso: float) -> float:
    """Share of saturation for each cd/m2 of scene luminance."""
    return float(level_of(focal_plane_exposure(1.0, exposure_time, working_f_number), iso))


@dataclass(frozen=True)
class OnPhotosites:
    """What lamps give to the photosites of a part of the picture.

    Parameters
    ----------
    top, left : int
        Its first row and column. [px]
    light : (h PHOTOSITES, w PHOTOSITES, 3) float32
        Shares of saturation, row 0 at the top.
    drawn : (h, w, 3) float32
        The same as the picture's pixels have it, which is not quite their mean.
    """

    top: int
    left: int
    light: NDArray[np.float32]
    drawn: NDArray[np.float32]

    def hold(self, linear: NDArray[np.float32], share: float) -> None:
        """Of pixels (h, w, 3) that are white in part, what their photosites hold; changes them.

        share : of this light, what is still at its place in the picture. [-]

        >>> picture = np.full((1, 1, 3), 30.1, np.float32)  # a lamp of 90 over a third of it, and 0.1 all over
        >>> a_third = np.repeat([[[0.0], [0.0], [90.0]]] * 3, 3, axis=2).transpose(1, 0, 2).astype(np.float32)
        >>> OnPhotosites(0, 0, a_third, picture - np.float32(0.1)).hold(picture, 1.0)
        >>> [round(float(colour), 3) for colour in picture[0, 0]]
        [0.4, 0.4, 0.4]
        """
        height, width = self.drawn.shape[:2]
        part = linear[self.top : self.top + height, self.left : self.left + width]
        own = self.light.reshape(height, PHOTOSITES, width, PHOTOSITES, 3).swapaxes(1, 2).reshape(height, width, -1, 3)
        besides = np.maximum(part - np.float32(share) * self.drawn, 0.0)
        each = own * np.float32(share) + besides[:, :, None]
        in_part = (each.min(axis=2) < 1) & (each.max(axis=2) > 1)
        part[in_part] = np.minimum(each, 1).mean(axis=2)[in_part]


@dataclass(frozen=True)
class Noise:
    """Shot and read noise of one pixel of the delivered picture.

    Parameters
    ----------
    full : float
        Electrons at saturation.
    """

    full: float

    @classmethod
    def of(cls, pixel_area: float, iso: float) -> "Noise":
        """From the sensor area [m2] that one delivered pixel stands for."""
        return cls(saturation_exposure(iso) * pixel_area * 1e12 * ELECTRONS_PER_UM2_LXS)

    def added_to(self, linear: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.float32]:
        """The signal with noise: variance n electrons of shot noise plus the read noise squared.

        Some rows at a time: they stay in the processor's cache, and each takes its grain from a place of its own.
        """
        noisy = np.empty_like(linear)
        full, read = np.float32(self.full), np.float32(READ_NOISE**2)
        grain = _grain(max(_GRAINS, 8 * _ROWS * linear[:1].size))
        for top in range(0, len(linear), _ROWS):
            light = linear[top : top + _ROWS]
            deviation = np.maximum(light, 0.0) * full
            deviation += read
            np.sqrt(deviation, out=deviation)
            deviation *= np.float32(1 / self.full)
            first = int(rng.integers(len(grain) - light.size))
            deviation *= grain[first : first + light.size].reshape(light.shape)
            np.add(light, deviation, out=noisy[top : top + _ROWS])
        return noisy


@lru_cache(maxsize=1)
def _grain(count: int) -> NDArray[np.float32]:
    """So many standard normal numbers for the grain of all frames, each one of 65536 that are equally likely.

    Stretches of them that begin anywhere take a tenth of the time of new ones. None is further off than 4.3 standard
    deviations, which of a million numbers seventeen would be.
    """
    drawn = np.frombuffer(np.random.default_rng(0).bytes(2 * count), "<u2")
    return _equally_likely()[drawn]


@lru_cache(maxsize=1)
def _equally_likely() -> NDArray[np.float32]:
    """65536 quantiles of the normal distribution, spread so that their variance is 1."""
    normal = NormalDist()
    upper = np.array([normal.inv_cdf((number + 0.5) / 65536) for number in range(32768, 65536)])
    upper /= np.sqrt(np.mean(upper**2))
    return np.concatenate([-upper[::-1], upper]).astype(np.float32)
