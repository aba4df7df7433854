"""The speed off a ramp against MuJoCo 4, which knows none of our formulae: a car on four wheels, let go from rest.

The ramp is made of planes; a plane is solid to infinity below, so slope and table make an exact corner, and the planes
that touch an arc make a bend of so many facets. The rolling loss is MuJoCo's own rolling friction (a torque of c r
times the load on the contact). Speeds are those at the corner or where the bend ends, carried back from a place on the
flat by c g / (1 + lambda), the deceleration there.

Contacts are stiff: they settle within four steps of a tenth of a millisecond. With MuJoCo's own 20 ms a wheel that
strikes the table at 1.6 m/s sinks in by more than its radius, and steep sharp ramps lose up to twice as much; at a
third of the step the answers here change by what `CONVERGED` allows.
"""

import math

import numpy as np
import pytest

from previz.physics.losses import Run, fit_losses
from previz.physics.ramp import GRAVITY, Chassis, Profile, exit_speed, launch_speed

mujoco = pytest.importorskip("mujoco")

STEP = 1e-4

#: How far an answer moves between this step and a third of it; a wheel that strikes is the hardest to follow. [-]
CONVERGED = {True: 0.006, False: 0.001}

CAR = """
<mujoco>
  <option gravity="0 0 -{gravity}" timestep="{step}" integrator="implicitfast" cone="elliptic" impratio="10"
          iterations="100" tolerance="1e-12"/>
  <default><geom condim="6" friction="1 0 {rolling}" solref="{settle} 1"/></default>
  <worldbody>
    {planes}
    <body pos="{x} 0 {z}" euler="0 {pitch} 0">
      <freejoint/>
      <geom type="box" size="{half} 0.01 0.004" mass="{body}" contype="0" conaffinity="0"/>
      {wheels}
    </body>
  </worldbody>
</mujoco>"""
PLANE = '<geom type="plane" pos="{x} 0 {z}" zaxis="{nx} 0 {nz}" size="5 5 0.1" contype="1" conaffinity="2"/>'
WHEEL = """<body pos="{x} {y} 0"><joint type="hinge" axis="0 1 0"/>
<geom type="cylinder" size="{radius} 0.002" zaxis="0 1 0" mass="{mass}" contype="2" conaffinity="1"/></body>"""


class Car:
    """A model car: a box for a body, solid wheels. Lengths [m], masses [kg]."""

    def __init__(self, wheelbase: float, length: float, radius: float, body: float, wheel: float) -> None:
        self.wheelbase, self.length, self.radius, self.body, self.wheel = wheelbase, length, radius, body, wheel

    @property
    def wheel_share(self) -> float:
        return 4 * 0.5 * self.wheel / (self.body + 4 * self.wheel)

    @property
    def chassis(self) -> Chassis:
        return Chassis(self.wheelbase / self.length, self.radius)


SMALL = Car(0.044, 0.060, 0.006, 0.027, 0.002)


def facets(profile: Profile, count: int) -> list[tuple[float, float, float]]:
    """Planes as a point (x, z) and the slope there; the corner of slope and table is at 0, the table at 0."""
    angle, radius, tangent = float(profile.angle), profile.foot_radius, float(profile.tangent)
    turned = angle * np.arange(1, count) / count if radius > 0 else np.zeros(0)
    bend = [(tangent - radius * math.sin(a), radius * (1 - math.cos(a)), a) for a in turned]
    return [(0.0, 0.0, 0.0), (0.0, 0.0, angle), *bend]


class Drive:
    """A car on its ramp, released; `until` drives it on."""

    def __init__(self, car: Car, profile: Profile, rolling: float, step: float = STEP, count: int = 80) -> None:
        angle = float(profile.angle)
        planes = "".join(PLANE.format(x=x, z=z, nx=math.sin(a), nz=math.cos(a)) for x, z, a in facets(profile, count))
        wheels = "".join(
            WHEEL.format(x=x, y=y, radius=car.radius, mass=car.wheel)
            for x in (-car.wheelbase / 2, car.wheelbase / 2)
            for y in (-0.014, 0.014)
        )
        self.model = mujoco.MjModel.from_xml_string(
            CAR.format(
                gravity=GRAVITY,
                step=step,
                settle=4 * step,
                rolling=rolling * car.radius,
                planes=planes,
                wheels=wheels,
                half=car.length / 2,
                body=car.body,
                pitch=math.degrees(angle),
                x=-profile.length * math.cos(angle) + car.radius * math.sin(angle),
                z=profile.length * math.sin(angle) + car.radius * math.cos(angle),
            )
        )
        self.data = mujoco.MjData(self.model)

    def until(self, place: float) -> tuple[float, float]:
        """Time [s] and speed [m/s] when the car's middle comes to that far from the corner. [m]"""
        while self.data.qpos[0] < place:
            mujoco.mj_step(self.model, self.data)
            assert self.data.time < 8, "it does not get there"
        return float(self.data.time), float(self.data.qvel[0])


