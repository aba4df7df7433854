"""Losses from timed runs of a car in MuJoCo, which knows none of our formulae: what was put in must be found.

The car has four solid wheels and rolls from rest down a long, gentle ramp whose foot is rounded by an arc of a metre,
then over the flat between two marks. MuJoCo's own rolling friction brakes it in proportion to the load of each wheel.
"""

import math
from itertools import pairwise

import numpy as np
import pytest

from previz.physics.losses import Run, fit_losses
from previz.physics.ramp import Profile

BODY, WHEEL_RADIUS = 0.027, 0.006  # [kg], [m]
LENGTH, FOOT_RADIUS = 1.2, 1.0  # of the slope; of the arc, tangent to slope and table [m]
HEIGHTS = (0.06, 0.08, 0.10, 0.12)  # 3 to 6 degrees, so that the arc's extra load is under 2 % of the loss [m]
PROFILE = Profile(HEIGHTS[0], LENGTH, FOOT_RADIUS)
MARKS = (0.2, 0.9)  # beyond the end of the arc [m]
PIECES = 60  # straight ones in the arc: each bends the way by under 0.1 degree

CAR = """
<mujoco>
  <option gravity="0 0 -9.80665" timestep="0.0002" integrator="implicitfast" cone="elliptic" impratio="100"/>
  <default><geom friction="1 0 {resistance}" condim="6" solref="0.002 1"/></default>
  <worldbody>
    {ramp}
    <body name="car" pos="{x} 0 {z}" euler="0 {pitch} 0">
      <freejoint/>
      <geom type="box" size="0.03 0.010 0.004" mass="{body}" contype="0" conaffinity="0"/>
      {wheels}
    </body>
  </worldbody>
</mujoco>"""

# The cylinder is what turns, the ball is what touches: MuJoCo knows where a ball touches a box exactly.
WHEEL = """<body pos="{x} {y} 0"><joint type="hinge" axis="0 1 0"/>
<geom type="cylinder" size="{radius} 0.002" zaxis="0 1 0" mass="{mass}" contype="0" conaffinity="0"/>
<geom type="sphere" size="{radius}" mass="0"/></body>"""

SLAB = '<geom type="box" size="{half} 0.1 0.01" pos="{x} 0 {z}" euler="0 {pitch} 0"/>'


def ramp_of(angle: float) -> str:
    """Slabs whose tops are the slope, the arc and the table; the corner that the arc rounds is at x = 0."""
    turned = angle * (1 - np.arange(PIECES + 1) / PIECES)
    tangent = FOOT_RADIUS * math.tan(angle / 2)
    arc = zip(tangent - FOOT_RADIUS * np.sin(turned), FOOT_RADIUS * (1 - np.cos(turned)), strict=True)
    top = (LENGTH + 0.1) * math.cos(angle), (LENGTH + 0.1) * math.sin(angle)
    line = [(-top[0], top[1]), *arc, (MARKS[1] + 0.2, 0.0)]
    slabs = []
    for (x0, z0), (x1, z1) in pairwise(line):
        pitch = math.atan2(z0 - z1, x1 - x0)
        x, z = (x0 + x1) / 2 - 0.01 * math.sin(pitch), (z0 + z1) / 2 - 0.01 * math.cos(pitch)
        slabs.append(SLAB.format(half=math.hypot(x1 - x0, z1 - z0) / 2, x=x, z=z, pitch=math.degrees(pitch)))
    return "".join(slabs)


def timed(height: float, wheel: float, rolling: float) -> Run:
    """A run in MuJoCo from that release height, with wheels of that mass [kg] and that rolling resistance."""
    mujoco = pytest.importorskip("mujoco")
    angle = math.asin(height / LENGTH)
    wheels = "".join(
        WHEEL.format(x=x, y=y, radius=WHEEL_RADIUS, mass=wheel) for x in (-0.022, 0.022) for y in (-0.014, 0.014)
    )
    model = mujoco.MjModel.from_xml_string(
        CAR.format(
            resistance=rolling * WHEEL_RADIUS,  # MuJoCo's is a torque over a load
            ramp=ramp_of(angle),
            x=-LENGTH * math.cos(angle) + WHEEL_RADIUS * math.sin(angle),
            z=height + WHEEL_RADIUS * math.cos(angle),
            pitch=math.degrees(angle),
            body=BODY,
            wheels=wheels,
        )
    )
    data = mujoco.MjData(model)
    passed = []
    for mark in MARKS:
        while data.qpos[0] < mark:
            before = data.time, float(data.qpos[0])
            mujoco.mj_step(model, data)
            assert data.time < 6
        share = (mark - before[1]) / (float(data.qpos[0]) - before[1])
        passed.append(before[0] + share * (data.time - before[0]))
    return Run(height, *MARKS, passed[1] - passed[0])


@pytest.mark.parametrize("wheel,rolling", [(0.002, 0.02), (0.006, 0.01)])
def test_losses_of_a_car_in_mujoco_are_found_from_its_timed_runs(wheel: float, rolling: float) -> None:
    # Solid wheels hold half their mass as inertia. MuJoCo 4.0.0's contact is soft, which costs about 0.2 % of each time
    # and comes out as 0.003 to 0.006 of share.
    share = 4 * 0.5 * wheel / (BODY + 4 * wheel)
    fit = fit_losses([timed(height, wheel, rolling) for height in HEIGHTS], PROFILE, 0.05)
    assert fit.rolling == pytest.approx(rolling, rel=0.02)
    assert fit.wheel_share == pytest.approx(share, abs=0.01)
    assert fit.scatter < 0.002


def test_of_a_car_in_mujoco_with_known_wheels_one_height_gives_the_loss() -> None:
    # What soft contact costs is counted as loss: 0.5 % of it here.
    share = 4 * 0.5 * 0.002 / (BODY + 4 * 0.002)
    fit = fit_losses([timed(0.08, 0.002, 0.02)], PROFILE, share)
    assert fit.rolling == pytest.approx(0.02, rel=0.02)
