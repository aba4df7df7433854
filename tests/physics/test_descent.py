"""The way down a ramp in time: against the equation of motion solved by SciPy, and a car in MuJoCo."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from previz.physics.paths import Travel
from previz.physics.ramp import GRAVITY, Chassis, Profile, descent, edge_speed, launch_speed

CHASSIS = Chassis(0.6, 0.005)
RAMPS = [
    (Profile(0.120, 0.500), 0.08, 0.02),
    (Profile(0.120, 0.500, foot_radius=0.2), 0.08, 0.02),
    (Profile(0.300, 0.600, foot_radius=0.5, lip=0.004), 0.15, 0.05),
]


def solved(profile: Profile, share: float, rolling: float) -> tuple[float, float]:
    """Time [s] and speed [m/s] at the lower edge: Newton's law along the line, the load on the wheels counted."""
    angle, radius = float(profile.angle), profile.foot_radius
    straight = profile.length - radius * math.tan(angle / 2)
    whole = straight + radius * angle

    def law(_: float, state: np.ndarray) -> list[float]:
        way, speed = state
        bent = max(way - straight, 0.0) / radius if radius else 0.0
        load = GRAVITY * math.cos(angle - bent) + (speed**2 / radius if bent > 0 else 0.0)
        return [speed, (GRAVITY * math.sin(angle - bent) - rolling * load) / (1 + share)]

    def edge(_: float, state: np.ndarray) -> float:
        return float(state[0] - whole)

    edge.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(law, (0, 10), [0.0, 0.0], events=edge, rtol=1e-9, atol=1e-12, max_step=1e-3)
    return float(found.t[-1]), float(found.y[1, -1])


@pytest.mark.parametrize("profile,share,rolling", RAMPS)
def test_it_takes_as_long_as_newton_s_law_says(profile: Profile, share: float, rolling: float) -> None:
    time, speed = solved(profile, share, rolling)
    way = descent(profile, share, rolling, CHASSIS)
    assert -way.released_at == pytest.approx(time, rel=1e-4)
    assert way.speed(-1e-9) == pytest.approx(speed, rel=1e-4)
    assert float(edge_speed(profile, share, rolling, CHASSIS)) == pytest.approx(speed, rel=1e-4)
    assert way.length == pytest.approx(profile.length - float(profile.tangent) + profile.foot_radius * profile.angle)


@pytest.mark.parametrize("profile,share,rolling", RAMPS)
def test_place_speed_and_time_belong_together(profile: Profile, share: float, rolling: float) -> None:
    way = descent(profile, share, rolling, CHASSIS)
    times = np.linspace(way.released_at - 0.1, -0.001, 400)
    places = np.array([way.distance(time) for time in times])
    assert places[0] == pytest.approx(-way.length) and (np.diff(places) >= 0).all() and places[-1] < 0
    speeds = np.array([way.speed(time) for time in times])
    assert np.gradient(places, times)[2:-2] == pytest.approx(speeds[2:-2], abs=0.02)
    for time in times[times > way.released_at + 0.01]:
        assert way.time_at(way.distance(time)) == pytest.approx(time, abs=1e-9)
    assert way.time_at(-way.length - 0.001) == -math.inf


def test_a_car_in_mujoco_takes_as_long() -> None:
    pytest.importorskip("mujoco")
    from test_launch_in_mujoco import SMALL, Drive

    profile = Profile(0.200, 0.900, foot_radius=0.25)
    time, _ = Drive(SMALL, profile, 0.02).until(float(profile.tangent))
    assert -descent(profile, SMALL.wheel_share, 0.02, SMALL.chassis).released_at == pytest.approx(time, rel=0.005)


def test_one_that_does_not_start_or_stops_in_the_bend_stands_at_its_release() -> None:
    flat, bend = Profile(0.005, 0.900), Profile(0.0525, 0.5, foot_radius=9.0)
    for profile, rolling in ((flat, 0.05), (bend, 0.08)):
        assert float(launch_speed(profile, 0.08, rolling, CHASSIS)) == 0
        way = descent(profile, 0.08, rolling, CHASSIS)
        travel = Travel(0.0, 0.1, way)
        assert {travel.distance(time) for time in (-9.0, -0.1, 0.0, 5.0)} == {-way.length}
        assert way.speed(-0.1) == 0 and not way.arrives


def test_travel_is_whole_at_the_foot() -> None:
    profile = RAMPS[1][0]
    travel = Travel(float(launch_speed(profile, 0.08, 0.02, CHASSIS)), 0.18, descent(profile, 0.08, 0.02, CHASSIS))
    assert travel.distance(-1e-9) == pytest.approx(0, abs=1e-8) and travel.distance(0.0) == 0
    assert travel.speed(-1e-9) == pytest.approx(travel.speed(0.0), rel=1e-4)  # a bend takes nothing at its end
    assert travel.time_at(-0.2) < 0 < travel.time_at(0.2)
