"""The ramps that vehicles are launched from, as far as their own vehicle's shadow falls on them."""

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from previz.frames.gl import buffers
from previz.frames.light import Light


class Sheets:
    """A picture of its shadow on its ramp for each vehicle that has one; none before there is light.

    Parameters
    ----------
    drivers : collection of int
        Which vehicles have one; the subject is 0.
    """

    def __init__(self, drivers: Collection[int]) -> None:
        self._drivers = tuple(sorted(drivers))
        self._shadows: dict[int, int] = {}

    def light(self, usual: Sequence[Light]) -> None:
        """Once: shadows have the shape of a usual light's."""
        self._shadows = {driver: buffers.texture(_on_sheet(usual[driver])) for driver in self._drivers}

    def fill(self, lights: Sequence[Light]) -> None:
        """The shadows of this frame."""
        for driver, texture in self._shadows.items():
            buffers.refill(texture, _on_sheet(lights[driver]))

    def of(self, driver: int | None) -> int | None:
        """Texture of the shadow on that one's ramp, if there is any."""
        return None if driver is None else self._shadows.get(driver)


def _on_sheet(light: Light) -> NDArray[np.float32]:
    return np.ones_like(light.shadow) if light.sheet is None else light.sheet
