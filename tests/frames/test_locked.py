"""Which part of a locked-off picture is drawn again, and what becomes of the rest."""

from dataclasses import replace

import numpy as np

from previz.frames.gl.locked import LockedOff
from previz.frames.gl.states import FrameState, ViewState
from previz.frames.gl.window import Window
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
