"""Light falls as geometry says it must."""

import math

import numpy as np
import pytest

from previz.layout.emitters import Ambient, AreaEmitter, BulbEmitter, SpotEmitter, rectangle_factor
from previz.light.direct import direct_light, leaf_light
from previz.light.occluders import OFFSET, Moved, Occluders
from previz.light.patterns import cosine_directions, directions_about
from previz.light.receivers import Receivers, floats
from previz.light.samples import Samples
from previz.light.surroundings import ambient_radiance, look_round
from previz.stage.light.effort import EFFORTS
from previz.stage.light.lamps_on_ground import lamps_on_ground
from previz.stage.light.lit_set import TableGrid
from previz.stage.light.table_map import filled

NOTHING = Occluders(np.zeros((0, 3)), np.zeros((0, 3)))
UP = (0.0, 0.0, 1.0)
WHITE = (1.0, 1.0, 1.0)
FINE = Samples(panel=144, probes=34, spot=40, round=512)


def sheet(x0, x1, y0, y1, z):
    """Corners and faces of a level rectangle."""
    return np.array([[x0, y0, z], [x1, y0, z], [x1, y1, z], [x0, y1, z]]), np.array([[0, 1, 2], [0, 2, 3]])


def overhead(side, height, radiance=1.0):
    half = side / 2
    return AreaEmitter((0, 0, height), (half, 0, 0), (0, -half, 0), (0, 0, -1), (radiance,) * 3)


def lit(points, emitters, occluders=NOTHING, samples=FINE, normals=UP, two_sided=False):
    points = np.atleast_2d(points)
    receivers = Receivers.of(points, np.broadcast_to(normals, points.shape), two_sided)
    sky = look_round(receivers, occluders, samples.round).sky_light(ambient_radiance(emitters))
    return (direct_light(receivers, emitters, [occluders], samples) + sky)[:, 0]


def test_open_points_get_the_closed_form():
    panel = overhead(0.3, 0.5, 100.0)
    points = np.array([[0, 0, 0], [0.4, 0.1, 0], [1.5, 0, 0.2]])
    truth = 100 * rectangle_factor(points, np.tile(UP, (3, 1)), panel)
    assert lit(points, [panel]) == pytest.approx(truth, rel=1e-3)


def test_a_panel_shines_to_one_side_only():
    assert lit([0, 0, 1.0], [overhead(0.3, 0.5)], normals=(0, 0, -1.0))[0] == 0


def test_a_panel_half_below_the_horizon_gives_its_upper_half():
    """A wall at right angles to the panel's middle sees the half in front of it."""
    panel = overhead(0.3, 0.5)
    half = AreaEmitter((0.075, 0, 0.5), (0.075, 0, 0), (0, -0.15, 0), (0, 0, -1), WHITE)
    wall = (1.0, 0.0, 0.0)
    truth = rectangle_factor(np.zeros((1, 3)), np.array([wall]), half)[0]
    assert lit([0, 0, 0], [panel], normals=wall)[0] == pytest.approx(truth, rel=0.02)  # 144 points over the area


def test_spot_follows_the_inverse_square_and_the_cosine():
    """E = I cos / d^2 (CIE e-ILV term 912, seen)."""
    spot = SpotEmitter((0, 0, 1), (0, 0, -1), 0.01, math.radians(60), (50.0,) * 3)
    near, far, tilted = lit([[0, 0, 0.5], [0, 0, 0], [0.2, 0, 0]], [spot])
    assert near == pytest.approx(200, rel=1e-3)
    assert far == pytest.approx(50, rel=1e-3)
    assert tilted == pytest.approx(50 * math.cos(math.atan(0.2)) ** 3, rel=1e-3)


def test_outside_the_beam_is_dark():
    spot = SpotEmitter((0, 0, 1), (0, 0, -1), 0.01, math.radians(60), (50.0,) * 3)
    assert lit([math.tan(math.radians(30.1)), 0, 0], [spot])[0] == 0


def test_bulb_lights_as_a_point_at_its_middle():
    bulb = BulbEmitter((0, 0, 0.16), 0.002, (1.0,) * 3)
    assert lit([[0, 0, 0]], [bulb])[0] == pytest.approx(1 / 0.16**2, rel=2e-3)


def test_geometry_behind_a_lamp_does_not_hide_it():
    roof = Occluders(*sheet(-1, 1, -1, 1, 0.3))
    bulb = BulbEmitter((0, 0, 0.16), 0.002, (1.0,) * 3)
    assert lit([0, 0, 0], [bulb], roof)[0] > 0
    assert lit([0, 0, 0], [BulbEmitter((0, 0, 0.4), 0.002, WHITE)], roof)[0] == 0


