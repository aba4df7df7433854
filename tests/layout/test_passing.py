"""When and where vehicles meet: against constant speed and constant loss worked out by hand, and against shapely."""

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy.optimize import brentq

from previz.layout import TOUCH, Passing, others_of, passings, travel_of, vehicle_at, vehicle_path, vehicle_size
from previz.scene import Scene, read_scene

HEAD = """
title: Two that meet
scale: 1:50
units: mm
set:
  table: {width: 2000, depth: 1000}
lights: [{id: room, ambient: 200 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 9 mm, widest: f/4, nearest: 50 mm, modes: [1080p60]}}
shots:
  - {id: one, camera: pocket, at: [1000, -200, 60], aim: [1000, 400, 30], focus: 400 mm, f_number: 4,
     capture: {rate: 60 fps}, duration: 1 s}
"""
STRAIGHT = "path: [[0, 400], [2000, 400]]"


def made(folder: Path, vehicle: str, **others: str) -> Scene:
    lines = [f"vehicle: {{{vehicle}}}", "vehicles:", *(f"  {name}: {{{keys}}}" for name, keys in others.items())]
    path = folder / "scene.yaml"
    path.write_text(HEAD + "\n".join(lines) + "\n", encoding="utf-8")
    return read_scene(path)


def only(scene: Scene) -> Passing:
    (found,) = passings(scene)
    return found


def test_two_at_even_speed_head_on(tmp_path: Path) -> None:
    """The gap closes at both speeds together: x1 = u t, x2 = 2 - v (t - s), noses half a length ahead each."""
    found = only(made(tmp_path, f"body: van, speed: 0.6 m/s, {STRAIGHT}",
                      car=f"body: saloon, speed: 0.9 m/s, reverse: true, start: 0.4 s, {STRAIGHT}"))  # fmt: skip
    lengths = 5.5 / 50 + 4.8 / 50  # van and saloon, `scene/real_sizes.py`
    touch = (2.0 - lengths / 2 + 0.9 * 0.4) / (0.6 + 0.9)
    assert found.begins == pytest.approx(touch, abs=1e-4)
    # At the deepest the saloon, 1.8 m wide without mirrors, lies within the van's 2.0 m.
    assert -found.bodies == pytest.approx((1.8 + 2.0) / 2 / 50, abs=1e-4)
    assert found.place == pytest.approx((0.6 * found.at / 2 + (2.0 - 0.9 * (found.at - 0.4)) / 2, 0.4), abs=1e-6)


def test_one_that_is_faster_runs_into_the_one_ahead(tmp_path: Path) -> None:
    found = only(made(tmp_path, f"body: van, speed: 0.4 m/s, {STRAIGHT}",
                      car=f"body: saloon, speed: 1 m/s, start: 0.6 s, {STRAIGHT}"))  # fmt: skip
    # 0.4 t - L1/2 = 1 (t - 0.6) + L2/2
    assert found.begins == pytest.approx((0.6 - (5.5 + 4.8) / 100) / 0.6, abs=1e-4)


@pytest.mark.parametrize("start", [0.9, 1.7])
def test_one_let_go_on_a_ramp_and_one_that_is_driven(tmp_path: Path, start: float) -> None:
    """It loses speed evenly, rolling g / (1 + wheel_share), so that x = v t - a t^2 / 2; the other keeps its speed."""
    launch = "launch: {ramp: {height: 100 mm, length: 500 mm, foot_radius: 300 mm}, rolling: 3 %, wheel_share: 8 %}"
    scene = made(tmp_path, f"body: saloon, {launch}, {STRAIGHT}",
                 slow=f"body: van, speed: 0.3 m/s, start: -{start} s, {STRAIGHT}")  # fmt: skip
    speed, loss = travel_of(scene).speed_at_start, 0.03 * 9.80665 / 1.08
    half = (5.5 + 4.8) / 100
    touch = brentq(lambda t: speed * t - loss * t**2 / 2 + half - 0.3 * (t + start), 0.0, 0.6)
    assert only(scene).begins == pytest.approx(touch, abs=1e-4)


