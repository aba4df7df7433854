"""Random scenes with more vehicles: that `check` comes to an end on each, says nothing twice, and that remedies clear.

python tests/benchmarks/traffic.py --from 0 --to 100
"""

import argparse
import json
import sys
import tempfile
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "predictions"))
sys.path.append(str(Path(__file__).parents[2]))
from random_traffic import traffic, wrong_with

from previz.predictions import Verdict, predict
from previz.scene import read_scene


def main() -> None:
    """Look at each seed, and count."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--from", dest="first", type=int, default=0)
    asked.add_argument("--to", dest="end", type=int, default=100)
    asked = asked.parse_args()
    told: Counter[str] = Counter()
    mended: Counter[str] = Counter()
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(asked.first, asked.end):
            path = Path(folder) / f"{seed}.yaml"
            path.write_text(json.dumps(traffic(seed)), encoding="utf-8")
            scene = read_scene(path)
            found = predict(scene)
            for line in wrong_with(scene, found.findings):
                print(f"seed {seed}: {line}")
                wrong += 1
            for each in found.findings:
                if each.verdict is not Verdict.FINE and each.id.startswith("others."):
                    what = ".".join(each.id.split(".")[:2])
                    told[what] += 1
                    mended[what] += bool(each.changes)
    for what, count in sorted(told.items()):
        print(f"{what}: {count} told, {mended[what]} with a remedy that was tried")
    print(f"seeds {asked.first} to {asked.end - 1}: {wrong} wrong")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
