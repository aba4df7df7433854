"""A camera locked off: of the picture before, all that stands still is kept, and only what moves is drawn again."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.frames.gl.states import FrameState, Placed
from previz.frames.gl.window import Window
from previz.frames.lens import Lens

Array = NDArray[np.float64]
Floats = NDArray[np.float32]

#: What lies at z comes to lie at -z.
MIRROR = np.diag([1.0, 1.0, -1.0, 1.0])

_MARGIN = 3  # around what moves [px]

#: How far what is mirrored may be blurred: a texel and a half of the smallest picture that is looked up, which is 2^5
#: times smaller than one of half the size (`mirrored.py`, `water.glsl`). [px]
_BLURRED = 96


@dataclass(frozen=True)
class Moving:
    """Where what moves with a vehicle, or what that hides of a lamp, may be seen in any view of a frame.

    Parameters
    ----------
    vehicle : Window
        The vehicle itself.
    on_ground : Window
        What its shadow and beam reach, and where the ground mirrors it.
    """

    vehicle: Window
    on_ground: Window


def moving_windows(
    frame: FrameState, lens: Lens, corners: Sequence[tuple[Array, Array]], rim: float, *, mirrored: bool = False
) -> tuple[Moving, ...]:
    """Of each vehicle.

    Parameters
    ----------
    corners : sequence of two (n, 4) float
        Around all that moves with each vehicle, in its frame and in that of the ground below it; homogeneous. [m]
    rim : float
        How far out a look through the pupil may lie, for lamps are seen through all of it. [radii]
    mirrored : bool
        Whether the ground mirrors what is over it.
    """
    looks = [(view.clip_from_world, view) for view in frame.views]
    looks += [
        (lens.clip_from_world(view.camera, (x, y)), view)
        for view in (frame.opened, frame.closed)
        for x in (-rim, rim)
        for y in (-rim, rim)
    ]

    def around(corners: Array, number: int, place: Callable[[Placed], Array]) -> Window:
        clips = np.concatenate([corners @ (clip @ place(view.driven[number])).T for clip, view in looks])
        return Window.around([] if _beyond(clips, lens.size) else [clips], lens.size, margin=_MARGIN)

    def of(number: int, own: Array, on_ground: Array) -> Moving:
        reached = around(on_ground, number, _of_ground)
        if mirrored:
            image = around(own, number, _of_image)
            reached = reached if image.empty else reached.joined(image.grown(_BLURRED, lens.size))
        return Moving(around(own, number, _of_vehicle), reached)

    return tuple(of(number, own, on_ground) for number, (own, on_ground) in enumerate(corners))


def _beyond(clip: Array, size: tuple[int, int]) -> bool:
    """Whether clip-space points (n, 4), of all looks, lie behind the camera or beyond one and the same side.

    So does then what is between them: a vehicle that has gone past the camera costs nothing.
    """
    x, y, _, w = clip.T
    across, up = (w * (1 + 2 * _MARGIN / side) for side in size)
    return any(bool(side.all()) for side in (x < -across, x > across, y < -up, y > up, w < 0))


def _of_vehicle(placed: Placed) -> Array:
    return placed.world_from_vehicle


def _of_image(placed: Placed) -> Array:
    """What the ground mirrors of it."""
    return np.asarray(MIRROR @ placed.world_from_vehicle)


def _of_ground(placed: Placed) -> Array:
    return placed.world_from_ground


@dataclass(frozen=True)
class _Before:
    """A frame, where it held what moves, and its picture."""

    frame: FrameState
    moved: tuple[Moving, ...]
    picture: Floats

    def same_views(self, frame: FrameState) -> bool:
        """Whether another frame looks from the very same places the very same ways."""
        ours, theirs = ([view.clip_from_world for view in each.views] for each in (self.frame, frame))
        ends = [
            np.array_equal(ours.clip_from_world, theirs.clip_from_world)
            for ours, theirs in ((self.frame.opened, frame.opened), (self.frame.closed, frame.closed))
        ]
        return all(ends) and self.frame.disc == frame.disc and np.array_equal(ours, theirs)


class LockedOff:
    """The picture before, if there is one. Sizes are in pixels."""

    def __init__(self, size: tuple[int, int]) -> None:
        self._size = size
        self._before: _Before | None = None

    def holds(self, frame: FrameState) -> bool:
        """Whether what stands still is the same in the frame before."""
        return self._before is not None and self._before.same_views(frame)

    def changed(self, frame: FrameState, moved: tuple[Moving, ...]) -> tuple[Moving, ...]:
        """Where a frame differs from the one before; `moved` is where it holds what moves."""
        if self._before is None or not self.holds(frame):
            return (Moving(Window.whole(self._size), Window.whole(self._size)),)
        return tuple(
            Moving(now.vehicle.joined(before.vehicle), now.on_ground.joined(before.on_ground))
            for now, before in zip(moved, self._before.moved, strict=True)
        )

    def completed(
        self, frame: FrameState, moved: tuple[Moving, ...], drawn: Sequence[Floats], where: Sequence[Window]
    ) -> Floats:
        """The whole picture (h, w, 3), of the parts that were drawn anew and the one before; it is the next one's."""
        if not frame.locked_off:
            self._before = None
            (picture,) = drawn
            return picture
        if self._before is None or not self.holds(frame):
            (picture,) = drawn
        else:
            picture = self._before.picture.copy()
            for part, window in zip(drawn, where, strict=True):
                left, bottom, width, height = window.box
                picture[self._size[1] - bottom - height : self._size[1] - bottom, left : left + width] = part
        self._before = _Before(frame, moved, picture)
        return picture.copy()

    def forget(self) -> None:
        """Draw all of the next picture."""
        self._before = None