def test_side_by_side_room_is_over_the_mirrors(tmp_path: Path) -> None:
    """A van is 2.0 m wide, 2.5 m over its mirrors; a saloon 1.8 and 2.05 m: `scene/real_sizes.py`."""
    from previz.scene import OVER_ALL

    found = only(made(tmp_path, f"body: van, speed: 0.5 m/s, {STRAIGHT}",
                      car="body: saloon, speed: 0.5 m/s, reverse: true, path: [[0, 460], [2000, 460]]"))  # fmt: skip
    assert found.begins == math.inf
    assert found.bodies == pytest.approx(0.060 - 3.8 / 100, abs=1e-6)
    over = max(OVER_ALL["van"][0], 2.0), max(OVER_ALL["saloon"][0], 1.8)
    assert found.room <= found.bodies
    assert found.room >= 0.060 - sum(over) / 100 - 1e-6


def test_a_queue_keeps_apart_and_what_has_left_its_path_is_in_nobodys_way(tmp_path: Path) -> None:
    queue = made(tmp_path, f"body: van, speed: 0.5 m/s, {STRAIGHT}",
                 second=f"body: van, speed: 0.5 m/s, start: 0.4 s, {STRAIGHT}")  # fmt: skip
    assert only(queue).room == pytest.approx(0.5 * 0.4 - 5.5 / 50, abs=1e-6)
    gone = made(tmp_path, "body: van, speed: 1 m/s, path: [[0, 400], [500, 400]]",
                later="body: van, speed: 1 m/s, start: 0.7 s, path: [[0, 400], [500, 400]]")  # fmt: skip
    assert passings(gone) == ()


def outline(scene: Scene, time: float) -> shapely.Polygon:
    """A block of length and width at its pose, made by shapely alone."""
    pose, (length, width, _) = vehicle_at(scene, time), vehicle_size(scene)
    block = shapely.affinity.rotate(shapely.box(-length / 2, -width / 2, length / 2, width / 2), pose.heading,
                                    origin=(0, 0), use_radians=True)  # fmt: skip
    return shapely.affinity.translate(block, *pose.position[:2])


@pytest.mark.parametrize("seed", range(8))
def test_random_ways_against_shapely(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng([seed, 71])

    def way() -> str:
        points = rng.uniform((0, 0), (2000, 1000), (int(rng.integers(2, 4)), 2)).round(1).tolist()
        body, speed = rng.choice(["saloon", "van", "bus", "tractor"]), rng.uniform(0.2, 1.2)
        return f"body: {body}, speed: {speed:.3f} m/s, start: {rng.uniform(-0.3, 0.6):.3f} s, path: {points}"

    scene = made(tmp_path, way(), other=way())
    ((_, other),) = others_of(scene)
    spans = [(travel_of(each).begins, travel_of(each).time_at(vehicle_path(each).length)) for each in (scene, other)]
    begins, ends = max(span[0] for span in spans), min(span[1] for span in spans)
    times = np.arange(begins, ends, 0.002)
    if not len(times):
        assert passings(scene) == ()
        return
    pairs = [(outline(scene, time), outline(other, time)) for time in times.tolist()]
    apart = np.array([one.distance(two) for one, two in pairs])
    found = only(scene)
    if found.bodies < -TOUCH:
        first = float(times[int(np.argmax(apart == 0))])
        assert apart.min() == 0
        assert found.begins <= first + 1e-9  # over mirrors it may be sooner
        one, two = outline(scene, found.at), outline(other, found.at)
        assert one.intersects(two)
        # Moved by the depth along some way the two come apart, and by less along none.
        ways = [np.array([math.cos(turn), math.sin(turn)]) for turn in np.linspace(0, 2 * math.pi, 361)]
        clear = [shapely.affinity.translate(two, *(-found.bodies * 1.02 * way)).distance(one) for way in ways]
        less = [shapely.affinity.translate(two, *(-found.bodies * 0.9 * way)).distance(one) for way in ways]
        assert max(clear) > 0 and max(less) == 0
    elif found.room > 0:
        assert apart.min() > 0
        # What separates two blocks along one of their sides' directions is no more than their distance.
        assert found.bodies <= apart.min() + 1e-3
        assert found.bodies >= apart.min() / math.sqrt(2) - 2e-3


def test_each_keeps_free_what_its_own_scale_asks_for(tmp_path: Path) -> None:
    """0.1 m at full size, of the larger model."""
    second = f"body: saloon, speed: 0.9 m/s, reverse: true, {STRAIGHT}"
    for scale, larger in (("1:25", 25), ("1:50", 50), ("1:87", 50)):
        scene = made(tmp_path, f"body: van, speed: 0.6 m/s, {STRAIGHT}", car=f"{second}, scale: '{scale}'")
        assert only(scene).wanted == pytest.approx(0.1 / larger)
