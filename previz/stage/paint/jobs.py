"""What a painter is given: a canvas, a scale, a colour and random numbers."""

from dataclasses import dataclass

import numpy as np

from previz.physics.noise import Canvas, Texels
from previz.stage.paint.painting import Colour


@dataclass(frozen=True)
class PaintJob:
    """What a surface is painted on, at which scale S of 1:S, in which colour, from which random numbers.

    `mended` allows patches, which are square to the table: wrong on a road that curves.
    """

    canvas: Canvas
    scale: float
    colour: Colour
    rng: np.random.Generator
    mended: bool = True

    def model(self, full_size: float) -> float:
        """A full-size length at the scene's scale. [m]"""
        return full_size / self.scale

    def x(self) -> Texels:
        """Middle of each column from the left edge, (w,). [m]"""
        return np.asarray((np.arange(self.canvas.width) + 0.5) * self.canvas.texel, dtype=np.float32)

    def y(self) -> Texels:
        """Middle of each row from the *top* edge, (h,). [m]"""
        return np.asarray((np.arange(self.canvas.height) + 0.5) * self.canvas.texel, dtype=np.float32)