def test_weak_bulbs_left_out_are_bounded():
    """A hundred lamps in a row: what is left out stays below the stated 2 %."""
    bulbs = [BulbEmitter((0.1 * i, 0, 0.1), 0.001, WHITE) for i in range(-50, 50)]
    truth = sum(0.1 / (0.01 * i * i + 0.01) ** 1.5 for i in range(-50, 50))
    assert lit([0, 0, 0], bulbs)[0] == pytest.approx(truth, rel=0.02)


def test_sky_through_a_round_hole_is_a_lambertian_disc():
    """On the axis of a disc of radius R at height h: E = pi L R^2 / (R^2 + h^2), closed form."""
    radius, height, turns = 0.1, 0.1, np.linspace(0, 2 * math.pi, 241)
    ring = np.stack([np.cos(turns), np.sin(turns), np.zeros(241)], axis=1)
    corners = np.concatenate([ring * radius, ring * 100]) + np.array([0, 0, height])
    i = np.arange(240)
    faces = np.concatenate([np.stack([i, i + 1, i + 241], 1), np.stack([i + 1, i + 242, i + 241], 1)])
    found = lit([0, 0, -OFFSET], [Ambient(WHITE)], Occluders(corners, faces))[0]
    assert found == pytest.approx(1.570796, rel=0.01)  # 512 directions


def test_ambient_on_open_table_wall_and_ceiling():
    sky = [Ambient((20 / math.pi,) * 3)]
    assert lit([0, 0, 0], sky)[0] == pytest.approx(20)
    assert lit([0, 0, 0], sky, normals=(0, -1, 0))[0] == pytest.approx(10)
    assert lit([0, 0, 0], sky, normals=(0, 0, -1))[0] == 0


def test_a_leaf_is_lit_alike_from_either_side():
    lamps = [overhead(0.3, 0.5), Ambient(WHITE)]
    above = lit([0, 0, 0], lamps, two_sided=True)
    below = lit([0, 0, 0], lamps, normals=(0, 0, -1), two_sided=True)
    assert above == pytest.approx(below, rel=1e-3)
    assert above == pytest.approx(lit([0, 0, 0], lamps), rel=1e-3)


def test_penumbra_of_a_panel_is_as_wide_as_geometry_says():
    """Panel of side a at height H, edge at height h: penumbra a h / (H - h), the middle below the edge."""
    side, high, low = 0.3, 1.0, 0.1
    screen = Occluders(*sheet(-3, 0, -3, 3, low))
    x = np.linspace(-0.05, 0.05, 401)
    points = np.stack([x, 0 * x, 0 * x], axis=1)
    panel = overhead(side, high)
    share = lit(points, [panel], screen) / lit(points, [panel])
    wide = side * low / (high - low)
    # The panel's even brightness makes the share rise straight (to its cosines); 144 columns stand over it.
    assert share == pytest.approx(np.clip(0.5 + x / wide, 0, 1), abs=0.02)
    assert (np.diff(share) > -1e-4).all()


def test_few_rays_find_the_same_shadow_as_many():
    screen = Occluders(*sheet(-3, 0, -3, 3, 0.1))
    x = np.linspace(-0.05, 0.05, 101)
    points = np.stack([x, 0 * x, 0 * x], axis=1)
    few = lit(points, [overhead(0.3, 1.0)], screen, Samples())
    many = lit(points, [overhead(0.3, 1.0)], screen, FINE)
    assert few == pytest.approx(many, abs=0.05 * float(many.max()))  # one of 34 rays and the probes' blind rim


def test_shadow_falls_away_from_the_lamp():
    """A lamp at the left throws a post's shadow to the right."""
    corners = np.array([[0, -0.01, 0], [0, 0.01, 0], [0, 0.01, 0.1], [0, -0.01, 0.1]])
    post = Occluders(corners, [[0, 1, 2], [0, 2, 3]])
    spot = SpotEmitter((-0.5, 0, 0.5), (0.7071068, 0, -0.7071068), 0.002, 1.0, WHITE)
    left, right, beyond = lit([[-0.05, 0, 0], [0.05, 0, 0], [0.2, 0, 0]], [spot], post)
    assert left > 0 and beyond > 0
    assert right == 0


