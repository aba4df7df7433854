"""Growing things for scattering: sizes, detail, seeds, and normals that lean outwards."""

from collections.abc import Callable

import numpy as np
import pytest

from previz.layout import BROADLEAF_SPREAD, BUSH_SPREAD, CONIFER_SPREAD
from previz.mesh import Mesh
from previz.stage.pieces import foliage

GREEN = (0.07, 0.11, 0.03)
Maker = Callable[[float, np.random.Generator, float], tuple[Mesh, ...]]

MAKERS: dict[str, tuple[Maker, float]] = {
    "conifer": (lambda high, rng, detail: foliage.conifer(high, GREEN, 0.0, rng, detail), CONIFER_SPREAD),
    "snowy": (lambda high, rng, detail: foliage.conifer(high, GREEN, 0.6, rng, detail), CONIFER_SPREAD),
    "leafy": (lambda high, rng, detail: foliage.broadleaf(high, GREEN, False, rng, detail), BROADLEAF_SPREAD),
    "bare": (lambda high, rng, detail: foliage.broadleaf(high, GREEN, True, rng, detail), BROADLEAF_SPREAD),
    "bush": (lambda high, rng, detail: foliage.bush(high, GREEN, rng, detail), BUSH_SPREAD),
    "tuft": (lambda high, rng, detail: foliage.tuft(high, GREEN, rng, detail), foliage.TUFT_SPREAD),
}


def points(meshes: tuple[Mesh, ...]) -> np.ndarray:
    return np.concatenate([mesh.vertices for mesh in meshes])


@pytest.mark.parametrize("name", MAKERS)
@pytest.mark.parametrize("detail", [1.0, 0.25, 0.05])
def test_size_and_sound_arrays_at_every_detail(name: str, detail: float) -> None:
    make, spread = MAKERS[name]
    meshes = make(0.08, np.random.default_rng(4), detail)
    np.testing.assert_allclose(np.ptp(points(meshes), axis=0), [spread * 0.08, spread * 0.08, 0.08], rtol=1e-9)
    assert points(meshes)[:, 2].min() == pytest.approx(0.0, abs=1e-12)
    for mesh in meshes:
        np.testing.assert_allclose(np.linalg.norm(mesh.normals, axis=1), 1.0, atol=1e-6)
        a, b, c = mesh.vertices[mesh.faces].transpose(1, 0, 2)
        assert np.linalg.norm(np.cross(b - a, c - a), axis=1).min() > 0
        assert mesh.colours.min() >= 0 and mesh.colours.max() <= 1


@pytest.mark.parametrize("name", MAKERS)
def test_less_detail_is_fewer_corners(name: str) -> None:
    make, _ = MAKERS[name]
    counts = [len(points(make(0.08, np.random.default_rng(4), detail))) for detail in (1.0, 0.25, 0.05)]
    assert counts[0] > 2 * counts[1] > 2 * counts[2]


@pytest.mark.parametrize("name", MAKERS)
def test_a_seed_gives_one_tree_and_another_seed_another(name: str) -> None:
    make, _ = MAKERS[name]
    first, again, other = (points(make(0.1, np.random.default_rng(seed), 0.5)) for seed in (1, 1, 2))
    np.testing.assert_array_equal(first, again)
    assert first.shape != other.shape or not np.allclose(first, other)


@pytest.mark.parametrize("name", ["conifer", "leafy", "bush"])
def test_leaf_normals_lean_out_of_the_crown(name: str) -> None:
    make, _ = MAKERS[name]
    for mesh in make(0.2, np.random.default_rng(1), 1.0):
        if mesh.material.two_sided:
            outward = mesh.vertices - [0, 0, 0.3 * 0.2]
            assert np.mean(np.sum(outward * mesh.normals, axis=1) > 0) > 0.8


def test_log_lies_along_x_with_pale_ends() -> None:
    meshes = foliage.log(0.02, foliage.BARK, 0.0, np.random.default_rng(2))
    np.testing.assert_allclose(np.ptp(points(meshes), axis=0), [foliage.LOG_LENGTH * 0.02, 0.02, 0.02], rtol=1e-9)
    bark, left, right = meshes
    assert left.colours.mean() > 2 * bark.colours.mean()
    assert right.normals[:, 0].min() > 0.99 and left.normals[:, 0].max() < -0.99
