"""Few views of what moves: streaks without pickets, and what stands before or behind them as it is."""

from dataclasses import replace
from importlib import import_module

import numpy as np
import pytest
from bare import BareStage, bare_scene, plate

from previz.frames import Look, render_frames
from previz.mesh import Material, Mesh
from previz.stage import LitGround, VehicleModel

SIZE, SENSOR, VIEWS, FRAME = (320, 180), (36, 20.25), 8, 6
FIELD = SENSOR[0] / 1000 * (0.5 - 0.05) / 0.05  # across the plane of focus [m]


def carried(middle, width, glow):
    """A vehicle that is one upright bar."""
    half = np.array([[-width, -0.1], [width, -0.1], [width, 0.1], [-width, 0.1]]) / 2
    corners = np.column_stack([half[:, 0], np.zeros(4), half[:, 1]]) + middle
    mesh = Mesh(
        corners, np.array([[0, 1, 2], [0, 2, 3]]), np.tile([0.0, -1, 0], (4, 1)), np.zeros((4, 3)),
        Material(two_sided=True, glow=(glow, glow, glow)),
    )  # fmt: skip
    return VehicleModel((mesh,), (), (), 0.1, 0.04, 0.05)


def row_of(folder, stage, *, smeared=True, views=VIEWS):
    """The middle row of a picture in which the vehicle goes 20 px to the right, all but in focus."""
    scene = bare_scene(folder, sensor=SENSOR, stop=16, focus=500, size=SIZE, speed=1)
    look = Look(SIZE, views=views, frames=range(FRAME, FRAME + 1), noise=False, thorough=smeared)
    (only,) = render_frames(scene, stage, scene.shots[0], look)
    return only.linear[SIZE[1] // 2].sum(axis=1)


def streak(width, levels):
    """What a bar of that width leaves, convolved by hand: its cover at each pixel over an even shutter. [shares]"""
    scale = SIZE[0] / FIELD
    start, way, wide = SIZE[0] / 2, scale / 48, width * scale  # 1 m/s for 1/48 s from the picture's middle
    at = (np.arange(SIZE[0] * 16) + 0.5) / 16
    moments = (np.arange(400) + 0.5) / 400
    cover = np.mean([np.abs(at - start - way * moment) <= wide / 2 for moment in moments], axis=0)
    return levels[0] + (levels[1] - levels[0]) * cover.reshape(-1, 16).mean(axis=1)


@pytest.fixture(scope="module")
def stage():
    # 0.25 m along the path when frame 6 begins, so the bar is in the middle then.
    return BareStage((plate((0.5, 0.7, 0.5), 4, 4, 10),), vehicle=carried((0.25, 0, 0.5), 0.0015, 200))


def test_a_narrow_bar_leaves_an_even_streak_not_a_bar_for_each_view(tmp_path, stage):
    drawn, plain = (row_of(tmp_path, stage, smeared=smeared) for smeared in (True, False))
    levels = drawn[5], drawn[5] * 20
    expected = streak(0.0015, levels)
    inside = np.flatnonzero(expected > 0.99 * expected.max())[3:-3]  # its ends are softer for few views
    ripple, pickets = (np.ptp(row[inside]) / np.ptp(expected) for row in (drawn, plain))
    # Each view draws it one or two whole pixels wide, and three views lie over one another: a third to either side.
    assert pickets > 1.5 and ripple < 0.6, (pickets, ripple)


class Shaded(BareStage):
    """The vehicle throws a narrow shadow on an upright ground in the plane of focus."""

    def stations(self, distances):
        shadow = np.ones((4, 400, 3), np.float32)
        shadow[:, 198:202] = 0.1
        return tuple(replace(station, shadow=shadow) for station in super().stations(distances))


def test_the_shadow_of_what_moves_is_smeared_with_it(tmp_path):
    corners = np.array([[0.2, 0.5, 0.3], [0.8, 0.5, 0.3], [0.8, 0.5, 0.7], [0.2, 0.5, 0.7]])
    mesh = Mesh(corners, np.array([[0, 1, 2], [0, 2, 3]]), np.tile([0.0, -1, 0], (4, 1)), np.ones((4, 3)),
                uv=np.full((4, 2), 0.5))  # fmt: skip
    ground = LitGround(mesh, np.full((2, 2, 3), 200, np.uint8), np.full((2, 2, 3), 3000, np.float32))
    above = carried((0.25, 0, 0.64), 0.02, 20)
    shaded = Shaded((), ground=ground, vehicle=above, shadow_extent=(0.15, 0.35, -0.1, 0.1))
    drawn, plain = (row_of(tmp_path, shaded, smeared=smeared) for smeared in (True, False))
    expected = streak(0.002, (drawn[20], drawn[20] * 0.1))
    inside = np.flatnonzero(expected < expected.min() + 0.01 * np.ptp(expected))[3:-3]
    ripple, steps = (np.ptp(row[inside]) / np.ptp(expected) for row in (drawn, plain))
    assert steps > 0.8 and ripple < 0.3, (steps, ripple)
    assert np.isclose((drawn - drawn[20]).sum(), (expected - expected[20]).sum(), rtol=0.03)


def test_a_wide_bars_ends_are_ramps(tmp_path):
    wide = BareStage((plate((0.5, 0.7, 0.5), 4, 4, 10),), vehicle=carried((0.25, 0, 0.5), 0.06, 200))
    drawn = row_of(tmp_path, wide)
    expected = streak(0.06, (drawn[5], drawn[5] * 20))
    error = np.abs(drawn - expected) / np.ptp(expected)
    assert error.max() < 0.12 and error.mean() < 0.012, (error.max(), error.mean())
    # No light is lost: each view's edges fall on whole pixels, which are a 59th of the bar.
    assert np.isclose((drawn - drawn[5]).sum(), (expected - expected[5]).sum(), rtol=0.015)


def test_what_stands_before_a_streak_is_not_smeared_by_it(tmp_path, stage):
    post = plate((0.51, 0.49, 0.5), 0.008, 0.3, 60)
    drawn = row_of(tmp_path, replace(stage, still=(*stage.still, post)))
    many = row_of(tmp_path, replace(stage, still=(*stage.still, post)), smeared=False, views=256)
    assert np.abs(drawn - many).mean() < 0.06 * many.max()
    centre = int(SIZE[0] / 2 + 0.01 / FIELD * SIZE[0] * 0.5 / 0.49)
    assert np.isclose(drawn[centre], many[centre], rtol=0.02)


def test_without_motion_a_smear_changes_nothing(tmp_path):
    still = BareStage((plate((0.5, 0.7, 0.5), 0.1, 0.1, 50), plate((0.5, 0.9, 0.5), 4, 4, 10)))
    assert np.array_equal(*(row_of(tmp_path, still, smeared=smeared) for smeared in (True, False)))


def test_a_picture_may_be_so_high_that_its_views_do_not_fit_above_one_another(tmp_path, stage, monkeypatch):
    module = import_module("previz.frames.gl.smear")  # only now: it imports OpenGL
    usual = row_of(tmp_path, stage)
    # A view has 23 rows of tiles; the eight are drawn in a batch that has room for 32.
    monkeypatch.setattr(module, "HIGHEST", 300)
    assert np.array_equal(row_of(tmp_path, stage), usual)
    assert not np.array_equal(row_of(tmp_path, stage, smeared=False), usual)


def test_a_thread_thinner_than_a_pixel_leaves_an_even_streak_in_many_views_too(tmp_path):
    thin, broad = carried((0.25, 0, 0.5), 0.0003, 1000), carried((0.25, 0, 0.64), 0.02, 20)  # that one above the row
    carrier = replace(thin, body=(*thin.body, *broad.body))
    thread = BareStage((plate((0.5, 0.7, 0.5), 4, 4, 10),), vehicle=carrier)
    row = row_of(tmp_path, thread, views=72)
    expected = streak(0.0003, (row[5], row[5] * 100))
    inside = np.flatnonzero(expected > 0.99 * expected.max())[3:-3]
    # Each view draws it a whole pixel wide or not at all. Of views that are not smeared one or none falls on a pixel.
    assert np.ptp(row[inside]) < 1.4 * np.mean(row[inside] - row[5])
