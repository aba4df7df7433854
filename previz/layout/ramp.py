"""The launch ramp as a thing on the set: how large it is, where it stands, what it takes up."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from previz.layout.launch import launch_of
from previz.layout.motion import vehicle_path
from previz.layout.remembered import remembered
from previz.layout.slope import ramp_line
from previz.layout.vehicle import vehicle_size, width_at
from previz.scene import Scene

Array = NDArray[np.float64]

#: Left free on either side of the vehicle where the scene does not say how wide the ramp is [m]; and how long the block
#: under its high end is, at most, and as a share of the ramp's length on the table. Common practice, no source.
SIDE = 0.010
BLOCK, BLOCK_SHARE = 0.060, 0.25

#: Between the steps of what stands for its slope. [m]
_STEP = 0.004
_MOST_STEPS = 60


@dataclass(frozen=True, eq=False)
class RampShape:
    """A sheet bent along a line, with or without a block under its high end.

    Parameters
    ----------
    foot : (2,) float
        Middle of its lower edge. [m]
    heading : float
        The way it leads, counter-clockwise from +x. [rad]
    width, thickness : float
        [m]
    line : (k, 2) float
        Its upper side from the high end down: forward of the lower edge, and over the table. [m]
    block : (float, float) or None
        Where the block under it begins and ends, forward of the lower edge. [m]
    block_foot : float
        What the block stands on, over the table: the table, or off it the floor. [m]
    """

    foot: Array
    heading: float
    width: float
    thickness: float
    line: Array
    block: tuple[float, float] | None
    block_foot: float

    @property
    def length(self) -> float:
        """On the table, seen from above. [m]"""
        return float(-self.line[0, 0])

    @property
    def footprint(self) -> Array:
        """Outline (4, 2), counter-clockwise: high end right, foot right, foot left, high end left. [m]"""
        return self.outline(-self.length, 0.0)

    def outline(self, begins: float, ends: float) -> Array:
        """Outline (4, 2) of the part between two places forward of the lower edge. [m]"""
        half = self.width / 2
        return self.placed(np.array([[begins, -half], [ends, -half], [ends, half], [begins, half]]))

    def placed(self, points: Array) -> Array:
        """Points (n, 2), forward of the lower edge and to the left of its middle, on the set. [m]"""
        c, s = math.cos(self.heading), math.sin(self.heading)
        return np.asarray(points @ np.array([[c, s], [-s, c]]) + self.foot)

    def seen_along(self, points: Array) -> Array:
        """Points (n, 2) on the set, forward of the lower edge and to the left of its middle: undoes `placed`. [m]"""
        c, s = math.cos(self.heading), math.sin(self.heading)
        return np.asarray((points - self.foot) @ np.array([[c, -s], [s, c]]))

    def height(self, forward: Array) -> Array:
        """Of its upper side over the table. [m]"""
        return np.interp(forward, *self.line.T)

    def underside(self, forward: Array) -> Array:
        """Of its lower side over the table, on which its foot is tapered to lie. [m]"""
        return np.maximum(self.height(forward) - self.thickness, 0.0)

    def slices(self) -> Array:
        """Upright slices that stand for it: where each begins and ends, forward of the lower edge, low and high. (n, 4)

        Slope and slice cross in the slice's middle. [m]
        """
        count = int(np.clip(math.ceil(float(self.line[0, 1]) / _STEP), 4, _MOST_STEPS))
        cuts = np.linspace(-self.length, 0.0, count + 1)
        if self.block is not None:
            cuts = np.unique(np.concatenate([cuts, self.block]))
        middles = (cuts[1:] + cuts[:-1]) / 2
        lows = self.underside(middles)
        if self.block is not None:
            lows = np.where((middles > self.block[0]) & (middles < self.block[1]), self.block_foot, lows)
        return np.stack([cuts[:-1], cuts[1:], lows, self.height(middles)], axis=1)


def ramp_width(scene: Scene) -> float:
    """Of the sheet: as written, else the vehicle's over its mirrors and a little on either side. [m]"""
    launch = launch_of(scene)
    if launch is not None and launch.ramp.width is not None:
        return float(launch.ramp.width)
    return width_at(scene, math.inf) + 2 * SIDE


@remembered
def ramp_of(scene: Scene) -> RampShape | None:
    """The scene's ramp; None where nothing is launched."""
    launch = launch_of(scene)
    if launch is None:
        return None
    path, line = vehicle_path(scene), ramp_line(scene, beyond=vehicle_size(scene)[0] / 2)
    foot, heading, width = path.at(0.0), float(path.heading(0.0)), ramp_width(scene)
    shape = RampShape(foot, heading, width, float(launch.ramp.thickness), line, None, 0.0)
    if launch.ramp.support == "none":
        return shape
    block = -shape.length, -shape.length + min(BLOCK, BLOCK_SHARE * shape.length)
    x, y = shape.outline(*block).mean(axis=0)
    table = scene.set.table
    on_table = 0 <= x <= table.width and 0 <= y <= table.depth
    return replace(shape, block=block, block_foot=0.0 if on_table else -float(table.height))
