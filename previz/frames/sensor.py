"""What the sensor makes of the light that reaches it: exposure and noise.

Signals are in shares of saturation: 1 is the most the sensor holds (ISO 12232 saturation-based speed).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.physics.exposure import focal_plane_exposure, level_of, saturation_exposure

Array = NDArray[np.float64]

#: Electrons a square micrometre of sensor collects for 1 lx s of white light. 1 lx s at 555 nm is 4.1e3 photons a
#: square micrometre (683 lm/W, 3.58e-19 J a photon); about half are counted. From memory, as an order of magnitude.
ELECTRONS_PER_UM2_LXS = 2000.0

#: Read noise of a present-day sensor. [electrons] From memory, as an order of magnitude.
READ_NOISE = 3.0


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
        """The signal with noise: variance n electrons of shot noise plus the read noise squared."""
        electrons = np.maximum(linear, 0.0) * np.float32(self.full)
        deviation = np.sqrt(electrons + np.float32(READ_NOISE**2)) / np.float32(self.full)
        return linear + deviation * rng.standard_normal(linear.shape, dtype=np.float32)
