"""A vehicle's losses from runs that its maker timed: rolling resistance and the wheels' share, with their uncertainty.

The model is that of `ramp`: from rest down the slope and through its foot, then over the flat between two marks.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from previz.physics.ramp import ANY_CHASSIS, GRAVITY, Chassis, Profile, launch_speed

Array = NDArray[np.float64]

#: A run that stops before its last mark is taken to last so long, so that the search can turn back from there. [s]
_NEVER = 1e4


@dataclass(frozen=True)
class Run:
    """One run that a maker timed.

    Parameters
    ----------
    height : float
        Of the release above the table. [m]
    first, last : float
        Distance of both marks from the foot of the ramp, on the flat. [m]
    time : float
        From the first mark to the last. [s]
    """

    height: float
    first: float
    last: float
    time: float


@dataclass(frozen=True)
class Losses:
    """What the runs say of a vehicle's losses.

    Parameters
    ----------
    wheel_share, rolling : float
        lambda and c. [-]
    wheel_share_deviation, rolling_deviation : float
        Their standard errors; 0 for a share that was taken as given, nan where too few runs leave it open. [-]
    scatter : float
        Root mean square of what the fit leaves of each run's time, as a share of it, per degree of freedom. [-]
    worst : int
        Which run fits worst.
    worst_misfit : float
        Its time over the fitted one, less one. [-]
    """

    wheel_share: float
    rolling: float
    wheel_share_deviation: float
    rolling_deviation: float
    scatter: float
    worst: int
    worst_misfit: float


def run_time(
    run: Run,
    ramp: Profile,
    wheel_share: float,
    rolling: float,
    chassis: Chassis = ANY_CHASSIS,
    gravity: float = GRAVITY,
) -> float:
    """Time between the marks that given losses predict; inf where it stops before the last. [s]

    The ramp's own height is not looked at: the run has one.

    Examples
    --------
    >>> run = Run(0.12, 0.1, 0.9, 0.0)
    >>> [round(run_time(run, Profile(0.12, 0.5, radius), 0.08, 0.02), 4) for radius in (0.0, 0.2)]
    [0.6144, 0.5976]
    """
    square = float(launch_speed(replace(ramp, height=run.height), wheel_share, rolling, chassis, gravity)) ** 2
    brake = rolling * gravity / (1 + wheel_share)
    at_first, at_last = square - 2 * brake * run.first, square - 2 * brake * run.last
    if at_last <= 0:
        return math.inf
    # Even deceleration: the mean of both speeds covers the distance; no difference of near-equal numbers.
    return 2 * (run.last - run.first) / (math.sqrt(at_first) + math.sqrt(at_last))


def fit_losses(
    runs: Sequence[Run], ramp: Profile, wheel_share: float, chassis: Chassis = ANY_CHASSIS, gravity: float = GRAVITY
) -> Losses:
    """Losses that fit timed runs best, by least squares of each time's relative misfit.

    Rolling resistance is always fitted. The wheels' share is too when four runs or more come from release heights at
    least 1.5 times apart; else it is taken as given, since one height cannot tell the two apart.

    Parameters
    ----------
    runs : sequence of Run
        At least one.
    ramp : Profile
        Its length, foot and lip.
    wheel_share : float
        Taken as given, or the start of the search. [-]
    chassis : Chassis
        Of the vehicle.

    Raises
    ------
    ValueError
        If there is no run, or the runs are faster than a vehicle without any loss, or slower than one that only just
        reaches its last mark.

    Examples
    --------
    >>> ramp = Profile(0.12, 0.5)
    >>> marks = [Run(h, 0.1, 0.9, run_time(Run(h, 0.1, 0.9, 0), ramp, 0.10, 0.03)) for h in (0.06, 0.09, 0.12, 0.15)]
    >>> fit = fit_losses(marks, ramp, 0.08)
    >>> round(fit.wheel_share, 4), round(fit.rolling, 5)
    (0.1, 0.03)
    """
    if not runs:
        raise ValueError("no timed run is given; time one at least")
    heights = [run.height for run in runs]
    both = len(runs) >= 4 and max(heights) >= 1.5 * min(heights) * (1 - 1e-9)
    start = [1e-3, wheel_share] if both else [1e-3]

    def misfit(parameters: Array) -> Array:
        share = float(parameters[1]) if both else wheel_share
        times = [run_time(run, ramp, share, float(parameters[0]), chassis, gravity) for run in runs]
        return np.log(np.minimum(times, _NEVER) / [run.time for run in runs])

    from scipy.optimize import least_squares  # here: only who has timed runs waits for it

    found = least_squares(misfit, start, bounds=(0.0, np.inf), method="dogbox", x_scale=0.01, xtol=1e-12, ftol=1e-12)
    fitted, jacobian, left = found.x, found.jac, found.fun
    if fitted[0] <= 1e-9 and float(left.mean()) > 0.02:
        raise ValueError(
            f"the timed runs are {100 * float(left.mean()):.0f} % faster than a vehicle without any loss could be; "
            "check heights, marks and times"
        )
    if float(left.mean()) < -0.02:
        raise ValueError(
            f"the timed runs took {100 * math.expm1(-float(left.mean())):.0f} % longer than one that only just reaches "
            "its last mark; check heights, marks and times"
        )
    freedom = len(runs) - len(fitted)
    variance = float(left @ left) / freedom if freedom > 0 else math.nan
    errors = np.sqrt(np.diag(np.linalg.pinv(jacobian.T @ jacobian)) * variance)
    worst = int(np.argmax(np.abs(left)))
    return Losses(
        wheel_share=float(fitted[1]) if both else wheel_share,
        rolling=float(fitted[0]),
        wheel_share_deviation=float(errors[1]) if both else 0.0,
        rolling_deviation=float(errors[0]),
        scatter=math.sqrt(variance) if freedom > 0 else math.nan,
        worst=worst,
        worst_misfit=math.exp(-float(left[worst])) - 1,
    )
