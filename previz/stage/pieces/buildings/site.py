"""A building that was asked for, and its parts while it is put up. All at full size, in metres."""

from dataclasses import dataclass, field

import numpy as np

from previz.mesh import Material, Mesh
from previz.physics.colour import LUMINANCE
from previz.stage.shapes.finish import Colour, glowing

MOST_WINDOWS = 320  # on a face: many squat storeys get wider bays
RICH_FLOORS = 8  # taller buildings are seen from further away
STEPS = (1.0, 0.55, 0.26, 0.10)  # of a lit room: lamp-lit ceiling, wall, curtain, shade
FRAMES: tuple[Colour, ...] = ((0.60, 0.59, 0.55), (0.60, 0.59, 0.55), (0.07, 0.10, 0.07), (0.10, 0.06, 0.035))
DOORS: tuple[Colour, ...] = ((0.05, 0.10, 0.07), (0.16, 0.03, 0.025), (0.03, 0.05, 0.10), (0.12, 0.07, 0.04))
STONE: Colour = (0.40, 0.37, 0.32)
Rect = tuple[float, float, float, float]  # x0, x1, z0, z1 on a wall [m]


@dataclass(frozen=True)
class House:
    """What was asked for, at full size. [m], [cd/m2]

    light is linear Rec. 709 with luminance 1; lit is the share of windows with a light on. walls: brick, plaster or
    boards; "" is brick where the colour is warm (red well above blue), else plaster.
    """

    width: float
    depth: float
    height: float
    floors: int
    colour: Colour
    gable: bool
    shop: bool
    lit: float
    glow: float
    light: Colour
    snow: float
    walls: str = ""
    windows: bool = True


@dataclass
class Site:
    """A house being put up: its finishes, its parts, and the random generator that all of it shares."""

    house: House
    rng: np.random.Generator
    frame: Colour
    walls: str  # brick, plaster or boards
    edge: float  # [m] longest triangle edge
    parts: list[Mesh] = field(default_factory=list)  # weathered later
    far: list[Mesh] = field(default_factory=list)  # weathered later; sides and roof, in larger triangles
    rooms: list[Mesh] = field(default_factory=list)  # left clean

    @property
    def is_barn(self) -> bool:
        """Whether it is of boards without windows: then it has a barn's door, and no chimney."""
        return self.walls == "boards" and not self.house.windows

    def snapped(self, z: float, course: float) -> float:
        """A height on the wall, at a joint of its bricks where it has any. [m]"""
        return round(z / course) * course if self.walls == "brick" else z

    def glow(self, step_number: int) -> Material:
        """Light of a room, by step; dimmer ones have passed cloth and are warmer."""
        warm = np.asarray(self.house.light) * np.array([1.0, 0.93, 0.80]) ** step_number
        warm /= warm @ LUMINANCE
        red, green, blue = warm.tolist()
        return glowing((red, green, blue), self.house.glow * STEPS[step_number])


def darker(colour: Colour, factor: float) -> Colour:
    """The colour at `factor` of its reflectance."""
    return (colour[0] * factor, colour[1] * factor, colour[2] * factor)
