"""Advice at work: how long a search takes, and whether it is ever worse than trying everything.

Run as `python tests/benchmarks/advice.py time`; `random`, `plans` or `weights`, and `[FIRST [LAST]]`, in its place.
"""

import json
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.append(str(Path(__file__).parents[1] / "advice"))
from exhaustive import best_of_each, best_on_a_grid, worse
from random_problems import KITS, problem, written

import previz.advice.search as ranked
from previz.advice import advise
from previz.advice.applied import changes_of, checked
from previz.advice.problem import Problem, problem_of
from previz.advice.search import Way, search
from previz.errors import PrevizError
from previz.predictions import Finding, Verdict, predict
from previz.scene import Scene, read_scene, rewritten


def four_cameras() -> dict[str, Any]:
    """Four cameras with all their stops and modes, and distance, height and launch free."""
    launched = next(each for each in map(written, range(100)) if "launch" in each["vehicle"])
    shot = launched["shots"][0] | {"camera": "c0", "focal_length": 16, "f_number": 5.6, "focus": "vehicle"}
    wants = [
        {"edges": "hidden"}, {"fills": "45 %", "must": True}, {"sharp": "mid-frame"}, {"speed": "60 to 80 km/h"},
        {"lasts": "at least 2 s"}, {"looks": "full size"}, {"iso": "at most 3200"}, {"motion_blur": "at most 10 %"},
    ]  # fmt: skip
    cameras = {f"c{number}": camera for number, camera in enumerate(KITS)}
    return launched | {
        "cameras": cameras, "shots": [shot], "wants": wants, "may_change": {"height": "yes", "launch_height": "yes"},
    }  # fmt: skip


def timed(folder: Path) -> None:
    """Print what laying out, searching and all of `advise` take."""
    path = folder / "four.yaml"
    path.write_text(json.dumps(four_cameras()), encoding="utf-8")
    scene = read_scene(path)
    shot = scene.shots[0]
    search(problem_of(scene, shot))  # what is loaded once is loaded
    for name, work in (
        ("lay out", lambda: problem_of(scene, shot)),
        ("lay out and search", lambda: search(problem_of(scene, shot))),
        ("all of advise", lambda: advise(scene, shot)),
    ):
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
        print(f"{name}: {wall:.2f} s, {cpu:.2f} s of processor time, on {os.cpu_count()} cores")
    found = problem_of(scene, shot)
    ways = sum(len(option.stops) * len(found.ways(option)) for option in found.options)
    print(f"{len(found.options)} cameras and modes, {ways} stops, rates, shutters and launches at each place and lens")


def random(first: int, last: int, folder: Path) -> None:
    """Print on how many random problems the search is worse than a grid of everything."""
    worse_in, spent = [], 0.0
    for number in range(first, last):
        scene = problem(number, folder)
        found = problem_of(scene, scene.shots[0])
        began = time.process_time()
        best = search(found)[0]
        spent += time.process_time() - began
        if worse(best, best_on_a_grid(found), found):
            worse_in.append(number)
            print(f"{number}: worse than a grid", flush=True)
    count = last - first
    print(f"{count} problems, {spent / count:.2f} s of processor time each; worse than a grid: {worse_in or 'none'}")


def plans(first: int, last: int, folder: Path) -> None:
    """Print how many plans of random problems check stops, and whether any way of the grid would not be stopped.

    Where no plan is given, or one is stopped, the best way of each camera and mode is checked too.
    """
    given, stopped, without, ways, passed = 0, [], [], 0, []
    for number in range(first, last):
        scene = problem(number, folder)
        found = advise(scene, scene.shots[0]).plans
        given += len(found)
        scenes = [rewritten(scene, {each.key: each.value for each in plan.changes}) for plan in found]
        if found and not any(_stops(each) for each in scenes):
            continue
        laid = problem_of(scene, scene.shots[0])
        tried = best_of_each(laid)
        (without if min(way.stops for way in tried) > 0 else stopped).append(number)
        held = [checked(laid, way) for way in tried if _can_be_written(laid, way)]
        ways += len(held)
        passed += [number] * (not all(each.stops for each in held))
        names = {each.quantity for plan in scenes for each in _stops(plan)}
        print(f"{number}: {len(found)} plans, check stops {', '.join(sorted(names)) or 'none'}", flush=True)
    print(f"{last - first} problems, {given} plans")
    print(f"none, or one that check stops, where some way of the grid is estimated not to be: {stopped or 'none'}")
    print(f"every way of the grid is estimated to be stopped in {len(without)}: {without or 'none'}")
    print(f"{ways} of those ways, the best of each camera and mode, were checked; not stopped in {passed or 'none'}")


def weights(first: int, last: int, folder: Path) -> None:
    """Print how often the best way is another where what it costs to change something is left out, or doubled.

    And in how many of these other wants are met: costs should only settle what wants leave open.
    """
    names = ("CAMERA", "PLACE", "RATE", "SHUTTER", "LAUNCH", "FOCUS", "STOP", "MODE")
    problems = [
        problem_of(scene, scene.shots[0]) for scene in (problem(number, folder) for number in range(first, last))
    ]
    usual = [search(each)[0] for each in problems]
    print(f"{len(problems)} problems: the best way is another, and meets other wants")
    print(f"{'cost of another':16} {'by itself':>9} {'left out':>9} {'wants':>6} {'doubled':>9} {'wants':>6}")
    for name in names:
        own, told = getattr(ranked, f"_{name}"), []
        for times in (0.0, 2.0):
            setattr(ranked, f"_{name}", own * times)
            found = [search(each)[0] for each in problems]
            other = [(a, b) for a, b in zip(usual, found, strict=True) if _settings(a) != _settings(b)]
            told += [len(other), sum(_met(a) != _met(b) for a, b in other)]
        setattr(ranked, f"_{name}", own)
        print(f"{name.lower():16} {own:9} {told[0]:9} {told[1]:6} {told[2]:9} {told[3]:6}", flush=True)


def _settings(way: Way) -> tuple[Any, ...]:
    """What a maker would set otherwise: to a centimetre and a fiftieth of the focal length."""
    return (
        way.option,
        way.f_number,
        way.recording,
        way.launch,
        way.kind,
        round(way.back, 2),
        round(50 * way.focal / 0.02),
    )


def _met(way: Way) -> tuple[bool, ...]:
    return tuple(miss > 0 for miss in way.misses)


def _stops(scene: Scene) -> list[Finding]:
    return [each for each in predict(scene, remedies=False).findings if each.verdict is Verdict.STOP]


def _can_be_written(laid: Problem, way: Way) -> bool:
    try:
        changes_of(laid, way)
    except PrevizError:  # it would stand past what it is aimed at
        return False
    return True


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as temporary:
        work = {"random": random, "plans": plans, "weights": weights}.get(sys.argv[1])
        if work is None:
            timed(Path(temporary))
        else:
            ends = [int(each) for each in sys.argv[2:4]]
            work(*(ends if len(ends) == 2 else (0, ends[0] if ends else 200)), Path(temporary))
