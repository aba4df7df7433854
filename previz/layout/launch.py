"""A launch as its maker's timed runs say it is."""

from functools import lru_cache

from previz.errors import PrevizError
from previz.physics.losses import Losses, Run, fit_losses
from previz.scene import Launch


@lru_cache(maxsize=64)
def losses_of(launch: Launch) -> Losses | None:
    """What a launch's timed runs say of its losses; None where there are no runs.

    Raises
    ------
    PrevizError
        If they are faster than a vehicle without any loss.
    """
    runs = [Run(run.height, run.marks[0], run.marks[1], run.seconds) for run in launch.timed_runs]
    if not runs:
        return None
    try:
        return fit_losses(runs, launch.ramp.length, launch.wheel_share)
    except ValueError as error:
        raise PrevizError(f"vehicle.launch.timed_runs: {error}") from None


def measured(launch: Launch) -> Launch:
    """The launch with the losses that its timed runs say, or as it is where there are none.

    Raises PrevizError as `losses_of` does.
    """
    losses = losses_of(launch)
    if losses is None:
        return launch
    return launch.model_copy(update={"wheel_share": losses.wheel_share, "rolling": losses.rolling})
