"""Advice at work: how long a search takes, and whether it is ever worse than trying everything.

Run as `python tests/benchmarks/advice.py time` or `python tests/benchmarks/advice.py random [FIRST [LAST]]`.
"""

import json
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.append(str(Path(__file__).parents[1] / "advice"))
from exhaustive import best_on_a_grid, worse
from random_problems import KITS, problem, written

from previz.advice import advise
from previz.advice.problem import problem_of
from previz.advice.search import search
from previz.predictions import Verdict
from previz.scene import read_scene


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
        "cameras": cameras, "shots": [shot], "wants": wants, "may_change": {"launch_height": "yes"},
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
    """Print on how many random problems the search is worse than a grid, and how many plans check stops."""
    worse_in, stopped, plans, without = [], [], 0, 0
    for number in range(first, last):
        scene = problem(number, folder)
        found = problem_of(scene, scene.shots[0])
        best, tried = search(found)[0], best_on_a_grid(found)
        if worse(best, tried, found):
            worse_in.append(number)
        given = advise(scene, scene.shots[0]).plans
        plans += len(given)
        stops = [any(each.verdict is Verdict.STOP for each in plan.findings) for plan in given]
        if tried.stops > 0:
            without += 1  # nothing that may change makes it a shot
        elif any(stops) or not given:
            stopped.append(number)
        print(f"{number}: {len(given)} plans", flush=True)
    print(f"{last - first} problems, {plans} plans; worse than a grid: {worse_in or 'none'}")
    print(f"no way to make the shot in {without}; a plan that check stops, or none, in the others: {stopped or 'none'}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as temporary:
        if sys.argv[1:2] == ["random"]:
            ends = [int(each) for each in sys.argv[2:4]]
            random(*(ends if len(ends) == 2 else (0, ends[0] if ends else 200)), Path(temporary))
        else:
            timed(Path(temporary))
