"""A launch as physics takes it: the ramp as a line, the vehicle's proportions, its losses as timed runs say them."""

from functools import lru_cache

from previz.errors import FileFault
from previz.physics.losses import Losses, Run, fit_losses
from previz.physics.ramp import Chassis, Profile, least_foot_radius
from previz.scene import UNDERSIDES, VEHICLE_SIZES, WHEEL_DIAMETERS, Launch, Ramp, Scene

#: Wheelbase and wheel radius over the length, of a vehicle from a mesh file. Common practice, no source.
_ANY_WHEELBASE, _ANY_RADIUS = 0.6, 0.06


def launch_of(scene: Scene) -> Launch | None:
    """The launch as written; None where nothing drives, or at a given speed."""
    return None if scene.vehicle is None else scene.vehicle.launch


def profile_of(ramp: Ramp) -> Profile:
    """The line that the vehicle's middle follows down a ramp."""
    return Profile(float(ramp.height), float(ramp.length), float(ramp.foot_radius), float(ramp.lip))


def chassis_of(scene: Scene) -> Chassis:
    """What the ramp's foot meets of the vehicle."""
    assert scene.vehicle is not None  # asked of sets with a vehicle only
    return chassis(scene.vehicle.body, scene.vehicle_length)


def chassis(body: str | None, length: float) -> Chassis:
    """The same of a body by its name, so long on the table [m]; None of a vehicle from a mesh file."""
    if body is None:
        return Chassis(_ANY_WHEELBASE, _ANY_RADIUS * length)
    full_size = VEHICLE_SIZES[body][0]
    return Chassis(UNDERSIDES[body][0] / full_size, WHEEL_DIAMETERS[body] / 2 * length / full_size)


def clears_from(body: str, length: float, angle: float) -> float:
    """The radius of a ramp's foot from which on a body so long does not scrape with its bumper, on such a slope.

    Both [m]; angle: [rad].
    """
    model = length / VEHICLE_SIZES[body][0]
    wheelbase, overhang, clearance = (side * model for side in UNDERSIDES[body])
    return least_foot_radius(angle, wheelbase, overhang, clearance)


def losses_of(scene: Scene) -> Losses | None:
    """What a launch's timed runs say of its losses; None where nothing is launched, or there are no runs.

    Raises
    ------
    FileFault
        If they are faster than a vehicle without any loss, or slower than one that only just gets there.
    """
    launch = launch_of(scene)
    return None if launch is None else _losses(launch, chassis_of(scene))


@lru_cache(maxsize=64)
def _losses(launch: Launch, chassis: Chassis) -> Losses | None:
    runs = [Run(run.height, run.marks[0], run.marks[1], run.seconds) for run in launch.timed_runs]
    if not runs:
        return None
    try:
        return fit_losses(runs, profile_of(launch.ramp), launch.wheel_share, chassis)
    except ValueError as error:
        raise FileFault(("vehicle", "launch", "timed_runs"), str(error)) from None


def measured(scene: Scene) -> Launch:
    """The launch of a vehicle that has one, with the losses that its timed runs say; as written where there are none.

    Raises PrevizError as `losses_of` does.
    """
    launch, losses = launch_of(scene), losses_of(scene)
    assert launch is not None  # asked of launched vehicles only
    if losses is None:
        return launch
    return launch.model_copy(update={"wheel_share": losses.wheel_share, "rolling": losses.rolling})
