"""What `previz print` and `previz plan` take from the shell prompt: `python tests/benchmarks/time_of_print.py [runs]`.

In processor time of all processes, the best of several fresh ones for each demo scene: other work on the machine makes
that a little longer. A plan draws a still of each shot: it is measured with an empty cache, where its sets are built
and lit, and again, on the clock too; a busy machine makes that much longer.
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from time_of_check import SCENES, fastest

PRINTS = (["--paper", "a4"], ["--paper", "letter"], ["--poster"])


def main() -> None:
    """Measure and tell."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    tell = sys.stdout.write
    tell(f"[s] of processor time, the best of {runs}; of a plan, in brackets, on the clock\n")
    tell(f"{'scene':15} {'a4':>6} {'letter':>6} {'poster':>6} {'plan, empty cache':>18} {'again':>15}\n")
    for scene in sorted(SCENES.glob("*.yaml")):
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, "-m", "previz", "print", str(scene), "--out", folder]
            printed = [fastest([*command, *options], runs) for options in PRINTS]
        plans = [min(pair) for pair in zip(*(tuple(plan(scene)) for _ in range(runs)), strict=True)]
        tell(f"{scene.stem:15} " + " ".join(f"{each:6.2f}" for each in printed))
        tell("".join(f"{taken:9.1f} ({clock:4.1f})" for taken, clock in plans) + "\n")
        sys.stdout.flush()


def plan(scene: Path) -> Iterator[tuple[float, float]]:
    """Processor time and time on the clock of a plan with an empty cache, then of the next one. [s]"""
    with tempfile.TemporaryDirectory() as folder:
        told = {**os.environ, "PREVIZ_CACHE": f"{folder}/cache"}
        for _ in range(2):
            began, before = time.monotonic(), os.times()
            command = [sys.executable, "-m", "previz", "plan", str(scene), "--out", f"{folder}/out"]
            subprocess.run(command, env=told, capture_output=True, check=True)
            after = os.times()
            taken = after.children_user + after.children_system - before.children_user - before.children_system
            yield taken, time.monotonic() - began


if __name__ == "__main__":
    main()
