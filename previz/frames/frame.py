"""What is asked of a picture, and what comes of it: one frame as the sensor holds it."""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from previz.physics.exposure import nearest_third_stop
from previz.physics.flashes import cells_of


@dataclass(frozen=True)
class Look:
    """How the picture is made, not what is in it.

    Parameters
    ----------
    size : (int, int)
        Width and height. [px]
    views : int or None
        Views over pupil and shutter in each frame; None chooses them for `quality`.
    quality : {"draft", "usual", "fine"} or float
        What the choice aims at: a preset, or a mean FLIP error such as 0.02.
    filtered : bool
        Whether each view fills its own patch of pupil and shutter; False takes the plain mean of pinhole views.
    frames : range or None
        Which frames of the shot; None for all.
    seed : int
        Of the sensor noise.
    thorough : bool
        Whether each view is smeared along what moves, over its part of the shutter, and the lens scatters light; False
        is faster.
    noise : bool
        False leaves the sensor noise out.
    """

    size: tuple[int, int] = (1280, 720)
    views: int | None = None
    frames: range | None = None
    seed: int = 0
    noise: bool = True
    quality: str | float = "usual"
    filtered: bool = True
    thorough: bool = True


@dataclass(frozen=True)
class Facts:
    """What a shot was recorded with, for the slate and the report.

    exposure_time [s]; vehicle_illuminance is the light on the side of the vehicle that the camera sees, mid-shot. [lx]
    metered: whether the ISO was chosen, not set.
    """

    iso: int
    exposure_time: float
    working_f_number: float
    views: int
    vehicle_illuminance: float
    metered: bool = False

    @property
    def iso_told(self) -> str:
        """The ISO for people: as it was set, or that which was chosen as a camera would name it, in third stops.

        >>> Facts(23416, 0.01, 2.8, 8, 5.0, metered=True).iso_told
        '25600'
        """
        return str(nearest_third_stop(self.iso) if self.metered else self.iso)


@dataclass(frozen=True)
class Frame:
    """One frame as the sensor holds it.

    Parameters
    ----------
    number : int
        Counted from 0 within the shot.
    time : Fraction
        When its shutter opens. [s on set]
    linear : (h, w, 3) float32
        Linear Rec. 709, white balanced, 1 = saturation; not yet clipped, so lamps lie far above 1.
    cells : (18, 24, 3) float32 or None
        `linear` in small (`physics.flashes.cells_of`), where who drew it has worked that out; the one process that
        all frames pass through has then less to do.
    """

    number: int
    time: Fraction
    linear: NDArray[np.float32]
    facts: Facts
    cells: NDArray[np.float32] | None = None

    @property
    def in_small(self) -> NDArray[np.float32]:
        """Its `cells`, worked out now if nobody has yet."""
        return cells_of(self.linear) if self.cells is None else self.cells
