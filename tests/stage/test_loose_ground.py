"""Gravel, mud, tracks, puddles and kerbs as they are built: where they lie, how wide, from one seed alike."""

import numpy as np
import pytest
from set_scenes import scene

from previz.layout import puddles_of, roadside_of, tyre_track
from previz.physics.colour import srgb_linear
from previz.stage.pieces.loose_stones import loose_stones
from previz.stage.table.ground import Ground, build_ground
from previz.stage.table.kerbs import build_kerbs

ROAD = {"lane": "3 m full size", "lanes": 2, "centre": [[-50, 150], [450, 150]], "edges": False, "markings": "none"}


def rows_of(ground: Ground) -> np.ndarray:
    """Of the middle of each row of texels, from the table's front. [m]"""
    count = ground.image.shape[0]
    return 0.3 - (np.arange(count) + 0.5) * 0.3 / count


def test_tracks_lie_under_the_wheels_as_wide_as_the_tyres() -> None:
    ground = {"surface": "sand", "seed": 3}
    van = {"body": "van", "speed": "0.9 m/s", "path": [[0, 150], [400, 150]]}
    without, tracked = (build_ground(scene(ground={**ground, "tracks": on}, vehicle=van)) for on in (False, True))
    darker = srgb_linear(without.image[..., 1] / 255).mean(axis=1) - srgb_linear(tracked.image[..., 1] / 255).mean(
        axis=1
    )
    y, track = rows_of(tracked), tyre_track(scene(ground=ground, vehicle=van))
    # A van's track of 1.7 m and tyres 0.22 m wide, from memory; two passages lie a few centimetres off each other.
    for side in (-1, 1):
        near = (y - 0.15) * side > 0
        middle = (np.clip(darker, 0, None) * y)[near].sum() / np.clip(darker, 0, None)[near].sum()
        assert abs(middle - 0.15) == pytest.approx(1.7 / 50 / 2, abs=0.001) and track.apart == pytest.approx(1.7 / 50)
        wide = (darker[near] > 0.4 * darker.max()).sum() * 0.3 / len(y)
        assert 0.22 / 50 * 0.8 < wide < 0.22 / 50 * 2
    assert np.array_equal(without.image[np.abs(y - 0.15) > 0.03], tracked.image[np.abs(y - 0.15) > 0.03])


def test_a_film_lies_where_the_puddles_do_and_nowhere_on_dry_ground() -> None:
    assert build_ground(scene(ground={"surface": "gravel"})).film is None
    wet = scene(ground={"surface": "gravel", "puddles": {"count": 5, "size": [15, 40], "seed": 4}})
    ground = build_ground(wet)
    assert ground.film is not None
    y, x = rows_of(ground), (np.arange(ground.image.shape[1]) + 0.5) * 0.4 / ground.image.shape[1]
    inside = np.max([each.inside(x[None], y[:, None]) * each.radius for each in puddles_of(wet)], axis=0)
    assert (ground.film[inside > 0.005] > 250).mean() > 0.99 and not ground.film[inside < -0.006].any()
    again = build_ground(wet)
    assert np.array_equal(again.film, ground.film) and np.array_equal(again.image, ground.image)


def test_no_puddle_shows_on_a_pavement_and_mud_gleams_in_part() -> None:
    wet = {"surface": "mud", "puddles": {"count": 9, "size": [30, 60], "seed": 1}}
    street = scene(ground=wet, road={**ROAD, "pavement": "both"})
    ground, side = build_ground(street), roadside_of(street)
    assert ground.film is not None
    y, x = rows_of(ground), (np.arange(ground.image.shape[1]) + 0.5) * 0.4 / ground.image.shape[1]
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    raised = side.height(places).reshape(ground.film.shape) > 0
    assert 0.1 < raised.mean() < 0.9 and not ground.film[raised].any()
    mud = ground.film[y < 0.06]
    assert 0.1 < (mud > 40).mean() < 0.95


def test_kerbs_and_pavements_are_built_where_they_stand_and_closed_to_the_outside() -> None:
    street = scene(road={**ROAD, "centre": [[-50, 150], [200, 160], [450, 150]], "pavement": "left", "kerb": "both"})
    ground = build_ground(street)
    top = ground.mesh.vertices[ground.own :]
    assert len(top) and top[:, 2] == pytest.approx(0.0025)
    inner = np.array([0.0, 0.0, -1e-4])
    assert ((top >= inner) & (top <= [0.4, 0.3, 1.0])).all()
    stones = build_kerbs(street)
    for mesh in stones:
        corners = mesh.vertices[mesh.faces]
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        # Triangles turn the way their normals point, or light and culling would take their insides.
        assert (np.einsum("ni,ni->n", across, mesh.normals[mesh.faces].mean(axis=1)) > 0).mean() > 0.999
        assert mesh.vertices[:, 2].max() == pytest.approx(0.0025) and mesh.vertices[:, 2].min() > -0.001


@pytest.mark.parametrize(("centre", "sides"), [([[-50, 20], [450, 20]], 1), ([[-50, -300], [450, -320]], 0)])
def test_no_kerb_stands_on_the_table_s_edge_for_a_side_of_the_road_that_lies_past_it(
    centre: list[list[float]], sides: int
) -> None:
    van = {"body": "van", "speed": "0.9 m/s", "path": [[0, 250], [400, 250]]}
    found = build_kerbs(scene(road={**ROAD, "centre": centre, "pavement": "both"}, vehicle=van))
    assert len(found) == 2 * sides  # the stones and what is behind them
    assert all(mesh.vertices[:, 1].min() > 0.05 for mesh in found)


def test_loose_stones_keep_off_the_road_and_come_with_gravel_alone() -> None:
    assert loose_stones(scene(ground={"surface": "sand"}, road=ROAD)) == ()
    gravel = scene(ground={"surface": "gravel", "seed": 2}, road=ROAD)
    stones = loose_stones(gravel)
    corners = np.concatenate([mesh.vertices for mesh in stones])
    assert len(corners) > 500 and np.abs(corners[:, 1] - 0.15).min() > 3 / 50
    assert 0.0005 < corners[:, 2].max() < 0.0020  # 30 to 80 mm at full size
    again = np.concatenate([mesh.vertices for mesh in loose_stones(gravel)])
    assert np.array_equal(corners, again)


def test_an_edge_may_be_ragged_on_hard_ground_and_ruled_on_soft() -> None:
    def wander(surface: str, edge: str) -> float:
        """How far the road's edge strays, at full size [m]."""
        plain = {"surface": surface, "colour": "#ffffff"}
        image = build_ground(scene(ground=plain, road={**ROAD, "edge": edge, "colour": "#000000"})).image[..., 1]
        half = image[: image.shape[0] // 2] < 100
        return float(half.sum(axis=0).std() * 0.3 / image.shape[0] * 50)

    assert wander("concrete", "ruled") < 0.03 < 0.06 < wander("concrete", "ragged")
    assert wander("sand", "ruled") < 0.03 < 0.1 < wander("sand", "ragged") < 0.6
