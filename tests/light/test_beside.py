"""Light past two lots of triangles that were made ready apart: the same as past all of them together."""

import numpy as np

from previz.light import Receivers, floats, look_round
from previz.light.occluders import Beside, Occluders
from previz.light.surroundings import look_past


def lot(rng: np.random.Generator, count: int) -> np.ndarray:
    """Triangles (count, 3, 3) of about 0.2 m in a cube of one metre."""
    return np.asarray(rng.uniform(0, 1, (count, 1, 3)) + rng.uniform(-0.1, 0.1, (count, 3, 3)))


def occluders(*lots: np.ndarray) -> Occluders:
    corners = np.concatenate(lots).reshape(-1, 3)
    return Occluders(corners, np.arange(len(corners)).reshape(-1, 3))


def test_rays_meet_the_same_triangles() -> None:
    rng = np.random.default_rng(7)
    still, more = lot(rng, 300), lot(rng, 120)
    origins, rays = floats(rng.uniform(0, 1, (4000, 3))), floats(rng.normal(size=(4000, 3)))
    whole, beside = occluders(still, more), Beside(occluders(still), occluders(more))
    assert beside.count == whole.count == 420
    assert (beside.first(origins, rays) == whole.first(origins, rays)).mean() > 0.999  # but where two meet in an edge
    assert (beside.clear(origins, rays) == whole.clear(origins, rays)).mean() > 0.999
    met, far = beside.met(origins, rays)
    assert 0.05 < (met >= 300).mean() < 0.9 and np.isinf(far[met < 0]).all() and np.isfinite(far[met >= 0]).all()


def test_what_is_known_of_a_set_is_put_right_by_what_more_stands_there() -> None:
    rng = np.random.default_rng(8)
    still, more = lot(rng, 300), lot(rng, 120)
    ways = rng.normal(size=(50, 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    places = Receivers.of(rng.uniform(0, 1, (50, 3)), ways, rng.random(50) < 0.3)
    alone = look_round(places, occluders(still), 32, far=True)
    past = look_past(places, alone, 300, occluders(more))
    anew = look_round(places, occluders(still, more), 32)
    assert (past.hits == anew.hits).mean() > 0.999
    assert (past.hits != alone.hits).mean() > 0.05
    assert np.abs(past.sky - anew.sky).max() < 0.2 * np.pi and np.allclose(past.weight, anew.weight)
