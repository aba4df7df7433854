"""A newcomer's way: from the first `check` to no stops, doing what it shows first each time, nothing else.

Run as `python tests/benchmarks/newcomer.py [starters|bulb|random] [FIRST [LAST]] [--say]`: starting points of `previz
new` that were changed without measuring; such on a small table, lit by a bare bulb, with two cameras; or scenes at
random. Of those that still stop it prints what is said of them then,
and whether the first plan of `advise` has no stops.
"""

import sys
import tempfile
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "predictions"))
sys.path.append(str(Path(__file__).parents[2]))

from broken_scenes import read
from newcomers import lit_by_a_bulb, newcomers_scene, stops_of, until_nothing_stops
from random_scenes import random_scene

from previz.advice import advise
from previz.errors import PrevizError
from previz.predictions import Verdict, predict
from previz.scene import Scene

TELL = sys.stdout.write


def main() -> None:
    """Follow, count and tell."""
    words = [each for each in sys.argv[1:] if each.isalpha()]
    ends = [int(each) for each in sys.argv[1:] if each.isdigit()]
    first, last = (ends if len(ends) == 2 else (0, ends[0] if ends else 100))[:2]
    told, left, say = Counter[str](), Counter[str](), "--say" in sys.argv
    for seed in range(first, last):
        with tempfile.TemporaryDirectory() as folder:
            scene = made(words[0] if words else "starters", seed, Path(folder))
            followed(seed, scene, told, left, say)
        sys.stdout.flush()
    for name in sorted(told):
        TELL(f"{name:60} {told[name]:6}\n")
    for name, count in left.most_common():
        TELL(f"still stops in the end: {name:36} {count:6}\n")


def made(kind: str, seed: int, folder: Path) -> Scene:
    """One scene of that kind."""
    if kind == "random":
        return read(random_scene(seed), folder)
    return lit_by_a_bulb(seed, folder) if kind == "bulb" else newcomers_scene(seed, folder)


def followed(seed: int, scene: Scene, told: Counter[str], left: Counter[str], say: bool) -> None:
    """One scene: counts into `told` and `left`, and tells what is said where it still stops."""
    first = predict(scene)
    told["scenes"] += 1
    if not stops_of(first):
        told["nothing stops at first"] += 1
        return
    scene, found, done = until_nothing_stops(scene, first)
    told["rounds"] += len(done)
    stops = [each for each in found.findings if each.verdict is Verdict.STOP]
    if not stops:
        told["stops at first, none in the end"] += 1
        return
    told["stops at first and in the end"] += 1
    names = {each.id.split(".")[0] + "." + each.id.split(".")[1] for each in stops}
    left.update(names)
    plan = "advise finds a plan without stops" if _advised(scene) else "no plan of advise is without"
    told[f"stops in the end, {plan}"] += 1
    TELL(f"seed {seed}: after {len(done)} rounds {', '.join(sorted(names))}; {plan}\n")
    if say:
        for each in done:
            TELL(f"    did: {each}\n")
        for each in stops:
            TELL(f"    {each.id}: {each.message} | {each.remedy}\n")


def _advised(scene: Scene) -> bool:
    """Whether every shot has a plan that nothing stops."""
    try:
        plans = [advise(scene, shot).plans for shot in scene.shots]
    except PrevizError:
        return False
    return all(each and not any(f.verdict is Verdict.STOP for f in each[0].findings) for each in plans)


if __name__ == "__main__":
    main()