def speed_in_mujoco(car: Car, profile: Profile, rolling: float, step: float = STEP) -> float:
    """Behind the foot. [m/s]"""
    ends = float(profile.tangent)
    drive = Drive(car, profile, rolling, step)
    place = ends + car.wheelbase / 2 + 0.15  # both axles are on the flat, and what bounces has come to rest
    _, speed = drive.until(place)
    return math.sqrt(speed**2 + 2 * rolling * GRAVITY / (1 + car.wheel_share) * (drive.data.qpos[0] - ends))


def ours(car: Car, profile: Profile, rolling: float) -> float:
    return float(launch_speed(profile, car.wheel_share, rolling, car.chassis))


RAMPS = [(0.200, 0.900), (0.060, 0.750), (0.450, 0.800)]


@pytest.mark.parametrize("rolling", [0.02, 0.05])
@pytest.mark.parametrize("height,length", RAMPS)
def test_a_sharp_foot_agrees_within_two_percent(height: float, length: float, rolling: float) -> None:
    profile = Profile(height, length)
    assert ours(SMALL, profile, rolling) == pytest.approx(speed_in_mujoco(SMALL, profile, rolling), rel=0.02)


@pytest.mark.parametrize("rolling", [0.02, 0.05])
@pytest.mark.parametrize("height,length", RAMPS)
def test_a_rounded_foot_agrees_within_half_a_percent(height: float, length: float, rolling: float) -> None:
    profile = Profile(height, length, foot_radius=0.25)
    assert ours(SMALL, profile, rolling) == pytest.approx(speed_in_mujoco(SMALL, profile, rolling), rel=0.005)


def test_energy_alone_would_not_pass() -> None:
    for height, length in RAMPS[::2]:
        energy = float(exit_speed(height, length, SMALL.wheel_share, 0.02))
        assert energy > 1.02 * speed_in_mujoco(SMALL, Profile(height, length), 0.02)


@pytest.mark.parametrize("radius", [0.0, 0.25])
def test_a_third_of_the_step_changes_little(radius: float) -> None:
    for height, length in RAMPS:
        profile = Profile(height, length, radius)
        fine = speed_in_mujoco(SMALL, profile, 0.02, STEP / 3)
        assert speed_in_mujoco(SMALL, profile, 0.02) == pytest.approx(fine, rel=CONVERGED[radius == 0])


def random_launches(seed: int, count: int) -> list[tuple[Car, Profile, float]]:
    """Cars of all proportions of our bodies, on ramps up to 30 degrees steep."""
    rng = np.random.default_rng(seed)
    found = []
    for number in range(count):
        length = rng.uniform(0.05, 0.30)
        body = rng.uniform(0.02, 0.4)
        wheel = body * rng.uniform(0.02, 0.12)
        car = Car(rng.uniform(0.5, 0.68) * length, length, rng.uniform(0.05, 0.09) * length, body, wheel)
        slope, run = math.radians(rng.uniform(6, 30)), rng.uniform(0.4, 1.2)
        radius = rng.uniform(1.5, 4) * car.wheelbase if number % 2 else 0.0
        found.append((car, Profile(run * math.sin(slope), run, radius), rng.uniform(0.01, 0.05)))
    return [each for each in found if each[1].tangent < 0.8 * each[1].length]


@pytest.mark.parametrize("number", range(12))
def test_ramps_and_cars_at_random(number: int) -> None:
    car, profile, rolling = random_launches(11, 14)[number]
    within = 0.005 if profile.foot_radius > 0 else 0.02
    assert ours(car, profile, rolling) == pytest.approx(speed_in_mujoco(car, profile, rolling), rel=within)


def test_a_bend_tighter_than_a_wheel_is_a_sharp_corner_and_one_of_three_radii_is_not() -> None:
    height, length = RAMPS[0]
    sharp, tight, wide = (
        speed_in_mujoco(SMALL, Profile(height, length, radius), 0.02)
        for radius in (0.0, 0.5 * SMALL.radius, 3.5 * SMALL.radius)
    )
    assert tight == pytest.approx(sharp, rel=0.005)
    assert wide > 1.015 * sharp


@pytest.mark.parametrize("radius", [0.0, 0.25])
def test_losses_are_found_from_runs_timed_in_mujoco(radius: float) -> None:
    rolling, ramp, runs = 0.03, Profile(0.10, 0.6, radius), []
    for height in (0.08, 0.10, 0.13, 0.16):
        profile = Profile(height, ramp.length, radius)
        drive, ends = Drive(SMALL, profile, rolling), float(profile.tangent)
        (start, _), (end, _) = drive.until(ends + 0.1), drive.until(ends + 0.7)
        runs.append(Run(height, 0.1, 0.7, end - start))
    fit = fit_losses(runs, ramp, 0.08, SMALL.chassis)
    assert fit.rolling == pytest.approx(rolling, rel=0.05)
    assert fit.wheel_share == pytest.approx(SMALL.wheel_share, abs=0.02)
