"""Whether a compromise that changes lens or distance too is ever worse than one of stop, focus, shutter and ISO alone.

`python tests/benchmarks/compromises.py [FIRST [LAST]]`: random scenes, each predicted both ways; what each compromise
writes is applied and looked at anew. Counts stops, then what is to watch, in the whole scene.
"""

import sys
import tempfile
from collections import Counter
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).parents[1] / "predictions"))

from broken_scenes import read
from random_scenes import random_scene

from previz.predictions import Compromise, Verdict, predict
from previz.scene import Scene, rewritten

TELL = sys.stdout.write


def main() -> None:
    """Compare, count and tell."""
    ends = [int(each) for each in sys.argv[1:]]
    first, last = ends if len(ends) == 2 else (0, ends[0] if ends else 40)
    told = Counter[str]()
    for seed in range(first, last):
        with tempfile.TemporaryDirectory() as folder:
            compared(seed, read(random_scene(seed), Path(folder)), told)
        sys.stdout.flush()
    for name in sorted(told):
        TELL(f"{name:60} {told[name]:6}\n")


def compared(seed: int, scene: Scene, told: Counter[str]) -> None:
    """One scene: counts into `told`, and tells what is worse."""
    both = {each.shot: each for each in predict(scene).compromises}
    with patch("previz.predictions.compromise._smaller_ones", lambda *_: []):
        alone = {each.shot: each for each in predict(scene).compromises}
    told["scenes"] += 1
    for shot in sorted({*both, *alone}):
        told["compromises"] += 1
        ways = [() if found is None else found.changes for found in (both.get(shot), alone.get(shot))]
        if ways[0] == ways[1]:
            told["the same either way"] += 1
            continue
        then, before = (standing(scene, each.get(shot)) for each in (both, alone))
        name = "better" if then < before else "worse" if then > before else "as good"
        told[f"with lens or distance {name}"] += 1
        if then > before:
            TELL(f"seed {seed}, {shot}: {then} and not {before} (stops, to watch)\n")


def standing(scene: Scene, found: Compromise | None) -> tuple[int, int]:
    """How many things stop and are to watch once it is followed."""
    then = rewritten(scene, {change.key: change.value for change in found.changes}) if found is not None else scene
    findings = predict(then, remedies=False).findings
    stops, watches = (sum(each.verdict is verdict for each in findings) for verdict in (Verdict.STOP, Verdict.WATCH))
    return stops, watches


if __name__ == "__main__":
    main()
