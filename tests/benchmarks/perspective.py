"""Forced perspective on sets from a seed, as a table: `python tests/benchmarks/perspective.py [--sets 300]`.

- houses: one of the set's scale and one of a smaller, drawn by `random_perspective.py`: both of one scale, side by
  side, and the small one far behind with its foot hidden. Side by side the verdict is also reckoned by hand;
- scenes: the random scenes of the other tests, as they are, and with some of their pieces at scales of their own. As
  they are, nothing may be said; else what is said is counted, by what gives it away.
"""

import argparse
import sys
import tempfile
import warnings
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from previz.errors import PrevizError  # noqa: E402
from previz.predictions import Verdict, view_of  # noqa: E402
from previz.predictions.checks.perspective import check_perspective  # noqa: E402
from tests.predictions.broken_scenes import read  # noqa: E402
from tests.predictions.random_perspective import drawn, far_house, in_view, sure, told  # noqa: E402
from tests.predictions.random_scenes import random_scene  # noqa: E402

TELL = sys.stdout.write


def main() -> None:
    """Look and tell."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sets", type=int, default=300)
    count = asked.parse_args().sets
    warnings.simplefilter("error")
    with tempfile.TemporaryDirectory() as name:
        _houses(count, Path(name))
        _scenes(count, Path(name))


def _houses(count: int, folder: Path) -> None:
    said = sum(bool(told(read(drawn(seed, "one scale").data, folder))) for seed in range(count))
    TELL(f"one scale: {count} sets, something said of {said}\n")
    found: Counter[str] = Counter()
    for case in map(drawn, range(count)):
        by_hand, finding = sure(case), far_house(case.data, folder)
        if by_hand is None or not in_view(case) or finding is None:
            found["too near a limit, or not wholly in the picture"] += 1
            continue
        foot = finding.verdict is Verdict.WATCH and "its foot" in finding.message
        found[
            f"by hand {'told' if by_hand else 'not told'} by its foot, by check {'told' if foot else 'not told'}"
        ] += 1
    for what, number in sorted(found.items()):
        TELL(f"side by side: {number} {what}\n")
    behind = [far_house(drawn(seed, "behind").data, folder) for seed in range(count)]
    seen = [each for each in behind if each is not None]
    bad = sum(each.verdict is not Verdict.FINE for each in seen)
    TELL(f"far behind a hedge: {len(seen)} in the picture, {bad} told\n")


def _scenes(count: int, folder: Path) -> None:
    plain, told_of, by = 0, Counter[str](), Counter[str]()
    for seed in range(count):
        data = random_scene(seed)
        rng = np.random.default_rng([seed, 87])
        try:
            plain += _said(data, folder, Counter(), Counter())
            for piece in data["dressing"]:
                if rng.random() < 0.6:
                    piece["scale"] = f"1:{float(data['scale'][2:]) * 2 ** rng.uniform(-1.2, 1.2):.1f}"
            _said(data, folder, told_of, by)
        except PrevizError:  # a camera that cannot be aimed, or what no longer fits
            told_of["cannot be looked at"] += 1
    TELL(f"random scenes of one scale: something said of {plain}\n")
    TELL(f"with pieces of other scales: {dict(told_of)}; told by {dict(by)}\n")


def _said(data: dict[str, Any], folder: Path, told_of: Counter[str], by: Counter[str]) -> int:
    scene, number = read(data, folder), 0
    for shot in scene.shots:
        for finding in check_perspective(view_of(scene, shot)).findings:
            number += 1
            told_of[finding.verdict.value] += 1
            if finding.verdict is not Verdict.FINE:
                by[finding.quantity] += 1
    return number


if __name__ == "__main__":
    main()