class Level:
    """A level table 300 mm wide and 100 mm deep, with what stands over it, for `lamps_on_ground`."""

    table = (0.3, 0.1)

    def __init__(self, occluders):
        self.occluders = occluders

    def on_ground(self, places):
        return Receivers.of(np.column_stack([places, np.zeros(len(places))]), np.broadcast_to(UP, (len(places), 3)))

    def sharp(self, lamps, texel=0.0025):
        """Light from lamps in the finest texels, and the side of one."""
        rows, columns = round(self.table[1] / texel), round(self.table[0] / texel)
        x, y = (np.arange(columns) + 0.5) * texel, (rows - 0.5 - np.arange(rows)) * texel
        ground = self.on_ground(np.stack([np.tile(x, rows), np.repeat(y, columns)], axis=1))
        full = EFFORTS["full"]
        found = lamps_on_ground(self, TableGrid(ground, rows, columns), lamps, full).sharp
        return found[..., 0], texel * rows / len(found)


def test_the_shadow_of_a_thin_post_is_a_line_and_not_dashes():
    """Of a strip 1.2 mm wide, aslant over texels of 2.5 mm: as wide everywhere, by the light that is missing."""
    wide, slope = 0.0012, 0.06
    ends = [(at, 0.04 + slope * at + side * wide / 2, 0.01) for at in (-0.1, 0.4) for side in (-1, 1)]
    strip = Occluders(np.array(ends), [[0, 2, 3], [0, 3, 1]])
    sun = SpotEmitter((0.15, 0.05, 8.0), (0, 0, -1), 0.01, 1.0, WHITE)
    (light, texel), (clear, _) = (Level(each).sharp([sun]) for each in (strip, NOTHING))
    missing = texel * (1 - light / clear).sum(axis=0)
    assert missing.mean() == pytest.approx(wide, rel=0.05)
    assert missing.min() > 0.6 * wide and missing.max() < 1.4 * wide


def test_a_pebble_throws_a_shadow_as_sharp_as_its_lamp_makes_it():
    """Of a lid 6 mm square and 6 mm above the table, under a lamp of 40 mm at 1 m: the light at each place there."""
    lid = Occluders(*sheet(0.147, 0.153, 0.047, 0.053, 0.006))
    sun = SpotEmitter((-0.35, 0.05, 0.866), (0.5, 0, -0.866), 0.04, 1.9, WHITE)
    light, texel = Level(lid).sharp([sun])
    rows, columns = light.shape
    x, y = (np.arange(columns) + 0.5) * texel, (rows - 0.5 - np.arange(rows)) * texel
    near = (np.abs(x - 0.153) < 0.012, np.abs(y - 0.05) < 0.012)
    places = np.stack([np.tile(x[near[0]], near[1].sum()), np.repeat(y[near[1]], near[0].sum())], axis=1)
    truth = direct_light(Level(lid).on_ground(places), [sun], [lid], FINE)[:, 0].reshape(near[1].sum(), -1)
    found = light[np.ix_(near[1], near[0])]
    assert found.min() < 0.03 * found.max()  # no lamp reaches the middle
    # An edge may pass anywhere through a texel of 0.8 mm, which has the mean of it and not what its middle has.
    assert np.abs(found - truth).mean() < 0.04 * truth.max()


def test_what_is_covered_is_as_bright_as_what_is_beside_it():
    """As by a tent over what is known, (1 2 1) / 4 both ways, which grows by a texel three times."""
    values = np.arange(1, 82, dtype=np.float32).reshape(9, 9, 1)
    covered = np.zeros((9, 9), bool)
    covered[:, 4:] = True
    found = filled(values, covered)[..., 0]
    assert found[:, :4] == pytest.approx(values[:, :4, 0])
    expected = (values[0:-2, 3] + 2 * values[1:-1, 3] + values[2:, 3])[:, 0] / 4
    assert found[1:-1, 4] == pytest.approx(expected)
    assert (found[:, 4:7] > 0).all() and (found[:, 7:] == 0).all()


def room(side=1.0, steps=6):
    """The six walls of a closed room, normals inward, and its occluders."""
    grid = np.linspace(-side / 2, side / 2, steps)
    corners, faces, normals = [], [], []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            a, b = np.meshgrid(grid, grid, indexing="ij")
            wall = np.insert(np.stack([a.ravel(), b.ravel()], 1), axis, sign * side / 2, axis=1)
            start = sum(map(len, corners))
            n = np.arange(steps * steps).reshape(steps, steps)[:-1, :-1].ravel() + start
            faces += [np.stack([n, n + 1, n + steps + 1], 1), np.stack([n, n + steps + 1, n + steps], 1)]
            corners.append(wall)
            normals.append(np.tile(np.insert([0.0, 0.0], axis, -sign), (len(wall), 1)))
    return np.concatenate(corners), np.concatenate(faces), np.concatenate(normals)


