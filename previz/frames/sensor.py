"""What the sensor makes of the light that reaches it: exposure, white balance, noise, and the code values.

Signals are in shares of saturation: 1 is the most the sensor holds (ISO 12232 saturation-based speed).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.physics.exposure import focal_plane_exposure, saturation_exposure

Array = NDArray[np.float64]

#: Electrons a square micrometre of sensor collects for 1 lx s of white light. 1 lx s at 555 nm is 4.1e3 photons a
#: square micrometre (683 lm/W, 3.58e-19 J a photon); about half are counted. From memory, as an order of magnitude.
ELECTRONS_PER_UM2_LXS = 2000.0

#: Read noise of a present-day sensor. [electrons] From memory, as an order of magnitude.
READ_NOISE = 3.0


def exposure_gain(exposure_time: float, working_f_number: float, iso: float) -> float:
    """Share of saturation for each cd/m2 of scene luminance."""
    return float(focal_plane_exposure(1.0, exposure_time, working_f_number) / saturation_exposure(iso))


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
        """The signal with noise: variance n electrons of shot noise plus the read noise squared."""
        electrons = np.maximum(linear, 0.0) * np.float32(self.full)
        deviation = np.sqrt(electrons + np.float32(READ_NOISE**2)) / np.float32(self.full)
        return linear + deviation * rng.standard_normal(linear.shape, dtype=np.float32)


def clipped(linear: ArrayLike) -> NDArray[np.float32]:
    """The sensor holds no less than nothing and no more than saturation."""
    return np.clip(np.asarray(linear, dtype=np.float32), 0.0, 1.0)


def bt709_encoded(linear: ArrayLike) -> NDArray[np.float32]:
    """Camera signal of linear light, ITU-R BT.709 transfer, 0..1.

    >>> [round(float(code), 5) for code in bt709_encoded([0.01, 0.18])]
    [0.045, 0.40901]
    """
    light = clipped(linear)
    return np.where(light < 0.018, light * 4.5, 1.099 * np.maximum(light, 0.018) ** 0.45 - 0.099).astype(np.float32)


def srgb_encoded(linear: ArrayLike) -> NDArray[np.float32]:
    """Code of linear light, IEC 61966-2-1 (sRGB), 0..1."""
    light = clipped(linear)
    return np.where(
        light <= 0.0031308, light * 12.92, 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055
    ).astype(np.float32)
