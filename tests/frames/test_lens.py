"""The frustum of a view: which way is up, what the frame covers, what stands still."""

import numpy as np
import pytest

from previz.errors import PrevizError
from previz.frames.lens import Lens
from previz.layout.camera import CameraPose

AHEAD = CameraPose(np.zeros(3), np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]), 0.5)  # looks along +y, up is +z
FULL = Lens(0.050, 2.8, (0.036, 0.024), (720, 480))


def pixel(lens, pose, point, pupil=(0, 0)):
    """Where a point lands: columns from the left, rows from the top, pixel centres at +0.5."""
    x, y, _, w = lens.clip_from_world(pose, pupil) @ [*point, 1]
    return np.array([(x / w + 1) / 2 * lens.size[0], (1 - y / w) / 2 * lens.size[1]])


def test_the_focused_field_is_what_the_coverage_check_says():
    # Thin-lens geometry by hand: m = 50 / (500 - 50) = 1/9, so 36 x 24 mm covers 324.0 x 216.0 mm there.
    assert np.allclose(FULL.field_at_focus(0.5), [0.324, 0.216], atol=1e-9)


@pytest.mark.parametrize(
    ("point", "expected"),
    [
        ((0, 0.5, 0), (360, 240)),
        ((0.162, 0.5, 0), (720, 240)),  # right of the axis is right in the picture
        ((0, 0.5, 0.108), (360, 0)),  # up is row 0
        ((-0.162, 0.5, -0.108), (0, 480)),
        # The backdrop 400 mm behind: view width 583.2 mm (same check).
        ((0.2916, 0.9, 0), (720, 240)),
    ],
)
def test_edges_of_the_frame(point, expected):
    assert np.allclose(pixel(FULL, AHEAD, point), expected, atol=1e-6)


def test_the_plane_of_focus_stands_still_from_every_point_of_the_pupil():
    point = (0.1, 0.5, -0.05)
    still = pixel(FULL, AHEAD, point)
    for pupil in [(1, 0), (0, 1), (-0.6, 0.7)]:
        assert np.allclose(pixel(FULL, AHEAD, point, pupil), still, atol=1e-6)


def test_a_far_point_moves_over_the_blur_disc():
    # Formula of Wikipedia "Circle of confusion" (seen), run; Mitsuba 3.9.1 came within 0.5 %: 50 mm, f/2.8, focus
    # 500 mm, point at 1000 mm -> disc 0.99206 mm on the sensor, from one rim of the pupil to the other.
    left, right = (pixel(FULL, AHEAD, (0, 1.0, 0), (side, 0)) for side in (-1, 1))
    across = abs(right[0] - left[0]) / 720 * 36
    assert np.isclose(across, 0.99206, atol=5e-6)


def test_jitter_moves_the_picture_by_parts_of_a_pixel():
    x, y, _, w = FULL.clip_from_world(AHEAD, (0, 0), (0.25, -0.5)) @ [0, 0.5, 0, 1]
    assert np.isclose(abs(x / w / 2 * 720), 0.25)
    assert np.isclose(abs(y / w / 2 * 480), 0.5)


def test_focus_nearer_than_the_focal_length_is_refused():
    with pytest.raises(PrevizError, match="cannot focus nearer"):
        FULL.field_at_focus(0.05)
