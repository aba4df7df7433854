"""Losses from timed runs: with an uncertainty that holds, fitted where the runs tell them, refused where they do not.

Their values are held against MuJoCo in `test_losses_in_mujoco.py`; these runs are of the model's own making.
"""

import math

import numpy as np
import pytest

from previz.physics.losses import Run, fit_losses, run_time
from previz.physics.ramp import Profile

RAMP = Profile(0.10, 0.5, foot_radius=0.2)


def runs_of(heights: list[float], share: float, rolling: float, noise: float = 0.0, seed: int = 0) -> list[Run]:
    rng = np.random.default_rng(seed)
    blank = [Run(height, 0.1, 0.6, 0.0) for height in heights]
    return [
        Run(
            run.height,
            run.first,
            run.last,
            run_time(run, RAMP, share, rolling) * (1 + noise * rng.standard_normal()),
        )
        for run in blank
    ]


def test_a_sharp_foot_is_not_taken_for_rolling_loss() -> None:
    # The runs pass the foot: read without it, its loss would be laid on the wheels.
    sharp = Profile(0.10, 0.5)
    blank = [Run(height, 0.1, 0.6, 0.0) for height in (0.06, 0.08, 0.11, 0.14)]
    runs = [Run(run.height, 0.1, 0.6, run_time(run, sharp, 0.12, 0.045)) for run in blank]
    assert fit_losses(runs, sharp, 0.08).wheel_share == pytest.approx(0.12, rel=1e-4)
    assert fit_losses(runs, RAMP, 0.08).wheel_share > 1.3 * 0.12


def test_the_stated_uncertainty_covers_the_truth() -> None:
    # 200 sets of runs with 1 % scatter of time: the truth lies within one standard error in about 68 % of them.
    # With 8 - 2 degrees of freedom Student's t makes that 64.5 %; 200 sets know a share to 3.4 %.
    hits = 0
    for seed in range(200):
        fit = fit_losses(runs_of([0.06, 0.08, 0.11, 0.14] * 2, 0.12, 0.045, noise=0.01, seed=seed), RAMP, 0.08)
        hits += abs(fit.rolling - 0.045) <= fit.rolling_deviation
    assert hits / 200 == pytest.approx(0.645, abs=0.10)


def test_runs_from_one_height_fit_the_loss_and_leave_the_wheels_as_given() -> None:
    fit = fit_losses(runs_of([0.10, 0.10, 0.10], 0.08, 0.03), RAMP, 0.08)
    assert fit.rolling == pytest.approx(0.03, rel=1e-5)
    assert (fit.wheel_share, fit.wheel_share_deviation) == (0.08, 0.0)


def test_heights_exactly_half_as_high_again_tell_both_losses_apart() -> None:
    # 0.150 is not 1.5 * 0.100 in binary.
    fit = fit_losses(runs_of([0.100, 0.100, 0.150, 0.150], 0.12, 0.03), RAMP, 0.08)
    assert (fit.wheel_share, fit.rolling) == pytest.approx((0.12, 0.03), rel=1e-4)


def test_one_run_leaves_its_uncertainty_open() -> None:
    fit = fit_losses(runs_of([0.10], 0.08, 0.03), RAMP, 0.08)
    assert math.isnan(fit.rolling_deviation)
    assert math.isnan(fit.scatter)


def test_the_run_that_contradicts_the_others_is_named() -> None:
    runs = runs_of([0.10, 0.10, 0.10, 0.10], 0.08, 0.03)
    runs[2] = Run(0.10, 0.1, 0.6, runs[2].time * 1.6)
    fit = fit_losses(runs, RAMP, 0.08)
    assert fit.worst == 2
    assert fit.worst_misfit > 0.3
    assert fit.scatter > 0.1


def test_runs_faster_than_free_of_loss_are_refused() -> None:
    runs = [Run(0.10, 0.1, 0.6, 0.8 * run.time) for run in runs_of([0.10, 0.10], 0.08, 0.0)]
    with pytest.raises(ValueError, match="without any loss"):
        fit_losses(runs, RAMP, 0.08)


@pytest.mark.parametrize("time", [1.2, 1.8])
def test_a_run_that_all_but_stopped_is_fitted_too(time: float) -> None:
    ramp = Profile(0.06, 0.5)
    fit = fit_losses([Run(0.06, 0.1, 0.9, time)], ramp, 0.08)
    assert run_time(Run(0.06, 0.1, 0.9, 0.0), ramp, 0.08, fit.rolling) == pytest.approx(time, rel=1e-3)


@pytest.mark.parametrize("time", [3.0, 8.0])
def test_a_run_slower_than_any_that_arrives_is_refused(time: float) -> None:
    # Braked evenly to rest at the last mark it takes twice its way over the speed at the first, 2.04 s here.
    with pytest.raises(ValueError, match="longer than one that only just reaches its last mark"):
        fit_losses([Run(0.06, 0.1, 0.9, time)], Profile(0.06, 0.5), 0.08)
