"""What `previz check` takes from the shell prompt, and what on: `python tests/benchmarks/time_of_check.py [runs]`.

The best of several fresh processes for each demo scene, in processor time: other work on the machine makes that a
little longer, and the time on a clock much.
"""

import resource
import subprocess
import sys
from pathlib import Path

SCENES = Path(__file__).parents[2] / "scenes"

PARTS = """
import sys, time
marks = [time.process_time()]
import previz, previz.cli.commands, previz.scene, previz.predictions.overview; marks.append(time.process_time())
from pathlib import Path
scene = previz.read_scene(Path(sys.argv[1])); marks.append(time.process_time())
previz.predict(scene); marks.append(time.process_time())
sys.stdout.write(" ".join(str(b - a) for a, b in zip(marks, marks[1:])))
"""


def fastest(command: list[str], runs: int) -> float:
    """Processor time of the best of several runs. [s]"""
    times = []
    for _ in range(runs):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run(command, capture_output=True, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        assert done.returncode in (0, 1), done.stderr.decode()
    return min(times)


def parts_of(scene: Path, runs: int) -> list[float]:
    """Imports, reading and predicting, the best of each. [s]"""
    found = []
    for _ in range(runs):
        told = subprocess.run([sys.executable, "-c", PARTS, str(scene)], capture_output=True, check=True).stdout
        found.append([float(part) for part in told.split()])
    return [min(part) for part in zip(*found, strict=True)]


def main() -> None:
    """Measure and tell."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    tell = sys.stdout.write
    parts = f"{'in all':>7} {'import':>7} {'read':>7} {'predict':>7}"
    tell(f"{'scene':12} {parts}   [s] of processor time, the best of {runs}\n")
    for scene in sorted(SCENES.glob("*.yaml")):
        whole = fastest([sys.executable, "-m", "previz", "check", str(scene)], runs)
        tell(f"{scene.stem:12} {whole:7.2f} " + " ".join(f"{part:7.2f}" for part in parts_of(scene, runs)) + "\n")


if __name__ == "__main__":
    main()
