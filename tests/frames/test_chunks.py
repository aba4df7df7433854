"""Which triangles are drawn, and in what order: none that may show is left out, and the nearest chunk comes first."""

from functools import partial

import numpy as np
import pytest

from previz.frames.gl.chunks import MOST, Chunks, Eyes

COUNT = 5 * MOST


@pytest.fixture(scope="module")
def scattered():
    """Small triangles all over a cube of 2 m, each with corners of its own."""
    rng = np.random.default_rng(11)
    corners = rng.uniform(-1, 1, (COUNT, 1, 3)) + rng.normal(0, 0.02, (COUNT, 3, 3))
    faces = np.arange(3 * COUNT).reshape(-1, 3)
    return corners.reshape(-1, 3), Chunks.of(corners.reshape(-1, 3), faces)


def owners(faces):
    return faces[:, 0] // 3


def test_each_triangle_of_the_chosen_chunks_comes_once(scattered):
    _, chunks = scattered
    chosen = np.arange(len(chunks.low)) % 2 == 0
    drawn = owners(chunks.front_to_back(chosen, Eyes(np.array([3.0, 0, 0]), np.zeros(3))))
    spans = zip(chunks.starts[:-1][chosen], chunks.starts[1:][chosen], strict=True)
    expected = np.concatenate([owners(chunks.faces[begin:end]) for begin, end in spans])
    assert len(chunks.low) > 4
    assert sorted(drawn) == sorted(expected)
    nothing = chunks.front_to_back(np.zeros(len(chunks.low), bool), Eyes(np.zeros(3), np.zeros(3)))
    assert nothing.shape == (0, 3)


def test_the_nearest_chunk_comes_first(scattered):
    _, chunks = scattered
    eye = np.array([3.0, 0.2, 0.1])
    faces = chunks.front_to_back(np.ones(len(chunks.low), bool), Eyes(eye, np.zeros(3)))
    chunk_of = np.empty(COUNT, int)
    chunk_of[owners(chunks.faces)] = np.repeat(np.arange(len(chunks.low)), np.diff(chunks.starts))
    order = chunk_of[owners(faces)]
    firsts = order[np.sort(np.unique(order, return_index=True)[1])]
    assert len(firsts) == len(chunks.low) == 1 + np.count_nonzero(np.diff(order))
    away = [np.linalg.norm(np.clip(eye, chunks.low[k], chunks.high[k]) - eye) for k in firsts]
    assert (np.diff(away) >= 0).all()
    assert away[-1] > away[0] + 0.5


def test_none_is_left_out_whose_front_some_eye_sees(scattered):
    vertices, chunks = scattered
    rng = np.random.default_rng(12)
    eyes = Eyes(np.array([2.0, 0.5, 0.3]), np.array([0.4, 0.1, 0.2]))
    some = rng.permutation(COUNT)[:500]
    facing = chunks.facing(eyes, some)
    first, second, third = np.moveaxis(vertices[chunks.faces[some]], 1, 0)
    across = np.cross(second - first, third - first)
    places = eyes.middle + eyes.half * np.concatenate([rng.uniform(-1, 1, (300, 3)), np.sign(rng.normal(size=(64, 3)))])
    seen = (np.einsum("ni,pni->np", across, places[:, None] - first) > 0).any(axis=1)
    assert not (seen & ~facing).any()
    # Seen from everywhere in the box or from nowhere: most are one of the two, and those of no front are left out.
    assert np.array_equal(seen, facing)
    assert 0.3 < facing.mean() < 0.8
    everything = np.ones(len(chunks.low), bool)
    drawn = owners(chunks.front_to_back(everything, eyes, partial(chunks.facing, eyes)))
    assert set(owners(chunks.faces[some[facing]])) <= set(drawn)
    assert not set(owners(chunks.faces[some[~facing]])) & set(drawn)


def test_chunks_that_may_reach_into_a_box(scattered):
    vertices, chunks = scattered
    low, high = np.array([-0.2, -1.0, -np.inf]), np.array([0.3, 0.1, np.inf])
    corners = vertices[chunks.faces]
    inside = ((corners.min(axis=1) <= high) & (corners.max(axis=1) >= low)).all(axis=1)
    touched = np.zeros(COUNT, bool)
    touched[chunks.numbers(chunks.touching(low, high))] = True
    assert 0 < inside.sum() < COUNT
    assert not (inside & ~touched).any()
