"""Which part of a locked-off picture is drawn again, and what becomes of the rest."""

from dataclasses import replace

import numpy as np

from previz.frames.gl.locked import LockedOff, Moving, moving_windows
from previz.frames.gl.states import FrameState, Placed, ViewState
from previz.frames.gl.window import Window, around, disjoint
from previz.frames.lens import Lens
from previz.frames.light import Light
from previz.frames.studio import with_shadows_smeared
from previz.layout import CameraPose

SIZE = (8, 4)
WHOLE, NOWHERE = Window.whole(SIZE), Window(0, 0, 0, 0)
FIRST, NEXT = ((Moving(window, NOWHERE),) for window in (Window(1, 1, 3, 2), Window(4, 1, 6, 3)))


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
    assert not locked_off.holds(frame())
    assert locked_off.changed(frame(), FIRST) == (Moving(WHOLE, WHOLE),)
    locked_off.completed(frame(), FIRST, [flat(WHOLE, 1.0)], [WHOLE])
    assert locked_off.holds(frame())
    return locked_off


def test_what_moves_is_drawn_again_where_it_was_and_where_it_is() -> None:
    locked_off = begun()
    (changed,) = locked_off.changed(frame(), (Moving(NEXT[0].vehicle, Window(0, 0, 2, 1)),))
    assert changed == Moving(Window(1, 1, 6, 3), Window(0, 0, 2, 1))
    windows = [changed.vehicle, changed.on_ground]
    picture = locked_off.completed(frame(), NEXT, [flat(windows[0], 2.0), flat(windows[1], 3.0)], windows)
    # Windows count rows from the bottom, pictures from the top.
    expected = np.ones((4, 8, 3), np.float32)
    expected[1:3, 1:6] = 2.0
    expected[3, :2] = 3.0
    assert np.array_equal(picture, expected)


def test_a_picture_that_is_changed_afterwards_leaves_the_next_one_alone() -> None:
    locked_off, (window,) = begun(), [FIRST[0].vehicle]
    locked_off.completed(frame(), NEXT, [flat(window, 2.0)], [window])[:] = 9.0
    assert locked_off.completed(frame(), NEXT, [flat(window, 3.0)], [window]).max() == 3.0


def test_a_camera_that_moved_or_refocused_has_all_drawn_again() -> None:
    for other in (frame(0.1), replace(frame(), disc=(1.0, 2.5))):
        assert begun().changed(other, NEXT) == (Moving(WHOLE, WHOLE),)
    locked_off = begun()
    locked_off.forget()
    assert locked_off.changed(frame(), NEXT) == (Moving(WHOLE, WHOLE),)


def test_windows_that_overlap_become_the_same_pixels_once() -> None:
    rng = np.random.default_rng(6)
    for count in range(8):
        corners = np.sort(rng.integers(0, 9, (count, 2, 2)), axis=1)
        given = [Window(left, bottom, right, top) for (left, bottom), (right, top) in corners.tolist()]
        held, once = np.zeros((9, 9), int), np.zeros((9, 9), int)
        for windows, cells in ((given, held), (disjoint(given), once)):
            for left, bottom, right, top in [(each.left, each.bottom, each.right, each.top) for each in windows]:
                cells[bottom:top, left:right] += 1
        assert np.array_equal(once, held > 0)


def test_another_vehicle_counts_only_where_it_may_be_seen() -> None:
    lens = Lens(0.05, 4.0, (0.036, 0.024), (360, 240))
    pose = CameraPose(np.zeros(3), np.eye(3), 0.5)  # looks along -z
    signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
    box = np.column_stack([0.02 * signs, np.ones(8)])

    def window_with(*middles: tuple[float, float, float]) -> Window:
        own, *others = (np.eye(4) + np.outer([*middle, 0.0], [0, 0, 0, 1.0]) for middle in middles)
        beside = tuple(Placed(place, place, 0.0) for place in others)
        view = ViewState(lens.clip_from_world(pose), np.zeros(3), pose, own, own, 0.0, 0.5, 0.0, beside)
        state = FrameState([view], None, view, view, (0.0, 0.0))
        found = moving_windows(state, lens, [(box, box)] * len(middles), 1.2)
        return around(window for each in found for window in (each.vehicle, each.on_ground))

    alone = window_with((0.0, 0.0, -0.5))
    assert alone.box[2] < 90
    for unseen in ((0.0, 0.0, 0.3), (0.9, 0.0, 0.0), (0.0, -0.4, -0.02)):  # behind, beside and below the camera
        assert window_with((0.0, 0.0, -0.5), unseen) == alone
    # Around the lens it may be anywhere; and one that is just out of the picture is seen off the axis.
    assert window_with((0.0, 0.0, -0.5), (0.0, 0.0, 0.0)) == Window.whole(lens.size)
    assert window_with((0.0, 0.0, -0.5), (0.19, 0.0, -0.5)).right == lens.size[0]
    nothing = window_with((0.0, 0.0, 0.3))
    assert nothing.box[2:] == (0, 0) and nothing.joined(alone) == alone.joined(nothing) == alone


def test_a_shadow_is_smeared_as_far_as_its_vehicle_goes_wherever_that_is() -> None:
    """Also straight behind the camera, whose picture of it stands still: its shadow may reach before the lens."""
    lens = Lens(0.05, 4.0, (0.036, 0.024), (360, 240))
    ahead = CameraPose(np.array([0.0, 0.0, 0.05]), np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]), 0.5)  # along +y
    shadow = np.ones((4, 100, 3), np.float32)
    shadow[:, 50:] = 0.2
    sharp = Light(np.zeros((3, 3), np.float32), shadow, None, np.zeros((1, 1, 1, 3), np.float32), (0, 1, 0, 1))

    def smeared(x: float, y: float) -> np.ndarray:
        ways = [np.eye(4) + np.outer([x, y + gone, 0, 0], [0, 0, 0, 1.0]) for gone in (0.0, 0.02)]
        opened, closed = (
            ViewState(lens.clip_from_world(ahead), ahead.position, ahead, way, way, 0.0, moment, 0.0)
            for moment, way in enumerate(ways)
        )
        found = with_shadows_smeared(FrameState([opened], sharp, opened, closed, (0.0, 0.0)), lens, (0.2,), 0.5)
        assert found.light is not None
        return found.light.shadow

    # Half of 20 mm, of 200 mm that are 100 cells: five, evenly from one to the other.
    assert np.allclose(smeared(0.1, 0.4)[0, 47:53, 0], [1.0, 0.84, 0.68, 0.52, 0.36, 0.2])
    assert np.array_equal(smeared(0.0, -0.2), smeared(0.1, 0.4))
