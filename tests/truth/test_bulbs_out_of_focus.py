"""A bare bulb out of focus is its lens's disc, whatever the number of views, and a ball where it is nearly sharp."""

from dataclasses import replace

import numpy as np
from bare import BareStage, bare_scene, picture, plate

from previz.frames import Look, render_frames
from previz.mesh import Material
from previz.stage import LitMesh
from previz.stage.shapes import solids

SIZE, SENSOR = (150, 100), (15, 10)


def bulb(y, radius, glow=4e6):
    """A glowing ball on the axis."""
    ball = solids.coloured(solids.ball(radius), (0.0, 0.0, 0.0), Material(glow=(glow, glow, glow)))
    ball = ball.moved(np.eye(3), np.array([0.5, y, 0.5]))
    lit = LitMesh(ball, np.zeros((len(ball.vertices), 3), np.float32))
    return replace(lit, mesh=replace(ball, material=replace(ball.material, globe=(0.5, y, 0.5, radius))))


def plain(scene, stage):
    """The mean of many views: every one sees the ball."""
    look = Look(size=SIZE, views=32, frames=range(1), noise=False, filtered=False)
    return next(iter(render_frames(scene, stage, scene.shots[0], look))).linear


def radii(linear, level):
    """From its middle to its rim, for each of 36 ways. [px]"""
    y, x = np.nonzero(linear[..., 1] > level)
    off = x + 0.5 - SIZE[0] / 2, y + 0.5 - SIZE[1] / 2
    turn = np.floor((np.arctan2(off[1], off[0]) / (2 * np.pi) % 1) * 36).astype(int)
    return np.array([np.hypot(*off)[turn == way].max() for way in range(36)])


def test_eight_views_show_a_round_disc(tmp_path):
    # Wide open the pupil is round: 50 mm at f/1.5. At 1.5 m, focused at 0.5 m, by the thin lens.
    scene = bare_scene(tmp_path, focal=50, stop=1.5, focus=500, size=SIZE, sensor=SENSOR)
    stage = BareStage((bulb(1.5, 0.012),))
    few = picture(scene, stage, size=SIZE, views=8)
    field = SENSOR[0] / 1000 * (0.5 - 0.05) / 0.05
    disc = 0.05 / 1.5 / 2 * (1.5 - 0.5) / 1.5 / field * SIZE[0]
    own = 0.012 / (1.5 / 0.5 * field) * SIZE[0]
    # At half of what is in its middle the rim is the disc's own.
    rim = radii(few, 0.5 * few[SIZE[1] // 2, SIZE[0] // 2, 1])
    assert disc - 1.3 < rim.min() and rim.max() < disc + 0.5, (rim, disc)
    # Where the faintest light still is white it reaches further by the ball's own picture, all round.
    outermost = radii(few, 0.004 * few[SIZE[1] // 2, SIZE[0] // 2, 1])
    assert disc + own - 1.6 < outermost.min() and outermost.max() < disc + own + 0.6, (outermost, disc + own)
    # As much light as balls of flat triangles send, whose outline has some 3 in a hundred less area than a circle.
    assert 1.0 < few.sum() / plain(scene, stage).sum() < 1.04


def test_a_bulb_that_is_nearly_sharp_is_hidden_in_part(tmp_path):
    """A plate before its right half: the ball is drawn, not its disc."""
    scene = bare_scene(tmp_path, focal=50, stop=8, focus=500, size=SIZE, sensor=SENSOR)
    stage = BareStage((bulb(0.52, 0.03, 1e4), plate((0.6, 0.48, 0.5), 0.2, 0.3, 0.0)))
    row = picture(scene, stage, size=SIZE, views=16)[SIZE[1] // 2, :, 1]
    many = plain(scene, stage)[SIZE[1] // 2, :, 1]
    assert row[65] > 0.9 * many.max() and row[85] < 0.02 * many.max()
    assert np.abs(row - many).mean() < 0.01 * many.max()
