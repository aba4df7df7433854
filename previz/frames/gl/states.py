"""What the graphics side is told of a frame: its views, its light, and how views fill their patches."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from previz.frames.light import Light
from previz.layout import CameraPose

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Placed:
    """Where a vehicle beside the subject is in a view; as `ViewState` has it of the subject."""

    world_from_vehicle: Array
    world_from_ground: Array
    travelled: float


@dataclass(frozen=True)
class ViewState:
    """Everything that differs from one view to the next.

    Parameters
    ----------
    clip_from_world : (4, 4) float
    eye : (3,) float
        [m]
    camera : CameraPose
    world_from_vehicle : (4, 4) float
    world_from_ground : (4, 4) float
        The same of the level ground below the vehicle, where its shadow and beam lie.
    travelled : float
        Along the path, for the turn of the wheels. [m]
    moment : float
        0 as the shutter opens, 1 as it closes.
    detail : float
        Added to a level of detail before it is rounded.
    others : tuple of Placed
        The vehicles beside the subject.
    """

    clip_from_world: Array
    eye: Array
    camera: CameraPose
    world_from_vehicle: Array
    world_from_ground: Array
    travelled: float
    moment: float
    detail: float
    others: tuple[Placed, ...] = ()

    @property
    def driven(self) -> tuple[Placed, ...]:
        """Every vehicle, the subject first."""
        return (Placed(self.world_from_vehicle, self.world_from_ground, self.travelled), *self.others)

    def led_by(self, number: int) -> "ViewState":
        """The same view with another vehicle in the subject's place."""
        other = self.others[number]
        return replace(
            self,
            world_from_vehicle=other.world_from_vehicle,
            world_from_ground=other.world_from_ground,
            travelled=other.travelled,
        )


@dataclass(frozen=True)
class FrameState:
    """One frame: its views and the light it is taken in.

    Parameters
    ----------
    views : sequence of ViewState
    light : Light or None
        None before there is any: such a frame can be surveyed.
    opened, closed : ViewState
        From the pupil's middle as the shutter opens and closes: between them things streak.
    disc : (2,) float
        Diameter of the pupil's blur at any distance: `Lens.disc_across`. [px], [px m]
    others : sequence of Light
        That of the vehicles beside the subject, where there is light.
    """

    views: Sequence[ViewState]
    light: Light | None
    opened: ViewState
    closed: ViewState
    disc: tuple[float, float]
    others: Sequence[Light] = ()

    @property
    def locked_off(self) -> bool:
        """Whether the camera neither moves nor turns while the shutter is open."""
        return np.array_equal(self.opened.clip_from_world, self.closed.clip_from_world)

    def led_by(self, number: int) -> "FrameState":
        """The same frame with another vehicle in the subject's place, as far as places go."""
        return replace(
            self,
            views=[view.led_by(number) for view in self.views],
            opened=self.opened.led_by(number),
            closed=self.closed.led_by(number),
        )


@dataclass(frozen=True)
class Filling:
    """How views fill their patches of pupil and shutter.

    Parameters
    ----------
    knots : tuple of float
        Of the layers, rising, one a layer, 0 among them: how blurred, as a variance over each axis [px^2], negative
        before the plane of focus. What lies between two is shared between them, so that its variance is right.
    scale : float
        Variance of a view's own part of a disc over the disc's diameter squared.
    streak_share : float
        Of a streak squared, as a diameter squared; where views are not smeared.
    """

    knots: tuple[float, ...]
    scale: float
    streak_share: float
