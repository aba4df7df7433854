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

_ROWS = 32  # of a picture at a time
_GRAINS = 2**21  # numbers that grain is taken from, or eight times as many as such rows need


def exposure_gain(exposure_time: float, working_f_number: float, iso: float) -> float:
    """Share of saturation for each cd/m2 of scene luminance."""
    return float(level_of(focal_plane_exposure(1.0, exposure_time, working_f_number), iso))


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