def test_white_furnace():
    """In a closed room whose walls all glow alike, light is even and adds up: E = pi L (1 + r + r^2 + ...)."""
    corners, faces, normals = room()
    inset = corners * 0.98  # corners of a room lie in two walls at once
    seen = look_round(Receivers.of(inset, normals), Occluders(corners, faces), 64)
    assert (seen.hits >= 0).mean() > 0.9999  # no light leaks out
    glow, albedo = 10.0, 0.5
    light = np.zeros((len(corners), 3))
    expected = 0.0
    for bounce in range(4):
        radiance = glow + albedo / math.pi * light[faces].mean(axis=1)
        light = seen.surface_light(radiance)
        expected += math.pi * glow * albedo**bounce
        assert light == pytest.approx(np.full_like(light, expected), rel=1e-3)


def test_directions_are_cosine_weighted_units_about_the_normal():
    rng = np.random.default_rng(3)
    normals = rng.normal(size=(50, 3))
    normals = (normals / np.linalg.norm(normals, axis=1, keepdims=True)).astype(np.float32)
    ways = directions_about(normals, cosine_directions(256))
    assert np.linalg.norm(ways, axis=-1) == pytest.approx(np.ones((256, 50)), abs=1e-5)
    # The mean of a cosine-weighted hemisphere is 2/3 of the normal.
    assert ways.mean(axis=0) == pytest.approx(normals * 2 / 3, abs=0.01)


def test_direct_light_of_nothing_is_nothing():
    receivers = Receivers.of(np.zeros((0, 3)), np.zeros((0, 3)))
    assert direct_light(receivers, [overhead(0.3, 1.0)], [NOTHING], Samples()).shape == (0, 3)


def test_leaves_that_share_their_view_are_lit_as_one_by_one():
    rng = np.random.default_rng(5)
    points = rng.uniform(-0.05, 0.05, (400, 3)).astype(np.float32)
    normals = rng.normal(size=(400, 3))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    leaves = Receivers.of(points, normals, True)
    lamps = [overhead(0.1, 1.0), BulbEmitter((0.3, 0, 0.1), 0.002, (0.001,) * 3)]
    screen = Occluders(*sheet(-1, 0, -1, 1, 0.5))
    one_by_one = direct_light(leaves, lamps, [screen], FINE)
    shared = leaf_light(leaves, 0.004, lamps, [screen], FINE)
    # Edge-on leaves see part of the panel by either face, so a mean is compared.
    assert shared.mean() == pytest.approx(one_by_one.mean(), rel=0.02)
    assert np.corrcoef(shared[:, 0], one_by_one[:, 0])[0, 1] > 0.99


def test_leaves_are_told_from_sheets():
    rng = np.random.default_rng(5)
    points = rng.uniform(0, 0.02, (600, 3))
    normals = rng.normal(size=(600, 3))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    flat = points + np.array([1.0, 0, 0])
    together = Receivers.of(np.concatenate([points, flat]), np.concatenate([normals, np.tile(UP, (600, 1))]), True)
    leaves = together.leaves(0.012, together.normals)
    assert leaves[:600].mean() > 0.95
    assert not leaves[600:].any()


def test_grouped_receivers_stand_for_their_like():
    points = np.array([[0, 0, 0], [0.0001, 0, 0], [0.0001, 0, 0], [0.5, 0, 0]])
    normals = np.array([UP, UP, (0, 0, -1.0), UP])
    fewer, group_of = Receivers.of(points, normals).grouped(0.001)
    assert len(fewer) == 3
    assert group_of[0] == group_of[1] != group_of[2]
    assert (fewer.normals[group_of] == normals).all()


def test_moved_occluders_are_where_they_are_moved():
    post = Occluders(*sheet(-0.1, 0.1, -0.1, 0.1, 0.0))
    turn = np.array([[0.0, 0, 1], [0, 1, 0], [-1, 0, 0]])  # its face to x
    moved = Moved(post, turn, np.array([1.0, 0, 0.5]))
    clear = moved.clear(floats([[0, 0, 0.5], [0, 0, 0.5], [0, 0, 0.8]]), floats([[2, 0, 0], [0.9, 0, 0], [2, 0, 0]]))
    assert clear.tolist() == [False, True, True]
