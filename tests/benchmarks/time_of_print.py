"""What `previz print` and `previz plan` take from the shell prompt: `python tests/benchmarks/time_of_print.py [runs]`.

A plan draws a still of each shot; from its second run on the light of the set is kept, and it is the best that is told.
The best of several fresh processes for each demo scene; a busy machine only ever makes a time longer.
"""

import sys
import tempfile

from time_of_check import SCENES, fastest


def main() -> None:
    """Measure and tell."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    tell = sys.stdout.write
    tell(f"{'scene':12} {'a4':>7} {'letter':>7} {'poster':>7} {'plan':>7}   [s], the best of {runs}\n")
    for scene in sorted(SCENES.glob("*.yaml")):
        times = []
        for does in (["print", "--paper", "a4"], ["print", "--paper", "letter"], ["print", "--poster"], ["plan"]):
            with tempfile.TemporaryDirectory() as folder:
                command = [sys.executable, "-m", "previz", does[0], str(scene), *does[1:], "--out", folder]
                times.append(fastest(command, runs))
        tell(f"{scene.stem:12} " + " ".join(f"{each:7.2f}" for each in times) + "\n")


if __name__ == "__main__":
    main()
