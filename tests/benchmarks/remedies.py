"""Whether remedies hold on many random scenes: `python tests/benchmarks/remedies.py --scenes 300 [--first 0]`.

Applies every remedy that is shown, compromises among them, looks at the whole scene anew, and follows the worst that
has one to the end. Prints what did not hold and a table of all.

`--vary`: the same once more with each constant of where to look for remedies smaller and larger by half, in its place.
"""

import argparse
import math
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "predictions"))
sys.path.append(str(Path(__file__).parents[2]))

from broken_scenes import read
from newcomers import newcomers_scene
from random_scenes import random_scene
from remedies_tried import MOST_ROUNDS, followed, spoiled

from previz.predictions import Predictions, Verdict, predict, reframing
from previz.predictions.checks import backdrop
from previz.predictions.checks import shot as shots
from previz.scene import Scene

TELL = sys.stdout.write

#: By how much each constant is varied.
TIMES = (1 / 1.5, 1.5)

#: Where remedies are looked for: to which share a shot is cut [-], how far a camera is moved [m], how far it turns
#: until that is another shot and looks at a corner [rad], how much wider than the table a backdrop may be [-].
CONSTANTS = ((shots, "_SHORTER"), (shots, "_MOVED"), (reframing, "_ANOTHER"), (backdrop, "_ASLANT"),
             (backdrop, "_WIDEST"))  # fmt: skip

#: What is told of each.
COLUMNS = {
    "with a remedy": "remedies",
    "remedies that did not hold": "failed",
    "scenes that looped": "looped",
    "scenes that did not end": "no end",
    "stops at first / at the end: stops / none": "cured",
    "rounds followed": "rounds",
}


def main() -> None:
    """Try, count and tell."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--scenes", type=int, default=300)
    asked.add_argument("--first", type=int, default=0, help="seed of the first")
    asked.add_argument("--minutes", type=float, default=math.inf, help="begin no scene after so many")
    asked.add_argument("--newcomers", action="store_true", help="starting points changed by who has not measured")
    asked.add_argument("--vary", action="store_true", help="each constant smaller and larger by half")
    wanted = asked.parse_args()
    if wanted.vary:
        vary(range(wanted.first, wanted.first + wanted.scenes))
        return
    told, times, began = Counter[str](), list[float](), time.monotonic()
    for seed in range(wanted.first, wanted.first + wanted.scenes):
        if time.monotonic() - began > wanted.minutes * 60:
            TELL(f"out of time before seed {seed}\n")
            break
        with tempfile.TemporaryDirectory() as folder:
            times.append(tried(seed, Path(folder), told))
        if (seed - wanted.first) % 20 == 19:
            TELL(f"to seed {seed}: {dict(told)}\n")
        sys.stdout.flush()
    for name in sorted(told):
        TELL(f"{name:60} {told[name]:6}\n")
    times.sort()
    TELL(f"predict takes {times[len(times) // 2]:.2f} s of processor time in the middle, {times[-1]:.2f} s at most\n")


def vary(seeds: range) -> None:
    """Print in how many scenes check shows other remedies with each constant varied, and what comes of those.

    Where all that is shown is the same it holds or fails alike, so only the others are applied and followed, both ways.
    """
    usual = {seed: shown(seed) for seed in seeds}
    TELL(f"{'':10}{'times':>6}{'other in':>9}  {'':9}" + "".join(f"{name:>9}" for name in COLUMNS.values()) + "\n")
    for room, name in CONSTANTS:
        own = getattr(room, name)
        for times in TIMES:
            setattr(room, name, scaled(name, own, times))
            other = [seed for seed in seeds if shown(seed) != usual[seed]]
            then = counted(other)
            setattr(room, name, own)
            TELL(f"{name:10}{times:6.2f}{len(other):9}  {'varied':9}" + then + "\n")
            if other:
                TELL(f"{'':25}  {'as it is':9}" + counted(other) + f"   seeds {', '.join(map(str, other))}\n")
            sys.stdout.flush()


def shown(seed: int) -> list[tuple[Any, ...]]:
    """What check shows of a scene, and what to do."""
    with tempfile.TemporaryDirectory() as folder:
        found = predict(made(seed, Path(folder)))
    told = [(each.shot, each.id, each.remedy, repr(each.changes)) for each in found.findings]
    return [*told, *((each.shot, each.words, repr(each.changes)) for each in found.compromises)]


def scaled(name: str, value: Any, times: float) -> Any:
    """A constant so many times as large; of shares what is cut off."""
    if name == "_SHORTER":
        return tuple(max(1 - (1 - each) * times, 0.05) for each in value)
    return tuple(each * times for each in value) if isinstance(value, tuple) else value * times


def counted(seeds: list[int]) -> str:
    """What becomes of some scenes, as a line of the table."""
    told = Counter[str]()
    for seed in seeds:
        with tempfile.TemporaryDirectory() as folder:
            tried(seed, Path(folder), told)
    return "".join(f"{told[each]:9}" for each in COLUMNS)


def made(seed: int, folder: Path) -> Scene:
    """One scene."""
    return newcomers_scene(seed, folder) if "--newcomers" in sys.argv else read(random_scene(seed), folder)


def tried(seed: int, folder: Path, told: Counter[str]) -> float:
    """One scene: counts into `told`, tells what did not hold, gives what predicting it took. [s] of processor time"""
    scene = made(seed, folder)
    began = time.process_time()
    before = predict(scene)
    took = time.process_time() - began
    bad = [each for each in before.findings if each.verdict is not Verdict.FINE]
    wrong = spoiled(scene, before)
    rounds, end = followed(scene, before)
    told["scenes"] += 1
    told["findings out of order"] += len(bad)
    told["with a remedy"] += sum(bool(each.changes) for each in bad)
    told["compromises"] += len(before.compromises)
    told["compromises that change something"] += sum(bool(each.changes) for each in before.compromises)
    told["remedies that did not hold"] += len(wrong)
    told["scenes that looped"] += end == "loops"
    told["scenes that did not end"] += end == "goes on"
    told[f"stops at first / at the end: {stops_told(before, rounds[-1])}"] += 1
    told["rounds followed"] += len(rounds) - 1
    for each in wrong:
        TELL(f"seed {seed}: {each}\n")
    if end != "ends":
        TELL(f"seed {seed}: {end} after {MOST_ROUNDS} rounds\n")
    return took


def stops_told(before: Predictions, after: Predictions) -> str:
    """Whether a scene that stops still does at the end."""
    first, last = (any(each.verdict is Verdict.STOP for each in found.findings) for found in (before, after))
    return f"{'stops' if first else 'none'} / {'stops' if last else 'none'}"


if __name__ == "__main__":
    main()
