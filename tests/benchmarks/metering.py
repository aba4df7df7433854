"""How far the light meter of `check` is from that of the picture, over many random sets.

Run as `python tests/benchmarks/metering.py [HOW MANY]`.
"""

import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "light"))
from random_sets import written
from test_meter_against_bake import baked, read, stops_off


def main(count: int) -> None:
    """Print the spread over so many sets; those with next to no light are left out."""
    with tempfile.TemporaryDirectory() as folder:
        scenes = [read(written(number), Path(folder)) for number in range(count)]
        off = np.abs([stops_off(scene) for scene in scenes if baked(scene) > 1])
    print(f"{len(off)} of {count} sets: median {np.median(off):.2f}, worst {off.max():.2f} stops apart")
    print(f"within 0.25 stop {np.mean(off < 0.25):.0%}, within 0.5 {np.mean(off < 0.5):.0%}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 120)
