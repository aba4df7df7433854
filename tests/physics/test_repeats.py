"""How many takes until enough are good, against scipy's own distributions and against takes that were thrown."""

import math

import numpy as np
import pytest
from scipy import stats

from previz.physics.repeats import chance_within, mean_takes, takes_for, takes_in_all

CASES = [(0.1, 1), (0.35, 1), (0.6, 2), (0.9, 5), (1.0, 3)]


@pytest.mark.parametrize(("share", "good"), CASES)
def test_the_chance_is_that_of_a_negative_binomial(share: float, good: int) -> None:
    # scipy counts the bad takes before the last good one, we count all takes.
    for takes in (0, 1, 4, 20):
        assert chance_within(takes, share, good) == pytest.approx(
            stats.nbinom.cdf(takes - good, good, share), abs=1e-12
        )


@pytest.mark.parametrize(("share", "good"), CASES)
@pytest.mark.parametrize("sure", [0.5, 0.9, 0.99])
def test_enough_takes_are_the_quantile(share: float, good: int, sure: float) -> None:
    assert takes_for(sure, share, good) == stats.nbinom.ppf(sure, good, share) + good


def test_one_good_take_is_a_geometric_wait() -> None:
    assert mean_takes(0.2) == stats.geom.mean(0.2)
    assert takes_for(0.9, 0.2) == stats.geom.ppf(0.9, 0.2)


def test_several_shots_together_need_what_thrown_takes_need() -> None:
    rng = np.random.default_rng(3)
    shots = [(0.3, 1), (0.75, 1), (0.5, 2)]
    thrown = sum(rng.negative_binomial(good, share, 200_000) + good for share, good in shots)
    # The share of evenings that are done by then; its standard error is 0.0007.
    assert np.mean(thrown <= takes_in_all(0.9, shots)) >= 0.9 - 0.003
    assert np.mean(thrown <= takes_in_all(0.9, shots) - 1) < 0.9 + 0.003


def test_shots_alike_are_one_wait_for_all_their_good_takes() -> None:
    # A sum of waits with one chance is a negative binomial again (Feller, as in the module).
    assert takes_in_all(0.9, [(0.4, 1)] * 6) == stats.nbinom.ppf(0.9, 6, 0.4) + 6


def test_what_is_never_good_takes_for_ever() -> None:
    assert takes_for(0.9, 0.0) == math.inf
    assert mean_takes(0.0) == math.inf
