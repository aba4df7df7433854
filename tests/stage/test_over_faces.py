"""Light held at corners far apart, where a thin thing's shadow falls."""

from collections.abc import Callable

import numpy as np
import pytest

from previz.light import Floats, Receivers, floats
from previz.stage.light.effort import EFFORTS
from previz.stage.light.ground_grid import GroundGrid
from previz.stage.light.over_faces import WideFaces
from previz.stage.light.vehicle_rays import vehicle_rays
from previz.stage.model import VehicleModel
from previz.stage.shapes import solids
from previz.stage.shapes.finish import subdivided

SIDE, STEP = 9, 0.01  # corners along a square panel, and how far apart they are [m]


def panel() -> tuple[Receivers, np.ndarray]:
    """A square panel that faces up, and its triangles."""
    x, y = (axis.ravel() * STEP for axis in np.meshgrid(np.arange(SIDE), np.arange(SIDE)))
    points = np.column_stack([x, y, 0 * x])
    first = (np.arange(SIDE - 1)[:, None] * SIDE + np.arange(SIDE - 1)).ravel()
    cells = np.concatenate(
        [
            np.column_stack([first, first + 1, first + SIDE + 1]),
            np.column_stack([first, first + SIDE + 1, first + SIDE]),
        ]
    )
    return Receivers.of(points, np.tile([0, 0, 1], (len(points), 1))), cells


def shaded_by(post: float, wide: float) -> Callable[[Receivers], Floats]:
    """Light of 1 but for the shadow of a post, which runs along y."""

    def direct(here: Receivers) -> Floats:
        lit = np.abs(here.points[:, 0] - post) > wide / 2
        return floats(np.repeat(lit[:, None], 3, axis=1))

    return direct


def over(light: Floats, faces: np.ndarray) -> float:
    """The mean that is drawn: between corners light is a ramp, and all faces are as large."""
    return float(light[faces].mean())


def test_a_thin_shadow_takes_about_as_much_light_as_it_should() -> None:
    """Its share of the panel is known: its width over the panel's."""
    here, faces = panel()
    wide = WideFaces.of(here.points[faces], faces, STEP / 2, len(here))
    rng, thin = np.random.default_rng(5), 0.4 * STEP
    at_corners, again = [], []
    for post in rng.uniform(1.8 * STEP, (SIDE - 2.8) * STEP, 60):
        direct = shaded_by(post, thin)
        light = direct(here)
        at_corners.append(over(light, faces))
        again.append(over(wide.evened(light, here, direct), faces))
    true = 1 - thin / (STEP * (SIDE - 1))
    seen = np.array(at_corners) < 1  # the others fall between corners, where nothing is known of them
    assert 10 < seen.sum() < 50
    off = np.abs(np.array([at_corners, again])[:, seen] - true).mean(axis=1)
    assert off[1] < 0.5 * off[0]
    assert np.array(again)[~seen] == pytest.approx(1)


def test_no_corner_is_darkest_by_itself() -> None:
    """A small round shadow over one corner: before, that one alone had none of the light."""
    here, faces = panel()
    wide = WideFaces.of(here.points[faces], faces, STEP / 2, len(here))
    middle = here.points[SIDE * SIDE // 2]

    def direct(there: Receivers) -> Floats:
        lit = np.linalg.norm(there.points - middle, axis=1) > 0.25 * STEP
        return floats(np.repeat(lit[:, None], 3, axis=1))

    light = direct(here)
    assert light.min() == 0
    # Each of its places is a third of the way to the middles of the faces about it: all are past the shadow's edge.
    assert wide.evened(light, here, direct).min() > 0.5


def test_the_edge_of_a_shadow_is_straight_on_small_faces_of_any_shape() -> None:
    """Across a mesh of uneven triangles: all along it corners should have the same light."""
    fine = EFFORTS["full"].wide
    rng, step = np.random.default_rng(8), 0.002
    here, faces = panel()
    points = here.points * np.float32(step / STEP)
    points[:, :2] += rng.uniform(-0.35, 0.35, (len(points), 2)) * step
    here = Receivers.of(points, here.normals)
    wide = WideFaces.of(points[faces], faces, fine, len(here))
    uneven, asked = [], []
    for edge in rng.uniform(2 * step, (SIDE - 3) * step, 20):

        def direct(there: Receivers, edge: float = edge) -> Floats:
            asked.append(len(there))
            return floats(np.repeat((there.points[:, :1] > edge), 3, axis=1))

        light = direct(here)
        along = np.abs(points[:, 0] - edge) < 0.35 * step  # corners where the edge is: their light is a toss as it is
        uneven.append([each[along, 0].std() for each in (light, wide.evened(light, here, direct))])
    before, after = np.mean(uneven, axis=0)
    assert before > 0.4
    assert after < 0.5 * before
    assert max(asked[1::2]) < 0.6 * len(faces)  # one place a face, and only about the edge


def test_even_light_and_small_faces_are_left_as_they_are() -> None:
    here, faces = panel()
    asked = []

    def direct(there: Receivers) -> Floats:
        asked.append(len(there))
        return floats(np.ones((len(there), 3)))

    rising = floats(np.repeat(1 + here.points[:, :1], 3, axis=1))
    wide = WideFaces.of(here.points[faces], faces, STEP / 2, len(here))
    assert wide.evened(rising, here, direct) is rising
    shadowed = shaded_by(4 * STEP, STEP)(here)
    none_wide = WideFaces.of(here.points[faces], faces, 2 * STEP, len(here))
    assert none_wide.evened(shadowed, here, direct) is shadowed
    assert not asked


def test_a_corner_inside_another_box_has_the_light_of_one_that_is_seen() -> None:
    """A box that stands in another: its lowest corners are dark, and all that is seen of it would be smudged."""
    grey = (0.5, 0.5, 0.5)
    low = solids.placed(solids.coloured(solids.box((0.10, 0.04, 0.02)), grey), (0.0, 0.0, 0.02))
    high = solids.placed(solids.coloured(solids.box((0.03, 0.03, 0.04)), grey), (0.0, 0.0, 0.035))
    vehicle = VehicleModel((low, subdivided(high, 0.012)), (), (), 0.1, 0.04, 0.055)
    rays = vehicle_rays(vehicle, GroundGrid((-0.1, 0.1, -0.1, 0.1), 4, 4), 36, 0.0008)
    own, taken = rays.receivers.take(rays.receiver_of), rays.receivers.take(rays.corners_of)
    corners = vehicle.whole[0]
    upright = (np.arange(len(corners)) >= len(low.vertices)) & (np.abs(own.normals[:, 2]) < 0.1)
    buried = upright & (corners[:, 2] < 0.029)
    assert buried.any()
    assert (taken.points[buried, 2] >= 0.03).all()  # where one stands on the other, or higher
    assert (np.einsum("ni,ni->n", taken.normals, own.normals)[buried] > 0.9).all()
    above = upright & (corners[:, 2] > 0.031)
    assert np.array_equal(taken.points[above], own.points[above])
