"""Frames made up for the tests of delivery: no renderer is needed to test how frames are written."""

from collections.abc import Iterator
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from previz.frames import Facts, Frame

FACTS = Facts(iso=400, exposure_time=1 / 240, working_f_number=5.8, views=8, vehicle_illuminance=900.0)


def frame_of(linear: NDArray[np.float32], number: int = 0) -> Frame:
    return Frame(number, Fraction(number, 120), linear, FACTS)


def frames_of(count: int, size: tuple[int, int] = (64, 48)) -> Iterator[Frame]:
    """A bright bar that moves on in each frame, so that no two are alike."""
    for number in range(count):
        linear = np.full((size[1], size[0], 3), 0.05, np.float32)
        at = number * 2 % (size[0] - 8)
        linear[:, at : at + 8] = (0.8, 0.4, 0.1)
        yield frame_of(linear, number)
