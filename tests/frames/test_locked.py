"""Which part of a locked-off picture is drawn again, and what becomes of the rest."""

from dataclasses import replace

import numpy as np

from previz.frames.gl.locked import LockedOff, moving_window
from previz.frames.gl.states import FrameState, Placed, ViewState
from previz.frames.gl.window import Window
from previz.frames.lens import Lens
from previz.layout import CameraPose

SIZE = (8, 4)
FIRST, NEXT = Window(1, 1, 3, 2), Window(4, 1, 6, 3)


def frame(shift: float = 0.0) -> FrameState:
    clip = np.eye(4)
    clip[0, 3] = shift
    view = ViewState(clip, np.zeros(3), CameraPose(np.zeros(3), np.eye(3), 0.5), np.eye(4), np.eye(4), 0.0, 0.5, 0.0)
    return FrameState([view], None, view, view, (1.0, 2.0))


def flat(window: Window, level: float) -> np.ndarray:
    _, _, width, height = window.box
    return np.full((height, width, 3), level, np.float32)


def begun() -> LockedOff:
    locked_off = LockedOff(SIZE)
    assert locked_off.changed(frame(), FIRST) == Window.whole(SIZE)
    locked_off.completed(frame(), FIRST, flat(Window.whole(SIZE), 1.0), Window.whole(SIZE))
    return locked_off


def test_what_moves_is_drawn_again_where_it_was_and_where_it_is() -> None:
    locked_off = begun()
    changed = locked_off.changed(frame(), NEXT)
    assert changed == Window(1, 1, 6, 3)
    picture = locked_off.completed(frame(), NEXT, flat(changed, 2.0), changed)
    # Windows count rows from the bottom, pictures from the top.
    expected = np.ones((4, 8, 3), np.float32)
    expected[1:3, 1:6] = 2.0
    assert np.array_equal(picture, expected)


def test_a_picture_that_is_changed_afterwards_leaves_the_next_one_alone() -> None:
    locked_off = begun()
    locked_off.completed(frame(), NEXT, flat(FIRST, 2.0), FIRST)[:] = 9.0
    assert locked_off.completed(frame(), NEXT, flat(FIRST, 3.0), FIRST).max() == 3.0


def test_a_camera_that_moved_or_refocused_has_all_drawn_again() -> None:
    for other in (frame(0.1), replace(frame(), disc=(1.0, 2.5))):
        assert begun().changed(other, NEXT) == Window.whole(SIZE)
    locked_off = begun()
    locked_off.forget()
    assert locked_off.changed(frame(), NEXT) == Window.whole(SIZE)


def test_another_vehicle_counts_only_where_it_may_be_seen() -> None:
    lens = Lens(0.05, 4.0, (0.036, 0.024), (360, 240))
    pose = CameraPose(np.zeros(3), np.eye(3), 0.5)  # looks along -z
    signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
    box = np.column_stack([0.02 * signs, np.ones(8)])

    def window_with(*middles: tuple[float, float, float]) -> Window:
        own, *others = (np.eye(4) + np.outer([*middle, 0.0], [0, 0, 0, 1.0]) for middle in middles)
        beside = tuple(Placed(place, place, 0.0) for place in others)
        view = ViewState(lens.clip_from_world(pose), np.zeros(3), pose, own, own, 0.0, 0.5, 0.0, beside)
        return moving_window(FrameState([view], None, view, view, (0.0, 0.0)), lens, [(box, box)] * len(middles), 1.2)

    alone = window_with((0.0, 0.0, -0.5))
    assert alone.box[2] < 90
    for unseen in ((0.0, 0.0, 0.3), (0.9, 0.0, 0.0), (0.0, -0.4, -0.02)):  # behind, beside and below the camera
        assert window_with((0.0, 0.0, -0.5), unseen) == alone
    # Around the lens it may be anywhere; and one that is just out of the picture is seen off the axis.
    assert window_with((0.0, 0.0, -0.5), (0.0, 0.0, 0.0)) == Window.whole(lens.size)
    assert window_with((0.0, 0.0, -0.5), (0.19, 0.0, -0.5)).right == lens.size[0]
    nothing = window_with((0.0, 0.0, 0.3))
    assert nothing.box[2:] == (0, 0) and nothing.joined(alone) == alone.joined(nothing) == alone
